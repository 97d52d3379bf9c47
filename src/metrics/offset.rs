//! How much colder or warmer each room is than the heated rooms, how sure that is, and what it would be in the design cold.

use std::ops::Range;

use super::distribution::DAY_COVERAGE;
use super::together::SIDE;
use super::{Compute, Family, HomeScope, Interval, IntervalKind, Measured, Metric};
use crate::stats::{self, Line};

pub(super) static FAMILY: Family = Family { metrics: &METRICS, compute: Compute::Home(offsets) };

static METRICS: [Metric; 4] = [
    Metric {
        id: "offset_from_heated_mean",
        unit: "K",
        definition: "mean over local days, with values for at least 75 % of the day's hours in the slice, of the day's mean difference between the room and the mean of the heated rooms at the same instant (for a heated room: of the other heated rooms), at instants with the quorum of a spread; from 7 days on low and high are its 90 % interval: mean ± t(ν) times the root of the sum of two squared errors, that of the mean over days (offset_standard_error, and no less than days as alike as these ask for) and that of the sensors (their 95 % half-widths / 1.96)",
        source: "own definition; interval: W. K. Newey, K. D. West, Econometrica 55 (1987); days worth n (1 − r)/(1 + r); combined and ν as in JCGM 100:2008 (GUM), G.4.1",
    },
    Metric {
        id: "offset_standard_error",
        unit: "K",
        definition: "standard error of offset_from_heated_mean over days that follow each other: Bartlett kernel, lag ⌊4 (n/100)^(2/9)⌋, small-sample factor n/(n − 1); sensor error is not in it",
        source: "W. K. Newey, K. D. West, Econometrica 55 (1987)",
    },
    Metric {
        id: "evenness_verdict",
        unit: "1",
        definition: "for an unheated room: 1 (even) where the 90 % interval of its offset lies inside ± the site's margin, −1 (uneven) where it lies wholly outside, else 0 (undecided); fewer than 7 whole days are always undecided",
        source: "two one-sided tests: D. J. Schuirmann, Journal of Pharmacokinetics and Biopharmaceutics 15 (1987)",
    },
    Metric {
        id: "offset_at_design",
        unit: "K",
        definition: "the room's daily offset from the heated rooms at the site's design outdoor temperature, on the line through the daily offsets against the daily mean outdoor temperature (ordinary least squares), with the 95 % prediction interval for one day, widened by the sensor accuracy (root of the sum of squares); not given for fewer than 10 days or an outdoor range under 5 K; extrapolated where no day was as cold",
        source: "own definition",
    },
];

/// Share of the intervals of the mean that hold the truth.
const CONFIDENCE: f64 = 0.9;
/// Standard deviations in the half-width of 95 % of a normal value.
const NORMAL_95: f64 = 1.959964;
/// Whole days from which a mean over days has an interval and can carry a verdict.
pub(super) const LEAST_DAYS: usize = 7;
/// Days, and range of their outdoor temperatures in K, from which a line is drawn.
const LINE_DAYS: usize = 10;
const LINE_RANGE_K: f64 = 5.0;

/// Whether a room is as warm as the heated rooms.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Evenness {
    /// Surely within the margin.
    Even,
    /// Surely beyond it.
    Uneven,
    /// Neither is sure.
    Undecided,
}

impl Evenness {
    /// What the value of `evenness_verdict` stands for.
    pub fn of(value: f64) -> Self {
        match value {
            v if v > 0.5 => Evenness::Even,
            v if v < -0.5 => Evenness::Uneven,
            _ => Evenness::Undecided,
        }
    }

    /// The word for people.
    pub const fn word(self) -> &'static str {
        match self {
            Evenness::Even => "even",
            Evenness::Uneven => "uneven",
            Evenness::Undecided => "undecided",
        }
    }

    const fn value(self) -> f64 {
        match self {
            Evenness::Even => 1.0,
            Evenness::Uneven => -1.0,
            Evenness::Undecided => 0.0,
        }
    }

    /// The verdict of an interval held against ± a margin.
    fn judge(low: f64, high: f64, margin: f64) -> Self {
        match () {
            () if low > -margin && high < margin => Evenness::Even,
            () if low > margin || high < -margin => Evenness::Uneven,
            () => Evenness::Undecided,
        }
    }
}

