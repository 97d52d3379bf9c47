//! Runs the program as a person would, in a process of its own.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::{Arc, Mutex, Weak};

use tempfile::TempDir;

/// What came of a run.
pub(crate) struct Ran {
    pub(crate) code: Option<i32>,
    pub(crate) stdout: String,
    pub(crate) stderr: String,
}

/// The program, ready to run in a folder.
pub(crate) fn command(folder: &Path, args: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_evenrooms"));
    command.current_dir(folder).args(args);
    command
}

/// Runs the program in a folder and waits for its end.
pub(crate) fn run(folder: &Path, args: &[&str]) -> Ran {
    let output = command(folder, args).output().unwrap();
    Ran {
        code: output.status.code(),
        stdout: String::from_utf8(output.stdout).unwrap(),
        stderr: String::from_utf8(output.stderr).unwrap(),
    }
}

/// The folder of the sample.
pub(crate) fn sample_folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sample_data")
}

/// Audits the sample into a folder.
pub(crate) fn audit_sample(out: &Path, more: &[&str]) -> Ran {
    let args = ["audit", "site.toml", "--out", out.to_str().unwrap()];
    run(&sample_folder(), &[&args, more].concat())
}

/// An audit of the sample that several tests read; none may change it.
pub(crate) struct SampleAudit {
    out: TempDir,
    pub(crate) ran: Ran,
}

impl SampleAudit {
    /// The last audit that a test still holds, else a new one: the folder goes when nobody holds it.
    pub(crate) fn get() -> Arc<Self> {
        static LAST: Mutex<Weak<SampleAudit>> = Mutex::new(Weak::new());
        let mut last = LAST.lock().unwrap();
        last.upgrade().unwrap_or_else(|| {
            let out = tempfile::tempdir().unwrap();
            let ran = audit_sample(out.path(), &[]);
            let audit = Arc::new(Self { out, ran });
            *last = Arc::downgrade(&audit);
            audit
        })
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.out.path().join(name)
    }

    pub(crate) fn folder(&self) -> &Path {
        self.out.path()
    }

    /// The rows of a CSV result, each by column name.
    pub(crate) fn csv(&self, name: &str) -> Vec<BTreeMap<String, String>> {
        csv::Reader::from_path(self.path(name)).unwrap().deserialize().map(Result::unwrap).collect()
    }

    /// A JSON result.
    pub(crate) fn json(&self, name: &str) -> serde_json::Value {
        serde_json::from_slice(&fs::read(self.path(name)).unwrap()).unwrap()
    }
}

/// Every file of a folder with its bytes, by name; hidden ones and those in folders below too.
pub(crate) fn files_in(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut files = BTreeMap::new();
    for entry in fs::read_dir(folder).unwrap().map(Result::unwrap) {
        let name = entry.file_name().into_string().unwrap();
        if entry.file_type().unwrap().is_dir() {
            let below = files_in(&entry.path());
            files.extend(below.into_iter().map(|(below, bytes)| (format!("{name}/{below}"), bytes)));
        } else {
            files.insert(name, fs::read(entry.path()).unwrap());
        }
    }
    files
}
