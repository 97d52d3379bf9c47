//! What is told of a record, and what is not: no trouble that nobody has, no sentence that contradicts itself.

use std::fmt::Write;

use serde_json::Value;

use crate::program::run;
use crate::small_site::{SITE, SmallSite, written_time};

const BARE: &str = r#"[site]
name = "Alder Row"
time_zone = "America/Chicago"
roster = "roster.csv"
exports = "exports"
clock = "civil"
"#;

/// A reading every `every` tens of minutes; `degc` of the hour since the start, NaN for none.
fn export(room: usize, hours: usize, every: usize, degc: impl Fn(f64) -> f64) -> Vec<u8> {
    let mut text = "time,temperature (°C)\n".to_owned();
    for n in (0..hours * 6).step_by(every) {
        // A little life of its own, so that no logger seems stuck, or another's copy.
        let life = 0.1 * (n as f64 * 0.7 + (n as f64 * 0.019).sin() * room as f64 + room as f64).sin();
        let degc = degc(n as f64 / 6.0);
        // What is written as nothing at all stays so.
        let shown = if degc == 0.0 { 0.0 } else { degc + life };
        if !degc.is_nan() {
            writeln!(text, "{},{shown:.2}", written_time(n)).unwrap();
        }
    }
    text.into_bytes()
}

/// What an audit printed, and its findings.
struct Told {
    stdout: String,
    stderr: String,
    findings: Vec<Value>,
}

impl Told {
    fn of(small: &SmallSite) -> Self {
        let ran = small.audit();
        assert_eq!(ran.code, Some(0), "{}", ran.stderr);
        let text = std::fs::read_to_string(small.out().join("findings.json")).unwrap();
        Self {
            stdout: one_line(&ran.stdout),
            stderr: ran.stderr,
            findings: serde_json::from_str(&text).unwrap(),
        }
    }

    fn find(&self, rule: &str, room: &str) -> Option<&Value> {
        self.findings.iter().find(|f| f["rule"] == rule && f["room"] == room)
    }

    fn rules(&self) -> Vec<&str> {
        self.findings.iter().map(|f| f["rule"].as_str().unwrap()).collect()
    }
}

/// Without the breaks of lines.
fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Rooms as name, use, heated and temperature.
type Rooms<'a> = [(&'a str, &'a str, &'a str, &'a dyn Fn(f64) -> f64)];

fn home(site: &str, hours: usize, rooms: &Rooms<'_>) -> SmallSite {
    let row = |(n, (room, purpose, heated, _)): (usize, &(&str, &str, &str, _))| {
        format!("1A,{room},{purpose},{heated},L-{n},{room}.csv\n")
    };
    let rows: String = rooms.iter().enumerate().map(row).collect();
    let small = SmallSite::new(site, &format!("home,room,use,heated,logger,file\n{rows}"));
    for name in ["living", "bedroom"] {
        small.remove(&format!("exports/{name}.csv"));
    }
    for (n, (room, .., degc)) in rooms.iter().enumerate() {
        small.write(&format!("exports/{room}.csv"), &export(n, hours, 1, degc));
    }
    small
}

fn warm(_: f64) -> f64 {
    21.5
}

#[test]
fn a_declared_side_by_side_time_makes_no_hole_and_no_hand() {
    // On a desk at 26 °C for two days, brought back in a warm hand.
    let course = |own: f64| {
        move |h: f64| match h {
            h if (120.0..168.0).contains(&h) => 26.0,
            h if h >= 168.0 => own + 6.0 * (-(h - 168.0) / 0.4).exp(),
            _ => own,
        }
    };
    let (a, b, c, d) = (course(21.0), warm, course(20.5), course(20.8));
    let colocation = "[colocation]\nfrom = \"2026-01-10 00:00\"\nto = \"2026-01-12 00:00\"\nloggers = [\"L-0\", \"L-2\", \"L-3\"]\n";
    let rooms: &Rooms<'_> = &[
        ("living", "living", "yes", &a),
        ("bedroom", "bedroom", "yes", &b),
        ("kitchen", "kitchen", "yes", &c),
        ("hall", "hall", "yes", &d),
    ];
    let told = Told::of(&home(&format!("{SITE}{colocation}"), 15 * 24, rooms));
    for rule in ["hole", "logger-handled", "thin-coverage", "partial-record", "record-fades"] {
        assert!(!told.rules().contains(&rule), "{rule}: {:#?}", told.findings);
    }
    // Without the declaration nothing is kept silent.
    let rooms = home(
        SITE,
        15 * 24,
        &[("living", "living", "yes", &|h| if (120.0..168.0).contains(&h) { f64::NAN } else { 21.0 })],
    );
    assert!(Told::of(&rooms).rules().contains(&"hole"));
}

