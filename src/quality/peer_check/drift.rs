//! A logger that moves away from the other rooms of its home, steadily.
//!
//! Settled here, and why:
//! - **What goes with the weather is the room's**: a room that parts from the others as it grows colder has a door that is
//!   closed, or no heat of its own. What changed once, or by more than sensors drift, is the room's too.

use std::ops::Range;

use super::{DAY_MS, PeerCheck, PeerRooms, means};
use crate::stats::Line;

/// Least drift from start to end of four weeks, K; in longer records rooms part further by themselves, with the root of time.
const DRIFT_K: f64 = 0.85;
const FOUR_WEEKS: f64 = 28.0;
/// How many times the daily scatter it must be, and fewest days.
const OVER_SCATTER: f64 = 5.0;
const DRIFT_DAYS: usize = 14;
/// Least slope of either half of the record as a share of the whole's.
const EACH_HALF: f64 = 0.3;
/// Share of the drift by which a logger must move away from the others, whatever they do.
const LEAST_APART: f64 = 0.5;
/// Share of a day that must be there.
const DAY_SHARE: f64 = 0.75;

/// The most that a sensor drifts by, K in four weeks: what parts further is a room.
const MOST_DRIFT_K: f64 = 4.5;
/// Share of the drift that must be left once the weather has its part.
const BESIDE_WEATHER: f64 = 0.6;
/// What is left of the squares about a line, as a share of those about the best single step; and where the drift is so many times
/// the daily scatter that no single step of this size would be (six times, in the middle of a record).
const LINE_OVER_STEP: f64 = 0.8;
const LINE_OVER_STEP_IF_FAR: f64 = 1.3;
const FAR_OVER_SCATTER: f64 = 8.0;

/// A day of a record: its mean, that of the others, of the outdoor air (NaN where nobody knows), and its number.
struct Day {
    room: f64,
    others: f64,
    outdoor: f64,
    t: f64,
}

/// Daily means on the others' daily means and on time (least squares): the part that goes with time alone, and neither with the
/// weather nor with what happened on one day.
pub(super) fn drift(home: &PeerCheck<'_>, x: &[f64], others: &[f64], placed: &Range<usize>) -> Option<f64> {
    let days = whole_days(home, x, others, placed);
    if days.len() < DRIFT_DAYS {
        return None;
    }
    let rows: Vec<(f64, f64, f64)> = days.iter().map(|d| (d.room, d.others, d.t)).collect();
    let (per_day, scatter) = slope_on_time(&rows)?;
    let length = days[days.len() - 1].t - days[0].t;
    let by = per_day * length;
    // Where all rooms warm up together, time and the others are one, and the fit may give either any share.
    let apart: Vec<(f64, f64)> = days.iter().map(|d| (d.t, d.room - d.others)).collect();
    let moves_apart = Line::fit(&apart)?.slope * length;
    if moves_apart * by.signum() < LEAST_APART * by.abs() {
        return None;
    }
    // A room that was mended, or set anew, changes once; a drift goes on in both halves.
    let (first, second) = rows.split_at(rows.len() / 2);
    let goes_on = |half| slope_on_time(half).is_some_and(|(slope, _)| slope / per_day >= EACH_HALF);
    let over_step =
        if by.abs() >= FAR_OVER_SCATTER * scatter { LINE_OVER_STEP_IF_FAR } else { LINE_OVER_STEP };
    let in_both = goes_on(first) && goes_on(second) && is_line(&apart, over_step);
    // A room that the weather reaches more parts from the others as it grows colder.
    let with_weather: Vec<(f64, f64, f64)> =
        days.iter().filter(|d| !d.outdoor.is_nan()).map(|d| (d.room - d.others, d.outdoor, d.t)).collect();
    let known = with_weather.len() >= DRIFT_DAYS;
    let beside_weather = |(slope, _): (f64, f64)| slope * length * by.signum() >= BESIDE_WEATHER * by.abs();
    let is_own = !known || slope_on_time(&with_weather).is_some_and(beside_weather);
    let longer = (length / FOUR_WEEKS).max(1.0).sqrt();
    let size = DRIFT_K * longer..=MOST_DRIFT_K * longer;
    (in_both && is_own && size.contains(&by.abs()) && by.abs() >= OVER_SCATTER * scatter).then_some(by)
}

