//! A logger's clock that ran fast: its error at download, spread over the record.

use super::local_to_utc::Instants;
use crate::clock::UtcTime;

/// The earliest and the latest of some times; the latest lies before the earliest where there are none.
pub(super) fn ends_ms(times: impl Iterator<Item = i64>) -> (i64, i64) {
    times.fold((i64::MAX, i64::MIN), |(first, last), t| (first.min(t), last.max(t)))
}

/// A clock that ran fast between launch and download: the error grew linearly.
pub(super) struct ClockDrift {
    start_ms: i64,
    length_ms: f64,
    fast_ms: f64,
}

impl ClockDrift {
    pub(super) fn new(fast_s: Option<f64>, instants: &Instants<'_>) -> Self {
        let Some(fast_s) = fast_s else { return Self { start_ms: 0, length_ms: 0.0, fast_ms: 0.0 } };
        let (first, last) = ends_ms(instants.iter().flatten().map(|t| t.ms()));
        let length_ms = if first <= last { (last - first) as f64 } else { 0.0 };
        Self { start_ms: first, length_ms, fast_ms: fast_s * 1000.0 }
    }

    /// Whether any time is moved.
    pub(super) fn moves(&self) -> bool {
        self.fast_ms != 0.0 && self.length_ms != 0.0
    }

    pub(super) fn corrected(&self, t: UtcTime) -> UtcTime {
        if !self.moves() {
            return t;
        }
        let share = (t.ms() - self.start_ms) as f64 / self.length_ms;
        t.plus_ms(-(self.fast_ms * share).round() as i64)
    }
}
