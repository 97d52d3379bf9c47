//! Metric rows, events and logger rows → findings.
//!
//! A rule is a static value in a list. Its name is what is seen, never the cure. A rule whose needs are missing
//! says *not judged*, never a pass. Rules see rows, never a series.
//!
//! Settled here, and why:
//! - **Not asked** is no pass and leaves nothing open: a rule answers so where the site names no heat rule or band, or
//!   the rule does not mean the room. A room of which nobody knows whether it is heated is taken for neither: it is in no
//!   mean of the heated rooms, and is held against none.

mod boxes;
mod case;
mod coarse;
mod cold_weather;
mod copies;
mod enough;
mod extremes;
mod heat_rule;
mod homes;
mod hours;
mod loggers;
mod no_heat;
mod of_records;
mod open;
mod placed;
mod proposals;
mod readings;
mod records;
mod recovery;
mod rooms;
mod severity;
mod shorter;
mod side_by_side;
mod sixteen;
mod uneven;
mod unit;
mod words;

pub use boxes::elsewhere_then;
pub use case::{HomeCase, RoomCase};
pub use coarse::coarse_loggers;
pub use hours::HoursBelow;
pub use of_records::judge_records;
pub use open::{NotJudged, open_lines};
pub use proposals::{Correction, Proposal, proposals};
pub use severity::Severity;
pub use sixteen::below_sixteen;

pub use shorter::{half_record, shorter_records};

pub use copies::{SeriesPlace, copies, older_copies, without_evenness};

use crate::clock::{Span, Zone};
use crate::metrics::{Event, EventKind, MOST_SUSPECT, Metric, MetricIndex};
use crate::quality::LoggerRow;
use crate::site::{Heated, Home, Room, Site};
use crate::units::{Celsius, TemperatureUnit};

/// What a finding is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum About {
    /// The home and its rooms.
    Building,
    /// The record: it cannot carry a verdict, or not a sure one.
    Record,
}

/// A rule: what is looked for, what it means, what to do.
#[derive(Debug)]
pub struct Rule {
    /// The name: what is seen.
    pub name: &'static str,
    /// What it says, in one sentence.
    pub shows: &'static str,
    /// What else could look like this.
    pub could_also_be: &'static str,
    /// What a person can do next.
    pub next_step: &'static str,
    /// Where limits come from.
    pub source: &'static str,
    /// Metrics it cannot do without: where one is missing, nothing is judged.
    pub needs: &'static [&'static Metric],
    /// Metrics that it looks at beside those, where they are there.
    pub looks_at: &'static [&'static Metric],
    /// Whether it is about the building or about the record.
    pub about: About,
    /// How it judges.
    pub judge: Judge,
}

