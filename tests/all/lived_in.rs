//! Homes of the second physics, from outside: the option, the same bytes each time, and an audit of what it writes.

use std::collections::BTreeMap;

use evenrooms::clock::Zone;
use evenrooms::simulate::{FaultKind, Homes, Plan, Simulation, Trouble};

use crate::program::{files_in, run};

const PLAN: [&str; 8] = ["--homes", "3", "--days", "9", "--faults", "0.4", "--physics", "lived-in"];

#[test]
fn the_option_makes_a_site_that_can_be_audited_and_the_seed_makes_its_bytes() {
    let folder = tempfile::tempdir().unwrap();
    let simulate = |out: &str, seed: &str, threads: &str| {
        let ran = run(
            folder.path(),
            &[&["simulate", "--out", out, "--seed", seed, "--threads", threads], &PLAN[..]].concat(),
        );
        assert_eq!(ran.code, Some(0), "{}", ran.stderr);
        files_in(&folder.path().join(out))
    };
    let one = simulate("a", "5", "1");
    assert!(simulate("b", "5", "2") == one, "threads changed something");
    let other = simulate("c", "6", "1");
    let differ = one.iter().filter(|(name, bytes)| other.get(*name) != Some(bytes)).count();
    assert!(differ + 1 >= one.len(), "only {differ} of {} files differ", one.len());
    let audit = run(folder.path(), &["audit", "a/site.toml", "--out", "audited", "--no-report"]);
    assert_eq!(audit.code, Some(0), "{}", audit.stderr);
    let homes = String::from_utf8(files_in(&folder.path().join("audited"))["findings.csv"].clone()).unwrap();
    assert!(homes.lines().count() > 3, "{homes}");
}

#[test]
fn a_scenario_that_is_laid_down_has_no_other_physics() {
    let folder = tempfile::tempdir().unwrap();
    let args = ["simulate", "--out", "a", "--scenario", "alder-row", "--physics", "lived-in"];
    assert_ne!(run(folder.path(), &args).code, Some(0));
}

fn building(seed: u64, homes: usize) -> Simulation {
    Simulation::new(Plan {
        seed,
        homes,
        days: 14,
        interval_s: 300,
        start: "2026-01-05".parse().unwrap(),
        zone: Zone::parse("America/Chicago").unwrap(),
        homes_from: Homes::LivedIn { troubles: 0.8, faults: 0.3 },
    })
}

/// What an audit is measured by: all kinds come, in sizes from small to large, from the start or from a date on.
#[test]
fn troubles_and_faults_of_all_kinds_come_in_sizes_and_at_dates() {
    let (mut troubles, mut faults) = (BTreeMap::new(), BTreeMap::new());
    for seed in 0..6 {
        let simulation = building(seed, 20);
        let start = simulation.start().iso();
        for home in 0..20 {
            let truth = simulation.home(home).truth;
            if let Some(event) = truth.event {
                let sizes: &mut Vec<f64> = troubles.entry(event.kind).or_default();
                sizes.push(event.size.unwrap());
            }
            for fault in truth.loggers.into_iter().filter_map(|l| l.fault) {
                let later = fault.from_utc != start;
                faults.entry((fault.kind, later)).or_insert_with(Vec::new).push(fault.size.abs());
            }
        }
    }
    assert_eq!(troubles.len(), 6, "{:?}", troubles.keys());
    let span = |sizes: &[f64]| {
        (sizes.iter().copied().fold(f64::MAX, f64::min), sizes.iter().copied().fold(0.0, f64::max))
    };
    let (short, long) = span(&troubles[&Trouble::HeatFailure]);
    assert!(short < 15.0 && long > 40.0, "failures of {short} to {long} h");
    let (small, large) = span(&faults[&(FaultKind::StepOffset, true)]);
    assert!(small < 0.6 && large > 2.0 && large <= 3.0, "steps of {small} to {large} K");
    for (kind, later) in [
        (FaultKind::ClockHourOff, false),
        (FaultKind::ClockSetLater, true),
        (FaultKind::HalfDayOff, false),
        (FaultKind::Swapped, false),
        (FaultKind::SwappedLater, true),
        (FaultKind::MovedToRoom, true),
        (FaultKind::CopyOfAnother, false),
        (FaultKind::SlowDrift, false),
        (FaultKind::BesideHeater, false),
        (FaultKind::InSun, false),
    ] {
        assert!(faults.contains_key(&(kind, later)), "no {kind:?}: {:?}", faults.keys());
        assert!(!faults.contains_key(&(kind, !later)), "{kind:?} at another time");
    }
}
