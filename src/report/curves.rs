//! Curves of a home: one strip per room, all on the same scale.

use maud::{Markup, PreEscaped, html};

use crate::clock::{Span, local_days};
use crate::grid::Trace;
use crate::site::{Heated, Home, Site};
use crate::units::{Celsius, show_duration};

const WIDTH: f64 = 920.0;
const STRIP: f64 = 74.0;
const GAP: f64 = 22.0;
const LEFT: f64 = 46.0;
const BOTTOM: f64 = 18.0;

/// From numbers to places on the paper.
struct Paper {
    low: f64,
    high: f64,
    points: usize,
}

impl Paper {
    fn x(&self, point: f64) -> f64 {
        LEFT + (WIDTH - LEFT) * point / self.points.max(1) as f64
    }

    /// Place below the top of a strip.
    fn y(&self, degc: f64) -> f64 {
        STRIP * (1.0 - (degc.clamp(self.low, self.high) - self.low) / (self.high - self.low))
    }
}

/// The figure of a home.
pub(super) fn figure(site: &Site, home: &Home, trace: &Trace) -> Markup {
    let Some(paper) = paper(site, trace) else { return html! {} };
    let height = home.rooms.len() as f64 * (STRIP + GAP) + BOTTOM;
    let strips = home.rooms.iter().zip(&trace.rooms).enumerate();
    html! {
        figure {
            svg viewBox={ "0 0 " (WIDTH) " " (height) } role="img" aria-label={ "Temperatures of the rooms of home " (home.name) } {
                @for (i, (room, curve)) in strips {
                    g transform={ "translate(0 " (place(i)) ")" } {
                        text.room x=(LEFT) y="-5" { (label(&room.name)) @if room.heated == Heated::No { " (unheated)" } }
                        (band(site, &paper))
                        (days(site, &paper, trace))
                        rect.frame x=(LEFT) y="0" width=(WIDTH - LEFT) height=(STRIP) {}
                        (scale(site, &paper))
                        path class={ "curve" @if !room.heated.surely() { " unheated" } } d=(path(&paper, curve)) {}
                    }
                }
                (dates(site, &paper, trace, height))
            }
            figcaption { "All rooms on one scale; green: the band by day. Each point is the mean of " (show_duration(trace.every_ms as f64 / 1000.0)) "; a break in a line is a time without usable values." }
        }
    }
}

/// Letters of a name that fit above a strip.
const LABEL: usize = 100;

/// A drawing does not break its lines.
fn label(name: &str) -> String {
    match name.char_indices().nth(LABEL) {
        Some((end, _)) => format!("{}…", &name[..end]),
        None => name.to_owned(),
    }
}

fn place(strip: usize) -> f64 {
    strip as f64 * (STRIP + GAP) + GAP - 4.0
}

/// A scale that holds all curves and the band.
fn paper(site: &Site, trace: &Trace) -> Option<Paper> {
    let band = site.bands.occupied.iter().flat_map(|b| [b.lower.degc(), b.upper.degc()]);
    let all: Vec<f64> = trace.rooms.iter().flatten().flatten().copied().chain(band).collect();
    let low = all.iter().copied().reduce(f64::min)?.floor();
    let high = all.iter().copied().reduce(f64::max)?.ceil();
    let points = trace.rooms.iter().map(Vec::len).max()?;
    (points > 0).then_some(Paper { low, high: if high > low { high } else { low + 1.0 }, points })
}

fn band(site: &Site, paper: &Paper) -> Markup {
    html! {
        @if let Some(band) = site.bands.occupied {
            rect.band x=(LEFT) y=(paper.y(band.upper.degc())) width=(WIDTH - LEFT) height=(paper.y(band.lower.degc()) - paper.y(band.upper.degc())) {}
        }
    }
}

fn scale(site: &Site, paper: &Paper) -> Markup {
    let number = |degc: f64| format!("{:.0}°", site.units.number(Celsius::new(degc)));
    html! {
        text x=(LEFT - 4.0) y="10" text-anchor="end" { (number(paper.high)) }
        text x=(LEFT - 4.0) y=(STRIP) text-anchor="end" { (number(paper.low)) }
    }
}

fn path(paper: &Paper, curve: &[Option<f64>]) -> String {
    let mut path = String::new();
    let mut pen_down = false;
    for (i, value) in curve.iter().enumerate() {
        if let Some(degc) = value {
            let command = if pen_down { 'L' } else { 'M' };
            path.push_str(&format!("{command}{:.1} {:.1}", paper.x(i as f64 + 0.5), paper.y(*degc)));
        }
        pen_down = value.is_some();
    }
    path
}

/// Local midnights as points of the trace, with their dates.
fn midnights(site: &Site, paper: &Paper, trace: &Trace) -> Vec<(f64, String)> {
    let to = trace.from.plus_ms(trace.every_ms * paper.points as i64);
    let days = local_days(site.zone, Span { from: trace.from, to });
    let point = |d: &crate::clock::LocalDay| {
        (
            (d.span.from.ms() - trace.from.ms()) as f64 / trace.every_ms as f64,
            d.date.format("%-d %b").to_string(),
        )
    };
    days.iter().map(point).filter(|(p, _)| *p >= 0.0).collect()
}

fn days(site: &Site, paper: &Paper, trace: &Trace) -> Markup {
    let midnights = midnights(site, paper, trace);
    let few = midnights.len() <= 62;
    html! { @if few { @for (point, _) in midnights { line.day x1=(places(paper.x(point))) x2=(places(paper.x(point))) y1="0" y2=(STRIP) {} } } }
}

fn dates(site: &Site, paper: &Paper, trace: &Trace, height: f64) -> Markup {
    let midnights = midnights(site, paper, trace);
    let every = midnights.len().div_ceil(11).max(1);
    html! {
        @for (point, date) in midnights.into_iter().step_by(every) { text x=(places(paper.x(point))) y=(height - 4.0) { (date) } }
    }
}

fn places(x: f64) -> PreEscaped<String> {
    PreEscaped(format!("{x:.1}"))
}
