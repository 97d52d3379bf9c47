//! The criteria of `[acceptance]`: what was asked for, what was measured, and whether that passes.
//!
//! A criterion fails when even the lower end of what was measured is beyond the limit, it passes when even the upper end is
//! inside, and else there is not enough data: a wrong pass is worse than another week of record.

use crate::findings::{About, Evidence, Finding, Judged, Severity};
use crate::metrics::{self, Evenness, MOST_SUSPECT, Metric, MetricRow, Slice};
use crate::site::{Heated, Room};

/// What became of a criterion.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Answer {
    /// Surely beyond the limit.
    Fail,
    /// The record does not tell.
    NotEnough,
    /// Surely inside.
    Pass,
}

impl Answer {
    /// The words in tables.
    pub const fn words(self) -> &'static str {
        match self {
            Answer::Fail => "fail",
            Answer::NotEnough => "not enough data",
            Answer::Pass => "pass",
        }
    }
}

/// What is asked of a home.
#[derive(Debug)]
pub struct CriterionKind {
    /// The name in tables, that of its key in `[acceptance]`.
    pub id: &'static str,
    /// The metric that it is made of, as in the table of metrics; empty: of several.
    pub metric: &'static str,
    /// The words for people.
    pub words: &'static str,
    /// What it says, in one sentence.
    pub definition: &'static str,
    /// Unit of limit and measured.
    pub unit: &'static str,
}

macro_rules! criteria {
    ($($name:ident = $kind:expr;)+) => {
        $(static $name: CriterionKind = $kind;)+
        /// Every criterion, in the order of the sheet.
        pub static CRITERIA: &[&CriterionKind] = &[$(&$name),+];
    };
}

criteria! {
    DAYS = CriterionKind {
        id: "days",
        metric: "",
        words: "days on record",
        definition: "days of the period that decides on which enough rooms record at once; half a day may be missing",
        unit: "d",
    };
    COVERAGE = CriterionKind {
        id: "coverage",
        metric: "coverage",
        words: "time with readings, worst room",
        definition: "share of the time for which any room of the home has a logger in which a room has a usable value, of the room with the smallest; no pass where more than a tenth of its hours rest on suspect readings",
        unit: "%",
    };
    HOURS_BELOW = CriterionKind {
        id: "hours_below",
        metric: "hours_below_band_settled",
        words: "hours below the band, worst heated room",
        definition: "share of a heated room's hours below its band, without the time that it is granted after a setback; low and high with the limit moved by the sensor accuracy",
        unit: "%",
    };
    HOURS_ABOVE = CriterionKind {
        id: "hours_above",
        metric: "hours_above_band",
        words: "hours above the band, worst heated room",
        definition: "share of a heated room's hours above its band; low and high with the limit moved by the sensor accuracy; what fails where sun or heat is found on the logger is not enough data",
        unit: "%",
    };
    EVENNESS = CriterionKind {
        id: "evenness",
        metric: "offset_from_reference",
        words: "evenness between the rooms, worst room",
        definition: "offset of a room from the median of the heated ones (of a heated room: of the others), held against the margin by two one-sided tests: even passes, uneven fails, undecided or no reference is not enough data; low and high are its 90 % interval",
        unit: "K",
    };
    LATE_RECOVERIES = CriterionKind {
        id: "late_recoveries",
        metric: "late_recoveries",
        words: "late mornings, worst heated room",
        definition: "share of the mornings after a setback on which a heated room was late; low and high with the line moved by the sensor accuracy; from 5 mornings on",
        unit: "%",
    };
    HEAT_RULE = CriterionKind {
        id: "heat_rule",
        metric: "heat_rule_hours_as_read",
        words: "hours below the legal minimum, worst room",
        definition: "share of the judged hours of the heat rule below its minimum; low: certainly, high: certainly or too close to call; not enough data where less of its hours were judged than `coverage` asks for",
        unit: "%",
    };
}

