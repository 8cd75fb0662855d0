//! Papers put together from lists and texts.

use super::draw::{self, Drawn};
use super::entries::Blocks;
use super::gather::{self, Got};
use super::rows::{Gathered, ListRows, plain};
use super::table::Days;
use super::{alike, bought, cautions, hand, offer, recheck, table, tags};
use crate::cutting::plan::Planned;
use crate::diagnostics::Diagnostic;
use crate::eval::Results;
use crate::paper::{self, Block, Head, Image, Paper, Photograph, Reader, Rows, Sign, State};
use crate::pricing::Estimate;
use crate::pricing::bid::ChangeOrder;
use crate::program::{
    Grain, ListDef, ListOver, NodeId, PaperBlockDef, PaperDef, PaperEachDef, Piece, Program,
    Template, Version,
};
use crate::syntax::tree::ListShape;
use crate::table::Table;
use crate::takeoff::{self, Parts};
use foldhash::{HashMap, HashSet};
use std::rc::Rc;

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
    /// The cut plans that it uses.
    pub plans: &'a [Planned],
    /// Its alternates, estimated.
    pub others: &'a [Estimate],
    /// How the job differs from an earlier issue, where it is compared with one.
    pub change: Option<&'a ChangeOrder>,
    /// When the work on each row begins; worked out when a list first asks.
    pub(super) weeks: std::cell::OnceCell<super::weeks::Weeks>,
    /// Whether nobody reads the lines of lists, only how many there are and what they add up to.
    pub sums_only: bool,
    /// The studies that its charts show.
    pub studies: super::Studies,
    /// Photographs by their number, as [`photographs`] asks for them: each read, or why it is not there.
    pub photographs: HashMap<String, Result<Image, String>>,
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
            plans: &[],
            others: &[],
            change: None,
            weeks: std::cell::OnceCell::new(),
            sums_only: false,
            studies: super::Studies::default(),
            photographs: HashMap::default(),
        }
    }
}

/// Whether a name that was asked for is that of a paper, or of one that it is parted into.
pub fn is_of(def: &PaperDef, asked: &str) -> bool {
    let rest = asked.strip_prefix(def.name.as_str());
    rest.is_some_and(|rest| rest.is_empty() || def.parted && rest.starts_with('-'))
}

/// The papers that are asked for; all of them where none is named.
fn asked_for<'a>(made: &'a Made<'_>, asked: Option<&str>) -> impl Iterator<Item = &'a PaperDef> {
    let papers = made.version.papers.iter();
    papers.filter(move |def| asked.is_none_or(|asked| is_of(def, asked)))
}

/// Numbers of the photographs that papers place, each once, in the order of their rows. `asked` is the name of a paper.
pub fn photographs(made: &Made<'_>, asked: Option<&str>) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    for paper in asked_for(made, asked) {
        for block in &paper.blocks {
            let PaperBlockDef::Each(each) = block else {
                continue;
            };
            for block in &each.blocks {
                let PaperBlockDef::Photograph(node) = block else {
                    continue;
                };
                for row in rows_of(made, each) {
                    out.extend(numbers(made, *node, row).into_iter().flatten());
                }
            }
        }
    }
    let mut seen = foldhash::HashSet::default();
    out.retain(|n| seen.insert(n.clone()));
    out
}

/// The numbers in a cell such as `31, 32`; none where it says that there are none.
fn numbers(made: &Made<'_>, node: NodeId, row: usize) -> Option<Vec<String>> {
    let crate::eval::Cell::Text(text) = made.results.value(node, row) else {
        return None;
    };
    let each = text.split([',', ';', ' ']).map(str::trim);
    let list: Vec<String> = each
        .filter(|n| !n.is_empty() && *n != "none")
        .map(str::to_owned)
        .collect();
    (!list.is_empty()).then_some(list)
}

