//! What somebody met who tried the program on folders of other people's exports: each was told wrongly, or not at all.

use std::fmt::Write;
use std::fs;

use chrono::{Days, NaiveDate};
use serde_json::Value;

use crate::drafting_any::Folder;
use crate::program::{Ran, run};
use crate::small_site::{HEAT_RULE, SITE, SmallSite, short_site, written_time};
use crate::unnoticed::{ROOMS, ROSTER, boxed, done, export, in_a_box, in_a_room, not_judged};

/// Readings every ten minutes, each logger with a little life of its own.
fn rows(room: usize, count: usize, time: impl Fn(usize) -> String, degc: impl Fn(f64) -> f64) -> String {
    let life = |h: f64| 0.05 * (h * 4.2 + (h * 0.11).sin() * room as f64 + room as f64).sin();
    let mut text = "time,temperature (°C)\n".to_owned();
    for n in 0..count {
        let h = n as f64 / 6.0;
        writeln!(text, "{},{:.2}", time(n), degc(h) + life(h)).unwrap();
    }
    text
}

/// Four loggers of fifteen days.
fn four(site: &str, degc: impl Fn(usize, f64) -> f64) -> SmallSite {
    let small = SmallSite::new(site, ROSTER);
    for (room, name) in ROOMS.iter().enumerate() {
        small.write(&format!("exports/{name}.csv"), &export(room, "temperature (°C)", |h| degc(room, h)));
    }
    small
}

fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn cases(small: &SmallSite) -> Vec<Value> {
    serde_json::from_slice(&fs::read(small.out().join("cases.json")).unwrap()).unwrap()
}

fn kinds(small: &SmallSite) -> Vec<String> {
    cases(small).iter().map(|case| case["kind"].as_str().unwrap().to_owned()).collect()
}

fn details(small: &SmallSite, more: &[&str]) -> Ran {
    let ran = run(small.folder(), &[&["audit", "site.toml", "--out", "out", "--details"], more].concat());
    assert_eq!(ran.code, Some(0), "{}", ran.stderr);
    Ran { stdout: one_line(&ran.stdout), ..ran }
}

/// Nobody asks for a band.
fn without_band() -> &'static str {
    SITE.split("[band]").next().unwrap()
}

/// Rooms that are warm enough, and further apart than rooms should be.
fn apart(room: usize, h: f64) -> f64 {
    in_a_room(room, h) + [0.0, 2.5, 0.0, -3.2][room]
}

/// In a box for the last three days of fifteen, in rooms of their own before.
fn boxed_at_the_end(room: usize, h: f64) -> f64 {
    if h >= 12.0 * 24.0 { in_a_box(h) - 1.0 } else { apart(room, h) }
}

#[test]
fn a_drafted_box_at_the_end_left_a_reading_behind() {
    // Two loggers are read out a little after the others.
    let text =
        |room: usize| rows(room, 2158 + [0, 0, 1, 2][room], written_time, |h| boxed_at_the_end(room, h));
    let texts: Vec<(String, String)> =
        ROOMS.iter().enumerate().map(|(room, name)| (format!("1A/{name}.csv"), text(room))).collect();
    let files: Vec<(&str, &str)> = texts.iter().map(|(name, text)| (name.as_str(), text.as_str())).collect();
    let folder = Folder::new(&files);
    let ran = folder.draft();
    assert_eq!(ran.code, Some(0), "{}", ran.stderr);
    let site = folder.site();
    // The last reading of all is of 23:50.
    assert!(site.contains("# to = \"2026-01-19 23:55\""), "{site}");
    folder.decide_and_audit(&[("heated", "yes")]);
    let told = fs::read_to_string(folder.path("site/out/findings.csv")).unwrap();
    assert!(told.contains("to 2026-01-19 23:55)"), "an audit tells the same span: {told}");
}

#[test]
fn what_goes_on_was_over_once_a_side_by_side_time_at_the_end_was_named() {
    let small = four(without_band(), boxed_at_the_end);
    done(&small);
    assert!(kinds(&small).contains(&"uneven".to_owned()), "{:?}", kinds(&small));
    fs::rename(small.out(), small.folder().join("first")).unwrap();
    // A reading or two stay behind it, as where somebody wrote it by hand.
    let check = "[colocation]\nfrom = \"2026-01-17 00:00\"\nto = \"2026-01-19 23:35\"\n";
    small.write("site.toml", format!("{}{check}", without_band()).as_bytes());
    let said = details(&small, &["--since", "first"]).stdout;
    let uneven: Vec<Value> = cases(&small).into_iter().filter(|c| c["kind"] == "uneven").collect();
    assert!(uneven.iter().any(|case| case["course"] == "goes on"), "{said}");
    assert!(uneven.iter().all(|case| case["since"] != "over"), "{said}");
    // One lies above the others, and one below: what is true of one is not said of both.
    assert!(!said.contains("Bedroom and hall 2.7 K above"), "{said}");
}

