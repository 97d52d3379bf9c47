//! Whether every logger records: each thing that a check tells, once where it is wrong and once where it is not.

use std::fmt::Write;
use std::fs;

use serde_json::Value;

use crate::program::{Ran, run, sample_folder};
use crate::small_site::{SITE, SmallSite, written_time};
use crate::unnoticed::{BOX, DAYS, ROOMS, ROSTER, export, in_a_box, in_a_room};

/// Four loggers, each of which does as told.
fn site_of(more: &str, degc: impl Fn(usize, f64) -> f64) -> SmallSite {
    let small = SmallSite::new(&format!("{SITE}{more}"), ROSTER);
    for (room, name) in ROOMS.iter().enumerate() {
        small.write(&format!("exports/{name}.csv"), &export(room, "temperature (°C)", |h| degc(room, h)));
    }
    small
}

/// Four loggers that record, but for what one of them does.
fn site_but(room: usize, degc: impl Fn(f64) -> f64) -> SmallSite {
    site_of("", |r, h| if r == room { degc(h) } else { in_a_room(r, h) })
}

fn healthy() -> SmallSite {
    site_of("", in_a_room)
}

fn check(small: &SmallSite, more: &[&str]) -> Ran {
    run(small.folder(), &[&["check", "site.toml"], more].concat())
}

fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// What a check says of a site: the exit code, and what is said in one line.
fn told(small: &SmallSite) -> (Option<i32>, String) {
    let ran = check(small, &[]);
    assert_eq!(ran.stderr, "");
    (ran.code, one_line(&ran.stdout))
}

fn json(small: &SmallSite) -> Value {
    serde_json::from_str(&check(small, &["--json"]).stdout).unwrap()
}

/// State of a room's first logger.
fn state_of(told: &Value, room: &str) -> String {
    let loggers = told["homes"].as_array().unwrap().iter().flat_map(|h| h["loggers"].as_array().unwrap());
    let own = loggers.into_iter().find(|l| l["room"] == room);
    own.unwrap()["state"].as_str().unwrap().to_owned()
}

/// Somebody must go to this room, and is told so in these words; all others record.
fn goes_to(small: &SmallSite, room: &str, words: &[&str]) {
    let (code, said) = told(small);
    assert_eq!(code, Some(3), "{said}");
    assert!(said.contains("3 of 4 loggers record") && said.contains("1A go "), "{said}");
    assert!(said.contains(&format!("Somebody must go: 1A {room}, logger ")), "{said}");
    words.iter().for_each(|word| assert!(said.contains(word), "no \"{word}\": {said}"));
    for other in ROOMS.iter().filter(|other| **other != room) {
        assert_eq!(state_of(&json(small), other), "runs", "{other}: {said}");
    }
}

/// Nobody must go; this room is to be looked at, in these words.
fn looks_at(small: &SmallSite, room: &str, words: &[&str]) {
    let (code, said) = told(small);
    assert_eq!(code, Some(0), "{said}");
    assert!(said.contains("4 of 4 loggers record") && said.contains("1A look "), "{said}");
    words.iter().for_each(|word| assert!(said.contains(word), "no \"{word}\": {said}"));
    assert_eq!(state_of(&json(small), room), "look");
}

#[test]
fn loggers_that_record_send_nobody() {
    let small = healthy();
    let (code, said) = told(&small);
    assert_eq!(code, Some(0));
    assert_eq!(
        said,
        "Alder Row: 4 of 4 loggers record, 0 to go to; 4 of 4 files there; newest reading 2026-01-19 23:50 (America/Chicago) all record: 1A"
    );
    let all = json(&small);
    assert_eq!((all["runs"].as_u64(), all["somebody_must_go"].as_bool()), (Some(4), Some(false)));
    let logger = &all["homes"][0]["loggers"][3];
    assert_eq!(
        (logger["room"].as_str(), logger["readings"].as_u64(), logger["last_utc"].as_str()),
        (Some("hall"), Some(DAYS as u64 * 144), Some("2026-01-20T05:50:00Z"))
    );
    let details = one_line(&check(&small, &["--details"]).stdout);
    assert!(
        details.contains("runs hall, logger L-4: 2026-01-05 00:00 to 2026-01-19 23:50, 0.0 h before the newest; 2160 readings, 100.0 % of those expected, longest gap 0.2 h; placed all the time; hall.csv."),
        "{details}"
    );
}

