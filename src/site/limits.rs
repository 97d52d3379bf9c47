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
}

impl Test {
    /// All tests, in the order in which results are kept.
    pub const ALL: [Test; 5] = [Test::GrossRange, Test::Spike, Test::RateOfChange, Test::FlatLine, Test::Gap];

    /// The name in `site.toml`.
    pub const fn name(self) -> &'static str {
        match self {
            Test::GrossRange => "gross range",
            Test::Spike => "spike",
            Test::RateOfChange => "rate of change",
            Test::FlatLine => "flat line",
            Test::Gap => "gap",
        }
    }

    /// What it asks, in one sentence.
    pub const fn question(self) -> &'static str {
        match self {
            Test::GrossRange => "can the sensor measure this value at all, and can a room be so?",
            Test::Spike => "does one reading stand out from its two neighbours?",
            Test::RateOfChange => "did the value change faster than the air of a room can?",
            Test::FlatLine => "has the value stopped changing?",
            Test::Gap => {
                "was nothing recorded for long before this reading? (kept, but not part of the roll-up: it is about the time before)"
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
        }
    }
}

/// Limits of the gross-range test; a value equal to a limit passes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GrossRange {
    /// Outside: fail. What the sensor can measure.
    pub fail: (Celsius, Celsius),
    /// Outside: suspect. What a room can be.
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
    /// Over: fail.
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
    /// At least this long, in seconds: suspect.
    pub suspect_s: i64,
    /// At least this long, in seconds: fail.
    pub fail_s: i64,
    /// Flat means max − min below this; `None`: below half the logger's resolution, so exact repeats only.
    pub within: Option<KelvinDiff>,
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

/// The logger resolution, in K, up to which the flat-line durations hold as they are; coarser loggers
/// repeat themselves in a steady room, so their durations are stretched in proportion.
pub const FINE_RESOLUTION: KelvinDiff = KelvinDiff::new(0.1);

impl Default for QualityLimits {
    /// The defaults for indoor air.
    ///
    /// # Source
    /// Gross range: METRICS, section 2. The others are common practice, no published source:
    /// a spike of 5 K that is gone at the next reading is no room air; 30 K/h lets airing and showers pass;
    /// a fine logger in a lived-in room does not repeat one value for 12 h; 1 h is the example of the QARTOD
    /// manual's gap test.
    fn default() -> Self {
        Self {
            tests: Test::ALL.to_vec(),
            use_suspect: false,
            gross_range: GrossRange {
                fail: (Celsius::new(-40.0), Celsius::new(70.0)),
                suspect: (Celsius::new(2.0), Celsius::new(40.0)),
            },
            spike: Spike {
                suspect: KelvinDiff::new(2.0),
                fail: KelvinDiff::new(5.0),
                method: SpikeMethod::Average,
            },
            rate_of_change: RateOfChange { suspect: KelvinPerHour::new(30.0) },
            flat_line: FlatLine { suspect_s: 12 * 3600, fail_s: 24 * 3600, within: None },
            gap: Gap { longer_than_s: 3600 },
        }
    }
}

impl QualityLimits {
    /// The same tests for a weather series: outdoors, cold is no fault.
    ///
    /// # Source
    /// Common practice, no published source.
    pub fn outdoors(&self) -> Self {
        let span = (Celsius::new(-60.0), Celsius::new(60.0));
        Self { gross_range: GrossRange { fail: span, suspect: span }, ..self.clone() }
    }
}
