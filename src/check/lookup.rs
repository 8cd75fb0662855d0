//! Lookup tables: read and typed; and looking up in them.

use super::declare::Pen;
use super::typed::*;
use super::unknown::Known;
use super::words::many;
use crate::diagnostics::suggest::listed;
use crate::diagnostics::{CellPlace, Diagnostic, Place, Span};
use crate::number::Exact;
use crate::program::{Grain, KeyCell, KeyColumn, Kind, Lookup, LookupId, Missing, Node, Ty};
use crate::survey;
use crate::syntax::parse::parse_heading;
use crate::syntax::tree::{CellText, Expr, ExprKind, Layer, Name, TableDef};
use crate::units::{Dim, UnitExpr};
use std::sync::Arc;

/// Rows of one lookup table.
const MOST_ROWS: usize = 20_000;

/// Rows of a table with the place of each, whichever way they came.
#[derive(Clone)]
pub(super) struct Rows {
    pub(super) cells: Vec<Vec<CellText>>,
    pub(super) places: Vec<Place>,
}

impl<'a> Checker<'a> {
    /// Reads and checks a table, or marks its name as broken.
    pub(super) fn lookup_table(&mut self, pen: &Pen, def: &'a TableDef) {
        if self.declared.lookups.contains_key(def.name.text.as_str()) {
            self.twice("table", &def.name);
            return;
        }
        let lookup = self
            .rows_of(def)
            .and_then(|rows| self.lookup_of(def, &rows));
        let lookup = lookup.and_then(|lookup| {
            let added = self.program.lookups.push(Arc::new(lookup));
            self.room(added, "tables", def.name.span)
        });
        match lookup {
            Ok(id) => {
                self.declared
                    .write(pen)
                    .lookups
                    .insert(&def.name.text, vec![(Layer::Base, id)]);
                self.edited_tables(pen, def);
            }
            Err(Poisoned) => {
                self.reported.broken.insert(&def.name.text);
            }
        }
    }

    pub(super) fn rows_of(&mut self, def: &'a TableDef) -> Checks<Rows> {
        let Some(from) = &def.from else {
            let places = def
                .rows
                .iter()
                .map(|r| Place::Sheet(r.first().map_or(def.name.span, |c| c.span)))
                .collect();
            return Ok(Rows {
                cells: def.rows.clone(),
                places,
            });
        };
        if let Some(row) = def.rows.first().and_then(|r| r.first()) {
            return self.fail(
                Diagnostic::error("OV-410", "a table from a file has no rows of its own")
                    .at(row.span, "")
                    .mend("take the rows out, or the `from`"),
            );
        }
        let loaded: &'a super::Loaded = self.loaded;
        let found = loaded.tables.get(&(def.name.span.file, from.text.clone()));
        let (name, text) = match found {
            Some(Ok((name, text))) => (name, text),
            Some(Err(why)) => {
                let why = why.clone();
                return self.fail(
                    Diagnostic::error(
                        "OV-418",
                        format!("the table file \"{}\" can't be opened", from.text),
                    )
                    .at(from.span, "")
                    .found(why),
                );
            }
            None => return Err(Poisoned),
        };
        let mut rows = Rows {
            cells: vec![],
            places: vec![],
        };
        survey::records(text, b',', Some(b'#'), |before, record| {
            rows.places.push(Place::Cell(CellPlace {
                file: name.clone(),
                tab: None,
                row: u32::try_from(before + 1).unwrap_or(u32::MAX),
                column: None,
                heading: None,
            }));
            let cell = |text: &str| CellText {
                text: text.trim().to_string(),
                span: from.span,
            };
            rows.cells.push(record.iter().map(cell).collect());
            true
        });
        Ok(rows)
    }

