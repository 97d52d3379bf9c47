//! The heat rule in the section of a home: its text and cautions, and the hours of each room.

use maud::{Markup, html};

use super::decide::capital;
use super::homes::hours;
use crate::audit::HomeNumbers;
use crate::findings::HoursBelow;
use crate::metrics::{self, Event, EventKind, Metric};
use crate::site::{HEAT_RULE_CAUTION, HeatRule, Home, Room, Site};
use crate::units::{Celsius, KelvinDiff};

/// The table of a period; nothing where the site has no rule.
pub(super) fn table(site: &Site, of_roster: &Home, home: &HomeNumbers<'_>, period: &str) -> Markup {
    let Some(rule) = &site.heat_rule else { return html! {} };
    let mean = rule.judges_mean().then_some(None);
    let rooms = of_roster.rooms.iter().filter(|r| rule.judges(r.purpose)).map(Some);
    let judged: Vec<Option<&Room>> = mean.into_iter().chain(rooms).collect();
    let holds = |room: &Option<&Room>| {
        home.value(period, room.map(|r| r.name.as_str()), &metrics::HEAT_RULE_HOURS_NO_DATA).is_some()
    };
    let rows: Vec<Option<&Room>> = judged.into_iter().filter(holds).collect();
    html! {
        h3 { "Heat rule, " (period) }
        @if site.period_names().first() == Some(&period) { (caution(site, rule)) }
        @if rows.is_empty() { p { b { "Nothing was judged" } ": the rule holds at no hour of this time, or for none of these rooms; that is no pass." (lowest(site, home, of_roster, period)) } } @else {
            @if rows.iter().all(|room| judged_hours(home, period, *room) == 0.0) { p { b { "Nothing was judged" } ": at no hour could a room be held against the rule; that is no pass." (lowest(site, home, of_roster, period)) } }
            div.scroll tabindex="0" role="group" aria-label="Hours below the minimum" { table {
            caption.unseen { "Hours below the minimum" }
                thead { tr {
                    th.text scope="col" { "Room" } th scope="col" { "Below, as read, h" } th scope="col" { "Certainly" } th scope="col" { "Possibly" } th scope="col" { "Of hours judged" }
                    th scope="col" { "Without data, h" } th scope="col" { "Without outdoors, h" } th scope="col" { "Episodes" } th scope="col" { "Longest, h" } th scope="col" { "Lowest margin" } th scope="col" { "Logger height" }
                } }
                tbody { @for room in rows { (one(site, home, period, room)) } }
            } }
            (episodes(site, home, period))
        }
    }
}

fn judged_hours(home: &HomeNumbers<'_>, period: &str, room: Option<&Room>) -> f64 {
    let name = room.map(|r| r.name.as_str());
    HoursBelow::minimum(|id| home.value(period, name, id)).map_or(0.0, |hours| hours.judged)
}

/// The lowest temperature of each room, in place of a verdict.
fn lowest(site: &Site, home: &HomeNumbers<'_>, of_roster: &Home, period: &str) -> String {
    let of_room = |room: &Room| {
        let row = home.value(period, Some(&room.name), &metrics::MINIMUM)?;
        Some(format!("{} {}", room.name, site.units.show(Celsius::new(row.value))))
    };
    let rooms: Vec<String> = of_roster.rooms.iter().filter_map(of_room).collect();
    if rooms.is_empty() { String::new() } else { format!(" The lowest temperatures: {}.", rooms.join(", ")) }
}

/// When it was below the minimum: the longest times, in the order of time.
fn episodes(site: &Site, home: &HomeNumbers<'_>, period: &str) -> Markup {
    let of_period =
        |e: &&Event| e.kind == EventKind::HeatRuleShortfall && e.period == period && e.home == home.home.name;
    let mut longest: Vec<&Event> = home.home.events.iter().filter(of_period).collect();
    longest.sort_by_key(|e| (e.span.from, e.room.clone()));
    let show = |degc: f64| site.units.show(Celsius::new(degc));
    html! {
        @if !longest.is_empty() {
            h3 { "Longest times below the minimum, " (period) }
            div.scroll tabindex="0" role="group" aria-label="Longest times below the minimum" { table {
            caption.unseen { "Longest times below the minimum" }
                thead { tr {
                    th.text scope="col" { "Room" } th.text scope="col" { "From" } th.text scope="col" { "To" } th scope="col" { "Hours" } th scope="col" { "Lowest" } th scope="col" { "Asked for" }
                } }
                tbody { @for e in longest { tr {
                    th.text scope="row" { (e.room.as_deref().unwrap_or("mean of the rooms")) }
                    td.text.time { (site.zone.show(e.span.from)) } td.text.time { (site.zone.show(e.span.to)) }
                    td { (format!("{:.1}", e.span.hours())) @if e.censored { "+" } }
                    td { (show(e.value)) } td { (show(e.limit)) }
                } } }
            } }
            p.soft { "Local time (" (site.zone.name()) "). +: cut off by a hole or an end of the record or of the rule's hours, so that it may have lasted longer. The longest of all are shown; an audit has all in events.csv, in UTC." }
        }
    }
}

/// Which text, what it asks for, what of it is not judged.
fn caution(site: &Site, rule: &HeatRule) -> Markup {
    html! {
        div.caution {
            p { "Rule: " (rule.title()) "." @for w in &rule.windows { " " (w.words(|t| site.units.show(t))) "." } " " (capital(HEAT_RULE_CAUTION)) "." }
            @if let Some(preset) = rule.preset {
                p { "Assumed: " (preset.assumes) ". Limits: " (preset.limits) "; " (preset.rooms()) "." @if let Some(m) = preset.measured { " The text measures " (m.words) "." } }
            }
            p { "As read: the value is under the minimum. Certainly: even with the sensor accuracy added. Possibly: certainly, or within the sensor accuracy of the minimum. Where the roster states the loggers' time constants, how far they trail the room counts too. Hours without data, and those whose rule depends on an outdoor temperature that is missing (without outdoors), could not be judged." }
        }
    }
}

fn one(site: &Site, home: &HomeNumbers<'_>, period: &str, room: Option<&Room>) -> Markup {
    let name = room.map(|r| r.name.as_str());
    let value = |metric: &Metric| home.value(period, name, metric);
    let Some(of) = HoursBelow::minimum(value) else { return html! {} };
    let hour = |h: f64| format!("{h:.1}");
    html! {
        tr {
            th.text scope="row" { (name.unwrap_or("mean of the rooms")) }
            td { (hour(of.as_read)) } td { (hour(of.certain)) } td { (hour(of.possible)) } td { (hour(of.judged)) }
            td { (hour(of.without_data)) } td { (hour(of.without_outdoor)) }
            td { (value(&metrics::HEAT_RULE_EPISODES).map_or("–".to_owned(), |r| format!("{:.0}", r.value))) }
            td { (hours(value(&metrics::HEAT_RULE_LONGEST_EPISODE))) }
            td { (value(&metrics::HEAT_RULE_LOWEST_MARGIN).map_or("–".to_owned(), |r| site.units.show_difference(KelvinDiff::new(r.value)))) }
            td { (room.map_or("–".to_owned(), height)) }
        }
    }
}

fn height(room: &Room) -> String {
    let mut heights: Vec<String> = room
        .placements
        .iter()
        .map(|p| p.height_m.map_or("not stated".to_owned(), |h| format!("{h:.2} m")))
        .collect();
    heights.dedup();
    if heights.is_empty() { "–".to_owned() } else { heights.join(", ") }
}
