//! Texts held once each, found again by hash. Made for columns of a million marks or of three wings alike.
//!
//! Must not know columns or cells.

use std::hash::{BuildHasher, Hasher};

use foldhash::fast::RandomState;
use hashbrown::HashTable;
use hashbrown::hash_table::Entry;

use crate::table::Texts;

/// Texts in order of first appearance; each has the number of its place.
#[derive(Debug, Clone, Default)]
pub(crate) struct Pool {
    texts: Texts,
    numbers: HashTable<Numbered>,
    /// Of this run, so that nobody can write a survey whose marks all meet in one place. It decides no order.
    hasher: RandomState,
}

/// The number of a text with half its hash: other texts are told apart, and the table grows, without a look at them.
#[derive(Debug, Clone, Copy)]
struct Numbered {
    id: u32,
    hash: u32,
}

impl Pool {
    /// A pool of texts that are all different.
    pub(crate) fn of(texts: &Texts) -> Pool {
        let mut pool = Pool::default();
        pool.numbers
            .reserve(texts.len(), |known| spread(known.hash));
        pool.intern_all(texts);
        pool
    }

    /// Number of a text, if it is there.
    pub(crate) fn find(&self, text: &str) -> Option<u32> {
        let hash = self.hash(text);
        let same = |known: &Numbered| known.hash == hash && self.texts.get(known.id) == Some(text);
        self.numbers.find(spread(hash), same).map(|known| known.id)
    }

    #[expect(
        clippy::as_conversions,
        reason = "the lower half of a hash is a hash too"
    )]
    fn hash(&self, text: &str) -> u32 {
        let mut hasher = self.hasher.build_hasher();
        hasher.write(text.as_bytes());
        hasher.finish() as u32
    }

    /// Number of a text, added if it is new.
    pub(crate) fn intern(&mut self, text: &str) -> u32 {
        self.intern_hashed(text, self.hash(text))
    }

    /// Numbers of all texts of a part. What is worked out before lets the machine look at several places of the table at once.
    pub(crate) fn intern_all(&mut self, texts: &Texts) -> Vec<u32> {
        let hashes: Vec<u32> = texts.iter().map(|text| self.hash(text)).collect();
        texts
            .iter()
            .zip(hashes)
            .map(|(text, hash)| self.intern_hashed(text, hash))
            .collect()
    }

    fn intern_hashed(&mut self, text: &str, hash: u32) -> u32 {
        let same = |known: &Numbered| known.hash == hash && self.texts.get(known.id) == Some(text);
        match self
            .numbers
            .entry(spread(hash), same, |known| spread(known.hash))
        {
            Entry::Occupied(known) => known.get().id,
            Entry::Vacant(free) => {
                let id = next(&self.texts);
                free.insert(Numbered { id, hash });
                self.texts.push(text);
                id
            }
        }
    }

    /// A new number for a text that nobody will look for here.
    pub(crate) fn add(&mut self, text: &str) -> u32 {
        let id = next(&self.texts);
        self.texts.push(text);
        id
    }

    /// A text by its number.
    pub(crate) fn get(&self, id: u32) -> Option<&str> {
        self.texts.get(id)
    }

    /// All texts.
    pub(crate) fn texts(&self) -> &Texts {
        &self.texts
    }

    /// The same, and nothing else.
    pub(crate) fn into_texts(self) -> Texts {
        self.texts
    }
}

/// The number of the next text. A table has fewer than 2^32 rows, so it has fewer texts.
fn next(texts: &Texts) -> u32 {
    u32::try_from(texts.len()).unwrap_or(u32::MAX)
}

/// The table takes the place from the low bits and a first check from the highest.
fn spread(hash: u32) -> u64 {
    u64::from(hash) << 32 | u64::from(hash)
}

#[cfg(test)]
#[expect(
    clippy::as_conversions,
    reason = "the numbers of these tests are small"
)]
mod tests {
    use super::Pool;

    #[test]
    fn texts_keep_their_numbers_through_growth() {
        let mut a = Pool::default();
        let ids: Vec<u32> = (0..10_000)
            .map(|i| a.intern(&format!("W{}", i % 5_000)))
            .collect();
        assert!((0..5_000).all(|i| ids[i] == i as u32 && ids[i + 5_000] == i as u32));
        assert_eq!(
            (
                a.find("W4999"),
                a.find("new"),
                Pool::of(a.texts()).find("W4999")
            ),
            (Some(4_999), None, Some(4_999))
        );
        assert_eq!(
            ["W4999", "new", "W0", ""].map(|text| a.intern(text)),
            [4_999, 5_000, 0, 5_001]
        );
        assert_eq!(
            (a.get(5_000), a.get(5_001), a.get(5_002)),
            (Some("new"), Some(""), None)
        );
        assert_eq!(a.into_texts().len(), 5_002);
    }
}
