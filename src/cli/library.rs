//! `ovolo library`: the shipped sheets, listed, printed, copied.

use super::args::{Common, LibraryArgs};
use super::written::Target;
use super::{exit, output};
use ovolo::diagnostics::{Diagnostic, Place, Sources};
use ovolo::library;
use ovolo::session::JobFiles;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Lists the shipped sheets, prints one, or copies one or all into a folder.
pub fn run(args: &LibraryArgs, common: &Common) -> Result<ExitCode, ExitCode> {
    let wanted = args
        .name
        .as_deref()
        .map(|n| n.strip_prefix(library::PREFIX).unwrap_or(n));
    let files: Vec<(&str, &str)> = library::files()
        .filter(|(name, _)| wanted.is_none_or(|w| w == *name))
        .collect();
    if let (Some(wanted), true) = (wanted, files.is_empty()) {
        output::complain(&format!(
            "The library has no file {wanted}. `ovolo library` lists what it has."
        ));
        return Err(ExitCode::from(exit::USAGE));
    }
    match (&args.copy, wanted) {
        (Some(folder), _) => copy(Path::new(folder), &files, common)?,
        (None, Some(_)) => files.iter().for_each(|(_, text)| output::print(text)),
        (None, None) if common.json => output::json(&listed(&files)),
        (None, None) => output::print(&list(&files)),
    }
    Ok(ExitCode::from(exit::DONE))
}

/// The title that a sheet states, or nothing for a table.
fn title(text: &str) -> &str {
    text.lines()
        .find_map(|line| line.strip_prefix("sheet \"")?.split('"').next())
        .unwrap_or("")
}

fn list(files: &[(&str, &str)]) -> String {
    let long = files.iter().map(|(name, _)| name.len()).max().unwrap_or(0);
    let mut out = format!(
        "The library of this program, as a job records it:\n  library \"{}\"\n\n",
        library::stamp()
    );
    for (name, text) in files {
        let line = format!("{name:long$}  {}", title(text));
        out.push_str(line.trim_end());
        out.push('\n');
    }
    out.push_str("\nA job uses a sheet by name: use \"library:whole-job.ovo\"\n");
    out
}

fn listed(files: &[(&str, &str)]) -> serde_json::Value {
    let each: Vec<_> = files
        .iter()
        .map(|(name, text)| serde_json::json!({"name": name, "title": title(text)}))
        .collect();
    serde_json::json!({
        "schema": "ovolo-library/1",
        "version": env!("CARGO_PKG_VERSION"),
        "sha256": library::hash(),
        "files": each,
    })
}

/// Writes files into a folder; a file that is there already is not touched.
fn copy(folder: &Path, files: &[(&str, &str)], common: &Common) -> Result<(), ExitCode> {
    let fail = |d: Diagnostic| output::refuse(&[d], &Sources::default(), common);
    let refused = |path: &Path| {
        let shown = path.display().to_string();
        Diagnostic::error("OV-003", format!("{shown} can't be written")).at(Place::File(shown), "")
    };
    let there: Vec<PathBuf> = files
        .iter()
        .map(|(name, _)| folder.join(name))
        .filter(|path| path.exists())
        .collect();
    if let Some((first, others)) = there.split_first() {
        let more = match others.len() {
            0 => String::new(),
            n => format!(", as {n} of the others have"),
        };
        return Err(fail(
            refused(first)
                .found(format!(
                    "a file that has its name{more}; nothing was copied"
                ))
                .expected("names that are not taken")
                .mend("name another folder"),
        ));
    }
    for (name, text) in files {
        let path = folder.join(name);
        if let Some(parent) = path.parent() {
            std::fs::create_dir_all(parent)
                .map_err(|e| fail(refused(parent).found(e.to_string())))?;
        }
        let target = Target::new(&path.display().to_string(), &JobFiles::default());
        target
            .and_then(|t| t.write(text.as_bytes()))
            .map_err(fail)?;
    }
    output::print(&format!(
        "Copied {} into {}.\n",
        output::many(files.len(), "file"),
        folder.display()
    ));
    Ok(())
}
