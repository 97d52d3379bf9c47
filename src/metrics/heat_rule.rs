//! Legal minimum heat: for how long a room was below, at or above it, and for how long nobody can tell.
//!
//! Settled here, and why:
//! - **Heat rule**: the local date of each instant decides about the season, whatever evening its window opened on; both
//!   days of a season are included. An outdoor condition is strict (at 55.0 °F `below 55 °F` does not hold, `at or above
//!   55 °F` does) and is asked at the same instant; `below for 24 h` asks at that instant and at each of the 24 h before
//!   it. Where an outdoor value that would decide is missing, the instant is `not evaluated` unless the room is below a
//!   lower minimum that holds in any weather. Of several windows about the same thing the highest minimum counts; a rule
//!   may hold the rooms and their mean against minima of their own. Without data, and
//!   where a logger was placed, is `no data`. Less than 75 % of the rule's hours told (below or met, not too close to
//!   call) and nothing found is `not judged`, no pass. The mean of a home is taken with no more than one room missing,
//!   and is as uncertain as its rooms (errors of one make of logger need not cancel). No preset weighs rooms by size: the
//!   one such text seen is an upper limit.

use std::ops::Range;

use super::home_cache::HomeCache;
use super::lag::{Lag, margins_k};
use super::scope::{Period, Slice};
use super::{
    Compute, EventKind, FLOAT_NOISE_K, Family, HomeScope, Interval, IntervalKind, Measured, Metric, RoomEvent,
};
use crate::clock::{HOUR_MS, Span, local_days};
use crate::grid::AlignedHome;
use crate::site::{HeatRule, HeatWindow, Held, Home, Purpose, Site, WhenOutdoor};

pub(super) static FAMILY: Family = Family { metrics: METRICS, compute: Compute::Home(heat_rule) };

/// Longest `too close to call` that an episode of `below` is not broken by, in ms.
const BRIDGE_MS: i64 = 30 * 60_000;

const OWN: &str = "own definition; the minimum is that of the site file or of the preset it names; check the current local text; this is a measurement, no legal finding";

metrics! {
    HEAT_RULE_HOURS_AS_READ = Metric {
        id: "heat_rule_hours_as_read",
        unit: "h",
        definition: "hours at which the heat rule holds and the value, as it was read, is below the minimum; low are the hours certainly below, high those possibly below (certainly below or too close to call); no row where no value could be held against the minimum, as for all numbers of such hours but those without data and not evaluated",
        source: OWN,
    };
    HEAT_RULE_HOURS_BELOW = Metric {
        id: "heat_rule_hours_below",
        unit: "h",
        definition: "hours at which the heat rule holds and the room (with a rule about the home: the mean of its rooms) is below the minimum even with the sensor accuracy added, and with as far as it is ahead of its loggers where the roster states `time_constant_min` of each; high adds the hours too close to call",
        source: OWN,
    };
    HEAT_RULE_HOURS_TOO_CLOSE = Metric {
        id: "heat_rule_hours_too_close",
        unit: "h",
        definition: "hours at which the heat rule holds and the value lies within the sensor accuracy (and lag, where stated) of the minimum, or rests on a suspect reading: neither below nor met can be said",
        source: OWN,
    };
    HEAT_RULE_HOURS_MET = Metric {
        id: "heat_rule_hours_met",
        unit: "h",
        definition: "hours at which the heat rule holds and the value, less the sensor accuracy (and lag, where stated), is at least the minimum",
        source: OWN,
    };
    HEAT_RULE_HOURS_NO_DATA = Metric {
        id: "heat_rule_hours_no_data",
        unit: "h",
        definition: "hours at which the heat rule holds, a logger was placed in the room, and there is no usable value",
        source: OWN,
    };
    HEAT_RULE_HOURS_NOT_EVALUATED = Metric {
        id: "heat_rule_hours_not_evaluated",
        unit: "h",
        definition: "hours at which the heat rule may hold, depending on an outdoor temperature that is missing; hours below a lower minimum that holds in any weather are not among them",
        source: OWN,
    };
    HEAT_RULE_EPISODES = Metric {
        id: "heat_rule_episodes",
        unit: "1",
        definition: "number of episodes below the minimum: unbroken runs, bridging up to 30 min too close to call",
        source: OWN,
    };
    HEAT_RULE_LONGEST_EPISODE = Metric {
        id: "heat_rule_longest_episode",
        unit: "h",
        definition: "length of the longest episode below the minimum, bridged time included",
        source: OWN,
    };
    HEAT_RULE_LOWEST_MARGIN = Metric {
        id: "heat_rule_lowest_margin",
        unit: "K",
        definition: "lowest value minus minimum while the heat rule holds, without the sensor accuracy; negative: under the minimum",
        source: OWN,
    };
}

