//! Every room of the building on one axis: median, and from the 5th to the 95th percentile.

use maud::{Markup, html};

use super::chart::{
    Anchor, Chart, Look, Mark, Panel, Rank, Scale, Tick, beside_the_axis, looks, number, shortened,
};
use super::listing;
use super::shown::{Shown, many};
use crate::metrics::{self, Metric};
use crate::site::{Room, Site};
use crate::units::Celsius;

/// Pixels of a page that all rooms share, what a room has at least and at most, and below what its dot is small.
const SHARED: f64 = 540.0;
const ROOM: (f64, f64) = (3.5, 13.0);
const NARROW: f64 = 8.0;
/// Pixels that a name takes.
const NAME: f64 = 12.0;
/// Pixels between homes, where there are many and where there are few.
const GAP: (f64, f64) = (5.0, 9.0);

/// The rooms on their scale.
struct Axis<'a> {
    site: &'a Site,
    scale: Scale,
    /// Pixels from room to room.
    pitch: f64,
}

/// The chart; nothing where no room has a value.
pub(super) fn every_room(site: &Site, homes: &[Shown<'_>]) -> Markup {
    let rooms = homes.iter().flat_map(|h| h.home.rooms.iter().map(move |r| (h, r)));
    let ends =
        rooms.flat_map(|(h, r)| [&metrics::P05, &metrics::P95].map(|m| value(site, h, r, m))).flatten();
    let limits = site.bands.occupied.iter().flat_map(|b| [b.lower, b.upper]).map(|t| site.units.number(t));
    let Some(scale) = Scale::round(ends.chain(limits).chain(minima(site))) else { return html! {} };
    let count: usize = homes.iter().map(|h| h.home.rooms.len()).sum();
    let gap = if many(homes) { GAP.0 } else { GAP.1 };
    let pitch = ((SHARED - homes.len() as f64 * gap) / count.max(1) as f64).clamp(ROOM.0, ROOM.1);
    let axis = Axis { site, scale, pitch };
    let (mut rooms, mut up, mut y): (Vec<Mark>, Vec<Tick>, f64) = (Vec::new(), Vec::new(), gap);
    let mut named = f64::NEG_INFINITY;
    for home in homes {
        let heated: Vec<bool> = home.home.rooms.iter().map(|r| r.heated.surely()).collect();
        let middle = y + (heated.len() as f64 - 1.0) * pitch / 2.0;
        up.push(Tick { at: middle, words: beside_the_axis(&home.audit.name), rank: Rank::First });
        for (room, look) in home.home.rooms.iter().zip(looks(&heated)) {
            // Names would lie over each other: the first of neighbours has its own, the table all.
            let with_name = y - named >= NAME;
            let marks = axis.room(home, room, look, (y, with_name));
            if marks.iter().any(|mark| matches!(mark, Mark::Words { .. })) {
                named = y;
            }
            rooms.extend(marks);
            y += pitch;
        }
        y += gap;
    }
    let marks = axis.asked(y).into_iter().chain(rooms).collect();
    let unit = site.units.to_string();
    Chart {
        id: "every-room".to_owned(),
        title: "Every room on one axis".to_owned(),
        description: format!("Median and the middle 90 % of the hours of each room, in {unit}, the homes that need most first."),
        note: html! { "Dot: half of the hours are warmer, half colder; line: the middle 90 % of the hours. Filled: heated; hollow: not heated, or not known." @if site.bands.occupied.is_some() { " Shaded: the band by day." } @if site.heat_rule.is_some() { " Dotted: minimum of the heat rule." } },
        class: "rooms",
        height: y + 26.0,
        panels: vec![Panel { top: 0.0, height: y, up, marks, ends: Vec::new(), values: None }],
        across: scale.across(&unit),
        read: None,
        table: table(site, homes),
    }
    .draw()
}

/// A number of a room in the unit for people.
fn value(site: &Site, home: &Shown<'_>, room: &Room, metric: &Metric) -> Option<f64> {
    let row = home.numbers.value(site.judged_period(), Some(&room.name), metric)?;
    Some(site.units.number(Celsius::new(row.value)))
}

/// What the heat rule asks for, each once.
fn minima(site: &Site) -> Vec<f64> {
    let windows = site.heat_rule.iter().flat_map(|r| &r.windows);
    let mut all: Vec<f64> = windows.map(|w| site.units.number(w.minimum)).collect();
    all.sort_by(f64::total_cmp);
    all.dedup();
    all
}

impl Axis<'_> {
    /// The band, and what the heat rule asks for.
    fn asked(&self, height: f64) -> Vec<Mark> {
        let share = |t: Celsius| self.scale.share(self.site.units.number(t));
        let band = self.site.bands.occupied.map(|b| [share(b.lower), share(b.upper), 0.0, height]);
        let band = band.map(|piece| Mark::Area { class: "band", pieces: vec![piece] });
        let minima = minima(self.site).into_iter();
        let minima = minima.map(|t| Mark::Upright { class: "minimum", x: self.scale.share(t) });
        band.into_iter().chain(minima).collect()
    }

    /// A room; one outside of the band has its name beside it.
    fn room(&self, home: &Shown<'_>, room: &Room, look: Look, (y, with_name): (f64, bool)) -> Vec<Mark> {
        let of = |metric| value(self.site, home, room, metric);
        let (Some(median), Some(low), Some(high)) =
            (of(&metrics::MEDIAN), of(&metrics::P05), of(&metrics::P95))
        else {
            return Vec::new();
        };
        let [x, from, to] = [median, low, high].map(|t| self.scale.share(t));
        let dot = if self.pitch < NARROW { Mark::Speck { look, x, y } } else { Mark::Dot { look, x, y } };
        let limit = |t: Celsius| self.site.units.number(t);
        let band = self.site.bands.occupied;
        let colder = band.is_some_and(|b| median < limit(b.lower));
        let outside = colder || band.is_some_and(|b| median > limit(b.upper));
        let name = (outside && with_name).then(|| beside(&room.name, (from, to), colder, y));
        [Mark::Range { look, from, to, y }, dot].into_iter().chain(name).collect()
    }
}

/// A room's name on the side that leads away from the others, where there is room for it.
fn beside(name: &str, (low, high): (f64, f64), colder: bool, y: f64) -> Mark {
    let text = shortened(name, 18);
    let (x, anchor, text) = match (colder && low > 0.2) || high > 0.8 {
        true => (low, Anchor::End, format!("{text}\u{a0}\u{a0}")),
        false => (high, Anchor::Start, format!("\u{a0}\u{a0}{text}")),
    };
    Mark::Words { class: "room", x, y: y + 4.0, anchor, text }
}

fn table(site: &Site, homes: &[Shown<'_>]) -> Markup {
    let cell = |home: &Shown<'_>, room: &Room, metric: &Metric| {
        value(site, home, room, metric).map_or("–".to_owned(), |x| number(x, 1))
    };
    let heads = [
        listing::text("Home"),
        listing::text("Room"),
        listing::text("Heated"),
        listing::figure("5 % below"),
        listing::figure("Median"),
        listing::figure("95 % below"),
    ];
    let rows = html! {
        @for home in homes { @for room in &home.home.rooms { tr {
            th.text scope="row" { (home.audit.name) } td.text { (room.name) } td.text { (room.heated.word()) }
            @for metric in [&metrics::P05, &metrics::MEDIAN, &metrics::P95] { td { (cell(home, room, metric)) } }
        } } }
    };
    listing::table(&format!("Rooms in {}, {}", site.units, site.judged_period()), &heads, &rows)
}
