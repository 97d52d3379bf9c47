//! The rooms of a home on the weather: a small picture.

use maud::{Markup, html};

use super::chart::{Chart, Look, Mark, Panel, Scale, line, looks, number, shortened};
use super::listing;
use crate::metrics::AgainstOutdoors;
use crate::site::{Home, Site};
use crate::units::Celsius;

/// Height of the plot, in pixels.
const SMALL: f64 = 150.0;

/// The rooms of a home on the weather; `None` where no day has both.
pub(super) fn on_the_weather(
    site: &Site,
    home: &Home,
    rooms: &[AgainstOutdoors],
    (id, title): (&str, &str),
) -> Option<Markup> {
    let shown = |x: f32| site.units.number(Celsius::new(f64::from(x)));
    let days = || rooms.iter().flat_map(|r| &r.days);
    let lines = || rooms.iter().flat_map(|r| &r.line);
    let design = site.design_outdoor.map(|t| site.units.number(t));
    let x = Scale::round(days().map(|d| shown(d[0])).chain(lines().map(|l| shown(l[0]))).chain(design))?;
    let y = Scale::round(days().map(|d| shown(d[1])).chain(lines().map(|l| shown(l[1]))))?;
    let heated: Vec<bool> = home.rooms.iter().map(|r| r.heated.surely()).collect();
    let looks = looks(&heated);
    let rise = |r: &AgainstOutdoors| match r.line.as_slice() {
        [a, .., b] => (b[1] - a[1]) / (b[0] - a[0]),
        _ => f32::NEG_INFINITY,
    };
    let steepest = rooms.iter().max_by(|a, b| rise(a).total_cmp(&rise(b))).filter(|r| !r.line.is_empty());
    let scales = Scales { site, x, y };
    let mut marks: Vec<Mark> = steepest.map(|room| scales.band(room)).into_iter().collect();
    // Where the line runs on beyond the coldest day, nobody has seen a day.
    let coldest = days().map(|d| shown(d[0])).reduce(f64::min).filter(|c| lines().any(|l| shown(l[0]) < *c));
    let beyond = coldest.map(|t| vec![[0.0, x.share(t), 0.0, SMALL]]);
    marks.splice(0..0, beyond.map(|pieces| Mark::Area { class: "beyond", pieces }));
    marks.extend(design.map(|t| Mark::Upright { class: "design", x: x.share(t) }));
    for room in rooms {
        marks.extend(scales.room(room, &home.rooms[room.room].name, looks[room.room]));
    }
    let unit = site.units.to_string();
    let chart = Chart {
        id: format!("{id}-weather"),
        title: title.to_owned(),
        description: format!("Means by day of the rooms on the mean outdoor temperature, both in {unit}."),
        note: names(home, rooms, &looks),
        class: "small",
        height: SMALL + 26.0,
        panels: vec![Panel {
            top: 0.0,
            height: SMALL,
            up: y.up(SMALL, &unit),
            marks,
            ends: Vec::new(),
            values: None,
        }],
        across: x.across(&unit),
        read: None,
        table: table(site, home, rooms),
    };
    Some(chart.draw())
}

/// Which look is which room.
fn names(home: &Home, rooms: &[AgainstOutdoors], looks: &[Look]) -> Markup {
    html! {
        @for room in rooms {
            @let look = looks[room.room];
            span.key { svg.dot-of width="10" height="10" viewBox="0 0 10 10" aria-hidden="true" { circle.dot.(look.class) cx="5" cy="5" r="3.4" {} } (shortened(&home.rooms[room.room].name, 14)) }
            " "
        }
    }
}

/// The two scales of a picture.
struct Scales<'a> {
    site: &'a Site,
    x: Scale,
    y: Scale,
}

impl Scales<'_> {
    fn shown(&self, degc: f32) -> f64 {
        self.site.units.number(Celsius::new(f64::from(degc)))
    }

    fn place(&self, outdoor: f32, room: f32) -> (f64, f64) {
        (self.x.share(self.shown(outdoor)), self.y.down(self.shown(room), SMALL))
    }

    /// Between what 95 % of single days lie.
    fn band(&self, room: &AgainstOutdoors) -> Mark {
        let edge = room.line.iter().map(|[outdoor, _, low, high]| {
            let ((x, top), (_, bottom)) = (self.place(*outdoor, *high), self.place(*outdoor, *low));
            (x, top, bottom)
        });
        Mark::Ribbon { class: "certain", edge: edge.collect() }
    }

    /// A room's line and its days.
    fn room(&self, room: &AgainstOutdoors, name: &str, look: Look) -> Vec<Mark> {
        let runs = line(room.line.iter().map(|l| Some(self.place(l[0], l[1]))));
        let line = Mark::Line { class: look.class.to_owned(), name: name.to_owned(), runs };
        let days = room.days.iter().map(|d| self.place(d[0], d[1]));
        std::iter::once(line).chain(days.map(|(x, y)| Mark::Speck { look, x, y })).collect()
    }
}

fn table(site: &Site, home: &Home, rooms: &[AgainstOutdoors]) -> Markup {
    let cell = |x: Option<f32>| {
        x.map_or("–".to_owned(), |x| number(site.units.number(Celsius::new(f64::from(x))), 1))
    };
    let heads = [
        listing::text("Room"),
        listing::figure("Days"),
        listing::figure("Line: from, outdoors"),
        listing::figure("room there"),
        listing::figure("to, outdoors"),
        listing::figure("room there"),
    ];
    let rows = html! {
        @for room in rooms { tr {
            th.text scope="row" { (home.rooms[room.room].name) } td { (room.days.len()) }
            @for end in [room.line.first(), room.line.last()] { td { (cell(end.map(|l| l[0]))) } td { (cell(end.map(|l| l[1]))) } }
        } }
    };
    listing::table(&format!("Home {}: rooms on the weather, in {}", home.name, site.units), &heads, &rows)
}
