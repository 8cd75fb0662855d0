//! Arguments as typed.

use clap::{Parser, Subcommand};
use std::process::ExitCode;

/// An estimating engine for people who repair and reproduce historic wooden windows.
#[derive(Debug, Parser)]
#[command(name = "ovolo", version, about, disable_help_subcommand = true)]
pub struct Args {
    #[command(flatten)]
    pub common: Common,
    #[command(subcommand)]
    pub command: Command,
}

/// Options of every command.
#[derive(Debug, clap::Args)]
pub struct Common {
    /// Print messages and results as JSON
    #[arg(long, global = true)]
    pub json: bool,
    /// Width of tables in characters; the window's, or 80, when not given
    #[arg(long, global = true, value_name = "N", value_parser = clap::value_parser!(u16).range(40..=400))]
    pub width: Option<u16>,
}

/// Commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Check sheets before anything runs
    #[command(after_help = "Example: ovolo proof sheets/glazing.ovo")]
    Proof(ProofArgs),
}

/// Arguments of `proof`.
#[derive(Debug, clap::Args)]
pub struct ProofArgs {
    /// Sheets to check; `-` is standard input
    #[arg(required = true, value_name = "SHEET")]
    pub sheets: Vec<String>,
}

/// Reads the arguments; help and mistakes are printed by the library.
pub fn parse() -> Result<Args, ExitCode> {
    Args::try_parse().map_err(|e| {
        let code = if e.use_stderr() { super::exit::USAGE } else { super::exit::DONE };
        // A closed pipe is no fault of the user.
        let _ = e.print();
        ExitCode::from(code)
    })
}
