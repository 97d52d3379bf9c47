//! Real numbers in single and in double precision, as the format has them.

use parquet::file::statistics::Statistics;

/// A real number as the format has it.
pub(super) trait Real: Copy + PartialOrd {
    /// The number in double precision, which is exact.
    fn double(self) -> f64;
    /// Its bits, in the lowest ones.
    fn bits(self) -> u64;
    /// A number that was made double, as it was.
    fn narrow(double: f64) -> Self;
    /// What the footer says of a column with these lowest and highest numbers.
    fn statistics(ends: (Option<f64>, Option<f64>), missing: u64) -> Statistics;
}

impl Real for f32 {
    #[inline]
    fn double(self) -> f64 {
        f64::from(self)
    }

    #[inline]
    fn bits(self) -> u64 {
        u64::from(self.to_bits())
    }

    fn narrow(double: f64) -> Self {
        double as f32
    }

    fn statistics((low, high): (Option<f64>, Option<f64>), missing: u64) -> Statistics {
        Statistics::float(low.map(|x| x as f32), high.map(|x| x as f32), None, Some(missing), false)
    }
}

impl Real for f64 {
    #[inline]
    fn double(self) -> f64 {
        self
    }

    #[inline]
    fn bits(self) -> u64 {
        self.to_bits()
    }

    fn narrow(double: f64) -> Self {
        double
    }

    fn statistics((low, high): (Option<f64>, Option<f64>), missing: u64) -> Statistics {
        Statistics::double(low, high, None, Some(missing), false)
    }
}
