//! What the parts of an XLSX workbook hold that the workbook reader does not tell, or would not survive: found in one walk over each part.
//!
//! Hidden rows and columns, merged areas, formulas without a stored result, texts that are named by a number no text has; and counts of
//! all that the reader keeps in memory. Must not know what is in the cells.

use std::collections::HashMap;
use std::sync::atomic::AtomicBool;

use quick_xml::escape::unescape;
use quick_xml::events::BytesStart;
use rayon::prelude::*;

use super::archive::{Package, Part};
use super::xml::{Fault, Visit, attribute, local, walk};

/// Hidden rows and columns, 1-based, neighbors taken together.
#[derive(Debug, Default, Clone, PartialEq, Eq)]
pub(crate) struct Hidden {
    pub(crate) rows: Vec<(u32, u32)>,
    pub(crate) columns: Vec<(u32, u32)>,
}

/// An area of merged cells: first and last row, first and last column, counted from 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Area {
    pub(super) rows: (u32, u32),
    pub(super) columns: (u32, u32),
}

/// What was found in a part.
#[derive(Debug, Default)]
pub(super) struct Facts {
    pub(super) hidden: Hidden,
    pub(super) merged: Vec<Area>,
    /// Row and column, counted from 0, of formulas without a stored result, in order.
    pub(super) open: Vec<(u32, u32)>,
    /// The highest number by which a shared text is named, and its cell.
    highest: Option<(u64, (u32, u32))>,
    counts: HashMap<&'static str, u64>,
}

/// Elements that the reader keeps, and how many are taken in a workbook. Spreadsheet programs write at most 65,490 cell formats.
const MOST: [(&str, u64); 9] = [
    ("xf", 131_072),
    ("font", 65_536),
    ("fill", 65_536),
    ("border", 65_536),
    ("numFmt", 65_536),
    ("sheet", 1_024),
    ("definedName", 65_536),
    ("Relationship", 65_536),
    ("si", 4_194_304),
];
/// Longest value of an attribute of what the reader copies into every cell format.
const LONGEST: usize = 1_024;
/// Rows and columns of a tab.
const GRID: (u32, u32) = (1_048_576, 16_384);

/// Where the walk is within a cell.
#[derive(Default)]
struct Cell {
    at: (u32, u32),
    shared: bool,
    formula: bool,
    value: bool,
    in_value: bool,
}

#[derive(Default)]
struct Walk {
    facts: Facts,
    cell: Option<Cell>,
    row: u32,
    column: u32,
}

impl Walk {
    fn row_starts(&mut self, element: &BytesStart<'_>) -> Result<(), Fault> {
        if let Some(told) = attribute(element, "r") {
            let row = told.parse::<u32>().ok().filter(|r| *r >= 1 && *r <= GRID.0);
            self.row = row.ok_or_else(|| Fault::new(format!("a row with the number {told}")))? - 1;
        }
        self.column = 0;
        if is_hidden(element) {
            add(&mut self.facts.hidden.rows, self.row + 1, self.row + 1);
        }
        Ok(())
    }

    fn cell_starts(&mut self, element: &BytesStart<'_>) -> Result<(), Fault> {
        if let Some(told) = attribute(element, "r") {
            let at = position(told);
            (self.row, self.column) =
                at.ok_or_else(|| Fault::new(format!("a cell with the name {told}")))?;
        }
        self.cell = Some(Cell {
            at: (self.row, self.column),
            shared: attribute(element, "t") == Some("s"),
            ..Cell::default()
        });
        self.column += 1;
        Ok(())
    }

    fn cell_ends(&mut self) {
        if let Some(cell) = self.cell.take()
            && cell.formula
            && !cell.value
        {
            self.facts.open.push(cell.at);
        }
    }

