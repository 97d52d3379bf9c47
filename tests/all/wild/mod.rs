//! Invented exports in random dialects, arbitrary bytes, and files made to harm: none is misread in silence, and none
//! stops the run.
#![expect(clippy::print_stdout, reason = "the counts are what these tests find out")]

mod bombs;
mod calendar;
mod dialects;
mod found;
mod limits;
mod links;
mod properties;
mod reading;
mod rng;
mod roster;
mod series;
mod shrink;
mod times;
mod traits;
mod truth;
mod words;
mod write;

pub(crate) use properties::config;
