//! An order that a supplier filled in, back as rows of a price book: each line is held against what was ordered before its price is believed.

use super::file::{in_other_money, mistrust};
use super::pack::same_word;
use super::read::read_prices;
use super::{BOOK_COLUMNS, BookCell, BookColumn, BookRow, PriceEntry, singular};
use crate::defuse::csv_cell;
use crate::diagnostics::suggest::nearest;
use crate::diagnostics::{CellPlace, Diagnostic, Place, any_error};
use crate::number::Exact;
use crate::program::{Program, ResourceId};
use crate::survey::{RawOptions, RawRow, RawTable, SourceFile, raw_rows};
use crate::units::parse_unit;

/// A line of an order, as the job has it now.
#[derive(Debug, Clone)]
pub struct Ordered {
    /// What is ordered.
    pub resource: ResourceId,
    /// Its name for people, as the order calls it.
    pub name: String,
    /// Its name in the sheets.
    pub sheet_name: String,
    /// How many packs; nothing where it is bought by the unit.
    pub count: Option<Exact>,
    /// The word for a pack, and what one holds where that is stated.
    pub pack: Option<(String, Option<Exact>)>,
    /// Unit it is counted in.
    pub unit: String,
    /// Who is to supply it.
    pub supplier: Option<String>,
    /// What a buyer says of it besides its name.
    pub spec: Option<String>,
}

/// What came back.
#[derive(Debug, Clone, Default)]
pub struct Returned {
    /// Rows of a price book, as CSV with its headings.
    pub rows: String,
    /// The prices, one for each line that has one.
    pub prices: Vec<PriceEntry>,
    /// What does not stop the reading: lines without a price, other quantities, prices without a day.
    pub warnings: Vec<Diagnostic>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Heading {
    Goods,
    Spec,
    Order,
    Packs,
    Holds,
    Unit,
    Price,
    Currency,
    Day,
    LeadTime,
}

impl Heading {
    /// Its place among [`HEADINGS`].
    #[expect(
        clippy::as_conversions,
        reason = "the headings are numbered from 0 in their order"
    )]
    fn column(self) -> usize {
        self as usize
    }
}

const HEADINGS: [(Heading, &[&str]); 10] = [
    (Heading::Goods, &["Goods"]),
    (Heading::Spec, &["Specification"]),
    (Heading::Order, &["Quantity"]),
    (Heading::Packs, &["Pack"]),
    (Heading::Holds, &["Pack size"]),
    (Heading::Unit, &["Unit"]),
    (Heading::Price, &["Price each", "Price"]),
    (Heading::Currency, &["Currency"]),
    (Heading::Day, &["Priced on", "Date"]),
    (Heading::LeadTime, &["Lead time"]),
];

/// Reads an order that came back. Errors: every line that is no line of an order of this job, or is for another unit, pack or currency, and
/// every price that cannot be read.
pub fn read_order(
    program: &Program,
    ordered: &[Ordered],
    file: SourceFile<'_>,
) -> Result<Returned, Vec<Diagnostic>> {
    let options = RawOptions {
        wanted: HEADINGS
            .iter()
            .map(|(_, names)| names.iter().map(|n| (*n).to_owned()).collect())
            .collect(),
        least: 3,
        ..RawOptions::default()
    };
    let mut table = raw_rows(file, &options)?;
    let mut said = std::mem::take(&mut table.warnings);
    said.extend(lacking(&table));
    let column = table.columns.get(Heading::Price.column());
    said.extend(
        column
            .copied()
            .flatten()
            .and_then(|at| in_other_money(&table, at, program)),
    );
    if any_error(&said) {
        return Err(said);
    }
    let order = Order {
        program,
        ordered,
        table: &table,
    };
    let (mut rows, mut open) = (Vec::new(), Vec::new());
    let mut met: Vec<ResourceId> = Vec::new();
    for row in &table.rows {
        let Some(line) = order.line(row, &mut said) else {
            continue;
        };
        if met.contains(&line.resource) {
            let d = Diagnostic::error("OV-861", format!("{} is on two lines", line.name));
            said.push(d.at(order.place(row, Heading::Goods), "the second"));
            continue;
        }
        met.push(line.resource);
        said.extend(order.unlike(row, line));
        match order.text(row, Heading::Price).is_empty() && !order.is_at_fault(row) {
            true => open.push((row, line)),
            false => rows.push(order.book_row(row, line)),
        }
    }
    said.extend(order.without_price(&open));
    match read_prices(program, &rows) {
        Err(faults) => said.extend(faults),
        Ok(_) if any_error(&said) => {}
        Ok(book) => {
            said.extend(book.warnings);
            said.extend(undated(&book.entries));
            return Ok(Returned {
                rows: as_csv(&rows),
                prices: book.entries,
                warnings: said,
            });
        }
    }
    Err(said)
}