/// A criterion of a home: a row of the acceptance table.
#[derive(Clone, Debug, PartialEq)]
pub struct Criterion {
    /// The home.
    pub home: String,
    /// The period that decides.
    pub period: String,
    /// Name, words and unit.
    pub kind: &'static CriterionKind,
    /// The room that decided; `None`: the home as a whole, or no room was judged.
    pub room: Option<String>,
    /// The limit.
    pub limit: f64,
    /// What was measured; `None`: nothing.
    pub measured: Option<f64>,
    /// Its ends; `None` where it has none, or no end on that side.
    pub range: (Option<f64>, Option<f64>),
    /// What became of it.
    pub answer: Answer,
    /// Why there is not enough data; else empty.
    pub why: String,
}

impl PartialEq for CriterionKind {
    fn eq(&self, other: &Self) -> bool {
        std::ptr::eq(self, other)
    }
}

/// Mornings from which a share says something.
const LEAST_MORNINGS: f64 = 5.0;
/// Days that may be missing of those asked for: records begin and end in the middle of a day.
const DAYS_MISSING: f64 = 0.5;
/// Rules about what warms a logger and not its room: its hours too warm are no hours of the room.
const WARMS: [&str; 2] = ["sun-on-logger", "heat-on-logger"];
/// Why days are missing where rooms have them, each at another time.
pub(super) const FEW_AT_ONCE: &str = "too rarely do so many rooms as `quorum` asks for record at once";

/// What was measured of one room, or of the home.
struct One<'a> {
    room: Option<&'a str>,
    measured: Option<f64>,
    range: (Option<f64>, Option<f64>),
    answer: Answer,
    why: String,
}

impl<'a> One<'a> {
    fn nothing(room: Option<&'a str>, why: &str) -> Self {
        Self { room, measured: None, range: (None, None), answer: Answer::NotEnough, why: why.to_owned() }
    }

    /// A share, as measured and with its ends, held against the most that it may be.
    fn at_most(room: &'a str, [measured, low, high]: [f64; 3], limit: f64) -> Self {
        let (answer, why) = match () {
            () if low > limit => (Answer::Fail, ""),
            () if high <= limit => (Answer::Pass, ""),
            () => (Answer::NotEnough, "too close to the limit to say"),
        };
        Self {
            room: Some(room),
            measured: Some(measured),
            range: (Some(low), Some(high)),
            answer,
            why: why.to_owned(),
        }
    }
}

/// Why evenness is undecided, and what would decide it.
fn undecided(offset: &MetricRow, more: Option<&MetricRow>, margin: f64, check: &Check) -> String {
    let Some(interval) = offset.interval else { return "fewer than 7 whole days".to_owned() };
    let across =
        interval.low < margin && interval.high > margin || interval.low < -margin && interval.high > -margin;
    let days = |days: f64| days.ceil().max(1.0);
    match more.map(|row| (row.value, row.interval)) {
        // Else it is what the readings rest on that is doubted.
        _ if !across => "too much of what it rests on is suspect".to_owned(),
        None => {
            let remedy = match check {
                Check::Open => "more days will not decide: do a side-by-side check".to_owned(),
                Check::Without(loggers) => {
                    format!("more days will not decide: the side-by-side check leaves out {loggers}")
                }
                Check::Done => "more days will not decide, nor do loggers this good".to_owned(),
            };
            format!("its interval reaches across the margin; {remedy}")
        }
        Some((value, range)) => {
            let (low, high) = range.map_or((value, value), |i| (days(i.low), i.high));
            let most = if high.is_finite() && high < LONG_D { days(high) } else { f64::INFINITY };
            match most.is_finite() {
                true if most > low => {
                    format!(
                        "its interval reaches across the margin; about {low:.0} to {most:.0} more days decide"
                    )
                }
                true => format!("its interval reaches across the margin; about {most:.0} more days decide"),
                false => {
                    let sooner = if *check == Check::Open { ", and a side-by-side check sooner" } else { "" };
                    format!(
                        "its interval reaches across the margin; {low:.0} more days or far more decide{sooner}"
                    )
                }
            }
        }
    }
}

/// How far the loggers of a home were held against each other side by side.
#[derive(Clone, Debug, PartialEq)]
enum Check {
    /// Not at all.
    Open,
    /// Without these.
    Without(String),
    /// All of them.
    Done,
}

impl Check {
    fn of(evidence: &Evidence<'_>) -> Self {
        let recorded = || evidence.loggers.iter().filter(|l| l.record().is_some());
        let without: Vec<&str> =
            recorded().filter(|l| l.offset.is_none()).map(|l| l.logger.as_str()).collect();
        match without.as_slice() {
            _ if without.len() == recorded().count() => Check::Open,
            [] => Check::Done,
            names if names.len() <= NAMED => Check::Without(names.join(", ")),
            more => Check::Without(format!("{} loggers", more.len())),
        }
    }
}

