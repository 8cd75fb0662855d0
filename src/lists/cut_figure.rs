//! Stock with the parts that are cut from it, drawn to scale.

use super::cut_marks::Marks;
use crate::cutting::model::{Goods, Problem, Stock};
use crate::cutting::offcuts::{offcuts, pieces};
use crate::cutting::plan::{Area, Plan, PlannedCut};
use crate::cutting::words;
use crate::drawing::{Anchor, Drawing, Fill, Point, Shape, Stroke};
use crate::number::Exact;

/// Hundredths of a millimeter: the width of a page, the most that a drawing is high, a line of sizes below or beside the stock.
const PAGE: i64 = 17_800;
const TALL: i64 = 5_000;
const SIZES: i64 = 450;
const BESIDE: i64 = 2_200;
/// Heights of capital letters that are tried, and the room that one line takes, in hundredths of its letters.
const LETTERS: [i64; 3] = [210, 170, 130];
const LINE: i64 = 175;
/// Width of a letter with its gap, in hundredths of its height.
const ADVANCE: i64 = 82;

/// How large the stock of a plan is drawn: each piece on a scale of its own, the small ones not much larger than the others.
pub(super) struct Figures {
    /// The scale at which all stock fits.
    all: Scale,
}

/// Hundredths of a millimeter for so many units.
#[derive(Clone, Copy)]
struct Scale {
    paper: i64,
    units: i64,
}

/// How much larger than all together a small piece is drawn at most, in halves.
const LARGER: i64 = 5;

impl Scale {
    /// The largest at which a length and a height fit.
    fn fitting(problem: &Problem, long: i64, tall: i64) -> Scale {
        let room = match problem.rules.goods {
            Goods::Glass => PAGE - BESIDE,
            Goods::Linear | Goods::Boards => PAGE,
        };
        match room * tall.max(1) <= TALL * long.max(1) {
            true => Scale {
                paper: room,
                units: long.max(1),
            },
            false => Scale {
                paper: TALL,
                units: tall.max(1),
            },
        }
    }

    /// Rounded down, so that nothing leaves the page.
    fn of(self, units: i64) -> i64 {
        units.saturating_mul(self.paper) / self.units
    }
}

/// A rectangle on paper, in hundredths of a millimeter from its upper left corner.
#[derive(Clone, Copy)]
struct Drawn {
    x: i64,
    y: i64,
    width: i64,
    height: i64,
}

impl Figures {
    pub(super) fn of(problem: &Problem, plan: &Plan) -> Figures {
        let most = |size: &dyn Fn(&Stock) -> i64| {
            let sizes = plan.cuts.iter().map(|c| size(&problem.stocks[c.stock]));
            sizes.max().unwrap_or(1)
        };
        let (long, tall) = (most(&|s| s.length), most(&|s| across(problem, s)));
        Figures {
            all: Scale::fitting(problem, long, tall),
        }
    }

    fn scale(&self, problem: &Problem, stock: &Stock) -> Scale {
        if problem.rules.goods == Goods::Linear {
            return self.all;
        }
        let own = Scale::fitting(problem, stock.length, across(problem, stock));
        let most = Scale {
            paper: self.all.paper * LARGER,
            units: self.all.units * 2,
        };
        match own.paper * most.units < most.paper * own.units {
            true => own,
            false => most,
        }
    }

    /// One piece of stock, with its parts, offcuts and bad stretches, and the sizes that the first cuts part.
    pub(super) fn draw(
        &self,
        problem: &Problem,
        (place, cut): (usize, &PlannedCut),
        marks: &Marks,
    ) -> Drawing {
        let title = words::stock_name(problem, cut.stock);
        let mut out = Drawing::new(title, mm(PAGE), Exact::ZERO);
        let height = self.put(problem, (place, cut), marks, 0, &mut out);
        out.height = mm(height);
        out
    }

