//! The methods section of an audit: whether it defines what an audit gives, tells every setting, and nothing that does not apply;
//! and whether `explain` tells how numbers are made again.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;

use evenrooms::metrics::{HOURS_BELOW_BAND, IntervalKind, PROCEDURES, RECIPES, all};

use crate::program::{SampleAudit, run, sample_folder};
use crate::small_site::{HEAT_RULE, ROSTER, SITE, SmallSite, written_time};

/// The methods section of the sample.
fn of_sample() -> String {
    let ran = run(&sample_folder(), &["methods", "site.toml"]);
    assert_eq!((ran.code, ran.stderr.as_str()), (Some(0), ""));
    ran.stdout
}

/// The methods section of a small site.
fn of_small(site: &str, roster: &str) -> String {
    let small = SmallSite::new(site, roster);
    let ran = run(small.folder(), &["methods", "site.toml"]);
    assert_eq!(ran.code, Some(0), "{}", ran.stderr);
    ran.stdout
}

/// What `explain` says of a name.
fn explained(name: &str) -> String {
    let ran = run(&sample_folder(), &["explain", name]);
    assert_eq!(ran.code, Some(0), "{name}: {}", ran.stderr);
    ran.stdout
}

#[test]
fn every_metric_and_event_that_the_sample_has_is_defined() {
    let (audit, methods) = (SampleAudit::get(), of_sample());
    let of = |table: &str, column: &str| -> BTreeSet<String> {
        audit.csv(table).into_iter().map(|mut row| row.remove(column).unwrap()).collect()
    };
    let metrics = of("metrics.csv", "metric");
    assert!(metrics.len() > 80, "{}", metrics.len());
    for id in metrics {
        assert!(methods.contains(&format!("- **`{id}`** (")), "{id}");
    }
    for kind in of("events.csv", "kind") {
        assert!(methods.contains(&format!("- **{kind}** (")), "{kind}");
    }
    for criterion in of("acceptance.csv", "criterion") {
        assert!(methods.contains(&format!("- **{criterion}** (")), "{criterion}");
    }
    for interval in of("metrics.csv", "interval").into_iter().filter(|words| !words.is_empty()) {
        let told = methods.lines().find(|line| line.contains("`interval`: ") && line.contains(&interval));
        assert!(told.is_some_and(|line| line.contains("low")), "{interval}");
    }
}

/// The settings of a site file by their paths, each with its value as it stands there.
fn settings(table: &toml::Table, above: &str, found: &mut Vec<(String, String)>) {
    for (key, value) in table {
        let path = if above.is_empty() { key.clone() } else { format!("{above}.{key}") };
        match value {
            toml::Value::Table(inner) => settings(inner, &path, found),
            toml::Value::Array(items) if items.iter().any(toml::Value::is_table) => {
                items.iter().filter_map(toml::Value::as_table).for_each(|one| settings(one, &path, found));
            }
            toml::Value::String(text) => found.push((path, format!("\"{text}\""))),
            other => panic!("{path}: {other:?}"),
        }
    }
}

#[test]
fn every_setting_of_the_sample_is_told_as_it_stands() {
    let text = fs::read_to_string(sample_folder().join("site.toml")).unwrap();
    let mut stated = Vec::new();
    settings(&text.parse().unwrap(), "", &mut stated);
    assert!(stated.len() > 35, "{}", stated.len());
    let methods = of_sample();
    for (path, written) in stated {
        let row = |line: &&str| {
            line.starts_with(&format!("| `{path}` | ")) && line.contains(&format!("`{written}`"))
        };
        assert!(methods.lines().any(|line| row(&line)), "{path} = {written}");
    }
    // Said in °C: 68 °F by day and 62 °F by night, a target of 70 °F.
    for told in ["band: 20 °C to 24.4444 °C", "16.6667 °C to 24.4444 °C", "target after it 21.1111 °C"] {
        assert!(methods.contains(told), "{told}");
    }
    // Periods in UTC: midnight in Chicago in winter is six o'clock, and five from 8 March on.
    assert!(methods.contains("2026-02-19T06:00:00Z to before 2026-03-10T05:00:00Z"), "the second period");
}

