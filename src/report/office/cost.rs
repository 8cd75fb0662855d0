//! The cost on one tab: lines as quantity times price, charges as shares of the cells they rest on, and the total.

use super::{Looks, Writer, buys, put_formula, put_number, range, rounds_to, write_text};
use crate::number::{Exact, Rounding};
use crate::pricing::{BuyLine, ChargeBases, ChargeKind, ChargeLine, CostLine, Estimate, FinalLine};
use rust_xlsxwriter::utility::row_col_to_cell;
use rust_xlsxwriter::{Format, Worksheet, XlsxError};

/// Columns of the tab.
const WHAT: u16 = 0;
const CLASS: u16 = 1;
const PHASE: u16 = 2;
const QUANTITY: u16 = 3;
const UNIT: u16 = 4;
const PRICE: u16 = 5;
const PER: u16 = 6;
const AMOUNT: u16 = 7;
const NOTE: u16 = 8;

/// Why a cell is a value.
const FIXED: &str = "a value: a spreadsheet would give another cent";
/// Pieces of a base that one formula names.
const MOST_PIECES: usize = 100;

struct Tab<'a> {
    sheet: &'a mut Worksheet,
    looks: Looks,
    formulas: usize,
    values: usize,
}

/// Puts the tab first into the workbook.
pub(super) fn place(
    writer: &mut Writer,
    estimate: &Estimate,
    bases: &[ChargeBases],
) -> Result<(), XlsxError> {
    let mut tab = Tab {
        sheet: writer.sheet("Cost")?,
        looks: Looks::new(),
        formulas: 0,
        values: 0,
    };
    let title = format!("{}, {}", estimate.title, estimate.version_name());
    write_text(tab.sheet, (0, 0), &title, &tab.looks.title)?;
    write_text(
        tab.sheet,
        (1, 0),
        "For the office only. Hours, wages and shares may be edited here, goods on the tab behind; amounts follow.",
        &Format::new(),
    )?;
    let head = 3;
    let currency = format!("Amount ({})", estimate.currency);
    let headings = [
        "What", "Class", "Phase", "Quantity", "Unit", "Price", "Per", &currency, "Note",
    ];
    for (at, heading) in (0u16..).zip(headings) {
        let look = match at {
            QUANTITY | PRICE | AMOUNT => tab.looks.heading_right.clone(),
            UNIT | PER | NOTE => tab.looks.heading_behind.clone(),
            _ => tab.looks.heading.clone(),
        };
        write_text(tab.sheet, (head, at), heading, &look)?;
    }
    let first = head + 1;
    let mut row = first;
    for line in &estimate.lines {
        let buy = match line.phase {
            Some(_) => None,
            None => estimate
                .buys
                .iter()
                .position(|b| b.resource == line.resource),
        };
        tab.line(
            row,
            line,
            buy.and_then(|at| Some((at, estimate.buys.get(at)?))),
        )?;
        row += 1;
    }
    let charges = row + 1;
    let lines_total = row;
    tab.total(
        row,
        "cost before charges",
        estimate.totals.direct,
        &[(first, row.saturating_sub(1))],
        first < row,
    )?;
    for (at, charge) in (0u32..).zip(&estimate.charges) {
        let own = usize::try_from(at).ok().and_then(|at| bases.get(at));
        tab.charge(charges + at, charge, own, (first, charges))?;
        row = charges + at + 1;
    }
    let before = row;
    if let Some(last) = &estimate.final_rounding {
        tab.last(row, last, (lines_total, before.saturating_sub(1)), estimate)?;
        row += 1;
    }
    tab.total(
        row,
        "total",
        estimate.totals.grand,
        &[(lines_total, row.saturating_sub(1))],
        true,
    )?;
    let counts = format!(
        "{} amounts are formulas, {} are values.",
        tab.formulas, tab.values
    );
    write_text(tab.sheet, (row + 2, 0), &counts, &Format::new())?;
    super::fit(tab.sheet, row);
    tab.sheet.set_freeze_panes(head + 1, 1)?;
    tab.sheet.set_repeat_rows(head, head)?;
    tab.sheet.set_landscape();
    for (at, width) in (0u16..).zip([40u16, 12, 32, 12, 10, 12, 12, 14, 44]) {
        tab.sheet.set_column_width(at, width)?;
    }
    let (formulas, values) = (tab.formulas, tab.values);
    writer.formulas += formulas;
    writer.values += values;
    Ok(())
}

