//! Tables for a terminal of a given width: titles, two blanks between columns, a thin line under headings and over sums.
//!
//! The only place that names the table crate. Colours are left to the caller's messages; a report has none.
//!
//! ```
//! # fn worked() -> ovolo::session::Session {
//! #     include!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/docs/worked.rs"))
//! # }
//! let session = worked(); // a small job in memory
//! let run = session.run().expect("it is worked");
//! let estimate = &run.worked.estimate;
//! let text = ovolo::report::terminal::report(estimate, &Default::default(), 80);
//! assert!(text.lines().all(|line| line.chars().count() <= 80));
//! ```

use comfy_table::{
    CellAlignment, ColumnConstraint, ContentArrangement, LineStyle, Table, TableStyle, Width,
};
use unicode_width::UnicodeWidthStr;

use super::view::{Column, Row, Shown, Side, View};
use super::{Face, basis, beside, views, words};
use crate::defuse;
use crate::pricing::{CutKind, Estimate};

/// What to show besides the usual tables.
#[derive(Debug, Clone, Copy, Default)]
pub struct Options {
    /// The cost of each row.
    pub openings: bool,
    /// Each decision on each row.
    pub treatment: bool,
    /// Givens, what is taken on trust, roundings, and each file it is made from.
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
    if !options.assumptions {
        let short = format!(
            "{} {}",
            words::made_from(estimate),
            words::checked(estimate)
        );
        out.push('\n');
        wrap(&short, width)
            .iter()
            .for_each(|line| out.extend([line, "\n"]));
    }
    out
}

fn chosen(estimate: &Estimate, options: &Options) -> Vec<View> {
    let mut list = vec![views::totals(estimate)];
    list.extend(views::short_cuts(estimate));
    list.push(views::charges(estimate));
    list.push(views::buy_list(estimate));
    list.push(beside::cut_plans(estimate));
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
        list.extend([
            basis::givens(estimate),
            basis::assumed(estimate),
            basis::roundings(estimate),
            basis::made_from(estimate),
        ]);
    }
    super::shown(estimate, list)
}

fn head(estimate: &Estimate, width: usize) -> String {
    let mut lines = vec![format!("{} — {}", estimate.title, estimate.version_name())];
    lines.extend(Face::of(estimate).lines());
    if !estimate.assumptions.left_out.is_empty() {
        lines.push("Some rows are missing from some totals; see \"Not in the totals\".".to_owned());
    }
    lines
        .iter()
        .flat_map(|line| wrap(line, width))
        .map(|line| line + "\n")
        .collect()
}

/// Sentences, each on lines of its own.
pub fn paragraphs(sentences: &[String], width: usize) -> String {
    sentences
        .iter()
        .flat_map(|line| wrap(line, width))
        .map(|line| line + "\n")
        .collect()
}

/// Stands alone in a row of a table whose place a rule takes: a character for private use, which no cell shows.
const RULE_HERE: char = '\u{e000}';

/// One table with its title and notes; every line at most `width` columns where words allow.
pub fn draw(view: &View, width: usize) -> String {
    let footed = view.footed(None);
    let view = &*footed;
    let mut table = Table::new();
    // The environment must not matter: same inputs, same bytes.
    table.force_no_tty();
    table.load_style(TableStyle::new().header_separator(LineStyle::none().fill('─').junction('─')));
    table.set_content_arrangement(ContentArrangement::Dynamic);
    table.set_width(u16::try_from(width.max(20)).unwrap_or(u16::MAX));
    let columns = fitting(view, width);
    let show = |text: &str| defuse::line(text).replace(RULE_HERE, " ");
    table.set_header(
        columns
            .iter()
            .map(|(_, c, _)| show(&c.heading))
            .collect::<Vec<_>>(),
    );
    let cells = |row: &Row| {
        columns
            .iter()
            .map(|(at, _, _)| {
                row.cells
                    .get(*at)
                    .map_or(String::new(), |c| show(&c.shown()))
            })
            .collect::<Vec<_>>()
    };
    let (sums, rows): (Vec<&Row>, Vec<&Row>) =
        view.rows.iter().filter(|r| !r.wide).partition(|r| r.total);
    table.add_rows(rows.iter().map(|row| cells(row)));
    arrange(&mut table, &columns);
    // A row may take several lines: one of its own marks where the sums begin.
    if !sums.is_empty() {
        table.add_row([RULE_HERE.to_string()]);
    }
    table.add_rows(sums.iter().map(|row| cells(row)));
    let mut lines: Vec<String> = table.lines().map(|l| l.trim_end().to_owned()).collect();
    if let Some(rule) = lines.iter().find(|l| l.starts_with('─')).cloned()
        && let Some(here) = lines
            .iter_mut()
            .find(|l| l.trim_start().starts_with(RULE_HERE))
    {
        *here = rule;
    }
    // Room is short: a unit is printed once, behind the title.
    let mut units: Vec<&str> = Vec::new();
    for unit in columns.iter().filter_map(|(_, c, _)| c.unit.as_deref()) {
        if !units.contains(&unit) {
            units.push(unit);
        }
    }
    let units = if units.is_empty() {
        String::new()
    } else {
        format!(" ({})", units.join(", "))
    };
    let mut out: String = wrap(&format!("{}{units}", show(&view.title)), width)
        .iter()
        .map(|line| format!("{line}\n"))
        .collect();
    for line in lines {
        out.push_str(&line);
        out.push('\n');
    }
    let left_out: Vec<&str> = view
        .narrow_columns()
        .filter(|(at, _)| !columns.iter().any(|c| c.0 == *at))
        .map(|(_, c)| c.heading.as_str())
        .collect();
    let narrow =
        (!left_out.is_empty()).then(|| format!("Too narrow for: {}.", left_out.join(", ")));
    for note in narrow.iter().chain(&view.notes) {
        for line in wrap(note, width) {
            out.push_str(&line);
            out.push('\n');
        }
    }
    out
}

