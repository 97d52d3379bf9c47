//! What a record must show before somebody is sent, or a home is accepted.

use std::fmt::Write;

use serde_json::Value;

use crate::small_site::{HEAT_RULE, SITE, SmallSite, standing, written_time};

const ROSTER: &str = "\
home,room,use,heated,logger,file
1A,living,living,yes,L-1,living.csv
1A,bedroom,bedroom,yes,L-2,bedroom.csv
1A,bathroom,bathroom,no,L-3,bathroom.csv
";

/// A reading every ten minutes; `degc` of the hour since the start, NaN for none.
fn export(room: usize, hours: usize, degc: impl Fn(f64) -> f64) -> Vec<u8> {
    let mut text = "time,temperature (°C)\n".to_owned();
    for n in 0..hours * 6 {
        // A little life of its own, so that no logger seems stuck, or another's copy.
        let life = 0.1 * (n as f64 * 0.7 + (n as f64 * 0.019).sin() * room as f64 + room as f64).sin();
        let degc = degc(n as f64 / 6.0);
        if degc.is_nan() {
            continue;
        }
        writeln!(text, "{},{:.2}", written_time(n), degc + life).unwrap();
    }
    text.into_bytes()
}

/// A home whose living room, bedroom and bathroom are recorded for so many hours.
struct Recorded {
    small: SmallSite,
}

impl Recorded {
    fn new(more: &str, hours: usize, degc: [&dyn Fn(f64) -> f64; 3]) -> Self {
        let small = SmallSite::new(&format!("{SITE}{more}"), ROSTER);
        for (room, (name, degc)) in ["living", "bedroom", "bathroom"].iter().zip(degc).enumerate() {
            small.write(&format!("exports/{name}.csv"), &export(room, hours, degc));
        }
        Self { small }
    }

    /// What it prints, and its findings: rule, room, severity, sentence.
    fn judged(&self) -> (String, Vec<[String; 4]>) {
        let ran = self.small.audit();
        assert_eq!(ran.code, Some(0), "{}", ran.stderr);
        let text = std::fs::read_to_string(self.small.out().join("findings.json")).unwrap();
        let findings: Vec<Value> = serde_json::from_str(&text).unwrap();
        let words = |f: &Value| {
            ["rule", "room", "severity", "shows"].map(|name| f[name].as_str().unwrap_or_default().to_owned())
        };
        (ran.stdout, findings.iter().map(words).collect())
    }
}

fn of<'f>(findings: &'f [[String; 4]], rule: &str, room: &str) -> Option<&'f [String; 4]> {
    findings.iter().find(|f| f[0] == rule && f[1] == room)
}

/// 21.5 °C, and from some hour on 3 K less in each, down to some degrees: no room falls at once.
fn without_heat(h: f64, from: f64, degc: f64) -> f64 {
    if h < from { 21.5 } else { (21.5 - 3.0 * (h - from)).max(degc) }
}

#[test]
fn two_days_without_heat_are_found_in_a_record_of_any_length() {
    for days in [7, 45] {
        let failed = |h: f64| if h < 108.0 { without_heat(h, 58.0, 8.5) } else { 21.5 };
        let good = |_: f64| 21.5;
        let (stdout, findings) = Recorded::new("", days * 24, [&failed, &good, &good]).judged();
        let found = of(&findings, "room-cold", "living").unwrap_or_else(|| panic!("{days} days: {stdout}"));
        assert_eq!(found[2], "act", "it is over");
        assert!(
            found[3].contains("certainly below 16.0 °C for up to 47.9 h at a time, for the last time"),
            "{}",
            found[3]
        );
        assert!(of(&findings, "room-cold", "bedroom").is_none());
    }
}

#[test]
fn cold_that_lasts_is_urgent_with_a_band_or_without() {
    let failing = |h: f64| if h < 150.0 { 21.5 } else { 12.0 };
    let good = |_: f64| 21.5;
    let recorded = Recorded::new("", 8 * 24, [&failing, &good, &failing]);
    let (_, findings) = recorded.judged();
    assert_eq!(of(&findings, "room-cold", "living").unwrap()[2], "urgent");
    assert_eq!(of(&findings, "room-cold", "bathroom").unwrap()[2], "act", "nobody lives in a bathroom");
    let site = SITE.split("[band]").next().unwrap();
    recorded.small.write("site.toml", site.as_bytes());
    let (_, findings) = recorded.judged();
    assert_eq!(of(&findings, "room-cold", "living").unwrap()[2], "urgent", "no band");
    assert!(of(&findings, "room-cold", "bathroom").is_none(), "nobody asked");
}

