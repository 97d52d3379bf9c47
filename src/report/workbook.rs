//! The workbook: findings and rooms for people who work in spreadsheets. No arithmetic.

use rust_xlsxwriter::{DocProperties, ExcelDateTime, Format, FormatAlign, Workbook, Worksheet, XlsxError};

use super::homes;
use crate::audit::{Audit, HomeAudit, HomeNumbers};
use crate::cases::{Course, rooms_words};
use crate::error::{Error, Result};
use crate::findings::{Severity, show_span};
use crate::metrics::{self, Metric, MetricRow};
use crate::site::audience;
use crate::units::{Celsius, KelvinDiff};

/// Height of a line of text, in points.
const LINE_HEIGHT: f64 = 15.0;

const FINDINGS: [(&str, f64); 8] = [
    ("Home", 8.0),
    ("Standing", 11.0),
    ("Severity", 10.0),
    ("Room", 14.0),
    ("Rule", 17.0),
    ("What the record shows", 70.0),
    ("When (local time)", 36.0),
    ("Next step", 60.0),
];

/// The bytes of the workbook.
///
/// # Errors
/// [`Error::Encode`].
pub fn workbook(audit: &Audit) -> Result<Vec<u8>> {
    make(audit).map_err(|source| Error::Encode { table: "findings.xlsx", source: Box::new(source) })
}

fn make(audit: &Audit) -> std::result::Result<Vec<u8>, XlsxError> {
    let mut book = Workbook::new();
    // A fixed date: the same inputs give the same bytes.
    let made = ExcelDateTime::from_ymd(2000, 1, 1)?;
    book.set_properties(&DocProperties::new().set_title(&audit.site.name).set_creation_datetime(&made));
    to_do(book.add_worksheet(), audit)?;
    findings(book.add_worksheet(), audit)?;
    rooms(book.add_worksheet(), audit)?;
    about(book.add_worksheet(), audit)?;
    book.save_to_buffer()
}

const TO_DO: [(&str, f64); 9] = [
    ("Home", 8.0),
    ("Standing", 13.0),
    ("Room", 16.0),
    ("What happened", 46.0),
    ("First step", 46.0),
    ("Bring", 28.0),
    ("Done", 8.0),
    ("By", 12.0),
    ("Date", 12.0),
];

/// The list for the crew: cases that are to act on, the worst homes first, with columns to fill in.
fn to_do(sheet: &mut Worksheet, audit: &Audit) -> std::result::Result<(), XlsxError> {
    sheet.set_name("To do")?;
    head(sheet, &TO_DO)?;
    let text = Format::new().set_text_wrap().set_align(FormatAlign::Top);
    let homes = audit.worst_first();
    let acts = homes.iter().flat_map(|home| home.cases.iter().map(move |case| (home, case)));
    let acts = acts.filter(|(_, c)| c.course != Course::Over && c.severity <= Severity::Act);
    for (row, (home, case)) in (1..).zip(acts) {
        let (rooms, standing) = (rooms_words(&case.rooms), home.standing());
        let rooms = if rooms.is_empty() { "whole home" } else { rooms.as_str() };
        let cells = [
            &home.name,
            standing.word(),
            rooms,
            &case.sentence,
            case.kind.next_step,
            case.kind.bring,
            "",
            "",
            "",
        ];
        let mut lines: f64 = 1.0;
        for ((column, cell), (_, width)) in (0..).zip(cells).zip(TO_DO) {
            sheet.write_with_format(row, column, cell, &text)?;
            lines = lines.max((cell.chars().count() as f64 / width).ceil());
        }
        sheet.set_row_height(row, LINE_HEIGHT * lines)?;
    }
    Ok(())
}

fn head(sheet: &mut Worksheet, columns: &[(&str, f64)]) -> std::result::Result<(), XlsxError> {
    let bold = Format::new().set_bold().set_text_wrap().set_align(FormatAlign::Top);
    for (column, (name, width)) in (0..).zip(columns) {
        sheet.write_with_format(0, column, *name, &bold)?;
        sheet.set_column_width(column, *width)?;
    }
    sheet.set_row_height(0, LINE_HEIGHT * 3.0)?;
    sheet.set_freeze_panes(1, 0)?;
    sheet.set_repeat_rows(0, 0)?.set_landscape().set_print_fit_to_pages(1, 0);
    Ok(())
}

fn findings(sheet: &mut Worksheet, audit: &Audit) -> std::result::Result<(), XlsxError> {
    sheet.set_name("Findings")?;
    head(sheet, &FINDINGS)?;
    let text = Format::new().set_text_wrap().set_align(FormatAlign::Top);
    let mut row = 1;
    let mut write = |cells: [&str; 8]| -> std::result::Result<(), XlsxError> {
        for (column, cell) in (0..).zip(cells) {
            sheet.write_with_format(row, column, cell, &text)?;
        }
        // A program that does not measure wrapped text itself would lay the rows over each other.
        let lines =
            cells.iter().zip(FINDINGS).map(|(cell, (_, width))| (cell.chars().count() as f64 / width).ceil());
        sheet.set_row_height(row, LINE_HEIGHT * lines.fold(1.0, f64::max))?;
        row += 1;
        Ok(())
    };
    for home in audit.worst_first() {
        let standing = home.standing();
        for f in &home.findings {
            let when = f.span.map_or(String::new(), |s| show_span(s, audit.site.zone));
            let room = f.room.as_deref().unwrap_or("whole home");
            write([
                &home.name,
                standing.word(),
                f.severity.word(),
                room,
                f.rule,
                &f.shows,
                &when,
                f.next_step,
            ])?;
        }
        for open in &home.not_judged {
            let room = open.room.as_deref().unwrap_or("whole home");
            let period = open.period.as_deref().unwrap_or_default();
            write([&home.name, standing.word(), "not judged", room, open.rule, &open.why, period, ""])?;
        }
        if home.findings.is_empty() && home.not_judged.is_empty() {
            write([&home.name, standing.word(), "", "", "", standing.meaning(), "", ""])?;
        }
    }
    sheet.autofilter(0, 0, row - 1, FINDINGS.len() as u16 - 1)?;
    Ok(())
}

