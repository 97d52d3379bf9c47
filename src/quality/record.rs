//! What became of each logger's record: a row of the loggers table.

use super::colocation::Checked;
use super::episodes::Episode;
use super::peer_check::Doubts;
use super::{Flag, Flagged};
use crate::clock::{HOUR_MS, Span, UtcTime};
use crate::exports::{Opened, Readings, Said, SetBack};
use crate::site::{OFTEN_S, Test};
use crate::units::KelvinDiff;

/// One logger in one room: its rows, its record, its flags.
#[derive(Clone, Debug, PartialEq)]
pub struct LoggerRow {
    /// The home; empty for the weather series.
    pub home: String,
    /// The room; empty for the weather series.
    pub room: String,
    /// The logger.
    pub logger: String,
    /// Its exports, joined by `; `.
    pub file: String,
    /// Data rows seen.
    pub rows_seen: u64,
    /// Data rows that became readings.
    pub rows_kept: u64,
    /// Data rows set aside.
    pub rows_set_aside: u64,
    /// First reading.
    pub first_utc: Option<UtcTime>,
    /// Last reading.
    pub last_utc: Option<UtcTime>,
    /// Sampling interval in seconds.
    pub interval_s: Option<f64>,
    /// The smallest step between its readings.
    pub resolution: KelvinDiff,
    /// Readings with a value as a share of those expected from first to last, in %.
    pub coverage: Option<f64>,
    /// Longest time between two readings with a value, in hours.
    pub longest_gap_h: Option<f64>,
    /// Readings by flag: good, not evaluated, suspect, fail, missing.
    pub counts: [u64; 5],
    /// Times of more than a day between two readings with a value, in order.
    pub holes: Vec<Span>,
    /// Its readings that are words.
    pub words: Words,
    /// Times of some hours with rows but without a value, in order.
    pub blanks: Vec<Span>,
    /// Readings that the sensor cannot have measured.
    pub out_of_range: u64,
    /// Readings that the test of the rate of change caught.
    pub quick: u64,
    /// Those of them that the next reading took back, or that took back the one before: single readings that stand out.
    pub quick_back: u64,
    /// Single readings that stand out from both neighbours: those that are in no number, or of a logger that samples too
    /// seldom for that, those that are suspect.
    pub spikes: u64,
    /// Most of them within 24 hours.
    pub spikes_in_a_day: u64,
    /// Most of those within 24 hours that are colder than both neighbours.
    pub dips_in_a_day: u64,
    /// How often within any 24 hours at most one or two readings stand out by more than 6 K: nothing in a room makes them.
    pub tall_spikes_in_a_day: u64,
    /// Readings as a share of those expected, in %, in each eighth of the record; `None` for a short record.
    pub completeness: Option<[f64; 8]>,
    /// What the other rooms of the home say against it.
    pub doubts: Doubts,
    /// From [`Doubts::shift`] to the last instant that has other rooms to compare it with.
    pub shifted: Option<Span>,
    /// The part of the record that [`Doubts::clock`] is about; `None` where it is all of it.
    pub late_in: Option<Span>,
    /// Where it stands instead of its room from some moment on.
    pub moved: Option<Moved>,
    /// Where its clock was set back while it recorded.
    pub set_back: Vec<SetBack>,
    /// Times that are not, or may not be, the air of the room.
    pub episodes: Vec<Episode>,
    /// Offset found side by side and taken off.
    pub offset: Option<KelvinDiff>,
    /// What came of it side by side, where there was such a time.
    pub checked: Option<Checked>,
    /// The clock that was used.
    pub clock: String,
}

/// A logger that stands in the room of another one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Moved {
    /// From when on, to the end of its record.
    pub span: Span,
    /// The place of that room in its home.
    pub room: usize,
    /// Whether the other's logger stands in its own room instead; else both are in one room.
    pub exchanged: bool,
}

