//! ovolo: an estimating engine for people who repair and reproduce historic wooden windows.

pub mod diagnostics;
