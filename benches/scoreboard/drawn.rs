//! Buildings drawn from a seed, as both instruments watch them.

use evenrooms::clock::Zone;
use evenrooms::simulate::{Homes, Plan, SimulatedHome, Simulation};
use evenrooms::site::{Site, read_site_file};

/// Days each home is watched.
pub(crate) const DAYS: usize = 28;

/// A minimum by day and by night that a home with nothing wrong keeps.
pub(crate) const HEAT_RULE: &str = "\n[heat_rule]\nseason = { from = \"10-01\", to = \"05-31\" }\nwindow = [{ from = \"00:00\", to = \"24:00\", minimum = \"62 °F\" }]\n";

/// A building of half good homes; so large a share of the loggers has a fault.
pub(crate) fn building(seed: u64, homes: usize, faults: f64) -> Simulation {
    winter(seed, homes, Homes::Drawn { troubles: 0.5, faults })
}

/// A building of homes of a kind, watched in winter.
pub(crate) fn winter(seed: u64, homes: usize, homes_from: Homes) -> Simulation {
    Simulation::new(plan(seed, homes, homes_from))
}

/// What such a building is made by.
pub(crate) fn plan(seed: u64, homes: usize, homes_from: Homes) -> Plan {
    Plan {
        seed,
        homes,
        days: DAYS,
        interval_s: 300,
        start: "2026-01-05".parse().expect("a date"),
        zone: Zone::parse("America/Chicago").expect("the zone is in the IANA database"),
        homes_from,
    }
}

/// The site of one of its homes.
pub(crate) fn site(simulation: &Simulation, made: &SimulatedHome) -> Site {
    let roster = format!("{}{}", simulation.roster_header(), made.roster);
    let text = simulation.site_file() + HEAT_RULE;
    read_site_file("site.toml", &text)
        .with_roster("roster.csv", roster.as_bytes())
        .expect("a simulated site has no mistakes")
}
