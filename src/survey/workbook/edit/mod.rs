//! Marks cells of a user's own XLSX or XLSM workbook: colored, with a comment each, and one more tab that lists them.
//!
//! Parts that say nothing of the marked cells are copied packed as they are, byte for byte. The others are changed in place, at the bytes
//! where something is added. Must not know what is wrong with a cell.

mod painter;
mod relations;
mod styles;
mod tags;

use std::collections::{BTreeMap, HashMap, HashSet};
use std::fmt::Write as _;
use std::io::{Cursor, Read, Write};

use quick_xml::escape::escape;
use quick_xml::events::Event;
use zip::write::SimpleFileOptions;
use zip::{ZipArchive, ZipWriter};

use crate::defuse::workbook_text;
use crate::diagnostics::source::column_letters;

use super::archive;
use super::sheet::{self, position};
use super::xml::{attribute, attribute_in};
use painter::Painter;
use relations::{Relations, relations_of};
use styles::Styles;
use tags::{appended, children, events, prefix_of};

/// Texts by row and column, counted from 0.
pub(crate) type Comments = BTreeMap<(u32, u32), String>;

/// A list to be written as a tab: headings with their widths in letters, and rows of as many cells.
pub(crate) struct List {
    pub(crate) name: &'static str,
    pub(crate) headings: Vec<(&'static str, u32)>,
    pub(crate) rows: Vec<Vec<String>>,
}

/// Largest part that is changed.
const MAX_PART: u64 = 256 << 20;
const RELATIONS: &str = "http://schemas.openxmlformats.org/officeDocument/2006/relationships";
const MAIN: &str = "http://schemas.openxmlformats.org/spreadsheetml/2006/main";
const TYPES: &str = "application/vnd.openxmlformats-officedocument";

/// The part that says of what type each part is.
const TYPE_LIST: &str = "[Content_Types].xml";

/// What could not be done, in words.
type Failed = String;

/// The parts of a workbook: those changed or added, over those it had.
struct Parts<'b> {
    archive: ZipArchive<Cursor<&'b [u8]>>,
    changed: BTreeMap<String, String>,
}

impl Parts<'_> {
    /// The text of a part, by its name in any case.
    fn text(&mut self, name: &str) -> Option<String> {
        let name = self.own_name(name);
        if let Some(text) = self.changed.get(&name) {
            return Some(text.clone());
        }
        let part = self.archive.by_name(&name).ok()?;
        let mut text = String::new();
        part.take(MAX_PART).read_to_string(&mut text).ok()?;
        Some(text)
    }

    fn own_name(&self, name: &str) -> String {
        let mut names = self.archive.file_names().flatten();
        let found = names.find(|n| n.eq_ignore_ascii_case(name));
        found.map_or_else(|| name.to_string(), |n| n.into_owned())
    }

    fn put(&mut self, name: &str, text: String) {
        let name = self.own_name(name);
        self.changed.insert(name, text);
    }

    fn has(&self, name: &str) -> bool {
        self.changed.contains_key(name)
            || self
                .archive
                .file_names()
                .flatten()
                .any(|n| n.eq_ignore_ascii_case(name))
    }

    /// A name that no part has: `before`, a number, `after`.
    fn new_name(&self, before: &str, after: &str) -> String {
        let mut number = 1;
        loop {
            let name = format!("{before}{number}{after}");
            if !self.has(&name) {
                return name;
            }
            number += 1;
        }
    }

    fn write(mut self) -> Result<Vec<u8>, Failed> {
        let failed = |e: zip::result::ZipError| e.to_string();
        let mut writer = ZipWriter::new(Cursor::new(Vec::new()));
        let mut left = self.changed;
        for at in 0..self.archive.len() {
            let part = self.archive.by_index_raw(at).map_err(failed)?;
            let name = part.name().map_err(failed)?.into_owned();
            match left.remove(&name) {
                None => writer.raw_copy_file(part).map_err(failed)?,
                Some(text) => {
                    drop(part);
                    writer
                        .start_file(name, SimpleFileOptions::default())
                        .map_err(failed)?;
                    writer
                        .write_all(text.as_bytes())
                        .map_err(|e| e.to_string())?;
                }
            }
        }
        for (name, text) in left {
            writer
                .start_file(name, SimpleFileOptions::default())
                .map_err(failed)?;
            writer
                .write_all(text.as_bytes())
                .map_err(|e| e.to_string())?;
        }
        Ok(writer.finish().map_err(failed)?.into_inner())
    }
}