/// A whole day: its mean offset, how many instants have one, and how cold it was outdoors.
struct Day {
    offset: f64,
    instants: usize,
    outdoor: Option<f64>,
}

fn offsets(scope: &HomeScope<'_>, out: &mut Measured) {
    let rooms = scope.rooms().len();
    let mut days_of: Vec<Vec<Day>> = (0..rooms).map(|_| Vec::new()).collect();
    for (day, whole) in scope.days() {
        let enough = |(count, sum): (f64, f64)| {
            let enough = count > 0.0 && count >= DAY_COVERAGE * *whole as f64;
            enough.then(|| (sum / count, count as usize))
        };
        let outdoor = scope.aligned().outdoor().and_then(|o| enough(count_and_sum(o, day)));
        let outdoor = outdoor.map(|(mean, _)| mean);
        for first in (0..rooms).step_by(SIDE) {
            let side = first..(first + SIDE).min(rooms);
            for (days, sums) in days_of[side.clone()].iter_mut().zip(differences(scope, side.clone(), day)) {
                days.extend(enough(sums).map(|(offset, instants)| Day { offset, instants, outdoor }));
            }
        }
    }
    let seen: Vec<bool> = (0..rooms).map(|r| scope.room(r).instants_observed() > 0).collect();
    for (room, days) in days_of.iter().enumerate() {
        room_offset(scope, room, &seen, days, out);
    }
}

/// For each of some rooms, [`SIDE`] at most, at how many instants of a day its difference from the heated rooms can be
/// said, and their sum.
fn differences(scope: &HomeScope<'_>, side: Range<usize>, day: &[Range<usize>]) -> [(f64, f64); SIDE] {
    // Where there is no fourth beside others, the last is added up again.
    let room = |k: usize| (side.start + k).min(side.end - 1);
    let is_heated = std::array::from_fn(|k| scope.rooms()[room(k)].heated);
    let mut sums = CountsAndSums::default();
    for range in day {
        let degc = std::array::from_fn(|k| &scope.degc(room(k))[range.clone()]);
        scope.together().differences(degc, is_heated, range.clone(), |differences| sums.add(differences));
    }
    std::array::from_fn(|k| (sums.counts[k], sums.sums[k]))
}

/// How many values are present in some ranges, and their sum.
fn count_and_sum(values: &[f64], ranges: &[Range<usize>]) -> (f64, f64) {
    let (mut count, mut sum) = (0.0, 0.0);
    for x in ranges.iter().flat_map(|range| &values[range.clone()]) {
        count += if x.is_nan() { 0.0 } else { 1.0 };
        sum += if x.is_nan() { 0.0 } else { *x };
    }
    (count, sum)
}

/// `seen`: which rooms have a value in the scope.
fn room_offset(scope: &HomeScope<'_>, room: usize, seen: &[bool], days: &[Day], out: &mut Measured) {
    let offsets: Vec<f64> = days.iter().map(|d| d.offset).collect();
    let Some(mean) = stats::mean(&offsets) else { return };
    let hours = |days: &mut dyn Iterator<Item = &Day>| {
        days.map(|d| d.instants).sum::<usize>() as f64 * scope.aligned().step_h()
    };
    let observed = hours(&mut days.iter());
    let sensors = sensor_half_width(scope, room, seen);
    let sure = stats::mean_interval(&offsets, CONFIDENCE).filter(|_| days.len() >= LEAST_DAYS);
    let interval = sure.map(|sure| {
        let half = half_width(&offsets, sure.error, sensors / NORMAL_95);
        Interval { low: mean - half, high: mean + half, kind: IntervalKind::OverDays }
    });
    match (sure, interval) {
        (Some(sure), Some(interval)) => {
            out.value_within(Some(room), &METRICS[0], mean, interval, observed);
            out.value(Some(room), &METRICS[1], sure.error, observed);
        }
        _ => out.value(Some(room), &METRICS[0], mean, observed),
    }
    if !scope.rooms()[room].heated {
        let margin = scope.site().spread.margin.k();
        let verdict = interval.map_or(Evenness::Undecided, |i| Evenness::judge(i.low, i.high, margin));
        out.value(Some(room), &METRICS[2], verdict.value(), observed);
    }
    if let Some((value, interval)) = at_design(scope, days, sensors) {
        let on_line = hours(&mut days.iter().filter(|d| d.outdoor.is_some()));
        out.value_within(Some(room), &METRICS[3], value, interval, on_line);
    }
}

