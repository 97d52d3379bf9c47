//! Several sites put together: every number of the summary recomputed from the tables of the audits, sites that cannot be taken
//! named, and the same bytes in whatever order they are named.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::LazyLock;

use arrow::compute::concat_batches;
use arrow::record_batch::RecordBatch;
use parquet::arrow::arrow_reader::ParquetRecordBatchReaderBuilder;
use tempfile::TempDir;

use crate::program::{Ran, files_in, run};

type Row = BTreeMap<String, String>;

/// Three sites and the results of their audits.
struct Sites {
    folder: TempDir,
}

/// Names with what file systems and web addresses take for something else.
const NAMES: [&str; 3] = ["Elm & Oak/1", "Alder Row", "=Beech <b>"];
/// The same as folders, by hand.
const FOLDERS: [&str; 3] = ["site=Elm%20%26%20Oak%2F1", "site=Alder%20Row", "site=%3DBeech%20%3Cb%3E"];

static SITES: LazyLock<Sites> = LazyLock::new(|| {
    let folder = tempfile::tempdir().unwrap();
    let sites = Sites { folder };
    for (at, name) in NAMES.iter().enumerate() {
        let (site, seed) = (format!("site{at}"), (at + 1).to_string());
        let args = ["simulate", "--out", &site, "--homes", "6", "--days", "16", "--interval", "30 min"];
        assert_eq!(run(sites.path(), &[&args[..], &["--seed", &seed, "--quiet"]].concat()).code, Some(0));
        let file = sites.path().join(&site).join("site.toml");
        let text = fs::read_to_string(&file).unwrap();
        let renamed = text
            .lines()
            .map(|l| if l.starts_with("name = ") { format!("name = '{name}'") } else { l.to_owned() });
        fs::write(&file, renamed.collect::<Vec<_>>().join("\n")).unwrap();
        let results = format!("results{at}");
        sites.audit(&site, &results, &[]);
    }
    sites
});

impl Sites {
    fn path(&self) -> &Path {
        self.folder.path()
    }

    fn audit(&self, site: &str, results: &str, more: &[&str]) {
        let file = format!("{site}/site.toml");
        let args = ["audit", &file, "--out", results, "--no-report", "--quiet"];
        assert_eq!(run(self.path(), &[&args[..], more].concat()).code, Some(0), "{site}");
    }

    fn results(&self, at: usize) -> PathBuf {
        self.path().join(format!("results{at}"))
    }

    fn merge(&self, folders: &[&str], out: &Path) -> Ran {
        run(self.path(), &[&["portfolio"], folders, &["--out", out.to_str().unwrap()]].concat())
    }

    /// All three, in the order of their numbers.
    fn all(&self) -> (TempDir, Ran) {
        let out = tempfile::tempdir().unwrap();
        let ran = self.merge(&["results0", "results1", "results2"], out.path());
        (out, ran)
    }

    /// The results of a site in a folder of their own, to be changed.
    fn copy(&self, at: usize) -> TempDir {
        let copy = tempfile::tempdir().unwrap();
        for (name, bytes) in files_in(&self.results(at)) {
            fs::write(copy.path().join(name), bytes).unwrap();
        }
        copy
    }
}

fn rows(path: &Path) -> Vec<Row> {
    csv::Reader::from_path(path).unwrap().deserialize().map(Result::unwrap).collect()
}

fn number(row: &Row, column: &str) -> Option<f64> {
    (!row[column].is_empty()).then(|| row[column].parse().unwrap())
}

fn close(got: f64, want: f64, what: &str) {
    assert!((got - want).abs() <= 1e-9 * want.abs().max(1.0), "{what}: {got}, expected {want}");
}

/// Between order statistics, by hand.
fn quantile(values: &[f64], p: f64) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let at = p * (sorted.len() - 1) as f64;
    let low = sorted[at.floor() as usize];
    if at.fract() == 0.0 { low } else { low + (sorted[at.floor() as usize + 1] - low) * at.fract() }
}

/// The numbers of rooms by site and home, of one metric and use; the use empty for homes as a whole.
type OfHomes<'r> = BTreeMap<(usize, String), Vec<&'r Row>>;

/// What the tables of the audits hold, joined by hand.
struct Tables {
    metrics: Vec<(usize, Row)>,
    uses: BTreeMap<(usize, String, String), String>,
}

