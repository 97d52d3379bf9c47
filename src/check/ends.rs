//! What the ends of records tell: a logger that stopped, began late, or whose clock stands whole hours beside the others.
//!
//! Settled here, and why:
//! - **A clock is in doubt** where a record begins and ends the same number of whole hours before or after the others of the
//!   home (more than two thirds of them), for loggers that are started and read out together show that nowhere else; where it ends whole hours *after*
//!   them, for nothing is recorded after it was collected; and where it begins with them and ends an hour beside them with a
//!   change of daylight saving in between. Ten minutes and a sampling interval are let pass.

use super::{State, Trouble};
use crate::clock::{HOUR_MS, Span, UtcTime};
use crate::quality::LoggerRow;
use crate::site::{Placement, Site};

/// Hours before the others of its home that a record ends, from which on its logger stopped.
pub const STOPPED_H: f64 = 6.0;
/// Hours after the others of its home that a record begins, from which on it is told: as an audit does.
pub const BEGINS_LATE_H: f64 = 24.0;
/// Hours before the newest reading of the site that the record of a home ends, from which on the home is told.
pub const HOME_BEHIND_H: f64 = 24.0;

/// What a logger is called that stopped.
pub(super) const STOPPED: &str = "stopped";
/// How the words begin for a record that may only seem to end early.
pub(super) const OR_ITS_CLOCK: &str = " Or its clock is";
/// What a home is called of which nothing new is there.
pub(super) const BEHIND: &str = "nothing new";
/// What a record is called of which no day is one of the others'.
pub(super) const OTHER_TIME: &str = "another time";

/// So many loggers, and half of the home, that end within so long were read out or collected: batteries do not do that.
const LEAST_TOGETHER: usize = 3;
const ROUND_MS: i64 = 30 * 60_000;
/// Time that is let pass where ends of records are held against each other.
const TOGETHER_MS: i64 = 10 * 60_000;
/// No clock on earth is further beside another.
const MOST_H: i64 = 14;

/// From when to when a home records: from the second earliest of three records and more, else the first; to the last reading
/// that is not of a clock in doubt, or of another time altogether.
pub(super) fn of_home(site: &Site, loggers: &[LoggerRow]) -> Option<Span> {
    let mut from: Vec<UtcTime> = loggers.iter().filter_map(|l| l.first_utc).collect();
    from.sort_unstable();
    let from = *from.get(usize::from(from.len() >= 3))?;
    let believed = |row: &&LoggerRow| {
        let ahead = beside_others(site, row, loggers).is_some_and(|off| off.hours > 0);
        !ahead && !of_another_time(row, loggers)
    };
    let last = |rows: &mut dyn Iterator<Item = &LoggerRow>| rows.filter_map(|l| l.last_utc).max();
    let to = last(&mut loggers.iter().filter(believed)).or_else(|| last(&mut loggers.iter()))?;
    Some(Span { from: from.min(to), to })
}

/// Whether a record shares no time with any other of the home, though those share some.
fn of_another_time(row: &LoggerRow, loggers: &[LoggerRow]) -> bool {
    let Some(own) = row.record() else { return false };
    let others = || loggers.iter().filter(|o| !std::ptr::eq(*o, row)).filter_map(LoggerRow::record);
    let shared = others().enumerate().any(|(at, one)| others().skip(at + 1).any(|two| one.overlaps(&two)));
    shared && others().all(|other| !other.overlaps(&own))
}

/// A home that ends long before the newest reading of the site, or before it was read out.
pub(super) fn behind(
    site: &Site,
    home: &str,
    own: Option<Span>,
    (newest, read_out): (Option<UtcTime>, Option<UtcTime>),
) -> Option<Trouble> {
    let last = own?.to;
    let before = |end: Option<UtcTime>, least_h: f64, what: &str| {
        let gap = Span { from: last, to: end? };
        (gap.hours() > least_h).then(|| format!("{} before {what}", length(gap.hours())))
    };
    let seen = before(read_out, STOPPED_H, "it was read out")
        .or_else(|| before(newest, HOME_BEHIND_H, "the newest reading of the site"))?;
    Some(Trouble {
        state: State::Go,
        words: BEHIND,
        shows: format!("The record of {home} ends on {}, {seen}.", site.zone.show(last)).into(),
        to_do: "read its loggers out, if that was not done; see whether they run".to_owned(),
        bring: "cable of the logger, battery",
    })
}