/// The papers of a job, all or of one name, those that are parted one for each value. Their rows are made when they are asked for. `head` gives what is on each page of a reader's papers.
/// Errors: OV-828 when what lists are made of does not add up to the take-off, the buy list or the calendar.
pub fn papers<'a>(
    made: &'a Made<'a>,
    asked: Option<&str>,
    head: &dyn Fn(Reader) -> Head,
) -> Result<Vec<Paper<ListRows<'a>>>, Vec<Diagnostic>> {
    let wrong = recheck::add_up(made);
    if !wrong.is_empty() {
        return Err(wrong);
    }
    let (mut papers, mut wrong) = (Vec::new(), Vec::new());
    // A change order is made beside an earlier issue alone.
    let there = |def: &&PaperDef| made.change.is_some() || !super::of_changes(made.version, def);
    for def in asked_for(made, asked).filter(there) {
        match of_def(made, def, &head(def.reader)) {
            Ok(own) => papers.extend(own),
            Err(list) => wrong.extend(list),
        }
    }
    if !wrong.is_empty() {
        return Err(wrong);
    }
    if let Some(asked) = asked {
        let parts = format!("{asked}-");
        papers.retain(|p| p.name == asked || p.name.starts_with(&parts));
    }
    Ok(papers)
}

/// Every list of a job, whole. Errors: as [`papers`].
pub fn whole_lists<'a>(made: &'a Made<'a>) -> Result<Vec<paper::Table>, Vec<Diagnostic>> {
    let wrong = recheck::add_up(made);
    if !wrong.is_empty() {
        return Err(wrong);
    }
    let kept = |at: &usize| {
        let list = made.version.lists.get(*at);
        made.change.is_some() || list.is_none_or(|l| l.over != ListOver::Changes)
    };
    let lists = (0..made.version.lists.len()).filter(kept);
    let listed = lists.filter_map(|list| listed(made, list, gather::By::Nothing));
    Ok(listed
        .map(|l| part_of(made, &l, None, Days::Dated).kept())
        .collect())
}

/// A block of a paper with the rows that it prints.
enum Ready<'a> {
    List(Option<Listed<'a>>),
    Each(&'a PaperEachDef, Vec<usize>, Vec<Ready<'a>>),
    Draw(Drawn),
    Other,
}

/// A list of a paper.
enum Listed<'a> {
    /// With its lines.
    Lines(Rc<Gathered<'a>>),
    /// Its sums, where nothing else is asked for.
    Sums(paper::Table),
}

fn listed<'a>(made: &'a Made<'a>, list: usize, by: gather::By<'_>) -> Option<Listed<'a>> {
    let def = made.version.lists.get(list)?;
    if let (true, ListOver::Rows(_), gather::By::Nothing) = (made.sums_only, def.over, by)
        && !alike::is_joined(def)
    {
        return Some(Listed::Sums(table::sums(made, def)));
    }
    let mut lines = gather::lines(made, def, by);
    table::order(def, &made.program.phases, &mut lines);
    lines = alike::together(made, def, lines);
    let printed = table::printed(made, def, &lines);
    Some(Listed::Lines(Rc::new(Gathered {
        made,
        list: def,
        lines,
        printed,
    })))
}

/// The lists of blocks, without those in blocks for each row.
fn lists_of<'r, 'a>(ready: &'r [Ready<'a>]) -> impl Iterator<Item = &'r Rc<Gathered<'a>>> {
    ready.iter().filter_map(|ready| match ready {
        Ready::List(Some(Listed::Lines(list))) => Some(list),
        Ready::List(Some(Listed::Sums(_)) | None)
        | Ready::Each(..)
        | Ready::Draw(_)
        | Ready::Other => None,
    })
}

/// The rows of a block in its order.
fn rows_of(made: &Made<'_>, each: &PaperEachDef) -> Vec<usize> {
    let holds = |row: &usize| {
        each.filter.is_none_or(|node| {
            matches!(
                made.results.value(node, *row),
                crate::eval::Cell::Truth(true)
            )
        })
    };
    let count = crate::show::rows(made.tables, made.results, each.grain);
    let mut keyed: Vec<(Vec<Got>, usize)> = (0..count)
        .filter(holds)
        .map(|row| {
            let keys = each.sorts.iter();
            let keys = keys.map(|(key, ..)| made.key_of_row(key, each.grain, row));
            (keys.collect(), row)
        })
        .collect();
    keyed.sort_by(|a, b| table::by_keys(&each.sorts, &[], &a.0, &b.0));
    keyed.into_iter().map(|(_, row)| row).collect()
}

