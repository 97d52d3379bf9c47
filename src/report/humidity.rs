//! The humidity of the rooms of a home, where their loggers record it.

use maud::{Markup, html};

use super::homes::{hours, percent};
use crate::audit::HomeAudit;
use crate::site::{Home, Room, Site};
use crate::units::Celsius;

/// The table of a period; nothing where no room has a humidity.
pub(super) fn table(site: &Site, of_roster: &Home, home: &HomeAudit, period: &str) -> Markup {
    let damp = |room: &&Room| home.value(period, Some(&room.name), "relative_humidity_mean").is_some();
    let rooms: Vec<&Room> = of_roster.rooms.iter().filter(damp).collect();
    if rooms.is_empty() {
        return html! {};
    }
    html! {
        h3 { "Humidity, " (period) }
        div.scroll { table {
            thead { tr {
                th.text { "Room" } th { "Mean" } th { "95 % lie below" } th { "Mean dew point" } th { "Hours over 70 %" } th { "Hours over 80 %" }
                th { "Hours over 80 % at a cold surface" } th { "Hours of condensation there" }
            } }
            tbody { @for room in rooms { (one(site, home, period, room)) } }
        } }
        p.soft { "Cold surface: an inner surface of surface factor " (site.surface_factor) " (0: as cold as outdoors, 1: as warm as the room); where 80 % lasts there, mould can grow. No surface was measured." }
    }
}

fn one(site: &Site, home: &HomeAudit, period: &str, room: &Room) -> Markup {
    let value = |id: &str| home.value(period, Some(&room.name), id);
    let dew = value("dew_point_mean").map_or("–".to_owned(), |r| site.units.show(Celsius::new(r.value)));
    html! {
        tr {
            td.text { (room.name) }
            td { (percent(value("relative_humidity_mean"))) }
            td { (percent(value("relative_humidity_p95"))) }
            td { (dew) }
            td { (hours(value("hours_over_70_rh"))) }
            td { (hours(value("hours_over_80_rh"))) }
            td { (hours(value("hours_surface_over_80"))) }
            td { (hours(value("hours_surface_condensation"))) }
        }
    }
}
