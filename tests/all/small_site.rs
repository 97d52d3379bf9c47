//! A site of one home in a folder of its own, for tests that change one thing.

use std::fs;
use std::path::{Path, PathBuf};

use tempfile::TempDir;

use crate::program::{Ran, files_in, run};

/// A site file without mistakes.
pub(crate) const SITE: &str = r#"[site]
name = "Alder Row"
time_zone = "America/Chicago"
roster = "roster.csv"
exports = "exports"
clock = "civil"
[band]
lower = "20 °C"
upper = "24 °C"
"#;

/// The same for records that are too short to show evenness: nobody asks for any.
pub(crate) fn short_site() -> String {
    format!("{SITE}[acceptance]\ndays = 1\nevenness = \"not asked\"\n")
}

/// A roster without mistakes, for exports that are there.
pub(crate) const ROSTER: &str = "\
home,room,use,heated,logger,file
1A,living,living,yes,L-1,living.csv
1A,bedroom,bedroom,yes,L-2,bedroom.csv
";

/// A heat rule that asks for 20 °C at any hour, to stand behind [`SITE`].
pub(crate) const HEAT_RULE: &str = "[heat_rule]\nseason = { from = \"10-01\", to = \"05-31\" }\nwindow = [{ from = \"00:00\", to = \"24:00\", minimum = \"20 °C\" }]\n";

/// Where a home stands, as the terminal says.
pub(crate) fn standing<'t>(stdout: &'t str, home: &str) -> &'t str {
    let accepted = stdout.lines().filter_map(|line| line.strip_prefix("accept: "));
    if accepted.flat_map(|homes| homes.split(", ")).any(|name| name.trim() == home) {
        return "accept";
    }
    let own = |line: &'t str| line.strip_prefix(home)?.strip_prefix("  ");
    let says = stdout.lines().find_map(own).unwrap_or_else(|| panic!("nothing of {home}:\n{stdout}"));
    let words = ["visit today", "visit", "record again", "accept, watch"];
    words.into_iter().find(|word| says.trim_start().starts_with(word)).unwrap_or(says)
}

pub(crate) struct SmallSite {
    folder: TempDir,
}

impl SmallSite {
    /// A site with this site file and roster, and good exports for a living room and a bedroom.
    pub(crate) fn new(site: &str, roster: &str) -> Self {
        let small = Self { folder: tempfile::tempdir().unwrap() };
        small.write("site.toml", site.as_bytes());
        small.write("roster.csv", roster.as_bytes());
        small.write("exports/living.csv", &two_days());
        small.write("exports/bedroom.csv", &two_days_of(|n| (n + n / 13 + 2) % 6));
        small
    }

    pub(crate) fn write(&self, name: &str, bytes: &[u8]) {
        let path = self.folder.path().join(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        let asked = |text: &str| !text.contains("[site]") || text.contains("[acceptance]");
        // Records of tests are short; it stands last, so that lines keep their numbers.
        let days: &[u8] = match std::str::from_utf8(bytes) {
            Ok(text) if name == "site.toml" && !asked(text) => b"\n[acceptance]\ndays = 1\n",
            _ => b"",
        };
        fs::write(path, [bytes, days].concat()).unwrap();
    }

    pub(crate) fn remove(&self, name: &str) {
        fs::remove_file(self.folder.path().join(name)).unwrap();
    }

    /// Audits it; paths in messages start from its folder.
    pub(crate) fn audit(&self) -> Ran {
        run(self.folder.path(), &["audit", "site.toml", "--out", "out", "--details"])
    }

    /// Audits what must not be done: exit code 2 and no result; the answer is what it says.
    pub(crate) fn refused(&self) -> String {
        let ran = self.audit();
        assert_eq!(ran.code, Some(2), "{}", ran.stderr);
        assert_eq!(ran.stdout, "");
        let out = self.out();
        assert!(!out.exists() || files_in(&out).is_empty(), "results in spite of mistakes");
        ran.stderr
    }

    pub(crate) fn folder(&self) -> &Path {
        self.folder.path()
    }

    pub(crate) fn out(&self) -> PathBuf {
        self.folder.path().join("out")
    }
}

/// The time of a row, as an export writes it: every 10 min from the first instant of 2026-01-05 on.
pub(crate) fn written_time(n: usize) -> String {
    let (day, hour, minute) = (5 + n / 144, n / 6 % 24, n % 6 * 10);
    let (month, day) = if day > 31 { (2, day - 31) } else { (1, day) };
    format!("2026-{month:02}-{day:02} {hour:02}:{minute:02}")
}

/// Readings every 10 min for two days, between 20.5 and 21 °C.
pub(crate) fn two_days() -> Vec<u8> {
    two_days_of(|n| n % 6)
}

/// The same with other tenths of a degree over 20.5 °C.
fn two_days_of(tenths: impl Fn(usize) -> usize) -> Vec<u8> {
    let row = |n: usize| format!("{},{:.1}\n", written_time(n), 20.5 + tenths(n) as f64 / 10.0);
    format!("time,temperature (°C)\n{}", (0..288).map(row).collect::<String>()).into_bytes()
}
