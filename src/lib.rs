//! ovolo: an estimating engine for people who repair and reproduce historic wooden windows.

pub mod diagnostics;
pub mod number;
pub mod survey;
pub mod table;
pub mod units;
