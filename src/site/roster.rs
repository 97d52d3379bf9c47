//! The roster → homes, rooms and the placements of their loggers.
//!
//! Settled here, and why:
//! - **A bare date** at the end of a span (`to = "2026-03-31"`) includes that day; spans are half-open inside.

use std::collections::BTreeMap;

use super::cells::{Cells, ExportsAre, RosterRow, plain_cell};
use super::columns::{REQUIRED, roster_columns};
use super::roster_dates::{DateCell, RosterDates};
use super::sharing::plain_path;
use super::sink::Sink;
use super::{Heated, Home, Placement, Room, alike};
use crate::clock::Zone;
use crate::error::{Mistake, Trouble};
use crate::unpack::{Part, unicode, unpack};

/// Reads the roster; without a time zone (a mistake elsewhere) its dates are checked as if they were UTC.
///
/// `distinct`: names that look alike and are different ones.
pub(super) fn read(
    name: &str,
    bytes: &[u8],
    (zone, exports): (Option<Zone>, ExportsAre),
    distinct: &[String],
) -> (Vec<Home>, Vec<Mistake>) {
    let mut sink = Sink { file: name, mistakes: Vec::new() };
    let text = match text_of(bytes) {
        Ok(text) => text,
        Err(trouble) => {
            sink.wrong(
                trouble.line,
                &trouble.what.told(),
                "a table with one row per placement of a logger",
                &trouble.hint,
            );
            return (Vec::new(), sink.mistakes);
        }
    };
    let Some(zone) = zone.or_else(|| Zone::parse("UTC")) else { return (Vec::new(), Vec::new()) };
    let rows = read_rows(&text, (zone, exports), &mut sink);
    if rows.is_empty() && sink.mistakes.is_empty() {
        sink.wrong(
            None,
            "no rows",
            "one row per placement of a logger",
            "the first row names the columns: home,room,use,heated,logger,file",
        );
    }
    alike::ask(&rows, distinct, &mut sink);
    let homes = gather(rows, &mut sink);
    check_series(&homes, &mut sink);
    sink.mistakes.sort_by_key(|m| m.line);
    (homes, sink.mistakes)
}

/// The roster's text, also where it is the first sheet of a workbook: UTF-8 or UTF-16, else Windows-1252 as spreadsheets
/// save it.
fn text_of(bytes: &[u8]) -> Result<String, Trouble> {
    let part = unpack(bytes)?.into_iter().next();
    let bytes = part.map(Part::opened).transpose()?.unwrap_or_default();
    let text = unicode(&bytes).unwrap_or_else(|| encoding_rs::WINDOWS_1252.decode(&bytes).0);
    // The reader counts a row from before the line feed of a line end of two characters.
    Ok(text.replace("\r\n", "\n"))
}

