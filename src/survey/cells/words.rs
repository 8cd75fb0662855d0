//! Words that mean something in any column, and the spellings of choices. Must not know columns.

/// Ditto marks and words.
pub(super) fn is_ditto(text: &str) -> bool {
    match text.chars().next() {
        Some('"' | '″' | '〃' | '”' | '“' | '„' | '\'' | '’' | '-' | '–') => {
            let core = text.trim_matches(['-', '–', ' ']);
            matches!(core, "\"" | "″" | "〃" | "”" | "“" | "„" | "''" | "’’")
        }
        Some('d' | 'D' | 's' | 'S') => ["ditto", "do.", "same", "same as above", "as above"]
            .iter()
            .any(|w| text.eq_ignore_ascii_case(w)),
        Some('a' | 'A') => text.eq_ignore_ascii_case("as above"),
        _ => false,
    }
}

/// The ways of saying "not applicable".
pub(super) fn is_not_applicable(text: &str) -> bool {
    matches!(text.as_bytes().first(), Some(b'n' | b'N'))
        && ["n/a", "na", "n.a.", "n.a", "n / a", "not applicable"]
            .iter()
            .any(|w| text.eq_ignore_ascii_case(w))
}

/// Errors of workbooks that arrive as text, as some formats hand them over.
pub(super) fn is_error_text(text: &str) -> bool {
    text.starts_with('#')
        && [
            "#N/A", "#NAME?", "#REF!", "#VALUE!", "#DIV/0!", "#NUM!", "#NULL!", "#SPILL!", "#CALC!",
        ]
        .iter()
        .any(|w| text.eq_ignore_ascii_case(w))
}

/// The usual ways of typing the labels of a choice. There are few of one length, so a look through them is quicker than a hash.
#[derive(Default)]
pub(super) struct Spellings {
    by_length: Vec<Vec<(String, u16)>>,
}

impl Spellings {
    /// The label typed so.
    pub(super) fn get(&self, text: &str) -> Option<u16> {
        self.by_length
            .get(text.len())?
            .iter()
            .find(|(form, _)| form == text)
            .map(|(_, index)| *index)
    }

    /// Adds a way of typing a label; the first label of two counts.
    pub(super) fn add(&mut self, form: String, index: u16) {
        if self.get(&form).is_none() {
            if self.by_length.len() <= form.len() {
                self.by_length.resize_with(form.len() + 1, Vec::new);
            }
            if let Some(list) = self.by_length.get_mut(form.len()) {
                list.push((form, index));
            }
        }
    }
}
