//! What levelling leaves over its bound on ten random jobs, and how long a calendar of a courthouse takes: `cargo bench --bench calendar`.

use ovolo::calendar::{
    Activity, Clock, Crew, Instant, Network, Order, Wait, WaitKind, Week, level,
};
use std::collections::BTreeSet;
use std::time::Instant as Now;

/// A small generator of its own, so that runs repeat.
struct Dice(u64);

impl Dice {
    fn below(&mut self, n: u64) -> u64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % n
    }

    /// Hours in minutes.
    fn hours(&mut self, least: u64, most: u64) -> i64 {
        (60 * (least + self.below(most - least + 1))) as i64
    }
}

/// For each activity the crews that it needs, with how many of each.
type Needs = Vec<Vec<(usize, u32)>>;

/// Phases one after another in each area, four trades with crews of their own, a week of skin after one phase in the middle.
fn job(dice: &mut Dice, areas: usize, phases: usize) -> (Network, Vec<Crew>, Needs) {
    let clock = Clock::new(&Week::usual(), &BTreeSet::new(), None, &[0; 12], 0).expect("a clock");
    let mut net = Network {
        clocks: vec![clock],
        ..Network::default()
    };
    let mut needs = Vec::new();
    for area in 0..areas {
        for phase in 0..phases {
            net.activities.push(Activity {
                clock: 0,
                work: dice.hours(2, 60),
                not_before: None,
            });
            needs.push(vec![(phase * 4 / phases, 1)]);
            if phase > 0 {
                let at = area * phases + phase;
                net.waits.push(Wait {
                    after: at - 1,
                    before: at,
                    kind: WaitKind::Elapsed,
                    least: if phase == phases / 2 { 7 * 24 * 60 } else { 0 },
                    most: None,
                });
            }
        }
    }
    let crews = (0..4).map(|_| Crew {
        count: 1 + dice.below(3) as u32,
    });
    (net, crews.collect(), needs)
}

fn main() {
    let mut dice = Dice(17);
    let first = Instant(0);
    println!("| job | areas x phases | ends after, days | bound, days | gap |");
    println!("|---|---|---|---|---|");
    for n in 1..=10 {
        let (areas, phases) = (3 + dice.below(10) as usize, 5 + dice.below(10) as usize);
        let (net, crews, needs) = job(&mut dice, areas, phases);
        let got = level(&net, &crews, &needs, first, Order::LateFinish).expect("dates");
        let days = |end: Instant| end.0 as f64 / 1440.0;
        println!(
            "| {n} | {areas} x {phases} | {:.1} | {:.1} | {:.1} % |",
            days(got.finish),
            days(got.bound),
            100.0 * (got.finish.0 - got.bound.0) as f64 / got.bound.0 as f64
        );
    }
    let (net, crews, needs) = job(&mut dice, 12, 14);
    let best = (0..5)
        .map(|_| {
            let start = Now::now();
            level(&net, &crews, &needs, first, Order::LateFinish).expect("dates");
            start.elapsed()
        })
        .min()
        .unwrap_or_default();
    println!(
        "\n12 areas x 14 phases, {} activities: {:.1} ms",
        net.activities.len(),
        best.as_secs_f64() * 1000.0
    );
}