/// Half the 90 % interval of a mean of days that resemble their neighbours, with the error of the sensors.
fn half_width(offsets: &[f64], newey_west: f64, sensors: f64) -> f64 {
    let deviation = stats::standard_deviation(offsets).unwrap_or(0.0);
    let effective = stats::effective_count(offsets);
    // The estimator of Newey and West is known to fall short for few days: never less than a first-order process gives.
    let error = newey_west.max(deviation / effective.sqrt());
    stats::combined_half_width(error, effective, sensors, CONFIDENCE)
}

/// What sensor error does to a room's offset, 95 % half-width: the room's own and, together, the others'.
fn sensor_half_width(scope: &HomeScope<'_>, room: usize, seen: &[bool]) -> f64 {
    let half = |r: usize| scope.room(r).accuracy_k();
    let others: Vec<usize> =
        (0..scope.rooms().len()).filter(|r| *r != room && scope.rooms()[*r].heated && seen[*r]).collect();
    let squares: f64 = others.iter().map(|r| half(*r).powi(2)).sum();
    half(room).hypot(squares.sqrt() / others.len().max(1) as f64)
}

/// The offset in the design cold, with its prediction interval.
fn at_design(scope: &HomeScope<'_>, days: &[Day], sensors: f64) -> Option<(f64, Interval)> {
    let design = scope.site().design_outdoor?.degc();
    let points: Vec<(f64, f64)> = days.iter().filter_map(|d| Some((d.outdoor?, d.offset))).collect();
    let coldest = points.iter().map(|p| p.0).reduce(f64::min)?;
    let mildest = points.iter().map(|p| p.0).reduce(f64::max)?;
    if points.len() < LINE_DAYS || mildest - coldest < LINE_RANGE_K {
        return None;
    }
    let line = Line::fit(&points)?;
    let value = line.at(design);
    let half = (line.prediction_interval(design, 0.95)?.1 - value).hypot(sensors);
    let kind = if design < coldest { IntervalKind::PredictionBeyond } else { IntervalKind::Prediction };
    Some((value, Interval { low: value - half, high: value + half, kind }))
}

/// How many values series of one length have, and their sums: added up side by side, so that one addition need not wait for
/// another.
#[derive(Default)]
struct CountsAndSums {
    counts: [f64; SIDE],
    sums: [f64; SIDE],
}

impl CountsAndSums {
    #[inline]
    fn add(&mut self, values: [f64; SIDE]) {
        let Self { counts, sums } = self;
        for k in 0..SIDE {
            counts[k] += if values[k].is_nan() { 0.0 } else { 1.0 };
            sums[k] += if values[k].is_nan() { 0.0 } else { values[k] };
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_side_by_side_are_added_up_as_each_by_itself() {
        let value = |k: usize| if k % 7 == 3 { f64::NAN } else { (k * 7919 % 101) as f64 / 9.0 };
        let series: [Vec<f64>; SIDE] =
            std::array::from_fn(|s| (0..50).map(|i| value(s * s * 29 + i)).collect());
        let mut together = CountsAndSums::default();
        (0..50).for_each(|i| together.add(std::array::from_fn(|s| series[s][i])));
        for (k, values) in series.iter().enumerate() {
            let there = || values.iter().filter(|x| !x.is_nan());
            assert_eq!(together.counts[k], there().count() as f64);
            assert_eq!(together.sums[k].to_bits(), there().sum::<f64>().to_bits());
            let ranges = [0..20, 20..21, 21..50];
            assert_eq!(count_and_sum(values, &ranges), (together.counts[k], together.sums[k]));
        }
    }

    #[test]
    fn evenness_needs_evidence() {
        assert_eq!(Evenness::judge(-0.5, 1.9, 2.0), Evenness::Even);
        assert_eq!(Evenness::judge(-0.5, 2.1, 2.0), Evenness::Undecided);
        assert_eq!(Evenness::judge(-9.0, 9.0, 2.0), Evenness::Undecided);
        assert_eq!(Evenness::judge(-5.0, -2.1, 2.0), Evenness::Uneven);
        for verdict in [Evenness::Even, Evenness::Uneven, Evenness::Undecided] {
            assert_eq!(Evenness::of(verdict.value()), verdict);
        }
    }
}
