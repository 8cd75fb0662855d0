//! Seeded problems of the sizes that the figures ask for. The same seed gives the same problem on every machine.

use ovolo::cutting::model::{Goods, Part, Problem, Rules, Stock};
use serde_json::{Value, json};

/// A stream of numbers from a seed.
pub struct Stream(u64);

impl Stream {
    pub fn new(seed: u64) -> Stream {
        Stream(seed.wrapping_mul(0x2545_F491_4F6C_DD1D) + 99)
    }

    /// A number from `low` to `high`, both included.
    fn between(&mut self, low: i64, high: i64) -> i64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        low + (self.0 % (high - low + 1) as u64) as i64
    }
}

/// Deals `pieces` out over the parts, some parts more often than others.
fn deal(parts: &mut [Part], pieces: u32, stream: &mut Stream) {
    let weights: Vec<i64> = parts.iter().map(|_| stream.between(1, 9)).collect();
    let all: i64 = weights.iter().sum();
    let mut given = 0;
    for (part, weight) in parts.iter_mut().zip(&weights) {
        part.count = (i64::from(pieces) * weight / all).max(1) as u32;
        given += part.count;
    }
    parts[0].count += pieces.saturating_sub(given);
}

fn stock(mark: String, length: i64, width: i64, thick: i64, cost: i64) -> Stock {
    Stock {
        mark,
        length,
        width,
        thick,
        trim: 0,
        bad: Vec::new(),
        cost,
        available: None,
    }
}

/// Linear goods: 60 lengths from 10 to 90 inches in sixteenths, out of 8, 12 and 16 ft and 30 offcuts.
pub fn linear(pieces: u32, seed: u64) -> Problem {
    let mut stream = Stream::new(seed);
    let mut lengths: Vec<i64> = (0..60).map(|_| stream.between(160, 1440)).collect();
    lengths.sort_unstable();
    lengths.dedup();
    let mut parts: Vec<Part> = lengths
        .into_iter()
        .map(|l| Part::of_size(l, 1, 0))
        .collect();
    deal(&mut parts, pieces, &mut stream);
    let mut stocks: Vec<Stock> = [(1536, 800), (2304, 1180), (3072, 1560)]
        .into_iter()
        .map(|(length, cost)| stock(format!("{} ft", length / 192), length, 1, 0, cost))
        .collect();
    for i in 1..=30 {
        let length = stream.between(300, 1400);
        stocks.push(Stock {
            available: Some(1),
            ..stock(format!("O-{i:02}"), length, 1, 0, length / 8)
        });
    }
    problem(Goods::Linear, 2, 1, false, parts, stocks)
}

/// Boards: two thicknesses, five widths, boards on hand with up to three bad stretches, four lengths to be bought.
pub fn boards(pieces: u32, hand: u32, seed: u64) -> Problem {
    let mut stream = Stream::new(seed);
    let widths = [14, 28, 34, 40, 56];
    let sizes = if pieces > 2000 { 60 } else { 25 };
    let mut parts: Vec<Part> = (0..sizes)
        .map(|i| {
            let width = widths[stream.between(0, 4) as usize];
            Part::of_size(stream.between(220, 1020), width, [22, 28][i % 2])
        })
        .collect();
    deal(&mut parts, pieces, &mut stream);
    let mut stocks = Vec::new();
    for i in 1..=hand {
        let length = 16 * stream.between(48, 144);
        let (width, thick) = (stream.between(84, 173), [22, 28][(i % 2) as usize]);
        let mut bad: Vec<(i64, i64)> = Vec::new();
        let mut at = stream.between(100, 900);
        for _ in 0..stream.between(0, 3) {
            if at + 32 < length - 50 {
                bad.push((at, at + 32));
                at += stream.between(200, 900);
            }
        }
        stocks.push(Stock {
            trim: 8,
            bad,
            available: Some(1),
            ..stock(
                format!("B-{i:03}"),
                length,
                width,
                thick,
                length * width / 3200,
            )
        });
    }
    for thick in [22, 28] {
        for length in [1536, 1920, 2304, 3072] {
            stocks.push(Stock {
                trim: 8,
                ..stock(
                    format!("{} ft, {thick} thick", length / 192),
                    length,
                    128,
                    thick,
                    length / 8,
                )
            });
        }
    }
    problem(Goods::Boards, 2, 3, false, parts, stocks)
}

/// Glass: 20 sizes that may be turned, two sizes of sheets to be bought, and panes on hand.
pub fn glass(pieces: u32, hand: u32, seed: u64) -> Problem {
    let mut stream = Stream::new(seed);
    let mut parts: Vec<Part> = (0..20)
        .map(|_| Part::of_size(2 * stream.between(70, 125), 2 * stream.between(90, 180), 0))
        .collect();
    deal(&mut parts, pieces, &mut stream);
    let mut stocks = vec![
        stock("48 x 72".into(), 752, 1136, 0, 3456),
        stock("40 x 60".into(), 624, 944, 0, 2400),
    ];
    for i in 1..=hand {
        let (length, width) = (stream.between(200, 405), stream.between(260, 545));
        stocks.push(Stock {
            available: Some(1),
            ..stock(format!("P-{i:02}"), length, width, 0, 1)
        });
    }
    problem(Goods::Glass, 0, 2, true, parts, stocks)
}

/// A problem as an instance file.
pub fn text(problem: &Problem) -> String {
    let rules = &problem.rules;
    let (kind, stock, parts) = match rules.goods {
        Goods::Linear => ("1d", "stock", "parts"),
        Goods::Boards => ("boards", "boards", "parts"),
        Goods::Glass => ("glass", "sheets", "panes"),
    };
    let sides = |length: i64, width: i64, thick: i64| match rules.goods {
        Goods::Linear => json!({"length": length}),
        Goods::Boards => json!({"length": length, "w": width, "t": thick}),
        Goods::Glass => json!({"w": length, "h": width}),
    };
    let with = |mut sides: Value, more: Value| {
        if let (Value::Object(all), Value::Object(more)) = (&mut sides, more) {
            all.extend(more);
        }
        sides
    };
    let part = |p: &Part| with(sides(p.length, p.width, p.thick), json!({"count": p.count}));
    let of_boards = |s: &Stock| match rules.goods {
        Goods::Boards => json!({"end_trim": s.trim, "bad": s.bad}),
        Goods::Linear | Goods::Glass => json!({}),
    };
    let piece = |s: &Stock| {
        let own = json!({"mark": s.mark, "cost": s.cost, "available": s.available});
        with(with(sides(s.length, s.width, s.thick), own), of_boards(s))
    };
    let mut all = json!({
        "kind": kind,
        "unit": problem.unit,
        "kerf": rules.crosscut,
        "stages": rules.stages,
        "keep": rules.keep,
        parts: problem.parts.iter().map(part).collect::<Vec<_>>(),
        stock: problem.stocks.iter().map(piece).collect::<Vec<_>>(),
    });
    if rules.goods == Goods::Glass {
        all = with(all, json!({"may_turn": rules.turn}));
    }
    all.to_string()
}

fn problem(
    goods: Goods,
    kerf: i64,
    stages: u8,
    turn: bool,
    parts: Vec<Part>,
    stocks: Vec<Stock>,
) -> Problem {
    Problem {
        cents: false,
        unit: "1/16 in".into(),
        rules: Rules {
            goods,
            crosscut: kerf,
            rip: kerf,
            stages,
            turn,
            least: 0,
            keep: (160, 14),
        },
        parts,
        stocks,
    }
}
