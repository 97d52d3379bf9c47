//! Many verdicts of evenness at once: their p values adjusted for their number.
//!
//! Settled here, and why:
//! - **Verdicts stay as they are**: each is about its own room. What somebody says of all rooms together (so many are even) goes by
//!   the adjusted values.
//! - **Even and uneven by themselves**: a room that is surely uneven is no failed test of even.
//! - **The family** is every room of the site that has `even_p` in the period that decides.

use super::{EVEN_P, Metric, MetricRow, Parts, Slice};
use crate::stats;

const SOURCE: &str = "Y. Benjamini, Y. Hochberg, Journal of the Royal Statistical Society B 57 (1995)";

metrics! {
    EVEN_P_ADJUSTED = Metric {
        id: "even_p_adjusted",
        unit: "1",
        definition: "even_p adjusted for all rooms of the site that have one in the period that decides: of m values the k-th smallest becomes p · m/k, and no more than the next larger one; where rooms up to 0.05 are called even, one in twenty of them is expected not to be",
        source: SOURCE,
    };
    UNEVEN_P_ADJUSTED = Metric {
        id: "uneven_p_adjusted",
        unit: "1",
        definition: "1 − even_p, adjusted in the same way",
        source: SOURCE,
    };
    VERDICTS_AT_ONCE = Metric {
        id: "verdicts_at_once",
        unit: "1",
        definition: "of the building: how many rooms have even_p in the period that decides, for which even_p_adjusted and uneven_p_adjusted are adjusted",
        source: "own definition",
    };
}

/// Whether a row is one of these, or what they are made of.
pub fn is_of_many(row: &MetricRow) -> bool {
    [&EVEN_P, &EVEN_P_ADJUSTED, &UNEVEN_P_ADJUSTED].contains(&row.metric)
}

/// The adjusted values of all rooms in a period, with the place of each room's home among `homes`; and the row of the building,
/// where there is any.
pub fn at_once(homes: &[&[MetricRow]], period: &str) -> (Vec<(usize, MetricRow)>, Option<MetricRow>) {
    let of_home = |(place, rows): (usize, &&[MetricRow])| {
        let here =
            |row: &&MetricRow| row.metric == &EVEN_P && row.slice == Slice::All && row.period == period;
        rows.iter().filter(here).map(|row| (place, row.clone())).collect::<Vec<_>>()
    };
    let all: Vec<(usize, MetricRow)> = homes.iter().enumerate().flat_map(of_home).collect();
    let Some((_, first)) = all.first() else { return (Vec::new(), None) };
    let even: Vec<f64> = all.iter().map(|(_, row)| row.value).collect();
    let uneven: Vec<f64> = even.iter().map(|p| 1.0 - p).collect();
    let building = MetricRow {
        home: String::new(),
        room: None,
        metric: &VERDICTS_AT_ONCE,
        value: all.len() as f64,
        interval: None,
        parts: Parts::default(),
        hours_observed: all.iter().map(|(_, row)| row.hours_observed).fold(0.0, f64::max),
        ..first.clone()
    };
    let adjusted =
        [(&EVEN_P_ADJUSTED, stats::adjusted_p(&even)), (&UNEVEN_P_ADJUSTED, stats::adjusted_p(&uneven))];
    let rows = all.iter().enumerate().flat_map(|(at, (place, row))| {
        let with = |(metric, values): &(&'static Metric, Vec<f64>)| {
            (*place, MetricRow { metric, value: values[at], ..row.clone() })
        };
        adjusted.iter().map(with).collect::<Vec<_>>()
    });
    (rows.collect(), Some(building))
}
