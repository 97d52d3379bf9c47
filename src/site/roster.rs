//! The roster → homes, rooms and the placements of their loggers.

use std::collections::BTreeMap;

use super::columns::{REQUIRED, roster_columns};
use super::sharing::plain_path;
use super::{ClockSetting, Dates, Home, Placement, Purpose, Room, Source, parse_instant};
use crate::clock::{Span, Zone};
use crate::error::{Mistake, Trouble};
use crate::site::walk::Wanted;
use crate::units::{KelvinDiff, TemperatureUnit};
use crate::unpack::{Part, unpack};

pub(super) const DATES: Wanted<'static> = Wanted {
    expected: "day-first, month-first, serial 1900, serial 1904, seconds of 2026 or minutes since 2026-01-05 10:00",
    hint: "only for exports whose dates can be read in several ways, or count from a moment that they do not tell",
};

/// A clock that ran further ahead than this, in seconds, was not ahead but wrong.
const MOST_FAST_S: f64 = 30.0 * 86400.0;

/// No logger in a room trails by more than this, in minutes; more is likely in seconds.
const MOST_TIME_CONSTANT_MIN: f64 = 60.0;

/// One row, understood.
struct Row {
    line: u32,
    home: String,
    room: String,
    purpose: Purpose,
    heated: bool,
    floor: Option<String>,
    stack: Option<String>,
    placement: Option<Placement>,
}

/// Reads the roster; without a time zone (a mistake elsewhere) its dates are checked as if they were UTC.
pub(super) fn read(name: &str, bytes: &[u8], zone: Option<Zone>) -> (Vec<Home>, Vec<Mistake>) {
    let mut sink = Sink { file: name, mistakes: Vec::new() };
    let text = match text_of(bytes) {
        Ok(text) => text,
        Err(trouble) => {
            sink.wrong(
                trouble.line,
                &trouble.what,
                "a table with one row per placement of a logger",
                &trouble.hint,
            );
            return (Vec::new(), sink.mistakes);
        }
    };
    let Some(zone) = zone.or_else(|| Zone::parse("UTC")) else { return (Vec::new(), Vec::new()) };
    let rows = read_rows(&text, zone, &mut sink);
    if rows.is_empty() && sink.mistakes.is_empty() {
        sink.wrong(
            None,
            "no rows",
            "one row per placement of a logger",
            "the first row names the columns: home,room,use,heated,logger,file",
        );
    }
    let homes = gather(rows, &mut sink);
    check_series(&homes, &mut sink);
    sink.mistakes.sort_by_key(|m| m.line);
    (homes, sink.mistakes)
}

struct Sink<'a> {
    file: &'a str,
    mistakes: Vec<Mistake>,
}

impl Sink<'_> {
    fn wrong(&mut self, line: Option<u32>, found: &str, expected: &str, hint: &str) {
        let (file, found) = (self.file.to_owned(), found.to_owned());
        self.mistakes.push(Mistake {
            file,
            line,
            found,
            expected: expected.to_owned(),
            hint: hint.to_owned(),
        });
    }
}

/// The roster's text, also where it is the first sheet of a workbook: UTF-8, else Windows-1252 as spreadsheets save it.
fn text_of(bytes: &[u8]) -> Result<String, Trouble> {
    let part = unpack(bytes)?.into_iter().next();
    let bytes = part.map(Part::opened).transpose()?.unwrap_or_default();
    let encoding = match std::str::from_utf8(&bytes) {
        Ok(_) => encoding_rs::UTF_8,
        Err(_) => encoding_rs::WINDOWS_1252,
    };
    Ok(encoding.decode(&bytes).0.into_owned())
}