/// The workbook with its marks, and whether it has macros. Errors: what keeps it from being marked, in words.
pub(crate) fn marked(
    bytes: &[u8],
    tabs: &BTreeMap<&str, Comments>,
    list: &List,
) -> Result<(Vec<u8>, bool), Failed> {
    let package = archive::unpack(bytes, None).map_err(|_| "it cannot be unpacked")?;
    let places = sheet::tabs(&package);
    let archive = ZipArchive::new(Cursor::new(bytes)).map_err(|e| e.to_string())?;
    let mut parts = Parts {
        archive,
        changed: BTreeMap::new(),
    };
    let main = places.main;
    let folder = main.rsplit_once('/').map_or("", |(f, _)| f).to_string();
    let mut styles = Styles::read(&mut parts, &format!("{folder}/styles.xml"))?;
    for (name, comments) in tabs {
        let found = places.tabs.iter().find(|t| t.0 == *name);
        let part = found
            .and_then(|t| t.1.clone())
            .ok_or("a tab has no part of its own")?;
        mark_tab(&mut parts, &part, comments, &mut styles)?;
    }
    add_list(&mut parts, &main, &folder, list, &mut styles)?;
    styles.write(&mut parts)?;
    let types = parts.text(TYPE_LIST).unwrap_or_default();
    Ok((parts.write()?, types.contains("macroEnabled")))
}

/// Colors the cells of a tab and gives each its comment.
fn mark_tab(
    parts: &mut Parts<'_>,
    part: &str,
    comments: &Comments,
    styles: &mut Styles,
) -> Result<(), Failed> {
    let text = parts.text(part).ok_or("a tab has no part of its own")?;
    let comments = &seen(&text, comments)?;
    let mut sheet = Painter {
        text: &text,
        out: String::with_capacity(text.len() + 64 * comments.len()),
        copied: 0,
        prefix: prefix_of(&text, "sheetData"),
        left: comments.keys().copied().collect(),
        styles,
        row: 0,
        column: 0,
        depth: 0,
        in_row: false,
        drawing: None,
        before_drawing: None,
    };
    events(&text, |event, from, to| sheet.event(event, from, to))?;
    let (drawing, before) = (sheet.drawing.clone(), sheet.before_drawing);
    let mut out = sheet.finish();
    let relations = relations_of(part);
    let mut list = Relations::read(parts, &relations);
    let folder = part.rsplit_once('/').map_or("", |(f, _)| f).to_string();
    let drawing = match drawing.and_then(|id| list.target(&id, &folder)) {
        Some(old) => old,
        None => {
            let name = parts.new_name("xl/drawings/vmlDrawing", ".vml");
            let id = list.add("vmlDrawing", &format!("/{name}"));
            let tag = format!(
                "<{}legacyDrawing xmlns:r=\"{RELATIONS}\" r:id=\"{id}\"/>",
                prefix_of(&text, "sheetData")
            );
            // What lies behind the place has not moved, counted from the end.
            let at = out.len() - (text.len() - before.unwrap_or(text.len()));
            out.insert_str(at, &tag);
            parts.put(&name, NO_SHAPES.to_string());
            add_type(
                parts,
                "Default Extension=\"vml\"",
                &format!("{TYPES}.vmlDrawing"),
            )?;
            name
        }
    };
    let remarks = match list.of_kind("comments", &folder) {
        Some(old) => old,
        None => {
            let name = parts.new_name("xl/comments", ".xml");
            list.add("comments", &format!("/{name}"));
            parts.put(&name, format!("<?xml version=\"1.0\" encoding=\"UTF-8\" standalone=\"yes\"?>\n<comments xmlns=\"{MAIN}\"><authors><author>ovolo</author></authors><commentList></commentList></comments>"));
            add_type(
                parts,
                &format!("Override PartName=\"/{name}\""),
                &format!("{TYPES}.spreadsheetml.comments+xml"),
            )?;
            name
        }
    };
    parts.put(part, out);
    parts.put(&relations, list.text);
    add_comments(parts, &remarks, &drawing, comments)
}

/// Says of what type a part is, unless that is said already.
fn add_type(parts: &mut Parts<'_>, what: &str, kind: &str) -> Result<(), Failed> {
    let text = parts
        .text(TYPE_LIST)
        .ok_or("the workbook has no list of types")?;
    if !text.contains(what) {
        let prefix = prefix_of(&text, "Types");
        let one = format!("<{prefix}{what} ContentType=\"{kind}\"/>");
        let text = appended(&text, "Types", &one, 0)?;
        parts.put(TYPE_LIST, text);
    }
    Ok(())
}

