//! The picture of a home: all rooms over time on one scale, with what is asked of them, what happened, and where nothing is known.

use maud::{Markup, html};

use super::chart::{
    Chart, EndLabel, Look, Mark, Panel, ReadOff, Scale, TimeAxis, line, looks, number, on_a_narrow_page,
};
use super::listing;
use crate::cases::{Case, Course, rooms_words};
use crate::clock::{Span, UtcTime, local_days};
use crate::grid::{Curve, Trace};
use crate::metrics::DaySeen;
use crate::site::{Band, Home, Site};
use crate::units::{Celsius, show_duration};

/// Height of a line of names, of a bracket with its name, and of the outdoor strip, in pixels.
const NAME: f64 = 14.0;
const BRACKET: f64 = 22.0;
const STRIP: f64 = 56.0;
/// Room for the ticks below a panel.
const TICKS: f64 = 26.0;
/// Letters of a name over a bracket, with what is left out of longer ones.
const MOST_LETTERS: usize = 40;
/// Brackets that stand above each other at most.
const MOST_ROWS: usize = 5;
/// A room without values for so long altogether has a lane that shows where.
const HOLES_H: f64 = 3.0;

/// What a picture is made of.
pub(super) struct Picture<'a> {
    pub(super) site: &'a Site,
    pub(super) home: &'a Home,
    pub(super) trace: &'a Trace,
    /// What happened.
    pub(super) cases: &'a [Case],
    /// Means of the days, for the table behind it.
    pub(super) days: &'a [DaySeen],
    /// Unlike any other in the page.
    pub(super) id: String,
}