/// Readings that are words: they were set aside, and in their hours nobody knows how warm it was.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Words {
    /// How many there are.
    pub count: u64,
    /// Those that say that it was below the scale of the logger.
    pub below: u64,
    /// Those that say that it was above it.
    pub above: u64,
    /// When they stand on end.
    pub runs: Vec<Span>,
}

impl Words {
    fn of(opened: &Opened, readings: &Readings) -> Self {
        let words = &opened.words;
        let interval_ms = readings.interval_ms().unwrap_or(0);
        Self {
            count: words.count(),
            below: words.count_of(Said::Below),
            above: words.count_of(Said::Above),
            runs: words.runs((readings.times_ms(), readings.degc()), interval_ms),
        }
    }
}

/// The flags in the order of [`LoggerRow::counts`].
pub const COUNTED: [Flag; 5] = [Flag::Good, Flag::NotEvaluated, Flag::Suspect, Flag::Fail, Flag::Missing];

impl LoggerRow {
    /// The row of one placement; `flagged` holds the readings of `opened`.
    pub fn new(
        home: &str,
        room: &str,
        logger: &str,
        opened: &Opened,
        flagged: &Flagged,
        checked: Option<Checked>,
    ) -> Self {
        let readings = flagged.readings();
        let (with_value, longest_ms) = with_value(readings);
        let ends = readings.times_ms().first().zip(readings.times_ms().last());
        let expected = ends.zip(readings.interval_ms()).map(|((a, b), interval)| (b - a) / interval + 1);
        let total = |count: fn(&crate::exports::Ledger) -> u64| opened.ledgers.iter().map(count).sum();
        let files: Vec<&str> = opened.ledgers.iter().map(|l| l.file.as_str()).collect();
        Self {
            home: home.to_owned(),
            room: room.to_owned(),
            logger: logger.to_owned(),
            file: files.join("; "),
            rows_seen: total(|l| l.seen),
            rows_kept: total(|l| l.kept),
            rows_set_aside: total(crate::exports::Ledger::set_aside_total),
            first_utc: ends.map(|(a, _)| UtcTime::from_ms(*a)),
            last_utc: ends.map(|(_, b)| UtcTime::from_ms(*b)),
            interval_s: readings.interval_ms().map(|ms| ms as f64 / 1000.0),
            resolution: super::checks::resolution(readings.degc()),
            coverage: expected.map(|n| (100.0 * with_value as f64 / n as f64).min(100.0)),
            longest_gap_h: longest_ms.map(|ms| ms as f64 / HOUR_MS as f64),
            counts: COUNTED.map(|flag| flagged.count(flag)),
            holes: longest_ms.filter(|ms| *ms > DAY_MS).map_or(Vec::new(), |_| holes(readings)),
            words: Words::of(opened, readings),
            blanks: blanks(readings),
            out_of_range: flagged.answered(Test::GrossRange, Flag::Fail).count() as u64,
            quick: flagged.count_caught_by(Test::RateOfChange),
            quick_back: quick_back(flagged),
            spikes: spikes(flagged).count() as u64,
            spikes_in_a_day: most_in_a_day(flagged, spikes(flagged)),
            dips_in_a_day: most_in_a_day(flagged, dips(flagged)),
            tall_spikes_in_a_day: most_in_a_day(flagged, tall_spikes(readings)),
            completeness: completeness(readings),
            doubts: Doubts::default(),
            shifted: None,
            late_in: None,
            moved: None,
            set_back: opened.set_back.clone(),
            episodes: Vec::new(),
            offset: checked.and_then(Checked::taken_off),
            checked,
            clock: opened.clock.clone(),
        }
    }

    /// From its first to its last reading.
    pub fn record(&self) -> Option<Span> {
        Some(Span { from: self.first_utc?, to: self.last_utc? })
    }

    /// Whether its export states the clock, so that neither roster nor time zone of the site has a say.
    pub fn states_clock(&self) -> bool {
        crate::exports::is_stated(&self.clock)
    }

