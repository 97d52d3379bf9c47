//! A clock that jumps in the middle of a record: told where the other rooms of the home show it.

use std::fs;

use serde_json::Value;

use crate::small_site::{SITE, SmallSite, written_time};

const ROSTER: &str = "\
home,room,use,heated,logger,file
1A,living,living,yes,L-1,living.csv
1A,bedroom,bedroom,yes,L-2,bedroom.csv
1A,study,other,yes,L-3,study.csv
1A,hall,hall,yes,L-4,hall.csv
";
const ROOMS: [&str; 4] = ["living", "bedroom", "study", "hall"];
const DAYS: usize = 24;
const PER_DAY: usize = 144;

/// A room that cools at night and warms up in the morning with the others, and does something of its own meanwhile.
fn degc(room: usize, n: usize) -> f64 {
    let (day, h) = (n / PER_DAY, (n % PER_DAY) as f64 / 6.0);
    let since = (h - 22.0).rem_euclid(24.0);
    let morning = (since - 8.0) / (1.5 + 0.2 * room as f64);
    let setback = if since < 8.0 { since / 8.0 } else { (1.0 - morning).max(0.0) };
    let own = 0.3 * ((n as f64 / 6.0) / (2.0 + room as f64) + room as f64).sin();
    let weather = ((day * 7 + 3) % 11) as f64 * 0.05;
    21.8 - 1.6 * setback - weather + own
}

/// The clock findings of a site whose fourth logger writes its times so many rows later, from a day on.
fn told(from_day: usize, rows_later: i64) -> Vec<Value> {
    let small = SmallSite::new(SITE, ROSTER);
    for (room, name) in ROOMS.iter().enumerate() {
        let mut text = "time,temperature (°C)\n".to_owned();
        for n in 0..DAYS * PER_DAY {
            let later = if room == 3 && n >= from_day * PER_DAY { rows_later } else { 0 };
            text += &format!("{},{:.2}\n", written_time((n as i64 + later) as usize), degc(room, n));
        }
        small.write(&format!("exports/{name}.csv"), text.as_bytes());
    }
    let ran = small.audit();
    assert_eq!(ran.code, Some(0), "{}", ran.stderr);
    let findings: Value =
        serde_json::from_slice(&fs::read(small.out().join("findings.json")).unwrap()).unwrap();
    findings.as_array().unwrap().iter().filter(|f| f["rule"] == "clock-suspect").cloned().collect()
}

#[test]
fn a_clock_that_jumps_by_an_hour_in_mid_record_was_not_noticed() {
    // There is a hole where it went forwards.
    for (rows, words) in [(6, " 1 h later"), (24, " 4 h later")] {
        let found = told(11, rows);
        let [one] = found.as_slice() else { panic!("{rows}: {found:?}") };
        let shows = one["shows"].as_str().unwrap();
        assert!(shows.contains(words) && shows.contains("and with them before"), "{shows}");
        assert_eq!(one["room"], "hall");
        // Give or take a day of 2026-01-16, the eleventh after the first.
        let day = shows.strip_prefix("From about 2026-01-").unwrap()[..2].parse::<usize>().unwrap();
        assert!((15..=17).contains(&day), "{shows}");
        assert!(one["from_utc"].as_str().is_some_and(|from| from.starts_with("2026-01-1")), "{one}");
    }
}

#[test]
fn times_that_go_back_in_a_file_were_not_noticed() {
    for (rows, words) in [(-6, "go back by 1.00 h"), (-37, "go back by 6.17 h"), (-72, "go back by 12.00 h")]
    {
        let found = told(11, rows);
        let [one] = found.as_slice() else { panic!("{rows}: {found:?}") };
        let shows = one["shows"].as_str().unwrap();
        assert!(shows.contains(words) && shows.contains(" after 2026-01-15 23:50"), "{shows}");
        assert_eq!((one["room"].as_str(), one["severity"].as_str()), (Some("hall"), Some("act")));
    }
    // Twenty minutes back, as when two downloads were joined.
    assert_eq!(told(11, -2), Vec::<Value>::new());
}

#[test]
fn a_clock_that_goes_on_is_not_doubted() {
    assert_eq!(told(11, 0), Vec::<Value>::new());
    // A hole of ten minutes is no jump.
    assert_eq!(told(11, 1), Vec::<Value>::new());
}
