//! Names for people: of resources, phases, classes and layers.

use crate::number::{Exact, decimal};
use crate::program::{PhaseId, Program, ResourceId, Version};

/// A name of the language with blanks for underscores.
pub fn spoken(name: &str) -> String {
    name.replace('_', " ")
}

/// What a resource is called.
pub(super) fn resource(version: &Version, id: ResourceId) -> String {
    let def = version.resources.get(id);
    def.map_or_else(String::new, |r| {
        r.called.clone().unwrap_or_else(|| spoken(&r.name))
    })
}

/// What a phase is called.
pub(super) fn phase(program: &Program, id: PhaseId) -> String {
    program.phases.get(id).cloned().unwrap_or_default()
}

/// A share as a percent: 0.35 is `35 %`.
pub fn percent(share: &Exact) -> String {
    match share.mul(&Exact::int(100)) {
        Ok(hundredths) => format!("{} %", decimal(&hundredths, 4)),
        Err(_) => "a share too long to print".to_owned(),
    }
}

/// `a`, `a and b`, `a, b and c`.
pub(super) fn list(words: &[String]) -> String {
    match words {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}
