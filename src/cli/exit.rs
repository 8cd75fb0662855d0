//! Exit codes; they are part of the interface.

/// Done.
pub const DONE: u8 = 0;
/// Something the user wrote or supplied is refused.
pub const REFUSED: u8 = 1;
/// The command itself was wrong.
pub const USAGE: u8 = 2;
/// A file could not be opened, read or written.
pub const FILE: u8 = 3;
/// A fault of the program itself.
pub const FAULT: u8 = 70;
/// Stopped by a signal.
pub const STOPPED: u8 = 130;

/// Every end of a command, in words. Help, the manual page and README show this table.
pub const TABLE: &[(u8, &str)] = &[
    (DONE, "done"),
    (
        REFUSED,
        "sheets, survey, prices or a record are refused, or a trial fails",
    ),
    (
        USAGE,
        "the command is wrong, or asks for what the job does not have",
    ),
    (FILE, "a file can't be opened, read or written"),
    (FAULT, "a fault of the program itself"),
    (STOPPED, "stopped by SIGINT, SIGTERM or SIGHUP"),
];

/// The table as lines of text.
pub fn lines() -> String {
    let line = |(code, words): &(u8, &str)| format!("  {code:>3}  {words}\n");
    TABLE.iter().map(line).collect()
}
