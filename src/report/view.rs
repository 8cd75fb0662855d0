//! A table ready to be shown: the one form that terminal, CSV, workbook and page all draw.
//!
//! Knows headings, cells and totals. Must not know estimates or any file format.

use std::borrow::Cow;
use std::sync::Arc;

use crate::number::{
    Exact, Rounding, cents_grouped, cents_text, group_thousands, largest_remainder,
};

/// A table with a title.
#[derive(Debug, Clone)]
pub struct View {
    /// Name on the command line: `buy-list`.
    pub name: String,
    /// Title for people.
    pub title: String,
    /// Columns.
    pub columns: Vec<Column>,
    /// Rows.
    pub rows: Vec<Row>,
    /// Sentences below the table.
    pub notes: Vec<String>,
}

/// A column.
#[derive(Debug, Clone)]
pub struct Column {
    /// Heading.
    pub heading: String,
    /// Unit of the whole column.
    pub unit: Option<String>,
    /// Which side its cells are on.
    pub side: Side,
    /// Where it is shown.
    pub shown: Shown,
    /// Each cell has its own unit: two columns where cells must be plain numbers.
    pub with_unit: bool,
    /// Its cells are names that people type: a terminal does not break them.
    pub typed: bool,
}

/// Side on which cells of a column stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Texts.
    Left,
    /// Numbers.
    Right,
}

/// Where a column is shown: a terminal has little room, the other forms have plenty.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shown {
    /// Everywhere.
    Always,
    /// Not on a terminal.
    Wide,
    /// On a terminal only, in place of several others.
    Narrow,
    /// On a terminal only while the table fits.
    IfRoom,
}

/// A row.
#[derive(Debug, Clone)]
pub struct Row {
    /// One cell for each column.
    pub cells: Vec<Cell>,
    /// Whether it is a sum of the rows above; such rows come last.
    pub total: bool,
    /// Whether it is left out on a terminal, where the row above stands for it.
    pub wide: bool,
}

/// A cell.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// Nothing.
    Blank,
    /// Text.
    Text(Arc<str>),
    /// A number shown with this many decimals.
    Number(Exact, u32),
    /// A whole count.
    Count(usize),
    /// A number with the unit behind it; two decimals at most.
    Quantity(Exact, String),
    /// An unrounded price and what it is for.
    Price(Exact, String),
    /// Cents.
    Money(i128),
}

impl View {
    /// An empty table.
    pub fn new(name: impl Into<String>, title: impl Into<String>, columns: Vec<Column>) -> View {
        View {
            name: name.into(),
            title: title.into(),
            columns,
            rows: Vec::new(),
            notes: Vec::new(),
        }
    }

    /// Adds a row.
    pub fn row(&mut self, cells: Vec<Cell>) {
        self.rows.push(Row {
            cells,
            total: false,
            wide: false,
        });
    }

    /// Adds a row that is left out on a terminal.
    pub fn row_wide(&mut self, cells: Vec<Cell>) {
        self.rows.push(Row {
            cells,
            total: false,
            wide: true,
        });
    }

    /// Adds a row of sums; call after all others.
    pub fn total(&mut self, cells: Vec<Cell>) {
        self.rows.push(Row {
            cells,
            total: true,
            wide: false,
        });
    }

    /// The columns of a form with plenty of room, with their places in a row.
    pub fn wide_columns(&self) -> impl Iterator<Item = (usize, &Column)> {
        self.columns
            .iter()
            .enumerate()
            .filter(|(_, c)| c.shown != Shown::Narrow)
    }

    /// The columns of a terminal, with their places in a row.
    pub fn narrow_columns(&self) -> impl Iterator<Item = (usize, &Column)> {
        self.columns
            .iter()
            .enumerate()
            .filter(|(_, c)| c.shown != Shown::Wide)
    }

