//! `ovolo papers`: what is handed over, for whom, and the papers themselves.

use super::args::{Common, PapersArgs};
use super::issue::{Contents, Issue};
use super::job;
use super::progress::Progress;
use super::written::Target;
use super::{exit, output, record};
use ovolo::calendar::clock::date_of;
use ovolo::diagnostics::{Diagnostic, Place, render};
use ovolo::estimate::{self, Survey, Worked};
use ovolo::explain::change_order::change_order;
use ovolo::library;
use ovolo::lists::{self, ListRows, Made};
use ovolo::paper::{Head, Paper, Reader, State, Table};
use ovolo::prices::PriceBook;
use ovolo::pricing::{self, Estimate};
use ovolo::program::PaperDef;
use ovolo::report::office::{self, Book, Tab};
use ovolo::report::pdf::{self, Sheet};
use ovolo::report::{Cell, Column, Face, View, csv, papers, papers_json, some_marks, terminal};
use ovolo::session::{Job, Plans, Priced};
use ovolo::takeoff::Wish;
use sha2::{Digest, Sha256};
use std::collections::HashSet;
use std::process::ExitCode;
use std::sync::Arc;

/// A paper of the job, whose rows are made as they are written.
pub(super) type Chosen<'a> = Paper<ListRows<'a>>;

/// Works a job and lists its papers, shows one, or writes them.
pub fn run(args: &PapersArgs, common: &Common) -> Result<ExitCode, ExitCode> {
    let Asked {
        mut job,
        issue,
        target,
        against,
    } = asked_for(args, common)?;
    let last = issue.as_ref().and_then(Issue::last_record);
    let (survey, book, worked, plans) = work(&mut job, args, common)?;
    let refuse = |list: Vec<Diagnostic>| output::refuse(&list, &job.loaded.sources, common);
    let (program, tables) = (
        &job.checked.program,
        survey.tables.iter().collect::<Vec<_>>(),
    );
    let version = &program.versions[0];
    let mut made = Made::new(program, version, &tables, &worked.results, &worked.estimate);
    made.plans = &plans.kept;
    let elsewhere = args.to.is_some() || args.workbook.is_some() || args.csv.is_some();
    made.sums_only = common.json && args.paper.is_none() && !elsewhere;
    let others = match lists::asks_alternates(version) {
        true => alternates(&job, &survey, &book).map_err(|why| job::refused(why, &job, common))?,
        false => Vec::new(),
    };
    made.others = &others;
    let studies = studies(args, &job, (&survey, &book));
    made.studies = studies.map_err(|why| job::refused(why, &job, common))?;
    let subject = job.subject(0, &survey, &book, &worked);
    let earlier = against.as_ref().map(|e| &e.record);
    let earlier = earlier.or(last.as_ref().and_then(|l| l.as_ref().ok()));
    let change = earlier.filter(|_| lists::asks_changes(version));
    let change = change.map(|record| change_order(&subject, record));
    let change = change
        .transpose()
        .map_err(|why| job::refused(why, &job, common))?;
    made.change = change.as_ref();
    let asked = args.paper.as_deref();
    made.photographs = job.photographs(&lists::photographs(&made, asked));
    let chosen = lists::papers(&made, asked, &|reader| Head {
        issue: issue.as_ref().map(Issue::number),
        ..head(&job, &worked, &survey, reader)
    });
    let chosen = chosen.map_err(refuse)?;
    if !common.json {
        output::messages(&job.warnings, &job.loaded.sources, common);
    }
    if let Some(name) = asked.filter(|_| chosen.is_empty()) {
        return Err(refuse(vec![no_paper(&made, name, &job, &worked, &survey)]));
    }
    if let Some(issue) = &issue {
        let contents = Contents {
            job: &job,
            subject: &subject,
            last: last.as_ref(),
            papers: &chosen,
            sheet: sheet(args),
            aside: &args.aside,
            common,
        };
        let (told, warnings) = issue.write(&contents).map_err(refuse)?;
        output::messages(&warnings, &job.loaded.sources, common);
        told.iter()
            .for_each(|line| output::print(&format!("{line}\n")));
    } else if let Some(folder) = &args.to {
        write(&chosen, folder, sheet(args), &job).map_err(refuse)?;
    } else if let Some(target) = &target {
        let line = workbook(target, args, &chosen, &made, &worked);
        output::print(&line.map_err(|d| refuse(vec![d]))?);
    } else if let Some(name) = &args.csv {
        let face = |reader| job::face_for(&job, &survey, reader).0;
        return one_list(&chosen, name, face);
    } else if common.json {
        output::json(&papers_json::Document {
            papers: &chosen,
            lines: args.paper.is_some(),
            messages: render::to_json(&job.warnings, &job.loaded.sources),
        });
    } else if args.names {
        let names = chosen.iter().map(|paper| format!("{}\n", paper.name));
        output::print(&names.collect::<String>());
    } else if args.paper.is_some() {
        let width = output::width(common);
        chosen.iter().for_each(|paper| show(&paper.kept(), width));
    } else {
        output::print(&job::face(&job, 0, &survey).head());
        output::print(&terminal::draw(
            &overview(&made, &chosen),
            output::width(common),
        ));
    }
    Ok(ExitCode::from(exit::DONE))
}

