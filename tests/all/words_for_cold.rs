//! Words that a logger writes where it is colder than it can measure: the hours are lost, and a home was accepted with a
//! word about rows set aside. Beside it stands what must stay accepted.

use std::fmt::Write;

use serde_json::Value;

use crate::small_site::{SITE, SmallSite, standing, written_time};

const ROSTER: &str = "\
home,room,use,heated,logger,file
1A,living,living,yes,L-1,living.csv
1A,bedroom,bedroom,yes,L-2,bedroom.csv
";
const DAYS: usize = 10;

/// Readings every ten minutes at about 21.5 °C; some, told by their number, are another text.
fn export(room: usize, instead: impl Fn(usize) -> Option<&'static str>) -> Vec<u8> {
    let mut text = "time,temperature (°C)\n".to_owned();
    for n in 0..DAYS * 144 {
        let h = n as f64 / 6.0;
        let degc = 21.6
            + 0.3 * (h / (3.0 + room as f64) + room as f64).sin()
            + 0.05 * (h * 4.2 + (h * 0.11).sin() * room as f64 + room as f64).sin();
        let number = format!("{degc:.2}");
        writeln!(text, "{},{}", written_time(n), instead(n).unwrap_or(&number)).unwrap();
    }
    text.into_bytes()
}

/// Where the home stands, its findings of the rule, and all that is printed.
fn audited(instead: impl Fn(usize) -> Option<&'static str>) -> (String, Vec<Value>, String) {
    let small = SmallSite::new(SITE, ROSTER);
    small.write("exports/living.csv", &export(0, instead));
    small.write("exports/bedroom.csv", &export(1, |_| None));
    let ran = small.audit();
    let findings = std::fs::read_to_string(small.out().join("findings.json")).unwrap();
    let findings: Vec<Value> = serde_json::from_str(&findings).unwrap();
    let of_rule = findings.into_iter().filter(|f| f["rule"] == "not-a-number").collect();
    let standing = standing(&ran.stdout, "1A").to_owned();
    (standing, of_rule, format!("{}\n{}", ran.stdout, ran.stderr))
}

#[test]
fn a_home_whose_logger_wrote_lo_for_hours_was_accepted() {
    for (word, such_as) in [("LO", "LO"), ("low", "LO"), ("HI", "HI"), ("overrange", "HI")] {
        let (standing, found, said) = audited(|n| (300..320).contains(&n).then_some(word));
        let [one] = found.as_slice() else { panic!("{word}: {said}") };
        let shows = one["shows"].as_str().unwrap();
        assert_eq!((&one["severity"], &one["room"]), (&"act".into(), &"living".into()), "{said}");
        assert!(standing == "record again", "{word}: {said}");
        let when = "2026-01-07 02:00 to 2026-01-07 05:20";
        assert!(shows.contains("20 of 1440 readings") && shows.contains(when), "{shows}");
        assert!(shows.contains(&format!("A logger writes {such_as} ")), "{shows}");
    }
}

#[test]
fn words_that_come_and_go_are_told_where_they_are_more_than_one_in_a_hundred() {
    let each = |n: usize| move |i: usize| i.is_multiple_of(n).then_some("LO");
    let (standing, found, said) = audited(each(70));
    assert!(standing == "record again" && found.len() == 1, "{said}");
    assert!(found[0]["shows"].as_str().unwrap().contains("18 more times"), "{}", found[0]["shows"]);
    let (standing, found, said) = audited(each(140));
    assert!(standing == "accept" && found.is_empty(), "{said}");
}

#[test]
fn what_another_word_says_is_not_told_and_the_home_is_not_clear() {
    let (standing, found, said) = audited(|n| (300..310).contains(&n).then_some("Smith away"));
    assert!(standing == "accept, watch" && found.len() == 1, "{said}");
    let told = found[0].to_string();
    assert!(told.contains("were words in the place of numbers") && !told.contains("Smith"), "{told}");
}

#[test]
fn a_word_or_a_dash_at_the_start_leaves_a_home_clear() {
    for word in ["---", "LO", "Error"] {
        let (standing, found, said) = audited(|n| (n == 0).then_some(word));
        assert!(standing == "accept" && found.is_empty(), "{word}: {said}");
    }
    // An hour, and no more.
    let (standing, found, said) = audited(|n| (300..306).contains(&n).then_some("LO"));
    assert!(standing == "accept" && found.is_empty(), "{said}");
}

#[test]
fn a_logger_that_was_out_of_its_scale_from_the_start_has_all_its_rows_in_the_books() {
    let (standing, found, said) = audited(|n| (n < 1000).then_some("LO"));
    assert!(!standing.starts_with("accept"), "{said}");
    assert!(found[0]["shows"].as_str().unwrap().contains("1000 of 1440 readings"), "{}", found[0]["shows"]);
}
