//! The humidity of the rooms of a home, where their loggers record it.

use crate::metrics::{self, Metric};
use maud::{Markup, html};

use super::homes::{hours, percent};
use crate::audit::HomeNumbers;
use crate::site::{Home, Room, Site};
use crate::units::Celsius;

/// The table of a period; nothing where no room has a humidity.
pub(super) fn table(site: &Site, of_roster: &Home, home: &HomeNumbers<'_>, period: &str) -> Markup {
    let damp =
        |room: &&Room| home.value(period, Some(&room.name), &metrics::RELATIVE_HUMIDITY_MEAN).is_some();
    let rooms: Vec<&Room> = of_roster.rooms.iter().filter(damp).collect();
    if rooms.is_empty() {
        return html! {};
    }
    html! {
        h3 { "Humidity, " (period) }
        div.scroll tabindex="0" role="group" aria-label="Humidity of the rooms" { table {
            caption.unseen { "Humidity of the rooms" }
            thead { tr {
                th.text scope="col" { "Room" } th scope="col" { "Mean" } th scope="col" { "95 % lie below" } th scope="col" { "Mean dew point" } th scope="col" { "Hours over 70 %" } th scope="col" { "Hours over 80 %" }
                th scope="col" { "Hours over 80 % at a cold surface" } th scope="col" { "Hours of condensation there" }
            } }
            tbody { @for room in rooms { (one(site, home, period, room)) } }
        } }
        p.soft { "Cold surface: an inner surface of surface factor " (site.surface_factor) " (0: as cold as outdoors, 1: as warm as the room); where 80 % lasts there, mould can grow. No surface was measured." }
    }
}

fn one(site: &Site, home: &HomeNumbers<'_>, period: &str, room: &Room) -> Markup {
    let value = |metric: &Metric| home.value(period, Some(&room.name), metric);
    let dew =
        value(&metrics::DEW_POINT_MEAN).map_or("–".to_owned(), |r| site.units.show(Celsius::new(r.value)));
    html! {
        tr {
            th.text scope="row" { (room.name) }
            td { (percent(value(&metrics::RELATIVE_HUMIDITY_MEAN))) }
            td { (percent(value(&metrics::RELATIVE_HUMIDITY_P95))) }
            td { (dew) }
            td { (hours(value(&metrics::HOURS_OVER_70_RH))) }
            td { (hours(value(&metrics::HOURS_OVER_80_RH))) }
            td { (hours(value(&metrics::HOURS_SURFACE_OVER_80))) }
            td { (hours(value(&metrics::HOURS_SURFACE_CONDENSATION))) }
        }
    }
}
