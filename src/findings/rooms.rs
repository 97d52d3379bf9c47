//! Rules about one room.
//!
//! Settled here, and why:
//! - **A record of any length**: a share of the hours hides two days without heat in a season. Days count on their own:
//!   those on which the room is certainly below the band for 12 h (a night band, or a hole in the record, ends no day;
//!   one is to watch, two in a row to act), and 12 h certainly below 16 °C where people live (holes of up to 2 h and up
//!   to 30 min too close to call end no such time and are not counted in it; 16 °C or more ends it). "Urgent: go today"
//!   is said only of cold that lasted to the last day of the room's record, in its last period, and for which no logger
//!   is doubted. Heat gets no such rule: one hot day would send the crew to every home.

use super::boxes::elsewhere_then;
use super::coarse::beside_hours;
use super::enough::{clear_in_room, clear_within_band};
use super::hours::range_words;
use super::loggers::QUICK;
use super::{About, Found, HomeCase, Judge, RoomCase, Rule, Severity, Verdict, unit};
use crate::metrics::{self, EventKind, Interval, Metric, MetricRow, SERIOUS_COLD, SERIOUS_COLD_H};
use crate::quality::LoggerRow;
use crate::quality::colocation::Checked;
use crate::quality::episodes::Seen;
use crate::site::{Purpose, Room};
use crate::units::{Celsius, KelvinDiff};

/// Share of the observed hours, in %, that may lie outside the band.
///
/// EN 15251:2007, annex G accepts 3 % or 5 % of the occupied time (from memory).
const ACCEPTED_SHARE: f64 = 5.0;
/// Below this coverage, in %, a record cannot carry a verdict about a room.
const LEAST_COVERAGE: f64 = 50.0;
/// Days in a row below the band from which somebody must act, however long the record is.
const COLD_DAYS: f64 = 2.0;
/// Hours that make a day below the band.
const DAY_COUNTED_H: f64 = 12.0;
/// Hours from the last serious cold to the end of a room's record after which it is over.
const OVER_H: f64 = 24.0;
/// Share of a logger's readings, in %, from which it is said that some were left out.
const LEFT_OUT: f64 = 1.0;
/// Fewest hours that carry a verdict about a room.
const LEAST_HOURS: f64 = 24.0;

/// A room that is too cold.
pub(super) static ROOM_COLD: Rule = Rule {
    name: "room-cold",
    shows: "the record shows a room below its comfort band for more than 5 % of the observed hours, or on a local day for 12 h even with the sensor accuracy added; act: for more than 5 % even with the limit moved by the sensor accuracy, or on two such days in a row, and nothing makes its logger read too cold or, where the band is another by night, at the wrong time; a living room or bedroom certainly below 16 °C for one hour in twenty, or for 12 h, band or not; urgent: where that lasted to the last day of the room's record",
    could_also_be: "a window kept open, a heater turned down by choice, a door kept shut to an unheated room, or a logger on a cold outside wall, on the floor or in a draught",
    next_step: "visit the room: check where the logger stands, windows and doors, the heating's setting and output; if people there are old, ill or very young and without heat, treat it as urgent: call the local complaint or emergency line, and never heat with an oven or an unvented appliance (carbon monoxide)",
    source: "accepted share: EN 15251:2007, annex G (from memory); 16 °C: England, HHSRS operating guidance (2006); local code and licensed practice decide",
    needs: &[],
    looks_at: &[
        &metrics::HOURS_BELOW_BAND,
        &metrics::LONGEST_BELOW_BAND,
        &metrics::DAYS_BELOW_BAND,
        &metrics::LONGEST_BELOW_16,
        &metrics::SINCE_BELOW_16,
        &metrics::MINIMUM,
        &metrics::P05,
        &metrics::MEAN,
        &metrics::COVERAGE,
        &metrics::MEDIAN,
        &metrics::P95,
    ],
    about: About::Building,
    judge: Judge::Room(cold),
};

