//! What simulated loggers stored is what the exports stage reads, effect by effect; and the same seed gives the same bytes.

use std::fs;
use std::sync::LazyLock;

use evenrooms::clock::{UtcTime, Zone};
use evenrooms::exports::{Files, Opened, Purpose, Reason, open_home};
use evenrooms::simulate::{Homes, Plan, SimulatedHome, Simulation, TrueLogger};
use evenrooms::site::read_site_file;

use crate::program::{files_in, run};

/// Weeks with a change of daylight saving in spring and in autumn, and one without.
const STARTS: [&str; 3] = ["2026-03-04", "2026-10-29", "2026-01-12"];
const DAYS: usize = 8;

/// One logger: its truth, what it stored, and what was read of it.
struct Logger {
    truth: TrueLogger,
    stored: Vec<(UtcTime, Option<f64>)>,
    opened: Opened,
}

/// Loggers without faults, of many makes and habits.
static LOGGERS: LazyLock<Vec<Logger>> = LazyLock::new(|| {
    STARTS.iter().enumerate().flat_map(|(seed, start)| building(seed as u64, start)).collect()
});

fn building(seed: u64, start: &str) -> Vec<Logger> {
    let homes = 10;
    let simulation = Simulation::new(Plan {
        seed,
        homes,
        days: DAYS,
        interval_s: 900,
        start: start.parse().unwrap(),
        zone: Zone::parse("America/Chicago").unwrap(),
        homes_from: Homes::Drawn { troubles: 0.5, faults: 0.0 },
    });
    (0..homes).flat_map(|home| read_back(&simulation, simulation.home(home))).collect()
}

fn read_back(simulation: &Simulation, made: SimulatedHome) -> Vec<Logger> {
    let roster = format!("{}{}", simulation.roster_header(), made.roster);
    let site = read_site_file("site.toml", &simulation.site_file())
        .with_roster("roster.csv", roster.as_bytes())
        .unwrap();
    let files: Files = made.files.into_iter().map(|(name, bytes)| (name, Ok(bytes))).collect();
    let opened = open_home(&site, &site.homes[0], &files, Purpose::Audit).unwrap();
    let truth = made.truth.loggers.into_iter().zip(made.stored);
    let placements = opened.into_iter().flatten();
    truth.zip(placements).map(|((truth, stored), opened)| Logger { truth, stored, opened }).collect()
}

fn set_aside(logger: &Logger, reason: Reason) -> u64 {
    logger.opened.ledgers.iter().filter_map(|l| l.set_aside.get(&reason)).sum()
}

/// Times as stored, to the millisecond where the clock was right, and values to the printed digits.
fn assert_read(logger: &Logger) {
    let readings = &logger.opened.readings;
    // Printed with one or two decimals, in °C or °F.
    let digit = if logger.truth.resolution_k >= 0.5 { 0.051 } else { 0.0051 };
    let slack_ms = if logger.truth.clock_fast_s == 0 { 0 } else { 1500 };
    let mut conflicts = logger.truth.conflicting_rows as usize;
    let mut rows = readings.times_ms().iter().zip(readings.degc()).peekable();
    for (at, degc) in &logger.stored {
        let here = rows.next_if(|(t, _)| (**t - at.ms()).abs() <= slack_ms);
        let Some((_, read)) = here else {
            assert!(conflicts > 0, "{} {}: a row was lost", logger.truth.logger, at.iso());
            conflicts -= 1;
            continue;
        };
        assert_eq!(read.is_nan(), degc.is_none(), "{} {}", logger.truth.logger, at.iso());
        let error = degc.map_or(0.0, |x| (read - x).abs());
        assert!(error < digit, "{} {}: off by {error} K", logger.truth.logger, at.iso());
    }
    assert_eq!((rows.count(), conflicts), (0, 0), "{}", logger.truth.logger);
}

#[test]
fn every_logger_is_read_back_as_it_was_stored() {
    LOGGERS.iter().for_each(assert_read);
    for clock in ["civil", "utc", "fixed -06:00", "fixed -05:00"] {
        assert!(LOGGERS.iter().any(|l| l.truth.clock == clock), "no logger keeps {clock}");
    }
}

