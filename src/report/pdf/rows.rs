//! Rows of a table over pages: which rows stand together, and what is carried.

use super::breaks::break_before;
use super::carried::Carried;
use super::columns::{Band, GAP, TICK, Types};
use super::flow::Flow;
use super::numbers;
use super::pages::{Format, MM, Part, Piece, Role, Um, What};
use super::wrap::{self, Type};
use crate::ids;
use crate::ids::count;
use crate::paper::{Column, Row, RowKind, Side, Table, Value};

/// Between the rule of a row and its text.
const PAD: Um = 700;
/// The same where rows are set closer.
const TIGHT: Um = 300;
/// Most lines of a table's title and of a column's heading; of a longer one the end is left out, and dots say so.
const TITLE_LINES: usize = 6;
/// See [`TITLE_LINES`].
const HEAD_LINES: usize = 18;
/// Least height of a row with room to write by hand.
const HAND: Um = 9 * MM;
/// The same where rows are set closer.
const CLOSE_HAND: Um = 7 * MM;

/// Least height of a row with room to write by hand.
pub(super) fn hand(tight: bool) -> Um {
    if tight { CLOSE_HAND } else { HAND }
}

/// A row, or a piece of one that is higher than a page.
struct Boxed {
    /// Which row of the table.
    row: usize,
    kind: RowKind,
    /// Lines of each cell of the band.
    cells: Vec<Inside>,
    height: Um,
}

enum Inside {
    Lines(Vec<String>),
    Tick,
    /// The page on which a block begins.
    Page(usize),
}

/// A table being laid out on pages of one format.
pub(super) struct Rows<'a> {
    table: &'a Table,
    band: &'a Band,
    types: Types,
    carried: Carried,
    part: usize,
    /// Rows are at least so high.
    least: Um,
    /// Between the rule of a row and its text.
    pad: Um,
}

