//! The record of an earlier run, read for comparison.

use super::args::Common;
use super::{exit, files, output};
use ovolo::diagnostics::Sources;
use ovolo::explain::record::Record;
use ovolo::session::{Job, Role};
use std::path::Path;
use std::process::ExitCode;

/// Largest record read, in bytes.
const MOST_RECORD: u64 = 1 << 30;

/// A record that was read, with its bytes.
pub struct Earlier {
    file: String,
    bytes: Vec<u8>,
    pub record: Record,
}

/// Reads a record; what is wrong with it is printed.
pub fn read(file: &str, common: &Common) -> Result<Earlier, ExitCode> {
    let bytes = files::read_file(Path::new(file), MOST_RECORD).map_err(|why| {
        output::complain(&why);
        ExitCode::from(exit::FILE)
    })?;
    let record = Record::read(file, &String::from_utf8_lossy(&bytes))
        .map_err(|d| output::refuse(&[d], &Sources::default(), common))?;
    Ok(Earlier {
        file: file.to_owned(),
        bytes,
        record,
    })
}

impl Earlier {
    /// Puts the record into the list of the files that a run is made from.
    pub fn note(&self, job: &mut Job) {
        job.files.read(Role::Record, &self.file, &self.bytes);
    }

    /// Refuses a record of another alternate than the one that is asked for; none is the job as decided.
    pub fn must_be_of(&self, alternate: Option<&str>) -> Result<(), ExitCode> {
        let own = self.record.alternate.as_deref();
        if alternate == own {
            return Ok(());
        }
        let of = own.map_or("the job as decided".to_owned(), |a| {
            format!("the alternate \"{a}\"")
        });
        output::complain(&format!("{} is a record of {of}.", self.file));
        Err(ExitCode::from(exit::USAGE))
    }
}
