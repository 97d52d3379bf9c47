//! One home and one time on one sheet.

use crate::program::{files_in, run};
use crate::small_site::{HEAT_RULE, SITE, SmallSite, written_time};

const ROSTER: &str = "\
home,room,use,heated,logger,file
1A,living,living,yes,L-1,living.csv
1A,bedroom,bedroom,yes,L-2,bedroom.csv
1B,living,living,yes,L-3,next.csv
";
const TIME: [&str; 4] = ["--from", "2026-01-07", "--to", "2026-01-08"];

/// Ten days, every ten minutes; cold in 1A's living room from the third to the fourth day.
fn site(more: &str) -> SmallSite {
    let small = SmallSite::new(&format!("{SITE}{more}"), ROSTER);
    let export = |cold: f64| {
        let row = |n: usize| {
            let degc = if (2..4).contains(&(n / 144)) { cold } else { 21.5 };
            format!("{},{:.2}\n", written_time(n), degc + (n % 7) as f64 / 50.0)
        };
        format!("time,temperature (°C)\n{}", (0..1440).map(row).collect::<String>())
    };
    for (name, cold) in [("living", 17.0), ("bedroom", 21.5), ("next", 22.5)] {
        small.write(&format!("exports/{name}.csv"), export(cold).as_bytes());
    }
    small
}

fn complaint(small: &SmallSite, home: &str, time: &[&str]) -> (Option<i32>, String, String, String) {
    let ran =
        run(small.folder(), &[&["complaint", "site.toml", "--home", home, "--out", "out"], time].concat());
    let sheet = flat(&sheet(small, &ran.stdout));
    (ran.code, ran.stdout, ran.stderr, sheet)
}

/// The sheet that the terminal names; empty where there is none.
fn sheet(small: &SmallSite, stdout: &str) -> String {
    let told =
        stdout.split_whitespace().find_map(|word| word.rsplit('/').next().filter(|w| w.ends_with(".html")));
    told.map_or_else(String::new, |name| std::fs::read_to_string(small.out().join(name)).unwrap())
}

/// A file of numbers.
fn numbers(small: &SmallSite, name: &str) -> serde_json::Value {
    serde_json::from_slice(&std::fs::read(small.out().join(name)).unwrap()).unwrap()
}

#[test]
fn the_sheet_says_what_the_record_shows_of_that_time() {
    let small = site(HEAT_RULE);
    let (code, stdout, stderr, sheet) = complaint(&small, "1a", &TIME);
    assert_eq!(code, Some(0), "{stderr}");
    for text in [flat(&stdout), plain(&sheet)] {
        assert!(text.contains("living was below: 48.0 h as read, 48.0 h certainly, 48.0 h possibly, of 48.0 h judged in 2 of 2 rooms."), "{text}");
        assert!(text.contains("No. Against the heat rule (") && text.contains("no legal finding"), "{text}");
        assert!(
            text.contains(
                "Certainly below for the first time on 7 January 00:00; still so at the end of this time."
            ),
            "{text}"
        );
    }
    assert!(sheet.contains("7 to 8 January 2026: was it warm enough?"), "the last day is included");
    assert!(sheet.contains("carbon monoxide") && sheet.contains("Received for the household, date"));
    assert_eq!(files_in(&small.out()).len(), 3, "a sheet, its numbers, and the provenance");
    let all = numbers(&small, "complaint-1A-2026-01-07.json");
    assert_eq!(
        (&all["sheet"]["verdict"], &all["sheet"]["rooms"][0]["as_read_h"]),
        (&"no".into(), &48.0.into())
    );
    assert!(all["inputs"].as_array().is_some_and(|inputs| inputs.len() >= 4), "{all:#}");
}

