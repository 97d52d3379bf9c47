//! What the audit of one home and one time says to a complaint about heat, in words: for the sheet and the terminal.
//!
//! Settled here, and why:
//! - **Other homes beside a complaint** are compared in the whole hours of the home's shortfalls (the heat rule's, else
//!   those that findings about cold rest on), in the whole time only where there is none.

use crate::audit::{Audit, HomeAudit};
use crate::findings::{About, Finding, HoursBelow, NotJudged};
use crate::metrics::{self, Metric, MetricRow, SERIOUS_COLD, Slice};
use crate::site::{Period, Site};
use crate::units::{Celsius, KelvinDiff};

/// A home and a time, with what the other homes were like meanwhile.
#[derive(Debug)]
pub struct Complaint<'a> {
    /// Its audit.
    pub audit: &'a Audit,
    /// The home.
    pub home: &'a HomeAudit,
    /// The time.
    pub period: &'a Period,
    /// The other homes.
    pub others: Others,
}

/// How warm the other homes were in the same hours.
#[derive(Debug)]
pub struct Others {
    /// Whether these are the hours in which the home was too cold; else all of the time.
    pub of_shortfall: bool,
    /// How many whole hours.
    pub hours: usize,
    /// Of each other home with a record of at least half of them by how much it was warmer, in K.
    pub warmer_k: Vec<f64>,
}

/// What a room, or the mean of the rooms, came to.
type OfRoom<'a> = (&'a str, HoursBelow);

impl<'a> Complaint<'a> {
    /// Of the only home of an audit in its only period; `None` where it has none.
    pub fn new(audit: &'a Audit, mut others: Others) -> Option<Self> {
        others.warmer_k.sort_by(f64::total_cmp);
        Some(Self { audit, home: audit.homes.first()?, period: audit.site.periods.first()?, others })
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

    /// What the record shows, a sentence for each room and limit with its hours, and what was held against the limits.
    pub fn in_short(&self) -> Vec<String> {
        let (rule, band) = (self.of_rule(), self.of_band());
        let cold: Vec<&str> =
            self.found().filter(|f| f.rule == "room-cold").filter_map(|f| f.room.as_deref()).collect();
        let below_rule = rule.iter().filter(|(_, hours)| hours.possible > 0.0);
        let below_band = band.iter().filter(|(room, _)| cold.contains(room));
        let sentence = |limit: &str, (room, hours): &OfRoom<'_>| {
            format!("The record shows {room} below {limit} for {}.", hours.in_full())
        };
        // What could not be judged of these stands in their own sentences.
        let told: Vec<&str> = below_rule.clone().map(|(room, _)| *room).collect();
        let mut sentences: Vec<String> =
            below_rule.map(|of_room| sentence("the heat rule's minimum", of_room)).collect();
        sentences.extend(below_band.map(|of_room| sentence("the comfort band", of_room)));
        sentences.extend(self.serious());
        match self.found().next() {
            None => sentences.push(self.nothing_found(&rule, &band, &told)),
            Some(_) => sentences.extend(held(&rule, "heat rule", &told).map(|held| format!("{held}."))),
        }
        sentences
    }

    /// The longest times certainly below 16 °C, whatever else was asked of the rooms.
    fn serious(&self) -> Option<String> {
        let longest = |row: &MetricRow| Some(format!("{} {:.1} h", row.room.as_deref()?, row.value));
        let longest: Vec<String> = self.rows(&metrics::LONGEST_BELOW_16).filter_map(longest).collect();
        let sixteen = self.site().units.show(SERIOUS_COLD);
        let words = "even with the sensor accuracy added";
        (!longest.is_empty())
            .then(|| format!("Longest time below {sixteen}, {words}: {}.", longest.join(", ")))
    }

