//! Tables for a terminal of a given width: titles, two blanks between columns, a thin line under headings and over sums.
//!
//! The only place that names the table crate. Colours are left to the caller's messages; a report has none.

use comfy_table::{CellAlignment, ColumnConstraint, ContentArrangement, LineStyle, Table, TableStyle, Width};
use unicode_width::UnicodeWidthStr;

use super::view::{Column, Shown, Side, View};
use super::{basis, views, words};
use crate::pricing::{CutKind, Estimate};

/// What to show besides the usual tables.
#[derive(Debug, Clone, Copy, Default)]
pub struct Options {
    /// The cost of each row.
    pub openings: bool,
    /// Each decision on each row.
    pub treatment: bool,
    /// Givens, what is taken on trust, roundings.
    pub assumptions: bool,
    /// Every cost line and labor rate.
    pub lines: bool,
}

/// The report of an estimate, at most `width` columns wide.
pub fn report(estimate: &Estimate, options: &Options, width: usize) -> String {
    let mut out = head(estimate, width);
    for view in chosen(estimate, options) {
        if !view.is_empty() {
            out.push('\n');
            out.push_str(&draw(&view, width));
        }
    }
    out
}

fn chosen(estimate: &Estimate, options: &Options) -> Vec<View> {
    let mut list = vec![views::totals(estimate)];
    list.extend(views::short_cuts(estimate));
    list.push(views::charges(estimate));
    list.push(views::buy_list(estimate));
    if options.lines {
        list.extend([views::cost_lines(estimate), views::pay(estimate)]);
    }
    list.push(basis::decisions(estimate));
    if options.openings
        && let Some(cut) = estimate.cut(CutKind::Opening)
    {
        list.push(views::cut(estimate, cut));
    }
    if options.treatment {
        list.push(basis::treatment(estimate));
    }
    list.extend([basis::unknown(estimate), basis::cautions(estimate)]);
    if options.assumptions {
        list.extend([basis::givens(estimate), basis::assumed(estimate), basis::roundings(estimate)]);
    }
    list.push(basis::made_from(estimate));
    list
}

fn head(estimate: &Estimate, width: usize) -> String {
    let mut lines = vec![format!("{} — {}", estimate.title, estimate.version_name())];
    let aside = &estimate.facts.survey.set_aside;
    if !aside.is_empty() {
        let marks: Vec<String> = aside.iter().map(|s| s.mark.clone()).collect();
        lines.push(format!("{} rows were set aside and are in no figure below: {}.", aside.len(), words::some_marks(&marks, marks.len(), 6)));
    }
    if !estimate.assumptions.left_out.is_empty() {
        lines.push("Some rows are missing from some totals; see \"Not in the totals\".".to_owned());
    }
    lines.iter().flat_map(|line| wrap(line, width)).map(|line| line + "\n").collect()
}

/// One table with its title and notes; every line at most `width` columns where words allow.
pub fn draw(view: &View, width: usize) -> String {
    let mut table = Table::new();
    // The environment must not matter: same inputs, same bytes.
    table.force_no_tty();
    table.load_style(TableStyle::new().header_separator(LineStyle::none().fill('─').junction('─')));
    table.set_content_arrangement(ContentArrangement::Dynamic);
    table.set_width(u16::try_from(width.max(20)).unwrap_or(u16::MAX));
    let columns = fitting(view, width);
    let show = |text: &str| text.replace(char::is_control, " ");
    table.set_header(columns.iter().map(|(_, c)| show(&c.heading)).collect::<Vec<_>>());
    for row in view.rows.iter().filter(|r| !r.wide) {
        table.add_row(columns.iter().map(|(at, _)| row.cells.get(*at).map_or(String::new(), |c| show(&c.shown()))).collect::<Vec<_>>());
    }
    arrange(&mut table, view, &columns, width);
    let mut lines: Vec<String> = table.lines().map(|l| l.trim_end().to_owned()).collect();
    let totals = view.rows.iter().filter(|r| r.total).count();
    let rule = lines.iter().find(|l| l.starts_with('─')).cloned();
    if let (Some(rule), true) = (rule, totals > 0 && totals < lines.len()) {
        lines.insert(lines.len() - totals, rule);
    }
    let mut out = format!("{}\n", view.title);
    for line in lines {
        out.push_str(&line);
        out.push('\n');
    }
    for note in &view.notes {
        for line in wrap(note, width) {
            out.push_str(&line);
            out.push('\n');
        }
    }
    out
}

/// The greatest width of the cells of a column.
fn widest(view: &View, at: usize) -> usize {
    view.rows.iter().filter(|r| !r.wide).filter_map(|r| r.cells.get(at)).map(|c| c.shown().width()).max().unwrap_or(0)
}

/// The columns for a terminal: those that need room are left out from the right while the others would not fit beside them.
fn fitting(view: &View, width: usize) -> Vec<(usize, &Column)> {
    let mut columns: Vec<(usize, &Column)> = view.narrow_columns().collect();
    let least = |(at, column): &(usize, &Column)| match column.side {
        Side::Right => widest(view, *at).max(LEAST_NUMBER),
        Side::Left => widest(view, *at).min(LEAST_TEXT),
    };
    while columns.iter().map(|c| least(c) + usize::from(GAP)).sum::<usize>() > width + usize::from(GAP) {
        let Some(at) = columns.iter().rposition(|(_, c)| c.shown == Shown::IfRoom) else { break };
        columns.remove(at);
    }
    columns
}

/// Narrowest column of numbers, which still holds its heading's words.
const LEAST_NUMBER: usize = 8;
/// Narrowest column of text.
const LEAST_TEXT: usize = 14;

/// Numbers are never broken over two lines; of several columns of text the longest takes the room that is left.
fn arrange(table: &mut Table, view: &View, columns: &[(usize, &Column)], width: usize) {
    let fixed = |columns: usize| Width::Fixed(u16::try_from(columns).unwrap_or(u16::MAX));
    let widest: Vec<usize> = columns.iter().map(|(at, _)| widest(view, *at)).collect();
    let texts = columns.iter().zip(&widest).enumerate().filter(|(_, ((_, column), _))| column.side == Side::Left);
    let longest = texts.max_by_key(|(place, (_, widest))| (**widest, usize::MAX - place)).map(|(place, _)| place);
    let last = columns.len().saturating_sub(1);
    for (place, ((_, column), widest)) in columns.iter().zip(&widest).enumerate() {
        let Some(drawn) = table.column_mut(place) else { continue };
        let gap = if place == last { 0 } else { GAP };
        drawn.set_padding((0, gap));
        let gap = usize::from(gap);
        if column.side == Side::Right {
            drawn.set_cell_alignment(CellAlignment::Right);
            drawn.set_constraint(ColumnConstraint::LowerBoundary(fixed(widest + gap)));
        } else if longest != Some(place) {
            drawn.set_constraint(ColumnConstraint::UpperBoundary(fixed((width / 5).max(12) + gap)));
        }
    }
}

/// Blanks between columns.
const GAP: u16 = 2;

/// Text broken between words.
fn wrap(text: &str, width: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in text.split_whitespace() {
        let full = lines.last().is_some_and(|l| !l.is_empty() && l.width() + 1 + word.width() > width);
        if full {
            lines.push(String::new());
        }
        if let Some(line) = lines.last_mut() {
            if !line.is_empty() {
                line.push(' ');
            }
            line.push_str(word);
        }
    }
    lines
}
