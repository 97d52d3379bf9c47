//! One home and one time on one sheet.

use crate::program::{files_in, run};
use crate::small_site::{HEAT_RULE, SITE, SmallSite, written_time};

const ROSTER: &str = "\
home,room,use,heated,logger,file
1A,living,living,yes,L-1,living.csv
1A,bedroom,bedroom,yes,L-2,bedroom.csv
1B,living,living,yes,L-3,next.csv
";
const TIME: [&str; 4] = ["--from", "2026-01-07", "--to", "2026-01-08"];

/// Ten days, every ten minutes; cold in 1A's living room from the third to the fourth day.
fn site(more: &str) -> SmallSite {
    let small = SmallSite::new(&format!("{SITE}{more}"), ROSTER);
    let export = |cold: f64| {
        let row = |n: usize| {
            let degc = if (2..4).contains(&(n / 144)) { cold } else { 21.5 };
            format!("{},{:.2}\n", written_time(n), degc + (n % 7) as f64 / 50.0)
        };
        format!("time,temperature (°C)\n{}", (0..1440).map(row).collect::<String>())
    };
    for (name, cold) in [("living", 17.0), ("bedroom", 21.5), ("next", 22.5)] {
        small.write(&format!("exports/{name}.csv"), export(cold).as_bytes());
    }
    small
}

fn complaint(small: &SmallSite, home: &str, time: &[&str]) -> (Option<i32>, String, String, String) {
    let ran =
        run(small.folder(), &[&["complaint", "site.toml", "--home", home, "--out", "out"], time].concat());
    let sheet = std::fs::read_to_string(small.out().join("complaint.html")).unwrap_or_default();
    (ran.code, ran.stdout, ran.stderr, sheet)
}

#[test]
fn the_sheet_says_what_the_record_shows_of_that_time() {
    let small = site(HEAT_RULE);
    let (code, stdout, stderr, sheet) = complaint(&small, "1a", &TIME);
    assert_eq!(code, Some(0), "{stderr}");
    for text in [&stdout, &sheet] {
        let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(
            flat.contains("below the heat rule's minimum, even with the sensor accuracy added: living 48.0."),
            "{flat}"
        );
        assert!(flat.contains("Meanwhile the one other home with a record was"), "{flat}");
        assert!(flat.contains("no legal finding"), "{flat}");
    }
    assert!(sheet.contains("2026-01-07 00:00 to 2026-01-09 00:00"), "the last day is included");
    assert!(sheet.contains("carbon monoxide") && sheet.contains("Longest times below the minimum"));
    assert_eq!(files_in(&small.out()).len(), 2, "a sheet and its provenance");
}

#[test]
fn the_sheet_has_the_numbers_of_an_audit_with_that_period() {
    let period = "[[period]]\nname = \"those days\"\nfrom = \"2026-01-07\"\nto = \"2026-01-08\"\n";
    let small = site(&format!("{HEAT_RULE}{period}"));
    let (_, _, _, sheet) = complaint(&small, "1A", &TIME);
    std::fs::remove_dir_all(small.out()).unwrap();
    assert_eq!(small.audit().code, Some(0));
    let metrics = std::fs::read_to_string(small.out().join("metrics.csv")).unwrap();
    let value = |metric: &str| -> f64 {
        let start = format!("1A,living,those days,all,{metric},");
        metrics
            .lines()
            .find_map(|l| l.strip_prefix(&start))
            .unwrap()
            .split(',')
            .next()
            .unwrap()
            .parse()
            .unwrap()
    };
    for metric in
        ["heat_rule_hours_below", "heat_rule_hours_too_close", "heat_rule_hours_met", "hours_below_band"]
    {
        assert!(sheet.contains(&format!(">{:.1}<", value(metric))), "{metric}");
    }
}

#[test]
fn where_nothing_is_cold_or_known_it_says_so() {
    let small = site(HEAT_RULE);
    let (code, stdout, _, _) = complaint(&small, "1B", &TIME);
    assert!(code == Some(0) && stdout.contains("No room was found too cold in this time."), "{stdout}");
    let (_, stdout, _, _) = complaint(&small, "1A", &["--from", "2026-03-01", "--to", "2026-03-02"]);
    assert!(stdout.contains("The record has no usable value in this time"), "{stdout}");
    assert!(stdout.contains("No other home of the roster has a record"), "{stdout}");
    let small = site("");
    let (_, stdout, _, sheet) = complaint(&small, "1A", &TIME);
    assert!(stdout.contains("The site file names no heat rule"), "{stdout}");
    assert!(sheet.contains("below the comfort band: living"), "the band is there");
}

#[test]
fn half_a_day_is_judged_too_and_other_homes_that_cannot_be_read_are_named() {
    let small = site("");
    small.write("exports/next.csv", b"no table");
    let (code, stdout, stderr, _) =
        complaint(&small, "1A", &["--from", "2026-01-07 06:00", "--to", "2026-01-07 18:00"]);
    assert!(stdout.contains("The record shows hours below the comfort band: living 12.0"), "{stdout}");
    assert!(code == Some(1) && stderr.contains("next.csv"), "{stderr}");
}

#[test]
fn a_home_or_a_time_that_is_none_is_told() {
    let small = site(HEAT_RULE);
    let (code, _, stderr, _) = complaint(&small, "7", &TIME);
    assert!(
        code == Some(2) && stderr.contains("--home: found \"7\", expected a home of the roster (1A, 1B)"),
        "{stderr}"
    );
    let (code, _, stderr, _) = complaint(&small, "1A", &["--from", "2026-01-09", "--to", "2026-01-07"]);
    assert!(code == Some(2) && stderr.contains("which ends before it begins"), "{stderr}");
    let (code, _, stderr, _) = complaint(&small, "1A", &["--from", "yesterday", "--to", "2026-01-07"]);
    assert!(code == Some(2) && stderr.contains("expected local dates"), "{stderr}");
}
