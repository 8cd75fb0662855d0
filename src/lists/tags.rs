//! Lines of a list as tags to cut out: the first column large, the others below it with their headings.

use crate::drawing::{Anchor, Drawing, Fill, Point, Stroke};
use crate::ids;
use crate::number::Exact;
use crate::paper::{Block, Picture, Row, Table, Value};

/// Hundredths of a millimeter: a tag, the edge that is left free for its hole, what lies between rule and text.
const WIDE: i64 = 8_500;
const HIGH: i64 = 5_000;
const HOLE: i64 = 1_200;
const PAD: i64 = 250;
/// Tags side by side, and how high a sheet of them is at most.
const ACROSS: usize = 2;
const SHEET: i64 = 20_000;
/// Heights of the letters of a mark, largest first, and of all else; width of a letter with its gap, in hundredths of its height.
const MARKS: [i64; 4] = [1_000, 700, 500, 350];
const LETTER: i64 = 250;
const ADVANCE: i64 = 82;
/// From line to line, and where the first line of fields is.
const LINE: i64 = 420;
const FIELDS: i64 = 1_840;
/// A blank to write in.
const ROOM: i64 = 1_600;

/// A field with its place: line, and whether it is in the right half.
struct Field {
    text: String,
    room: bool,
    line: i64,
    right: bool,
}

/// Tags for all lines of a table, as many on a sheet as fit.
pub(super) fn blocks(table: &Table) -> Vec<Block> {
    let tags: Vec<(String, Vec<Field>)> = table.lines().map(|row| tag(table, row)).collect();
    let lines = tags.iter().flat_map(|(_, fields)| fields).map(|f| f.line);
    let high = HIGH.max(FIELDS + lines.max().unwrap_or(0) * LINE + PAD - 30);
    let down = ids::size((SHEET / high).max(1));
    let mut out = Vec::new();
    for (nth, sheet) in tags.chunks(ACROSS * down).enumerate() {
        let first = nth * ACROSS * down;
        let rows = ids::count(sheet.len().div_ceil(ACROSS));
        let marks: Vec<&str> = sheet.iter().map(|(mark, _)| mark.as_str()).collect();
        let mut drawing = Drawing::new(&*table.title, mm(2 * WIDE), mm(rows * high));
        for (at, (mark, fields)) in sheet.iter().enumerate() {
            let corner = (
                ids::count(at % ACROSS) * WIDE,
                ids::count(at / ACROSS) * high,
            );
            draw(&mut drawing, corner, high, mark, fields);
        }
        out.push(Block::Drawing(Picture {
            drawing,
            caption: format!(
                "{}, {} to {} of {}",
                table.title,
                first + 1,
                first + sheet.len(),
                tags.len()
            ),
            alternative: format!("Tags to cut out for {}", marks.join(", ")),
        }));
    }
    out
}

/// The mark of a tag, and its fields one after another in two halves of a line.
fn tag(table: &Table, row: &Row) -> (String, Vec<Field>) {
    let mark = row.cells.first().map_or("", |c| &*c.text);
    let half = (WIDE - HOLE) / 2;
    let (mut line, mut right) = (0, false);
    let mut fields = Vec::new();
    for (column, cell) in table.columns.iter().zip(&row.cells).skip(1) {
        let room = matches!(cell.value, Value::Room | Value::Tick);
        let text = match (&cell.value, &column.unit) {
            (Value::Number(_), Some(unit)) => format!("{}: {} {unit}", column.heading, cell.text),
            _ => format!("{}: {}", column.heading, cell.text),
        };
        let needs = width(&text, LETTER) + if room { ROOM } else { 0 };
        let whole = needs > half - PAD;
        if whole && right {
            (line, right) = (line + 1, false);
        }
        fields.push(Field {
            text: shortened(&text, LETTER, WIDE - HOLE - 2 * PAD),
            room,
            line,
            right,
        });
        (line, right) = match whole || right {
            true => (line + 1, false),
            false => (line, true),
        };
    }
    (mark.to_owned(), fields)
}

