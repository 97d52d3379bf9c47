//! Whether people seem to have been at home: showers and cooking warm bathroom and kitchen for a short while.
//!
//! Settled here, and why:
//! - **Only against the room itself**: what share of the other days it was warm for a moment tells what people do there. Where that is
//!   hardly ever, or the logger stores too seldom to show it, nobody knows.
//! - **From the better part of a day on**: at night nobody is told to be away.

use std::ops::Range;

use crate::stats::median;

/// So many K above the median of the hours around it a room is warm for a moment.
const WARMER_K: f64 = 0.4;
/// Hours on either side that the median is of, and hours from one look to the next.
const AROUND_H: f64 = 2.0;
const LOOK_H: f64 = 0.25;
/// Hours that a time lasts at least, and hours beside it that are none of the others.
const LEAST_H: f64 = 20.0;
const BESIDE_H: f64 = 12.0;
/// Looks at other times, and the share of them in such a moment, from which on a room tells.
const LOOKS: usize = 500;
const OFTEN: f64 = 0.01;
/// So small a share of what is usual is nobody's, and so large a one is somebody's.
const NOBODY: f64 = 0.2;
const SOMEBODY: f64 = 0.4;

/// Whether people seem to have been at home in a time: `Some(false)` where kitchen and bathroom hardly had a warm moment; `None`
/// where they do not tell. `rooms`: °C of them at each instant, NaN where nobody knows.
///
/// # Source
/// Own definition.
pub(super) fn were_about(rooms: &[&[f64]], time: &Range<usize>, step_h: f64) -> Option<bool> {
    if (time.len() as f64) * step_h < LEAST_H {
        return None;
    }
    let (mut now, mut usual) = (0.0, 0.0);
    for room in rooms {
        if let Some((in_time, in_others)) = shares(room, time, step_h) {
            now += in_time;
            usual += in_others;
        }
    }
    match now / usual {
        share if share <= NOBODY => Some(false),
        share if share >= SOMEBODY => Some(true),
        _ => None,
    }
}

/// Share of the looks in a time, and of those at other times, at which a room was warm for a moment.
fn shares(degc: &[f64], time: &Range<usize>, step_h: f64) -> Option<(f64, f64)> {
    let steps = |hours: f64| ((hours / step_h).round() as usize).max(1);
    let (around, every, beside) = (steps(AROUND_H), steps(LOOK_H), steps(BESIDE_H));
    let (mut inside, mut others) = ([0_usize; 2], [0_usize; 2]);
    for i in (around..degc.len().saturating_sub(around)).step_by(every) {
        let count = match time.contains(&i) {
            true => &mut inside,
            false if i + beside < time.start || i >= time.end + beside => &mut others,
            false => continue,
        };
        let about = degc[i - around..=i + around].iter().step_by(every).copied().filter(|x| !x.is_nan());
        let Some(level) = median(about.collect()).filter(|_| !degc[i].is_nan()) else { continue };
        count[0] += 1;
        count[1] += usize::from(degc[i] - level > WARMER_K);
    }
    let share = |[looks, warm]: [usize; 2]| warm as f64 / looks as f64;
    let enough = others[0] >= LOOKS && inside[0] as f64 * LOOK_H >= LEAST_H / 2.0;
    (enough && share(others) >= OFTEN).then(|| (share(inside), share(others)))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A room at 20 °C, at steps of 5 min, that is 1.5 K warmer for half an hour at 7 and at 19 o'clock of some days of ten.
    fn room(with: impl Fn(usize) -> bool) -> Vec<f64> {
        let of = |i: usize| {
            let (day, minute) = (i / 288, i % 288 * 5);
            let shower = [7 * 60, 19 * 60].iter().any(|at| (*at..at + 30).contains(&minute));
            if shower && with(day) { 21.5 } else { 20.0 }
        };
        (0..12 * 288).map(of).collect()
    }

    #[test]
    fn who_showers_is_at_home() {
        let (time, step_h) = (5 * 288..7 * 288, 1.0 / 12.0);
        let (always, away, never) = (room(|_| true), room(|day| !(5..7).contains(&day)), room(|_| false));
        assert_eq!(were_about(&[&always], &time, step_h), Some(true));
        assert_eq!(were_about(&[&away], &time, step_h), Some(false));
        // One room in which nothing ever happens tells nothing, beside one that does.
        assert_eq!(were_about(&[&never], &time, step_h), None);
        assert_eq!(were_about(&[&never, &away], &time, step_h), Some(false));
        assert_eq!(were_about(&[], &time, step_h), None);
        assert_eq!(were_about(&[&away], &(5 * 288..5 * 288 + 200), step_h), None, "not for a night");
        // Half of the showers: nobody knows.
        let seldom = room(|day| day != 5);
        assert_eq!(were_about(&[&seldom], &(4 * 288..8 * 288), step_h), Some(true));
        let once = room(|day| !(4..7).contains(&day));
        assert_eq!(were_about(&[&once], &(4 * 288..8 * 288), step_h), None);
    }

    #[test]
    fn holes_are_nobodys_absence() {
        let mut gone = room(|_| true);
        gone[5 * 288..7 * 288].fill(f64::NAN);
        assert_eq!(were_about(&[&gone], &(5 * 288..7 * 288), 1.0 / 12.0), None);
    }
}