fn lacking(table: &RawTable) -> Option<Diagnostic> {
    let needed = [Heading::Goods, Heading::Unit, Heading::Price];
    let lacks = |h: &Heading| table.columns.get(h.column()).copied().flatten().is_none();
    let missing: Vec<&str> = HEADINGS
        .iter()
        .filter(|(h, _)| needed.contains(h) && lacks(h))
        .filter_map(|(_, names)| names.first().copied())
        .collect();
    let found: Vec<&str> = table.headings.iter().map(String::as_str).collect();
    (!missing.is_empty()).then(|| {
        Diagnostic::error("OV-860", "this is not a completed order")
            .at(Place::File(table.file.clone()), "")
            .found(format!("the headings {}", found.join(", ")))
            .expected(format!(
                "a column headed {}",
                missing.join(", and one headed ")
            ))
            .mend("Fill in the order as `ovolo papers` writes it, and keep its headings.")
    })
}

/// Prices that say no day: such a price is asked for again.
fn undated(prices: &[PriceEntry]) -> Option<Diagnostic> {
    let first = prices.iter().find(|p| p.day.is_none())?;
    let count = prices.iter().filter(|p| p.day.is_none()).count();
    let message = match count {
        1 => "a price says no day".to_owned(),
        n => format!("{n} prices say no day"),
    };
    Some(
        Diagnostic::warning("OV-864", message)
            .at(first.place.clone(), "")
            .expected("a day such as 2026-03-21 under \"Priced on\"")
            .note("`ovolo prices` lists a price without a day as one to ask for again."),
    )
}

/// An order and the lines it was made from.
struct Order<'a> {
    program: &'a Program,
    ordered: &'a [Ordered],
    table: &'a RawTable,
}

impl<'a> Order<'a> {
    fn at(&self, heading: Heading) -> Option<usize> {
        self.table.columns.get(heading.column()).copied().flatten()
    }

    /// The text of a cell; empty where the order has no such column.
    fn text(&self, row: &RawRow, heading: Heading) -> String {
        let cell = self.at(heading).and_then(|at| row.cells.get(at));
        cell.map_or(String::new(), |c| c.view().shown().trim().to_owned())
    }

    fn place(&self, row: &RawRow, heading: Heading) -> CellPlace {
        let whole = CellPlace {
            column: None,
            heading: None,
            ..self.table.place(row.row, 0)
        };
        self.at(heading)
            .map_or(whole, |at| self.table.place(row.row, at))
    }

    /// Whether the price cell holds something, though no text that could be trusted.
    fn is_at_fault(&self, row: &RawRow) -> bool {
        let cell = self.at(Heading::Price).and_then(|at| row.cells.get(at));
        cell.is_some_and(|c| mistrust(BookColumn::Price, c.view()).is_some())
    }

