//! Ids of things that are in a list, each of its own type, and the lists they belong to.
//!
//! An id is checked once, when it is made: a list that holds as many items as its ids can count takes no more and says so.
//!
//! ```
//! use ovolo::ids::ById;
//! use ovolo::program::PhaseId;
//!
//! let mut phases: ById<PhaseId, &str> = ById::new();
//! let making = phases.push("Making").expect("there is room");
//! assert_eq!(phases[making], "Making");
//! ```

// A match over kinds lists them all, so that a new kind is noticed everywhere, and no conversion fails silently.
#![warn(
    clippy::wildcard_enum_match_arm,
    clippy::match_wildcard_for_single_variants
)]
#![warn(clippy::as_conversions)]

use std::fmt;
use std::marker::PhantomData;
use std::ops::{Deref, DerefMut, Index, IndexMut};

/// The place of an item in a list.
pub trait Id: Copy + Eq {
    /// How many items can be told apart.
    const MOST: usize;

    /// The id of this place; `None` from [`Id::MOST`] on.
    fn at(place: usize) -> Option<Self>;

    /// Its place.
    fn index(self) -> usize;
}

/// A list is full: its ids cannot count one more item.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Full {
    /// How many it holds.
    pub most: usize,
}

/// Declares id types over an unsigned integer.
macro_rules! ids {
    ($($(#[$doc:meta])* $name:ident($repr:ty);)*) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub struct $name(pub $repr);

        impl $name {
            /// Its place in its list.
            #[inline]
            #[expect(clippy::as_conversions, reason = "usize holds every place of 32 bits, see `at`")]
            pub const fn index(self) -> usize {
                self.0 as usize
            }
        }

        impl $crate::ids::Id for $name {
            #[expect(clippy::as_conversions, reason = "usize holds every place of 32 bits, see `at`")]
            const MOST: usize = <$repr>::MAX as usize;

            fn at(place: usize) -> Option<Self> {
                let place = <$repr>::try_from(place).ok()?;
                (place != <$repr>::MAX).then_some($name(place))
            }

            fn index(self) -> usize {
                self.index()
            }
        }
    )*};
}
pub(crate) use ids;

/// Items that are named by ids of their own type. Reads like a slice, and is indexed by its ids alone.
#[derive(Clone, PartialEq, Eq)]
pub struct ById<I, T> {
    items: Vec<T>,
    ids: PhantomData<fn() -> I>,
}

impl<I: Id, T> ById<I, T> {
    /// No items yet.
    pub const fn new() -> Self {
        ById {
            items: Vec::new(),
            ids: PhantomData,
        }
    }

    /// Adds an item and gives its id.
    ///
    /// # Errors
    /// [`Full`] when its ids cannot count one more; the item is not added.
    pub fn push(&mut self, item: T) -> Result<I, Full> {
        let id = I::at(self.items.len()).ok_or(Full { most: I::MOST })?;
        self.items.push(item);
        Ok(id)
    }

    /// The item of an id; `None` for an id of a longer list.
    pub fn get(&self, id: I) -> Option<&T> {
        self.items.get(id.index())
    }

    /// As [`ById::get`], to be changed.
    pub fn get_mut(&mut self, id: I) -> Option<&mut T> {
        self.items.get_mut(id.index())
    }

    /// Items with their ids, in order.
    pub fn entries(&self) -> impl DoubleEndedIterator<Item = (I, &T)> + ExactSizeIterator {
        let ids = |(place, item)| (I::at(place).expect("push gave it an id"), item);
        self.items.iter().enumerate().map(ids)
    }

    /// The items alone, by place.
    pub fn as_slice(&self) -> &[T] {
        &self.items
    }

    /// The ids, in order. They borrow nothing: the list may change meanwhile.
    pub fn ids(&self) -> impl Iterator<Item = I> + use<I, T> {
        (0..self.items.len()).map_while(I::at)
    }

    /// The id of the first item that fits.
    pub fn id_of(&self, fits: impl FnMut(&T) -> bool) -> Option<I> {
        I::at(self.items.iter().position(fits)?)
    }

    /// Makes room for so many items.
    pub fn reserve(&mut self, items: usize) {
        self.items.reserve(items);
    }

    /// Takes out the items from this many on.
    pub fn truncate(&mut self, len: usize) {
        self.items.truncate(len);
    }
}

impl<I, T> Default for ById<I, T> {
    fn default() -> Self {
        ById {
            items: Vec::new(),
            ids: PhantomData,
        }
    }
}

impl<I, T: fmt::Debug> fmt::Debug for ById<I, T> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.items.fmt(f)
    }
}

