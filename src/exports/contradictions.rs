//! Exports that contradict themselves: two units for one series, two clocks for its times. A third witness settles it, and
//! it is told; without one it is asked, and the room has no readings until then.
//!
//! Settled here, and why:
//! - **Two units or two clocks stated** in one export: what a third witness says holds (the roster; values that only one
//!   unit allows; a second column of times), with a note; else its rows are set aside and it is asked. A second column of
//!   times that states its clock wins over the clock of roster and site.

use super::dialect::Dialect;
use super::series::Series;
use super::unit_by_values::{Role, told_by_values};
use crate::clock::{Clock, LocalTime, show_offset};
use crate::error::{Note, Trouble};
use crate::site::{Site, Source};
use crate::texts::name;
use crate::units::TemperatureUnit;

fn note(source: &Source, what: String, hint: &str) -> Note {
    Note {
        place: source.file.told().to_owned(),
        line: None,
        what: what.into(),
        hint: hint.to_owned(),
        unreadable: false,
    }
}

/// The words for two units of one series; `None` where it has only one.
pub(super) fn units(series: &Series) -> Option<String> {
    let (first, who) = series.units.first()?;
    let (other, other_who) = series.units.iter().find(|(unit, _)| unit != first)?;
    Some(format!(
        "column \"{}\" is in {first} by {who} and in {other} by {other_who}, expected one unit",
        name(&series.name)
    ))
}

/// The unit of a series that is stated in two: as the roster says, or as the values of a room can only be.
///
/// # Errors
/// [`Trouble`] where nothing settles it.
pub(super) fn settle_units(
    source: &Source,
    series: &Series,
    role: Role,
    both: &str,
) -> Result<(TemperatureUnit, Option<Note>), Trouble> {
    if let Some(set) = source.unit {
        let what = format!("{both}; the roster says {set}, which was followed");
        return Ok((set, Some(note(source, what, "check how the export was made"))));
    }
    let only = if role == Role::Room { told_by_values(series, role).ok() } else { None };
    let Some(unit) = only else {
        let what = format!("{both}, and its values do not tell it");
        let hint = "state `unit` (°C or °F) in the roster, or in `outdoor` for the weather file; until then it has no readings";
        return Err(Trouble::new(what, hint));
    };
    let what = format!("{both}; only in {unit} are its values temperatures of a room, and they were read so");
    Ok((unit, Some(note(source, what, "state `unit` (°C or °F) in the roster to be sure"))))
}

/// How the words for a clock that an export states are, and how they end.
const WITH_EACH_TIME: &str = "stated with each time";
const AS_STATED: &str = ", as the export states";

/// Whether the words for a clock, as [`Opened`](super::Opened) has them, say that the export states it.
pub fn is_stated(clock: &str) -> bool {
    clock == WITH_EACH_TIME || clock.ends_with(AS_STATED)
}

/// The clock of a download, its words, and what is told of it.
pub(super) struct SettledClock {
    pub(super) clock: Clock,
    pub(super) shown: String,
    pub(super) note: Option<Note>,
}

