//! The estimate as JSON, schema `ovolo-estimate/3`, and a comparison as `ovolo-comparison/1`.
//!
//! Every number is a text, so that no reader cuts its digits: money with two decimals, amounts as decimals with their unit beside them, and
//! as a ratio too where the decimal does not end. Fields are only ever added within a version of the schema. Since version 2 what there is
//! for each row of the survey is in it only as asked for.
//!
//! ```
//! # fn worked() -> ovolo::session::Session {
//! #     include!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/docs/worked.rs"))
//! # }
//! let session = worked(); // a small job in memory
//! let run = session.run().expect("it is worked");
//! let estimate = &run.worked.estimate;
//! let value = ovolo::report::json::estimate(estimate);
//! assert_eq!(value["currency"], "USD");
//! ```

use serde::ser::{Serialize, SerializeMap, Serializer};
use serde_json::{Value, json};

use super::view::{Row, View};
use super::{face, words};
use crate::number::{Exact, cents_text};
use crate::pricing::{
    AskedFact, BuyLine, ChargeKind, ChargeLine, CompareValues, Comparison, CostLine, CrossRow,
    Crossed, Cut, CutBeside, CutKind, CutRow, DecidedRow, Estimate, Extension, HeadlineRow,
    MayVary, PayBuild, PriceUsed,
};
use crate::syntax::tree::{AllowanceKind, MoneyGrain};
use crate::takeoff::{FromRowAbove, Treatment};

/// Name and version of the form of an estimate.
pub const SCHEMA: &str = "ovolo-estimate/3";
/// Name and version of the form of a comparison.
pub const COMPARISON_SCHEMA: &str = "ovolo-comparison/1";

/// Decimals of an amount; more go into its ratio.
const PLACES: u32 = 12;

/// An estimate as JSON. Totals and tables of the job are always in it, what there is for each row of the survey only as asked for; rows are
/// written one by one. The same estimate gives the same bytes.
pub struct Document<'a> {
    /// The estimate.
    pub estimate: &'a Estimate,
    /// Whether the cost of each row is in it.
    pub openings: bool,
    /// Whether each decision on each row is in it.
    pub treatment: bool,
    /// Messages that go with it.
    pub messages: Value,
}

impl Serialize for Document<'_> {
    fn serialize<S: Serializer>(&self, out: S) -> Result<S::Ok, S::Error> {
        let estimate = self.estimate;
        let priced = estimate.unpriced.is_none();
        let mut map = out.serialize_map(None)?;
        for (name, value) in head(estimate) {
            map.serialize_entry(name, &if_priced(value, priced))?;
        }
        if let Some(names) = &estimate.unpriced {
            map.serialize_entry("unpriced", names)?;
        }
        let cuts: Vec<CutDocument<'_>> = estimate
            .cuts
            .iter()
            .filter(|c| self.openings || c.kind != CutKind::Opening)
            .map(|cut| CutDocument(cut, priced))
            .collect();
        map.serialize_entry("cuts", &cuts)?;
        let crossed: Vec<Value> = estimate.crossed.iter().map(crossed).collect();
        map.serialize_entry("crossed", &if_priced(crossed.into(), priced))?;
        for (name, value) in tables(estimate) {
            map.serialize_entry(name, &if_priced(value, priced))?;
        }
        if self.treatment {
            let rows = Each(&estimate.facts.treatment, treated);
            map.serialize_entry("treatment", &rows)?;
        }
        for (name, value) in basis(estimate) {
            map.serialize_entry(name, &value)?;
        }
        map.serialize_entry("messages", &self.messages)?;
        map.end()
    }
}

/// Fields of money.
const MONEY: &[&str] = &[
    "amount",
    "charges",
    "cost",
    "final_rounding",
    "gap",
    "hired",
    "labor",
    "materials",
    "price",
    "total",
    "unrounded",
];

/// A value as it is, or with null for all money where nothing was priced: what is not known is never zero.
fn if_priced(value: Value, priced: bool) -> Value {
    if priced {
        return value;
    }
    match value {
        Value::Object(fields) => {
            let field = |(name, value): (String, Value)| match MONEY.contains(&name.as_str()) {
                true => (name, Value::Null),
                false => (name, if_priced(value, priced)),
            };
            Value::Object(fields.into_iter().map(field).collect())
        }
        Value::Array(items) => items.into_iter().map(|v| if_priced(v, priced)).collect(),
        other @ (Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_)) => other,
    }
}