#[test]
fn the_sheet_has_the_numbers_of_an_audit_with_that_period() {
    let period = "[[period]]\nname = \"those days\"\nfrom = \"2026-01-07\"\nto = \"2026-01-08\"\n";
    let small = site(&format!("{HEAT_RULE}{period}"));
    let (_, _, _, sheet) = complaint(&small, "1A", &TIME);
    std::fs::remove_dir_all(small.out()).unwrap();
    assert_eq!(small.audit().code, Some(0));
    let metrics = std::fs::read_to_string(small.out().join("metrics.csv")).unwrap();
    let value = |metric: &str| -> f64 {
        let start = format!("Alder Row,1A,living,those days,all,{metric},");
        metrics
            .lines()
            .find_map(|l| l.strip_prefix(&start))
            .unwrap()
            .split(',')
            .next()
            .unwrap()
            .parse()
            .unwrap()
    };
    for metric in ["heat_rule_hours_as_read", "heat_rule_hours_below", "heat_rule_longest_episode"] {
        assert!(sheet.contains(&format!(">{:.1}<", value(metric))), "{metric}");
    }
}

#[test]
fn where_nothing_is_cold_or_known_it_says_so() {
    let small = site(HEAT_RULE);
    let (code, stdout, _, sheet) = complaint(&small, "1B", &TIME);
    let held =
        "no room was below, not even within the sensor accuracy: 0.0 h of 48.0 h judged in 1 of 1 rooms.";
    assert!(
        code == Some(0) && flat(&stdout).contains("Yes, as far as loggers can tell. Against the heat rule"),
        "{stdout}"
    );
    assert!(flat(&stdout).contains(held) && plain(&sheet).contains(held), "{stdout}");
    std::fs::remove_dir_all(small.out()).unwrap();
    let (_, stdout, _, _) = complaint(&small, "1A", &["--from", "2026-03-01", "--to", "2026-03-02"]);
    assert!(
        flat(&stdout)
            .contains("It cannot be said: nothing was judged. The record has no usable value in this time"),
        "{stdout}"
    );
    assert!(flat(&stdout).contains("No other home of the roster has a record"), "{stdout}");
    let small = site("");
    let (_, stdout, _, sheet) = complaint(&small, "1A", &TIME);
    assert!(stdout.contains("The site file names no heat rule"), "{stdout}");
    let of_band = "so that none was judged) living was below: 48.0 h as read";
    assert!(plain(&sheet).contains(of_band), "the band is there");
}

#[test]
fn a_second_sheet_leaves_the_first_as_it_is() {
    let small = site(HEAT_RULE);
    complaint(&small, "1A", &TIME);
    let first = std::fs::read(small.out().join("complaint-1A-2026-01-07.html")).unwrap();
    small.write("exports/living.csv", &export(|_| Some(21.5)));
    let words = [
        "complaint",
        "site.toml",
        "--home",
        "1A",
        "--out",
        "out",
        "--asked-by",
        "M. Quill",
        "--made-by",
        "R. Ash",
    ];
    let ran = run(small.folder(), &[&words[..], &TIME].concat());
    assert!(ran.code == Some(0) && ran.stdout.contains("complaint-1A-2026-01-07-2.html"), "{}", ran.stdout);
    assert_eq!(std::fs::read(small.out().join("complaint-1A-2026-01-07.html")).unwrap(), first);
    let second = std::fs::read_to_string(small.out().join("complaint-1A-2026-01-07-2.html")).unwrap();
    assert!(second.contains("asked by M. Quill") && second.contains("made by R. Ash"));
    assert!(plain(&second).contains("Yes, as far as loggers can tell."), "{second}");
    let names = files_in(&small.out());
    assert_eq!(names.len(), 5, "{:?}", names.keys());
    let provenance = numbers(&small, "provenance.json");
    assert_eq!(provenance["outputs"].as_object().unwrap().len(), 4, "both sheets are vouched for");
}

