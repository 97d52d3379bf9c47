//! What a room's slope on the weather tells of its case: whether its setting or its output makes it too cold, or its setting too warm.
//!
//! Settled here, and why:
//! - **Last of all**: what joins which case does not depend on it, so that a record without weather has the same cases under their
//!   general names.

use super::assemble::Draft;
use super::kinds;
use crate::findings::Evidence;
use crate::metrics::{HOURS_WITHOUT_HEAT, MEAN_ON_COLD_DAYS, Metric, MetricRow, OUTDOOR_SLOPE, Slice};
use crate::site::Heated;

/// A slope surely below this, either way, is that of heating that holds, in K/K.
const FLAT: f64 = 0.1;

/// Gives a draft the name that the weather tells.
pub(super) fn named(evidence: &Evidence<'_>, draft: &mut Draft<'_>) {
    let rooms: Vec<usize> = draft.rooms.iter().copied().collect();
    let heated = |room: &usize| evidence.home.rooms[*room].heated == Heated::Yes;
    if rooms.is_empty() || !rooms.iter().all(heated) || draft.outage.is_some() {
        return;
    }
    let of = Of { evidence, period: draft.period };
    let has = |rule: &str| draft.findings.iter().any(|f| f.rule == rule);
    let only_uneven = draft.findings.iter().all(|f| f.rule == "room-uneven");
    let below = draft.findings.iter().all(|f| f.rule != "room-uneven" || f.observed < 0.0);
    let above = draft.findings.iter().all(|f| f.rule != "room-uneven" || f.observed > 0.0);
    let holds = || rooms.iter().all(|room| of.holds(*room));
    let apart = draft.kind == &kinds::UNEVEN && only_uneven && rooms.len() == 1;
    draft.kind = match () {
        () if has("falls-behind-in-cold") && draft.kind == &kinds::TOO_COLD => &kinds::FALLS_BEHIND,
        () if (draft.kind == &kinds::TOO_COLD || apart) && below && holds() => &kinds::SET_LOW,
        () if apart && above && holds() => &kinds::SET_HIGH,
        // Sun warms a room on mild days, a setting on cold ones too.
        () if draft.kind == &kinds::OVERHEATS && holds() && rooms.iter().all(|r| of.warm_in_cold(*r)) => {
            &kinds::SET_HIGH
        }
        () => draft.kind,
    };
}

/// Rows of a period.
struct Of<'e> {
    evidence: &'e Evidence<'e>,
    period: &'e str,
}

impl Of<'_> {
    fn row(&self, room: Option<usize>, metric: &Metric) -> Option<&MetricRow> {
        let room = room.map(|room| self.evidence.home.rooms[room].name.as_str());
        self.evidence.rows.row(self.period, Slice::All, room, metric)
    }

    /// Whether a room is surely flat against the weather, and was never without heat.
    fn holds(&self, room: usize) -> bool {
        let slope = self.row(Some(room), &OUTDOOR_SLOPE).and_then(|row| row.interval);
        let out = |room| self.row(room, &HOURS_WITHOUT_HEAT).is_some_and(|row| row.value > 0.0);
        slope.is_some_and(|slope| slope.low > -FLAT && slope.high < FLAT) && !out(Some(room)) && !out(None)
    }

    /// Whether it is surely above its band on cold days too.
    fn warm_in_cold(&self, room: usize) -> bool {
        let level = self.row(Some(room), &MEAN_ON_COLD_DAYS).and_then(|row| row.interval);
        let upper = self.evidence.site.bands.occupied.map(|band| band.upper.degc());
        level.zip(upper).is_some_and(|(level, upper)| level.low > upper)
    }
}
