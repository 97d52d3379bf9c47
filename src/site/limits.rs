//! The limits of the quality tests, typed, with the defaults for indoor air in one place.

use crate::units::{Celsius, KelvinDiff, KelvinPerHour};

/// A quality test that judges each reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Test {
    /// Is the value possible at all?
    GrossRange,
    /// Does one reading stand out from its two neighbours?
    Spike,
    /// Did the value change faster than a room can?
    RateOfChange,
    /// Has the value stopped changing?
    FlatLine,
    /// How long was nothing recorded before this reading?
    Gap,
    /// Did the logger stand in its room?
    Place,
}

impl Test {
    /// All tests, in the order in which results are kept.
    pub const ALL: [Test; 6] =
        [Test::GrossRange, Test::Spike, Test::RateOfChange, Test::FlatLine, Test::Gap, Test::Place];

    /// The name in `site.toml`.
    pub const fn name(self) -> &'static str {
        match self {
            Test::GrossRange => "gross range",
            Test::Spike => "spike",
            Test::RateOfChange => "rate of change",
            Test::FlatLine => "flat line",
            Test::Gap => "gap",
            Test::Place => "place",
        }
    }

    /// What it asks, in one sentence.
    pub const fn question(self) -> &'static str {
        match self {
            Test::GrossRange => {
                "can the sensor measure this value at all, is it unusual for a room (suspect, and used), or are the readings in another unit?"
            }
            Test::Spike => "does one reading stand out from its two neighbours?",
            Test::RateOfChange => {
                "did the value change faster than the air of a room mostly does (suspect, and used)?"
            }
            Test::FlatLine => {
                "has the value stopped changing while the other rooms or the outdoor air moved (fail: stuck), or for unusually long without a witness (suspect, and used)?"
            }
            Test::Gap => {
                "was nothing recorded for long before this reading? (kept, but not part of the roll-up: it is about the time before)"
            }
            Test::Place => {
                "does the record show the logger elsewhere than in its room: outdoors, in a hand or a bag, beside the other loggers?"
            }
        }
    }

    /// The name in tables.
    pub const fn id(self) -> &'static str {
        match self {
            Test::GrossRange => "gross_range",
            Test::Spike => "spike",
            Test::RateOfChange => "rate_of_change",
            Test::FlatLine => "flat_line",
            Test::Gap => "gap",
            Test::Place => "place",
        }
    }
}

/// Limits of the gross-range test; a value equal to a limit passes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GrossRange {
    /// Outside: fail, and in no number. What the sensor can measure.
    pub fail: (Celsius, Celsius),
    /// Outside: suspect, and used all the same. What a room mostly is.
    pub suspect: (Celsius, Celsius),
}

/// How the spike test measures how far a reading stands out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SpikeMethod {
    /// Distance from the mean of the two neighbours.
    Average,
    /// The smaller of the two steps, when they go opposite ways.
    Differential,
}

/// Limits of the spike test, strict.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spike {
    /// Over: suspect.
    pub suspect: KelvinDiff,
    /// Over: fail where the logger samples often ([`OFTEN_S`]), else suspect.
    pub fail: KelvinDiff,
    /// How the height is measured.
    pub method: SpikeMethod,
}

/// Limits of the rate-of-change test, strict.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RateOfChange {
    /// Over: suspect.
    pub suspect: KelvinPerHour,
}

/// Limits of the flat-line test.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FlatLine {
    /// Shortest run of one value that is looked at, in seconds.
    pub least_s: i64,
    /// How many times as long as the longest other run of the logger it must be.
    pub times_longest: f64,
    /// One value means: within this of the first of the run; `None`: exact repeats.
    pub within: Option<KelvinDiff>,
    /// So many readings of one value fail without a witness, as in the plain test of the QARTOD manual; `None`: none do.
    pub without_witness: Option<usize>,
}

/// Limit of the gap test.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Gap {
    /// Longer than this, in seconds, and longer than 2.5 sampling intervals.
    pub longer_than_s: i64,
}

/// Which tests run, and their limits.
#[derive(Clone, Debug, PartialEq)]
pub struct QualityLimits {
    /// Tests that run; the others answer "not evaluated".
    pub tests: Vec<Test>,
    /// Whether suspect readings are used for alignment too.
    pub use_suspect: bool,
    /// Limits of the gross-range test.
    pub gross_range: GrossRange,
    /// Limits of the spike test.
    pub spike: Spike,
    /// Limits of the rate-of-change test.
    pub rate_of_change: RateOfChange,
    /// Limits of the flat-line test.
    pub flat_line: FlatLine,
    /// Limit of the gap test.
    pub gap: Gap,
}

/// Loggers that sample at least this often, in seconds, see an airing in more than one reading.
pub const OFTEN_S: i64 = 600;

impl Default for QualityLimits {
    /// The defaults for indoor air.
    ///
    /// # Source
    /// METRICS, section 2. The numbers are common practice, no published source: most loggers read from -40 to 85 °C;
    /// a single reading more than 3 K beyond both neighbours is no room air where a logger samples every 10 min; 30 K/h
    /// lets airing and showers pass; 1 h is the example of the QARTOD manual's gap test.
    fn default() -> Self {
        Self {
            tests: Test::ALL.to_vec(),
            use_suspect: true,
            gross_range: GrossRange {
                fail: (Celsius::new(-40.0), Celsius::new(85.0)),
                suspect: (Celsius::new(2.0), Celsius::new(40.0)),
            },
            spike: Spike {
                suspect: KelvinDiff::new(2.0),
                fail: KelvinDiff::new(3.0),
                method: SpikeMethod::Differential,
            },
            rate_of_change: RateOfChange { suspect: KelvinPerHour::new(30.0) },
            flat_line: FlatLine {
                least_s: 6 * 3600,
                times_longest: 3.0,
                within: None,
                without_witness: None,
            },
            gap: Gap { longer_than_s: 3600 },
        }
    }
}

impl QualityLimits {
    /// The tests for a weather series, with limits of its own: outdoors, cold is no fault, and hourly values may change by
    /// 10 K where a front passes or a fog lifts.
    ///
    /// # Source
    /// Common practice, no published source.
    pub fn outdoors(&self) -> Self {
        let span = (Celsius::new(-60.0), Celsius::new(60.0));
        Self {
            gross_range: GrossRange { fail: span, suspect: span },
            spike: Spike { suspect: KelvinDiff::new(10.0), fail: KelvinDiff::new(20.0), ..self.spike },
            rate_of_change: RateOfChange { suspect: KelvinPerHour::new(60.0) },
            ..self.clone()
        }
    }
}