fn ready<'a>(
    made: &'a Made<'a>,
    blocks: &'a [PaperBlockDef],
    inside: Option<(Grain, &[usize])>,
    ordered: Option<gather::Ordered>,
) -> Vec<Ready<'a>> {
    let each = blocks.iter().map(|block| match block {
        PaperBlockDef::List(list, keys, _) => {
            let by = match inside {
                Some((grain, _)) => gather::By::Row(grain),
                None if keys.is_empty() => gather::By::Nothing,
                None => match ordered {
                    Some(ordered) => gather::By::Ordered(keys, ordered),
                    None => gather::By::Keys(keys),
                },
            };
            Ready::List(listed(made, *list, by))
        }
        PaperBlockDef::Each(each) => {
            let rows = rows_of(made, each);
            let inner = ready(made, &each.blocks, Some((each.grain, &rows)), None);
            Ready::Each(each, rows, inner)
        }
        PaperBlockDef::Draw(def) => {
            let (grain, rows) = inside.unwrap_or((Grain::Job, &[0]));
            Ready::Draw(draw::drawn(made, def, grain, rows))
        }
        PaperBlockDef::Heading(_)
        | PaperBlockDef::Text(_)
        | PaperBlockDef::Photograph(_)
        | PaperBlockDef::Offer
        | PaperBlockDef::OfferOfChanges
        | PaperBlockDef::Cautions { .. }
        | PaperBlockDef::Boxes(..)
        | PaperBlockDef::Rooms(_)
        | PaperBlockDef::Signs(_)
        | PaperBlockDef::PageBreak => Ready::Other,
    });
    each.collect()
}

fn of_def<'a>(
    made: &'a Made<'a>,
    def: &'a PaperDef,
    head: &Head,
) -> Result<Vec<Paper<ListRows<'a>>>, Vec<Diagnostic>> {
    let ready = ready(made, &def.blocks, None, ordered(made, def));
    let papers = parts(made, def, head, &ready);
    // What is printed twice adds up to twice as much.
    let once = lists_of(&ready).filter(|g| times(made, &def.blocks, g.list) == 1);
    let wrong: Vec<Diagnostic> = once.flat_map(|g| recheck::printed(g, &papers)).collect();
    match wrong.is_empty() {
        true => Ok(papers),
        false => Err(wrong),
    }
}

/// What an order holds of what is bought and hired; nothing for other papers.
fn ordered(made: &Made<'_>, def: &PaperDef) -> Option<gather::Ordered> {
    let hires = |block: &&PaperBlockDef| {
        let PaperBlockDef::List(at, ..) = block else {
            return false;
        };
        let list = made.version.lists.get(*at);
        list.is_some_and(|l| l.over == ListOver::Hires)
    };
    let apart = PaperBlockDef::all(&def.blocks).iter().any(hires);
    (def.reader == Reader::Order).then_some(match apart {
        true => gather::Ordered::HiresApart,
        false => gather::Ordered::All,
    })
}

/// How often blocks print a list as a table.
fn times(made: &Made<'_>, blocks: &[PaperBlockDef], list: &ListDef) -> usize {
    let is = |at: &usize| {
        let of = made.version.lists.get(*at);
        of.is_some_and(|of| std::ptr::eq(of, list))
    };
    let all = PaperBlockDef::all(blocks).into_iter();
    all.filter(|block| matches!(block, PaperBlockDef::List(at, _, ListShape::Table) if is(at)))
        .count()
}

