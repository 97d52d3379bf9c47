//! The building as a person described it (settings, and a roster of placements): checked, complete and immutable.
//! All mistakes are reported at once.

mod acceptance;
mod alike;
mod bands;
mod cautions;
mod cells;
mod colocation;
mod columns;
mod common;
mod dates;
mod file;
mod heat_rule;
mod heat_rule_file;
mod heated;
mod limits;
mod name;
mod presets;
mod pseudonyms;
mod quality;
mod recovery;
mod roster;
mod roster_dates;
mod sharing;
mod sink;
mod stated;
mod straight;
mod walk;
mod zones;

pub use acceptance::Acceptance;
pub use cautions::loggers_in_two_homes;
pub use colocation::Colocation;
pub use columns::{RosterColumn, roster_columns};
pub use dates::Dates;
pub use file::{DEFAULT_MAX_GAP_S, DEFAULT_STEP_S, SURFACE_FACTOR, SiteFile, read_site_file};
pub use heat_rule::{HEAT_RULE_CAUTION, HeatRule, HeatWindow, Held, MAKESHIFT_CAUTION, NO_HEAT_CAUTION};
pub use heat_rule::{Season, Uses, WhenOutdoor};
pub use heated::Heated;
pub use limits::{FlatLine, Gap, GrossRange, OFTEN_S, QualityLimits, RateOfChange, Spike, SpikeMethod, Test};
pub use name::Name;
pub use presets::{Kind, Measured, NO_RECORD_SHOWS, Preset, RETIRED, Retired, Seen, presets};
pub use pseudonyms::{Clash, LEAST_KEY, Pseudonyms};
pub use recovery::Recovery;
pub use sharing::RowOfFile;
pub use stated::Stated;
pub use walk::SITE_FILE;
pub use zones::zone_hint;

use std::collections::BTreeMap;
use std::ops::Deref;
use std::sync::Arc;

use chrono::Datelike;

use crate::clock::{Clock, DailyWindow, LocalDay, Span, TimeOfDay, UtcTime, Weekdays, Zone, local_days};
use crate::error::Note;
use crate::units::{Accuracy, Celsius, KelvinDiff, TemperatureUnit};

/// The building, as site file and roster describe it: its [`Facts`] can be read, and not changed.
#[derive(Clone, Debug)]
pub struct Site(Arc<Facts>);

impl Site {
    fn new(facts: Facts) -> Self {
        Self(Arc::new(facts))
    }

    /// Another building, which differs from this one in what `change` says.
    #[must_use]
    pub fn with(&self, change: impl FnOnce(&mut Facts)) -> Self {
        let mut facts = Facts::clone(self);
        change(&mut facts);
        Self(Arc::new(facts))
    }
}

impl Deref for Site {
    type Target = Facts;

    fn deref(&self) -> &Facts {
        &self.0
    }
}

/// What a site file and its roster say: settings, and the homes in roster order.
#[derive(Clone, Debug)]
pub struct Facts {
    /// What the site is called.
    pub name: String,
    /// Under what licence its owner gives the results away, where the site file says so.
    pub licence: Option<String>,
    /// Civil time of the site.
    pub zone: Zone,
    /// Folder the roster's file names start from, as written.
    pub exports: String,
    /// Clock of loggers whose row does not say; civil where the site does not say either.
    pub clock: Option<ClockSetting>,
    /// Grid step in milliseconds; divides an hour.
    pub step_ms: i64,
    /// Longest bridge between two readings, in milliseconds.
    pub max_gap_ms: i64,
    /// How readings become grid values.
    pub alignment: Alignment,
    /// Unit for people; tables stay in °C.
    pub units: TemperatureUnit,
    /// Weather series, if there is one.
    pub outdoor: Option<Outdoor>,
    /// The design outdoor temperature.
    pub design_outdoor: Option<Celsius>,
    /// Comfort band, by day and by night.
    pub bands: Bands,
    /// Scheduled setbacks.
    pub setbacks: Vec<Setback>,
    /// What counts as warm again after a setback.
    pub recovery: Recovery,
    /// Legal minimum heat.
    pub heat_rule: Option<HeatRule>,
    /// Surface factor fRsi for which condensation and mould are reckoned.
    pub surface_factor: f64,
    /// Room-to-room limits.
    pub spread: SpreadLimits,
    /// Quality tests.
    pub quality: QualityLimits,
    /// When loggers lay side by side, and which.
    pub colocation: Option<Colocation>,
    /// Named periods; empty: the whole record.
    pub periods: Vec<Period>,
    /// What a home must show to be accepted.
    pub acceptance: Acceptance,
    /// The homes.
    pub homes: Vec<Home>,
    /// What is told of settings that are taken all the same.
    pub cautions: Vec<Note>,
    /// What the site file states; what it does not goes by defaults.
    pub stated: Vec<Stated>,
    /// Whether [`Pseudonyms`] stand for what it names.
    pub pseudonymised: bool,
    /// The roster rows of files that several rooms share.
    shared_files: BTreeMap<String, Vec<RowOfFile>>,
}

