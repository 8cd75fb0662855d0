//! "Did you mean": the nearest of the names that would fit.
//!
//! ```
//! use ovolo::diagnostics::suggest::nearest;
//! assert_eq!(nearest("glas", ["glass", "points"]), Some("glass"));
//! assert_eq!(nearest("linseed", ["glass", "points"]), None);
//! ```

/// Characters of a name that is still looked up: comparing takes the product of two lengths, and a longer one is no slip of a name.
const MOST_CHARS: usize = 100;

/// The candidate nearest to `word`, if near enough (about a third of its length) to be worth offering.
/// Ties go to the first in the alphabet, so the same inputs always suggest the same name.
pub fn nearest<'a>(word: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let length = word.chars().take(MOST_CHARS + 1).count();
    let limit = (length / 3).max(1);
    if length > MOST_CHARS {
        return None;
    }
    let lower = word.to_lowercase();
    candidates
        .into_iter()
        // Two words are at least as far apart as their lengths. Lower case may be longer by a sign or two.
        .filter(|c| *c != word && c.chars().count().abs_diff(length) <= limit + 2)
        .map(|c| (strsim::damerau_levenshtein(&lower, &c.to_lowercase()), c))
        // A word of one letter is near to every other; at least one letter must be shared.
        .filter(|(d, _)| *d <= limit && *d < lower.chars().count())
        .min()
        .map(|(_, c)| c)
}

/// Words of a list that are shown.
const MOST_LISTED: usize = 40;

/// Words in a row; of a long list the first and how many more there are.
pub fn listed(words: &[impl AsRef<str>]) -> String {
    let shown = words.iter().take(MOST_LISTED).map(AsRef::as_ref);
    let list = shown.collect::<Vec<&str>>().join(", ");
    match words.len().saturating_sub(MOST_LISTED) {
        0 => list,
        more => format!("{list} and {more} more"),
    }
}

#[cfg(test)]
mod tests {
    use super::{listed, nearest};

    #[test]
    fn long_lists_are_cut() {
        assert_eq!(listed(&["a", "b"]), "a, b");
        let many: Vec<String> = (0..43).map(|n| n.to_string()).collect();
        assert!(listed(&many).ends_with(", 38, 39 and 3 more"));
    }

    #[test]
    fn offers_only_near_names() {
        assert_eq!(
            nearest("widht", ["width", "height", "panes"]),
            Some("width")
        );
        assert_eq!(nearest("wide", ["putty", "glazier"]), None);
        assert_eq!(nearest("aa", ["ac", "ab"]), Some("ab"));
        assert_eq!(nearest("a", ["b", "c"]), None);
        // One slip for every three letters.
        assert_eq!(nearest("hieghz", ["height", "width"]), Some("height"));
        assert_eq!(nearest("wodtz", ["width", "height"]), None);
        let long = "x".repeat(101);
        assert_eq!(nearest(&long, [&long[1..]]), None);
    }
}
