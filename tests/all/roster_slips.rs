//! Slips of the roster: those that would give a room the readings of another, and those that spreadsheets make.

use insta::assert_snapshot;

use crate::small_site::{ROSTER, SITE, SmallSite, written_time};

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
fn lines_are_counted_where_they_end_with_two_characters() {
    let rows = "home,room,use,heated,logger,file,column\n1A,living,living,yes,L-1,rooms.csv,living °C\n1A,decide,bedroom,yes,L-2,rooms.csv,bedroom °C\n";
    let small = SmallSite::new(SITE, &rows.replace('\n', "\r\n"));
    small.write("exports/rooms.csv", &three_columns("time,living °C,bedroom °C,bath °C"));
    assert!(small.refused().contains("roster.csv:3: found `room` = \"decide\""), "{}", small.refused());
}

#[test]
fn a_column_that_two_rooms_name_differently_is_in_neither() {
    let small = with_rows(
        "1A,living,living,yes,L-1,rooms.csv,bedroom °C\n1A,bedroom,bedroom,yes,L-2,rooms.csv,3\n1A,bath,bathroom,no,L-3,rooms.csv,bath °C\n",
    );
    let ran = small.audit();
    assert_eq!(ran.code, Some(1));
    assert_snapshot!(ran.stderr, @r"
    note: exports: the roster does not name 2 of the files: bedroom.csv, living.csv
      hint: give each a row in the roster, or move it out of the exports folder
    note: rooms.csv: line 2 (1A living, logger L-1) and line 3 (1A bedroom, logger L-2) of the roster take the same readings of it, expected a series of its own for each room
      hint: correct `file` or `column` of the row that is wrong; until then neither room has these readings
    ");
    let means = means(&small);
    assert!(means.len() == 1 && means[0].starts_with("Alder Row,1A,bath,"), "{means:?}");
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
    assert!(means.len() == 1 && means[0].starts_with("Alder Row,1A,bedroom,"), "{means:?}");
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
    assert_eq!(ran.code, Some(0), "{}", ran.stderr);
    let findings = std::fs::read_to_string(small.out().join("findings.csv")).unwrap();
    assert!(
        findings.contains("Logger L-3 in hall recorded 2025-01-05 00:00 to 2025-01-06 23:50"),
        "{findings}"
    );
    assert!(
        findings.contains("out-of-period/1A/hall/L-3") && findings.contains("363 days away"),
        "{findings}"
    );
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
        loggers.lines().skip(1).map(|l| l.split(',').skip(5).take(3).collect()).collect();
    assert_eq!(counts, [["288", "0", "288"], ["288", "0", "288"], ["288", "288", "0"]], "{loggers}");
}

/// Coverage of both rooms of a site whose bedroom's logger has stood there from and to these.
fn coverages(from: &str, to: &str, more_rows: &str) -> Vec<String> {
    let roster = format!(
        "home,room,use,heated,logger,file,from,to\n1A,living,living,yes,L-1,living.csv,,\n1A,bedroom,bedroom,yes,L-2,bedroom.csv,{from},{to}\n{more_rows}"
    );
    let small = SmallSite::new(SITE, &roster);
    small.write("exports/hall.csv", &crate::small_site::two_days());
    let ran = small.audit();
    assert_eq!(ran.code, Some(0), "{}", ran.stderr);
    first_and_last(&small, "L-2")
}

/// First and last reading of a logger.
fn first_and_last(small: &SmallSite, logger: &str) -> Vec<String> {
    let rows = std::fs::read_to_string(small.out().join("loggers.csv")).unwrap();
    let row = rows.lines().find(|l| l.contains(logger)).unwrap();
    row.split(',').skip(8).take(2).map(str::to_owned).collect()
}

#[test]
fn dates_that_a_spreadsheet_rewrote_are_read_in_the_order_that_any_of_them_tells() {
    // The record goes from 2026-01-05 to the end of 2026-01-06, local time: 06:00 to 06:00 UTC.
    let written = coverages("2026-01-05 12:00", "2026-01-06", "");
    assert_eq!(written, ["2026-01-05T18:00:00Z", "2026-01-07T05:50:00Z"]);
    let hall = "1A,hall,hall,no,L-3,hall.csv,";
    assert_eq!(coverages("1/5/2026 12:00 PM", "1/6/2026", &format!("{hall},12/31/2026\n")), written);
    assert_eq!(coverages("05.01.2026 12:00", "06.01.2026", &format!("{hall}24.12.2025,\n")), written);
    assert_eq!(coverages("2026/1/5 12:00", "2026.01.06", ""), written);
}

#[test]
fn dates_that_no_cell_tells_are_asked_for_once() {
    let roster = "home,room,use,heated,logger,file,from,to\n1A,living,living,yes,L-1,living.csv,5/5/2026,\n1A,bedroom,bedroom,yes,L-2,bedroom.csv,1/5/2026,1/6/2026\n1A,hall,hall,no,L-2,bedroom.csv,1/7/2026,\n";
    assert_snapshot!(SmallSite::new(SITE, roster).refused(), @r#"
    evenrooms: roster.csv:3: found `from` = "1/5/2026" (and 2 more like it), which can be read with the day first or with the month first, expected dates with the year first, such as 2026-01-05
      hint: write these dates with the year first; one date with a day after the 12th would tell the order of all of them too
    "#);
    let both = roster.replace("5/5/2026", "31/1/2026").replace("1/6/2026", "1/16/2026");
    assert_snapshot!(SmallSite::new(SITE, &both).refused(), @r#"
    evenrooms: roster.csv:2: found `from` = "31/1/2026" with the day first, and in line 3 `to` = "1/16/2026" with the month first, expected dates with the year first, such as 2026-01-05
      hint: somebody's spreadsheet rewrote some of them: look at each date in `from` and `to`, and write it with the year first
    "#);
}

#[test]
fn dates_that_a_spreadsheet_made_unreadable_are_told_with_what_would_help() {
    let roster = "home,room,use,heated,logger,file,from,to\n1A,living,living,yes,L-1,living.csv,46027,1/6/26\n1A,bedroom,bedroom,yes,L-2,bedroom.csv,2026-02-30,30/30/2026\n";
    assert_snapshot!(SmallSite::new(SITE, roster).refused(), @r#"
    evenrooms: roster.csv:2: found `from` = "46027", expected a local date such as 2026-01-05, or date and time 2026-01-05 10:00
      hint: a spreadsheet's number of the day: set the format of the column to a date with the year first, and save again
    roster.csv:2: found `to` = "1/6/26", expected a local date such as 2026-01-05, or date and time 2026-01-05 10:00
      hint: write the year first, in four digits, then month and day: 2026-01-05
    roster.csv:3: found `from` = "2026-02-30", expected a local date such as 2026-01-05, or date and time 2026-01-05 10:00
      hint: there is no such day or time: correct the cell
    roster.csv:3: found `to` = "30/30/2026", expected a local date such as 2026-01-05, or date and time 2026-01-05 10:00
      hint: write the year first, in four digits, then month and day: 2026-01-05
    "#);
}

#[test]
fn the_date_of_a_workbook_includes_its_day() {
    let mut book = rust_xlsxwriter::Workbook::new();
    let sheet = book.add_worksheet();
    let rows = ["home,room,use,heated,logger,file,to", "1A,living,living,yes,L-1,living.csv,"];
    for (r, row) in rows.iter().enumerate() {
        for (c, cell) in row.split(',').enumerate() {
            sheet.write_string(r as u32, c as u16, cell).unwrap();
        }
    }
    let date = rust_xlsxwriter::ExcelDateTime::from_ymd(2026, 1, 5).unwrap();
    let format = rust_xlsxwriter::Format::new().set_num_format("d/m/yyyy");
    sheet.write_datetime_with_format(1, 6, &date, &format).unwrap();
    let small = SmallSite::new(&SITE.replace("roster.csv", "roster.xlsx"), ROSTER);
    small.write("roster.xlsx", &book.save_to_buffer().unwrap());
    let ran = small.audit();
    assert_eq!(ran.code, Some(0), "{}", ran.stderr);
    assert_eq!(first_and_last(&small, "L-1")[1], "2026-01-06T05:50:00Z");
}

/// What an audit of this roster says of each logger.
fn loggers_of(site: &str, roster: &[u8]) -> String {
    let small = SmallSite::new(site, ROSTER);
    small.write("roster.csv", roster);
    let ran = small.audit();
    assert_eq!(ran.code, Some(0), "{}", ran.stderr);
    std::fs::read_to_string(small.out().join("loggers.csv")).unwrap()
}

#[test]
fn curly_quotes_and_blanks_of_a_spreadsheet_change_nothing() {
    let plain = loggers_of(SITE, ROSTER.as_bytes());
    let curly =
        ROSTER.replace("1A,living,living", "“1A”,‘living’,„living“").replace("L-2", "\u{a0}L-2\u{a0}");
    assert_eq!(loggers_of(SITE, curly.as_bytes()), plain);
    let in_names = loggers_of(SITE, ROSTER.replace("1A", "Flat 1").as_bytes());
    let mixed = ROSTER.replacen("1A", "Flat\u{a0}1", 1).replace("1A", "Flat 1").replace("use", "\u{a0}use");
    assert_eq!(loggers_of(SITE, mixed.as_bytes()), in_names, "one home, not two");
}

#[test]
fn a_comma_within_curly_quotes_is_told() {
    let said = SmallSite::new(SITE, &ROSTER.replacen("1A", "“1A, left”", 1)).refused();
    assert!(
        said.contains("found 7 fields") && said.contains("straight quotes (\"), not in curly ones"),
        "{said}"
    );
}

#[test]
fn uses_are_words_however_they_are_written() {
    let plain = loggers_of(SITE, ROSTER.as_bytes());
    for (living, bedroom) in
        [("Living room", "bed room"), ("LIVING", "Bed-Room"), ("living\u{a0}room", "Bed")]
    {
        let roster = ROSTER
            .replace("living,living,", &format!("living,{living},"))
            .replace("bedroom,bedroom,", &format!("bedroom,{bedroom},"));
        assert_eq!(loggers_of(SITE, roster.as_bytes()), plain, "{living}, {bedroom}");
    }
}

#[test]
fn a_roster_in_utf_16_is_read() {
    let plain = loggers_of(SITE, ROSTER.as_bytes());
    let wide = |mark: &str, bytes: fn(u16) -> [u8; 2]| -> Vec<u8> {
        format!("{mark}{ROSTER}").encode_utf16().flat_map(bytes).collect()
    };
    assert_eq!(loggers_of(SITE, &wide("\u{feff}", u16::to_le_bytes)), plain);
    assert_eq!(loggers_of(SITE, &wide("\u{feff}", u16::to_be_bytes)), plain);
    assert_eq!(loggers_of(SITE, &wide("", u16::to_le_bytes)), plain);
}

#[test]
fn backslashes_in_paths_of_the_roster_are_read() {
    let small = SmallSite::new(SITE, &ROSTER.replace(",living.csv", ",1A\\living.csv"));
    small.write("exports/1A/living.csv", &crate::small_site::two_days());
    small.remove("exports/living.csv");
    let ran = small.audit();
    assert_eq!((ran.code, ran.stderr.as_str()), (Some(0), ""));
}

#[test]
fn a_file_that_two_rooms_name_with_slash_and_backslash_is_in_neither() {
    let roster = "home,room,use,heated,logger,file\n1A,living,living,yes,L-1,1A\\a.csv\n1A,bedroom,bedroom,yes,L-2,1A/a.csv\n1A,hall,hall,no,L-3,living.csv\n";
    let small = SmallSite::new(SITE, roster);
    small.write("exports/1A/a.csv", &crate::small_site::two_days());
    let ran = small.audit();
    assert!(ran.stderr.contains("take the same readings of it"), "{}", ran.stderr);
}
