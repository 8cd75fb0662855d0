//! ovolo: an estimating engine for people who repair and reproduce historic wooden windows.

pub mod check;
pub mod diagnostics;
pub mod number;
pub mod program;
pub mod syntax;
pub mod table;
pub mod units;