impl Facts {
    /// The roster rows of a file that several rooms share; none for a file of one room.
    pub fn rows_of_shared(&self, file: &str) -> &[RowOfFile] {
        self.shared_files.get(&sharing::plain_path(file)).map(Vec::as_slice).unwrap_or_default()
    }

    /// The clock of a source: its own setting, else the site's.
    pub fn clock_of(&self, setting: Option<ClockSetting>) -> Clock {
        match setting.or(self.clock).unwrap_or(ClockSetting::Civil) {
            ClockSetting::Fixed(offset_s) => Clock::Fixed(offset_s),
            ClockSetting::Civil => Clock::Civil(self.zone),
        }
    }

    /// A period as a person writes it: the name of one of the site's, or two local dates `2026-01-05/2026-01-31`, both included.
    pub fn period(&self, text: &str) -> Option<Span> {
        if let Some(span) = self.named_period(text) {
            return Some(span);
        }
        let (from, to) = text.split_once('/')?;
        let from = parse_instant(from, self.zone, false)?;
        let to = parse_instant(to, self.zone, true)?;
        (from < to).then_some(Span { from, to })
    }

    /// The span of a period that the site file names.
    pub fn named_period(&self, name: &str) -> Option<Span> {
        self.periods.iter().find(|p| p.name == name).map(|p| p.span)
    }

    /// The periods that numbers are given for: those that the site file names, else the whole record.
    pub fn period_names(&self) -> Vec<&str> {
        match self.periods.as_slice() {
            [] => vec![WHOLE_RECORD],
            periods => periods.iter().map(|p| p.name.as_str()).collect(),
        }
    }

    /// When a logger lay side by side with others.
    pub fn side_by_side(&self, placement: &Placement) -> Option<Span> {
        self.colocation.as_ref().filter(|c| c.holds_for(&placement.logger)).map(|c| c.span)
    }

    /// Scheduled setbacks that touch `span`, in order of their start.
    pub fn setbacks_in(&self, span: Span) -> Vec<SetbackNight> {
        let mut nights: Vec<SetbackNight> =
            self.setbacks.iter().flat_map(|s| s.nights(self.zone, span)).collect();
        nights.sort_by_key(|n| n.span.from);
        nights
    }
}

/// Who should see results of a site, and why.
pub fn audience(site: &Site) -> &'static str {
    audience_of(site.pseudonymised)
}

/// The same of results in which homes go by pseudonyms, or are named.
pub const fn audience_of(pseudonymised: bool) -> &'static str {
    match pseudonymised {
        true => {
            "Records of indoor temperature tell when people are at home, asleep and away. Homes, rooms, loggers and files go by pseudonyms here; who knows when a home stood empty, or has its exports, can still tell which it is. Give this to those who work with it, and to nobody else."
        }
        false => {
            "Records of indoor temperature tell when people are at home, asleep and away, and the homes are named here. Give this to those who look after these homes and to the people who live in them, each their own, and to nobody else; for others, results can be made without names (see pseudonyms in the manual)."
        }
    }
}

/// How a clock is set in `site.toml` and the roster.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ClockSetting {
    /// Civil time of the site's zone.
    Civil,
    /// Seconds ahead of UTC, all year.
    Fixed(i32),
}

impl ClockSetting {
    /// How it is written.
    pub fn show(self) -> String {
        match self {
            Self::Civil => "civil".to_owned(),
            Self::Fixed(offset_s) => Clock::Fixed(offset_s).show(),
        }
    }

