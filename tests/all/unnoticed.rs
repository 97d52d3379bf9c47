//! Wrong input that ended in a clean verdict because nobody noticed it: it is refused, asked about or named, and what was
//! not judged never reads as good. Beside each stands what must stay accepted.

use std::fmt::Write;
use std::fs;

use serde_json::Value;

use crate::program::{Ran, run};
use crate::small_site::{SITE, SmallSite, standing, written_time};

pub(crate) const ROSTER: &str = "\
home,room,use,heated,logger,file
1A,living,living,yes,L-1,living.csv
1A,bedroom,bedroom,yes,L-2,bedroom.csv
1A,study,other,yes,L-3,study.csv
1A,hall,hall,yes,L-4,hall.csv
";
pub(crate) const ROOMS: [&str; 4] = ["living", "bedroom", "study", "hall"];
pub(crate) const BOX: &str = "[colocation]\nfrom = \"2026-01-05 00:00\"\nto = \"2026-01-06 00:00\"\n";
pub(crate) const BOX_H: f64 = 24.0;
pub(crate) const DAYS: usize = 15;

/// Readings every ten minutes; NaN: none.
pub(crate) fn export(room: usize, header: &str, degc: impl Fn(f64) -> f64) -> Vec<u8> {
    let mut text = format!("time,{header}\n");
    for n in 0..DAYS * 144 {
        let h = n as f64 / 6.0;
        // A little life of its own, so that no logger seems stuck, or another's copy.
        let life = 0.05 * (h * 4.2 + (h * 0.11).sin() * room as f64 + room as f64).sin();
        let degc = degc(h);
        if !degc.is_nan() {
            writeln!(text, "{},{:.2}", written_time(n), degc + life).unwrap();
        }
    }
    text.into_bytes()
}

/// A box in an office: cooler by night.
pub(crate) fn in_a_box(h: f64) -> f64 {
    22.0 + 1.5 * (h / 4.0).sin()
}

/// A room that is heated: what it does in a day is its own.
pub(crate) fn in_a_room(room: usize, h: f64) -> f64 {
    21.6 + 0.6 * (h / (3.0 + room as f64) + room as f64).sin()
}

/// Four loggers in a box for a day and in their rooms then, each off by so much.
pub(crate) fn boxed(more: &str, off_k: [f64; 4]) -> SmallSite {
    let small = SmallSite::new(&format!("{SITE}{more}"), ROSTER);
    for (room, (name, off_k)) in ROOMS.iter().zip(off_k).enumerate() {
        let degc = |h: f64| off_k + if h < BOX_H { in_a_box(h) } else { in_a_room(room, h) };
        small.write(&format!("exports/{name}.csv"), &export(room, "temperature (°C)", degc));
    }
    small
}

pub(crate) fn done(small: &SmallSite) -> Ran {
    let ran = small.audit();
    assert_eq!(ran.code, Some(0), "{}\n{}", ran.stderr, ran.stdout);
    ran
}

fn json(small: &SmallSite, name: &str) -> Value {
    serde_json::from_slice(&fs::read(small.out().join(name)).unwrap()).unwrap()
}

/// Findings of a rule: room, severity, sentence.
pub(crate) fn found(small: &SmallSite, rule: &str) -> Vec<[String; 3]> {
    let of_rule = |f: &&Value| f["rule"] == rule;
    let words =
        |f: &Value| ["room", "severity", "shows"].map(|key| f[key].as_str().unwrap_or_default().to_owned());
    json(small, "findings.json").as_array().unwrap().iter().filter(of_rule).map(words).collect()
}

/// What was not judged: rule and why.
pub(crate) fn not_judged(small: &SmallSite) -> Vec<[String; 2]> {
    let words = |f: &Value| ["rule", "why"].map(|key| f[key].as_str().unwrap_or_default().to_owned());
    json(small, "not_judged.json").as_array().unwrap().iter().map(words).collect()
}

