//! A site of one home with two states of its exports, the results of both, and a look at what a result folder holds.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::sync::OnceLock;

use sha2::{Digest, Sha256};
use tempfile::TempDir;

const SITE: &str = r#"[site]
name = "Alder Row"
time_zone = "America/Chicago"
roster = "roster.csv"
exports = "exports"
clock = "civil"
outdoor = { file = "weather.csv", unit = "°C", clock = "utc" }
[band]
lower = "20 °C"
upper = "24 °C"
[heat_rule]
season = { from = "10-01", to = "05-31" }
window = [{ from = "00:00", to = "24:00", minimum = "20 °C" }]
"#;

const ROSTER: &str = "\
home,room,use,heated,logger,file
1A,living,living,yes,L-1,living.csv
1A,bedroom,bedroom,yes,L-2,bedroom.csv
";

/// A complaint sheet of the home, and a comparison of two of its days.
pub(crate) const COMPLAINT: [&str; 10] =
    ["complaint", "site.toml", "--home", "1A", "--from", "2026-01-05", "--to", "2026-01-06", "--out", "out"];
pub(crate) const COMPARE: [&str; 8] = [
    "compare",
    "site.toml",
    "--before",
    "2026-01-05/2026-01-05",
    "--after",
    "2026-01-06/2026-01-06",
    "--out",
    "out",
];

/// Every file of a folder by its way, hidden ones too; folders end with `/`.
pub(crate) type Files = BTreeMap<String, Vec<u8>>;

pub(crate) struct Stand {
    folder: TempDir,
}

impl Stand {
    /// The site with its first exports.
    pub(crate) fn new() -> Self {
        let stand = Self { folder: tempfile::tempdir().unwrap() };
        stand.write("site.toml", SITE.as_bytes());
        stand.write("roster.csv", ROSTER.as_bytes());
        let hour = |n: usize| format!("2026-01-{:02} {:02}:00,{}.25\n", 5 + n / 24, n % 24, n % 9);
        let hours: String = (0..60).map(hour).collect();
        stand.write("exports/weather.csv", format!("time,temperature (°C)\n{hours}").as_bytes());
        stand.write("exports/bedroom.csv", &export(|n| (n + n / 13 + 2) % 6));
        stand.first();
        stand
    }

    /// The exports of the results that stand there.
    pub(crate) fn first(&self) {
        self.write("exports/living.csv", &export(|n| n % 6));
    }

    /// Those of the results that come.
    pub(crate) fn second(&self) {
        self.write("exports/living.csv", &export(|n| (n % 7) * 3));
    }

    pub(crate) fn write(&self, name: &str, bytes: &[u8]) {
        let path = self.path(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, bytes).unwrap();
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub(crate) fn command(&self, args: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_evenrooms"));
        command.current_dir(self.folder.path()).args(args).args(["--quiet", "--threads", "2"]);
        command.env_remove("EVENROOMS_FAULT").stdin(Stdio::null());
        command
    }

    pub(crate) fn run(&self, args: &[&str]) -> Output {
        self.command(args).output().unwrap()
    }

    /// Runs with a fault at a step, as `src/files/steps.rs` has it.
    pub(crate) fn run_with(&self, fault: &str, args: &[&str]) -> Output {
        self.command(args).env("EVENROOMS_FAULT", fault).output().unwrap()
    }

    /// Runs what must be done.
    pub(crate) fn done(&self, args: &[&str]) {
        let output = self.run(args);
        assert_eq!(output.status.code(), Some(0), "{args:?}: {}", said(&output));
    }

    /// Lays a result folder down as it was.
    pub(crate) fn lay(&self, name: &str, files: &Files) {
        let folder = self.path(name);
        let _ = fs::remove_dir_all(&folder);
        fs::create_dir_all(&folder).unwrap();
        for (way, bytes) in files.iter().filter(|(way, _)| !way.ends_with('/')) {
            self.write(&format!("{name}/{way}"), bytes);
        }
    }

    pub(crate) fn files(&self, name: &str) -> Files {
        files_in(&self.path(name))
    }

    /// A run into a folder that cannot be done, but settles what was left there.
    pub(crate) fn settle(&self, name: &str) {
        let output = self.run(&["audit", "nothing.toml", "--out", name]);
        assert_eq!(output.status.code(), Some(2), "{}", said(&output));
        assert!(said(&output).contains("nothing.toml"), "{}", said(&output));
    }
}

pub(crate) const AUDIT: [&str; 4] = ["audit", "site.toml", "--out", "out"];

/// Results of the first and of the second exports.
pub(crate) fn both() -> &'static (Files, Files) {
    static BOTH: OnceLock<(Files, Files)> = OnceLock::new();
    BOTH.get_or_init(|| both_of(&Stand::new(), &AUDIT))
}

