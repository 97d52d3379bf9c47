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
//!
//! Settled here, and why:
//! - **Evidence, not strangeness, takes a reading out.** Suspect readings are used; `low` of every number of hours counts
//!   without them, `high` with them, an instant of the heat rule that rests on one is too close to call, and nothing
//!   about the building is called good where more than a tenth of a room's hours rest on them. The aligned table says
//!   which do (`flag`).

mod brought;
pub mod checks;
pub mod colocation;
pub mod copies;
mod corrected;
pub mod episodes;
mod handled;
mod kept_places;
mod near;
pub mod peer_check;
mod place;
mod record;
pub mod repeats;
mod still;
pub mod stuck;
pub(crate) mod together;
mod unit;
pub mod weather;
mod zeros;

use std::ops::Range;

pub use crate::exports::SetBack;
pub use corrected::{Corrected, Humidity, humidity_flag};
pub use record::{BLANK_H, COUNTED, LoggerRow, Moved, TALL_K, Words};

use crate::clock::Span;
use crate::exports::Readings;
use crate::site::{OFTEN_S, QualityLimits, Test};
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
    /// reading, not about the reading: its answer is kept, but it does not enter the roll-up. The tests of a flat line and
    /// of the place need witnesses (the other rooms, the outdoor air): here they pass, and [`Flagged::mark`] says more.
    pub fn new(readings: Readings, limits: &QualityLimits) -> Self {
        let tests = Tests::of(&readings, limits);
        let closely = tests.closely();
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
            let answers = if quiet > 0 { tests.quiet_answers() } else { tests.answers(i) };
            let flag = if readings.degc()[i].is_nan() { Flag::Missing } else { rolled_up(answers) };
            add(Alike { readings: quiet.max(1), flag, answers });
            i += quiet.max(1);
        }
        let mut flagged = Self { readings, alike };
        for burst in zeros::bursts(&flagged.readings) {
            burst.mark(&mut flagged, limits);
        }
        if let Some(least) = limits.flat_line.without_witness {
            for span in repeats::equal_readings(&flagged.readings, least) {
                flagged.mark(Test::FlatLine, span, Flag::Fail, limits);
            }
        }
        flagged
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

    /// Lets a test that needs witnesses say something about the readings of a time, which holds for those with a value.
    ///
    /// A test that is switched off says nothing; the worst that a test said of a reading stands.
    pub fn mark(&mut self, test: Test, span: Span, flag: Flag, limits: &QualityLimits) {
        if !limits.tests.contains(&test) {
            return;
        }
        let times = self.readings.times_ms();
        let from = times.partition_point(|t| *t < span.from.ms());
        let to = times.partition_point(|t| *t < span.to.ms());
        let mut marked: Vec<Alike> = Vec::with_capacity(self.alike.len() + 2);
        for (places, alike) in self.stretches() {
            let (start, end) = (from.clamp(places.start, places.end), to.clamp(places.start, places.end));
            let parts = [(start - places.start, false), (end - start, true), (places.end - end, false)];
            for (readings, inside) in parts.into_iter().filter(|(readings, _)| *readings > 0) {
                let part =
                    if inside && alike.flag != Flag::Missing { said(alike, test, flag) } else { alike };
                marked.push(Alike { readings, ..part });
            }
        }
        self.alike = marked;
    }

    /// Places of the readings that one test called suspect or failed.
    pub fn caught_by(&self, test: Test) -> impl Iterator<Item = usize> {
        let caught = move |alike: &Alike| matches!(answer(alike.answers, test), Flag::Suspect | Flag::Fail);
        self.stretches().filter(move |(_, alike)| caught(alike)).flat_map(|(places, _)| places)
    }

    /// Places of the readings of which one test said this.
    pub fn answered(&self, test: Test, flag: Flag) -> impl Iterator<Item = usize> {
        let is = move |alike: &Alike| answer(alike.answers, test) == flag;
        self.stretches().filter(move |(_, alike)| is(alike)).flat_map(|(places, _)| places)
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

/// A flag of one test where [`answer`] finds it.
fn coded(test: Test, flag: Flag) -> Answers {
    Answers::from(flag.number()) << (4 * test as u32)
}

/// The roll-up of all tests but that of the gap, which speaks of the time before.
fn rolled_up(answers: Answers) -> Flag {
    roll_up(Test::ALL.into_iter().filter(|t| *t != Test::Gap).map(|t| answer(answers, t)))
}

/// What is said of some readings once a test has said this too.
fn said(alike: Alike, test: Test, flag: Flag) -> Alike {
    let worst = roll_up([answer(alike.answers, test), flag]);
    let answers = (alike.answers & !(15 << (4 * test as u32))) | coded(test, worst);
    Alike { answers, flag: rolled_up(answers), ..alike }
}

/// The tests of one series, with what they need to know of it.
struct Tests<'a> {
    times: &'a [i64],
    degc: &'a [f64],
    limits: &'a QualityLimits,
    /// Whether each test of [`Test::ALL`] is on.
    on: [bool; 6],
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

    /// What all tests say of a reading.
    fn answers(&self, i: usize) -> Answers {
        let Self { times, degc, limits, reach_ms, .. } = *self;
        let rate = limits.rate_of_change.suspect;
        let spike = match checks::spike_at(times, degc, i, &limits.spike, Some(reach_ms)) {
            // An airing may lie between two readings of a slow logger.
            Flag::Fail if self.interval_ms > OFTEN_S * 1000 => Flag::Suspect,
            flag => flag,
        };
        let steady = if degc[i].is_nan() { Flag::Missing } else { Flag::Good };
        let said = |test| match test {
            Test::GrossRange => checks::gross_range_of(degc[i], &limits.gross_range),
            Test::Spike => spike,
            Test::RateOfChange => checks::rate_of_change_at(times, degc, i, rate, self.resolution),
            Test::FlatLine | Test::Place => steady,
            Test::Gap => checks::gap_at(times, i, self.longest_ms),
        };
        self.together(said)
    }

    /// The answers about a quiet reading: every test that is on passes.
    fn quiet_answers(&self) -> Answers {
        self.together(|_| Flag::Good)
    }

    fn together(&self, said: impl Fn(Test) -> Flag) -> Answers {
        let of = |test: Test| coded(test, if self.on(test) { said(test) } else { Flag::NotEvaluated });
        Test::ALL.map(of).into_iter().fold(0, |all, one| all | one)
    }

    /// 1 for each reading that must be looked at closely, 0 for a quiet one.
    ///
    /// A quiet reading lies in the range of a room, a small step from both neighbours, which are neither far nor
    /// close: all tests pass then, and none need be asked. A step is small if it is no more than half a spike,
    /// since no reading stands out by more than it differs from the further neighbour, and slow enough for half an interval.
    fn closely(&self) -> Vec<u8> {
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
        closely
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
            "gross_range=4;spike=2;rate_of_change=2;flat_line=2;gap=2;place=2"
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
}
