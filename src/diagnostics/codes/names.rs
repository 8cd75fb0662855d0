//! Codes for names and structure.

use super::Entry;

/// In order of code.
pub(super) const ENTRIES: &[Entry] = &[];
