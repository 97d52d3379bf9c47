//! Two regimes of a home, each watched for four weeks, and how they truly differ at like weather.

use std::collections::BTreeMap;

use evenrooms::clock::{Span, UtcTime};
use evenrooms::compare::{BIN_K, Periods, compare};
use evenrooms::grid::AlignedHome;
use evenrooms::metrics::{Daily, Interval, IntervalKind, daily};
use evenrooms::simulate::{Homes, Plan, SimulatedHome, Simulation, Trouble};
use evenrooms::site::Site;

use super::drawn::{self, DAYS};
use super::held::{Claims, Scores};
use super::watch;

const DAY_MS: i64 = 86_400_000;
/// Days that the long run must have of a bin, before and after, for a truth.
const LEAST_TRUE_DAYS: usize = 8;

/// A building before and after all that was wrong in it was mended; homes with nothing wrong stay as they are.
pub(crate) struct Regimes {
    before: Simulation,
    after: Simulation,
}

/// One home in both regimes.
type Pair<'a> = [(&'a Simulation, SimulatedHome); 2];

impl Regimes {
    pub(crate) fn of(seed: u64, homes: usize) -> Self {
        let before = drawn::building(seed, homes, 0.0);
        let homes_from = Homes::Drawn { troubles: 0.0, faults: 0.0 };
        let after = Simulation::new(Plan { homes_from, ..before.plan().clone() });
        Self { before, after: after.under_weather_of(seed * 1000 + 999) }
    }

    fn under_weather_of(&self, seed: u64) -> Self {
        Self { before: self.before.under_weather_of(seed), after: self.after.under_weather_of(seed) }
    }

    fn home(&self, number: usize) -> Pair<'_> {
        [&self.before, &self.after].map(|s| (s, s.home(number)))
    }

    /// Scores every comparison of the homes of a seed, but not those where the heat failed.
    pub(crate) fn score(seed: u64, homes: usize, weathers: u64, scores: &mut Scores) {
        let regimes = Self::of(seed, homes);
        let others: Vec<Regimes> =
            (1..=weathers).map(|w| regimes.under_weather_of(seed * 1000 + w)).collect();
        for number in 0..homes {
            let pair = regimes.home(number);
            let event = pair[0].1.truth.event.as_ref().map(|e| e.kind);
            if event != Some(Trouble::HeatFailure) {
                score_home(&pair, event.is_some(), others.iter().map(|o| o.home(number)), scores);
            }
        }
    }
}

fn score_home<'a>(
    pair: &Pair<'a>,
    mended: bool,
    others: impl Iterator<Item = Pair<'a>>,
    scores: &mut Scores,
) {
    let site = drawn::site(pair[0].0, &pair[0].1);
    let periods = periods(pair[0].0.start());
    let errors: Vec<f64> = pair[0].1.truth.loggers.iter().map(|l| l.offset_k).collect();
    let mut long_run = LongRun::default();
    others.for_each(|other| long_run.add(&daily_of(&site, &other, &vec![0.0; errors.len()]), periods));
    let perfect = (watch::without_error(&site), vec![0.0; errors.len()]);
    for (words, (site, errors)) in [("", (site, errors)), (", loggers without error", perfect)] {
        let aligned = aligned(&site, pair, &errors);
        let days = daily(&site, &site.homes[0], &aligned);
        for row in compare(&site, &site.homes[0], &aligned, periods) {
            let room = row.room.as_ref().and_then(|r| site.homes[0].rooms.iter().position(|x| x.name == *r));
            let Some((low, high)) = row.matched.as_ref().and_then(|m| m.interval) else { continue };
            let shared = &row.matched.as_ref().expect("an interval is of something").shared;
            let of_row = days.iter().find(|d| d.room == room && d.metric == row.metric);
            let truth = long_run.truth(of_row.expect("a row is of days"), shared, periods);
            let Some(truth) = truth.filter(|_| high > low) else { continue };
            let what = if mended { "mended" } else { "nothing changed" };
            let name = format!("compare, {what}: {}{words}", row.metric.id);
            let interval = Interval { low, high, kind: IntervalKind::DaysDrawn };
            scores.add(&name, Claims::Share(95), interval, truth);
        }
    }
}