    /// The table with numbers rounded so that what is shown adds up to the sum below it: to `places` decimals, or to those each cell is
    /// shown with. Columns whose sum is not that of the rows above it stay as they are.
    pub fn footed(&self, places: Option<u32>) -> Cow<'_, View> {
        let mut view = Cow::Borrowed(self);
        for at in 0..self.columns.len() {
            let Some(parts) = self.column_footed(at, places) else {
                continue;
            };
            let rows = view.to_mut().rows.iter_mut();
            for (row, part) in rows.filter(|r| !r.total && !r.wide).zip(parts) {
                if let Some(Cell::Number(value, _)) = row.cells.get_mut(at) {
                    *value = part;
                }
            }
        }
        view
    }

    /// The rounded numbers of a column, where they must be rounded and add up to a sum.
    fn column_footed(&self, at: usize, places: Option<u32>) -> Option<Vec<Exact>> {
        let number = |row: &Row| match row.cells.get(at)? {
            Cell::Number(value, shown) => Some((value.clone(), places.unwrap_or(*shown))),
            Cell::Blank
            | Cell::Text(_)
            | Cell::Count(_)
            | Cell::Quantity(..)
            | Cell::Price(..)
            | Cell::Money(_) => None,
        };
        let mut totals = self.rows.iter().filter(|r| r.total);
        let (total, places) = number(totals.next().filter(|_| totals.next().is_none())?)?;
        let values: Vec<Exact> = self
            .rows
            .iter()
            .filter(|r| !r.total && !r.wide)
            .map(|row| number(row).map(|(value, _)| value))
            .collect::<Option<_>>()?;
        let step = Exact::int(10).pow(i32::try_from(places).ok()?).ok()?;
        let step = Exact::ONE.div(&step).ok()?;
        let exact = |value: &Exact| value.div(&step).is_ok_and(|steps| steps.is_integer());
        if values.iter().all(exact) {
            return None;
        }
        let sum = values
            .iter()
            .try_fold(Exact::ZERO, |sum, value| sum.add(value));
        if sum.ok()? != total {
            return None;
        }
        let total = total.round_to(&step, Rounding::HalfEven).ok()?;
        largest_remainder(&total, &step, &values).ok()
    }

    /// The table without columns of money, and without sums that were of money alone.
    pub fn without_money(mut self) -> View {
        let money = |view: &View, at: usize| {
            let is =
                |row: &Row| matches!(row.cells.get(at), Some(Cell::Money(_) | Cell::Price(..)));
            view.rows.iter().any(is)
        };
        let gone: Vec<usize> = (0..self.columns.len())
            .filter(|at| money(&self, *at))
            .collect();
        for at in gone.into_iter().rev() {
            self.columns.remove(at);
            for row in self.rows.iter_mut().filter(|r| at < r.cells.len()) {
                row.cells.remove(at);
            }
        }
        self.rows.retain(|row| {
            let number = |c: &Cell| !matches!(c, Cell::Blank | Cell::Text(_));
            !row.total || row.cells.iter().any(number)
        });
        self.title = self.title.replacen("Cost by", "Amounts by", 1);
        self.title = self.title.replacen("Cost lines", "Lines", 1);
        self
    }

    /// Whether there is nothing to show.
    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }
}

impl Column {
    /// A column of texts.
    pub fn text(heading: impl Into<String>) -> Column {
        Column {
            heading: heading.into(),
            unit: None,
            side: Side::Left,
            shown: Shown::Always,
            with_unit: false,
            typed: false,
        }
    }

    /// A column of numbers.
    pub fn number(heading: impl Into<String>) -> Column {
        Column {
            side: Side::Right,
            ..Column::text(heading)
        }
    }

    /// A column of money; the currency may be unknown.
    pub fn money(heading: impl Into<String>, currency: &str) -> Column {
        let unit = Some(currency.to_owned()).filter(|c| !c.is_empty());
        Column {
            unit,
            ..Column::number(heading)
        }
    }

    /// Heading and unit: `cost (USD)`.
    pub fn full_heading(&self) -> String {
        match &self.unit {
            Some(unit) => format!("{} ({unit})", self.heading),
            None => self.heading.clone(),
        }
    }

    /// A column of numbers that each have their own unit.
    pub fn quantity(heading: impl Into<String>) -> Column {
        Column {
            with_unit: true,
            ..Column::number(heading)
        }
    }

    /// The same, its cells with units of their own.
    pub fn each(self) -> Column {
        Column {
            with_unit: true,
            ..self
        }
    }

    /// The same, for names that people type.
    pub fn typed(self) -> Column {
        Column {
            typed: true,
            ..self
        }
    }

    /// The same, left out on a terminal.
    pub fn wide(self) -> Column {
        Column {
            shown: Shown::Wide,
            ..self
        }
    }

    /// The same, left out on a terminal that has no room for it.
    pub fn if_room(self) -> Column {
        Column {
            shown: Shown::IfRoom,
            ..self
        }
    }

    /// The same, on a terminal only.
    pub fn narrow(self) -> Column {
        Column {
            shown: Shown::Narrow,
            ..self
        }
    }
}

impl Cell {
    /// A text, or nothing when it is empty.
    pub fn text(text: impl Into<Arc<str>>) -> Cell {
        let text = text.into();
        if text.is_empty() {
            Cell::Blank
        } else {
            Cell::Text(text)
        }
    }

    /// A text that may be missing.
    pub fn maybe(text: Option<&str>) -> Cell {
        text.map_or(Cell::Blank, Cell::text)
    }

