//! An invented building with known truth: homes as thermal networks, loggers on top, and faults by plan.
//!
//! It is the instrument that measures the audit, and the maker of demo data. Each home is drawn from the seed and its
//! own number, so that it does not depend on how many homes there are or in which order they are made.

mod building;
mod faults;
mod loggers;
mod network;
mod random;
mod thermal;
mod truth;
mod weather;
mod writers;

pub use building::Trouble;
pub use faults::{FAULTS, FaultKind};
pub use thermal::TrueTemperatures;
pub use truth::{TrueEvent, TrueFault, TrueHome, TrueLogger, truth_json};
pub use writers::{DIALECTS, Dialect, Habit, write};

use chrono::{Datelike, NaiveDate};

use crate::clock::{HOUR_MS, TimeOfDay, UtcTime, Zone};
use crate::units::TemperatureUnit;
use building::{Design, ROOMS, TROUBLES};
use faults::Fault;
use loggers::{Logger, Reading};
use random::Random;
use thermal::{RUN_UP_DAYS, STEP_S};
use weather::Weather;

/// What to simulate.
#[derive(Clone, Debug)]
pub struct Plan {
    /// Everything that is drawn comes from here.
    pub seed: u64,
    /// Number of homes.
    pub homes: usize,
    /// Length of the record.
    pub days: usize,
    /// Sampling interval of the loggers, in seconds.
    pub interval_s: i64,
    /// First local day.
    pub start: NaiveDate,
    /// Time zone of the site.
    pub zone: Zone,
    /// Share of homes with something wrong, and of loggers with a fault.
    pub share_of_troubles: f64,
    /// As above, of loggers.
    pub share_of_faults: f64,
}

/// A simulated site, ready to make its homes.
#[derive(Clone, Debug)]
pub struct Simulation {
    plan: Plan,
    weather: Weather,
    start: UtcTime,
    summer_from: usize,
}

/// One home: its files, its rows of the roster, and its truth.
#[derive(Clone, Debug)]
pub struct SimulatedHome {
    /// Exports, by name from the exports folder.
    pub files: Vec<(String, Vec<u8>)>,
    /// Rows of the roster.
    pub roster: String,
    /// What is true of it.
    pub truth: TrueHome,
    /// True air temperatures, once a minute from the start.
    pub temperatures: TrueTemperatures,
}

/// Header of the simulated roster.
const ROSTER_HEADER: &str = "home,room,use,heated,logger,file,column,clock,dates,accuracy_k,floor,line\n";

impl Simulation {
    /// Draws the weather of a plan.
    pub fn new(plan: Plan) -> Self {
        let start = plan.zone.on(plan.start, TimeOfDay::new(0, 0).expect("midnight is a time of day"));
        let first_day = plan.start.ordinal() + 365 - RUN_UP_DAYS as u32;
        let weather = Weather::new(plan.seed, first_day, plan.days + RUN_UP_DAYS + 1);
        let offset = plan.zone.offset_s(start);
        let minute = |hours: i64| (hours as usize + RUN_UP_DAYS * 24) * 60;
        let change =
            (0..plan.days as i64 * 24).find(|h| plan.zone.offset_s(start.plus_ms(h * HOUR_MS)) > offset);
        Self { summer_from: change.map_or(usize::MAX, minute), plan, weather, start }
    }

    /// The plan.
    pub fn plan(&self) -> &Plan {
        &self.plan
    }

    /// First instant of the record.
    pub fn start(&self) -> UtcTime {
        self.start
    }

    /// The name of a home: floor and door.
    pub fn home_name(&self, home: usize) -> String {
        format!("{}{}", home / 4 + 1, ['A', 'B', 'C', 'D'][home % 4])
    }

    /// The site file.
    pub fn site_file(&self) -> String {
        let zone = self.plan.zone.name();
        format!(
            "# An invented building, made by `evenrooms simulate`; nothing here is real.\n[site]\nname = \"Simulated building {}\"\n\
             time_zone = \"{zone}\"\nroster = \"roster.csv\"\nexports = \"exports\"\n\
             outdoor = {{ file = \"weather.csv\", column = \"outdoor_degc\", clock = \"utc\" }}\ndesign_outdoor = \"-18 °C\"\nclock = \"civil\"\nunits = \"F\"\n\n\
             [band]\nlower = \"68 °F\"\nupper = \"76 °F\"\nnight = {{ from = \"22:00\", to = \"06:00\", lower = \"62 °F\", upper = \"76 °F\" }}\n\n\
             [[setback]]\ndays = \"mon-sun\"\nfrom = \"22:00\"\nto = \"06:00\"\noccupied_target = \"70 °F\"\n\n\
             [spread]\nlimit = \"2.2 K\"\nmargin = \"2 K\"\n",
            self.plan.seed
        )
    }

