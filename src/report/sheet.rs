//! One home and one time on one sheet, fair to both sides: what the record shows, how sure, and what it cannot tell.

use maud::{Markup, html};

use super::{cautions, curves, heat_rule, homes, outdoor, whole_page};
use crate::audit::{HomeAudit, HomeNumbers};
use crate::complaint::Complaint;
use crate::findings::show_span;
use crate::quality::LoggerRow;
use crate::site::{Home, Room, Site};

/// The sheet.
pub fn sheet(complaint: &Complaint<'_>) -> String {
    let Complaint { audit, home, period, .. } = complaint;
    let (site, numbers) = (complaint.site(), &HomeNumbers::of(home));
    let Some(of_roster) = site.homes.iter().find(|h| h.name == home.name) else { return String::new() };
    let title = format!("Home {}: what the record shows", home.name);
    let main = html! {
        main.sheet {
            h1 { (title) }
            p.soft {
                (site.name) ", " (show_span(period.span, site.zone)) ", local time (" (site.zone.name()) ")"
                @if let Some((low, high)) = outdoor(audit) { ", outdoors " (low) " to " (high) }
                "."
            }
            (cautions(site, complaint.found().next().is_some() || home.is_too_cold()))
            (in_short(complaint))
            (heat_rule::table(site, of_roster, numbers, &period.name))
            (cannot_tell(complaint))
            (homes::rooms(site, of_roster, numbers, &period.name))
            (loggers(site, of_roster, home))
            (side_by_side(site, home))
            @if let Some(trace) = &home.trace { (curves::figure(site, of_roster, trace)) }
            @if audit.from_aligned { p { "This sheet starts from an aligned table: loggers and rows of exports were not judged again, so that nothing is said here of doubtful loggers." } }
            p.soft { "Made by evenrooms " (env!("CARGO_PKG_VERSION")) ". Settings, files with their fingerprints, and the books of this home's rows are in provenance.json beside this sheet." }
        }
    };
    whole_page(&title, "", &main)
}

fn in_short(complaint: &Complaint<'_>) -> Markup {
    html! {
        h2 { "In short" }
        @for sentence in complaint.in_short() { p { (sentence) } }
        p { (complaint.others()) }
        @if let Some(finding) = complaint.found().next() {
            p { span.soft { "What else it could be: " } (finding.could_also_be) "." }
            p { span.soft { "What to do next: " } (finding.next_step) "." }
        }
    }
}

/// What was left open, and what is wrong with the record itself.
fn cannot_tell(complaint: &Complaint<'_>) -> Markup {
    html! {
        @if complaint.open().next().is_some() || complaint.doubts().next().is_some() {
            h3 { "What the record cannot tell" }
            @for n in complaint.open() { p { (n.place()) ": " (n.why) "." } }
            @for finding in complaint.doubts() { p { (finding.rule) @if let Some(room) = &finding.room { ", " (room) } ": " (finding.shows) } }
        }
    }
}

/// Which logger stood where, how good it is, and what of it was used.
fn loggers(site: &Site, of_roster: &Home, home: &HomeAudit) -> Markup {
    let of_room = |room: &Room| home.loggers.iter().filter(|l| l.room == room.name).collect::<Vec<_>>();
    html! {
        @if !home.loggers.is_empty() {
            h3 { "Loggers" }
            div.scroll tabindex="0" role="group" aria-label="Loggers" { table {
            caption.unseen { "Loggers" }
                thead { tr { th.text scope="col" { "Room" } th.text scope="col" { "Logger" } th scope="col" { "Good to" } th scope="col" { "Taken off" } th scope="col" { "Height" } th.text scope="col" { "Clock" } th.text scope="col" { "Record" } th scope="col" { "Doubtful readings" } } }
                tbody { @for room in &of_roster.rooms { @for logger in of_room(room) { tr {
                    th.text scope="row" { (room.name) } td.text { (logger.logger) }
                    td { "±" (site.units.show_difference(room.accuracy())) }
                    td { (logger.offset.map_or("–".to_owned(), |k| site.units.show_difference(k))) }
                    td { (height(room, logger)) }
                    td.text { (logger.clock) }
                    td.text { @if let Some((from, to)) = logger.first_utc.zip(logger.last_utc) { (site.zone.show(from)) " to " (site.zone.show(to)) } }
                    td { (logger.share_left_out().map_or("–".to_owned(), |share| format!("{share:.1} %"))) }
                } } } }
            } }
        }
    }
}

/// What the side-by-side check did to the readings, logger by logger.
pub(super) fn side_by_side(site: &Site, home: &HomeAudit) -> Markup {
    let checked = site.colocation.as_ref().map(|c| c.span);
    let checked = checked.filter(|_| home.loggers.iter().any(|l| l.offset.is_some()));
    let offset =
        |l: &LoggerRow| Some(format!("{} {}: {}", l.room, l.logger, site.units.show_difference(l.offset?)));
    let offsets = home.loggers.iter().filter_map(offset).collect::<Vec<_>>().join(", ");
    html! {
        @if let Some(span) = checked { p.soft { "Taken off: from " (show_span(span, site.zone)) " the loggers lay side by side; what each of them read above (below 0: below) the median of all was taken off its readings before anything was judged: " (offsets) "." } }
    }
}

fn height(room: &Room, logger: &LoggerRow) -> String {
    let placement = room.placements.iter().find(|p| p.logger.told() == logger.logger);
    placement.and_then(|p| p.height_m).map_or("not stated".to_owned(), |h| format!("{h:.2} m"))
}
