//! Settings that are taken as they are, and told because they are mostly not meant.

use std::fs;

use crate::program::run;
use crate::small_site::{ROSTER, SITE, SmallSite};

/// What the terminal and the provenance of an audit say of the site file.
fn told(site: &str) -> String {
    let small = SmallSite::new(site, ROSTER);
    let ran = small.audit();
    assert_eq!(ran.code, Some(0), "{}", ran.stderr);
    let provenance = fs::read_to_string(small.out().join("provenance.json")).unwrap();
    let of_site = |line: &&str| line.starts_with("note: site file:");
    let notes: String = ran.stderr.lines().filter(of_site).map(|l| format!("{l}\n")).collect();
    assert_eq!(notes.is_empty(), !provenance.contains("\"site file\""), "{notes}{provenance}");
    notes
}

const SETBACK: &str =
    "[[setback]]\ndays = \"mon-fri\"\nfrom = \"22:00\"\nto = \"06:00\"\noccupied_target = \"20 °C\"\n";

#[test]
fn a_bridge_of_half_a_day_is_told_and_one_of_six_hours_is_not() {
    let with = |gap: &str| told(&SITE.replace("[band]", &format!("max_gap = \"{gap}\"\n[band]")));
    let words = with("12 h");
    assert!(words.contains("site file:7: `max_gap` is 12 h, expected 6 h at most"), "{words}");
    assert_eq!(with("6 h"), "");
}

#[test]
fn a_band_of_fahrenheit_numbers_in_celsius_is_told_and_a_wide_one_is_not() {
    let with = |lower: &str, upper: &str| {
        told(
            &SITE.replace("\"20 °C\"", &format!("\"{lower}\"")).replace("\"24 °C\"", &format!("\"{upper}\"")),
        )
    };
    let words = with("68 °C", "76 °C");
    assert!(words.contains("site file:7: the band reaches from 68.0 to 76.0 °C"), "{words}");
    assert!(with("4 °C", "24 °C").contains("the band reaches from 4.0 to 24.0 °C"));
    assert_eq!(with("5 °C", "40 °C"), "");
    let night = "[band.night]\nlower = \"2 °C\"\nupper = \"24 °C\"\nfrom = \"22:00\"\nto = \"06:00\"\n";
    assert!(told(&format!("{SITE}{night}")).contains("site file:10: the band reaches from 2.0"));
}

#[test]
fn setbacks_that_overlap_are_told_and_those_of_other_days_are_not() {
    let other = |days: &str, from: &str| SETBACK.replace("mon-fri", days).replace("22:00", from);
    let words = told(&format!("{SITE}{SETBACK}{}", other("fri-sun", "21:00")));
    assert!(words.contains("site file:15: this [[setback]] overlaps the one of line 10"), "{words}");
    assert_eq!(told(&format!("{SITE}{SETBACK}{}", other("sat,sun", "23:00"))), "");
    // Friday's night ends on Saturday morning, where another begins.
    let morning = other("sat", "05:00").replace("06:00", "09:00");
    assert!(told(&format!("{SITE}{SETBACK}{morning}")).contains("overlaps the one of line 10"));
    assert_eq!(told(&format!("{SITE}{SETBACK}{}", morning.replace("05:00", "06:00"))), "");
}

#[test]
fn a_comparison_and_a_complaint_tell_of_them_too() {
    let site = SITE.replace("20 °C", "1 °C");
    let small = SmallSite::new(&site, ROSTER);
    for words in [
        &[
            "compare",
            "site.toml",
            "--before",
            "2026-01-05/2026-01-05",
            "--after",
            "2026-01-06/2026-01-06",
            "--out",
            "a",
        ][..],
        &[
            "complaint",
            "site.toml",
            "--home",
            "1A",
            "--from",
            "2026-01-05",
            "--to",
            "2026-01-06",
            "--out",
            "b",
        ],
    ] {
        let ran = run(small.folder(), words);
        assert!(ran.stderr.contains("site file:7: the band reaches from 1.0 to 24.0 °C"), "{}", ran.stderr);
    }
}

#[test]
fn a_period_of_more_steps_than_memory_holds_is_refused_and_a_season_of_seconds_is_not() {
    let with = |to: &str| {
        let period = format!("[[period]]\nname = \"long\"\nfrom = \"2026-01-05\"\nto = \"{to}\"\n");
        SmallSite::new(&format!("{}{period}", SITE.replace("[band]", "step = \"10 s\"\n[band]")), ROSTER)
    };
    let words = with("2045-01-01").refused();
    assert!(words.contains("a period of more than 11000000 steps"), "{words}");
    assert_eq!(with("2026-01-20").audit().code, Some(0));
}

#[test]
fn what_is_no_table_in_a_list_of_tables_is_told() {
    let small = SmallSite::new(&format!("period = [1]\n{SITE}"), ROSTER);
    let words = small.refused();
    assert!(words.contains("site.toml:1: found the number 1 in `period`, expected tables only"), "{words}");
}

#[test]
fn one_logger_in_two_homes_is_told_and_names_that_each_home_counts_anew_are_not() {
    let of = |loggers: [&str; 4], dates: &str| {
        let row = |home: &str, room: &str, logger: &str, file: &str| {
            format!("{home},{room},living,yes,{logger},{file}.csv,{dates}\n")
        };
        let roster = "home,room,use,heated,logger,file,from,to\n".to_owned()
            + &row("1A", "living", loggers[0], "living")
            + &row("1A", "bedroom", loggers[1], "bedroom")
            + &row("1B", "living", loggers[2], "living-b")
            + &row("1B", "bedroom", loggers[3], "bedroom-b");
        let small = SmallSite::new(SITE, &roster);
        for (name, more) in [("living", "-b"), ("bedroom", "-b")] {
            let from = small.folder().join(format!("exports/{name}.csv"));
            fs::copy(from, small.folder().join(format!("exports/{name}{more}.csv"))).unwrap();
        }
        small.audit().stderr
    };
    let words = of(["L-1", "L-2", "L-1", "L-3"], ",");
    assert!(words.contains("one logger in two homes at one time: L-1 in 1A and 1B"), "{words}");
    let each = of(["L-1", "L-2", "L-1", "L-2"], ",");
    assert!(!each.contains("in two homes"), "{each}");
    assert!(!of(["L-1", "L-2", "L-3", "L-4"], ",").contains("in two homes"));
}