    /// The weather file, hourly in UTC.
    pub fn weather_file(&self) -> Vec<u8> {
        let mut text = String::from("time,outdoor_degc\n");
        let from = RUN_UP_DAYS * 24;
        for (hour, degc) in self.weather.hourly()[from..=from + self.plan.days * 24].iter().enumerate() {
            text.push_str(&format!("{},{degc:.1}\n", self.start.plus_ms(hour as i64 * HOUR_MS).iso()));
        }
        text.into_bytes()
    }

    /// The header of the roster.
    pub fn roster_header(&self) -> &'static str {
        ROSTER_HEADER
    }

    /// Makes one home.
    pub fn home(&self, home: usize) -> SimulatedHome {
        let plan = &self.plan;
        let name = self.home_name(home);
        let mut random = Random::of(plan.seed, &[home as u64, 0x10]);
        let trouble = if random.happens(plan.share_of_troubles) {
            TROUBLES[1 + random.below(TROUBLES.len() - 1)]
        } else {
            Trouble::None
        };
        let design = Design::new(plan.seed, home, trouble, plan.days);
        let temperatures = thermal::solve(&design, &self.weather, plan.days, STEP_S, self.summer_from);
        let loggers = self.loggers(&name, &mut random);
        let dialect = random.pick(&DIALECTS);
        let habit = if random.happens(0.3) {
            Habit::Fixed(plan.zone.offset_s(self.start))
        } else {
            Habit::Civil(plan.zone)
        };
        let decimals = random.pick(&[1, 2, 2]);
        let (mut files, mut roster) = (Vec::new(), String::new());
        for logger in &loggers {
            let file = format!("{name}/{}.{}", logger.name, dialect.ending());
            let mut stream = Random::of(plan.seed, &[home as u64, 0x20, logger.room as u64]);
            let readings = logger.record(
                &temperatures.rooms[logger.stands_in],
                &self.weather,
                &design,
                plan.interval_s,
                &mut stream,
            );
            files.push((file.clone(), self.export(dialect, habit, decimals, logger, &readings)));
            roster.push_str(&self.roster_row(&name, logger, &file, dialect, habit));
        }
        let truth = TrueHome::new(&name, &design, &loggers, self.start, plan.days);
        SimulatedHome { files, roster, truth, temperatures }
    }

    fn loggers(&self, home: &str, random: &mut Random) -> Vec<Logger> {
        let plan = &self.plan;
        let mut loggers: Vec<Logger> =
            (0..ROOMS.len()).map(|r| Logger::new(home, r, r, plan.interval_s, random)).collect();
        for at in 0..loggers.len() {
            if loggers[at].fault.is_none() && random.happens(plan.share_of_faults) {
                let kind = FAULTS[random.below(FAULTS.len())];
                let fault = Fault::new(kind, plan.days, random);
                loggers[at].fault = Some(fault);
                if kind == FaultKind::Swapped {
                    let other = (at + 1) % loggers.len();
                    (loggers[at].stands_in, loggers[other].stands_in) = (other, at);
                    loggers[other].fault = Some(fault);
                }
            }
        }
        loggers
    }

    fn export(
        &self,
        dialect: Dialect,
        habit: Habit,
        decimals: u32,
        logger: &Logger,
        readings: &[Reading],
    ) -> Vec<u8> {
        let error_ms = logger.clock_error_s() * 1000;
        let fahrenheit = logger.fault.is_some_and(|f| f.kind == FaultKind::FahrenheitAsCelsius);
        let shown_as = if fahrenheit { TemperatureUnit::Fahrenheit } else { dialect.unit() };
        let rows = readings.iter().map(|r| (self.start.plus_ms(r.at_s * 1000 + error_ms), r.degc));
        write(dialect, &logger.name, habit, decimals, shown_as, rows)
    }

    fn roster_row(&self, home: &str, logger: &Logger, file: &str, dialect: Dialect, habit: Habit) -> String {
        let (room, purpose, heated) = ROOMS[logger.room];
        let clock = match habit {
            _ if dialect.states_instants() => String::new(),
            Habit::Civil(_) => "civil".to_owned(),
            Habit::Fixed(offset_s) => format!("fixed {}", crate::clock::show_offset(offset_s)),
        };
        let column = if dialect == Dialect::EpochHumidity { "temp_c" } else { "" };
        let heated = if heated { "yes" } else { "no" };
        let (floor, line) = home.split_at(home.len() - 1);
        format!(
            "{home},{room},{},{heated},{},{file},{column},{clock},,{},{floor},{line}\n",
            purpose.word(),
            logger.name,
            logger.accuracy_k
        )
    }
}
