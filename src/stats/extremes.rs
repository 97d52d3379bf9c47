//! Highest and lowest values of windows.

/// Highest and lowest value of every window of some width, for widths that grow.
///
/// A window is put together of two narrower ones that overlap, so that each width costs one pass over the values.
#[derive(Clone, Debug)]
pub struct Windows {
    high: Vec<f64>,
    low: Vec<f64>,
    width: usize,
    /// What was widened last, kept for its memory.
    narrower: Vec<f64>,
}

impl Windows {
    /// Windows of one value each; none of them may be NaN.
    pub fn new(values: &[f64]) -> Self {
        Self { high: values.to_vec(), low: values.to_vec(), width: 1, narrower: Vec::new() }
    }

    /// Windows of one value each of other values, in the same memory; none of them may be NaN.
    pub fn start(&mut self, values: &[f64]) {
        for ends in [&mut self.high, &mut self.low] {
            ends.clear();
            ends.extend_from_slice(values);
        }
        self.width = 1;
    }

    /// Makes the windows `width` values wide: as many as fit, each at its first value. A narrower width changes nothing.
    pub fn widen(&mut self, width: usize) {
        while self.width < width {
            let by = self.width.min(width - self.width);
            join(&mut self.high, &mut self.narrower, by, |a, b| if a > b { a } else { b });
            join(&mut self.low, &mut self.narrower, by, |a, b| if a < b { a } else { b });
            self.width += by;
        }
    }

    /// Highest minus lowest value of each window, in order of the windows' first values.
    pub fn changes(&self) -> impl ExactSizeIterator<Item = f64> {
        self.high.iter().zip(&self.low).map(|(high, low)| high - low)
    }
}

fn join(ends: &mut Vec<f64>, narrower: &mut Vec<f64>, by: usize, pick: impl Fn(f64, f64) -> f64) {
    std::mem::swap(ends, narrower);
    let later = narrower.get(by..).unwrap_or_default();
    ends.clear();
    ends.extend(narrower.iter().zip(later).map(|(a, b)| pick(*a, *b)));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_width_gives_what_looking_at_every_window_gives() {
        let values: Vec<f64> = (0..300).map(|i| f64::from((i * 7919) % 263) / 10.0).collect();
        let mut windows = Windows::new(&values);
        for width in [1, 2, 4, 7, 13, 49, 144, 300, 301] {
            windows.widen(width);
            let range = |w: &[f64]| {
                w.iter().copied().fold(f64::MIN, f64::max) - w.iter().copied().fold(f64::MAX, f64::min)
            };
            let looked_at: Vec<f64> = values.windows(width).map(range).collect();
            assert_eq!(windows.changes().collect::<Vec<_>>(), looked_at, "{width}");
        }
        windows.start(&[20.0, 21.0, 19.5]);
        windows.widen(2);
        assert_eq!(windows.changes().collect::<Vec<_>>(), [1.0, 1.5]);
    }
}
