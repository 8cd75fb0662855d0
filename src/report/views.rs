//! The tables of an estimate that hold amounts: totals, buy list, cost lines, cuts, charges, wages.

use super::view::{Cell, Column, View};
use super::words;
use crate::number::{Exact, cents_grouped};
use crate::pricing::{Crossed, Cut, CutKind, CutRow, Estimate, spoken};
use crate::syntax::tree::MoneyGrain;

/// A column of money in the job's currency.
fn money(estimate: &Estimate, heading: &str) -> Column {
    Column::money(heading, &estimate.currency)
}

/// The headline: hours, stock, glass, points, putty, cost.
pub(super) fn totals(estimate: &Estimate) -> View {
    let columns = vec![
        Column::text("totals"),
        Column::quantity("net"),
        Column::quantity("as bought"),
        money(estimate, "cost"),
    ];
    let mut view = View::new("totals", "Totals", columns);
    for row in &estimate.headline {
        let amount = |x: &Option<Exact>| {
            x.as_ref()
                .map_or(Cell::Blank, |x| Cell::Quantity(x.clone(), row.unit.clone()))
        };
        let bought = if row.bought == row.net {
            Cell::Blank
        } else {
            amount(&row.bought)
        };
        // A second row of a class in another unit has its cost on the first.
        let first = view
            .rows
            .iter()
            .all(|r| r.cells.first() != Some(&Cell::text(row.class.word())));
        let cost = if first {
            Cell::Money(row.cents)
        } else {
            Cell::Blank
        };
        view.row(vec![
            Cell::text(row.class.word()),
            amount(&row.net),
            bought,
            cost,
        ]);
    }
    view.total(vec![
        Cell::text("cost before charges"),
        Cell::Blank,
        Cell::Blank,
        Cell::Money(estimate.totals.direct),
    ]);
    view.total(vec![
        Cell::text("total"),
        Cell::Blank,
        Cell::Blank,
        Cell::Money(estimate.totals.grand),
    ]);
    view
}

/// What is bought.
pub(super) fn buy_list(estimate: &Estimate) -> View {
    let columns = vec![
        Column::text("resource"),
        Column::text("class").wide(),
        Column::quantity("net").wide(),
        Column::text("allowance").wide(),
        Column::quantity("needed"),
        Column::quantity("buy"),
        Column::quantity("bought").wide(),
        Column::quantity("left over").wide(),
        money(estimate, "price").each(),
        Column::text("from").wide(),
        money(estimate, "amount"),
    ];
    let mut view = View::new("buy-list", "Buy list", columns);
    let mut pieces = false;
    for line in &estimate.buys {
        let amount = |x: &Exact| Cell::Quantity(x.clone(), line.unit.clone());
        let buy = match &line.packs {
            Some(packs) => Cell::Quantity(packs.count.clone(), packs.word.clone()),
            None => amount(&line.bought),
        };
        pieces |= line.packs.as_ref().is_some_and(|p| !p.stated);
        view.row(vec![
            Cell::text(line.name.clone()),
            Cell::text(line.class.word()),
            amount(&line.net),
            line.allowance
                .as_ref()
                .map_or(Cell::Blank, |a| Cell::text(words::allowance(a))),
            amount(&line.needed),
            buy,
            amount(&line.bought),
            if line.left_over.is_zero() {
                Cell::Blank
            } else {
                amount(&line.left_over)
            },
            Cell::Price(line.price.amount.clone(), line.price.per.clone()),
            Cell::text(words::price_origin(&line.price)),
            Cell::Money(line.cents),
        ]);
    }
    let mut sum = vec![Cell::Blank; view.columns.len() - 1];
    let totals = &estimate.totals;
    sum[0] = Cell::text(if totals.hired == 0 {
        "materials"
    } else {
        "materials and hired"
    });
    sum.push(Cell::Money(totals.materials + totals.hired));
    view.total(sum);
    view.notes.push(
        "Needed holds waste or yield; packs are whole and rounded up once for the job.".to_owned(),
    );
    if pieces {
        view.notes
            .push("Counted things without a pack are bought by the piece.".to_owned());
    }
    view
}

