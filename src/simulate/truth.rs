//! What is true of a simulated site, for those who measure the audit.

use serde::Serialize;
use serde_json::json;

use super::building::{Design, ROOMS, Trouble};
use super::faults::FaultKind;
use super::loggers::Logger;
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
    /// Its true error, K.
    pub offset_k: f64,
    /// Its stated accuracy (95 % half-width), K.
    pub accuracy_k: f64,
    /// Its fault.
    pub fault: Option<TrueFault>,
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
    /// How strong: K, or hours for clocks.
    pub size: f64,
}

impl TrueHome {
    pub(super) fn new(home: &str, design: &Design, loggers: &[Logger], start: UtcTime, days: usize) -> Self {
        let at = |hours: f64| start.plus_ms((hours * HOUR_MS as f64) as i64).iso();
        let room = match design.trouble {
            Trouble::ColdRoom | Trouble::Overheating => Some(ROOMS[2].0),
            Trouble::ClosedDoor => Some(ROOMS[4].0),
            _ => None,
        };
        let (from, to) = design.no_heat_h.unwrap_or((0.0, days as f64 * 24.0));
        let event = TrueEvent { kind: design.trouble, room, from_utc: at(from), to_utc: at(to) };
        let logger = |l: &Logger| TrueLogger {
            logger: l.name.clone(),
            room: ROOMS[l.room].0,
            stands_in: ROOMS[l.stands_in].0,
            offset_k: l.offset_k,
            accuracy_k: l.accuracy_k,
            fault: l.fault.map(|f| TrueFault {
                kind: f.kind,
                from_utc: at(f.from_h),
                to_utc: at(f.to_h),
                size: f.size,
            }),
        };
        Self {
            home: home.to_owned(),
            event: (design.trouble != Trouble::None).then_some(event),
            loggers: loggers.iter().map(logger).collect(),
        }
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