impl Tables {
    fn read(sites: &Sites) -> Self {
        let (mut metrics, mut uses) = (Vec::new(), BTreeMap::new());
        for at in 0..NAMES.len() {
            for row in rows(&sites.results(at).join("rooms.csv")) {
                uses.insert((at, row["home"].clone(), row["room"].clone()), row["use"].clone());
            }
            let of_site = rows(&sites.results(at).join("metrics.csv")).into_iter();
            metrics.extend(of_site.filter(|r| r["slice"] == "all" && !r["home"].is_empty()).map(|r| (at, r)));
        }
        Self { metrics, uses }
    }

    fn of(&self, metric: &str, purpose: &str, site: Option<usize>) -> OfHomes<'_> {
        let mut homes = OfHomes::new();
        for (at, row) in self.metrics.iter().filter(|(at, _)| site.is_none_or(|s| s == *at)) {
            let place = (*at, row["home"].clone(), row["room"].clone());
            let own = self.uses.get(&place).map_or("", String::as_str);
            assert!(row["room"].is_empty() || !own.is_empty(), "{place:?} has no use");
            if row["metric"] == metric && own == purpose {
                homes.entry((*at, row["home"].clone())).or_default().push(row);
            }
        }
        homes
    }
}

/// The number of the site that a row of the summary is about; `None`: all of them.
fn site_of(row: &Row) -> Option<usize> {
    (!row["site"].is_empty()).then(|| {
        let name = row["site"].strip_prefix('\'').unwrap_or(&row["site"]);
        NAMES.iter().position(|n| *n == name).unwrap()
    })
}

#[test]
fn medians_and_quartiles_are_those_of_the_tables() {
    let (out, ran) = SITES.all();
    assert_eq!(ran.code, Some(0), "{}", ran.stderr);
    let (tables, summary) = (Tables::read(&SITES), rows(&out.path().join("summary.csv")));
    let mut checked = BTreeSet::new();
    for row in summary.iter().filter(|row| row["kind"] == "metric" && row["name"] != "recovery_median") {
        let homes = tables.of(&row["name"], &row["use"], site_of(row));
        let of_rooms = |rooms: &Vec<&Row>| {
            rooms.iter().map(|r| number(r, "value").unwrap()).sum::<f64>() / rooms.len() as f64
        };
        let values: Vec<f64> = homes.values().map(of_rooms).collect();
        let what = format!("{} {} {}", row["site"], row["name"], row["use"]);
        assert_eq!(row["homes"], values.len().to_string(), "{what}");
        for (column, p) in [("first_quartile", 0.25), ("median", 0.5), ("third_quartile", 0.75)] {
            close(number(row, column).unwrap(), quantile(&values, p), &what);
        }
        checked.insert((row["name"].clone(), row["use"].clone()));
    }
    // Everything that the audits have of homes is there, but numbers that stand for words.
    let use_of = |at: usize, row: &Row| {
        tables.uses.get(&(at, row["home"].clone(), row["room"].clone())).cloned().unwrap_or_default()
    };
    let codes = ["evenness_verdict", "in_reference", "recovery_median"];
    for (at, row) in tables.metrics.iter().filter(|(_, row)| !codes.contains(&row["metric"].as_str())) {
        assert!(checked.contains(&(row["metric"].clone(), use_of(*at, row))), "{row:?}");
    }
    assert!(checked.len() > 200, "{}", checked.len());
}

/// Upper 2.5 % points of Student's distribution for 3 to 17 degrees of freedom, as printed in tables.
const T: [f64; 15] = [
    3.182446, 2.776445, 2.570582, 2.446912, 2.364624, 2.306004, 2.262157, 2.228139, 2.200985, 2.178813,
    2.160369, 2.144787, 2.131450, 2.119905, 2.109816,
];

fn t(degrees: usize) -> f64 {
    T[degrees - 3]
}

