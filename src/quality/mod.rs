//! Readings → [`Flagged`] → [`Corrected`].
//!
//! Flags follow the QARTOD scheme. Each test's own answer is kept beside the roll-up, because one *good*
//! hides a *not evaluated* there. Only a `Corrected` series can be aligned, and only a `Flagged` one can be
//! corrected: cleaning cannot be skipped.
//!
//! ```
//! use evenrooms::exports::Readings;
//! use evenrooms::quality::{Corrected, Flagged};
//! use evenrooms::site::QualityLimits;
//! let readings = Readings::from_series(&[(0, Some(20.0)), (300_000, Some(20.1))]);
//! let corrected = Corrected::new(&Flagged::new(readings, &QualityLimits::default()), None, false);
//! assert_eq!(corrected.degc(), [20.0, 20.1]);
//! ```
//!
//! ```compile_fail,E0308
//! use evenrooms::exports::Readings;
//! use evenrooms::quality::Corrected;
//! let readings = Readings::from_series(&[(0, Some(20.0))]);
//! // Readings that nobody flagged cannot be corrected, and so never reach the grid or a metric.
//! let corrected = Corrected::new(&readings, None, false);
//! ```

pub mod across;
pub mod checks;
pub mod colocation;
pub mod elsewhere;
mod record;

use std::ops::Range;

pub use record::{COUNTED, LoggerRow};

use crate::exports::Readings;
use crate::site::{FINE_RESOLUTION, QualityLimits, Test};
use crate::units::KelvinDiff;

/// A quality flag, with the numbers of the QARTOD scheme.
///
/// # Source
/// IOOS, Manual for Real-Time Quality Control of In-situ Temperature and Salinity Data, version 2.0 (2016).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[repr(u8)]
pub enum Flag {
    /// Passed.
    Good = 1,
    /// Not evaluated.
    NotEvaluated = 2,
    /// Suspect.
    Suspect = 3,
    /// Failed.
    Fail = 4,
    /// No value.
    Missing = 9,
}

impl Flag {
    /// The number in tables.
    pub const fn number(self) -> u8 {
        self as u8
    }

    fn from_bits(bits: u32) -> Self {
        match bits & 15 {
            1 => Self::Good,
            3 => Self::Suspect,
            4 => Self::Fail,
            9 => Self::Missing,
            _ => Self::NotEvaluated,
        }
    }

    const fn rank(self) -> u8 {
        match self {
            Self::Fail => 4,
            Self::Suspect => 3,
            Self::Good => 2,
            Self::NotEvaluated => 1,
            Self::Missing => 0,
        }
    }
}

/// The roll-up of several tests: fail over suspect over good over not evaluated over missing; missing when there are none.
///
/// # Source
/// QARTOD roll-up as METRICS, section 2 has it.
pub fn roll_up(flags: impl IntoIterator<Item = Flag>) -> Flag {
    flags.into_iter().max_by_key(|f| f.rank()).unwrap_or(Flag::Missing)
}

/// Answers of all tests about one reading, four bits each.
type Answers = u32;

fn answer(answers: Answers, test: Test) -> Flag {
    Flag::from_bits(answers >> (4 * test as u32))
}

/// Neighbouring readings of which every test said the same.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Alike {
    /// How many they are.
    pub readings: usize,
    /// Their roll-up flag.
    pub flag: Flag,
    /// What all tests said about each, as one number that is the same for the same answers.
    pub answers: u32,
}

/// Readings with a flag each, and what every test said.
///
/// Nearly all neighbours are alike, so that answers are kept for stretches of them.
#[derive(Clone, Debug)]
pub struct Flagged {
    readings: Readings,
    alike: Vec<Alike>,
}

