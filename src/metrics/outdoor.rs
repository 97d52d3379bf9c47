//! The weather while the record ran.

use super::{Metric, MetricRow, Parts, Slice, periods};
use crate::grid::AlignedHome;
use crate::stats;

const OWN: &str = "own definition";

metrics! {
    OUTDOOR_MEAN = Metric {
        id: "outdoor_mean",
        unit: "°C",
        definition: "mean of the aligned outdoor temperature",
        source: OWN,
    };
    OUTDOOR_MINIMUM = Metric {
        id: "outdoor_minimum",
        unit: "°C",
        definition: "lowest aligned outdoor temperature",
        source: OWN,
    };
    OUTDOOR_MAXIMUM = Metric {
        id: "outdoor_maximum",
        unit: "°C",
        definition: "highest aligned outdoor temperature",
        source: OWN,
    };
}

/// Rows for the building, per period; `aligned` holds the weather series as its only room.
pub fn outdoor(aligned: &AlignedHome) -> Vec<MetricRow> {
    let rows = |(period, range): (String, std::ops::Range<usize>)| {
        let series = aligned.rooms().first().map_or(&[][..], |room| &room.degc()[range]);
        let values: Vec<f64> = series.iter().copied().filter(|x| !x.is_nan()).collect();
        let low = values.iter().copied().reduce(f64::min);
        let high = values.iter().copied().reduce(f64::max);
        let hours = values.len() as f64 * aligned.step_h();
        let row = move |(metric, value): (&'static Metric, Option<f64>)| {
            let (home, room, period) = (String::new(), None, period.clone());
            value.map(|value| MetricRow {
                home,
                room,
                period,
                slice: Slice::All,
                metric,
                value,
                interval: None,
                parts: Parts::default(),
                hours_observed: hours,
            })
        };
        [(&OUTDOOR_MEAN, stats::mean(&values)), (&OUTDOOR_MINIMUM, low), (&OUTDOOR_MAXIMUM, high)]
            .into_iter()
            .filter_map(row)
    };
    periods(aligned).into_iter().flat_map(rows).collect()
}
