//! What may stand in each kind of target.

use calamine::{Data, Reader, Xlsx};
use ovolo::defuse::{is_hidden, starts_formula};
use std::io::{Cursor, Read};

/// Signs in a text that no output may have.
pub(super) fn harm(text: &str) -> Vec<char> {
    text.chars()
        .filter(|c| is_hidden(*c) || *c == '\r')
        .collect()
}

/// A table as CSV: no cell starts a formula, but for numbers.
pub(super) fn csv_is_harmless(text: &str, of: &str) {
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .from_reader(text.as_bytes());
    let mut cells = 0;
    for record in reader.records() {
        for cell in &record.expect("CSV") {
            let number = cell.parse::<f64>().is_ok();
            assert!(number || !starts_formula(cell), "{of}: {cell:?}");
            cells += 1;
        }
    }
    assert!(cells > 0, "{of}: no cell");
}

/// Looks at a file by its kind, and adds its texts to `all`.
pub(super) fn file_is_harmless(name: &str, kind: &str, bytes: &[u8], all: &mut String) {
    if kind == "xlsx" {
        workbook_is_harmless(name, bytes, all);
        return;
    }
    if kind == "pdf" {
        pdf_is_harmless(name, bytes);
        return;
    }
    let text = std::str::from_utf8(bytes).unwrap_or_else(|e| panic!("{name}: {e}"));
    assert!(harm(text).is_empty(), "{name}: {:?}", harm(text));
    match kind {
        "html" | "svg" => markup_is_harmless(name, text),
        "csv" => csv_is_harmless(text, name),
        "json" => {
            let whole: Result<serde_json::Value, _> = serde_json::from_str(text);
            assert!(whole.is_ok(), "{name}");
        }
        "txt" | "ovo" | "md" => {}
        kind => panic!("{name}: nothing is known of the kind {kind:?}"),
    }
    all.push_str(text);
}

const TAGS: &[&str] = &[
    "a",
    "!doctype",
    "body",
    "defs",
    "div",
    "figcaption",
    "figure",
    "g",
    "h1",
    "h2",
    "h3",
    "head",
    "html",
    "img",
    "meta",
    "p",
    "path",
    "pattern",
    "polygon",
    "polyline",
    "rect",
    "span",
    "style",
    "svg",
    "table",
    "tbody",
    "td",
    "text",
    "th",
    "thead",
    "title",
    "tr",
];

const ATTRIBUTES: &[&str] = &[
    "alt",
    "charset",
    "class",
    "colspan",
    "content",
    "d",
    "dir",
    "fill",
    "font-family",
    "font-size",
    "height",
    "html",
    "href",
    "http-equiv",
    "id",
    "lang",
    "name",
    "patternTransform",
    "patternUnits",
    "points",
    "role",
    "rowspan",
    "scope",
    "src",
    "stroke",
    "stroke-dasharray",
    "stroke-linejoin",
    "stroke-width",
    "text-anchor",
    "transform",
    "viewBox",
    "width",
    "x",
    "xmlns",
    "y",
];

/// Tags and attributes are ours alone, and nothing is fetched or run.
fn markup_is_harmless(name: &str, text: &str) {
    for tag in text.split('<').skip(1) {
        let (tag, _) = tag
            .split_once('>')
            .unwrap_or_else(|| panic!("{name}: <{tag}"));
        let tag = tag.trim_start_matches('/');
        let own = tag.split([' ', '\n', '/']).next().unwrap_or(tag);
        assert!(TAGS.contains(&own), "{name}: <{tag}>");
        // Outside of values in quotes there are names alone.
        let outside: String = tag.split('"').step_by(2).collect();
        for attribute in outside.split([' ', '\n', '/']).skip(1) {
            let attribute = attribute.trim_end_matches('=');
            let known = attribute.is_empty() || ATTRIBUTES.contains(&attribute);
            assert!(
                known && !outside.contains('\''),
                "{name}: {attribute:?} in <{tag}>"
            );
        }
        let quoted: Vec<&str> = tag.split('"').collect();
        for pair in quoted.chunks(2) {
            if let [before, value] = pair {
                let picture = value.starts_with("data:image/png;base64,");
                assert!(!before.ends_with("src=") || picture, "{name}: <{tag}>");
                // A link leads to a place on the same page.
                let place = value.strip_prefix("#b").unwrap_or_default();
                let here = !place.is_empty() && place.bytes().all(|b| b.is_ascii_digit());
                assert!(!before.ends_with("href=") || here, "{name}: <{tag}>");
                let plain = !value.contains("url(") || value.starts_with("url(#");
                assert!(plain, "{name}: <{tag}>");
            }
        }
    }
}

