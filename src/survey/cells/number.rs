//! Cells of numbers: measures, counts, percents and money. Must not know other kinds of columns.

use std::borrow::Cow;

use crate::diagnostics::Diagnostic;
use crate::number::Exact;
use crate::survey::raw::{CellRef, NumberCell, cut, number_text};
use crate::table::Limits;
use crate::units::{
    CellContext, Dim, Normalised as Plainly, Nouns, Reading, Refusal, RefusalKind, Style, UnitExpr,
    describe, format_quantity, read_quantity,
};

use super::{CellValue, ColumnReader, Normalised, cell_text, with_choices};

/// How numbers of one column of one file are read.
pub(super) struct NumberReader<'a> {
    pub(super) dim: &'a Dim,
    pub(super) unit: UnitExpr,
    /// Numerator and denominator of `unit` when small.
    pub(super) factor: Option<(i64, i64)>,
    pub(super) whole: bool,
    pub(super) percent: bool,
    pub(super) quarters: bool,
    pub(super) limits: Option<&'a Limits>,
}

impl ColumnReader<'_> {
    pub(super) fn number<'c>(
        &self,
        number: &NumberReader<'_>,
        cell: CellRef<'c>,
        notes: &mut dyn FnMut(Normalised),
    ) -> Result<CellValue<'c>, Box<Diagnostic>> {
        let value = match cell {
            CellRef::Text(t) => match number.short_way(t) {
                Some(value) => value,
                None => match self.common_word(t) {
                    Some(known) => return known,
                    None => self.measure(number, t, notes)?,
                },
            },
            // A unit that the cell shows is one that is written.
            CellRef::Number(n) if n.around.is_some() => {
                self.measure(number, &n.printed(), notes)?
            }
            CellRef::Number(n) => self.stored_number(number, n, notes)?,
            CellRef::Date(d) => return Err(self.date_cell(&d.text)),
            other @ (CellRef::Blank
            | CellRef::Bool(_)
            | CellRef::Error(_)
            | CellRef::NoResult
            | CellRef::Merged(..)) => {
                let message = format!(
                    "\"{}\" needs {}",
                    self.spec.name,
                    number.wanted(self.settings.nouns)
                );
                return Err(Box::new(self.fault("OV-712", message, other.shown())));
            }
        };
        self.within(number, value, cell)
    }

    fn measure(
        &self,
        number: &NumberReader<'_>,
        text: &str,
        notes: &mut dyn FnMut(Normalised),
    ) -> Result<Exact, Box<Diagnostic>> {
        let context = CellContext {
            dim: number.dim,
            default_unit: &number.unit,
            nouns: self.settings.nouns,
            currency: self.settings.currency,
            decimal_comma: self.settings.decimal_comma,
            grouping: false,
            plausible: number.limits.map(|l| (&l.low, &l.high)),
            quarters: number.quarters,
        };
        match read_quantity(text, &context) {
            Ok(Reading::Value {
                value,
                unit,
                normalised,
            }) => {
                for what in normalised {
                    notes(match (what, &unit) {
                        (Plainly::OtherUnit, Some(unit)) => {
                            Cow::Owned(format!("written in {}", unit.text(self.settings.nouns)))
                        }
                        (what, _) => Cow::Borrowed(in_words(what)),
                    });
                }
                Ok(value)
            }
            Err(_) if is_day_and_month(text) || is_whole_date(text) => Err(self.date_cell(text)),
            Err(refusal) => Err(self.refused(number, refusal)),
        }
    }

    fn refused(&self, number: &NumberReader<'_>, refusal: Refusal) -> Box<Diagnostic> {
        let name = &self.spec.name;
        // In a count of lites, 6/1 is six over one: no number of the two is what was meant.
        if refusal.code == RefusalKind::ImproperFraction && number.whole {
            let message = format!("\"{name}\" holds two counts in one cell");
            let fault = self.fault("OV-714", message, cut(&refusal.found));
            return Box::new(fault.note(
                "Of windows, 6/1 says six lites over one. Write one count here, and the other in its own column or row.",
            ));
        }
        let (code, message) = match refusal.code {
            RefusalKind::MissingInchMark
            | RefusalKind::HyphenPair
            | RefusalKind::SlashPair
            | RefusalKind::ImproperFraction => (
                "OV-713",
                format!("\"{name}\" could be read in more than one way"),
            ),
            RefusalKind::Doubtful => (
                "OV-713",
                format!("\"{name}\" holds a number with a doubt on it"),
            ),
            RefusalKind::TwoNumbers => (
                "OV-714",
                format!("\"{name}\" holds two numbers in one cell"),
            ),
            RefusalKind::DecimalComma | RefusalKind::GroupedDigits => (
                "OV-715",
                format!("a comma or point in \"{name}\" could mean two things"),
            ),
            RefusalKind::UnknownUnit => {
                ("OV-716", format!("\"{name}\" has a unit that is not known"))
            }
            RefusalKind::OtherCurrency => (
                "OV-716",
                format!("\"{name}\" is in another currency than the job"),
            ),
            RefusalKind::OtherDimension => {
                ("OV-716", format!("\"{name}\" has a unit of another kind"))
            }
            RefusalKind::PercentOrFraction => (
                "OV-719",
                format!("a small bare number in \"{name}\" could mean two percentages"),
            ),
            RefusalKind::TooLong => (
                "OV-728",
                format!("the text in \"{name}\" is too long for a number"),
            ),
            RefusalKind::Empty
            | RefusalKind::TooManyDigits
            | RefusalKind::DittoMark
            | RefusalKind::NotANumber
            | RefusalKind::ZeroDivisor
            | RefusalKind::LooseDecimal
            | RefusalKind::PartTooLarge => (
                "OV-712",
                format!("\"{name}\" needs {}", number.wanted(self.settings.nouns)),
            ),
        };
        Box::new(with_choices(
            self.fault(code, message, cut(&refusal.found)),
            &refusal.choices,
        ))
    }

    fn stored_number(
        &self,
        number: &NumberReader<'_>,
        cell: &NumberCell,
        notes: &mut dyn FnMut(Normalised),
    ) -> Result<Exact, Box<Diagnostic>> {
        if !cell.as_typed {
            notes(Cow::Borrowed(
                "worked out by the workbook and cut to about 16 digits",
            ));
        }
        if number.percent {
            let size = cell.value.abs();
            let doubtful = match cell.percent {
                Some(true) => {
                    notes(Cow::Borrowed("shown as a percent by the workbook"));
                    return Ok(cell.value.clone());
                }
                Some(false) => size < Exact::ONE,
                None => size < Exact::int(2),
            };
            if doubtful && !cell.value.is_zero() {
                let shown = number_text(&cell.value);
                let hundred = cell
                    .value
                    .mul(&Exact::int(100))
                    .map(|v| number_text(&v))
                    .unwrap_or_default();
                let message = format!(
                    "a small bare number in \"{}\" could mean two percentages",
                    self.spec.name
                );
                let fault = self.fault("OV-719", message, shown.clone());
                return Err(Box::new(with_choices(
                    fault,
                    &[format!("{shown} %"), format!("{hundred} %")],
                )));
            }
        }
        cell.value.mul(number.unit.factor()).map_err(|_| {
            let message = format!(
                "the number in \"{}\" has more digits than can be kept exactly",
                self.spec.name
            );
            Box::new(self.fault("OV-712", message, cut(&number_text(&cell.value))))
        })
    }

    fn within<'c>(
        &self,
        number: &NumberReader<'_>,
        value: Exact,
        cell: CellRef<'c>,
    ) -> Result<CellValue<'c>, Box<Diagnostic>> {
        let nouns = self.settings.nouns;
        let name = &self.spec.name;
        let shown = |value| format_quantity(value, &number.unit, nouns, Style::default());
        let found = || match cell {
            CellRef::Text(t) => format!("{}, which is {}", cut(t), shown(&value)),
            CellRef::Blank
            | CellRef::Number(_)
            | CellRef::Bool(_)
            | CellRef::Date(_)
            | CellRef::Error(_)
            | CellRef::NoResult
            | CellRef::Merged(..) => shown(&value),
        };
        if let Some(limits) = number.limits.filter(|l| !l.hold(&value)) {
            let message = format!("\"{name}\" is outside its plausible range");
            let range = format!("between {} and {}", shown(&limits.low), shown(&limits.high));
            let fault = Diagnostic::error("OV-717", message).found(found());
            return Err(Box::new(fault.expected(range)));
        }
        if self.spec.kind.is_below_zero(&value) {
            let fault =
                Diagnostic::error("OV-737", format!("\"{name}\" is below zero")).found(found());
            return Err(Box::new(fault.expected("zero or more").note(
                "Write it without its sign. If it can be below zero, the sheet says so on the column: `between A and B`, with A below zero.",
            )));
        }
        // A count's base unit is one; other whole columns count multiples of their unit.
        if number.whole && !number.unit.from_base(&value).is_ok_and(|v| v.is_integer()) {
            let message = format!("\"{}\" must be whole", self.spec.name);
            return Err(Box::new(self.fault("OV-718", message, cell_text(cell))));
        }
        Ok(CellValue::Number(value))
    }
}

