//! The job sheet: inputs, wages, charges, rounding of money.

use super::typed::*;
use super::unknown::Known;
use crate::diagnostics::{Diagnostic, Span};
use crate::number::Exact;
use crate::program::{
    ChargeAmountDef, ChargeBase, ChargeDef, FileInput, PayDef, PayLineDef, ResourceClass,
    ResourceId, SurveyInput, Version,
};
use crate::syntax::tree::{
    self, Bases, ChargeAmount, JobLine, PayAmount, RoundWord, Statement, StatementKind,
};
use crate::units::{Base, Dim};

impl<'a> Checker<'a> {
    pub(super) fn all_statements(&self) -> impl Iterator<Item = &'a Statement> + use<'a> {
        let loaded: &'a super::Loaded = self.loaded;
        loaded.sheets.iter().flat_map(|s| s.tree.statements.iter())
    }

    /// What rules need of the job: `split by` makes groupings.
    pub(super) fn job_terms_early(&mut self) {
        let mut first: Option<Span> = None;
        for st in self.all_statements() {
            let StatementKind::Job(lines) = &st.kind else {
                continue;
            };
            if let Some(f) = first {
                self.problems.push(
                    Diagnostic::error("OV-213", "there are two job blocks")
                        .at(st.span, "the second")
                        .at(f, "the first")
                        .mend("one job sheet a run: take one out"),
                );
                return;
            }
            first = Some(st.span);
            for line in lines {
                if let JobLine::SplitBy(names) = line {
                    self.program.terms.split_by = self.split_groups(names);
                }
            }
        }
    }