#[test]
fn why_there_is_no_spread_is_said() {
    let first = |h: f64| if h < 60.0 { 21.0 } else { f64::NAN };
    let second = |h: f64| if h >= 70.0 { 21.0 } else { f64::NAN };
    let told = Told::of(&home(
        SITE,
        200,
        &[("living", "living", "yes", &first), ("bedroom", "bedroom", "yes", &second)],
    ));
    assert!(!told.stdout.contains("the record gives no spread"), "{}", told.stdout);
    assert!(told.stdout.contains("home-uneven: a spread takes the values of 2 of its 2 rooms at the same time, and there never are so many"), "{}", told.stdout);
    let period = "[[period]]\nname = \"before\"\nfrom = \"2026-01-05\"\nto = \"2026-01-06\"\n";
    let rooms: &Rooms<'_> = &[("living", "living", "yes", &first), ("bedroom", "bedroom", "yes", &second)];
    let told = Told::of(&home(&format!("{SITE}{period}"), 200, rooms));
    assert!(told.stdout.contains("home-uneven, before: only living has usable values"), "{}", told.stdout);
}

#[test]
fn time_below_16_is_said_without_a_band_and_where_nobody_lives() {
    let cold = |_: f64| 12.0;
    let rooms: &Rooms<'_> = &[
        ("nave", "other", "no", &cold),
        ("vestry", "other", "no", &cold),
        ("office", "other", "yes", &warm),
    ];
    for site in [BARE, SITE] {
        let small = home(site, 9 * 24, rooms);
        let told = Told::of(&small);
        let said = "Below 16.0 °C, even with the sensor accuracy added, for up to: nave 9.0 days, vestry 9.0 days at a time";
        assert!(told.stdout.contains(said), "{}", told.stdout);
        let page = std::fs::read_to_string(small.out().join("report.html")).unwrap();
        assert!(page.contains(said), "not in the report");
    }
    let told =
        Told::of(&home(BARE, 9 * 24, &[("nave", "other", "no", &warm), ("vestry", "other", "no", &warm)]));
    assert!(!told.stdout.contains("Below 16"), "{}", told.stdout);
}

#[test]
fn a_copy_that_the_roster_does_not_name_is_to_be_left_out() {
    let moving = |h: f64| 21.0 + (h / 5.0).sin() + (h / 1.7).cos() * 0.6;
    let small =
        home(SITE, 8 * 24, &[("living", "living", "yes", &moving), ("bedroom", "bedroom", "yes", &warm)]);
    small.write("exports/living-older.csv", &export(0, 7 * 24, 1, moving));
    let told = Told::of(&small);
    let copy = told.find("same-readings", "living").expect("an older copy");
    let next = copy["next_step"].as_str().unwrap();
    assert!(next.contains("leave it out of the roster") && !next.contains("correct the roster"), "{next}");
    assert!(!told.stderr.contains("give each a row in the roster"), "{}", told.stderr);
    assert!(!told.stdout.contains("same-readings: find out which room"), "{}", told.stdout);
    // A file that is none may be a room.
    small.write("exports/other.csv", &export(3, 7 * 24, 1, |h| 20.0 + (h / 3.0).sin() * 2.0));
    let told = Told::of(&small);
    let notes = one_line(&told.stderr);
    assert!(notes.contains("does not name 1 of the files: other.csv"), "{notes}");
}

#[test]
fn what_nobody_asked_for_is_not_left_open() {
    let freezing = |h: f64| if h < 90.0 { 8.0 } else { 1.0 };
    let told = Told::of(&home(
        BARE,
        9 * 24,
        &[("nave", "other", "yes", &freezing), ("vestry", "other", "no", &warm)],
    ));
    assert!(told.find("near-freezing", "nave").is_some());
    for rule in ["heat-rule-shortfall", "room-overheated", "room-cold"] {
        assert!(!told.stdout.contains(rule), "{rule}: {}", told.stdout);
    }
    let with_rule = format!("{BARE}{}", crate::small_site::HEAT_RULE.replace("20 °C", "-30 °C"));
    let told = Told::of(&home(
        &with_rule,
        9 * 24,
        &[("nave", "living", "yes", &freezing), ("vestry", "other", "no", &warm)],
    ));
    assert!(told.stdout.contains("heat-rule-shortfall"), "{}", told.stdout);
}

