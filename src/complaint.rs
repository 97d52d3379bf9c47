//! What the audit of one home and one time says to a complaint about heat, in words: for the sheet and the terminal.

use crate::audit::{Audit, HomeAudit};
use crate::findings::{About, Finding, NotJudged};
use crate::metrics::SERIOUS_COLD;
use crate::site::{Period, Site};
use crate::units::KelvinDiff;

/// A home and a time, with what the other homes were like meanwhile.
#[derive(Debug)]
pub struct Complaint<'a> {
    /// Its audit.
    pub audit: &'a Audit,
    /// The home.
    pub home: &'a HomeAudit,
    /// The time.
    pub period: &'a Period,
    /// Of each other home with a record of at least half of the time by how much it was warmer, in K, rising.
    pub warmer_k: Vec<f64>,
}

impl<'a> Complaint<'a> {
    /// Of the only home of an audit in its only period; `None` where it has none.
    pub fn new(audit: &'a Audit, mut warmer_k: Vec<f64>) -> Option<Self> {
        warmer_k.sort_by(f64::total_cmp);
        Some(Self { audit, home: audit.homes.first()?, period: audit.site.periods.first()?, warmer_k })
    }

    /// The site.
    pub fn site(&self) -> &'a Site {
        &self.audit.site
    }

    /// What was found about cold: under the heat rule first.
    pub fn found(&self) -> impl Iterator<Item = &'a Finding> {
        let of = |in_rule: bool| {
            let of_rule = move |f: &&Finding| f.rule.starts_with(HEAT_RULE) == in_rule;
            self.home.findings.iter().filter(|f| is_about_cold(f.rule)).filter(of_rule)
        };
        of(true).chain(of(false))
    }

    /// What was found, a sentence for each limit with its hours; without any, what there is to say then.
    pub fn in_short(&self) -> Vec<String> {
        let rule = |f: &Finding| {
            let high = f.range.map_or(f.observed, |(_, high)| high);
            let possibly = if high > f.observed { format!(" (possibly {high:.1})") } else { String::new() };
            format!("{} {:.1}{possibly}", f.room.as_deref().unwrap_or("the mean of the rooms"), f.observed)
        };
        let rules = self.found().filter(|f| f.rule.starts_with(HEAT_RULE)).map(rule);
        let rooms = || self.found().filter(|f| f.rule == "room-cold").filter_map(|f| f.room.as_deref());
        let value = |room, metric| self.home.value(&self.period.name, Some(room), metric);
        let band = |room| {
            let row = value(room, "hours_below_band")?;
            let (low, high) = row.interval.map_or((row.value, row.value), |i| (i.low, i.high));
            Some(format!("{room} {:.1} (certainly {low:.1}, possibly {high:.1})", row.value))
        };
        let serious = |room| Some(format!("{room} {:.1}", value(room, "longest_below_16")?.value));
        let sixteen = self.site().units.show(SERIOUS_COLD);
        let limits: [(String, Vec<String>); 3] = [
            (
                "below the heat rule's minimum, even with the sensor accuracy added".to_owned(),
                rules.collect(),
            ),
            ("below the comfort band".to_owned(), rooms().filter_map(band).collect()),
            (format!("certainly below {sixteen} at a time"), rooms().filter_map(serious).collect()),
        ];
        let found = limits.iter().filter(|(_, rooms)| !rooms.is_empty());
        let sentences: Vec<String> = found
            .map(|(words, rooms)| format!("The record shows hours {words}: {}.", rooms.join(", ")))
            .collect();
        if sentences.is_empty() { vec![self.nothing_found().to_owned()] } else { sentences }
    }

    /// What about cold could not be judged.
    pub fn open(&self) -> impl Iterator<Item = &'a NotJudged> {
        self.home.not_judged.iter().filter(|n| is_about_cold(n.rule))
    }

    /// What is wrong with the record itself.
    pub fn doubts(&self) -> impl Iterator<Item = &'a Finding> {
        self.home.findings.iter().filter(|f| f.about == About::Record)
    }

    /// What is said where nothing was found about cold.
    fn nothing_found(&self) -> &'static str {
        let (rule, bands) = (&self.site().heat_rule, &self.site().bands);
        match () {
            () if rule.is_none() && !bands.any() => {
                "The site file names neither a heat rule nor a band: nothing was judged, and the temperatures stand below."
            }
            () if self.home.metrics.iter().all(|row| row.metric.id != "mean") => {
                "The record has no usable value in this time: of the temperatures nothing can be said."
            }
            () if self.open().next().is_some() => {
                "Of what could be judged, no room was found too cold; the rest is told below, and is no pass."
            }
            () => "No room was found too cold in this time.",
        }
    }

    /// How warm the other homes were meanwhile.
    pub fn others(&self) -> String {
        let show = |k: f64| self.site().units.show_difference(KelvinDiff::new(k));
        let n = self.warmer_k.len();
        let meanwhile = "on the mean over the hours that both have (below 0: colder)";
        match self.warmer_k.as_slice() {
            [] if self.period.span.hours() < 2.0 => "This time is too short to hold the other homes against this one, hour by hour.".to_owned(),
            [] => "No other home of the roster has a record of at least half of this time: of the rest of the building nothing can be said.".to_owned(),
            [one] => format!("Meanwhile the one other home with a record was {} warmer, {meanwhile}.", show(*one)),
            [first, .., last] => format!(
                "Meanwhile the {n} other homes with a record were {} to {} warmer, the median {}, {meanwhile}.",
                show(*first),
                show(*last),
                show((self.warmer_k[(n - 1) / 2] + self.warmer_k[n / 2]) / 2.0)
            ),
        }
    }
}

/// How the names of the rules about the legal minimum begin.
const HEAT_RULE: &str = "heat-rule-shortfall";

fn is_about_cold(rule: &str) -> bool {
    rule == "room-cold" || rule.starts_with(HEAT_RULE)
}
