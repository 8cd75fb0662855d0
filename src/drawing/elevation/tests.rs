//! Elevations: what adds up, what is drawn to scale, one curve over several leaves.

use super::beside::cuts;
use super::frame::Frame;
use super::*;
use crate::drawing::Fill;
use crate::drawing::dims::{Along, Chain, chain};

fn inches(n: i64, d: i64) -> Exact {
    Exact::ratio(n, d).expect("a ratio")
}

fn member(name: &str, lies: Lies, at: Exact, face: Exact) -> Member {
    Member {
        name: name.to_owned(),
        lies,
        at,
        each: None,
        count: 1,
        face,
        head: Head::Square,
        treatment: Some("retain".to_owned()),
        decayed: Some(Exact::ZERO),
        soft: Vec::new(),
    }
}

/// A sash of a width and height with stiles and rails of 2 in and bars of 7/8 in, lites rounded down to 1/16 in.
fn sash(width: Exact, height: Exact, across: i64, up: i64, head: Head) -> Sash {
    let (two, bar) = (inches(2, 1), inches(7, 8));
    let sixteenth = inches(1, 16);
    let lite = |room: &Exact, count: i64| {
        let bars = bar.mul(&Exact::int(count - 1)).expect("small");
        let left = room.sub(&bars).expect("small").div(&Exact::int(count));
        left.expect("small")
            .round_to(&sixteenth, crate::number::Rounding::Down)
            .expect("small")
    };
    let four = inches(4, 1);
    let (day_w, day_h) = (
        width.sub(&four).expect("small"),
        height.sub(&four).expect("small"),
    );
    let rise = head.rise();
    let mut members = vec![
        member("left stile", Lies::Upright, Exact::ZERO, two.clone()),
        member(
            "right stile",
            Lies::Upright,
            width.sub(&two).expect("small"),
            two.clone(),
        ),
        Member {
            face: two.add(&rise).expect("small"),
            head,
            ..member(
                "top rail",
                Lies::Level,
                height.sub(&two).and_then(|h| h.sub(&rise)).expect("small"),
                two.clone(),
            )
        },
        member("bottom rail", Lies::Level, Exact::ZERO, two.clone()),
    ];
    for (lies, count, day) in [(Lies::Upright, across, &day_w), (Lies::Level, up, &day_h)] {
        if count > 1 {
            let lite = lite(day, count);
            members.push(Member {
                each: Some(lite.add(&bar).expect("small")),
                count: u64::try_from(count - 1).expect("small"),
                ..member("bars", lies, two.add(&lite).expect("small"), bar.clone())
            });
        }
    }
    Sash {
        mark: "A-S".to_owned(),
        across: inches(1, 16),
        up: inches(1, 16),
        members,
    }
}

fn window(sash: Sash, width: Exact, height: Exact) -> Window {
    let eighth = inches(1, 8);
    Window {
        mark: "A".to_owned(),
        width: width.add(&eighth).expect("small"),
        height: height.add(&eighth).expect("small"),
        sash: vec![sash],
    }
}

/// Every text of a drawing.
fn texts(drawing: &Drawing) -> Vec<&str> {
    let each = drawing.shapes.iter().filter_map(|s| match s {
        Shape::Text { text, .. } => Some(text.as_str()),
        Shape::Line { .. } | Shape::Outline { .. } | Shape::Arc { .. } => None,
    });
    each.collect()
}

/// Every corner of every shape, with text left out.
fn corners(drawing: &Drawing) -> Vec<Point> {
    let each = drawing.shapes.iter().flat_map(|s| match s {
        Shape::Line { points, .. } | Shape::Outline { points, .. } => points.clone(),
        Shape::Arc { from, to, .. } => vec![from.clone(), to.clone()],
        Shape::Text { .. } => Vec::new(),
    });
    each.collect()
}

