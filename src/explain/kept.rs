//! Tables of a survey as a record keeps them: every cell a text that loses nothing, rows named by their keys.
//!
//! Knows schemas and columns. Must not know rules, prices or files.

use crate::number::Exact;
use crate::survey::Column;
use crate::table::{
    Absence, ColumnData, ColumnKind, ColumnSpec, OnMissing, Schema, SchemaValue, Table,
};
use std::collections::HashMap;

/// A cell: its value, or why there is none. Numbers are ratios in base units, choices are labels, days count from 1970-01-01.
pub(super) type KeptCell = Result<String, Absence>;

/// A row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct KeptRow {
    /// Its key; for a table without one, the key above it and its number below that.
    pub(super) name: String,
    pub(super) cells: Vec<KeptCell>,
}

/// A table.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct KeptTable {
    pub(super) name: String,
    pub(super) columns: Vec<String>,
    pub(super) rows: Vec<KeptRow>,
}

impl KeptTable {
    /// What a table holds.
    pub(super) fn of(schema: &Schema, table: &Table) -> KeptTable {
        KeptTable {
            name: schema.name.clone(),
            rows: KeptTable::rows_of(schema, table).collect(),
            columns: schema.columns.iter().map(|c| c.name.clone()).collect(),
        }
    }

    /// The rows of a table, one by one.
    pub(super) fn rows_of<'a>(
        schema: &'a Schema,
        table: &'a Table,
    ) -> impl Iterator<Item = KeptRow> + 'a {
        let mut below: HashMap<String, usize> = HashMap::new();
        (0..table.rows).map(move |row| {
            let cells: Vec<KeptCell> = schema
                .columns
                .iter()
                .zip(&table.columns)
                .map(|(spec, data)| data.value(row).and_then(|v| kept_text(spec, &v)))
                .collect();
            let text = |column: usize| {
                cells
                    .get(column)
                    .cloned()
                    .and_then(Result::ok)
                    .unwrap_or_default()
            };
            let name = match (schema.key, &schema.parent) {
                (Some(key), _) => text(key),
                (None, Some((_, tie))) => {
                    let above = text(*tie);
                    let count = below.entry(above.clone()).or_insert(0);
                    *count += 1;
                    format!("{above}, {} {count}", schema.name)
                }
                (None, None) => format!("row {}", row + 1),
            };
            KeptRow { name, cells }
        })
    }

    /// Where each name is first.
    pub(super) fn by_name(&self) -> HashMap<&str, usize> {
        let mut names = HashMap::with_capacity(self.rows.len());
        for (at, row) in self.rows.iter().enumerate() {
            names.entry(row.name.as_str()).or_insert(at);
        }
        names
    }

    /// The same rows with the columns of another schema. A column that is new takes what `newer` holds on that row, else what the sheet says for
    /// a blank.
    pub(super) fn fitted(&self, schema: &Schema, newer: &KeptTable) -> KeptTable {
        let at: Vec<Option<usize>> = schema
            .columns
            .iter()
            .map(|c| self.columns.iter().position(|name| *name == c.name))
            .collect();
        let names = newer.by_name();
        let rows =
            self.rows.iter().map(|row| {
                let also = names
                    .get(row.name.as_str())
                    .and_then(|&at| newer.rows.get(at));
                let cells = schema.columns.iter().zip(&at).enumerate().map(
                    |(column, (spec, at))| match at {
                        Some(at) => row.cells.get(*at).cloned().unwrap_or(Err(Absence::Blank)),
                        None => also
                            .and_then(|r| r.cells.get(column))
                            .cloned()
                            .unwrap_or_else(|| blank(spec)),
                    },
                );
                KeptRow {
                    name: row.name.clone(),
                    cells: cells.collect(),
                }
            });
        KeptTable {
            name: schema.name.clone(),
            rows: rows.collect(),
            columns: schema.columns.iter().map(|c| c.name.clone()).collect(),
        }
    }

    /// The table as the evaluator takes it; `above` is the one it hangs below, with its schema. Errors in words.
    pub(super) fn table(
        &self,
        schema: &Schema,
        above: Option<(&Schema, &KeptTable)>,
    ) -> Result<Table, String> {
        let columns = schema
            .columns
            .iter()
            .enumerate()
            .map(|(at, spec)| self.column(spec, at))
            .collect::<Result<Vec<_>, _>>()?;
        let parent_rows = match (&schema.parent, above) {
            (Some((_, tie)), Some((above_schema, above))) => {
                Some(self.parents(*tie, above_schema, above)?)
            }
            _ => None,
        };
        Ok(Table {
            rows: self.rows.len(),
            columns,
            places: vec![],
            sources: vec![],
            headings: vec![],
            parent_rows,
            from_above: None,
        })
    }

    fn parents(
        &self,
        tie: usize,
        above_schema: &Schema,
        above: &KeptTable,
    ) -> Result<Vec<u32>, String> {
        let Some(key) = above_schema.key else {
            return Err(format!("`{}` has no key", above_schema.name));
        };
        let mut row_of: HashMap<&str, u32> = HashMap::new();
        for (at, row) in (0u32..).zip(&above.rows) {
            if let Some(Ok(text)) = row.cells.get(key) {
                row_of.insert(text, at);
            }
        }
        let parent = |row: &KeptRow| {
            let text = row
                .cells
                .get(tie)
                .and_then(|c| c.as_ref().ok())
                .map_or("", String::as_str);
            row_of.get(text).copied().ok_or_else(|| {
                format!(
                    "{} belongs to no {} of the record",
                    row.name, above_schema.name
                )
            })
        };
        self.rows.iter().map(parent).collect()
    }

    fn column(&self, spec: &ColumnSpec, at: usize) -> Result<ColumnData, String> {
        let mut column = Column::new(&spec.kind);
        for row in &self.rows {
            match row.cells.get(at) {
                Some(Ok(text)) => {
                    let value = value_of(spec, text)
                        .ok_or_else(|| format!("`{}` can't be {text}", spec.name))?;
                    column.push_given(&value);
                }
                Some(Err(why)) => column.push_missing(*why),
                None => return Err(format!("a row of {} lacks `{}`", self.name, spec.name)),
            }
        }
        Ok(column.finish(None))
    }
}

