//! Finds the heading row of a table and says which of its columns holds what the sheet asks for.
//!
//! Rules: the heading row is the one among the first rows that names most of the wanted columns, at least two of them (one, where only
//! one is wanted); it may be reported instead. Headings are compared without case, blanks, line breaks, underscores and closing dots, colons and
//! stars. Two rows make one heading where together they name more than either alone ("Size" above "Width" and "Height"), or where the
//! second holds only units. A unit in the heading ("Width (in)", "H, mm", `Pane [mm]`) is the unit of bare numbers below it.
//! Must not know what is in the cells below.

use foldhash::{HashMap, HashSet};

use crate::diagnostics::suggest::nearest;
use crate::diagnostics::{CellPlace, Diagnostic, Place};
use crate::table::{ColumnKind, ColumnSpec, OnMissing, Schema};
use crate::units::{Nouns, UnitExpr, describe, parse_unit};

use super::raw::{RawRow, RowView, cut};

/// Rows looked at when nobody said where the headings are.
pub(crate) const HEAD_ROWS: usize = 60;

/// A heading row, or two rows taken together.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct HeadingRow {
    /// 1-based row of the file.
    pub(crate) first: u32,
    /// The same, or the row below it.
    pub(crate) last: u32,
    /// For each column what may be taken as its heading, the likeliest first; empty where there is none.
    pub(crate) forms: Vec<Vec<String>>,
    /// How many wanted headings it names.
    pub(crate) hits: usize,
}

impl HeadingRow {
    /// Headings as shown to the user; empty texts where there are none.
    pub(crate) fn shown(&self) -> Vec<String> {
        self.forms
            .iter()
            .map(|f| f.first().cloned().unwrap_or_default())
            .collect()
    }
}

/// The bare form by which headings are compared.
pub(crate) fn plain(heading: &str) -> String {
    if heading.is_ascii() {
        let kept = heading
            .bytes()
            .filter(|b| b.is_ascii_graphic() && *b != b'_')
            .map(|b| char::from(b.to_ascii_lowercase()));
        let mut text = String::with_capacity(heading.len());
        text.extend(kept);
        text.truncate(text.trim_end_matches(['.', ':', '*']).len());
        return text;
    }
    heading
        .chars()
        .filter(|c| {
            !c.is_whitespace()
                && !c.is_control()
                && !matches!(c, '_' | '\u{ad}' | '\u{200b}' | '\u{feff}')
        })
        .flat_map(char::to_lowercase)
        .collect::<String>()
        .trim_end_matches(['.', ':', '*'])
        .to_string()
}

/// Parts "Width (in)", `Width [in]` or "Width, in" into name and unit.
pub(crate) fn split_unit(heading: &str) -> Option<(&str, &str)> {
    let heading = heading.trim();
    let parted = match heading.chars().next_back() {
        Some(')') => heading.strip_suffix(')')?.rsplit_once('('),
        Some(']') => heading.strip_suffix(']')?.rsplit_once('['),
        _ => heading.rsplit_once(','),
    };
    let (name, unit) = parted?;
    let (name, unit) = (name.trim(), unit.trim());
    (!name.is_empty() && !unit.is_empty()).then_some((name, unit))
}

/// Headings in plain form with what they stand for. Every cell of the first rows is held against them, and most begin unlike any.
#[derive(Default)]
pub(crate) struct PlainNames {
    by_plain: HashMap<String, usize>,
    /// One bit for each ASCII character a name begins with; every bit where one begins otherwise.
    firsts: u128,
}

impl PlainNames {
    /// Adds a name; the first of two that are the same in plain form stays.
    pub(crate) fn add(&mut self, name: &str, meaning: usize) {
        let name = plain(name);
        if let Some(first) = name.chars().next() {
            self.firsts |= if first.is_ascii() {
                1 << u32::from(first)
            } else {
                u128::MAX
            };
            self.by_plain.entry(name).or_insert(meaning);
        }
    }

    pub(crate) fn get(&self, text: &str) -> Option<usize> {
        match text
            .bytes()
            .find(|b| (b.is_ascii_graphic() && *b != b'_') || !b.is_ascii())
        {
            Some(first)
                if first.is_ascii() && self.firsts & (1 << first.to_ascii_lowercase()) == 0 =>
            {
                None
            }
            Some(_) => self.by_plain.get(&plain(text)).copied(),
            None => None,
        }
    }
}