fn parts<'a>(
    made: &'a Made<'a>,
    def: &PaperDef,
    head: &Head,
    ready: &[Ready<'a>],
) -> Vec<Paper<ListRows<'a>>> {
    if !def.parted {
        return vec![one(made, def, head, ready, None)];
    }
    let mut values: Vec<Box<[Got]>> = Vec::new();
    for line in lists_of(ready).flat_map(|g| &g.lines) {
        if !values.contains(&line.each) {
            values.push(line.each.clone());
        }
    }
    let papers = values.iter();
    let mut papers: Vec<Paper<ListRows<'a>>> = papers
        .map(|v| one(made, def, head, ready, Some(v)))
        .collect();
    name_apart(&mut papers);
    papers
}

/// Papers of values that are written alike but for signs that no name of a file has, such as "North" and "North!", get names apart.
fn name_apart<R>(papers: &mut [Paper<R>]) {
    let mut taken: HashSet<String> = HashSet::default();
    for paper in papers {
        let own = paper.name.clone();
        let mut nth = 1;
        while !taken.insert(paper.name.clone()) {
            nth += 1;
            paper.name = format!("{own}_{nth}");
        }
    }
}

fn one<'a>(
    made: &'a Made<'a>,
    def: &PaperDef,
    head: &Head,
    ready: &[Ready<'a>],
    of: Option<&[Got]>,
) -> Paper<ListRows<'a>> {
    let of_words = of.map(|of| of.iter().map(Got::words).collect::<Vec<_>>());
    let days = Days::of(def.reader);
    let of_told = of.map(|of| of.iter().map(|got| days.words(got)).collect::<Vec<_>>());
    let mut head = head.clone();
    if def.reader == Reader::Owner {
        head.doubts.extend(offer::doubts(made));
    }
    // An offer may leave out what the job excludes by name; other papers are drafts until nothing is in doubt.
    let complete = match def.reader {
        Reader::Owner => offer::stands(made),
        Reader::Review
        | Reader::Schedule
        | Reader::Shop
        | Reader::Order
        | Reader::Crew
        | Reader::Tag
        | Reader::Archive
        | Reader::Office => head.doubts.is_empty() && head.date.is_some(),
    };
    let state = if complete {
        State::Issued
    } else {
        State::Draft
    };
    let place = Place {
        def,
        state,
        row: 0,
        of: of.map(Box::from),
    };
    let mut blocks = Blocks::default();
    // The key is printed once, behind the texts that a paper begins with.
    let first = def
        .blocks
        .iter()
        .position(|block| !matches!(block, PaperBlockDef::Heading(_) | PaperBlockDef::Text(_)));
    let (texts, rest) = def.blocks.split_at(first.unwrap_or(def.blocks.len()));
    let (no_texts, ready_rest) = ready.split_at(texts.len().min(ready.len()));
    put(made, (texts, no_texts), &place, &mut blocks);
    blocks.all.extend(key(ready).into_iter().map(plain));
    put(made, (rest, ready_rest), &place, &mut blocks);
    let mut title = words(made, &def.title, 0);
    if let Some(number) = number(made, def, head.issue, of_words.as_deref()) {
        title.push_str(&format!(" no. {number}"));
    }
    Paper {
        name: match &of_words {
            Some(of) => {
                let parts = of.iter().map(|of| file_word(of));
                format!("{}-{}", def.name, parts.collect::<Vec<_>>().join("-"))
            }
            None => def.name.clone(),
        },
        title: match &of_told {
            Some(of) => format!("{title}: {}", of.join(", ")),
            None => title,
        },
        reader: def.reader,
        state,
        head,
        blocks: blocks.done(),
    }
}