#[test]
fn serious_cold_that_is_over_is_not_urgent_in_a_room_that_stays_cool() {
    let dip = |h: f64| if (60.0..73.0).contains(&h) { 14.0 } else { 19.0 };
    let good = |_: f64| 21.5;
    let (_, findings) = Recorded::new("", 20 * 24, [&dip, &good, &good]).judged();
    assert_eq!(of(&findings, "room-cold", "living").unwrap()[2], "act");
    // The logger that dies in the cold does not say that it is over.
    let dies = |h: f64| {
        if h < 130.0 { without_heat(h, 100.0, 10.0) } else { f64::NAN }
    };
    let (_, findings) = Recorded::new("", 9 * 24, [&dies, &good, &good]).judged();
    assert_eq!(of(&findings, "room-cold", "living").unwrap()[2], "urgent");
}

#[test]
fn days_below_the_band_are_found_unless_the_sensors_may_make_them() {
    for (degc, hours, severity) in
        [(18.0, 48.0, Some("act")), (18.0, 20.0, Some("watch")), (18.0, 8.0, None), (19.8, 48.0, None)]
    {
        let cool = |h: f64| if (60.0..60.0 + hours).contains(&h) { degc } else { 21.5 };
        let good = |_: f64| 21.5;
        let (_, findings) = Recorded::new("", 45 * 24, [&cool, &good, &good]).judged();
        let found = of(&findings, "room-cold", "living").map(|f| f[2].as_str());
        assert_eq!(found, severity, "{hours} h at {degc} °C");
    }
}

#[test]
fn hours_too_close_to_the_minimum_are_no_pass() {
    let close = |_: f64| 20.2;
    let (stdout, findings) = Recorded::new(HEAT_RULE, 10 * 24, [&close, &close, &close]).judged();
    assert!(of(&findings, "heat-rule-shortfall", "living").is_none());
    assert!(standing(&stdout, "1A") != "accept", "nothing could be told, and that is no pass:\n{stdout}");
    let warm = |_: f64| 21.5;
    let (stdout, _) = Recorded::new(HEAT_RULE, 10 * 24, [&warm, &warm, &warm]).judged();
    assert!(standing(&stdout, "1A") == "accept", "{stdout}");
}

#[test]
fn an_unheated_room_surely_apart_is_found_and_one_not_known_is_no_pass() {
    let good = |_: f64| 21.5;
    let cool = |h: f64| 23.4 + 0.05 * (h / 24.0).floor() % 0.3;
    let (_, findings) = Recorded::new("", 20 * 24, [&cool, &cool, &|_| 20.6]).judged();
    let found = of(&findings, "room-uneven", "bathroom").expect("2.8 K colder than the heated rooms");
    assert_eq!(found[2], "act");
    let (stdout, findings) = Recorded::new("", 5 * 24, [&good, &good, &good]).judged();
    assert!(of(&findings, "room-uneven", "bathroom").is_none());
    assert!(standing(&stdout, "1A") != "accept", "five days show no evenness:\n{stdout}");
}

#[test]
fn an_hour_of_record_carries_no_verdict() {
    let good = |_: f64| 21.5;
    let (stdout, _) = Recorded::new("", 2, [&good, &good, &good]).judged();
    assert!(standing(&stdout, "1A") != "accept", "{stdout}");
}

#[test]
fn what_is_found_in_a_period_is_of_that_period() {
    let periods = "[[period]]\nname = \"all of it\"\nfrom = \"2026-01-05\"\nto = \"2026-01-20\"\n[[period]]\nname = \"one day\"\nfrom = \"2026-01-08\"\nto = \"2026-01-08\"\n";
    // Colder and colder: the worst of the day is not the worst of all.
    let failing = |h: f64| 21.5 - ((h - 60.0).max(0.0) / 12.0).min(12.0);
    let good = |_: f64| 21.5;
    let recorded = Recorded::new(&format!("{periods}{HEAT_RULE}"), 15 * 24, [&failing, &good, &good]);
    let (_, findings) = recorded.judged();
    let text = std::fs::read_to_string(recorded.small.out().join("findings.json")).unwrap();
    let all: Vec<Value> = serde_json::from_str(&text).unwrap();
    let of_day = all.iter().find(|f| f["id"] == "heat-rule-shortfall/1A/living/one day").unwrap();
    let until = of_day["to_utc"].as_str().unwrap();
    assert!(until.starts_with("2026-01-09T06:00"), "not beyond the local day: {until}");
    assert!(findings.iter().any(|f| f[3].contains("at worst 18.5")), "{findings:#?}");
    let events = std::fs::read_to_string(recorded.small.out().join("events.csv")).unwrap();
    let mut kept: Vec<&str> = events.lines().collect();
    let count = kept.len();
    kept.sort_unstable();
    kept.dedup();
    assert_eq!(kept.len(), count, "no row twice, though the periods overlap");
}