/// Loggers that are named; more are counted.
const NAMED: usize = 3;

/// So many more days are no plan.
const LONG_D: f64 = 365.0;

/// Holds a home against what `[acceptance]` asks for, in the period that decides.
pub fn criteria(evidence: &Evidence<'_>, judged: &Judged) -> Vec<Criterion> {
    let look = Look { evidence, judged, period: evidence.site.judged_period() };
    let asked = &evidence.site.acceptance;
    let band = |share: Option<f64>| share.filter(|_| evidence.site.bands.any());
    let even = Some(evidence.site.spread.margin.k()).filter(|_| asked.evenness);
    let all = [
        Some(look.criterion(&DAYS, asked.days as f64, look.days(asked.days as f64))),
        look.worst(&COVERAGE, asked.coverage, |limit| look.coverage(limit)),
        look.worst(&HOURS_BELOW, band(asked.hours_below), |limit| {
            look.hours(&metrics::HOURS_BELOW_SETTLED, limit)
        }),
        look.worst(&HOURS_ABOVE, band(asked.hours_above), |limit| {
            look.hours(&metrics::HOURS_ABOVE_BAND, limit)
        }),
        look.worst(&EVENNESS, even, |_| look.evenness()),
        look.worst(&LATE_RECOVERIES, asked.late_recoveries, |limit| look.late(limit)),
        look.worst(&HEAT_RULE, asked.heat_rule, |limit| look.heat_rule(limit)),
    ];
    all.into_iter().flatten().collect()
}

/// A home in the period that decides.
struct Look<'a> {
    evidence: &'a Evidence<'a>,
    judged: &'a Judged,
    period: &'a str,
}

