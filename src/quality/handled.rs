//! Whether somebody had a logger in hand, in a bag or in a car at an end of its record.
//!
//! Settled here, and why:
//! - **Coming back is the evidence**: a logger that is far from its usual distance to the other rooms at an end of a download, and
//!   comes back by its own movement, as it seldom moves otherwise. A shower that is just over as a record begins cools away like the
//!   warmth of a hand; it is told from that by being seen on other days.

use std::ops::Range;

use super::episodes::{Episode, Logger, Seen, Witnesses};
use super::place::record;
use crate::clock::{HOUR_MS, Span, UtcTime};
use crate::stats::{median, quantile};

/// Where downloads, parts of a record after a long hole, and times in a box begin and end: places of readings.
#[derive(Debug)]
pub(super) struct Edges(Vec<Range<usize>>);

/// A hole after which somebody may have had the logger in hand.
const HOLE_MS: i64 = 6 * HOUR_MS;

impl Edges {
    /// Of the record of a logger that was taken out of, or put into, a box at some moments.
    pub(super) fn of(logger: &Logger<'_>, boxed: &[UtcTime]) -> Self {
        let readings = logger.flagged.readings();
        let times = readings.times_ms();
        let holes = (1..times.len()).filter(|i| times[*i] - times[*i - 1] > HOLE_MS);
        let mut cuts: Vec<usize> = holes.chain(readings.downloads()).collect();
        cuts.extend(boxed.iter().map(|end| times.partition_point(|t| *t < end.ms())));
        cuts.extend([0, times.len()]);
        cuts.sort_unstable();
        cuts.dedup();
        Self(cuts.windows(2).map(|w| w[0]..w[1]).collect())
    }
}

/// How long the warmth of a hand or a bag may last.
const SETTLE_MS: i64 = 10 * HOUR_MS;
/// How long it may lie in a bag: until somebody unpacks it at home, the next morning. It must be as far off as no room goes.
const LONG_SETTLE_MS: i64 = 20 * HOUR_MS;
const LONG_HANDLED_K: f64 = 4.0;
/// What comes after tells the usual distance.
const USUAL_MS: i64 = 14 * HOUR_MS;
/// Half of the way into a thick bag, and out of it.
const THICK_BAG_MS: i64 = 2 * HOUR_MS;
/// Share of its distance at the edge that it has half of the time before in a bag.
const STAYS: f64 = 0.8;
/// Least distance at the edge, K, and in steps of the logger's resolution.
const HANDLED_K: f64 = 2.0;
const HANDLED_STEPS: f64 = 4.0;
/// Half of the distance must be gone within this time, by the logger's own movement.
const HALF_LIFE_MS: i64 = 45 * 60_000;
/// The same movement may otherwise be seen at so few of the instants.
const SELDOM: f64 = 0.005;
/// The same of a logger that comes warm: a shower cools away as fast as the warmth of a hand, and is seen again on other days.
const SELDOM_WARM: f64 = 0.0005;
/// Share of the distance of what starts warm by which showers cool away as fast on other days.
const SHOWER_SHARE: f64 = 0.35;
/// How long a hand holds it at the edge of something else.
const IN_HAND_MS: i64 = HOUR_MS / 2;
/// Of a slow warmth: least distance, and by how much it must exceed any other, K.
const SLOW_K: f64 = 3.0;
const SLOW_MORE_K: f64 = 1.0;
/// Share of its distance by which it must come back, against the others, as it seldom does.
const SLOW_SHARE: f64 = 0.8;
/// No hand or bag is further off, K.
const SLOW_MOST_K: f64 = 15.0;
/// Share of a record in which a room may be aired.
const AIRED: f64 = 0.003;
/// What starts or ends cold, and is so for no longer than that, looks like a room that is aired, where it comes back as far against
/// the others in as short a time on other days.
const AIRED_MS: i64 = 90 * 60_000;
/// What lies so near to an edge says nothing of how far a logger usually is from the others.
const NEAR_EDGE_MS: i64 = 2 * HOUR_MS;
/// Fewest instants beside which an edge is looked at.
const LEAST_USUAL: usize = 24;

