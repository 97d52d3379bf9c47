//! Mornings laid over each other: hours since recovery began, against the target.

use maud::{Markup, html};

use super::chart::{Chart, EndLabel, Look, Mark, Panel, Rank, Scale, Tick, line, number, shortened};
use super::decide::capital;
use super::listing;
use super::van::count;
use crate::metrics::{Morning, Mornings};
use crate::site::{Home, Site};
use crate::units::Celsius;

/// Height of the plot, in pixels, and the hours that it shows.
const HEIGHT: f64 = 150.0;
const HOURS: f64 = 5.0;
/// Late mornings that are named at the right end.
const NAMED: usize = 6;
const LATE: Look = Look { class: "late", heated: true };
const TARGET: Look = Look { class: "target", heated: true };

/// The chart.
pub(super) fn chart(site: &Site, home: &Home, seen: &Mornings, id: String) -> Markup {
    let shown = |degc: f64| site.units.number(Celsius::new(degc));
    let values = seen.mornings.iter().flat_map(|m| m.degc.iter().copied().chain([m.line]));
    let Some(scale) = Scale::round(values.map(|x| shown(f64::from(x)))) else { return html! {} };
    let down = |degc: f64| scale.down(shown(degc), HEIGHT);
    let (mut marks, mut ends) = (Vec::new(), Vec::new());
    let runs = |m: &Morning| line(m.hours().map(|(h, x)| (!x.is_nan()).then(|| (h / HOURS, down(x)))));
    let mut drawn: Vec<&Morning> = seen.mornings.iter().collect();
    drawn.sort_by_key(|m| m.late == Some(true));
    for morning in drawn {
        let late = morning.late == Some(true);
        let class = if late { "late" } else { "early" };
        marks.push(Mark::Line { class: class.to_owned(), name: String::new(), runs: runs(morning) });
    }
    for morning in seen.mornings.iter().rev().filter(|m| m.late == Some(true)).take(NAMED) {
        if let Some((_, y)) = runs(morning).last().and_then(|run| run.last().copied()) {
            ends.push(EndLabel { y, name: day(site, morning), look: LATE });
        }
    }
    if let Some(last) = seen.mornings.last() {
        let y = down(f64::from(last.line));
        marks.push(Mark::Line {
            class: "target".to_owned(),
            name: String::new(),
            runs: vec![vec![(0.0, y), (1.0, y)]],
        });
        marks.push(Mark::Upright { class: "limit", x: (f64::from(last.granted_h) / HOURS).min(1.0) });
        ends.push(EndLabel { y, name: "warm again".to_owned(), look: TARGET });
    }
    let late = seen.mornings.iter().filter(|m| m.late == Some(true)).count();
    let room = &home.rooms[seen.room].name;
    let hour = |h: i32| Tick {
        at: f64::from(h) / HOURS,
        words: if h == 5 { format!("{h} h") } else { h.to_string() },
        rank: Rank::First,
    };
    Chart {
        id,
        title: format!("{}: mornings laid over each other", capital(&shortened(room, 40))),
        description: format!("Temperature of {room} in the hours after each setback, in {}, against the line from which on it counts as warm again.", site.units),
        note: html! { (late) " of " (count(seen.mornings.len(), "morning")) " late" @if seen.of > seen.mornings.len() { " (of " (seen.of) " in all, the late ones and the last are drawn)" } "; strong: late. Across: hours since the setback ended. Dotted: warm again" @if let Some(last) = seen.mornings.last() { ", " (site.units.show(Celsius::new(f64::from(last.line)))) } ". Dashed upright: from then on it is late." },
        class: "named",
        height: HEIGHT + 26.0,
        panels: vec![Panel { top: 0.0, height: HEIGHT, up: scale.up(HEIGHT, &site.units.to_string()), marks, ends, values: None }],
        across: (0..=5).map(hour).collect(),
        read: None,
        table: table(site, seen),
    }
    .draw()
}

fn day(site: &Site, morning: &Morning) -> String {
    site.zone.date(morning.start).format("%-d %b").to_string()
}

fn table(site: &Site, seen: &Mornings) -> Markup {
    let shown = |degc: f64| {
        if degc.is_nan() { "–".to_owned() } else { number(site.units.number(Celsius::new(degc)), 1) }
    };
    let at = |m: &Morning, hour: f64| {
        m.hours().find(|(h, _)| *h >= hour).map_or("–".to_owned(), |(_, x)| shown(x))
    };
    let word = |late: Option<bool>| late.map_or("cut off", |late| if late { "late" } else { "in time" });
    let mut heads = vec![listing::text("Morning"), listing::text("Was")];
    heads.extend((0..=4).map(|h| listing::figure(format!("+{h} h"))));
    let date = |m: &Morning| site.zone.date(m.start);
    let days = listing::day_format(seen.mornings.iter().map(date));
    let rows = html! {
        @for m in &seen.mornings { tr {
            th.text scope="row" { (date(m).format(days)) } td.text { (word(m.late)) }
            @for h in 0..=4 { td { (at(m, f64::from(h))) } }
        } }
    };
    listing::table(&format!("Temperature in {} so long after the setback ended", site.units), &heads, &rows)
}
