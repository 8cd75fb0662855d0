//! Counted nouns: lites, sashes, points. Each is a dimension of its own.
//!
//! Knows names and plurals. Must not know what is counted or where it was declared.

use foldhash::HashMap;

use crate::number::Exact;

crate::ids::ids! {
    /// A counted noun of the [`Nouns`] that made it.
    Noun(u16);
}

/// The nouns a job counts, by name.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Nouns {
    names: Vec<(String, String)>,
    by_word: HashMap<String, Noun>,
}

impl Nouns {
    /// Most nouns one job may count.
    pub const MAX: usize = 65_535;

    /// No nouns yet.
    pub fn new() -> Nouns {
        Nouns::default()
    }

    /// The noun of this singular name, made if new, with a plural by the common rules
    /// (-s, -es, -ies). Once [`Nouns::is_full`], an unknown name gives the last noun: ask first.
    pub fn intern(&mut self, name: &str) -> Noun {
        let plural = common_plural(name);
        self.intern_with_plural(name, &plural)
    }

    /// As [`Nouns::intern`] for a noun with its own plural, such as `foot` and `feet`.
    pub fn intern_with_plural(&mut self, name: &str, plural: &str) -> Noun {
        if let Some(noun) = self.find(name) {
            return noun;
        }
        let index = self.names.len().min(Nouns::MAX - 1);
        // The minimum above keeps the index within u16.
        let noun = Noun(u16::try_from(index).unwrap_or(u16::MAX - 1));
        if !self.is_full() {
            self.names.push((name.to_owned(), plural.to_owned()));
            self.by_word.insert(name.to_owned(), noun);
            self.by_word.entry(plural.to_owned()).or_insert(noun);
        }
        noun
    }

    /// Whether no further noun can be made.
    pub fn is_full(&self) -> bool {
        self.names.len() >= Nouns::MAX
    }

    /// The noun of a singular or plural word, as written or in lower case.
    pub fn find(&self, word: &str) -> Option<Noun> {
        self.by_word
            .get(word)
            .or_else(|| self.by_word.get(&word.to_lowercase()))
            .copied()
    }

    /// The singular name; "thing" for a noun of another list.
    pub fn name(&self, noun: Noun) -> &str {
        self.names.get(noun.index()).map_or("thing", |(one, _)| one)
    }

    /// The plural name; "things" for a noun of another list.
    pub fn plural_name(&self, noun: Noun) -> &str {
        self.names
            .get(noun.index())
            .map_or("things", |(_, many)| many)
    }

    /// The word that stands after this number: singular for 1 and -1, else plural.
    pub fn plural(&self, noun: Noun, count: &Exact) -> &str {
        if count.abs() == Exact::ONE {
            self.name(noun)
        } else {
            self.plural_name(noun)
        }
    }

    /// All nouns in the order they were made.
    pub fn iter(&self) -> impl Iterator<Item = (Noun, &str)> {
        self.names
            .iter()
            .zip(0u16..)
            .map(|((one, _), index)| (Noun(index), one.as_str()))
    }
}

fn common_plural(name: &str) -> String {
    let before_y = name
        .strip_suffix('y')
        .filter(|stem| !stem.ends_with(['a', 'e', 'i', 'o', 'u']));
    if let Some(stem) = before_y {
        return format!("{stem}ies");
    }
    let hisses = ["s", "x", "z", "ch", "sh"]
        .iter()
        .any(|end| name.ends_with(end));
    if hisses {
        format!("{name}es")
    } else {
        format!("{name}s")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn plurals_are_found_and_printed() {
        let mut nouns = Nouns::new();
        let lite = nouns.intern("lite");
        let sash = nouns.intern("sash");
        let pulley = nouns.intern("pulley");
        let patch = nouns.intern_with_plural("dutchman", "dutchmen");
        assert_eq!(nouns.find("lites"), Some(lite));
        assert_eq!(nouns.find("Sashes"), Some(sash));
        assert_eq!(nouns.plural_name(pulley), "pulleys");
        assert_eq!(nouns.plural(patch, &Exact::int(2)), "dutchmen");
        assert_eq!(nouns.plural(sash, &Exact::ONE), "sash");
        assert_eq!(nouns.intern("sash"), sash);
        assert_eq!(nouns.find("lit"), None);
    }
}
