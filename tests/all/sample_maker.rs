//! Makes `sample_data`: three winter weeks in Alder Row, an invented building of six homes.
//!
//! Every platform makes the same bytes: noise comes from a generator of our own, arithmetic is `+ - * /` only,
//! and each number is rounded to the digits it is printed with. Each home is exported in another dialect, and
//! most have one clear problem. Too cold, too hot and uneven rooms are in [`WARMTH`]; what went wrong with
//! loggers is in [`plant_faults`], and with the lines of one home's files in [`plant_messes`].

/// Civil seconds are counted from 2026-01-05 00:00, a Monday; the record is [`DAYS`] long.
const FIRST_DAY: i64 = 5;
const DAYS: i64 = 21;
const DAY_S: i64 = 24 * HOUR_S;
const HOUR_S: i64 = 60 * MINUTE_S;
const MINUTE_S: i64 = 60;

/// The model runs one day longer than the record, so that the first night starts in a warm home.
const MODEL_START_S: i64 = -DAY_S;
const MODEL_STEP_S: i64 = 5 * MINUTE_S;

const SITE: &str = r#"# Alder Row: an invented building, to try evenrooms with. Three winter weeks, six homes.
# A quantity is a number with its unit: "68 °F", "20 °C", "2 K", "5 min".

[site]
name = "Alder Row"
time_zone = "America/Chicago"  # IANA name; local days, nights and the setback are cut with it
roster = "roster.csv"          # one row per placement of a logger
exports = "exports"            # folder that the roster's file names start from
outdoor = { file = "weather.csv", column = "temp_degc", clock = "fixed -06:00" }
design_outdoor = "-18 °C"      # the cold that the heating was sized for
clock = "civil"                # logger clocks follow local time, unless the roster says otherwise
step = "5 min"                 # spacing of the common time grid
max_gap = "30 min"             # longer holes stay holes: nothing is filled in
units = "F"                    # for people who read the report; the tables stay in °C

[band]                         # where an occupied room should be
lower = "68 °F"
upper = "76 °F"
night = { lower = "62 °F", upper = "76 °F", from = "22:00", to = "06:00" }

[[setback]]                    # when the heating is turned down, and what it returns to
days = "mon-sun"
from = "22:00"
to = "06:00"
occupied_target = "70 °F"

[spread]                       # how far apart the rooms of one home may be
limit = "2.2 K"                # warmest minus coldest room at one moment
margin = "2 K"                 # an unheated room this close to the heated ones counts as even
"#;

/// How a home's loggers write their files.
#[derive(Clone, Copy, PartialEq)]
enum Dialect {
    CommaIso,          // ISO local time with seconds
    SemicolonDayFirst, // decimal comma, five lines before the header, Windows-1252 with CRLF
    TabMonthFirst,     // 12-hour clock, °F with one digit
    WideQuoted,        // one file for the home, a column per room, fields padded, no unit
    CommaUtc,          // ISO time in UTC, a byte order mark
    CommaMessy,        // ISO local time to the minute, °F; the lines then get `plant_messes`
}
use Dialect::{CommaIso, CommaMessy, CommaUtc, SemicolonDayFirst, TabMonthFirst, WideQuoted};

struct Home {
    name: &'static str,
    dialect: Dialect,
    every_min: i64,
    first_logger: usize,
    rooms: usize,
}

const HOMES: [Home; 6] = [
    Home { name: "1A", dialect: CommaIso, every_min: 5, first_logger: 102, rooms: 5 },
    Home { name: "1B", dialect: SemicolonDayFirst, every_min: 10, first_logger: 121, rooms: 5 },
    Home { name: "2A", dialect: TabMonthFirst, every_min: 10, first_logger: 131, rooms: 6 },
    Home { name: "2B", dialect: WideQuoted, every_min: 15, first_logger: 141, rooms: 5 },
    Home { name: "3A", dialect: CommaUtc, every_min: 15, first_logger: 151, rooms: 5 },
    Home { name: "3B", dialect: CommaMessy, every_min: 10, first_logger: 161, rooms: 6 },
];

/// Rooms in the order of their loggers' numbers: three heated by the heat pump, the rest by those three.
const ROOMS: [&str; 6] = ["living", "bedroom 1", "bedroom 2", "kitchen", "bathroom", "hall"];
const HEATED: usize = 3;

struct Warmth {
    slow_h: f64,             // time constant: how slowly a room cools with the heating off
    rise: f64,               // fastest warming at 0 °C outdoors, in K/h
    day_degc: [f64; HEATED], // what the heated rooms are kept at by day
    leak: [f64; 3],          // how far unheated rooms stay below them, as a share of the way to outdoors
}