#[test]
fn members_and_lites_add_up_to_the_sash_and_nothing_leaves_the_page() {
    for (w, h, across, up) in [
        (28, 30, 2, 2),
        (34, 60, 3, 4),
        (12, 12, 1, 1),
        (47, 95, 6, 5),
    ] {
        for head in [
            Head::Square,
            Head::Arch(inches(3, 1)),
            Head::Point(inches(w, 1)),
        ] {
            let (width, height) = (inches(4 * w + 1, 4), inches(h, 1));
            let one = sash(width.clone(), height.clone(), across, up, head);
            let frame = Frame::of(&one).expect("has a frame");
            for (lies, whole) in [(Lies::Upright, &width), (Lies::Level, &height)] {
                let cuts = cuts(&one, &frame, lies).expect("cuts");
                let mut sum = Exact::ZERO;
                for two in cuts.windows(2) {
                    sum = sum
                        .add(&two[1].sub(&two[0]).expect("small"))
                        .expect("small");
                }
                assert_eq!(sum, *whole, "{w} by {h}, {lies:?}");
            }
            let window = window(one, width, height);
            let scale = scale_for(std::iter::once(&window));
            let drawing = elevation(&window, scale).expect("draws");
            for point in corners(&drawing) {
                assert!(
                    point.x.signum() >= 0 && point.x <= drawing.width,
                    "{point:?}"
                );
                assert!(
                    point.y.signum() >= 0 && point.y <= drawing.height,
                    "{point:?}"
                );
            }
        }
    }
}

/// Papers of this project, 2.2: 38 3/4 = 2 x 2 + 3 lites + 2 bars of 7/8; lites of 10 7/8 leave a rest, which is figured by itself.
#[test]
fn what_lites_leave_over_is_a_figure_of_its_own() {
    let (width, height) = (inches(155, 4), inches(40, 1));
    let one = window(
        sash(width.clone(), height.clone(), 3, 2, Head::Square),
        width,
        height,
    );
    let drawing = elevation(&one, 16).expect("draws");
    let texts = self::texts(&drawing);
    // (38 3/4 - 4 - 1 3/4) / 3 = 11 exactly; upward (40 - 4 - 7/8) / 2 = 17 9/16 exactly.
    assert_eq!(texts.iter().filter(|t| **t == "11").count(), 3, "{texts:?}");
    assert_eq!(
        texts.iter().filter(|t| **t == "17 9/16").count(),
        2,
        "{texts:?}"
    );
    // (38 1/2 - 4 - 1 3/4) / 3 = 10 11/12, down to 10 7/8: the rest is 1/8.
    let width = inches(77, 2);
    let one = window(
        sash(width.clone(), inches(40, 1), 3, 2, Head::Square),
        width,
        inches(40, 1),
    );
    let drawing = elevation(&one, 16).expect("draws");
    assert!(self::texts(&drawing).contains(&"10 7/8 + 1/8"));
}

/// A stretch too short for ticks of its own is beside the figure before it, and the string still closes; a size taken in
/// millimeters is figured so.
#[test]
fn short_stretches_are_figured_with_their_neighbors() {
    let mut drawing = Drawing::new("a string".to_owned(), Exact::int(100), Exact::int(20));
    let at = |tenths: i64| inches(tenths, 10);
    let sizes = [inches(10, 1), inches(1, 16), inches(750, 254)];
    let cuts = [at(0), at(400), at(402), at(520)];
    let string = Chain {
        along: Along::Level,
        line: Exact::int(10),
        cuts: &cuts,
        sizes: &sizes,
        lite: None,
    };
    chain(&mut drawing, &string).expect("draws");
    assert_eq!(self::texts(&drawing), ["10 + 1/16", "75 mm"]);
}

/// Check values of this project: a segment 36 wide with a rise of 6 has a radius of 30. Geometry of the circle.
#[test]
fn an_arch_has_the_radius_of_its_chord_and_rise() {
    let head = Head::Arch(Exact::int(6));
    assert_eq!(head.curve(&Exact::int(36)), Ok(Some(Exact::int(30))));
    let round = Head::Arch(Exact::int(18));
    assert_eq!(round.curve(&Exact::int(36)), Ok(Some(Exact::int(18))));
}

