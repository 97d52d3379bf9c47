//! What may lie behind the hours of a complaint, fairly to both sides, and from what this record shows.
//!
//! Settled here, and why:
//! - **Three questions**: what may have caused it; why it may have been colder than shown; why warmer. Each begins with what
//!   this record speaks for, and ends with what no record can rule out.
//! - **A failure, a switch and an open window** look alike in temperatures: none is named without the others.

use std::borrow::Borrow;

use super::{Complaint, OfRoom, Outage};
use crate::findings::Finding;
use crate::metrics::{self, Heating, SERIOUS_COLD};
use crate::site::Heated;
use crate::units::{Celsius, KelvinDiff};

/// From so many K on the others of the building are warmer, and it is not what they share.
const OTHERS_WARMER_K: f64 = 1.0;
/// A room that was so many K above the highest of all others had something warm beside its logger.
const PEAK_K: f64 = 2.0;
/// Loggers lower than this, in m, stand near the floor; higher than that they stand in the warm air above people.
const LOW_M: f64 = 0.3;
const HIGH_M: f64 = 1.7;
/// Rooms that are named; more are counted.
const NAMED: usize = 3;
/// Findings about a logger that read warmer than its room.
const READS_WARM: [&str; 2] = ["heat-on-logger", "sun-on-logger"];

/// Explanations, a sentence each.
#[derive(Clone, Debug, PartialEq)]
pub struct Explained {
    /// What may have caused it; empty where nothing was below.
    pub causes: Vec<String>,
    /// Why it may have been colder than shown.
    pub colder: Vec<String>,
    /// Why it may have been warmer than shown.
    pub warmer: Vec<String>,
}

