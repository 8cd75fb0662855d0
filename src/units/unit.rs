//! Unit expressions: `in`, `sq ft`, `min per lite`, `USD per bf`, as written, with their exact ratio.
//!
//! Knows how units combine, read and print. Must not know values' meaning or where text came from.

use crate::number::{Exact, NumError, Written};

use super::catalog::{self, UnitDef};
use super::dimension::{Base, Dim};
use super::noun::{Noun, Nouns};

pub use super::catalog::CURRENCIES;

/// Most units in one written expression.
const MAX_FACTORS: usize = 8;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Atom {
    Listed(&'static UnitDef),
    Money(&'static str),
    Noun(Noun),
}

impl Atom {
    fn dim(self) -> Dim {
        match self {
            Atom::Listed(unit) => unit.kind.dim(),
            Atom::Money(_) => Dim::base(Base::Money),
            Atom::Noun(noun) => Dim::noun(noun),
        }
    }

    /// Base units in one of this.
    fn factor(self) -> Exact {
        match self {
            // Listed divisors are not zero; a test reads the whole list.
            Atom::Listed(unit) => Exact::ratio(unit.n, unit.d).unwrap_or_default(),
            Atom::Money(_) | Atom::Noun(_) => Exact::ONE,
        }
    }
}

/// A product and quotient of units that remembers how it was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UnitExpr {
    above: Vec<Atom>,
    below: Vec<Atom>,
    dim: Dim,
    factor: Exact,
}

impl UnitExpr {
    /// The unit of a plain number: nothing written.
    pub fn none() -> UnitExpr {
        UnitExpr {
            above: Vec::new(),
            below: Vec::new(),
            dim: Dim::NONE,
            factor: Exact::ONE,
        }
    }

    /// One of a counted noun.
    pub fn noun(noun: Noun) -> UnitExpr {
        UnitExpr {
            above: vec![Atom::Noun(noun)],
            below: Vec::new(),
            dim: Dim::noun(noun),
            factor: Exact::ONE,
        }
    }

    /// `None` when exponents or digits pass their bounds.
    fn build(above: Vec<Atom>, below: Vec<Atom>) -> Option<UnitExpr> {
        let (mut dim, mut factor) = (Dim::NONE, Exact::ONE);
        for atom in &above {
            dim = dim.mul(&atom.dim())?;
            factor = factor.mul(&atom.factor()).ok()?;
        }
        for atom in &below {
            dim = dim.div(&atom.dim())?;
            factor = factor.div(&atom.factor()).ok()?;
        }
        Some(UnitExpr {
            above,
            below,
            dim,
            factor,
        })
    }

    /// What the unit measures.
    pub fn dim(&self) -> &Dim {
        &self.dim
    }

    /// Base units in one of this unit.
    pub fn factor(&self) -> &Exact {
        &self.factor
    }

    /// A number in this unit to base units. Errors: [`NumError::TooManyDigits`].
    pub fn to_base(&self, value: &Exact) -> Result<Exact, NumError> {
        value.mul(&self.factor)
    }

    /// A value in base units to a number in this unit. Errors: [`NumError::TooManyDigits`].
    pub fn from_base(&self, value: &Exact) -> Result<Exact, NumError> {
        value.div(&self.factor)
    }

    /// Whether this is the percent sign alone.
    pub fn is_percent(&self) -> bool {
        self.is_listed("%")
    }

    /// Whether this is one listed unit of this printed name, alone.
    pub(crate) fn is_listed(&self, name: &str) -> bool {
        self.below.is_empty()
            && matches!(self.above.as_slice(), [Atom::Listed(unit)] if unit.name == name)
    }

    /// How its numbers are written: where an amount of money is first, with cents.
    pub fn written(&self) -> Written {
        match self.above.first() {
            Some(Atom::Money(_)) => Written::Money,
            _ if self.is_listed("in") => Written::Inches,
            _ => Written::Plain,
        }
    }

    /// Whether nothing is written.
    pub fn is_empty(&self) -> bool {
        self.above.is_empty() && self.below.is_empty()
    }

    /// The unit as said after the number 1: "min per lite", "in", "".
    pub fn text(&self, nouns: &Nouns) -> String {
        self.text_after(nouns, &Exact::ONE)
    }

    /// The unit as said after this number: "lite" after 1, "lites" after 12.
    pub fn text_after(&self, nouns: &Nouns, count: &Exact) -> String {
        let mut text = String::new();
        let last = self.above.len().saturating_sub(1);
        for (at, atom) in self.above.iter().enumerate() {
            if at > 0 {
                text.push_str(" × ");
            }
            text.push_str(match atom {
                Atom::Listed(unit) if at == last && count.abs() != Exact::ONE => unit.many,
                Atom::Noun(noun) if at == last => nouns.plural(*noun, count),
                other @ (Atom::Listed(_) | Atom::Money(_) | Atom::Noun(_)) => other.name(nouns),
            });
        }
        for atom in &self.below {
            text.push_str(if text.is_empty() { "per " } else { " per " });
            text.push_str(atom.name(nouns));
        }
        text
    }
}

impl Atom {
    fn name(self, nouns: &Nouns) -> &str {
        match self {
            Atom::Listed(unit) => unit.name,
            Atom::Money(code) => code,
            Atom::Noun(noun) => nouns.name(noun),
        }
    }
}

/// The unit to print a value in when nobody said: in, sq ft, cu in, lb, h, day, the job's currency, a
/// noun; and `min per lite` for paces. Nouns are in order of name. Board feet are of lumber, so they are printed only where a
/// sheet says so, and in what one of them costs or takes.
pub fn default_unit(dim: &Dim, nouns: &Nouns, currency: Option<&str>) -> UnitExpr {
    let mut factors = dim.factors();
    factors.sort_by_key(|(base, _)| match base {
        Base::Money => (0, ""),
        Base::Labor => (1, ""),
        Base::Time => (2, ""),
        Base::Work => (3, ""),
        Base::Temperature => (4, ""),
        Base::Mass => (5, ""),
        Base::Noun(noun) => (6, nouns.name(*noun)),
        Base::Length => (7, ""),
    });
    let money = currency.and_then(catalog::currency).unwrap_or("money");
    let of_lumber = matches!(factors.first(), Some((Base::Money | Base::Labor, _)));
    let side = |sign: i8| -> Vec<Atom> {
        let chosen = factors.iter().filter(|(_, power)| power.signum() == sign);
        chosen
            .flat_map(|(base, power)| {
                let times = usize::from(power.unsigned_abs());
                match base {
                    Base::Length => lengths(times, if of_lumber { "bf" } else { "cu in" }),
                    Base::Money => vec![Atom::Money(money); times],
                    Base::Noun(noun) => vec![Atom::Noun(*noun); times],
                    Base::Labor if *power > 0 && dim.is_rate() => listed("min", times),
                    Base::Labor => listed("h", times),
                    Base::Time => listed("day", times),
                    Base::Work => listed("work day", times),
                    Base::Temperature => listed("F step", times),
                    Base::Mass => listed("lb", times),
                }
            })
            .collect()
    };
    // Exponents of a dimension are bounded, so the same product of units is too.
    UnitExpr::build(side(1), side(-1)).unwrap_or_else(UnitExpr::none)
}

fn listed(name: &str, times: usize) -> Vec<Atom> {
    catalog::find(name).map_or_else(Vec::new, |unit| vec![Atom::Listed(unit); times])
}

fn lengths(power: usize, volume: &str) -> Vec<Atom> {
    let mut atoms = listed(volume, power / 3);
    match power % 3 {
        1 => atoms.extend(listed("in", 1)),
        2 => atoms.extend(listed("sq ft", 1)),
        _ => {}
    }
    atoms
}

/// Why a unit could not be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum UnitErrorKind {
    /// No unit, noun or currency of this name.
    Unknown,
    /// A currency other than the job's: a job has one.
    OtherCurrency,
    /// Nothing where a unit was expected.
    Missing,
    /// More units in one expression than anyone means.
    TooMany,
}

