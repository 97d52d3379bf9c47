//! How much colder or warmer each room is than the heated rooms, how sure that is, and what it would be in the design cold.
//!
//! Settled here, and why:
//! - **No interval below seven days**, and no verdict.
//! - **Heated rooms** are judged too, each against the others: a home whose bedroom is kept 5 K warmer is not even.

use std::ops::Range;

use super::limits::DAY_COVERAGE;
use super::reference::References;
use super::{Compute, Family, HomeScope, Interval, IntervalKind, Measured, Metric, Parts, Slice};
use crate::site::Heated;
use crate::stats::{self, DayLine, OverDays};

pub(super) static FAMILY: Family = Family { metrics: METRICS, compute: Compute::Home(offsets) };

metrics! {
    OFFSET_FROM_REFERENCE = Metric {
        id: "offset_from_reference",
        unit: "K",
        definition: "mean over local days, with values for at least 75 % of the day's hours in the slice, of the day's mean difference between the room and the reference at the same instant: the median of the heated rooms whose record stands, for one of them the median of the others; at instants with the quorum of a spread; from 7 days on low and high are its 90 % interval: mean ± t(ν) times the root of the sum of two squared errors, that of the mean over days at the record's mean outdoor temperature (from 14 days with 5 K of outdoor range on, of what a straight line on the outdoor temperature leaves, else of the days as they are; offset_standard_error, and no less than days as alike as these ask for) and that of the sensors (the room's 95 % half-width, and those of the reference's rooms, each by the share of the time in which the median is that room's, as the root of the sum of squares, / 1.96); no row where there is no reference (reference_rooms is 0, or reference_apart has a row)",
        source: "own definition; interval: W. K. Newey, K. D. West, Econometrica 55 (1987); days worth n (1 − r)/(1 + r); combined and ν as in JCGM 100:2008 (GUM), G.4.1",
    };
    OFFSET_STANDARD_ERROR = Metric {
        id: "offset_standard_error",
        unit: "K",
        definition: "standard error of offset_from_reference over days that follow each other: Bartlett kernel, lag ⌊4 (n/100)^(2/9)⌋, small-sample factor n/(n − 1), or n/(n − 2) where a line on the outdoor temperature was taken out; sensor error is not in it",
        source: "W. K. Newey, K. D. West, Econometrica 55 (1987)",
    };
    EVENNESS_VERDICT = Metric {
        id: "evenness_verdict",
        unit: "1",
        definition: "1 (even) where the 90 % interval of the room's offset_from_reference lies inside ± the site's margin, −1 (uneven) where it lies wholly outside, else 0 (undecided); fewer than 7 whole days are always undecided; no row where there is no reference, or nobody knows whether the room is heated",
        source: "two one-sided tests: D. J. Schuirmann, Journal of Pharmacokinetics and Biopharmaceutics 15 (1987)",
    };
    EVEN_P = Metric {
        id: "even_p",
        unit: "1",
        definition: "p value of the verdict even: the larger of those of two one-sided tests of the room's offset_from_reference against − and + the site's margin, with the error and degrees of freedom of its interval; under 0.05 where that lies inside the margin, over 0.95 where it lies outside (the p value of uneven is 1 less this one); no nearer to 0 and to 1 than 0.000001, for nobody knows a distribution so far out; doubts about records are not in it; no row where there is no interval or no verdict",
        source: "two one-sided tests: D. J. Schuirmann, Journal of Pharmacokinetics and Biopharmaceutics 15 (1987)",
    };
    REFERENCE_ROOMS = Metric {
        id: "reference_rooms",
        unit: "1",
        definition: "heated rooms whose record stands (no jump, drift or heat on its logger beside the other rooms, no more than a tenth of it suspect), the room itself left out, with values for at least half as long as the one that has most: what offset_from_reference holds the room against",
        source: "own definition",
    };
    IN_REFERENCE = Metric {
        id: "in_reference",
        unit: "1",
        definition: "of a heated room: 1 where its record stands, so that it is one of those whose median is the reference of the home, else 0",
        source: "own definition",
    };
    REFERENCE_APART = Metric {
        id: "reference_apart",
        unit: "K",
        definition: "mean over local days of the distance between the two rooms in the middle of an even number of reference_rooms, with its 90 % interval; given only where it is surely over the site's margin: rooms so far apart are no reference",
        source: "own definition; interval as of offset_from_reference",
    };
    OFFSET_AT_DESIGN = Metric {
        id: "offset_at_design",
        unit: "K",
        definition: "the room's daily offset from the reference at the site's design outdoor temperature, on the line through the daily offsets against the daily mean outdoor temperature (ordinary least squares), with the 95 % prediction interval for one day, its line less sure for days that resemble their neighbours, widened by the sensor accuracy (root of the sum of squares); not given for fewer than 10 days or an outdoor range under 5 K; extrapolated where no day was as cold",
        source: "own definition",
    };
}

