//! An estimate as plain data: what reports show. Numbers are exact; money is whole cents with the exact value beside it.
//!
//! Must not know how anything is shown: no widths, no files, no formats.

use std::sync::Arc;

use crate::number::{Exact, Rounding};
use crate::prices::{PriceAge, PriceVaries};
use crate::program::{ResourceClass, ResourceId};
use crate::schedule::Schedule;
use crate::syntax::tree::{AllowanceKind, Layer, MoneyGrain};
use crate::takeoff::Facts;

/// The job under one version, priced.
#[derive(Debug, Clone)]
pub struct Estimate {
    /// Title of the job.
    pub title: String,
    /// Name of the alternate; none for the job as decided.
    pub version: Option<String>,
    /// Currency code; empty when the job states none.
    pub currency: String,
    /// How ties of money are rounded.
    pub ties: Rounding,
    /// Grain money is rounded at.
    pub money_grain: MoneyGrain,
    /// Labor, stock, glass, points, putty, and other where used.
    pub headline: Vec<HeadlineRow>,
    /// What is bought: every resource used but labor.
    pub buys: Vec<BuyLine>,
    /// What it costs, line by line.
    pub lines: Vec<CostLine>,
    /// The cost of the lines cut up in several ways, each adding to the same total.
    pub cuts: Vec<Cut>,
    /// The same cut by phase, a column of `split by` and trade at once, one for each such column.
    pub crossed: Vec<Crossed>,
    /// Charges and allowances in order.
    pub charges: Vec<ChargeLine>,
    /// Rounding of the final figure.
    pub final_rounding: Option<FinalLine>,
    /// The sums.
    pub totals: Totals,
    /// How labor rates are made up.
    pub pay: Vec<PayBuild>,
    /// What the figures rest on.
    pub assumptions: Assumptions,
    /// For amounts alone, without money: what has no price. `None` where everything is priced; the money of all other estimates is not to be
    /// shown.
    pub unpriced: Option<Vec<String>>,
    /// How many sums were added up again and found equal.
    pub sums_checked: usize,
    /// Decisions, cautions and survey notes of the version.
    pub facts: Arc<Facts>,
    /// When the work is done, for a job with a calendar; filled by the caller.
    pub schedule: Option<Arc<Schedule>>,
    /// Stock by cut plan beside stock by waste percent, for each `cut` block; filled by the caller, who reads the plans.
    pub cut_plans: Vec<CutBeside>,
    /// What the estimate was made from; filled by the caller, who reads the files.
    pub origin: Origin,
}

/// The stock of a resource by its cut plan, beside what the waste percent buys. Money in cents.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CutBeside {
    /// Name of the resource.
    pub name: String,
    /// By the waste percent.
    pub by_waste: i128,
    /// By the plan; none where it does not fit, so that the waste percent is all there is.
    pub plan: Option<CutPlanCost>,
    /// What stock on hand is worth, or why there is no plan, in words.
    pub note: String,
}

/// What a cut plan uses. Money in cents.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CutPlanCost {
    /// Stock to buy: size, pieces, cost of one.
    pub bought: Vec<(String, u64, i64)>,
    /// Pieces of stock on hand that are cut.
    pub on_hand: u64,
    /// Which those are.
    pub picks: Vec<StockPick>,
    /// What those are worth.
    pub worth: i64,
    /// All that is used.
    pub cost: i64,
    /// No plan of its kind can cost less.
    pub bound: i64,
}

/// Stock on hand that a cut plan uses.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StockPick {
    /// How it is called.
    pub mark: String,
    /// Length, width and thickness in inches, as far as it has them.
    pub sides: [Option<Exact>; 3],
    /// How many of it.
    pub count: u64,
    /// What is cut from it: parts with their number.
    pub parts: Vec<String>,
}

/// A class in the headline. Amounts are in `unit`; a class counted in several kinds of unit has several rows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HeadlineRow {
    /// Class.
    pub class: ResourceClass,
    /// Unit; empty for `other`, whose amounts cannot be added, and for a class that is not used.
    pub unit: String,
    /// As it goes into the work.
    pub net: Option<Exact>,
    /// With waste and whole packs; for labor, with its allowance.
    pub bought: Option<Exact>,
    /// Its cost lines, in cents.
    pub cents: i128,
}

