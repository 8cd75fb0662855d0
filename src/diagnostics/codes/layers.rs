//! Codes for layers, changes and trials.

use super::Entry;

/// In order of code.
pub(super) const ENTRIES: &[Entry] = &[];