/// What a rule looks at.
#[derive(Debug)]
pub enum Judge {
    /// Each room in each period.
    Room(fn(&RoomCase<'_>) -> Verdict),
    /// Each home in each period.
    Home(fn(&HomeCase<'_>) -> Verdict),
    /// Each logger.
    Logger(fn(&LoggerRow, &Evidence<'_>) -> Verdict),
    /// All records of a home, once.
    Records(fn(&Evidence<'_>) -> Verdict),
    /// All of the site, once all homes are read: see [`copies`] and [`shorter_records`].
    Site,
}

/// Every rule.
pub const RULES: [&Rule; 41] = [
    &rooms::ROOM_COLD,
    &rooms::ROOM_OVERHEATED,
    &extremes::NEAR_FREEZING,
    &extremes::VERY_HOT,
    &heat_rule::HEAT_RULE_SHORTFALL,
    &heat_rule::HEAT_RULE_SHORTFALL_HOME,
    &homes::HOME_UNEVEN,
    &uneven::ROOM_UNEVEN,
    &recovery::SLOW_RECOVERY,
    &cold_weather::FALLS_BEHIND,
    &no_heat::NO_HEAT,
    &no_heat::NO_HEAT_IN_ROOM,
    &records::THIN_COVERAGE,
    &records::PARTIAL_RECORD,
    &shorter::SHORTER_RECORD,
    &records::HOLE,
    &records::OUT_OF_PERIOD,
    &readings::STUCK,
    &readings::MAY_BE_STUCK,
    &readings::SPIKES_SEEN,
    &readings::OUT_OF_RANGE,
    &readings::FAILURE_VALUE,
    &words::NOT_A_NUMBER,
    &words::NO_VALUE,
    &readings::WRONG_UNIT,
    &readings::LOGGER_HANDLED,
    &readings::LOGGER_ELSEWHERE,
    &readings::LOGGERS_TOGETHER,
    &copies::SAME_READINGS,
    &copies::LOGGER_TWICE,
    &placed::LOGGERS_EXCHANGED,
    &placed::LOGGER_MOVED,
    &side_by_side::FAR_OFFSET,
    &side_by_side::NOT_BESIDE,
    &side_by_side::ON_ITS_WORD,
    &loggers::HEAT_ON_LOGGER,
    &loggers::SENSOR_SHIFTED,
    &loggers::SENSOR_DRIFTS,
    &loggers::SUN_ON_LOGGER,
    &loggers::CLOCK_SUSPECT,
    &loggers::RECORD_FADES,
];

/// What a rule found.
#[derive(Debug)]
pub enum Verdict {
    /// Nothing.
    Clear,
    /// Nobody asks this of it: no rule of heat, no band, a room that it does not mean.
    NotAsked,
    /// This.
    Found(Found),
    /// The data cannot carry a verdict; why.
    NotJudged(String),
}

/// The figures of a finding.
#[derive(Debug)]
pub struct Found {
    severity: Severity,
    span: Option<Span>,
    observed: f64,
    unit: &'static str,
    limit: f64,
    range: Option<(f64, f64)>,
    shows: String,
    /// The rule that doubts what this rests on, to be settled first.
    doubt: Option<&'static str>,
}

impl Found {
    /// A finding without span, unit, limit and interval.
    fn new(severity: Severity, observed: f64, shows: String) -> Self {
        Self { severity, span: None, observed, unit: "1", limit: 0.0, range: None, shows, doubt: None }
    }
}

/// A finding: a row of the findings table.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// Rule, home, room and period in one.
    pub id: String,
    /// How pressing.
    pub severity: Severity,
    /// The rule's name.
    pub rule: &'static str,
    /// About the building or the record.
    pub about: About,
    /// The home.
    pub home: String,
    /// The room; `None` for the home as a whole.
    pub room: Option<String>,
    /// The period that was judged, or the logger.
    pub of: String,
    /// First to last hour concerned.
    pub span: Option<Span>,
    /// The number that was judged.
    pub observed: f64,
    /// Its unit.
    pub unit: &'static str,
    /// The limit it was held against.
    pub limit: f64,
    /// The interval of the number, where there is one.
    pub range: Option<(f64, f64)>,
    /// The evidence in one sentence.
    pub shows: String,
    /// The rule that doubts what it rests on, to be settled first.
    pub doubt: Option<&'static str>,
    /// What else could look like this.
    pub could_also_be: &'static str,
    /// What a person can do next.
    pub next_step: &'static str,
    /// When it was so, where the finding is about cold, warmth or rooms apart.
    pub times: Vec<Span>,
}

impl Finding {
    /// Whether this is one of the times that the finding is about.
    fn rests_on(&self, event: &Event, with_band: bool) -> bool {
        let kind = match self.rule {
            "room-cold" if !with_band => EventKind::SeriousCold,
            "room-cold" => EventKind::BelowBand,
            "near-freezing" => EventKind::NearFreezing,
            "heat-rule-shortfall" | "heat-rule-shortfall-of-home" => EventKind::HeatRuleShortfall,
            "room-overheated" => EventKind::AboveBand,
            "very-hot" => EventKind::VeryHot,
            "home-uneven" => EventKind::SpreadOverLimit,
            "no-heat" if event.kind == EventKind::NoHeatNobody => EventKind::NoHeatNobody,
            "no-heat" => EventKind::NoHeat,
            "no-heat-in-room" => EventKind::NoHeatInRoom,
            _ => return false,
        };
        event.kind == kind && event.room == self.room && event.period == self.of
    }

    /// Whether it says that a room, or the home, is too cold.
    pub fn is_about_cold(&self) -> bool {
        let rules = [
            rooms::ROOM_COLD.name,
            cold_weather::FALLS_BEHIND.name,
            extremes::NEAR_FREEZING.name,
            no_heat::NO_HEAT.name,
            no_heat::NO_HEAT_IN_ROOM.name,
            heat_rule::HEAT_RULE_SHORTFALL.name,
            heat_rule::HEAT_RULE_SHORTFALL_HOME.name,
        ];
        rules.contains(&self.rule)
    }

    /// Adds how warm the median home of the building was during those times.
    pub fn tell_building(&mut self, units: TemperatureUnit, median: Celsius, home: Celsius) {
        let (median, home) = (units.show(median), units.show(home));
        self.shows.push_str(&format!(
            " Meanwhile the median home of the building was at {median} on the mean, this home at {home}."
        ));
    }
}

/// What the rules said about a home.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Judged {
    /// Findings, the most pressing first.
    pub findings: Vec<Finding>,
    /// What could not be judged.
    pub not_judged: Vec<NotJudged>,
}

/// The rows a home is judged by.
#[derive(Clone, Copy, Debug)]
pub struct Evidence<'a> {
    /// Settings.
    pub site: &'a Site,
    /// The home.
    pub home: &'a Home,
    /// Its metric rows.
    pub rows: &'a MetricIndex<'a>,
    /// Its events.
    pub events: &'a [Event],
    /// Its loggers.
    pub loggers: &'a [LoggerRow],
    /// The periods that were judged.
    pub periods: &'a [(String, Span)],
}

impl Evidence<'_> {
    /// The span of a period, named by the site or not.
    fn span_of(&self, period: &str) -> Option<Span> {
        self.periods.iter().find(|(name, _)| name == period).map(|(_, span)| *span)
    }

    /// Whether people shower or cook in a room: quick changes are its air.
    fn has_steam(&self, room: &str) -> bool {
        self.home.rooms.iter().any(|r| r.name == room && r.has_steam())
    }
}

/// Judges a home by every rule.
pub fn judge(evidence: Evidence<'_>) -> Judged {
    let mut judged = Judged::default();
    let names = evidence.site.period_names();
    let named = !evidence.site.periods.is_empty();
    for rule in RULES {
        match rule.judge {
            Judge::Logger(_) | Judge::Records(_) => judged.add_of_records(rule, &evidence),
            Judge::Site => {}
            Judge::Room(judge) => {
                for (period, room) in
                    names.iter().flat_map(|p| evidence.home.rooms.iter().map(move |r| (p, r)))
                {
                    let case = RoomCase { case: HomeCase { evidence, period, rule: Some(rule) }, room };
                    let verdict = missing(rule, |m| case.row(m).is_none()).unwrap_or_else(|| judge(&case));
                    let case = RoomCase { case: case.case.of_all_rules(), room };
                    let verdict = without_doubtful_pass(rule, verdict, &[case]);
                    let verdict = unit::told_first(verdict, &case);
                    let home = &evidence.home.name;
                    let of_period = named.then_some(*period);
                    let place = Place { rule, home, room: Some(&room.name), of: period, period: of_period };
                    judged.add(&place, verdict);
                }
            }
            Judge::Home(judge) => {
                for period in &names {
                    let case = HomeCase { evidence, period, rule: Some(rule) };
                    let verdict =
                        missing(rule, |m| case.row(None, m).is_none()).unwrap_or_else(|| judge(&case));
                    let case = case.of_all_rules();
                    let rooms = evidence.home.rooms.iter();
                    let rooms: Vec<_> = rooms.map(|room| RoomCase { case, room }).collect();
                    let verdict = without_doubtful_pass(rule, verdict, &rooms);
                    let home = &evidence.home.name;
                    let place =
                        Place { rule, home, room: None, of: period, period: named.then_some(*period) };
                    judged.add(&place, verdict);
                }
            }
        }
    }
    judged.not_judged.extend(heat_rule::nothing_held(&evidence));
    let decided = uneven::decided(&evidence, &judged.not_judged);
    let stays =
        |open: &NotJudged| open.rule != uneven::ROOM_UNEVEN.name || !uneven::shown(&evidence, &decided, open);
    judged.not_judged.retain(stays);
    judged.findings.sort_by_key(|f| f.severity);
    judged.findings.iter_mut().for_each(|finding| complete(finding, &evidence));
    records::explained(&mut judged.findings);
    judged
}

/// Gives a finding the times that it rests on, and the next step of its room.
fn complete(finding: &mut Finding, evidence: &Evidence<'_>) {
    let with_band = evidence.site.bands.any();
    let times = evidence.events.iter().filter(|e| finding.rests_on(e, with_band)).map(|e| e.span);
    finding.times = times.collect();
    if let Some(room) = finding.room.as_deref().filter(|_| finding.rule == recovery::SLOW_RECOVERY.name) {
        finding.times = recovery::late_mornings(evidence, room, &finding.of);
    }
    let of_room = |r: &&Room| Some(&r.name) == finding.room.as_ref();
    let unheated = evidence.home.rooms.iter().find(of_room).is_some_and(|room| room.heated == Heated::No);
    if unheated && finding.next_step != unit::NEXT_STEP {
        finding.next_step = rooms::next_step_unheated(finding.rule).unwrap_or(finding.next_step);
    }
    let heated = evidence.home.rooms.iter().find(of_room).is_some_and(|room| room.heated == Heated::Yes);
    if finding.rule == uneven::ROOM_UNEVEN.name && heated && finding.next_step != unit::NEXT_STEP {
        finding.next_step = uneven::NEXT_STEP_HEATED;
    }
    if finding.rule == recovery::SLOW_RECOVERY.name && evidence.site.setbacks.is_empty() {
        finding.next_step = recovery::NEXT_STEP_FOUND;
    }
}

/// A pass about the building, unless it rests on a room that is suspect for more than a tenth of its time, or of which a logger
/// samples so seldom that a cold night lies between two readings.
fn without_doubtful_pass(rule: &Rule, verdict: Verdict, rooms: &[RoomCase<'_>]) -> Verdict {
    if !matches!(verdict, Verdict::Clear) || rule.about != About::Building {
        return verdict;
    }
    let suspect = rooms.iter().filter_map(RoomCase::doubtful_share).find(|(_, share)| *share > MOST_SUSPECT);
    if let Some((room, share)) = suspect {
        return Verdict::NotJudged(format!(
            "{share:.0} % of the hours of {room} rest on suspect readings: nothing is called good on them"
        ));
    }
    match rooms.iter().find_map(RoomCase::seldom_h) {
        Some((room, hours)) => Verdict::NotJudged(format!(
            "{room} has a reading every {hours:.0} h only: what lies between them may have been the worst"
        )),
        None => verdict,
    }
}

fn missing(rule: &Rule, is_missing: impl Fn(&Metric) -> bool) -> Option<Verdict> {
    let needs: Vec<&str> = rule.needs.iter().filter(|m| is_missing(m)).map(|m| m.id).collect();
    (!needs.is_empty()).then(|| Verdict::NotJudged(format!("the record gives no {}", needs.join(", "))))
}

/// What a verdict is about.
struct Place<'a> {
    rule: &'static Rule,
    home: &'a str,
    room: Option<&'a str>,
    /// The period, or the logger.
    of: &'a str,
    /// The period, where the site names any.
    period: Option<&'a str>,
}

impl Judged {
    fn add(&mut self, place: &Place<'_>, verdict: Verdict) {
        let Place { rule, home, room, of, period } = *place;
        let room_name = room.map(str::to_owned);
        match verdict {
            Verdict::Clear | Verdict::NotAsked => {}
            Verdict::NotJudged(why) => self.not_judged.push(NotJudged {
                rule: rule.name,
                home: home.to_owned(),
                room: room_name,
                period: period.map(str::to_owned),
                why,
            }),
            Verdict::Found(found) => self.findings.push(Finding {
                id: [rule.name, home, room.unwrap_or("home"), of].join("/"),
                severity: found.severity,
                rule: rule.name,
                about: rule.about,
                home: home.to_owned(),
                room: room_name,
                of: of.to_owned(),
                span: found.span,
                observed: found.observed,
                unit: found.unit,
                limit: found.limit,
                range: found.range,
                shows: found.shows,
                doubt: found.doubt,
                could_also_be: rule.could_also_be,
                next_step: if found.doubt == Some(unit::RULE) { unit::NEXT_STEP } else { rule.next_step },
                times: Vec::new(),
            }),
        }
    }
}

/// When something happened, for a sentence: `2026-01-05 06:10 to 2026-01-07 08:00`.
pub fn show_span(span: Span, zone: Zone) -> String {
    format!("{} to {}", zone.show(span.from), zone.show(span.to))
}