/// A line of the buy list. Amounts are in `unit`.
#[derive(Debug, Clone)]
pub struct BuyLine {
    /// Resource.
    pub resource: ResourceId,
    /// Its name for people.
    pub name: String,
    /// Class.
    pub class: ResourceClass,
    /// Unit it is counted in.
    pub unit: String,
    /// Base units in one of it.
    pub base_per_unit: Exact,
    /// As it goes into the work.
    pub net: Exact,
    /// Waste or yield as stated.
    pub allowance: Option<Allowance>,
    /// With waste or yield.
    pub needed: Exact,
    /// Whole packs, when it is bought in packs.
    pub packs: Option<Packs>,
    /// What is bought.
    pub bought: Exact,
    /// Bought less needed.
    pub left_over: Exact,
    /// Its price.
    pub price: PriceUsed,
    /// Bought times price, rounded.
    pub cents: i128,
}

/// Waste added or yield divided.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Allowance {
    /// Which of the two.
    pub kind: AllowanceKind,
    /// As a share: 0.35 for 35 %.
    pub share: Exact,
    /// The given it comes from.
    pub given: Option<String>,
}

/// Whole packs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Packs {
    /// How many, rounded up once.
    pub count: Exact,
    /// The word after that number.
    pub word: String,
    /// What one holds, in the resource's unit.
    pub holds: Exact,
    /// False for a counted thing without a stated pack, bought by the piece.
    pub stated: bool,
}

/// Where a price comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PriceOrigin {
    /// The price book.
    Book,
    /// A pay block.
    Pay,
    /// A change in a sheet.
    Change(Layer),
    /// Rates of hire in the calendar: the cheapest that cover the days taken.
    Hire,
}

/// The price of a resource.
#[derive(Debug, Clone)]
pub struct PriceUsed {
    /// Currency for one of `per`.
    pub amount: Exact,
    /// What the amount is for: a unit or a pack.
    pub per: String,
    /// Currency for one base unit.
    pub per_base: Exact,
    /// Where it comes from.
    pub origin: PriceOrigin,
    /// Supplier.
    pub supplier: Option<String>,
    /// Source.
    pub source: Option<String>,
    /// Date as written.
    pub date: Option<String>,
    /// Days since 1970-01-01 of that date.
    pub day: Option<i32>,
    /// Note, or the reason of the change.
    pub note: Option<String>,
    /// What a buyer must say besides the name.
    pub spec: Option<String>,
    /// What it may turn out to be, for one of `per`.
    pub varies: Option<PriceVaries>,
}

/// A cost line. Money in currency; `cents` is its rounding.
#[derive(Debug, Clone)]
pub struct CostLine {
    /// Resource.
    pub resource: ResourceId,
    /// Its name for people.
    pub name: String,
    /// Class.
    pub class: ResourceClass,
    /// Phase of a labor line; a material line is bought once for all phases.
    pub phase: Option<String>,
    /// Amount paid for, in `unit`.
    pub quantity: Exact,
    /// Unit.
    pub unit: String,
    /// Price, currency for one of `per`.
    pub price: Exact,
    /// What the price is for.
    pub per: String,
    /// Quantity times price, unrounded.
    pub exact: Exact,
    /// Rounded once, or the sum of what was rounded for each opening.
    pub cents: i128,
    /// The cents by phase, in the order of phases.
    pub by_phase: Vec<(String, i128)>,
}

/// Ways of cutting up the cost.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CutKind {
    /// By phase.
    Phase,
    /// By a column of `split by`, by its place there.
    Split(usize),
    /// By labor resource, with materials as one and what is hired as one.
    Trade,
    /// By class.
    Class,
    /// By resource.
    Resource,
    /// By row of the main table.
    Opening,
}

/// The cost of all lines, cut up one way.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cut {
    /// How.
    pub kind: CutKind,
    /// Heading of its keys: `phase`, `wing`, `trade`.
    pub by: String,
    /// Its rows, in a stated order; what belongs to no key comes last.
    pub rows: Vec<CutRow>,
}

/// A row of a cut.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CutRow {
    /// Key.
    pub key: String,
    /// True for what cannot be said by key.
    pub whole_job: bool,
    /// How many rows of the main table are under the key, for a split column.
    pub rows: Option<usize>,
    /// Labor, in hours.
    pub hours: Exact,
    /// Labor in cents.
    pub labor: i128,
    /// Materials in cents.
    pub materials: i128,
    /// Equipment, subcontracts and disposal, in cents.
    pub hired: i128,
    /// Its part of the charges and of the final rounding, in cents.
    pub charges: i128,
}

/// The cost of all lines by phase, a column of `split by` and trade at once, without charges.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Crossed {
    /// The column, for people.
    pub by: String,
    /// Its place in `split by`.
    pub split: usize,
    /// Its rows, in order of phase, key and trade; none without hours and cost.
    pub rows: Vec<CrossRow>,
}

