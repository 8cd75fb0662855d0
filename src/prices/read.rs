//! Rows of a price book to prices: names, units, packs and choices checked, all faults told at once.

use super::age::of_another_time;
use super::pack::{read_pack, same_word};
use super::{BookCell, BookColumn, BookRow, Pack, PriceBook, PriceEntry, PriceVaries};
use crate::diagnostics::suggest::nearest;
use crate::diagnostics::{Diagnostic, any_error};
use crate::ids::ById;
use crate::number::{Decimal, Exact};
use crate::program::{Program, ResourceDef, ResourceId};
use crate::units::dates;
use crate::units::{
    Base, CellContext, Dim, Reading, RefusalKind, default_unit, describe, parse_unit, read_quantity,
};

/// Reads the rows of a price book against the resources of a program's first version.
/// Errors: every fault found, with its cell. Warnings are kept in the book.
pub fn read_prices(program: &Program, rows: &[BookRow]) -> Result<PriceBook, Vec<Diagnostic>> {
    let none = ById::new();
    let resources = program.versions.first().map_or(&none, |v| &v.resources);
    let reader = Reader { program, resources };
    let mut said: Vec<Diagnostic> = unfilled(rows).into_iter().collect();
    let mut found: Vec<(PriceEntry, Option<bool>)> = Vec::new();
    for row in rows.iter().filter(|row| !row.is_unfilled()) {
        match reader.row(row, &mut said) {
            Ok(Some(entry)) => found.push(entry),
            Ok(None) => {}
            Err(faults) => said.extend(faults),
        }
    }
    let (entries, passed_over) = reader.choose(found, &mut said);
    if any_error(&said) {
        return Err(said);
    }
    let version = program.versions.first();
    if let Some(today) = version.and_then(|v| program.day_of_issue(v)) {
        let name = |e: &PriceEntry| {
            let def = resources.get(e.resource);
            def.map_or_else(String::new, |r| r.name.clone())
        };
        said.extend(of_another_time(&entries, today, name));
    }
    Ok(PriceBook {
        entries,
        passed_over,
        warnings: said,
    })
}

struct Reader<'a> {
    program: &'a Program,
    resources: &'a ById<ResourceId, ResourceDef>,
}

impl BookRow {
    /// The cell of a column; `None` only in a row that was built short.
    fn cell(&self, column: BookColumn) -> Option<&BookCell> {
        self.cells.get(column.place())
    }

    fn text(&self, column: BookColumn) -> &str {
        self.cell(column).map_or("", |c| c.text.trim())
    }

    /// Whether it names a resource and waits for its price.
    fn is_unfilled(&self) -> bool {
        let blank = |c: BookColumn| {
            self.cell(c)
                .is_none_or(|cell| cell.text.trim().is_empty() && cell.fault.is_none())
        };
        !blank(BookColumn::Resource) && blank(BookColumn::Price)
    }

    fn own(&self, column: BookColumn) -> Option<String> {
        let text = self.text(column);
        (!text.is_empty()).then(|| text.to_owned())
    }

    fn point(&self, column: BookColumn, d: Diagnostic) -> Diagnostic {
        match self.cell(column) {
            Some(cell) => d.at(cell.place.clone(), ""),
            None => d,
        }
    }
}

/// One note for all rows that name a resource and no price: each counts as a resource that the book doesn't have.
fn unfilled(rows: &[BookRow]) -> Option<Diagnostic> {
    let open: Vec<&BookRow> = rows.iter().filter(|row| row.is_unfilled()).collect();
    let first = open.first()?;
    let names: Vec<&str> = open
        .iter()
        .map(|row| row.text(BookColumn::Resource))
        .collect();
    let message = match names.len() {
        1 => "a row of the price book has no price".to_owned(),
        n => format!("{n} rows of the price book have no price"),
    };
    let d = Diagnostic::warning("OV-847", message)
        .found(format!("no price for {}", names.join(", ")))
        .note("A blank is never taken for zero. Write 0 for what costs nothing.");
    Some(first.point(BookColumn::Price, d))
}

