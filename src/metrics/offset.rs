//! How much colder or warmer each room is than the heated rooms, how sure that is, and what it would be in the design cold.
//!
//! Settled here, and why:
//! - **No interval below seven days**, and no verdict.

use std::ops::Range;

use super::distribution::DAY_COVERAGE;
use super::{Compute, Family, HomeScope, Interval, IntervalKind, Measured, Metric};
use crate::site::{Heated, Room};
use crate::stats::{self, Line};

pub(super) static FAMILY: Family = Family { metrics: METRICS, compute: Compute::Home(offsets) };

metrics! {
    OFFSET_FROM_HEATED_MEAN = Metric {
        id: "offset_from_heated_mean",
        unit: "K",
        definition: "mean over local days, with values for at least 75 % of the day's hours in the slice, of the day's mean difference between the room and the mean of the heated rooms at the same instant (for a heated room: of the other heated rooms), at instants with the quorum of a spread; from 7 days on low and high are its 90 % interval: mean ± t(ν) times the root of the sum of two squared errors, that of the mean over days (offset_standard_error, and no less than days as alike as these ask for) and that of the sensors (their 95 % half-widths / 1.96)",
        source: "own definition; interval: W. K. Newey, K. D. West, Econometrica 55 (1987); days worth n (1 − r)/(1 + r); combined and ν as in JCGM 100:2008 (GUM), G.4.1",
    };
    OFFSET_STANDARD_ERROR = Metric {
        id: "offset_standard_error",
        unit: "K",
        definition: "standard error of offset_from_heated_mean over days that follow each other: Bartlett kernel, lag ⌊4 (n/100)^(2/9)⌋, small-sample factor n/(n − 1); sensor error is not in it",
        source: "W. K. Newey, K. D. West, Econometrica 55 (1987)",
    };
    EVENNESS_VERDICT = Metric {
        id: "evenness_verdict",
        unit: "1",
        definition: "for an unheated room: 1 (even) where the 90 % interval of its offset lies inside ± the site's margin, −1 (uneven) where it lies wholly outside, else 0 (undecided); fewer than 7 whole days are always undecided",
        source: "two one-sided tests: D. J. Schuirmann, Journal of Pharmacokinetics and Biopharmaceutics 15 (1987)",
    };
    OFFSET_AT_DESIGN = Metric {
        id: "offset_at_design",
        unit: "K",
        definition: "the room's daily offset from the heated rooms at the site's design outdoor temperature, on the line through the daily offsets against the daily mean outdoor temperature (ordinary least squares), with the 95 % prediction interval for one day, widened by the sensor accuracy (root of the sum of squares); not given for fewer than 10 days or an outdoor range under 5 K; extrapolated where no day was as cold",
        source: "own definition",
    };
}

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
        let means = whole_day_means(&series_of_day(scope, day), *whole);
        let outdoor = means.get(rooms).copied().flatten().map(|(mean, _)| mean);
        for (days, mean) in days_of.iter_mut().zip(means) {
            days.extend(mean.map(|(offset, instants)| Day { offset, instants, outdoor }));
        }
    }
    let seen: Vec<bool> = (0..rooms).map(|r| scope.room(r).instants_observed() > 0).collect();
    for (room, days) in days_of.iter().enumerate() {
        room_offset(scope, room, &seen, days, out);
    }
}

