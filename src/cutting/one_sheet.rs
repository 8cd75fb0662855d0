//! The most that one sheet can yield, when any number of each pane is of use: what a salvaged sheet is worth to a shop that keeps panes
//! of certain sizes.
//!
//! ```
//! use ovolo::cutting::one_sheet::{most, read};
//! let file = r#"{"kind": "guillotine-one-sheet", "unit": "in", "sheet": [20, 10],
//!     "panes": [{"w": 10, "h": 10}]}"#;
//! let asked = read(file, "sheet.json").expect("a question");
//! assert_eq!(most(&asked).expect("few sizes").value, 200);
//! ```

use super::any_cuts;
use super::check::{Whereabouts, accept};
use super::master::best_patterns;
use super::model::{Goods, Part, Problem, Rules, Stock};
use super::plan::{Plan, place};
use super::task::tasks;
use crate::diagnostics::{Diagnostic, Place};
use serde::Deserialize;
use serde::de::IgnoredAny;

/// What `kind` says in the file of such a question.
pub const KIND: &str = "guillotine-one-sheet";

/// Highest value of a pane: the worth of all that a sheet holds stays far from the largest number.
const MOST_VALUE: i64 = 1 << 28;

/// One sheet, and the panes that any number of is of use.
#[derive(Debug, Clone)]
pub struct OneSheet {
    /// The sheet as the one stock, and each pane, not yet counted.
    pub problem: Problem,
    /// What each pane is worth.
    pub values: Vec<i64>,
    /// Whether a pane is worth its area.
    pub by_area: bool,
}

/// What comes out of the sheet.
#[derive(Debug, Clone)]
pub struct Yielded {
    /// The panes as often as they are cut.
    pub problem: Problem,
    /// How the sheet is cut.
    pub plan: Plan,
    /// What the panes are worth together.
    pub value: i64,
    /// The most that panes of one size alone are worth.
    pub greedy: i64,
    /// No cuts from edge to edge, of any number of stages, yield more.
    pub bound: i64,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    #[serde(rename = "kind")]
    _kind: String,
    #[serde(default)]
    unit: Option<String>,
    sheet: (i64, i64),
    panes: Vec<Pane>,
    #[serde(default)]
    kerf: i64,
    #[serde(default)]
    edge_trim: i64,
    stages: Option<u8>,
    #[serde(default)]
    may_turn: bool,
    keep: Option<(i64, i64)>,
    #[serde(rename = "objective")]
    _objective: Option<IgnoredAny>,
    #[serde(rename = "source")]
    _source: Option<IgnoredAny>,
    #[serde(rename = "licence")]
    _licence: Option<IgnoredAny>,
    #[serde(rename = "optimum")]
    _optimum: Option<IgnoredAny>,
}

