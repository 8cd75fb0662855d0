//! A new job on the shipped sheets: its sheets, its price book and its survey form, all made from the checked job.
//!
//! Keeps no templates: what a sheet asks for is in the form because it is in the sheet. Writes no files itself.
//!
//! ```
//! let files = ovolo::start::files("A mill", Some("2026-03-21")).expect("the shipped sheets are sound");
//! let names: Vec<&str> = files.iter().map(|file| file.name).collect();
//! assert_eq!(names, ["job.ovo", "site.ovo", "shop.ovo", "prices.csv", "survey.xlsx"]);
//! ```

// A match over kinds lists them all, so that a new kind is noticed everywhere, and no conversion fails silently.
#![warn(
    clippy::wildcard_enum_match_arm,
    clippy::match_wildcard_for_single_variants
)]
#![warn(clippy::as_conversions)]

mod example;
mod form;
mod sheets;
mod wording;

use crate::check::{self, Checked, Loaded, Options};
use crate::diagnostics::{Diagnostic, Sources, any_error};
use crate::prices::blank_book;
use crate::program::ValueDef;
use crate::session::{Job, Texts};
use crate::study::{Ranked, Study, rank_some};
use crate::survey::{ReadOptions, SetAside};
use crate::syntax::tidy::tidy;
use crate::units::Base;
use crate::{eval, library};
use std::sync::Arc;

/// The shipped sheet that a new job is made on.
const WHOLE: &str = "library:whole-job.ovo";

/// What sources say of figures that nobody measured.
const FROM_MEMORY: &[&str] = &["no source", "from memory", "own log"];

/// A file of a new job.
#[derive(Debug)]
pub struct StartFile {
    /// Its name in the folder.
    pub name: &'static str,
    /// What it is for, in a few words.
    pub about: &'static str,
    /// What it holds.
    pub bytes: Vec<u8>,
}

/// The files of a job called `title`, of the day `issued` where one is given.
/// Errors: messages with the texts they point into; the shipped sheets give none.
pub fn files(
    title: &str,
    issued: Option<&str>,
) -> Result<Vec<StartFile>, (Vec<Diagnostic>, Sources)> {
    let (loaded, checked) = checked(&seed(""))?;
    let paces = paces(&loaded, &checked);
    let job = sheets::New {
        title,
        issued,
        loaded: &loaded,
        program: &checked.program,
    };
    let form = form::write(title, &checked.program).map_err(|d| (vec![d], Sources::default()))?;
    let file = |name, about, bytes| StartFile { name, about, bytes };
    Ok(vec![
        file(
            "job.ovo",
            "names the survey, the prices and the sheets",
            in_standard_form(job.job()),
        ),
        file(
            "site.ovo",
            "the facts of the building, the owner and the bid to answer",
            in_standard_form(job.site()),
        ),
        file(
            "shop.ovo",
            "the paces that move the hours most, to overwrite with your own log",
            in_standard_form(job.shop(&paces)),
        ),
        file(
            "prices.csv",
            "every resource with its unit and pack; the prices are yours to fill in",
            blank_book(&checked.program, |_| true).into_bytes(),
        ),
        file(
            "survey.xlsx",
            "the survey form to fill in, on screen or on paper",
            form,
        ),
    ])
}

/// A job on the shipped sheets with these lines in its block.
fn seed(lines: &str) -> String {
    format!(
        "sheet \"new\" layer job\nuse \"{WHOLE}\"\njob {{\n  issued 2000-01-01\n  money USD\n{lines}}}\n"
    )
}

fn checked(text: &str) -> Result<(Loaded, Checked), (Vec<Diagnostic>, Sources)> {
    let held = Texts::from([("new.ovo", text)]);
    let (loaded, mut problems) = check::load_for_run(&["new.ovo".to_owned()], &held);
    let (checked, found) = check::check(&loaded, Options::default());
    problems.extend(found);
    match checked.filter(|_| !any_error(&problems)) {
        Some(checked) => Ok((loaded, checked)),
        None => Err((problems, loaded.sources)),
    }
}

/// Paces in the order of what their ranges do to the hours of the example of the form; none where the example can't be calculated.
fn paces(loaded: &Loaded, checked: &Checked) -> Vec<Ranked> {
    let program = &checked.program;
    let tables = example::tables(program);
    let lines: String = tables
        .iter()
        .map(|t| format!("  survey {0} from \"{0}.csv\"\n", t.name))
        .collect();
    let surveys = tables.iter().map(|t| (format!("{}.csv", t.name), t.csv()));
    let job = ("new.ovo".to_owned(), seed(&lines));
    let held: Texts = surveys.chain([job]).collect();
    let Ok(mut job) = Job::open("new.ovo", Options::default(), None, Arc::new(held)) else {
        return Vec::new();
    };
    let survey = job.survey(&SetAside::Nothing, false, &ReadOptions::default());
    let Ok(survey) = survey else {
        return Vec::new();
    };
    let study = Study {
        loaded,
        program,
        survey: &survey,
        book: &sheets::an_hour_costs_one(program),
        options: &eval::Options::default(),
    };
    let unsure = |v: &ValueDef| {
        let said = format!(
            "{} {}",
            v.source.as_deref().unwrap_or(""),
            v.note.as_deref().unwrap_or("")
        );
        let is_pace = v
            .unit
            .as_ref()
            .is_some_and(|u| u.dim().exponent(Base::Labor) != 0);
        is_pace && FROM_MEMORY.iter().any(|words| said.contains(words))
    };
    rank_some(&study, None, unsure).map_or_else(|_| Vec::new(), |(_, ranked)| ranked)
}

fn in_standard_form(sheet: String) -> Vec<u8> {
    tidy(&sheet).unwrap_or(sheet).into_bytes()
}

/// The line of the job block that records the library.
fn library_line() -> String {
    format!("library \"{}\"", library::stamp())
}
