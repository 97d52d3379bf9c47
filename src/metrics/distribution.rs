//! Where the temperatures of a room lie.

use super::limits::DAY_COVERAGE;
use super::min_max_pyramid::Ends;
use super::{Compute, Family, Measured, Metric, RoomScope};
use crate::stats;

pub(super) static FAMILY: Family = Family { metrics: METRICS, compute: Compute::Room(distribution) };

const TYPE_7: &str = "linear interpolation between order statistics: R. J. Hyndman, Y. Fan, The American Statistician 50 (1996), definition 7";

metrics! {
    MEAN = Metric { id: "mean", unit: "°C", definition: "mean of the aligned values", source: "own definition" };
    MINIMUM = Metric { id: "minimum", unit: "°C", definition: "lowest aligned value", source: "own definition" };
    MAXIMUM = Metric { id: "maximum", unit: "°C", definition: "highest aligned value", source: "own definition" };
    P05 = Metric { id: "p05", unit: "°C", definition: "5 % of the aligned values lie below", source: TYPE_7 };
    MEDIAN = Metric { id: "median", unit: "°C", definition: "half of the aligned values lie below", source: TYPE_7 };
    P95 = Metric { id: "p95", unit: "°C", definition: "95 % of the aligned values lie below", source: TYPE_7 };
    STANDARD_DEVIATION = Metric {
        id: "standard_deviation",
        unit: "K",
        definition: "standard deviation of the aligned values, with n − 1",
        source: "own definition",
    };
    MEAN_DAILY_RANGE = Metric {
        id: "mean_daily_range",
        unit: "K",
        definition: "mean over local days, with values for at least 75 % of the day's hours in the slice, of the day's highest minus its lowest value",
        source: "own definition",
    };
}

pub(super) fn distribution(scope: &RoomScope<'_>, out: &mut Measured) {
    let values = scope.values();
    let Some((mean, deviation)) = stats::mean_and_deviation(&values) else { return };
    let Some([minimum, p05, median, p95, maximum]) = stats::quantiles(&values, [0.0, 0.05, 0.5, 0.95, 1.0])
    else {
        return;
    };
    let hours = values.len() as f64 * scope.step_h();
    let room = Some(scope.index());
    for (metric, value) in
        [(&MEAN, mean), (&MINIMUM, minimum), (&MAXIMUM, maximum), (&P05, p05), (&MEDIAN, median), (&P95, p95)]
    {
        out.value(room, metric, value, hours);
    }
    if let Some(deviation) = deviation {
        out.value(room, &STANDARD_DEVIATION, deviation, hours);
    }
    if let Some((range, hours)) = mean_daily_range(scope) {
        out.value(room, &MEAN_DAILY_RANGE, range, hours);
    }
}

/// Mean and minimum, and nothing else.
pub(super) fn mean_and_minimum(scope: &RoomScope<'_>, out: &mut Measured) {
    let values = scope.values();
    let Some(mean) = stats::mean(&values) else { return };
    let hours = values.len() as f64 * scope.step_h();
    out.value(Some(scope.index()), &MEAN, mean, hours);
    out.value(Some(scope.index()), &MINIMUM, scope.ends(scope.home().ranges()).low, hours);
}

fn mean_daily_range(scope: &RoomScope<'_>) -> Option<(f64, f64)> {
    let (mut ranges, mut instants) = (Vec::new(), 0);
    for (day, whole) in scope.home().days() {
        let count = scope.count(day);
        if (count as f64) < DAY_COVERAGE * *whole as f64 || count == 0 {
            continue;
        }
        let Ends { low, high } = scope.ends(day);
        ranges.push(high - low);
        instants += count;
    }
    Some((stats::mean(&ranges)?, instants as f64 * scope.step_h()))
}
