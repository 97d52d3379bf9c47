//! Re-entry from a table that is not what it was.

use std::fs;

use crate::stand::{Stand, both, said};

const AGAIN: [&str; 6] = ["audit", "site.toml", "--from-aligned", "out", "--out", "again"];

#[test]
fn every_flipped_bit_of_the_tables_that_are_reentered_is_refused() {
    for table in ["aligned.parquet", "weather.parquet"] {
        flip(table);
    }
}

fn flip(table: &str) {
    let (stand, both) = (Stand::new(), both());
    stand.lay("out", &both.0);
    stand.done(&AGAIN);
    let again = stand.files("again");
    let bytes = &both.0[table];
    for number in 0..200 {
        let (at, bit) = (number * (bytes.len() - 1) / 199, number % 8);
        let mut flipped = bytes.clone();
        flipped[at] ^= 1 << bit;
        stand.write(&format!("out/{table}"), &flipped);
        let output = stand.run(&AGAIN);
        assert_eq!(output.status.code(), Some(2), "bit {bit} of byte {at}: {}", said(&output));
        for words in [&format!("out/{table}: found SHA-256 "), ", expected ", "hint: "] {
            assert!(said(&output).contains(words), "{}", said(&output));
        }
    }
    assert!(stand.files("again") == again);
    for more in [
        &["compare", "site.toml", "--before", "2026-01-05/2026-01-05", "--after", "2026-01-06/2026-01-06"][..],
        &["complaint", "site.toml", "--home", "1A", "--from", "2026-01-05", "--to", "2026-01-06"],
    ] {
        let output = stand.run(&[more, &["--from-aligned", "out", "--out", "other"]].concat());
        assert_eq!(output.status.code(), Some(2), "{}", said(&output));
        assert!(said(&output).contains("found SHA-256"), "{}", said(&output));
    }
}

#[test]
fn a_table_that_nothing_vouches_for_is_refused() {
    let (stand, both) = (Stand::new(), both());
    let refused = |words: &str| {
        let output = stand.run(&AGAIN);
        assert_eq!(output.status.code(), Some(2), "{}", said(&output));
        assert!(said(&output).contains(words) && said(&output).contains("hint: "), "{}", said(&output));
    };
    stand.lay("out", &both.0);
    fs::remove_file(stand.path("out/provenance.json")).unwrap();
    refused(
        "out/aligned.parquet: there is no provenance.json beside it, expected the one of the audit that made the table",
    );
    let edited =
        String::from_utf8(both.0["provenance.json"].clone()).unwrap().replace("Alder Row", "Elder Row");
    stand.write("out/provenance.json", edited.as_bytes());
    refused("does not bear its own seal");
    stand.lay("out", &both.0);
    stand.write("out/weather.parquet", &both.0["aligned.parquet"]);
    refused("out/weather.parquet: found SHA-256 ");
    fs::remove_file(stand.path("out/weather.parquet")).unwrap();
    refused("out/aligned.parquet: there is no weather.parquet beside it");
    stand.lay("out", &both.0);
    fs::rename(stand.path("out/aligned.parquet"), stand.path("out/renamed.parquet")).unwrap();
    let output =
        stand.run(&["audit", "site.toml", "--from-aligned", "out/renamed.parquet", "--out", "again"]);
    assert!(said(&output).contains("does not list a result renamed.parquet"), "{}", said(&output));
}

/// The folder of a run that died while it replaced the table is put right before it is read.
#[test]
#[cfg_attr(not(debug_assertions), ignore = "only a debug build has steps that can fail")]
fn a_folder_of_a_run_that_died_can_be_read() {
    let (stand, both) = (Stand::new(), both());
    for step in (60..170).step_by(10) {
        stand.lay("out", &both.0);
        stand.second();
        let _ = stand.run_with(&format!("die {step}"), &["audit", "site.toml", "--out", "out"]);
        stand.done(&AGAIN);
    }
}
