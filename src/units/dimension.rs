//! Dimensions: what kind of thing a value measures, as exponents of the base kinds.
//!
//! Knows products, quotients and plain-word names. Must not know units or values.

use super::noun::{Noun, Nouns};

/// Greatest exponent, either way, that a dimension may reach.
pub const MAX_EXPONENT: i8 = 60;

/// A base kind of quantity.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Base {
    /// Length; base unit inch.
    Length,
    /// Mass; base unit pound (avoirdupois).
    Mass,
    /// Person-time; base unit minute. Never adds to calendar time.
    Labor,
    /// Calendar time; base unit day. An elapsed hour is a part of it.
    Time,
    /// Working days; base unit one. How many calendar days they take hangs on a calendar.
    Work,
    /// Steps of temperature; base unit a step of one degree Fahrenheit.
    Temperature,
    /// Money; base unit one unit of the job's currency.
    Money,
    /// A count; base unit one of the noun.
    Noun(Noun),
}

/// A dimension: exponents of the base kinds. Equal dimensions may be added.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Dim {
    length: i8,
    mass: i8,
    labor: i8,
    time: i8,
    work: i8,
    temperature: i8,
    money: i8,
    /// Sorted by noun, no zero exponents.
    nouns: Vec<(Noun, i8)>,
}

impl Dim {
    /// A plain number.
    pub const NONE: Dim = Dim {
        length: 0,
        mass: 0,
        labor: 0,
        time: 0,
        work: 0,
        temperature: 0,
        money: 0,
        nouns: Vec::new(),
    };

    /// One base kind to the first power.
    pub fn base(base: Base) -> Dim {
        let mut dim = Dim::NONE;
        match base {
            Base::Length => dim.length = 1,
            Base::Mass => dim.mass = 1,
            Base::Labor => dim.labor = 1,
            Base::Time => dim.time = 1,
            Base::Work => dim.work = 1,
            Base::Temperature => dim.temperature = 1,
            Base::Money => dim.money = 1,
            Base::Noun(noun) => dim.nouns.push((noun, 1)),
        }
        dim
    }

    /// Length to a power: 1 length, 2 area, 3 volume.
    pub fn length(power: i8) -> Dim {
        Dim {
            length: power,
            ..Dim::NONE
        }
    }

    /// A count of a noun.
    pub fn noun(noun: Noun) -> Dim {
        Dim::base(Base::Noun(noun))
    }

    /// The exponent of a base kind, 0 when absent.
    pub fn exponent(&self, base: Base) -> i8 {
        match base {
            Base::Length => self.length,
            Base::Mass => self.mass,
            Base::Labor => self.labor,
            Base::Time => self.time,
            Base::Work => self.work,
            Base::Temperature => self.temperature,
            Base::Money => self.money,
            Base::Noun(noun) => self
                .nouns
                .iter()
                .find(|(n, _)| *n == noun)
                .map_or(0, |(_, power)| *power),
        }
    }

    /// The base kinds present with their exponents: money, person-time, time, working days, temperature, mass, nouns, length.
    pub fn factors(&self) -> Vec<(Base, i8)> {
        let fixed = [
            (Base::Money, self.money),
            (Base::Labor, self.labor),
            (Base::Time, self.time),
            (Base::Work, self.work),
            (Base::Temperature, self.temperature),
            (Base::Mass, self.mass),
        ];
        let nouns = self
            .nouns
            .iter()
            .map(|(noun, power)| (Base::Noun(*noun), *power));
        fixed
            .into_iter()
            .chain(nouns)
            .chain([(Base::Length, self.length)])
            .filter(|(_, power)| *power != 0)
            .collect()
    }

    /// Dimension of a product. `None` when an exponent would pass [`MAX_EXPONENT`].
    pub fn mul(&self, other: &Dim) -> Option<Dim> {
        self.combine(other, 1)
    }

    /// Dimension of a quotient. `None` when an exponent would pass [`MAX_EXPONENT`].
    pub fn div(&self, other: &Dim) -> Option<Dim> {
        self.combine(other, -1)
    }

