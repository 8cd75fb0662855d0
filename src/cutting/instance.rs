//! Instances as JSON: what is to be cut, as files of a trial or of another program give it.

use super::model::{Goods, MOST_COST, MOST_PARTS, MOST_UNITS, Part, Problem, Rules, Stock};
use serde::Deserialize;

#[derive(Debug, Deserialize)]
struct File {
    kind: String,
    #[serde(default)]
    unit: serde_json::Value,
    #[serde(default)]
    kerf: i64,
    #[serde(default)]
    stages: Option<u8>,
    #[serde(default)]
    may_turn: bool,
    #[serde(default)]
    stock: Vec<RawStock>,
    #[serde(default)]
    boards: Vec<RawStock>,
    #[serde(default)]
    sheets: Vec<RawStock>,
    #[serde(default)]
    parts: Vec<RawPart>,
    #[serde(default)]
    panes: Vec<RawPart>,
}
#[derive(Debug, Deserialize)]
struct RawPart {
    #[serde(alias = "l")]
    length: Option<i64>,
    w: Option<i64>,
    h: Option<i64>,
    t: Option<i64>,
    count: u32,
}
#[derive(Debug, Deserialize)]
struct RawStock {
    length: Option<i64>,
    w: Option<i64>,
    h: Option<i64>,
    t: Option<i64>,
    clear: Option<Vec<i64>>,
    #[serde(default)]
    bad: Vec<(i64, i64)>,
    #[serde(default)]
    end_trim: i64,
    cost: i64,
    available: Option<u32>,
}

pub fn quick(text: &str) -> Problem {
    let f: File = serde_json::from_str(text).expect("json");
    let goods = match f.kind.as_str() { "1d" => Goods::Linear, "boards" => Goods::Boards, _ => Goods::Glass };
    let rules = Rules { goods, crosscut: f.kerf, rip: f.kerf, stages: match goods { Goods::Linear=>1, Goods::Boards=>3, _=> f.stages.unwrap_or(2)}, turn: f.may_turn, least: 0 };
    let parts = f.parts.iter().chain(&f.panes).map(|p| match goods {
        Goods::Glass => Part { mark: String::new(), length: p.w.unwrap(), width: p.h.unwrap(), thick: 0, count: p.count },
        _ => Part { mark: String::new(), length: p.length.unwrap(), width: p.w.unwrap_or(1), thick: p.t.unwrap_or(0), count: p.count },
    }).collect();
    let stocks = f.stock.iter().chain(&f.boards).chain(&f.sheets).map(|p| match goods {
        Goods::Glass => Stock { mark: String::new(), length: p.w.unwrap(), width: p.h.unwrap(), thick: 0, trim:0, bad: vec![], cost: p.cost, available: p.available },
        _ => {
            let (length, trim, bad) = match (p.length, &p.clear) {
                (Some(l), _) => (l, p.end_trim, p.bad.clone()),
                (None, Some(runs)) => {
                    let mut bad = vec![]; let mut at = 0;
                    for (i, r) in runs.iter().enumerate() { at += r; if i + 1 < runs.len() { bad.push((at, at + f.kerf.max(1))); at += f.kerf.max(1); } }
                    (at, 0, bad)
                }
                _ => panic!(),
            };
            Stock { mark: String::new(), length, width: p.w.unwrap_or(1), thick: p.t.unwrap_or(0), trim, bad, cost: p.cost, available: p.available }
        }
    }).collect();
    let _ = (MOST_COST, MOST_PARTS, MOST_UNITS);
    Problem { unit: f.unit.to_string(), rules, parts, stocks }
}
