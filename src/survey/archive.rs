//! The table of contents of a zip archive, looked at before anything is unpacked: what is in it and how large it says it becomes.
//!
//! A workbook of a few kilobytes may unpack to gigabytes, and may lie about it. Must not know what the parts mean.

use super::inflate;

/// Unpacked bytes taken in all.
pub(crate) const MAX_UNPACKED: u64 = 1 << 30;
/// Unpacked bytes below which no ratio is suspicious.
const SMALL: u64 = 64 << 20;
/// Unpacked bytes for one packed byte; large real sheets stay under 60.
pub(crate) const MAX_RATIO: u64 = 250;
/// Parts in one archive.
const MAX_PARTS: usize = 20_000;

/// A part of an archive, as the table of contents tells.
#[derive(Debug, PartialEq, Eq)]
pub(crate) struct Part {
    pub(crate) name: String,
    packed: u64,
    unpacked: u64,
    /// 0 stored, 8 deflated.
    method: u64,
    /// Where its local header begins.
    offset: usize,
}

impl Part {
    /// Its packed bytes.
    fn data<'b>(&self, bytes: &'b [u8]) -> Option<&'b [u8]> {
        let start = self.offset
            + 30
            + place(bytes, self.offset + 26, 2)?
            + place(bytes, self.offset + 28, 2)?;
        bytes.get(start..start.checked_add(usize::try_from(self.packed).ok()?)?)
    }

    /// Whether it unpacks to no more than it says. Parts too small to do harm are believed.
    fn is_honest(&self, bytes: &[u8]) -> bool {
        const HARMLESS: u64 = 64 << 10;
        match (self.method, self.data(bytes)) {
            (8, Some(_)) if self.packed <= HARMLESS => true,
            (8, Some(data)) => inflate::count(data, self.unpacked).is_some(),
            (0, Some(_)) => self.packed == self.unpacked,
            _ => false,
        }
    }

    /// Hands on its content piece by piece, as far as it can be unpacked.
    pub(crate) fn pieces(&self, bytes: &[u8], each: &mut dyn FnMut(&[u8])) {
        match (self.method, self.data(bytes)) {
            (0, Some(data)) => each(data),
            // What comes before a break is looked at all the same.
            (8, Some(data)) => inflate::unpack_in_pieces(data, MAX_UNPACKED, each).unwrap_or(()),
            _ => {}
        }
    }

    /// Its content, of at most `most` bytes.
    pub(crate) fn content(&self, bytes: &[u8], most: u64) -> Option<Vec<u8>> {
        let data = self.data(bytes)?;
        match self.method {
            0 if self.packed <= most => Some(data.to_vec()),
            8 => inflate::unpack(data, most),
            _ => None,
        }
    }
}

/// What an archive says of itself.
#[derive(Debug, Default, PartialEq, Eq)]
pub(crate) struct Contents {
    /// The parts, in order.
    pub(crate) parts: Vec<Part>,
    /// Bytes when unpacked.
    pub(crate) unpacked: u64,
    /// Bytes as packed.
    pub(crate) packed: u64,
}

impl Contents {
    /// Whether it unpacks to more than is taken.
    pub(crate) fn is_bomb(&self) -> bool {
        let swollen = self.unpacked > SMALL && self.unpacked / self.packed.max(1) > MAX_RATIO;
        self.unpacked > MAX_UNPACKED || swollen
    }

    /// The first part that unpacks to more than it says.
    pub(crate) fn liar(&self, bytes: &[u8]) -> Option<&Part> {
        self.parts.iter().find(|p| !p.is_honest(bytes))
    }

    /// A part by its name, in any case.
    pub(crate) fn part(&self, name: &str) -> Option<&Part> {
        self.parts
            .iter()
            .find(|p| p.name.eq_ignore_ascii_case(name))
    }
}

fn number(bytes: &[u8], at: usize, length: usize) -> Option<u64> {
    let slice = bytes.get(at..at.checked_add(length)?)?;
    Some(
        slice
            .iter()
            .rev()
            .fold(0, |sum, b| (sum << 8) | u64::from(*b)),
    )
}

fn place(bytes: &[u8], at: usize, length: usize) -> Option<usize> {
    usize::try_from(number(bytes, at, length)?).ok()
}

