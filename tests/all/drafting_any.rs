//! Folders of exports as strangers keep them: which of them become rooms, what is proposed, and what is asked.

use std::collections::BTreeMap;
use std::fmt::Write;
use std::fs;
use std::path::PathBuf;

use tempfile::TempDir;

use crate::program::{Ran, run, sample_folder};
use crate::small_site::written_time;

pub(crate) type Rows = Vec<BTreeMap<String, String>>;

/// A folder of exports, and the draft beside it.
pub(crate) struct Folder {
    dir: TempDir,
}

/// A temperature of one logger: no two alike, with a swing over the day.
fn degc(logger: usize, n: usize) -> f64 {
    let of_day = (n % 144) as f64 / 144.0;
    let ripple = ((n * (7 + 2 * logger) + logger * 31) % 11) as f64 * 0.1;
    19.0 + 0.7 * logger as f64 + 1.5 * (of_day - 0.5).abs() + ripple
}

/// Rows of a number, a time and a temperature, with what stands behind the temperature.
fn numbered(
    header: &str,
    logger: usize,
    rows: std::ops::Range<usize>,
    behind: fn(usize) -> String,
) -> String {
    let start = rows.start;
    let row = |n: usize| {
        format!("{},{},{:.1}{}\n", n - start + 1, written_time(n), degc(logger, n), behind(n - start))
    };
    format!("{header}\n{}", rows.map(row).collect::<String>())
}

/// Rows of a time and a temperature.
fn plain(logger: usize, rows: std::ops::Range<usize>) -> String {
    let row = |n: usize| format!("{},{:.1}\n", written_time(n), degc(logger, n));
    format!("time,temperature (°C)\n{}", rows.map(row).collect::<String>())
}

impl Folder {
    pub(crate) fn new<B: AsRef<[u8]>>(files: &[(&str, B)]) -> Self {
        let folder = Self { dir: tempfile::tempdir().unwrap() };
        for (name, text) in files {
            let path = folder.path("exports").join(name);
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            fs::write(path, text).unwrap();
        }
        folder
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.dir.path().join(name)
    }

    pub(crate) fn inspect(&self, file: &str) -> Ran {
        run(&self.path("exports"), &["inspect", file])
    }

    pub(crate) fn draft(&self) -> Ran {
        let zone = ["--time-zone", "America/Chicago", "--clock", "civil"];
        run(self.dir.path(), &[&["draft", "exports", "--out", "site"], &zone[..]].concat())
    }

    /// A draft by somebody who knows no options.
    pub(crate) fn draft_bare(&self) -> Ran {
        run(self.dir.path(), &["draft", "exports", "--out", "site"])
    }

    /// Fills in what the site file leaves to decide.
    pub(crate) fn decide_site(&self, zone: &str, clock: &str) {
        let text = self.site().replace("time_zone = \"decide\"", &format!("time_zone = \"{zone}\""));
        let text = text.replace("clock = \"decide\"", &format!("clock = \"{clock}\""));
        fs::write(self.path("site/site.toml"), text).unwrap();
    }

    pub(crate) fn roster(&self) -> Rows {
        let mut reader = csv::Reader::from_path(self.path("site/roster.csv")).unwrap();
        reader.deserialize().map(Result::unwrap).collect()
    }

    /// The cells of a column, row by row.
    fn column(&self, name: &str) -> Vec<String> {
        self.roster().into_iter().map(|row| row[name].clone()).collect()
    }

    pub(crate) fn site(&self) -> String {
        fs::read_to_string(self.path("site/site.toml")).unwrap()
    }

    /// Fills in each cell that says "decide", and nothing else, and audits.
    pub(crate) fn decide_and_audit(&self, answers: &[(&str, &str)]) -> Ran {
        let path = self.path("site/roster.csv");
        let mut reader = csv::Reader::from_path(&path).unwrap();
        let header = reader.headers().unwrap().clone();
        let records: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
        let mut writer = csv::Writer::from_path(&path).unwrap();
        writer.write_record(&header).unwrap();
        for record in &records {
            let answer = |(name, cell): (&str, &str)| match cell {
                "decide" => answers.iter().find(|(column, _)| *column == name).unwrap().1.to_owned(),
                cell => cell.to_owned(),
            };
            writer.write_record(header.iter().zip(record).map(answer).collect::<Vec<_>>()).unwrap();
        }
        writer.flush().unwrap();
        run(&self.path("site"), &["audit", "site.toml", "--out", "out"])
    }

