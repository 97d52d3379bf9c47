//! The rule about recovery after setback.

use super::enough::clear_where_seen;
use super::rooms::{self, HEATING_UNKNOWN, settle_first};
use super::{About, Evidence, Found, Judge, RoomCase, Rule, Severity, Verdict};
use crate::clock::{Span, UtcTime};
use crate::metrics::{self, Event, EventKind, MetricRow, granted_h};
use crate::site::Heated;

/// Share of mornings, in %, that may be late.
const ACCEPTED_SHARE: f64 = 10.0;
/// Mornings from which a share says something.
const LEAST_MORNINGS: f64 = 5.0;

/// What to do where nobody told of the setbacks: they may be none.
pub(super) const NEXT_STEP_FOUND: &str = "ask whether the heating is turned down then, and until when: if so, write it into the site file as [[setback]] with its target, and run again; if the room is heated only when it is used, there is no setback, and nothing to mend";

/// A heated room that is not warm in time after setbacks.
pub(super) static SLOW_RECOVERY: Rule = Rule {
    name: "slow-recovery",
    shows: "the record shows a heated room back at its target later than the site allows (a quarter of the length of the setback, at most 4 h, unless [recovery] says otherwise) on more than one in ten of the mornings after a setback; act: even with the target moved by the sensor accuracy, where the site file gives the setbacks; recoveries that were cut off count as late only when the time was over",
    could_also_be: "a schedule or setpoint other than the one in the site file, a door or window open at night, weather colder than the design, or a logger in a colder place than the thermostat",
    next_step: "compare the thermostat's schedule and setpoint with the site file; if they agree, have the heat pump's output checked on a cold morning (filter, outdoor unit, refrigerant, size), and try a smaller setback meanwhile",
    source: "own definition; no published limit for dwellings was found",
    needs: &[],
    looks_at: &[
        &metrics::RECOVERY_EVENTS,
        &metrics::NO_SETBACK,
        &metrics::RECOVERIES_UNKNOWN,
        &metrics::RECOVERIES_CUT_OFF,
        &metrics::LATE_RECOVERIES,
        &metrics::RECOVERY_MEDIAN,
        &metrics::MEAN,
        &metrics::P05,
        &metrics::MEDIAN,
        &metrics::P95,
    ],
    about: About::Building,
    judge: Judge::Room(slow),
};

