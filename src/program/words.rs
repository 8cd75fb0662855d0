//! Types and grains in words.

use super::{Grain, Program, Ty};
use crate::diagnostics::suggest::listed;

impl Program {
    /// `for each opening`, `for the job`, `the same everywhere`.
    pub fn name_of_grain(&self, grain: Grain) -> String {
        match grain {
            Grain::Const => "the same everywhere".into(),
            Grain::Job => "for the job".into(),
            Grain::Group(g) => format!("for each {}", self.groups[g].name),
            Grain::Table(t) => format!("for each {}", self.tables[t].schema.name),
        }
    }

    /// What a value is: `a length`, `one of retain, mend, renew`, `yes or no`.
    pub fn words(&self, ty: &Ty) -> String {
        match ty {
            Ty::Number(n) if n.percent => "a percent".into(),
            Ty::Number(n) => crate::units::describe(&n.dim, &self.nouns),
            Ty::Truth => "yes or no".into(),
            Ty::Choice(c) => format!("one of {}", listed(&self.choices[*c].labels)),
            Ty::Text => "a text".into(),
            Ty::Point(scale) => scale.words().into(),
        }
    }
}
