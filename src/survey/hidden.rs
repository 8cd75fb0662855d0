//! Hidden rows and columns of an XLSX tab, which the workbook reader does not tell of.
//!
//! They are read like any other; a note says so, since a filter that was left on hides openings from the person who checks the survey.
//! Must not know what stands in the cells.

use super::archive::Contents;

/// Hidden rows and columns, 1-based, neighbours taken together.
#[derive(Debug, Default, PartialEq, Eq)]
pub(crate) struct Hidden {
    pub(crate) rows: Vec<(u32, u32)>,
    pub(crate) columns: Vec<(u32, u32)>,
}

/// Looks through the tab that is `index`-th of the workbook, hidden tabs counted. Where the archive is of an unusual make, nothing is found.
pub(crate) fn find(bytes: &[u8], contents: &Contents, index: usize) -> Hidden {
    let mut scan = Scan::default();
    if let Some(part) = sheet(bytes, contents, index).and_then(|name| contents.part(&name)) {
        part.pieces(bytes, &mut |piece| scan.piece(piece));
    }
    scan.hidden
}

/// Name of the part that holds a tab.
fn sheet(bytes: &[u8], contents: &Contents, index: usize) -> Option<String> {
    // Both parts are short lists; a longer one is of no workbook that people make.
    const MOST: u64 = 8 << 20;
    let text = |name: &str| {
        let content = contents.part(name)?.content(bytes, MOST)?;
        Some(String::from_utf8_lossy(&content).into_owned())
    };
    let book = text("xl/workbook.xml")?;
    let sheet = tags(&book, "sheet").nth(index)?;
    let id = attribute(sheet, "r:id").or_else(|| attribute(sheet, "id"))?;
    let relations = text("xl/_rels/workbook.xml.rels")?;
    let target = tags(&relations, "Relationship")
        .find(|t| attribute(t, "Id") == Some(id))
        .and_then(|t| attribute(t, "Target"))?;
    Some(match target.strip_prefix('/') {
        Some(whole) => whole.to_string(),
        None => format!("xl/{target}"),
    })
}

/// The attributes of every opening tag of a name.
fn tags<'t>(text: &'t str, name: &'t str) -> impl Iterator<Item = &'t str> {
    text.split('<').skip(1).filter_map(move |t| {
        let rest = t
            .strip_prefix(name)
            .or_else(|| t.split_once(':')?.1.strip_prefix(name))?;
        rest.starts_with(|c: char| c.is_whitespace())
            .then(|| rest.split('>').next().unwrap_or(""))
    })
}

fn attribute<'t>(tag: &'t str, name: &str) -> Option<&'t str> {
    tag.match_indices(name).find_map(|(at, _)| {
        let before = tag.get(..at)?.chars().next_back()?;
        let rest = tag
            .get(at + name.len()..)?
            .trim_start()
            .strip_prefix('=')?
            .trim_start();
        let quote = rest.chars().next().filter(|q| matches!(q, '"' | '\''))?;
        before
            .is_whitespace()
            .then(|| rest.get(1..)?.split(quote).next())
            .flatten()
    })
}

fn is_hidden(tag: &str) -> bool {
    matches!(attribute(tag, "hidden"), Some("1" | "true"))
}

/// Longest tag that is looked at.
const MAX_TAG: usize = 4096;

/// Looks for hidden rows and columns in the text of a tab as it comes. A hidden row that does not bear its number is not told of.
#[derive(Default)]
struct Scan {
    /// The end of the piece before: perhaps the beginning of a tag.
    rest: Vec<u8>,
    hidden: Hidden,
}

impl Scan {
    fn piece(&mut self, piece: &[u8]) {
        let mut bytes = std::mem::take(&mut self.rest);
        bytes.extend_from_slice(piece);
        let whole = bytes
            .iter()
            .rposition(|b| *b == b'<')
            .unwrap_or(bytes.len());
        let text = bytes.get(..whole).unwrap_or(&[]);
        let word = b"hidden";
        for at in text
            .iter()
            .enumerate()
            .filter(|(_, b)| **b == b'=')
            .map(|(i, _)| i)
        {
            // Nearly all tabs hide nothing, and one look at an equals sign tells.
            if !text.get(..at).is_some_and(|before| before.ends_with(word)) {
                continue;
            }
            let start = text
                .get(..at)
                .and_then(|before| before.iter().rposition(|b| *b == b'<'));
            let tag = start
                .and_then(|s| text.get(s..text.len().min(s + MAX_TAG)))
                .map(String::from_utf8_lossy);
            if let Some(tag) = tag {
                self.tag(&tag);
            }
        }
        bytes.drain(..whole);
        bytes.truncate(MAX_TAG);
        self.rest = bytes;
    }

    fn tag(&mut self, text: &str) {
        let number = |tag: &str, name| attribute(tag, name).and_then(|v| v.parse::<u32>().ok());
        for tag in tags(text, "row").take(1).filter(|t| is_hidden(t)) {
            if let Some(row) = number(tag, "r") {
                add(&mut self.hidden.rows, row, row);
            }
        }
        for tag in tags(text, "col").take(1).filter(|t| is_hidden(t)) {
            if let (Some(first), Some(last)) = (number(tag, "min"), number(tag, "max")) {
                add(&mut self.hidden.columns, first, last);
            }
        }
    }
}

fn add(ranges: &mut Vec<(u32, u32)>, first: u32, last: u32) {
    match ranges.last_mut() {
        Some(range) if range.1.checked_add(1) == Some(first) => range.1 = last,
        _ => ranges.push((first, last)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hidden_rows_and_columns_are_found_by_their_attributes_in_pieces_of_any_size() {
        let text = b"<worksheet><cols><col min=\"2\" max=\"3\" hidden=\"1\"/><col min=\"4\" max=\"4\"/></cols><sheetData>\
<row r=\"1\"/><row r=\"5\" spans=\"1:2\" hidden=\"1\"><c r=\"A5\"/></row><row r='6' hidden='true'/><row r=\"9\" hidden=\"0\"/>\
<x:row r=\"12\" hidden=\"1\"><c><is><t>hidden=</t></is></c></x:row></sheetData></worksheet>";
        for size in [1, 2, 7, 50, 1000] {
            let mut scan = Scan::default();
            for piece in text.chunks(size) {
                scan.piece(piece);
            }
            assert_eq!(
                scan.hidden,
                Hidden {
                    rows: vec![(5, 6), (12, 12)],
                    columns: vec![(2, 3)]
                },
                "{size}"
            );
        }
    }
}
