//! The trees behind the numbers of the demo: every root is the number itself, every sum adds up again, every table row fits.
#![allow(missing_docs)]

mod demo_support;

use demo_support::{Demo, Folder};
use ovolo::eval::{self, Cell};
use ovolo::explain::{Explainer, Options, Subject, Target, Tree, What, json, text};
use ovolo::number::Exact;
use ovolo::pricing::{CLASSES, CutKind};
use ovolo::program::{NodeId, ResourceId, ValueKind};
use ovolo::takeoff::Wish;

#[derive(Default, Debug)]
struct Count {
    roots: usize,
    sums: usize,
    lookups: usize,
    cells: usize,
    nodes: usize,
}

/// Adds every sum of a tree up again and looks at every table row and cell told.
fn check(tree: &Tree, count: &mut Count) {
    count.nodes += 1;
    if !tree.addends.is_empty() {
        let sum = tree.sum_of_addends().expect("small").unwrap_or_else(|| panic!("{} has a part without a number", tree.name));
        assert_eq!(Some(&sum), tree.number.as_ref(), "{} {:?} = {}", tree.name, tree.at, tree.text);
        count.sums += 1;
    }
    let says = |word: &str| tree.facts.iter().any(|(w, text)| *w == word && !text.is_empty());
    if tree.what == What::Lookup && tree.number.is_some() {
        assert!(says("row") || says("between"), "{} {:?}", tree.name, tree.facts);
        count.lookups += 1;
    }
    if tree.what == What::Column {
        assert!(tree.place.is_some() && says("found"), "{} {:?}", tree.name, tree.at);
        count.cells += 1;
    }
    tree.addends.iter().chain(&tree.from).for_each(|t| check(t, count));
}

fn cents(value: i128) -> Exact {
    Exact::from_i128(value).div(&Exact::int(100)).expect("small")
}

fn subject<'a>(demo: &'a Demo, version: usize, estimate: &'a ovolo::pricing::Estimate) -> Subject<'a> {
    Subject { loaded: &demo.loaded, checked: &demo.checked, version, survey: &demo.survey, book: &demo.book, estimate }
}

#[test]
fn every_named_value_on_every_row_is_the_root_of_its_tree() {
    let demo = Demo::open(&Folder::default());
    let program = &demo.checked.program;
    let worked = demo.work(0, Wish::default());
    let mut explainer = Explainer::new(subject(&demo, 0, &worked.estimate));
    let version = &program.versions[0];
    let nodes: Vec<NodeId> = version.values.iter().map(|v| v.node).collect();
    let inputs = demo.survey.inputs();
    let results = eval::run(program, &inputs, &nodes, &eval::Options::default()).expect("runs");
    let mut count = Count::default();
    let mut decisions = 0;
    for (at, value) in version.values.iter().enumerate() {
        let rows = explainer.rows(value.grain).expect("runs");
        for (row, mark) in rows.iter().enumerate() {
            let target = Target::Value { value: at, row };
            // One row of each value in full; the others far enough to meet the sums and cells next below.
            let depth = if row == at % rows.len() { 6 } else { 1 };
            let tree = explainer.explain(target, Options { depth, most: 5 }).expect("runs");
            let cell = results.value(value.node, row);
            assert_eq!((&tree.name, &tree.at), (&value.name, mark));
            assert_eq!(tree.text, ovolo::show::cell_text(program, value.node, &cell, value.unit.as_ref()), "{} {mark:?}", value.name);
            match cell {
                Cell::Number(n) => assert_eq!(tree.number, Some(n)),
                _ => assert_eq!(tree.number, None),
            }
            if let ValueKind::Decide(_) = value.kind {
                assert!(tree.facts.iter().any(|(word, _)| *word == "taken"), "{} {mark:?}", value.name);
                decisions += 1;
            }
            check(&tree, &mut count);
            count.roots += 1;
        }
    }
    println!("{count:?}, {decisions} of the roots decisions");
    assert!(count.roots > 12_000 && count.sums > 150 && count.lookups > 100 && count.cells > 9_000 && decisions > 900, "{count:?}");
}

