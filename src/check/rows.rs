//! Tables below another whose rows are made from the row above, and columns whose blanks read it.

use super::typed::*;
use super::unknown::Known;
use crate::diagnostics::Diagnostic;
use crate::program::TableId;
use crate::syntax::tree::{self, StatementKind};
use crate::table::{ColumnKind, OnMissing, RowsMade, RowsSpec};
use foldhash::HashSet;

impl<'a> Checker<'a> {
    /// Reads what `rows` statements and `else TABLE` columns say; all columns are known by then.
    pub(super) fn rows_and_above(&mut self) {
        // A table may be before the one above it, whose own blanks must be settled first.
        let mut order: Vec<TableId> = self.program.tables.ids().collect();
        order.sort_by_key(|t| self.depth_of(*t));
        for table in order {
            self.columns_above(table);
        }
        let mut done: HashSet<TableId> = HashSet::default();
        let loaded = self.loaded;
        for st in loaded.sheets.iter().flat_map(|s| &s.tree.statements) {
            let StatementKind::Rows(def) = &st.kind else {
                continue;
            };
            let Some(id) = self.declared.tables.get(def.table.text.as_str()).copied() else {
                self.unknown("OV-209", "survey", &def.table, Known::Surveys);
                continue;
            };
            if done.insert(id) {
                self.rows(id, def);
            } else {
                self.problems.push(
                    Diagnostic::error(
                        "OV-201",
                        format!("the rows of `{}` are made twice", def.table.text),
                    )
                    .at(def.table.span, "the second")
                    .mend("keep one of them"),
                );
            }
        }
    }

    fn depth_of(&self, mut table: TableId) -> usize {
        let mut depth = 0;
        while let Some(parent) = self.program.tables[table].parent {
            depth += 1;
            table = parent;
            if depth > self.program.tables.len() {
                break;
            }
        }
        depth
    }

