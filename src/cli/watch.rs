//! `ovolo estimate --watch`: works the job again whenever one of its files is saved, and of it only what depends on the change.

use super::args::{Common, EstimateArgs};
use super::files::Disk;
use super::progress::Progress;
use super::{exit, job, output};
use notify::{RecursiveMode, Watcher};
use ovolo::number::cents_grouped;
use ovolo::report::terminal;
use ovolo::session::{Ask, Change, Hooks, Moved, Session};
use ovolo::takeoff::Wish;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;
use std::sync::mpsc;
use std::time::Duration;

/// Editors save in several steps: events this close together are one save.
const SETTLE: Duration = Duration::from_millis(120);

/// How often to look whether the user asked to stop.
const GLANCE: Duration = Duration::from_millis(200);

/// Named values shown after a save.
const MOST_VALUES: usize = 6;

/// Works the job, then again after each save, until interrupted. While the sheets are broken their messages are in place of totals.
pub fn run(args: &EstimateArgs, common: &Common) -> Result<ExitCode, ExitCode> {
    let (send, receive) = mpsc::channel();
    let mut watcher = notify::recommended_watcher(move |event: notify::Result<notify::Event>| {
        if let Ok(e) = event
            && !matches!(e.kind, notify::EventKind::Access(_))
        {
            let _ = send.send(e.paths);
        }
    })
    .map_err(|e| {
        output::complain(&format!("files can't be watched here: {e}"));
        ExitCode::from(exit::FILE)
    })?;
    let mut watched: BTreeSet<PathBuf> = BTreeSet::new();
    let ask = Ask {
        job: args.job.clone(),
        alternate: args.alternate.clone(),
        issued: common.issued.clone(),
        aside: job::set_aside(&args.aside),
        wish: Wish::default(),
    };
    let mut session = Session::new(ask, Arc::new(Disk::default()));
    let mut changes: Vec<Change> = Vec::new();
    loop {
        once(&mut session, &changes, common);
        if output::broken() {
            return Ok(ExitCode::from(exit::DONE));
        }
        let places = places(&session);
        for folder in places.keys().filter_map(|file| nearest_folder(file)) {
            if watched.insert(folder.clone()) {
                let _ = watcher.watch(&folder, RecursiveMode::NonRecursive);
            }
        }
        output::complain("Watching; interrupt to stop.");
        changes = match next(&receive, &places) {
            Ok(changes) => changes,
            Err(code) => return Ok(ExitCode::from(code)),
        };
    }
}

/// The files of the job by their places, whether they exist or not. Editors replace a file by renaming, so folders are watched and names
/// are looked at.
fn places(session: &Session) -> BTreeMap<PathBuf, String> {
    let place = |name: &str| {
        let path = Path::new(name);
        let folder = path.parent().filter(|p| !p.as_os_str().is_empty());
        let folder = folder.unwrap_or(Path::new(".")).canonicalize().ok();
        let beside = folder.zip(path.file_name()).map(|(f, n)| f.join(n));
        beside.unwrap_or_else(|| path.to_path_buf())
    };
    let mut out = BTreeMap::new();
    for file in session.files() {
        // A link has two places that may change: its own and that of its file.
        if let Ok(real) = Path::new(&file.name).canonicalize() {
            out.insert(real, file.name.clone());
        }
        out.insert(place(&file.name), file.name);
    }
    out
}

/// The folder of a file, or the nearest one above it that exists.
fn nearest_folder(file: &Path) -> Option<PathBuf> {
    file.ancestors()
        .skip(1)
        .map(|p| {
            if p.as_os_str().is_empty() {
                Path::new(".")
            } else {
                p
            }
        })
        .find(|p| p.is_dir())
        .map(Path::to_path_buf)
}

