//! Why a number is what it is: the tree behind a named value, a resource, a phase, a charge or the total, down to cells of the survey;
//! and why a total is not what it was.
//!
//! Replays the checked program itself, node for node, and walks the written sheets beside it; it works nothing out in another way.
//! Must not know files or arguments.
//!
//! ```
//! # fn worked() -> ovolo::session::Session {
//! #     include!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/docs/worked.rs"))
//! # }
//! use ovolo::explain::{Explainer, Options};
//!
//! let session = worked(); // a small job in memory
//! let run = session.run().expect("it is worked");
//! let subject = run.job.subject(0, &run.survey, &run.book, &run.worked);
//! let mut explainer = Explainer::new(subject);
//! let area = explainer.find("area", Some("A1")).expect("a rule");
//! let tree = explainer.explain(area, Options::default()).expect("it is worked");
//! assert_eq!(tree.text, "12.5 sq ft");
//! assert_eq!(tree.from[0].name, "wide");
//! ```

// A match over kinds lists them all, so that a new kind is noticed everywhere, and no conversion fails silently.
#![warn(
    clippy::wildcard_enum_match_arm,
    clippy::match_wildcard_for_single_variants
)]
#![warn(clippy::as_conversions)]

pub mod against;
mod builder;
pub mod change_order;
pub mod difference;
mod expr;
mod find;
mod gather;
pub mod json;
mod kept;
mod money;
pub mod record;
mod rows;
mod sheets;
mod tables;
mod takes;
pub mod text;
mod tree;
mod values;

pub use tree::{Tree, What};

use crate::check::{Checked, Loaded};
use crate::diagnostics::{Diagnostic, Span};
use crate::estimate::{Refused, Survey, run_error};
use crate::eval::{self, Inputs, Results};
use crate::number::Exact;
use crate::prices::PriceBook;
use crate::pricing::{Estimate, Picked};
use crate::program::{Grain, NodeId, ResourceClass, ResourceId, Version};
use crate::running;
use crate::table::Table;
use builder::Builder;
use foldhash::HashMap;
use std::collections::{BTreeSet, HashSet};

/// A job that was calculated: what it was calculated from, and the estimate.
#[derive(Debug, Clone, Copy)]
pub struct Subject<'a> {
    /// The sheets.
    pub loaded: &'a Loaded,
    /// What checking made of them.
    pub checked: &'a Checked,
    /// Which version: an index into the program's.
    pub version: usize,
    /// The survey; cells are reported as they were written where their texts were kept.
    pub survey: &'a Survey,
    /// The price book.
    pub book: &'a PriceBook,
    /// The estimate of that version.
    pub estimate: &'a Estimate,
    /// What mixed plans picked, as working the version gave it.
    pub picked: &'a [Picked],
}

impl<'a> Subject<'a> {
    fn version(&self) -> &'a Version {
        // A checked program has its first version at least; the caller's index is one of its versions.
        let versions = &self.checked.program.versions;
        versions.get(self.version).unwrap_or(&versions[0])
    }
}

/// Deepest tree that is grown, however deep is asked for: deeper ones would not fit on the stack of a usual thread.
pub const MOST_LEVELS: usize = 40;

/// How much of the tree to show.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Options {
    /// Levels of named values and sums below the root; never more than [`MOST_LEVELS`] are grown.
    pub depth: usize,
    /// Parts of a sum shown one by one, the largest first; the rest is in one line.
    pub most: usize,
}

impl Default for Options {
    fn default() -> Self {
        Options { depth: 6, most: 5 }
    }
}

/// A number that can be explained.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Target {
    /// A named value on a row of its grain.
    Value {
        /// Its place in [`Version::values`].
        value: usize,
        /// Row of its grain; 0 for the job.
        row: usize,
    },
    /// The cost of a resource.
    Resource(ResourceId),
    /// How much of a resource is taken on a row of the main table, net.
    ResourceAt(ResourceId, usize),
    /// The cost of a phase, by its place in the cut by phase.
    Phase(usize),
    /// A charge or allowance, by its place.
    Charge(usize),
    /// What the rounding of the final figure adds.
    FinalRounding,
    /// The cost and amount of a class of resources.
    Class(ResourceClass),
    /// All lines of goods: neither labor nor hired.
    Materials,
    /// Cost before charges.
    Cost,
    /// The final figure.
    Total,
}

impl Target {
    /// A depth that shows the matter and not all of the job: sums of sums are cut earlier.
    pub fn usual_depth(self) -> usize {
        match self {
            Target::Value { .. } => 6,
            Target::Resource(_) | Target::ResourceAt(..) => 3,
            Target::Phase(_) | Target::Class(_) | Target::Materials => 2,
            Target::Charge(_) | Target::FinalRounding | Target::Cost | Target::Total => 3,
        }
    }
}

