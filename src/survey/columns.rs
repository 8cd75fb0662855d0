//! Growing columns of a table: values are added row by row, parts read side by side are put end to end.
//!
//! Must not know cells, headings or files.

use crate::number::Exact;
use crate::table::{
    Absence, ColumnData, ColumnKind, Numbers, NumbersBuilder, SchemaValue, Texts, Values,
};

use crate::units::whole_days;

use super::intern::Pool;
use super::relate::Ties;
use super::seen::SeenValue;

/// A column of texts, each text held once.
#[derive(Debug, Clone, Default)]
pub(crate) struct TextColumn {
    ids: Vec<u32>,
    pool: Pool,
}

impl TextColumn {
    /// Adds a row; the number of its text.
    pub(crate) fn push(&mut self, text: &str) -> u32 {
        // Runs of one text are common, as in a column of wings.
        let id = match self.ids.last() {
            Some(last) if self.pool.get(*last) == Some(text) => *last,
            _ => self.pool.intern(text),
        };
        self.ids.push(id);
        id
    }

    /// Puts another part of the same column after this one; `ties` are those of its texts to the table above.
    pub(crate) fn append(&mut self, other: TextColumn, ties: Option<&mut Ties<'_>>) {
        let map: Vec<u32> = match ties {
            Some(ties) => other
                .pool
                .texts()
                .iter()
                .map(|text| ties.intern(text, &mut self.pool))
                .collect(),
            None => self.pool.intern_all(other.pool.texts()),
        };
        self.ids.extend(
            other
                .ids
                .iter()
                .map(|id| map.get(crate::ids::at(*id)).copied().unwrap_or(0)),
        );
    }

    /// Text of a row.
    pub(crate) fn get(&self, row: usize) -> Option<&str> {
        self.pool.get(*self.ids.get(row)?)
    }

    /// Number of the text of a row: equal for equal texts.
    pub(crate) fn id(&self, row: usize) -> Option<u32> {
        self.ids.get(row).copied()
    }

    /// Indices into the pool, and the pool.
    pub(crate) fn into_parts(self) -> (Vec<u32>, Texts) {
        (self.ids, self.pool.into_texts())
    }
}

#[derive(Debug)]
enum Growing {
    Numbers(NumbersBuilder),
    Text(TextColumn),
    Choice(Vec<u16>),
    YesNo(Vec<bool>),
    Date(Vec<i32>),
}

/// A column while it grows.
#[derive(Debug)]
pub(crate) struct Column {
    values: Growing,
    rows: usize,
    /// As long as `rows` once anything is missing; empty before.
    absent: Vec<Absence>,
}

impl Column {
    pub(crate) fn new(kind: &ColumnKind) -> Self {
        let values = match kind {
            ColumnKind::Text | ColumnKind::Lites => Growing::Text(TextColumn::default()),
            ColumnKind::Number { .. } => Growing::Numbers(NumbersBuilder::default()),
            ColumnKind::YesNo => Growing::YesNo(Vec::new()),
            ColumnKind::Choice(_) => Growing::Choice(Vec::new()),
            ColumnKind::Date => Growing::Date(Vec::new()),
            ColumnKind::Moment | ColumnKind::Temperature => {
                Growing::Numbers(NumbersBuilder::default())
            }
        };
        Column {
            values,
            rows: 0,
            absent: Vec::new(),
        }
    }

    /// Adds a value. One of another kind than the column's leaves the placeholder for a missing value.
    pub(crate) fn push(&mut self, value: &mut SeenValue) {
        match (&mut self.values, value) {
            (Growing::Numbers(n), SeenValue::Number(v, scaled)) => n.push_again(v, scaled),
            (Growing::Text(t), SeenValue::Text(id)) => t.ids.push(*id),
            (Growing::Choice(c), SeenValue::Choice(v)) => c.push(*v),
            (Growing::YesNo(b), SeenValue::YesNo(v)) => b.push(*v),
            (Growing::Date(d), SeenValue::Date(v)) => d.push(*v),
            (Growing::Date(d), SeenValue::Number(v, _)) => match whole_days(v) {
                Some(days) => d.push(days),
                None => return self.push_missing(Absence::Unreadable),
            },
            _ => return self.push_missing(Absence::Unreadable),
        }
        self.one_more();
    }

    /// Adds a text to a column of texts; its number.
    pub(crate) fn push_text(&mut self, text: &str) -> Option<u32> {
        let Growing::Text(t) = &mut self.values else {
            self.push_missing(Absence::Unreadable);
            return None;
        };
        let id = t.push(text);
        self.one_more();
        Some(id)
    }

