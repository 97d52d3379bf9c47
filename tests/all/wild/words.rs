//! What stands around the data: headers, preamble, and what they state. All of it is invented.

use crate::wild::calendar::{DAY_MS, Wall, days};
use crate::wild::dialects::Plan;
use crate::wild::rng::Rng;
use crate::wild::times::offset;
use crate::wild::traits::{Clock, Delimiter, Encoding, Said, Shape};

const TIME: [&str; 8] = [
    "Time",
    "Date Time",
    "Timestamp",
    "Datum/Zeit",
    "date/time",
    "Recorded at",
    "Fecha y hora",
    "Zeitstempel",
];
const DATE: [&str; 3] = ["Date", "Datum", "Day"];
const OF_DAY: [&str; 3] = ["Time", "Zeit", "Clock"];
const VALUE: [&str; 11] = [
    "Temperature",
    "Temperature",
    "Temp",
    "T",
    "Temp.",
    "Room temperature",
    "Temperatur",
    "Value",
    "Reading",
    "Air",
    "Probe temperature",
];
const ROOM: [&str; 6] = ["Kitchen", "Bedroom 1", "Bath", "Living", "Hall", "Study"];
const LOGGER: [&str; 7] = ["Logger", "Serial", "Sensor ID", "Device", "Station", "Room", "Name"];
const SUFFIX: [&str; 10] =
    [" (°U)", " (°U)", " [°U]", " °U", ", °U", "_degU", " in °U", " (U)", " [degU]", " (ºU)"];

/// The words of one export.
pub(crate) struct Words {
    pub(crate) row_number: &'static str,
    pub(crate) times: Vec<String>,
    pub(crate) logger: &'static str,
    /// Names of the loggers, as a column of the file writes them.
    pub(crate) loggers: Vec<String>,
    /// Headers of the values; one per room where the file is wide.
    pub(crate) values: Vec<String>,
    /// The same without the unit.
    pub(crate) bare: Vec<String>,
    pub(crate) humidity: &'static str,
    pub(crate) battery: &'static str,
    pub(crate) event: &'static str,
    pub(crate) preamble: Vec<String>,
}

impl Words {
    pub(crate) fn new(plan: &Plan) -> Self {
        let rng = &mut Rng::new(plan.seed, "words");
        let suffix = match plan.unit_said {
            Said::Header => rng.pick(&SUFFIX).replace('U', plan.letter()),
            _ => String::new(),
        };
        let bare: Vec<String> = match plan.shape {
            Shape::Wide(n) if rng.percent(30) => (1..=n).map(|i| format!("T{i}")).collect(),
            Shape::Wide(n) => ROOM[..n].iter().map(|r| (*r).to_owned()).collect(),
            _ => vec![rng.pick(if plan.traps { &VALUE } else { &VALUE[..9] }).to_owned()],
        };
        let digits = rng.percent(50);
        let name = |i: usize| if digits { format!("{}", 104_230 + 7 * i) } else { format!("N-{}", 31 + i) };
        Self {
            row_number: rng.pick(&["#", "No.", "Record", "Index", "Row"]),
            times: time_headers(plan, rng),
            logger: rng.pick(&LOGGER),
            loggers: (0..plan.rooms()).map(name).collect(),
            values: bare.iter().map(|b| format!("{b}{suffix}")).collect(),
            bare,
            humidity: rng.pick(&["Humidity (%)", "RH (%)", "Humidity", "Feuchte (%rF)", "rh"]),
            battery: rng.pick(&["Battery (V)", "Battery", "Batterie (V)", "Supply voltage"]),
            event: rng.pick(&["Event", "Mark", "Comment"]),
            preamble: preamble(plan, rng),
        }
    }
}

impl Plan {
    fn letter(&self) -> &'static str {
        if self.fahrenheit { "F" } else { "C" }
    }

    /// The unit as it stands in a cell or a statement.
    pub(crate) fn unit_word(&self, rng: &mut Rng) -> String {
        let narrow = self.encoding != Encoding::Windows1252 && rng.percent(15);
        match (narrow, self.fahrenheit) {
            (true, false) => "℃".to_owned(),
            (true, true) => "℉".to_owned(),
            _ => rng.pick(&["°U", "°U", "° U", "degU", "U"]).replace('U', self.letter()),
        }
    }
}

fn time_headers(plan: &Plan, rng: &mut Rng) -> Vec<String> {
    let mut headers: Vec<String> = match plan.time_columns() {
        1 => vec![rng.pick(&TIME).to_owned()],
        2 => vec![rng.pick(&DATE).to_owned(), rng.pick(&OF_DAY).to_owned()],
        _ => vec![rng.pick(&DATE).to_owned(), rng.pick(&OF_DAY).to_owned(), "AM/PM".to_owned()],
    };
    if plan.clock_said == Said::Header {
        let clock = clock_word(plan, rng);
        let way = rng.pick(&[" (K)", " [K]", ", K", " K"]).replace('K', &clock);
        let last = headers.len().min(2) - 1;
        headers[last].push_str(&way);
        if last > 0 && rng.percent(50) {
            headers[0].push_str(&way);
        }
    }
    headers
}

