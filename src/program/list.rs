//! Lists and papers as checked, and the class of what they print.

use super::{
    DecideDef, Grain, Kind, Next, Node, NodeId, Piece, Program, ResourceClass, Template, Ty,
    ValueId, Version,
};
use crate::diagnostics::Span;
use crate::paper::{Class, Reader};
use crate::syntax::tree::{CautionKind, Chart, ListShape, Side};
use crate::units::{Base, Dim, UnitExpr};
use foldhash::HashSet;

/// What a list has a row for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ListOver {
    /// Each row of a grain.
    Rows(Grain),
    /// Each part at each of its rows.
    Parts(Option<ResourceClass>),
    /// Each member of each row, made or kept.
    Members,
    /// Each take on each row of the main table.
    Takes(Option<ResourceClass>),
    /// What one trade does in one phase at each row of the main table in one week: labor takes put together.
    Work,
    /// Each resource that is bought.
    Purchases(Option<ResourceClass>),
    /// Each activity of the calendar.
    Activities,
    /// Each activity of the calendar in each week it lies in.
    Weeks,
    /// Each hire of the calendar.
    Hires,
    /// Each piece of stock on hand that a cut plan of the job uses.
    Picks,
    /// Each item of the bid, by phase or by area.
    Items(ItemBy),
    /// Each alternate that the owner asked for.
    Alternates,
    /// Each month in which money moves.
    Months,
    /// Each opening that changed since an earlier issue, and the others together.
    Changes,
    /// Each treatment that somebody decided by hand for one row and signed.
    Answers,
}

/// What the items of a bid are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ItemBy {
    /// Phases.
    Phase,
    /// Areas: the first column of `split by`.
    Area,
    /// The values of a label of rows.
    Label(NodeId),
}

/// What a row of a list holds by itself, without a rule of a sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum Field {
    Mark,
    Marks,
    Part,
    Decayed,
    Reason,
    Basis,
    Resource,
    Phase,
    Week,
    Note,
    Pieces,
    Size(Side),
    Rough(Side),
    Member,
    Treatment,
    Profile,
    Amount,
    Unit,
    Bought,
    Packs,
    Pack,
    PackSize,
    Spec,
    Order,
    OrderedIn,
    NeedBy,
    Supplier,
    Price,
    Per,
    Cost,
    PricedOn,
    Source,
    Area,
    Trade,
    Start,
    Finish,
    Hours,
    Hands,
    /// Person-time on a day of the week, Monday being 0.
    OnDay(u8),
    Critical,
    Item,
    AllInAmount,
    Quantity,
    UnitPrice,
    Extension,
    Number,
    Alternate,
    Change,
    AddOrDeduct,
    Adds,
    DaysLater,
    Month,
    Billed,
    Received,
    Was,
    Now,
    Proposed,
    DecidedBy,
    DecidedOn,
    Hire,
    On,
    Off,
    Days,
}

/// How a field is shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum FieldKind {
    Text,
    /// A whole number that adds up.
    Count,
    /// A number in a unit named beside it.
    Plain,
    /// Inches.
    Length,
    /// A share, shown as a percent.
    Share,
    /// Hours that add up.
    Hours,
    /// Currency that adds up.
    Money,
}

use Field::*;

