//! Marks cells of a user's own XLSX or XLSM workbook: colored, with a comment each, and one more tab that lists them.
//!
//! Parts that say nothing of the marked cells are copied packed as they are, byte for byte. The others are changed in place, at the bytes
//! where something is added. Must not know what is wrong with a cell.

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::fmt::Write as _;
use std::io::{Cursor, Read, Write};

use quick_xml::Reader;
use quick_xml::escape::escape;
use quick_xml::events::{BytesStart, Event};
use zip::write::SimpleFileOptions;
use zip::{ZipArchive, ZipWriter};

use crate::diagnostics::source::column_letters;

use super::archive;
use super::sheet::{self, position};
use super::xml::{attribute, attribute_in};

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

/// The workbook with its marks. Errors: what keeps it from being marked, in words.
pub(crate) fn marked(
    bytes: &[u8],
    tabs: &[(String, Comments)],
    list: &List,
) -> Result<Vec<u8>, Failed> {
    let package = archive::unpack(bytes, None).map_err(|_| "the workbook cannot be unpacked")?;
    let places = sheet::tabs(&package);
    let archive = ZipArchive::new(Cursor::new(bytes)).map_err(|e| e.to_string())?;
    let mut parts = Parts {
        archive,
        changed: BTreeMap::new(),
    };
    let main = places.main;
    let folder = main.rsplit_once('/').map_or("", |(f, _)| f).to_string();
    let mut styles = Styles::read(&mut parts, &format!("{folder}/styles.xml"))?;
    for (name, comments) in tabs.iter().filter(|t| !t.1.is_empty()) {
        let found = places.tabs.iter().find(|t| t.0 == *name);
        let part = found
            .and_then(|t| t.1.clone())
            .ok_or("a tab has no part of its own")?;
        mark_tab(&mut parts, &part, comments, &mut styles)?;
    }
    add_list(&mut parts, &main, &folder, list, &mut styles)?;
    styles.write(&mut parts)?;
    parts.write()
}

/// Cell formats, to which marked ones are added.
struct Styles {
    part: String,
    text: String,
    /// The cell formats there are, as written.
    formats: Vec<String>,
    added: Vec<String>,
    /// The added format for each that there was.
    marked: HashMap<usize, usize>,
    fills: usize,
}

impl Styles {
    fn read(parts: &mut Parts<'_>, part: &str) -> Result<Styles, Failed> {
        let text = parts.text(part).ok_or("the workbook has no cell formats")?;
        let formats = children(&text, "cellXfs")?;
        let fills = children(&text, "fills")?.len();
        Ok(Styles {
            part: part.to_string(),
            text,
            formats,
            added: Vec::new(),
            marked: HashMap::new(),
            fills,
        })
    }

    /// The format like this one and colored.
    fn colored(&mut self, format: usize) -> usize {
        if let Some(known) = self.marked.get(&format) {
            return *known;
        }
        let plain = "<xf/>".to_string();
        let own = self
            .formats
            .get(format)
            .or(self.formats.first())
            .unwrap_or(&plain);
        let fill = self.fills.to_string();
        let colored = with_attributes(own, &[("fillId", &fill), ("applyFill", "1")]);
        let number = self.formats.len() + self.added.len();
        self.added.push(colored);
        self.marked.insert(format, number);
        number
    }

    /// A new format whose text wraps.
    fn wrapped(&mut self) -> usize {
        let prefix = prefix_of(&self.text, "cellXfs");
        self.added.push(format!(
            "<{prefix}xf numFmtId=\"0\" fontId=\"0\" fillId=\"0\" borderId=\"0\" applyAlignment=\"1\"><{prefix}alignment vertical=\"top\" wrapText=\"1\"/></{prefix}xf>"
        ));
        self.formats.len() + self.added.len() - 1
    }

    fn write(self, parts: &mut Parts<'_>) -> Result<(), Failed> {
        let prefix = prefix_of(&self.text, "fills");
        let fill = format!(
            "<{prefix}fill><{prefix}patternFill patternType=\"solid\"><{prefix}fgColor rgb=\"FFFFC7CE\"/><{prefix}bgColor indexed=\"64\"/></{prefix}patternFill></{prefix}fill>"
        );
        let text = appended(&self.text, "fills", &fill, self.fills + 1)?;
        let count = self.formats.len() + self.added.len();
        let text = appended(&text, "cellXfs", &self.added.concat(), count)?;
        parts.put(&self.part, text);
        Ok(())
    }
}