fn read_rows(text: &str, zone: Zone, sink: &mut Sink<'_>) -> Vec<Row> {
    let first = text.lines().next().unwrap_or_default();
    let delimiter = [b';', b'\t'].into_iter().find(|d| first.bytes().any(|b| b == *d)).unwrap_or(b',');
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(delimiter)
        .trim(csv::Trim::All)
        .flexible(true)
        .from_reader(text.as_bytes());
    let header = match reader.headers() {
        Ok(header) => header.iter().map(str::to_lowercase).collect::<Vec<_>>(),
        Err(error) => {
            sink.wrong(
                Some(1),
                &format!("a header that cannot be read ({error})"),
                "a row of column names",
                "save the roster as CSV",
            );
            return Vec::new();
        }
    };
    if !check_header(&header, sink) {
        return Vec::new();
    }
    let mut rows = Vec::new();
    for record in reader.records() {
        match record {
            Ok(record) if record.iter().all(str::is_empty) => {}
            Ok(record) => {
                let line = record.position().map_or(0, |p| p.line() as u32);
                if record.len() != header.len() {
                    let found = format!("{} fields", record.len());
                    sink.wrong(
                        Some(line),
                        &found,
                        &format!("{} fields, as in the header", header.len()),
                        "put fields that contain the delimiter in quotes",
                    );
                    continue;
                }
                let cells = Cells { line, header: &header, record: &record, zone };
                rows.extend(cells.row(sink));
            }
            Err(error) => sink.wrong(
                error.position().map(|p| p.line() as u32),
                &format!("a row that cannot be read ({error})"),
                "a row of text",
                "save the roster as CSV, UTF-8",
            ),
        }
    }
    rows
}

fn check_header(header: &[String], sink: &mut Sink<'_>) -> bool {
    let known: Vec<&str> = roster_columns().map(|c| c.name).collect();
    let required = REQUIRED.map(|c| c.name);
    for (i, name) in header.iter().enumerate() {
        if !known.contains(&name.as_str()) {
            sink.wrong(
                Some(1),
                &format!("unknown column `{name}`"),
                &format!("any of {}", known.join(", ")),
                "check the spelling, or remove the column",
            );
        } else if header[..i].contains(name) {
            sink.wrong(Some(1), &format!("column `{name}` twice"), "each column once", "remove one of them");
        }
    }
    for name in required {
        if !header.iter().any(|h| h == name) {
            sink.wrong(
                Some(1),
                &format!("no column `{name}`"),
                &format!("the columns {}", required.join(", ")),
                "the first row of the roster names the columns",
            );
        }
    }
    sink.mistakes.is_empty()
}

/// The cells of one row, by name.
struct Cells<'a> {
    line: u32,
    header: &'a [String],
    record: &'a csv::StringRecord,
    zone: Zone,
}

