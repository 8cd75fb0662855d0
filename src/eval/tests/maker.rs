//! Makes programs and tables by chance: every kind of node, missing cells, failing rows, groups, a table below another.

use crate::diagnostics::{FileId, Place, Span};
use crate::number::{Exact, Rounding};
use crate::program::{
    AbsentKind, Adds, AggregateKind, ChoiceDef, ChoiceId, Compare, Grain, GroupId, Grouping,
    KeyCell, KeyColumn, Kind, Lookup, LookupId, Missing, Node, NodeId, NumTy, PresenceTest,
    Program, RealNode, Scale, TableId, TableInfo, Ty, ValueColumn,
};
use crate::table::{
    Absence, ColumnData, Numbers, NumbersBuilder, RowPlace, Schema, Table, Texts, Values,
};
use crate::units::{Dim, Nouns};

const SPAN: Span = Span {
    file: FileId(0),
    start: 0,
    end: 0,
};
const OPENING: TableId = TableId(0);
const DEFECT: TableId = TableId(1);
const CHOICE: ChoiceId = ChoiceId(0);
const TEXTS: [&str; 6] = ["north", "west", "yard", "mill", "east", ""];

/// Chance from a seed (xorshift64*, Marsaglia 2003 and Vigna 2016).
pub(super) struct Chance(u64);

impl Chance {
    pub(super) fn new(seed: u64) -> Chance {
        Chance(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }

    fn next(&mut self) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_F491_4F6C_DD1D)
    }

    /// A number below `n`.
    pub(super) fn below(&mut self, n: usize) -> usize {
        ((self.next() >> 33) as usize) % n.max(1)
    }

    fn one_in(&mut self, n: usize) -> bool {
        self.below(n) == 0
    }

    fn pick<T: Clone>(&mut self, from: &[T]) -> T {
        from[self.below(from.len())].clone()
    }

    fn between(&mut self, low: i64, high: i64) -> i64 {
        low + self.below((high - low + 1) as usize) as i64
    }
}

fn exact(n: i64, d: i64) -> Exact {
    Exact::ratio(n, d).expect("a denominator above zero")
}

pub(super) fn number() -> Ty {
    Ty::Number(NumTy {
        dim: Dim::NONE,
        percent: false,
        adds: Adds::Yes,
        real: false,
    })
}

fn a_number(chance: &mut Chance) -> Exact {
    match chance.below(12) {
        0 => Exact::ZERO,
        1..=4 => Exact::int(chance.between(-6, 12)),
        5..=7 => exact(chance.between(-40, 700), 16),
        8 => exact(chance.between(1, 100), 100),
        9 => exact(chance.between(-9, 9), chance.between(1, 7)),
        10 => exact(chance.between(1, i64::MAX / 2), chance.between(1, 1 << 30)),
        _ => Exact::int(i64::MAX)
            .mul(&Exact::int(chance.between(-5, 5)))
            .expect("fits"),
    }
}

fn numbers(chance: &mut Chance, rows: usize, shape: usize) -> Values {
    let mut values = Vec::new();
    for _ in 0..rows {
        values.push(match shape {
            0 => exact(chance.between(16, 1600), 16),
            1 => Exact::int(chance.between(0, 6)),
            2 => exact(chance.between(0, 100), 100),
            3 => Exact::int(chance.between(-1_000_000, 1_000_000)),
            4 => exact(chance.between(1, i64::MAX / 4), chance.between(1, 9)),
            _ => a_number(chance),
        });
    }
    if chance.one_in(6) {
        return Values::Numbers(Numbers::Exact(values));
    }
    let mut builder = NumbersBuilder::default();
    values.iter().for_each(|v| builder.push(v));
    Values::Numbers(builder.finish())
}

