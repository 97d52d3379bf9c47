//! The loggers of a home: how good they are, and what was done to their readings.

use maud::{Markup, html};

use super::listing;
use crate::audit::HomeAudit;
use crate::quality::LoggerRow;
use crate::site::{Home, Room, Site};

/// The table.
pub(super) fn table(site: &Site, of_roster: &Home, home: &HomeAudit) -> Markup {
    let heads = [
        listing::text("Room"),
        listing::text("Logger"),
        listing::figure("Good to"),
        listing::figure("Taken off"),
        listing::text("Clock"),
        listing::text("Record"),
        listing::figure("Rows seen"),
        listing::figure("Kept"),
        listing::figure("Set aside"),
        listing::figure("Left out of the numbers"),
    ];
    let of_room = |room: &Room| home.loggers.iter().filter(|l| l.room == room.name).collect::<Vec<_>>();
    let rows = html! {
        @for room in &of_roster.rooms { @for logger in of_room(room) { tr {
            th.text scope="row" { (room.name) } td.text { (logger.logger) }
            td { "±" (site.units.show_difference(room.accuracy())) }
            td { (logger.offset.map_or("–".to_owned(), |k| site.units.show_difference(k))) }
            td.text { (logger.clock) }
            td.text { (record(site, logger)) }
            td { (logger.rows_seen) } td { (logger.rows_kept) } td { (logger.rows_set_aside) }
            td { (logger.share_left_out().map_or("–".to_owned(), |share| format!("{share:.1} %"))) }
        } } }
    };
    listing::table("Loggers: readings before and after", &heads, &rows)
}

fn record(site: &Site, logger: &LoggerRow) -> String {
    let span = logger.first_utc.zip(logger.last_utc);
    span.map_or("none".to_owned(), |(from, to)| format!("{} to {}", site.zone.show(from), site.zone.show(to)))
}