/// A column of the loggers table.
pub(crate) fn of_loggers(small: &SmallSite, column: &str) -> Vec<String> {
    let text = fs::read_to_string(small.out().join("loggers.csv")).unwrap();
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let at = reader.headers().unwrap().iter().position(|h| h == column).unwrap();
    reader.records().map(|row| row.unwrap()[at].to_owned()).collect()
}

/// The text of all cells of the workbook.
fn workbook(small: &SmallSite) -> String {
    use calamine::{Reader, Xlsx, open_workbook};
    let mut book: Xlsx<_> = open_workbook(small.out().join("findings.xlsx")).unwrap();
    let sheets = book.worksheets();
    let cells = sheets.iter().flat_map(|(_, range)| range.rows().flatten().map(ToString::to_string));
    cells.collect::<Vec<_>>().join("\n")
}

fn report(small: &SmallSite) -> String {
    fs::read_to_string(small.out().join("report.html")).unwrap()
}

/// Whether the home is accepted without a word.
pub(crate) fn is_clear(ran: &Ran) -> bool {
    standing(&ran.stdout, "1A") == "accept"
}

#[test]
fn an_offset_of_ten_kelvin_was_taken_off_in_silence() {
    let off = [0.1, -0.2, 0.0, -10.0];
    let small = boxed(BOX, off);
    let ran = done(&small);
    let told = found(&small, "side-by-side-offset");
    let [one] = told.as_slice() else { panic!("{told:?}\n{}", ran.stdout) };
    assert_eq!((one[0].as_str(), one[1].as_str()), ("hall", "act"));
    assert!(one[2].contains("accept_offset_of = [\"L-4\"]"), "{}", one[2]);
    assert!(ran.stderr.contains("accept_offset_of = [\"L-4\"]"), "{}", ran.stderr);
    let taken = of_loggers(&small, "offset_k");
    assert!(taken[3].is_empty() && taken[..3].iter().all(|k| !k.is_empty()), "{taken:?}");
    let left: f64 = of_loggers(&small, "offset_left_on_k")[3].parse().unwrap();
    assert!((left + 10.0).abs() < 0.2, "{left}");
    let provenance = json(&small, "provenance.json");
    assert_eq!(provenance["side_by_side"]["not_taken_off"][0]["logger"], "L-4");
    assert!(!is_clear(&ran), "{}", ran.stdout);
    assert!(found(&small, "room-cold").iter().all(|f| f[1] != "act" && f[1] != "urgent"), "{}", ran.stdout);
    // The line that the finding gives does what it says.
    let small = boxed(&format!("{BOX}accept_offset_of = [\"L-4\"]\n"), off);
    let ran = done(&small);
    assert!(found(&small, "side-by-side-offset").is_empty(), "{}", ran.stdout);
    let told = found(&small, "offset-on-its-word");
    assert!(told.len() == 1 && told[0][1] == "watch" && told[0][2].starts_with("-9.9 K"), "{told:?}");
    assert_eq!(standing(&ran.stdout, "1A"), "accept, watch", "{}", ran.stdout);
    assert!(of_loggers(&small, "offset_k")[3].starts_with('-'));
}

#[test]
fn small_offsets_are_taken_off_and_every_output_says_so() {
    let small = boxed(BOX, [0.3, -0.2, 0.0, -0.4]);
    let ran = done(&small);
    assert!(is_clear(&ran), "{}", ran.stdout);
    let said = "offsets of -0.";
    let one_line = ran.stdout.replace("\n  ", " ");
    assert!(one_line.contains(said) && one_line.contains("of 4 loggers"), "{}", ran.stdout);
    let report = report(&small);
    assert!(report.contains(said) && report.contains("hall L-4: -0."), "the report");
    assert!(workbook(&small).contains(said), "the workbook");
    assert!(of_loggers(&small, "offset_k").iter().all(|k| !k.is_empty()));
    assert_eq!(json(&small, "provenance.json")["side_by_side"]["taken_off"].as_array().unwrap().len(), 4);
    // Where there was no such time, nothing was taken off.
    let small = boxed("", [0.0; 4]);
    assert!(!done(&small).stdout.contains("Side by side"));
    assert!(workbook(&small).contains("Nothing was taken off any reading."));
}

