//! Cut plans of a job from end to end: boards with bad stretches, salvaged panes, bars with offcuts; plans made, used, outgrown.

use super::run;
use std::path::Path;

pub(super) fn ovolo(folder: &Path, args: &str) -> (Option<i32>, String, String) {
    let output = run::ovolo(folder, args.split_whitespace());
    let text = |bytes| String::from_utf8(bytes).expect("output is UTF-8");
    (
        output.status.code(),
        text(output.stdout),
        text(output.stderr),
    )
}

const JOB: &str = r#"
sheet "Three goods" layer job
use "library:boards.ovo"
use "library:loose-panes.ovo"
use "library:bars.ovo"

survey opening {
  mark  text  key
  wide  length in in
  high  length in in
}

given reveal   4 in  from 0 in to 8 in
given rebate   6 in  from 0 in to 8 in

resource pine     stock  bf     waste 25 %
resource glass    glass  sq ft  waste 20 %
resource molding  other  ft     waste 10 %
resource joiner   labor  h
phases "Making"

for each opening {
  part rail 2 of pine for "Making" {
    length     wide
    width      2 1/4 in
    thickness  1 1/4 in
  }
  part pane 2 of glass for "Making" {
    width   wide - reveal
    height  (high - rebate) / 2
  }
  part stop 3 of molding for "Making" {
    length  high
  }
  take joiner 1 h for "Making"
}

job {
  survey opening from "openings.csv"
  survey board from "boards.csv"
  survey bad_stretch from "bad.csv"
  survey loose_pane from "panes.csv"
  survey bar from "bars.csv"
  prices from "prices.csv"
  money USD
}

cut pine {
  unit           1/16 in
  crosscut kerf  1/8 in
  rip kerf       1/8 in
  on hand        from board worth 6 USD per bf
  buy            8 ft by 6 in by 1 1/4 in
  rounds         2
  plan           "pine.json"
}

cut glass {
  unit     1/16 in
  may turn
  on hand  from loose_pane worth 5 USD per sq ft
  buy      36 in by 36 in
  rounds   2
  plan     "glass.json"
}

cut molding {
  unit           1/16 in
  crosscut kerf  1/8 in
  on hand        from bar worth 0.50 USD per ft
  buy            8 ft
  buy            12 ft
  rounds         2
  plan           "molding.json"
}

alternate "Deep reveals" {
  change reveal to 5 in because "the masonry"
}
"#;

/// A folder with the job and all that it reads, but no plan.
pub(super) fn job() -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    let files = [
        ("job.ovo", JOB),
        ("openings.csv", "mark,wide,high\nA1,30,66\nA2,34,66\n"),
        (
            "boards.csv",
            "Board,Long,Wide,Thick\nB1,80,5,1 1/4\nB2,35,2 1/4,1 1/4\n",
        ),
        ("bad.csv", "Board,From,To,Why\nB1,31,36,nails\n"),
        (
            "panes.csv",
            "Pane,Wide,High\nG1,31,27 1/2\nG2,26 1/4,30 1/4\n",
        ),
        ("bars.csv", "Bar,Long\nM1,67\nM2,140\n"),
        (
            "prices.csv",
            "resource,unit,price\npine,bf,14\nglass,sq ft,18\nmolding,ft,2\njoiner,h,60\n",
        ),
    ];
    for (name, text) in files {
        std::fs::write(folder.path().join(name), text).expect("a file is written");
    }
    folder
}

/// A job whose plans are made.
pub(super) fn planned() -> tempfile::TempDir {
    let folder = job();
    let (code, out, err) = ovolo(folder.path(), "cut job.ovo");
    assert_eq!(code, Some(0), "{out}{err}");
    for name in ["pine.json", "glass.json", "molding.json"] {
        assert!(folder.path().join(name).is_file(), "{name}: {err}");
    }
    folder
}

pub(super) fn change(folder: &Path, name: &str, from: &str, to: &str) {
    let path = folder.join(name);
    let text = std::fs::read_to_string(&path).expect("a file of the job");
    assert!(text.contains(from), "{name} holds {from}");
    std::fs::write(path, text.replace(from, to)).expect("a file is written");
}

#[test]
fn boards_panes_and_bars_of_one_job_are_planned_and_used() {
    let folder = planned();
    let at = folder.path();
    let (code, out, err) = ovolo(at, "estimate job.ovo --csv cut-plans");
    assert_eq!(code, Some(0), "{err}");
    // By hand. Boards: B1 holds two rails of 30 in before its nails and two of 34 in after them; 80 x 5 x 1 1/4 in at 6 USD per bf is 20.83.
    // Panes: G1, turned, and G2 hold one of 26 x 30 in each, 29.60 and 27.57; the two of 30 x 30 in take a sheet each, 162.00.
    // Bars: M1 holds one of 66 in and M2 two, 2.79 and 5.83; the other three take a bar of 12 ft and one of 8 ft, 24.00 and 16.00.
    // By the waste percent: 2.5 bf, 46 2/3 and 33 ft by 1.25 x 14, 1.2 x 18 and 1.1 x 2 USD.
    assert_eq!(
        out,
        "resource,to buy,on hand,worth,by plan,bound,by waste,difference\n\
         pine,nothing,1,20.83,20.83,19.73,43.75,-22.92\n\
         glass,2 of 36 x 36 in,2,57.17,381.17,381.17,504.00,-122.83\n\
         molding,1 of 96 in; 1 of 144 in,2,8.62,48.62,44.62,72.60,-23.98\n"
    );
    let (_, out, _) = ovolo(at, "estimate job.ovo");
    assert!(
        out.contains("stock on hand counts at 0.50 USD per ft"),
        "{out}"
    );
}