#[test]
fn explain_answers_for_standings_and_severities() {
    let folder = tempfile::tempdir().unwrap();
    let explain = |name: &str| run(folder.path(), &["explain", name]);
    let names = [
        "urgent",
        "visit",
        "undecided",
        "watch",
        "clear",
        "act",
        "note",
        "accept",
        "record again",
        "visit today",
        "certainly",
        "possibly",
        "not judged",
    ];
    for name in names {
        let ran = explain(name);
        assert_eq!(ran.code, Some(0), "{name}: {}", ran.stderr);
        assert!(ran.stdout.len() > 60, "{name}: {}", ran.stdout);
    }
    assert!(explain("watch").stdout.contains("standing") && explain("watch").stdout.contains("severity"));
    for (wrong, near) in [
        ("visti", "visit"),
        ("undecidet", "undecided"),
        ("room-clod", "room-cold"),
        ("spread_medain", "spread_median"),
    ] {
        let ran = explain(wrong);
        assert_eq!(ran.code, Some(2));
        assert!(ran.stderr.contains(&format!("did you mean {near}")), "{wrong}: {}", ran.stderr);
    }
    assert!(explain("xyzzy-plugh").stderr.contains("without a name lists them"));
}

#[test]
fn a_list_is_named_only_where_it_stands() {
    let cold = |h: f64| if h < 30.0 { 21.5 } else { 17.0 };
    let told = Told::of(&home(
        SITE,
        9 * 24,
        &[("living", "living", "yes", &cold), ("bedroom", "bedroom", "yes", &warm)],
    ));
    assert!(told.stdout.contains(" 1A visit ") && told.stdout.contains(" next: "), "{}", told.stdout);
    assert!(!told.stdout.contains("with the list"));
}

#[test]
fn whether_a_room_is_heated_may_be_unknown() {
    for word in ["unknown", "?", ""] {
        let cool = |_: f64| 16.5;
        let setback = "[[setback]]\ndays = \"mon-sun\"\nfrom = \"22:00\"\nto = \"06:00\"\noccupied_target = \"21 °C\"\n";
        let rooms: &Rooms<'_> = &[("living", "living", "yes", &warm), ("bedroom", "bedroom", word, &cool)];
        let small = home(&format!("{BARE}{setback}"), 15 * 24, rooms);
        let told = Told::of(&small);
        assert!(
            told.find("room-uneven", "bedroom").is_none() && told.find("slow-recovery", "bedroom").is_none()
        );
        let why = "whether it has heating of its own is unknown (`heated` in the roster)";
        assert!(
            told.stdout.contains("room-uneven, slow-recovery, no-heat-in-room, bedroom: whether"),
            "{word}: {}",
            told.stdout
        );
        assert!(told.stdout.contains(why), "{word}: {}", told.stdout);
        let page = std::fs::read_to_string(small.out().join("report.html")).unwrap();
        assert!(page.contains("<td class=\"text\">unknown</td>"));
    }
    // Known in one row of a room is known.
    let small =
        home(SITE, 9 * 24, &[("living", "living", "yes", &warm), ("bedroom", "bedroom", "no", &warm)]);
    small.write("roster.csv", b"home,room,use,heated,logger,file,from,to\n1A,living,living,?,L-0,living.csv,,2026-01-08\n1A,living,living,yes,L-1,bedroom.csv,2026-01-09,\n");
    Told::of(&small);
}

#[test]
fn carbon_monoxide_is_spoken_of_where_it_is_cold() {
    let page = |degc: &dyn Fn(f64) -> f64| {
        let small =
            home(SITE, 9 * 24, &[("living", "living", "yes", degc), ("bedroom", "bedroom", "yes", &warm)]);
        Told::of(&small);
        std::fs::read_to_string(small.out().join("report.html"))
            .unwrap()
            .split("How this was found")
            .next()
            .unwrap()
            .to_owned()
    };
    let failing = |h: f64| if h < 100.0 { 21.5 } else { 12.0 };
    assert!(page(&failing).contains("carbon monoxide"));
    assert!(!page(&warm).contains("carbon monoxide"));
}

