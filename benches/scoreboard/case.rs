//! One simulated home, what the audit says of it, and what is true of it.

use evenrooms::audit::HomeAudit;
use evenrooms::clock::{Span, UtcTime};
use evenrooms::findings::{About, Finding, Severity};
use evenrooms::metrics::{Metric, MetricRow};
use evenrooms::simulate::{HomeKind, SimulatedHome, Simulation, Trouble, TrueLogger};
use evenrooms::site::{Site, WHOLE_RECORD};

/// One simulated home with its audit.
pub(crate) struct Case<'a> {
    pub(crate) simulation: &'a Simulation,
    pub(crate) site: &'a Site,
    pub(crate) made: &'a SimulatedHome,
    pub(crate) audit: &'a HomeAudit,
}

impl<'a> Case<'a> {
    /// What is truly wrong with the home.
    pub(crate) fn trouble(&self) -> Trouble {
        self.made.truth.event.as_ref().map_or(Trouble::None, |e| e.kind)
    }

    /// Its loggers, one per room in roster order.
    pub(crate) fn loggers(&self) -> &'a [TrueLogger] {
        &self.made.truth.loggers
    }

    /// What kind of home it is.
    pub(crate) fn kind(&self) -> HomeKind {
        self.made.truth.kind
    }

    /// The time that was simulated.
    pub(crate) fn record(&self) -> Span {
        let from = self.simulation.start();
        Span { from, to: from.plus_ms(self.simulation.plan().days as i64 * 86_400_000) }
    }

    /// Findings about the building that somebody must act on.
    pub(crate) fn acts(&self) -> impl Iterator<Item = &'a Finding> {
        self.audit.findings.iter().filter(|f| f.about == About::Building && f.severity <= Severity::Act)
    }

    /// Findings that doubt the record.
    pub(crate) fn doubts(&self) -> impl Iterator<Item = &'a Finding> {
        self.audit.findings.iter().filter(|f| f.about == About::Record)
    }

    /// A metric of a room, or of the home, over the whole record.
    pub(crate) fn row(&self, room: Option<&str>, metric: &Metric) -> Option<&'a MetricRow> {
        self.audit.value(WHOLE_RECORD, room, metric)
    }

    /// Grid instants of the record.
    pub(crate) fn instants(&self) -> impl Iterator<Item = UtcTime> + use<> {
        let step_ms = self.site.step_ms;
        let days = self.simulation.plan().days as i64;
        let first = self.simulation.start().ms().div_euclid(step_ms) + 1;
        (first..first + days * 86_400_000 / step_ms).map(move |n| UtcTime::from_ms(n * step_ms))
    }

    /// True air temperature of a room, °C.
    pub(crate) fn degc(&self, room: usize, t: UtcTime) -> Option<f64> {
        self.made.true_degc(self.simulation, room, t)
    }

    /// Whether a room has heating of its own.
    pub(crate) fn heated(&self, room: usize) -> bool {
        let home = self.site.homes.iter().find(|h| h.name == self.audit.name);
        home.and_then(|h| h.rooms.get(room)).is_some_and(|r| r.heated.surely())
    }

    /// Hours that so many grid instants stand for.
    pub(crate) fn hours(&self, instants: usize) -> f64 {
        instants as f64 * self.site.step_ms as f64 / 3_600_000.0
    }

    /// Hour of the local day.
    pub(crate) fn hour_of_day(&self, t: UtcTime) -> i64 {
        self.site.zone.local(t).ms().rem_euclid(86_400_000) / 3_600_000
    }
}
