//! Whether a logger stood in its room or outdoors, seen from how it stands to the other rooms.
//!
//! Settled here, and why:
//! - **Outdoors** means: four fifths of the way from the other rooms to the outdoor air for three hours, entered and left
//!   quickly, by a logger whose room usually lies in the nearer half. A window left open leaves a room at half the way or
//!   so, and stays in the numbers. Without a weather series a fall of 8 K below every other room is suspect at most.

use std::ops::Range;

use super::episodes::{Episode, Logger, Seen, Witnesses};
use super::peer_check::{means, shift};
use crate::clock::{HOUR_MS, Span, UtcTime};
use crate::stats::{median, quantile};

const HALF_HOUR_MS: i64 = HOUR_MS / 2;

/// A logger's distance to the other rooms in half hours.
struct Halves {
    /// Place on the grid of the first instant of each, and instants per half hour.
    first: usize,
    per: usize,
    own: Vec<f64>,
    others: Vec<f64>,
    outdoor: Option<Vec<f64>>,
}

impl Halves {
    /// Of the record of a logger; `None` where fewer than two other rooms are there, or instants are too far apart.
    fn of(witnesses: &Witnesses<'_>, logger: &Logger<'_>) -> Option<Self> {
        let others = witnesses.side.others(logger.room)?;
        let range = record(witnesses, logger)?;
        let per = (HALF_HOUR_MS / witnesses.side.step_ms()).max(1) as usize;
        Some(Self {
            first: range.start,
            per,
            own: means(&witnesses.side.rooms()[logger.room][range.clone()], per),
            others: means(&others[range.clone()], per),
            outdoor: witnesses.outdoor.map(|o| means(&o[range], per)),
        })
    }

    fn span(&self, witnesses: &Witnesses<'_>, halves: Range<usize>) -> Span {
        witnesses.span(self.first + halves.start * self.per..self.first + halves.end * self.per)
    }
}

/// The grid places of a logger's record within its placement.
pub(super) fn record(witnesses: &Witnesses<'_>, logger: &Logger<'_>) -> Option<Range<usize>> {
    let times = logger.flagged.readings().times_ms();
    let (first, last) = (*times.first()?, *times.last()?);
    let span = Span {
        from: logger.placed.from.max(UtcTime::from_ms(first)),
        to: logger.placed.to.min(UtcTime::from_ms(last + 1)),
    };
    Some(witnesses.within(span)).filter(|range| range.start < range.end)
}

/// Least difference between the other rooms and outdoors for which anything can be told, K.
const LEAST_APART_K: f64 = 6.0;
/// Share of the way from the other rooms to outdoors from which a logger is outdoors, and up to which its room usually lies.
const OUTDOORS_SHARE: f64 = 0.8;
const USUAL_SHARE: f64 = 0.5;
/// How near it stays to the outdoor air, K.
const FOLLOWS_K: f64 = 2.5;
/// Half hours that it must last, and that a glance back into the room may last.
const LEAST_OUTDOORS: usize = 6;
const BRIDGED: usize = 3;
/// By how much a logger falls or rises from one half hour to the next but one when it is carried out, as a share of the way.
const CARRIED_SHARE: f64 = 0.35;
/// What moves as the outdoor air does has at least this share of its range, while the other rooms have at most this one.
const SAME_RANGE: f64 = 0.7;
const MOST_OF_RANGE: f64 = 0.6;
/// Share of the half hours in which it is colder than every other room.
const COLDEST_SHARE: f64 = 0.9;
/// Distance below the usual one, and below every other room, that speaks for outdoors where there is no weather series, K.
const AWAY_K: f64 = 6.0;

/// Times at which a logger follows the outdoor air while the other rooms do not; without an outdoor series, times far
/// below every other room that begin from one half hour to the next.
///
/// A window that stands open leaves a room some way from the outdoor air, and a loggia is so all the time: the logger must
/// come within a fifth of the way, quickly, from a room that usually lies in the nearer half.
///
/// # Source
/// Own definition.
pub(super) fn outdoors(witnesses: &Witnesses<'_>, logger: &Logger<'_>) -> Vec<Episode> {
    let Some(halves) = Halves::of(witnesses, logger) else { return Vec::new() };
    match &halves.outdoor {
        Some(outdoor) if outdoor.iter().any(|x| !x.is_nan()) => with_weather(witnesses, &halves, outdoor),
        _ => without_weather(witnesses, logger, &halves),
    }
}

