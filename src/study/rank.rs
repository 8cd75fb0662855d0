//! Totals over the values of one or two figures, and the givens in the order of what their ranges do to the total.

use super::subject::{Subject, SubjectKind, find, spaced};
use super::{Study, Total, at};
use crate::check::{Pin, Point};
use crate::estimate::Refused;
use crate::number::Exact;
use crate::program::{ValueDef, ValueKind};

/// A given with a range, and the total at its ends.
#[derive(Debug, Clone)]
pub struct Ranked {
    /// The given.
    pub subject: Subject,
    /// Low and high end, in base units.
    pub ends: (Exact, Exact),
    /// Total at the low end.
    pub low: Total,
    /// Total at the high end.
    pub high: Total,
    /// How far the total moves, from its least to its greatest among low, as decided and high; none where an end is refused.
    pub effect: Option<i128>,
    /// Whether the alternate sets it itself, so that it cannot move.
    pub set: bool,
}

/// Every given with a range, the one that moves the total most first; those with an end that is refused before all others, ties in the
/// order of the sheets. Gives the total as it stands too.
/// Errors: as [`Study::totals`].
pub fn rank(study: &Study<'_>, alternate: Option<&str>) -> Result<(Total, Vec<Ranked>), Refused> {
    rank_some(study, alternate, |_| true)
}

/// As [`rank`], of the givens that are wanted.
/// Errors: as [`Study::totals`].
pub fn rank_some(
    study: &Study<'_>,
    alternate: Option<&str>,
    wanted: impl Fn(&ValueDef) -> bool,
) -> Result<(Total, Vec<Ranked>), Refused> {
    let names = study
        .program
        .versions
        .first()
        .map_or(&[][..], |v| &v.values);
    // The range of a fact says what may be answered, not what it may turn out to be.
    let with_range = names.iter().filter(|v| {
        let kind = &v.kind;
        matches!(
            kind,
            ValueKind::Given {
                range: Some(_),
                answer: None,
                ..
            }
        ) && wanted(v)
    });
    let subjects: Vec<(Subject, (Exact, Exact))> = with_range
        .filter_map(|v| find(study.program, &v.name))
        .filter_map(|s| s.range().map(|r| (s, r)))
        .collect();
    let mut points = vec![at(alternate, &[])];
    for (subject, (low, high)) in &subjects {
        points.extend([low, high].map(|value| at(alternate, &[subject.pin(value)])));
    }
    let mut totals = study.totals(&points)?.into_iter();
    let as_is = totals.next().unwrap_or(Err(vec![]));
    let own = study
        .program
        .versions
        .iter()
        .find(|v| v.name.as_deref() == alternate);
    let mut out = Vec::new();
    for (subject, ends) in subjects {
        let (Some(low), Some(high)) = (totals.next(), totals.next()) else {
            break;
        };
        let effect = match (&as_is, &low, &high) {
            (Ok(here), Ok(a), Ok(b)) => Some(*here.max(a).max(b) - *here.min(a).min(b)),
            _ => None,
        };
        let by_alternate = |v: &std::sync::Arc<crate::program::ValueDef>| {
            v.name == subject.name && v.layer == crate::syntax::tree::Layer::Alternate
        };
        let set = own.is_some_and(|v| v.values.iter().any(by_alternate));
        out.push(Ranked {
            subject,
            ends,
            low,
            high,
            effect,
            set,
        });
    }
    out.sort_by_key(|r| r.effect.map_or(i128::MIN, |e| -e)); // stable: ties in the order of the sheets
    Ok((as_is, out))
}

/// Totals over the values of one or two figures.
#[derive(Debug, Clone)]
pub struct Grid {
    /// Headings of the rows.
    pub rows: Vec<String>,
    /// Headings of the columns: values of the second figure, or versions where there is one figure.
    pub columns: Vec<String>,
    /// Total of each row and column.
    pub totals: Vec<Vec<Total>>,
}

/// A figure with the values to look at.
#[derive(Debug, Clone)]
pub struct Axis {
    values: Vec<(String, Pin)>,
}

impl Axis {
    /// The values of a figure: from low to high in steps, or every value of one of a few. `None` where it states no range and none is reported.
    pub fn new(
        study: &Study<'_>,
        subject: &Subject,
        told: Option<(Exact, Exact)>,
        steps: u32,
    ) -> Option<Axis> {
        let values = match &subject.kind {
            SubjectKind::Few(few) => few
                .iter()
                .map(|(word, value)| (word.clone(), subject.pin_to(value.clone())))
                .collect(),
            SubjectKind::Number { .. } | SubjectKind::Price { .. } => {
                let (low, high) = told.or_else(|| subject.range())?;
                let values = spaced(&low, &high, steps, subject.whole());
                values
                    .iter()
                    .map(|value| (subject.text(study.program, value), subject.pin(value)))
                    .collect()
            }
        };
        Some(Axis { values })
    }
}

/// Works the totals over one figure for each version, or over two for the first version.
/// Errors: as [`Study::totals`].
pub fn grid(
    study: &Study<'_>,
    rows: &Axis,
    columns: Option<&Axis>,
    versions: &[Option<String>],
) -> Result<Grid, Refused> {
    let first = versions.first().and_then(Option::as_deref);
    let mut points: Vec<Point> = Vec::new();
    for (_, row) in &rows.values {
        match columns {
            Some(axis) => points.extend(
                axis.values
                    .iter()
                    .map(|(_, column)| at(first, &[row.clone(), column.clone()])),
            ),
            None => points.extend(
                versions
                    .iter()
                    .map(|v| at(v.as_deref(), std::slice::from_ref(row))),
            ),
        }
    }
    let headings: Vec<String> = match columns {
        Some(axis) => axis.values.iter().map(|(text, _)| text.clone()).collect(),
        None => versions
            .iter()
            .map(|v| v.clone().unwrap_or_else(|| "as decided".to_owned()))
            .collect(),
    };
    let mut totals = study.totals(&points)?.into_iter();
    let table = rows
        .values
        .iter()
        .map(|_| totals.by_ref().take(headings.len()).collect())
        .collect();
    Ok(Grid {
        rows: rows.values.iter().map(|(text, _)| text.clone()).collect(),
        columns: headings,
        totals: table,
    })
}
