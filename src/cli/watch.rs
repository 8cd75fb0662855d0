//! `ovolo estimate --watch`: works the job again whenever one of its files is saved, and of it only what depends on the change.

use super::args::{Common, EstimateArgs};
use super::job::Job;
use super::kept::Kept;
use super::{estimate, exit, output};
use notify::{RecursiveMode, Watcher};
use ovolo::check::Options;
use ovolo::pricing::Estimate;
use ovolo::report::terminal;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::mpsc;
use std::time::Duration;

/// Editors save in several steps: events this close together are one save.
const SETTLE: Duration = Duration::from_millis(120);

/// How often to look whether the user asked to stop.
const GLANCE: Duration = Duration::from_millis(200);

/// Works the job, then again after each save, until interrupted. While the sheets are broken their messages stand in place of totals.
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
    let mut before: Option<Estimate> = None;
    let mut kept = Kept::default();
    loop {
        let mut files = vec![PathBuf::from(&args.job)];
        match once(args, common, &mut files, &mut kept) {
            Ok(estimate) => {
                match &before {
                    None => output::print(&terminal::report(
                        &estimate,
                        &terminal::Options::default(),
                        output::width(common),
                    )),
                    Some(old) => output::print(&changed(old, &estimate)),
                }
                before = Some(estimate);
            }
            Err(_) => output::complain("The totals wait until this is mended."),
        }
        if output::broken() {
            return Ok(ExitCode::from(exit::DONE));
        }
        // Editors replace a file by renaming: watch folders, look at names.
        let names: BTreeSet<PathBuf> = files
            .iter()
            .filter_map(|f| f.canonicalize().ok().or_else(|| Some(f.clone())))
            .collect();
        for folder in names
            .iter()
            .filter_map(|f| f.parent())
            .map(Path::to_path_buf)
            .collect::<BTreeSet<_>>()
        {
            if watched.insert(folder.clone()) {
                let _ = watcher.watch(&folder, RecursiveMode::NonRecursive);
            }
        }
        output::complain("Watching; interrupt to stop.");
        loop {
            if super::progress::stopped() {
                return Ok(ExitCode::from(exit::STOPPED));
            }
            let paths = match receive.recv_timeout(GLANCE) {
                Ok(p) => p,
                Err(mpsc::RecvTimeoutError::Timeout) => continue,
                Err(mpsc::RecvTimeoutError::Disconnected) => return Ok(ExitCode::from(exit::DONE)),
            };
            let ours = |p: &PathBuf| {
                names.contains(p) || p.canonicalize().is_ok_and(|c| names.contains(&c))
            };
            if paths.iter().any(ours) {
                while receive.recv_timeout(SETTLE).is_ok() {}
                break;
            }
        }
    }
}

/// One run; adds the files it read to the list.
fn once(
    args: &EstimateArgs,
    common: &Common,
    files: &mut Vec<PathBuf>,
    kept: &mut Kept,
) -> Result<Estimate, ExitCode> {
    let job = Job::read(
        &args.job,
        Options {
            alternates: true,
            trials: false,
        },
    );
    let mut job = match job {
        Ok(j) => j,
        Err((problems, sources)) => {
            files.extend(sources.iter().map(|(n, _)| PathBuf::from(n)));
            return Err(output::refuse(&problems, &sources, common));
        }
    };
    files.extend(job.loaded.sources.iter().map(|(n, _)| PathBuf::from(n)));
    let version = job.version(args.alternate.as_deref())?;
    let worked = estimate::work(&mut job, version, args, common, Some(kept));
    files.extend(job.files.iter().cloned());
    worked.map(|(_, _, w)| w.estimate)
}

/// The totals that are not what they were.
fn changed(old: &Estimate, new: &Estimate) -> String {
    let money = |c: i128| ovolo::number::cents_grouped(c);
    let mut lines = Vec::new();
    for row in &new.headline {
        let before = old
            .headline
            .iter()
            .find(|r| r.class == row.class && r.unit == row.unit);
        let was = before.and_then(|b| b.net.clone());
        if was != row.net {
            let show = |n: &Option<ovolo::number::Exact>| {
                n.as_ref()
                    .map_or_else(|| "none".to_string(), |v| v.to_decimal(2).0)
            };
            lines.push(format!(
                "{}: {} {} (was {})",
                ovolo::pricing::class(row.class),
                show(&row.net),
                row.unit,
                show(&was)
            ));
        }
    }
    let (a, b) = (old.totals.grand, new.totals.grand);
    if a != b {
        let sign = if b > a { "+" } else { "-" };
        lines.push(format!(
            "total: {} {} (was {}, {sign}{})",
            money(b),
            new.currency,
            money(a),
            money((b - a).abs())
        ));
    }
    if lines.is_empty() {
        "Nothing changed in the totals.\n".into()
    } else {
        lines.join("\n") + "\n"
    }
}
