//! The building part: every room on one axis, how far apart the rooms of each home are, and homes on the weather.

use maud::{Markup, html};

use super::chart::{Anchor, Chart, Mark, Panel, Rank, Scale, Tick, line, looks, number, shortened};
use super::listing;
use crate::audit::{Audit, HomeAudit, HomeNumbers};
use crate::metrics::{self, AgainstOutdoors, Metric, MetricRow};
use crate::site::{Home, Site};
use crate::units::{Celsius, KelvinDiff};

/// Homes of a picture: of more, the worst are shown and the rest has its pages.
const MOST_HOMES: usize = 30;
/// Homes with a picture on the weather here; every home has its own on its page.
const MOST_SMALL: usize = 12;
/// Pixels of a page that all rooms share, what a room has at least and at most, and below what its dot is small.
const SHARED: f64 = 680.0;
const ROOM: (f64, f64) = (3.5, 13.0);
const NARROW: f64 = 8.0;
/// Pixels between homes; of all rows of a picture of homes together, and of one at most.
const GAP: (f64, f64) = (5.0, 9.0);
const ROWS: (f64, f64) = (300.0, 20.0);
/// Height of a small picture.
const SMALL: f64 = 150.0;

/// A home with its rooms and its numbers.
struct Shown<'a> {
    home: &'a Home,
    audit: &'a HomeAudit,
    numbers: HomeNumbers<'a>,
}

/// The part; `homes`: the worst first.
pub(super) fn part(audit: &Audit, homes: &[&HomeAudit]) -> Markup {
    let site = &audit.site;
    let of_roster = |name: &str| site.homes.iter().find(|h| h.name == name);
    let shown = homes
        .iter()
        .take(MOST_HOMES)
        .filter_map(|h| Some(Shown { home: of_roster(&h.name)?, audit: h, numbers: HomeNumbers::of(h) }));
    let shown: Vec<Shown<'_>> = shown.collect();
    let small = homes.iter().take(MOST_SMALL).filter_map(|h| {
        let home = of_roster(&h.name)?;
        let words = format!("Home {}", h.name);
        on_the_weather(
            site,
            home,
            &h.pictures.against_outdoors,
            (&format!("{}-all", super::homes::anchor(h)), &words),
        )
    });
    let small: Vec<Markup> = small.collect();
    html! {
        section.building-part {
            h2 { "The building" }
            @if homes.len() > MOST_HOMES { p.soft { "Shown: the " (MOST_HOMES) " homes that need most; every home has its page below." } }
            (every_room(site, &shown))
            (spreads(site, &shown))
            @if !small.is_empty() {
                h3 { "Against outdoors" }
                p.soft { "Each dot is a day: the mean of the room in the hours that are not night, over the day's mean outdoor temperature. Line: where the record carries one, with 95 % of single days in the grey band of the steepest. Filled: heated; hollow: not heated." @if site.design_outdoor.is_some() { " Dashed upright: the design temperature." } @if homes.len() > MOST_SMALL { " The " (MOST_SMALL) " homes that need most; the others on their pages." } }
                div.multiples { @for chart in &small { (chart) } }
            }
        }
    }
}

fn shown_unit(site: &Site, degc: f64) -> f64 {
    site.units.number(Celsius::new(degc))
}

