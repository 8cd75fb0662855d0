//! `extend`: columns, headings, units and ranges of a survey, labels and spellings of a choice, rows made for them. They are put into the
//! tree of the sheet that declares them, before it is checked, so that all else knows one survey and one choice.

use super::limits;
use super::load::{AddedLabel, Loaded, LoadedSheet};
use crate::diagnostics::{Diagnostic, Span, suggest};
use crate::number::Exact;
use crate::syntax::tree::{
    Column, ColumnMore, ColumnType, Extend, Extension, GivenValue, LabelDef, Layer, Name, Quantity,
    RowsLine, Signed, Statement, StatementKind, UnitText,
};
use crate::units::{Dim, Nouns, parse_unit};
use std::collections::HashMap;

/// Puts what later layers add into what they extend.
pub(super) fn extend(loaded: &mut Loaded) -> Vec<Diagnostic> {
    let mut blocks: Vec<(Layer, Extend)> = Vec::new();
    for sheet in &loaded.sheets {
        for statement in &sheet.tree.statements {
            if let StatementKind::Extend(block) = &statement.kind {
                blocks.push((sheet.layer, block.clone()));
            }
        }
    }
    if limits::extends_too_much(blocks.iter().map(|(_, block)| block)) {
        return Vec::new();
    }
    blocks.sort_by_key(|(layer, _)| *layer);
    let mut work = Work {
        sheets: &mut loaded.sheets,
        added: &mut loaded.added,
        problems: Vec::new(),
        seen: HashMap::new(),
    };
    for (layer, block) in blocks {
        if block.because.is_none() {
            work.problems.push(
                Diagnostic::error(
                    "OV-604",
                    format!("this `extend {}` gives no reason", block.more.word()),
                )
                .at(block.span, "")
                .mend("write the reason before the brace: because \"...\""),
            );
        }
        work.block(layer, &block);
    }
    work.problems
}

struct Work<'a> {
    sheets: &'a mut Vec<LoadedSheet>,
    added: &'a mut Vec<AddedLabel>,
    problems: Vec<Diagnostic>,
    /// What each layer changed of which thing.
    seen: HashMap<(String, Layer), Span>,
}