    fn count(&mut self, name: &str, element: &BytesStart<'_>) -> Result<(), Fault> {
        if name == "sst" {
            let told = attribute(element, "uniqueCount").and_then(|c| c.parse::<u64>().ok());
            let texts = self.facts.counts.entry("si").or_default();
            // The reader makes room for as many as are reported.
            if told.is_some_and(|c| c > MOST[8].1) {
                return Err(Fault::size(format!("{} texts", told.unwrap_or(*texts))));
            }
        }
        let Some((kept, most)) = MOST.iter().find(|m| m.0 == name) else {
            return Ok(());
        };
        if *kept != "si" && element.attributes_raw().len() > LONGEST {
            return Err(Fault::size(format!(
                "a {kept} of more than {LONGEST} letters"
            )));
        }
        let count = self.facts.counts.entry(kept).or_default();
        *count += 1;
        // One part may hold too many alone; then the rest of it need not be walked.
        if *count > *most {
            return Err(too_many(kept, *most));
        }
        Ok(())
    }
}

impl Visit for Walk {
    fn start(&mut self, element: &BytesStart<'_>) -> Result<(), Fault> {
        let name = element.name();
        match (local(name.as_ref()), &mut self.cell) {
            ("v", Some(cell)) => {
                cell.in_value = true;
                Ok(())
            }
            ("f", Some(cell)) => {
                cell.formula = true;
                Ok(())
            }
            ("is", Some(cell)) => {
                cell.value = true;
                Ok(())
            }
            ("c", _) => self.cell_starts(element),
            ("row", _) => self.row_starts(element),
            ("col", _) => {
                let number = |name| attribute(element, name).and_then(|v| v.parse::<u32>().ok());
                if let (true, Some(first), Some(last)) =
                    (is_hidden(element), number("min"), number("max"))
                {
                    add(&mut self.facts.hidden.columns, first, last);
                }
                Ok(())
            }
            ("mergeCell", _) => {
                self.facts
                    .merged
                    .extend(attribute(element, "ref").and_then(area));
                Ok(())
            }
            // Fonts and the like hold their names in elements of their own.
            ("name" | "rFont" | "color", _) if element.attributes_raw().len() > LONGEST => Err(
                Fault::size(format!("a name of more than {LONGEST} letters")),
            ),
            (name, _) => self.count(name, element),
        }
    }

    fn end(&mut self, name: &str) -> Result<(), Fault> {
        match name {
            "c" => self.cell_ends(),
            "row" => self.row = self.row.saturating_add(1),
            "v" => {
                if let Some(cell) = &mut self.cell {
                    cell.in_value = false;
                }
            }
            _ => {}
        }
        Ok(())
    }

    fn text(&mut self, text: &str) -> Result<(), Fault> {
        let Some(cell) = self.cell.as_mut().filter(|c| c.in_value) else {
            return Ok(());
        };
        cell.value = true;
        if cell.shared {
            let (row, column) = cell.at;
            let digits = text.strip_prefix('+').unwrap_or(text);
            let Ok(number) = digits.parse::<u64>() else {
                return Err(Fault::at(
                    row,
                    column,
                    format!("the shared text number {text}"),
                ));
            };
            if self.facts.highest.is_none_or(|h| h.0 < number) {
                self.facts.highest = Some((number, cell.at));
            }
        }
        Ok(())
    }
}

fn is_hidden(element: &BytesStart<'_>) -> bool {
    matches!(attribute(element, "hidden"), Some("1" | "true"))
}

fn add(ranges: &mut Vec<(u32, u32)>, first: u32, last: u32) {
    match ranges.last_mut() {
        Some(range) if range.1.checked_add(1) == Some(first) => range.1 = last,
        _ => ranges.push((first, last)),
    }
}

/// Row and column, counted from 0, of a name such as `C7`. `None` for one that lies outside any tab.
pub(super) fn position(name: &str) -> Option<(u32, u32)> {
    let digits = name.find(|c: char| c.is_ascii_digit())?;
    let (letters, row) = name.split_at_checked(digits)?;
    if letters.is_empty() || letters.len() > 3 {
        return None;
    }
    let column = letters.bytes().try_fold(0u32, |sum, b| {
        b.is_ascii_alphabetic()
            .then(|| sum * 26 + u32::from(b.to_ascii_uppercase() - b'A') + 1)
    })?;
    let row = row.parse::<u32>().ok()?;
    (row >= 1 && row <= GRID.0 && column <= GRID.1).then(|| (row - 1, column - 1))
}

fn area(reference: &str) -> Option<Area> {
    let (first, last) = reference.split_once(':').unwrap_or((reference, reference));
    let (first, last) = (position(first)?, position(last)?);
    Some(Area {
        rows: (first.0, last.0),
        columns: (first.1, last.1),
    })
}

