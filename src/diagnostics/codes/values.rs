//! Codes for missing values, choices, decisions and tables.

use super::Entry;

/// In order of code.
pub(super) const ENTRIES: &[Entry] = &[];
