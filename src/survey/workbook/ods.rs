//! What an ODS workbook's cells come to once runs of equal ones are written out, found before the workbook reader writes them out.
//!
//! The reader loads all tabs at once and stops at the first cell it cannot read, whatever tab that is in. A tab with such a cell is
//! blanked, and its fault is reported when somebody asks for the tab. Must not know what the cells mean.

use std::collections::HashMap;
use std::ops::Range;
use std::sync::atomic::AtomicBool;

use quick_xml::escape::unescape;
use quick_xml::events::BytesStart;

use super::archive::{Package, Refusal};
use super::xml::{Fault, Visit, attribute, walk};

/// Cells that all tabs together may come to, runs written out.
pub(super) const MAX_CELLS: u64 = 8 << 20;
/// Letters that all cells may come to, runs written out.
const MAX_TEXT: u64 = 128 << 20;
/// Columns and rows that the reader takes of a tab.
const GRID: (u64, u64) = (16_384, 1_048_576);
/// Tabs and names of areas.
const MOST_TABS: usize = 1_024;

#[derive(Default)]
struct Table {
    name: String,
    /// Rows so far and up to the last one used; the first row used; the widest used row.
    rows: u64,
    used: u64,
    first_used: Option<u64>,
    widest: u64,
    /// What the reader holds before it writes rows out.
    listed: u64,
    text: u64,
    fault: Option<Fault>,
}

#[derive(Default)]
struct Row {
    times: u64,
    columns: u64,
    used: u64,
    /// Cells that the reader lists: blank ones at the end of a row are left out.
    listed: u64,
    text: u64,
}

#[derive(Default)]
struct Cell {
    times: u64,
    /// Whether a value, a formula or a text is in it.
    used: bool,
    letters: u64,
    depth: usize,
}

#[derive(Default)]
struct Walk {
    tables: Vec<Table>,
    /// Tables that are open: one within another is none that people make.
    open: usize,
    row: Option<Row>,
    cell: Option<Cell>,
}

impl Walk {
    fn table(&mut self) -> Option<&mut Table> {
        self.tables.last_mut().filter(|_| self.open > 0)
    }

    /// Notes what is wrong with the cell that is looked at. The first fault of a tab stands.
    fn fault(&mut self, why: String) {
        let column = self.row.as_ref().map_or(0, |r| r.columns);
        if let Some(table) = self.table() {
            let row = u32::try_from(table.rows).unwrap_or(u32::MAX);
            let column = u32::try_from(column).unwrap_or(u32::MAX);
            table
                .fault
                .get_or_insert_with(|| Fault::at(row, column, why));
        }
    }

    fn repeated(&mut self, element: &BytesStart<'_>, name: &str) -> u64 {
        match attribute(element, name) {
            None => 1,
            Some(text) => text.parse().unwrap_or_else(|_| {
                self.fault(format!("a run of {text} equal cells"));
                1
            }),
        }
    }

    fn cell_starts(&mut self, element: &BytesStart<'_>) {
        let times = self.repeated(element, "table:number-columns-repeated");
        if let Some(text) = attribute(element, "office:value")
            && !is_number(text)
        {
            self.fault(format!("the number {text}"));
        }
        let used = [
            "office:value",
            "office:string-value",
            "office:date-value",
            "office:time-value",
            "office:boolean-value",
            "table:formula",
        ]
        .iter()
        .any(|a| attribute(element, a).is_some());
        self.cell = Some(Cell {
            times,
            used,
            letters: crate::ids::long(element.attributes_raw().len()),
            depth: 0,
        });
    }

    fn cell_ends(&mut self, cell: &Cell) -> Result<(), Fault> {
        let Some(row) = &mut self.row else {
            return Ok(());
        };
        let times = cell.times.min(GRID.0.saturating_sub(row.columns));
        row.listed = row.columns;
        row.columns += times;
        if cell.used {
            (row.used, row.listed) = (row.columns, row.columns);
            row.text = row.text.saturating_add(cell.letters.saturating_mul(times));
        }
        self.within_bounds()
    }

    fn row_ends(&mut self, row: &Row) -> Result<(), Fault> {
        let Some(table) = self.table() else {
            return Ok(());
        };
        let times = row.times.min(GRID.1.saturating_sub(table.rows));
        if row.used > 0 {
            table.first_used.get_or_insert(table.rows);
            table.used = table.rows + times;
            table.widest = table.widest.max(row.used);
            table.text = table.text.saturating_add(row.text.saturating_mul(times));
        }
        table.listed = table.listed.saturating_add(row.listed);
        table.rows += times;
        self.within_bounds()
    }

    fn within_bounds(&self) -> Result<(), Fault> {
        let cells = |t: &Table| {
            let rows = t.used - t.first_used.unwrap_or(t.used);
            t.listed.max(rows.saturating_mul(t.widest))
        };
        let open = self.row.as_ref();
        let listed: u64 = self.tables.iter().map(cells).sum();
        let listed = listed + open.map_or(0, |r| r.listed);
        let text: u64 = self.tables.iter().map(|t| t.text).sum();
        let text = text.saturating_add(open.map_or(0, |r| r.text));
        if listed > MAX_CELLS {
            let tabs = self.tables.len();
            let last = self.tables.last();
            let shape = last.map_or((0, 0), |t| {
                (t.used, t.widest.max(open.map_or(0, |r| r.used)))
            });
            return Err(Fault::size(format!(
                "{listed} cells in {tabs} tabs; the last tab has {} rows of {} cells",
                shape.0, shape.1
            )));
        }
        if text > MAX_TEXT {
            return Err(Fault::size(format!(
                "{} MB of text in its cells",
                text >> 20
            )));
        }
        Ok(())
    }
}