impl Work<'_> {
    fn block(&mut self, layer: Layer, block: &Extend) {
        match &block.more {
            Extension::Survey { added, columns } => self.survey(layer, block, added, columns),
            Extension::Choice(labels) => self.choice(layer, block, labels),
            Extension::Rows(lines) => self.rows(layer, block, lines),
            // Rows of a table are read by the checker, for each layer.
            Extension::Table(_) => {}
        }
    }

    /// Where the first statement that fits is.
    fn find(&self, fits: impl Fn(&StatementKind) -> bool) -> Option<(usize, usize)> {
        self.sheets.iter().enumerate().find_map(|(s, sheet)| {
            let at = sheet.tree.statements.iter().position(|st| fits(&st.kind))?;
            Some((s, at))
        })
    }

    fn kind(&mut self, (sheet, at): (usize, usize)) -> &mut StatementKind {
        &mut self.sheets[sheet].tree.statements[at].kind
    }

    /// Refuses to extend what a later layer declares.
    fn is_later(&mut self, layer: Layer, block: &Extend, (sheet, at): (usize, usize)) -> bool {
        let target = &self.sheets[sheet];
        if target.layer <= layer {
            return true;
        }
        let declared = target.tree.statements[at].span;
        self.problems.push(
            Diagnostic::error(
                "OV-605",
                format!(
                    "`{}` belongs to a later layer than this block",
                    block.name.text
                ),
            )
            .at(block.span, "")
            .at(declared, "declared here")
            .expected("what is extended is declared in the same or a lower layer: base, shop, job"),
        );
        false
    }

    fn unknown(&mut self, what: &str, name: &Name, known: &[String]) {
        let d = Diagnostic::error(
            "OV-250",
            format!("there is no {what} `{}` to extend", name.text),
        )
        .at(name.span, "");
        self.problems.push(
            match suggest::nearest(&name.text, known.iter().map(String::as_str)) {
                Some(near) => d.mend(format!("did you mean `{near}`?")),
                None if known.is_empty() => d.expected(format!(
                    "a {what} declared in a sheet that this one brings in with `use`"
                )),
                None => d.expected(known.join(", ")),
            },
        );
    }

    fn broken(&self, name: &str) -> bool {
        let mut names = self.sheets.iter().flat_map(|s| &s.tree.broken);
        names.any(|b| b == name)
    }

    /// Refuses a second change of one thing in one layer.
    fn once(&mut self, what: String, layer: Layer, span: Span) -> bool {
        match self.seen.insert((what.clone(), layer), span) {
            None => true,
            Some(first) => {
                self.problems.push(
                    Diagnostic::error("OV-603", format!("{what} is changed twice in one layer"))
                        .at(span, "the second")
                        .at(first, "the first")
                        .mend("keep one of them"),
                );
                false
            }
        }
    }

    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "statements of one kind are looked for; all others are read elsewhere"
    )]
    fn survey(&mut self, layer: Layer, block: &Extend, added: &[Column], columns: &[ColumnMore]) {
        let name = &block.name;
        let found =
            self.find(|k| matches!(k, StatementKind::Survey(s) if s.name.text == name.text));
        let Some(place) = found else {
            if !self.broken(&name.text) {
                let known = self.names_of(|k| match k {
                    StatementKind::Survey(s) => Some(&s.name),
                    _ => None,
                });
                self.unknown("survey", name, &known);
            }
            return;
        };
        if !self.is_later(layer, block, place) {
            return;
        }
        for column in added {
            self.added_column(place, column);
        }
        for more in columns {
            self.column_there(layer, name, place, more);
        }
        if block.broken
            && let StatementKind::Survey(survey) = self.kind(place)
        {
            survey.broken = true;
        }
    }

    fn added_column(&mut self, place: (usize, usize), column: &Column) {
        let StatementKind::Survey(survey) = self.kind(place) else {
            return;
        };
        let Some(known) = survey
            .columns
            .iter()
            .find(|c| c.name.text == column.name.text)
        else {
            survey.columns.push(column.clone());
            return;
        };
        let first = known.name.span;
        let table = survey.name.text.clone();
        self.problems.push(
            Diagnostic::error(
                "OV-251",
                format!("`{table}` has a column `{}` already", column.name.text),
            )
            .at(column.name.span, "")
            .at(first, "declared here")
            .mend(format!(
                "give the new one another name; to extend the one there is, leave its type out: {} headed \"...\"",
                column.name.text
            )),
        );
    }

    fn column_there(
        &mut self,
        layer: Layer,
        table: &Name,
        place: (usize, usize),
        more: &ColumnMore,
    ) {
        let StatementKind::Survey(survey) = self.kind(place) else {
            return;
        };
        let Some(at) = survey
            .columns
            .iter()
            .position(|c| c.name.text == more.name.text)
        else {
            let known: Vec<String> = survey.columns.iter().map(|c| c.name.text.clone()).collect();
            self.unknown("column", &more.name, &known);
            return;
        };
        let thing = format!("`{}` of `{}`", more.name.text, table.text);
        if more.between.is_some() && !self.once(format!("the range of {thing}"), layer, more.span) {
            return;
        }
        if more.unit.is_some() && !self.once(format!("the unit of {thing}"), layer, more.span) {
            return;
        }
        let StatementKind::Survey(survey) = self.kind(place) else {
            return;
        };
        let column = &mut survey.columns[at];
        column.headed.extend(more.headed.iter().cloned());
        let declared = column.span;
        let mut refused = Vec::new();
        if let Some(unit) = &more.unit {
            match &mut column.kind {
                ColumnType::Number(Some(old)) if !same_kind(old, unit) => refused.push(
                    Diagnostic::error("OV-450", format!("{thing} is read in another kind of unit"))
                        .at(unit.span, "")
                        .at(declared, "declared here")
                        .found(unit.text.clone())
                        .expected(format!("a unit such as {}", old.text)),
                ),
                ColumnType::Measure(_, old) | ColumnType::Number(Some(old)) => *old = unit.clone(),
                ColumnType::Text
                | ColumnType::Percent
                | ColumnType::Date
                | ColumnType::Lites
                | ColumnType::Moment
                | ColumnType::Temperature
                | ColumnType::YesNo
                | ColumnType::Number(_)
                | ColumnType::Count(_)
                | ColumnType::OneOf(_)
                | ColumnType::Of(_) => refused.push(
                    Diagnostic::error(
                        "OV-450",
                        format!("{thing} does not hold a quantity with a unit"),
                    )
                    .at(unit.span, "")
                    .at(declared, "declared here")
                    .mend("take `in ...` out"),
                ),
            }
        }
        let old = column.between.clone();
        if let Some(was) = &more.was {
            let same = old.as_ref().is_some_and(|(low, high)| {
                same_quantity(low, &was.0) && same_quantity(high, &was.1)
            });
            if !same {
                refused.push(
                    Diagnostic::error(
                        "OV-602",
                        format!("the range of {thing} is no longer what this line says it was"),
                    )
                    .at(was.0.span.to(was.1.span), "")
                    .at(old.as_ref().map_or(declared, |o| o.0.span.to(o.1.span)), "what it is now")
                    .mend("check that the change is still right, then copy the range from there after `was`"),
                );
            }
        }
        if let Some(between) = &more.between {
            column.between = Some(between.clone());
        }
        self.problems.extend(refused);
    }

    fn names_of(&self, name: impl Fn(&StatementKind) -> Option<&Name>) -> Vec<String> {
        let statements = self.sheets.iter().flat_map(|s| &s.tree.statements);
        let mut names: Vec<String> = statements
            .filter_map(|st: &Statement| name(&st.kind).map(|n| n.text.clone()))
            .collect();
        names.sort_unstable();
        names.dedup();
        names
    }

    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "statements of one kind are looked for; all others are read elsewhere"
    )]
    fn choice(&mut self, layer: Layer, block: &Extend, labels: &[LabelDef]) {
        let name = block.name.text.as_str();
        let holds = |k: &StatementKind| match k {
            StatementKind::Choice { name: n, .. } => n.text == name,
            _ => false,
        };
        let in_place = |k: &StatementKind| match k {
            StatementKind::Survey(s) => s
                .columns
                .iter()
                .any(|c| c.name.text == name && matches!(c.kind, ColumnType::OneOf(_))),
            StatementKind::Given(g) => g.name.text == name && has_labels(&g.value),
            _ => false,
        };
        let Some(place) = self.find(holds).or_else(|| self.find(in_place)) else {
            if self.broken(name) {
                return;
            }
            let known = self.names_of(|k| match k {
                StatementKind::Choice { name, .. } => Some(name),
                _ => None,
            });
            return self.unknown("choice", &block.name, &known);
        };
        if !self.is_later(layer, block, place) {
            return;
        }
        let mut problems = Vec::new();
        let list = match self.kind(place) {
            StatementKind::Choice { labels, .. } => Some(labels),
            StatementKind::Given(g) => labels_in(&mut g.value),
            StatementKind::Survey(s) => s
                .columns
                .iter_mut()
                .filter(|c| c.name.text == name)
                .find_map(|c| c.kind.labels_mut()),
            _ => None,
        };
        let mut added = Vec::new();
        if let Some(list) = list {
            let new = labels
                .iter()
                .filter(|label| add_label(list, label, &mut problems));
            added.extend(new.map(|label| AddedLabel {
                choice: name.to_owned(),
                label: label.name.clone(),
                layer,
            }));
        }
        self.added.extend(added);
        self.problems.extend(problems);
    }

    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "statements of one kind are looked for; all others are read elsewhere"
    )]
    fn rows(&mut self, layer: Layer, block: &Extend, lines: &[RowsLine]) {
        let name = &block.name;
        let found = self.find(|k| matches!(k, StatementKind::Rows(r) if r.table.text == name.text));
        let Some(place) = found else {
            if !self.broken(&name.text) {
                let known = self.names_of(|k| match k {
                    StatementKind::Rows(r) => Some(&r.table),
                    _ => None,
                });
                self.unknown("`rows` of the table", name, &known);
            }
            return;
        };
        if !self.is_later(layer, block, place) {
            return;
        }
        let mut problems = Vec::new();
        if let StatementKind::Rows(rows) = self.kind(place) {
            rows.broken |= block.broken;
            match &mut rows.lines {
                Some(known) => known.extend(lines.iter().cloned()),
                None => problems.push(
                    Diagnostic::error(
                        "OV-250",
                        format!(
                            "the rows of `{}` are made from a count, which has no labels",
                            name.text
                        ),
                    )
                    .at(name.span, "")
                    .mend("take this block out: the survey says how many rows there are"),
                ),
            }
        }
        self.problems.extend(problems);
    }
}