/// What the rule asks for at an instant: a minimum that holds, and one that may hold (its outdoor temperature is missing).
#[derive(Clone, Copy)]
struct Demand {
    holds: Option<f64>,
    may_hold: Option<f64>,
}

impl Demand {
    const NONE: Demand = Demand { holds: None, may_hold: None };
}

/// How a value stands to the demand.
#[derive(Clone, Copy, PartialEq, Eq)]
enum State {
    Below,
    TooClose,
    Met,
    NoData,
    NotEvaluated,
}

const STATES: [State; 5] = [State::Below, State::TooClose, State::Met, State::NoData, State::NotEvaluated];

fn heat_rule(scope: &HomeScope<'_>, out: &mut Measured) {
    let Some(rule) = &scope.site().heat_rule else { return };
    each_room(scope, rule, out);
    if rule.judges_mean() {
        the_mean(scope, rule, out);
    }
}

/// When each room (`None`: their mean) was below the minimum of the heat rule in a time, even with the sensor accuracy added.
///
/// Episodes as `heat_rule_episodes` counts them, in the order of the rooms; empty without a rule.
pub fn shortfalls(site: &Site, home: &Home, aligned: &AlignedHome, span: Span) -> Vec<(Option<usize>, Span)> {
    let whole = HomeCache::new(site, home, aligned);
    let period = Period::new(aligned.index_from(span.from)..aligned.index_from(span.to));
    let mut found = Measured::default();
    heat_rule(&whole.scope(Slice::All, &period), &mut found);
    found.events.into_iter().map(|e| (e.room, e.span)).collect()
}

/// What the heat rule asked for in a time, in °C, where its weather was known: unbroken times of one minimum each, of all
/// uses that the home has and of the mean, each once.
pub fn minima(site: &Site, home: &Home, aligned: &AlignedHome, span: Span) -> Vec<(Span, f64)> {
    let Some(rule) = &site.heat_rule else { return Vec::new() };
    let whole = HomeCache::new(site, home, aligned);
    let range = aligned.index_from(span.from)..aligned.index_from(span.to);
    let period = Period::new(range.clone());
    let scope = whole.scope(Slice::All, &period);
    let of_use = |p: Purpose| move |w: &&HeatWindow| w.held == Held::EachRoom && w.uses.contains(p);
    let purposes = Purpose::ALL.into_iter().map(|(_, p)| p);
    let purposes = purposes.filter(|p| rule.judges(*p) && home.rooms.iter().any(|r| r.purpose == *p));
    let mut asked: Vec<Vec<Demand>> =
        purposes.map(|p| demands(&scope, rule.windows.iter().filter(of_use(p)))).collect();
    asked.push(demands(&scope, rule.windows.iter().filter(|w| w.held == Held::HomeMean)));
    let mut minima: Vec<(Span, f64)> = Vec::new();
    for demands in asked {
        let mut from = range.start;
        for run in demands[range.clone()].chunk_by(|a, b| a.holds == b.holds) {
            let time = Span { from: aligned.time(from), to: aligned.time(from + run.len()) };
            let one = run[0].holds.map(|minimum| (time, minimum));
            minima.extend(one.filter(|one| !minima.contains(one)));
            from += run.len();
        }
    }
    minima
}

