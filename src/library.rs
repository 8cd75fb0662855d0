//! The shipped sheets, held by the program itself: a job uses them by name, `use "library:condition.ovo"`.
//!
//! ```
//! assert!(ovolo::library::text("library:condition.ovo").is_some());
//! ```

use sha2::{Digest, Sha256};

/// Names and texts, in order of their names; tables lie in `reference/`.
const FILES: &[(&str, &str)] = include!(concat!(env!("OUT_DIR"), "/library.rs"));

/// What the name of a shipped sheet begins with.
pub const PREFIX: &str = "library:";

/// The name of the shipped file that a sheet called `from` means by `path`; none where it means a file of its own.
pub fn name(path: &str, from: Option<&str>) -> Option<String> {
    if path.starts_with(PREFIX) {
        return Some(path.to_owned());
    }
    let folder = from?.strip_prefix(PREFIX)?.rsplit_once('/').map(|f| f.0);
    Some(match folder {
        Some(folder) => format!("{PREFIX}{folder}/{path}"),
        None => format!("{PREFIX}{path}"),
    })
}

/// The text of a shipped file by its whole name.
pub fn text(name: &str) -> Option<&'static str> {
    let name = name.strip_prefix(PREFIX)?;
    let at = FILES
        .binary_search_by(|(known, _)| (*known).cmp(name))
        .ok()?;
    FILES.get(at).map(|(_, text)| *text)
}

/// Name and text of what a sheet means by `path`, if that is a shipped file. Errors in words.
pub fn find(path: &str, from: Option<&str>) -> Option<Result<(String, String), String>> {
    let name = name(path, from)?;
    Some(match text(&name) {
        Some(text) => Ok((name, text.to_owned())),
        None => Err(format!(
            "the library has no {name}; `ovolo library` lists what it has"
        )),
    })
}

/// Names and texts of the shipped files, in order of their names.
pub fn files() -> impl Iterator<Item = (&'static str, &'static str)> {
    FILES.iter().copied()
}

/// SHA-256 over all names and texts, in hexadecimal: two programs with one hash price a job alike.
pub fn hash() -> String {
    let mut hash = Sha256::new();
    for (name, text) in FILES {
        for part in [name, text] {
            hash.update(part.len().to_le_bytes());
            hash.update(part);
        }
    }
    hex(&hash.finalize())
}

/// Bytes of a hash in hexadecimal digits.
pub fn hex(bytes: &[u8]) -> String {
    use std::fmt::Write as _;
    let mut out = String::with_capacity(2 * bytes.len());
    for byte in bytes {
        // A text takes all that is written to it.
        let _ = write!(out, "{byte:02x}");
    }
    out
}

/// Version and beginning of the hash, as a job records them: `0.1.0 3fa9c2d41b7e`.
pub fn stamp() -> String {
    let hash = hash();
    let short = hash.get(..12).unwrap_or_default();
    format!("{} {short}", env!("CARGO_PKG_VERSION"))
}

/// Whether a text has the form of [`stamp`].
pub fn is_stamp(text: &str) -> bool {
    text.split_once(' ').is_some_and(|(version, hash)| {
        version.split('.').count() == 3
            && version.split('.').all(|n| n.parse::<u32>().is_ok())
            && hash.len() == 12
            && hash.bytes().all(|b| matches!(b, b'0'..=b'9' | b'a'..=b'f'))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shipped_sheets_find_one_another_and_their_tables() {
        let (name, text) = find("library:sizes.ovo", Some("job.ovo"))
            .expect("shipped")
            .expect("there");
        assert_eq!(name, "library:sizes.ovo");
        for used in text.lines().filter_map(|l| l.strip_prefix("use \"")) {
            let used = used.trim_end_matches('"');
            assert!(find(used, Some(&name)).is_some_and(|f| f.is_ok()), "{used}");
        }
        assert!(find("reference/glass-box.csv", Some(&name)).is_some_and(|f| f.is_ok()));
        assert_eq!(find("sizes.ovo", Some("job.ovo")), None);
        let missing = find("library:size.ovo", None)
            .expect("meant")
            .expect_err("not there");
        assert!(missing.contains("library:size.ovo"), "{missing}");
    }
}
