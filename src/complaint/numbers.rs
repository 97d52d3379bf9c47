//! Every number of the sheet, for programs, and for whoever wants to check the paper.

use serde_json::{Map, Value, json};

use super::answer::range;
use super::{Complaint, Explained, OfRoom};
use crate::findings::HoursBelow;
use crate::metrics;
use crate::units::KelvinDiff;

impl Complaint<'_> {
    /// The numbers, temperatures in °C and differences in K; what is not known is null.
    pub fn numbers(&self) -> Map<String, Value> {
        let (by_rule, rooms) = self.decides();
        let answer = self.answer();
        let site = self.site();
        let time = self.period.span;
        Map::from_iter(
            [
                ("home", json!(self.home.name)),
                ("from_utc", json!(time.from.iso())),
                ("to_utc", json!(time.to.iso())),
                ("hours", json!(time.hours())),
                ("time_zone", json!(site.zone.name())),
                ("verdict", json!(answer.verdict.word())),
                ("answer", json!(answer.text())),
                ("held_against", json!(if by_rule { "heat rule" } else { "comfort band" })),
                ("of_all_rooms", self.of_all(&rooms)),
                ("rooms", rooms.iter().map(|of| self.room(by_rule, of)).collect()),
                ("minima", self.heard.minima.iter().map(|(span, degc)| json!({ "from_utc": span.from.iso(), "to_utc": span.to.iso(), "minimum_degc": degc })).collect()),
                ("first_below_utc", json!(self.cold_from_to().map(|cold| cold.from.iso()))),
                ("last_below_utc", json!(self.cold_from_to().map(|cold| cold.to.iso()))),
                ("below_since_utc", json!(self.below_since().map(crate::clock::UtcTime::iso))),
                ("below_until_utc", json!(self.below_until().map(crate::clock::UtcTime::iso))),
                ("without_heat", self.outages().iter().map(|o| json!({
                    "room": o.room, "from_utc": o.span.from.iso(), "to_utc": o.span.to.iso(), "hours": o.span.hours(), "goes_on": o.goes_on, "heating": o.heating.words(),
                })).collect()),
                ("least_fall_without_heat_k", json!(metrics::OUT_K)),
                ("outdoor_lowest_degc", json!(self.outdoor_lowest())),
                ("design_outdoor_degc", json!(site.design_outdoor.map(crate::units::Celsius::degc))),
                ("explained", self.all_explained()),
                ("longest_below_16_degc_h", json!(self.longest_in_the_cold().map(|row| row.value))),
                ("serious_cold_degc", json!(metrics::SERIOUS_COLD.degc())),
                ("cannot_tell", json!(self.cannot_tell())),
                ("doubts", self.doubts().map(|f| json!({
                    "room": f.room, "rule": f.rule, "observed": f.observed, "limit": f.limit, "unit": f.unit,
                })).collect()),
                ("others", self.other_homes()),
                ("loggers", self.loggers().iter().map(|l| json!({
                    "room": l.room, "logger": l.logger, "height_m": l.height_m,
                    "accuracy_k": l.accuracy.map(KelvinDiff::k), "offset_taken_off_k": l.offset.map(KelvinDiff::k),
                    "files": l.files.iter().map(|(name, sha)| json!({ "name": name, "fingerprint": sha })).collect::<Vec<_>>(),
                })).collect()),
            ]
            .map(|(name, value)| (name.to_owned(), value)),
        )
    }

    /// From the least to the most of the rooms that were below.
    fn of_all(&self, rooms: &[OfRoom<'_>]) -> Value {
        let judged: Vec<&OfRoom<'_>> = rooms.iter().filter(|of| of.hours.judged > 0.0).collect();
        if judged.is_empty() {
            return Value::Null;
        }
        json!({
            "as_read_h": range(&judged, |h| h.as_read),
            "certain_h": range(&judged, |h| h.certain),
            "possible_h": range(&judged, |h| h.possible),
            "judged_h": range(&judged, |h| h.judged),
            "all_h": range(&judged, HoursBelow::all),
            "rooms_judged": judged.iter().filter(|of| of.room.is_some()).count(),
            "rooms": self.of_roster.rooms.len(),
        })
    }

    fn room(&self, by_rule: bool, of: &OfRoom<'_>) -> Value {
        let hours = of.hours;
        let longest =
            if by_rule { &metrics::HEAT_RULE_LONGEST_EPISODE } else { &metrics::LONGEST_BELOW_BAND };
        json!({
            "room": of.room, "as_read_h": hours.as_read, "certain_h": hours.certain, "possible_h": hours.possible,
            "judged_h": hours.judged, "unjudged_h": hours.unjudged(), "without_data_h": hours.without_data, "without_outdoor_h": hours.without_outdoor,
            "longest_h": self.value(of.room, longest),
            "lowest_margin_k": self.value(of.room, &metrics::HEAT_RULE_LOWEST_MARGIN),
            "lowest_degc": self.value(of.room, &metrics::MINIMUM),
            "highest_degc": self.value(of.room, &metrics::MAXIMUM),
        })
    }

    fn all_explained(&self) -> Value {
        let Explained { causes, colder, warmer } = self.explained();
        json!({ "causes": causes, "colder_than_shown": colder, "warmer_than_shown": warmer })
    }

    fn other_homes(&self) -> Value {
        let others = &self.heard.others;
        json!({
            "in_hours_of_shortfall": others.of_shortfall,
            "hours": others.hours,
            "median_warmer_k": others.median_warmer_k(),
            "homes": others.homes.iter().map(|h| json!({ "warmer_k": h.warmer_k })).collect::<Vec<_>>(),
            "homes_below_too": others.homes_below(),
            "below_too": others.below_too.iter().map(|b| json!({ "hours": b.hours })).collect::<Vec<_>>(),
        })
    }
}
