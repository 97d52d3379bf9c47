//! One thing that happened is one case, and what was over before the period that decides decides nothing.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::Value;

use crate::program::{SampleAudit, audit_sample, run};
use crate::small_site::{ROSTER, SITE, SmallSite, standing, written_time};

type Row = BTreeMap<String, String>;

fn of_home<'a>(cases: &'a [Row], home: &str) -> Vec<&'a Row> {
    cases.iter().filter(|c| c["home"] == home).collect()
}

#[test]
fn each_finding_of_the_sample_is_in_exactly_one_case() {
    let audit = SampleAudit::get();
    let (cases, findings) = (audit.csv("cases.csv"), audit.csv("findings.csv"));
    let told: Vec<&str> =
        cases.iter().flat_map(|c| c["findings"].split("; ")).filter(|id| !id.is_empty()).collect();
    let once: BTreeSet<&str> = told.iter().copied().collect();
    assert_eq!(told.len(), once.len(), "a finding in two cases");
    assert_eq!(once, findings.iter().map(|f| f["id"].as_str()).collect());
    let ids: BTreeSet<&str> = cases.iter().map(|c| c["id"].as_str()).collect();
    assert_eq!(ids.len(), cases.len(), "two cases of one name");
}

#[test]
fn an_outage_of_the_sample_is_one_case_that_is_over() {
    let audit = SampleAudit::get();
    let cases = audit.csv("cases.csv");
    let of_2b: Vec<&Row> = of_home(&cases, "2B").into_iter().filter(|c| c["course"] == "over").collect();
    let [outage] = of_2b.as_slice() else { panic!("{of_2b:#?}") };
    assert_eq!(outage["kind"], "no-heat");
    assert_eq!(
        outage["sentence"],
        "No heat for 67 h, down to 59.3 °F, from 6 Feb 08:40 to 9 Feb 04:00; heat came back."
    );
    // Fourteen findings tell of it.
    assert!(outage["findings"].split("; ").count() >= 13, "{}", outage["findings"]);
    let of_1b: Vec<&Row> = of_home(&cases, "1B").into_iter().filter(|c| c["course"] == "over").collect();
    let [cold] = of_1b.as_slice() else { panic!("{of_1b:#?}") };
    assert_eq!((cold["kind"].as_str(), cold["rooms"].as_str()), ("falls-behind-in-cold", "bedroom 2"));
}

#[test]
fn homes_of_the_sample_stand_as_the_period_after_the_visit_shows() {
    let audit = SampleAudit::get();
    let stand: BTreeMap<String, String> =
        audit.csv("acceptance.csv").into_iter().map(|c| (c["home"].clone(), c["standing"].clone())).collect();
    for home in ["2A", "3A"] {
        assert_eq!(stand[home], "visit", "{home}");
    }
    for home in ["1B", "2B", "3B"] {
        assert!(
            ["record again", "accept", "accept, keep an eye on"].contains(&stand[home].as_str()),
            "{home}"
        );
    }
    // One thing, one case: nothing else of these homes goes on.
    let cases = audit.csv("cases.csv");
    for (home, kind) in [("2A", "cut-off"), ("3A", "set-high")] {
        let acts =
            of_home(&cases, home).into_iter().filter(|c| c["course"] == "goes on" && c["severity"] == "act");
        assert_eq!(acts.map(|c| c["kind"].as_str()).collect::<Vec<_>>(), [kind], "{home}");
    }
}

#[test]
fn the_terminal_takes_one_line_for_a_home() {
    let audit = SampleAudit::get();
    let lines: Vec<&str> = audit.ran.stdout.lines().collect();
    assert!(lines.len() <= 14, "{}", audit.ran.stdout);
    for home in ["1A", "1B", "2A", "2B", "3A", "3B"] {
        standing(&audit.ran.stdout, home);
    }
    for case in audit.csv("cases.csv") {
        assert!(case["sentence"].split_whitespace().count() <= 25, "{}", case["sentence"]);
    }
}

#[test]
fn the_same_is_told_to_machines() {
    let out = tempfile::tempdir().unwrap();
    let ran = audit_sample(out.path(), &["--json"]);
    let told: Value = serde_json::from_str(&ran.stdout).unwrap();
    assert_eq!(told["judged_period"], "after the visit");
    let homes = told["homes"].as_array().unwrap();
    assert_eq!(homes.len(), 6);
    let of_2a = homes.iter().find(|h| h["home"] == "2A").unwrap();
    assert_eq!(
        (of_2a["standing"].as_str(), of_2a["cases"][0]["kind"].as_str()),
        (Some("visit"), Some("cut-off"))
    );
    assert!(of_2a["acceptance"].as_array().unwrap().iter().any(|c| c["answer"] == "fail"));
}

