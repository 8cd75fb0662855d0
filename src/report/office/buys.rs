//! The buy list on one tab: from what goes into the work over waste, packs and price to the amount, each a formula of the one before.

use super::{Looks, Writer, put_formula, put_number, rounds_to, write_text};
use crate::number::{Exact, Rounding};
use crate::pricing::{BuyLine, Estimate};
use crate::syntax::tree::AllowanceKind;
use rust_xlsxwriter::utility::row_col_to_cell;
use rust_xlsxwriter::{Format, Worksheet, XlsxError};

/// Name of the tab, which formulas of others name.
pub(super) const NAME: &str = "Buy list";
/// Row of the headings.
const HEAD: u32 = 3;
const HEADINGS: [&str; 13] = [
    "What",
    "Class",
    "Goes in",
    "Waste",
    "Yield",
    "Needed",
    "Each pack holds",
    "Packs",
    "Bought",
    "Unit",
    "Price",
    "Per",
    "Amount",
];
const NET: u16 = 2;
const WASTE: u16 = 3;
const YIELD: u16 = 4;
const NEEDED: u16 = 5;
const HOLDS: u16 = 6;
const PACKS: u16 = 7;
/// What is bought, in the unit of the line.
pub(super) const BOUGHT: u16 = 8;
const UNIT: u16 = 9;
/// Its price.
pub(super) const PRICE: u16 = 10;
const PER: u16 = 11;
/// What it costs.
pub(super) const AMOUNT: u16 = 12;
const NOTE: u16 = 13;

/// The cell of a purchase as formulas of another tab name it.
pub(super) fn cell_of(buy: usize, column: u16) -> Option<String> {
    let row = u32::try_from(buy).ok()?.checked_add(HEAD + 1)?;
    Some(format!("'{NAME}'!{}", row_col_to_cell(row, column)))
}

/// Puts the tab behind the cost.
pub(super) fn place(writer: &mut Writer, estimate: &Estimate) -> Result<(), XlsxError> {
    let looks = Looks::new();
    let sheet = writer.sheet(NAME)?;
    let title = format!(
        "{}, {}: what is bought",
        estimate.title,
        estimate.version_name()
    );
    write_text(sheet, (0, 0), &title, &looks.title)?;
    write_text(
        sheet,
        (1, 0),
        "For the office only. What goes in, waste, packs and prices may be edited; the cost follows.",
        &Format::new(),
    )?;
    for (at, heading) in (0u16..).zip(HEADINGS) {
        let words = match at {
            AMOUNT => format!("Amount ({})", estimate.currency),
            _ => heading.to_owned(),
        };
        let look = match at {
            0 | 1 => &looks.heading,
            UNIT | PER => &looks.heading_behind,
            _ => &looks.heading_right,
        };
        write_text(sheet, (HEAD, at), &words, look)?;
    }
    write_text(sheet, (HEAD, NOTE), "Note", &looks.heading_behind)?;
    let mut row = HEAD + 1;
    let (mut formulas, mut values) = (0, 0);
    for line in &estimate.buys {
        match buy(sheet, row, line, &looks)? {
            (live, None) => formulas += live,
            (live, Some(note)) => {
                formulas += live;
                values += 1;
                write_text(sheet, (row, NOTE), note, &looks.behind)?;
            }
        }
        row += 1;
    }
    if !estimate.buys.is_empty() {
        write_text(sheet, (row, 0), "all that is bought", &looks.sum)?;
        let all: i128 = estimate.buys.iter().map(|b| b.cents).sum();
        let text = format!("=ROUND(SUM({}),2)", super::range(HEAD + 1, row - 1, AMOUNT));
        let look = Looks::number("#,##0.00", true);
        put_formula(sheet, (row, AMOUNT), &text, &Exact::from_cents(all), &look)?;
        formulas += 1;
    }
    sheet.set_freeze_panes(HEAD + 1, 1)?;
    sheet.set_repeat_rows(HEAD, HEAD)?;
    sheet.set_landscape();
    super::fit(sheet, row);
    let widths = [40u16, 11, 11, 8, 8, 11, 11, 8, 11, 10, 11, 10, 13, 34];
    for (at, width) in (0u16..).zip(widths) {
        sheet.set_column_width(at, width)?;
    }
    writer.formulas += formulas;
    writer.values += values;
    Ok(())
}

