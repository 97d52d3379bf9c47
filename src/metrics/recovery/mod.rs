//! How long rooms take to be warm again after a setback. Recoveries that were cut off count as cut off, never as none.

mod at_design;
mod follow;
mod found;
mod interval;
mod mornings;

use super::lag::UNSURE;
use super::{
    Compute, EventKind, Family, HomeScope, Interval, IntervalKind, Measured, Metric, RoomEvent, Slice,
};
use crate::clock::{HOUR_MS, Span, UtcTime};
use crate::site::{Room, Site};
use crate::stats;
use follow::{Course, Followed, Recovery, SetbackEnd};
pub(super) use found::falls;
use interval::Times;
pub(super) use mornings::mornings;
pub use mornings::{Morning, Mornings};

pub(super) static FAMILY: Family = Family { metrics: METRICS, compute: Compute::Home(recoveries) };

const OWN: &str = "own definition";
const SURVIVAL: &str = "E. L. Kaplan, P. Meier, Journal of the American Statistical Association 53 (1958); interval: M. Greenwood (1926) on the scale of log(−log S)";

metrics! {
    RECOVERY_EVENTS = Metric {
        id: "recovery_events",
        unit: "1",
        definition: "setbacks after which the room was colder than the line (target minus tolerance) when recovery began, so that it had to recover",
        source: OWN,
    };
    RECOVERIES_CUT_OFF = Metric {
        id: "recoveries_cut_off",
        unit: "1",
        definition: "recovery_events that did not reach the line within 6 h, before the next setback or before a hole in the record: censored then, never dropped and never called recovered",
        source: OWN,
    };
    NO_SETBACK = Metric {
        id: "no_setback",
        unit: "1",
        definition: "setbacks after which the room was at the line or above when recovery began: nothing to recover from",
        source: OWN,
    };
    RECOVERY_MEDIAN = Metric {
        id: "recovery_median",
        unit: "h",
        definition: "time from the start of recovery by which half of the recovery_events were at the line and stayed there for 15 min; low and high: the 95 % interval of the curve, its error grown for mornings that resemble their neighbours, averaged over the errors that the sensor may have (the line moved by each, weighed as normal errors of that accuracy), low earlier by what the loggers trail at most (1.3 of the largest stated time constant, 15 min where none is stated); no interval for fewer than 7 mornings; no row: the curve does not go so low; no high: nor does the end of its interval, too few mornings reached the line for that, and low is then the one-sided 95 % end",
        source: SURVIVAL,
    };
    RECOVERY_P90 = Metric {
        id: "recovery_p90",
        unit: "h",
        definition: "as recovery_median, for nine of ten; fewer than 46 mornings never give a high",
        source: SURVIVAL,
    };
    WARM_UP_RATE = Metric {
        id: "warm_up_rate",
        unit: "K/h",
        definition: "median over recoveries that reached the line of (line minus temperature at the start) / recovery time; slow ones that were cut off are not in it",
        source: OWN,
    };
    OVERSHOOT = Metric {
        id: "overshoot",
        unit: "K",
        definition: "median over recoveries that reached the line of the largest excess over the target within 2 h after, 0 where there is none",
        source: OWN,
    };
    RECOVERY_OUTDOOR_SPLIT = Metric {
        id: "recovery_outdoor_split",
        unit: "°C",
        definition: "median over recovery_events of the mean outdoor temperature in the 6 h from the start of recovery: parts colder from milder mornings",
        source: OWN,
    };
    RECOVERY_MEDIAN_COLDER = Metric {
        id: "recovery_median_colder",
        unit: "h",
        definition: "recovery_median of the recovery_events at or under recovery_outdoor_split, from 5 events on",
        source: SURVIVAL,
    };
    RECOVERY_MEDIAN_MILDER = Metric {
        id: "recovery_median_milder",
        unit: "h",
        definition: "recovery_median of the recovery_events over recovery_outdoor_split, from 5 events on",
        source: SURVIVAL,
    };
    RECOVERY_AT_DESIGN = Metric {
        id: "recovery_at_design",
        unit: "h",
        definition: "median recovery time at the site's design outdoor temperature: logarithms of the recovery times on a line on the mean outdoor temperature of the 6 h from their start, normal around it, those that were cut off taken as longer (log-normal accelerated failure time); low and high: the 95 % prediction interval of one morning, its line less sure for mornings that resemble their neighbours, with what the sensor accuracy does to the times, low earlier by what the loggers trail at most, as for recovery_median; from 10 recoveries with 5 K of outdoor range on, no row where high is beyond 48 h; extrapolated where no morning was as cold",
        source: "D. R. Cox, D. Oakes, Analysis of Survival Data (1984), from memory",
    };
    LATE_RECOVERIES = Metric {
        id: "late_recoveries",
        unit: "%",
        definition: "share of the mornings after a setback on which the room was not at the line within the site's time ([recovery] within; where it gives none, a quarter of the length of the setback, at most 4 h); mornings cut off before that time are left out; low and high with the line moved by the sensor accuracy: certainly and possibly late; upwards no further than the tolerance under the level that the room usually has once the granted time is over: a level that it never goes to is told by its hours below the band",
        source: "own definition; no published limit was found",
    };
    RECOVERIES_UNKNOWN = Metric {
        id: "recoveries_unknown",
        unit: "1",
        definition: "setbacks at whose end a logger stood in the room but gave no value (or, where they are found in the data, there is no target), so that nothing is known of them",
        source: OWN,
    };
    SETBACKS_FOUND = Metric {
        id: "setbacks_found",
        unit: "1",
        definition: "for a home whose site file has no setback: falls of the heated rooms' mean (30 min median filter) by 1.5 K or more within 10 h, followed by a rise as large; the target is the room's median in the 6 h before the fall",
        source: OWN,
    };
}
/// A recovery that takes longer is cut off here.
const LONGEST_H: i64 = 6;
/// Longest time that a room is granted where the site does not say.
const LONGEST_GRANTED_H: f64 = 4.0;
/// Events from which a median of one half of them is given.
const LEAST_OF_HALF: usize = 5;