#[test]
fn offsets_of_a_time_in_which_the_loggers_stood_in_their_rooms_were_taken_off() {
    let wrong = BOX.replace("01-05", "01-09").replace("01-06", "01-10");
    let said = boxed(&wrong, [0.3, -0.2, 0.0, -0.4]).refused();
    assert!(said.contains("site.toml:10: found from 2026-01-09 00:00"), "{said}");
    assert!(said.contains("do not run with the others") && said.contains("L-4"), "{said}");
    assert!(said.contains("hint: check `from` and `to` of [colocation]"), "{said}");
}

#[test]
fn a_logger_that_lay_elsewhere_in_the_side_by_side_time_is_told_and_keeps_its_level() {
    let small = boxed(BOX, [0.3, -0.2, 0.0, 0.0]);
    let hall = export(3, "temperature (°C)", |h| in_a_room(3, h));
    small.write("exports/hall.csv", &hall);
    let ran = done(&small);
    let told = found(&small, "not-side-by-side");
    assert_eq!(told.len(), 1, "{told:?}\n{}", ran.stdout);
    assert_eq!(told[0][0], "hall");
    assert!(of_loggers(&small, "offset_k")[3].is_empty());
    assert!(!is_clear(&ran));
    // Named loggers are held against each other; of the others every reading is judged.
    let named = format!("{BOX}loggers = [\"L-1\", \"L-2\", \"L-3\"]\n");
    small.write("site.toml", format!("{SITE}{named}").as_bytes());
    done(&small);
    assert!(found(&small, "not-side-by-side").is_empty());
    assert_eq!(of_loggers(&small, "rows_set_aside"), ["144", "144", "144", "0"]);
}

#[test]
fn names_in_colocation_must_be_those_of_loggers() {
    let named = |list: &str| boxed(&format!("{BOX}{list}\n"), [0.0; 4]).refused();
    let said = named("loggers = [\"L-1\", \"L-2\", \"L-9\"]");
    assert!(said.contains("site.toml:10: found \"L-9\" in `loggers` of [colocation]"), "{said}");
    assert!(named("accept_offset_of = [\"hall\"]").contains("found \"hall\" in `accept_offset_of`"));
    assert!(named("loggers = [\"L-1\"]").contains("expected three loggers or more"));
}

#[test]
fn a_drafted_side_by_side_block_named_no_loggers_and_held_for_some() {
    let small = boxed("", [0.1, 0.0, -0.1, 0.0]);
    // Two more lie with them, and one stood in its room all the time.
    for (name, room) in [("kitchen", 4), ("office", 5)] {
        let degc = |h: f64| if h < BOX_H { in_a_box(h) } else { in_a_room(room, h) + 2.5 };
        small.write(&format!("exports/{name}.csv"), &export(room, "temperature (°C)", degc));
    }
    for (room, name) in [(0, "living"), (1, "bedroom"), (2, "study")] {
        let degc = |h: f64| if h < BOX_H { in_a_box(h) } else { in_a_room(room, h) - 2.0 * room as f64 };
        small.write(&format!("exports/{name}.csv"), &export(room, "temperature (°C)", degc));
    }
    small.write("exports/hall.csv", &export(3, "temperature (°C)", |h| in_a_room(3, h) - 2.0));
    let ran = run(
        small.folder(),
        &["draft", "exports", "--time-zone", "America/Chicago", "--clock", "civil", "--out", "drafted"],
    );
    assert_eq!(ran.code, Some(0), "{}", ran.stderr);
    let site = fs::read_to_string(small.folder().join("drafted/site.toml")).unwrap();
    let block = site.split("# [colocation]").nth(1).unwrap();
    for with in ["living", "bedroom", "study", "kitchen", "office"] {
        assert!(block.contains(&format!("\"{with}\",")), "{site}");
    }
    assert!(!block.contains("\"hall\""), "{site}");
    // What it proposes is accepted as it stands.
    let pasted: String = block
        .lines()
        .map(|line| line.trim_start_matches("# "))
        .fold("[colocation]".to_owned(), |text, line| text + line + "\n");
    let site = site.replace(&format!("# [colocation]{block}"), &pasted);
    small.write("drafted/site.toml", site.as_bytes());
    let roster = fs::read_to_string(small.folder().join("drafted/roster.csv")).unwrap();
    small.write(
        "drafted/roster.csv",
        roster.replace("\ndecide,", "\n1A,").replace(",decide,", ",yes,").as_bytes(),
    );
    let ran = run(small.folder(), &["audit", "drafted/site.toml", "--out", "out"]);
    assert_eq!(ran.code, Some(0), "{}\n{site}", ran.stderr);
    let (loggers, taken) = (of_loggers(&small, "logger"), of_loggers(&small, "offset_k"));
    for (logger, taken) in loggers.iter().zip(taken) {
        assert_eq!(taken.is_empty(), logger == "hall", "{logger}");
    }
}