    pub(crate) fn loggers(&self) -> Rows {
        let mut reader = csv::Reader::from_path(self.path("site/out/loggers.csv")).unwrap();
        reader.deserialize().map(Result::unwrap).collect()
    }
}

/// What stands behind a temperature: humidity, dew point, and a serial number on the first row only.
fn with_serial_once(row: usize) -> String {
    let serial = if row == 0 { ",010099881" } else { "" };
    format!(",{}.5,{:.1}{serial}", 40 + row % 9, 7.0 + (row % 5) as f64 / 10.0)
}

const SERIAL_ONCE: &str = "Vestibule,Time,Celsius(°C),Humidity(%rh),Dew Point(°C),Serial Number";

#[test]
fn a_serial_number_on_the_first_row_only_costs_no_row() {
    let folder = Folder::new(&[("a.csv", &numbered(SERIAL_ONCE, 1, 0..400, with_serial_once))]);
    let seen = folder.inspect("a.csv");
    assert_eq!(seen.code, Some(0), "{}", seen.stdout);
    assert!(!seen.stdout.contains("set aside"), "{}", seen.stdout);
    assert!(!seen.stdout.contains("\"Serial Number\""), "{}", seen.stdout);
}

#[test]
fn a_counter_that_became_a_date_costs_no_row() {
    let mut text = "no,time,temperature (°C)\n".to_owned();
    for n in 0..300 {
        // A spreadsheet took 1-13 for a day in January.
        let number = if n % 10 == 3 { format!("Jan-{:02}", n % 28 + 1) } else { n.to_string() };
        writeln!(text, "{number},{},{:.1}", written_time(n), degc(0, n)).unwrap();
    }
    let folder = Folder::new(&[("living.csv", &text)]);
    let seen = folder.inspect("living.csv");
    assert_eq!(seen.code, Some(0), "{}", seen.stdout);
    folder.draft();
    let audited = folder.decide_and_audit(&[("home", "1A")]);
    assert_eq!(audited.code, Some(0), "{}", audited.stderr);
    assert_eq!(folder.loggers()[0]["rows_kept"], "300");
}

#[test]
fn a_diary_is_no_export() {
    let diary = "start,end,label,place\n2026-01-05T10:00:00Z,2026-01-05T12:00:00Z,choir,\n2026-01-06T10:00:00Z,2026-01-06T12:00:00Z,choir,\n";
    let folder = Folder::new(&[("diary.csv", diary)]);
    let seen = folder.inspect("diary.csv");
    assert_eq!(seen.code, Some(1), "{}", seen.stdout);
    assert!(seen.stdout.contains("no column with temperatures beside the time"), "{}", seen.stdout);
}

const TIMETABLE: &str =
    "on,off\n2026-01-05T09:00:00Z,2026-01-05T15:30:00Z\n2026-01-06T09:00:00Z,2026-01-06T21:00:00Z\n";

#[test]
fn tables_without_readings_are_named_once_and_cost_no_exit_code() {
    let diary =
        "start,end,label\n2026-01-05 10:00,2026-01-05 12:00,choir\n2026-01-06 10:00,2026-01-06 12:00,choir\n";
    let folder = Folder::new(&[
        ("living.csv", plain(0, 0..300).as_str()),
        ("diary.csv", diary),
        ("heating.csv", TIMETABLE),
    ]);
    let drafted = folder.draft();
    assert_eq!(drafted.code, Some(0), "{}", drafted.stdout);
    let told = "not logger exports: diary.csv, heating.csv (tables of times and words, without readings)";
    assert_eq!(drafted.stdout.matches(told).count(), 1, "{}", drafted.stdout);
    assert!(!drafted.stdout.contains("not in the roster"), "{}", drafted.stdout);
    let audited = folder.decide_and_audit(&[("home", "1A")]);
    assert_eq!(audited.code, Some(0), "{}", audited.stderr);
    assert!(audited.stderr.contains(told) && !audited.stderr.contains("does not name"), "{}", audited.stderr);
}