impl Complaint<'_> {
    /// What may lie behind it.
    pub fn explained(&self) -> Explained {
        let (_, rooms) = self.decides();
        let judged: Vec<&OfRoom<'_>> =
            rooms.iter().filter(|of| of.room.is_some() && of.hours.judged > 0.0).collect();
        let below: Vec<&str> = self.below(&judged);
        Explained {
            causes: if below.is_empty() && self.outages().is_empty() {
                Vec::new()
            } else {
                self.causes(&below, judged.len())
            },
            colder: self.colder(),
            warmer: self.warmer(&below, judged.len()),
        }
    }

    /// Rooms that were certainly below; where none was, those that may have been.
    fn below<'r>(&self, judged: &[&OfRoom<'r>]) -> Vec<&'r str> {
        let those = |hours: fn(&OfRoom<'_>) -> f64| -> Vec<&'r str> {
            judged.iter().filter(|of| hours(of) > 0.0).filter_map(|of| of.room).collect()
        };
        let certain = those(|of| of.hours.certain);
        if certain.is_empty() { those(|of| of.hours.possible) } else { certain }
    }

    fn causes(&self, below: &[&str], judged: usize) -> Vec<String> {
        let mut causes = self.fallen();
        if causes.is_empty() && judged > below.len() && !below.is_empty() {
            causes.push(format!(
                "Only {} of the {judged} rooms that were judged {} below: what is its own comes first (its unit, a window, a door kept shut, a heater turned down there).",
                named(below),
                if below.len() == 1 { "was" } else { "were" }
            ));
        }
        if causes.is_empty() {
            causes.push("No sudden fall of the heated rooms stands in the record: a setting that is low, a heating that does not keep up, or windows kept open are nearer than a failure.".to_owned());
        }
        causes.extend(self.unheated(below));
        causes.extend(self.weather());
        causes.push(match self.ran_and_was_not_enough() {
            true => "No record tells apart: heating that is too small, that works badly, and windows kept open.",
            false => "No record tells apart: heating that failed, that was switched off or turned down by whomever, and windows kept open.",
        }.to_owned());
        causes
    }

    /// What falls without heat speak for.
    fn fallen(&self) -> Vec<String> {
        let with = |heating: Heating| -> Vec<&Outage> {
            self.outages().into_iter().filter(|o| o.heating == heating).collect()
        };
        let outages: Vec<&Outage> = self.outages().into_iter().filter(|o| o.heating.is_none()).collect();
        let (held, behind) = (with(Heating::HeldLow), with(Heating::AtItsLimit));
        let rooms = |of: &[&Outage]| of.iter().filter_map(|o| o.room.clone()).collect::<Vec<String>>();
        let mut told = Vec::new();
        if outages.iter().any(|o| o.room.is_none()) {
            told.push(match self.heard.others.median_warmer_k() {
                Some(k) if k >= OTHERS_WARMER_K => format!(
                    "The heating failed or was off: this home's heated rooms fell together, while {} was {} warmer. One open window does not do that.",
                    if self.heard.others.homes.len() == 1 { "the one other home" } else { "the home in the middle of the others" },
                    self.site().units.show_difference(KelvinDiff::new(k))
                ),
                Some(_) => "The heating failed or was off: the heated rooms fell together, and the other homes were hardly warmer. Look first at what the homes share: supply, plant, weather.".to_owned(),
                None => "The heating failed or was off: this home's heated rooms fell together. Whether other homes fell too is not known.".to_owned(),
            });
        }
        let alone = rooms(&outages);
        if !alone.is_empty() {
            told.push(format!(
                "{} fell alone while the other heated rooms held: its unit failed or was off, a window stood open there, or its logger was put in a colder place.",
                named(&alone)
            ));
        }
        if !with(Heating::NoneAndNobody).is_empty() {
            told.push("Kitchen and bathroom show none of the warm moments that showers and cooking make on other days: nobody may have been at home, and the heating turned down or off for that time. A failure meanwhile looks the same.".to_owned());
        }
        if held.iter().any(|o| o.room.is_none()) {
            told.push("The heating was turned down, or gave little: the heated rooms fell together and then stood still at one level for half a day or more. Rooms without heat mostly go on falling. Whether people turned it down or its control did, the record does not tell.".to_owned());
        }
        let alone = rooms(&held);
        if !alone.is_empty() {
            told.push(format!(
                "{} was turned down, or got little heat: it fell alone and then stood still at one level, where rooms without heat mostly go on falling.",
                named(&alone)
            ));
        }
        if !behind.is_empty() {
            let alone = rooms(&behind);
            let who = if alone.is_empty() { "the heated rooms".to_owned() } else { named(&alone) };
            told.push(format!(
                "The heating ran and could not keep up with the cold: it kept {who} as far above outdoors as on the coldest other days, on which the rooms are colder too. Its output, its state, or a window kept open comes first; it did not stop."
            ));
        }
        told
    }

    /// Whether all that lay far below the usual had heating at its limit.
    fn ran_and_was_not_enough(&self) -> bool {
        let outages = self.outages();
        !outages.is_empty() && outages.iter().all(|o| o.heating == Heating::AtItsLimit)
    }

    /// Rooms without heating of their own that were below.
    fn unheated(&self, below: &[&str]) -> Option<String> {
        let heated = |room: &str, heated: Heated| {
            self.of_roster.rooms.iter().any(|r| r.name == room && r.heated == heated)
        };
        let own: Vec<&str> = below.iter().copied().filter(|room| heated(room, Heated::No)).collect();
        (!own.is_empty() && own.len() < below.len()).then(|| {
            format!("{}: no heating of {} own.", named(&own), if own.len() == 1 { "its" } else { "their" })
        })
    }

    /// The lowest outdoor temperature of this time, in °C; `None` without a series.
    pub(super) fn outdoor_lowest(&self) -> Option<f64> {
        let outdoor = self.audit.outdoor.as_ref()?;
        Some(outdoor.value(&self.period.name, None, &metrics::OUTDOOR_MINIMUM)?.value)
    }

    /// How cold it was outdoors beside what the heating was laid out for.
    fn weather(&self) -> Option<String> {
        let lowest = self.outdoor_lowest()?;
        let units = self.site().units;
        let design = self.site().design_outdoor?;
        let show = |t: Celsius| units.show(t).replace('-', "−");
        let (down_to, laid_out) = (show(Celsius::new(lowest)), show(design));
        Some(match lowest < design.degc() {
            true => format!(
                "Outdoors it was down to {down_to}, colder than the design temperature of the site file, {laid_out}: the heating may have been at its limit."
            ),
            false if self.ran_and_was_not_enough() => format!(
                "Outdoors it was down to {down_to}, and the design temperature of the site file is {laid_out}: heating that is as it should be holds the rooms down to there."
            ),
            false => format!(
                "Outdoors it was down to {down_to}, and the design temperature of the site file is {laid_out}: the cold alone does not explain it."
            ),
        })
    }

    /// In both directions: what the loggers are good to.
    fn good_to(&self) -> Option<String> {
        let widest = self.heard.accuracy.iter().copied().max_by(|a, b| a.k().total_cmp(&b.k()))?;
        let checked = match self.loggers().iter().any(|l| l.offset.is_some()) {
            true => "",
            false => ", all perhaps the same way (no check side by side)",
        };
        Some(format!("The loggers may err by {}{checked}", self.site().units.show_difference(widest)))
    }

    fn colder(&self) -> Vec<String> {
        let mut told = Vec::new();
        told.extend(self.good_to().map(|good| format!("{good}: counted in the hours possibly below.")));
        told.extend(self.peak());
        told.extend(self.warmed());
        told.extend(self.at_height(|m| m > HIGH_M, "stood high, where the air is warmer"));
        told.push("Not to be ruled out: a logger near a person, a lamp or a heater, or in the sun, reads warmer than the room; by windows and on the floor it is colder.".to_owned());
        told
    }

    fn warmer(&self, below: &[&str], judged: usize) -> Vec<String> {
        let mut told = Vec::new();
        told.extend(self.good_to().map(|good| format!("{good}: left out of the hours certainly below.")));
        match below.len() {
            0 => {}
            1 if judged > 1 => told.push(format!("{} was below and the others were not: a logger at a window, at a door or on an outside wall would look the same.", below[0])),
            1 => told.push("One logger alone speaks for it.".to_owned()),
            n if n == judged => told.push(format!("{n} loggers in {n} rooms say the same: one that stands badly does not explain it.")),
            _ => {}
        }
        told.extend(self.at_height(|m| m < LOW_M, "stood near the floor, where the air is colder"));
        if let Some(text) = self.site().heat_rule.as_ref().and_then(|r| r.measured_height_m) {
            told.push(format!("The rule's text measures {text:.2} m above the floor."));
        }
        told.push("Not to be ruled out: a logger on the floor, at a window, at a door or on an outside wall reads colder than the room.".to_owned());
        told
    }

    /// The room that reached far above all others, in this time.
    fn peak(&self) -> Option<String> {
        let mut highest: Vec<(f64, &str)> =
            self.rows(&metrics::MAXIMUM).filter_map(|r| Some((r.value, r.room.as_deref()?))).collect();
        highest.sort_by(|a, b| b.0.total_cmp(&a.0));
        let [(most, room), (next, _), ..] = highest.as_slice() else { return None };
        let show = |degc: f64| self.site().units.show(Celsius::new(degc));
        (most - next >= PEAK_K && *most > SERIOUS_COLD.degc()).then(|| {
            format!(
                "{room} reached {} when no other room was ever above {}: a cooker, the sun or a person beside its logger; the room itself was colder then.",
                show(*most),
                show(*next)
            )
        })
    }

    /// Loggers that something warmed, in this time.
    fn warmed(&self) -> Vec<String> {
        let told = self.doubts().filter(|f| READS_WARM.contains(&f.rule));
        let room = |f: &Finding| {
            let room = f.room.as_deref()?;
            Some(format!("The logger in {room} was warmed at times ({}): the room was colder then.", f.rule))
        };
        told.filter_map(room).collect()
    }

    /// Rooms whose logger stood at such a height.
    fn at_height(&self, such: impl Fn(f64) -> bool, what: &str) -> Option<String> {
        let lines = self.loggers();
        let rooms: Vec<String> = lines
            .iter()
            .filter_map(|l| Some((l.room, l.height_m.filter(|m| such(*m))?)))
            .map(|(room, m)| format!("{room} ({m:.2} m)"))
            .collect();
        (!rooms.is_empty()).then(|| format!("The logger of {} {what}.", rooms.join(", ")))
    }
}

/// `living`, `living and hall`, `5 rooms`.
fn named<S: Borrow<str>>(rooms: &[S]) -> String {
    match rooms {
        [one] => one.borrow().to_owned(),
        [most @ .., last] if rooms.len() <= NAMED => format!("{} and {}", most.join(", "), last.borrow()),
        _ => format!("{} rooms", rooms.len()),
    }
}
