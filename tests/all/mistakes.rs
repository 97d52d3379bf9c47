//! Mistakes of a person in the site file and the roster: all of them at once, each with its place and remedy.

use insta::assert_snapshot;

use crate::program::run;
use crate::small_site::{ROSTER, SITE, SmallSite, two_days};

/// What is said of a site file and a roster: a line for each mistake and one for its remedy.
fn mistakes(site: &str, roster: &str) -> String {
    let said = SmallSite::new(site, roster).refused();
    let lines: Vec<&str> = said.strip_prefix("evenrooms: ").unwrap().lines().collect();
    for told in lines.chunks(2) {
        let whole = told[0].contains(": found ") && told[0].contains(", expected ");
        assert!(whole && told.get(1).is_some_and(|line| line.starts_with("  hint: ")), "{said}");
    }
    said
}

#[test]
fn the_small_site_has_no_mistake() {
    let ran = SmallSite::new(SITE, ROSTER).audit();
    assert_eq!((ran.code, ran.stderr.as_str()), (Some(0), ""));
}

#[test]
fn all_mistakes_of_both_files_are_told_at_once() {
    let site = r#"[site]
name = "Alder Row"
time_zone = "America/Chicagoo"
roster = "roster.csv"
exports = "exports"
stepp = "5 min"
step = "7 min"
clock = "winter"

[band]
lower = 20
upper = "24 °X"
nite = "62 °F"

[spread]
limit = "2.2 apples"

[[period]]
name = "after install"
from = "2026-03-31"
to = "2026-01-05"

[heating]
"#;
    let roster = "\
home,room,use,heated,logger,file
1A,living,parlour,yes,L-1,living.csv
1A,bedroom,bedroom,perhaps,,bedroom.csv
";
    assert_snapshot!(mistakes(site, roster), @r#"
    evenrooms: site.toml:3: found unknown time zone "America/Chicagoo", expected an IANA time zone name such as "America/Chicago"
      hint: did you mean America/Chicago?
    site.toml:6: found unknown key `stepp` in [site], expected one of alignment, clock, design_outdoor, distinct, exports, licence, max_gap, name, outdoor, roster, step, time_zone, units
      hint: check the spelling, or remove the line
    site.toml:7: found `step = "7 min"`, expected a step that divides an hour, such as "5 min"
      hint: 1, 2, 5, 10, 15, 20, 30 or 60 min; 10 s or 30 s are possible too
    site.toml:8: found `clock = "winter"`, expected "civil", "utc" or "fixed -05:00"
      hint: civil follows daylight saving; fixed keeps one offset from UTC all year
    site.toml:11: found `lower` as a number without a unit, expected a temperature such as "20 °C" or "68 °F"
      hint: write the unit beside the number, both in quotes
    site.toml:12: found `upper = "24 °X"`, expected a temperature such as "20 °C" or "68 °F"
      hint: write number and unit in quotes
    site.toml:13: found unknown key `nite` in [band], expected one of lower, night, upper
      hint: check the spelling, or remove the line
    site.toml:16: found `limit = "2.2 apples"`, expected a difference such as "2.2 K"
      hint: write number and unit in quotes
    site.toml:21: found `from` at 2026-03-31 00:00 and `to` at 2026-01-06 00:00, expected `to` after `from`
      hint: year first; a bare date at the end of a span includes that day
    site.toml:23: found unknown key `heating` at the top of the file, expected one of acceptance, band, colocation, heat_rule, humidity, period, quality, recovery, setback, site, spread
      hint: check the spelling, or remove the line
    roster.csv:2: found `use` = "parlour", expected living, bedroom, kitchen, bathroom, hall, other
      hint: correct the cell
    roster.csv:3: found `heated` = "perhaps", expected yes, no or unknown
      hint: correct the cell
    roster.csv:3: found an empty `logger`, expected a logger in each row
      hint: fill in the cell, or leave both `logger` and `file` empty for a room without a logger
    "#);
}

#[test]
fn a_band_must_not_be_upside_down() {
    let site = SITE.replace("upper = \"24 °C\"", "upper = \"66 °F\"");
    assert_snapshot!(mistakes(&site, ROSTER), @"
    evenrooms: site.toml:7: found `lower` of 20.0 °C and `upper` of 18.9 °C, expected lower < upper
      hint: check the two numbers and their units
    ");
}

#[test]
fn a_limit_without_its_partner_is_told() {
    let site = SITE.replace("upper = \"24 °C\"\n", "");
    assert_snapshot!(mistakes(&site, ROSTER), @r#"
    evenrooms: site.toml:7: found no `upper` in [band], expected both limits of the band
      hint: for example lower = "20 °C" and upper = "24 °C"
    "#);
}

#[test]
fn quality_limits_are_checked() {
    let quality = r#"
[quality]
tests = ["spike", "spook"]
use_suspect = "yes"

[quality.gross_range]
fail = ["-40 °C", "70 °C"]
suspect = ["2 °C", "80 °C"]

[quality.flat_line]
within = "0 K"
at_least = "half a day"
"#;
    assert_snapshot!(mistakes(&format!("{SITE}{quality}"), ROSTER), @r#"
    evenrooms: site.toml:12: found unknown test "spook", expected any of "gross range", "spike", "rate of change", "flat line", "gap", "place"
      hint: an empty list switches all tests off
    site.toml:13: found `use_suspect` as the text "yes", expected true or false
      hint: write it without quotes
    site.toml:15: found a suspect range that reaches outside the fail range, expected suspect inside fail
      hint: what fails is impossible, what is suspect is only unlikely
    site.toml:19: found `within` of 0 K, expected more than 0 K
      hint: a limit of 0 would flag everything or nothing
    site.toml:21: found `at_least = "half a day"`, expected a length of time such as "5 min" or "6 h"
      hint: write number and unit in quotes
    "#);
}

#[test]
fn schedules_and_rules_are_checked() {
    let rules = r#"
[[setback]]
days = "every day"
from = "22:00"
to = "22:00"

[heat_rule]
preset = "my city"

[[heat_rule.window]]
from = "06:00"
to = "25:00"
"#;
    assert_snapshot!(mistakes(&format!("{SITE}{rules}"), ROSTER), @r#"
    evenrooms: site.toml:11: found no `occupied_target` in [setback], expected a temperature such as "20 °C" or "68 °F"
      hint: the temperature that rooms shall be back at after the setback
    site.toml:12: found `days = "every day"`, expected weekdays such as "mon-sun" or "sat,sun"
      hint: the days on whose evening the setback starts
    site.toml:14: found a window that ends when it starts, expected two different times
      hint: for a whole day write from = "00:00" and to = "24:00"
    site.toml:16: found a `preset` together with `season`, `held` or `window`, expected either the one or the other
      hint: `evenrooms explain NAME` shows what the preset holds; write all of it out to change it
    site.toml:17: found `preset = "my city"`, expected one of new-york-city, new-york-state-multiple-dwelling, new-york-state-multiple-residence, new-york-state-property-maintenance, massachusetts, massachusetts-until-2023, connecticut, vermont-until-2023, philadelphia, allegheny-county, new-jersey, washington-dc, washington-dc-housing, baltimore, chicago, chicago-home-mean, countryside-illinois, prospect-heights-illinois, minnesota, minneapolis, milwaukee, seattle, san-francisco, los-angeles, us-nspire, us-nspire-severe, toronto, ontario, ottawa, montreal, winnipeg, germany-case-law, sweden-guidance, finland-action-limits
      hint: `evenrooms explain NAME` shows what a preset holds; for another text write `season` and `window`
    site.toml:19: found no `minimum` in [heat_rule.window], expected a temperature such as "20 °C" or "68 °F"
      hint: the lowest temperature that the rule allows in this window
    site.toml:21: found `to = "25:00"`, expected a time of day such as "06:00"
      hint: hours and minutes, 00:00 to 24:00, local time
    "#);
}

#[test]
fn a_preset_stands_alone_and_a_rule_is_whole() {
    let both = "[heat_rule]\npreset = \"toronto\"\nheld = \"home mean\"\n";
    assert_snapshot!(mistakes(&format!("{SITE}{both}"), ROSTER), @"
    evenrooms: site.toml:10: found a `preset` together with `season`, `held` or `window`, expected either the one or the other
      hint: `evenrooms explain NAME` shows what the preset holds; write all of it out to change it
    ");
    let parts = r#"
[heat_rule]
season = { from = "10-01", to = "02-30" }
held = "the mean"
uses = ["living", "stable"]
measured_height = 0.9
window = [{ from = "06:00", to = "22:00", minimum = "20 °C", when_outdoor_below = "55" }]
"#;
    assert_snapshot!(mistakes(&format!("{SITE}{parts}"), ROSTER), @r#"
    evenrooms: site.toml:12: found `to = "02-30"`, expected a day of the year such as "10-01"
      hint: month-day; the last day is included
    site.toml:13: found `held = "the mean"`, expected "each room" or "home mean"
      hint: most texts speak of each room; some average over the home; one has both, with a minimum of its own for each
    site.toml:14: found in `uses` "stable", expected a list of living, bedroom, kitchen, bathroom, hall, other
      hint: the `use` of the rooms that the text speaks of
    site.toml:15: found `measured_height` as a number without a unit, expected a length such as "3 ft" or "0.9 m"
      hint: write the unit beside the number, both in quotes
    site.toml:16: found `when_outdoor_below = "55"`, expected a temperature such as "20 °C" or "68 °F"
      hint: write the unit beside the number, both in quotes
    "#);
    assert_snapshot!(mistakes(&format!("{SITE}[heat_rule]\n"), ROSTER), @"
    evenrooms: site.toml:10: found no `window` in [heat_rule], expected a `preset`, or a list of windows with from, to and minimum
      hint: see the example of site.toml in the README
    ");
}

#[test]
fn an_empty_main_table_is_told_key_by_key() {
    assert_snapshot!(mistakes("[site]\n", ROSTER), @r#"
    evenrooms: site.toml:1: found no `time_zone` in [site], expected an IANA time zone name such as "America/Chicago"
      hint: civil time cannot be told without it
    site.toml:1: found no `roster` in [site], expected `roster = "roster.csv"`
      hint: the roster has one row per placement of a logger
    site.toml:1: found no `name` in [site], expected `name = "…"`
      hint: any name people will recognise
    "#);
}

#[test]
fn a_text_without_quotes_is_told() {
    assert_snapshot!(mistakes(&SITE.replace("\"20 °C\"", "20 °C"), ROSTER), @r#"
    evenrooms: site.toml:8: found text that is not TOML, expected `key = "value"` lines under [tables]
      hint: string values must be quoted, expected literal string; texts and quantities stand in quotes
    "#);
}

#[test]
fn a_roster_without_its_columns_is_told() {
    let roster = "home,room,heated,logger,file,colour\n1A,living,yes,L-1,living.csv,red\n";
    assert_snapshot!(mistakes(SITE, roster), @"
    evenrooms: roster.csv:1: found unknown column `colour`, expected any of home, room, use, heated, logger, file, note, column, unit, clock, dates, from, to, accuracy_k, time_constant_min, clock_fast_s, height_m, floor, line
      hint: check the spelling, or remove the column
    roster.csv:1: found no column `use`, expected the columns home, room, use, heated, logger, file
      hint: the first row of the roster names the columns
    ");
}

#[test]
fn cells_of_the_roster_are_checked() {
    let roster = "\
home,room,use,heated,logger,file,unit,clock,from,to,accuracy_k,time_constant_min
1A,living,living,yes,L-1,living.csv,K,local,soon,2026-01-05,-0.3,300
,bedroom,,yes,L-2,bedroom.csv,,,,,,
1A,kitchen,kitchen,yes,L-3,,,,,,,
1A,hall,hall,yes,L-4,hall.csv,,,2026-01-06,2026-01-05,,
1A,bathroom,bathroom
";
    assert_snapshot!(mistakes(SITE, roster), @r#"
    evenrooms: roster.csv:2: found `unit` = "K", expected °C or °F
      hint: correct the cell, or leave it empty
    roster.csv:2: found `clock` = "local", expected civil, utc or fixed -05:00
      hint: correct the cell, or leave it empty
    roster.csv:2: found `from` = "soon", expected a local date such as 2026-01-05, or date and time 2026-01-05 10:00
      hint: correct the cell, or leave it empty
    roster.csv:2: found `accuracy_k` = "-0.3", expected a number of K above 0, such as 0.3
      hint: correct the cell, or leave it empty
    roster.csv:2: found `time_constant_min` = "300", expected minutes above 0, at most 60: the time to 63 % of a step in air (a time to 90 % is 2.3 times that)
      hint: correct the cell, or leave it empty
    roster.csv:3: found an empty `home`, expected a home in each row
      hint: fill in the cell, or remove the row
    roster.csv:3: found an empty `use`, expected a use in each row
      hint: fill in the cell, or remove the row
    roster.csv:4: found an empty `file`, expected a file in each row
      hint: fill in the cell, or leave both `logger` and `file` empty for a room without a logger
    roster.csv:5: found `to` that is not after `from`, expected from < to
      hint: a bare date in `to` includes that day
    roster.csv:6: found 3 fields, expected 12 fields, as in the header
      hint: put fields that contain the delimiter in quotes
    "#);
}

#[test]
fn two_loggers_cannot_stand_in_one_room_and_one_logger_not_in_two() {
    let roster = "\
home,room,use,heated,logger,file,from,to
1A,living,living,yes,L-1,living.csv,,2026-01-20
1A,living,living,yes,L-2,bedroom.csv,2026-01-15,
1A,bedroom,bedroom,yes,L-1,living.csv,,
1A,living,hall,no,L-3,hall.csv,2025-01-01,2025-02-01
";
    assert_snapshot!(mistakes(SITE, roster), @r"
    evenrooms: roster.csv:3: found logger L-2 in 1A living while L-1 (line 2) stands there too, expected one logger in a room at a time
      hint: give `from` and `to`, or name the two places as two rooms
    roster.csv:4: found living.csv for 1A bedroom, though line 2 has it for 1A living, expected a series of its own for each room
      hint: name the `column`, or give `from` and `to` where the logger moved
    roster.csv:5: found 1A living with another `use` or `heated` than in an earlier row, expected the same in all rows of a room
      hint: correct one of the rows, or give the rooms different names
    roster.csv:5: found logger L-3 in 1A living while L-1 (line 2) stands there too, expected one logger in a room at a time
      hint: give `from` and `to`, or name the two places as two rooms
    ");
}

#[test]
fn a_roster_without_rows_is_told() {
    assert_snapshot!(mistakes(SITE, "home,room,use,heated,logger,file\n"), @r"
    evenrooms: roster.csv: found no rows, expected one row per placement of a logger
      hint: the first row names the columns: home,room,use,heated,logger,file
    ");
}

#[test]
fn a_site_file_or_roster_that_is_not_there_is_told() {
    let without_roster = SmallSite::new(SITE, ROSTER);
    without_roster.remove("roster.csv");
    assert_snapshot!(neutral(&without_roster.refused()), @"
    evenrooms: roster.csv: found a roster that could not be read (No such file or directory (os error 2)), expected a file with one row per placement of a logger
      hint: check `roster` in the site file: the name starts from the site file's folder
    ");
    without_roster.remove("site.toml");
    assert_snapshot!(neutral(&without_roster.refused()), @r"
    evenrooms: site.toml: could not be read: …
      hint: check the path and that you may read it
    ");
}

#[test]
fn mistakes_in_the_site_file_are_told_without_a_roster_too() {
    let site = SmallSite::new(&SITE.replace("\"20 °C\"", "20"), ROSTER);
    site.remove("roster.csv");
    let said = site.refused();
    assert!(said.contains("roster.csv") && said.contains("site.toml:8: found `lower`"), "{said}");
}

/// A table that is missing makes no mistakes of those that are there.
#[test]
fn without_its_main_table_the_rest_of_a_site_file_stays_known() {
    let said = mistakes("[band]\nlower = \"20 °C\"\nupper = \"24 °C\"\n", ROSTER);
    assert!(said.contains("site.toml:1: found no `site` in the file"), "{said}");
    assert!(!said.contains("unknown key `band`"), "{said}");
}

#[test]
fn curly_quotes_around_values_of_a_site_file_are_read() {
    let curly = SITE
        .replace("\"Alder Row\"", "“Alder Row”")
        .replace("\"20 °C\"", "‘20\u{a0}°C’")
        .replace(" = ", "\u{a0}= ");
    let periods =
        "[[period]]\nname = “first”\nfrom = “2026-01-05\u{a0}06:00”\nto = \"2026-01-06\u{a0}06:00\"\n";
    let ran = SmallSite::new(&format!("{curly}{periods}"), ROSTER).audit();
    assert_eq!((ran.code, ran.stderr.as_str()), (Some(0), ""));
    assert!(ran.stdout.starts_with("Alder Row: 1 home"), "{}", ran.stdout);
}

#[test]
fn a_site_file_in_utf_16_is_read() {
    for bytes in [u16::to_le_bytes, u16::to_be_bytes] {
        let small = SmallSite::new(SITE, ROSTER);
        let plain = small.audit();
        small.write(
            "site.toml",
            &format!("\u{feff}{SITE}\n[acceptance]\ndays = 1\n")
                .encode_utf16()
                .flat_map(bytes)
                .collect::<Vec<u8>>(),
        );
        let ran = small.audit();
        assert_eq!((ran.code, ran.stdout), (Some(0), plain.stdout), "{}", ran.stderr);
    }
}

#[test]
fn backslashes_in_paths_of_a_site_file_are_read_or_told() {
    let with = |exports: &str| {
        let small = SmallSite::new(&SITE.replace("\"exports\"", exports), ROSTER);
        small.write("winter/new/living.csv", &two_days());
        small.write("winter/new/bedroom.csv", &two_days());
        small
    };
    let read = with(r"'winter\new'").audit();
    assert_eq!((read.code, read.stderr.as_str()), (Some(0), ""));
    assert_snapshot!(with(r#""winter\new""#).refused(), @r#"
    evenrooms: site.toml:5: found `exports = "winter\new"`, expected a path with / between its parts
      hint: in double quotes a backslash starts an escape: write / in its place, or put the path in single quotes
    "#);
    let said = with(r#""C:\winter""#).refused();
    assert!(said.contains("site.toml:5: found text that is not TOML"), "{said}");
    assert!(said.contains("a backslash starts an escape: write / in its place"), "{said}");
}

#[test]
fn a_folder_in_place_of_a_site_file_is_told_with_a_command_that_works() {
    let small = SmallSite::new(SITE, ROSTER);
    small.write("my exports/living.csv", &two_days());
    let ran = run(small.folder(), &["audit", "my exports", "--out", "out"]);
    assert_eq!(ran.code, Some(2));
    assert_snapshot!(ran.stderr, @r"
    evenrooms: my exports: this is a folder, expected a site file (site.toml)
      hint: if these are exports, `evenrooms draft 'my exports' --out drafted` writes a first site file and roster
    ");
    let command = ran.stderr.split('`').nth(1).unwrap();
    assert_eq!(command, "evenrooms draft 'my exports' --out drafted");
    let drafted = run(small.folder(), &["draft", "my exports", "--out", "drafted"]);
    assert_eq!(drafted.code, Some(0), "{}", drafted.stderr);
    let ran = run(
        small.folder(),
        &["complaint", ".", "--home", "1A", "--from", "2026-01-05", "--to", "2026-01-05", "--out", "out"],
    );
    assert!(
        ran.code == Some(2) && ran.stderr.contains("name the site file in it: ./site.toml"),
        "{}",
        ran.stderr
    );
}

#[test]
fn commands_that_are_printed_can_be_pasted() {
    let small = SmallSite::new(SITE, ROSTER);
    let ran = run(small.folder(), &["draft", "exports", "--out", "Alder Row"]);
    assert!(
        ran.stdout.ends_with("Then: evenrooms audit 'Alder Row/site.toml' --out 'Alder Row/audit'\n"),
        "{}",
        ran.stdout
    );
    let ran =
        run(small.folder(), &["simulate", "--seed", "1", "--homes", "1", "--days", "1", "--out", "it's new"]);
    assert!(
        ran.stderr.contains(r"evenrooms audit 'it'\''s new/site.toml' --out 'it'\''s new/audit'"),
        "{}",
        ran.stderr
    );
}

/// Without the words of the operating system, which differ.
fn neutral(said: &str) -> String {
    let line = |line: &str| match (line.find("could not be read: "), line.contains("(os error ")) {
        (Some(at), true) => format!("{}could not be read: …", &line[..at]),
        _ => line.to_owned(),
    };
    said.lines().map(line).collect::<Vec<_>>().join("\n")
}