impl Flagged {
    /// Runs the tests.
    ///
    /// A test that is switched off answers "not evaluated". The gap test speaks about the time before a
    /// reading, not about the reading: its answer is kept, but it does not enter the roll-up.
    pub fn new(readings: Readings, limits: &QualityLimits) -> Self {
        let tests = Tests::of(&readings, limits);
        let flat = tests.on(Test::FlatLine).then(|| tests.flat_line());
        let closely = tests.closely(flat.as_deref());
        let mut alike: Vec<Alike> = Vec::new();
        let mut add = |more: Alike| match alike.last_mut() {
            Some(last) if (last.flag, last.answers) == (more.flag, more.answers) => {
                last.readings += more.readings
            }
            _ => alike.push(more),
        };
        let mut i = 0;
        while i < readings.len() {
            let quiet = memchr::memchr(1, &closely[i..]).unwrap_or(closely.len() - i);
            let (of_value, gap) = if quiet > 0 {
                tests.quiet_answers()
            } else {
                tests.answers(i, flat.as_ref().map_or(Flag::NotEvaluated, |flat| flat[i]))
            };
            let flag = if readings.degc()[i].is_nan() { Flag::Missing } else { roll_up(of_value) };
            add(Alike { readings: quiet.max(1), flag, answers: coded(of_value, gap) });
            i += quiet.max(1);
        }
        Self { readings, alike }
    }

    /// The readings.
    pub fn readings(&self) -> &Readings {
        &self.readings
    }

    /// Stretches of neighbours of which every test said the same, in order; together they are all readings.
    pub fn alike(&self) -> &[Alike] {
        &self.alike
    }

    /// The places of the readings of each stretch.
    fn stretches(&self) -> impl Iterator<Item = (Range<usize>, Alike)> {
        let mut from = 0;
        self.alike.iter().map(move |alike| {
            from += alike.readings;
            (from - alike.readings..from, *alike)
        })
    }

    /// Places of the readings that one test called suspect or failed.
    pub fn caught_by(&self, test: Test) -> impl Iterator<Item = usize> {
        let caught = move |alike: &Alike| matches!(answer(alike.answers, test), Flag::Suspect | Flag::Fail);
        self.stretches().filter(move |(_, alike)| caught(alike)).flat_map(|(places, _)| places)
    }

    /// The words for what all tests said: `gross_range=1;spike=1;…`.
    pub fn answers_words(code: u32) -> String {
        let word = |t: Test| format!("{}={}", t.id(), answer(code, t).number());
        Test::ALL.map(word).join(";")
    }

    /// How many readings have a flag.
    pub fn count(&self, flag: Flag) -> u64 {
        self.alike.iter().filter(|a| a.flag == flag).map(|a| a.readings as u64).sum()
    }

    /// How many readings one test called suspect or failed.
    pub fn count_caught_by(&self, test: Test) -> u64 {
        self.caught_by(test).count() as u64
    }
}

/// The answers about one reading: of the tests of its value in the order of [`Test::ALL`], and of the gap before it.
fn coded([range, spike, rate, flat]: [Flag; 4], gap: Flag) -> Answers {
    let bits = |flag: Flag, test: Test| Answers::from(flag.number()) << (4 * test as u32);
    bits(range, Test::GrossRange)
        | bits(spike, Test::Spike)
        | bits(rate, Test::RateOfChange)
        | bits(flat, Test::FlatLine)
        | bits(gap, Test::Gap)
}

/// The tests of one series, with what they need to know of it.
struct Tests<'a> {
    times: &'a [i64],
    degc: &'a [f64],
    limits: &'a QualityLimits,
    /// Whether each test of [`Test::ALL`] is on.
    on: [bool; 5],
    interval_ms: i64,
    /// Neighbours further apart do not speak of each other.
    reach_ms: i64,
    longest_ms: i64,
    resolution: KelvinDiff,
}

impl<'a> Tests<'a> {
    fn of(readings: &'a Readings, limits: &'a QualityLimits) -> Self {
        let degc = readings.degc();
        let interval_ms = readings.interval_ms().unwrap_or(1);
        let reach_ms = interval_ms * 5 / 2;
        let resolution = checks::resolution(degc);
        Self {
            times: readings.times_ms(),
            degc,
            limits,
            on: Test::ALL.map(|test| limits.tests.contains(&test)),
            interval_ms,
            reach_ms,
            longest_ms: (limits.gap.longer_than_s * 1000).max(reach_ms),
            resolution,
        }
    }