    /// Dimension of a whole power. `None` when an exponent would pass [`MAX_EXPONENT`].
    pub fn pow(&self, exponent: i32) -> Option<Dim> {
        let scale = |power: i8| bounded(i64::from(power) * i64::from(exponent));
        let mut nouns = Vec::new();
        if exponent != 0 {
            for (noun, power) in &self.nouns {
                nouns.push((*noun, scale(*power)?));
            }
        }
        Some(Dim {
            length: scale(self.length)?,
            mass: scale(self.mass)?,
            labor: scale(self.labor)?,
            time: scale(self.time)?,
            work: scale(self.work)?,
            temperature: scale(self.temperature)?,
            money: scale(self.money)?,
            nouns,
        })
    }

    /// Dimension of an `n`-th root. `None` when an exponent is not a multiple of `n`, or `n` is 0.
    pub fn root(&self, n: u32) -> Option<Dim> {
        let n = i8::try_from(n).ok().filter(|n| *n > 0);
        let Some(n) = n else {
            return (self.is_none()).then_some(Dim::NONE);
        };
        let mut root = Dim::NONE;
        for (base, power) in self.factors() {
            if power % n != 0 {
                return None;
            }
            root = root.mul(&Dim::base(base).pow(i32::from(power / n))?)?;
        }
        Some(root)
    }

    /// Whether this is a plain number.
    pub fn is_none(&self) -> bool {
        *self == Dim::NONE
    }

    /// Whether something is below the line: a rate, a pace, a price.
    pub fn is_rate(&self) -> bool {
        self.factors().iter().any(|(_, power)| *power < 0)
    }

    /// The noun, when the dimension is a count of just that noun.
    pub fn as_count(&self) -> Option<Noun> {
        match self.factors().as_slice() {
            [(Base::Noun(noun), 1)] => Some(*noun),
            _ => None,
        }
    }

    /// When `self / other` is one base kind to the power 1 or -1, that kind and the power.
    /// A mismatch of this form has one likely mend; others have none worth offering.
    pub fn single_factor_quotient(&self, other: &Dim) -> Option<(Base, i8)> {
        match self.div(other)?.factors().as_slice() {
            [(base, power @ (1 | -1))] => Some((*base, *power)),
            _ => None,
        }
    }

    fn combine(&self, other: &Dim, sign: i64) -> Option<Dim> {
        let join = |a: i8, b: i8| bounded(i64::from(a) + sign * i64::from(b));
        let mut nouns = self.nouns.clone();
        for (noun, power) in &other.nouns {
            match nouns.binary_search_by_key(noun, |(n, _)| *n) {
                Ok(at) => {
                    nouns[at].1 = join(nouns[at].1, *power)?;
                    if nouns[at].1 == 0 {
                        nouns.remove(at);
                    }
                }
                Err(at) => nouns.insert(at, (*noun, join(0, *power)?)),
            }
        }
        Some(Dim {
            length: join(self.length, other.length)?,
            mass: join(self.mass, other.mass)?,
            labor: join(self.labor, other.labor)?,
            time: join(self.time, other.time)?,
            work: join(self.work, other.work)?,
            temperature: join(self.temperature, other.temperature)?,
            money: join(self.money, other.money)?,
            nouns,
        })
    }
}

fn bounded(power: i64) -> Option<i8> {
    i8::try_from(power)
        .ok()
        .filter(|p| (-MAX_EXPONENT..=MAX_EXPONENT).contains(p))
}

/// A dimension in plain words: "a length", "person-time per lite", "a count of lites".
pub fn describe(dim: &Dim, nouns: &Nouns) -> String {
    let factors = dim.factors();
    match factors.as_slice() {
        [] => return "a plain number".to_owned(),
        [(Base::Length, 1)] => return "a length".to_owned(),
        [(Base::Length, 2)] => return "an area".to_owned(),
        [(Base::Length, 3)] => return "a volume".to_owned(),
        [(Base::Mass, 1)] => return "a weight".to_owned(),
        [(Base::Noun(noun), 1)] => return format!("a count of {}", nouns.plural_name(*noun)),
        _ => {}
    }
    let side = |sign: i8| -> Vec<String> {
        factors
            .iter()
            .filter(|(_, power)| power.signum() == sign)
            .flat_map(|(base, power)| words(*base, power.unsigned_abs(), nouns))
            .collect()
    };
    let (above, below) = (side(1).join(" × "), side(-1).join(" per "));
    match (above.is_empty(), below.is_empty()) {
        (true, _) => format!("a number per {below}"),
        (_, true) => above,
        _ => format!("{above} per {below}"),
    }
}

