//! A column while its cells are put together from a table and the one above it.

use super::made::absence;
use crate::number::Exact;
use crate::table::{
    Absence, ColumnData, ColumnKind, Lites, NumbersBuilder, SchemaValue, Table, Texts, Values,
};
use crate::units::whole_days;
use foldhash::{HashMap, HashMapExt};

/// A column while its cells are put together from two tables.
pub(super) struct Growing {
    values: GrowingValues,
    absent: Vec<Absence>,
}

enum GrowingValues {
    Numbers(NumbersBuilder),
    Text {
        ids: Vec<u32>,
        pool: Texts,
        known: HashMap<String, u32>,
    },
    Choice(Vec<u16>),
    YesNo(Vec<bool>),
    Date(Vec<i32>),
}

impl Growing {
    pub(super) fn new(kind: &ColumnKind) -> Growing {
        let values = match kind {
            ColumnKind::Number { .. } | ColumnKind::Moment | ColumnKind::Temperature => {
                GrowingValues::Numbers(NumbersBuilder::default())
            }
            ColumnKind::Text | ColumnKind::Lites => GrowingValues::Text {
                ids: Vec::new(),
                pool: Texts::default(),
                known: HashMap::new(),
            },
            ColumnKind::Choice(_) => GrowingValues::Choice(Vec::new()),
            ColumnKind::YesNo => GrowingValues::YesNo(Vec::new()),
            ColumnKind::Date => GrowingValues::Date(Vec::new()),
        };
        Growing {
            values,
            absent: Vec::new(),
        }
    }

    pub(super) fn number(&mut self, value: &Exact) {
        if let GrowingValues::Numbers(numbers) = &mut self.values {
            numbers.push(value);
            self.absent.push(Absence::Present);
        }
    }

    /// All lites of a sash, or whether it has margin lites.
    pub(super) fn lites(&mut self, lites: Lites) {
        self.value(&match self.values {
            GrowingValues::YesNo(_) => SchemaValue::YesNo(lites.margin > 0),
            GrowingValues::Numbers(_)
            | GrowingValues::Text { .. }
            | GrowingValues::Choice(_)
            | GrowingValues::Date(_) => SchemaValue::Number(Exact::from(i64::from(lites.all()))),
        });
    }

    pub(super) fn text(&mut self, text: &str) {
        if let GrowingValues::Text { ids, pool, known } = &mut self.values {
            let id = match known.get(text) {
                Some(id) => *id,
                None => {
                    let id = u32::try_from(pool.len()).unwrap_or(u32::MAX);
                    pool.push(text);
                    known.insert(text.to_owned(), id);
                    id
                }
            };
            ids.push(id);
            self.absent.push(Absence::Present);
        }
    }

    /// A label or a number, as the column holds.
    pub(super) fn place(&mut self, place: u16) {
        if let GrowingValues::Choice(labels) = &mut self.values {
            labels.push(place);
            self.absent.push(Absence::Present);
        } else {
            self.number(&Exact::from(i64::from(place)));
        }
    }

    pub(super) fn missing(&mut self, why: Absence) {
        match &mut self.values {
            GrowingValues::Numbers(numbers) => numbers.push(&Exact::ZERO),
            GrowingValues::Text { .. } => {
                self.text("");
                self.absent.pop();
            }
            GrowingValues::Choice(labels) => labels.push(0),
            GrowingValues::YesNo(truths) => truths.push(false),
            GrowingValues::Date(days) => days.push(0),
        }
        self.absent.push(why);
    }

    pub(super) fn value(&mut self, value: &SchemaValue) {
        match (&mut self.values, value) {
            (GrowingValues::Numbers(_), SchemaValue::Number(n)) => return self.number(n),
            (GrowingValues::Date(days), SchemaValue::Number(n)) => match whole_days(n) {
                Some(day) => days.push(day),
                None => return self.missing(Absence::Unreadable),
            },
            (GrowingValues::Text { .. }, SchemaValue::Text(t)) => return self.text(t),
            (GrowingValues::Choice(labels), SchemaValue::Choice(l)) => labels.push(*l),
            (GrowingValues::YesNo(truths), SchemaValue::YesNo(b)) => truths.push(*b),
            _ => return self.missing(Absence::Unreadable),
        }
        self.absent.push(Absence::Present);
    }

    pub(super) fn copy(&mut self, table: &Table, column: usize, row: usize) {
        let why = absence(table, column, row);
        let values = table.columns.get(column).map(|c| &c.values);
        if why != Absence::Present {
            return self.missing(why);
        }
        match (&mut self.values, values) {
            (GrowingValues::Numbers(_), Some(Values::Numbers(from))) => {
                return self.number(&from.get(row));
            }
            (GrowingValues::Text { .. }, Some(Values::Text { ids, pool })) => {
                let text = ids.get(row).and_then(|id| pool.get(*id));
                return self.text(text.unwrap_or(""));
            }
            (GrowingValues::Choice(to), Some(Values::Choice(from))) => {
                to.push(from.get(row).copied().unwrap_or(0));
            }
            (GrowingValues::YesNo(to), Some(Values::YesNo(from))) => {
                to.push(from.get(row) == Some(&true));
            }
            (GrowingValues::Date(to), Some(Values::Date(from))) => {
                to.push(from.get(row).copied().unwrap_or(0));
            }
            _ => return self.missing(Absence::Unreadable),
        }
        self.absent.push(Absence::Present);
    }

    pub(super) fn finish(self) -> ColumnData {
        let values = match self.values {
            GrowingValues::Numbers(numbers) => Values::Numbers(numbers.finish()),
            GrowingValues::Text { ids, pool, .. } => Values::Text { ids, pool },
            GrowingValues::Choice(labels) => Values::Choice(labels),
            GrowingValues::YesNo(truths) => Values::YesNo(truths),
            GrowingValues::Date(days) => Values::Date(days),
        };
        let any = self.absent.iter().any(|a| *a != Absence::Present);
        ColumnData {
            values,
            absent: any.then_some(self.absent),
        }
    }
}
