//! Measures the audit against simulated buildings whose truth is known.

mod case;
mod drawn;
mod events;
mod found;
mod intervals;
pub(crate) mod kept;
mod lived_in;
mod mixed;
mod perfect;
pub(crate) mod records;
pub(crate) mod sizes;
mod table;
mod watched;

use std::collections::BTreeMap;

use evenrooms::exports::{Files, SeriesSeen, TextSeen, inspect};
use evenrooms::grid::AlignedHome;
use evenrooms::pipeline::{BesideRoster, Keep, Prepared, Unnamed, with_copies_told};
use evenrooms::quality::copies::Sketch;
use evenrooms::simulate::{SimulatedHome, Simulation};
use evenrooms::site::Site;

use case::Case;
use events::Events;
pub(crate) use found::Found;
pub(crate) use table::table;

/// Which homes are measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Homes {
    /// Heated homes with fine loggers.
    Usual,
    /// What real buildings have too: steady, unheated, freezing and hot homes, coarse loggers, handling, copies.
    Mixed,
    /// Homes of the second physics, which does not know what the audit finds.
    LivedIn,
}

impl Homes {
    /// Homes of this kind, a building of them.
    fn building(self, seed: u64, homes: usize) -> Simulation {
        match self {
            Homes::Usual => drawn::building(seed, homes, self.faults()),
            Homes::Mixed => mixed::building(seed, homes, self.faults()),
            Homes::LivedIn => lived_in::building(seed, homes, self.faults()),
        }
    }

    /// The site of one of them, and its weather where it has one.
    fn site(self, simulation: &Simulation, made: &SimulatedHome, home: usize) -> (Site, Option<AlignedHome>) {
        match self {
            Homes::Usual => (drawn::site(simulation, made), None),
            Homes::Mixed | Homes::LivedIn => watched::site(simulation, made, home),
        }
    }

    /// Share of loggers with a fault: more where faults are of more kinds and sizes, so that each is met often enough.
    pub(crate) fn faults(self) -> f64 {
        if self == Homes::Usual { 0.12 } else { 0.18 }
    }
}

/// What was measured.
#[derive(Debug)]
pub(crate) struct Score {
    pub(crate) of: Homes,
    pub(crate) seeds: std::ops::Range<u64>,
    pub(crate) homes: u32,
    pub(crate) loggers: u32,
    pub(crate) days: u32,
    pub(crate) events: Events,
    /// Intervals that held the truth, in the order of [`intervals::KINDS`].
    pub(crate) intervals: Vec<Found>,
}

/// Runs the audit over the buildings of some seeds, with so many homes each.
pub(crate) fn measure(of: Homes, seeds: std::ops::Range<u64>, homes: usize) -> Score {
    let mut score = Score {
        of,
        seeds: seeds.clone(),
        homes: 0,
        loggers: 0,
        days: drawn::DAYS as u32,
        events: Events::default(),
        intervals: vec![Found::default(); intervals::KINDS.len()],
    };
    for seed in seeds {
        let simulation = of.building(seed, homes);
        for home in 0..homes {
            let made = simulation.home(home);
            let (site, weather) = of.site(&simulation, &made, home);
            let told = score.events.misses.len();
            score.add_home(&simulation, &site, &made, weather.as_ref());
            for line in &mut score.events.misses[told..] {
                *line = format!("{of:?} seed {seed} home {}: {line}", made.truth.home);
            }
        }
    }
    score
}

/// Series of files that the roster does not name.
fn unnamed(site: &Site, files: &Files) -> Vec<Unnamed> {
    let placements = site.homes.iter().flat_map(|h| &h.rooms).flat_map(|r| &r.placements);
    let named: Vec<&str> = placements.flat_map(|p| &p.sources).map(|s| s.file.own()).collect();
    let stray = files.iter().filter(|(name, _)| !named.contains(&name.as_str()));
    let texts = stray.flat_map(|(name, bytes)| {
        let bytes = bytes.as_ref().expect("simulated files can be read");
        inspect(name, bytes, None).texts.into_iter().map(|text| (name.clone(), text))
    });
    let sketch = |(name, text): (String, TextSeen)| {
        let of = move |seen: SeriesSeen| {
            let (times, values): (Vec<i64>, Vec<f64>) = seen.readings.into_iter().unzip();
            (name.clone(), Sketch::of(&times, &values))
        };
        text.series.into_iter().map(of)
    };
    texts.flat_map(sketch).collect()
}

impl Score {
    /// All intervals, and those that held the truth.
    pub(crate) fn held(&self) -> Found {
        let sum = |n: fn(&Found) -> u32| self.intervals.iter().map(n).sum();
        Found { there: sum(|f| f.there), found: sum(|f| f.found) }
    }

    fn add_home(
        &mut self,
        simulation: &Simulation,
        site: &Site,
        made: &SimulatedHome,
        weather: Option<&AlignedHome>,
    ) {
        let files: Files = made.files.iter().map(|(name, bytes)| (name.clone(), Ok(bytes.clone()))).collect();
        let prepared = Prepared::under_weather(site.clone(), weather.cloned());
        let result = prepared.home(&site.homes[0], &mut |_: &[&str]| files.clone());
        let kept = result.expect("a simulated home can be audited").keep(Keep::Everything);
        let beside = BesideRoster { unnamed: &unnamed(site, &files), digests: &BTreeMap::new() };
        let (audits, _) = with_copies_told(site, vec![(kept.audit, kept.sketches)], beside);
        let case = Case { simulation, site, made, audit: &audits[0] };
        self.homes += 1;
        self.loggers += made.truth.loggers.len() as u32;
        self.events.add(&case);
        for (kind, found) in intervals::KINDS.iter().zip(&mut self.intervals) {
            (kind.judge)(&case).into_iter().for_each(|held| found.add(held));
        }
    }
}
