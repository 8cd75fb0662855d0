//! The rules of `support/sash.ovo`, by hand.

use rust_decimal::Decimal;
use rust_decimal::RoundingStrategy::{
    MidpointAwayFromZero, ToNegativeInfinity, ToPositiveInfinity,
};
use rust_decimal::prelude::FromPrimitive;
use std::collections::HashMap;

#[derive(Clone, Copy, PartialEq)]
enum Fate {
    Retain,
    Mend,
    Renew,
}

#[derive(Default, Clone)]
struct Totals {
    total: Decimal,
    minutes: Decimal,
    stock: Decimal,
    glass: Decimal,
    points: Decimal,
    putty: Decimal,
    /// Rows on which dividing before multiplying lost a cent that the exact amount has.
    short: u32,
}

struct Givens {
    stile_face: Decimal,
    top_rail: Decimal,
    bottom_rail: Decimal,
    bar_face: Decimal,
    point_gap: Decimal,
    bead: Decimal,
    putty_weight: Decimal,
    make_pace: Decimal,
    mend_pace: Decimal,
    strip_pace: Decimal,
    paint_pace: Decimal,
    cover: Decimal,
    joiner_rate: Decimal,
    glazier_rate: Decimal,
    painter_rate: Decimal,
    pine_price: Decimal,
    glass_price: Decimal,
    point_price: Decimal,
    putty_price: Decimal,
    paint_price: Decimal,
    waste: Decimal,
    overhead: Decimal,
    tax: Decimal,
    steps: [(Decimal, Decimal); 5],
}

fn d(text: &str) -> Decimal {
    Decimal::from_str_exact(text).expect("a decimal")
}

fn givens() -> Givens {
    Givens {
        stile_face: d("2"),
        top_rail: d("2"),
        bottom_rail: d("3"),
        bar_face: d("0.875"),
        point_gap: d("4"),
        bead: d("0.0625"),
        putty_weight: d("0.07"),
        make_pace: d("0.9"),
        mend_pace: d("38"),
        strip_pace: d("0.035"),
        paint_pace: d("0.0125"),
        cover: d("350"),
        joiner_rate: d("64.50"),
        glazier_rate: d("58.25"),
        painter_rate: d("47.75"),
        pine_price: d("11.80"),
        glass_price: d("14.35"),
        point_price: d("0.035"),
        putty_price: d("7.90"),
        paint_price: d("62.40"),
        waste: d("0.35"),
        overhead: d("0.125"),
        tax: d("0.0625"),
        steps: [
            (d("72"), d("12")),
            (d("144"), d("18")),
            (d("288"), d("24")),
            (d("432"), d("31")),
            (Decimal::MAX, d("40")),
        ],
    }
}

/// From the text of the survey to totals, printed.
pub fn run(text: &[u8], threads: usize) -> Vec<String> {
    let wings = all(text, threads);
    let mut whole = Totals::default();
    let mut lines = Vec::new();
    for (wing, totals) in &wings {
        lines.push(format!(
            "{wing:6} {:>16} USD {:>14} h {:>14} bf {:>14} sq ft {:>9} points",
            totals.total.round_dp(2),
            (totals.minutes / Decimal::from(60)).round_dp(4),
            (totals.stock / Decimal::from(144)).round_dp(4),
            (totals.glass / Decimal::from(144)).round_dp(4),
            totals.points
        ));
        add(&mut whole, totals);
    }
    lines.push(format!(
        "all_total {} all_points {} all_putty {}",
        whole.total,
        whole.points,
        whole.putty.round_dp(4)
    ));
    lines.push(format!(
        "paint costs that 28 digits put a cent too low: {}",
        whole.short
    ));
    lines
}

/// Adds up by wing, one part of the file on each thread.
fn all(text: &[u8], threads: usize) -> Vec<(String, Totals)> {
    let body = text
        .iter()
        .position(|b| *b == b'\n')
        .map_or(text.len(), |at| at + 1);
    let parts = super::in_parts(&text[body..], threads, part);
    let mut wings: HashMap<String, Totals> = HashMap::new();
    for part in parts {
        for (wing, totals) in part {
            add(wings.entry(wing).or_default(), &totals);
        }
    }
    let mut wings: Vec<(String, Totals)> = wings.into_iter().collect();
    wings.sort_by(|a, b| a.0.cmp(&b.0));
    wings
}

fn add(to: &mut Totals, more: &Totals) {
    to.total += more.total;
    to.minutes += more.minutes;
    to.stock += more.stock;
    to.glass += more.glass;
    to.points += more.points;
    to.putty += more.putty;
    to.short += more.short;
}

fn part(text: &[u8]) -> HashMap<String, Totals> {
    let g = givens();
    let mut wings: HashMap<String, Totals> = HashMap::new();
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .from_reader(text);
    let mut record = csv::StringRecord::new();
    while reader.read_record(&mut record).expect("a sound file") {
        let row = opening(&g, &record);
        match wings.get_mut(&record[1]) {
            Some(wing) => add(wing, &row),
            None => {
                wings.insert(record[1].to_owned(), row);
            }
        }
    }
    wings
}