#[test]
fn nothing_is_said_of_how_warm_it_is() {
    let cold = site_of("", |room, h| in_a_room(room, h) - 12.0);
    assert_eq!(told(&cold), told(&healthy()));
}

#[test]
fn a_file_that_is_missing_is_told() {
    let small = healthy();
    small.remove("exports/study.csv");
    goes_to(
        &small,
        "study",
        &["3 of 4 files there", "no file. study.csv is not in the folder", "Bring: cable of the logger"],
    );
}

#[test]
fn a_file_that_cannot_be_read_never_runs() {
    let small = healthy();
    small.write("exports/study.csv", b"this is\nno export\nof a logger\n");
    goes_to(&small, "study", &["4 of 4 files there", "cannot be read"]);
}

#[test]
fn a_file_without_a_reading_never_runs() {
    let small = healthy();
    small.write("exports/study.csv", b"time,temperature (\xc2\xb0C)\n");
    goes_to(&small, "study", &[]);
}

#[test]
fn no_export_at_all_is_an_error() {
    let small = healthy();
    ROOMS.iter().for_each(|name| small.remove(&format!("exports/{name}.csv")));
    let ran = check(&small, &[]);
    assert_eq!((ran.code, ran.stdout.as_str()), (Some(2), ""));
    assert!(ran.stderr.contains("none of the roster's exports is there"), "{}", ran.stderr);
}

#[test]
fn a_logger_that_stopped_is_told_with_its_last_reading() {
    // The last reading before 5 days are over is that of 23:50; 10 days are left.
    let small = site_but(2, |h| if h < 120.0 { in_a_room(2, h) } else { f64::NAN });
    goes_to(
        &small,
        "study",
        &[
            "study: stopped",
            "Its last reading is of 2026-01-09 23:50, 10.0 days before the end of the others.",
            "battery",
        ],
    );
    let little = site_but(2, |h| if h < 355.0 { in_a_room(2, h) } else { f64::NAN });
    assert_eq!(told(&little).0, Some(0), "five hours are no stop");
}

#[test]
fn loggers_that_stopped_one_after_the_other_do_not_hide_each_other() {
    let small = site_of("", |room, h| {
        let last = [360.0, 200.0, 90.0, 140.0][room];
        if h < last { in_a_room(room, h) } else { f64::NAN }
    });
    let (code, said) = told(&small);
    assert!(code == Some(3) && said.contains("1 of 4 loggers record, 3 to go to"), "{said}");
    assert!(said.contains("newest reading 2026-01-19 23:50"), "{said}");
    let gone = said.matches("days before the end of the others").count();
    assert_eq!(gone, 3, "{said}");
}

#[test]
fn a_record_of_another_year_makes_none_of_the_others_stop() {
    let small = healthy();
    let own = fs::read_to_string(small.folder().join("exports/study.csv")).unwrap();
    small.write("exports/study.csv", own.replace("2026-", "2027-").as_bytes());
    let (_, said) = told(&small);
    goes_to(
        &small,
        "study",
        &["study: another time", "Its record is of 2027-01-05 00:00 to 2027-01-19 23:50"],
    );
    assert!(!said.contains("stopped") && !said.contains("clock in doubt"), "{said}");
    assert!(said.contains("newest reading 2026-01-19 23:50"), "{said}");
}

#[test]
fn side_by_side_in_the_middle_of_a_record_is_no_gap() {
    let from_day = |h: f64| (144.0..240.0).contains(&h);
    let small = site_of("[colocation]\nfrom = \"2026-01-11\"\nto = \"2026-01-14\"\n", |room, h| {
        if from_day(h) { in_a_box(h) } else { in_a_room(room, h) + room as f64 }
    });
    let (code, said) = told(&small);
    assert!(code == Some(0) && said.contains("all record: 1A"), "{said}");
}