    pub(super) fn lookup_of(&mut self, def: &'a TableDef, rows: &Rows) -> Checks<Lookup> {
        if def.broken {
            return Err(Poisoned);
        }
        let Some((heads, body)) = rows.cells.split_first() else {
            return self.fail(
                Diagnostic::error("OV-410", "this table has no headings")
                    .at(def.name.span, "")
                    .expected("a row of headings, then rows of cells separated by |"),
            );
        };
        if body.is_empty() || body.len() > MOST_ROWS {
            return self.fail(
                Diagnostic::error("OV-410", "a table needs rows, and not too many")
                    .at(def.name.span, "")
                    .found(format!("{} rows", body.len()))
                    .expected(format!("1 to {MOST_ROWS} rows")),
            );
        }
        let mut ok = true;
        let (columns, sound) = self.headings(heads);
        ok &= sound;
        for (i, row) in body.iter().enumerate() {
            if row.len() != heads.len() {
                ok = false;
                self.problems.push(
                    Diagnostic::error(
                        "OV-410",
                        "this row has another number of cells than the headings",
                    )
                    .at(rows.places[i + 1].clone(), "")
                    .found(format!("{} cells", row.len()))
                    .expected(format!("{} cells", heads.len())),
                );
            }
        }
        if !ok {
            return Err(Poisoned);
        }
        let mut keys = Vec::new();
        for key in &def.keys {
            let Some(at) = columns.iter().position(|c| c.0 == key.text) else {
                let names: Vec<String> = columns.iter().map(|c| c.0.clone()).collect();
                let names = Known::these(names.iter().map(String::as_str));
                self.unknown("OV-415", "heading", key, names);
                ok = false;
                continue;
            };
            match self.key_column(&columns[at], at, body, &rows.places[1..]) {
                Ok(column) => keys.push(column),
                Err(Poisoned) => ok = false,
            }
        }
        let mut values = Vec::new();
        for (at, column) in columns.iter().enumerate() {
            if def.keys.iter().any(|k| k.text == column.0) {
                continue;
            }
            match self.value_column(column, at, body, &rows.places[1..]) {
                Ok(v) => values.push(v),
                Err(Poisoned) => ok = false,
            }
        }
        if !ok {
            return Err(Poisoned);
        }
        let lookup = Lookup {
            name: def.name.text.clone(),
            keys,
            values,
            rows: body.len(),
            span: def.name.span,
            places: rows.places[1..].to_vec(),
        };
        self.check_rows(&lookup)?;
        Ok(lookup)
    }

    /// Names and units of the columns, and whether all are sound.
    fn headings(&mut self, heads: &[CellText]) -> (Vec<(String, Option<UnitExpr>)>, bool) {
        let mut ok = true;
        let mut columns: Vec<(String, Option<UnitExpr>)> = Vec::new();
        for head in heads {
            match parse_heading(head) {
                Ok(h) => {
                    let unit = h.unit.as_ref().map(|u| self.unit(u)).transpose();
                    ok &= unit.is_ok();
                    if columns.iter().any(|c| c.0 == h.name) {
                        ok = false;
                        self.problems.push(
                            Diagnostic::error("OV-410", format!("two headings are `{}`", h.name))
                                .at(head.span, ""),
                        );
                    }
                    columns.push((h.name, unit.unwrap_or(None)));
                }
                Err(d) => {
                    ok = false;
                    self.problems.push(d);
                }
            }
        }
        (columns, ok)
    }

    /// A cell's message, moved to where the cell is.
    pub(super) fn tell_at<T>(&mut self, mut d: Diagnostic, place: &Place) -> Checks<T> {
        if matches!(place, Place::Cell(_)) {
            d.labels.clear();
            d = d.at(place.clone(), "");
        }
        self.fail(d)
    }

    /// `VALUE from TABLE at KEY, …`
    pub(super) fn lookup(
        &mut self,
        e: &'a Expr,
        value: &'a Name,
        table: &'a Name,
        keys: &'a [Expr],
        interpolated: bool,
        cx: &Context<'a>,
    ) -> Checks<Typed> {
        let typed: Vec<Checks<Typed>> = keys
            .iter()
            .enumerate()
            .map(|(at, key)| {
                self.refuse_bare_text_key(table, at, key, cx)?;
                self.settled(key, cx, None)
            })
            .collect();
        let Some(id) = self.table_in_force(table) else {
            if !self.reported.broken.contains(table.text.as_str()) {
                self.unknown("OV-414", "table", table, Known::Tables);
            }
            return Err(Poisoned);
        };
        let lookup = Arc::clone(&self.program.lookups[id]);
        let typed = typed.into_iter().collect::<Checks<Vec<Typed>>>()?;
        let column = self.column_named(value, &lookup)?;
        self.keys_fit(e, keys, &typed, &lookup)?;
        let ty = lookup.values[column].ty.clone();
        if interpolated {
            self.can_be_interpolated(e, &lookup, &ty)?;
        }
        let column = crate::ids::place(column);
        let nodes: Vec<_> = typed.iter().map(|t| t.node).collect();
        let mut node = self.node(
            Kind::Lookup {
                table: id,
                column,
                keys: nodes,
                interpolated,
            },
            ty,
            e.span,
        );
        self.note_no_row(node, &lookup, keys, e, cx);
        if self.grain_of(node) == Grain::Const && cx.grain != Grain::Const {
            node = self.brought_down(node, cx.grain, e.span);
        }
        let whole = !interpolated
            && lookup.values[usize::from(column)]
                .numbers
                .iter()
                .all(Exact::is_integer)
            && !lookup.values[usize::from(column)].numbers.is_empty();
        Ok(Typed {
            node,
            pending: Pending::default(),
            whole,
            literal: false,
        })
    }

