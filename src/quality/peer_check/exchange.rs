//! Two loggers that were exchanged at some moment, and one that was put into the room of another.
//!
//! Settled here, and why:
//! - **A room has a signature**: how far it lies from the others at each time of day, and how restless it is. Two loggers were
//!   exchanged where each of them carries on the other's signature from a day on: the residual about the two signatures falls
//!   when the days after are exchanged (between rooms of sound homes it rises). Day-to-day scatter of the home itself is the
//!   scale, so that the limit is no number of one kind of building. A step or a drift of one of them makes it fall, too: but
//!   then leaving each room free to change explains far more than the exchange does.
//! - **Somebody carried them**: both must jump at one moment, against each other, by about as much as their rooms are apart.
//! - **Two loggers in one room** show the same air: the distance between them stands still all day, where it moved before, and is
//!   no more than loggers are off by. Two rooms that nobody uses stand still beside each other, too, each at its own level.

use super::restless::looked_at;
use super::{PeerCheck, QUARTER_MS, present};
use crate::stats::median;

/// A logger that stands in the room of another one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct InRoom {
    /// The first instant there, give or take a day where nothing jumped.
    pub at: usize,
    /// The place of that room in the home.
    pub room: usize,
    /// Whether the other's logger stands in its own room instead; else both are in one room.
    pub exchanged: bool,
}

/// Parts of a day, and what a signature holds: the distance to the others in each, and how restless the room is.
const PARTS: usize = 8;
const SIGNS: usize = PARTS + 1;
type Signs = [f64; SIGNS];
/// Places of two rooms in their home.
type Pair = (usize, usize);
/// Share of a day that must be there.
const DAY_SHARE: f64 = 0.75;
/// Fewest days on either side, and in all.
const SIDE_DAYS: usize = 3;
const LEAST_DAYS: usize = 8;
/// By how much the residual must fall, in units of the day-to-day scatter, over the root of the number of days.
const FALLS: f64 = 4.0;
/// Share of what could be explained by leaving both rooms free to change that day that the exchange must explain.
const EXPLAINS: f64 = 0.5;
/// What a home may be colder or warmer by, from that day on, K: where heat comes to an end, rooms are like each other and unlike
/// themselves without anybody.
const HOME_MOVES_K: f64 = 3.0;
/// How many times less the distance between two loggers moves once they stand in one room, and how little at most, K.
const STILLER: f64 = 2.0;
/// The same, beside what becomes of their distances to all other rooms.
const STILLER_THAN_OTHERS: f64 = 2.0;
const STILL_K: f64 = 0.15;
/// How far it moved before at least, K.
const MOVED_K: f64 = 0.2;
/// In one room two loggers read alike, but for what both are off by, K.
const IN_ONE_AIR_K: f64 = 1.0;
/// What the noise and steps of two loggers make of it, K.
const NOISE_K: f64 = 0.03;
/// Least jump of both that tells the moment of an exchange, K, and as a share of how far the rooms are apart; a logger needs so
/// long to come to another room, ms.
const JUMP_K: f64 = 0.3;
const JUMP_SHARE: f64 = 0.5;
/// The same in steps of the coarser logger: one step of a coarse logger in a steady room is no journey.
const JUMP_STEPS: f64 = 2.2;
const COMES_MS: i64 = 3 * QUARTER_MS;

/// For each room of a home, where its logger stands instead from some moment on; at most one pair is told.
///
/// # Source
/// Own definition.
pub(super) fn in_rooms(home: &PeerCheck<'_>, wobbles: &[Vec<f64>]) -> Vec<Option<InRoom>> {
    let mut told = vec![None; home.rooms.degc.len()];
    let Some(signs) = Signatures::of(home, wobbles) else { return told };
    let stays = |(a, _, day): &(usize, usize, usize)| !home_moves(home, *a, *day);
    let exchanged = signs.exchanged().filter(stays);
    let exchanged = exchanged.and_then(|(a, b, day)| Some((a, b, carried(home, (a, b), day)?)));
    if let Some((a, b, at)) = exchanged {
        told[a] = Some(InRoom { at, room: b, exchanged: true });
        told[b] = Some(InRoom { at, room: a, exchanged: true });
    } else if let Some((a, b, day)) = in_one_room(home).filter(stays) {
        let (moved, stayed) = if signs.changed(a, day) >= signs.changed(b, day) { (a, b) } else { (b, a) };
        let Some(at) = came(home, (moved, stayed), day) else { return told };
        told[moved] = Some(InRoom { at, room: stayed, exchanged: false });
    }
    told
}

