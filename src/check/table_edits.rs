//! Rows of a lookup table that later layers add, change or take out. Each layer with such edits has a table of its own, so that trials of a
//! lower one see none of them.

use super::declare::Pen;
use super::lookup::Rows;
use super::typed::*;
use super::unknown::Known;
use crate::diagnostics::{Diagnostic, Place, Span};
use crate::syntax::parse::parse_heading;
use crate::syntax::tree::{
    CellText, Extend, Extension, Layer, RowEdit, RowEditKind, StatementKind, TableDef,
};
use foldhash::{HashMap, HashMapExt};
use std::sync::Arc;

/// Rows named where none fits.
const MOST_SHOWN: usize = 12;

impl<'a> Checker<'a> {
    fn table_extensions(&self) -> Vec<(Layer, &'a Extend, &'a [RowEdit])> {
        let loaded: &'a super::Loaded = self.loaded;
        let mut out = Vec::new();
        for sheet in &loaded.sheets {
            for statement in &sheet.tree.statements {
                if let StatementKind::Extend(block) = &statement.kind
                    && let Extension::Table(edits) = &block.more
                {
                    out.push((sheet.layer, block, edits.as_slice()));
                }
            }
        }
        out.sort_by_key(|(layer, ..)| *layer);
        out
    }

    /// Builds the table anew for each layer that edits it.
    pub(super) fn edited_tables(&mut self, pen: &Pen, def: &'a TableDef) {
        let blocks: Vec<_> = self
            .table_extensions()
            .into_iter()
            .filter(|(_, block, _)| block.name.text == def.name.text)
            .collect();
        if blocks.is_empty() {
            return;
        }
        let Ok(mut rows) = self.rows_of(def) else {
            return;
        };
        let own = self.layer_of_file(def.name.span);
        for layer in [Layer::Base, Layer::Shop, Layer::Job] {
            let mut seen: HashMap<Vec<String>, Span> = HashMap::new();
            let mut edited = false;
            for (_, block, edits) in blocks.iter().filter(|(l, ..)| *l == layer) {
                if own > layer {
                    self.problems.push(
                        Diagnostic::error(
                            "OV-605",
                            format!("`{}` belongs to a later layer than this block", def.name.text),
                        )
                        .at(block.span, "")
                        .at(def.name.span, "declared here")
                        .expected("what is extended is declared in the same or a lower layer: base, shop, job"),
                    );
                    continue;
                }
                for edit in *edits {
                    edited |= self.edit(def, &mut rows, edit, &mut seen).is_ok();
                }
            }
            if !edited {
                continue;
            }
            let Ok(lookup) = self.lookup_of(def, &rows) else {
                return;
            };
            let added = self.program.lookups.push(Arc::new(lookup));
            if let Ok(id) = self.room(added, "tables", def.name.span) {
                self.declared
                    .write(pen)
                    .lookups
                    .entry(&def.name.text)
                    .or_default()
                    .push((layer, id));
            }
        }
    }

    /// Tells of blocks that extend a table that is not there.
    pub(super) fn tables_extended(&mut self) {
        for (_, block, _) in self.table_extensions() {
            let name = block.name.text.as_str();
            if !self.declared.lookups.contains_key(name) && !self.reported.broken.contains(name) {
                self.unknown("OV-250", "table", &block.name, Known::Tables);
            }
        }
    }

    fn no_such_row(
        &mut self,
        def: &'a TableDef,
        edit: &'a RowEdit,
        wanted: &[String],
        mut known: Vec<String>,
    ) -> Checks<()> {
        if known.len() > MOST_SHOWN {
            let more = known.len() - MOST_SHOWN;
            known.truncate(MOST_SHOWN);
            known.push(format!("and {more} more"));
        }
        self.fail(
            Diagnostic::error(
                "OV-451",
                format!("`{}` has no row for {}", def.name.text, wanted.join(", ")),
            )
            .at(edit.span, "")
            .at(def.name.span, "the table")
            .expected(format!(
                "its keys as they are written there: {}",
                known.join("; ")
            )),
        )
    }

