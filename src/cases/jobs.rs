//! What is to be done in a home, thing by thing: the list to tick off, and what goes into the van for all of it.
//!
//! Settled here, and why:
//! - **Somebody who is there anyway** looks at what is only to watch, too: it stands on the list, after what sends people.
//! - **A criterion without enough data** is on the list where no case to act on is about its room: a verdict that nobody is sent
//!   to complete stays open for ever.

use std::cmp::Reverse;

use super::{Answer, Case, Course, Criterion};
use crate::findings::Severity;

/// One thing to do in a home.
#[derive(Clone, Debug, PartialEq)]
pub struct Job<'a> {
    /// Why: what happened, or what is missing.
    pub why: String,
    /// What to do first.
    pub step: &'a str,
    /// Where; empty: the home as a whole.
    pub rooms: &'a [String],
    /// What to bring; empty: nothing.
    pub bring: &'a str,
    /// Whether somebody goes there for it; else it is looked at when somebody is there.
    pub sends: bool,
}

/// What to bring where nothing is brought.
const NOTHING: &str = "nothing";

/// What is to be done in a home, what sends people first.
pub fn jobs<'a>(cases: &'a [Case], criteria: &'a [Criterion]) -> Vec<Job<'a>> {
    let here = |case: &&Case| case.course != Course::Over;
    let acts: Vec<&Case> = cases.iter().filter(here).filter(|c| c.severity <= Severity::Act).collect();
    let of_case = |case: &'a Case, sends: bool| Job {
        why: case.sentence.clone(),
        step: &case.next_step,
        rooms: &case.rooms,
        bring: if case.bring == NOTHING { "" } else { &case.bring },
        sends,
    };
    let of_criterion = |c: &'a Criterion| Job {
        why: c.sentence(),
        step: c.first_step(),
        rooms: c.room.as_slice(),
        bring: c.bring(),
        sends: true,
    };
    let about = |c: &Criterion| match &c.room {
        Some(room) => acts.iter().any(|case| case.rooms.contains(room)),
        None => !acts.is_empty(),
    };
    // What fails is what the cases are about, as far as there are any.
    let told = |c: &&Criterion| match c.answer {
        Answer::Pass => true,
        Answer::Fail => !acts.is_empty(),
        Answer::NotEnough => about(c),
    };
    let mut jobs: Vec<Job<'a>> = acts.iter().map(|case| of_case(case, true)).collect();
    for job in criteria.iter().filter(|c| !told(c)).map(of_criterion) {
        if !jobs.iter().any(|other| other.step == job.step && other.rooms == job.rooms) {
            jobs.push(job);
        }
    }
    let watched = cases.iter().filter(here).filter(|c| c.severity == Severity::Watch);
    jobs.extend(watched.map(|case| of_case(case, false)));
    jobs
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
        let words = super::words::upper_first(self.kind.words);
        // The room that is the worst has a name.
        let named = |room: &String| words.split(',').next().map(|words| format!("{words}, {room}"));
        let what = self.room.as_ref().and_then(named).unwrap_or_else(|| words.clone());
        format!("{what}: {}{why}", self.answer.words())
    }

    /// What to do first about a criterion that does not pass.
    pub fn first_step(&self) -> &'static str {
        match (self.kind.id, self.answer) {
            ("days", _) => "let the loggers run on until the days asked for are whole",
            ("coverage", _) => {
                "look for the rest of the downloads; else replace that logger and record again"
            }
            (_, Answer::NotEnough) if self.why.contains("logger is doubted") => {
                "settle first what is wrong with the logger"
            }
            ("evenness", Answer::NotEnough) if self.why.contains("nor do loggers this good") => {
                "take it as undecided, or ask for a wider margin: neither days nor these loggers decide"
            }
            ("evenness", Answer::NotEnough) if self.why.contains("more days will not decide") => {
                "lay all loggers of the home side by side in one place for a day, then put them back and record on"
            }
            ("evenness", Answer::NotEnough) => "leave the loggers where they are and record on",
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
            (_, Answer::NotEnough) => {
                "record on; or lay all loggers of the home side by side in one place for a day, which makes them surer"
            }
            _ => "look at setting and output of the room's heating, and at where its logger stands",
        }
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

/// How pressing the cases of a home are, beside those of homes that stand alike: what happened by the order of its kinds, of
/// homes without heat the longest time first, then those of which more was found.
pub(crate) fn order(cases: &[&Case]) -> impl Ord + use<> {
    let rank = |case: &&Case| super::KINDS.iter().position(|kind| *kind == case.kind);
    let worst = cases.iter().filter_map(rank).min().unwrap_or(usize::MAX);
    let outages = cases.iter().filter(|case| case.kind.is_outage());
    let longest_ms = outages.filter_map(|case| case.span).map(|span| span.to.ms() - span.from.ms()).max();
    let findings: usize = cases.iter().map(|case| case.findings.len()).sum();
    (worst, Reverse(longest_ms), Reverse(findings))
}
