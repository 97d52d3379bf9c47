//! The tests from outside: the library held against published numbers, the program against a whole building.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on stops")]
#![expect(clippy::disallowed_methods, reason = "tests write their own inputs and read the results back")]

mod audit;
mod below_16;
mod books;
mod building;
mod comparison;
mod complaint;
mod contradictions;
mod definitions;
mod drafting;
mod drafting_any;
mod drafting_exports;
mod evenness;
mod fixtures;
mod from_aligned;
mod generated;
mod heat_rules;
mod hostile;
mod house;
mod humidity;
mod lag;
mod lost_parts;
mod mistakes;
mod open_data;
mod pipeline;
mod program;
mod properties;
mod pseudonyms;
mod published;
mod real_homes;
mod recovery;
mod result_tables;
mod roster_slips;
mod sample_data;
mod scoreboard;
mod simulated;
mod small_site;
mod unreadable;
mod verdicts;
mod wild;
