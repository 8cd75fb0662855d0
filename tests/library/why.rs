//! The trees behind the numbers of the demo: every root is the number itself, every sum adds up again, every table row fits.
#![allow(missing_docs)]

use crate::demo_support::{Demo, Folder};
use ovolo::estimate::Worked;
use ovolo::eval::{self, Cell};
use ovolo::explain::against::{self, ChangeKind, Difference};
use ovolo::explain::difference::{self, Figure};
use ovolo::explain::record::{self, Record};
use ovolo::explain::{Explainer, Options, Subject, Target, Tree, What, json, text};
use ovolo::number::Exact;
use ovolo::pricing::CutKind;
use ovolo::program::{NodeId, ValueKind};
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
        let sum = tree
            .sum_of_addends()
            .expect("small")
            .unwrap_or_else(|| panic!("{} has a part without a number", tree.name));
        assert_eq!(
            Some(&sum),
            tree.number.as_ref(),
            "{} {:?} = {}",
            tree.name,
            tree.at,
            tree.text
        );
        count.sums += 1;
    }
    let says = |word: &str| {
        tree.facts
            .iter()
            .any(|(w, text)| *w == word && !text.is_empty())
    };
    if tree.what == What::Lookup && tree.number.is_some() {
        assert!(
            says("row") || says("between"),
            "{} {:?}",
            tree.name,
            tree.facts
        );
        count.lookups += 1;
    }
    if tree.what == What::Column {
        assert!(
            tree.place.is_some() && says("found"),
            "{} {:?}",
            tree.name,
            tree.at
        );
        count.cells += 1;
    }
    tree.addends
        .iter()
        .chain(&tree.from)
        .for_each(|t| check(t, count));
}

fn cents(value: i128) -> Exact {
    Exact::from_i128(value)
        .div(&Exact::int(100))
        .expect("small")
}

fn subject<'a>(demo: &'a Demo, version: usize, worked: &'a Worked) -> Subject<'a> {
    Subject {
        loaded: &demo.loaded,
        checked: &demo.checked,
        version,
        survey: &demo.survey,
        book: &demo.book,
        estimate: &worked.estimate,
        picked: &worked.picked,
    }
}

#[test]
fn every_named_value_on_every_row_is_the_root_of_its_tree() {
    let demo = Demo::open(&Folder::default());
    let program = &demo.checked.program;
    let worked = demo.work(0, Wish::default());
    let mut explainer = Explainer::new(subject(&demo, 0, &worked));
    let version = &program.versions[0];
    let nodes: Vec<NodeId> = version.values.iter().map(|v| v.node).collect();
    let plan = worked.estimate.schedule.as_ref().expect("a calendar");
    let spans = plan.span_values(program, 0);
    let inputs = eval::Inputs {
        spans: &spans,
        ..demo.survey.inputs()
    };
    let results = eval::run(program, &inputs, &nodes, &eval::Options::default()).expect("runs");
    let mut count = Count::default();
    let mut decisions = 0;
    for (at, value) in version.values.iter().enumerate() {
        let rows = explainer.rows(value.grain).expect("runs");
        for (row, mark) in rows.iter().enumerate() {
            let target = Target::Value { value: at, row };
            // One row of each value in full; the others far enough to meet the sums and cells next below.
            let depth = if row == at % rows.len() { 6 } else { 1 };
            let tree = explainer
                .explain(target, Options { depth, most: 5 })
                .expect("runs");
            let cell = results.value(value.node, row);
            assert_eq!((&tree.name, &tree.at), (&value.name, mark));
            assert_eq!(
                tree.text,
                ovolo::show::cell_text(program, value.node, &cell, value.unit.as_ref()),
                "{} {mark:?}",
                value.name
            );
            match cell {
                Cell::Number(n) => assert_eq!(tree.number, Some(n)),
                _ => assert_eq!(tree.number, None),
            }
            if let ValueKind::Decide(_) = value.kind {
                assert!(
                    tree.facts.iter().any(|(word, _)| *word == "taken"),
                    "{} {mark:?}",
                    value.name
                );
                decisions += 1;
            }
            check(&tree, &mut count);
            count.roots += 1;
        }
    }
    println!("{count:?}, {decisions} of the roots decisions");
    assert!(
        count.roots > 12_000
            && count.sums > 150
            && count.lookups > 100
            && count.cells > 9_000
            && decisions > 900,
        "{count:?}"
    );
}

