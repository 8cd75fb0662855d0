//! Makes programs and tables by chance: every kind of node, missing cells, failing rows, groups, a table below another.

use super::chance::{Chance, a_number, column, exact, number};
use super::lookups::lookups;
use crate::diagnostics::{FileId, Span};
use crate::number::{Exact, Rounding};
use crate::program::{
    AbsentKind, AggregateKind, ChoiceDef, ChoiceId, Compare, Grain, GroupId, Grouping, Kind,
    LookupId, Missing, Node, NodeId, PresenceTest, Program, RealNode, Scale, TableId, TableInfo,
    Ty,
};
use crate::table::{RowPlace, Schema, Table};
use crate::units::Nouns;

pub(super) const SPAN: Span = Span {
    file: FileId(0),
    start: 0,
    end: 0,
};
const OPENING: TableId = TableId(0);
const DEFECT: TableId = TableId(1);
pub(super) const CHOICE: ChoiceId = ChoiceId(0);
pub(super) const TEXTS: [&str; 6] = ["north", "west", "yard", "mill", "east", ""];

/// A program, the tables it reads, and its nodes that can be wanted.
pub(super) struct Made {
    pub(super) program: Program,
    pub(super) tables: Vec<Table>,
    /// Days of the spans of the calendar; none where what stands for them counts.
    pub(super) spans: Vec<Option<Exact>>,
}

/// Makes a program of about `size` nodes besides columns and constants, over `rows` openings.
#[expect(
    clippy::too_many_lines,
    reason = "a list of values of every type, and the program over them"
)]
pub(super) fn make(seed: u64, size: usize, rows: usize) -> Made {
    let mut chance = Chance::new(seed);
    let types = [
        number(),
        number(),
        number(),
        number(),
        number(),
        number(),
        Ty::Truth,
        Ty::Choice(CHOICE),
        Ty::Text,
        Ty::Text,
        Ty::Point(Scale::Day),
        Ty::Point(Scale::Moment),
        Ty::Point(Scale::Temperature),
    ];
    let below = if rows == 0 {
        0
    } else {
        chance.below(rows * 2 + 1)
    };
    let mut nouns = Nouns::new();
    let mut program = Program::default();
    program
        .choices
        .push(ChoiceDef {
            name: "kind".into(),
            labels: ["single", "pair", "hung", "fixed"]
                .map(String::from)
                .to_vec(),
        })
        .expect("room for a few");
    let mut tables = Vec::new();
    for (index, rows) in [rows, below].into_iter().enumerate() {
        let name = ["opening", "defect"][index].to_owned();
        let noun = nouns.intern(&name);
        let schema = Schema {
            name,
            columns: Vec::new(),
            key: None,
            parent: None,
            above: vec![],
            rows: None,
            span: SPAN,
        };
        program
            .tables
            .push(TableInfo {
                schema,
                parent: (index == 1).then_some(OPENING),
                noun,
            })
            .expect("room for a few");
        let places = vec![RowPlace { source: 0, row: 1 }; rows];
        let gaps = chance.one_in(2);
        let columns = types.iter().enumerate().map(|(shape, ty)| {
            let gaps = gaps && chance.one_in(3);
            column(&mut chance, rows, ty, shape, gaps)
        });
        let columns = columns.collect();
        let parent_rows = (index == 1).then(|| {
            (0..rows)
                .map(|_| chance.below(tables.first().map_or(1, |t: &Table| t.rows)) as u32)
                .collect()
        });
        tables.push(Table {
            rows,
            columns,
            places,
            sources: Vec::new(),
            headings: Vec::new(),
            parent_rows,
            from_above: None,
        });
    }
    program.nouns = nouns;
    lookups(&mut chance, &mut program);
    let mut maker = Maker {
        chance,
        program,
        pool: Vec::new(),
    };
    for table in [OPENING, DEFECT] {
        for (column, ty) in (0u16..).zip(&types) {
            maker.add(
                Kind::Column { table, column },
                ty.clone(),
                Grain::Table(table),
            );
        }
    }
    for _ in 0..8 {
        let n = a_number(&mut maker.chance);
        maker.add(Kind::Number(n), number(), Grain::Const);
    }
    for text in ["west", "nowhere", ""] {
        maker.add(Kind::Text(text.into()), Ty::Text, Grain::Const);
    }
    maker.add(Kind::Truth(true), Ty::Truth, Grain::Const);
    maker.add(Kind::Label(2), Ty::Choice(CHOICE), Grain::Const);
    maker.add(
        Kind::Number(Exact::int(9_000)),
        Ty::Point(Scale::Day),
        Grain::Const,
    );
    maker.add(
        Kind::Number(exact(216_008, 24)),
        Ty::Point(Scale::Moment),
        Grain::Const,
    );
    maker.add(
        Kind::Number(exact(293, 4)),
        Ty::Point(Scale::Temperature),
        Grain::Const,
    );
    for ty in [number(), Ty::Truth, Ty::Text, Ty::Point(Scale::Day)] {
        maker.add(Kind::Unknown, ty, Grain::Const);
    }
    maker.add(Kind::Asked(0), number(), Grain::Const);
    maker.add(Kind::Asked(1), Ty::Choice(CHOICE), Grain::Const);
    for span in 0..2 {
        if let Some(otherwise) = maker.find(&number(), Grain::Job) {
            maker.add(Kind::Span { span, otherwise }, number(), Grain::Job);
        }
    }
    for step in 0..size {
        if step % 8 == 3 && maker.program.groups.len() < 4 {
            maker.group();
        }
        maker.node();
    }
    Made {
        program: maker.program,
        tables,
        spans: vec![Some(Exact::int(17)), None],
    }
}

