//! What happened, in a sentence of a person: rooms, what, dates.

use super::amounts::Amount;
use super::assemble::{Draft, year};
use super::dates::{show_day, show_days, show_moments};
use super::kinds;
use super::{Case, Course, Since};
use crate::clock::{Span, Zone};
use crate::findings::{About, Evidence, Finding};
use crate::site::Site;
use crate::units::Celsius;

/// Rooms that are named; more are counted.
const NAMED: usize = 3;
/// Words of a sentence; where it would have more, its rooms are counted and not named.
const MOST_WORDS: usize = 25;

/// Some rooms: `bedroom 1 and kitchen`, `5 rooms`; of none nothing.
pub fn rooms_words(rooms: &[String]) -> String {
    match rooms {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] if rooms.len() <= NAMED => format!("{} and {last}", most.join(", ")),
        more => format!("{} rooms", more.len()),
    }
}

/// When it was, for a list: `since 29 Jan`, `24 Feb – 1 Mar`, `over: 6–9 Feb`; empty where nothing tells.
pub fn when_words(case: &Case, zone: Zone) -> String {
    let Some(span) = case.span.filter(|_| !is_scattered(case.kind)) else { return String::new() };
    match case.course {
        Course::GoesOn if case.kind.about == About::Building && case.from_the_start => {
            "since the first day".to_owned()
        }
        Course::GoesOn if case.kind.about == About::Building => since_when(false, span, zone, case.year),
        Course::Over => format!("over: {}", show_days(span, zone, case.year)),
        Course::Ended if case.kind.is_outage() => {
            format!("{}; heat is back", show_days(span, zone, case.year))
        }
        _ => show_days(span, zone, case.year),
    }
}

/// `since 29 Jan`; what was so on the first day has no beginning that anybody knows.
fn since_when(from_the_start: bool, span: Span, zone: Zone, year: i32) -> String {
    let day = show_day(span.from, zone, year);
    if from_the_start { format!("since the first day ({day})") } else { format!("since {day}") }
}

/// A case in words: rooms, what, dates, and the number that a person asks for first.
pub(super) struct Told<'t, 'a> {
    pub(super) evidence: &'t Evidence<'t>,
    pub(super) draft: &'t Draft<'a>,
    pub(super) rooms: &'t [String],
    /// The finding that decided how pressing it is.
    pub(super) decided: Option<&'a Finding>,
    /// The number that a person asks for first.
    pub(super) number: Option<&'t Amount<'a>>,
    pub(super) course: Course,
    pub(super) from_the_start: bool,
}

impl Told<'_, '_> {
    /// What happened, with dates.
    pub(super) fn sentence(&self) -> String {
        let Self { draft, course, .. } = *self;
        let (zone, year) = (self.evidence.site.zone, year(self.evidence));
        if let Some(outage) = draft.outage {
            let place = if self.rooms.is_empty() {
                String::new()
            } else {
                format!(" in {}", rooms_words(self.rooms))
            };
            let how = self.amount();
            let [from, to] = show_moments(outage.span, zone, year);
            let (what, on, back) = match () {
                () if draft.kind == &kinds::HELD_LOW => {
                    ("Held at a low level", "still so", "then warm again")
                }
                () if draft.kind == &kinds::FALLS_BEHIND => {
                    ("Heating could not keep up with the cold", "still so", "then warm again")
                }
                () => ("No heat", "not back", "heat came back"),
            };
            let what = format!("{what}{place} for {how}");
            return match course {
                Course::GoesOn => format!("{what}, since {from}; {on} at the end of the record."),
                _ if outage.censored => format!("{what}, from {from} to {to}."),
                _ => format!("{what}, from {from} to {to}; {back}."),
            };
        }
        let named = self.of_rooms(&rooms_words(self.rooms));
        match self.rooms.len() > 1 && named.split_whitespace().count() > MOST_WORDS {
            true => self.of_rooms(&format!("{} rooms", self.rooms.len())),
            false => named,
        }
    }

