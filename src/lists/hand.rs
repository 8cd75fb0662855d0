//! What is filled in by hand: boxes to tick and lines to write on, as tables without a name, for they are no lists.

use crate::paper::{Cell, Class, Column, Row, RowKind, Table, Value};

/// How many are beside one another.
const ACROSS: usize = 2;

/// Boxes to tick: two beside one another, or one in each column.
pub(super) fn boxes(title: &str, across: &[String], texts: &[String]) -> Table {
    if !across.is_empty() {
        return columns_of_boxes(title, across, texts);
    }
    let pair = |text: &String| [empty(Value::Tick), Cell::words(text.as_str())];
    table(title, texts.iter().map(pair).collect())
}

/// Lines to write on.
pub(super) fn rooms(texts: &[String]) -> Table {
    let pair = |text: &String| [Cell::words(text.as_str()), empty(Value::Room)];
    table("", texts.iter().map(pair).collect())
}

fn columns_of_boxes(title: &str, across: &[String], texts: &[String]) -> Table {
    let line = |text: &String| Row {
        kind: RowKind::Line,
        cells: std::iter::once(Cell::words(text.as_str()))
            .chain(across.iter().map(|_| empty(Value::Tick)))
            .collect(),
    };
    let headings = std::iter::once("").chain(across.iter().map(String::as_str));
    by_hand(title, headings, texts.iter().map(line).collect())
}

fn by_hand<'a>(title: &str, headings: impl Iterator<Item = &'a str>, rows: Vec<Row>) -> Table {
    Table {
        name: String::new(),
        title: title.to_owned(),
        columns: headings.map(column).collect(),
        rows,
        notes: Vec::new(),
        entries: Vec::new(),
        counted: 0,
    }
}

fn column(heading: &str) -> Column {
    Column {
        name: String::new(),
        heading: heading.to_owned(),
        unit: None,
        numbers: None,
        class: Class::Open,
    }
}

fn empty(value: Value) -> Cell {
    Cell {
        value,
        ..Cell::blank()
    }
}

fn table(title: &str, pairs: Vec<[Cell; 2]>) -> Table {
    let across = ACROSS.min(pairs.len().max(1));
    let row = |pairs: &[[Cell; 2]]| {
        let mut cells: Vec<Cell> = pairs.iter().flatten().cloned().collect();
        cells.resize(across * 2, Cell::blank());
        Row {
            kind: RowKind::Line,
            cells,
        }
    };
    let headings = std::iter::repeat_n("", across * 2);
    by_hand(title, headings, pairs.chunks(across).map(row).collect())
}
