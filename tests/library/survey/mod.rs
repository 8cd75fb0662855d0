//! Reading surveys: dirty files in, exact messages or exact tables out.

mod build;
mod cells;
mod copies;
mod dirty;
mod files;
mod headings;
mod related;
mod rows;
mod strangers;
mod workbooks;
mod zip;
