//! Packs: `boxes of 100 point`, `5 lb tub`, `sheet of 32 sq ft`.

use crate::number::Exact;
use crate::units::{CellContext, Nouns, Reading, UnitExpr, read_quantity};

/// A pack things are bought in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pack {
    /// The word for it, as written: `boxes`.
    pub word: String,
    /// What one holds, in base units of the resource's dimension; above zero.
    pub holds: Exact,
}

impl Pack {
    /// The word after a number: `box` after 1, else as written.
    pub fn word_after(&self, count: &Exact) -> String {
        if *count == Exact::ONE {
            singular(&self.word)
        } else {
            plural(&self.word)
        }
    }
}

/// The singular of a pack's word by the common rules: boxes, box; tubs, tub.
pub fn singular(word: &str) -> String {
    let hissing = ["xes", "shes", "ches", "sses"]
        .iter()
        .any(|end| word.ends_with(end));
    if hissing {
        return word[..word.len() - 2].to_owned();
    }
    match word.strip_suffix("ies") {
        Some(stem) if stem.len() > 1 => format!("{stem}y"),
        _ if word.ends_with("ss") => word.to_owned(),
        _ => word.strip_suffix('s').unwrap_or(word).to_owned(),
    }
}

fn plural(word: &str) -> String {
    let one = singular(word);
    if one != word {
        return word.to_owned();
    }
    let hissing = ["x", "sh", "ch", "ss"].iter().any(|end| one.ends_with(end));
    match one
        .strip_suffix('y')
        .filter(|stem| !stem.ends_with(['a', 'e', 'i', 'o', 'u']))
    {
        Some(stem) => format!("{stem}ies"),
        None if hissing => format!("{one}es"),
        None => format!("{one}s"),
    }
}

/// Whether two words name the same pack, singular or plural, in any case.
pub(super) fn same_word(a: &str, b: &str) -> bool {
    singular(&a.trim().to_lowercase()) == singular(&b.trim().to_lowercase())
}

/// Reads the text of a pack cell for a resource counted in `unit`; `None` when it is no pack.
pub(super) fn read_pack(text: &str, unit: &UnitExpr, nouns: &Nouns) -> Option<Pack> {
    let quantity = |text: &str| -> Option<Exact> {
        let Reading::Value { value, .. } =
            read_quantity(text.trim(), &CellContext::new(unit, nouns)).ok()?;
        (value.signum() > 0).then_some(value)
    };
    let pack = |word: &str, text: &str| -> Option<Pack> {
        let word = word.trim();
        let lettered = word != "of"
            && word.starts_with(char::is_alphabetic)
            && word
                .chars()
                .all(|c| c.is_alphabetic() || matches!(c, ' ' | '-'));
        lettered.then(|| {
            quantity(text).map(|holds| Pack {
                word: word.to_owned(),
                holds,
            })
        })?
    };
    if let Some((word, amount)) = text.split_once(" of ") {
        return pack(word, amount);
    }
    if let Some(holds) = quantity(text) {
        return Some(Pack {
            word: "packs".to_owned(),
            holds,
        });
    }
    let first_digit = text.find(|c: char| c.is_numeric())?;
    match first_digit {
        0 => text
            .rsplit_once(' ')
            .and_then(|(amount, word)| pack(word, amount)),
        at => pack(&text[..at], &text[at..]),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::parse_unit;

    #[test]
    fn packs_are_read_as_suppliers_write_them() {
        let mut nouns = Nouns::new();
        nouns.intern("point");
        let cases = [
            ("boxes of 100 point", "point", "boxes", 100),
            ("box of 100", "point", "box", 100),
            ("Box 100 points", "point", "Box", 100),
            ("100", "point", "packs", 100),
            ("5 lb tub", "lb", "tub", 5),
            ("tubs of 80 oz", "lb", "tubs", 5),
            ("sheet of 32 sq ft", "sq ft", "sheet", 32 * 144),
        ];
        for (text, unit, word, holds) in cases {
            let unit = parse_unit(unit, &nouns, None).expect("a unit");
            let pack = read_pack(text, &unit, &nouns).unwrap_or_else(|| panic!("{text}"));
            assert_eq!(
                (pack.word.as_str(), pack.holds),
                (word, Exact::int(holds)),
                "{text}"
            );
        }
        let unit = parse_unit("lb", &nouns, None).expect("a unit");
        for text in [
            "",
            "box",
            "0 lb",
            "box of 5 ft",
            "of 5",
            "5 lb 3 tub",
            "-5 lb",
            "2 x 5 lb",
        ] {
            assert_eq!(read_pack(text, &unit, &nouns), None, "{text}");
        }
    }

    #[test]
    fn words_follow_their_count() {
        let word = |word: &str, n: i64| {
            Pack {
                word: word.to_owned(),
                holds: Exact::ONE,
            }
            .word_after(&Exact::int(n))
        };
        assert_eq!(
            (word("boxes", 1), word("boxes", 2), word("box", 2)),
            ("box".into(), "boxes".into(), "boxes".into())
        );
        assert_eq!(
            (word("tubs", 1), word("glass", 3), word("tray", 2)),
            ("tub".into(), "glasses".into(), "trays".into())
        );
        assert!(
            same_word("Boxes", "box") && same_word("sheets", "sheet") && !same_word("tub", "tube")
        );
    }
}
