//! How an export is understood, for a person who wants to see it.

use serde::Serialize;

use super::contradictions::{self, clock_words};
use super::dialect::{DateForm, Dialect, TimeCells, counted_in, open_dates};
use super::events::is_table_of_events;
use super::headers::{is_row_number, temperature_columns};
use super::quantities::RowsOf;
use super::raw::{NotUnderstood, Opening, RawExport};
use super::select::{Selection, empty_temperatures};
use super::series::Series;
use super::sheet::{Delimiter, Sheet};
use super::times::DateStyle;
use super::unit::guess_unit;
use super::wanted::Wanted;
use crate::clock::LocalTime;
use crate::error::Trouble;
use crate::site::Dates;
use crate::stats;
use crate::texts::Words;
use crate::unpack::{self, Part};

/// How a file is understood.
#[derive(Debug, Serialize)]
pub struct Inspection {
    /// The file.
    pub file: String,
    /// Its texts: one, or the sheets or members.
    pub texts: Vec<TextSeen>,
    /// Why it could not be opened at all.
    pub trouble: Option<String>,
}

/// How one text is understood.
#[derive(Debug, Default, Serialize)]
pub struct TextSeen {
    /// Sheet or member.
    pub part: Option<String>,
    /// Character encoding.
    pub encoding: String,
    /// What stands between cells.
    pub delimiter: String,
    /// Mark between whole and fraction.
    pub decimal_mark: String,
    /// Preamble and header lines as they stand.
    pub lines_before: Vec<String>,
    /// Line of the first reading.
    pub first_data_line: Option<u32>,
    /// Headers; a column without one has its number.
    pub columns: Vec<String>,
    /// Which columns hold the time.
    pub time_columns: String,
    /// How times are written.
    pub times: String,
    /// What the file says about its clock.
    pub clock: String,
    /// Loggers that the file names, where it holds several.
    pub loggers: Vec<String>,
    /// What the rows measured, where a column says it.
    pub quantities: Vec<String>,
    /// Header, blank and data lines.
    pub header_lines: u64,
    /// Lines with nothing on them.
    pub blank_lines: u64,
    /// Data lines.
    pub data_lines: u64,
    /// The series that can be temperatures.
    pub series: Vec<SeriesSeen>,
    /// Rows that cannot be read.
    pub set_aside: Vec<LinesAside>,
    /// The header of the column that numbers the rows, where it is a name.
    #[serde(skip)]
    pub above_numbers: Option<String>,
    /// What a person must say of its times, where it was looked at with a stand-in for the answer.
    pub dates_open: Option<String>,
    /// Whether it is a table of times and words that no logger wrote, such as a timetable or a diary.
    pub no_export: bool,
    /// Whether it could not even be taken out of its file.
    pub lost: bool,
    /// Why it could not be understood.
    pub trouble: Option<String>,
}

/// One series.
#[derive(Debug, Serialize)]
pub struct SeriesSeen {
    /// Its column.
    pub column: String,
    /// The logger whose rows it takes, where the file holds several.
    pub logger: Option<String>,
    /// What its rows measured, where a column says it.
    pub quantity: Option<String>,
    /// The unit that the file states.
    pub unit_stated: Option<String>,
    /// Two units that the file states.
    pub unit_contradiction: Option<String>,
    /// The unit that the values tell, where none is stated, or two are.
    pub unit_told_by_values: Option<String>,
    /// Rows with a time.
    pub rows: u64,
    /// Rows without a value.
    pub missing: u64,
    /// First and last time on the logger's clock.
    pub first_local: Option<String>,
    /// As above.
    pub last_local: Option<String>,
    /// Median step between rows, in seconds.
    pub interval_s: Option<f64>,
    /// Smallest, middle and largest value, as written.
    pub lowest: Option<f64>,
    /// As above.
    pub median: Option<f64>,
    /// As above.
    pub highest: Option<f64>,
    /// The first rows: line, time, value.
    pub first_rows: Vec<(u32, String, Option<f64>)>,
    /// Numbers that stand for "no data", with how often they were seen.
    pub no_data_marks: Vec<(f64, u64)>,
    /// Whether its name, or a unit beside its values, says that it is a temperature.
    #[serde(skip)]
    pub says_temperature: bool,
    /// Times on the logger's clock and values, for programs of ours.
    #[serde(skip)]
    pub readings: Vec<(i64, f64)>,
    /// Whether the times are UTC.
    #[serde(skip)]
    pub in_utc: bool,
}

