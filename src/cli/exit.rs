//! Exit codes; they are part of the interface.

/// Done.
pub const DONE: u8 = 0;
/// Something the user wrote or supplied is wrong: sheets, survey, prices; or a trial failed.
pub const REFUSED: u8 = 1;
/// The command itself was wrong.
pub const USAGE: u8 = 2;
/// A file could not be opened, read or written.
pub const FILE: u8 = 3;
/// Stopped by the user.
pub const STOPPED: u8 = 130;
/// A fault of the program itself.
pub const FAULT: u8 = 70;