#[test]
fn a_damaged_export_beside_them_is_still_told() {
    let row = |n: usize| format!("{},#ERR\n", written_time(n));
    let damaged = format!("time,value\n{}", (0..300).map(row).collect::<String>());
    let folder = Folder::new(&[
        ("living.csv", plain(0, 0..300).as_str()),
        ("bath.csv", &damaged),
        ("heating.csv", TIMETABLE),
    ]);
    let drafted = folder.draft();
    assert_eq!(drafted.code, Some(1), "{}", drafted.stdout);
    assert!(drafted.stdout.contains("not in the roster: bath.csv: line 1: "), "{}", drafted.stdout);
    let audited = folder.decide_and_audit(&[("home", "1A")]);
    let told = "the roster does not name 1 of the files: bath.csv; not understood as an export: bath.csv";
    assert!(audited.stderr.contains(told), "{}", audited.stderr);
}

#[test]
fn a_file_that_names_no_room_is_asked_about_and_refused_until_then() {
    let folder = Folder::new(&[
        ("1A/living.csv", plain(0, 0..900).as_str()),
        ("1A/bath.csv", &plain(3, 0..900)),
        ("1A/unknown_location.csv", &plain(1, 0..900)),
    ]);
    let drafted = folder.draft();
    assert!(
        drafted.stdout.contains(
            "roster.csv: decide: room (\"unknown location\" names none; nearest to 1A/living.csv: 0.7 K apart"
        ),
        "{}",
        drafted.stdout
    );
    let open = folder.roster().into_iter().find(|r| r["logger"] == "unknown_location").unwrap();
    assert_eq!(open["room"], "decide");
    let refused = run(&folder.path("site"), &["audit", "site.toml", "--out", "out"]);
    assert_eq!(refused.code, Some(2), "{}", refused.stdout);
    assert!(refused.stderr.contains("found `room` = \"decide\""), "{}", refused.stderr);
    let audited = folder.decide_and_audit(&[("room", "pantry"), ("heated", "no")]);
    assert_eq!(audited.code, Some(0), "{}", audited.stderr);
}

#[test]
fn a_copy_by_way_of_fahrenheit_is_left_out_and_told() {
    let by_degf = |n: usize| {
        let degf = format!("{:.1}", degc(0, n)).parse::<f64>().unwrap() * 1.8 + 32.0;
        format!("{},{degf:.1}\n", written_time(n))
    };
    let degf = format!("time,temperature (°F)\n{}", (0..900).map(by_degf).collect::<String>());
    let folder = Folder::new(&[
        ("1A/living.csv", plain(0, 0..900).as_str()),
        ("1A/bath.csv", &plain(1, 0..900)),
        ("1A/living again.csv", &degf),
    ]);
    let drafted = folder.draft();
    let told = "not in the roster: 1A/living again.csv: rounded anew, the same readings as 1A/living.csv";
    assert!(drafted.stdout.contains(told), "{}", drafted.stdout);
    folder.decide_and_audit(&[]);
    let text = fs::read_to_string(folder.path("site/out/findings.csv")).unwrap();
    let found = text.lines().find(|l| l.contains("same-readings")).unwrap_or_else(|| panic!("{text}"));
    assert!(found.contains("rounded anew (never more than 0.0"), "{found}");
    assert!(found.contains("2026-01-05 00:00 to 2026-01-11 05:50"), "{found}");
}

/// A long file: the quantity in each row, blocks of one after the other as a database writes them.
fn long(unit: bool, blocks: &[(&str, &str, f64)]) -> String {
    let mut text = if unit { "ts,property,unit,value\n" } else { "ts,property,value\n" }.to_owned();
    for (quantity, of_unit, base) in blocks {
        for n in 0..2500 {
            let of_unit = if unit { format!("{of_unit},") } else { String::new() };
            writeln!(
                text,
                "{},{quantity},{of_unit}{:.1}",
                written_time(n),
                base + (n * 7 % 23) as f64 / 10.0
            )
            .unwrap();
        }
    }
    text
}