/// Whether the reader takes a text for a number.
fn is_number(text: &str) -> bool {
    text.parse::<f64>().is_ok()
}

impl Visit for Walk {
    fn start(&mut self, element: &BytesStart<'_>) -> Result<(), Fault> {
        let name = element.name();
        if let Some(cell) = &mut self.cell {
            if matches!(name.as_ref(), "table:table" | "table:table-cell") {
                return Err(Fault::new("a table within a cell"));
            }
            cell.depth += 1;
            cell.used |= name.as_ref() == "text:p";
            let blanks = match name.as_ref() {
                "text:s" => attribute(element, "text:c").map_or(Ok(1), str::parse::<u64>),
                _ => Ok(1),
            };
            match blanks {
                Ok(blanks) => cell.letters = cell.letters.saturating_add(blanks),
                Err(_) => self.fault("a run of blanks of no length".to_string()),
            }
            return Ok(());
        }
        match name.as_ref() {
            "table:table" => {
                self.open += 1;
                if self.open > 1 {
                    return Err(Fault::new("a table within a table"));
                }
                if self.tables.len() >= MOST_TABS {
                    return Err(Fault::size(format!("more than {MOST_TABS} tabs")));
                }
                let named = element.try_get_attribute("table:name").ok().flatten();
                let name = named.and_then(|a| Some(unescape(&a.value).ok()?.into_owned()));
                self.tables.push(Table {
                    name: name.unwrap_or_default(),
                    ..Table::default()
                });
            }
            "table:table-row" if self.open > 0 => {
                if self.row.is_some() {
                    return Err(Fault::new("a row within a row"));
                }
                let times = self.repeated(element, "table:number-rows-repeated");
                self.row = Some(Row {
                    times,
                    ..Row::default()
                });
            }
            "table:table-cell" | "table:covered-table-cell" if self.row.is_some() => {
                self.cell_starts(element);
            }
            other if self.row.is_some() => self.fault(format!("{other} among the cells of a row")),
            _ => {}
        }
        Ok(())
    }

    fn end(&mut self, name: &str) -> Result<(), Fault> {
        if let Some(cell) = &mut self.cell {
            if cell.depth > 0 {
                cell.depth -= 1;
                return Ok(());
            }
            if let Some(cell) = self.cell.take() {
                return self.cell_ends(&cell);
            }
        }
        match name {
            "table-row" => match self.row.take() {
                Some(row) => self.row_ends(&row),
                None => Ok(()),
            },
            "table" => {
                self.open = self.open.saturating_sub(1);
                Ok(())
            }
            _ => Ok(()),
        }
    }

    fn text(&mut self, text: &str) -> Result<(), Fault> {
        match &mut self.cell {
            Some(cell) => cell.letters = cell.letters.saturating_add(crate::ids::long(text.len())),
            // The reader takes nothing but cells within a row, line ends neither.
            None if self.row.is_some() => self.fault("text among the cells of a row".to_string()),
            None => {}
        }
        Ok(())
    }
}

/// Looks through the content of an ODS workbook. Gives the workbook with unreadable tabs blanked, and what is wrong with those.
pub(super) fn check(
    package: Package,
    stop: Option<&AtomicBool>,
) -> Result<(Package, HashMap<String, Fault>), Fault> {
    let Some(part) = package.part("content.xml").cloned() else {
        return Ok((package, HashMap::new()));
    };
    let content = package.content(&part);
    let mut visit = Walk::default();
    walk(content, stop, &mut visit)?;
    let at_fault: Vec<(usize, Table)> = visit
        .tables
        .into_iter()
        .enumerate()
        .filter(|(_, t)| t.fault.is_some())
        .collect();
    if at_fault.is_empty() {
        return Ok((package, HashMap::new()));
    }
    let mut blanked = content.to_vec();
    let tabs = insides(content);
    let mut faults = HashMap::new();
    for (index, table) in at_fault {
        let inside = tabs.get(index).cloned().and_then(|r| blanked.get_mut(r));
        let (Some(inside), Some(mut fault)) = (inside, table.fault) else {
            return Err(Fault::new("a tab that lies nowhere"));
        };
        inside.fill(b' ');
        fault.tab = Some(table.name.clone());
        faults.insert(table.name, fault);
    }
    let new = [(part.name, blanked)];
    let package = package.replaced(&new).map_err(|r| match r {
        Refusal::Damaged(why) => Fault::new(why),
        Refusal::TooLarge { .. } | Refusal::Stopped => Fault::new("stopped"),
    })?;
    Ok((package, faults))
}

/// Where the inside of each table lies, in order. The content is known to be whole.
fn insides(content: &[u8]) -> Vec<Range<usize>> {
    let text = std::str::from_utf8(content).unwrap_or("");
    let mut reader = quick_xml::Reader::from_str(text);
    let mut found = Vec::new();
    let mut start = 0;
    let position = |p: u64| usize::try_from(p).unwrap_or(usize::MAX);
    loop {
        let before = position(reader.buffer_position());
        match reader.read_event() {
            Ok(quick_xml::events::Event::Start(e)) if e.name().as_ref() == "table:table" => {
                start = position(reader.buffer_position());
            }
            Ok(quick_xml::events::Event::Empty(e)) if e.name().as_ref() == "table:table" => {
                let here = position(reader.buffer_position());
                found.push(here..here);
            }
            Ok(quick_xml::events::Event::End(e)) if e.name().as_ref() == "table:table" => {
                found.push(start..before);
            }
            Ok(quick_xml::events::Event::Eof) | Err(_) => return found,
            Ok(_) => {}
        }
    }
}
