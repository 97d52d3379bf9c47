//! What happened, in a sentence of a person: rooms, what, dates.

use super::assemble::{Draft, year};
use super::dates::{show_day, show_days, show_moments};
use super::kinds;
use super::{Case, Course, Since};
use crate::clock::Zone;
use crate::findings::{About, Evidence, Finding};
use crate::site::Site;
use crate::units::{Celsius, KelvinDiff};

/// Rooms that are named; more are counted.
const NAMED: usize = 3;

/// Some rooms: `bedroom 1 and kitchen`, `5 rooms`; of none nothing.
pub fn rooms_words(rooms: &[String]) -> String {
    match rooms {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] if rooms.len() <= NAMED => format!("{} and {last}", most.join(", ")),
        more => format!("{} rooms", more.len()),
    }
}

/// What happened, with dates.
pub(super) fn sentence(
    evidence: &Evidence<'_>,
    draft: &Draft<'_>,
    rooms: &[String],
    course: Course,
) -> String {
    let zone = evidence.site.zone;
    let units = evidence.site.units;
    let year = year(evidence);
    if let Some(outage) = draft.outage {
        let place = if rooms.is_empty() { String::new() } else { format!(" in {}", rooms_words(rooms)) };
        let down = format!("down to {}", units.show(Celsius::new(outage.lowest)));
        let [from, to] = show_moments(outage.span, zone, year);
        return match course {
            Course::GoesOn => {
                format!("No heat{place} since {from}, {down}; not back at the end of the record.")
            }
            _ => format!("No heat{place} from {from} to {to}, {down}."),
        };
    }
    let what = upper_first(&what(evidence, draft, rooms));
    match draft.span() {
        Some(span) if course == Course::GoesOn && draft.kind.about == About::Building => {
            format!("{what}, since {}.", show_day(span.from, zone, year))
        }
        Some(span) if !is_scattered(draft.kind) => format!("{what}, {}.", show_days(span, zone, year)),
        _ => format!("{what}."),
    }
}

/// Whether the span of a case only says from when to when the logger recorded.
fn is_scattered(kind: &super::CaseKind) -> bool {
    [&kinds::SENSOR, &kinds::FADES].contains(&kind)
}

/// The number that a person asks for first, in words; empty where there is none.
pub(super) fn amount(evidence: &Evidence<'_>, draft: &Draft<'_>) -> String {
    if let Some(outage) = draft.outage {
        return format!("down to {}", evidence.site.units.show(Celsius::new(outage.lowest)));
    }
    let of_rule = |rule: &str| draft.findings.iter().copied().find(|f| f.rule == rule);
    numbers(evidence, draft, &of_rule).unwrap_or_default()
}

/// When it was, for a list: `since 29 Jan`, `24 Feb – 1 Mar`, `over: 6–9 Feb`; empty where nothing tells.
pub fn when_words(case: &Case, zone: Zone) -> String {
    let Some(span) = case.span.filter(|_| !is_scattered(case.kind)) else { return String::new() };
    match case.course {
        Course::GoesOn if case.kind.about == About::Building => {
            format!("since {}", show_day(span.from, zone, case.year))
        }
        Course::Over => format!("over: {}", show_days(span, zone, case.year)),
        _ => show_days(span, zone, case.year),
    }
}

/// Rooms and what, with the number that a person asks for first.
fn what(evidence: &Evidence<'_>, draft: &Draft<'_>, rooms: &[String]) -> String {
    let words = draft.kind.words;
    let place = rooms_words(rooms);
    let of_rule = |rule: &str| draft.findings.iter().copied().find(|f| f.rule == rule);
    let number = numbers(evidence, draft, &of_rule).map_or(String::new(), |n| format!(" ({n})"));
    match (place.as_str(), draft.kind.about) {
        ("", _) => format!("{words}{number}"),
        (place, About::Building) => format!("{place} {words}{number}"),
        (place, About::Record) => format!("{words} in {place}{number}"),
    }
}

