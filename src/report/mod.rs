//! Reports: an estimate as terminal tables, CSV, JSON, a workbook and a printable page.
//!
//! Every table is made once, as a [`View`], and each format draws it. Knows layouts and formats; must not work any figure out.
//!
//! ```
//! # fn worked() -> ovolo::session::Session {
//! #     include!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/docs/worked.rs"))
//! # }
//! let session = worked(); // a small job in memory
//! let run = session.run().expect("it is worked");
//! let table = ovolo::report::csv::table(&run.worked.estimate, "buy-list").expect("a table");
//! assert!(table.contains("pine,stock,6.5,bf,"));
//! ```

// A match over kinds lists them all, so that a new kind is noticed everywhere, and no conversion fails silently.
#![warn(
    clippy::wildcard_enum_match_arm,
    clippy::match_wildcard_for_single_variants
)]
#![warn(clippy::as_conversions)]

mod basis;
mod beside;
pub mod calendar;
pub mod csv;
pub mod cuts;
mod face;
pub mod json;
pub mod life;
pub mod office;
pub mod page;
pub mod papers;
pub mod papers_json;
#[cfg(feature = "pdf")]
pub mod pdf;
pub mod study;
pub mod terminal;
mod view;
mod views;
pub mod weigh;
pub(crate) mod words;
pub mod workbook;

pub use face::Face;
pub use view::{Cell, Column, Row, Shown, Side, View};
pub use words::some_marks;

use crate::pricing::{CutKind, Estimate};

/// How cents are rounded, in words for whoever reads a paper.
pub fn cents(estimate: &Estimate) -> &'static str {
    words::cents(estimate.ties)
}

/// Every table of an estimate, in the order of reports. Tables that were not asked for are empty.
pub fn all_views(estimate: &Estimate) -> Vec<View> {
    let mut all = vec![views::totals(estimate)];
    all.extend(views::short_cuts(estimate));
    all.extend([
        views::charges(estimate),
        views::buy_list(estimate),
        beside::cut_plans(estimate),
        views::cost_lines(estimate),
    ]);
    let longer = estimate.cuts.iter().filter(|c| {
        matches!(
            c.kind,
            CutKind::Class | CutKind::Resource | CutKind::Opening
        )
    });
    all.extend(longer.map(|c| views::cut(estimate, c)));
    all.extend(estimate.crossed.iter().map(|c| views::crossed(estimate, c)));
    if estimate.cut(CutKind::Opening).is_none() {
        all.push(views::no_rows(estimate));
    }
    all.extend([
        views::pay(estimate),
        basis::decisions(estimate),
        basis::treatment(estimate),
        basis::cautions(estimate),
        basis::unknown(estimate),
        basis::givens(estimate),
        basis::assumed(estimate),
        basis::roundings(estimate),
        basis::made_from(estimate),
    ]);
    shown(estimate, all)
}

/// Tables as they may be shown: without money where none was worked out.
fn shown(estimate: &Estimate, views: Vec<View>) -> Vec<View> {
    if estimate.unpriced.is_none() {
        return views;
    }
    let of_money = |v: &View| ["charges", "pay"].contains(&v.name.as_str());
    let kept = views.into_iter().filter(|v| !of_money(v));
    kept.map(View::without_money).collect()
}
