//! The records of an XLS workbook, walked before the workbook reader makes room for what they say.
//!
//! Layout after [MS-XLS] 2.1.4: a type, a length, then the record. The reader loads all tabs at once and stops at the first record it
//! cannot read; a tab with such a record is emptied, and its fault is reported when somebody asks for the tab. Must not know what cells mean.

use super::ods::MAX_CELLS;
use super::xml::Fault;

const SHEET: u16 = 0x0085;
const TEXTS: u16 = 0x00fc;
const CONTINUES: u16 = 0x003c;
const BEGIN: u16 = 0x0809;
const FINISH: u16 = 0x000a;
const DIMENSIONS: u16 = 0x0200;
const LOCK: u16 = 0x002f;

/// Tabs in a workbook.
const MOST_TABS: usize = 1_024;
/// Records that go on with the one before.
const MOST_CONTINUED: usize = 32_768;
/// Bytes of all texts once each cell has its own.
const MAX_TEXT: u64 = 128 << 20;
/// Letters that one byte of a formula may become: five bytes name a tab or an area by up to 255 letters.
const FORMULA_GROWS: u64 = 52;
/// Columns of a tab.
const COLUMNS: u32 = 256;

/// Types of records that hold cells, and the fewest bytes of each.
const CELLS: [(u16, usize); 8] = [
    (0x0006, 20),
    (0x00bd, 6),
    (0x00d6, 6),
    (0x00fd, 10),
    (0x0203, 14),
    (0x0204, 6),
    (0x0205, 8),
    (0x027e, 10),
];
/// Codes of errors that a cell may show ([MS-XLS] 2.5.10).
const ERRORS: [u8; 8] = [0x00, 0x07, 0x0f, 0x17, 0x1d, 0x24, 0x2a, 0x2b];

#[derive(Clone, Copy)]
struct Record<'b> {
    kind: u16,
    /// Where it begins in the stream.
    at: usize,
    data: &'b [u8],
}

fn half(bytes: &[u8], at: usize) -> Option<u16> {
    bytes
        .get(at..)?
        .get(..2)?
        .try_into()
        .ok()
        .map(u16::from_le_bytes)
}

fn word(bytes: &[u8], at: usize) -> Option<u32> {
    bytes
        .get(at..)?
        .get(..4)?
        .try_into()
        .ok()
        .map(u32::from_le_bytes)
}

/// Records from a place of the stream on, up to the first that is cut off.
fn records(stream: &[u8], from: usize) -> impl Iterator<Item = Record<'_>> {
    let mut at = from;
    std::iter::from_fn(move || {
        let kind = half(stream, at)?;
        let length = usize::from(half(stream, at + 2)?);
        let data = stream.get(at + 4..at + 4 + length)?;
        let record = Record { kind, at, data };
        at += 4 + length;
        Some(record)
    })
}

/// Makes a stream safe to read. Gives for each tab, in order, what is wrong with it. Errors: what the reader would not survive.
pub(super) fn check(stream: &mut [u8]) -> Result<Vec<Option<Fault>>, Fault> {
    let mut starts = Vec::new();
    let mut texts = Vec::new();
    let (mut continued, mut names) = (0, 0u32);
    for record in records(stream, 0) {
        continued = if record.kind == CONTINUES {
            continued + 1
        } else {
            0
        };
        if continued > MOST_CONTINUED {
            return Err(Fault::size("records without end"));
        }
        match record.kind {
            LOCK if half(record.data, 0).is_some_and(|l| l != 0) => {
                return Err(Fault::new("a password"));
            }
            SHEET => starts.push(
                word(record.data, 0)
                    .map_or(usize::MAX, |s| usize::try_from(s).unwrap_or(usize::MAX)),
            ),
            TEXTS => texts = lengths(stream, record.at)?,
            0x0018 => names += 1,
            FINISH => break,
            _ => {}
        }
    }
    if starts.len() > MOST_TABS || names > 65_536 {
        return Err(Fault::size(format!(
            "{} tabs and {names} names",
            starts.len()
        )));
    }
    let mut sums = Sums::default();
    let mut faults = Vec::new();
    for start in &starts {
        faults.push(tab(stream, *start, &texts, &mut sums)?);
    }
    for (start, fault) in starts.iter().zip(&faults) {
        // The reader makes room by what a tab says of its size, and needs it for nothing else.
        let said: Vec<usize> = of_tab(stream, *start)
            .filter(|r| r.kind == DIMENSIONS)
            .map(|r| r.at)
            .collect();
        let emptied = fault.as_ref().map(|_| (*start, FINISH));
        for (at, kind) in said.into_iter().map(|at| (at, 0)).chain(emptied) {
            if let Some(place) = stream.get_mut(at..at.saturating_add(2)) {
                place.copy_from_slice(&kind.to_le_bytes());
            }
        }
    }
    // Where tabs lie in one another, emptying one may have changed what another holds.
    let mut sums = Sums::default();
    for start in starts.into_iter().filter(|s| *s < stream.len()) {
        let sized = of_tab(stream, start).any(|r| r.kind == DIMENSIONS);
        if sized || tab(stream, start, &texts, &mut sums)?.is_some() {
            return Err(Fault::new("tabs that lie in one another"));
        }
    }
    Ok(faults)
}

