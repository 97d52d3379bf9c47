//! Series → grid values: the line between readings at the instants, or its means.

use crate::quality::Corrected;
use crate::site::{Alignment, Site};

/// How series become grid values.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Resampling {
    /// Grid step in milliseconds.
    pub step_ms: i64,
    /// Longest bridge between two readings, in milliseconds; never less than 2.5 sampling intervals.
    pub max_gap_ms: i64,
    /// Instants or means.
    pub alignment: Alignment,
}

impl Resampling {
    /// The resampling that a site asks for.
    pub fn of(site: &Site) -> Self {
        Self { step_ms: site.step_ms, max_gap_ms: site.max_gap_ms, alignment: site.alignment }
    }
}

/// Consecutive grid values: the number of the first instant (counted from the epoch), and one value each, NaN where missing.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Stretch {
    pub(crate) first: i64,
    pub(crate) degc: Vec<f64>,
}

/// One series on the grid, from its first reading to its last.
pub fn resample(series: &Corrected, how: Resampling) -> Stretch {
    on_grid(series.times_ms(), series.degc(), series.interval_ms(), how)
}

pub(super) fn on_grid(times: &[i64], degc: &[f64], interval_ms: Option<i64>, how: Resampling) -> Stretch {
    let (Some(start), Some(end)) = (times.first(), times.last()) else { return Stretch::default() };
    let max_gap_ms = how.max_gap_ms.max(interval_ms.unwrap_or(0) * 5 / 2);
    match how.alignment {
        Alignment::Instant => {
            let first = start.div_euclid(how.step_ms) + i64::from(start.rem_euclid(how.step_ms) != 0);
            let len = (end.div_euclid(how.step_ms) - first + 1).max(0) as usize;
            let mut grid = vec![f64::NAN; len];
            instants(times, degc, how.step_ms, max_gap_ms, first, &mut grid);
            Stretch { first, degc: grid }
        }
        Alignment::IntervalMean => {
            let first = start.div_euclid(how.step_ms);
            let len = (end.div_euclid(how.step_ms) - first + 1) as usize;
            Stretch { first, degc: interval_means(times, degc, how.step_ms, max_gap_ms, first, len) }
        }
    }
}

/// Linear interpolation between readings at most `max_gap_ms` apart; a reading exactly at an instant is taken as it is.
fn instants(times: &[i64], degc: &[f64], step_ms: i64, max_gap_ms: i64, first: i64, grid: &mut [f64]) {
    let (Some(first_time), Some(first_degc)) = (times.first(), degc.first()) else { return };
    let mut t = first * step_ms;
    let mut places = grid.iter_mut();
    if t == *first_time {
        places.next().into_iter().for_each(|place| *place = *first_degc);
        t += step_ms;
    }
    for ((t0, t1), (x0, x1)) in times.iter().zip(&times[1..]).zip(degc.iter().zip(&degc[1..])) {
        let near = t1 - t0 <= max_gap_ms;
        let (length, rise) = ((t1 - t0) as f64, x1 - x0);
        while t <= *t1 {
            let Some(place) = places.next() else { return };
            if t == *t1 {
                *place = *x1;
            } else if near {
                *place = x0 + rise * ((t - t0) as f64 / length);
            }
            t += step_ms;
        }
    }
}

/// Time-weighted means of the same line over `[t, t + step)`, over the covered part; missing where less than half is covered.
fn interval_means(
    times: &[i64],
    degc: &[f64],
    step_ms: i64,
    max_gap_ms: i64,
    first: i64,
    len: usize,
) -> Vec<f64> {
    let mut area = vec![0.0; len];
    let mut covered = vec![0_i64; len];
    for i in 1..times.len() {
        let (t0, t1) = (times[i - 1], times[i]);
        if t1 - t0 > max_gap_ms {
            continue;
        }
        let at = |t: i64| degc[i - 1] + (degc[i] - degc[i - 1]) * ((t - t0) as f64 / (t1 - t0) as f64);
        let mut from = t0;
        while from < t1 {
            let cell = from.div_euclid(step_ms);
            let to = ((cell + 1) * step_ms).min(t1);
            let k = (cell - first) as usize;
            area[k] += (at(from) + at(to)) / 2.0 * (to - from) as f64;
            covered[k] += to - from;
            from = to;
        }
    }
    let mean =
        |(area, covered): (f64, i64)| if covered * 2 >= step_ms { area / covered as f64 } else { f64::NAN };
    area.into_iter().zip(covered).map(mean).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::exports::Readings;
    use crate::quality::Flagged;
    use crate::site::QualityLimits;

    const MIN: i64 = 60_000;

    fn corrected(series: &[(i64, f64)]) -> Corrected {
        let rows: Vec<(i64, Option<f64>)> = series.iter().map(|(m, x)| (m * MIN, Some(*x))).collect();
        let off = QualityLimits { tests: Vec::new(), ..QualityLimits::default() };
        Corrected::new(&Flagged::new(Readings::from_series(&rows), &off), None, false)
    }

    fn how(alignment: Alignment) -> Resampling {
        Resampling { step_ms: 5 * MIN, max_gap_ms: 30 * MIN, alignment }
    }

    #[test]
    fn instants_lie_on_the_line_between_readings() {
        let stretch = resample(&corrected(&[(3, 20.0), (13, 21.0), (15, 23.0)]), how(Alignment::Instant));
        assert_eq!(stretch, Stretch { first: 1, degc: vec![20.2, 20.7, 23.0] });
    }

    #[test]
    fn a_long_gap_is_not_bridged_and_nothing_is_extrapolated() {
        let stretch = resample(
            &corrected(&[(0, 20.0), (5, 20.0), (10, 20.0), (41, 21.0), (44, 21.0)]),
            how(Alignment::Instant),
        );
        let present: Vec<bool> = stretch.degc.iter().map(|x| !x.is_nan()).collect();
        assert_eq!(present, [true, true, true, false, false, false, false, false, false]);
    }

    #[test]
    fn a_bridge_is_at_least_two_and_a_half_intervals() {
        let hourly = corrected(&[(0, 20.0), (60, 21.0), (120, 22.0), (240, 24.0)]);
        let stretch = resample(&hourly, how(Alignment::Instant));
        assert!(stretch.degc.iter().all(|x| !x.is_nan()), "2 h are within 2.5 intervals of 1 h");
    }

    #[test]
    fn interval_means_weigh_by_time_and_need_half_the_step() {
        let stretch = resample(&corrected(&[(0, 20.0), (5, 22.0), (7, 22.0)]), how(Alignment::IntervalMean));
        assert_eq!(stretch.degc[..1], [21.0]);
        assert!(stretch.degc[1].is_nan(), "2 of 5 minutes are covered");
    }

    #[test]
    fn one_reading_between_two_instants_gives_no_value() {
        assert!(resample(&corrected(&[(3, 20.0)]), how(Alignment::Instant)).degc.is_empty());
        assert_eq!(resample(&corrected(&[(5, 20.0)]), how(Alignment::Instant)).degc, [20.0]);
    }
}
