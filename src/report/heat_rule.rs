//! The heat rule in the section of a home: its text and cautions, and the hours of each room.

use maud::{Markup, html};

use super::homes::{hours, hours_range};
use crate::audit::HomeAudit;
use crate::metrics::{Event, EventKind, MetricRow};
use crate::site::{HEAT_RULE_CAUTION, HeatRule, Held, Home, Room, Site};
use crate::units::{Celsius, KelvinDiff, TemperatureUnit};

/// The table of a period; nothing where the site has no rule.
pub(super) fn table(site: &Site, of_roster: &Home, home: &HomeAudit, period: &str) -> Markup {
    let Some(rule) = &site.heat_rule else { return html! {} };
    let judged: Vec<Option<&Room>> = match rule.held {
        Held::EachRoom => of_roster.rooms.iter().filter(|r| rule.judges(r.purpose)).map(Some).collect(),
        Held::HomeMean => vec![None],
    };
    let below =
        judged.iter().map(|room| home.value(period, room.map(|r| r.name.as_str()), "heat_rule_hours_below"));
    let rows: Vec<(Option<&Room>, &MetricRow)> =
        judged.iter().zip(below).filter_map(|(room, below)| Some((*room, below?))).collect();
    html! {
        h3 { "Heat rule, " (period) }
        @if super::periods(site).first() == Some(&period) { (caution(site, rule)) }
        @if rows.is_empty() { p.soft { "The rule holds at no hour of this record." } } @else {
            div.scroll { table {
                thead { tr {
                    th.text { "Room" } th { "Hours below minimum" } th { "certainly … possibly" } th { "Too close to call" } th { "Met" }
                    th { "No data" } th { "Not evaluated" } th { "Episodes" } th { "Longest, h" } th { "Lowest margin" } th { "Logger height" }
                } }
                tbody { @for (room, below) in rows { (one(site, home, period, room, below)) } }
            } }
            (episodes(site, home, period))
        }
    }
}

/// When it was below the minimum: the longest times, in the order of time.
fn episodes(site: &Site, home: &HomeAudit, period: &str) -> Markup {
    let of_period =
        |e: &&Event| e.kind == EventKind::HeatRuleShortfall && e.period == period && e.home == home.name;
    let mut longest: Vec<&Event> = home.events.iter().filter(of_period).collect();
    longest.sort_by_key(|e| (e.span.from, e.room.clone()));
    let show = |degc: f64| site.units.show(Celsius::new(degc));
    html! {
        @if !longest.is_empty() {
            h3 { "Longest times below the minimum, " (period) }
            div.scroll { table {
                thead { tr {
                    th.text { "Room" } th.text { "From" } th.text { "To" } th { "Hours" } th { "Lowest" } th { "Asked for" }
                } }
                tbody { @for e in longest { tr {
                    td.text { (e.room.as_deref().unwrap_or("mean of the rooms")) }
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
            p { "Rule: " (rule.title()) "." @for w in &rule.windows { " " (window(site.units, w)) } " " (capital(HEAT_RULE_CAUTION)) "." }
            @if let Some(preset) = rule.preset {
                p { "Limits: " (preset.limits) "; " (preset.rooms()) "." @if let Some(m) = preset.measured { " The text measures " (m.words) "." } }
            }
            p { "Below: under the minimum even with the sensor accuracy added. Too close to call: within the sensor accuracy of it. Where the roster states the loggers' time constants, how far they trail the room counts too. Not evaluated: an outdoor temperature is needed and missing." }
        }
    }
}

fn window(units: TemperatureUnit, w: &crate::site::HeatWindow) -> String {
    let outdoor =
        w.when_outdoor_below.map_or(String::new(), |t| format!(" while below {} outdoors", units.show(t)));
    format!("{}, {}: {}{outdoor}.", w.season.show(), w.hours.show(), units.show(w.minimum))
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or(String::new(), |first| first.to_uppercase().chain(letters).collect())
}

fn one(site: &Site, home: &HomeAudit, period: &str, room: Option<&Room>, below: &MetricRow) -> Markup {
    let name = room.map(|r| r.name.as_str());
    let value = |id: &str| home.value(period, name, id);
    html! {
        tr {
            td.text { (name.unwrap_or("mean of the rooms")) }
            td { (hours(Some(below))) } td.possible { (hours_range(Some(below))) }
            td { (hours(value("heat_rule_hours_too_close"))) }
            td { (hours(value("heat_rule_hours_met"))) }
            td { (hours(value("heat_rule_hours_no_data"))) }
            td { (hours(value("heat_rule_hours_not_evaluated"))) }
            td { (value("heat_rule_episodes").map_or("–".to_owned(), |r| format!("{:.0}", r.value))) }
            td { (hours(value("heat_rule_longest_episode"))) }
            td { (value("heat_rule_lowest_margin").map_or("–".to_owned(), |r| site.units.show_difference(KelvinDiff::new(r.value)))) }
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
