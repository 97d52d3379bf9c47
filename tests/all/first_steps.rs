//! What a crew reads first: what to do, in which order, with what in the van; and no sentence that contradicts another.

use std::fmt::Write;

use serde_json::Value;

use crate::program::{SampleAudit, run};
use crate::small_site::{SITE, SmallSite, written_time};

const SETBACK: &str =
    "[[setback]]\ndays = \"mon-sun\"\nfrom = \"22:00\"\nto = \"06:00\"\noccupied_target = \"21 °C\"\n";
const DAYS: usize = 18;

/// Readings every ten minutes; each room lives a little in its own way.
fn export(room: usize, degc: &dyn Fn(f64) -> f64) -> Vec<u8> {
    let mut text = "time,temperature (°C)\n".to_owned();
    for n in 0..DAYS * 144 {
        let life = 0.1 * (n as f64 * 0.7 + (n as f64 * 0.019).sin() * room as f64 + room as f64).sin();
        writeln!(text, "{},{:.2}", written_time(n), degc(n as f64 / 6.0) + life).unwrap();
    }
    text.into_bytes()
}

/// Home, room, use, heated, and the temperature by the hour.
type Room<'a> = (&'a str, &'a str, &'a str, &'a str, &'a dyn Fn(f64) -> f64);

fn building(site: &str, rooms: &[Room<'_>]) -> SmallSite {
    let mut roster = "home,room,use,heated,logger,file\n".to_owned();
    for (n, (home, room, purpose, heated, _)) in rooms.iter().enumerate() {
        writeln!(roster, "{home},{room},{purpose},{heated},L-{n},{n}.csv").unwrap();
    }
    let small = SmallSite::new(site, &roster);
    for (n, (_, _, _, _, degc)) in rooms.iter().enumerate() {
        small.write(&format!("exports/{n}.csv"), &export(n, degc));
    }
    small
}

/// The cases of an audit, and its page.
fn audited(small: &SmallSite) -> (Vec<Value>, String) {
    let ran = small.audit();
    assert_eq!(ran.code, Some(0), "{}", ran.stderr);
    let cases = serde_json::from_slice(&std::fs::read(small.out().join("cases.json")).unwrap()).unwrap();
    (cases, std::fs::read_to_string(small.out().join("report.html")).unwrap())
}

fn case<'a>(cases: &'a [Value], kind: &str, rooms: &str) -> &'a Value {
    let found = cases.iter().find(|c| c["kind"] == kind && c["rooms"] == rooms);
    found.unwrap_or_else(|| panic!("no {kind} of {rooms:?}: {cases:#?}"))
}

fn words<'a>(case: &'a Value, of: &str) -> &'a str {
    case[of].as_str().unwrap()
}

/// The row of a home in the list of what to do.
fn row<'a>(page: &'a str, home: &str) -> &'a str {
    let list = page.split("<table class=\"todo\">").nth(1).unwrap().split("</table>").next().unwrap();
    list.split("<tr>").find(|row| row.contains(&format!(">{home}</a>"))).unwrap()
}

/// The cell of a row.
fn cell<'a>(row: &'a str, of: &str) -> &'a str {
    row.split(&format!("data-of=\"{of}\">")).nth(1).unwrap().split("</td>").next().unwrap()
}

/// A page without its marks, blanks alike.
fn plain(page: &str) -> String {
    let text: String =
        page.split('<').filter_map(|part| part.split_once('>')).map(|(_, text)| text).collect();
    text.replace('\u{a0}', " ").split_whitespace().collect::<Vec<_>>().join(" ")
}

fn warm(_: f64) -> f64 {
    21.6
}

#[test]
fn a_cold_room_without_heating_sends_nobody_to_a_remote_control() {
    let cold_late = |h: f64| if h < 150.0 { 20.6 } else { 19.2 };
    let small = building(
        SITE,
        &[
            ("1A", "living", "living", "yes", &|_| 21.0),
            ("1A", "bedroom", "bedroom", "yes", &|_| 20.8),
            ("1A", "kitchen", "kitchen", "no", &cold_late),
            ("1B", "living", "living", "yes", &|_| 18.6),
            ("1B", "bedroom", "bedroom", "yes", &|_| 18.4),
        ],
    );
    let (cases, page) = audited(&small);
    let kitchen = cases.iter().find(|c| c["rooms"] == "kitchen").unwrap();
    assert!(!words(kitchen, "next_step").contains("setting"), "{kitchen:#}");
    for thing in ["remote control", "filter", "gauge set"] {
        assert!(!words(kitchen, "bring").contains(thing), "{kitchen:#}");
    }
    // Two heated rooms are no logger in a bad place: what it takes to see what the heating gives goes along.
    let both = case(&cases, "too-cold", "living; bedroom");
    let step = words(both, "next_step");
    assert!(step.starts_with("look at what the heating") && step.contains("refrigerant"), "{step}");
    assert!(words(both, "bring").contains("gauge set"), "{both:#}");
    assert!(cell(row(&page, "1B"), "Bring").contains("gauge set"));
    assert!(words(both, "sentence").contains(" since the first day (5 Jan)"), "{both:#}");
}