/// A row that cannot be read.
#[derive(Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub struct LinesAside {
    /// Its line.
    pub line: u32,
    /// Why.
    pub reason: String,
    /// Its text, cut at 200 characters.
    pub text: String,
}

/// Rows shown of each series.
const FIRST_ROWS: usize = 3;
/// Columns of a text without temperatures that are told.
const SHOWN_COLUMNS: usize = 12;
/// Series of one text that are looked at.
const MOST_SERIES: usize = 500;

/// Looks at a file; `dates` settles what its dates mean where the content leaves it open.
pub fn inspect(file: &str, bytes: &[u8], dates: Option<Dates>) -> Inspection {
    let mut inspection = Inspection { file: file.to_owned(), texts: Vec::new(), trouble: None };
    match unpack::unpack(bytes) {
        Ok(parts) => inspection.texts = parts.into_iter().map(|p| text_seen(p, dates)).collect(),
        Err(trouble) => inspection.trouble = Some(words(&trouble)),
    }
    inspection
}

fn words(trouble: &Trouble) -> String {
    let line = trouble.line.map_or(String::new(), |l| format!("line {l}: "));
    format!("{line}{}\n  hint: {}", trouble.what.told(), trouble.hint)
}

fn text_seen(part: Part<'_>, dates: Option<Dates>) -> TextSeen {
    let (name, lost) = (part.name.clone(), part.lost().is_some());
    let bytes = match part.opened() {
        Ok(bytes) => bytes,
        Err(trouble) => {
            return TextSeen { part: name, lost, trouble: Some(words(&trouble)), ..TextSeen::default() };
        }
    };
    let mut seen = match Opening::new(Sheet::decode(bytes), dates, &[]) {
        Ok(opening) => opened_text(opening),
        Err(NotUnderstood { trouble, sheet }) => {
            let no_export = sheet.as_ref().is_some_and(is_table_of_events);
            let open = sheet.and_then(|s| open_dates(&s).map(|(question, answer)| (s, question, answer)));
            let looked_at = open.and_then(|(sheet, question, answer)| {
                let seen = opened_text(Opening::new(sheet, Some(answer), &[]).ok()?);
                Some(TextSeen { dates_open: Some(question), ..seen })
            });
            TextSeen { trouble: Some(words(&trouble)), no_export, ..looked_at.unwrap_or_default() }
        }
    };
    seen.part = name;
    seen
}

fn opened_text(opening: Opening<'_>) -> TextSeen {
    let encoding = opening.encoding().to_owned();
    let loggers = opening.loggers.clone();
    let picks: Vec<Option<(usize, String)>> = match &loggers {
        Some((at, names)) => names.iter().map(|n| Some((*at, n.clone()))).collect(),
        None => vec![None],
    };
    let mut columns = temperature_columns(&opening.dialect, loggers.as_ref().map(|(at, _)| *at));
    if columns.is_empty() {
        columns = empty_temperatures(&opening.dialect);
    }
    let quantities: Vec<Option<RowsOf>> = match &opening.quantities {
        Some(all) => all.temperatures().map(Some).collect(),
        None => vec![None],
    };
    let one = |logger: &Option<(usize, String)>, rows_of: &Option<RowsOf>, column: usize| Selection {
        column,
        humidity: None,
        logger: logger.clone(),
        rows_of: rows_of.clone(),
    };
    let mut selections = Vec::new();
    for logger in &picks {
        for rows_of in &quantities {
            selections.extend(columns.iter().map(|c| one(logger, rows_of, *c)));
        }
    }
    selections.truncate(MOST_SERIES);
    let trouble = selections.is_empty().then(|| words(&no_temperature(&opening)));
    let raw = opening.read(selections);
    let dialect = &raw.dialect;
    let says = raw.series.iter().any(|s| says_temperature(dialect, s));
    TextSeen {
        part: None,
        encoding,
        delimiter: delimiter_words(dialect.delimiter),
        decimal_mark: char::from(dialect.decimal).to_string(),
        lines_before: dialect.lines_before.clone(),
        first_data_line: Some(dialect.first_data_line),
        columns: (0..dialect.columns.len()).map(|i| column_words(dialect, i)).collect(),
        time_columns: time_words(dialect),
        times: form_words(dialect.form),
        clock: clock_words(dialect),
        loggers: raw.loggers.clone().map(|(_, names)| names).unwrap_or_default(),
        quantities: raw.quantities.iter().flat_map(|q| q.names()).map(str::to_owned).collect(),
        header_lines: raw.header_lines,
        blank_lines: raw.blank_lines,
        data_lines: raw.data_lines,
        series: raw.series.iter().map(|s| series_seen(dialect, s)).collect(),
        set_aside: set_aside(&raw),
        above_numbers: above_numbers(dialect),
        dates_open: None,
        lost: false,
        no_export: !says && is_table_of_events(&raw.sheet),
        trouble,
    }
}