    /// Reads the terms, once, with the first version's resources.
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "statements of one kind are looked for; all others are read elsewhere"
    )]
    pub(super) fn job_terms(&mut self, version: &mut Version) {
        self.program.terms.ties = self.declared.ties;
        self.life_terms();
        if let Some(title) = self
            .loaded
            .sheets
            .last()
            .and_then(|s| s.tree.title.as_ref())
        {
            self.program.terms.title.clone_from(&title.text);
        }
        for st in self.all_statements() {
            match &st.kind {
                StatementKind::Job(lines) => self.job_lines(lines),
                StatementKind::Pay { name, lines } => self.pay(name, lines, version),
                StatementKind::Charge(c) => self.charge(c, version),
                StatementKind::Allowance {
                    name,
                    amount,
                    remarks,
                } => {
                    if let Ok(sum) =
                        self.signed_of(amount, &Dim::base(Base::Money), false, "OV-319")
                    {
                        self.add_charge(name, ChargeAmountDef::Sum(sum), true, remarks);
                    }
                }
                StatementKind::Final { word, step } => {
                    let mode = match word {
                        RoundWord::Nearest => self.declared.ties,
                        RoundWord::Mode(m) => *m,
                    };
                    if let Ok(l) = self.literal(step) {
                        let cent = Exact::ratio(1, 100).unwrap_or(Exact::ONE);
                        let cents = l.value.div(&cent).is_ok_and(|c| c.is_integer());
                        if *l.dim() != Dim::base(Base::Money) || l.value.signum() <= 0 || !cents {
                            self.problems.push(
                                Diagnostic::error(
                                    "OV-319",
                                    "the final figure is rounded to an amount of money",
                                )
                                .at(step.span, "")
                                .expected("whole cents above zero, such as 10 USD"),
                            );
                        } else if self
                            .program
                            .terms
                            .final_rounding
                            .replace((mode, l.value, st.span))
                            .is_some()
                        {
                            self.problems.push(
                                Diagnostic::error("OV-213", "the final rounding is given twice")
                                    .at(st.span, "the second")
                                    .mend("keep one"),
                            );
                        }
                    }
                }
                _ => {}
            }
        }
    }

    fn job_lines(&mut self, lines: &'a [JobLine]) {
        for line in lines {
            match line {
                JobLine::Survey { .. } => self.job_survey(line),
                JobLine::Prices { files, tabs, .. } => {
                    for f in files {
                        self.program.terms.prices.push(FileInput {
                            path: f.text.clone(),
                            tabs: tabs.iter().map(|t| t.text.clone()).collect(),
                            span: f.span,
                        });
                    }
                }
                JobLine::Library { named, gave, span } => self.library_line(named, gave, *span),
                JobLine::Photographs(folder) => {
                    self.program.terms.photographs = Some((folder.text.clone(), folder.span));
                }
                JobLine::Excludes(texts) => {
                    let names = texts.iter().map(|t| t.text.clone());
                    self.program.terms.excluded.extend(names);
                }
                JobLine::Round(grain) => self.program.terms.money_grain = *grain,
                JobLine::Money(_)
                | JobLine::Ties(..)
                | JobLine::SplitBy(_)
                | JobLine::Issued(_) => {}
            }
        }
    }

    fn job_survey(&mut self, line: &'a JobLine) {
        let JobLine::Survey {
            table,
            files,
            tabs,
            heading_row,
            separated,
            decimal_comma,
            span,
        } = line
        else {
            return;
        };
        let Some(id) = self.declared.tables.get(table.text.as_str()).copied() else {
            self.unknown("OV-208", "survey", table, Known::Surveys);
            return;
        };
        let delimiter = match separated.as_ref().map(|t| (t.text.as_str(), t.span)) {
            None => None,
            Some(("comma", _)) => Some(b','),
            Some(("semicolon", _)) => Some(b';'),
            Some(("tab", _)) => Some(b'\t'),
            Some((other, at)) => {
                self.problems.push(
                    Diagnostic::error("OV-208", format!("cells can't be separated by \"{other}\""))
                        .at(at, "")
                        .expected("\"comma\", \"semicolon\" or \"tab\""),
                );
                None
            }
        };
        if self.program.terms.surveys.iter().any(|s| s.table == id) {
            self.problems.push(
                Diagnostic::error(
                    "OV-213",
                    format!("the survey `{}` is given twice", table.text),
                )
                .at(*span, "the second")
                .mend("name several files on one line: from \"a.csv\", \"b.csv\""),
            );
            return;
        }
        if files.is_empty() && self.program.tables[id].parent.is_none() {
            self.problems.push(
                Diagnostic::error("OV-223", format!("a job needs rows of `{}`", table.text))
                    .at(*span, "")
                    .found("none")
                    .mend(format!("name its file: survey {} from \"...\"", table.text))
                    .note("only a survey that hangs below another may have no rows"),
            );
            return;
        }
        let files = files
            .iter()
            .map(|f| FileInput {
                path: f.text.clone(),
                tabs: tabs.iter().map(|t| t.text.clone()).collect(),
                span: f.span,
            })
            .collect();
        self.program.terms.surveys.push(SurveyInput {
            table: id,
            files,
            heading_row: *heading_row,
            delimiter,
            decimal_comma: *decimal_comma,
        });
    }

    pub(super) fn resource(&mut self, name: &tree::Name, version: &Version) -> Option<ResourceId> {
        let id = version.resources.id_of(|r| r.name == name.text);
        if id.is_none() {
            self.unknown("OV-203", "resource", name, Known::Resources);
        }
        id
    }

    fn pay(&mut self, name: &'a tree::Name, lines: &'a [tree::PayLine], version: &Version) {
        let Some(resource) = self.resource(name, version) else {
            return;
        };
        if version.resources[resource].class != ResourceClass::Labor {
            self.problems.push(
                Diagnostic::error(
                    "OV-319",
                    format!("`{}` is not labor and has no wage", name.text),
                )
                .at(name.span, "")
                .mend("give it a price in the price book"),
            );
            return;
        }
        if self
            .program
            .terms
            .pays
            .iter()
            .any(|p| p.resource == resource)
        {
            self.twice("pay of", name);
            return;
        }
        let rate_dim = Dim::base(Base::Money)
            .div(&Dim::base(Base::Labor))
            .unwrap_or(Dim::NONE);
        let mut done: Vec<PayLineDef> = Vec::new();
        let mut total = Exact::ZERO;
        for line in lines {
            if done.iter().any(|d| d.name == line.name.text) {
                self.twice("pay line", &line.name);
                continue;
            }
            let (rate, share) = match &line.amount {
                PayAmount::Rate(s) => match self.signed_of(s, &rate_dim, false, "OV-319") {
                    Ok(r) => (r, None),
                    Err(Poisoned) => continue,
                },
                PayAmount::Share { percent, of } => {
                    let (base, names) = match of {
                        Bases::AllSoFar => (
                            total.clone(),
                            done.iter().map(|d| d.name.clone()).collect::<Vec<_>>(),
                        ),
                        Bases::Named(list) => {
                            let mut base = Exact::ZERO;
                            for n in list {
                                match done.iter().find(|d| d.name == n.text) {
                                    Some(d) => base = base.add(&d.rate).unwrap_or(base),
                                    None => {
                                        let names: Vec<String> =
                                            done.iter().map(|d| d.name.clone()).collect();
                                        self.unknown(
                                            "OV-319",
                                            "earlier line of this pay",
                                            n,
                                            Known::these(names.iter().map(String::as_str)),
                                        );
                                    }
                                }
                            }
                            (base, list.iter().map(|n| n.text.clone()).collect())
                        }
                    };
                    (
                        base.mul(percent).unwrap_or(Exact::ZERO),
                        Some((percent.clone(), names)),
                    )
                }
            };
            total = total.add(&rate).unwrap_or(total);
            done.push(PayLineDef {
                name: line.name.text.clone(),
                rate,
                share,
                source: line.remarks.source.clone(),
                note: line.remarks.note.clone(),
            });
        }
        self.program.terms.pays.push(PayDef {
            resource,
            lines: done,
            rate: total,
            span: name.span,
        });
    }

    fn add_charge(
        &mut self,
        name: &tree::Name,
        amount: ChargeAmountDef,
        allowance: bool,
        remarks: &tree::Remarks,
    ) {
        if self
            .program
            .terms
            .charges
            .iter()
            .any(|c| c.name == name.text)
        {
            self.twice("charge", name);
            return;
        }
        self.program.terms.charges.push(ChargeDef {
            name: name.text.clone(),
            amount,
            allowance,
            source: remarks.source.clone(),
            note: remarks.note.clone(),
            span: name.span,
        });
    }

    fn charge(&mut self, c: &'a tree::Charge, version: &Version) {
        let amount = match &c.amount {
            ChargeAmount::Sum(s) => {
                match self.signed_of(s, &Dim::base(Base::Money), false, "OV-319") {
                    Ok(sum) => ChargeAmountDef::Sum(sum),
                    Err(Poisoned) => return,
                }
            }
            ChargeAmount::Share {
                percent,
                kind,
                of,
                basis,
            } => {
                if *kind == tree::ShareKind::Margin && *percent >= Exact::ONE {
                    self.problems.push(
                        Diagnostic::error("OV-319", "a margin is below 100 %")
                            .at(c.name.span, "")
                            .note("a margin is a share of the price that results"),
                    );
                    return;
                }
                let bases = match of {
                    Bases::AllSoFar => vec![ChargeBase::AllSoFar],
                    Bases::Named(list) => match self.charge_bases(list, version) {
                        Ok(bases) => bases,
                        Err(Poisoned) => return,
                    },
                };
                ChargeAmountDef::Share {
                    share: percent.clone(),
                    kind: *kind,
                    bases,
                    basis: *basis,
                }
            }
        };
        self.add_charge(&c.name, amount, false, &c.remarks);
    }

    /// What a charge is a share of, each part once.
    fn charge_bases(
        &mut self,
        list: &'a [tree::Name],
        version: &Version,
    ) -> Checks<Vec<ChargeBase>> {
        let mut bases = Vec::new();
        for name in list {
            for base in self.charge_base(name, version)? {
                if bases.contains(&base) {
                    self.problems.push(
                        Diagnostic::error(
                            "OV-319",
                            format!("`{}` is in this base already", name.text),
                        )
                        .at(name.span, "")
                        .mend("name each part of the base once"),
                    );
                } else {
                    bases.push(base);
                }
            }
        }
        Ok(bases)
    }

    fn charge_base(&mut self, name: &'a tree::Name, version: &Version) -> Checks<Vec<ChargeBase>> {
        if let Some(class) = ResourceClass::named(&name.text) {
            return Ok(vec![ChargeBase::Class(class)]);
        }
        if name.text == "materials" {
            return Ok(ResourceClass::MATERIALS.map(ChargeBase::Class).to_vec());
        }
        let charges = &self.program.terms.charges;
        if let Some(charge) = charges.iter().position(|x| x.name == name.text) {
            return Ok(vec![ChargeBase::Charge(charge)]);
        }
        if let Some(resource) = version.resources.id_of(|r| r.name == name.text) {
            return Ok(vec![ChargeBase::Resource(resource)]);
        }
        let mut names: Vec<String> = charges.iter().map(|x| x.name.clone()).collect();
        names.extend(version.resources.iter().map(|r| r.name.clone()));
        names.extend(ResourceClass::ALL.map(|class| class.word().to_owned()));
        names.push("materials".to_owned());
        self.unknown(
            "OV-319",
            "class, resource or earlier charge",
            name,
            Known::these(names.iter().map(String::as_str)),
        );
        Err(Poisoned)
    }
}
