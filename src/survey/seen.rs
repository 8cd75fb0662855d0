//! What cells of the same text were read as before, in one column: a measure of a survey is typed over and over.
//!
//! Must not know how cells are read.

use std::hash::BuildHasher;

use foldhash::fast::RandomState;
use hashbrown::HashTable;

use crate::number::Exact;

use super::cells::Normalised;

/// Texts kept; a column of more different ones gains nothing by it.
const MOST: usize = 4096;
/// Longest text kept, in bytes.
const LONGEST: usize = 15;

/// Short texts of one column and what each was read as.
#[derive(Debug, Default)]
pub(crate) struct Seen {
    cells: HashTable<(Key, SeenCell)>,
    /// What was made plain in reading some of them.
    notes: Vec<(Key, Vec<Normalised>)>,
    hasher: RandomState,
}

/// A text that was read.
#[derive(Debug)]
pub(crate) struct SeenCell {
    pub(crate) value: SeenValue,
    /// How often it came again.
    pub(crate) again: u64,
}

/// A value that a text stands for wherever it is in its column.
#[derive(Debug)]
pub(crate) enum SeenValue {
    /// With its numerator over the denominator that its column had when it was last added.
    Number(Exact, (i64, i64)),
    /// With its number in the column.
    Text(u32),
    Choice(u16),
    YesNo(bool),
    Date(i32),
}

impl Seen {
    /// The cell of this text, if one was read before.
    pub(crate) fn find(&mut self, text: &str) -> Option<&mut SeenCell> {
        let key = key(text)?;
        self.cells
            .find_mut(self.hasher.hash_one(key), |known| known.0 == key)
            .map(|known| &mut known.1)
    }

    /// Keeps what a text was read as.
    pub(crate) fn keep(&mut self, text: &str, value: SeenValue, notes: &[Normalised]) {
        if let (Some(key), true) = (key(text), self.has_room()) {
            let cell = SeenCell { value, again: 0 };
            self.cells
                .insert_unique(self.hasher.hash_one(key), (key, cell), |known| {
                    self.hasher.hash_one(known.0)
                });
            if !notes.is_empty() {
                self.notes.push((key, notes.to_vec()));
            }
        }
    }

    /// What was made plain in the cells that came again, and how often; the count begins anew.
    pub(crate) fn take_notes(&mut self) -> Vec<(Normalised, u64)> {
        let mut taken = Vec::new();
        for (key, notes) in &self.notes {
            let cell = self
                .cells
                .find_mut(self.hasher.hash_one(key), |known| known.0 == *key);
            let again = cell.map_or(0, |known| std::mem::take(&mut known.1.again));
            if again > 0 {
                taken.extend(notes.iter().map(|note| (note.clone(), again)));
            }
        }
        taken
    }

    /// Whether more texts can be kept.
    pub(crate) fn has_room(&self) -> bool {
        self.cells.len() < MOST
    }
}

/// The bytes of a short text, with their number in the highest byte.
type Key = (u64, u64);

fn key(text: &str) -> Option<Key> {
    let bytes = text.as_bytes();
    let length = bytes.len();
    // Runs of four or eight bytes that overlap: quicker than byte by byte.
    let (low, high) = match length {
        0 => (0, 0),
        1..=3 => (
            u64::from(*bytes.first()?) << 16
                | u64::from(*bytes.get(length / 2)?) << 8
                | u64::from(*bytes.last()?),
            0,
        ),
        4..=7 => (
            u64::from(u32::from_le_bytes(*bytes.first_chunk()?)) << 32
                | u64::from(u32::from_le_bytes(*bytes.last_chunk()?)),
            0,
        ),
        8 => (u64::from_le_bytes(*bytes.first_chunk()?), 0),
        9..=LONGEST => (
            u64::from_le_bytes(*bytes.first_chunk()?),
            u64::from_le_bytes(*bytes.last_chunk()?) >> (8 * (16 - length)),
        ),
        _ => return None,
    };
    Some((low, high | crate::ids::long(length) << 56))
}

#[cfg(test)]
#[expect(
    clippy::as_conversions,
    reason = "the numbers of these tests are small"
)]
mod tests {
    use super::{LONGEST, MOST, Seen, SeenValue};

    #[test]
    fn short_texts_are_known_again_and_told_apart() {
        let mut seen = Seen::default();
        let long = "x".repeat(LONGEST + 1);
        for (i, text) in ["66%", "66", "66\0", "", &long].into_iter().enumerate() {
            assert!(seen.find(text).is_none());
            seen.keep(
                text,
                SeenValue::Choice(i as u16),
                &["with a percent sign".into()],
            );
        }
        for (i, text) in ["66%", "66", "66\0", ""].into_iter().enumerate() {
            let known = seen.find(text).expect("put in before");
            known.again += i as u64;
            assert!(matches!(known.value, SeenValue::Choice(c) if c == i as u16));
        }
        assert!(seen.find(&long).is_none());
        assert_eq!(
            seen.take_notes().iter().map(|n| n.1).collect::<Vec<_>>(),
            [1, 2, 3]
        );
        assert!(seen.take_notes().is_empty());
        let mut texts: Vec<String> = (0..LONGEST)
            .map(|n| "abcdefghijklmnop"[..=n].to_string())
            .collect();
        texts.extend((0..LONGEST).flat_map(|n| {
            (0..=n).map(move |i| {
                format!(
                    "{}X{}",
                    &"abcdefghijklmnop"[..i],
                    &"abcdefghijklmnop"[i + 1..=n]
                )
            })
        }));
        let keys: std::collections::HashSet<_> = texts
            .iter()
            .map(|t| super::key(t).expect("a short text"))
            .collect();
        assert_eq!(keys.len(), texts.len());
        for i in 0..2 * MOST {
            seen.keep(&format!("W{i}"), SeenValue::YesNo(true), &[]);
        }
        assert!(
            seen.find(&format!("W{}", MOST - 5)).is_some()
                && seen.find(&format!("W{MOST}")).is_none()
        );
    }
}
