//! A logger that reads higher or lower from some moment on.
//!
//! Settled here, and why:
//! - **A step is told by being the same however long one looks**: the jump itself, and the difference of the half hour, hour,
//!   two, four and eight hours before and after, of the days beside it and of the whole record, with the room's usual day taken
//!   off. A door, an oven or a shower jumps as far and is over; a setting that is changed moves as far and takes hours.
//! - **It is held against the record itself**: five times what its own days differ by, and clearly more alike than its next
//!   best jump. So the limits are no number of one kind of building.

use super::{HALF_HOUR_MS, QUARTER_MS, Shift, means, present, shift, side_difference};
use crate::stats::{median, quantile};

/// Half hours of a day, and of the days beside a jump that are looked at.
const DAY: usize = 48;
const NEAR: usize = 72;
/// Fewest of them on either side, and fewest days on either side that tell how days differ.
const LEAST_NEAR: usize = 24;
const LEAST_DAYS: usize = 3;
/// Half hours for which the difference must be the same.
const LOOKS: [usize; 5] = [1, 2, 4, 8, 16];
/// Least jump within a quarter of an hour, or from one reading to the next, that is looked at, and least step, K.
const JUMP_K: f64 = 0.3;
const STEP_K: f64 = 0.6;
/// Most jumps that are thinned out, most that are looked at, and instants between two of them.
const MOST_SORTED: usize = 600;
const MOST_JUMPS: usize = 60;
const BETWEEN: usize = 9;
/// How alike the differences are, as a share of the step; by how much more than those of any other jump.
const ALIKE: f64 = 0.5;
const MORE_ALIKE: f64 = 0.2;
/// Times by which it exceeds what days differ by.
const OVER_DAYS: f64 = 5.0;
const FAR_OVER_DAYS: f64 = 10.0;
/// Share of what the other rooms move by from before it to after it: where heat comes to an end, every room finds a new level.
const OVER_OTHERS: f64 = 0.3;
/// No sensor jumps by more, K: its logger is in another place.
const MOST_K: f64 = 8.0;
/// Instants within which two jumps are one.
const ONE_JUMP_MS: i64 = 12 * QUARTER_MS;

/// A record beside the others, without its usual day.
struct Course {
    /// Distance to the others at each instant.
    away: Vec<f64>,
    /// The same in half hours.
    halves: Vec<f64>,
    per: usize,
}

/// A jump as it looks over several times.
struct Jump {
    at: usize,
    /// The differences, the way of the jump.
    by_k: Vec<f64>,
    way: f64,
}

impl Jump {
    fn size(&self) -> f64 {
        median(self.by_k.clone()).unwrap_or(0.0)
    }

    /// The size less how far the differences lie apart, but for one.
    fn alike(&self) -> f64 {
        let size = self.size();
        let mut off: Vec<f64> = self.by_k.iter().map(|k| (k - size).abs()).collect();
        off.sort_unstable_by(f64::total_cmp);
        match off[..] {
            [.., second, most] => size - second - 0.3 * most,
            _ => 0.0,
        }
    }
}

/// The step of a record `own` beside the median of the `others`, if it has one: a jump that looks the same however long one
/// looks, or, where cooking or a shower hides that, one of a level that lies far outside of what days differ by.
///
/// # Source
/// Own definition.
pub(super) fn step(own: &[f64], others: &[f64], step_ms: i64) -> Option<Shift> {
    let reach = ((QUARTER_MS / step_ms).max(1) as usize).max(between_readings(own));
    let jumps = candidates(own, others, reach);
    if jumps.is_empty() {
        return None;
    }
    let course = Course::of(own, others, (HALF_HOUR_MS / step_ms).max(1) as usize);
    let told = alike_however_long(&course, jumps, (reach, step_ms)).or_else(|| {
        let jump = shift(own, &course.halves, step_ms)?;
        let far = course.days_differ(jump.at).is_some_and(|k| jump.by_k.abs() >= FAR_OVER_DAYS * k);
        far.then_some(jump)
    });
    let least = |jump: &Shift| OVER_OTHERS * moved_by(others, jump.at, course.per);
    told.filter(|jump| (least(jump)..=MOST_K).contains(&jump.by_k.abs()))
}