    /// Adds a text to a column of a part, without a look whether it came before: that is seen when parts are put together.
    pub(crate) fn push_mark(&mut self, text: &str) {
        if self.repeat_mark(text) {
            return;
        }
        let Growing::Text(t) = &mut self.values else {
            return self.push_missing(Absence::Unreadable);
        };
        let id = t.pool.add(text);
        t.ids.push(id);
        self.one_more();
    }

    /// Adds a text to a column of a part if the row above has it; whether it has.
    pub(crate) fn repeat_mark(&mut self, text: &str) -> bool {
        let Growing::Text(t) = &mut self.values else {
            return false;
        };
        let Some(last) = t
            .ids
            .last()
            .copied()
            .filter(|last| t.pool.get(*last) == Some(text))
        else {
            return false;
        };
        t.ids.push(last);
        self.one_more();
        true
    }

    fn one_more(&mut self) {
        self.rows += 1;
        if !self.absent.is_empty() {
            self.absent.push(Absence::Present);
        }
    }

    /// Adds a missing value.
    pub(crate) fn push_missing(&mut self, why: Absence) {
        match &mut self.values {
            Growing::Numbers(n) => n.push(&Exact::ZERO),
            Growing::Text(t) => {
                t.push("");
            }
            Growing::Choice(c) => c.push(0),
            Growing::YesNo(b) => b.push(false),
            Growing::Date(d) => d.push(0),
        }
        if self.absent.is_empty() {
            self.absent = vec![Absence::Present; self.rows];
        }
        self.absent.push(why);
        self.rows += 1;
    }

    /// Adds a value by itself, such as the one that the sheet gives for a missing cell.
    pub(crate) fn push_given(&mut self, value: &SchemaValue) {
        match value {
            SchemaValue::Number(n) => self.push(&mut SeenValue::Number(n.clone(), (0, 0))),
            SchemaValue::Text(t) => {
                self.push_text(t);
            }
            SchemaValue::YesNo(b) => self.push(&mut SeenValue::YesNo(*b)),
            SchemaValue::Choice(c) => self.push(&mut SeenValue::Choice(*c)),
        }
    }

    /// Adds a label or a whole number, as the column holds.
    pub(crate) fn push_place(&mut self, place: u16) {
        let value = match self.values {
            Growing::Choice(_) => SchemaValue::Choice(place),
            Growing::Numbers(_) | Growing::Text(_) | Growing::YesNo(_) | Growing::Date(_) => {
                SchemaValue::Number(Exact::from(i64::from(place)))
            }
        };
        self.push_given(&value);
    }

    /// Adds the cell of a row of a finished column, as it is there or missing.
    pub(crate) fn push_from(&mut self, from: &ColumnData, row: usize) {
        match (from.absence(row), from.text(row)) {
            (Absence::Present, Some(text)) => {
                self.push_text(text);
            }
            _ => self.push_read(from.value(row)),
        }
    }

    /// Adds a value, or why there is none.
    pub(crate) fn push_read(&mut self, value: Result<SchemaValue, Absence>) {
        match value {
            Ok(value) => self.push_given(&value),
            Err(why) => self.push_missing(why),
        }
    }

    /// Puts another part of the same column after this one; `ties` are those of its texts to the table above.
    pub(crate) fn append(&mut self, other: Column, ties: Option<&mut Ties<'_>>) {
        if !(self.absent.is_empty() && other.absent.is_empty()) {
            self.absent.resize(self.rows, Absence::Present);
            let whole = if other.absent.is_empty() {
                vec![Absence::Present; other.rows]
            } else {
                other.absent
            };
            self.absent.extend(whole);
        }
        self.rows += other.rows;
        match (&mut self.values, other.values) {
            (Growing::Numbers(a), Growing::Numbers(b)) => a.append(b.finish()),
            (Growing::Text(a), Growing::Text(b)) => a.append(b, ties),
            (Growing::Choice(a), Growing::Choice(b)) => a.extend(b),
            (Growing::YesNo(a), Growing::YesNo(b)) => a.extend(b),
            (Growing::Date(a), Growing::Date(b)) => a.extend(b),
            // Both parts were made for one column, so their kinds agree.
            _ => {}
        }
    }

    /// Repeats the value of the row above.
    pub(crate) fn copy_down(&mut self, row: usize) {
        if row == 0 || row >= self.rows {
            return;
        }
        match &mut self.values {
            Growing::Numbers(n) => n.copy_down(row),
            Growing::Text(t) => repeat_above(&mut t.ids, row),
            Growing::Choice(c) => repeat_above(c, row),
            Growing::YesNo(b) => repeat_above(b, row),
            Growing::Date(d) => repeat_above(d, row),
        }
        repeat_above(&mut self.absent, row);
    }

