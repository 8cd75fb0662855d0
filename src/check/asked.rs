//! Facts that a job answers: their type, what is assumed until they are answered, and which are not.

use super::load::Loaded;
use super::typed::*;
use crate::diagnostics::{Diagnostic, Span};
use crate::program::{
    Adds, Answer, Grain, Kind, Missing, Node, NumTy, Scale, Ty, ValueDef, ValueKind, Version,
    WhyNot,
};
use crate::syntax::tree::{Asked, Change, ColumnType, Given, GivenValue, Layer, StatementKind};
use crate::table::ColumnKind;
use crate::units::UnitExpr;

/// Words of a source that speak of one building or one owner: such a fact is no figure of a sheet for all.
const OF_ONE_SITE: &[&str] = &[
    "at the building",
    "the building's record",
    "on site",
    "at the site",
    "site visit",
    "the owner's statement",
    "owner's word",
    "the survey of the building",
];

impl<'a> Checker<'a> {
    /// What is assumed until the fact is answered, or a value that is missing.
    pub(super) fn asked_value(
        &mut self,
        d: usize,
        asked: &'a Asked,
        def: &Def<'a>,
    ) -> Checks<Typed> {
        let ty = self.asked_type(asked, def)?;
        let Some((value, _)) = &asked.unanswered else {
            let node = self.program.intern(Node {
                kind: Kind::Asked(u32::try_from(d).map_err(|_| Poisoned)?),
                ty,
                grain: Grain::Const,
                missing: Missing::Never,
                span: def.name.span,
            });
            return Ok(Typed {
                node,
                pending: Pending::default(),
                whole: matches!(asked.kind, ColumnType::Count(_)),
                literal: false,
            });
        };
        let t = self.settled(value, &Context::at(Grain::Const), def.choice)?;
        let found = self.ty(&t).clone();
        if !same_kind(&ty, &found) {
            let (found, expected) = (self.words(&found), self.words(&ty));
            return self.fail(
                Diagnostic::error(
                    "OV-311",
                    format!(
                        "what is assumed of `{}` is not what it is asked for",
                        def.name.text
                    ),
                )
                .at(value.span, found.clone())
                .found(found)
                .expected(expected),
            );
        }
        if self.grain_of(t.node) != Grain::Const {
            return self.fail(
                Diagnostic::error("OV-501", "a given is the same everywhere").at(value.span, ""),
            );
        }
        Ok(Typed {
            literal: false,
            ..t
        })
    }

    fn asked_type(&mut self, asked: &'a Asked, def: &Def<'a>) -> Checks<Ty> {
        if let Some(choice) = def.choice {
            return Ok(Ty::Choice(choice));
        }
        Ok(match self.plain_kind(&asked.kind, false, false)? {
            ColumnKind::Text | ColumnKind::Lites => Ty::Text,
            ColumnKind::Date => Ty::Point(Scale::Day),
            ColumnKind::Moment => Ty::Point(Scale::Moment),
            ColumnKind::Temperature => Ty::Point(Scale::Temperature),
            ColumnKind::YesNo => Ty::Truth,
            ColumnKind::Choice(_) => return Err(Poisoned),
            ColumnKind::Number { dim, percent, .. } => {
                let adds = if percent {
                    Adds::No(WhyNot::Percent)
                } else {
                    adds_by_dim(&dim)
                };
                Ty::Number(NumTy {
                    dim,
                    percent,
                    adds,
                    real: false,
                })
            }
        })
    }

    /// The unit a number is asked in.
    pub(super) fn asked_unit(&mut self, asked: &'a Asked) -> Option<UnitExpr> {
        match self.plain_kind(&asked.kind, false, false) {
            Ok(ColumnKind::Number { unit, .. }) => Some(unit),
            _ => None,
        }
    }

    pub(super) fn is_asked(&self, name: &str) -> bool {
        self.declared.by_name.get(name).is_some_and(|list| {
            list.iter().any(|d| {
                matches!(
                    self.declared.defs[*d].kind,
                    DefKind::Given(Given {
                        value: GivenValue::Asked(_),
                        ..
                    })
                )
            })
        })
    }

