//! Small statistics, each checked against a published example.

mod moments;
mod noise;
mod quantiles;

pub use moments::{mean, standard_deviation};
pub use noise::expected_range_factor;
pub use quantiles::{median, quantile, sorted_quantile};