/// Waits for a save of one of the files. Errors: the exit code, when there is nothing more to wait for.
fn next(
    receive: &mpsc::Receiver<Vec<PathBuf>>,
    places: &BTreeMap<PathBuf, String>,
) -> Result<Vec<Change>, u8> {
    loop {
        if super::signals::stopped() {
            return Err(exit::STOPPED);
        }
        let mut paths = match receive.recv_timeout(GLANCE) {
            Ok(paths) => paths,
            Err(mpsc::RecvTimeoutError::Timeout) => continue,
            Err(mpsc::RecvTimeoutError::Disconnected) => return Err(exit::DONE),
        };
        // A folder that is made may be one that a file is missing in.
        let ours = |p: &PathBuf| places.keys().any(|file| file.starts_with(p));
        if !paths.iter().any(ours) {
            continue;
        }
        while let Ok(more) = receive.recv_timeout(SETTLE) {
            paths.extend(more);
        }
        let saved: BTreeSet<&String> = paths
            .iter()
            .flat_map(|p| places.iter().filter(move |(file, _)| file.starts_with(p)))
            .map(|(_, name)| name)
            .collect();
        return Ok(saved.into_iter().cloned().map(Change::Saved).collect());
    }
}

/// One run, and what it says.
fn once(session: &mut Session, changes: &[Change], common: &Common) {
    let progress = Progress::begin();
    let reading = |done: u64, of: Option<u64>| progress.tell("reading", done, of);
    let working = progress.working();
    let hooks = Hooks {
        stop: Some(progress.stop()),
        reading: Some(&reading),
        working: Some(&working),
    };
    let total = session.run().map(|run| run.worked.estimate.totals.grand);
    let outcome = session.apply(changes, &hooks);
    progress.end();
    match (outcome, session.run()) {
        (Ok(_), Some(run)) if total.is_none() => output::print(&terminal::report(
            &run.worked.estimate,
            &terminal::Options::default(),
            output::width(common),
        )),
        (Ok(moved), run) => {
            let now = run.map(|run| run.worked.estimate.totals.grand);
            let risen = now.zip(total).map_or(0, |(now, then)| now - then);
            output::print(&changed(&moved, risen));
        }
        (Err(no), _) => {
            output::refuse(&no.problems, &no.sources, common);
            if !super::signals::stopped() {
                output::complain("The totals wait until this is mended.");
            }
        }
    }
}

/// The totals that moved, and what moved behind them. `risen` is what the total rose by, in cents.
fn changed(moved: &[Moved], risen: i128) -> String {
    let headline = [
        "labor", "stock", "glass", "points", "putty", "other", "total",
    ];
    let figures = moved
        .iter()
        .filter(|m| m.figure && headline.contains(&m.name.as_str()));
    let text = |value: &Option<String>| value.clone().unwrap_or_else(|| "none".to_string());
    let mut lines: Vec<String> = figures
        .flat_map(|m| {
            m.rows.iter().map(|r| {
                let by = match m.name.as_str() {
                    "total" => {
                        let sign = if risen > 0 { "+" } else { "-" };
                        format!(", {sign}{}", cents_grouped(risen.abs()))
                    }
                    _ => String::new(),
                };
                format!(
                    "{}: {} (was {}{by})",
                    m.name,
                    text(&r.after),
                    text(&r.before)
                )
            })
        })
        .collect();
    if lines.is_empty() {
        lines.push("Nothing changed in the totals.".into());
    }
    let values: Vec<&Moved> = moved.iter().filter(|m| !m.figure).collect();
    if !values.is_empty() {
        let named = values
            .iter()
            .take(MOST_VALUES)
            .map(|m| match m.rows.as_slice() {
                [one] if one.at.is_none() => {
                    format!(
                        "{} {} (was {})",
                        m.name,
                        text(&one.after),
                        text(&one.before)
                    )
                }
                rows => format!("{} ({})", m.name, output::many(rows.len(), "row")),
            });
        let mut list = named.collect::<Vec<_>>().join(", ");
        if values.len() > MOST_VALUES {
            list.push_str(&format!(" and {} more", values.len() - MOST_VALUES));
        }
        lines.push(format!("Moved: {list}."));
    }
    lines.join("\n") + "\n"
}