fn slow(case: &RoomCase<'_>) -> Verdict {
    let told = !case.case.evidence.site.setbacks.is_empty();
    match case.room.heated {
        Heated::Yes => {}
        Heated::Unknown if told && case.row(&metrics::MEAN).is_some() => {
            return Verdict::NotJudged(HEATING_UNKNOWN.to_owned());
        }
        // A room without heating of its own follows the others.
        Heated::No | Heated::Unknown => return Verdict::NotAsked,
    }
    let count = |id| case.row(id).map_or(0.0, |r: &MetricRow| r.value);
    let mornings = count(&metrics::RECOVERY_EVENTS) + count(&metrics::NO_SETBACK);
    if !told && mornings < LEAST_MORNINGS {
        // So few falls are no setback that somebody chose.
        return Verdict::NotAsked;
    }
    let unknown = count(&metrics::RECOVERIES_UNKNOWN);
    if unknown > mornings {
        return Verdict::NotJudged(format!(
            "on {unknown:.0} mornings the room has no value at the end of the setback"
        ));
    }
    // A room without setbacks has nothing to recover from.
    let Some(late) = case.row(&metrics::LATE_RECOVERIES) else { return Verdict::Clear };
    let (events, cut_off) = (count(&metrics::RECOVERY_EVENTS), count(&metrics::RECOVERIES_CUT_OFF));
    if late.value <= ACCEPTED_SHARE {
        let seen = 100.0 * (mornings - cut_short(case)) / (mornings + unknown);
        return clear_where_seen(seen, "the mornings after a setback tell whether the room was warm in time");
    }
    if mornings < LEAST_MORNINGS {
        return Verdict::NotJudged(format!(
            "only {mornings:.0} morning{} after a setback",
            if mornings < 1.5 { "" } else { "s" }
        ));
    }
    let certain = late.interval.map_or(0.0, |i| i.low);
    let possible = late.interval.map_or(100.0, |i| i.high);
    let doubt = doubted(case);
    let severity =
        if told && certain > ACCEPTED_SHARE && doubt.is_none() { Severity::Act } else { Severity::Watch };
    let median = case.row(&metrics::RECOVERY_MEDIAN).map_or_else(
        || "fewer than half of the recoveries were seen to end".to_owned(),
        |m| format!("half of the recoveries take {}", hours_words(m)),
    );
    let found = case.case.span_of(Some(&case.room.name), EventKind::RecoveryFound);
    let how = if found.is_some() { " (setbacks found in the data)" } else { "" };
    let shows = format!(
        "The record shows {} not back at its target in time on {:.0} % of {mornings:.0} mornings after a setback{how} (certainly {certain:.0} %, possibly {possible:.0} %, with sensors good to ±{}); {median}; {cut_off:.0} of {events:.0} did not get there within 6 h, before the next setback or before a hole in the record.",
        case.room.name,
        late.value,
        case.case.units().show_difference(case.room.accuracy()),
    ) + &settle_first(doubt);
    let span = found.or_else(|| case.case.span_of(Some(&case.room.name), EventKind::Recovery));
    Verdict::Found(Found {
        severity,
        span,
        observed: late.value,
        unit: "%",
        limit: ACCEPTED_SHARE,
        range: late.interval.map(|i| (i.low, i.high)),
        shows,
        doubt,
    })
}

/// The mornings on which a room was late, as times from the end of the setback until it was there, or was cut off.
pub(super) fn late_mornings(evidence: &Evidence<'_>, room: &str, period: &str) -> Vec<Span> {
    let site = evidence.site;
    let kinds = [EventKind::Recovery, EventKind::RecoveryFound];
    let own = |e: &&Event| kinds.contains(&e.kind) && e.room.as_deref() == Some(room) && e.period == period;
    let granted = |start: UtcTime| {
        let mut nights = site.setbacks_in(Span { from: start.plus_ms(-1), to: start }).into_iter();
        nights.find(|night| night.span.to == start).map_or(0.0, |night| granted_h(site, night.span.hours()))
    };
    let late = |e: &&Event| e.censored || e.span.hours() > granted(e.span.from);
    evidence.events.iter().filter(own).filter(late).map(|e| e.span).collect()
}

/// Recoveries that were cut off before the room could be late.
fn cut_short(case: &RoomCase<'_>) -> f64 {
    let site = case.case.evidence.site;
    let events = case.case.events_of(Some(&case.room.name), EventKind::Recovery).filter(|e| e.censored);
    let granted_h = |start: UtcTime| {
        let mut nights = site.setbacks_in(Span { from: start.plus_ms(-1), to: start }).into_iter();
        nights.find(|night| night.span.to == start).map(|night| granted_h(site, night.span.hours()))
    };
    events.filter(|e| granted_h(e.span.from).is_some_and(|h| e.span.hours() < h)).count() as f64
}

/// The rule that finds in the room's logger what alone could make its recoveries look late: a clock that is off moves them.
fn doubted(case: &RoomCase<'_>) -> Option<&'static str> {
    rooms::off_by_hours(case).or_else(|| rooms::doubted(case, EventKind::BelowBand))
}

/// `1.4 h (95 %: 0.9 to 2.2 h)`, or an end that was not reached.
fn hours_words(row: &MetricRow) -> String {
    let Some(interval) = row.interval else { return format!("{:.1} h", row.value) };
    let high =
        if interval.high.is_finite() { format!("{:.1} h", interval.high) } else { "not reached".to_owned() };
    format!("{:.1} h (95 %: {:.1} h to {high})", row.value, interval.low)
}