fn recoveries(scope: &HomeScope<'_>, out: &mut Measured) {
    let aligned = scope.aligned();
    if scope.slice() != Slice::All || aligned.is_empty() {
        return;
    }
    let in_data = scope.site().setbacks.is_empty();
    let ends = ends(scope);
    if in_data && !ends.is_empty() {
        let hours = scope.ranges().iter().map(|r| r.len()).sum::<usize>() as f64 * aligned.step_h();
        out.value(None, &SETBACKS_FOUND, ends.len() as f64, hours);
    }
    for room in 0..scope.rooms().len() {
        let courses: Vec<Course<'_>> = ends.iter().filter_map(|end| Course::of(scope, room, end)).collect();
        if !courses.is_empty() {
            let tolerances = [scope.room(room).accuracy_k(), scope.site().recovery.tolerance.k()];
            room_rows(scope, room, tolerances, &courses, out);
        }
        let hours = scope.room(room).hours_observed();
        if hours > 0.0 && !ends.is_empty() {
            let placed = scope.room(room).placed_ranges();
            let stood = |end: &&SetbackEnd| placed.iter().any(|r| r.contains(&aligned.index_from(end.start)));
            let unknown = ends.iter().filter(stood).count().saturating_sub(courses.len());
            out.value(Some(room), &RECOVERIES_UNKNOWN, unknown as f64, hours);
        }
    }
}

/// The ends of setbacks that lie in the scope: of the site file, else found in the data.
fn ends(scope: &HomeScope<'_>) -> Vec<SetbackEnd> {
    let aligned = scope.aligned();
    let mut ends = if scope.site().setbacks.is_empty() { found::in_data(scope) } else { planned(scope) };
    let inside =
        |t: UtcTime| scope.ranges().iter().any(|r| aligned.time(r.start) <= t && t < aligned.time(r.end));
    ends.retain(|e| inside(e.start));
    ends
}

/// The ends of the setbacks in the site file.
fn planned(scope: &HomeScope<'_>) -> Vec<SetbackEnd> {
    let aligned = scope.aligned();
    let whole = Span { from: aligned.time(0), to: aligned.time(aligned.len()) };
    let nights = scope.site().setbacks_in(Span { to: whole.to.plus_ms(48 * HOUR_MS), ..whole });
    let end = |night: &crate::site::SetbackNight| {
        let latest = night.span.to.plus_ms(LONGEST_H * HOUR_MS);
        // Nights are in order of their start.
        let next = nights.get(nights.partition_point(|n| n.span.from <= night.span.to)).map(|n| n.span.from);
        SetbackEnd {
            start: night.span.to,
            until: next.map_or(latest, |next| next.min(latest)),
            late_from: late_from(scope, night.span.to, night.span.hours()),
            targets: vec![Some(night.target.degc()); scope.rooms().len()],
            outdoor_degc: outdoor_mean(scope, night.span.to),
        }
    };
    let mut ends: Vec<SetbackEnd> = nights.iter().map(end).collect();
    ends.sort_by_key(|e| e.start);
    ends.dedup_by_key(|e| e.start);
    ends
}