/// In the order of [`HOMES`].
const WARMTH: [Warmth; 6] = [
    Warmth { slow_h: 82.0, rise: 1.7, day_degc: [21.8, 21.6, 21.4], leak: [0.012, 0.018, 0.0] },
    Warmth { slow_h: 78.0, rise: 1.3, day_degc: [22.0, 21.5, 17.8], leak: [0.010, 0.015, 0.0] },
    Warmth { slow_h: 88.0, rise: 1.5, day_degc: [21.6, 21.4, 21.5], leak: [0.014, 0.160, 0.020] },
    Warmth { slow_h: 90.0, rise: 1.6, day_degc: [21.6, 21.3, 21.5], leak: [0.014, 0.018, 0.0] },
    Warmth { slow_h: 84.0, rise: 1.8, day_degc: [21.5, 21.6, 25.8], leak: [0.015, 0.020, 0.0] },
    Warmth { slow_h: 74.0, rise: 1.0, day_degc: [21.6, 21.3, 21.5], leak: [0.012, 0.018, 0.025] },
];

/// Every file of `sample_data` in a fixed order: path below the folder, with `/`, and its bytes.
pub(crate) fn files() -> Vec<(String, Vec<u8>)> {
    let outdoor = outdoor_hourly();
    let mut files = vec![
        ("site.toml".to_string(), SITE.as_bytes().to_vec()),
        ("roster.csv".to_string(), roster().into_bytes()),
        ("exports/weather.csv".to_string(), weather(&outdoor).into_bytes()),
    ];
    for (home, warmth) in HOMES.iter().zip(&WARMTH) {
        let records = records(home, warmth, &outdoor);
        let mut add = |logger: &str, bytes| files.push((format!("exports/{}", file_of(home, logger)), bytes));
        match home.dialect {
            WideQuoted => add("", wide(&records)),
            _ => records.iter().for_each(|record| add(&record.logger, single(home, record))),
        }
    }
    files
}

/// Each placement of a logger: the number of its room in [`ROOMS`], and its name.
fn placements(home: &Home) -> Vec<(usize, String)> {
    let own = |room| (room, format!("L-{}", home.first_logger + room));
    let mut placements: Vec<_> = (0..home.rooms).map(own).collect();
    if home.name == "1A" {
        placements.insert(2, (1, "L-119".to_string()));
    }
    placements
}

/// Path below the exports folder.
fn file_of(home: &Home, logger: &str) -> String {
    match home.dialect {
        WideQuoted => format!("{}/all_rooms.csv", home.name),
        TabMonthFirst => format!("{}/{logger}.txt", home.name),
        _ => format!("{}/{logger}.csv", home.name),
    }
}

fn roster() -> String {
    let header = "home,room,use,heated,logger,file,column,unit,clock,from,to,accuracy_k,height_m,floor,line";
    let rows = |home| placements(home).into_iter().map(|(room, logger)| roster_row(home, room, &logger));
    format!("{header}\n{}", HOMES.iter().flat_map(rows).collect::<String>())
}

fn roster_row(home: &Home, room: usize, logger: &str) -> String {
    let (name, heated) = (ROOMS[room], if room < HEATED { "yes" } else { "no" });
    let kind = name.trim_end_matches([' ', '1', '2']);
    let column_unit_clock = match home.dialect {
        WideQuoted => format!("{name},°C,"),
        CommaUtc => ",,utc".to_string(),
        _ => ",,".to_string(),
    };
    let from_to = match logger {
        "L-103" => ",2026-01-15 12:00",
        "L-119" => "2026-01-15 12:00,",
        _ => ",",
    };
    let accuracy = if matches!(home.name, "1A" | "2B" | "3A") { "0.3" } else { "" };
    let height = ["1.2", "1.2", "1.2", "1.5", "1.5", ""][room];
    let (floor, line) = home.name.split_at(1);
    let placed = format!("{floor}{line},{name},{kind},{heated},{logger},{}", file_of(home, logger));
    format!("{placed},{column_unit_clock},{from_to},{accuracy},{height},{floor},{line}\n")
}

