//! Passes that rested on hours that are not there: each number has hours of its own, and nothing is called good on less than
//! 90 % of them. Beside each stands what must stay clear.

use std::fs;

use crate::small_site::{SITE, SmallSite, written_time};
use crate::unnoticed::{ROOMS, ROSTER, done, export, found, in_a_room, is_clear, not_judged};

/// Four rooms of a good home, each without readings at some hours from the start of the record.
fn with_holes(more: &str, hole: impl Fn(usize, f64) -> bool) -> SmallSite {
    let small = SmallSite::new(&format!("{SITE}{more}"), ROSTER);
    for (room, name) in ROOMS.iter().enumerate() {
        let degc = |h: f64| if hole(room, h) { f64::NAN } else { in_a_room(room, h) };
        small.write(&format!("exports/{name}.csv"), &export(room, "temperature (°C)", degc));
    }
    small
}

/// Whether the hour of the day lies there.
fn daily(h: f64, from: f64, to: f64) -> bool {
    (from..to).contains(&(h % 24.0))
}

#[track_caller]
fn open(small: &SmallSite, rule: &str, why: &str) {
    let ran = done(small);
    let open = not_judged(small);
    assert!(open.iter().any(|[r, said]| r == rule && said.contains(why)), "{open:?}\n{}", ran.stdout);
    assert!(!is_clear(&ran), "{}", ran.stdout);
}

#[track_caller]
fn clear(small: &SmallSite) {
    let ran = done(small);
    assert!(is_clear(&ran), "{:?}\n{}", not_judged(small), ran.stdout);
}

const NIGHT: &str = "night = { lower = \"17 °C\", upper = \"24 °C\", from = \"22:00\", to = \"06:00\" }\n";

#[test]
fn a_night_band_was_met_in_nights_of_which_a_quarter_is_missing() {
    // Of all hours eleven in twelve are there.
    let hole = |_: usize, h: f64| daily(h, 0.0, 2.0);
    open(&with_holes(NIGHT, hole), "room-cold", "% of the time by night has a usable value, 90 % are needed");
    open(
        &with_holes(NIGHT, |_, h| daily(h, 12.0, 14.0)),
        "room-overheated",
        "% of the time by day has a usable value",
    );
    // One band for day and night, and a shorter hole.
    clear(&with_holes("", hole));
    clear(&with_holes(NIGHT, |_, h| daily(h, 0.0, 0.6)));
}

#[test]
fn a_heat_rule_was_met_in_three_quarters_of_its_hours() {
    let rule = "[heat_rule]\nseason = { from = \"10-01\", to = \"05-31\" }\nwindow = [{ from = \"06:00\", to = \"11:00\", minimum = \"18 °C\" }]\n";
    let small = with_holes(rule, |_, h| daily(h, 6.0, 7.0));
    open(&small, "heat-rule-shortfall", "% of the heat rule's hours could be judged (");
    clear(&with_holes(rule, |_, h| daily(h, 12.0, 13.0)));
}

#[test]
fn a_heat_rule_was_met_in_hours_without_outdoor_temperature() {
    let rule = "[heat_rule]\nseason = { from = \"10-01\", to = \"05-31\" }\nwindow = [{ from = \"00:00\", to = \"24:00\", minimum = \"18 °C\", when_outdoor_below = \"13 °C\" }]\n";
    let of = |until: f64| {
        let small = with_holes(rule, |_, _| false);
        let site = fs::read_to_string(small.folder().join("site.toml")).unwrap();
        let outdoor = "outdoor = { file = \"weather.csv\", clock = \"civil\" }\nclock =";
        small.write("site.toml", site.replace("clock =", outdoor).as_bytes());
        let degc = |h: f64| if daily(h, 0.0, until) { f64::NAN } else { 1.0 + 4.0 * (h / 24.0).sin() };
        small.write("exports/weather.csv", &export(9, "temperature (°C)", degc));
        small
    };
    open(&of(5.0), "heat-rule-shortfall", "without outdoor temperature could not be judged");
    clear(&of(1.0));
}

#[test]
fn rooms_were_warm_in_time_on_mornings_of_which_nothing_is_known() {
    let setback =
        "[[setback]]\ndays = \"mon-sun\"\nfrom = \"22:00\"\nto = \"06:00\"\noccupied_target = \"20 °C\"\n";
    let lost = |mornings: f64| move |_: usize, h: f64| daily(h, 5.5, 7.0) && h < 24.0 * mornings;
    open(&with_holes(setback, lost(3.0)), "slow-recovery", "% of the mornings after a setback tell");
    clear(&with_holes(setback, lost(1.0)));
}

#[test]
fn rooms_were_even_at_hours_when_too_few_of_them_record() {
    // Each room has eleven hours in twelve, all of them together five in six.
    let in_turn = |room: usize, h: f64| daily(h, 12.0 * (room / 2) as f64, 12.0 * (room / 2) as f64 + 2.0);
    open(&with_holes("", in_turn), "home-uneven", "as many rooms at once as a spread takes");
    clear(&with_holes("", |_, h| daily(h, 0.0, 2.0)));
}