#[test]
fn setbacks_found_in_the_data_speak_of_no_heat_pump() {
    // A hall that is heated for some evenings and cools in between.
    let hall = |h: f64| {
        14.0 + if (h % 24.0) > 17.0 {
            4.0 * (((h % 24.0) - 17.0) / 4.0).min(1.0)
        } else {
            4.0 * (-(h % 24.0) / 3.0).exp()
        }
    };
    let colder = move |h: f64| hall(h - 0.7) - 1.0;
    let told = Told::of(&home(
        BARE,
        16 * 24,
        &[("nave", "other", "yes", &hall), ("aisle", "other", "yes", &colder)],
    ));
    for finding in told.findings.iter().filter(|f| f["rule"] == "slow-recovery") {
        assert!(!finding["next_step"].as_str().unwrap().contains("heat pump"), "{finding:#}");
        assert_ne!(finding["severity"], "act", "nobody told of a setback");
    }
    assert!(!told.stdout.contains("heat pump"), "{}", told.stdout);
    // One fall is none.
    let once =
        |h: f64| if (100.0..140.0).contains(&h) { 14.0 + ((h - 110.0).abs() / 5.0).min(4.0) } else { 18.0 };
    let told =
        Told::of(&home(BARE, 16 * 24, &[("nave", "other", "yes", &once), ("aisle", "other", "yes", &once)]));
    assert!(!told.stdout.contains("slow-recovery"), "{}", told.stdout);
}

#[test]
fn a_room_that_may_be_in_the_wrong_unit_is_not_certain_to_freeze() {
    // 20 to 22 °C, taken for °F on the way.
    let twice = |h: f64| (21.0 + (h / 24.0 * std::f64::consts::TAU).sin() - 32.0) / 1.8;
    let told = Told::of(&home(SITE, 9 * 24, &[("living", "living", "yes", &twice)]));
    if let Some(found) = told.find("near-freezing", "living") {
        let shows = found["shows"].as_str().unwrap();
        assert_ne!(found["severity"], "urgent", "{shows}");
        assert!(shows.starts_with("Either the unit is wrong") && !shows.contains("certainly"), "{shows}");
        assert!(
            found["next_step"].as_str().unwrap().starts_with("find out first in which unit"),
            "{found:#}"
        );
        assert!(!shows.contains("It went there"), "{shows}");
    }
    for finding in told.findings.iter().filter(|f| f["rule"] == "room-cold") {
        assert_ne!(finding["severity"], "urgent", "{finding:#}");
    }
    // A room that freezes beside another that does too is cold; no sentence says that nothing of it is certain.
    let frost = |h: f64| {
        if h < 100.0 { 18.0 - h / 10.0 } else { -1.0 + (h / 24.0 * std::f64::consts::TAU).sin() * 0.8 }
    };
    let other = |h: f64| {
        if h < 100.0 { 17.0 - h / 10.0 } else { 1.0 + (h / 24.0 * std::f64::consts::TAU).sin() * 0.8 }
    };
    let told = Told::of(&home(
        SITE,
        9 * 24,
        &[("living", "living", "yes", &frost), ("bedroom", "bedroom", "yes", &other)],
    ));
    let found = told.find("near-freezing", "living").expect("it freezes");
    assert_eq!(found["severity"], "urgent");
    assert!(!found["shows"].as_str().unwrap().contains("certainly 0.0"), "{found:#}");
}

#[test]
fn bursts_of_nothing_are_no_frost_and_no_setback() {
    // Two hours of exactly 0.0 in each night.
    let failing = |h: f64| if (2.0..4.0).contains(&(h % 24.0)) { 0.0 } else { 21.0 };
    let rooms: &Rooms<'_> = &[
        ("living", "living", "yes", &failing),
        ("bedroom", "bedroom", "yes", &failing),
        ("hall", "hall", "no", &warm),
    ];
    let told = Told::of(&home(SITE, 9 * 24, rooms));
    for rule in [
        "near-freezing",
        "slow-recovery",
        "room-cold",
        "logger-elsewhere",
        "home-uneven",
        "out-of-range",
        "stuck",
        "spikes",
    ] {
        assert!(!told.rules().contains(&rule), "{rule}: {:#?}", told.findings);
    }
    let found = told.find("failure-value", "living").expect("a logger that writes 0.0 for nothing");
    let shows = found["shows"].as_str().unwrap();
    assert!(
        shows.contains("exactly 0.0 °C") && shows.contains("9 times") && shows.contains("left out"),
        "{shows}"
    );
    // A room that cools through 0 °C is one.
    let frost = |h: f64| 6.0 - 7.0 * (h / 30.0).sin().abs();
    let told = Told::of(&home(
        SITE,
        9 * 24,
        &[("living", "living", "yes", &frost), ("bedroom", "bedroom", "yes", &frost)],
    ));
    assert!(told.find("failure-value", "living").is_none() && told.find("near-freezing", "living").is_some());
}

