//! Text and dialect → the rows as they were written.
//!
//! Settled here, and why:
//! - **Glued exports**: below a header or preamble unlike the first, nothing is read: columns, unit or logger may be
//!   others.

use super::dialect::{Dialect, LineBefore, detect};
use super::fast_rows::FastRows;
use super::quantities::Quantities;
use super::select::{Selection, select};
use super::sentinels;
use super::series::Series;
use super::sheet::{MAX_LINE, Sheet, is_blank, split};
use super::wanted::Wanted;
use crate::error::Trouble;
use crate::site::Dates;

/// The rows of an export.
pub(super) struct RawExport<'b> {
    pub(super) sheet: Sheet<'b>,
    pub(super) dialect: Dialect,
    pub(super) series: Vec<Series>,
    /// Preamble and header lines, those too that came again in the middle.
    pub(super) header_lines: u64,
    pub(super) blank_lines: u64,
    /// Lines with data, or what should be data.
    pub(super) data_lines: u64,
    /// The column that names loggers and their names, where the file holds several.
    pub(super) loggers: Option<(usize, Vec<String>)>,
    /// What the rows measured, where they say it.
    pub(super) quantities: Option<Quantities>,
    /// Line of a header or preamble unlike the first, from which on nothing was read.
    pub(super) other_from: Option<u32>,
}

/// A file that could not be understood as a whole: why, and its text where it is one.
#[derive(Debug)]
pub(super) struct NotUnderstood<'b> {
    pub(super) trouble: Trouble,
    pub(super) sheet: Option<Sheet<'b>>,
}

impl From<Trouble> for NotUnderstood<'_> {
    fn from(trouble: Trouble) -> Self {
        Self { trouble, sheet: None }
    }
}

/// One text, its dialect told, before any series of it is read.
pub(super) struct Opening<'b> {
    sheet: Sheet<'b>,
    pub(super) dialect: Dialect,
    /// The column that names loggers, and the names, where the file holds several.
    pub(super) loggers: Option<(usize, Vec<String>)>,
    /// What the rows measured, where they say it.
    pub(super) quantities: Option<Quantities>,
}

impl<'b> Opening<'b> {
    /// Tells how a text is written; `asked` are loggers that the roster expects in it.
    ///
    /// # Errors
    /// [`NotUnderstood`] where that cannot be told.
    pub(super) fn new(
        sheet: Sheet<'b>,
        dates: Option<Dates>,
        asked: &[&str],
    ) -> Result<Self, NotUnderstood<'b>> {
        let dialect = match detect(&sheet, dates) {
            Ok(dialect) => dialect,
            Err(trouble) => return Err(NotUnderstood { trouble, sheet: Some(sheet) }),
        };
        let words = super::select::columns_of_words(&sheet, &dialect);
        let quantities = Quantities::find(&sheet, &dialect, &words);
        let loggers = super::select::loggers(&sheet, &dialect, (words, quantities.as_ref()), asked);
        Ok(Self { sheet, dialect, loggers, quantities })
    }

    /// How its characters are written.
    pub(super) fn encoding(&self) -> &'static str {
        self.sheet.encoding()
    }

    /// Reads the series of some roster rows: the export, and for each row the place of its series, or why it has none.
    pub(super) fn read_wanted(self, all: &[Wanted<'_>]) -> (RawExport<'b>, Vec<Result<usize, Trouble>>) {
        let mut selections = Vec::new();
        let mut places = Vec::new();
        for wanted in all {
            places.push(select(&self.dialect, (&self.loggers, &self.quantities), *wanted).map(|selection| {
                selections.push(selection);
                selections.len() - 1
            }));
        }
        (self.read(selections), places)
    }

    /// Reads some series.
    pub(super) fn read(self, selections: Vec<Selection>) -> RawExport<'b> {
        self.read_by(selections, Way::StraightFirst)
    }

    fn read_by(self, selections: Vec<Selection>, way: Way) -> RawExport<'b> {
        let Self { sheet, dialect, loggers, quantities } = self;
        let series = selections.into_iter().map(|s| Series::new(&dialect, s)).collect();
        let mut raw = RawExport {
            dialect,
            series,
            header_lines: 0,
            blank_lines: 0,
            data_lines: 0,
            loggers,
            quantities,
            other_from: None,
            sheet,
        };
        fill(&mut raw, way);
        raw
    }
}

/// How rows are read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Way {
    /// From fixed positions where a row is of the usual shape.
    StraightFirst,
    /// Cell by cell, to hold the other way against.
    #[cfg(test)]
    CellByCell,
}

