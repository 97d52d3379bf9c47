//! A real house, where its open data set is beside the project: every row of every room is accounted for.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use crate::drafting_any::Folder;
use crate::program::files_in;
use crate::small_site::SmallSite;

/// Readings of the data set: one every 10 min from 11 January to 27 May 2016.
const ROWS: usize = 19_735;

const ROSTER: &str = "\
home,room,use,heated,logger,file,column,unit
H,kitchen,kitchen,yes,house,energydata_complete.csv,T1,°C
H,living room,living,yes,house,energydata_complete.csv,T2,°C
H,laundry,other,no,house,energydata_complete.csv,T3,°C
H,office,other,yes,house,energydata_complete.csv,T4,°C
H,bathroom,bathroom,no,house,energydata_complete.csv,T5,°C
H,ironing room,other,yes,house,energydata_complete.csv,T7,°C
H,teenager's bedroom,bedroom,yes,house,energydata_complete.csv,T8,°C
H,parents' bedroom,bedroom,yes,house,energydata_complete.csv,T9,°C
";

fn data() -> Option<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/data/belgian-house");
    folder.join("energydata_complete.csv").is_file().then_some(folder)
}

#[expect(clippy::print_stderr, reason = "a test that is skipped says so")]
fn skipped(what: &str) {
    eprintln!("skipped: the open data of the {what} are not there");
}

/// Audits the house with its loggers on a clock; the answer is the exit code and the loggers table.
fn audit(data: &Path, clock: &str) -> (SmallSite, Option<i32>, Vec<BTreeMap<String, String>>) {
    let site = format!(
        r#"[site]
name = "Belgian house"
time_zone = "Europe/Brussels"
roster = "roster.csv"
exports = '{}'
clock = "{clock}"
step = "10 min"
outdoor = {{ file = "energydata_complete.csv", column = "T_out", unit = "°C" }}

[quality]
tests = []

[band]
lower = "20 °C"
upper = "24 °C"
"#,
        data.display()
    );
    let site = SmallSite::new(&site, ROSTER);
    let ran = site.audit();
    let loggers = csv::Reader::from_path(site.out().join("loggers.csv"))
        .unwrap()
        .deserialize()
        .map(Result::unwrap)
        .collect();
    (site, ran.code, loggers)
}

#[test]
fn on_a_fixed_clock_every_row_of_the_house_is_kept() {
    let Some(data) = data() else { return skipped("Belgian house") };
    let (_site, code, loggers) = audit(&data, "fixed +01:00");
    assert_eq!(code, Some(0));
    assert_eq!(loggers.len(), 9, "eight rooms and the weather");
    for row in &loggers {
        let count = |column: &str| row[column].parse::<usize>().unwrap();
        let counts = ["rows_seen", "rows_kept", "not_evaluated"].map(count);
        assert_eq!(counts, [ROWS; 3], "{}", row["room"]);
        assert_eq!([&row["first_utc"], &row["last_utc"]], ["2016-01-11T16:00:00Z", "2016-05-27T17:00:00Z"]);
        assert_eq!(row["interval_s"], "600");
    }
}

/// On 27 March 2016 local time skipped the hour from 2:00, which this record has: its clock does not follow.
#[test]
fn on_a_civil_clock_the_hour_that_never_was_is_set_aside() {
    let Some(data) = data() else { return skipped("Belgian house") };
    let (site, code, loggers) = audit(&data, "civil");
    assert_eq!(code, Some(1), "rows with a time that never was are unreadable");
    for row in &loggers {
        let count = |column: &str| row[column].parse::<usize>().unwrap();
        let counts = ["rows_kept", "rows_set_aside"].map(count);
        assert_eq!(counts, [ROWS - 6, 6], "{}", row["room"]);
    }
    let provenance = std::fs::read(site.out().join("provenance.json")).unwrap();
    let provenance: serde_json::Value = serde_json::from_slice(&provenance).unwrap();
    let reasons: BTreeSet<String> =
        provenance["ledger"].as_array().unwrap().iter().map(|l| l["rows_set_aside"].to_string()).collect();
    assert_eq!(reasons, BTreeSet::from(["{\"time does not exist\":6}".to_owned()]));
}

/// Halls that people keep warm by hand, logged by themselves: their folders as they stand.
const HALLS: [(&str, usize); 3] = [("hall_a", 6), ("hall_b", 7), ("hall_c", 8)];
/// What lies in them and is no export.
const DIARIES: [&str; 2] = ["heating_timings.csv", "use_diary.csv"];

fn halls() -> Option<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/data/community-halls");
    folder.join("expectations.csv").is_file().then_some(folder)
}

#[test]
fn a_hall_becomes_an_audit_by_deciding_what_its_draft_marks() {
    let Some(halls) = halls() else { return skipped("community halls") };
    for (hall, rooms) in HALLS {
        let files = files_in(&halls.join(hall));
        let texts: Vec<(&str, &[u8])> = files.iter().map(|(n, b)| (n.as_str(), b.as_slice())).collect();
        let folder = Folder::new(&texts);
        for name in files.keys() {
            let seen = folder.inspect(name);
            assert_eq!(
                seen.code,
                Some(i32::from(DIARIES.contains(&name.as_str()))),
                "{hall}/{name}: {}",
                seen.stdout
            );
            assert!(!seen.stdout.contains("set aside"), "{hall}/{name}: {}", seen.stdout);
        }
        let drafted = folder.draft();
        assert_eq!(folder.roster().len(), rooms, "{hall}: {}", drafted.stdout);
        for row in folder.roster() {
            let stem = row["file"].trim_end_matches(".csv").replace(['_', '-'], " ");
            let room = if stem == "unknown location" { "decide" } else { &stem };
            assert_eq!(row["room"], room, "{hall}");
            assert!(["", "Celsius", "Celsius(°C)"].contains(&row["column"].as_str()), "{hall}: {row:?}");
        }
        let audited = folder.decide_and_audit(&[("home", hall), ("heated", "no"), ("room", "pantry")]);
        assert_eq!(audited.code, Some(0), "{hall}: {}", audited.stderr);
        assert!(folder.loggers().iter().all(|l| l["rows_set_aside"] == "0"), "{hall}");
        // Somebody who knows no options, nor which rooms are heated.
        let folder = Folder::new(&texts);
        folder.draft_bare();
        folder.decide_site("Europe/London", "civil");
        let answers = [("home", hall), ("heated", "unknown"), ("room", "pantry"), ("clock", "fixed +00:00")];
        let audited = folder.decide_and_audit(&answers);
        assert_eq!(audited.code, Some(0), "{hall}: {}", audited.stderr);
    }
}
