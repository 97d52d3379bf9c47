//! Slips of the roster that would give a room the readings of another.

use insta::assert_snapshot;

use crate::small_site::{SITE, SmallSite, written_time};

/// Times and three columns of values, ten minutes apart for two days.
fn three_columns(header: &str) -> Vec<u8> {
    let row = |n: usize| {
        let x = 20.5 + (n % 6) as f64 / 10.0;
        format!("{},{x:.1},{:.1},{:.1}\n", written_time(n), x - 1.0, x + 1.0)
    };
    format!("{header}\n{}", (0..288).map(row).collect::<String>()).into_bytes()
}

fn with_rows(rows: &str) -> SmallSite {
    let small = SmallSite::new(SITE, &format!("home,room,use,heated,logger,file,column\n{rows}"));
    small.write("exports/rooms.csv", &three_columns("time,living °C,bedroom °C,bath °C"));
    small
}

fn means(small: &SmallSite) -> Vec<String> {
    let metrics = std::fs::read_to_string(small.out().join("metrics.csv")).unwrap();
    metrics.lines().filter(|l| l.contains(",whole record,all,mean,")).map(str::to_owned).collect()
}

#[test]
fn two_columns_of_one_file_are_not_one_room() {
    let small = with_rows(
        "1A,living,living,yes,L-1,rooms.csv,living °C\n1A,living,living,yes,L-1,rooms.csv,bedroom °C\n",
    );
    assert_snapshot!(small.refused(), @r"
    evenrooms: roster.csv:3: found rooms.csv for 1A living again, as in line 2, expected each download of a logger once
      hint: keep the row with the `column` that holds the room's temperature; columns of several rooms are several rooms
    ");
}

#[test]
fn a_column_that_two_rooms_name_differently_is_in_neither() {
    let small = with_rows(
        "1A,living,living,yes,L-1,rooms.csv,bedroom °C\n1A,bedroom,bedroom,yes,L-2,rooms.csv,3\n1A,bath,bathroom,no,L-3,rooms.csv,bath °C\n",
    );
    let ran = small.audit();
    assert_eq!(ran.code, Some(1));
    assert_snapshot!(ran.stderr, @r"
    note: rooms.csv: line 2 (1A living, logger L-1) and line 3 (1A bedroom, logger L-2) of the roster take the same readings of it, expected a series of its own for each room
      hint: correct `file` or `column` of the row that is wrong; until then neither room has these readings
    ");
    let means = means(&small);
    assert!(means.len() == 1 && means[0].starts_with("1A,bath,"), "{means:?}");
}

#[test]
fn a_file_that_rooms_of_two_homes_name_is_in_neither() {
    let small = SmallSite::new(
        SITE,
        "home,room,use,heated,logger,file\n1A,living,living,yes,L-1,living.csv\n1A,bedroom,bedroom,yes,L-2,bedroom.csv\n1B,living,living,yes,L-3,living.csv\n",
    );
    let ran = small.audit();
    assert_eq!(ran.code, Some(1));
    assert_eq!(ran.stderr.matches("take the same readings of it").count(), 2, "{}", ran.stderr);
    let means = means(&small);
    assert!(means.len() == 1 && means[0].starts_with("1A,bedroom,"), "{means:?}");
}

#[test]
fn a_logger_that_moved_is_in_both_rooms_one_after_the_other() {
    let small = SmallSite::new(
        SITE,
        "home,room,use,heated,logger,file,from,to\n1A,living,living,yes,L-1,living.csv,,2026-01-05\n1A,bedroom,bedroom,yes,L-2,living.csv,2026-01-06,\n",
    );
    assert_eq!(small.audit().code, Some(0));
    assert_eq!(means(&small).len(), 2);
}

#[test]
fn a_zone_without_a_place_is_refused() {
    for zone in ["EST", "CET", "Etc/GMT+5"] {
        let small = SmallSite::new(&SITE.replace("America/Chicago", zone), crate::small_site::ROSTER);
        let said = small.refused();
        assert!(said.contains("site.toml:3") && said.contains("is no Area/City"), "{said}");
    }
}

#[test]
fn a_record_of_another_year_is_told() {
    let small = SmallSite::new(SITE, &format!("{}1A,hall,hall,no,L-3,hall.csv\n", crate::small_site::ROSTER));
    let other_year = String::from_utf8(crate::small_site::two_days()).unwrap().replace("2026-", "2025-");
    small.write("exports/hall.csv", other_year.as_bytes());
    let ran = small.audit();
    assert!(ran.stderr.contains("hall.csv: logger L-3 in 1A hall recorded 2025-01-05"), "{}", ran.stderr);
    assert!(ran.stderr.contains("they share no time"), "{}", ran.stderr);
}

#[test]
fn times_without_seconds_are_told() {
    let small = SmallSite::new(SITE, crate::small_site::ROSTER);
    let row = |n: u32| {
        let (hour, minute) = (n / 120, n / 2 % 60);
        format!("2026-01-05 {hour:02}:{minute:02},{:.2}\n", 20.5 + f64::from(n % 7) / 10.0)
    };
    let text = format!("time,temperature (°C)\n{}", (0..2000).map(row).collect::<String>());
    small.write("exports/living.csv", text.as_bytes());
    let ran = small.audit();
    assert_eq!(ran.code, Some(1));
    assert!(ran.stderr.contains("times without seconds look like this"), "{}", ran.stderr);
}

#[test]
fn one_file_has_one_name_however_it_is_spelled() {
    let small = SmallSite::new(
        SITE,
        "home,room,use,heated,logger,file\n1A,living,living,yes,L-1,living.csv\n1B,living,living,yes,L-3,./x/../living.csv\n",
    );
    std::fs::create_dir(small.folder().join("exports/x")).unwrap();
    let ran = small.audit();
    assert_eq!(ran.stderr.matches("take the same readings of it").count(), 2, "{}", ran.stderr);
}

#[test]
fn the_books_count_only_the_rows_that_two_rooms_were_given() {
    let small = SmallSite::new(
        SITE,
        "home,room,use,heated,logger,file\n1A,living,living,yes,L-1,long.csv\n1A,bedroom,bedroom,yes,l-1,long.csv\n1A,bath,bathroom,no,L-2,long.csv\n",
    );
    let row = |n: u32| {
        format!(
            "2026-01-{:02} {:02}:{:02},L-{},20.{}\n",
            5 + n / 288,
            n / 12 % 24,
            n / 2 % 6 * 10,
            n % 2 + 1,
            n % 9
        )
    };
    let text = format!("time,logger,temperature (°C)\n{}", (0..576).map(row).collect::<String>());
    small.write("exports/long.csv", text.as_bytes());
    let ran = small.audit();
    assert_eq!(ran.code, Some(1), "{}", ran.stderr);
    let loggers = std::fs::read_to_string(small.out().join("loggers.csv")).unwrap();
    let counts: Vec<Vec<&str>> =
        loggers.lines().skip(1).map(|l| l.split(',').skip(4).take(3).collect()).collect();
    assert_eq!(counts, [["288", "0", "288"], ["288", "0", "288"], ["288", "288", "0"]], "{loggers}");
}