    /// Whether it samples so often that single readings that stand out are in no number.
    pub fn samples_often(&self) -> bool {
        self.interval_s.is_none_or(|s| s <= OFTEN_S as f64)
    }

    /// Readings with a value.
    pub fn with_value(&self) -> u64 {
        self.counts[..4].iter().sum()
    }

    /// Readings with a value that are in no number, as a share of those with a value, in %.
    pub fn share_left_out(&self) -> Option<f64> {
        let [.., fail, _] = self.counts;
        Some(self.with_value()).filter(|all| *all > 0).map(|all| 100.0 * fail as f64 / all as f64)
    }

    /// [`LoggerRow::share_quick`] without what was taken back at once.
    pub fn share_quick_lasting(&self) -> Option<f64> {
        let lasting = self.quick.saturating_sub(self.quick_back);
        self.share_quick().map(|share| share * lasting as f64 / self.quick.max(1) as f64)
    }

    /// Readings that the test of the rate of change caught, as a share of those with a value, in %.
    pub fn share_quick(&self) -> Option<f64> {
        let all = self.with_value();
        (all > 0).then(|| 100.0 * self.quick as f64 / all as f64)
    }
}

/// How many readings have a value, and the longest time from one of them to the next, in milliseconds.
fn with_value(readings: &Readings) -> (u64, Option<i64>) {
    let (times, degc) = (readings.times_ms(), readings.degc());
    if !degc.iter().fold(false, |any, x| any | x.is_nan()) {
        let longest = times.iter().zip(times.iter().skip(1)).map(|(t0, t1)| t1 - t0).max();
        return (degc.len() as u64, longest);
    }
    let count = degc.iter().filter(|x| !x.is_nan()).count() as u64;
    (count, between_values(readings).map(|(a, b)| b - a).max())
}

/// The times of each reading with a value and of the next.
fn between_values(readings: &Readings) -> impl Iterator<Item = (i64, i64)> {
    let valued =
        || readings.times_ms().iter().zip(readings.degc()).filter(|(_, x)| !x.is_nan()).map(|(t, _)| *t);
    valued().zip(valued().skip(1))
}

const DAY_MS: i64 = 24 * HOUR_MS;

/// Times of more than a day between two readings with a value.
fn holes(readings: &Readings) -> Vec<Span> {
    let long = between_values(readings).filter(|(a, b)| b - a > DAY_MS);
    long.map(|(a, b)| Span { from: UtcTime::from_ms(a), to: UtcTime::from_ms(b) }).collect()
}

/// Hours on end without a value from which on they are told.
pub const BLANK_H: f64 = 3.0;

/// Times of [`BLANK_H`] and more with rows but without a value, at the ends of a record too.
fn blanks(readings: &Readings) -> Vec<Span> {
    let (times, degc) = (readings.times_ms(), readings.degc());
    let Some(interval_ms) = readings.interval_ms() else { return Vec::new() };
    let mut found = Vec::new();
    let mut from = 0;
    for run in degc.chunk_by(|a, b| a.is_nan() == b.is_nan()) {
        let last = from + run.len() - 1;
        if run[0].is_nan() {
            let span =
                Span { from: UtcTime::from_ms(times[from]), to: UtcTime::from_ms(times[last] + interval_ms) };
            found.extend((span.hours() >= BLANK_H).then_some(span));
        }
        from += run.len();
    }
    found
}

/// Whether a logger samples often enough that no airing lies between two of its readings.
fn samples_often(readings: &Readings) -> bool {
    readings.interval_ms().is_none_or(|ms| ms <= OFTEN_S * 1000)
}

/// Places of single readings that stand out.
fn spikes(flagged: &Flagged) -> impl Iterator<Item = usize> {
    let flag = if samples_often(flagged.readings()) { Flag::Fail } else { Flag::Suspect };
    flagged.answered(Test::Spike, flag)
}

