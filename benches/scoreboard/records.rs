//! What truly happened to the records of a home, and which rules describe it.
//!
//! A finding about a record is right when something happened to its logger, or to its home, that its rule describes, at a
//! time that it names. What happened is seen when such a finding is there; *plain* is what could be seen in the record
//! at all: a logger stuck while its room stood still does no harm, and no eye would find it.

use chrono::DateTime;
use evenrooms::clock::{Span, UtcTime};
use evenrooms::findings::Finding;
use evenrooms::quality::TALL_K;
use evenrooms::simulate::{FaultKind, TrueFault};

use super::case::Case;

/// What can happen to a record.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum What {
    /// A fault of a logger.
    Fault(FaultKind),
    /// Somebody held it.
    Hand,
    /// It recorded nothing for a day or more, and recorded before and after.
    Hole,
    /// Its record begins late or ends early.
    LateOrEarly,
    /// All loggers of the home lay together at the start or end.
    Together,
    /// The folder has a copy that no row of the roster names.
    Stray,
}

/// Something that happened to a record.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Happened<'a> {
    pub(crate) what: What,
    /// The room of the logger; `None`: all of the home.
    pub(crate) room: Option<&'a str>,
    span: Span,
    /// Whether the record shows it.
    pub(crate) plain: bool,
    /// How strong a fault is: K, or hours; 0 where it has no size.
    pub(crate) size: f64,
}

impl What {
    /// Rules that should see it.
    pub(crate) fn seen_by(self) -> &'static [&'static str] {
        match self {
            What::Fault(kind) => fault_seen_by(kind),
            What::Hand => &["logger-handled"],
            What::Hole => &["hole"],
            What::LateOrEarly => &["partial-record"],
            What::Together => &["loggers-together"],
            What::Stray => &["same-readings"],
        }
    }

    /// Rules that say something true of it too, though others should see it.
    fn also_described_by(self) -> &'static [&'static str] {
        use FaultKind as F;
        match self {
            What::Fault(F::Stuck | F::StuckFromStart) => &["thin-coverage"],
            What::Fault(F::SpikeBurst) => &["out-of-range"],
            What::Fault(F::InBag) => &["logger-elsewhere"],
            What::Fault(F::FahrenheitAsCelsius | F::MovedOutdoors) => &["thin-coverage"],
            What::Fault(F::Swapped) => &["logger-elsewhere"],
            What::Fault(F::SwappedLater) => &["logger-moved"],
            What::Fault(F::MovedToRoom) => &["loggers-exchanged", "same-readings"],
            What::Fault(F::BatteryDying) => &["hole", "partial-record"],
            What::Fault(F::OtherTime) => &["clock-suspect", "partial-record"],
            What::Fault(F::CopyOfAnother) => &["clock-suspect"],
            // A record that is moved by half a day begins late, and ends early.
            What::Fault(F::HalfDayOff) => &["partial-record"],
            What::Hole => &["thin-coverage", "partial-record"],
            What::LateOrEarly => &["thin-coverage"],
            What::Together => &["logger-handled", "logger-elsewhere", "sensor-shifted"],
            _ => &[],
        }
    }

    /// In words.
    pub(crate) fn words(self) -> String {
        match self {
            What::Fault(kind) => format!("fault: {}", super::table::words(kind)),
            What::Hand => "handling: held in a hand".to_owned(),
            What::Hole => "handling: a hole of a day or more".to_owned(),
            What::LateOrEarly => "handling: begins late or ends early".to_owned(),
            What::Together => "handling: all in one box".to_owned(),
            What::Stray => "handling: a copy beside the roster".to_owned(),
        }
    }
}

