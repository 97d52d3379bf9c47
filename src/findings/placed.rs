//! Rules about loggers that stand in the room of another: told from what the rooms are like, with the lines that put it right.

use super::{About, Evidence, Found, Judge, Rule, Severity, Verdict};
use crate::clock::{HOUR_MS, Span, UtcTime, parse_offset_s};
use crate::quality::peer_check::LateIn;
use crate::quality::{LoggerRow, Moved};
use crate::site::{ClockSetting, Site};

/// Two loggers that were exchanged.
pub(super) static LOGGERS_EXCHANGED: Rule = Rule {
    name: "loggers-exchanged",
    shows: "from some day on two loggers of a home each carry on what the other's room was like before (its distance to the other rooms at each time of day, and how restless it is): exchanging them from that day lowers the day-to-day residual by 4 or more, in units of the home's own scatter over the root of the days, explains half of what any change of the two rooms could, and both jump at one moment against each other",
    could_also_be: "two rooms that changed their use with each other that day",
    next_step: "look at the labels of both loggers; if they were exchanged, give each of them two rows in the roster, as told",
    source: "own definition",
    needs: &[],
    looks_at: &[],
    about: About::Record,
    judge: Judge::Logger(exchanged),
};

/// A logger that was put into the room of another.
pub(super) static LOGGER_MOVED: Rule = Rule {
    name: "logger-moved",
    shows: "from some day on two loggers of a home show the same air: the distance between them, which moved all day before, stands still (from over 0.2 K to less than 0.15 K and half as much, unlike the distances between other rooms)",
    could_also_be: "a door between two small rooms that stands wide open from that day on",
    next_step: "look where both loggers stand; if one was moved, end its row in the roster at that moment",
    source: "own definition",
    needs: &[],
    looks_at: &[],
    about: About::Record,
    judge: Judge::Logger(moved),
};

fn exchanged(logger: &LoggerRow, evidence: &Evidence<'_>) -> Verdict {
    told(logger, evidence, true)
}

fn moved(logger: &LoggerRow, evidence: &Evidence<'_>) -> Verdict {
    told(logger, evidence, false)
}

fn told(logger: &LoggerRow, evidence: &Evidence<'_>, exchanged: bool) -> Verdict {
    let Some(Moved { span, room, .. }) = logger.moved.filter(|it| it.exchanged == exchanged) else {
        return Verdict::Clear;
    };
    let zone = evidence.site.zone;
    let (since, room) = (zone.show(span.from), &evidence.home.rooms[room].name);
    let shows = match exchanged {
        true => format!(
            "From about {since} on logger {} shows what {room} was like before, and the logger of {room} what {} was like: as if they had been exchanged. In the roster, if so: {} with to = {since}, and a row for {room} with from = {since}.",
            logger.logger, logger.room, logger.room,
        ),
        false => format!(
            "From about {since} on logger {} of {} shows the same air as the logger of {room}: as if it stood there. In the roster, if so: to = {since}.",
            logger.logger, logger.room,
        ),
    };
    Verdict::Found(Found { span: Some(span), unit: "1", ..Found::new(Severity::Watch, 1.0, shows) })
}

/// Offsets that a clock on earth can have, s.
const OFFSETS_S: std::ops::RangeInclusive<i64> = -12 * 3600..=14 * 3600;

/// The clock with which a record that is late by some hours would be right, and the part of it that would; `None` where the export
/// states its clock itself, or daylight saving changes meanwhile.
pub(super) fn clock_of(logger: &LoggerRow, site: &Site, hours: f64) -> Option<(ClockSetting, Span)> {
    let record = logger.record()?;
    let at = |t: UtcTime| match logger.clock.as_str() {
        "utc" => Some(0),
        civil if civil.starts_with("civil") => Some(site.zone.offset_s(t)),
        fixed => parse_offset_s(fixed.strip_prefix("fixed ")?),
    };
    let (first, last) = (at(record.from)?, at(record.to)?);
    let offset_s = i64::from(first) + (hours * HOUR_MS as f64 / 1000.0) as i64;
    if first != last || !OFFSETS_S.contains(&offset_s) {
        return None;
    }
    let part = match (logger.doubts.clock?.part, logger.late_in) {
        (LateIn::From(_), Some(off)) => Span { from: off.from, ..Span::ALWAYS },
        (LateIn::Until(_), Some(off)) => Span { to: off.to, ..Span::ALWAYS },
        _ => Span::ALWAYS,
    };
    Some((ClockSetting::Fixed(i32::try_from(offset_s).ok()?), part))
}

/// The same as a line to paste into the roster.
pub(super) fn clock_line(logger: &LoggerRow, site: &Site, hours: f64) -> Option<String> {
    let (clock, part) = clock_of(logger, site, hours)?;
    let part = match part {
        Span { from, .. } if from != Span::ALWAYS.from => {
            format!(" in a row of its own with from = {}", site.zone.show(from))
        }
        Span { to, .. } if to != Span::ALWAYS.to => {
            format!(" in a row of its own with to = {}", site.zone.show(to))
        }
        _ => String::new(),
    };
    Some(format!(" In the roster, if so: clock = {}{part}.", clock.show()))
}
