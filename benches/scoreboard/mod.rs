//! Measures the audit against simulated buildings whose truth is known.

mod case;
mod drawn;
mod events;
mod found;
mod intervals;
mod perfect;
mod table;

use evenrooms::exports::Files;
use evenrooms::pipeline::{Offsets, audit_home};

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

/// Runs the audit over the buildings of some seeds, with so many homes each.
pub(crate) fn measure(seeds: std::ops::Range<u64>, homes: usize) -> Score {
    let mut score = Score {
        homes: 0,
        days: drawn::DAYS as u32,
        events: Events::default(),
        intervals: vec![Found::default(); intervals::KINDS.len()],
    };
    for seed in seeds {
        let simulation = drawn::building(seed, homes, 0.12);
        for home in 0..homes {
            let made = simulation.home(home);
            let site = drawn::site(&simulation, &made);
            let files: Files =
                made.files.iter().map(|(name, bytes)| (name.clone(), Ok(bytes.clone()))).collect();
            let work = audit_home(&site, &site.homes[0], &files, &Offsets::new(), None)
                .expect("a simulated home can be audited");
            score.add(&Case { simulation: &simulation, site: &site, made: &made, audit: &work.audit });
        }
    }
    score
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
