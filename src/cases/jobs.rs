//! What is to be done in a home, thing by thing: the list to tick off, and what goes into the van for all of it.
//!
//! Settled here, and why:
//! - **Somebody who is there anyway** looks at what is only to watch, too: it stands on the list, after what sends people.
//! - **A criterion without enough data** is on the list wherever no case asks for what would decide it: a verdict that nobody is
//!   sent to complete stays open for ever. What is wrong with a record is asked for by the cases about records.
//! - **A criterion that fails by a time that is told** – the home held at a low level, or without heat while nobody was there – sends
//!   people with the first step of that time, which is to ask; not with one about the heating's setting.
//! - **One step stands once**: loggers are laid side by side, or left to record on, for the home and not room by room.

use super::acceptance::FEW_AT_ONCE;
use super::kinds::Done;
use super::words::rooms_words;
use super::{Answer, Case, Course, Criterion};
use crate::findings::{About, Severity};

/// One thing to do in a home.
#[derive(Clone, Debug, PartialEq)]
pub struct Job<'a> {
    /// Why: what happened, or what is missing.
    pub why: String,
    /// The same in a few words: `sun on the logger in living`.
    pub short: String,
    /// What it could be instead; empty: that is not known, or nobody asks.
    pub could_also_be: &'a str,
    /// What to do first.
    pub step: &'a str,
    /// Where; empty: the home as a whole.
    pub rooms: &'a [String],
    /// What to bring; empty: nothing.
    pub bring: &'a str,
    /// Whether somebody goes there for it; else it is looked at when somebody is there, or at the desk.
    pub sends: bool,
    /// Whether it is settled without going there.
    pub at_desk: bool,
}

impl Job<'_> {
    /// What stands before the step where nobody goes there for it.
    pub fn occasion(&self) -> &'static str {
        match (self.sends, self.at_desk) {
            (true, _) => "",
            // Some steps say so themselves.
            (false, true) if self.step.starts_with("at the desk") => "",
            (false, true) => "At the desk: ",
            (false, false) => "While there: ",
        }
    }
}

/// What to bring where nothing is brought.
const NOTHING: &str = "nothing";

/// Steps that are one for all rooms of a home.
const SIDE_BY_SIDE: &str =
    "lay all loggers of the home side by side in one place for a day, then put them back and record on";
const RECORD_ON: &str =
    "record on; or lay all loggers of the home side by side in one place for a day, which makes them surer";
const STAY: &str = "leave the loggers where they are and record on";

/// What is to be done in a home, what sends people first.
pub fn jobs<'a>(cases: &'a [Case], criteria: &'a [Criterion]) -> Vec<Job<'a>> {
    let here = |case: &&Case| case.course != Course::Over;
    let acts: Vec<&'a Case> = cases.iter().filter(here).filter(|c| c.severity <= Severity::Act).collect();
    let mut jobs: Vec<Job<'a>> = acts.iter().map(|case| of_case(case, true)).collect();
    // Who comes anyway settles what is wrong with a logger, too; else somebody must go for it.
    let watch = |c: &&Case| !acts.is_empty() && c.severity == Severity::Watch;
    let causes = |c: &&Case| acts.is_empty() && criteria.iter().any(|open| c.causes(open));
    jobs.extend(cases.iter().filter(causes).map(|case| of_case(case, true)));
    let asked: Vec<&Case> =
        cases.iter().filter(here).filter(|c| c.severity <= Severity::Act || watch(c) || causes(c)).collect();
    for job in criteria.iter().filter(|c| !is_told(c, &asked)).map(of_criterion) {
        let same =
            |other: &Job<'_>| other.step == job.step || job.step == RECORD_ON && other.step == SIDE_BY_SIDE;
        if !jobs.iter().any(same) {
            jobs.retain(|other| !(job.step == SIDE_BY_SIDE && other.step == RECORD_ON));
            jobs.push(job);
        }
    }
    let to_do = |c: &&Case| c.severity == Severity::Watch && !causes(c) && c.kind.done != Done::Nowhere;
    let watched = cases.iter().filter(here).filter(to_do);
    jobs.extend(watched.map(|case| of_case(case, false)));
    jobs
}

