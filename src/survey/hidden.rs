//! Hidden rows and columns of an XLSX tab, which the workbook reader does not tell of.
//!
//! They are read like any other; a note says so, since a filter that was left on hides openings from the person who checks the survey.
//! Must not know what stands in the cells.

use super::archive::{Contents, MAX_UNPACKED};

/// Hidden rows and columns, 1-based, neighbours taken together.
#[derive(Debug, Default, PartialEq, Eq)]
pub(crate) struct Hidden {
    pub(crate) rows: Vec<(u32, u32)>,
    pub(crate) columns: Vec<(u32, u32)>,
}

/// Looks through the tab that is `index`-th of the workbook, hidden tabs counted. Where the archive is of an unusual make, nothing is found.
pub(crate) fn find(bytes: &[u8], contents: &Contents, index: usize) -> Hidden {
    sheet_text(bytes, contents, index).map(|text| scan(&text)).unwrap_or_default()
}

fn sheet_text(bytes: &[u8], contents: &Contents, index: usize) -> Option<String> {
    let text = |name: &str| {
        let content = contents.part(name)?.content(bytes, MAX_UNPACKED)?;
        Some(String::from_utf8_lossy(&content).into_owned())
    };
    let book = text("xl/workbook.xml")?;
    let sheet = tags(&book, "sheet").nth(index)?;
    let id = attribute(sheet, "r:id").or_else(|| attribute(sheet, "id"))?;
    let relations = text("xl/_rels/workbook.xml.rels")?;
    let target = tags(&relations, "Relationship").find(|t| attribute(t, "Id") == Some(id)).and_then(|t| attribute(t, "Target"))?;
    match target.strip_prefix('/') {
        Some(whole) => text(whole),
        None => text(&format!("xl/{target}")),
    }
}

/// The attributes of every opening tag of a name.
fn tags<'t>(text: &'t str, name: &'t str) -> impl Iterator<Item = &'t str> {
    text.split('<').skip(1).filter_map(move |t| {
        let rest = t.strip_prefix(name).or_else(|| t.split_once(':')?.1.strip_prefix(name))?;
        rest.starts_with(|c: char| c.is_whitespace()).then(|| rest.split('>').next().unwrap_or(""))
    })
}

fn attribute<'t>(tag: &'t str, name: &str) -> Option<&'t str> {
    tag.match_indices(name).find_map(|(at, _)| {
        let before = tag.get(..at)?.chars().next_back()?;
        let rest = tag.get(at + name.len()..)?.trim_start().strip_prefix('=')?.trim_start();
        let quote = rest.chars().next().filter(|q| matches!(q, '"' | '\''))?;
        before.is_whitespace().then(|| rest.get(1..)?.split(quote).next()).flatten()
    })
}

fn is_hidden(tag: &str) -> bool {
    matches!(attribute(tag, "hidden"), Some("1" | "true"))
}

fn scan(text: &str) -> Hidden {
    let mut hidden = Hidden::default();
    // Nearly all tabs hide nothing, and one look tells.
    if !text.contains("hidden=") {
        return hidden;
    }
    let mut row = 0u32;
    for tag in tags(text, "row") {
        row = attribute(tag, "r").and_then(|r| r.parse().ok()).unwrap_or(row.saturating_add(1));
        if is_hidden(tag) {
            add(&mut hidden.rows, row, row);
        }
    }
    for tag in tags(text, "col").filter(|t| is_hidden(t)) {
        let number = |name| attribute(tag, name).and_then(|v| v.parse::<u32>().ok());
        if let (Some(first), Some(last)) = (number("min"), number("max")) {
            add(&mut hidden.columns, first, last);
        }
    }
    hidden
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
    fn hidden_rows_and_columns_are_found_by_their_attributes() {
        let text = "<worksheet><cols><col min=\"2\" max=\"3\" hidden=\"1\"/><col min=\"4\" max=\"4\"/></cols><sheetData>\
<row r=\"1\"/><row r=\"5\" spans=\"1:2\" hidden=\"1\"><c r=\"A5\"/></row><row hidden='true'/><row r=\"9\" hidden=\"0\"/><x:row r=\"12\" hidden=\"1\"/>\
</sheetData></worksheet>";
        assert_eq!(scan(text), Hidden { rows: vec![(5, 6), (12, 12)], columns: vec![(2, 3)] });
    }
}
