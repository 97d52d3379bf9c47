//! What a rule looks at: a home, or one of its rooms, in one period.

use super::{Evidence, Rule};
use crate::clock::Span;
use crate::metrics::{self, Event, EventKind, Metric, MetricRow, Slice};
use crate::quality::LoggerRow;
use crate::site::Room;
use crate::units::{Celsius, TemperatureUnit};

/// Hours between readings above which what lies between them is unknown: heating that fails in the evening has cooled a room by
/// then. Own definition.
const SELDOM_H: f64 = 2.0;

/// A home in one period.
#[derive(Clone, Copy, Debug)]
pub struct HomeCase<'a> {
    pub(super) evidence: Evidence<'a>,
    pub(super) period: &'a str,
    /// The rule that judges it, which says what it looks at; `None` for what holds of all rules.
    pub(super) rule: Option<&'static Rule>,
}

/// A room in one period.
#[derive(Clone, Copy, Debug)]
pub struct RoomCase<'a> {
    pub(super) case: HomeCase<'a>,
    pub(super) room: &'a Room,
}

impl<'a> HomeCase<'a> {
    /// A row of the slice `all`; `room`: `None` for the home itself.
    pub(super) fn row(&self, room: Option<&str>, metric: &Metric) -> Option<&'a MetricRow> {
        self.row_in(Slice::All, room, metric)
    }

    pub(super) fn row_in(&self, slice: Slice, room: Option<&str>, metric: &Metric) -> Option<&'a MetricRow> {
        let says_so = |rule: &Rule| rule.needs.iter().chain(rule.looks_at).any(|m| *m == metric);
        debug_assert!(
            self.rule.is_none_or(says_so),
            "{:?} looks at {}",
            self.rule.map(|r| r.name),
            metric.id
        );
        self.evidence.rows.row(self.period, slice, room, metric)
    }

    /// Whether any room, or the home itself, has a row of the slice `all`.
    pub(super) fn any_row(&self, metric: &Metric) -> bool {
        let mut rooms = self.evidence.home.rooms.iter().map(|room| Some(room.name.as_str()));
        self.row(None, metric).is_some() || rooms.any(|room| self.row(room, metric).is_some())
    }

    /// The same, for what is asked of every rule's verdict alike.
    pub(super) fn of_all_rules(self) -> Self {
        Self { rule: None, ..self }
    }

    /// The span of the period, where the site names it.
    pub(super) fn span(&self) -> Option<Span> {
        self.evidence.site.named_period(self.period)
    }

    pub(super) fn units(&self) -> TemperatureUnit {
        self.evidence.site.units
    }

    /// Events of a kind in the period.
    pub(super) fn events_of(
        &self,
        room: Option<&'a str>,
        kind: EventKind,
    ) -> impl Iterator<Item = &'a Event> {
        let (events, period) = (self.evidence.events.iter(), self.period);
        events.filter(move |e| e.kind == kind && e.room.as_deref() == room && e.period == period)
    }

    /// From the first to the last event of a kind in the period.
    pub(super) fn span_of(&self, room: Option<&'a str>, kind: EventKind) -> Option<Span> {
        let events = || self.events_of(room, kind);
        Some(Span { from: events().map(|e| e.span.from).min()?, to: events().map(|e| e.span.to).max()? })
    }
}

impl<'a> RoomCase<'a> {
    pub(super) fn row(&self, metric: &Metric) -> Option<&'a MetricRow> {
        self.case.row(Some(&self.room.name), metric)
    }

    /// The loggers that stood in the room.
    pub(super) fn loggers(&self) -> impl Iterator<Item = &'a LoggerRow> {
        let room = &self.room.name;
        self.case.evidence.loggers.iter().filter(move |l| l.room == *room)
    }

    /// The room, and the share of its hours, in %, that rests on suspect readings.
    pub(super) fn doubtful_share(&self) -> Option<(&'a str, f64)> {
        self.row(&metrics::SHARE_SUSPECT).map(|row| (self.room.name.as_str(), row.value))
    }

    /// The room, and the hours between its readings, where one of its loggers samples too seldom to show a night.
    pub(super) fn seldom_h(&self) -> Option<(&'a str, f64)> {
        let hours = self.loggers().filter_map(|l| l.interval_s).map(|s| s / 3600.0);
        hours.max_by(f64::total_cmp).filter(|h| *h > SELDOM_H).map(|h| (self.room.name.as_str(), h))
    }

    pub(super) fn show(&self, degc: f64) -> String {
        self.case.units().show(Celsius::new(degc))
    }
}