/// Reads the table of contents. `None` where it is broken or cut off.
pub(crate) fn contents(bytes: &[u8]) -> Option<Contents> {
    let tail = bytes.len().saturating_sub(22 + 65_535);
    let end = (tail..=bytes.len().checked_sub(22)?)
        .rev()
        .find(|at| bytes.get(*at..at + 4) == Some(b"PK\x05\x06"))?;
    let (mut count, mut at) = (place(bytes, end + 10, 2)?, place(bytes, end + 16, 4)?);
    // Large archives keep their numbers in a second record, which a third one just before `end` points to.
    let locator = end
        .checked_sub(20)
        .filter(|l| bytes.get(*l..l + 4) == Some(b"PK\x06\x07"));
    if let Some(locator) = locator {
        let record = place(bytes, locator + 8, 8)?;
        if bytes.get(record..record.checked_add(4)?) == Some(b"PK\x06\x06") {
            count = place(bytes, record + 32, 8)?;
            at = place(bytes, record + 48, 8)?;
        }
    }
    if count > MAX_PARTS {
        return None;
    }
    let mut found = Contents::default();
    for _ in 0..count {
        if bytes.get(at..at.checked_add(4)?) != Some(b"PK\x01\x02") {
            return None;
        }
        let (name, extra, comment) = (
            place(bytes, at + 28, 2)?,
            place(bytes, at + 30, 2)?,
            place(bytes, at + 32, 2)?,
        );
        let (packed, unpacked) = (number(bytes, at + 20, 4)?, number(bytes, at + 24, 4)?);
        let fields = bytes.get(at + 46 + name..at + 46 + name + extra)?;
        let (packed, unpacked) = wide_sizes(fields, packed, unpacked);
        found.packed = found.packed.saturating_add(packed);
        found.unpacked = found.unpacked.saturating_add(unpacked);
        found.parts.push(Part {
            name: String::from_utf8_lossy(bytes.get(at + 46..at + 46 + name)?).into_owned(),
            packed,
            unpacked,
            method: number(bytes, at + 10, 2)?,
            offset: place(bytes, at + 42, 4)?,
        });
        at = at + 46 + name + extra + comment;
    }
    Some(found)
}

/// Sizes past four bytes stand in an extra field of kind 1, the unpacked one first.
fn wide_sizes(fields: &[u8], packed: u64, unpacked: u64) -> (u64, u64) {
    const FULL: u64 = 0xffff_ffff;
    let mut at = 0;
    while let (Some(kind), Some(length)) = (number(fields, at, 2), place(fields, at + 2, 2)) {
        if kind == 1 {
            let first = number(fields, at + 4, 8);
            let second = number(fields, at + 12, 8);
            return match (unpacked == FULL, packed == FULL) {
                (true, true) => (second.unwrap_or(u64::MAX), first.unwrap_or(u64::MAX)),
                (true, false) => (packed, first.unwrap_or(u64::MAX)),
                (false, true) => (first.unwrap_or(u64::MAX), unpacked),
                (false, false) => (packed, unpacked),
            };
        }
        at += 4 + length;
    }
    (packed, unpacked)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// One stored part, written after the layout of the zip format: local header, data, central entry, end record.
    fn archive(name: &str, says: u32) -> Vec<u8> {
        let mut bytes = b"PK\x03\x04".to_vec();
        bytes.resize(30, 0);
        bytes.extend(name.bytes());
        let central = bytes.len() as u32;
        let mut entry = b"PK\x01\x02".to_vec();
        entry.resize(46, 0);
        entry[20..24].copy_from_slice(&10u32.to_le_bytes());
        entry[24..28].copy_from_slice(&says.to_le_bytes());
        entry[28..30].copy_from_slice(&(name.len() as u16).to_le_bytes());
        bytes.extend(entry);
        bytes.extend(name.bytes());
        let mut end = b"PK\x05\x06".to_vec();
        end.resize(22, 0);
        end[10] = 1;
        end[16..20].copy_from_slice(&central.to_le_bytes());
        bytes.extend(end);
        bytes
    }

    #[test]
    fn sizes_are_read_and_bombs_seen() {
        let small = contents(&archive("a.xml", 1000));
        let part = Part {
            name: "a.xml".into(),
            packed: 10,
            unpacked: 1000,
            method: 0,
            offset: 0,
        };
        assert_eq!(
            small,
            Some(Contents {
                parts: vec![part],
                unpacked: 1000,
                packed: 10
            })
        );
        assert!(small.is_some_and(|c| !c.is_bomb()));
        assert!(contents(&archive("a.xml", 100 << 20)).is_some_and(|c| c.is_bomb()));
    }

    #[test]
    fn a_cut_archive_has_no_contents() {
        let whole = archive("a.xml", 1000);
        for length in 0..whole.len() {
            assert_eq!(contents(&whole[..length]), None, "{length}");
        }
    }
}
