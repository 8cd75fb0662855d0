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
const EASY: Um = 26 * MM;
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
    /// All on one line, but for a long heading.
    full: Um,
    /// The heading on one line.
    head: Um,
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
            head: widest_line(&heading, types.head),
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
                Value::Text | Value::Day(_) | Value::Unknown | Value::Blank => {
                    (widest_word(&cell.text, of), widest_line(&cell.text, of))
                }
            };
            wish.room |= matches!(cell.value, Value::Room);
            wish.least = wish.least.max(least);
            wish.full = wish.full.max(full);
        }
        wish.least = wish.least.min(WORD);
        // A heading is broken before a column is made wide for it alone.
        wish.full = wish.full.max(wish.least).max(wish.head.min(EASY / 2));
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
        widths: widths(table, types, (&columns, &wishes), width),
        columns,
    };
    out.into_iter().map(band).collect()
}

fn widths(
    table: &Table,
    types: Types,
    (columns, wishes): (&[usize], &[Wish]),
    width: Um,
) -> Vec<Um> {
    let own: Vec<Wish> = columns
        .iter()
        .filter_map(|c| wishes.get(*c).copied())
        .collect();
    let room = width - GAP * count(own.len().saturating_sub(1));
    let full: Um = own.iter().map(|w| w.full).sum();
    let mut out: Vec<Um> = match full <= room {
        true => headed(&own, room - full),
        false => {
            let lines = Lines::of(table, types, columns);
            let starts = [filled(&own, room), capped(&own, room)];
            let leveled = starts.map(|start| level(&lines, &own, start));
            let best = leveled.into_iter().min_by_key(|(_, height)| *height);
            best.map_or_else(Vec::new, |(widths, _)| widths)
        }
    };
    let spare = room - out.iter().sum::<Um>();
    let writing = count(own.iter().filter(|w| w.room).count());
    if spare > 0 && writing > 0 {
        let pairs = out.iter_mut().zip(&own).filter(|(_, w)| w.room);
        pairs.for_each(|(width, _)| *width += (spare / writing).min(30 * MM));
    }
    out
}

/// Widths where all fits on one line: what is left widens columns whose headings are broken.
fn headed(own: &[Wish], mut spare: Um) -> Vec<Um> {
    let width = |wish: &Wish| {
        let more = (wish.head - wish.full).max(0);
        let given = if more <= spare { more } else { 0 };
        spare -= given;
        wish.full + given
    };
    own.iter().map(width).collect()
}

/// Widths where not all fits on one line: each column is as wide as its longest text asks in proportion, so that texts break into about
/// as many lines in one column as in another, but no narrower than its words.
fn filled(own: &[Wish], room: Um) -> Vec<Um> {
    widest(own, room, |w, share| w.full.min(LONG) * share / 1000)
}

/// Widths where not all fits on one line: narrow columns have all they ask for, and the wide ones share what is left.
fn capped(own: &[Wish], room: Um) -> Vec<Um> {
    widest(own, room, |w, cap| w.full.min(cap))
}

