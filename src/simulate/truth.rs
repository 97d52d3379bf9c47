//! What is true of a simulated site, for those who measure the audit.

use serde::Serialize;
use serde_json::json;

use super::building::Trouble;
use super::downloads::{Downloads, stray_file};
use super::faults::FaultKind;
use super::loggers::{Logger, Reading};
use super::mixed::HomeKind;
use super::plan::{HomePlan, NamedRoom};
use super::{SimulatedHome, Simulation};
use crate::clock::{HOUR_MS, UtcTime};

/// The truth about a home.
#[derive(Clone, Debug, Serialize)]
pub struct TrueHome {
    /// Its name.
    pub home: String,
    /// Something that an audit should see.
    pub event: Option<TrueEvent>,
    /// Its loggers.
    pub loggers: Vec<TrueLogger>,
    /// What kind of home it is.
    #[serde(skip_serializing_if = "HomeKind::is_usual")]
    pub kind: HomeKind,
    /// From when to when all its loggers lay in one place, which nobody said.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub together_utc: Option<[String; 2]>,
    /// A copy that no row of the roster names.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stray: Option<TrueStray>,
}

/// A file that no row of the roster names, with readings of a logger.
#[derive(Clone, Debug, Serialize)]
pub struct TrueStray {
    /// Its name, from the exports folder.
    pub file: String,
    /// Whose readings it has.
    pub logger: String,
    /// The share of them.
    pub share: f64,
}

/// Something true that an audit should see.
#[derive(Clone, Debug, Serialize)]
pub struct TrueEvent {
    /// What.
    pub kind: Trouble,
    /// The room, if it is about one.
    pub room: Option<&'static str>,
    /// From when.
    pub from_utc: String,
    /// To when.
    pub to_utc: String,
    /// How strong, where it was drawn: of a failure the hours without heat, of a cold room or slow recovery the share of the
    /// heat that is missing, of a closed door how many times as much the room loses as usual, else K.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub size: Option<f64>,
}

/// Something wrong with a home as it was laid down; hours from the start.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Laid {
    pub(super) kind: Trouble,
    pub(super) room: Option<&'static str>,
    pub(super) from_h: f64,
    pub(super) to_h: f64,
    pub(super) size: Option<f64>,
}

/// The truth about a logger.
#[derive(Clone, Debug, Serialize)]
pub struct TrueLogger {
    /// Its name.
    pub logger: String,
    /// The room that the roster says.
    pub room: &'static str,
    /// The room where it truly stands.
    pub stands_in: &'static str,
    /// The room where it stands from the date of its fault on, where that is another.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub later_in: Option<&'static str>,
    /// Its true error, K.
    pub offset_k: f64,
    /// Its stated accuracy (95 % half-width), K.
    pub accuracy_k: f64,
    /// The steps of its readings, K.
    pub resolution_k: f64,
    /// True time constant of its case where it stands, minutes; the roster has that of its data sheet.
    pub lag_min: f64,
    /// How its clock was set: civil, utc or an offset.
    pub clock: String,
    /// Seconds its clock was ahead at the end; it was right at the start.
    pub clock_fast_s: i64,
    /// From when to when two downloads overlap.
    pub overlap_utc: Option<[String; 2]>,
    /// Rows of the second download that say something else than the first.
    pub conflicting_rows: u32,
    /// Rows that were never written.
    pub rows_dropped: usize,
    /// Its fault.
    pub fault: Option<TrueFault>,
    /// When somebody held it.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub hands_utc: Vec<[String; 2]>,
    /// When it recorded nothing: between downloads, before a late begin, after an early end.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub off_utc: Vec<[String; 2]>,
    /// Whose readings its file truly has, where they are another's.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub copy_of: Option<String>,
    /// Seconds between its readings.
    #[serde(skip)]
    pub interval_s: i64,
}

/// A fault of a logger.
#[derive(Clone, Debug, Serialize)]
pub struct TrueFault {
    /// What.
    pub kind: FaultKind,
    /// From when.
    pub from_utc: String,
    /// To when.
    pub to_utc: String,
    /// How strong: K, or hours for clocks. Of loggers in another room: how far the two rooms are apart (root mean square).
    pub size: f64,
}