fn each_room(scope: &HomeScope<'_>, rule: &HeatRule, out: &mut Measured) {
    // Rooms of one use are asked for the same.
    let mut known: Vec<(Purpose, Vec<Demand>)> = Vec::new();
    for (room, purpose) in scope.rooms().iter().map(|r| r.purpose).enumerate() {
        if !rule.judges(purpose) {
            continue;
        }
        let at = known.iter().position(|(of, _)| *of == purpose).unwrap_or_else(|| {
            let meant = |w: &&HeatWindow| w.held == Held::EachRoom && w.uses.contains(purpose);
            known.push((purpose, demands(scope, rule.windows.iter().filter(meant))));
            known.len() - 1
        });
        let of_room = scope.room(room);
        let series = Series {
            room: Some(room),
            degc: of_room.degc(),
            accuracy_k: of_room.accuracy_k(),
            lags: Lag::of(&of_room).into_iter().collect(),
            ranges: of_room.placed_ranges(),
            suspect: suspect_of(scope, &[room]),
        };
        judge(scope, &series, &known[at].1, out);
    }
}

fn the_mean(scope: &HomeScope<'_>, rule: &HeatRule, out: &mut Measured) {
    let in_it = |r: &usize| rule.uses.contains(scope.rooms()[*r].purpose);
    let rooms: Vec<usize> = (0..scope.rooms().len()).filter(in_it).collect();
    if rooms.is_empty() {
        return;
    }
    let accuracies = rooms.iter().map(|r| scope.room(*r).accuracy_k());
    // Loggers of one make may all err the same way: the errors of a mean need not cancel.
    let accuracy_k = accuracies.sum::<f64>() / rooms.len() as f64;
    let degc = mean_of(scope, &rooms);
    let lags: Option<Vec<Lag<'_>>> = rooms.iter().map(|r| Lag::of(&scope.room(*r))).collect();
    let (lags, ranges) = (lags.unwrap_or_default(), scope.ranges().to_vec());
    let suspect = suspect_of(scope, &rooms);
    let series = Series { room: None, degc: &degc, accuracy_k, lags, ranges, suspect };
    let demands = demands(scope, rule.windows.iter().filter(|w| w.held == Held::HomeMean));
    judge(scope, &series, &demands, out);
}

/// What is held against the minimum, and where.
struct Series<'a> {
    room: Option<usize>,
    degc: &'a [f64],
    accuracy_k: f64,
    /// One for each room that is in it; none where a time constant is not stated.
    lags: Vec<Lag<'a>>,
    ranges: Vec<Range<usize>>,
    /// Where the value rests on suspect readings, of any room that is in it.
    suspect: Vec<Range<usize>>,
}

/// Where the values of some rooms rest on suspect readings.
fn suspect_of(scope: &HomeScope<'_>, rooms: &[usize]) -> Vec<Range<usize>> {
    let whole = 0..scope.aligned().len();
    rooms.iter().flat_map(|r| scope.room(*r).suspect_in(&whole)).collect()
}

impl Series<'_> {
    fn interval(&self) -> IntervalKind {
        if self.lags.is_empty() { IntervalKind::SensorAccuracy } else { IntervalKind::SensorAccuracyAndLag }
    }

    /// Between which temperatures the room, or the mean of the rooms, may lie at an instant.
    fn between(&self, i: usize) -> (f64, f64) {
        let ranges = self.lags.iter().filter(|lag| lag.has(i)).map(|lag| lag.range_k(i));
        let (count, under, over) = ranges.fold((0, 0.0, 0.0), |(n, u, o), r| (n + 1, u + r.0, o + r.1));
        let (x, count) = (self.degc[i], f64::from(count.max(1)));
        let (under, over) = margins_k((under / count, over / count), self.accuracy_k);
        (x - under, x + over)
    }

    /// The state at an instant; `None` where the rule does not hold.
    fn state(&self, i: usize, demand: Demand) -> Option<State> {
        let x = self.degc[i];
        let (least, most) = self.between(i);
        let is_suspect = !self.suspect.is_empty() && self.suspect.iter().any(|r| r.contains(&i));
        // A suspect reading makes nothing certain: neither that the minimum was missed, nor that it was met.
        if let (Demand { holds: Some(_), may_hold: None }, true, false) = (demand, is_suspect, x.is_nan()) {
            return Some(State::TooClose);
        }
        let below = |minimum: f64| most < minimum - FLOAT_NOISE_K;
        match demand {
            Demand { holds: None, may_hold: None } => None,
            Demand { holds: Some(minimum), .. } if below(minimum) && !is_suspect => Some(State::Below),
            Demand { may_hold: Some(_), .. } => Some(State::NotEvaluated),
            _ if x.is_nan() => Some(State::NoData),
            Demand { holds: Some(minimum), .. } if least >= minimum - FLOAT_NOISE_K => Some(State::Met),
            Demand { .. } => Some(State::TooClose),
        }
    }
}

