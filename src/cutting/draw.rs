//! A plan drawn to scale as SVG: one drawing for each way a stock is cut, parts marked, bad stretches and offcuts worth keeping shown.

use super::model::{Problem, Stock};
use super::offcuts::{offcuts, pieces};
use super::plan::{Area, Plan, PlannedCut};
use crate::defuse::html;
use std::fmt::Write as _;

/// Width of the page in points.
const PAGE: i64 = 720;
/// Room for a line of text.
const LINE: i64 = 16;
const MARGIN: i64 = 12;

/// The whole plan as one SVG file, stock below stock, all on one scale.
pub fn svg(problem: &Problem, plan: &Plan, title: &str) -> String {
    let scale = Scale::of_plan(problem, plan);
    let mut body = String::new();
    let mut y = MARGIN + LINE;
    text(&mut body, MARGIN, y, 12, title);
    if !plan.finished {
        y += LINE;
        text(
            &mut body,
            MARGIN,
            y,
            12,
            "UNFINISHED: the search was interrupted",
        );
    }
    for (n, cut) in plan.cuts.iter().enumerate() {
        y += MARGIN;
        y = draw(&mut body, problem, (n, cut), &scale, y);
    }
    whole(&body, y + MARGIN)
}

/// A drawing for each way a stock is cut, with the number that the list of cuts gives it, all on one scale.
pub fn each(problem: &Problem, plan: &Plan) -> Vec<String> {
    let scale = Scale::of_plan(problem, plan);
    let one = |cut| {
        let mut body = String::new();
        let y = draw(&mut body, problem, cut, &scale, 0);
        whole(&body, y + 2)
    };
    plan.cuts.iter().enumerate().map(one).collect()
}

fn whole(body: &str, height: i64) -> String {
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{PAGE}pt\" height=\"{height}pt\" viewBox=\"0 0 {PAGE} {height}\" \
         font-family=\"sans-serif\">\n{body}</svg>\n"
    )
}

/// Draws one piece of stock below a height; the height below it.
fn draw(
    body: &mut String,
    problem: &Problem,
    (n, cut): (usize, &PlannedCut),
    scale: &Scale,
    top: i64,
) -> i64 {
    let stock = &problem.stocks[cut.stock];
    let y = top + LINE;
    let words = format!("{}. {}", n + 1, caption(problem, cut));
    text(body, MARGIN, y, 10, &words);
    let y = y + 5;
    let at = |a: Area| Drawn {
        x: scale.of(a.x) + MARGIN * 100,
        y: scale.of(a.y) + y * 100,
        width: scale.of(a.length),
        height: scale.of(a.width),
    };
    let across = |x: i64, length: i64| Area {
        x,
        y: 0,
        length,
        width: stock.width,
    };
    rectangle(body, at(across(0, stock.length)), "#f3ead8");
    for &(from, to) in &stock.bad {
        rectangle(body, at(across(from, to - from)), "#b8a98c");
    }
    for a in offcuts(problem, cut) {
        rectangle(body, at(a), "#dfe9d4");
        let words = format!(
            "keep {} x {}",
            problem.size(a.length),
            problem.size(a.width)
        );
        label(body, at(a), &words);
    }
    for (part, a) in pieces(problem, cut) {
        rectangle(body, at(a), "#ffffff");
        label(body, at(a), &name(problem, part));
    }
    y + scale.of(stock.width) / 100
}

/// How a part is called on drawings and lists: its mark, or its size.
pub fn name(problem: &Problem, part: usize) -> String {
    let p = &problem.parts[part];
    if !p.mark.is_empty() {
        p.mark.clone()
    } else if problem.rules.stages == 1 {
        problem.size(p.length)
    } else {
        format!("{} x {}", problem.size(p.length), problem.size(p.width))
    }
}

/// How a stock is called.
pub fn stock_name(problem: &Problem, stock: usize) -> String {
    let s = &problem.stocks[stock];
    let size = match (problem.rules.stages, s.thick) {
        (1, _) => problem.size(s.length),
        (_, 0) => format!("{} x {}", problem.size(s.length), problem.size(s.width)),
        (_, t) => format!(
            "{} x {} x {}",
            problem.size(s.length),
            problem.size(s.width),
            problem.size(t)
        ),
    };
    let size = format!("{size} {}", problem.shown_unit());
    if s.mark.is_empty() {
        size
    } else {
        format!("{}, {size}", s.mark)
    }
}

fn caption(problem: &Problem, cut: &PlannedCut) -> String {
    let times = if cut.times > 1 {
        format!("{} of ", cut.times)
    } else {
        String::new()
    };
    format!("{times}{}", stock_name(problem, cut.stock))
}

struct Scale {
    longest: i64,
}

impl Scale {
    /// The scale on which all stock of a plan fits the page; nothing is drawn higher than half its width.
    fn of_plan(problem: &Problem, plan: &Plan) -> Scale {
        let most = |size: fn(&Stock) -> i64| {
            let sizes = plan.cuts.iter().map(|c| size(&problem.stocks[c.stock]));
            sizes.max().unwrap_or(1)
        };
        Scale {
            longest: most(|s| s.length).max(2 * most(|s| s.width)).max(1),
        }
    }

    /// Hundredths of a point, rounded down: the one rounding of a drawing.
    fn of(&self, units: i64) -> i64 {
        units * (PAGE - 2 * MARGIN) * 100 / self.longest
    }
}

/// A rectangle on the page in hundredths of a point.
#[derive(Clone, Copy)]
struct Drawn {
    x: i64,
    y: i64,
    width: i64,
    height: i64,
}

fn points(hundredths: i64) -> String {
    format!("{}.{:02}", hundredths / 100, hundredths % 100)
}

fn rectangle(out: &mut String, d: Drawn, fill: &str) {
    let _ = writeln!(
        out,
        "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" fill=\"{fill}\" stroke=\"#333\" stroke-width=\"0.4\"/>",
        points(d.x),
        points(d.y),
        points(d.width),
        points(d.height)
    );
}

/// Words in a rectangle, where there is room for them.
fn label(out: &mut String, d: Drawn, words: &str) {
    let size = 700.min(d.height * 8 / 10);
    let long = words.chars().count() as i64 * size * 6 / 10;
    if size < 250 || long > d.width {
        return;
    }
    let _ = writeln!(
        out,
        "<text x=\"{}\" y=\"{}\" font-size=\"{}\" text-anchor=\"middle\">{}</text>",
        points(d.x + d.width / 2),
        points(d.y + d.height / 2 + size * 35 / 100),
        points(size),
        html(words)
    );
}

fn text(out: &mut String, x: i64, y: i64, size: i64, words: &str) {
    let _ = writeln!(
        out,
        "<text x=\"{x}\" y=\"{y}\" font-size=\"{size}\">{}</text>",
        html(words)
    );
}
