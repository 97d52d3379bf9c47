//! Five hundred exports with known truth, written in turns of dialect, clock, order, encoding and dirt: none may be
//! misread in silence.

use std::collections::BTreeMap;

use evenrooms::clock::{UtcTime, Zone};
use evenrooms::exports::{Files, Opened, Purpose, open_home};
use evenrooms::simulate::{DIALECTS, Dialect, Habit, write};
use evenrooms::site::read_site_file;
use evenrooms::units::{Celsius, TemperatureUnit};

/// Numbers from a seed (splitmix64).
struct Draw(u64);

impl Draw {
    fn below(&mut self, n: u64) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        (z ^ (z >> 31)) % n
    }

    fn pick<T: Copy>(&mut self, from: &[T]) -> T {
        from[self.below(from.len() as u64) as usize]
    }
}

/// An export and what is true of it.
struct Case {
    zone: &'static str,
    clock: String,
    dialect: Dialect,
    bytes: Vec<u8>,
    /// Instants in ms, and °C as far as the printed digits tell.
    truth: BTreeMap<i64, Option<f64>>,
    tolerance: f64,
    /// Whether a careful person could tell what it says.
    decidable: bool,
}

const ZONES: [(&str, i32); 4] = [
    ("America/Chicago", -21_600),
    ("Europe/Berlin", 3600),
    ("Australia/Adelaide", 34_200),
    ("Asia/Kolkata", 19_800),
];
/// Days near changes of daylight saving, and others.
const STARTS_MS: [i64; 6] = [
    1_762_041_600_000,
    1_772_841_600_000,
    1_761_264_000_000,
    1_774_569_600_000,
    1_767_571_200_000,
    1_777_600_000_000,
];

fn case(seed: u64) -> Case {
    let mut draw = Draw(seed);
    let (zone, standard_s) = draw.pick(&ZONES);
    let dialect = draw.pick(&DIALECTS);
    let interval_ms = draw.pick(&[1, 2, 5, 10, 15, 30, 60]) * 60_000;
    let start = draw.pick(&STARTS_MS) + draw.below(48) as i64 * 3_600_000 + draw.below(60) as i64 * 1000;
    let rows = 8 + draw.below(400) as i64;
    let civil = draw.below(2) == 0;
    let tz = Zone::parse(zone).unwrap();
    let (habit, clock) = if civil {
        (Habit::Civil(tz), "civil".to_owned())
    } else {
        let sign = if standard_s < 0 { '-' } else { '+' };
        let minutes = standard_s.abs() / 60;
        (Habit::Fixed(standard_s), format!("fixed {sign}{:02}:{:02}", minutes / 60, minutes % 60))
    };
    let decimals = draw.pick(&[1, 2]);
    let series: Vec<(UtcTime, Option<f64>)> = (0..rows)
        .map(|i| {
            let x = 17.0 + draw.below(800) as f64 / 100.0;
            (UtcTime::from_ms(start + i * interval_ms), (draw.below(60) > 0).then_some(x))
        })
        .collect();
    let text = write(dialect, "L-1", habit, decimals, dialect.unit(), series.iter().copied());
    let digit = 0.51 / 10_f64.powi(decimals as i32);
    let tolerance = if dialect.unit() == TemperatureUnit::Fahrenheit { digit * 5.0 / 9.0 } else { digit };
    let one_day = rows * interval_ms < 2 * 86_400_000;
    let both_ways = matches!(dialect, Dialect::SemicolonDayFirst | Dialect::TabMonthFirst);
    let bytes = dirty(dialect, text, &mut draw);
    let truth = series.into_iter().map(|(t, x)| (t.ms(), x)).collect();
    Case { zone, clock, dialect, bytes, truth, tolerance, decidable: !(one_day && both_ways) }
}