#[test]
fn hours_of_coarse_loggers_say_that_they_lie_between_readings() {
    let cool = |h: f64| 19.6 + (h / 24.0 * std::f64::consts::TAU).sin();
    let small =
        home(SITE, 9 * 24, &[("living", "living", "yes", &cool), ("bedroom", "bedroom", "yes", &cool)]);
    let told = Told::of(&small);
    let shows =
        |told: &Told, room: &str| told.find("room-cold", room).unwrap()["shows"].as_str().unwrap().to_owned();
    assert!(!shows(&told, "living").contains("straight line"));
    small.write("exports/living.csv", &export(0, 9 * 24, 6, cool));
    let told = Told::of(&small);
    let said = "reads every 60 min";
    assert!(shows(&told, "living").contains(said), "{}", shows(&told, "living"));
    assert!(!shows(&told, "bedroom").contains("straight line"));
    let page = std::fs::read_to_string(small.out().join("report.html")).unwrap();
    let rooms = page.split("Rooms, ").nth(1).unwrap().split("Evenness, ").next().unwrap();
    assert!(rooms.contains(said), "beside the hours of the report, too");
}

#[test]
fn what_else_near_freezing_could_be_is_said_and_a_doubted_logger_is_not_urgent() {
    // Carried out into the frost to the end of the record, without a weather series.
    let out = |h: f64| if h < 150.0 { 21.0 } else { 1.0 };
    let rooms: &Rooms<'_> = &[
        ("living", "living", "yes", &out),
        ("bedroom", "bedroom", "yes", &warm),
        ("kitchen", "kitchen", "yes", &warm),
    ];
    let told = Told::of(&home(SITE, 8 * 24, rooms));
    let found = told.find("near-freezing", "living").expect("it is told");
    let shows = found["shows"].as_str().unwrap();
    assert_eq!(found["severity"], "watch", "{shows}");
    assert!(shows.contains("outdoors") && shows.contains("Settle first"), "{shows}");
    assert!(told.findings.iter().all(|f| f["severity"] != "urgent"), "{}", told.stdout);
    let cold = told.find("room-cold", "living").unwrap()["shows"].as_str().unwrap();
    assert!(!cold.contains("certainly"), "it rests on doubtful readings: {cold}");
}

#[test]
fn explain_answers_for_the_words_that_are_printed() {
    let folder = tempfile::tempdir().unwrap();
    for word in [
        "late mornings",
        "logger stuck",
        "cut off from the heat",
        "set too low",
        "setback",
        "lag",
        "spread",
        "step",
        "alignment",
        "max_gap",
        "seed",
        "compare",
        "colocation",
        "quorum",
        "margin",
    ] {
        let ran = run(folder.path(), &["explain", word]);
        assert!(ran.code == Some(0) && ran.stdout.len() > word.len() + 40, "{word}: {}", ran.stderr);
    }
    let once = run(folder.path(), &["explain", "no heat"]).stdout;
    assert_eq!(once.matches("case no-heat (").count(), 1, "{once}");
}

#[test]
fn a_shower_as_the_record_begins_is_no_hand() {
    let course = |level: f64| move |h: f64| level + 0.3 * (h / 24.0 * std::f64::consts::TAU).sin();
    let (living, bedroom, passage) = (course(21.0), course(20.5), course(20.8));
    let warm = |since: f64| if since >= 0.0 { 4.0 * (-since / 0.4).exp() } else { 0.0 };
    // Somebody showered just before, and does so every other evening; or nobody ever does, and it came from a warm hand.
    let showers = |h: f64| {
        let evenings: f64 = (0..7).map(|day| warm(h - 21.0 - 48.0 * f64::from(day))).sum();
        course(21.2)(h) + warm(h) + evenings
    };
    let hand = |h: f64| course(21.2)(h) + warm(h);
    let told = |bathroom: &dyn Fn(f64) -> f64| {
        let rooms: &Rooms<'_> = &[
            ("living", "living", "yes", &living),
            ("bedroom", "bedroom", "yes", &bedroom),
            ("bathroom", "bathroom", "no", bathroom),
            ("hall", "hall", "yes", &passage),
        ];
        Told::of(&home(SITE, 15 * 24, rooms)).rules().contains(&"logger-handled")
    };
    assert!(told(&hand));
    assert!(!told(&showers));
}