const MIXED: [(&str, &str, f64); 3] =
    [("co2", "ppm", 600.0), ("humidity", "%", 40.0), ("temperature", "°C", 20.0)];

#[test]
fn of_a_long_file_of_several_quantities_the_temperature_is_read() {
    for unit in [true, false] {
        let folder = Folder::new(&[("living.csv", &long(unit, &MIXED))]);
        let drafted = folder.draft();
        assert_eq!(folder.column("room"), ["living"], "{}", drafted.stdout);
        let audited = folder.decide_and_audit(&[("home", "1A")]);
        assert_eq!(audited.code, Some(0), "{}", audited.stderr);
        let logger = &folder.loggers()[0];
        let cell = |name: &str| logger[name].parse::<usize>().unwrap();
        assert_eq!(
            (cell("rows_kept"), cell("rows_set_aside")),
            (2500, 0),
            "rows of other quantities are others'"
        );
    }
}

#[test]
fn of_a_long_file_with_names_nobody_knows_the_unit_tells_the_temperature() {
    let blocks = [("k1", "ppm", 600.0), ("k2", "°C", 20.0)];
    let folder = Folder::new(&[("living.csv", &long(true, &blocks))]);
    folder.draft();
    let audited = folder.decide_and_audit(&[("home", "1A")]);
    assert_eq!(audited.code, Some(0), "{}", audited.stderr);
    assert_eq!(folder.loggers()[0]["rows_kept"], "2500");
}

/// Two temperatures: a person says which, in the `column` of the roster.
#[test]
fn of_several_temperature_quantities_a_person_chooses() {
    let blocks =
        [("air temperature", "°C", 20.0), ("floor temperature", "°C", 24.0), ("humidity", "%", 40.0)];
    let folder = Folder::new(&[("1A/living.csv", &long(true, &blocks))]);
    let drafted = folder.draft();
    assert!(drafted.stdout.contains("decide: column"), "{}", drafted.stdout);
    let roster = "home,room,use,heated,logger,file,column\n1A,living,living,yes,L,1A/living.csv,";
    fs::write(folder.path("site/roster.csv"), format!("{roster}\n")).unwrap();
    let audited = folder.decide_and_audit(&[]);
    assert!(audited.stderr.contains("several of its quantities are temperatures"), "{}", audited.stderr);
    fs::write(folder.path("site/roster.csv"), format!("{roster}Floor temperature\n")).unwrap();
    let audited = folder.decide_and_audit(&[]);
    assert_eq!(audited.code, Some(0), "{}", audited.stderr);
    assert_eq!(folder.loggers()[0]["rows_kept"], "2500");
}

#[test]
fn a_long_file_without_a_temperature_is_named_and_no_room() {
    let folder = Folder::new(&[("gas.csv", &long(true, &MIXED[..2])), ("1A/living.csv", &plain(0, 0..300))]);
    let drafted = folder.draft();
    assert_eq!(folder.column("file"), ["1A/living.csv"]);
    assert!(drafted.stdout.contains("gas.csv: its rows measure co2, humidity"), "{}", drafted.stdout);
}

/// Words about the weather come and go: they name no loggers.
#[test]
fn conditions_of_the_weather_are_no_loggers() {
    let mut text = "datetime,temp,humidity,windspeed,precip,conditions\n".to_owned();
    for n in 0..400 {
        let words = ["Clear", "Rain", "Partly cloudy", "Snow"][n / 7 % 4];
        writeln!(text, "{}:00,{:.1},80,{}.5,0.0,{words}", written_time(n * 6), degc(0, n) - 18.0, n % 20)
            .unwrap();
    }
    let folder = Folder::new(&[
        ("town.csv", &text),
        ("1A/living.csv", &plain(0, 0..2400)),
        ("1A/bath.csv", &plain(1, 0..2400)),
    ]);
    let seen = folder.inspect("town.csv");
    assert!(!seen.stdout.contains("loggers"), "{}", seen.stdout);
    folder.draft();
    assert_eq!(folder.column("room"), ["bath", "living"]);
    let site = folder.site();
    assert!(site.contains("outdoor = { file = \"town.csv\""), "{site}");
}