/// Share of the intervals of the mean that hold the truth.
pub(super) const CONFIDENCE: f64 = 0.9;
/// A p value is told no nearer to 0, and to 1, than this.
const NEAREST_P: f64 = 1e-6;
/// Standard deviations in the half-width of 95 % of a normal value.
pub(super) const NORMAL_95: f64 = 1.959964;
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
#[derive(Debug)]
pub(super) struct Day {
    pub(super) offset: f64,
    pub(super) instants: usize,
    pub(super) outdoor: Option<f64>,
}

/// A room's offsets from the reference.
#[derive(Debug)]
pub(super) struct RoomOffsets {
    /// Whole days, in order.
    pub(super) days: Vec<Day>,
    /// What the sensors may do to each, 95 % half-width.
    pub(super) sensors: f64,
    /// Rooms that it is held against.
    rooms: Vec<usize>,
    /// How far these are apart, where that is too far for a reference.
    apart: Option<(f64, Interval)>,
}

impl RoomOffsets {
    /// For each room of a scope.
    pub(super) fn of(scope: &HomeScope<'_>) -> Vec<Self> {
        let rooms = scope.rooms().len();
        let references = References::of(scope);
        let mut days_of: Vec<Vec<Day>> = (0..rooms).map(|_| Vec::new()).collect();
        for (day, whole) in scope.days() {
            let means = whole_day_means(&series_of_day(scope, &references, day), *whole);
            let outdoor = means.get(rooms).copied().flatten().map(|(mean, _)| mean);
            for (days, mean) in days_of.iter_mut().zip(means) {
                days.extend(mean.map(|(offset, instants)| Day { offset, instants, outdoor }));
            }
        }
        let of_room = |(room, days): (usize, Vec<Day>)| Self {
            sensors: references.sensor_half_width(room),
            rooms: references.rooms_for(room),
            apart: if days.is_empty() { None } else { references.surely_apart(room) },
            days,
        };
        days_of.into_iter().enumerate().map(of_room).collect()
    }

    /// Days with their outdoor temperature; `None` where there is no reference.
    pub(super) fn held(&self) -> Option<Vec<(f64, Option<f64>)>> {
        let days = || self.days.iter().map(|d| (d.offset, d.outdoor));
        (self.apart.is_none() && !self.days.is_empty()).then(|| days().collect())
    }

    /// Hours of the days that have the offset; `outdoor`: of those with an outdoor temperature.
    pub(super) fn hours(&self, scope: &HomeScope<'_>, outdoor: bool) -> f64 {
        let days = self.days.iter().filter(|d| !outdoor || d.outdoor.is_some());
        days.map(|d| d.instants).sum::<usize>() as f64 * scope.aligned().step_h()
    }

    /// The line through the offsets on the outdoor temperature, and the days as points; `None` where the record cannot carry it.
    pub(super) fn line(&self) -> Option<(DayLine, Vec<(f64, f64)>)> {
        let points: Vec<(f64, f64)> = self.days.iter().filter_map(|d| Some((d.outdoor?, d.offset))).collect();
        let line = carried(&points).then(|| DayLine::fit(&points)).flatten()?;
        self.apart.is_none().then_some((line, points))
    }
}

/// Whether days and their outdoor temperatures are enough for a line.
pub(super) fn carried(points: &[(f64, f64)]) -> bool {
    let coldest = points.iter().map(|p| p.0).fold(f64::INFINITY, f64::min);
    let mildest = points.iter().map(|p| p.0).fold(f64::NEG_INFINITY, f64::max);
    points.len() >= LINE_DAYS && mildest - coldest >= LINE_RANGE_K
}

fn offsets(scope: &HomeScope<'_>, out: &mut Measured) {
    let references = References::of(scope);
    for (room, offsets) in scope.offsets().iter().enumerate() {
        let hours = scope.room(room).hours_observed();
        if hours > 0.0 {
            out.value(Some(room), &REFERENCE_ROOMS, offsets.rooms.len() as f64, hours);
            if scope.rooms()[room].heated.surely() && scope.slice() == Slice::All {
                let serves = if references.serves(room) { 1.0 } else { 0.0 };
                out.value(Some(room), &IN_REFERENCE, serves, hours);
            }
        }
        room_offset(scope, room, offsets, out);
    }
}

/// On a day, for each room its difference from the reference; then the outdoor temperature, if it is known.
fn series_of_day(scope: &HomeScope<'_>, references: &References<'_>, day: &[Range<usize>]) -> Vec<Vec<f64>> {
    let together = scope.together();
    let of_room = |room: usize| -> Vec<f64> {
        let serves = references.serves(room);
        let differences = |r: &Range<usize>| together.differences(scope.degc(room), serves, r.clone());
        let mut all = Vec::with_capacity(day.iter().map(Range::len).sum());
        day.iter().for_each(|r| all.extend(differences(r)));
        all
    };
    let outdoor = scope.aligned().outdoor();
    let outdoor = outdoor.map(|o| day.iter().flat_map(|r| &o[r.clone()]).copied().collect());
    (0..scope.rooms().len()).map(of_room).chain(outdoor).collect()
}

