//! Head and foot of every page.

use super::faces::Lacking;
use super::flow::{BODY, FOOT, Flow, HEAD, HEADING, STRONG};
use super::pages::{Format, MM, Part, Placed, Role, Um, What};
use super::wrap::{self, Type};
use crate::paper::{Paper, State};

/// Issue and date, where there are any.
fn issued(paper: &Paper) -> Vec<String> {
    let number = paper.head.issue.map(|n| format!("issue {n}"));
    number.into_iter().chain(paper.head.date.clone()).collect()
}

/// The job, whom the paper is for, its version, issue and date.
pub(super) fn particulars(paper: &Paper) -> String {
    let mut list = vec![
        paper.head.job.clone(),
        format!("for {}", paper.reader.whom()),
        paper.head.version.clone(),
    ];
    list.extend(issued(paper));
    list.retain(|words| !words.is_empty());
    list.join(" \u{b7} ")
}

/// Puts head and foot on every page.
pub(super) fn add(flow: &mut Flow, paper: &Paper) {
    // The first page has these texts too, and there their signs are counted.
    let mut counted = Lacking::default();
    let job = counted.printable(&paper.head.job).into_owned();
    let mut what = vec![paper.title.clone(), format!("for {}", paper.reader.whom())];
    what.push(paper.head.version.clone());
    what.extend(issued(paper));
    what.retain(|words| !words.is_empty());
    let what = what.join(" \u{b7} ");
    let what = counted.printable(&what).into_owned();
    let headings = gone_on_with(flow);
    let made = counted.printable(&made_by(paper)).into_owned();
    let many = flow.pages.len();
    for (at, (page, heading)) in flow.pages.iter_mut().zip(headings).enumerate() {
        let mut put = Put {
            format: page.format,
            placed: &mut page.placed,
        };
        match heading {
            None => put.head(&job, &what, paper),
            Some(heading) => {
                let heading = counted.printable(&heading).into_owned();
                put.head(&job, &format!("{heading}, continued \u{b7} {what}"), paper);
            }
        }
        put.foot(at + 1, many, &made, paper);
    }
}

/// The heading that each page goes on with: the last one before it since a page break, where the page does not begin with one.
fn gone_on_with(flow: &Flow) -> Vec<Option<String>> {
    let heading = |placed: &Placed| match placed.role {
        Role::Of { part, .. } => match flow.parts.get(part) {
            Some(Part::Heading(text)) => Some(text.clone()),
            _ => None,
        },
        Role::Furniture => None,
    };
    let mut last: Option<String> = None;
    let mut out = Vec::with_capacity(flow.pages.len());
    for (at, page) in flow.pages.iter().enumerate() {
        if flow.begun.contains(&at) {
            last = None;
        }
        let first = page.placed.iter().find(|p| p.role != Role::Furniture);
        let begins = first.is_some_and(|p| heading(p).is_some());
        out.push(last.clone().filter(|_| !begins));
        last = page.placed.iter().rev().find_map(heading).or(last);
    }
    out
}

/// Record, program and how cents are rounded.
fn made_by(paper: &Paper) -> String {
    let head = &paper.head;
    let mut list = Vec::new();
    if !head.record.is_empty() {
        list.push(format!("record {}", head.record));
    }
    list.push(head.program.clone());
    list.push(paper.cents().to_owned());
    list.retain(|words| !words.is_empty());
    list.join(" \u{b7} ")
}

struct Put<'a> {
    format: Format,
    placed: &'a mut Vec<Placed>,
}

impl Put<'_> {
    fn text(&mut self, text: &str, of: Type, x: Um, y: Um) {
        self.placed.push(Placed {
            x,
            y: y + of.rise(),
            what: What::Text {
                text: text.to_owned(),
                face: of.face,
                capital: of.capital,
                width: of.width(text),
            },
            role: Role::Furniture,
        });
    }

    fn rule(&mut self, y: Um, weight: Um) {
        self.placed.push(Placed {
            x: 0,
            y,
            what: What::Rule {
                right: self.format.net().0,
                down: 0,
                weight,
            },
            role: Role::Furniture,
        });
    }

    fn head(&mut self, job: &str, what: &str, paper: &Paper) {
        let width = self.format.net().0;
        let mut room = width;
        if paper.state == State::Draft {
            let words = paper.state_text();
            let wide = HEADING.width(words);
            let frame = wide + 3 * MM;
            room -= frame + 4 * MM;
            self.text(words, HEADING, width - frame + 1500, 0);
            self.placed.push(Placed {
                x: width - frame,
                y: 0,
                what: What::Frame {
                    width: frame,
                    height: 5000,
                    weight: 500,
                },
                role: Role::Furniture,
            });
        }
        self.text(&fitted(job, STRONG, room), STRONG, 0, 400);
        self.text(&fitted(what, BODY, width), BODY, 0, 5200);
        self.rule(HEAD - 2200, 350);
    }

    fn foot(&mut self, number: usize, many: usize, made: &str, paper: &Paper) {
        let (width, height) = self.format.net();
        let top = height - FOOT + 2 * MM;
        self.rule(top, 350);
        let page = format!("page {number} of {many}");
        let used = STRONG.width(&page) + 6 * MM;
        self.text(&page, STRONG, 0, top + 500);
        let made = fitted(made, BODY, width - used);
        self.text(&made, BODY, width - BODY.width(&made), top + 500);
        let doubts = paper.head.doubts.len();
        // The first page has them themselves.
        if doubts > 0 && number > 1 {
            let words = match doubts {
                1 => "1 thing is doubtful or set aside: see page 1".to_owned(),
                n => format!("{n} things are doubtful or set aside: see page 1"),
            };
            self.text(&words, BODY, 0, top + 500 + BODY.pitch());
        }
    }
}

/// The text on one line; of one that is longer the end is left out, and dots say so. The first page holds it whole.
pub(super) fn fitted(text: &str, of: Type, width: Um) -> String {
    let text = text.replace('\n', " ");
    if of.width(&text) <= width {
        return text;
    }
    let room = width - of.width("\u{2026}");
    let mut line = wrap::lines(&text, of, room)
        .into_iter()
        .next()
        .unwrap_or_default();
    line.push('\u{2026}');
    line
}
