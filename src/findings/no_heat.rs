//! Rules about heating that stops.

use super::boxes::elsewhere_then;
use super::rooms::{HEATING_UNKNOWN, doubted, settle_first, usual_doubted};
use super::{About, Found, HomeCase, Judge, RoomCase, Rule, Severity, Verdict, show_span};
use crate::clock::Span;
use crate::metrics::{self, Event, EventKind, OUT_K};
use crate::site::Heated;
use crate::units::{Celsius, KelvinDiff};

/// Hours in all from which somebody must act, though it is over.
const LONG_H: f64 = 24.0;
/// Hours of one time, of a whole home, from which somebody must: a night. One room cools as far by its window.
const NIGHT_H: f64 = 8.0;
/// Hours after the start of the record from which on the fall into a time without heat is seen.
const FALL_SEEN_H: f64 = 12.0;
/// Hours from the end of an outage to the end of the record within which it goes on.
const GOES_ON_H: f64 = 6.0;
/// Outages told one by one.
const TOLD: usize = 3;

/// A home of which the heating stopped.
pub(super) static NO_HEAT: Rule = Rule {
    name: "no-heat",
    shows: "the record shows all heated rooms of a home together at least 3 °C below what is usual for them at that hour of the day, for 2 h or more (of four rooms and more one may hold); act: where that goes on to the end of the record, or once lasted 8 h, or a day in all, times with no sign of people at home, or already cold as the record began, left out",
    could_also_be: "heating turned down by people who were away, windows kept open, or a setback of which the site file does not know",
    next_step: "ask the people who live there what happened in those hours; where it goes on, see to the heat pumps and their supply today; where it is over, find out what stopped them and whether it is mended",
    source: "own definition",
    needs: &[],
    looks_at: &[&metrics::HOURS_WITHOUT_HEAT],
    about: About::Building,
    judge: Judge::Home(home),
};

/// A room of which the heating stopped while the others held.
pub(super) static NO_HEAT_IN_ROOM: Rule = Rule {
    name: "no-heat-in-room",
    shows: "the record shows one heated room at least 3 °C below what is usual for it at that hour of the day, for 2 h or more, while the others hold; act: where that goes on to the end of the record, or lasted a day in all, and nothing makes its logger read so",
    could_also_be: "a window left open, a unit that was turned off by hand, a door kept shut, or a logger that was moved to a colder place",
    next_step: "ask whether a window was open or the unit was off by choice; else have this room's unit looked at",
    source: "own definition",
    needs: &[],
    looks_at: &[&metrics::HOURS_WITHOUT_HEAT, &metrics::P05, &metrics::MEDIAN, &metrics::P95],
    about: About::Building,
    judge: Judge::Room(room),
};

fn home(case: &HomeCase<'_>) -> Verdict {
    let any = |heated: Heated| {
        case.evidence.home.rooms.iter().any(|r| r.heated == heated && !r.placements.is_empty())
    };
    match (any(Heated::Yes), any(Heated::Unknown)) {
        (true, _) => outages(case, None, &[EventKind::NoHeat, EventKind::NoHeatNobody], None),
        (false, true) => {
            Verdict::NotJudged("of no room of the home it is known that it is heated".to_owned())
        }
        (false, false) => Verdict::NotAsked,
    }
}

fn room(case: &RoomCase<'_>) -> Verdict {
    match case.room.heated {
        Heated::Yes => {
            let of_room = case.case.events_of(Some(&case.room.name), EventKind::NoHeatInRoom);
            let longest_h = of_room.map(|e| e.span.hours()).fold(0.0, f64::max);
            let doubt = doubted(case, EventKind::BelowBand).or_else(|| usual_doubted(case, longest_h));
            outages(&case.case, Some(&case.room.name), &[EventKind::NoHeatInRoom], doubt)
        }
        Heated::Unknown if case.row(&metrics::MEDIAN).is_some() => {
            Verdict::NotJudged(HEATING_UNKNOWN.to_owned())
        }
        Heated::Unknown | Heated::No => Verdict::NotAsked,
    }
}

fn outages<'a>(
    case: &HomeCase<'a>,
    room: Option<&'a str>,
    kinds: &[EventKind],
    doubt: Option<&'static str>,
) -> Verdict {
    let mut events: Vec<&Event> = kinds.iter().flat_map(|kind| case.events_of(room, *kind)).collect();
    events.sort_by_key(|e| e.span.from);
    let (Some(first), Some(last)) = (events.first(), events.last()) else { return Verdict::Clear };
    let span = Span { from: first.span.from, to: last.span.to };
    let not_there: Vec<Option<&str>> =
        events.iter().map(|e| elsewhere_then(&case.evidence, room, e.span)).collect();
    let doubt = doubt.or(if not_there.iter().all(Option::is_some) { not_there[0] } else { None });
    let hours = case.row(room, &metrics::HOURS_WITHOUT_HEAT).map_or(0.0, |row| row.value);
    let end = case.evidence.periods.iter().map(|(_, span)| span.to).max();
    let goes_on =
        last.censored && end.is_some_and(|end| Span { from: last.span.to, to: end }.hours() <= GOES_ON_H);
    // A record that begins in the cold shows no fall: its loggers may have come from a cold place together.
    let start = case.evidence.periods.iter().map(|(_, span)| span.from).min();
    let unseen =
        |e: &Event| start.is_some_and(|start| Span { from: start, to: e.span.from }.hours() <= FALL_SEEN_H);
    // Who was away was not cold, and may have turned it down; a home that stays cold must be looked after all the same.
    let (away, about): (Vec<&Event>, Vec<&Event>) =
        events.iter().copied().partition(|e| e.kind == EventKind::NoHeatNobody);
    let nobody_h: f64 = away.iter().map(|e| e.span.hours()).sum();
    let unseen_h: f64 = about.iter().filter(|e| unseen(e)).map(|e| e.span.hours()).sum();
    let night = room.is_none() && about.iter().any(|e| !unseen(e) && e.span.hours() >= NIGHT_H);
    let pressing = goes_on || night || hours - nobody_h - unseen_h >= LONG_H;
    let severity = if pressing && doubt.is_none() { Severity::Act } else { Severity::Watch };
    let zone = case.evidence.site.zone;
    let mut told: Vec<String> = events.iter().take(TOLD).map(|e| show_span(e.span, zone)).collect();
    if events.len() > TOLD {
        told.push(format!("{} more times", events.len() - TOLD));
    }
    let lowest = events.iter().map(|e| e.value).fold(f64::INFINITY, f64::min);
    let what = room.map_or_else(|| "the heated rooms together".to_owned(), str::to_owned);
    let shows = format!(
        "The record shows {what} without heat for {hours:.1} h, from {}: down to {}, at least {} below what is usual at that hour{}{}{}.",
        told.join(", from "),
        case.units().show(Celsius::new(lowest)),
        case.units().show_difference(KelvinDiff::new(OUT_K)),
        if goes_on { ", and not back at the end of the record" } else { "" },
        match nobody_h > 0.0 {
            true => format!("; for {nobody_h:.1} h of it kitchen and bathroom showed no sign of people"),
            false => String::new(),
        },
        if unseen_h > 0.0 { "; it was so as the record began, so that no fall was seen" } else { "" }
    ) + &settle_first(doubt);
    Verdict::Found(Found { span: Some(span), unit: "h", doubt, ..Found::new(severity, hours, shows) })
}