    fn on(&self, test: Test) -> bool {
        self.on[test as usize]
    }

    fn if_on(&self, test: Test, flag: Flag) -> Flag {
        if self.on(test) { flag } else { Flag::NotEvaluated }
    }

    /// What the tests of the value say (in the order of [`Test::ALL`]), and what the one of the gap before it.
    fn answers(&self, i: usize, flat: Flag) -> ([Flag; 4], Flag) {
        let Self { times, degc, limits, reach_ms, .. } = *self;
        let rate = limits.rate_of_change.suspect;
        let of_value = [
            self.if_on(Test::GrossRange, checks::gross_range_of(degc[i], &limits.gross_range)),
            self.if_on(Test::Spike, checks::spike_at(times, degc, i, &limits.spike, Some(reach_ms))),
            self.if_on(Test::RateOfChange, checks::rate_of_change_at(times, degc, i, rate, self.resolution)),
            flat,
        ];
        (of_value, self.if_on(Test::Gap, checks::gap_at(times, i, self.longest_ms)))
    }

    /// The answers about a quiet reading: every test that is on passes.
    fn quiet_answers(&self) -> ([Flag; 4], Flag) {
        let [range, spike, rate, flat, gap] = Test::ALL.map(|test| self.if_on(test, Flag::Good));
        ([range, spike, rate, flat], gap)
    }

    /// 1 for each reading that must be looked at closely, 0 for a quiet one.
    ///
    /// A quiet reading lies in the range of a room, a small step from both neighbours, which are neither far nor close,
    /// and is not flat: all tests pass then, and none need be asked. A step is small if it is no more than half a spike,
    /// since no reading stands out by more than it differs from the further neighbour, and slow enough for half an interval.
    fn closely(&self, flat: Option<&[Flag]>) -> Vec<u8> {
        let (low, high) =
            (self.limits.gross_range.suspect.0.degc(), self.limits.gross_range.suspect.1.degc());
        let half_ms = self.interval_ms / 2;
        let slow = self.limits.rate_of_change.suspect.k_per_h() * (half_ms as f64 / 3_600_000.0);
        let small = slow.min(self.limits.spike.suspect.k() / 2.0);
        // A missing value compares as false.
        let fine = |(t, x): (&[i64], &[f64])| {
            let (apart_ms, step) = (t[1] - t[0], (x[1] - x[0]).abs());
            let near = u8::from(apart_ms >= half_ms) & u8::from(apart_ms <= self.reach_ms);
            near & u8::from(step <= small) & u8::from(x[0] >= low) & u8::from(x[0] <= high)
        };
        let fine: Vec<u8> = self.times.windows(2).zip(self.degc.windows(2)).map(fine).collect();
        let mut closely = vec![1; self.degc.len()];
        for (closely, pair) in closely.iter_mut().skip(1).zip(fine.windows(2)) {
            *closely = 1 - (pair[0] & pair[1]);
        }
        for (closely, flat) in closely.iter_mut().zip(flat.unwrap_or_default()) {
            *closely |= u8::from(*flat != Flag::Good);
        }
        closely
    }

    fn flat_line(&self) -> Vec<Flag> {
        let limits = &self.limits.flat_line;
        let within = limits.within.unwrap_or(KelvinDiff::new(self.resolution.k() / 2.0));
        let stretch = (self.resolution.k() / FINE_RESOLUTION.k()).max(1.0);
        let count = |s: i64| ((s as f64 * 1000.0 * stretch) as i64 / self.interval_ms).max(2) as usize;
        let counts = checks::FlatCounts { suspect: count(limits.suspect_s), fail: count(limits.fail_s) };
        checks::flat_line_whole_run(self.degc, counts, within)
    }
}

