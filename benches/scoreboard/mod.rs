//! Measures the audit against simulated buildings whose truth is known.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

use evenrooms::audit::HomeAudit;
use evenrooms::clock::Zone;
use evenrooms::exports::Files;
use evenrooms::findings::{About, Severity};
use evenrooms::pipeline::{Offsets, audit_home};
use evenrooms::simulate::{FaultKind, Plan, SimulatedHome, Simulation, Trouble};
use evenrooms::site::{Site, read_site_file};
use evenrooms::units::Celsius;

/// Found among all there were.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Found {
    pub(crate) there: u32,
    pub(crate) found: u32,
}

impl Found {
    fn add(&mut self, found: bool) {
        self.there += 1;
        self.found += u32::from(found);
    }

    pub(crate) fn share(self) -> f64 {
        100.0 * f64::from(self.found) / f64::from(self.there.max(1))
    }
}

/// What was measured.
#[derive(Debug, Default)]
pub(crate) struct Score {
    pub(crate) homes: u32,
    pub(crate) days: u32,
    pub(crate) events: BTreeMap<Trouble, Found>,
    pub(crate) faults: BTreeMap<FaultKind, Found>,
    /// Intervals that held the truth.
    pub(crate) intervals: BTreeMap<&'static str, Found>,
    /// Homes and loggers with nothing wrong, and findings about them.
    pub(crate) good_homes: u32,
    pub(crate) false_visits: u32,
    pub(crate) good_loggers: u32,
    pub(crate) false_doubts: u32,
    /// Findings that somebody must act on and that were right, and all of them.
    pub(crate) right_visits: u32,
    pub(crate) visits: u32,
}

/// Days each home is watched.
const DAYS: usize = 28;

/// Runs the audit over the buildings of some seeds, with so many homes each.
pub(crate) fn measure(seeds: std::ops::Range<u64>, homes: usize) -> Score {
    let mut score = Score { days: DAYS as u32, ..Score::default() };
    for seed in seeds {
        let zone = Zone::parse("America/Chicago").expect("the zone is in the IANA database");
        let start = "2026-01-05".parse().expect("a date");
        let plan = Plan {
            seed,
            homes,
            days: DAYS,
            interval_s: 300,
            start,
            zone,
            share_of_troubles: 0.5,
            share_of_faults: 0.12,
        };
        let simulation = Simulation::new(plan);
        for home in 0..homes {
            let made = simulation.home(home);
            let site = site(&simulation, &made);
            let files: Files =
                made.files.iter().map(|(name, bytes)| (name.clone(), Ok(bytes.clone()))).collect();
            let work = audit_home(&site, &site.homes[0], &files, &Offsets::new(), None)
                .expect("a simulated home can be audited");
            score.add(&simulation, &site, &made, &work.audit);
        }
    }
    score
}

fn site(simulation: &Simulation, made: &SimulatedHome) -> Site {
    let roster = format!("{}{}", simulation.roster_header(), made.roster);
    read_site_file("site.toml", &simulation.site_file())
        .with_roster("roster.csv", roster.as_bytes())
        .expect("a simulated site has no mistakes")
}

/// Rules that see a trouble, and the room they should name.
fn expected(trouble: Trouble) -> (&'static [&'static str], Option<&'static str>) {
    match trouble {
        Trouble::None => (&[], None),
        Trouble::ColdRoom => (&["room-cold"], Some("bedroom 2")),
        Trouble::ClosedDoor => (&["room-cold"], Some("bathroom")),
        Trouble::UnevenHome => (&["home-uneven"], None),
        Trouble::NoRecovery => (&["slow-recovery"], None),
        Trouble::HeatFailure => (&["room-cold"], None),
        Trouble::Overheating => (&["room-overheated"], Some("bedroom 2")),
    }
}

impl Score {
    fn add(&mut self, simulation: &Simulation, site: &Site, made: &SimulatedHome, audit: &HomeAudit) {
        self.homes += 1;
        let faulty: BTreeSet<&str> =
            made.truth.loggers.iter().filter(|l| l.fault.is_some()).map(|l| l.room).collect();
        let trouble = made.truth.event.as_ref().map_or(Trouble::None, |e| e.kind);
        let acts =
            || audit.findings.iter().filter(|f| f.about == About::Building && f.severity <= Severity::Act);
        let (rules, room) = expected(trouble);
        let right = |f: &evenrooms::findings::Finding| {
            rules.contains(&f.rule) && (room.is_none() || f.room.as_deref() == room)
        };
        if trouble != Trouble::None {
            self.events.entry(trouble).or_default().add(acts().any(right));
        }
        if trouble == Trouble::None && faulty.is_empty() {
            self.good_homes += 1;
            self.false_visits += u32::from(acts().next().is_some());
        }
        if faulty.is_empty() {
            self.visits += u32::from(acts().next().is_some());
            self.right_visits += u32::from(trouble != Trouble::None && acts().next().is_some());
        }
        let doubts = |room: &str| {
            audit.findings.iter().any(|f| f.about == About::Record && f.room.as_deref() == Some(room))
        };
        for logger in &made.truth.loggers {
            match &logger.fault {
                Some(fault) => self.faults.entry(fault.kind).or_default().add(doubts(logger.room)),
                None => {
                    self.good_loggers += 1;
                    self.false_doubts += u32::from(doubts(logger.room));
                }
            }
        }
        for (index, logger) in made.truth.loggers.iter().enumerate().filter(|(_, l)| l.fault.is_none()) {
            self.add_interval(simulation, site, made, audit, index, logger.room);
        }
    }

