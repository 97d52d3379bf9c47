//! How well two series fit when one is moved in time.

use std::ops::Range;

/// Correlation of `x`, taken `k` places later, with `y`; `None` with fewer than `least` pairs.
pub(super) fn correlation(x: &[f64], y: &[f64], k: i64, least: usize) -> Option<f64> {
    let (x, y) = if k >= 0 { (x.get(k as usize..)?, y) } else { (x, y.get(k.unsigned_abs() as usize..)?) };
    let (mut n, mut sx, mut sy, mut sxx, mut syy, mut sxy) = (0, 0.0, 0.0, 0.0, 0.0, 0.0);
    for (a, b) in x.iter().zip(y).filter(|(a, b)| !a.is_nan() && !b.is_nan()) {
        n += 1;
        (sx, sy) = (sx + a, sy + b);
        (sxx, syy, sxy) = (sxx + a * a, syy + b * b, sxy + a * b);
    }
    let count = f64::from(n);
    let (vx, vy) = (sxx - sx * sx / count, syy - sy * sy / count);
    (n as usize >= least && vx > 0.0 && vy > 0.0).then(|| (sxy - sx * sy / count) / (vx * vy).sqrt())
}

/// Moves of `x`, by `most` places either way, among which the one is that fits `y` best: a quick look at each, its sums added up in another order.
pub(super) fn nearly_best(x: &[f64], y: &[f64], most: i64, least: usize) -> Vec<i64> {
    let (x, y) = (Sums::of(x), Sums::of(y));
    let looked_at: Vec<(i64, f64)> =
        (-most..=most).filter_map(|k| Some((k, x.about_correlation(&y, k, least)?))).collect();
    let best = looked_at.iter().fold(f64::NEG_INFINITY, |best, (_, about)| best.max(*about));
    // What a quick look cannot tell (NaN) may be the best too.
    looked_at.into_iter().filter(|(_, about)| about.is_nan() || *about >= best - ORDER).map(|l| l.0).collect()
}

/// More than the order of its additions makes of a correlation.
const ORDER: f64 = 1e-6;
/// Share of the squares that must be left of them without the mean for the order to make so little.
const LEAST_LEFT: f64 = 1e-3;

/// A series ready to be added up over any part of it.
pub(super) struct Sums {
    /// 0 where missing.
    values: Vec<f64>,
    /// Where values are present.
    present: Vec<Range<usize>>,
    /// For each place: how many values lie before it, their sum, and that of their squares.
    before: Vec<[f64; 3]>,
}

impl Sums {
    pub(super) fn of(values: &[f64]) -> Self {
        let there: Vec<f64> = values.iter().map(|x| if x.is_nan() { 0.0 } else { *x }).collect();
        let (mut before, mut so_far) = (vec![[0.0; 3]; values.len() + 1], [0.0; 3]);
        for ((before, x), there) in before[1..].iter_mut().zip(values).zip(&there) {
            let one = if x.is_nan() { 0.0 } else { 1.0 };
            so_far = [so_far[0] + one, so_far[1] + there, so_far[2] + there * there];
            *before = so_far;
        }
        let (mut present, mut from) = (Vec::new(), 0);
        for run in values.chunk_by(|a, b| a.is_nan() == b.is_nan()) {
            present.extend((!run[0].is_nan()).then_some(from..from + run.len()));
            from += run.len();
        }
        Self { values: there, present, before }
    }

    /// Count, sum and squares of the values that lie `later` places after values that another series has.
    fn beside(&self, other: &Sums, later: i64) -> [f64; 3] {
        let last = self.values.len() as i64;
        let place = |i: usize| (i as i64 + later).clamp(0, last) as usize;
        other.present.iter().fold([0.0; 3], |sums, run| {
            let (from, to) = (self.before[place(run.start)], self.before[place(run.end)]);
            [sums[0] + to[0] - from[0], sums[1] + to[1] - from[1], sums[2] + to[2] - from[2]]
        })
    }

    /// [`correlation`], but for the order of additions; NaN where that may make much of it.
    pub(super) fn about_correlation(&self, y: &Sums, k: i64, least: usize) -> Option<f64> {
        let ([count, sx, sxx], [_, sy, syy]) = (self.beside(y, k), y.beside(self, -k));
        if count < least as f64 {
            return None;
        }
        let (vx, vy) = (sxx - sx * sx / count, syy - sy * sy / count);
        let clear = vx > LEAST_LEFT * sxx && vy > LEAST_LEFT * syy;
        let (later_x, later_y) = (k.max(0) as usize, (-k).max(0) as usize);
        let sxy = product(self.values.get(later_x..)?, y.values.get(later_y..)?);
        Some(if clear { (sxy - sx * sy / count) / (vx * vy).sqrt() } else { f64::NAN })
    }
}

/// Sum of the products of values at the same places, several at a time.
pub(super) fn product(x: &[f64], y: &[f64]) -> f64 {
    const LANES: usize = 8;
    let len = x.len().min(y.len());
    let ((x, x_rest), (y, y_rest)) = (x[..len].as_chunks::<LANES>(), y[..len].as_chunks::<LANES>());
    let mut lanes = [0.0; LANES];
    for (x, y) in x.iter().zip(y) {
        for lane in 0..LANES {
            lanes[lane] += x[lane] * y[lane];
        }
    }
    lanes.iter().sum::<f64>() + x_rest.iter().zip(y_rest).map(|(x, y)| x * y).sum::<f64>()
}