/// Whether a choice is written in the value of a given, or in what it asks.
fn has_labels(value: &GivenValue) -> bool {
    match value {
        GivenValue::Label { .. } => true,
        GivenValue::Asked(asked) => matches!(asked.kind, ColumnType::OneOf(_)),
        GivenValue::Unsaid
        | GivenValue::Quantity(_)
        | GivenValue::Truth(_)
        | GivenValue::Text(_)
        | GivenValue::Of { .. } => false,
    }
}

/// The labels that are written there.
fn labels_in(value: &mut GivenValue) -> Option<&mut Vec<LabelDef>> {
    match value {
        GivenValue::Label { labels, .. } => Some(labels),
        GivenValue::Asked(asked) => asked.kind.labels_mut(),
        GivenValue::Unsaid
        | GivenValue::Quantity(_)
        | GivenValue::Truth(_)
        | GivenValue::Text(_)
        | GivenValue::Of { .. } => None,
    }
}

/// Adds a label, or spellings to one that is there. Whether the label is new.
fn add_label(list: &mut Vec<LabelDef>, label: &LabelDef, problems: &mut Vec<Diagnostic>) -> bool {
    let own = label.name.text.to_lowercase();
    let says = |l: &LabelDef, word: &str| {
        l.name.text.to_lowercase() == word || l.spellings.iter().any(|s| s.to_lowercase() == word)
    };
    for word in label
        .spellings
        .iter()
        .map(|s| s.to_lowercase())
        .chain([own.clone()])
    {
        let Some(other) = list.iter().find(|l| says(l, &word)) else {
            continue;
        };
        if other.name.text.to_lowercase() == own && word == own {
            continue;
        }
        problems.push(
            Diagnostic::error(
                "OV-251",
                format!("\"{word}\" stands for `{}` already", other.name.text),
            )
            .at(label.name.span, "")
            .at(other.name.span, "declared here")
            .mend("take it out here"),
        );
        return false;
    }
    match list.iter_mut().find(|l| l.name.text == label.name.text) {
        Some(known) if label.spellings.is_empty() => problems.push(
            Diagnostic::error(
                "OV-251",
                format!("the label `{}` is there already", label.name.text),
            )
            .at(label.name.span, "")
            .at(known.name.span, "declared here")
            .mend(format!("add a spelling: {} (\"...\")", label.name.text)),
        ),
        Some(known) => known.spellings.extend(label.spellings.iter().cloned()),
        None => {
            list.push(label.clone());
            return true;
        }
    }
    false
}

