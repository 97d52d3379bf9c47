//! Random numbers that are the same each time.

use super::student::normal_quantile;

/// A stream of random numbers.
///
/// # Source
/// S. Vigna's splitmix64.
#[derive(Clone, Debug)]
pub(super) struct Random {
    state: u64,
}

impl Random {
    pub(super) fn new(seed: u64) -> Self {
        Self { state: seed }
    }

    fn bits(&mut self) -> u64 {
        self.state = self.state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.state;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// A whole number below `n`: the upper half of the bits times `n`.
    pub(super) fn below(&mut self, n: usize) -> usize {
        (((self.bits() >> 32) * n as u64) >> 32) as usize
    }

    /// A standard normal number: the quantile of an even one from the middle of 2⁵³ equal parts.
    pub(super) fn normal(&mut self) -> f64 {
        normal_quantile(((self.bits() >> 11) as f64 + 0.5) / (1_u64 << 53) as f64)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::{mean, standard_deviation};

    #[test]
    fn normal_numbers_are_normal() {
        let mut random = Random::new(1);
        let values: Vec<f64> = (0..20_000).map(|_| random.normal()).collect();
        let (mean, sd) = (mean(&values).unwrap(), standard_deviation(&values).unwrap());
        assert!(mean.abs() < 0.02 && (sd - 1.0).abs() < 0.02, "{mean} {sd}");
    }
}