#[test]
#[expect(
    clippy::too_many_lines,
    reason = "one walk over every tree of the demonstration"
)]
fn every_roll_up_is_the_root_of_its_tree_and_adds_up_again() {
    let demo = Demo::open(&Folder::default());
    let mut count = Count::default();
    for at in 0..demo.checked.program.versions.len() {
        let worked = demo.work(
            at,
            Wish {
                by_row: true,
                treatment: false,
                quantities: false,
            },
        );
        let estimate = &worked.estimate;
        let mut explainer = Explainer::new(subject(&demo, at, &worked));
        let deep = Options {
            depth: if at == 0 { 5 } else { 3 },
            most: 5,
        };
        let mut grow = |target: Target, number: &Exact, what: &str| -> Tree {
            let tree = explainer.explain(target, deep).expect("runs");
            assert_eq!(tree.number.as_ref(), Some(number), "{what}");
            check(&tree, &mut count);
            count.roots += 1;
            tree
        };
        let version = &demo.checked.program.versions[at];
        for (id, def) in version.resources.entries() {
            let all = estimate
                .lines
                .iter()
                .filter(|l| l.resource == id)
                .map(|l| l.cents)
                .sum();
            let tree = grow(Target::Resource(id), &cents(all), &def.name);
            if let Some(buy) = estimate.buys.iter().find(|b| b.resource == id) {
                // Down the tree stand what is bought, what is needed and what goes into the work.
                let amounts: Vec<Exact> = flat(&tree)
                    .into_iter()
                    .filter(|t| t.what == What::Quantity)
                    .filter_map(|t| t.number.clone())
                    .collect();
                for amount in [&buy.bought, &buy.needed, &buy.net] {
                    let base = amount.mul(&buy.base_per_unit).expect("small");
                    assert!(
                        amounts.contains(&base),
                        "{}: {base} of {amounts:?}",
                        def.name
                    );
                }
            }
        }
        for (index, row) in estimate
            .cut(CutKind::Phase)
            .expect("phases")
            .rows
            .iter()
            .enumerate()
        {
            grow(Target::Phase(index), &cents(row.cents()), &row.key);
        }
        for (index, charge) in estimate.charges.iter().enumerate() {
            let tree = grow(Target::Charge(index), &cents(charge.cents), &charge.name);
            if let Some(base) = charge.base {
                assert_eq!(
                    tree.from.first().and_then(|t| t.number.clone()),
                    Some(cents(base)),
                    "the base of {}",
                    charge.name
                );
            }
        }
        for row in &estimate.headline {
            let of = estimate
                .lines
                .iter()
                .filter(|l| l.class == row.class)
                .map(|l| l.cents)
                .sum();
            let tree = grow(Target::Class(row.class), &cents(of), "class");
            if let Some(net) = row.net.as_ref().filter(|n| !n.is_zero()) {
                let amount = tree.from.first().expect("an amount");
                let word = row.class.word();
                let unit = version
                    .resources
                    .iter()
                    .find(|r| r.class == row.class)
                    .map(|r| r.unit.clone())
                    .expect("used");
                assert_eq!(
                    amount.number,
                    unit.to_base(net).ok(),
                    "the headline of {word}"
                );
            }
        }
        grow(
            Target::Materials,
            &cents(estimate.totals.materials),
            "materials",
        );
        grow(Target::Cost, &cents(estimate.totals.direct), "cost");
        grow(Target::Total, &cents(estimate.totals.grand), "total");
        grow(
            Target::FinalRounding,
            &cents(estimate.final_rounding.as_ref().map_or(0, |f| f.cents)),
            "final rounding",
        );
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
    let mut explainer = Explainer::new(subject(&demo, 0, &worked));
    let mut find = |name: &str, mark: Option<&str>| explainer.find(name, mark);
    assert!(matches!(find("total", None), Ok(Target::Total)));
    assert!(matches!(find("Mending", None), Ok(Target::Phase(_))));
    assert!(matches!(find("sales tax", None), Ok(Target::Charge(_))));
    assert!(matches!(find("heart_pine", None), Ok(Target::Resource(_))));
    assert!(matches!(
        find("heart_pine", Some("n4")),
        Ok(Target::ResourceAt(..))
    ));
    assert!(matches!(
        find("stile_face", Some("N4")),
        Ok(Target::Value { row: 0, .. })
    ));
    assert!(matches!(
        find("cut_w", Some("N4-U")),
        Ok(Target::Value { .. })
    ));
    for (name, mark, code, mend) in [
        ("cut_w", None, "OV-921", None),
        ("cut_w", Some("N444"), "OV-921", None),
        (
            "cut_q",
            Some("N4-U"),
            "OV-920",
            Some("did you mean `cut_h`?"),
        ),
        (
            "total",
            Some("N4"),
            "OV-921",
            Some("ask for `total` without a mark, or for a resource at N4"),
        ),
    ] {
        let Err(ovolo::estimate::Refused::Messages(list)) = find(name, mark) else {
            panic!("{name} {mark:?} is found")
        };
        assert_eq!(
            (list[0].code, list[0].mend.as_deref()),
            (code, mend),
            "{name} {mark:?}"
        );
    }
}

#[test]
fn a_tree_is_drawn_within_its_window_and_as_json() {
    let demo = Demo::open(&Folder::default());
    let worked = demo.work(0, Wish::default());
    let mut explainer = Explainer::new(subject(&demo, 0, &worked));
    let target = explainer.find("cut_w", Some("N4-U")).expect("found");
    let tree = explainer.explain(target, Options::default()).expect("runs");
    let drawn = text::draw(&tree, &demo.loaded.sources, 80);
    assert!(drawn.lines().all(|l| l.chars().count() <= 80), "{drawn}");
    // Deep enough for the cell of the opening; so far in, no window is wide enough for every word.
    let deep = Options { depth: 9, most: 5 };
    let tree = explainer.explain(target, deep).expect("runs");
    let drawn = text::draw(&tree, &demo.loaded.sources, 120);
    let told = drawn
        .replace('|', " ")
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ");
    for words in [
        "cut_w at N4-U = 11 5/16 in",
        "found: \"3'-3\"\"",
        "survey.csv, line 9, column 11 (W (in))",
        "replaces: stile_face 2 in",
    ] {
        assert!(told.contains(words), "{words} in\n{drawn}");
    }
    let value = json::tree(&tree, &demo.loaded.sources);
    assert_eq!(value["schema"], "ovolo-why/1");
    assert_eq!(value["tree"]["exact"], "181/16");
    // The same job gives the same bytes.
    let again = Explainer::new(subject(&demo, 0, &worked))
        .explain(target, deep)
        .expect("runs");
    assert_eq!(
        value.to_string(),
        json::tree(&again, &demo.loaded.sources).to_string()
    );
}

fn saved_text(subject: &Subject<'_>) -> String {
    let program = "ovolo test";
    ovolo::defuse::json_text(&record::Saved { subject, program })
}

fn as_record(demo: &Demo, version: usize) -> Record {
    let worked = demo.work(version, Wish::default());
    let saved = saved_text(&subject(demo, version, &worked));
    assert_eq!(
        saved,
        saved_text(&subject(demo, version, &worked)),
        "the same run gives the same bytes"
    );
    Record::read("record.json", &saved).expect("a record")
}

/// The difference of two runs, its parts added up again for every figure.
fn split(old: &Demo, new: &Demo, version: usize) -> Difference {
    let record = as_record(old, version);
    let worked = new.work(version, Wish::default());
    let d = against::against(&subject(new, version, &worked), &record)
        .expect("both runs can be worked");
    assert_eq!(d.now, record::Figures::of(&worked.estimate));
    let mut at = d.was.clone();
    for part in &d.parts {
        assert_eq!(part.before, at, "{:?}", part.changed);
        at = part.after.clone();
    }
    assert_eq!(at, d.now);
    assert_eq!(
        d.parts.iter().map(against::Part::total).sum::<i128>(),
        d.now.total - d.was.total
    );
    for class in 0..5 {
        let sum = d
            .parts
            .iter()
            .try_fold(Exact::ZERO, |sum, p| sum.add(&p.amount(class)?))
            .expect("small");
        assert_eq!(
            sum,
            d.now.amounts[class]
                .sub(&d.was.amounts[class])
                .expect("small")
        );
    }
    d
}

fn told(d: &Difference) -> Vec<(ChangeKind, Vec<&str>)> {
    d.parts
        .iter()
        .map(|p| {
            (
                p.changed[0].kind,
                p.changed.iter().map(|c| c.name.as_str()).collect(),
            )
        })
        .collect()
}

#[test]
fn a_run_against_itself_has_no_difference() {
    let demo = Demo::open(&Folder::default());
    assert_eq!(split(&demo, &demo, 0).parts, []);
    assert_eq!(split(&demo, &demo, 2).parts, []);
}

#[test]
fn each_change_has_its_part_and_the_parts_add_up() {
    let old = Demo::open(&Folder::default());
    // One of each kind: a rule, a take (told with its sheet), two givens, cells, an opening out with its defects, one in, two prices.
    let edits = vec![
        (
            "sheets/mending.ovo",
            "(sash_h per cord) + cord_spare",
            "(sash_h per cord) + 2 * cord_spare",
        ),
        (
            "sheets/glazing.ovo",
            "take glazier        lites_set * rabbet_pace  ",
            "take glazier        2 * lites_set * rabbet_pace  ",
        ),
        (
            "sheets/glazing.ovo",
            "given rabbet_pace      5 min per lite",
            "given rabbet_pace      8 min per lite",
        ),
        ("tallowgate-school/job.ovo", "to 2 1/8 in", "to 2 1/4 in"),
        ("survey.csv", "\"3'-3\"\"\",", "\"3'-4\"\"\","),
        ("prices.csv", "18.50", "19.25"),
    ];
    let new = Demo::open(&Folder {
        edits,
        dropped: vec!["M-13"],
        doubled: vec![("M-12", "M-12b")],
    });
    let d = split(&old, &new, 0);
    let told = told(&d);
    println!("{told:#?}");
    let at = |kind: ChangeKind, name: &str| {
        told.iter()
            .position(|(k, names)| *k == kind && names.contains(&name))
    };
    let order = [
        at(ChangeKind::Rule, "cord_len"),
        at(ChangeKind::Sheets, "the rest of glazing.ovo"),
        at(ChangeKind::Given, "rabbet_pace"),
        at(ChangeKind::Given, "stile_face"),
        at(ChangeKind::Cell, "N4 wide"),
        at(ChangeKind::Row, "opening M-13"),
        at(ChangeKind::Row, "opening M-12b"),
        at(ChangeKind::Price, "price of old_glass"),
    ];
    assert!(order.iter().all(Option::is_some), "{order:?} in {told:?}");
    assert!(
        told.len() == order.len() && told.iter().all(|(_, names)| names.len() == 1),
        "nothing is told that did not change: {told:?}"
    );
    // The givens come in the order of the sheets; everything else in the order stated.
    assert!(
        order[0] < order[1]
            && order[1] < order[2]
            && order[4] < order[5]
            && order[5] < order[6]
            && order[6] < order[7],
        "{order:?}"
    );
    let price = &d.parts[order[7].expect("told")];
    assert_eq!(
        (price.changed[0].was.as_str(), price.changed[0].now.as_str()),
        ("18.5 USD per sq ft", "19.25 USD per sq ft")
    );
    let worked = new.work(0, Wish::default());
    for figure in Figure::all() {
        let [parts, figures] = difference::views(&d, figure, &worked.estimate);
        assert!(!parts.is_empty() && figures.rows.len() == 7);
    }
    assert_eq!(
        difference::json(&d)["parts"].as_array().map(Vec::len),
        Some(d.parts.len())
    );
}

#[test]
fn values_decided_for_one_row_are_told_by_row() {
    let with = |changes: &'static str| {
        let edit = (
            "tallowgate-school/job.ovo",
            "alternate \"All mended\"",
            changes,
        );
        Demo::open(&Folder {
            edits: vec![edit],
            ..Folder::default()
        })
    };
    let old = with(
        "change sash_treatment at \"N6-L\" to replace_in_kind because \"shaken to pieces\"\n\
         change sash_treatment at \"N7-L\" to replace_in_kind because \"shaken to pieces\"\n\n\
         alternate \"All mended\"",
    );
    // One is decided otherwise, one is new, one is taken back.
    let new = with(
        "change sash_treatment at \"N6-L\" to retain because \"sound after all\"\n\
         change sash_treatment at \"N5-U\" to replace_in_kind because \"shaken to pieces\"\n\n\
         alternate \"All mended\"",
    );
    let d = split(&old, &new, 0);
    let expected = [
        "sash_treatment at N6-L",
        "sash_treatment at N5-U",
        "sash_treatment at N7-L",
    ];
    let expected = expected.map(|name| (ChangeKind::Exception, vec![name]));
    assert_eq!(told(&d), expected);
    assert!(
        d.parts[1].total() > 0 && d.parts[2].total() < 0,
        "{:?}",
        d.parts
    );
}

