//! The tree of a sheet as written. Numbers stay exact as written; units stay text until names are known.

use crate::diagnostics::Span;
use crate::number::{Exact, Rounding};

/// A name with its place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Name {
    /// As written.
    pub text: String,
    /// Where.
    pub span: Span,
}

/// A quoted text with its place (inside the quotes).
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Text {
    /// Without the quotes.
    pub text: String,
    /// Where.
    pub span: Span,
}

/// A unit as written: atoms joined by `per`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UnitText {
    /// For example `min per lite`.
    pub text: String,
    /// Where.
    pub span: Span,
}

/// A written number, with its unit if it has one. `2 ft 6 1/2 in` has two parts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Quantity {
    /// Number and unit of each part; the unit `%` marks a percent.
    pub parts: Vec<(Exact, Option<UnitText>)>,
    /// The whole.
    pub span: Span,
}

/// An expression.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Expr {
    /// Where.
    pub span: Span,
    /// What.
    pub kind: ExprKind,
}

/// Two-sided operators.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum BinaryOp {
    Add,
    Sub,
    Mul,
    Div,
    Less,
    LessEq,
    Greater,
    GreaterEq,
    Is,
    IsNot,
    And,
    Or,
}

/// Ways to go up a grain.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum AggregateKind {
    Sum,
    Count,
    Least,
    Most,
    Mean,
    Any,
    All,
}

/// The two ways a cell may lack a value that a sheet can speak of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum AbsentKind {
    Blank,
    NotApplicable,
}

/// What `is …` asks about presence.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum PresenceTest {
    Blank,
    NotApplicable,
    Known,
}

/// How a rounding is said: a mode, or the job's tie rule.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum RoundWord {
    /// To the nearest, ties by the job's rule.
    Nearest,
    /// As said.
    Mode(Rounding),
}

/// Kinds of expression.
#[derive(Debug, Clone, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum ExprKind {
    Quantity(Quantity),
    Text(Text),
    Truth(bool),
    Unknown,
    Name(String),
    Negate(Box<Expr>),
    Not(Box<Expr>),
    Binary {
        op: BinaryOp,
        op_span: Span,
        left: Box<Expr>,
        right: Box<Expr>,
    },
    /// `left ^ exponent`
    Power {
        base: Box<Expr>,
        exponent: i32,
    },
    Rounded {
        value: Box<Expr>,
        word: RoundWord,
        step: Box<Expr>,
    },
    If {
        condition: Box<Expr>,
        then: Box<Expr>,
        otherwise: Box<Expr>,
    },
    Choose {
        subject: Box<Expr>,
        arms: Vec<Arm>,
    },
    Call {
        name: Name,
        args: Vec<Expr>,
    },
    Aggregate {
        kind: AggregateKind,
        of: Box<Expr>,
        weight: Option<Box<Expr>>,
        filter: Option<Box<Expr>>,
    },
    Lookup {
        value: Name,
        table: Name,
        keys: Vec<Expr>,
        interpolated: bool,
    },
    Per {
        value: Box<Expr>,
        unit: UnitText,
    },
    IfAbsent {
        value: Box<Expr>,
        which: AbsentKind,
        instead: Box<Expr>,
    },
    SharedBy {
        value: Box<Expr>,
        weight: Box<Expr>,
        step: Option<Quantity>,
    },
    Presence {
        value: Box<Expr>,
        test: PresenceTest,
        negated: bool,
    },
    IsOneOf {
        value: Box<Expr>,
        labels: Vec<Name>,
        negated: bool,
    },
    Between {
        value: Box<Expr>,
        low: Box<Expr>,
        high: Box<Expr>,
        negated: bool,
    },
}

/// One arm of `choose`; no labels means `otherwise`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Arm {
    /// Labels before the colon; empty for `otherwise`.
    pub labels: Vec<Name>,
    /// Value.
    pub value: Expr,
    /// Labels and colon.
    pub span: Span,
}

