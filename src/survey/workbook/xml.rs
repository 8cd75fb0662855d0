//! Walks an XML part of a workbook from its first byte to its last, so that the workbook reader never meets one that has no end.
//!
//! Must not know what the elements mean.

use std::ops::Range;
use std::sync::atomic::AtomicBool;

use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};

use super::archive::is_stopped;

/// Elements inside one another. Real parts stay under 30.
const MAX_DEPTH: usize = 256;
/// Tags and texts in one part: a tab of 1,000,000 rows of 15 cells has about 90 million.
const MAX_EVENTS: u64 = 120_000_000;
/// Events between two looks at whether the user stopped the program.
const LOOK: u64 = 1 << 16;

/// What is wrong with a part.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Fault {
    /// Tab and cell (row and column, counted from 0), where it is one cell that is wrong.
    pub(super) cell: Option<(u32, u32)>,
    pub(super) tab: Option<String>,
    /// Whether it would take more memory than a survey needs, rather than being broken.
    pub(super) is_size: bool,
    pub(super) why: String,
}

impl Fault {
    pub(super) fn new(why: impl Into<String>) -> Fault {
        Fault {
            cell: None,
            tab: None,
            is_size: false,
            why: why.into(),
        }
    }

    pub(super) fn at(row: u32, column: u32, why: impl Into<String>) -> Fault {
        Fault {
            cell: Some((row, column)),
            ..Fault::new(why)
        }
    }

    pub(super) fn size(why: impl Into<String>) -> Fault {
        Fault {
            is_size: true,
            ..Fault::new(why)
        }
    }
}

