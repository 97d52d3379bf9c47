//! The answer to "was it warm enough?", in one sentence with its hours as read, certain and possible.
//!
//! Settled here, and why:
//! - **No** is said where some room was certainly below for half an hour or more, as a finding has it; less is told as that.
//! - **Yes** needs every hour that the rule holds to be judged in every room that it means, none of them possibly below, and
//!   nothing left open. What was judged in part is said to be that, and where nothing was judged there is no answer.

use super::{Complaint, OfRoom};
use crate::clock::local_days;
use crate::findings::HoursBelow;
use crate::metrics;
use crate::site::HeatWindow;

/// Shorter times certainly below, in h, are a sample or two.
const LEAST_H: f64 = 0.5;
/// Hours below this are shown as nothing.
const NOTHING_H: f64 = 0.05;
/// Rooms that are named; more are counted.
const NAMED: usize = 3;

/// Which answer it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// Certainly below for half an hour or more.
    No,
    /// Certainly below, for minutes.
    ForMinutes,
    /// Below at most within the sensor accuracy.
    TooClose,
    /// At no hour below, and nothing left open.
    Yes,
    /// At no hour that was judged below; something is open.
    InPart,
    /// Nothing was judged.
    NotJudged,
}

impl Verdict {
    /// The first words of the answer.
    pub const fn lead(self) -> &'static str {
        match self {
            Verdict::No => "No.",
            Verdict::ForMinutes => "Not at every minute.",
            Verdict::TooClose => "Too close to say.",
            Verdict::Yes => "Yes, as far as loggers can tell.",
            Verdict::InPart => "Known in part only.",
            Verdict::NotJudged => "It cannot be said: nothing was judged.",
        }
    }

    /// For programs.
    pub const fn word(self) -> &'static str {
        match self {
            Verdict::No => "no",
            Verdict::ForMinutes => "for minutes",
            Verdict::TooClose => "too close",
            Verdict::Yes => "yes",
            Verdict::InPart => "in part",
            Verdict::NotJudged => "not judged",
        }
    }
}

/// The answer, in parts: the hours as read are what a page shows strongly.
#[derive(Clone, Debug, PartialEq)]
pub struct Answer {
    /// Which it is.
    pub verdict: Verdict,
    /// Against what, and which rooms were below.
    pub what: String,
    /// Hours as read; empty where nothing was judged.
    pub as_read: String,
    /// The hours that are certain, possible, and judged; what follows.
    pub rest: String,
}

impl Answer {
    /// All of it.
    pub fn text(&self) -> String {
        format!("{} {}{}{}", self.verdict.lead(), self.what, self.as_read, self.rest)
    }
}

