//! Rules about one room.

use super::records::DOUBTFUL;
use super::{About, Found, Judge, RoomCase, Rule, Severity, Verdict};
use crate::metrics::EventKind;
use crate::site::{Purpose, Room};
use crate::units::{Celsius, KelvinDiff};

/// Share of the observed hours, in %, that may lie outside the band.
///
/// EN 15251:2007, annex G accepts 3 % or 5 % of the occupied time (from memory).
const ACCEPTED_SHARE: f64 = 5.0;
/// Below this coverage, in %, a record cannot carry a verdict about a room.
const LEAST_COVERAGE: f64 = 50.0;
/// Rooms to live and sleep in that are colder than this are a serious risk for older people.
///
/// England, Housing Health and Safety Rating System, operating guidance (2006), excess cold.
const SERIOUS_COLD: Celsius = Celsius::new(16.0);

/// Hours without a break outside the band that count however long the record is, and certainly under 16 °C that are urgent.
const LASTING_H: f64 = 24.0;
const SERIOUS_H: f64 = 12.0;
/// Fewest hours that carry a verdict about a room.
const LEAST_HOURS: f64 = 24.0;

/// A room that is too cold.
pub(super) static ROOM_COLD: Rule = Rule {
    name: "room-cold",
    shows: "the record shows a room below its comfort band for more than 5 % of the observed hours, or for a day without a break; act: even with the limit moved by the sensor accuracy, and nothing makes its logger read too cold or, where the band is another by night, at the wrong time; urgent: a living room or bedroom certainly below 16 °C for one hour in twenty, or for 12 h without a break",
    could_also_be: "a window kept open, a heater turned down by choice, a door kept shut to an unheated room, or a logger on a cold outside wall, on the floor or in a draught",
    next_step: "visit the room: check where the logger stands, windows and doors, the heat pump's setting and output; if people there are old, ill or very young and without heat, treat it as urgent: call the local complaint or emergency line, and never heat with an oven or an unvented appliance (carbon monoxide)",
    source: "accepted share: EN 15251:2007, annex G (from memory); 16 °C: England, HHSRS operating guidance (2006); local code and licensed practice decide",
    needs: &["hours_below_band", "coverage", "p05", "minimum", "longest_below_band"],
    about: About::Building,
    judge: Judge::Room(cold),
};

/// A room that is too warm.
pub(super) static ROOM_OVERHEATED: Rule = Rule {
    name: "room-overheated",
    shows: "the record shows a room above its comfort band for more than 5 % of the observed hours, or for a day without a break; act: even with the limit moved by the sensor accuracy, and nothing makes its logger read too warm or, where the band is another by night, at the wrong time",
    could_also_be: "sun on the room or on the logger, a logger beside a heater, an oven or electronics, or a setting chosen by the people who live there",
    next_step: "visit the room: check where the logger stands, the heat pump's setting and where its sensor is, and whether sun reaches the logger",
    source: "accepted share: EN 15251:2007, annex G (from memory); local code and licensed practice decide",
    needs: &["hours_above_band", "coverage", "maximum", "longest_above_band"],
    about: About::Building,
    judge: Judge::Room(overheated),
};

struct Side {
    hours: &'static str,
    longest: &'static str,
    extreme: &'static str,
    word: &'static str,
    extreme_word: &'static str,
    kind: EventKind,
}

fn cold(case: &RoomCase<'_>) -> Verdict {
    let side = Side {
        hours: "hours_below_band",
        longest: "longest_below_band",
        extreme: "minimum",
        word: "below",
        extreme_word: "lowest",
        kind: EventKind::BelowBand,
    };
    let often = case.row("p05").is_some_and(|p05| Celsius::new(p05.value) + accuracy(case) < SERIOUS_COLD);
    outside(case, &side, lived_in(case.room) && (often || seriously_cold(case)))
}

fn lived_in(room: &Room) -> bool {
    matches!(room.purpose, Purpose::Living | Purpose::Bedroom)
}

/// Whether people live in cold that is a serious risk: certainly below 16 °C for half a day without a break.
pub(super) fn seriously_cold(case: &RoomCase<'_>) -> bool {
    lived_in(case.room) && case.row("longest_below_16").is_some_and(|run| run.value >= SERIOUS_H)
}

fn overheated(case: &RoomCase<'_>) -> Verdict {
    let side = Side {
        hours: "hours_above_band",
        longest: "longest_above_band",
        extreme: "maximum",
        word: "above",
        extreme_word: "highest",
        kind: EventKind::AboveBand,
    };
    outside(case, &side, false)
}

fn accuracy(case: &RoomCase<'_>) -> KelvinDiff {
    case.room.accuracy()
}

