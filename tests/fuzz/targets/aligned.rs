//! Bytes of an aligned table → homes on the grid, judged; of a weather table, its rows. What is no Parquet file is taken for rows, and written as one.
#![no_main]
#![allow(clippy::disallowed_methods, reason = "the macro of the library writes a file where it is asked to")]

use std::borrow::Cow;
use std::sync::LazyLock;

use bytes::Bytes;
use evenrooms::clock::UtcTime;
use evenrooms::pipeline::{Keep, Prepared};
use evenrooms::site::Site;
use evenrooms::tables::ParquetFile;
use evenrooms::tables::{ALIGNED, AlignedIndex, Cell, read_weather};
use evenrooms_fuzz::{ROSTER, site};
use libfuzzer_sys::arbitrary::{Result, Unstructured};
use libfuzzer_sys::fuzz_target;

/// 2026-03-06 00:00 in Chicago: two days before the clocks change.
const START_MS: i64 = 1_772_776_800_000;
/// Rows that a run can afford, and instants of the grid between the first and the last.
const MOST_ROWS: usize = 400;
const MOST_INSTANTS: i64 = 5000;

static SITE: LazyLock<Site> = LazyLock::new(|| site(ROSTER));

fuzz_target!(|bytes: &[u8]| {
    if bytes.starts_with(b"PAR1") {
        let table = Bytes::copy_from_slice(bytes);
        let weather = read_weather(table.clone(), &SITE).map_err(|trouble| assert!(!trouble.hint.is_empty()));
        if let Ok(weather) = weather {
            assert!(weather.times_ms.is_sorted() && weather.times_ms.len() == weather.degc.len());
        }
        reenter(table);
    } else if let Ok(rows) = rows(&mut Unstructured::new(bytes)) {
        let cells: Vec<_> = rows.iter().map(Row::cells).collect();
        let mut file = ParquetFile::start(&ALIGNED, Vec::new()).expect("a table can be started");
        // A home, room or time that a column cannot be without.
        if file.add(&cells).is_err() {
            return;
        }
        let taken = reenter(file.finish().expect("a table can be ended").into());
        if let Some(taken) = taken {
            assert_eq!(taken, rows.len(), "each row of a table that is taken is taken");
        }
    }
});

/// How many rows were taken; `None` where the table is refused.
fn reenter(table: Bytes) -> Option<usize> {
    let index = AlignedIndex::load(&table).map_err(|trouble| assert!(!trouble.hint.is_empty())).ok()?;
    let mut taken = 0;
    let names: Vec<String> = index.homes().map(str::to_owned).collect();
    for name in names {
        let rooms = index.rooms(table.clone(), &name, &SITE);
        let rooms = rooms.map_err(|trouble| assert!(!trouble.hint.is_empty())).ok()?;
        taken += rooms.iter().map(|r| r.times_ms.len()).sum::<usize>();
        let Some(home) = SITE.homes.iter().find(|home| home.name == name) else { continue };
        let times = || rooms.iter().flat_map(|r| &r.times_ms);
        let (first, last) = (times().min().copied().unwrap_or(0), times().max().copied().unwrap_or(0));
        if last.checked_sub(first)? / SITE.step_ms > MOST_INSTANTS || times().count() > 4 * MOST_ROWS {
            continue;
        }
        let result = Prepared::under_weather(SITE.clone(), None).reopen(home, rooms).judge();
        result.encode(Keep::ForReport).expect("its rows can be written");
    }
    Some(taken)
}

struct Row {
    home: Option<&'static str>,
    room: Option<&'static str>,
    time_ms: Option<i64>,
    degc: f64,
    accuracy_k: f64,
    relative_k: f64,
    humidity: Option<f64>,
    flag: u8,
}

impl Row {
    fn cells(&self) -> Vec<Cell<'static>> {
        let word = |word: Option<&'static str>| word.map_or(Cell::Empty, |w| Cell::Text(Cow::Borrowed(w)));
        vec![
            Cell::Text(Cow::Borrowed(&SITE.name)),
            word(self.home),
            word(self.room),
            self.time_ms.map_or(Cell::Empty, |ms| Cell::Time(UtcTime::from_ms(ms))),
            Cell::Number(self.degc),
            Cell::Number(self.accuracy_k),
            self.humidity.map_or(Cell::Empty, Cell::Number),
            Cell::Count(u64::from(self.flag)),
            Cell::Number(self.relative_k),
        ]
    }
}

/// Runs of rows that an audit could have written, with now and then something that it could not.
fn rows(bytes: &mut Unstructured<'_>) -> Result<Vec<Row>> {
    let mut rows = Vec::new();
    let mut time_ms = START_MS;
    let mut home = Some("1A");
    while !bytes.is_empty() && rows.len() < MOST_ROWS {
        let strange: u8 = bytes.arbitrary()?;
        let room = *bytes.choose(&[Some("living"), Some("bedroom"), Some("attic")])?;
        let (accuracy, level, humid): (u8, u8, u8) = bytes.arbitrary()?;
        let of_a_run = Row {
            home,
            room,
            time_ms: None,
            degc: f64::from(level) / 4.0 - 10.0,
            accuracy_k: f64::from(accuracy) / 100.0,
            relative_k: f64::from(accuracy / 2) / 100.0,
            humidity: (humid > 127).then(|| f64::from(humid - 128) / 1.27),
            flag: 1,
        };
        if strange & 3 != 3 {
            time_ms = START_MS;
        }
        for _ in 0..bytes.int_in_range(1..=60)? {
            let noise: u8 = bytes.arbitrary()?;
            rows.push(Row {
                time_ms: Some(time_ms),
                degc: of_a_run.degc + f64::from(noise % 16) / 10.0,
                flag: if noise > 200 { 3 } else { 1 },
                ..of_a_run
            });
            time_ms += SITE.step_ms;
        }
        if let (4.., Some(last)) = (strange & 31, rows.last_mut()) {
            continue_strangely(strange >> 5, last, &mut home, &mut time_ms, bytes)?;
        }
    }
    Ok(rows)
}

fn continue_strangely(
    how: u8,
    last: &mut Row,
    home: &mut Option<&'static str>,
    time_ms: &mut i64,
    bytes: &mut Unstructured<'_>,
) -> Result<()> {
    match how {
        0 => last.degc = f64::from(bytes.arbitrary::<f32>()?),
        1 if bytes.arbitrary()? => last.relative_k = bytes.arbitrary()?,
        1 => last.accuracy_k = bytes.arbitrary()?,
        2 => last.humidity = Some(f64::from(bytes.arbitrary::<f32>()?)),
        3 => last.flag = bytes.arbitrary()?,
        4 => *time_ms = bytes.arbitrary()?,
        5 => *time_ms += bytes.int_in_range(-200..=2000)? * SITE.step_ms,
        6 => *home = *bytes.choose(&[Some("1A"), Some("1B"), Some(""), None])?,
        _ => last.room = *bytes.choose(&[Some("cellar"), Some(""), None])?,
    }
    Ok(())
}