#[test]
fn cases_are_told_as_new_still_there_or_over_since_an_earlier_audit() {
    let small = SmallSite::new(SITE, ROSTER);
    small.write("exports/living.csv", &export(0, 15, |_| 17.0));
    small.write("exports/bedroom.csv", &export(1, 15, |_| 21.9));
    assert_eq!(small.audit().code, Some(0));
    std::fs::rename(small.out(), small.folder().join("first")).unwrap();
    let again = |living: f64, bedroom: f64| {
        small.write("exports/living.csv", &export(0, 15, |_| living));
        small.write("exports/bedroom.csv", &export(1, 15, |_| bedroom));
        let ran = run(small.folder(), &["audit", "site.toml", "--out", "out", "--since", "first"]);
        assert_eq!(ran.code, Some(0), "{}", ran.stderr);
        let cases: Vec<Value> =
            serde_json::from_slice(&std::fs::read(small.out().join("cases.json")).unwrap()).unwrap();
        let told = |c: &Value| format!("{} {} {}", c["kind"], c["rooms"], c["since"]).replace('"', "");
        (cases.iter().map(told).collect::<Vec<_>>(), ran.stdout)
    };
    let (told, said) = again(17.0, 26.0);
    assert!(told.contains(&"too-cold living still there".to_owned()), "{told:?}\n{said}");
    assert!(told.contains(&"overheats bedroom new".to_owned()), "{told:?}");
    let (told, said) = again(21.5, 21.9);
    assert_eq!(told, ["too-cold living over"]);
    assert!(said.contains("0 new, 0 still there, 1 over"), "{said}");
    // Without its readings nobody knows, and nothing is accepted.
    let living = ROSTER.lines().filter(|line| !line.contains("living")).collect::<Vec<_>>().join("\n");
    small.write("roster.csv", living.as_bytes());
    let (told, said) = again(21.5, 21.9);
    assert_eq!(told, ["too-cold living not seen any more"]);
    assert_eq!(standing(&said, "1A"), "record again", "{said}");
    small.write("roster.csv", ROSTER.as_bytes());
    // That of another building is none of this one, though its homes have the same names.
    let site = std::fs::read_to_string(small.folder().join("site.toml")).unwrap();
    small.write("site.toml", site.replace("Alder Row", "Beech Row").as_bytes());
    let ran = run(small.folder(), &["audit", "site.toml", "--out", "out", "--since", "first"]);
    let said = ran.stderr.contains("found an audit of \"Alder Row\", expected one of \"Beech Row\"");
    assert!(ran.code == Some(2) && said, "{}", ran.stderr);
    small.write("site.toml", site.as_bytes());
    // A table that somebody edited is not believed.
    let path = small.folder().join("first/cases.json");
    let text = std::fs::read_to_string(&path).unwrap();
    std::fs::write(&path, text.replace("living", "kitchen")).unwrap();
    let ran = run(small.folder(), &["audit", "site.toml", "--out", "out", "--since", "first"]);
    assert_eq!(ran.code, Some(2), "{}", ran.stderr);
}

#[test]
fn completions_and_manual_pages_come_from_the_command_line() {
    let folder = tempfile::tempdir().unwrap();
    for shell in ["bash", "zsh", "fish", "elvish", "powershell"] {
        let ran = run(folder.path(), &["completions", shell]);
        assert!(ran.code == Some(0) && ran.stdout.contains("from-aligned"), "{shell}");
    }
    let ran = run(folder.path(), &["man", "audit"]);
    assert!(
        ran.code == Some(0) && ran.stdout.contains(".TH") && ran.stdout.contains("since"),
        "{}",
        ran.stdout
    );
    assert!(run(folder.path(), &["man"]).stdout.contains("complaint"));
    assert_eq!(run(folder.path(), &["man", "adit"]).code, Some(2));
}

/// Readings every ten minutes for so many days; each room wavers in its own way.
fn export(room: u32, days: usize, degc: impl Fn(f64) -> f64) -> Vec<u8> {
    let k = f64::from(room);
    let row = |n: usize| {
        let h = n as f64 / 6.0;
        let waver = 0.15 * (h * (1.7 + 0.9 * k)).sin() + 0.05 * (h * 4.1 + (h * 0.13).sin() * 3.0 * k).sin();
        format!("{},{:.2}\n", written_time(n), degc(h) + waver)
    };
    format!("time,temperature (°C)\n{}", (0..days * 144).map(row).collect::<String>()).into_bytes()
}

/// Of a night without heat, from 20:00 of the sixth day to 6:00.
fn night(h: f64) -> f64 {
    if (140.0..150.0).contains(&h) { 21.5 - 9.5 * ((h - 140.0) / 6.0).min(1.0) } else { 21.5 }
}

#[test]
fn an_outage_of_one_night_is_a_case() {
    let small = SmallSite::new(SITE, ROSTER);
    small.write("exports/living.csv", &export(0, 14, night));
    small.write("exports/bedroom.csv", &export(1, 14, |h| night(h) - 0.4));
    let ran = small.audit();
    let cases: Vec<Value> =
        serde_json::from_slice(&std::fs::read(small.out().join("cases.json")).unwrap()).unwrap();
    let outages: Vec<&Value> = cases.iter().filter(|c| c["kind"] == "no-heat").collect();
    let [outage] = outages.as_slice() else { panic!("{}", ran.stdout) };
    assert_eq!(outage["course"], "ended");
    let sentence = outage["sentence"].as_str().unwrap();
    assert!(
        sentence.contains("from 10 Jan 20:")
            && sentence.ends_with("; heat came back.")
            && sentence.contains(" to 11 Jan 06:"),
        "{sentence}"
    );
}

