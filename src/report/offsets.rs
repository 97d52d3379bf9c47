//! How far each room is from the heated ones, with its interval against the margin.

use maud::{Markup, html};

use super::chart::{Chart, Mark, Panel, Rank, Scale, Tick, beside_the_axis, looks, number};
use super::listing;
use crate::audit::HomeNumbers;
use crate::metrics::{self, Evenness, MetricRow};
use crate::site::{Home, Site};
use crate::units::KelvinDiff;

/// Pixels of a room.
const ROW: f64 = 20.0;

/// The chart; nothing where no room has an offset.
pub(super) fn chart(site: &Site, home: &Home, numbers: &HomeNumbers<'_>, id: String) -> Markup {
    let period = site.judged_period();
    let shown = |k: f64| site.units.difference_number(KelvinDiff::new(k));
    let of = |room: &str| numbers.value(period, Some(room), &metrics::OFFSET_FROM_REFERENCE);
    let rows: Vec<Option<&MetricRow>> = home.rooms.iter().map(|r| of(&r.name)).collect();
    let ends = |row: &MetricRow| row.interval.map_or([row.value; 2], |i| [i.low, i.high]);
    let all = rows.iter().flatten().flat_map(|row| {
        let [low, high] = ends(row);
        [low, row.value, high]
    });
    let margin = site.spread.margin.k();
    // A little beyond the margin, so that its edges are seen.
    let around = [-1.25 * margin, 1.25 * margin];
    let Some(scale) = Scale::round(all.chain(around).map(shown)).filter(|_| rows.iter().any(Option::is_some))
    else {
        return html! {};
    };
    let height = rows.len() as f64 * ROW;
    let band = [scale.share(shown(-margin)), scale.share(shown(margin)), 0.0, height];
    let mut marks = vec![
        Mark::Area { class: "band", pieces: vec![band] },
        Mark::Upright { class: "nothing", x: scale.share(0.0) },
    ];
    let heated: Vec<bool> = home.rooms.iter().map(|r| r.heated.surely()).collect();
    let mut up = Vec::new();
    for (i, ((room, row), look)) in home.rooms.iter().zip(&rows).zip(looks(&heated)).enumerate() {
        let y = (i as f64 + 0.5) * ROW;
        up.push(Tick { at: y, words: beside_the_axis(&room.name), rank: Rank::First });
        let Some(row) = row else { continue };
        let [from, to] = ends(row).map(|k| scale.share(shown(k)));
        marks.push(Mark::Range { look, from, to, y });
        marks.push(Mark::Dot { look, x: scale.share(shown(row.value)), y });
    }
    let sign = site.units.difference_sign();
    Chart {
        id,
        title: "How far each room is from the other heated ones".to_owned(),
        description: format!("Mean offset of each room from the median of the heated rooms, in {sign}, with its 90 % interval, and the margin within which it counts as even."),
        note: html! { "Mean over the days; a heated room is held against the other heated rooms; 90 % sure between the ends. Shaded: the margin, ±" (site.units.show_difference(site.spread.margin)) ". Filled: heated; hollow: not heated, or not known." },
        class: "rooms",
        height: height + 26.0,
        panels: vec![Panel { top: 0.0, height, up, marks, ends: Vec::new(), values: None }],
        across: scale.across(sign),
        read: None,
        table: table(site, home, numbers),
    }
    .draw()
}

fn table(site: &Site, home: &Home, numbers: &HomeNumbers<'_>) -> Markup {
    let period = site.judged_period();
    let show = |k: f64| number(site.units.difference_number(KelvinDiff::new(k)), 1);
    let heads = [
        listing::text("Room"),
        listing::figure("Offset"),
        listing::figure("90 % sure"),
        listing::text("Verdict"),
    ];
    let rows = html! {
        @for room in &home.rooms {
            @let of = |metric| numbers.value(period, Some(&room.name), metric);
            @let offset = of(&metrics::OFFSET_FROM_REFERENCE);
            tr {
                th.text scope="row" { (room.name) }
                td { (offset.map_or("–".to_owned(), |r| show(r.value))) }
                td.possible { (offset.and_then(|r| r.interval).map_or("–".to_owned(), |i| format!("{} … {}", show(i.low), show(i.high)))) }
                td.text { (of(&metrics::EVENNESS_VERDICT).map_or("not judged", |r| Evenness::of(r.value).word())) }
            }
        }
    };
    listing::table(
        &format!("Offset from the heated rooms in {}, {period}", site.units.difference_sign()),
        &heads,
        &rows,
    )
}
