//! Bytes of an export → readings.
#![no_main]
#![allow(clippy::disallowed_methods, reason = "the macro of the library writes a file where it is asked to")]

use std::sync::LazyLock;

use evenrooms::exports::Purpose;
use evenrooms::site::Site;
use evenrooms_fuzz::{ROSTER_OF_ONE, ROSTER_THAT_TELLS, read_export, site};
use libfuzzer_sys::fuzz_target;

static SITES: LazyLock<[Site; 2]> = LazyLock::new(|| [ROSTER_OF_ONE, ROSTER_THAT_TELLS].map(site));

fuzz_target!(|bytes: &[u8]| {
    read_export(&*SITES, Purpose::Audit, bytes);
    read_export(&SITES[1..], Purpose::Colocation, bytes);
});
