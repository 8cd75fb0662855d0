//! Papers as pages, tables of a terminal, and CSV.
//!
//! ```
//! # fn worked() -> ovolo::session::Session {
//! #     include!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/docs/worked.rs"))
//! # }
//! use ovolo::lists::{Made, papers, wanted};
//! let session = worked(); // a small job in memory, with a paper of its windows
//! let run = session.run().expect("it is worked");
//! let (program, tables) = (&run.job.checked.program, run.survey.inputs().tables);
//! let version = &program.versions[0];
//! let nodes = wanted(program, version);
//! let results = ovolo::eval::run(program, &run.survey.inputs(), &nodes, &Default::default()).expect("it runs");
//! let made = Made::new(program, version, &tables, &results, &run.worked.estimate);
//! let papers = papers(&made, None, &|_| ovolo::paper::Head::default()).expect("they add up");
//! let papers: Vec<_> = papers.iter().map(|paper| paper.kept()).collect(); // all rows made
//! let page = ovolo::report::papers::html(&papers[0]);
//! assert!(page.contains("A1"));
//! ```

use super::view::{Cell as Shown, Column as Heading, View};
use crate::calendar::clock::date_of;
use crate::defuse::{css, html as escape};
use crate::drawing::inline_svg;
use crate::paper::{Block, Cell, ImageKind, Paper, Row, RowKind, Side, State, Table, Value};
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use std::collections::BTreeSet;

const STYLE: &str = "\
body{font:10.5pt/1.35 Georgia,serif;color:#000;margin:2rem auto;max-width:60rem;padding:0 1rem}\
h1{font-size:1.5em;margin:0}h2{font-size:1.15em;margin:1.6em 0 .4em;break-after:avoid}\
.head{margin:.2em 0}.draft{font-weight:bold;border:1pt solid #000;padding:.1em .5em;display:inline-block}\
.doubt{border-left:.3em solid #000;padding:.2em .8em;margin:.5em 0}\
table{border-collapse:collapse;width:100%;font-size:.95em}thead{display:table-header-group}\
th{text-align:left;border-bottom:1.2pt solid #000;vertical-align:bottom}\
th,td{padding:.22em .7em .22em 0}td{border-bottom:.4pt solid #000;vertical-align:top}.long{overflow-wrap:anywhere}\
.n{text-align:right;white-space:nowrap}tr{break-inside:avoid}\
tr.group td{font-weight:bold;overflow-wrap:anywhere;border-bottom:.8pt solid #000;padding-top:.7em;break-after:avoid}tr.group{break-after:avoid}\
table:has(+figure){break-inside:avoid;break-after:avoid}tr.sum{break-before:avoid}tr.sum td{border-top:.8pt solid #000;font-weight:bold}\
.box{display:inline-block;width:5mm;height:5mm;border:.8pt solid #000}.room{display:inline-block;width:24mm;height:7mm}\
figure,.signs{break-inside:avoid;margin:1.5em 0}.sign{display:inline-block;width:44%;margin:14mm 4% 0 0;border-top:.8pt solid #000}\
img{max-width:80mm;max-height:80mm}.break{break-after:page}p.note{margin:.4em 0}\
td a{color:inherit}\
@media print{body{margin:0;max-width:none;padding:0}td a{text-decoration:none}td a::after{content:\", page \" target-counter(attr(href url),page)}}\
@page{size:auto;margin:14mm 12mm 16mm 20mm;font:9pt Georgia,serif;@bottom-right{content:\"page \" counter(page) \" of \" counter(pages)}}";

/// A paper as one HTML page with its own style; nothing is loaded. The same paper gives the same bytes.
pub fn html(paper: &Paper) -> String {
    let title = format!("{}: {}", paper.head.job, paper.title);
    let mut out = format!(
        "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'; img-src data:\">\n\
         <title>{}</title>\n<style>{STYLE}{}</style>\n</head>\n<body>\n",
        escape(&title),
        page_style(paper)
    );
    out.push_str(&format!("<h1 dir=\"auto\">{}</h1>\n", escape(&paper.title)));
    for line in head_lines(paper) {
        out.push_str(&format!(
            "<p class=\"head\" dir=\"auto\">{}</p>\n",
            escape(&line)
        ));
    }
    if paper.state == State::Draft {
        out.push_str(&format!("<p class=\"draft\">{}</p>\n", paper.state_text()));
    }
    for doubt in &paper.head.doubts {
        out.push_str(&format!("<p class=\"doubt\">{}</p>\n", escape(doubt)));
    }
    let entries: BTreeSet<usize> = entries(paper).collect();
    for (at, block) in paper.blocks.iter().enumerate() {
        if entries.contains(&at) {
            out.push_str(&format!("<a id=\"b{at}\"></a>"));
        }
        html_block(&mut out, block);
    }
    out.push_str("</body>\n</html>\n");
    out
}

