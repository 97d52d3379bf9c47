//! Where a home stands: what to do with it, for the period that decides.

use super::{Answer, Case, Course, Criterion};
use crate::findings::{About, NotJudged, Severity};

/// Where a home stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Standing {
    /// People may come to harm, and it goes on.
    VisitToday,
    /// Somebody must go there.
    Visit,
    /// The record cannot carry a verdict.
    RecordAgain,
    /// Accepted, with something to watch.
    KeepAnEye,
    /// All criteria pass, and nothing was found.
    Accept,
}

impl Standing {
    /// All standings, the worst first.
    pub const ALL: [Standing; 5] =
        [Standing::VisitToday, Standing::Visit, Standing::RecordAgain, Standing::KeepAnEye, Standing::Accept];

    /// By the cases that count for the period that decides, the criteria, and what could not be judged in it.
    ///
    /// What was over before that period decides nothing; nothing stands accepted that was not judged.
    pub fn of(cases: &[Case], criteria: &[Criterion], not_judged: &[NotJudged], judged: &str) -> Self {
        let building = |severity: Severity| {
            let mut on = cases.iter().filter(|c| c.holds(About::Building) && c.course == Course::GoesOn);
            on.any(|c| c.severity == severity)
        };
        let answered = |answer: Answer| criteria.iter().any(|c| c.answer == answer);
        let open = not_judged.iter().any(|open| open.period.as_deref().is_none_or(|p| p == judged));
        let record = cases.iter().any(|c| c.holds(About::Record) && c.severity <= Severity::Act);
        let doubted = cases.iter().any(|c| c.holds(About::Building) && c.doubted);
        let seen = cases.iter().any(|c| c.course != Course::Over && c.severity < Severity::Note);
        match () {
            () if building(Severity::Urgent) => Standing::VisitToday,
            () if building(Severity::Act) || answered(Answer::Fail) => Standing::Visit,
            () if record || open || doubted || answered(Answer::NotEnough) => Standing::RecordAgain,
            () if seen => Standing::KeepAnEye,
            () => Standing::Accept,
        }
    }

    /// The words for people.
    pub const fn word(self) -> &'static str {
        match self {
            Standing::VisitToday => "visit today",
            Standing::Visit => "visit",
            Standing::RecordAgain => "record again",
            Standing::KeepAnEye => "accept, keep an eye on",
            Standing::Accept => "accept",
        }
    }

    /// The same in one word, for pages.
    pub const fn slug(self) -> &'static str {
        match self {
            Standing::VisitToday => "today",
            Standing::Visit => "visit",
            Standing::RecordAgain => "again",
            Standing::KeepAnEye => "watch",
            Standing::Accept => "accept",
        }
    }

    /// What it means, in a few words.
    pub const fn meaning(self) -> &'static str {
        match self {
            Standing::VisitToday => "people may come to harm: go today",
            Standing::Visit => "somebody must go there, for what is named",
            Standing::RecordAgain => "no verdict yet: settle what is named, or record again",
            Standing::KeepAnEye => "all criteria pass; look at what is named when you are there",
            Standing::Accept => "all criteria pass, and nothing was found",
        }
    }

    /// What leads to it, and what to do with such a home.
    pub const fn definition(self) -> &'static str {
        match self {
            Standing::VisitToday => {
                "something urgent about the home goes on to the end of the record, and no logger is doubted: people may come to harm, go today"
            }
            Standing::Visit => {
                "a case about the home that is to act on goes on to the end of the period that decides, or a criterion of [acceptance] fails in it: go there, with the cases and their next steps"
            }
            Standing::RecordAgain => {
                "a case about a record is to act on, a case about the home rests on a logger that is doubted, a criterion of [acceptance] has not enough data, or something could not be judged (`not judged` says what and why): no pass, settle what is named or record again"
            }
            Standing::KeepAnEye => {
                "all criteria of [acceptance] pass in the period that decides, and something was seen in it: accept, and keep an eye on it"
            }
            Standing::Accept => {
                "all criteria of [acceptance] pass in the period that decides, everything was judged, and nothing was found in it: accept. What was over before that period is listed and decides nothing"
            }
        }
    }

    /// Other words that people use for it.
    pub const fn also(self) -> &'static [&'static str] {
        match self {
            Standing::VisitToday => &["urgent"],
            Standing::RecordAgain => &["undecided"],
            Standing::KeepAnEye => &["watch"],
            Standing::Accept => &["clear"],
            Standing::Visit => &[],
        }
    }
}