/// The records of a tab, up to its end and without those of charts and the like that lie in it.
fn of_tab(stream: &[u8], start: usize) -> impl Iterator<Item = Record<'_>> {
    let (mut begun, mut depth) = (false, 0u32);
    records(stream, start)
        .map_while(move |record| {
            let outside = depth == 0;
            match record.kind {
                BEGIN if begun => depth += 1,
                BEGIN => begun = true,
                FINISH if depth > 0 => depth -= 1,
                FINISH => return None,
                _ => {}
            }
            Some((outside && depth == 0).then_some(record))
        })
        .flatten()
}

#[derive(Default)]
struct Sums {
    cells: u64,
    text: u64,
}

/// First and last row, first and last column.
#[derive(Clone, Copy)]
struct Extent(u32, u32, u32, u32);

impl Extent {
    fn with(old: Option<Extent>, row: u32, columns: (u32, u32)) -> Extent {
        let Extent(a, b, c, d) = old.unwrap_or(Extent(row, row, columns.0, columns.1));
        Extent(a.min(row), b.max(row), c.min(columns.0), d.max(columns.1))
    }

    fn cells(self) -> u64 {
        u64::from(self.1 - self.0 + 1) * u64::from(self.3 - self.2 + 1)
    }
}

/// Looks through a tab. Gives what is wrong with it.
fn tab(
    stream: &[u8],
    start: usize,
    texts: &[u32],
    sums: &mut Sums,
) -> Result<Option<Fault>, Fault> {
    if start >= stream.len() {
        return Ok(Some(Fault::new("a tab that lies outside the file")));
    }
    let (mut values, mut formulas, mut formula) = (None, None, (0, 0));
    let mut number = 0u64;
    for record in of_tab(stream, start) {
        let Some((kind, least)) = CELLS.iter().find(|c| c.0 == record.kind) else {
            if record.kind == 0x0207 {
                // The text of the formula before it; without one the reader puts it into the first cell.
                values = Some(Extent::with(values, formula.0, (formula.1, formula.1)));
                sums.text += u64::from(half(record.data, 0).unwrap_or(0)) * 3;
            }
            continue;
        };
        let (Some(row), Some(column)) = (half(record.data, 0), half(record.data, 2)) else {
            return Ok(Some(Fault::new("a cell that lies nowhere")));
        };
        let (row, first) = (u32::from(row), u32::from(column));
        let fault = |why: &str| Ok(Some(Fault::at(row, first, why)));
        if record.data.len() < *least {
            return fault("a cell that is cut off");
        }
        let last = match kind {
            0x00bd => half(record.data, record.data.len() - 2).map_or(0, u32::from),
            _ => first,
        };
        if last < first || last >= COLUMNS {
            return fault("a cell outside the columns of a tab");
        }
        match kind {
            0x0006 => {
                formulas = Some(Extent::with(formulas, row, (first, last)));
                formula = (row, first);
                sums.text += crate::ids::long(record.data.len()) * FORMULA_GROWS;
            }
            0x00fd => {
                let text = word(record.data, 6).and_then(|t| texts.get(usize::try_from(t).ok()?));
                let Some(length) = text else {
                    return fault("a text that is not in the file");
                };
                sums.text += u64::from(*length);
            }
            0x0204 | 0x00d6 => sums.text += crate::ids::long(record.data.len()) * 3,
            0x0205
                if record.data.get(7) == Some(&1)
                    && !record.data.get(6).is_some_and(|e| ERRORS.contains(e)) =>
            {
                return fault("an error of no known kind");
            }
            _ => {}
        }
        values = Some(Extent::with(values, row, (first, last)));
        number += 1;
        // Each cell is listed before the tab is laid out.
        let laid_out: u64 = [values, formulas]
            .into_iter()
            .flatten()
            .map(Extent::cells)
            .sum();
        if sums.cells + laid_out.max(number) > MAX_CELLS {
            let Extent(top, bottom, left, right) = values.unwrap_or(Extent(0, 0, 0, 0));
            return Err(Fault::size(format!(
                "{} rows of {} cells",
                bottom - top + 1,
                right - left + 1
            )));
        }
        if sums.text > MAX_TEXT {
            return Err(Fault::size(format!(
                "{} MB of text in its cells",
                sums.text >> 20
            )));
        }
    }
    sums.cells += [values, formulas]
        .into_iter()
        .flatten()
        .map(Extent::cells)
        .sum::<u64>();
    Ok(None)
}