/// A home's value and error, of its rooms; `None` where one has no interval.
fn estimate(rooms: &[&Row]) -> Option<(f64, f64)> {
    let of_room = |row: &&Row| {
        let width = number(row, "high")? - number(row, "low")?;
        let errors = if row["interval"].starts_with("90 %") {
            2.0 * 1.6448536269514722
        } else {
            2.0 * 1.959963984540054
        };
        Some((number(row, "value").unwrap(), width / errors))
    };
    let known: Option<Vec<(f64, f64)>> = rooms.iter().map(of_room).collect();
    let (values, errors): (Vec<f64>, Vec<f64>) = known?.into_iter().unzip();
    let mean = |x: Vec<f64>| x.iter().sum::<f64>() / x.len() as f64;
    Some((mean(values), mean(errors)))
}

#[test]
fn means_over_homes_are_those_of_the_tables() {
    let (out, _) = SITES.all();
    let (tables, summary) = (Tables::read(&SITES), rows(&out.path().join("summary.csv")));
    let pooled = ["offset_from_reference", "spread_median", "spread_p95", "outdoor_slope"];
    let mut checked = 0;
    for row in summary.iter().filter(|row| pooled.contains(&row["name"].as_str())) {
        let homes = tables.of(&row["name"], &row["use"], site_of(row));
        let known: Vec<(f64, f64)> = homes.values().filter_map(|rooms| estimate(rooms)).collect();
        let (k, left) = (known.len(), homes.len() - known.len());
        assert_eq!(
            (row["homes_weighed"].clone(), row["homes_left_out"].clone()),
            (k.to_string(), left.to_string())
        );
        let what = format!("{} {} {}", row["site"], row["name"], row["use"]);
        if k < 5 || 10 * left > k + left {
            assert!(
                row["mean"].is_empty() && row["new_home_low"].is_empty() && !row["why_no_mean"].is_empty(),
                "{what}"
            );
            continue;
        }
        // Weights by hand, once without and once with the variance between homes.
        let w: Vec<f64> = known.iter().map(|(_, e)| 1.0 / (e * e)).collect();
        let sum = |f: &dyn Fn(usize) -> f64| (0..k).map(f).sum::<f64>();
        let fixed = sum(&|i| w[i] * known[i].0) / sum(&|i| w[i]);
        let q = sum(&|i| w[i] * (known[i].0 - fixed).powi(2));
        let c = sum(&|i| w[i]) - sum(&|i| w[i] * w[i]) / sum(&|i| w[i]);
        let between = ((q - (k - 1) as f64) / c).max(0.0);
        let v = |i: usize| 1.0 / (known[i].1 * known[i].1 + between);
        let mean = sum(&|i| v(i) * known[i].0) / sum(&v);
        let plain = (1.0 / sum(&v)).sqrt();
        let scatter = (sum(&|i| v(i) * (known[i].0 - mean).powi(2)) / (k - 1) as f64 / sum(&v)).sqrt();
        close(number(row, "mean").unwrap(), mean, &what);
        close(number(row, "between_sd").unwrap(), between.sqrt(), &what);
        let half = |low: &str, high: &str| {
            let (low, high) = (number(row, low).unwrap(), number(row, high).unwrap());
            if low == 0.0 { high - mean } else { (high - low) / 2.0 }
        };
        let (of_mean, of_new) = (half("mean_low", "mean_high"), half("new_home_low", "new_home_high"));
        assert!((of_mean / (t(k - 1) * scatter.max(plain)) - 1.0).abs() < 1e-6, "{what}");
        assert!((of_new / (t(k - 2) * (between + plain * plain).sqrt()) - 1.0).abs() < 1e-6, "{what}");
        assert!(!row["name"].starts_with("spread") || number(row, "new_home_low").unwrap() >= 0.0, "{what}");
        checked += 1;
    }
    assert!(checked >= 20, "{checked}");
}

