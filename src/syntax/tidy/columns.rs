//! Lines up statements of one kind that are below one another, and the cells of tables.

#![expect(
    clippy::indexing_slicing,
    reason = "places of words and entries are counted in the very lists they stand in"
)]

use super::super::parse::shape::{self, Kind, Part};
use super::statement::{self, Word, fill, fits, joined, lay, with_comment};
use super::{Entry, GO_ON, WIDTH};
use unicode_width::UnicodeWidthStr;

/// A part wider than this does not push the columns of its neighbours.
const WIDEST: usize = 44;

/// Prints the entries of one block.
pub(super) fn print(text: &str, entries: &[Entry<'_>], indent: usize) -> Vec<String> {
    let mut out = Vec::new();
    let mut at = 0;
    let pad = " ".repeat(indent);
    while let Some(entry) = entries.get(at) {
        match entry {
            Entry::Statement { shape, .. } => {
                let end = run_end(entries, at, shape.kind);
                run(text, &entries[at..end], indent, &mut out);
                at = end;
                continue;
            }
            Entry::Row { .. } => {
                rows(&entries[at..], indent, &mut out);
                return out;
            }
            Entry::Comment(c) => out.push(format!("{pad}{c}")),
            Entry::Blank => out.push(String::new()),
            Entry::Done(lines) => out.extend(lines.iter().cloned()),
        }
        at += 1;
    }
    out
}

/// Where a run of statements of one kind ends; comments on lines of their own do not end it.
fn run_end(entries: &[Entry<'_>], start: usize, kind: Kind) -> usize {
    let mut end = start + 1;
    for (i, entry) in entries.iter().enumerate().skip(start + 1) {
        match entry {
            Entry::Statement { shape, .. } if shape.kind == kind && kind != Kind::Other => {
                end = i + 1
            }
            Entry::Comment(_) => {}
            Entry::Statement { .. } | Entry::Row { .. } | Entry::Blank | Entry::Done(_) => break,
        }
    }
    end
}

struct Line<'a> {
    words: Vec<Word>,
    comment: Option<&'a str>,
    /// Stands on one line.
    whole: bool,
    /// Broken only because it is long: what of it fits on its first line is lined up.
    long: bool,
}

impl Line<'_> {
    /// The words of each column: number of the column and its words.
    fn parts(&self) -> Vec<(usize, &[Word])> {
        let mut starts = vec![(0usize, 0usize)];
        starts.extend(
            self.words
                .iter()
                .enumerate()
                .filter_map(|(i, w)| w.token.slot.map(|s| (usize::from(s), i))),
        );
        let ends: Vec<usize> = starts
            .iter()
            .skip(1)
            .map(|(_, i)| *i)
            .chain([self.words.len()])
            .collect();
        starts
            .iter()
            .zip(ends)
            .map(|((slot, start), end)| (*slot, &self.words[*start..end]))
            .collect()
    }
}

fn run(text: &str, entries: &[Entry<'_>], indent: usize, out: &mut Vec<String>) {
    let lines: Vec<Option<Line<'_>>> = entries
        .iter()
        .map(|e| match e {
            Entry::Statement { shape, comment } => {
                let words = statement::words(text, shape);
                let whole = fits(&words, indent);
                let long = !whole
                    && !statement::has_comments(&words)
                    && words.iter().all(|w| w.token.part == Part::Plain);
                Some(Line {
                    words,
                    comment: comment.as_deref(),
                    whole,
                    long,
                })
            }
            Entry::Row { .. } | Entry::Comment(_) | Entry::Blank | Entry::Done(_) => None,
        })
        .collect();
    let columns = columns(lines.iter().flatten(), indent);
    for (entry, line) in entries.iter().zip(&lines) {
        match (entry, line) {
            (_, Some(line)) => out.extend(print_line(line, &columns, indent)),
            (Entry::Comment(c), None) => out.push(format!("{}{c}", " ".repeat(indent))),
            _ => {}
        }
    }
}

/// The column each slot begins at.
fn columns<'a, 'b: 'a>(lines: impl Iterator<Item = &'a Line<'b>>, indent: usize) -> Vec<usize> {
    let lines: Vec<_> = lines.map(|l| (l, l.parts())).collect();
    let most = lines
        .iter()
        .flat_map(|(_, p)| p.iter().map(|(slot, _)| *slot))
        .max()
        .unwrap_or(0);
    let mut columns = vec![indent];
    for slot in 1..=most {
        let mut column = 0;
        for (line, parts) in &lines {
            // Only what stands just before this column, on a line that has it, pushes it.
            let Some(before) = parts.iter().rposition(|(s, _)| *s < slot) else {
                continue;
            };
            let reaches = parts
                .get(before + 1)
                .is_some_and(|(s, _)| line.whole || line.long || *s == 1);
            let width = joined(parts[before].1).width();
            if reaches && (width <= WIDEST || parts[before].0 == 0) {
                let start = columns.get(parts[before].0).copied().unwrap_or(indent);
                column = column.max(
                    start
                        + width
                        + parts
                            .get(before + 1)
                            .and_then(|(_, w)| w.first())
                            .map_or(2, statement::blanks),
                );
            }
        }
        columns.push(column.max(columns.last().copied().unwrap_or(0)));
    }
    columns
}

