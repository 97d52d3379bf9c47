//! Buildings with what real ones have, winters and summers, with and without a weather series.

use evenrooms::clock::{Span, Zone};
use evenrooms::exports::Readings;
use evenrooms::grid::{AlignedHome, RoomSeries};
use evenrooms::quality::{Corrected, Flagged};
use evenrooms::simulate::{Homes, Plan, SimulatedHome, Simulation};
use evenrooms::site::{DEFAULT_ACCURACY, Site, read_site_file};
use evenrooms::units::Accuracy;

use super::drawn::{DAYS, HEAT_RULE};

/// How much warmer the weather of buildings is, in turns: two usual winters, a hard one, and a hot summer, K.
const WARMER_K: [f64; 4] = [0.0, 0.0, -5.0, 7.0];

/// A building whose usual homes are good in half of the cases; so large a share of the loggers has a fault.
pub(crate) fn building(seed: u64, homes: usize, faults: f64) -> Simulation {
    let turn = (seed % 4) as usize;
    let (summer, warmer_k) = (turn == 3, WARMER_K[turn]);
    let start = if summer { "2026-07-06" } else { "2026-01-05" };
    Simulation::new(Plan {
        seed,
        homes,
        days: DAYS,
        interval_s: 300,
        start: start.parse().expect("a date"),
        zone: Zone::parse("America/Chicago").expect("the zone is in the IANA database"),
        homes_from: Homes::Mixed { troubles: 0.5, faults, summer, warmer_k },
    })
}

/// The site of one of its homes, and the weather of every other one.
pub(crate) fn site(
    simulation: &Simulation,
    made: &SimulatedHome,
    home: usize,
) -> (Site, Option<AlignedHome>) {
    let roster = format!("{}{}", simulation.roster_header(), made.roster);
    let text = simulation.site_file() + HEAT_RULE;
    let with_weather = home.is_multiple_of(2);
    let outdoor = |line: &&str| with_weather || !line.starts_with("outdoor =");
    let text: String = text.lines().filter(outdoor).flat_map(|line| [line, "\n"]).collect();
    let site = read_site_file("site.toml", &text)
        .with_roster("roster.csv", roster.as_bytes())
        .expect("a simulated site has no mistakes");
    let weather = with_weather.then(|| weather(simulation, &site));
    (site, weather)
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
