//! Rows of a home found by what they are about.

use std::collections::HashMap;

use super::{Metric, MetricRow, Slice};

/// The rows of a home by period, slice and room, so that looking one up does not go through all of them.
#[derive(Debug)]
pub struct MetricIndex<'a> {
    rows: &'a [MetricRow],
    places: HashMap<Place<'a>, Vec<&'a MetricRow>>,
}

/// Period, slice and room; no room: the home itself.
type Place<'a> = (&'a str, Slice, Option<&'a str>);

impl<'a> MetricIndex<'a> {
    /// Looks at each row once; rows of one place mostly follow each other, and need not.
    pub fn of(rows: &'a [MetricRow]) -> Self {
        let place = |row: &'a MetricRow| (row.period.as_str(), row.slice, row.room.as_deref());
        let mut places: HashMap<Place<'a>, Vec<&'a MetricRow>> = HashMap::new();
        for together in rows.chunk_by(same_place) {
            if let Some(first) = together.first() {
                places.entry(place(first)).or_default().extend(together);
            }
        }
        Self { rows, places }
    }

    /// All rows, in their order.
    pub fn rows(&self) -> &'a [MetricRow] {
        self.rows
    }

    /// The row of a metric; `None` where the data gave none. `room`: `None` for the home itself.
    pub fn row(
        &self,
        period: &str,
        slice: Slice,
        room: Option<&str>,
        metric: &Metric,
    ) -> Option<&'a MetricRow> {
        self.places.get(&(period, slice, room))?.iter().copied().find(|row| row.metric == metric)
    }
}

fn same_place(a: &MetricRow, b: &MetricRow) -> bool {
    a.slice == b.slice && a.room == b.room && a.period == b.period
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::metrics::{COVERAGE, MEAN, MEDIAN};

    fn row(period: &str, room: Option<&str>, slice: Slice, metric: &'static Metric, value: f64) -> MetricRow {
        let room = room.map(str::to_owned);
        let (home, period) = ("1A".to_owned(), period.to_owned());
        let (interval, parts) = (None, crate::metrics::Parts::default());
        MetricRow { home, room, period, slice, metric, value, interval, parts, hours_observed: 1.0 }
    }

    #[test]
    fn each_row_is_found_by_what_it_is_about_and_no_other_is() {
        let rows = [
            row("p", Some("bed"), Slice::All, &MEAN, 1.0),
            row("p", Some("bed"), Slice::All, &COVERAGE, 2.0),
            row("p", Some("bed"), Slice::Night, &MEAN, 3.0),
            row("p", None, Slice::All, &MEAN, 4.0),
            row("q", Some("bed"), Slice::All, &MEAN, 5.0),
            // Rows of the building come last, whatever their period.
            row("p", Some("bed"), Slice::All, &MEDIAN, 6.0),
        ];
        let index = MetricIndex::of(&rows);
        for row in &rows {
            let found = index.row(&row.period, row.slice, row.room.as_deref(), row.metric);
            assert_eq!(found.map(|r| r.value), Some(row.value));
        }
        assert!(index.row("p", Slice::Day, Some("bed"), &MEAN).is_none());
        assert!(index.row("p", Slice::All, Some("bath"), &MEAN).is_none());
        assert!(index.row("q", Slice::All, Some("bed"), &MEDIAN).is_none());
        assert_eq!(index.rows().len(), rows.len());
    }
}