const ROWS: &[(&str, Field)] = &[("marks", Marks)];
const PARTS: &[(&str, Field)] = &[
    ("mark", Mark),
    ("marks", Marks),
    ("part", Part),
    ("resource", Resource),
    ("phase", Phase),
    ("note", Note),
    ("pieces", Pieces),
    ("length", Size(Side::Length)),
    ("width", Size(Side::Width)),
    ("height", Size(Side::Height)),
    ("thickness", Size(Side::Thickness)),
    ("rough_length", Rough(Side::Length)),
    ("rough_width", Rough(Side::Width)),
    ("rough_height", Rough(Side::Height)),
    ("rough_thickness", Rough(Side::Thickness)),
    ("member", Member),
    ("treatment", Treatment),
    ("profile", Profile),
    ("supplier", Supplier),
];
const MEMBERS: &[(&str, Field)] = &[
    ("mark", Mark),
    ("member", Member),
    ("pieces", Pieces),
    ("decayed", Decayed),
    ("treatment", Treatment),
    ("reason", Reason),
    ("basis", Basis),
    ("profile", Profile),
    ("length", Size(Side::Length)),
    ("width", Size(Side::Width)),
    ("thickness", Size(Side::Thickness)),
];
const TAKES: &[(&str, Field)] = &[
    ("mark", Mark),
    ("marks", Marks),
    ("resource", Resource),
    ("phase", Phase),
    ("note", Note),
    ("amount", Amount),
    ("unit", Unit),
];
const LABOR: &[(&str, Field)] = &[
    ("mark", Mark),
    ("marks", Marks),
    ("resource", Resource),
    ("phase", Phase),
    ("week", Week),
    ("note", Note),
    ("hours", Hours),
];
const PURCHASES: &[(&str, Field)] = &[
    ("resource", Resource),
    ("spec", Spec),
    ("item", Item),
    ("order", Order),
    ("ordered_in", OrderedIn),
    ("unit", Unit),
    ("bought", Bought),
    ("packs", Packs),
    ("pack", Pack),
    ("pack_size", PackSize),
    ("need_by", NeedBy),
    ("supplier", Supplier),
    ("price", Price),
    ("per", Per),
    ("cost", Cost),
    ("priced_on", PricedOn),
    ("source", Source),
];
const ACTIVITIES: &[(&str, Field)] = &[
    ("area", Area),
    ("phase", Phase),
    ("trade", Trade),
    ("start", Start),
    ("finish", Finish),
    ("hours", Hours),
    ("hands", Hands),
    ("critical", Critical),
];
const WEEKS: &[(&str, Field)] = &[
    ("area", Area),
    ("phase", Phase),
    ("trade", Trade),
    ("week", Week),
    ("hours", Hours),
    ("hands", Hands),
    ("monday", OnDay(0)),
    ("tuesday", OnDay(1)),
    ("wednesday", OnDay(2)),
    ("thursday", OnDay(3)),
    ("friday", OnDay(4)),
    ("saturday", OnDay(5)),
    ("sunday", OnDay(6)),
];
const HIRES: &[(&str, Field)] = &[
    ("hire", Hire),
    ("area", Area),
    ("on", On),
    ("off", Off),
    ("days", Days),
    ("supplier", Supplier),
    ("cost", Cost),
];
const PICKS: &[(&str, Field)] = &[
    ("resource", Resource),
    ("spec", Spec),
    ("mark", Mark),
    ("pieces", Pieces),
    ("length", Size(Side::Length)),
    ("width", Size(Side::Width)),
    ("thickness", Size(Side::Thickness)),
    ("part", Part),
];

const ITEMS: &[(&str, Field)] = &[
    ("item", Item),
    ("quantity", Quantity),
    ("amount", AllInAmount),
    ("unit_price", UnitPrice),
    ("extension", Extension),
];
const ALTERNATES: &[(&str, Field)] = &[
    ("number", Number),
    ("alternate", Alternate),
    ("change", Change),
    ("add_or_deduct", AddOrDeduct),
    ("adds", Adds),
    ("days_later", DaysLater),
];
const MONTHS: &[(&str, Field)] = &[("month", Month), ("billed", Billed), ("received", Received)];
const ANSWERS: &[(&str, Field)] = &[
    ("mark", Mark),
    ("member", Member),
    ("proposed", Proposed),
    ("treatment", Treatment),
    ("reason", Reason),
    ("decided_by", DecidedBy),
    ("decided_on", DecidedOn),
];
const CHANGES: &[(&str, Field)] = &[
    ("mark", Mark),
    ("amount_before", Was),
    ("amount_now", Now),
    ("adds", Adds),
    ("reason", Reason),
];

impl ListOver {
    /// What its rows hold by themselves, by name.
    pub fn fields(self) -> &'static [(&'static str, Field)] {
        match self {
            ListOver::Rows(_) => ROWS,
            ListOver::Parts(_) => PARTS,
            ListOver::Members => MEMBERS,
            ListOver::Takes(Some(ResourceClass::Labor)) | ListOver::Work => LABOR,
            ListOver::Takes(_) => TAKES,
            ListOver::Purchases(_) => PURCHASES,
            ListOver::Activities => ACTIVITIES,
            ListOver::Weeks => WEEKS,
            ListOver::Hires => HIRES,
            ListOver::Picks => PICKS,
            ListOver::Items(_) => ITEMS,
            ListOver::Alternates => ALTERNATES,
            ListOver::Months => MONTHS,
            ListOver::Changes => CHANGES,
            ListOver::Answers => ANSWERS,
        }
    }
}

