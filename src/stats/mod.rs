//! Small statistics, each checked against a published example.

mod matched;
mod moments;
mod noise;
mod quantiles;

pub use matched::{Binned, LeftOut, Matched, matched};
pub use moments::{mean, standard_deviation};
pub use noise::expected_range_factor;
pub use quantiles::{median, quantile, sorted_quantile};
