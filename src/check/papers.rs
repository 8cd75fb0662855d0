//! Papers: for whom, what they hold, and whether that reader may see it.

use super::typed::*;
use super::unknown::Known;
use crate::diagnostics::{Diagnostic, Span};
use crate::paper::{Class, Reader};
use crate::program::{
    Constants, Field, Grain, ListKey, ListOver, PaperBlockDef, PaperDef, Piece, Template, Version,
    class_of_text,
};
use crate::syntax::tree::{Paper, PaperLine, StatementKind, Text};

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
        for line in &paper.lines {
            failed |= self.paper_line(line, paper, &mut def, version).is_err();
        }
        if failed { Err(Poisoned) } else { Ok(def) }
    }

    fn paper_line(
        &mut self,
        line: &'a PaperLine,
        paper: &'a Paper,
        def: &mut PaperDef,
        version: &Version,
    ) -> Checks<()> {
        let block = match line {
            PaperLine::Titled(text) => {
                def.title = self.paper_text(text, def.reader, version)?;
                return Ok(());
            }
            PaperLine::Heading(text) => {
                PaperBlockDef::Heading(self.paper_text(text, def.reader, version)?)
            }
            PaperLine::Text(text) => {
                PaperBlockDef::Text(self.paper_text(text, def.reader, version)?)
            }
            PaperLine::Cautions => PaperBlockDef::Cautions,
            PaperLine::PageBreak => PaperBlockDef::PageBreak,
            PaperLine::Signs(texts) => {
                PaperBlockDef::Signs(texts.iter().map(|t| t.text.clone()).collect())
            }
            PaperLine::List(name) => {
                let Some(at) = version.lists.iter().position(|l| l.name == name.text) else {
                    let names: Vec<&str> = version.lists.iter().map(|l| l.name.as_str()).collect();
                    self.unknown("OV-265", "list", name, Known::these(names));
                    return Err(Poisoned);
                };
                self.refuse_unseen(at, name.span, def.reader, version)?;
                let key = self.paper_each(at, name.span, paper, def.reader, version)?;
                PaperBlockDef::List(at, key)
            }
        };
        def.blocks.push(block);
        Ok(())
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

    fn paper_text(
        &mut self,
        text: &'a Text,
        reader: Reader,
        version: &Version,
    ) -> Checks<Template> {
        let template = self.template(text, &Context::at(Grain::Job))?;
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