/// A drawing without boxes, with the shape that all boxes of comments have.
const NO_SHAPES: &str = "<xml xmlns:v=\"urn:schemas-microsoft-com:vml\" xmlns:o=\"urn:schemas-microsoft-com:office:office\" xmlns:x=\"urn:schemas-microsoft-com:office:excel\">\
<o:shapelayout v:ext=\"edit\"><o:idmap v:ext=\"edit\" data=\"1\"/></o:shapelayout><v:shapetype id=\"_x0000_t202\" coordsize=\"21600,21600\" o:spt=\"202\" path=\"m,l,21600r21600,l21600,xe\">\
<v:stroke joinstyle=\"miter\"/><v:path gradientshapeok=\"t\" o:connecttype=\"rect\"/></v:shapetype></xml>";

fn add_comments(
    parts: &mut Parts<'_>,
    remarks: &str,
    drawing: &str,
    comments: &Comments,
) -> Result<(), Failed> {
    let mut text = parts
        .text(remarks)
        .ok_or("the comments of a tab are missing")?;
    let mut shapes = parts
        .text(drawing)
        .ok_or("the drawing of a tab is missing")?;
    let prefix = prefix_of(&text, "commentList");
    let (mut new, mut boxes) = (String::new(), String::new());
    let had: HashMap<String, String> = children(&text, "commentList")?
        .into_iter()
        .filter_map(|c| Some((c.get(attribute_in(&c, "ref")?)?.to_string(), c)))
        .collect();
    for (at, said) in comments {
        let name = format!("{}{}", column_letters(at.1 + 1), at.0 + 1);
        let run = |text: &str| {
            format!(
                "<{prefix}r><{prefix}t xml:space=\"preserve\">{}</{prefix}t></{prefix}r>",
                escape(clean(text))
            )
        };
        // A cell that has a comment keeps it, with ours below.
        if let Some(own) = had.get(&name) {
            let end = own
                .rfind(&format!("</{prefix}text>"))
                .ok_or("a comment without text")?;
            let (before, after) = own.split_at(end);
            let more = format!("{before}{}{after}", run(&format!("\n\n{said}")));
            text = text.replacen(own, &more, 1);
            continue;
        }
        let _ = write!(
            new,
            "<{prefix}comment ref=\"{name}\" authorId=\"0\"><{prefix}text>{}</{prefix}text></{prefix}comment>",
            run(said)
        );
        let lines = crate::ids::row(said.lines().count()) + 6;
        let _ = write!(
            boxes,
            "<v:shape xmlns:v=\"urn:schemas-microsoft-com:vml\" xmlns:o=\"urn:schemas-microsoft-com:office:office\" xmlns:x=\"urn:schemas-microsoft-com:office:excel\" id=\"_x0000_ovolo{name}\" type=\"#_x0000_t202\" style=\"position:absolute;margin-left:60pt;margin-top:2pt;width:280pt;height:120pt;z-index:1;visibility:hidden\" fillcolor=\"#ffffe1\" o:insetmode=\"auto\">\
<v:fill color2=\"#ffffe1\"/><v:path o:connecttype=\"none\"/><v:textbox style=\"mso-direction-alt:auto\"><div style=\"text-align:left\"></div></v:textbox>\
<x:ClientData ObjectType=\"Note\"><x:MoveWithCells/><x:SizeWithCells/><x:Anchor>{}, 15, {}, 2, {}, 15, {}, 4</x:Anchor><x:AutoFill>False</x:AutoFill><x:Row>{}</x:Row><x:Column>{}</x:Column></x:ClientData></v:shape>",
            at.1 + 1,
            at.0,
            at.1 + 6,
            at.0 + lines,
            at.0,
            at.1
        );
    }
    let text = appended(&text, "commentList", &new, 0)?;
    let end = shapes
        .rfind("</xml>")
        .ok_or("a drawing that does not end")?;
    shapes.insert_str(end, &boxes);
    parts.put(remarks, text);
    parts.put(drawing, shapes);
    Ok(())
}

/// Comments where they can be seen: one of a cell that a merged area covers is shown at the cell that is left of the area.
fn seen(text: &str, comments: &Comments) -> Result<Comments, Failed> {
    let mut areas = Vec::new();
    events(text, |event, _, _| {
        if let Event::Start(e) | Event::Empty(e) = event
            && e.local_name().as_ref() == "mergeCell"
            && let Some(area) = attribute(e, "ref")
            && let Some((first, last)) = area.split_once(':')
            && let (Some(first), Some(last)) = (position(first), position(last))
        {
            areas.push((first, last));
        }
    })?;
    areas.sort_unstable();
    let mut out = Comments::new();
    for (at, said) in comments {
        let covers = |(first, last): &&((u32, u32), (u32, u32))| {
            (first.0..=last.0).contains(&at.0) && (first.1..=last.1).contains(&at.1)
        };
        let shown = areas.iter().find(covers).map_or(*at, |area| area.0);
        let here = out.entry(shown).or_default();
        if !here.is_empty() {
            here.push_str("\n\n");
        }
        here.push_str(said);
    }
    Ok(out)
}