impl<'a> Look<'a> {
    fn row(&self, room: Option<&str>, metric: &Metric) -> Option<&'a MetricRow> {
        self.evidence.rows.row(self.period, Slice::All, room, metric)
    }

    fn rooms(&self) -> impl Iterator<Item = &'a Room> {
        self.evidence.home.rooms.iter()
    }

    /// The room that decides about a criterion: the worst answer, of equal ones the largest number; `None` where nobody asks.
    fn worst(
        &self,
        kind: &'static CriterionKind,
        limit: Option<f64>,
        of: impl Fn(f64) -> Vec<One<'a>>,
    ) -> Option<Criterion> {
        let limit = limit?;
        let far = |one: &One<'_>| one.measured.map_or(f64::INFINITY, f64::abs);
        let all = of(limit).into_iter().map(|one| self.unless_doubted(kind, one));
        let worst = all.min_by(|a, b| a.answer.cmp(&b.answer).then(far(b).total_cmp(&far(a))))?;
        Some(self.criterion(kind, limit, worst))
    }

    fn criterion(&self, kind: &'static CriterionKind, limit: f64, one: One<'_>) -> Criterion {
        Criterion {
            home: self.evidence.home.name.clone(),
            period: self.period.to_owned(),
            kind,
            room: one.room.map(str::to_owned),
            limit,
            measured: one.measured,
            range: one.range,
            answer: one.answer,
            why: one.why,
        }
    }

    /// No crew is sent for what a doubted logger alone may show.
    fn unless_doubted<'r>(&self, kind: &CriterionKind, one: One<'r>) -> One<'r> {
        if one.answer != Answer::Fail || !one.room.is_some_and(|room| self.is_doubted(room, kind)) {
            return one;
        }
        One { answer: Answer::NotEnough, why: "its logger is doubted: settle that first".to_owned(), ..one }
    }

    fn is_doubted(&self, room: &str, kind: &CriterionKind) -> bool {
        let of_it = |f: &&Finding| f.room.as_deref() == Some(room);
        let acts = |f: &Finding| f.about == About::Record && f.severity <= Severity::Act;
        let warmed = |f: &Finding| kind == &HOURS_ABOVE && WARMS.contains(&f.rule);
        self.judged.findings.iter().filter(of_it).any(|f| f.doubt.is_some() || acts(f) || warmed(f))
    }

    /// Days on which enough rooms record at once.
    fn days(&self, limit: f64) -> One<'a> {
        let together = self.row(None, &metrics::SPREAD_MEDIAN);
        let alone = || self.rooms().filter_map(|r| self.row(Some(&r.name), &metrics::MEAN));
        let hours = together.or_else(|| alone().next()).map_or(0.0, |row| row.hours_observed);
        let days = hours / 24.0;
        let enough = days + DAYS_MISSING >= limit;
        let longest = alone().map(|row| row.hours_observed / 24.0).fold(0.0, f64::max);
        let why = match () {
            () if enough => String::new(),
            () if together.is_some() && longest + DAYS_MISSING >= limit => {
                format!("{FEW_AT_ONCE}, though one room has {longest:.0} days")
            }
            () => "the record is too short".to_owned(),
        };
        One {
            room: None,
            measured: Some(days),
            range: (None, None),
            answer: if enough { Answer::Pass } else { Answer::NotEnough },
            why,
        }
    }

    fn coverage(&self, limit: f64) -> Vec<One<'a>> {
        let of = |room: &Room| self.row(Some(room.name.as_str()), &metrics::COVERAGE);
        // A logger that stood in its room for a third of the time tells nothing of the rest, however well it recorded.
        let placed_h = |row: &MetricRow| row.hours_observed / (row.value / 100.0);
        let seen = self.rooms().filter_map(of).filter(|row| row.value > 0.0);
        let longest_h = seen.map(placed_h).fold(0.0, f64::max);
        let of_room = |room: &'a Room| {
            let name = Some(room.name.as_str());
            let share = of(room).map_or(0.0, |row| row.value.min(100.0 * row.hours_observed / longest_h));
            let suspect = self.row(name, &metrics::SHARE_SUSPECT).map_or(0.0, |row| row.value);
            let why = match () {
                () if share < limit => "too few usable readings",
                () if suspect > MOST_SUSPECT => "too much of it rests on suspect readings",
                () => "",
            };
            let answer = if why.is_empty() { Answer::Pass } else { Answer::NotEnough };
            (
                share,
                One { room: name, measured: Some(share), range: (None, None), answer, why: why.to_owned() },
            )
        };
        // The smallest first: of equal answers the first counts, whatever is far from nothing.
        let mut all: Vec<(f64, One<'a>)> = self.rooms().map(of_room).collect();
        all.sort_by(|a, b| a.1.answer.cmp(&b.1.answer).then(a.0.total_cmp(&b.0)));
        all.truncate(1);
        all.into_iter().map(|(_, one)| one).collect()
    }

    fn hours(&self, metric: &Metric, limit: f64) -> Vec<One<'a>> {
        let of_room = |room: &'a Room| {
            let name = room.name.as_str();
            let Some(row) = self.row(Some(name), metric).filter(|row| row.hours_observed > 0.0) else {
                return One::nothing(Some(name), "no usable value");
            };
            let share = |hours: f64| 100.0 * hours / row.hours_observed;
            let (low, high) = row.interval.map_or((row.value, row.value), |i| (i.low, i.high));
            One::at_most(name, [row.value, low, high].map(share), limit)
        };
        // What cooking, steam and doors do to a room without heating of its own is held against the heated ones.
        let unheated = |r: &&Room| r.heated == Heated::No && self.rooms().any(|r| r.heated == Heated::Yes);
        self.rooms().filter(|r| !unheated(r)).map(of_room).collect()
    }

    fn evenness(&self) -> Vec<One<'a>> {
        if self.rooms().all(|r| r.heated != Heated::Yes) {
            let any = self.rooms().any(|r| r.heated == Heated::No);
            return any.then(|| One::nothing(None, "no room is heated")).into_iter().collect();
        }
        let margin = self.evidence.site.spread.margin.k();
        let check = Check::of(self.evidence);
        let of_room = |room: &'a Room| {
            let name = room.name.as_str();
            let row = |metric| self.row(Some(name), metric);
            let (Some(verdict), Some(offset)) =
                (row(&metrics::EVENNESS_VERDICT), row(&metrics::OFFSET_FROM_REFERENCE))
            else {
                let why = match row(&metrics::REFERENCE_ROOMS).map(|rooms| rooms.value > 0.0) {
                    _ if row(&metrics::REFERENCE_APART).is_some() => {
                        "no reference: heated rooms too far apart"
                    }
                    Some(false) => "no reference: no heated room's record stands",
                    _ => "no day with values of it and of heated rooms",
                };
                return One::nothing(Some(name), why);
            };
            let range = offset.interval.map_or((None, None), |i| (Some(i.low), Some(i.high)));
            let (answer, why) = match Evenness::of(verdict.value) {
                Evenness::Even => (Answer::Pass, String::new()),
                Evenness::Uneven => (Answer::Fail, String::new()),
                Evenness::Undecided => {
                    (Answer::NotEnough, undecided(offset, row(&metrics::DAYS_TO_DECIDE), margin, &check))
                }
            };
            One { room: Some(name), measured: Some(offset.value), range, answer, why }
        };
        let recorded = || self.rooms().filter(|r| !r.placements.is_empty());
        let of_heated = recorded().filter(|r| r.heated == Heated::Yes).count();
        let held = |r: &&Room| match r.heated {
            Heated::No => true,
            Heated::Yes => of_heated > 1,
            Heated::Unknown => false,
        };
        recorded().filter(held).map(of_room).collect()
    }

    fn late(&self, limit: f64) -> Vec<One<'a>> {
        if self.evidence.site.setbacks.is_empty() {
            return Vec::new();
        }
        let of_room = |room: &'a Room| {
            let name = room.name.as_str();
            let row = |metric| self.row(Some(name), metric);
            let count = |metric| row(metric).map_or(0.0, |r| r.value);
            let mornings = count(&metrics::RECOVERY_EVENTS) + count(&metrics::NO_SETBACK);
            if mornings + count(&metrics::RECOVERIES_UNKNOWN) == 0.0 && row(&metrics::MEAN).is_some() {
                // No setback ended in this time: there is nothing to be late for.
                return None;
            }
            let Some(late) = row(&metrics::LATE_RECOVERIES) else {
                return Some(One::nothing(Some(name), "no morning tells"));
            };
            let (low, high) = late.interval.map_or((late.value, late.value), |i| (i.low, i.high));
            let one = One::at_most(name, [late.value, low, high], limit);
            // Of so few a share says nothing, unless all of them were surely in time.
            let few = mornings < LEAST_MORNINGS && one.answer != Answer::Pass;
            Some(if few { One::nothing(Some(name), "fewer than 5 mornings after a setback") } else { one })
        };
        self.rooms().filter(|r| r.heated.surely()).filter_map(of_room).collect()
    }

    fn heat_rule(&self, limit: f64) -> Vec<One<'a>> {
        let Some(rule) = &self.evidence.site.heat_rule else { return Vec::new() };
        let names = self.rooms().filter(|r| rule.judges(r.purpose)).map(|r| Some(r.name.as_str()));
        let mean = rule.judges_mean().then_some(None);
        let least = self.evidence.site.acceptance.coverage.unwrap_or(0.0);
        let of_room = |name: Option<&'a str>| {
            let value = |metric| self.row(name, metric).map_or(0.0, |r| r.value);
            let (below, close, met) = (
                value(&metrics::HEAT_RULE_HOURS_BELOW),
                value(&metrics::HEAT_RULE_HOURS_TOO_CLOSE),
                value(&metrics::HEAT_RULE_HOURS_MET),
            );
            let judged = below + close + met;
            let open =
                value(&metrics::HEAT_RULE_HOURS_NO_DATA) + value(&metrics::HEAT_RULE_HOURS_NOT_EVALUATED);
            if judged <= 0.0 {
                return One::nothing(name, "the rule held at no hour that was judged");
            }
            let share = |hours: f64| 100.0 * hours / judged;
            let as_read = value(&metrics::HEAT_RULE_HOURS_AS_READ);
            let one =
                One::at_most(name.unwrap_or_default(), [as_read, below, below + close].map(share), limit);
            let one = One { room: name, ..one };
            match one.answer == Answer::Pass && 100.0 * judged / (judged + open) < least {
                true => One {
                    answer: Answer::NotEnough,
                    why: "too few of the rule's hours were judged".to_owned(),
                    ..one
                },
                false => one,
            }
        };
        mean.into_iter().chain(names).map(of_room).collect()
    }
}
