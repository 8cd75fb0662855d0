//! Bytes of a text file to characters, block by block: UTF-8 with or without its mark, UTF-16 with its mark, or Windows-1252.
//!
//! A file without a mark is taken for UTF-8. The first byte that cannot be UTF-8 turns a file that was plain ASCII until then into
//! Windows-1252, with a note; where accented UTF-8 came before, the file is two encodings pasted together and is refused.
//! Must not know what a record or a cell is.

use std::io::Read;

use encoding_rs::{Decoder, UTF_16BE, UTF_16LE, WINDOWS_1252};

use crate::diagnostics::{CellPlace, Diagnostic, Place};

enum Mode {
    Unread,
    Utf8,
    Utf16(Decoder),
    Windows1252,
}

/// Reads a text file as UTF-8 whatever it was written in.
pub(crate) struct TextReader<'a> {
    name: String,
    source: Box<dyn Read + Send + 'a>,
    mode: Mode,
    /// Bytes read but not yet decoded: a character cut by the end of a block.
    rest: Vec<u8>,
    /// Whether a character beyond ASCII was read as UTF-8.
    accented: bool,
    /// Lines that end in a lone carriage return.
    old_line_ends: Option<bool>,
    line: u32,
    bytes: u64,
    notes: Vec<Diagnostic>,
}

impl<'a> TextReader<'a> {
    /// Starts on the first byte of `source`; `name` is shown in messages.
    pub(crate) fn new(name: &str, source: Box<dyn Read + Send + 'a>) -> Self {
        TextReader {
            name: name.to_string(),
            source,
            mode: Mode::Unread,
            rest: Vec::new(),
            accented: false,
            old_line_ends: None,
            line: 1,
            bytes: 0,
            notes: Vec::new(),
        }
    }

    /// Bytes taken from the source so far.
    pub(crate) fn bytes_done(&self) -> u64 {
        self.bytes
    }

    /// Notes on the encoding, reported once.
    pub(crate) fn take_notes(&mut self) -> Vec<Diagnostic> {
        std::mem::take(&mut self.notes)
    }

    /// The next characters, of about `size` bytes; `None` at the end of the file.
    /// Errors: OV-011 binary file, OV-014 two encodings, OV-020 the source failed.
    pub(crate) fn next_block(&mut self, size: usize) -> Result<Option<String>, Diagnostic> {
        let mut bytes = std::mem::take(&mut self.rest);
        let carried = bytes.len();
        let read = (&mut self.source)
            .take(crate::ids::long(size))
            .read_to_end(&mut bytes)
            .map_err(|e| {
                Diagnostic::error("OV-020", "the file could not be read to its end")
                    .at(Place::File(self.name.clone()), "")
                    .found(e.to_string())
                    .expected("a file that stays readable while it is read")
            })?;
        debug_assert_eq!(carried + read, bytes.len());
        self.bytes += crate::ids::long(read);
        let last = read < size;
        if bytes.is_empty() {
            return Ok(None);
        }
        if matches!(self.mode, Mode::Unread) {
            self.start(&mut bytes);
        }
        let text = self.decode(bytes, last)?;
        let text = self.unify_line_ends(text);
        self.line = self.line.saturating_add(lines(text.as_bytes()));
        Ok(Some(text))
    }

    fn start(&mut self, bytes: &mut Vec<u8>) {
        self.mode = match bytes.as_slice() {
            [0xef, 0xbb, 0xbf, ..] => {
                bytes.drain(..3);
                Mode::Utf8
            }
            [0xff, 0xfe, ..] => Mode::Utf16(UTF_16LE.new_decoder_with_bom_removal()),
            [0xfe, 0xff, ..] => Mode::Utf16(UTF_16BE.new_decoder_with_bom_removal()),
            _ => Mode::Utf8,
        };
    }

    fn decode(&mut self, bytes: Vec<u8>, last: bool) -> Result<String, Diagnostic> {
        if let Mode::Utf16(decoder) = &mut self.mode {
            let mut text = String::with_capacity(bytes.len() + bytes.len() / 2 + 16);
            let (_, _, broken) = decoder.decode_to_string(&bytes, &mut text, last);
            return if broken || text.contains('\0') {
                Err(self.binary(&text))
            } else {
                Ok(text)
            };
        }
        if let Some(at) = memchr::memchr(0, &bytes) {
            let before = String::from_utf8_lossy(bytes.get(..at).unwrap_or(&[])).into_owned();
            return Err(self.binary(&before));
        }
        if matches!(self.mode, Mode::Windows1252) {
            if !bytes.is_ascii() && std::str::from_utf8(&bytes).is_ok_and(|t| t.len() > 200) {
                return Err(self.mixed(""));
            }
            return Ok(WINDOWS_1252
                .decode_without_bom_handling(&bytes)
                .0
                .into_owned());
        }
        let broken = match String::from_utf8(bytes) {
            Ok(text) => {
                self.accented |= !text.is_ascii();
                return Ok(text);
            }
            Err(broken) => broken,
        };
        let error = broken.utf8_error();
        let mut bytes = broken.into_bytes();
        if error.error_len().is_some() || last {
            let good = bytes.get(..error.valid_up_to()).unwrap_or(&[]);
            if self.accented || !good.is_ascii() {
                return Err(self.mixed(&String::from_utf8_lossy(good)));
            }
            self.mode = Mode::Windows1252;
            let line = self.line.saturating_add(lines(good));
            self.notes.push(
                Diagnostic::warning("OV-027", "the file is not UTF-8; it was read as Windows-1252")
                    .at(self.cell(line), "the first character that is not UTF-8")
                    .expected("UTF-8, or UTF-16 with its mark")
                    .note("If letters with accents or signs such as ½ look wrong, save the file as \"CSV UTF-8\"."),
            );
            return Ok(WINDOWS_1252
                .decode_without_bom_handling(&bytes)
                .0
                .into_owned());
        }
        self.rest = bytes.split_off(error.valid_up_to());
        self.accented |= !bytes.is_ascii();
        // The bytes up to `valid` were checked above, so nothing is replaced here.
        Ok(String::from_utf8(bytes)
            .unwrap_or_else(|e| String::from_utf8_lossy(e.as_bytes()).into_owned()))
    }