/// Every cost line.
pub(super) fn cost_lines(estimate: &Estimate) -> View {
    let columns = vec![
        Column::text("phase"),
        Column::text("resource"),
        Column::text("class").wide(),
        Column::quantity("quantity"),
        money(estimate, "price").each(),
        money(estimate, "amount"),
    ];
    let mut view = View::new("cost-lines", "Cost lines", columns);
    for line in &estimate.lines {
        view.row(vec![
            Cell::text(line.phase.clone().unwrap_or_else(|| "materials".to_owned())),
            Cell::text(line.name.clone()),
            Cell::text(line.class.word()),
            Cell::Quantity(line.quantity.clone(), line.unit.clone()),
            Cell::Price(line.price.clone(), line.per.clone()),
            Cell::Money(line.cents),
        ]);
    }
    let mut sum = vec![Cell::Blank; view.columns.len() - 1];
    sum[0] = Cell::text("cost");
    sum.push(Cell::Money(estimate.totals.direct));
    view.total(sum);
    view.notes.push(match estimate.money_grain {
        MoneyGrain::Line => format!("Each line is rounded to the cent once, ties {}.", words::rounding(estimate.ties)),
        MoneyGrain::Opening => {
            format!("What is not bought in packs is rounded to the cent for each row, ties {}; packs once.", words::rounding(estimate.ties))
        }
    });
    view
}

fn cut_name(by: &str) -> String {
    format!("by-{}", by.replace(' ', "-"))
}

/// The cut by row where nobody asked for it: its name alone.
pub(super) fn no_rows(estimate: &Estimate) -> View {
    let by = spoken(&estimate.facts.row_word);
    View::new(cut_name(&by), format!("Cost by {by}"), Vec::new())
}

/// The cost by phase, a column and trade at once; a form with plenty of room has it alone.
pub(super) fn crossed(estimate: &Estimate, crossed: &Crossed) -> View {
    let columns = vec![
        Column::text("phase"),
        Column::text(crossed.by.clone()),
        Column::text("trade"),
        Column {
            unit: Some("h".to_owned()),
            ..Column::number("hours")
        },
        money(estimate, "cost"),
    ];
    let name = format!("by-phase-{}-trade", crossed.by.replace(' ', "-"));
    let title = format!("Cost by phase, {} and trade", crossed.by);
    let mut view = View::new(name, title, columns);
    let mut all = (Exact::ZERO, 0);
    for row in &crossed.rows {
        let key = row.key.as_deref().unwrap_or("whole job");
        view.row(vec![
            Cell::text(row.phase.as_str()),
            Cell::text(key),
            Cell::text(row.trade.as_str()),
            Cell::Number(row.hours.clone(), 2),
            Cell::Money(row.cents),
        ]);
        all = (all.0.add(&row.hours).unwrap_or(all.0), all.1 + row.cents);
    }
    view.total(vec![
        Cell::text("total"),
        Cell::Blank,
        Cell::Blank,
        Cell::Number(all.0, 2),
        Cell::Money(all.1),
    ]);
    view
}

/// One cut of the cost.
pub(super) fn cut(estimate: &Estimate, cut: &Cut) -> View {
    let counted = cut.rows.iter().any(|r| r.rows.is_some());
    let mut columns = vec![Column::text(cut.by.clone())];
    if counted {
        columns.push(Column::number(spoken(&estimate.facts.rows_word)));
    }
    columns.extend([
        Column {
            unit: Some("h".to_owned()),
            ..Column::number("hours")
        },
        money(estimate, "labor").if_room(),
        money(estimate, "materials").if_room(),
    ]);
    let hires = estimate.totals.hired != 0;
    if hires {
        columns.push(money(estimate, "hired").if_room());
    }
    columns.push(money(estimate, "cost"));
    let charged = !estimate.charges.is_empty() || estimate.final_rounding.is_some();
    if charged {
        columns.push(money(estimate, "with charges"));
    }
    let mut view = View::new(cut_name(&cut.by), format!("Cost by {}", cut.by), columns);
    let row = |key: &str, row: &CutRow| {
        let mut cells = vec![Cell::text(key)];
        if counted {
            cells.push(row.rows.map_or(Cell::Blank, Cell::Count));
        }
        cells.extend([
            Cell::Number(row.hours.clone(), 2),
            Cell::Money(row.labor),
            Cell::Money(row.materials),
        ]);
        if hires {
            cells.push(Cell::Money(row.hired));
        }
        cells.push(Cell::Money(row.cents()));
        if charged {
            cells.push(Cell::Money(row.price()));
        }
        cells
    };
    let mut sum = CutRow {
        key: String::new(),
        whole_job: false,
        rows: None,
        hours: Exact::ZERO,
        labor: 0,
        materials: 0,
        hired: 0,
        charges: 0,
    };
    for one in &cut.rows {
        let key = if one.key.is_empty() && !one.whole_job {
            "(blank)"
        } else {
            one.key.as_str()
        };
        view.row(row(key, one));
        // Hours were added before without passing the bound on digits.
        sum.hours = sum.hours.add(&one.hours).unwrap_or(sum.hours);
        sum.labor += one.labor;
        sum.materials += one.materials;
        sum.hired += one.hired;
        sum.charges += one.charges;
        sum.rows = sum
            .rows
            .or(one.rows.map(|_| 0))
            .map(|n| n + one.rows.unwrap_or(0));
    }
    view.total(row("total", &sum));
    if charged && cut.kind == CutKind::Phase {
        view.notes.push("A charge goes where its base is; fixed sums and the final rounding belong to the whole job.".to_owned());
    }
    view
}