/// Outdoor temperature in °C at each full hour from the start of the model.
fn outdoor_hourly() -> Vec<f64> {
    // Midnight values of the weather that passes through, from the day before the record.
    const PASSING: [f64; 23] = [
        0.0, 0.0, -2.0, -5.0, -9.0, -12.0, -10.0, -6.0, -3.0, -0.5, 1.8, -2.0, -6.0, -10.5, -12.8, -11.5,
        -8.0, -4.0, -1.0, 0.5, -3.0, -6.0, -4.0,
    ];
    let (mut noise, mut drift_k) = (Noise::named("weather"), 0.0);
    let degc = |since_start: i64| {
        let (day, hour) = ((since_start / 24) as usize, (since_start % 24) as f64);
        let next = PASSING[(day + 1).min(PASSING.len() - 1)];
        let along = hour / 24.0;
        let passing = PASSING[day] + (next - PASSING[day]) * along * along * (3.0 - 2.0 * along);
        let sun_k = 2.9 * (arch(hour, 9.0, 21.0) - arch((hour + 12.0) % 24.0, 9.0, 21.0));
        drift_k = 0.7 * drift_k + 0.15 * noise.bell();
        passing + sun_k + drift_k
    };
    (0..=(DAYS + 1) * 24).map(degc).collect()
}

fn weather(outdoor: &[f64]) -> String {
    let row = |hour: i64| {
        // Adding 0 turns a negative zero into a plain one.
        let degc = (outdoor[hour as usize + 24] * 10.0).round() / 10.0 + 0.0;
        format!("{},{degc:.1}\n", &iso(hour * HOUR_S)[..16])
    };
    format!("time,temp_degc\n{}", (0..=DAYS * 24).map(row).collect::<String>())
}

/// A room as it was: a value in °C for each step of the model, from the rate of change at (step, time,
/// temperature now).
fn trace(name: &str, start_degc: f64, rate_k_per_h: impl Fn(usize, i64, f64) -> f64) -> Vec<f64> {
    let mut noise = Noise::named(name);
    let (mut degc, mut wobble_k) = (start_degc, 0.0);
    let next = |(step, at_s)| {
        degc += rate_k_per_h(step, at_s, degc) * MODEL_STEP_S as f64 / HOUR_S as f64;
        wobble_k = 0.93 * wobble_k + 0.035 * noise.bell();
        degc + wobble_k
    };
    let times = (MODEL_START_S..=DAYS * DAY_S).step_by(MODEL_STEP_S as usize);
    times.enumerate().map(next).collect()
}

fn heated_trace(name: &str, warmth: &Warmth, day_degc: f64, outdoor: &[f64]) -> Vec<f64> {
    trace(name, day_degc, |_, at_s, degc| {
        let (day, hour) = day_and_hour(at_s);
        let out = between(outdoor, HOUR_S, at_s);
        let sun_k = 0.6 * Noise::named(&format!("{name} sun {day}")).unit() * arch(hour, 10.0, 16.0);
        let setpoint = if (6.0..22.0).contains(&hour) { day_degc + sun_k } else { day_degc - 2.5 };
        // People and appliances make up for the first 6 K of the difference to outdoors.
        (3.0 * (setpoint - degc)).clamp((out + 6.0 - degc) / warmth.slow_h, warmth.rise + 0.03 * out)
    })
}

fn unheated_trace(name: &str, leak: f64, heated: &[Vec<f64>], outdoor: &[f64]) -> Vec<f64> {
    trace(name, 21.5 - 25.0 * leak, |step, at_s, degc| {
        let mean = heated.iter().map(|trace| trace[step]).sum::<f64>() / heated.len() as f64;
        let below_k = leak * (mean - between(outdoor, HOUR_S, at_s));
        (mean - below_k - degc) / 1.6 + people_k_per_h(name, at_s)
    })
}

/// Warming by showers and cooking, at other times each day.
fn people_k_per_h(name: &str, at_s: i64) -> f64 {
    let (day, hour) = day_and_hour(at_s);
    let mut habits = Noise::named(&format!("{name} people {day}"));
    let (up, home) = (6.4 + habits.unit(), 17.2 + habits.unit());
    let during = |from: f64, to: f64| (from..to).contains(&hour);
    match &name[3..] {
        "bathroom" if during(up, up + 0.5) => 3.6,
        "bathroom" if home > 17.7 && during(home + 3.0, home + 3.4) => 3.2,
        "kitchen" if during(up + 0.3, up + 0.8) => 1.0,
        "kitchen" if during(home, home + 1.3) => 1.1,
        _ => 0.0,
    }
}

/// A parabola from 0 at `from` over 1 in the middle to 0 at `to`, and 0 elsewhere.
fn arch(hour: f64, from: f64, to: f64) -> f64 {
    let along = (hour - from) / (to - from);
    (4.0 * along * (1.0 - along)).max(0.0)
}