impl Picture<'_> {
    /// The figure; nothing where no room has a value.
    pub(super) fn draw(&self) -> Markup {
        let Some(scale) = self.scale() else { return html! {} };
        let height = (self.home.rooms.len() as f64 * NAME + 20.0).max(230.0);
        let axis = TimeAxis::of(self.trace.span(), self.site.zone);
        let rows = self.brackets(&axis);
        let above = rows.iter().map(|(row, _)| row + 1).max().unwrap_or(0) as f64 * BRACKET + 6.0;
        let mut panels = vec![self.rooms(&axis, scale, (above, height), &rows)];
        let mut top = above + height + TICKS;
        for panel in [self.holes(&axis, top), None].into_iter().flatten() {
            top += panel.height + 8.0;
            panels.push(panel);
        }
        if let Some(panel) = self.outdoors(&axis, top + 8.0) {
            top += panel.height + 16.0;
            panels.push(panel);
        }
        let view = self.view(&axis);
        let ticks = view.map_or_else(|| axis.ticks(), |(span, shares)| ticks_within(span, shares, self.site));
        Chart {
            id: self.id.clone(),
            title: "What the rooms did".to_owned(),
            description: self.description(),
            note: self.note(view.map(|v| v.0)),
            class: "named",
            height: top,
            panels,
            across: ticks,
            read: Some(ReadOff {
                time_ms: [axis.span.from.ms(), axis.span.to.ms()],
                zone: self.site.zone.name().to_owned(),
                view: view.map(|v| v.1),
                unit: unit(self.site),
            }),
            table: self.table(),
        }
        .draw()
    }

    pub(super) fn shown(&self, degc: f64) -> f64 {
        self.site.units.number(Celsius::new(degc))
    }

    /// A scale that holds all curves, the band and the minimum.
    fn scale(&self) -> Option<Scale> {
        let curves =
            || self.trace.rooms.iter().flatten().flatten().map(|x| f64::from(*x)).filter(|x| !x.is_nan());
        curves().next()?;
        let bands = [self.site.bands.occupied, self.site.bands.night].into_iter().flatten();
        let bands = bands.flat_map(|b| [b.lower.degc(), b.upper.degc()]);
        let rule = self.site.heat_rule.iter().flat_map(|r| &r.windows).map(|w| w.minimum.degc());
        Scale::round(curves().chain(bands).chain(rule).map(|x| self.shown(x)))
    }

    pub(super) fn looks(&self) -> Vec<Look> {
        looks(&self.home.rooms.iter().map(|r| r.heated.surely()).collect::<Vec<_>>())
    }

    pub(super) fn points(
        &self,
        axis: &TimeAxis,
        scale: Scale,
        height: f64,
        curve: &Curve,
    ) -> Vec<Vec<(f64, f64)>> {
        let place = |(t, degc): (UtcTime, f64)| (axis.share(t), scale.down(self.shown(degc), height));
        line(self.trace.points(curve).map(|p| p.map(place)))
    }

    fn rooms(
        &self,
        axis: &TimeAxis,
        scale: Scale,
        (top, height): (f64, f64),
        rows: &[(usize, Mark)],
    ) -> Panel {
        let mut marks = self.asked(axis, scale, height);
        let all_empty = |hole: &Span| self.trace.rooms.iter().all(|c| holds(&self.trace.holes(c), hole));
        let holes = self.trace.rooms.first().map(|c| self.trace.holes(c)).unwrap_or_default();
        marks.extend(holes.into_iter().filter(all_empty).filter_map(|hole| {
            let (from, to) = axis.shares(hole)?;
            Some(Mark::Hatch { from, to, top: 0.0, bottom: height, words: "no data".to_owned() })
        }));
        let mut ends = Vec::new();
        for ((room, curve), look) in self.home.rooms.iter().zip(&self.trace.rooms).zip(self.looks()) {
            let runs = self.points(axis, scale, height, curve);
            if let Some((_, y)) = runs.last().and_then(|run| run.last()) {
                ends.push(EndLabel { y: *y, name: room.name.clone(), look });
            }
            marks.push(Mark::Line { class: look.class.to_owned(), name: room.name.clone(), runs });
        }
        marks.extend(rows.iter().map(|(_, mark)| mark.clone()));
        let up = scale.up(height, unit(self.site));
        Panel { top, height, up, marks, ends, values: Some([scale.low, scale.high]) }
    }

    /// The band by day and by night, setbacks, and the heat rule's minimum.
    fn asked(&self, axis: &TimeAxis, scale: Scale, height: f64) -> Vec<Mark> {
        let (site, span) = (self.site, axis.span);
        let down = |t: Celsius| scale.down(site.units.number(t), height);
        let piece = |band: Band, span: Span| {
            let (from, to) = axis.shares(span)?;
            Some([from, to, down(band.upper), down(band.lower)])
        };
        let nights = site.bands.night_hours.openings(site.zone, span);
        let mut pieces: Vec<[f64; 4]> = Vec::new();
        if let Some(band) = site.bands.occupied {
            let days = if site.bands.night.is_some() { between(&nights, span) } else { vec![span] };
            pieces.extend(days.into_iter().filter_map(|day| piece(band, day)));
        }
        if let Some(band) = site.bands.night {
            pieces.extend(nights.iter().filter_map(|night| piece(band, *night)));
        }
        let setbacks = site.setbacks_in(span).into_iter().filter_map(|night| axis.shares(night.span));
        let setbacks = setbacks.map(|(from, to)| [from, to, height - 4.0, height]).collect();
        let minimum = self.minimum(axis).into_iter();
        let runs = minimum.map(|(from, to, t)| vec![(from, down(t)), (to, down(t))]).collect();
        vec![
            Mark::Area { class: "band", pieces },
            Mark::Area { class: "setback", pieces: setbacks },
            Mark::Line { class: "minimum".to_owned(), name: String::new(), runs },
        ]
    }

    /// When the heat rule asks for what, where it is cold enough outdoors.
    fn minimum(&self, axis: &TimeAxis) -> Vec<(f64, f64, Celsius)> {
        let windows = self.site.heat_rule.iter().flat_map(|rule| &rule.windows);
        let of_window = |w: &crate::site::HeatWindow| {
            let season = w.season;
            let zone = self.site.zone;
            let days = local_days(zone, axis.span).into_iter().filter(move |day| season.contains(day.date));
            let parts = days.flat_map(|day| w.hours.within(zone, &day));
            parts.filter_map(|part| axis.shares(part).map(|(a, b)| (a, b, w.minimum))).collect::<Vec<_>>()
        };
        windows.flat_map(of_window).collect()
    }

    /// Lanes of the rooms of which some time is missing.
    fn holes(&self, axis: &TimeAxis, top: f64) -> Option<Panel> {
        let lanes = self.home.rooms.iter().zip(&self.trace.rooms).zip(self.looks()).filter_map(
            |((room, curve), look)| {
                let holes = self.trace.holes(curve);
                (holes.iter().map(Span::hours).sum::<f64>() > HOLES_H).then_some((room, holes, look))
            },
        );
        let (mut marks, mut ends) = (Vec::new(), Vec::new());
        for (i, (room, holes, look)) in lanes.enumerate() {
            let at = i as f64 * NAME;
            let hatch = |hole: Span| {
                let (from, to) = axis.shares(hole)?;
                let words = format!("no data: {}", room.name);
                Some(Mark::Hatch { from, to, top: at + 2.0, bottom: at + 12.0, words })
            };
            marks.extend(holes.into_iter().filter_map(hatch));
            ends.push(EndLabel { y: at + 7.0, name: room.name.clone(), look });
        }
        let height = ends.len() as f64 * NAME;
        let tick =
            super::chart::Tick { at: 7.0, words: "no data".to_owned(), rank: super::chart::Rank::First };
        (!ends.is_empty()).then_some(Panel { top, height, up: vec![tick], marks, ends, values: None })
    }

    pub(super) fn outdoors(&self, axis: &TimeAxis, top: f64) -> Option<Panel> {
        let curve = self.trace.outdoor.as_ref()?;
        let present = curve.iter().flatten().map(|x| f64::from(*x)).filter(|x| !x.is_nan());
        let scale = Scale::round(present.map(|x| self.shown(x)))?;
        let runs = self.points(axis, scale, STRIP, curve);
        let look = Look { class: "outdoors", heated: true };
        let y = runs.last()?.last()?.1;
        let mut up = scale.up(STRIP, unit(self.site));
        let step = up.len().div_ceil(3).max(1);
        up = up.into_iter().rev().step_by(step).collect();
        let outdoors = "outdoors".to_owned();
        let marks = vec![Mark::Line { class: look.class.to_owned(), name: outdoors.clone(), runs }];
        let ends = vec![EndLabel { y, name: outdoors, look }];
        Some(Panel { top, height: STRIP, up, marks, ends, values: Some([scale.low, scale.high]) })
    }

    /// Cases as brackets above, each with its row: where names would touch, one stands higher.
    fn brackets(&self, axis: &TimeAxis) -> Vec<(usize, Mark)> {
        let mut taken: Vec<f64> = Vec::new();
        let mut spans: Vec<(&Case, f64, f64)> = self
            .cases
            .iter()
            .filter_map(|case| {
                let (from, to) = axis.shares(case.span?)?;
                Some((case, from, to))
            })
            .collect();
        spans.sort_by(|a, b| a.1.total_cmp(&b.1));
        let mut rows = Vec::new();
        for (case, from, to) in spans {
            let name = bracket_name(case);
            let until = to.max(from + on_a_narrow_page(&name)) + 0.01;
            let row = taken.iter().position(|end| *end <= from).unwrap_or(taken.len());
            if row >= MOST_ROWS {
                continue;
            }
            if row == taken.len() {
                taken.push(until);
            }
            taken[row] = until;
            rows.push((row, Mark::Bracket { from, to, y: -8.0 - row as f64 * BRACKET, name }));
        }
        rows
    }

    /// The weeks that matter: where the first short case lasts less than a tenth of the record.
    fn view(&self, axis: &TimeAxis) -> Option<(Span, [f64; 2])> {
        let whole = axis.span;
        let short =
            |case: &&Case| case.span.is_some_and(|s| s.overlaps(&whole) && s.hours() * 10.0 < whole.hours());
        let case = self.cases.iter().find(short)?.span?.intersect(&whole);
        let length = (case.hours() * 3.0).max(7.0 * 24.0).min(whole.hours());
        let before_ms = ((length - case.hours()) / 2.0 * 3_600_000.0) as i64;
        let length_ms = (length * 3_600_000.0) as i64;
        let latest = whole.to.plus_ms(-length_ms);
        let from = case.from.plus_ms(-before_ms).min(latest).max(whole.from);
        let span = Span { from, to: from.plus_ms(length_ms) };
        let shares = [axis.share(span.from), axis.share(span.to)];
        (shares[1] - shares[0] < 0.9).then_some((span, shares))
    }

    fn note(&self, view: Option<Span>) -> Markup {
        let site = self.site;
        html! {
            (unit(site)) ", local time. Solid: heated; dashed: not heated, or not known."
            @if site.bands.any() { " Shaded: the band, " (super::asked::bands(site)) "." }
            @if site.heat_rule.is_some() { " Dotted red: the heat rule's minimum" @if site.heat_rule.as_ref().is_some_and(crate::site::HeatRule::needs_outdoor) { ", where it is cold enough outdoors" } "." }
            @if !site.setbacks.is_empty() { " Bars at the foot: setbacks." }
            " Hatched: no data."
            @if let Some(span) = view { " Shown: " (crate::cases::show_dates(span, site.zone)) "; below it the whole record." }
        }
    }

    fn description(&self) -> String {
        format!(
            "Temperature of {} rooms in {} on one scale, {}; each point is the lowest or the highest value of {}.",
            self.home.rooms.len(),
            unit(self.site),
            crate::cases::show_dates(self.trace.span(), self.site.zone),
            show_duration(self.trace.every_ms as f64 / 1000.0)
        )
    }

    pub(super) fn table(&self) -> Markup {
        if self.days.is_empty() {
            return html! {};
        }
        let cell = |x: f32| if x.is_nan() { "–".to_owned() } else { number(self.shown(f64::from(x)), 1) };
        let mut heads = vec![listing::text("Day")];
        if self.trace.outdoor.is_some() {
            heads.push(listing::figure("Outdoors"));
        }
        heads.extend(self.home.rooms.iter().map(|r| listing::figure(&r.name)));
        let days = listing::day_format(self.days.iter().map(|day| day.date));
        let rows = html! {
            @for day in self.days { tr {
                th.text scope="row" { (day.date.format(days)) }
                @if self.trace.outdoor.is_some() { td { (cell(day.outdoor)) } }
                @for degc in &day.rooms { td { (cell(*degc)) } }
            } }
        };
        listing::table(
            &format!(
                "Means of the days in {}; –: less than three quarters of the day known",
                unit(self.site)
            ),
            &heads,
            &rows,
        )
    }
}