/// Times that state their offset need no clock; a clock that the export states wins over the roster, the roster over the
/// site. Of two that it states the roster's is followed, or the one that a second column of times agrees with.
///
/// # Errors
/// [`Trouble`] where two clocks are stated, or two columns of times run apart, and nothing settles it.
pub(super) fn settle_clock(
    site: &Site,
    source: &Source,
    dialect: &Dialect,
    times_ms: &[i64],
) -> Result<SettledClock, Trouble> {
    let settled = |clock: Clock, shown, note| Ok(SettledClock { clock, shown, note });
    if dialect.times_in_utc {
        return settled(Clock::UTC, WITH_EACH_TIME.to_owned(), None);
    }
    let second = &dialect.second_times;
    let fits = |clock: &Clock| second.iter().all(|times| times.fit(clock));
    let as_stated = |clock: &Clock| format!("{}{AS_STATED}", clock.show());
    let stated: Vec<(Clock, &str)> =
        dialect.stated_clocks.iter().map(|(stated, who)| (stated.clock(), *who)).collect();
    if let Some(both) = two_clocks(&stated, times_ms) {
        let of_roster = source.clock.map(|set| site.clock_of(Some(set)));
        let same = |clock: &Clock| of_roster.is_some_and(|set| !differ(&set, clock, times_ms));
        let chosen = stated.iter().map(|(clock, _)| clock).find(|clock| same(clock));
        let witness = if chosen.is_some() { "the roster" } else { "its second column of times" };
        let by_times = || stated.iter().map(|(clock, _)| clock).find(|clock| second.is_some() && fits(clock));
        let Some(clock) = chosen.or_else(by_times) else {
            let hint = "give `clock` (utc, or \"fixed -05:00\") in the roster row of this file; until then it has no readings";
            return Err(Trouble::new(both, hint));
        };
        let what = format!("{both}; {} was followed, as {witness} says", clock.show());
        return settled(*clock, as_stated(clock), Some(note(source, what, "check how the logger was set")));
    }
    let set = site.clock_of(source.clock);
    let (clock, shown) = match stated.first() {
        Some((clock, _)) => (*clock, as_stated(clock)),
        None => (set, set.show()),
    };
    match second.as_ref().filter(|_| !fits(&clock)) {
        None => settled(clock, shown, None),
        Some(times) => {
            let columns = format!(
                "its times in column \"{}\" and in column \"{}\" do not fit each other by the clock {}",
                name(&times.columns.0),
                name(&times.columns.1),
                clock.show()
            );
            let Some(clock) = times.fixed() else {
                let hint =
                    "take one of the two columns of times out of the export; until then it has no readings";
                return Err(Trouble::new(format!("{columns}, nor by any fixed offset"), hint));
            };
            let what = format!("{columns}; they fit by {}, and it was followed", clock.show());
            let hint = "correct `clock` in the site file or the roster, if the export is right";
            settled(clock, as_stated(&clock), Some(note(source, what, hint)))
        }
    }
}

/// Whether two clocks tell the first or the last time of a record differently.
fn differ(a: &Clock, b: &Clock, times_ms: &[i64]) -> bool {
    let ends = [times_ms.iter().min(), times_ms.iter().max()];
    ends.into_iter().flatten().any(|ms| {
        let local = LocalTime::from_ms(*ms);
        offset_s(a, local) != offset_s(b, local)
    })
}

fn offset_s(clock: &Clock, local: LocalTime) -> i32 {
    match clock {
        Clock::Fixed(offset_s) => *offset_s,
        Clock::Civil(zone) => zone.offset_s(local.at_offset(zone.offset_s(local.at_offset(0)))),
    }
}

/// The words for two clocks that an export states and that differ in its time.
fn two_clocks(stated: &[(Clock, &str)], times_ms: &[i64]) -> Option<String> {
    let (first, who) = stated.first()?;
    let (other, other_who) = stated.iter().find(|(clock, _)| differ(first, clock, times_ms))?;
    Some(format!(
        "the export states its clock as {} by {who} and as {} by {other_who}, expected one clock",
        first.show(),
        other.show()
    ))
}

/// What a person sees of the clocks that an export states.
pub(super) fn clock_words(dialect: &Dialect) -> String {
    if dialect.times_in_utc {
        return WITH_EACH_TIME.to_owned();
    }
    let show = |(clock, who): &(super::dialect::StatedClock, &str)| match clock.clock() {
        Clock::Fixed(0) => format!("utc by {who}"),
        Clock::Fixed(offset_s) => format!("{} by {who}", show_offset(offset_s)),
        civil @ Clock::Civil(_) => format!("{} by {who}", civil.show()),
    };
    let all: Vec<String> = dialect.stated_clocks.iter().map(show).collect();
    match dialect.stated_clocks.as_slice() {
        [] => "not stated: the roster or the site says it".to_owned(),
        [(first, _), others @ ..] if others.iter().any(|(other, _)| other != first) => {
            format!("stated differently: {}", all.join(", "))
        }
        [(stated, _), ..] => format!("{}, stated in header or preamble", stated.clock().show()),
    }
}
