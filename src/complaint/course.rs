//! How long it was too cold, beyond the time that was asked about too: when it began and ended, and times without heat.
//!
//! Settled here, and why:
//! - **The whole of it is told**: who asks about a weekend asks of an outage that began on Thursday. Shortfalls and times
//!   without heat are therefore looked for in the whole record, and told where they touch the time.
//! - **Half an hour** more at either end is no other beginning or end: a change between two readings takes that long.

use super::Complaint;
use super::time::moment;
use crate::clock::{HOUR_MS, Span, UtcTime};
use crate::metrics::{Heating, OUT_K};
use crate::units::KelvinDiff;

/// What lies beyond the time by less than this is told as its end.
const NO_MORE_MS: i64 = HOUR_MS / 2;
/// Finding of a logger that was taken to have lain in a box with others: then a fall is not one of the rooms.
const IN_A_BOX: &str = "loggers-together";
/// Times without heat that are told one by one.
const TOLD: usize = 2;

/// A time far below what is usual, as the whole record has it.
#[derive(Clone, Debug, PartialEq)]
pub struct Outage {
    /// The room that was alone; `None`: the heated rooms of the home together.
    pub room: Option<String>,
    /// From the start of the fall until warm again.
    pub span: Span,
    /// Whether it goes on to the last value of the record.
    pub goes_on: bool,
    /// What the heating did meanwhile.
    pub heating: Heating,
}

impl Complaint<'_> {
    /// Times far below what is usual that touch the time, of the home first; none where loggers lay in one box then.
    pub fn outages(&self) -> Vec<&Outage> {
        let boxes = || self.home.findings.iter().filter(|f| f.rule == IN_A_BOX);
        let boxed = |o: &&Outage| boxes().any(|f| f.span.is_none_or(|span| span.overlaps(&o.span)));
        let here = self.heard.outages.iter().filter(|o| o.span.overlaps(&self.period.span));
        here.filter(|o| !boxed(o)).collect()
    }

    /// The time of shortfall without a break, of one room or another, that an end of the time lies in.
    fn across(&self, end: UtcTime) -> Option<Span> {
        let mut spans: Vec<Span> = self.heard.below_ever.clone();
        spans.sort_by_key(|span| span.from);
        let mut joined: Vec<Span> = Vec::new();
        for span in spans {
            match joined.last_mut() {
                Some(last) if span.from <= last.to => last.to = last.to.max(span.to),
                _ => joined.push(span),
            }
        }
        let reaches = |span: &Span| match end == self.period.span.from {
            true => span.from.plus_ms(NO_MORE_MS) <= end && end < span.to,
            false => span.from < end && end.plus_ms(NO_MORE_MS) <= span.to,
        };
        joined.into_iter().find(reaches)
    }

    /// Since when it was certainly below the minimum when the time began; `None` where it was not.
    pub fn below_since(&self) -> Option<UtcTime> {
        Some(self.across(self.period.span.from)?.from)
    }

    /// Until when it was certainly below after the time had ended; `None` where it was not.
    pub fn below_until(&self) -> Option<UtcTime> {
        Some(self.across(self.period.span.to)?.to)
    }

    /// When it began and ended, in a sentence; `None` where no room was certainly below the minimum.
    pub fn when(&self) -> Option<String> {
        let cold = self.cold_from_to()?;
        let zone = self.site().zone;
        let begin = match self.below_since() {
            Some(since) => {
                format!("Certainly below since {}, before the time asked about", moment(since, zone))
            }
            None => format!("Certainly below for the first time on {}", moment(cold.from, zone)),
        };
        let end = match (self.below_until(), cold.to >= self.period.span.to) {
            (Some(until), _) => format!("still so at the end of this time, until {}", moment(until, zone)),
            (None, true) => "still so at the end of this time".to_owned(),
            (None, false) => {
                format!("the last time until {}, after that with certainty in no room", moment(cold.to, zone))
            }
        };
        Some(format!("{begin}; {end}."))
    }

    /// The times far below what is usual, the whole of each, a sentence each; empty where the record shows none.
    pub fn without_heat(&self) -> Vec<String> {
        let all = self.outages();
        let mut told: Vec<String> = all.iter().take(TOLD).map(|outage| self.one(outage)).collect();
        if all.len() > TOLD {
            told.push(format!("{} more such times stand in {}.json.", all.len() - TOLD, self.heard.stem));
        }
        told
    }

    fn one(&self, outage: &Outage) -> String {
        let (zone, time, span) = (self.site().zone, self.period.span, outage.span);
        let who = match &outage.room {
            Some(room) => format!("{room} alone fell"),
            None => "the heated rooms of this home fell together".to_owned(),
        };
        let by = self.site().units.show_difference(KelvinDiff::new(OUT_K));
        let before = span.from.plus_ms(NO_MORE_MS) <= time.from;
        let after = time.to.plus_ms(NO_MORE_MS) <= span.to;
        let beyond = match (before, after) {
            (true, true) => " That began before the time asked about, and went on after it.",
            (true, false) => " That began before the time asked about.",
            (false, true) => " That went on after the time asked about.",
            (false, false) => "",
        };
        let end = if outage.goes_on { " (the end of the record)" } else { "" };
        let (what, steady) = match outage.heating {
            Heating::None => ("Without heat", ""),
            Heating::NoneAndNobody => {
                ("Without heat", ", while kitchen and bathroom showed no sign of people")
            }
            Heating::HeldLow => ("Held at a low level", ", and stood still there"),
            Heating::AtItsLimit => {
                ("Heated, but not enough,", ", though as far above outdoors as on the coldest other days")
            }
        };
        format!(
            "{what} from {} to {}{end}, {:.1} h: {who}, at least {by} below what is usual at that hour{steady}.{beyond}",
            moment(span.from, zone),
            moment(span.to, zone),
            span.hours()
        )
    }
}
