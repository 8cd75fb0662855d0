//! Lists: what they have a row for, and what is in their columns.

use super::typed::*;
use super::unknown::Known;
use crate::diagnostics::Diagnostic;
use crate::paper::Class;
use crate::program::{
    Adds, Field, FieldKind, Grain, ItemBy, ListColumnDef, ListDef, ListKey, ListOver, ListShows,
    NodeId, PartDef, Program, ResourceClass, Ty, ValueKind, Version, class_of, class_of_reasons,
    shows_private,
};
use crate::syntax::tree::{
    self, Expr, ExprKind, Layer, List, ListColumn, ListLine, ListValue, Name, StatementKind,
};
use crate::units::{UnitExpr, parse_unit};

/// Words for what a list may have a row for besides tables and groups.
const OVER: [&str; 14] = [
    "part",
    "member",
    "take",
    "work",
    "purchase",
    "activity",
    "week",
    "hire",
    "pick",
    "item",
    "alternate",
    "month",
    "change",
    "answer",
];

impl<'a> Checker<'a> {
    /// Declared things of one kind by name: of two the one in the later layer, in the place of the first.
    pub(super) fn latest<T>(
        &mut self,
        what: &str,
        pick: impl Fn(&'a StatementKind) -> Option<(&'a Name, &'a T)>,
    ) -> Vec<&'a T> {
        let loaded = self.loaded;
        let mut out: Vec<(&'a Name, Layer, &'a T)> = Vec::new();
        for sheet in &loaded.sheets {
            for statement in &sheet.tree.statements {
                let Some((name, found)) = pick(&statement.kind) else {
                    continue;
                };
                match out.iter_mut().find(|(n, ..)| n.text == name.text) {
                    None => out.push((name, sheet.layer, found)),
                    Some(known) if known.1 < sheet.layer => *known = (name, sheet.layer, found),
                    Some(known) if known.1 > sheet.layer => {}
                    Some(_) => self.twice(what, name),
                }
            }
        }
        out.into_iter().map(|(_, _, found)| found).collect()
    }

    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "statements of one kind are looked for; all others are read elsewhere"
    )]
    pub(super) fn lists_of(&mut self, version: &mut Version) {
        let lists: Vec<&'a List> = self.latest("list", |kind| match kind {
            StatementKind::List(list) => Some((&list.name, list)),
            _ => None,
        });
        for list in lists {
            match self.list(list, version) {
                Ok(def) => version.lists.push(def),
                Err(Poisoned) => {
                    self.reported.broken.insert(&list.name.text);
                }
            }
        }
    }

    fn list(&mut self, list: &'a List, version: &Version) -> Checks<ListDef> {
        let over = self.list_over(list, version)?;
        let grains = self.list_grains(over, version);
        let mut def = ListDef {
            name: list.name.text.clone(),
            title: list.name.text.replace('_', " "),
            over,
            columns: Vec::new(),
            filter: Vec::new(),
            groups: Vec::new(),
            sorts: Vec::new(),
            span: list.span,
        };
        let mut failed = list.broken;
        for line in &list.lines {
            failed |= self.list_line(line, &mut def, &grains, version).is_err();
        }
        if def.columns.is_empty() && !failed {
            return self.fail(
                Diagnostic::error("OV-262", "this list has no columns")
                    .at(list.name.span, "")
                    .expected("a line such as: column mark headed \"Mark\""),
            );
        }
        if failed { Err(Poisoned) } else { Ok(def) }
    }

    fn list_over(&mut self, list: &'a List, version: &Version) -> Checks<ListOver> {
        let (what, of) = match &list.over {
            tree::ListOver::Job => return Ok(ListOver::Rows(Grain::Job)),
            tree::ListOver::Each { what, of } => (what, of.as_ref()),
        };
        let table = self.declared.tables.get(what.text.as_str()).copied();
        let group = self.declared.groups.get(what.text.as_str()).copied();
        if what.text == "item" && table.is_none() && group.is_none() {
            return self.items_over(what, of);
        }
        let class = match of {
            None => None,
            Some(word) => match ResourceClass::named(&word.text) {
                Some(class) => Some(class),
                None => {
                    self.unknown(
                        "OV-215",
                        "class of resource",
                        word,
                        Known::these(ResourceClass::ALL.map(ResourceClass::word)),
                    );
                    return Err(Poisoned);
                }
            },
        };
        let over = match (table, group, what.text.as_str()) {
            (Some(t), ..) => ListOver::Rows(Grain::Table(t)),
            (_, Some(g), _) => ListOver::Rows(Grain::Group(g)),
            (.., "part") => ListOver::Parts(class),
            (.., "member") => ListOver::Members,
            (.., "take") => ListOver::Takes(class),
            (.., "work") => ListOver::Work,
            (.., "purchase") => ListOver::Purchases(class),
            (.., "activity") => ListOver::Activities,
            (.., "week") => ListOver::Weeks,
            (.., "hire") => ListOver::Hires,
            (.., "pick") => ListOver::Picks,
            (.., "alternate") => ListOver::Alternates,
            (.., "month") => ListOver::Months,
            (.., "change") => ListOver::Changes,
            (.., "answer") => ListOver::Answers,
            _ => {
                let known: Vec<&'a str> = self.declared.kinds_of_row().chain(OVER).collect();
                self.unknown(
                    "OV-260",
                    "table, group or other kind of row",
                    what,
                    Known::these(known),
                );
                return Err(Poisoned);
            }
        };
        let of_class = matches!(
            over,
            ListOver::Parts(_) | ListOver::Takes(_) | ListOver::Purchases(_)
        );
        match of.filter(|_| !of_class) {
            Some(word) => self.fail(
                Diagnostic::error("OV-261", "only parts, takes and purchases have a class")
                    .at(word.span, "")
                    .mend(match self.list_grains(over, version).is_empty() {
                        true => {
                            format!("write `list {} for each {} {{`", list.name.text, what.text)
                        }
                        false => format!(
                            "write `list {} for each {} {{`, and a `where` line below it",
                            list.name.text, what.text
                        ),
                    }),
            ),
            None => Ok(over),
        }
    }

    /// Items are by phase, by area, or by a label of rows.
    fn items_over(&mut self, what: &Name, of: Option<&'a Name>) -> Checks<ListOver> {
        match of.map(|word| word.text.as_str()) {
            Some("phase") => Ok(ListOver::Items(ItemBy::Phase)),
            Some("area") => Ok(ListOver::Items(ItemBy::Area)),
            _ => match of.and_then(|word| self.label_of_rows(word)) {
                Some(label) => Ok(ListOver::Items(ItemBy::Label(label?))),
                None => self.fail(
                    Diagnostic::error("OV-287", "items of a bid are by phase, by area or by a label of rows")
                        .at(of.map_or(what.span, |w| w.span), "")
                        .expected("`for each item of phase`, `for each item of area`, or after `of` a label such as a treatment"),
                ),
            },
        }
    }

    /// A value of the rows of a table that is one of the words of a choice.
    fn label_of_rows(&mut self, word: &'a Name) -> Option<Checks<NodeId>> {
        let defs = self.declared.by_name.get(word.text.as_str())?;
        let grains = defs.iter().map(|d| self.declared.defs[*d].grain);
        let grain = grains.into_iter().find(|g| matches!(g, Grain::Table(_)))?;
        let found = self.named(&word.text, word.span, &Context::at(grain));
        match found {
            Ok(found) => {
                let node = self.brought_down(found.node, grain, word.span);
                let is_label = matches!(self.program.node(node).ty, Ty::Choice(_));
                is_label.then_some(Ok(node))
            }
            Err(poisoned) => Some(Err(poisoned)),
        }
    }

    /// The grains that rows of a list are at; none where no rule can be read.
    pub(super) fn list_grains(&self, over: ListOver, version: &Version) -> Vec<Grain> {
        let main = self.program.main_table().map(Grain::Table);
        let mut grains: Vec<Grain> = match over {
            ListOver::Rows(grain) => vec![grain],
            ListOver::Takes(_) | ListOver::Work => main.into_iter().collect(),
            ListOver::Parts(class) => {
                let parts = version.parts.iter();
                let of = parts
                    .filter(|p| class.is_none_or(|c| version.resources[p.resource].class == c));
                of.map(|p| p.grain).collect()
            }
            ListOver::Members => {
                let said = |p: &&PartDef| p.member.is_some() && p.treatment.is_some();
                let members = version.parts.iter().filter(said);
                members.map(|p| p.grain).collect()
            }
            ListOver::Purchases(_)
            | ListOver::Activities
            | ListOver::Weeks
            | ListOver::Hires
            | ListOver::Picks
            | ListOver::Items(_)
            | ListOver::Alternates
            | ListOver::Months
            | ListOver::Changes
            | ListOver::Answers => vec![],
        };
        if grains.is_empty() && matches!(over, ListOver::Parts(_) | ListOver::Members) {
            grains.extend(main);
        }
        let mut out: Vec<Grain> = Vec::new();
        for grain in grains {
            if !out.contains(&grain) {
                out.push(grain);
            }
        }
        out
    }

    fn list_line(
        &mut self,
        line: &'a ListLine,
        def: &mut ListDef,
        grains: &[Grain],
        version: &Version,
    ) -> Checks<()> {
        match line {
            ListLine::Titled(text) => def.title.clone_from(&text.text),
            ListLine::Tick(text) => def.columns.push(by_hand(text, ListShows::Tick)),
            ListLine::Room(text) => def.columns.push(by_hand(text, ListShows::Room)),
            ListLine::Column(column) => {
                let column = self.list_column(column, def.over, grains, version)?;
                def.columns.push(column);
            }
            ListLine::Where(e) => {
                if grains.is_empty() {
                    return self.no_rules_here(e.span, def.over);
                }
                for grain in grains {
                    let found = self.condition(e, &Context::at(*grain))?;
                    let node = self.brought_down(found.node, *grain, e.span);
                    def.filter.push((*grain, node));
                }
            }
            ListLine::Grouped(names) => {
                for name in names {
                    let key = self.list_key(name, def.over, grains)?;
                    let class = self.class_by_name(&key, name, def.over, version);
                    def.groups.push((key, class));
                }
            }
            ListLine::Sorted(names) => {
                for (name, down) in names {
                    let key = self.list_key(name, def.over, grains)?;
                    let class = self.class_by_name(&key, name, def.over, version);
                    def.sorts.push((key, *down, class));
                }
            }
        }
        Ok(())
    }

    fn no_rules_here<T>(&mut self, span: crate::diagnostics::Span, over: ListOver) -> Checks<T> {
        let names: Vec<&str> = over.fields().iter().map(|f| f.0).collect();
        self.fail(
            Diagnostic::error("OV-263", "no rule can be read in rows of this kind")
                .at(span, "")
                .expected(format!("one of {}", names.join(", "))),
        )
    }

    pub(super) fn list_key(
        &mut self,
        name: &'a Name,
        over: ListOver,
        grains: &[Grain],
    ) -> Checks<ListKey> {
        let field = self
            .own_field(over, &name.text)
            .or_else(|| self.area_field(over, &name.text));
        if let Some(field) = field {
            return Ok(ListKey::Own(field));
        }
        if grains.is_empty() {
            return self.no_rules_here(name.span, over);
        }
        let mut nodes = Vec::new();
        for grain in grains {
            let found = self.named(&name.text, name.span, &Context::at(*grain))?;
            nodes.push((*grain, self.brought_down(found.node, *grain, name.span)));
        }
        Ok(ListKey::Formula(nodes))
    }

    fn own_field(&self, over: ListOver, name: &str) -> Option<Field> {
        // Rows of a survey belong to a sheet, and so do their names.
        if matches!(over, ListOver::Rows(_)) && self.declared.by_name.contains_key(name) {
            return None;
        }
        let found = over.fields().iter().find(|(known, _)| *known == name);
        found.map(|(_, field)| *field)
    }

    /// The areas of the calendar by the name of their column.
    fn area_field(&self, over: ListOver, name: &str) -> Option<Field> {
        let areas = matches!(
            over,
            ListOver::Activities | ListOver::Weeks | ListOver::Hires
        );
        let splits = &self.program.terms.split_by;
        // Without a job, any column may turn out to be the one that parts the work.
        let split = match splits.is_empty() {
            true => self.declared.by_name.contains_key(name),
            false => splits.iter().any(|s| s == name),
        };
        (areas && split).then_some(Field::Area)
    }

    pub(super) fn class_of_key(&self, key: &ListKey, version: &Version) -> Class {
        match key {
            ListKey::Own(field) => field.class(),
            ListKey::Formula(nodes) => nodes.iter().fold(Class::Open, |class, (_, node)| {
                class.with(class_of(&self.program, version, *node))
            }),
        }
    }

    /// The class of a key that is written as a name.
    pub(super) fn class_by_name(
        &self,
        key: &ListKey,
        name: &Name,
        over: ListOver,
        version: &Version,
    ) -> Class {
        match key {
            ListKey::Own(field) => self.class_of_field(*field, over, version),
            ListKey::Formula(_) if shows_private(version, &name.text) => Class::Private,
            ListKey::Formula(_) => self.class_of_key(key, version),
        }
    }

    /// The class of a field; what is said of a part has that of the formulas it was made of.
    fn class_of_field(&self, field: Field, over: ListOver, version: &Version) -> Class {
        let of = match over {
            ListOver::Parts(of) => of,
            ListOver::Members => None,
            // Whoever reads the items reads the labels.
            ListOver::Items(ItemBy::Label(label)) => {
                return field.class().with(class_of(&self.program, version, label));
            }
            ListOver::Rows(_)
            | ListOver::Takes(_)
            | ListOver::Work
            | ListOver::Purchases(_)
            | ListOver::Activities
            | ListOver::Weeks
            | ListOver::Hires
            | ListOver::Picks
            | ListOver::Items(_)
            | ListOver::Alternates
            | ListOver::Months
            | ListOver::Changes
            | ListOver::Answers => return field.class(),
        };
        if field == Field::Reason {
            return class_of_member_reasons(&self.program, version);
        }
        let said = matches!(
            field,
            Field::Pieces
                | Field::Size(_)
                | Field::Rough(_)
                | Field::Member
                | Field::Decayed
                | Field::Treatment
                | Field::Profile
        );
        let listed =
            |p: &PartDef| of.is_none_or(|class| version.resources[p.resource].class == class);
        let mut parts = version.parts.iter();
        match said && parts.any(|p| listed(p) && self.part_shows_private(p, version)) {
            true => Class::Private,
            false => field.class(),
        }
    }

    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "these forms alone are meant; any other is a formula like all others"
    )]
    fn list_column(
        &mut self,
        column: &'a ListColumn,
        over: ListOver,
        grains: &[Grain],
        version: &Version,
    ) -> Checks<ListColumnDef> {
        let (name, shows, unit, class) = match &column.value {
            ListValue::Formula(e) => {
                let own = match &e.kind {
                    ExprKind::Name(name) => self.own_field(over, name),
                    _ => None,
                };
                let name = self.loaded.sources.slice(e.span).to_owned();
                match own {
                    Some(field) => {
                        let unit = self.field_unit(field, column)?;
                        let key = ListKey::Own(field);
                        let class = self.class_of_field(field, over, version);
                        (name, ListShows::Key(key), unit, class)
                    }
                    None => {
                        let (key, unit) = self.list_formula(e, column, over, grains)?;
                        let class = match self.shows_private(e, version) {
                            true => Class::Private,
                            false => self.class_of_key(&key, version),
                        };
                        (name, ListShows::Key(key), unit, class)
                    }
                }
            }
            ListValue::Reason(name) | ListValue::Basis(name) => {
                let basis = matches!(column.value, ListValue::Basis(_));
                let (shows, class) = self.list_reason(name, basis, grains, version)?;
                let word = if basis { "basis" } else { "reason" };
                (format!("{word} of {}", name.text), shows, None, class)
            }
        };
        if let (Some(unit), None) = (&column.shown, &unit) {
            return self.fail(
                Diagnostic::error("OV-310", "only a number can be shown in a unit")
                    .at(unit.span, ""),
            );
        }
        let heading = match (&column.headed, &column.value) {
            (Some(text), _) => text.text.clone(),
            (None, ListValue::Formula(e)) if !matches!(e.kind, ExprKind::Name(_)) => {
                return self.fail(
                    Diagnostic::error("OV-267", "a column that is a formula needs a heading")
                        .at(column.span, "")
                        .expected("`headed \"...\"` behind the formula")
                        .note("Without one, the paper would show the formula itself."),
                );
            }
            (None, _) => name.replace('_', " "),
        };
        Ok(ListColumnDef {
            heading,
            name,
            shows,
            unit,
            total: column.total.is_some(),
            class: if column.private {
                Class::Private
            } else {
                class
            },
            span: column.span,
        })
    }

    /// The unit of a field, refusing one that does not fit and a sum of what does not add up.
    fn field_unit(&mut self, field: Field, column: &'a ListColumn) -> Checks<Option<UnitExpr>> {
        let kind = field.kind();
        if let Some(span) = column.total
            && !matches!(kind, FieldKind::Count | FieldKind::Hours | FieldKind::Money)
        {
            return self.fail(
                Diagnostic::error("OV-525", "this column can't be added up")
                    .at(span, "")
                    .note("its values are not amounts of one thing"),
            );
        }
        let currency = self.program.currency.clone();
        let word = match kind {
            FieldKind::Length => "in",
            FieldKind::Share => "%",
            FieldKind::Hours => "h",
            FieldKind::Money => currency.as_deref().unwrap_or("USD"),
            FieldKind::Text | FieldKind::Count | FieldKind::Plain => return Ok(None),
        };
        let usual = parse_unit(word, &self.program.nouns, Some(word)).map_err(|_| Poisoned)?;
        match &column.shown {
            None => Ok(Some(usual)),
            Some(text) => {
                let unit = self.unit(text)?;
                if unit.dim() == usual.dim() {
                    return Ok(Some(unit));
                }
                self.unit_misfit(text, &usual)
            }
        }
    }

    fn unit_misfit<T>(&mut self, text: &'a tree::UnitText, usual: &UnitExpr) -> Checks<T> {
        let expected = crate::units::describe(usual.dim(), &self.program.nouns);
        self.fail(
            Diagnostic::error(
                "OV-310",
                format!("this column can't be shown in `{}`", text.text),
            )
            .at(text.span, "")
            .expected(format!("a unit of {expected}")),
        )
    }

    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "these forms alone are meant; any other is a formula like all others"
    )]
    fn list_formula(
        &mut self,
        e: &'a Expr,
        column: &'a ListColumn,
        over: ListOver,
        grains: &[Grain],
    ) -> Checks<(ListKey, Option<UnitExpr>)> {
        if grains.is_empty() {
            return self.no_rules_here(e.span, over);
        }
        let (mut nodes, mut unit) = (Vec::new(), None);
        for grain in grains {
            let cx = Context::at(*grain);
            // A cell that may be blank is printed as such; in a formula the sheet says what to do.
            let (name, found) = match &e.kind {
                ExprKind::Name(name) => (name.as_str(), self.expr(e, &cx, None)?),
                _ => ("", self.settled(e, &cx, None)?),
            };
            if let (Ty::Number(n), Some(span)) = (self.ty(&found).clone(), column.total) {
                let repeated = !matches!(over, ListOver::Rows(_));
                if let (Adds::No(why), false) = (n.adds, repeated) {
                    return self.fail(
                        Diagnostic::error("OV-525", "this column can't be added up")
                            .at(span, "")
                            .at(e.span, super::number_type::why_not(why)),
                    );
                }
                if repeated {
                    return self.fail(
                        Diagnostic::error("OV-525", "this column can't be added up")
                            .at(span, "")
                            .note("a value of a row is repeated beside each part or take of that row, so it would be counted once for each"),
                    );
                }
            } else if let Some(span) = column.total {
                return self.fail(
                    Diagnostic::error("OV-525", "this column can't be added up")
                        .at(span, "")
                        .at(e.span, "not a number"),
                );
            }
            unit = self.piece_unit(name, &found, &cx);
            let node = self.brought_down(found.node, *grain, e.span);
            nodes.push((*grain, node));
        }
        if let (Some(text), Some(usual)) = (&column.shown, &unit) {
            let asked = self.unit(text)?;
            if asked.dim() != usual.dim() {
                return self.unit_misfit(text, usual);
            }
            unit = Some(asked);
        }
        Ok((ListKey::Formula(nodes), unit))
    }

    fn list_reason(
        &mut self,
        name: &'a Name,
        basis: bool,
        grains: &[Grain],
        version: &Version,
    ) -> Checks<(ListShows, Class)> {
        let mut decisions = version
            .values
            .iter()
            .enumerate()
            .filter_map(|(at, v)| match &v.kind {
                ValueKind::Decide(decide) if v.name == name.text && grains == [v.grain] => {
                    Some((at, decide))
                }
                ValueKind::Column { .. }
                | ValueKind::Given { .. }
                | ValueKind::Rule
                | ValueKind::Decide(_) => None,
            });
        let Some((at, decide)) = decisions.next() else {
            return self.fail(
                Diagnostic::error(
                    "OV-264",
                    format!("`{}` is not a decision on these rows", name.text),
                )
                .at(name.span, "")
                .expected("a decision of the same table or group as the list"),
            );
        };
        let id = <crate::program::ValueId as crate::ids::Id>::at(at).ok_or(Poisoned)?;
        Ok(match basis {
            true => (ListShows::Basis(id), Class::Open),
            false => {
                let class = class_of_reasons(&self.program, version, decide);
                (ListShows::Reason(id), class)
            }
        })
    }
}

fn by_hand(text: &tree::Text, shows: ListShows) -> ListColumnDef {
    ListColumnDef {
        name: text.text.clone(),
        heading: text.text.clone(),
        shows,
        unit: None,
        total: false,
        class: Class::Open,
        span: text.span,
    }
}

/// The class of the reasons of what becomes of members.
fn class_of_member_reasons(program: &Program, version: &Version) -> Class {
    let decisions = version.values.iter().filter_map(|v| match &v.kind {
        ValueKind::Decide(decide) => Some((v.node, decide)),
        ValueKind::Column { .. } | ValueKind::Given { .. } | ValueKind::Rule => None,
    });
    let of_members =
        decisions.filter(|(node, _)| version.parts.iter().any(|p| p.treatment == Some(*node)));
    of_members.fold(Class::Open, |class, (_, decide)| {
        class.with(class_of_reasons(program, version, decide))
    })
}
