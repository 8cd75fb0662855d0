//! The zip archive of a workbook, inflated once under a budget and laid out again in memory without packing.
//!
//! Everything behind this module (the checks and the workbook reader) reads that layout, so both see the same parts. Must not know what a
//! part means.

use std::collections::HashSet;
use std::io::{Cursor, Read, Seek, SeekFrom, Write};
use std::ops::Range;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipArchive, ZipWriter};

/// Unpacked bytes taken in all.
pub(super) const MAX_UNPACKED: u64 = 512 << 20;
/// Unpacked bytes below which no ratio is suspicious.
const SMALL: u64 = 64 << 20;
/// Unpacked bytes for one packed byte; large real sheets stay under 60.
pub(super) const MAX_RATIO: u64 = 250;
/// Parts in one archive.
const MAX_PARTS: usize = 20_000;

/// Why an archive is refused.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Refusal {
    /// Bytes packed and unpacked, as far as they are known.
    TooLarge { packed: u64, unpacked: u64 },
    /// What is wrong with it.
    Damaged(String),
    /// The user stopped the reading.
    Stopped,
}

fn damaged(why: impl Into<String>) -> Refusal {
    Refusal::Damaged(why.into())
}

/// Bytes that several readers share.
#[derive(Debug, Clone, Default)]
pub(super) struct Shared(Arc<Vec<u8>>);

impl Shared {
    pub(super) fn new(bytes: Vec<u8>) -> Shared {
        Shared(Arc::new(bytes))
    }
}

impl AsRef<[u8]> for Shared {
    fn as_ref(&self) -> &[u8] {
        &self.0
    }
}

/// Shared bytes as a file. Reading fails once the user stops the program.
#[derive(Clone)]
pub(super) struct Bytes<'s> {
    bytes: Cursor<Shared>,
    stop: Option<&'s AtomicBool>,
}

impl<'s> Bytes<'s> {
    pub(super) fn new(bytes: Shared, stop: Option<&'s AtomicBool>) -> Bytes<'s> {
        Bytes {
            bytes: Cursor::new(bytes),
            stop,
        }
    }
}

/// Whether the user stopped the program.
pub(super) fn is_stopped(stop: Option<&AtomicBool>) -> bool {
    stop.is_some_and(|s| s.load(Ordering::Relaxed))
}

impl Read for Bytes<'_> {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        if is_stopped(self.stop) {
            return Err(std::io::Error::other("stopped"));
        }
        self.bytes.read(buffer)
    }
}

impl Seek for Bytes<'_> {
    fn seek(&mut self, to: SeekFrom) -> std::io::Result<u64> {
        self.bytes.seek(to)
    }
}

/// A part of a workbook and where its content lies.
#[derive(Debug, Clone)]
pub(super) struct Part {
    pub(super) name: String,
    range: Range<usize>,
}

/// An archive whose parts lie unpacked in memory.
#[derive(Debug, Clone, Default)]
pub(super) struct Package {
    pub(super) bytes: Shared,
    pub(super) parts: Vec<Part>,
}

impl Package {
    /// The content of a part.
    pub(super) fn content(&self, part: &Part) -> &[u8] {
        self.bytes.as_ref().get(part.range.clone()).unwrap_or(&[])
    }

    /// A part by its name, in any case.
    pub(super) fn part(&self, name: &str) -> Option<&Part> {
        self.parts
            .iter()
            .find(|p| p.name.eq_ignore_ascii_case(name))
    }

    /// The content of a part by its name, in any case.
    pub(super) fn content_of(&self, name: &str) -> Option<&[u8]> {
        self.part(name).map(|p| self.content(p))
    }

    /// The same parts, some with another content.
    pub(super) fn replaced(&self, new: &[(String, Vec<u8>)]) -> Result<Package, Refusal> {
        let mut layout = Layout::default();
        for part in &self.parts {
            let other = new.iter().find(|n| n.0 == part.name);
            let content = other.map_or_else(|| self.content(part), |n| n.1.as_slice());
            layout.begin(&part.name)?;
            layout.write(content)?;
        }
        layout.finish()
    }
}

/// Parts are written one after another, as they are.
struct Layout {
    writer: ZipWriter<Cursor<Vec<u8>>>,
}

impl Default for Layout {
    fn default() -> Self {
        Layout {
            writer: ZipWriter::new(Cursor::new(Vec::new())),
        }
    }
}