/// A room that is too warm.
pub(super) static ROOM_OVERHEATED: Rule = Rule {
    name: "room-overheated",
    shows: "the record shows a room above its comfort band for more than 5 % of the observed hours; act: even with the limit moved by the sensor accuracy, and nothing makes its logger read too warm or, where the band is another by night, at the wrong time",
    could_also_be: "sun on the room or on the logger, a logger beside a heater, an oven or electronics, or a setting chosen by the people who live there",
    next_step: "visit the room: check where the logger stands, the heating's setting and where its sensor is, and whether sun reaches the logger",
    source: "accepted share: EN 15251:2007, annex G (from memory); local code and licensed practice decide",
    needs: &[],
    looks_at: &[
        &metrics::HOURS_ABOVE_BAND,
        &metrics::LONGEST_ABOVE_BAND,
        &metrics::MAXIMUM,
        &metrics::P95,
        &metrics::COVERAGE,
        &metrics::P05,
        &metrics::MEDIAN,
    ],
    about: About::Building,
    judge: Judge::Room(overheated),
};

/// What to do next where a room has no heating of its own, by rule; `None`: as for any room.
pub(super) fn next_step_unheated(rule: &str) -> Option<&'static str> {
    match rule {
        "room-cold" => Some(
            "visit the room: check where the logger stands, whether a window is open, and whether air from the heated rooms reaches it with its door as people keep it; it has no heating of its own, and needs some where that air is not enough; if people there are old, ill or very young and without heat, treat it as urgent: call the local complaint or emergency line, and never heat with an oven or an unvented appliance (carbon monoxide)",
        ),
        "room-overheated" => Some(
            "visit the room: check where the logger stands and whether sun reaches it or the room; the room has no heating of its own: look for an oven, a pipe or a boiler there, and at what the heated rooms beside it are set to",
        ),
        _ => None,
    }
}

/// Why a rule that asks for it cannot judge a room of which nobody said whether it is heated.
pub(super) const HEATING_UNKNOWN: &str =
    "whether it has heating of its own is unknown (`heated` in the roster)";

struct Side {
    hours: &'static Metric,
    longest: &'static Metric,
    extreme: &'static Metric,
    word: &'static str,
    extreme_word: &'static str,
    kind: EventKind,
}

fn cold(case: &RoomCase<'_>) -> Verdict {
    let side = Side {
        hours: &metrics::HOURS_BELOW_BAND,
        longest: &metrics::LONGEST_BELOW_BAND,
        extreme: &metrics::MINIMUM,
        word: "below",
        extreme_word: "lowest",
        kind: EventKind::BelowBand,
    };
    let serious = serious_cold(case);
    if case.case.evidence.site.bands.any() {
        return outside(case, &side, serious);
    }
    // Without a band nobody asked, but for the health of those who live there.
    let nobody_asks = || if lived_in(case.room) { clear_in_room(case) } else { Verdict::NotAsked };
    let Some(serious) = serious else { return nobody_asks() };
    let span = case.case.span_of(Some(&case.room.name), EventKind::SeriousCold);
    let (observed, unit, limit) = serious.observed(case);
    let doubt = doubted(case, side.kind).or_else(|| elsewhere(case, &side));
    let certainly = if doubt.is_some() { "" } else { "certainly " };
    Verdict::Found(Found {
        severity: serious.severity(doubt),
        span,
        observed,
        unit,
        limit,
        range: None,
        shows: format!("The record shows {} {certainly}{}", case.room.name, serious.words(case))
            + &left_out(case)
            + &settle_first(doubt),
        doubt,
    })
}

/// Cold that is a serious risk to those who live in a room.
pub(super) struct SeriousCold {
    /// Longest time certainly below 16 °C.
    hours: f64,
    /// From the last such cold to the end of the room's record.
    since_h: f64,
    /// Whether a later period has values of the room.
    earlier: bool,
}

impl SeriousCold {
    /// Nobody is told to hurry for what is over, nor sent for what a logger alone may show.
    pub(super) fn severity(&self, doubt: Option<&str>) -> Severity {
        match doubt {
            Some(_) => Severity::Watch,
            None if self.since_h <= OVER_H && !self.earlier => Severity::Urgent,
            None => Severity::Act,
        }
    }

    fn words(&self, case: &RoomCase<'_>) -> String {
        let sixteen = case.case.units().show(SERIOUS_COLD);
        format!(
            "below {sixteen} for up to {:.1} h at a time, for the last time {:.1} h before the end of its record in this period.",
            self.hours, self.since_h
        )
    }