/// A column of a type; numbers of one of six shapes.
fn column(chance: &mut Chance, rows: usize, ty: &Ty, shape: usize, gaps: bool) -> ColumnData {
    let values = match ty {
        Ty::Number(_) => numbers(chance, rows, shape),
        Ty::Truth => Values::YesNo((0..rows).map(|_| chance.one_in(2)).collect()),
        Ty::Choice(_) => Values::Choice((0..rows).map(|_| chance.below(4) as u16).collect()),
        Ty::Point(Scale::Day) => Values::Date(
            (0..rows)
                .map(|_| chance.between(-3, 20_000) as i32)
                .collect(),
        ),
        Ty::Point(_) => numbers(chance, rows, shape),
        Ty::Text => {
            let first = chance.below(TEXTS.len() - 2);
            let pool: Texts = TEXTS[first..].iter().copied().collect();
            Values::Text {
                ids: (0..rows).map(|_| chance.below(pool.len()) as u32).collect(),
                pool,
            }
        }
    };
    let absent = gaps.then(|| {
        let kinds = [Absence::Blank, Absence::NotApplicable, Absence::Unreadable];
        (0..rows)
            .map(|_| {
                if chance.one_in(5) {
                    chance.pick(&kinds)
                } else {
                    Absence::Present
                }
            })
            .collect()
    });
    ColumnData { values, absent }
}

/// A program, the tables it reads, and its nodes that can be wanted.
pub(super) struct Made {
    pub(super) program: Program,
    pub(super) tables: Vec<Table>,
}

/// Makes a program of about `size` nodes besides columns and constants, over `rows` openings.
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
    for ty in [number(), Ty::Truth, Ty::Text, Ty::Point(Scale::Day)] {
        maker.add(Kind::Unknown, ty, Grain::Const);
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
    }
}

fn lookups(chance: &mut Chance, program: &mut Program) {
    let band = |low: Option<i64>, high: Option<i64>| KeyCell::Band {
        low: low.map(|n| (Exact::int(n), true)),
        high: high.map(|n| (Exact::int(n), false)),
    };
    let name = |text: &str| KeyCell::Text(text.to_owned());
    let key = |ty: Ty, cells: Vec<KeyCell>| KeyColumn {
        name: "key".into(),
        ty,
        unit: None,
        cells,
    };
    let mut push = |keys: Vec<KeyColumn>, chance: &mut Chance| {
        let rows = keys[0].cells.len();
        let values = vec![
            ValueColumn {
                name: "n".into(),
                ty: number(),
                numbers: (0..rows).map(|_| a_number(chance)).collect(),
                texts: Vec::new(),
            },
            ValueColumn {
                name: "t".into(),
                ty: Ty::Text,
                numbers: Vec::new(),
                texts: (0..rows).map(|_| chance.pick(&TEXTS).to_owned()).collect(),
            },
        ];
        let places = vec![Place::Sheet(SPAN); rows];
        program
            .lookups
            .push(std::sync::Arc::new(Lookup {
                name: "table".into(),
                keys,
                values,
                rows,
                span: SPAN,
                places,
            }))
            .expect("room for a few");
    };
    push(
        vec![key(
            number(),
            vec![
                band(None, Some(0)),
                band(Some(0), Some(12)),
                band(Some(14), Some(144)),
                band(Some(144), None),
            ],
        )],
        chance,
    );
    push(
        vec![key(
            number(),
            [-6, 40, 3, 90]
                .map(|n| KeyCell::Number(Exact::int(n)))
                .to_vec(),
        )],
        chance,
    );
    push(
        vec![
            key(
                Ty::Choice(CHOICE),
                vec![name("single"), name("single"), name("hung"), KeyCell::Any],
            ),
            key(
                number(),
                vec![
                    band(None, Some(5)),
                    band(Some(5), None),
                    KeyCell::Any,
                    KeyCell::Number(Exact::int(3)),
                ],
            ),
        ],
        chance,
    );
    push(
        vec![
            key(
                Ty::Text,
                vec![name("west"), name("mill"), KeyCell::Any, name("")],
            ),
            key(
                Ty::Truth,
                vec![
                    KeyCell::Truth(true),
                    KeyCell::Any,
                    KeyCell::Truth(false),
                    KeyCell::Any,
                ],
            ),
        ],
        chance,
    );
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

    /// What is worked from days and moments.
    fn of_points(&mut self, grain: Grain) -> Option<(Kind, Ty)> {
        let (n, scale) = (number(), self.chance.pick(&[Scale::Day, Scale::Moment]));
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
                (kind, Ty::Point(Scale::Day))
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
                    2 => RealNode::Add(leaf, Box::new(RealNode::Leaf(find!(n)))),
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
                let of = if self.chance.one_in(5) {
                    Ty::Point(Scale::Day)
                } else {
                    n
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
