//! Sheets of workbooks → lines of cells. A line number is a row number.

use std::collections::BTreeSet;
use std::io::Cursor;

use calamine::{Data, DataRef, ExcelDateTime, Ods, Reader, SheetType, Xls, Xlsx};

use super::{Lines, Part, careful, damaged};
use crate::error::Trouble;
use crate::texts::name as shown;

/// Rows a sheet may have, and columns: the limits of the format itself, so that a far cell costs no more than it must.
const MAX_ROWS: u32 = 1 << 20;
const MAX_COLUMNS: u32 = 4096;

/// A cell on its way to text.
enum Cell {
    Text(String),
    Date(ExcelDateTime),
}

/// A cell with its row and column, from 0.
type Placed = (u32, u32, Cell);

/// The sheets of a workbook of the newer kind, cell by cell.
pub(crate) fn sheets(bytes: &[u8]) -> Result<Vec<Part<'static>>, Trouble> {
    let mut book: Xlsx<_> = Xlsx::new(Cursor::new(bytes)).map_err(|e| damaged("workbook", e))?;
    let has_cells = |sheet: &&calamine::Sheet| sheet.typ == SheetType::WorkSheet;
    let names: Vec<String> =
        book.sheets_metadata().iter().filter(has_cells).map(|sheet| sheet.name.clone()).collect();
    let mut parts = Vec::new();
    for name in names {
        let kind = || format!("sheet \"{}\" of the workbook", shown(&name));
        let cells = careful(&kind(), || cells_of(&mut book, &name).map_err(|e| damaged(&kind(), e)));
        parts.push(match cells {
            Ok(cells) => render(name, cells)?,
            // The other sheets are no worse for it.
            Err(lost) => Part { name: Some(name), bytes: Err(lost) },
        });
    }
    Ok(parts)
}

fn cells_of<R: std::io::Read + std::io::Seek>(
    book: &mut Xlsx<R>,
    sheet: &str,
) -> Result<Vec<Placed>, calamine::XlsxError> {
    let mut reader = book.worksheet_cells_reader(sheet)?;
    let mut cells: Vec<Placed> = Vec::new();
    while let Some(cell) = reader.next_cell()? {
        let (row, column) = cell.get_position();
        let value = match cell.get_value() {
            DataRef::Empty => continue,
            DataRef::String(s) | DataRef::DateTimeIso(s) | DataRef::DurationIso(s) => Cell::Text(s.clone()),
            DataRef::SharedString(s) => Cell::Text((*s).to_owned()),
            DataRef::Int(i) => Cell::Text(i.to_string()),
            DataRef::Float(x) => Cell::Text(x.to_string()),
            DataRef::Bool(b) => Cell::Text(b.to_string()),
            DataRef::DateTime(t) => Cell::Date(*t),
            DataRef::Error(e) => Cell::Text(e.to_string()),
        };
        cells.push((row, column, value));
    }
    Ok(cells)
}

/// The sheets of a workbook of the older kind.
pub(crate) fn old(bytes: &[u8]) -> Result<Vec<Part<'static>>, Trouble> {
    let mut book: Xls<_> = Xls::new(Cursor::new(bytes)).map_err(|e| damaged("workbook", e))?;
    book.worksheets().into_iter().map(|(name, range)| render(name, placed(&range))).collect()
}

/// The sheets of an open-document spreadsheet; `content` is its inner text, looked through for cells that claim to repeat.
pub(crate) fn open_document(bytes: &[u8], content: &[u8]) -> Result<Vec<Part<'static>>, Trouble> {
    refuse_repeats(content)?;
    let mut book: Ods<_> = Ods::new(Cursor::new(bytes)).map_err(|e| damaged("spreadsheet", e))?;
    book.worksheets().into_iter().map(|(name, range)| render(name, placed(&range))).collect()
}