    pub(super) fn tell_answered_twice(&mut self, change: &Change, first: Span) {
        self.problems.push(
            Diagnostic::error(
                "OV-651",
                format!("`{}` is answered twice in one layer", change.name.text),
            )
            .at(change.span, "the second answer")
            .at(first, "the first")
            .mend("keep the answer that holds"),
        );
    }
}

/// Whether a value of the second type can stand for one of the first.
pub(super) fn same_kind(a: &Ty, b: &Ty) -> bool {
    match (a, b) {
        (Ty::Number(x), Ty::Number(y)) => x.dim == y.dim && x.percent == y.percent,
        _ => a == b,
    }
}

/// How an asked given is under these changes; none for one that is not asked.
pub(super) fn answer_of(given: &Given, changes: &[LayeredChange<'_>]) -> Option<Answer> {
    let GivenValue::Asked(asked) = &given.value else {
        return None;
    };
    Some(match (&asked.unanswered, changes) {
        (_, [_, ..]) => Answer::Given,
        (Some((_, because)), []) => Answer::Assumed(because.text.clone()),
        (None, []) => Answer::Missing,
    })
}

/// One warning (OV-652) for each figure of a sheet for all jobs whose source speaks of one building or one owner.
pub fn site_facts(loaded: &Loaded) -> Vec<Diagnostic> {
    let mut told = Vec::new();
    for sheet in loaded.sheets.iter().filter(|s| s.layer == Layer::Base) {
        for statement in &sheet.tree.statements {
            let StatementKind::Given(given) = &statement.kind else {
                continue;
            };
            let source = given.remarks.source.as_deref().unwrap_or("");
            let lower = source.to_lowercase();
            if matches!(given.value, GivenValue::Asked(_))
                || !OF_ONE_SITE.iter().any(|words| lower.contains(words))
            {
                continue;
            }
            let name = &given.name.text;
            told.push(
                Diagnostic::warning(
                    "OV-652",
                    format!("a sheet for every job states `{name}` as a fact of one building"),
                )
                .at(given.name.span, "")
                .found(format!("source \"{source}\""))
                .mend(format!(
                    "let each job answer it: given {name} asked TYPE; or name a source that holds for every building"
                )),
            );
        }
    }
    told
}

fn values_that<'v>(
    version: &'v Version,
    wanted: impl Fn(&Answer) -> bool + 'v,
) -> impl Iterator<Item = &'v ValueDef> {
    version
        .values
        .iter()
        .map(|v| &**v)
        .filter(move |v| matches!(&v.kind, ValueKind::Given { answer: Some(a), .. } if wanted(a)))
}

/// One error for all facts that a version asks for and nobody has answered: it can't be run. None where every fact has a value.
pub fn unanswered(version: &Version) -> Option<Diagnostic> {
    let missing: Vec<&ValueDef> = values_that(version, |a| *a == Answer::Missing).collect();
    let message = match missing.len() {
        0 => return None,
        1 => "the job does not answer a fact that its sheets ask for".to_string(),
        n => format!("the job does not answer {n} facts that its sheets ask for"),
    };
    Some(list(Diagnostic::error("OV-650", message), &missing))
}

/// One warning for all facts that a version asks for and nobody has answered, also where a value is assumed.
pub fn still_asked(version: &Version) -> Option<Diagnostic> {
    let open: Vec<&ValueDef> = values_that(version, |a| *a != Answer::Given).collect();
    let message = match open.len() {
        0 => return None,
        1 => "the job has one fact still to answer".to_string(),
        n => format!("the job has {n} facts still to answer"),
    };
    Some(list(Diagnostic::warning("OV-650", message), &open))
}

/// A message that names each fact where it is asked.
fn list(d: Diagnostic, facts: &[&ValueDef]) -> Diagnostic {
    let d = facts.iter().fold(d, |d, v| match &v.kind {
        ValueKind::Given {
            answer: Some(Answer::Assumed(because)),
            ..
        } => d.at(
            v.span,
            format!("`{}`; until then it is assumed: {because}", v.name),
        ),
        ValueKind::Column { .. }
        | ValueKind::Given { .. }
        | ValueKind::Rule
        | ValueKind::Decide(_) => d.at(v.span, format!("`{}`; without it no run", v.name)),
    });
    let first = facts.first().map_or("NAME", |v| v.name.as_str());
    d.mend(format!(
        "answer in the job sheet: change {first} to VALUE because \"...\" by \"WHO\" on DATE"
    ))
}