#[test]
fn the_number_of_a_headline_is_the_number_of_its_evidence() {
    let rooms: [Room<'_>; 4] = [
        ("1A", "living", "living", "yes", &warm),
        ("1A", "bedroom 1", "bedroom", "yes", &|h| if h < 250.0 { 19.0 } else { 20.4 }),
        ("1A", "bedroom 2", "bedroom", "yes", &|_| 19.0),
        ("1A", "study", "other", "yes", &|_| 21.4),
    ];
    let (cases, page) = audited(&building(SITE, &rooms));
    let cold = case(&cases, "too-cold", "bedroom 1; bedroom 2");
    let (sentence, decided) = (words(cold, "sentence"), words(cold, "decided"));
    assert!(sentence.contains("(bedroom 2, ") && decided.contains("bedroom 2 below"), "{cold:#}");
    let hours = sentence.split("(bedroom 2, ").nth(1).unwrap().split(" h").next().unwrap();
    let told: Vec<&str> = decided.split(" for ").nth(1).unwrap().split(' ').collect();
    let number = |text: &str| text.parse::<f64>().unwrap();
    assert_eq!(hours, format!("{:.0} of {:.0}", number(told[0]), number(told[2])), "{cold:#}");
    // How far beside how long: 19 °C where 20 °C is asked for.
    assert!(sentence.contains(" h below the band by 1.0 K"), "{cold:#}");
    // How sure it is stands beside it.
    assert_eq!(cell(row(&page, "1A"), "How sure"), words(cold, "sure"));
    // Rooms that a crew goes to are named, however many they are.
    assert!(cell(row(&page, "1A"), "Room").replace('\u{a0}', " ").contains("bedroom 1, bedroom 2"), "{page}");
}

#[test]
fn readings_in_the_wrong_unit_are_work_for_the_desk_and_for_nobody_else() {
    let rooms: [Room<'_>; 4] = [
        ("1A", "living", "living", "yes", &warm),
        ("1A", "bedroom", "bedroom", "yes", &|_| 21.2),
        ("1A", "kitchen", "kitchen", "no", &|_| 21.0),
        ("1A", "hall", "hall", "no", &|_| 21.3 * 1.8 + 32.0),
    ];
    let small = building(SITE, &rooms);
    let (cases, page) = audited(&small);
    let unit = case(&cases, "unit", "hall");
    assert!(words(unit, "sentence").starts_with("°C or °F in doubt in hall"), "{unit:#}");
    assert!(words(unit, "next_step").starts_with("at the desk, no visit"), "{unit:#}");
    let findings: Vec<Value> =
        serde_json::from_slice(&std::fs::read(small.out().join("findings.json")).unwrap()).unwrap();
    let thin = findings.iter().find(|f| f["rule"] == "thin-coverage" && f["room"] == "hall").unwrap();
    assert!(!words(thin, "next_step").contains("replace"), "its readings are all there: {thin:#}");
    assert!(
        !page.split("How this was found").next().unwrap().contains("replace it and record again"),
        "{page}"
    );
    assert_eq!(cell(row(&page, "1A"), "Bring"), "–", "nobody goes there");
}

#[test]
fn homes_that_lost_heat_in_the_same_days_are_told_together_and_come_first() {
    let out = |from: f64, to: f64| {
        move |h: f64| if (from..to).contains(&h) { 21.6 - 9.0 * ((h - from) / 8.0).min(1.0) } else { 21.6 }
    };
    let (long, short) = (out(200.0, 250.0), out(226.0, 250.0));
    let rooms: [Room<'_>; 10] = [
        ("1A", "living", "living", "yes", &|_| 18.4),
        ("1A", "bedroom", "bedroom", "yes", &|_| 18.5),
        ("1B", "living", "living", "yes", &short),
        ("1B", "bedroom", "bedroom", "yes", &|h| short(h) - 0.3),
        ("1C", "living", "living", "yes", &long),
        ("1C", "bedroom", "bedroom", "yes", &|h| long(h) - 0.3),
        ("1D", "living", "living", "yes", &warm),
        ("1D", "bedroom", "bedroom", "yes", &|_| 21.3),
        ("1E", "living", "living", "yes", &|_| 21.5),
        ("1E", "bedroom", "bedroom", "yes", &|_| 21.2),
    ];
    let small = building(SITE, &rooms);
    let ran = small.audit();
    let order: Vec<&str> =
        ran.stdout.lines().filter(|l| l.contains("  visit")).filter_map(|l| l.split("  ").next()).collect();
    assert_eq!(order, ["1C", "1B", "1A"], "{}", ran.stdout);
    let (cases, page) = audited(&small);
    let text = plain(&page);
    assert!(text.contains("1C, 1B lost heat in the same days, 13–15 Jan 2026: look for one cause"), "{text}");
    let longest = cases.iter().find(|c| c["home"] == "1C" && c["kind"] == "no-heat").unwrap();
    assert!(words(longest, "sentence").starts_with("No heat for "), "{longest:#}");
    assert!(words(longest, "sentence").ends_with("; heat came back."), "{longest:#}");
    assert!(cell(row(&page, "1C"), "When").contains("heat is back"));
}