fn words(base: Base, power: u8, nouns: &Nouns) -> Vec<String> {
    let power = usize::from(power);
    let word = match base {
        Base::Length => {
            let mut all = vec!["volume".to_owned(); power / 3];
            match power % 3 {
                1 => all.push("length".to_owned()),
                2 => all.push("area".to_owned()),
                _ => {}
            }
            return all;
        }
        Base::Mass => "weight",
        Base::Labor => "person-time",
        Base::Time => "calendar time",
        Base::Work => "working days",
        Base::Temperature => "steps of temperature",
        Base::Money => "money",
        Base::Noun(noun) => nouns.name(noun),
    };
    vec![word.to_owned(); power]
}

#[cfg(test)]
mod tests {
    use super::*;

    fn per(a: &Dim, b: &Dim) -> Dim {
        a.div(b).expect("small exponents")
    }

    #[test]
    fn plain_words() {
        let mut nouns = Nouns::new();
        let lite = Dim::noun(nouns.intern("lite"));
        let point = Dim::noun(nouns.intern("point"));
        let (labor, money) = (Dim::base(Base::Labor), Dim::base(Base::Money));
        let cases = [
            (Dim::NONE, "a plain number"),
            (Dim::length(1), "a length"),
            (Dim::length(2), "an area"),
            (Dim::length(3), "a volume"),
            (lite.clone(), "a count of lites"),
            (per(&labor, &lite), "person-time per lite"),
            (per(&money, &Dim::length(3)), "money per volume"),
            (per(&Dim::NONE, &lite), "a number per lite"),
            (
                per(&per(&money, &lite), &Dim::length(1)),
                "money per lite per length",
            ),
            (lite.mul(&Dim::length(1)).expect("small"), "lite × length"),
            (Dim::length(5), "volume × area"),
            (Dim::base(Base::Time), "calendar time"),
            (per(&lite, &point), "lite per point"),
        ];
        for (dim, words) in cases {
            assert_eq!(describe(&dim, &nouns), words);
        }
    }

    #[test]
    fn exponents_cancel_and_are_bounded() {
        let mut nouns = Nouns::new();
        let (b, a) = (
            Dim::noun(nouns.intern("bar")),
            Dim::noun(nouns.intern("arch")),
        );
        let both = b.mul(&a).expect("small");
        assert_eq!(both, a.mul(&b).expect("small"));
        assert_eq!(per(&both, &a), b);
        assert!(per(&both, &both).is_none());
        assert_eq!(Dim::length(1).pow(i32::MAX), None);
        assert_eq!(Dim::length(60).mul(&Dim::length(1)), None);
        assert_eq!(both.pow(0), Some(Dim::NONE));
        assert_eq!(Dim::length(4).root(2), Some(Dim::length(2)));
        assert_eq!(Dim::length(3).root(2), None);
    }

    #[test]
    fn one_factor_apart() {
        let mut nouns = Nouns::new();
        let lite = nouns.intern("lite");
        let labor = Dim::base(Base::Labor);
        let pace = per(&labor, &Dim::noun(lite));
        assert_eq!(
            labor.single_factor_quotient(&pace),
            Some((Base::Noun(lite), 1))
        );
        assert_eq!(
            pace.single_factor_quotient(&labor),
            Some((Base::Noun(lite), -1))
        );
        assert_eq!(Dim::length(3).single_factor_quotient(&Dim::length(1)), None);
        assert!(pace.is_rate() && !labor.is_rate());
    }
}