/// Seconds from a start that the file does not tell.
#[test]
fn a_file_that_counts_from_its_start_asks_which_moment_is_0() {
    let mut text = "elapsed (min),temperature (°C)\n".to_owned();
    for n in 0..500 {
        writeln!(text, "{},{:.1}", n * 10, degc(0, n)).unwrap();
    }
    let folder = Folder::new(&[("living.csv", &text)]);
    assert!(folder.inspect("living.csv").stdout.contains("minutes since 2026-01-05 10:00"));
    let drafted = folder.draft();
    assert_eq!(drafted.code, Some(0), "{}", drafted.stdout);
    assert_eq!(folder.column("dates"), ["decide"]);
    assert!(drafted.stdout.contains("decide: dates (which moment is 0: minutes since"), "{}", drafted.stdout);
    let audited = folder.decide_and_audit(&[("home", "1A"), ("dates", "minutes since 2026-01-05 10:00")]);
    assert_eq!(audited.code, Some(0), "{}", audited.stderr);
    let logger = &folder.loggers()[0];
    assert_eq!((logger["rows_kept"].as_str(), logger["first_utc"].as_str()), ("500", "2026-01-05T16:00:00Z"));
}

/// Loggers of one folder, each named by its file; columns named after quantities are no rooms.
#[test]
fn rooms_are_named_after_files_and_never_after_quantities() {
    let names = ["eng1-crypt.csv", "eng2-robes.csv", "under_the_stairs.csv"];
    let texts: Vec<String> = (0..3).map(|k| numbered(SERIAL_ONCE, k, 0..400, with_serial_once)).collect();
    let files: Vec<(&str, &str)> = names.iter().zip(&texts).map(|(n, t)| (*n, t.as_str())).collect();
    let folder = Folder::new(&files);
    let drafted = folder.draft();
    assert_eq!(folder.column("room"), ["eng1 crypt", "eng2 robes", "under the stairs"]);
    assert_eq!(
        folder.column("home"),
        ["decide", "decide", "decide"],
        "one folder, and nothing that names a home"
    );
    let asked: Vec<&str> = drafted.stdout.lines().filter(|l| l.contains("decide: home")).collect();
    assert_eq!(asked.len(), 1, "one message for all of a kind: {}", drafted.stdout);
    assert!(asked[0].contains("lines 2-4"), "{}", drafted.stdout);
    let audited = folder.decide_and_audit(&[("home", "house"), ("heated", "yes")]);
    assert_eq!(audited.code, Some(0), "{}", audited.stderr);
    assert!(folder.loggers().iter().all(|l| l["rows_kept"] == "400"));
}

#[test]
fn a_name_above_the_numbers_names_the_room_of_a_numbered_file() {
    let text = numbered(SERIAL_ONCE, 0, 0..400, with_serial_once);
    let folder = Folder::new(&[("2026-01/204417.csv", &text)]);
    folder.draft();
    assert_eq!(folder.column("room"), ["Vestibule"]);
    assert_eq!(folder.column("home"), ["decide"], "a month is no home");
}

#[test]
fn loggers_that_are_numbered_are_one_home() {
    let texts: Vec<String> = (0..4).map(|k| plain(k, 0..300)).collect();
    let names = ["1_living.csv", "2_bath.csv", "3_kitchen.csv", "4.csv"];
    let files: Vec<(&str, &str)> = names.iter().zip(&texts).map(|(n, t)| (*n, t.as_str())).collect();
    let folder = Folder::new(&files);
    folder.draft();
    assert_eq!(folder.column("home"), ["decide"; 4]);
    let homes = [("2_living.csv", texts[0].as_str()), ("2_bath.csv", &texts[1]), ("3_bath.csv", &texts[2])];
    let folder = Folder::new(&homes);
    folder.draft();
    assert_eq!(folder.column("home"), ["2", "2", "3"], "numbers that come again are homes");
}