/// The blocks that entries of rows begin with.
fn entries(paper: &Paper) -> impl Iterator<Item = usize> {
    let tables = paper.tables();
    tables.flat_map(|table| table.entries.iter().copied().flatten())
}

/// What is at the head and foot of every printed page; browsers that know no margin boxes print the page without.
fn page_style(paper: &Paper) -> String {
    let head = &paper.head;
    let mut about = format!(
        "{} · {} · for {}",
        head.job,
        paper.title,
        paper.reader.whom()
    );
    if let Some(issue) = head.issue {
        about.push_str(&format!(" · issue {issue}"));
    }
    if let Some(date) = &head.date {
        about.push_str(&format!(" · {date}"));
    }
    let state = match (paper.state, head.doubts.is_empty()) {
        (State::Draft, false) => format!("{}: see page 1", paper.state_text()),
        _ => paper.state_text().to_owned(),
    };
    let foot = [&head.record, &head.program, paper.cents(), &head.version];
    let foot: Vec<&str> = foot.into_iter().filter(|words| !words.is_empty()).collect();
    let foot = foot.join(" · ");
    format!(
        "@page{{@top-left{{content:\"{}\"}}@top-right{{content:\"{}\"}}@bottom-left{{content:\"{}\"}}}}",
        css(&about),
        css(&state),
        css(&foot)
    )
}

/// What is at the head of a paper.
pub(super) fn head_lines(paper: &Paper) -> Vec<String> {
    let head = &paper.head;
    let mut first = format!("{} · for {}", head.job, paper.reader.whom());
    if let Some(date) = &head.date {
        first.push_str(&format!(" · {date}"));
    }
    if let Some(issue) = head.issue {
        first.push_str(&format!(" · issue {issue}"));
    }
    let second = format!(
        "{} · made from {} · {}",
        head.version, head.record, head.program
    );
    vec![first, second]
}

fn html_block(out: &mut String, block: &Block) {
    match block {
        Block::Heading(text) => out.push_str(&format!("<h2 dir=\"auto\">{}</h2>\n", escape(text))),
        Block::Text(text) => out.push_str(&format!("<p dir=\"auto\">{}</p>\n", escape(text))),
        Block::Table(table) => html_table(out, table),
        Block::Drawing(picture) => out.push_str(&format!(
            "<figure>\n{}{}</figure>\n",
            inline_svg(&picture.drawing),
            match picture.caption.as_str() {
                "" => String::new(),
                words => format!("<figcaption>{}</figcaption>", escape(words)),
            }
        )),
        Block::Photograph(photo) => out.push_str(&format!(
            "<figure>\n<img src=\"data:{};base64,{}\" alt=\"{}\"><figcaption>{}</figcaption></figure>\n",
            match photo.image.kind {
                ImageKind::Jpeg => "image/jpeg",
                ImageKind::Png => "image/png",
            },
            STANDARD.encode(&photo.image.bytes),
            escape(&photo.caption),
            escape(&photo.caption)
        )),
        Block::Signs(signs) => {
            out.push_str("<div class=\"signs\">");
            for sign in signs {
                out.push_str(&format!(
                    "<span class=\"sign\">{}, date</span>",
                    escape(&sign.who)
                ));
            }
            out.push_str("</div>\n");
        }
        Block::PageBreak => out.push_str("<div class=\"break\"></div>\n"),
    }
}

fn html_table(out: &mut String, table: &Table) {
    if !table.title.is_empty() {
        out.push_str(&format!("<h2 dir=\"auto\">{}</h2>\n", escape(&table.title)));
    }
    if !table.says_only() {
        html_rows(out, table);
    }
    for note in &table.notes {
        out.push_str(&format!(
            "<p class=\"note\" dir=\"auto\">{}</p>\n",
            escape(note)
        ));
    }
}

fn html_rows(out: &mut String, table: &Table) {
    out.push_str("<table>\n");
    if table.is_headed() {
        html_head(out, table);
    }
    out.push_str("<tbody>\n");
    for (at, row) in table.rows.iter().enumerate() {
        html_row(out, table, at, row);
    }
    out.push_str("</tbody>\n</table>\n");
}

