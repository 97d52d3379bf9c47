//! What holds for any bytes, any dialect, and any record over a night in which clocks change.

use evenrooms::exports::{Opened, inspect};
use evenrooms::site::Dates;
use proptest::prelude::*;
use proptest::test_runner::RngSeed;

use crate::wild::calendar::{MIN_MS, Wall, Zone};
use crate::wild::dialects::Plan;
use crate::wild::reading::{Outcome, open, outcome};
use crate::wild::roster::{FILE, Open};
use crate::wild::shrink::shrink;

/// The same cases each time; `PROPTEST_RNG_SEED` and `PROPTEST_CASES` ask for others, and for more.
/// The same cases each time; `PROPTEST_RNG_SEED` and `PROPTEST_CASES` look further.
pub(crate) fn config(cases: u32) -> ProptestConfig {
    let mut config = ProptestConfig { failure_persistence: None, ..ProptestConfig::default() };
    if std::env::var_os("PROPTEST_CASES").is_none() {
        config.cases = cases;
    }
    if matches!(config.rng_seed, RngSeed::Random) {
        config.rng_seed = RngSeed::Fixed(20_260_105);
    }
    config
}

fn site(zone: Zone, clock: &str) -> String {
    format!(
        "[site]\nname = \"Alder Row\"\ntime_zone = \"{}\"\nroster = \"roster.csv\"\nclock = \"{clock}\"\n",
        zone.name()
    )
}

/// Roster rows that settle this or that; the last takes two columns for two rooms.
const ROSTERS: [&str; 6] = [
    "home,room,use,heated,logger,file\n1A,a,other,yes,7,export.txt\n",
    "home,room,use,heated,logger,file,unit,dates\n1A,a,other,yes,7,export.txt,°C,day-first\n",
    "home,room,use,heated,logger,file,unit,dates,column\n1A,a,other,yes,7,export.txt,°F,month-first,2\n",
    "home,room,use,heated,logger,file,unit,dates,column\n1A,a,other,yes,7,export.txt,°C,serial 1900,2\n",
    "home,room,use,heated,logger,file,unit,column,from,to\n1A,a,other,yes,7,export.txt,°C,2,2026-01-05,2026-01-05\n",
    "home,room,use,heated,logger,file,unit,column\n1A,a,other,yes,7,export.txt,°C,2\n1A,b,other,yes,8,export.txt,°C,3\n",
];

/// A line of a logger's export, or something like it.
fn line() -> impl Strategy<Value = String> {
    let day = (1..29_u32, 1..4_u32, 0..24_u32, 0..60_u32);
    let row = (day, 150..260_i32).prop_map(|((d, mo, h, mi), x)| {
        format!("2026-{mo:02}-{d:02} {h:02}:{mi:02},{}.{},45", x / 10, x % 10)
    });
    let german = (1..13_u32, 0..24_u32, 0..60_u32, 150..260_i32)
        .prop_map(|(d, h, mi, x)| format!("{d:02}.02.2026 {h:02}:{mi:02};{},{}", x / 10, x % 10));
    let token = prop_oneof![
        3 => prop::sample::select(vec![
            ",", ";", "\t", "|", "  ", " ", "\"", "\n", "\r", "\r\n", "\u{feff}", "°C", "°F", "-", ":", ".", "/", "T",
            "Z", "AM", "p.m.", "+01:00", "UTC", "NaN", "---", "-9999", "time", "Logger", "unit", "Jan", "\u{1a}",
            "\0", "2026-01-05", "05.01.2026", "1/5/2026", "00:10", "24:00", "21.4", "21,4", "1767571200",
            "46027.25", "99999999999999999999", "1e308", "۵", "zone", "Europe/Berlin", "\u{202f}", "¼",
        ]).prop_map(str::to_owned),
        1 => (-1000..100_000_i64).prop_map(|x| x.to_string()),
    ];
    let junk = prop::collection::vec(token, 0..9).prop_map(|t| t.concat());
    prop_oneof![6 => row, 3 => german, 4 => junk]
}

fn text() -> impl Strategy<Value = String> {
    let end = prop::sample::select(vec!["\n", "\r\n", "\r"]);
    let text = (prop::collection::vec(line(), 0..40), end, any::<bool>(), any::<bool>());
    text.prop_map(|(lines, end, mark, finished)| {
        let mark = if mark { "\u{feff}" } else { "" };
        let text = format!("{mark}{}{}", lines.join(end), if finished { end } else { "" });
        // Zero bytes at the end fill a block, and are no line.
        text.trim_end_matches('\0').to_owned()
    })
}

