//! How much colder or warmer each room is than the heated rooms.

use super::distribution::DAY_COVERAGE;
use super::{Compute, Family, HomeScope, Measured, Metric};
use crate::stats;

pub(super) static FAMILY: Family = Family { metrics: &METRICS, compute: Compute::Home(offsets) };

static METRICS: [Metric; 1] = [Metric {
    id: "offset_from_heated_mean",
    unit: "K",
    definition: "mean over local days, with values for at least 75 % of the day's hours in the slice, of the day's mean difference between the room and the mean of the heated rooms at the same instant (for a heated room: of the other heated rooms), at instants with the quorum of a spread",
    source: "own definition",
}];

fn offsets(scope: &HomeScope<'_>, out: &mut Measured) {
    let rooms: Vec<&[f64]> = (0..scope.rooms().len()).map(|r| scope.degc(r)).collect();
    let heated: Vec<bool> = scope.rooms().iter().map(|r| r.heated).collect();
    let quorum = scope.quorum();
    let days = scope.days();
    for room in 0..rooms.len() {
        let (mut means, mut instants) = (Vec::new(), 0);
        for (day, whole) in &days {
            let differences = day
                .iter()
                .flat_map(Clone::clone)
                .filter_map(|i| difference(&rooms, &heated, room, i, quorum));
            let (count, sum) = differences.fold((0, 0.0), |(count, sum), d| (count + 1, sum + d));
            if count > 0 && f64::from(count) >= DAY_COVERAGE * *whole as f64 {
                means.push(sum / f64::from(count));
                instants += count;
            }
        }
        if let Some(mean) = stats::mean(&means) {
            out.value(Some(room), &METRICS[0], mean, f64::from(instants) * scope.aligned().step_h());
        }
    }
}

/// How much warmer a room is than the (other) heated rooms at an instant with a quorum.
pub(super) fn difference(
    rooms: &[&[f64]],
    heated: &[bool],
    room: usize,
    i: usize,
    quorum: usize,
) -> Option<f64> {
    let x = rooms[room][i];
    let present = rooms.iter().filter(|r| !r[i].is_nan()).count();
    if x.is_nan() || present < quorum {
        return None;
    }
    let others = rooms
        .iter()
        .zip(heated)
        .enumerate()
        .filter(|(r, (values, heated))| **heated && *r != room && !values[i].is_nan());
    let (count, sum) = others.fold((0, 0.0), |(count, sum), (_, (values, _))| (count + 1, sum + values[i]));
    (count > 0).then(|| x - sum / f64::from(count))
}