    /// Draws one piece of stock below a height; the height below it.
    fn put(
        &self,
        problem: &Problem,
        (place, cut): (usize, &PlannedCut),
        marks: &Marks,
        top: i64,
        out: &mut Drawing,
    ) -> i64 {
        let stock = &problem.stocks[cut.stock];
        let (tall, scale) = (across(problem, stock), self.scale(problem, stock));
        let whole = Area {
            x: 0,
            y: 0,
            length: stock.length,
            width: tall,
        };
        // Places count from below, paper from above. A bar has no width of its own.
        let at = |a: Area| {
            let (y, width) = match problem.rules.goods {
                Goods::Linear => (0, tall),
                Goods::Boards | Goods::Glass => (a.y, a.width),
            };
            Drawn {
                x: scale.of(a.x),
                y: top + scale.of(tall - y - width),
                width: scale.of(a.length),
                height: scale.of(width),
            }
        };
        let below = !cut.along && problem.rules.stages > 1;
        shape(out, at(whole), Stroke::Medium, Fill::Gray);
        for &(from, to) in &stock.bad {
            let a = Area {
                x: from,
                length: to - from,
                ..whole
            };
            shape(out, at(a), Stroke::None, Fill::Paper);
            shape(out, at(a), Stroke::Thin, Fill::Crossed);
        }
        for a in offcuts(problem, cut) {
            shape(out, at(a), Stroke::Dashed, Fill::Paper);
            let size = match problem.rules.goods {
                Goods::Linear => problem.size(a.length),
                Goods::Boards | Goods::Glass => {
                    format!("{} x {}", problem.size(a.length), problem.size(a.width))
                }
            };
            label(
                out,
                at(a),
                &[
                    vec!["keep".to_owned(), size.clone()],
                    vec![format!("keep {size}")],
                    vec![size],
                ],
            );
        }
        for (key, (part, a)) in (1..).zip(pieces(problem, cut)) {
            shape(out, at(a), Stroke::Thin, Fill::Paper);
            let part_words = super::cuts::spoken(&problem.parts[part].mark);
            let size = words::part_size(problem, part);
            let variants = variants(key, marks.at(place, key - 1), part_words, size);
            if !label(out, at(a), &variants) {
                label(out, at(a), &[vec![key.to_string()]]);
            }
        }
        first_cuts(problem, cut, (at(whole), scale), out);
        top + at(whole).height + if below { SIZES } else { 50 }
    }
}

/// What may be on a piece, from the fullest to the shortest.
fn variants(key: usize, mark: Option<String>, part: String, size: String) -> Vec<Vec<String>> {
    let (first, then) = match mark {
        Some(mark) => (mark, part),
        None => (part, String::new()),
    };
    let lines = |texts: &[&String]| -> Vec<String> {
        let texts = texts.iter().filter(|t| !t.is_empty());
        let mut lines: Vec<String> = texts.map(|t| (*t).clone()).collect();
        if let Some(line) = lines.first_mut() {
            *line = format!("{key}: {line}");
        }
        lines
    };
    let whole = lines(&[&first, &then, &size]);
    let level = vec![whole.join(", ")];
    let both = lines(&[&first, &size]);
    let short = vec![both.join(", ")];
    let mut out = vec![whole, level, both, short];
    if !first.is_empty() {
        out.push(lines(&[&first]));
    }
    out
}

/// The sizes of the sections, below them or beside them.
fn first_cuts(
    problem: &Problem,
    cut: &PlannedCut,
    (whole, scale): (Drawn, Scale),
    out: &mut Drawing,
) {
    if problem.rules.stages < 2 {
        return;
    }
    let letters = LETTERS[1];
    for section in &cut.sections {
        let text = problem.size(section.size);
        let (from, size) = (scale.of(section.at), scale.of(section.size));
        let (point, anchor, room) = match cut.along {
            true => {
                let middle = whole.y + whole.height - from - size / 2;
                let point = Point::new(mm(whole.width + 150), mm(middle + letters / 2));
                (point, Anchor::Start, size * 100 / LINE)
            }
            false => {
                let point = Point::new(
                    mm(from + size / 2),
                    mm(whole.y + whole.height + 100 + letters),
                );
                (point, Anchor::Middle, size)
            }
        };
        let needs = match cut.along {
            true => letters,
            false => long(&text, letters),
        };
        if needs <= room {
            out.text(point, mm(letters), anchor, text);
        }
    }
}

