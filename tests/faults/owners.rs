//! Whose file it is: nothing is replaced or removed that is not this command's own result, as it wrote it.

use std::fs;

use serde_json::{Value, json};
use sha2::{Digest, Sha256};

use crate::stand::{AUDIT, COMPARE, COMPLAINT, Files, Stand, both, said};

fn hex(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|b| format!("{b:02x}")).collect()
}

/// The run ends with 2 and these words, and nothing was touched.
fn refused(stand: &Stand, args: &[&str], words: &str) {
    let before = stand.files("");
    let output = stand.run(args);
    assert_eq!(output.status.code(), Some(2), "{args:?}: {}", said(&output));
    assert!(said(&output).contains(words) && said(&output).contains("hint: "), "{}", said(&output));
    assert!(stand.files("") == before, "{args:?}: something was touched");
}

#[test]
fn no_command_takes_the_results_of_another() {
    let stand = Stand::new();
    let commands = [&AUDIT[..], &COMPLAINT, &COMPARE];
    for (mine, first) in commands.iter().enumerate() {
        let _ = fs::remove_dir_all(stand.path("out"));
        stand.done(first);
        for (other, second) in commands.iter().enumerate() {
            if mine != other {
                refused(&stand, second, "it holds results of another command");
            }
        }
        stand.done(first);
    }
}

/// Every kind of result, Parquet too, is known by its bytes.
#[test]
fn no_result_that_was_changed_is_replaced() {
    let (stand, both) = (Stand::new(), both());
    for name in both.0.keys() {
        stand.lay("out", &both.0);
        let mut bytes = both.0[name].clone();
        let middle = bytes.len() / 2;
        bytes[middle] ^= 1;
        stand.write(&format!("out/{name}"), &bytes);
        let words = if name == "provenance.json" {
            "out/provenance.json"
        } else {
            "it was changed since evenrooms wrote it"
        };
        refused(&stand, &AUDIT, words);
    }
}

#[test]
fn a_result_that_became_a_link_or_a_folder_is_left_alone() {
    let (stand, both) = (Stand::new(), both());
    for link in [true, false] {
        stand.lay("out", &both.0);
        fs::rename(stand.path("out/metrics.csv"), stand.path("elsewhere.csv")).unwrap();
        match link {
            true => std::os::unix::fs::symlink("../elsewhere.csv", stand.path("out/metrics.csv")).unwrap(),
            false => fs::create_dir(stand.path("out/metrics.csv")).unwrap(),
        }
        refused(&stand, &AUDIT, "out/metrics.csv: it was changed since evenrooms wrote it");
    }
}

/// While the run works, somebody edits a result: the look at the start is not the last one.
#[test]
#[cfg_attr(not(debug_assertions), ignore = "only a debug build has steps that can fail")]
fn a_result_that_is_changed_during_a_run_is_not_replaced() {
    let (stand, both) = (Stand::new(), both());
    let cases: [(&str, Files); 2] = [("out/report.html", both.0.clone()), ("out/metrics.csv", Files::new())];
    for (edited, before) in cases {
        stand.lay("out", &before);
        stand.second();
        let mut run = stand
            .command(&AUDIT)
            .env("EVENROOMS_FAULT", "hold 30")
            .stderr(std::process::Stdio::piped())
            .spawn()
            .unwrap();
        while !stand.path("out/.evenrooms-lock").exists() {
            std::thread::sleep(std::time::Duration::from_millis(5));
        }
        std::thread::sleep(std::time::Duration::from_millis(1500));
        stand.write(edited, b"my own notes");
        assert_eq!(run.wait().unwrap().code(), Some(2));
        let mut expected = before.clone();
        expected.insert(edited.trim_start_matches("out/").to_owned(), b"my own notes".to_vec());
        assert!(stand.files("out") == expected, "{edited}: {:?}", stand.files("out").keys());
    }
}

