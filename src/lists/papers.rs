//! Papers put together from lists and texts.

use super::gather::{self, Got};
use super::{recheck, table};
use crate::diagnostics::Diagnostic;
use crate::eval::Results;
use crate::paper::{Block, Head, Paper, Reader, Sign, State};
use crate::pricing::Estimate;
use crate::program::{
    Constants, ListKey, PaperBlockDef, PaperDef, Program, Version, class_of_text,
};
use crate::show::template_text;
use crate::table::Table;
use crate::takeoff::{self, Parts};

/// What papers are made from.
pub struct Made<'a> {
    /// The checked job.
    pub program: &'a Program,
    /// The job as decided.
    pub version: &'a Version,
    /// Its survey.
    pub tables: &'a [&'a Table],
    /// Columns of [`super::wanted`].
    pub results: &'a Results,
    /// Its estimate.
    pub estimate: &'a Estimate,
    /// Its parts, as [`takeoff::parts`] gives them.
    pub parts: Parts,
}

impl<'a> Made<'a> {
    /// Puts together what papers are made from.
    pub fn new(
        program: &'a Program,
        version: &'a Version,
        tables: &'a [&'a Table],
        results: &'a Results,
        estimate: &'a Estimate,
    ) -> Made<'a> {
        let parts = takeoff::parts(program, version, results, tables);
        Made {
            program,
            version,
            tables,
            results,
            estimate,
            parts,
        }
    }
}

/// Every paper of a job, those that are parted one for each value. `head` gives what stands on each page of a reader's papers.
/// Errors: OV-828 when what lists are made of does not add up to the take-off, the buy list or the calendar.
pub fn papers(
    made: &Made<'_>,
    head: &dyn Fn(Reader) -> Head,
) -> Result<Vec<Paper>, Vec<Diagnostic>> {
    let wrong = recheck::add_up(made);
    if !wrong.is_empty() {
        return Err(wrong);
    }
    let papers = made.version.papers.iter();
    Ok(papers
        .flat_map(|def| of_def(made, def, &head(def.reader)))
        .collect())
}

/// A list of a paper, gathered and ordered.
struct Gathered {
    list: usize,
    lines: Vec<gather::Line>,
    printed: Vec<Option<Vec<crate::number::Exact>>>,
}

fn gathered(made: &Made<'_>, list: usize, each: Option<&ListKey>) -> Option<Gathered> {
    let def = made.version.lists.get(list)?;
    let mut lines = gather::lines(made, def, each);
    table::order(def, &mut lines);
    let printed = table::printed(def, &lines);
    Some(Gathered {
        list,
        lines,
        printed,
    })
}

fn of_def(made: &Made<'_>, def: &PaperDef, head: &Head) -> Vec<Paper> {
    let lists: Vec<Option<Gathered>> = def
        .blocks
        .iter()
        .map(|block| match block {
            PaperBlockDef::List(list, each) => gathered(made, *list, each.as_ref()),
            _ => None,
        })
        .collect();
    if def.each.is_none() {
        return vec![one(made, def, head, &lists, None)];
    }
    let mut values: Vec<Got> = Vec::new();
    for line in lists.iter().flatten().flat_map(|g| &g.lines) {
        if let Some(value) = line.each.clone().filter(|v| !values.contains(v)) {
            values.push(value);
        }
    }
    let papers = values.iter();
    papers
        .map(|v| one(made, def, head, &lists, Some(v)))
        .collect()
}