/// How far the other rooms move from before an instant to after it, in the days beside it or for good, K.
fn moved_by(others: &[f64], at: usize, per: usize) -> f64 {
    let (before, after) = others.split_at(at);
    let near = NEAR * per;
    let sides =
        [(&before[before.len().saturating_sub(near)..], &after[..after.len().min(near)]), (before, after)];
    let level = |part: &[f64]| median(present(part));
    let moved = |(before, after)| Some((level(after)? - level(before)?).abs());
    sides.into_iter().filter_map(moved).fold(0.0, f64::max)
}

fn alike_however_long(
    course: &Course,
    jumps: Vec<(usize, f64)>,
    (reach, step_ms): (usize, i64),
) -> Option<Shift> {
    let mut seen: Vec<Jump> = jumps.into_iter().filter_map(|(at, k)| course.look(at, k, reach)).collect();
    for jump in seen.iter_mut().filter(|jump| jump.alike() >= ALIKE / 2.0 * jump.size()) {
        jump.by_k.push(course.whole(jump)?);
    }
    let alike: Vec<f64> = seen.iter().map(Jump::alike).collect();
    let first = (0..seen.len()).max_by(|a, b| alike[*a].total_cmp(&alike[*b]))?;
    let (jump, size) = (&seen[first], seen[first].size());
    let elsewhere = |i: &usize| (seen[*i].at as i64 - jump.at as i64).abs() * step_ms > ONE_JUMP_MS;
    let next = (0..seen.len()).filter(elsewhere).map(|i| alike[i]).fold(-1.0, f64::max);
    let told = size >= STEP_K
        && alike[first] >= ALIKE * size
        && alike[first] - next >= MORE_ALIKE * size
        && course.days_differ(jump.at).is_some_and(|k| size >= OVER_DAYS * k);
    told.then_some(Shift { at: jump.at, to: jump.at, by_k: jump.way * size })
}

/// Instants from one reading to the next, as the straight lines between readings show it: of all instants that move, all but
/// one in so many lie on the line of their neighbours.
fn between_readings(own: &[f64]) -> usize {
    let (mut moving, mut straight) = (0_u32, 0_u32);
    for near in own.windows(3).filter(|near| (near[1] - near[0]).abs() > ON_A_LINE_K) {
        moving += 1;
        straight += u32::from((near[2] - 2.0 * near[1] + near[0]).abs() <= ON_A_LINE_K);
    }
    (f64::from(moving.max(1)) / f64::from((moving - straight).max(1))).round() as usize
}

/// The steps of a logger's readings, about, K: the smallest changes from one reading to the next, but for one in twenty.
pub(super) fn resolution(own: &[f64]) -> f64 {
    let changes: Vec<f64> =
        own.windows(2).map(|pair| (pair[1] - pair[0]).abs()).filter(|k| *k > ON_A_LINE_K).collect();
    between_readings(own) as f64 * quantile(changes, 0.05).unwrap_or(0.0)
}

/// More than what single precision makes of three values on a line, K.
const ON_A_LINE_K: f64 = 2e-5;

/// The largest jumps over `reach` instants that the others do not share, each with the instant at its end and its size.
fn candidates(own: &[f64], others: &[f64], reach: usize) -> Vec<(usize, f64)> {
    let jump = |i: usize| {
        let by = own[i] - own[i - reach];
        let beside = by - (others[i] - others[i - reach]);
        if by * beside > 0.0 { by.signum() * by.abs().min(beside.abs()) } else { 0.0 }
    };
    let mut all: Vec<(usize, f64)> =
        (reach..own.len()).map(|i| (i, jump(i))).filter(|(_, k)| k.abs() >= JUMP_K).collect();
    all.sort_by(|a, b| b.1.abs().total_cmp(&a.1.abs()).then(a.0.cmp(&b.0)));
    let mut apart: Vec<(usize, f64)> = Vec::new();
    for (at, k) in all.into_iter().take(MOST_SORTED) {
        if apart.len() < MOST_JUMPS && apart.iter().all(|(other, _)| other.abs_diff(at) > BETWEEN) {
            apart.push((at, k));
        }
    }
    apart
}