impl Cells<'_> {
    fn get(&self, name: &str) -> Option<&str> {
        let at = self.header.iter().position(|h| h == name)?;
        self.record.get(at).filter(|cell| !cell.is_empty())
    }

    fn required(&self, name: &str, sink: &mut Sink<'_>) -> Option<String> {
        let cell = self.get(name);
        if cell == Some("decide") {
            let hint = "a draft left this to you: write it in";
            let expected =
                if name == "heated" { "yes or no: whether the room has heating of its own" } else { name };
            sink.wrong(Some(self.line), &format!("`{name}` = \"decide\""), expected, hint);
            return None;
        }
        if cell.is_none() {
            let hint = match name {
                "logger" | "file" => {
                    "fill in the cell, or leave both `logger` and `file` empty for a room without a logger"
                }
                _ => "fill in the cell, or remove the row",
            };
            sink.wrong(
                Some(self.line),
                &format!("an empty `{name}`"),
                &format!("a {name} in each row"),
                hint,
            );
        }
        cell.map(str::to_owned)
    }

    /// The outer `None`: the cell is wrong; the inner: it is empty.
    fn parsed<T>(
        &self,
        name: &str,
        expected: &str,
        sink: &mut Sink<'_>,
        parse: impl Fn(&str) -> Option<T>,
    ) -> Option<Option<T>> {
        let Some(cell) = self.get(name) else { return Some(None) };
        let value = parse(cell);
        if value.is_none() {
            let hint = if cell == "decide" {
                "a draft left this to you: write it in"
            } else if REQUIRED.iter().any(|c| c.name == name) {
                "correct the cell"
            } else {
                "correct the cell, or leave it empty"
            };
            sink.wrong(Some(self.line), &format!("`{name}` = \"{cell}\""), expected, hint);
        }
        value.map(Some)
    }

    fn row(&self, sink: &mut Sink<'_>) -> Option<Row> {
        let words: Vec<&str> = Purpose::ALL.iter().map(|(word, _)| *word).collect();
        let (home, room) = (self.required("home", sink), self.required("room", sink));
        let purpose =
            self.required("use", sink).and(self.parsed("use", &words.join(", "), sink, purpose)).flatten();
        let heated = self
            .required("heated", sink)
            .and_then(|_| self.parsed("heated", "yes or no", sink, yes_or_no))
            .flatten();
        let placement = self.placement(sink);
        Some(Row {
            line: self.line,
            home: home?,
            room: room?,
            purpose: purpose?,
            heated: heated?,
            floor: self.get("floor").map(str::to_owned),
            stack: self.get("line").map(str::to_owned),
            placement: placement?,
        })
    }

    /// The outer `None`: something is wrong; the inner: the room has no logger.
    fn placement(&self, sink: &mut Sink<'_>) -> Option<Option<Placement>> {
        let measure = |text: &str| text.parse::<f64>().ok().filter(|x| x.is_finite());
        let unit = self.parsed("unit", "°C or °F", sink, TemperatureUnit::parse);
        let clock = self.parsed("clock", "civil, utc or fixed -05:00", sink, ClockSetting::parse);
        let dates = self.parsed("dates", DATES.expected, sink, Dates::parse);
        let date = "a local date such as 2026-01-05, or date and time 2026-01-05 10:00";
        let from = self.parsed("from", date, sink, |t| parse_instant(t, self.zone, false));
        let to = self.parsed("to", date, sink, |t| parse_instant(t, self.zone, true));
        let accuracy = self.parsed("accuracy_k", "a number of K above 0, such as 0.3", sink, |t| {
            measure(t).filter(|x| *x > 0.0)
        });
        let expected = "minutes above 0, at most 60: the time to 63 % of a step in air (a time to 90 % is 2.3 times that)";
        let time_constant = self.parsed("time_constant_min", expected, sink, |t| {
            measure(t).filter(|m| *m > 0.0 && *m <= MOST_TIME_CONSTANT_MIN)
        });
        let fast = self.parsed("clock_fast_s", "a number of seconds, at most 30 days", sink, |t| {
            measure(t).filter(|s| s.abs() <= MOST_FAST_S)
        });
        let height = self.parsed("height_m", "a number of metres", sink, measure);
        if self.get("logger").is_none() && self.get("file").is_none() {
            return Some(None);
        }
        let (logger, file) = (self.required("logger", sink), self.required("file", sink));
        let span = Span { from: from?.unwrap_or(Span::ALWAYS.from), to: to?.unwrap_or(Span::ALWAYS.to) };
        if span.from >= span.to {
            sink.wrong(
                Some(self.line),
                "`to` that is not after `from`",
                "from < to",
                "a bare date in `to` includes that day",
            );
        }
        let source = Source {
            file: file?,
            column: self.get("column").map(str::to_owned),
            unit: unit?,
            clock: clock?,
            dates: dates?,
            clock_fast_s: fast?,
            line: Some(self.line),
        };
        let accuracy = accuracy?.map(KelvinDiff::new);
        Some(Some(Placement {
            logger: logger?,
            sources: vec![source],
            span,
            accuracy,
            time_constant_min: time_constant?,
            height_m: height?,
            line: self.line,
        }))
    }
}

/// What a room is used for, by its word.
pub(super) fn purpose(text: &str) -> Option<Purpose> {
    Purpose::ALL.iter().find(|(word, _)| text.eq_ignore_ascii_case(word)).map(|(_, p)| *p)
}

fn yes_or_no(text: &str) -> Option<bool> {
    match text.to_lowercase().as_str() {
        "yes" | "y" | "true" | "1" => Some(true),
        "no" | "n" | "false" | "0" => Some(false),
        _ => None,
    }
}