/// Four weeks, and the four weeks after them.
fn periods(start: UtcTime) -> Periods {
    let at = |days: usize| start.plus_ms(days as i64 * DAY_MS);
    Periods { before: Span { from: at(0), to: at(DAYS) }, after: Span { from: at(DAYS), to: at(2 * DAYS) } }
}

/// Both regimes one after the other, as loggers see them that err by so much.
fn aligned(site: &Site, pair: &Pair<'_>, errors_k: &[f64]) -> AlignedHome {
    let start = pair[0].0.start().ms();
    let after_ms = DAYS as i64 * DAY_MS;
    let [before, after] = [&pair[0], &pair[1]].map(|(simulation, made)| watch::grid(simulation, made));
    let room = |room: usize| {
        let degc = before[room].iter().chain(&after[room]).map(|x| Some(x + errors_k[room]));
        let rows: Vec<(i64, Option<f64>)> =
            (0..).zip(degc).map(|(i, x)| (start + i * watch::STEP_MS, x)).collect();
        watch::series(site, room, &rows)
    };
    let rooms: Vec<_> = (0..before.len()).map(room).collect();
    let first = watch::weather(pair[0].0).into_iter().take_while(|(t, _)| *t < start + after_ms);
    let second = watch::weather(pair[1].0).into_iter().map(|(t, x)| (t + after_ms, x));
    let weather: Vec<_> = first.chain(second).collect();
    let weather = AlignedHome::align(site, &[watch::series(site, 0, &weather)]);
    AlignedHome::align(site, &rooms).with_outdoor(&weather)
}

fn daily_of(site: &Site, pair: &Pair<'_>, errors_k: &[f64]) -> Vec<Daily> {
    daily(site, &site.homes[0], &aligned(site, pair, errors_k))
}

/// Bin and value of each day of a period.
fn binned(days: &Daily, of: Span) -> impl Iterator<Item = (i64, f64)> {
    let inside = move |d: &&evenrooms::metrics::DayValue| of.from <= d.span.from && d.span.to <= of.to;
    days.days.iter().filter(inside).filter_map(|d| Some(((d.outdoor_degc? / BIN_K).floor() as i64, d.value)))
}

/// Room, number and bin.
type Key = (Option<usize>, &'static str, i64);

/// What the home does under other weathers: sums and counts before and after, by room, number and bin.
#[derive(Default)]
struct LongRun {
    sums: BTreeMap<Key, [(f64, usize); 2]>,
}

impl LongRun {
    fn add(&mut self, days: &[Daily], periods: Periods) {
        for daily in days {
            for (side, of) in [periods.before, periods.after].into_iter().enumerate() {
                for (bin, value) in binned(daily, of) {
                    let sum = &mut self.sums.entry((daily.room, daily.metric.id, bin)).or_default()[side];
                    (sum.0, sum.1) = (sum.0 + value, sum.1 + 1);
                }
            }
        }
    }

    /// The difference over the bins that the watched days share, weighted as theirs; `None` where a bin is too rare.
    fn truth(&self, watched: &Daily, shared: &[i64], periods: Periods) -> Option<f64> {
        let count = |of: Span, bin: i64| binned(watched, of).filter(|(b, _)| *b == bin).count();
        let (mut weights, mut total) = (0.0, 0.0);
        for bin in shared {
            let [before, after] = *self.sums.get(&(watched.room, watched.metric.id, *bin))?;
            if before.1.min(after.1) < LEAST_TRUE_DAYS {
                return None;
            }
            let weight = count(periods.before, *bin).min(count(periods.after, *bin)) as f64;
            weights += weight;
            total += weight * (after.0 / after.1 as f64 - before.0 / before.1 as f64);
        }
        (weights > 0.0).then(|| total / weights)
    }
}
