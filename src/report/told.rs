//! What a home can do, in at most five plain sentences: physics from its record alone.

use crate::audit::HomeNumbers;
use crate::metrics::{self, IntervalKind, LimitSeen, Metric, MetricRow};
use crate::site::{Home, Room, Site};
use crate::units::{Celsius, KelvinDiff};

/// Sentences of a home at most.
const MOST: usize = 5;
/// A range wider than this tells nobody anything: of temperatures in K, of times to be warm again in h.
const TOO_WIDE_K: f64 = 5.0;
const TOO_WIDE_H: f64 = 6.0;

/// The sentences, those that decide first.
pub(super) fn sentences(site: &Site, home: &Home, numbers: &HomeNumbers<'_>) -> Vec<String> {
    let told = Told { site, home, numbers };
    let all = [
        told.even_down_to(),
        told.limit_reached(),
        told.at_design(),
        told.recovery(),
        told.without_heat(),
        told.cut_off(),
    ];
    all.into_iter().flatten().take(MOST).collect()
}

/// What is said of a limit; `None`: it may lie anywhere.
fn limit_words(room: &str, limit: &LimitSeen, show: impl Fn(f64) -> String) -> Option<String> {
    let at = show(limit.at);
    let from = match limit.ends {
        (Some(low), Some(high)) => format!("surely between {} and {}", show(low), show(high)),
        (None, Some(high)) => {
            format!("at {} or at anything colder: too few days were so cold to tell", show(high))
        }
        (Some(low), None) => {
            format!("at {} or at anything milder: too few days were so mild to tell", show(low))
        }
        (None, None) => return None,
    };
    Some(format!("Below about {at} outdoors the heating of {room} no longer holds its level ({from})."))
}

/// A room, and a number of it.
type OfRoom<'a> = (&'a Room, &'a MetricRow);

