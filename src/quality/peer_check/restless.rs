//! How far a logger goes up and down within two hours, all the time: beside a heater that cycles it does so more than air can.

use crate::stats::median;

use super::{HOUR_MS, present};

/// A logger that goes up and down as no other of its home does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Restless {
    /// Median distance from its own mean over the two hours around, K.
    pub own_k: f64,
    /// The same of the other loggers of the home, in the middle.
    pub others_k: f64,
}

/// Time over which the mean is taken, ms.
const AROUND_MS: i64 = 2 * HOUR_MS;
/// Share of it that must be there.
const THERE: f64 = 0.8;
/// Every so many instants is looked at.
const EVERY: usize = 3;
/// From which on a logger is restless, K; as a multiple of the others in the middle, and of any other.
const RESTLESS_K: f64 = 0.4;
const OVER_OTHERS: f64 = 2.5;
const OVER_ANY: f64 = 1.3;

/// Distance of a room from its own mean over two hours, at every third instant; NaN where less than four fifths of that time is
/// there.
pub(super) fn wobble(degc: &[f64], step_ms: i64) -> Vec<f64> {
    let half = (AROUND_MS / 2 / step_ms).max(1) as usize;
    let (mut sums, mut counts) = (Vec::with_capacity(degc.len() + 1), Vec::with_capacity(degc.len() + 1));
    let (mut sum, mut count) = (0.0, 0_u32);
    sums.push(sum);
    counts.push(count);
    for x in degc {
        let there = !x.is_nan();
        sum += if there { *x } else { 0.0 };
        count += u32::from(there);
        sums.push(sum);
        counts.push(count);
    }
    let at = |i: usize| {
        let (from, to) = (i.saturating_sub(half), (i + half + 1).min(degc.len()));
        let n = f64::from(counts[to] - counts[from]);
        let enough = n >= THERE * (2 * half + 1) as f64;
        if enough { (degc[i] - (sums[to] - sums[from]) / n).abs() } else { f64::NAN }
    };
    (0..degc.len()).step_by(EVERY).map(at).collect()
}

/// Places of [`wobble`] that lie within some instants.
pub(super) fn looked_at(instants: &std::ops::Range<usize>) -> std::ops::Range<usize> {
    instants.start.div_ceil(EVERY)..instants.end.div_ceil(EVERY)
}

/// Of each room, the middle of its wobble over the record.
pub(super) fn usual(wobbles: &[Vec<f64>]) -> Vec<Option<f64>> {
    wobbles.iter().map(|wobble| median(present(wobble))).collect()
}

/// Whether a room's logger is restless beside the others.
///
/// # Source
/// Own definition.
pub(super) fn restless(usual: &[Option<f64>], room: usize) -> Option<Restless> {
    let own_k = (*usual.get(room)?)?;
    let others: Vec<f64> =
        usual.iter().enumerate().filter(|(r, _)| *r != room).filter_map(|(_, k)| *k).collect();
    let most = others.iter().copied().fold(0.0, f64::max);
    let others_k = median(others.clone()).filter(|_| others.len() >= 2)?;
    let told = own_k >= RESTLESS_K && own_k >= OVER_OTHERS * others_k && own_k >= OVER_ANY * most;
    told.then_some(Restless { own_k, others_k })
}
