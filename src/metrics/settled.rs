//! Hours below the band without the time that a room is granted to be warm again after a setback.

use std::ops::Range;

use super::scope::{clip, complement};
use super::{Compute, Family, Interval, IntervalKind, Measured, Metric, RoomScope, Slice, granted_h};
use crate::clock::{HOUR_MS, Span};

pub(super) static FAMILY: Family = Family { metrics: METRICS, compute: Compute::Room(settled) };

metrics! {
    HOURS_BELOW_SETTLED = Metric {
        id: "hours_below_band_settled",
        unit: "h",
        definition: "hours_below_band without the time after each setback of the site file that a room is granted to be warm again ([recovery] within; where it gives none, a quarter of the length of the setback, at most 4 h): that time is judged by late_recoveries; low and high with the limit moved by the sensor accuracy, without and with suspect readings",
        source: "own definition",
    };
}

/// Acceptance asks for the whole time only.
fn settled(scope: &RoomScope<'_>, out: &mut Measured) {
    let home = scope.home();
    if home.slice() != Slice::All || !home.site().bands.any() {
        return;
    }
    let (degc, accuracy) = (scope.degc(), scope.accuracy_k());
    let (mut observed, mut steps) = (0usize, [0usize; 3]);
    for range in home.ranges().iter().flat_map(|range| without_granted(scope, range)) {
        for (part, band) in scope.bands_in(&range) {
            let Some(band) = band else { return };
            let lower = band.lower.degc();
            for i in part.filter(|i| !degc[*i].is_nan()) {
                let below = lower - degc[i];
                observed += 1;
                steps[0] += usize::from(below > 0.0);
                steps[1] += usize::from(below > accuracy && !scope.is_suspect(i));
                steps[2] += usize::from(below > -accuracy);
            }
        }
    }
    let [value, low, high] = steps.map(|n| n as f64 * scope.step_h());
    let interval = Interval { low, high, kind: IntervalKind::SensorAccuracy };
    if observed > 0 {
        let hours = observed as f64 * scope.step_h();
        out.value_within(Some(scope.index()), &HOURS_BELOW_SETTLED, value, interval, hours);
    }
}

/// The parts of a range that no setback of the site file ended just before.
fn without_granted(scope: &RoomScope<'_>, range: &Range<usize>) -> Vec<Range<usize>> {
    let (aligned, site) = (scope.home().aligned(), scope.home().site());
    let span = Span { from: aligned.time(range.start).plus_ms(-48 * HOUR_MS), to: aligned.time(range.end) };
    let granted = site.setbacks_in(span).into_iter().map(|night| {
        let until = night.span.to.plus_ms((granted_h(site, night.span.hours()) * HOUR_MS as f64) as i64);
        aligned.index_from(night.span.to)..aligned.index_from(until)
    });
    let mut granted: Vec<Range<usize>> = granted.filter(|g| !g.is_empty()).collect();
    granted.sort_by_key(|g| g.start);
    let mut apart: Vec<Range<usize>> = Vec::new();
    for next in granted {
        match apart.last_mut() {
            Some(last) if next.start <= last.end => last.end = last.end.max(next.end),
            _ => apart.push(next),
        }
    }
    clip(&complement(&apart, aligned.len()), range)
}
