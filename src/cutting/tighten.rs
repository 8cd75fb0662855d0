//! Strips and sections no larger than their parts need: fewer parts are trimmed, and what is left over lies in one piece.

use super::pattern::{Pattern, Section, Strip};
use super::task::{Task, Way};
use crate::ids::count;

/// Makes strips as narrow and sections as short as their parts allow, where what is then left over can still be taken off.
pub(super) fn tighten(task: &Task, pattern: &mut Pattern) {
    let Some(way) = task.ways.iter().find(|w| w.along == pattern.along) else {
        return;
    };
    if way.stages < 2 {
        return;
    }
    let (level, runs) = &way.stocks[pattern.stock];
    let wide = count(way.widths[*level]);
    for section in &mut pattern.sections {
        for at in 0..section.strips.len() {
            narrow(way, wide, section, at);
        }
    }
    if way.stages < 3 {
        return;
    }
    for at in 0..pattern.sections.len() {
        let run = count(runs[pattern.sections[at].run]);
        shorten(way, (run, wide), pattern, at);
    }
}

/// Whether a rest is nothing, dust, or wide enough to be taken off.
fn fine(way: &Way, rest: i64, kerf: usize) -> bool {
    let (least, kerf) = (count(way.least), count(kerf));
    least == 0 || rest <= kerf || rest >= kerf + least
}

/// Length and width of a piece as it lies.
fn lying(way: &Way, strip: &Strip) -> Vec<(i64, i64)> {
    let of = |p: &super::pattern::Piece| {
        let item = way
            .items
            .iter()
            .find(|i| i.part == p.part && i.turned == p.turned);
        item.map(|i| (count(i.len), count(i.wid)))
    };
    strip.pieces.iter().filter_map(of).collect()
}

fn narrow(way: &Way, wide: i64, section: &mut Section, at: usize) {
    let strip = &section.strips[at];
    let pieces = lying(way, strip);
    let width = pieces.iter().map(|p| p.1).max().unwrap_or(strip.width);
    let least = count(way.least).max(1);
    let trimmed = pieces.iter().all(|p| p.1 == width || p.1 + least <= width);
    let kerf = count(way.kerf_wid);
    let used: i64 = section.strips.iter().map(|s| s.width + kerf).sum::<i64>() - kerf;
    let rest = wide - used + strip.width - width;
    if width < strip.width && trimmed && fine(way, rest, way.kerf_wid) {
        section.strips[at].width = width;
    }
}

/// Ends a section where its longest strip ends, unless that cuts into the largest piece that is left over.
fn shorten(way: &Way, (run, wide): (i64, i64), pattern: &mut Pattern, at: usize) {
    let section = &pattern.sections[at];
    let kerf = count(way.kerf_len);
    let long = |s: &Strip| lying(way, s).iter().map(|p| p.0 + kerf).sum::<i64>() - kerf;
    let lengths: Vec<i64> = section.strips.iter().map(long).collect();
    let size = lengths.iter().copied().max().unwrap_or(section.size);
    let same = pattern.sections.iter().filter(|s| s.run == section.run);
    let used: i64 = same.map(|s| s.size + kerf).sum::<i64>() - kerf;
    let rest = run - used + section.size - size;
    let largest = |end: i64, rest: i64| {
        let beyond = lengths.iter().zip(&section.strips);
        let beyond = beyond.map(|(l, s)| (end - l) * s.width).max();
        beyond.unwrap_or(0).max((rest - kerf) * wide)
    };
    let larger = largest(size, rest) >= largest(section.size, run - used);
    let ends = lengths.iter().all(|l| fine(way, size - l, way.kerf_len));
    if size < section.size && larger && ends && fine(way, rest, way.kerf_len) {
        pattern.sections[at].size = size;
    }
}