/// Rows → homes and rooms in the order of their first row.
fn gather(rows: Vec<Row>, sink: &mut Sink<'_>) -> Vec<Home> {
    let mut homes: Vec<Home> = Vec::new();
    let mut at: BTreeMap<String, usize> = BTreeMap::new();
    for row in rows {
        let h = *at.entry(row.home.clone()).or_insert_with(|| {
            homes.push(Home { name: row.home.clone(), floor: None, line: None, rooms: Vec::new() });
            homes.len() - 1
        });
        let home = &mut homes[h];
        for (known, column, word) in
            [(&mut home.floor, "floor", &row.floor), (&mut home.line, "line", &row.stack)]
        {
            if let (Some(known), Some(word)) = (known.as_ref(), word)
                && known != word
            {
                let found = format!("{} with `{column}` {word} after {known} in an earlier row", row.home);
                let hint = "a home is compared with the homes of one floor and one line; leave the cell empty where it has several";
                sink.wrong(Some(row.line), &found, "the same in all rows of a home", hint);
            }
            *known = known.take().or_else(|| word.clone());
        }
        let rooms = &mut homes[h].rooms;
        match rooms.iter_mut().find(|r| r.name == row.room) {
            None => rooms.push(Room {
                name: row.room,
                purpose: row.purpose,
                heated: row.heated,
                placements: row.placement.into_iter().collect(),
            }),
            Some(room) => {
                if room.purpose != row.purpose || room.heated != row.heated {
                    let found = format!(
                        "{} {} with another `use` or `heated` than in an earlier row",
                        row.home, row.room
                    );
                    sink.wrong(
                        Some(row.line),
                        &found,
                        "the same in all rows of a room",
                        "correct one of the rows, or give the rooms different names",
                    );
                }
                if let Some(placement) = row.placement {
                    add(room, placement, (&row.home, row.line), sink);
                }
            }
        }
    }
    homes
}

/// A further row of a room: another download of the same placement, or another placement at another time.
fn add(room: &mut Room, new: Placement, (home, line): (&str, u32), sink: &mut Sink<'_>) {
    if let Some(same) = room.placements.iter_mut().find(|p| p.logger == new.logger && p.span == new.span) {
        let twice = same
            .sources
            .iter()
            .find(|known| new.sources.iter().any(|s| plain_path(&s.file) == plain_path(&known.file)));
        if let Some(known) = twice {
            let found = format!(
                "{} for {home} {} again, as in line {}",
                known.file,
                room.name,
                known.line.unwrap_or_default()
            );
            let hint = "keep the row with the `column` that holds the room's temperature; columns of several rooms are several rooms";
            sink.wrong(Some(line), &found, "each download of a logger once", hint);
            return;
        }
        same.sources.extend(new.sources);
        return;
    }
    if let Some(other) = room.placements.iter().find(|p| p.span.overlaps(&new.span)) {
        let found = format!(
            "logger {} in {home} {} while {} (line {}) stands there too",
            new.logger, room.name, other.logger, other.line
        );
        sink.wrong(
            Some(new.line),
            &found,
            "one logger in a room at a time",
            "give `from` and `to`, or name the two places as two rooms",
        );
    }
    room.placements.push(new);
    room.placements.sort_by_key(|p| p.span.from);
}

/// One series cannot be two rooms at once.
fn check_series(homes: &[Home], sink: &mut Sink<'_>) {
    // One file may hold several loggers; each of them is a series.
    type Series<'a> = (String, Option<&'a str>, &'a str);
    let mut seen: BTreeMap<Series<'_>, Vec<(&Placement, u32, String)>> = BTreeMap::new();
    for (home, room) in homes.iter().flat_map(|h| h.rooms.iter().map(move |r| (h, r))) {
        for placement in &room.placements {
            for source in &placement.sources {
                let others = seen
                    .entry((plain_path(&source.file), source.column.as_deref(), &placement.logger))
                    .or_default();
                let other = others.iter().find(|(p, _, _)| p.span.overlaps(&placement.span));
                if let Some((_, line, place)) = other {
                    let found = format!(
                        "{} for {} {}, though line {line} has it for {place}",
                        source.file, home.name, room.name
                    );
                    sink.wrong(
                        source.line,
                        &found,
                        "a series of its own for each room",
                        "name the `column`, or give `from` and `to` where the logger moved",
                    );
                }
                others.push((
                    placement,
                    source.line.unwrap_or(placement.line),
                    format!("{} {}", home.name, room.name),
                ));
            }
        }
    }
}