/// Every room on one axis: median, and from the 5th to the 95th percentile.
fn every_room(site: &Site, homes: &[Shown<'_>]) -> Markup {
    let period = site.judged_period();
    let value = |home: &Shown<'_>, room: &str, metric: &Metric| {
        home.numbers.value(period, Some(room), metric).map(|row| shown_unit(site, row.value))
    };
    let all = homes.iter().flat_map(|h| h.home.rooms.iter().map(move |r| (h, r.name.as_str())));
    let ends = all.flat_map(|(h, room)| [&metrics::P05, &metrics::P95].map(|m| value(h, room, m))).flatten();
    let band = site.bands.occupied;
    let limits = band.iter().flat_map(|b| [b.lower, b.upper]).map(|t| site.units.number(t));
    let minima: Vec<f64> =
        site.heat_rule.iter().flat_map(|r| &r.windows).map(|w| site.units.number(w.minimum)).collect();
    let Some(scale) = Scale::round(ends.chain(limits).chain(minima.iter().copied())) else { return html! {} };
    let rooms: usize = homes.iter().map(|h| h.home.rooms.len()).sum();
    let gap = if homes.len() > MOST_SMALL { GAP.0 } else { GAP.1 };
    let pitch = ((SHARED - homes.len() as f64 * gap) / rooms.max(1) as f64).clamp(ROOM.0, ROOM.1);
    let (mut marks, mut up, mut y) = (Vec::new(), Vec::new(), gap);
    for home in homes {
        let heated: Vec<bool> = home.home.rooms.iter().map(|r| r.heated.surely()).collect();
        let middle = y + (heated.len() as f64 - 1.0) * pitch / 2.0;
        up.push(Tick { at: middle, words: shortened(&home.audit.name, 20), rank: Rank::First });
        for (room, look) in home.home.rooms.iter().zip(looks(&heated)) {
            let of = |metric| value(home, &room.name, metric);
            if let (Some(median), Some(low), Some(high)) =
                (of(&metrics::MEDIAN), of(&metrics::P05), of(&metrics::P95))
            {
                marks.push(Mark::Range { look, from: scale.share(low), to: scale.share(high), y });
                let x = scale.share(median);
                marks.push(if pitch < NARROW {
                    Mark::Speck { look, x, y }
                } else {
                    Mark::Dot { look, x, y }
                });
                let colder = band.is_some_and(|b| median < site.units.number(b.lower));
                let warmer = band.is_some_and(|b| median > site.units.number(b.upper));
                if colder || warmer {
                    marks.push(beside(&room.name, (scale.share(low), scale.share(high)), colder, y));
                }
            }
            y += pitch;
        }
        y += gap;
    }
    let height = y;
    let mut ground = Vec::new();
    if let Some(b) = band {
        let piece =
            [scale.share(site.units.number(b.lower)), scale.share(site.units.number(b.upper)), 0.0, height];
        ground.push(Mark::Area { class: "band", pieces: vec![piece] });
    }
    let mut minima = minima;
    minima.sort_by(f64::total_cmp);
    minima.dedup();
    ground.extend(minima.into_iter().map(|t| Mark::Upright { class: "minimum", x: scale.share(t) }));
    ground.extend(marks);
    let unit = site.units.to_string();
    Chart {
        id: "every-room".to_owned(),
        title: "Every room on one axis".to_owned(),
        description: format!("Median and the middle 90 % of the hours of each room, in {unit}, the homes that need most first."),
        note: html! { "Dot: median; line: the middle 90 % of the hours. Filled: heated; hollow: not heated." @if band.is_some() { " Shaded: the band by day." } @if site.heat_rule.is_some() { " Dotted: minimum of the heat rule." } },
        class: "rooms",
        height: height + 26.0,
        panels: vec![Panel { top: 0.0, height, up, marks: ground, ends: Vec::new(), values: None }],
        across: scale.across(&unit),
        read: None,
        table: rooms_table(site, homes),
    }
    .draw()
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

fn rooms_table(site: &Site, homes: &[Shown<'_>]) -> Markup {
    let period = site.judged_period();
    let cell = |home: &Shown<'_>, room: &str, metric: &Metric| {
        let row = home.numbers.value(period, Some(room), metric);
        row.map_or("–".to_owned(), |r| number(shown_unit(site, r.value), 1))
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
            @for metric in [&metrics::P05, &metrics::MEDIAN, &metrics::P95] { td { (cell(home, &room.name, metric)) } }
        } } }
    };
    listing::table(&format!("Rooms in {}, {period}", site.units), &heads, &rows)
}

