//! What runs of the oracles have met, against lists made from the very matches that name each kind.
//!
//! A new variant does not compile until it is named here, and once it is named the runs fail until they meet it.

use ovolo::number::Rounding;
use ovolo::program::{
    AbsentKind, AggregateKind, Compare, Grain, KeyCell, Kind, Node, PresenceTest, Program,
    RealNode, Scale, Ty,
};
use std::collections::BTreeSet;

/// A function that names each variant, and the list of the names it can give.
macro_rules! named {
    ($(#[$doc:meta])* $function:ident, $all:ident, $of:ty, { $($pattern:pat => $word:literal,)+ }) => {
        $(#[$doc])*
        fn $function(of: &$of) -> &'static str {
            match of { $($pattern => $word,)+ }
        }
        const $all: &[&str] = &[$($word),+];
    };
}

named! {
    kind, KINDS, Kind, {
        Kind::Number(_) => "number",
        Kind::Truth(_) => "truth",
        Kind::Label(_) => "label",
        Kind::Text(_) => "text",
        Kind::Unknown => "unknown",
        Kind::Asked(_) => "asked",
        Kind::Span { .. } => "span",
        Kind::Column { .. } => "column",
        Kind::GroupKey { .. } => "group key",
        Kind::Negate(_) => "negate",
        Kind::Abs(_) => "abs",
        Kind::Add(..) => "add",
        Kind::Sub(..) => "sub",
        Kind::Mul(..) => "mul",
        Kind::Div(..) => "div",
        Kind::Power(..) => "power",
        Kind::Smaller(_) => "smaller",
        Kind::Larger(_) => "larger",
        Kind::Round { .. } => "round",
        Kind::RoundReal { .. } => "round real",
        Kind::Compare { .. } => "compare",
        Kind::Same(..) => "same",
        Kind::LabelIn(..) => "label in",
        Kind::And(..) => "and",
        Kind::Or(..) => "or",
        Kind::Not(_) => "not",
        Kind::Select { .. } => "select",
        Kind::Choose { .. } => "choose",
        Kind::DecideLine { first_holds: true, .. } => "decide, first that holds",
        Kind::DecideLine { first_holds: false, .. } => "decide, exactly one",
        Kind::LineLabel { .. } => "line label",
        Kind::Lookup { interpolated: false, .. } => "lookup",
        Kind::Lookup { interpolated: true, .. } => "lookup, interpolated",
        Kind::IfAbsent { .. } => "if absent",
        Kind::Presence { .. } => "presence",
        Kind::Down(_) => "down",
        Kind::Up { weight: None, filter: None, .. } => "up",
        Kind::Up { weight: Some(_), .. } => "up, weighted",
        Kind::Up { weight: None, filter: Some(_), .. } => "up, filtered",
        Kind::Count { filter: None, .. } => "count",
        Kind::Count { filter: Some(_), .. } => "count, filtered",
        Kind::Share { step: None, .. } => "share",
        Kind::Share { step: Some(_), .. } => "share in steps",
    }
}
named! {
    rounding, ROUNDINGS, Rounding, {
        Rounding::Up => "round up",
        Rounding::Down => "round down",
        Rounding::TowardZero => "round toward zero",
        Rounding::AwayFromZero => "round away from zero",
        Rounding::HalfUp => "round half up",
        Rounding::HalfDown => "round half down",
        Rounding::HalfEven => "round half even",
        Rounding::Up05 => "round 05 up",
    }
}
named! {
    compare, COMPARES, Compare, {
        Compare::Less => "less",
        Compare::LessEq => "less or equal",
        Compare::Greater => "greater",
        Compare::GreaterEq => "greater or equal",
        Compare::Same => "same number",
        Compare::NotSame => "not the same number",
    }
}
named! {
    /// Ways to go up a grain.
    aggregate, AGGREGATES, AggregateKind, {
        AggregateKind::Sum => "sum of",
        AggregateKind::Count => "count of values",
        AggregateKind::Least => "least of",
        AggregateKind::Most => "most of",
        AggregateKind::Mean => "mean of",
        AggregateKind::Any => "any of",
        AggregateKind::All => "all of",
    }
}
named! {
    absent, ABSENTS, AbsentKind, {
        AbsentKind::Blank => "if blank",
        AbsentKind::NotApplicable => "if n/a",
    }
}
named! {
    presence, PRESENCES, PresenceTest, {
        PresenceTest::Blank => "is blank",
        PresenceTest::NotApplicable => "is n/a",
        PresenceTest::Known => "is known",
    }
}
named! {
    real, REALS, RealNode, {
        RealNode::Leaf(_) => "real leaf",
        RealNode::Add(..) => "real add",
        RealNode::Sub(..) => "real sub",
        RealNode::Mul(..) => "real mul",
        RealNode::Div(..) => "real div",
        RealNode::Power(..) => "real power",
        RealNode::Root(..) => "root",
        RealNode::Ln(_) => "ln",
    }
}
named! {
    ty, TYPES, Ty, {
        Ty::Number(_) => "a number",
        Ty::Truth => "a truth",
        Ty::Choice(_) => "a choice",
        Ty::Text => "a text",
        Ty::Point(Scale::Day) => "a day",
        Ty::Point(Scale::Moment) => "a moment",
        Ty::Point(Scale::Temperature) => "a temperature",
    }
}
named! {
    grain, GRAINS, Grain, {
        Grain::Const => "everywhere the same",
        Grain::Job => "for the job",
        Grain::Group(_) => "for a group",
        Grain::Table(_) => "for a row",
    }
}
named! {
    key_cell, KEY_CELLS, KeyCell, {
        KeyCell::Any => "any key",
        KeyCell::Number(_) => "a key number",
        KeyCell::Band { low: Some(_), high: Some(_) } => "a band",
        KeyCell::Band { low: None, .. } => "a band open below",
        KeyCell::Band { low: Some(_), high: None } => "a band open above",
        KeyCell::Text(_) => "a key text",
        KeyCell::Truth(_) => "a key truth",
    }
}

/// The kinds of node that runs have compared values of.
#[derive(Default)]
pub struct MetNodes(BTreeSet<&'static str>);

impl MetNodes {
    /// Adds what a compared node is made of.
    pub fn add(&mut self, program: &Program, node: &Node) {
        let met = &mut self.0;
        met.extend([kind(&node.kind), ty(&node.ty), grain(&node.grain)]);
        match &node.kind {
            Kind::Round { mode, .. } => {
                met.insert(rounding(mode));
            }
            Kind::RoundReal { real, mode, .. } => {
                met.insert(rounding(mode));
                add_real(met, real);
            }
            Kind::Compare { op, .. } => {
                met.insert(compare(op));
            }
            Kind::Up { kind, .. } => {
                met.insert(aggregate(kind));
            }
            Kind::IfAbsent { which, .. } => {
                met.insert(absent(which));
            }
            Kind::Presence { test, .. } => {
                met.insert(presence(test));
            }
            Kind::Lookup { table, .. } => {
                let keys = program.lookups[*table].keys.iter();
                met.extend(keys.flat_map(|key| &key.cells).map(key_cell));
            }
            // What these are made of stands in their own nodes.
            Kind::Number(_)
            | Kind::Truth(_)
            | Kind::Label(_)
            | Kind::Text(_)
            | Kind::Unknown
            | Kind::Asked(_)
            | Kind::Span { .. }
            | Kind::Column { .. }
            | Kind::GroupKey { .. }
            | Kind::Negate(_)
            | Kind::Abs(_)
            | Kind::Add(..)
            | Kind::Sub(..)
            | Kind::Mul(..)
            | Kind::Div(..)
            | Kind::Power(..)
            | Kind::Smaller(_)
            | Kind::Larger(_)
            | Kind::Same(..)
            | Kind::LabelIn(..)
            | Kind::And(..)
            | Kind::Or(..)
            | Kind::Not(_)
            | Kind::Select { .. }
            | Kind::Choose { .. }
            | Kind::DecideLine { .. }
            | Kind::LineLabel { .. }
            | Kind::Down(_)
            | Kind::Count { .. }
            | Kind::Share { .. } => {}
        }
    }

    /// What no run has met, of all there is.
    pub fn missing(&self) -> Vec<&'static str> {
        [
            KINDS, ROUNDINGS, COMPARES, AGGREGATES, ABSENTS, PRESENCES, REALS, TYPES, GRAINS,
            KEY_CELLS,
        ]
        .concat()
        .into_iter()
        .filter(|word| !self.0.contains(word))
        .collect()
    }
}

fn add_real(met: &mut BTreeSet<&'static str>, node: &RealNode) {
    met.insert(real(node));
    match node {
        RealNode::Leaf(_) => {}
        RealNode::Add(a, b)
        | RealNode::Sub(a, b)
        | RealNode::Mul(a, b)
        | RealNode::Div(a, b)
        | RealNode::Power(a, b) => {
            add_real(met, a);
            add_real(met, b);
        }
        RealNode::Root(a, _) | RealNode::Ln(a) => add_real(met, a),
    }
}