/// Calls `each` with every event and where it begins and ends.
fn events(text: &str, mut each: impl FnMut(&Event<'_>, usize, usize)) -> Result<(), Failed> {
    let mut reader = Reader::from_str(text);
    let place = |p: u64| usize::try_from(p).unwrap_or(usize::MAX);
    loop {
        let from = place(reader.buffer_position());
        let event = reader.read_event().map_err(|e| e.to_string())?;
        let to = place(reader.buffer_position());
        if matches!(event, Event::Eof) {
            return Ok(());
        }
        each(&event, from, to);
    }
}

/// The elements within the first element of a local name, as written.
fn children(text: &str, parent: &str) -> Result<Vec<String>, Failed> {
    let mut found = Vec::new();
    let (mut depth, mut start, mut done) = (None::<usize>, 0, false);
    events(text, |event, from, to| match (event, depth) {
        (Event::Start(e), None) if !done && e.local_name().as_ref() == parent => depth = Some(0),
        (Event::Start(_), Some(d)) => {
            if d == 0 {
                start = from;
            }
            depth = Some(d + 1);
        }
        (Event::Empty(_), Some(0)) => found.push(text.get(from..to).unwrap_or("").to_string()),
        (Event::End(_), Some(0)) => {
            depth = None;
            done = true;
        }
        (Event::End(_), Some(d)) => {
            if d == 1 {
                found.push(text.get(start..to).unwrap_or("").to_string());
            }
            depth = Some(d - 1);
        }
        _ => {}
    })?;
    Ok(found)
}

/// The prefix with its colon that an element of a local name bears.
fn prefix_of(text: &str, name: &str) -> String {
    let mut prefix = None;
    let look = events(text, |event, _, _| {
        if let Event::Start(e) | Event::Empty(e) = event
            && prefix.is_none()
            && e.local_name().as_ref() == name
        {
            let whole = e.name();
            prefix = Some(whole.as_ref().strip_suffix(name).unwrap_or("").to_string());
        }
    });
    look.ok().and(prefix).unwrap_or_default()
}

/// The text with more at the end of the first element of a local name, and its count.
fn appended(text: &str, parent: &str, more: &str, count: usize) -> Result<String, Failed> {
    let (mut head, mut end) = (None, None);
    events(text, |event, from, to| match event {
        Event::Start(e) if head.is_none() && e.local_name().as_ref() == parent => {
            head = Some((from, to))
        }
        Event::End(e) if end.is_none() && head.is_some() && e.local_name().as_ref() == parent => {
            end = Some(from)
        }
        _ => {}
    })?;
    let (Some((from, to)), Some(end)) = (head, end) else {
        return Err(format!("there is no {parent}"));
    };
    let tag = text.get(from..to).unwrap_or("");
    let tag = match count {
        0 => tag.to_string(),
        count => with_attributes(tag, &[("count", &count.to_string())]),
    };
    let (before, inside) = (
        text.get(..from).unwrap_or(""),
        text.get(to..end).unwrap_or(""),
    );
    Ok(format!(
        "{before}{tag}{inside}{more}{}",
        text.get(end..).unwrap_or("")
    ))
}

/// An element, or its opening tag, with attributes set.
fn with_attributes(element: &str, set: &[(&str, &str)]) -> String {
    let end = element.find('>').unwrap_or(element.len());
    let (mut tag, rest) = element.split_at(end);
    let closed = tag.ends_with('/');
    tag = tag.strip_suffix('/').unwrap_or(tag);
    let mut tag = tag.trim_end().to_string();
    for (name, value) in set {
        match attribute_in(&tag, name) {
            Some(old) => tag.replace_range(old, value),
            None => {
                let _ = write!(tag, " {name}=\"{value}\"");
            }
        }
    }
    format!("{tag}{}{rest}", if closed { "/" } else { "" })
}

/// Colors the cells of a tab and gives each its comment.
fn mark_tab(
    parts: &mut Parts<'_>,
    part: &str,
    comments: &Comments,
    styles: &mut Styles,
) -> Result<(), Failed> {
    let text = parts.text(part).ok_or("a tab has no part of its own")?;
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

/// Copies a tab and changes what is marked on the way.
struct Painter<'t, 's> {
    text: &'t str,
    out: String,
    /// How far the text is copied.
    copied: usize,
    prefix: String,
    /// Cells still to be marked.
    left: BTreeSet<(u32, u32)>,
    styles: &'s mut Styles,
    row: u32,
    column: u32,
    depth: usize,
    in_row: bool,
    /// The relation of the drawing that holds the boxes of comments.
    drawing: Option<String>,
    /// Where such a drawing would have to be named.
    before_drawing: Option<usize>,
}

/// Elements of a tab that stand behind the drawing of comments (ECMA-376 part 1, 18.3.1.99).
const AFTER_DRAWING: [&str; 8] = [
    "legacyDrawingHF",
    "drawingHF",
    "picture",
    "oleObjects",
    "controls",
    "webPublishItems",
    "tableParts",
    "extLst",
];

impl Painter<'_, '_> {
    fn copy_to(&mut self, end: usize) {
        self.out
            .push_str(self.text.get(self.copied..end).unwrap_or(""));
        self.copied = end;
    }

    /// Writes blank cells for marks before a place.
    fn fill_row(&mut self, before: u32) {
        let row = self.row;
        let due: Vec<(u32, u32)> = self.left.range((row, 0)..(row, before)).copied().collect();
        for at in due {
            self.left.remove(&at);
            let style = self.styles.colored(0);
            let (prefix, letters) = (&self.prefix, column_letters(at.1 + 1));
            let _ = write!(
                self.out,
                "<{prefix}c r=\"{letters}{}\" s=\"{style}\"/>",
                at.0 + 1
            );
        }
    }

    /// Writes rows for marks before a row.
    fn fill_rows(&mut self, before: u32) {
        let due: BTreeSet<u32> = self.left.range((0, 0)..(before, 0)).map(|c| c.0).collect();
        let now = self.row;
        for row in due {
            self.row = row;
            let prefix = self.prefix.clone();
            let _ = write!(self.out, "<{prefix}row r=\"{}\">", row + 1);
            self.fill_row(u32::MAX);
            let _ = write!(self.out, "</{prefix}row>");
        }
        self.row = now;
    }

    fn event(&mut self, event: &Event<'_>, from: usize, to: usize) {
        match event {
            Event::Start(e) => {
                self.opens(e, from, to, false);
                self.depth += 1;
            }
            Event::Empty(e) => self.opens(e, from, to, true),
            Event::End(e) => {
                self.depth -= 1;
                match e.local_name().as_ref() {
                    "row" if self.in_row => {
                        self.copy_to(from);
                        self.fill_row(u32::MAX);
                        self.in_row = false;
                        self.row += 1;
                    }
                    "sheetData" => {
                        self.copy_to(from);
                        self.fill_rows(u32::MAX);
                    }
                    _ if self.depth == 0 => {
                        self.before_drawing.get_or_insert(from);
                    }
                    _ => {}
                }
            }
            _ => {}
        }
    }

    fn opens(&mut self, e: &BytesStart<'_>, from: usize, to: usize, empty: bool) {
        match e.local_name().as_ref() {
            "sheetData" if empty => {
                self.copy_to(from);
                let prefix = self.prefix.clone();
                let _ = write!(self.out, "<{prefix}sheetData>");
                self.fill_rows(u32::MAX);
                let _ = write!(self.out, "</{prefix}sheetData>");
                self.copied = to;
            }
            "row" => {
                if let Some(row) = attribute(e, "r").and_then(|r| r.parse::<u32>().ok()) {
                    self.row = row.saturating_sub(1);
                }
                self.column = 0;
                self.copy_to(from);
                self.fill_rows(self.row);
                if empty {
                    if self
                        .left
                        .range((self.row, 0)..(self.row + 1, 0))
                        .next()
                        .is_some()
                    {
                        let tag = self.text.get(from..to).unwrap_or("").replacen("/>", ">", 1);
                        self.out.push_str(&tag);
                        self.fill_row(u32::MAX);
                        let _ = write!(self.out, "</{}row>", self.prefix);
                        self.copied = to;
                    }
                    self.row += 1;
                } else {
                    self.in_row = true;
                }
            }
            "c" if self.in_row => {
                if let Some(at) = attribute(e, "r").and_then(position) {
                    self.column = at.1;
                }
                self.copy_to(from);
                self.fill_row(self.column);
                if self.left.remove(&(self.row, self.column)) {
                    let old = attribute(e, "s").and_then(|s| s.parse().ok()).unwrap_or(0);
                    let style = self.styles.colored(old).to_string();
                    let tag = self.text.get(from..to).unwrap_or("");
                    self.out.push_str(&with_attributes(tag, &[("s", &style)]));
                    self.copied = to;
                }
                self.column += 1;
            }
            "legacyDrawing" if self.depth == 1 => {
                for pair in e.attributes().with_checks(false).flatten() {
                    if pair.key.local_name().as_ref() == "id" {
                        self.drawing = Some(pair.value.to_string());
                    }
                }
            }
            name if self.depth == 1 && AFTER_DRAWING.contains(&name) => {
                self.before_drawing.get_or_insert(from);
            }
            _ => {}
        }
    }

    fn finish(mut self) -> String {
        self.copy_to(self.text.len());
        self.out
    }
}

/// The part that tells what another part is related to.
fn relations_of(part: &str) -> String {
    let (folder, file) = part.rsplit_once('/').unwrap_or(("", part));
    format!("{folder}/_rels/{file}.rels")
}

/// Relations of a part.
struct Relations {
    text: String,
    /// Id, type, target.
    list: Vec<(String, String, String)>,
}

impl Relations {
    fn read(parts: &mut Parts<'_>, name: &str) -> Relations {
        let none = "<?xml version=\"1.0\" encoding=\"UTF-8\" standalone=\"yes\"?>\n<Relationships xmlns=\"http://schemas.openxmlformats.org/package/2006/relationships\"></Relationships>";
        let text = parts.text(name).unwrap_or_else(|| none.to_string());
        let text = if children(&text, "Relationships").is_ok_and(|c| c.is_empty()) {
            none.to_string()
        } else {
            text
        };
        let elements = children(&text, "Relationships").unwrap_or_default();
        let list = elements.iter().map(|e| {
            let of = |name| {
                attribute_in(e, name)
                    .and_then(|r| e.get(r))
                    .unwrap_or("")
                    .to_string()
            };
            (of("Id"), of("Type"), of("Target"))
        });
        Relations {
            list: list.collect(),
            text,
        }
    }

    fn target(&self, id: &str, folder: &str) -> Option<String> {
        let found = self.list.iter().find(|r| r.0 == id)?;
        Some(joined(folder, &found.2))
    }

    fn of_kind(&self, kind: &str, folder: &str) -> Option<String> {
        let found = self
            .list
            .iter()
            .find(|r| r.1.ends_with(&format!("/{kind}")))?;
        Some(joined(folder, &found.2))
    }

    fn add(&mut self, kind: &str, target: &str) -> String {
        let mut number = 1;
        while self.list.iter().any(|r| r.0 == format!("ovolo{number}")) {
            number += 1;
        }
        let id = format!("ovolo{number}");
        let prefix = prefix_of(&self.text, "Relationships");
        let one = format!(
            "<{prefix}Relationship Id=\"{id}\" Type=\"{RELATIONS}/{kind}\" Target=\"{target}\"/>"
        );
        if let Ok(text) = appended(&self.text, "Relationships", &one, 0) {
            self.text = text;
        }
        self.list.push((
            id.clone(),
            format!("{RELATIONS}/{kind}"),
            target.to_string(),
        ));
        id
    }
}

/// A target seen from a folder.
fn joined(folder: &str, target: &str) -> String {
    if let Some(whole) = target.strip_prefix('/') {
        return whole.to_string();
    }
    let mut steps: Vec<&str> = folder.split('/').filter(|s| !s.is_empty()).collect();
    for step in target.split('/') {
        match step {
            ".." => {
                steps.pop();
            }
            "." => {}
            step => steps.push(step),
        }
    }
    steps.join("/")
}

/// Says of what type a part is, unless that is said already.
fn add_type(parts: &mut Parts<'_>, what: &str, kind: &str) -> Result<(), Failed> {
    const LIST: &str = "[Content_Types].xml";
    let text = parts
        .text(LIST)
        .ok_or("the workbook has no list of types")?;
    if !text.contains(what) {
        let prefix = prefix_of(&text, "Types");
        let one = format!("<{prefix}{what} ContentType=\"{kind}\"/>");
        let text = appended(&text, "Types", &one, 0)?;
        parts.put(LIST, text);
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
    for (at, said) in comments {
        let name = format!("{}{}", column_letters(at.1 + 1), at.0 + 1);
        let run = |text: &str| {
            format!(
                "<{prefix}r><{prefix}t xml:space=\"preserve\">{}</{prefix}t></{prefix}r>",
                escape(text)
            )
        };
        // A cell that has a comment keeps it, with ours below.
        let own = children(&text, "commentList")?
            .into_iter()
            .find(|c| attribute_in(c, "ref").and_then(|r| c.get(r)) == Some(name.as_str()));
        if let Some(own) = own {
            let end = own
                .rfind(&format!("</{prefix}text>"))
                .ok_or("a comment without text")?;
            let (before, after) = own.split_at(end);
            let more = format!("{before}{}{after}", run(&format!("\n\n{said}")));
            text = text.replacen(&own, &more, 1);
            continue;
        }
        let _ = write!(
            new,
            "<{prefix}comment ref=\"{name}\" authorId=\"0\"><{prefix}text>{}</{prefix}text></{prefix}comment>",
            run(said)
        );
        let lines = said.lines().count() as u32 + 6;
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
    let wrapped = styles.wrapped();
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
        let _ = write!(text, "<row r=\"{row}\" ht=\"{height}\" customHeight=\"1\">");
        for (column, cell) in (1u32..).zip(cells) {
            let letters = column_letters(column);
            let _ = write!(
                text,
                "<c r=\"{letters}{row}\" s=\"{wrapped}\" t=\"inlineStr\"><is><t xml:space=\"preserve\">{}</t></is></c>",
                escape(cell.as_str())
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
    let number = sheets
        .iter()
        .filter_map(|s| of(s, "sheetId")?.parse::<u32>().ok())
        .max()
        .unwrap_or(0)
        + 1;
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