struct Maker {
    chance: Chance,
    program: Program,
    pool: Vec<(NodeId, Ty, Grain)>,
}

impl Maker {
    fn add(&mut self, kind: Kind, ty: Ty, grain: Grain) -> NodeId {
        let id = self.program.intern(Node {
            kind,
            ty: ty.clone(),
            grain,
            missing: Missing::Partly,
            span: SPAN,
        });
        if !self.pool.iter().any(|known| known.0 == id) {
            self.pool.push((id, ty, grain));
        }
        id
    }

    /// A node of a type at a grain, or a constant; later ones are likelier.
    fn find(&mut self, ty: &Ty, grain: Grain) -> Option<NodeId> {
        let fit: Vec<NodeId> = self
            .pool
            .iter()
            .filter(|(_, t, g)| t == ty && (*g == grain || *g == Grain::Const))
            .map(|p| p.0)
            .collect();
        if fit.is_empty() {
            return None;
        }
        let recent = fit.len().saturating_sub(12);
        let from = if self.chance.one_in(2) { recent } else { 0 };
        Some(fit[from + self.chance.below(fit.len() - from)])
    }

    fn group(&mut self) {
        let of = if self.chance.one_in(3) {
            DEFECT
        } else {
            OPENING
        };
        let mut keys = Vec::new();
        for _ in 0..1 + self.chance.below(2) {
            let ty = self.chance.pick(&[
                Ty::Text,
                Ty::Choice(CHOICE),
                Ty::Truth,
                number(),
                Ty::Point(Scale::Day),
            ]);
            let at_grain: Vec<NodeId> = self
                .pool
                .iter()
                .filter(|p| p.1 == ty && p.2 == Grain::Table(of))
                .map(|p| p.0)
                .collect();
            keys.push(self.chance.pick(&at_grain));
        }
        let group = GroupId(self.program.groups.len() as u16);
        let noun = self.program.nouns.intern(&format!("batch{}", group.0));
        let key_names = keys.iter().map(|_| "key".to_owned()).collect();
        let types: Vec<Ty> = keys
            .iter()
            .map(|k| self.program.node(*k).ty.clone())
            .collect();
        self.program
            .groups
            .push(Grouping {
                name: format!("batch{}", group.0),
                of,
                keys,
                key_names,
                noun,
            })
            .expect("room for a few");
        for (key, ty) in (0u16..).zip(types) {
            self.add(Kind::GroupKey { group, key }, ty, Grain::Group(group));
        }
    }

    fn grains(&self) -> Vec<Grain> {
        let mut grains = vec![
            Grain::Table(OPENING),
            Grain::Table(OPENING),
            Grain::Table(DEFECT),
            Grain::Job,
            Grain::Const,
        ];
        grains.extend((0..self.program.groups.len()).map(|g| Grain::Group(GroupId(g as u16))));
        grains
    }

