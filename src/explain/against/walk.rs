//! The way from a record to now, a change at a time.

use super::*;

/// The way from the record to now.
pub(super) struct Walk<'a> {
    pub(super) record: &'a Record,
    pub(super) parts: Vec<Part>,
    pub(super) at: Figures,
    /// Changes made that could not be calculated yet.
    pub(super) pending: Vec<Changed>,
    /// Changes that moved no figure.
    pub(super) idle: Vec<Changed>,
}

impl Walk<'_> {
    /// A step to a state with these figures; none where it can't be calculated, so that it is reported with the next one.
    pub(super) fn step(&mut self, changed: Vec<Changed>, figures: Option<Figures>) {
        self.pending.extend(changed);
        let Some(figures) = figures else { return };
        let changed = std::mem::take(&mut self.pending);
        if figures != self.at {
            let before = std::mem::replace(&mut self.at, figures.clone());
            self.parts.push(Part {
                changed,
                before,
                after: figures,
            });
        } else {
            // That the program is the same is no change.
            let real = |c: &Changed| c.kind != ChangeKind::Program;
            self.idle.extend(changed.into_iter().filter(real));
        }
    }

    /// The last step: whatever is still between here and now.
    pub(super) fn end(&mut self, now: Figures) {
        if self.at != now {
            let changed = match self.pending.is_empty() {
                true => vec![change(ChangeKind::Row, "the order of the rows", "", "")],
                false => vec![],
            };
            self.step(changed, Some(now));
        }
    }

    /// Rules that are in both, and what is charged, put one by one into the sheets of the record.
    pub(super) fn rules(&mut self, subject: &Subject<'_>, old: &mut Loaded, was: &Checked) -> Rest {
        let mut rest = Rest::default();
        let name = self.record.alternate.as_deref();
        let Some((_, before)) = version_of(&was.program, name) else {
            return rest;
        };
        let mut changed: Vec<(String, Rule, Changed)> = Vec::new();
        for (head, rule) in rules_of(subject.loaded) {
            let now = squeezed(&subject.loaded.sources, rule.span);
            let Some((_, other)) = rules_of(old)
                .into_iter()
                .find(|(h, r)| *h == head && r.name.text == rule.name.text)
            else {
                continue;
            };
            let then = squeezed(&old.sources, other.span);
            let plain = before
                .values
                .iter()
                .any(|v| v.name == rule.name.text && v.replaced.is_empty());
            if then != now && plain {
                rest.told_then.push(other.span);
                rest.told_now.push(rule.span);
                changed.push((
                    head,
                    rule.clone(),
                    change(ChangeKind::Rule, rule.name.text.clone(), then, now),
                ));
            }
        }
        let edits = terms::edits(old, subject.loaded);
        for (head, rule, told) in changed {
            self.put(old, &mut rest, told, |sheets| {
                put_rule(sheets, &head, &rule)
            });
        }
        for edit in edits {
            rest.told_then.extend(edit.then);
            rest.told_now.extend(edit.now);
            self.put(old, &mut rest, edit.told.clone(), |sheets| {
                edit.make(sheets)
            });
        }
        rest
    }

    /// Makes a change in the sheets of the record. One that can't be calculated there is left for the rest of the sheets.
    fn put(
        &mut self,
        old: &mut Loaded,
        rest: &mut Rest,
        told: Changed,
        make: impl FnOnce(&mut Loaded),
    ) {
        let kept = copy(old);
        make(old);
        let (checked, _) = check::check(
            old,
            Options {
                alternates: self.record.alternate.is_some(),
                trials: false,
            },
        );
        match checked
            .as_ref()
            .and_then(|c| worked_old(c, self.record).ok())
        {
            Some(figures) => self.step(vec![told], Some(figures)),
            None => {
                *old = kept;
                rest.left.push(told);
            }
        }
    }

    /// The rest of the sheets, then the givens: versions of the program now, with givens as they were.
    pub(super) fn givens(
        &mut self,
        subject: &Subject<'_>,
        (old, was): (&Loaded, &Checked),
        mut rest: Rest,
        tables: &[KeptTable],
        prices: &[KeptPrice],
    ) -> Result<(), Refused> {
        let program = &subject.checked.program;
        let name = self.record.alternate.as_deref();
        let (Some((_, before)), now) = (version_of(&was.program, name), subject.version()) else {
            return Ok(());
        };
        let mut pins: Vec<(Pin, Changed)> = Vec::new();
        for value in now
            .values
            .iter()
            .filter(|v| matches!(v.kind, ValueKind::Given { .. }))
        {
            let Some(then) = before
                .values
                .iter()
                .find(|v| v.name == value.name && matches!(v.kind, ValueKind::Given { .. }))
            else {
                continue;
            };
            if let Some(pin) = pin(&was.program, then, program, value) {
                let told = change(
                    ChangeKind::Given,
                    value.name.clone(),
                    given_text(&was.program, then),
                    given_text(program, value),
                );
                pins.push((
                    Pin::Given {
                        name: value.name.clone(),
                        value: pin,
                    },
                    told,
                ));
            }
        }
        let point = |from: usize| Point {
            alternate: name.map(str::to_owned),
            pins: pins.iter().skip(from).map(|(p, _)| p.clone()).collect(),
        };
        let points: Vec<Point> = (0..=pins.len()).map(point).collect();
        let (checked, problems) = check::check_points(subject.loaded, Options::default(), &points);
        let Some(checked) = checked else {
            return Err(Refused::Messages(problems));
        };
        let outcomes = match survey_of(&checked.program, tables) {
            Ok(survey) => {
                let book = book_of(now, prices);
                let basis = Basis {
                    program: &checked.program,
                    survey: &survey,
                    book: &book,
                    origin: Origin::default(),
                };
                estimate_each(
                    &basis,
                    &checked.points,
                    Wish::default(),
                    &[],
                    &eval::Options::default(),
                )?
                .each
            }
            // The survey of the record does not fit the new sheets: it is reported with the first change of the survey that mends it.
            Err(words) => checked
                .points
                .iter()
                .map(|_| Err(vec![Diagnostic::error("OV-923", words.clone())]))
                .collect(),
        };
        let mut outcomes = outcomes
            .into_iter()
            .map(|o| o.ok().map(|e| Figures::of(&e)));
        for (_, told) in &pins {
            rest.told_then.extend(given_spans(old, &told.name));
            rest.told_now
                .extend(given_spans(subject.loaded, &told.name));
        }
        let mut sheets = std::mem::take(&mut rest.left);
        sheets.extend(self.sheet_changes(subject, old, was, rest));
        self.step(sheets, outcomes.next().flatten());
        for ((_, told), figures) in pins.into_iter().zip(outcomes) {
            self.step(vec![told], figures);
        }
        Ok(())
    }

    /// What else changed in the sheets, by name where it has one.
    pub(super) fn sheet_changes(
        &self,
        subject: &Subject<'_>,
        old: &Loaded,
        was: &Checked,
        mut rest: Rest,
    ) -> Vec<Changed> {
        let name = self.record.alternate.as_deref();
        let (Some((_, before)), now) = (version_of(&was.program, name), subject.version()) else {
            return vec![];
        };
        let own = |v: &ValueDef, other: &Version| {
            !matches!(v.kind, ValueKind::Column { .. })
                && !other.values.iter().any(|o| o.name == v.name)
        };
        let mut told: Vec<Changed> = Vec::new();
        for value in now.values.iter().filter(|v| own(v, before)) {
            told.push(change(
                kind_of(value),
                value.name.clone(),
                "",
                written(subject.loaded, value),
            ));
            rest.told_now.extend(spans_of(subject.loaded, &value.name));
        }
        for value in before.values.iter().filter(|v| own(v, now)) {
            told.push(change(
                kind_of(value),
                value.name.clone(),
                written(old, value),
                "",
            ));
            rest.told_then.extend(spans_of(old, &value.name));
        }
        let mut gone: Vec<(&str, FileId)> = names(old);
        for (name, file) in names(subject.loaded) {
            let same = gone.iter().position(|(n, _)| *n == name).or_else(|| {
                gone.iter()
                    .position(|(n, _)| file_name(n) == file_name(name))
            });
            let Some((_, then)) = same.map(|at| gone.remove(at)) else {
                told.push(change(ChangeKind::Sheets, file_name(name), "", "there"));
                continue;
            };
            if squeezed_rest(&old.sources, then, &rest.told_then)
                != squeezed_rest(&subject.loaded.sources, file, &rest.told_now)
            {
                told.push(change(
                    ChangeKind::Sheets,
                    format!("the rest of {}", file_name(name)),
                    "",
                    "",
                ));
            }
        }
        told.extend(
            gone.into_iter()
                .map(|(name, _)| change(ChangeKind::Sheets, file_name(name), "there", "")),
        );
        let mut tables: Vec<&(String, String)> = subject
            .loaded
            .tables
            .values()
            .filter_map(|t| t.as_ref().ok())
            .collect();
        tables.sort_unstable();
        for (name, text) in tables {
            if !self
                .record
                .texts
                .iter()
                .any(|(n, t)| file_name(n) == file_name(name) && t == text)
            {
                told.push(change(
                    ChangeKind::Sheets,
                    format!("the table {}", file_name(name)),
                    "",
                    "",
                ));
            }
        }
        told
    }

    /// Cells, then rows taken out, then rows added.
    pub(super) fn survey(
        &mut self,
        subject: &Subject<'_>,
        mut tables: Vec<KeptTable>,
        prices: &[KeptPrice],
    ) {
        let program = &subject.checked.program;
        let book = book_of(subject.version(), prices);
        let now = kept(program, subject);
        let figures = |tables: &[KeptTable]| {
            survey_of(program, tables)
                .ok()
                .and_then(|s| worked(program, subject.version, &s, &book).ok())
        };
        for group in grouped(cell_changes(program, &tables, &now)) {
            for edit in &group {
                if let Some(cell) = tables
                    .get_mut(edit.table.index())
                    .and_then(|t| t.rows.get_mut(edit.row))
                    .and_then(|r| r.cells.get_mut(edit.column))
                {
                    *cell = edit.cell.clone();
                }
            }
            let told = told_cells(group);
            self.step(told, figures(&tables));
        }
        for out in [true, false] {
            for (table, row) in row_changes(program, &tables, &now, out) {
                let word = &program.tables[table].schema.name;
                let told = change(
                    ChangeKind::Row,
                    format!("{word} {}", row.name),
                    if out { "there" } else { "" },
                    if out { "" } else { "there" },
                );
                // Rows below it went or came with it.
                let moved = move_row(program, &mut tables, &now, table, &row, out);
                if moved {
                    self.step(vec![told], figures(&tables));
                }
            }
        }
        // The survey as it stands: the order of its rows is all that can still differ.
        let order = tables.iter().zip(&now).any(|(a, b)| a.rows != b.rows);
        let last = worked(program, subject.version, subject.survey, &book).ok();
        self.step(
            if order {
                vec![change(ChangeKind::Row, "the order of the rows", "", "")]
            } else {
                vec![]
            },
            last,
        );
    }

    /// Prices of the book, one by one; the last state is the job as it stands.
    pub(super) fn prices(&mut self, subject: &Subject<'_>) {
        let program = &subject.checked.program;
        let now = kept_prices(subject.version(), subject.book);
        let mut prices = overlaid(subject, self.record);
        let text = |p: Option<&KeptPrice>| p.map_or_else(String::new, |p| price_text(program, p));
        let names: Vec<String> = prices.iter().map(|p| p.resource.clone()).collect();
        for name in names {
            let new = now.iter().find(|p| p.resource == name);
            let old = prices.iter().find(|p| p.resource == name);
            if new == old {
                continue;
            }
            let told = change(
                ChangeKind::Price,
                format!("price of {name}"),
                text(old),
                text(new),
            );
            prices.retain(|p| p.resource != name);
            prices.extend(new.cloned());
            let book = book_of(subject.version(), &prices);
            self.step(
                vec![told],
                worked(program, subject.version, subject.survey, &book).ok(),
            );
        }
    }
}

/// What is still to be said of the sheets.
#[derive(Default)]
pub(super) struct Rest {
    /// Rules that need something else of the new sheets.
    pub(super) left: Vec<Changed>,
    /// Stretches of the old sheets that are named.
    pub(super) told_then: Vec<Span>,
    /// Stretches of the new sheets that are named.
    pub(super) told_now: Vec<Span>,
}

fn price_text(program: &Program, price: &KeptPrice) -> String {
    let (digits, _) = Exact::from(price.price).to_decimal(6);
    let currency = program.currency.as_deref().unwrap_or("");
    let pack = price
        .pack
        .as_ref()
        .map_or_else(String::new, |p| format!(", in {}", p.word));
    format!("{digits} {currency} per {}{pack}", price.unit)
}
