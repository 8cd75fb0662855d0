//! What is left of the stock when a plan is cut.

use super::model::{Goods, Problem, Run};
use super::plan::{Area, PlannedCut, area};

/// Every piece in its place, with the part it becomes.
pub(crate) fn pieces(problem: &Problem, cut: &PlannedCut) -> Vec<(usize, Area)> {
    let mut list = Vec::new();
    for section in &cut.sections {
        for strip in &section.strips {
            for piece in &strip.pieces {
                let part = &problem.parts[piece.part];
                let (long, wide) = if piece.turned == cut.along {
                    (part.length, part.width)
                } else {
                    (part.width, part.length)
                };
                list.push((piece.part, area(cut, piece.at, strip.at, long, wide)));
            }
        }
    }
    list
}

/// Offcuts worth keeping, the largest first.
pub(crate) fn offcuts(problem: &Problem, cut: &PlannedCut) -> Vec<Area> {
    let (length, width) = problem.rules.keep;
    let mut list: Vec<Area> = leftovers(problem, cut)
        .into_iter()
        .filter(|a| a.length >= length.max(1) && a.width >= width.max(1))
        .collect();
    list.sort_by_key(|a| (std::cmp::Reverse(a.length * a.width), *a));
    list
}

fn leftovers(problem: &Problem, cut: &PlannedCut) -> Vec<Area> {
    let rules = &problem.rules;
    let stock = &problem.stocks[cut.stock];
    let edge = if rules.goods == Goods::Glass {
        stock.trim
    } else {
        0
    };
    let (between, beside) = if cut.along {
        (rules.rip, rules.crosscut)
    } else {
        (rules.crosscut, rules.rip)
    };
    let clear = stock.clear_width(rules.goods);
    let length = stock.length - 2 * stock.trim;
    // Runs along the pieces, and how far the stock goes across them.
    let (runs, low, high) = if cut.along {
        (
            vec![Run {
                from: edge,
                length: clear,
            }],
            stock.trim,
            stock.trim + length,
        )
    } else {
        (stock.runs(rules.crosscut), edge, edge + clear)
    };
    let mut list = Vec::new();
    for run in runs {
        let mut free = run.from;
        for section in cut
            .sections
            .iter()
            .filter(|s| s.at >= run.from && s.at < run.from + run.length)
        {
            free = section.at + section.size + between;
            let mut side = low;
            for strip in &section.strips {
                side = strip.at + strip.width + beside;
                let mut end = section.at;
                for piece in &strip.pieces {
                    let part = &problem.parts[piece.part];
                    end = piece.at
                        + between
                        + if piece.turned == cut.along {
                            part.length
                        } else {
                            part.width
                        };
                }
                list.push(area(
                    cut,
                    end,
                    strip.at,
                    section.at + section.size - end,
                    strip.width,
                ));
            }
            list.push(area(cut, section.at, side, section.size, high - side));
        }
        list.push(area(
            cut,
            free,
            low,
            run.from + run.length - free,
            high - low,
        ));
    }
    list
}

#[cfg(test)]
mod tests {
    use crate::cutting::instance;
    use crate::cutting::offcuts::{offcuts, pieces};
    use crate::cutting::plan::{Area, PlacedPiece, PlacedSection, PlacedStrip, PlannedCut};

    #[test]
    fn what_is_left_of_a_board_by_hand() {
        let text = r#"{"kind":"boards","unit":"1/16 in","kerf":2,"keep":[50,20],
            "parts":[{"length":100,"w":30,"count":2}],
            "boards":[{"length":300,"w":80,"end_trim":8,"bad":[[200,210]],"cost":1,"available":1}]}"#;
        let problem = instance::read(text, "by hand").expect("a problem");
        let piece = PlacedPiece {
            at: 8,
            part: 0,
            turned: false,
        };
        let strip = |at| PlacedStrip {
            at,
            width: 30,
            pieces: vec![piece.clone()],
        };
        let section = PlacedSection {
            at: 8,
            size: 100,
            strips: vec![strip(0), strip(32)],
        };
        let cut = PlannedCut {
            stock: 0,
            times: 1,
            along: false,
            sections: vec![section],
        };
        // Behind the section 200 - 108 - 2 of the run; beyond the bad stretch 292 - 210; beside the strips 80 - 64, too narrow to keep.
        let area = |x, y, length, width| Area {
            x,
            y,
            length,
            width,
        };
        assert_eq!(
            offcuts(&problem, &cut),
            [area(110, 0, 90, 80), area(210, 0, 82, 80)]
        );
        assert_eq!(pieces(&problem, &cut)[1], (0, area(8, 32, 100, 30)));
    }
}