fn html_head(out: &mut String, table: &Table) {
    out.push_str("<thead><tr>");
    for column in &table.columns {
        let class = if column.side() == Side::Right {
            " class=\"n\""
        } else {
            ""
        };
        out.push_str(&format!("<th{class}>{}</th>", escape(&column.title())));
    }
    out.push_str("</tr></thead>\n");
}

fn html_row(out: &mut String, table: &Table, at: usize, row: &Row) {
    if let RowKind::Group(_) = row.kind {
        let words = row.cells.first().map_or("", |c| &*c.text);
        out.push_str(&format!(
            "<tr class=\"group\"><td colspan=\"{}\" dir=\"auto\">{}</td></tr>\n",
            table.columns.len(),
            escape(words)
        ));
        return;
    }
    let sum = matches!(row.kind, RowKind::Subtotal(_) | RowKind::Total);
    out.push_str(if sum { "<tr class=\"sum\">" } else { "<tr>" });
    let mut entry = table.entries.get(at).copied().flatten();
    for (column, cell) in table.columns.iter().zip(&row.cells) {
        let inside = match cell.value {
            Value::Tick => "<span class=\"box\"></span>".to_owned(),
            Value::Room => "<span class=\"room\"></span>".to_owned(),
            Value::Blank | Value::Text | Value::Day(_) | Value::Number(_) | Value::Unknown => {
                escape(&cell.text)
            }
        };
        let class = match (column.side(), is_long(&cell.text)) {
            (Side::Right, _) => " class=\"n\"",
            (Side::Left, false) => " dir=\"auto\"",
            (Side::Left, true) => " dir=\"auto\" class=\"long\"",
        };
        // The first cell leads to the entry of its row.
        let inside = match entry.take() {
            Some(block) => format!("<a href=\"#b{block}\">{inside}</a>"),
            None => inside,
        };
        out.push_str(&format!("<td{class}>{inside}</td>"));
    }
    out.push_str("</tr>\n");
}

/// Longest word that stays whole, in letters; its column is as wide as it needs. Longer ones may be broken.
const WORD: usize = 24;

fn is_long(text: &str) -> bool {
    let mut words = text.split_whitespace();
    words.any(|w| w.chars().count() > WORD)
}

/// A table of a paper as a view of a terminal, without the columns that are there to be written in.
pub fn view(table: &Table) -> View {
    let to_write = |at: usize| {
        let mut cells = table.lines().filter_map(|row| row.cells.get(at));
        let first = cells.next();
        first.is_some_and(|c| c.value == Value::Room) && cells.all(|c| c.value == Value::Room)
    };
    let mut view = headings(table);
    view.notes.clone_from(&table.notes);
    for row in &table.rows {
        let cells = row.cells.iter().map(cell).collect();
        match row.kind {
            RowKind::Total => view.total(cells),
            RowKind::Group(_) | RowKind::Line | RowKind::Subtotal(_) => view.row(cells),
        }
    }
    for (at, column) in view.columns.iter_mut().enumerate() {
        if to_write(at) {
            *column = column.clone().wide();
        }
    }
    view
}

/// The columns of a table of a paper, without its rows.
pub(super) fn headings<R>(table: &Table<R>) -> View {
    let columns = table.columns.iter().map(|column| {
        let heading = match column.side() {
            Side::Right => Heading::number(&column.heading),
            Side::Left => Heading::text(&column.heading),
        };
        Heading {
            unit: column.unit.clone(),
            ..heading
        }
    });
    View::new(&table.name, &table.title, columns.collect())
}

/// The cells of a row for CSV: numbers as decimals.
pub(super) fn plain_cells(row: &Row) -> Vec<Shown> {
    let plain = |one: &Cell| match &one.value {
        Value::Number(n) => Shown::Number(n.clone(), 2),
        // A file is sorted and read back, whoever it is for.
        Value::Day(day) => Shown::text(date_of(*day).to_string()),
        Value::Blank | Value::Text | Value::Tick | Value::Room | Value::Unknown => cell(one),
    };
    row.cells.iter().map(plain).collect()
}

fn cell(cell: &Cell) -> Shown {
    match &cell.value {
        Value::Tick => Shown::text("[ ]"),
        Value::Room | Value::Blank => Shown::Blank,
        Value::Text | Value::Day(_) | Value::Unknown => Shown::text(&*cell.text),
        Value::Number(_) => Shown::text(&*cell.text),
    }
}
