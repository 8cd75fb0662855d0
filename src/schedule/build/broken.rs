//! Waits of a plan that are longer than the calendar allows, and a job that ends after its day.

use super::{Laid, Work, hours, minutes, wait};
use crate::calendar::clock::date_of;
use crate::calendar::{self, Instant, Levelled, Wait};
use crate::program::{WaitDef, WaitTime};
use crate::schedule::plan::{Broken, Schedule};
use std::collections::BTreeMap;

impl Laid<'_> {
    pub(super) fn broken(
        &self,
        works: &[Work],
        levelled: &Levelled,
        stated: &[(usize, usize, usize)],
        plan: &mut Schedule,
    ) {
        // A wait between phases is measured from the last trade of the one to the first of the other.
        let mut ends: BTreeMap<(usize, usize), (usize, usize)> = BTreeMap::new();
        let placed = |i: usize| {
            levelled
                .placed
                .get(i)
                .copied()
                .unwrap_or((Instant(0), Instant(0)))
        };
        for (def, after, before) in stated {
            let area = works.get(*after).map_or(0, |w| w.area);
            let pair = ends.entry((area, *def)).or_insert((*after, *before));
            if placed(*after).1 > placed(pair.0).1 {
                pair.0 = *after;
            }
            if placed(*before).0 < placed(pair.1).0 {
                pair.1 = *before;
            }
        }
        let keys: Vec<(usize, usize)> = ends.keys().copied().collect();
        let waits: Vec<Wait> = ends
            .iter()
            .filter_map(|((_, def), (after, before))| {
                let def = self.terms.waits.get(*def)?;
                let per_day = self.day_minutes(*before);
                let mut made = wait(*after, *before, None);
                let (kind, most) = minutes(def.most?, per_day);
                made.kind = kind;
                made.most = Some(most);
                Some(made)
            })
            .collect();
        for broken in self
            .network
            .broken_waits(&waits, &levelled.placed)
            .unwrap_or_default()
        {
            let Some((area, def)) = keys.get(broken.wait) else {
                continue;
            };
            let Some(def) = self.terms.waits.get(*def) else {
                continue;
            };
            plan.broken
                .push(self.broken_wait(&broken, def, plan.areas.get(*area)));
        }
        if let Some(due) = plan.due.filter(|due| plan.finish.last_day() > *due) {
            plan.broken.push(Broken {
                what: format!(
                    "the job is due on {} and ends on {}, {} days later",
                    date_of(due),
                    date_of(plan.finish.last_day()),
                    plan.finish.last_day() - due
                ),
                mend: "more crews on the critical phases, a longer day, or another date".to_owned(),
            });
        }
    }

    fn broken_wait(
        &self,
        broken: &calendar::BrokenWait,
        def: &WaitDef,
        area: Option<&String>,
    ) -> Broken {
        let most = match def.most {
            Some(WaitTime::WorkDays(days)) => format!("{days} working days"),
            Some(WaitTime::Elapsed(minutes)) => hours(minutes),
            None => String::new(),
        };
        let found = match def.most {
            Some(WaitTime::WorkDays(_)) => "more".to_owned(),
            _ => hours(broken.found),
        };
        let keeps = date_of(broken.keeps.day());
        Broken {
            what: format!(
                "{}: {} waits {found} after {}, at most {most} is allowed",
                area.map_or("", String::as_str),
                self.phase_name(def.before),
                self.phase_name(def.after),
            ),
            mend: def.or_else.clone().unwrap_or_else(|| {
                format!("end {} no earlier than {keeps}", self.phase_name(def.after))
            }),
        }
    }
}
