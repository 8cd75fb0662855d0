//! One cell under one column: a value, something missing, a ditto mark, or a fault in words.
//!
//! Measures go through the one measurement grammar of `units`; plain numbers take a short way with the same result. Must not know where the
//! cell stands: the caller adds the place.

mod number;
mod words;

use foldhash::{HashMap, HashMapExt};
use std::borrow::Cow;

use crate::diagnostics::Diagnostic;
use crate::diagnostics::suggest::nearest;
use crate::number::Exact;
use crate::table::{ColumnKind, ColumnSpec, LabelSpec, OnMissing, lites_text, read_lites};
use crate::units::{Nouns, Scale, UnitExpr, read_point};

use super::heading::plain;
use super::raw::{CellRef, MAX_CELL, RawCell, cut, number_text};
use crate::units::dates;
use number::NumberReader;
use words::{Spellings, is_ditto, is_error_text, is_not_applicable};

/// What a cell says.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum CellValue<'a> {
    /// Base units.
    Number(Exact),
    Text(Cow<'a, str>),
    /// Index of the label.
    Choice(u16),
    YesNo(bool),
    /// Days since 1970-01-01.
    Date(i32),
    Blank,
    NotApplicable,
    /// As in the row above.
    Ditto,
}

/// Something that was read although it was not written the plain way; counted for each column.
pub(crate) type Normalised = Cow<'static, str>;

/// Settings that hold for the whole survey.
#[derive(Debug, Clone, Copy)]
pub(crate) struct CellSettings<'a> {
    pub(crate) nouns: &'a Nouns,
    pub(crate) currency: Option<&'a str>,
    pub(crate) decimal_comma: bool,
}

/// Reads the cells of one column of one file.
pub(crate) struct ColumnReader<'a> {
    spec: &'a ColumnSpec,
    settings: CellSettings<'a>,
    /// Whether the column names rows of this or another table.
    names_rows: bool,
    kind: KindReader<'a>,
}

enum KindReader<'a> {
    Text,
    Lites,
    Number(NumberReader<'a>),
    YesNo,
    Choice {
        exact: Spellings,
        bare: HashMap<String, u16>,
        labels: &'a [LabelSpec],
    },
    Date,
    Moment,
    Temperature,
}

impl<'a> ColumnReader<'a> {
    /// `heading_unit` is the unit written in the file's heading; `names_rows` holds for keys and keys of a table above.
    pub(crate) fn new(
        spec: &'a ColumnSpec,
        heading_unit: Option<&UnitExpr>,
        names_rows: bool,
        settings: CellSettings<'a>,
    ) -> Self {
        let kind = match &spec.kind {
            ColumnKind::Text => KindReader::Text,
            ColumnKind::Lites => KindReader::Lites,
            ColumnKind::YesNo => KindReader::YesNo,
            ColumnKind::Date => KindReader::Date,
            ColumnKind::Moment => KindReader::Moment,
            ColumnKind::Temperature => KindReader::Temperature,
            ColumnKind::Choice(labels) => choice_reader(labels),
            ColumnKind::Number {
                dim,
                unit,
                whole,
                percent,
                quarters,
                limits,
            } => {
                let unit = heading_unit.unwrap_or(unit).clone();
                KindReader::Number(NumberReader {
                    dim,
                    factor: unit.factor().small(),
                    unit,
                    whole: *whole,
                    percent: *percent,
                    quarters: *quarters,
                    limits: limits.as_ref(),
                })
            }
        };
        ColumnReader {
            spec,
            settings,
            names_rows,
            kind,
        }
    }

