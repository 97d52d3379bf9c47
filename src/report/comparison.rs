//! The page of a comparison: each home before and after, at like outdoor temperature, room by room, with how sure it is.

use maud::{Markup, html};

use super::chart::{Chart, Look, Mark, Panel, Rank, Scale, Tick, beside_the_axis, number};
use super::links::anchor;
use super::{listing, whole_page};
use crate::clock::Span;
use crate::compare::{ComparisonRow, NO_CAUSE, NO_SURE_CHANGE, Periods, TOLD, matching};
use crate::metrics;
use crate::site::{Site, audience};
use crate::units::{Celsius, KelvinDiff};

const STYLE: &str = include_str!("comparison.css");
/// Height of a row of the picture, in pixels.
const ROW: f64 = 24.0;
/// How the two periods are drawn.
const BEFORE: Look = Look { class: "before", heated: false };
const AFTER: Look = Look { class: "after", heated: true };

/// The page.
pub fn comparison(site: &Site, periods: Periods, rows: &[ComparisonRow]) -> String {
    let title = format!("{}: before and after", site.name);
    let span = |span: Span| format!("{} to {}", site.zone.show(span.from), site.zone.show(span.to));
    let main = html! {
        main {
            h1 { (title) }
            p.soft { "Before: " (span(periods.before)) ". After: " (span(periods.after)) ". Local time (" (site.zone.name()) ")." }
            p { (matching(rows)) " " b { (NO_CAUSE) } }
            (changed(rows))
            @if rows.iter().any(|row| row.difference().is_some()) { p.soft { (NO_SURE_CHANGE) } }
            @for of_home in rows.chunk_by(|a, b| a.home == b.home) { (home(site, of_home)) }
            p.soft { (audience(site)) " All numbers: comparison.csv; settings and files with their SHA-256: provenance.json. Made by evenrooms " (env!("CARGO_PKG_VERSION")) "." }
        }
    };
    whole_page(&title, STYLE, &main)
}

/// Where something surely changed, and where it may be nothing.
fn changed(rows: &[ComparisonRow]) -> Markup {
    let told = |row: &&ComparisonRow| TOLD.iter().any(|(metric, _)| *metric == row.metric);
    let of_home = |rows: &[ComparisonRow]| {
        let sure = rows.iter().filter(told).filter(|row| row.surely_rose().is_some());
        let mut places: Vec<String> = sure.map(|r| r.room.clone().unwrap_or("spread".to_owned())).collect();
        places.dedup();
        (rows.first().map_or(String::new(), |row| row.home.clone()), places)
    };
    let homes: Vec<(String, Vec<String>)> = rows.chunk_by(|a, b| a.home == b.home).map(of_home).collect();
    let (sure, open): (Vec<_>, Vec<_>) = homes.into_iter().partition(|(_, places)| !places.is_empty());
    let open: Vec<String> = open.into_iter().map(|(home, _)| home).collect();
    html! {
        @for (home, places) in &sure { p { b { (home) } " surely changed: " (places.join(", ")) "." } }
        @if !open.is_empty() { p { "No sure change: " (open.join(", ")) "." } }
    }
}

fn home(site: &Site, rows: &[ComparisonRow]) -> Markup {
    let name = rows.first().map_or("", |row| row.home.as_str());
    let told: Vec<(&ComparisonRow, &str)> = rows
        .iter()
        .filter_map(|row| Some((row, TOLD.iter().find(|(metric, _)| *metric == row.metric)?.1)))
        .collect();
    let left_out = rows.iter().map(ComparisonRow::left_out).max_by_key(String::len).unwrap_or_default();
    html! {
        section.compared {
            h2 { "Home " (name) }
            (picture(site, name, &told))
            (table(site, name, &told))
            @if !left_out.is_empty() { p.soft { "Days left out, outdoors at: " (left_out) "." } }
        }
    }
}

