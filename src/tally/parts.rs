//! The parts of a job that are cut from one resource, in the units of a cutting problem.

use std::collections::BTreeMap;

use crate::cutting::model::{Goods, Part, Problem};
use crate::diagnostics::{Diagnostic, Place};
use crate::number::Exact;
use crate::program::Version;
use crate::syntax::tree::Side;
use crate::takeoff::{PartAt, Parts};

/// Adds the parts of a job that are made of `resource` to a problem that has stock only; `file` is where the problem was read.
/// Errors: OV-850 for a size that is no whole number of units or is not said, OV-851 for a resource without parts, OV-852 for parts of
/// unknown size or number.
pub fn add_parts(
    problem: &mut Problem,
    file: &str,
    version: &Version,
    parts: &Parts,
    resource: &str,
) -> Result<(), Vec<Diagnostic>> {
    let made_of = |part: usize| {
        let def = version.parts.get(part)?;
        let of = version.resources.get(def.resource)?;
        (of.name == resource).then_some(def)
    };
    let mut faults = Vec::new();
    let mut found: BTreeMap<(String, [i64; 3]), Part> = BTreeMap::new();
    for at in &parts.at {
        let Some(def) = made_of(at.part) else {
            continue;
        };
        match sizes(problem, &def.name, at, file) {
            Err(d) => {
                // One message for each part, not for each row.
                if !faults.iter().any(|f: &Diagnostic| f.message == d.message) {
                    faults.push(d);
                }
            }
            Ok([length, width, thick]) => {
                let count = u32::try_from(at.count).unwrap_or(u32::MAX);
                let part = found
                    .entry((def.name.clone(), [length, width, thick]))
                    .or_insert_with(|| Part::of_size(length, width, thick));
                part.count = part.count.saturating_add(count);
                part.rows.push((at.key.to_string(), count));
            }
        }
    }
    let lost: Vec<String> = (parts.unknown.iter())
        .filter_map(|(part, key, _)| Some(format!("{} of {key}", made_of(*part)?.name)))
        .collect();
    if !lost.is_empty() {
        let d = Diagnostic::error("OV-852", format!("not every part of {resource} is known"))
            .at(Place::File(file.to_string()), "")
            .found(lost.iter().take(3).cloned().collect::<Vec<_>>().join(", "))
            .expected("a number and sizes for each part")
            .mend("fill the blank cells of these rows in the survey, or set the rows aside");
        faults.push(d);
    }
    if found.is_empty() && faults.is_empty() {
        faults.push(without_parts(version, file, resource));
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    let mut numbers: BTreeMap<String, usize> = BTreeMap::new();
    for ((name, _), mut part) in found {
        let n = numbers.entry(name.clone()).or_default();
        *n += 1;
        part.mark = format!("{name} {n}");
        problem.parts.push(part);
    }
    if problem.rules.keep == (0, 0) {
        let small = |size: fn(&Part) -> i64| problem.parts.iter().map(size).min().unwrap_or(0);
        problem.rules.keep = (small(|p| p.length), small(|p| p.width));
    }
    Ok(())
}

fn without_parts(version: &Version, file: &str, resource: &str) -> Diagnostic {
    let mut names: Vec<&str> = (version.parts.iter())
        .filter_map(|p| Some(version.resources.get(p.resource)?.name.as_str()))
        .collect();
    names.sort_unstable();
    names.dedup();
    Diagnostic::error(
        "OV-851",
        format!("no part of the job is made of {resource}"),
    )
    .at(Place::File(file.to_string()), "")
    .found(resource)
    .expected(if names.is_empty() {
        "a job with parts".to_string()
    } else {
        names.join(", ")
    })
    .mend("name the resource that the parts are made of")
}

/// Length, width and thickness in units, as the kind of goods needs them.
fn sizes(problem: &Problem, name: &str, at: &PartAt, file: &str) -> Result<[i64; 3], Diagnostic> {
    let wanted: [Option<Side>; 3] = match problem.rules.goods {
        Goods::Linear => [Some(Side::Length), None, None],
        Goods::Boards => [Some(Side::Length), Some(Side::Width), Some(Side::Thickness)],
        Goods::Glass => [Some(Side::Width), Some(Side::Height), None],
    };
    let per_inch = (problem.unit.strip_prefix("1/"))
        .and_then(|u| u.strip_suffix(" in"))
        .and_then(|n| n.parse::<i64>().ok())
        .filter(|n| *n > 0);
    let Some(per_inch) = per_inch else {
        return Err(Diagnostic::error(
            "OV-850",
            "the parts of a job need a unit that is a fraction of an inch",
        )
        .at(Place::File(file.to_string()), "unit")
        .found(problem.unit.clone())
        .expected("a unit such as \"1/32 in\""));
    };
    let mut units = [0, 1, 0];
    for (unit, side) in units.iter_mut().zip(wanted) {
        let Some(side) = side else { continue };
        let Some(size) = at.size(side) else {
            return Err(Diagnostic::error(
                "OV-850",
                format!("the part {name} has no {}", side.word()),
            )
            .at(Place::File(file.to_string()), "kind")
            .expected(format!(
                "a {} for each part that is cut from this stock",
                side.word()
            ))
            .mend(format!("write the {} in the part", side.word())));
        };
        let whole = (size.rough.mul(&Exact::int(per_inch)).ok()).and_then(|n| n.to_i64());
        let Some(whole) = whole else {
            let (_, parts) = size.rough.small().unwrap_or((0, 0));
            return Err(Diagnostic::error(
                "OV-850",
                format!("the rough {} of {name} is not a whole number of units", side.word()),
            )
            .at(Place::File(file.to_string()), "unit")
            .found(format!("{} in at {}, in units of {}", size.rough.to_decimal(6).0, at.key, problem.unit))
            .expected("whole units for every size")
            .mend(if parts > 0 {
                format!("write a finer unit, of which 1/{parts} in is a multiple, or round the size in the part")
            } else {
                "round the size in the part".to_string()
            }));
        };
        *unit = whole;
    }
    Ok(units)
}