impl NumberReader<'_> {
    /// The kind of measure, in words.
    pub(super) fn wanted(&self, nouns: &Nouns) -> String {
        if self.percent {
            "a percent".to_string()
        } else {
            describe(self.dim, nouns)
        }
    }

    /// What is taken, in words.
    pub(super) fn expected(&self, nouns: &Nouns) -> String {
        if self.percent {
            return "a percent such as 35 or 35 %".to_string();
        }
        let kind = match (self.whole, self.dim.is_none()) {
            (true, true) => return "a whole number such as 4".to_string(),
            (false, true) => return "a plain number such as 4 or 2.5".to_string(),
            (true, false) => format!("{}, whole", describe(self.dim, nouns)),
            (false, false) if *self.dim == Dim::length(1) => {
                "a length such as 30 1/2, 2'-6 1/2\" or 775 mm".to_string()
            }
            (false, false) => describe(self.dim, nouns),
        };
        format!(
            "{kind}; a bare 30 means 30 {}",
            self.unit.text_after(nouns, &Exact::int(30))
        )
    }

    /// Plain digits, with at most one point: most cells of most surveys. `None` leaves the cell to the grammar.
    fn short_way(&self, text: &str) -> Option<Exact> {
        let (num, den) = self.factor?;
        let (mut value, mut power, mut point) = (0i64, 1i64, false);
        let bytes = text.as_bytes();
        if bytes.len() > 12 || !bytes.first()?.is_ascii_digit() || !bytes.last()?.is_ascii_digit() {
            return None;
        }
        for b in bytes {
            match b {
                b'0'..=b'9' => {
                    value = value * 10 + i64::from(b - b'0');
                    power *= if point { 10 } else { 1 };
                }
                b'.' if !point => point = true,
                _ => return None,
            }
        }
        if self.percent && value < power && value != 0 {
            return None;
        }
        Exact::ratio(value.checked_mul(num)?, power.checked_mul(den)?)
    }
}

