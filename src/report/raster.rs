//! Date by hour: how far a room was below its band, or above it where that is what the home is about, so that mornings, weekends and outages are seen as what they are.

use maud::{Markup, html};

use super::chart::{Chart, Mark, Panel, Rank, Tick, TimeAxis, number, shortened};
use super::decide::capital;
use super::listing;
use crate::clock::{HOUR_MS, Span, TimeOfDay};
use crate::metrics::{DayByHour, DayOfHours, OffBand};
use crate::site::{Home, Site};
use crate::units::{KelvinDiff, TemperatureUnit};

/// Pixels of an hour.
const HOUR: f64 = 5.0;
/// Classes of depth, the least first.
const COLD: [&str; 8] =
    ["cold c1", "cold c2", "cold c3", "cold c4", "cold c5", "cold c6", "cold c7", "cold c8"];
const WARM: [&str; 8] =
    ["warm c1", "warm c2", "warm c3", "warm c4", "warm c5", "warm c6", "warm c7", "warm c8"];
/// What a class is wide, in K and in °F: the same in every home, so that the shades of two homes can be held beside each other.
const WIDTHS: (f64, f64) = (0.5, 1.0);

/// The chart of a room.
pub(super) fn chart(site: &Site, home: &Home, seen: &DayByHour, id: String) -> Markup {
    let shown = |k: f32| site.units.difference_number(KelvinDiff::new(f64::from(k)));
    let width = match site.units {
        TemperatureUnit::Celsius => WIDTHS.0,
        TemperatureUnit::Fahrenheit => WIDTHS.1,
    };
    let (side, classes) = (seen.side.word(), classes(seen.side));
    let known = |day: &DayOfHours| day.off_k.iter().any(|k| !k.is_nan());
    let (first, last) = (seen.days.iter().position(known), seen.days.iter().rposition(known));
    // A clock that runs ahead must not add a day of which nothing is known.
    let seen_days = first.zip(last).map_or(&[][..], |(first, last)| &seen.days[first..=last]);
    let midnight = |date| TimeOfDay::new(0, 0).map(|at| site.zone.on(date, at));
    let ends =
        seen_days.first().and_then(|d| midnight(d.date)).zip(seen_days.last().and_then(|d| midnight(d.date)));
    let Some((first, last)) = ends else { return html! {} };
    let axis = TimeAxis::of(Span { from: first, to: last.plus_ms(24 * HOUR_MS) }, site.zone);
    let days = seen_days.len() as f64;
    let mut pieces: [Vec<[f64; 4]>; 8] = Default::default();
    let (mut missing, mut fine) = (Vec::new(), Vec::new());
    for (i, day) in seen_days.iter().enumerate() {
        for (hour, k) in day.off_k.iter().enumerate() {
            let piece =
                [i as f64 / days, (i as f64 + 1.0) / days, hour as f64 * HOUR, (hour as f64 + 1.0) * HOUR];
            match shown(*k) {
                x if x.is_nan() => missing.push(piece),
                x if x < 0.05 => fine.push(piece),
                x => pieces[((x / width).ceil() as usize).clamp(1, 8) - 1].push(piece),
            }
        }
    }
    let mut marks =
        vec![Mark::Area { class: "fine", pieces: fine }, Mark::Area { class: "missing", pieces: missing }];
    let classes = classes.into_iter().zip(pieces).filter(|(_, pieces)| !pieces.is_empty());
    marks.extend(classes.map(|(class, pieces)| Mark::Area { class, pieces }));
    let clock =
        |hour: u16| Tick { at: f64::from(hour) * HOUR, words: format!("{hour:02}:00"), rank: Rank::First };
    let room = &home.rooms[seen.room].name;
    let sign = site.units.difference_sign();
    Chart {
        id,
        title: format!("{}: {side} the band, day by hour", capital(&shortened(room, 40))),
        description: format!("For each hour of each day how far {room} was {side} its band on the mean, in {sign}: the room that was {side} it most."),
        note: legend(width, sign, seen.side),
        class: "plain",
        height: 24.0 * HOUR + 26.0,
        panels: vec![Panel {
            top: 0.0,
            height: 24.0 * HOUR,
            up: [0, 6, 12, 18, 24].map(clock).to_vec(),
            marks,
            ends: Vec::new(),
            values: None,
        }],
        across: axis.ticks(),
        read: None,
        table: table(site, seen),
    }
    .draw()
}

fn classes(side: OffBand) -> [&'static str; 8] {
    match side {
        OffBand::Below => COLD,
        OffBand::Above => WARM,
    }
}

fn legend(width: f64, sign: &str, side: OffBand) -> Markup {
    let other = match side {
        OffBand::Below => "above",
        OffBand::Above => "below",
    };
    let round = |x: f64| number(x, 2).trim_end_matches('0').trim_end_matches('.').to_owned();
    html! {
        (capital(side.word())) " by "
        @for class in classes(side) { svg.swatch width="14" height="12" aria-hidden="true" { rect.area.(class) width="14" height="12" {} } }
        ", " (round(width)) " " (sign) " a step, the last over " (round(width * 7.0)) " " (sign) ". Pale: in the band or " (other) "; grey: no data."
    }
}

fn table(site: &Site, seen: &DayByHour) -> Markup {
    let side = seen.side.word();
    let most = |k: f32| number(site.units.difference_number(KelvinDiff::new(f64::from(k))), 1);
    let heads = [
        listing::text("Day"),
        listing::figure(format!("Hours {side} the band")),
        listing::figure(format!("The most, {}", site.units.difference_sign())),
    ];
    let days = listing::day_format(seen.days.iter().map(|day| day.date));
    let rows = html! {
        @for day in seen.days.iter().filter(|d| d.hours_off > 0.0) { tr {
            th.text scope="row" { (day.date.format(days)) } td { (number(f64::from(day.hours_off), 1)) } td { (most(day.most_k)) }
        } }
    };
    listing::table(&format!("Days with hours {side} the band"), &heads, &rows)
}
