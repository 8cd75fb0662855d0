//! Rows of a lookup table against one another: two that fit the same keys, and bands that leave something out between them.
//! Must not know how cells are written.

use super::typed::*;
use crate::diagnostics::Diagnostic;
use crate::number::Exact;
use crate::program::{KeyCell, Lookup, Ty};
use crate::units::{Style, UnitExpr, format_quantity, point_text};
use std::cmp::Ordering;
use std::collections::BTreeMap;

/// Gaps shown of one table.
const MOST_GAPS: usize = 3;

/// Pairs of rows with bands in several keys, or with `any` beside bands, that are compared in all.
pub(super) const MOST_PAIRS: usize = 4_000_000;

/// An end of a band and whether it is in.
type End = Option<(Exact, bool)>;

impl Checker<'_> {
    /// Refuses two rows that fit the same keys, and tells of gaps between bands.
    pub(super) fn check_rows(&mut self, lookup: &Lookup) -> Checks<()> {
        // Rows are compared with those that have the same exact keys; with one key of bands left, in the order of the bands.
        let open: Vec<usize> = (0..lookup.keys.len())
            .filter(|k| lookup.keys[*k].cells.iter().any(|c| !is_exact(c)))
            .collect();
        let mut groups: BTreeMap<Vec<String>, Vec<usize>> = BTreeMap::new();
        for row in 0..lookup.rows {
            let exact = lookup
                .keys
                .iter()
                .enumerate()
                .filter(|(k, _)| !open.contains(k));
            groups
                .entry(exact.map(|(_, key)| exact_text(&key.cells[row])).collect())
                .or_default()
                .push(row);
        }
        let mut meeting: Option<(usize, usize)> = None;
        let mut gaps: Vec<(usize, usize)> = Vec::new();
        for mut rows in groups.into_values() {
            let found = match open.as_slice() {
                [] => rows.first().copied().zip(rows.get(1).copied()),
                [key]
                    if rows
                        .iter()
                        .all(|r| lookup.keys[*key].cells[*r] != KeyCell::Any) =>
                {
                    let cells = &lookup.keys[*key].cells;
                    rows.sort_by(|a, b| compare_starts(&cells[*a], &cells[*b]));
                    let met = rows
                        .windows(2)
                        .find(|w| cells_meet(&cells[w[0]], &cells[w[1]]))
                        .map(|w| (w[0], w[1]));
                    let apart = |w: &&[usize]| {
                        let bands = [w[0], w[1]]
                            .iter()
                            .all(|r| matches!(cells[*r], KeyCell::Band { .. }));
                        bands && !cells_touch(&cells[w[0]], &cells[w[1]])
                    };
                    if met.is_none() {
                        gaps.extend(rows.windows(2).filter(apart).map(|w| (w[0], w[1])));
                    }
                    met
                }
                _ if rows.len() * (rows.len() - 1) / 2 > self.reported.pairs_left => {
                    let most = MOST_PAIRS.isqrt();
                    return self.fail(
                        Diagnostic::error("OV-410", "a table needs rows, and not too many")
                            .at(lookup.span, "")
                            .found(format!("{} rows with bands in several keys", rows.len()))
                            .expected(format!("at most {most} such rows in all tables")),
                    );
                }
                _ => pairs(&rows)
                    .inspect(|_| self.reported.pairs_left -= 1)
                    .find(|(a, b)| {
                        open.iter().all(|k| {
                            cells_meet(&lookup.keys[*k].cells[*a], &lookup.keys[*k].cells[*b])
                        })
                    }),
            };
            if let Some((a, b)) = found {
                let pair = (a.min(b), a.max(b));
                meeting = Some(meeting.map_or(pair, |m| m.min(pair)));
            }
        }
        if let Some((a, b)) = meeting {
            return self.fail(two_rows(lookup, a, b));
        }
        gaps.sort_unstable();
        self.tell_gaps(lookup, &open, &gaps);
        Ok(())
    }

    /// A value between two bands is refused while running; reported beforehand, since it is easily an end that was mistyped.
    fn tell_gaps(&mut self, lookup: &Lookup, open: &[usize], gaps: &[(usize, usize)]) {
        let ([at], Some((first, _))) = (open, gaps.first()) else {
            return;
        };
        let key = &lookup.keys[*at];
        let unit = key.unit.clone().unwrap_or_else(UnitExpr::none);
        let text = |v: &Exact| match key.ty {
            Ty::Point(scale) => point_text(scale, v),
            Ty::Number(_) | Ty::Truth | Ty::Choice(_) | Ty::Text => {
                format_quantity(v, &unit, &self.program.nouns, Style::default())
            }
        };
        let mut found: Vec<String> = Vec::new();
        for (a, b) in gaps.iter().take(MOST_GAPS) {
            let (Some((high, high_in)), Some((low, low_in))) =
                (ends(&key.cells[*a]).1, ends(&key.cells[*b]).0)
            else {
                continue;
            };
            found.push(match (high == low, high_in, low_in) {
                (true, ..) => format!("nothing at {}", text(&low)),
                (_, false, true) => format!("nothing from {} to {}", text(&high), text(&low)),
                (_, false, false) => format!("nothing from {} up to {}", text(&high), text(&low)),
                (_, true, true) => format!("nothing over {} and under {}", text(&high), text(&low)),
                (_, true, false) => format!("nothing over {} up to {}", text(&high), text(&low)),
            });
        }
        if gaps.len() > MOST_GAPS {
            found.push(format!("and {} more", gaps.len() - MOST_GAPS));
        }
        self.problems.push(
            Diagnostic::warning("OV-421", format!("the bands of `{}` in the table `{}` leave a gap", key.name, lookup.name))
                .at(lookup.places[*first].clone(), "after this row")
                .found(found.join("\n"))
                .mend("let one band begin where the one before ends; a value in the gap is refused while running"),
        );
    }
}