/// Times at the start and the end of each download at which a logger comes from, or goes to, another place: far from its
/// usual distance to the other rooms, and back at it by its own movement, quickly or from a distance never seen otherwise.
///
/// `busy`: times of which something else was said.
///
/// # Source
/// Own definition.
pub(super) fn handled(
    witnesses: &Witnesses<'_>,
    logger: &Logger<'_>,
    edges: &Edges,
    busy: &[Span],
) -> Vec<Episode> {
    let Some(others) = witnesses.side.others(logger.room) else { return Vec::new() };
    let Some(range) = record(witnesses, logger) else { return Vec::new() };
    let own = &witnesses.side.rooms()[logger.room];
    let away: Vec<f64> = own.iter().zip(others).map(|(x, o)| x - o).collect();
    let times = logger.flagged.readings().times_ms();
    let resolution = super::checks::resolution(logger.flagged.readings().degc()).k();
    let mut found = Vec::new();
    let part_of = |edge: &Range<usize>| {
        let part = witnesses.within(Span {
            from: UtcTime::from_ms(times[edge.start]),
            to: UtcTime::from_ms(times[edge.end - 1] + 1),
        });
        part.start.max(range.start)..part.end.min(range.end)
    };
    let near = (NEAR_EDGE_MS / witnesses.side.step_ms()) as usize;
    let near_edges: Vec<Range<usize>> = edges
        .0
        .iter()
        .map(part_of)
        .flat_map(|part| [part.start..part.start + near, part.end.saturating_sub(near)..part.end])
        .collect();
    for edge in &edges.0 {
        let part = part_of(edge);
        for at_start in [true, false] {
            let step_ms = witnesses.side.step_ms();
            let look = Look { own, away: &away, resolution, step_ms, edges: &near_edges };
            let Some(AtEdge { cells, away_k, quick }) = look.at_edge(&part, at_start) else { continue };
            let mut span = Span { from: witnesses.time(cells.start), to: witnesses.time(cells.end) };
            // The reading before the first instant, or after the last, was handled too.
            if at_start {
                span.from = span.from.min(UtcTime::from_ms(times[edge.start]));
            } else {
                span.to = span.to.max(UtcTime::from_ms(times[edge.end - 1] + 1));
            }
            if !busy.iter().any(|b| b.overlaps(&span)) {
                found.push(Episode { span, seen: Seen::Handled { at_start, away_k, quick } });
            }
        }
    }
    found
}

/// For how long a logger may have been elsewhere, and how far off, K, it must be.
#[derive(Clone, Copy, Debug)]
struct Stay {
    /// Beside the edge, for which it seems to be as usual.
    skipped_ms: i64,
    settle_ms: i64,
    least_k: f64,
}

impl Stay {
    const fn is_long(self) -> bool {
        self.settle_ms > SETTLE_MS
    }
}

/// What was seen at one edge of a part.
struct AtEdge {
    /// The instants that were handled.
    cells: Range<usize>,
    /// How far from the usual distance the logger was, K.
    away_k: f64,
    /// Whether it moved as a thing that is carried, and not only further than it ever does.
    quick: bool,
}

/// A record as its edges are looked at.
struct Look<'a> {
    own: &'a [f64],
    away: &'a [f64],
    resolution: f64,
    step_ms: i64,
    /// Instants at the edges of all parts.
    edges: &'a [Range<usize>],
}

