//! A small part of the scoreboard: what the audit is known to find, it goes on finding.

#[path = "../../benches/scoreboard/mod.rs"]
mod instrument;

use evenrooms::simulate::{FaultKind, Trouble};

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

#[test]
fn what_is_known_to_be_found_is_found() {
    let score = instrument::measure(7..8, 14);
    let share = |found: Option<&instrument::Found>| found.map_or(100.0, |f| f.share());
    for kind in [Trouble::ColdRoom, Trouble::HeatFailure, Trouble::UnevenHome] {
        assert!(share(score.events.events.get(&kind)) >= 75.0, "{}", instrument::table(&score));
    }
    for kind in KNOWN {
        assert!(share(score.events.faults.get(&kind)) >= 75.0, "{}", instrument::table(&score));
    }
    assert!(
        score.events.events.len() >= 3 && score.events.faults.len() >= 3,
        "the seed has too little in it"
    );
    assert!(score.events.good_loggers.share() <= 2.0, "{}", instrument::table(&score));
}