/// `UTC`, `GMT-06:00`: the clock of a whole file.
fn clock_word(plan: &Plan, rng: &mut Rng) -> String {
    let base = rng.pick(&["UTC", "GMT"]);
    match plan.clock {
        Clock::Civil => plan.zone.name().to_owned(),
        Clock::Fixed(0) if rng.percent(60) => base.to_owned(),
        Clock::Fixed(minutes) if minutes % 60 == 0 && rng.percent(20) => format!("{base}{:+}", minutes / 60),
        Clock::Fixed(minutes) => format!("{base}{}", offset(minutes)),
    }
}

fn preamble(plan: &Plan, rng: &mut Rng) -> Vec<String> {
    let delimiter = match plan.delimiter {
        Delimiter::One(c) => c.to_string(),
        Delimiter::Wide => ":  ".to_owned(),
    };
    let between = if rng.percent(30) { ": ".to_owned() } else { delimiter };
    let mut lines: Vec<String> = (0..plan.preamble).map(|_| some_line(plan, rng, &between)).collect();
    let mut state = |line: String, rng: &mut Rng| {
        let at = rng.below(lines.len() + 1);
        lines.insert(at, line);
    };
    if plan.unit_said == Said::Preamble {
        let key = rng.pick(&["Unit", "Units", "Temperature unit", "Unit of temperature"]);
        let unit = plan.unit_word(rng);
        state(format!("{key}{between}{unit}"), rng);
    }
    if plan.clock_said == Said::Preamble {
        let clock = clock_word(plan, rng);
        let line = match plan.clock {
            Clock::Civil => format!("Time zone{between}{clock}"),
            Clock::Fixed(minutes) => match rng.below(5) {
                0 | 1 => format!("Time zone{between}{clock}"),
                2 => format!("All times are {clock}"),
                3 => format!("UTC offset{between}{}", offset(minutes)),
                _ => format!("Offset from UTC{between}{}", offset(minutes)),
            },
        };
        state(line, rng);
    }
    lines
}

/// A line that says nothing about how the readings are to be read.
fn some_line(plan: &Plan, rng: &mut Rng, s: &str) -> String {
    let at = days(rng.within(2011, 2024), 1, 1) * DAY_MS + rng.within(0, 300 * 1440) * 60_000;
    let day = Wall::new(at);
    let iso = format!("{}-{:02}-{:02}", day.year, day.month, day.day);
    let u = plan.letter();
    match rng.below(if plan.traps { 26 } else { 9 }) {
        0 => format!("Device{s}Alder 3"),
        1 => format!("Serial number{s}{}", 100_000 + rng.below(90_000)),
        2 => format!("Firmware{s}2.{}", rng.below(40)),
        3 => format!("Location{s}{}", rng.pick(&ROOM)),
        4 => format!("Operator{s}M. Rowan"),
        5 => format!("Interval{s}{} min", plan.step_min),
        6 => format!("Samples{s}{}", plan.rows),
        7 => format!("Battery{s}{} %", rng.within(20, 99)),
        8 => format!("Battery voltage{s}3.02 V"),
        9 => format!("Calibrated{s}{iso}"),
        10 => format!("Calibrated{s}{iso} 10:00{s}0.02"),
        11 => format!("Downloaded{s}{}", plan.time_text(at)),
        12 => format!("Start{s}{iso} {:02}:{:02}:00", day.hour, day.minute),
        13 => format!("High alarm{s}{}", if plan.fahrenheit { "86.0 °F" } else { "30.0 °C" }),
        14 => format!("High alarm{s}{}", if plan.fahrenheit { "30.0 °C" } else { "86.0 °F" }),
        15 => format!("Low alarm{s}{} °{u}", if plan.fahrenheit { 41 } else { 5 }),
        16 => format!("Memory used{s}14 %"),
        17 => format!("Correction{s}0.0"),
        18 => format!("Comment{s}Test, with a comma; and more"),
        19 => format!("Created{s}{iso}T16:45:00Z"),
        20 => format!("Exported at{s}{iso} 16:45 UTC"),
        21 => format!("Humidity unit{s}%"),
        22 => format!("Status{s}Battery low"),
        23 => format!("Height{s}1.1 m"),
        24 => "Temperature record".to_owned(),
        _ => format!("Accuracy{s}0.5"),
    }
}