/// Why nothing of a text can be the temperature of a room.
fn no_temperature(opening: &Opening<'_>) -> Trouble {
    let wanted = Wanted { column: None, logger: "" };
    let asked = opening.quantities.as_ref().and_then(|q| q.pick(wanted).err());
    asked.unwrap_or_else(|| {
        let all = (0..opening.dialect.columns.len()).map(|i| column_words(&opening.dialect, i));
        let columns: Vec<String> = all.take(SHOWN_COLUMNS).collect();
        Trouble::new(
            format!("no column with temperatures beside the time; its columns are {}", columns.join(", ")),
            "it may be no export of a logger; else export it as text with a column for temperature",
        )
    })
}

fn series_seen(dialect: &Dialect, series: &Series) -> SeriesSeen {
    let values: Vec<f64> = series.values.iter().copied().filter(|x| !x.is_nan()).collect();
    let mut steps: Vec<f64> = series.times_ms.windows(2).map(|w| (w[1] - w[0]) as f64 / 1000.0).collect();
    if steps.iter().filter(|s| **s < 0.0).count() * 2 > steps.len() {
        steps.iter_mut().for_each(|s| *s = -*s);
    }
    let unit_contradiction = contradictions::units(series);
    let stated = series.unit.filter(|_| unit_contradiction.is_none());
    let show = |ms: &i64| LocalTime::from_ms(*ms).show();
    let rows = series.lines.iter().zip(&series.times_ms).zip(&series.values);
    SeriesSeen {
        column: series.name.clone(),
        logger: series.selection.logger.as_ref().map(|(_, name)| name.clone()),
        quantity: series.selection.rows_of.as_ref().map(|rows| rows.name.clone()),
        unit_stated: stated.map(|u| u.to_string()),
        unit_contradiction,
        unit_told_by_values: stated.is_none().then(|| guess_unit(series)).flatten().map(|u| u.to_string()),
        rows: series.times_ms.len() as u64,
        missing: (series.values.len() - values.len()) as u64,
        first_local: series.times_ms.iter().min().map(show),
        last_local: series.times_ms.iter().max().map(show),
        interval_s: stats::median(steps.into_iter().filter(|s| *s > 0.0).collect()),
        lowest: values.iter().copied().reduce(f64::min),
        median: stats::median(values.clone()),
        highest: values.iter().copied().reduce(f64::max),
        first_rows: rows
            .take(FIRST_ROWS)
            .map(|((line, ms), x)| (*line, show(ms), (!x.is_nan()).then_some(*x)))
            .collect(),
        no_data_marks: series.marks.clone(),
        readings: series
            .times_ms
            .iter()
            .copied()
            .zip(series.values.iter().copied())
            .filter(|(_, x)| !x.is_nan())
            .collect(),
        in_utc: dialect.times_in_utc,
        says_temperature: says_temperature(dialect, series),
    }
}

/// What stands above the numbers of the rows, where it is not a word for numbers.
fn above_numbers(dialect: &Dialect) -> Option<String> {
    let mut numbers = dialect.columns.iter().filter(|c| c.counts_rows && !is_row_number(&c.name));
    numbers.next().map(|c| c.name.clone()).filter(|name| !name.is_empty())
}

