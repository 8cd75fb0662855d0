//! How wide the columns of a table are, and whether its page must lie or the table be parted.

use super::pages::{Format, MM, Um};
use super::wrap::{Type, widest_line, widest_word};
use crate::ids::count;
use crate::paper::{Column, RowKind, Table, Value};

/// Between columns.
pub(super) const GAP: Um = 3 * MM;
/// Side of a box to tick.
pub(super) const TICK: Um = 5 * MM;
/// Least width of a column to write in.
const ROOM: Um = 24 * MM;
/// A column of words may be this narrow when words still fit.
const EASY: Um = 34 * MM;
/// A text longer than this asks for no more room than one of this length.
const LONG: Um = 110 * MM;
/// The widest word that a column is widened for.
const WORD: Um = 48 * MM;

/// Some of a table's columns, as wide as a page allows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Band {
    /// Which columns, in order.
    pub(super) columns: Vec<usize>,
    /// How wide each is.
    pub(super) widths: Vec<Um>,
}

impl Band {
    /// Width of the whole.
    pub(super) fn width(&self) -> Um {
        let gaps = GAP * count(self.widths.len().saturating_sub(1));
        self.widths.iter().sum::<Um>() + gaps
    }

    /// Where each column begins.
    pub(super) fn begins(&self) -> Vec<Um> {
        let mut x = 0;
        let step = |width: &Um| {
            let at = x;
            x += width + GAP;
            at
        };
        self.widths.iter().map(step).collect()
    }
}

/// What a column asks for.
#[derive(Debug, Clone, Copy)]
struct Wish {
    /// Below this words break.
    least: Um,
    /// Below this it is uneasy to read.
    easy: Um,
    /// All on one line.
    full: Um,
    /// Whether more would be of use: it is written in.
    room: bool,
}

/// The types of a table.
#[derive(Debug, Clone, Copy)]
pub(super) struct Types {
    /// Of its cells.
    pub(super) body: Type,
    /// Of its headings and sums.
    pub(super) head: Type,
}

fn wishes(table: &Table, types: Types) -> Vec<Wish> {
    let of_column = |(at, column): (usize, &Column)| {
        let heading = column.title();
        let mut wish = Wish {
            least: widest_word(&heading, types.head),
            easy: 0,
            full: 0,
            room: false,
        };
        for row in &table.rows {
            let Some(cell) = row.cells.get(at) else {
                continue;
            };
            let of = match row.kind {
                RowKind::Group(_) => continue,
                RowKind::Line => types.body,
                RowKind::Subtotal(_) | RowKind::Total => types.head,
            };
            // The words of a sum reach over the empty cells beside them.
            if at == 0 && row.kind != RowKind::Line && !matches!(cell.value, Value::Number(_)) {
                continue;
            }
            let (least, full) = match cell.value {
                Value::Tick => (TICK, TICK),
                Value::Room => (ROOM, ROOM),
                // A number is never broken.
                Value::Number(_) => {
                    let width = of.width(&cell.text);
                    (width, width)
                }
                Value::Text | Value::Unknown | Value::Blank => {
                    (widest_word(&cell.text, of), widest_line(&cell.text, of))
                }
            };
            wish.room |= matches!(cell.value, Value::Room);
            wish.least = wish.least.max(least);
            wish.full = wish.full.max(full);
        }
        wish.least = wish.least.min(WORD);
        // A heading is broken before a column is made wide for it alone.
        let one_line = widest_line(&heading, types.head);
        wish.full = wish.full.max(wish.least).max(one_line.min(EASY / 2));
        wish.easy = wish.least.max(wish.full.min(EASY));
        wish
    };
    table.columns.iter().enumerate().map(of_column).collect()
}

/// The format a table asks for, whatever stands around it.
pub(super) fn format(table: &Table, types: Types) -> Format {
    let wishes = wishes(table, types);
    let gaps = GAP * count(wishes.len().saturating_sub(1));
    let easy: Um = wishes.iter().map(|w| w.easy).sum::<Um>() + gaps;
    match easy <= Format::Upright.net().0 {
        true => Format::Upright,
        false => Format::Turned,
    }
}

/// A table's columns on pages of a width. Where even broken lines leave too little room, the table is parted, and each part begins
/// with the first column.
pub(super) fn bands(table: &Table, types: Types, width: Um) -> Vec<Band> {
    let wishes = wishes(table, types);
    let mut out: Vec<Vec<usize>> = Vec::new();
    let mut now: Vec<usize> = Vec::new();
    let mut used: Um = 0;
    for (at, wish) in wishes.iter().enumerate() {
        let needs = wish.least + if now.is_empty() { 0 } else { GAP };
        if used + needs > width && now.len() > usize::from(!out.is_empty()) {
            out.push(std::mem::take(&mut now));
            // Every part says what its rows are.
            now.push(0);
            used = wishes.first().map_or(0, |w| w.least);
        }
        now.push(at);
        used += wish.least + if now.len() == 1 { 0 } else { GAP };
    }
    out.push(now);
    let band = |columns: Vec<usize>| Band {
        widths: widths(&columns, &wishes, width),
        columns,
    };
    out.into_iter().map(band).collect()
}

fn widths(columns: &[usize], wishes: &[Wish], width: Um) -> Vec<Um> {
    let own: Vec<Wish> = columns
        .iter()
        .filter_map(|c| wishes.get(*c).copied())
        .collect();
    let room = width - GAP * count(own.len().saturating_sub(1));
    let full: Um = own.iter().map(|w| w.full).sum();
    let mut out: Vec<Um> = match full <= room {
        true => own.iter().map(|w| w.full).collect(),
        false => filled(&own, room),
    };
    let spare = room - out.iter().sum::<Um>();
    let writing = count(own.iter().filter(|w| w.room).count());
    if spare > 0 && writing > 0 {
        let pairs = out.iter_mut().zip(&own).filter(|(_, w)| w.room);
        pairs.for_each(|(width, _)| *width += (spare / writing).min(30 * MM));
    }
    out
}

/// Widths where not all fits on one line: each column is as wide as its longest text asks in proportion, so that texts break into about
/// as many lines in one column as in another, but no narrower than its words.
fn filled(own: &[Wish], room: Um) -> Vec<Um> {
    let at = |share: Um| -> Vec<Um> {
        let width = |w: &Wish| {
            let wished = w.full.min(LONG) * share / 1000;
            // One column that alone is wider than the page is cut down to it.
            wished.max(w.least).min(w.full).min(room)
        };
        own.iter().map(width).collect()
    };
    let fits = |share: &Um| at(*share).iter().sum::<Um>() <= room;
    let (mut low, mut high) = (0, 1000 * 1000);
    while low + 1 < high {
        let middle = (low + high) / 2;
        match fits(&middle) {
            true => low = middle,
            false => high = middle,
        }
    }
    at(low)
}