fn draw(out: &mut Drawing, (x, y): (i64, i64), high: i64, mark: &str, fields: &[Field]) {
    let at = |dx: i64, dy: i64| Point::new(mm(x + dx), mm(y + dy));
    out.rect(&at(0, 0), &mm(WIDE), &mm(high), Stroke::Thin, Fill::Open);
    out.line(at(HOLE, 0), at(HOLE, high), Stroke::Dashed);
    let left = HOLE + PAD;
    let free = WIDE - left - PAD;
    let fits = |size: &&i64| width(mark, **size) <= free;
    let size = MARKS.iter().find(fits).copied().unwrap_or(LETTER);
    let mark = shortened(mark, size, free);
    out.text(at(left, PAD + MARKS[0]), mm(size), Anchor::Start, mark);
    let half = (WIDE - HOLE) / 2;
    for field in fields {
        let begins = left + if field.right { half } else { 0 };
        let base = FIELDS + field.line * LINE;
        out.text(at(begins, base), mm(LETTER), Anchor::Start, &*field.text);
        if field.room {
            let from = begins + width(&field.text, LETTER);
            let to = left + if field.right { free } else { half - PAD };
            let to = if from + ROOM > to { left + free } else { to };
            out.line(at(from, base), at(to, base), Stroke::Thin);
        }
    }
}

fn width(text: &str, size: i64) -> i64 {
    ids::count(text.chars().count()) * size * ADVANCE / 100
}

/// A text that is too long loses its end, and dots say so.
fn shortened(text: &str, size: i64, room: i64) -> String {
    if width(text, size) <= room {
        return text.to_owned();
    }
    let keep = ids::size(room * 100 / (size * ADVANCE)).saturating_sub(1);
    let mut out: String = text.chars().take(keep).collect();
    out.push('\u{2026}');
    out
}

fn mm(hundredths: i64) -> Exact {
    Exact::ratio(hundredths, 100).unwrap_or(Exact::ZERO)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drawing::Shape;
    use crate::paper::{Cell, Class, Column, RowKind};

    fn table(mark: &str, columns: usize) -> Table {
        let column = |at: usize| Column {
            name: format!("c{at}"),
            heading: format!("Heading {at}"),
            unit: None,
            numbers: None,
            class: Class::Open,
        };
        let cell = |at: usize| match at {
            0 => Cell::words(mark),
            _ => Cell::words("\u{5d0}\u{5d1} words that run on and on"),
        };
        Table {
            name: "tags".to_owned(),
            title: "Tags".to_owned(),
            columns: (0..columns).map(column).collect(),
            rows: vec![
                Row {
                    kind: RowKind::Line,
                    cells: (0..columns).map(cell).collect(),
                };
                3
            ],
            notes: Vec::new(),
            entries: Vec::new(),
            counted: 0,
        }
    }

    #[test]
    fn marks_of_any_length_and_fields_of_any_number_stay_inside_their_tag() {
        for (mark, columns) in [("N1", 1), ("N1-U", 6), (&"M".repeat(300), 40)] {
            for block in blocks(&table(mark, columns)) {
                let Block::Drawing(picture) = block else {
                    panic!("tags are drawings");
                };
                let inside = |n: &Exact, most: &Exact| *n >= Exact::ZERO && n <= most;
                for shape in &picture.drawing.shapes {
                    let Shape::Text { at, size, text, .. } = shape else {
                        continue;
                    };
                    assert!(inside(&at.y, &picture.drawing.height), "{text}");
                    assert!(*size >= mm(LETTER), "{text}");
                    let long = mm(ids::count(text.chars().count()) * ADVANCE);
                    let long = long.mul(size).expect("small");
                    let end = at.x.add(&long).expect("small");
                    assert!(inside(&end, &picture.drawing.width), "{text}");
                }
            }
        }
    }
}