#[test]
fn charges_that_changed_are_told_by_name() {
    let old = Demo::open(&Folder::default());
    // One changed, one gone, one new between others, an allowance, and the last rounding gone.
    let edits = vec![
        (
            "tallowgate-school/job.ovo",
            "overhead     14 %",
            "overhead     12 %",
        ),
        (
            "tallowgate-school/job.ovo",
            "charge permits      950 USD\n",
            "",
        ),
        (
            "tallowgate-school/job.ovo",
            "charge profit ",
            "charge travel 400 USD\ncharge profit ",
        ),
        (
            "tallowgate-school/job.ovo",
            "plaster   2500 USD",
            "plaster   2600 USD",
        ),
        (
            "tallowgate-school/job.ovo",
            "final rounded up to 10 USD\n",
            "",
        ),
    ];
    let new = Demo::open(&Folder {
        edits,
        ..Folder::default()
    });
    let d = split(&old, &new, 0);
    let expected = [
        (ChangeKind::Charge, vec!["overhead"]),
        (ChangeKind::Charge, vec!["travel"]),
        (ChangeKind::Allowance, vec!["plaster"]),
        (ChangeKind::Charge, vec!["permits"]),
        (ChangeKind::Final, vec!["the final figure"]),
    ];
    assert_eq!(told(&d), expected);
    assert_eq!(d.parts[3].changed[0].was, "charge permits 950 USD");
    // Before any rounding of cents: 950 and what bond adds to nothing after it, then up to ten.
    assert!(
        (-970 * 100..=-940 * 100).contains(&d.parts[3].total()),
        "{}",
        d.parts[3].total()
    );
}

