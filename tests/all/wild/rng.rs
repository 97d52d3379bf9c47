//! Numbers that only look random: the same seed gives the same file on any machine.

/// A small generator (splitmix64).
pub(crate) struct Rng(u64);

impl Rng {
    /// A stream of its own for each purpose, so that a change of one trait leaves the others as they are.
    pub(crate) fn new(seed: u64, purpose: &str) -> Self {
        let mix = |h: u64, b: u8| (h ^ u64::from(b)).wrapping_mul(0x0000_0100_0000_01b3);
        Self(purpose.bytes().fold(seed ^ 0xcbf2_9ce4_8422_2325, mix))
    }

    pub(crate) fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// A number below `n`, which is above 0.
    pub(crate) fn below(&mut self, n: usize) -> usize {
        (self.next() % n as u64) as usize
    }

    /// A number from `from` to `to`, both included.
    pub(crate) fn within(&mut self, from: i64, to: i64) -> i64 {
        from + (self.next() % (to - from + 1) as u64) as i64
    }

    /// Whether something of this many percent happens.
    pub(crate) fn percent(&mut self, percent: usize) -> bool {
        self.below(100) < percent
    }

    pub(crate) fn pick<T: Copy>(&mut self, of: &[T]) -> T {
        of[self.below(of.len())]
    }

    /// A number from 0 to 1.
    pub(crate) fn share(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }
}