/// Items written one by one.
struct Each<'a, T, F: Fn(&T) -> Value>(&'a [T], F);

impl<T, F: Fn(&T) -> Value> Serialize for Each<'_, T, F> {
    fn serialize<S: Serializer>(&self, out: S) -> Result<S::Ok, S::Error> {
        out.collect_seq(self.0.iter().map(&self.1))
    }
}

/// The cost by phase, a column and trade at once.
fn crossed(one: &Crossed) -> Value {
    let row = |r: &CrossRow| json!({"phase": r.phase, "key": r.key, "trade": r.trade, "hours": number(&r.hours), "cost": cents_text(r.cents)});
    json!({"by": one.by, "rows": one.rows.iter().map(row).collect::<Vec<_>>()})
}

struct CutDocument<'a>(&'a Cut, bool);

impl Serialize for CutDocument<'_> {
    fn serialize<S: Serializer>(&self, out: S) -> Result<S::Ok, S::Error> {
        let mut map = out.serialize_map(Some(3))?;
        map.serialize_entry("kind", cut_kind(self.0.kind))?;
        map.serialize_entry("by", &self.0.by)?;
        let rows = Each(&self.0.rows, |row: &CutRow| if_priced(cut_row(row), self.1));
        map.serialize_entry("rows", &rows)?;
        map.end()
    }
}

/// The whole estimate as a value, with what there is for each row.
pub fn estimate(estimate: &Estimate) -> Value {
    let document = Document {
        estimate,
        openings: true,
        treatment: true,
        messages: json!([]),
    };
    // Keys are texts and numbers are texts: nothing in it can fail.
    serde_json::to_value(document).unwrap_or_default()
}

fn head(estimate: &Estimate) -> Vec<(&'static str, Value)> {
    let totals = &estimate.totals;
    vec![
        ("schema", json!(SCHEMA)),
        ("title", json!(estimate.title)),
        ("version", json!(estimate.version_name())),
        ("currency", json!(estimate.currency)),
        ("ties", json!(words::rounding(estimate.ties))),
        (
            "money_rounded",
            json!(match estimate.money_grain {
                MoneyGrain::Line => "each line",
                MoneyGrain::Opening => "each opening",
            }),
        ),
        (
            "totals",
            json!({
                "labor": cents_text(totals.labor),
                "materials": cents_text(totals.materials),
                "hired": cents_text(totals.hired),
                "cost": cents_text(totals.direct),
                "charges": cents_text(totals.charges),
                "final_rounding": estimate.final_rounding.as_ref().map(|f| cents_text(f.cents)),
                "total": cents_text(totals.grand),
                "unrounded": number(&totals.exact),
                "gap": number(&totals.gap),
            }),
        ),
        ("headline", estimate.headline.iter().map(headline).collect()),
    ]
}

fn tables(estimate: &Estimate) -> Vec<(&'static str, Value)> {
    let mut list: Vec<(&'static str, Value)> = vec![
        ("charges", estimate.charges.iter().map(charge).collect()),
        ("buy_list", estimate.buys.iter().map(buy).collect()),
        ("cost_lines", estimate.lines.iter().map(cost_line).collect()),
        ("pay", estimate.pay.iter().map(pay).collect()),
        ("decisions", decisions(estimate)),
    ];
    if !estimate.cut_plans.is_empty() {
        list.push((
            "cut_plans",
            estimate.cut_plans.iter().map(cut_plan).collect(),
        ));
    }
    list
}

fn basis(estimate: &Estimate) -> Vec<(&'static str, Value)> {
    vec![
        ("cautions", cautions(estimate)),
        ("not_in_totals", not_in_totals(estimate)),
        ("assumptions", assumptions(estimate)),
        ("made_from", made_from(estimate)),
    ]
}

/// Tables as lists of rows, each cell under its heading.
pub fn views(schema: &str, views: &[View]) -> Value {
    let table = |view: &View| {
        let row = |row: &Row| {
            let cells = view.columns.iter().zip(&row.cells).map(|(column, cell)| {
                let text = cell.plain_number().unwrap_or_else(|| cell.shown());
                (column.full_heading(), Value::from(text))
            });
            Value::Object(cells.collect())
        };
        let rows: Vec<Value> = view.rows.iter().filter(|r| !r.total).map(row).collect();
        json!({"name": view.name, "title": view.title, "rows": rows, "notes": view.notes})
    };
    json!({"schema": schema, "tables": views.iter().map(table).collect::<Value>()})
}