    /// A clock written `civil`, `utc` or `fixed -05:00`.
    pub fn parse(text: &str) -> Option<Self> {
        match text.trim() {
            "civil" => Some(Self::Civil),
            "utc" | "UTC" => Some(Self::Fixed(0)),
            other => crate::clock::parse_offset_s(other.strip_prefix("fixed")?).map(Self::Fixed),
        }
    }
}

/// How readings become grid values.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Alignment {
    /// The value at the grid instant, linear between readings.
    Instant,
    /// The time-weighted mean over the step that starts at the grid instant.
    IntervalMean,
}

/// Where the outdoor temperature comes from.
#[derive(Clone, Debug, PartialEq)]
pub struct Outdoor {
    /// The series.
    pub source: Source,
}

/// The comfort band by day, and by night where it differs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bands {
    /// The occupied band.
    pub occupied: Option<Band>,
    /// Another band for the night.
    pub night: Option<Band>,
    /// Which hours are night (also for the slices `day` and `night`).
    pub night_hours: DailyWindow,
}

impl Bands {
    /// Whether there is a band at any hour.
    pub const fn any(&self) -> bool {
        self.occupied.is_some() || self.night.is_some()
    }
}

/// Lower and upper limit of comfort; a reading equal to a limit is inside.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Band {
    /// Below is too cold.
    pub lower: Celsius,
    /// Above is too warm.
    pub upper: Celsius,
}

/// A setback schedule.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Setback {
    /// Days on whose evening it starts.
    pub days: Weekdays,
    /// Setback start to recovery start.
    pub window: DailyWindow,
    /// Temperature to be back at.
    pub occupied_target: Celsius,
}

/// One setback as it happened: its hours, and the target of the recovery after it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SetbackNight {
    /// Setback start to recovery start.
    pub span: Span,
    /// Temperature to be back at.
    pub target: Celsius,
}

impl Setback {
    fn nights(&self, zone: Zone, span: Span) -> Vec<SetbackNight> {
        let wider = Span { from: span.from.plus_ms(-24 * crate::clock::HOUR_MS), to: span.to };
        let starts: Vec<LocalDay> =
            local_days(zone, wider).into_iter().filter(|d| self.days.contains(d.date)).collect();
        let night = |day: LocalDay| SetbackNight {
            span: self.window.on(zone, day.date),
            target: self.occupied_target,
        };
        starts.into_iter().map(night).collect()
    }
}

/// Limits for the evenness between rooms.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SpreadLimits {
    /// Largest spread that is still even.
    pub limit: KelvinDiff,
    /// Margin of the evenness verdict per room.
    pub margin: KelvinDiff,
    /// Rooms that must be present; `None`: all but one.
    pub quorum: Option<usize>,
}

impl Default for SpreadLimits {
    fn default() -> Self {
        Self { limit: KelvinDiff::new(2.2), margin: KelvinDiff::new(2.0), quorum: None }
    }
}

/// A named period.
#[derive(Clone, Debug, PartialEq)]
pub struct Period {
    /// Its name.
    pub name: String,
    /// Its span.
    pub span: Span,
}

/// Name of the period when the site names none.
pub const WHOLE_RECORD: &str = "whole record";

/// A home and its rooms, in roster order.
#[derive(Clone, Debug, PartialEq)]
pub struct Home {
    /// Its name.
    pub name: String,
    /// The floor it is on, where the roster says so.
    pub floor: Option<String>,
    /// The line of homes above each other that it belongs to, where the roster says so.
    pub line: Option<String>,
    /// Its rooms.
    pub rooms: Vec<Room>,
}

/// A room and the loggers that stood in it.
#[derive(Clone, Debug, PartialEq)]
pub struct Room {
    /// Its name.
    pub name: String,
    /// What it is used for.
    pub purpose: Purpose,
    /// Whether it has its own heating.
    pub heated: Heated,
    /// Loggers that stood here, in order of time; empty: the room was not measured.
    pub placements: Vec<Placement>,
}

impl Room {
    /// Accuracy of the room's loggers (95 % half-widths): the widest of them, [`DEFAULT_ACCURACY`] where none is known.
    pub fn accuracies(&self) -> Accuracy {
        let known = self.placements.iter().map(Placement::accuracies);
        known.reduce(Accuracy::wider).unwrap_or(Accuracy::stated(DEFAULT_ACCURACY))
    }

    /// Whether people shower or cook here: quick changes are its air.
    pub fn has_steam(&self) -> bool {
        matches!(self.purpose, Purpose::Bathroom | Purpose::Kitchen)
    }

