//! Programs made by chance give, on every row of every node, what the slow evaluator gives.

use super::chance::Chance;
use super::maker::{Made, all_nodes, make};
use super::met::MetNodes;
use super::rows::Rows;
use crate::eval::schedule::{Action, plan};
use crate::eval::{Inputs, Memory, Options, run};
use crate::number::Exact;
use crate::program::{Grain, GroupId, Kind, NodeId, Program};
use crate::table::Table;
use std::collections::HashSet;
use std::sync::Mutex;

/// Runs a program and compares the wanted nodes, row by row; returns how many values were compared, and notes of which kinds of node.
fn compare(
    seed: u64,
    made: &Made,
    wanted: &[NodeId],
    threads: Option<usize>,
    met: &mut MetNodes,
) -> usize {
    let tables: Vec<&Table> = made.tables.iter().collect();
    let options = Options {
        threads,
        ..Options::default()
    };
    let results = run(
        &made.program,
        &Inputs {
            spans: &made.spans,
            tables: tables.clone(),
        },
        wanted,
        &options,
    )
    .unwrap_or_else(|error| panic!("seed {seed}: {error:?}"));
    let rows = Rows::new(&made.program, &tables, &made.spans);
    let mut compared = 0;
    for id in wanted {
        let node = made.program.node(*id);
        let column = results
            .column(*id)
            .unwrap_or_else(|| panic!("seed {seed}: {id:?} {node:?} has no column"));
        let count = rows.row_count(node.grain);
        assert_eq!(column.len(), count, "seed {seed}: rows of {id:?} {node:?}");
        for row in 0..count {
            let expected = rows.value(*id, row).cell();
            let found = column.get(row);
            assert!(
                found == expected,
                "seed {seed}, {id:?} row {row}: {node:?}\nfound    {found:?}\nexpected {expected:?}"
            );
            compared += 1;
        }
        if count > 0 {
            met.add(&made.program, node);
        }
        let missing: Vec<usize> = column.missing().map(|(row, _)| row).collect();
        let expected: Vec<usize> = (0..count)
            .filter(|row| column.state(*row).is_err())
            .collect();
        assert_eq!(missing, expected, "seed {seed}: missing rows of {id:?}");
        assert_eq!(
            column.any_missing(),
            !expected.is_empty(),
            "seed {seed}: {id:?}"
        );
    }
    for group in (0..made.program.groups.len() as u16).map(GroupId) {
        if let Some(groups) = results.groups(group) {
            let (of_row, first) = rows.group(group);
            let expected: Vec<usize> = groups.of_row.iter().map(|g| *g as usize).collect();
            assert_eq!(expected, of_row, "seed {seed}");
            let expected: Vec<usize> = groups.first_row.iter().map(|r| *r as usize).collect();
            assert_eq!(expected, first, "seed {seed}");
        }
    }
    compared
}

#[test]
fn every_node_agrees_with_the_slow_evaluator() {
    let (mut compared, mut met) = (0, MetNodes::default());
    for seed in 0..150 {
        let rows = [0, 1, 5, 8, 17, 60][seed as usize % 6];
        let made = make(seed, 80, rows);
        let wanted = all_nodes(&made.program);
        compared += compare(seed, &made, &wanted, None, &mut met);
    }
    assert!(compared > 100_000, "only {compared} values were compared");
    let missing = met.missing();
    assert!(missing.is_empty(), "no run has met {missing:?}");
}

/// The same for an hour or two: `cargo test --release --lib eval:: -- --ignored`.
#[test]
#[ignore = "runs for long"]
fn very_many_programs_agree_with_the_slow_evaluator() {
    let (mut compared, mut met) = (0, MetNodes::default());
    for seed in 100_000..103_000 {
        let made = make(seed, 120, [0, 1, 5, 8, 17, 60][seed as usize % 6]);
        let wanted = all_nodes(&made.program);
        compared += compare(seed, &made, &wanted, None, &mut met);
    }
    println!("{compared} values compared");
    assert!(compared > 1_000_000, "only {compared} values were compared");
}