fn room_offset(scope: &HomeScope<'_>, room: usize, offsets: &RoomOffsets, out: &mut Measured) {
    let observed = offsets.hours(scope, false);
    if let Some((apart, interval)) = offsets.apart {
        out.value_within(Some(room), &REFERENCE_APART, apart, interval, observed);
    }
    let Some(days) = offsets.held() else { return };
    let Some(mean) = stats::mean(&days.iter().map(|d| d.0).collect::<Vec<_>>()) else { return };
    let sure = Sure::of(&days, mean, offsets.sensors);
    match &sure {
        Some(sure) => {
            let interval = (sure.interval, sure.parts);
            out.value_of_parts(Some(room), &OFFSET_FROM_REFERENCE, mean, interval, observed);
            out.value(Some(room), &OFFSET_STANDARD_ERROR, sure.over_days.newey_west, observed);
        }
        None => out.value(Some(room), &OFFSET_FROM_REFERENCE, mean, observed),
    }
    if scope.rooms()[room].heated != Heated::Unknown {
        if let Some(p) =
            sure.as_ref().filter(|_| scope.slice() == Slice::All).and_then(|sure| sure.even_p(mean, scope))
        {
            out.value(Some(room), &EVEN_P, p, observed);
        }
        let verdict = verdict(scope, room, offsets, sure.map(|sure| sure.interval));
        out.value(Some(room), &EVENNESS_VERDICT, verdict.value(), observed);
    }
    if let Some((value, interval)) = at_design(scope, offsets) {
        let on_line = offsets.hours(scope, true);
        out.value_of_parts(Some(room), &OFFSET_AT_DESIGN, value, interval, on_line);
    }
}

fn verdict(
    scope: &HomeScope<'_>,
    room: usize,
    offsets: &RoomOffsets,
    interval: Option<Interval>,
) -> Evenness {
    let doubtful = |r: usize| scope.room(r).mostly_doubtful();
    let mut rests_on = offsets.rooms.iter().copied().chain([room]);
    match interval.map(|i| Evenness::judge(i.low, i.high, scope.site().spread.margin.k())) {
        // No pass rests on a room that is suspect for more than a tenth of its time.
        Some(Evenness::Even) if rests_on.any(doubtful) => Evenness::Undecided,
        verdict => verdict.unwrap_or(Evenness::Undecided),
    }
}

/// How sure a mean over days is.
pub(super) struct Sure {
    /// The 90 % interval.
    pub(super) interval: Interval,
    /// What the days and the sensors have in it.
    pub(super) parts: Parts,
    /// The error of the mean over days.
    pub(super) over_days: OverDays,
}

impl Sure {
    /// Of daily values with their outdoor temperatures, their mean and a sensor error (95 % half-width); `None` below 7 days.
    pub(super) fn of(days: &[(f64, Option<f64>)], mean: f64, sensors: f64) -> Option<Self> {
        let over_days = stats::over_days(days).filter(|_| days.len() >= LEAST_DAYS)?;
        let OverDays { error, effective, .. } = over_days;
        let half = stats::combined_half_width(error, effective, sensors / NORMAL_95, CONFIDENCE);
        let interval = Interval { low: mean - half, high: mean + half, kind: IntervalKind::OverDays };
        let parts = Parts { sensor: Some(sensors), days: Some(days_half_width(over_days, 0.95)?) };
        Some(Self { interval, parts, over_days })
    }

    /// How likely a mean this far inside the margin would be, did it lie at the margin.
    fn even_p(&self, mean: f64, scope: &HomeScope<'_>) -> Option<f64> {
        let (OverDays { error, effective, .. }, margin) = (self.over_days, scope.site().spread.margin.k());
        let (error, degrees) = stats::combined_error(error, effective, self.parts.sensor? / NORMAL_95);
        // So many degrees are none to speak of; a limit that is infinite has no distribution.
        let tests = stats::two_one_sided(mean, error, degrees.min(1e6), margin);
        tests.map(|tests| tests.p.clamp(NEAREST_P, 1.0 - NEAREST_P))
    }
}

/// Half the interval of a mean over days, for the days alone.
pub(super) fn days_half_width(over_days: OverDays, confidence: f64) -> Option<f64> {
    Some(stats::t_quantile((1.0 + confidence) / 2.0, over_days.effective - 1.0)? * over_days.error)
}

/// The offset in the design cold, with its prediction interval.
fn at_design(scope: &HomeScope<'_>, offsets: &RoomOffsets) -> Option<(f64, (Interval, Parts))> {
    let design = scope.site().design_outdoor?.degc();
    let (line, points) = offsets.line()?;
    let coldest = points.iter().map(|p| p.0).fold(f64::INFINITY, f64::min);
    let value = line.at(design);
    let days = line.one_day(design, 0.95)?;
    Some((value, of_one_day(value, days, offsets.sensors, design < coldest)))
}

/// The 95 % interval of one day, of what days and sensors leave open (half-widths).
pub(super) fn of_one_day(value: f64, days: f64, sensors: f64, beyond: bool) -> (Interval, Parts) {
    let half = days.hypot(sensors);
    let kind = if beyond { IntervalKind::PredictionBeyond } else { IntervalKind::Prediction };
    let interval = Interval { low: value - half, high: value + half, kind };
    (interval, Parts { sensor: Some(sensors), days: Some(days) })
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