/// A weather file beside the loggers, and a heat rule that asks for its temperature.
fn with_weather(header: &str, unit: &str, degc: impl Fn(f64) -> f64) -> SmallSite {
    let site = SITE.replace(
        "clock =",
        &format!("outdoor = {{ file = \"weather.csv\", clock = \"civil\"{unit} }}\nclock ="),
    );
    let rule = "[heat_rule]\nseason = { from = \"10-01\", to = \"05-31\" }\nwindow = [{ from = \"00:00\", to = \"24:00\", minimum = \"20 °C\", when_outdoor_below = \"13 °C\" }]\n";
    let small = boxed("", [0.0; 4]);
    small.write("site.toml", format!("{site}{rule}").as_bytes());
    for (room, name) in ROOMS.iter().enumerate() {
        small
            .write(&format!("exports/{name}.csv"), &export(room, "temperature (°C)", |h| in_a_room(room, h)));
    }
    small.write("exports/weather.csv", &export(9, header, degc));
    small
}

fn winter(h: f64) -> f64 {
    1.0 + 4.0 * (h / 24.0).sin()
}

#[test]
fn weather_without_a_unit_was_taken_for_degrees_celsius() {
    let small = with_weather("temperature", "", winter);
    let ran = small.audit();
    assert_eq!(ran.code, Some(1), "{}", ran.stderr);
    assert!(ran.stderr.contains("may be weather in °C or in °F"), "{}", ran.stderr);
    assert!(
        ran.stderr.contains("write unit = \"°C\" or unit = \"°F\" between the braces of `outdoor`"),
        "{}",
        ran.stderr
    );
    assert!(!is_clear(&ran), "{}", ran.stdout);
    for (header, unit) in [("temperature", ", unit = \"°C\""), ("temperature (°C)", "")] {
        let ran = done(&with_weather(header, unit, winter));
        assert!(is_clear(&ran), "{}\n{}", ran.stdout, ran.stderr);
    }
}

#[test]
fn weather_in_the_wrong_unit_was_believed_though_season_and_rooms_refute_it() {
    let fahrenheit = |h: f64| winter(h) * 1.8 + 32.0;
    let warm = |_: f64| 23.8 + 4.0;
    for (degc, said) in [(&fahrenheit as &dyn Fn(f64) -> f64, "in January"), (&warm, "in January")] {
        let small = with_weather("temperature", ", unit = \"°C\"", degc);
        let ran = small.audit();
        assert_eq!(ran.code, Some(1), "{}", ran.stderr);
        assert!(
            ran.stderr.contains("it cannot be the outdoor air") && ran.stderr.contains(said),
            "{}",
            ran.stderr
        );
        assert!(!is_clear(&ran) && !ran.stdout.contains("Outdoors:"), "{}", ran.stdout);
        let open = not_judged(&small);
        assert!(
            open.iter().any(|[rule, why]| rule == "heat-rule-shortfall" && why.contains("outdoor")),
            "{open:?}"
        );
    }
    // Where the season says nothing the rooms do: a place without changes of clocks, and rooms at 21 °C.
    let small = with_weather("temperature", ", unit = \"°C\"", |h| fahrenheit(h) + 6.0);
    let site = fs::read_to_string(small.folder().join("site.toml")).unwrap();
    small.write("site.toml", site.replace("America/Chicago", "Asia/Tokyo").as_bytes());
    let ran = small.audit();
    assert_eq!(ran.code, Some(1), "{}", ran.stderr);
    assert!(ran.stderr.contains("warmer than the rooms on the median"), "{}", ran.stderr);
    // In the unit that it is in, all is well.
    let ran = done(&with_weather("temperature", ", unit = \"°F\"", fahrenheit));
    assert!(is_clear(&ran) && ran.stdout.contains("Outdoors:"), "{}", ran.stdout);
}

