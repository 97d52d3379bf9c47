//! Evenness and recovery in the section of a home: how far apart, how sure, how soon warm again.

use maud::{Markup, html};

use super::homes::{difference, hours, percent};
use crate::audit::HomeNumbers;
use crate::findings::NotJudged;
use crate::metrics::{self, Evenness, Interval, IntervalKind, MetricRow};
use crate::site::{Heated, Home, Room, Site};
use crate::units::{KelvinDiff, TemperatureUnit};

/// Both parts for a period.
pub(super) fn tables(site: &Site, of_roster: &Home, home: &HomeNumbers<'_>, period: &str) -> Markup {
    html! { (evenness(site, of_roster, home, period)) (recovery(site, of_roster, home, period)) }
}

fn evenness(site: &Site, of_roster: &Home, home: &HomeNumbers<'_>, period: &str) -> Markup {
    let of_home = |metric| home.value(period, None, metric);
    let (Some(median), Some(p95)) = (of_home(&metrics::SPREAD_MEDIAN), of_home(&metrics::SPREAD_P95)) else {
        return html! {};
    };
    let units = site.units;
    let design = site.design_outdoor.map(|t| units.show(t));
    html! {
        h3 { "Evenness, " (period) }
        p {
            "Half of the time the warmest and the coldest room are at most " b { (within(median, units)) }
            " apart, 95 % of the time at most " b { (within(p95, units)) } "."
            @if let Some(floor) = of_home(&metrics::SPREAD_NOISE_FLOOR) { " Sensors like these would show " (difference(Some(floor), units)) " in rooms that are equally warm." }
        }
        div.scroll tabindex="0" role="group" aria-label="Evenness of the rooms" { table {
            caption.unseen { "Evenness of the rooms" }
            thead { tr {
                th.text scope="col" { "Room" } th scope="col" { "From heated rooms" } th scope="col" { "90 % sure: between" } th.text scope="col" { "As warm as they are?" }
                @if let Some(design) = &design { th scope="col" { "At " (design) " outdoors" } th scope="col" { "95 % of days: between" } }
            } }
            tbody { @for room in &of_roster.rooms { (room_evenness(site, home, period, room)) } }
        } }
        p.soft {
            "Even: surely within ±" (units.show_difference(site.spread.margin)) " of the median of the heated rooms (of a heated room: of the others) whose records stand; uneven: surely beyond; undecided: the record, its days and its sensors cannot tell, or there are fewer than 7 whole days. Ranges hold what the accuracy of the sensors leaves open, and that other days might have been watched."
            @if design.is_some() { " * Colder than any day of the record: the line through its days was drawn on." }
        }
    }
}

fn room_evenness(site: &Site, home: &HomeNumbers<'_>, period: &str, room: &Room) -> Markup {
    let value = |metric| home.value(period, Some(&room.name), metric);
    let (offset, design) = (value(&metrics::OFFSET_FROM_REFERENCE), value(&metrics::OFFSET_AT_DESIGN));
    let verdict = value(&metrics::EVENNESS_VERDICT).map(|v| Evenness::of(v.value).word());
    let open = |n: &NotJudged| n.rule == "room-uneven" && n.room.as_ref() == Some(&room.name);
    let open_here = |n: &NotJudged| open(n) && n.period.as_deref().is_none_or(|p| p == period);
    // Even in the days that it has, which are too few of those that it is about.
    let few_days = home.home.not_judged.iter().any(open_here);
    let verdict = verdict.filter(|word| *word != Evenness::Even.word() || !few_days);
    let otherwise = match room.heated {
        _ if home.home.not_judged.iter().any(open) => "not judged",
        Heated::Yes => "is heated",
        Heated::No => "–",
        Heated::Unknown => "heated or not: unknown",
    };
    let beyond = design.and_then(|d| d.interval).is_some_and(|i| i.kind == IntervalKind::PredictionBeyond);
    html! {
        tr {
            th.text scope="row" { (room.name) }
            td { (difference(offset, site.units)) } td.possible { (between(offset, site.units)) }
            td.text { (verdict.unwrap_or(otherwise)) }
            @if site.design_outdoor.is_some() {
                td { (difference(design, site.units)) @if beyond { "*" } } td.possible { (between(design, site.units)) }
            }
        }
    }
}