/// On a day, for each room its difference from the heated rooms; then the outdoor temperature, if it is known.
fn series_of_day(scope: &HomeScope<'_>, day: &[Range<usize>]) -> Vec<Vec<f64>> {
    let together = scope.together();
    let of_room = |(room, of_roster): (usize, &Room)| -> Vec<f64> {
        let differences =
            |r: &Range<usize>| together.differences(scope.degc(room), of_roster.heated.surely(), r.clone());
        let mut all = Vec::with_capacity(day.iter().map(Range::len).sum());
        day.iter().for_each(|r| all.extend(differences(r)));
        all
    };
    let outdoor = scope.aligned().outdoor();
    let outdoor = outdoor.map(|o| day.iter().flat_map(|r| &o[r.clone()]).copied().collect());
    scope.rooms().iter().enumerate().map(of_room).chain(outdoor).collect()
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
            out.value_within(Some(room), &OFFSET_FROM_HEATED_MEAN, mean, interval, observed);
            out.value(Some(room), &OFFSET_STANDARD_ERROR, sure.error, observed);
        }
        _ => out.value(Some(room), &OFFSET_FROM_HEATED_MEAN, mean, observed),
    }
    if scope.rooms()[room].heated == Heated::No {
        let margin = scope.site().spread.margin.k();
        let doubtful = |r: usize| scope.room(r).mostly_doubtful();
        let rests_on = (0..scope.rooms().len()).filter(|r| *r == room || scope.rooms()[*r].heated.surely());
        let verdict = match interval.map(|i| Evenness::judge(i.low, i.high, margin)) {
            // No pass rests on a room that is suspect for more than a tenth of its time.
            Some(Evenness::Even) if rests_on.into_iter().any(doubtful) => Evenness::Undecided,
            verdict => verdict.unwrap_or(Evenness::Undecided),
        };
        out.value(Some(room), &EVENNESS_VERDICT, verdict.value(), observed);
    }
    if let Some((value, interval)) = at_design(scope, days, sensors) {
        let on_line = hours(&mut days.iter().filter(|d| d.outdoor.is_some()));
        out.value_within(Some(room), &OFFSET_AT_DESIGN, value, interval, on_line);
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
    let others: Vec<usize> = (0..scope.rooms().len())
        .filter(|r| *r != room && scope.rooms()[*r].heated.surely() && seen[*r])
        .collect();
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

/// Series that are added up side by side, so that one addition need not wait for another.
const SIDE: usize = 4;

/// For each series of a day, all of one length, its mean and how many values it has, NaN where missing; `None` unless they
/// are at least 75 % of the day's instants.
fn whole_day_means(series: &[Vec<f64>], whole: usize) -> Vec<Option<(f64, usize)>> {
    let mean = |(count, sum): (f64, f64)| {
        let enough = count > 0.0 && count >= DAY_COVERAGE * whole as f64;
        enough.then(|| (sum / count, count as usize))
    };
    // Where there is no fourth beside others, the last is added up again.
    let group = |group: &[Vec<f64>]| {
        let sums = counts_and_sums(std::array::from_fn(|k| &*group[k.min(group.len() - 1)]));
        sums.into_iter().take(group.len()).map(mean).collect::<Vec<_>>()
    };
    series.chunks(SIDE).flat_map(group).collect()
}

/// How many values series of one length have, and their sums.
fn counts_and_sums([a, b, c, d]: [&[f64]; SIDE]) -> [(f64, f64); SIDE] {
    let (mut counts, mut sums) = ([0.0; SIDE], [0.0; SIDE]);
    for (((a, b), c), d) in a.iter().zip(b).zip(c).zip(d) {
        let values = [*a, *b, *c, *d];
        for side in 0..SIDE {
            let is_missing = values[side].is_nan();
            counts[side] += if is_missing { 0.0 } else { 1.0 };
            sums[side] += if is_missing { 0.0 } else { values[side] };
        }
    }
    std::array::from_fn(|side| (counts[side], sums[side]))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn series_side_by_side_have_the_means_of_each() {
        let value = |k: usize| if k % 7 == 3 { f64::NAN } else { (k * 7919 % 101) as f64 / 9.0 };
        for count in [0, 1, 3, 4, 7] {
            let series: Vec<Vec<f64>> =
                (0..count).map(|s| (0..50).map(|i| value(s * s * 29 + i)).collect()).collect();
            let each = series.iter().map(|values| {
                let there = values.iter().filter(|x| !x.is_nan());
                Some((there.clone().sum::<f64>() / there.clone().count() as f64, there.count()))
            });
            assert_eq!(whole_day_means(&series, 50), each.collect::<Vec<_>>());
            assert!(whole_day_means(&series, 60).iter().all(Option::is_none), "43 of 60 are too few");
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
