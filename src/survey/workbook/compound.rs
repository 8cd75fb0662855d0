//! The compound file around an XLS workbook: its one stream of records is taken out and put into a new, plain compound file.
//!
//! Layout after [MS-CFB]. Chains of sectors are followed no further than the file is long, and the workbook reader sees only what was
//! checked. Must not know what the records mean.

use super::xml::Fault;

const SIGNATURE: &[u8; 8] = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1";
/// Numbers of sectors from here on mean something else.
const RESERVED: u32 = 0xffff_fffa;
const ALLOCATION: u32 = 0xffff_fffd;
const LISTING: u32 = 0xffff_fffc;
const END: u32 = 0xffff_fffe;
const FREE: u32 = 0xffff_ffff;
/// Streams shorter than this lie in small sectors.
const SMALL_STREAM: usize = 4096;
const SMALL_SECTOR: usize = 64;
const SECTOR: usize = 512;
/// Bytes of an entry of the directory.
const ENTRY: usize = 128;

fn half(bytes: &[u8], at: usize) -> Option<u16> {
    bytes
        .get(at..at + 2)?
        .try_into()
        .ok()
        .map(u16::from_le_bytes)
}

fn word(bytes: &[u8], at: usize) -> Option<u32> {
    bytes
        .get(at..at + 4)?
        .try_into()
        .ok()
        .map(u32::from_le_bytes)
}

fn words(bytes: &[u8]) -> Vec<u32> {
    let (whole, _) = bytes.as_chunks::<4>();
    whole.iter().map(|w| u32::from_le_bytes(*w)).collect()
}

fn index(number: u32) -> usize {
    usize::try_from(number).unwrap_or(usize::MAX)
}

/// A file of sectors and where each chain goes on.
struct Sectors<'b> {
    bytes: &'b [u8],
    size: usize,
    next: Vec<u32>,
}

impl Sectors<'_> {
    fn sector(&self, number: u32) -> Option<&[u8]> {
        let start = index(number).checked_mul(self.size)?;
        let sector = self.bytes.get(start..)?;
        // The last sector of a file may be cut short.
        (!sector.is_empty()).then(|| sector.get(..self.size).unwrap_or(sector))
    }

    /// The bytes of a chain, of at most `most` bytes. `None` where it leads out of the file or around in a circle.
    fn chain(&self, first: u32, most: usize) -> Option<Vec<u8>> {
        let mut bytes = Vec::new();
        let mut at = first;
        let mut left = self.bytes.len() / self.size + 1;
        while at < RESERVED && bytes.len() < most {
            left = left.checked_sub(1)?;
            let sector = self.sector(at)?;
            bytes.extend_from_slice(sector.get(..most - bytes.len()).unwrap_or(sector));
            at = self.next.get(index(at)).copied()?;
        }
        Some(bytes)
    }
}

/// What a compound file holds.
pub(super) enum Holds {
    /// A workbook's records.
    Records(Vec<u8>),
    /// Something that only opens with a password.
    Locked,
}

/// Finds the stream of records.
pub(super) fn open(bytes: &[u8]) -> Result<Holds, Fault> {
    read(bytes).ok_or_else(|| Fault::new("a compound file that is cut off or broken"))?
}

fn read(bytes: &[u8]) -> Option<Result<Holds, Fault>> {
    if !bytes.starts_with(SIGNATURE) {
        return None;
    }
    let size = match half(bytes, 30)? {
        9 => 512,
        12 => 4096,
        _ => return None,
    };
    // Sectors are counted from behind the header, which takes up a sector of its own.
    let mut sectors = Sectors {
        bytes: bytes.get(size..)?,
        size,
        next: Vec::new(),
    };
    let mut tables = words(bytes.get(76..512)?);
    let mut more = word(bytes, 68)?;
    let mut left = bytes.len() / size + 1;
    while more < RESERVED {
        left = left.checked_sub(1)?;
        tables.extend(words(sectors.sector(more)?));
        more = tables.pop()?;
    }
    let tables: Vec<u32> = tables.into_iter().filter(|t| *t < RESERVED).collect();
    if tables.len() > bytes.len() / size + 1 {
        return None;
    }
    let mut next = Vec::new();
    for table in tables {
        next.extend(words(sectors.sector(table)?));
    }
    sectors.next = next;
    let directory = sectors.chain(word(bytes, 48)?, usize::MAX)?;
    let (entries, _) = directory.as_chunks::<ENTRY>();
    let find = |name: &str| {
        entries.iter().find(|e| {
            let stored = words_of_name(e.get(..64).unwrap_or(&[]));
            stored.eq_ignore_ascii_case(name)
        })
    };
    if find("EncryptedPackage").is_some() {
        return Some(Ok(Holds::Locked));
    }
    let Some(entry) = find("Workbook").or_else(|| find("Book")) else {
        return Some(Err(Fault::new("a compound file that holds no workbook")));
    };
    let (start, length) = (word(entry, 116)?, index(word(entry, 120)?));
    let records = if length < SMALL_STREAM {
        let root = entries.first()?;
        let within = sectors.chain(word(root, 116)?, index(word(root, 120)?))?;
        let next = words(&sectors.chain(word(bytes, 60)?, usize::MAX)?);
        let small = Sectors {
            bytes: &within,
            size: SMALL_SECTOR,
            next,
        };
        small.chain(start, length)?
    } else {
        sectors.chain(start, length)?
    };
    Some(Ok(Holds::Records(records)))
}

