//! Workbooks of all kinds, whose structure is mutated: parts of the archive, tags and attributes, records. Read or refused with a message.

#![no_main]

use std::io::{Cursor, Read, Write};

use libfuzzer_sys::{fuzz_mutator, fuzz_target, fuzzer_mutate};
use ovolo::check::{self, Checked, Finder, Options};
use ovolo::diagnostics::any_error;
use ovolo::program::TableId;
use ovolo::survey::{Content, ReadOptions, SetAside, SourceFile, read};
use std::sync::LazyLock;
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipArchive, ZipWriter};

struct Base;

impl Finder for Base {
    fn find(&self, path: &str, _from: Option<&str>) -> Result<(String, String), String> {
        Ok((
            path.into(),
            include_str!("../../tests/cases/base.ovo").into(),
        ))
    }
}

static CHECKED: LazyLock<Option<Checked>> = LazyLock::new(|| {
    let (loaded, _) = check::load(&["base.ovo".to_string()], &Base);
    check::check(&loaded, Options::default()).0
});

fuzz_target!(|bytes: &[u8]| {
    let Some(checked) = CHECKED.as_ref() else {
        panic!("the base sheet is sound")
    };
    let program = &checked.program;
    // An odd number of bytes is read leniently: one reading for each execution.
    let lenient = bytes.len() % 2 == 1;
    let set_aside = if lenient {
        SetAside::AllUnreadable
    } else {
        SetAside::Nothing
    };
    let options = ReadOptions {
        set_aside,
        decimal_comma: lenient,
        keep_text: lenient,
        ..ReadOptions::default()
    };
    let file = SourceFile {
        name: "survey".into(),
        content: Content::Bytes(bytes.to_vec()),
    };
    match read(
        &program.tables[TableId(0)].schema,
        &program.nouns,
        Some("USD"),
        vec![file],
        &options,
        None,
    ) {
        Ok(reading) => {
            assert!(!any_error(&reading.report.warnings));
            assert_eq!(reading.table.rows, reading.table.places.len());
        }
        Err(problems) => assert!(any_error(&problems), "refused without a word"),
    }
});

/// Numbers drawn from a seed.
struct Dice(u64);

impl Dice {
    fn roll(&mut self, below: usize) -> usize {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as usize % below.max(1)
    }
}

fuzz_mutator!(|data: &mut [u8], size: usize, max_size: usize, seed: u32| {
    let mut dice = Dice(u64::from(seed));
    // Now and then the bytes of the file itself, as any fuzzer would.
    if dice.roll(8) == 0 {
        return fuzzer_mutate(data, size, max_size);
    }
    let bytes = data.get(..size).unwrap_or(&[]);
    let new = if bytes.starts_with(b"PK") {
        packed(bytes, &mut dice)
    } else {
        records(bytes, &mut dice)
    };
    match new.filter(|n| n.len() <= max_size) {
        Some(new) => {
            data[..new.len()].copy_from_slice(&new);
            new.len()
        }
        None => fuzzer_mutate(data, size, max_size),
    }
});

type Part = (String, Vec<u8>);

fn packed(bytes: &[u8], dice: &mut Dice) -> Option<Vec<u8>> {
    let mut archive = ZipArchive::new(Cursor::new(bytes)).ok()?;
    let mut parts: Vec<Part> = Vec::new();
    for at in 0..archive.len() {
        let part = archive.by_index(at).ok()?;
        let name = part.name().ok()?.into_owned();
        let mut content = Vec::new();
        part.take(1 << 20).read_to_end(&mut content).ok()?;
        parts.push((name, content));
    }
    for _ in 0..=dice.roll(3) {
        mutate_part(&mut parts, dice)?;
    }
    let mut writer = ZipWriter::new(Cursor::new(Vec::new()));
    let method = if dice.roll(4) == 0 {
        CompressionMethod::Stored
    } else {
        CompressionMethod::Deflated
    };
    for (name, content) in parts {
        writer
            .start_file(
                name,
                SimpleFileOptions::default().compression_method(method),
            )
            .ok()?;
        writer.write_all(&content).ok()?;
    }
    Some(writer.finish().ok()?.into_inner())
}

fn mutate_part(parts: &mut Vec<Part>, dice: &mut Dice) -> Option<()> {
    if parts.is_empty() {
        return None;
    }
    // Tabs, texts and formats more often than the rest.
    let weighty: Vec<usize> = (0..parts.len())
        .filter(|p| {
            ["sheet", "content", "haredStrings", "styles", "workbook"]
                .iter()
                .any(|w| parts[*p].0.contains(w))
        })
        .collect();
    let at = match (dice.roll(4), weighty.is_empty()) {
        (0, _) | (_, true) => dice.roll(parts.len()),
        _ => weighty[dice.roll(weighty.len())],
    };
    let other = dice.roll(parts.len());
    match dice.roll(24) {
        0 => {
            parts.remove(at);
        }
        1 => {
            let copy = parts[other].1.clone();
            parts[at].1 = copy;
        }
        2 => {
            let length = dice.roll(parts[at].1.len());
            parts[at].1.truncate(length);
        }
        3 => parts[at].0 = parts[other].0.to_uppercase(),
        _ if parts[at].0.ends_with(".bin") => parts[at].1 = binary(&parts[at].1, dice, false),
        _ => parts[at].1 = tags(&parts[at].1, dice),
    }
    Some(())
}