impl Case {
    /// Whether it is a time too cold for a while, only to watch by itself, by which a criterion about cold may fail.
    pub fn causes(&self, criterion: &Criterion) -> bool {
        let about_cold = ["hours_below", "heat_rule", "late_recoveries"].contains(&criterion.kind.id);
        let told = self.course != Course::Over && self.severity == Severity::Watch;
        told && self.kind.is_for_a_while() && about_cold && criterion.answer == Answer::Fail
    }
}

fn of_case(case: &Case, sends: bool) -> Job<'_> {
    let place = rooms_words(&case.rooms);
    Job {
        why: case.sentence.clone(),
        short: if place.is_empty() {
            case.kind.words.to_owned()
        } else {
            format!("{} in {place}", case.kind.words)
        },
        could_also_be: &case.could_also_be,
        step: &case.next_step,
        rooms: &case.rooms,
        bring: if case.bring == NOTHING { "" } else { &case.bring },
        sends,
        at_desk: case.kind.done == Done::AtDesk,
    }
}

fn of_criterion(c: &Criterion) -> Job<'_> {
    let step = c.first_step();
    let of_the_home = [SIDE_BY_SIDE, RECORD_ON, STAY].contains(&step);
    Job {
        why: c.sentence(),
        short: c.named(),
        could_also_be: "",
        step,
        rooms: if of_the_home { &[] } else { c.room.as_slice() },
        bring: c.bring(),
        sends: true,
        at_desk: false,
    }
}

/// Whether the cases for which somebody comes ask for what a criterion needs.
fn is_told(c: &Criterion, asked: &[&Case]) -> bool {
    let about = |case: &&&Case| c.room.as_ref().is_none_or(|room| case.rooms.contains(room));
    let of_record = || asked.iter().filter(about).any(|case| case.kind.about == About::Record);
    match c.answer {
        Answer::Pass => true,
        // What fails is what the cases are about, as far as there are any.
        Answer::Fail => !asked.is_empty(),
        Answer::NotEnough if c.is_about_the_record() => of_record(),
        Answer::NotEnough => false,
    }
}