/// Finds the heading row among the first rows of a file.
/// `name_of` gives a number for a heading that is wanted, `is_unit` tells whether a text is a unit.
pub(crate) fn find(
    rows: &[RawRow],
    told: Option<u32>,
    wanted: usize,
    name_of: &dyn Fn(&str) -> Option<usize>,
    is_unit: &dyn Fn(&str) -> bool,
) -> Option<HeadingRow> {
    let mut best: Option<HeadingRow> = None;
    let least = if told.is_some() {
        1
    } else {
        wanted.clamp(1, 2)
    };
    let alone = |row: &RawRow| {
        let texts = texts(row);
        let hits = hits(
            texts
                .iter()
                .filter(|t| !t.is_empty())
                .map(|text| name_of(text)),
        );
        (texts, hits)
    };
    let mut next: Option<(Vec<String>, usize)> = None;
    for (i, row) in rows.iter().enumerate() {
        let beside = next.take();
        if told.is_some_and(|t| t != row.row) {
            continue;
        }
        let below = rows.get(i + 1).filter(|b| b.row == row.row + 1);
        // No more columns can be named than are filled.
        if best.as_ref().is_some_and(|b| filled(row, below) <= b.hits) {
            continue;
        }
        let (upper, own) = beside.unwrap_or_else(|| alone(row));
        let below = below.map(&alone);
        let (last, forms, hits) = match &below {
            Some((lower, _)) if own >= least && units_only(lower, is_unit) => {
                let forms = unit_forms(&upper, lower);
                let hits = hits(
                    forms
                        .iter()
                        .map(|f| f.iter().find_map(|text| name_of(text))),
                );
                (row.row + 1, Some(forms), hits)
            }
            Some((lower, lower_hits)) => match joined_hits(&upper, lower, name_of) {
                joined if joined > own && joined > *lower_hits => (row.row + 1, None, joined),
                _ => (row.row, None, own),
            },
            None => (row.row, None, own),
        };
        if hits >= least && best.as_ref().is_none_or(|b| hits > b.hits) {
            let forms = forms.unwrap_or_else(|| match &below {
                Some((lower, _)) if last > row.row => joined_forms(&upper, lower),
                _ => upper
                    .iter()
                    .map(|t| {
                        if t.is_empty() {
                            vec![]
                        } else {
                            vec![t.clone()]
                        }
                    })
                    .collect(),
            });
            best = Some(HeadingRow {
                first: row.row,
                last,
                forms,
                hits,
            });
        }
        next = below;
    }
    best
}

/// Columns with something in one of the rows.
fn filled(row: &RawRow, below: Option<&RawRow>) -> usize {
    let width = row.width().max(below.map_or(0, RawRow::width));
    (0..width)
        .filter(|c| !row.get(*c).is_blank() || below.is_some_and(|b| !b.get(*c).is_blank()))
        .count()
}

/// How many different wanted columns are named.
fn hits(named: impl Iterator<Item = Option<usize>>) -> usize {
    let mut named: Vec<usize> = named.flatten().collect();
    named.sort_unstable();
    named.dedup();
    named.len()
}

fn texts(row: &RawRow) -> Vec<String> {
    (0..row.width()).map(|c| row.get(c).shown()).collect()
}

fn units_only(texts: &[String], is_unit: &dyn Fn(&str) -> bool) -> bool {
    let mut filled = texts.iter().filter(|t| !t.is_empty()).peekable();
    filled.peek().is_some() && filled.all(|t| is_unit(bare_unit(t)))
}

fn bare_unit(text: &str) -> &str {
    text.trim()
        .trim_start_matches(['(', '['])
        .trim_end_matches([')', ']'])
        .trim()
}

fn unit_forms(upper: &[String], lower: &[String]) -> Vec<Vec<String>> {
    (0..upper.len().max(lower.len()))
        .map(|c| {
            let name = upper.get(c).map_or("", String::as_str);
            match (name, lower.get(c).map_or("", String::as_str)) {
                ("", "") => vec![],
                (name, "") => vec![name.to_string()],
                (name, unit) => vec![format!("{name} ({})", bare_unit(unit))],
            }
        })
        .collect()
}