/// Values that are at the edge of something.
const EDGES: [&str; 24] = [
    "",
    "0",
    "-1",
    "1",
    "255",
    "256",
    "1048576",
    "1048577",
    "16384",
    "16385",
    "2147483648",
    "4294967295",
    "4294967297",
    "18446744073709551616",
    "1e308",
    "NaN",
    "inf",
    "0.1",
    "A1",
    "XFD1048576",
    "ZZZZ99999999",
    "s",
    "str",
    "inlineStr",
];

/// Changes a tag or an attribute of a text.
fn tags(content: &[u8], dice: &mut Dice) -> Vec<u8> {
    let text = String::from_utf8_lossy(content).into_owned();
    let mut pieces: Vec<String> = text.split_inclusive('>').map(str::to_string).collect();
    if pieces.is_empty() {
        return content.to_vec();
    }
    let (at, other) = (dice.roll(pieces.len()), dice.roll(pieces.len()));
    match dice.roll(8) {
        0 => {
            pieces.remove(at);
        }
        1 => {
            let copy = pieces[other].clone();
            pieces.insert(at, copy);
        }
        2 => pieces.swap(at, other),
        3 => {
            // A run of tags, many times over.
            let end = (at + 1 + dice.roll(6)).min(pieces.len());
            let run = pieces[at..end].concat();
            // A part of the fuzzer's own making stays small enough to be packed.
            if text.len() < 256 << 10 && run.len() < 4 << 10 {
                pieces.insert(at, run.repeat(1 << dice.roll(7)));
            }
        }
        4 => pieces[at] = pieces[at].replacen("/>", ">", 1),
        5 => {
            // The text between two tags.
            if let Some((_, tag)) = pieces[at].clone().split_once('<') {
                pieces[at] = format!("{}<{tag}", EDGES[dice.roll(EDGES.len())]);
            }
        }
        _ => {
            // The value of an attribute.
            let quotes: Vec<usize> = pieces[at].match_indices('"').map(|q| q.0).collect();
            if quotes.len() > 1 {
                let pair = dice.roll(quotes.len() / 2) * 2;
                pieces[at].replace_range(
                    quotes[pair] + 1..quotes[pair + 1],
                    EDGES[dice.roll(EDGES.len())],
                );
            }
        }
    }
    pieces.concat().into_bytes()
}

/// Changes a record of an XLS file, where it lies in the compound file.
fn records(bytes: &[u8], dice: &mut Dice) -> Option<Vec<u8>> {
    if !bytes.starts_with(b"\xd0\xcf\x11\xe0") {
        return None;
    }
    // Now and then the compound file itself: its header, its allocations, its directory.
    if dice.roll(6) == 0 {
        let mut new = bytes.to_vec();
        let at = (dice.roll(new.len() / 4)) * 4;
        let value = [0u32, 1, 2, 0xffff_fffe, 0xffff_ffff, 0x7fff_ffff, 3][dice.roll(7)];
        new.get_mut(at..at + 4)?
            .copy_from_slice(&value.to_le_bytes());
        return Some(new);
    }
    // Streams begin at a sector, with the record that begins them.
    let starts: Vec<usize> = (512..bytes.len())
        .step_by(512)
        .filter(|at| bytes[*at..].starts_with(&[9, 8]))
        .collect();
    let start = *starts.get(dice.roll(starts.len()))?;
    let mut new = bytes.get(..start)?.to_vec();
    new.extend(binary(&bytes[start..], dice, true));
    Some(new)
}

/// Changes a record of a stream: its length stays, unless `wide` records of XLS give way to one another.
fn binary(stream: &[u8], dice: &mut Dice, wide: bool) -> Vec<u8> {
    let mut places = Vec::new();
    let mut at = 0;
    while at + 4 < stream.len() {
        let (head, length) = if wide {
            (
                4,
                usize::from(u16::from_le_bytes([stream[at + 2], stream[at + 3]])),
            )
        } else {
            let head = if stream[at] & 0x80 != 0 { 3 } else { 2 };
            (head, usize::from(stream[at + head - 1] & 0x7f))
        };
        places.push((at, head, length));
        at += head + length;
    }
    let mut new = stream.to_vec();
    let Some((at, head, length)) = places.get(dice.roll(places.len())).copied() else {
        return new;
    };
    match dice.roll(6) {
        0 => {
            // Another kind of record.
            let (other, _, _) = places[dice.roll(places.len())];
            let size = 2.min(head);
            new[at..at + size].copy_from_slice(&stream[other..other + size]);
        }
        1 if head == 4 => {
            // A length that is not so.
            let wrong = [0u16, 1, 2, 8, 0xffff, 8224][dice.roll(6)];
            new[at + 2..at + 4].copy_from_slice(&wrong.to_le_bytes());
        }
        2 => {
            // Two records in each other's place.
            let (other, _, _) = places[dice.roll(places.len())];
            let end = (other + head + length).min(stream.len());
            let copy = stream[other..end].to_vec();
            let room = copy.len().min(new.len() - at);
            new[at..at + room].copy_from_slice(&copy[..room]);
        }
        _ if length > 0 => {
            // A number in it.
            let byte = at + head + dice.roll(length);
            let value = [0u8, 1, 2, 0x7f, 0x80, 0xfe, 0xff][dice.roll(7)];
            for place in byte..(byte + 1 + dice.roll(4)).min(new.len()) {
                new[place] = value;
            }
        }
        _ => {}
    }
    new
}