#[test]
fn a_few_wanted_nodes_agree_as_well() {
    // Wanting few nodes lets quotients be rounded at once, columns be let go early, and stages differ.
    for seed in 1_000..1_200 {
        let made = make(seed, 100, [3, 20, 50][seed as usize % 3]);
        let all = all_nodes(&made.program);
        let mut chance = Chance::new(seed);
        let wanted: Vec<NodeId> = (0..3)
            .map(|_| all[all.len() - 1 - chance.below(all.len().min(40))])
            .collect();
        compare(
            seed,
            &made,
            &wanted,
            Some(1 + seed as usize % 2),
            &mut MetNodes::default(),
        );
    }
}

#[test]
fn what_is_read_from_coarser_rows_is_kept_by_an_earlier_stage() {
    for seed in 0..2_000 {
        let made = make(seed, 80, 1);
        let all = all_nodes(&made.program);
        let mut chance = Chance::new(seed);
        let wanted: Vec<NodeId> = (0..4 + chance.below(60))
            .map(|_| all[chance.below(all.len())])
            .collect();
        let schedule = plan(&made.program, &wanted, &|_| false, false).expect("grains fit");
        let mut kept: HashSet<NodeId> = schedule.constants.iter().copied().collect();
        for stage in &schedule.stages {
            for action in stage.passes.iter().flat_map(|pass| &pass.actions) {
                if let Action::Down { of, .. } = action {
                    assert!(kept.contains(of), "seed {seed}: {of:?}");
                }
            }
            kept.extend(&stage.in_steps);
            for pass in &stage.passes {
                kept.extend(&pass.kept);
                kept.extend(pass.rollups.iter().map(|r| r.node));
                for (group, _) in &pass.groupings {
                    let nodes = made.program.nodes().entries();
                    let of_group = nodes.filter(
                        |(_, n)| matches!(n.kind, Kind::GroupKey { group: g, .. } if g == *group),
                    );
                    kept.extend(of_group.map(|(id, _)| id));
                }
            }
        }
    }
}

#[test]
fn threads_do_not_change_results() {
    for seed in 2_000..2_010 {
        let made = make(seed, 100, 200);
        let wanted: Vec<NodeId> = all_nodes(&made.program)
            .into_iter()
            .filter(|id| made.program.node(*id).grain != Grain::Const)
            .collect();
        let tables: Vec<&Table> = made.tables.iter().collect();
        let with = |threads| {
            let options = Options {
                threads: Some(threads),
                ..Options::default()
            };
            run(
                &made.program,
                &Inputs {
                    spans: &made.spans,
                    tables: tables.clone(),
                },
                &wanted,
                &options,
            )
            .expect("runs")
        };
        let (one, three) = (with(1), with(3));
        for id in &wanted {
            let (a, b) = (
                one.column(*id).expect("wanted"),
                three.column(*id).expect("wanted"),
            );
            assert!(
                (0..a.len()).all(|row| a.get(row) == b.get(row)),
                "seed {seed} {id:?}"
            );
            assert_eq!(one.left_out(*id), three.left_out(*id), "seed {seed} {id:?}");
        }
    }
}

