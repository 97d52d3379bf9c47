//! Rules about rooms near freezing, and rooms that are very hot.

use super::enough::clear_in_room;
use super::hours::range_words;
use super::rooms::{doubted, settle_first};
use super::{About, Found, Judge, RoomCase, Rule, Severity, Verdict, show_span};
use crate::clock::Span;
use crate::metrics::{self, EventKind, Metric, NEAR_FREEZING as FREEZING, VERY_HOT as HOT};
use crate::quality::episodes::Seen;
use crate::site::Purpose;

/// Hours from the last such value to the end of a room's record after which it is over.
const OVER_H: f64 = 24.0;
/// Hours that are worth a word.
const LEAST_H: f64 = 1.0;

/// A room in which pipes may freeze.
pub(super) static NEAR_FREEZING: Rule = Rule {
    name: "near-freezing",
    shows: "the record shows a room at 5 °C or less for an hour or more; urgent: where people live or pipes run (living room, bedroom, kitchen, bathroom), and it lasts to the last day of the room's record; else act",
    could_also_be: "a logger in a draught, at an open window or outdoors, a refrigerator, or a room that is meant to be cold",
    next_step: "go there today: look for frozen or burst pipes before water is turned on, keep the heat on, open cupboards before pipes on outside walls, and find out why there is no heat; people who are old, ill or very young must not stay in such cold: call the local emergency line; never heat with an oven or an unvented appliance (carbon monoxide); local code and licensed practice decide",
    source: "5 °C: common practice, no published source",
    needs: &[],
    looks_at: &[
        &metrics::HOURS_NEAR_FREEZING,
        &metrics::MINIMUM,
        &metrics::COVERAGE,
        &metrics::P05,
        &metrics::MEDIAN,
        &metrics::P95,
    ],
    about: About::Building,
    judge: Judge::Room(freezing),
};

/// A room that is a danger by heat.
pub(super) static VERY_HOT: Rule = Rule {
    name: "very-hot",
    shows: "the record shows a room at 35 °C or more for an hour or more; act: a room that people live or sleep in; else watch",
    could_also_be: "sun on the logger, a logger beside a heater, in a cupboard with a boiler or on an appliance, or readings in °F that were taken for °C",
    next_step: "see where the logger stands; where the room itself is so hot, people who are old, ill or very young must not stay in it: shade, air and cool it, and look for heat that cannot be turned off",
    source: "35 °C: common practice, no published source",
    needs: &[],
    looks_at: &[
        &metrics::HOURS_VERY_HOT,
        &metrics::MAXIMUM,
        &metrics::COVERAGE,
        &metrics::P05,
        &metrics::MEDIAN,
        &metrics::P95,
    ],
    about: About::Building,
    judge: Judge::Room(hot),
};

fn freezing(case: &RoomCase<'_>) -> Verdict {
    let people_or_pipes = !matches!(case.room.purpose, Purpose::Hall | Purpose::Other);
    let worst = match people_or_pipes && goes_on(case, EventKind::NearFreezing) {
        true => Severity::Urgent,
        false => Severity::Act,
    };
    extreme(case, &metrics::HOURS_NEAR_FREEZING, EventKind::NearFreezing, worst)
}

fn hot(case: &RoomCase<'_>) -> Verdict {
    let lived_in = matches!(case.room.purpose, Purpose::Living | Purpose::Bedroom);
    let worst = if lived_in { Severity::Act } else { Severity::Watch };
    extreme(case, &metrics::HOURS_VERY_HOT, EventKind::VeryHot, worst)
}

/// Whether it was so for [`LEAST_H`] in the last day of the room's record, and no later period has more of the room: a window
/// that is opened on that day makes nothing urgent of a cold spell weeks ago.
fn goes_on(case: &RoomCase<'_>, kind: EventKind) -> bool {
    let events = || case.case.events_of(Some(&case.room.name), kind).map(|e| e.span);
    let end = case.loggers().filter_map(|l| l.last_utc).max();
    let end = end.or_else(|| case.case.evidence.span_of(case.case.period).map(|span| span.to));
    let Some(end) = end.or_else(|| events().map(|span| span.to).max()) else { return false };
    let late = events().filter(|span| Span { from: span.to, to: end }.hours() <= OVER_H);
    late.map(|span| span.hours()).sum::<f64>() >= LEAST_H
}

