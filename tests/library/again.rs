//! Works a job again after a change: the same figures as a fresh run, and no more worked than what depends on the change.

use crate::demo_support::{Demo, Folder};
use ovolo::estimate::{self, Worked};
use ovolo::eval::{Memory, Options};
use ovolo::pricing::Origin;
use ovolo::report::json;
use ovolo::takeoff::Wish;
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::Mutex;
use std::sync::mpsc::{Receiver, channel};
use std::time::Duration;

fn again(demo: &Demo, memory: &Mutex<Memory>) -> Worked {
    let options = Options {
        memory: Some(memory),
        ..Options::default()
    };
    let wish = Wish {
        by_row: true,
        treatment: true,
        quantities: false,
    };
    estimate::estimate(
        &demo.checked.program,
        0,
        &demo.survey,
        &demo.book,
        wish,
        &[],
        &options,
        Origin::default(),
    )
    .expect("the demo runs")
}

#[test]
fn a_change_works_what_depends_on_it_and_gives_the_figures_of_a_fresh_run() {
    let memory = Mutex::new(Memory::new());
    let last = || memory.lock().expect("no run failed").last_run();
    again(&Demo::open(&Folder::default()), &memory);
    let (first, _) = last();
    let edits = [
        (
            "a charge",
            (
                "tallowgate-school/job.ovo",
                "14 % of labor",
                "15 % of labor",
            ),
        ),
        (
            "a given",
            (
                "sheets/glazing.ovo",
                "rabbet_pace      5 min",
                "rabbet_pace      7 min",
            ),
        ),
        (
            "a remark",
            (
                "sheets/glazing.ovo",
                "given rabbet_pace",
                "# A log of our own\ngiven rabbet_pace",
            ),
        ),
        (
            "a cell of the survey",
            (
                "tallowgate-school/survey.csv",
                "15 %,1,0,yes,,good,yes,worn",
                "15 %,2,0,yes,,good,yes,worn",
            ),
        ),
    ];
    let decided = (
        "a row decided by hand",
        (
            "tallowgate-school/job.ovo",
            "alternate \"All mended\"",
            "change breakage at \"N5-L\" to 25 % because \"thin crown glass\"\n\nalternate \"All mended\"",
        ),
    );
    for (what, edit) in edits.into_iter().chain([decided]) {
        let folder = Folder {
            edits: vec![edit],
            ..Folder::default()
        };
        let demo = Demo::open(&folder);
        let kept = again(&demo, &memory);
        let fresh = demo.work(
            0,
            Wish {
                by_row: true,
                treatment: true,
                quantities: false,
            },
        );
        assert_eq!(
            json::estimate(&kept.estimate),
            json::estimate(&fresh.estimate),
            "{what}"
        );
        let (worked, found) = last();
        assert!(
            found > 0 && worked * 5 < first,
            "{what}: {first} columns at first, then {worked} worked and {found} found"
        );
    }
}

/// A watch at work, and what it prints, line by line.
struct Watch {
    process: Child,
    lines: Receiver<String>,
}

impl Watch {
    fn begin(job: &Path) -> Watch {
        let mut process = Command::new(env!("CARGO_BIN_EXE_ovolo"))
            .args(["estimate", "--watch"])
            .arg(job)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("the command starts");
        let (send, lines) = channel();
        let out: Box<dyn std::io::Read + Send> = Box::new(process.stdout.take().expect("piped"));
        let err: Box<dyn std::io::Read + Send> = Box::new(process.stderr.take().expect("piped"));
        for pipe in [out, err] {
            let send = send.clone();
            std::thread::spawn(move || {
                BufReader::new(pipe)
                    .lines()
                    .map_while(Result::ok)
                    .try_for_each(|line| send.send(line))
            });
        }
        Watch { process, lines }
    }

    /// Waits for the end of a run, and for this in what is printed, which comes by two ways; what was printed.
    fn run_prints(&self, wanted: &str) -> String {
        let mut seen = String::new();
        while !(seen.contains("Watching") && seen.contains(wanted)) {
            let line = self
                .lines
                .recv_timeout(Duration::from_secs(60))
                .unwrap_or_else(|_| panic!("no {wanted:?} in:\n{seen}"));
            seen.push_str(&line);
            seen.push('\n');
        }
        seen
    }
}

