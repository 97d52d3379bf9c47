//! Loggers of which a name says that nobody knows where they stood: what their series say of it.

use std::collections::BTreeMap;

use super::Candidate;
use crate::clock::HOUR_MS;
use crate::stats;

/// Fewest common hours that say something.
const LEAST_HOURS: usize = 24;

/// Asks for the rooms of such loggers, with what speaks for an answer.
pub(super) fn ask(candidates: &mut [Candidate<'_>]) {
    if candidates.iter().all(|c| c.nowhere.is_none()) {
        return;
    }
    let hourly: Vec<BTreeMap<i64, f64>> = candidates.iter().map(hourly).collect();
    for at in 0..candidates.len() {
        let Some(said) = candidates[at].nowhere.clone().filter(|_| candidates[at].room.is_none()) else {
            continue;
        };
        let others = (0..candidates.len()).filter(|o| *o != at);
        let apart = others.filter_map(|o| Some((apart(&hourly[at], &hourly[o])?, o)));
        let speaks = match apart.min_by(|a, b| a.0.0.total_cmp(&b.0.0)) {
            Some(((k, hours), near)) => format!(
                "nearest to {}: {k:.1} K apart in the middle of {hours} common hours",
                candidates[near].file
            ),
            None => "no other logger recorded at its time".to_owned(),
        };
        let median = stats::median(hourly[at].values().copied().collect());
        let median = median.map_or(String::new(), |degc| format!(", median {degc:.1} °C"));
        candidates[at].notes.insert(
            0,
            format!(
                "decide: room (\"{said}\" names none; {speaks}{median}; write the room, or remove the row if the logger stood in none)"
            ),
        );
    }
}

/// Means of hours on the wall clock, °C.
fn hourly(candidate: &Candidate<'_>) -> BTreeMap<i64, f64> {
    let mut sums: BTreeMap<i64, (f64, f64)> = BTreeMap::new();
    for (ms, x) in &candidate.series.readings {
        let sum = sums.entry(candidate.on_the_wall(*ms).div_euclid(HOUR_MS)).or_default();
        *sum = (sum.0 + candidate.degc(*x), sum.1 + 1.0);
    }
    sums.into_iter().map(|(hour, (sum, count))| (hour, sum / count)).collect()
}

/// Median distance in the hours that both have, and their number.
fn apart(one: &BTreeMap<i64, f64>, other: &BTreeMap<i64, f64>) -> Option<(f64, usize)> {
    let apart: Vec<f64> = one.iter().filter_map(|(hour, x)| Some((x - other.get(hour)?).abs())).collect();
    let hours = apart.len();
    (hours >= LEAST_HOURS).then(|| stats::median(apart)).flatten().map(|k| (k, hours))
}
