//! Marks → SVG in a figure.

use std::fmt::Write;

use maud::{Markup, PreEscaped, html};

use super::labels::apart;
use super::marks::{Anchor, Chart, EndLabel, Mark, Panel, Rank, ReadOff, Tick};

/// Units of the stretched drawing: across the whole width, and to a pixel down.
const ACROSS: f64 = 10_000.0;
const DOWN: f64 = 10.0;

/// What of the whole width is seen, and where a share of the whole then lies.
#[derive(Clone, Copy)]
struct View {
    from: f64,
    to: f64,
    /// Whether it can move, so that each place must be known to the script.
    moves: bool,
}

impl View {
    fn of(read: Option<&ReadOff>) -> Self {
        let [from, to] = read.and_then(|r| r.view).unwrap_or([0.0, 1.0]);
        Self { from, to, moves: read.is_some() }
    }

    fn place(self, x: f64) -> f64 {
        (x - self.from) / (self.to - self.from)
    }

    fn percent(self, x: f64) -> String {
        percent(self.place(x).clamp(0.0, 1.0))
    }

    fn hides(self, from: f64, to: f64) -> bool {
        to < self.from || from > self.to
    }

    /// The place in the whole, for the script.
    fn data(self, x: f64) -> Option<String> {
        self.moves.then(|| short(x * ACROSS))
    }
}

fn percent(share: f64) -> String {
    format!("{}%", short(share * 100.0))
}

