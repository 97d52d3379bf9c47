//! `[recovery]`: what counts as warm again after a setback, and how soon it should be.

use super::common::{positive, positive_duration};
use super::walk::Section;
use crate::units::KelvinDiff;

/// Settings of the recovery after setback.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Recovery {
    /// How far under the target a room counts as recovered.
    pub tolerance: KelvinDiff,
    /// How soon a room should be there, where the site says; in hours.
    pub within_h: Option<f64>,
}

impl Default for Recovery {
    fn default() -> Self {
        Self { tolerance: KelvinDiff::new(0.5), within_h: None }
    }
}

pub(super) fn read_recovery(top: &Section<'_, '_>) -> Recovery {
    let mut recovery = Recovery::default();
    if let Some(section) = top.section("recovery") {
        recovery.tolerance = positive(&section, "tolerance").unwrap_or(recovery.tolerance);
        recovery.within_h = positive_duration(&section, "within").map(|s| s as f64 / 3600.0);
        section.finish();
    }
    recovery
}