#[test]
fn the_other_homes_that_were_below_with_it_are_told_without_their_names() {
    let small = site(HEAT_RULE);
    small.write("exports/next.csv", &export(|n| Some(if (288..576).contains(&n) { 17.0 } else { 22.5 })));
    let (_, stdout, _, sheet) = complaint(&small, "1A", &TIME);
    // Nothing is certain in the quarter of an hour in which it changes by more than a room does.
    let with_it = "Certainly below the minimum with it: one room of another home, for 47.8 h.";
    assert!(flat(&stdout).contains(with_it) && plain(&sheet).contains(with_it), "{stdout}");
    // Who made the sheet sees which it was; the two parties do not, on the sheet or beside it.
    assert!(
        flat(&stdout).contains("not on the sheet, which is for the two parties): 1B living (47.8 h)."),
        "{stdout}"
    );
    small.write("exports/next.csv", b"no table");
    let (_, _, stderr, _) = complaint(&small, "1A", &TIME);
    assert!(stderr.contains("next.csv"), "{stderr}");
    let files = files_in(&small.out());
    for name in ["complaint-1A-2026-01-07", "complaint-1A-2026-01-07-2"] {
        for ending in ["html", "json"] {
            let text = String::from_utf8(files[&format!("{name}.{ending}")].clone()).unwrap();
            for theirs in ["1B", "next.csv", "L-3"] {
                assert!(!text.contains(theirs), "{theirs} in {name}.{ending}");
            }
        }
    }
    let beside = numbers(&small, "complaint-1A-2026-01-07.json");
    let nameless =
        |i: &&serde_json::Value| i["name"] == "an export of another home" && i["sha256"].is_string();
    assert_eq!(beside["inputs"].as_array().unwrap().iter().filter(nameless).count(), 1, "{beside:#}");
}

#[test]
fn a_room_without_a_logger_is_told_once_and_hours_that_are_the_same_in_all_rooms_do_not_depend_on_them() {
    let small = with_outage(&["living", "bedroom"]);
    small.write("roster.csv", format!("{ROSTER}1A,hall,hall,no,,\n").as_bytes());
    let (_, stdout, _, sheet) = complaint(&small, "1A", &TIME);
    assert!(stdout.contains("No logger stood in hall in this time."), "{stdout}");
    for text in [&stdout, &plain(&sheet)] {
        assert!(!text.contains("thin-coverage") && !text.contains("hall: 48.0 hours without data"), "{text}");
    }
    assert!(flat(&stdout).contains("48.0 h possibly, of 48.0 h judged in 2 of 3 rooms."), "{stdout}");
    assert!(!stdout.contains("depending on the room"), "{stdout}");
}

/// Ten days in which the rooms that `cold` names fall from noon of the second day to noon of the sixth, further and further.
fn with_outage(cold: &[&str]) -> SmallSite {
    let small = site(HEAT_RULE);
    let course = |room: &'static str| {
        let out = cold.contains(&room);
        export(move |n| {
            Some(if out && (216..792).contains(&n) { 15.0 - (n - 216) as f64 / 144.0 } else { 21.5 })
        })
    };
    for room in ["living", "bedroom"] {
        small.write(&format!("exports/{room}.csv"), &course(room));
    }
    small
}

#[test]
fn the_whole_of_an_outage_is_told_where_it_began_before_and_ends_after_the_time() {
    let small = with_outage(&["living", "bedroom"]);
    let (_, stdout, _, sheet) = complaint(&small, "1A", &TIME);
    for text in [flat(&stdout), plain(&sheet)] {
        assert!(text.contains("Certainly below since 6 January 12:10, before the time asked about; still so at the end of this time, until 10 January 11:55."), "{text}");
        assert!(text.contains("Without heat from 6 January 11:55 to 10 January 12:00, 96.1 h: the heated rooms of this home fell together"), "{text}");
        assert!(text.contains("That began before the time asked about, and went on after it."), "{text}");
    }
    let beside = numbers(&small, "complaint-1A-2026-01-07.json");
    assert_eq!(beside["sheet"]["below_since_utc"], "2026-01-06T18:10:00Z");
    assert_eq!(beside["sheet"]["without_heat"][0]["to_utc"], "2026-01-10T18:00:00Z");
    // Within the time nothing goes beyond it.
    let (_, stdout, _, _) = complaint(&small, "1A", &["--from", "2026-01-05", "--to", "2026-01-12"]);
    assert!(
        flat(&stdout).contains(
            "Certainly below for the first time on 6 January 12:10; the last time until 10 January 11:55"
        ),
        "{stdout}"
    );
    assert!(!stdout.contains("That began before") && !stdout.contains("went on after"), "{stdout}");
}

