//! The report of a reading for a terminal. Must not know how the report came about, nor colors.

use std::fmt::Write;

use comfy_table::{ContentArrangement, LineStyle, Table, TableStyle};

use super::raw::cut;
use super::report::{ColumnReport, Report, TabReport};

/// Skipped ranges listed for each tab.
const MOST_RANGES: usize = 12;
/// Headings nobody asked for that are listed.
const MOST_UNASKED: usize = 24;
/// Rows set aside that are listed.
const MOST_ASIDE: usize = 20;

/// The report in lines of at most `width` columns where its words allow it.
pub fn report_text(report: &Report, width: usize) -> String {
    let width = width.clamp(40, 200);
    let mut out = String::new();
    line(
        &mut out,
        width,
        0,
        &format!("{}{}.", read_words(report), aside_words(report)),
    );
    for tab in &report.tabs {
        out.push('\n');
        tab_text(&mut out, width, tab);
    }
    if !report.columns.is_empty() {
        out.push('\n');
        out.push_str(&columns_table(report, width));
    }
    if !report.set_aside.is_empty() {
        out.push('\n');
        line(
            &mut out,
            width,
            0,
            &format!(
                "Set aside, and in no figure: {}",
                rows(report.set_aside.len())
            ),
        );
        let mut table = new_table(width, ["mark", "where", "why"]);
        for row in report.set_aside.iter().take(MOST_ASIDE) {
            let why: Vec<String> = row
                .causes
                .iter()
                .map(|c| format!("{} {}", c.code, c.message))
                .collect();
            let why = if why.is_empty() {
                "named to be set aside".to_string()
            } else {
                why.join("; ")
            };
            let mark = if row.mark.is_empty() {
                "(none)".to_string()
            } else {
                cut(&row.mark)
            };
            table.add_row([mark, row.place.to_string(), why]);
        }
        finish(&mut out, &table);
        if report.set_aside.len() > MOST_ASIDE {
            let _ = writeln!(out, "  and {} more", report.set_aside.len() - MOST_ASIDE);
        }
    }
    out
}

fn read_words(report: &Report) -> String {
    let of = |count: usize| format!("{} of \"{}\"", rows(count), report.table);
    match report.made {
        None => format!("{} read", of(report.rows)),
        Some(m) if m.brought == 0 => format!("{} made from the rows above", of(m.made)),
        Some(m) => format!(
            "{} read, {} made from the rows above",
            of(m.brought),
            rows(m.made)
        ),
    }
}

fn aside_words(report: &Report) -> String {
    match report.set_aside.len() {
        0 => String::new(),
        n => format!("; {n} set aside"),
    }
}

fn rows(count: usize) -> String {
    if count == 1 {
        "1 row".to_string()
    } else {
        format!("{count} rows")
    }
}

fn tab_text(out: &mut String, width: usize, tab: &TabReport) {
    let name = match &tab.tab {
        Some(t) => format!("{}, tab \"{t}\"", tab.file),
        None => tab.file.clone(),
    };
    let (first, last) = tab.heading_rows;
    let heading = if first == last {
        format!("row {first}")
    } else {
        format!("rows {first} and {last}")
    };
    line(
        out,
        width,
        0,
        &format!("{name}: headings in {heading}, {} below", rows(tab.rows)),
    );
    for range in tab.skipped.iter().take(MOST_RANGES) {
        let which = if range.first == range.last {
            format!("row {}", range.first)
        } else {
            format!("rows {} to {}", range.first, range.last)
        };
        line(
            out,
            width,
            2,
            &format!("{which} skipped: {}", range.reason.words()),
        );
    }
    if tab.skipped.len() > MOST_RANGES {
        let rest: u32 = tab.skipped.iter().skip(MOST_RANGES).map(|r| r.count).sum();
        line(out, width, 2, &format!("and {rest} more rows skipped"));
    }
    if !tab.unasked.is_empty() {
        let shown = tab
            .unasked
            .iter()
            .take(MOST_UNASKED)
            .map(String::as_str)
            .collect::<Vec<_>>()
            .join(", ");
        let more = match tab.unasked.len().saturating_sub(MOST_UNASKED) {
            0 => String::new(),
            more => format!(" and {more} more"),
        };
        line(out, width, 2, &format!("not asked for: {shown}{more}"));
    }
}

fn columns_table(report: &Report, width: usize) -> String {
    let mut table = new_table(width, ["column", "read from", "noted"]);
    for column in &report.columns {
        let mut from: Vec<String> = Vec::new();
        for matched in report
            .tabs
            .iter()
            .flat_map(|t| t.columns.iter().filter(|c| c.name == column.name))
        {
            if !from.contains(&matched.heading) {
                from.push(matched.heading.clone());
            }
        }
        let from = if from.is_empty() {
            "not in the file".to_string()
        } else {
            from.join(", ")
        };
        table.add_row([column.name.clone(), from, notes(column).join("\n")]);
    }
    let mut out = String::new();
    finish(&mut out, &table);
    out
}

fn notes(column: &ColumnReport) -> Vec<String> {
    let of = |count: u64| format!("{count} of {}", column.rows);
    let mut notes: Vec<String> = column
        .normalised
        .iter()
        .map(|(what, count)| format!("{count} of {}: {what}", column.cells))
        .collect();
    for (count, value, what) in [
        (column.assumed_blank, &column.assumed_for_blank, "blank"),
        (
            column.assumed_not_applicable,
            &column.assumed_for_not_applicable,
            "n/a",
        ),
    ] {
        if let (true, Some(value)) = (count > 0, value) {
            notes.push(format!("{}: {what}, taken as {value}", of(count)));
        }
    }
    for (count, what) in [
        (column.from_above, "as the row above"),
        (column.blank, "left blank"),
        (column.not_applicable, "left n/a"),
    ] {
        if count > 0 {
            notes.push(format!("{}: {what}", of(count)));
        }
    }
    notes
}

fn new_table(width: usize, headings: [&str; 3]) -> Table {
    let mut table = Table::new();
    table.load_style(TableStyle::new().header_separator(LineStyle::none().fill('─').junction('─')));
    // The width is the caller's business, and so are colors: nothing is asked of the terminal.
    table.force_no_tty();
    table.set_content_arrangement(ContentArrangement::Dynamic);
    table.set_width(u16::try_from(width).unwrap_or(u16::MAX));
    table.set_header(headings);
    table
}

fn finish(out: &mut String, table: &Table) {
    for l in table.lines() {
        out.push_str(l.trim_end());
        out.push('\n');
    }
}

/// Words wrapped at `width`, following lines indented by four more.
fn line(out: &mut String, width: usize, indent: usize, text: &str) {
    use unicode_width::UnicodeWidthStr;
    let mut used = indent;
    out.push_str(&" ".repeat(indent));
    for (i, word) in text.split(' ').enumerate() {
        if i > 0 && used + 1 + word.width() > width {
            out.push('\n');
            out.push_str(&" ".repeat(indent + 4));
            used = indent + 4;
        } else if i > 0 {
            out.push(' ');
            used += 1;
        }
        out.push_str(word);
        used += word.width();
    }
    out.push('\n');
}