impl Field {
    /// How it is shown.
    pub fn kind(self) -> FieldKind {
        match self {
            Pieces | Days => FieldKind::Count,
            Number | Quantity | DaysLater => FieldKind::Plain,
            AllInAmount | Extension | Adds | Billed | Received | UnitPrice | Was | Now => {
                FieldKind::Money
            }
            Size(_) | Rough(_) => FieldKind::Length,
            Decayed => FieldKind::Share,
            Amount | Bought | Packs | Order | PackSize | Price | Hands => FieldKind::Plain,
            Hours | OnDay(_) => FieldKind::Hours,
            Cost => FieldKind::Money,
            Mark | Marks | Part | Reason | Basis | Resource | OrderedIn | Phase | Week | Note
            | Member | Treatment | Profile | Unit | Spec | Pack | NeedBy | Supplier | Per
            | PricedOn | Source | Area | Trade | Start | Finish | Critical | Hire | On | Off
            | Item | Alternate | Change | AddOrDeduct | Month | Proposed | DecidedBy
            | DecidedOn => FieldKind::Text,
        }
    }

    /// Who may see it.
    pub fn class(self) -> Class {
        match self {
            Hours | OnDay(_) | Hands => Class::Hours,
            Supplier | Price | Per | Cost | PricedOn | Source => Class::Private,
            AllInAmount | UnitPrice | Extension | Adds | AddOrDeduct | Billed | Received | Was
            | Now => Class::AllIn,
            Mark | Marks | Part | Decayed | Reason | Basis | Resource | Phase | Week | Note
            | Pieces | Size(_) | Rough(_) | Member | Treatment | Profile | Amount | Unit
            | Bought | Packs | Pack | PackSize | Spec | Order | OrderedIn | NeedBy | Area
            | Trade | Start | Finish | Critical | Item | Quantity | Number | Alternate | Change
            | DaysLater | Month | Proposed | DecidedBy | DecidedOn | Hire | On | Off | Days => {
                Class::Open
            }
        }
    }
}

/// By what rows are grouped and ordered.
#[derive(Debug, Clone)]
pub enum ListKey {
    /// A field.
    Own(Field),
    /// A value, calculated at each grain that rows of the list are at.
    Formula(Vec<(Grain, NodeId)>),
}

/// What a column shows.
#[derive(Debug, Clone)]
pub enum ListShows {
    /// A field or a formula.
    Key(ListKey),
    /// The reason of a decision at the list's grain.
    Reason(ValueId),
    /// What a decision rests on.
    Basis(ValueId),
    /// A box to tick.
    Tick,
    /// Room to write in.
    Room,
}

/// A column of a list.
#[derive(Debug, Clone)]
pub struct ListColumnDef {
    /// Stable name.
    pub name: String,
    /// Heading.
    pub heading: String,
    /// What it shows.
    pub shows: ListShows,
    /// Unit of a number.
    pub unit: Option<UnitExpr>,
    /// Whether its sums are printed.
    pub total: bool,
    /// Who may see it.
    pub class: Class,
    /// Where.
    pub span: Span,
}

/// A list.
#[derive(Debug, Clone)]
pub struct ListDef {
    /// Name.
    pub name: String,
    /// Title above it.
    pub title: String,
    /// What it has a row for.
    pub over: ListOver,
    /// Columns.
    pub columns: Vec<ListColumnDef>,
    /// Rows it has, where not all: a condition at each grain.
    pub filter: Vec<(Grain, NodeId)>,
    /// Groups, the outermost first, with the class of each.
    pub groups: Vec<(ListKey, Class)>,
    /// Order, each with whether it runs downward and its class.
    pub sorts: Vec<(ListKey, bool, Class)>,
    /// Where.
    pub span: Span,
}

