//! Networks, working days, seasons and hire against published and recomputed answers.

use ovolo::calendar::clock::{DAY, day_of};
use ovolo::calendar::hire::{Rates, least_cover};
use ovolo::calendar::{
    Activity, Clock, ClockFault, Crew, Instant, Network, NetworkFault, Order, Season, Wait,
    WaitKind, Week, holidays, level,
};
use std::collections::BTreeSet;

fn day(text: &str) -> i32 {
    day_of(text.parse().expect("a date"))
}

fn at(text: &str, hour: i64) -> Instant {
    Instant(Instant::at_day(day(text)).0 + hour * 60)
}

fn plain(first: &str) -> Clock {
    Clock::new(&Week::usual(), &BTreeSet::new(), None, &[0; 12], day(first)).expect("a clock")
}

fn federal(first: &str) -> Clock {
    let off = holidays::federal(day(first) - 400, day(first) + 800);
    Clock::new(&Week::usual(), &off, None, &[0; 12], day(first)).expect("a clock")
}

/// Last day of so many working days from a day on.
fn ends(clock: &Clock, from: &str, days: i64) -> i32 {
    let start = clock.work_before(Instant::at_day(day(from)));
    let end = clock
        .ends(start + days * clock.day_minutes())
        .expect("an end");
    end.last_day()
}

/// A network in bare numbers: every minute is worked, and counting begins at 0.
fn bare(work: &[i64], after: &[(usize, usize)]) -> Network {
    Network {
        clocks: vec![
            Clock::new(&Week::always(), &BTreeSet::new(), None, &[0; 12], 0).expect("a clock"),
        ],
        activities: work
            .iter()
            .map(|work| Activity {
                clock: 0,
                work: *work,
                not_before: None,
            })
            .collect(),
        waits: after
            .iter()
            .map(|(after, before)| Wait {
                after: *after,
                before: *before,
                kind: WaitKind::Elapsed,
                least: 0,
                most: None,
            })
            .collect(),
    }
}

/// Hendrickson, Project Management for Construction, chapter 10, table 10-1: the inputs and thirty days are published, the
/// floats recomputed.
fn hendrickson() -> Network {
    bare(
        &[4, 3, 8, 7, 9, 12, 2, 5, 6],
        &[
            (0, 2),
            (0, 3),
            (1, 4),
            (2, 4),
            (1, 5),
            (2, 5),
            (3, 6),
            (4, 6),
            (3, 7),
            (4, 7),
            (5, 8),
            (6, 8),
        ],
    )
}

#[test]
fn dates_and_floats_of_a_published_network() {
    let (timed, end) = hendrickson().dates(Instant(0), None).expect("dates");
    assert_eq!(end, Instant(30));
    let got: Vec<[i64; 6]> = timed
        .iter()
        .map(|t| {
            [
                t.start.0,
                t.finish.0,
                t.late_start.0,
                t.late_finish.0,
                t.total_float,
                t.free_float,
            ]
        })
        .collect();
    assert_eq!(
        got,
        [
            [0, 4, 0, 4, 0, 0],
            [0, 3, 9, 12, 9, 9],
            [4, 12, 4, 12, 0, 0],
            [4, 11, 15, 22, 11, 10],
            [12, 21, 13, 22, 1, 0],
            [12, 24, 12, 24, 0, 0],
            [21, 23, 22, 24, 1, 1],
            [21, 26, 25, 30, 4, 4],
            [24, 30, 24, 30, 0, 0],
        ]
    );
}

#[test]
fn a_deadline_that_cannot_be_kept_gives_floats_below_zero() {
    let (timed, _) = hendrickson()
        .dates(Instant(0), Some(Instant(26)))
        .expect("dates");
    let floats: Vec<i64> = timed.iter().map(|t| t.total_float).collect();
    assert_eq!(floats, [-4, 5, -4, 7, -3, -4, -3, 0, -4]);
}

#[test]
fn the_latest_end_before_and_the_earliest_start_after() {
    // US Navy construction manual, network chapter: forward takes the greatest, backward the least; a lag comes after the end.
    let mut net = bare(&[10, 11, 5, 4], &[(0, 2), (1, 2), (1, 3)]);
    let (timed, end) = net.dates(Instant(0), None).expect("dates");
    assert_eq!(timed[2].start, Instant(11));
    assert_eq!((timed[1].late_finish, end), (Instant(11), Instant(16)));
    net.waits[1].least = 3;
    let (timed, end) = net.dates(Instant(0), None).expect("dates");
    assert_eq!((timed[2].start, end), (Instant(14), Instant(19)));
}