/// Lines of a text, counted without the code under test.
fn count_lines(text: &str) -> u64 {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let end = if text.contains('\n') { '\n' } else { '\r' };
    let ends = text.matches(end).count() as u64;
    ends + u64::from(!text.is_empty() && !text.ends_with(end))
}

/// The books of what was opened: each row is somewhere, and readings rise.
fn books_balance(opened: &Opened, lines: Option<u64>) -> Result<(), TestCaseError> {
    for ledger in opened.ledgers.iter().filter(|l| l.lines() > 0) {
        let parts = ledger.header_lines + ledger.blank_lines + ledger.other_loggers + ledger.seen;
        prop_assert_eq!(ledger.lines(), parts);
        prop_assert_eq!(ledger.seen, ledger.kept + ledger.set_aside_total());
        prop_assert!(lines.is_none_or(|lines| lines == ledger.lines()), "{lines:?} lines, {ledger:?}");
        prop_assert_eq!(&ledger.file, FILE);
    }
    let kept: u64 = opened.ledgers.iter().map(|l| l.kept).sum();
    let aside: u64 = opened.ledgers.iter().map(|l| l.set_aside_total()).sum();
    prop_assert_eq!(kept, opened.readings.len() as u64);
    prop_assert_eq!(aside, opened.set_aside.iter().count() as u64);
    prop_assert!(opened.readings.times_ms().windows(2).all(|w| w[0] < w[1]), "instants must rise");
    prop_assert!(opened.readings.degc().iter().all(|x| !x.is_infinite()));
    Ok(())
}

fn opens(bytes: &[u8], roster: usize, zone: usize, lines: Option<u64>) -> Result<(), TestCaseError> {
    let opened =
        open(&site(Zone::ALL[zone], "civil"), ROSTERS[roster], bytes).map_err(TestCaseError::fail)?;
    opened.iter().try_for_each(|o| books_balance(o, lines))
}

fn inspects(bytes: &[u8], dates: Option<Dates>) -> Result<(), TestCaseError> {
    let seen = std::panic::catch_unwind(|| inspect(FILE, bytes, dates));
    let seen = seen.map_err(|_| TestCaseError::fail("inspect panicked"))?;
    let json = serde_json::to_string(&seen).map_err(|e| TestCaseError::fail(e.to_string()))?;
    prop_assert!(serde_json::from_str::<serde_json::Value>(&json).is_ok());
    Ok(())
}

fn dates() -> impl Strategy<Value = Option<Dates>> {
    let all =
        [Dates::DayFirst, Dates::MonthFirst, Dates::Serial1900, Dates::Serial1904, Dates::SecondsOf(2026)];
    prop::option::of(prop::sample::select(all.to_vec()))
}

/// Bytes of files that open by their first bytes: packed ones must be as harmless as texts.
fn bytes() -> impl Strategy<Value = Vec<u8>> {
    let magic = prop::sample::select(vec![
        &b""[..],
        b"\x1f\x8b\x08\0",
        b"PK\x03\x04",
        b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1",
        b"PAR1",
        b"ARROW1\0\0",
        b"\xff\xfe",
        b"\xfe\xff",
        b"\xef\xbb\xbf",
    ]);
    (magic, prop::collection::vec(any::<u8>(), 0..600)).prop_map(|(magic, tail)| [magic, &tail[..]].concat())
}

proptest! {
    #![proptest_config(config(400))]

    #[test]
    fn any_text_opens_or_is_asked_about(text in text(), roster in 0..ROSTERS.len(), zone in 0..4_usize) {
        opens(text.as_bytes(), roster, zone, Some(count_lines(&text)))?;
    }

    #[test]
    fn any_text_in_utf_16_opens_too(text in text(), roster in 0..ROSTERS.len()) {
        let text = text.trim_start_matches('\u{feff}');
        let marked = format!("\u{feff}{text}");
        let bytes: Vec<u8> = marked.encode_utf16().flat_map(u16::to_le_bytes).collect();
        opens(&bytes, roster, 0, Some(count_lines(&marked)))?;
    }

    #[test]
    fn any_bytes_open_or_are_asked_about(bytes in bytes(), roster in 0..ROSTERS.len(), zone in 0..4_usize) {
        opens(&bytes, roster, zone, None)?;
    }

    #[test]
    fn any_bytes_can_be_inspected(bytes in bytes(), dates in dates()) {
        inspects(&bytes, dates)?;
    }

    #[test]
    fn any_text_can_be_inspected(text in text(), dates in dates()) {
        inspects(text.as_bytes(), dates)?;
    }
}

