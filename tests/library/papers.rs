//! Papers as data: who may see what, and a small paper made by hand.

use ovolo::number::{Exact, Style, Written};
use ovolo::paper::{
    Block, Cell, Class, Column, Head, Paper, Reader, Row, RowKind, Sign, State, Table,
};

/// A paper for the shop with a list of three parts in two groups.
pub(crate) fn sample() -> Paper {
    let column = |name: &str, unit: Option<&str>, numbers| Column {
        name: name.to_owned(),
        heading: name.to_owned(),
        unit: unit.map(str::to_owned),
        numbers,
        class: Class::Open,
    };
    let row = |kind, part: &str, pieces: i64, text: &str| Row {
        kind,
        cells: vec![
            Cell::words(part),
            match kind {
                RowKind::Group(_) => Cell::blank(),
                RowKind::Line | RowKind::Subtotal(_) | RowKind::Total => {
                    Cell::number(Exact::int(pieces), text)
                }
            },
        ],
    };
    let table = Table {
        name: "cut_list".to_owned(),
        title: "Cut list".to_owned(),
        columns: vec![
            column("part", None, None),
            column("pieces", None, Some((Written::Plain, Style::default()))),
        ],
        rows: vec![
            row(RowKind::Group(0), "heart pine", 0, ""),
            row(RowKind::Line, "stile", 4, "4"),
            row(RowKind::Line, "rail", 2, "2"),
            row(RowKind::Subtotal(0), "heart pine", 6, "6"),
            row(RowKind::Total, "all", 6, "6"),
        ],
        notes: Vec::new(),
        entries: Vec::new(),
        counted: 0,
    };
    Paper {
        name: "shop_papers".to_owned(),
        title: "Shop papers".to_owned(),
        reader: Reader::Shop,
        state: State::Draft,
        head: Head {
            job: "An invented house".to_owned(),
            ..Head::default()
        },
        blocks: vec![
            Block::Heading("Cut list".to_owned()),
            Block::Table(table),
            Block::Signs(vec![Sign {
                who: "checker".to_owned(),
            }]),
        ],
    }
}

#[test]
fn a_reader_sees_what_the_table_of_readers_says() {
    let classes = [Class::Open, Class::AllIn, Class::Hours, Class::Private];
    let seen = |reader: Reader| classes.map(|c| reader.may_see(c));
    assert_eq!(seen(Reader::Owner), [true, true, false, false]);
    assert_eq!(seen(Reader::Crew), [true, false, true, false]);
    assert_eq!(seen(Reader::Office), [true; 4]);
    for reader in Reader::ALL {
        assert_eq!(Reader::named(reader.word()), Some(reader));
        if ![Reader::Owner, Reader::Crew, Reader::Office].contains(&reader) {
            assert_eq!(seen(reader), [true, false, false, false], "{reader:?}");
        }
    }
}

#[test]
fn a_mixture_is_seen_only_by_who_may_see_each_part() {
    let classes = [Class::Open, Class::AllIn, Class::Hours, Class::Private];
    for a in classes {
        for b in classes {
            for reader in Reader::ALL {
                let both = reader.may_see(a) && reader.may_see(b);
                assert!(both || !reader.may_see(a.with(b)), "{reader:?} {a:?} {b:?}");
            }
        }
    }
}

#[test]
fn lines_of_a_table_are_those_between_groups_and_sums() {
    let paper = sample();
    let lines: usize = paper.tables().map(|t| t.lines().count()).sum();
    assert_eq!(lines, 2);
}