/// `source "…"` and `note "…"`.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Remarks {
    /// Where the figure comes from.
    pub source: Option<String>,
    /// Anything else.
    pub note: Option<String>,
}

/// Order of layers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, serde::Serialize)]
#[serde(rename_all = "lowercase")]
#[allow(missing_docs)]
pub enum Layer {
    Base,
    Shop,
    Job,
    Alternate,
}

/// A sheet.
#[derive(Debug, Clone, Default)]
pub struct Sheet {
    /// Title and layer.
    pub title: Option<Text>,
    /// Layer named on the title line.
    pub layer: Option<(Layer, Span)>,
    /// Its statements in the order written.
    pub statements: Vec<Statement>,
    /// Names that lines which could not be read would have declared: no message is due where they are used.
    pub broken: Vec<String>,
}

/// A statement at the top of a sheet.
#[derive(Debug, Clone)]
pub struct Statement {
    /// The statement, or the heading of the block.
    pub span: Span,
    /// What it is.
    pub kind: StatementKind,
}

/// Statements.
#[derive(Debug, Clone)]
#[allow(missing_docs)]
pub enum StatementKind {
    Use(Text),
    Counted(Vec<(Name, Option<String>)>),
    Phases(Vec<Text>),
    Choice { name: Name, labels: Vec<LabelDef> },
    Given(Given),
    Resource(Resource),
    Helper { name: Name, params: Vec<Name>, body: Expr },
    Survey(SurveyDef),
    Table(TableDef),
    For(ForBlock),
    Caution(Caution),
    Change(Change),
    Alternate { name: Text, changes: Vec<Change>, pick: Option<Pick> },
    Life { of: Option<Text>, lines: Vec<LifeLine> },
    Trial(Trial),
    Job(Vec<JobLine>),
    Pay { name: Name, lines: Vec<PayLine> },
    Charge(Charge),
    Allowance { name: Name, amount: Signed, remarks: Remarks },
    Final { word: RoundWord, step: Quantity },
}

/// A label with further spellings.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LabelDef {
    /// The label.
    pub name: Name,
    /// Spellings a survey may use.
    pub spellings: Vec<String>,
}

/// A quantity with a sign.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Signed {
    /// Whether a minus stands before it.
    pub negative: bool,
    /// The quantity.
    pub quantity: Quantity,
    /// The whole.
    pub span: Span,
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
    /// Source and note.
    pub remarks: Remarks,
}