fn two_rows(lookup: &Lookup, a: usize, b: usize) -> Diagnostic {
    let bands = lookup.keys.iter().any(|k| {
        [a, b]
            .iter()
            .any(|r| matches!(k.cells[*r], KeyCell::Band { .. }))
    });
    Diagnostic::error(
        "OV-412",
        format!("two rows of the table `{}` fit the same keys", lookup.name),
    )
    .at(lookup.places[b].clone(), "this row")
    .at(lookup.places[a].clone(), "and this one")
    .mend(if bands {
        "bands are half open: `0 to 144` and `144 to 432` do not meet; narrow one of them"
    } else {
        "keep one of them"
    })
}

fn pairs(rows: &[usize]) -> impl Iterator<Item = (usize, usize)> {
    rows.iter()
        .enumerate()
        .flat_map(|(n, a)| rows[n + 1..].iter().map(move |b| (*a, *b)))
}

fn is_exact(cell: &KeyCell) -> bool {
    matches!(
        cell,
        KeyCell::Number(_) | KeyCell::Text(_) | KeyCell::Truth(_)
    )
}

fn exact_text(cell: &KeyCell) -> String {
    match cell {
        KeyCell::Number(n) => n.to_string(),
        KeyCell::Text(t) => t.to_ascii_lowercase(),
        KeyCell::Truth(b) => b.to_string(),
        KeyCell::Any | KeyCell::Band { .. } => String::new(),
    }
}

/// Both ends of a cell that holds numbers.
fn ends(cell: &KeyCell) -> (End, End) {
    match cell {
        KeyCell::Number(n) => (Some((n.clone(), true)), Some((n.clone(), true))),
        KeyCell::Band { low, high } => (low.clone(), high.clone()),
        KeyCell::Any | KeyCell::Text(_) | KeyCell::Truth(_) => (None, None),
    }
}

/// The one that begins lower first.
fn compare_starts(a: &KeyCell, b: &KeyCell) -> Ordering {
    match (ends(a).0, ends(b).0) {
        (None, None) => Ordering::Equal,
        (None, Some(_)) => Ordering::Less,
        (Some(_), None) => Ordering::Greater,
        (Some((a, a_in)), Some((b, b_in))) => a.cmp(&b).then(b_in.cmp(&a_in)),
    }
}

/// Whether the second begins right where the first ends.
fn cells_touch(first: &KeyCell, second: &KeyCell) -> bool {
    match (ends(first).1, ends(second).0) {
        (Some((high, high_in)), Some((low, low_in))) => high == low && (high_in || low_in),
        _ => true,
    }
}

/// Whether some key fits both cells.
fn cells_meet(a: &KeyCell, b: &KeyCell) -> bool {
    match (a, b) {
        (KeyCell::Any, _) | (_, KeyCell::Any) => true,
        (KeyCell::Text(x), KeyCell::Text(y)) => x.eq_ignore_ascii_case(y),
        (KeyCell::Truth(x), KeyCell::Truth(y)) => x == y,
        (KeyCell::Number(_) | KeyCell::Band { .. }, KeyCell::Number(_) | KeyCell::Band { .. }) => {
            let ((al, ah), (bl, bh)) = (ends(a), ends(b));
            // They are apart when one ends before the other begins.
            let apart = |high: &End, low: &End| match (high, low) {
                (Some((h, hin)), Some((l, lin))) => h < l || (h == l && !(*hin && *lin)),
                _ => false,
            };
            !apart(&ah, &bl) && !apart(&bh, &al)
        }
        _ => false,
    }
}