fn numbers<'a>(
    evidence: &Evidence<'_>,
    draft: &Draft<'a>,
    of_rule: &dyn Fn(&str) -> Option<&'a Finding>,
) -> Option<String> {
    let one = |f: &Finding, words: &str| {
        let most = if draft.rooms.len() > 1 { "up to " } else { "" };
        format!("{most}{:.0} h {words}", f.observed)
    };
    let difference = |f: &Finding| evidence.site.units.show_difference(KelvinDiff::new(f.observed.abs()));
    let only_uneven = draft.findings.iter().all(|f| f.rule == "room-uneven");
    let beside = [&kinds::CUT_OFF, &kinds::UNEVEN].contains(&draft.kind) || only_uneven;
    if let Some(f) = of_rule("room-uneven").filter(|_| beside) {
        let word = if f.observed < 0.0 { "below" } else { "above" };
        return Some(format!("{} {word} the heated rooms", difference(f)));
    }
    // What is told is that of the period of the case, where it has any.
    let any_now = draft.findings.iter().any(|f| f.of == draft.period);
    let now = move |f: &&Finding| !any_now || f.of == draft.period;
    let worst = |rule: &str| {
        let all = draft.findings.iter().copied().filter(now).filter(|f| f.rule == rule && f.unit == "h");
        all.max_by(|a, b| a.observed.total_cmp(&b.observed))
    };
    let share = |rule: &str| {
        let all = draft.findings.iter().copied().filter(now).filter(|f| f.rule == rule && f.unit == "%");
        all.max_by(|a, b| a.observed.total_cmp(&b.observed))
    };
    match () {
        () if draft.kind.about == About::Record => None,
        () if draft.kind == &kinds::SLOW_TO_RETURN => {
            // What is true of the worst of several rooms is not true of each.
            let most = if draft.rooms.len() > 1 { "up to " } else { "" };
            share("slow-recovery").map(|f| format!("{most}{:.0} % of mornings late", f.observed))
        }
        () if [&kinds::OVERHEATS, &kinds::SET_HIGH].contains(&draft.kind) => {
            worst("room-overheated").map(|f| one(f, "above the band"))
        }
        () if draft.kind == &kinds::UNEVEN => worst("home-uneven").map(|f| one(f, "over the limit")),
        () => worst("room-cold")
            .map(|f| one(f, "below the band"))
            .or_else(|| worst("heat-rule-shortfall").map(|f| one(f, "below the legal minimum"))),
    }
}

pub(super) fn upper_first(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or(String::new(), |first| first.to_uppercase().collect::<String>() + letters.as_str())
}

/// What speaks against a case about the building: doubts about the records that it rests on, in its rooms and time.
pub(super) fn against(evidence: &Evidence<'_>, draft: &Draft<'_>, all: &[Draft<'_>]) -> String {
    if draft.kind.about != About::Building {
        return String::new();
    }
    let touches = |other: &&Draft<'_>| {
        let rooms =
            draft.rooms.is_empty() || other.rooms.is_empty() || !draft.rooms.is_disjoint(&other.rooms);
        let times = draft.span().zip(other.span()).is_none_or(|(a, b)| a.overlaps(&b));
        // Of hours that are missing, or left out, no number is made.
        let silent = [&kinds::MISSING, &kinds::HANDLED, &kinds::FADES];
        let doubts = other.kind.about == About::Record && !silent.contains(&other.kind);
        doubts && rooms && times && other.period == draft.period
    };
    let words = |other: &Draft<'_>| {
        let rooms: Vec<String> = other.rooms.iter().map(|r| evidence.home.rooms[*r].name.clone()).collect();
        match (rooms.is_empty(), other.span()) {
            (false, _) => format!("{} in {}", other.kind.words, rooms_words(&rooms)),
            (true, Some(span)) => {
                let days = show_days(span, evidence.site.zone, year(evidence));
                format!("{}, {days}", other.kind.words)
            }
            (true, None) => other.kind.words.to_owned(),
        }
    };
    let told: Vec<String> = all.iter().filter(touches).map(words).collect();
    told.join("; ")
}

/// A case for a list: what, where, when: `no heat 6–9 Feb`, `kitchen: logger stuck 24 Feb – 1 Mar`.
fn short(case: &Case, zone: Zone) -> String {
    let place = rooms_words(&case.rooms);
    let place = if place.is_empty() { String::new() } else { format!("{place}: ") };
    let when = match (case.span, case.course) {
        (Some(span), Course::GoesOn) if case.kind.about == About::Building => {
            format!(" since {}", show_day(span.from, zone, case.year))
        }
        (Some(span), _) if !is_scattered(case.kind) => format!(" {}", show_days(span, zone, case.year)),
        _ => String::new(),
    };
    let over = match (case.course, case.since) {
        (Course::Over, _) => " is over",
        (_, Some(Since::Over)) => " (over)",
        (_, Some(Since::New)) => " (new)",
        (_, Some(Since::StillThere)) => " (still)",
        (_, Some(Since::NotSeen)) => ", not seen any more",
        _ => "",
    };
    format!("{place}{}{when}{over}", case.kind.words)
}

/// What happened in a home, in so many letters: the cases, the most pressing first.
pub fn home_line(site: &Site, cases: &[&Case], letters: usize) -> String {
    let mut line = String::new();
    for (told, case) in cases.iter().enumerate() {
        let next = short(case, site.zone);
        let joined = if line.is_empty() { next } else { format!("{line}; {next}") };
        let rest = cases.len() - told - 1;
        // Room for the count of those that are left.
        let spare = if rest > 0 { 10 } else { 0 };
        if told > 0 && joined.chars().count() + spare > letters {
            return format!("{line}; +{} more", cases.len() - told);
        }
        line = joined;
    }
    line
}