/// What a number of the rooms sheet is shown as.
#[derive(Clone, Copy)]
enum Shown {
    Plain,
    Temperature,
    Difference,
}

static NUMBERS: [(&str, &Metric, Shown); 9] = [
    ("Coverage, %", &metrics::COVERAGE, Shown::Plain),
    ("Lowest", &metrics::MINIMUM, Shown::Temperature),
    ("Median", &metrics::MEDIAN, Shown::Temperature),
    ("Highest", &metrics::MAXIMUM, Shown::Temperature),
    ("Hours below band", &metrics::HOURS_BELOW_BAND, Shown::Plain),
    ("Hours above band", &metrics::HOURS_ABOVE_BAND, Shown::Plain),
    ("From heated rooms", &metrics::OFFSET_FROM_REFERENCE, Shown::Difference),
    ("Coldest room, % of time", &metrics::SHARE_COLDEST, Shown::Plain),
    ("Hours observed", &metrics::MEAN, Shown::Plain),
];

fn rooms(sheet: &mut Worksheet, audit: &Audit) -> std::result::Result<(), XlsxError> {
    let units = audit.site.units;
    sheet.set_name("Rooms")?;
    let titles: Vec<String> = NUMBERS
        .iter()
        .map(|(title, _, shown)| match shown {
            Shown::Plain => (*title).to_owned(),
            Shown::Temperature => format!("{title}, {units}"),
            Shown::Difference => format!("{title}, {}", units.difference_sign()),
        })
        .collect();
    let mut columns = vec![("Home", 8.0), ("Room", 14.0), ("Heated", 8.0), ("Period", 14.0)];
    columns.extend(titles.iter().map(|t| (t.as_str(), 12.0)));
    head(sheet, &columns)?;
    let number = Format::new().set_num_format("0.0");
    let mut row = 1;
    for (home, of_roster) in audit.homes.iter().zip(&audit.site.homes) {
        let numbers = HomeNumbers::of(home);
        for room in &of_roster.rooms {
            for period in audit.site.period_names() {
                sheet.write(row, 0, &home.name)?.write(row, 1, &room.name)?;
                sheet.write(row, 2, room.heated.word())?.write(row, 3, period)?;
                for (column, (title, metric, shown)) in (4..).zip(NUMBERS) {
                    let Some(found) = numbers.value(period, Some(&room.name), metric) else { continue };
                    sheet.write_with_format(
                        row,
                        column,
                        shown_number(found, shown, title, units),
                        &number,
                    )?;
                }
                row += 1;
            }
        }
    }
    sheet.autofilter(0, 0, (row - 1).max(1), columns.len() as u16 - 1)?;
    Ok(())
}

fn shown_number(row: &MetricRow, shown: Shown, title: &str, units: crate::units::TemperatureUnit) -> f64 {
    match shown {
        Shown::Plain if title == "Hours observed" => row.hours_observed,
        Shown::Plain => row.value,
        Shown::Temperature => units.number(Celsius::new(row.value)),
        Shown::Difference => units.difference_number(KelvinDiff::new(row.value)),
    }
}

fn about(sheet: &mut Worksheet, audit: &Audit) -> std::result::Result<(), XlsxError> {
    sheet.set_name("About")?;
    sheet.set_column_width(0, 110)?;
    let wrap = Format::new().set_text_wrap();
    let undecided = |h: &&HomeAudit| !h.not_judged.is_empty();
    let is_cold = audit.homes.iter().any(HomeAudit::is_too_cold);
    let lines: Vec<String> = [
        format!("{}: {} homes; {} with something that could not be judged.", audit.site.name, audit.homes.len(), audit.homes.iter().filter(undecided).count()),
        "This is a measurement, no legal finding: local code and licensed practice decide.".to_owned(),
        "Hours below and above the band are counted as measured; how sure they are (certainly, possibly) is in metrics.csv and in the findings.".to_owned(),
        audit.taken_off().unwrap_or_else(|| "Nothing was taken off any reading.".to_owned()),
        homes::spread_words(audit),
        audience(&audit.site).to_owned(),
    ].into_iter().chain(is_cold.then(|| "No heat where somebody is old, ill or very young is urgent: call the local complaint or emergency line. Never heat with an oven or an unvented appliance (carbon monoxide).".to_owned())).collect();
    for (row, line) in (0..).zip(&lines) {
        sheet.write_with_format(row, 0, line, &wrap)?;
    }
    Ok(())
}