#[test]
fn a_circle_is_named_in_order() {
    let net = bare(&[1, 1, 1, 1], &[(0, 1), (1, 2), (2, 3), (3, 1)]);
    let Err(NetworkFault::Circle(ring)) = net.dates(Instant(0), None) else {
        panic!("a circle")
    };
    assert_eq!(ring.len(), 3);
    for pair in ring.windows(2) {
        assert!(
            net.waits
                .iter()
                .any(|w| w.after == pair[0] && w.before == pair[1])
        );
    }
}

/// Glazing for four days from a Monday, putty that must stand, then painting.
fn glaze_then_paint(wait: i64, kind: WaitKind) -> Network {
    let clock = plain("2026-03-02");
    let days = clock.day_minutes();
    Network {
        activities: [4, 3]
            .map(|n| Activity {
                clock: 0,
                work: n * days,
                not_before: None,
            })
            .into(),
        waits: vec![Wait {
            after: 0,
            before: 1,
            kind,
            least: wait,
            most: None,
        }],
        clocks: vec![clock],
    }
}

#[test]
fn putty_waits_by_the_calendar() {
    // One week before coating: UFGS 09900, reputtying. Dates recomputed.
    let starts = |wait, kind| {
        let (timed, _) = glaze_then_paint(wait, kind)
            .dates(at("2026-03-02", 8), None)
            .expect("dates");
        assert_eq!(timed[0].finish, at("2026-03-05", 16));
        timed[1].start
    };
    assert_eq!(starts(7 * DAY, WaitKind::Elapsed), at("2026-03-13", 8));
    assert_eq!(starts(7 * 480, WaitKind::Working), at("2026-03-17", 8));
    for (days, date) in [(3, "2026-03-09"), (4, "2026-03-10"), (5, "2026-03-11")] {
        assert_eq!(starts(days * DAY, WaitKind::Elapsed), at(date, 8));
    }
}

#[test]
fn working_days_pass_over_observed_holidays() {
    // 5 U.S.C. 6103; the days are recomputed by two calendars.
    assert_eq!(
        ends(&federal("2026-06-29"), "2026-06-29", 10),
        day("2026-07-13")
    );
    assert_eq!(
        ends(&plain("2026-06-29"), "2026-06-29", 10),
        day("2026-07-10")
    );
    // Friday, December 31, 2027 is New Year's Day observed.
    assert_eq!(
        ends(&federal("2027-12-27"), "2027-12-27", 6),
        day("2028-01-04")
    );
}

fn painting_season(may_split: bool) -> Clock {
    let season = Season {
        from: (4, 15),
        to: (10, 31),
        may_split,
    };
    Clock::new(
        &Week::usual(),
        &BTreeSet::new(),
        Some(&season),
        &[0; 12],
        day("2026-10-26"),
    )
    .expect("a clock")
}

#[test]
fn a_season_stops_work_or_puts_all_of_it_off() {
    let from = at("2026-10-26", 8);
    for (may_split, start, end) in [
        (true, "2026-10-26", "2027-04-23"),
        (false, "2027-04-15", "2027-04-30"),
    ] {
        let clock = painting_season(may_split);
        let (begin, done) = clock
            .run_from(from, 12 * clock.day_minutes())
            .expect("a place");
        assert_eq!(clock.begins(begin).expect("a start"), at(start, 8));
        assert_eq!(clock.ends(done).expect("an end").last_day(), day(end));
    }
    let whole = painting_season(false);
    let (begin, done) = whole
        .run_until(at("2027-03-01", 8), 12 * 480)
        .expect("a place");
    assert_eq!(whole.begins(begin).expect("a start"), at("2026-10-15", 8));
    assert_eq!(whole.ends(done).expect("an end"), at("2026-10-30", 16));
    assert!(matches!(
        whole.run_from(from, 480 * 480),
        Err(ClockFault::SeasonTooShort { .. })
    ));
}