/// Hours for a person: `7.5 h`, `3.2 days`.
pub(super) fn length(hours: f64) -> String {
    if hours < 48.0 { format!("{hours:.1} h") } else { format!("{:.1} days", hours / 24.0) }
}

/// What the ends of a logger's record tell; `own`: from when to when its home records.
pub(super) fn of_logger(
    site: &Site,
    (row, placement): (&LoggerRow, &Placement),
    others: &[LoggerRow],
    own: Span,
) -> Vec<Trouble> {
    let Some(record) = row.record() else { return Vec::new() };
    // Where the roster ends a placement, the record ends with it.
    let whole = placement.span.to >= own.to;
    if let Some(clock) = clock(site, row, others).filter(|_| whole) {
        return vec![clock];
    }
    if of_another_time(row, others) && placement.span.overlaps(&own) {
        return vec![another_time(site, record)];
    }
    [late(site, placement, record, own), stopped(site, (row, placement), others, (record, own))]
        .into_iter()
        .flatten()
        .collect()
}

/// A record of which no day is one of the others': nobody knows that the logger records now.
fn another_time(site: &Site, record: Span) -> Trouble {
    let (from, to) = (site.zone.show(record.from), site.zone.show(record.to));
    Trouble {
        state: State::Go,
        words: OTHER_TIME,
        shows: format!("Its record is of {from} to {to}, when no other logger of the home recorded: an old download, or a clock that was never set.").into(),
        to_do: "look for the download of this time; where this is it, set its clock, start it anew and see that it records".to_owned(),
        bring: "watch, cable of the logger",
    }
}

fn late(site: &Site, placement: &Placement, record: Span, own: Span) -> Option<Trouble> {
    let gap = Span { from: own.from.max(placement.span.from), to: record.from };
    (gap.hours() > BEGINS_LATE_H).then(|| Trouble {
        state: State::Look,
        words: "began late",
        shows: format!(
            "Its first reading is of {}, {} after those of the home: nothing is known of the time before.",
            site.zone.show(record.from),
            length(gap.hours())
        )
        .into(),
        to_do: "look for an earlier download; where it was placed later, write `from` into the roster"
            .to_owned(),
        bring: "",
    })
}

fn stopped(
    site: &Site,
    (row, placement): (&LoggerRow, &Placement),
    others: &[LoggerRow],
    (record, own): (Span, Span),
) -> Option<Trouble> {
    let gap = Span { from: record.to, to: own.to.min(placement.span.to) };
    let least = STOPPED_H.max(3.0 * row.interval_s.unwrap_or(0.0) / 3600.0);
    if gap.hours() < least {
        return None;
    }
    let with = ended_together(row, others);
    if with + 1 >= LEAST_TOGETHER && 2 * (with + 1) >= others.len() {
        return Some(Trouble {
            state: State::Look,
            words: "ended together",
            shows: format!(
                "Its last reading is of {}, with that of {with} others of the home, {} before the end of the rest.",
                site.zone.show(record.to),
                length(gap.hours())
            )
            .into(),
            to_do: "where they were read out or collected then, nothing, or write `to` into the roster; else see what they share, such as a receiver".to_owned(),
            bring: "",
        });
    }
    let whole = whole_hours(-(gap.hours() * HOUR_MS as f64) as i64, row.interval_s);
    let clock = whole.map_or(String::new(), |h| format!("{OR_ITS_CLOCK} {} h behind.", h.abs()));
    Some(Trouble {
        state: State::Go,
        words: STOPPED,
        shows: format!(
            "Its last reading is of {}, {} before the end of the others.{clock}",
            site.zone.show(record.to),
            length(gap.hours())
        )
        .into(),
        to_do: "read it out again; change its battery or the logger, clear its memory, start it and see that it records; where it was collected, write `to` into the roster".to_owned(),
        bring: "battery, logger, cable of the logger",
    })
}