    fn add_interval(
        &mut self,
        simulation: &Simulation,
        site: &Site,
        made: &SimulatedHome,
        audit: &HomeAudit,
        index: usize,
        room: &str,
    ) {
        let period = evenrooms::site::WHOLE_RECORD;
        let Some(row) = audit.value(period, Some(room), "hours_below_band") else { return };
        let (Some(interval), Some(coverage)) = (row.interval, audit.value(period, Some(room), "coverage"))
        else {
            return;
        };
        let truth = true_hours_below(simulation, site, made, index);
        // Only where something could be wrong: a room that is never near its limit has an easy interval.
        if coverage.value > 99.0 && interval.high > 0.0 {
            let lost = (100.0 - coverage.value) / 100.0 * row.hours_observed + 0.5;
            let held = truth >= interval.low - lost && truth <= interval.high + lost;
            self.intervals.entry("hours_below_band, sensor accuracy").or_default().add(held);
        }
    }
}

fn true_hours_below(simulation: &Simulation, site: &Site, made: &SimulatedHome, room: usize) -> f64 {
    let (Some(day), Some(night)) = (site.bands.occupied, site.bands.night) else { return 0.0 };
    let step_ms = site.step_ms;
    let first = simulation.start().ms().div_euclid(step_ms) + 1;
    let instants = (first..first + (DAYS as i64 * 86_400_000) / step_ms)
        .map(|n| evenrooms::clock::UtcTime::from_ms(n * step_ms));
    let below = instants.filter(|t| {
        let of_day = site.zone.local(*t).ms().rem_euclid(86_400_000) / 3_600_000;
        let limit = if (6..22).contains(&of_day) { day.lower } else { night.lower };
        made.true_degc(simulation, room, *t).is_some_and(|degc| Celsius::new(degc) < limit)
    });
    below.count() as f64 * step_ms as f64 / 3_600_000.0
}

/// The table for people.
pub(crate) fn table(score: &Score) -> String {
    let mut text = String::new();
    let months = f64::from(score.days) / 30.4;
    let _ = writeln!(
        text,
        "{} homes of 6 rooms, {} days each; half of them with something wrong, 12 % of the loggers with a fault.\n",
        score.homes, score.days
    );
    let _ =
        writeln!(text, "| what was there | there | found | missed | share found |\n|---|---|---|---|---|");
    let mut row = |name: String, f: &Found| {
        let _ = writeln!(
            text,
            "| {name} | {} | {} | {} | {:.0} % |",
            f.there,
            f.found,
            f.there - f.found,
            f.share()
        );
    };
    score.events.iter().for_each(|(kind, f)| row(format!("event: {}", words(kind)), f));
    score.faults.iter().for_each(|(kind, f)| row(format!("fault: {}", words(kind)), f));
    let _ = writeln!(text, "\n| false alarms | among | count | per month |\n|---|---|---|---|");
    let per = |n: u32, of: u32| f64::from(n) / (f64::from(of) * months).max(1e-9);
    let _ = writeln!(
        text,
        "| visits to good homes | {} homes | {} | {:.3} per home |",
        score.good_homes,
        score.false_visits,
        per(score.false_visits, score.good_homes)
    );
    let _ = writeln!(
        text,
        "| doubts about good loggers | {} loggers | {} | {:.3} per logger |",
        score.good_loggers,
        score.false_doubts,
        per(score.false_doubts, score.good_loggers)
    );
    let precision = Found { there: score.visits, found: score.right_visits };
    let _ = writeln!(
        text,
        "\nOf {} homes with sound loggers and a finding to act on, {:.0} % truly had something wrong (precision).",
        score.visits,
        precision.share()
    );
    let _ = writeln!(text, "\n| interval | cases | held the truth |\n|---|---|---|");
    for (name, f) in &score.intervals {
        let _ = writeln!(text, "| {name} | {} | {:.1} % |", f.there, f.share());
    }
    text
}

fn words(kind: impl serde::Serialize) -> String {
    serde_json::to_value(kind).ok().and_then(|v| v.as_str().map(|s| s.replace('-', " "))).unwrap_or_default()
}
