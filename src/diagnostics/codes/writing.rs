//! Codes for how sheets are written.

use super::Entry;

/// In order of code.
pub(super) const ENTRIES: &[Entry] = &[];