impl Layout {
    fn begin(&mut self, name: &str) -> Result<(), Refusal> {
        let options = SimpleFileOptions::default().compression_method(CompressionMethod::Stored);
        self.writer
            .start_file(name, options)
            .map_err(|e| damaged(e.to_string()))
    }

    fn write(&mut self, content: &[u8]) -> Result<(), Refusal> {
        self.writer
            .write_all(content)
            .map_err(|e| damaged(e.to_string()))
    }

    fn finish(self) -> Result<Package, Refusal> {
        let broken = |e: zip::result::ZipError| damaged(e.to_string());
        let bytes = Shared::new(self.writer.finish().map_err(broken)?.into_inner());
        let mut archive = ZipArchive::new(Cursor::new(bytes.clone())).map_err(broken)?;
        let mut parts = Vec::with_capacity(archive.len());
        for at in 0..archive.len() {
            let part = archive.by_index(at).map_err(broken)?;
            let start = part.data_start().and_then(|s| usize::try_from(s).ok());
            let size = usize::try_from(part.size()).ok();
            let (Some(start), Some(size)) = (start, size) else {
                return Err(damaged("its parts lie nowhere"));
            };
            parts.push(Part {
                name: part.name().map_err(broken)?.into_owned(),
                range: start..start + size,
            });
        }
        Ok(Package { bytes, parts })
    }
}

/// Folders of an archive whose parts hold no cells: pictures, drawings, macros and the like. They are never inflated.
const UNREAD: [&str; 14] = [
    "/media/",
    "/drawings/",
    "/charts/",
    "/embeddings/",
    "/printersettings/",
    "/pivotcache/",
    "/externallinks/",
    "/vbaproject",
    "/activex/",
    "/calcchain",
    "/customxml/",
    "/pictures/",
    "/thumbnails/",
    "/docprops/",
];

fn is_read(name: &str) -> bool {
    let name = format!("/{}", name.to_ascii_lowercase());
    let kind = name.rsplit('.').next().unwrap_or("");
    let holds_data = matches!(kind, "xml" | "rels" | "bin") || name == "/mimetype";
    holds_data && !UNREAD.iter().any(|folder| name.contains(folder))
}

/// Inflates the parts that can hold cells, or what the cells need.
pub(super) fn unpack(bytes: &[u8], stop: Option<&AtomicBool>) -> Result<Package, Refusal> {
    let broken = |_| damaged("a zip archive that is cut off or broken");
    let mut archive = ZipArchive::new(Cursor::new(bytes)).map_err(broken)?;
    if archive.len() > MAX_PARTS {
        return Err(damaged(format!("an archive of {} parts", archive.len())));
    }
    let (packed, unpacked) = sizes(&mut archive, bytes)?;
    let swollen = unpacked > SMALL && unpacked / packed.max(1) > MAX_RATIO;
    if unpacked > MAX_UNPACKED || swollen {
        return Err(Refusal::TooLarge { packed, unpacked });
    }
    let mut layout = Layout::default();
    let mut piece = vec![0; 256 << 10];
    for at in 0..archive.len() {
        let mut part = archive.by_index(at).map_err(|e| damaged(e.to_string()))?;
        let name = part.name().map_err(broken)?.into_owned();
        if !is_read(&name) {
            continue;
        }
        layout.begin(&name)?;
        let mut length = 0u64;
        loop {
            if is_stopped(stop) {
                return Err(Refusal::Stopped);
            }
            let lies = || {
                damaged(format!(
                    "its part {name} is broken or unpacks to more than it says"
                ))
            };
            let read = part.read(&mut piece).map_err(|_| lies())?;
            if read == 0 {
                break;
            }
            length += crate::ids::long(read);
            if length > part.size() {
                return Err(lies());
            }
            layout.write(piece.get(..read).unwrap_or(&[]))?;
        }
    }
    layout.finish()
}

