//! Column storage: numbers as scaled integers while a common denominator fits, exact ratios otherwise.

use crate::diagnostics::CellPlace;
use crate::number::Exact;

use super::schema::SchemaValue;
use super::texts::Texts;

/// A table as read: columns in the order of its schema, all of `rows` length.
#[derive(Debug, Clone)]
pub struct Table {
    /// Number of rows.
    pub rows: usize,
    /// One for each column of the schema; then, where cells may be those of the row above, for each such column whether they are, in the order
    /// of [`super::Schema::is_above`].
    pub columns: Vec<ColumnData>,
    /// Where each row came from.
    pub places: Vec<RowPlace>,
    /// Files and tabs that [`RowPlace::source`] points into: file name and tab.
    pub sources: Vec<(String, Option<String>)>,
    /// For each source, the 1-based file column of each schema column (`None` where the file lacks it) and its heading.
    pub headings: Vec<Vec<Option<(u32, String)>>>,
    /// For a table below another: the row of the other table each row belongs to.
    pub parent_rows: Option<Vec<u32>>,
    /// For a table below another whose rows or cells may come from the row above: which do.
    pub from_above: Option<FromAbove>,
}

/// What of a table comes from the rows above.
#[derive(Debug, Clone, Default)]
pub struct FromAbove {
    /// Per row, whether it was made and is in no survey of its own.
    pub made: Vec<bool>,
    /// Per column, the rows whose value is that of the row above; empty for a column that never reads it.
    pub taken: Vec<Vec<bool>>,
    /// Per row, where the row above is, as a place of this table's sources.
    pub places: Vec<RowPlace>,
}

impl FromAbove {
    /// Whether the value of a cell comes from the row above.
    pub fn is_taken(&self, row: usize, column: usize) -> bool {
        self.made.get(row) == Some(&true)
            || self.taken.get(column).and_then(|t| t.get(row)) == Some(&true)
    }
}

/// Where a row came from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RowPlace {
    /// Index into [`Table::sources`].
    pub source: u16,
    /// 1-based row or line.
    pub row: u32,
}

/// Values of one column with what is missing in it.
#[derive(Debug, Clone)]
pub struct ColumnData {
    /// The values; at absent rows a placeholder that must not be read.
    pub values: Values,
    /// Per row [`Absence`] as a byte; `None` when nothing is absent.
    pub absent: Option<Vec<Absence>>,
}

impl ColumnData {
    /// The text of a row of a text column, also where it is absent; `None` for other columns and beyond the end.
    pub fn text(&self, row: usize) -> Option<&str> {
        match &self.values {
            Values::Text { ids, pool } => pool.get(*ids.get(row)?),
            Values::Numbers(_) | Values::Choice(_) | Values::YesNo(_) | Values::Date(_) => None,
        }
    }

    /// Whether the cell of a row is there, or why it is missing.
    pub fn absence(&self, row: usize) -> Absence {
        let absent = self.absent.as_ref().and_then(|list| list.get(row));
        absent.copied().unwrap_or(Absence::Present)
    }

    /// The value of a row.
    ///
    /// Errors: why it is missing; [`Absence::Blank`] beyond the end.
    pub fn value(&self, row: usize) -> Result<SchemaValue, Absence> {
        match self.absence(row) {
            Absence::Present => {}
            why @ (Absence::Blank | Absence::NotApplicable | Absence::Unreadable) => {
                return Err(why);
            }
        }
        let value = match &self.values {
            Values::Numbers(n) => (row < n.len()).then(|| SchemaValue::Number(n.get(row))),
            Values::Text { .. } => self.text(row).map(|t| SchemaValue::Text(t.to_owned())),
            Values::Choice(labels) => labels.get(row).copied().map(SchemaValue::Choice),
            Values::YesNo(truths) => truths.get(row).copied().map(SchemaValue::YesNo),
            Values::Date(days) => {
                let day = days.get(row).copied().map(i64::from);
                day.map(|day| SchemaValue::Number(Exact::from(day)))
            }
        };
        value.ok_or(Absence::Blank)
    }
}

/// Why a value is missing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, serde::Serialize)]
#[serde(rename_all = "snake_case")]
#[repr(u8)]
pub enum Absence {
    /// It is there.
    Present = 0,
    /// The cell was blank.
    Blank = 1,
    /// The cell said "n/a".
    NotApplicable = 2,
    /// The cell could not be read and was set aside by the user.
    Unreadable = 3,
}

/// Values by kind.
#[derive(Debug, Clone)]
pub enum Values {
    /// Quantities in base units.
    Numbers(Numbers),
    /// Interned text: index into the pool, and the pool.
    Text {
        /// One index a row.
        ids: Vec<u32>,
        /// Distinct texts in order of first appearance.
        pool: Texts,
    },
    /// Index of the label.
    Choice(Vec<u16>),
    /// Yes or no.
    YesNo(Vec<bool>),
    /// Days since 1970-01-01.
    Date(Vec<i32>),
}

/// Numbers of a column.
#[derive(Debug, Clone)]
pub enum Numbers {
    /// Value of row i is `num[i] / den`.
    Scaled {
        /// Numerators.
        num: Vec<i64>,
        /// Common denominator, above zero.
        den: i64,
    },
    /// Where no common denominator fits.
    Exact(Vec<Exact>),
}

impl Numbers {
    /// Value of a row; zero beyond the end.
    pub fn get(&self, row: usize) -> Exact {
        match self {
            Numbers::Scaled { num, den } => num
                .get(row)
                .and_then(|n| Exact::ratio(*n, *den))
                .unwrap_or(Exact::ZERO),
            Numbers::Exact(v) => v.get(row).cloned().unwrap_or(Exact::ZERO),
        }
    }