fn read_rows(text: &str, (zone, exports): (Zone, ExportsAre), sink: &mut Sink<'_>) -> Vec<RosterRow> {
    let first = text.lines().next().unwrap_or_default();
    let delimiter = [b';', b'\t'].into_iter().find(|d| first.bytes().any(|b| b == *d)).unwrap_or(b',');
    let mut reader =
        csv::ReaderBuilder::new().delimiter(delimiter).flexible(true).from_reader(text.as_bytes());
    let header = match reader.headers() {
        Ok(header) => header.iter().map(|h| plain_cell("", h).to_lowercase()).collect::<Vec<_>>(),
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
    if !check_header(&header, exports, sink) {
        return Vec::new();
    }
    let records = records(&mut reader, &header, sink);
    let dates = RosterDates::told(&date_cells(&records, &header), zone, sink);
    let cells = records.iter().map(|(line, cells)| {
        let (line, header, dates) = (*line, header.as_slice(), &dates);
        Cells { line, header, cells, dates, exports }
    });
    cells.filter_map(|cells| cells.row(sink)).collect()
}

/// The cells of each row that has any, with its line.
fn records(
    reader: &mut csv::Reader<&[u8]>,
    header: &[String],
    sink: &mut Sink<'_>,
) -> Vec<(u32, Vec<String>)> {
    let mut records = Vec::new();
    for record in reader.records() {
        match record {
            Ok(record) if record.iter().all(|cell| cell.trim().is_empty()) => {}
            Ok(record) => {
                let line = record.position().map_or(0, |p| p.line() as u32);
                if record.len() != header.len() {
                    let hint = match record.iter().any(|cell| cell.contains(['“', '”', '„'])) {
                        true => {
                            "put fields that contain the delimiter in straight quotes (\"), not in curly ones"
                        }
                        false => "put fields that contain the delimiter in quotes",
                    };
                    let expected = format!("{} fields, as in the header", header.len());
                    sink.wrong(Some(line), &format!("{} fields", record.len()), &expected, hint);
                    continue;
                }
                let cells = header.iter().zip(&record).map(|(name, cell)| plain_cell(name, cell));
                records.push((line, cells.collect()));
            }
            Err(error) => sink.wrong(
                error.position().map(|p| p.line() as u32),
                &format!("a row that cannot be read ({error})"),
                "a row of text",
                "save the roster as CSV, UTF-8",
            ),
        }
    }
    records
}

/// Every date of the roster.
fn date_cells<'r>(records: &'r [(u32, Vec<String>)], header: &'r [String]) -> Vec<DateCell<'r>> {
    let of_row = |(line, cells): &'r (u32, Vec<String>)| {
        let dates = header.iter().zip(cells).filter(|(name, _)| matches!(name.as_str(), "from" | "to"));
        dates.map(|(column, text)| DateCell { line: *line, column, text })
    };
    records.iter().flat_map(of_row).collect()
}

fn check_header(header: &[String], exports: ExportsAre, sink: &mut Sink<'_>) -> bool {
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
    let may_lack = |name: &str| exports == ExportsAre::ToCome && ["logger", "file"].contains(&name);
    for name in required {
        if !may_lack(name) && !header.iter().any(|h| h == name) {
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

/// Rows → homes and rooms in the order of their first row.
fn gather(rows: Vec<RosterRow>, sink: &mut Sink<'_>) -> Vec<Home> {
    let mut homes: Vec<Home> = Vec::new();
    let mut at: BTreeMap<String, usize> = BTreeMap::new();
    let mut rooms_at: BTreeMap<(usize, String), usize> = BTreeMap::new();
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
        let r = *rooms_at.entry((h, row.room.clone())).or_insert(rooms.len());
        match rooms.get_mut(r) {
            None => rooms.push(Room {
                name: row.room,
                purpose: row.purpose,
                heated: row.heated,
                placements: row.placement.into_iter().collect(),
            }),
            Some(room) => {
                // What one row does not know another may.
                let heated = match (room.heated, row.heated) {
                    (Heated::Unknown, known) | (known, Heated::Unknown) => known,
                    (known, _) => known,
                };
                room.heated = heated;
                if room.purpose != row.purpose || ![heated, Heated::Unknown].contains(&row.heated) {
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
        let twice = same.sources.iter().find(|known| {
            new.sources.iter().any(|s| plain_path(s.file.own()) == plain_path(known.file.own()))
        });
        if let Some(known) = twice {
            let found = format!(
                "{} for {home} {} again, as in line {}",
                known.file.told(),
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
            new.logger.told(),
            room.name,
            other.logger.told(),
            other.line
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
                    .entry((plain_path(source.file.own()), source.column.as_deref(), placement.logger.own()))
                    .or_default();
                let other = others.iter().find(|(p, _, _)| p.span.overlaps(&placement.span));
                if let Some((_, line, place)) = other {
                    let found = format!(
                        "{} for {} {}, though line {line} has it for {place}",
                        source.file.told(),
                        home.name,
                        room.name
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