    /// The label or whole number of a row; `None` where there is none.
    pub(crate) fn label_or_number(&self, row: usize) -> Option<u16> {
        if !self.is_present(row) {
            return None;
        }
        match &self.values {
            Growing::Choice(labels) => labels.get(row).copied(),
            Growing::Numbers(numbers) => {
                let value = numbers.get(row)?;
                let (n, _) = value.small().filter(|(_, d)| *d == 1)?;
                u16::try_from(n).ok()
            }
            Growing::Text(_) | Growing::YesNo(_) | Growing::Date(_) => None,
        }
    }

    /// Whether the cell of a row could not be read.
    pub(crate) fn is_unreadable(&self, row: usize) -> bool {
        self.absent.get(row) == Some(&Absence::Unreadable)
    }

    /// Whether the cell of a row has a value.
    pub(crate) fn is_present(&self, row: usize) -> bool {
        self.absent.get(row).is_none_or(|a| *a == Absence::Present)
    }

    /// Cells left blank and cells left "n/a", without the rows in `drop`.
    pub(crate) fn missing(&self, drop: &[bool]) -> (u64, u64) {
        let count = |why| {
            crate::ids::long(
                self.absent
                    .iter()
                    .zip(drop)
                    .filter(|(a, dropped)| **a == why && !**dropped)
                    .count(),
            )
        };
        (count(Absence::Blank), count(Absence::NotApplicable))
    }

    /// Says that the cell of a row could not be read after all.
    pub(crate) fn set_unreadable(&mut self, row: usize) {
        self.absent.resize(self.rows, Absence::Present);
        if let Some(absent) = self.absent.get_mut(row) {
            *absent = Absence::Unreadable;
        }
    }

    /// Number of the text of a row: equal for equal texts. `None` where there is no value.
    pub(crate) fn text_id(&self, row: usize) -> Option<u32> {
        if let (Growing::Text(t), true) = (&self.values, self.is_present(row)) {
            t.id(row)
        } else {
            None
        }
    }

    /// The different texts of a text column.
    pub(crate) fn texts(&self) -> Option<&Texts> {
        if let Growing::Text(t) = &self.values {
            Some(t.pool.texts())
        } else {
            None
        }
    }

    /// Text of a row of a text column.
    pub(crate) fn text(&self, row: usize) -> Option<&str> {
        if let Growing::Text(t) = &self.values {
            t.get(row)
        } else {
            None
        }
    }

    /// The finished column, with only the rows that `keep` allows; `None` keeps all.
    pub(crate) fn finish(self, keep: Option<&[bool]>) -> ColumnData {
        let mut absent = self.absent;
        // An empty list stays empty.
        if let Some(keep) = keep {
            retain(&mut absent, keep);
        }
        let absent = absent
            .iter()
            .any(|a| *a != Absence::Present)
            .then_some(absent);
        let mut values = match self.values {
            Growing::Numbers(n) => Values::Numbers(n.finish()),
            Growing::Text(t) => {
                let (ids, pool) = t.into_parts();
                Values::Text { ids, pool }
            }
            Growing::Choice(c) => Values::Choice(c),
            Growing::YesNo(b) => Values::YesNo(b),
            Growing::Date(d) => Values::Date(d),
        };
        if let Some(keep) = keep {
            match &mut values {
                Values::Numbers(Numbers::Scaled { num, .. }) => retain(num, keep),
                Values::Numbers(Numbers::Exact(list)) => retain(list, keep),
                Values::Text { ids, pool } => {
                    retain(ids, keep);
                    repool(ids, pool);
                }
                Values::Choice(c) => retain(c, keep),
                Values::YesNo(b) => retain(b, keep),
                Values::Date(d) => retain(d, keep),
            }
        }
        ColumnData { values, absent }
    }
}

/// Keeps the items at the places that are `true`.
pub(crate) fn retain<T>(list: &mut Vec<T>, keep: &[bool]) {
    let mut at = keep.iter();
    list.retain(|_| at.next().copied().unwrap_or(true));
}

/// Drops texts that no row holds any more, keeping the order of first appearance.
fn repool(ids: &mut [u32], pool: &mut Texts) {
    let mut new_ids: Vec<Option<u32>> = vec![None; pool.len()];
    let mut kept = Texts::default();
    for id in ids.iter_mut() {
        let Some(slot) = new_ids.get_mut(crate::ids::at(*id)) else {
            continue;
        };
        *id = *slot.get_or_insert_with(|| {
            kept.push(pool.get(*id).unwrap_or_default());
            u32::try_from(kept.len() - 1).unwrap_or(u32::MAX)
        });
    }
    *pool = kept;
}

/// Gives a row the value of the one above; nothing where there is no such row.
fn repeat_above<T: Copy>(list: &mut [T], row: usize) {
    let above = row
        .checked_sub(1)
        .and_then(|above| list.get(above))
        .copied();
    if let (Some(above), Some(slot)) = (above, list.get_mut(row)) {
        *slot = above;
    }
}
