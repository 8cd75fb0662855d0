//! The tables of an estimate that say what it rests on: decisions, treatment, cautions, givens, assumptions, what is unknown, what it is made from.

use super::view::{Cell, Column, View};
use super::words;
use crate::number::Exact;
use crate::pricing::{Estimate, spoken};

/// How often each decision fell out each way.
pub(super) fn decisions(estimate: &Estimate) -> View {
    let columns = vec![
        Column::text("decision"),
        Column::text("answer").wide(),
        Column::number("how often").wide(),
        Column::text("how often").narrow(),
        Column::text("of"),
    ];
    let mut view = View::new("decisions", "Decisions", columns);
    for count in &estimate.facts.decided {
        let unknown = [("unknown".to_owned(), count.unknown)];
        let answers: Vec<_> = count
            .labels
            .iter()
            .chain(&unknown)
            .filter(|(_, n)| *n > 0)
            .collect();
        let all = answers
            .iter()
            .map(|(label, n)| format!("{} {n}", spoken(label)))
            .collect::<Vec<_>>()
            .join(", ");
        for (at, (label, n)) in answers.into_iter().enumerate() {
            let cells = vec![
                Cell::text(spoken(&count.decision)),
                Cell::text(spoken(label)),
                Cell::Count(*n),
                Cell::text(all.clone()),
                Cell::text(spoken(&count.per)),
            ];
            // On a terminal all answers are in one row.
            if at == 0 {
                view.row(cells)
            } else {
                view.row_wide(cells)
            }
        }
    }
    view
}

/// Each decision on each row with its reason.
pub(super) fn treatment(estimate: &Estimate) -> View {
    let facts = &estimate.facts;
    let mut columns = vec![Column::text("mark").wide(), Column::text("mark").narrow()];
    let keys = facts
        .treatment
        .iter()
        .map(|t| t.keys.len())
        .max()
        .unwrap_or(0);
    let splits = estimate
        .cuts
        .iter()
        .filter(|c| matches!(c.kind, crate::pricing::CutKind::Split(_)))
        .map(|c| c.by.clone());
    columns.extend(
        splits
            .chain(std::iter::repeat(String::new()))
            .take(keys)
            .map(|k| Column::text(k).wide()),
    );
    columns.extend([
        Column::text("decision"),
        Column::text("answer"),
        Column::text("because").wide(),
        Column::text("rests on").wide(),
        Column::text("because, and what it rests on").narrow(),
    ]);
    let mut view = View::new("treatment", "Treatment schedule", columns);
    let mut last: Option<&str> = None;
    for one in &facts.treatment {
        // On a terminal a mark is printed once above its decisions.
        let again = last.replace(&one.mark) == Some(&one.mark);
        let mut cells = vec![
            Cell::text(one.mark.clone()),
            if again {
                Cell::Blank
            } else {
                Cell::text(one.mark.clone())
            },
        ];
        cells.extend((0..keys).map(|k| {
            one.keys
                .get(k)
                .map_or(Cell::Blank, |key| Cell::text(key.clone()))
        }));
        let label = one
            .label
            .as_deref()
            .map_or_else(|| "unknown".to_owned(), spoken);
        let both = match one.rests_on.as_deref() {
            Some(standard) => format!("{} [{standard}]", one.because),
            None => one.because.to_string(),
        };
        cells.extend([
            Cell::text(spoken(&one.decision)),
            Cell::text(label),
            Cell::text(one.because.clone()),
            Cell::maybe(one.rests_on.as_deref()),
            Cell::text(both),
        ]);
        view.row(cells);
    }
    view
}

/// Cautions that hold.
pub(super) fn cautions(estimate: &Estimate) -> View {
    let mut view = View::new(
        "cautions",
        "Cautions",
        vec![Column::text("caution"), Column::text("where")],
    );
    for one in &estimate.facts.cautions {
        let place = match one.rows {
            None => "whole job".to_owned(),
            Some(rows) => format!(
                "{rows} {}: {}",
                spoken(&one.per),
                words::some_marks(&one.marks, rows, 3)
            ),
        };
        view.row(vec![Cell::text(one.text.clone()), Cell::text(place)]);
    }
    view
}

/// Givens in force.
pub(super) fn givens(estimate: &Estimate) -> View {
    let columns = vec![
        Column::text("given"),
        Column::text("value"),
        Column::text("range"),
        Column::text("layer").wide(),
        Column::text("source"),
        Column::text("note").wide(),
    ];
    let mut view = View::new("givens", "Givens in force", columns);
    for given in &estimate.assumptions.givens {
        let range = given
            .range
            .as_ref()
            .map_or(String::new(), |(low, high)| format!("{low} to {high}"));
        let note = given.because.as_deref().or(given.note.as_deref());
        view.row(vec![
            Cell::text(given.name.clone()),
            Cell::text(given.value.clone()),
            Cell::text(range),
            Cell::text(words::layer(given.layer)),
            Cell::text(
                given
                    .source
                    .clone()
                    .unwrap_or_else(|| "no source".to_owned()),
            ),
            Cell::maybe(note),
        ]);
    }
    view
}

