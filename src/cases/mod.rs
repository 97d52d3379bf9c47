//! Findings and events of a home → cases: one thing that happened each, what a person would go for; and whether the home can be
//! accepted.
//!
//! A finding is what one rule says of one room or logger in one period, and one outage makes many of them. Each finding
//! belongs to exactly one case. Cases are made of findings, events and metric rows, never of a series.
//!
//! Settled here, and why:
//! - *Hours below and above the band* decide of rooms with heating of their own only: what cooking, steam and doors do to the
//!   others is held against the heated rooms (evenness), and the rules about rooms tell it all the same. Asked of every room,
//!   no simulated home with nothing wrong passed.
//! - *Over* is only what was seen before the period that decides. What is seen after it holds: nobody knows that it is over.
//! - *An outage that ended* within that period sends nobody by itself; the criteria it breaks do.
//! - *Several rooms* of one kind are one case: somebody goes there once. Rooms without heating of their own follow the heated
//!   ones, so that what is only cold in them is no other thing (`causes.rs`).
//! - *A finding that a rule doubts* belongs to the case of that rule: that is to be settled first.
//! - *Since an earlier audit*: a case is over only where its rooms are still measured well enough to be judged.
//! - Whether a room is too cold by its setting or by its output is told by its slope on the weather, where the record has one
//!   (`by_slope.rs`).

mod acceptance;
mod amounts;
mod assemble;
mod building;
mod by_slope;
mod causes;
mod dates;
mod jobs;
mod kinds;
mod order;
mod rooms;
mod since;
mod standing;
mod steps;
mod sure;
mod words;

pub use acceptance::{Answer, CRITERIA, Criterion, CriterionKind, criteria};
pub use assemble::cases;
pub use building::{Together, add_finding, building_cold, forget_findings, without_heat_together};
pub use dates::{show_dates, show_days};
pub use jobs::{Job, jobs, to_bring};
pub use kinds::{CaseKind, KINDS, of_record};
pub use order::IN_THIS_ORDER;
pub(crate) use order::of_home;
pub use since::{Earlier, Since, since};
pub use standing::Standing;
pub use words::{home_line, rooms_words, when_words};

use crate::clock::Span;
use crate::findings::{About, Severity};

/// How far a case goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Course {
    /// To the end of the record of the period that decides.
    GoesOn,
    /// It ended before that, in that period.
    Ended,
    /// It was seen in an earlier period only.
    Over,
}

impl Course {
    /// The words in tables.
    pub const fn words(self) -> &'static str {
        match self {
            Course::GoesOn => "goes on",
            Course::Ended => "ended",
            Course::Over => "over",
        }
    }
}

/// One thing that happened in a home: a row of the cases table.
#[derive(Clone, Debug, PartialEq)]
pub struct Case {
    /// Kind, home, rooms or first day in one; no two are the same.
    pub id: String,
    /// What it is.
    pub kind: &'static CaseKind,
    /// The home.
    pub home: String,
    /// Its rooms in roster order; empty: the home as a whole.
    pub rooms: Vec<String>,
    /// How pressing: as the worst of its findings that still holds.
    pub severity: Severity,
    /// The period in which it was seen, of several the last.
    pub period: String,
    /// From when to when; `None`: nothing tells.
    pub span: Option<Span>,
    /// Whether it was so from the first day that is judged on: then nobody knows since when.
    pub from_the_start: bool,
    /// Whether it goes on.
    pub course: Course,
    /// How it stands to an earlier audit, where one was named.
    pub since: Option<Since>,
    /// The year in which the record of its home ends: dates of other years are told with theirs.
    pub year: i32,
    /// What happened, in one sentence with dates.
    pub sentence: String,
    /// The number that a person asks for first, as in the sentence: `23 of 455 h below the band by 1.2 °F`, `67 h, down to
    /// 59.0 °F`; empty: none.
    pub amount: String,
    /// How far below the band its worst room was, for a short line: `by 1.2 °F`; empty: that is not what is told.
    pub by: String,
    /// Degree-hours below the band of its worst room, in K h; 0: none, or it has no room.
    pub degree_hours_below: f64,
    /// The evidence: what the finding says that decided.
    pub decided: String,
    /// What speaks against it; empty: nothing that is known.
    pub against: String,
    /// How sure it is: what decided at its low end beside its limit; where it is not sure, why.
    pub sure: String,
    /// What else could look like this.
    pub could_also_be: String,
    /// Whether a logger that it rests on is doubted, so that it decides nothing before that is settled.
    pub doubted: bool,
    /// What to do first.
    pub next_step: String,
    /// What to bring.
    pub bring: String,
    /// Its findings, by their `id`.
    pub findings: Vec<String>,
}

impl Case {
    /// Whether it is about the building, and counts for the period that decides.
    pub fn holds(&self, about: About) -> bool {
        self.kind.about == about && self.course != Course::Over
    }
}