#[test]
fn lost_days_are_spread_over_the_month() {
    let mut lost = [0; 12];
    lost[2] = 4;
    let clock = Clock::new(
        &Week::usual(),
        &BTreeSet::new(),
        None,
        &lost,
        day("2026-03-02"),
    )
    .expect("a clock");
    let worked = (day("2026-03-01")..=day("2026-03-31"))
        .filter(|d| clock.works_on(*d))
        .count();
    assert_eq!(worked, 22 - 4);
    assert_eq!(
        (day("2026-04-01")..=day("2026-04-30"))
            .filter(|d| clock.works_on(*d))
            .count(),
        22
    );
}

#[test]
fn clocks_without_days_are_refused() {
    let mut never = Week::usual();
    never.days = [false; 7];
    let made = |week: &Week, off: &BTreeSet<i32>, season: Option<&Season>| {
        Clock::new(week, off, season, &[0; 12], 20_000).err()
    };
    assert_eq!(
        made(&never, &BTreeSet::new(), None),
        Some(ClockFault::NoHours)
    );
    let all: BTreeSet<i32> = (0..60_000).collect();
    assert_eq!(made(&Week::usual(), &all, None), Some(ClockFault::NoDays));
}

#[test]
fn crews_make_a_job_longer_and_the_bound_says_by_how_much() {
    // All thirty orders were tried outside: fourteen is the shortest; 25 crew-days on a crew of two give the bound of 13.
    let net = bare(&[3, 4, 2, 5, 3, 2], &[(0, 3), (1, 4), (2, 4), (4, 5)]);
    let needs: Vec<Vec<(usize, u32)>> = [2, 1, 1, 1, 2, 1].map(|n| vec![(0, n)]).into();
    let crews = [Crew { count: 2 }];
    assert_eq!(net.dates(Instant(0), None).expect("dates").1, Instant(9));
    for (order, days) in [
        (Order::LateFinish, 15),
        (Order::LateStart, 17),
        (Order::Shortest, 17),
    ] {
        let got = level(&net, &crews, &needs, Instant(0), order).expect("placed");
        assert_eq!(
            (got.finish, got.bound),
            (Instant(days), Instant(13)),
            "{order:?}"
        );
    }
}

#[test]
fn hire_is_charged_by_the_cheapest_cover() {
    // A hire firm's public note for 9 and 21 days; the others recomputed.
    let rates = Rates {
        day: 10_000,
        week: Some(30_000),
        four_weeks: Some(80_000),
    };
    let asked = [
        (9, 500),
        (21, 800),
        (3, 300),
        (4, 300),
        (6, 300),
        (8, 400),
        (14, 600),
        (20, 800),
        (26, 800),
        (30, 1000),
        (35, 1100),
        (36, 1200),
        (16, 800),
        (7, 300),
    ];
    for (days, cost) in asked {
        assert_eq!(least_cover(days, rates).cost, cost * 100, "{days} days");
    }
}

#[test]
fn a_lift_is_hired_by_the_calendar_and_not_by_the_days_worked() {
    // Recomputed: four days of glazing, a week of skin, three days of painting at 100, 300 and 800 by day, week and four weeks.
    let (timed, _) = glaze_then_paint(7 * DAY, WaitKind::Elapsed)
        .dates(at("2026-03-02", 8), None)
        .expect("dates");
    assert_eq!(timed[1].finish, at("2026-03-17", 16));
    let held = |from: &str, to: &str| u64::from((day(to) - day(from) + 1).unsigned_abs());
    let rates = Rates {
        day: 10_000,
        week: Some(30_000),
        four_weeks: Some(80_000),
    };
    let cost = |days: u64| least_cover(days, rates).cost / 100;
    assert_eq!(held("2026-03-02", "2026-03-17"), 16);
    assert_eq!(cost(16), 800);
    // Priced on the seven days worked; then sent back while the putty skins, at the price of a second delivery.
    assert_eq!(cost(4 + 3), 300);
    let (first, second) = (
        held("2026-03-02", "2026-03-05"),
        held("2026-03-13", "2026-03-17"),
    );
    assert_eq!((first, second), (4, 5));
    assert_eq!(cost(first) + cost(second), 600);
}

/// A small generator of its own, so that runs repeat.
struct Dice(u64);
impl Dice {
    fn below(&mut self, n: u64) -> u64 {
        self.0 = self
            .0
            .wrapping_mul(6364136223846793005)
            .wrapping_add(1442695040888963407);
        (self.0 >> 33) % n
    }
}