    /// The column of a table that a look-up names.
    fn column_named(&mut self, value: &Name, lookup: &Lookup) -> Checks<usize> {
        if let Some(column) = lookup.values.iter().position(|c| c.name == value.text) {
            return Ok(column);
        }
        let names: Vec<&str> = lookup.values.iter().map(|c| c.name.as_str()).collect();
        let near = self.near(&value.text, names.len(), names.iter().copied());
        let d = Diagnostic::error(
            "OV-415",
            format!("the table `{}` has no column `{}`", lookup.name, value.text),
        )
        .at(value.span, "")
        .at(lookup.span, "declared here")
        .expected(listed(&names));
        self.fail(match near {
            Some(n) => d.mend(format!("did you mean `{n}`?")),
            None => d,
        })
    }

    /// There are as many keys as key columns, each of its column's kind.
    fn keys_fit(
        &mut self,
        e: &Expr,
        keys: &'a [Expr],
        typed: &[Typed],
        lookup: &Lookup,
    ) -> Checks<()> {
        if typed.len() != lookup.keys.len() {
            let d = self.other_number_of_keys(e, keys, lookup);
            return self.fail(d);
        }
        for ((t, k), key) in typed.iter().zip(keys).zip(&lookup.keys) {
            let fits = match (self.ty(t), &key.ty) {
                (Ty::Number(a), Ty::Number(b)) => a.dim == b.dim,
                (Ty::Point(a), Ty::Point(b)) => a == b,
                (Ty::Text | Ty::Choice(_), Ty::Text) | (Ty::Truth, Ty::Truth) => true,
                _ => false,
            };
            if !fits {
                let (found, expected) = (self.words(&self.ty(t).clone()), self.words(&key.ty));
                return self.fail(
                    Diagnostic::error(
                        "OV-417",
                        format!(
                            "this key does not fit the column `{}` of `{}`",
                            key.name, lookup.name
                        ),
                    )
                    .at(k.span, found.clone())
                    .found(found)
                    .expected(expected),
                );
            }
            self.refuse_labels_without_row(t, k.span, key, lookup)?;
        }
        Ok(())
    }

    fn can_be_interpolated(&mut self, e: &Expr, lookup: &Lookup, ty: &Ty) -> Checks<()> {
        let exact_numbers = lookup.keys.len() == 1
            && lookup.keys[0]
                .cells
                .iter()
                .all(|c| matches!(c, KeyCell::Number(_)));
        if exact_numbers && matches!(ty, Ty::Number(_)) {
            return Ok(());
        }
        self.fail(
            Diagnostic::error("OV-413", format!("`{}` can't be interpolated", lookup.name))
                .at(e.span, "")
                .expected(
                    "one key column of plain numbers without bands, and a number as the value",
                ),
        )
    }

    /// A look-up by more or fewer keys than the table has.
    fn other_number_of_keys(&self, e: &Expr, keys: &[Expr], lookup: &Lookup) -> Diagnostic {
        let d = Diagnostic::error(
            "OV-416",
            format!(
                "the table `{}` is looked up by {}",
                lookup.name,
                many(lookup.keys.len(), "key")
            ),
        )
        .at(e.span, "")
        .found(many(keys.len(), "key"))
        .expected(
            lookup
                .keys
                .iter()
                .map(|k| k.name.as_str())
                .collect::<Vec<_>>()
                .join(", "),
        );
        let last = lookup
            .keys
            .len()
            .checked_sub(1)
            .filter(|_| keys.len() > lookup.keys.len())
            .and_then(|i| keys.get(i));
        match last {
            Some(last) => {
                let text = self.loaded.sources.slice(Span {
                    end: last.span.end,
                    ..e.span
                });
                let open = text
                    .matches('(')
                    .count()
                    .saturating_sub(text.matches(')').count());
                d.mend(format!(
                    "where the rest belongs to the list around it, put the look-up in brackets: ({text}{})",
                    ")".repeat(open)
                ))
            }
            None => d,
        }
    }