/// A unit that could not be read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UnitError {
    /// What is wrong.
    pub kind: UnitErrorKind,
    /// The words in question, as written.
    pub found: String,
    /// Byte offset of `found` in the text given.
    pub at: usize,
    /// The nearest known spelling, or the job's currency, when one is near.
    pub suggestion: Option<String>,
}

/// Whether a word is taken by a unit, a currency or `per`, so no counted noun may bear it.
pub fn is_unit_word(word: &str) -> bool {
    word == "per" || catalog::find(word).is_some() || catalog::currency(word).is_some()
}

/// Reads a unit: `sq ft`, `min per lite`, `USD per bf`, `lb/cu ft`, `in.`, `feet`. Empty text is the
/// unit of a plain number. With a `currency`, only that one is taken; `$` and the like stand for it.
/// Errors: [`UnitError`], the first fault.
pub fn parse_unit(
    text: &str,
    nouns: &Nouns,
    currency: Option<&str>,
) -> Result<UnitExpr, UnitError> {
    parse(text, nouns, currency).map_err(|mut e| {
        if e.kind == UnitErrorKind::Unknown {
            e.suggestion = nearest(&plain(&e.found), nouns);
        }
        e
    })
}

/// Whether a text reads as a unit. Looks for no suggestion, so it is cheap to ask of texts that are none.
pub fn reads_as_unit(text: &str, nouns: &Nouns, currency: Option<&str>) -> bool {
    parse(text, nouns, currency).is_ok()
}