fn says_temperature(dialect: &Dialect, series: &Series) -> bool {
    let column = &dialect.columns[series.selection.column];
    let labelled = is_labelled_t(&column.name);
    column.says_temperature() || column.unit_in_cells || labelled || series.selection.rows_of.is_some()
}

/// `T`, `T1`, `T_out`: the letter for temperature, with a number or a word behind it.
fn is_labelled_t(name: &str) -> bool {
    let behind = name.strip_prefix(['T', 't']);
    behind.is_some_and(|b| b.is_empty() || b.starts_with('_') || b.bytes().all(|c| c.is_ascii_digit()))
}

/// The series that an audit would read: beside a column that speaks of temperature, no other costs a row.
fn to_be_read<'r>(raw: &'r RawExport<'_>) -> impl Iterator<Item = &'r Series> {
    let some = raw.series.iter().any(|s| says_temperature(&raw.dialect, s));
    raw.series.iter().filter(move |s| !some || says_temperature(&raw.dialect, s))
}

fn set_aside(raw: &RawExport<'_>) -> Vec<LinesAside> {
    let mut aside: Vec<(u32, String)> = Vec::new();
    for series in to_be_read(raw) {
        let words = |(line, why): (u32, &str)| match why {
            "" => (line, "bad timestamp".to_owned()),
            why => (line, format!("bad timestamp ({why})")),
        };
        aside.extend(series.bad_times.iter().map(words));
        aside.extend(series.bad_values.iter().map(|(row, why)| {
            let reason = Words::from(format!("bad value in {}", series.bad_value_words(why)));
            (series.lines[row as usize], reason.told())
        }));
    }
    aside.sort();
    aside.dedup();
    let lines: Vec<u32> = aside.iter().map(|(line, _)| *line).collect();
    let texts = raw.sheet.pick(&lines);
    let row = |((line, reason), text): ((u32, String), &str)| LinesAside {
        line,
        reason,
        text: text.chars().take(200).collect(),
    };
    aside.into_iter().zip(texts).map(row).collect()
}

fn column_words(dialect: &Dialect, at: usize) -> String {
    match dialect.columns.get(at).map(|c| c.name.as_str()) {
        Some("") | None => format!("column {}", at + 1),
        Some(name) => name.to_owned(),
    }
}

fn delimiter_words(delimiter: Delimiter) -> String {
    match delimiter {
        Delimiter::Byte(b'\t') => "tab".to_owned(),
        Delimiter::Byte(b',') => "comma".to_owned(),
        Delimiter::Byte(b';') => "semicolon".to_owned(),
        Delimiter::Byte(byte) => format!("\"{}\"", char::from(byte)),
        Delimiter::WideBlanks => "two blanks or more".to_owned(),
        Delimiter::Blanks => "blanks".to_owned(),
    }
}

fn time_words(dialect: &Dialect) -> String {
    match dialect.time {
        TimeCells::One(at) => column_words(dialect, at),
        TimeCells::Apart { date, time, half } => {
            let half = half.map_or(String::new(), |h| format!(" and {}", column_words(dialect, h)));
            format!("{} and {}{half}", column_words(dialect, date), column_words(dialect, time))
        }
    }
}

fn form_words(form: DateForm) -> String {
    match form {
        DateForm::Written(DateStyle::Ymd) => "dates, year first".to_owned(),
        DateForm::Written(DateStyle::Dmy) => "dates, day first".to_owned(),
        DateForm::Written(DateStyle::Mdy) => "dates, month first".to_owned(),
        DateForm::EpochSeconds => "seconds since 1970 UTC".to_owned(),
        DateForm::EpochMilliseconds => "milliseconds since 1970 UTC".to_owned(),
        DateForm::Serial1900 => "day numbers of a spreadsheet that starts in 1900".to_owned(),
        DateForm::Serial1904 => "day numbers of a spreadsheet that starts in 1904".to_owned(),
        DateForm::SecondsOf(year) => format!("seconds since the start of {year}"),
        DateForm::Since { unit_ms, start_ms } => {
            format!("a count of {} since {}", counted_in(unit_ms), LocalTime::from_ms(start_ms).show())
        }
    }
}