/// What one trade does or costs in one phase under one key.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CrossRow {
    /// Phase.
    pub phase: String,
    /// Key; none for what belongs to the whole job.
    pub key: Option<String>,
    /// Labor resource, `materials` or `hired`.
    pub trade: String,
    /// Hours of labor.
    pub hours: Exact,
    /// Cost in cents, before charges.
    pub cents: i128,
}

impl CutRow {
    /// Labor, materials and what is hired, in cents.
    pub fn cents(&self) -> i128 {
        self.labor + self.materials + self.hired
    }

    /// The cost and its charges, in cents.
    pub fn price(&self) -> i128 {
        self.cents() + self.charges
    }
}

/// What a charge is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum ChargeKind {
    Sum,
    Share,
    MarkUp,
    Margin,
    TaxByItem,
    TaxByInvoice,
}

/// A charge or allowance.
#[derive(Debug, Clone)]
pub struct ChargeLine {
    /// Name for people.
    pub name: String,
    /// What it is.
    pub kind: ChargeKind,
    /// Whether it is an allowance.
    pub allowance: bool,
    /// Share of the base, for a share.
    pub share: Option<Exact>,
    /// The base in words: `labor and materials`.
    pub of: String,
    /// The base, in cents; none for a fixed sum.
    pub base: Option<i128>,
    /// Unrounded, calculated from unrounded bases.
    pub exact: Exact,
    /// Rounded.
    pub cents: i128,
    /// Source.
    pub source: Option<String>,
    /// Note.
    pub note: Option<String>,
}

/// Rounding of the final figure.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FinalLine {
    /// Direction.
    pub mode: Rounding,
    /// Step in currency.
    pub step: Exact,
    /// What it adds, in cents.
    pub cents: i128,
}

/// Sums in cents, and the exact total.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Totals {
    /// Labor lines.
    pub labor: i128,
    /// Lines of goods: neither labor nor hired.
    pub materials: i128,
    /// Lines of equipment, subcontracts and disposal.
    pub hired: i128,
    /// All lines.
    pub direct: i128,
    /// Charges and allowances.
    pub charges: i128,
    /// The whole, final rounding included.
    pub grand: i128,
    /// Lines and charges unrounded, before the final rounding.
    pub exact: Exact,
    /// Lines and charges in cents less `exact`, in currency.
    pub gap: Exact,
}

/// How a labor rate is made up.
#[derive(Debug, Clone)]
pub struct PayBuild {
    /// Labor resource.
    pub name: String,
    /// Lines.
    pub lines: Vec<PayBuildLine>,
    /// Currency an hour.
    pub rate: Exact,
}

/// A line of a labor rate.
#[derive(Debug, Clone)]
pub struct PayBuildLine {
    /// Name.
    pub name: String,
    /// Share and what it is of.
    pub share: Option<(Exact, String)>,
    /// Currency an hour.
    pub rate: Exact,
    /// Source.
    pub source: Option<String>,
    /// Note.
    pub note: Option<String>,
}

/// What the figures rest on.
#[derive(Debug, Clone, Default)]
pub struct Assumptions {
    /// Facts that nobody has answered, with what is assumed.
    pub unanswered: Vec<AssumedFact>,
    /// Every fact that the sheets ask a job for, answered or assumed.
    pub asked: Vec<AskedFact>,
    /// Values decided for one row.
    pub exceptions: Vec<DecidedRow>,
    /// What later layers extend of lower ones, or change of a thing besides its value.
    pub extensions: Vec<Extension>,
    /// Spans of the calendar that rules read, and their days.
    pub spans: Vec<(String, String)>,
    /// Givens the version uses.
    pub givens: Vec<GivenUsed>,
    /// Prices used that may turn out otherwise: the resource, and what its price may be.
    pub prices_vary: Vec<(String, MayVary)>,
    /// Resources used, declared without a source.
    pub resources_without_source: Vec<String>,
    /// Prices used, without a source.
    pub prices_without_source: Vec<String>,
    /// Prices used, without a date that could be read.
    pub prices_without_date: Vec<String>,
    /// Prices of the book of another time than the job: name, date and how.
    pub old_prices: Vec<(String, String, PriceAge)>,
    /// Prices passed over for a chosen one: name and supplier.
    pub passed_over: Vec<(String, String)>,
    /// What rounding did, in currency: what was rounded, and its net effect.
    pub roundings: Vec<(String, Exact)>,
    /// Rows that are not in the totals of some resource.
    pub left_out: Vec<LeftOut>,
    /// How much of the cost rests on figures from memory.
    pub from_memory: super::FromMemory,
}