/// Whether the rooms beside one are much colder or warmer from a day on.
fn home_moves(home: &PeerCheck<'_>, room: usize, day: usize) -> bool {
    let Some(at) = home.days.get(day).map(|day| day.start) else { return true };
    let others = &home.others[room];
    let level = |part: &[f64]| median(part.iter().copied().step_by(6).filter(|x| !x.is_nan()).collect());
    level(&others[..at]).zip(level(&others[at..])).is_none_or(|(a, b)| (b - a).abs() > HOME_MOVES_K)
}

/// What each room is like on each local day, in units of the home's day-to-day scatter; `None` on days with too little.
struct Signatures(Vec<Vec<Option<Signs>>>);

impl Signatures {
    fn of(home: &PeerCheck<'_>, wobbles: &[Vec<f64>]) -> Option<Self> {
        let of_room = |room: usize| {
            let of_day = |day: &std::ops::Range<usize>| signs(home, &wobbles[room], room, day);
            home.days.iter().map(of_day).collect::<Vec<_>>()
        };
        let mut rooms: Vec<Vec<Option<Signs>>> = (0..home.others.len()).map(of_room).collect();
        let scatter = Scatter::of(&rooms)?;
        rooms.iter_mut().flatten().flatten().for_each(|signs| *signs = scatter.in_its_units(*signs));
        Some(Self(rooms))
    }

    /// Days on which both of two rooms have a signature.
    fn days_of_both(&self, a: usize, b: usize) -> Vec<(usize, Signs, Signs)> {
        let both = self.0[a].iter().zip(&self.0[b]).enumerate();
        both.filter_map(|(day, (a, b))| Some((day, (*a)?, (*b)?))).collect()
    }

    /// The pair and the day from which on exchanging them lets the residual fall most, if it does so by enough.
    fn exchanged(&self) -> Option<(usize, usize, usize)> {
        let rooms = self.0.len();
        let pairs = (0..rooms).flat_map(|a| (a + 1..rooms).map(move |b| (a, b)));
        let of_pair = |(a, b)| {
            let best = most_by_exchange(&self.days_of_both(a, b))?;
            Some((best.falls, best.explains, (a, b, best.day)))
        };
        let best = pairs.filter_map(of_pair).max_by(|x, y| x.0.total_cmp(&y.0))?;
        (best.0 >= FALLS && best.1 >= EXPLAINS).then_some(best.2)
    }

    /// How far a room's mean signature lies apart before and from a day on.
    fn changed(&self, room: usize, day: usize) -> f64 {
        let of = |days: &[Option<Signs>]| {
            let mut sums = Sums::default();
            days.iter().flatten().for_each(|signs| sums.add(signs));
            sums
        };
        let (before, after) = self.0[room].split_at(day.min(self.0[room].len()));
        of(before).apart(&of(after))
    }
}

/// Number, sums and sum of squares of some signatures.
#[derive(Clone, Copy, Debug, Default)]
struct Sums {
    count: f64,
    sums: Signs,
    squares: f64,
}

impl Sums {
    fn add(&mut self, signs: &Signs) {
        self.count += 1.0;
        self.sums.iter_mut().zip(signs).for_each(|(sum, x)| *sum += x);
        self.squares += signs.iter().map(|x| x * x).sum::<f64>();
    }

    fn with(mut self, other: Self) -> Self {
        self.count += other.count;
        self.sums.iter_mut().zip(other.sums).for_each(|(sum, x)| *sum += x);
        self.squares += other.squares;
        self
    }

    fn mean(&self) -> Signs {
        self.sums.map(|sum| sum / self.count.max(1.0))
    }

    /// Squared distance of two means.
    fn apart(&self, other: &Self) -> f64 {
        self.mean().iter().zip(other.mean()).map(|(x, y)| (x - y).powi(2)).sum()
    }

    /// Sum of squares about the mean.
    fn residual(&self) -> f64 {
        self.squares - self.sums.iter().map(|x| x * x).sum::<f64>() / self.count.max(1.0)
    }
}

/// What exchanging two rooms from a day on comes to.
struct Exchange {
    day: usize,
    /// Fall of the residual over the root of the number of days.
    falls: f64,
    /// As a share of its fall where both rooms may change to anything.
    explains: f64,
}