/// The usable readings of one logger, its known offset removed: all that the grid may see.
///
/// Arrays of the same length, rising in time, every value present.
#[derive(Clone, Debug)]
pub struct Corrected {
    times_ms: Vec<i64>,
    degc: Vec<f64>,
    interval_ms: Option<i64>,
    humidity: Option<Humidity>,
}

/// The usable relative humidities of one logger, rising in time, every value present.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Humidity {
    /// Milliseconds since the Unix epoch.
    pub times_ms: Vec<i64>,
    /// Relative humidity in %.
    pub percent: Vec<f64>,
}

/// What the range test says of a relative humidity: good from 0 to 100 %, else fail.
///
/// # Source
/// Own definition, with the flags of the QARTOD scheme.
pub fn humidity_flag(percent: f64) -> Flag {
    match percent {
        p if p.is_nan() => Flag::Missing,
        p if (0.0..=100.0).contains(&p) => Flag::Good,
        _ => Flag::Fail,
    }
}

impl Corrected {
    /// Keeps readings flagged good or not evaluated (suspect ones too where wanted), and takes the logger's offset off.
    pub fn new(flagged: &Flagged, offset: Option<KelvinDiff>, use_suspect: bool) -> Self {
        let usable = |flag: Flag| {
            matches!(flag, Flag::Good | Flag::NotEvaluated) || (use_suspect && flag == Flag::Suspect)
        };
        let offset_k = offset.map_or(0.0, KelvinDiff::k);
        let readings = &flagged.readings;
        let (mut times_ms, mut degc) =
            (Vec::with_capacity(readings.len()), Vec::with_capacity(readings.len()));
        for (places, _) in flagged.stretches().filter(|(_, alike)| usable(alike.flag)) {
            times_ms.extend_from_slice(&readings.times_ms()[places.clone()]);
            degc.extend(readings.degc()[places].iter().map(|x| x - offset_k));
        }
        let humidity = readings.humidity_percent().map(|percent| {
            let good = (0..percent.len()).filter(|i| humidity_flag(percent[*i]) == Flag::Good);
            let (times_ms, percent) = good.map(|i| (readings.times_ms()[i], percent[i])).unzip();
            Humidity { times_ms, percent }
        });
        Self { times_ms, degc, interval_ms: readings.interval_ms(), humidity }
    }

    /// The usable relative humidities; `None` where the logger recorded none.
    pub fn humidity(&self) -> Option<&Humidity> {
        self.humidity.as_ref()
    }

    /// Milliseconds since the Unix epoch, rising.
    pub fn times_ms(&self) -> &[i64] {
        &self.times_ms
    }

    /// Temperatures in °C, all present.
    pub fn degc(&self) -> &[f64] {
        &self.degc
    }

