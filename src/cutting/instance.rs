//! A problem as a JSON file, so that any can be tried: sizes in whole units, stock, parts, settings.
//!
//! ```
//! let no = ovolo::cutting::instance::read("{}", "bars.json").expect_err("nothing to cut");
//! assert_eq!(no[0].code, "OV-950");
//! ```

use super::check::{Whereabouts, accept};
use super::model::{Goods, Part, Problem, Rules, Stock};
use super::one_sheet;
use crate::diagnostics::{Diagnostic, Place};
use serde::Deserialize;
use serde::de::IgnoredAny;

/// A file as written. Fields that describe the file and change nothing are named, so that a misspelt one is caught.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    kind: String,
    unit: Unit,
    #[serde(default)]
    kerf: i64,
    crosscut_kerf: Option<i64>,
    rip_kerf: Option<i64>,
    stages: Option<u8>,
    #[serde(default)]
    may_turn: bool,
    least_strip: Option<i64>,
    keep: Option<(i64, i64)>,
    /// A trim of each edge in units, or a remark that it is taken off already.
    #[serde(default)]
    edge_trim: serde_json::Value,
    #[serde(default, alias = "boards", alias = "sheets")]
    stock: Vec<StockEntry>,
    #[serde(default, alias = "panes")]
    parts: Vec<PartEntry>,
    #[serde(rename = "cuts")]
    _cuts: Option<IgnoredAny>,
    #[serde(rename = "source")]
    _source: Option<IgnoredAny>,
    #[serde(rename = "licence")]
    _licence: Option<IgnoredAny>,
    #[serde(rename = "optimum")]
    _optimum: Option<IgnoredAny>,
    #[serde(rename = "lp_bound")]
    _lp_bound: Option<IgnoredAny>,
    #[serde(rename = "bounds")]
    _bounds: Option<IgnoredAny>,
    #[serde(rename = "best_known")]
    _best_known: Option<IgnoredAny>,
}

