//! Measures in the notation of other trades: raised powers, rates of a thousand, units joined by a slash.

use super::Stop;
use super::is_number;
use crate::diagnostics::Diagnostic;

/// Words for a length, and the same as a square and a cube.
const LENGTHS: &[(&[&str], &str, &str)] = &[
    (&["in", "inch", "inches"], "sq in", "cu in"),
    (&["ft", "foot", "feet"], "sq ft", "cu ft"),
    (&["yd", "yard", "yards"], "sq yd", "cu yd"),
];

/// `16 ft` to a power, as a measure with a unit of area or volume: `16 sq ft`.
pub(crate) fn of_power(measure: &str, power: &str) -> Option<String> {
    let (number, unit) = measure.trim().split_once(' ')?;
    let (_, square, cube) = LENGTHS.iter().find(|(words, ..)| words.contains(&unit))?;
    match power {
        "2" | "²" if is_number(number) => Some(format!("{number} {square}")),
        "3" | "³" if is_number(number) => Some(format!("{number} {cube}")),
        _ => None,
    }
}

/// `16 ft²`: a raised power belongs to the unit, where one is written.
pub(super) fn raised_power(stop: &Stop<'_>) -> Option<Diagnostic> {
    let sign = stop
        .rest()
        .chars()
        .next()
        .filter(|c| matches!(c, '²' | '³'))?;
    let (number, unit) = (stop.last_but_one(), stop.last());
    let written = of_power(&format!("{number} {unit}"), sign.encode_utf8(&mut [0; 4]))?;
    let start = stop.before().len() - unit.len();
    Some(
        stop.tell_at(
            "OV-120",
            format!("`{unit}{sign}` is not written so here"),
            start,
            unit.len() + sign.len_utf8(),
        )
        .expected("a unit of area or volume: sq ft, cu ft")
        .mend(format!("write {written}")),
    )
}

/// The unit that a text begins with, of one word or two.
fn unit_at_start(text: &str) -> Option<String> {
    let mut words = text.split_whitespace();
    let first = words.next()?;
    Some(match (first, words.next()) {
        ("sq" | "cu" | "board" | "fl", Some(second)) => format!("{first} {second}"),
        _ => first.to_owned(),
    })
}

/// `33 h per 1000 sq ft`: a rate is per one of its unit.
pub(super) fn rate_of_many(stop: &Stop<'_>) -> Option<Diagnostic> {
    let words: Vec<&str> = stop.before().split_whitespace().collect();
    let [.., number, unit, "per"] = words.as_slice() else {
        return None;
    };
    let many = stop.word();
    let whole = |text: &str| !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
    if !whole(number) || !whole(many) || many.trim_start_matches('0').is_empty() {
        return None;
    }
    let of = unit_at_start(&stop.rest()[many.len()..])?;
    Some(
        stop.tell("OV-124", "a rate is per one of its unit, not per several")
            .found(stop.found())
            .mend(format!("write {number}/{many} {unit} per {of}")),
    )
}

/// `19 oz/sq ft`: the units of a rate joined by a slash.
pub(super) fn slash_between_units(stop: &Stop<'_>) -> Option<Diagnostic> {
    let after = stop.rest().strip_prefix('/')?;
    let unit = stop.last();
    let units = is_number(stop.last_but_one())
        && stop.form.name == "given"
        && unit.chars().all(char::is_alphabetic)
        && after.starts_with(char::is_alphabetic);
    if !units {
        return None;
    }
    let of = unit_at_start(after)?;
    Some(
        stop.tell("OV-120", "units of a rate are joined by the word `per`")
            .found(stop.found())
            .mend(format!("write {} {unit} per {of}", stop.last_but_one())),
    )
}
