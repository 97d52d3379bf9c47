//! Exports that are not there or cannot be understood: each is named, and the rest is audited.

use insta::assert_snapshot;

use crate::small_site::{ROSTER, SITE, SmallSite, standing, two_days};

/// The notes of an audit that goes on without the living room's export.
fn audited_without(bytes: Option<&[u8]>) -> String {
    let site = SmallSite::new(SITE, ROSTER);
    match bytes {
        Some(bytes) => site.write("exports/living.csv", bytes),
        None => site.remove("exports/living.csv"),
    }
    let ran = site.audit();
    assert_eq!(ran.code, Some(1), "{}", ran.stderr);
    let metrics = std::fs::read_to_string(site.out().join("metrics.csv")).unwrap();
    assert!(metrics.contains("\nAlder Row,1A,bedroom,whole record,all,mean,"), "the bedroom is audited");
    assert!(!metrics.contains("\nAlder Row,1A,living,whole record,all,mean,"), "the living room is not");
    assert!(ran.stdout.contains("thin-coverage"), "and that is a finding:\n{}", ran.stdout);
    ran.stderr
}

#[test]
fn one_missing_export_is_named_and_the_rest_is_audited() {
    assert_snapshot!(audited_without(None), @r"
    note: living.csv: there is no such file in exports
      hint: correct `file` in the roster, or put the export there
    ");
}

#[test]
fn without_any_export_nothing_is_done() {
    let site = SmallSite::new(SITE, ROSTER);
    site.remove("exports/living.csv");
    site.remove("exports/bedroom.csv");
    assert_snapshot!(site.refused(), @r#"
    evenrooms: exports: none of the roster's exports is there, expected "living.csv" and others
      hint: check `exports` in the site file: file names in the roster start from that folder
    "#);
}

#[test]
fn a_room_without_a_logger_is_told_and_never_clear() {
    let site = SmallSite::new(SITE, &format!("{ROSTER}1A,bathroom,bathroom,no,,\n"));
    let ran = site.audit();
    assert_eq!(ran.code, Some(0), "nothing was unreadable");
    assert_snapshot!(ran.stderr, @r"
    note: 1A bathroom: the roster names this room but no logger for it, so nothing is known about it
      hint: place a logger, or remove the row if the room does not count
    ");
    assert!(ran.stdout.contains("bathroom"), "{}", ran.stdout);
}

#[test]
fn a_home_without_any_logger_is_not_clear() {
    let site = SmallSite::new(SITE, &format!("{ROSTER}2A,living,living,yes,,\n"));
    let ran = site.audit();
    assert_eq!(ran.code, Some(0), "{}", ran.stderr);
    assert!(standing(&ran.stdout, "2A") != "accept", "{}", ran.stdout);
}

#[test]
fn an_empty_export_is_named() {
    assert_snapshot!(audited_without(Some(b"")), @r"
    note: living.csv: the file is empty, expected rows with a time and a temperature
      hint: download the logger again
    ");
}

#[test]
fn a_text_that_is_no_export_is_named() {
    assert_snapshot!(audited_without(Some(b"Dear installer,\nplease find the data attached.\n")), @r#"
    note: living.csv:1: no line has a date with time and a number in columns of their own; the first line is "Dear installer,"
      hint: export the logger as text or as a sheet with columns for time and temperature
    "#);
}

#[test]
fn dates_that_can_be_read_both_ways_are_asked_about() {
    let one_morning =
        b"time,temperature (\xb0C)\n01/02/2026 08:00,20.5\n01/02/2026 08:10,20.6\n01/02/2026 08:20,20.6\n";
    assert_snapshot!(audited_without(Some(one_morning)), @r#"
    note: living.csv:2: dates such as "01/02/2026 08:00" can be read with the day first or with the month first, and nothing in the file tells which
      hint: give `dates` (day-first or month-first) in the roster row of this file
    "#);
}

#[test]
fn two_columns_of_numbers_are_asked_about() {
    let two = b"time,inside,outside\n2026-01-05 08:00,20.5,3.1\n2026-01-05 08:10,20.6,3.2\n";
    assert_snapshot!(audited_without(Some(two)), @r#"
    note: living.csv: several columns with numbers ("inside", "outside"), and none is named for this room
      hint: give the `column` in the roster
    "#);
}

#[test]
fn values_that_do_not_tell_their_unit_are_asked_about() {
    let between = b"time,value\n2026-01-05 08:00,41.5\n2026-01-05 08:10,41.6\n2026-01-05 08:20,41.6\n";
    assert_snapshot!(audited_without(Some(between)), @r#"
    note: living.csv: no unit is stated for column "value", and its values (median 41.6) do not tell it
      hint: state `unit` (°C or °F) in the roster, or in `outdoor` for the weather file
    "#);
}

/// A logger whose battery was changed starts again at its own year 0: the other rows, and rooms, still count.
#[test]
fn one_row_of_a_reset_clock_does_not_empty_the_home() {
    let site = SmallSite::new(SITE, ROSTER);
    site.write("exports/living.csv", &with_row("2000-01-01 00:00,20.5\n"));
    let ran = site.audit();
    assert!(!ran.stdout.contains("thin-coverage"), "{}", ran.stdout);
    assert!(ran.stderr.contains("living.csv"), "and it is told: {}", ran.stderr);
}

/// With a step this fine the grid to the year 9026 fits into no memory.
#[test]
fn a_row_from_another_age_does_not_stop_the_audit() {
    let site = SmallSite::new(&SITE.replace("[band]", "step = \"1 s\"\n\n[band]"), ROSTER);
    site.write("exports/living.csv", &with_row("9026-01-05 00:00,20.5\n"));
    let ran = site.audit();
    assert!(ran.code.is_some_and(|code| code < 2), "{:?}: {}", ran.code, ran.stderr);
}

/// A good export with a row more at its end.
fn with_row(row: &str) -> Vec<u8> {
    [two_days(), row.as_bytes().to_vec()].concat()
}

/// Bytes without any order: none of them may stop the run, whatever they are taken for.
#[test]
fn random_bytes_are_no_export_and_no_panic() {
    let mut state = 0x2545_f491_4f6c_dd1d_u64;
    let mut byte = || {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        (state >> 32) as u8
    };
    let of_exports = b"0123456789 ,;:-./\n\tamp\"T+Z";
    for length in [1, 2, 3, 1000, 4097, 20_000] {
        let bytes: Vec<u8> = (0..length).map(|_| byte()).collect();
        let chars = bytes.iter().map(|b| of_exports[usize::from(*b) % of_exports.len()]).collect();
        for bytes in [bytes, chars] {
            let said = audited_without(Some(&bytes));
            assert!(said.contains("living.csv") && !said.contains("panicked"), "{length} bytes: {said}");
        }
    }
}

#[test]
fn a_value_below_absolute_zero_is_no_reading() {
    let site = SmallSite::new(SITE, ROSTER);
    let text = String::from_utf8(two_days()).unwrap().replacen(",20.7", ",-300.0", 1);
    site.write("exports/living.csv", text.as_bytes());
    let ran = site.audit();
    assert_eq!(ran.code, Some(1), "{}", ran.stderr);
    assert!(ran.stderr.contains("1 row set aside: bad value"), "{}", ran.stderr);
    assert!(ran.stderr.contains("below absolute zero"), "{}", ran.stderr);
}
