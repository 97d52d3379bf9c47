//! Readings that stand for two rooms: told, and no verdict on evenness rests on them.

use std::fs;

use crate::program::Ran;
use crate::small_site::{SITE, SmallSite, written_time};

/// A room over three weeks; another seed is another room.
fn room(seed: u64) -> Vec<f64> {
    let (mut state, mut degc) = (seed, 20.5);
    let mut next = || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 40) as f64 / f64::from(1 << 24) - 0.5
    };
    let mut value = || {
        degc += 0.2 * next() - 0.02 * (degc - 20.5);
        (degc * 10.0).round() / 10.0
    };
    (0..3000).map(|_| value()).collect()
}

fn export(degc: &[f64]) -> Vec<u8> {
    let row = |(n, x): (usize, &f64)| format!("{},{x:.1}\n", written_time(n));
    format!("time,temperature (°C)\n{}", degc.iter().enumerate().map(row).collect::<String>()).into_bytes()
}

/// The same readings as another program writes them.
fn exported_anew(degc: &[f64]) -> Vec<u8> {
    let row = |(n, x): (usize, &f64)| format!("{:.1};{}\n", x, written_time(n)).replace('.', ",");
    let rows: String = degc.iter().enumerate().map(row).collect();
    format!("Temperature (°C);Time\n{rows}").into_bytes()
}

/// Home 1A with living, bedroom (heated) and attic, home 1B with living (heated) and attic: their loggers and exports.
fn site(loggers: [&str; 5], exports: [Vec<u8>; 5]) -> SmallSite {
    let places = [
        "1A,living,living,yes",
        "1A,bedroom,bedroom,yes",
        "1A,attic,other,no",
        "1B,living,living,yes",
        "1B,attic,other,no",
    ];
    let rows = places.iter().zip(loggers).enumerate();
    let rows: String = rows.map(|(n, (place, logger))| format!("{place},{logger},{n}.csv\n")).collect();
    let site = SITE.replace("20 °C", "15 °C").replace("24 °C", "28 °C")
        + "[[setback]]\ndays = \"mon\"\nfrom = \"02:00\"\nto = \"03:00\"\noccupied_target = \"15 °C\"\n";
    let small = SmallSite::new(&site, &format!("home,room,use,heated,logger,file\n{rows}"));
    for (n, bytes) in exports.into_iter().enumerate() {
        small.write(&format!("exports/{n}.csv"), &bytes);
    }
    small
}

const LOGGERS: [&str; 5] = ["L-1", "L-2", "L-3", "L-4", "L-5"];

fn rooms() -> [Vec<u8>; 5] {
    [1, 2, 3, 4, 5].map(|seed| export(&room(seed)))
}

/// Homes that are accepted without a word.
fn clear(ran: &Ran) -> String {
    let clear = ran.stdout.lines().filter_map(|line| line.strip_prefix("accept: "));
    clear.map(|line| line.trim().to_owned()).collect::<Vec<_>>().join(", ")
}

/// Rooms with a verdict on evenness in the table of metrics.
fn with_verdict(small: &SmallSite) -> Vec<String> {
    let metrics = fs::read_to_string(small.out().join("metrics.csv")).unwrap();
    let of = |line: &str| {
        let cells: Vec<&str> = line.split(',').collect();
        (cells[4..6] == ["all", "evenness_verdict"]).then(|| format!("{} {}", cells[1], cells[2]))
    };
    metrics.lines().filter_map(of).collect()
}

/// Audits, where nothing may be called even in rooms of these homes, and `rule` must tell why in both rooms.
fn told(small: &SmallSite, rule: &str, rooms: [&str; 2], verdicts: &[&str]) {
    let ran = small.audit();
    assert_eq!(ran.code, Some(0), "{}", ran.stderr);
    let findings = fs::read_to_string(small.out().join("findings.csv")).unwrap();
    for room in rooms {
        let id = format!(",{rule}/{room}/");
        assert!(findings.lines().any(|line| line.contains(&id)), "{id}\n{findings}");
        let (home, name) = room.split_once('/').unwrap();
        assert!(!clear(&ran).contains(home), "{}", ran.stdout);
        let why = "its readings are also those of another room";
        let of_room = |line: &str| line.contains("room-uneven") && line.contains(name) && line.contains(why);
        assert!(ran.stdout.lines().any(of_room), "{room}: {why}\n{}", ran.stdout);
    }
    assert_eq!(with_verdict(small), verdicts, "{}", ran.stdout);
}

#[test]
fn rooms_with_readings_of_their_own_keep_their_verdicts() {
    let small = site(LOGGERS, rooms());
    let ran = small.audit();
    assert_eq!(with_verdict(&small), ["1A living", "1A bedroom", "1A attic", "1B attic"]);
    assert_eq!(clear(&ran), "1A, 1B", "{}", ran.stdout);
}

#[test]
fn one_file_under_two_names_in_two_rooms() {
    let mut exports = rooms();
    exports[2] = exports[1].clone();
    told(&site(LOGGERS, exports), "same-readings", ["1A/bedroom", "1A/attic"], &["1B attic"]);
}

#[test]
fn one_file_under_two_names_in_two_homes() {
    let mut exports = rooms();
    exports[4] = exports[2].clone();
    told(&site(LOGGERS, exports), "same-readings", ["1A/attic", "1B/attic"], &["1A living", "1A bedroom"]);
}