/// A provenance of another hand, sealed as ours are.
fn forged(outputs: &Value, original: &[u8]) -> Vec<u8> {
    let mut value: Value = serde_json::from_slice(original).unwrap();
    value["outputs"] = outputs.clone();
    value["seal"] = json!("0".repeat(64));
    let open = format!("{}\n", serde_json::to_string_pretty(&value).unwrap());
    let seal = hex(open.as_bytes());
    open.replace(&format!("\"seal\": \"{}\"", "0".repeat(64)), &format!("\"seal\": \"{seal}\"")).into_bytes()
}

#[test]
fn a_hostile_provenance_takes_nothing() {
    let (stand, both) = (Stand::new(), both());
    stand.write("thesis.txt", b"dear to me");
    let provenance = &both.0["provenance.json"];
    let absolute = stand.path("thesis.txt").display().to_string();
    let sha = hex(b"dear to me");
    for name in
        ["../thesis.txt", &absolute, "thesis.txt", "./thesis.txt", "below/../../thesis.txt", ".", "..", ""]
    {
        stand.lay("out", &both.0);
        stand.write("out/thesis.txt", b"dear to me");
        let mut value: Value = serde_json::from_slice(provenance).unwrap();
        let mut outputs = value["outputs"].clone();
        outputs[name] = json!(sha);
        // As somebody would edit it: the seal does not hold.
        value["outputs"] = outputs.clone();
        stand.write("out/provenance.json", &serde_json::to_vec_pretty(&value).unwrap());
        refused(&stand, &AUDIT, "out/provenance.json: its seal does not hold");
        // With a seal: names that are no results are not looked at.
        stand.write("out/provenance.json", &forged(&outputs, provenance));
        stand.done(&AUDIT);
        let after = stand.files("out");
        assert_eq!(after["thesis.txt"], b"dear to me", "{name}");
        assert_eq!(fs::read(stand.path("thesis.txt")).unwrap(), b"dear to me", "{name}");
    }
}

#[test]
fn a_hostile_journal_takes_nothing() {
    let (stand, both) = (Stand::new(), both());
    stand.write("thesis.txt", b"dear to me");
    let absolute = stand.path("thesis.txt").display().to_string();
    for path in ["../thesis.txt", &absolute, "a/../../thesis.txt", "../out/thesis.txt"] {
        stand.lay("out", &both.0);
        stand.write("out/thesis.txt", b"dear to me");
        let entry = json!([{ "path": path, "new": hex(b"dear to me"), "old": null }, { "path": "zz", "new": "0", "old": null }]);
        let journal = json!({ "program": "evenrooms", "scratch": ".evenrooms-Ab12Cd", "entries": entry });
        stand.write("out/.evenrooms-Ab12Cd/journal.json", &serde_json::to_vec(&journal).unwrap());
        stand.write("out/.evenrooms-Ab12Cd/keep.txt", b"dear to me too");
        stand.done(&AUDIT);
        assert_eq!(fs::read(stand.path("thesis.txt")).unwrap(), b"dear to me", "{path}");
        let after = stand.files("out");
        assert_eq!(after["thesis.txt"], b"dear to me", "{path}");
        assert_eq!(after[".evenrooms-Ab12Cd/keep.txt"], b"dear to me too", "no folder of ours: left alone");
    }
}

/// Results that this run does not renew go, but only those.
#[test]
fn foreign_files_stay_where_results_come_and_go() {
    let stand = Stand::new();
    stand.done(&AUDIT);
    stand.write("out/notes.txt", b"mine");
    stand.write("out/.evenrooms-notes", b"mine too");
    stand.done(&[&AUDIT[..], &["--no-report"]].concat());
    let after = stand.files("out");
    assert!(after["notes.txt"] == b"mine" && after[".evenrooms-notes"] == b"mine too");
    assert!(!after.contains_key("report.html") && after.contains_key("metrics.csv"));
}