/// From cost to the final figure.
pub(super) fn charges(estimate: &Estimate) -> View {
    let columns = vec![
        Column::text("item"),
        Column::text("how"),
        money(estimate, "base"),
        money(estimate, "amount"),
        Column::text("note").wide(),
    ];
    let mut view = View::new("charges", "From cost to price", columns);
    let line = |item: &str, how: &str, base: Cell, cents: i128, note: Cell| {
        vec![
            Cell::text(item),
            Cell::text(how),
            base,
            Cell::Money(cents),
            note,
        ]
    };
    view.row(line(
        "labor",
        "sum of lines",
        Cell::Blank,
        estimate.totals.labor,
        Cell::Blank,
    ));
    view.row(line(
        "materials",
        "sum of lines",
        Cell::Blank,
        estimate.totals.materials,
        Cell::Blank,
    ));
    if estimate.totals.hired != 0 {
        view.row(line(
            "hired",
            "sum of lines",
            Cell::Blank,
            estimate.totals.hired,
            Cell::Blank,
        ));
    }
    for charge in &estimate.charges {
        let note = charge.note.as_deref().or(charge.source.as_deref());
        view.row(line(
            &charge.name,
            &words::charge(charge),
            charge.base.map_or(Cell::Blank, Cell::Money),
            charge.cents,
            Cell::maybe(note),
        ));
    }
    if let Some(last) = &estimate.final_rounding {
        let how = format!(
            "rounded {} to {} {}",
            words::rounding(last.mode),
            last.step.to_decimal(2).0,
            estimate.currency
        );
        view.row(line(
            "final rounding",
            how.trim_end(),
            Cell::Blank,
            last.cents,
            Cell::Blank,
        ));
    }
    view.total(line(
        "total",
        "",
        Cell::Blank,
        estimate.totals.grand,
        Cell::Blank,
    ));
    view.notes.push(format!(
        "Before the final rounding the cents come to {}, which is {} {} off the unrounded total.",
        cents_grouped(estimate.before_final()),
        words::signed(&estimate.totals.gap),
        if estimate.currency.is_empty() {
            "money"
        } else {
            &estimate.currency
        },
    ));
    view
}

/// How labor rates are made up.
pub(super) fn pay(estimate: &Estimate) -> View {
    let columns = vec![
        Column::text("trade"),
        Column::text("line"),
        Column::text("how"),
        money(estimate, "an hour"),
        Column::text("source").wide(),
        Column::text("note").wide(),
    ];
    let mut view = View::new("pay", "Labor rates", columns);
    let rate = |x: &Exact| Cell::Price(x.clone(), String::new());
    for build in &estimate.pay {
        for (at, line) in build.lines.iter().enumerate() {
            let how = line
                .share
                .as_ref()
                .map(|(share, of)| format!("{} of {of}", crate::pricing::percent(share)))
                .unwrap_or_default();
            let trade = if at == 0 { build.name.as_str() } else { "" };
            let (source, note) = (
                Cell::maybe(line.source.as_deref()),
                Cell::maybe(line.note.as_deref()),
            );
            view.row(vec![
                Cell::text(trade),
                Cell::text(line.name.clone()),
                Cell::text(how),
                rate(&line.rate),
                source,
                note,
            ]);
        }
        view.row(vec![
            Cell::text(if build.lines.is_empty() {
                build.name.as_str()
            } else {
                ""
            }),
            Cell::text("rate"),
            Cell::Blank,
            rate(&build.rate),
            Cell::Blank,
            Cell::Blank,
        ]);
    }
    view
}

/// The cuts that are shown without being asked for: by phase, by split column, by trade.
pub(super) fn short_cuts(estimate: &Estimate) -> Vec<View> {
    let wanted = |c: &&Cut| matches!(c.kind, CutKind::Phase | CutKind::Split(_) | CutKind::Trade);
    estimate
        .cuts
        .iter()
        .filter(wanted)
        .map(|c| cut(estimate, c))
        .collect()
}