impl Tab<'_> {
    fn text(&mut self, row: u32, column: u16, text: &str) -> Result<(), XlsxError> {
        write_text(self.sheet, (row, column), text, &self.looks.text)
    }

    fn behind(&mut self, row: u32, column: u16, text: &str) -> Result<(), XlsxError> {
        write_text(self.sheet, (row, column), text, &self.looks.behind)
    }

    /// The amount of a row: a formula, or a value with its note.
    fn amount(
        &mut self,
        row: u32,
        formula: Option<String>,
        cents: i128,
        note: &str,
    ) -> Result<(), XlsxError> {
        let (look, amount) = (Looks::number("#,##0.00", false), Exact::from_cents(cents));
        match formula {
            Some(text) => {
                self.formulas += 1;
                put_formula(self.sheet, (row, AMOUNT), &text, &amount, &look)
            }
            None => {
                self.values += 1;
                put_number(self.sheet, (row, AMOUNT), &amount, &look)?;
                self.behind(row, NOTE, note)
            }
        }
    }

    /// A line: labor as hours times price, a purchase as its line of the buy list has it.
    fn line(
        &mut self,
        row: u32,
        line: &CostLine,
        buy: Option<(usize, &BuyLine)>,
    ) -> Result<(), XlsxError> {
        self.text(row, WHAT, &line.name)?;
        self.text(row, CLASS, line.class.word())?;
        self.text(row, PHASE, line.phase.as_deref().unwrap_or(""))?;
        self.behind(row, UNIT, &line.unit)?;
        self.behind(row, PER, &line.per)?;
        let plain = Looks::number("#,##0.00####", false);
        if let Some((at, buy)) = buy
            && (buy.cents, &buy.bought, &buy.price.amount)
                == (line.cents, &line.quantity, &line.price)
            && let Some(cells) = [buys::BOUGHT, buys::PRICE, buys::AMOUNT]
                .map(|column| buys::cell_of(at, column))
                .into_iter()
                .collect::<Option<Vec<_>>>()
            && let [bought, price, amount] = cells.as_slice()
        {
            put_formula(
                self.sheet,
                (row, QUANTITY),
                &format!("={bought}"),
                &line.quantity,
                &plain,
            )?;
            put_formula(
                self.sheet,
                (row, PRICE),
                &format!("={price}"),
                &line.price,
                &plain,
            )?;
            self.formulas += 2;
            return self.amount(row, Some(format!("={amount}")), line.cents, "");
        }
        put_number(self.sheet, (row, QUANTITY), &line.quantity, &plain)?;
        put_number(self.sheet, (row, PRICE), &line.price, &plain)?;
        let product = line.quantity.mul(&line.price).ok();
        let same = product.as_ref() == Some(&line.exact);
        let cents = Exact::from_cents(line.cents);
        let live = same && rounds_to(&line.exact, &cents);
        let formula = live.then(|| {
            let cell = |column| row_col_to_cell(row, column);
            format!("=ROUND({}*{},2)", cell(QUANTITY), cell(PRICE))
        });
        let note = match same {
            true => FIXED,
            false => "a value: the price is for another unit than the quantity",
        };
        self.amount(row, formula, line.cents, note)
    }

    fn total(
        &mut self,
        row: u32,
        words: &str,
        cents: i128,
        of: &[(u32, u32)],
        any: bool,
    ) -> Result<(), XlsxError> {
        let sum = self.looks.sum.clone();
        write_text(self.sheet, (row, WHAT), words, &sum)?;
        let look = Looks::number("#,##0.00", true);
        let amount = Exact::from_cents(cents);
        if !any {
            return put_number(self.sheet, (row, AMOUNT), &amount, &look);
        }
        let ranges: Vec<String> = of.iter().map(|(a, b)| range(*a, *b, AMOUNT)).collect();
        self.formulas += 1;
        put_formula(
            self.sheet,
            (row, AMOUNT),
            &format!("=ROUND(SUM({}),2)", ranges.join(",")),
            &amount,
            &look,
        )
    }

    fn charge(
        &mut self,
        row: u32,
        charge: &ChargeLine,
        bases: Option<&ChargeBases>,
        (lines, charges): (u32, u32),
    ) -> Result<(), XlsxError> {
        self.text(row, WHAT, &charge.name)?;
        self.text(
            row,
            CLASS,
            if charge.allowance {
                "allowance"
            } else {
                "charge"
            },
        )?;
        let Some((share, base)) = charge.share.as_ref().zip(charge.base) else {
            // A fixed sum is typed in, and is edited as it stands.
            let look = Looks::number("#,##0.00", false);
            return put_number(
                self.sheet,
                (row, AMOUNT),
                &Exact::from_cents(charge.cents),
                &look,
            );
        };
        self.text(row, PHASE, &kind_words(charge))?;
        put_number(
            self.sheet,
            (row, QUANTITY),
            share,
            &Looks::number("0.00####%", false),
        )?;
        self.behind(row, PER, "base")?;
        let pieces = bases.map(|b| pieces(b, lines, charges)).unwrap_or_default();
        let base_look = Looks::number("#,##0.00", false);
        let base_cents = Exact::from_cents(base);
        let live = !pieces.is_empty() && pieces.len() <= MOST_PIECES;
        match live {
            true => {
                let text = format!("=ROUND(SUM({}),2)", pieces.join(","));
                put_formula(self.sheet, (row, PRICE), &text, &base_cents, &base_look)?;
                self.formulas += 1;
            }
            false => put_number(self.sheet, (row, PRICE), &base_cents, &base_look)?,
        }
        let (s, b) = (row_col_to_cell(row, QUANTITY), row_col_to_cell(row, PRICE));
        let cents = Exact::from_cents(charge.cents);
        let formula = share_formula(charge, share, &base_cents, &cents, (&s, &b));
        let note = match charge.kind {
            ChargeKind::TaxByItem => "a value: calculated item by item",
            ChargeKind::Sum
            | ChargeKind::Share
            | ChargeKind::MarkUp
            | ChargeKind::Margin
            | ChargeKind::TaxByInvoice => FIXED,
        };
        self.amount(row, formula, charge.cents, note)
    }

    /// The rounding of the final figure.
    fn last(
        &mut self,
        row: u32,
        last: &FinalLine,
        (from, to): (u32, u32),
        estimate: &Estimate,
    ) -> Result<(), XlsxError> {
        self.text(row, WHAT, "final rounding")?;
        let word = match last.mode {
            Rounding::Up => Some("CEILING"),
            Rounding::Down => Some("FLOOR"),
            Rounding::TowardZero
            | Rounding::AwayFromZero
            | Rounding::HalfUp
            | Rounding::HalfDown
            | Rounding::HalfEven
            | Rounding::Up05 => None,
        };
        let positive = estimate.before_final() > 0 && last.step.is_integer();
        let formula = word.filter(|_| positive).map(|word| {
            let sum = format!("ROUND(SUM({}),2)", range(from, to, AMOUNT));
            format!(
                "=ROUND({word}({sum},{})-{sum},2)",
                last.step.to_decimal(0).0
            )
        });
        self.amount(
            row,
            formula,
            last.cents,
            "a value: type the rounded total's difference",
        )
    }
}

