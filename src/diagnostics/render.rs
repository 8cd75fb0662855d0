//! Draws messages as text. The only place that knows colors, widths and tabs.
//!
//! ```
//! use ovolo::diagnostics::render::{Style, render};
//! use ovolo::diagnostics::{Diagnostic, Sources};
//!
//! let d = Diagnostic::error("OV-102", "this is not read").expected("a statement");
//! let text = render(&d, &Sources::default(), Style { color: false });
//! assert!(text.starts_with("OV-102  this is not read\n"));
//! ```

use super::{Diagnostic, Place, Severity, Sources, Span};
use crate::defuse;
use crate::ids;
use std::borrow::Cow;
use unicode_width::UnicodeWidthStr;

/// Columns of a source line that are shown.
const MOST_COLUMNS: usize = 160;

/// How to draw.
#[derive(Debug, Clone, Copy)]
pub struct Style {
    /// Use ANSI colors.
    pub color: bool,
}

const RED: anstyle::Style = anstyle::Style::new()
    .fg_color(Some(anstyle::Color::Ansi(anstyle::AnsiColor::Red)))
    .bold();
const YELLOW: anstyle::Style = anstyle::Style::new()
    .fg_color(Some(anstyle::Color::Ansi(anstyle::AnsiColor::Yellow)))
    .bold();

/// The one thing in a message that is painted is its code, which no text from outside is part of.
fn painted(text: &str, style: anstyle::Style, on: bool) -> String {
    if on {
        format!("{style}{text}{style:#}")
    } else {
        text.to_string()
    }
}

/// A text with what cannot be seen made visible.
fn seen(text: &str) -> Cow<'_, str> {
    defuse::terminal(text)
}

/// The place in words: `sash.ovo, line 12, column 9` or the cell.
pub fn place_text(place: &Place, sources: &Sources) -> String {
    match place {
        Place::Sheet(span) => {
            let (line, column) = sources.line_column(span.file, span.start);
            format!("{}, line {line}, column {column}", sources.name(span.file))
        }
        Place::Cell(cell) => cell.to_string(),
        Place::File(name) => name.clone(),
    }
}

/// One message, several lines, ending in a newline.
pub fn render(d: &Diagnostic, sources: &Sources, style: Style) -> String {
    let (word, paint) = match d.severity {
        Severity::Error => ("", RED),
        Severity::Warning => ("note: ", YELLOW),
    };
    let mut out = format!(
        "{}  {word}{}\n",
        painted(d.code, paint, style.color),
        seen(&d.message)
    );
    let mut drawn = vec![false; d.labels.len()];
    for (i, label) in d.labels.iter().enumerate() {
        if drawn[i] {
            continue;
        }
        out.push_str(&format!(
            "  at {}",
            seen(&place_text(&label.place, sources))
        ));
        match &label.place {
            Place::Sheet(span) => {
                out.push('\n');
                // Labels of one line are drawn under it together.
                let line = sources.line_column(span.file, span.start).0;
                let mut marks = Vec::new();
                for (j, other) in d.labels.iter().enumerate().skip(i) {
                    if let Place::Sheet(s) = &other.place
                        && s.file == span.file
                        && sources.line_column(s.file, s.start).0 == line
                    {
                        drawn[j] = true;
                        marks.push((*s, other.text.as_str()));
                    }
                }
                draw_line(&mut out, &marks, sources);
            }
            _ if label.text.is_empty() => out.push('\n'),
            Place::Cell(_) | Place::File(_) => out.push_str(&format!(": {}\n", seen(&label.text))),
        }
    }
    let mut field = |name: &str, text: &str| {
        let text = seen(text);
        let mut lines = text.lines();
        out.push_str(&format!("  {name:<9} {}\n", lines.next().unwrap_or("")));
        for l in lines {
            out.push_str(&format!("            {l}\n"));
        }
    };
    if let Some(t) = &d.found {
        field("found", t);
    }
    if let Some(t) = &d.expected {
        field("expected", t);
    }
    if d.rows > 0 && !d.marks.is_empty() {
        let more = d.rows.saturating_sub(d.marks.len());
        let list = d.marks.join(", ");
        let text = if more > 0 {
            format!("{} rows: {list} and {more} more", d.rows)
        } else {
            format!(
                "{} row{}: {list}",
                d.rows,
                if d.rows == 1 { "" } else { "s" }
            )
        };
        field("on", &text);
    }
    for n in &d.notes {
        field("note", n);
    }
    if let Some(t) = &d.mend {
        field("mend", t);
    }
    out
}

