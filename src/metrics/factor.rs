//! How far a room without heating of its own lies between the heated rooms and outdoors.

use super::limits::DAY_COVERAGE;
use super::offset::Sure;
use super::scope::DayInScope;
use super::{Compute, Family, HomeScope, Measured, Metric, Slice};
use crate::site::Heated;
use crate::stats;

pub(super) static FAMILY: Family = Family { metrics: METRICS, compute: Compute::Home(factors) };

metrics! {
    TEMPERATURE_FACTOR = Metric {
        id: "temperature_factor",
        unit: "1",
        definition: "of a room without heating of its own: mean over local days of (reference − room)/(reference − outdoors), each the mean of the day, over the days on which the reference lies 5 K or more above outdoors, from 7 on; 0: as warm as the heated rooms, 1: as cold as outdoors, below 0: warmer than they are; low and high: its 90 % interval, made as that of offset_from_reference",
        source: "adjustment factor for an unheated space: EN ISO 13789, EN 12831 (from memory); the interval: own definition",
    };
}

/// Nearer than this to outdoors the factor says nothing.
const LEAST_K: f64 = 5.0;

fn factors(scope: &HomeScope<'_>, out: &mut Measured) {
    let Some(outdoor) = scope.aligned().outdoor().filter(|_| scope.slice() == Slice::All) else { return };
    for (room, offsets) in scope.offsets().iter().enumerate() {
        if scope.rooms()[room].heated != Heated::No || offsets.held().is_none() {
            continue;
        }
        let days: Vec<Day> =
            scope.days().iter().filter_map(|day| Day::of(scope, room, outdoor, day)).collect();
        let factors: Vec<(f64, Option<f64>)> =
            days.iter().map(|d| (d.below_k / d.apart_k, Some(d.outdoor))).collect();
        let Some(mean) = stats::mean(&factors.iter().map(|f| f.0).collect::<Vec<_>>()) else { continue };
        let apart = days.iter().map(|d| d.apart_k).sum::<f64>() / days.len() as f64;
        if let Some(sure) = Sure::of(&factors, mean, offsets.sensors / apart) {
            let hours = days.iter().map(|d| d.instants).sum::<usize>() as f64 * scope.aligned().step_h();
            out.value_of_parts(Some(room), &TEMPERATURE_FACTOR, mean, (sure.interval, sure.parts), hours);
        }
    }
}

/// Means of a day.
struct Day {
    /// How far the room lies below the reference.
    below_k: f64,
    /// How far outdoors does.
    apart_k: f64,
    outdoor: f64,
    instants: usize,
}

impl Day {
    /// `None` where too little of the day is there, or outdoors is too near.
    fn of(scope: &HomeScope<'_>, room: usize, outdoor: &[f64], (day, whole): &DayInScope) -> Option<Self> {
        let degc = scope.degc(room);
        let (mut instants, mut sums) = (0, [0.0; 3]);
        for i in day.iter().flat_map(Clone::clone) {
            // A room without heating serves nobody.
            let beyond = scope.together().difference(degc[i], false, i);
            if !beyond.is_nan() && !outdoor[i].is_nan() {
                instants += 1;
                for (sum, x) in sums.iter_mut().zip([beyond, degc[i], outdoor[i]]) {
                    *sum += x;
                }
            }
        }
        let [beyond, own, outdoor] = sums.map(|sum| sum / f64::from(instants));
        let apart_k = own - beyond - outdoor;
        let enough = instants > 0 && f64::from(instants) >= DAY_COVERAGE * *whole as f64;
        (enough && apart_k >= LEAST_K).then_some(Self {
            below_k: -beyond,
            apart_k,
            outdoor,
            instants: instants as usize,
        })
    }
}
