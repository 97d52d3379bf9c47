//! How far a logger goes up and down within two hours, all the time: beside a heater that cycles it does so more than air can.

use std::ops::Range;

use crate::stats::{Line, median, quantile};

use super::{HOUR_MS, PeerRooms, present};

/// A logger that goes up and down as no other of its home does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Restless {
    /// It goes up and down further.
    Wobbles {
        /// Median distance from its own mean over the two hours around, K.
        own_k: f64,
        /// The same of the other loggers of the home, in the middle.
        others_k: f64,
    },
    /// It falls as air does not.
    Falls {
        /// How far within a quarter of an hour, in the twentieth part of the time in which it falls fastest, K.
        own_k: f64,
        /// The same of the other loggers of the home, in the middle.
        others_k: f64,
        /// Whether its days are the warmer the colder it is outdoors; else nobody knows.
        with_weather: bool,
    },
}

/// Time over which the mean is taken, ms.
const AROUND_MS: i64 = 2 * HOUR_MS;
/// Share of it that must be there.
const THERE: f64 = 0.8;
/// Every so many instants is looked at.
const EVERY: usize = 3;
/// From which on a logger is restless, K; as a multiple of the others in the middle, and of any other.
const RESTLESS_K: f64 = 0.4;
const OVER_OTHERS: f64 = 2.5;
const OVER_ANY: f64 = 1.3;
/// Share of the time in which it falls fastest, and how far it falls then within a quarter of an hour: at least, K; as a multiple
/// of the others in the middle, and of any other.
const FALLING: f64 = 0.05;
const FALLS_K: f64 = 0.7;
const FALLS_OVER_OTHERS: f64 = 1.8;
const FALLS_OVER_ANY: f64 = 1.35;
/// The same where nobody knows how its days go with the weather.
const FALLS_ALONE_K: f64 = 1.05;
const ALONE_OVER_OTHERS: f64 = 2.6;
const ALONE_OVER_ANY: f64 = 1.8;
/// A day on which it is colder outdoors must be warmer, by so many standard errors of the slope, over so many days at least: a
/// heater is on for longer then, and no room that it heats grows warmer by that.
const RISES_ERRORS: f64 = 1.0;
const LEAST_DAYS: usize = 10;
/// Most of the time that its readings may not change at all: a coarse logger falls by a whole step at a time.
const MOST_STILL: f64 = 0.5;
/// What is no change, K.
const STILL_K: f64 = 2e-5;

/// Distance of a room from its own mean over two hours, at every third instant; NaN where less than four fifths of that time is
/// there.
pub(super) fn wobble(degc: &[f64], step_ms: i64) -> Vec<f64> {
    let half = (AROUND_MS / 2 / step_ms).max(1) as usize;
    let (mut sums, mut counts) = (Vec::with_capacity(degc.len() + 1), Vec::with_capacity(degc.len() + 1));
    let (mut sum, mut count) = (0.0, 0_u32);
    sums.push(sum);
    counts.push(count);
    for x in degc {
        let there = !x.is_nan();
        sum += if there { *x } else { 0.0 };
        count += u32::from(there);
        sums.push(sum);
        counts.push(count);
    }
    let at = |i: usize| {
        let (from, to) = (i.saturating_sub(half), (i + half + 1).min(degc.len()));
        let n = f64::from(counts[to] - counts[from]);
        let enough = n >= THERE * (2 * half + 1) as f64;
        if enough { (degc[i] - (sums[to] - sums[from]) / n).abs() } else { f64::NAN }
    };
    (0..degc.len()).step_by(EVERY).map(at).collect()
}

/// Places of [`wobble`] that lie within some instants.
pub(super) fn looked_at(instants: &Range<usize>) -> Range<usize> {
    instants.start.div_ceil(EVERY)..instants.end.div_ceil(EVERY)
}

/// What a room does all the time: its wobble in the middle, and how far it falls within a quarter of an hour in the twentieth
/// part of the time in which it falls fastest; K.
#[derive(Clone, Copy, Debug)]
pub(super) struct Habit {
    wobble_k: f64,
    falls_k: f64,
    /// Share of the time in which it does not change within a quarter of an hour.
    still: f64,
    /// Whether its days are the warmer the colder it is outdoors, where that is known.
    rises_in_cold: Option<bool>,
}