/// A cell with a value that repeats a thousand times, or a row of values that does, is no record of a logger.
fn refuse_repeats(content: &[u8]) -> Result<(), Trouble> {
    const MOST: u64 = 1000;
    let text = String::from_utf8_lossy(content);
    let mut row_repeats = 1;
    for tag in text.split('<').skip(1) {
        let tag = tag.split('>').next().unwrap_or_default();
        let repeats = |name: &str| {
            let after = tag.split_once(name)?.1.trim_start_matches(['=', '"', '\'']);
            after.split(['"', '\'']).next()?.parse::<u64>().ok()
        };
        if tag.starts_with("table:table-row") {
            row_repeats = repeats("number-rows-repeated").unwrap_or(1);
        } else if tag.starts_with("table:table-cell") && tag.contains("value-type") {
            let cells = row_repeats.saturating_mul(repeats("number-columns-repeated").unwrap_or(1));
            if cells > MOST {
                return Err(damaged("spreadsheet", format!("one cell claims to stand {cells} times")));
            }
        }
    }
    Ok(())
}

fn placed(range: &calamine::Range<Data>) -> Vec<Placed> {
    let (top, left) = range.start().unwrap_or((0, 0));
    let cell = |(row, column, data): (usize, usize, &Data)| {
        let value = match data {
            Data::Empty => return None,
            Data::DateTime(t) => Cell::Date(*t),
            Data::DurationIso(text) => Cell::Text(time_of_duration(text)),
            other => Cell::Text(other.to_string()),
        };
        Some((top + row as u32, left + column as u32, value))
    };
    range.used_cells().filter_map(cell).collect()
}

/// Cells, row by row, as lines; rows without cells are blank lines, so that line numbers stay row numbers.
fn render(name: String, mut cells: Vec<Placed>) -> Result<Part<'static>, Trouble> {
    cells.retain(|(row, column, _)| *row < MAX_ROWS && *column < MAX_COLUMNS);
    cells.sort_by_key(|(row, column, _)| (*row, *column));
    let times_apart = cells.iter().any(|(_, _, c)| matches!(c, Cell::Date(t) if t.as_f64() < 1.0));
    // Columns in which some cell has day and time: there, midnight is a time too.
    let with_time: BTreeSet<u32> = cells
        .iter()
        .filter(|(_, _, c)| matches!(c, Cell::Date(t) if t.as_f64() >= 1.0 && t.as_f64().fract() != 0.0))
        .map(|(_, column, _)| *column)
        .collect();
    let mut lines = Lines::default();
    let mut next_row = 0;
    for row in cells.chunk_by(|a, b| a.0 == b.0) {
        for _ in next_row..row[0].0 {
            lines.line(std::iter::empty())?;
        }
        next_row = row[0].0 + 1;
        let width = row.last().map_or(0, |(_, column, _)| *column as usize + 1);
        let mut texts = vec![String::new(); width];
        for (_, column, cell) in row {
            texts[*column as usize] = show(cell, times_apart && !with_time.contains(column));
        }
        lines.line(texts.iter().map(String::as_str))?;
    }
    Ok(lines.part(Some(name)))
}

/// `PT00H10M00S`, as open documents write a time of day, is 00:10:00.
fn time_of_duration(text: &str) -> String {
    let parts: Option<Vec<u32>> = text.strip_prefix("PT").map(|t| {
        t.split(['H', 'M', 'S'])
            .filter(|p| !p.is_empty())
            .filter_map(|p| p.split(['.', ',']).next()?.parse().ok())
            .collect()
    });
    match parts.as_deref() {
        Some([hour, minute, second]) => format!("{hour:02}:{minute:02}:{second:02}"),
        _ => text.to_owned(),
    }
}

/// A whole day is shown without a time where the times stand in cells of their own.
fn show(cell: &Cell, times_apart: bool) -> String {
    let t = match cell {
        Cell::Text(text) => return text.clone(),
        Cell::Date(t) => t,
    };
    let (year, month, day, hour, minute, second, ms) = t.to_ymd_hms_milli();
    match t.as_f64() {
        x if x < 1.0 => format!("{hour:02}:{minute:02}:{second:02}"),
        x if times_apart && x.fract() == 0.0 => format!("{year:04}-{month:02}-{day:02}"),
        _ => format!("{year:04}-{month:02}-{day:02} {hour:02}:{minute:02}:{second:02}.{ms:03}"),
    }
}