#[test]
fn rows_of_the_building_are_those_of_its_site_in_the_summary() {
    let (out, _) = SITES.all();
    let summary = rows(&out.path().join("summary.csv"));
    let mut found = 0;
    for (at, _) in NAMES.iter().enumerate() {
        for (building, metric) in [
            ("offset", "offset_from_reference"),
            ("spread_median", "spread_median"),
            ("spread_p95", "spread_p95"),
            ("slope", "outdoor_slope"),
            ("recovery", "recovery_median"),
        ] {
            let all = rows(&SITES.results(at).join("metrics.csv"));
            let of = |part: &str| -> BTreeMap<String, Row> {
                let id = format!("homes_{building}_{part}");
                let own = all.iter().filter(|r| r["metric"] == id);
                own.map(|r| (r["room"].clone(), r.clone())).collect()
            };
            let (means, between, new) = (of("mean"), of("between"), of("new"));
            let told = summary.iter().filter(|r| site_of(r) == Some(at) && r["name"] == metric);
            for row in told {
                let what = format!("{at} {metric} {}", row["use"]);
                let Some(mean) = means.get(&row["use"]) else {
                    assert!(row["mean"].is_empty(), "{what}");
                    continue;
                };
                assert!(mean["home"].is_empty());
                for (column, told) in [
                    ("mean", mean["value"].as_str()),
                    ("mean_low", &mean["low"]),
                    ("mean_high", &mean["high"]),
                    ("between_sd", &between[&row["use"]]["value"]),
                    ("new_home_low", &new[&row["use"]]["low"]),
                    ("new_home_high", &new[&row["use"]]["high"]),
                ] {
                    close(number(row, column).unwrap(), told.parse().unwrap(), &format!("{what} {column}"));
                }
                found += 1;
            }
        }
    }
    assert!(found >= 15, "{found}");
}

/// The worst answer of a home's rooms decides.
fn answers(sites: &Sites, site: Option<usize>) -> BTreeMap<String, BTreeMap<(usize, String), u8>> {
    let mut all: BTreeMap<String, BTreeMap<(usize, String), u8>> = BTreeMap::new();
    for at in (0..NAMES.len()).filter(|at| site.is_none_or(|s| s == *at)) {
        for row in rows(&sites.results(at).join("acceptance.csv")) {
            let rank = |word: &str, order: [&[&str]; 3]| {
                order.iter().position(|words| words.contains(&word)).unwrap() as u8
            };
            let home = (at, row["home"].clone());
            let answer = rank(&row["answer"], [&["fail"], &["not enough data"], &["pass"]]);
            let worst = all.entry(row["criterion"].clone()).or_default().entry(home.clone()).or_insert(2);
            *worst = answer.min(*worst);
            let standings: [&[&str]; 3] =
                [&["visit today", "visit"], &["record again"], &["accept, keep an eye on", "accept"]];
            all.entry("accept".to_owned()).or_default().insert(home, rank(&row["standing"], standings));
        }
    }
    all
}

#[test]
fn shares_are_those_of_the_homes_that_were_judged() {
    let (out, ran) = SITES.all();
    let summary = rows(&out.path().join("summary.csv"));
    for site in [None, Some(0), Some(1), Some(2)] {
        let all = answers(&SITES, site);
        let told: Vec<&Row> =
            summary.iter().filter(|r| site_of(r) == site && r["kind"] != "metric").collect();
        assert_eq!(told.len(), all.len());
        for row in told {
            let homes: Vec<u8> = all[&row["name"]].values().copied().collect();
            let count = |answer: u8| homes.iter().filter(|a| **a == answer).count();
            let (pass, judged) = (count(2), count(0) + count(2));
            let got = ["homes", "judged", "pass"].map(|column| row[column].parse::<usize>().unwrap());
            assert_eq!(got, [homes.len(), judged, pass], "{row:?}");
            let (n, share) = (judged as f64, pass as f64 / judged as f64);
            close(number(row, "share_pass").unwrap(), 100.0 * share, &row["name"]);
            // The ends are where a share would be 1.96 of its own standard errors from what was seen.
            for column in ["share_low", "share_high"] {
                let end = number(row, column).unwrap() / 100.0;
                let square = 1.959963984540054_f64.powi(2) * end * (1.0 - end) / n;
                assert!(((end - share).powi(2) - square).abs() < 1e-9, "{row:?}");
            }
        }
    }
    let all = answers(&SITES, None);
    let accepted = all["accept"].values().filter(|a| **a == 2).count();
    assert!(ran.stdout.starts_with("3 sites, 18 homes: "), "{}", ran.stdout);
    assert!(accepted > 0 && accepted < 18);
}

#[test]
fn the_order_of_the_arguments_changes_no_byte() {
    let (out, ran) = SITES.all();
    let other = tempfile::tempdir().unwrap();
    let again = SITES.merge(&["results2", "results0", "results1"], other.path());
    assert_eq!((ran.code, again.code), (Some(0), Some(0)));
    let (first, second) = (files_in(out.path()), files_in(other.path()));
    assert_eq!(first.keys().collect::<Vec<_>>(), second.keys().collect::<Vec<_>>());
    assert!(first == second);
}