    /// The grains whose rows lie within rows of `coarse`.
    fn finer(&self, coarse: Grain) -> Vec<Grain> {
        let group_of = |g: GroupId| self.program.groups[g].of;
        let groups = 0..self.program.groups.len();
        match coarse {
            Grain::Job => {
                let mut all = vec![Grain::Table(OPENING), Grain::Table(DEFECT)];
                all.extend(groups.map(|g| Grain::Group(GroupId(g as u16))));
                all
            }
            Grain::Table(OPENING) => vec![Grain::Table(DEFECT)],
            Grain::Group(g) if group_of(g) == OPENING => {
                vec![Grain::Table(OPENING), Grain::Table(DEFECT)]
            }
            Grain::Group(_) => vec![Grain::Table(DEFECT)],
            _ => Vec::new(),
        }
    }

    fn coarser(&self, fine: Grain) -> Vec<Grain> {
        self.grains()
            .into_iter()
            .filter(|coarse| self.finer(*coarse).contains(&fine))
            .collect()
    }

    /// A mode of rounding.
    fn mode(&mut self) -> Rounding {
        use Rounding::{AwayFromZero, Down, HalfDown, HalfEven, HalfUp, TowardZero, Up, Up05};
        self.chance.pick(&[
            Up,
            Down,
            TowardZero,
            AwayFromZero,
            HalfUp,
            HalfDown,
            HalfEven,
            Up05,
        ])
    }

    fn node(&mut self) {
        let grains = self.grains();
        let grain = self.chance.pick(&grains);
        if let Some((kind, ty)) = self.kind(grain) {
            self.add(kind, ty, grain);
        }
    }

    /// What is calculated from days and moments.
    fn of_points(&mut self, grain: Grain) -> Option<(Kind, Ty)> {
        let scales = [Scale::Day, Scale::Moment, Scale::Temperature];
        let (n, scale) = (number(), self.chance.pick(&scales));
        let point = Ty::Point(scale);
        let (a, b) = (self.find(&point, grain)?, self.find(&point, grain)?);
        Some(match self.chance.below(8) {
            0 | 1 => (Kind::Sub(a, b), n),
            2 => (Kind::Add(a, self.find(&n, grain)?), point),
            3 => (Kind::Sub(a, self.find(&n, grain)?), point),
            4 => (Kind::Smaller(vec![a, b]), point),
            5 => (Kind::Larger(vec![a, b, self.find(&point, grain)?]), point),
            6 => {
                let step = self.add(Kind::Number(Exact::ONE), n, Grain::Const);
                let kind = Kind::Round {
                    value: a,
                    step,
                    mode: Rounding::Down,
                };
                let of = match scale {
                    Scale::Day | Scale::Moment => Scale::Day,
                    Scale::Temperature => Scale::Temperature,
                };
                (kind, Ty::Point(of))
            }
            _ => {
                let kind = Kind::Lookup {
                    table: LookupId(self.chance.below(2) as u16),
                    column: self.chance.below(2) as u16,
                    keys: vec![a],
                    interpolated: false,
                };
                let ty = match &kind {
                    Kind::Lookup { column: 0, .. } => n,
                    _ => Ty::Text,
                };
                (kind, ty)
            }
        })
    }