#[test]
fn rules_and_rows_that_need_one_another_are_told_as_one() {
    let old = Demo::open(&Folder::default());
    // A rule reads a given that the sheets of the record do not have.
    let edits = vec![
        (
            "sheets/glazing.ovo",
            "given spot_pace ",
            "given rabbet_more  2 min per lite   source \"own log\"\ngiven spot_pace ",
        ),
        (
            "sheets/glazing.ovo",
            "  set_time     = lites_set * (bed_pace + pane_pace)",
            "  set_time     = lites_set * (bed_pace + pane_pace + rabbet_more)",
        ),
    ];
    let new = Demo::open(&Folder {
        edits,
        ..Folder::default()
    });
    let d = split(&old, &new, 0);
    assert_eq!(d.parts.len(), 1, "{:?}", told(&d));
    let names: Vec<&str> = d.parts[0].changed.iter().map(|c| c.name.as_str()).collect();
    assert_eq!(names, ["set_time", "rabbet_more"]);
}

#[test]
fn what_is_no_record_is_refused() {
    for (text, found) in [
        ("{", "EOF"),
        ("{}", "no `schema`"),
        ("{\"schema\": \"ovolo-estimate/1\"}", "ovolo-estimate/1"),
        ("{\"schema\": \"ovolo-record/1\"}", "`program`"),
    ] {
        let d = Record::read("old.json", text).expect_err("no record");
        assert_eq!(d.code, "OV-922");
        assert!(
            d.found.as_deref().is_some_and(|f| f.contains(found)),
            "{:?}",
            d.found
        );
    }
}