/// One purchase: how many of its cells are formulas, and why its amount or its packs are a value.
fn buy(
    sheet: &mut Worksheet,
    row: u32,
    line: &BuyLine,
    looks: &Looks,
) -> Result<(usize, Option<&'static str>), XlsxError> {
    let plain = Looks::number("#,##0.######", false);
    let cell = |column| row_col_to_cell(row, column);
    write_text(sheet, (row, 0), &line.name, &looks.text)?;
    write_text(sheet, (row, 1), line.class.word(), &looks.text)?;
    write_text(sheet, (row, UNIT), &line.unit, &looks.behind)?;
    write_text(sheet, (row, PER), &line.price.per, &looks.behind)?;
    put_number(sheet, (row, NET), &line.net, &plain)?;
    put_number(sheet, (row, PRICE), &line.price.amount, &plain)?;
    let percent = Looks::number("0.####%", false);
    let needed = match &line.allowance {
        None => format!("={}", cell(NET)),
        Some(allowance) => {
            let (column, text) = match allowance.kind {
                AllowanceKind::Waste => (WASTE, format!("={}*(1+{})", cell(NET), cell(WASTE))),
                AllowanceKind::Yield => (YIELD, format!("={}/{}", cell(NET), cell(YIELD))),
            };
            put_number(sheet, (row, column), &allowance.share, &percent)?;
            text
        }
    };
    put_formula(sheet, (row, NEEDED), &needed, &line.needed, &plain)?;
    let mut formulas = 2;
    let mut note = None;
    let bought = match &line.packs {
        None => format!("={}", cell(NEEDED)),
        Some(packs) => {
            put_number(sheet, (row, HOLDS), &packs.holds, &plain)?;
            match whole_packs(&line.needed, &packs.holds) {
                true => {
                    let text = format!("=ROUNDUP(ROUND({}/{},6),0)", cell(NEEDED), cell(HOLDS));
                    put_formula(sheet, (row, PACKS), &text, &packs.count, &plain)?;
                    formulas += 1;
                }
                false => {
                    put_number(sheet, (row, PACKS), &packs.count, &plain)?;
                    note = Some("packs are a value: a spreadsheet would round to another number");
                }
            }
            format!("={}*{}", cell(PACKS), cell(HOLDS))
        }
    };
    put_formula(sheet, (row, BOUGHT), &bought, &line.bought, &plain)?;
    let cents = Exact::from_cents(line.cents);
    let by_pack = line.packs.as_ref().map(|p| (PACKS, &p.count));
    let extends = |(column, n): (u16, &Exact)| {
        let exact = n.mul(&line.price.amount).ok()?;
        let whole = line.bought.mul(&line.base_per_unit).ok()?;
        let same = whole.mul(&line.price.per_base).ok()? == exact;
        (same && rounds_to(&exact, &cents)).then_some(column)
    };
    let times = extends((BOUGHT, &line.bought)).or_else(|| by_pack.and_then(extends));
    let look = Looks::number("#,##0.00", false);
    match times {
        Some(column) => {
            let text = format!("=ROUND({}*{},2)", cell(column), cell(PRICE));
            put_formula(sheet, (row, AMOUNT), &text, &cents, &look)?;
            formulas += 1;
        }
        None => {
            put_number(sheet, (row, AMOUNT), &cents, &look)?;
            note = Some("a value: a spreadsheet would give another cent");
        }
    }
    Ok((formulas, note))
}

/// Whether doubles that are rounded to six decimals give the same number of packs: what is needed is no hair above whole packs.
fn whole_packs(needed: &Exact, holds: &Exact) -> bool {
    let clear = || -> Option<bool> {
        let packs = needed.div(holds).ok()?;
        let whole = packs.round_to(&Exact::ONE, Rounding::Down).ok()?;
        let over = packs.sub(&whole).ok()?;
        let small = whole < Exact::int(1_000_000_000);
        Some(small && (over.is_zero() || over > Exact::ratio(1, 100_000)?))
    };
    clear().unwrap_or(false)
}