impl Course {
    fn of(own: &[f64], others: &[f64], per: usize) -> Self {
        let mut away: Vec<f64> = own.iter().zip(others).map(|(x, m)| x - m).collect();
        let mut halves = means(&away, per);
        // Less the middle of each day: a step in mid-record would stand in the usual day otherwise.
        let of_day = |day: &[f64]| {
            let middle = median(present(day)).unwrap_or(0.0);
            day.iter().map(|k| k - middle).collect::<Vec<f64>>()
        };
        let within_days: Vec<f64> = halves.chunks(DAY).flat_map(of_day).collect();
        let slot = |slot: usize| {
            let here = within_days.iter().skip(slot).step_by(DAY).copied().filter(|k| !k.is_nan());
            median(here.collect()).unwrap_or(0.0)
        };
        let slots: Vec<f64> = (0..DAY).map(slot).collect();
        let middle = median(slots.clone()).unwrap_or(0.0);
        halves.iter_mut().enumerate().for_each(|(h, k)| *k -= slots[h % DAY] - middle);
        away.iter_mut().enumerate().for_each(|(i, k)| *k -= slots[i / per % DAY] - middle);
        Self { away, halves, per }
    }

    /// What is before and what is after a jump, in half hours; those of the jump belong to neither.
    fn sides(&self, at: usize) -> (&[f64], &[f64]) {
        let half = at / self.per;
        (
            &self.halves[..half.saturating_sub(1)],
            self.halves.get((half + 2).min(self.halves.len())..).unwrap_or_default(),
        )
    }

    /// How a jump looks over some hours and days; `None` where nobody knows, or it did not stay.
    fn look(&self, at: usize, by_k: f64, reach: usize) -> Option<Jump> {
        let way = by_k.signum();
        let (before, after) = self.sides(at);
        let before = &before[before.len().saturating_sub(NEAR)..];
        let near = way * side_difference(before, &after[..after.len().min(NEAR)], LEAST_NEAR)?;
        if near <= 0.0 {
            return None;
        }
        let mut seen = vec![by_k.abs(), near];
        let until = at.checked_sub(reach)?;
        for hours in LOOKS {
            let n = hours * self.per;
            let (from, to) = ((until + 1).saturating_sub(n), (at + n).min(self.away.len()));
            seen.push(way * (mean(&self.away[at..to])? - mean(&self.away[from..=until])?));
        }
        Some(Jump { at, by_k: seen, way })
    }

    /// The difference of all that is before and after.
    fn whole(&self, jump: &Jump) -> Option<f64> {
        let (before, after) = self.sides(jump.at);
        Some(jump.way * side_difference(before, after, LEAST_NEAR)?)
    }

    /// Standard deviation of the days about the median of their side of a jump.
    fn days_differ(&self, at: usize) -> Option<f64> {
        let day = at / self.per / DAY;
        let days: Vec<Option<f64>> = self.halves.chunks(DAY).map(|day| median(present(day))).collect();
        let side = |days: &[Option<f64>]| {
            let there: Vec<f64> = days.iter().copied().flatten().collect();
            let middle = median(there.clone()).filter(|_| there.len() >= LEAST_DAYS)?;
            Some((there.len(), there.iter().map(|k| (k - middle).powi(2)).sum::<f64>()))
        };
        let ((n, squares), (m, others)) = (side(&days[..day])?, side(days.get(day + 1..)?)?);
        Some(((squares + others) / (n + m - 2) as f64).sqrt())
    }
}

fn mean(values: &[f64]) -> Option<f64> {
    crate::stats::mean(&present(values))
}
