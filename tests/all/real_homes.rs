//! What happens in real homes and halls, and must reach the numbers: frost, heat, steadiness, a logger that is stuck.

use std::fmt::Write;
use std::sync::atomic::{AtomicU32, Ordering};

use serde_json::Value;

use crate::program::Ran;
use crate::small_site::{SITE, SmallSite, written_time};

const ROSTER: &str = "\
home,room,use,heated,logger,file
1A,living,living,yes,L-1,living.csv
1A,bedroom,bedroom,yes,L-2,bedroom.csv
1A,bathroom,bathroom,no,L-3,bathroom.csv
";
const WEATHER: &str = "outdoor = { file = \"weather.csv\", column = \"temp\", unit = \"°C\" }\n";
const DAYS: usize = 20;

/// Temperatures every ten minutes, as a logger of some step writes them; each series has a life of its own.
fn series(step: f64, degc: impl Fn(f64) -> f64) -> Vec<f64> {
    static SERIES: AtomicU32 = AtomicU32::new(0);
    let own = f64::from(SERIES.fetch_add(1, Ordering::Relaxed) % 97);
    let life =
        |n: usize| 0.12 * (n as f64 * (0.7 + 0.013 * own)).sin() + 0.05 * (n as f64 * 0.113 + own).sin();
    (0..DAYS * 144).map(|n| ((degc(n as f64 / 6.0) + life(n)) / step).round() * step).collect()
}

fn export(values: &[f64], column: &str) -> Vec<u8> {
    let mut text = format!("time,{column}\n");
    for (n, x) in values.iter().enumerate() {
        writeln!(text, "{},{x:.2}", written_time(n)).unwrap();
    }
    text.into_bytes()
}

/// A home of three rooms with a weather series, audited.
struct Audited {
    rooms: Vec<(&'static str, Vec<f64>)>,
    ran: Ran,
    findings: Vec<Value>,
    metrics: String,
}

impl Audited {
    fn new(rooms: [Vec<f64>; 3], outdoor: Option<Vec<f64>>) -> Self {
        let site = if outdoor.is_some() {
            SITE.replace("[band]", &format!("{WEATHER}[band]"))
        } else {
            SITE.to_owned()
        };
        let small = SmallSite::new(&site, ROSTER);
        let rooms: Vec<_> = ["living", "bedroom", "bathroom"].into_iter().zip(rooms).collect();
        for (name, values) in &rooms {
            small.write(&format!("exports/{name}.csv"), &export(values, "temperature (°C)"));
        }
        if let Some(outdoor) = outdoor {
            small.write("exports/weather.csv", &export(&outdoor, "temp"));
        }
        let ran = small.audit();
        assert_eq!(ran.code, Some(0), "{}", ran.stderr);
        let read = |name: &str| std::fs::read_to_string(small.out().join(name)).unwrap();
        let findings = serde_json::from_str(&read("findings.json")).unwrap();
        Self { rooms, ran, findings, metrics: read("metrics.csv") }
    }

    /// Value, low and high of a metric of a room over the whole record.
    fn metric(&self, room: &str, metric: &str) -> [f64; 3] {
        let mut reader = csv::Reader::from_reader(self.metrics.as_bytes());
        let headers = reader.headers().unwrap().clone();
        let at = |name: &str| headers.iter().position(|h| h == name).unwrap();
        let rows: Vec<csv::StringRecord> = reader.records().map(|r| r.unwrap()).collect();
        let wanted = |r: &&csv::StringRecord| {
            &r[at("room")] == room && &r[at("metric")] == metric && &r[at("slice")] == "all"
        };
        let row = rows.iter().find(wanted).unwrap_or_else(|| panic!("no {metric} of {room}"));
        ["value", "low", "high"].map(|name| row[at(name)].parse().unwrap_or(f64::NAN))
    }

    /// Hours of the file of a room for which something holds: each reading stands for ten minutes.
    fn hours(&self, room: &str, holds: impl Fn(f64) -> bool) -> f64 {
        let (_, values) = self.rooms.iter().find(|(name, _)| *name == room).unwrap();
        values.iter().filter(|x| holds(**x)).count() as f64 / 6.0
    }

    fn rules(&self, room: &str) -> Vec<&str> {
        let of_room = self.findings.iter().filter(|f| f["room"] == room);
        of_room.filter_map(|f| f["rule"].as_str()).collect()
    }