#[test]
fn what_may_have_caused_it_is_what_this_record_shows() {
    let (_, _, _, all) = complaint(&with_outage(&["living", "bedroom"]), "1A", &TIME);
    let together =
        "The heating failed or was off: this home's heated rooms fell together, while the one other home was";
    assert!(plain(&all).contains(together) && plain(&all).contains("windows kept open"), "{all}");
    assert!(plain(&all).contains("2 loggers in 2 rooms say the same"), "{all}");
    let (_, _, _, one) = complaint(&with_outage(&["living"]), "1A", &TIME);
    assert!(!plain(&one).contains(together), "one room alone is no failure of the home");
    assert!(plain(&one).contains("Living fell alone while the other heated rooms held: its unit failed or was off, a window stood open there"), "{one}");
    assert!(plain(&one).contains("Living was below and the others were not: a logger at a window"), "{one}");
    let (_, _, _, none) = complaint(&with_outage(&[]), "1A", &TIME);
    assert!(!plain(&none).contains("What may have caused it"), "{none}");
    for text in [all, one, none] {
        assert!(
            text.contains("Why it may have been colder than shown.")
                && text.contains("Why it may have been warmer than shown.")
        );
    }
}

#[test]
fn the_sheet_names_the_text_that_the_hours_were_held_against() {
    let (_, _, _, own) = complaint(&site(HEAT_RULE), "1A", &TIME);
    let author = "Held against a minimum as the site file states it, by its author: no ordinance or lease was named or checked.";
    assert!(plain(&own).contains(author), "{own}");
    let (_, _, _, preset) = complaint(&site("[heat_rule]\npreset = \"chicago\"\n"), "1A", &TIME);
    let text = "Held against the preset chicago: Chicago, Municipal Code, heat ordinance (the city's page names 14X-8-803: check the clause), as read on 20";
    assert!(plain(&preset).contains(text), "{preset}");
}

#[test]
fn a_record_that_is_whole_is_said_to_be_and_what_no_logger_tells() {
    let (_, _, _, sheet) = complaint(&site(HEAT_RULE), "1A", &TIME);
    let whole = "What the record cannot tell. The record is whole in this time: no hole, no doubted reading. No logger tells who set the thermostat";
    assert!(plain(&sheet).contains(whole), "{sheet}");
}

#[test]
fn half_a_day_is_judged_too_and_other_homes_that_cannot_be_read_are_named() {
    let small = site("");
    small.write("exports/next.csv", b"no table");
    let (code, stdout, stderr, _) =
        complaint(&small, "1A", &["--from", "2026-01-07 06:00", "--to", "2026-01-07 18:00"]);
    assert!(flat(&stdout).contains("living below the comfort band for 12.0 h as read"), "{stdout}");
    assert!(code == Some(1) && stderr.contains("next.csv"), "{stderr}");
}

