//! From a folder of exports as people keep them to an audit: draft, decide what is marked, audit.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use insta::assert_snapshot;
use tempfile::TempDir;

use crate::drafting_exports::{EVERY_MIN, Record, Written, write};
use crate::program::{Ran, run};
use crate::small_site::written_time;

/// A folder of exports, and a place for the draft beside it.
struct Downloads {
    site: TempDir,
}

/// Three days.
const ROWS: usize = 3 * 24 * 60 / EVERY_MIN;

impl Downloads {
    /// Twelve loggers in eight dialects, in three homes; one of them says nothing of its place.
    fn new() -> Self {
        let downloads = Self { site: tempfile::tempdir().unwrap() };
        let day = ROWS / 3;
        let all = 0..ROWS;
        for (number, (file, written)) in LOGGERS.iter().enumerate() {
            downloads.put(file, &write(*written, &[Record::new(number, all.clone())]));
        }
        let rooms = [9, 10, 11].map(|number| Record::new(number, all.clone()));
        downloads.put("3C rooms.csv", &write(Written::Wide, &rooms));
        downloads.put("weather.csv", &write(Written::Hourly, &[Record::new(12, all)]));
        let later = Record::new(0, ROWS - day..ROWS + day);
        downloads.put("1A living_2.csv", &write(LOGGERS[0].1, &[later]));
        downloads.put("before/1A bedroom.csv", &write(LOGGERS[1].1, &[Record::new(1, 0..day)]));
        let twin = fs::read(downloads.exports().join(LOGGERS[7].0)).unwrap();
        downloads.put("2B/unsorted.csv", &twin);
        downloads
    }

    fn exports(&self) -> PathBuf {
        self.site.path().join("downloads")
    }

    fn put(&self, name: &str, bytes: &[u8]) {
        let path = self.exports().join(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, bytes).unwrap();
    }

    fn draft(&self, options: &[&str]) -> Ran {
        let ran = run(self.site.path(), &[&["draft", "downloads", "--out", "audit"], options].concat());
        assert_eq!(ran.code, Some(0), "{}{}", ran.stdout, ran.stderr);
        ran
    }

    fn audit(&self) -> Ran {
        run(&self.site.path().join("audit"), &["audit", "site.toml", "--out", "out"])
    }

    fn path(&self, name: &str) -> PathBuf {
        self.site.path().join("audit").join(name)
    }
}

const LOGGERS: [(&str, Written); 9] = [
    ("1A living.csv", Written::Plain),
    ("1A bedroom.csv", Written::DecimalCommaDayFirst),
    ("1A kitchen.txt", Written::Utf16Tab),
    ("1A bath.csv", Written::MonthFirstAmPm),
    ("2B/living.csv.gz", Written::Compressed),
    ("2B/bedroom 1.xlsx", Written::Workbook),
    ("2B/bathroom.csv", Written::EpochSeconds),
    ("2B/kitchen.csv", Written::WithOffset),
    ("204417.csv", Written::Plain),
];

const OPTIONS: [&str; 4] = ["--time-zone", "America/Chicago", "--clock", "civil"];

type Rows = Vec<BTreeMap<String, String>>;

fn rows_of(path: &Path) -> Rows {
    csv::Reader::from_path(path).unwrap().deserialize().map(Result::unwrap).collect()
}

/// Fills in each cell that says "decide", and nothing else; the answer is how many there were.
fn decide(roster: &Path, answers: &[(&str, &str)]) -> usize {
    let mut reader = csv::Reader::from_path(roster).unwrap();
    let header = reader.headers().unwrap().clone();
    let records: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    let mut writer = csv::Writer::from_path(roster).unwrap();
    writer.write_record(&header).unwrap();
    let mut decided = 0;
    for record in &records {
        let answer = |(name, cell): (&str, &str)| match cell {
            "decide" => {
                decided += 1;
                answers.iter().find(|(column, _)| *column == name).unwrap().1.to_owned()
            }
            cell => cell.to_owned(),
        };
        let cells: Vec<String> = header.iter().zip(record).map(answer).collect();
        writer.write_record(cells).unwrap();
    }
    writer.flush().unwrap();
    decided
}