    fn columns_above(&mut self, table: TableId) {
        let written: Vec<(usize, &'a tree::Column)> = self
            .declared
            .defs
            .iter()
            .filter_map(|d| match d.kind {
                DefKind::Column {
                    table: t,
                    index,
                    column,
                } if t == table && column.above.is_some() => Some((usize::from(index), column)),
                DefKind::Column { .. }
                | DefKind::Given(_)
                | DefKind::Rule(_)
                | DefKind::Decide(_) => None,
            })
            .collect();
        if written.is_empty() {
            return;
        }
        let mut above = vec![None; self.program.tables[table].schema.columns.len()];
        for (index, column) in written {
            if let Ok((from, blank, na)) = self.column_above(table, index, column) {
                above[index] = Some(from);
                let spec = &mut self.program.tables[table].schema.columns[index];
                spec.blank = blank;
                if na == OnMissing::Keep {
                    spec.not_applicable = na;
                }
            }
        }
        self.program.tables[table].schema.above = above;
    }

    /// The column above that a blank reads, and what is missing there.
    fn column_above(
        &mut self,
        table: TableId,
        index: usize,
        column: &'a tree::Column,
    ) -> Checks<(usize, OnMissing, OnMissing)> {
        let Some((other, name)) = &column.above else {
            return Err(Poisoned);
        };
        let info = &self.program.tables[table];
        let (parent, own_name) = (info.parent, info.schema.name.clone());
        let above = parent.map(|p| &self.program.tables[p].schema);
        let Some(above) = above.filter(|a| a.name == name.text).cloned() else {
            let d = Diagnostic::error(
                "OV-240",
                format!("`{own_name}` is not below `{}`", name.text),
            )
            .at(name.span, "");
            return self.fail(match above {
                Some(a) => d.expected(format!("else {}", a.name)),
                None => d.expected(format!("survey {own_name} of {} by COLUMN", name.text)),
            });
        };
        if column.optional || column.if_blank.is_some() || column.key {
            return self.fail(
                Diagnostic::error(
                    "OV-219",
                    "a cell that is missing has either a value or stays missing",
                )
                .at(column.span, "")
                .mend(format!(
                    "keep `else {}`, or keep `optional`, `if blank` or `key`",
                    above.name
                )),
            );
        }
        let wanted = other.as_ref().unwrap_or(&column.name);
        let Some(from) = above.columns.iter().position(|c| c.name == wanted.text) else {
            self.unknown(
                "OV-214",
                "column",
                wanted,
                Known::these(above.columns.iter().map(|c| c.name.as_str())),
            );
            return Err(Poisoned);
        };
        let spec = &self.program.tables[table].schema.columns[index];
        let theirs = &above.columns[from];
        let fits = match (&spec.kind, &theirs.kind) {
            (
                ColumnKind::Number {
                    dim,
                    whole,
                    percent,
                    ..
                },
                ColumnKind::Number {
                    dim: d,
                    whole: w,
                    percent: p,
                    ..
                },
            ) => dim == d && percent == p && (!whole || *w),
            (
                ColumnKind::Number {
                    dim,
                    percent: false,
                    ..
                },
                ColumnKind::Lites,
            ) => dim.is_none() || dim.as_count().is_some(),
            (ColumnKind::YesNo, ColumnKind::Lites) => true,
            (ColumnKind::Choice(a), ColumnKind::Choice(b)) => {
                a.iter().map(|l| &l.label).eq(b.iter().map(|l| &l.label))
            }
            (a, b) => a == b,
        };
        if !fits {
            let span = theirs.span;
            return self.fail(
                Diagnostic::error(
                    "OV-241",
                    format!(
                        "`{}` cannot read `{}` of `{}`: they hold different things",
                        column.name.text, wanted.text, above.name
                    ),
                )
                .at(column.span, "")
                .at(span, "the column above")
                .expected("the same type in both, `whole` too; a lite pattern is read by a count or a number, and by yes or no: whether there are margin lites"),
            );
        }
        Ok((from, theirs.blank.clone(), theirs.not_applicable.clone()))
    }

    fn rows(&mut self, id: TableId, def: &'a tree::RowsDef) {
        let info = &self.program.tables[id];
        let Some(parent) = info.parent else {
            self.problems.push(
                Diagnostic::error(
                    "OV-242",
                    format!("`{}` is below no other table", def.table.text),
                )
                .at(def.table.span, "")
                .expected(format!(
                    "survey {} of TABLE_ABOVE by COLUMN",
                    def.table.text
                )),
            );
            return;
        };
        let (schema, above) = (
            info.schema.clone(),
            self.program.tables[parent].schema.clone(),
        );
        let place = schema.columns.iter().position(|c| c.name == def.place.text);
        let from = above.columns.iter().position(|c| c.name == def.from.text);
        if place.is_none() {
            let names = schema.columns.iter().map(|c| c.name.as_str());
            self.unknown("OV-214", "column", &def.place, Known::these(names));
        }
        if from.is_none() {
            let names = above.columns.iter().map(|c| c.name.as_str());
            self.unknown("OV-214", "column", &def.from, Known::these(names));
        }
        let (Some(place), Some(from)) = (place, from) else {
            return;
        };
        let Ok(made) = self.rows_made(
            def,
            &schema.columns[place].kind,
            &above.columns[from].kind,
            (id, place),
        ) else {
            return;
        };
        self.refuse_unmakeable(def, &schema, place);
        self.program.tables[id].schema.rows = Some(RowsSpec {
            from,
            place,
            made,
            all_surveyed: def.all_surveyed.is_some(),
            key: None,
        });
    }

    fn rows_made(
        &mut self,
        def: &'a tree::RowsDef,
        place: &ColumnKind,
        from: &ColumnKind,
        column: (TableId, usize),
    ) -> Checks<RowsMade> {
        let is_whole = |kind: &ColumnKind| matches!(kind, ColumnKind::Number { dim, whole: true, .. } if dim.is_none() || dim.as_count().is_some());
        match (&def.lines, place, from) {
            (None, place, from) if is_whole(place) && is_whole(from) => Ok(RowsMade::Count),
            (Some(lines), ColumnKind::Choice(rows), ColumnKind::Choice(labels)) => {
                let mut made: Vec<Option<Vec<u16>>> = vec![None; labels.len()];
                for line in lines {
                    let list: Vec<u16> = line
                        .rows
                        .iter()
                        .filter_map(|r| self.label_at(r, rows))
                        .collect();
                    for (at, row) in line.rows.iter().enumerate() {
                        if line.rows[..at].iter().any(|r| r.text == row.text) {
                            self.twice("row", row);
                        }
                    }
                    for label in &line.labels {
                        let Some(at) = self.label_at(label, labels) else {
                            continue;
                        };
                        if made[usize::from(at)].replace(list.clone()).is_some() {
                            self.twice("line", label);
                        }
                    }
                }
                let left: Vec<&str> = labels
                    .iter()
                    .zip(&made)
                    .filter(|(_, m)| m.is_none())
                    .map(|(l, _)| l.label.as_str())
                    .collect();
                if !left.is_empty() && !def.broken {
                    self.problems.push(
                        Diagnostic::error(
                            "OV-243",
                            format!("these rows do not say what `{}` has", left.join("`, `")),
                        )
                        .at(def.from.span, "")
                        .mend(format!(
                            "add a line such as {}: {}",
                            left.join(", "),
                            rows.first().map_or("ROW", |r| r.label.as_str())
                        )),
                    );
                    return Err(Poisoned);
                }
                let codes = self.codes_of(column, rows.len());
                Ok(RowsMade::Labels(
                    made.into_iter().map(Option::unwrap_or_default).collect(),
                    codes,
                ))
            }
            _ => self.fail(
                Diagnostic::error("OV-244", "rows cannot be made from these columns")
                    .at(def.place.span, kind_word(place))
                    .at(def.from.span, kind_word(from))
                    .expected(match def.lines.is_some() {
                        true => "two choices: the one above says which rows of the other there are",
                        false => "two whole numbers: the one above says how many rows, the other is their number",
                    }),
            ),
        }
    }

    fn label_at(
        &mut self,
        name: &'a tree::Name,
        labels: &[crate::table::LabelSpec],
    ) -> Option<u16> {
        let at = labels.iter().position(|l| l.label == name.text);
        if at.is_none() {
            let known = labels.iter().map(|l| l.label.as_str());
            self.unknown("OV-211", "label", name, Known::these(known));
        }
        u16::try_from(at?).ok()
    }

    /// The code of each label of a place: its first spelling, or the label itself.
    fn codes_of(&self, (table, column): (TableId, usize), count: usize) -> Vec<String> {
        let specs = &self.program.tables[table].schema.columns[column];
        let ColumnKind::Choice(labels) = &specs.kind else {
            return vec![String::new(); count];
        };
        labels
            .iter()
            .map(|l| l.spellings.first().unwrap_or(&l.label).clone())
            .collect()
    }

    /// Every column of a row that is made has a value, or may be blank.
    fn refuse_unmakeable(
        &mut self,
        def: &'a tree::RowsDef,
        schema: &crate::table::Schema,
        place: usize,
    ) {
        if schema.key.is_none() {
            self.problems.push(
                Diagnostic::error(
                    "OV-245",
                    format!("the rows of `{}` need a key of their own", schema.name),
                )
                .at(def.table.span, "")
                .mend(format!(
                    "add a column to the survey `{}`: {}_mark text key",
                    schema.name, schema.name
                )),
            );
        }
        let tie = schema.parent.as_ref().map(|p| p.1);
        for (at, column) in schema.columns.iter().enumerate() {
            let is_filled = Some(at) == tie
                || at == place
                || Some(at) == schema.key
                || schema.above(at).is_some()
                || column.blank != OnMissing::Refuse;
            if !is_filled {
                self.problems.push(
                    Diagnostic::error(
                        "OV-246",
                        format!("a row that is made has no value for `{}`", column.name),
                    )
                    .at(column.span, "")
                    .at(def.table.span, "rows are made here")
                    .expected(format!(
                        "`else {}`, `if blank VALUE` or `optional`",
                        schema
                            .parent
                            .as_ref()
                            .map_or("TABLE_ABOVE", |p| p.0.as_str())
                    )),
                );
            }
        }
    }

    /// Whether rows of a table can be made.
    pub(super) fn has_made_rows(&self, table: TableId) -> bool {
        self.program.tables[table].schema.rows.is_some()
    }
}

fn kind_word(kind: &ColumnKind) -> &'static str {
    match kind {
        ColumnKind::Text => "a text",
        ColumnKind::Lites => "a lite pattern",
        ColumnKind::Number { whole: true, .. } => "a whole number",
        ColumnKind::Number { .. } => "a number",
        ColumnKind::YesNo => "yes or no",
        ColumnKind::Choice(_) => "a choice",
        ColumnKind::Date => "a date",
        ColumnKind::Moment => "a moment",
        ColumnKind::Temperature => "a temperature",
    }
}