fn fault_seen_by(fault: FaultKind) -> &'static [&'static str] {
    match fault {
        FaultKind::Stuck | FaultKind::StuckFromStart => &["stuck", "may-be-stuck"],
        FaultKind::SpikeBurst => &["spikes"],
        FaultKind::SlowDrift => &["sensor-drifts"],
        FaultKind::StepOffset => &["sensor-shifted"],
        FaultKind::InSun => &["sun-on-logger", "heat-on-logger"],
        FaultKind::BesideHeater => &["heat-on-logger", "spikes", "sensor-shifted"],
        FaultKind::MovedOutdoors => &["logger-elsewhere"],
        FaultKind::InBag => &["logger-handled"],
        FaultKind::Swapped => &[],
        FaultKind::SwappedLater => &["loggers-exchanged", "logger-elsewhere", "sensor-shifted"],
        FaultKind::MovedToRoom => &["logger-moved", "logger-elsewhere", "sensor-shifted"],
        FaultKind::ClockHourOff | FaultKind::WrongZone | FaultKind::ClockSetLater | FaultKind::HalfDayOff => {
            &["clock-suspect"]
        }
        FaultKind::FahrenheitAsCelsius => &["wrong-unit", "out-of-range"],
        FaultKind::BatteryDying => &["record-fades", "thin-coverage"],
        FaultKind::OtherTime => &["out-of-period"],
        FaultKind::CopyOfAnother => &["same-readings"],
    }
}

impl Happened<'_> {
    fn is_there(&self, finding: &Finding) -> bool {
        let room = finding.room.as_deref();
        // Of a copy, the rule may name either of the two.
        let any_room = matches!(self.what, What::Fault(FaultKind::CopyOfAnother) | What::Stray);
        let same_room = any_room || room.is_none() || self.room.is_none() || room == self.room;
        same_room && finding.span.is_none_or(|span| widened(span).overlaps(&self.span))
    }

    /// When it happened, UTC.
    pub(crate) fn when(&self) -> String {
        format!("{} to {}", self.span.from.iso(), self.span.to.iso())
    }

    /// Whether a finding sees it.
    pub(crate) fn is_seen_in(&self, finding: &Finding) -> bool {
        self.what.seen_by().contains(&finding.rule) && self.is_there(finding)
    }

    /// Whether a finding says something true of it.
    pub(crate) fn is_described_in(&self, finding: &Finding) -> bool {
        let rules = [self.what.seen_by(), self.what.also_described_by()];
        rules.iter().any(|r| r.contains(&finding.rule)) && self.is_there(finding)
    }
}

/// Hours by which a finding may be early or late: it goes by a clock that may be wrong itself.
const SLACK_H: i64 = 8;

fn widened(span: Span) -> Span {
    let slack = SLACK_H * 3_600_000;
    Span { from: span.from.plus_ms(-slack), to: span.to.plus_ms(slack) }
}

/// All that happened to the records of a home.
pub(crate) fn happened<'a>(case: &Case<'a>) -> Vec<Happened<'a>> {
    let mut all = Vec::new();
    let truth = &case.made.truth;
    let whole = case.record();
    for (index, logger) in case.loggers().iter().enumerate() {
        let room = Some(logger.room);
        if let Some(fault) = &logger.fault {
            let span = match fault.kind {
                // Its findings go by the time of its file.
                FaultKind::OtherTime => Span::ALWAYS,
                _ => span_of(&fault.from_utc, &fault.to_utc),
            };
            let plain = is_plain(case, index, fault, span);
            all.push(Happened {
                what: What::Fault(fault.kind),
                room,
                span,
                plain,
                size: size_of(fault, span),
            });
        }
        for [from, to] in &logger.hands_utc {
            let span = span_of(from, to);
            let plain = furthest_k(case, index, widened_by_minutes(span, 10)) > PLAIN_HAND_K;
            all.push(Happened { what: What::Hand, room, span, plain, size: 0.0 });
        }
        for span in logger.off_utc.iter().map(|[from, to]| span_of(from, to)) {
            let at_end = span.from <= whole.from || span.to >= whole.to;
            if at_end || span.hours() >= 24.0 {
                let what = if at_end { What::LateOrEarly } else { What::Hole };
                all.push(Happened { what, room, span, plain: true, size: 0.0 });
            }
        }
    }
    if let Some([from, to]) = &truth.together_utc {
        let span = span_of(from, to);
        let plain = span.hours() >= PLAIN_BOX_H && rooms_apart(case, span);
        all.push(Happened { what: What::Together, room: None, span, plain, size: 0.0 });
    }
    if truth.stray.is_some() {
        all.push(Happened { what: What::Stray, room: None, span: case.record(), plain: true, size: 0.0 });
    }
    all
}