    /// Reads a cell. `notes` takes what was normalised. Faults carry no place.
    pub(crate) fn read<'c>(
        &self,
        cell: CellRef<'c>,
        notes: &mut dyn FnMut(Normalised),
    ) -> Result<CellValue<'c>, Box<Diagnostic>> {
        match cell {
            CellRef::Blank => return Ok(CellValue::Blank),
            CellRef::Error(e) => return Err(self.error_cell(e)),
            CellRef::NoResult => return Err(self.no_result()),
            CellRef::Merged(first, last, value) => return self.merged(first, last, value, notes),
            CellRef::Text(t) if t.len() > MAX_CELL && t.chars().count() > MAX_CELL => {
                return Err(self.too_long(t));
            }
            CellRef::Text(_) | CellRef::Number(_) | CellRef::Bool(_) | CellRef::Date(_) => {}
        }
        match &self.kind {
            KindReader::Number(number) => self.number(number, cell, notes),
            KindReader::Text => self.text(cell, notes),
            KindReader::Lites => self.lites(cell, notes),
            KindReader::Choice {
                exact,
                bare,
                labels,
            } => self.choice(exact, bare, labels, cell),
            KindReader::YesNo => self.yes_no(cell),
            KindReader::Date => self.date(cell),
            KindReader::Moment => self.moment(cell),
            KindReader::Temperature => self.temperature(cell),
        }
    }

    fn fault(&self, code: &'static str, message: String, found: String) -> Diagnostic {
        Diagnostic::error(code, message)
            .found(found)
            .expected(self.expected())
    }

    /// What the column accepts, in words.
    pub(crate) fn expected(&self) -> String {
        let nouns = self.settings.nouns;
        match &self.kind {
            KindReader::Text => "text".to_string(),
            KindReader::Lites => {
                "lites such as 6, 6/1 or 6 over 1, the upper sash first, and 1+8 for margin lites"
                    .to_string()
            }
            KindReader::YesNo => "yes, y, true, x or 1; no, n, false or 0".to_string(),
            KindReader::Date => "a day such as 2026-06-01 or 1 June 2026".to_string(),
            KindReader::Moment => "a day and an hour such as 2026-06-01 16:00".to_string(),
            KindReader::Temperature => {
                "a temperature with its scale, such as 70 °F or 20 °C".to_string()
            }
            KindReader::Choice { labels, .. } => {
                let list: Vec<&str> = labels.iter().map(|l| l.label.as_str()).collect();
                format!("one of {}", list.join(", "))
            }
            KindReader::Number(n) => n.expected(nouns),
        }
    }

    /// A missing or "n/a" word, a ditto mark or an error written as text, whatever the column holds.
    fn common_word<'c>(&self, text: &str) -> Option<Result<CellValue<'c>, Box<Diagnostic>>> {
        if is_not_applicable(text) {
            return Some(Ok(CellValue::NotApplicable));
        }
        if is_ditto(text) {
            return Some(if self.spec.is_key {
                Err(self.ditto_in_key(text))
            } else {
                Ok(CellValue::Ditto)
            });
        }
        is_error_text(text).then(|| Err(self.error_cell(text)))
    }

    fn text<'c>(
        &self,
        cell: CellRef<'c>,
        notes: &mut dyn FnMut(Normalised),
    ) -> Result<CellValue<'c>, Box<Diagnostic>> {
        match cell {
            CellRef::Text(t) => {
                let is_word = is_ditto(t)
                    || is_error_text(t)
                    || (is_not_applicable(t) && self.keeps_not_applicable());
                if let (true, Some(known)) = (is_word, self.common_word(t)) {
                    return known;
                }
                if self.names_rows
                    && !t.bytes().all(|b| b.is_ascii_graphic())
                    && t.chars().any(|c| c.is_control() || c == '\u{a0}')
                {
                    notes(Cow::Borrowed(
                        "line breaks and odd blanks in a mark read as one blank",
                    ));
                    return Ok(CellValue::Text(Cow::Owned(
                        t.split_whitespace().collect::<Vec<_>>().join(" "),
                    )));
                }
                Ok(CellValue::Text(Cow::Borrowed(t)))
            }
            CellRef::Number(n) => Ok(CellValue::Text(Cow::Owned(number_text(&n.value)))),
            CellRef::Date(d) if self.names_rows => Err(self.date_cell(&d.text)),
            CellRef::Date(d) => {
                notes(Cow::Borrowed("a date cell read as its text"));
                Ok(CellValue::Text(Cow::Owned(d.text.clone())))
            }
            other @ (CellRef::Blank
            | CellRef::Bool(_)
            | CellRef::Error(_)
            | CellRef::NoResult
            | CellRef::Merged(..)) => Ok(CellValue::Text(Cow::Owned(other.shown()))),
        }
    }

    fn lites<'c>(
        &self,
        cell: CellRef<'c>,
        notes: &mut dyn FnMut(Normalised),
    ) -> Result<CellValue<'c>, Box<Diagnostic>> {
        // A workbook that turns 6/1 into a day has changed what was typed.
        if let CellRef::Date(d) = cell {
            return Err(self.date_cell(&d.text));
        }
        let words = cell.words();
        let text = words.as_ref();
        match read_lites(text) {
            Some(lites) => {
                let plain = lites_text(&lites);
                if plain != text {
                    notes(Cow::Borrowed("a lite pattern in another form"));
                }
                Ok(CellValue::Text(Cow::Owned(plain)))
            }
            None => self.common_word(text).unwrap_or_else(|| {
                Err(Box::new(self.fault(
                    "OV-744",
                    format!("\"{}\" is not a lite pattern", self.spec.name),
                    cut(text),
                )))
            }),
        }
    }

    fn keeps_not_applicable(&self) -> bool {
        self.names_rows || self.spec.not_applicable != OnMissing::Refuse
    }

    fn choice<'c>(
        &self,
        exact: &Spellings,
        bare: &HashMap<String, u16>,
        labels: &[LabelSpec],
        cell: CellRef<'c>,
    ) -> Result<CellValue<'c>, Box<Diagnostic>> {
        let words = cell.words();
        let text = words.as_ref();
        if let Some(index) = exact.get(text) {
            return Ok(CellValue::Choice(index));
        }
        if let Some(index) = bare.get(&plain(text)) {
            return Ok(CellValue::Choice(*index));
        }
        if let Some(known) = self.common_word(text) {
            return known;
        }
        let mut fault = self.fault(
            "OV-724",
            format!("\"{}\" has no such choice", self.spec.name),
            cut(text),
        );
        let spellings = labels
            .iter()
            .flat_map(|l| std::iter::once(&l.label).chain(&l.spellings))
            .map(String::as_str);
        if let Some(near) = nearest(text, spellings) {
            fault = fault.note(format!("Perhaps \"{near}\" is meant."));
        }
        Err(Box::new(fault))
    }

    fn yes_no<'c>(&self, cell: CellRef<'c>) -> Result<CellValue<'c>, Box<Diagnostic>> {
        let found = match cell {
            CellRef::Bool(b) => return Ok(CellValue::YesNo(b)),
            CellRef::Number(n) if n.value == Exact::ONE => return Ok(CellValue::YesNo(true)),
            CellRef::Number(n) if n.value.is_zero() => return Ok(CellValue::YesNo(false)),
            CellRef::Text(t) => {
                for (words, value) in [
                    (["yes", "y", "true", "x", "1"], true),
                    (["no", "n", "false", "0", "0"], false),
                ] {
                    if words.iter().any(|w| t.eq_ignore_ascii_case(w)) {
                        return Ok(CellValue::YesNo(value));
                    }
                }
                if let Some(known) = self.common_word(t) {
                    return known;
                }
                cut(t)
            }
            CellRef::Date(d) => return Err(self.date_cell(&d.text)),
            other @ (CellRef::Blank
            | CellRef::Number(_)
            | CellRef::Error(_)
            | CellRef::NoResult
            | CellRef::Merged(..)) => other.shown(),
        };
        Err(Box::new(self.fault(
            "OV-723",
            format!("\"{}\" needs yes or no", self.spec.name),
            found,
        )))
    }

    fn date<'c>(&self, cell: CellRef<'c>) -> Result<CellValue<'c>, Box<Diagnostic>> {
        let found = match cell {
            CellRef::Date(d) => match d.days {
                Some(days) => return Ok(CellValue::Date(days)),
                None => d.text.clone(),
            },
            CellRef::Text(t) => match dates::read(t) {
                Ok(days) => return Ok(CellValue::Date(days)),
                Err(readings) => {
                    if let Some(known) = self.common_word(t) {
                        return known;
                    }
                    let fault = self.fault(
                        "OV-725",
                        format!("\"{}\" needs a day", self.spec.name),
                        cut(t),
                    );
                    return Err(Box::new(with_choices(fault, &readings)));
                }
            },
            other @ (CellRef::Blank
            | CellRef::Number(_)
            | CellRef::Bool(_)
            | CellRef::Error(_)
            | CellRef::NoResult
            | CellRef::Merged(..)) => other.shown(),
        };
        Err(Box::new(self.fault(
            "OV-725",
            format!("\"{}\" needs a day", self.spec.name),
            found,
        )))
    }

    fn moment<'c>(&self, cell: CellRef<'c>) -> Result<CellValue<'c>, Box<Diagnostic>> {
        let text = match cell {
            CellRef::Date(d) => d.text.clone(),
            other @ (CellRef::Blank
            | CellRef::Text(_)
            | CellRef::Number(_)
            | CellRef::Bool(_)
            | CellRef::Error(_)
            | CellRef::NoResult
            | CellRef::Merged(..)) => other.shown(),
        };
        if let Some(known) = self.common_word(&text) {
            return known;
        }
        if let Some(value) = moment_in(&text) {
            return Ok(CellValue::Number(value));
        }
        let message = format!("\"{}\" needs a day and an hour", self.spec.name);
        Err(Box::new(self.fault("OV-760", message, cut(&text))))
    }

    fn temperature<'c>(&self, cell: CellRef<'c>) -> Result<CellValue<'c>, Box<Diagnostic>> {
        let text = cell.shown();
        if let Some(known) = self.common_word(&text) {
            return known;
        }
        let plain = text.trim();
        let (number, scale) = plain
            .find(|c: char| c == '°' || c.is_alphabetic())
            .map_or((plain, ""), |at| plain.split_at(at));
        let scale = scale.trim_start_matches(['°', ' ']);
        let scale = scale.strip_prefix("deg").map_or(scale, str::trim_start);
        let written = format!("{} °{}", number.trim(), scale.to_uppercase());
        if let Some((Scale::Temperature, value)) = read_point(&written) {
            return Ok(CellValue::Number(value));
        }
        let message = format!("\"{}\" needs a temperature with its scale", self.spec.name);
        let fault = self.fault("OV-761", message, cut(&text));
        let bare = scale.is_empty() && Exact::parse_plain(number.trim()).is_some();
        Err(Box::new(match bare {
            true => with_choices(fault, &[format!("{plain} °F"), format!("{plain} °C")]),
            false => fault,
        }))
    }

    fn error_cell(&self, error: &str) -> Box<Diagnostic> {
        let message = format!("the workbook has an error in \"{}\"", self.spec.name);
        Box::new(
            self.fault("OV-721", message, cut(error))
                .note("Mend the formula in the workbook, or type the value."),
        )
    }

    fn no_result(&self) -> Box<Diagnostic> {
        let message = format!(
            "\"{}\" holds a formula that was saved without its result",
            self.spec.name
        );
        Box::new(
            self.fault(
                "OV-722",
                message,
                "a formula without a stored result".to_string(),
            )
            .mend("Open the workbook in a spreadsheet program, let it calculate, and save it."),
        )
    }

    /// A merged area names a wing or a kind for many rows, and that is what it says; a measure in it may be of one opening or of all.
    fn merged<'c>(
        &self,
        first: u32,
        last: u32,
        value: &'c RawCell,
        notes: &mut dyn FnMut(Normalised),
    ) -> Result<CellValue<'c>, Box<Diagnostic>> {
        if matches!(self.kind, KindReader::Text | KindReader::Choice { .. }) && !self.names_rows {
            notes(Cow::Borrowed(
                "merged cells, read as their one value in every row",
            ));
            return self.read(value.view(), notes);
        }
        let message = format!("\"{}\" is merged over several rows", self.spec.name);
        Err(Box::new(
            self.fault(
                "OV-726",
                message,
                format!(
                    "rows {first} to {last} share the one value {}",
                    cell_text(value.view())
                ),
            )
            .mend("Unmerge the cells and fill each one."),
        ))
    }

    fn too_long(&self, text: &str) -> Box<Diagnostic> {
        let message = format!(
            "the text in \"{}\" is longer than a workbook cell can hold",
            self.spec.name
        );
        let fault = Diagnostic::error("OV-728", message).found(cut(text));
        Box::new(fault.expected(format!("at most {MAX_CELL} characters")))
    }

    fn date_cell(&self, shown: &str) -> Box<Diagnostic> {
        let message = format!("the workbook turned \"{}\" into a date", self.spec.name);
        Box::new(
            self.fault("OV-720", message, cut(shown))
                .note("Something like 3/8 or 6-1/4 was typed and the workbook changed it; what was typed is lost.")
                .mend("Format the column as text and type the values again."),
        )
    }

    fn ditto_in_key(&self, text: &str) -> Box<Diagnostic> {
        let message = format!(
            "\"{}\" names the row, so it cannot repeat the one above",
            self.spec.name
        );
        Box::new(
            Diagnostic::error("OV-709", message)
                .found(cut(text))
                .expected("a mark of its own"),
        )
    }
}

