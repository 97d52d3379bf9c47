//! Curves of a home, thinned for pages: nothing that was hot or cold for a moment is lost.

use std::ops::Range;

use super::AlignedHome;
use crate::clock::{Span, UtcTime};

/// A curve: of each stretch of time its two extremes, in the order in which they came; NaN where it has no value.
pub type Curve = Vec<[f32; 2]>;

/// Curves to draw: one per room, thinned to a bounded number of pairs, in single precision (200 homes stay cheap).
#[derive(Clone, Debug, PartialEq)]
pub struct Trace {
    /// Instant of the first stretch.
    pub from: UtcTime,
    /// Length of a stretch, in milliseconds.
    pub every_ms: i64,
    /// Per room, in roster order, its curve in °C.
    pub rooms: Vec<Curve>,
    /// The outdoor temperature in °C; `None` without a weather series.
    pub outdoor: Option<Curve>,
}

impl Trace {
    /// From the first stretch to the end of the last.
    pub fn span(&self) -> Span {
        let stretches = self.rooms.iter().map(Vec::len).max().unwrap_or(0);
        Span { from: self.from, to: self.from.plus_ms(stretches as i64 * self.every_ms) }
    }

    /// The points of a curve with their times, `None` for a stretch without values. The extremes of a stretch stand at its
    /// quarters; where they are one, in its middle.
    pub fn points(&self, curve: &[[f32; 2]]) -> impl Iterator<Item = Option<(UtcTime, f64)>> {
        let at = |i: usize, quarter: i64| {
            self.from.plus_ms(i as i64 * self.every_ms + self.every_ms * quarter / 4)
        };
        curve.iter().enumerate().flat_map(move |(i, [first, then])| {
            let points = match () {
                () if first.is_nan() => [None, None],
                () if first.to_bits() == then.to_bits() => [Some((at(i, 2), f64::from(*first))), None],
                () => [Some((at(i, 1), f64::from(*first))), Some((at(i, 3), f64::from(*then)))],
            };
            let missing = first.is_nan().then_some(None);
            missing.into_iter().chain(points.into_iter().flatten().map(Some))
        })
    }

    /// Stretches of time in which a curve has no value.
    pub fn holes(&self, curve: &[[f32; 2]]) -> Vec<Span> {
        let at = |i: usize| self.from.plus_ms(i as i64 * self.every_ms);
        let empty =
            super::joined(curve.iter().enumerate().filter(|(_, p)| p[0].is_nan()).map(|(i, _)| i..i + 1));
        empty.into_iter().map(|r| Span { from: at(r.start), to: at(r.end) }).collect()
    }
}

impl AlignedHome {
    /// Curves of the record with at most `pairs` pairs each; `None` for an empty record.
    pub fn trace(&self, pairs: usize) -> Option<Trace> {
        self.trace_of(self.record(), pairs)
    }

    /// The same of the part of the record that lies in a span.
    pub fn trace_within(&self, span: Span, pairs: usize) -> Option<Trace> {
        let (record, to) = (self.record(), self.index_from(span.to));
        let from = self.index_from(span.from).clamp(record.start, record.end);
        self.trace_of(from..to.clamp(from, record.end), pairs)
    }

    fn trace_of(&self, record: Range<usize>, pairs: usize) -> Option<Trace> {
        let per_pair = record.len().div_ceil(pairs.max(1)).max(1);
        let curve = |values: &[f64]| values[record.clone()].chunks(per_pair).map(extremes).collect();
        (!record.is_empty()).then(|| Trace {
            from: self.time(record.start),
            every_ms: self.step_ms * per_pair as i64,
            rooms: self.rooms.iter().map(|room| curve(&room.degc)).collect(),
            outdoor: self.outdoor.as_deref().map(curve),
        })
    }
}

/// Lowest and highest of the values present, in their order.
#[expect(clippy::cast_possible_truncation, reason = "aligned values are no finer than single precision")]
fn extremes(values: &[f64]) -> [f32; 2] {
    let present = || values.iter().copied().enumerate().filter(|(_, x)| !x.is_nan());
    let lowest = present().reduce(|a, b| if b.1 < a.1 { b } else { a });
    let highest = present().reduce(|a, b| if b.1 > a.1 { b } else { a });
    match lowest.zip(highest) {
        None => [f32::NAN; 2],
        Some((low, high)) if low.0 <= high.0 => [low.1 as f32, high.1 as f32],
        Some((low, high)) => [high.1 as f32, low.1 as f32],
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn extremes_stand_in_their_order() {
        let of = |values: &[f64]| extremes(values).map(f32::to_bits);
        assert_eq!(of(&[20.0, 22.0, f64::NAN, 19.0, 21.0]), [22.0_f32, 19.0].map(f32::to_bits));
        assert_eq!(of(&[19.0, f64::NAN, 20.5]), [19.0_f32, 20.5].map(f32::to_bits));
        assert!(extremes(&[f64::NAN])[0].is_nan() && extremes(&[])[1].is_nan());
    }

    #[test]
    fn points_have_their_times_and_holes_are_spans() {
        let curve: Curve = vec![[20.0, 21.0], [f32::NAN; 2], [f32::NAN; 2], [19.0, 19.0]];
        let trace =
            Trace { from: UtcTime::from_ms(0), every_ms: 400, rooms: vec![curve.clone()], outdoor: None };
        let at = |ms: i64, degc: f64| Some((UtcTime::from_ms(ms), degc));
        let points: Vec<_> = trace.points(&curve).collect();
        assert_eq!(points, [at(100, 20.0), at(300, 21.0), None, None, at(1400, 19.0)]);
        let hole = Span { from: UtcTime::from_ms(400), to: UtcTime::from_ms(1200) };
        assert_eq!(trace.holes(&curve), [hole]);
    }
}