#[test]
fn columns_of_a_wide_file_are_named_by_their_labels_only_if_nothing_else_speaks() {
    let mut text = "time,T1 (°C),T2 (°C),T3 (°C),battery (V)\n".to_owned();
    for n in 0..300 {
        writeln!(text, "{},{:.1},{:.1},{:.1},3.1", written_time(n), degc(0, n), degc(1, n), degc(2, n))
            .unwrap();
    }
    let folder = Folder::new(&[("export.csv", &text)]);
    folder.draft();
    assert_eq!(folder.column("room"), ["T1", "T2", "T3"]);
    let audited = folder.decide_and_audit(&[("home", "1A"), ("heated", "yes")]);
    assert_eq!(audited.code, Some(0), "{}", audited.stderr);
}

/// Rooms, the weather and other things side by side in one file.
#[test]
fn a_wide_file_with_the_weather_in_it_gives_its_rooms_and_its_outdoors() {
    let mut text = "date,machines,T1,RH_1,T2,RH_2,T_out,windspeed,visibility,x1\n".to_owned();
    for n in 0..300 {
        let (a, b) = (degc(0, n), degc(1, n));
        writeln!(
            text,
            "{}:00,{}.5,{a:.1},40,{b:.1},41,{:.1},3.5,40,{}.5",
            written_time(n),
            60 + n % 7,
            a - 15.0,
            n % 50
        )
        .unwrap();
    }
    let folder = Folder::new(&[("complete.csv", &text)]);
    let drafted = folder.draft();
    assert_eq!(folder.column("room"), ["T1", "T2"], "{}", drafted.stdout);
    assert!(
        folder.site().contains("outdoor = { file = \"complete.csv\", column = \"T_out\", unit = \"°C\""),
        "{}",
        folder.site()
    );
    assert!(
        drafted.stdout.contains(
            "column not judged, no logger is missing for it: machines in complete.csv: nothing in its name"
        ),
        "{}",
        drafted.stdout
    );
}

/// One logger was taken away on the third day, and another put in its place.
#[test]
fn a_logger_that_replaces_another_gets_its_from() {
    let folder = Folder::new(&[
        ("1A/living.csv", &plain(0, 0..300)),
        ("1A/living 2.csv", &plain(1, 310..600)),
        ("1A/bath.csv", &plain(2, 0..600)),
    ]);
    folder.draft();
    assert_eq!(folder.column("room"), ["bath", "living", "living"]);
    assert_eq!(folder.column("from"), ["", "2026-01-07 03:40", ""]);
    assert_eq!(folder.column("to"), ["", "", "2026-01-07 01:51"]);
    let audited = folder.decide_and_audit(&[]);
    assert_eq!(audited.code, Some(0), "{}", audited.stderr);
    assert!(folder.loggers().iter().all(|l| l["rows_set_aside"] == "0"));
}

#[test]
fn loggers_that_lay_side_by_side_are_told_with_lines_to_paste() {
    let logger = |k: usize| {
        let row = |n: usize| {
            let x = if n < 120 { 21.0 + (n % 5 + k) as f64 / 10.0 } else { degc(3 * k, n) };
            format!("{},{x:.1}\n", written_time(n))
        };
        format!("time,temperature (°C)\n{}", (0..1000).map(row).collect::<String>())
    };
    // Each lies a little apart: they are no copies.
    let texts: Vec<String> = (0..4).map(logger).collect();
    let folder = Folder::new(&[
        ("1A/living.csv", &texts[0]),
        ("1A/bath.csv", &texts[1]),
        ("1A/kitchen.csv", &texts[2]),
        ("1A/hall.csv", &texts[3]),
    ]);
    folder.draft();
    let site = folder.site();
    assert!(site.contains("# from = \"2026-01-05 00:00\"\n# to = \"2026-01-05 19:55\""), "{site}");
    assert!(site.contains("4 loggers ran within"), "{site}");
    folder.decide_and_audit(&[("heated", "yes")]);
    let text = fs::read_to_string(folder.path("site/out/findings.csv")).unwrap();
    assert!(text.contains("(2026-01-05 00:00 to 2026-01-05 19:55)"), "an audit tells the same span: {text}");
}