#[test]
fn a_logger_that_the_roster_took_away_did_not_stop() {
    let small = site_but(2, |h| if h < 120.0 { in_a_room(2, h) } else { f64::NAN });
    let row = "study,other,yes,L-3,study.csv";
    let roster = ROSTER.replace("logger,file\n", "logger,file,to\n").replace(".csv\n", ".csv,\n");
    small.write("roster.csv", roster.replace(&format!("{row},"), &format!("{row},2026-01-09")).as_bytes());
    let (code, said) = told(&small);
    let ended = said.contains("3 of 3 loggers record (1 more ended as the roster says), 0 to go to");
    assert!(code == Some(0) && ended, "{said}");
    assert_eq!(state_of(&json(&small), "study"), "ended");
}

#[test]
fn a_logger_that_began_late_is_told() {
    let small = site_but(1, |h| if h > 60.0 { in_a_room(1, h) } else { f64::NAN });
    looks_at(&small, "bedroom", &["bedroom: began late"]);
    let (_, said) = told(&small);
    assert!(
        said.contains("Its first reading is of 2026-01-07 12:10, 2.5 days after those of the home"),
        "{said}"
    );
}

#[test]
fn a_logger_that_fades_is_told() {
    // Whole for two thirds, then every tenth reading.
    let fading = |h: f64| {
        let n = (h * 6.0).round() as usize;
        if h < 240.0 || n.is_multiple_of(10) { in_a_room(0, h) } else { f64::NAN }
    };
    goes_to(&site_but(0, fading), "living", &["living: logger fading", "Bring: battery"]);
}

#[test]
fn gaps_are_told_by_how_many_readings_are_left() {
    let every = |of: usize| {
        move |h: f64| if ((h * 6.0).round() as usize).is_multiple_of(of) { f64::NAN } else { in_a_room(0, h) }
    };
    goes_to(&site_but(0, every(3)), "living", &["living: gaps", "67 % of the readings"]);
    looks_at(&site_but(0, every(7)), "living", &["living: gaps", "86 % of the readings"]);
    assert_eq!(told(&site_but(0, every(30))).0, Some(0));
}

#[test]
fn one_value_for_long_sends_somebody_while_it_goes_on() {
    let stuck = |from: f64, to: f64| {
        let small = healthy();
        let mut text = "time,temperature (°C)\n".to_owned();
        for n in 0..DAYS * 144 {
            let h = n as f64 / 6.0;
            let life = 0.05 * (h * 4.2 + 1.3).sin();
            let degc = if (from..to).contains(&h) { 21.37 } else { in_a_room(1, h) + life };
            writeln!(text, "{},{degc:.2}", written_time(n)).unwrap();
        }
        small.write("exports/bedroom.csv", text.as_bytes());
        small
    };
    goes_to(&stuck(250.0, 400.0), "bedroom", &["bedroom: logger stuck", "21.4 °C"]);
    looks_at(&stuck(50.0, 200.0), "bedroom", &["bedroom: logger stuck"]);
}

#[test]
fn a_unit_in_doubt_is_told_and_sends_nobody() {
    let small = site_but(3, |h| in_a_room(3, h) * 1.8 + 32.0);
    looks_at(&small, "hall", &["hall: °C or °F in doubt", "`unit`"]);
}

#[test]
fn loggers_in_one_box_are_told() {
    let apart = |room: usize, h: f64| in_a_room(room, h) + 1.2 * room as f64;
    let small = site_of("", |room, h| if h < 20.0 { in_a_box(h) } else { apart(room, h) });
    let (code, said) = told(&small);
    assert_eq!(code, Some(0));
    assert!(said.contains("1A look 4 of 4 record; loggers together"), "{said}");
    // Where the site file says so there is nothing to tell.
    let known = site_of(BOX, |room, h| if h < 24.0 { in_a_box(h) } else { in_a_room(room, h) });
    assert!(told(&known).1.contains("all record: 1A"), "{}", told(&known).1);
}

#[test]
fn one_series_in_two_rooms_is_told_of_both() {
    let small = healthy();
    let copy = fs::read(small.folder().join("exports/living.csv")).unwrap();
    small.write("exports/study.csv", &copy);
    let (code, said) = told(&small);
    assert_eq!(code, Some(3), "{said}");
    assert!(said.contains("1A go 2 of 4 record; living: records alike, study: records alike"), "{said}");
}

