//! What the fuzz targets share: the site that they read for, and what must hold whatever the bytes are.

use std::collections::BTreeMap;

use evenrooms::error::{Error, Mistake};
use evenrooms::exports::{Files, Opened, Purpose, Readings, inspect, open_home};
use evenrooms::site::{Home, Site, read_site_file};

/// A site file without mistakes.
pub const SITE: &str = include_str!("site.toml");
/// A roster without mistakes, of loggers of which nothing is told.
pub const ROSTER: &str = "home,room,use,heated,logger,file
1A,living,living,yes,L-1,a
1A,bedroom,bedroom,yes,L-2,b
1A,attic,other,no,L-3,c
";
/// A roster of one room that tells nothing of its export.
pub const ROSTER_OF_ONE: &str = "home,room,use,heated,logger,file
1A,living,living,yes,L-1,a
";
/// A roster that tells what exports leave open.
pub const ROSTER_THAT_TELLS: &str =
    "home,room,use,heated,logger,file,column,unit,clock,dates,from,to,clock_fast_s
1A,living,living,yes,L-1,a,temperature,°F,fixed -05:00,day-first,,,90
1A,bedroom,bedroom,yes,L-2,b,,°C,utc,serial 1900,2026-01-05,2026-03-31,
1A,attic,other,no,L-3,c,2,°C,civil,minutes since 2026-01-05 10:00,,,
";

/// A site of which the roster is this.
pub fn site(roster: &str) -> Site {
    let site = read_site_file("site.toml", SITE).with_roster("roster.csv", roster.as_bytes());
    site.expect("the fuzz targets' own site has no mistakes")
}

/// Reads an export for each row of the rosters, and asks how it is understood.
pub fn read_export(sites: &[Site], purpose: Purpose, bytes: &[u8]) {
    for site in sites {
        let files: Files = ["a", "b", "c"].map(|name| (name.to_owned(), Ok(bytes.to_vec()))).into();
        // Rows that do not add up are an error, which is a bug.
        let opened = open_home(site, &site.homes[0], &files, purpose).expect("rows must add up");
        opened.iter().flatten().for_each(accounted);
    }
    // What a person is shown must be text that programs can read.
    let seen = inspect("a", bytes, None);
    assert!(!seen.texts.is_empty() || seen.trouble.is_some(), "nothing is said of an export");
}

/// Every row is accounted for, and readings rise.
fn accounted(opened: &Opened) {
    for ledger in &opened.ledgers {
        assert_eq!(ledger.seen, ledger.kept + ledger.set_aside_total(), "rows seen = kept + set aside");
    }
    let kept: u64 = opened.ledgers.iter().map(|l| l.kept).sum();
    assert_eq!(kept, opened.readings.len() as u64, "rows kept are readings");
    let aside: u64 = opened.ledgers.iter().map(|l| l.set_aside_total()).sum();
    assert_eq!(aside, opened.set_aside.iter().count() as u64, "each row set aside is told");
    let lines: u64 = opened.ledgers.iter().map(|l| l.lines()).sum();
    let last =
        opened.readings.lines().iter().copied().chain(opened.set_aside.iter().map(|row| row.line)).max();
    assert!(u64::from(last.unwrap_or(0)) <= lines, "no line behind the last");
    readings_rise(&opened.readings);
}

fn readings_rise(readings: &Readings) {
    assert!(readings.times_ms().windows(2).all(|w| w[0] < w[1]), "readings rise");
    assert!(readings.degc().iter().all(|x| !x.is_infinite()), "a value is a number, or missing");
    let lengths = [readings.degc().len(), readings.lines().len()];
    assert!(lengths.iter().all(|n| *n == readings.len()), "one value and line each");
    if let Some(percent) = readings.humidity_percent() {
        assert_eq!(percent.len(), readings.len());
        // As recorded: one that no air has is flagged later.
        assert!(percent.iter().all(|x| !x.is_infinite()), "a humidity is a number, or missing");
    }
}

/// A refusal says what is wrong, where (what is not ended is so behind the last line), and what to do.
pub fn refused_with_reason(error: &Error, lines: usize, of: &str) {
    let Error::Mistakes(mistakes) = error else { panic!("no mistakes: {error}") };
    assert!(!mistakes.is_empty(), "refused without a mistake");
    for Mistake { file, line, found, expected, hint } in mistakes {
        assert!(![found, expected, hint].iter().any(|text| text.is_empty()), "said without words: {error}");
        let here = file == of;
        assert!(
            !here || line.is_none_or(|line| (1..=lines + 1).contains(&(line as usize))),
            "no such line: {error}"
        );
    }
}

/// What must hold of every site that is taken.
pub fn holds_together(site: &Site) {
    assert!(site.step_ms > 0 && 3_600_000 % site.step_ms == 0, "the step divides an hour");
    let bands = [site.bands.occupied, site.bands.night].into_iter().flatten();
    bands.for_each(|band| assert!(band.lower < band.upper, "a band has a width"));
    assert!(site.periods.iter().all(|p| p.span.from < p.span.to), "a period has a length");
    assert!(!site.homes.is_empty(), "a site has homes");
    let mut names: BTreeMap<&str, usize> = BTreeMap::new();
    for home in &site.homes {
        *names.entry(&home.name).or_default() += 1;
        rooms_hold_together(home);
    }
    assert!(names.values().all(|n| *n == 1), "a home stands once");
}

fn rooms_hold_together(home: &Home) {
    let mut rooms: Vec<&str> = home.rooms.iter().map(|r| r.name.as_str()).collect();
    rooms.sort_unstable();
    assert!(rooms.windows(2).all(|w| w[0] != w[1]), "a room stands once");
    for placement in home.rooms.iter().flat_map(|r| &r.placements) {
        assert!(placement.span.from < placement.span.to, "a placement has a length");
        assert!(
            placement.accuracy.is_none_or(|a| a.k() > 0.0 && a.k().is_finite()),
            "an accuracy is above 0"
        );
        assert!(!placement.sources.is_empty(), "a placement has an export");
    }
}
