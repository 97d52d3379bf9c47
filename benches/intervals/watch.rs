//! A simulated home as it was watched.

use evenrooms::clock::Span;
use evenrooms::exports::Readings;
use evenrooms::grid::{AlignedHome, RoomSeries};
use evenrooms::metrics::{self, Computed, Interval, MetricRow, Slice};
use evenrooms::quality::{Corrected, Flagged};
use evenrooms::simulate::{SimulatedHome, Simulation};
use evenrooms::site::Site;
use evenrooms::units::KelvinDiff;

pub(crate) const STEP_MS: i64 = 300_000;
pub(crate) const PER_DAY: usize = 288;

/// Instants with a value, or none.
pub(crate) type Rows = Vec<(i64, Option<f64>)>;

/// True temperatures of each room every five minutes.
pub(crate) fn grid(simulation: &Simulation, made: &SimulatedHome) -> Vec<Vec<f64>> {
    let instants = (simulation.plan().days * PER_DAY) as i64;
    let at = |room: usize, i: i64| made.true_degc(simulation, room, simulation.start().plus_ms(i * STEP_MS));
    let room = |room| (0..instants).filter_map(|i| at(room, i)).collect();
    (0..made.temperatures.rooms.len()).map(room).collect()
}

/// True temperatures as rows.
pub(crate) fn true_rows(simulation: &Simulation, made: &SimulatedHome) -> Vec<Rows> {
    let start = simulation.start().ms();
    let rows = |degc: Vec<f64>| (0..).zip(degc).map(|(i, x)| (start + i * STEP_MS, Some(x))).collect();
    grid(simulation, made).into_iter().map(rows).collect()
}

/// What the loggers stored, each row at its true instant.
pub(crate) fn stored_rows(made: &SimulatedHome) -> Vec<Rows> {
    made.stored.iter().map(|rows| rows.iter().map(|(t, x)| (t.ms(), *x)).collect()).collect()
}

/// Hourly outdoor temperatures.
pub(crate) fn weather(simulation: &Simulation) -> Rows {
    let text = String::from_utf8(simulation.weather_file()).expect("the weather file is text");
    let degc = text.lines().skip(1).map(|line| line.split(',').next_back().and_then(|x| x.parse().ok()));
    (0..).zip(degc).map(|(hour, x)| (simulation.start().ms() + hour * 3_600_000, x)).collect()
}

/// The site with loggers that are said to have next to no error, and to trail by next to nothing.
pub(crate) fn without_error(site: &Site) -> Site {
    site.with(|facts| {
        let placements = facts.homes.iter_mut().flat_map(|h| &mut h.rooms).flat_map(|r| &mut r.placements);
        placements.for_each(|p| {
            (p.accuracy, p.time_constant_min) = (Some(KelvinDiff::new(1e-3)), Some(1e-3));
        });
    })
}

pub(crate) fn series(site: &Site, room: usize, rows: &[(i64, Option<f64>)]) -> RoomSeries {
    let mut limits = site.quality.clone();
    limits.tests.clear();
    let flagged = Flagged::new(Readings::from_series(rows), &limits);
    let accuracy = site.homes[0].rooms[room].accuracies();
    RoomSeries { placements: vec![(Corrected::new(&flagged, None, false), Span::ALWAYS)], accuracy }
}

/// Rooms and weather on one grid.
pub(crate) fn aligned(site: &Site, rooms: &[Rows], weather: &Rows) -> AlignedHome {
    let rooms: Vec<RoomSeries> = rooms.iter().enumerate().map(|(r, rows)| series(site, r, rows)).collect();
    let weather = AlignedHome::align(site, &[series(site, 0, weather)]);
    AlignedHome::align(site, &rooms).with_outdoor(&weather)
}

/// Its metrics.
pub(crate) fn compute(site: &Site, aligned: &AlignedHome) -> Computed {
    metrics::compute(site, &site.homes[0], aligned)
}

/// The row of a room (or the home) over the whole time.
pub(crate) fn row<'a>(
    computed: &'a Computed,
    site: &Site,
    id: &str,
    room: Option<usize>,
) -> Option<&'a MetricRow> {
    let name = room.map(|r| site.homes[0].rooms[r].name.as_str());
    computed.rows.iter().find(|r| r.slice == Slice::All && r.metric.id == id && r.room.as_deref() == name)
}

/// Its interval.
pub(crate) fn interval(computed: &Computed, site: &Site, id: &str, room: Option<usize>) -> Option<Interval> {
    row(computed, site, id, room)?.interval
}