/// Bytes of each text of the table of texts that begins at a place of the stream ([MS-XLS] 2.4.265), as text of our own at most.
fn lengths(stream: &[u8], at: usize) -> Result<Vec<u32>, Fault> {
    let broken = || Fault::new("a table of texts that breaks off");
    let mut all = records(stream, at);
    let first = all.next().ok_or_else(broken)?;
    let mut pieces: Vec<&[u8]> = vec![first.data.get(8..).ok_or_else(broken)?];
    pieces.extend(all.take_while(|r| r.kind == CONTINUES).map(|r| r.data));
    let mut reader = Pieces {
        rest: pieces.iter(),
        piece: &[],
    };
    reader.go_on();
    let mut found = Vec::new();
    while !reader.piece.is_empty() || reader.go_on() {
        if reader.piece.is_empty() {
            found.push(0);
            continue;
        }
        found.push(reader.text().ok_or_else(broken)?);
        if found.len() > 4 << 20 {
            return Err(Fault::size(format!("more than {} texts", 4 << 20)));
        }
    }
    Ok(found)
}

struct Pieces<'p, 'b> {
    rest: std::slice::Iter<'p, &'b [u8]>,
    piece: &'b [u8],
}

impl<'b> Pieces<'_, 'b> {
    fn go_on(&mut self) -> bool {
        self.rest.next().map(|piece| self.piece = piece).is_some()
    }

    fn take(&mut self, count: usize) -> Option<&'b [u8]> {
        let (taken, rest) = self.piece.split_at_checked(count)?;
        self.piece = rest;
        Some(taken)
    }

    fn skip(&mut self, mut count: usize) -> Option<()> {
        while count > 0 {
            if self.piece.is_empty() && !self.go_on() {
                return None;
            }
            let step = count.min(self.piece.len());
            self.take(step)?;
            count -= step;
        }
        Some(())
    }

    /// Reads past a text ([MS-XLS] 2.5.293); its bytes.
    fn text(&mut self) -> Option<u32> {
        let head = self.take(3)?;
        let (mut letters, flags) = (u32::from(half(head, 0)?), *head.get(2)?);
        let runs = match flags & 8 {
            0 => 0,
            _ => usize::from(half(self.take(2)?, 0)?),
        };
        let further = match flags & 4 {
            0 => 0,
            _ => usize::try_from(word(self.take(4)?, 0)?).ok()?,
        };
        let bytes = letters * 3;
        let mut width = if flags & 1 == 1 { 2 } else { 1 };
        loop {
            let here = usize::try_from(letters).ok()?.min(self.piece.len() / width);
            self.take(here * width)?;
            letters -= u32::try_from(here).ok()?;
            if letters == 0 {
                break;
            }
            if !self.go_on() {
                return None;
            }
            width = if self.take(1)?.first()? & 1 == 1 {
                2
            } else {
                1
            };
        }
        self.skip(runs * 4)?;
        self.skip(further)?;
        Some(bytes)
    }
}

#[cfg(test)]
#[expect(
    clippy::as_conversions,
    reason = "the numbers of these tests are small"
)]
mod tests {
    use super::*;

    fn record(kind: u16, data: &[u8]) -> Vec<u8> {
        let length = u16::try_from(data.len()).expect("short");
        [&kind.to_le_bytes(), &length.to_le_bytes(), data].concat()
    }

    /// A table of two texts, the second of which goes on in another record and changes its width there.
    #[test]
    fn texts_are_measured_across_records() {
        let mut first = vec![0; 8];
        first.extend([3, 0, 0, b'a', b'b', b'c']);
        first.extend([4, 0, 0, b'd']);
        let stream = [
            record(TEXTS, &first),
            record(CONTINUES, &[1, b'e', 0, b'f', 0, b'g', 0]),
            record(FINISH, &[]),
        ]
        .concat();
        assert_eq!(lengths(&stream, 0), Ok(vec![9, 12]));
        let cut = record(TEXTS, &first);
        assert!(lengths(&cut, 0).is_err());
    }

