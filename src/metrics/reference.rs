//! What the rooms of a home are held against: the median of the heated rooms whose record stands.
//!
//! Settled here, and why:
//! - **Two rooms surely further apart than the margin are no reference**: half way between them is no room. So it is where two
//!   heated rooms are left, and for the third of three whose other two are so far apart: it would be called uneven for what
//!   one of them is. Of an even number the two in the middle count.
//! - **Which room the median is** decides whose sensor is in it: at up to 128 instants it is looked up.

use super::limits::DAY_COVERAGE;
use super::offset::Sure;
use super::room_spread::serving;
use super::{HomeScope, Interval};
use crate::stats;

/// Instants at which it is asked which room the median is.
const SENSOR_INSTANTS: usize = 128;
/// Share of the time of the room that has most, from which a room counts among those that are left.
const LEFT: f64 = 0.5;

/// What each room is held against in a scope.
pub(super) struct References<'a> {
    scope: &'a HomeScope<'a>,
    serves: Vec<bool>,
    /// Rooms that serve and have values for long enough.
    left: Vec<usize>,
    /// Some instants with a quorum.
    some: Vec<usize>,
}

impl<'a> References<'a> {
    pub(super) fn of(scope: &'a HomeScope<'a>) -> Self {
        let serves = serving(scope.home(), scope.aligned());
        let observed = |r: &usize| scope.room(*r).instants_observed() as f64;
        let all: Vec<usize> = (0..serves.len()).filter(|r| serves[*r]).collect();
        let most = all.iter().map(observed).fold(1.0, f64::max);
        let left = all.into_iter().filter(|r| observed(r) >= LEFT * most).collect();
        let spread = scope.together().spread();
        let at: Vec<usize> =
            scope.ranges().iter().flat_map(Clone::clone).filter(|i| !spread[*i].is_nan()).collect();
        let every = at.len().div_ceil(SENSOR_INSTANTS).max(1);
        Self { scope, serves, left, some: at.into_iter().step_by(every).collect() }
    }

    /// Whether other rooms are held against a room.
    pub(super) fn serves(&self, room: usize) -> bool {
        self.serves[room]
    }

    /// The rooms that a room is held against.
    pub(super) fn rooms_for(&self, room: usize) -> Vec<usize> {
        self.left.iter().copied().filter(|r| *r != room).collect()
    }

    /// What sensor error does to a room's offset, 95 % half-width: its own, and those of the rooms that the median is.
    pub(super) fn sensor_half_width(&self, room: usize) -> f64 {
        let mut times = vec![0.0; self.serves.len()];
        for i in &self.some {
            let value = |r: usize| (self.scope.degc(r)[*i], r);
            let others = (0..times.len()).filter(|r| self.serves[*r] && *r != room).map(value);
            let mut others: Vec<(f64, usize)> = others.filter(|(x, _)| !x.is_nan()).collect();
            others.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
            let count = others.len();
            if count > 0 {
                times[others[(count - 1) / 2].1] += 0.5;
                times[others[count / 2].1] += 0.5;
            }
        }
        let all = times.iter().sum::<f64>().max(1.0);
        let error = |(r, times): (usize, &f64)| (times / all * self.scope.room(r).relative_k()).powi(2);
        let squares: f64 = times.iter().enumerate().map(error).sum();
        self.scope.room(room).relative_k().hypot(squares.sqrt())
    }

    /// How far the two rooms in the middle are apart that a room would be held against, where that is surely more than the
    /// margin.
    pub(super) fn surely_apart(&self, room: usize) -> Option<(f64, Interval)> {
        let rooms = self.rooms_for(room);
        if rooms.is_empty() || !rooms.len().is_multiple_of(2) {
            return None;
        }
        let days = self.scope.days().iter().filter_map(|day| Some((self.apart_on(room, day)?, None)));
        let days: Vec<(f64, Option<f64>)> = days.collect();
        let mean = stats::mean(&days.iter().map(|d| d.0).collect::<Vec<_>>())?;
        let mut accuracies: Vec<f64> = rooms.iter().map(|r| self.scope.room(*r).relative_k()).collect();
        accuracies.sort_by(|a, b| b.total_cmp(a));
        let sensors = accuracies[0].hypot(accuracies[1]);
        let interval = Sure::of(&days, mean, sensors)?.interval;
        (interval.low > self.scope.site().spread.margin.k()).then_some((mean, interval))
    }

    /// On a whole day.
    fn apart_on(&self, room: usize, (day, whole): &super::scope::DayInScope) -> Option<f64> {
        let (serves, degc) = (self.serves[room], self.scope.degc(room));
        let apart = |i: usize| match (serves, degc[i]) {
            (true, x) if x.is_nan() => f64::NAN,
            // What a room reads is of no account to the others.
            (true, x) => self.scope.together().apart(x, true, i),
            (false, _) => self.scope.together().apart(0.0, false, i),
        };
        let values: Vec<f64> = day.iter().flat_map(Clone::clone).map(apart).filter(|k| !k.is_nan()).collect();
        let enough = values.len() as f64 >= DAY_COVERAGE * *whole as f64;
        stats::mean(&values).filter(|_| enough)
    }
}
