//! What an audit came to: held and looked up, nothing computed.

use std::collections::BTreeMap;

use crate::cases::{self, Answer, Case, Course, Criterion, Job, Standing};
use crate::clock::Span;
use crate::error::Note;
use crate::exports::Ledger;
use crate::findings::{Finding, NotJudged, Severity, show_span};
use crate::grid::Trace;
use crate::metrics::{DayByHour, Event, EventKind, Metric, MetricIndex, MetricRow, Pictures, Slice};
use crate::quality::LoggerRow;
use crate::site::Site;

/// What became of one home, as far as building and report ask for it.
#[derive(Debug, Default)]
pub struct HomeAudit {
    /// Its name.
    pub name: String,
    /// Metric rows: of whole periods.
    pub metrics: Vec<MetricRow>,
    /// Events: the longest below the heat rule's minimum.
    pub events: Vec<Event>,
    /// Findings, the most pressing first.
    pub findings: Vec<Finding>,
    /// What could not be judged.
    pub not_judged: Vec<NotJudged>,
    /// What happened, the most pressing first.
    pub cases: Vec<Case>,
    /// What `[acceptance]` asks for, and what became of it.
    pub criteria: Vec<Criterion>,
    /// The period that decides.
    pub judged_period: String,
    /// That period: without periods of the site from the first to the last instant at which most of its loggers record.
    pub judged_span: Option<Span>,
    /// Loggers.
    pub loggers: Vec<LoggerRow>,
    /// Row counts of each download.
    pub ledgers: Vec<Ledger>,
    /// What a reader must know.
    pub notes: Vec<Note>,
    /// Curves for the report.
    pub trace: Option<Trace>,
    /// What else its pictures show.
    pub pictures: Pictures,
}

/// What came of a home, with its numbers at hand: whoever asks for many of them asks here.
#[derive(Debug)]
pub struct HomeNumbers<'a> {
    /// The home.
    pub home: &'a HomeAudit,
    rows: MetricIndex<'a>,
}

impl<'a> HomeNumbers<'a> {
    /// Puts them in order.
    pub fn of(home: &'a HomeAudit) -> Self {
        Self { home, rows: MetricIndex::of(&home.metrics) }
    }

    /// The number of a metric in the slice `all` of a period; `room`: `None` for the home itself.
    pub fn value(&self, period: &str, room: Option<&str>, metric: &Metric) -> Option<&'a MetricRow> {
        self.rows.row(period, Slice::All, room, metric)
    }
}

/// Events below the heat rule's minimum that are kept of a home and period for the report.
const SHORTFALLS_KEPT: usize = 12;

impl HomeAudit {
    /// Where the home stands, for the period that decides.
    pub fn standing(&self) -> Standing {
        Standing::of(&self.cases, &self.criteria, &self.not_judged, &self.judged_period)
    }

    /// What decides about it: cases to act on that are not over.
    pub fn deciding(&self) -> Vec<&Case> {
        self.cases.iter().filter(|c| c.course != Course::Over && c.severity <= Severity::Act).collect()
    }

    /// What is to be done in it, what sends people first.
    pub fn jobs(&self) -> Vec<Job<'_>> {
        cases::jobs(&self.cases, &self.criteria)
    }

    /// Criteria that do not pass.
    pub fn not_passed(&self) -> impl Iterator<Item = &Criterion> {
        self.criteria.iter().filter(|c| c.answer != Answer::Pass)
    }

    /// A room hour by hour, on the side of the band that the home is about: that of its first case about cold or warmth, else the
    /// one with more hours; `None`: no room was ever outside of its band.
    pub fn by_hour(&self) -> Option<&DayByHour> {
        let (below, above) = (self.pictures.below_by_hour.as_ref(), self.pictures.above_by_hour.as_ref());
        let told = |c: &&Case| c.course != Course::Over && c.severity < Severity::Note;
        let kinds = || self.cases.iter().filter(told).map(|c| c.kind);
        let hours = |seen: Option<&DayByHour>| seen.map_or(0.0, |seen| seen.hours_of_home);
        let warm = kinds().find(|kind| kind.is_cold() || kind.is_warm()).map(|kind| kind.is_warm());
        match warm.unwrap_or(hours(above) > hours(below)) {
            true => above.or(below),
            false => below.or(above),
        }
    }

    /// Whether a room, or the home, is so cold that somebody must go there: then a word about how not to heat is in place.
    pub fn is_too_cold(&self) -> bool {
        let pressing = |f: &&Finding| matches!(f.severity, Severity::Urgent | Severity::Act);
        self.findings.iter().filter(pressing).any(Finding::is_about_cold)
    }

    /// The number of a metric in the slice `all` of a period; `room`: `None` for the home itself.
    pub fn value(&self, period: &str, room: Option<&str>, metric: &Metric) -> Option<&MetricRow> {
        let rows =
            self.metrics.iter().filter(|r| r.period == period && r.slice == Slice::All && r.metric == metric);
        rows.into_iter().find(|r| r.room.as_deref() == room)
    }

    /// When it was too cold: below the heat rule's minimum; where it never was, the times that findings about cold rest on.
    pub fn times_of_shortfall(&self) -> Vec<Span> {
        let of_rule = self.events.iter().filter(|e| e.kind == EventKind::HeatRuleShortfall);
        let of_rule: Vec<Span> = of_rule.map(|e| e.span).collect();
        let of_findings = || {
            self.findings.iter().filter(|f| f.is_about_cold()).flat_map(|f| f.times.iter().copied()).collect()
        };
        if of_rule.is_empty() { of_findings() } else { of_rule }
    }

    /// Forgets all events but the longest ones below the heat rule's minimum in each period.
    pub fn keep_longest_shortfalls(&mut self) {
        let mut events = std::mem::take(&mut self.events);
        events.retain(|e| e.kind == EventKind::HeatRuleShortfall);
        // Sorting is stable: equally long ones stay in the order of rooms and time.
        events.sort_by(|a, b| b.span.hours().total_cmp(&a.span.hours()));
        let mut of_period: BTreeMap<String, usize> = BTreeMap::new();
        events.retain(|e| {
            let count = of_period.entry(e.period.clone()).or_default();
            *count += 1;
            *count <= SHORTFALLS_KEPT
        });
        self.events = events;
    }

    /// From the first to the last reading of any logger; where no logger is known, of the curves.
    pub fn record(&self) -> Option<Span> {
        let of_loggers = || {
            let from = self.loggers.iter().filter_map(|l| l.first_utc).min()?;
            let to = self.loggers.iter().filter_map(|l| l.last_utc).max()?;
            Some(Span { from, to })
        };
        of_loggers().or_else(|| self.trace.as_ref().map(Trace::span))
    }
}