/// Whether some values go along a line rather than changing once.
fn is_line(values: &[(f64, f64)], over_step: f64) -> bool {
    let Some(line) = Line::fit(values) else { return false };
    let about_line: f64 = values.iter().map(|(t, y)| (y - line.at(*t)).powi(2)).sum();
    let about_mean = |part: &[(f64, f64)]| {
        let mean = part.iter().map(|v| v.1).sum::<f64>() / part.len() as f64;
        part.iter().map(|v| (v.1 - mean).powi(2)).sum::<f64>()
    };
    let about_steps = (3..values.len() - 3).map(|i| about_mean(&values[..i]) + about_mean(&values[i..]));
    about_line <= over_step * about_steps.fold(f64::INFINITY, f64::min)
}

/// Days of which enough is there.
fn whole_days(home: &PeerCheck<'_>, x: &[f64], others: &[f64], placed: &Range<usize>) -> Vec<Day> {
    let PeerRooms { local_ms, step_ms, outdoor, .. } = home.rooms;
    let least = (DAY_SHARE * (DAY_MS / step_ms) as f64).floor().max(1.0);
    let mut days = Vec::new();
    for day in &home.days {
        let (from, to) = (day.start.max(placed.start), day.end.min(placed.end));
        if from >= to {
            continue;
        }
        let here = from - placed.start..to - placed.start;
        let (mut count, mut of_room, mut of_others) = (0.0, 0.0, 0.0);
        for (x, m) in x[here.clone()].iter().zip(&others[here]) {
            let both = !x.is_nan() && !m.is_nan();
            count += if both { 1.0 } else { 0.0 };
            of_room += if both { *x } else { 0.0 };
            of_others += if both { *m } else { 0.0 };
        }
        if count >= least {
            let outdoor = outdoor.map_or(f64::NAN, |o| means(&o[from..to], to - from)[0]);
            let t = local_ms[day.start].div_euclid(DAY_MS) as f64;
            days.push(Day { room: of_room / count, others: of_others / count, outdoor, t });
        }
    }
    days
}

/// Least squares of y on m and t: the coefficient of t, and the scatter about the fit.
fn slope_on_time(rows: &[(f64, f64, f64)]) -> Option<(f64, f64)> {
    let n = rows.len() as f64;
    let mean = |f: fn(&(f64, f64, f64)) -> f64| rows.iter().map(f).sum::<f64>() / n;
    let (my, mm, mt) = (mean(|r| r.0), mean(|r| r.1), mean(|r| r.2));
    let sum = |f: &dyn Fn(f64, f64, f64) -> f64| {
        rows.iter().map(|(y, m, t)| f(y - my, m - mm, t - mt)).sum::<f64>()
    };
    let (smm, stt, smt) = (sum(&|_, m, _| m * m), sum(&|_, _, t| t * t), sum(&|_, m, t| m * t));
    let (smy, sty) = (sum(&|y, m, _| m * y), sum(&|y, _, t| t * y));
    let determinant = smm * stt - smt * smt;
    // The others' course is a straight line in time: nothing can be told apart.
    if determinant <= 1e-6 * smm * stt || n <= 3.0 {
        return None;
    }
    let (on_m, on_t) = ((stt * smy - smt * sty) / determinant, (smm * sty - smt * smy) / determinant);
    let left = sum(&|y, m, t| (y - on_m * m - on_t * t).powi(2));
    Some((on_t, (left / (n - 3.0)).sqrt()))
}