/// The key to the elevations of a paper: one for each of its drawings.
fn key(ready: &[Ready<'_>]) -> Vec<Block> {
    let each = ready.iter().flat_map(|ready| match ready {
        Ready::Draw(drawn) => drawn.key(),
        Ready::Each(_, _, inner) => key(inner),
        Ready::List(_) | Ready::Other => Vec::new(),
    });
    each.collect()
}

/// The number of what is answered by its number, an order or a change order: of the issue, and of its part where it is parted.
fn number(
    made: &Made<'_>,
    def: &PaperDef,
    issue: Option<u32>,
    of: Option<&[String]>,
) -> Option<String> {
    let numbered = def.reader == Reader::Order || super::of_changes(made.version, def);
    let issue = issue.filter(|_| numbered)?;
    let parts = of.into_iter().flatten().map(|of| file_word(of));
    let all: Vec<String> = std::iter::once(issue.to_string()).chain(parts).collect();
    Some(all.join("-"))
}

/// A text with its values put in.
fn words(made: &Made<'_>, text: &Template, row: usize) -> String {
    let piece = |piece: &Piece| match piece {
        Piece::Text(text) => text.clone(),
        Piece::Value { node, unit, .. } => {
            let cell = made.results.value(*node, row);
            gather::paper_text(made.program, *node, &cell, unit.as_ref())
        }
    };
    text.pieces.iter().map(piece).collect()
}

/// Says that a list has no rows; several of them are on one line.
fn none_of<R>(title: &str, blocks: &mut Vec<Block<R>>) {
    let words = format!("{title}: none.");
    match blocks.last_mut() {
        Some(Block::Text(text)) if text.ends_with(": none.") => {
            text.push(' ');
            text.push_str(&words);
        }
        _ => blocks.push(Block::Text(words)),
    }
}

/// Where blocks are put.
struct Place<'a> {
    def: &'a PaperDef,
    state: State,
    /// Row of the block around them.
    row: usize,
    /// What the rows of their lists are parted by.
    of: Option<Box<[Got]>>,
}

fn put<'a>(
    made: &'a Made<'a>,
    (defs, ready): (&[PaperBlockDef], &[Ready<'a>]),
    place: &Place<'_>,
    out: &mut Blocks<'a>,
) {
    let text = |t| words(made, t, place.row);
    let (all, days) = (ready, Days::of(place.def.reader));
    for (block, ready) in defs.iter().zip(ready) {
        let blocks = &mut out.all;
        match block {
            PaperBlockDef::Heading(t) => blocks.push(Block::Heading(text(t))),
            PaperBlockDef::Text(t) => blocks.push(Block::Text(text(t))),
            PaperBlockDef::PageBreak => blocks.push(Block::PageBreak),
            PaperBlockDef::Signs(who) => {
                // What is no offer is not signed.
                if place.def.reader == Reader::Owner && place.state == State::Draft {
                    continue;
                }
                let sign = |who: &String| Sign { who: who.clone() };
                blocks.push(Block::Signs(who.iter().map(sign).collect()));
            }
            PaperBlockDef::Cautions { of_rows, kind } => {
                let lines = || lines_on(all, place.of.as_deref());
                let rows = place.def.parted.then(|| rows_of_lines(made, lines()));
                let rows = rows.as_ref().map(|rows| (rows, *of_rows));
                let phases = lines().flat_map(|line| made.phases_of(line));
                let work = cautions::Work::of(made, place.def.reader, phases);
                cautions::put(made, (&work, *kind), rows, blocks);
            }
            PaperBlockDef::Boxes(title, across, texts) => {
                blocks.push(plain(Block::Table(hand::boxes(title, across, texts))))
            }
            PaperBlockDef::Rooms(texts) => blocks.push(plain(Block::Table(hand::rooms(texts)))),
            PaperBlockDef::Offer => {
                let offer = offer::blocks(made, place.def.reader);
                blocks.extend(offer.into_iter().map(plain));
            }
            PaperBlockDef::OfferOfChanges => {
                blocks.extend(offer::of_changes(made).into_iter().map(plain));
            }
            PaperBlockDef::Photograph(node) => photos(made, *node, place.row, blocks),
            PaperBlockDef::Draw(_) => {
                if let Ready::Draw(drawn) = ready {
                    blocks.extend(drawn.blocks(made, place.row).into_iter().map(plain));
                }
            }
            PaperBlockDef::List(_, _, ListShape::Tags) => {
                if let Ready::List(Some(list)) = ready {
                    let table = part_of(made, list, place.of.as_deref(), days).kept();
                    blocks.extend(tags::blocks(&table).into_iter().map(plain));
                }
            }
            PaperBlockDef::List(_, _, ListShape::Table) => {
                if let Ready::List(Some(list)) = ready {
                    put_list(made, list, place, out);
                }
            }
            PaperBlockDef::Each(..) => {
                let Ready::Each(each, rows, inner) = ready else {
                    continue;
                };
                for row in rows {
                    let place = Place {
                        def: place.def,
                        state: place.state,
                        row: *row,
                        of: Some(Box::new([gather::row_number(*row)])),
                    };
                    let from = out.all.len();
                    put(made, (&each.blocks, inner), &place, out);
                    out.entered((each.grain, *row), from);
                }
            }
        }
    }
}

/// Puts a list as a table, or says that it has no rows.
fn put_list<'a>(made: &'a Made<'a>, list: &Listed<'a>, place: &Place<'_>, out: &mut Blocks<'a>) {
    let of = place.of.as_deref();
    let table = part_of(made, list, of, Days::of(place.def.reader));
    let says_more = table.notes.len() > 1;
    match (table.rows.lines() == 0, of.is_some()) {
        // A paper that is parted holds only what its own part has rows of.
        (true, _) if place.def.parted => {}
        // Headings over nothing would fill the pages of entries.
        (true, true) if !says_more => none_of(&table.title, &mut out.all),
        (_, true) => out.all.push(Block::Table(table)),
        (_, false) => out.listed(table),
    }
}