impl<'a> Rows<'a> {
    /// Prepares a table or a band of it.
    pub(super) fn new(flow: &mut Flow, table: &'a Table, band: &'a Band, types: Types) -> Rows<'a> {
        let of_group = |(at, row): (usize, &Row)| match row.kind {
            RowKind::Group(_) => Some((at, true)),
            RowKind::Subtotal(_) | RowKind::Total => Some((at, false)),
            RowKind::Line => None,
        };
        let part = flow.part(Part::Table {
            title: table.title.clone(),
            columns: band.columns.len(),
            headed: table.rows.iter().enumerate().filter_map(of_group).collect(),
        });
        let by_hand = |row: &Row| row.cells.iter().any(|c| matches!(c.value, Value::Room));
        Rows {
            table,
            band,
            types,
            carried: Carried::of(table),
            pad: if flow.tight { TIGHT } else { PAD },
            part,
            least: match table.rows.iter().any(by_hand) {
                true => hand(flow.tight),
                false => 0,
            },
        }
    }

    /// Lays the table out, with its title before it. What comes after it and is so high stays with its last two lines.
    pub(super) fn lay(&self, flow: &mut Flow, format: Format, title: &str, after: Um) {
        let width = format.net().0;
        let of_title = flow.title();
        let title = flow.lacking.printable(title).into_owned();
        let title = cut(wrap::lines(&title, of_title, width), TITLE_LINES);
        let head = self.head(flow);
        let head_height = self.head_height(&head);
        let title_height = match title.len() {
            0 => 0,
            lines => count(lines) * of_title.pitch() + flow.close(MM),
        };
        // On a page there may stand, beside a row: the title or the groups it goes on with, the head, and two rows of sums.
        let most = flow_height(format)
            - title_height.max(self.deepest() * self.row_height(1))
            - head_height
            - 2 * self.row_height(1);
        let boxes = self.boxes(flow, format, most);
        let kinds: Vec<RowKind> = boxes.iter().map(|b| b.kind).collect();
        let heights: Vec<Um> = boxes.iter().map(|b| b.height).collect();
        let carried = match self.carried.is_empty() {
            true => 0,
            false => self.row_height(1),
        };
        // The title stays with the head and the first two rows.
        let mut opening = first_rows(&boxes);
        if boxes.len() < 4 {
            opening = opening.max(heights.iter().sum::<Um>() + after);
        }
        flow.gap(3 * MM);
        flow.need(format, title_height + head_height + opening);
        let role = self.role(Piece::Caption);
        for line in &title {
            let y = flow.y;
            flow.line(line, of_title, (0, y), role);
            flow.y += of_title.pitch();
        }
        flow.gap(if title.is_empty() { 0 } else { MM });
        if boxes.is_empty() {
            self.draw_head(flow, &head, false);
            return;
        }
        let mut at = 0;
        while at < boxes.len() {
            self.draw_head(flow, &head, at > 0);
            if at > 0 {
                self.draw_sums(flow, &boxes, at, "brought forward");
                self.draw_groups(flow, format, &boxes, at);
            }
            let left = flow.left();
            let mut end = break_before(&kinds, &heights, at, left, carried);
            let rest: Um = heights.get(at..).unwrap_or_default().iter().sum();
            if end == boxes.len() && rest + after > left {
                let parted = break_before(&kinds, &heights, at, rest - 1, carried);
                // Rows that would be parted badly stay together.
                let lines = |part: &[RowKind]| part.iter().filter(|k| **k == RowKind::Line).count();
                let (now, then) = kinds.get(at..).unwrap_or_default().split_at(parted - at);
                if lines(now) >= 2 && lines(then) >= 2 {
                    end = parted;
                }
            }
            for boxed in boxes.get(at..end).unwrap_or_default() {
                self.draw_row(flow, boxed);
            }
            at = end;
            if at < boxes.len() {
                self.draw_sums(flow, &boxes, at, "carried forward");
                flow.new_page(format);
            }
        }
    }

    fn role(&self, piece: Piece) -> Role {
        Role::Of {
            part: self.part,
            piece,
        }
    }

    fn row_height(&self, lines: usize) -> Um {
        count(lines) * self.types.body.pitch() + 2 * self.pad
    }

    /// Lines of the heading of each column.
    fn head(&self, flow: &mut Flow) -> Vec<Vec<String>> {
        let pairs = self.band.columns.iter().zip(&self.band.widths);
        pairs
            .map(|(c, width)| {
                let text = self
                    .table
                    .columns
                    .get(*c)
                    .map_or_else(String::new, Column::title);
                let text = flow.lacking.printable(&text).into_owned();
                cut(wrap::lines(&text, self.types.head, *width), HEAD_LINES)
            })
            .collect()
    }

    fn head_height(&self, head: &[Vec<String>]) -> Um {
        match head.iter().map(Vec::len).max() {
            Some(0) | None => 0,
            Some(most) => count(most) * self.types.head.pitch() + 2 * self.pad,
        }
    }

    /// Every row in its box; those higher than a page in several.
    fn boxes(&self, flow: &mut Flow, format: Format, most: Um) -> Vec<Boxed> {
        let mut out = Vec::with_capacity(self.table.rows.len());
        for (at, row) in self.table.rows.iter().enumerate() {
            let mut cells = match row.kind {
                RowKind::Group(_) => vec![self.group(flow, format, row)],
                RowKind::Line | RowKind::Subtotal(_) | RowKind::Total => self.cells(flow, at, row),
            };
            let fit = (most - 2 * self.pad) / self.types.body.pitch();
            let fit = ids::size(fit.max(1));
            loop {
                let (now, rest) = split(cells, fit);
                let height = self.height(row.kind, &now);
                out.push(Boxed {
                    row: at,
                    kind: row.kind,
                    cells: now,
                    height,
                });
                match rest {
                    Some(rest) => cells = rest,
                    None => break,
                }
            }
        }
        out
    }

    fn height(&self, kind: RowKind, cells: &[Inside]) -> Um {
        let of = |inside: &Inside| match inside {
            Inside::Lines(lines) => self.row_height(lines.len().max(1)),
            Inside::Tick => TICK + 2 * self.pad,
            Inside::Page(_) => self.row_height(1),
        };
        let least = match kind {
            RowKind::Line => self.least,
            RowKind::Group(_) | RowKind::Subtotal(_) | RowKind::Total => 0,
        };
        let highest = cells
            .iter()
            .map(of)
            .max()
            .unwrap_or(self.row_height(1))
            .max(least);
        // Beside a box the text is level with it and ends a little lower.
        let tick = cells.iter().any(|c| matches!(c, Inside::Tick));
        highest
            + if tick {
                (TICK - self.types.body.pitch()).max(0) / 2
            } else {
                0
            }
    }

    fn group(&self, flow: &mut Flow, format: Format, row: &Row) -> Inside {
        let words = row.cells.first().map_or("", |c| &*c.text);
        let text = flow.lacking.printable(words).into_owned();
        let level = match row.kind {
            RowKind::Group(level) => level,
            RowKind::Line | RowKind::Subtotal(_) | RowKind::Total => 0,
        };
        let width = format.net().0 - indent(level);
        Inside::Lines(wrap::lines(&text, self.types.head, width))
    }

    fn cells(&self, flow: &mut Flow, row_at: usize, row: &Row) -> Vec<Inside> {
        let of = self.type_of(row.kind);
        let pairs = self.band.columns.iter().zip(&self.band.widths);
        let mut out = Vec::with_capacity(self.band.columns.len());
        for (at, (column, width)) in pairs.enumerate() {
            let Some(cell) = row.cells.get(*column) else {
                out.push(Inside::Lines(Vec::new()));
                continue;
            };
            let width = match (at, row.kind) {
                (0, RowKind::Subtotal(_) | RowKind::Total) => self.free(row),
                _ => *width,
            };
            if let Some(block) = self.page_at(row_at, *column) {
                out.push(Inside::Page(block));
                continue;
            }
            out.push(match cell.value {
                Value::Tick => Inside::Tick,
                Value::Room => Inside::Lines(Vec::new()),
                Value::Blank | Value::Text | Value::Day(_) | Value::Number(_) | Value::Unknown => {
                    let text = flow.lacking.printable(&cell.text);
                    Inside::Lines(wrap::lines(&text, of, width))
                }
            });
        }
        if matches!(row.kind, RowKind::Subtotal(_) | RowKind::Total) {
            self.words_above(flow, row, &mut out);
        }
        out
    }

    /// The block whose page is in a cell: the last column of a table with entries has them.
    fn page_at(&self, row: usize, column: usize) -> Option<usize> {
        let last = column + 1 == self.table.columns.len();
        numbers::entry(self.table, row).filter(|_| last)
    }

    /// Where the words of a sum fit neither before its figures nor behind them, they reach over the whole table, and the figures are below.
    fn words_above(&self, flow: &mut Flow, row: &Row, cells: &mut [Inside]) {
        let Some((Inside::Lines(words), figures)) = cells.split_first_mut() else {
            return;
        };
        let first = self.band.columns.first().and_then(|at| row.cells.get(*at));
        let Some(first) = first.filter(|c| words.len() > 1 && c.value == Value::Text) else {
            return;
        };
        let text = flow.lacking.printable(&first.text);
        let of = self.type_of(row.kind);
        *words = wrap::lines(&text, of, self.band.width());
        let behind = self.behind(row);
        if behind.is_some_and(|x| x + of.width(&text) <= self.band.width()) {
            return;
        }
        for figure in figures {
            if let Inside::Lines(lines) = figure
                && !lines.is_empty()
            {
                lines.splice(0..0, vec![String::new(); words.len()]);
            }
        }
    }

    /// Width from the first column to the next that holds something: the words of a sum reach so far.
    fn free(&self, row: &Row) -> Um {
        let holds = |column: &usize| {
            let cell = row.cells.get(*column);
            cell.is_some_and(|c| c.value != Value::Blank)
        };
        let next = self.band.columns.iter().skip(1).position(holds);
        let begins = self.band.begins();
        let next = next.and_then(|at| begins.get(at + 1));
        next.map_or(self.band.width(), |x| x - GAP)
    }

    /// Where the column behind the last figure of a sum begins.
    fn behind(&self, row: &Row) -> Option<Um> {
        let holds = |column: &usize| {
            let cell = row.cells.get(*column);
            cell.is_some_and(|c| matches!(c.value, Value::Number(_)))
        };
        let last = self.band.columns.iter().rposition(holds)?;
        self.band.begins().get(last + 1).copied()
    }

    /// Where the words of a sum begin: at the left, also in a column of numbers, or behind the figures where these leave no room before them.
    fn words_at(&self, row: &Row, text: &str, of: Type) -> Um {
        let figures = self.behind(row).filter(|x| {
            let width = of.width(text);
            width > self.free(row) && x + width <= self.band.width()
        });
        figures.unwrap_or(0)
    }

    fn type_of(&self, kind: RowKind) -> Type {
        match kind {
            RowKind::Line => self.types.body,
            RowKind::Group(_) | RowKind::Subtotal(_) | RowKind::Total => self.types.head,
        }
    }

    fn x_of(&self, side: Side, (begin, width): (Um, Um), text: &str, of: Type) -> Um {
        match side {
            Side::Left => begin,
            Side::Right => begin + width - of.width(text),
        }
    }

    fn side(&self, column: usize) -> Side {
        self.table
            .columns
            .get(column)
            .map_or(Side::Left, Column::side)
    }

    fn is_number(&self, row: usize, column: usize) -> bool {
        let row = self.table.rows.get(row);
        let cell = row.and_then(|r| r.cells.get(column));
        cell.is_some_and(|c| matches!(c.value, Value::Number(_)))
    }

    fn draw_head(&self, flow: &mut Flow, head: &[Vec<String>], again: bool) {
        let most = head.iter().map(Vec::len).max().unwrap_or(0);
        let of = self.types.head;
        let begins = self.band.begins();
        let top = flow.y + self.pad;
        let places = begins.iter().zip(&self.band.widths).zip(&self.band.columns);
        for (at, (lines, ((begin, width), column))) in head.iter().zip(places).enumerate() {
            let role = match again {
                true => Role::Furniture,
                false => self.role(Piece::Head(at)),
            };
            // Headings are on the rule below them.
            let mut y = top + count(most - lines.len()) * of.pitch();
            for line in lines {
                let x = self.x_of(self.side(*column), (*begin, *width), line, of);
                flow.line(line, of, (x, y), role);
                y += of.pitch();
            }
        }
        if !self.table.is_headed() {
            return;
        }
        flow.y += self.head_height(head);
        let y = flow.y;
        flow.rule(0, self.band.width(), y, 500);
    }

    fn draw_row(&self, flow: &mut Flow, boxed: &Boxed) {
        let sum = matches!(boxed.kind, RowKind::Subtotal(_) | RowKind::Total);
        let of = self.type_of(boxed.kind);
        let begins = self.band.begins();
        let pitch = of.pitch();
        let inner = |inside: &Inside| match inside {
            Inside::Lines(lines) => count(lines.len()) * pitch,
            Inside::Tick => TICK,
            Inside::Page(_) => pitch,
        };
        // What is lower than its row is in its middle; texts begin on one line, and a box is level with the first.
        let highest = boxed.cells.iter().map(inner).max().unwrap_or(0).max(pitch);
        let top = flow.y + (boxed.height - highest) / 2;
        let tick = boxed.cells.iter().any(|c| matches!(c, Inside::Tick));
        let text = top + if tick { ((TICK - pitch) / 2).max(0) } else { 0 };
        if sum {
            let y = flow.y;
            flow.rule(0, self.band.width(), y, 350);
        }
        let places = begins.iter().zip(&self.band.widths).zip(&self.band.columns);
        for (at, (inside, ((begin, width), column))) in boxed.cells.iter().zip(places).enumerate() {
            let role = self.role(Piece::Cell(boxed.row, at));
            match inside {
                Inside::Tick => {
                    let what = What::Frame {
                        width: TICK,
                        height: TICK,
                        weight: 500,
                    };
                    flow.place(*begin, top, what, role);
                }
                Inside::Page(block) => {
                    flow.await_page(*block, of, (begin + width, text), role);
                }
                Inside::Lines(lines) => {
                    let mut y = text;
                    for line in lines {
                        if line.is_empty() {
                            y += pitch;
                            continue;
                        }
                        let x = match boxed.kind {
                            RowKind::Group(level) => indent(level),
                            RowKind::Subtotal(_) | RowKind::Total
                                if at == 0 && !self.is_number(boxed.row, *column) =>
                            {
                                let row = self.table.rows.get(boxed.row);
                                row.map_or(*begin, |row| self.words_at(row, line, of))
                            }
                            RowKind::Line | RowKind::Subtotal(_) | RowKind::Total => {
                                self.x_of(self.side(*column), (*begin, *width), line, of)
                            }
                        };
                        flow.line(line, of, (x, y), role);
                        y += pitch;
                    }
                }
            }
        }
        flow.y += boxed.height;
        let weight = match boxed.kind {
            RowKind::Line => 250,
            RowKind::Group(_) | RowKind::Subtotal(_) | RowKind::Total => 350,
        };
        let y = flow.y;
        flow.rule(0, self.band.width(), y, weight);
    }

    /// How many groups lie within one another.
    fn deepest(&self) -> Um {
        let level = |row: &Row| match row.kind {
            RowKind::Group(level) => count(level) + 1,
            RowKind::Line | RowKind::Subtotal(_) | RowKind::Total => 0,
        };
        self.table.rows.iter().map(level).max().unwrap_or(0)
    }

    /// The headings of the groups that a page goes on with.
    fn draw_groups(&self, flow: &mut Flow, format: Format, boxes: &[Boxed], at: usize) {
        let of = self.types.head;
        for (group, level) in open_groups(boxes, at) {
            let Some(Inside::Lines(lines)) = boxes.get(group).and_then(|b| b.cells.first()) else {
                continue;
            };
            let width = format.net().0 - indent(level);
            let words = format!("{}, continued", lines.join(" "));
            let lines = cut(wrap::lines(&words, of, width), 1);
            let y = flow.y + self.pad;
            for line in &lines {
                flow.line(line, of, (indent(level), y), Role::Furniture);
            }
            flow.y += self.row_height(1);
            let y = flow.y;
            flow.rule(0, self.band.width(), y, 350);
        }
    }

    /// The sums of all rows before one, at the foot of a page or at its head.
    fn draw_sums(&self, flow: &mut Flow, boxes: &[Boxed], before: usize, words: &str) {
        let Some(boxed) = boxes.get(before) else {
            return;
        };
        let sums = self.carried.before(boxed.row);
        let shown = |(at, column): (usize, &usize)| {
            let sum = sums.iter().find(|(c, _)| c == column)?;
            Some((at, sum.1.clone()))
        };
        let own: Vec<(usize, String)> = self
            .band
            .columns
            .iter()
            .enumerate()
            .filter_map(shown)
            .collect();
        let Some(first) = own.first().map(|(at, _)| *at) else {
            return;
        };
        let begins = self.band.begins();
        let top = flow.y + self.pad;
        // The words stand left of the first sum, or before it where the sum is in the first column.
        let of = self.types.head;
        let mut used = 0;
        for (at, text) in &own {
            let begin = begins.get(*at).copied().unwrap_or(0);
            let width = self.band.widths.get(*at).copied().unwrap_or(0);
            let x = (begin + width - of.width(text)).max(used);
            flow.line(text, of, (x, top), Role::Furniture);
            used = x + of.width(text) + MM;
        }
        let free = begins.get(first).copied().unwrap_or(0);
        let room = match first {
            0 => None,
            _ => Some(free - MM),
        };
        let words_width = of.width(words);
        match room {
            Some(room) if words_width <= room => flow.line(words, of, (0, top), Role::Furniture),
            _ if used + words_width <= flow.width() => {
                flow.line(words, of, (used + 2 * MM, top), Role::Furniture);
            }
            _ => {}
        }
        flow.y += self.row_height(1);
        let y = flow.y;
        flow.rule(0, self.band.width(), y, 250);
    }
}