#[test]
fn a_complaint_about_a_time_without_a_reading_was_told_that_nothing_is_missing() {
    for more in ["", HEAT_RULE] {
        let small = four(&format!("{SITE}{more}"), in_a_room);
        let study = rows(2, 500, |n| written_time(n + 1200), |h| in_a_room(2, h));
        small.write("exports/study.csv", study.as_bytes());
        let asked = |from: &str, to: &str| {
            let args = ["complaint", "site.toml", "--home", "1A", "--out", "out", "--from", from, "--to", to];
            let ran = run(small.folder(), &args);
            assert_eq!(ran.code, Some(0), "{}", ran.stderr);
            assert!(!ran.stderr.contains("no period holds"), "{}", ran.stderr);
            let name = ran.stdout.split_whitespace().find(|word| word.ends_with(".html")).unwrap();
            (one_line(&ran.stdout), fs::read_to_string(small.folder().join(name)).unwrap())
        };
        let (said, sheet) = asked("2025-12-20", "2025-12-21");
        assert!(!sheet.contains("Nothing is missing"), "{said}");
        assert!(sheet.contains("No room has a usable reading in this time"), "{said}");
        assert!(sheet.contains("run from 2026-01-05 00:00"), "when they begin is told: {said}");
        let (said, sheet) = asked("2026-01-07", "2026-01-08");
        assert!(!sheet.contains("Nothing is missing"), "{said}");
        assert!(sheet.contains("Not recorded yet: study (from 2026-01-13 08:00 on)"), "{said}");
    }
}

#[test]
fn years_were_left_out_where_a_record_crosses_them() {
    let small = SmallSite::new(&short_site(), crate::small_site::ROSTER);
    let first = NaiveDate::from_ymd_opt(2025, 12, 20).unwrap();
    let time = |n: usize| {
        let day = first.checked_add_days(Days::new(n as u64 / 144)).unwrap();
        format!("{day} {:02}:{:02}:00", n % 144 / 6, n % 6 * 10)
    };
    for (room, name) in ["living", "bedroom"].iter().enumerate() {
        // Ten days cold, and warm since.
        let degc = |h: f64| if room == 0 && h < 240.0 { 17.0 } else { in_a_room(room, h) };
        small.write(&format!("exports/{name}.csv"), rows(room, 144 * 21, time, degc).as_bytes());
    }
    done(&small);
    let told: Vec<String> =
        cases(&small).iter().map(|case| case["sentence"].as_str().unwrap().to_owned()).collect();
    assert!(told.iter().any(|sentence| sentence.contains(" Dec 2025")), "{told:?}");
    let report = fs::read_to_string(small.out().join("report.html")).unwrap();
    assert!(report.contains("Judged: 20 Dec 2025 – 9 Jan 2026"), "the heading");
    assert!(report.contains("Sat 20 Dec 2025") && report.contains("Fri 9 Jan 2026"), "tables of days");
}

#[test]
fn a_logger_of_an_unknown_place_became_the_room_of_its_folder() {
    let text = |room: usize| rows(room, 400, written_time, |h| in_a_room(room, h) + room as f64);
    let texts: Vec<String> = (0..4).map(text).collect();
    let names =
        ["hall_b/balcony left.csv", "hall_b/organ.csv", "hall_b/unknown_location.csv", "hall_c/crypt.csv"];
    let files: Vec<(&str, &String)> = names.into_iter().zip(&texts).collect();
    let folder = Folder::new(&files);
    let ran = folder.draft();
    let roster = folder.roster();
    let row = roster.iter().find(|row| row["file"] == names[2]).unwrap();
    assert_eq!((row["home"].as_str(), row["room"].as_str()), ("hall_b", "decide"), "{}", ran.stdout);
    assert!(ran.stdout.contains("decide: room"), "{}", ran.stdout);
    // A folder that is a room still is one.
    let folder = Folder::new(&[("1A/kitchen/spare.csv", &texts[0]), ("1A/hall/2044.csv", &texts[1])]);
    folder.draft();
    let rooms: Vec<String> = folder.roster().iter().map(|row| row["room"].clone()).collect();
    assert_eq!(rooms, ["hall", "kitchen"]);
}