fn extreme(case: &RoomCase<'_>, metric: &Metric, kind: EventKind, worst: Severity) -> Verdict {
    let Some(hours) = case.row(metric).filter(|hours| hours.value >= LEAST_H) else {
        return clear_in_room(case);
    };
    let cold = kind == EventKind::NearFreezing;
    let (limit, word, end, extreme) = if cold {
        (FREEZING, "or less", "lowest", case.row(&metrics::MINIMUM))
    } else {
        (HOT, "or more", "highest", case.row(&metrics::MAXIMUM))
    };
    let side = if cold { EventKind::BelowBand } else { EventKind::AboveBand };
    let doubt = doubted(case, side).or_else(|| outdoors_beside(case, kind));
    let apart = cold && alone_in_the_cold(case);
    let severity = match doubt {
        // Danger is looked at even where a logger may be wrong, but nobody is told that it is sure.
        Some(rule) if cold && rule != ELSEWHERE => worst.max(Severity::Act),
        Some(_) => Severity::Watch,
        None if apart => worst.max(Severity::Act),
        None => worst,
    };
    let range = hours.interval.map(|i| (i.low, i.high));
    let span = case.case.span_of(Some(&case.room.name), kind);
    let shows = format!(
        "The record shows {} at {} {word} for {:.1} of {:.1} observed hours{}{}, {end} {}.{}",
        case.room.name,
        case.show(limit.degc()),
        hours.value,
        hours.hours_observed,
        range.map_or(String::new(), |range| format!(" ({})", range_words(hours.value, range))),
        span.map_or(String::new(), |span| format!(
            ", between {}",
            show_span(span, case.case.evidence.site.zone).replace(" to ", " and ")
        )),
        extreme.map_or("unknown".to_owned(), |row| case.show(row.value)),
        speaks_for(case, cold),
    ) + if apart { FAR_WARMER } else { "" }
        + &settle_first(doubt);
    let found = Found::new(severity, hours.value, shows);
    Verdict::Found(Found { span, unit: "h", limit: 0.0, range, doubt, ..found })
}

/// What begins so soon after the first reading was there before.
const FIRST_MS: i64 = 3_600_000;
const ELSEWHERE: &str = "logger-elsewhere";
const FAR_WARMER: &str =
    " They stay far warmer: it could also be a logger outdoors, at an open window or in a refrigerator.";
/// Other rooms that are never within so many K of the lowest reading do not bear it out where it came by a jump.
const FAR_K: f64 = 8.0;
/// How long before and after a time outdoors a logger may still be cold from it.
const COLD_FROM_MS: i64 = 6 * 3_600_000;

/// A logger that came in from outdoors just before, or went there just after, each of the times.
fn outdoors_beside(case: &RoomCase<'_>, kind: EventKind) -> Option<&'static str> {
    let times: Vec<Span> = case
        .loggers()
        .flat_map(|l| &l.episodes)
        .filter(|e| matches!(e.seen, Seen::Outdoors { .. }))
        .map(|e| e.span.widened(COLD_FROM_MS))
        .collect();
    let mut events = case.case.events_of(Some(&case.room.name), kind);
    let all = !times.is_empty() && events.all(|e| times.iter().any(|time| time.overlaps(&e.span)));
    all.then_some(ELSEWHERE)
}

/// Whether the room is cold by quick changes while each other room stays far warmer.
fn alone_in_the_cold(case: &RoomCase<'_>) -> bool {
    let quick = case.loggers().any(|l| l.share_quick().is_some_and(|share| share > 0.0));
    let Some(lowest) = case.row(&metrics::MINIMUM).map(|row| row.value) else { return false };
    let others = case.case.evidence.home.rooms.iter().filter(|room| room.name != case.room.name);
    let others: Vec<f64> = others
        .filter_map(|room| case.case.row(Some(&room.name), &metrics::MINIMUM))
        .map(|row| row.value - lowest)
        .collect();
    quick && !others.is_empty() && others.iter().all(|k| *k > FAR_K)
}

/// What speaks for the readings, or against them: how they got there, and the other rooms.
fn speaks_for(case: &RoomCase<'_>, cold: bool) -> String {
    let quick = case.loggers().filter_map(|l| l.share_quick()).fold(0.0, f64::max);
    let kind = if cold { EventKind::NearFreezing } else { EventKind::VeryHot };
    let since = case.case.span_of(Some(&case.room.name), kind).map(|span| span.from);
    let begins = case.loggers().filter_map(|l| l.first_utc).min();
    let from_the_first = since.zip(begins).is_some_and(|(since, first)| since <= first.plus_ms(FIRST_MS));
    let way = match quick {
        _ if from_the_first => " It was so from the first reading on.".to_owned(),
        q if q > 0.0 => format!(" {q:.1} % of its readings change quickly."),
        _ if case.loggers().next().is_some() => " It went there without a jump.".to_owned(),
        _ => String::new(),
    };
    let id = if cold { &metrics::MINIMUM } else { &metrics::MAXIMUM };
    let others = case.case.evidence.home.rooms.iter().filter(|room| room.name != case.room.name);
    let others = others.filter_map(|room| case.case.row(Some(&room.name), id)).map(|row| row.value);
    let others: Vec<f64> = others.collect();
    if others.is_empty() {
        return way + " No other room of the home can speak for or against it.";
    }
    let (low, high) = (
        others.iter().copied().fold(f64::INFINITY, f64::min),
        others.iter().copied().fold(f64::NEG_INFINITY, f64::max),
    );
    let word = if cold { "lowest" } else { "highest" };
    format!("{way} The other rooms have their {word} at {} to {}.", case.show(low), case.show(high))
}