/// The day from which on exchanging two rooms lets the residual fall most.
fn most_by_exchange(days: &[(usize, Signs, Signs)]) -> Option<Exchange> {
    if days.len() < LEAST_DAYS {
        return None;
    }
    let sums = |days: &[(usize, Signs, Signs)]| {
        days.iter().fold((Sums::default(), Sums::default()), |(mut a, mut b), (_, of_a, of_b)| {
            a.add(of_a);
            b.add(of_b);
            (a, b)
        })
    };
    let (all_a, all_b) = sums(days);
    let as_it_is = all_a.residual() + all_b.residual();
    let at = |place: usize| {
        let ((before_a, before_b), (after_a, after_b)) = (sums(&days[..place]), sums(&days[place..]));
        let falls = as_it_is - before_a.with(after_b).residual() - before_b.with(after_a).residual();
        let free = [before_a, before_b, after_a, after_b].iter().map(Sums::residual).sum::<f64>();
        // Each must come nearer to the other room: one that only drifts or steps leaves the other where it was.
        let nearer = |after: Sums, own: Sums, other: Sums| after.apart(&other) <= after.apart(&own);
        let each = nearer(after_a, before_a, before_b) && nearer(after_b, before_b, before_a);
        let explains = if each { falls / (as_it_is - free).max(f64::MIN_POSITIVE) } else { 0.0 };
        Exchange { day: days[place].0, falls: falls / (days.len() as f64).sqrt(), explains }
    };
    let places = SIDE_DAYS..=days.len() - SIDE_DAYS;
    places.map(at).max_by(|x, y| x.falls.total_cmp(&y.falls))
}

/// A room on one day.
fn signs(home: &PeerCheck<'_>, wobble: &[f64], room: usize, day: &std::ops::Range<usize>) -> Option<Signs> {
    let (own, others) = (&home.rooms.degc[room][day.clone()], &home.others[room][day.clone()]);
    let away: Vec<f64> = own.iter().zip(others).map(|(x, m)| x - m).collect();
    let there = away.iter().filter(|k| !k.is_nan()).count();
    let per_part = away.len().div_ceil(PARTS);
    let whole = super::DAY_MS / home.rooms.step_ms;
    if (there as f64) < DAY_SHARE * whole as f64 || per_part == 0 {
        return None;
    }
    let mut signs = [0.0; SIGNS];
    for (sign, part) in signs.iter_mut().zip(away.chunks(per_part)) {
        *sign = crate::stats::mean(&present(part))?;
    }
    let wobble = present(wobble.get(looked_at(day))?);
    // Where nothing moves, the steps of a logger are all there is.
    signs[PARTS] = libm::log(median(wobble)? + 0.02);
    Some(signs)
}

/// How the days of all rooms of a home scatter about the middle of each room: the lower triangle whose square is their
/// covariance (Cholesky).
struct Scatter([Signs; SIGNS]);

/// What lies further from the middle counts as so many robust standard deviations.
const BOUNDED: f64 = 3.0;
/// Share of the variance that is added, so that what goes together does not vanish.
const RIDGE: f64 = 0.05;
/// Days differ by so much at least, K (and in the logarithm of how restless a room is): in a steady home with coarse loggers one
/// step of them would be a world apart.
const LEAST: f64 = 0.08;

impl Scatter {
    fn of(rooms: &[Vec<Option<Signs>>]) -> Option<Self> {
        let mut off: Vec<Signs> = Vec::new();
        for days in rooms {
            let column = |c: usize| median(days.iter().flatten().map(|signs| signs[c]).collect());
            let middle: Vec<f64> = (0..SIGNS).filter_map(column).collect();
            if middle.len() == SIGNS {
                let of_day = |signs: &Signs| std::array::from_fn(|c| signs[c] - middle[c]);
                off.extend(days.iter().flatten().map(of_day));
            }
        }
        if off.len() < 2 * SIGNS {
            return None;
        }
        let spread =
            |c: usize| median(off.iter().map(|signs| signs[c].abs()).collect()).map(|k| 1.4826 * k + 1e-3);
        let spread: Vec<f64> = (0..SIGNS).filter_map(spread).collect();
        for signs in &mut off {
            signs.iter_mut().zip(&spread).for_each(|(x, s)| *x = x.clamp(-BOUNDED * s, BOUNDED * s));
        }
        let n = off.len() as f64;
        let mean: Signs = std::array::from_fn(|c| off.iter().map(|signs| signs[c]).sum::<f64>() / n);
        let covariance = |i: usize, j: usize| {
            let both =
                off.iter().map(|signs| (signs[i] - mean[i]) * (signs[j] - mean[j])).sum::<f64>() / (n - 1.0);
            both + if i == j { RIDGE * spread[i] * spread[i] + LEAST * LEAST } else { 0.0 }
        };
        lower_triangle(covariance).map(Self)
    }

