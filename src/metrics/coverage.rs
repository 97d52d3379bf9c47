//! How much of the time there is a value at all.

use super::{Compute, Family, Measured, Metric, RoomScope};

pub(super) static FAMILY: Family = Family { metrics: METRICS, compute: Compute::Room(coverage) };

/// Share of a room's time, in %, that may rest on suspect readings where something is to be called good.
pub const MOST_SUSPECT: f64 = 10.0;

metrics! {
    COVERAGE = Metric {
        id: "coverage",
        unit: "%",
        definition: "share of the grid instants, while a logger was placed in the room, that have a usable value; without placement dates, of the period; without named periods that is from the first to the last instant at which at least half of the home's rooms record",
        source: "own definition",
    };
    SHARE_SUSPECT = Metric {
        id: "share_suspect",
        unit: "%",
        definition: "share of the hours observed that rest on suspect readings: they are used, low of every number of hours counts without them and high with them, and nothing is called good that rests on more than 10 % of them",
        source: "own definition",
    };
}

/// A room without a logger has a coverage of 0; a room whose logger was elsewhere has no row.
fn coverage(scope: &RoomScope<'_>, out: &mut Measured) {
    let (instants, present) = (scope.instants_placed(), scope.instants_observed());
    let (room, hours) = (Some(scope.index()), scope.hours_observed());
    if instants > 0 {
        out.value(room, &COVERAGE, 100.0 * present as f64 / instants as f64, hours);
    }
    if present > 0 {
        let suspect = if scope.any_suspect() { scope.instants_suspect() } else { 0 };
        out.value(room, &SHARE_SUSPECT, 100.0 * suspect as f64 / present as f64, hours);
    }
}
