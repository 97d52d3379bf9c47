//! Inputs that vanish or grow while they are read.

use std::fs;
use std::io::Write;
use std::sync::atomic::{AtomicBool, Ordering};

use crate::stand::{AUDIT, Stand, assert_no_mixture, said};

#[test]
fn an_export_that_comes_and_goes_is_read_or_named() {
    let stand = Stand::new();
    let bytes = fs::read(stand.path("exports/living.csv")).unwrap();
    let (path, stop) = (stand.path("exports/living.csv"), AtomicBool::new(false));
    std::thread::scope(|scope| {
        scope.spawn(|| {
            while !stop.load(Ordering::Relaxed) {
                let _ = fs::remove_file(&path);
                std::thread::yield_now();
                fs::write(&path, &bytes).unwrap();
            }
        });
        for _ in 0..20 {
            let output = stand.run(&AUDIT);
            assert!(output.status.code().is_some_and(|code| code < 2), "{}", said(&output));
            assert_no_mixture(&stand.files("out"), "an export that comes and goes");
        }
        stop.store(true, Ordering::Relaxed);
    });
}

#[test]
fn an_export_that_grows_without_end_stops_nobody() {
    let stand = Stand::new();
    let mut writer = fs::OpenOptions::new().append(true).open(stand.path("exports/living.csv")).unwrap();
    let stop = AtomicBool::new(false);
    std::thread::scope(|scope| {
        scope.spawn(|| {
            let row = "2026-01-07 00:00,20.5\n".repeat(20);
            for _ in 0..4000 {
                if stop.load(Ordering::Relaxed) {
                    return;
                }
                writer.write_all(row.as_bytes()).unwrap();
            }
        });
        for _ in 0..5 {
            let output = stand.run(&AUDIT);
            assert!(output.status.code().is_some_and(|code| code < 2), "{}", said(&output));
            assert_no_mixture(&stand.files("out"), "an export that grows");
        }
        stop.store(true, Ordering::Relaxed);
    });
}