fn kind_words(charge: &ChargeLine) -> String {
    let word = match charge.kind {
        ChargeKind::Sum => "sum",
        ChargeKind::Share => "of",
        ChargeKind::MarkUp => "mark-up on",
        ChargeKind::Margin => "margin on",
        ChargeKind::TaxByItem | ChargeKind::TaxByInvoice => "tax of",
    };
    format!("{word} {}", charge.of)
}

/// The cells of a base.
fn pieces(bases: &ChargeBases, lines: u32, charges: u32) -> Vec<String> {
    let mut stretches: Vec<(u32, u32)> = Vec::new();
    let rows = |list: &[usize], first: u32| -> Vec<u32> {
        let row = |at: &usize| u32::try_from(*at).ok().map(|at| first + at);
        list.iter().filter_map(row).collect()
    };
    for row in rows(&bases.lines, lines)
        .into_iter()
        .chain(rows(&bases.charges, charges))
    {
        match stretches.last_mut() {
            Some((_, end)) if *end + 1 == row => *end = row,
            _ => stretches.push((row, row)),
        }
    }
    stretches
        .iter()
        .map(|(a, b)| range(*a, *b, AMOUNT))
        .collect()
}

/// The formula of a share, where a spreadsheet gets our cents.
fn share_formula(
    charge: &ChargeLine,
    share: &Exact,
    base: &Exact,
    cents: &Exact,
    (s, b): (&str, &str),
) -> Option<String> {
    match charge.kind {
        ChargeKind::Share | ChargeKind::MarkUp => {
            let exact = base.mul(share).ok()?;
            rounds_to(&exact, cents).then(|| format!("=ROUND({b}*{s},2)"))
        }
        ChargeKind::Margin => {
            let rest = Exact::ONE.sub(share).ok()?;
            let exact = base.mul(share).ok()?.div(&rest).ok()?;
            rounds_to(&exact, cents).then(|| format!("=ROUND({b}*{s}/(1-{s}),2)"))
        }
        // To the third decimal and no further, then up from five: in whole mills, which doubles hold.
        ChargeKind::TaxByInvoice => {
            let mills = base.mul(share).ok()?.mul(&Exact::int(1000)).ok()?;
            let whole = mills.round_to(&Exact::ONE, Rounding::Down).ok()?;
            let over = mills.sub(&whole).ok()?;
            let clear = over < Exact::ratio(999_998, 1_000_000)? && mills >= Exact::ZERO;
            clear.then(|| format!("=INT((INT({b}*{s}*1000+0.000001)+5)/10)/100"))
        }
        ChargeKind::Sum | ChargeKind::TaxByItem => None,
    }
}