    /// The logger's sampling interval.
    pub fn interval_ms(&self) -> Option<i64> {
        self.interval_ms
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    impl Flagged {
        fn flags(&self) -> Vec<Flag> {
            self.alike.iter().flat_map(|a| vec![a.flag; a.readings]).collect()
        }

        fn answer(&self, i: usize, test: Test) -> Flag {
            let (_, alike) = self.stretches().find(|(places, _)| places.contains(&i)).unwrap();
            answer(alike.answers, test)
        }
    }

    #[test]
    fn with_all_tests_off_nothing_is_evaluated_and_all_values_are_used() {
        let readings = Readings::from_series(&[(0, Some(20.0)), (1, None), (2, Some(500.0))]);
        let limits = QualityLimits { tests: Vec::new(), ..QualityLimits::default() };
        let flagged = Flagged::new(readings, &limits);
        assert_eq!(flagged.flags(), [Flag::NotEvaluated, Flag::Missing, Flag::NotEvaluated]);
        assert_eq!(Corrected::new(&flagged, None, false).degc(), [20.0, 500.0]);
    }

    #[test]
    fn a_failed_reading_is_never_used_and_a_suspect_one_on_request() {
        let series: Vec<(i64, Option<f64>)> = [20.0, 20.1, 1.0, 20.2, 20.1, 90.0]
            .iter()
            .enumerate()
            .map(|(i, x)| (i as i64 * 3_600_000, Some(*x)))
            .collect();
        let limits = QualityLimits { tests: vec![Test::GrossRange], ..QualityLimits::default() };
        let flagged = Flagged::new(Readings::from_series(&series), &limits);
        assert_eq!(Corrected::new(&flagged, None, false).degc().len(), 4);
        assert_eq!(Corrected::new(&flagged, None, true).degc().len(), 5);
        assert_eq!(flagged.answer(2, Test::Spike), Flag::NotEvaluated);
        assert_eq!(
            Flagged::answers_words(flagged.alike().last().unwrap().answers),
            "gross_range=4;spike=2;rate_of_change=2;flat_line=2;gap=2"
        );
    }

    #[test]
    fn a_quiet_reading_gets_the_answers_that_asking_every_test_gives() {
        let step =
            |i: usize| if i.is_multiple_of(41) { 3_600_000 } else { 240_000 + (i as i64 * 7919 % 120_000) };
        let value = |i: usize| match i % 53 {
            0 => None,
            1 => Some(27.0),
            2 => Some(45.0),
            3..9 => Some(21.0),
            k => Some(20.0 + ((i * 31) % 17) as f64 / 10.0 + k as f64 / 50.0),
        };
        let times = (0..4000).scan(0, |t, i| {
            *t += step(i);
            Some((*t, value(i)))
        });
        let readings = Readings::from_series(&times.collect::<Vec<_>>());
        for tests in [Test::ALL.to_vec(), vec![Test::Spike, Test::Gap]] {
            let limits = QualityLimits { tests, ..QualityLimits::default() };
            let flagged = Flagged::new(readings.clone(), &limits);
            let (times, degc) = (readings.times_ms(), readings.degc());
            let reach_ms = readings.interval_ms().unwrap() * 5 / 2;
            let asked = [
                (Test::GrossRange, checks::gross_range(degc, &limits.gross_range)),
                (Test::Spike, checks::spike(times, degc, &limits.spike, Some(reach_ms))),
                (
                    Test::RateOfChange,
                    checks::rate_of_change(
                        times,
                        degc,
                        limits.rate_of_change.suspect,
                        checks::resolution(degc),
                    ),
                ),
                (Test::Gap, checks::gap(times, (limits.gap.longer_than_s * 1000).max(reach_ms))),
            ];
            for (test, flags) in asked {
                let on = |flag| if limits.tests.contains(&test) { flag } else { Flag::NotEvaluated };
                let answers: Vec<Flag> = (0..degc.len()).map(|i| flagged.answer(i, test)).collect();
                assert_eq!(answers, flags.into_iter().map(on).collect::<Vec<_>>(), "{test:?}");
            }
        }
    }

    #[test]
    fn an_offset_is_taken_off() {
        let flagged = Flagged::new(Readings::from_series(&[(0, Some(20.5))]), &QualityLimits::default());
        assert_eq!(Corrected::new(&flagged, Some(KelvinDiff::new(0.5)), false).degc(), [20.0]);
    }

    #[test]
    fn a_coarse_logger_in_a_steady_room_is_not_stuck() {
        let hours = |n: i64, value: fn(i64) -> f64| {
            (0..n).map(|h| (h * 3_600_000, Some(value(h)))).collect::<Vec<_>>()
        };
        let coarse = Flagged::new(
            Readings::from_series(&hours(60, |h| if h < 30 { 20.0 } else { 20.5 })),
            &QualityLimits::default(),
        );
        assert_eq!(coarse.count_caught_by(Test::FlatLine), 0, "a 0.5 K logger may repeat itself for 30 h");
        let fine = Flagged::new(
            Readings::from_series(&hours(60, |h| if h < 30 { 20.0 } else { 20.0 + h as f64 * 0.1 })),
            &QualityLimits::default(),
        );
        assert_eq!(
            fine.count_caught_by(Test::FlatLine),
            30,
            "a 0.1 K logger may not; the whole run is marked"
        );
    }
}
