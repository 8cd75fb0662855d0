//! Codes for what can only be seen while running.

use super::Entry;

/// In order of code.
pub(super) const ENTRIES: &[Entry] = &[];