    fn edit(
        &mut self,
        def: &'a TableDef,
        rows: &mut Rows,
        edit: &'a RowEdit,
        seen: &mut HashMap<Vec<String>, Span>,
    ) -> Checks<()> {
        let heads = rows.cells.first().cloned().unwrap_or_default();
        let keys: Vec<usize> = heads
            .iter()
            .enumerate()
            .filter(|(_, head)| {
                let name = parse_heading(head).map(|h| h.name).unwrap_or_default();
                def.keys.iter().any(|k| k.text == name)
            })
            .map(|(at, _)| at)
            .collect();
        let keys_alone = edit.what == RowEditKind::TakeOut && edit.cells.len() == keys.len();
        if edit.cells.len() != heads.len() && !keys_alone {
            return self.fail(
                Diagnostic::error(
                    "OV-410",
                    "this row has another number of cells than the headings",
                )
                .at(edit.span, "")
                .at(def.name.span, "the table")
                .found(format!("{} cells", edit.cells.len()))
                .expected(format!("{} cells", heads.len())),
            );
        }
        let wanted: Vec<String> = match keys_alone {
            true => edit.cells.iter().map(plain).collect(),
            false => keys.iter().map(|k| plain(&edit.cells[*k])).collect(),
        };
        let key_of = |row: &[CellText]| -> Vec<String> {
            keys.iter().filter_map(|k| row.get(*k).map(plain)).collect()
        };
        if let Some(first) = seen.insert(wanted.clone(), edit.span) {
            return self.fail(
                Diagnostic::error(
                    "OV-603",
                    format!("a row of `{}` is changed twice in one layer", def.name.text),
                )
                .at(edit.span, "the second")
                .at(first, "the first")
                .mend("keep one of them"),
            );
        }
        let at = rows
            .cells
            .iter()
            .skip(1)
            .position(|row| key_of(row) == wanted)
            .map(|n| n + 1);
        match (edit.what, at) {
            (RowEditKind::Add, None) => {
                rows.cells.push(edit.cells.clone());
                rows.places.push(Place::Sheet(edit.span));
                Ok(())
            }
            (RowEditKind::Add, Some(at)) => self.fail(
                Diagnostic::error(
                    "OV-251",
                    format!(
                        "`{}` has a row for {} already",
                        def.name.text,
                        wanted.join(", ")
                    ),
                )
                .at(edit.span, "")
                .at(rows.places[at].clone(), "this row")
                .mend("write `change` in place of `add`"),
            ),
            (_, None) => {
                let known = rows.cells.iter().skip(1);
                let known = known.map(|row| key_of(row).join(" | ")).collect();
                self.no_such_row(def, edit, &wanted, known)
            }
            (what, Some(at)) => {
                self.row_pins(def, &rows.cells[at], edit, keys_alone)?;
                if what == RowEditKind::Change {
                    rows.cells[at].clone_from(&edit.cells);
                    rows.places[at] = Place::Sheet(edit.span);
                } else {
                    rows.cells.remove(at);
                    rows.places.remove(at);
                }
                Ok(())
            }
        }
    }

    /// What a row was, where the line says so; a row taken out with all its cells says so of each.
    fn row_pins(
        &mut self,
        def: &'a TableDef,
        row: &[CellText],
        edit: &RowEdit,
        keys_alone: bool,
    ) -> Checks<()> {
        if keys_alone {
            return Ok(());
        }
        let gone = edit.what == RowEditKind::TakeOut;
        for ((now, cell), was) in row.iter().zip(&edit.cells).zip(&edit.was) {
            let said = was.clone().or_else(|| gone.then(|| cell.text.clone()));
            let Some(said) = said else { continue };
            if plain_text(&said) != plain(now) {
                return self.fail(
                    Diagnostic::error(
                        "OV-602",
                        format!(
                            "a cell of `{}` is no longer what this line says it was",
                            def.name.text
                        ),
                    )
                    .at(cell.span, said)
                    .at(now.span, "what it is now")
                    .found(now.text.clone())
                    .mend("look whether the change still holds, then write what it is now"),
                );
            }
        }
        Ok(())
    }
}

fn plain(cell: &CellText) -> String {
    plain_text(&cell.text)
}

fn plain_text(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}