/// The mean of some rooms at each instant at which no more than one of them is missing; NaN elsewhere.
fn mean_of(scope: &HomeScope<'_>, rooms: &[usize]) -> Vec<f64> {
    let quorum = rooms.len().saturating_sub(1).max(1);
    let mean = |i: usize| {
        let present = rooms.iter().map(|r| scope.degc(*r)[i]).filter(|x| !x.is_nan());
        let (count, sum) = present.fold((0, 0.0), |(count, sum), x| (count + 1, sum + x));
        if count >= quorum { sum / count as f64 } else { f64::NAN }
    };
    (0..scope.aligned().len()).map(mean).collect()
}

/// What some windows ask for at each instant of the grid.
fn demands<'w>(scope: &HomeScope<'_>, windows: impl Iterator<Item = &'w HeatWindow>) -> Vec<Demand> {
    let (site, aligned) = (scope.site(), scope.aligned());
    let mut demands = vec![Demand::NONE; aligned.len()];
    if aligned.is_empty() {
        return demands;
    }
    let whole = Span { from: aligned.time(0), to: aligned.time(aligned.len()) };
    let days = local_days(site.zone, whole);
    for window in windows {
        let holds = weather(aligned, window.outdoor);
        for day in days.iter().filter(|day| window.season.contains(day.date)) {
            for span in window.hours.within(site.zone, day) {
                let (from, to) = (aligned.index_from(span.from), aligned.index_from(span.to));
                for (i, demand) in (from..to).zip(&mut demands[from..to]) {
                    let to = match holds(i) {
                        Some(false) => continue,
                        Some(true) => &mut demand.holds,
                        None => &mut demand.may_hold,
                    };
                    *to = Some(to.map_or(window.minimum.degc(), |m| m.max(window.minimum.degc())));
                }
            }
        }
    }
    for demand in &mut demands {
        // A lower minimum that may hold adds nothing to one that does.
        demand.may_hold = demand.may_hold.filter(|m| demand.holds.is_none_or(|holds| *m > holds));
    }
    demands
}

/// Whether the weather is that of a window at an instant of the grid; `None` where nobody knows.
fn weather(aligned: &AlignedHome, when: Option<WhenOutdoor>) -> impl Fn(usize) -> Option<bool> {
    let outdoor = |i: usize| aligned.outdoor().map(|o| o[i]).filter(|x| !x.is_nan());
    let day = (24 * HOUR_MS / aligned.step_ms()) as usize;
    // The last instants up to each at which it was too warm, and at which nobody knows; the record begins unknown.
    let (mut warm, mut unknown, mut since) = (None, 0_usize, Vec::new());
    if let Some(WhenOutdoor::BelowForADay(limit)) = when {
        for i in 0..aligned.len() {
            match outdoor(i) {
                None => unknown = i + 1,
                Some(x) if x >= limit.degc() => warm = Some(i),
                Some(_) => {}
            }
            since.push(match warm {
                Some(warm) if i - warm <= day => Some(false),
                _ if i < day + unknown => None,
                _ => Some(true),
            });
        }
    }
    move |i| match when {
        None => Some(true),
        Some(WhenOutdoor::Below(limit)) => outdoor(i).map(|x| x < limit.degc()),
        Some(WhenOutdoor::AtOrAbove(limit)) => outdoor(i).map(|x| x >= limit.degc()),
        Some(WhenOutdoor::BelowForADay(_)) => since[i],
    }
}

/// An episode in the making.
struct Episode {
    from: usize,
    to: usize,
    lowest: f64,
    minimum: f64,
    censored: bool,
}

