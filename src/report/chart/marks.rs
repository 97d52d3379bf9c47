//! What a chart is made of, as plain values.

use maud::Markup;

use super::palette::Look;

/// Which ticks give way where the page is narrow.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::report) enum Rank {
    /// Always shown.
    First,
    /// Left out on a narrow page.
    Second,
}

/// A mark on an axis: its place (across: a share of the width; up: pixels from the top) and its words.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::report) struct Tick {
    pub(in crate::report) at: f64,
    pub(in crate::report) words: String,
    pub(in crate::report) rank: Rank,
}

/// Where a text stands beside its place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::report) enum Anchor {
    Start,
    Middle,
    End,
}

impl Anchor {
    pub(in crate::report) const fn word(self) -> &'static str {
        match self {
            Anchor::Start => "start",
            Anchor::Middle => "middle",
            Anchor::End => "end",
        }
    }
}

/// One thing in the plot; places across are shares of its width, places down are pixels from its top.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::report) enum Mark {
    /// Filled pieces, each from left, right, top, bottom; `class` says what they mean (`band`, `below-3`).
    Area { class: &'static str, pieces: Vec<[f64; 4]> },
    /// A line in pieces: where one ends, values are missing.
    Line { class: String, name: String, runs: Vec<Vec<(f64, f64)>> },
    /// A ribbon from left to right: places across, and its top and bottom there.
    Ribbon { class: &'static str, edge: Vec<(f64, f64, f64)> },
    /// An upright line through the plot.
    Upright { class: &'static str, x: f64 },
    /// A time without data, hatched, with what is said of it.
    Hatch { from: f64, to: f64, top: f64, bottom: f64, words: String },
    /// A dot: filled for heated rooms, hollow for unheated ones.
    Dot { look: Look, x: f64, y: f64 },
    /// A small dot among many.
    Speck { look: Look, x: f64, y: f64 },
    /// From left to right at one height, as an interval.
    Range { look: Look, from: f64, to: f64, y: f64 },
    /// What lasted, above or below the plot, with its name.
    Bracket { from: f64, to: f64, y: f64, name: String },
    /// A text.
    Words { class: &'static str, x: f64, y: f64, anchor: Anchor, text: String },
}

/// The name of a line at its right end.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::report) struct EndLabel {
    /// Where the line ends, in pixels from the top.
    pub(in crate::report) y: f64,
    pub(in crate::report) name: String,
    pub(in crate::report) look: Look,
}

/// What the reading-off needs to say what lies under the pointer.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::report) struct ReadOff {
    /// Times at the left and the right edge, in milliseconds of UTC.
    pub(in crate::report) time_ms: [i64; 2],
    /// Name of the time zone.
    pub(in crate::report) zone: String,
    /// What is shown at first, as shares of the whole: the weeks that matter. Then the whole stands below as a strip.
    pub(in crate::report) view: Option<[f64; 2]>,
    /// Unit of the values.
    pub(in crate::report) unit: &'static str,
}

/// A plot over the shared time or value axis: one above the other in a chart.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::report) struct Panel {
    /// Pixels from the top of the drawing to its own top.
    pub(in crate::report) top: f64,
    /// Its height, in pixels.
    pub(in crate::report) height: f64,
    /// Ticks at the left.
    pub(in crate::report) up: Vec<Tick>,
    /// Marks, the lowest first.
    pub(in crate::report) marks: Vec<Mark>,
    /// Names at the right end.
    pub(in crate::report) ends: Vec<EndLabel>,
    /// Values at its bottom and its top, where they can be read off.
    pub(in crate::report) values: Option<[f64; 2]>,
}

/// A chart, ready to be drawn.
pub(in crate::report) struct Chart {
    /// Unlike any other in the page.
    pub(in crate::report) id: String,
    /// What is seen.
    pub(in crate::report) title: String,
    /// The same for somebody who does not see it, with units.
    pub(in crate::report) description: String,
    /// What stands below the title: unit, what lines and areas mean.
    pub(in crate::report) note: Markup,
    /// How much room there is at the sides: `plain`, `named` (names at the right end), `rooms` (names at the left).
    pub(in crate::report) class: &'static str,
    /// Height of the drawing, in pixels.
    pub(in crate::report) height: f64,
    /// The plots.
    pub(in crate::report) panels: Vec<Panel>,
    /// Ticks of the axis that goes across, below the first panel.
    pub(in crate::report) across: Vec<Tick>,
    /// Where values can be read off.
    pub(in crate::report) read: Option<ReadOff>,
    /// The table behind it.
    pub(in crate::report) table: Markup,
}