impl Drop for Watch {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

#[test]
fn a_watch_tells_what_each_save_changes_and_messages_while_a_sheet_is_broken() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = |name: &str| folder.path().join("job").join(name);
    let made = Command::new(env!("CARGO_BIN_EXE_ovolo"))
        .args(["start", "--small"])
        .arg(folder.path().join("job"))
        .output()
        .expect("the command runs");
    assert!(made.status.success());
    let read = |name: &str| std::fs::read_to_string(path(name)).expect("a file of the start");
    let (rules, survey, prices) = (read("rules.ovo"), read("survey.csv"), read("prices.csv"));
    let watch = Watch::begin(&path("job.ovo"));
    watch.run_prints("Made from");
    let save = |name: &str, text: &str, wanted: &str| {
        std::fs::write(path(name), text).expect("a file is written");
        watch.run_prints(wanted)
    };
    let broken = save(
        "rules.ovo",
        &rules.replacen("\ngiven", "\ngivne", 1),
        "The totals wait until this is mended.",
    );
    assert!(broken.contains("OV-"), "{broken}");
    save("rules.ovo", &rules, "Nothing changed in the totals.");
    let (head, last_row) = survey.trim_end().rsplit_once('\n').expect("rows");
    let (_, cells) = last_row.split_once(',').expect("cells");
    let grown = save(
        "survey.csv",
        &format!("{head}\n{last_row}\nZ99,{cells}\n"),
        "total: ",
    );
    assert!(
        grown.contains("labor: ") && grown.contains(", +"),
        "{grown}"
    );
    let shrunk = save("survey.csv", &survey, "total: ");
    assert!(
        shrunk.contains("labor: ") && shrunk.contains(", -"),
        "{shrunk}"
    );
    let untold = save(
        "prices.csv",
        &prices.replacen("resource", "resauce", 1),
        "The totals wait until this is mended.",
    );
    assert!(untold.contains("OV-"), "{untold}");
    save("prices.csv", &prices, "Nothing changed in the totals.");
}

#[test]
fn a_watch_sees_files_deleted_and_made_again_and_tables_too() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = |name: &str| folder.path().join("job").join(name);
    let made = Command::new(env!("CARGO_BIN_EXE_ovolo"))
        .args(["start", "--small"])
        .arg(folder.path().join("job"))
        .output()
        .expect("the command runs");
    assert!(made.status.success());
    let read = |name: &str| std::fs::read_to_string(path(name)).expect("a file of the start");
    let table = "thickness (in),weight (lb per sq ft)\n1/8,1.64\n";
    let rules = format!(
        "{}\ntable weight_of from \"glass.csv\" by thickness\n",
        read("rules.ovo")
    );
    std::fs::write(path("rules.ovo"), rules).expect("the rules");
    std::fs::write(path("glass.csv"), table).expect("a table");
    let watch = Watch::begin(&path("job.ovo"));
    watch.run_prints("Made from");
    // A file is missing while the job waits; each one that comes back is seen, the job sheet itself too.
    for name in [
        "survey.csv",
        "glass.csv",
        "rules.ovo",
        "prices.csv",
        "job.ovo",
    ] {
        let text = read(name);
        std::fs::remove_file(path(name)).expect("a file is deleted");
        watch.run_prints("The totals wait until this is mended.");
        std::fs::write(path(name), text).expect("a file is made again");
        watch.run_prints("Nothing changed in the totals.");
    }
    std::fs::write(path("glass.csv"), format!("{table}nonsense,\n")).expect("a table");
    let broken = watch.run_prints("The totals wait until this is mended.");
    assert!(broken.contains("glass.csv"), "{broken}");
    // A sheet that is named before it exists.
    std::fs::write(path("glass.csv"), table).expect("a table");
    watch.run_prints("Nothing changed in the totals.");
    let job = read("job.ovo");
    let more = job.replacen("use", "use \"more/extra.ovo\"\nuse", 1);
    std::fs::write(path("job.ovo"), more).expect("the job");
    watch.run_prints("The totals wait until this is mended.");
    std::fs::create_dir(path("more")).expect("a folder");
    std::fs::write(path("more/extra.ovo"), "sheet \"Extra\"\n").expect("a sheet");
    watch.run_prints("Nothing changed in the totals.");
}
