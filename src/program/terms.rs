//! Terms of a job: its inputs, how money is rounded, wages and charges. Shared by all versions.

use super::TableId;
use super::version::{ResourceClass, ResourceId};
use crate::diagnostics::Span;
use crate::number::{Exact, Rounding};
use crate::syntax::tree::{MoneyGrain, ShareKind, TaxBasis};

/// What a job sheet states besides rules.
#[derive(Debug, Clone)]
pub struct JobTerms {
    /// Title of the job sheet.
    pub title: String,
    /// Survey files; a table that is not here was not spoken of.
    pub surveys: Vec<SurveyInput>,
    /// Price book files with tabs.
    pub prices: Vec<FileInput>,
    /// The library that the job is priced with.
    pub library: Option<LibraryTerm>,
    /// The folder of the photographs.
    pub photographs: Option<(String, Span)>,
    /// What a bid does not offer: names of resources and facts, marks of rows.
    pub excluded: Vec<String>,
    /// Tie rule of plain `rounded to` and of money; half up unless stated.
    pub ties: Rounding,
    /// Names of the columns of `split by`, in the order of [`super::TakePlan::by_group`].
    pub split_by: Vec<String>,
    /// Grain money is rounded at.
    pub money_grain: MoneyGrain,
    /// Labor rates built from wages.
    pub pays: Vec<PayDef>,
    /// Charges and allowances in order.
    pub charges: Vec<ChargeDef>,
    /// What is stated of working time.
    pub calendar: super::CalendarTerms,
    /// What is stated of cutting, one for each resource, in the order of the sheets.
    pub cuts: Vec<super::CutTerms>,
    /// What is stated of cost over the years.
    pub life: super::LifeTerms,
    /// Rounding of the final figure: mode and step in currency.
    pub final_rounding: Option<(Rounding, Exact, Span)>,
}

impl Default for JobTerms {
    fn default() -> Self {
        JobTerms {
            title: String::new(),
            surveys: Vec::new(),
            prices: Vec::new(),
            library: None,
            photographs: None,
            excluded: Vec::new(),
            ties: Rounding::HalfUp,
            split_by: Vec::new(),
            money_grain: MoneyGrain::Line,
            pays: Vec::new(),
            charges: Vec::new(),
            calendar: super::CalendarTerms::default(),
            cuts: Vec::new(),
            life: super::LifeTerms::default(),
            final_rounding: None,
        }
    }
}

/// The library that a job records, as written there.
#[derive(Debug, Clone)]
pub struct LibraryTerm {
    /// Version and beginning of the hash: `0.1.0 3fa9c2d41b7e`.
    pub named: String,
    /// The totals that it gave, in the words of the estimate that told them.
    pub gave: Option<String>,
    /// The line of the job block.
    pub span: Span,
}

/// A file named in a sheet, as written there.
#[derive(Debug, Clone)]
pub struct FileInput {
    /// Path as written, relative to the sheet.
    pub path: String,
    /// Tabs to read; all or the first when empty.
    pub tabs: Vec<String>,
    /// Where it is named.
    pub span: Span,
}

/// The files of one survey table.
#[derive(Debug, Clone)]
pub struct SurveyInput {
    /// Table.
    pub table: TableId,
    /// Files; none where the job says that there are no rows.
    pub files: Vec<FileInput>,
    /// 1-based row of the headings, when given.
    pub heading_row: Option<u32>,
    /// Delimiter, when given.
    pub delimiter: Option<u8>,
    /// Decimal comma.
    pub decimal_comma: bool,
}

/// A labor rate built from a wage.
#[derive(Debug, Clone)]
pub struct PayDef {
    /// Labor resource.
    pub resource: ResourceId,
    /// Lines in order.
    pub lines: Vec<PayLineDef>,
    /// Their sum: money per minute of person-time.
    pub rate: Exact,
    /// Where.
    pub span: Span,
}

/// A line of a labor rate.
#[derive(Debug, Clone)]
pub struct PayLineDef {
    /// Name.
    pub name: String,
    /// Money per minute of person-time.
    pub rate: Exact,
    /// For a share: the percent as a share, and the names it is taken of.
    pub share: Option<(Exact, Vec<String>)>,
    /// Source.
    pub source: Option<String>,
    /// Note.
    pub note: Option<String>,
}

/// A charge or allowance.
#[derive(Debug, Clone)]
pub struct ChargeDef {
    /// Name.
    pub name: String,
    /// Amount.
    pub amount: ChargeAmountDef,
    /// Whether it is an allowance.
    pub allowance: bool,
    /// Source.
    pub source: Option<String>,
    /// Note.
    pub note: Option<String>,
    /// Where.
    pub span: Span,
}

/// Amount of a charge.
#[derive(Debug, Clone)]
#[allow(missing_docs)]
pub enum ChargeAmountDef {
    /// A fixed sum in currency.
    Sum(Exact),
    /// A share of a base.
    Share {
        share: Exact,
        kind: ShareKind,
        bases: Vec<ChargeBase>,
        basis: Option<TaxBasis>,
    },
}

/// What a share is taken of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ChargeBase {
    /// Cost lines of a class.
    Class(ResourceClass),
    /// Cost lines of a resource.
    Resource(ResourceId),
    /// An earlier charge, by index.
    Charge(usize),
    /// All cost lines and all earlier charges.
    AllSoFar,
}