/// The headings of the groups that a row goes on with, from the outermost: where each is, and its level.
fn open_groups(boxes: &[Boxed], at: usize) -> Vec<(usize, usize)> {
    let mut within = match boxes.get(at).map(|b| b.kind) {
        Some(RowKind::Group(level) | RowKind::Subtotal(level)) => level,
        Some(RowKind::Line) => usize::MAX,
        Some(RowKind::Total) | None => 0,
    };
    let mut out = Vec::new();
    for before in (0..at).rev() {
        if within == 0 {
            break;
        }
        match boxes.get(before).map(|b| b.kind) {
            Some(RowKind::Group(level)) if level < within => {
                out.push((before, level));
                within = level;
            }
            Some(RowKind::Subtotal(level)) => within = within.min(level),
            _ => {}
        }
    }
    out.reverse();
    out
}

/// How far the heading of a group within a group is in.
fn indent(level: usize) -> Um {
    4 * MM * count(level.min(6))
}

/// At most so many lines.
fn cut(mut lines: Vec<String>, most: usize) -> Vec<String> {
    if lines.len() > most {
        lines.truncate(most);
        if let Some(last) = lines.last_mut() {
            last.pop();
            last.push('\u{2026}');
        }
    }
    lines
}

fn flow_height(format: Format) -> Um {
    format.net().1 - super::flow::HEAD - super::flow::FOOT
}

/// Parts the lines of cells that are more than fit.
fn split(cells: Vec<Inside>, fit: usize) -> (Vec<Inside>, Option<Vec<Inside>>) {
    let long = |inside: &Inside| matches!(inside, Inside::Lines(lines) if lines.len() > fit);
    if !cells.iter().any(long) {
        return (cells, None);
    }
    let mut now = Vec::with_capacity(cells.len());
    let mut rest = Vec::with_capacity(cells.len());
    for inside in cells {
        match inside {
            Inside::Lines(mut lines) => {
                let behind = lines.split_off(fit.min(lines.len()));
                now.push(Inside::Lines(lines));
                rest.push(Inside::Lines(behind));
            }
            whole @ (Inside::Tick | Inside::Page(_)) => {
                now.push(whole);
                rest.push(Inside::Lines(Vec::new()));
            }
        }
    }
    (now, Some(rest))
}

/// Height of the rows that a title always has with it: two lines with the headings before them.
fn first_rows(boxes: &[Boxed]) -> Um {
    let mut height = 0;
    let mut lines = 0;
    for boxed in boxes {
        height += boxed.height;
        lines += usize::from(boxed.kind == RowKind::Line);
        if lines == 2 {
            break;
        }
    }
    height
}