/// Four records from 25 February to 19 March, over the change of clocks on 8 March 2026, of one logger that does as told:
/// minutes of its clock beside civil time at each hour.
fn over_the_change(beside_min: impl Fn(f64) -> i64) -> SmallSite {
    let small = healthy();
    for (room, name) in ROOMS.iter().enumerate() {
        let mut text = "time,temperature (°C)\n".to_owned();
        for n in 0..22 * 144_i64 {
            let h = n as f64 / 6.0;
            // Civil time of Chicago: from 8 March 02:00 on an hour ahead.
            let change = if h >= 266.0 { 60 } else { 0 };
            let minutes = n * 10 + change + if room == 2 { beside_min(h) } else { 0 };
            let (day, minute) = (minutes.div_euclid(1440) + 25, minutes.rem_euclid(1440));
            let (month, day) = if day > 28 { (3, day - 28) } else { (2, day) };
            let degc =
                in_a_room(room, h) + 0.05 * (h * 4.2 + (h * 0.11).sin() * room as f64 + room as f64).sin();
            writeln!(text, "2026-{month:02}-{day:02} {:02}:{:02},{degc:.2}", minute / 60, minute % 60)
                .unwrap();
        }
        small.write(&format!("exports/{name}.csv"), text.as_bytes());
    }
    small
}

#[test]
fn a_clock_whole_hours_beside_the_others_is_told() {
    assert_eq!(told(&over_the_change(|_| 0)).0, Some(0), "all clocks as they should be");
    goes_to(
        &over_the_change(|_| 120),
        "study",
        &["study: clock in doubt", "come 2 h later", "begins and ends so much apart from theirs", "`clock`"],
    );
}

#[test]
fn a_clock_that_did_not_follow_the_change_is_told() {
    let kept = over_the_change(|h| if h >= 266.0 { -60 } else { 0 });
    goes_to(&kept, "study", &["study: clock in doubt", "come 1 h earlier", "ends so much apart from theirs"]);
}

const TWO_HOMES: &str = "\
home,room,use,heated,logger,file
1A,living,living,yes,L-1,living.csv
1A,bedroom,bedroom,yes,L-2,bedroom.csv
1B,study,other,yes,L-3,study.csv
1B,hall,hall,yes,L-4,hall.csv
1B,bathroom,bathroom,no,,
";

#[test]
fn a_home_of_which_nothing_new_is_there_is_told() {
    let small = site_of("", |room, h| if room < 2 || h < 200.0 { in_a_room(room, h) } else { f64::NAN });
    small.write("roster.csv", TWO_HOMES.as_bytes());
    let (code, said) = told(&small);
    assert_eq!(code, Some(3), "{said}");
    assert!(said.contains("1B go 0 of 2 record; nothing new all record: 1A"), "{said}");
    assert!(
        said.contains("1B: nothing new. The record of 1B ends on 2026-01-13 07:50, 6.7 days before"),
        "{said}"
    );
    let details = one_line(&check(&small, &["--details"]).stdout);
    assert!(details.contains("– bathroom: the roster names no logger"), "{details}");
}

#[test]
fn a_building_that_stopped_together_is_told_where_it_is_said_when_it_was_read_out() {
    let small = healthy();
    let at = |when: &str| {
        let ran = check(&small, &["--read-out", when]);
        (ran.code, one_line(&ran.stdout), ran.stderr)
    };
    // The last reading is of 2026-01-19 23:50.
    let (code, said, _) = at("2026-01-20 04:00");
    assert!(code == Some(0) && said.contains("4 of 4 loggers record"), "{said}");
    let (code, said, _) = at("2026-01-24 16:00");
    assert!(code == Some(3) && said.contains("0 of 4 loggers record, 4 to go to"), "{said}");
    assert!(said.contains("ends on 2026-01-19 23:50, 4.7 days before it was read out"), "{said}");
    assert!(said.contains("newest reading 2026-01-19 23:50, read out 2026-01-24 16:00"), "{said}");
    let (code, _, wrong) = at("soon");
    assert!(code == Some(2) && wrong.contains("--read-out"), "{wrong}");
}

#[test]
fn a_logger_without_a_file_in_the_roster_never_runs_and_stops_nobody_else() {
    let small = healthy();
    small.write("roster.csv", ROSTER.replace("L-3,study.csv", "L-3,").as_bytes());
    goes_to(&small, "study", &["no file. The roster names no file for it"]);
}