/// A text of ours without the signs that XML cannot hold.
fn clean(text: &str) -> String {
    let mut text = workbook_text(text);
    text.retain(|c| !matches!(c, '\u{fffe}' | '\u{ffff}'));
    text
}

/// Lines that a text takes in a column of so many letters, as words are wrapped.
fn lines_of(text: &str, width: u32) -> u32 {
    let mut lines = 0;
    for line in text.split('\n') {
        let (mut used, mut own) = (0u32, 1u32);
        for word in line.split(' ') {
            let length = u32::try_from(word.chars().count()).unwrap_or(u32::MAX);
            if used > 0 && used.saturating_add(1).saturating_add(length) > width {
                own += 1;
                used = 0;
            }
            used = used.saturating_add(length).saturating_add(1);
            own += (used.saturating_sub(1)) / width.max(1);
            used = used.min(width);
        }
        lines += own;
    }
    lines
}

/// Adds the list as the last tab.
fn add_list(
    parts: &mut Parts<'_>,
    main: &str,
    folder: &str,
    list: &List,
    styles: &mut Styles,
) -> Result<(), Failed> {
    let part = parts.new_name(&format!("{folder}/worksheets/ovolo"), ".xml");
    let (bold, plain) = (styles.wrapped(true), styles.wrapped(false));
    let mut text = format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\" standalone=\"yes\"?>\n<worksheet xmlns=\"{MAIN}\"><sheetPr><pageSetUpPr fitToPage=\"1\"/></sheetPr>\
<sheetViews><sheetView workbookViewId=\"0\"><pane ySplit=\"1\" topLeftCell=\"A2\" activePane=\"bottomLeft\" state=\"frozen\"/></sheetView></sheetViews><cols>"
    );
    for (at, (_, width)) in (1..).zip(&list.headings) {
        let _ = write!(
            text,
            "<col min=\"{at}\" max=\"{at}\" width=\"{width}\" customWidth=\"1\"/>"
        );
    }
    text.push_str("</cols><sheetData>");
    let heads: Vec<String> = list.headings.iter().map(|h| h.0.to_string()).collect();
    for (row, cells) in (1u32..).zip(std::iter::once(&heads).chain(&list.rows)) {
        let lines = cells
            .iter()
            .zip(&list.headings)
            .map(|(cell, h)| lines_of(cell, h.1));
        let height = 15 * lines.max().unwrap_or(1).min(27);
        let style = if row == 1 { bold } else { plain };
        let _ = write!(text, "<row r=\"{row}\" ht=\"{height}\" customHeight=\"1\">");
        for (column, cell) in (1u32..).zip(cells) {
            let letters = column_letters(column);
            let _ = write!(
                text,
                "<c r=\"{letters}{row}\" s=\"{style}\" t=\"inlineStr\"><is><t xml:space=\"preserve\">{}</t></is></c>",
                escape(clean(cell))
            );
        }
        text.push_str("</row>");
    }
    text.push_str("</sheetData><pageMargins left=\"0.4\" right=\"0.4\" top=\"0.5\" bottom=\"0.5\" header=\"0.3\" footer=\"0.3\"/><pageSetup orientation=\"landscape\" fitToHeight=\"0\"/></worksheet>");
    parts.put(&part, text);
    add_type(
        parts,
        &format!("Override PartName=\"/{part}\""),
        &format!("{TYPES}.spreadsheetml.worksheet+xml"),
    )?;
    let relations = relations_of(main);
    let mut related = Relations::read(parts, &relations);
    let id = related.add("worksheet", &format!("/{part}"));
    parts.put(&relations, related.text);
    let book = parts.text(main).ok_or("the workbook has no list of tabs")?;
    let sheets = children(&book, "sheets")?;
    let of = |e: &str, name: &str| attribute_in(e, name).and_then(|r| e.get(r).map(str::to_string));
    let taken: HashSet<String> = sheets.iter().filter_map(|s| of(s, "sheetId")).collect();
    let free = |number: &u32| !taken.contains(&number.to_string());
    let number = (1..).find(free).unwrap_or(u32::MAX);
    let mut name = list.name.to_string();
    while sheets
        .iter()
        .any(|s| of(s, "name").is_some_and(|n| n.eq_ignore_ascii_case(&name)))
    {
        name.push_str(" (new)");
    }
    let prefix = prefix_of(&book, "sheets");
    let one = format!(
        "<{prefix}sheet xmlns:r=\"{RELATIONS}\" name=\"{name}\" sheetId=\"{number}\" r:id=\"{id}\"/>"
    );
    let book = appended(&book, "sheets", &one, 0)?;
    parts.put(main, book);
    Ok(())
}