/// What each column is called by two rows together: the heading above it or the last one before, and its own.
fn joined<'t>(
    upper: &'t [String],
    lower: &'t [String],
) -> impl Iterator<Item = (&'t str, &'t str)> {
    let mut group = "";
    (0..upper.len().max(lower.len())).map(move |c| {
        let above = upper.get(c).map_or("", String::as_str);
        if !above.is_empty() {
            group = above;
        }
        match (above, lower.get(c).map_or("", String::as_str)) {
            (above, "") => (above, ""),
            (_, below) => (group, below),
        }
    })
}

fn joined_forms(upper: &[String], lower: &[String]) -> Vec<Vec<String>> {
    joined(upper, lower)
        .map(|pair| match pair {
            ("", "") => vec![],
            (one, "") | ("", one) => vec![one.to_string()],
            (group, below) => vec![format!("{group} {below}"), below.to_string()],
        })
        .collect()
}

fn joined_hits(
    upper: &[String],
    lower: &[String],
    name_of: &dyn Fn(&str) -> Option<usize>,
) -> usize {
    let mut both = String::new();
    hits(
        joined(upper, lower)
            .filter(|pair| *pair != ("", ""))
            .map(|(group, below)| {
                if group.is_empty() || below.is_empty() {
                    return name_of(if below.is_empty() { group } else { below });
                }
                both.clear();
                both.extend([group, " ", below]);
                name_of(&both).or_else(|| name_of(below))
            }),
    )
}

/// Where the values of a column come from.
#[derive(Debug, Clone)]
pub(crate) enum Origin {
    /// Cells of this file column, counted from 0, and the unit of bare numbers if the heading names one.
    Cells(usize, Option<UnitExpr>),
    /// The name of the tab or file.
    Fixed(String),
    /// Nowhere in the file: every row is blank there.
    Nowhere,
}

/// What the headings of one table mean.
#[derive(Debug, Clone)]
pub(crate) struct Mapping {
    /// One for each column of the schema.
    pub(crate) origins: Vec<Origin>,
    /// File column counted from 1, and heading, for each column of the schema.
    pub(crate) headings: Vec<Option<(u32, String)>>,
    /// All headings of the file, as shown.
    pub(crate) shown: Vec<String>,
    /// Headings that nobody asked for.
    pub(crate) unasked: Vec<String>,
    /// First row of the heading.
    pub(crate) first_row: u32,
    /// Last row of the heading.
    pub(crate) last_row: u32,
}

/// The headings a schema accepts, with their columns. Made once: every cell of the first rows is asked.
pub(crate) struct Names<'s> {
    schema: &'s Schema,
    names: PlainNames,
}

impl<'s> Names<'s> {
    pub(crate) fn new(schema: &'s Schema) -> Names<'s> {
        let mut names = PlainNames::default();
        for (i, column) in schema.columns.iter().enumerate() {
            for word in std::iter::once(&column.name).chain(&column.headings) {
                names.add(word, i);
            }
        }
        Names { schema, names }
    }

    /// The column that a heading names, and the unit written in it.
    pub(crate) fn name_of<'t>(&self, heading: &'t str) -> Option<(usize, Option<&'t str>)> {
        let unit = split_unit(heading);
        match (self.names.get(heading), unit) {
            (Some(column), _) => Some((column, unit.map(|u| u.1))),
            (None, Some((name, unit))) => {
                let column = self.names.get(name)?;
                matches!(
                    self.schema.columns.get(column)?.kind,
                    ColumnKind::Number { .. }
                )
                .then_some((column, Some(unit)))
            }
            (None, None) => None,
        }
    }
}

/// What headings are read with.
#[derive(Clone, Copy)]
pub(crate) struct Asked<'a> {
    pub(crate) schema: &'a Schema,
    pub(crate) nouns: &'a Nouns,
    pub(crate) currency: Option<&'a str>,
    pub(crate) file: &'a str,
    pub(crate) tab: Option<&'a str>,
}