/// Is shown every element of a part, in order.
pub(super) trait Visit {
    /// An element begins; for one that is empty, [`Visit::end`] follows at once.
    fn start(&mut self, element: &BytesStart<'_>) -> Result<(), Fault>;
    /// An element ends, by its local name.
    fn end(&mut self, name: &str) -> Result<(), Fault>;
    /// Text, as written.
    fn text(&mut self, text: &str) -> Result<(), Fault>;
}

/// Shows a part to a visitor. Errors: what is wrong with it.
pub(super) fn walk(
    content: &[u8],
    stop: Option<&AtomicBool>,
    visit: &mut impl Visit,
) -> Result<(), Fault> {
    let text = std::str::from_utf8(content).map_err(|_| Fault::new("text that is not UTF-8"))?;
    let mut reader = Reader::from_str(text);
    let (mut depth, mut events, mut roots) = (0usize, 0u64, 0u32);
    loop {
        let event = reader.read_event().map_err(|e| Fault::new(e.to_string()))?;
        events += 1;
        if events > MAX_EVENTS {
            return Err(Fault::size(format!(
                "more than {MAX_EVENTS} tags and texts"
            )));
        }
        if events.is_multiple_of(LOOK) && is_stopped(stop) {
            return Err(Fault::new("stopped"));
        }
        match event {
            Event::Start(element) => {
                roots += u32::from(depth == 0);
                depth += 1;
                if depth > MAX_DEPTH {
                    return Err(Fault::size(format!(
                        "elements nested more than {MAX_DEPTH} deep"
                    )));
                }
                visit.start(&element)?;
            }
            Event::Empty(element) => {
                roots += u32::from(depth == 0);
                visit.start(&element)?;
                visit.end(local(element.name().as_ref()))?;
            }
            Event::End(element) => {
                depth = depth.saturating_sub(1);
                visit.end(local(element.name().as_ref()))?;
            }
            Event::Text(text) => visit.text(&text.into_inner())?,
            Event::CData(text) => visit.text(&text.into_inner())?,
            // A character by its number or name is one character at most.
            Event::GeneralRef(_) => visit.text("&")?,
            Event::Decl(declaration) => {
                let encoding = declaration.encoding().transpose().ok().flatten();
                if !encoding.is_none_or(|e| {
                    e.eq_ignore_ascii_case("utf-8") || e.eq_ignore_ascii_case("us-ascii")
                }) {
                    return Err(Fault::new("an encoding other than UTF-8"));
                }
            }
            Event::DocType(_) => return Err(Fault::new("a document type, which no workbook has")),
            Event::Comment(_) | Event::PI(_) => {}
            Event::Eof => break,
        }
    }
    match (depth, roots) {
        (0, 1) => Ok(()),
        (0, _) => Err(Fault::new("a part without one element around all others")),
        _ => Err(Fault::new("a part that ends before its elements do")),
    }
}

/// The value of an attribute by its whole name, as written.
pub(super) fn attribute<'e>(element: &'e BytesStart<'_>, name: &str) -> Option<&'e str> {
    let raw = element.attributes_raw();
    raw.get(attribute_in(raw, name)?)
}

/// Where the value of an attribute lies in the text of a tag. Asked for every cell, so it goes over the bytes once.
pub(super) fn attribute_in(raw: &str, name: &str) -> Option<Range<usize>> {
    let bytes = raw.as_bytes();
    let blanks = |at: usize| {
        let rest = bytes.get(at..).unwrap_or_default();
        at + rest.iter().take_while(|b| b.is_ascii_whitespace()).count()
    };
    let first = *name.as_bytes().first()?;
    let mut from = 0;
    loop {
        let start = from + memchr::memchr(first, bytes.get(from..)?)?;
        from = start + 1;
        let before = start.checked_sub(1).and_then(|b| bytes.get(b));
        let rest = bytes.get(start..)?;
        if !before.is_none_or(u8::is_ascii_whitespace) || !rest.starts_with(name.as_bytes()) {
            continue;
        }
        let sign = blanks(start + name.len());
        if bytes.get(sign) != Some(&b'=') {
            continue;
        }
        let open = blanks(sign + 1);
        let quote = *bytes.get(open).filter(|q| matches!(q, b'"' | b'\''))?;
        let value = bytes.get(open + 1..)?;
        let length = memchr::memchr(quote, value).unwrap_or(value.len());
        return Some(open + 1..open + 1 + length);
    }
}

/// A name without its prefix.
pub(super) fn local(name: &str) -> &str {
    match name.bytes().position(|b| b == b':') {
        Some(colon) => name.get(colon + 1..).unwrap_or(name),
        None => name,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    struct Counter(usize);

    impl Visit for Counter {
        fn start(&mut self, _: &BytesStart<'_>) -> Result<(), Fault> {
            self.0 += 1;
            Ok(())
        }

        fn end(&mut self, _: &str) -> Result<(), Fault> {
            Ok(())
        }

        fn text(&mut self, _: &str) -> Result<(), Fault> {
            Ok(())
        }
    }

    fn count(text: &str) -> Result<usize, String> {
        let mut counter = Counter(0);
        walk(text.as_bytes(), None, &mut counter).map_err(|f| f.why)?;
        Ok(counter.0)
    }

    #[test]
    fn whole_parts_are_walked_and_others_are_faults() {
        assert_eq!(
            count("<?xml version=\"1.0\"?><a><b/><c>x &amp; y</c></a>"),
            Ok(3)
        );
        for broken in [
            "",
            "<a>",
            "<a><b></a>",
            "<a></b>",
            "<a",
            "<a/><b/>",
            "<!DOCTYPE a><a/>",
            "<?xml version=\"1.0\" encoding=\"UTF-16\"?><a/>",
        ] {
            assert!(count(broken).is_err(), "{broken}");
        }
        assert!(count(&"<a>".repeat(300)).is_err_and(|e| e.contains("nested")));
        assert!(walk(b"<a>\xff</a>", None, &mut Counter(0)).is_err());
    }

    #[test]
    fn attributes_are_found_by_their_whole_names() {
        let element = BytesStart::from_content("c dr=\"x\" r = 'A1' t=\"s\"", 1);
        assert_eq!(attribute(&element, "r"), Some("A1"));
        assert_eq!(attribute(&element, "t"), Some("s"));
        assert_eq!(attribute(&element, "s"), None);
        let odd = BytesStart::from_content("c ref=\"r='2'\" r2=\"x\" rr r=\"\" t=s u='open", 1);
        assert_eq!(attribute(&odd, "r"), Some(""));
        assert_eq!(attribute(&odd, "t"), None);
        assert_eq!(attribute(&odd, "u"), Some("open"));
        assert_eq!(
            [local("x:row"), local("row"), local(":"), local("")],
            ["row", "row", "", ""]
        );
    }
}
