//! A time in which the loggers lay side by side, told by their series: at the start or the end they run together.

use std::collections::BTreeMap;

use super::Candidate;
use crate::clock::{HOUR_MS, LocalTime};
use crate::stats;

/// Side by side, hourly means lie this close.
const CLOSE_K: f64 = 1.0;
/// For so many hours at least, within so many of the start or the end.
const AT_LEAST_H: usize = 6;
const WITHIN_H: usize = 72;
/// In the rest of the record they lie apart by this, and by so many times as much.
const APART_K: f64 = 1.5;
const APART_TIMES: f64 = 3.0;
/// Loggers that started within this of the usual start, or ended.
const ROUND_MS: i64 = 12 * HOUR_MS;
const FEWEST: usize = 3;
/// Of so many loggers one is left out at either end.
const OF_MANY: usize = 8;

/// A proposed side-by-side time.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Together {
    pub(super) from: String,
    pub(super) to: String,
    /// What speaks for it.
    pub(super) why: String,
}

/// Hours of a stretch, from its first to past its last, and what the loggers differ by inside and outside.
struct Stretch {
    hours: (i64, i64),
    inside_k: f64,
    outside_k: f64,
}

/// The time at the start, else at the end, in which at least three loggers ran together and after which they did not.
pub(super) fn find(candidates: &[Candidate<'_>]) -> Option<Together> {
    let placed: Vec<&Candidate<'_>> =
        candidates.iter().filter(|c| c.dates.is_none() && c.wall_known()).collect();
    [true, false]
        .into_iter()
        .find_map(|start| all_together(&placed, start).or_else(|| home_by_home(&placed, start)))
}

/// A stretch of the loggers of one round, and how many they are.
fn of_loggers(all: &[&Candidate<'_>], start: bool) -> Option<(Stretch, usize)> {
    let of_round = of_one_round(all, start)?;
    Some((stretch(&spread(&of_round), start)?, of_round.len()))
}

fn all_together(all: &[&Candidate<'_>], start: bool) -> Option<Together> {
    let (stretch, loggers) = of_loggers(all, start)?;
    Some(stretch.told(&format!("{loggers} loggers"), start))
}

/// Where not all ran together, the time that the loggers of several homes share.
fn home_by_home(all: &[&Candidate<'_>], start: bool) -> Option<Together> {
    let mut homes: BTreeMap<Option<String>, Vec<&Candidate<'_>>> = BTreeMap::new();
    for candidate in all {
        homes.entry(candidate.any_home()).or_default().push(candidate);
    }
    let found: Vec<Stretch> = homes.values().filter_map(|home| Some(of_loggers(home, start)?.0)).collect();
    let from = found.iter().map(|s| s.hours.0).max()?;
    let to = found.iter().map(|s| s.hours.1).min()?;
    let worst = |of: fn(&Stretch) -> f64| found.iter().map(of).fold(0.0, f64::max);
    let least_apart = found.iter().map(|s| s.outside_k).fold(f64::INFINITY, f64::min);
    let shared = Stretch { hours: (from, to), inside_k: worst(|s| s.inside_k), outside_k: least_apart };
    let long = to - from >= AT_LEAST_H as i64;
    (found.len() >= 2 && long).then(|| {
        shared.told(&format!("the loggers of {} of {} homes, home by home,", found.len(), homes.len()), start)
    })
}

impl Stretch {
    fn told(&self, who: &str, start: bool) -> Together {
        let show = |hour: i64| LocalTime::from_ms(hour * HOUR_MS).show();
        let (from, to) = self.hours;
        let place = if start { "start" } else { "end" };
        Together {
            from: show(from),
            to: show(to),
            why: format!(
                "{who} ran within {:.1} K of each other for {} h at the {place}, and {:.1} K apart in the middle of their other hours",
                self.inside_k,
                to - from,
                self.outside_k
            ),
        }
    }
}

/// The loggers that started, or ended, on the same round as most.
fn of_one_round<'c, 'a>(all: &[&'c Candidate<'a>], start: bool) -> Option<Vec<&'c Candidate<'a>>> {
    let at = |c: &Candidate<'_>| c.ends.map(|(first, last)| c.on_the_wall(if start { first } else { last }));
    let mut ends: Vec<(i64, usize)> = all.iter().enumerate().filter_map(|(i, c)| Some((at(c)?, i))).collect();
    ends.sort_unstable();
    let of_round = |from: usize| {
        let to = ends.partition_point(|e| e.0 <= ends[from].0 + ROUND_MS);
        &ends[from..to]
    };
    let most = (0..ends.len()).map(of_round).rev().max_by_key(|round| round.len())?;
    (most.len() >= FEWEST).then(|| most.iter().map(|(_, i)| all[*i]).collect())
}

/// For each hour in which nearly all have readings: highest less lowest hourly mean, in K; of many loggers the few furthest
/// apart are left out, because some of them err, or run on another clock.
fn spread(all: &[&Candidate<'_>]) -> Vec<(i64, f64)> {
    let mut means: BTreeMap<i64, Vec<f64>> = BTreeMap::new();
    for candidate in all {
        let mut of_hour: BTreeMap<i64, (f64, f64)> = BTreeMap::new();
        for (ms, x) in &candidate.series.readings {
            let sum = of_hour.entry(candidate.on_the_wall(*ms).div_euclid(HOUR_MS)).or_default();
            *sum = (sum.0 + candidate.degc(*x), sum.1 + 1.0);
        }
        for (hour, (sum, count)) in of_hour {
            means.entry(hour).or_default().push(sum / count);
        }
    }
    let range = |mut x: Vec<f64>| {
        x.sort_unstable_by(f64::total_cmp);
        let left_out = x.len() / OF_MANY;
        x[x.len() - 1 - left_out] - x[left_out]
    };
    let nearly_all = |x: &[f64]| x.len() >= FEWEST && x.len() * 10 >= all.len() * 9;
    means.into_iter().filter(|(_, x)| nearly_all(x)).map(|(hour, x)| (hour, range(x))).collect()
}

/// The longest run of close hours near the start, or the end, if the other hours lie apart.
fn stretch(spread: &[(i64, f64)], start: bool) -> Option<Stretch> {
    let near = if start {
        &spread[..spread.len().min(WITHIN_H)]
    } else {
        &spread[spread.len().saturating_sub(WITHIN_H)..]
    };
    let same = |a: &(i64, f64), b: &(i64, f64)| b.0 == a.0 + 1 && (a.1 <= CLOSE_K) == (b.1 <= CLOSE_K);
    let runs = near.chunk_by(same).filter(|run| run[0].1 <= CLOSE_K && run.len() >= AT_LEAST_H);
    let run = runs.max_by_key(|run| run.len())?;
    let hours = (run[0].0, run[run.len() - 1].0 + 1);
    let median = |inside: bool| {
        let of = spread.iter().filter(|(h, _)| (hours.0..hours.1).contains(h) == inside);
        stats::median(of.map(|s| s.1).collect())
    };
    let (inside_k, outside_k) = (median(true)?, median(false)?);
    (outside_k >= APART_K && outside_k >= APART_TIMES * inside_k).then_some(Stretch {
        hours,
        inside_k,
        outside_k,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rooms_that_are_always_alike_lay_not_side_by_side() {
        let of = |k: &dyn Fn(i64) -> f64| (0..200).map(|h| (h, k(h))).collect::<Vec<_>>();
        let steady = of(&|_| 0.4);
        assert!(stretch(&steady, true).is_none());
        let placed = of(&|h| if (3..20).contains(&h) { 0.4 } else { 2.5 });
        assert_eq!(stretch(&placed, true).map(|s| s.hours), Some((3, 20)));
        assert!(stretch(&placed, false).is_none());
    }
}
