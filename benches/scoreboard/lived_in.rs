//! Buildings that are lived in: the physics that the audit's limits did not grow with.

use evenrooms::clock::Zone;
use evenrooms::simulate::{Homes, Plan, Simulation};

use super::drawn::DAYS;

/// A building of half good homes; so large a share of the loggers has a fault.
pub(crate) fn building(seed: u64, homes: usize, faults: f64) -> Simulation {
    Simulation::new(Plan {
        seed,
        homes,
        days: DAYS,
        interval_s: 300,
        start: "2026-01-05".parse().expect("a date"),
        zone: Zone::parse("America/Chicago").expect("the zone is in the IANA database"),
        homes_from: Homes::LivedIn { troubles: 0.5, faults },
    })
}
