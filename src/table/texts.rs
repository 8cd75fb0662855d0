//! Distinct texts of a column, end to end in one piece of memory.
use crate::ids;

/// Texts by number, in the order they were added.
#[derive(Debug, Clone, Default, PartialEq, Eq, Hash)]
pub struct Texts {
    bytes: String,
    ends: Vec<usize>,
}

impl Texts {
    /// Adds a text; its number is the length before.
    pub fn push(&mut self, text: &str) {
        self.bytes.push_str(text);
        self.ends.push(self.bytes.len());
    }

    /// A text by its number.
    pub fn get(&self, id: u32) -> Option<&str> {
        let id = ids::at(id);
        let start = id
            .checked_sub(1)
            .and_then(|before| self.ends.get(before))
            .copied()
            .unwrap_or(0);
        self.ends
            .get(id)
            .and_then(|end| self.bytes.get(start..*end))
    }

    /// How many there are.
    pub fn len(&self) -> usize {
        self.ends.len()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.ends.is_empty()
    }

    /// All texts in order.
    pub fn iter(&self) -> impl Iterator<Item = &str> {
        let starts = std::iter::once(0).chain(self.ends.iter().copied());
        starts
            .zip(&self.ends)
            .map(|(start, end)| self.bytes.get(start..*end).unwrap_or(""))
    }
}

impl<'a> FromIterator<&'a str> for Texts {
    fn from_iter<I: IntoIterator<Item = &'a str>>(list: I) -> Self {
        let mut texts = Texts::default();
        list.into_iter().for_each(|text| texts.push(text));
        texts
    }
}

#[cfg(test)]
mod tests {
    use super::Texts;

    #[test]
    fn texts_come_back_by_number_and_in_order() {
        let texts: Texts = ["W1", "", "Größe"].into_iter().collect();
        assert_eq!(
            (texts.get(0), texts.get(1), texts.get(2), texts.get(3)),
            (Some("W1"), Some(""), Some("Größe"), None)
        );
        assert_eq!(texts.iter().collect::<Vec<_>>(), ["W1", "", "Größe"]);
        assert_eq!((texts.len(), Texts::default().iter().count()), (3, 0));
    }
}
