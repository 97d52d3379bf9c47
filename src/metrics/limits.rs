//! Limits that several families share.

/// Room for float noise where a difference is compared with a limit, in K: two aligned values are held to 2e-6 K each.
pub const FLOAT_NOISE_K: f64 = 4e-6;

/// Share of a local day that must have values for the day to count.
pub const DAY_COVERAGE: f64 = 0.75;
