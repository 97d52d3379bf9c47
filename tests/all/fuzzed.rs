//! Inputs that fuzzing found, each held against what was wrong with it.

use std::fs;
use std::path::{Path, PathBuf};

use crate::program::run;
use crate::small_site::{ROSTER, SITE, SmallSite};

fn found(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures/fuzz").join(name)
}

/// Its only sheet is of a kind that cannot be opened: `inspect` said nothing of it, and ended well.
#[test]
fn a_workbook_of_which_no_sheet_can_be_read_is_told() {
    let words = "the sheet \"Sheet1\" of the workbook is damaged or protected";
    let book = found("workbook-without-sheets.xlsx");
    let ran = run(book.parent().unwrap(), &["inspect", "workbook-without-sheets.xlsx"]);
    assert!(format!("{}{}", ran.stdout, ran.stderr).contains(words), "{}{}", ran.stdout, ran.stderr);
    assert_eq!(ran.code, Some(1), "{}", ran.stdout);
    let small = SmallSite::new(SITE, &ROSTER.replace("living.csv", "living.xlsx"));
    small.write("exports/living.xlsx", &fs::read(book).unwrap());
    let ran = small.audit();
    assert_eq!(ran.code, Some(1), "{}", ran.stderr);
    assert!(ran.stderr.contains(words), "{}", ran.stderr);
}