fn judge(scope: &HomeScope<'_>, series: &Series<'_>, demands: &[Demand], out: &mut Measured) {
    let mut steps = [0_usize; 5];
    let (mut as_read, mut lowest_margin) = (0_usize, f64::INFINITY);
    for i in series.ranges.iter().flat_map(Clone::clone) {
        let Some(state) = series.state(i, demands[i]) else { continue };
        steps[STATES.iter().position(|s| *s == state).unwrap_or_default()] += 1;
        if let (Some(minimum), State::Below | State::TooClose | State::Met) = (demands[i].holds, state) {
            let margin = series.degc[i] - minimum;
            as_read += usize::from(margin < -FLOAT_NOISE_K);
            lowest_margin = lowest_margin.min(margin);
        }
    }
    if steps.iter().all(|s| *s == 0) {
        return;
    }
    let h = scope.aligned().step_h();
    let hours = steps.map(|s| s as f64 * h);
    let seen: f64 = hours[..3].iter().sum();
    let episodes = episodes(series, demands, BRIDGE_MS / scope.aligned().step_ms());
    // Where nothing was seen, nothing was below: those rows are missing, and no zero stands for them.
    if seen > 0.0 {
        let possibly = Interval { low: hours[0], high: hours[0] + hours[1], kind: series.interval() };
        out.value_within(series.room, &HEAT_RULE_HOURS_AS_READ, as_read as f64 * h, possibly, seen);
        out.value_within(series.room, &HEAT_RULE_HOURS_BELOW, hours[0], possibly, seen);
        out.value(series.room, &HEAT_RULE_HOURS_TOO_CLOSE, hours[1], seen);
        out.value(series.room, &HEAT_RULE_HOURS_MET, hours[2], seen);
    }
    out.value(series.room, &HEAT_RULE_HOURS_NO_DATA, hours[3], seen);
    out.value(series.room, &HEAT_RULE_HOURS_NOT_EVALUATED, hours[4], seen);
    if seen > 0.0 {
        let longest = episodes.iter().map(|e| e.to - e.from).max().unwrap_or(0);
        out.value(series.room, &HEAT_RULE_EPISODES, episodes.len() as f64, seen);
        out.value(series.room, &HEAT_RULE_LONGEST_EPISODE, longest as f64 * h, seen);
    }
    if lowest_margin.is_finite() {
        out.value(series.room, &HEAT_RULE_LOWEST_MARGIN, lowest_margin, seen);
    }
    out.events.extend(episodes.iter().map(|e| RoomEvent {
        room: series.room,
        kind: EventKind::HeatRuleShortfall,
        span: Span { from: scope.aligned().time(e.from), to: scope.aligned().time(e.to) },
        value: e.lowest,
        limit: e.minimum,
        censored: e.censored,
    }));
}

/// Runs of `below`; an episode broken off where nobody can tell may have lasted longer (`censored`).
fn episodes(series: &Series<'_>, demands: &[Demand], bridge: i64) -> Vec<Episode> {
    let unknown = |state: Option<State>| matches!(state, Some(State::NoData | State::NotEvaluated));
    let mut done: Vec<Episode> = Vec::new();
    for range in &series.ranges {
        let mut open: Option<Episode> = None;
        let mut before = None;
        for i in range.clone() {
            let state = series.state(i, demands[i]);
            let bridged = |e: &Episode| state == Some(State::TooClose) && (i + 1 - e.to) as i64 <= bridge;
            match (state, &mut open) {
                (Some(State::Below), Some(e)) => e.add(i, series, demands),
                (Some(State::Below), None) => {
                    // At the first instant of the record nobody knows what was before.
                    let censored = i == range.start || unknown(before);
                    let mut e = Episode { from: i, to: i, lowest: f64::NAN, minimum: f64::NAN, censored };
                    e.add(i, series, demands);
                    open = Some(e);
                }
                (_, Some(e)) if bridged(e) => {}
                (_, Some(e)) => {
                    e.censored |= unknown(state);
                    done.extend(open.take());
                }
                (_, None) => {}
            }
            before = state;
        }
        done.extend(open.map(|e| Episode { censored: true, ..e }));
    }
    done
}

impl Episode {
    fn add(&mut self, i: usize, series: &Series<'_>, demands: &[Demand]) {
        let (x, minimum) = (series.degc[i], demands[i].holds.unwrap_or(f64::NAN));
        self.to = i + 1;
        if self.lowest.is_nan() || x - minimum < self.lowest - self.minimum {
            (self.lowest, self.minimum) = (x, minimum);
        }
    }
}