/// Rooms that warm up and cool together; the fifth logger writes UTC, and was started twenty minutes after the others.
fn beside_one_in_utc(zone: &str) -> SmallSite {
    let roster = format!("{ROSTER}1A,attic,other,no,L-5,attic.csv\n");
    let small = SmallSite::new(&SITE.replace("America/Chicago", zone), &roster);
    let course = |h: f64| in_a_box(h) + 0.8 * (h / 1.7).sin() * (h / 37.0).cos();
    for (room, name) in ROOMS.iter().enumerate() {
        let text = rows(room, 2000, written_time, |h| course(h) + room as f64 * 0.3);
        small.write(&format!("exports/{name}.csv"), text.as_bytes());
    }
    let time = |n: usize| written_time(n + 2).replace(' ', "T") + "Z";
    let attic = rows(4, 1998, time, |h| course(h + 1.0 / 3.0) - 1.0);
    small.write("exports/attic.csv", attic.as_bytes());
    small
}

#[test]
fn a_wrong_time_zone_was_taken_though_an_export_that_states_its_clock_contradicts_it() {
    let wrong = beside_one_in_utc("America/Chicago");
    let said = details(&wrong, &[]).stdout;
    assert!(said.contains("time_zone = \"America/Chicago\" of the site file: that may be"), "{said}");
    let checked = one_line(&run(wrong.folder(), &["check", "site.toml"]).stdout);
    assert!(checked.contains("`time_zone`") && !checked.contains("change its battery"), "{checked}");
    let right = beside_one_in_utc("Europe/London");
    let said = details(&right, &[]).stdout;
    assert!(!said.contains("time_zone = ") && !said.contains("Clock in doubt"), "{said}");
}

#[test]
fn rooms_of_unknown_heating_were_left_out_of_the_look_for_outages_in_silence() {
    let small = boxed("", [0.0; 4]);
    small.write("roster.csv", ROSTER.replace("living,living,yes", "living,living,unknown").as_bytes());
    done(&small);
    let open = not_judged(&small);
    let of_rule = |rule: &str| open.iter().any(|[r, why]| r == rule && why.contains("`heated`"));
    assert!(of_rule("no-heat-in-room"), "{open:?}");
    let said = run(small.folder(), &["explain", "heated"]).stdout;
    assert!(said.contains("times without heat are not judged"), "{said}");
    let report = fs::read_to_string(small.out().join("report.html")).unwrap();
    assert!(report.contains("dashed: not heated, or not known"), "pictures");
}

#[test]
fn the_share_of_the_worst_room_was_told_of_all() {
    let setback =
        "[[setback]]\ndays = \"mon-sun\"\nfrom = \"22:00\"\nto = \"06:00\"\noccupied_target = \"21 °C\"\n";
    let night_band = "night = { from = \"22:00\", to = \"12:00\", lower = \"17 °C\", upper = \"24 °C\" }\n";
    let small = SmallSite::new(&format!("{SITE}{night_band}{setback}"), crate::small_site::ROSTER);
    let night = |warm_in: f64| {
        move |h: f64| match h % 24.0 {
            hour if hour >= 22.0 => 21.5 - 1.5 * (hour - 22.0),
            hour if hour < 6.0 => 18.5,
            hour => (18.5 + 3.0 * (hour - 6.0) / warm_in).min(21.5),
        }
    };
    for (room, name) in ["living", "bedroom"].iter().enumerate() {
        // The one is late on each morning, the other on one of four.
        let late = |h: f64| room == 0 || (h / 24.0) as usize % 4 == 1;
        let degc = |h: f64| if late(h) { night(5.0)(h) } else { night(0.5)(h) };
        small.write(&format!("exports/{name}.csv"), rows(room, 144 * 16, written_time, degc).as_bytes());
    }
    done(&small);
    let slow = cases(&small).into_iter().find(|c| c["kind"] == "slow-to-return").unwrap();
    let sentence = slow["sentence"].as_str().unwrap();
    assert!(sentence.starts_with("Living and bedroom") && sentence.contains("(up to "), "{sentence}");
}

