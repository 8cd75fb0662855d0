//! The `cut` blocks of a job: kerfs, trims, stock on hand and stock to buy, checked before anything runs.

use super::typed::*;
use super::unknown::Known;
use crate::diagnostics::{Diagnostic, Span};
use crate::number::Exact;
use crate::program::{
    BuySize, CutGoods, CutTerms, FileInput, OnHand, ResourceClass, ResourceId, Version,
};
use crate::syntax::tree::{CutCount, CutLine, CutSize, Name, Quantity, Signed, StatementKind};
use crate::table::{ColumnKind, Schema};
use crate::units::{Base, Dim};

/// Units in an inch where the block does not say.
const PER_INCH: i64 = 32;
/// Finest unit.
const MOST_PER_INCH: i64 = 256;
/// Longest size, in units.
const MOST_UNITS: i64 = 1 << 16;
/// Most rounds of a search.
const MOST_ROUNDS: u32 = 100_000;
/// Columns of a survey of bad stretches.
const BAD: [&str; 2] = ["bad_from", "bad_to"];

/// Columns of sides that stock of this kind has.
fn sides(goods: CutGoods) -> &'static [&'static str] {
    match goods {
        CutGoods::Bars => &["bar_long"],
        CutGoods::Boards => &["board_long", "board_wide", "board_thick"],
        CutGoods::Sheets => &["pane_wide", "pane_high"],
    }
}

