//! The picture of a complaint: the rooms in just that time, what the heat rule asked for, the other homes, and outdoors.

use maud::html;

use super::chart::{Chart, EndLabel, Look, Mark, Panel, ReadOff, Scale, TimeAxis};
use super::curves::{Picture, unit};
use crate::clock::HOUR_MS;
use crate::complaint::Complaint;
use crate::grid::Trace;
use crate::metrics::DaySeen;
use crate::units::Celsius;

/// Heights of the plot and of the room for its ticks, in pixels.
const PLOT: f64 = 165.0;
const TICKS: f64 = 24.0;

/// How the minimum is drawn.
const MINIMUM: Look = Look { class: "minimum", heated: true };

/// The figure; nothing where no room has a value in this time.
pub(super) fn figure(complaint: &Complaint<'_>, trace: &Trace) -> maud::Markup {
    let site = complaint.site();
    let axis = TimeAxis::of(complaint.period.span, site.zone);
    let days = days(complaint);
    let picture =
        Picture { site, home: complaint.of_roster, trace, cases: &[], days: &days, id: "rooms".to_owned() };
    let Some(scale) = scale(complaint, &picture) else { return html! {} };
    let mut panels = vec![rooms(complaint, &picture, &axis, scale)];
    let mut height = PLOT + TICKS;
    if let Some(panel) = picture.outdoors(&axis, height + 6.0) {
        height += panel.height + 12.0;
        panels.push(panel);
    }
    let others = complaint.heard.others.ranges.len();
    Chart {
        id: "rooms".to_owned(),
        title: format!("Home {} in this time", complaint.home.name),
        description: format!("Temperatures of the rooms in {}, with the minimum and the other homes.", unit(site)),
        note: html! {
            (unit(site)) ", local time. Solid: heated rooms; dashed: not heated, or not known."
            @if others > 0 { " Grey: from the coldest to the warmest of the other homes, hour by hour, each the mean of its rooms." }
            @if !complaint.heard.minima.is_empty() { " Dotted red: the minimum, where it held." }
        },
        class: "named",
        height,
        panels,
        across: axis.ticks(),
        read: Some(ReadOff {
            time_ms: [axis.span.from.ms(), axis.span.to.ms()],
            zone: site.zone.name().to_owned(),
            view: None,
            unit: unit(site),
        }),
        table: picture.table(),
    }
    .draw()
}

/// Means of the days of this time, for the table behind it.
fn days(complaint: &Complaint<'_>) -> Vec<DaySeen> {
    let (zone, span) = (complaint.site().zone, complaint.period.span);
    let dates = zone.date(span.from)..=zone.date(span.to.plus_ms(-1));
    complaint.home.pictures.days.iter().filter(|day| dates.contains(&day.date)).cloned().collect()
}

/// A scale that holds the rooms, the minimum and the other homes.
fn scale(complaint: &Complaint<'_>, picture: &Picture<'_>) -> Option<Scale> {
    let rooms =
        || picture.trace.rooms.iter().flatten().flatten().map(|x| f64::from(*x)).filter(|x| !x.is_nan());
    rooms().next()?;
    let minima = complaint.heard.minima.iter().map(|(_, degc)| *degc);
    let others = complaint.heard.others.ranges.iter().flat_map(|(_, ends)| *ends);
    Scale::round(rooms().chain(minima).chain(others).map(|degc| picture.shown(degc)))
}

fn rooms(complaint: &Complaint<'_>, picture: &Picture<'_>, axis: &TimeAxis, scale: Scale) -> Panel {
    let down = |degc: f64| scale.down(picture.shown(degc), PLOT);
    let hour = |(from, [low, high]): &(crate::clock::UtcTime, [f64; 2])| {
        let span = crate::clock::Span { from: *from, to: from.plus_ms(HOUR_MS) };
        axis.shares(span).map(|(from, to)| [from, to, down(*high), down(*low)])
    };
    let pieces = complaint.heard.others.ranges.iter().filter_map(hour).collect();
    let held = complaint.heard.minima.iter().filter_map(|(span, degc)| Some((axis.shares(*span)?, *degc)));
    let held: Vec<((f64, f64), f64)> = held.collect();
    let runs = held.iter().map(|((from, to), degc)| vec![(*from, down(*degc)), (*to, down(*degc))]).collect();
    let mut marks = vec![
        Mark::Area { class: "others", pieces },
        Mark::Line { class: "minimum".to_owned(), name: String::new(), runs },
    ];
    let mut ends = Vec::new();
    for ((room, curve), look) in
        complaint.of_roster.rooms.iter().zip(&picture.trace.rooms).zip(picture.looks())
    {
        let runs = picture.points(axis, scale, PLOT, curve);
        if let Some((_, y)) = runs.last().and_then(|run| run.last()) {
            ends.push(EndLabel { y: *y, name: room.name.clone(), look });
        }
        marks.push(Mark::Line { class: look.class.to_owned(), name: room.name.clone(), runs });
    }
    // Each minimum is named once, at the right.
    let mut named: Vec<f64> = Vec::new();
    for (_, degc) in held {
        if !named.contains(&degc) {
            named.push(degc);
            let asked = complaint.site().units.show(Celsius::new(degc)).replace(".0 ", " ");
            ends.push(EndLabel { y: down(degc), name: format!("asked {asked}"), look: MINIMUM });
        }
    }
    let up = scale.up(PLOT, unit(complaint.site()));
    Panel { top: 0.0, height: PLOT, up, marks, ends, values: Some([scale.low, scale.high]) }
}
