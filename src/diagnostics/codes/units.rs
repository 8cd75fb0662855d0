//! Codes for units and dimensions.

use super::Entry;

/// In order of code.
pub(super) const ENTRIES: &[Entry] = &[];