/// A face of 2 in at 1:16 is 3.175 mm: drawn within 0.2 mm of size over scale (papers of this project, 6.5).
#[test]
fn faces_are_drawn_to_scale() {
    let (width, height) = (inches(30, 1), inches(40, 1));
    let one = window(
        sash(width.clone(), height.clone(), 1, 1, Head::Square),
        width,
        height,
    );
    let text = crate::drawing::svg(&elevation(&one, 16).expect("draws"));
    // The left stile begins 1/16 in from the jamb: 38 + 0.1 mm, and its inner edge stands 3.18 mm further.
    assert!(text.contains("points=\"41.27,"), "{text}");
}

#[test]
fn bars_too_thin_for_two_lines_are_one_solid_bar() {
    let (width, height) = (inches(30, 1), inches(40, 1));
    let one = window(
        sash(width.clone(), height.clone(), 2, 2, Head::Square),
        width,
        height,
    );
    let solid = |scale| {
        let drawing = elevation(&one, scale).expect("draws");
        drawing.shapes.iter().any(|s| {
            matches!(
                s,
                Shape::Outline {
                    fill: Fill::Solid,
                    stroke: Stroke::None,
                    ..
                }
            )
        })
    };
    // 7/8 in less one line: 1.14 mm at 1:16, 0.68 mm at 1:24, of which 0.7 is asked.
    assert!(!solid(16));
    assert!(solid(24));
}

/// Two leaves under one arch: the outer edges meet in the middle at the crown, and every arc has the radius of the whole chord.
/// Geometry of the circle: 60 wide with a rise of 10 has a radius of 50.
#[test]
fn a_pair_stands_under_one_arch() {
    let leaf = |across: i64, mark: &str| Sash {
        mark: mark.to_owned(),
        across: inches(across, 1),
        up: Exact::ZERO,
        ..sash(
            inches(30, 1),
            inches(50, 1),
            1,
            1,
            Head::Arch(inches(10, 1)),
        )
    };
    let window = Window {
        mark: "A".to_owned(),
        width: inches(60, 1),
        height: inches(50, 1),
        sash: vec![leaf(0, "A-1"), leaf(30, "A-2")],
    };
    let frames = frame::frames(&window).expect("has frames");
    let (left, right) = (&frames[0], &frames[1]);
    let height = |frame: &Frame, across: i64| frame.over_head(&inches(across, 1)).expect("small");
    assert_eq!(
        (height(left, 0), height(left, 30)),
        (inches(40, 1), inches(50, 1))
    );
    assert_eq!(
        (height(right, 0), height(right, 30)),
        (inches(50, 1), inches(40, 1))
    );
    assert_eq!(left.curve().expect("small"), Some(inches(50, 1)));
    let drawing = elevation(&window, 24).expect("draws");
    let radius = |n: i64| inches(n * 254, 240);
    let arcs: Vec<Exact> = drawing
        .shapes
        .iter()
        .filter_map(|s| match s {
            Shape::Arc { radius, .. } if *radius > Exact::int(20) => Some(radius.clone()),
            Shape::Line { .. } | Shape::Outline { .. } | Shape::Arc { .. } | Shape::Text { .. } => {
                None
            }
        })
        .collect();
    // The opening, and of each leaf the outer and the inner edge, 2 in inside.
    assert_eq!(
        arcs,
        [radius(50), radius(50), radius(48), radius(50), radius(48)]
    );
}

/// Lites that are narrower on paper than a line: drawn all the same, nothing outside the page.
#[test]
fn lites_smaller_than_a_line_are_drawn() {
    let (width, height) = (inches(34, 1), inches(34, 1));
    let one = window(
        sash(width.clone(), height.clone(), 30, 30, Head::Square),
        width,
        height,
    );
    let drawing = elevation(&one, 192).expect("draws");
    assert!(drawing.shapes.len() > 60);
    for point in corners(&drawing) {
        assert!(
            point.x.signum() >= 0 && point.x <= drawing.width,
            "{point:?}"
        );
        assert!(
            point.y.signum() >= 0 && point.y <= drawing.height,
            "{point:?}"
        );
    }
}