/// What the papers are made from and where they go, checked before anything runs.
struct Asked {
    job: Job,
    issue: Option<Issue>,
    target: Option<Target>,
    against: Option<record::Earlier>,
}

fn asked_for(args: &PapersArgs, common: &Common) -> Result<Asked, ExitCode> {
    let mut job = job::open(&args.job, common)?;
    let refuse = |d: Diagnostic| output::refuse(&[d], &job.loaded.sources, common);
    let issue = match (args.issue, &args.to) {
        (Some(number), Some(folder)) => Some(Issue::new(number, folder, &job).map_err(refuse)?),
        _ => None,
    };
    let target = args.workbook.as_deref();
    let target = target.map(|file| Target::new(file, &job.files));
    let target = target.transpose().map_err(refuse)?;
    let against = args.against.as_deref();
    let against = against.map(|file| record::read(file, common)).transpose()?;
    if let Some(earlier) = &against {
        earlier.must_be_of(None)?;
        earlier.note(&mut job);
    }
    Ok(Asked {
        job,
        issue,
        target,
        against,
    })
}

/// Writes a workbook of what was asked for, or else of the amounts of the whole job. Gives what is said of it.
fn workbook(
    target: &Target,
    args: &PapersArgs,
    chosen: &[Chosen<'_>],
    made: &Made<'_>,
    worked: &Worked,
) -> Result<String, Diagnostic> {
    let book = match &args.paper {
        Some(_) => of_papers(chosen),
        None => of_office(made, worked),
    }?;
    let line = target.write(&book.bytes)?;
    Ok(format!(
        "{line}, {} formulas, {} amounts that are values\n",
        book.formulas, book.values
    ))
}

/// Reads survey and prices and works the job as decided; what is refused is printed.
fn work(
    job: &mut Job,
    args: &PapersArgs,
    common: &Common,
) -> Result<(Arc<Survey>, PriceBook, Worked, Plans), ExitCode> {
    let progress = Progress::begin();
    let (survey, book) = job::inputs(job, &args.aside, &progress, Priced::Yes, common)?;
    let options = progress.options(None);
    let program = &job.checked.program;
    let wanted = lists::wanted(program, &program.versions[0]);
    let origin = job.origin();
    let wish = Wish::default();
    let worked = estimate::estimate(program, 0, &survey, &book, wish, &wanted, &options, origin);
    progress.end();
    let mut worked = worked.map_err(|why| job::refused(why, job, common))?;
    // A paper that says nothing of the cut plans does not wait for new ones.
    let whole = args.workbook.is_some() && args.paper.is_none();
    let spare = !whole && !lists::asks_plans(&program.versions[0], args.paper.as_deref());
    let plans = job.put_plans(0, &survey, &mut worked, spare);
    let mut plans = plans.map_err(|list| output::refuse(&list, &job.loaded.sources, common))?;
    job.warnings.append(&mut plans.told);
    Ok((survey, book, worked, plans))
}

/// The studies that charts show. Who only asks which papers there are sees no charts.
fn studies(
    args: &PapersArgs,
    job: &Job,
    inputs: (&Survey, &PriceBook),
) -> Result<lists::Studies, estimate::Refused> {
    match args.paper.is_some() || args.to.is_some() {
        true => super::study::of_papers(job, inputs, args.paper.as_deref()),
        false => Ok(lists::Studies::default()),
    }
}

/// The estimates of all alternates.
fn alternates(
    job: &Job,
    survey: &Survey,
    book: &PriceBook,
) -> Result<Vec<Estimate>, estimate::Refused> {
    let program = &job.checked.program;
    let basis = estimate::Basis {
        program,
        survey,
        book,
        origin: job.origin(),
    };
    let progress = Progress::begin();
    let options = progress.options(None);
    let versions: Vec<usize> = (1..program.versions.len()).collect();
    let worked = estimate::estimate_all(&basis, &versions, Wish::default(), &[], &options);
    progress.end();
    Ok(worked?.estimates)
}

/// The lists of papers as a workbook for their reader.
fn of_papers(papers: &[Chosen<'_>]) -> Result<Book, Diagnostic> {
    let papers: Vec<Paper> = papers.iter().map(Paper::kept).collect();
    let title = papers.first().map_or("", |p| p.head.job.as_str());
    office::write(title, &office::tabs(&papers), None)
}

/// Every list, and the cost, as the workbook of the office.
fn of_office(made: &Made<'_>, worked: &Worked) -> Result<Book, Diagnostic> {
    let lists = lists::whole_lists(made).map_err(|mut list| list.remove(0))?;
    let estimate = &worked.estimate;
    let tabs: Vec<Tab<'_>> = lists
        .iter()
        .map(|table| Tab {
            name: table.title.clone(),
            head: vec![
                table.title.clone(),
                format!("{}: for the office only", estimate.title),
            ],
            table,
        })
        .collect();
    let bases = pricing::charge_bases(made.program, &estimate.lines);
    office::write(&estimate.title, &tabs, Some((estimate, &bases)))
}

/// One list of the papers as CSV. What is on its face is for the reader of its paper.
fn one_list(
    papers: &[Chosen<'_>],
    name: &str,
    face: impl Fn(Reader) -> Face,
) -> Result<ExitCode, ExitCode> {
    let all = || papers.iter().flat_map(|p| p.tables().map(move |t| (p, t)));
    let path = |(paper, table): (&Chosen<'_>, &Table<_>)| format!("{}/{}", paper.name, table.name);
    // A list in a block for each row is one list, whose lines follow one another.
    let names = || {
        let (mut names, mut known) = (Vec::new(), HashSet::new());
        for name in all().map(path) {
            if known.insert(name.clone()) {
                names.push(name);
            }
        }
        names
    };
    let mut own = all().filter(|one| path(*one) == name).peekable();
    let reader = own.peek().map(|(paper, _)| paper.reader);
    output::table(name, names, |out| {
        let Some(reader) = reader else {
            let names = names();
            let names: Vec<&str> = names.iter().map(String::as_str).collect();
            return Err(match names.is_empty() {
                true => Diagnostic::error("OV-840", "there is no table of this name")
                    .found(name)
                    .expected("a list of a paper; no sheet of this job declares one"),
                false => csv::no_table(&names, name),
            });
        };
        csv::write_lines(own.map(|(_, table)| table), &face(reader), out);
        Ok(())
    })
}

/// What is on every page of a reader's papers.
pub(super) fn head(job: &Job, worked: &Worked, survey: &Survey, reader: Reader) -> Head {
    let (face, more) = job::face_for(job, survey, reader);
    let mut doubts = face.lines();
    match more {
        0 => {}
        1 => doubts.push("1 fact that the office keeps is not answered: ask there.".to_owned()),
        n => doubts.push(format!(
            "{n} facts that the office keeps are not answered: ask there."
        )),
    }
    let estimate = &worked.estimate;
    let mut hash = Sha256::new();
    for file in &estimate.origin.files {
        hash.update(file.role.as_bytes());
        hash.update(file.sha256.as_bytes());
    }
    let record: String = library::hex(&hash.finalize()).chars().take(8).collect();
    let version = &job.checked.program.versions[0];
    let date = job.checked.program.day_of_issue(version);
    Head {
        job: estimate.title.clone(),
        version: estimate.version_name().to_owned(),
        issue: None,
        date: date.map(|day| date_of(day).to_string()),
        record,
        program: format!("ovolo {}", env!("CARGO_PKG_VERSION")),
        cents: ovolo::report::cents(estimate).to_owned(),
        doubts,
    }
}

/// No paper has the name that was asked for; tells the names there are.
fn no_paper(
    made: &Made<'_>,
    name: &str,
    job: &Job,
    worked: &Worked,
    survey: &Survey,
) -> Diagnostic {
    let of_changes = |p: &&PaperDef| p.name == name && lists::of_changes(made.version, p);
    if made.version.papers.iter().any(|p| of_changes(&p)) {
        return Diagnostic::error(
            "OV-665",
            format!("`{name}` states what changed since an earlier issue"),
        )
        .expected("the record of that issue")
        .mend("give --against RECORD; `--issue N --to DIR` takes that of the issue before");
    }
    // A paper that is parted has as many names as parts: those are reported only where its own name begins the one asked for.
    let papers = &made.version.papers;
    let parted = papers.iter().find(|def| lists::is_of(def, name));
    let names: Vec<String> = match parted {
        Some(def) => {
            let head = |reader| head(job, worked, survey, reader);
            let parts = lists::papers(made, Some(&def.name), &head).unwrap_or_default();
            parts.into_iter().map(|p| p.name).collect()
        }
        None => papers.iter().map(|def| def.name.clone()).collect(),
    };
    Diagnostic::error("OV-665", "the job has no paper of this name")
        .found(format!("\"{name}\""))
        .expected(match names.is_empty() {
            true => "a paper that a sheet of the job declares; it declares none".to_owned(),
            false => format!("one of {}", names.join(", ")),
        })
}

/// Most lists that are named for a paper.
const MOST_LISTS: usize = 4;

/// The papers of the job. Those that one declaration is split into share a line.
fn overview(made: &Made<'_>, papers: &[Chosen<'_>]) -> View {
    let columns = vec![
        Column::text("paper").typed(),
        Column::number("count"),
        // A terminal needs its room for the names, which are typed.
        Column::text("title").wide(),
        Column::text("for"),
        Column::text("state"),
        Column::text("lists"),
    ];
    let mut view = View::new("papers", "Papers", columns);
    for def in &made.version.papers {
        let own = || papers.iter().filter(|p| lists::is_of(def, &p.name));
        let Some(first) = own().next() else {
            continue;
        };
        // A list in a block for each row comes once for each of them.
        let mut lists: Vec<&str> = Vec::new();
        for table in own().flat_map(Paper::tables) {
            if !lists.contains(&table.name.as_str()) {
                lists.push(&table.name);
            }
        }
        view.row(vec![
            Cell::text(def.name.as_str()),
            Cell::text(own().count().to_string()),
            Cell::text(match def.parted {
                true => "",
                false => &first.title,
            }),
            Cell::text(first.reader.whom()),
            Cell::text(first.state_text()),
            Cell::text(some_marks(&lists, lists.len(), MOST_LISTS)),
        ]);
    }
    if made.version.papers.iter().any(|def| def.parted) {
        view.notes
            .push("--names lists the name of each paper where there are several.".to_owned());
    }
    if papers.is_empty() {
        view.notes.push(
            "No sheet of this job declares a paper. The shipped ones come with: use \"library:papers.ovo\""
                .to_owned(),
        );
    }
    view
}

fn show(paper: &Paper, width: usize) {
    use ovolo::paper::Block;
    let mut text = format!("{}, for {}\n", paper.title, paper.reader.whom());
    if paper.state == State::Draft {
        text.push_str(&format!("{}\n", paper.state_text()));
    }
    text.push_str(&terminal::paragraphs(&paper.head.doubts, width));
    for block in &paper.blocks {
        text.push('\n');
        match block {
            Block::Heading(words) => text.push_str(&format!("{words}\n")),
            Block::Text(words) => {
                text.push_str(&terminal::paragraphs(std::slice::from_ref(words), width));
            }
            Block::Table(table) if !table.is_headed() => text.push_str(&by_hand(table)),
            Block::Table(table) if table.says_only() => {
                text.push_str(&format!("{}\n", table.title));
                text.push_str(&terminal::paragraphs(&table.notes, width));
            }
            Block::Table(table) => text.push_str(&terminal::draw(&papers::view(table), width)),
            Block::Drawing(picture) => {
                let words = match picture.caption.as_str() {
                    "" => &picture.alternative,
                    words => words,
                };
                text.push_str(&format!("[{words}]\n"));
            }
            Block::Photograph(photo) => text.push_str(&format!("[{}]\n", photo.caption)),
            Block::Signs(signs) => {
                for sign in signs {
                    text.push_str(&format!(
                        "{}: ____________________  date: __________\n",
                        sign.who
                    ));
                }
            }
            Block::PageBreak => {}
        }
    }
    output::print(&text);
}

/// Boxes to tick and lines to write on, one below the other.
fn by_hand(table: &ovolo::paper::Table) -> String {
    use ovolo::paper::Value;
    let mut text = match table.title.as_str() {
        "" => String::new(),
        title => format!("{title}\n"),
    };
    for pair in table.rows.iter().flat_map(|r| r.cells.chunks(2)) {
        let words = |at: usize| pair.get(at).map_or("", |c| &*c.text);
        match pair.first().map(|c| &c.value) {
            Some(Value::Tick) => text.push_str(&format!("[ ]  {}\n", words(1))),
            Some(Value::Text) => text.push_str(&format!("{}: ____________________\n", words(0))),
            _ => {}
        }
    }
    text
}

/// The sheet that PDF files are made for.
fn sheet(args: &PapersArgs) -> Sheet {
    match args.a4 {
        true => Sheet::A4,
        false => Sheet::Letter,
    }
}

/// Writes each paper as a page and as a PDF file into a folder that is there or is made. All or nothing is looked at first.
fn write(
    papers: &[Chosen<'_>],
    folder: &str,
    sheet: Sheet,
    job: &Job,
) -> Result<(), Vec<Diagnostic>> {
    if !std::path::Path::new(folder).is_dir() {
        std::fs::create_dir(folder).map_err(|e| {
            vec![
                Diagnostic::error("OV-003", format!("the folder {folder} can't be made"))
                    .at(Place::File(folder.to_owned()), "")
                    .found(e.to_string()),
            ]
        })?;
    }
    // Everything is made before anything is written.
    let mut files = Vec::new();
    for paper in papers {
        files.extend(made(paper, sheet).map_err(|d| vec![d])?);
    }
    let names = files.iter().map(|f| format!("{folder}/{}", f.name));
    let names: Vec<String> = names.collect();
    let asked: Vec<&str> = names.iter().map(String::as_str).collect();
    let targets = Target::all(&asked, &job.files)?;
    for (target, file) in targets.iter().zip(&files) {
        let told = target.write(&file.bytes).map_err(|d| vec![d])?;
        output::print(&format!("{told}, {}\n", file.words));
    }
    Ok(())
}

/// A paper as a file, and what to say of it.
pub(super) struct MadeFile {
    pub(super) name: String,
    pub(super) bytes: Vec<u8>,
    pub(super) words: String,
}

/// The files of a paper: the page for the browser, and the PDF.
pub(super) fn made(paper: &Chosen<'_>, sheet: Sheet) -> Result<Vec<MadeFile>, Diagnostic> {
    let paper = &paper.kept();
    let html = MadeFile {
        name: format!("{}.html", paper.name),
        bytes: papers::html(paper).into_bytes(),
        words: format!("for {}", paper.reader.whom()),
    };
    Ok(vec![html, pdf(paper, sheet)?])
}

pub(super) fn pdf(paper: &Paper, sheet: Sheet) -> Result<MadeFile, Diagnostic> {
    let name = format!("{}.pdf", paper.name);
    let made = pdf::pdf(paper, sheet).map_err(|why| {
        Diagnostic::error("OV-003", format!("{name} can't be written"))
            .at(Place::File(name.clone()), "")
            .found(why.0)
    })?;
    let pages = match made.pages {
        1 => "1 page".to_owned(),
        n => format!("{n} pages"),
    };
    let mut words = format!("{pages}, for {}", paper.reader.whom());
    for told in &made.told {
        words.push_str(&format!("\n  {told}"));
    }
    Ok(MadeFile {
        name,
        bytes: made.bytes,
        words,
    })
}