/// The whole audit.
#[derive(Debug)]
pub struct Audit {
    /// The site.
    pub site: Site,
    /// Homes in roster order.
    pub homes: Vec<HomeAudit>,
    /// The weather series, as a home without a name.
    pub outdoor: Option<HomeAudit>,
    /// Metric rows of the building: their home is empty.
    pub building: Vec<MetricRow>,
    /// Notes about the site as a whole.
    pub notes: Vec<Note>,
    /// Whether it started from the aligned table of an earlier audit: nothing is known of loggers and rows.
    pub from_aligned: bool,
}

impl Audit {
    /// All notes: of the site, of the weather, of the homes.
    pub fn notes(&self) -> impl Iterator<Item = &Note> {
        self.notes.iter().chain(self.outdoor.iter().chain(&self.homes).flat_map(|h| &h.notes))
    }

    /// What was taken off readings because of the side-by-side time, in a sentence; `None`: nothing.
    pub fn taken_off(&self) -> Option<String> {
        let span = self.site.colocation.as_ref()?.span;
        let loggers = || self.homes.iter().flat_map(|h| &h.loggers);
        let offsets = || loggers().filter_map(|l| l.offset);
        let low = offsets().min_by(|a, b| a.k().total_cmp(&b.k()))?;
        let high = offsets().max_by(|a, b| a.k().total_cmp(&b.k()))?;
        let show = |k| self.site.units.show_difference(k);
        let left = loggers().filter(|l| l.offset.is_none()).count();
        Some(format!(
            "Side by side from {}: offsets of {} to {} were taken off the readings of {} loggers before anything was judged{} (each in loggers.csv).",
            show_span(span, self.site.zone),
            show(low),
            show(high),
            offsets().count(),
            if left > 0 { format!(", and none off {left}") } else { String::new() },
        ))
    }

    /// Homes, the worst first: by where they stand, then by what happened in them; equal ones in roster order.
    pub fn worst_first(&self) -> Vec<&HomeAudit> {
        let mut homes: Vec<&HomeAudit> = self.homes.iter().collect();
        homes.sort_by_cached_key(|h| {
            (h.standing(), cases::of_home(&h.deciding()), std::cmp::Reverse(h.cases.len()))
        });
        homes
    }

    /// The most pressing severity of all cases that are not over; a criterion that fails is to act on.
    pub fn worst_severity(&self) -> Option<Severity> {
        let cases = self.homes.iter().flat_map(|h| &h.cases).filter(|c| c.course != Course::Over);
        let failed = self.homes.iter().any(|h| h.criteria.iter().any(|c| c.answer == Answer::Fail));
        cases.map(|c| c.severity).chain(failed.then_some(Severity::Act)).min()
    }

    /// Whether some input could not be read.
    pub fn something_unreadable(&self) -> bool {
        self.notes().any(|n| n.unreadable)
    }

    /// From the first to the last reading of any home.
    pub fn record(&self) -> Option<Span> {
        let records = || self.homes.iter().filter_map(HomeAudit::record);
        Some(Span { from: records().map(|s| s.from).min()?, to: records().map(|s| s.to).max()? })
    }

    /// What is judged: from the first to the last instant of any home's period that decides.
    pub fn judged_span(&self) -> Option<Span> {
        let spans = || self.homes.iter().filter_map(|h| h.judged_span);
        Some(Span { from: spans().map(|s| s.from).min()?, to: spans().map(|s| s.to).max()? })
    }

    /// Data rows seen, kept and set aside.
    pub fn rows(&self) -> (u64, u64, u64) {
        let ledgers = || self.outdoor.iter().chain(&self.homes).flat_map(|h| &h.ledgers);
        (
            ledgers().map(|l| l.seen).sum(),
            ledgers().map(|l| l.kept).sum(),
            ledgers().map(Ledger::set_aside_total).sum(),
        )
    }
}
