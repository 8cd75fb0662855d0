//! Entries of windows on pages: what is set closer, and how many pages the demonstration's windows need.

use super::papers::sample;
use super::pdf::{long_table, texts};
use ovolo::check::Finder;
use ovolo::eval::Options;
use ovolo::lists::{Made, wanted};
use ovolo::paper::{Block, Head, Paper};
use ovolo::report::pdf::{Laid, lay_out};
use ovolo::session::{Ask, Files, Session, Stamp};
use std::collections::BTreeMap;
use std::io::{Cursor, Read};
use std::path::Path;
use std::sync::Arc;

/// The sheets of the trade and the files of the demonstration, whose names are all different.
struct Demo;

impl Finder for Demo {
    fn find(&self, path: &str, _from: Option<&str>) -> Result<(String, String), String> {
        let root = Path::new(env!("CARGO_MANIFEST_DIR"));
        let name = path.rsplit('/').next().unwrap_or(path);
        let mut folders = ["demo-data/tallowgate-school", "sheets", "sheets/reference"].into_iter();
        let text = folders.find_map(|f| std::fs::read_to_string(root.join(f).join(name)).ok());
        let text = text.ok_or_else(|| format!("there is no file {name}"))?;
        Ok((name.to_owned(), text))
    }
}

impl Files for Demo {
    fn name(&self, path: &str, _from: &str) -> String {
        path.to_owned()
    }

    fn open(&self, name: &str) -> Result<Box<dyn Read + Send>, String> {
        let (_, text) = self.find(name, None)?;
        Ok(Box::new(Cursor::new(text.into_bytes())))
    }

    fn stamp(&self, _name: &str) -> Option<Stamp> {
        None
    }
}

/// The pages of each entry by its mark, from the page with its heading to the next heading.
fn pages(laid: &Laid, marks: &[String]) -> BTreeMap<String, usize> {
    let mut out: BTreeMap<String, usize> = BTreeMap::new();
    let mut at: Option<&String> = None;
    for page in &laid.pages {
        let begins = |mark: &&String| {
            let words = format!("{mark}: ");
            let mut own = texts(page).into_iter();
            own.any(|(p, t)| p.role != ovolo::report::pdf::Role::Furniture && t.starts_with(&words))
        };
        at = marks.iter().find(begins).or(at);
        if let Some(mark) = at {
            *out.entry(mark.clone()).or_default() += 1;
        }
    }
    out
}

/// Each entry's mark, and whether every member of it is retained.
fn entries(paper: &Paper) -> Vec<(String, bool)> {
    let lists = || paper.tables();
    let openings = lists().find(|t| t.name == "opening_list");
    let marks: Vec<&str> = openings
        .expect("the openings")
        .lines()
        .map(|r| &*r.cells[0].text)
        .collect();
    let mut out: Vec<(String, bool)> = Vec::new();
    for block in &paper.blocks {
        match block {
            Block::Heading(text) => {
                let mark = text.split_once(": ").map(|(mark, _)| mark);
                out.extend(
                    mark.filter(|m| marks.contains(m))
                        .map(|m| (m.to_owned(), true)),
                );
            }
            Block::Table(table) if table.name == "member_list" => {
                let column = table.columns.iter().position(|c| c.name == "treatment");
                let column = column.expect("a treatment");
                let last = out.last_mut().expect("an entry");
                last.1 = table
                    .lines()
                    .all(|row| &*row.cells[column].text == "retain");
            }
            _ => {}
        }
    }
    out
}

/// Issue of this project: a plain window has one page, and so has the window in the middle; a long entry names itself on each page.
#[test]
fn a_plain_window_has_one_page() {
    let ask = Ask {
        job: "handover.ovo".into(),
        ..Ask::default()
    };
    let mut session = Session::new(ask, Arc::new(Demo));
    let moved = session.apply(&[], &Default::default());
    moved.unwrap_or_else(|no| panic!("{:?}", no.problems));
    let job = session.run().expect("it is worked");
    let (program, tables) = (&job.job.checked.program, job.survey.inputs().tables);
    let version = &program.versions[0];
    let nodes = wanted(program, version);
    let worked = ovolo::estimate::estimate(
        program,
        0,
        &job.survey,
        &job.book,
        Default::default(),
        &nodes,
        &Options::default(),
        Default::default(),
    );
    let worked = worked.expect("it is worked");
    let made = Made::new(program, version, &tables, &worked.results, &worked.estimate);
    for (name, most) in [("treatment_schedule", 2), ("record", 1)] {
        let papers = ovolo::lists::papers(&made, Some(name), &|_| Head::default());
        let paper = papers.expect("they add up").remove(0).kept();
        let entries = entries(&paper);
        assert_eq!(entries.len(), 61);
        let marks: Vec<String> = entries.iter().map(|(mark, _)| mark.clone()).collect();
        let pages = pages(&lay_out(&paper), &marks);
        let mut counts: Vec<usize> = pages.values().copied().collect();
        counts.sort_unstable();
        assert_eq!(counts[counts.len() / 2], 1, "the window in the middle");
        assert!(counts.iter().all(|n| *n <= most), "{pages:?}");
        let plain: Vec<&String> = entries
            .iter()
            .filter(|(_, kept)| *kept)
            .map(|(mark, _)| mark)
            .collect();
        assert!(plain.len() > 3, "{plain:?}");
        for mark in plain {
            assert_eq!(pages[mark], 1, "{mark}");
        }
    }
}

/// What needs a few lines of another page is set closer; what needs many pages, or stands on one, is set as usual.
#[test]
fn a_closer_setting_saves_a_page() {
    let paper = |lines: i64| Paper {
        blocks: vec![
            Block::Text("before".to_owned()),
            Block::PageBreak,
            Block::Heading("A window".to_owned()),
            Block::Table(long_table(lines)),
        ],
        ..sample()
    };
    // From one line to the next a stretch is taken off and put back, and no line is lost or doubled.
    let mut saved = 0;
    for lines in 4..60 {
        let laid = lay_out(&paper(lines));
        let all: Vec<String> = laid
            .pages
            .iter()
            .flat_map(texts)
            .map(|(_, t)| t.to_owned())
            .collect();
        for n in 0..lines {
            let mark = format!("N{n}");
            assert_eq!(all.iter().filter(|t| **t == mark).count(), 1, "{mark}");
        }
        let heights: Vec<i64> = laid.pages[1..]
            .iter()
            .flat_map(texts)
            .filter(|(_, t)| *t == "stile")
            .map(|(p, _)| p.y)
            .collect();
        let closest = heights.windows(2).map(|w| (w[1] - w[0]).abs()).min();
        saved += usize::from(laid.pages.len() == 2 && closest < Some(5400));
    }
    assert!(saved > 0, "some table is set closer");
}