fn print_line(line: &Line<'_>, columns: &[usize], indent: usize) -> Vec<String> {
    let parts = line.parts();
    if line.whole {
        let mut out = " ".repeat(indent);
        for (i, (slot, words)) in parts.iter().enumerate() {
            if i > 0 {
                out = padded(out, words, *slot, columns);
            }
            out.push_str(&joined(words));
        }
        if out.width() <= WIDTH {
            return vec![with_comment(out, line.comment)];
        }
    }
    let mut lines = broken(line, &parts, columns, indent);
    if let Some(last) = lines.pop() {
        lines.push(with_comment(last, line.comment));
    }
    lines
}

/// Lines of a statement that takes more than one: its first parts are lined up as far as they fit.
fn broken(
    line: &Line<'_>,
    parts: &[(usize, &[Word])],
    columns: &[usize],
    indent: usize,
) -> Vec<String> {
    let Some(((_, first), rest)) = parts.split_first() else {
        return Vec::new();
    };
    let begins_column = rest
        .first()
        .is_some_and(|(slot, w)| *slot == 1 && w.first().is_some_and(|w| w.above.is_empty()));
    if !begins_column || first.iter().any(|w| w.trail.is_some()) {
        return lay(&line.words, "", indent);
    }
    let mut lead = format!("{}{}", " ".repeat(indent), joined(first));
    let mut at = first.len();
    if line.long || line.whole {
        for (slot, words) in rest {
            let start = padded(lead.clone(), words, *slot, columns);
            let next = format!("{start}{}", joined(words));
            if next.width() > WIDTH {
                // Several clauses in one column: what fits of them stays on this line.
                if words.iter().skip(1).any(|w| w.token.level == 0) && start.width() < WIDTH / 2 {
                    return fill(&line.words[at..], &start, indent, false);
                }
                break;
            }
            (lead, at) = (next, at + words.len());
        }
        if at > first.len() {
            let mut lines = vec![lead];
            if at < line.words.len() {
                lines.extend(fill(
                    &line.words[at..],
                    &" ".repeat(indent + GO_ON),
                    indent,
                    false,
                ));
            }
            return lines;
        }
    }
    let (slot, words) = rest[0];
    lay(
        &line.words[at..],
        &padded(lead, words, slot, columns),
        indent,
    )
}

/// A line brought to the column of the words that follow.
fn padded(mut line: String, words: &[Word], slot: usize, columns: &[usize]) -> String {
    let least = words.first().map_or(1, statement::blanks);
    let blanks = columns
        .get(slot)
        .copied()
        .unwrap_or(0)
        .saturating_sub(line.width())
        .max(least);
    line.push_str(&" ".repeat(blanks));
    line
}

/// The cells of a row as printed.
pub(super) fn cells(row: &str, heading: bool) -> Vec<String> {
    let mut cells = Vec::new();
    let mut start = 0;
    let mut in_text = false;
    for (i, c) in row.char_indices() {
        match c {
            '"' if in_text || !super::super::lines::is_inch_mark(row, i) => in_text = !in_text,
            '|' if !in_text => {
                cells.push(cell(&row[start..i], heading));
                start = i + 1;
            }
            _ => {}
        }
    }
    cells.push(cell(&row[start..], heading));
    cells
}

fn cell(text: &str, heading: bool) -> String {
    let text = text.trim();
    match shape::cell_shape(text, heading) {
        Some(s) if !heading => joined(&statement::words(text, &s)),
        // Words of a heading stay as they are; only blanks are brought down to one.
        _ if !text.contains('"') => text.split_whitespace().collect::<Vec<_>>().join(" "),
        _ => text.to_string(),
    }
}

fn rows(entries: &[Entry<'_>], indent: usize, out: &mut Vec<String>) {
    let pad = " ".repeat(indent);
    let mut widths: Vec<usize> = Vec::new();
    for entry in entries {
        if let Entry::Row { cells, .. } = entry {
            for (i, cell) in cells.iter().enumerate() {
                match widths.get_mut(i) {
                    Some(w) => *w = (*w).max(cell.width()),
                    None => widths.push(cell.width()),
                }
            }
        }
    }
    for entry in entries {
        match entry {
            Entry::Row { cells, comment } => {
                let mut line = pad.clone();
                for (i, cell) in cells.iter().enumerate() {
                    match i {
                        0 => {}
                        // An empty first cell is not padded: a deeper line would continue the row above.
                        1 if cells[0].is_empty() => line.push_str("| "),
                        _ => line.push_str(" | "),
                    }
                    line.push_str(cell);
                    if i + 1 < cells.len() && !(i == 0 && cell.is_empty()) {
                        let width = widths.get(i).copied().unwrap_or(0);
                        line.push_str(&" ".repeat(width.saturating_sub(cell.width())));
                    }
                }
                out.push(with_comment(
                    line.trim_end().to_string(),
                    comment.as_deref(),
                ));
            }
            Entry::Comment(c) => out.push(format!("{pad}{c}")),
            Entry::Blank => out.push(String::new()),
            Entry::Statement { .. } | Entry::Done(_) => {}
        }
    }
}
