//! Charts: data → marks (plain values) → SVG with a title, a description and the table behind it.
//!
//! How a chart is made, by whoever draws one:
//! 1. a [`Scale`] for what goes up (`Scale::round`, three to six round ticks) and, for time, a [`TimeAxis`];
//! 2. [`Mark`]s: places across are shares of the width (0 … 1), places down are pixels from the top of the plot; lines are thinned
//!    by [`line`], which keeps the first, lowest, highest and last value of each column of pixels;
//! 3. [`Chart::draw`] → SVG in a `figure`, with the ends of lines named at the right ([`EndLabel`], moved apart where they
//!    would lie over each other), and the table behind it folded away.
//!
//! Settled here, and why:
//! - **One drawing for every width.** Places across are percentages, places down and letters are pixels: text has the size
//!   that the style says on a phone too (never under 11 px), and nothing is drawn twice. Lines and areas stand in an inner
//!   drawing that is stretched across (`preserveAspectRatio="none"`) with strokes that are not; zooming is a change of its view box.
//! - **Ticks of the time axis have two ranks**: on a narrow page only those of the first are shown.
//! - **Colours live in [`palette`] alone**, a name each, for light and dark; heated rooms are solid and filled, unheated ones
//!   dashed and hollow, and neighbours differ by shape, dash, or 3:1 in luminance to any eye.
//! - Rounding to the drawing's own units (a ten-thousandth of the width, a tenth of a pixel) is no arithmetic on results.

mod draw;
mod labels;
mod marks;
pub(super) mod palette;
mod scale;
mod thin;
mod time;

pub(super) use draw::{beside_the_axis, on_a_narrow_page, shortened};
pub(super) use marks::{Anchor, Chart, EndLabel, Mark, Panel, Rank, ReadOff, Tick};
pub(super) use palette::{Look, looks};
pub(super) use scale::{Scale, number};
pub(super) use thin::line;
pub(super) use time::TimeAxis;