    /// A workbook of one tab with these records.
    fn workbook(tab: &[Vec<u8>]) -> Vec<u8> {
        let mut sheet = 0u32.to_le_bytes().to_vec();
        sheet.extend([0, 0, 1, 0, b'A']);
        let head = [
            record(BEGIN, &[0, 6, 5, 0]),
            record(SHEET, &sheet),
            record(FINISH, &[]),
        ];
        let mut stream = head.concat();
        let start = u32::try_from(stream.len()).expect("short");
        let at = 8 + 4;
        stream[at..at + 4].copy_from_slice(&start.to_le_bytes());
        stream.extend(record(BEGIN, &[0, 6, 16, 0]));
        stream.extend(tab.concat());
        stream.extend(record(FINISH, &[]));
        stream
    }

    fn number(row: u16, column: u16) -> Vec<u8> {
        let place = [row.to_le_bytes(), column.to_le_bytes(), [0, 0]].concat();
        record(0x0203, &[place, 1f64.to_le_bytes().to_vec()].concat())
    }

    #[test]
    fn a_tab_that_cannot_be_read_is_emptied_and_its_cell_named() {
        let mut whole = workbook(&[number(0, 0), number(9, 3)]);
        assert_eq!(check(&mut whole), Ok(vec![None]));
        let mut wrong = workbook(&[number(0, 0), record(0x0203, &[4, 0, 2, 0])]);
        let before = wrong.clone();
        let faults = check(&mut wrong).expect("walked");
        assert_eq!(faults[0].as_ref().and_then(|f| f.cell), Some((4, 2)));
        assert_ne!(before, wrong);
        let mut missing = workbook(&[record(0x00fd, &[1, 0, 1, 0, 0, 0, 7, 0, 0, 0])]);
        let faults = check(&mut missing).expect("walked");
        assert_eq!(faults[0].as_ref().and_then(|f| f.cell), Some((1, 1)));
    }

    #[test]
    fn a_tab_that_lies_outside_the_file_is_a_fault() {
        for place in [&[][..], &[1, 2], &[0xff; 9]] {
            let mut stream = [
                record(BEGIN, &[0, 6, 5, 0]),
                record(SHEET, place),
                record(FINISH, &[]),
            ]
            .concat();
            let faults = check(&mut stream).expect("walked");
            assert!(faults[0].is_some(), "{place:?}");
        }
    }

    /// The second tab lies in a chart of the first that is never closed. Emptied for its cell outside all columns, it would close the
    /// chart, and its cells would be those of the first.
    #[test]
    fn tabs_that_lie_in_one_another_are_refused() {
        let mut stream = workbook(&[number(0, 0), record(BEGIN, &[])]);
        let (second, tail) = (stream.len() - 4, stream.split_off(stream.len() - 4));
        stream.extend(record(BEGIN, &[]));
        stream.extend([number(0, 300), number(65_535, 60_000), tail.clone(), tail].concat());
        let place = u32::try_from(second).expect("short");
        let sheet = [&place.to_le_bytes()[..], &[0, 0, 1, 0, b'B']].concat();
        let mut head = [
            record(BEGIN, &[0, 6, 5, 0]),
            record(SHEET, &sheet),
            record(SHEET, &sheet),
            record(FINISH, &[]),
        ]
        .concat();
        // Both tabs begin where they did, with room for a second line of the list before them.
        let more = head.len() - (8 + 4 + sheet.len() + 4);
        let first = word(&stream, 12).expect("the place of the first tab") as usize;
        for (at, place) in [(12, first + more), (12 + 13, second + more)] {
            let place = u32::try_from(place).expect("short");
            head[at..at + 4].copy_from_slice(&place.to_le_bytes());
        }
        head.extend(&stream[first..]);
        let fault = check(&mut head).expect_err("refused");
        assert!(
            format!("{fault:?}").contains("lie in one another"),
            "{fault:?}"
        );
    }

    #[test]
    fn a_size_said_after_a_chart_is_left_out_too() {
        let mut size = vec![0; 14];
        size[4..8].copy_from_slice(&u32::MAX.to_le_bytes());
        let chart = [record(BEGIN, &[]), record(FINISH, &[])].concat();
        let mut stream = workbook(&[chart, record(DIMENSIONS, &size), number(0, 0)]);
        assert_eq!(check(&mut stream), Ok(vec![None]));
        assert!(records(&stream, 0).all(|r| r.kind != DIMENSIONS));
    }

    #[test]
    fn what_a_tab_says_of_its_size_is_left_out_and_far_cells_are_counted() {
        let mut size = vec![0; 14];
        size[4..8].copy_from_slice(&u32::MAX.to_le_bytes());
        let mut stream = workbook(&[record(DIMENSIONS, &size), number(0, 0)]);
        assert_eq!(check(&mut stream), Ok(vec![None]));
        assert!(records(&stream, 0).all(|r| r.kind != DIMENSIONS));
        let far = number(65_535, 255);
        assert!(check(&mut workbook(&[number(0, 0), far])).is_err_and(|f| f.is_size));
    }
}