#[derive(Debug, Deserialize)]
#[serde(untagged)]
enum Unit {
    Word(String),
    Number(u32),
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct PartEntry {
    #[serde(default)]
    mark: String,
    #[serde(alias = "l")]
    length: Option<i64>,
    w: Option<i64>,
    h: Option<i64>,
    #[serde(default)]
    t: i64,
    count: u32,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct StockEntry {
    #[serde(default)]
    mark: String,
    length: Option<i64>,
    w: Option<i64>,
    h: Option<i64>,
    #[serde(default)]
    t: i64,
    clear: Option<Vec<i64>>,
    #[serde(default)]
    bad: Vec<(i64, i64)>,
    end_trim: Option<i64>,
    cost: i64,
    available: Option<u32>,
}

/// Whether a file asks what one sheet yields, which [`one_sheet::read`] reads.
pub fn asks_for_yield(text: &str) -> bool {
    #[derive(Deserialize)]
    struct Kind {
        kind: String,
    }
    serde_json::from_str::<Kind>(text).is_ok_and(|k| k.kind == one_sheet::KIND)
}

/// Reads a problem. Errors: OV-950 for a file that is not one, and what [`accept`] finds.
pub fn read(text: &str, file: &str) -> Result<Problem, Vec<Diagnostic>> {
    let place = || Place::File(file.to_string());
    let parsed: File = serde_json::from_str(text).map_err(|e| {
        let d = Diagnostic::error("OV-950", "this is not a cutting problem")
            .at(place(), format!("line {}, column {}", e.line(), e.column()))
            .found(said(&e))
            .expected("JSON with kind, unit, stock and parts, as `ovolo code OV-950` shows");
        vec![d]
    })?;
    let goods = match parsed.kind.as_str() {
        "1d" => Goods::Linear,
        "boards" => Goods::Boards,
        "glass" => Goods::Glass,
        other => {
            let d = Diagnostic::error("OV-950", "this kind of problem is not known")
                .at(place(), "kind")
                .found(other)
                .expected(format!("1d, boards, glass or {}", one_sheet::KIND));
            return Err(vec![d]);
        }
    };
    let (list, panes) = match goods {
        Goods::Linear => ("stock", "parts"),
        Goods::Boards => ("boards", "parts"),
        Goods::Glass => ("sheets", "panes"),
    };
    let at = Whereabouts {
        parts: (1..=parsed.parts.len())
            .map(|i| (place(), format!("{panes}, entry {i}")))
            .collect(),
        stocks: (1..=parsed.stock.len())
            .map(|i| (place(), format!("{list}, entry {i}")))
            .collect(),
        rules: Some((place(), String::new())),
    };
    let mut faults = strangers(&parsed, goods, &at);
    let problem = problem(&parsed, goods, &at, &mut faults);
    accept(problem, &at, faults)
}

/// What the reader of JSON says, without the line and column that stand elsewhere.
fn said(e: &serde_json::Error) -> String {
    let text = e.to_string();
    text.split(" at line ")
        .next()
        .unwrap_or_default()
        .to_string()
}

/// Fields that another kind of goods has: left alone they would be thought to count.
fn strangers(file: &File, goods: Goods, at: &Whereabouts) -> Vec<Diagnostic> {
    let mut faults = Vec::new();
    let mut tell = |place: &(Place, String), field: &str| {
        let (kind, has) = match goods {
            Goods::Linear => ("bars", "kerf, length, end_trim"),
            Goods::Boards => (
                "boards",
                "kerf, crosscut_kerf, rip_kerf, length, w, t, end_trim, bad",
            ),
            Goods::Glass => (
                "glass",
                "kerf, w, h, edge_trim, least_strip, may_turn, stages",
            ),
        };
        let d = Diagnostic::error("OV-950", format!("a problem in {kind} has no `{field}`"));
        let d = d.at(place.0.clone(), place.1.clone());
        faults.push(
            d.expected(format!("fields of {kind}: {has}"))
                .mend("take the field out"),
        );
    };
    let (linear, glass) = (goods == Goods::Linear, goods == Goods::Glass);
    if let Some(whole) = &at.rules {
        let fields = [
            ("rip_kerf", linear && file.rip_kerf.is_some()),
            ("may_turn", !glass && file.may_turn),
            ("least_strip", !glass && file.least_strip.is_some()),
            ("edge_trim", !glass && file.edge_trim.is_i64()),
        ];
        for (field, _) in fields.iter().filter(|f| f.1) {
            tell(whole, field);
        }
    }
    let sides = |length: Option<i64>, w: Option<i64>, h: Option<i64>| {
        [
            ("length", glass && length.is_some()),
            ("w", linear && w.is_some()),
            ("h", !glass && h.is_some()),
        ]
    };
    for (part, place) in file.parts.iter().zip(&at.parts) {
        let there = sides(part.length, part.w, part.h);
        there.iter().filter(|f| f.1).for_each(|f| tell(place, f.0));
    }
    for (stock, place) in file.stock.iter().zip(&at.stocks) {
        let [length, w, h] = sides(stock.length, stock.w, stock.h);
        let end_trim = ("end_trim", glass && stock.end_trim.is_some());
        let bad = ("bad", glass && !stock.bad.is_empty());
        let clear = ("clear", glass && stock.clear.is_some());
        let there = [length, w, h, end_trim, bad, clear];
        there.iter().filter(|f| f.1).for_each(|f| tell(place, f.0));
    }
    faults
}

fn problem(file: &File, goods: Goods, at: &Whereabouts, faults: &mut Vec<Diagnostic>) -> Problem {
    let crosscut = file.crosscut_kerf.unwrap_or(file.kerf);
    let trim = &file.edge_trim;
    if let Some((place, _)) = at
        .rules
        .as_ref()
        .filter(|_| !(trim.is_null() || trim.is_string() || trim.is_i64()))
    {
        let d = Diagnostic::error("OV-950", "the edge trim cannot be read")
            .at(place.clone(), "edge_trim")
            .found(trim.to_string())
            .expected("a whole number of units, or a remark in quotes");
        faults.push(d);
    }
    let mut parts = Vec::new();
    for (p, place) in file.parts.iter().zip(&at.parts) {
        let (length, width) = sizes(goods, p.length, p.w, p.h);
        parts.push(Part {
            mark: p.mark.clone(),
            length: length.unwrap_or_else(|| lacking(place, "first size", faults)),
            width: width.unwrap_or_else(|| lacking(place, "second size", faults)),
            thick: p.t,
            count: p.count,
            rows: Vec::new(),
        });
    }
    let stocks = (file.stock.iter().zip(&at.stocks))
        .map(|(s, place)| stock(file, s, (goods, crosscut), place, faults))
        .collect();
    let small = |size: fn(&Part) -> i64| parts.iter().map(size).min().unwrap_or(0);
    Problem {
        cents: false,
        unit: match &file.unit {
            Unit::Word(word) => word.clone(),
            Unit::Number(n) => n.to_string(),
        },
        rules: Rules {
            goods,
            crosscut,
            rip: file.rip_kerf.unwrap_or(file.kerf),
            stages: stages(file, goods, at, faults),
            turn: file.may_turn,
            least: file.least_strip.unwrap_or(0),
            keep: file
                .keep
                .unwrap_or((small(|p| p.length), small(|p| p.width))),
        },
        parts,
        stocks,
    }
}

/// The two sizes of a part or a stock, by the names that its kind gives them.
fn sizes(
    goods: Goods,
    length: Option<i64>,
    w: Option<i64>,
    h: Option<i64>,
) -> (Option<i64>, Option<i64>) {
    match goods {
        Goods::Linear => (length, Some(1)),
        Goods::Boards => (length, w),
        Goods::Glass => (w, h),
    }
}

fn lacking(place: &(Place, String), what: &str, faults: &mut Vec<Diagnostic>) -> i64 {
    let d = Diagnostic::error("OV-950", format!("the {what} is missing"))
        .at(place.0.clone(), place.1.clone())
        .expected("a whole number of units");
    faults.push(d);
    1
}

fn stages(file: &File, goods: Goods, at: &Whereabouts, faults: &mut Vec<Diagnostic>) -> u8 {
    let allowed: &[u8] = match goods {
        Goods::Linear => &[1],
        Goods::Boards => &[3],
        Goods::Glass => &[2, 3],
    };
    let stages = file.stages.unwrap_or(allowed[0]);
    if !allowed.contains(&stages) {
        let list: Vec<String> = allowed.iter().map(u8::to_string).collect();
        let d = Diagnostic::error("OV-950", "these goods are not cut in so many stages")
            .found(format!("stages {stages}"))
            .expected(list.join(" or "));
        faults.push(match &at.rules {
            Some((place, _)) => d.at(place.clone(), "stages"),
            None => d,
        });
    }
    stages
}

fn stock(
    file: &File,
    s: &StockEntry,
    (goods, crosscut): (Goods, i64),
    place: &(Place, String),
    faults: &mut Vec<Diagnostic>,
) -> Stock {
    let (length, width) = sizes(goods, s.length, s.w, s.h);
    let trim = match goods {
        Goods::Glass => file.edge_trim.as_i64().unwrap_or(0),
        Goods::Linear | Goods::Boards => s.end_trim.unwrap_or(0),
    };
    let mut stock = Stock {
        mark: s.mark.clone(),
        length: length.unwrap_or(0),
        width: width.unwrap_or_else(|| lacking(place, "width", faults)),
        thick: s.t,
        trim,
        bad: s.bad.clone(),
        cost: s.cost,
        available: s.available,
    };
    match (length, &s.clear) {
        (None, Some(runs)) if goods != Goods::Glass => lay_out(&mut stock, runs, crosscut),
        (None, _) => stock.length = lacking(place, "length", faults),
        (Some(length), clear) => {
            // A stretch may run over the end of the board; what lies wholly outside is refused later.
            for (from, to) in stock.bad.iter_mut().filter(|b| b.1 > 0 && b.0 < length) {
                (*from, *to) = ((*from).max(0), (*to).min(length));
            }
            // The same stretch written twice is one stretch.
            stock.bad.dedup();
            // Stretches too short for any part may be left out.
            let shortest = file
                .parts
                .iter()
                .filter_map(|p| p.length)
                .min()
                .unwrap_or(0);
            let runs = stock.runs(crosscut).into_iter().map(|r| r.length);
            let runs: Vec<i64> = runs.filter(|&r| r >= shortest).collect();
            let told = clear
                .as_deref()
                .map(|c| c.iter().copied().filter(|&r| r >= shortest));
            if told.is_some_and(|c| c.collect::<Vec<i64>>() != runs) {
                let d = Diagnostic::error(
                    "OV-950",
                    "the clear stretches do not follow from the length, trim and bad stretches",
                );
                let d = d
                    .at(place.0.clone(), place.1.clone())
                    .found(format!("{:?}", clear.as_deref().unwrap_or_default()))
                    .expected(format!("{runs:?}"))
                    .mend("leave `clear` out; it is worked out from the others");
                faults.push(d);
            }
        }
    }
    stock
}

/// A board of which only the clear stretches are known: they are laid out with the least bad stretch between them.
fn lay_out(stock: &mut Stock, runs: &[i64], kerf: i64) {
    let gap = kerf.max(1);
    let mut at = 0;
    for (i, run) in runs.iter().enumerate() {
        if i > 0 {
            stock.bad.push((at, at + gap));
            at += gap;
        }
        at += run;
    }
    stock.length = at;
}