    /// The same against the true temperature of the air.
    pub fn accuracy(&self) -> KelvinDiff {
        self.accuracies().absolute
    }
}

/// Accuracy (95 % half-width) of a logger whose row states none.
///
/// # Source
/// METRICS, symbols; ISO 7726:1998 requires ±0.5 °C of an air temperature sensor for comfort (table 2; from memory).
pub const DEFAULT_ACCURACY: KelvinDiff = KelvinDiff::new(0.5);

/// What a room is used for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Purpose {
    /// Living or common room.
    Living,
    /// Bedroom.
    Bedroom,
    /// Kitchen.
    Kitchen,
    /// Bathroom.
    Bathroom,
    /// Hall or corridor.
    Hall,
    /// Anything else.
    Other,
}

impl Purpose {
    /// The words for the roster's `use` column.
    pub const ALL: [(&'static str, Purpose); 6] = [
        ("living", Purpose::Living),
        ("bedroom", Purpose::Bedroom),
        ("kitchen", Purpose::Kitchen),
        ("bathroom", Purpose::Bathroom),
        ("hall", Purpose::Hall),
        ("other", Purpose::Other),
    ];

    /// The word in the roster.
    pub fn word(self) -> &'static str {
        Self::ALL.iter().find(|(_, p)| *p == self).map_or("other", |(word, _)| word)
    }
}

/// A logger in a room for a while, and the files it left.
#[derive(Clone, Debug, PartialEq)]
pub struct Placement {
    /// The logger.
    pub logger: Name,
    /// Its downloads.
    pub sources: Vec<Source>,
    /// When it stood here.
    pub span: Span,
    /// Accuracy (95 % half-width), where stated.
    pub accuracy: Option<KelvinDiff>,
    /// What a side-by-side check found instead; a stated accuracy never undoes it.
    pub checked: Option<Accuracy>,
    /// Time constant in the air of a room (63.2 % of a step), in minutes, where stated.
    pub time_constant_min: Option<f64>,
    /// Height above the floor, in m.
    pub height_m: Option<f64>,
    /// Line of the roster.
    pub line: u32,
}

impl Placement {
    /// What a side-by-side check found, else what is stated, else [`DEFAULT_ACCURACY`].
    pub fn accuracies(&self) -> Accuracy {
        self.checked.unwrap_or(Accuracy::stated(self.accuracy.unwrap_or(DEFAULT_ACCURACY)))
    }
}

/// One series in one export.
#[derive(Clone, Debug, PartialEq)]
pub struct Source {
    /// File name, from the exports folder.
    pub file: Name,
    /// Column, where the file has several, as the file has it.
    pub column: Option<String>,
    /// Unit, where the roster states it.
    pub unit: Option<TemperatureUnit>,
    /// Clock, where the roster states it.
    pub clock: Option<ClockSetting>,
    /// What its dates mean, where the roster states it.
    pub dates: Option<Dates>,
    /// Seconds the logger's clock was ahead at download.
    pub clock_fast_s: Option<f64>,
    /// Line of the roster, where it stands there.
    pub line: Option<u32>,
}

/// Years in which a record can lie: loggers are not older, and a time beyond is a mistake.
pub const YEARS: std::ops::Range<i32> = 1990..2100;

/// Instants of the grid that a record or a period can have: 20 years of minutes; more would not fit into memory.
pub const MOST_INSTANTS: i64 = 11_000_000;

/// An instant written as a local date, or date and time; `end` says that a bare date means the end of that day.
fn parse_instant(text: &str, zone: Zone, end: bool) -> Option<UtcTime> {
    let text = text.trim();
    let (date, time) = match text.split_once([' ', 'T']) {
        Some((date, time)) => (date, Some(time)),
        None => (text, None),
    };
    let date: chrono::NaiveDate =
        date.parse().ok().filter(|d: &chrono::NaiveDate| YEARS.contains(&d.year()))?;
    match time {
        None if end => Some(zone.on(date.succ_opt()?, TimeOfDay::new(0, 0)?)),
        None => Some(zone.on(date, TimeOfDay::new(0, 0)?)),
        Some(time) => {
            let hm: String = time.split(':').take(2).collect::<Vec<_>>().join(":");
            Some(zone.on(date, TimeOfDay::parse(&hm)?))
        }
    }
}