#[test]
fn a_record_whose_own_sheets_do_not_hold_is_told_as_such() {
    let demo = Demo::open(&Folder::default());
    let worked = demo.work(0, Wish::default());
    let text = saved_text(&subject(&demo, 0, &worked));
    let broken = text.replace(
        "given rabbet_pace      5 min per lite",
        "given rabbet_pace      5 min per light",
    );
    assert_ne!(text, broken, "the sheet holds the line that is broken here");
    let record = Record::read("record.json", &broken).expect("it is a record");
    match against::against(&subject(&demo, 0, &worked), &record) {
        Err(ovolo::estimate::Refused::Messages(list)) => {
            let codes: Vec<&str> = list.iter().map(|d| d.code).collect();
            assert_eq!(codes.first(), Some(&"OV-923"));
            assert!(codes.contains(&"OV-310"), "{codes:?}");
        }
        other => panic!("worked, or stopped: {:?}", other.map(|d| d.parts)),
    }
}

#[test]
fn a_given_is_listed_as_used_though_it_was_worked_into_a_number_beforehand() {
    let demo = Demo::open(&Folder::default());
    let worked = demo.work(0, Wish::default());
    let givens = &worked.estimate.assumptions.givens;
    // Twice the face is worked before any row is read, so that no node of the program is the given itself.
    for (name, value) in [
        ("stile face", "2 1/8 in"),
        ("breakage old", "10 %"),
        ("takeout pace", "8 min per lite"),
        ("stock waste", "35 %"),
    ] {
        let given = givens
            .iter()
            .find(|g| g.name == name)
            .unwrap_or_else(|| panic!("{name} is not listed"));
        assert_eq!(given.value, value);
    }
    // It is there for those who ask what a sash weighs; no amount and no decision rests on it.
    assert!(givens.iter().all(|g| g.name != "double strength"));
}