#[test]
fn overlapping_downloads_are_joined_and_conflicts_set_aside() {
    let overlapping = |l: &&Logger| l.truth.overlap_utc.is_some();
    let (mut with_conflict, mut without) = (0, 0);
    for logger in LOGGERS.iter().filter(overlapping) {
        assert_eq!(logger.opened.ledgers.len(), 2, "two files");
        let [from, to] = logger.truth.overlap_utc.as_ref().unwrap();
        let shared = logger.stored.iter().filter(|(t, _)| (from..to).contains(&&t.iso())).count() as u64;
        let conflicts = u64::from(logger.truth.conflicting_rows);
        assert_eq!(set_aside(logger, Reason::ConflictingDuplicate), 2 * conflicts);
        assert_eq!(set_aside(logger, Reason::ExactDuplicate), shared - conflicts, "{}", logger.truth.logger);
        (with_conflict, without) = (with_conflict + conflicts, without + 1 - conflicts);
    }
    assert!(with_conflict >= 1 && without >= 10, "{with_conflict} {without}");
}

#[test]
fn a_clock_that_was_ahead_is_set_right() {
    let mut largest: i64 = 0;
    for logger in LOGGERS.iter().filter(|l| l.truth.clock_fast_s != 0) {
        let readings = &logger.opened.readings;
        assert_eq!(readings.len(), logger.stored.len());
        for (t, (at, _)) in readings.times_ms().iter().zip(&logger.stored) {
            assert!((t - at.ms()).abs() <= 1500, "{}: {} ms off", logger.truth.logger, t - at.ms());
        }
        largest = largest.max(logger.truth.clock_fast_s.abs());
    }
    assert!(largest >= 120, "{largest} s is no error to speak of");
}

#[test]
fn readings_come_in_steps_of_the_resolution() {
    for logger in LOGGERS.iter() {
        let step = logger.truth.resolution_k;
        for x in logger.stored.iter().filter_map(|(_, x)| *x) {
            assert!((x / step - (x / step).round()).abs() < 1e-6, "{x} is no multiple of {step}");
        }
    }
    for step in [0.01, 0.0625, 0.1, 0.5] {
        assert!(LOGGERS.iter().any(|l| (l.truth.resolution_k - step).abs() < 1e-9), "none has {step} K");
    }
}

#[test]
fn dropped_rows_are_counted_and_missing_from_the_files() {
    for logger in LOGGERS.iter() {
        assert_eq!(logger.stored.len() + logger.truth.rows_dropped, DAYS * 96, "{}", logger.truth.logger);
    }
    assert!(LOGGERS.iter().map(|l| l.truth.rows_dropped).sum::<usize>() > 20);
}

/// Two seeds and two numbers of threads.
#[test]
fn the_seed_makes_the_bytes_and_threads_change_none() {
    let folder = tempfile::tempdir().unwrap();
    let simulate = |out: &str, seed: &str, threads: &str| {
        let plan = ["--homes", "3", "--days", "2", "--interval", "15 min", "--faults", "0.5", "--seed", seed];
        let args = [&["simulate", "--out", out, "--threads", threads], &plan[..]].concat();
        let ran = run(folder.path(), &args);
        assert_eq!(ran.code, Some(0), "{}", ran.stderr);
        files_in(&folder.path().join(out))
    };
    let (one, two) = (simulate("a", "5", "1"), simulate("b", "5", "2"));
    assert!(one == two, "threads changed something");
    assert!(one.len() > 15, "{:?}", one.keys());
    assert!(simulate("c", "5", "1") == one, "a second run changed something");
    let other = simulate("d", "6", "1");
    let differ = one.iter().filter(|(name, bytes)| other.get(*name) != Some(bytes)).count();
    assert!(differ + 1 >= one.len(), "only {differ} of {} files differ", one.len());
    assert!(fs::read_to_string(folder.path().join("a/truth.json")).unwrap().contains("\"seed\": 5"));
}
