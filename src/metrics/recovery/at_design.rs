//! How long recovery takes in the design cold.

use super::super::offset::{NORMAL_95, carried};
use super::super::{Interval, IntervalKind};
use super::Seen;
use super::follow::Followed;
use crate::stats::{self, LogNormalTimes, TimeAt};

/// Recoveries that it takes.
const LEAST: usize = 10;
/// Longer than this nothing is said: the next setback comes sooner, and the line leaves the times that were seen too far behind.
const LONGEST_H: f64 = 48.0;

/// The median time at an outdoor temperature, with the 95 % prediction interval of one morning; `None` where the mornings are too
/// few, the weather hardly changed, or no line can be told. `lag_h`: by how long the air was at the line before its logger, at most.
pub(super) fn at_design(
    events: &[Seen<'_>],
    design: f64,
    (accuracy_k, lag_h): (f64, f64),
) -> Option<(f64, Interval)> {
    let seen = times(events, 0.0);
    let outdoors: Vec<(f64, f64)> = seen.iter().map(|t| (t.0, t.1)).collect();
    if seen.len() < LEAST || !carried(&outdoors) {
        return None;
    }
    let line = LogNormalTimes::fit(&seen)?;
    let reached: Vec<f64> = seen.iter().filter(|t| t.2).map(|t| line.residual(*t)).collect();
    let degrees = reached.len() as f64 - 2.0;
    let log = line.log_median(design);
    let error = line.log_median_error(design) * stats::error_growth(&reached);
    // The line that the room must reach, moved by a standard error of its sensor either way.
    let moved = |k: f64| LogNormalTimes::fit(&times(events, k)).map(|line| line.log_median(design));
    let deviation = accuracy_k / NORMAL_95;
    let sensor = moved(deviation).zip(moved(-deviation)).map_or(0.0, |(up, down)| (up - down).abs() / 2.0);
    let days = stats::t_quantile(0.975, degrees)? * line.deviation.hypot(error);
    let half = days.hypot(NORMAL_95 * sensor);
    let beyond = seen.iter().all(|t| t.0 > design);
    let kind = if beyond { IntervalKind::PredictionBeyond } else { IntervalKind::Prediction };
    let (low, high) = ends(log, half, lag_h);
    (high < LONGEST_H).then(|| (libm::exp(log), Interval { low, high, kind }))
}

/// The ends of an interval of logarithms, in hours: the air was there before its logger.
fn ends(log: f64, half: f64, lag_h: f64) -> (f64, f64) {
    ((libm::exp(log - half) - lag_h).max(0.0), libm::exp(log + half))
}

/// The mornings with their outdoor temperature, had the line lain so much higher.
fn times(events: &[Seen<'_>], raised_k: f64) -> Vec<TimeAt> {
    let time = |(_, course, _): &Seen<'_>| match course.follow(raised_k) {
        Followed::NoSetback => None,
        Followed::Recovery(r) => Some((course.end.outdoor_degc?, r.hours, r.reached.is_some())),
    };
    events.iter().filter_map(time).filter(|t| t.1 > 0.0).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn loggers_that_trail_make_a_recovery_earlier_only() {
        let (low, high) = ends(libm::log(2.0), libm::log(1.25), 0.25);
        assert!((low - (1.6 - 0.25)).abs() < 1e-12 && (high - 2.5).abs() < 1e-12, "{low} {high}");
        assert!(ends(libm::log(0.2), 0.1, 0.25).0.abs() < 1e-12, "never before it began");
    }
}
