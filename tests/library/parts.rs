//! Rows and parts against a slow count of the same openings, and what the list of parts says of each piece.

use std::collections::HashMap;

use ovolo::check::{self, Finder};
use ovolo::eval;
use ovolo::number::Exact;
use ovolo::program::{Program, TableId};
use ovolo::survey::{self, Above, Content, ReadOptions, SourceFile, complete};
use ovolo::syntax::tree::Side;
use ovolo::table::Table;
use ovolo::takeoff::{PartAt, Parts, parts, wanted_parts};

struct OneSheet(&'static str);

impl Finder for OneSheet {
    fn find(&self, path: &str, _: Option<&str>) -> Result<(String, String), String> {
        Ok((path.to_owned(), self.0.to_owned()))
    }
}

const SHEET: &str = r#"
counted lite
survey opening {
  mark     text key
  kind     one of single, hung, pair
  wide     length in in
  high     length in in
  pattern  lites
  rot      percent optional
}
survey sash of opening by mark {
  sash_mark  text key
  mark       text
  place      one of whole ("S"), upper ("U"), lower ("L"), left ("1"), right ("2")
  lites      count of lite  else pattern of opening
  rot        percent        else opening
}
rows sash by place from kind {
  single: whole
  hung: upper, lower
  pair: left, right
}
resource pine  stock  bf
resource pane  glass  sq ft
for each sash {
  sash_w = if place is one of left, right then wide / 2 else wide
  sash_h = if place is one of upper, lower then high / 2 else high
  fate   = if (rot if blank unknown) > 50 % then "new" else "kept"
  part stile  2 of pine for "Making" when (rot if blank unknown) > 50 % {
    length     sash_h    rough sash_h + 1 in
    width      2 in      rough 2 1/4 in
    thickness  1 3/8 in  rough 1 5/8 in
    member     "stile"
    treatment  fate
  }
  part pane  lites of pane for "Glazing" {
    width   sash_w / 4
    height  sash_h / 4
    across  2 in each sash_w / 4 + 7/8 in
  }
}
"#;

struct Job {
    program: Program,
    tables: Vec<Table>,
}

fn job(openings: &str, sash: Option<&str>) -> Job {
    let (loaded, problems) = check::load(&["job.ovo".to_owned()], &OneSheet(SHEET));
    assert!(problems.is_empty(), "{problems:?}");
    let (checked, problems) = check::check(&loaded, check::Options::default());
    let program = checked.unwrap_or_else(|| panic!("{problems:?}")).program;
    let file = |name: &str, text: &str| SourceFile {
        name: name.to_owned(),
        content: Content::Bytes(text.as_bytes().to_vec()),
    };
    let read = |table: u16, text: &str, above: Option<(&ovolo::table::Schema, &Table)>| {
        let schema = &program.tables[TableId(table)].schema;
        let options = ReadOptions::default();
        let files = vec![file("survey.csv", text)];
        survey::read(schema, &program.nouns, None, files, &options, above)
            .unwrap_or_else(|f| panic!("{f:?}"))
    };
    let schema = |table: u16| &program.tables[TableId(table)].schema;
    let openings = read(0, openings, None).table;
    let brought = sash.map(|text| read(1, text, Some((schema(0), &openings))));
    let above = Above {
        schema: schema(0),
        table: &openings,
        texts: None,
    };
    let sash = complete(schema(1), above, brought, &ReadOptions::default())
        .unwrap_or_else(|f| panic!("{f:?}"));
    Job {
        tables: vec![openings, sash.table],
        program,
    }
}

impl Job {
    fn parts(&self) -> Parts {
        let version = &self.program.versions[0];
        let tables: Vec<&Table> = self.tables.iter().collect();
        let inputs = eval::Inputs {
            spans: &[],
            tables: tables.clone(),
        };
        let mut wanted = wanted_parts(&self.program, version);
        wanted.extend(version.takes.iter().map(|t| t.plan.total));
        let results =
            eval::run(&self.program, &inputs, &wanted, &eval::Options::default()).expect("runs");
        let found = parts(&self.program, version, &results, &tables);
        // What is taken is what the pieces come to.
        for take in &version.takes {
            let of_part = |p: &&PartAt| Some(p.part) == take.part;
            let sum = found.at.iter().filter(of_part).map(volume);
            let sum = sum.fold(Exact::ZERO, |a, b| a.add(&b).expect("fits"));
            assert_eq!(
                results.value(take.plan.total, 0),
                eval::Cell::Number(sum),
                "part {:?}",
                take.part
            );
        }
        found
    }
}

/// Count times rough sizes.
fn volume(p: &PartAt) -> Exact {
    let count = Exact::from(i64::try_from(p.count).expect("small"));
    p.sizes
        .iter()
        .fold(count, |v, s| v.mul(&s.rough).expect("fits"))
}

fn inches(n: i64, d: i64) -> Exact {
    Exact::ratio(n, d).expect("a ratio")
}

#[test]
fn a_part_says_what_it_is_on_each_row() {
    let job = job(
        "mark,kind,wide,high,pattern,rot\nN5,hung,36,60,6/1,10%\nN6,single,20,30,4,\nN7,pair,40,30,2,80%\n",
        Some("mark,place,rot\nN5,lower,60%\n"),
    );
    let found = job.parts();
    let said: Vec<(usize, &str, u64)> = found
        .at
        .iter()
        .map(|p| (p.part, &*p.key, p.count))
        .collect();
    assert_eq!(
        said,
        [
            (0, "N5-L", 2),
            (0, "N7-1", 2),
            (0, "N7-2", 2),
            (1, "N5-U", 6),
            (1, "N5-L", 1),
            (1, "N6-S", 4),
            (1, "N7-1", 2),
            (1, "N7-2", 2)
        ]
    );
    let stile = &found.at[0];
    assert_eq!(stile.member.as_deref(), Some("stile"));
    assert_eq!(stile.treatment.as_deref(), Some("new"));
    assert_eq!(stile.profile, None);
    let length = stile.size(Side::Length).expect("it has a length");
    assert_eq!(
        (&length.finished, &length.rough),
        (&inches(30, 1), &inches(31, 1))
    );
    assert_eq!(stile.size(Side::Height), None);
    let pane = &found.at[3];
    assert_eq!(pane.places[0].at, inches(2, 1));
    assert_eq!(pane.places[0].each, Some(inches(79, 8)));
    // Whether its stiles are made new is not known: it is in no list, and said.
    assert_eq!(found.unknown.len(), 1);
    assert_eq!((found.unknown[0].0, &*found.unknown[0].1), (0, "N6-S"));
}

/// A slow count of rows and parts, opening by opening, over surveys made from a fixed seed.
#[test]
fn rows_and_parts_come_to_what_a_slow_count_says() {
    let mut seed = 20_261_128_u64;
    let mut chance = |below: u64| {
        seed = seed
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (seed >> 33) % below
    };
    let (mut openings, mut sash) = (
        String::from("mark,kind,wide,high,pattern,rot\n"),
        String::from("mark,place,lites,rot\n"),
    );
    // For each part and key: how many pieces, and the sum of their rough sizes multiplied.
    let mut expected: HashMap<(usize, String), (u64, Exact)> = HashMap::new();
    for n in 0..400 {
        let kind = chance(3) as usize;
        let (wide, high) = (16 + chance(40) as i64, 24 + chance(60) as i64);
        let (first, second) = (1 + chance(12), 1 + chance(12));
        let rot = chance(101);
        let pattern = match (kind, chance(2)) {
            (0, _) | (_, 0) => first.to_string(),
            _ => format!("{first}/{second}"),
        };
        let kinds = ["single", "hung", "pair"];
        openings.push_str(&format!(
            "W{n},{},{wide},{high},{pattern},{rot}%\n",
            kinds[kind]
        ));
        let places: &[(&str, &str)] = [
            &[("whole", "S")][..],
            &[("upper", "U"), ("lower", "L")],
            &[("left", "1"), ("right", "2")],
        ][kind];
        for (at, (place, code)) in places.iter().enumerate() {
            let by_pattern = pattern.split('/').nth(at).unwrap_or(&pattern);
            let mut lites: u64 = by_pattern.parse().expect("a number");
            let mut rot = rot;
            match chance(4) {
                0 => {
                    rot = chance(101);
                    sash.push_str(&format!("W{n},{place},,{rot}%\n"));
                }
                1 => {
                    lites = 1 + chance(9);
                    sash.push_str(&format!("W{n},{code},{lites},\n"));
                }
                _ => {}
            }
            let sash_w = inches(wide, if kind == 2 { 2 } else { 1 });
            let sash_h = inches(high, if kind == 1 { 2 } else { 1 });
            let key = format!("W{n}-{code}");
            if rot > 50 {
                let length = sash_h.add(&Exact::ONE).expect("fits");
                let section = inches(2 * 9 * 13, 4 * 8);
                expected.insert((0, key.clone()), (2, length.mul(&section).expect("fits")));
            }
            let area = sash_w.mul(&sash_h).and_then(|a| a.mul(&inches(1, 16)));
            let all = area
                .and_then(|a| a.mul(&Exact::from(lites as i64)))
                .expect("fits");
            expected.insert((1, key), (lites, all));
        }
    }
    let found = job(&openings, Some(&sash)).parts();
    assert!(found.unknown.is_empty());
    assert_eq!(found.at.len(), expected.len());
    for part in &found.at {
        let wanted = &expected[&(part.part, part.key.to_string())];
        assert_eq!(
            (part.count, volume(part)),
            *wanted,
            "{} of {}",
            part.part,
            part.key
        );
    }
}