    #[expect(clippy::too_many_lines, reason = "one arm for each kind of node")]
    fn kind(&mut self, grain: Grain) -> Option<(Kind, Ty)> {
        if self.chance.one_in(10) {
            return self.of_points(grain);
        }
        let n = number();
        let choice = Ty::Choice(CHOICE);
        macro_rules! find {
            ($ty:expr) => {
                self.find(&$ty, grain)?
            };
        }
        let any = self.chance.pick(&[
            n.clone(),
            n.clone(),
            n.clone(),
            Ty::Truth,
            choice.clone(),
            Ty::Text,
            Ty::Point(Scale::Day),
        ]);
        Some(match self.chance.below(34) {
            0 => (Kind::Negate(find!(n)), n),
            1 => (Kind::Abs(find!(n)), n),
            2 | 3 => (Kind::Add(find!(n), find!(n)), n),
            4 => (Kind::Sub(find!(n), find!(n)), n),
            5 | 6 => (Kind::Mul(find!(n), find!(n)), n),
            7 | 8 => (Kind::Div(find!(n), find!(n)), n),
            9 => (Kind::Power(find!(n), self.chance.between(-2, 3) as i32), n),
            10 => (Kind::Smaller(vec![find!(n), find!(n), find!(n)]), n),
            11 => (Kind::Larger(vec![find!(n), find!(n)]), n),
            12 => (
                Kind::Round {
                    value: find!(n),
                    step: find!(n),
                    mode: self.mode(),
                },
                n,
            ),
            13 | 14 => {
                let step =
                    self.chance
                        .pick(&[exact(1, 16), exact(1, 100), Exact::int(5), exact(2, 3)]);
                let step = self.add(Kind::Number(step), n.clone(), Grain::Const);
                let value = match self.chance.one_in(2) {
                    true => {
                        let (a, b) = (find!(n), find!(n));
                        self.add(Kind::Div(a, b), n.clone(), grain)
                    }
                    false => find!(n),
                };
                let grain_of = self.program.node(value).grain;
                if grain_of != grain && grain_of != Grain::Const {
                    return None;
                }
                (
                    Kind::Round {
                        value,
                        step,
                        mode: self.mode(),
                    },
                    n,
                )
            }
            15 => {
                let step = self.add(Kind::Number(exact(1, 8)), n.clone(), Grain::Const);
                let leaf = Box::new(RealNode::Leaf(find!(n)));
                let small = exact(self.chance.between(-3, 4), 2);
                let small = self.add(Kind::Number(small), n.clone(), Grain::Const);
                let real = match self.chance.below(4) {
                    0 => RealNode::Root(leaf, small),
                    1 => RealNode::Ln(leaf),
                    2 => {
                        let other = Box::new(RealNode::Leaf(find!(n)));
                        match self.chance.below(4) {
                            0 => RealNode::Add(leaf, other),
                            1 => RealNode::Sub(leaf, other),
                            2 => RealNode::Mul(leaf, other),
                            _ => RealNode::Div(leaf, other),
                        }
                    }
                    _ => RealNode::Power(leaf, Box::new(RealNode::Leaf(small))),
                };
                (
                    Kind::RoundReal {
                        real,
                        step,
                        mode: self.mode(),
                    },
                    n,
                )
            }
            16 | 17 => {
                use Compare::{Greater, GreaterEq, Less, LessEq, NotSame, Same};
                let op = self
                    .chance
                    .pick(&[Less, LessEq, Greater, GreaterEq, Same, NotSame]);
                let of = match self.chance.below(15) {
                    0 => Ty::Point(Scale::Day),
                    1 => Ty::Point(Scale::Moment),
                    2 => Ty::Point(Scale::Temperature),
                    _ => n,
                };
                (
                    Kind::Compare {
                        op,
                        left: find!(of),
                        right: find!(of),
                    },
                    Ty::Truth,
                )
            }
            18 => {
                let of = self.chance.pick(&[Ty::Text, Ty::Text, choice, Ty::Truth]);
                (Kind::Same(find!(of), find!(of)), Ty::Truth)
            }
            19 => (Kind::LabelIn(find!(choice), vec![0, 3]), Ty::Truth),
            20 => (Kind::And(find!(Ty::Truth), find!(Ty::Truth)), Ty::Truth),
            21 => (Kind::Or(find!(Ty::Truth), find!(Ty::Truth)), Ty::Truth),
            22 => (Kind::Not(find!(Ty::Truth)), Ty::Truth),
            23 => (
                Kind::Select {
                    condition: find!(Ty::Truth),
                    then: find!(any),
                    otherwise: find!(any),
                },
                any,
            ),
            24 => {
                let arms = vec![find!(any), find!(any), find!(any)];
                (
                    Kind::Choose {
                        subject: find!(choice),
                        arm_of: vec![0, 2, 1, 2],
                        arms,
                    },
                    any,
                )
            }
            25 => {
                let mut lines = vec![
                    Some(find!(Ty::Truth)),
                    Some(find!(Ty::Truth)),
                    Some(find!(Ty::Truth)),
                ];
                if self.chance.one_in(2) {
                    lines.push(None);
                }
                let labels = (0..lines.len())
                    .map(|_| self.chance.below(4) as u16)
                    .collect();
                let line = self.program.intern(Node {
                    kind: Kind::DecideLine {
                        lines,
                        first_holds: self.chance.one_in(2),
                    },
                    ty: choice.clone(),
                    grain,
                    missing: Missing::Partly,
                    span: SPAN,
                });
                (Kind::LineLabel { line, labels }, choice)
            }
            26 => {
                let (table, keys, interpolated) = match self.chance.below(5) {
                    0 => (0, vec![find!(n)], false),
                    1 => (1, vec![find!(n)], false),
                    2 => (1, vec![find!(n)], true),
                    3 => (2, vec![find!(choice), find!(n)], false),
                    _ => (3, vec![find!(Ty::Text), find!(Ty::Truth)], false),
                };
                let column = if interpolated {
                    0
                } else {
                    self.chance.below(2) as u16
                };
                let ty = if column == 0 { n } else { Ty::Text };
                (
                    Kind::Lookup {
                        table: LookupId(table),
                        column,
                        keys,
                        interpolated,
                    },
                    ty,
                )
            }
            27 => {
                let which = self
                    .chance
                    .pick(&[AbsentKind::Blank, AbsentKind::NotApplicable]);
                (
                    Kind::IfAbsent {
                        value: find!(any),
                        which,
                        instead: find!(any),
                    },
                    any,
                )
            }
            28 => {
                let test = self.chance.pick(&[
                    PresenceTest::Blank,
                    PresenceTest::NotApplicable,
                    PresenceTest::Known,
                ]);
                (
                    Kind::Presence {
                        value: find!(any),
                        test,
                    },
                    Ty::Truth,
                )
            }
            29 => {
                let coarser = self.coarser(grain);
                let coarse = if coarser.is_empty() {
                    Grain::Const
                } else {
                    self.chance.pick(&coarser)
                };
                if grain == Grain::Const {
                    return None;
                }
                (Kind::Down(self.find(&any, coarse)?), any)
            }
            30 | 31 => {
                let finer = self.finer(grain);
                if finer.is_empty() {
                    return None;
                }
                let fine = self.chance.pick(&finer);
                use AggregateKind::{All, Any, Count, Least, Mean, Most, Sum};
                let kind = self
                    .chance
                    .pick(&[Sum, Sum, Sum, Count, Least, Most, Mean, Any, All]);
                let of = match kind {
                    Any | All => Ty::Truth,
                    Least | Most if self.chance.one_in(4) => Ty::Point(Scale::Day),
                    _ => n.clone(),
                };
                let weight = if kind == Mean && self.chance.one_in(2) {
                    self.find(&n, fine)
                } else {
                    None
                };
                let filter = if self.chance.one_in(2) {
                    self.find(&Ty::Truth, fine)
                } else {
                    None
                };
                let ty = if kind == Count { n } else { of.clone() };
                let of = self.find(&of, fine)?;
                if self.program.node(of).grain != fine {
                    return None;
                }
                (
                    Kind::Up {
                        kind,
                        of,
                        weight,
                        filter,
                    },
                    ty,
                )
            }
            32 => {
                let finer = self.finer(grain);
                if finer.is_empty() {
                    return None;
                }
                let of = self.chance.pick(&finer);
                let filter = if self.chance.one_in(2) {
                    self.find(&Ty::Truth, of)
                } else {
                    None
                };
                (Kind::Count { of, filter }, n)
            }
            _ => {
                let coarser = self.coarser(grain);
                if coarser.is_empty() {
                    return None;
                }
                let coarse = self.chance.pick(&coarser);
                let mut whole = self.find(&n, coarse)?;
                let weight = self.find(&n, grain)?;
                let weight = if self.chance.one_in(3) {
                    weight
                } else {
                    self.add(
                        Kind::Abs(weight),
                        n.clone(),
                        self.program.node(weight).grain,
                    )
                };
                let steps = [exact(1, 4), Exact::ONE];
                let step = if self.chance.one_in(2) {
                    Some(self.chance.pick(&steps))
                } else {
                    None
                };
                if let Some(step) = &step
                    && !self.chance.one_in(4)
                {
                    let by = self.add(Kind::Number(step.clone()), n.clone(), Grain::Const);
                    let at = self.program.node(whole).grain;
                    whole = self.add(
                        Kind::Round {
                            value: whole,
                            step: by,
                            mode: Rounding::HalfUp,
                        },
                        n.clone(),
                        at,
                    );
                }
                (
                    Kind::Share {
                        whole,
                        weight,
                        step,
                    },
                    n,
                )
            }
        })
    }
}

/// Every node of a program.
pub(super) fn all_nodes(program: &Program) -> Vec<NodeId> {
    program.nodes().ids().collect()
}