/// Everything taken on trust besides givens.
pub(super) fn assumed(estimate: &Estimate) -> View {
    let mut view = View::new(
        "assumptions",
        "Taken on trust",
        vec![
            Column::text("what"),
            Column::text("which"),
            Column::text("note"),
        ],
    );
    let basis = &estimate.assumptions;
    let mut say = |what: &str, which: String, note: String| {
        view.row(vec![Cell::text(what), Cell::text(which), Cell::text(note)])
    };
    for (which, days) in &basis.spans {
        say("span", which.clone(), days.clone());
    }
    let givens = basis.givens.iter();
    let givens = givens.filter_map(|g| Some((g.name.clone(), g.varies.as_ref()?, "value")));
    let prices = basis.prices_vary.iter();
    let prices = prices.map(|(name, varies)| (format!("price of {name}"), varies, "price"));
    for (name, varies, taken) in givens.chain(prices) {
        let note = format!("stated only: the figures take its {taken}");
        say("may vary", format!("{name}, {}", varies.text()), note);
    }
    for blank in &estimate.facts.survey.assumed {
        let rows = if blank.rows == 1 { "row" } else { "rows" };
        let which = format!(
            "{} {} = {}, {} {rows}",
            spoken(&blank.table),
            spoken(&blank.column),
            blank.value,
            blank.rows
        );
        say(
            "blank read as a value",
            which,
            blank.note.clone().unwrap_or_default(),
        );
    }
    for files in &estimate.facts.survey.unread {
        let file = files.tab.as_ref().map_or_else(
            || files.file.clone(),
            |t| format!("{}, tab \"{t}\"", files.file),
        );
        let lists = [
            ("no column in the survey", files.missing_words()),
            ("heading not asked for", files.unasked.clone()),
            ("rows of the survey skipped", files.skipped_words()),
        ];
        for (what, list) in lists.into_iter().filter(|(_, list)| !list.is_empty()) {
            say(what, words::some_marks(&list, list.len(), 12), file.clone());
        }
    }
    let lists = [
        (
            "resources without a source",
            &basis.resources_without_source,
        ),
        ("prices without a source", &basis.prices_without_source),
        ("prices without a date", &basis.prices_without_date),
    ];
    for (what, names) in lists.into_iter().filter(|(_, names)| !names.is_empty()) {
        say(what, names.join("; "), format!("{} in all", names.len()));
    }
    if let Some(words) = basis.from_memory.words(&estimate.currency) {
        let what = "of the cost before charges, in its amount or its price";
        say("figures from memory", words, what.to_owned());
    }
    for (name, date, age) in &basis.old_prices {
        say(
            "price date",
            name.clone(),
            format!("{date}, {}", age.words()),
        );
    }
    for (name, supplier) in &basis.passed_over {
        say("price passed over", name.clone(), supplier.clone());
    }
    view
}

/// What is not in the totals.
pub(super) fn unknown(estimate: &Estimate) -> View {
    let mut view = View::new(
        "unknown",
        "Not in the totals",
        vec![
            Column::text("what"),
            Column::text("why"),
            Column::text("rows"),
        ],
    );
    for aside in &estimate.facts.survey.set_aside {
        view.row(vec![
            Cell::text("set aside whole"),
            Cell::text(aside.cause.clone()),
            Cell::text(aside.mark.clone()),
        ]);
    }
    for left in &estimate.assumptions.left_out {
        let what = if left.phase.is_empty() {
            left.resource.clone()
        } else {
            format!("{}, {}", left.resource, left.phase)
        };
        view.row(vec![
            Cell::text(what),
            Cell::text(left.cause.clone()),
            Cell::text(words::some_marks(&left.marks, left.rows, 6)),
        ]);
    }
    view
}

/// What rounding did.
pub(super) fn roundings(estimate: &Estimate) -> View {
    let mut view = View::new(
        "roundings",
        "What rounding did",
        vec![
            Column::text("what is rounded"),
            Column::money("net effect", &estimate.currency),
        ],
    );
    for (what, effect) in &estimate.assumptions.roundings {
        view.row(vec![
            Cell::text(what.clone()),
            Cell::Number(effect.clone(), 4),
        ]);
    }
    if let Some(last) = &estimate.final_rounding {
        let effect = Exact::from_cents(last.cents);
        view.row(vec![Cell::text("final rounding"), Cell::Number(effect, 4)]);
    }
    view
}

/// What the estimate was made from.
pub(super) fn made_from(estimate: &Estimate) -> View {
    let columns = vec![
        Column::text("made from"),
        Column::text("name"),
        Column::text("sha-256").wide(),
        Column::text("sha-256 begins").narrow(),
    ];
    let mut view = View::new("made-from", "Made from", columns);
    for file in &estimate.origin.files {
        let begins: String = file.sha256.chars().take(12).collect();
        view.row(vec![
            Cell::text(file.role.clone()),
            Cell::text(file.name.clone()),
            Cell::text(file.sha256.clone()),
            Cell::text(begins),
        ]);
    }
    if !estimate.origin.program.is_empty() {
        view.row(vec![
            Cell::text("program"),
            Cell::text(estimate.origin.program.clone()),
            Cell::Blank,
            Cell::Blank,
        ]);
    }
    view.notes.push(words::checked(estimate));
    view
}
