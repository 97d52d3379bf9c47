//! Buildings that are lived in: the physics that the audit's limits did not grow with.

use evenrooms::simulate::{Homes, Simulation};

use super::drawn::winter;

/// A building of half good homes; so large a share of the loggers has a fault.
pub(crate) fn building(seed: u64, homes: usize, faults: f64) -> Simulation {
    winter(seed, homes, Homes::LivedIn { troubles: 0.5, faults })
}