fn recovery(site: &Site, of_roster: &Home, home: &HomeNumbers<'_>, period: &str) -> Markup {
    let value = |room: &Room, metric| home.value(period, Some(&room.name), metric);
    let rooms: Vec<&Room> =
        of_roster.rooms.iter().filter(|r| value(r, &metrics::RECOVERY_EVENTS).is_some()).collect();
    if rooms.is_empty() {
        return html! {};
    }
    let tolerance = site.units.show_difference(site.recovery.tolerance);
    html! {
        h3 { "Warm again after setback, " (period) }
        @if site.setbacks.is_empty() { p { b { "The setbacks were found in the data: " } "the site file gives none." } }
        div.scroll tabindex="0" role="group" aria-label="Warm again after setback" { table {
            caption.unseen { "Warm again after setback" }
            thead { tr {
                th.text scope="col" { "Room" } th scope="col" { "Mornings too cool" } th scope="col" { "Cut off" } th scope="col" { "Half are back within, h" } th scope="col" { "95 % sure: between" }
                th scope="col" { "Nine in ten, h" } th scope="col" { "Late" } th scope="col" { "certainly … possibly" } th scope="col" { "Warms by, per h" } th scope="col" { "Overshoot" }
            } }
            tbody { @for room in &rooms { tr {
                th.text scope="row" { (room.name) }
                td { (count(value(room, &metrics::RECOVERY_EVENTS))) } td { (count(value(room, &metrics::RECOVERIES_CUT_OFF))) }
                td { (reached(value(room, &metrics::RECOVERY_EVENTS), value(room, &metrics::RECOVERY_MEDIAN))) } td.possible { (hours_between(value(room, &metrics::RECOVERY_MEDIAN))) }
                td { (reached(value(room, &metrics::RECOVERY_EVENTS), value(room, &metrics::RECOVERY_P90))) }
                td { (percent(value(room, &metrics::LATE_RECOVERIES))) } td.possible { (super::homes::hours_range(value(room, &metrics::LATE_RECOVERIES))) }
                td { (difference(value(room, &metrics::WARM_UP_RATE), site.units)) }
                td { (difference(value(room, &metrics::OVERSHOOT), site.units)) }
            } } }
        } }
        p.soft { "Back: within " (tolerance) " of the target, and for 15 min. A recovery that the next setback, 6 h or a hole in the record cut off counts as not there yet, never as done." }
    }
}

/// `1.2 K (95 % sure: 0.8 to 1.6 K)`.
fn within(row: &MetricRow, units: TemperatureUnit) -> String {
    let value = difference(Some(row), units);
    match between(Some(row), units) {
        range if range.is_empty() => value,
        range => format!("{value} (95 % sure: {range})"),
    }
}

/// The interval of a difference; empty where there is none.
fn between(row: Option<&MetricRow>, units: TemperatureUnit) -> String {
    let show = |k: f64| units.show_difference(KelvinDiff::new(k));
    let words = |i: Interval| format!("{} … {}", show(i.low), show(i.high));
    row.and_then(|r| r.interval).map_or(String::new(), words)
}

fn hours_between(row: Option<&MetricRow>) -> String {
    let end = |h: f64| if h.is_finite() { format!("{h:.1}") } else { "not reached".to_owned() };
    row.and_then(|r| r.interval).map_or(String::new(), |i| format!("{} … {}", end(i.low), end(i.high)))
}

/// When so many were back; a room that was never too cool had nothing to come back from.
fn reached(events: Option<&MetricRow>, row: Option<&MetricRow>) -> String {
    match row {
        Some(_) => hours(row),
        None if events.is_none_or(|events| events.value > 0.0) => "not reached".to_owned(),
        None => "nothing to recover".to_owned(),
    }
}

fn count(row: Option<&MetricRow>) -> String {
    row.map_or("–".to_owned(), |r| format!("{:.0}", r.value))
}