/// Packed and unpacked bytes of the parts that are read. Errors where the archive could be read in two ways.
fn sizes(archive: &mut ZipArchive<Cursor<&[u8]>>, bytes: &[u8]) -> Result<(u64, u64), Refusal> {
    let broken = |e: zip::result::ZipError| damaged(e.to_string());
    let (mut packed, mut unpacked) = (0u64, 0u64);
    let mut names = HashSet::new();
    let mut taken: Vec<(u64, u64)> = Vec::new();
    for at in 0..archive.len() {
        let part = archive.by_index_raw(at).map_err(broken)?;
        let name = part.name().map_err(broken)?.into_owned();
        if !names.insert(name.to_ascii_lowercase()) {
            return Err(damaged(format!("two parts are called {name}")));
        }
        let start = part.data_start().unwrap_or(0);
        taken.push((
            part.header_start(),
            start.saturating_add(part.compressed_size()),
        ));
        if is_read(&name) {
            packed = packed.saturating_add(part.compressed_size());
            unpacked = unpacked.saturating_add(part.size());
        }
    }
    // What no part takes up must hold no second table of contents, which another program might read instead.
    let directory = archive.central_directory_start();
    taken.sort_unstable();
    let mut end = 0;
    for (from, to) in taken.into_iter().chain([(directory, directory)]) {
        if from < end {
            return Err(damaged("parts that lie over one another"));
        }
        let gap = bytes.get(index(end)..index(from)).unwrap_or(&[]);
        if TABLES.iter().any(|mark| contains(gap, mark)) {
            return Err(damaged("an archive with two tables of contents"));
        }
        end = to;
    }
    let tail = bytes.get(index(directory)..).unwrap_or(&[]);
    let entries = memchr::memmem::find_iter(tail, TABLES[0]).count();
    if entries != archive.len() || !agrees(tail, directory) {
        return Err(damaged("an archive with two tables of contents"));
    }
    Ok((packed, unpacked))
}

/// Marks of an entry of a table of contents, of its end record and of the wide end record.
const TABLES: [&[u8]; 3] = [b"PK\x01\x02", b"PK\x05\x06", b"PK\x06\x06"];

fn index(at: u64) -> usize {
    usize::try_from(at).unwrap_or(usize::MAX)
}

fn contains(bytes: &[u8], mark: &[u8]) -> bool {
    memchr::memmem::find(bytes, mark).is_some()
}

/// Whether the one end record, and the wide one where there is one, point to the table of contents that was read.
fn agrees(tail: &[u8], directory: u64) -> bool {
    let field = |at: usize, length: usize| {
        let bytes = tail.get(at..at + length)?.iter().rev();
        Some(bytes.fold(0u64, |sum, b| sum << 8 | u64::from(*b)))
    };
    let mut ends = memchr::memmem::find_iter(tail, TABLES[1]);
    let (Some(end), None) = (ends.next(), ends.next()) else {
        return false;
    };
    let mut wide = memchr::memmem::find_iter(tail, TABLES[2]);
    let told = field(end + 16, 4);
    match (wide.next(), wide.next()) {
        (None, _) => told == Some(directory),
        (Some(wide), None) => {
            let is_left_open = told == Some(u64::from(u32::MAX)) || told == Some(directory);
            is_left_open && field(wide + 48, 8) == Some(directory)
        }
        (Some(_), Some(_)) => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn packed(parts: &[(&str, &[u8])]) -> Vec<u8> {
        let mut writer = ZipWriter::new(Cursor::new(Vec::new()));
        for (name, content) in parts {
            writer
                .start_file(*name, SimpleFileOptions::default())
                .expect("begun");
            writer.write_all(content).expect("written");
        }
        writer.finish().expect("finished").into_inner()
    }

    #[test]
    fn parts_are_laid_out_as_they_were_packed_and_pictures_are_left_out() {
        let long = b"<a/>".repeat(100_000);
        let bytes = packed(&[("a.xml", &long), ("xl/media/p.xml", b"p"), ("b.xml", b"b")]);
        let package = unpack(&bytes, None).expect("an archive");
        let names: Vec<&str> = package.parts.iter().map(|p| p.name.as_str()).collect();
        assert_eq!(names, ["a.xml", "b.xml"]);
        assert_eq!(package.content_of("A.xml"), Some(long.as_slice()));
        let new = package.replaced(&[("b.xml".into(), b"c".to_vec())]);
        let new = new.expect("laid out");
        assert_eq!(new.content_of("b.xml"), Some(b"c".as_slice()));
        assert_eq!(new.content_of("a.xml"), Some(long.as_slice()));
    }

    #[test]
    fn a_cut_archive_is_damaged_and_one_within_another_has_two_tables() {
        let whole = packed(&[("a.xml", b"<a/>")]);
        for length in 0..whole.len() {
            assert!(unpack(&whole[..length], None).is_err(), "{length}");
        }
        let two = [whole.clone(), whole].concat();
        assert!(matches!(unpack(&two, None), Err(Refusal::Damaged(_))));
    }

    #[test]
    fn stopping_ends_the_unpacking() {
        let bytes = packed(&[("a.xml", b"<a/>")]);
        let stop = AtomicBool::new(true);
        assert_eq!(unpack(&bytes, Some(&stop)).err(), Some(Refusal::Stopped));
    }
}
