//! `taken of RESOURCE`: how much of a resource the take lines and parts take, read as a value of a group or the job.

use super::takes::Line;
use super::typed::*;
use crate::diagnostics::Diagnostic;
use crate::number::Exact;
use crate::program::{Adds, Grain, Kind, NodeId, NumTy, TakeDef, Ty};
use crate::syntax::tree::{AmendWhat, Expr, ForLine, Name, SendTo};

/// How often the takes of a resource are added up in all versions.
const MOST_TAKEN: usize = 2_000;

impl<'a> Checker<'a> {
    pub(super) fn taken(&mut self, e: &'a Expr, name: &'a Name, cx: &Context<'a>) -> Checks<Typed> {
        let resource = self.resource_named(name)?;
        if cx.grain == Grain::Const {
            return self.fail(
                Diagnostic::error("OV-503", "nothing can be added up here")
                    .at(e.span, "")
                    .expected("a `for each` or `for the job` block"),
            );
        }
        if self.reading.taking.contains(&resource) {
            let path: Vec<String> = self
                .reading
                .open
                .iter()
                .map(|(d, _)| format!("`{}`", self.declared.defs[*d].name.text))
                .collect();
            return self.fail(
                Diagnostic::error(
                    "OV-205",
                    format!("how much of `{}` is taken depends on itself", name.text),
                )
                .at(e.span, "comes back here")
                .found(format!(
                    "`taken of {}` needs a take that needs {}",
                    name.text,
                    path.join(" needs ")
                ))
                .mend("work out one of the takes from something else"),
            );
        }
        self.reading.taken += 1;
        if self.reading.taken > MOST_TAKEN {
            return self.fail(
                Diagnostic::error("OV-220", "there are too many `taken of`")
                    .at(e.span, "one too many")
                    .expected(format!("at most {MOST_TAKEN}")),
            );
        }
        self.reading.taking.push(resource);
        let takes = self.takes_of(name);
        self.reading.taking.pop();
        let unit = self.unit(&self.declared.resources[resource].tree.unit)?;
        let ty = Ty::Number(NumTy {
            dim: unit.dim().clone(),
            percent: false,
            adds: Adds::Yes,
            real: false,
        });
        let zero = self.number_node(Exact::ZERO, unit.dim().clone(), e.span);
        let mut sum = self.brought_down(zero, cx.grain, e.span);
        for take in takes?.into_iter().filter(|t| t.resource == resource) {
            let Some(node) = self.taken_at(&take, cx.grain) else {
                let (is, here) = (self.name_of_grain(take.grain), self.name_of_grain(cx.grain));
                return self.fail(
                    Diagnostic::error(
                        "OV-516",
                        format!("how much of `{}` is taken can't be worked out {here}", name.text),
                    )
                    .at(e.span, "")
                    .at(take.span, format!("taken {is}"))
                    .mend("read it where all its takes can be added up, such as in a `for the job` block, or end that take with `shared by ...`"),
                );
            };
            sum = self.node(Kind::Add(sum, node), ty.clone(), e.span);
        }
        Ok(Typed {
            whole: unit.dim().as_count().is_some(),
            ..self.plain(sum)
        })
    }

    /// A take at a grain that holds all of it, or its share there.
    fn taken_at(&mut self, take: &TakeDef, grain: Grain) -> Option<NodeId> {
        if take.grain == grain {
            return Some(take.amount);
        }
        if self.reaches(take.grain, grain) {
            return Some(self.summed(take.amount, grain, take.span));
        }
        let row = take.plan.by_row?;
        let main = Grain::Table(self.program.main_table()?);
        if main == grain {
            return Some(row);
        }
        self.reaches(main, grain)
            .then(|| self.summed(row, grain, take.span))
    }

    /// The takes of a resource, and of others that are sent to it.
    fn takes_of(&mut self, name: &Name) -> Checks<Vec<TakeDef>> {
        let mut from: Vec<&str> = vec![&name.text];
        // What is sent on may be sent by a line above or below the one that sent it first.
        let mut known = 0;
        while known < from.len() {
            known = from.len();
            for one in &self.work.in_force_amends {
                let source = one.amend.name.text.as_str();
                if let AmendWhat::Send {
                    to: SendTo::Resource(to),
                    ..
                } = &one.amend.what
                    && from.contains(&to.text.as_str())
                    && !from.contains(&source)
                {
                    from.push(source);
                }
            }
        }
        let from: Vec<String> = from.into_iter().map(str::to_owned).collect();
        let mut out = Vec::new();
        for b in 0..self.declared.blocks.len() {
            let (grain, lines) = (self.declared.blocks[b].grain, self.declared.blocks[b].lines);
            for line in lines {
                let resource = match line {
                    ForLine::Take(take) => &take.resource.text,
                    ForLine::Part(part) => &part.resource.text,
                    ForLine::Rule(_)
                    | ForLine::Decide(_)
                    | ForLine::Require { .. }
                    | ForLine::Caution(_) => continue,
                };
                if from.contains(resource) {
                    takes_in(self.line(line, grain)?, &mut out);
                }
            }
        }
        Ok(out)
    }
}

fn takes_in(line: Line, out: &mut Vec<TakeDef>) {
    match line {
        Line::Take(take) => out.push(take),
        Line::Part(part) => out.push(part.take),
        Line::Several(lines) => lines.into_iter().for_each(|line| takes_in(line, out)),
        Line::Require(_) | Line::Caution(_) => {}
    }
}