    /// Number of rows.
    pub fn len(&self) -> usize {
        match self {
            Numbers::Scaled { num, .. } => num.len(),
            Numbers::Exact(v) => v.len(),
        }
    }

    /// Whether there is no row.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }
}

/// Collects numbers, widening the common denominator as needed.
#[derive(Debug)]
pub struct NumbersBuilder {
    numbers: Numbers,
    /// Parts behind these, put in place once it is known how many rows there are.
    parts: Vec<Numbers>,
}

impl Default for NumbersBuilder {
    fn default() -> Self {
        NumbersBuilder {
            numbers: Numbers::Scaled {
                num: Vec::new(),
                den: 1,
            },
            parts: Vec::new(),
        }
    }
}

impl NumbersBuilder {
    /// Adds a value.
    pub fn push(&mut self, value: &Exact) {
        self.join();
        self.push_here(value);
    }

    /// The value of a row.
    pub fn get(&self, mut row: usize) -> Option<Exact> {
        for part in std::iter::once(&self.numbers).chain(&self.parts) {
            let len = part.len();
            if row < len {
                return Some(part.get(row));
            }
            row -= len;
        }
        None
    }

    fn push_here(&mut self, value: &Exact) {
        if let Numbers::Scaled { num, den } = &mut self.numbers {
            if let Some((n, d)) = value.small() {
                if *den % d == 0 {
                    if let Some(scaled) = n.checked_mul(*den / d) {
                        num.push(scaled);
                        return;
                    }
                } else if let Some(()) = Self::widen(num, den, d)
                    && let Some(scaled) = n.checked_mul(*den / d)
                {
                    num.push(scaled);
                    return;
                }
            }
            let exact = (0..num.len())
                .map(|i| Exact::ratio(num[i], *den).unwrap_or(Exact::ZERO))
                .collect();
            self.numbers = Numbers::Exact(exact);
        }
        if let Numbers::Exact(list) = &mut self.numbers {
            list.push(value.clone());
        }
    }

    /// Adds a value that may come many times. `scaled` is its numerator and the denominator it was last added over, zeros at first.
    pub fn push_again(&mut self, value: &Exact, scaled: &mut (i64, i64)) {
        self.join();
        match &mut self.numbers {
            Numbers::Scaled { num, den } if *den == scaled.1 => num.push(scaled.0),
            Numbers::Scaled { .. } | Numbers::Exact(_) => {
                self.push(value);
                if let Numbers::Scaled { num, den } = &self.numbers {
                    *scaled = (num.last().copied().unwrap_or(0), *den);
                }
            }
        }
    }

    /// Multiplies numerators so that `d` divides the denominator; `None` when it does not fit.
    fn widen(num: &mut [i64], den: &mut i64, d: i64) -> Option<()> {
        let factor = d / crate::number::gcd(*den, d);
        let wide = den.checked_mul(factor)?;
        if num.iter().any(|n| n.checked_mul(factor).is_none()) {
            return None;
        }
        for n in num.iter_mut() {
            *n *= factor;
        }
        *den = wide;
        Some(())
    }

    /// Adds the values of another column after these.
    pub fn append(&mut self, other: Numbers) {
        self.parts.push(other);
    }

    /// Puts the parts in place: a list that grew with each of them would be copied over and over.
    fn join(&mut self) {
        if self.parts.is_empty() {
            return;
        }
        let more = self.parts.iter().map(Numbers::len).sum();
        match &mut self.numbers {
            Numbers::Scaled { num, .. } => num.reserve_exact(more),
            Numbers::Exact(list) => list.reserve_exact(more),
        }
        for part in std::mem::take(&mut self.parts) {
            self.append_here(part);
        }
    }

    fn append_here(&mut self, other: Numbers) {
        if let (Numbers::Scaled { num, den }, Numbers::Scaled { num: more, den: d }) =
            (&mut self.numbers, &other)
        {
            if num.is_empty() {
                *den = *d;
            }
            let fits = *den % *d == 0 || Self::widen(num, den, *d).is_some();
            let factor = *den / *d;
            if fits && (factor == 1 || more.iter().all(|n| n.checked_mul(factor).is_some())) {
                num.extend(more.iter().map(|n| n * factor));
                return;
            }
        }
        for row in 0..other.len() {
            self.push_here(&other.get(row));
        }
    }

    /// Puts the value of the row above into `row`; nothing happens in the first row or beyond the end.
    pub fn copy_down(&mut self, row: usize) {
        self.join();
        if row == 0 || row >= self.numbers.len() {
            return;
        }
        match &mut self.numbers {
            Numbers::Scaled { num, .. } => num[row] = num[row - 1],
            Numbers::Exact(list) => list[row] = list[row - 1].clone(),
        }
    }

    /// The finished column.
    pub fn finish(mut self) -> Numbers {
        self.join();
        self.numbers
    }
}

impl Table {
    /// The cell behind a row and a schema column.
    pub fn cell(&self, row: usize, column: usize) -> Option<CellPlace> {
        let above = self
            .from_above
            .as_ref()
            .filter(|above| above.is_taken(row, column));
        let place = above.map_or(&self.places, |above| &above.places).get(row)?;
        let (file, tab) = self.sources.get(usize::from(place.source))?;
        let heading = self
            .headings
            .get(usize::from(place.source))
            .and_then(|h| h.get(column))
            .and_then(Clone::clone);
        Some(CellPlace {
            file: file.clone(),
            tab: tab.clone(),
            row: place.row,
            column: heading.as_ref().map(|h| h.0),
            heading: heading.map(|h| h.1),
        })
    }
}
