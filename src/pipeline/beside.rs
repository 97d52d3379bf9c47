//! Each logger of a home beside the other rooms: what speaks against it.

use std::ops::Range;

use crate::clock::{HOUR_MS, Span};
use crate::exports::Readings;
use crate::grid::{AlignedHome, AlignedRoom};
use crate::quality::peer_check::{self, Doubts, Ends, PeerCheck, PeerRooms, Restless};
use crate::site::Site;
use crate::units::KelvinDiff;

/// Rooms of one home at the same instants, as far as a look at them needs.
pub(super) struct Rooms<'a> {
    degc: Vec<&'a [f64]>,
    local_ms: Vec<i64>,
    step_ms: i64,
    outdoor: Option<&'a [f64]>,
}

impl<'a> Rooms<'a> {
    pub(super) fn of(site: &Site, aligned: &'a AlignedHome) -> Self {
        let degc = aligned.rooms().iter().map(AlignedRoom::degc).collect();
        Self { degc, local_ms: local_times(site, aligned), step_ms: site.step_ms, outdoor: aligned.outdoor() }
    }

    pub(super) fn side_by_side(&self) -> PeerCheck<'_> {
        let (degc, local_ms) = (&self.degc, &self.local_ms);
        PeerCheck::new(PeerRooms { degc, local_ms, step_ms: self.step_ms, outdoor: self.outdoor })
    }
}

/// A logger in a room: when it stood there, and where its record begins and ends, if that is known.
#[derive(Clone, Copy, Debug)]
pub(super) struct Placed {
    pub(super) room: usize,
    /// Whether people shower or cook in the room.
    pub(super) has_steam: bool,
    pub(super) span: Span,
    pub(super) ends: Option<Ends>,
    /// Whether its export states its clock.
    pub(super) stated: bool,
    /// The steps of its readings; none where its readings are not known.
    pub(super) resolution: Option<KelvinDiff>,
}

/// Least step of a level in steps of the logger's readings: a room that moves by little turns one of whole degrees to the next.
const SHIFT_STEPS: f64 = 1.2;

/// What the other rooms of the home say against each logger; `unsettled`: rooms whose logger keeps no level any more.
pub(super) fn doubts(
    side: &PeerCheck<'_>,
    aligned: &AlignedHome,
    loggers: &[Placed],
    unsettled: &[usize],
) -> Vec<Doubts> {
    let apart = peer_check::apart(&loggers.iter().map(|l| l.ends).collect::<Vec<_>>());
    let with_apart = loggers.iter().zip(apart);
    let few_state = 2 * loggers.iter().filter(|l| l.stated).count() < loggers.len();
    let one = |(l, apart): (&Placed, Option<peer_check::Apart>)| {
        let apart = apart.map(|a| if l.stated && few_state { a.stated_alone() } else { a });
        let doubts = peer_check::compare(side, l.room, place_of(aligned, l), apart.as_ref());
        let rounding = l.resolution.map_or(0.0, |step| SHIFT_STEPS * step.k());
        let shift = doubts.shift.filter(|shift| shift.by_k.abs() >= rounding);
        // Steam falls as quickly as what a heater warmed: there the weather must say so, too.
        let alone = |it: &Restless| matches!(it, Restless::Falls { with_weather: false, .. });
        Doubts { shift, restless: doubts.restless.filter(|it| !(l.has_steam && alone(it))), ..doubts }
    };
    let mut doubts: Vec<Doubts> = with_apart.map(one).collect();
    where_it_can_be_told(&mut doubts, loggers, unsettled);
    without_shared(&mut doubts, aligned.step_ms());
    doubts
}

/// Where a room had several loggers, what it is like changed with them; and what keeps no level is in no other room.
fn where_it_can_be_told(doubts: &mut [Doubts], loggers: &[Placed], unsettled: &[usize]) {
    let several = |room: usize| loggers.iter().filter(|l| l.room == room).count() > 1;
    let untold = |room: usize| several(room) || unsettled.contains(&room);
    for (doubts, logger) in doubts.iter_mut().zip(loggers) {
        doubts.in_room = doubts.in_room.filter(|it| !untold(logger.room) && !untold(it.room));
    }
}

/// Loggers of a home that step at the same time, or drift, the same way show what their rooms did.
const ONE_TIME_MS: i64 = HOUR_MS;
/// Where a logger went to another room its level jumps: no step besides, within so long.
const MOVED_MS: i64 = 36 * HOUR_MS;

fn without_shared(doubts: &mut [Doubts], step_ms: i64) {
    let near = |a: usize, b: usize, within_ms: i64| a.abs_diff(b) as i64 * step_ms <= within_ms;
    let before = doubts.to_vec();
    for (at, doubt) in doubts.iter_mut().enumerate() {
        let others = || before.iter().enumerate().filter(|(other, _)| *other != at).map(|(_, d)| d);
        doubt.shift = doubt.shift.filter(|shift| {
            let same = |s: &peer_check::Shift| s.by_k * shift.by_k > 0.0 && near(s.at, shift.at, ONE_TIME_MS);
            let moved = doubt.in_room.is_some_and(|it| near(it.at, shift.at, MOVED_MS));
            !moved && !others().any(|d| d.shift.as_ref().is_some_and(same))
        });
        doubt.drift_k = doubt.drift_k.filter(|by_k| {
            let same = |d: &Doubts| d.drift_k.is_some_and(|k| k * by_k > 0.0);
            doubt.in_room.is_none() && !others().any(same)
        });
    }
}

/// The ends of a record.
pub(super) fn ends(readings: &Readings) -> Option<Ends> {
    let (times, interval_ms) = (readings.times_ms(), readings.interval_ms()?);
    Some(Ends { first_ms: *times.first()?, last_ms: *times.last()?, interval_ms })
}

/// Where on the grid a logger stood in its room, from its first to its last value.
fn place_of(aligned: &AlignedHome, logger: &Placed) -> Range<usize> {
    let placed = aligned.index_from(logger.span.from)..aligned.index_from(logger.span.to);
    with_values(aligned.rooms()[logger.room].degc(), placed)
}

/// A range from its first to its last value.
fn with_values(degc: &[f64], range: Range<usize>) -> Range<usize> {
    let here = &degc[range.clone()];
    let first = here.iter().position(|x| !x.is_nan()).unwrap_or(here.len());
    let last = here.iter().rposition(|x| !x.is_nan()).map_or(first, |i| i + 1);
    range.start + first..range.start + last
}

/// Local time of each instant; the zone is asked twice a day, and for each instant only on days that change clocks.
fn local_times(site: &Site, aligned: &AlignedHome) -> Vec<i64> {
    let local = |i: usize| site.zone.local(aligned.time(i)).ms();
    let mut local_ms = Vec::with_capacity(aligned.len());
    for day in aligned.days().iter().filter(|d| d.from < d.to) {
        let first = local(day.from);
        let changes_clocks = local(day.to - 1) - first != (day.to - 1 - day.from) as i64 * aligned.step_ms();
        match changes_clocks {
            true => local_ms.extend((day.from..day.to).map(local)),
            false => local_ms.extend((0..).map(|k| first + k * aligned.step_ms()).take(day.to - day.from)),
        }
    }
    assert_eq!(local_ms.len(), aligned.len(), "days hold every instant");
    local_ms
}
