//! Tests of the command line: what a user types, and what the program answers.

mod documents;
mod golden;
mod library;
mod outputs;
mod reference;
mod weigh;