    /// Files of old machines end lines in a lone carriage return: turned into line feeds, so lines can be counted.
    fn unify_line_ends(&mut self, text: String) -> String {
        let old = *self
            .old_line_ends
            .get_or_insert_with(|| text.contains('\r') && !text.contains('\n'));
        if old { text.replace('\r', "\n") } else { text }
    }

    fn cell(&self, line: u32) -> CellPlace {
        CellPlace {
            file: self.name.clone(),
            tab: None,
            row: line,
            column: None,
            heading: None,
        }
    }

    fn binary(&self, before: &str) -> Diagnostic {
        Diagnostic::error("OV-011", "this is not a text file: it holds zero bytes")
            .at(self.cell(self.line.saturating_add(lines(before.as_bytes()))), "the first of them")
            .expected("a CSV file in UTF-8, UTF-16 with its mark or Windows-1252, or a workbook")
            .mend("Open it in the program that wrote it and save it as CSV UTF-8 or as an XLSX workbook.")
    }

    fn mixed(&self, before: &str) -> Diagnostic {
        Diagnostic::error("OV-014", "the file mixes two encodings")
            .at(self.cell(self.line.saturating_add(lines(before.as_bytes()))), "not UTF-8, though lines before it are")
            .expected("one encoding throughout")
            .mend("Open the file, mend the letters that look wrong on that line, and save it as CSV UTF-8.")
    }
}

/// Line feeds in a text.
pub(crate) fn lines(text: &[u8]) -> u32 {
    u32::try_from(memchr::memchr_iter(b'\n', text).count()).unwrap_or(u32::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(bytes: &[u8], block: usize) -> Result<(String, Vec<&'static str>), &'static str> {
        let mut reader = TextReader::new("t.csv", Box::new(bytes));
        let mut all = String::new();
        loop {
            match reader.next_block(block) {
                Ok(Some(text)) => all.push_str(&text),
                Ok(None) => break,
                Err(d) => return Err(d.code),
            }
        }
        Ok((all, reader.take_notes().iter().map(|d| d.code).collect()))
    }

    #[test]
    fn every_encoding_gives_the_same_text_in_any_block_size() {
        let text = "Mark,Größe\nW1,30½\n";
        let utf16: Vec<u8> = text.encode_utf16().flat_map(u16::to_le_bytes).collect();
        let utf16be: Vec<u8> = text.encode_utf16().flat_map(u16::to_be_bytes).collect();
        for block in [2, 3, 7, 1000] {
            assert_eq!(read(text.as_bytes(), block), Ok((text.to_string(), vec![])));
            assert_eq!(
                read(&[b"\xef\xbb\xbf", text.as_bytes()].concat(), block.max(3)),
                Ok((text.to_string(), vec![]))
            );
            assert_eq!(
                read(&[&b"\xff\xfe"[..], &utf16].concat(), block),
                Ok((text.to_string(), vec![]))
            );
            assert_eq!(
                read(&[&b"\xfe\xff"[..], &utf16be].concat(), block),
                Ok((text.to_string(), vec![]))
            );
        }
        assert_eq!(
            read(b"Mark,Gr\xf6\xdfe\nW1,30\xbd\n", 1000),
            Ok((text.to_string(), vec!["OV-027"]))
        );
    }

    #[test]
    fn binary_and_mixed_files_are_refused() {
        assert_eq!(read(b"Mark\n\0\0\0", 1000), Err("OV-011"));
        assert_eq!(
            read(
                "Größe\n"
                    .bytes()
                    .chain(*b"30\xbd")
                    .collect::<Vec<_>>()
                    .as_slice(),
                1000
            ),
            Err("OV-014")
        );
        assert_eq!(read(b"\xff\xfeM\0\0\0", 1000), Err("OV-011"));
    }

    #[test]
    fn lone_carriage_returns_end_lines() {
        assert_eq!(read(b"a\rb\r", 1000), Ok(("a\nb\n".to_string(), vec![])));
    }
}