#[test]
fn an_unheated_room_was_even_on_days_of_which_too_many_are_missing() {
    let roster = ROSTER.replace("hall,hall,yes", "hall,hall,no");
    // Days with less than three quarters of their hours do not count.
    let of = |days: f64| {
        let small = with_holes("", |room, h| {
            room == 3 && h >= 48.0 && h < 24.0 * (2.0 + days) && daily(h, 8.0, 15.0)
        });
        small.write("roster.csv", roster.as_bytes());
        small
    };
    open(&of(2.0), "room-uneven", "% of the hours of its days have values of it and of heated rooms");
    clear(&of(1.0));
}

#[test]
fn a_room_without_a_band_was_never_cold_in_the_hours_it_has() {
    let without_band = SITE.split("[band]").next().unwrap();
    let of = |hours: f64| {
        let small = with_holes("", |room, h| room == 1 && daily(h, 0.0, hours));
        small.write("site.toml", without_band.as_bytes());
        small
    };
    open(&of(6.0), "room-cold", "75 % of the time has a usable value, 90 % are needed");
    open(&of(6.0), "near-freezing", "75 % of the time has a usable value, 90 % are needed");
    clear(&of(1.0));
}

/// A good home of which one logger writes a row every so many hours only.
fn seldom(every_h: usize) -> SmallSite {
    let small = with_holes("", |_, _| false);
    let rows = (0..15 * 144).step_by(6 * every_h);
    let rows = rows.map(|n| format!("{},{:.2}\n", written_time(n), in_a_room(1, n as f64 / 6.0)));
    let text = format!("time,temperature (°C)\n{}", rows.collect::<String>());
    small.write("exports/bedroom.csv", text.as_bytes());
    small
}

#[test]
fn a_room_with_two_readings_a_day_was_never_cold_at_night() {
    open(&seldom(12), "room-cold", "bedroom has a reading every 12 h only");
    open(&seldom(24), "home-uneven", "bedroom has a reading every 24 h only");
    clear(&seldom(1));
}

/// A good home whose loggers write rows without a value at some hours.
fn blank(rooms: usize, hole: impl Fn(f64) -> bool) -> SmallSite {
    let small = with_holes("", |_, _| false);
    for (room, name) in ROOMS.iter().enumerate() {
        let row = |n: usize| {
            let h = n as f64 / 6.0;
            let degc =
                if room < rooms && hole(h) { String::new() } else { format!("{:.2}", in_a_room(room, h)) };
            format!("{},{degc},50\n", written_time(n))
        };
        let rows: String = (0..15 * 144).map(row).collect();
        small.write(
            &format!("exports/{name}.csv"),
            format!("time,temperature (°C),humidity (%)\n{rows}").as_bytes(),
        );
    }
    small
}

#[test]
fn a_home_whose_loggers_all_lost_their_values_together_was_clear() {
    for (hole, severity) in [
        (264.0..360.0, "act"), // the last four days: the heating may have failed with the power
        (0.0..96.0, "act"),
        (100.0..120.0, "watch"),
    ] {
        let small = blank(4, |h| hole.contains(&h));
        let ran = done(&small);
        let told = found(&small, "no-value");
        assert!(matches!(told.as_slice(), [[_, told, _]] if told == severity), "{hole:?} {told:?}");
        assert!(!is_clear(&ran), "{}", ran.stdout);
    }
    // One room alone, or two hours.
    assert!(found_in(&blank(1, |h| (100.0..120.0).contains(&h))).is_empty());
    let small = blank(4, |h| (100.0..102.0).contains(&h));
    assert!(found_in(&small).is_empty());
    clear(&small);
}

fn found_in(small: &SmallSite) -> Vec<[String; 3]> {
    done(small);
    found(small, "no-value")
}

#[test]
fn what_a_thermostat_was_set_to_is_no_temperature_of_a_room() {
    for header in ["Setpoint (°C)", "Target temperature (°C)", "Feels like (°C)", "Dew point (°C)"] {
        let small = with_holes("", |_, _| false);
        small.write("exports/bedroom.csv", &export(1, header, |h| in_a_room(1, h)));
        let ran = small.audit();
        let told = ran.stderr.contains("not what the air of a room was");
        assert!(told && ran.code == Some(1) && !is_clear(&ran), "{header}: {}", ran.stderr);
        // The roster has the last word.
        let roster = ROSTER.replace("logger,file", "logger,file,column");
        let column = |line: &str| match line.contains("bedroom.csv") {
            true => format!("{line},{header}\n"),
            false => format!("{line}{}\n", if line.ends_with("column") { "" } else { "," }),
        };
        small.write("roster.csv", roster.lines().map(column).collect::<String>().as_bytes());
        clear(&small);
    }
}