/// A plain number: its decimal, and its ratio where the decimal does not end.
fn number(value: &Exact) -> Value {
    let (decimal, whole) = value.to_decimal(PLACES);
    if whole {
        json!({"number": decimal})
    } else {
        json!({"number": decimal, "ratio": value.to_string()})
    }
}

fn amount(value: &Exact, unit: &str) -> Value {
    let mut out = number(value);
    out["unit"] = json!(unit);
    out
}

fn headline(row: &HeadlineRow) -> Value {
    let of = |x: &Option<Exact>| x.as_ref().map(|x| amount(x, &row.unit));
    json!({"class": row.class.word(), "net": of(&row.net), "bought": of(&row.bought), "cost": cents_text(row.cents)})
}

fn cut_kind(kind: CutKind) -> &'static str {
    match kind {
        CutKind::Phase => "phase",
        CutKind::Split(_) => "split",
        CutKind::Trade => "trade",
        CutKind::Class => "class",
        CutKind::Resource => "resource",
        CutKind::Opening => "row",
    }
}

fn cut_row(row: &CutRow) -> Value {
    json!({
        "key": row.key,
        "whole_job": row.whole_job,
        "rows": row.rows.map(|n| n.to_string()),
        "hours": number(&row.hours),
        "labor": cents_text(row.labor),
        "materials": cents_text(row.materials),
        "hired": cents_text(row.hired),
        "cost": cents_text(row.cents()),
        "charges": cents_text(row.charges),
        "price": cents_text(row.price()),
    })
}

fn charge(line: &ChargeLine) -> Value {
    let kind = match line.kind {
        ChargeKind::Sum => "sum",
        ChargeKind::Share => "share",
        ChargeKind::MarkUp => "mark-up",
        ChargeKind::Margin => "margin",
        ChargeKind::TaxByItem => "by item",
        ChargeKind::TaxByInvoice => "by invoice",
    };
    json!({
        "name": line.name,
        "kind": kind,
        "allowance": line.allowance,
        "share": line.share.as_ref().map(number),
        "of": line.of,
        "base": line.base.map(cents_text),
        "unrounded": number(&line.exact),
        "amount": cents_text(line.cents),
        "source": line.source,
        "note": line.note,
    })
}

fn price(price: &PriceUsed) -> Value {
    json!({
        "amount": number(&price.amount),
        "per": price.per,
        "from": words::price_origin(price),
        "supplier": price.supplier,
        "source": price.source,
        "date": price.date,
        "note": price.note,
    })
}

fn cut_plan(beside: &CutBeside) -> Value {
    json!({
        "resource": beside.name,
        "by_waste": cents_text(beside.by_waste),
        "by_plan": beside.plan.as_ref().map(|p| json!({
            "bought": p.bought.iter().map(|(size, pieces, each)| json!({
                "size": size, "pieces": pieces, "each": cents_text(i128::from(*each)),
            })).collect::<Vec<_>>(),
            "on_hand": p.on_hand,
            "worth": cents_text(i128::from(p.worth)),
            "cost": cents_text(i128::from(p.cost)),
            "bound": cents_text(i128::from(p.bound)),
            "difference": cents_text(i128::from(p.cost) - beside.by_waste),
        })),
        "note": beside.note,
    })
}

fn buy(line: &BuyLine) -> Value {
    let of = |x: &Exact| amount(x, &line.unit);
    json!({
        "resource": line.name,
        "class": line.class.word(),
        "net": of(&line.net),
        "allowance": line.allowance.as_ref().map(|a| json!({
            "kind": match a.kind { AllowanceKind::Waste => "waste", AllowanceKind::Yield => "yield" },
            "share": number(&a.share),
            "given": a.given,
        })),
        "needed": of(&line.needed),
        "packs": line.packs.as_ref().map(|p| json!({"count": number(&p.count), "word": p.word, "holds": of(&p.holds), "stated": p.stated})),
        "bought": of(&line.bought),
        "left_over": of(&line.left_over),
        "price": price(&line.price),
        "amount": cents_text(line.cents),
    })
}

