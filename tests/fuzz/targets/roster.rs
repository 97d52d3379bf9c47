//! Bytes of a roster → homes, rooms and placements.
#![no_main]
#![allow(clippy::disallowed_methods, reason = "the macro of the library writes a file where it is asked to")]

use evenrooms::site::read_site_file;
use evenrooms_fuzz::{SITE, holds_together, refused_with_reason};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    match read_site_file("site.toml", SITE).with_roster("roster.csv", bytes) {
        Ok(site) => holds_together(&site),
        // A roster may be a workbook: its lines are not those of the bytes.
        Err(error) => refused_with_reason(&error, usize::MAX - 1, "roster.csv"),
    }
});