#[test]
fn a_job_without_its_plan_or_with_an_outgrown_one_is_refused() {
    let folder = job();
    let at = folder.path();
    let (code, out, err) = ovolo(at, "estimate job.ovo");
    assert_eq!((code, out.as_str()), (Some(3), ""));
    assert_eq!(err.matches("OV-002").count(), 3, "{err}");
    assert!(
        err.contains("make the plan with `ovolo cut job.ovo --resource pine`"),
        "{err}"
    );
    // One more inch on one opening, then one more bad stretch: parts, then stock.
    for (name, from, to, plans) in [
        ("openings.csv", "A2,34,66", "A2,35,66", 2),
        ("bad.csv", "nails", "nails\nB2,30,31,check", 1),
    ] {
        let folder = planned();
        let at = folder.path();
        change(at, name, from, to);
        let (code, out, err) = ovolo(at, "estimate job.ovo");
        assert_eq!((code, out.as_str()), (Some(1), ""), "{name}");
        assert_eq!(err.matches("OV-959").count(), plans, "{name}: {err}");
        let (code, _, err) = ovolo(at, "cut job.ovo");
        assert_eq!(code, Some(0), "{err}");
        let (code, _, err) = ovolo(at, "estimate job.ovo");
        assert_eq!(code, Some(0), "{err}");
    }
}

#[test]
fn an_alternate_that_a_plan_does_not_fit_keeps_the_waste_percent_and_says_so() {
    let folder = planned();
    let job = ["estimate", "job.ovo", "--alternate", "Deep reveals"];
    let out = run::printed(&run::ovolo(folder.path(), job));
    let table = &out[out.find("Stock by cut plan").expect("the table")..];
    let words: Vec<&str> = table.split_whitespace().collect();
    let told =
        "glass: by the waste percent alone: the plan was made from other parts, stock or settings";
    assert!(words.join(" ").contains(told), "{table}");
    assert!(words.contains(&"-22.92"), "the boards fit: {table}");
}

#[test]
fn a_plan_of_all_rows_gives_way_to_the_waste_percent_when_rows_are_set_aside() {
    let folder = planned();
    let at = folder.path();
    let (code, out, err) = ovolo(at, "estimate job.ovo --set-aside A2");
    assert_eq!(code, Some(0), "{err}");
    let words: Vec<&str> = out.split_whitespace().collect();
    for name in ["pine", "glass"] {
        let told = format!(
            "{name}: by the waste percent alone: rows are set aside, and the plan was made from other parts, stock or settings."
        );
        assert!(words.join(" ").contains(&told), "{out}");
    }
    // What is no plan at all is refused all the same.
    change(at, "pine.json", "ovolo-plan/1", "plan");
    let (code, _, err) = ovolo(at, "estimate job.ovo --set-aside A2");
    assert_eq!(code, Some(1), "{err}");
}

#[test]
fn the_page_for_the_shop_draws_the_plan_and_lists_every_cut() {
    let folder = planned();
    let at = folder.path();
    let asked = "cut job.ovo --resource pine --check pine.json --page pine.html";
    let (code, _, err) = ovolo(at, asked);
    assert_eq!(code, Some(0), "{err}");
    let page = std::fs::read_to_string(at.join("pine.html")).expect("the page");
    // The board, its bad stretch, four rails.
    // The nails are drawn twice: paper, then the crossed stretch.
    assert_eq!(page.matches("<polygon").count(), 7, "{page}");
    for text in ["Chop, in order", "1. B1, 80 x 5 x 1 1/4 in", "2 of A1"] {
        assert!(page.contains(text), "{text}");
    }
    let (code, _, err) = ovolo(at, "cut job.ovo --resource pine --page boards.csv");
    assert_eq!(code, Some(3));
    assert!(err.contains("OV-003"), "{err}");
}

#[test]
fn alternates_side_by_side_and_reasons_go_by_the_waste_percent_and_say_so() {
    let folder = planned();
    let at = folder.path();
    let (code, out, err) = ovolo(at, "weigh job.ovo");
    assert_eq!(code, Some(0), "{err}");
    assert!(
        out.contains("Stock is counted by the waste percent in all of them"),
        "{out}"
    );
    // 43.75 + 504.00 + 72.60 of materials, whatever the plans say.
    assert!(out.contains("620.35") && out.contains("602.35"), "{out}");
    let (code, out, err) = ovolo(at, "why job.ovo total");
    assert_eq!(code, Some(0), "{err}");
    assert!(out.contains("740.35"), "{out}");
}
