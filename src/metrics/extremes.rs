//! Rooms near freezing, and rooms that are very hot: what nobody may overlook, whatever share of the record it is.

use std::ops::Range;

use super::{
    Compute, EventKind, Family, Interval, IntervalKind, Measured, Metric, RoomEvent, RoomScope, Slice,
};
use crate::clock::Span;
use crate::units::Celsius;

pub(super) static FAMILY: Family = Family { metrics: METRICS, compute: Compute::Room(extremes) };

const PRACTICE: &str = "common practice, no published source";

metrics! {
    HOURS_NEAR_FREEZING = Metric {
        id: "hours_near_freezing",
        unit: "h",
        definition: "hours at 5 °C or less; low and high with the limit moved by the sensor accuracy, without and with suspect readings; no row where there are none",
        source: PRACTICE,
    };
    HOURS_VERY_HOT = Metric {
        id: "hours_very_hot",
        unit: "h",
        definition: "hours at 35 °C or more; low and high as for hours_near_freezing; no row where there are none",
        source: PRACTICE,
    };
}

/// Pipes in a room this cold are in danger.
pub const NEAR_FREEZING: Celsius = Celsius::new(5.0);
/// People in a room this hot are in danger.
pub const VERY_HOT: Celsius = Celsius::new(35.0);
/// Longest break that does not end such a time, in hours.
const BREAK_H: f64 = 2.0;

/// Events are taken from no other slice.
fn extremes(scope: &RoomScope<'_>, out: &mut Measured) {
    if scope.home().slice() != Slice::All {
        return;
    }
    let ends = scope.ends(scope.home().ranges());
    let accuracy = scope.accuracy_k();
    if ends.low <= NEAR_FREEZING.degc() {
        let side = Side {
            metric: &HOURS_NEAR_FREEZING,
            kind: EventKind::NearFreezing,
            limit: NEAR_FREEZING,
            sign: -1.0,
        };
        side.measure(scope, accuracy, out);
    }
    if ends.high >= VERY_HOT.degc() {
        let side = Side { metric: &HOURS_VERY_HOT, kind: EventKind::VeryHot, limit: VERY_HOT, sign: 1.0 };
        side.measure(scope, accuracy, out);
    }
}

struct Side {
    metric: &'static Metric,
    kind: EventKind,
    limit: Celsius,
    /// 1 for too hot, -1 for too cold.
    sign: f64,
}

impl Side {
    fn measure(&self, scope: &RoomScope<'_>, accuracy: f64, out: &mut Measured) {
        let beyond = |i: usize| (scope.degc()[i] - self.limit.degc()) * self.sign;
        let present = |i: &usize| !scope.degc()[*i].is_nan();
        let here: Vec<usize> = scope.home().ranges().iter().flat_map(Clone::clone).filter(present).collect();
        let hours =
            |is: &dyn Fn(usize) -> bool| here.iter().filter(|i| is(**i)).count() as f64 * scope.step_h();
        let interval = Interval {
            low: hours(&|i| beyond(i) >= accuracy && !scope.is_suspect(i)),
            high: hours(&|i| beyond(i) >= -accuracy),
            kind: IntervalKind::SensorAccuracy,
        };
        let observed = here.len() as f64 * scope.step_h();
        out.value_within(Some(scope.index()), self.metric, hours(&|i| beyond(i) >= 0.0), interval, observed);
        let most_break = (BREAK_H / scope.step_h()) as usize;
        let mut times: Vec<Range<usize>> = Vec::new();
        for i in here.iter().copied().filter(|i| beyond(*i) >= 0.0) {
            match times.last_mut() {
                Some(last) if i - last.end <= most_break => last.end = i + 1,
                _ => times.push(i..i + 1),
            }
        }
        let aligned = scope.home().aligned();
        out.events.extend(times.into_iter().map(|at| RoomEvent {
            room: Some(scope.index()),
            kind: self.kind,
            span: Span { from: aligned.time(at.start), to: aligned.time(at.end) },
            value: self.furthest(&scope.degc()[at.clone()]),
            limit: self.limit.degc(),
            censored: super::cold::is_cut_off(scope, &at),
        }));
    }

    /// The value furthest beyond the limit.
    fn furthest(&self, values: &[f64]) -> f64 {
        let pick = if self.sign > 0.0 { f64::max } else { f64::min };
        values.iter().copied().fold(f64::NAN, pick)
    }
}
