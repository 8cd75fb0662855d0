//! Codes for grain.

use super::Entry;

/// In order of code.
pub(super) const ENTRIES: &[Entry] = &[];
