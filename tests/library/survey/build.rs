//! A small sheet's columns, and short ways to read a text and to show what came of it.

use ovolo::diagnostics::{Diagnostic, FileId, Place, Span};
use ovolo::number::Exact;
use ovolo::survey::{
    Content, Marked, Original, ReadOptions, Reading, SourceFile, look, marked_copies, read,
};
use ovolo::table::{
    Absence, ColumnKind, ColumnSpec, LabelSpec, Limits, OnMissing, Schema, SchemaValue, Table,
    Values,
};
use ovolo::units::{Nouns, Style, format_quantity, parse_unit};

pub(crate) fn span() -> Span {
    Span {
        file: FileId(0),
        start: 0,
        end: 0,
    }
}

pub(crate) fn nouns() -> Nouns {
    let mut nouns = Nouns::new();
    nouns.intern("lite");
    nouns
}

pub(crate) fn column(name: &str, kind: ColumnKind) -> ColumnSpec {
    ColumnSpec {
        name: name.into(),
        kind,
        headings: Vec::new(),
        blank: OnMissing::Refuse,
        not_applicable: OnMissing::Refuse,
        is_key: false,
        span: span(),
    }
}

pub(crate) fn number(unit: &str) -> ColumnKind {
    let unit = parse_unit(unit, &nouns(), Some("USD")).expect("a unit");
    ColumnKind::Number {
        dim: unit.dim().clone(),
        percent: unit.is_percent(),
        unit,
        whole: false,
        quarters: false,
        limits: None,
    }
}

/// mark, wing, kind, wide, across, rot, cracked, leaded, seen, price: one of each kind of column.
pub(crate) fn schema() -> Schema {
    let mut mark = column("mark", ColumnKind::Text);
    mark.is_key = true;
    mark.headings = vec!["Opening no.".into()];
    let mut wing = column("wing", ColumnKind::Text);
    wing.blank = OnMissing::Keep;
    let label = |label: &str, spellings: &[&str]| LabelSpec {
        label: label.into(),
        spellings: spellings.iter().map(|s| (*s).into()).collect(),
    };
    let kind = column(
        "kind",
        ColumnKind::Choice(vec![
            label("single", &["S"]),
            label("pair", &["P", "double"]),
            label("hung", &["DH"]),
        ]),
    );
    let mut wide = column("wide", number("in"));
    wide.headings = vec!["Width".into()];
    if let ColumnKind::Number { limits, .. } = &mut wide.kind {
        *limits = Some(Limits {
            low: Exact::int(12),
            high: Exact::int(96),
        });
    }
    let mut across = column("across", number(""));
    across.blank = OnMissing::Keep;
    if let ColumnKind::Number { whole, .. } = &mut across.kind {
        *whole = true;
    }
    let mut rot = column("rail_rot", number("%"));
    rot.blank = OnMissing::Value(SchemaValue::Number(Exact::ZERO));
    let mut cracked = column("cracked", number("lite"));
    cracked.blank = OnMissing::Value(SchemaValue::Number(Exact::ZERO));
    if let ColumnKind::Number { whole, .. } = &mut cracked.kind {
        *whole = true;
    }
    let mut leaded = column("leaded", ColumnKind::YesNo);
    leaded.blank = OnMissing::Value(SchemaValue::YesNo(true));
    leaded.not_applicable = OnMissing::Keep;
    let mut seen = column("seen", ColumnKind::Date);
    seen.blank = OnMissing::Keep;
    let mut price = column("price", number("USD"));
    price.blank = OnMissing::Keep;
    Schema {
        name: "opening".into(),
        columns: vec![
            mark, wing, kind, wide, across, rot, cracked, leaded, seen, price,
        ],
        key: Some(0),
        parent: None,
        above: vec![],
        rows: None,
        span: span(),
    }
}

pub(crate) fn file<'a>(name: &str, bytes: impl Into<Vec<u8>>) -> SourceFile<'a> {
    SourceFile {
        name: name.into(),
        content: Content::Bytes(bytes.into()),
    }
}

pub(crate) fn read_with(
    bytes: impl Into<Vec<u8>>,
    options: &ReadOptions<'_>,
) -> Result<Reading, Vec<Diagnostic>> {
    read(
        &schema(),
        &nouns(),
        Some("USD"),
        vec![file("survey.csv", bytes)],
        options,
        None,
    )
}

pub(crate) fn read_csv(text: &str) -> Result<Reading, Vec<Diagnostic>> {
    read_with(text, &ReadOptions::default())
}

/// Where a message points, as the user sees it.
pub(crate) fn where_is(d: &Diagnostic) -> String {
    match d.place() {
        Some(Place::Cell(c)) => c.to_string(),
        Some(Place::File(f)) => f.clone(),
        Some(Place::Sheet(_)) => "the sheet".into(),
        None => String::new(),
    }
}

/// Codes and places of problems.
pub(crate) fn codes<T>(result: &Result<T, Vec<Diagnostic>>) -> Vec<String> {
    match result {
        Ok(_) => vec!["read".into()],
        Err(list) => list
            .iter()
            .map(|d| format!("{} {}", d.code, where_is(d)))
            .collect(),
    }
}

/// Values of a column as text.
pub(crate) fn shown(table: &Table, schema: &Schema, name: &str) -> Vec<String> {
    let at = schema
        .columns
        .iter()
        .position(|c| c.name == name)
        .expect("a column");
    let data = &table.columns[at];
    (0..table.rows)
        .map(|row| {
            match data.absent.as_ref().map_or(Absence::Present, |a| a[row]) {
                Absence::Present => {}
                Absence::Blank => return "-".into(),
                Absence::NotApplicable => return "n/a".into(),
                Absence::Unreadable => return "?".into(),
            }
            match (&data.values, &schema.columns[at].kind) {
                (Values::Numbers(n), ColumnKind::Number { unit, .. }) => {
                    format_quantity(&n.get(row), unit, &nouns(), Style::default())
                }
                (Values::Text { ids, pool }, _) => {
                    pool.get(ids[row]).unwrap_or_default().to_string()
                }
                (Values::Choice(c), ColumnKind::Choice(labels)) => {
                    labels[usize::from(c[row])].label.clone()
                }
                (Values::YesNo(b), _) => if b[row] { "yes" } else { "no" }.into(),
                (Values::Date(d), _) => d[row].to_string(),
                _ => "of another kind".into(),
            }
        })
        .collect()
}

/// The whole table as lines of cells.
pub(crate) fn lines(table: &Table, schema: &Schema) -> Vec<String> {
    let columns: Vec<Vec<String>> = schema
        .columns
        .iter()
        .map(|c| shown(table, schema, &c.name))
        .collect();
    (0..table.rows)
        .map(|r| {
            columns
                .iter()
                .map(|c| c[r].as_str())
                .collect::<Vec<_>>()
                .join(" | ")
        })
        .collect()
}

/// The marked copy of the first file of one table.
pub(crate) fn marked_copy(files: Vec<SourceFile<'_>>) -> Result<Marked, Vec<Diagnostic>> {
    let held: Result<Vec<Original>, Diagnostic> = files.into_iter().map(Original::hold).collect();
    let originals = held.map_err(|d| vec![d])?;
    let again = originals.iter().map(Original::again).collect();
    let looked = look(
        &schema(),
        &nouns(),
        None,
        again,
        &ReadOptions::default(),
        None,
    );
    let copies = marked_copies(&originals, &[looked], &[])?;
    Ok(copies.into_iter().next().expect("a copy of the first file"))
}
