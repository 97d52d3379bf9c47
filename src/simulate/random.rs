//! Random numbers from a seed and a path: each thing that is drawn has a stream of its own, so that what one home
//! draws does not depend on how many others there are, or in which order they are made.

/// A stream of random numbers.
///
/// # Source
/// S. Vigna's splitmix64 for the stream, polar method (Marsaglia) for normal numbers.
#[derive(Clone, Debug)]
pub(super) struct Random {
    state: u64,
    spare: Option<f64>,
}

impl Random {
    /// The stream of a seed and a path of words or numbers.
    pub(super) fn of(seed: u64, path: &[u64]) -> Self {
        let mut random = Self { state: seed ^ 0x5851_f42d_4c95_7f2d, spare: None };
        for part in path {
            random.state = random.bits() ^ part.wrapping_mul(0x9e37_79b9_7f4a_7c15);
        }
        random.bits();
        random
    }

    /// Another stream that starts where this one is, and leaves this one as it is.
    pub(super) fn beside(&self, part: u64) -> Self {
        Random::of(self.state, &[part])
    }

    fn bits(&mut self) -> u64 {
        self.state = self.state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.state;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// Evenly spread from 0 up to 1.
    pub(super) fn unit(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Evenly spread between two numbers.
    pub(super) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// A whole number below `n`.
    pub(super) fn below(&mut self, n: usize) -> usize {
        ((self.unit() * n as f64) as usize).min(n.saturating_sub(1))
    }

    /// Whether something of this probability happens.
    pub(super) fn happens(&mut self, probability: f64) -> bool {
        self.unit() < probability
    }

    /// A normal number with mean 0 and deviation 1.
    pub(super) fn normal(&mut self) -> f64 {
        if let Some(spare) = self.spare.take() {
            return spare;
        }
        loop {
            let (u, v) = (self.between(-1.0, 1.0), self.between(-1.0, 1.0));
            let s = u * u + v * v;
            if s > 0.0 && s < 1.0 {
                let factor = libm::sqrt(-2.0 * libm::log(s) / s);
                self.spare = Some(v * factor);
                return u * factor;
            }
        }
    }

    /// One of some things.
    pub(super) fn pick<T: Copy>(&mut self, from: &[T]) -> T {
        from[self.below(from.len())]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn normal_numbers_are_normal_and_streams_differ() {
        let mut random = Random::of(1, &[2, 3]);
        let values: Vec<f64> = (0..20_000).map(|_| random.normal()).collect();
        let (mean, sd) =
            (crate::stats::mean(&values).unwrap(), crate::stats::standard_deviation(&values).unwrap());
        assert!(mean.abs() < 0.03 && (sd - 1.0).abs() < 0.02, "{mean} {sd}");
        assert!((Random::of(1, &[2, 3]).unit() - Random::of(1, &[3, 2]).unit()).abs() > 1e-12);
    }
}
