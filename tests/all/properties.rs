//! For any bytes: no panic, every line accounted for, readings rising.

use std::collections::BTreeMap;

use evenrooms::exports::{Files, Opened, Purpose, inspect, open_home};
use evenrooms::site::{Site, read_site_file};
use proptest::prelude::*;

fn site() -> Site {
    let site =
        "[site]\nname = \"x\"\ntime_zone = \"America/Chicago\"\nroster = \"roster.csv\"\nclock = \"civil\"\n";
    let roster = "home,room,use,heated,logger,file\n1,living,living,yes,L-1,a.csv\n";
    read_site_file("site.toml", site).with_roster("roster.csv", roster.as_bytes()).unwrap()
}

fn open(bytes: &[u8]) -> Opened {
    let site = site();
    let files: Files = BTreeMap::from([("a.csv".to_owned(), Ok(bytes.to_vec()))]);
    open_home(&site, &site.homes[0], &files, Purpose::Audit).unwrap().remove(0).remove(0)
}

/// What logger exports are made of, in any order.
fn token() -> impl Strategy<Value = String> {
    let words = [
        "2026-01-05",
        "05.01.2026",
        "1/5/2026",
        "26-01-05",
        "5 Jan 2026",
        "00:10",
        "12:10:00",
        "1:10 PM",
        "02:30",
        "2026-03-08",
        "1767592800",
        "46027.0069",
        "21.4",
        "21,4",
        "-3",
        "70.5F",
        "21.4 °C",
        "---",
        "NaN",
        "-999",
        "85",
        "time",
        "temperature (°C)",
        "Temp [F]",
        "logger",
        "L-1",
        "unit",
        "GMT-05:00",
        "Z",
        "+01:00",
        "\"",
        "\u{feff}",
        "\u{fffd}",
        "",
        " ",
    ];
    let glue = [",", ";", "\t", "|", " ", "  ", "\n", "\n", "\n", "\r\n"];
    (prop::sample::select(words.to_vec()), prop::sample::select(glue.to_vec()))
        .prop_map(|(w, g)| format!("{w}{g}"))
}

fn check(opened: &Opened) {
    for ledger in &opened.ledgers {
        assert_eq!(ledger.seen, ledger.kept + ledger.set_aside_total());
    }
    assert_eq!(opened.ledgers.iter().map(|l| l.kept).sum::<u64>(), opened.readings.len() as u64);
    assert!(opened.readings.times_ms().windows(2).all(|w| w[0] < w[1]));
}

proptest! {
    #![proptest_config(crate::wild::config(400))]

    #[test]
    fn any_bytes_are_read_or_refused(bytes in prop::collection::vec(any::<u8>(), 0..1500)) {
        check(&open(&bytes));
        serde_json::to_string(&inspect("a.csv", &bytes, None)).unwrap();
    }

    #[test]
    fn any_words_of_loggers_are_accounted_for(tokens in prop::collection::vec(token(), 0..300)) {
        let text = tokens.concat();
        let opened = open(text.as_bytes());
        check(&opened);
        let read = opened.ledgers.iter().map(|l| l.lines()).sum::<u64>();
        // A file that is asked about has no books.
        prop_assert!(read == 0 || read == text.lines().count() as u64, "{read} of {} lines: {text:?}", text.lines().count());
    }

    #[test]
    fn rows_with_any_dirt_between_them_are_accounted_for(tokens in prop::collection::vec(token(), 0..60), rows in 2_u32..60) {
        let mut text = String::from("time,temperature (°C)\n");
        for i in 0..rows {
            text.push_str(&format!("2026-01-05 {:02}:{:02},{}.5\n", i / 60, i % 60, 20 + i % 3));
            if let Some(dirt) = tokens.get(i as usize) {
                text.push_str(dirt);
            }
        }
        let opened = open(text.as_bytes());
        check(&opened);
        prop_assert_eq!(opened.ledgers[0].lines(), text.lines().count() as u64, "{:?}", text);
    }
}
