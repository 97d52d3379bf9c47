//! Small statistics, each checked against a published example.
//!
//! Settled here, and why:
//! - **Intervals are about the rooms**, so that sensor accuracy is in them: an offset's by the rule of Welch and
//!   Satterthwaite (days estimated, sensors known), a spread's by drawing sensor errors (its upper end by those of two sensors), a recovery time's by averaging
//!   over eleven of them (the line moved by each, every half standard deviation) how sure it is that the time has come:
//!   the log-log interval of Greenwood, read as a confidence for every time, of which low and high are the 2.5 % and 97.5
//!   % points. A perfect sensor gives the textbook's interval. Without the sensors fewer than one interval in five held
//!   the truth (benches/intervals.md).

mod accelerated;
mod bootstrap;
mod broken_line;
mod day_line;
mod days;
mod effective_sample_size;
mod equivalence;
mod extremes;
mod false_discoveries;
mod hac;
mod least_squares;
mod matched;
mod middles;
mod moments;
mod noise;
mod quantiles;
mod random;
mod random_effects;
mod regression;
mod sorting_network;
mod student;
mod survival;
mod wilson;

pub use accelerated::{LogNormalTimes, TimeAt};
pub use bootstrap::{DayDraws, DayQuantiles, RESAMPLES, Rising};
pub use broken_line::BrokenLine;
pub use day_line::DayLine;
pub use days::{OverDays, likeness, over_days, slope_error};
pub use effective_sample_size::{
    combined_error, combined_half_width, effective_count, effective_number, error_growth, share_correlation,
    share_error_growth, widening,
};
pub use equivalence::{TwoOneSided, two_one_sided};
pub use extremes::Windows;
pub use false_discoveries::adjusted_p;
pub use hac::{MeanInterval, bartlett_lag, mean_interval, newey_west_error};
pub use matched::{Binned, LeftOut, Matched, matched, matched_difference};
pub use middles::median_interval;
pub use moments::{autocorrelation, mean, mean_and_deviation, standard_deviation};
pub use noise::{expected_range_factor, range_error};
pub use quantiles::{median, median_without, quantile, quantiles, sorted_quantile};
pub use random_effects::RandomEffects;
pub use regression::Line;
pub use sorting_network::{higher, lower, ranks_by_block};
pub use student::{normal_density, normal_quantile, normal_share, t_quantile, t_tail};
pub use survival::{KaplanMeier, Step};
pub use wilson::wilson;
