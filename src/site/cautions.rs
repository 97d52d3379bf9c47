//! Settings that can be meant, and mostly are not: they are told, and taken as they are.
//!
//! Settled here, and why:
//! - **Settings that are mostly not meant** (`max_gap` over 6 h, a band beyond 5 to 40 °C, setbacks that overlap) are
//!   notes and not mistakes: a cellar may have such a band. A period of more instants than memory holds is a mistake.

use super::walk::Section;
use super::{Band, Placement, Setback, Site};
use crate::clock::{HOUR_MS, Span, UtcTime, Zone};
use crate::error::Note;
use crate::units::show_duration;

/// A longer gap is bridged by nobody who knows what the room did meanwhile.
const LONGEST_GAP_S: i64 = 6 * 3600;
/// A band for people lies within.
const BAND_DEGC: (f64, f64) = (5.0, 40.0);

pub(super) fn max_gap(site: &Section<'_, '_>, max_gap_s: i64) {
    if max_gap_s > LONGEST_GAP_S {
        let what = format!(
            "`max_gap` is {}, expected 6 h at most: a straight line is drawn over so long a time of which nothing was recorded, and counts as measured",
            show_duration(max_gap_s as f64)
        );
        let hint = "leave it out for 30 min; loggers that store seldom are bridged over 2.5 of their intervals in any case";
        site.caution(site.line_of("max_gap"), &what, hint);
    }
}

pub(super) fn band(section: &Section<'_, '_>, band: Band) {
    let (lower, upper) = (band.lower.degc(), band.upper.degc());
    if lower < BAND_DEGC.0 || upper > BAND_DEGC.1 {
        let what = format!(
            "the band reaches from {lower:.1} to {upper:.1} °C, expected one within {} and {} °C, where people live: hours outside it say little about comfort",
            BAND_DEGC.0, BAND_DEGC.1
        );
        section.caution(section.line(), &what, "check the units behind the numbers: 68 °F are 20 °C");
    }
}

/// `setbacks`: each with the line where it begins.
pub(super) fn setbacks(top: &Section<'_, '_>, setbacks: &[(u32, Setback)], zone: Zone) {
    // Days of the week come again: a fortnight shows every way in which two can meet.
    let fortnight = Span { from: UtcTime::from_ms(0), to: UtcTime::from_ms(14 * 24 * HOUR_MS) };
    let nights: Vec<_> = setbacks.iter().map(|(_, s)| s.nights(zone, fortnight)).collect();
    for (at, own) in nights.iter().enumerate() {
        let meets = |others: &Vec<super::SetbackNight>| {
            own.iter().any(|night| others.iter().any(|other| night.span.overlaps(&other.span)))
        };
        if let Some(earlier) = nights[..at].iter().position(meets) {
            let what = format!(
                "this [[setback]] overlaps the one of line {}, expected each hour in one of them: recoveries of the one are looked for while the other lasts",
                setbacks[earlier].0
            );
            top.caution(setbacks[at].0, &what, "give each its own `days`, or hours that do not meet");
        }
    }
}

/// Share of a site's loggers that may bear the name of one in another home, in %: where more do, each home counts its own.
const NAMED_ALIKE: usize = 10;
/// Loggers that are told one by one.
const TOLD: usize = 3;

/// Loggers that the roster has in two homes at one time. A logger without dates stands there all the time.
pub fn loggers_in_two_homes(site: &Site) -> Option<Note> {
    let homes = site.homes.iter().enumerate();
    let rooms = homes.flat_map(|(at, home)| home.rooms.iter().map(move |room| (at, room)));
    let mut all: Vec<(usize, &Placement)> =
        rooms.flat_map(|(at, room)| room.placements.iter().map(move |p| (at, p))).collect();
    // Several probes of one logger may be told apart by the column.
    all.retain(|(_, p)| p.sources.iter().all(|source| source.column.is_none()));
    all.sort_by(|a, b| a.1.logger.own().cmp(b.1.logger.own()).then(a.0.cmp(&b.0)));
    let alike = all.chunk_by(|a, b| a.1.logger == b.1.logger);
    let twice = |those: &[(usize, &Placement)]| {
        let meets = |(at, a): &(usize, &Placement)| {
            those
                .iter()
                .find(|(other, b)| other > at && a.span.overlaps(&b.span))
                .map(|(other, _)| (*at, *other))
        };
        let (first, second) = those.iter().find_map(meets)?;
        let name = |at: usize| &site.homes[at].name;
        Some(format!("{} in {} and {}", those[0].1.logger.told(), name(first), name(second)))
    };
    let names = alike.clone().count();
    let found: Vec<String> = alike.filter_map(twice).collect();
    if found.is_empty() || found.len() > 1 && 100 * found.len() > NAMED_ALIKE * names {
        return None;
    }
    let more = found.len().saturating_sub(TOLD);
    let more = if more > 0 { format!(" and {more} more") } else { String::new() };
    Some(Note {
        place: "roster".to_owned(),
        line: None,
        what: format!(
            "one logger in two homes at one time: {}{more}; one of the two rooms has the readings of another",
            found[..found.len().min(TOLD)].join(", ")
        )
        .into(),
        hint: "look at the labels; correct the name, or give `from` and `to` where it moved".to_owned(),
        unreadable: false,
    })
}