    /// The sentence of what is no outage, with these words for its rooms.
    fn of_rooms(&self, place: &str) -> String {
        let Self { draft, course, .. } = *self;
        let (zone, year) = (self.evidence.site.zone, year(self.evidence));
        let what = upper_first(&self.what(place));
        match draft.span() {
            Some(span) if course == Course::GoesOn && draft.kind.about == About::Building => {
                format!("{what}, {}.", since_when(self.from_the_start, span, zone, year))
            }
            Some(span) if !is_scattered(draft.kind) => format!("{what}, {}.", show_days(span, zone, year)),
            _ => format!("{what}."),
        }
    }

    /// The number that a person asks for first, in words; empty where there is none.
    pub(super) fn amount(&self) -> String {
        if let Some(outage) = self.draft.outage {
            let down = self.evidence.site.units.show(Celsius::new(outage.lowest));
            return format!("{:.0} h, down to {down}", outage.span.hours());
        }
        self.number.map_or(String::new(), |number| number.words.clone())
    }

    /// The evidence: what the finding says that the number is of, where it is of the rule that decided; else what that says.
    pub(super) fn evidence(&self) -> Option<String> {
        let decided = self.decided?;
        let of_number = self.number.map(|number| number.finding).filter(|f| f.rule == decided.rule);
        Some(of_number.unwrap_or(decided).shows.clone())
    }

    /// Rooms and what, with the number that a person asks for first.
    fn what(&self, place: &str) -> String {
        let words = self.draft.kind.words;
        let number = self.number.map(|number| number.words.as_str());
        let said = number.map_or(String::new(), |words| format!(" ({words})"));
        match (place, self.draft.kind.about) {
            ("", _) => format!("{words}{said}"),
            // Of one room nobody says that it is far apart.
            (place, About::Building) if self.draft.kind == &kinds::UNEVEN => match number {
                Some(number) if self.rooms.len() == 1 => format!("{place} {number}"),
                _ => format!("{words}: {place}{said}"),
            },
            (place, About::Building) => format!("{place} {words}{said}"),
            (place, About::Record) => format!("{words} in {place}{said}"),
        }
    }
}

/// Whether the span of a case only says from when to when the logger recorded.
fn is_scattered(kind: &super::CaseKind) -> bool {
    [&kinds::SENSOR, &kinds::FADES].contains(&kind)
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
    let mut told: Vec<String> = all.iter().filter(touches).map(words).collect();
    if draft.outage.is_some_and(|outage| outage.nobody) {
        told.push(
            "no sign of people in kitchen and bathroom: rather turned down while they were away".to_owned(),
        );
    }
    told.join("; ")
}

/// A case for a list: what, where, how far, when: `no heat 6–9 Feb`, `living: too cold by 4.5 °F since 9 Jan`.
fn short(case: &Case, zone: Zone) -> String {
    let place = rooms_words(&case.rooms);
    let place = if place.is_empty() { String::new() } else { format!("{place}: ") };
    let when = match (case.span, case.course) {
        (Some(span), Course::GoesOn) if case.kind.about == About::Building => {
            let from = if case.from_the_start {
                "the first day".to_owned()
            } else {
                show_day(span.from, zone, case.year)
            };
            format!(" since {from}")
        }
        (Some(span), _) if !is_scattered(case.kind) => format!(" {}", show_days(span, zone, case.year)),
        _ => String::new(),
    };
    let by = match case.course {
        Course::Over => String::new(),
        _ if case.by.is_empty() => String::new(),
        _ => format!(" {}", case.by),
    };
    let over = match (case.course, case.since) {
        (Course::Over, _) => " is over",
        (_, Some(Since::Over)) => " (over)",
        (_, Some(Since::New)) => " (new)",
        (_, Some(Since::StillThere)) => " (still)",
        (_, Some(Since::NotSeen)) => ", not seen any more",
        _ => "",
    };
    format!("{place}{}{by}{when}{over}", case.kind.words)
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