impl TrueHome {
    pub(super) fn new(
        plan: &HomePlan,
        laid: Option<&Laid>,
        readings: &[Vec<Reading>],
        start: UtcTime,
        days: usize,
    ) -> Self {
        let at = |hours: f64| start.plus_ms((hours * HOUR_MS as f64) as i64).iso();
        let event = laid.map(|laid| TrueEvent {
            kind: laid.kind,
            room: laid.room,
            from_utc: at(laid.from_h),
            to_utc: at(laid.to_h),
            size: laid.size,
        });
        let beside = &plan.beside;
        let mut loggers: Vec<TrueLogger> =
            plan.loggers.iter().zip(readings).map(|(l, r)| logger((l, &plan.rooms), r, days, &at)).collect();
        if let Some(copied) = &beside.copied {
            loggers[copied.to].copy_of = Some(loggers[copied.of].logger.clone());
        }
        Self {
            home: plan.name.clone(),
            event,
            together_utc: beside.together.map(|t| [at(t.from_h), at(t.to_h)]),
            stray: beside.stray.map(|s| TrueStray {
                file: stray_file(plan),
                logger: plan.loggers[s.of].name.clone(),
                share: s.share,
            }),
            loggers,
            kind: beside.kind,
        }
    }
}

fn logger(
    (l, rooms): (&Logger, &[NamedRoom]),
    readings: &[Reading],
    days: usize,
    at: &impl Fn(f64) -> String,
) -> TrueLogger {
    let length = days as f64 * 24.0;
    let spans = |of: &[(f64, f64)]| of.iter().map(|(a, b)| [at(*a), at(*b)]).collect();
    let planned = (days as i64 * 86_400 - 1 - l.phase_s) / l.interval_s + 1;
    let (overlap, conflict) = match l.downloads {
        Downloads::Once => (None, false),
        Downloads::Overlapping { until_h, from_h, conflict } => (Some([at(from_h), at(until_h)]), conflict),
    };
    TrueLogger {
        logger: l.name.clone(),
        room: rooms[l.room].0,
        stands_in: rooms[l.stands_in].0,
        later_in: l.later_in.map(|r| rooms[r].0),
        offset_k: l.offset_k,
        accuracy_k: l.accuracy_k,
        resolution_k: l.resolution_k,
        lag_min: l.lag_min,
        clock: l.clock.roster_word(),
        clock_fast_s: l.clock_fast_s,
        overlap_utc: overlap,
        conflicting_rows: u32::from(conflict),
        rows_dropped: (planned.max(0) as usize).saturating_sub(readings.len()),
        fault: l.fault.map(|f| TrueFault {
            kind: f.kind,
            from_utc: at(f.from_h),
            to_utc: at(f.to_h.min(length)),
            size: f.size,
        }),
        hands_utc: spans(&l.hands),
        off_utc: spans(&l.off),
        copy_of: None,
        interval_s: l.interval_s,
    }
}

/// The bytes of `truth.json`. True temperatures follow from the seed: `Simulation::home` makes them again.
pub fn truth_json(simulation: &Simulation, homes: &[TrueHome]) -> Vec<u8> {
    let plan = simulation.plan();
    let value = json!({
        "seed": plan.seed,
        "homes": plan.homes,
        "days": plan.days,
        "interval_s": plan.interval_s,
        "start_utc": simulation.start().iso(),
        "time_zone": plan.zone.name(),
        "truth": homes,
    });
    let mut bytes = serde_json::to_vec_pretty(&value).expect("a JSON value can always be written");
    bytes.push(b'\n');
    bytes
}

impl SimulatedHome {
    /// The true temperature of a room at an instant, by its place in the roster; `None` outside the record.
    pub fn true_degc(&self, simulation: &Simulation, room: usize, t: UtcTime) -> Option<f64> {
        let minutes = (t.ms() - simulation.start().ms()) as f64 / 60_000.0;
        let series = self.temperatures.rooms.get(room)?;
        let at = usize::try_from(minutes.floor() as i64).ok()?;
        let (a, b) = (f64::from(*series.get(at)?), f64::from(*series.get(at + 1)?));
        Some(a + (b - a) * minutes.fract())
    }
}