/// Says what each column of the file is.
/// Problems: OV-701 missing, OV-702 twice, OV-703 near miss, OV-704 unit of the heading.
pub(crate) fn map(asked: Asked<'_>, heading: &HeadingRow) -> (Mapping, Vec<Diagnostic>) {
    let columns = &asked.schema.columns;
    let mut mapper = Mapper {
        asked,
        heading,
        shown: heading.shown(),
        origins: columns.iter().map(|_| Origin::Nowhere).collect(),
        headings: vec![None; columns.len()],
        unasked: Vec::new(),
        problems: Vec::new(),
    };
    mapper.take_named();
    mapper.look_for_the_rest();
    let mapping = Mapping {
        origins: mapper.origins,
        headings: mapper.headings,
        shown: mapper.shown,
        unasked: mapper.unasked.into_iter().map(|(_, t)| cut(&t)).collect(),
        first_row: heading.first,
        last_row: heading.last,
    };
    (mapping, mapper.problems)
}

struct Mapper<'a> {
    asked: Asked<'a>,
    heading: &'a HeadingRow,
    shown: Vec<String>,
    origins: Vec<Origin>,
    headings: Vec<Option<(u32, String)>>,
    /// Headings of the file that name no column, with their place.
    unasked: Vec<(usize, String)>,
    problems: Vec<Diagnostic>,
}

impl Mapper<'_> {
    fn place(&self, column: usize, text: &str) -> CellPlace {
        CellPlace {
            file: self.asked.file.to_string(),
            tab: self.asked.tab.map(str::to_string),
            row: self.heading.last,
            column: u32::try_from(column + 1).ok(),
            heading: Some(cut(text)),
        }
    }

    /// Headings of the file that name a column.
    fn take_named(&mut self) {
        let Asked {
            schema,
            nouns,
            currency,
            ..
        } = self.asked;
        let accepted_names = Names::new(schema);
        for (file_column, forms) in self.heading.forms.iter().enumerate() {
            let Some((text, (column, unit))) = forms
                .iter()
                .find_map(|f| accepted_names.name_of(f).map(|n| (f, n)))
            else {
                if let Some(text) = forms.first() {
                    self.unasked.push((file_column, text.clone()));
                }
                continue;
            };
            let (Some(spec), Some(slot)) = (schema.columns.get(column), self.headings.get(column))
            else {
                continue;
            };
            if let Some((first, first_text)) = slot {
                let d = Diagnostic::error(
                    "OV-702",
                    format!("two columns of the file are both \"{}\"", spec.name),
                )
                .at(
                    self.place(crate::ids::at(*first) - 1, first_text),
                    "the first",
                )
                .at(self.place(file_column, text), "the second")
                .expected("one column for each name")
                .mend("Rename or take out the one that is not meant.");
                self.problems.push(d);
                continue;
            }
            let unit = match unit_of(spec, unit, nouns, currency, text) {
                Ok(unit) => unit,
                Err(problem) => {
                    let problem = problem.at(self.place(file_column, text), "");
                    self.problems.push(problem);
                    None
                }
            };
            self.take(column, file_column, unit, text);
        }
    }

    fn take(&mut self, column: usize, file_column: usize, unit: Option<UnitExpr>, text: &str) {
        if let (Some(origin), Some(slot)) =
            (self.origins.get_mut(column), self.headings.get_mut(column))
        {
            *origin = Origin::Cells(file_column, unit);
            *slot = u32::try_from(file_column + 1).ok().map(|c| (c, cut(text)));
        }
    }

    /// Columns that no heading names: from the name of file or tab, under a heading that is nearly right, or missing.
    fn look_for_the_rest(&mut self) {
        let mut tried = HashSet::default();
        for (column, spec) in self.asked.schema.columns.iter().enumerate() {
            if self.headings.get(column).is_some_and(Option::is_some) {
                continue;
            }
            if let (Some(fixed), Some(origin)) =
                (self.asked.fixed(spec), self.origins.get_mut(column))
            {
                *origin = Origin::Fixed(fixed.to_string());
                continue;
            }
            let accepted: Vec<&str> = std::iter::once(spec.name.as_str())
                .chain(spec.headings.iter().map(String::as_str))
                .collect();
            let near = self
                .unasked
                .iter()
                .find(|(_, text)| is_near(text, &accepted));
            let near = near.cloned();
            if let Some((at, text)) = &near
                && tried.insert(*at)
            {
                // The file is refused; the cells are read as those of this column, so that their faults are reported in the same pass.
                let unit = split_unit(text).map(|u| u.1);
                let Asked {
                    nouns, currency, ..
                } = self.asked;
                let unit = unit_of(spec, unit, nouns, currency, text).unwrap_or(None);
                self.take(column, *at, unit, text);
            }
            let wording: Vec<String> = accepted.iter().map(|a| format!("\"{a}\"")).collect();
            let wording = wording.join(" or ");
            match near {
                Some((at, text)) => self.nearly(spec, at, &text, wording),
                None if spec.blank == OnMissing::Refuse => self.missing(spec, wording),
                None => {}
            }
        }
    }

    fn nearly(&mut self, spec: &ColumnSpec, at: usize, text: &str, wording: String) {
        let d = Diagnostic::error("OV-703", format!("a heading is nearly \"{}\", but not quite", spec.name))
            .at(self.place(at, text), "")
            .found(cut(text))
            .expected(wording)
            .note("Nothing is guessed: a column under a near miss would be left out.")
            .mend("Write the heading as expected, or add this one to the column's `headed` list in the sheet.");
        self.problems.push(d);
    }

    fn missing(&mut self, spec: &ColumnSpec, wording: String) {
        let whole = Place::Cell(CellPlace {
            column: None,
            heading: None,
            ..self.place(0, "")
        });
        self.problems.push(
            Diagnostic::error("OV-701", format!("no column for \"{}\"", spec.name))
                .at(whole, "the heading row")
                .at(spec.span, "the sheet asks for it here")
                .found(found_headings(&self.shown))
                .expected(wording),
        );
    }
}