    /// The number that decided, with unit and limit.
    fn observed(&self, case: &RoomCase<'_>) -> (f64, &'static str, f64) {
        match case.row(&metrics::P05) {
            Some(p05) if self.hours < SERIOUS_COLD_H => (p05.value, "°C", SERIOUS_COLD.degc()),
            _ => (self.hours, "h", SERIOUS_COLD_H),
        }
    }
}

/// Certainly below 16 °C for half a day, or one hour in twenty, in a room that people live or sleep in.
pub(super) fn serious_cold(case: &RoomCase<'_>) -> Option<SeriousCold> {
    let hours = case.row(&metrics::LONGEST_BELOW_16).filter(|_| lived_in(case.room))?.value;
    let since_h = case.row(&metrics::SINCE_BELOW_16)?.value;
    let often =
        case.row(&metrics::P05).is_some_and(|p05| Celsius::new(p05.value) + accuracy(case) < SERIOUS_COLD);
    let periods = &case.case.evidence.site.periods;
    let own = case.case.span();
    let later = periods.iter().filter(|p| own.is_some_and(|own| own.to <= p.span.from));
    let mut later =
        later.map(|p| RoomCase { case: HomeCase { period: &p.name, ..case.case }, room: case.room });
    let earlier = later.any(|case| case.row(&metrics::MEAN).is_some());
    (hours >= SERIOUS_COLD_H || often).then_some(SeriousCold { hours, since_h, earlier })
}

fn lived_in(room: &Room) -> bool {
    matches!(room.purpose, Purpose::Living | Purpose::Bedroom)
}

fn overheated(case: &RoomCase<'_>) -> Verdict {
    let side = Side {
        hours: &metrics::HOURS_ABOVE_BAND,
        longest: &metrics::LONGEST_ABOVE_BAND,
        extreme: &metrics::MAXIMUM,
        word: "above",
        extreme_word: "highest",
        kind: EventKind::AboveBand,
    };
    if case.case.evidence.site.bands.any() { outside(case, &side, None) } else { Verdict::NotAsked }
}

fn accuracy(case: &RoomCase<'_>) -> KelvinDiff {
    case.room.accuracy()
}

/// A day; of a shorter period half.
pub(super) fn least_hours(case: &HomeCase<'_>) -> f64 {
    case.span().map_or(LEAST_HOURS, |span| (span.hours() / 2.0).min(LEAST_HOURS))
}

fn outside(case: &RoomCase<'_>, side: &Side, serious: Option<SeriousCold>) -> Verdict {
    let (Some(hours), Some(coverage), Some(longest), Some(extreme)) =
        (case.row(side.hours), case.row(&metrics::COVERAGE), case.row(side.longest), case.row(side.extreme))
    else {
        return Verdict::NotJudged("the record has no usable value".to_owned());
    };
    if coverage.value < LEAST_COVERAGE && serious.is_none() {
        return Verdict::NotJudged(format!("only {:.0} % of the time has a usable value", coverage.value));
    }
    let Some(interval) = hours.interval else {
        return Verdict::NotJudged("the hours have no interval".to_owned());
    };
    if hours.hours_observed < least_hours(&case.case) && serious.is_none() {
        let why = format!("{:.1} h of record are too few for a verdict", hours.hours_observed);
        return Verdict::NotJudged(why);
    }
    let limit = ACCEPTED_SHARE / 100.0 * hours.hours_observed;
    let days = match side.kind {
        EventKind::BelowBand => case.row(&metrics::DAYS_BELOW_BAND).map_or(0.0, |row| row.value),
        _ => 0.0,
    };
    let doubt = doubted(case, side.kind)
        .or_else(|| elsewhere(case, side))
        .or_else(|| off_by_hours(case).filter(|_| depends_on_the_hour(case, side)));
    let severity = match &serious {
        None if hours.value <= limit && days == 0.0 => return clear_within_band(case),
        Some(serious) => serious.severity(doubt),
        None if (interval.low > limit || days >= COLD_DAYS) && doubt.is_none() => Severity::Act,
        None => Severity::Watch,
    };
    let seen = Outside { side, hours, interval, longest, extreme, days, serious: serious.as_ref(), doubt };
    let shows = seen.sentence(case)
        + &beside_hours(case.loggers(), case.case.evidence.site)
        + &left_out(case)
        + &settle_first(doubt);
    let span = case.case.span_of(Some(&case.room.name), side.kind);
    // The number that decided, with its limit.
    let often = hours.value > limit;
    let (observed, unit, limit) = match &serious {
        _ if often => (hours.value, "h", limit),
        Some(serious) => serious.observed(case),
        None => (days, "1", 0.0),
    };
    let range = often.then_some((interval.low, interval.high));
    Verdict::Found(Found { severity, span, observed, unit, limit, range, shows, doubt })
}

