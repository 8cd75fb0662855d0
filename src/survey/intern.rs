//! Texts held once each, found again by hash. Made for columns of a million marks or of three wings alike.
//!
//! Must not know columns or cells.

use std::hash::{BuildHasher, RandomState};
use std::sync::OnceLock;

/// A free slot of the index.
const FREE: u32 = u32::MAX;

/// Texts in order of first appearance; each has the number of its place.
#[derive(Debug, Clone, Default)]
pub(crate) struct Pool {
    texts: Vec<String>,
    hashes: Vec<u64>,
    /// Open addressing, a power of two long, at most half full.
    slots: Vec<u32>,
}

impl Pool {
    /// Number of a text, added if it is new.
    pub(crate) fn intern(&mut self, text: &str) -> u32 {
        let hash = hash(text);
        match self.find(text, hash) {
            Ok(id) => id,
            Err(slot) => self.add(text.to_string(), hash, slot),
        }
    }

    /// Numbers here for all numbers of another pool, whose texts move over.
    pub(crate) fn absorb(&mut self, other: Pool) -> Vec<u32> {
        let each = other.texts.into_iter().zip(other.hashes);
        each.map(|(text, hash)| match self.find(&text, hash) {
            Ok(id) => id,
            Err(slot) => self.add(text, hash, slot),
        })
        .collect()
    }

    /// A text by its number.
    pub(crate) fn get(&self, id: u32) -> Option<&str> {
        self.texts.get(id as usize).map(String::as_str)
    }

    /// All texts.
    pub(crate) fn into_texts(self) -> Vec<String> {
        self.texts
    }

    /// The number, or the slot where it belongs.
    fn find(&mut self, text: &str, hash: u64) -> Result<u32, usize> {
        if self.slots.len() < 2 * (self.texts.len() + 1) {
            self.grow();
        }
        let mask = self.slots.len() - 1;
        let mut at = hash as usize & mask;
        loop {
            let id = self.slots[at];
            if id == FREE {
                return Err(at);
            }
            if self.hashes[id as usize] == hash && self.texts[id as usize] == text {
                return Ok(id);
            }
            at = (at + 1) & mask;
        }
    }

    fn add(&mut self, text: String, hash: u64, slot: usize) -> u32 {
        // A table has fewer than 2^32 - 1 rows, so it has fewer texts.
        let id = u32::try_from(self.texts.len()).unwrap_or(FREE - 1);
        self.texts.push(text);
        self.hashes.push(hash);
        self.slots[slot] = id;
        id
    }

    fn grow(&mut self) {
        let length = (self.slots.len() * 2).max(16);
        self.slots = vec![FREE; length];
        for (id, hash) in self.hashes.iter().enumerate() {
            let mut at = *hash as usize & (length - 1);
            while self.slots[at] != FREE {
                at = (at + 1) & (length - 1);
            }
            self.slots[at] = u32::try_from(id).unwrap_or(FREE - 1);
        }
    }
}

/// A quick hash with a seed of this run, so that nobody can write a survey whose marks all fall into one slot. It decides no order.
fn hash(text: &str) -> u64 {
    static SEED: OnceLock<u64> = OnceLock::new();
    let seed = *SEED.get_or_init(|| RandomState::new().hash_one(1));
    let fold = |h: u64, part: u64| {
        let wide = u128::from(h ^ part).wrapping_mul(0x9e37_79b9_7f4a_7c15_f39c_c060_5ced_c835);
        (wide >> 64) as u64 ^ wide as u64
    };
    let mut chunks = text.as_bytes().chunks_exact(8);
    let mut h = seed ^ text.len() as u64;
    for chunk in &mut chunks {
        h = fold(h, chunk.iter().rev().fold(0, |sum, b| (sum << 8) | u64::from(*b)));
    }
    let rest = chunks.remainder().iter().rev().fold(0, |sum, b| (sum << 8) | u64::from(*b));
    fold(fold(h, rest), seed)
}

#[cfg(test)]
mod tests {
    use super::Pool;

    #[test]
    fn texts_keep_their_numbers_through_growth_and_joining() {
        let mut a = Pool::default();
        let ids: Vec<u32> = (0..10_000).map(|i| a.intern(&format!("W{}", i % 5_000))).collect();
        assert!((0..5_000).all(|i| ids[i] == i as u32 && ids[i + 5_000] == i as u32));
        let mut b = Pool::default();
        for text in ["W4999", "new", "W0", ""] {
            b.intern(text);
        }
        assert_eq!(a.absorb(b), [4_999, 5_000, 0, 5_001]);
        assert_eq!((a.get(5_000), a.get(5_001), a.get(5_002)), (Some("new"), Some(""), None));
        assert_eq!(a.into_texts().len(), 5_002);
    }
}