/// How far apart the rooms of each home are.
fn spreads(site: &Site, homes: &[Shown<'_>]) -> Markup {
    let (units, period) = (site.units, site.judged_period());
    let number_of = |k: f64| units.difference_number(KelvinDiff::new(k));
    let of = |h: &Shown<'_>, metric: &Metric| h.numbers.value(period, None, metric).cloned();
    let rows: Vec<(&Shown<'_>, [Option<MetricRow>; 3])> = homes
        .iter()
        .map(|h| {
            (
                h,
                [&metrics::SPREAD_MEDIAN, &metrics::SPREAD_P95, &metrics::SPREAD_NOISE_FLOOR]
                    .map(|m| of(h, m)),
            )
        })
        .filter(|(_, rows)| rows[0].is_some())
        .collect();
    let ends = |row: &MetricRow| row.interval.map_or([row.value; 2], |i| [i.low, i.high]);
    let all = rows.iter().flat_map(|(_, rows)| rows[..2].iter().flatten()).flat_map(|row| {
        let [low, high] = ends(row);
        [low, row.value, high]
    });
    let limit = site.spread.limit.k();
    let Some(scale) = Scale::round(all.chain([0.0, limit]).map(number_of)).filter(|_| !rows.is_empty())
    else {
        return html! {};
    };
    let (mut marks, mut up) =
        (vec![Mark::Upright { class: "limit", x: scale.share(number_of(limit)) }], Vec::new());
    let pitch = (ROWS.0 / rows.len() as f64).min(ROWS.1);
    for (i, (home, values)) in rows.iter().enumerate() {
        let y = (i as f64 + 0.5) * pitch;
        up.push(Tick { at: y, words: shortened(&home.audit.name, 20), rank: Rank::First });
        for (row, look) in values[..2].iter().zip(looks(&[true, false])) {
            let Some(row) = row else { continue };
            let [from, to] = ends(row).map(|k| scale.share(number_of(k)));
            marks.push(Mark::Range { look, from, to, y });
            let x = scale.share(number_of(row.value));
            marks.push(if pitch < ROWS.1 { Mark::Speck { look, x, y } } else { Mark::Dot { look, x, y } });
        }
        if let Some(floor) = &values[2] {
            let x = scale.share(number_of(floor.value));
            marks.push(Mark::Words {
                class: "tick",
                x,
                y: y + 4.0,
                anchor: Anchor::Middle,
                text: "|".to_owned(),
            });
        }
    }
    let height = rows.len() as f64 * pitch;
    let sign = units.difference_sign();
    Chart {
        id: "spreads".to_owned(),
        title: "How far apart the rooms of each home are".to_owned(),
        description: format!("Spread, the warmest minus the coldest room at the same moment, in {sign}: median and 95th percentile with their intervals, against the limit."),
        note: html! { "Spread: the warmest minus the coldest room at the same moment. Filled: half of the time less; hollow: 95 % of the time less; lines: 95 % sure. Dashed: the limit, " (units.show_difference(site.spread.limit)) ". |: what sensors like these show in rooms that are equally warm." },
        class: "rooms",
        height: height + 26.0,
        panels: vec![Panel { top: 0.0, height, up, marks, ends: Vec::new(), values: None }],
        across: scale.across(sign),
        read: None,
        table: spread_table(site, &rows),
    }
    .draw()
}

fn spread_table(site: &Site, rows: &[(&Shown<'_>, [Option<MetricRow>; 3])]) -> Markup {
    let show = |k: f64| number(site.units.difference_number(KelvinDiff::new(k)), 1);
    let range = |row: &Option<MetricRow>| {
        row.as_ref()
            .and_then(|r| r.interval)
            .map_or("–".to_owned(), |i| format!("{} … {}", show(i.low), show(i.high)))
    };
    let value = |row: &Option<MetricRow>| row.as_ref().map_or("–".to_owned(), |r| show(r.value));
    let heads = [
        listing::text("Home"),
        listing::figure("Median"),
        listing::figure("95 % sure"),
        listing::figure("95th percentile"),
        listing::figure("95 % sure"),
        listing::figure("Sensors alone"),
    ];
    let body = html! {
        @for (home, [median, p95, floor]) in rows { tr {
            th.text scope="row" { (home.audit.name) }
            td { (value(median)) } td.possible { (range(median)) } td { (value(p95)) } td.possible { (range(p95)) } td { (value(floor)) }
        } }
    };
    let caption = format!("Spread in {}, {}", site.units.difference_sign(), site.judged_period());
    listing::table(&caption, &heads, &body)
}

/// The rooms of a home on the weather; `None` where no day has both.
pub(super) fn on_the_weather(
    site: &Site,
    home: &Home,
    rooms: &[AgainstOutdoors],
    (id, title): (&str, &str),
) -> Option<Markup> {
    let shown = |x: f32| shown_unit(site, f64::from(x));
    let days = || rooms.iter().flat_map(|r| &r.days);
    let lines = || rooms.iter().flat_map(|r| &r.line);
    let design = site.design_outdoor.map(|t| site.units.number(t));
    let x = Scale::round(days().map(|d| shown(d[0])).chain(lines().map(|l| shown(l[0]))).chain(design))?;
    let y = Scale::round(days().map(|d| shown(d[1])).chain(lines().map(|l| shown(l[1]))))?;
    let place = |outdoor: f32, room: f32| (x.share(shown(outdoor)), y.down(shown(room), SMALL));
    let heated: Vec<bool> = home.rooms.iter().map(|r| r.heated.surely()).collect();
    let looks = looks(&heated);
    let rise = |r: &AgainstOutdoors| match r.line.as_slice() {
        [a, .., b] => (b[1] - a[1]) / (b[0] - a[0]),
        _ => f32::NEG_INFINITY,
    };
    let steepest = rooms.iter().max_by(|a, b| rise(a).total_cmp(&rise(b))).filter(|r| !r.line.is_empty());
    let mut marks: Vec<Mark> = Vec::new();
    if let Some(room) = steepest {
        let edge = room
            .line
            .iter()
            .map(|l| (x.share(shown(l[0])), y.down(shown(l[3]), SMALL), y.down(shown(l[2]), SMALL)));
        marks.push(Mark::Ribbon { class: "certain", edge: edge.collect() });
    }
    if let Some(design) = design {
        marks.push(Mark::Upright { class: "design", x: x.share(design) });
    }
    for room in rooms {
        let look = looks[room.room];
        let runs = line(room.line.iter().map(|l| Some(place(l[0], l[1]))));
        marks.push(Mark::Line {
            class: look.class.to_owned(),
            name: home.rooms[room.room].name.clone(),
            runs,
        });
        marks.extend(room.days.iter().map(|d| {
            let (x, y) = place(d[0], d[1]);
            Mark::Speck { look, x, y }
        }));
    }
    let unit = site.units.to_string();
    let chart = Chart {
        id: format!("{id}-weather"),
        title: title.to_owned(),
        description: format!("Means by day of the rooms on the mean outdoor temperature, both in {unit}."),
        note: html! {},
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
        table: weather_table(site, home, rooms),
    };
    Some(chart.draw())
}

fn weather_table(site: &Site, home: &Home, rooms: &[AgainstOutdoors]) -> Markup {
    let cell = |x: Option<f32>| x.map_or("–".to_owned(), |x| number(shown_unit(site, f64::from(x)), 1));
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