/// A number with two decimals at most.
fn short(x: f64) -> String {
    let text = format!("{x:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

impl Chart {
    /// The figure.
    pub(in crate::report) fn draw(&self) -> Markup {
        let view = View::of(self.read.as_ref());
        let (title, description) = (format!("{}-title", self.id), format!("{}-says", self.id));
        let read = self.read.as_ref();
        let lasts = |end: usize| read.map(|r| r.time_ms[end].to_string());
        html! {
            figure.chart.(self.class) id=(self.id) {
                figcaption { b { (self.title) } " " span.soft { (self.note) } }
                div.stage {
                    svg.whole height=(self.height) role="img" aria-labelledby={ (title) " " (description) }
                        data-from=[lasts(0)] data-to=[lasts(1)] data-zone=[read.map(|r| &r.zone)] data-unit=[read.map(|r| r.unit)] {
                        title id=(title) { (self.title) }
                        desc id=(description) { (self.description) }
                        @for (i, panel) in self.panels.iter().enumerate() { (self.panel(i, panel, view)) }
                        @if let Some(first) = self.panels.first() { g.ticks transform=(shift(first.top + first.height)) { @for t in &self.across { (across(t, view)) } } }
                    }
                    @if view.to - view.from < 1.0 { (self.strip(view)) }
                }
                (behind(&self.title, &self.table))
            }
        }
    }

    fn panel(&self, number: usize, panel: &Panel, view: View) -> Markup {
        let flat = |mark: &&Mark| matches!(mark, Mark::Area { .. } | Mark::Ribbon { .. });
        let line = |mark: &&Mark| matches!(mark, Mark::Line { .. });
        let value = |end: usize| panel.values.map(|v| short(v[end]));
        html! {
            g.panel transform=(shift(panel.top)) data-height=(short(panel.height)) data-low=[value(0)] data-high=[value(1)] {
                rect.ground width="100%" height=(short(panel.height)) {}
                (stretched(view, panel.height, html! { @for mark in panel.marks.iter().filter(flat) { (in_plot(mark)) } }))
                @for t in &panel.up { line.grid x1="0" x2="100%" y1=(short(t.at)) y2=(short(t.at)) {} text.tick x="-6" y=(short(t.at + 4.0)) text-anchor="end" { (t.words) } }
                @for mark in panel.marks.iter().filter(|m| matches!(m, Mark::Hatch { .. })) { (placed(mark, panel.height, view)) }
                (stretched(view, panel.height, html! { g id={ (self.id) "-lines-" (number) } { @for mark in panel.marks.iter().filter(line) { (in_plot(mark)) } } }))
                @for mark in panel.marks.iter().filter(|m| !flat(m) && !line(m) && !matches!(m, Mark::Hatch { .. })) { (placed(mark, panel.height, view)) }
                (ends(&panel.ends, panel.height))
            }
        }
    }

    /// The whole record below a part of it, to see where that lies and to move in.
    fn strip(&self, view: View) -> Markup {
        let Some(first) = self.panels.first() else { return html! {} };
        html! {
            svg.strip height="44" aria-hidden="true" {
                rect.ground width="100%" height="44" {}
                svg width="100%" height="44" viewBox={ "0 0 " (ACROSS) " " (short(first.height * DOWN)) } preserveAspectRatio="none" {
                    use href={ "#" (self.id) "-lines-0" } {}
                }
                rect.window x=(percent(view.from)) width=(percent(view.to - view.from)) height="44" {}
            }
        }
    }
}

/// The table behind a chart, folded away.
fn behind(title: &str, table: &Markup) -> Markup {
    html! { @if !table.0.is_empty() { details.behind { summary { "Table" span.unseen { ": " (title) } } (table) } } }
}

fn shift(down: f64) -> String {
    format!("translate(0 {})", short(down))
}

/// A drawing that is stretched to the width of the plot.
fn stretched(view: View, height: f64, inner: Markup) -> Markup {
    if inner.0.is_empty() {
        return inner;
    }
    let sides = [view.from * ACROSS, 0.0, (view.to - view.from) * ACROSS, height * DOWN];
    html! {
        svg.plot width="100%" height=(short(height)) viewBox=(sides.map(short).join(" ")) preserveAspectRatio="none" { (inner) }
    }
}

fn in_plot(mark: &Mark) -> Markup {
    match mark {
        Mark::Area { class, pieces } => html! { path.area.(class) d=(PreEscaped(areas(pieces))) {} },
        Mark::Ribbon { class, edge } => html! { path.area.(class) d=(PreEscaped(ribbon(edge))) {} },
        Mark::Line { class, name, runs } => {
            html! { path.line.(class) data-name=[Some(name).filter(|n| !n.is_empty())] d=(PreEscaped(lines(runs))) {} }
        }
        _ => html! {},
    }
}

fn areas(pieces: &[[f64; 4]]) -> String {
    let mut path = String::new();
    for [left, right, top, bottom] in pieces {
        let [left, right] = [left, right].map(|x| (x * ACROSS).round());
        let [top, bottom] = [top, bottom].map(|y| (y * DOWN).round());
        let _ = write!(path, "M{left} {top}H{right}V{bottom}H{left}z");
    }
    path
}

fn ribbon(edge: &[(f64, f64, f64)]) -> String {
    let top = edge.iter().map(|(x, top, _)| (x, top));
    let bottom = edge.iter().rev().map(|(x, _, bottom)| (x, bottom));
    let place = |(x, y): (&f64, &f64)| format!("{} {}", (x * ACROSS).round(), (y * DOWN).round());
    let places: Vec<String> = top.chain(bottom).map(place).collect();
    format!("M{}z", places.join("L"))
}

/// Whole units, each from the one before: short for a page that has many.
fn lines(runs: &[Vec<(f64, f64)>]) -> String {
    let mut path = String::new();
    for run in runs {
        let mut last = None;
        for (x, y) in run {
            let here = ((x * ACROSS).round() as i64, (y * DOWN).round() as i64);
            let _ = match last {
                None => write!(path, "M{} {}", here.0, here.1),
                Some((x, y)) => write!(path, "l{} {}", here.0 - x, here.1 - y),
            };
            last = Some(here);
        }
        if run.len() == 1 {
            // A value between two holes is a dot of its own.
            path.push_str("h1");
        }
    }
    path
}

/// What keeps its form however wide the plot is.
fn placed(mark: &Mark, height: f64, view: View) -> Markup {
    match mark {
        Mark::Upright { class, x } => html! {
            line.(class).out[view.hides(*x, *x)] x1=(view.percent(*x)) x2=(view.percent(*x)) y1="0" y2=(short(height)) data-a=[view.data(*x)] {}
        },
        Mark::Hatch { from, to, top, bottom, words } => html! {
            rect.hatch.out[view.hides(*from, *to)] x=(view.percent(*from)) width=(percent(view.place(*to).clamp(0.0, 1.0) - view.place(*from).clamp(0.0, 1.0)))
                y=(short(*top)) height=(short(bottom - top)) fill="url(#hatch)" data-a=[view.data(*from)] data-b=[view.data(*to)] { title { (words) } }
        },
        Mark::Dot { look, x, y } => {
            html! { circle.dot.(look.class) r="4.2" cx=(view.percent(*x)) cy=(short(*y)) {} }
        }
        Mark::Speck { look, x, y } => {
            html! { circle.dot.speck.(look.class) r="2.4" cx=(view.percent(*x)) cy=(short(*y)) {} }
        }
        Mark::Range { look, from, to, y } => html! {
            line.range.(look.class) x1=(view.percent(*from)) x2=(view.percent(*to)) y1=(short(*y)) y2=(short(*y)) {}
        },
        Mark::Bracket { from, to, y, name } => bracket((*from, *to), *y, name, view),
        Mark::Words { class, x, y, anchor, text } => html! {
            text.(class).out[view.hides(*x, *x)] x=(view.percent(*x)) y=(short(*y)) text-anchor=(anchor.word()) data-a=[view.data(*x)] { (text) }
        },
        Mark::Area { .. } | Mark::Ribbon { .. } | Mark::Line { .. } => html! {},
    }
}

/// Share of a narrow page that a letter of a name over a bracket takes.
const LETTER: f64 = 0.02;

/// Share of the width that a name takes on a narrow page: what fits there fits everywhere.
pub(in crate::report) fn on_a_narrow_page(name: &str) -> f64 {
    (name.chars().count() as f64 * LETTER).min(1.0)
}

/// A bracket whose name stands over its middle, and over the page nowhere.
fn bracket((from, to): (f64, f64), y: f64, name: &str, view: View) -> Markup {
    let seen = [from, to].map(|x| view.place(x).clamp(0.0, 1.0));
    let middle = f64::midpoint(seen[0], seen[1]);
    let wide = on_a_narrow_page(name);
    let (anchor, x) = match middle {
        m if m < wide / 2.0 || m < 0.25 => (Anchor::Start, seen[0].min(1.0 - wide)),
        m if m > 1.0 - wide / 2.0 || m > 0.75 => (Anchor::End, seen[1].max(wide)),
        m => (Anchor::Middle, m),
    };
    html! {
        g.bracket.out[view.hides(from, to)] data-a=[view.data(from)] data-b=[view.data(to)] {
            line x1=(percent(seen[0])) x2=(percent(seen[1])) y1=(short(y)) y2=(short(y)) {}
            line x1=(percent(seen[0])) x2=(percent(seen[0])) y1=(short(y)) y2=(short(y + 5.0)) {}
            line x1=(percent(seen[1])) x2=(percent(seen[1])) y1=(short(y)) y2=(short(y + 5.0)) {}
            text x=(percent(x)) y=(short(y - 4.0)) text-anchor=(anchor.word()) { (name) }
        }
    }
}

fn across(tick: &Tick, view: View) -> Markup {
    let second = tick.rank == Rank::Second;
    let place = view.place(tick.at);
    let anchor = if place < 0.04 {
        Anchor::Start
    } else if place > 0.96 {
        Anchor::End
    } else {
        Anchor::Middle
    };
    html! {
        line.grid.second[second] x1=(percent(place)) x2=(percent(place)) y1="0" y2="4" {}
        text.tick.second[second] x=(percent(place)) y="16" text-anchor=(anchor.word()) { (tick.words) }
    }
}

/// Letters of a name at the right end, and in front of a row.
const LETTERS: usize = 13;

fn ends(ends: &[EndLabel], height: f64) -> Markup {
    let wanted: Vec<f64> = ends.iter().map(|e| e.y).collect();
    html! {
        @if !ends.is_empty() {
            svg.ends x="100%" overflow="visible" {
                @for (end, y) in ends.iter().zip(apart(&wanted, height)) {
                    path.leader d={ "M2 " (short(end.y)) "L9 " (short(y)) } {}
                    line.line.(end.look.class) x1="10" x2="26" y1=(short(y)) y2=(short(y)) {}
                    text.name x="30" y=(short(y + 4.0)) { (shortened(&end.name, LETTERS)) @if end.name.chars().count() > LETTERS { title { (end.name) } } }
                }
            }
        }
    }
}

/// A name that fits between the edge of a narrow page and the axis; the table behind the chart has all of it.
pub(in crate::report) fn beside_the_axis(name: &str) -> String {
    shortened(name, 12)
}

/// A name of at most so many letters: a drawing does not break its lines.
pub(in crate::report) fn shortened(name: &str, letters: usize) -> String {
    match name.char_indices().nth(letters) {
        Some(_) => name.chars().take(letters - 1).chain(['…']).collect(),
        None => name.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_whole_steps_from_point_to_point() {
        let runs = vec![vec![(0.0, 1.0), (0.001, 3.0), (0.003, 2.95)], vec![(0.5, 2.0)]];
        assert_eq!(lines(&runs), "M0 10l10 20l20 0M5000 20h1");
        assert_eq!(areas(&[[0.0, 0.25, 4.0, 10.0]]), "M0 40H2500V100H0z");
    }

    #[test]
    fn a_view_shows_its_part_and_knows_the_whole() {
        let view = View { from: 0.2, to: 0.4, moves: true };
        assert_eq!((view.percent(0.3), view.data(0.3).as_deref()), ("50%".to_owned(), Some("3000")));
        assert!(view.hides(0.0, 0.1) && !view.hides(0.0, 0.25));
    }

    #[test]
    fn names_are_escaped_and_shortened() {
        let look = super::super::looks(&[true])[0];
        let name = "<script>alert(1)</script>".to_owned();
        let drawn = ends(&[EndLabel { y: 3.0, name, look }], 50.0).into_string();
        assert!(!drawn.contains("<script") && drawn.contains("&lt;script&gt;aler"), "{drawn}");
        assert_eq!(shortened("bedroom of somebody", 13), "bedroom of s…");
    }
}