fn day_and_hour(at_s: i64) -> (usize, f64) {
    let since_s = at_s - MODEL_START_S;
    ((since_s / DAY_S) as usize, (since_s % DAY_S) as f64 / HOUR_S as f64)
}

/// Straight line between values that are `every_s` apart, from the start of the model.
fn between(values: &[f64], every_s: i64, at_s: i64) -> f64 {
    let since_s = at_s - MODEL_START_S;
    let index = (since_s / every_s) as usize;
    let next = values[(index + 1).min(values.len() - 1)];
    values[index] + (next - values[index]) * (since_s % every_s) as f64 / every_s as f64
}

/// What a logger showed.
struct Reading {
    at_s: i64,
    degc: f64,
}

struct Record {
    room: &'static str,
    logger: String,
    readings: Vec<Reading>,
}

fn records(home: &Home, warmth: &Warmth, outdoor: &[f64]) -> Vec<Record> {
    let mut heated = Vec::new();
    let mut record = |(room, logger): (usize, String)| {
        let name = format!("{} {}", home.name, ROOMS[room]);
        let trace = if room < HEATED {
            heated_trace(&name, warmth, warmth.day_degc[room], outdoor)
        } else {
            unheated_trace(&name, warmth.leak[room - HEATED], &heated, outdoor)
        };
        let mut readings = readings(home, &logger, &trace);
        plant_faults(&logger, &mut readings);
        // A much warmer or colder room keeps its door shut: unheated rooms do not feel it.
        if room < HEATED && (21.0..22.5).contains(&warmth.day_degc[room]) {
            heated.push(trace);
        }
        Record { room: ROOMS[room], logger, readings }
    };
    placements(home).into_iter().map(&mut record).collect()
}

fn readings(home: &Home, logger: &str, trace: &[f64]) -> Vec<Reading> {
    let mut noise = Noise::named(logger);
    let offset_k = 0.24 * (noise.unit() - 0.5);
    // Loggers that print seconds were started by hand, one after another.
    let first_s = match home.dialect {
        CommaIso => (noise.unit() * 300.0) as i64,
        CommaMessy => 2 * MINUTE_S,
        _ => 0,
    };
    let mut shown = |at_s| between(trace, MODEL_STEP_S, at_s) + offset_k + 0.03 * noise.bell();
    let times = (first_s..DAYS * DAY_S).step_by((home.every_min * MINUTE_S) as usize);
    times.map(|at_s| Reading { at_s, degc: shown(at_s) }).collect()
}

/// Civil seconds of a moment in January 2026.
const fn at(day: i64, hour: i64, minute: i64) -> i64 {
    (day - FIRST_DAY) * DAY_S + hour * HOUR_S + minute * MINUTE_S
}

fn plant_faults(logger: &str, readings: &mut Vec<Reading>) {
    let swap_s = at(15, 12, 0);
    match logger {
        // Single readings far too warm.
        "L-102" => {
            for (row, high_by_k) in [(1024, 9.4), (2841, 14.1), (4665, 11.7)] {
                readings[row].degc += high_by_k;
            }
        }
        // Taken down at the swap, then two hours in somebody's pocket.
        "L-103" => {
            readings.retain(|r| r.at_s < swap_s + 2 * HOUR_S);
            readings.iter_mut().filter(|r| r.at_s >= swap_s).for_each(|r| r.degc += 5.5);
        }
        // Started two hours before the swap, in a cold van.
        "L-119" => {
            readings.retain(|r| r.at_s >= swap_s - 2 * HOUR_S);
            readings.iter_mut().filter(|r| r.at_s < swap_s).for_each(|r| r.degc -= 9.0);
        }
        // Stuck at one value for five days, from 14 January 03:00.
        "L-144" => readings[876..1356].iter_mut().for_each(|r| r.degc = 20.87),
        // Nothing between 09:00 and 14:00.
        "L-151" => readings.retain(|r| r.at_s <= at(13, 9, 0) || r.at_s >= at(13, 14, 0)),
        // Stopped after eight days.
        "L-166" => readings.retain(|r| r.at_s < at(13, 0, 0)),
        _ => {}
    }
}

/// The file of one logger.
fn single(home: &Home, record: &Record) -> Vec<u8> {
    let mut rows: Vec<String> = record.readings.iter().map(|reading| row(home.dialect, reading)).collect();
    plant_messes(&record.logger, &mut rows);
    let text = format!("{}\n{}\n", head(home, record), rows.join("\n"));
    if home.dialect == SemicolonDayFirst {
        // `°` is the only character here beyond ASCII, and has the same number in Windows-1252 and Unicode.
        return text.replace('\n', "\r\n").chars().map(|c| u8::try_from(c).unwrap_or(b'?')).collect();
    }
    text.into_bytes()
}

