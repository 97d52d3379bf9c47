//! Dates of a side-by-side check that name a time in which the loggers stood in their rooms: what lies between the rooms would
//! be taken off as offsets. Beside each stands a check that was one, and must stay accepted.

use std::fmt::Write;

use crate::small_site::{SITE, SmallSite};
use crate::unnoticed::{ROOMS, ROSTER, done, found, in_a_box, is_clear, of_loggers};

/// A record of 15 days from 2026-01-05 on, in hours: part of it, and how often it is written.
fn record(hours: std::ops::Range<usize>, every_min: usize, degc: impl Fn(f64) -> f64) -> Vec<u8> {
    let mut text = "time,temperature (°C)\n".to_owned();
    for minute in (hours.start * 60..hours.end * 60).step_by(every_min) {
        let h = minute as f64 / 60.0;
        let (day, hour) = (5 + minute / 1440, minute / 60 % 24);
        // What a sensor does anyhow.
        let noise = 0.03 * (h * 977.0).sin();
        writeln!(text, "2026-01-{day:02} {hour:02}:{:02},{:.2}", minute % 60, degc(h) + noise).unwrap();
    }
    text.into_bytes()
}

/// Dates of a check: a bare one is that whole day.
fn check(from: &str, to: &str) -> String {
    format!("[colocation]\nfrom = \"2026-01-{from}\"\nto = \"2026-01-{to}\"\n")
}

/// Rooms 1.6 K apart, of which the living room is too cold: they swing with the day, and a little on their own.
fn apart(room: usize, h: f64) -> f64 {
    let level = 20.4 + [-0.8, -0.3, 0.3, 0.8][room];
    level + 0.3 * (h * 0.26).sin() + 0.12 * (h / (5.0 + room as f64) + room as f64).sin()
}

/// Rooms as even as 0.3 K.
fn even(room: usize, h: f64) -> f64 {
    21.6 + 0.1 * room as f64 + 0.3 * (h * 0.26).sin() + 0.2 * (h / (3.0 + room as f64) + room as f64).sin()
}

/// Four loggers whose rooms do as told.
fn site(more: &str, every_min: usize, degc: impl Fn(usize, f64) -> f64) -> SmallSite {
    let small = SmallSite::new(&format!("{SITE}{more}"), ROSTER);
    for (room, name) in ROOMS.iter().enumerate() {
        small.write(&format!("exports/{name}.csv"), &record(0..360, every_min, |h| degc(room, h)));
    }
    small
}

const SAID: &str = "the loggers stand to each other as they do before and after it";

#[test]
fn rooms_apart_were_made_alike_by_side_by_side_dates_in_the_season() {
    assert!(!is_clear(&done(&site("", 10, apart))), "the living room is cold");
    let season = [("09", "10"), ("09 12:00", "10 00:00"), ("08", "11"), ("05", "06"), ("18", "20")];
    for (from, to) in season {
        for every_min in [10, 60] {
            let said = site(&check(from, to), every_min, apart).refused();
            assert!(said.contains(SAID) && said.contains("site.toml:10"), "{from} to {to}: {said}");
            assert!(said.contains("accept_without_evidence = true"), "{said}");
        }
    }
}

#[test]
fn checks_of_loggers_that_lay_together_stay_accepted() {
    let first = |h: f64| h < 24.0;
    let last = |h: f64| h >= 336.0;
    let both = |h: f64| first(h) || last(h);
    let checks: [(_, _, &dyn Fn(f64) -> bool); 4] =
        [("05", "05", &first), ("19", "19", &last), ("05", "05", &both), ("05 08:00", "05 20:00", &first)];
    for (from, to, in_box) in checks {
        for (off_k, every_min) in
            [([0.1, -0.2, 0.0, 0.15], 5), ([0.9, -0.2, 0.0, -0.9], 5), ([0.3, -0.1, 0.2, -0.6], 60)]
        {
            for room_of in [apart, even] {
                let degc = |room: usize, h: f64| {
                    off_k[room] + if in_box(h) { in_a_box(h) } else { room_of(room, h) }
                };
                let small = site(&check(from, to), every_min, degc);
                let ran = done(&small);
                let taken = of_loggers(&small, "offset_k");
                assert!(taken.iter().all(|k| !k.is_empty()), "{from} to {to}: {taken:?}\n{}", ran.stderr);
            }
        }
    }
}

#[test]
fn later_placements_decide_about_a_check_of_its_own_download() {
    let roster: String = ROOMS.iter().zip(1..).fold(
        "home,room,use,heated,logger,file,from,to\n".to_owned(),
        |text, (room, n)| {
            let (kind, row) = (if *room == "study" { "other" } else { room }, format!("1A,{room}"));
            text + &format!("{row},{kind},yes,L-{n},first-{room}.csv,,2026-01-05\n{row},{kind},yes,L-{n},{room}.csv,2026-01-07,\n")
        },
    );
    let of = |first: &dyn Fn(usize, f64) -> f64| {
        let small = SmallSite::new(&format!("{SITE}{}", check("05", "05")), &roster);
        for (room, name) in ROOMS.iter().enumerate() {
            let off_k = [0.3, -0.2, 0.0, -0.4][room];
            small.write(&format!("exports/first-{name}.csv"), &record(0..24, 10, |h| first(room, h) + off_k));
            small.write(&format!("exports/{name}.csv"), &record(48..360, 10, |h| apart(room, h) + off_k));
        }
        small
    };
    let taken = |small: &SmallSite| of_loggers(small, "offset_k").iter().filter(|k| !k.is_empty()).count();
    let together = of(&|_, h| in_a_box(h));
    done(&together);
    assert_eq!(taken(&together), 8);
    assert!(of(&apart).refused().contains(SAID));
}

#[test]
fn what_is_taken_off_on_the_word_of_the_site_file_is_told() {
    let word = format!("{}accept_without_evidence = true\n", check("09", "10"));
    let small = site(&word, 10, apart);
    let ran = done(&small);
    let told = found(&small, "offset-on-its-word");
    assert_eq!(told.len(), 4, "{told:?}");
    assert!(
        told.iter().all(|f| f[1] == "watch" && f[2].contains("nothing in the readings shows")),
        "{told:?}"
    );
    assert!(!is_clear(&ran), "{}", ran.stdout);
    // In a true check there is nothing to take its word for.
    let word = word.replace("01-09", "01-05").replace("01-10", "01-05");
    let small =
        site(&word, 10, |room, h| if h < 24.0 { in_a_box(h) + 0.2 * room as f64 } else { even(room, h) });
    done(&small);
    assert!(found(&small, "offset-on-its-word").is_empty());
}