pub(super) fn unit(site: &Site) -> &'static str {
    match site.units {
        crate::units::TemperatureUnit::Celsius => "°C",
        crate::units::TemperatureUnit::Fahrenheit => "°F",
    }
}

/// What stands over a bracket.
fn bracket_name(case: &Case) -> String {
    let place = match case.rooms.as_slice() {
        [] => String::new(),
        rooms => format!("{}: ", super::chart::shortened(&rooms_words(rooms), 18)),
    };
    let goes_on = if case.course == Course::GoesOn { ", goes on" } else { "" };
    let name = format!("{place}{}", case.kind.words);
    // A narrow page has no room for more.
    let short = name.chars().count() + goes_on.len() <= MOST_LETTERS;
    if short { name + goes_on } else { name }
}

/// The ticks of a part of the axis, as shares of the whole.
fn ticks_within(span: Span, [from, to]: [f64; 2], site: &Site) -> Vec<super::chart::Tick> {
    let mut ticks = TimeAxis::of(span, site.zone).ticks();
    ticks.iter_mut().for_each(|tick| tick.at = from + tick.at * (to - from));
    ticks
}

fn holds(spans: &[Span], inner: &Span) -> bool {
    spans.iter().any(|span| span.from <= inner.from && inner.to <= span.to)
}

/// What some spans, in order, leave of a whole.
fn between(spans: &[Span], whole: Span) -> Vec<Span> {
    let starts = std::iter::once(whole.from).chain(spans.iter().map(|s| s.to));
    let ends = spans.iter().map(|s| s.from).chain(std::iter::once(whole.to));
    starts.zip(ends).map(|(from, to)| Span { from, to }).filter(|s| s.from < s.to).collect()
}