/// Explains numbers of one job; values replayed for one serve the next.
pub struct Explainer<'a> {
    subject: Subject<'a>,
    index: sheets::Index<'a>,
    nodes: HashMap<Span, NodeId>,
    /// The survey with what was picked, as the nodes read it.
    tables: Vec<Table>,
    /// What the calendar gave the spans.
    spans: Vec<Option<Exact>>,
    wanted: BTreeSet<NodeId>,
    results: Results,
}

impl<'a> Explainer<'a> {
    /// Makes ready. Nothing is replayed before a number is asked for.
    pub fn new(subject: Subject<'a>) -> Explainer<'a> {
        let tables = subject
            .survey
            .with_picks(&subject.checked.program, subject.picked);
        Explainer {
            subject,
            index: sheets::Index::new(subject.loaded),
            nodes: subject.checked.nodes_of(subject.version),
            tables,
            spans: subject
                .estimate
                .schedule
                .as_ref()
                .map_or_else(Vec::new, |s| {
                    s.span_values(&subject.checked.program, subject.version)
                }),
            wanted: BTreeSet::new(),
            results: Results::default(),
        }
    }

    /// The number a user names, with the mark of its row or the key of its group where it has one.
    /// Errors: OV-920 for a name that is none, OV-921 for a row that is missing or is none.
    pub fn find(&mut self, name: &str, mark: Option<&str>) -> Result<Target, Refused> {
        self.replayed(Options::default(), |b| b.target(name, mark))?
            .map_err(|d| Refused::Messages(vec![d]))
    }

    /// The tree behind a number. Errors: only where the rules can't be run over the survey.
    pub fn explain(&mut self, target: Target, options: Options) -> Result<Tree, Refused> {
        self.replayed(options, |b| b.grow(target))
    }

    /// Why a named value fails on its row; nothing where it does not, or where the number is none of a value.
    /// Errors: only where the rules can't be run over the survey.
    pub fn faults(&mut self, target: Target) -> Result<Vec<Diagnostic>, Refused> {
        let Target::Value { value, row } = target else {
            return Ok(vec![]);
        };
        let version = self.subject.version();
        let Some(node) = version.values.get(value).map(|v| v.node) else {
            return Ok(vec![]);
        };
        self.replayed(Options::default(), |b| b.cell(node, row))?;
        let inputs = Inputs {
            tables: self.tables.iter().collect(),
            spans: &self.spans,
        };
        running::fault_at(
            &self.subject.checked.program,
            version,
            &inputs,
            &self.results,
            node,
            row,
        )
        .map_err(run_error)
    }

    /// How many rows a grain has, and the name of each.
    pub fn rows(&mut self, grain: Grain) -> Result<Vec<Option<String>>, Refused> {
        self.replayed(Options::default(), |b| {
            if let Grain::Group(group) = grain {
                b.want_groups(group);
            }
            (0..b.rows(grain)).map(|row| b.mark(grain, row)).collect()
        })
    }

    /// Grows with the values at hand, replays what is missing, and grows again until nothing is.
    fn replayed<T>(
        &mut self,
        options: Options,
        grow: impl Fn(&mut Builder<'_>) -> T,
    ) -> Result<T, Refused> {
        loop {
            let mut builder = Builder {
                subject: &self.subject,
                index: &self.index,
                nodes: &self.nodes,
                results: &self.results,
                options,
                missing: BTreeSet::new(),
                shown: HashSet::new(),
            };
            let grown = grow(&mut builder);
            let missing = builder.missing;
            let before = self.wanted.len();
            self.wanted.extend(missing);
            if self.wanted.len() == before {
                return Ok(grown);
            }
            let nodes: Vec<NodeId> = self.wanted.iter().copied().collect();
            let inputs = Inputs {
                tables: self.tables.iter().collect(),
                spans: &self.spans,
            };
            self.results = eval::run(
                &self.subject.checked.program,
                &inputs,
                &nodes,
                &eval::Options::default(),
            )
            .map_err(run_error)?;
        }
    }
}

impl Builder<'_> {
    fn grow(&mut self, target: Target) -> Tree {
        match target {
            Target::Value { value, row } => match self.version().values.get(value) {
                Some(def) => self.value(value, def.replaced.len(), def.node, row, 0),
                None => Tree::new(What::Rule, ""),
            },
            Target::Resource(id) => self.resource(id, 0),
            Target::ResourceAt(id, row) => match self.program().main_table() {
                Some(table) => self.resource_at(id, Grain::Table(table), row, 0),
                None => Tree::new(What::Resource, ""),
            },
            Target::Phase(at) => self.phase(at, 0),
            Target::Charge(at) => self.charge(at, 0),
            Target::FinalRounding => self.final_rounding(),
            Target::Class(class) => self.class(class, 0),
            Target::Materials => self.materials(0),
            Target::Cost => self.direct(0),
            Target::Total => self.total(),
        }
    }
}

/// A message of this module.
fn refused(code: &'static str, message: String) -> Diagnostic {
    Diagnostic::error(code, message)
}