#[test]
fn the_van_is_packed_for_every_job_of_a_home_and_every_job_is_on_its_list() {
    let audit = SampleAudit::get();
    let page = std::fs::read_to_string(audit.path("report.html")).unwrap();
    let mut jobs = 0;
    for case in audit.csv("cases.csv") {
        let section = page.split(&format!("id=\"home-{}\"", case["home"])).nth(1).unwrap();
        let list = plain(section.split("<section").next().unwrap().split("signed").next().unwrap());
        let first: String = case["next_step"].replace('`', "").chars().skip(1).collect();
        if case["course"] == "over" || !["urgent", "act", "watch"].contains(&case["severity"].as_str()) {
            continue;
        }
        if case["next_step"].starts_with("nothing") {
            assert!(!list.contains(&first), "{first:?} is no work, and on the list of {}", case["home"]);
            continue;
        }
        assert!(list.contains(&first), "{first:?} is not on the list of {}: {list}", case["home"]);
        jobs += 1;
        if case["severity"] != "watch" && case["bring"] != "nothing" {
            let bring = cell(row(&page, &case["home"]), "Bring");
            assert!(
                case["bring"].split(", ").all(|thing| bring.contains(thing)),
                "{}: {bring}",
                case["home"]
            );
        }
    }
    assert!(jobs > 3, "{jobs}");
}

#[test]
fn a_room_that_never_cooled_has_nothing_to_recover() {
    let falls = |h: f64| if (h % 24.0) < 7.0 { 19.0 } else { 21.6 };
    let rooms: [Room<'_>; 2] =
        [("1A", "living", "living", "yes", &|_| 22.4), ("1A", "bedroom", "bedroom", "yes", &falls)];
    let (_, page) = audited(&building(&format!("{SITE}{SETBACK}"), &rooms));
    let table = page.split("<caption class=\"unseen\">Warm again after setback").nth(1).unwrap();
    let table = table.split("</table>").next().unwrap();
    let living = table.split("<tr>").find(|row| row.contains(">living<")).unwrap();
    assert!(living.contains("nothing to recover") && !living.contains("not reached"), "{living}");
    let bedroom = table.split("<tr>").find(|row| row.contains(">bedroom<")).unwrap();
    assert!(!bedroom.contains("nothing to recover"), "{bedroom}");
}

#[test]
fn what_is_asked_and_which_rooms_are_heated_stand_on_the_open_page() {
    let rooms: [Room<'_>; 3] = [
        ("1A", "living", "living", "yes", &warm),
        ("1A", "bedroom", "bedroom", "yes", &|_| 21.2),
        ("1A", "hall", "hall", "no", &|_| 21.0),
    ];
    let (_, page) = audited(&building(&format!("{SITE}{SETBACK}"), &rooms));
    let open = plain(page.split("<details").next().unwrap());
    assert!(open.contains("Asked for: a band of 20.0 °C to ") && open.contains("back at 21.0 °C"), "{open}");
    assert!(plain(&page).contains("Heated: living, bedroom. Not heated: hall."));
}

#[test]
fn the_sheet_of_a_complaint_says_what_may_be_said_and_against_what_it_was_held() {
    let rule = "[heat_rule]\nwindow = [{ from = \"00:00\", to = \"24:00\", minimum = \"20 °C\" }]\n";
    let small = building(
        &format!("{SITE}{rule}"),
        &[("1A", "living", "living", "yes", &warm), ("1B", "living", "living", "yes", &|_| 18.0)],
    );
    let sheet = |home: &str| {
        let ran = run(
            small.folder(),
            &[
                "complaint",
                "site.toml",
                "--home",
                home,
                "--from",
                "2026-01-07",
                "--to",
                "2026-01-08",
                "--out",
                "sheets",
            ],
        );
        assert_eq!(ran.code, Some(0), "{}", ran.stderr);
        std::fs::read_to_string(small.folder().join(format!("sheets/complaint-{home}-2026-01-07.html")))
            .unwrap()
    };
    let yes = sheet("1A");
    let text = plain(&yes);
    let answer = text.find("Yes, as far as loggers can tell.").unwrap();
    let beside = text.find("no ordinance or lease was named or checked").unwrap();
    assert!(answer < beside && beside < text.find("Hours below the minimum").unwrap(), "{text}");
    assert!(
        text.contains(
            "no hour that was judged was below the minimum. May not be said: that the law was kept"
        ),
        "{text}"
    );
    assert!(yes.contains("<a href=\"complaint-1A-2026-01-07.json\">"), "{yes}");
    // The lowest reading is held against the minimum of its own hour.
    let numbers: Value = serde_json::from_slice(
        &std::fs::read(small.folder().join("sheets/complaint-1A-2026-01-07.json")).unwrap(),
    )
    .unwrap();
    let margin = numbers["sheet"]["rooms"][0]["lowest_margin_k"].as_f64().unwrap();
    assert!(
        (1.4..1.6).contains(&margin) && yes.contains(&format!("data-of=\"least margin\">{margin:.1} K")),
        "{margin}"
    );
    assert!(plain(&sheet("1B")).contains("it was certainly below the minimum for the hours named."));
}

/// The section of a home.
fn section<'a>(page: &'a str, home: &str) -> &'a str {
    page.split(&format!("id=\"home-{home}\"")).nth(1).unwrap().split("<section").next().unwrap()
}