/// Order, duplicates, trailing lines, line ends, encodings.
fn dirty(dialect: Dialect, bytes: Vec<u8>, draw: &mut Draw) -> Vec<u8> {
    let windows = dialect == Dialect::SemicolonDayFirst;
    let text: String = if windows {
        bytes.iter().map(|b| char::from(*b)).collect()
    } else {
        String::from_utf8(bytes).unwrap()
    };
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    let head = lines.iter().position(|l| l.contains("202") || l.starts_with("17")).unwrap_or(1);
    match draw.below(5) {
        0 => lines[head..].reverse(),
        1 => {
            let at = head + draw.below((lines.len() - head) as u64) as usize;
            lines.insert(at, lines[at].clone());
        }
        2 => lines.push(format!("{} readings", lines.len())),
        3 => {
            let header = lines[..head].join("\n");
            let at = head + (lines.len() - head) / 2;
            lines.insert(at, header);
        }
        _ => {}
    }
    let end = draw.pick(&["\n", "\r\n"]);
    let text = lines.join("\n").replace('\n', end) + end;
    match draw.below(6) {
        0 => text.encode_utf16().flat_map(u16::to_le_bytes).collect(),
        1 => [0xfe, 0xff].into_iter().chain(text.encode_utf16().flat_map(u16::to_be_bytes)).collect(),
        2 if windows => text.chars().map(|c| u8::try_from(c).unwrap_or(b'?')).collect(),
        _ => text.into_bytes(),
    }
}

fn open(case: &Case) -> Opened {
    let site = format!("[site]\nname = \"x\"\ntime_zone = \"{}\"\nroster = \"roster.csv\"\n", case.zone);
    let clock = if case.dialect.states_instants() { "" } else { &case.clock };
    let column = if case.dialect == Dialect::EpochHumidity { "temp_c" } else { "" };
    let roster = format!(
        "home,room,use,heated,logger,file,column,clock\n1,living,living,yes,L-1,a.csv,{column},{clock}\n"
    );
    let site = read_site_file("site.toml", &site).with_roster("roster.csv", roster.as_bytes()).unwrap();
    let files: Files = BTreeMap::from([("a.csv".to_owned(), Ok(case.bytes.clone()))]);
    open_home(&site, &site.homes[0], &files, Purpose::Audit).unwrap().remove(0).remove(0)
}

/// Why a case was misread in silence, if it was.
fn silent_error(case: &Case, opened: &Opened) -> Option<String> {
    let readings = &opened.readings;
    let asked = readings.is_empty() && opened.notes.iter().any(|n| n.unreadable);
    let told = asked || opened.notes.iter().any(|n| n.what.contains("came twice"));
    for (t, x) in readings.times_ms().iter().zip(readings.degc()) {
        // The bar, blank and tab dialects print whole seconds, and so do all others here.
        match case.truth.get(t) {
            None if !told => {
                return Some(format!("a reading at {} that never was", UtcTime::from_ms(*t).iso()));
            }
            Some(Some(truth))
                if !told && (Celsius::new(*x) - Celsius::new(*truth)).k().abs() > case.tolerance =>
            {
                return Some(format!("{x} °C at {}, truly {truth}", UtcTime::from_ms(*t).iso()));
            }
            _ => {}
        }
    }
    let kept = case.truth.keys().filter(|t| readings.times_ms().binary_search(t).is_ok()).count();
    (!told && kept < case.truth.len())
        .then(|| format!("{} true readings without a trace", case.truth.len() - kept))
}

#[test]
fn five_hundred_generated_files_are_never_misread_in_silence() {
    let (mut errors, mut asked_of_decidable, mut decidable) = (Vec::new(), 0, 0);
    for seed in 0..500 {
        let case = case(seed);
        let opened = open(&case);
        let asked = opened.readings.is_empty() && opened.notes.iter().any(|n| n.unreadable);
        decidable += u32::from(case.decidable);
        asked_of_decidable += u32::from(case.decidable && asked);
        if let Some(why) = silent_error(&case, &opened) {
            let head: String = String::from_utf8_lossy(&case.bytes).chars().take(120).collect();
            errors.push(format!(
                "seed {seed}, {:?}, {} {}: {why}\n{head}\n{:?}",
                case.dialect, case.zone, case.clock, opened.notes
            ));
        }
        for ledger in &opened.ledgers {
            assert_eq!(ledger.seen, ledger.kept + ledger.set_aside_total(), "seed {seed}");
        }
    }
    assert!(decidable > 400, "the cases are too easy to leave open: {decidable}");
    assert!(errors.is_empty(), "{} silent errors, the first: {}", errors.len(), errors[0]);
    assert!(
        asked_of_decidable * 20 <= decidable,
        "{asked_of_decidable} of {decidable} decidable files were asked about"
    );
}