#[test]
fn a_home_that_is_warm_and_even_for_the_days_asked_for_is_accepted() {
    let warm = |days: usize, asked: &str| {
        let small = SmallSite::new(&format!("{SITE}[acceptance]\n{asked}\n"), ROSTER);
        small.write("exports/living.csv", &export(0, days, |_| 21.5));
        small.write("exports/bedroom.csv", &export(1, days, |_| 21.9));
        standing(&small.audit().stdout, "1A").to_owned()
    };
    assert_eq!(warm(15, ""), "accept", "14 days are asked for");
    assert_eq!(warm(10, ""), "record again");
    assert_eq!(warm(10, "days = 9"), "accept");
}

#[test]
fn what_was_over_before_the_period_that_decides_decides_nothing() {
    let periods = "[[period]]\nname = \"before\"\nfrom = \"2026-01-05\"\nto = \"2026-01-15\"\n[[period]]\nname = \"after\"\nfrom = \"2026-01-16\"\nto = \"2026-01-31\"\n";
    let cold_first = |h: f64| if h < 240.0 { 16.8 } else { 21.5 };
    let stands = |asked: &str| {
        let small = SmallSite::new(&format!("{SITE}{periods}[acceptance]\ndays = 7\n{asked}"), ROSTER);
        small.write("exports/living.csv", &export(0, 27, cold_first));
        small.write("exports/bedroom.csv", &export(1, 27, |_| 21.9));
        let ran = small.audit();
        (standing(&ran.stdout, "1A").to_owned(), ran.stdout)
    };
    let (after, said) = stands("");
    assert!(after.starts_with("accept"), "{said}");
    assert!(said.contains("(over)"), "{said}");
    let (before, said) = stands("period = \"before\"\n");
    assert_eq!(before, "visit", "{said}");
}

#[test]
fn what_comes_after_the_period_that_decides_is_not_over() {
    let periods = "[[period]]\nname = \"before\"\nfrom = \"2026-01-05\"\nto = \"2026-01-18\"\n[[period]]\nname = \"after\"\nfrom = \"2026-01-19\"\nto = \"2026-01-31\"\n[acceptance]\ndays = 7\nperiod = \"before\"\n";
    let small = SmallSite::new(&format!("{SITE}{periods}"), ROSTER);
    let failed = |h: f64| if h < 560.0 { 21.5 } else { (21.5 - (h - 560.0) / 3.0).max(3.0) };
    small.write("exports/living.csv", &export(0, 27, failed));
    small.write("exports/bedroom.csv", &export(1, 27, |h| failed(h) - 0.4));
    let ran = small.audit();
    assert!(standing(&ran.stdout, "1A").starts_with("visit"), "{}", ran.stdout);
    assert!(!ran.stdout.contains("is over"), "{}", ran.stdout);
}

#[test]
fn rooms_that_cool_to_the_end_of_their_record_were_in_no_hand() {
    let small = SmallSite::new(
        &SITE.replace(
            "[band]",
            "outdoor = { file = \"weather.csv\", clock = \"utc\", unit = \"°C\" }\n[band]",
        ),
        &format!("{ROSTER}1A,bathroom,bathroom,no,L-3,bathroom.csv\n1A,hall,hall,no,L-4,hall.csv\n"),
    );
    let last = |h: f64, tau: f64| if h < 470.0 { 21.4 } else { 21.4 * (-(h - 470.0) / tau).exp() };
    small.write("exports/living.csv", &export(0, 20, |h| last(h, 10.0)));
    small.write("exports/bedroom.csv", &export(1, 20, |h| last(h, 10.0) - 0.3));
    small.write("exports/bathroom.csv", &export(2, 20, |h| last(h, 30.0) - 0.6));
    small.write("exports/hall.csv", &export(3, 20, |h| last(h, 30.0) - 0.5));
    small.write("exports/weather.csv", &export(4, 20, |_| -2.0));
    let ran = small.audit();
    assert!(standing(&ran.stdout, "1A").starts_with("visit"), "{}", ran.stdout);
    assert!(!ran.stdout.contains("logger-handled"), "{}", ran.stdout);
}

#[test]
fn criteria_that_make_no_sense_are_refused() {
    for (asked, words) in [
        ("hours_below = \"1\"", "expected a share such as \"1 %\""),
        ("days = 0", "expected a whole number of days"),
        ("period = \"after\"", "expected the name of a [[period]]"),
        ("evenness = \"yes\"", "expected \"margin\" or \"not asked\""),
    ] {
        let small = SmallSite::new(&format!("{SITE}[acceptance]\n{asked}\n"), ROSTER);
        let said = small.refused();
        assert!(said.contains(words), "{asked}: {said}");
    }
}