/// Quick changes that are taken back at once, each with what takes it back.
fn quick_back(flagged: &Flagged) -> u64 {
    let degc = flagged.readings().degc();
    let rise = |i: usize| degc[i] - degc[i - 1];
    let (mut count, mut before) = (0, None);
    for i in flagged.answered(Test::RateOfChange, Flag::Suspect).filter(|i| *i > 0) {
        let back = before.is_some_and(|b| b + 1 == i && rise(b) * rise(i) < 0.0);
        count += if back { 2 } else { 0 };
        before = if back { None } else { Some(i) };
    }
    count
}

/// Those that are colder than both neighbours: no shower and no oven makes one.
fn dips(flagged: &Flagged) -> impl Iterator<Item = usize> {
    let degc = flagged.readings().degc();
    spikes(flagged).filter(move |i| degc[*i] < degc[i - 1])
}

/// One or two readings stand out by so much, K, from what is before and after, that no air makes it.
pub const TALL_K: f64 = 6.0;

/// The first of each one or two readings that stand out so far. Two of a logger that samples seldom may be an airing.
fn tall_spikes(readings: &Readings) -> impl Iterator<Item = usize> {
    let (degc, most) = (readings.degc(), if samples_often(readings) { 2 } else { 1 });
    let stands_out = move |i: usize, n: usize| {
        let (Some(before), Some(after)) = (i.checked_sub(1).map(|b| degc[b]), degc.get(i + n)) else {
            return false;
        };
        let above = (degc[i] - before).signum();
        let least = degc[i..i + n].iter().map(|x| ((x - before) * above).min((x - after) * above));
        // Without a value nothing stands out.
        let back = n == 1 || (after - before).abs() < least.clone().fold(f64::INFINITY, f64::min) / 2.0;
        back && least.clone().all(|k| k > TALL_K)
    };
    let jumps = (1..degc.len()).filter(move |i| (degc[*i] - degc[i - 1]).abs() > TALL_K);
    jumps.filter(move |i| (1..=most).any(|n| stands_out(*i, n)))
}

/// Most of some readings within any 24 hours.
fn most_in_a_day(flagged: &Flagged, places: impl Iterator<Item = usize>) -> u64 {
    let times: Vec<i64> = places.map(|i| flagged.readings().times_ms()[i]).collect();
    let within = |(i, t): (usize, &i64)| times.partition_point(|u| *u < t + 24 * HOUR_MS) - i;
    times.iter().enumerate().map(within).max().unwrap_or(0) as u64
}

/// Fewest readings whose parts are worth counting.
const LEAST_READINGS: usize = 400;

/// A hole of so many hours is told as such, and is no fading.
const HOLE_H: i64 = 12;
/// Share of an eighth without such holes that is enough to count in.
const LEAST_PART: f64 = 0.25;

/// Readings as a share of those expected, in %, in each eighth of the record without its long holes; `None` where a hole
/// takes up nearly all of an eighth.
fn completeness(readings: &Readings) -> Option<[f64; 8]> {
    let times = readings.times_ms();
    let (first, last) = (*times.first()?, *times.last()?);
    if times.len() < LEAST_READINGS {
        return None;
    }
    let interval_ms = readings.interval_ms()? as f64;
    let length = (last - first) as f64 / 8.0;
    let long = times.windows(2).filter(|t| t[1] - t[0] > HOLE_H * HOUR_MS);
    let holes: Vec<(i64, i64)> = long.map(|t| (t[0], t[1])).collect();
    let share = |part: usize| {
        let at = |n: usize| first + (n as f64 * length) as i64;
        let (from, to) = (at(part), at(part + 1));
        let lost = holes.iter().map(|(a, b)| (*b.min(&to) - *a.max(&from)).max(0)).sum::<i64>() as f64;
        let here = times.partition_point(|t| *t < to) - times.partition_point(|t| *t < from);
        let left = length - lost;
        (left >= LEAST_PART * length).then(|| (100.0 * here as f64 * interval_ms / left).min(100.0))
    };
    let shares: Vec<f64> = (0..8).map_while(share).collect();
    shares.try_into().ok()
}