fn cents(amount: Decimal) -> Decimal {
    amount.round_dp_with_strategy(2, MidpointAwayFromZero)
}

#[expect(
    clippy::too_many_lines,
    reason = "a program as one would write it by hand"
)]
fn opening(g: &Givens, record: &csv::StringRecord) -> Totals {
    let n = |text: &str| Decimal::from_i64(text.parse().expect("a whole number")).expect("small");
    let (one, two, half, sixty) = (Decimal::ONE, Decimal::TWO, d("0.5"), Decimal::from(60));
    let kind = &record[2];
    let (wide, high) = (d(&record[3]), d(&record[4]));
    let (across, down, thick) = (n(&record[5]), n(&record[6]), d(&record[7]));
    let rail_rot = d(record[8].trim_end_matches('%')) / Decimal::ONE_HUNDRED;
    let cracked = n(&record[9]);
    let leaded = &record[10] == "yes";

    let sashes = if kind == "single" { one } else { two };
    let sash_w = if kind == "pair" { wide * half } else { wide };
    let sash_h = if kind == "hung" { high * half } else { high };
    let sixteenth = |x: Decimal| {
        (x * Decimal::from(16)).round_dp_with_strategy(0, ToNegativeInfinity) * d("0.0625")
    };
    let lite_w = sixteenth((sash_w - two * g.stile_face - (across - one) * g.bar_face) / across);
    let lite_h =
        sixteenth((sash_h - g.top_rail - g.bottom_rail - (down - one) * g.bar_face) / down);
    let lites = sashes * across * down;
    let pane = lite_w * lite_h;
    let glass = lites * pane;
    let edge = lites * two * (lite_w + lite_h);
    let points = (edge / g.point_gap).round_dp_with_strategy(0, ToPositiveInfinity);
    let putty = edge * g.bead * g.putty_weight;
    let stiles = sashes * two * sash_h * g.stile_face * thick;
    let rails = sashes * sash_w * (g.top_rail + g.bottom_rail) * thick;
    let bars = sashes * ((across - one) * sash_h + (down - one) * sash_w) * g.bar_face * thick;
    let whole_stock = (stiles + rails + bars) * (one + g.waste);
    let fate = if rail_rot < d("0.1") && cracked.is_zero() {
        Fate::Retain
    } else if rail_rot > half {
        Fate::Renew
    } else {
        Fate::Mend
    };
    let share = match fate {
        Fate::Retain => Decimal::ZERO,
        Fate::Mend => (rail_rot * d("1.5")).min(one),
        Fate::Renew => one,
    };
    let stock = whole_stock * share;
    let pace = g
        .steps
        .iter()
        .find(|step| pane < step.0)
        .map_or(Decimal::ZERO, |step| step.1);
    let reglaze = if fate == Fate::Renew {
        lites
    } else {
        lites.min(cracked * two)
    };
    let glaze_time = reglaze * pace;
    let face = sashes * sash_w * sash_h;
    let make_time = if fate == Fate::Renew {
        face * g.make_pace
    } else {
        Decimal::ZERO
    };
    let mend_time = if fate == Fate::Mend {
        sashes * g.mend_pace * (one + share)
    } else {
        Decimal::ZERO
    };
    let strip_time = if fate != Fate::Renew && leaded {
        face * g.strip_pace * d("1.5")
    } else {
        face * g.strip_pace
    };
    let painted = (face - glass).max(Decimal::ZERO) * two;
    let paint_time = painted * g.paint_pace * two;
    let paint = painted / (g.cover * Decimal::from(144));
    let minutes = glaze_time + make_time + mend_time + strip_time + paint_time;
    let joiner = cents((make_time + mend_time) * g.joiner_rate / sixty);
    let glazier = cents(glaze_time * g.glazier_rate / sixty);
    let painter = cents((strip_time + paint_time) * g.painter_rate / sixty);
    let stock_cost = cents(stock * g.pine_price / Decimal::from(144));
    let glass_cost = cents(reglaze * pane * g.glass_price / Decimal::from(144));
    let points_cost = cents(points * g.point_price);
    let putty_cost = cents(putty * g.putty_price);
    let paint_cost = cents(paint * g.paint_price);
    let divided_last = cents(painted * g.paint_price / (g.cover * Decimal::from(144)));
    let short = u32::from(paint_cost < divided_last);
    let materials = stock_cost + glass_cost + points_cost + putty_cost + paint_cost;
    let taxed = cents(materials * (one + g.tax));
    let total = cents((joiner + glazier + painter + taxed) * (one + g.overhead));
    Totals {
        total,
        minutes,
        stock,
        glass,
        points,
        putty,
        short,
    }
}