fn cost_line(line: &CostLine) -> Value {
    let by_phase = line
        .by_phase
        .iter()
        .map(|(phase, cents)| json!({"phase": phase, "amount": cents_text(*cents)}));
    json!({
        "resource": line.name,
        "class": line.class.word(),
        "phase": line.phase,
        "quantity": amount(&line.quantity, &line.unit),
        "price": {"amount": number(&line.price), "per": line.per},
        "unrounded": number(&line.exact),
        "amount": cents_text(line.cents),
        "by_phase": by_phase.collect::<Value>(),
    })
}

fn pay(build: &PayBuild) -> Value {
    let lines = build.lines.iter().map(|line| {
        json!({
            "name": line.name,
            "share": line.share.as_ref().map(|(share, of)| json!({"share": number(share), "of": of})),
            "per_hour": number(&line.rate),
            "source": line.source,
            "note": line.note,
        })
    });
    json!({"trade": build.name, "lines": lines.collect::<Value>(), "per_hour": number(&build.rate)})
}

fn decisions(estimate: &Estimate) -> Value {
    let each = estimate.facts.decided.iter().map(|d| {
        let labels = d.labels.iter().map(|(label, rows)| json!({"label": label, "rows": rows.to_string()}));
        json!({"decision": d.decision, "per": d.per, "labels": labels.collect::<Value>(), "unknown": d.unknown.to_string()})
    });
    each.collect()
}

fn treated(t: &Treatment) -> Value {
    let keys: Vec<&str> = t.keys.iter().map(|k| &**k).collect();
    json!({
        "mark": &*t.mark,
        "keys": keys,
        "decision": &*t.decision,
        "label": t.label.as_deref(),
        "because": &*t.because,
        "rests_on": t.rests_on.as_deref(),
    })
}

fn cautions(estimate: &Estimate) -> Value {
    let each = estimate.facts.cautions.iter();
    each.map(|c| json!({"text": c.text, "rows": c.rows.map(|n| n.to_string()), "per": c.per, "first_marks": c.marks})).collect()
}

fn not_in_totals(estimate: &Estimate) -> Value {
    let left = estimate.assumptions.left_out.iter();
    let left =
        left.map(|l| json!({"resource": l.resource, "phase": l.phase, "cause": l.cause, "rows": l.rows.to_string(), "marks": l.marks}));
    json!({"set_aside": face::set_aside(&estimate.facts.survey.set_aside), "unknown": left.collect::<Value>()})
}

fn assumptions(estimate: &Estimate) -> Value {
    let basis = &estimate.assumptions;
    let givens = basis.givens.iter().map(|g| {
        json!({
            "name": g.name,
            "value": g.value,
            "range": g.range.as_ref().map(|(low, high)| json!([low, high])),
            "varies": g.varies.as_ref().map(may_vary),
            "private": g.private,
            "layer": words::layer(g.layer),
            "source": g.source,
            "note": g.note,
            "because": g.because,
            "by": by(g.by.as_ref()),
        })
    });
    let blanks = estimate.facts.survey.assumed.iter();
    let blanks =
        blanks.map(|b| json!({"table": b.table, "column": b.column, "value": b.value, "rows": b.rows.to_string(), "note": b.note}));
    json!({
        "facts_assumed": face::facts(&basis.unanswered),
        "facts_asked": basis.asked.iter().map(asked).collect::<Value>(),
        "givens": givens.collect::<Value>(),
        "exceptions": basis.exceptions.iter().map(decided_row).collect::<Value>(),
        "extensions": basis.extensions.iter().map(extension).collect::<Value>(),
        "values_of_the_row_above": estimate.facts.survey.from_above.iter().map(from_above).collect::<Value>(),
        "blanks": blanks.collect::<Value>(),
        "not_read_of_the_survey": estimate.facts.survey.unread,
        "from_memory": json!({"cost": cents_text(basis.from_memory.cents), "of": cents_text(basis.from_memory.of)}),
        "resources_without_source": basis.resources_without_source,
        "prices_without_source": basis.prices_without_source,
        "prices_without_date": basis.prices_without_date,
        "prices_vary": basis.prices_vary.iter().map(|(name, varies)| json!({"resource": name, "varies": may_vary(varies)})).collect::<Value>(),
        "old_prices": basis.old_prices.iter().map(|(name, date, _)| json!({"resource": name, "date": date})).collect::<Value>(),
        "prices_passed_over": basis.passed_over.iter().map(|(name, from)| json!({"resource": name, "supplier": from})).collect::<Value>(),
        "roundings": basis.roundings.iter().map(|(what, effect)| json!({"what": what, "effect": number(effect)})).collect::<Value>(),
    })
}

