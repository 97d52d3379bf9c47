//! How quickly a room cools without heat, and how long it lasts above dangerous cold.
//!
//! Settled here, and why:
//! - **Free falls only**: a fall counts where its second half is as steep, for its distance from outdoors, as its first: within a
//!   third. In a real house the nights of one room gave 46 h in their first two hours and 81 h in their last, because something
//!   heated again: no constant is read from such nights.
//! - **Not before**: what is left until 16 °C is told by the lower end of the room's level, which loses at once what it loses in
//!   its quick first hour, and by the smallest lower end of the home's time constants: on a night one room is kept warm by another,
//!   in an outage they pull each other along. By its own constant one room of six was at 16 °C a tenth sooner than told.

use std::ops::Range;

use super::heating::Heating;
use super::{
    Compute, Family, HomeScope, Interval, IntervalKind, Measured, Metric, Parts, Slice, outage, recovery,
};
use crate::clock::Span;
use crate::stats::{self, Line};

pub(super) static FAMILY: Family = Family { metrics: METRICS, compute: Compute::Home(cooling) };

const FIRST_ORDER: &str = "own definition; first-order cooling, for example R. K. Nagle, E. B. Saff, A. D. Snider, Fundamentals of Differential Equations, 3.3";

metrics! {
    COOLING_TIME_CONSTANT = Metric {
        id: "cooling_time_constant",
        unit: "h",
        definition: "time in which a room without heat comes by 63 % nearer to outdoors: median over its free falls (setbacks and times without heat; 4 h and 1 K or more, never rising by more than 0.2 K, the first hour left out, both halves alike within a third) of the time constant of a line through the logarithm of its distance from the mean outdoor temperature; from 5 falls on, low and high: the 95 % interval of the median (of five falls their ends), widened by what the sensor accuracy does to the distance; a constant of such nights: gains and neighbours make it long, the quick first hours would make it short",
        source: FIRST_ORDER,
    };
    COOLING_FALLS = Metric {
        id: "cooling_falls",
        unit: "1",
        definition: "free falls that cooling_time_constant rests on, or would rest on; no row where the record has none of the length and depth that it asks for, free or not",
        source: "own definition",
    };
    HOURS_TO_16 = Metric {
        id: "hours_to_16",
        unit: "h",
        definition: "an estimate: without heat the room is at 16 °C no sooner than after so many hours, from its mean level of the last 7 days less the sensor accuracy and less what it loses in the quick first hour (median of its falls), at the site's design outdoor temperature, with the smallest lower end of cooling_time_constant in the home, because rooms without heat pull each other along",
        source: FIRST_ORDER,
    };
    HOURS_TO_5 = Metric {
        id: "hours_to_5",
        unit: "h",
        definition: "as hours_to_16, to 5 °C; given only where a free fall of 6 h or more was recorded",
        source: FIRST_ORDER,
    };
}

/// What a fall must have.
const LEAST_H: f64 = 4.0;
const LEAST_K: f64 = 1.0;
/// It may rise by no more than this on its way.
const NOISE_K: f64 = 0.2;
/// What is left out at its start, and in which time after the heat went off it may begin.
const FIRST_H: f64 = 1.0;
const BEGINS_H: f64 = 2.0;
/// Nearer to outdoors its logarithm says nothing.
const APART_K: f64 = 3.0;
/// How much steeper one half may be than the other.
const ALIKE: f64 = 1.5;
/// Falls from which there is a median.
const LEAST_FALLS: usize = 5;
/// A fall so long tells of the slow walls too.
const LONG_H: f64 = 6.0;
/// The level that a room has at present is that of so many hours.
const PRESENT_H: f64 = 168.0;

/// One fall without heat.
struct Fall {
    /// In hours.
    constant: f64,
    /// From its start to its end, in hours.
    length_h: f64,
    /// How far above outdoors it was on the mean, in K.
    apart_k: f64,
    /// By how much it fell in the first hour, in K.
    first_k: f64,
    is_free: bool,
}