impl<I, T> Deref for ById<I, T> {
    type Target = [T];

    fn deref(&self) -> &[T] {
        &self.items
    }
}

impl<I, T> DerefMut for ById<I, T> {
    fn deref_mut(&mut self) -> &mut [T] {
        &mut self.items
    }
}

impl<I: Id, T> Index<I> for ById<I, T> {
    type Output = T;

    #[inline]
    fn index(&self, id: I) -> &T {
        &self.items[id.index()]
    }
}

impl<I: Id, T> IndexMut<I> for ById<I, T> {
    #[inline]
    fn index_mut(&mut self, id: I) -> &mut T {
        &mut self.items[id.index()]
    }
}

impl<'a, I, T> IntoIterator for &'a ById<I, T> {
    type Item = &'a T;
    type IntoIter = std::slice::Iter<'a, T>;

    fn into_iter(self) -> Self::IntoIter {
        self.items.iter()
    }
}

/// The place of a label, column or key in its list. Lists are bounded far below (`src/check/limits.rs`), and a place beyond them names
/// nothing: never the first of the list.
pub(crate) fn place(at: usize) -> u16 {
    u16::try_from(at).unwrap_or(u16::MAX)
}

/// The number of a row. A table has fewer rows than 32 bits can number; one beyond would be none of them.
pub(crate) fn row(at: usize) -> u32 {
    u32::try_from(at).unwrap_or(u32::MAX)
}

// Counts and places are converted here alone, so that no conversion elsewhere can fail without a word.
const _: () = assert!(usize::BITS >= u32::BITS && usize::BITS <= u64::BITS);

/// A place that is kept in 32 bits.
#[expect(
    clippy::as_conversions,
    reason = "usize has 32 bits at least, as is asserted above"
)]
pub(crate) const fn at(place: u32) -> usize {
    place as usize
}

/// A length as a number of 64 bits.
#[expect(
    clippy::as_conversions,
    reason = "usize has 64 bits at most, as is asserted above"
)]
pub(crate) const fn long(length: usize) -> u64 {
    length as u64
}

/// A size as a place: one below zero is none at all, and no list is longer than the largest.
pub(crate) fn size(size: i64) -> usize {
    usize::try_from(size.max(0)).unwrap_or(usize::MAX)
}

/// A number of things as a length; where a computer could not hold so many, the most it can.
pub(crate) fn length(number: u64) -> usize {
    usize::try_from(number).unwrap_or(usize::MAX)
}

/// A count as a number with a sign. Nothing in memory is longer than `isize::MAX`, so none is too large.
pub(crate) fn count(length: usize) -> i64 {
    i64::try_from(length).unwrap_or(i64::MAX)
}

#[cfg(test)]
mod tests {
    use super::{ById, Full};
    use crate::diagnostics::FileId;

    #[test]
    fn a_list_gives_ids_until_it_is_full() {
        let mut list: ById<FileId, usize> = ById::new();
        for n in 0..65_535 {
            assert_eq!(list.push(n).map(FileId::index), Ok(n));
        }
        assert_eq!(list.push(65_535), Err(Full { most: 65_535 }));
        assert_eq!((list.len(), list[FileId(65_534)]), (65_535, 65_534));
        assert_eq!(list.get(FileId(u16::MAX)), None);
        assert_eq!(list.id_of(|n| *n == 7), Some(FileId(7)));
        assert!(list.entries().all(|(id, n)| id.index() == *n));
    }
}