impl Look<'_> {
    /// The instants that were handled at one edge of a part, and how far from the usual distance the logger was.
    ///
    /// What comes out of a cold bag may be held in a warm hand first, so that the very edge seems to be as usual.
    fn at_edge(&self, part: &Range<usize>, at_start: bool) -> Option<AtEdge> {
        let short =
            [0, IN_HAND_MS].map(|skipped_ms| Stay { skipped_ms, settle_ms: SETTLE_MS, least_k: HANDLED_K });
        let long = Stay { skipped_ms: 0, settle_ms: LONG_SETTLE_MS, least_k: LONG_HANDLED_K };
        short.into_iter().chain([long]).find_map(|stay| self.beside_edge(part, at_start, stay))
    }

    /// The same from some time beside the edge on.
    fn beside_edge(&self, part: &Range<usize>, at_start: bool, stay: Stay) -> Option<AtEdge> {
        let per = |ms: i64| (ms / self.step_ms) as usize;
        // From the edge inwards, whichever edge it is.
        let at = |k: usize| if at_start { part.start + k } else { part.end - 1 - k };
        let len = part.len();
        let first = (per(stay.skipped_ms)..len.min(per(HOUR_MS))).find(|k| !self.away[at(*k)].is_nan())?;
        let usual_from = if stay.is_long() { per(stay.settle_ms) } else { per(stay.settle_ms) / 4 };
        let later = (first + usual_from..len.min(first + per(stay.settle_ms) + per(USUAL_MS)))
            .map(|k| self.away[at(k)])
            .filter(|x| !x.is_nan());
        let later: Vec<f64> = later.collect();
        let usual = median(later.clone()).filter(|_| later.len() >= LEAST_USUAL)?;
        let off = |k: usize| self.away[at(k)] - usual;
        let away_k = off(first);
        let least = stay.least_k.max(HANDLED_STEPS * self.resolution);
        if away_k.abs() < least {
            return None;
        }
        let near = (0.1 * away_k.abs()).max(self.resolution).max(0.5);
        let back =
            (first..len.min(first + per(stay.settle_ms))).find(|k| off(*k) * away_k.signum() <= near)?;
        let within = |ms: i64| per(ms).min(back - first).max(1);
        let soon = within(HALF_LIFE_MS);
        let moved =
            |k: usize, n: usize| (self.own[at(k)] - self.own[at((k + n).min(len - 1))]) * away_k.signum();
        let here = Beside { part, at_start, back };
        // Where showers cool away, one that is larger than most is no hand.
        let warm_start = at_start && away_k > 0.0;
        let as_far = if warm_start { SHOWER_SHARE } else { 0.5 };
        let rare = |seldom: f64| self.is_rare(self.own, as_far * away_k, soon, &here, seldom);
        let seldom = if away_k > 0.0 { SELDOM_WARM } else { SELDOM };
        let half_k = 0.5 * away_k.abs();
        let most_else = self.most_else(usual, &here, away_k > 0.0);
        let more = if warm_start { SLOW_MORE_K.max(0.5 * most_else) } else { SLOW_MORE_K };
        let further = away_k.abs() > most_else + more;
        // In a bag it lies for hours: it moves as it gets there, or as it is taken out, in a thick one slowly, and in between it
        // stays; a room that cools goes on.
        let stays = off(first.midpoint(back)) * away_k.signum() >= STAYS * away_k.abs();
        let lay = |n: usize| stays && (first..back).any(|k| moved(k, n) >= half_k);
        let bagged = (LONG_HANDLED_K..=SLOW_MOST_K).contains(&away_k.abs())
            && (lay(soon) && rare(SELDOM_WARM) || further && lay(within(THICK_BAG_MS)));
        let quick = moved(first, soon) >= half_k && rare(seldom) || bagged;
        let as_aired = away_k < 0.0 && back - first < per(AIRED_MS);
        if as_aired && !self.is_rare(self.away, SLOW_SHARE * away_k, back - first, &here, 0.0) {
            return None;
        }
        // Where most of the others were in a hand, this one seems colder without having moved.
        let by_itself = (self.own[at(first)] - self.own[at(back)]) * away_k.signum() >= 0.5 * away_k.abs();
        let slow_share = if warm_start { 0.5 } else { SLOW_SHARE };
        let never = further
            || away_k.abs() <= SLOW_MOST_K
                && self.is_rare(self.away, slow_share * away_k, back - first, &here, 0.0);
        let slow = by_itself && !stay.is_long() && away_k.abs() > SLOW_K && never;
        let cells = if at_start { part.start..at(back) } else { at(back) + 1..part.end };
        ((quick || slow) && !cells.is_empty()).then_some(AtEdge { cells, away_k, quick })
    }

    /// Whether the logger seldom moves like this elsewhere in its record, and beside other edges: its temperatures, or its
    /// distances to the others, by `by_k` the same way within `soon` instants. Where it cools so at other times too, somebody showers or cooks there.
    fn is_rare(&self, of: &[f64], by_k: f64, soon: usize, here: &Beside<'_>, seldom: f64) -> bool {
        let edge = here.instants();
        let handled = |i: usize| self.edges.iter().any(|near| near.contains(&i));
        let (mut count, mut as_far) = (0.0, 0.0);
        for (i, pair) in of.windows(soon + 1).enumerate().filter(|(i, _)| !edge.contains(i)) {
            let (from, to) = if here.at_start { (pair[0], pair[soon]) } else { (pair[soon], pair[0]) };
            let moved = (from - to) * by_k.signum();
            if !moved.is_nan() && !edge.contains(&(i + soon)) {
                count += 1.0;
                let as_fast = moved >= by_k.abs() && !(handled(i) || handled(i + soon));
                as_far += f64::from(u8::from(as_fast));
            }
        }
        count > 0.0 && as_far <= seldom * count
    }

    /// The largest distance from the usual one in the record without the edge, and without the two hours at others; where it came
    /// cold, but for the few instants of an airing: nobody airs for hours.
    fn most_else(&self, usual: f64, here: &Beside<'_>, is_warm: bool) -> f64 {
        let edge = here.instants();
        let handled = |i: &usize| self.edges.iter().any(|near| near.contains(i));
        let elsewhere =
            self.away.iter().enumerate().filter(|(i, x)| !edge.contains(i) && !x.is_nan() && !handled(i));
        let off: Vec<f64> = elsewhere.map(|(_, x)| (x - usual).abs()).collect();
        let all_but = if is_warm { 0.0 } else { AIRED };
        quantile(off, 1.0 - all_but).unwrap_or(0.0)
    }
}

/// One edge of a part, up to where the logger is back at its usual distance.
struct Beside<'a> {
    part: &'a Range<usize>,
    at_start: bool,
    back: usize,
}

impl Beside<'_> {
    fn instants(&self) -> Range<usize> {
        let Range { start, end } = *self.part;
        if self.at_start { start..start + self.back } else { end - self.back..end }
    }
}
