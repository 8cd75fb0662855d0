//! Papers: for whom, what they hold, and whether that reader may see it.

use super::typed::*;
use super::unknown::Known;
use crate::diagnostics::{Diagnostic, Span};
use crate::paper::{Class, Reader};
use crate::program::{
    Constants, DrawDef, Field, Grain, ListKey, ListOver, NodeId, PaperBlockDef, PaperDef,
    PaperEachDef, PartDef, Piece, SoftDef, Template, Ty, Version, class_of, class_of_text,
};
use crate::syntax::tree::{Draw, Expr, Name, Paper, PaperEach, PaperLine, StatementKind, Text};

/// Where a line of a paper stands.
#[derive(Clone, Copy)]
struct In<'a> {
    paper: &'a Paper,
    reader: Reader,
    /// The rows that the lines around it are printed for.
    grain: Grain,
}

impl<'a> Checker<'a> {
    pub(super) fn papers_of(&mut self, version: &mut Version) {
        let papers: Vec<&'a Paper> = self.latest("paper", |kind| match kind {
            StatementKind::Paper(paper) => Some((&paper.name, paper)),
            _ => None,
        });
        for paper in papers {
            if let Ok(def) = self.paper(paper, version) {
                version.papers.push(def);
            }
        }
    }

    fn paper(&mut self, paper: &'a Paper, version: &Version) -> Checks<PaperDef> {
        let Some(reader) = Reader::named(&paper.reader.text) else {
            let known = Reader::ALL.map(Reader::word);
            self.unknown(
                "OV-266",
                "reader of papers",
                &paper.reader,
                Known::these(known),
            );
            return Err(Poisoned);
        };
        let mut def = PaperDef {
            name: paper.name.text.clone(),
            title: Template {
                pieces: vec![Piece::Text(paper.name.text.replace('_', " "))],
            },
            reader,
            each: paper.each.as_ref().map(|n| n.text.clone()),
            blocks: Vec::new(),
            span: paper.span,
        };
        let mut failed = paper.broken;
        let place = In {
            paper,
            reader,
            grain: Grain::Job,
        };
        for line in &paper.lines {
            match line {
                PaperLine::Titled(text) => match self.paper_text(text, place, version) {
                    Ok(title) => def.title = title,
                    Err(Poisoned) => failed = true,
                },
                _ => match self.paper_line(line, place, version) {
                    Ok(block) => def.blocks.push(block),
                    Err(Poisoned) => failed = true,
                },
            }
        }
        if failed { Err(Poisoned) } else { Ok(def) }
    }

    fn paper_line(
        &mut self,
        line: &'a PaperLine,
        place: In<'a>,
        version: &Version,
    ) -> Checks<PaperBlockDef> {
        Ok(match line {
            PaperLine::Titled(text) => {
                return self.fail(
                    Diagnostic::error("OV-285", "a title belongs to the whole paper")
                        .at(text.span, "")
                        .mend("write `heading` here"),
                );
            }
            PaperLine::Heading(text) => {
                PaperBlockDef::Heading(self.paper_text(text, place, version)?)
            }
            PaperLine::Text(text) => PaperBlockDef::Text(self.paper_text(text, place, version)?),
            PaperLine::Cautions => PaperBlockDef::Cautions,
            PaperLine::PageBreak => PaperBlockDef::PageBreak,
            PaperLine::Signs(texts) => {
                PaperBlockDef::Signs(texts.iter().map(|t| t.text.clone()).collect())
            }
            PaperLine::Offer(span) => {
                if !place.reader.may_see(Class::AllIn) {
                    return self.fail(
                        unseen("the offer", Class::AllIn, place.reader)
                            .at(*span, Class::AllIn.text()),
                    );
                }
                PaperBlockDef::Offer
            }
            PaperLine::Photograph(name) => {
                let found = self.named(&name.text, name.span, &Context::at(place.grain))?;
                if !matches!(self.ty(&found), Ty::Text) || place.grain == Grain::Job {
                    return self.fail(
                        Diagnostic::error("OV-286", "this names no photograph")
                            .at(name.span, "")
                            .expected("a text of the rows of an `each` block that holds the number of the photograph"),
                    );
                }
                let node = self.brought_down(found.node, place.grain, name.span);
                PaperBlockDef::Photograph(node)
            }
            PaperLine::Draw(draw) => {
                PaperBlockDef::Draw(Box::new(self.paper_draw(draw, place, version)?))
            }
            PaperLine::Each(each) => {
                PaperBlockDef::Each(Box::new(self.paper_rows(each, place, version)?))
            }
            PaperLine::List(name) => {
                let Some(at) = version.lists.iter().position(|l| l.name == name.text) else {
                    let names: Vec<&str> = version.lists.iter().map(|l| l.name.as_str()).collect();
                    self.unknown("OV-265", "list", name, Known::these(names));
                    return Err(Poisoned);
                };
                self.refuse_unseen(at, name.span, place.reader, version)?;
                if place.grain != Grain::Job {
                    self.below(version.lists[at].over, name, place, version)?;
                    return Ok(PaperBlockDef::List(at, None));
                }
                let key = self.paper_each(at, name.span, place.paper, place.reader, version)?;
                PaperBlockDef::List(at, key)
            }
        })
    }

    /// The grain that a table or group of a name has.
    fn grain_named(&self, name: &str) -> Option<Grain> {
        let table = self.tables.get(name).copied().map(Grain::Table);
        table.or_else(|| self.groups.get(name).copied().map(Grain::Group))
    }

    /// Whether rows of a grain belong to rows of another.
    fn belongs(&self, mut grain: Grain, to: Grain) -> bool {
        loop {
            if grain == to {
                return true;
            }
            let Grain::Table(table) = grain else {
                return false;
            };
            if let Grain::Group(group) = to
                && self.program.groups[group].of == table
            {
                return true;
            }
            match self.program.tables[table].parent {
                Some(parent) => grain = Grain::Table(parent),
                None => return false,
            }
        }
    }

    fn not_below<T>(&mut self, name: &Name, place: In<'a>) -> Checks<T> {
        let rows = match place.grain {
            Grain::Table(t) => self.program.tables[t].schema.name.clone(),
            Grain::Group(g) => self.program.groups[g].name.clone(),
            Grain::Job | Grain::Const => {
                return self.fail(
                    Diagnostic::error("OV-284", "rows are drawn inside an `each` block")
                        .at(name.span, "")
                        .mend("put the line into `each TABLE { }`, once for each row above these"),
                );
            }
        };
        self.fail(
            Diagnostic::error(
                "OV-284",
                format!("the rows of `{}` belong to no row of `{rows}`", name.text),
            )
            .at(name.span, "")
            .expected(format!(
                "a table or list of `{rows}` or of a table below it"
            )),
        )
    }

    /// Refuses a list whose rows belong to no row of the block.
    fn below(
        &mut self,
        over: ListOver,
        name: &'a Name,
        place: In<'a>,
        version: &Version,
    ) -> Checks<()> {
        let of_job = matches!(
            over,
            ListOver::Purchases(_)
                | ListOver::Activities
                | ListOver::Hires
                | ListOver::Items(_)
                | ListOver::Alternates
                | ListOver::Months
        );
        let grains = self.list_grains(over, version);
        let fits = grains.iter().any(|g| self.belongs(*g, place.grain));
        match fits && !of_job {
            true => Ok(()),
            false => self.not_below(name, place),
        }
    }

    fn paper_rows(
        &mut self,
        each: &'a PaperEach,
        place: In<'a>,
        version: &Version,
    ) -> Checks<PaperEachDef> {
        if place.grain != Grain::Job {
            return self.fail(
                Diagnostic::error("OV-285", "an `each` block stands in another")
                    .at(each.what.span, "")
                    .mend("print what belongs to a row with a list"),
            );
        }
        let Some(grain) = self.grain_named(&each.what.text) else {
            let tables = self.tables.keys().chain(self.groups.keys()).copied();
            let known: Vec<&'a str> = tables.collect();
            self.unknown("OV-260", "table or group", &each.what, Known::these(known));
            return Err(Poisoned);
        };
        let place = In { grain, ..place };
        let filter = match &each.filter {
            None => None,
            Some(e) => {
                let found = self.condition(e, &Context::at(grain))?;
                Some(self.brought_down(found.node, grain, e.span))
            }
        };
        let mut sorts = Vec::new();
        for (name, down) in &each.sorted {
            let key = self.list_key(name, ListOver::Rows(grain), &[grain])?;
            let class = self.class_of_key(&key, version);
            if !place.reader.may_see(class) {
                return self
                    .fail(unseen(&name.text, class, place.reader).at(name.span, class.text()));
            }
            sorts.push((key, *down, class));
        }
        let mut blocks = Vec::new();
        let mut failed = false;
        for line in &each.lines {
            match self.paper_line(line, place, version) {
                Ok(block) => blocks.push(block),
                Err(Poisoned) => failed = true,
            }
        }
        if failed {
            return Err(Poisoned);
        }
        Ok(PaperEachDef {
            grain,
            filter,
            sorts,
            blocks,
        })
    }

    fn paper_draw(&mut self, draw: &'a Draw, place: In<'a>, version: &Version) -> Checks<DrawDef> {
        let (Draw::Sash { table, .. } | Draw::Wall { table, .. }) = draw else {
            return Ok(DrawDef::Calendar);
        };
        let Some(grain) = self
            .tables
            .get(table.text.as_str())
            .copied()
            .map(Grain::Table)
        else {
            let known: Vec<&'a str> = self.tables.keys().copied().collect();
            self.unknown("OV-260", "table", table, Known::these(known));
            return Err(Poisoned);
        };
        if place.grain == Grain::Job || !self.belongs(grain, place.grain) {
            return self.not_below(table, place);
        }
        match draw {
            Draw::Calendar(_) => Ok(DrawDef::Calendar),
            Draw::Sash {
                at, within, soft, ..
            } => {
                let soft = match soft {
                    None => None,
                    Some(soft) => {
                        let rows = self.tables.get(soft.table.text.as_str()).copied();
                        let below = rows.map(Grain::Table).filter(|g| self.belongs(*g, grain));
                        let Some(rows) = below else {
                            return self.not_below(&soft.table, In { grain, ..place });
                        };
                        Some(SoftDef {
                            grain: rows,
                            on: self.shown_name(&soft.on, rows)?,
                            from: self.shown_name(&soft.from, rows)?,
                            long: self.shown_name(&soft.long, rows)?,
                            broad: self.shown_name(&soft.broad, rows)?,
                        })
                    }
                };
                let private = |p: &PartDef| p.grain == grain && self.part_shows_private(p, version);
                if !version.private_names.is_empty()
                    && !place.reader.may_see(Class::Private)
                    && version.parts.iter().any(private)
                {
                    return self.fail(
                        unseen("this drawing", Class::Private, place.reader)
                            .at(table.span, "a part here shows what the office keeps"),
                    );
                }
                Ok(DrawDef::Sash {
                    grain,
                    at: self.two_lengths(at, grain)?,
                    within: self.two_lengths(within, place.grain)?,
                    soft,
                })
            }
            Draw::Wall {
                along,
                up,
                within,
                letter,
                ..
            } => {
                let letter = match letter {
                    None => None,
                    Some(name) => {
                        let node = self.shown_name(name, grain)?;
                        let class = class_of(&self.program, version, node);
                        if !place.reader.may_see(class) {
                            return self.fail(
                                unseen(&name.text, class, place.reader).at(name.span, class.text()),
                            );
                        }
                        Some(node)
                    }
                };
                Ok(DrawDef::Wall {
                    grain,
                    along: self.shown_name(along, grain)?,
                    up: self.shown_name(up, grain)?,
                    within: self.two_lengths(within, grain)?,
                    letter,
                })
            }
        }
    }

    fn shown_name(&mut self, name: &'a Name, grain: Grain) -> Checks<NodeId> {
        let found = self.named(&name.text, name.span, &Context::at(grain))?;
        Ok(self.brought_down(found.node, grain, name.span))
    }

    fn two_lengths(&mut self, pair: &'a [Expr; 2], grain: Grain) -> Checks<[NodeId; 2]> {
        let cx = Context::at(grain);
        let mut one = |e: &'a Expr| -> Checks<NodeId> {
            let node = self.part_length(e, &cx)?;
            Ok(self.brought_down(node, grain, e.span))
        };
        let [first, second] = pair;
        Ok([one(first)?, one(second)?])
    }

    /// By what a list of the paper is parted.
    fn paper_each(
        &mut self,
        at: usize,
        span: Span,
        paper: &'a Paper,
        reader: Reader,
        version: &Version,
    ) -> Checks<Option<ListKey>> {
        let list = &version.lists[at];
        let of_one = match &paper.each {
            None => None,
            Some(name) => {
                let grains = self.list_grains(list.over, version);
                Some((name, self.list_key(name, list.over, &grains)?))
            }
        };
        let of_supplier = matches!(of_one, Some((_, ListKey::Own(Field::Supplier))));
        if reader == Reader::Order && matches!(list.over, ListOver::Purchases(_)) && !of_supplier {
            return self.fail(
                Diagnostic::error(
                    "OV-461",
                    "an order is for one supplier, and this list has the goods of all",
                )
                .at(span, "")
                .at(paper.span, "")
                .mend(format!(
                    "write `paper {} for order each supplier {{`",
                    paper.name.text
                )),
            );
        }
        let Some((name, key)) = of_one else {
            return Ok(None);
        };
        let class = self.class_by_name(&key, name, list.over, version);
        // Whoever is handed an order knows who they are.
        if !of_supplier && !reader.may_see(class) {
            return self.fail(unseen(&name.text, class, reader).at(name.span, class.text()));
        }
        Ok(Some(key))
    }

    /// Refuses a list that shows what the reader may not see; each column of it is told.
    fn refuse_unseen(
        &mut self,
        at: usize,
        span: Span,
        reader: Reader,
        version: &Version,
    ) -> Checks<()> {
        let list = &version.lists[at];
        let mut found: Vec<Diagnostic> = Vec::new();
        for column in list.columns.iter().filter(|c| !reader.may_see(c.class)) {
            found.push(
                unseen(&column.name, column.class, reader)
                    .at(column.span, column.class.text())
                    .at(span, "printed here"),
            );
        }
        for (_, class) in list.groups.iter().filter(|g| !reader.may_see(g.1)) {
            let what = format!("what `{}` is grouped by", list.name);
            found.push(unseen(&what, *class, reader).at(list.span, class.text()));
        }
        for (.., class) in list.sorts.iter().filter(|s| !reader.may_see(s.2)) {
            let what = format!("the order of `{}`", list.name);
            found.push(unseen(&what, *class, reader).at(list.span, class.text()));
        }
        if found.is_empty() {
            return Ok(());
        }
        self.problems.extend(found);
        Err(Poisoned)
    }

    fn paper_text(&mut self, text: &'a Text, place: In<'a>, version: &Version) -> Checks<Template> {
        let reader = place.reader;
        let template = self.template(text, &Context::at(place.grain))?;
        let class = class_of_text(&self.program, version, &template, Constants::AsGivens);
        match reader.may_see(class) {
            true => Ok(template),
            false => self.fail(unseen("this text", class, reader).at(text.span, class.text())),
        }
    }
}

fn unseen(what: &str, class: Class, reader: Reader) -> Diagnostic {
    let what = match what.contains(' ') {
        true => what.to_owned(),
        false => format!("`{what}`"),
    };
    Diagnostic::error(
        "OV-460",
        format!("{what} can't be shown to {}", reader.whom()),
    )
    .found(class.text())
    .expected(format!("what {} may see", reader.whom()))
    .mend("take it out of the list, or print it in a paper `for office`")
}