/// Widths of the cells of a column that a terminal shows, blanks left out, in rising order.
fn cell_widths(view: &View, at: usize) -> Vec<usize> {
    let cells = view
        .rows
        .iter()
        .filter(|r| !r.wide)
        .filter_map(|r| r.cells.get(at));
    let mut widths: Vec<usize> = cells
        .map(|c| c.shown().width())
        .filter(|w| *w > 0)
        .collect();
    widths.sort_unstable();
    widths
}

/// The least width of a column and the width it would like. Numbers and words of headings are never broken, longer headings and texts may
/// be; a text column would like to hold nine cells of ten on one line.
fn needs(view: &View, (at, column): (usize, &Column), width: usize) -> (usize, usize) {
    let cells = cell_widths(view, at);
    let heading = column.heading.width();
    let words = column
        .heading
        .split_whitespace()
        .map(UnicodeWidthStr::width)
        .max()
        .unwrap_or(0);
    let widest = cells.last().copied().unwrap_or(0);
    match column.side {
        Side::Left if column.typed => (widest.max(words), widest.max(heading)),
        Side::Right => (widest.max(words), widest.max(heading)),
        Side::Left => {
            let most = cells.get(cells.len() * 9 / 10).copied().unwrap_or(0);
            let want = if width / 5 < most {
                most
            } else {
                widest.min(width / 5).max(most)
            };
            (want.min(LEAST_TEXT).max(words), want.max(heading))
        }
    }
}

/// The width below which a column would break a word, or a number or name that is never broken.
fn longest_word(view: &View, at: usize, column: &Column) -> usize {
    let whole = column.typed || column.side == Side::Right;
    let longest = |text: &str| match whole {
        true => text.width(),
        false => text
            .split_whitespace()
            .map(UnicodeWidthStr::width)
            .max()
            .unwrap_or(0),
    };
    let heading = column.heading.split_whitespace();
    let heading = heading.map(UnicodeWidthStr::width).max().unwrap_or(0);
    let rows = view.rows.iter().filter(|r| !r.wide);
    let cells = rows
        .filter_map(|r| r.cells.get(at))
        .map(|c| longest(&c.shown()));
    cells.fold(heading, usize::max)
}

/// The columns for a terminal with their widths. Those that need room are left out from the right while the others would not fit,
/// and texts that still do not fit are as narrow as their longest word. What room is left goes to the columns that lack least, so that as many as can be are not broken.
fn fitting(view: &View, width: usize) -> Vec<(usize, &Column, usize)> {
    let mut columns: Vec<(usize, &Column, usize, usize)> = view
        .narrow_columns()
        .map(|(at, column)| {
            let (least, want) = needs(view, (at, column), width);
            (at, column, least, want)
        })
        .collect();
    let taken = |columns: &[(usize, &Column, usize, usize)]| {
        columns.iter().map(|c| c.2).sum::<usize>()
            + usize::from(GAP) * columns.len().saturating_sub(1)
    };
    while taken(&columns) > width {
        let Some(at) = columns.iter().rposition(|c| c.1.shown == Shown::IfRoom) else {
            break;
        };
        columns.remove(at);
    }
    let mut over = taken(&columns).saturating_sub(width);
    for (at, column, least, _) in &mut columns {
        let less = least
            .saturating_sub(longest_word(view, *at, column))
            .min(over);
        *least -= less;
        over -= less;
    }
    let mut spare = width.saturating_sub(taken(&columns));
    let mut order: Vec<usize> = (0..columns.len()).collect();
    order.sort_by_key(|at| columns.get(*at).map_or(0, |c| c.3.saturating_sub(c.2)));
    for at in order {
        if let Some((_, _, least, want)) = columns.get_mut(at) {
            let more = want.saturating_sub(*least).min(spare);
            *least += more;
            spare -= more;
        }
    }
    columns
        .into_iter()
        .map(|(at, column, width, _)| (at, column, width))
        .collect()
}

/// Narrowest column of text.
const LEAST_TEXT: usize = 14;

fn arrange(table: &mut Table, columns: &[(usize, &Column, usize)]) {
    let last = columns.len().saturating_sub(1);
    for (place, (_, column, width)) in columns.iter().enumerate() {
        let Some(drawn) = table.column_mut(place) else {
            continue;
        };
        // One of the blanks is where the table crate would draw a line.
        let padding = if place == last { 0 } else { GAP - 1 };
        drawn.set_padding((0, padding));
        let whole = u16::try_from(*width)
            .unwrap_or(u16::MAX)
            .saturating_add(padding);
        drawn.set_constraint(ColumnConstraint::Absolute(Width::Fixed(whole)));
        if column.side == Side::Right {
            drawn.set_cell_alignment(CellAlignment::Right);
        }
    }
}

/// Blanks between columns.
const GAP: u16 = 2;

/// Text broken between words.
fn wrap(text: &str, width: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in text.split_whitespace() {
        let full = lines
            .last()
            .is_some_and(|l| !l.is_empty() && l.width() + 1 + word.width() > width);
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