/// Each room's mean before and after.
fn picture(site: &Site, name: &str, told: &[(&ComparisonRow, &str)]) -> Markup {
    let means = told.iter().filter(|(row, _)| row.metric == &metrics::DAY_MEAN);
    let shown = |degc: f64| site.units.number(Celsius::new(degc));
    let rooms: Vec<(&str, [f64; 2])> = means
        .filter_map(|(row, _)| {
            let (before, after) = row.matched.as_ref()?.means?;
            Some((row.room.as_deref()?, [shown(before), shown(after)]))
        })
        .collect();
    let band = site.bands.occupied.map(|b| [site.units.number(b.lower), site.units.number(b.upper)]);
    let Some(scale) =
        Scale::round(rooms.iter().flat_map(|(_, ends)| *ends).chain(band.into_iter().flatten()))
    else {
        return html! {};
    };
    if rooms.is_empty() {
        return html! {};
    }
    let height = rooms.len() as f64 * ROW;
    let mut marks = Vec::new();
    if let Some(ends) = band {
        let [from, to] = ends.map(|x| scale.share(x));
        marks.push(Mark::Area { class: "band", pieces: vec![[from, to, 0.0, height]] });
    }
    let mut up = Vec::new();
    for (i, (room, ends)) in rooms.iter().enumerate() {
        let y = (i as f64 + 0.5) * ROW;
        let [before, after] = ends.map(|x| scale.share(x));
        up.push(Tick { at: y, words: beside_the_axis(room), rank: Rank::First });
        marks.push(Mark::Range { look: AFTER, from: before.min(after), to: before.max(after), y });
        marks.push(Mark::Dot { look: BEFORE, x: before, y });
        marks.push(Mark::Dot { look: AFTER, x: after, y });
    }
    let unit = site.units.to_string();
    Chart {
        id: format!("{}-compared", anchor(name)),
        title: format!("Rooms of {name} before and after"),
        description: format!("Mean of the days of each room in {unit}, at like outdoor temperature, before and after."),
        note: html! { "Mean of the days at like outdoor temperature, in " (unit) ". Hollow: before; filled: after." @if band.is_some() { " Shaded: the band by day." } },
        class: "rooms",
        height: height + 26.0,
        panels: vec![Panel { top: 0.0, height, up, marks, ends: Vec::new(), values: None }],
        across: scale.across(&unit),
        read: None,
        table: html! {},
    }
    .draw()
}

fn table(site: &Site, name: &str, told: &[(&ComparisonRow, &str)]) -> Markup {
    let heads = [
        listing::text("Room"),
        listing::text("What"),
        listing::figure("Before"),
        listing::figure("After"),
        listing::figure("Change"),
        listing::figure("95 % from … to"),
        listing::text("Sure?"),
        listing::figure("Days"),
    ];
    let rows = html! { @for (row, words) in told { (line(site, row, words)) } };
    listing::table(&format!("Home {name}, numbers of a day"), &heads, &rows)
}

fn line(site: &Site, row: &ComparisonRow, words: &str) -> Markup {
    let units = site.units;
    let value = |x: f64| match row.metric.unit {
        "°C" => units.show(Celsius::new(x)),
        "K" => units.show_difference(KelvinDiff::new(x)),
        unit => format!("{} {unit}", number(x, 1)),
    };
    let change = |x: f64| match row.difference_unit() {
        "K" => {
            format!("{} {}", number(units.difference_number(KelvinDiff::new(x)), 1), units.difference_sign())
        }
        unit => format!("{} {unit}", number(x, 1)),
    };
    let means = row.matched.as_ref().and_then(|m| m.means);
    let interval = row.matched.as_ref().and_then(|m| m.interval);
    let dash = || "–".to_owned();
    let days = row.matched.as_ref().map_or(row.days, |m| m.days);
    html! {
        tr {
            th.text scope="row" { (row.room.as_deref().unwrap_or("home")) }
            td.text { (words) }
            td { (means.map_or_else(dash, |m| value(m.0))) } td { (means.map_or_else(dash, |m| value(m.1))) }
            td { b { (row.difference().map_or_else(dash, change)) } }
            td { (interval.map_or_else(dash, |(low, high)| format!("{} … {}", change(low), change(high)))) }
            td.text { @match row.surely_rose() {
                _ if !row.why_not().is_empty() => { "not compared: " (row.why_not()) }
                Some(true) => b { "▲ rose" },
                Some(false) => b { "▼ fell" },
                None => "may be nothing",
            } }
            td { (days.0) " and " (days.1) }
        }
    }
}
