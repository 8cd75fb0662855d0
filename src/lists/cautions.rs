//! The cautions of a paper: on one that is parted, those that hold at its own rows.

use super::papers::Made;
use crate::eval::Cell;
use crate::paper::{Block, Reader};
use crate::program::{CautionDef, Constants, Grain, PhaseId, class_of_text};
use crate::show::{row_name, rows};
use crate::syntax::tree::{CautionKind, Whose};
use crate::takeoff::Caution;
use foldhash::HashSet;

/// The rows that a paper is about.
#[derive(Default)]
pub(super) struct Rows {
    /// Those of tables and groups.
    pub(super) at: HashSet<(Grain, usize)>,
    /// Whether something on it is for the whole job, to which every caution belongs.
    pub(super) whole_job: bool,
}

/// The work that a paper is about.
pub(super) struct Work {
    reader: Reader,
    /// Its phases, on a paper for those who do it: they are warned of their own work alone.
    phases: Option<HashSet<PhaseId>>,
}

impl Work {
    /// `listed` has the phases of the lines of a paper. The shop does what is worked in the shop besides.
    pub(super) fn of(
        made: &Made<'_>,
        reader: Reader,
        listed: impl Iterator<Item = PhaseId>,
    ) -> Work {
        let shop = made.program.terms.calendar.shop.iter().copied();
        let phases = match reader {
            Reader::Shop => Some(listed.chain(shop).collect()),
            Reader::Crew => Some(listed.collect()),
            Reader::Owner
            | Reader::Review
            | Reader::Schedule
            | Reader::Order
            | Reader::Tag
            | Reader::Archive
            | Reader::Office => None,
        };
        Work { reader, phases }
    }

    /// Whether a caution is about it.
    fn holds(&self, def: &CautionDef) -> bool {
        let Some(phases) = &self.phases else {
            return true;
        };
        let own = def.whose.is_none_or(|whose| match whose {
            Whose::Shop => self.reader == Reader::Shop,
            Whose::Crew => self.reader == Reader::Crew,
        });
        // What an offer rests on or leaves out is no warning to whoever does the work, unless it is about rows or phases of the work.
        let offered = match def.kind {
            CautionKind::Plain => false,
            CautionKind::Condition => def.count.is_none() && def.phases.is_empty(),
            CautionKind::Exclusion => true,
        };
        // A paper without work is about all of it.
        let all = def.phases.is_empty() || phases.is_empty();
        own && !offered && (all || def.phases.iter().any(|phase| phases.contains(phase)))
    }
}

/// The cautions that hold, all or of one kind; those that name a figure the reader may not see are counted. `on` has the rows of a paper that is parted, and
/// whether those of the whole job are left out.
pub(super) fn put<R>(
    made: &Made<'_>,
    (work, kind): (&Work, Option<CautionKind>),
    on: Option<(&Rows, bool)>,
    blocks: &mut Vec<Block<R>>,
) {
    let mut kept = 0;
    let seen = |at: usize| {
        let def = made.version.cautions.get(at);
        def.is_none_or(|c| {
            let class = class_of_text(made.program, made.version, &c.text, Constants::AsWritten);
            work.reader.may_see(class)
        })
    };
    let of_rows = on.is_some_and(|(_, of_rows)| of_rows);
    let on = on.map(|(rows, _)| rows);
    let on = on.filter(|rows| of_rows || !rows.whole_job && !rows.at.is_empty());
    let wanted = |caution: &&Caution| {
        let def = made.version.cautions.get(caution.caution);
        def.is_some_and(|def| match kind {
            Some(kind) => def.kind == kind,
            None => work.holds(def),
        })
    };
    let before = blocks.len();
    for caution in made.estimate.facts.cautions.iter().filter(wanted) {
        let marks = match made.holds_at(caution, on) {
            // Nothing on this paper is what it warns of.
            Some(held) if held.rows.is_empty() => continue,
            // What holds nearly everywhere on a sheet of few rows is looked out for on all of them.
            Some(held) if of_rows && held.rows.len() > FEW => String::new(),
            Some(held) => made.words_of(&held),
            None if of_rows => continue,
            None => listed(&caution.marks),
        };
        match seen(caution.caution) {
            false => kept += 1,
            true => blocks.push(Block::Text(match marks.is_empty() {
                true => caution.text.clone(),
                false => format!("{} ({marks})", caution.text),
            })),
        }
    }
    if kind.is_some() && kept == 0 && blocks.len() == before {
        blocks.push(Block::Text("None.".to_owned()));
    }
    if kept > 0 {
        blocks.push(Block::Text(match kept {
            1 => "1 more caution names a figure of the office: ask there.".to_owned(),
            n => format!("{n} more cautions name figures of the office: ask there."),
        }));
    }
}

/// Most rows that are named on the sheet of one week.
const FEW: usize = 5;

/// More rows than these are counted, not named.
const MOST: usize = 500;

/// The rows of a caution's grain on a paper: whoever is warned reads every one of them, so none is left out.
struct Held {
    grain: Grain,
    /// Those at which it holds.
    rows: Vec<usize>,
    /// The others.
    others: Vec<usize>,
}

fn listed(marks: &[String]) -> String {
    // The name of a group may hold commas.
    marks.join(match marks.iter().any(|m| m.contains(',')) {
        true => "; ",
        false => ", ",
    })
}

impl Made<'_> {
    /// The rows of a paper, or of the job, at which a caution holds; none for one that is not per row.
    fn holds_at(&self, caution: &Caution, on: Option<&Rows>) -> Option<Held> {
        let def = self.version.cautions.get(caution.caution)?;
        let (when, grain) = (def.when?, def.grain);
        def.count?;
        let mut ours: HashSet<usize> = HashSet::default();
        let mut below: HashSet<Grain> = HashSet::default();
        for at in on.into_iter().flat_map(|on| &on.at) {
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
            let Some(on) = on else {
                return true;
            };
            let above = |of: &Grain| {
                let row = self.row_above((grain, row), *of);
                row.is_some_and(|row| on.at.contains(&(*of, row)))
            };
            ours.contains(&row) || below.iter().any(above)
        };
        let holds = |row: &usize| matches!(self.results.value(when, *row), Cell::Truth(true));
        let all = (0..rows(self.tables, self.results, grain)).filter(|row| own(*row));
        let (held, others): (Vec<usize>, Vec<usize>) = all.partition(holds);
        Some(Held {
            grain,
            rows: held,
            others,
        })
    }

    /// Names the rows that it holds at, or those that it does not, whichever list is shorter.
    fn words_of(&self, held: &Held) -> String {
        let name = |row: &usize| {
            let name = row_name(self.program, self.tables, self.results, held.grain, *row);
            name.unwrap_or_default()
        };
        let names = |rows: &[usize]| listed(&rows.iter().map(name).collect::<Vec<_>>());
        let (rows, others) = (held.rows.len(), held.others.len());
        match (others, others * 2 < rows) {
            (0, _) if rows > FEW => "all".to_owned(),
            (_, true) if others > 0 && others <= MOST => {
                format!("all but {}", names(&held.others))
            }
            _ if rows <= MOST => names(&held.rows),
            _ => format!("{rows} of {}", rows + others),
        }
    }
}