/// The photographs of a row; those that are missing are named.
fn photos<R>(made: &Made<'_>, node: NodeId, row: usize, blocks: &mut Vec<Block<R>>) {
    for number in numbers(made, node, row).into_iter().flatten() {
        match made.photographs.get(&number) {
            Some(Ok(image)) => blocks.push(Block::Photograph(Photograph {
                image: image.clone(),
                caption: format!("Photo {number}"),
            })),
            Some(Err(why)) => blocks.push(Block::Text(format!("Photo {number}: {why}."))),
            // A job without a folder keeps its photographs elsewhere; the text of the entry has their numbers.
            None => {}
        }
    }
}

/// A value as a part of a file's name.
pub(super) fn file_word(text: &str) -> String {
    // A day without its dashes: names are typed.
    if text.parse::<jiff::civil::Date>().is_ok() {
        return text.replace('-', "");
    }
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
fn part_of<'a>(
    made: &'a Made<'a>,
    listed: &Listed<'a>,
    of: Option<&[Got]>,
    days: Days,
) -> paper::Table<ListRows<'a>> {
    let g = match listed {
        Listed::Sums(sums) => return sums.with_rows(|rows| ListRows::of(rows.clone())),
        Listed::Lines(g) => g,
    };
    let (from, to) = g.stretch(of);
    let empty = table::empty(made, g.list);
    let rows = ListRows::stretch(g, (from, to), days);
    let mut table = empty.with_rows(|_| rows);
    if from < to {
        table.notes.clear();
    }
    if matches!(g.list.over, ListOver::Parts(_)) {
        table.notes.extend(unknown_parts(made));
    }
    if g.list.over == ListOver::Picks {
        table.notes.extend(bought::picked_beside_bought(made));
    }
    table
}

/// The rows that the lines of one paper are at; of the whole job, where a line is at none.
fn rows_of_lines<'r, 'a: 'r>(
    made: &Made<'_>,
    lines: impl Iterator<Item = &'r gather::Line<'a>>,
) -> cautions::Rows {
    let mut rows = cautions::Rows::default();
    for line in lines {
        let stands = made.rows_of(line);
        rows.whole_job |= stands.is_empty();
        rows.at.extend(stands);
    }
    rows
}

/// The lines of one paper.
fn lines_on<'r, 'a>(
    ready: &'r [Ready<'a>],
    of: Option<&'r [Got]>,
) -> impl Iterator<Item = &'r gather::Line<'a>> {
    lists_of(ready).flat_map(move |list| {
        let (from, to) = list.stretch(of);
        list.lines.get(from..to).unwrap_or_default()
    })
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