#[test]
fn a_home_or_a_time_that_is_none_is_told() {
    let small = site(HEAT_RULE);
    let (code, _, stderr, _) = complaint(&small, "7", &TIME);
    assert!(
        code == Some(2) && stderr.contains("--home: found \"7\", expected a home of the roster (1A, 1B)"),
        "{stderr}"
    );
    let (code, _, stderr, _) = complaint(&small, "1A", &["--from", "2026-01-09", "--to", "2026-01-07"]);
    assert!(code == Some(2) && stderr.contains("which ends before it begins"), "{stderr}");
    let (code, _, stderr, _) = complaint(&small, "1A", &["--from", "yesterday", "--to", "2026-01-07"]);
    assert!(code == Some(2) && stderr.contains("expected local dates"), "{stderr}");
}

/// A page without its marks.
fn plain(page: &str) -> String {
    let mut text = String::new();
    let mut inside = false;
    for c in page.chars() {
        match c {
            '<' => inside = true,
            '>' => inside = false,
            c if !inside => text.push(c),
            _ => {}
        }
    }
    flat(&text.replace("&#39;", "'"))
}

/// The words of a text, blanks and line ends alike.
fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// An export of ten days, every ten minutes.
fn export(degc: impl Fn(usize) -> Option<f64>) -> Vec<u8> {
    let row = |n: usize| Some(format!("{},{:.2}\n", written_time(n), degc(n)? + (n % 7) as f64 / 50.0));
    format!("time,temperature (°C)\n{}", (0..1440).filter_map(row).collect::<String>()).into_bytes()
}

#[test]
fn hours_without_data_are_said_beside_those_that_were_judged() {
    let small = site(HEAT_RULE);
    // Readings end at 05:50 and go on at 12:00 on the second of the cold days.
    let hole = |n: usize| (468..504).contains(&n);
    small.write(
        "exports/living.csv",
        &export(|n| (!hole(n)).then_some(if (288..576).contains(&n) { 17.0 } else { 21.5 })),
    );
    let (_, stdout, _, sheet) = complaint(&small, "1A", &TIME);
    let sentence = "living below the heat rule's minimum for 41.9 h as read, 41.9 h certainly and 41.9 h possibly, of 41.9 hours judged; 6.1 hours without data could not be judged.";
    assert!(flat(&stdout).contains(sentence), "{stdout}");
    let answer = "living was below: 41.9 h as read, 41.9 h certainly, 41.9 h possibly, of 41.9 to 48.0 h judged, out of 48.0 h, in 2 of 2 rooms.";
    assert!(
        plain(&sheet).contains(answer)
            && plain(&sheet).contains("living: 6.1 hours without data could not be judged."),
        "{sheet}"
    );
    std::fs::remove_dir_all(small.out()).unwrap();
    let audit = small.audit();
    assert!(
        flat(&audit.stdout).contains(
            "hours judged (sensors good to ±0.5 K); 6.1 hours without data could not be judged; 2 episodes"
        ),
        "{}",
        audit.stdout
    );
}

/// A site of which every hour depends on the weather, and nothing else is asked for.
fn by_weather() -> SmallSite {
    let rule = "[heat_rule]\nwindow = [{ from = \"00:00\", to = \"24:00\", minimum = \"20 °C\", when_outdoor_below = \"12 °C\" }]\n";
    let small = site("");
    let (head, _) = SITE.split_once("[band]").unwrap();
    small.write("site.toml", format!("{head}{rule}").as_bytes());
    small
}

#[test]
fn where_no_hour_was_judged_it_never_says_that_no_room_was_too_cold() {
    let (code, stdout, _, sheet) = complaint(&by_weather(), "1B", &TIME);
    assert_eq!(code, Some(0));
    let sentence = "It cannot be said: nothing was judged. living: 48.0 hours without outdoor temperature could not be judged. The lowest temperatures: living 22.0 °C.";
    assert!(flat(&stdout).contains(sentence) && plain(&sheet).contains(sentence), "{stdout}");
    assert!(!stdout.contains("no room was below") && !stdout.contains("Yes"), "{stdout}");
}