#[test]
fn a_folder_of_exports_becomes_an_audit_by_deciding_what_is_marked() {
    let downloads = Downloads::new();
    let drafted = downloads.draft(&OPTIONS);
    assert_snapshot!(drafted.stdout, @r#"
    Drafted audit/site.toml and roster.csv with 13 rows.
      not in the roster: 2B/unsorted.csv: the same readings as 2B/kitchen.csv
      not in the roster: before/1A bedroom.csv: an older copy, wholly contained in 1A bedroom.csv
    Decide, where the files say "decide":
      roster.csv: decide: home (no name says it; one folder, one home: "downloads"?), line 7
      roster.csv: decide: heated (yes, no or unknown), lines 7, 14
    Then: evenrooms audit audit/site.toml --out audit/audit
    "#);
    let roster = downloads.path("roster.csv");
    assert_snapshot!(fs::read_to_string(&roster).unwrap(), @r#"
    home,room,use,heated,logger,file,column,unit,clock,dates,from,to,note
    1A,bath,bathroom,no,1A bath,1A bath.csv,,,,,,,proposed: use and heated (from the word bath)
    1A,bedroom,bedroom,yes,1A bedroom,1A bedroom.csv,,,,,,,proposed: use and heated (from the word bedroom)
    1A,kitchen,kitchen,no,1A kitchen,1A kitchen.txt,,,,,,,proposed: use and heated (from the word kitchen)
    1A,living,living,yes,1A living,1A living.csv,,,,,,,proposed: use and heated (from the word living)
    1A,living,living,yes,1A living,1A living_2.csv,,,,,,,check: a second download of the logger in 1A living.csv; proposed: use and heated (from the word living)
    decide,204417,other,decide,204417,204417.csv,,,,,,,"decide: home (no name says it; one folder, one home: ""downloads""?); check: room (named after the logger); decide: heated (yes, no or unknown); check: use"
    2B,bathroom,bathroom,no,bathroom,2B/bathroom.csv,,,,,,,proposed: use and heated (from the word bathroom)
    2B,bedroom 1,bedroom,yes,bedroom 1,2B/bedroom 1.xlsx,,,,,,,proposed: use and heated (from the word bedroom)
    2B,kitchen,kitchen,no,kitchen,2B/kitchen.csv,,,,,,,proposed: use and heated (from the word kitchen)
    2B,living,living,yes,living,2B/living.csv.gz,,,,,,,proposed: use and heated (from the word living)
    3C,living,living,yes,3C rooms,3C rooms.csv,living (°C),,,,,,proposed: use and heated (from the word living)
    3C,bedroom,bedroom,yes,3C rooms,3C rooms.csv,bedroom (°C),,,,,,proposed: use and heated (from the word bedroom)
    3C,hall,hall,decide,3C rooms,3C rooms.csv,hall (°C),,,,,,"decide: heated (yes, no or unknown); proposed: use (from the word hall)"
    "#);
    assert!(decide(&roster, &[("home", "3C"), ("heated", "no")]) > 0);
    let audited = downloads.audit();
    assert_eq!(audited.code, Some(0), "{}", audited.stderr);
    let copy = "the roster does not name copies of files that it names: 2B/unsorted.csv (of 2B/kitchen.csv)";
    let unnamed = "the roster does not name 1 of the files: before/1A bedroom.csv";
    assert!(audited.stderr.contains(copy) && audited.stderr.contains(unnamed), "{}", audited.stderr);
    assert_eq!(audited.stderr.lines().count(), 4, "{}", audited.stderr);
    let loggers = rows_of(&downloads.path("out/loggers.csv"));
    let count = |column: &str| loggers.iter().map(|l| l[column].parse::<usize>().unwrap()).sum::<usize>();
    let day = ROWS / 3;
    let rooms = 12 * ROWS + day;
    let weather = ROWS * EVERY_MIN / 60;
    assert_eq!(count("rows_kept"), rooms + weather, "all rows of all loggers");
    assert_eq!(count("rows_set_aside"), day, "only what both downloads of one logger have");
    let homes: Vec<&str> = loggers.iter().map(|l| l["home"].as_str()).filter(|h| !h.is_empty()).collect();
    assert_eq!(["1A", "2B", "3C"].map(|home| homes.iter().filter(|h| **h == home).count()), [4, 4, 4]);
}

#[test]
fn an_undecided_draft_is_refused_line_by_line() {
    let downloads = Downloads::new();
    let drafted = downloads.draft(&[]);
    assert!(drafted.stdout.contains("decide: time_zone"), "{}", drafted.stdout);
    let audited = downloads.audit();
    assert_eq!((audited.code, audited.stdout.as_str()), (Some(2), ""), "{}", audited.stderr);
    let found: Vec<&str> = audited.stderr.lines().filter_map(|l| l.split(", expected").next()).collect();
    for line in [
        "site.toml:12: found unknown time zone \"decide\"",
        "site.toml:15: found `clock = \"decide\"`",
        "roster.csv:7: found `heated` = \"decide\"",
        "roster.csv:14: found `heated` = \"decide\"",
    ] {
        assert!(found.iter().any(|f| f.ends_with(line)), "{line}\n{}", audited.stderr);
    }
}

/// A home that nobody named must not become a home of that name.
#[test]
fn an_undecided_home_is_refused() {
    let downloads = Downloads { site: tempfile::tempdir().unwrap() };
    downloads.put("living.csv", &write(Written::Plain, &[Record::new(0, 0..ROWS)]));
    let drafted = downloads.draft(&OPTIONS);
    assert!(
        drafted
            .stdout
            .contains("decide: home (no name says it; one folder, one home: \"downloads\"?), line 2"),
        "{}",
        drafted.stdout
    );
    let audited = downloads.audit();
    assert_eq!(audited.code, Some(2), "{}", audited.stdout);
    assert!(audited.stderr.contains("roster.csv:2: found `home` = \"decide\""), "{}", audited.stderr);
}

/// What people call a copy sorts before what it was copied from.
#[test]
fn of_two_equal_files_the_one_that_says_copy_is_left_out() {
    let downloads = Downloads::new();
    let twin = fs::read(downloads.exports().join("1A living.csv")).unwrap();
    downloads.put("1A living - copy.csv", &twin);
    downloads.put("1A living (1).csv", &twin);
    downloads.draft(&OPTIONS);
    let roster = fs::read_to_string(downloads.path("roster.csv")).unwrap();
    assert!(roster.contains(",1A living.csv,"), "{roster}");
    assert!(!roster.contains("copy") && !roster.contains("(1)"), "{roster}");
}

/// The rows of a long file go to as many rooms as it names loggers.
#[test]
fn a_long_file_becomes_several_rooms() {
    let downloads = Downloads::new();
    let records = [13, 14, 15].map(|number| Record::new(number, 0..ROWS));
    downloads.put("4D.csv", &write(Written::Long, &records));
    downloads.draft(&OPTIONS);
    decide(&downloads.path("roster.csv"), &[("home", "3C"), ("heated", "no")]);
    let audited = downloads.audit();
    assert_eq!(audited.code, Some(0), "{}", audited.stderr);
    let loggers = rows_of(&downloads.path("out/loggers.csv"));
    let long = loggers.iter().filter(|l| l["file"] == "4D.csv");
    assert_eq!(long.map(|l| l["rows_kept"].clone()).collect::<Vec<_>>(), vec![ROWS.to_string(); 3]);
}

/// A folder with one export of a living room, its columns named so; what the draft prints, and its roster.
fn drafted_from(header: &str) -> (String, String) {
    let downloads = Downloads { site: tempfile::tempdir().unwrap() };
    let row = |n: usize| {
        let x = 20.5 + (n % 7) as f64 / 10.0;
        let more: String =
            (1..header.matches(',').count()).map(|k| format!(",{:.1}", x + k as f64)).collect();
        format!("{},{x:.1}{more}\n", written_time(n))
    };
    let text = format!("{header}\n{}", (0..288).map(row).collect::<String>());
    downloads.put("1A/living.csv", text.as_bytes());
    let ran = downloads.draft(&["--time-zone", "America/Chicago", "--clock", "civil"]);
    (ran.stdout, fs::read_to_string(downloads.site.path().join("audit/roster.csv")).unwrap())
}

#[test]
fn a_setpoint_beside_the_temperature_is_no_room() {
    let (said, roster) = drafted_from("time,Setpoint (°C),Room temp (°C),Dew point (°C)");
    assert_eq!(roster.lines().count(), 2, "{roster}");
    assert!(roster.contains("1A/living.csv,Room temp (°C),"), "{roster}");
    assert!(
        said.contains(
            "column not judged, no logger is missing for it: Setpoint (°C) in 1A/living.csv: its name speaks of something else"
        ),
        "{said}"
    );
    assert!(
        said.contains("column not judged, no logger is missing for it: Dew point (°C) in 1A/living.csv"),
        "{said}"
    );
    assert!(!said.contains("not in the roster"), "{said}");
    assert!(said.contains("Nothing is left to decide"), "{said}");
}

#[test]
fn of_several_columns_that_may_be_the_room_a_person_chooses() {
    let (said, roster) = drafted_from("time,probe A (°C),probe B (°C)");
    assert_eq!(roster.lines().count(), 3, "{roster}");
    assert!(said.contains("decide: column (keep the row with the room's temperature"), "{said}");
    let (_, roster) = drafted_from("time,°C,°C");
    assert!(roster.contains("1A/living.csv,2,") && roster.contains("1A/living.csv,3,"), "{roster}");
}
