//! Codes for surveys and their cells.

use super::Entry;

/// In order of code.
pub(super) const ENTRIES: &[Entry] = &[];