#[test]
fn what_is_remembered_gives_the_same_results() {
    // The same program again, then with other nodes wanted, then another program over the same tables.
    for seed in 3_000..3_060 {
        let made = make(seed, 90, [4, 30][seed as usize % 2]);
        let tables: Vec<&Table> = made.tables.iter().collect();
        let inputs = Inputs {
            spans: &made.spans,
            tables,
        };
        let all = all_nodes(&made.program);
        let memory = Mutex::new(Memory::new());
        let mut chance = Chance::new(seed);
        for round in 0..4 {
            let wanted: Vec<NodeId> = all
                .iter()
                .copied()
                .filter(|_| round == 3 || chance.below(6) == 0)
                .collect();
            let fresh = run(&made.program, &inputs, &wanted, &Options::default());
            let again = run(
                &made.program,
                &inputs,
                &wanted,
                &Options {
                    memory: Some(&memory),
                    ..Options::default()
                },
            );
            // A made program may read rows that belong to none of its own; then both refuse it alike.
            let (fresh, again) = match (fresh, again) {
                (Ok(fresh), Ok(again)) => (fresh, again),
                (fresh, again) => {
                    let (fresh, again) = (fresh.err(), again.err());
                    assert_eq!(format!("{fresh:?}"), format!("{again:?}"));
                    continue;
                }
            };
            for id in &wanted {
                let (a, b) = (
                    fresh.column(*id).expect("wanted"),
                    again.column(*id).expect("wanted"),
                );
                assert_eq!(a.len(), b.len(), "seed {seed} round {round} {id:?}");
                for row in 0..a.len() {
                    let node = made.program.node(*id);
                    assert_eq!(
                        a.get(row),
                        b.get(row),
                        "seed {seed} round {round} {id:?} row {row} {node:?}"
                    );
                }
                assert_eq!(
                    fresh.left_out(*id),
                    again.left_out(*id),
                    "seed {seed} round {round} {id:?}"
                );
            }
        }
        let wanted = [*all.last().expect("a node")];
        run(
            &made.program,
            &inputs,
            &wanted,
            &Options {
                memory: Some(&memory),
                ..Options::default()
            },
        )
        .expect("runs");
        assert_eq!(
            memory.lock().expect("no run failed").last_run().0,
            0,
            "seed {seed}: nothing had changed"
        );
    }
}

#[test]
fn a_changed_given_works_only_what_depends_on_it() {
    // Two programs that differ in one constant: everything that does not read it is found again.
    let mut made = make(4_000, 200, 30);
    let tables: Vec<&Table> = made.tables.iter().collect();
    let spans = made.spans.clone();
    let inputs = Inputs {
        spans: &spans,
        tables,
    };
    let wanted = all_nodes(&made.program);
    let memory = Mutex::new(Memory::new());
    run(
        &made.program,
        &inputs,
        &wanted,
        &Options {
            memory: Some(&memory),
            ..Options::default()
        },
    )
    .expect("runs");
    let (first, _) = memory.lock().expect("no run failed").last_run();
    let changed = changed_given(&mut made.program);
    let fresh = run(&changed, &inputs, &wanted, &Options::default()).expect("runs");
    let again = run(
        &changed,
        &inputs,
        &wanted,
        &Options {
            memory: Some(&memory),
            ..Options::default()
        },
    )
    .expect("runs");
    for id in &wanted {
        let (a, b) = (
            fresh.column(*id).expect("wanted"),
            again.column(*id).expect("wanted"),
        );
        assert!(
            (0..a.len()).all(|row| a.get(row) == b.get(row)),
            "{id:?} {:?}",
            changed.node(*id)
        );
    }
    let (worked, found) = memory.lock().expect("no run failed").last_run();
    assert!(
        worked > 0 && found > 0 && worked < first,
        "{first} at first, then {worked} worked and {found} found"
    );
}

/// The same program with another value for its first written number.
fn changed_given(program: &mut Program) -> Program {
    let mut changed = Program::default();
    let mut first = true;
    for node in program.nodes() {
        let mut node = node.clone();
        if let Kind::Number(n) = &mut node.kind
            && std::mem::take(&mut first)
        {
            *n = Exact::int(1_234_567);
        }
        changed.intern(node);
    }
    std::mem::swap(&mut changed.groups, &mut program.groups);
    std::mem::swap(&mut changed.tables, &mut program.tables);
    std::mem::swap(&mut changed.choices, &mut program.choices);
    std::mem::swap(&mut changed.lookups, &mut program.lookups);
    changed
}