/// What all of it takes, each thing once.
pub fn to_bring(jobs: &[Job<'_>]) -> String {
    let mut things: Vec<&str> = Vec::new();
    for thing in jobs.iter().flat_map(|job| job.bring.split(", ")).filter(|thing| !thing.is_empty()) {
        if !things.contains(&thing) {
            things.push(thing);
        }
    }
    things.join(", ")
}

impl Criterion {
    /// A criterion that does not pass, in a sentence.
    pub fn sentence(&self) -> String {
        let why = if self.why.is_empty() { String::new() } else { format!(" ({})", self.why) };
        format!("{}: {}{why}", super::words::upper_first(&self.named()), self.answer.words())
    }

    /// What it is about, and the room that decided: `evenness between the rooms, bathroom`.
    fn named(&self) -> String {
        // The room that is the worst has a name.
        let words = self.kind.words;
        let of = |room: &String| format!("{}, {room}", words.split(',').next().unwrap_or(words));
        self.room.as_ref().map_or_else(|| words.to_owned(), of)
    }

    /// What to do first about a criterion that does not pass.
    pub fn first_step(&self) -> &'static str {
        match (self.kind.id, self.answer) {
            ("days", _) if self.why.starts_with(FEW_AT_ONCE) => {
                "see that all rooms record at the same time; where that will not be, lower `quorum` of [spread] in the site file"
            }
            ("days", _) => "let the loggers run on until the days asked for are whole",
            ("coverage", _) => {
                "look for the rest of the downloads; else replace that logger and record again"
            }
            (_, Answer::NotEnough) if self.is_doubted() => "settle first what is wrong with the logger",
            ("evenness", Answer::NotEnough) if self.why.contains("nor do loggers this good") => {
                "take it as undecided, or ask for a wider margin: neither days nor these loggers decide"
            }
            ("evenness", Answer::NotEnough) if self.why.contains("more days will not decide") => SIDE_BY_SIDE,
            ("evenness", Answer::NotEnough) if self.why.contains("a side-by-side check sooner") => RECORD_ON,
            ("evenness", Answer::NotEnough) => STAY,
            ("evenness", _) => "look at doors, windows and where the loggers of the two rooms stand",
            ("late_recoveries", Answer::NotEnough) => {
                "leave the loggers where they are, for more mornings after a setback"
            }
            ("late_recoveries", _) => {
                "compare schedule and target with what is asked for, then look at the output on a cold morning"
            }
            ("heat_rule", Answer::NotEnough) => {
                "record more of the rule's hours, with the outdoor temperature"
            }
            (_, Answer::NotEnough) => RECORD_ON,
            _ => "look at setting and output of the room's heating, and at where its logger stands",
        }
    }

    fn is_doubted(&self) -> bool {
        self.why.contains("logger is doubted")
    }

    /// Whether what it lacks is a record that can be read, and not more of the same.
    fn is_about_the_record(&self) -> bool {
        let lacks = ["suspect", "too few", "no usable", "no day with", "no reference", "readings of a room"];
        self.kind.id == "coverage" || self.is_doubted() || lacks.iter().any(|words| self.why.contains(words))
    }

    /// What to bring for it; empty: nothing.
    fn bring(&self) -> &'static str {
        match (self.kind.id, self.answer) {
            ("coverage", _) => "spare logger, battery, cable of the logger",
            (_, Answer::NotEnough) => "",
            _ => "thermometer",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cases::{CRITERIA, KINDS};

    fn criterion(id: &str, room: &str, why: &str) -> Criterion {
        Criterion {
            home: "1A".to_owned(),
            period: "whole record".to_owned(),
            kind: CRITERIA.iter().find(|kind| kind.id == id).unwrap(),
            room: Some(room.to_owned()),
            limit: 1.0,
            measured: None,
            range: (None, None),
            answer: Answer::NotEnough,
            why: why.to_owned(),
        }
    }

    fn case(kind: &str, room: &str, severity: Severity) -> Case {
        let kind = KINDS.iter().find(|k| k.id == kind).unwrap();
        Case {
            id: format!("{}/1A/{room}", kind.id),
            kind,
            home: "1A".to_owned(),
            rooms: vec![room.to_owned()],
            severity,
            period: "whole record".to_owned(),
            span: None,
            from_the_start: false,
            course: Course::GoesOn,
            since: None,
            year: 2026,
            sentence: kind.words.to_owned(),
            amount: String::new(),
            by: String::new(),
            degree_hours_below: 0.0,
            decided: String::new(),
            sure: String::new(),
            against: String::new(),
            could_also_be: kind.could_also_be.to_owned(),
            doubted: false,
            next_step: kind.next_step.to_owned(),
            bring: kind.bring.to_owned(),
            findings: Vec::new(),
        }
    }

    #[test]
    fn a_check_side_by_side_that_a_criterion_asks_for_is_on_the_list_once() {
        let cases = [case("too-cold", "living", Severity::Act)];
        let open =
            "its interval reaches across the margin; more days will not decide: do a side-by-side check";
        let close = "too close to the limit to say";
        let criteria = [
            criterion("hours_below", "living", close),
            criterion("hours_above", "kitchen", close),
            criterion("evenness", "living", open),
        ];
        let jobs = jobs(&cases, &criteria);
        let steps: Vec<&str> = jobs.iter().map(|job| job.step).collect();
        assert_eq!(steps, [cases[0].next_step.as_str(), SIDE_BY_SIDE]);
        // All loggers of the home are laid down, not those of one room.
        assert!(jobs[1].rooms.is_empty() && jobs[1].sends, "{:?}", jobs[1]);
        assert_eq!(jobs[1].short, "evenness between the rooms, living");
    }

    #[test]
    fn what_a_case_about_the_record_settles_is_on_the_list_once() {
        let cases = [case("too-cold", "living", Severity::Act), case("sun", "living", Severity::Watch)];
        let criteria = [criterion("hours_above", "living", "its logger is doubted: settle that first")];
        let short =
            |cases: &[Case]| -> Vec<String> { jobs(cases, &criteria).into_iter().map(|j| j.short).collect() };
        assert_eq!(short(&cases), ["too cold in living", "sun on the logger in living"]);
        // Nobody comes for what is only to watch: then the criterion sends somebody.
        assert_eq!(short(&cases[1..]), ["hours above the band, living", "sun on the logger in living"]);
        assert_eq!(to_bring(&jobs(&cases[1..], &criteria)), "logger stand");
    }
}