    /// A signature in units of the scatter: days then differ by one in each of its signs, whatever goes together.
    fn in_its_units(&self, signs: Signs) -> Signs {
        let mut solved = [0.0; SIGNS];
        for i in 0..SIGNS {
            let known: f64 = (0..i).map(|j| self.0[i][j] * solved[j]).sum();
            solved[i] = (signs[i] - known) / self.0[i][i];
        }
        solved
    }
}

/// The lower triangle of a covariance; `None` where it has none.
fn lower_triangle(covariance: impl Fn(usize, usize) -> f64) -> Option<[Signs; SIGNS]> {
    let mut lower = [[0.0; SIGNS]; SIGNS];
    for i in 0..SIGNS {
        for j in 0..=i {
            let known: f64 = (0..j).map(|k| lower[i][k] * lower[j][k]).sum();
            let left = covariance(i, j) - known;
            lower[i][j] = if i != j {
                left / lower[j][j]
            } else if left > 0.0 {
                left.sqrt()
            } else {
                return None;
            };
        }
    }
    Some(lower)
}

/// The pair whose distance stands still from a day on, where it did not before and their distances to the others do not.
fn in_one_room(home: &PeerCheck<'_>) -> Option<(usize, usize, usize)> {
    let rooms = home.rooms.degc.len();
    let pairs = (0..rooms).flat_map(|a| (a + 1..rooms).map(move |b| (a, b)));
    let moves: Vec<(Pair, Vec<Option<f64>>)> = pairs.map(|(a, b)| ((a, b), movement(home, a, b))).collect();
    let best = moves.iter().filter_map(|(pair, moves)| Some((stands_still(moves)?, *pair)));
    let ((ratio, day), (a, b)) = best.max_by(|x, y| x.0.0.total_cmp(&y.0.0))?;
    let stiller = |pair: &Pair| {
        let (_, moves) = moves.iter().find(|(other, _)| other == pair)?;
        stiller_from(moves, day)
    };
    // A room in which nobody cooks any more stands still beside all others.
    let touches =
        |pair: &&(usize, usize)| **pair != (a, b) && [pair.0, pair.1].iter().any(|r| *r == a || *r == b);
    let beside_others =
        moves.iter().map(|(pair, _)| pair).filter(touches).filter_map(stiller).fold(1.0, f64::max);
    let told = ratio >= STILLER && stiller(&(a, b))? >= STILLER_THAN_OTHERS * beside_others;
    (told && apart_from(home, (a, b), day)? <= IN_ONE_AIR_K).then_some((a, b, day))
}

/// How far two rooms are apart in the middle from a day on, K.
fn apart_from(home: &PeerCheck<'_>, (a, b): Pair, day: usize) -> Option<f64> {
    let from = home.days.get(day)?.start;
    let pairs = home.rooms.degc[a].iter().zip(home.rooms.degc[b]).skip(from).step_by(3);
    median(pairs.map(|(x, y)| x - y).filter(|k| !k.is_nan()).collect()).map(f64::abs)
}

/// How many times less the middle of all days from one on moves than that of the days before.
fn stiller_from(movement: &[Option<f64>], day: usize) -> Option<f64> {
    let (before, after) = movement.split_at(day.min(movement.len()));
    let middle = |days: &[Option<f64>]| median(days.iter().copied().flatten().collect());
    Some(middle(before)? / middle(after)?.max(NOISE_K))
}

