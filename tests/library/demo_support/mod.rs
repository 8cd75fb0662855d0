//! Opens the demo job from its folder, as the command does, for tests of the library.
#![allow(missing_docs, unreachable_pub, dead_code)]

use std::path::{Component, Path, PathBuf};

use ovolo::check::{self, Checked, Finder, Loaded, Options};
use ovolo::estimate::{self, Survey, Worked};
use ovolo::eval;
use ovolo::prices::{BookSource, PriceBook, read_book};
use ovolo::pricing::Origin;
use ovolo::program::FileInput;
use ovolo::survey::{self, Content, ReadOptions, SourceFile};
use ovolo::takeoff::Wish;

pub const JOB: &str = "demo-data/tallowgate-school/job.ovo";

/// Sheets from the repository, some of them with other words in them.
#[derive(Default)]
pub struct Folder {
    /// End of a file's name, text to look for, text to put there.
    pub edits: Vec<(&'static str, &'static str, &'static str)>,
    /// Marks whose lines are left out of the survey and of what hangs below it.
    pub dropped: Vec<&'static str>,
    /// Marks whose line in the survey is there twice, the second time with another mark.
    pub doubled: Vec<(&'static str, &'static str)>,
}

fn beside(path: &str, sheet: &str) -> PathBuf {
    let mut out = PathBuf::new();
    for part in Path::new(sheet)
        .parent()
        .unwrap_or(Path::new(""))
        .join(path)
        .components()
    {
        match part {
            Component::ParentDir if out.file_name().is_some() => {
                out.pop();
            }
            Component::CurDir => {}
            other => out.push(other),
        }
    }
    out
}

impl Folder {
    fn text(&self, name: &str) -> Result<String, String> {
        let root = Path::new(env!("CARGO_MANIFEST_DIR"));
        let mut text = std::fs::read_to_string(root.join(name)).map_err(|e| e.to_string())?;
        for (file, from, to) in &self.edits {
            if name.ends_with(file) {
                assert!(text.contains(from), "{name} does not hold {from}");
                text = text.replace(from, to);
            }
        }
        if name.ends_with(".csv") && name.contains("demo-data") {
            text = text
                .lines()
                .flat_map(|line| self.lines(name, line))
                .map(|l| l + "\n")
                .collect();
        }
        Ok(text)
    }

    /// What becomes of a line of a survey.
    fn lines(&self, name: &str, line: &str) -> Vec<String> {
        let has = |mark: &str| line.split([',', ';']).any(|cell| cell.trim() == mark);
        // A soft place of a sash names the sash: M-13-1.
        let below = |mark: &str| {
            let cells = line.split(',').map(str::trim);
            cells
                .filter_map(|cell| cell.strip_prefix(mark))
                .any(|rest| rest.starts_with('-'))
        };
        if self.dropped.iter().any(|mark| has(mark) || below(mark)) {
            return vec![];
        }
        let mut out = vec![line.to_owned()];
        for (mark, other) in &self.doubled {
            if name.ends_with("survey.csv") && has(mark) {
                out.push(line.replacen(mark, other, 1));
            }
        }
        out
    }

    fn source(&self, loaded: &Loaded, input: &FileInput) -> SourceFile<'static> {
        let name = beside(&input.path, loaded.sources.name(input.span.file))
            .display()
            .to_string();
        let text = self.text(&name).expect("a file of the demo");
        SourceFile {
            name,
            content: Content::Bytes(text.into_bytes()),
        }
    }
}

impl Finder for Folder {
    fn find(&self, path: &str, from: Option<&str>) -> Result<(String, String), String> {
        let name = from
            .map_or_else(|| PathBuf::from(path), |sheet| beside(path, sheet))
            .display()
            .to_string();
        self.text(&name).map(|text| (name, text))
    }
}

pub struct Demo {
    pub loaded: Loaded,
    pub checked: Checked,
    pub survey: Survey,
    pub book: PriceBook,
}

impl Demo {
    pub fn open(folder: &Folder) -> Demo {
        let (loaded, problems) = check::load(&[JOB.to_owned()], folder);
        assert!(problems.is_empty(), "{problems:?}");
        let (checked, problems) = check::check(
            &loaded,
            Options {
                alternates: true,
                trials: false,
            },
        );
        let checked = checked.unwrap_or_else(|| panic!("{problems:#?}"));
        let program = &checked.program;
        let mut survey = Survey::default();
        for (at, info) in program.tables.iter().enumerate() {
            let input = program
                .terms
                .surveys
                .iter()
                .find(|s| s.table.index() == at)
                .expect("a file for each table");
            let files = input
                .files
                .iter()
                .map(|f| folder.source(&loaded, f))
                .collect();
            let options = ReadOptions {
                keep_text: true,
                ..ReadOptions::default()
            };
            let above = info
                .parent
                .map(|p| (&program.tables[p].schema, &survey.tables[p.index()]));
            let reading = survey::read(
                &info.schema,
                &program.nouns,
                program.currency.as_deref(),
                files,
                &options,
                above,
            )
            .and_then(|read| match info.parent {
                Some(p) if info.schema.is_completed() => {
                    let above = survey::Above {
                        schema: &program.tables[p].schema,
                        table: &survey.tables[p.index()],
                        texts: survey.texts[p.index()].as_ref(),
                    };
                    survey::complete(
                        &info.schema,
                        above,
                        Some(read),
                        &survey::ReadOptions::default(),
                    )
                }
                _ => Ok(read),
            })
            .expect("the survey is sound");
            survey.tables.push(reading.table);
            survey.reports.push(reading.report);
            survey.texts.push(reading.texts);
        }
        let book = program
            .terms
            .prices
            .iter()
            .map(|input| BookSource {
                file: folder.source(&loaded, input),
                tab: None,
            })
            .collect();
        let book = read_book(program, book).expect("the price book is sound");
        Demo {
            loaded,
            checked,
            survey,
            book,
        }
    }

    pub fn work(&self, version: usize, wish: Wish) -> Worked {
        let options = eval::Options::default();
        estimate::estimate(
            &self.checked.program,
            version,
            &self.survey,
            &self.book,
            wish,
            &[],
            &options,
            Origin::default(),
        )
        .expect("the demo runs")
    }
}