fn outside(case: &RoomCase<'_>, side: &Side, serious: bool) -> Verdict {
    let (Some(hours), Some(coverage), Some(longest), Some(extreme)) =
        (case.row(side.hours), case.row("coverage"), case.row(side.longest), case.row(side.extreme))
    else {
        return Verdict::NotJudged("the record gives no hours outside the band".to_owned());
    };
    if coverage.value < LEAST_COVERAGE {
        return Verdict::NotJudged(format!("only {:.0} % of the time has a usable value", coverage.value));
    }
    let Some(interval) = hours.interval else {
        return Verdict::NotJudged("the hours have no interval".to_owned());
    };
    if hours.hours_observed < LEAST_HOURS {
        let why = format!("{:.1} h of record are too few: a verdict needs a day", hours.hours_observed);
        return Verdict::NotJudged(why);
    }
    let limit = ACCEPTED_SHARE / 100.0 * hours.hours_observed;
    let lasting = lasting(case, side.kind);
    let doubt = doubted(case, side.kind).or_else(|| off_by_hours(case).filter(|_| limits_differ(case)));
    let severity = match () {
        () if hours.value <= limit && !lasting && !serious => return Verdict::Clear,
        () if serious => Severity::Urgent,
        () if (interval.low > limit || lasting) && doubt.is_none() => Severity::Act,
        () => Severity::Watch,
    };
    let shows = format!(
        "The record shows {} {} {} for {:.1} of {:.1} observed hours (certainly {:.1}, possibly {:.1}, with sensors good to ±{}{}); longest without a break {:.1} h, {} {}.",
        case.room.name,
        side.word,
        band_words(case, side),
        hours.value,
        hours.hours_observed,
        interval.low,
        interval.high,
        case.case.units().show_difference(accuracy(case)),
        interval.kind.lag_words(),
        longest.value,
        side.extreme_word,
        case.show(extreme.value),
    ) + &left_out(case)
        + &settle_first(doubt);
    let span = case.case.span_of(Some(&case.room.name), side.kind);
    Verdict::Found(Found {
        severity,
        span,
        observed: hours.value,
        unit: "h",
        limit,
        range: Some((interval.low, interval.high)),
        shows,
    })
}

/// Whether the room was outside its band for a day without a break, and at its worst by more than its loggers may err.
fn lasting(case: &RoomCase<'_>, kind: EventKind) -> bool {
    let mut runs = case.case.events_of(Some(&case.room.name), kind);
    runs.any(|run| run.span.hours() >= LASTING_H && (run.value - run.limit).abs() > accuracy(case).k())
}

/// What a finding says of readings that are in no number because they are doubtful: they may be the worst of all.
pub(super) fn left_out(case: &RoomCase<'_>) -> String {
    let loggers = case.case.evidence.loggers.iter().filter(|l| l.room == case.room.name);
    let doubtful = loggers.filter(|l| l.share_doubtful().is_some_and(|share| share > DOUBTFUL));
    let hours: f64 = doubtful
        .map(|l| {
            let [.., suspect, fail, _] = l.counts;
            (suspect + fail) as f64 * l.interval_s.unwrap_or(0.0) / 3600.0
        })
        .sum();
    match hours > 0.0 {
        true => format!(
            " Of its logger's whole record about {hours:.0} h are doubtful readings and in no number (sensor-suspect): look at them too."
        ),
        false => String::new(),
    }
}

/// What a finding says where a rule doubts the room's logger; nothing where none does.
pub(super) fn settle_first(doubt: Option<&str>) -> String {
    doubt.map_or(String::new(), |rule| format!(" Settle first what is wrong with its logger ({rule})."))
}

/// The rule that finds in the room's logger what alone could put readings on this side of the band: no crew is sent
/// before that is settled.
pub(super) fn doubted(case: &RoomCase<'_>, kind: EventKind) -> Option<&'static str> {
    let warm = kind == EventKind::AboveBand;
    let this_way = |k: f64| (k > 0.0) == warm;
    let loggers = case.case.evidence.loggers.iter().filter(|l| l.room == case.room.name);
    let mut rules = loggers.filter_map(|l| match l.doubts {
        d if warm && d.sun.is_some() => Some("sun-on-logger"),
        d if d.shift.is_some_and(|s| this_way(s.by_k)) => Some("sensor-shifted"),
        d if d.drift_k.is_some_and(this_way) => Some("sensor-drifts"),
        // What a heater or an oven does to a logger beside it: too warm, and up and down.
        _ if warm && l.share_quick().is_some_and(|s| s > DOUBTFUL) => Some("sensor-suspect"),
        _ => None,
    });
    rules.next()
}

/// The rule that finds the clock of the room's logger off: what depends on the time of day is wrong until that is settled.
pub(super) fn off_by_hours(case: &RoomCase<'_>) -> Option<&'static str> {
    let mut loggers = case.case.evidence.loggers.iter().filter(|l| l.room == case.room.name);
    loggers.any(|l| l.doubts.clock.is_some()).then_some("clock-suspect")
}

/// Whether the band is another by night.
fn limits_differ(case: &RoomCase<'_>) -> bool {
    let bands = &case.case.evidence.site.bands;
    bands.night.is_some_and(|night| Some(night) != bands.occupied)
}

fn band_words(case: &RoomCase<'_>, side: &Side) -> String {
    let bands = &case.case.evidence.site.bands;
    let show = |band: crate::site::Band| {
        case.case.units().show(if side.kind == EventKind::BelowBand { band.lower } else { band.upper })
    };
    match (bands.occupied.map(show), bands.night.map(show)) {
        (Some(day), Some(night)) if day != night => format!("its band ({day} by day, {night} by night)"),
        (Some(limit), _) | (None, Some(limit)) => limit,
        (None, None) => "its band".to_owned(),
    }
}