/// A source line with marks under it: first the main one, then the others, each with its words on a line of its own where they
/// would run into one another.
fn draw_line(out: &mut String, marks: &[(Span, &str)], sources: &Sources) {
    let Some((first, _)) = marks.first() else {
        return;
    };
    let whole = sources.text(first.file);
    let bounded = |at: u32| {
        let mut at = ids::at(at).min(whole.len());
        while !whole.is_char_boundary(at) {
            at -= 1;
        }
        at
    };
    let start = bounded(first.start);
    let line_start = whole[..start].rfind('\n').map_or(0, |i| i + 1);
    let line_end = whole[start..].find('\n').map_or(whole.len(), |i| start + i);
    let (number, _) = sources.line_column(first.file, first.start);
    let line = seen(whole[line_start..line_end].trim_end_matches('\r')).replace('\t', "    ");
    let shown: String = if line.chars().count() > MOST_COLUMNS {
        line.chars()
            .take(MOST_COLUMNS - 3)
            .chain("...".chars())
            .collect()
    } else {
        line
    };
    out.push_str(&format!("  {number:>5}   {shown}\n"));
    for (span, text) in marks {
        let (from, to) = (bounded(span.start), bounded(span.end));
        let indent = seen(&whole[line_start..from.max(line_start)])
            .replace('\t', "    ")
            .width();
        // The main mark needs no line of its own where another, with words, covers it.
        let covered = text.is_empty()
            && marks
                .iter()
                .any(|(s, t)| !t.is_empty() && s.start <= span.start && span.end <= s.end);
        if indent >= MOST_COLUMNS || covered {
            continue;
        }
        let under = seen(&whole[from..to.min(line_end).max(from)]).replace('\t', "    ");
        let mark = "^".repeat(under.width().clamp(1, MOST_COLUMNS - indent));
        let tail = if text.is_empty() {
            String::new()
        } else {
            format!(" {}", seen(text))
        };
        out.push_str(&format!("          {}{mark}{tail}\n", " ".repeat(indent)));
    }
}

/// All messages in order, capped at `most`, with a closing line that counts the rest.
pub fn render_all(list: &[Diagnostic], sources: &Sources, style: Style, most: usize) -> String {
    let mut out = String::new();
    for d in list.iter().take(most) {
        out.push_str(&render(d, sources, style));
        out.push('\n');
    }
    if list.len() > most {
        let more = list.len() - most;
        out.push_str(&format!(
            "... and {more} more message{}.\n",
            if more == 1 { "" } else { "s" }
        ));
    }
    out
}

/// The same content for machines: an array of objects.
pub fn to_json(list: &[Diagnostic], sources: &Sources) -> serde_json::Value {
    list.iter()
        .map(|d| {
            let places: Vec<_> = d
                .labels
                .iter()
                .map(|l| match &l.place {
                    Place::Sheet(s) => {
                        let (line, column) = sources.line_column(s.file, s.start);
                        let (end_line, end_column) = sources.line_column(s.file, s.end);
                        serde_json::json!({"sheet": sources.name(s.file), "line": line, "column": column,
                            "end_line": end_line, "end_column": end_column, "text": l.text})
                    }
                    Place::Cell(c) => serde_json::json!({"file": c.file, "tab": c.tab, "row": c.row, "column": c.column,
                        "heading": c.heading, "text": l.text}),
                    Place::File(f) => serde_json::json!({"file": f, "text": l.text}),
                })
                .collect();
            serde_json::json!({"code": d.code, "severity": d.severity, "message": d.message, "places": places,
                "found": d.found, "expected": d.expected, "notes": d.notes, "mend": d.mend, "rows": d.rows, "marks": d.marks})
        })
        .collect()
}