#[test]
fn nothing_is_told_of_what_a_site_does_not_ask() {
    let plain = of_small(&SITE.replace("[band]\nlower = \"20 °C\"\nupper = \"24 °C\"\n", ""), ROSTER);
    for absent in [
        "`hours_below_band`",
        "`heat_rule_hours_below`",
        "Heat rule",
        "`acceptance.heat_rule`",
        "`acceptance.hours_below`",
        "`colocation.",
        "`setback.",
        "`period.",
        "Side by side",
        "`outdoor_slope`",
        "`mean_at_design`",
        "`offset_from_building`",
        "**setback recovery** (",
        "**below band** (",
        "room-overheated",
    ] {
        assert!(!plain.contains(absent), "{absent}");
    }
    for there in [
        "`mean`",
        "`spread_median`",
        "`setbacks_found`",
        "no band",
        "no weather series",
        "`site.step` | 5 min | default",
    ] {
        assert!(plain.contains(there), "{there}");
    }
    let ruled = of_small(&format!("{SITE}{HEAT_RULE}"), ROSTER);
    for there in ["`heat_rule_hours_below`", "at least 20 °C", "`hours_below_band`", "**below band** ("] {
        assert!(ruled.contains(there), "{there}");
    }
}

#[test]
fn what_a_site_sets_otherwise_is_told_beside_the_default() {
    let site = format!(
        "{}[quality]\ntests = []\nuse_suspect = false\n[spread]\nmargin = \"1.5 K\"\n",
        SITE.replace(
            "clock = \"civil\"",
            "clock = \"civil\"\nalignment = \"interval-mean\"\nstep = \"10 min\""
        )
    );
    let methods = of_small(&site, ROSTER);
    for told in [
        "`site.step`: 10 min (default: 5 min)",
        "`site.alignment`: interval-mean (default: instant)",
        "`quality.tests`: none (default: gross range, spike,",
        "`quality.use_suspect`: false (default: true)",
        "`spread.margin`: 1.5 K (default: 2 K)",
        "Suspect readings are left out: `use_suspect` is false.",
        "test **spike** (switched off by the site file)",
    ] {
        assert!(methods.contains(told), "{told}");
    }
    assert!(!methods.contains("`spread.limit`: "), "as by default");
    let preset = of_small(&format!("{SITE}[heat_rule]\npreset = \"chicago\"\n"), ROSTER);
    assert!(preset.contains("the heat rule `chicago` assumes: ") && preset.contains("decisive words: "));
}

#[test]
fn it_takes_no_export_and_every_work_has_a_number_of_its_own() {
    let small = SmallSite::new(
        SITE,
        "home,room,use,heated,logger,file\n1A,living,living,yes,,\n1A,bath,bathroom,no,L-2,\n",
    );
    fs::remove_dir_all(small.folder().join("exports")).unwrap();
    let ran = run(small.folder(), &["methods", "site.toml"]);
    assert_eq!(ran.code, Some(0), "{}", ran.stderr);
    let sample = of_sample();
    let references = sample.split("\n## References\n").nth(1).unwrap();
    let listed: Vec<&str> =
        references.lines().filter(|line| line.starts_with(|c: char| c.is_ascii_digit())).collect();
    for (number, line) in (1..).zip(&listed) {
        assert!(line.starts_with(&format!("{number}. ")), "{line}");
        assert!(sample.contains(&format!("[{number}")) || sample.contains(&format!(", {number}")), "{line}");
    }
    let different: BTreeSet<&str> =
        listed.iter().filter_map(|line| line.split_once(". ")).map(|(_, work)| work).collect();
    assert!(listed.len() > 20 && different.len() == listed.len(), "{listed:#?}");
}

#[test]
fn the_readme_says_how_to_cite_as_the_program_does() {
    let readme = include_str!("../../README.md");
    let below = readme.split("\n## How to cite\n").nth(1).expect("a heading `## How to cite`");
    for line in evenrooms::methods::HOW_TO_CITE {
        assert!(below.contains(line), "{line}");
        assert!(of_sample().contains(line), "{line}");
    }
}