/// A whole plan on one drawing, stock below stock, each with its number and name.
pub(super) fn whole(problem: &Problem, plan: &Plan, title: &str) -> Drawing {
    let (figures, marks) = (Figures::of(problem, plan), Marks::of(problem, plan));
    let mut out = Drawing::new(title, mm(PAGE), Exact::ZERO);
    let mut y = 400;
    let text = |out: &mut Drawing, y: i64, letters: i64, words: &str| {
        out.text(
            Point::new(Exact::ZERO, mm(y)),
            mm(letters),
            Anchor::Start,
            words,
        );
    };
    text(&mut out, y, 300, title);
    for (at, cut) in plan.cuts.iter().enumerate() {
        text(
            &mut out,
            y + 600,
            250,
            &super::cuts::titled(problem, (at + 1, cut)),
        );
        y = figures.put(problem, (at, cut), &marks, y + 700, &mut out);
    }
    out.height = mm(y + 200);
    out
}

/// How far a stock goes up the page: a bar is drawn as high as its label needs.
fn across(problem: &Problem, stock: &Stock) -> i64 {
    match problem.rules.goods {
        Goods::Linear => {
            let longest = problem.stocks.iter().map(|s| s.length).max();
            (longest.unwrap_or(1) * 6 / 178).max(1)
        }
        Goods::Boards | Goods::Glass => stock.width,
    }
}

fn mm(hundredths: i64) -> Exact {
    Exact::ratio(hundredths, 100).unwrap_or(Exact::ZERO)
}

fn shape(out: &mut Drawing, d: Drawn, stroke: Stroke, fill: Fill) {
    out.rect(
        &Point::new(mm(d.x), mm(d.y)),
        &mm(d.width),
        &mm(d.height),
        stroke,
        fill,
    );
}

/// How long a text is with letters of a height.
fn long(text: &str, letters: i64) -> i64 {
    crate::ids::count(text.chars().count()) * letters * ADVANCE / 100
}

/// Writes the first of some texts that fits into a rectangle, in the largest letters with which one does, level or else upright; whether one did.
fn label(out: &mut Drawing, d: Drawn, variants: &[Vec<String>]) -> bool {
    let fits = |lines: &[String], letters: i64, (run, rise): (i64, i64)| {
        let high = crate::ids::count(lines.len()) * letters * LINE / 100;
        high <= rise + letters * (LINE - 125) / 100
            && lines.iter().all(|l| long(l, letters) + letters <= run)
    };
    for letters in LETTERS {
        for turned in [false, true] {
            let room = match turned {
                false => (d.width, d.height),
                true => (d.height, d.width),
            };
            if let Some(lines) = variants.iter().find(|lines| fits(lines, letters, room)) {
                write(out, d, lines, letters, turned);
                return true;
            }
        }
    }
    false
}

fn write(out: &mut Drawing, d: Drawn, lines: &[String], letters: i64, turned: bool) {
    let step = letters * LINE / 100;
    let high = step * (crate::ids::count(lines.len()) - 1) + letters;
    let (x, y) = (d.x + d.width / 2, d.y + d.height / 2);
    for (at, line) in (0..).zip(lines) {
        // From the middle of the lines to the foot of this one.
        let foot = letters - high / 2 + at * step;
        let point = match turned {
            false => Point::new(mm(x), mm(y + foot)),
            true => Point::new(mm(x + foot), mm(y)),
        };
        out.shapes.push(Shape::Text {
            at: point,
            size: mm(letters),
            anchor: Anchor::Middle,
            turned,
            text: line.clone(),
        });
    }
}