#[test]
fn a_mixed_plan_tells_which_plan_a_row_takes() {
    let plan = "alternate \"Mixed\" {\n  pick \"All mended\" where cost less than 60 % of \"All new\" otherwise \"All new\"\n}\n\nalternate \"Storms outside\"";
    let demo = Demo::open(&Folder {
        edits: vec![(
            "tallowgate-school/job.ovo",
            "alternate \"Storms outside\"",
            plan,
        )],
        ..Folder::default()
    });
    let version = demo
        .checked
        .program
        .versions
        .iter()
        .position(|v| v.name.as_deref() == Some("Mixed"))
        .expect("the plan");
    let worked = demo.work(version, Wish::default());
    let picked = worked
        .picked
        .iter()
        .find(|p| p.version == version)
        .expect("picked");
    let mut explainer = Explainer::new(subject(&demo, version, &worked));
    let mut taken = [0, 0];
    for row in &picked.rows {
        let sash = ["U", "1", "S"].map(|place| format!("{}-{place}", row.mark));
        let mut found = sash
            .iter()
            .filter_map(|sash| explainer.find("sash_treatment", Some(sash)).ok());
        let target = found.next().expect("found");
        let tree = explainer.explain(target, Options::default()).expect("runs");
        let plan = &picked.plans[usize::from(!row.first)];
        let says = tree
            .facts
            .iter()
            .any(|(word, text)| *word == "taken" && text.contains(plan.as_str()));
        assert!(says, "{}: {:?}", row.mark, tree.facts);
        taken[usize::from(!row.first)] += 1;
    }
    println!("{taken:?} rows of the two plans");
    assert!(
        taken[0] + taken[1] == 61 && taken[1] < 61 && taken[0] < 61,
        "{taken:?}"
    );
    let mut count = Count::default();
    let tree = explainer
        .explain(Target::Total, Options { depth: 5, most: 5 })
        .expect("runs");
    assert_eq!(tree.number, Some(cents(worked.estimate.totals.grand)));
    check(&tree, &mut count);
}