#[test]
fn homes_stand_in_the_order_that_the_list_says_and_show_the_side_of_the_band_that_they_are_about() {
    let supper = |h: f64| if (h % 24.0) > 18.0 && (h % 24.0) < 20.5 { 29.0 } else { 21.6 };
    let rooms: [Room<'_>; 6] = [
        ("1A", "kitchen", "kitchen", "yes", &supper),
        ("1A", "bedroom", "bedroom", "yes", &|_| 21.5),
        ("1B", "living", "living", "yes", &|_| 19.3),
        ("1B", "bedroom", "bedroom", "yes", &|_| 21.0),
        ("1C", "living", "living", "yes", &|_| 17.2),
        ("1C", "bedroom", "bedroom", "yes", &|_| 18.9),
    ];
    let small = building(SITE, &rooms);
    let ran = small.audit();
    let (cases, page) = audited(&small);
    // The colder home first, then the one that is a little too cold, then the one that is too warm, everywhere.
    let order: Vec<&str> =
        ran.stdout.lines().filter(|l| l.contains("  visit")).filter_map(|l| l.split("  ").next()).collect();
    assert_eq!(order, ["1C", "1B"], "{}", ran.stdout);
    assert!(
        ran.stdout.contains("1C  visit          living and bedroom: too cold by 2.8 K since"),
        "{}",
        ran.stdout
    );
    let list = page.split("<table class=\"todo\">").nth(1).unwrap();
    let place = |text: &str, home: &str| text.find(&format!(">{home}</a>")).unwrap();
    assert!(place(list, "1C") < place(list, "1B") && place(list, "1B") < place(list, "1A"));
    assert!(plain(list).contains("then cold rooms (the most hours times degrees below the band first)"));
    // How sure: the low end, as far as it is from its limit, a twentieth of the hours.
    let cold = case(&cases, "too-cold", "living; bedroom");
    assert_eq!(words(cold, "sure"), "sure: at least 432 h below the band, the limit is 22 h");
    // A check that a criterion asks for is on the list of the home, once and for all of its loggers.
    let to_do = |home: &str| {
        let text = plain(section(&page, home));
        text.split("To do").nth(1).unwrap().split("Checked by").next().unwrap().to_owned()
    };
    for home in ["1B", "1C"] {
        let list = to_do(home);
        assert_eq!(list.matches("Lay all loggers of the home side by side").count(), 1, "{list}");
        assert!(list.contains("Why: evenness between the rooms, living.whole home"), "{list}");
    }
    // Cold is shown as cold, and heat as heat.
    let [warm, cold] = ["1A", "1C"].map(|home| plain(section(&page, home)));
    assert!(warm.contains("Kitchen: above the band, day by hour Above by"), "{warm}");
    assert!(
        warm.contains("Days with hours above the band") && !warm.contains("below the band, day"),
        "{warm}"
    );
    assert!(cold.contains("Living: below the band, day by hour Below by"), "{cold}");
    // Peaks of two hours in a kitchen may be suppers, and whoever goes there reads so.
    let kitchen = case(&cases, "overheats", "kitchen");
    assert!(
        words(kitchen, "could_also_be").starts_with("cooking (short peaks at meal times)"),
        "{kitchen:#}"
    );
    assert!(to_do("1A").contains("Why: too warm in kitchen. Could also be: cooking"), "{warm}");
    assert!(!cold.contains("cooking"), "{cold}");
}