fn with_weather(witnesses: &Witnesses<'_>, halves: &Halves, outdoor: &[f64]) -> Vec<Episode> {
    let share = |h: usize| {
        let apart = halves.others[h] - outdoor[h];
        // In summer an attic is as warm as outdoors and warmer, and so is a room in the sun.
        if apart >= LEAST_APART_K { (halves.others[h] - halves.own[h]) / apart } else { f64::NAN }
    };
    let shares: Vec<f64> = (0..halves.own.len()).map(share).collect();
    // Where the rooms are as warm as outdoors nothing speaks for its being there.
    let present = halves.own.iter().zip(&shares).filter(|(x, _)| !x.is_nan());
    let usual: Vec<f64> = present.map(|(_, share)| if share.is_nan() { 0.0 } else { *share }).collect();
    if median(usual).is_none_or(|usual| usual > USUAL_SHARE) {
        return Vec::new();
    }
    let follows = Follows { halves, outdoor };
    // While the rooms are as warm as outdoors, staying with the outdoor air is going on.
    let stays = |h: usize| shares[h].is_nan() && follows.stays(h);
    let runs = runs(&shares, |s| s > OUTDOORS_SHARE, stays).into_iter().filter(|run| follows.throughout(run));
    let episode = |run: Range<usize>| {
        let mean = |of: &dyn Fn(usize) -> f64| {
            let values: Vec<f64> = run.clone().map(of).filter(|x| !x.is_nan()).collect();
            crate::stats::mean(&values).unwrap_or(0.0)
        };
        let seen = Seen::Outdoors {
            off_k: mean(&|h| (halves.own[h] - outdoor[h]).abs()),
            others_k: mean(&|h| outdoor[h] - halves.others[h]),
        };
        // The half hours of the way out and back belong to neither place.
        let wide = run.start.saturating_sub(1)..(run.end + 1).min(shares.len());
        Episode { span: halves.span(witnesses, wide), seen }
    };
    runs.map(episode).collect()
}

/// One end of a time outdoors.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Edge {
    /// It moved by itself, quickly.
    Carried,
    /// There is no record beside it.
    Unseen,
    /// The other rooms became as cold as outdoors, and it stayed there.
    RoomsCame,
    /// None of these.
    Slow,
}

/// A logger beside the outdoor air.
struct Follows<'a> {
    halves: &'a Halves,
    outdoor: &'a [f64],
}

impl Follows<'_> {
    /// Whether it stays near the outdoor air, and was carried there and back, or moved with it all the time.
    fn throughout(&self, run: &Range<usize>) -> bool {
        let off = run.clone().map(|h| (self.halves.own[h] - self.outdoor[h]).abs());
        let near = median(off.filter(|k| !k.is_nan()).collect()).is_some_and(|k| k <= FOLLOWS_K);
        let edges =
            [self.edge(run.start, run.start.checked_sub(2)), self.edge(run.end - 1, Some(run.end + 1))];
        let seen_carried = edges.contains(&Edge::Carried) || edges == [Edge::Unseen; 2];
        near && (seen_carried && !edges.contains(&Edge::Slow) || self.moves_with_it(run))
    }

    /// How it got from a half hour beside its time outdoors to the first or last one there.
    fn edge(&self, at: usize, beside: Option<usize>) -> Edge {
        let value = |of: &[f64], h: usize| of.get(h).copied().unwrap_or(f64::NAN);
        let Some(beside) = beside.filter(|h| !value(&self.halves.own, *h).is_nan()) else {
            return Edge::Unseen;
        };
        let own = |h| value(&self.halves.own, h);
        let apart = |h| value(&self.halves.others, h) - value(self.outdoor, h);
        if own(beside) - own(at) >= CARRIED_SHARE * apart(at) {
            Edge::Carried
        } else if apart(beside) < LEAST_APART_K && self.stays(beside) {
            Edge::RoomsCame
        } else {
            Edge::Slow
        }
    }

    /// Whether it is near the outdoor air in a half hour.
    fn stays(&self, h: usize) -> bool {
        (self.halves.own[h] - self.outdoor[h]).abs() <= FOLLOWS_K
    }

    /// Whether it goes up and down as the outdoor air does, while that moves by more than rooms do.
    fn moves_with_it(&self, run: &Range<usize>) -> bool {
        let range = |of: &[f64]| {
            let values = || of[run.clone()].iter().copied().filter(|x| !x.is_nan());
            values().fold(f64::MIN, f64::max) - values().fold(f64::MAX, f64::min)
        };
        let (outdoor, own) = (range(self.outdoor), range(&self.halves.own));
        outdoor >= LEAST_APART_K
            && (SAME_RANGE..=1.0 / SAME_RANGE).contains(&(own / outdoor))
            && range(&self.halves.others) <= MOST_OF_RANGE * outdoor
    }
}

