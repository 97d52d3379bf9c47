//! How much of the time there is a value at all.

use super::{Compute, Family, Measured, Metric, RoomScope};

pub(super) static FAMILY: Family = Family { metrics: &METRICS, compute: Compute::Room(coverage) };

static METRICS: [Metric; 1] = [Metric {
    id: "coverage",
    unit: "%",
    definition: "share of the grid instants, while a logger was placed in the room, that have a usable value; without placement dates and named periods, of the home's record",
    source: "own definition",
}];

/// A room without a logger has a coverage of 0; a room whose logger was elsewhere has no row.
fn coverage(scope: &RoomScope<'_>, out: &mut Measured) {
    let instants = scope.instants_placed();
    if instants > 0 {
        let present = scope.instants_observed();
        out.value(
            Some(scope.index()),
            &METRICS[0],
            100.0 * present as f64 / instants as f64,
            scope.hours_observed(),
        );
    }
}