#[test]
fn evenness_shown_in_one_period_is_not_asked_for_in_a_shorter_one() {
    let periods = "[[period]]\nname = \"all of it\"\nfrom = \"2026-01-05\"\nto = \"2026-01-24\"\n[[period]]\nname = \"cold snap\"\nfrom = \"2026-01-08\"\nto = \"2026-01-10\"\n";
    let good = |_: f64| 21.5;
    let (stdout, _) = Recorded::new(periods, 20 * 24, [&good, &good, &good]).judged();
    assert!(standing(&stdout, "1A") == "accept", "{stdout}");
}

#[test]
fn a_room_without_values_at_all_ends_of_setbacks_is_not_judged() {
    let setback =
        "[[setback]]\ndays = \"mon-sun\"\nfrom = \"22:00\"\nto = \"06:00\"\noccupied_target = \"21 °C\"\n";
    let good = |_: f64| 21.5;
    let lost = |h: f64| if (5.0..7.5).contains(&(h % 24.0)) { f64::NAN } else { 21.5 };
    let (stdout, _) = Recorded::new(setback, 15 * 24, [&good, &lost, &good]).judged();
    assert!(stdout.contains("not judged: slow-recovery, bedroom: on 15 mornings"), "{stdout}");
}

/// A room without heating has no setting to look at.
#[test]
fn the_next_step_for_an_unheated_room_speaks_of_no_setting() {
    let cold = |h: f64| if h < 30.0 { 21.5 } else { 17.0 };
    let recorded = Recorded::new("", 8 * 24, [&cold, &|_| 21.5, &cold]);
    assert_eq!(recorded.judged().1.iter().filter(|f| f[0] == "room-cold").count(), 2);
    let text = std::fs::read_to_string(recorded.small.out().join("findings.json")).unwrap();
    let findings: Vec<Value> = serde_json::from_str(&text).unwrap();
    let next = |room: &str| {
        let of_room = |f: &&Value| f["rule"] == "room-cold" && f["room"] == room;
        findings.iter().find(of_room).unwrap()["next_step"].as_str().unwrap().to_owned()
    };
    assert!(next("living").contains("heating's setting"));
    assert!(!next("bathroom").contains("setting") && next("bathroom").contains("no heating of its own"));
}

#[test]
fn a_logger_that_came_from_a_colder_place_sends_nobody_and_a_room_that_warms_up_does() {
    let good = |_: f64| 21.5;
    let brought = |h: f64| if h < 30.0 { 12.0 } else { 21.5 };
    // Two of them in one bag, so that neither is colder than every other room.
    let (_, findings) = Recorded::new("", 10 * 24, [&brought, &brought, &good]).judged();
    assert!(of(&findings, "logger-elsewhere", "living").unwrap()[3].contains("begins cold and rises by"));
    assert_eq!(of(&findings, "room-cold", "living").map_or("watch", |f| &f[2]), "watch");
    let warms = |h: f64| (12.0 + 3.0 * (h - 30.0)).clamp(12.0, 21.5);
    let (_, findings) = Recorded::new("", 10 * 24, [&warms, &warms, &good]).judged();
    assert!(of(&findings, "logger-elsewhere", "living").is_none());
    assert_eq!(of(&findings, "room-cold", "living").unwrap()[2], "act");
}

#[test]
fn a_logger_that_may_be_stuck_is_no_witness_that_a_home_was_warm() {
    let day = |h: f64| if h % 24.0 < 6.0 { 19.0 } else { 21.5 };
    let fails = |h: f64| if (240.0..300.0).contains(&h) { 21.5 - 0.15 * (h - 240.0) } else { day(h) };
    // A logger in whole degrees, which stands still from some hour on.
    let living = |from: f64| {
        let mut text = "time,temperature (°C)\n".to_owned();
        for n in 0..14 * 24 * 6 {
            let h = n as f64 / 6.0;
            let degc = if h < from { day(h) + 0.7 * (n as f64 * 0.21).sin() } else { 21.0 };
            writeln!(text, "{},{:.1}", written_time(n), degc.round()).unwrap();
        }
        text.into_bytes()
    };
    let judged = |from: f64| {
        let recorded = Recorded::new("", 14 * 24, [&day, &fails, &fails]);
        recorded.small.write("exports/living.csv", &living(from));
        recorded.judged().1
    };
    let stuck = judged(60.0);
    assert!(of(&stuck, "may-be-stuck", "living").is_some(), "{stuck:#?}");
    assert_eq!(of(&stuck, "no-heat", "").unwrap()[2], "act");
    // A living room that goes on living is warm, and one room alone is cold.
    let sound = judged(1000.0);
    assert!(of(&sound, "no-heat", "").is_none(), "{sound:#?}");
    assert!(of(&sound, "no-heat-in-room", "bedroom").is_some(), "{sound:#?}");
}