/// How strong a fault is: of what lasts and has no other size, its hours.
fn size_of(fault: &TrueFault, span: Span) -> f64 {
    match fault.kind {
        FaultKind::Stuck | FaultKind::MovedOutdoors => span.hours(),
        _ => fault.size,
    }
}

/// How far above the room a hand must bring a logger to be seen, K.
const PLAIN_HAND_K: f64 = 3.0;
/// What is plain: how far from the room, and for how long.
const PLAIN_K: f64 = 1.5;
const PLAIN_OUTDOORS_K: f64 = 6.0;
const PLAIN_ROOMS_K: f64 = 1.0;
const PLAIN_BAG_K: f64 = 4.0;
const PLAIN_H: f64 = 12.0;
/// A logger that stands still is seen when its room moved by so many of its steps.
const PLAIN_STEPS: f64 = 3.0;
/// And stands still so many times as long as it does otherwise.
const PLAIN_TIMES: f64 = 3.0;
/// Of a logger that samples seldom, or where people shower and cook, a few readings that stand out by less than
/// [`TALL_K`] may be the room.
const PLAIN_SPIKE_K: f64 = 4.0;
const PLAIN_BAG_STEPS: f64 = 6.0;
/// And fills so many readings: what fills fewer may be a window or guests.
const PLAIN_BAG_READINGS: usize = 6;
/// A box is plain when it lasts, and the rooms beside it are truly so far apart, without the one that is furthest out, K.
const PLAIN_BOX_H: f64 = 4.0;
const PLAIN_APART_K: f64 = 2.0;

/// Whether the true air of the rooms lies apart in the day after a time, or in the one before where nothing comes after.
fn rooms_apart(case: &Case<'_>, span: Span) -> bool {
    let record = case.record();
    let day = 24 * 3_600_000;
    let at_end = span.to >= record.to;
    let beside = if at_end {
        Span { from: span.from.plus_ms(-day), to: span.from }
    } else {
        Span { from: span.to, to: span.to.plus_ms(day) }
    };
    let spread = |t: UtcTime| {
        let mut rooms: Vec<f64> = (0..case.loggers().len()).filter_map(|r| case.degc(r, t)).collect();
        rooms.sort_by(f64::total_cmp);
        let n = rooms.len();
        (n >= 3).then(|| (rooms[n - 1] - rooms[1]).min(rooms[n - 2] - rooms[0]))
    };
    let spreads: Vec<f64> = case.instants().filter(|t| beside.contains(*t)).filter_map(spread).collect();
    let far = spreads.iter().filter(|k| **k >= PLAIN_APART_K).count();
    2 * far > spreads.len()
}

