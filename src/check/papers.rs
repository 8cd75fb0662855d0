//! Papers: for whom, what they hold, and whether that reader may see it.

use super::typed::*;
use super::unknown::Known;
use crate::diagnostics::{Diagnostic, Span};
use crate::paper::{Class, Reader};
use crate::program::{
    Constants, DrawDef, Field, Grain, ListColumnDef, ListKey, ListOver, ListShows, NodeId,
    PaperBlockDef, PaperDef, PaperEachDef, PartDef, Piece, SoftDef, Template, Ty, Version,
    class_of_name, class_of_text, class_of_written,
};
use crate::syntax::tree::{
    Chart, Draw, DrawSash, DrawWall, Expr, Name, Paper, PaperEach, PaperLine, Soft, StatementKind,
    Text,
};

/// Where a line of a paper is.
#[derive(Clone, Copy)]
struct In<'a> {
    paper: &'a Paper,
    reader: Reader,
    /// The rows that the lines around it are printed for.
    grain: Grain,
}

impl<'a> Checker<'a> {
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "statements of one kind are looked for; all others are read elsewhere"
    )]
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

    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "lines that have no head of their own are read one by one"
    )]
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
            parted: !paper.each.is_empty(),
            blocks: Vec::new(),
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
            PaperLine::Cautions { of_rows, kind } => {
                if let Some(span) = of_rows.filter(|_| place.paper.each.is_empty()) {
                    return self.fail(
                        Diagnostic::error(
                            "OV-285",
                            "this paper is of all rows, and so are its cautions",
                        )
                        .at(span, "")
                        .mend("write `cautions` alone, or `each` behind the reader of the paper"),
                    );
                }
                PaperBlockDef::Cautions {
                    of_rows: of_rows.is_some(),
                    kind: *kind,
                }
            }
            PaperLine::Boxes(title, across, texts) => {
                let words = |list: &[Text]| list.iter().map(|t| t.text.clone()).collect();
                PaperBlockDef::Boxes(title.text.clone(), words(across), words(texts))
            }
            PaperLine::Rooms(texts) => {
                PaperBlockDef::Rooms(texts.iter().map(|t| t.text.clone()).collect())
            }
            PaperLine::PageBreak => PaperBlockDef::PageBreak,
            PaperLine::Signs(texts) => {
                PaperBlockDef::Signs(texts.iter().map(|t| t.text.clone()).collect())
            }
            PaperLine::Offer(span) => {
                self.seen(Class::AllIn, place.reader, "the offer", *span)?;
                PaperBlockDef::Offer
            }
            PaperLine::OfferOfChanges(span) => {
                self.seen(Class::AllIn, place.reader, "the offer", *span)?;
                PaperBlockDef::OfferOfChanges
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
                PaperBlockDef::Photograph(self.shown_name(name, place, version)?)
            }
            PaperLine::Draw(draw) => PaperBlockDef::Draw(self.paper_draw(draw, place, version)?),
            PaperLine::Each(each) => PaperBlockDef::Each(self.paper_rows(each, place, version)?),
            PaperLine::List(name, shape) => {
                let Some(at) = version.lists.iter().position(|l| l.name == name.text) else {
                    let names: Vec<&str> = version.lists.iter().map(|l| l.name.as_str()).collect();
                    self.unknown("OV-265", "list", name, Known::these(names));
                    return Err(Poisoned);
                };
                let keys = match place.grain {
                    Grain::Job => self.paper_each(at, name.span, place.paper, version),
                    Grain::Const | Grain::Group(_) | Grain::Table(_) => Ok(Vec::new()),
                };
                let own = keys.as_ref().is_ok_and(|keys| of_supplier(keys));
                let unseen = self.refuse_unseen(at, name.span, (place.reader, own), version);
                let keys = unseen.and(keys)?;
                if place.grain != Grain::Job {
                    self.below(version.lists[at].over, name, place, version)?;
                }
                self.parted(at, name.span, (place, &keys), version)?;
                PaperBlockDef::List(at, keys, *shape)
            }
        })
    }

    /// The grain that a table or group of a name has.
    fn grain_named(&self, name: &str) -> Option<Grain> {
        let table = self.declared.tables.get(name).copied().map(Grain::Table);
        table.or_else(|| self.declared.groups.get(name).copied().map(Grain::Group))
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
        let grains = self.list_grains(over, version);
        match grains.iter().any(|g| self.belongs(*g, place.grain)) {
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
                Diagnostic::error("OV-285", "an `each` block is inside another")
                    .at(each.what.span, "")
                    .mend("print what belongs to a row with a list"),
            );
        }
        if let Some(parted) = place.paper.each.first() {
            return self.fail(
                Diagnostic::error(
                    "OV-285",
                    "an `each` block is in a paper that is split into several",
                )
                .at(each.what.span, "")
                .at(parted.span, "parted here")
                .expected("lists, of which each part of the paper prints its own rows")
                .mend("put the block into a paper of its own"),
            );
        }
        let Some(grain) = self.grain_named(&each.what.text) else {
            let known: Vec<&'a str> = self.declared.kinds_of_row().collect();
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
            let over = ListOver::Rows(grain);
            let key = self.list_key(name, over, &[grain])?;
            let class = self.class_by_name(&key, name, over, version);
            self.seen(class, place.reader, &name.text, name.span)?;
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
        match draw {
            Draw::Chart(chart, span) => {
                let (class, what) = match chart {
                    Chart::Phases | Chart::Areas | Chart::Alternates => {
                        (Class::AllIn, "a chart of prices")
                    }
                    Chart::Charges => (Class::Private, "a chart of charges"),
                    Chart::Effects => (Class::Private, "a chart of effects"),
                    Chart::Years => (Class::Private, "a chart of costs over the years"),
                };
                self.seen(class, place.reader, what, *span)?;
                Ok(DrawDef::Chart(*chart, place.reader))
            }
            Draw::Calendar => Ok(DrawDef::Calendar),
            Draw::Cuts => Ok(DrawDef::Cuts),
            Draw::Sash(draw) => self.draw_sash(draw, place, version),
            Draw::Wall(draw) => self.draw_wall(draw, place, version),
        }
    }

    /// The grain of a table whose rows are drawn for the rows of the block.
    fn drawn_rows(&mut self, table: &'a Name, place: In<'a>) -> Checks<Grain> {
        let Some(found) = self.declared.tables.get(table.text.as_str()) else {
            let known: Vec<&'a str> = self.declared.tables.keys().copied().collect();
            self.unknown("OV-260", "table", table, Known::these(known));
            return Err(Poisoned);
        };
        let grain = Grain::Table(*found);
        match self.belongs(grain, place.grain) {
            true => Ok(grain),
            false => self.not_below(table, place),
        }
    }

    fn draw_sash(
        &mut self,
        draw: &'a DrawSash,
        place: In<'a>,
        version: &Version,
    ) -> Checks<DrawDef> {
        let grain = self.drawn_rows(&draw.table, place)?;
        let soft = match &draw.soft {
            None => None,
            Some(soft) => Some(self.soft(soft, In { grain, ..place }, version)?),
        };
        let private = |p: &PartDef| {
            p.grain == grain
                && (self.part_shows_private(p, version) || self.place_shows_private(p, version))
        };
        if version.parts.iter().any(private) {
            self.seen(
                Class::Private,
                place.reader,
                "this drawing",
                draw.table.span,
            )?;
        }
        Ok(DrawDef::Sash {
            grain,
            at: self.two_lengths(&draw.at, In { grain, ..place }, version)?,
            within: self.two_lengths(&draw.within, place, version)?,
            soft,
        })
    }

    fn soft(&mut self, soft: &'a Soft, sash: In<'a>, version: &Version) -> Checks<SoftDef> {
        let grain = self.drawn_rows(&soft.table, sash)?;
        let place = In { grain, ..sash };
        Ok(SoftDef {
            grain,
            on: self.shown_name(&soft.on, place, version)?,
            from: self.shown_name(&soft.from, place, version)?,
            long: self.shown_name(&soft.long, place, version)?,
            broad: self.shown_name(&soft.broad, place, version)?,
        })
    }

    fn draw_wall(
        &mut self,
        draw: &'a DrawWall,
        place: In<'a>,
        version: &Version,
    ) -> Checks<DrawDef> {
        let grain = self.drawn_rows(&draw.table, place)?;
        let place = In { grain, ..place };
        let letter = draw.letter.as_ref();
        let letter = letter.map(|name| self.shown_name(name, place, version));
        Ok(DrawDef::Wall {
            grain,
            along: self.shown_name(&draw.along, place, version)?,
            up: self.shown_name(&draw.up, place, version)?,
            within: self.two_lengths(&draw.within, place, version)?,
            letter: letter.transpose()?,
        })
    }

    /// A name whose value is shown as it is.
    fn shown_name(&mut self, name: &'a Name, place: In<'a>, version: &Version) -> Checks<NodeId> {
        let found = self.named(&name.text, name.span, &Context::at(place.grain))?;
        let written = Constants::AsWritten;
        let class = class_of_name(&self.program, version, &name.text, found.node, written);
        self.seen(class, place.reader, &name.text, name.span)?;
        Ok(self.brought_down(found.node, place.grain, name.span))
    }

    fn two_lengths(
        &mut self,
        [first, second]: &'a [Expr; 2],
        place: In<'a>,
        version: &Version,
    ) -> Checks<[NodeId; 2]> {
        let mut one = |e: &'a Expr| -> Checks<NodeId> {
            let node = self.part_length(e, &Context::at(place.grain))?;
            let class = match self.shows_private(e, version) {
                true => Class::Private,
                false => class_of_written(&self.program, version, node),
            };
            self.seen(class, place.reader, "this length", e.span)?;
            Ok(self.brought_down(node, place.grain, e.span))
        };
        Ok([one(first)?, one(second)?])
    }

    /// By what a list of the paper is parted.
    fn paper_each(
        &mut self,
        at: usize,
        span: Span,
        paper: &'a Paper,
        version: &Version,
    ) -> Checks<Vec<ListKey>> {
        let over = version.lists[at].over;
        let grains = self.list_grains(over, version);
        let mut keys = Vec::new();
        for name in &paper.each {
            keys.push(self.list_key(name, over, &grains)?);
        }
        let goods = matches!(over, ListOver::Purchases(_) | ListOver::Hires);
        if Reader::named(&paper.reader.text) == Some(Reader::Order) && goods && !of_supplier(&keys)
        {
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
        Ok(keys)
    }

    /// Refuses a paper that is parted by what its reader may not see.
    fn parted(
        &mut self,
        at: usize,
        span: Span,
        (place, keys): (In<'a>, &[ListKey]),
        version: &Version,
    ) -> Checks<()> {
        for (name, key) in place.paper.each.iter().zip(keys) {
            let class = self.class_by_name(key, name, version.lists[at].over, version);
            // Whoever is handed an order knows who they are.
            if !of_supplier(std::slice::from_ref(key)) {
                self.seen(class, place.reader, &name.text, span)?;
            }
        }
        Ok(())
    }

    /// Refuses a list that shows what the reader may not see; each column of it is reported.
    fn refuse_unseen(
        &mut self,
        at: usize,
        span: Span,
        (reader, of_supplier): (Reader, bool),
        version: &Version,
    ) -> Checks<()> {
        let list = &version.lists[at];
        let mut found: Vec<Diagnostic> = Vec::new();
        // Whoever is handed an order knows who they are.
        let own_name = |c: &&ListColumnDef| {
            of_supplier && matches!(c.shows, ListShows::Key(ListKey::Own(Field::Supplier)))
        };
        let columns = list.columns.iter().filter(|c| !own_name(c));
        for column in columns.filter(|c| !reader.may_see(c.class)) {
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
        let template = self.template(text, &Context::at(place.grain))?;
        let class = class_of_text(&self.program, version, &template, Constants::AsGivens);
        self.seen(class, place.reader, "this text", text.span)?;
        Ok(template)
    }

    /// Refuses what the reader may not see.
    fn seen(&mut self, class: Class, reader: Reader, what: &str, span: Span) -> Checks<()> {
        match reader.may_see(class) {
            true => Ok(()),
            false => self.fail(unseen(what, class, reader).at(span, class.text())),
        }
    }
}

/// Whether a paper has one part for each supplier.
fn of_supplier(keys: &[ListKey]) -> bool {
    keys.iter()
        .any(|key| matches!(key, ListKey::Own(Field::Supplier)))
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
    .mend("take it out, or print it in a paper `for office`")
}