fn without_weather(witnesses: &Witnesses<'_>, logger: &Logger<'_>, halves: &Halves) -> Vec<Episode> {
    let away: Vec<f64> = halves.own.iter().zip(&halves.others).map(|(x, o)| x - o).collect();
    let Some(usual) = median(away.iter().copied().filter(|x| !x.is_nan()).collect()) else {
        return Vec::new();
    };
    let far: Vec<f64> = away.iter().map(|k| usual - k).collect();
    let told = |run: &Range<usize>| {
        let before = run.start.checked_sub(2).map_or(f64::NAN, |h| far[h]);
        // Heat that comes back quickly is no logger that is carried back: only the way out counts.
        before.is_nan() || far[run.start] - before >= AWAY_K / 2.0
    };
    let coldest = |run: &Range<usize>| {
        let rooms = witnesses.side.rooms();
        let others = || rooms.iter().enumerate().filter(|(r, _)| *r != logger.room);
        let below = |h: usize| {
            let at = halves.first + h * halves.per;
            others().all(|(_, s)| s.get(at).is_none_or(|x| x.is_nan() || *x > halves.own[h]))
        };
        // A single reading of another logger may stand out as far.
        run.clone().filter(|h| below(*h)).count() as f64 >= COLDEST_SHARE * run.len() as f64
    };
    let runs = runs(&far, |k| k > AWAY_K, |_| false).into_iter().filter(|run| told(run) && coldest(run));
    let episode = |run: Range<usize>| {
        let values: Vec<f64> = run.clone().map(|h| -far[h]).filter(|x| !x.is_nan()).collect();
        let by_k = crate::stats::mean(&values).unwrap_or(0.0);
        Episode { span: halves.span(witnesses, run), seen: Seen::Away { by_k } }
    };
    runs.map(episode).collect()
}

/// What is unsettled swings so many times as far as before, and so far at least, K: between the lowest and the highest tenth.
const TIMES_AS_FAR: f64 = 3.0;
const SWINGS_K: f64 = 5.0;

/// The time from a jump on in which a logger keeps no level beside the other rooms any more: it was taken away, carried
/// about, or something heats and cools it. A jump to a level that stays is none.
///
/// # Source
/// Own definition.
pub(super) fn unsettled(witnesses: &Witnesses<'_>, logger: &Logger<'_>) -> Option<Episode> {
    let halves = Halves::of(witnesses, logger)?;
    let range = record(witnesses, logger)?;
    let away: Vec<f64> = halves.own.iter().zip(&halves.others).map(|(x, o)| x - o).collect();
    let own = &witnesses.side.rooms()[logger.room][range.clone()];
    let jump = shift(own, &away, witnesses.side.step_ms())?;
    let half = (jump.at / halves.per).min(away.len());
    let swing = |of: &[f64]| {
        let values: Vec<f64> = of.iter().copied().filter(|x| !x.is_nan()).collect();
        Some(quantile(values.clone(), 0.9)? - quantile(values, 0.1)?)
    };
    let (before, after) = (swing(&away[..half])?, swing(&away[half..])?);
    let last = away.iter().rposition(|x| !x.is_nan())?;
    let span = halves.span(witnesses, left_its_level(&away, half)..last + 1);
    let told = after >= SWINGS_K && after >= TIMES_AS_FAR * before;
    told.then_some(Episode { span, seen: Seen::Unsettled { by_k: jump.by_k, swing_k: after } })
}

/// So long before the jump that looks like a step a logger may have left its place: a step is looked for in what stays.
const LEFT_BEFORE: usize = 24;

/// The half hour in which a logger left the distances that it kept to the other rooms until then; at the latest that of its jump.
fn left_its_level(away: &[f64], jump: usize) -> usize {
    let since = jump.saturating_sub(LEFT_BEFORE);
    let kept = || away[..since].iter().copied().filter(|x| !x.is_nan());
    let (Some(low), Some(high)) = (kept().reduce(f64::min), kept().reduce(f64::max)) else { return jump };
    let outside = |h: &usize| !(low..=high).contains(&away[*h]) && !away[*h].is_nan();
    (since..jump).rev().take_while(outside).last().unwrap_or(jump)
}

/// Runs of half hours beyond a limit that last, short breaks and those that `goes_on` bridged.
fn runs(values: &[f64], beyond: impl Fn(f64) -> bool, goes_on: impl Fn(usize) -> bool) -> Vec<Range<usize>> {
    let mut runs: Vec<Range<usize>> = Vec::new();
    for h in (0..values.len()).filter(|h| beyond(values[*h])) {
        match runs.last_mut() {
            Some(run) if (run.end..h).filter(|between| !goes_on(*between)).count() <= BRIDGED => {
                run.end = h + 1
            }
            _ => runs.push(h..h + 1),
        }
    }
    runs.retain(|run| run.clone().filter(|h| beyond(values[*h])).count() >= LEAST_OUTDOORS);
    runs
}
