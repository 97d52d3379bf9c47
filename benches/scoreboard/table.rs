//! The table for people.

use std::fmt::Write as _;

use super::events::rules_for_trouble;
use super::found::Found;
use super::intervals::KINDS;
use super::{Homes, Score};

/// The table as it stands in benches/scoreboard.md.
pub(crate) fn table(score: &Score) -> String {
    let what = match score.of {
        Homes::Usual => "Usual homes: heated, with loggers every 5 min; half of them with something wrong.",
        Homes::LivedIn => {
            "Homes that are lived in (the second physics): 5 to 7 rooms, people and doors by chance, showers, cooking, airing, heat \
             pumps that cycle and thaw, sun by orientation, weather with fronts; half of them with something wrong, of any size; \
             loggers every 5 to 15 min, faults of any size, from the start or from a date on (*slight*: the true temperatures, or \
             the record, hardly show it)."
        }
        Homes::Mixed => {
            "Homes as real buildings have them: usual, steady, unheated, freezing, with a boiler cupboard, in a hot summer; \
             loggers of 0.01 to 1 K every 5 min to 1 h; boxes, hands, several downloads, holes, copies; faults of any size \
             (*slight*: the record hardly shows it)."
        }
    };
    let mut text = format!(
        "{what} {} homes with {} loggers, {} days each, {:.0} % of the loggers with a fault; seeds {} to {} (limits were set on \
         seeds below 1000).\n",
        score.homes,
        score.loggers,
        score.days,
        100.0 * score.of.faults(),
        score.seeds.start,
        score.seeds.end - 1
    );
    text.push_str(&found(score));
    text.push_str(&score.events.sizes.table());
    text.push_str(&false_alarms(score));
    text.push_str(&intervals(score));
    text
}

fn found(score: &Score) -> String {
    let mut text = String::from(
        "\n| what was there | there | found | missed | recall | rules that see it | their false alarms per logger-month | their precision |\n|---|---|---|---|---|---|---|---|\n",
    );
    let events = &score.events;
    let mut row = |name: String, f: &Found, rules: &[&str]| {
        let of_rules = events.of_rules(rules);
        let wrong = f64::from(of_rules.there - of_rules.found) / logger_months(score);
        let (wrong, precision) = match of_rules.there {
            0 => (String::new(), String::new()),
            _ => (format!("{wrong:.4}"), of_rules.show()),
        };
        let rules = if rules.is_empty() { "none".to_owned() } else { rules.join(", ") };
        let (there, missed, recall) = (f.there, f.there - f.found, f.show());
        let _ = writeln!(
            text,
            "| {name} | {there} | {} | {missed} | {recall} | {rules} | {wrong} | {precision} |",
            f.found
        );
    };
    let slight = |plain: bool| if plain { "" } else { ", slight" };
    for ((kind, plain), f) in &events.events {
        row(format!("event: {}{}", words(kind), slight(*plain)), f, rules_for_trouble(*kind));
    }
    for ((what, plain), f) in &events.records {
        row(format!("{}{}", what.words(), slight(*plain)), f, what.seen_by());
    }
    text
}

/// Months in which all loggers together recorded.
fn logger_months(score: &Score) -> f64 {
    f64::from(score.loggers * score.days) / DAYS_PER_MONTH
}

/// Days of a month.
const DAYS_PER_MONTH: f64 = 30.4;

fn false_alarms(score: &Score) -> String {
    let mut text = String::from("\n| rule | findings | right | precision |\n|---|---|---|---|\n");
    for (rule, f) in &score.events.rules {
        let _ = writeln!(text, "| {rule} | {} | {} | {} |", f.there, f.found, f.show());
    }
    text.push_str("\n| false alarms | among | count | per month |\n|---|---|---|---|\n");
    let months = f64::from(score.days) / DAYS_PER_MONTH;
    let mut row = |name: &str, of: &str, f: Found| {
        let per = f64::from(f.found) / (f64::from(f.there) * months).max(1e-9);
        let _ = writeln!(text, "| {name} | {} {of}s | {} | {per:.3} per {of} |", f.there, f.found);
    };
    row("visits to good homes", "home", score.events.good_homes);
    row("doubts about good loggers", "logger", score.events.good_loggers);
    let named = &score.events.named;
    if !named.is_empty() {
        let all = named
            .values()
            .fold(Found::default(), |a, b| Found { there: a.there + b.there, found: a.found + b.found });
        let each: Vec<String> =
            named.iter().map(|(trouble, f)| format!("{} {}", words(*trouble), f.show())).collect();
        let _ = writeln!(
            text,
            "\nOf {} troubles of homes with sound loggers, {} are named by a case of the right kind and room ({}), and {} are one case about the building.",
            all.there,
            all.show(),
            each.join(", "),
            score.events.one_case.show()
        );
    }
    let accepted = score.events.accepted;
    if accepted.there > 0 {
        let _ = writeln!(
            text,
            "\nOf {} homes with nothing wrong and sound loggers, {} are accepted with the default criteria.",
            accepted.there,
            accepted.show()
        );
    }
    let right = score.events.about_records;
    let _ = writeln!(
        text,
        "\nOf {} findings about records, {} described what had happened; of {} intervals of hours, {} held the truth.",
        right.there,
        right.show(),
        score.held().there,
        score.held().show()
    );
    let visits = score.events.visits;
    if visits.there > 0 {
        let _ = writeln!(
            text,
            "\nOf {} homes with sound loggers and a finding to act on, {} truly had something wrong (precision).",
            visits.there,
            visits.show()
        );
    }
    text
}

fn intervals(score: &Score) -> String {
    let mut text =
        String::from("\n| interval | cases | should hold the truth | held it |\n|---|---|---|---|\n");
    for (kind, f) in KINDS.iter().zip(&score.intervals).filter(|(_, f)| f.there > 0) {
        let claims = kind.claims.map_or(String::new(), |c| format!("{c:.0} %"));
        let _ = writeln!(text, "| {} | {} | {claims} | {:.1} % |", kind.name, f.there, f.share());
    }
    text
}

/// A kind as words.
pub(crate) fn words(kind: impl serde::Serialize) -> String {
    serde_json::to_value(kind).ok().and_then(|v| v.as_str().map(|s| s.replace('-', " "))).unwrap_or_default()
}