#[test]
fn a_heated_room_that_is_a_copy_is_no_reference() {
    let mut exports = rooms();
    exports[3] = exports[0].clone();
    told(&site(LOGGERS, exports), "same-readings", ["1A/living", "1B/living"], &[]);
}

#[test]
fn equal_readings_in_exports_of_two_kinds() {
    let mut exports = rooms();
    exports[2] = exported_anew(&room(2));
    told(&site(LOGGERS, exports), "same-readings", ["1A/bedroom", "1A/attic"], &["1B attic"]);
}

/// A steady record has nothing by which two series are told to be one; two files that are the same byte by byte have.
#[test]
fn one_file_of_a_steady_room_under_two_names() {
    let steady = export(&[20.5; 3000]);
    let mut exports = rooms();
    (exports[1], exports[2]) = (steady.clone(), steady);
    told(&site(LOGGERS, exports), "same-readings", ["1A/bedroom", "1A/attic"], &["1B attic"]);
}

#[test]
fn one_file_of_a_day_under_two_names() {
    let mut exports = [1, 2, 3, 4, 5].map(|seed| export(&room(seed)[..180]));
    exports[2] = exports[1].clone();
    let small = site(LOGGERS, exports);
    told(&small, "same-readings", ["1A/bedroom", "1A/attic"], &["1B attic"]);
}

#[test]
fn two_steady_rooms_that_read_alike_are_no_copies() {
    let mut exports = rooms();
    let steady = export(&[20.5; 3000]);
    exports[2] = [&steady[..], b"\n"].concat();
    exports[4] = steady;
    let small = site(LOGGERS, exports);
    small.audit();
    let findings = fs::read_to_string(small.out().join("findings.csv")).unwrap();
    assert!(!findings.contains("same-readings"), "{findings}");
}

#[test]
fn one_logger_in_two_rooms_at_once() {
    let mut loggers = LOGGERS;
    loggers[2] = "L-2";
    told(&site(loggers, rooms()), "logger-in-two-rooms", ["1A/bedroom", "1A/attic"], &["1B attic"]);
}

#[test]
fn a_logger_that_moved_or_has_several_probes_is_in_its_place() {
    let mut loggers = LOGGERS;
    loggers[2] = "L-2";
    let small = site(loggers, rooms());
    // It stood in the bedroom for ten days, and in the attic for the others.
    let moved = room(2);
    small.write("exports/1.csv", &export(&moved[..1500]));
    let later: String = (1500..3000).map(|n| format!("{},{:.1}\n", written_time(n), moved[n])).collect();
    small.write("exports/2.csv", format!("time,temperature (°C)\n{later}").as_bytes());
    small.audit();
    let findings = || fs::read_to_string(small.out().join("findings.csv")).unwrap();
    assert!(!findings().contains("logger-in-two-rooms"), "{}", findings());
    // A probe in each room, in columns of one file.
    let (bedroom, attic) = (room(2), room(3));
    let row = |n: usize| format!("{},{:.1},{:.1}\n", written_time(n), bedroom[n], attic[n]);
    let rows: String = (0..3000).map(row).collect();
    small.write("exports/1.csv", format!("time,probe 1 (°C),probe 2 (°C)\n{rows}").as_bytes());
    let roster = fs::read_to_string(small.folder().join("roster.csv")).unwrap();
    let roster = roster.replace("logger,file\n", "logger,file,column\n").replace(".csv\n", ".csv,\n");
    let roster = roster
        .replace("L-2,1.csv,", "L-2,1.csv,probe 1 (°C)")
        .replace("L-2,2.csv,", "L-2,1.csv,probe 2 (°C)");
    small.write("roster.csv", roster.as_bytes());
    let ran = small.audit();
    assert_eq!(ran.code, Some(0), "{}", ran.stderr);
    assert!(!findings().contains("logger-in-two-rooms"), "{}", findings());
    assert_eq!(with_verdict(&small), ["1A living", "1A bedroom", "1A attic", "1B attic"]);
}

#[test]
fn one_file_in_two_rooms_is_that_of_neither() {
    let small = site(LOGGERS, rooms());
    let roster = fs::read_to_string(small.folder().join("roster.csv")).unwrap();
    small.write("roster.csv", roster.replace("2.csv", "1.csv").as_bytes());
    let ran = small.audit();
    assert_eq!(ran.code, Some(1), "{}", ran.stderr);
    let words = "1.csv: line 3 (1A bedroom, logger L-2) and line 4 (1A attic, logger L-3) of the roster take the same readings";
    assert!(ran.stderr.contains(words), "{}", ran.stderr);
    assert_eq!(with_verdict(&small), ["1B attic"], "{}", ran.stdout);
    assert_eq!(clear(&ran), "1B", "{}", ran.stdout);
}

#[test]
fn one_logger_with_one_file_in_two_rooms_is_refused() {
    let small = site(["L-1", "L-2", "L-2", "L-4", "L-5"], rooms());
    let roster = fs::read_to_string(small.folder().join("roster.csv")).unwrap();
    small.write("roster.csv", roster.replace("2.csv", "1.csv").as_bytes());
    let words = small.refused();
    assert!(words.contains("found 1.csv for 1A attic, though line 3 has it for 1A bedroom"), "{words}");
}
