//! Marks that look alike to a person and are different to the computer: by case, by an invisible sign, by a letter that is composed or not,
//! or by a letter of another alphabet.
//!
//! Look-alikes after Unicode Technical Standard #39, "confusable detection". Must not know rows or files.

use std::hash::BuildHasher;

use foldhash::fast::FixedState;
use rayon::prelude::*;
use unicode_normalization::UnicodeNormalization;
use unicode_security::skeleton;

/// Signs that print as nothing: joiners, marks of direction, soft hyphens, selectors of variants.
fn is_invisible(c: char) -> bool {
    matches!(c, '\u{00AD}' | '\u{034F}' | '\u{061C}' | '\u{180E}' | '\u{200B}'..='\u{200F}'
        | '\u{202A}'..='\u{202E}' | '\u{2060}'..='\u{206F}' | '\u{FE00}'..='\u{FE0F}' | '\u{FEFF}')
}

/// What a mark looks like, for comparing only.
fn look(mark: &str) -> String {
    let plain: String = if mark.is_ascii() {
        mark.to_string()
    } else {
        let visible: String = mark.chars().filter(|c| !is_invisible(*c)).collect();
        skeleton(&visible).collect()
    };
    let folded = plain.chars().flat_map(char::to_lowercase).map(|c| match c {
        '0' => 'o',
        '1' | 'i' | '|' => 'l',
        c if c.is_whitespace() => ' ',
        c => c,
    });
    folded.collect::<String>().replace("rn", "m")
}

/// Two different marks that look alike, by their numbers, the lower first; in order.
pub(crate) fn pairs(marks: &[&str]) -> Vec<(usize, usize)> {
    let hasher = FixedState::default();
    let mut looks: Vec<(u64, u32)> = marks
        .par_iter()
        .enumerate()
        .filter_map(|(at, mark)| Some((hasher.hash_one(look(mark)), u32::try_from(at).ok()?)))
        .collect();
    looks.par_sort_unstable();
    let mut found = Vec::new();
    for same in looks.chunk_by(|a, b| a.0 == b.0) {
        let Some(((_, first), later)) = same.split_first() else {
            continue;
        };
        for (_, at) in later {
            found.push((crate::ids::at(*first), crate::ids::at(*at)));
        }
    }
    found.sort_unstable();
    found
}

/// In what two marks that look alike differ.
pub(crate) fn difference(a: &str, b: &str) -> &'static str {
    let visible = |t: &str| t.chars().filter(|c| !is_invisible(*c)).collect::<String>();
    if visible(a) == visible(b) {
        return "an invisible sign";
    }
    if a.nfc().eq(b.nfc()) {
        return "a letter with its accent in one sign or in two";
    }
    if a.to_lowercase() == b.to_lowercase() {
        return "capital letters";
    }
    let blank = |t: &str| {
        t.chars()
            .map(|c| if c.is_whitespace() { ' ' } else { c })
            .collect::<String>()
    };
    if blank(a) == blank(b) {
        return "a special blank";
    }
    "letters or digits that look alike"
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn marks_that_look_alike_are_paired() {
        // Capital; invisible joiner; composed and decomposed; Cyrillic A; Greek Nu; letter for digit.
        let marks = [
            "W1",
            "w1",
            "W2\u{200B}",
            "W2",
            "Café",
            "Cafe\u{301}",
            "A3",
            "\u{410}3",
            "N4",
            "\u{39d}4",
            "W10",
            "W1O",
            "East",
            "West",
            "W3",
        ];
        let found = pairs(&marks);
        assert_eq!(found, [(0, 1), (2, 3), (4, 5), (6, 7), (8, 9), (10, 11)]);
        let why: Vec<&str> = found
            .iter()
            .map(|(a, b)| difference(marks[*a], marks[*b]))
            .collect();
        assert_eq!(
            why,
            [
                "capital letters",
                "an invisible sign",
                "a letter with its accent in one sign or in two",
                "letters or digits that look alike",
                "letters or digits that look alike",
                "letters or digits that look alike"
            ]
        );
    }
}