/// Value of a given.
#[derive(Debug, Clone)]
#[allow(missing_docs)]
pub enum GivenValue {
    Quantity(Signed),
    Truth(bool),
    Label { label: Name, labels: Vec<LabelDef> },
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
    /// Plausible range.
    pub between: Option<(Signed, Signed)>,
    /// Headings.
    pub headed: Vec<Text>,
    /// Source and note.
    pub remarks: Remarks,
    /// The whole line.
    pub span: Span,
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
    YesNo,
    Number(Option<UnitText>),
    /// Word (`length`, `area` …) and unit.
    Measure(Name, UnitText),
    Count(Name),
    OneOf(Vec<LabelDef>),
    Of(Name),
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

/// What a for-block is worked for.
#[derive(Debug, Clone)]
#[allow(missing_docs)]
pub enum GrainHead {
    Each(Name),
    Group { name: Name, of: Name, by: Vec<Name> },
    Job,
}

/// A block of rules.
#[derive(Debug, Clone)]
pub struct ForBlock {
    /// Its grain.
    pub head: GrainHead,
    /// Its lines.
    pub lines: Vec<ForLine>,
}

/// A line of a for-block.
#[derive(Debug, Clone)]
#[allow(missing_docs)]
#[allow(clippy::large_enum_variant)] // a sheet has few of them
pub enum ForLine {
    Rule(Rule),
    Take(Take),
    Decide(Decide),
    Require { condition: Expr, message: Text, span: Span },
    Caution(Caution),
}

/// A named expression.
#[derive(Debug, Clone)]
pub struct Rule {
    /// Name.
    pub name: Name,
    /// Expression.
    pub value: Expr,
    /// Unit to show it in.
    pub shown: Option<UnitText>,
    /// May be summed.
    pub adds_up: bool,
    /// Source and note.
    pub remarks: Remarks,
    /// The whole line.
    pub span: Span,
}

/// A take-off line.
#[derive(Debug, Clone)]
pub struct Take {
    /// Resource.
    pub resource: Name,
    /// How much.
    pub amount: Expr,
    /// Phase.
    pub phase: Option<Text>,
    /// Only when.
    pub when: Option<Expr>,
    /// Split over the rows below by this.
    pub shared_by: Option<Expr>,
    /// Source and note.
    pub remarks: Remarks,
    /// The whole line.
    pub span: Span,
}

/// A decision.
#[derive(Debug, Clone)]
pub struct Decide {
    /// Name.
    pub name: Name,
    /// Declared choice, if named.
    pub of: Option<Name>,
    /// Whether the first line that holds counts.
    pub first_holds: bool,
    /// Its lines.
    pub body: DecideBody,
    /// Whether some of its lines could not be read.
    pub broken: bool,
    /// Heading.
    pub span: Span,
}

/// Lines or a table.
#[derive(Debug, Clone)]
#[allow(missing_docs)]
pub enum DecideBody {
    Lines(Vec<DecideLine>),
    /// The first row is the headings.
    Table(Vec<Vec<CellText>>),
}

/// A line of a decision; no condition means `otherwise`.
#[derive(Debug, Clone)]
pub struct DecideLine {
    /// Label.
    pub label: Name,
    /// When.
    pub when: Option<Expr>,
    /// Reason.
    pub because: Text,
    /// Standard it rests on.
    pub rests_on: Option<Text>,
    /// The whole line.
    pub span: Span,
}

/// A caution.
#[derive(Debug, Clone)]
pub struct Caution {
    /// Text.
    pub text: Text,
    /// Only when.
    pub when: Option<Expr>,
    /// The whole line.
    pub span: Span,
}

/// What of a thing is changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum ChangePart {
    Value,
    Price,
    Waste,
    Yield,
}

/// A change of something in a lower layer.
#[derive(Debug, Clone)]
pub struct Change {
    /// Part of the thing.
    pub part: ChangePart,
    /// Its name.
    pub name: Name,
    /// New value.
    pub to: Expr,
    /// Reason.
    pub because: Option<Text>,
    /// Pin.
    pub was: Option<Expr>,
    /// The whole line.
    pub span: Span,
}

/// A plan mixed of two others: on each row of the main table the one whose cost is below a share of the other's, else the other.
#[derive(Debug, Clone)]
pub struct Pick {
    /// The plan taken where it costs less.
    pub plan: Text,
    /// Share of the other's cost.
    pub share: Exact,
    /// The plan it is weighed against.
    pub against: Text,
    /// The plan taken otherwise.
    pub otherwise: Text,
    /// The whole line.
    pub span: Span,
}

/// A line of a block on cost over the years.
#[derive(Debug, Clone)]
#[allow(missing_docs)]
#[allow(clippy::large_enum_variant)] // a sheet has few of them
pub enum LifeLine {
    Study {
        years: u32,
        span: Span,
    },
    Rate {
        what: LifeRate,
        rate: Exact,
        kind: Option<RateKind>,
        span: Span,
    },
    Cost {
        kind: LifeCostKind,
        name: Text,
        amount: LifeAmount,
        when: LifeWhen,
        rising: Option<(Exact, RateKind)>,
        remarks: Remarks,
        span: Span,
    },
}

/// Rates of a study over the years.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum LifeRate {
    Discount,
    Escalation,
    Inflation,
}

/// With inflation left out, or with it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "lowercase")]
#[allow(missing_docs)]
pub enum RateKind {
    Real,
    Nominal,
}