/// What was seen of a room outside of its band.
struct Outside<'a> {
    side: &'a Side,
    hours: &'a MetricRow,
    interval: Interval,
    longest: &'a MetricRow,
    extreme: &'a MetricRow,
    /// Days in a row below the band.
    days: f64,
    serious: Option<&'a SeriousCold>,
    doubt: Option<&'static str>,
}

impl Outside<'_> {
    fn sentence(&self, case: &RoomCase<'_>) -> String {
        let Self { side, hours, interval, longest, extreme, days, serious, doubt } = *self;
        // What rests on readings that are counted both ways, or on a doubted logger, is not called certain in the same breath.
        let most = serious.map_or(0.0, |s| s.hours).max(DAY_COUNTED_H * days);
        let counted_both_ways = interval.low < most;
        let certainly = if doubt.is_some() || counted_both_ways { "" } else { "certainly " };
        let range = match counted_both_ways {
            true => range_words(hours.value, (interval.low, interval.high)),
            false => format!("certainly {:.1}, possibly {:.1}", interval.low, interval.high),
        };
        let in_a_row = if days > 1.0 { format!("{days:.0} days in a row") } else { "a day".to_owned() };
        format!(
            "The record shows {} {} {} for {:.1} of {:.1} observed hours ({range}, with sensors good to ±{}{}){}; longest without a break {:.1} h, {} {}.{}",
            case.room.name,
            side.word,
            band_words(case, side),
            hours.value,
            hours.hours_observed,
            case.case.units().show_difference(accuracy(case)),
            interval.kind.lag_words(),
            if days > 0.0 { format!(", {certainly}for 12 h or more on {in_a_row}") } else { String::new() },
            longest.value,
            side.extreme_word,
            case.show(extreme.value),
            serious.map_or(String::new(), |serious| format!(" It was {certainly}{}", serious.words(case))),
        )
    }
}