impl<'a> Asked<'a> {
    /// The name of the tab or of the file, where a column holds that.
    fn fixed(&self, spec: &ColumnSpec) -> Option<&'a str> {
        let names = |word: &str| spec.headings.iter().any(|h| plain(h) == plain(word));
        if names("tab name") {
            return Some(self.tab.unwrap_or(self.file));
        }
        names("file name").then_some(self.file)
    }
}

fn found_headings(shown: &[String]) -> String {
    let list: Vec<String> = shown
        .iter()
        .filter(|t| !t.is_empty())
        .take(20)
        .map(|t| format!("\"{}\"", cut(t)))
        .collect();
    if list.is_empty() {
        "no heading".to_string()
    } else {
        list.join(", ")
    }
}

/// Near enough to be a slip of the pen: one letter in four, and not for words so short that any two are near.
fn is_near(text: &str, accepted: &[&str]) -> bool {
    let base = plain(split_unit(text).map_or(text, |s| s.0));
    accepted.iter().any(|a| {
        let a = plain(a);
        let length = a.chars().count();
        length >= 4
            && nearest(&base, [a.as_str()]).is_some()
            && strsim::damerau_levenshtein(&base, &a) <= (length / 4).max(1)
    })
}

fn unit_of(
    spec: &ColumnSpec,
    unit: Option<&str>,
    nouns: &Nouns,
    currency: Option<&str>,
    heading: &str,
) -> Result<Option<UnitExpr>, Diagnostic> {
    let (
        ColumnKind::Number {
            dim,
            unit: own,
            percent,
            ..
        },
        Some(written),
    ) = (&spec.kind, unit)
    else {
        return Ok(None);
    };
    let refuse = |found: String| {
        Diagnostic::error(
            "OV-704",
            format!(
                "the unit in the heading does not fit the column \"{}\"",
                spec.name
            ),
        )
        .found(found)
        .expected(format!(
            "{}, such as {}",
            describe(dim, nouns),
            unit_name(own, *percent, nouns)
        ))
    };
    match parse_unit(written, nouns, currency) {
        Ok(parsed) if parsed.dim() == dim && parsed.is_percent() == *percent => Ok(Some(parsed)),
        Ok(parsed) => Err(refuse(format!(
            "{}, which is {}",
            cut(written),
            describe(parsed.dim(), nouns)
        ))),
        // A heading that the sheet lists in full may hold any words in brackets.
        Err(_)
            if std::iter::once(&spec.name)
                .chain(&spec.headings)
                .any(|h| plain(h) == plain(heading)) =>
        {
            Ok(None)
        }
        Err(_) => Err(refuse(format!("\"{}\", which is no unit", cut(written)))),
    }
}

fn unit_name(unit: &UnitExpr, percent: bool, nouns: &Nouns) -> String {
    match unit.text(nouns) {
        _ if percent => "%".to_string(),
        text if text.is_empty() => "no unit".to_string(),
        text => text,
    }
}