impl Habit {
    /// Of each room; `None` where nothing is there.
    pub(super) fn of(
        wobbles: &[Vec<f64>],
        rooms: &PeerRooms<'_>,
        days: &[Range<usize>],
    ) -> Vec<Option<Self>> {
        let per = (super::QUARTER_MS / rooms.step_ms).max(1) as usize;
        let one = |(wobble, degc): (&Vec<f64>, &&[f64])| {
            let falls = degc.iter().zip(degc.get(per..)?).map(|(before, after)| before - after);
            let falls: Vec<f64> = falls.step_by(EVERY).filter(|k| !k.is_nan()).collect();
            let still = falls.iter().filter(|k| k.abs() < STILL_K).count() as f64 / falls.len().max(1) as f64;
            let falls_k = quantile(falls, 1.0 - FALLING)?;
            let asked = falls_k >= FALLS_K;
            let rises_in_cold = rooms.outdoor.filter(|_| asked).and_then(|o| rises_in_cold(degc, o, days));
            Some(Self { wobble_k: median(present(wobble))?, falls_k, still, rises_in_cold })
        };
        wobbles.iter().zip(rooms.degc).map(one).collect()
    }

    /// Whether it falls as air does not: `others`, beside what is usual in the other rooms, and most in any, K.
    fn falls_as_no_air(&self, (usual, most): (f64, f64)) -> bool {
        let (least_k, over_others, over_any) = match self.rises_in_cold {
            Some(true) => (FALLS_K, FALLS_OVER_OTHERS, FALLS_OVER_ANY),
            Some(false) => return false,
            None => (FALLS_ALONE_K, ALONE_OVER_OTHERS, ALONE_OVER_ANY),
        };
        let further = self.falls_k >= over_others * usual && self.falls_k >= over_any * most;
        self.falls_k >= least_k && self.still <= MOST_STILL && further
    }
}

/// Whether the days of a logger are surely warmer on days that are colder outdoors; `None` with too few days.
fn rises_in_cold(degc: &[f64], outdoor: &[f64], days: &[Range<usize>]) -> Option<bool> {
    let mean_of = |x: &[f64]| crate::stats::mean(&present(x));
    let of_day = |day: &Range<usize>| Some((mean_of(&outdoor[day.clone()])?, mean_of(&degc[day.clone()])?));
    let points: Vec<(f64, f64)> = days.iter().filter_map(of_day).collect();
    if points.len() < LEAST_DAYS {
        return None;
    }
    let line = Line::fit(&points)?;
    let squares: f64 = points.iter().map(|(t, y)| (y - line.at(*t)).powi(2)).sum();
    let middle = points.iter().map(|p| p.0).sum::<f64>() / points.len() as f64;
    let range: f64 = points.iter().map(|p| (p.0 - middle).powi(2)).sum();
    let error = (squares / (points.len() - 2) as f64 / range).sqrt();
    Some(line.slope <= -RISES_ERRORS * error)
}

/// Whether a room's logger is restless beside the others: it goes up and down further all the time, or falls as air does not.
///
/// Air that a heat pump warms is warm for a while: a room falls by half a kelvin within a quarter of an hour when somebody airs
/// it. What hangs in the warm stream falls so at the end of each cycle, and is warmer on days on which the heater is on for longer.
///
/// # Source
/// Own definition.
pub(super) fn restless(habits: &[Option<Habit>], room: usize) -> Option<Restless> {
    let own = (*habits.get(room)?)?;
    let others: Vec<Habit> =
        habits.iter().enumerate().filter(|(r, _)| *r != room).filter_map(|(_, habit)| *habit).collect();
    if others.len() < 2 {
        return None;
    }
    let most = |of: fn(&Habit) -> f64| others.iter().map(of).fold(0.0, f64::max);
    let middle = |of: fn(&Habit) -> f64| median(others.iter().map(of).collect());
    let (others_k, usual_fall) = (middle(|h| h.wobble_k)?, middle(|h| h.falls_k)?);
    let wobbles = own.wobble_k >= RESTLESS_K
        && own.wobble_k >= OVER_OTHERS * others_k
        && own.wobble_k >= OVER_ANY * most(|h| h.wobble_k);
    let falls = own.falls_as_no_air((usual_fall, most(|h| h.falls_k)));
    if wobbles {
        Some(Restless::Wobbles { own_k: own.wobble_k, others_k })
    } else {
        let with_weather = own.rises_in_cold == Some(true);
        falls.then_some(Restless::Falls { own_k: own.falls_k, others_k: usual_fall, with_weather })
    }
}
