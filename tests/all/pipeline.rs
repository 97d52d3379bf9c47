//! A home from numbers to metric rows, through the same types that an audit goes through.

use evenrooms::clock::Span;
use evenrooms::exports::Readings;
use evenrooms::grid::{AlignedHome, RoomSeries};
use evenrooms::metrics::{self, Computed, MetricRow, Slice};
use evenrooms::quality::{Corrected, Flagged};
use evenrooms::site::{Site, read_site_file};

/// A site with one home, 1A, of `rooms` heated rooms with loggers good to `accuracy_k`; UTC, no quality tests.
///
/// `in_site` is put into `[site]`, `more` follows below.
pub(crate) fn site(in_site: &str, more: &str, rooms: usize, accuracy_k: f64) -> Site {
    let text = format!(
        r#"[site]
name = "Alder Row"
time_zone = "UTC"
roster = "roster.csv"
{in_site}

[quality]
tests = []

{more}
"#
    );
    let row = |n| format!("1A,room {n},living,yes,L-{n},{n}.csv,{accuracy_k}\n");
    let roster: String = (1..=rooms).map(row).collect();
    let roster = format!("home,room,use,heated,logger,file,accuracy_k\n{roster}");
    read_site_file("site.toml", &text).with_roster("roster.csv", roster.as_bytes()).unwrap()
}

/// Rows and events of a home whose rooms have these readings: milliseconds since the epoch, °C.
pub(crate) fn compute_from(site: &Site, rooms: &[Vec<(i64, Option<f64>)>]) -> Computed {
    compute_under(site, rooms, None)
}

/// The same with a weather series.
pub(crate) fn compute_under(
    site: &Site,
    rooms: &[Vec<(i64, Option<f64>)>],
    weather: Option<&[(i64, Option<f64>)]>,
) -> Computed {
    let home = &site.homes[0];
    let series = |(rows, room): (&Vec<(i64, Option<f64>)>, &evenrooms::site::Room)| {
        let flagged = Flagged::new(Readings::from_series(rows), &site.quality);
        RoomSeries {
            placements: vec![(Corrected::new(&flagged, None, false), Span::ALWAYS)],
            accuracy: room.accuracies(),
        }
    };
    let series: Vec<RoomSeries> = rooms.iter().zip(&home.rooms).map(series).collect();
    let mut aligned = AlignedHome::align(site, &series);
    if let Some(weather) = weather {
        let flagged = Flagged::new(Readings::from_series(weather), &site.quality);
        let placements = vec![(Corrected::new(&flagged, None, false), Span::ALWAYS)];
        let accuracy = evenrooms::units::Accuracy::stated(evenrooms::site::DEFAULT_ACCURACY);
        aligned = aligned.with_outdoor(&AlignedHome::align(site, &[RoomSeries { placements, accuracy }]));
    }
    metrics::compute(site, home, &aligned)
}

/// The metric rows of the slice `all`; each room has a reading every `every_min` minutes from midnight on.
pub(crate) fn measure(site: &Site, every_min: i64, rooms: &[Vec<f64>]) -> Vec<MetricRow> {
    let timed = |degc: &Vec<f64>| (0..).zip(degc).map(|(i, x)| (i * every_min * 60_000, Some(*x))).collect();
    let mut rows = compute_from(site, &rooms.iter().map(timed).collect::<Vec<_>>()).rows;
    rows.retain(|row| row.slice == Slice::All);
    rows
}

/// The value of a metric; of the first room where several have it.
pub(crate) fn value(rows: &[MetricRow], metric: &str) -> f64 {
    rows.iter().find(|row| row.metric.id == metric).unwrap_or_else(|| panic!("no {metric}")).value
}