#[test]
fn every_topic_answers_with_what_it_takes_to_make_a_number_again() {
    for (topic, tells) in [
        ("step", "1970-01-01"),
        ("alignment", "(t − t₀)/(t₁ − t₀)"),
        ("max_gap", "two and a half sampling intervals"),
        ("seed", "0x9E3779B97F4A7C15"),
        ("compare", "⌊daily outdoor mean / 2 K⌋"),
        ("colocation", "√(u₀² (ρ + (1 − ρ)/n) + r²)"),
        ("lag", "0.7 d and 1.3 d"),
        ("held low", "0.7 K"),
        ("grid values", "thousandth"),
        ("mean over days", "n_eff"),
        ("days drawn anew", "√(D/n_eff)"),
        ("recovery_median", "recovery times"),
        ("recovery times", "Greenwood"),
        ("95 % days drawn anew and sensor accuracy", "1000 draws"),
        ("hours_below_band", "sensor accuracy and lag"),
        ("late_recoveries", "k the median over the mornings"),
    ] {
        let text = explained(topic);
        assert!(text.contains(tells), "{topic}: {text}");
    }
    for procedure in PROCEDURES {
        assert!(explained(procedure.name).contains(procedure.text), "{}", procedure.name);
    }
    for kind in IntervalKind::ALL {
        assert!(explained(kind.words()).contains(kind.procedure().text), "{}", kind.words());
    }
}

#[test]
fn every_metric_with_an_interval_in_the_sample_has_its_recipe() {
    let audit = SampleAudit::get();
    let with_interval: BTreeSet<String> = audit
        .csv("metrics.csv")
        .into_iter()
        .filter(|row| !row["interval"].is_empty())
        .map(|mut row| row.remove("metric").unwrap())
        .collect();
    assert!(with_interval.contains(HOURS_BELOW_BAND.id) && with_interval.len() > 20, "{with_interval:?}");
    for id in with_interval {
        let metric = all().find(|m| m.id == id).unwrap();
        assert!(RECIPES.iter().any(|recipe| recipe.of.contains(&metric)), "{id}");
    }
}

#[test]
fn site_file_and_roster_lie_beside_the_results_as_they_were_read() {
    let audit = SampleAudit::get();
    let provenance = audit.json("provenance.json");
    let package = audit.json("datapackage.json");
    for name in ["site.toml", "roster.csv"] {
        assert_eq!(
            fs::read(audit.path(name)).unwrap(),
            fs::read(sample_folder().join(name)).unwrap(),
            "{name}"
        );
        let listed = package["resources"].as_array().unwrap().iter().any(|r| r["path"] == name);
        assert!(listed && provenance["outputs"].to_string().contains(name), "{name}");
    }
}

#[test]
fn where_the_site_file_lies_among_the_results_it_stays_a_persons_own() {
    let small = SmallSite::new(SITE, ROSTER);
    let before = fs::read(small.folder().join("site.toml")).unwrap();
    let ran = run(small.folder(), &["audit", "site.toml", "--out", "."]);
    assert!(ran.code != Some(2), "{}", ran.stderr);
    assert_eq!(fs::read(small.folder().join("site.toml")).unwrap(), before);
    let provenance = fs::read_to_string(small.folder().join("provenance.json")).unwrap();
    let provenance: serde_json::Value = serde_json::from_str(&provenance).unwrap();
    assert!(!provenance["outputs"].to_string().contains("site.toml"), "{}", provenance["outputs"]);
    // A site file that is somebody's own in the folder of results of another stops the run.
    let other = SmallSite::new(SITE, ROSTER);
    fs::create_dir(other.folder().join("results")).unwrap();
    fs::write(other.folder().join("results/site.toml"), "mine").unwrap();
    let ran = run(other.folder(), &["audit", "site.toml", "--out", "results"]);
    assert_eq!(ran.code, Some(2), "{}", ran.stdout);
    assert_eq!(fs::read_to_string(other.folder().join("results/site.toml")).unwrap(), "mine");
}