#[test]
fn doubts_about_a_logger_that_stood_there_at_another_time_are_not_told() {
    let small = site(HEAT_RULE);
    let roster = "home,room,use,heated,logger,file,from,to\n1A,living,living,yes,L-1,living.csv,,2026-01-08\n1A,living,living,yes,L-9,later.csv,2026-01-09,\n1A,bedroom,bedroom,yes,L-2,bedroom.csv,,\n";
    small.write("roster.csv", roster.as_bytes());
    // Ten spikes on the second day.
    let spike = |n: usize| (144..244).contains(&n) && n.is_multiple_of(10);
    small.write("exports/living.csv", &export(|n| (n < 570).then_some(if spike(n) { 29.0 } else { 21.5 })));
    small.write("exports/later.csv", &export(|n| (n >= 580).then_some(21.5)));
    let (_, then, _, _) = complaint(&small, "1A", &["--from", "2026-01-06", "--to", "2026-01-06"]);
    assert!(then.contains("L-1"), "{then}");
    let (_, later, _, _) = complaint(&small, "1A", &["--from", "2026-01-11", "--to", "2026-01-12"]);
    assert!(!later.contains("L-1"), "{later}");
}

#[test]
fn other_homes_are_compared_in_the_hours_of_shortfall() {
    let (_, stdout, _, sheet) =
        complaint(&site(HEAT_RULE), "1A", &["--from", "2026-01-05", "--to", "2026-01-14"]);
    // In the cold days 22.5 °C beside a mean of 19.25 °C; over all ten days it would be 0.7 K.
    let sentence =
        "While this home was too cold, the one other home with a record was 3.2 K warmer on the mean.";
    assert!(flat(&stdout).contains(sentence) && plain(&sheet).contains(sentence), "{stdout}");
    let (_, stdout, _, _) =
        complaint(&site(HEAT_RULE), "1B", &["--from", "2026-01-07", "--to", "2026-01-08"]);
    assert!(
        flat(&stdout).contains("In this time the one other home with a record was 3.2 K colder on the mean."),
        "{stdout}"
    );
}

#[test]
fn what_a_side_by_side_check_took_off_is_told() {
    let small = site(&format!(
        "{HEAT_RULE}[colocation]\nfrom = \"2026-01-05\"\nto = \"2026-01-05\"\naccept_without_evidence = true\n"
    ));
    for (name, k) in [("living", 0.0), ("bedroom", -0.2), ("next", 0.6)] {
        small.write(
            &format!("exports/{name}.csv"),
            &export(|n| Some(if n < 144 { 21.0 + k } else { 21.5 + k })),
        );
    }
    let (code, _, stderr, sheet) = complaint(&small, "1B", &TIME);
    assert_eq!(code, Some(0), "{stderr}");
    assert!(
        sheet.contains("data-of=\"Taken off\">0.6 K</td>")
            && sheet.contains("Taken off: what each read over the others"),
        "{sheet}"
    );
    let provenance: serde_json::Value =
        serde_json::from_slice(&std::fs::read(small.out().join("provenance.json")).unwrap()).unwrap();
    let off = &provenance["side_by_side"]["taken_off"][0];
    assert!(
        off["logger"] == "L-3" && (off["offset_k"].as_f64().unwrap() - 0.6).abs() < 1e-6,
        "{provenance:#}"
    );
    assert_eq!(provenance["side_by_side"]["from_utc"], "2026-01-05T06:00:00Z");
}

#[test]
fn nobody_is_told_to_replace_a_logger_that_is_merely_cold() {
    let small = site(HEAT_RULE);
    let falling = |n: usize| Some(21.0 - 25.0 * (n as f64 / 200.0).min(1.0));
    small.write("exports/living.csv", &export(falling));
    small.write("exports/bedroom.csv", &export(falling));
    let (_, stdout, _, sheet) = complaint(&small, "1A", &["--from", "2026-01-06", "--to", "2026-01-07"]);
    assert!(!stdout.contains("replace it") && !sheet.contains("replace it"), "{stdout}");
}