/// All rows of a Parquet file.
fn parquet(bytes: &[u8]) -> RecordBatch {
    let bytes = bytes::Bytes::copy_from_slice(bytes);
    let builder = ParquetRecordBatchReaderBuilder::try_new(bytes).unwrap();
    let schema = std::sync::Arc::clone(builder.schema());
    let batches: Vec<RecordBatch> = builder.build().unwrap().map(Result::unwrap).collect();
    concat_batches(&schema, &batches).unwrap()
}

#[test]
fn tables_of_the_sites_are_taken_over_as_they_are() {
    let (out, _) = SITES.all();
    let files = files_in(out.path());
    let tables = [
        "acceptance.csv",
        "not_judged.csv",
        "loggers.csv",
        "cases.parquet",
        "metrics.parquet",
        "events.parquet",
        "findings.parquet",
        "rooms.parquet",
    ];
    for (at, folder) in FOLDERS.iter().enumerate() {
        for name in tables {
            let (table, ending) = name.split_once('.').unwrap();
            let own = fs::read(SITES.results(at).join(name)).unwrap();
            let taken = &files[&format!("{table}/{folder}/part.{ending}")];
            if ending == "csv" {
                assert!(*taken == own, "{folder} {name}");
                continue;
            }
            // Readers make the column of the folder's name, and refuse a file that has it too.
            let (own, taken) = (parquet(&own), parquet(taken));
            assert!(own.num_rows() > 0 && own.schema().field(0).name() == "site");
            assert_eq!(own.schema().fields()[1..], taken.schema().fields()[..]);
            assert!(own.columns()[1..] == taken.columns()[..], "{folder} {name}");
        }
    }
    assert_eq!(files.len(), 3 * tables.len() + 5, "{:?}", files.keys());
    let package: serde_json::Value = serde_json::from_slice(&files["datapackage.json"]).unwrap();
    let resources = package["resources"].as_array().unwrap();
    let paths: BTreeSet<&str> = resources.iter().map(|r| r["path"].as_str().unwrap()).collect();
    let names: BTreeSet<&str> = resources.iter().map(|r| r["name"].as_str().unwrap()).collect();
    assert_eq!(paths.len(), files.len() - 1, "all but the descriptor itself");
    assert_eq!(names.len(), resources.len(), "each has a name of its own");
    let page = String::from_utf8(files["portfolio.html"].clone()).unwrap();
    assert!(page.contains("=Beech &lt;b&gt;") && !page.contains("=Beech <b>"));
}

#[test]
fn a_site_that_is_left_out_later_is_gone_and_nothing_else_is_touched() {
    let (out, _) = SITES.all();
    let two = SITES.merge(&["results0", "results1"], out.path());
    assert_eq!(two.code, Some(0), "{}", two.stderr);
    let fresh = tempfile::tempdir().unwrap();
    SITES.merge(&["results0", "results1"], fresh.path());
    assert!(files_in(out.path()) == files_in(fresh.path()));
    assert!(!out.path().join("metrics").join(FOLDERS[2]).exists(), "no empty folder is left");
    fs::write(out.path().join("summary.csv"), "mine").unwrap();
    let refused = SITES.merge(&["results0", "results1"], out.path());
    assert_eq!(refused.code, Some(2));
    assert!(refused.stderr.contains("changed since evenrooms wrote it"), "{}", refused.stderr);
    let into_audit = SITES.merge(&["results0", "results1"], &SITES.results(0));
    assert_eq!(into_audit.code, Some(2));
    assert!(into_audit.stderr.contains("results of another command"), "{}", into_audit.stderr);
}