/// A fact that the sheets ask a job for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AskedFact {
    /// Name.
    pub name: String,
    /// Value with unit.
    pub value: String,
    /// Whether the job answers it; otherwise the value is assumed.
    pub answered: bool,
    /// Reason of the answer or of what is assumed.
    pub because: String,
    /// Who answered and on which day.
    pub by: Option<(String, String)>,
    /// Kept from every reader outside the shop.
    pub private: bool,
}

/// A value decided for one row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DecidedRow {
    /// Rule, decision or column.
    pub name: String,
    /// Mark of the row.
    pub mark: String,
    /// Value with unit.
    pub value: String,
    /// Reason.
    pub because: String,
    /// Who decided it and on which day.
    pub by: Option<(String, String)>,
    /// Layer.
    pub layer: Layer,
}

/// What a later layer extends of a lower one, or changes of a thing besides its value.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Extension {
    /// What of it: `survey`, `choice`, `rows`, `table`, `limits`, `packs`, `name`, `resource` or `phase`.
    pub what: &'static str,
    /// Of what.
    pub name: String,
    /// Reason.
    pub because: String,
    /// Who decided it and on which day.
    pub by: Option<(String, String)>,
    /// Layer.
    pub layer: Layer,
}

/// What a figure may turn out to be, as written with its unit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MayVary {
    /// The least.
    pub low: String,
    /// The most.
    pub high: String,
    /// The likeliest; without it, each value is as likely as any other.
    pub likely: Option<String>,
    /// Figures of one group rise and fall together.
    pub group: Option<String>,
}

impl MayVary {
    /// `from 4 h to 8 h, likeliest 5 h, together with "paces"`
    pub fn text(&self) -> String {
        let spread = match &self.likely {
            Some(likely) => format!("likeliest {likely}"),
            None => "each value as likely as any other".to_owned(),
        };
        let group = self.group.as_ref();
        let group = group.map_or_else(String::new, |g| format!(", together with \"{g}\""));
        format!("from {} to {}, {spread}{group}", self.low, self.high)
    }
}

/// A fact that a job should answer and does not, with what the sheet assumes until it does.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AssumedFact {
    /// Name.
    pub name: String,
    /// Value with unit.
    pub value: String,
    /// Why it is assumed.
    pub because: String,
}

impl AssumedFact {
    /// `child place = yes`
    pub fn value_text(&self) -> String {
        format!("{} = {}", self.name, self.value)
    }

    /// `child place = yes (a child may live there)`
    pub fn text(&self) -> String {
        format!("{} ({})", self.value_text(), self.because)
    }
}

/// A given in force.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct GivenUsed {
    /// Name.
    pub name: String,
    /// Value with unit.
    pub value: String,
    /// Low and high end with unit.
    pub range: Option<(String, String)>,
    /// What it may turn out to be, in words.
    pub varies: Option<MayVary>,
    /// Kept from every reader outside the shop.
    pub private: bool,
    /// Layer it comes from.
    pub layer: Layer,
    /// Source.
    pub source: Option<String>,
    /// Note.
    pub note: Option<String>,
    /// Reason of the change, when changed.
    pub because: Option<String>,
    /// Who decided the change and on which day, where it says so.
    pub by: Option<(String, String)>,
}

/// Rows missing from the totals of a resource in a phase.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LeftOut {
    /// Resource.
    pub resource: String,
    /// Phase.
    pub phase: String,
    /// Cause in words: `blank`, `not applicable`, `unreadable`.
    pub cause: String,
    /// How many rows.
    pub rows: usize,
    /// Their marks.
    pub marks: Vec<String>,
}

/// What an estimate was made from.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Origin {
    /// Version of this program.
    pub program: String,
    /// Sheets, surveys and price books with their SHA-256 in hexadecimal.
    pub files: Vec<OriginFile>,
}

/// A file an estimate was made from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OriginFile {
    /// What it is: `sheet`, `survey`, `prices`, `table`.
    pub role: String,
    /// Name as given.
    pub name: String,
    /// SHA-256 of its bytes, hexadecimal.
    pub sha256: String,
}

impl Estimate {
    /// A cut by its kind.
    pub fn cut(&self, kind: CutKind) -> Option<&Cut> {
        self.cuts.iter().find(|c| c.kind == kind)
    }

    /// Lines and charges in cents, before the final rounding.
    pub fn before_final(&self) -> i128 {
        self.totals.direct + self.totals.charges
    }

    /// `as decided`, or the name of the alternate.
    pub fn version_name(&self) -> &str {
        self.version
            .as_deref()
            .unwrap_or(crate::program::AS_DECIDED)
    }
}