/// Whether two quantities are written alike or of one value: 8 ft is 96 in.
pub(super) fn same_quantity(a: &Signed, b: &Signed) -> bool {
    a.negative == b.negative && same_amount(&a.quantity, &b.quantity)
}

/// The same, of amounts without a sign.
pub(super) fn same_amount(a: &Quantity, b: &Quantity) -> bool {
    let unit = |u: &Option<UnitText>| u.as_ref().map(|u| u.text.clone());
    let as_written = |q: &Quantity| -> Vec<(Exact, Option<String>)> {
        q.parts.iter().map(|(n, u)| (n.clone(), unit(u))).collect()
    };
    let same_value = || base_amount(a).is_some_and(|value| base_amount(b) == Some(value));
    a.point == b.point && (as_written(a) == as_written(b) || same_value())
}

/// Whether two units are of one kind, as far as they are known without what a job counts.
fn same_kind(a: &UnitText, b: &UnitText) -> bool {
    let unit = |u: &UnitText| parse_unit(&u.text, &Nouns::default(), None);
    match (unit(a), unit(b)) {
        (Ok(a), Ok(b)) => a.dim() == b.dim(),
        _ => true,
    }
}

/// An amount in base units with what it is an amount of; `None` for what is counted and for points on a scale.
fn base_amount(q: &Quantity) -> Option<(Exact, Dim)> {
    let mut sum: Option<(Exact, Dim)> = None;
    for (number, unit) in &q.parts {
        let unit = parse_unit(&unit.as_ref()?.text, &Nouns::default(), None).ok()?;
        let value = number.mul(unit.factor()).ok()?;
        sum = Some(match sum {
            None => (value, unit.dim().clone()),
            Some((all, dim)) if dim == *unit.dim() => (all.add(&value).ok()?, dim),
            Some(_) => return None,
        });
    }
    sum
}