/// No object of a PDF runs or fetches anything.
fn pdf_is_harmless(name: &str, bytes: &[u8]) {
    assert!(bytes.starts_with(b"%PDF-"), "{name}");
    let words: [&[u8]; 7] = [
        b"/JavaScript",
        b"/JS",
        b"/URI",
        b"/Launch",
        b"/OpenAction",
        b"/EmbeddedFile",
        b"/SubmitForm",
    ];
    for word in words {
        let found = bytes.windows(word.len()).any(|w| w == word);
        assert!(!found, "{name}: {}", String::from_utf8_lossy(word));
    }
}

/// The texts of a workbook's cells with their tabs; it has no formula with a text from outside.
pub(super) fn cells(bytes: &[u8]) -> Vec<(String, String)> {
    let mut book: Xlsx<_> = Xlsx::new(Cursor::new(bytes)).expect("a workbook");
    let mut texts = Vec::new();
    for tab in book.sheet_names() {
        let formulas = book.worksheet_formula(&tab).expect("a tab");
        for (_, _, formula) in formulas.used_cells() {
            // Ours are made of names of cells, numbers and a few functions.
            let ours = |c: char| {
                c.is_ascii_uppercase() || c.is_ascii_digit() || "()+-*/,:.$!<>= ".contains(c)
            };
            let quoted = formula.split('\'').step_by(2).collect::<String>();
            assert!(quoted.chars().all(ours), "{tab}: {formula}");
            assert!(
                !formula.contains("HYPERLINK") && !formula.contains("1+1"),
                "{tab}: {formula}"
            );
        }
        let range = book.worksheet_range(&tab).expect("a tab");
        for (_, _, cell) in range.used_cells() {
            if let Data::String(text) = cell {
                texts.push((tab.clone(), text.clone()));
            }
        }
    }
    texts
}

/// No part of a workbook holds what is hidden, and none fetches or runs anything. The cells of a marked copy are the user's own.
fn workbook_is_harmless(name: &str, bytes: &[u8], all: &mut String) {
    for (tab, text) in cells(bytes) {
        assert!(
            tab != "What to mend" || harm(&text).is_empty(),
            "{name}: {text:?}"
        );
        all.push_str(&text);
    }
    let mut archive = zip::ZipArchive::new(Cursor::new(bytes)).expect("an archive");
    for at in 0..archive.len() {
        let mut part = archive.by_index(at).expect("a part");
        let place = part.name().expect("a name").to_string();
        let mut text = String::new();
        part.read_to_string(&mut text).expect("text");
        // Escapes of what XML can't hold, as the format writes them.
        let escaped = ["_x001B_", "_x0007_", "_x009B_", "_x007F_"];
        let hidden = !harm(&text).is_empty() && harm(&text).iter().any(|c| *c != '\r')
            || escaped.iter().any(|e| text.contains(e));
        // The texts of one tab of the user's stand among the texts of our list, which are looked at above.
        let own = ["app.xml", "workbook.xml", "sharedStrings.xml", "sheet1.xml"];
        let own = name.starts_with("marked") && own.iter().any(|o| place.ends_with(o));
        assert!(!hidden || own, "{name}, {place}: {text}");
        assert!(!text.contains("TargetMode=\"External\""), "{name}, {place}");
    }
}
