//! Lines of a job sheet.

use super::{Given, GivenValue, Name, Quantity, Remarks, Signed, Text};
use crate::diagnostics::Span;
use crate::number::{Exact, Rounding};

/// A line of the job block.
#[derive(Debug, Clone)]
#[allow(missing_docs)]
#[allow(clippy::large_enum_variant)] // a job has few of them
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
    },
    Money(Name),
    Ties(Rounding),
    SplitBy(Vec<Name>),
    Round(MoneyGrain),
    /// The library that the job is priced with, and the totals that it gave.
    Library {
        named: Text,
        gave: Option<Text>,
        span: Span,
    },
    /// The folder of the photographs.
    Photographs(Text),
    /// What a bid does not offer: resources, facts, marks.
    Excludes(Vec<Text>),
    /// The day of the job, as a given of the name `issued`.
    Issued(Given),
}

impl JobLine {
    /// The line `issued DAY`. `span` is where it is, `point` the day as written.
    pub fn issued(point: Option<String>, span: Span) -> Given {
        let quantity = Quantity {
            parts: Vec::new(),
            point,
            span,
        };
        let signed = Signed {
            negative: false,
            quantity,
            span,
        };
        Given {
            name: Name {
                text: "issued".to_owned(),
                span,
            },
            value: GivenValue::Quantity(signed),
            range: None,
            varies: None,
            private: false,
            remarks: Remarks::default(),
        }
    }
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
    AllSoFar,
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
    Share {
        percent: Exact,
        kind: ShareKind,
        of: Bases,
        basis: Option<TaxBasis>,
    },
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