/// What a command gives for the first and for the second exports, each into a folder `out` of its own.
pub(crate) fn both_of(stand: &Stand, args: &[&str]) -> (Files, Files) {
    let _ = fs::remove_dir_all(stand.path("out"));
    stand.first();
    stand.done(args);
    let first = stand.files("out");
    fs::remove_dir_all(stand.path("out")).unwrap();
    stand.second();
    stand.done(args);
    let second = stand.files("out");
    assert!(first != second && first.len() > 1);
    (first, second)
}

/// The same of a command of which the second run leaves what the first one gave.
pub(crate) fn both_in_turn(stand: &Stand, args: &[&str]) -> (Files, Files) {
    let _ = fs::remove_dir_all(stand.path("out"));
    stand.first();
    stand.done(args);
    let first = stand.files("out");
    stand.second();
    stand.done(args);
    let second = stand.files("out");
    assert!(first.len() < second.len() && first.keys().all(|way| second.contains_key(way)));
    (first, second)
}

/// A provenance that is there vouches for all results, and no result is there without it but in the hands of a journal.
pub(crate) fn assert_no_mixture(files: &Files, what: &str) {
    let results = || files.keys().filter(|way| !way.starts_with('.') && *way != "provenance.json");
    let Some(provenance) = files.get("provenance.json") else {
        let journal = files.keys().any(|way| way.starts_with('.') && way.ends_with("/journal.json"));
        assert!(journal || results().count() == 0, "{what}: results that nothing vouches for");
        return;
    };
    let provenance: serde_json::Value = serde_json::from_slice(provenance).unwrap();
    let outputs = provenance["outputs"].as_object().unwrap();
    for (name, sha) in outputs {
        let found = files.get(name).map(|bytes| sha256(bytes));
        assert_eq!(found.as_deref(), sha.as_str(), "{what}: {name} is not the one that is vouched for");
    }
    let others: Vec<&String> = results().filter(|way| !outputs.contains_key(*way)).collect();
    assert!(others.is_empty(), "{what}: {others:?} beside another set");
}

/// One of two sets, and nothing else.
pub(crate) fn assert_one_of(files: &Files, (first, second): &(Files, Files), what: &str) {
    let ways: Vec<&String> = files.keys().collect();
    assert!(files == first || files == second, "{what}: a mixture, or litter: {ways:?}");
}

fn sha256(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|b| format!("{b:02x}")).collect()
}

pub(crate) fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

fn files_in(folder: &Path) -> Files {
    let mut files = Files::new();
    let Ok(entries) = fs::read_dir(folder) else { return files };
    for entry in entries.map(Result::unwrap) {
        let name = entry.file_name().into_string().unwrap();
        // A run may be at work meanwhile.
        if entry.file_type().is_ok_and(|kind| kind.is_dir()) {
            files.extend(
                files_in(&entry.path()).into_iter().map(|(way, bytes)| (format!("{name}/{way}"), bytes)),
            );
            files.insert(format!("{name}/"), Vec::new());
        } else if let Ok(bytes) = fs::read(entry.path()) {
            files.insert(name, bytes);
        }
    }
    files
}

/// Readings every 10 min for two days, with so many tenths of a degree over 20.5 °C.
fn export(tenths: impl Fn(usize) -> usize) -> Vec<u8> {
    let row = |n: usize| {
        let (day, hour, minute) = (5 + n / 144, n / 6 % 24, n % 6 * 10);
        format!("2026-01-{day:02} {hour:02}:{minute:02},{:.1}\n", 20.5 + tenths(n) as f64 / 10.0)
    };
    format!("time,temperature (°C)\n{}", (0..288).map(row).collect::<String>()).into_bytes()
}