#[test]
fn under_pseudonyms_neither_lies_there() {
    let small = SmallSite::new(SITE, ROSTER);
    small.write("key", &[7; 32]);
    let ran = run(small.folder(), &["audit", "site.toml", "--out", "results", "--pseudonyms", "key"]);
    assert!(ran.code != Some(2), "{}", ran.stderr);
    for name in ["site.toml", "roster.csv"] {
        assert!(!small.folder().join("results").join(name).exists(), "{name}");
    }
    let provenance = fs::read_to_string(small.folder().join("results/provenance.json")).unwrap();
    assert!(provenance.contains("copies of site file and roster"));
}

#[test]
fn the_table_of_rooms_tells_which_are_heated() {
    let audit = SampleAudit::get();
    let rooms = audit.csv("rooms.csv");
    let count = |column: &str, value: &str| rooms.iter().filter(|row| row[column] == value).count();
    assert_eq!((rooms.len(), count("heated", "yes"), count("heated", "no")), (36, 18, 18));
    assert_eq!((count("use", "bathroom"), count("floor", "1"), count("height_m", "1.2")), (6, 12, 30));
    let of_two = rooms.iter().find(|row| row["home"] == "1A" && row["room"] == "bedroom 1").unwrap();
    assert_eq!(of_two["loggers"], "L-102; L-119");
    let package = audit.json("datapackage.json");
    let resource =
        |path: &str| package["resources"].as_array().unwrap().iter().find(|r| r["path"] == path).unwrap();
    assert_eq!(resource("rooms.csv")["schema"]["primaryKey"], serde_json::json!(["site", "home", "room"]));
    assert_eq!(resource("findings.csv")["schema"]["foreignKeys"][0]["reference"]["resource"], "rooms-csv");
    assert_eq!(package["schema_version"], 1);
    assert!(package.get("licenses").is_none(), "nobody stated one");
    let small = SmallSite::new(&SITE.replace("clock =", "licence = \"CC-BY-4.0\"\nclock ="), ROSTER);
    run(small.folder(), &["audit", "site.toml", "--out", "results"]);
    let stated = fs::read_to_string(small.folder().join("results/datapackage.json")).unwrap();
    let stated: serde_json::Value = serde_json::from_str(&stated).unwrap();
    assert_eq!(stated["licenses"], serde_json::json!([{ "name": "CC-BY-4.0" }]));
}

/// A site whose bedroom lies 1.8 K under the heated rooms all the time: even by a margin of 2.5 K, not by one of 2 K.
fn with_a_cool_bedroom(margin: &str) -> SmallSite {
    let site = format!(
        "{SITE}[spread]\nmargin = \"{margin}\"\n[acceptance]\ndays = 7\nhours_below = \"not asked\"\n"
    );
    let roster = "home,room,use,heated,logger,file,accuracy_k\n1A,living,living,yes,L-1,living.csv,0.2\n1A,study,bedroom,yes,L-3,study.csv,0.2\n1A,bedroom,bedroom,no,L-2,bedroom.csv,0.2\n";
    let small = SmallSite::new(&site, roster);
    let export = |level: f64, own: usize| {
        let row = |n: usize| {
            format!("{},{:.1}\n", written_time(n), level + ((n * own + n / (own + 6)) % 5) as f64 / 10.0)
        };
        format!("time,temperature (°C)\n{}", (0..10 * 144).map(row).collect::<String>())
    };
    small.write("exports/living.csv", export(21.0, 7).as_bytes());
    small.write("exports/study.csv", export(21.2, 3).as_bytes());
    small.write("exports/bedroom.csv", export(19.3, 11).as_bytes());
    small
}

/// The answers of the criteria, as an audit gives them.
fn answers(out: &std::path::Path) -> BTreeMap<String, String> {
    let rows = csv::Reader::from_path(out.join("acceptance.csv"))
        .unwrap()
        .into_deserialize::<BTreeMap<String, String>>();
    rows.map(Result::unwrap).map(|row| (row["criterion"].clone(), row["answer"].clone())).collect()
}