#[test]
fn a_cold_box_was_told_as_a_home_without_heat() {
    let degc = |room: usize, h: f64| if h < 20.0 { in_a_box(h) - 10.0 } else { apart(room, h) };
    let small = four(without_band(), degc);
    let said = details(&small, &[]).stdout;
    let kinds = kinds(&small);
    assert!(kinds.contains(&"together".to_owned()), "{said}");
    assert!(!kinds.contains(&"no-heat".to_owned()), "{said}");
    // What speaks against a case about several rooms names them, or when it was.
    assert!(said.contains("against it: loggers together, 5 Jan"), "{said}");
    assert!(!said.contains("records alike") && !said.contains("correct the roster"), "{said}");
}

#[test]
fn a_side_by_side_check_was_asked_for_once_more_after_it_was_done() {
    let undecided = |more: &str| details(&boxed(more, [0.0, 0.0, 0.0, 2.0]), &[]).stdout;
    let open = undecided("");
    assert!(open.contains("do a side-by-side check"), "{open}");
    let small = four(&format!("{SITE}{}", crate::unnoticed::BOX), |room, h| match room {
        _ if h < 24.0 => in_a_box(h),
        3 => in_a_room(room, h) + 2.0,
        _ => in_a_room(room, h),
    });
    let done = details(&small, &[]).stdout;
    assert!(done.contains("not surely inside"), "{done}");
    assert!(!done.contains("side-by-side check"), "{done}");
}

#[test]
fn a_period_was_advised_and_explained_nowhere() {
    let small = SmallSite::new(SITE, ROSTER);
    for name in ["[[period]]", "period"] {
        let said = run(small.folder(), &["explain", name]);
        assert!(said.stdout.contains("name, and from and to"), "{}{}", said.stdout, said.stderr);
    }
    let text = rows(0, 300, written_time, |h| in_a_room(0, h));
    let folder = Folder::new(&[("1A/living.csv", &text)]);
    folder.draft();
    let (_, block) =
        folder.site().split_once("# [[period]]\n").map(|(a, b)| (a.to_owned(), b.to_owned())).unwrap();
    // Uncommented it is one.
    let lines: String =
        block.lines().take(3).map(|line| line.trim_start_matches("# ").to_owned() + "\n").collect();
    small.write("site.toml", format!("{SITE}[[period]]\n{lines}").as_bytes());
    small.write("roster.csv", crate::small_site::ROSTER.as_bytes());
    assert_eq!(small.audit().code, Some(0), "{lines}");
}

#[test]
fn naming_a_period_was_advised_to_whoever_had_named_one() {
    let period = "[[period]]\nname = \"start\"\nfrom = \"2026-01-05\"\nto = \"2026-01-12\"\n";
    let seen = |more: &str| {
        let late = |room: usize, h: f64| if room >= 2 && h < 240.0 { f64::NAN } else { in_a_room(room, h) };
        let small = four(&format!("{SITE}{more}"), late);
        done(&small);
        let open = not_judged(&small);
        open.into_iter().find(|[rule, _]| rule == "home-uneven").map(|[_, why]| why).unwrap_or_default()
    };
    let told = seen(period);
    assert!(told.contains("set `quorum` of [spread] to 2") && !told.contains("[[period]]"), "{told}");
}

#[test]
fn a_record_of_another_time_was_told_as_a_clock_to_compare_with_a_watch() {
    let small = four(SITE, in_a_room);
    let old = rows(3, 1500, |n| written_time(n).replace("2026-", "2025-"), |h| in_a_room(3, h));
    small.write("exports/hall.csv", old.as_bytes());
    let said = details(&small, &[]).stdout;
    assert!(kinds(&small).contains(&"other-time".to_owned()), "{said}");
    assert!(said.contains("out of the roster") && !said.contains("watch, cable"), "{said}");
}

