//! The cautions of a paper: on one that is parted, those that hold at its own rows.

use super::papers::Made;
use crate::eval::Cell;
use crate::paper::{Block, Reader};
use crate::program::{Constants, Grain, class_of_text};
use crate::show::{row_name, rows};
use crate::takeoff::Caution;
use foldhash::HashSet;

/// Most rows that one caution names.
const MOST_NAMED: usize = 5;

/// The rows that a paper is about.
#[derive(Default)]
pub(super) struct Rows {
    /// Those of tables and groups.
    pub(super) at: HashSet<(Grain, usize)>,
    /// Whether something on it is for the whole job, to which every caution belongs.
    pub(super) whole_job: bool,
}

/// The cautions that hold; those that name a figure the reader may not see are counted. `on` has the rows of a paper that is parted, and
/// whether those of the whole job are left out.
pub(super) fn put(
    made: &Made<'_>,
    reader: Reader,
    on: Option<(&Rows, bool)>,
    blocks: &mut Vec<Block>,
) {
    let mut kept = 0;
    let seen = |at: usize| {
        let def = made.version.cautions.get(at);
        def.is_none_or(|c| {
            let class = class_of_text(made.program, made.version, &c.text, Constants::AsWritten);
            reader.may_see(class)
        })
    };
    let of_rows = on.is_some_and(|(_, of_rows)| of_rows);
    let on = on.map(|(rows, _)| rows);
    let on = on.filter(|rows| of_rows || !rows.whole_job && !rows.at.is_empty());
    for caution in &made.estimate.facts.cautions {
        let marks = match on.map(|rows| made.holds_at(caution, rows)) {
            // Nothing on this paper is what it warns of.
            Some(Some(marks)) if marks.is_empty() => continue,
            // What holds nearly everywhere on a sheet of few rows is looked out for on all of them.
            Some(Some(marks)) if of_rows && marks.len() > MOST_NAMED => String::new(),
            Some(Some(marks)) => named(&marks, marks.len()),
            Some(None) if of_rows => continue,
            Some(None) | None => {
                let told = caution.marks.len();
                named(&caution.marks, caution.rows.unwrap_or(told))
            }
        };
        match seen(caution.caution) {
            false => kept += 1,
            true => blocks.push(Block::Text(match marks.is_empty() {
                true => caution.text.clone(),
                false => format!("{} ({marks})", caution.text),
            })),
        }
    }
    if kept > 0 {
        blocks.push(Block::Text(match kept {
            1 => "1 more caution names a figure of the office: ask there.".to_owned(),
            n => format!("{n} more cautions name figures of the office: ask there."),
        }));
    }
}

fn named(marks: &[String], all: usize) -> String {
    // The name of a group may hold commas.
    let between = match marks.iter().any(|m| m.contains(',')) {
        true => "; ",
        false => ", ",
    };
    let list = marks.get(..MOST_NAMED).unwrap_or(marks).join(between);
    match all > MOST_NAMED.min(marks.len()) {
        true => format!("{list} and others"),
        false => list,
    }
}

impl Made<'_> {
    /// The marks of the rows of a paper at which a caution holds; none for one that is not per row.
    fn holds_at(&self, caution: &Caution, on: &Rows) -> Option<Vec<String>> {
        let def = self.version.cautions.get(caution.caution)?;
        let (when, grain) = (def.when?, def.grain);
        def.count?;
        let mut ours: HashSet<usize> = HashSet::default();
        let mut below: HashSet<Grain> = HashSet::default();
        for at in &on.at {
            match self.row_above(*at, grain) {
                Some(row) => {
                    ours.insert(row);
                }
                // The rows of the caution lie below those of the paper.
                None => {
                    below.insert(at.0);
                }
            }
        }
        let own = |row: usize| {
            let above = |of: &Grain| {
                let row = self.row_above((grain, row), *of);
                row.is_some_and(|row| on.at.contains(&(*of, row)))
            };
            ours.contains(&row) || below.iter().any(above)
        };
        let holds =
            |row: &usize| own(*row) && matches!(self.results.value(when, *row), Cell::Truth(true));
        let rows = (0..rows(self.tables, self.results, grain)).filter(holds);
        let name = |row| row_name(self.program, self.tables, self.results, grain, row);
        Some(rows.map(|row| name(row).unwrap_or_default()).collect())
    }
}