/// Costs over the years.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum LifeCostKind {
    Upkeep,
    Replace,
    /// What is left in value at the end.
    Residual,
}

/// An amount in today's prices.
#[derive(Debug, Clone)]
#[allow(missing_docs)]
pub enum LifeAmount {
    /// A share of the first cost.
    Share(Exact),
    Sum(Expr),
}

/// When a cost falls due, in years from the first cost.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LifeWhen {
    /// At the end of each year, the last one too.
    EachYear,
    /// Every so many years, while the study still runs on afterwards.
    Every(u32),
    /// Once.
    After(u32),
    /// At the end of the study.
    End,
}

/// A worked example.
#[derive(Debug, Clone)]
pub struct Trial {
    /// Title.
    pub name: Text,
    /// Settings for all rows and givens.
    pub with: Vec<Setting>,
    /// Rows: table (none for the main one), settings.
    pub rows: Vec<(Option<Name>, Vec<Setting>, Span)>,
    /// Expectations.
    pub expects: Vec<Expect>,
}

/// `name = value`
#[derive(Debug, Clone)]
pub struct Setting {
    /// Column or given.
    pub name: Name,
    /// Value, or missing in one of two ways.
    pub value: Result<Expr, AbsentKind>,
}

/// An expectation.
#[derive(Debug, Clone)]
pub struct Expect {
    /// What is looked at.
    pub target: ExpectTarget,
    /// Value, or a refusal with an optional code.
    pub outcome: Result<Expr, Option<String>>,
    /// Mark of the row.
    pub at: Option<Text>,
    /// The whole line.
    pub span: Span,
}

/// What an expectation looks at.
#[derive(Debug, Clone)]
#[allow(missing_docs)]
pub enum ExpectTarget {
    Value(Name),
    Take(Name),
    Require(Span),
}

/// A line of the job block.
#[derive(Debug, Clone)]
#[allow(missing_docs)]
pub enum JobLine {
    /// A survey without files has no rows, and the sheet says so.
    Survey {
        table: Name,
        files: Vec<Text>,
        tabs: Vec<Text>,
        heading_row: Option<u32>,
        separated: Option<Text>,
        decimal_comma: bool,
        span: Span,
    },
    Prices {
        files: Vec<Text>,
        tabs: Vec<Text>,
        span: Span,
    },
    Money(Name),
    Ties(Rounding, Span),
    SplitBy(Vec<Name>),
    Round(MoneyGrain, Span),
}

/// Grain money is rounded at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum MoneyGrain {
    Line,
    Opening,
}

/// A line of a pay block.
#[derive(Debug, Clone)]
pub struct PayLine {
    /// Name.
    pub name: Name,
    /// A rate, or a share of earlier lines.
    pub amount: PayAmount,
    /// Source and note.
    pub remarks: Remarks,
    /// The whole line.
    pub span: Span,
}

/// Amount of a pay line.
#[derive(Debug, Clone)]
#[allow(missing_docs)]
pub enum PayAmount {
    Rate(Signed),
    Share { percent: Exact, of: Bases },
}

/// What a share is taken of.
#[derive(Debug, Clone)]
#[allow(missing_docs)]
pub enum Bases {
    AllSoFar(Span),
    Named(Vec<Name>),
}

/// A charge on the cost.
#[derive(Debug, Clone)]
pub struct Charge {
    /// Name.
    pub name: Name,
    /// Amount.
    pub amount: ChargeAmount,
    /// Source and note.
    pub remarks: Remarks,
}

/// Amount of a charge.
#[derive(Debug, Clone)]
#[allow(missing_docs)]
pub enum ChargeAmount {
    Sum(Signed),
    Share { percent: Exact, kind: ShareKind, of: Bases, basis: Option<TaxBasis> },
}

/// Words of a share.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum ShareKind {
    Of,
    MarkUp,
    Margin,
}

/// What a tax is rounded on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum TaxBasis {
    Item,
    Invoice,
}