/// How many others of the home end within a round of collecting of a record.
fn ended_together(row: &LoggerRow, others: &[LoggerRow]) -> usize {
    let near = |other: &LoggerRow| {
        row.last_utc.zip(other.last_utc).is_some_and(|(a, b)| (a.ms() - b.ms()).abs() <= ROUND_MS)
    };
    others.iter().filter(|other| !std::ptr::eq(*other, row) && near(other)).count()
}

/// Time that is let pass for a logger with this interval.
fn passed_ms(interval_s: Option<f64>) -> i64 {
    TOGETHER_MS + (interval_s.unwrap_or(0.0) * 1000.0) as i64
}

/// How many whole hours a difference is, where it is some.
fn whole_hours(ms: i64, interval_s: Option<f64>) -> Option<i64> {
    let hours = (ms + ms.signum() * HOUR_MS / 2) / HOUR_MS;
    let off = (ms - hours * HOUR_MS).abs();
    (hours != 0 && hours.abs() <= MOST_H && off <= passed_ms(interval_s)).then_some(hours)
}

/// Where more than two thirds of the others of the home begin, or end, within a few minutes of each other.
fn together(
    row: &LoggerRow,
    others: &[LoggerRow],
    end: fn(&LoggerRow) -> Option<UtcTime>,
) -> Option<UtcTime> {
    let mut ends: Vec<UtcTime> = others.iter().filter(|o| !std::ptr::eq(*o, row)).filter_map(end).collect();
    ends.sort_unstable();
    let middle = *ends.get(ends.len() / 2).filter(|_| ends.len() >= 2)?;
    let passed = passed_ms(row.interval_s);
    let near = ends.iter().filter(|t| (t.ms() - middle.ms()).abs() <= passed).count();
    // Where a home has two camps nobody knows which clocks are right.
    (3 * near > 2 * ends.len()).then_some(middle)
}

/// A record that stands whole hours beside the others of its home.
struct Off {
    hours: i64,
    seen: String,
}

fn beside_others(site: &Site, row: &LoggerRow, others: &[LoggerRow]) -> Option<Off> {
    let record = row.record()?;
    let off = |own: UtcTime, at: Option<UtcTime>| at.map(|at| own.ms() - at.ms());
    let ends = off(record.to, together(row, others, |l| l.last_utc))?;
    let begins = off(record.from, together(row, others, |l| l.first_utc));
    let hours = whole_hours(ends, row.interval_s)?;
    let begin_h = begins.and_then(|ms| whole_hours(ms, row.interval_s));
    let begins_with = begins.is_some_and(|ms| ms.abs() <= TOGETHER_MS);
    let changes = site.zone.offset_s(record.from) != site.zone.offset_s(record.to);
    let seen = match () {
        () if begin_h == Some(hours) => format!("begins and ends {}", beside(hours)),
        () if hours.abs() == 1 && begins_with && changes => format!(
            "begins with the others and ends {}, and the clocks changed in between: one kept its time and the others followed, or the other way round",
            beside(hours)
        ),
        () if hours > 0 => format!("ends {}, and nothing records after it was collected", beside(hours)),
        () => return None,
    };
    Some(Off { hours, seen })
}

/// A clock that stands whole hours beside the others.
fn clock(site: &Site, row: &LoggerRow, others: &[LoggerRow]) -> Option<Trouble> {
    let Off { seen, .. } = beside_others(site, row, others)?;
    Some(Trouble {
        state: State::Go,
        words: "clock in doubt",
        shows: format!("Its record {seen}.").into(),
        to_do: "compare its clock with a watch before it is read out again; write what it is into `clock` of the roster (civil, utc, fixed -06:00)".to_owned(),
        bring: "watch, cable of the logger",
    })
}

fn beside(hours: i64) -> String {
    let way = if hours > 0 { "after" } else { "before" };
    format!("{} h {way} the others of the home", hours.abs())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn whole_hours_are_known_and_nothing_else() {
        let minutes = |m: i64| whole_hours(m * 60_000, Some(300.0));
        assert_eq!(minutes(0), None);
        assert_eq!(minutes(61), Some(1));
        assert_eq!(minutes(-368), Some(-6));
        assert_eq!(minutes(90), None);
        assert_eq!(minutes(20 * 60), None, "no clock is so far off");
    }
}