#[test]
fn random_networks_keep_waits_crews_and_the_longest_chain() {
    let mut dice = Dice(17);
    let clocks = vec![
        Clock::new(&Week::always(), &BTreeSet::new(), None, &[0; 12], 0).expect("a clock"),
        Clock::new(&Week::usual(), &BTreeSet::new(), None, &[0; 12], 0).expect("a clock"),
    ];
    for round in 0..10_000 {
        let many = 2 + dice.below(9) as usize;
        let usual = usize::from(round % 4 == 0);
        let mut net = bare(
            &(0..many).map(|_| dice.below(40) as i64).collect::<Vec<_>>(),
            &[],
        );
        net.clocks = clocks.clone();
        net.activities.iter_mut().for_each(|a| a.clock = usual);
        for before in 1..many {
            for after in 0..before {
                if dice.below(3) == 0 {
                    net.waits.push(Wait {
                        after,
                        before,
                        kind: WaitKind::Elapsed,
                        least: dice.below(20) as i64,
                        most: None,
                    });
                }
            }
        }
        let first = Instant(0);
        let (timed, end) = net.dates(first, None).expect("dates");
        if usual == 0 {
            assert_eq!(end.0, longest_chain(&net), "round {round}");
            assert!(timed.iter().any(|t| t.total_float == 0), "round {round}");
        }
        let crews = [
            Crew {
                count: 1 + dice.below(3) as u32,
            },
            Crew { count: 1 },
        ];
        let needs: Vec<Vec<(usize, u32)>> = (0..many)
            .map(|_| vec![(dice.below(2) as usize, 1 + dice.below(2) as u32)])
            .collect();
        let got = level(&net, &crews, &needs, first, Order::LateFinish).expect("placed");
        check(&net, &crews, &needs, &got.placed);
        assert!(end <= got.bound && got.bound <= got.finish, "round {round}");
    }
}

/// Reckoned apart from the engine: each chain of waits walked to its end.
fn longest_chain(net: &Network) -> i64 {
    fn to(net: &Network, i: usize) -> i64 {
        let before = net.waits.iter().filter(|w| w.before == i);
        let start = before
            .map(|w| to(net, w.after) + w.least)
            .max()
            .unwrap_or(0);
        start + net.activities[i].work
    }
    (0..net.activities.len())
        .map(|i| to(net, i))
        .max()
        .unwrap_or(0)
}

fn check(
    net: &Network,
    crews: &[Crew],
    needs: &[Vec<(usize, u32)>],
    placed: &[(Instant, Instant)],
) {
    for wait in &net.waits {
        assert!(placed[wait.before].0.0 >= placed[wait.after].1.0 + wait.least);
    }
    for (kind, crew) in crews.iter().enumerate() {
        let at_work = |time: Instant| -> u32 {
            (0..placed.len())
                .filter(|i| placed[*i].0 <= time && time < placed[*i].1)
                .flat_map(|i| &needs[i])
                .filter(|(k, _)| *k == kind)
                .map(|(_, n)| (*n).min(crew.count))
                .sum()
        };
        for (start, _) in placed {
            assert!(at_work(*start) <= crew.count);
        }
    }
}

#[test]
fn a_second_coat_that_a_holiday_weekend_puts_off_too_long_is_found() {
    // Least and greatest wait of a coating, 24 and 72 hours; the dates recomputed.
    let recoat = |first: &str| {
        let clock = federal(first);
        let net = Network {
            activities: [480, 480]
                .map(|work| Activity {
                    clock: 0,
                    work,
                    not_before: None,
                })
                .into(),
            waits: vec![Wait {
                after: 0,
                before: 1,
                kind: WaitKind::Elapsed,
                least: DAY,
                most: Some(3 * DAY),
            }],
            clocks: vec![clock],
        };
        let (timed, _) = net.dates(at(first, 8), None).expect("dates");
        let placed: Vec<(Instant, Instant)> = timed.iter().map(|t| (t.start, t.finish)).collect();
        (
            placed[1].0,
            net.broken_waits(&net.waits, &placed).expect("waits"),
        )
    };
    assert_eq!(recoat("2026-05-15"), (at("2026-05-18", 8), vec![]));
    let (start, broken) = recoat("2026-05-22");
    assert_eq!(start, at("2026-05-26", 8));
    assert_eq!(broken[0].found, 88 * 60);
    assert_eq!(broken[0].keeps, at("2026-05-23", 8));
}