    /// A table as the layers up to the one being read leave it.
    fn table_in_force(&self, table: &Name) -> Option<LookupId> {
        let steps = self.declared.lookups.get(table.text.as_str())?;
        let in_force = steps
            .iter()
            .rev()
            .find(|(layer, _)| *layer <= self.work.up_to)?;
        Some(in_force.1)
    }

    /// A text among the keys of a table that is written as if it were a name.
    fn refuse_bare_text_key(
        &mut self,
        table: &Name,
        at: usize,
        key: &Expr,
        cx: &Context<'a>,
    ) -> Checks<()> {
        let ExprKind::Name(name) = &key.kind else {
            return Ok(());
        };
        let known = cx.params.contains_key(name.as_str())
            || self.declared.by_name.contains_key(name.as_str())
            || self.declared.label_owners.contains_key(name.as_str())
            || self.reported.broken.contains(name.as_str());
        let id = self.table_in_force(table);
        let column = id.and_then(|id| self.program.lookups[id].keys.get(at));
        let text = |cell: &KeyCell| matches!(cell, KeyCell::Text(t) if t == name);
        if known || !column.is_some_and(|column| column.cells.iter().any(text)) {
            return Ok(());
        }
        self.fail(
            Diagnostic::error("OV-202", format!("there is nothing named `{name}`"))
                .at(key.span, "")
                .note(format!(
                    "it is one of the texts of the table `{}`",
                    table.text
                ))
                .mend(format!("write it as a text: \"{name}\"")),
        )
    }

    /// Every label of a choice used as a key has a row, unless other keys decide too.
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "only a written label is known before the run"
    )]
    fn refuse_labels_without_row(
        &mut self,
        t: &Typed,
        span: Span,
        key: &KeyColumn,
        lookup: &Lookup,
    ) -> Checks<()> {
        let Ty::Choice(c) = self.ty(t).clone() else {
            return Ok(());
        };
        let labels = self.program.choices[c].labels.clone();
        let constant = match &self.program.node(t.node).kind {
            Kind::Label(l) => Some(usize::from(*l)),
            _ => None,
        };
        if key.cells.contains(&KeyCell::Any) {
            return Ok(());
        }
        let texts = key.cells.iter().filter_map(|k| match k {
            KeyCell::Text(t) => Some(t.to_ascii_lowercase()),
            KeyCell::Any | KeyCell::Number(_) | KeyCell::Truth(_) | KeyCell::Band { .. } => None,
        });
        let texts: foldhash::HashSet<String> = texts.collect();
        let has = |l: &str| texts.contains(&l.to_ascii_lowercase());
        let lacking: Vec<&str> = labels
            .iter()
            .enumerate()
            .filter(|(i, _)| constant.is_none_or(|c| c == *i))
            .map(|(_, l)| l.as_str())
            .filter(|l| !has(l))
            .collect();
        if lacking.is_empty() {
            return Ok(());
        }
        let say = |d: fn(&'static str, String) -> Diagnostic| {
            d(
                "OV-417",
                format!("the table `{}` has no row for every label", lookup.name),
            )
            .at(span, "")
            .at(lookup.span, "declared here")
            .found(format!("nothing for {}", listed(&lacking)))
            .mend("add rows for them, or a row with `any`")
        };
        if constant.is_some() {
            return self.fail(say(Diagnostic::error));
        }
        // Rows of the survey may never hold these labels; those that do are refused while running.
        self.problems.push(say(Diagnostic::warning));
        Ok(())
    }

    /// A constant node, for parts that need one.
    pub(super) fn number_node(
        &mut self,
        value: Exact,
        dim: Dim,
        span: Span,
    ) -> crate::program::NodeId {
        self.program.intern(Node {
            kind: Kind::Number(value),
            ty: number(dim),
            grain: Grain::Const,
            missing: Missing::Never,
            span,
        })
    }
}
