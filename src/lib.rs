//! Show, from temperature-logger exports, whether every room of a home stays evenly warm, and find the homes where
//! it does not.
//!
//! # The map
//!
//! The data go one way, and each stop is a type that only the stop before can make, so that cleaning cannot be
//! skipped:
//!
//! | room | gives |
//! |---|---|
//! | [`site`] | [`site::Site`]: the building as a person described it |
//! | [`exports`] | bytes → [`exports::Readings`]: UTC, °C, rising, unique, every row accounted for |
//! | [`quality`] | → [`quality::Flagged`] → [`quality::Corrected`] |
//! | [`grid`] | → [`grid::AlignedHome`]: all rooms of a home at the same instants |
//! | [`metrics`] | → [`metrics::MetricRow`] and [`metrics::Event`] |
//! | [`findings`] | → [`findings::Finding`] |
//! | [`cases`] | → [`cases::Case`]: what happened, what to do; whether a home can be accepted |
//! | [`audit`] | [`audit::Audit`]: all of it, held and looked up |
//! | [`plan`], [`check`] | before: what goes where; mid-way: [`check::Check`], whether every logger records |
//! | [`compare`] | [`compare::ComparisonRow`]: two periods at like outdoor temperature |
//! | [`portfolio`] | [`portfolio::Portfolio`]: several audits put together |
//! | [`tables`], [`report`], [`provenance`] | what people and programs read |
//!
//! Ground: [`units`], [`clock`], [`texts`], [`error`], [`stats`], [`moist_air`]. The shell, the only rooms that meet the world: [`cli`], [`run`],
//! [`files`], [`console`]; [`explain`] answers what a name means, [`methods`] what a paper says of an audit.

pub mod audit;
pub mod cases;
pub mod check;
pub mod cli;
pub mod clock;
pub mod compare;
pub mod complaint;
pub mod console;
pub mod draft;
pub mod error;
pub mod explain;
pub mod exports;
pub mod files;
pub mod findings;
pub mod grid;
mod guard;
pub mod methods;
pub mod metrics;
pub mod moist_air;
pub mod pipeline;
pub mod plan;
pub mod portfolio;
pub mod provenance;
pub mod quality;
pub mod report;
pub mod run;
pub mod simulate;
pub mod site;
pub mod stats;
pub mod tables;
pub mod texts;
pub mod units;
pub mod unpack;