#[test]
fn weather_of_another_year_and_weather_that_stands_still_were_believed_in_silence() {
    let other_year = with_weather("temperature (°C)", "", winter);
    let path = other_year.folder().join("exports/weather.csv");
    let text = fs::read_to_string(&path).unwrap();
    other_year.write("exports/weather.csv", text.replace("2026-", "2025-").as_bytes());
    let still = with_weather("temperature (°C)", "", winter);
    let hangs = |(n, line): (usize, &str)| match (n > 360, line.split_once(',')) {
        (true, Some((time, _))) => format!("{time},2.50\n"),
        _ => format!("{line}\n"),
    };
    let hung: String = text.lines().enumerate().map(hangs).collect();
    still.write("exports/weather.csv", hung.as_bytes());
    let ran = other_year.audit();
    assert_eq!(ran.code, Some(1), "{}", ran.stderr);
    assert!(ran.stderr.contains("has no value while this home was recorded"), "{}", ran.stderr);
    assert!(!is_clear(&ran), "{}", ran.stdout);
    let open = not_judged(&other_year);
    assert!(
        open.iter().any(|[rule, why]| rule == "heat-rule-shortfall" && why.contains("outdoor")),
        "{open:?}"
    );
    // Where it hangs it is used, and told.
    let ran = still.audit();
    assert!(ran.stderr.contains("stands still for days"), "{}", ran.stderr);
}

#[test]
fn a_heat_rule_that_holds_at_no_hour_of_a_record_read_as_met() {
    let rule = |from: &str, to: &str| {
        let rule =
            "[heat_rule]\nwindow = [{ from = \"00:00\", to = \"24:00\", minimum = \"18 °C\" }]\nseason = ";
        format!("{rule}{{ from = \"{from}\", to = \"{to}\" }}\n")
    };
    let small = boxed(&format!("{}{BOX}", rule("03-01", "05-31")), [0.0; 4]);
    let ran = done(&small);
    assert!(!is_clear(&ran), "{}", ran.stdout);
    let said = "nothing was judged: the heat rule holds at no hour of this record";
    let one_line = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(one_line(&ran.stdout).contains(said), "{}", ran.stdout);
    let open = not_judged(&small);
    assert!(open.len() == 1 && open[0][1].starts_with(said) && open[0][1].contains("lowest"), "{open:?}");
    let page = report(&small);
    assert!(page.contains(said) && page.contains("Nothing was judged"), "the report");
    assert!(workbook(&small).contains(said), "the workbook");
    let ran = run(
        small.folder(),
        &[
            "complaint",
            "site.toml",
            "--home",
            "1A",
            "--from",
            "2026-01-08",
            "--to",
            "2026-01-09",
            "--out",
            "sheet",
        ],
    );
    assert_eq!(ran.code, Some(0), "{}", ran.stderr);
    let sheet = fs::read_to_string(small.folder().join("sheet/complaint-1A-2026-01-08.html")).unwrap();
    assert!(
        sheet.contains("nothing was judged") && one_line(&ran.stdout).contains("othing was judged"),
        "{}",
        ran.stdout
    );
    // In season, and in a season of which a named period lies outside.
    let ran = done(&boxed(&format!("{}{BOX}", rule("10-01", "05-31")), [0.0; 4]));
    assert!(is_clear(&ran), "{}", ran.stdout);
    let periods = "[[period]]\nname = \"first\"\nfrom = \"2026-01-06\"\nto = \"2026-01-12\"\n[[period]]\nname = \"second\"\nfrom = \"2026-01-13\"\nto = \"2026-01-19\"\n";
    let ran = done(&boxed(&format!("{}{BOX}{periods}", rule("01-13", "05-31")), [0.0; 4]));
    assert!(is_clear(&ran), "{}", ran.stdout);
}

