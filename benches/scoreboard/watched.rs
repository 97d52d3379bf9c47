//! How homes are watched: every other one beside a weather series.

use evenrooms::clock::Span;
use evenrooms::exports::Readings;
use evenrooms::grid::{AlignedHome, RoomSeries};
use evenrooms::quality::{Corrected, Flagged};
use evenrooms::simulate::{SimulatedHome, Simulation};
use evenrooms::site::{DEFAULT_ACCURACY, Site, read_site_file};
use evenrooms::units::Accuracy;

use super::drawn::HEAT_RULE;

/// The site of one home of a building, and the weather of every other one.
pub(crate) fn site(
    simulation: &Simulation,
    made: &SimulatedHome,
    home: usize,
) -> (Site, Option<AlignedHome>) {
    let roster = format!("{}{}", simulation.roster_header(), made.roster);
    let with_weather = home.is_multiple_of(2);
    let site = read_site_file("site.toml", &site_file(simulation, with_weather))
        .with_roster("roster.csv", roster.as_bytes())
        .expect("a simulated site has no mistakes");
    let weather = with_weather.then(|| weather(simulation, &site));
    (site, weather)
}

/// The text of its site file.
pub(crate) fn site_file(simulation: &Simulation, with_weather: bool) -> String {
    let text = simulation.site_file() + HEAT_RULE;
    let outdoor = |line: &&str| with_weather || !line.starts_with("outdoor =");
    text.lines().filter(outdoor).flat_map(|line| [line, "\n"]).collect()
}

fn weather(simulation: &Simulation, site: &Site) -> AlignedHome {
    let text = String::from_utf8(simulation.weather_file()).expect("the weather file is text");
    let degc = text.lines().skip(1).map(|line| line.split(',').next_back().and_then(|x| x.parse().ok()));
    let start = simulation.start().ms();
    let rows: Vec<(i64, Option<f64>)> =
        (0..).zip(degc).map(|(hour, x)| (start + hour * 3_600_000, x)).collect();
    let mut limits = site.quality.clone();
    limits.tests.clear();
    let flagged = Flagged::new(Readings::from_series(&rows), &limits);
    let placements = vec![(Corrected::new(&flagged, None, false), Span::ALWAYS)];
    AlignedHome::align(site, &[RoomSeries { placements, accuracy: Accuracy::stated(DEFAULT_ACCURACY) }])
}