fn fill(raw: &mut RawExport<'_>, way: Way) {
    let RawExport { sheet, dialect, series, header_lines, blank_lines, data_lines, other_from, .. } = raw;
    let mut cells = Vec::new();
    let mut last_line = 0;
    let mut straight = FastRows::new(sheet.bytes());
    let mut lines = sheet.lines();
    loop {
        if way == Way::StraightFirst && other_from.is_none() {
            let rows = straight.read(dialect, &mut lines, series);
            *data_lines += u64::from(rows);
            last_line = if rows > 0 { lines.number() } else { last_line };
        }
        let Some((number, line)) = lines.next() else { break };
        if is_blank(line) {
            *blank_lines += 1;
            continue;
        }
        if number < dialect.first_data_line {
            *header_lines += 1;
            continue;
        }
        let mut time_ms = None;
        cells.clear();
        let too_long = line.len() > MAX_LINE;
        if !too_long {
            split(line, dialect.delimiter, &mut cells);
            time_ms = dialect.time_ms(&cells);
        }
        if time_ms.is_none() {
            match dialect.line_before(line) {
                Some(LineBefore::Same) => {
                    *header_lines += 1;
                    continue;
                }
                // Below another header or preamble the columns, the unit or the logger may be others.
                Some(LineBefore::Other) => *other_from = other_from.or(Some(number)),
                None => {}
            }
        }
        let time_ms = time_ms.filter(|_| other_from.is_none());
        *data_lines += 1;
        last_line = number;
        let read = match time_ms {
            Some(time_ms) => Ok(time_ms),
            None if too_long => Err("a line of more than a megabyte"),
            None if other_from.is_some() => Err("below another header or preamble"),
            None => Err(dialect.why_no_time(&cells)),
        };
        for series in series.iter_mut().filter(|s| s.owns(&cells)) {
            series.add_row(dialect, &cells, number, read);
        }
    }
    for series in series.iter_mut() {
        sentinels::take_out(series);
        if !sheet.is_finished() {
            sentinels::refuse_cut_off(sheet, dialect, series, series.selection.column, last_line);
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::clock::LocalTime;
    use crate::exports::sheet::Lines;

    /// Everything that reading a text gives, floats as their bits; `None` where the text is asked about.
    fn read(text: &str, way: Way) -> Option<String> {
        read_column(text, None, way)
    }

    fn read_column(text: &str, column: Option<&str>, way: Way) -> Option<String> {
        let opening = Opening::new(Sheet::decode(text.as_bytes()), Some(Dates::DayFirst), &[]).ok()?;
        let wanted = Wanted { column, logger: "L-1" };
        let selection = select(&opening.dialect, (&opening.loggers, &opening.quantities), wanted).ok()?;
        let raw = opening.read_by(vec![selection], way);
        let bits = |values: &[f64]| values.iter().map(|x| x.to_bits()).collect::<Vec<_>>();
        let series = &raw.series[0];
        let books = (raw.header_lines, raw.blank_lines, raw.data_lines, raw.other_from);
        let rows = (&series.times_ms, &series.lines, bits(&series.values), bits(&series.humidity));
        let asides = (&series.bad_values, &series.bad_times, &series.marks, series.unit);
        Some(format!("{books:?} {rows:?} {asides:?}"))
    }

    /// Ways to write the times of a file, with the mark between cells and the decimal mark.
    const SHAPES: [(&str, char, char); 9] = [
        ("%Y-%m-%dT%H:%M:%S+00:00", ',', '.'),
        ("%Y-%m-%d %H:%M:%S", ',', '.'),
        ("%Y-%m-%dT%H:%M:%SZ", ',', '.'),
        ("%Y-%m-%dT%H:%M:%S+01:00", ';', ','),
        ("%d.%m.%Y %H:%M", ';', ','),
        ("%d/%m/%Y %H:%M:%S", '\t', '.'),
        ("%Y/%m/%d,%H:%M:%S", ',', '.'),
        ("%d.%m.%Y %I:%M:%S %p", ';', '.'),
        ("%Y-%m-%d %H:%M:%S%.3f", ',', '.'),
    ];

    /// What may stand in the place of a row, or be done to one.
    fn dirt(kind: u8, row: &str) -> String {
        match kind {
            0 => row.replacen(':', ".", 1),
            1 => row[..row.len() / 2].to_owned(),
            2 => format!("\"{row}\""),
            3 => row.replace("2026", "2226"),
            4 => format!(" {row} "),
            5 => format!("{row};;\""),
            6 => row.replace('2', "x"),
            7 => String::new(),
            8 => format!("{row}0000000000000000"),
            9 => row.replace([',', ';', '\t'], "; "),
            10 => row.replacen("-", "/", 1),
            11 => row.replace("10:", "24:").replace("09:", "9:"),
            12 => row.replace("+01:00", "+02:30").replace("+00:00", "+01:00"),
            13 => row.replace("00", "0O"),
            _ => row.to_owned(),
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig { rng_seed: proptest::test_runner::RngSeed::Fixed(7), cases: 400, ..ProptestConfig::default() })]
        #[test]
        fn rows_read_from_fixed_positions_are_those_read_cell_by_cell(
            shape in 0..SHAPES.len(),
            start in 0_i64..40_000,
            numbered in any::<bool>(),
            humid in any::<bool>(),
            rows in proptest::collection::vec((any::<i16>(), 0_u8..60, 0_u32..3), 5..60),
        ) {
            let (form, mark, decimal) = SHAPES[shape];
            let first = chrono::DateTime::from_timestamp(1_767_200_000 + start * 60, 0).unwrap();
            let mut text = String::new();
            for (i, (value, kind, digits)) in rows.iter().enumerate() {
                let time = (first + chrono::TimeDelta::seconds(i as i64 * 307)).format(form);
                let value = f64::from(*value) / 1000.0;
                let value = format!("{value:.*}", *digits as usize).replace('.', &decimal.to_string());
                let number = if numbered { format!("{i}{mark}") } else { String::new() };
                let humidity = if humid { format!("{mark}{}", 30 + i % 40) } else { String::new() };
                text += &dirt(*kind, &format!("{number}{time}{mark}{value}{humidity}"));
                text.push('\n');
            }
            prop_assert_eq!(read(&text, Way::StraightFirst), read(&text, Way::CellByCell));
        }
    }

    #[test]
    fn a_decimal_comma_between_commas_is_told_by_its_quotes() {
        let row = |i: u32| format!("2026-01-05 13:{i:02}:00,\"21,{i}\",\"40,5\"\n");
        let text: String = (10..40).map(row).chain(["2026-01-05 13:40:00,21,45\n".to_owned()]).collect();
        let both =
            [Way::StraightFirst, Way::CellByCell].map(|way| read_column(&text, Some("2"), way).unwrap());
        assert_eq!(both[0], both[1]);
        assert!(both[1].contains(&21.39_f64.to_bits().to_string()), "the quoted ones are read");
        assert!(!both[1].contains(&21.45_f64.to_bits().to_string()), "21 and 45 are two cells");
    }

    #[test]
    fn an_offset_that_changes_is_read_row_by_row() {
        let rows = ["05:00:00+01:00", "05:05:00+01:30", "06:10:00+10:00", "04:15:00+00:00", "05:20:00-01:00"];
        let text: String = rows.iter().map(|row| format!("2026-01-05T{row},21.4\n")).collect();
        let both = [Way::StraightFirst, Way::CellByCell].map(|way| read(&text, way).unwrap());
        assert_eq!(both[0], both[1]);
        let start = LocalTime::from_fields((2026, 1, 5), (4, 0, 0), 0).unwrap().ms();
        assert!(both[0].contains(&format!("[{start}, ")), "{}", both[0]);
    }

    #[test]
    fn a_plain_file_is_read_from_fixed_positions() {
        let text = "time,temp,rh\n2026-01-05 13:10:00,21.4,40\n2026-01-05 13:15:00,-0.55, 41\n2026-01-05 13:20:00,---,40\n2026-01-05 13:25:00,21,42";
        let sheet = Sheet::decode(text.as_bytes());
        let opening = Opening::new(Sheet::decode(text.as_bytes()), None, &[]).unwrap();
        let wanted = Wanted { column: Some("temp"), logger: "L-1" };
        let selection = select(&opening.dialect, (&opening.loggers, &opening.quantities), wanted).unwrap();
        let mut series = vec![Series::new(&opening.dialect, selection)];
        let mut straight = FastRows::new(text.len());
        let mut lines = sheet.lines();
        let mut read = |lines: &mut Lines<'_>| straight.read(&opening.dialect, lines, &mut series);
        assert_eq!(read(&mut lines), 0, "the header is left to the general way");
        lines.next();
        assert_eq!(read(&mut lines), 2);
        assert_eq!(lines.next(), Some((4, "2026-01-05 13:20:00,---,40")), "left to the general way");
        assert_eq!((read(&mut lines), lines.next()), (1, None), "a last line without its end");
        assert_eq!(series[0].values[2..], [21.0]);
        assert_eq!(series[0].lines, [2, 3, 5]);
        series[0].values.truncate(2);
        series[0].humidity.truncate(2);
        assert_eq!((&series[0].values[..], &series[0].humidity[..]), (&[21.4, -0.55][..], &[40.0, 41.0][..]));
        assert_eq!(series[0].times_ms[1] - series[0].times_ms[0], 300_000);
    }
}