/// How far the distance between two rooms moves on each day about its middle, K.
fn movement(home: &PeerCheck<'_>, a: usize, b: usize) -> Vec<Option<f64>> {
    let of_day = |day: &std::ops::Range<usize>| {
        let (x, y) = (&home.rooms.degc[a][day.clone()], &home.rooms.degc[b][day.clone()]);
        let apart: Vec<f64> =
            x.iter().zip(y).step_by(3).map(|(x, y)| x - y).filter(|k| !k.is_nan()).collect();
        let whole = super::DAY_MS / home.rooms.step_ms / 3;
        let enough = apart.len() as f64 >= DAY_SHARE * whole as f64;
        let middle = median(apart.clone()).filter(|_| enough)?;
        Some(apart.iter().map(|k| (k - middle).abs()).sum::<f64>() / apart.len() as f64)
    };
    home.days.iter().map(of_day).collect()
}

/// How many times less nearly all days from one on move than nearly all before, at best, and that day.
fn stands_still(movement: &[Option<f64>]) -> Option<(f64, usize)> {
    let days: Vec<(usize, f64)> = movement.iter().enumerate().filter_map(|(d, k)| Some((d, (*k)?))).collect();
    if days.len() < LEAST_DAYS {
        return None;
    }
    let tenth = |days: &[(usize, f64)], from_above: bool| {
        let mut sorted: Vec<f64> = days.iter().map(|d| d.1).collect();
        sorted.sort_unstable_by(f64::total_cmp);
        let place = (0.1 * (sorted.len() - 1) as f64) as usize;
        sorted[if from_above { sorted.len() - 1 - place } else { place }]
    };
    let at = |place: usize| {
        let (before, after) = days.split_at(place);
        let most = tenth(after, true);
        let least = tenth(before, false);
        let ratio = if most <= STILL_K && least >= MOVED_K { least / most.max(NOISE_K) } else { 0.0 };
        (ratio, days[place].0)
    };
    (SIDE_DAYS..=days.len() - SIDE_DAYS).map(at).max_by(|x, y| x.0.total_cmp(&y.0))
}

/// The instant around a day at which a logger came to the room of another: it jumps by most of what lay between them, while that
/// one stays; the start of the day where they were too near to each other for a jump, `None` where it should have jumped.
fn came(home: &PeerCheck<'_>, (moved, stayed): Pair, day: usize) -> Option<usize> {
    let closes = |[before, after]: [f64; 2], [other_before, other_after]: [f64; 2]| {
        let apart = (before - other_before).abs();
        let closes = apart - (after - other_after).abs();
        let by_itself = (after - before).abs() >= JUMP_SHARE * closes;
        if closes >= JUMP_SHARE * apart && by_itself { closes } else { 0.0 }
    };
    let near = || {
        let (x, y) = (home.rooms.degc[moved], home.rooms.degc[stayed]);
        let before = home.days[..day].iter().flat_map(|d| d.clone()).map(|i| (x[i] - y[i]).abs());
        let usual = median(before.filter(|k| !k.is_nan()).collect())?;
        (usual < JUMP_K).then(|| home.days[day].start)
    };
    largest_jump(home, (moved, stayed), day, closes).or_else(near)
}

/// The instant around a day at which two rooms jump most against each other; `None` where they jump by less than they are apart.
fn carried(home: &PeerCheck<'_>, pair: Pair, day: usize) -> Option<usize> {
    largest_jump(home, pair, day, |[before, after], [other_before, other_after]| {
        let (of_a, of_b) = (after - before, other_after - other_before);
        let jump = of_a.abs().min(of_b.abs());
        let apart = (before - other_before).abs();
        if of_a * of_b < 0.0 && jump >= JUMP_SHARE * apart { jump } else { 0.0 }
    })
}

/// The instant around a day at which two loggers jump most, if they do; `jump`: by how much, K, of both before and after.
fn largest_jump(
    home: &PeerCheck<'_>,
    (a, b): Pair,
    day: usize,
    jump: impl Fn([f64; 2], [f64; 2]) -> f64,
) -> Option<usize> {
    let (x, y) = (home.rooms.degc[a], home.rooms.degc[b]);
    let reach = (COMES_MS / home.rooms.step_ms).max(1) as usize;
    let from = home.days[day.saturating_sub(1)].start.max(2 * reach);
    let to = home.days[day].end.min(x.len());
    let at = |i: usize| (jump([x[i - reach], x[i]], [y[i - reach], y[i]]), i);
    let most = (from..to).map(at).max_by(|p, q| p.0.total_cmp(&q.0))?;
    let steps = super::step::resolution(x).max(super::step::resolution(y));
    (most.0 >= JUMP_K.max(JUMP_STEPS * steps)).then_some(most.1)
}