fn cooling(scope: &HomeScope<'_>, out: &mut Measured) {
    let Some(outdoor) = scope.aligned().outdoor().filter(|_| scope.slice() == Slice::All) else { return };
    let nights = without_heat(scope);
    let of_room = |room: usize| {
        let own = outage::found(scope).iter().filter(|(of, _)| of.is_none_or(|of| of == room));
        // What falls behind in the cold is no free fall.
        let free = own.flat_map(|(_, low)| low).filter(|low| low.heating != Heating::AtItsLimit);
        let times = nights.iter().chain(free.map(|low| &low.at));
        let falls = apart(times).into_iter().filter_map(|at| Fall::of(scope, room, outdoor, &at));
        falls.collect::<Vec<_>>()
    };
    let falls: Vec<Vec<Fall>> = (0..scope.rooms().len()).map(of_room).collect();
    let cools: Vec<Option<Cools>> = falls
        .iter()
        .enumerate()
        .map(|(room, falls)| Cools::of(falls, scope.room(room).accuracy_k()))
        .collect();
    let quickest = cools.iter().flatten().map(|cools| cools.interval.low).fold(f64::INFINITY, f64::min);
    for (room, (falls, cools)) in falls.iter().zip(&cools).enumerate() {
        let free = falls.iter().filter(|fall| fall.is_free).count();
        if !falls.is_empty() {
            let hours = falls.iter().map(|fall| fall.length_h).sum();
            out.value(Some(room), &COOLING_FALLS, free as f64, hours);
        }
        if let Some(cools) = cools {
            let (median, interval) = (cools.median, (cools.interval, cools.parts));
            out.value_of_parts(Some(room), &COOLING_TIME_CONSTANT, median, interval, cools.hours);
            report_hours(scope, room, cools, quickest, out);
        }
    }
}

/// What the free falls of a room say.
struct Cools {
    median: f64,
    interval: Interval,
    parts: Parts,
    /// By how much it falls in its first hour, in K.
    first_k: f64,
    /// Whether one of them tells of the slow walls too.
    long: bool,
    hours: f64,
}

impl Cools {
    /// `None` where they are too few, or most falls are not free: else it is the others that tell what such nights are.
    fn of(falls: &[Fall], accuracy_k: f64) -> Option<Self> {
        let free: Vec<&Fall> = falls.iter().filter(|fall| fall.is_free).collect();
        if free.len() < LEAST_FALLS || 2 * free.len() < falls.len() {
            return None;
        }
        let (median, low, high) =
            stats::median_interval(&free.iter().map(|fall| fall.constant).collect::<Vec<_>>())?;
        let apart = free.iter().map(|fall| fall.apart_k).sum::<f64>() / free.len() as f64;
        let sensor = median * accuracy_k / apart;
        Some(Self {
            median,
            interval: Interval {
                low: median - (median - low).hypot(sensor),
                high: median + (high - median).hypot(sensor),
                kind: IntervalKind::OverNights,
            },
            parts: Parts { sensor: Some(sensor), days: Some((high - low) / 2.0) },
            first_k: stats::median(free.iter().map(|fall| fall.first_k).collect()).unwrap_or(0.0).max(0.0),
            long: free.iter().any(|fall| fall.length_h >= LONG_H),
            hours: free.iter().map(|fall| fall.length_h).sum(),
        })
    }
}

/// `quickest`: the lower end of the home's smallest time constant.
fn report_hours(scope: &HomeScope<'_>, room: usize, cools: &Cools, quickest: f64, out: &mut Measured) {
    let Some((level, design)) = level(scope, room).zip(scope.site().design_outdoor) else { return };
    let lost = scope.room(room).accuracy_k() + cools.first_k;
    for (metric, limit, is_told) in [(&HOURS_TO_16, 16.0, true), (&HOURS_TO_5, 5.0, cools.long)] {
        let until = hours_to(level - lost, design.degc(), limit, quickest);
        if let Some(until) = until.filter(|_| is_told) {
            out.value(Some(room), metric, until, cools.hours);
        }
    }
}

/// Hours until a room that cools with a time constant is at a limit; `None` where it is there already, or never gets there.
fn hours_to(level: f64, outdoor: f64, limit: f64, constant: f64) -> Option<f64> {
    let cools = level > limit && limit > outdoor && constant > 0.0;
    cools.then(|| constant * libm::log((level - outdoor) / (limit - outdoor)))
}

/// The room's mean over its last days.
fn level(scope: &HomeScope<'_>, room: usize) -> Option<f64> {
    let values = scope.room(room).values();
    let last = (PRESENT_H / scope.aligned().step_h()) as usize;
    stats::mean(&values[values.len().saturating_sub(last)..])
}

