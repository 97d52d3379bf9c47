//! Measures the audit against simulated buildings whose truth is known.

mod case;
mod events;
mod found;
mod intervals;
mod table;

use evenrooms::clock::Zone;
use evenrooms::exports::Files;
use evenrooms::pipeline::{Offsets, audit_home};
use evenrooms::simulate::{Homes, Plan, SimulatedHome, Simulation};
use evenrooms::site::{Site, read_site_file};

use case::Case;
use events::Events;
pub(crate) use found::Found;
pub(crate) use table::table;

/// What was measured.
#[derive(Debug)]
pub(crate) struct Score {
    pub(crate) homes: u32,
    pub(crate) days: u32,
    pub(crate) events: Events,
    /// Intervals that held the truth, in the order of [`intervals::KINDS`].
    pub(crate) intervals: Vec<Found>,
}

/// Days each home is watched.
const DAYS: usize = 28;

/// Runs the audit over the buildings of some seeds, with so many homes each.
pub(crate) fn measure(seeds: std::ops::Range<u64>, homes: usize) -> Score {
    let mut score = Score {
        homes: 0,
        days: DAYS as u32,
        events: Events::default(),
        intervals: vec![Found::default(); intervals::KINDS.len()],
    };
    for seed in seeds {
        let simulation = Simulation::new(plan(seed, homes));
        for home in 0..homes {
            let made = simulation.home(home);
            let site = site(&simulation, &made);
            let files: Files =
                made.files.iter().map(|(name, bytes)| (name.clone(), Ok(bytes.clone()))).collect();
            let work = audit_home(&site, &site.homes[0], &files, &Offsets::new(), None)
                .expect("a simulated home can be audited");
            score.add(&Case { simulation: &simulation, site: &site, made: &made, audit: &work.audit });
        }
    }
    score
}

fn plan(seed: u64, homes: usize) -> Plan {
    Plan {
        seed,
        homes,
        days: DAYS,
        interval_s: 300,
        start: "2026-01-05".parse().expect("a date"),
        zone: Zone::parse("America/Chicago").expect("the zone is in the IANA database"),
        homes_from: Homes::Drawn { troubles: 0.5, faults: 0.12 },
    }
}

fn site(simulation: &Simulation, made: &SimulatedHome) -> Site {
    let roster = format!("{}{}", simulation.roster_header(), made.roster);
    read_site_file("site.toml", &simulation.site_file())
        .with_roster("roster.csv", roster.as_bytes())
        .expect("a simulated site has no mistakes")
}

impl Score {
    fn add(&mut self, case: &Case<'_>) {
        self.homes += 1;
        self.events.add(case);
        for (kind, found) in intervals::KINDS.iter().zip(&mut self.intervals) {
            (kind.judge)(case).into_iter().for_each(|held| found.add(held));
        }
    }
}