/// The rule that tells of a box or of another place, where the logger was there for most of the time that looks cold.
fn elsewhere(case: &RoomCase<'_>, side: &Side) -> Option<&'static str> {
    if side.kind != EventKind::BelowBand {
        return None;
    }
    let room = Some(case.room.name.as_str());
    let (mut hours, mut away_h, mut told) = (0.0, 0.0, None);
    for event in case.case.events_of(room, side.kind) {
        let rule = elsewhere_then(&case.case.evidence, room, event.span);
        hours += event.span.hours();
        away_h += if rule.is_some() { event.span.hours() } else { 0.0 };
        told = told.or(rule);
    }
    told.filter(|_| away_h > hours / 2.0)
}

/// Whether another clock could change the verdict: the band is another by night, and the room is not for more than one
/// hour in twenty surely outside all of its limits.
fn depends_on_the_hour(case: &RoomCase<'_>, side: &Side) -> bool {
    let bands = &case.case.evidence.site.bands;
    let (Some(day), Some(night)) = (bands.occupied, bands.night) else { return false };
    let (u, value) = (accuracy(case).k(), |id| case.row(id).map(|row| row.value));
    let outside_all = match side.kind {
        EventKind::BelowBand => {
            value(&metrics::P05).is_some_and(|p05| p05 + u < day.lower.degc().min(night.lower.degc()))
        }
        _ => value(&metrics::P95).is_some_and(|p95| p95 - u > day.upper.degc().max(night.upper.degc())),
    };
    day != night && !outside_all
}

/// What a finding says of the hours without a value, where readings were left out: they may be the worst.
pub(super) fn left_out(case: &RoomCase<'_>) -> String {
    let mut loggers = case.loggers();
    let some = loggers.any(|l| l.share_left_out().is_some_and(|share| share > LEFT_OUT));
    let coverage = case.row(&metrics::COVERAGE).filter(|c| some && c.value > 0.0);
    let hours = coverage.map_or(0.0, |c| c.hours_observed * (100.0 / c.value - 1.0));
    match hours >= 1.0 {
        true => format!(
            " For {hours:.0} h more of the period nothing is known of {}: its logger recorded nothing usable, or readings that are not the air of the room and were left out (see the findings about its logger). They count neither for nor against the room, and may have been worse.",
            case.room.name
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
    let warm = || case.loggers().find_map(warmed).filter(|_| kind == EventKind::AboveBand);
    level_doubted(case, kind).or_else(warm)
}

/// What moves a level by less, K, lies within what a finding to act on leaves for the accuracy of its logger, twice.
const LEVEL_K: f64 = 1.0;

/// What moves a level by less, K, makes no room look without heat.
const USUAL_K: f64 = 2.0;
/// What lasts for longer, in hours, is made by nothing that is warm at some hours of the day.
const DAY_H: f64 = 24.0;

/// The rule that finds in the room's logger what makes its usual level too warm, so that other times look colder than usual, the
/// longest of them for so many hours: sun or heat on it at some hours, or a level that moved up or down for good.
pub(super) fn usual_doubted(case: &RoomCase<'_>, longest_h: f64) -> Option<&'static str> {
    let moved = |l: &LoggerRow| l.doubts.shift.is_some_and(|s| s.by_k.abs() >= USUAL_K);
    let rule = |l: &LoggerRow| {
        let warmed = warmed(l).filter(|_| longest_h < DAY_H);
        warmed.or_else(|| moved(l).then_some("sensor-shifted"))
    };
    case.loggers().find_map(rule)
}

/// The rule that finds something warm beside a logger at some times.
fn warmed(logger: &LoggerRow) -> Option<&'static str> {
    match logger.doubts {
        d if d.sun.is_some() => Some("sun-on-logger"),
        // What a heater or an oven does to a logger beside it: too warm, and up and down.
        d if d.heat.is_some() || d.restless.is_some() || logger.share_quick().is_some_and(|s| s > QUICK) => {
            Some("heat-on-logger")
        }
        _ => None,
    }
}

/// The rule that finds the room's logger moved to this side of the truth for good, so that its means are wrong too.
pub(super) fn level_doubted(case: &RoomCase<'_>, kind: EventKind) -> Option<&'static str> {
    let this_way = |k: f64| (k > 0.0) == (kind == EventKind::AboveBand);
    let elsewhere = |l: &LoggerRow| {
        l.episodes.iter().any(|e| match e.seen {
            Seen::Away { .. } | Seen::Brought { .. } => kind != EventKind::AboveBand,
            Seen::Unsettled { .. } => true,
            _ => false,
        })
    };
    if kind != EventKind::AboveBand && unit::in_doubt(case) {
        return Some(unit::RULE);
    }
    let mut loggers = case.loggers();
    let far_off = |l: &LoggerRow| match l.checked {
        Some(Checked::FarOff { offset, .. }) => this_way(offset.k()),
        _ => false,
    };
    loggers.find_map(|l| match l.doubts {
        _ if far_off(l) => Some("side-by-side-offset"),
        _ if elsewhere(l) => Some("logger-elsewhere"),
        _ if l.moved.is_some_and(|it| it.exchanged) => Some("loggers-exchanged"),
        _ if l.moved.is_some() => Some("logger-moved"),
        d if d.shift.is_some_and(|s| this_way(s.by_k) && s.by_k.abs() >= LEVEL_K) => Some("sensor-shifted"),
        d if d.drift_k.is_some_and(|k| this_way(k) && k.abs() >= LEVEL_K) => Some("sensor-drifts"),
        _ => None,
    })
}

/// The rule that finds the clock of the room's logger off: what depends on the time of day is wrong until that is settled.
pub(super) fn off_by_hours(case: &RoomCase<'_>) -> Option<&'static str> {
    let mut loggers = case.loggers();
    loggers.any(|l| l.doubts.clock.is_some()).then_some("clock-suspect")
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