/// How long a room may take after a setback of some hours, in hours.
pub fn granted_h(site: &Site, setback_h: f64) -> f64 {
    site.recovery.within_h.unwrap_or((setback_h / 4.0).min(LONGEST_GRANTED_H))
}

/// From when on a room is late after a setback of some hours.
fn late_from(scope: &HomeScope<'_>, start: UtcTime, setback_h: f64) -> UtcTime {
    start.plus_ms((granted_h(scope.site(), setback_h) * HOUR_MS as f64) as i64)
}

/// Whether the room is late after a setback; `None` where it was cut off before that can be told.
fn is_late(course: &Course<'_>, raised_k: f64) -> Option<bool> {
    let granted_h = Span { from: course.end.start, to: course.end.late_from }.hours();
    match course.follow(raised_k) {
        Followed::NoSetback => Some(false),
        Followed::Recovery(r) if r.reached.is_some() || r.hours >= granted_h => {
            Some(r.hours > granted_h || r.reached.is_none())
        }
        Followed::Recovery(_) => None,
    }
}

/// Share of mornings on which the room is late, in %; `None` where no morning can tell.
fn late_share(courses: &[Course<'_>], raised_k: f64) -> Option<f64> {
    let known: Vec<bool> = courses.iter().filter_map(|course| is_late(course, raised_k)).collect();
    let late = known.iter().filter(|late| **late).count();
    (!known.is_empty()).then(|| 100.0 * late as f64 / known.len() as f64)
}

/// How far above the line a room usually is once the time that it is granted is over, in K.
fn usual_above_line_k(courses: &[Course<'_>]) -> Option<f64> {
    stats::median(courses.iter().filter_map(Course::later_above_line_k).collect())
}

/// A recovery of a room: the place of its morning among all, the room's course and what became of it.
type Seen<'c> = (usize, &'c Course<'c>, Recovery);

fn room_rows(
    scope: &HomeScope<'_>,
    room: usize,
    [accuracy_k, tolerance_k]: [f64; 2],
    courses: &[Course<'_>],
    out: &mut Measured,
) {
    let (in_data, lag_h) = (scope.site().setbacks.is_empty(), most_lag_h(&scope.rooms()[room]));
    let design = scope.site().design_outdoor.map(|design| design.degc());
    let followed = courses.iter().enumerate().map(|(k, course)| (k, course, course.follow(0.0)));
    let events: Vec<Seen<'_>> =
        followed.filter_map(|(k, course, followed)| Some((k, course, *followed.recovery()?))).collect();
    let hours: f64 = events.iter().map(|(_, _, r)| r.hours).sum();
    let cut_off = events.iter().filter(|(_, _, r)| r.reached.is_none()).count();
    for (metric, count) in [
        (&RECOVERY_EVENTS, events.len()),
        (&RECOVERIES_CUT_OFF, cut_off),
        (&NO_SETBACK, courses.len() - events.len()),
    ] {
        out.value(Some(room), metric, count as f64, hours);
    }
    let kind = if in_data { IntervalKind::SurvivalFound } else { IntervalKind::Survival };
    let times = Times::of(courses, accuracy_k);
    quantile(room, &times, (&RECOVERY_MEDIAN, 0.5), (kind, events.len(), lag_h), out);
    quantile(room, &times, (&RECOVERY_P90, 0.9), (kind, events.len(), lag_h), out);
    if let Some((value, interval)) =
        design.and_then(|t| at_design::at_design(&events, t, (accuracy_k, lag_h)))
    {
        out.value_within(Some(room), &RECOVERY_AT_DESIGN, value, interval, hours);
    }
    for (metric, value) in typical(&events) {
        if let Some(value) = value {
            out.value(Some(room), metric, value, hours);
        }
    }
    let late = |raised_k| late_share(courses, raised_k);
    let raised_k =
        usual_above_line_k(courses).map_or(accuracy_k, |k| accuracy_k.min((k - tolerance_k).max(0.0)));
    if let (Some(value), Some(low), Some(high)) = (late(0.0), late(-accuracy_k), late(raised_k)) {
        let interval =
            Interval { low: low.min(value), high: high.max(value), kind: IntervalKind::SensorAccuracy };
        out.value_within(Some(room), &LATE_RECOVERIES, value, interval, hours);
    }
    if let Some((split, halves)) = against_outdoor(&events) {
        out.value(Some(room), &RECOVERY_OUTDOOR_SPLIT, split, hours);
        for (metric, mornings) in halves {
            let of_half = (kind, mornings.len(), lag_h);
            quantile(room, &times.on(&mornings), (metric, 0.5), of_half, out);
        }
    }
    out.events.extend(events.iter().map(|(_, course, r)| RoomEvent {
        room: Some(room),
        kind: if in_data { EventKind::RecoveryFound } else { EventKind::Recovery },
        span: Span {
            from: course.end.start,
            to: course.end.start.plus_ms((r.hours * HOUR_MS as f64).round() as i64),
        },
        value: r.start_degc,
        limit: r.line,
        censored: r.reached.is_none(),
    }));
}

/// How quickly rooms that reached the line warm up, and how far beyond the target they go.
fn typical(events: &[Seen<'_>]) -> [(&'static Metric, Option<f64>); 2] {
    let reached = || events.iter().filter_map(|(_, course, r)| Some((course, r, r.reached.as_ref()?)));
    let rates = reached().map(|(_, r, _)| (r.line - r.start_degc) / r.hours);
    let overshoots = reached().map(|(course, _, reached)| course.overshoot_k(reached));
    [(&WARM_UP_RATE, stats::median(rates.collect())), (&OVERSHOOT, stats::median(overshoots.collect()))]
}

fn quantile(
    room: usize,
    times: &Times,
    (metric, p): (&'static Metric, f64),
    (kind, mornings, lag_h): (IntervalKind, usize, f64),
    out: &mut Measured,
) {
    let Some((value, low, high)) = times.quantile(p) else { return };
    if mornings < LEAST_MORNINGS {
        out.value(Some(room), metric, value, times.hours());
        return;
    }
    // The air was there before its logger.
    let interval = Interval { low: (low - lag_h).max(0.0), high, kind };
    out.value_within(Some(room), metric, value, interval, times.hours());
}

/// Mornings from which on their times have an interval.
const LEAST_MORNINGS: usize = super::offset::LEAST_DAYS;

/// By how long the loggers of a room trail its air at most, in hours: their stated time constants with what these are unsure by,
/// else what loggers in cases are known to have.
///
/// # Source
/// 15 min where nothing is stated: common practice, no published source.
fn most_lag_h(room: &Room) -> f64 {
    let stated: Option<Vec<f64>> = room.placements.iter().map(|p| p.time_constant_min).collect();
    let stated = stated.filter(|stated| !stated.is_empty());
    let min = stated.map_or(LAG_MIN, |stated| (1.0 + UNSURE) * stated.into_iter().fold(0.0, f64::max));
    min / 60.0
}

/// Longest lag of a logger of which nothing is stated, minutes.
const LAG_MIN: f64 = 15.0;

/// A metric and the places of the mornings it is about.
type Half = (&'static Metric, Vec<usize>);

/// The outdoor temperature that parts colder from milder mornings, and which mornings are in either half; `None` where
/// they are too few. Those that were cut off count in both.
fn against_outdoor(events: &[Seen<'_>]) -> Option<(f64, [Half; 2])> {
    let known: Vec<(f64, usize)> =
        events.iter().filter_map(|(k, course, _)| Some((course.end.outdoor_degc?, *k))).collect();
    let split = stats::median(known.iter().map(|k| k.0).collect())?;
    let half = |colder: bool| -> Vec<usize> {
        known.iter().filter(|k| (k.0 <= split) == colder).map(|k| k.1).collect()
    };
    let halves = [(&RECOVERY_MEDIAN_COLDER, half(true)), (&RECOVERY_MEDIAN_MILDER, half(false))];
    halves.iter().all(|(_, mornings)| mornings.len() >= LEAST_OF_HALF).then_some((split, halves))
}

/// Mean outdoor temperature of the [`LONGEST_H`] from the start of recovery, however long it lasted: the same for slow and quick rooms.
fn outdoor_mean(scope: &HomeScope<'_>, start: UtcTime) -> Option<f64> {
    let aligned = scope.aligned();
    let window = aligned.index_from(start)..aligned.index_from(start.plus_ms(LONGEST_H * HOUR_MS));
    let values: Vec<f64> =
        aligned.outdoor()?[window.clone()].iter().copied().filter(|x| !x.is_nan()).collect();
    (values.len() * 4 >= window.len() * 3).then(|| stats::mean(&values)).flatten()
}
