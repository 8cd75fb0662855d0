//! A page to print: totals, cost, buy list, treatment schedule, cautions and what it rests on. Every text is escaped; nothing is loaded.
//!
//! ```
//! # fn worked() -> ovolo::session::Session {
//! #     include!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/docs/worked.rs"))
//! # }
//! let session = worked(); // a small job in memory
//! let run = session.run().expect("it is worked");
//! let estimate = &run.worked.estimate;
//! let page = ovolo::report::page::write(estimate).expect("a page");
//! assert!(page.starts_with("<!doctype html>"));
//! ```

use super::view::{Side, View};
use super::{Face, all_views};
use crate::charts;
use crate::defuse::html as escape;
use crate::diagnostics::Diagnostic;
use crate::drawing::{Drawing, inline_svg};
use crate::pricing::{CutKind, Estimate};

const STYLE: &str = "\
body{font:11pt/1.4 Georgia,serif;color:#222;margin:2.5rem auto;max-width:62rem;padding:0 1rem}\
h1{font-size:1.6em;margin:0}h2{font-size:1.1em;margin:2em 0 .4em;break-after:avoid}\
.version{margin:.2em 0 0;color:#555}.aside{border-left:.3em solid #a33;padding:.3em .8em;margin:1em 0}\
table{border-collapse:collapse;width:100%;font-size:.9em}th{text-align:left;border-bottom:1.5pt solid #222;vertical-align:bottom}\
th,td{padding:.25em .9em .25em 0}td{border-bottom:.5pt solid #ccc;vertical-align:top;overflow-wrap:anywhere}\
.n{text-align:right;font-variant-numeric:tabular-nums;white-space:nowrap}tr.sum td{border-top:1pt solid #222;border-bottom:0;font-weight:bold}\
table.many{font-size:.74em}table.many th,table.many td{padding:.2em .5em .2em 0}table.many .n{white-space:normal}\
p.note{font-size:.85em;color:#555;margin:.4em 0}tr,figure{break-inside:avoid}figure{margin:1.5em 0}figure svg{max-width:100%;height:auto}thead{display:table-header-group}\
@media print{body{margin:0;max-width:none;padding:0;font-size:9.5pt}@page{margin:18mm 15mm}}";

/// Columns from which on a table is set smaller.
const MANY: usize = 8;

/// The estimate as one HTML page with its own style, its charts after the totals. The same estimate gives the same bytes.
/// Errors: OV-824 when a chart cannot be drawn.
pub fn write(estimate: &Estimate) -> Result<String, Diagnostic> {
    let title = if estimate.title.is_empty() {
        "Estimate"
    } else {
        &estimate.title
    };
    let views = all_views(estimate);
    let shown = views
        .iter()
        .filter(|v| !v.is_empty() && on_page(v, estimate));
    let drawings = charts::of_estimate(estimate)?;
    let lines = Face::of(estimate).lines();
    let page = Page {
        title,
        subtitle: estimate.version_name(),
        face: &lines,
    };
    Ok(page.write(shown, &figures(&drawings)))
}

/// Drawings as elements of a page.
pub(super) fn figures(drawings: &[Drawing]) -> Vec<String> {
    drawings.iter().map(inline_svg).collect()
}

/// What is above the tables of a page.
pub(super) struct Page<'a> {
    pub(super) title: &'a str,
    pub(super) subtitle: &'a str,
    /// What every output says on its face.
    pub(super) face: &'a [String],
}

impl Page<'_> {
    /// A whole page: the first table, the drawings, the other tables.
    pub(super) fn write<'v>(
        &self,
        views: impl Iterator<Item = &'v View>,
        figures: &[String],
    ) -> String {
        let mut out = format!(
            "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
             <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">\n\
             <title>{0}, {1}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n<h1>{0}</h1>\n<p class=\"version\">{1}</p>\n",
            escape(self.title),
            escape(self.subtitle)
        );
        for line in self.face {
            out.push_str(&format!("<p class=\"aside\">{}</p>\n", escape(line)));
        }
        for (at, view) in views.enumerate() {
            table(&mut out, view);
            if at == 0 {
                for figure in figures {
                    out.push_str(&format!("<figure>\n{figure}</figure>\n"));
                }
            }
        }
        out.push_str("</body>\n</html>\n");
        out
    }
}

/// A page to hand out has no shop detail: cost lines and resources stay in the workbook.
fn on_page(view: &View, estimate: &Estimate) -> bool {
    let shop = [CutKind::Class, CutKind::Resource]
        .into_iter()
        .filter_map(|kind| estimate.cut(kind));
    view.name != "cost-lines"
        && !shop
            .into_iter()
            .any(|cut| view.name == format!("by-{}", cut.by))
}

fn table(out: &mut String, view: &View) {
    let footed = view.footed(None);
    let view = &*footed;
    let class = |side: Side| {
        if side == Side::Right {
            " class=\"n\""
        } else {
            ""
        }
    };
    // A table of many columns is set smaller, so that it fits on an upright page.
    let many = if view.wide_columns().count() >= MANY {
        " class=\"many\""
    } else {
        ""
    };
    out.push_str(&format!(
        "<h2>{}</h2>\n<table{many}>\n<thead><tr>",
        escape(&view.title)
    ));
    for (_, column) in view.wide_columns() {
        out.push_str(&format!(
            "<th{}>{}</th>",
            class(column.side),
            escape(&column.full_heading())
        ));
    }
    out.push_str("</tr></thead>\n<tbody>\n");
    for row in &view.rows {
        out.push_str(if row.total {
            "<tr class=\"sum\">"
        } else {
            "<tr>"
        });
        for (column, cell) in view
            .wide_columns()
            .filter_map(|(at, column)| Some((column, row.cells.get(at)?)))
        {
            out.push_str(&format!(
                "<td{}>{}</td>",
                class(column.side),
                escape(&cell.shown())
            ));
        }
        out.push_str("</tr>\n");
    }
    out.push_str("</tbody>\n</table>\n");
    for note in &view.notes {
        out.push_str(&format!("<p class=\"note\">{}</p>\n", escape(note)));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::{Cell, Column};

    #[test]
    fn nothing_of_a_text_reaches_the_browser_as_markup() {
        let mut view = View::new("t", "<t>", vec![Column::text("<h>")]);
        view.row(vec![Cell::text("</td><script>alert(1)</script>")]);
        view.notes.push("<i>".into());
        let mut out = String::new();
        table(&mut out, &view);
        let opened: Vec<&str> = out
            .split('<')
            .skip(1)
            .map(|tag| tag.split(['>', ' ']).next().unwrap_or(""))
            .collect();
        let allowed = [
            "h2", "/h2", "table", "/table", "thead", "/thead", "tbody", "/tbody", "tr", "/tr",
            "th", "/th", "td", "/td", "p", "/p",
        ];
        assert!(opened.iter().all(|tag| allowed.contains(tag)), "{opened:?}");
    }
}