/// The loggers of the sample lay side by side from 16:00 on 26 January to 0:00 on the 28th, the homes in rooms of their own.
#[test]
fn the_side_by_side_time_of_the_sample_is_told() {
    let out = tempfile::tempdir().unwrap();
    let to = out.path().to_str().unwrap();
    let args = ["draft", "exports", "--out", to, "--time-zone", "America/Chicago", "--clock", "civil"];
    let ran = run(&sample_folder(), &args);
    assert_eq!(ran.code, Some(0), "{}", ran.stderr);
    let site = fs::read_to_string(out.path().join("site.toml")).unwrap();
    let told = |key: &str| {
        let (_, value) = site.rsplit_once(&format!("# {key} = \"")).unwrap();
        value.split('"').next().unwrap().to_owned()
    };
    assert!(site.contains("home by home"), "{site}");
    let (from, to) = (told("from"), told("to"));
    assert!(
        "2026-01-26 00:00" <= from.as_str() && from < to && to.as_str() <= "2026-01-28 00:00",
        "{from} {to}"
    );
}

#[test]
fn a_draft_knows_the_heat_rules_of_its_time_zone() {
    let folder = Folder::new(&[("1A/living.csv", &plain(0, 0..300))]);
    folder.draft();
    let site = folder.site();
    assert!(site.contains("# preset = \"chicago\""), "{site}");
    assert!(!site.contains("new-york-city"), "{site}");
}

#[test]
fn values_that_look_like_outdoors_are_asked_about() {
    let mut cold = "time,temperature (°C)\n".to_owned();
    for n in 0..900 {
        writeln!(cold, "{},{:.1}", written_time(n), 6.0 * (degc(0, n) - 20.0)).unwrap();
    }
    let rooms: Vec<String> = (0..3).map(|k| plain(k, 0..900)).collect();
    let folder = Folder::new(&[
        ("1A/living.csv", &rooms[0]),
        ("1A/bath.csv", &rooms[1]),
        ("1A/kitchen.csv", &rooms[2]),
        ("1A/north.csv", &cold),
    ]);
    folder.draft();
    assert!(folder.site().contains("# outdoor = { file = \"1A/north.csv\""), "{}", folder.site());
    let north = folder.roster().into_iter().find(|r| r["room"] == "north").unwrap();
    assert_eq!(north["heated"], "decide");
    assert!(north["note"].contains("or outdoors"), "{}", north["note"]);
}

#[test]
fn without_a_terminal_nothing_is_asked() {
    let folder = Folder::new(&[("1A/living.csv", &plain(0, 0..300))]);
    let ran = run(folder.dir.path(), &["draft", "exports", "--out", "site", "--ask"]);
    assert_eq!(ran.code, Some(0), "{}", ran.stderr);
    assert!(ran.stderr.contains("no terminal"), "{}", ran.stderr);
    assert!(folder.site().contains("time_zone = \"decide\""));
}

/// Taken for a clock that follows, the audit could not read those rows.
#[test]
fn a_clock_that_ran_on_through_the_night_of_the_change_is_asked_for() {
    let through = |from: usize| {
        let row = |n: usize| {
            let (day, hour, minute) = (29 + n / 144, n / 6 % 24, n % 6 * 10);
            let (month, day) = if day > 31 { (4, day - 31) } else { (3, day) };
            format!("2024-{month:02}-{day:02} {hour:02}:{minute:02},{:.1}\n", degc(from, n))
        };
        format!("time,temperature (°C)\n{}", (0..5 * 144).map(row).collect::<String>())
    };
    let folder = Folder::new(&[("bedroom.csv", through(1)), ("kitchen.csv", plain(2, 0..700))]);
    let drafted = folder.draft_bare();
    assert_eq!(folder.column("clock"), ["decide", ""]);
    assert!(
        drafted.stdout.contains("civil, but utc in Europe/London, fixed +01:00 in Europe/Berlin"),
        "{}",
        drafted.stdout
    );
    assert!(!drafted.stdout.contains("America"), "{}", drafted.stdout);
    folder.decide_site("Europe/London", "civil");
    let answers = [("home", "1A"), ("heated", "unknown"), ("clock", "utc")];
    let audited = folder.decide_and_audit(&answers);
    assert_eq!(audited.code, Some(0), "{}", audited.stderr);
    assert!(folder.loggers().iter().all(|l| l["rows_set_aside"] == "0"));
}