#[test]
fn a_tree_is_cut_where_it_would_not_fit_on_the_stack() {
    let mut rules = String::from("for each opening {\n  link0 = wide + 1 in\n");
    for i in 1..=300 {
        rules += &format!(
            "  link{i} = (if link{0} > 1 in then link{0} else 1 in) + 1 in\n",
            i - 1
        );
    }
    rules += "}\njob {";
    let rules: &'static str = rules.leak();
    let demo = Demo::open(&Folder {
        edits: vec![("school/job.ovo", "job {", rules)],
        ..Folder::default()
    });
    let worked = demo.work(0, Wish::default());
    let mut explainer = Explainer::new(subject(&demo, 0, &worked));
    let version = &demo.checked.program.versions[0];
    let value = version
        .values
        .iter()
        .position(|v| v.name == "link300")
        .expect("the last of the chain");
    let tree = explainer
        .explain(
            Target::Value { value, row: 0 },
            Options {
                depth: 100_000,
                most: 5,
            },
        )
        .expect("runs");
    fn levels(tree: &Tree) -> usize {
        1 + tree
            .addends
            .iter()
            .chain(&tree.from)
            .map(levels)
            .max()
            .unwrap_or(0)
    }
    let grown = levels(&tree);
    assert!((40..200).contains(&grown), "{grown}");
}

#[test]
fn a_change_that_moves_no_figure_is_counted() {
    let demo = Demo::open(&Folder::default());
    let record = as_record(&demo, 0);
    let folder = Folder {
        edits: vec![("survey.csv", "bees behind", "wasps behind")],
        ..Folder::default()
    };
    let now = Demo::open(&folder);
    let worked = now.work(0, Wish::default());
    let moved = against::against(&subject(&now, 0, &worked), &record);
    let moved = moved.unwrap_or_else(|_| panic!("the job is compared"));
    let [parts, _] = difference::views(&moved, Figure::Total, &worked.estimate);
    assert_eq!(parts.notes[0], "7 cells changed, no figure moved.");
    let same = against::against(&subject(&demo, 0, &demo.work(0, Wish::default())), &record);
    let same = same.unwrap_or_else(|_| panic!("the same job is compared"));
    let [parts, _] = difference::views(&same, Figure::Total, &worked.estimate);
    assert_eq!(parts.notes[0], "Nothing changed, and no figure moved.");
}