fn head(home: &Home, Record { room, logger, readings }: &Record) -> String {
    let (name, min, rows) = (home.name, home.every_min, readings.len());
    match home.dialect {
        CommaIso => "time,temperature (°C)".to_string(),
        SemicolonDayFirst => {
            let placed = format!("Logger;{logger}\nPlaced in;{name}, {room}\nInterval;{min} min");
            format!("{placed}\nRows;{rows}\nClock;local time\nDate and time;Temperature in °C")
        }
        TabMonthFirst => "Taken at\tAir, °F".to_string(),
        CommaUtc => "\u{feff}time in utc,air °C".to_string(),
        CommaMessy | WideQuoted => "local time,temperature °F".to_string(),
    }
}

fn row(dialect: Dialect, &Reading { at_s, degc }: &Reading) -> String {
    // America/Chicago is six hours behind UTC for the whole record.
    let (iso, utc) = (iso(at_s), iso(at_s + 6 * HOUR_S));
    let degf = degc * 9.0 / 5.0 + 32.0;
    let (day, hour) = (at_s / DAY_S + FIRST_DAY, at_s % DAY_S / HOUR_S);
    let (hour_of_12, half) = ((hour + 11) % 12 + 1, if hour < 12 { "AM" } else { "PM" });
    match dialect {
        CommaIso => format!("{iso},{degc:.2}"),
        SemicolonDayFirst => {
            format!("{day:02}.01.2026 {};{}", &iso[11..16], format!("{degc:.2}").replace('.', ","))
        }
        TabMonthFirst => format!("1/{day}/2026 {hour_of_12}{} {half}\t{degf:.1}", &iso[13..]),
        CommaUtc => format!("{}Z,{degc:.2}", utc.replace(' ', "T")),
        CommaMessy | WideQuoted => format!("{},{degf:.2}", &iso[..16]),
    }
}

/// The rooms of one home side by side; all records have the same times.
fn wide(records: &[Record]) -> Vec<u8> {
    let names = records.iter().map(|record| format!(",\"{:<10}\"", record.room));
    let mut text = format!("\"{:<18}\"{}\n", "time", names.collect::<String>());
    for (row, first) in records[0].readings.iter().enumerate() {
        let values = records.iter().map(|record| format!(",\"{:>7.2} \"", record.readings[row].degc));
        text += &format!("\"{:<18}\"{}\n", &iso(first.at_s)[..16], values.collect::<String>());
    }
    text.into_bytes()
}

fn iso(at_s: i64) -> String {
    let (day, hour) = (at_s / DAY_S + FIRST_DAY, at_s % DAY_S / HOUR_S);
    format!("2026-01-{day:02} {hour:02}:{:02}:{:02}", at_s % HOUR_S / MINUTE_S, at_s % MINUTE_S)
}

/// Spoils lines of home 3B, one sort of mess per room; row 0 is line 2 of the file.
fn plant_messes(logger: &str, rows: &mut Vec<String>) {
    let time = "2026-01-05 00:02".len();
    match logger {
        "L-161" => {
            // From the end, so that earlier rows keep their place.
            rows.insert(2101, rows[2100].clone());
            rows.insert(1701, format!("{},75.30", &rows[1700][..time]));
            rows.insert(1201, rows[1200].clone());
            rows.insert(301, rows[300].clone());
        }
        "L-163" => {
            for (row, value) in [(250, ""), (251, ""), (1111, ""), (1500, "---"), (2222, "")] {
                rows[row].replace_range(time + 1.., value);
            }
        }
        // Two hours were written before the two hours that came first.
        "L-164" => rows[900..924].rotate_left(12),
        _ => {}
    }
}

/// Repeatable noise, seeded by a name: a counter in large steps, its bits mixed.
struct Noise(u64);

impl Noise {
    fn named(name: &str) -> Noise {
        let add = |state: u64, byte: u8| (state ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3);
        Noise(name.bytes().fold(0x517c_c1b7_2722_0a95, add))
    }

    /// Evenly spread from 0 up to 1.
    fn unit(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mixed = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((mixed ^ (mixed >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Bell-shaped around 0 with a standard deviation of 1.
    fn bell(&mut self) -> f64 {
        2.0 * (self.unit() + self.unit() + self.unit() - 1.5)
    }
}
