//! Exports that contradict themselves: a third witness settles it and is told, or the room's verdict waits.

use crate::program::Ran;
use crate::small_site::{ROSTER, SmallSite, short_site, standing, written_time};

/// Two days of rows.
fn rows(row: impl Fn(usize) -> String) -> String {
    (0..288).map(|n| format!("{}\n", row(n))).collect()
}

fn degc(n: usize) -> f64 {
    20.5 + (n % 6) as f64 / 10.0
}

fn degf(n: usize) -> f64 {
    degc(n) * 1.8 + 32.0
}

fn audited(roster: &str, living: &str) -> Ran {
    let site = SmallSite::new(&short_site(), roster);
    site.write("exports/living.csv", living.as_bytes());
    site.audit()
}

/// The room has no verdict, and it is said why.
fn assert_waits(ran: &Ran, why: &[&str]) {
    assert_eq!(ran.code, Some(1), "{}", ran.stderr);
    assert!(why.iter().all(|words| ran.stderr.contains(words)), "{}", ran.stderr);
    assert!(standing(&ran.stdout, "1A") != "accept", "{}", ran.stdout);
}

/// What was taken, and why, is told, and the home has its verdict.
fn assert_told(ran: &Ran, why: &[&str]) {
    assert_eq!(ran.code, Some(0), "{}", ran.stderr);
    assert!(why.iter().all(|words| ran.stderr.contains(words)), "{}", ran.stderr);
    assert!(standing(&ran.stdout, "1A") == "accept", "{}", ran.stdout);
}

fn unit_beside(value: impl Fn(usize) -> f64) -> String {
    format!("time,temperature (°C),unit\n{}", rows(|n| format!("{},{:.1},F", written_time(n), value(n))))
}

#[test]
fn a_header_in_one_unit_and_a_column_in_another_are_told_where_the_values_settle_it() {
    let both = "column \"temperature (°C)\" is in °F by what stands in its rows and in °C by its header";
    assert_told(
        &audited(ROSTER, &unit_beside(degf)),
        &[both, "only in °F are its values temperatures of a room"],
    );
    assert_told(
        &audited(ROSTER, &unit_beside(degc)),
        &[both, "only in °C are its values temperatures of a room"],
    );
}

#[test]
fn two_units_for_values_that_may_be_either_are_asked() {
    let either = unit_beside(|n| 36.0 + (n % 6) as f64 / 10.0);
    assert_waits(
        &audited(ROSTER, &either),
        &["expected one unit, and its values do not tell it", "state `unit`"],
    );
}

#[test]
fn a_roster_that_states_the_unit_settles_two() {
    let roster = "home,room,use,heated,logger,file,unit\n1A,living,living,yes,L-1,living.csv,C\n1A,bedroom,bedroom,yes,L-2,bedroom.csv,\n";
    assert_told(&audited(roster, &unit_beside(degc)), &["the roster says °C, which was followed"]);
}

#[test]
fn a_preamble_and_a_header_with_two_units_are_told() {
    let text = format!(
        "Unit: °F\ntime,temperature (°C)\n{}",
        rows(|n| format!("{},{:.1}", written_time(n), degc(n)))
    );
    assert_told(&audited(ROSTER, &text), &["in °C by its header and in °F by a line above the header"]);
}

#[test]
fn one_unit_that_is_stated_twice_is_no_contradiction() {
    let text = unit_beside(degc).replace(",F\n", ",C\n");
    let ran = audited(ROSTER, &text);
    assert_eq!((ran.code, ran.stderr.as_str()), (Some(0), ""));
    assert!(standing(&ran.stdout, "1A") == "accept", "{}", ran.stdout);
}

fn without_unit(around: f64) -> String {
    let row = |n: usize| format!("{},{:.1}", written_time(n), around + (n % 6) as f64 / 10.0);
    format!("time,temperature\n{}", rows(row))
}

#[test]
fn a_room_near_freezing_in_fahrenheit_without_a_unit_is_asked() {
    for around in [32.0, 36.0, 41.0, 48.0] {
        let ran = audited(ROSTER, &without_unit(around));
        assert_waits(&ran, &["no unit is stated for column \"temperature\"", "state `unit`"]);
    }
}

#[test]
fn a_room_that_only_one_scale_allows_needs_no_unit() {
    for around in [20.5, 68.9] {
        assert_told(&audited(ROSTER, &without_unit(around)), &["no unit is stated"]);
    }
}

fn two_clocks(header: &str, other: impl Fn(usize) -> String) -> String {
    format!("{header}\n{}", rows(|n| format!("{},{},{:.1}", written_time(n), other(n), degc(n))))
}

/// So many hours later.
fn later(hours: usize) -> impl Fn(usize) -> String {
    move |n| written_time(n + hours * 6)
}

const LOCAL_AND_UTC: &str = "time (local),time (UTC),temperature (°C)";

#[test]
fn local_and_utc_times_that_fit_the_clock_are_no_contradiction() {
    let ran = audited(ROSTER, &two_clocks(LOCAL_AND_UTC, later(6)));
    assert_eq!((ran.code, ran.stderr.as_str()), (Some(0), ""));
}

#[test]
fn local_and_utc_times_that_do_not_fit_the_clock_of_the_site_are_told() {
    let ran = audited(ROSTER, &two_clocks(LOCAL_AND_UTC, later(2)));
    assert_eq!(ran.code, Some(0), "{}", ran.stderr);
    for words in ["do not fit each other by the clock civil America/Chicago", "they fit by fixed -02:00"] {
        assert!(ran.stderr.contains(words), "{}", ran.stderr);
    }
}

#[test]
fn two_columns_of_times_that_run_apart_are_asked() {
    let apart = two_clocks(LOCAL_AND_UTC, |n| written_time(n + 36 + n / 50));
    assert_waits(&audited(ROSTER, &apart), &["do not fit each other", "nor by any fixed offset"]);
}

fn preamble_and_header() -> String {
    let row = |n: usize| format!("{},{:.1}", written_time(n), degc(n));
    format!("Time zone: GMT-06:00\ntime (UTC),temperature (°C)\n{}", rows(row))
}

#[test]
fn a_preamble_and_a_header_with_two_clocks_are_asked() {
    let both = "as utc by the header of its times and as fixed -06:00 by a line above the header";
    assert_waits(&audited(ROSTER, &preamble_and_header()), &[both, "give `clock`"]);
}

#[test]
fn a_roster_that_states_the_clock_settles_two() {
    let roster = "home,room,use,heated,logger,file,clock\n1A,living,living,yes,L-1,living.csv,fixed -06:00\n1A,bedroom,bedroom,yes,L-2,bedroom.csv,\n";
    let ran = audited(roster, &preamble_and_header());
    assert_told(&ran, &["fixed -06:00 was followed, as the roster says"]);
    assert!(ran.stdout.contains("2026-01-05 00:00 to 2026-01-06 23:50"), "{}", ran.stdout);
}

#[test]
fn a_zone_and_its_offset_in_winter_are_one_clock() {
    let text = preamble_and_header().replace("time (UTC)", "time (GMT-06:00)");
    let text = text.replace("Time zone: GMT-06:00", "Time zone: America/Chicago");
    let ran = audited(ROSTER, &text);
    assert_eq!((ran.code, ran.stderr.as_str()), (Some(0), ""));
}