/// A block of a paper.
#[derive(Debug, Clone)]
pub enum PaperBlockDef {
    /// A heading.
    Heading(Template),
    /// A paragraph.
    Text(Template),
    /// A list by its place in [`Version::lists`], with the values the paper is parted by and how it is shown.
    List(usize, Vec<ListKey>, ListShape),
    /// The cautions that hold.
    Cautions {
        /// Only those that hold at some rows of a paper that is parted.
        of_rows: bool,
        /// Only those of this kind, where not all.
        kind: Option<CautionKind>,
    },
    /// Boxes to tick: what is above them, the columns of a box for each, if any, and what the boxes are for.
    Boxes(String, Vec<String>, Vec<String>),
    /// Lines to write on, each behind its words.
    Rooms(Vec<String>),
    /// A picture.
    Draw(DrawDef),
    /// A photograph by the text that holds its number.
    Photograph(NodeId),
    /// The offer: sum, days, what it rests on.
    Offer,
    /// The offer of a change order.
    OfferOfChanges,
    /// Blocks for each row of a table or group.
    Each(PaperEachDef),
    /// Lines to sign on.
    Signs(Vec<String>),
    /// What follows begins a page.
    PageBreak,
}

impl PaperBlockDef {
    /// Blocks with those inside them, each before what it holds.
    pub fn all(blocks: &[PaperBlockDef]) -> Vec<&PaperBlockDef> {
        let mut out = Vec::new();
        for block in blocks {
            out.push(block);
            if let PaperBlockDef::Each(each) = block {
                out.extend(PaperBlockDef::all(&each.blocks));
            }
        }
        out
    }
}

/// Blocks for each row of a table or group.
#[derive(Debug, Clone)]
pub struct PaperEachDef {
    /// Its rows.
    pub grain: Grain,
    /// Which of them, where not all.
    pub filter: Option<NodeId>,
    /// Order, each with whether it runs downward, and its class.
    pub sorts: Vec<(ListKey, bool, Class)>,
    /// What is printed for each.
    pub blocks: Vec<PaperBlockDef>,
}

/// What a paper draws.
#[derive(Debug, Clone)]
pub enum DrawDef {
    /// Amounts of money as bars, for this reader.
    Chart(Chart, Reader),
    /// The bars of the calendar.
    Calendar,
    /// The cut plans, piece by piece.
    Cuts,
    /// Rows of a table in the opening of the row they belong to, from their parts.
    Sash {
        /// Their grain.
        grain: Grain,
        /// Lower left corner of each, in inches: at their grain.
        at: [NodeId; 2],
        /// Width and height of the opening, in inches: at the grain of the block.
        within: [NodeId; 2],
        /// Soft places.
        soft: Option<SoftDef>,
    },
    /// Openings of a wall as a diagram.
    Wall {
        /// Their grain.
        grain: Grain,
        /// Order along the wall.
        along: NodeId,
        /// Floor.
        up: NodeId,
        /// Width and height of each, in inches.
        within: [NodeId; 2],
        /// What is written below the mark.
        letter: Option<NodeId>,
    },
}

/// Soft places of members: nodes at their grain.
#[derive(Debug, Clone, Copy)]
pub struct SoftDef {
    /// Their grain.
    pub grain: Grain,
    /// The member: a text or a label.
    pub on: NodeId,
    /// From the left or the foot.
    pub from: NodeId,
    /// Length.
    pub long: NodeId,
    /// Breadth.
    pub broad: NodeId,
}

/// A paper.
#[derive(Debug, Clone)]
pub struct PaperDef {
    /// Name.
    pub name: String,
    /// Title.
    pub title: Template,
    /// Whom it is for.
    pub reader: Reader,
    /// Whether there is one paper for each of some values.
    pub parted: bool,
    /// What it holds.
    pub blocks: Vec<PaperBlockDef>,
}

/// What a figure that is the same on every row counts as in a text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Constants {
    /// A given printed by itself.
    AsGivens,
    /// There to be read by whoever is given the text, unless it is marked private.
    AsWritten,
}