/// Cells of a row that say nothing that could be trusted.
fn mistrusted(row: &BookRow, name: &str) -> Vec<Diagnostic> {
    let told = row.cells.iter().filter_map(|cell| {
        let (code, why) = cell.fault?;
        let heading = cell.place.heading.as_deref().unwrap_or("a cell");
        let d = Diagnostic::error(code, format!("the cell \"{heading}\" of {name} {why}"));
        Some(
            d.at(cell.place.clone(), "")
                .found(cell.text.clone())
                .expected("text or a number as typed"),
        )
    });
    told.collect()
}

/// A name without case, blanks and underscores.
fn bare(name: &str) -> String {
    name.chars()
        .filter(|c| !c.is_whitespace() && !matches!(c, '_' | '-'))
        .flat_map(char::to_lowercase)
        .collect()
}

/// What a price is for: `bf` of `bf`, `per bf`, `USD per bf` and `$/bf`.
fn of_what(unit: &str) -> &str {
    let after_per = unit.rsplit_once("per ").map_or(unit, |(_, what)| what);
    let money_first = after_per
        .split_once('/')
        .filter(|(money, _)| money.len() <= 3);
    money_first.map_or(after_per, |(_, what)| what).trim()
}

impl Reader<'_> {
    fn row(
        &self,
        row: &BookRow,
        said: &mut Vec<Diagnostic>,
    ) -> Result<Option<(PriceEntry, Option<bool>)>, Vec<Diagnostic>> {
        let name = row.text(BookColumn::Resource);
        if name.is_empty() {
            if row.cells.iter().all(|c| c.text.trim().is_empty()) {
                return Ok(None);
            }
            let d = Diagnostic::error("OV-801", "a row of the price book names no resource")
                .expected("the name of a resource of the sheets");
            return Err(vec![row.point(BookColumn::Resource, d)]);
        }
        let Some((id, def)) = self.resource(name) else {
            said.push(self.unknown(row, name));
            return Ok(None);
        };
        let mut faults = mistrusted(row, &def.name);
        if !faults.is_empty() {
            return Err(faults);
        }
        faults.extend(self.other_money(row, &def.name));
        let pack = self.pack(row, def).unwrap_or_else(|d| {
            faults.push(d);
            None
        });
        let unit = self
            .unit(row, def, pack.as_ref())
            .map_err(|d| faults.push(d))
            .ok();
        let price = self
            .amount(row, BookColumn::Price, "price")
            .map_err(|d| faults.push(d))
            .ok();
        let varies = self.varies(row).unwrap_or_else(|list| {
            faults.extend(list);
            None
        });
        let chosen = self.chosen(row).map_err(|d| faults.push(d)).ok().flatten();
        let date = row.own(BookColumn::Date);
        let day = date.as_deref().and_then(|text| match dates::read(text) {
            Ok(day) => Some(day),
            Err(readings) => {
                let mut d = Diagnostic::warning(
                    "OV-810",
                    format!("the date of the price of {} cannot be read", def.name),
                )
                .found(text)
                .expected("a day written year-month-day, such as 2026-05-31");
                if !readings.is_empty() {
                    d = d.note(format!("It may mean {}.", readings.join(" or ")));
                }
                said.push(row.point(BookColumn::Date, d));
                None
            }
        });
        let (Some(holds), Some(price)) = (unit, price) else {
            return Err(faults);
        };
        let per_base = match Exact::from(price).div(&holds) {
            Ok(per_base) if faults.is_empty() => per_base,
            Ok(_) => return Err(faults),
            Err(e) => {
                let d = Diagnostic::error(
                    "OV-824",
                    format!("the price of {} cannot be worked out: {e}", def.name),
                );
                faults.push(row.point(BookColumn::Price, d));
                return Err(faults);
            }
        };
        // A price was read, so its cell is there.
        let Some(place) = row.cell(BookColumn::Price).map(|c| c.place.clone()) else {
            return Ok(None);
        };
        let entry = PriceEntry {
            resource: id,
            price,
            unit: of_what(row.text(BookColumn::Unit)).to_owned(),
            per_base,
            pack,
            supplier: row.own(BookColumn::Supplier),
            source: row.own(BookColumn::Source),
            date,
            day,
            note: row.own(BookColumn::Note),
            spec: row.own(BookColumn::Spec),
            varies,
            place,
        };
        Ok(Some((entry, chosen)))
    }

    fn resource(&self, name: &str) -> Option<(ResourceId, &ResourceDef)> {
        let want = bare(name);
        let fits = |r: &ResourceDef| {
            bare(&r.name) == want || r.called.as_deref().is_some_and(|c| bare(c) == want)
        };
        let by_name = self.resources.id_of(|r| r.name == name);
        let id = by_name.or_else(|| self.resources.id_of(fits))?;
        Some((id, self.resources.get(id)?))
    }

    fn unknown(&self, row: &BookRow, name: &str) -> Diagnostic {
        let mut d = Diagnostic::warning(
            "OV-802",
            "the price book lists a resource that no sheet uses",
        )
        .found(name);
        if let Some(near) = nearest(name, self.resources.iter().map(|r| r.name.as_str())) {
            d = d.note(format!("Did you mean {near}?"));
        }
        row.point(BookColumn::Resource, d)
    }

    fn pack(&self, row: &BookRow, def: &ResourceDef) -> Result<Option<Pack>, Diagnostic> {
        let nouns = &self.program.nouns;
        let text = row.text(BookColumn::Pack);
        if text.is_empty() {
            return Ok(None);
        }
        read_pack(text, &def.unit, nouns).map(Some).ok_or_else(|| {
            let unit = def.unit.text_after(nouns, &Exact::int(12));
            let d = Diagnostic::error("OV-806", format!("the pack of {} cannot be read", def.name))
                .found(text)
                .expected(format!(
                    "a word and how much one holds, such as: boxes of 12 {unit}"
                ));
            row.point(BookColumn::Pack, d)
        })
    }

    /// Base units of the resource's dimension that the price is for.
    fn unit(
        &self,
        row: &BookRow,
        def: &ResourceDef,
        book_pack: Option<&Pack>,
    ) -> Result<Exact, Diagnostic> {
        let nouns = &self.program.nouns;
        let written = row.text(BookColumn::Unit);
        let text = written.strip_prefix("per ").unwrap_or(written).trim();
        let sheet_pack = def.pack.as_ref().map(|(word, holds)| Pack {
            word: word.clone(),
            holds: holds.clone(),
        });
        if let Some(pack) = book_pack.or(sheet_pack.as_ref())
            && same_word(&pack.word, text)
        {
            return Ok(pack.holds.clone());
        }
        let resource_dim = def.unit.dim();
        let wanted = || {
            let pack = book_pack
                .or(sheet_pack.as_ref())
                .map_or(String::new(), |p| {
                    format!(", or the pack: {}", super::singular(&p.word))
                });
            format!(
                "{}, such as {}{pack}",
                describe(resource_dim, nouns),
                def.unit.text(nouns)
            )
        };
        if text.is_empty() {
            let d = Diagnostic::error(
                "OV-804",
                format!("the price of {} does not say what it is for", def.name),
            );
            return Err(row.point(BookColumn::Unit, d.found("a blank unit").expected(wanted())));
        }
        let unit = parse_unit(text, nouns, self.program.currency.as_deref()).map_err(|e| {
            let mut d = Diagnostic::error(
                "OV-804",
                format!("the unit of the price of {} is not known", def.name),
            )
            .found(written)
            .expected(wanted());
            if let Some(near) = e.suggestion {
                d = d.note(format!("Did you mean {near}?"));
            }
            row.point(BookColumn::Unit, d)
        })?;
        let money = Dim::base(Base::Money);
        if unit.dim() == resource_dim {
            return Ok(unit.factor().clone());
        }
        if money.div(resource_dim).as_ref() == Some(unit.dim()) {
            // `USD per bf` has one bf below the line.
            return Exact::ONE.div(unit.factor()).map_err(|e| {
                row.point(
                    BookColumn::Unit,
                    Diagnostic::error(
                        "OV-824",
                        format!("the unit of the price of {} is too large: {e}", def.name),
                    ),
                )
            });
        }
        let d = Diagnostic::error(
            "OV-805",
            format!(
                "the price of {} is for something it is not counted in",
                def.name
            ),
        )
        .found(format!("{written}: {}", describe(unit.dim(), nouns)))
        .expected(wanted());
        Err(row.point(BookColumn::Unit, d))
    }

    /// What the price may turn out to be. None where the row says nothing.
    fn varies(&self, row: &BookRow) -> Result<Option<PriceVaries>, Vec<Diagnostic>> {
        let name = row.text(BookColumn::Resource);
        let group = row.own(BookColumn::VariesWith);
        let ends = [
            (BookColumn::Low, "low price"),
            (BookColumn::High, "high price"),
            (BookColumn::Likely, "likely price"),
        ];
        let (mut read, mut faults) = ([None, None, None], Vec::new());
        for (slot, (column, what)) in read.iter_mut().zip(ends) {
            if row.text(column).is_empty() {
                continue;
            }
            match self.amount(row, column, what) {
                Ok(amount) => *slot = Some(amount),
                Err(d) => faults.push(d),
            }
        }
        if !faults.is_empty() {
            return Err(faults);
        }
        let misfit = |column, found: String, expected: &str| {
            let d = Diagnostic::error(
                "OV-837",
                format!("what the price of {name} varies over does not fit"),
            );
            Err(vec![row.point(column, d.found(found).expected(expected))])
        };
        let (low, high, likely) = match read {
            [Some(low), Some(high), likely] => (low, high, likely),
            [None, None, None] if group.is_none() => return Ok(None),
            [low, ..] => {
                let (column, heading) = match low {
                    None => (BookColumn::Low, "low"),
                    Some(_) => (BookColumn::High, "high"),
                };
                let found = format!("nothing under \"{heading}\"");
                return misfit(
                    column,
                    found,
                    "the least and the most that the price may be",
                );
            }
        };
        if low > high {
            let found = format!("{low} to {high}");
            return misfit(BookColumn::Low, found, "the low end first");
        }
        if let Some(likely) = likely.filter(|v| *v < low || *v > high) {
            let found = format!("{likely}, which is not from {low} to {high}");
            return misfit(
                BookColumn::Likely,
                found,
                "the likeliest price between the ends",
            );
        }
        Ok(Some(PriceVaries {
            low,
            high,
            likely,
            group,
        }))
    }

    /// An amount of money of the row, zero or more.
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "every other refusal is of a text that is no amount"
    )]
    fn amount(&self, row: &BookRow, column: BookColumn, what: &str) -> Result<Decimal, Diagnostic> {
        let nouns = &self.program.nouns;
        let currency = self.program.currency.as_deref();
        let unit = default_unit(&Dim::base(Base::Money), nouns, currency);
        let name = row.text(BookColumn::Resource);
        let text = row.text(column);
        let context = CellContext {
            currency,
            grouping: true,
            ..CellContext::new(&unit, nouns)
        };
        let Reading::Value { value, .. } = read_quantity(text, &context).map_err(|refusal| {
            let (code, why) = match refusal.code {
                RefusalKind::DecimalComma | RefusalKind::GroupedDigits => (
                    "OV-715",
                    format!("a comma or point in the {what} of {name} could mean two things"),
                ),
                RefusalKind::OtherCurrency => (
                    "OV-811",
                    format!("the {what} of {name} is in another currency than the job"),
                ),
                _ => ("OV-803", format!("the {what} of {name} cannot be read")),
            };
            let mut d = Diagnostic::error(code, why)
                .found(refusal.found)
                .expected("an amount, such as 12.50");
            if !refusal.choices.is_empty() {
                d = d.note(format!("It may mean {}.", refusal.choices.join(", or ")));
            }
            row.point(column, d)
        })?;
        if value.signum() < 0 {
            let d = Diagnostic::error("OV-803", format!("the {what} of {name} is below zero"))
                .found(text)
                .expected("zero or more");
            return Err(row.point(column, d));
        }
        value.decimal().ok_or_else(|| {
            let d = Diagnostic::error(
                "OV-803",
                format!("the {what} of {name} cannot be written as a decimal"),
            )
            .found(text)
            .expected("an amount of up to 28 digits, such as 12.50");
            row.point(column, d)
        })
    }

    /// A row in another currency than the job's. A blank cell is in the job's.
    fn other_money(&self, row: &BookRow, name: &str) -> Option<Diagnostic> {
        let text = row.text(BookColumn::Currency);
        let own = self.program.currency.as_deref()?;
        if text.is_empty() || text.eq_ignore_ascii_case(own) {
            return None;
        }
        let d = Diagnostic::error(
            "OV-811",
            format!("the price of {name} is in another currency than the job"),
        )
        .found(text)
        .expected(own)
        .note("Nothing is exchanged: a rate of the day belongs in the price book.");
        Some(row.point(BookColumn::Currency, d))
    }

    fn chosen(&self, row: &BookRow) -> Result<Option<bool>, Diagnostic> {
        let text = row.text(BookColumn::Chosen);
        match text.to_lowercase().as_str() {
            "" => Ok(None),
            "yes" | "y" | "x" | "true" | "1" => Ok(Some(true)),
            "no" | "n" | "false" | "0" => Ok(Some(false)),
            _ => {
                let d = Diagnostic::error("OV-808", "the choice of a supplier cannot be read")
                    .found(text)
                    .expected("yes, no or blank");
                Err(row.point(BookColumn::Chosen, d))
            }
        }
    }

    /// One entry for each resource; the rest was passed over.
    fn choose(
        &self,
        found: Vec<(PriceEntry, Option<bool>)>,
        said: &mut Vec<Diagnostic>,
    ) -> (Vec<PriceEntry>, Vec<PriceEntry>) {
        let (mut kept, mut passed) = (Vec::new(), Vec::new());
        for id in self.resources.ids() {
            let rows: Vec<_> = found.iter().filter(|(e, _)| e.resource == id).collect();
            let chosen: Vec<_> = rows
                .iter()
                .filter(|(_, chosen)| *chosen == Some(true))
                .collect();
            let pick = match (rows.as_slice(), chosen.as_slice()) {
                ([], _) => continue,
                // A lone row needs no word, but one that says no is not taken.
                ([(only, None)], _) | (_, [(only, _)]) => Some(only.place.clone()),
                (rows, []) if rows.iter().all(|(_, chosen)| *chosen == Some(false)) => None,
                _ => {
                    said.push(self.undecided(id, rows.as_slice(), chosen.len()));
                    None
                }
            };
            for (entry, _) in rows {
                if pick.as_ref() == Some(&entry.place) {
                    kept.push(entry.clone())
                } else {
                    passed.push(entry.clone())
                }
            }
        }
        (kept, passed)
    }

    fn undecided(
        &self,
        id: ResourceId,
        rows: &[&(PriceEntry, Option<bool>)],
        chosen: usize,
    ) -> Diagnostic {
        let name = &self.resources[id].name;
        let found = match chosen {
            0 => format!("{} rows and no choice among them", rows.len()),
            n => format!("{n} rows that say yes under \"chosen\""),
        };
        let mut d = Diagnostic::error("OV-807", format!("{name} has several prices"))
            .found(found)
            .expected("one row, or one row with yes under \"chosen\"");
        for (entry, _) in rows {
            let supplier = entry.supplier.as_deref().unwrap_or("no supplier named");
            d = d.at(
                entry.place.clone(),
                format!(
                    "{} per {}, {supplier}",
                    Exact::from(entry.price).to_decimal(6).0,
                    entry.unit
                ),
            );
        }
        d
    }
}