#[test]
fn every_roll_up_is_the_root_of_its_tree_and_adds_up_again() {
    let demo = Demo::open(&Folder::default());
    let mut count = Count::default();
    for at in 0..demo.checked.program.versions.len() {
        let worked = demo.work(at, Wish { by_row: true, treatment: false });
        let estimate = &worked.estimate;
        let mut explainer = Explainer::new(subject(&demo, at, estimate));
        let deep = Options { depth: if at == 0 { 5 } else { 3 }, most: 5 };
        let mut grow = |target: Target, number: &Exact, what: &str| -> Tree {
            let tree = explainer.explain(target, deep).expect("runs");
            assert_eq!(tree.number.as_ref(), Some(number), "{what}");
            check(&tree, &mut count);
            count.roots += 1;
            tree
        };
        let version = &demo.checked.program.versions[at];
        for (index, def) in version.resources.iter().enumerate() {
            let id = ResourceId(u16::try_from(index).expect("few"));
            let all = estimate.lines.iter().filter(|l| l.resource == id).map(|l| l.cents).sum();
            let tree = grow(Target::Resource(id), &cents(all), &def.name);
            if let Some(buy) = estimate.buys.iter().find(|b| b.resource == id) {
                // Down the tree stand what is bought, what is needed and what goes into the work.
                let amounts: Vec<Exact> = flat(&tree).into_iter().filter(|t| t.what == What::Quantity).filter_map(|t| t.number.clone()).collect();
                for amount in [&buy.bought, &buy.needed, &buy.net] {
                    let base = amount.mul(&buy.base_per_unit).expect("small");
                    assert!(amounts.contains(&base), "{}: {base} of {amounts:?}", def.name);
                }
            }
        }
        for (index, row) in estimate.cut(CutKind::Phase).expect("phases").rows.iter().enumerate() {
            grow(Target::Phase(index), &cents(row.cents()), &row.key);
        }
        for (index, charge) in estimate.charges.iter().enumerate() {
            let tree = grow(Target::Charge(index), &cents(charge.cents), &charge.name);
            if let Some(base) = charge.base {
                assert_eq!(tree.from.first().and_then(|t| t.number.clone()), Some(cents(base)), "the base of {}", charge.name);
            }
        }
        for row in &estimate.headline {
            let of = estimate.lines.iter().filter(|l| l.class == row.class).map(|l| l.cents).sum();
            let tree = grow(Target::Class(row.class), &cents(of), "class");
            if let Some(net) = row.net.as_ref().filter(|n| !n.is_zero()) {
                let amount = tree.from.first().expect("an amount");
                let word = CLASSES.iter().find(|(c, _)| *c == row.class).map(|(_, w)| *w);
                let unit = version.resources.iter().find(|r| r.class == row.class).map(|r| r.unit.clone()).expect("used");
                assert_eq!(amount.number, unit.to_base(net).ok(), "the headline of {word:?}");
            }
        }
        grow(Target::Materials, &cents(estimate.totals.materials), "materials");
        grow(Target::Cost, &cents(estimate.totals.direct), "cost");
        grow(Target::Total, &cents(estimate.totals.grand), "total");
        grow(Target::FinalRounding, &cents(estimate.final_rounding.as_ref().map_or(0, |f| f.cents)), "final rounding");
    }
    println!("{count:?}");
    assert!(count.roots > 200 && count.sums > 1_000, "{count:?}");
}

fn flat(tree: &Tree) -> Vec<&Tree> {
    let mut out = vec![tree];
    for part in tree.addends.iter().chain(&tree.from) {
        out.extend(flat(part));
    }
    out
}

#[test]
fn names_find_what_they_mean_and_slips_are_told() {
    let demo = Demo::open(&Folder::default());
    let worked = demo.work(0, Wish::default());
    let mut explainer = Explainer::new(subject(&demo, 0, &worked.estimate));
    let mut find = |name: &str, mark: Option<&str>| explainer.find(name, mark);
    assert!(matches!(find("total", None), Ok(Target::Total)));
    assert!(matches!(find("Mending", None), Ok(Target::Phase(_))));
    assert!(matches!(find("sales tax", None), Ok(Target::Charge(_))));
    assert!(matches!(find("heart_pine", None), Ok(Target::Resource(_))));
    assert!(matches!(find("heart_pine", Some("n4")), Ok(Target::ResourceAt(..))));
    assert!(matches!(find("stile_face", Some("N4")), Ok(Target::Value { row: 0, .. })));
    assert!(matches!(find("cut_w", Some("N4")), Ok(Target::Value { .. })));
    for (name, mark, code, mend) in [
        ("cut_w", None, "OV-921", None),
        ("cut_w", Some("N444"), "OV-921", None),
        ("cut_q", Some("N4"), "OV-920", Some("did you mean `cut_h`?")),
        ("total", Some("N4"), "OV-921", Some("ask for `total` without a mark, or for a resource at N4")),
    ] {
        let Err(ovolo::estimate::Refused::Messages(list)) = find(name, mark) else { panic!("{name} {mark:?} is found") };
        assert_eq!((list[0].code, list[0].mend.as_deref()), (code, mend), "{name} {mark:?}");
    }
}

#[test]
fn a_tree_is_drawn_within_its_window_and_as_json() {
    let demo = Demo::open(&Folder::default());
    let worked = demo.work(0, Wish::default());
    let mut explainer = Explainer::new(subject(&demo, 0, &worked.estimate));
    let target = explainer.find("cut_w", Some("N4")).expect("found");
    let tree = explainer.explain(target, Options::default()).expect("runs");
    let drawn = text::draw(&tree, &demo.loaded.sources, 80);
    assert!(drawn.lines().all(|l| l.chars().count() <= 80), "{drawn}");
    let told = drawn.replace('|', " ").split_whitespace().collect::<Vec<_>>().join(" ");
    for words in ["cut_w at N4 = 11 5/16 in", "found: \"3'-3\"\"", "survey.csv, line 9, column 7 (W (in))", "replaces: stile_face 2 in"] {
        assert!(told.contains(words), "{words} in\n{drawn}");
    }
    let value = json::tree(&tree, &demo.loaded.sources);
    assert_eq!(value["schema"], "ovolo-why/1");
    assert_eq!(value["tree"]["exact"], "181/16");
    // The same job gives the same bytes.
    let again = Explainer::new(subject(&demo, 0, &worked.estimate)).explain(target, Options::default()).expect("runs");
    assert_eq!(value.to_string(), json::tree(&again, &demo.loaded.sources).to_string());
}