    /// As people read it: thousands grouped, units behind.
    pub fn shown(&self) -> String {
        match self {
            Cell::Blank => String::new(),
            Cell::Text(text) => text.to_string(),
            Cell::Number(value, places) => {
                group_thousands(&value.to_fixed(*places, Rounding::HalfEven))
            }
            Cell::Count(count) => group_thousands(&count.to_string()),
            Cell::Quantity(value, unit) if unit.is_empty() => {
                group_thousands(&value.to_decimal(2).0)
            }
            Cell::Quantity(value, unit) => {
                format!("{} {unit}", group_thousands(&value.to_decimal(2).0))
            }
            Cell::Price(value, per) if per.is_empty() => group_thousands(&price_text(value)),
            Cell::Price(value, per) => format!("{} per {per}", group_thousands(&price_text(value))),
            Cell::Money(cents) => cents_grouped(*cents),
        }
    }

    /// The bare number as plain decimal text, to 6 decimals; `None` for text and nothing.
    pub fn plain_number(&self) -> Option<String> {
        match self {
            Cell::Blank | Cell::Text(_) => None,
            Cell::Number(value, _) | Cell::Quantity(value, _) | Cell::Price(value, _) => {
                Some(value.to_decimal(6).0)
            }
            Cell::Count(count) => Some(count.to_string()),
            Cell::Money(cents) => Some(cents_text(*cents)),
        }
    }

    /// The unit of a cell that has its own.
    pub fn unit(&self) -> Option<&str> {
        match self {
            Cell::Quantity(_, unit) | Cell::Price(_, unit) => Some(unit),
            Cell::Blank | Cell::Text(_) | Cell::Number(..) | Cell::Count(_) | Cell::Money(_) => {
                None
            }
        }
    }
}

/// A price with two decimals, or with as many as it needs up to six.
pub(super) fn price_text(value: &Exact) -> String {
    match value.terminates() {
        Some(0..=2) => value.to_fixed(2, Rounding::HalfEven),
        _ => value.to_decimal(6).0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rounded_numbers_add_up_to_their_sum() {
        let columns = vec![Column::text("who"), Column::number("hours")];
        let mut view = View::new("t", "T", columns);
        let third = Exact::ratio(1, 3).expect("a ratio");
        for who in ["a", "b", "c"] {
            view.row(vec![Cell::text(who), Cell::Number(third.clone(), 2)]);
        }
        view.total(vec![Cell::text("total"), Cell::Number(Exact::ONE, 2)]);
        let texts = |view: &View, plain: bool| -> Vec<String> {
            let cells = view.rows.iter().map(|r| &r.cells[1]);
            let text = |c: &Cell| {
                if plain {
                    c.plain_number().unwrap_or_default()
                } else {
                    c.shown()
                }
            };
            cells.map(text).collect()
        };
        assert_eq!(
            texts(&view.footed(None), false),
            ["0.34", "0.33", "0.33", "1.00"]
        );
        let six = texts(&view.footed(Some(6)), true);
        assert_eq!(six, ["0.333334", "0.333333", "0.333333", "1"]);
        // A sum of something else is left alone.
        view.rows[3].cells[1] = Cell::Number(Exact::int(2), 2);
        assert_eq!(texts(&view.footed(None), false)[0], "0.33");
    }

    #[test]
    fn cells_read_as_people_and_as_machines_like_them() {
        let third = Exact::ratio(-1, 300).expect("a ratio");
        let cases = [
            (Cell::Money(-5), "-0.05", Some("-0.05")),
            (Cell::Money(0), "0.00", Some("0.00")),
            (Cell::Money(123_456_789), "1,234,567.89", Some("1234567.89")),
            (Cell::Number(third.clone(), 2), "0.00", Some("-0.003333")),
            (
                Cell::Quantity(third, "bf".into()),
                "0 bf",
                Some("-0.003333"),
            ),
            (
                Cell::Quantity(Exact::int(1306), "points".into()),
                "1,306 points",
                Some("1306"),
            ),
            (
                Cell::Price(Exact::ratio(1, 8).expect("a ratio"), "bf".into()),
                "0.125 per bf",
                Some("0.125"),
            ),
            (
                Cell::Price(Exact::int(12), "box".into()),
                "12.00 per box",
                Some("12"),
            ),
            (Cell::Count(61), "61", Some("61")),
            (Cell::Text("=1+1".into()), "=1+1", None),
            (Cell::Blank, "", None),
        ];
        for (cell, shown, plain) in cases {
            assert_eq!(
                (cell.shown().as_str(), cell.plain_number().as_deref()),
                (shown, plain),
                "{cell:?}"
            );
        }
    }
}
