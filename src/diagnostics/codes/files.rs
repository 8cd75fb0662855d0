//! Codes for files and commands.

use super::Entry;

/// In order of code.
pub(super) const ENTRIES: &[Entry] = &[];