fn words_of_name(bytes: &[u8]) -> String {
    let (halves, _) = bytes.as_chunks::<2>();
    let units = halves.iter().map(|h| u16::from_le_bytes(*h));
    char::decode_utf16(units.take_while(|u| *u != 0))
        .map(|c| c.unwrap_or(char::REPLACEMENT_CHARACTER))
        .collect()
}

/// A compound file of one stream called Workbook: a header, then the records, the directory and the allocations. `None` for more than
/// the header can point to, which is 7 MB for each further sector of pointers and never met below the size limit of files.
pub(super) fn wrap(mut records: Vec<u8>) -> Option<Vec<u8>> {
    // A stream that lies in sectors of its own is at least so long; zeros after the last record say nothing.
    records.resize(records.len().max(SMALL_STREAM).next_multiple_of(SECTOR), 0);
    let data = records.len() / SECTOR;
    let per = SECTOR / 4;
    // Allocations tell of every sector: the records, one of directory, themselves and the sectors that list them.
    let (mut tables, mut lists) = (1usize, 0usize);
    loop {
        let all = data + 1 + tables + lists;
        let wanted = all.div_ceil(per);
        let listed = wanted.saturating_sub(109).div_ceil(per - 1);
        if (wanted, listed) == (tables, lists) {
            break;
        }
        (tables, lists) = (wanted.max(tables), listed.max(lists));
    }
    let number = |n: usize| u32::try_from(n).ok();
    let (directory, table, list) = (data, data + 1, data + 1 + tables);
    let mut next: Vec<u32> = (1..=data).map(number).collect::<Option<_>>()?;
    *next.last_mut()? = END;
    next.push(END);
    next.resize(next.len() + tables, ALLOCATION);
    next.resize(next.len() + lists, LISTING);
    next.resize(tables * per, FREE);

    let mut places: Vec<u32> = (table..list).map(number).collect::<Option<_>>()?;
    let mut further = places.split_off(places.len().min(109));
    places.resize(109, FREE);
    let mut bytes = SIGNATURE.to_vec();
    bytes.extend([0; 16]);
    for value in [0x3e_u16, 3, 0xfffe, 9, 6, 0, 0, 0] {
        bytes.extend(value.to_le_bytes());
    }
    let first_list = if lists > 0 { number(list)? } else { END };
    let rest = [
        0,
        number(tables)?,
        number(directory)?,
        0,
        4096,
        END,
        0,
        first_list,
        number(lists)?,
    ];
    bytes.extend(rest.iter().chain(&places).flat_map(|w| w.to_le_bytes()));
    let length = number(records.len())?;
    bytes.append(&mut records);
    bytes.extend(entry("Root Entry", 5, 1, END, 0));
    bytes.extend(entry("Workbook", 2, FREE, 0, length));
    bytes.resize(bytes.len() + SECTOR - 2 * ENTRY, 0);
    bytes.extend(next.iter().flat_map(|w| w.to_le_bytes()));
    for at in 0..lists {
        let own: Vec<u32> = further.drain(..further.len().min(per - 1)).collect();
        let after = if at + 1 < lists {
            number(list + at + 1)?
        } else {
            END
        };
        let filled = own
            .iter()
            .copied()
            .chain(std::iter::repeat(FREE))
            .take(per - 1);
        bytes.extend(filled.chain([after]).flat_map(u32::to_le_bytes));
    }
    Some(bytes)
}

fn entry(name: &str, kind: u8, child: u32, start: u32, length: u32) -> Vec<u8> {
    let mut bytes: Vec<u8> = name.encode_utf16().flat_map(u16::to_le_bytes).collect();
    let named = u16::try_from(bytes.len() + 2).unwrap_or(64);
    bytes.resize(64, 0);
    bytes.extend(named.to_le_bytes());
    bytes.extend([kind, 1]);
    bytes.extend([FREE, FREE, child].iter().flat_map(|w| w.to_le_bytes()));
    bytes.extend([0; 36]);
    bytes.extend([start, length, 0].iter().flat_map(|w| w.to_le_bytes()));
    bytes
}

#[cfg(test)]
#[expect(
    clippy::as_conversions,
    reason = "the numbers of these tests are small"
)]
mod tests {
    use super::*;

    fn records(length: usize) -> Vec<u8> {
        (0..length).map(|i| (i % 251) as u8).collect()
    }

    #[test]
    fn what_is_wrapped_is_found_again() {
        // One sector, several sectors of allocations, and more of them than the header lists (from 7 MB on).
        for length in [1, 4096, 70_000, 9 << 20] {
            let file = wrap(records(length)).expect("wrapped");
            let Ok(Holds::Records(found)) = open(&file) else {
                panic!("{length}: not found");
            };
            assert!(found.starts_with(&records(length)), "{length}");
        }
    }

    #[test]
    fn chains_that_lead_around_or_out_of_the_file_are_faults() {
        let file = wrap(records(5000)).expect("wrapped");
        let table = file.len() - SECTOR;
        for (sector, to) in [(3usize, 0u32), (10, 10), (4, 99_999)] {
            let mut wrong = file.clone();
            let at = table + sector * 4;
            wrong[at..at + 4].copy_from_slice(&to.to_le_bytes());
            // The stream is cut to its length, so a chain that goes around may still be read; it ends all the same.
            let _ = open(&wrong);
        }
        for length in (0..file.len()).step_by(61) {
            let _ = open(&file[..length]);
        }
        let mut wrong = file.clone();
        wrong[table + 10 * 4..table + 10 * 4 + 4].copy_from_slice(&10u32.to_le_bytes());
        assert!(open(&wrong).is_err(), "the directory leads to itself");
    }
}