#[test]
fn evenness_between_fewer_than_two_rooms_read_as_clear() {
    let of = |roster: &str| {
        let small = boxed("", [0.0; 4]);
        for (room, name) in ROOMS.iter().enumerate() {
            small.write(
                &format!("exports/{name}.csv"),
                &export(room, "temperature (°C)", |h| in_a_room(room, h)),
            );
        }
        small.write("roster.csv", roster.as_bytes());
        let ran = done(&small);
        (is_clear(&ran), not_judged(&small), ran.stdout)
    };
    let open = |roster: &str, why: &str| {
        let (clear, open, stdout) = of(roster);
        assert!(!clear, "{stdout}");
        assert!(open.iter().any(|[rule, said]| rule == "home-uneven" && said.contains(why)), "{open:?}");
        assert!(
            standing(&stdout, "1A") == "record again" && stdout.contains("not judged: home-uneven"),
            "{stdout}"
        );
    };
    let lines: Vec<&str> = ROSTER.lines().collect();
    open(&format!("{}\n{}\n", lines[0], lines[1]), "one room");
    open(&ROSTER.replace(",yes,", ",no,"), "no room of the home is heated");
    let (clear, open_of_all, stdout) = of(ROSTER);
    assert!(clear && open_of_all.is_empty(), "{stdout}");
    // Two rooms, one after the other.
    let small = boxed("", [0.0; 4]);
    small.write("roster.csv", format!("{}\n{}\n{}\n", lines[0], lines[1], lines[2]).as_bytes());
    for (room, name) in ROOMS.iter().enumerate().take(2) {
        let here = |h: f64| if (h < 180.0) == (room == 0) { in_a_room(room, h) } else { f64::NAN };
        small.write(&format!("exports/{name}.csv"), &export(room, "temperature (°C)", here));
    }
    let ran = done(&small);
    assert!(!is_clear(&ran), "{}", ran.stdout);
    let open = not_judged(&small);
    assert!(
        open.iter().any(|[rule, why]| rule == "home-uneven" && why.contains("at the same time")),
        "{open:?}"
    );
}

#[test]
fn homes_and_rooms_whose_names_look_alike_became_two() {
    let roster = |home: &str, room: &str| {
        format!(
            "home,room,use,heated,logger,file\n1A,living,living,yes,L-1,living.csv\n{home},{room},bedroom,yes,L-2,bedroom.csv\n"
        )
    };
    let said = SmallSite::new(SITE, &roster("1a", "bedroom")).refused();
    assert!(
        said.contains(
            "roster.csv:3: found home \"1a\", which looks like \"1A\" of line 2 (they differ by case only)"
        ),
        "{said}"
    );
    assert!(said.contains("say so in [site] of the site file: distinct = [\"1A\", \"1a\"]"), "{said}");
    for (home, room, why) in [
        ("1 A", "bedroom", "blanks only"),
        ("1\u{a0}A", "bedroom", "blanks only"),
        ("1А", "bedroom", "U+0410 that looks like a"),
        ("lA", "bedroom", "O or 0, l or 1 or I"),
        ("1A", "Living", "case only"),
        ("1A", "living\u{200b}", "blanks, case or what nobody sees"),
    ] {
        let said = SmallSite::new(SITE, &roster(home, room)).refused();
        assert!(said.contains("roster.csv:3: found ") && said.contains(why), "{said}");
    }
    // A person has said that they are two, or they are one, or differ.
    let site = SITE.replace("clock =", "distinct = [\"1A\", \"1a\"]\nclock =");
    for (site, home, room) in [
        (site.as_str(), "1a", "bedroom"),
        (SITE, "1A", "bedroom"),
        (SITE, "1B", "living"),
        (SITE, " 1A ", "bedroom"),
    ] {
        done(&SmallSite::new(site, &roster(home, room)));
    }
}
