//! The rules of `support/parts.ovo`, by hand.

use rust_decimal::Decimal;
use rust_decimal::RoundingStrategy::MidpointAwayFromZero;
use std::collections::HashMap;

fn d(text: &str) -> Decimal {
    Decimal::from_str_exact(text).expect("a decimal")
}

fn cents(amount: Decimal) -> Decimal {
    amount.round_dp_with_strategy(2, MidpointAwayFromZero)
}

fn records(text: &[u8]) -> csv::Reader<&[u8]> {
    csv::ReaderBuilder::new()
        .has_headers(false)
        .from_reader(text)
}

struct Opening {
    mark: String,
    wing: String,
    floor: Decimal,
    wood: u8,
    sill_high: Option<Decimal>,
    panes: Decimal,
    listed: bool,
    grey: bool,
    // What its defects add up to.
    defects: u32,
    repair: Decimal,
    repair_cost: Decimal,
    any_wet: bool,
    deepest: Decimal,
}

struct Defect {
    opening: usize,
    minutes: Decimal,
    money: Decimal,
    damp: bool,
    deep: Decimal,
    wet: Decimal,
    long: Decimal,
}

fn openings(text: &[u8]) -> Vec<Opening> {
    let mut reader = records(text);
    let mut record = csv::StringRecord::new();
    let mut out = Vec::new();
    while reader.read_record(&mut record).expect("a sound file") {
        out.push(Opening {
            mark: record[0].to_owned(),
            wing: record[1].to_owned(),
            floor: d(&record[2]),
            wood: match &record[3] {
                "pine" | "P" | "fir" => 0,
                "oak" => 1,
                _ => 2,
            },
            sill_high: (!record[4].is_empty()).then(|| d(&record[4])),
            panes: d(&record[5]),
            listed: &record[6] != "no",
            grey: &record[7] == "grey",
            defects: 0,
            repair: Decimal::ZERO,
            repair_cost: Decimal::ZERO,
            any_wet: false,
            deepest: Decimal::ZERO,
        });
    }
    out
}

fn defects(text: &[u8], openings: &[Opening], by_mark: &HashMap<&str, usize>) -> Vec<Defect> {
    let mut reader = records(text);
    let mut record = csv::StringRecord::new();
    let mut out = Vec::new();
    let (rate, sixty) = (d("58"), Decimal::from(60));
    let prices = [
        [85, 140, 120],
        [70, 70, 70],
        [55, 55, 55],
        [30, 30, 30],
        [42, 66, 60],
    ]
    .map(|row| row.map(Decimal::from));
    while reader.read_record(&mut record).expect("a sound file") {
        let opening = by_mark[&record[0]];
        let member = ["sill", "stile", "rail", "bar", "casing"]
            .iter()
            .position(|m| *m == &record[1])
            .expect("a member");
        let long = d(&record[2]);
        let deep = if record[3].is_empty() {
            d("0.375")
        } else {
            d(&record[3])
        };
        let wet = if record[4].is_empty() {
            d("0.12")
        } else {
            d(record[4].trim_end_matches('%')) / Decimal::ONE_HUNDRED
        };
        let damp = wet > d("0.2");
        let (mut work, mut extra) = (Decimal::ZERO, Decimal::ZERO);
        if deep > Decimal::TWO || (member == 0 && long > Decimal::from(24)) {
            work = Decimal::from(170);
            extra = prices[member][usize::from(openings[opening].wood)];
        } else if deep >= Decimal::ONE {
            work = Decimal::from(95);
        } else if long > Decimal::ONE || damp {
            work = Decimal::from(25);
            extra = long * deep * d("0.65") * d("1.15");
        }
        let minutes = work * if damp { d("1.25") } else { Decimal::ONE };
        let money = cents(minutes * rate / sixty + extra);
        out.push(Defect {
            opening,
            minutes,
            money,
            damp,
            deep,
            wet,
            long,
        });
    }
    out
}

/// From the texts of the surveys to totals, printed.
pub fn run(openings_text: &[u8], defects_text: &[u8], threads: usize) -> Vec<String> {
    let body = |text: &[u8]| {
        text.iter()
            .position(|b| *b == b'\n')
            .map_or(text.len(), |at| at + 1)
    };
    let mut all: Vec<Opening> =
        super::in_parts(&openings_text[body(openings_text)..], threads, openings)
            .into_iter()
            .flatten()
            .collect();
    let found: Vec<Vec<Defect>> = {
        let by_mark: HashMap<&str, usize> = all
            .iter()
            .enumerate()
            .map(|(at, o)| (o.mark.as_str(), at))
            .collect();
        super::in_parts(&defects_text[body(defects_text)..], threads, |text| {
            defects(text, &all, &by_mark)
        })
    };
    let (mut wet, mut long) = (Decimal::ZERO, Decimal::ZERO);
    for defect in found.iter().flatten() {
        let opening = &mut all[defect.opening];
        opening.defects += 1;
        opening.repair += defect.minutes;
        opening.repair_cost += defect.money;
        opening.any_wet |= defect.damp;
        opening.deepest = opening.deepest.max(defect.deep);
        wet += defect.wet * defect.long;
        long += defect.long;
    }
    let (rate, sixty) = (d("58"), Decimal::from(60));
    let mut panes: HashMap<(&str, Decimal), Decimal> = HashMap::new();
    for opening in &all {
        *panes.entry((&opening.wing, opening.floor)).or_default() += opening.panes;
    }
    let set_up = cents(Decimal::from(90) * rate / sixty);
    let mut wings: HashMap<&str, (Decimal, Decimal)> = HashMap::new();
    let mut worst = Decimal::ZERO;
    for o in &all {
        let reach = o.floor * Decimal::from(132) + o.sill_high.unwrap_or_default();
        let access = match reach {
            reach if reach > Decimal::from(216) => d("2.5"),
            reach if reach > Decimal::from(96) => d("1.4"),
            _ => Decimal::ONE,
        };
        let extra = cents((o.repair * access - o.repair) * rate / sixty);
        let note = if o.grey && o.listed {
            d("12.50")
        } else {
            Decimal::ZERO
        };
        let visits = Decimal::from(if o.any_wet {
            2
        } else {
            u32::from(o.defects > 0)
        });
        let visit_cost = cents(visits * Decimal::from(45) * rate / sixty);
        let cost = o.repair_cost + extra + note + visit_cost;
        let share = set_up * o.panes / panes[&(o.wing.as_str(), o.floor)];
        let all_in = cents(cost + o.panes * d("1.75") + share);
        let wing = wings.entry(&o.wing).or_default();
        wing.0 += all_in;
        wing.1 += visits;
        worst = worst.max(o.deepest);
    }
    let mut wings: Vec<(&str, (Decimal, Decimal))> = wings.into_iter().collect();
    wings.sort_unstable();
    let sum = wings
        .iter()
        .fold((Decimal::ZERO, Decimal::ZERO), |sum, wing| {
            (sum.0 + wing.1.0, sum.1 + wing.1.1)
        });
    let mut lines: Vec<String> = wings
        .iter()
        .map(|(wing, (cost, visits))| format!("{wing:6} {cost:>16} USD {visits:>9} visits"))
        .collect();
    lines.push(format!(
        "all_cost {} all_visits {} worst {worst} wet_share {}",
        sum.0,
        sum.1,
        (wet / long).round_dp(4)
    ));
    lines
}