/// The widest columns that fit, of those that grow with one number.
fn widest(own: &[Wish], room: Um, of: impl Fn(&Wish, Um) -> Um) -> Vec<Um> {
    let at = |share: Um| -> Vec<Um> {
        // One column that alone is wider than the page is cut down to it.
        let width = |w: &Wish| of(w, share).max(w.least).min(w.full).min(room);
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

/// How many rows are looked at when columns are leveled; a longer table is like its beginning.
const LOOKED_AT: usize = 60;
/// What one column gives to another at a time.
const STEPS: [Um; 4] = [12 * MM, 6 * MM, 3 * MM, MM];

/// A column that gives to another so much, with the lines of both after it.
struct Given {
    by: Um,
    from: (usize, Vec<usize>),
    to: (usize, Vec<usize>),
    height: (usize, usize),
}

/// Widths at which the rows need fewer lines: as long as it helps, one column gives to another, but none is made narrower than its words.
fn level(lines: &Lines, own: &[Wish], mut widths: Vec<Um>) -> (Vec<Um>, (usize, usize)) {
    let mut now: Vec<Vec<usize>> = lines.all(&widths);
    let mut height = total(&now, None);
    for step in STEPS {
        while let Some(given) = most_saved(lines, own, (&widths, &now), step) {
            if given.height >= height {
                break;
            }
            height = given.height;
            for (by, (at, lines)) in [(-given.by, given.from), (given.by, given.to)] {
                if let (Some(width), Some(own)) = (widths.get_mut(at), now.get_mut(at)) {
                    *width += by;
                    *own = lines;
                }
            }
        }
    }
    (widths, height)
}

/// The one gift of at most a step that leaves the fewest lines.
fn most_saved(
    lines: &Lines,
    own: &[Wish],
    (widths, now): (&[Um], &[Vec<usize>]),
    step: Um,
) -> Option<Given> {
    let mut best: Option<Given> = None;
    let columns = || own.iter().zip(widths).enumerate();
    for (to, (wish, wide)) in columns().filter(|(_, (wish, wide))| **wide < wish.full) {
        let by = step.min(wish.full - wide);
        let got = lines.at(to, wide + by);
        let able =
            |(at, (wish, wide)): &(usize, (&Wish, &Um))| *at != to && **wide - by >= wish.least;
        for (from, (_, wide)) in columns().filter(able) {
            let given = lines.at(from, wide - by);
            let height = total(now, Some([(from, &given), (to, &got)]));
            if best.as_ref().is_none_or(|b| height < b.height) {
                best = Some(Given {
                    by,
                    from: (from, given),
                    to: (to, got.clone()),
                    height,
                });
            }
        }
    }
    best
}

/// Lines of all rows together, with some columns changed: each row has as many as its highest cell. Then those of all cells, so that
/// a row whose cells must all be shorter becomes so one cell after the other.
fn total(now: &[Vec<usize>], changed: Option<[(usize, &Vec<usize>); 2]>) -> (usize, usize) {
    let of = |column: usize| {
        let other = changed.and_then(|pair| pair.into_iter().find(|(at, _)| *at == column));
        other.map(|(_, lines)| lines).or_else(|| now.get(column))
    };
    let own: Vec<&Vec<usize>> = (0..now.len()).filter_map(of).collect();
    let rows = own.iter().map(|lines| lines.len()).max().unwrap_or(0);
    let highest = |row: usize| own.iter().filter_map(|l| l.get(row)).max().copied();
    let by_row = (0..rows).map(|row| highest(row).unwrap_or(1)).sum();
    let by_cell = own.iter().map(|lines| lines.iter().sum::<usize>()).sum();
    (by_row, by_cell)
}

/// Widths of the words in the first rows of a table, by column: enough to count lines.
struct Lines {
    /// Of each column the texts; a heading is the first.
    cells: Vec<Vec<Vec<Um>>>,
    blank: Um,
}

impl Lines {
    fn of(table: &Table, types: Types, columns: &[usize]) -> Lines {
        let words = |text: &str, of: Type| -> Vec<Um> {
            text.split(' ').map(|word| of.width(word)).collect()
        };
        let column = |column: &usize| {
            let head = table
                .columns
                .get(*column)
                .map_or_else(String::new, Column::title);
            let lines = table.lines().take(LOOKED_AT);
            let cells = lines.filter_map(|row| row.cells.get(*column));
            let cells = cells.map(|cell| words(&cell.text, types.body));
            std::iter::once(words(&head, types.head))
                .chain(cells)
                .collect()
        };
        Lines {
            cells: columns.iter().map(column).collect(),
            blank: types.body.width(" "),
        }
    }

    fn all(&self, widths: &[Um]) -> Vec<Vec<usize>> {
        let each = widths.iter().enumerate();
        each.map(|(at, width)| self.at(at, *width)).collect()
    }

    /// Lines of each text of a column at a width.
    fn at(&self, column: usize, width: Um) -> Vec<usize> {
        let cells = self.cells.get(column).into_iter().flatten();
        let count = |words: &Vec<Um>| {
            // Widths of words are each rounded, that of the text once.
            let width = width + crate::ids::count(words.len());
            let (mut lines, mut used) = (1, 0);
            for word in words {
                let longer = if used == 0 {
                    *word
                } else {
                    used + self.blank + word
                };
                if longer <= width || used == 0 {
                    used = longer;
                } else {
                    lines += 1;
                    used = *word;
                }
            }
            lines
        };
        cells.map(count).collect()
    }
}
