//! Unbroken runs of values beyond a limit.

use std::ops::Range;

use super::min_max_pyramid::Part;

/// Unbroken runs on one side of the band.
#[derive(Default)]
pub(super) struct Runs {
    open: Option<Run>,
    pub(super) done: Vec<Run>,
}

/// One run.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Run {
    pub(super) at: Range<usize>,
    /// The value furthest beyond its limit, and that limit.
    pub(super) extreme: f64,
    pub(super) limit: f64,
    deepest: f64,
    pub(super) censored: bool,
}

/// A limit, and how far a value lies beyond it: NaN without a value.
pub(super) struct Beyond<F> {
    pub(super) limit: f64,
    pub(super) by: F,
}

impl Runs {
    /// Goes on with the values of a part. `after_hole`: whether the instant before has no value.
    pub(super) fn go_on(
        &mut self,
        part: &Part,
        values: &[f64],
        beyond: &Beyond<impl Fn(f64) -> f64>,
        after_hole: bool,
    ) {
        let [a, b] = [part.ends.low, part.ends.high].map(&beyond.by);
        let (least, most) = if a < b { (a, b) } else { (b, a) };
        match &mut self.open {
            None if most <= 0.0 => {}
            Some(_) if most <= 0.0 => self.end(values.first().is_none_or(|x| x.is_nan())),
            // A block with nothing but more of the run.
            Some(run) if part.complete && least > 0.0 && most <= run.deepest => run.at.end = part.at.end,
            _ => self.step_by_step(part.at.start, values, beyond, after_hole),
        }
    }

    /// Goes on with values from an instant on.
    fn step_by_step(
        &mut self,
        from: usize,
        values: &[f64],
        beyond: &Beyond<impl Fn(f64) -> f64>,
        after_hole: bool,
    ) {
        let is_beyond = |x: &f64| (beyond.by)(*x) > 0.0;
        let mut i = 0;
        while i < values.len() {
            let len = values[i..].iter().take_while(|x| is_beyond(x)).count();
            if len > 0 {
                let after_hole = if i == 0 { after_hole } else { values[i - 1].is_nan() };
                self.extend(from + i, &values[i..i + len], beyond, after_hole);
            }
            i += len;
            if let Some(x) = values.get(i) {
                self.end(x.is_nan());
                i += values[i..].iter().take_while(|x| !is_beyond(x)).count();
            }
        }
    }

    /// Makes the run, or a new one, longer by values that lie beyond.
    fn extend(
        &mut self,
        from: usize,
        values: &[f64],
        Beyond { limit, by }: &Beyond<impl Fn(f64) -> f64>,
        after_hole: bool,
    ) {
        let mut run = self.open.take().unwrap_or(Run {
            at: from..from,
            extreme: f64::NAN,
            limit: *limit,
            deepest: 0.0,
            censored: after_hole,
        });
        run.at.end = from + values.len();
        for x in values {
            let beyond = by(*x);
            if beyond > run.deepest {
                (run.extreme, run.limit, run.deepest) = (*x, *limit, beyond);
            }
        }
        self.open = Some(run);
    }

    /// Ends the run, if there is one. `broken_off`: nobody knows whether it went on.
    pub(super) fn end(&mut self, broken_off: bool) {
        if let Some(mut run) = self.open.take() {
            run.censored |= broken_off;
            self.done.push(run);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::min_max_pyramid::Blocks;
    use super::*;

    /// The same value by value.
    fn simply(range: Range<usize>, degc: &[f64], limit: f64) -> Vec<Run> {
        let (mut done, mut open, mut before) = (Vec::new(), None::<Run>, f64::NAN);
        for i in range {
            let (x, beyond) = (degc[i], limit - degc[i]);
            if beyond > 0.0 {
                let censored = before.is_nan();
                let run = open.get_or_insert(Run { at: i..i, extreme: x, limit, deepest: beyond, censored });
                run.at.end = i + 1;
                if beyond > run.deepest {
                    (run.extreme, run.deepest) = (x, beyond);
                }
            } else {
                done.extend(open.take().map(|run| Run { censored: run.censored || x.is_nan(), ..run }));
            }
            before = x;
        }
        done.extend(open.map(|run| Run { censored: true, ..run }));
        done
    }

    #[test]
    fn whole_blocks_and_single_steps_find_the_same_runs() {
        let value = |i: usize| 20.5 + 2.0 * (i as f64 / 120.0).sin() + ((i * 7919) % 263) as f64 / 500.0;
        let hole = |i: usize| (300..330).contains(&i) || i % 311 == 7;
        let degc: Vec<f64> = (0..4000).map(|i| if hole(i) { f64::NAN } else { value(i) }).collect();
        let blocks = Blocks::of(&degc);
        for range in [0..4000, 5..3999, 301..700, 64..128] {
            for limit in [18.0, 19.5, 20.5, 22.0, 30.0] {
                let mut runs = Runs::default();
                let mut after_hole = true;
                for part in blocks.parts(&range) {
                    let values = &degc[part.at.clone()];
                    runs.go_on(&part, values, &Beyond { limit, by: |x| limit - x }, after_hole);
                    after_hole = values.last().is_some_and(|x| x.is_nan());
                }
                runs.end(true);
                assert_eq!(runs.done, simply(range.clone(), &degc, limit));
            }
        }
    }
}
