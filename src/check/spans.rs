//! Spans of the calendar in formulas. Labor makes the calendar, so no labor may rest on one.

use super::typed::*;
use crate::diagnostics::{Diagnostic, Span};
use crate::program::{
    Adds, Grain, Kind, Node, NodeId, NumTy, ResourceClass, SpanDef, Ty, Version, WhyNot,
};
use crate::syntax::tree::{Expr, Text};
use crate::units::{Base, Dim};
use std::collections::BTreeMap;

/// A span as it is written.
#[derive(Clone, Copy)]
pub(super) struct Written<'a> {
    pub(super) working: bool,
    pub(super) ends: [&'a Text; 2],
    pub(super) otherwise: &'a Expr,
}

impl<'a> Checker<'a> {
    pub(super) fn calendar_span(
        &mut self,
        e: &'a Expr,
        written: Written<'a>,
        cx: &Context<'a>,
    ) -> Checks<Typed> {
        if cx.grain == Grain::Const {
            return self.fail(
                Diagnostic::error("OV-676", "a span of the calendar can't be used here")
                    .at(
                        e.span,
                        "a value of the job, where a single fixed value is needed",
                    )
                    .expected("a rule or take in a `for` block"),
            );
        }
        let mut of_job = cx.clone();
        of_job.grain = Grain::Job;
        let otherwise = self.settled(written.otherwise, &of_job, None)?;
        let n = self.as_number(&otherwise, written.otherwise.span)?;
        let dim = Dim::base(if written.working {
            Base::Work
        } else {
            Base::Time
        });
        if n.dim != dim || n.percent {
            let found = self.words(&Ty::Number(n));
            let expected = crate::units::describe(&dim, &self.program.nouns);
            let such = if written.working {
                "12 work day"
            } else {
                "12 day"
            };
            return self.fail(
                Diagnostic::error("OV-676", format!("this span is counted in {expected}"))
                    .at(written.otherwise.span, found)
                    .expected(format!("{expected} after `if no calendar`, such as {such}")),
            );
        }
        let reader = self.reader();
        self.kept.span_readers.insert(reader);
        let [from, to] = written.ends;
        let def = SpanDef {
            version: self.program.versions.len(),
            from: from.text.clone(),
            to: to.text.clone(),
            working: written.working,
            otherwise: otherwise.node,
            places: [e.span, from.span, to.span],
        };
        let span = self.span_number(def);
        let adds = adds_by_dim(&dim);
        let ty = |adds: Adds| {
            Ty::Number(NumTy {
                dim: dim.clone(),
                percent: false,
                adds,
                real: false,
            })
        };
        let missing = self.program.node(otherwise.node).missing;
        let node = self.program.intern(Node {
            kind: Kind::Span {
                span,
                otherwise: otherwise.node,
            },
            ty: ty(adds),
            grain: Grain::Job,
            missing,
            span: e.span,
        });
        let node = if cx.grain == Grain::Job {
            node
        } else {
            self.program.intern(Node {
                kind: Kind::Down(node),
                ty: ty(Adds::No(WhyNot::Fact)),
                grain: cx.grain,
                missing,
                span: e.span,
            })
        };
        Ok(self.plain(node))
    }

    fn span_number(&mut self, def: SpanDef) -> u32 {
        let same = |s: &SpanDef| {
            (s.version, &s.from, &s.to, s.working, s.otherwise)
                == (def.version, &def.from, &def.to, def.working, def.otherwise)
        };
        let spans = &mut self.program.spans;
        let at = spans.iter().position(same).unwrap_or_else(|| {
            spans.push(def);
            spans.len() - 1
        });
        u32::try_from(at).unwrap_or(u32::MAX)
    }

    /// Tells of spans between phases that are none, and of labor that rests on a span. All lines of the version are calculated.
    pub(super) fn spans_of(&mut self, version: &Version) {
        if self.program.spans.is_empty() {
            return;
        }
        if self.program.versions.is_empty() {
            for def in self.program.spans.clone() {
                let [_, from, to] = def.places;
                for (name, span) in [(def.from, from), (def.to, to)] {
                    self.phase_named(&Text { text: name, span });
                }
            }
        }
        let rests = self.resting_on_spans();
        for take in &version.takes {
            let class = version.resources.get(take.resource).map(|r| r.class);
            if class != Some(ResourceClass::Labor) || !rests.contains(&take.amount) {
                continue;
            }
            if let Some(span) = self.span_below(take.amount) {
                self.tell_circle(version, take.amount, (take.span, span));
            }
        }
    }

    /// The spans and all nodes that rest on one. Children come before parents.
    fn resting_on_spans(&self) -> foldhash::HashSet<NodeId> {
        let mut rests = foldhash::HashSet::default();
        for (id, node) in self.program.nodes().entries() {
            let children = node.kind.children();
            if matches!(node.kind, Kind::Span { .. }) || children.iter().any(|c| rests.contains(c))
            {
                rests.insert(id);
            }
        }
        rests
    }

    /// A span that a node rests on.
    fn span_below(&self, node: NodeId) -> Option<NodeId> {
        self.program
            .below([node])
            .find(|(_, node)| matches!(node.kind, Kind::Span { .. }))
            .map(|(id, _)| id)
    }

    /// The way from the labor over named values to the span and back.
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "only these kinds hold a span of the calendar"
    )]
    fn tell_circle(&mut self, version: &Version, take: NodeId, (at, span): (Span, NodeId)) {
        let span = self.program.node(span);
        let text = match &span.kind {
            Kind::Span { span, .. } => usize::try_from(*span)
                .ok()
                .and_then(|at| self.program.spans.get(at))
                .map_or_else(String::new, SpanDef::text),
            _ => String::new(),
        };
        let resource = version
            .takes
            .iter()
            .find(|t| t.span == at)
            .and_then(|t| version.resources.get(t.resource))
            .map_or_else(String::new, |r| format!("`take {}`", r.name));
        let mut path = vec![resource];
        path.extend(self.names_on_the_way(version, take));
        path.push(format!("`{text}`"));
        path.push("the calendar".to_owned());
        path.push("the hours of labor".to_owned());
        self.problems.push(
            Diagnostic::error("OV-646", "these hours rest on a span of the calendar, and the calendar is made of hours")
                .at(at, "labor")
                .at(span.span, "the span")
                .found(path.join(", which reads\n"))
                .expected("spans in takes of what is hired, bought or disposed of; labor from counts and paces")
                .mend("take hours from the survey, and only the hire from the calendar"),
        );
    }

    /// Named values from a node down to a span, each read by the one before it.
    fn names_on_the_way(&self, version: &Version, node: NodeId) -> Vec<String> {
        let names: BTreeMap<NodeId, &str> = version
            .values
            .iter()
            .map(|v| (v.node, v.name.as_str()))
            .collect();
        let mut path = Vec::new();
        let mut at = node;
        loop {
            let node = self.program.node(at);
            if let Some(name) = names.get(&at) {
                path.push(format!("`{name}`"));
            }
            if matches!(node.kind, Kind::Span { .. }) {
                return path;
            }
            let next = node
                .kind
                .children()
                .into_iter()
                .find(|child| self.span_below(*child).is_some());
            match next {
                Some(next) => at = next,
                None => return path,
            }
        }
    }
}
