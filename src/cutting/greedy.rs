//! The plan a careful person makes at the saw: the largest part first, each in the first place where it fits, what is on hand before what
//! is bought. Sections are whole runs.

use super::pattern::{Cut, Pattern, Piece, Section, Strip};
use super::task::{Item, Task, Way};

/// A piece of stock in work.
struct Open {
    stock: usize,
    runs: Vec<OpenRun>,
}

struct OpenRun {
    size: usize,
    /// Width left, with one kerf.
    room: usize,
    strips: Vec<OpenStrip>,
}

struct OpenStrip {
    width: usize,
    /// Length left, with one kerf.
    room: usize,
    pieces: Vec<Piece>,
}

/// What is left after a size and a kerf are taken from a room that counts one kerf; `None` when the rest could not be taken off.
fn rest(room: usize, size: usize, kerf: usize, least: usize) -> Option<usize> {
    let rest = room.checked_sub(size + kerf)?;
    (rest <= kerf || rest >= kerf + least).then_some(rest)
}

/// The greedy plan, or the parts that found no place.
pub(super) fn greedy(task: &Task) -> Result<Vec<Cut>, Vec<usize>> {
    let plans: Vec<Result<Vec<Cut>, Vec<usize>>> =
        task.ways.iter().map(|way| one_way(task, way)).collect();
    let cost = |cuts: &Vec<Cut>| -> i64 {
        cuts.iter()
            .map(|c| task.stocks[c.pattern.stock].cost * i64::from(c.times))
            .sum()
    };
    plans
        .into_iter()
        .reduce(|a, b| match (&a, &b) {
            (Ok(x), Ok(y)) if cost(y) < cost(x) => b,
            (Err(_), Ok(_)) => b,
            _ => a,
        })
        .unwrap_or(Ok(Vec::new()))
}

fn one_way(task: &Task, way: &Way) -> Result<Vec<Cut>, Vec<usize>> {
    let mut there: Vec<Option<u32>> = task.stocks.iter().map(|s| s.available).collect();
    // On hand first, the smallest first; then what can be bought, the cheapest for its size first.
    let area = |s: usize| task.stocks[s].runs.iter().sum::<i64>() * task.stocks[s].width;
    let mut order: Vec<usize> = (0..task.stocks.len()).collect();
    order.sort_by(|&a, &b| {
        let (x, y) = (&task.stocks[a], &task.stocks[b]);
        x.available
            .is_none()
            .cmp(&y.available.is_none())
            .then_with(|| match x.available {
                Some(_) => area(a).cmp(&area(b)),
                None => (i128::from(x.cost) * i128::from(area(b)))
                    .cmp(&(i128::from(y.cost) * i128::from(area(a)))),
            })
    });
    let mut parts: Vec<usize> = (0..task.parts.len()).collect();
    parts.sort_by_key(|&p| {
        let part = &task.parts[p];
        (std::cmp::Reverse(part.width.max(1) * part.length), p)
    });
    let mut open: Vec<Open> = Vec::new();
    let mut lost = Vec::new();
    for part in parts {
        let lying: Vec<&Item> = way.items.iter().filter(|i| i.part == part).collect();
        // Stock that this size did not fit on is not looked at again for the next piece of it.
        let mut from = 0;
        for _ in 0..task.parts[part].need {
            while from < open.len() && !lying.iter().any(|i| put(way, &mut open[from], i)) {
                from += 1;
            }
            if from < open.len() {
                continue;
            }
            let found = order
                .iter()
                .copied()
                .filter(|&s| there[s] != Some(0))
                .find_map(|s| {
                    let mut new = begin(way, s);
                    lying.iter().any(|i| put(way, &mut new, i)).then_some(new)
                });
            match found {
                Some(new) => {
                    if let Some(n) = &mut there[new.stock] {
                        *n -= 1;
                    }
                    open.push(new);
                }
                None => {
                    lost.push(part);
                    break;
                }
            }
        }
    }
    if lost.is_empty() {
        Ok(open.into_iter().map(|o| finish(way, o)).collect())
    } else {
        Err(lost)
    }
}

fn begin(way: &Way, stock: usize) -> Open {
    let (w, runs) = &way.stocks[stock];
    let run = |&size: &usize| OpenRun {
        size,
        room: way.widths[*w] + way.kerf_wid,
        strips: Vec::new(),
    };
    Open {
        stock,
        runs: runs.iter().map(run).collect(),
    }
}

fn put(way: &Way, open: &mut Open, item: &Item) -> bool {
    let piece = Piece {
        part: item.part,
        turned: item.turned,
    };
    for run in &mut open.runs {
        for strip in run.strips.iter_mut().filter(|s| way.fits(item, s.width)) {
            if let Some(left) = rest(strip.room, item.len, way.kerf_len, way.least) {
                strip.room = left;
                strip.pieces.push(piece);
                return true;
            }
        }
        if way.stages == 1 && !run.strips.is_empty() {
            continue;
        }
        let across = rest(run.room, item.wid, way.kerf_wid, way.least);
        let along = rest(run.size + way.kerf_len, item.len, way.kerf_len, way.least);
        if let (Some(across), Some(along)) = (across, along) {
            run.room = across;
            run.strips.push(OpenStrip {
                width: item.wid,
                room: along,
                pieces: vec![piece],
            });
            return true;
        }
    }
    false
}

fn finish(way: &Way, open: Open) -> Cut {
    let sections = (open.runs.into_iter().enumerate())
        .filter(|(_, r)| !r.strips.is_empty())
        .map(|(run, r)| Section {
            run,
            size: crate::ids::count(r.size),
            strips: (r.strips.into_iter())
                .map(|s| Strip {
                    width: crate::ids::count(s.width),
                    pieces: s.pieces,
                })
                .collect(),
        })
        .collect();
    Cut {
        pattern: Pattern {
            stock: open.stock,
            along: way.along,
            sections,
        },
        times: 1,
    }
}
