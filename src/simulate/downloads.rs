//! Loggers → the files that people have of them, and their rows of the roster.

use super::faults::FaultKind;
use super::loggers::{Logger, Reading};
use super::plan::HomePlan;
use super::writers::{Dialect, Habit, Written, write, write_wide};
use crate::clock::{HOUR_MS, UtcTime, show_offset};
use crate::units::TemperatureUnit;

/// How a logger's memory was read out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Downloads {
    /// Once, at the end.
    Once,
    /// Twice, and rows between `from_h` and `until_h` are in both files.
    Overlapping {
        /// The first file ends here, in hours from the start.
        until_h: f64,
        /// The second file starts here.
        from_h: f64,
        /// One row says something else in the second file.
        conflict: bool,
    },
}

/// How much one row of a second download differs where it does, K.
const CONFLICT_K: f64 = 1.0;

/// Header of the simulated roster.
pub(super) const ROSTER_HEADER: &str = "home,room,use,heated,logger,file,column,unit,clock,dates,from,to,accuracy_k,time_constant_min,clock_fast_s,height_m,floor,line\n";

/// Files by name below the exports folder, and the rows of the roster that name them.
#[derive(Debug, Default)]
pub(super) struct Exported {
    pub(super) files: Vec<(String, Vec<u8>)>,
    pub(super) roster: String,
}

/// Exports one home; `readings` has one series per logger.
pub(super) fn export(plan: &HomePlan, start: UtcTime, readings: &[Vec<Reading>]) -> Exported {
    let mut out = Exported::default();
    if plan.wide {
        let file = format!("{}/all_rooms.csv", plan.name);
        for logger in &plan.loggers {
            let column = plan.rooms[logger.room].0;
            let row = Row { plan, logger, file: &file, column, unit: "°C" };
            out.roster.push_str(&row.text(start));
        }
        let names: Vec<&str> = plan.loggers.iter().map(|l| plan.rooms[l.room].0).collect();
        let clock = plan.loggers.first().map_or(Habit::Fixed(0), |l| l.clock);
        let series: Vec<Vec<Written>> = readings.iter().map(|r| written(r, start)).collect();
        out.files.push((file, write_wide(&names, clock, 2, &series)));
        return out;
    }
    let column = if plan.dialect == Dialect::EpochHumidity { "temp_c" } else { "" };
    for (logger, readings) in plan.loggers.iter().zip(readings) {
        for (suffix, part) in parts(logger, readings) {
            let file = format!("{}/{}{suffix}.{}", plan.name, logger.name, plan.dialect.ending());
            out.roster.push_str(&Row { plan, logger, file: &file, column, unit: "" }.text(start));
            out.files.push((file, one(plan.dialect, logger, &written(&part, start))));
        }
    }
    if let Some(stray) = plan.beside.stray {
        let (logger, readings) = (&plan.loggers[stray.of], &readings[stray.of]);
        let rows = (readings.len() as f64 * stray.share) as usize;
        let bytes = one(plan.dialect, logger, &written(&readings[..rows], start));
        out.files.push((stray_file(plan), bytes));
    }
    out
}

/// The name of the file that no row of the roster names.
pub(super) fn stray_file(plan: &HomePlan) -> String {
    format!("{}/room_{}.{}", plan.name, plan.loggers.len() + 1, plan.dialect.ending())
}

fn one(dialect: Dialect, logger: &Logger, rows: &[Written]) -> Vec<u8> {
    let fahrenheit = logger.fault_of(FaultKind::FahrenheitAsCelsius).is_some();
    let shown_as = if fahrenheit { TemperatureUnit::Fahrenheit } else { dialect.unit() };
    write(dialect, &logger.name, logger.clock, logger.decimals(), shown_as, rows.iter().copied())
}

fn written(readings: &[Reading], start: UtcTime) -> Vec<Written> {
    let row = |r: &Reading| Written { at: start.plus_ms(r.clock_ms), degc: r.degc, humidity: r.humidity };
    readings.iter().map(row).collect()
}

/// The files of a logger: what is added to its name, and its rows.
fn parts(logger: &Logger, readings: &[Reading]) -> Vec<(&'static str, Vec<Reading>)> {
    let hours = |r: &Reading| r.true_ms as f64 / HOUR_MS as f64;
    let Downloads::Overlapping { until_h, from_h, conflict } = logger.downloads else {
        let visit = |r: &Reading| logger.visits_h.iter().filter(|h| **h <= hours(r)).count();
        let of = |n: usize| readings.iter().filter(|r| visit(r) == n).copied().collect::<Vec<_>>();
        let parts =
            (0..=logger.visits_h.len()).zip(["", "-2", "-3", "-4"]).map(|(n, suffix)| (suffix, of(n)));
        return parts.filter(|(_, rows)| !rows.is_empty()).collect();
    };
    let first: Vec<Reading> = readings.iter().filter(|r| hours(r) < until_h).copied().collect();
    let mut second: Vec<Reading> = readings.iter().filter(|r| hours(r) >= from_h).copied().collect();
    let shared = second.iter().take_while(|r| hours(r) < until_h).count();
    if let Some(row) = second.get_mut(shared / 2).filter(|_| conflict && shared > 0) {
        row.degc = row.degc.map(|x| x + CONFLICT_K);
    }
    vec![("", first), ("-2", second)]
}

/// One row of the roster.
struct Row<'a> {
    plan: &'a HomePlan,
    logger: &'a Logger,
    file: &'a str,
    column: &'a str,
    unit: &'a str,
}

impl Row<'_> {
    fn text(&self, start: UtcTime) -> String {
        let Self { plan, logger, file, column, unit } = self;
        let (room, purpose, heated) = plan.rooms[logger.room];
        let clock = if plan.dialect.states_instants() && !plan.wide {
            String::new()
        } else {
            logger.clock.roster_word()
        };
        let local = |hours: Option<f64>| {
            hours.map_or(String::new(), |h| {
                let t = start.plus_ms((h * HOUR_MS as f64) as i64);
                plan.zone.show(t)
            })
        };
        let fast = if logger.clock_fast_s == 0 { String::new() } else { logger.clock_fast_s.to_string() };
        let height = if purpose.word() == "hall" { "" } else { "1.2" };
        let (floor, line) = plan.name.split_at(plan.name.len() - 1);
        format!(
            "{},{room},{},{},{},{file},{column},{unit},{clock},,{},{},{},{},{fast},{height},{floor},{line}\n",
            plan.name,
            purpose.word(),
            if heated { "yes" } else { "no" },
            logger.name,
            local(logger.placed.0),
            local(logger.placed.1),
            logger.accuracy_k,
            logger.stated_lag_min
        )
    }
}

impl Habit {
    /// The word in the roster's `clock`.
    pub(super) fn roster_word(self) -> String {
        match self {
            Habit::Civil(_) => "civil".to_owned(),
            Habit::Fixed(0) => "utc".to_owned(),
            Habit::Fixed(offset_s) => format!("fixed {}", show_offset(offset_s)),
        }
    }
}