/// Two sizes, worth their area, or sizes with a value.
#[derive(Debug, Deserialize)]
#[serde(untagged)]
enum Pane {
    Sizes(i64, i64),
    Valued(ValuedPane),
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct ValuedPane {
    #[serde(default)]
    mark: String,
    w: i64,
    h: i64,
    value: Option<i64>,
}

/// Reads the question. Errors: OV-950 for a file that is not one, OV-951 for a value out of range, OV-957 for a sheet with too many sizes
/// to look at, and what [`accept`] finds.
pub fn read(text: &str, file: &str) -> Result<OneSheet, Vec<Diagnostic>> {
    let place = || Place::File(file.to_string());
    let parsed: File = serde_json::from_str(text).map_err(|e| {
        let d = Diagnostic::error("OV-950", "this is not a question of what one sheet yields")
            .at(place(), format!("line {}, column {}", e.line(), e.column()))
            .found(e.to_string().split(" at line ").next().unwrap_or_default())
            .expected("JSON with kind, sheet and panes, as `ovolo code OV-950` shows");
        vec![d]
    })?;
    let at = Whereabouts {
        parts: (1..=parsed.panes.len())
            .map(|i| (place(), format!("panes, entry {i}")))
            .collect(),
        stocks: vec![(place(), "sheet".to_string())],
        rules: Some((place(), String::new())),
    };
    let mut faults = Vec::new();
    let (length, width) = parsed.sheet;
    let mut parts = Vec::new();
    let mut values = Vec::new();
    let mut by_area = true;
    for (pane, at) in parsed.panes.iter().zip(&at.parts) {
        let (mark, w, h, value) = match pane {
            Pane::Sizes(w, h) => ("", *w, *h, None),
            Pane::Valued(p) => (p.mark.as_str(), p.w, p.h, p.value),
        };
        by_area &= value.is_none();
        if value.is_some_and(|v| !(1..=MOST_VALUE).contains(&v)) {
            let d = Diagnostic::error("OV-951", "the value of this pane is out of range")
                .at(at.0.clone(), at.1.clone())
                .found(value.unwrap_or_default().to_string())
                .expected(format!("from 1 to {MOST_VALUE}"));
            faults.push(d);
        }
        values.push(value.unwrap_or_else(|| w.saturating_mul(h)));
        // Counted once for the checks: a pane that no sheet holds is a fault.
        parts.push(Part {
            mark: mark.to_string(),
            count: 1,
            ..Part::of_size(w, h, 0)
        });
    }
    if let Some(stages) = parsed.stages.filter(|s| !(2..=3).contains(s)) {
        faults.push(
            Diagnostic::error("OV-950", "these goods are not cut in so many stages")
                .at(place(), "stages")
                .found(format!("stages {stages}"))
                .expected("2 or 3"),
        );
    }
    let small = |size: fn(&Part) -> i64| parts.iter().map(size).min().unwrap_or(0);
    let keep = parsed
        .keep
        .unwrap_or((small(|p| p.length), small(|p| p.width)));
    let problem = Problem {
        cents: false,
        unit: parsed.unit.unwrap_or_else(|| "1".to_string()),
        rules: Rules {
            goods: Goods::Glass,
            crosscut: parsed.kerf,
            rip: parsed.kerf,
            stages: parsed.stages.unwrap_or(3),
            turn: parsed.may_turn,
            least: 0,
            keep,
        },
        parts,
        stocks: vec![Stock {
            mark: String::new(),
            length,
            width,
            thick: 0,
            trim: parsed.edge_trim,
            bad: Vec::new(),
            cost: 0,
            available: Some(1),
        }],
    };
    let problem = accept(problem, &at, faults)?;
    Ok(OneSheet {
        problem,
        values,
        by_area,
    })
}

/// The best way to cut the sheet in the stages of its rules, and what no cuts can exceed; `None` where there are too many sizes to look at.
pub fn most(asked: &OneSheet) -> Option<Yielded> {
    let mut problem = asked.problem.clone();
    let rules = problem.rules;
    let stock = problem.stocks.first()?;
    let (long, wide) = (
        stock.length - 2 * stock.trim,
        stock.clear_width(rules.goods),
    );
    let size = |n: i64, kerf: i64| crate::ids::size(n + kerf);
    let (mut lying, mut greedy) = (Vec::new(), 0);
    for (part, &value) in problem.parts.iter().zip(&asked.values) {
        for turned in [false, true].into_iter().filter(|&t| !t || rules.turn) {
            let (w, h) = if turned {
                (part.width, part.length)
            } else {
                (part.length, part.width)
            };
            let along = (long + rules.crosscut) / (w + rules.crosscut);
            let across = (wide + rules.rip) / (h + rules.rip);
            greedy = greedy.max(along * across * value);
            lying.push((size(w, rules.crosscut), size(h, rules.rip), value));
        }
    }
    let bound = any_cuts::most((size(long, rules.crosscut), size(wide, rules.rip)), &lying)?;
    let mut plan = Plan {
        cuts: Vec::new(),
        cost: 0,
        greedy: 0,
        proofs: Vec::new(),
        finished: true,
    };
    let mut value = 0;
    for part in &mut problem.parts {
        part.count = 1;
    }
    for task in tasks(&problem) {
        let (_, patterns) = best_patterns(&task, &asked.values, |_, _| true);
        let worth = |p: &super::pattern::Pattern| -> i64 {
            p.pieces().map(|piece| asked.values[piece.part]).sum()
        };
        // Of equal worth the first, so that the same file gives the same plan.
        let best = patterns
            .iter()
            .reduce(|a, b| if worth(b) > worth(a) { b } else { a });
        if let Some(best) = best {
            value = worth(best);
            plan.cuts.push(place(&problem, &task, best, 1));
        }
    }
    for part in &mut problem.parts {
        part.count = 0;
    }
    let pieces = plan.cuts.iter().flat_map(|c| &c.sections);
    let pieces = pieces
        .flat_map(|s| &s.strips)
        .flat_map(|s| &s.pieces)
        .map(|p| p.part);
    for part in pieces {
        problem.parts[part].count += 1;
    }
    Some(Yielded {
        problem,
        plan,
        value,
        greedy,
        bound,
    })
}