proptest! {
    #![proptest_config(config(300))]

    #[test]
    fn a_series_written_in_any_dialect_reads_back_the_same(seed in any::<u64>()) {
        let plan = Plan::new(seed).tame();
        let export = plan.export();
        if plan.open(&export) == Open::Nothing && let Outcome::Wrong(why) | Outcome::Asked(why) = outcome(&plan, &export) {
            let (plain, why) = shrink(&plan, &why);
            return Err(TestCaseError::fail(format!("{why}\n{plain:?}\n{}", plain.export().text)));
        }
    }
}

/// A record over a night in which clocks change, as written and as it was.
struct Night {
    text: String,
    truth: Vec<(i64, f64)>,
}

impl Night {
    fn new(zone: Zone, start_ms: i64, step_min: i64, rows: i64, newest_first: bool) -> Self {
        let at = |i: i64| start_ms + i * step_min * MIN_MS;
        let truth: Vec<(i64, f64)> = (0..rows).map(|i| (at(i), 20.0 + (i % 40) as f64 / 10.0)).collect();
        let mut lines: Vec<String> = truth
            .iter()
            .map(|(t, x)| {
                let Wall { year, month, day, hour, minute, .. } = Wall::new(t + zone.offset_ms(*t));
                format!("{year}-{month:02}-{day:02} {hour:02}:{minute:02},{x:.1}\n")
            })
            .collect();
        if newest_first {
            lines.reverse();
        }
        Self { text: format!("time,temperature (°C)\n{}", lines.concat()), truth }
    }

    fn is_read_as_it_was(&self, zone: Zone) -> Result<(), TestCaseError> {
        let opened =
            open(&site(zone, "civil"), ROSTERS[0], self.text.as_bytes()).map_err(TestCaseError::fail)?;
        books_balance(&opened[0], Some(count_lines(&self.text)))?;
        let readings = &opened[0].readings;
        let read: Vec<(i64, f64)> =
            readings.times_ms().iter().copied().zip(readings.degc().iter().copied()).collect();
        let told = opened[0].notes.iter().any(|n| n.what.contains("came twice"));
        let inside = self.truth.iter().all(|(t, _)| zone.twice(*t));
        prop_assert!(read == self.truth || told && inside, "{}{:?}", self.text, opened[0].notes);
        Ok(())
    }
}

/// An instant at which clocks change, in one of the zones that have such.
fn change() -> impl Strategy<Value = (Zone, i64, bool)> {
    (0..3_usize, 2012..2026_i64, any::<bool>()).prop_map(|(zone, year, back)| {
        let (forward, backward) = Zone::ALL[zone].changes(year).unwrap();
        (Zone::ALL[zone], if back { backward } else { forward }, back)
    })
}

proptest! {
    #![proptest_config(config(300))]

    #[test]
    fn a_record_over_a_change_of_clocks_is_read_as_it_was(
        (zone, change, _) in change(),
        step in 1..=60_i64,
        before in 61..300_i64,
        more in 5..120_i64,
        newest_first in any::<bool>(),
    ) {
        let rows = (before + 130) / step + more;
        Night::new(zone, change - before * MIN_MS, step, rows, newest_first).is_read_as_it_was(zone)?;
    }

    #[test]
    fn a_record_that_starts_or_ends_near_a_change_of_clocks_is_read_as_it_was(
        (zone, change, _) in change(),
        step in 1..=60_i64,
        start in -130..130_i64,
        rows in 10..100_i64,
        ends in any::<bool>(),
        newest_first in any::<bool>(),
    ) {
        let start = change + start * MIN_MS - if ends { (rows - 1) * step * MIN_MS } else { 0 };
        Night::new(zone, start, step, rows, newest_first).is_read_as_it_was(zone)?;
    }
}
