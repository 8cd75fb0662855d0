//! Stock by cut plan beside stock by waste percent.

use super::view::{Cell, Column, View};
use crate::pricing::{CutBeside, Estimate};

/// One row for each `cut` block with a plan; empty where the job has none.
pub(super) fn cut_plans(estimate: &Estimate) -> View {
    let columns = vec![
        Column::text("resource"),
        Column::text("to buy"),
        Column::number("on hand"),
        Column::number("worth"),
        Column::number("by plan"),
        Column::number("bound"),
        Column::number("by waste"),
        Column::number("difference"),
    ];
    let mut view = View::new("cut-plans", "Stock by cut plan", columns);
    for beside in &estimate.cut_plans {
        view.row(row(beside));
        if !beside.note.is_empty() {
            view.notes
                .push(format!("{}: {}.", beside.name, beside.note));
        }
    }
    if !view.is_empty() {
        view.notes.push(
            "By waste is what the same parts cost by the waste percent, which the totals hold; wood that is not cut as parts is in no plan. No plan of the same cuts costs less than its bound."
                .to_owned(),
        );
    }
    view
}

fn row(beside: &CutBeside) -> Vec<Cell> {
    let money = |cents: i64| Cell::Money(i128::from(cents));
    let Some(plan) = &beside.plan else {
        let mut cells = vec![Cell::Blank; 8];
        cells[0] = Cell::text(beside.name.clone());
        cells[6] = Cell::Money(beside.by_waste);
        return cells;
    };
    let bought: Vec<String> = plan
        .bought
        .iter()
        .map(|(size, pieces, _)| format!("{pieces} of {size}"))
        .collect();
    vec![
        Cell::text(beside.name.clone()),
        Cell::text(if bought.is_empty() {
            "nothing".to_owned()
        } else {
            bought.join("; ")
        }),
        Cell::Count(crate::ids::length(plan.on_hand)),
        money(plan.worth),
        money(plan.cost),
        money(plan.bound),
        Cell::Money(beside.by_waste),
        Cell::Money(i128::from(plan.cost) - beside.by_waste),
    ]
}
