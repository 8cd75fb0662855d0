//! Tests of the command line: what a user types, and what the program answers.

mod answers;
mod bad_papers;
mod changes;
mod cut_jobs;
mod cut_plans;
mod documents;
mod golden;
mod handover;
mod issues;
mod leaks;
mod library;
mod lists;
mod marked;
mod one_way_out;
mod orders;
mod outputs;
mod own_job;
mod paper_checks;
mod papers_json;
mod reference;
mod run;
mod shop_and_crew;
mod start;
mod stopped;
mod two_hands;
mod weigh;
