//! Buildings with what real ones have, winters and summers.

use evenrooms::clock::Zone;
use evenrooms::simulate::{Homes, Plan, Simulation};

use super::drawn::DAYS;

/// How much warmer the weather of buildings is, in turns: two usual winters, a hard one, and a hot summer, K.
const WARMER_K: [f64; 4] = [0.0, 0.0, -5.0, 7.0];

/// A building whose usual homes are good in half of the cases; so large a share of the loggers has a fault.
pub(crate) fn building(seed: u64, homes: usize, faults: f64) -> Simulation {
    let turn = (seed % 4) as usize;
    let (summer, warmer_k) = (turn == 3, WARMER_K[turn]);
    let start = if summer { "2026-07-06" } else { "2026-01-05" };
    Simulation::new(Plan {
        seed,
        homes,
        days: DAYS,
        interval_s: 300,
        start: start.parse().expect("a date"),
        zone: Zone::parse("America/Chicago").expect("the zone is in the IANA database"),
        homes_from: Homes::Mixed { troubles: 0.5, faults, summer, warmer_k },
    })
}
