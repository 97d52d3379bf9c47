//! Curves of a home, thinned for the report.

use std::ops::Range;

use super::{AlignedHome, AlignedRoom};
use crate::clock::{Span, UtcTime};

/// Curves to draw: one per room, thinned to a bounded number of points.
#[derive(Clone, Debug, PartialEq)]
pub struct Trace {
    /// Instant of the first point.
    pub from: UtcTime,
    /// Time from point to point, in milliseconds.
    pub every_ms: i64,
    /// Per room, in roster order, one point each: the mean of the values in `every_ms`; `None` where there are none.
    pub rooms: Vec<Vec<Option<f64>>>,
}

impl Trace {
    /// From the first point to the end of the last.
    pub fn span(&self) -> Span {
        let points = self.rooms.iter().map(Vec::len).max().unwrap_or(0);
        Span { from: self.from, to: self.from.plus_ms(points as i64 * self.every_ms) }
    }
}

impl AlignedHome {
    /// Curves of the record with at most `points` points each; `None` for an empty record.
    pub fn trace(&self, points: usize) -> Option<Trace> {
        self.trace_of(self.record(), points)
    }

    /// The same of the part of the record that lies in a span.
    pub fn trace_within(&self, span: Span, points: usize) -> Option<Trace> {
        let (record, to) = (self.record(), self.index_from(span.to));
        let from = self.index_from(span.from).clamp(record.start, record.end);
        self.trace_of(from..to.clamp(from, record.end), points)
    }

    fn trace_of(&self, record: Range<usize>, points: usize) -> Option<Trace> {
        let per_point = record.len().div_ceil(points.max(1)).max(1);
        let mean = |values: &[f64]| {
            let present = values.iter().filter(|x| !x.is_nan());
            let (count, sum) = present.fold((0, 0.0), |(count, sum), x| (count + 1, sum + x));
            (count > 0).then(|| sum / f64::from(count))
        };
        let curve = |room: &AlignedRoom| room.degc[record.clone()].chunks(per_point).map(mean).collect();
        (!record.is_empty()).then(|| Trace {
            from: self.time(record.start),
            every_ms: self.step_ms * per_point as i64,
            rooms: self.rooms.iter().map(curve).collect(),
        })
    }
}