#[test]
fn a_second_download_that_is_missing_sends_nobody_where_the_first_goes_on() {
    let small = healthy();
    let more = "1A,study,other,yes,L-3,study-2.csv\n";
    small.write("roster.csv", format!("{ROSTER}{more}").as_bytes());
    let (code, said) = told(&small);
    assert_eq!(code, Some(1), "not all was read: {said}");
    assert!(
        said.contains("4 of 4 loggers record (1 to look at)") && said.contains("study: a file is missing"),
        "{said}"
    );
    assert!(said.contains("go to the end of the others' records"), "{said}");
    let half = site_but(2, |h| if h < 120.0 { in_a_room(2, h) } else { f64::NAN });
    half.write("roster.csv", format!("{ROSTER}{more}").as_bytes());
    goes_to(&half, "study", &["nobody knows that it records"]);
}

#[test]
fn failure_values_are_no_matter_of_the_battery() {
    let fails = |h: f64| if (100.0..360.0).contains(&h) { -127.0 } else { in_a_room(1, h) };
    let small = site_but(1, fails);
    let (_, said) = told(&small);
    assert!(said.contains("bedroom") && !said.contains("change the battery"), "{said}");
}

#[test]
fn files_that_no_row_names_are_told() {
    let small = healthy();
    small.write("exports/more.csv", &export(7, "temperature (°C)", |h| in_a_room(7, h)));
    let (code, said) = told(&small);
    assert_eq!(code, Some(0));
    assert!(said.contains("the roster does not name 1 of the files: more.csv"), "{said}");
}

#[test]
fn side_by_side_dates_that_cannot_be_stop_nothing() {
    let small = site_of("[colocation]\nfrom = \"2026-01-10\"\nto = \"2026-01-11\"\n", in_a_room);
    assert_eq!(small.audit().code, Some(2), "an audit stops there");
    let (code, said) = told(&small);
    assert_eq!(code, Some(0), "{said}");
    assert!(said.contains("4 of 4 loggers record") && said.contains("[colocation]"), "{said}");
}

#[test]
fn the_page_has_every_logger_and_what_to_do() {
    let out = tempfile::tempdir().unwrap();
    let ran = run(&sample_folder(), &["check", "site.toml", "--out", out.path().to_str().unwrap()]);
    assert_eq!(ran.code, Some(3), "{}", ran.stderr);
    let page = fs::read_to_string(out.path().join("check.html")).unwrap();
    let roster = fs::read_to_string(sample_folder().join("roster.csv")).unwrap();
    for row in roster.lines().skip(1) {
        let cells: Vec<&str> = row.split(',').collect();
        let row = format!("<td class=\"text\">{}</td><td class=\"text\">{}</td>", cells[1], cells[4]);
        assert!(page.contains(&format!("scope=\"rowgroup\">{}</th>", cells[0])), "{}", cells[0]);
        assert!(page.contains(&row), "{row}");
    }
    // What came of the side-by-side time is told, though it was before the record.
    assert!(page.contains("Logger L-131 in living did not run with the others side by side"));
    assert!(page.contains("hall, logger L-166") && page.contains("class=\"tick\""));
    assert!(
        !page.contains("<script") && !page.contains("http:") && !page.contains("https:"),
        "one file that asks for nothing"
    );
    let again = run(&sample_folder(), &["check", "site.toml", "--out", out.path().to_str().unwrap()]);
    assert_eq!(again.code, Some(3), "the page is replaced: {}", again.stderr);
    assert_eq!(page, fs::read_to_string(out.path().join("check.html")).unwrap());
}

#[test]
fn names_cannot_break_the_page() {
    let small = healthy();
    let evil = "<script>alert(1)</script>\u{202e}";
    small.write("roster.csv", ROSTER.replace("L-3", evil).replace("1A,", "\"<b>1A\",").as_bytes());
    small.remove("exports/study.csv");
    let ran = check(&small, &["--out", "out"]);
    assert_eq!(ran.code, Some(3), "{}", ran.stderr);
    let page = fs::read_to_string(small.out().join("check.html")).unwrap();
    assert!(!page.contains("<script>") && !page.contains("<b>1A") && !page.contains('\u{202e}'));
    assert!(page.contains("&lt;script&gt;alert(1)&lt;/script&gt;\\u{202e}"));
    assert!(!ran.stdout.contains('\u{202e}'));
}