fn by(by: Option<&(String, String)>) -> Value {
    by.map_or(Value::Null, |(who, day)| json!({"who": who, "day": day}))
}

fn asked(fact: &AskedFact) -> Value {
    json!({
        "name": fact.name,
        "value": fact.value,
        "answered": fact.answered,
        "because": fact.because,
        "by": by(fact.by.as_ref()),
        "private": fact.private,
    })
}

fn decided_row(one: &DecidedRow) -> Value {
    json!({
        "name": one.name,
        "mark": one.mark,
        "value": one.value,
        "layer": words::layer(one.layer),
        "because": one.because,
        "by": by(one.by.as_ref()),
    })
}

fn extension(one: &Extension) -> Value {
    json!({
        "what": one.what,
        "name": one.name,
        "layer": words::layer(one.layer),
        "because": one.because,
        "by": by(one.by.as_ref()),
    })
}

/// Of a table below another: rows that were made, and which values are the row's own.
fn from_above(table: &FromRowAbove) -> Value {
    let name = |at: &usize| table.columns.get(*at).map(|c| c.0.as_str());
    let rows = table.own.iter().map(|(mark, columns)| {
        let columns: Vec<_> = columns.iter().filter_map(name).collect();
        json!({"mark": mark, "columns": columns})
    });
    json!({
        "table": table.table,
        "rows": table.rows.to_string(),
        "made": table.made.to_string(),
        "columns": table.columns.iter().map(|(name, own)| json!({
            "column": name,
            "own": own.to_string(),
            "of_the_row_above": (table.rows - own).to_string(),
        })).collect::<Value>(),
        "own_values": rows.collect::<Value>(),
    })
}

fn may_vary(one: &MayVary) -> Value {
    json!({"from": one.low, "to": one.high, "likely": one.likely, "with": one.group})
}

fn made_from(estimate: &Estimate) -> Value {
    let files = estimate
        .origin
        .files
        .iter()
        .map(|f| json!({"role": f.role, "name": f.name, "sha256": f.sha256}));
    json!({
        "program": estimate.origin.program,
        "files": files.collect::<Value>(),
        "sums_checked": estimate.sums_checked.to_string(),
    })
}

fn picked(plan: &crate::pricing::Picked) -> Value {
    let rows = plan.rows.iter().map(|r| {
        let taken = plan.plans[usize::from(!r.first)].as_str();
        json!({"mark": r.mark, "costs": r.cents.map(cents_text), "taken": taken})
    });
    json!({"version": plan.name, "plans": plan.plans, "share": number(&plan.share), "rows": rows.collect::<Value>()})
}

/// Several versions side by side.
pub fn comparison(comparison: &Comparison) -> Value {
    let rows = comparison.rows.iter().map(|row| {
        let (kind, unit, values): (&str, &str, Value) = match &row.values {
            CompareValues::Amounts { unit, values } => ("amount", unit, values.iter().map(|x| x.as_ref().map(number)).collect()),
            CompareValues::Money(values) => ("money", &comparison.currency, values.iter().map(|c| json!(cents_text(*c))).collect()),
            CompareValues::Counts(values) => ("count", "", values.iter().map(|n| json!(n.to_string())).collect()),
        };
        json!({"part": row.part.word(), "what": row.what, "kind": kind, "unit": unit, "values": values})
    });
    let openings = comparison
        .openings
        .iter()
        .map(|o| json!({"mark": o.mark, "costs": o.cents.iter().map(|c| json!(cents_text(*c))).collect::<Value>()}));
    json!({
        "schema": COMPARISON_SCHEMA,
        "currency": comparison.currency,
        "versions": comparison.versions,
        "rows": rows.collect::<Value>(),
        "picked": comparison.picked.iter().map(picked).collect::<Value>(),
        "rows_that_differ": openings.collect::<Value>(),
    })
}