/// Whether a text is what a workbook makes of 3-1 or 3/1 when it saves it as CSV: `1-Mar`, `Mar-01`.
fn is_day_and_month(text: &str) -> bool {
    const MONTHS: [&str; 12] = [
        "jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec",
    ];
    let Some((a, b)) = text.split_once('-') else {
        return false;
    };
    let number = |t: &str| matches!(t.len(), 1..=4) && t.bytes().all(|c| c.is_ascii_digit());
    let month = |t: &str| MONTHS.iter().any(|m| t.eq_ignore_ascii_case(m));
    number(a) && month(b) || month(a) && number(b)
}

/// Whether a text is a day written in full, such as 2026-03-08 or 3/8/2026.
fn is_whole_date(text: &str) -> bool {
    let parts: Vec<&str> = text.split(['-', '/', '.']).collect();
    let [a, b, c] = parts.as_slice() else {
        return false;
    };
    let number = |t: &str, digits: &[usize]| {
        digits.contains(&t.len()) && t.bytes().all(|c| c.is_ascii_digit())
    };
    number(b, &[1, 2])
        && (number(a, &[4]) && number(c, &[1, 2]) || number(a, &[1, 2]) && number(c, &[2, 4]))
}

/// What was made plain, as a report puts it.
fn in_words(what: Plainly) -> &'static str {
    match what {
        Plainly::UnicodeFraction => "fractions typed as one character",
        Plainly::PrimeMarks => "prime or curly marks for feet and inches",
        Plainly::NoBreakSpace => "no-break or invisible blanks",
        Plainly::FullWidthDigits => "full-width digits",
        Plainly::Dash => "typographic dashes",
        Plainly::OtherUnit => "written in another unit",
        Plainly::PercentSign => "with a percent sign",
        Plainly::GroupedDigits => "grouped thousands",
        Plainly::DecimalComma => "decimal commas, as declared",
        Plainly::CurrencySign => "with a currency sign",
    }
}
