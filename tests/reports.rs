//! Reports of an estimate: they fit their width, escape what they are given, and say the same numbers in every form.

mod money_support;

use money_support::*;
use ovolo::report::terminal;

#[test]
fn show() {
    let (program, quantities) = small_job();
    let done = price(&program, &quantities, SMALL_PRICES).expect("priced");
    let options = terminal::Options { openings: true, treatment: true, assumptions: true, lines: true };
    println!("{}", terminal::report(&done, &options, 80));
}
