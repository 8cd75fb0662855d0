//! What sheets declare: choices, givens, resources, surveys, tables.

use super::{Expr, Name, Quantity, Remarks, Signed, Text, UnitText};
use crate::diagnostics::Span;
use crate::number::Exact;

/// A label with further spellings.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LabelDef {
    /// The label.
    pub name: Name,
    /// Spellings a survey may use.
    pub spellings: Vec<String>,
}

/// A named figure that may be changed.
#[derive(Debug, Clone)]
pub struct Given {
    /// Name.
    pub name: Name,
    /// Value.
    pub value: GivenValue,
    /// Low and high end.
    pub range: Option<(Signed, Signed)>,
    /// What it may turn out to be.
    pub varies: Option<Varies>,
    /// Kept from every reader outside the shop.
    pub private: bool,
    /// Source and note.
    pub remarks: Remarks,
}

/// `varies from L to H as triangle likely V with "GROUP"`
#[derive(Debug, Clone)]
pub struct Varies {
    /// The least it may be.
    pub low: Signed,
    /// The most it may be.
    pub high: Signed,
    /// For a triangle, the likeliest value; without it, each value is as likely as any other.
    pub likely: Option<Signed>,
    /// Givens of one group rise and fall together.
    pub group: Option<String>,
    /// The whole.
    pub span: Span,
}

/// Value of a given.
#[derive(Debug, Clone)]
#[allow(missing_docs)]
pub enum GivenValue {
    /// Not said: only of the day `issued`, where no job gives it.
    Unsaid,
    Quantity(Signed),
    Truth(bool),
    Text(Text),
    Asked(Asked),
    /// `two_hands one of one_hand, two_hands`
    Label {
        label: Name,
        labels: Vec<LabelDef>,
    },
    /// `lift of reach_way`: a label of a declared choice.
    Of {
        label: Name,
        choice: Name,
    },
}

/// A fact that a job answers: of the building, the owner or the bid.
#[derive(Debug, Clone)]
pub struct Asked {
    /// Type of the answer.
    pub kind: ColumnType,
    /// What is assumed until it is answered, and why.
    pub unanswered: Option<(Expr, Text)>,
}

/// A resource.
#[derive(Debug, Clone)]
pub struct Resource {
    /// Name.
    pub name: Name,
    /// Class word as written.
    pub class: Name,
    /// Unit it is counted in.
    pub unit: UnitText,
    /// Waste or yield.
    pub allowance: Option<(AllowanceKind, AllowanceValue, Span)>,
    /// Packs it is bought in.
    pub pack: Option<(Name, Quantity)>,
    /// Words for a report.
    pub called: Option<String>,
    /// Source and note.
    pub remarks: Remarks,
}

/// `waste` adds, `yield` divides.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum AllowanceKind {
    Waste,
    Yield,
}

/// A percent or the name of a given.
#[derive(Debug, Clone)]
#[allow(missing_docs)]
pub enum AllowanceValue {
    Percent(Exact),
    Given(Name),
}

/// A table of the survey.
#[derive(Debug, Clone)]
pub struct SurveyDef {
    /// Name.
    pub name: Name,
    /// For a table below another: the other and the column that ties them.
    pub parent: Option<(Name, Name)>,
    /// Columns.
    pub columns: Vec<Column>,
    /// Whether a line of it could not be read, so that what seems to be missing may be there.
    pub broken: bool,
}

/// A column.
#[derive(Debug, Clone)]
pub struct Column {
    /// Name.
    pub name: Name,
    /// Type as written.
    pub kind: ColumnType,
    /// Unique, never blank.
    pub key: bool,
    /// Whole values only.
    pub whole: bool,
    /// May be blank.
    pub optional: bool,
    /// Kept from every reader outside the shop.
    pub private: bool,
    /// `8/4` is a thickness.
    pub quarters: bool,
    /// May be summed.
    pub adds_up: bool,
    /// "n/a" is accepted and stays.
    pub may_be_na: bool,
    /// Value for a blank.
    pub if_blank: Option<ColumnValue>,
    /// Value for "n/a".
    pub if_na: Option<ColumnValue>,
    /// Where a blank reads from the row above: a column of the table above, if not the one of the same name, and that table.
    pub above: Option<(Option<Name>, Name)>,
    /// Plausible range.
    pub between: Option<(Signed, Signed)>,
    /// Headings.
    pub headed: Vec<Text>,
    /// Source and note.
    pub remarks: Remarks,
    /// The whole line.
    pub span: Span,
}

/// Rows of a table that are made from a choice or a count of the row above.
#[derive(Debug, Clone)]
pub struct RowsDef {
    /// The table.
    pub table: Name,
    /// Its column that says which of the rows each is.
    pub place: Name,
    /// The column above that they are made from.
    pub from: Name,
    /// Whether a survey that brings rows of the table must bring every one.
    pub all_surveyed: Option<Span>,
    /// Labels of the choice above, and the rows made for them. None: as many as the column above counts.
    pub lines: Option<Vec<RowsLine>>,
    /// Whether a line of it could not be read.
    pub broken: bool,
}

/// `hung: upper, lower`.
#[derive(Debug, Clone)]
pub struct RowsLine {
    /// Labels of the choice above.
    pub labels: Vec<Name>,
    /// Labels of the rows made, in their order.
    pub rows: Vec<Name>,
}

/// A value written for a column.
#[derive(Debug, Clone)]
#[allow(missing_docs)]
pub enum ColumnValue {
    Quantity(Signed),
    Truth(bool, Span),
    Text(Text),
    Label(Name),
}

/// Type of a column as written.
#[derive(Debug, Clone)]
#[allow(missing_docs)]
pub enum ColumnType {
    Text,
    Percent,
    Date,
    Lites,
    Moment,
    Temperature,
    YesNo,
    Number(Option<UnitText>),
    /// Word (`length`, `area` …) and unit.
    Measure(Name, UnitText),
    Count(Name),
    OneOf(Vec<LabelDef>),
    Of(Name),
}

impl ColumnType {
    /// The labels that are written in it.
    pub fn labels_mut(&mut self) -> Option<&mut Vec<LabelDef>> {
        match self {
            ColumnType::OneOf(labels) => Some(labels),
            ColumnType::Text
            | ColumnType::Percent
            | ColumnType::Date
            | ColumnType::Lites
            | ColumnType::Moment
            | ColumnType::Temperature
            | ColumnType::YesNo
            | ColumnType::Number(_)
            | ColumnType::Measure(..)
            | ColumnType::Count(_)
            | ColumnType::Of(_) => None,
        }
    }
}

/// A lookup table.
#[derive(Debug, Clone)]
pub struct TableDef {
    /// Name.
    pub name: Name,
    /// CSV file, if the rows are not in the sheet.
    pub from: Option<Text>,
    /// Names of the key columns.
    pub keys: Vec<Name>,
    /// Rows in the sheet: the first is the headings.
    pub rows: Vec<Vec<CellText>>,
    /// Whether a row could not be read.
    pub broken: bool,
}

/// A cell of a table in a sheet, trimmed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CellText {
    /// As written.
    pub text: String,
    /// Where.
    pub span: Span,
}