fn one(
    made: &Made<'_>,
    def: &PaperDef,
    head: &Head,
    lists: &[Option<Gathered>],
    of: Option<&Got>,
) -> Paper {
    let text = |t| template_text(made.program, t, made.results, 0);
    let of_words = of.map(|of| match of {
        Got::Text(text) | Got::Unknown(text) => text.clone(),
        Got::Number(n) => n.to_decimal(4).0,
        Got::Blank | Got::Tick | Got::Room => "none".to_owned(),
    });
    let mut blocks = Vec::new();
    for (block, list) in def.blocks.iter().zip(lists) {
        match block {
            PaperBlockDef::Heading(t) => blocks.push(Block::Heading(text(t))),
            PaperBlockDef::Text(t) => blocks.push(Block::Text(text(t))),
            PaperBlockDef::PageBreak => blocks.push(Block::PageBreak),
            PaperBlockDef::Signs(who) => {
                let sign = |who: &String| Sign { who: who.clone() };
                blocks.push(Block::Signs(who.iter().map(sign).collect()));
            }
            PaperBlockDef::Cautions => cautions(made, def.reader, &mut blocks),
            PaperBlockDef::List(..) => {
                let Some(list) = list else { continue };
                blocks.push(Block::Table(part_of(made, list, of)));
            }
        }
    }
    let title = text(&def.title);
    Paper {
        name: match &of_words {
            Some(of) => format!("{}-{}", def.name, file_word(of)),
            None => def.name.clone(),
        },
        title: match &of_words {
            Some(of) => format!("{title}: {of}"),
            None => title,
        },
        reader: def.reader,
        state: match head.doubts.is_empty() && head.date.is_some() {
            true => State::Issued,
            false => State::Draft,
        },
        head: head.clone(),
        blocks,
    }
}

/// A value as a part of a file's name.
pub(super) fn file_word(text: &str) -> String {
    let mut out = String::new();
    for c in text.chars().take(60) {
        match c.is_alphanumeric() {
            true => out.extend(c.to_lowercase()),
            false if !out.ends_with('_') && !out.is_empty() => out.push('_'),
            false => {}
        }
    }
    match out.trim_end_matches('_') {
        "" => "other".to_owned(),
        word => word.to_owned(),
    }
}

/// The rows of a list that belong to one paper.
fn part_of(made: &Made<'_>, g: &Gathered, of: Option<&Got>) -> crate::paper::Table {
    let stretch = match of {
        None => (0, g.lines.len()),
        Some(of) => {
            let stretches = table::stretches(&g.lines, 0, 0, g.lines.len());
            let own = |(from, _): &(usize, usize)| {
                g.lines.get(*from).and_then(|l| l.each.as_ref()) == Some(of)
            };
            stretches.into_iter().find(own).unwrap_or((0, 0))
        }
    };
    let def = &made.version.lists[g.list];
    let mut table = table::table(made, def, &g.lines, &g.printed, stretch);
    if matches!(def.over, crate::program::ListOver::Parts(_)) {
        table.notes.extend(unknown_parts(made));
    }
    table
}

/// Parts that are in no list because how many or how large is not known.
fn unknown_parts(made: &Made<'_>) -> Option<String> {
    let unknown = &made.parts.unknown;
    let mut names: Vec<String> = unknown
        .iter()
        .filter_map(|(part, mark, _)| {
            let part = made.version.parts.get(*part)?;
            Some(format!("{} at {mark}", part.name.replace('_', " ")))
        })
        .take(6)
        .collect();
    if unknown.len() > names.len() {
        names.push("others".to_owned());
    }
    (!names.is_empty()).then(|| {
        format!(
            "Not in this list, because the survey does not say how many or how large: {}.",
            names.join(", ")
        )
    })
}

/// The cautions that hold; those that name a figure the reader may not see are counted.
fn cautions(made: &Made<'_>, reader: Reader, blocks: &mut Vec<Block>) {
    let mut kept = 0;
    let seen = |at: usize| {
        let def = made.version.cautions.get(at);
        def.is_none_or(|c| {
            let class = class_of_text(made.program, made.version, &c.text, Constants::AsWritten);
            reader.may_see(class)
        })
    };
    for caution in &made.estimate.facts.cautions {
        match seen(caution.caution) {
            false => kept += 1,
            true => blocks.push(Block::Text(match caution.marks.is_empty() {
                true => caution.text.clone(),
                false => format!("{} ({})", caution.text, marks(caution)),
            })),
        }
    }
    if kept > 0 {
        blocks.push(Block::Text(match kept {
            1 => "1 more caution names a figure of the office: ask there.".to_owned(),
            n => format!("{n} more cautions name figures of the office: ask there."),
        }));
    }
}

fn marks(caution: &takeoff::Caution) -> String {
    let more = caution.rows.is_some_and(|rows| rows > caution.marks.len());
    let list = caution.marks.join(", ");
    if more {
        format!("{list} and others")
    } else {
        list
    }
}