#[test]
fn a_renamed_room_was_told_as_new_and_as_lost_without_a_word() {
    let small = SmallSite::new(SITE, crate::small_site::ROSTER);
    for (room, name) in ["living", "bedroom"].iter().enumerate() {
        let degc = |h: f64| if room == 0 { 17.0 } else { in_a_room(room, h) };
        small.write(&format!("exports/{name}.csv"), rows(room, 2160, written_time, degc).as_bytes());
    }
    done(&small);
    fs::create_dir(small.folder().join("first")).unwrap();
    fs::rename(small.out(), small.folder().join("first/audit")).unwrap();
    let renamed = crate::small_site::ROSTER.replace("1A,living", "1A,lving");
    small.write("roster.csv", renamed.as_bytes());
    let ran = details(&small, &["--since", "first/audit"]);
    let said = one_line(&ran.stderr);
    assert!(said.contains("in the roster no more: 1A living") && said.contains("renamed"), "{said}");
    // The folder above the results is told.
    let args = ["audit", "site.toml", "--out", "out", "--since", "first"];
    let ran = run(small.folder(), &args);
    assert_eq!(ran.code, Some(2));
    assert!(ran.stderr.contains("hint: --since first/audit"), "{}", ran.stderr);
}

#[test]
fn one_missing_file_kept_inspect_from_telling_of_the_others() {
    let text = rows(0, 300, written_time, |h| in_a_room(0, h));
    let folder = Folder::new(&[("living.csv", &text)]);
    let ran = run(&folder.path("exports"), &["inspect", "gone.csv", "living.csv"]);
    assert_eq!(ran.code, Some(1), "{}", ran.stderr);
    assert!(ran.stdout.contains("gone.csv\n  not understood: "), "{}", ran.stdout);
    assert!(ran.stdout.contains("living.csv\n  text "), "{}", ran.stdout);
}

#[test]
fn loggers_that_were_collected_together_were_to_get_new_batteries() {
    // The fourth stays on for four days.
    let small =
        four(
            SITE,
            |room, h| if room < 3 && h > 264.0 + room as f64 / 7.0 { f64::NAN } else { in_a_room(room, h) },
        );
    let ran = run(small.folder(), &["check", "site.toml"]);
    let said = one_line(&ran.stdout);
    assert!(said.contains("living: ended together"), "{said}");
    assert!(!said.contains("battery") && ran.code == Some(0), "{said}");
    // One alone stopped.
    let small = four(SITE, |room, h| if room < 1 && h > 264.0 { f64::NAN } else { in_a_room(room, h) });
    assert!(one_line(&run(small.folder(), &["check", "site.toml"]).stdout).contains("change its battery"));
}

#[test]
fn slips_in_a_time_zone_and_what_a_draft_left_open_were_told_as_abbreviations() {
    let refused = |site: &str| one_line(&SmallSite::new(site, crate::small_site::ROSTER).refused());
    let said = refused(&SITE.replace("America/Chicago", "Europe/Londn"));
    assert!(said.contains("did you mean Europe/London?"), "{said}");
    let said = refused(&SITE.replace("America/Chicago", "decide"));
    assert!(said.contains("a draft left this to you") && !said.contains("CST"), "{said}");
    let said = refused(&SITE.replace("\"civil\"", "\"decide\""));
    assert!(said.contains("a draft left this to you"), "{said}");
    let text = rows(0, 300, written_time, |h| in_a_room(0, h));
    let folder = Folder::new(&[("1A/living.csv", &text)]);
    for zone in ["London", "Europe/Londn"] {
        let ran = run(&folder.path(""), &["draft", "exports", "--out", "site", "--time-zone", zone]);
        assert!(ran.code == Some(2) && ran.stderr.contains("Europe/London"), "{zone}: {}", ran.stderr);
    }
}

#[test]
fn a_draft_without_anything_to_decide_said_that_a_person_must() {
    let text = rows(0, 300, written_time, |h| in_a_room(0, h));
    let folder = Folder::new(&[("1A/living.csv", &text)]);
    folder.draft();
    let site = folder.site();
    assert!(!site.contains("decide"), "{site}");
    let folder = Folder::new(&[("1A/hall.csv", &text)]);
    folder.draft();
    assert!(folder.site().contains("Open when it was drafted:"), "{}", folder.site());
}

#[test]
fn a_logger_was_elsewhere_from_hours_after_it_was_moved_on() {
    // It goes up within a quarter of an hour at noon of the eighth day, and down and up by much from then on.
    let moved = |h: f64| match h - 180.0 {
        since if since < 0.0 => in_a_room(3, h),
        since if since < 4.0 => 27.0,
        since => 29.0 + 5.0 * (since / 5.0).sin(),
    };
    let small = four(SITE, |room, h| if room == 3 { moved(h) } else { in_a_room(room, h) });
    let said = details(&small, &[]).stdout;
    assert!(said.contains("(2026-01-12 12:00 to") || said.contains("(2026-01-12 11:30 to"), "{said}");
}