    /// The line of the job that a line of the order is. A row without goods, such as one for a signature, is none.
    fn line(&self, row: &RawRow, said: &mut Vec<Diagnostic>) -> Option<&'a Ordered> {
        let goods = self.text(row, Heading::Goods);
        let price = self.text(row, Heading::Price);
        if goods.is_empty() && price.is_empty() {
            return None;
        }
        let named = |o: &&Ordered| o.name == goods || o.sheet_name == goods;
        let found = self.ordered.iter().find(named);
        // Below the lines stand the places to sign: words alone.
        if found.is_none() && price.is_empty() && self.text(row, Heading::Unit).is_empty() {
            return None;
        }
        if found.is_none() {
            let d = Diagnostic::error("OV-861", "this job orders no such goods")
                .at(self.place(row, Heading::Goods), "")
                .found(match goods.is_empty() {
                    true => "a price without its goods".to_owned(),
                    false => goods.clone(),
                })
                .expected("goods as the order names them")
                .mend("Take the line out. What is supplied in place of the goods is priced in the price book, once the sheets ask for it.");
            let names = self.ordered.iter().map(|o| o.name.as_str());
            said.push(match nearest(&goods, names) {
                Some(near) => d.note(format!("Perhaps \"{near}\" is meant.")),
                None => d,
            });
        }
        found
    }

    /// What of a line is not as it was ordered: another unit or pack, which is refused, and another quantity, which is reported.
    fn unlike(&self, row: &RawRow, line: &Ordered) -> Vec<Diagnostic> {
        let mut out = Vec::new();
        let mut other = |heading: Heading, what: &str, expected: String| {
            let d = Diagnostic::error("OV-862", format!("{} is priced by another {what}", line.name))
                .at(self.place(row, heading), "")
                .found(match self.text(row, heading) {
                    blank if blank.is_empty() => "nothing".to_owned(),
                    text => text,
                })
                .expected(expected)
                .mend("Ask for the price of what was ordered; or write the row into the price book yourself, with its own unit, pack and specification.");
            out.push(d);
        };
        let unit = self.text(row, Heading::Unit);
        if !self.is_unit(&unit, &line.unit) {
            other(Heading::Unit, "unit", line.unit.clone());
        }
        // What the order left open, a supplier may fill in.
        if let (Some(spec), Some(_)) = (&line.spec, self.at(Heading::Spec)) {
            let found = self.text(row, Heading::Spec);
            if found != *spec && found != csv_cell(spec) {
                other(Heading::Spec, "specification", spec.clone());
            }
        }
        if let Some((word, holds)) = &line.pack {
            let found = self.text(row, Heading::Packs);
            if self.at(Heading::Packs).is_some() && !same_word(&found, word) {
                other(Heading::Packs, "pack", word.clone());
            }
            let found = self.text(row, Heading::Holds);
            let is_same = match holds {
                Some(holds) => Exact::parse_plain(&found).as_ref() == Some(holds),
                None => found.is_empty(),
            };
            if self.at(Heading::Holds).is_some() && !is_same {
                let expected = holds
                    .as_ref()
                    .map_or("nothing".to_owned(), Exact::to_string);
                other(Heading::Holds, "pack", expected);
            }
        }
        if let (Some(count), Some(_)) = (&line.count, self.at(Heading::Order)) {
            let found = self.text(row, Heading::Order);
            if Exact::parse_plain(&found).as_ref() != Some(count) {
                let d = Diagnostic::warning(
                    "OV-863",
                    format!("{} was priced for another quantity", line.name),
                );
                let d = d
                    .at(self.place(row, Heading::Order), "")
                    .found(match found.is_empty() {
                        true => "nothing".to_owned(),
                        false => found,
                    });
                out.push(
                    d.expected(format!("{count}, as the job buys now"))
                        .note("The price is kept. Ask whether it applies to this quantity."),
                );
            }
        }
        out
    }

    /// Whether a unit is written as the order has it, or is the same by another of its words.
    fn is_unit(&self, found: &str, ordered: &str) -> bool {
        let read = |text: &str| parse_unit(text, &self.program.nouns, None).ok();
        found == ordered
            || match (read(found), read(ordered)) {
                (Some(a), Some(b)) => a.dim() == b.dim() && a.factor() == b.factor(),
                _ => false,
            }
    }

    fn without_price(&self, open: &[(&RawRow, &Ordered)]) -> Option<Diagnostic> {
        let (first, _) = open.first()?;
        let names: Vec<&str> = open.iter().map(|(_, line)| line.name.as_str()).collect();
        let message = match names.len() {
            1 => "a line of the order has no price".to_owned(),
            n => format!("{n} lines of the order have no price"),
        };
        Some(
            Diagnostic::warning("OV-864", message)
                .at(self.place(first, Heading::Price), "")
                .found(format!("no price for {}", names.join(", ")))
                .note("A blank is never taken for zero: these lines make no row."),
        )
    }

    fn book_row(&self, row: &RawRow, line: &Ordered) -> BookRow {
        let pack = line.pack.as_ref();
        let of = |heading: Heading| (self.text(row, heading), heading);
        let said = |text: String| (text, Heading::Goods);
        let cells = BOOK_COLUMNS.map(|(column, _)| {
            let (text, heading) = match column {
                BookColumn::Resource => said(line.sheet_name.clone()),
                BookColumn::Unit => match pack {
                    Some((word, Some(_))) => said(singular(word)),
                    _ => said(line.unit.clone()),
                },
                BookColumn::Price => of(Heading::Price),
                BookColumn::Pack => said(match pack {
                    Some((word, Some(holds))) => {
                        format!("{} of {holds} {}", singular(word), line.unit)
                    }
                    _ => String::new(),
                }),
                BookColumn::Supplier => said(line.supplier.clone().unwrap_or_default()),
                BookColumn::Source => said(format!("order filled in, {}", self.table.file)),
                BookColumn::Date => of(Heading::Day),
                BookColumn::Currency => of(Heading::Currency),
                BookColumn::Note => match self.text(row, Heading::LeadTime) {
                    blank if blank.is_empty() => said(blank),
                    time => said(format!("lead time {time}")),
                },
                BookColumn::Spec => match &line.spec {
                    Some(spec) => said(spec.clone()),
                    None => of(Heading::Spec),
                },
                BookColumn::Chosen
                | BookColumn::Low
                | BookColumn::High
                | BookColumn::Likely
                | BookColumn::VariesWith => said(String::new()),
            };
            let cell = self.at(heading).and_then(|at| row.cells.get(at));
            BookCell {
                text,
                place: self.place(row, heading),
                fault: cell.and_then(|c| mistrust(column, c.view())),
            }
        });
        BookRow {
            cells: cells.to_vec(),
        }
    }
}

fn as_csv(rows: &[BookRow]) -> String {
    let headings: Vec<&str> = BOOK_COLUMNS.iter().map(|(_, heading)| *heading).collect();
    let mut out = headings.join(",") + "\n";
    for row in rows {
        let cells: Vec<String> = row
            .cells
            .iter()
            .map(|c| super::blank::cell(&c.text))
            .collect();
        out += &(cells.join(",") + "\n");
    }
    out
}
