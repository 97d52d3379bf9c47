//! The tests from outside: the library held against published numbers, the program against a whole building.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on stops")]
#![expect(clippy::disallowed_methods, reason = "tests write their own inputs and read the results back")]

mod audit;
mod below_16;
mod building;
mod cautions;
mod comparison;
mod complaint;
mod copied;
mod definitions;
mod drafting;
mod drafting_any;
mod drafting_exports;
mod evenness;
mod fixtures;
mod from_aligned;
mod fuzzed;
mod generated;
mod heat_rules;
mod hostile;
mod house;
mod humidity;
mod lag;
mod mistakes;
mod open_data;
mod pipeline;
mod program;
mod properties;
mod pseudonyms;
mod published;
mod real_homes;
mod recovery;
mod reentry;
mod result_tables;
mod roster_slips;
mod sample_data;
mod scoreboard;
mod simulated;
mod small_site;
mod told;
mod unnoticed;
mod unreadable;
mod verdicts;
mod wild;