#[test]
fn a_broken_site_is_named_and_the_others_are_done() {
    let fresh = tempfile::tempdir().unwrap();
    SITES.merge(&["results0", "results1"], fresh.path());
    let expected = fs::read(fresh.path().join("summary.csv")).unwrap();
    let damaged = |name: &str| {
        let copy = SITES.copy(2);
        let path = copy.path().join(name);
        let mut bytes = fs::read(&path).unwrap();
        let middle = bytes.len() / 2;
        bytes[middle] ^= 1;
        fs::write(&path, bytes).unwrap();
        copy
    };
    let missing = SITES.copy(2);
    fs::remove_file(missing.path().join("cases.parquet")).unwrap();
    let empty = tempfile::tempdir().unwrap();
    let broken = [
        (damaged("metrics.parquet"), "found SHA-256"),
        (damaged("acceptance.csv"), "found SHA-256"),
        (damaged("events.parquet"), "found SHA-256"),
        (damaged("provenance.json"), "its provenance.json "),
        (missing, "cases.parquet: could not be read"),
        (empty, "found no provenance.json"),
    ];
    for (folder, why) in &broken {
        let out = tempfile::tempdir().unwrap();
        let name = folder.path().to_str().unwrap();
        let ran = SITES.merge(&["results0", name, "results1"], out.path());
        assert_eq!(ran.code, Some(1), "{why}: {}", ran.stderr);
        assert!(ran.stderr.contains(name) && ran.stderr.contains(why), "{why}: {}", ran.stderr);
        assert!(fs::read(out.path().join("summary.csv")).unwrap() == expected, "{why}");
        let last = folder.path().file_name().unwrap().to_str().unwrap();
        let page = fs::read_to_string(out.path().join("portfolio.html")).unwrap();
        assert!(page.contains(last) && page.contains("set aside"), "{why}");
        assert!(!page.contains(name), "no path of this machine");
    }
    let names: Vec<&str> = broken.iter().map(|(folder, _)| folder.path().to_str().unwrap()).collect();
    let out = tempfile::tempdir().unwrap();
    let none = SITES.merge(&names, out.path());
    assert_eq!(none.code, Some(2), "{}", none.stderr);
    assert!(none.stderr.contains("none of 6 folders"), "{}", none.stderr);
}

#[test]
fn two_audits_of_one_site_are_refused() {
    let copy = SITES.copy(1);
    let out = tempfile::tempdir().unwrap();
    let ran = SITES.merge(&["results1", copy.path().to_str().unwrap()], out.path());
    assert_eq!(ran.code, Some(2));
    for words in ["found an audit of \"Alder Row\"", "results1", "hint: leave one of them out"] {
        assert!(ran.stderr.contains(words), "{}", ran.stderr);
    }
    assert!(files_in(out.path()).is_empty());
}

#[test]
fn sites_under_pseudonyms_stay_under_them() {
    let out = tempfile::tempdir().unwrap();
    let key = SITES.path().join("key");
    fs::write(&key, [7; 32]).unwrap();
    SITES.audit("site1", "Alder-Row-keyed", &["--pseudonyms", key.to_str().unwrap()]);
    let ran = SITES.merge(&["Alder-Row-keyed", "no-such-Alder-folder"], out.path());
    assert_eq!(ran.code, Some(1), "{}", ran.stderr);
    for (name, bytes) in files_in(out.path()) {
        let text = String::from_utf8_lossy(&bytes);
        for secret in ["Alder", "living 1", "\"1A\"", ",1A,"] {
            assert!(!text.contains(secret) && !name.contains("Alder"), "{name}: {secret}");
        }
    }
    let provenance = fs::read_to_string(out.path().join("provenance.json")).unwrap();
    assert!(provenance.contains("\"pseudonyms\": true"), "{provenance}");
}

#[test]
fn limits_that_differ_between_sites_are_said() {
    let text = fs::read_to_string(SITES.path().join("site1/site.toml")).unwrap();
    let other = text.replace("Alder Row", "Cedar Row").replacen("68 °F", "66 °F", 1);
    assert_ne!(text, other);
    fs::write(SITES.path().join("site1/other.toml"), other).unwrap();
    let args = ["audit", "site1/other.toml", "--out", "results-other", "--no-report", "--quiet"];
    assert_eq!(run(SITES.path(), &args).code, Some(0));
    let out = tempfile::tempdir().unwrap();
    let ran = SITES.merge(&["results1", "results-other"], out.path());
    assert_eq!(ran.code, Some(0), "{}", ran.stderr);
    assert!(ran.stderr.contains("note: portfolio: sites differ in "), "{}", ran.stderr);
    assert!(ran.stderr.contains("`band`: Alder Row | Cedar Row"), "{}", ran.stderr);
    assert!(!ran.stderr.contains("`setbacks`"), "{}", ran.stderr);
}