fn too_many(kept: &str, most: u64) -> Fault {
    Fault::size(format!("more than {most} elements called {kept}"))
}

/// What all parts of a workbook were found to hold.
#[derive(Default)]
pub(super) struct Parts {
    found: HashMap<String, Facts>,
    /// Parts that can't be read, by name.
    pub(super) faults: HashMap<String, Fault>,
}

/// Walks all parts that are XML. Errors: counts that the reader would not survive.
pub(super) fn check(package: &Package, stop: Option<&AtomicBool>) -> Result<Parts, Fault> {
    let is_xml = |p: &&Part| {
        let name = p.name.to_ascii_lowercase();
        name.ends_with(".xml") || name.ends_with(".rels")
    };
    let parts: Vec<&Part> = package.parts.iter().filter(is_xml).collect();
    let walked: Vec<(String, Walk, Result<(), Fault>)> = parts
        .into_par_iter()
        .map(|part| {
            let mut visit = Walk::default();
            let done = walk(package.content(part), stop, &mut visit);
            (part.name.clone(), visit, done)
        })
        .collect();
    let mut all = Parts::default();
    let mut counts: HashMap<&str, u64> = HashMap::new();
    for (name, visit, done) in walked {
        for (kept, count) in &visit.facts.counts {
            *counts.entry(kept).or_default() += count;
        }
        match done {
            Err(fault) if fault.is_size => return Err(fault),
            Err(fault) => {
                all.faults.insert(name, fault);
            }
            Ok(()) => {
                all.found.insert(name, visit.facts);
            }
        }
    }
    for (kept, most) in MOST {
        let count = counts.get(kept).copied().unwrap_or(0);
        if count > most {
            return Err(too_many(kept, most));
        }
    }
    let texts = counts.get("si").copied().unwrap_or(0);
    all.found.retain(|name, facts| match facts.highest {
        Some((number, (row, column))) if number >= texts => {
            let why = format!("the shared text number {number} of {texts}");
            all.faults.insert(name.clone(), Fault::at(row, column, why));
            false
        }
        _ => true,
    });
    for facts in all.found.values_mut() {
        facts
            .merged
            .sort_unstable_by_key(|a| (a.columns.0, a.rows.0));
        facts.open.sort_unstable();
    }
    Ok(all)
}

impl Parts {
    /// What was found in a part, by its name in any case.
    pub(super) fn facts(&self, name: &str) -> Option<&Facts> {
        self.found
            .iter()
            .find(|(n, _)| n.eq_ignore_ascii_case(name))
            .map(|(_, f)| f)
    }

    /// What is wrong with a part, by its name in any case.
    pub(super) fn fault(&self, name: &str) -> Option<&Fault> {
        self.faults
            .iter()
            .find(|(n, _)| n.eq_ignore_ascii_case(name))
            .map(|(_, f)| f)
    }
}

/// The tabs of an XLSX workbook.
pub(super) struct Tabs {
    /// The part that lists them.
    pub(super) main: String,
    /// Each with its name and the part that holds it, in order.
    pub(super) tabs: Vec<(String, Option<String>)>,
}