/// A word of a unit without its dots.
fn plain(word: &str) -> String {
    word.replace('.', "")
}

fn parse(text: &str, nouns: &Nouns, currency: Option<&str>) -> Result<UnitExpr, UnitError> {
    let pieces = split(text);
    let (mut above, mut below) = (Vec::new(), Vec::new());
    let mut under = false;
    let mut wanted = false;
    let mut at = 0;
    while let Some(piece) = pieces.get(at) {
        match piece.word {
            "per" | "/" => {
                if wanted {
                    return Err(missing(piece));
                }
                (under, wanted) = (true, true);
                at += 1;
            }
            "×" | "*" | "·" => {
                if wanted || at == 0 {
                    return Err(missing(piece));
                }
                wanted = true;
                at += 1;
            }
            _ => {
                let (atom, used) = read_atom(&pieces[at..], nouns, currency)?;
                let follows = at > 0 && !wanted;
                if follows || above.len() + below.len() >= MAX_FACTORS {
                    let kind = UnitErrorKind::TooMany;
                    return Err(UnitError {
                        kind,
                        found: piece.word.to_owned(),
                        at: piece.at,
                        suggestion: None,
                    });
                }
                if under {
                    below.push(atom)
                } else {
                    above.push(atom)
                }
                wanted = false;
                at += used;
            }
        }
    }
    if wanted {
        let kind = UnitErrorKind::Missing;
        return Err(UnitError {
            kind,
            found: String::new(),
            at: text.len(),
            suggestion: None,
        });
    }
    UnitExpr::build(above, below).ok_or_else(|| UnitError {
        kind: UnitErrorKind::TooMany,
        found: text.to_owned(),
        at: 0,
        suggestion: None,
    })
}

struct Piece<'a> {
    word: &'a str,
    at: usize,
}

/// Words, with `/`, `×`, `*`, `·`, `%` and currency signs as words of their own.
fn split(text: &str) -> Vec<Piece<'_>> {
    let mut pieces = Vec::new();
    let mut start = None;
    for (at, c) in text.char_indices() {
        let single = matches!(c, '/' | '×' | '*' | '·' | '%') || catalog::is_sign(c);
        if single || c.is_whitespace() {
            if let Some(from) = start.take() {
                pieces.push(Piece {
                    word: &text[from..at],
                    at: from,
                });
            }
            if single {
                pieces.push(Piece {
                    word: &text[at..at + c.len_utf8()],
                    at,
                });
            }
        } else if start.is_none() {
            start = Some(at);
        }
    }
    if let Some(from) = start {
        pieces.push(Piece {
            word: &text[from..],
            at: from,
        });
    }
    pieces
}

