//! An audit that starts from the aligned table of an earlier one: the same numbers, and clear words about what it cannot say.

use std::fs;
use std::path::Path;

use crate::program::{Ran, SampleAudit, files_in, run, sample_folder};
use crate::small_site::{ROSTER, SITE, SmallSite, two_days};

fn audit(folder: &Path, more: &[&str]) -> Ran {
    run(folder, &[&["audit", "site.toml"][..], more].concat())
}

#[test]
fn the_sample_gives_the_same_metrics_and_events() {
    let sample = SampleAudit::get();
    let first = sample.folder();
    let out = tempfile::tempdir().unwrap();
    let from = ["--from-aligned", first.to_str().unwrap(), "--out", out.path().to_str().unwrap()];
    let ran = audit(&sample_folder(), &from);
    assert_eq!(ran.code, Some(0), "{}", ran.stderr);
    assert!(ran.stdout.contains("loggers and rows of exports were not judged again"), "{}", ran.stdout);
    assert!(ran.stderr.contains("nothing is said about suspect sensors"), "{}", ran.stderr);
    let (before, after) = (files_in(first), files_in(out.path()));
    for name in ["metrics.parquet", "metrics.csv", "events.parquet", "events.csv"] {
        assert!(before[name] == after[name], "{name} differs");
    }
    for name in ["readings.parquet", "set_aside.parquet", "aligned.parquet", "weather.parquet", "loggers.csv"]
    {
        assert!(!after.contains_key(name), "{name} without exports");
    }
    let report = String::from_utf8(after["report.html"].clone()).unwrap();
    assert!(report.contains("This report starts from an aligned table"));
}

/// A site with everything that a home on the grid depends on: weather, a heat rule, placements, a side-by-side check.
fn whole_site() -> SmallSite {
    let more = "\n[heat_rule]\npreset = \"new-york-city\"\n\n[colocation]\nfrom = \"2026-01-05 00:00\"\nto = \"2026-01-05 12:00\"\naccept_offset_of = [\"L-3\"]\n\n[[period]]\nname = \"first\"\nfrom = \"2026-01-04\"\nto = \"2026-01-05\"\n\n[[period]]\nname = \"second\"\nfrom = \"2026-01-06\"\nto = \"2026-01-07\"\n";
    let site = SITE.replace(
        "clock = \"civil\"",
        "clock = \"civil\"\noutdoor = { file = \"weather.csv\", unit = \"°C\", clock = \"utc\" }",
    );
    let roster = format!("{ROSTER}1A,kitchen,kitchen,no,L-3,kitchen.csv\n1B,living,living,yes,,\n");
    let small = SmallSite::new(&format!("{site}{more}"), &roster);
    let cold = String::from_utf8(two_days()).unwrap().replace(",20.", ",18.").replace(",21.", ",19.");
    small.write("exports/kitchen.csv", cold.as_bytes());
    let hour = |n: u32| format!("2026-01-{:02} {:02}:00,{}.25\n", 5 + n / 24, n % 24, n % 9);
    let weather: String = (0..60).map(hour).collect();
    small.write("exports/weather.csv", format!("time,temperature (°C)\n{weather}").as_bytes());
    small
}

#[test]
fn weather_heat_rule_placements_and_accuracies_are_the_same() {
    let small = whole_site();
    let ran = small.audit();
    assert_eq!(ran.code, Some(0), "{}", ran.stderr);
    let again = audit(small.folder(), &["--from-aligned", "out/aligned.parquet", "--out", "again"]);
    assert_eq!(again.code, Some(0), "{}", again.stderr);
    let (before, after) = (files_in(&small.out()), files_in(&small.folder().join("again")));
    for name in ["metrics.parquet", "metrics.csv", "events.parquet", "events.csv"] {
        assert!(before[name] == after[name], "{name} differs");
    }
    let metrics = String::from_utf8(after["metrics.csv"].clone()).unwrap();
    assert!(metrics.contains("heat_rule_hours_below") && metrics.contains("outdoor_mean"));
    let lines = |bytes: &Vec<u8>| -> Vec<String> {
        String::from_utf8(bytes.clone()).unwrap().lines().map(str::to_owned).collect()
    };
    // Rules about records need loggers, of which an aligned table knows nothing.
    let of_record = |rule: &&&evenrooms::findings::Rule| rule.about == evenrooms::findings::About::Record;
    let records: Vec<&str> = evenrooms::findings::RULES.iter().filter(of_record).map(|r| r.name).collect();
    let building = |line: &&String| !records.iter().any(|rule| line.contains(&format!(",{rule},")));
    let (was, is) = (lines(&before["findings.csv"]), lines(&after["findings.csv"]));
    assert!(was.iter().filter(building).eq(is.iter().filter(building)), "{was:#?}\n{is:#?}");
}

#[test]
fn results_are_not_thrown_away_and_other_grids_are_refused() {
    let small = SmallSite::new(SITE, ROSTER);
    assert_eq!(small.audit().code, Some(0));
    let kept = files_in(&small.out());
    let same = audit(small.folder(), &["--from-aligned", "out", "--out", "out"]);
    assert_eq!(same.code, Some(2));
    assert!(same.stderr.contains("it holds results of an audit of exports"), "{}", same.stderr);
    assert!(kept == files_in(&small.out()));
    for (site, words) in [
        (
            SITE.replace("clock = \"civil\"", "clock = \"civil\"\nstep = \"10 min\""),
            "expected a step of 600 s",
        ),
        (SITE.replace("clock = \"civil\"", "clock = \"civil\"\nstep = \"1 min\""), "expected a step of 60 s"),
    ] {
        small.write("site.toml", site.as_bytes());
        let ran = audit(small.folder(), &["--from-aligned", "out", "--out", "other"]);
        assert_eq!(ran.code, Some(2), "{}", ran.stdout);
        assert!(ran.stderr.contains(words) && ran.stderr.contains("hint: "), "{}", ran.stderr);
    }
    small.write("site.toml", SITE.as_bytes());
    small.write("roster.csv", ROSTER.replace("1A,bedroom", "1A,study").as_bytes());
    let ran = audit(small.folder(), &["--from-aligned", "out", "--out", "other"]);
    assert!(ran.stderr.contains("found 1A bedroom, expected rooms of the roster only"), "{}", ran.stderr);
    small.write("roster.csv", ROSTER.replace("1A,", "2A,").as_bytes());
    let ran = audit(small.folder(), &["--from-aligned", "out", "--out", "other"]);
    assert!(ran.stderr.contains("found home 1A, expected homes of the roster only"), "{}", ran.stderr);
}

#[test]
fn what_is_no_aligned_table_is_told() {
    let small = SmallSite::new(SITE, ROSTER);
    assert_eq!(small.audit().code, Some(0));
    fs::write(small.folder().join("loose.parquet"), b"PAR1 not really").unwrap();
    for (path, words) in [
        ("nothing.parquet", "could not be read"),
        ("loose.parquet", "there is no provenance.json beside it"),
        ("out/metrics.parquet", "found the columns site, home, room, period"),
    ] {
        let ran = audit(small.folder(), &["--from-aligned", path, "--out", "other"]);
        assert_eq!(ran.code, Some(2));
        assert!(ran.stderr.contains(words) && ran.stderr.contains("hint: "), "{}", ran.stderr);
    }
}
