//! Rooms of which nothing is known in the time of a complaint, and when their records begin and end.

use super::Complaint;
use crate::clock::{Span, UtcTime};
use crate::metrics;
use crate::quality::LoggerRow;
use crate::site::Room;

/// Share of the time with values, in %, below which it is told where no rule counts the hours.
const WHOLE: f64 = 99.5;

impl Complaint<'_> {
    /// What of this time no logger recorded, a line each.
    pub(super) fn without_readings(&self) -> Vec<String> {
        let here = |room: &&Room| room.placements.iter().any(|p| p.span.overlaps(&self.period.span));
        let (seen, unseen): (Vec<&Room>, Vec<&Room>) = self
            .of_roster
            .rooms
            .iter()
            .filter(here)
            .partition(|room| self.value(Some(&room.name), &metrics::MEAN).is_some());
        if seen.is_empty() && !unseen.is_empty() {
            return vec![format!("No room has a usable reading in this time{}.", self.runs())];
        }
        let time = self.period.span;
        let show = |t: UtcTime| self.site().zone.show(t);
        let record = |room: &Room| self.record_of(&room.name);
        let later = |room: &Room| record(room).map(|r| r.from).filter(|from| *from >= time.to);
        let before = |room: &Room| record(room).map(|r| r.to).filter(|to| *to <= time.from);
        let words = |of: &dyn Fn(&Room) -> Option<String>| {
            let rooms: Vec<String> = unseen.iter().filter_map(|room| of(room)).collect();
            (!rooms.is_empty()).then(|| rooms.join(", "))
        };
        let not_yet = words(&|room| Some(format!("{} (from {} on)", room.name, show(later(room)?))));
        let no_longer = words(&|room| Some(format!("{} (until {})", room.name, show(before(room)?))));
        let rest =
            words(&|room| (later(room).is_none() && before(room).is_none()).then(|| room.name.clone()));
        let in_part = match self.of_rule().is_empty() {
            true => seen.iter().filter_map(|room| self.in_part(room)).collect(),
            // The rule's own hours were told.
            false => Vec::new(),
        };
        [
            not_yet.map(|rooms| format!("Not recorded yet: {rooms}.")),
            no_longer.map(|rooms| format!("Not recorded any more: {rooms}.")),
            rest.map(|rooms| format!("Without a usable reading: {rooms}.")),
        ]
        .into_iter()
        .flatten()
        .chain(in_part)
        .collect()
    }

    /// From when to when the home's loggers recorded, for the end of a sentence; empty where nothing is known.
    pub(super) fn runs(&self) -> String {
        let show = |t: UtcTime| self.site().zone.show(t);
        let of_loggers = self.home.loggers.iter().filter_map(LoggerRow::record).reduce(hull);
        of_loggers.map_or(String::new(), |record| {
            format!("; the home's readings run from {} to {}", show(record.from), show(record.to))
        })
    }

    fn record_of(&self, room: &str) -> Option<Span> {
        let own = self.home.loggers.iter().filter(|l| l.room == room);
        own.filter_map(LoggerRow::record).reduce(hull)
    }

    fn in_part(&self, room: &Room) -> Option<String> {
        let share = self.value(Some(&room.name), &metrics::COVERAGE).filter(|share| *share < WHOLE)?;
        Some(format!("{}: usable readings for {share:.0} % of this time.", room.name))
    }
}

fn hull(a: Span, b: Span) -> Span {
    Span { from: a.from.min(b.from), to: a.to.max(b.to) }
}
