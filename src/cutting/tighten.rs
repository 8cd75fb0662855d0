//! Strips and sections no larger than their parts need: fewer parts are trimmed, and what is left over lies in one piece.

use super::pattern::{Pattern, Section, Strip};
use super::task::{Task, Way};

/// Makes strips as narrow and sections as short as their parts allow, where what is then left over can still be taken off.
pub(super) fn tighten(task: &Task, pattern: &mut Pattern) {
    let Some(way) = task.ways.iter().find(|w| w.along == pattern.along) else {
        return;
    };
    if way.stages < 2 {
        return;
    }
    let (level, runs) = &way.stocks[pattern.stock];
    let wide = way.widths[*level] as i64;
    for section in &mut pattern.sections {
        for at in 0..section.strips.len() {
            narrow(way, wide, section, at);
        }
    }
    if way.stages < 3 {
        return;
    }
    for at in 0..pattern.sections.len() {
        let run = runs[pattern.sections[at].run] as i64;
        shorten(way, run, pattern, at);
    }
}

/// Whether a rest is nothing, dust, or wide enough to be taken off.
fn fine(way: &Way, rest: i64, kerf: usize) -> bool {
    let (least, kerf) = (way.least as i64, kerf as i64);
    least == 0 || rest <= kerf || rest >= kerf + least
}

/// Length and width of a piece as it lies.
fn lying(way: &Way, strip: &Strip) -> Vec<(i64, i64)> {
    let of = |p: &super::pattern::Piece| {
        let item = way
            .items
            .iter()
            .find(|i| i.part == p.part && i.turned == p.turned);
        item.map(|i| (i.len as i64, i.wid as i64))
    };
    strip.pieces.iter().filter_map(of).collect()
}

fn narrow(way: &Way, wide: i64, section: &mut Section, at: usize) {
    let strip = &section.strips[at];
    let pieces = lying(way, strip);
    let width = pieces.iter().map(|p| p.1).max().unwrap_or(strip.width);
    let least = (way.least as i64).max(1);
    let trimmed = pieces.iter().all(|p| p.1 == width || p.1 + least <= width);
    let kerf = way.kerf_wid as i64;
    let used: i64 = section.strips.iter().map(|s| s.width + kerf).sum::<i64>() - kerf;
    let rest = wide - used + strip.width - width;
    if width < strip.width && trimmed && fine(way, rest, way.kerf_wid) {
        section.strips[at].width = width;
    }
}

fn shorten(way: &Way, run: i64, pattern: &mut Pattern, at: usize) {
    let section = &pattern.sections[at];
    let kerf = way.kerf_len as i64;
    let long = |s: &Strip| lying(way, s).iter().map(|p| p.0 + kerf).sum::<i64>() - kerf;
    let lengths: Vec<i64> = section.strips.iter().map(long).collect();
    let size = lengths.iter().copied().max().unwrap_or(section.size);
    let same = pattern.sections.iter().filter(|s| s.run == section.run);
    let used: i64 = same.map(|s| s.size + kerf).sum::<i64>() - kerf;
    let rest = run - used + section.size - size;
    let ends = lengths.iter().all(|l| fine(way, size - l, way.kerf_len));
    if size < section.size && ends && fine(way, rest, way.kerf_len) {
        pattern.sections[at].size = size;
    }
}