/// The tabs of an XLSX workbook and their parts.
pub(super) fn tabs(package: &Package) -> Tabs {
    #[derive(Default)]
    struct List {
        wanted: &'static str,
        found: Vec<Vec<(String, String)>>,
    }
    impl Visit for List {
        fn start(&mut self, element: &BytesStart<'_>) -> Result<(), Fault> {
            if element.local_name().as_ref() == self.wanted {
                let mut own = Vec::new();
                for pair in element.attributes().with_checks(false).flatten() {
                    let key = pair.key.local_name().as_ref().to_string();
                    let value =
                        unescape(&pair.value).map_or_else(|_| String::new(), |v| v.into_owned());
                    own.push((key, value));
                }
                self.found.push(own);
            }
            Ok(())
        }
        fn end(&mut self, _: &str) -> Result<(), Fault> {
            Ok(())
        }
        fn text(&mut self, _: &str) -> Result<(), Fault> {
            Ok(())
        }
    }
    let list = |part: &str, wanted: &'static str| {
        let mut list = List {
            wanted,
            ..List::default()
        };
        let content = package.content_of(part).unwrap_or(&[]);
        // A part that breaks off has its fault reported where the parts are checked.
        walk(content, None, &mut list).unwrap_or(());
        list.found
    };
    let of = |attributes: &[(String, String)], key: &str| {
        attributes
            .iter()
            .rev()
            .find(|a| a.0 == key)
            .map(|a| a.1.clone())
    };
    let main = list("_rels/.rels", "Relationship")
        .iter()
        .filter(|r| of(r, "Type").is_some_and(|t| t.ends_with("/relationships/officeDocument")))
        .filter_map(|r| of(r, "Target"))
        .next_back()
        .unwrap_or_else(|| "xl/workbook.xml".to_string());
    let main = main.strip_prefix('/').unwrap_or(&main);
    let (folder, file) = main.rsplit_once('/').map_or(("", main), |(d, f)| (d, f));
    let folder = if folder.is_empty() {
        String::new()
    } else {
        format!("{folder}/")
    };
    let relations: HashMap<String, String> =
        list(&format!("{folder}_rels/{file}.rels"), "Relationship")
            .iter()
            .filter_map(|r| Some((of(r, "Id")?, of(r, "Target")?)))
            .collect();
    let sheets = list(main, "sheet");
    let tabs = sheets.iter().map(|sheet| {
        let target = of(sheet, "id").and_then(|id| relations.get(&id));
        let part = target.map(|target| match target.strip_prefix('/') {
            Some(whole) => whole.to_string(),
            None => format!("{folder}{target}"),
        });
        (of(sheet, "name").unwrap_or_default(), part)
    });
    Tabs {
        tabs: tabs.collect(),
        main: main.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn facts(text: &str) -> Result<Facts, Fault> {
        let mut visit = Walk::default();
        walk(text.as_bytes(), None, &mut visit)?;
        Ok(visit.facts)
    }

    #[test]
    fn hidden_rows_merged_areas_and_open_formulas_are_found() {
        let text = "<worksheet><cols><col min=\"2\" max=\"3\" hidden=\"1\"/><col min=\"4\" max=\"4\"/></cols><sheetData>\
<row r=\"1\"/><row r=\"5\" spans=\"1:2\" hidden=\"1\"><c r=\"A5\"><f>1+1</f></c><c><f>2</f><v>2</v></c><c><f>3</f><v></v></c></row>\
<row r='6' hidden='true'/><row r=\"9\" hidden=\"0\"/><x:row r=\"12\" hidden=\"1\"><c><is><t>hidden=</t></is></c></x:row></sheetData>\
<mergeCells><mergeCell ref=\"B2:C4\"/></mergeCells></worksheet>";
        let found = facts(text).expect("whole");
        assert_eq!(found.hidden.rows, [(5, 6), (12, 12)]);
        assert_eq!(found.hidden.columns, [(2, 3)]);
        assert_eq!(found.open, [(4, 0), (4, 2)]);
        let area = Area {
            rows: (1, 3),
            columns: (1, 2),
        };
        assert_eq!(found.merged, [area]);
    }

    #[test]
    fn a_shared_text_below_zero_is_a_fault_at_its_cell() {
        let cell = |text: &str| {
            format!(
                "<worksheet><sheetData><row r=\"2\"><c r=\"C2\" t=\"s\"><v>{text}</v></c></row></sheetData></worksheet>"
            )
        };
        assert_eq!(facts(&cell("3")).expect("whole").highest, Some((3, (1, 2))));
        for wrong in ["-1", "1.5", "x"] {
            let fault = facts(&cell(wrong)).expect_err("no such text");
            assert_eq!(fault.cell, Some((1, 2)), "{wrong}");
        }
    }

    #[test]
    fn names_of_cells_outside_a_tab_are_none() {
        assert_eq!(position("C7"), Some((6, 2)));
        assert_eq!(position("XFD1048576"), Some((1_048_575, 16_383)));
        for wrong in [
            "",
            "7",
            "C",
            "C0",
            "XFE1",
            "A1048577",
            "A4294967297",
            "ÄÄ1",
            "C7x",
        ] {
            assert_eq!(position(wrong), None, "{wrong}");
        }
    }
}