    fn row(&self, room: Option<&str>, metric: &Metric) -> Option<&'a MetricRow> {
        self.home.value(&self.period.name, room, metric)
    }

    /// Rows of a metric about the whole time, in the order of the rooms.
    fn rows(&self, metric: &Metric) -> impl Iterator<Item = &'a MetricRow> {
        let period: &'a str = &self.period.name;
        let of_time = move |r: &&MetricRow| r.slice == Slice::All && r.period == period && r.metric == metric;
        self.home.metrics.iter().filter(of_time)
    }

    /// What was held against the heat rule's minimum; empty where the rule holds at no hour of this time.
    fn of_rule(&self) -> Vec<OfRoom<'a>> {
        let hours = |row: &'a MetricRow| {
            let room = row.room.as_deref();
            let hours = HoursBelow::minimum(|id| self.row(room, id))?;
            Some((room.unwrap_or("the mean of the rooms"), hours))
        };
        self.rows(&metrics::HEAT_RULE_HOURS_NO_DATA).filter_map(hours).collect()
    }

    /// What was held against the lower limit of the comfort band.
    fn of_band(&self) -> Vec<OfRoom<'a>> {
        let hours = |row: &'a MetricRow| {
            let room = row.room.as_deref()?;
            Some((room, HoursBelow::band(|id| self.row(Some(room), id))?))
        };
        self.rows(&metrics::HOURS_BELOW_BAND).filter_map(hours).collect()
    }

    /// What about cold could not be judged.
    pub fn open(&self) -> impl Iterator<Item = &'a NotJudged> {
        self.home.not_judged.iter().filter(|n| is_about_cold(n.rule))
    }

    /// What is wrong with the record itself in this time.
    pub fn doubts(&self) -> impl Iterator<Item = &'a Finding> {
        let time = self.period.span;
        let inside = move |f: &&Finding| f.span.is_none_or(|span| span.overlaps(&time));
        self.home.findings.iter().filter(|f| f.about == About::Record).filter(inside)
    }

    /// What is said where nothing was found about cold.
    fn nothing_found(&self, rule: &[OfRoom<'_>], band: &[OfRoom<'_>], told: &[&str]) -> String {
        let held: Vec<String> =
            held(rule, "heat rule", told).into_iter().chain(held(band, "comfort band", &[])).collect();
        let site = self.site();
        if site.heat_rule.is_none() && !site.bands.any() {
            return format!(
                "The site file names neither a heat rule nor a band: nothing was judged.{}",
                self.lowest()
            );
        }
        if self.rows(&metrics::MEAN).next().is_none() {
            return "The record has no usable value in this time: nothing was judged, and of the temperatures nothing can be said.".to_owned();
        }
        if held.is_empty() {
            let open = rule.iter().filter_map(|(room, hours)| Some(format!("{room}: {}", hours.open()?)));
            let open: Vec<String> = open.collect();
            let why = match open.is_empty() {
                true => "the heat rule holds at no hour of this time, or for none of these rooms".to_owned(),
                false => open.join("; "),
            };
            return format!("Nothing was judged: {why}.{}", self.lowest());
        }
        let held = held.join("; ");
        let unjudged = site.heat_rule.is_some() && rule.iter().all(|(_, hours)| hours.judged == 0.0);
        let rule = if unjudged {
            format!(" Against the heat rule nothing was judged.{}", self.lowest())
        } else {
            String::new()
        };
        match self.open().next() {
            None => format!("No room was found too cold in this time: {held}.{rule}"),
            Some(_) => format!(
                "Of what could be judged, no room was found too cold ({held}); the rest is told below, and is no pass.{rule}"
            ),
        }
    }

    /// The lowest temperature of each room.
    fn lowest(&self) -> String {
        let show = |row: &MetricRow| {
            Some(format!("{} {}", row.room.as_deref()?, self.site().units.show(Celsius::new(row.value))))
        };
        let rooms: Vec<String> = self.rows(&metrics::MINIMUM).filter_map(show).collect();
        if rooms.is_empty() {
            String::new()
        } else {
            format!(" The lowest temperatures: {}.", rooms.join(", "))
        }
    }

    /// How warm the other homes were meanwhile.
    pub fn others(&self) -> String {
        let Others { of_shortfall, hours, warmer_k } = &self.others;
        let show = |k: f64| {
            let by = self.site().units.show_difference(KelvinDiff::new(k.abs()));
            format!("{by} {}", if k < 0.0 { "colder" } else { "warmer" })
        };
        let (meanwhile, these) = match of_shortfall {
            true if *hours == 1 => ("In the same hour of shortfall".to_owned(), "this hour of shortfall"),
            true => (format!("In the same {hours} hours of shortfall"), "these hours of shortfall"),
            false => ("Meanwhile".to_owned(), "this time"),
        };
        let n = warmer_k.len();
        let mean = "on the mean over the hours that both have";
        match warmer_k.as_slice() {
            [] if *hours == 0 => format!(
                "There is no whole hour in {these}, so that the other homes cannot be held against this one, hour by hour."
            ),
            [] => format!(
                "No other home of the roster has a record of at least half of {these}: of the rest of the building nothing can be said."
            ),
            [one] => format!(
                "{meanwhile} the one other home with a record was {} than this one, {mean}.",
                show(*one)
            ),
            [first, .., last] => format!(
                "{meanwhile} the {n} other homes with a record were from {} to {} than this one, the median {}, {mean}.",
                show(*first),
                show(*last),
                show((warmer_k[(n - 1) / 2] + warmer_k[n / 2]) / 2.0)
            ),
        }
    }
}

/// `48.0 of 48.0 hours and 2 rooms were held against the heat rule`; `None` where none was. What could not be judged of a
/// room stands behind it, but for rooms of which it was told.
fn held(rooms: &[OfRoom<'_>], limit: &str, told: &[&str]) -> Option<String> {
    let judged: Vec<&OfRoom<'_>> = rooms.iter().filter(|(_, hours)| hours.judged > 0.0).collect();
    let range = |of: fn(&HoursBelow) -> f64| {
        let all = || judged.iter().map(|(_, hours)| of(hours));
        let ends =
            [all().fold(f64::INFINITY, f64::min), all().fold(0.0, f64::max)].map(|h| format!("{h:.1}"));
        let [low, high] = ends;
        if low == high { low } else { format!("{low} to {high}") }
    };
    let who = match judged.as_slice() {
        [] => return None,
        [("the mean of the rooms", _)] => "the mean of the rooms".to_owned(),
        [_] => "1 room".to_owned(),
        several => format!("{} rooms", several.len()),
    };
    let untold = rooms.iter().filter(|(room, _)| !told.contains(room));
    let open = untold.filter_map(|(room, hours)| Some(format!("; {room}: {}", hours.open()?)));
    Some(format!(
        "{} of {} hours and {who} were held against the {limit}{}",
        range(|h| h.judged),
        range(HoursBelow::all),
        open.collect::<String>()
    ))
}

/// How the names of the rules about the legal minimum begin.
const HEAT_RULE: &str = "heat-rule-shortfall";

fn is_about_cold(rule: &str) -> bool {
    rule == "room-cold" || rule.starts_with(HEAT_RULE)
}
