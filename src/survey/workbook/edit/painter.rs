//! A tab with some of its cells in other formats. Must not know comments or other parts.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use quick_xml::events::{BytesStart, Event};

use crate::diagnostics::source::column_letters;

use super::super::sheet::position;
use super::super::xml::attribute;
use super::styles::Styles;
use super::tags::with_attributes;

/// The style of a cell that names none, or none that can be read.
const NO_STYLE: usize = 0;

/// Copies a tab and changes what is marked on the way.
pub(super) struct Painter<'t, 's> {
    pub(super) text: &'t str,
    pub(super) out: String,
    /// How far the text is copied.
    pub(super) copied: usize,
    pub(super) prefix: String,
    /// Cells still to be marked.
    pub(super) left: BTreeSet<(u32, u32)>,
    pub(super) styles: &'s mut Styles,
    pub(super) row: u32,
    pub(super) column: u32,
    pub(super) depth: usize,
    pub(super) in_row: bool,
    /// The relation of the drawing that holds the boxes of comments.
    pub(super) drawing: Option<String>,
    /// Where such a drawing would have to be named.
    pub(super) before_drawing: Option<usize>,
}

/// Elements of a tab that are behind the drawing of comments (ECMA-376 part 1, 18.3.1.99).
pub(super) const AFTER_DRAWING: [&str; 8] = [
    "legacyDrawingHF",
    "drawingHF",
    "picture",
    "oleObjects",
    "controls",
    "webPublishItems",
    "tableParts",
    "extLst",
];

impl Painter<'_, '_> {
    pub(super) fn copy_to(&mut self, end: usize) {
        self.out
            .push_str(self.text.get(self.copied..end).unwrap_or(""));
        self.copied = end;
    }

    /// Writes blank cells for marks before a place.
    pub(super) fn fill_row(&mut self, before: u32) {
        let row = self.row;
        let due: Vec<(u32, u32)> = self.left.range((row, 0)..(row, before)).copied().collect();
        for at in due {
            self.left.remove(&at);
            let style = self.styles.colored(0);
            let (prefix, letters) = (&self.prefix, column_letters(at.1 + 1));
            let _ = write!(
                self.out,
                "<{prefix}c r=\"{letters}{}\" s=\"{style}\"/>",
                at.0 + 1
            );
        }
    }

    /// Writes rows for marks before a row.
    pub(super) fn fill_rows(&mut self, before: u32) {
        let due: BTreeSet<u32> = self.left.range((0, 0)..(before, 0)).map(|c| c.0).collect();
        let now = self.row;
        for row in due {
            self.row = row;
            let prefix = self.prefix.clone();
            let _ = write!(self.out, "<{prefix}row r=\"{}\">", row + 1);
            self.fill_row(u32::MAX);
            let _ = write!(self.out, "</{prefix}row>");
        }
        self.row = now;
    }

    pub(super) fn event(&mut self, event: &Event<'_>, from: usize, to: usize) {
        match event {
            Event::Start(e) => {
                self.opens(e, from, to, false);
                self.depth += 1;
            }
            Event::Empty(e) => self.opens(e, from, to, true),
            Event::End(e) => {
                self.depth -= 1;
                match e.local_name().as_ref() {
                    "row" if self.in_row => {
                        self.copy_to(from);
                        self.fill_row(u32::MAX);
                        self.in_row = false;
                        self.row += 1;
                    }
                    "sheetData" => {
                        self.copy_to(from);
                        self.fill_rows(u32::MAX);
                    }
                    _ if self.depth == 0 => {
                        self.before_drawing.get_or_insert(from);
                    }
                    _ => {}
                }
            }
            Event::Text(_)
            | Event::CData(_)
            | Event::Comment(_)
            | Event::Decl(_)
            | Event::PI(_)
            | Event::DocType(_)
            | Event::GeneralRef(_)
            | Event::Eof => {}
        }
    }

    pub(super) fn opens(&mut self, e: &BytesStart<'_>, from: usize, to: usize, empty: bool) {
        match e.local_name().as_ref() {
            "sheetData" if empty => {
                self.copy_to(from);
                let prefix = self.prefix.clone();
                let _ = write!(self.out, "<{prefix}sheetData>");
                self.fill_rows(u32::MAX);
                let _ = write!(self.out, "</{prefix}sheetData>");
                self.copied = to;
            }
            "row" => {
                if let Some(row) = attribute(e, "r").and_then(|r| r.parse::<u32>().ok()) {
                    self.row = row.saturating_sub(1);
                }
                self.column = 0;
                self.copy_to(from);
                self.fill_rows(self.row);
                if empty {
                    if self
                        .left
                        .range((self.row, 0)..(self.row + 1, 0))
                        .next()
                        .is_some()
                    {
                        let tag = self.text.get(from..to).unwrap_or("").replacen("/>", ">", 1);
                        self.out.push_str(&tag);
                        self.fill_row(u32::MAX);
                        let _ = write!(self.out, "</{}row>", self.prefix);
                        self.copied = to;
                    }
                    self.row += 1;
                } else {
                    self.in_row = true;
                }
            }
            "c" if self.in_row => {
                if let Some(at) = attribute(e, "r").and_then(position) {
                    self.column = at.1;
                }
                self.copy_to(from);
                self.fill_row(self.column);
                if self.left.remove(&(self.row, self.column)) {
                    let old = attribute(e, "s").and_then(|s| s.parse().ok());
                    let old = old.unwrap_or(NO_STYLE);
                    let style = self.styles.colored(old).to_string();
                    let tag = self.text.get(from..to).unwrap_or("");
                    self.out.push_str(&with_attributes(tag, &[("s", &style)]));
                    self.copied = to;
                }
                self.column += 1;
            }
            "legacyDrawing" if self.depth == 1 => {
                for pair in e.attributes().with_checks(false).flatten() {
                    if pair.key.local_name().as_ref() == "id" {
                        self.drawing = Some(pair.value.to_string());
                    }
                }
            }
            name if self.depth == 1 && AFTER_DRAWING.contains(&name) => {
                self.before_drawing.get_or_insert(from);
            }
            _ => {}
        }
    }

    pub(super) fn finish(mut self) -> String {
        self.copy_to(self.text.len());
        self.out
    }
}
