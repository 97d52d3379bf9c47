//! The table for people.

use std::fmt::Write as _;

use super::Score;
use super::found::Found;
use super::intervals::KINDS;

/// The table as it stands in DEVELOPERS.md.
pub(crate) fn table(score: &Score) -> String {
    let mut text = format!(
        "{} homes of 6 rooms, {} days each; half of them with something wrong, 12 % of the loggers with a fault.\n",
        score.homes, score.days
    );
    text.push_str(&found(score));
    text.push_str(&false_alarms(score));
    text.push_str(&intervals(score));
    text
}

fn found(score: &Score) -> String {
    let mut text =
        String::from("\n| what was there | there | found | missed | share found |\n|---|---|---|---|---|\n");
    let mut row = |name: String, f: &Found| {
        let missed = f.there - f.found;
        let _ = writeln!(text, "| {name} | {} | {} | {missed} | {} |", f.there, f.found, f.show());
    };
    score.events.events.iter().for_each(|(kind, f)| row(format!("event: {}", words(kind)), f));
    score.events.faults.iter().for_each(|(kind, f)| row(format!("fault: {}", words(kind)), f));
    text
}

fn false_alarms(score: &Score) -> String {
    let mut text = String::from("\n| false alarms | among | count | per month |\n|---|---|---|---|\n");
    let months = f64::from(score.days) / 30.4;
    let mut row = |name: &str, of: &str, f: Found| {
        let per = f64::from(f.found) / (f64::from(f.there) * months).max(1e-9);
        let _ = writeln!(text, "| {name} | {} {of}s | {} | {per:.3} per {of} |", f.there, f.found);
    };
    row("visits to good homes", "home", score.events.good_homes);
    row("doubts about good loggers", "logger", score.events.good_loggers);
    let visits = score.events.visits;
    let _ = writeln!(
        text,
        "\nOf {} homes with sound loggers and a finding to act on, {} truly had something wrong (precision).",
        visits.there,
        visits.show()
    );
    text
}

fn intervals(score: &Score) -> String {
    let mut text =
        String::from("\n| interval | cases | should hold the truth | held it |\n|---|---|---|---|\n");
    for (kind, f) in KINDS.iter().zip(&score.intervals) {
        let claims = kind.claims.map_or(String::new(), |c| format!("{c:.0} %"));
        let _ = writeln!(text, "| {} | {} | {claims} | {:.1} % |", kind.name, f.there, f.share());
    }
    text
}

fn words(kind: impl serde::Serialize) -> String {
    serde_json::to_value(kind).ok().and_then(|v| v.as_str().map(|s| s.replace('-', " "))).unwrap_or_default()
}