impl<'a> Checker<'a> {
    /// Reads the blocks, once, with the first version's resources.
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "statements of one kind are looked for; all others are read elsewhere"
    )]
    pub(super) fn cut_terms(&mut self, version: &Version) {
        let blocks: Vec<(&'a Name, &'a [CutLine])> = self
            .all_statements()
            .filter_map(|st| match &st.kind {
                StatementKind::Cut { of, lines } => Some((of, lines.as_slice())),
                _ => None,
            })
            .collect();
        for (of, lines) in blocks {
            let Some((resource, goods)) = self.cut_resource(of, version) else {
                continue;
            };
            if let Some(first) = self.program.terms.cuts.iter().find(|c| c.name == of.text) {
                let first = first.span;
                self.problems.push(
                    Diagnostic::error("OV-213", format!("`{}` has two cut blocks", of.text))
                        .at(of.span, "the second")
                        .at(first, "the first")
                        .mend("put the lines of both into one block"),
                );
                continue;
            }
            let mut terms = CutTerms {
                resource,
                name: of.text.clone(),
                span: of.span,
                goods,
                per_inch: PER_INCH,
                crosscut: 0,
                rip: 0,
                trim: 0,
                least: 0,
                keep: None,
                stages: None,
                may_turn: false,
                spares: Exact::ZERO,
                rounds: None,
                seed: None,
                on_hand: None,
                buy: Vec::new(),
                plan: None,
            };
            // The unit first: the others are counted in it.
            for line in lines {
                if let CutLine::Size(CutSize::Unit, size, _) = line {
                    self.cut_unit(size, &mut terms);
                }
            }
            let mut said = Vec::new();
            for line in lines {
                self.cut_line(line, &mut terms, &mut said, version);
            }
            self.cut_complete(&terms, &said);
            self.program.terms.cuts.push(terms);
        }
    }

    fn cut_problem(&mut self, title: impl Into<String>, span: Span, expected: impl Into<String>) {
        self.problems.push(
            Diagnostic::error("OV-672", title)
                .at(span, "")
                .expected(expected),
        );
    }

    fn cut_resource(&mut self, of: &Name, version: &Version) -> Option<(ResourceId, CutGoods)> {
        let id = version
            .resources
            .ids()
            .find(|&id| version.resources.get(id).is_some_and(|r| r.name == of.text));
        let Some(id) = id else {
            let names = version.resources.iter().map(|r| r.name.as_str());
            self.unknown("OV-203", "resource", of, Known::these(names));
            return None;
        };
        let def = version.resources.get(id)?;
        let goods = match def.class {
            ResourceClass::Stock | ResourceClass::Glass | ResourceClass::Other => (1..=3)
                .find(|power| *def.unit.dim() == Dim::length(*power))
                .map(|power| match power {
                    1 => CutGoods::Bars,
                    2 => CutGoods::Sheets,
                    _ => CutGoods::Boards,
                }),
            ResourceClass::Labor
            | ResourceClass::Points
            | ResourceClass::Putty
            | ResourceClass::Equipment
            | ResourceClass::Subcontract
            | ResourceClass::Disposal => None,
        };
        if goods.is_none() {
            self.problems.push(
                Diagnostic::error("OV-673", format!("`{}` is not cut from stock", of.text))
                    .at(of.span, "")
                    .found(format!(
                        "a resource counted in {}",
                        def.unit.text(&self.program.nouns)
                    ))
                    .expected(
                        "goods counted in board feet or another volume, in an area, or in a length",
                    ),
            );
        }
        Some((id, goods?))
    }

    fn cut_unit(&mut self, size: &Signed, terms: &mut CutTerms) {
        let Ok(inches) = self.signed_of(size, &Dim::length(1), false, "OV-672") else {
            return;
        };
        let per_inch = Exact::ONE.div(&inches).ok().and_then(|n| n.to_i64());
        match per_inch.filter(|n| (1..=MOST_PER_INCH).contains(n)) {
            Some(n) => terms.per_inch = n,
            None => self.cut_problem(
                "the unit of a cut plan is a whole part of an inch",
                size.span,
                format!("1 in to 1/{MOST_PER_INCH} in, such as 1/32 in"),
            ),
        }
    }

    /// A size in units. `least` is the smallest that is allowed.
    fn cut_units(
        &mut self,
        inches: &Exact,
        what: &str,
        least: i64,
        span: Span,
        terms: &CutTerms,
    ) -> Option<i64> {
        let units = inches
            .mul(&Exact::int(terms.per_inch))
            .ok()
            .and_then(|n| n.to_i64());
        match units {
            Some(n) if (least..=MOST_UNITS).contains(&n) => Some(n),
            Some(_) => {
                self.cut_problem(
                    format!("{what} cannot have this size"),
                    span,
                    if least > 0 {
                        "more than 0, and no longer than any stock"
                    } else {
                        "0 or more, and no longer than any stock"
                    },
                );
                None
            }
            None => {
                self.cut_problem(
                    format!("{what} is not a whole number of units"),
                    span,
                    format!(
                        "a multiple of 1/{} in, or a finer unit: unit 1/64 in",
                        terms.per_inch
                    ),
                );
                None
            }
        }
    }

    fn cut_sides(&mut self, list: &[Quantity], what: &str, terms: &CutTerms) -> Option<Vec<i64>> {
        let mut units = Vec::new();
        for q in list {
            let literal = self.literal(q).ok()?;
            if *literal.dim() != Dim::length(1) {
                self.cut_problem(
                    format!("{what} has sides that are lengths"),
                    q.span,
                    "a length, such as 8 ft or 2 in",
                );
                return None;
            }
            units.push(self.cut_units(&literal.value, what, 1, q.span, terms)?);
        }
        Some(units)
    }

    fn cut_once(&mut self, what: &'static str, span: Span, said: &mut Vec<&'static str>) {
        if said.contains(&what) {
            self.problems.push(
                Diagnostic::error("OV-213", format!("the cut block says its {what} twice"))
                    .at(span, "the second")
                    .mend("keep one of the lines"),
            );
        }
        said.push(what);
    }

    fn cut_line(
        &mut self,
        line: &'a CutLine,
        terms: &mut CutTerms,
        said: &mut Vec<&'static str>,
        version: &Version,
    ) {
        match line {
            CutLine::Size(what, size, span) => self.cut_size(*what, size, *span, terms, said),
            CutLine::Keep(sides, span) => {
                self.cut_once("least offcut", *span, said);
                if let Some(units) = self.cut_sides(sides, "the least offcut", terms) {
                    terms.keep = Some((
                        units.first().copied().unwrap_or(1),
                        units.get(1).copied().unwrap_or(1),
                    ));
                }
            }
            CutLine::Buy(list, span) => {
                let needed = sides(terms.goods).len();
                if list.len() != needed {
                    let expected = match terms.goods {
                        CutGoods::Bars => "buy LENGTH",
                        CutGoods::Boards => "buy LENGTH by WIDTH by THICKNESS",
                        CutGoods::Sheets => "buy WIDTH by HEIGHT",
                    };
                    self.cut_problem("this stock has too many or too few sides", *span, expected);
                    return;
                }
                if let Some(units) = self.cut_sides(list, "stock to buy", terms) {
                    let side = |i: usize, none| units.get(i).copied().unwrap_or(none);
                    terms.buy.push(BuySize {
                        sides: [side(0, 1), side(1, 1), side(2, 0)],
                        span: *span,
                    });
                }
            }
            CutLine::OnHand { table, worth, span } => {
                self.cut_once("stock on hand", *span, said);
                terms.on_hand = self.cut_on_hand(table, worth, *span, terms, version);
            }
            CutLine::Count(what, n, span) => self.cut_count(*what, *n, *span, terms, said),
            CutLine::MayTurn(span) => {
                if terms.goods != CutGoods::Sheets {
                    self.cut_problem(
                        "only panes may be turned: the grain of wood runs lengthwise",
                        *span,
                        "the line in the block of a glass",
                    );
                }
                terms.may_turn = true;
            }
            CutLine::Spares(share, span) => {
                self.cut_once("spares", *span, said);
                if share.signum() < 0 || *share > Exact::ONE {
                    self.cut_problem("this is no share of spares", *span, "0 % to 100 %");
                } else {
                    terms.spares = share.clone();
                }
            }
            CutLine::Plan(path) => {
                self.cut_once("plan", path.span, said);
                terms.plan = Some(FileInput {
                    path: path.text.clone(),
                    tabs: Vec::new(),
                    span: path.span,
                });
            }
        }
    }

    fn cut_size(
        &mut self,
        what: CutSize,
        size: &Signed,
        span: Span,
        terms: &mut CutTerms,
        said: &mut Vec<&'static str>,
    ) {
        let saw = i64::from(terms.goods != CutGoods::Sheets);
        let (name, words, least) = match what {
            CutSize::Unit => {
                self.cut_once("unit", span, said);
                return;
            }
            CutSize::Crosscut => ("crosscut kerf", "the kerf of a crosscut", saw),
            CutSize::Rip => ("rip kerf", "the kerf of a rip", saw),
            CutSize::EndTrim => ("trim", "the end trim", 0),
            CutSize::EdgeTrim => ("trim", "the edge trim", 0),
            CutSize::LeastStrip => ("least strip", "the least strip", 0),
        };
        self.cut_once(name, span, said);
        let fits = match what {
            CutSize::EndTrim => terms.goods != CutGoods::Sheets,
            CutSize::EdgeTrim | CutSize::LeastStrip => terms.goods == CutGoods::Sheets,
            CutSize::Rip => terms.goods == CutGoods::Boards,
            CutSize::Unit | CutSize::Crosscut => terms.goods != CutGoods::Sheets,
        };
        if !fits {
            self.cut_problem(
                format!("{words} does not belong to these goods"),
                span,
                "for boards: crosscut kerf, rip kerf, end trim; for bars: crosscut kerf, end trim; for glass: edge trim, least strip",
            );
            return;
        }
        let Ok(inches) = self.signed_of(size, &Dim::length(1), false, "OV-672") else {
            return;
        };
        let Some(units) = self.cut_units(&inches, words, least, span, terms) else {
            return;
        };
        match what {
            CutSize::Unit => {}
            CutSize::Crosscut => terms.crosscut = units,
            CutSize::Rip => terms.rip = units,
            CutSize::EndTrim | CutSize::EdgeTrim => terms.trim = units,
            CutSize::LeastStrip => terms.least = units,
        }
    }

    fn cut_count(
        &mut self,
        what: CutCount,
        n: u32,
        span: Span,
        terms: &mut CutTerms,
        said: &mut Vec<&'static str>,
    ) {
        match what {
            CutCount::Stages => {
                self.cut_once("stages", span, said);
                if terms.goods == CutGoods::Sheets && (2..=3).contains(&n) {
                    terms.stages = u8::try_from(n).ok();
                } else {
                    self.cut_problem(
                        "these goods are not cut in so many stages",
                        span,
                        "stages 2 or stages 3, for glass; boards and bars have their own",
                    );
                }
            }
            CutCount::Rounds => {
                self.cut_once("rounds", span, said);
                if n > MOST_ROUNDS {
                    self.cut_problem(
                        "a search of so many rounds does not end",
                        span,
                        format!("0 to {MOST_ROUNDS} rounds"),
                    );
                }
                terms.rounds = Some(n.min(MOST_ROUNDS));
            }
            CutCount::Seed => {
                self.cut_once("seed", span, said);
                terms.seed = Some(n);
            }
        }
    }

    fn cut_on_hand(
        &mut self,
        name: &Name,
        worth: &Signed,
        span: Span,
        terms: &CutTerms,
        version: &Version,
    ) -> Option<OnHand> {
        let Some(table) = self.declared.tables.get(name.text.as_str()).copied() else {
            self.unknown("OV-208", "survey", name, Known::Surveys);
            return None;
        };
        let unit = version.resources.get(terms.resource)?.unit.dim().clone();
        let dim = Dim::base(Base::Money).div(&unit)?;
        let worth = self.signed_of(worth, &dim, false, "OV-672").ok()?;
        if worth.signum() < 0 {
            self.cut_problem(
                "stock on hand is worth nothing or more",
                span,
                "0 or a sum above it",
            );
            return None;
        }
        let schema = &self.program.tables[table].schema;
        let wanted = sides(terms.goods);
        let found: Option<Vec<usize>> = wanted.iter().map(|n| length_column(schema, n)).collect();
        let (Some(mark), Some(sides)) = (schema.key, found) else {
            self.problems.push(
                Diagnostic::error(
                    "OV-674",
                    format!("`{}` is not a survey of this stock", name.text),
                )
                .at(name.span, "")
                .expected(format!(
                    "a key, and columns of length: {}",
                    wanted.join(", ")
                ))
                .mend(
                    "use \"library:boards.ovo\" for boards, \"library:loose-panes.ovo\" for panes, \"library:bars.ovo\" for bars",
                ),
            );
            return None;
        };
        let bad = self.program.tables.ids().find_map(|t| {
            let info = &self.program.tables[t];
            let columns = BAD.map(|n| length_column(&info.schema, n));
            let [Some(from), Some(to)] = columns else {
                return None;
            };
            (info.parent == Some(table)).then_some((t, [from, to]))
        });
        Some(OnHand {
            table,
            worth,
            mark,
            sides,
            bad,
            span,
        })
    }

    /// What a block must say.
    fn cut_complete(&mut self, terms: &CutTerms, said: &[&'static str]) {
        let needed: &[&'static str] = match terms.goods {
            CutGoods::Bars => &["crosscut kerf"],
            CutGoods::Boards => &["crosscut kerf", "rip kerf"],
            CutGoods::Sheets => &[],
        };
        let mut lacks: Vec<&str> = needed
            .iter()
            .copied()
            .filter(|n| !said.contains(n))
            .collect();
        if terms.buy.is_empty() && !said.contains(&"stock on hand") {
            lacks.push("stock: a line `on hand` or `buy`");
        }
        if !lacks.is_empty() {
            self.problems.push(
                Diagnostic::error(
                    "OV-675",
                    format!("the cut block of `{}` is not complete", terms.name),
                )
                .at(terms.span, "")
                .expected(lacks.join(", ")),
            );
        }
    }
}

/// A column that holds a length.
fn length_column(schema: &Schema, name: &str) -> Option<usize> {
    schema.columns.iter().position(|c| {
        c.name == name
            && matches!(&c.kind, ColumnKind::Number { dim, .. } if *dim == Dim::length(1))
    })
}
