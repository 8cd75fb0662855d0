//! Codes for prices and money.

use super::Entry;

/// In order of code.
pub(super) const ENTRIES: &[Entry] = &[];
