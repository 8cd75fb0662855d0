//! The one way out to the terminal: nothing else in the crate writes to standard output or standard error, but for a bar of progress.
//!
//! What is printed and where: results on standard output, messages on standard error, color only on a terminal.

use super::args::Common;
use super::exit;
use ovolo::defuse;
use ovolo::diagnostics::{Diagnostic, Sources, render};
use serde::Serialize;
use std::io::{IsTerminal, StdoutLock, Write};
use std::process::ExitCode;
use std::sync::OnceLock;

/// Messages shown at once.
const MOST_MESSAGES: usize = 20;

/// Why standard output could not be written, once it could not.
static BROKEN: OnceLock<std::io::Error> = OnceLock::new();

/// Prints to standard output. Nothing more is tried after a failure, which [`end`] tells.
pub fn print(text: &str) {
    out(|stdout| stdout.write_all(defuse::terminal(text).as_bytes()));
}

/// Prints a value as JSON.
pub fn json(value: &impl Serialize) {
    out(|stdout| {
        let mut buffer = std::io::BufWriter::with_capacity(1 << 16, stdout);
        defuse::json(&mut buffer, value)?;
        buffer.flush()
    });
}

/// Prints help, which holds no text from outside.
pub fn help(text: &clap::builder::StyledStr) {
    let text = if color_on(std::io::stdout().is_terminal()) {
        text.ansi().to_string()
    } else {
        text.to_string()
    };
    out(|stdout| stdout.write_all(text.as_bytes()));
}

/// The one way to standard output.
fn out(write: impl FnOnce(&mut StdoutLock<'_>) -> std::io::Result<()>) {
    if broken() {
        return;
    }
    let mut stdout = std::io::stdout().lock();
    if let Err(e) = write(&mut stdout).and_then(|()| stdout.flush()) {
        // A failure that came first stays the one told.
        let _ = BROKEN.set(e);
    }
}

/// The one way to standard error. There is nowhere left to say that this failed. Messages come defused from where they are drawn, since
/// their codes may be painted.
fn err(text: &str) {
    let _ = std::io::stderr().lock().write_all(text.as_bytes());
}

/// Whether standard output has failed.
pub fn broken() -> bool {
    BROKEN.get().is_some()
}

/// The exit code of a command, unless what it printed did not arrive. A reader that closed its pipe had what it wanted.
pub fn end(code: ExitCode) -> ExitCode {
    match BROKEN.get() {
        Some(e) if e.kind() != std::io::ErrorKind::BrokenPipe => {
            complain(&format!("OV-003  standard output can't be written: {e}"));
            ExitCode::from(exit::FILE)
        }
        _ => code,
    }
}

/// `1 sheet`, `2 sheets`.
pub fn many(n: usize, word: &str) -> String {
    format!("{n} {word}{}", if n == 1 { "" } else { "s" })
}

/// Whether a stream takes colors.
pub fn color_on(stream_is_terminal: bool) -> bool {
    let dumb = std::env::var_os("TERM").is_some_and(|t| t == "dumb");
    stream_is_terminal && std::env::var_os("NO_COLOR").is_none_or(|v| v.is_empty()) && !dumb
}

/// Prints messages on standard error, or as JSON on standard output.
pub fn messages(list: &[Diagnostic], sources: &Sources, common: &Common) {
    if list.is_empty() {
        return;
    }
    if common.json {
        json(
            &serde_json::json!({"schema": "ovolo-messages/1", "messages": render::to_json(list, sources)}),
        );
        return;
    }
    let style = render::Style {
        color: color_on(std::io::stderr().is_terminal()),
    };
    let most = if common.all_messages {
        usize::MAX
    } else {
        MOST_MESSAGES
    };
    let mut text = render::render_all(list, sources, style, most);
    if list.len() > most {
        text.push_str("--all-messages shows every one.\n");
    }
    err(&text);
}

/// Prints messages on standard error also where standard output is JSON or CSV that does not hold them.
pub fn beside(list: &[Diagnostic], sources: &Sources, common: &Common) {
    let apart = Common {
        json: false,
        ..common.clone()
    };
    messages(list, sources, &apart);
}

/// Prints messages and gives the exit code of a refusal.
pub fn refuse(list: &[Diagnostic], sources: &Sources, common: &Common) -> ExitCode {
    messages(list, sources, common);
    let file_only = !list.is_empty()
        && list
            .iter()
            .filter(|d| d.is_error())
            .all(|d| d.code < "OV-010");
    ExitCode::from(if file_only { exit::FILE } else { exit::REFUSED })
}

/// Prints one table as CSV, or the names of the tables when none is named. `table` gives its text away a stretch at a time.
pub fn table(
    name: &str,
    names: impl FnOnce() -> Vec<String>,
    table: impl FnOnce(&mut dyn FnMut(&str)) -> Result<(), Diagnostic>,
) -> Result<ExitCode, ExitCode> {
    if name.is_empty() {
        print(&names().iter().map(|n| format!("{n}\n")).collect::<String>());
        return Ok(ExitCode::from(exit::DONE));
    }
    table(&mut print).map_err(|d| {
        let style = render::Style {
            color: color_on(std::io::stderr().is_terminal()),
        };
        err(&render::render(&d, &Sources::default(), style));
        ExitCode::from(exit::USAGE)
    })?;
    Ok(ExitCode::from(exit::DONE))
}

/// A sentence on standard error.
pub fn complain(text: &str) {
    err(&format!("{}\n", defuse::terminal(text)));
}

/// Columns a table may take: as given, else the window's, else 80.
pub fn width(common: &Common) -> usize {
    if let Some(w) = common.width {
        return usize::from(w);
    }
    let window = if std::io::stdout().is_terminal() {
        std::env::var("COLUMNS").ok().and_then(|c| c.parse().ok())
    } else {
        None
    };
    window.unwrap_or(80usize).clamp(40, 200)
}