    fn finding(&self, rule: &str, room: &str) -> &Value {
        let wanted = |f: &&Value| f["rule"] == rule && f["room"] == room;
        self.findings
            .iter()
            .find(wanted)
            .unwrap_or_else(|| panic!("no {rule} of {room}: {:#?}", self.findings))
    }
}

/// Within 1 %, and the truth between low and high.
fn holds([value, low, high]: [f64; 3], truth: f64) {
    assert!((value - truth).abs() <= 0.01 * truth + 0.2, "{value} h, the file has {truth} h");
    assert!(low <= truth && truth <= high + 0.2, "{low} to {high} h, the file has {truth} h");
}

/// From 20 °C down to some degrees below 0 after two days without heat, and no way back.
fn frost(hours: f64, slow: f64) -> f64 {
    if hours < 48.0 { 20.3 } else { -6.0 + 26.3 * (-(hours - 48.0) / slow).exp() }
}

#[test]
fn a_freezing_home_keeps_every_hour_of_its_cold() {
    let outdoor = series(0.1, |h| -12.0 + 3.0 * (h / 24.0 * std::f64::consts::TAU).sin());
    for outdoor in [Some(outdoor), None] {
        let home = Audited::new(
            [
                series(0.1, |h| frost(h, 50.0)),
                series(0.1, |h| frost(h, 70.0)),
                series(0.1, |h| frost(h, 60.0)),
            ],
            outdoor,
        );
        for room in ["living", "bedroom", "bathroom"] {
            holds(home.metric(room, "hours_below_band"), home.hours(room, |x| x < 20.0));
            holds(home.metric(room, "hours_near_freezing"), home.hours(room, |x| x <= 5.0));
            let lowest =
                home.rooms.iter().find(|r| r.0 == room).unwrap().1.iter().copied().fold(99.0, f64::min);
            assert!((home.metric(room, "minimum")[0] - lowest).abs() < 0.11);
            let found = home.finding("near-freezing", room);
            assert_eq!(found["severity"], "urgent", "{found}");
            assert!(found["shows"].as_str().unwrap().contains("other rooms"), "{found}");
            assert!(found["next_step"].as_str().unwrap().contains("carbon monoxide"));
            let doubts =
                home.findings.iter().filter(|f| f["rule"] != "room-cold" && f["rule"] != "near-freezing");
            assert_eq!(doubts.filter(|f| f["room"] == room).count(), 0, "{:?}", home.rules(room));
        }
    }
}

#[test]
fn a_hot_dwelling_keeps_every_hour_of_its_heat() {
    let hot = |over: f64| {
        move |h: f64| 37.0 + over + 5.0 * ((h - 9.0) / 24.0 * std::f64::consts::TAU).sin() + 2.0 * (h / 240.0)
    };
    let home = Audited::new([series(0.1, hot(0.0)), series(0.5, hot(1.0)), series(0.1, hot(-0.7))], None);
    for room in ["living", "bedroom", "bathroom"] {
        let hours = home.metric(room, "hours_above_band");
        holds(hours, home.hours(room, |x| x > 24.0));
        assert!(hours[0] > 470.0 && home.hours(room, |x| x > 40.0) > 100.0);
        holds(home.metric(room, "hours_very_hot"), home.hours(room, |x| x >= 35.0));
        assert!(!home.rules(room).contains(&"wrong-unit"), "{:?}", home.rules(room));
    }
    let found = home.finding("very-hot", "living");
    assert_eq!(found["severity"], "act", "{found} {:?}", home.rules("living"));
}

#[test]
fn a_steady_church_loses_no_hour_and_no_logger_is_doubted() {
    // Half a degree of resolution, half a degree in a day: one value stands for most of a day.
    let steady = |over: f64| {
        move |h: f64| {
            15.0 + over + 0.9 * (h / 150.0).sin() + 0.3 * ((h - 15.0) / 24.0 * std::f64::consts::TAU).sin()
        }
    };
    let home =
        Audited::new([series(0.5, steady(0.0)), series(0.5, steady(1.1)), series(1.0, steady(-0.6))], None);
    for room in ["living", "bedroom", "bathroom"] {
        holds(home.metric(room, "hours_below_band"), home.hours(room, |x| x < 20.0));
        assert!((home.metric(room, "coverage")[0] - 100.0).abs() < 0.2);
        assert_eq!(home.rules(room), ["room-cold"], "nothing speaks against the record");
    }
}

#[test]
fn a_logger_stuck_from_its_first_day_through_an_outage_makes_nothing_pass() {
    let outage = |h: f64| match h {
        h if h < 100.0 => 21.5 + 0.8 * (h / 24.0 * std::f64::consts::TAU).sin(),
        h if h < 180.0 => 8.0 + 13.5 * (-(h - 100.0) / 30.0).exp(),
        h => 21.5 + 0.8 * (h / 24.0 * std::f64::consts::TAU).sin(),
    };
    let stuck: Vec<f64> =
        series(0.1, outage).iter().enumerate().map(|(n, x)| if n > 100 { 21.3 } else { *x }).collect();
    let home = Audited::new([series(0.1, outage), stuck, series(0.1, |h| outage(h) - 0.8)], None);
    let found = home.finding("stuck", "bedroom");
    assert_eq!(found["severity"], "act");
    assert!(found["shows"].as_str().unwrap().contains("the other rooms of the home moved by"), "{found}");
    assert!(
        home.ran.stdout.contains("visit") || home.ran.stdout.contains("record again"),
        "{}",
        home.ran.stdout
    );
    assert!(home.metric("bedroom", "coverage")[0] < 10.0, "the stuck value is in no number");
    assert!(!home.rules("living").contains(&"stuck") && !home.rules("bathroom").contains(&"stuck"));
}

#[test]
fn a_stuck_logger_without_a_witness_is_used_and_nothing_good_rests_on_it() {
    let even = |h: f64| 21.5 + 0.3 * (h / 24.0 * std::f64::consts::TAU).sin();
    let flat: Vec<f64> =
        series(0.1, even).iter().enumerate().map(|(n, x)| if n > 1500 { 21.5 } else { *x }).collect();
    // The other rooms hardly move either.
    let home = Audited::new([series(0.5, |_| 21.4), flat, series(0.5, |_| 21.0)], None);
    assert_eq!(home.rules("bedroom"), ["may-be-stuck"]);
    assert!((home.metric("bedroom", "coverage")[0] - 100.0).abs() < 0.2, "the readings are used");
    assert!((home.metric("bedroom", "share_suspect")[0] - 48.0).abs() < 2.0);
    assert!(home.ran.stdout.contains("record again"), "{}", home.ran.stdout);
    assert!(home.ran.stdout.contains("rest on suspect readings"), "{}", home.ran.stdout);
}

#[test]
fn a_logger_outdoors_is_told_and_its_time_is_in_no_number() {
    let outdoor = series(0.1, |h| -3.0 + 4.0 * ((h - 9.0) / 24.0 * std::f64::consts::TAU).sin());
    let room = |h: f64| 21.0 + 0.6 * (h / 24.0 * std::f64::consts::TAU).sin();
    let carried: Vec<f64> = series(0.1, room)
        .iter()
        .zip(&outdoor)
        .enumerate()
        .map(|(n, (x, out))| if (700..1000).contains(&n) { out + 0.4 } else { *x })
        .collect();
    let home =
        Audited::new([series(0.1, room), carried, series(0.1, |h| room(h) - 0.7)], Some(outdoor.clone()));
    let found = home.finding("logger-elsewhere", "bedroom");
    assert!(found["shows"].as_str().unwrap().contains("follows the outdoor air"), "{found}");
    assert!(home.metric("bedroom", "minimum")[0] > 18.0, "what was outdoors is not the room's");
    assert!(!home.rules("bedroom").contains(&"near-freezing"));
    // A window that stands open in the cold is the room's own cold.
    let aired: Vec<f64> = series(0.1, room)
        .iter()
        .zip(&outdoor)
        .enumerate()
        .map(|(n, (x, out))| if (700..1000).contains(&n) { x + 0.6 * (out - x) } else { *x })
        .collect();
    let truth = aired.iter().filter(|x| **x < 20.0).count() as f64 / 6.0;
    let home = Audited::new([series(0.1, room), aired, series(0.1, |h| room(h) - 0.7)], Some(outdoor));
    holds(home.metric("bedroom", "hours_below_band"), truth);
}

#[test]
fn one_series_under_two_names_is_told_wherever_it_lies() {
    let room = |h: f64| 21.0 + 0.9 * (h / 24.0 * std::f64::consts::TAU).sin() + (h / 37.0).sin();
    let living = series(0.1, room);
    let moved: Vec<f64> = living.iter().map(|x| x + 0.4).collect();
    let home = Audited::new([living, moved, series(0.1, |h| room(h + 3.0) - 0.8)], None);
    for (room, other) in [("living", "bedroom"), ("bedroom", "living")] {
        let found = home.finding("same-readings", room);
        let shows = found["shows"].as_str().unwrap();
        assert!(shows.contains(other) && shows.contains("0.4 K"), "{shows}");
        assert_eq!(found["severity"], "act");
    }
    assert!(!home.rules("bathroom").contains(&"same-readings"));
}

#[test]
fn a_logger_outdoors_is_told_where_the_home_freezes_later_and_in_summer_nights() {
    let cold = series(0.1, |h| -3.0 + 4.0 * ((h - 9.0) / 24.0 * std::f64::consts::TAU).sin());
    let freezes = |h: f64| if h < 230.0 { 21.0 } else { -2.5 + 23.5 * (-(h - 230.0) / 40.0).exp() };
    let outdoors_from = |room: Vec<f64>, outdoor: &[f64], from: usize, to: usize| -> Vec<f64> {
        let of = |(n, (x, out)): (usize, (&f64, &f64))| if (from..to).contains(&n) { out + 0.3 } else { *x };
        room.iter().zip(outdoor).enumerate().map(of).collect()
    };
    let carried = outdoors_from(series(0.1, freezes), &cold, 500, 2400);
    let home = Audited::new([series(0.1, freezes), carried, series(0.1, freezes)], Some(cold));
    assert!(home.rules("bedroom").contains(&"logger-elsewhere"), "{:?}", home.rules("bedroom"));

    let summer = series(0.1, |h| 21.0 + 6.5 * ((h - 9.0) / 24.0 * std::f64::consts::TAU).sin());
    let warm = |h: f64| 24.0 + 0.4 * (h / 24.0 * std::f64::consts::TAU).sin();
    // Taken out and back at noon, when outdoors is as warm as the room.
    let carried = outdoors_from(series(0.1, warm), &summer, 85, 85 + 4 * 144);
    let home = Audited::new([series(0.1, warm), carried, series(0.1, warm)], Some(summer));
    assert!(home.rules("bedroom").contains(&"logger-elsewhere"), "{:?}", home.rules("bedroom"));
}

#[test]
fn readings_that_jump_there_and_back_are_told_in_pairs_and_where_they_are_cold() {
    let room = |h: f64| 21.0 + 0.6 * (h / 24.0 * std::f64::consts::TAU).sin();
    let with = |readings: &[(usize, f64)]| {
        let mut values = series(0.1, room);
        readings.iter().for_each(|(n, k)| values[*n] += k);
        values
    };
    let pairs = with(&[(900, 8.0), (901, 8.4), (930, 7.7), (931, 8.1), (990, -8.0), (991, -7.9)]);
    let dips = with(&[(900, -4.0), (930, -4.2), (1000, -4.1)]);
    let home = Audited::new([series(0.1, room), pairs, dips], None);
    let shows = |room: &str| home.finding("spikes", room)["shows"].as_str().unwrap().to_owned();
    assert!(shows("bedroom").contains("one or two at a time"), "{}", shows("bedroom"));
    assert!(shows("bathroom").contains("up to 3 of them within 24 hours"), "{}", shows("bathroom"));
    let steam = with(&[(900, 4.0), (930, 4.2), (1000, 4.1)]);
    let home = Audited::new([series(0.1, room), series(0.1, room), steam], None);
    assert!(!home.rules("bathroom").contains(&"spikes"), "a shower may be one reading");
}

#[test]
fn steady_rooms_with_coarse_loggers_are_not_stuck_and_a_coarse_stuck_one_in_a_moving_home_is_told() {
    let steady = |h: f64| 21.0 + 0.2 * (h / 24.0 * std::f64::consts::TAU).sin();
    let home = Audited::new([series(1.0, steady), series(0.5, |_| 21.1), series(0.1, steady)], None);
    for room in ["living", "bedroom", "bathroom"] {
        assert!(home.rules(room).is_empty(), "{room}: {:?}", home.rules(room));
    }
    let moving = |h: f64| 21.0 + 1.1 * (h / 24.0 * std::f64::consts::TAU).sin();
    let home = Audited::new([series(1.0, moving), series(1.0, |_| 21.0), series(0.1, moving)], None);
    assert_eq!(home.rules("bedroom"), ["may-be-stuck"]);
}