/// The room with the highest number; of equal ones the first.
fn highest(rooms: Vec<OfRoom<'_>>) -> Option<OfRoom<'_>> {
    rooms.into_iter().reduce(|a, b| if b.1.value > a.1.value { b } else { a })
}

/// The room with the lowest number; of equal ones the first.
fn lowest(rooms: Vec<OfRoom<'_>>) -> Option<OfRoom<'_>> {
    rooms.into_iter().reduce(|a, b| if b.1.value < a.1.value { b } else { a })
}

struct Told<'a> {
    site: &'a Site,
    home: &'a Home,
    numbers: &'a HomeNumbers<'a>,
}

impl<'a> Told<'a> {
    /// Rooms that have a number, with it.
    fn rooms(&self, metric: &'static Metric) -> Vec<OfRoom<'a>> {
        let period = self.site.judged_period();
        let row = |room: &'a Room| Some((room, self.numbers.value(period, Some(&room.name), metric)?));
        self.home.rooms.iter().filter_map(row).collect()
    }

    /// Those of them that are heated for sure.
    fn heated(&self, metric: &'static Metric) -> Vec<OfRoom<'a>> {
        self.rooms(metric).into_iter().filter(|(room, _)| room.heated.surely()).collect()
    }

    /// The others.
    fn unheated(&self, metric: &'static Metric) -> Vec<OfRoom<'a>> {
        self.rooms(metric).into_iter().filter(|(room, _)| !room.heated.surely()).collect()
    }

    /// Whether a room, or its home, was without heat for some time: then its line on the weather has those days too.
    fn was_without_heat(&self, room: &Room) -> bool {
        let of = |room| self.numbers.value(self.site.judged_period(), room, &metrics::HOURS_WITHOUT_HEAT);
        [Some(room.name.as_str()), None].into_iter().any(|room| of(room).is_some_and(|row| row.value > 0.0))
    }

    fn show(&self, degc: f64) -> String {
        self.site.units.show(Celsius::new(degc)).replace('-', "−")
    }

    fn difference(&self, k: f64) -> String {
        self.site.units.show_difference(KelvinDiff::new(k))
    }

    fn margin(&self) -> String {
        self.site.units.show_difference(self.site.spread.margin)
    }

    /// The room without heating of its own that is even down to the mildest temperature.
    fn even_down_to(&self) -> Option<String> {
        let (room, row) = highest(self.unheated(&metrics::EVEN_DOWN_TO))?;
        let (margin, at) = (self.margin(), self.show(row.value));
        let seen = row.interval.is_some_and(|i| i.kind == IntervalKind::AtLeastDownTo);
        let missing: Vec<&str> = self.not_shown().collect();
        let not = match missing.as_slice() {
            [] => String::new(),
            rooms => format!(" Whether {} does, the record does not show.", rooms.join(" and ")),
        };
        Some(match seen {
            true => format!(
                "The {} stays within {margin} of the heated rooms at least down to {at} outdoors, the coldest day seen.{not}",
                room.name
            ),
            false => format!(
                "The {} stays within {margin} of the heated rooms down to {at} outdoors; on colder days it may not.{not}",
                room.name
            ),
        })
    }

    /// Rooms without heating of their own whose days reach beyond the margin already in mean weather.
    fn not_shown(&self) -> impl Iterator<Item = &'a str> {
        let even = self.rooms(&metrics::EVEN_DOWN_TO);
        self.unheated(&metrics::OFFSET_ON_MEDIAN_DAY)
            .into_iter()
            .map(|(room, _)| room.name.as_str())
            .filter(move |name| even.iter().all(|(room, _)| room.name != *name))
    }

    /// Where the heating reaches its limit, only where the line of the picture falls there.
    fn limit_reached(&self) -> Option<String> {
        let seen = self.numbers.home.pictures.against_outdoors.iter();
        let limits = seen.filter_map(|of| Some((&self.home.rooms[of.room].name, of.limit?)));
        let (room, limit) = limits.reduce(|a, b| if b.1.at > a.1.at { b } else { a })?;
        limit_words(room, &limit, |degc| self.show(degc))
    }

    /// The coldest heated room on the design day.
    fn at_design(&self) -> Option<String> {
        let design = self.site.design_outdoor?;
        let (room, row) = lowest(self.heated(&metrics::MEAN_AT_DESIGN))?;
        let interval = row.interval?;
        if interval.high - interval.low > TOO_WIDE_K {
            return Some(format!(
                "How warm {} would be on a day of {} outdoors, the record does not tell: its cold days differ too much.",
                room.name,
                self.show(design.degc())
            ));
        }
        let beyond = match interval.kind == IntervalKind::PredictionBeyond {
            true => "; an estimate: no day of the record was so cold",
            false => "",
        };
        let without =
            if self.was_without_heat(room) { "; days without heat are among those it rests on" } else { "" };
        Some(format!(
            "On a day of {} outdoors the coldest heated room, {}, would be at {} ({} to {} on 95 % of such days{beyond}{without}).",
            self.show(design.degc()),
            room.name,
            self.show(row.value),
            self.show(interval.low),
            self.show(interval.high),
        ))
    }

    fn recovery(&self) -> Option<String> {
        let design = self.site.design_outdoor?;
        let (room, row) = highest(self.heated(&metrics::RECOVERY_AT_DESIGN))?;
        let interval = row.interval?;
        if interval.high - interval.low > TOO_WIDE_H {
            return Some(format!(
                "How long {} takes to be warm again at {} outdoors, the record does not tell: its mornings differ too much.",
                room.name,
                self.show(design.degc())
            ));
        }
        Some(format!(
            "After a setback, {} would take {:.1} h to be warm again at {} outdoors ({:.1} to {:.1} h on 95 % of such mornings).",
            room.name,
            row.value,
            self.show(design.degc()),
            interval.low,
            interval.high,
        ))
    }

    /// How long the home lasts without heat in the design cold.
    fn without_heat(&self) -> Option<String> {
        let design = self.site.design_outdoor?;
        let soonest = |metric| lowest(self.rooms(metric));
        let (room, row) = soonest(&metrics::HOURS_TO_16)?;
        let freezing = soonest(&metrics::HOURS_TO_5);
        let further = freezing.map_or(String::new(), |(_, row)| {
            format!(", and above {} for at least {:.0} h", self.show(5.0), row.value)
        });
        Some(format!(
            "An estimate: without heat at {} outdoors, {} stays above {} for at least {:.0} h{further}.",
            self.show(design.degc()),
            room.name,
            self.show(16.0),
            row.value,
        ))
    }

    /// A room that lies far on the way from the heated rooms to outdoors.
    fn cut_off(&self) -> Option<String> {
        let (room, row) = highest(self.rooms(&metrics::TEMPERATURE_FACTOR))?;
        let share = (row.value > 0.15).then_some(row.value * 100.0)?;
        let offset =
            self.rooms(&metrics::OFFSET_FROM_REFERENCE).into_iter().find(|(r, _)| r.name == room.name);
        let below = offset.map_or(String::new(), |(_, row)| {
            let side = if row.value < 0.0 { "colder" } else { "warmer" };
            format!("; on the mean it is {} {side} than the heated rooms", self.difference(row.value.abs()))
        });
        Some(format!(
            "The {} follows outdoors: {share:.0} % of the way from the heated rooms to the outdoor temperature{below}.",
            room.name
        ))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_limit_that_may_lie_beyond_what_was_seen_says_so() {
        let words =
            |ends| limit_words("living", &LimitSeen { at: -6.0, ends }, |degc| format!("{degc:.1} °C"));
        assert_eq!(
            words((None, Some(-4.5))).unwrap(),
            "Below about -6.0 °C outdoors the heating of living no longer holds its level (at -4.5 °C or at anything colder: too few days were so cold to tell)."
        );
        assert!(words((Some(-7.0), Some(-4.5))).unwrap().contains("surely between -7.0 °C and -4.5 °C"));
        assert_eq!(words((None, None)), None);
    }
}