/// The value that a record keeps as this text.
fn value_of(spec: &ColumnSpec, text: &str) -> Option<SchemaValue> {
    match &spec.kind {
        ColumnKind::Text | ColumnKind::Lites => Some(SchemaValue::Text(text.to_owned())),
        ColumnKind::Number { .. } | ColumnKind::Moment | ColumnKind::Temperature => {
            ratio(text).map(SchemaValue::Number)
        }
        ColumnKind::YesNo => match text {
            "yes" => Some(SchemaValue::YesNo(true)),
            "no" => Some(SchemaValue::YesNo(false)),
            _ => None,
        },
        ColumnKind::Choice(labels) => {
            let at = labels.iter().position(|l| l.label == text)?;
            u16::try_from(at).ok().map(SchemaValue::Choice)
        }
        ColumnKind::Date => {
            let days: i32 = text.parse().ok()?;
            Some(SchemaValue::Number(Exact::from(i64::from(days))))
        }
    }
}

/// The text that a record keeps for a value.
fn kept_text(spec: &ColumnSpec, value: &SchemaValue) -> KeptCell {
    let text = value.words(&spec.kind, ToString::to_string);
    text.ok_or(Absence::Blank)
}

/// What a sheet says for a blank.
fn blank(spec: &ColumnSpec) -> KeptCell {
    match &spec.blank {
        OnMissing::Value(value) => kept_text(spec, value),
        OnMissing::Keep | OnMissing::Refuse => Err(Absence::Blank),
    }
}

/// A ratio as [`Exact`] prints it.
pub(super) fn ratio(text: &str) -> Option<Exact> {
    let (n, d) = text.split_once('/').unwrap_or((text, "1"));
    Exact::parse_plain(n)?.div(&Exact::parse_plain(d)?).ok()
}

#[cfg(test)]
mod tests {
    use super::ratio;
    use crate::number::Exact;

    #[test]
    fn ratios_come_back_as_they_were_printed() {
        let long = Exact::ratio(i64::MAX, 7)
            .and_then(|x| x.mul(&Exact::int(1_000_003)).ok())
            .expect("small");
        for value in [
            Exact::ZERO,
            Exact::int(-12),
            Exact::ratio(61, 2).expect("a ratio"),
            Exact::ratio(-1, 3).expect("a ratio"),
            long,
        ] {
            assert_eq!(ratio(&value.to_string()), Some(value));
        }
        assert_eq!(ratio("1/0"), None);
        assert_eq!(ratio("x"), None);
    }
}