fn missing(piece: &Piece<'_>) -> UnitError {
    UnitError {
        kind: UnitErrorKind::Missing,
        found: piece.word.to_owned(),
        at: piece.at,
        suggestion: None,
    }
}

/// The unit at the start of `pieces` (never empty) and how many words it took.
fn read_atom(
    pieces: &[Piece<'_>],
    nouns: &Nouns,
    currency: Option<&str>,
) -> Result<(Atom, usize), UnitError> {
    let first = &pieces[0];
    if let Some(second) = pieces.get(1)
        && let Some(unit) = catalog::find(&format!("{} {}", plain(first.word), plain(second.word)))
    {
        return Ok((Atom::Listed(unit), 2));
    }
    let word = plain(first.word);
    if let Some(unit) = catalog::find(&word) {
        return Ok((Atom::Listed(unit), 1));
    }
    let sign = word.chars().next().filter(|c| catalog::is_sign(*c));
    let code = sign
        .and_then(|c| catalog::code_of_sign(c, currency))
        .or_else(|| catalog::currency(&word));
    if let Some(code) = code {
        return match currency {
            Some(job) if job != code => Err(UnitError {
                kind: UnitErrorKind::OtherCurrency,
                found: first.word.to_owned(),
                at: first.at,
                suggestion: Some(job.to_owned()),
            }),
            _ => Ok((Atom::Money(code), 1)),
        };
    }
    if let Some(noun) = nouns.find(&word) {
        return Ok((Atom::Noun(noun), 1));
    }
    Err(UnitError {
        kind: UnitErrorKind::Unknown,
        found: first.word.to_owned(),
        at: first.at,
        suggestion: None,
    })
}

/// The known spelling within a third of the word's length, the nearest, then the first by alphabet.
fn nearest(word: &str, nouns: &Nouns) -> Option<String> {
    // Written so by many and by no standard: lf is a running foot, sf a square one.
    match word.to_lowercase().as_str() {
        "sf" | "sft" | "sqft" => return Some("sq ft".to_owned()),
        "lf" | "lft" | "linft" => return Some("ft".to_owned()),
        // Hours and minutes are always a person's: man-hours, labor hours.
        lower => {
            if let Some(of) = ["man", "person", "labor", "labour", "worker", "crew"]
                .iter()
                .find_map(|who| lower.strip_prefix(who))
            {
                match of.trim_start_matches(['-', '_']) {
                    "" | "h" | "hr" | "hrs" | "hour" | "hours" => return Some("h".to_owned()),
                    "min" | "mins" | "minute" | "minutes" => return Some("min".to_owned()),
                    _ => {}
                }
            }
        }
    }
    let cap = (word.chars().count() / 3).max(1);
    if word.len() > 40 {
        return None;
    }
    // Of three letters or fewer most slips leave too little to go by; a letter typed twice does not: `inn`.
    if word.chars().count() < 4 {
        let letters: Vec<char> = word.to_lowercase().chars().collect();
        let twice = (1..letters.len()).find(|at| letters[*at] == letters[at - 1])?;
        let once: String = letters[..twice]
            .iter()
            .chain(&letters[twice + 1..])
            .collect();
        return catalog::find(&once).map(|_| once);
    }
    let listed = catalog::UNITS
        .iter()
        .flat_map(|u| u.aliases.iter().copied().chain([u.name]));
    let counted = nouns.iter().map(|(_, name)| name);
    listed
        .chain(counted)
        .filter(|known| known.chars().count() > 1)
        .map(|known| {
            (
                strsim::damerau_levenshtein(&word.to_lowercase(), known),
                known,
            )
        })
        .filter(|(distance, _)| *distance <= cap)
        .min()
        .map(|(_, known)| known.to_owned())
}

#[cfg(test)]
#[path = "unit_tests.rs"]
mod tests;