/// Whether the record shows a fault at all.
fn is_plain(case: &Case<'_>, index: usize, fault: &TrueFault, span: Span) -> bool {
    match fault.kind {
        FaultKind::Stuck | FaultKind::StuckFromStart => {
            let moved = PLAIN_K.max(PLAIN_STEPS * case.loggers()[index].resolution_k);
            let long = span.hours() >= PLAIN_H.max(PLAIN_TIMES * longest_repeat_h(case, index, span));
            long && furthest_k(case, index, span) >= moved
        }
        FaultKind::SpikeBurst => {
            let few = if may_be_an_airing(case, index) && fault.size <= TALL_K { 5 } else { 3 };
            fault.size >= PLAIN_SPIKE_K && jumps(case, index, span, fault.size) >= few
        }
        FaultKind::SlowDrift => fault.size.abs() >= 1.5,
        FaultKind::StepOffset => fault.size.abs() >= 2.0,
        FaultKind::SwappedLater | FaultKind::MovedToRoom => fault.size >= PLAIN_ROOMS_K,
        FaultKind::InSun => fault.size >= 6.0,
        FaultKind::BesideHeater => fault.size >= 2.5 && furthest_k(case, index, span) >= 2.5,
        FaultKind::MovedOutdoors => far_h(case, index, span, PLAIN_OUTDOORS_K) >= 6.0,
        FaultKind::InBag => {
            let coarse = case.loggers()[index].resolution_k * PLAIN_BAG_STEPS;
            let least = PLAIN_BAG_K.max(coarse);
            let far = apart(case, index, span).filter(|k| *k >= least / 2.0).count();
            span.hours() >= 2.0 && far >= PLAIN_BAG_READINGS && furthest_k(case, index, span) >= least
        }
        _ => true,
    }
}

/// Whether single readings of a logger that stand out may be an airing, a shower or a pan.
fn may_be_an_airing(case: &Case<'_>, index: usize) -> bool {
    let logger = &case.loggers()[index];
    logger.interval_s > 600 || ["bathroom", "kitchen"].contains(&logger.room)
}

/// How far each reading of a time lies from the true air of its room, K.
fn apart<'c>(case: &'c Case<'_>, index: usize, span: Span) -> impl Iterator<Item = f64> + use<'c> {
    let stored = case.made.stored[index].iter().filter(move |(t, _)| span.contains(*t));
    stored.filter_map(move |(t, degc)| Some(((*degc)? - case.degc(index, *t)?).abs()))
}

/// How far a logger is from the true air of its room at most, K.
fn furthest_k(case: &Case<'_>, index: usize, span: Span) -> f64 {
    apart(case, index, span).fold(0.0, f64::max)
}

/// Hours for which a logger is so far from the true air of its room.
fn far_h(case: &Case<'_>, index: usize, span: Span, k: f64) -> f64 {
    let far = apart(case, index, span).filter(|apart| *apart >= k).count();
    far as f64 * case.loggers()[index].interval_s as f64 / 3600.0
}

/// Hours for which a logger repeats one value at most outside of a span: a coarse one does so of itself.
fn longest_repeat_h(case: &Case<'_>, index: usize, without: Span) -> f64 {
    let stored = &case.made.stored[index];
    let runs = stored.chunk_by(|a, b| a.1 == b.1 && without.contains(a.0) == without.contains(b.0));
    let hours = |run: &[(UtcTime, Option<f64>)]| match (run.first(), run.last()) {
        (Some(a), Some(b)) if a.1.is_some() && !without.contains(a.0) => Span { from: a.0, to: b.0 }.hours(),
        _ => 0.0,
    };
    runs.map(hours).fold(0.0, f64::max)
}

/// Readings of a time that lie at least half a size from the true air of the room.
fn jumps(case: &Case<'_>, index: usize, span: Span, size: f64) -> usize {
    let apart = |(t, degc): &&(UtcTime, Option<f64>)| {
        degc.zip(case.degc(index, *t)).is_some_and(|(x, air)| (x - air).abs() >= size / 2.0)
    };
    case.made.stored[index].iter().filter(|(t, _)| span.contains(*t)).filter(apart).count()
}

fn widened_by_minutes(span: Span, minutes: i64) -> Span {
    Span { from: span.from, to: span.to.plus_ms(minutes * 60_000) }
}

/// From one instant of the truth to another.
pub(crate) fn span_of(from: &str, to: &str) -> Span {
    let instant = |text: &str| {
        let t = DateTime::parse_from_rfc3339(text).expect("the truth has instants");
        UtcTime::from_ms(t.timestamp_millis())
    };
    Span { from: instant(from), to: instant(to) }
}