/// The class of a text: of every value in its braces, and of every name there through which a private figure can be read.
pub fn class_of_text(
    program: &Program,
    version: &Version,
    text: &Template,
    constants: Constants,
) -> Class {
    text.pieces.iter().fold(Class::Open, |class, piece| {
        let Piece::Value { name, node, .. } = piece else {
            return class;
        };
        class.with(class_of_name(program, version, name, *node, constants))
    })
}

/// The class of what is behind a name.
pub fn class_of_name(
    program: &Program,
    version: &Version,
    name: &str,
    node: NodeId,
    constants: Constants,
) -> Class {
    match constants {
        _ if shows_private(version, name) => Class::Private,
        Constants::AsWritten => class_of_written(program, version, node),
        Constants::AsGivens => class_of(program, version, node),
    }
}

/// The class of a value where a figure that is the same on every row is there to be read, unless it is money, hours or a pace.
pub fn class_of_written(program: &Program, version: &Version, node: NodeId) -> Class {
    let found = program.node(node);
    if found.grain != Grain::Const {
        return class_of(program, version, node);
    }
    match &found.ty {
        Ty::Number(n) if n.dim.exponent(Base::Money) != 0 || n.dim.exponent(Base::Labor) != 0 => {
            Class::Private
        }
        Ty::Number(_) | Ty::Truth | Ty::Choice(_) | Ty::Text | Ty::Point(_) => Class::Open,
    }
}

/// The class of the reasons of a decision.
pub fn class_of_reasons(program: &Program, version: &Version, decide: &DecideDef) -> Class {
    let texts = decide.lines.iter().map(|l| &l.because);
    texts.fold(Class::Open, |class, text| {
        class.with(class_of_text(program, version, text, Constants::AsWritten))
    })
}

/// Whether a private figure can be read through a name.
pub fn shows_private(version: &Version, name: &str) -> bool {
    version.private_names.contains(name)
}

/// The class of a value: of what it is made of. What is only asked about in a condition leaves no figure behind. A number that is
/// the same on every row is a given printed by itself; a length, such as that of a tenon, is a fact of the work.
#[expect(
    clippy::wildcard_enum_match_arm,
    reason = "every other kind shows nothing of its children but yes, no or a label"
)]
pub fn class_of(program: &Program, version: &Version, node: NodeId) -> Class {
    let root = program.node(node);
    let figure = matches!(&root.ty, Ty::Number(n) if n.dim != Dim::length(1));
    if root.grain == Grain::Const && figure {
        return Class::Private;
    }
    let marked: HashSet<NodeId> = version
        .values
        .iter()
        .filter(|v| v.private && program.node(v.node).grain != Grain::Const)
        .map(|v| v.node)
        .collect();
    let mut class = match &root.ty {
        Ty::Number(n) if n.dim.exponent(Base::Labor) != 0 && n.dim.is_rate() => Class::Private,
        Ty::Number(_) | Ty::Truth | Ty::Choice(_) | Ty::Text | Ty::Point(_) => Class::Open,
    };
    // Labels and truths say how something fell out, not by how much.
    let read = |_, node: &Node| match &node.kind {
        Kind::Select {
            then, otherwise, ..
        } => Next::from_slice(&[*then, *otherwise]),
        Kind::Choose { arms, .. } => arms.iter().copied().collect(),
        Kind::GroupKey { group, key } => {
            let keys = program.groups.get(*group).map(|g| &g.keys);
            let key = keys.and_then(|k| k.get(usize::from(*key)));
            key.copied().into_iter().collect()
        }
        Kind::Up { of, .. } => Next::from_slice(&[*of]),
        Kind::Count { .. } => Next::new(),
        kind if matches!(node.ty, Ty::Number(_) | Ty::Text | Ty::Point(_)) => kind.children(),
        _ => Next::new(),
    };
    for (at, node) in program.walk([node], read) {
        let of_it = match &node.ty {
            _ if marked.contains(&at) => Class::Private,
            Ty::Number(n) if n.dim.exponent(Base::Money) != 0 => Class::Private,
            Ty::Number(n) if n.dim.exponent(Base::Labor) != 0 => Class::Hours,
            Ty::Number(_) | Ty::Truth | Ty::Choice(_) | Ty::Text | Ty::Point(_) => Class::Open,
        };
        class = class.with(of_it);
    }
    class
}