/// Nights on which the site file turns the heating down, within the period; without any, those that are found in the data.
fn without_heat(scope: &HomeScope<'_>) -> Vec<Range<usize>> {
    let aligned = scope.aligned();
    let Some(range) = scope.ranges().first().filter(|_| !aligned.is_empty()) else { return Vec::new() };
    if scope.site().setbacks.is_empty() {
        return recovery::falls(scope);
    }
    let whole = Span { from: aligned.time(range.start), to: aligned.time(range.end) };
    let nights = scope.site().setbacks_in(whole).into_iter();
    let nights = nights.map(|n| aligned.index_from(n.span.from)..aligned.index_from(n.span.to));
    nights.filter(|at| range.start <= at.start && at.end <= range.end).collect()
}

/// Times in order; those that lie in an earlier one are that one.
fn apart<'r>(times: impl Iterator<Item = &'r Range<usize>>) -> Vec<Range<usize>> {
    let mut all: Vec<Range<usize>> = times.cloned().collect();
    all.sort_by_key(|at| (at.start, std::cmp::Reverse(at.end)));
    let mut told: Vec<Range<usize>> = Vec::new();
    for at in all {
        match told.last_mut() {
            Some(last) if at.start < last.end => last.end = last.end.max(at.end),
            _ => told.push(at),
        }
    }
    told
}

impl Fall {
    /// The fall of a room in a time without heat; `None` where it is short, shallow or has holes.
    fn of(scope: &HomeScope<'_>, room: usize, outdoor: &[f64], at: &Range<usize>) -> Option<Self> {
        let (degc, step_h) = (scope.degc(room), scope.aligned().step_h());
        let steps = |hours: f64| (hours / step_h).round() as usize;
        let begins = at.start..(at.start + steps(BEGINS_H) + 1).min(at.end);
        let start = begins.filter(|i| !degc[*i].is_nan()).max_by(|a, b| degc[*a].total_cmp(&degc[*b]))?;
        let (mut lowest, mut end) = (degc[start], start);
        for i in start..at.end {
            if degc[i].is_nan() || outdoor[i].is_nan() || degc[i] > lowest + NOISE_K {
                break;
            }
            if degc[i] <= lowest {
                (lowest, end) = (degc[i], i);
            }
        }
        let length_h = (end - start) as f64 * step_h;
        if length_h < LEAST_H || degc[start] - lowest < LEAST_K {
            return None;
        }
        let told = start + steps(FIRST_H)..end + 1;
        let outside = stats::mean(&outdoor[told.clone()])?;
        let constant = |range: Range<usize>| {
            let point = |i: usize| ((i - start) as f64 * step_h, degc[i] - outside);
            let points: Vec<(f64, f64)> = range.map(point).filter(|p| p.1 >= APART_K).collect();
            let logs: Vec<(f64, f64)> = points.iter().map(|(t, k)| (*t, libm::log(*k))).collect();
            Some(-1.0 / Line::fit(&logs)?.slope)
        };
        let middle = told.start + told.len() / 2;
        let halves = (constant(told.start..middle)?, constant(middle..told.end)?);
        let ratio = halves.1 / halves.0;
        Some(Self {
            constant: constant(told.clone())?,
            length_h,
            apart_k: stats::mean(&degc[told.clone()])? - outside,
            first_k: degc[start] - degc[told.start],
            is_free: halves.0 > 0.0 && (1.0 / ALIKE..=ALIKE).contains(&ratio),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_room_that_cools_freely_is_at_a_limit_after_a_known_time() {
        // Taken from published worked numbers: 21 °C, outdoors −18 °C, 30 h.
        assert!((hours_to(21.0, -18.0, 16.0, 30.0).unwrap() - 4.116034).abs() < 5e-7);
        assert!((hours_to(21.0, -18.0, 5.0, 30.0).unwrap() - 15.842023).abs() < 5e-7);
        assert_eq!(hours_to(15.0, -18.0, 16.0, 30.0), None, "it is there");
        assert_eq!(hours_to(21.0, 18.0, 16.0, 30.0), None, "it never gets there");
    }

    #[test]
    fn times_that_overlap_are_one() {
        assert_eq!(apart([5..9, 1..3, 6..12, 2..3].iter()), [1..3, 5..12]);
    }
}
