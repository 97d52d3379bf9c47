//! A small part of the scoreboard: what the audit is known to find, it goes on finding.

#[path = "../../benches/scoreboard/mod.rs"]
mod instrument;

use evenrooms::simulate::{FaultKind, Trouble};
use instrument::records::What;
use instrument::{Found, Homes, Score};

/// Faults that are seen in most cases.
const KNOWN: [FaultKind; 9] = [
    FaultKind::Stuck,
    FaultKind::SpikeBurst,
    FaultKind::SlowDrift,
    FaultKind::StepOffset,
    FaultKind::InSun,
    FaultKind::MovedOutdoors,
    FaultKind::InBag,
    FaultKind::WrongZone,
    FaultKind::BatteryDying,
];

fn share(found: Option<&Found>) -> f64 {
    found.map_or(100.0, |f| f.share())
}

fn of_record(score: &Score, kind: FaultKind) -> Option<&Found> {
    score.events.records.get(&(What::Fault(kind), true))
}

#[test]
fn what_is_known_to_be_found_is_found() {
    let score = instrument::measure(Homes::Usual, 7..8, 7);
    for kind in [Trouble::ColdRoom, Trouble::HeatFailure, Trouble::UnevenHome] {
        assert!(share(score.events.events.get(&(kind, true))) >= 75.0, "{}", instrument::table(&score));
    }
    for kind in KNOWN {
        assert!(share(of_record(&score, kind)) >= 75.0, "{}", instrument::table(&score));
    }
    assert!(
        score.events.events.len() >= 2 && score.events.records.len() >= 3,
        "the seed has too little in it: {}",
        instrument::table(&score)
    );
    assert!(score.events.good_loggers.share() <= 2.0, "{}", instrument::table(&score));
}

/// Of the findings about records of mixed homes, the share that is right at least, in %.
const FEWEST_RIGHT: f64 = 90.0;
/// Intervals of hours that hold the truth in mixed homes, in % at least: in so few homes one miss is two of them.
const FEWEST_HELD: f64 = 90.0;

#[test]
fn records_of_mixed_homes_are_judged_as_they_are() {
    let score = instrument::measure(Homes::Mixed, 2..4, 3);
    let table = instrument::table(&score);
    let right = score.events.about_records;
    assert!(
        right.there >= 3 && score.events.records.len() >= 8,
        "the seeds have too little in them: {table}"
    );
    assert!(right.share() >= FEWEST_RIGHT, "{table}");
    let held = score.held();
    assert!(held.share() >= FEWEST_HELD, "{table}");
}

/// Of loggers in homes that are lived in to which nothing happened, those that are doubted, in % at most.
const MOST_DOUBTED: f64 = 5.0;

#[test]
fn homes_of_the_second_physics_are_measured_by_size() {
    let score = instrument::measure(Homes::LivedIn, 3..5, 5);
    let table = instrument::table(&score);
    assert!(
        score.loggers >= 50 && score.events.records.len() >= 5,
        "the seeds have too little in them: {table}"
    );
    assert!(score.events.good_loggers.share() <= MOST_DOUBTED, "{table}");
    assert!(score.held().share() >= FEWEST_HELD, "{table}");
    assert!(table.contains("| found by size |") && table.contains("| fault: step offset | K |"), "{table}");
}
