//! Cold that is a serious risk to health.

use super::{Compute, Family, Measured, Metric, RoomScope, Slice};

pub(super) static FAMILY: Family = Family { metrics: &METRICS, compute: Compute::Room(longest_run) };

static METRICS: [Metric; 1] = [Metric {
    id: "longest_below_16",
    unit: "h",
    definition: "longest unbroken run certainly below 16 °C: even with the sensor accuracy added; a missing value ends a run; no row where there is none",
    source: "16 °C as the limit of serious cold: England, HHSRS operating guidance (2006)",
}];

const SERIOUS_DEGC: f64 = 16.0;

fn longest_run(scope: &RoomScope<'_>, out: &mut Measured) {
    if scope.home().slice() != Slice::All {
        return;
    }
    let limit = SERIOUS_DEGC - scope.accuracy_k();
    let mut longest = 0;
    for range in scope.home().ranges() {
        let mut run = 0;
        for part in scope.blocks().parts(range) {
            if part.ends.low >= limit {
                run = 0;
                continue;
            }
            for x in &scope.degc()[part.at] {
                run = if *x < limit { run + 1 } else { 0 };
                longest = longest.max(run);
            }
        }
    }
    if longest > 0 {
        let hours = f64::from(longest) * scope.step_h();
        out.value(Some(scope.index()), &METRICS[0], hours, scope.hours_observed());
    }
}
