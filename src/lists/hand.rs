//! What is filled in by hand: boxes to tick and lines to write on, as tables without a name, for they are no lists.

use crate::paper::{Cell, Class, Column, Row, RowKind, Table, Value};

/// How many stand beside one another.
const ACROSS: usize = 2;

/// Boxes to tick.
pub(super) fn boxes(title: &str, texts: &[String]) -> Table {
    let pair = |text: &String| [empty(Value::Tick), Cell::words(text.as_str())];
    table(title, texts.iter().map(pair).collect())
}

/// Lines to write on.
pub(super) fn rooms(texts: &[String]) -> Table {
    let pair = |text: &String| [Cell::words(text.as_str()), empty(Value::Room)];
    table("", texts.iter().map(pair).collect())
}

fn empty(value: Value) -> Cell {
    Cell {
        value,
        ..Cell::blank()
    }
}

fn table(title: &str, pairs: Vec<[Cell; 2]>) -> Table {
    let column = || Column {
        name: String::new(),
        heading: String::new(),
        unit: None,
        numbers: None,
        class: Class::Open,
    };
    let across = ACROSS.min(pairs.len().max(1));
    let row = |pairs: &[[Cell; 2]]| {
        let mut cells: Vec<Cell> = pairs.iter().flatten().cloned().collect();
        cells.resize(across * 2, Cell::blank());
        Row {
            kind: RowKind::Line,
            cells,
        }
    };
    Table {
        name: String::new(),
        title: title.to_owned(),
        columns: (0..across * 2).map(|_| column()).collect(),
        rows: pairs.chunks(across).map(row).collect(),
        notes: Vec::new(),
        counted: 0,
    }
}