/// Lowest and highest of some hours over rooms.
pub(super) fn range(rooms: &[&OfRoom<'_>], hours: fn(&HoursBelow) -> f64) -> [f64; 2] {
    let all = || rooms.iter().map(|of| hours(&of.hours));
    [all().fold(f64::INFINITY, f64::min), all().fold(0.0, f64::max)]
}

/// `27.8 to 38.2`, `48.0`.
fn show([low, high]: [f64; 2]) -> String {
    let ends = [low, high].map(|h| format!("{h:.1}"));
    if ends[0] == ends[1] { ends[0].clone() } else { ends.join(" to ") }
}

impl<'a> Complaint<'a> {
    /// What decides: the heat rule where an hour was held against it, else the band where the site has no rule; which of the
    /// two, and what each room came to.
    pub(super) fn decides(&self) -> (bool, Vec<OfRoom<'a>>) {
        match self.site().heat_rule {
            Some(_) => (true, self.of_rule()),
            None => (false, self.of_band()),
        }
    }

    /// The answer.
    pub fn answer(&self) -> Answer {
        let (by_rule, rooms) = self.decides();
        let judged: Vec<&OfRoom<'_>> = rooms.iter().filter(|of| of.hours.judged > 0.0).collect();
        if judged.is_empty() {
            return Answer {
                verdict: Verdict::NotJudged,
                what: self.why_nothing(&rooms),
                as_read: String::new(),
                rest: self.lowest(),
            };
        }
        let certain: Vec<&OfRoom<'_>> =
            judged.iter().copied().filter(|of| of.hours.certain >= NOTHING_H).collect();
        let possible: Vec<&OfRoom<'_>> =
            judged.iter().copied().filter(|of| of.hours.possible >= NOTHING_H).collect();
        let verdict = self.verdict(&rooms, &certain, &possible);
        let limit = if by_rule { self.rule_words() } else { self.band_words() };
        let below = if certain.is_empty() { &possible } else { &certain };
        let seen = self.seen(&judged);
        let against = format!("Against {limit} ");
        if below.is_empty() {
            let what = format!("{against}no room was below, not even within the sensor accuracy: ");
            return Answer { verdict, what, as_read: "0.0 h".to_owned(), rest: format!(" of {seen}.") };
        }
        let who = who(below, &judged, judged.len() == self.of_roster.rooms.len());
        let what = match certain.is_empty() {
            true => format!("{against}nothing was certainly below, but {who} may have been: "),
            false => format!("{against}{who} below: "),
        };
        let hours: [fn(&HoursBelow) -> f64; 3] = [|h| h.as_read, |h| h.certain, |h| h.possible];
        let differ = hours.iter().any(|of| show(range(below, *of)).contains(" to "));
        Answer {
            verdict,
            what,
            as_read: format!("{} h as read", show(range(below, |h| h.as_read))),
            rest: format!(
                ", {} h certainly, {} h possibly{}, of {seen}.",
                show(range(below, |h| h.certain)),
                show(range(below, |h| h.possible)),
                if differ { ", depending on the room" } else { "" }
            ),
        }
    }

    /// What this record lets somebody say, and what it does not, a sentence each; `None` where nothing was judged.
    pub fn may_be_said(&self) -> Option<[String; 2]> {
        let (by_rule, rooms) = self.decides();
        let judged = rooms.iter().filter(|of| of.hours.judged > 0.0).count();
        let limit = if by_rule { "the minimum" } else { "the band" };
        let law = "that the law was kept or broken";
        let may = match self.answer().verdict {
            Verdict::NotJudged => return None,
            Verdict::No => {
                format!("where these loggers stood it was certainly below {limit} for the hours named.")
            }
            Verdict::ForMinutes | Verdict::TooClose => {
                format!(
                    "where these loggers stood it was so close to {limit} that their accuracy leaves it open."
                )
            }
            Verdict::Yes => format!("where these loggers stood no hour that was judged was below {limit}."),
            Verdict::InPart => format!("no hour that was judged was below {limit}; the others nobody knows."),
        };
        let rooms = if judged < self.of_roster.rooms.len() { ", other rooms" } else { "" };
        Some([
            may,
            format!("{law}, who caused it, or anything of other times{rooms} or other places in a room."),
        ])
    }

    fn verdict(&self, rooms: &[OfRoom<'_>], certain: &[&OfRoom<'_>], possible: &[&OfRoom<'_>]) -> Verdict {
        let whole = rooms.iter().all(|of| of.hours.open().is_none()) && self.open().next().is_none();
        match () {
            () if certain.iter().any(|of| of.hours.certain >= LEAST_H) => Verdict::No,
            () if !certain.is_empty() => Verdict::ForMinutes,
            () if !possible.is_empty() => Verdict::TooClose,
            () if whole && self.unmeasured() == 0 => Verdict::Yes,
            () => Verdict::InPart,
        }
    }

    /// Rooms of the home that no number is about.
    fn unmeasured(&self) -> usize {
        let seen = |room: &&crate::site::Room| self.value(Some(&room.name), &metrics::MEAN).is_none();
        self.of_roster.rooms.iter().filter(seen).count()
    }

    /// `96.0 h judged in 6 of 6 rooms`.
    fn seen(&self, judged: &[&OfRoom<'_>]) -> String {
        let rooms = judged.iter().filter(|of| of.room.is_some()).count();
        let all = self.of_roster.rooms.len();
        let mean = rooms < judged.len();
        let who = match (rooms, mean) {
            (0, _) => "of the mean of the rooms".to_owned(),
            (_, false) => format!("in {rooms} of {all} rooms"),
            (_, true) => format!("in {rooms} of {all} rooms and on their mean"),
        };
        let (hours, held) = (show(range(judged, |h| h.judged)), show(range(judged, HoursBelow::all)));
        if hours == held {
            format!("{hours} h judged {who}")
        } else {
            format!("{hours} h judged, out of {held} h, {who}")
        }
    }

    /// What the rule asks for in this time.
    fn rule_words(&self) -> String {
        let Some(rule) = &self.site().heat_rule else { return String::new() };
        let days = local_days(self.site().zone, self.period.span);
        let holds = |w: &&HeatWindow| days.iter().any(|day| w.season.contains(day.date));
        let units = self.site().units;
        let words = |w: &HeatWindow| w.demand(|t| units.show(t).replace(".0 ", " "));
        let asked: Vec<String> = rule.windows.iter().filter(holds).map(words).collect();
        format!("the heat rule ({})", asked.join("; "))
    }

    fn band_words(&self) -> String {
        let (units, bands) = (self.site().units, &self.site().bands);
        let lower = |b: &crate::site::Band| units.show(b.lower).replace(".0 ", " ");
        let limits = match (&bands.occupied, &bands.night) {
            (Some(day), Some(night)) => format!("{} by day, {} at night", lower(day), lower(night)),
            (Some(one), None) | (None, Some(one)) => lower(one),
            (None, None) => String::new(),
        };
        format!("the comfort band ({limits}; the site file names no legal minimum, so that none was judged)")
    }

    /// Why nothing was judged.
    fn why_nothing(&self, rooms: &[OfRoom<'_>]) -> String {
        let site = self.site();
        let open = || rooms.iter().filter_map(|of| Some(format!("{}: {}", of.name(), of.hours.open()?)));
        let why = match () {
            () if self.rows(&metrics::MEAN).next().is_none() => {
                format!("The record has no usable value in this time{}", self.runs())
            }
            () if site.heat_rule.is_none() => "The site file names neither a heat rule nor a band".to_owned(),
            () if rooms.is_empty() => {
                "The heat rule holds at no hour of this time, or for none of these rooms".to_owned()
            }
            () => open().collect::<Vec<_>>().join("; "),
        };
        format!("{why}.")
    }
}

/// `every room was`, `living and bedroom 1 were`, `4 of the 6 rooms that were judged were`.
fn who(below: &[&OfRoom<'_>], judged: &[&OfRoom<'_>], all: bool) -> String {
    let names: Vec<&str> = below.iter().map(|of| of.name()).collect();
    match names.as_slice() {
        [one] => format!("{one} was"),
        _ if names.len() == judged.len() && all => "every room was".to_owned(),
        _ if names.len() == judged.len() => "every room that was judged was".to_owned(),
        [most @ .., last] if names.len() <= NAMED => format!("{} and {last} were", most.join(", ")),
        _ => format!("{} of the {} rooms that were judged were", names.len(), judged.len()),
    }
}