fn cell_text(cell: CellRef<'_>) -> String {
    cut(&cell.shown())
}

fn with_choices(fault: Diagnostic, choices: &[String]) -> Diagnostic {
    if choices.is_empty() {
        fault
    } else {
        fault.note(format!("Write what is meant: {}.", choices.join(", or ")))
    }
}

fn choice_reader(labels: &[LabelSpec]) -> KindReader<'_> {
    let (mut exact, mut bare) = (Spellings::default(), HashMap::new());
    for (i, label) in labels.iter().enumerate() {
        let Ok(index) = u16::try_from(i) else { break };
        for text in std::iter::once(&label.label).chain(&label.spellings) {
            // The usual ways of typing a word are looked up as they stand.
            let lower = text.to_lowercase();
            let mut letters = lower.chars();
            let capital: String = letters
                .next()
                .into_iter()
                .flat_map(char::to_uppercase)
                .chain(letters)
                .collect();
            for form in [text.clone(), text.to_uppercase(), capital, lower] {
                exact.add(form, index);
            }
            bare.entry(plain(text)).or_insert(index);
        }
    }
    KindReader::Choice {
        exact,
        bare,
        labels,
    }
}

/// Days since 1970-01-01 00:00 of a day and an hour: `2026-06-01 16:00`, with or without seconds, or with a `T` between them.
fn moment_in(text: &str) -> Option<Exact> {
    let (day, hour) = text.trim().rsplit_once([' ', 'T'])?;
    let days = i64::from(dates::read(day.trim()).ok()?);
    let mut parts = hour.split(':').map(|part| part.parse::<i64>().ok());
    let (hours, minutes, seconds) = (
        parts.next()??,
        parts.next()??,
        parts.next().unwrap_or(Some(0))?,
    );
    let within =
        (0..24).contains(&hours) && (0..60).contains(&minutes) && (0..60).contains(&seconds);
    if !within || parts.next().is_some() {
        return None;
    }
    let of_day = Exact::ratio((hours * 60 + minutes) * 60 + seconds, 86_400)?;
    Exact::int(days).add(&of_day).ok()
}
