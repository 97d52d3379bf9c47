//! Corrections that records propose: nothing without the option, and with it the numbers of the record that had no fault.

use std::path::Path;

use crate::program::{Ran, files_in, run};

/// Three homes; in 1B living and bedroom 2 are exchanged and the hall's clock changes, in 1C a logger is moved and a clock is wrong.
const BUILDING: [&str; 11] =
    ["simulate", "--physics", "lived-in", "--seed", "10", "--homes", "3", "--days", "21", "--troubles", "0"];

fn audit(folder: &Path, site: &str, out: &str, more: &[&str]) -> Ran {
    let ran = run(folder, &[&["audit", site, "--out", out, "--no-report"], more].concat());
    assert_eq!(ran.code, Some(0), "{}", ran.stderr);
    ran
}

/// Value, low and high of a metric of a room in all hours.
fn row(folder: &Path, out: &str, [home, room, metric]: [&str; 3]) -> [f64; 3] {
    let text = files_in(&folder.join(out)).remove("metrics.csv").unwrap();
    let mut reader = csv::Reader::from_reader(text.as_slice());
    let headers = reader.headers().unwrap().clone();
    let column = |name: &str| headers.iter().position(|h| h == name).unwrap();
    let wanted = [("home", home), ("room", room), ("metric", metric), ("slice", "all")];
    let is = |r: &csv::StringRecord| wanted.iter().all(|(name, cell)| r[column(name)] == **cell);
    let found = reader.records().map(Result::unwrap).find(is);
    let found = found.unwrap_or_else(|| panic!("no {metric} of {home} {room} in {out}"));
    ["value", "low", "high"].map(|name| found[column(name)].parse().unwrap_or(f64::NAN))
}

#[test]
fn what_is_applied_gives_the_numbers_of_the_record_without_a_fault() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    for (out, faults) in [("faulty", "0.35"), ("sound", "0")] {
        let ran = run(folder, &[&BUILDING[..], &["--out", out, "--faults", faults]].concat());
        assert_eq!(ran.code, Some(0), "{}", ran.stderr);
    }
    audit(folder, "sound/site.toml", "of-sound", &[]);
    let as_is = audit(folder, "faulty/site.toml", "as-is", &[]);
    let roster = files_in(&folder.join("faulty")).remove("roster.csv");
    let applied = audit(folder, "faulty/site.toml", "applied", &["--apply-proposals"]);
    assert!(!as_is.stderr.contains("applied to"), "{}", as_is.stderr);
    assert!(files_in(&folder.join("faulty")).remove("roster.csv") == roster, "the roster was changed");
    // It is said everywhere.
    let provenance =
        String::from_utf8(files_in(&folder.join("applied")).remove("provenance.json").unwrap()).unwrap();
    for said in [
        "applied to logger 1B-1, as its record proposes (loggers-exchanged): to = 2026-01-1",
        "applied to logger 1B-6, as its record proposes (clock-suspect): clock = fixed -0",
        "applied to logger 1C-1, as its record proposes (logger-moved): to = 2026-01-1",
        "applied to logger 1C-2, as its record proposes (clock-suspect): clock = ",
    ] {
        assert!(applied.stderr.contains(said) && provenance.contains(said), "{said}:\n{}", applied.stderr);
    }
    assert!(applied.stderr.contains("Applied, as the records propose (4)"), "{}", applied.stderr);
    // Exchanged rooms are 0.3 to 0.5 K off as they are, and right once applied; no clock is doubted any more.
    for room in ["living", "bedroom 2", "hall"] {
        let of = |out: &str, metric: &str| row(folder, out, ["1B", room, metric]);
        let ([mean, ..], [true_mean, ..]) = (of("applied", "mean"), of("of-sound", "mean"));
        assert!((mean - true_mean).abs() < 0.05, "{room}: {mean}, truly {true_mean}");
        let [offset, ..] = of("applied", "offset_from_reference");
        let [_, low, high] = of("of-sound", "offset_from_reference");
        assert!((low..=high).contains(&offset), "{room}: {offset} outside of {low} to {high}");
    }
    let off = |out: &str| {
        row(folder, out, ["1B", "living", "mean"])[0] - row(folder, "of-sound", ["1B", "living", "mean"])[0]
    };
    assert!(off("as-is").abs() > 0.2, "{}", off("as-is"));
    let doubts = |out: &str| {
        let text = String::from_utf8(files_in(&folder.join(out)).remove("findings.csv").unwrap()).unwrap();
        text.lines()
            .filter(|line| line.contains(",clock-suspect,") || line.contains(",loggers-exchanged,"))
            .count()
    };
    assert!(doubts("as-is") >= 4 && doubts("applied") == 0, "{} and {}", doubts("as-is"), doubts("applied"));
}

#[test]
fn sound_records_propose_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let made = run(
        folder.path(),
        &["simulate", "--seed", "3", "--homes", "2", "--days", "9", "--faults", "0", "--out", "site"],
    );
    assert_eq!(made.code, Some(0), "{}", made.stderr);
    let with = audit(folder.path(), "site/site.toml", "with", &["--apply-proposals"]);
    audit(folder.path(), "site/site.toml", "without", &[]);
    assert!(with.stderr.contains("no record proposes a correction"), "{}", with.stderr);
    let (with, without) = (files_in(&folder.path().join("with")), files_in(&folder.path().join("without")));
    assert!(with["metrics.csv"] == without["metrics.csv"] && with["cases.csv"] == without["cases.csv"]);
}
