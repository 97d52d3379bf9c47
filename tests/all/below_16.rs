//! Times certainly below 16 °C, and what does not end them.

use crate::small_site::{ROSTER, SITE, SmallSite, written_time};

/// The longest time below 16 °C of a bedroom at 15 °C but for some readings, every ten minutes from 08:00 on.
fn longest(between: &[&str]) -> f64 {
    let small = SmallSite::new(&format!("{SITE}[quality]\ntests = []\n"), ROSTER);
    let degc = |n: usize| n.checked_sub(48).and_then(|k| between.get(k)).unwrap_or(&"15.0");
    let rows: String = (0..288).map(|n| format!("{},{}\n", written_time(n), degc(n))).collect();
    small.write("exports/bedroom.csv", format!("time,temperature (°C)\n{rows}").as_bytes());
    assert_eq!(small.audit().code, Some(0));
    let metrics = std::fs::read_to_string(small.out().join("metrics.csv")).unwrap();
    let row = metrics
        .lines()
        .find_map(|l| l.strip_prefix("Alder Row,1A,bedroom,whole record,all,longest_below_16,"));
    row.unwrap().split(',').next().unwrap().parse().unwrap()
}

#[test]
fn half_an_hour_too_close_to_call_does_not_end_a_time_below_16_degc() {
    // 48 h of instants but for the last five minutes; a logger good to 0.5 K is surely below at 15.4 °C, not at 15.8 °C.
    let whole = longest(&[]);
    assert!((whole - 574.0 / 12.0).abs() < 1e-9 || (whole - 575.0 / 12.0).abs() < 1e-9, "{whole}");
    let of_instants = |gone: f64| whole - gone / 12.0;
    assert!((longest(&["15.8"; 3]) - of_instants(5.0)).abs() < 1e-9, "bridged, and not counted");
    // 35 minutes end it: what is left is the time after.
    let after = |first: f64| whole - first / 12.0;
    assert!((longest(&["15.8"; 4]) - after(96.0 + 7.0)).abs() < 1e-9);
    // So does a single value of 16 °C.
    assert!((longest(&["15.8", "16.0", "15.8"]) - after(96.0 + 5.0)).abs() < 1e-9);
}