#[test]
fn what_turns_under_another_setting_is_what_an_audit_with_that_setting_says() {
    let small = with_a_cool_bedroom("2 K");
    let ran = run(small.folder(), &["audit", "site.toml", "--out", "out", "--sensitivity"]);
    assert!(ran.code == Some(0) && ran.stderr.contains("Sensitivity: "), "{}", ran.stderr);
    let rows: Vec<BTreeMap<String, String>> = csv::Reader::from_path(small.out().join("sensitivity.csv"))
        .unwrap()
        .into_deserialize()
        .map(Result::unwrap)
        .collect();
    let settings: BTreeSet<(&str, &str)> =
        rows.iter().map(|row| (row["setting"].as_str(), row["changed_to"].as_str())).collect();
    let expected = [
        ("accuracy_k", "half as much again"),
        ("accuracy_k", "two thirds"),
        ("quality.use_suspect", "false"),
        ("site.max_gap", "1 h"),
        ("site.max_gap", "15 min"),
        ("site.step", "10 min"),
        ("site.step", "2 min"),
        ("spread.margin", "1.5 K"),
        ("spread.margin", "2.5 K"),
    ];
    assert_eq!(settings, expected.into());
    for row in &rows {
        assert_eq!(row["turned"] == "true", row["as_audited"] != row["changed"], "{row:?}");
    }
    // With the margin half a kelvin wider, the criteria are those of an audit that asks for it.
    let asked = with_a_cool_bedroom("2.5 K");
    run(asked.folder(), &["audit", "site.toml", "--out", "out"]);
    let (before, after) = (answers(&small.out()), answers(&asked.out()));
    let of_margin = |changed_to: &str, column: &str| -> BTreeMap<String, String> {
        let rows =
            rows.iter().filter(|row| row["setting"] == "spread.margin" && row["changed_to"] == changed_to);
        let criteria = rows.filter(|row| before.contains_key(&row["verdict"]));
        criteria.map(|row| (row["verdict"].clone(), row[column].clone())).collect()
    };
    assert_eq!(of_margin("2.5 K", "as_audited"), before);
    assert_eq!(of_margin("2.5 K", "changed"), after);
    assert_ne!(before["evenness"], "pass");
    assert_eq!(after["evenness"], "pass");
    // The table goes with the next audit that does not ask for it.
    run(small.folder(), &["audit", "site.toml", "--out", "out"]);
    assert!(!small.out().join("sensitivity.csv").exists());
}

/// The p values of the sample adjusted once more by their definition: the least of p · m/rank over all that are no smaller.
#[test]
fn verdicts_are_adjusted_for_their_number_over_all_homes() {
    let audit = SampleAudit::get();
    let rows = audit.csv("metrics.csv");
    let judged = "after the visit";
    let of = |metric: &str| -> BTreeMap<(String, String), f64> {
        let rows = rows.iter().filter(|row| row["metric"] == metric && row["period"] == judged);
        rows.map(|row| ((row["home"].clone(), row["room"].clone()), row["value"].parse().unwrap())).collect()
    };
    let (even, verdicts) = (of("even_p"), of("evenness_verdict"));
    assert!(even.len() > 25, "{}", even.len());
    let in_building: Vec<f64> = of("verdicts_at_once").into_values().collect();
    assert_eq!(in_building, [even.len() as f64]);
    for (metric, p) in [
        ("even_p_adjusted", &even),
        ("uneven_p_adjusted", &even.iter().map(|(k, p)| (k.clone(), 1.0 - p)).collect()),
    ] {
        let adjusted = of(metric);
        assert_eq!(adjusted.len(), p.len());
        for (room, own) in p {
            let rank = |x: f64| p.values().filter(|v| **v <= x).count() as f64;
            let least =
                p.values().filter(|v| *v >= own).map(|v| v * p.len() as f64 / rank(*v)).fold(1.0, f64::min);
            assert!((adjusted[room] - least).abs() < 1e-9, "{metric} {room:?}: {} {least}", adjusted[room]);
        }
    }
    // The verdict is that of one room: an interval inside the margin is a p value under 5 %.
    for (room, verdict) in verdicts.iter().filter(|(room, _)| even.contains_key(*room)) {
        if *verdict > 0.5 {
            assert!(even[room] < 0.05, "{room:?}");
        } else if *verdict < -0.5 {
            assert!(even[room] > 0.95, "{room:?}");
        }
    }
    assert_eq!(of("even_p").keys().filter(|room| !verdicts.contains_key(*room)).count(), 0);
}
