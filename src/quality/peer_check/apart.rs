//! Where the records of a home begin and end, each beside the others.

use super::{HOUR_MS, QUARTER_MS};
use crate::stats::median;

/// The ends of a record.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Ends {
    /// First reading, ms since 1970 UTC.
    pub first_ms: i64,
    /// Last reading.
    pub last_ms: i64,
    /// Time between readings, ms.
    pub interval_ms: i64,
}

/// How far the ends of one record stand from those of the others of its home, which agree.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Apart {
    first_ms: i64,
    last_ms: i64,
    near_ms: i64,
    /// Whether its export states its clock, and those of the others do not.
    stated: bool,
}

/// A whole number of hours at one end or both, in quarters of an hour; below 0 it is earlier.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum ByEnds {
    /// Both by as much.
    Both(i64),
    /// The last reading alone.
    Last(i64),
    /// The first alone.
    First(i64),
}

/// Loggers that are started or read out in one visit are so within this time, beside the time between readings.
const ONE_VISIT_MS: i64 = 10 * 60_000;
/// Most that records which agree may be apart.
const AGREE_MS: i64 = 2 * ONE_VISIT_MS;
/// Most hours.
const MOST_H: i64 = 13;

/// Each record of a home beside the others; `None` where fewer than two others agree at both ends.
pub fn apart(ends: &[Option<Ends>]) -> Vec<Option<Apart>> {
    let one = |at: usize| {
        let own = ends[at]?;
        let others = || ends.iter().enumerate().filter(|(i, _)| *i != at).filter_map(|(_, e)| *e);
        let middle = |of: fn(&Ends) -> i64| {
            let times: Vec<f64> = others().map(|e| of(&e) as f64).collect();
            let middle = median(times.clone())?;
            let agree = times.iter().filter(|t| (*t - middle).abs() <= AGREE_MS as f64).count();
            (agree >= 2 && 3 * agree >= 2 * times.len()).then_some(middle as i64)
        };
        let interval_ms = others().map(|e| e.interval_ms).chain([own.interval_ms]).max()?;
        Some(Apart {
            first_ms: own.first_ms - middle(|e| e.first_ms)?,
            last_ms: own.last_ms - middle(|e| e.last_ms)?,
            near_ms: (ONE_VISIT_MS + interval_ms).min(AGREE_MS),
            stated: false,
        })
    };
    (0..ends.len()).map(one).collect()
}

impl Apart {
    /// Whether the record begins and ends with the others.
    pub(super) fn is_with_others(&self) -> bool {
        self.first_ms.abs() <= self.near_ms && self.last_ms.abs() <= self.near_ms
    }

    /// Of a record whose export states its clock, where the clocks of the others come from the site.
    pub fn stated_alone(self) -> Self {
        Self { stated: true, ..self }
    }

    /// Whole hours in quarters of an hour, where a time is some.
    fn whole(&self, ms: i64) -> Option<i64> {
        let hours = (ms as f64 / HOUR_MS as f64).round() as i64;
        let is_whole = (ms - hours * HOUR_MS).abs() <= self.near_ms && hours.abs() <= MOST_H;
        is_whole.then_some(hours * HOUR_MS / QUARTER_MS)
    }

    /// Where its clock alone is stated: what whole hours one end stands apart by, if the other does so give or take an hour.
    /// Somebody who started it by itself was there in the same hour as with the others.
    pub(super) fn as_stated(&self) -> Option<i64> {
        let near = (self.first_ms - self.last_ms).abs() < HOUR_MS;
        let whole = |ms: i64| self.whole(ms).filter(|k| *k != 0);
        whole(self.last_ms).or_else(|| whole(self.first_ms)).filter(|_| self.stated && near)
    }

    /// What whole hours its ends stand apart by, if they do.
    pub(super) fn by_ends(&self) -> Option<ByEnds> {
        let whole = |ms: i64| self.whole(ms);
        match (whole(self.first_ms)?, whole(self.last_ms)?) {
            (0, 0) => None,
            (first, last) if first == last => Some(ByEnds::Both(first)),
            (0, last) => Some(ByEnds::Last(last)),
            (first, 0) => Some(ByEnds::First(first)),
            _ => None,
        }
    }
}
