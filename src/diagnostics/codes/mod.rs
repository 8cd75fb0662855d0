//! The list of codes: one entry each, with a title and a page that `ovolo code` prints.
//!
//! Ranges: 0 files and commands, 1 writing, 2 names and structure, 3 units, 4 missing values, choices, decisions and tables,
//! 5 grain, 6 layers and trials, 7 survey, 8 prices and money, 9 running.

mod files;
mod grain;
mod layers;
mod money;
mod names;
mod running;
mod survey;
mod units;
mod values;
mod writing;

/// One code with its explanation.
#[derive(Debug, Clone, Copy)]
pub struct Entry {
    /// `OV-301`
    pub code: &'static str,
    /// A few words.
    pub title: &'static str,
    /// Why it is refused and how to mend it, in plain words; may hold a short example.
    pub page: &'static str,
}

/// Every code, in order.
pub fn all() -> impl Iterator<Item = &'static Entry> {
    [
        files::ENTRIES,
        writing::ENTRIES,
        names::ENTRIES,
        units::ENTRIES,
        values::ENTRIES,
        grain::ENTRIES,
        layers::ENTRIES,
        survey::ENTRIES,
        money::ENTRIES,
        running::ENTRIES,
    ]
    .into_iter()
    .flatten()
}

/// The entry of a code, written with or without `OV-`, in any case.
pub fn find(code: &str) -> Option<&'static Entry> {
    let digits = code
        .trim()
        .trim_start_matches(|c: char| !c.is_ascii_digit());
    all().find(|e| e.code.trim_start_matches("OV-") == digits)
}

#[cfg(test)]
mod tests {
    use super::{all, find};

    #[test]
    fn codes_are_unique_ordered_and_found() {
        let list: Vec<_> = all().map(|e| e.code).collect();
        assert!(list.windows(2).all(|w| w[0] < w[1]), "{list:?}");
        for entry in all() {
            assert_eq!(
                find(&entry.code.to_lowercase()).map(|e| e.code),
                Some(entry.code)
            );
            assert!(
                entry.page.len() > 40 && !entry.title.is_empty(),
                "{}",
                entry.code
            );
        }
    }
}
