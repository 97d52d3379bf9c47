//! Plan and record → the bytes of an export, and what is true about it.

use std::collections::BTreeMap;

use crate::wild::calendar::MIN_MS;
use crate::wild::dialects::Plan;
use crate::wild::rng::Rng;
use crate::wild::series::Row;
use crate::wild::traits::{Delimiter, Encoding, Quotes, Said, Shape};
use crate::wild::words::Words;

/// A reading as it was written.
#[derive(Debug, Default)]
pub(crate) struct TrueReading {
    /// `None`: a row without a value.
    pub(crate) degc: Option<f64>,
    /// Lines that hold it.
    pub(crate) lines: Vec<u32>,
}

/// An export and the truth about it.
pub(crate) struct Export {
    pub(crate) bytes: Vec<u8>,
    pub(crate) text: String,
    /// Lines of the text.
    pub(crate) lines: u64,
    pub(crate) words: Words,
    pub(crate) record: Vec<Row>,
    /// The readings of each room by their instant.
    pub(crate) rooms: Vec<BTreeMap<i64, TrueReading>>,
}

/// What a column holds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Column {
    RowNumber,
    Logger,
    Time(usize),
    Value(usize),
    Humidity,
    Battery,
    Event,
}

impl Plan {
    pub(crate) fn columns(&self) -> Vec<Column> {
        use crate::wild::traits::Events;
        let values = match self.shape {
            Shape::Wide(n) => n,
            _ => 1,
        };
        let values: Vec<Column> = (0..values).map(Column::Value).collect();
        let mut columns = Vec::new();
        columns.extend(self.row_number.then_some(Column::RowNumber));
        columns.extend(if self.values_first { values.clone() } else { Vec::new() });
        let long = matches!(self.shape, Shape::Long { .. });
        columns.extend((long && self.seed.is_multiple_of(2)).then_some(Column::Logger));
        columns.extend((0..self.time_columns()).map(Column::Time));
        columns.extend((long && !self.seed.is_multiple_of(2)).then_some(Column::Logger));
        columns.extend(if self.values_first { Vec::new() } else { values });
        columns.extend(self.humidity.then_some(Column::Humidity));
        columns.extend(self.battery.then_some(Column::Battery));
        columns.extend((self.events != Events::None).then_some(Column::Event));
        columns
    }

    pub(crate) fn export(&self) -> Export {
        let (words, record, columns) = (Words::new(self), self.record(), self.columns());
        let mut pen = Pen { plan: self, rng: Rng::new(self.seed, "pen"), lines: words.preamble.clone() };
        let unit = match self.unit_said {
            Said::Cell => format!("{}{}", pen.rng.pick(&["", " "]), self.unit_word(&mut pen.rng)),
            _ => String::new(),
        };
        let mut table: Vec<Vec<String>> = Vec::new();
        if self.header {
            table.push(columns.iter().map(|c| words.header(*c).to_owned()).collect());
        }
        for (i, row) in record.iter().enumerate() {
            let times = self.time_cells(row.at_ms);
            let cell = |c: &Column| pen.cell(*c, i, row, &times, &words, &unit);
            let cells = columns.iter().map(cell).collect();
            table.push(cells);
        }
        let first = pen.blanks() + pen.lines.len() + 1 + usize::from(self.header);
        let repeats = pen.write_table(&table);
        let mut rooms: Vec<BTreeMap<i64, TrueReading>> = (0..self.rooms()).map(|_| BTreeMap::new()).collect();
        for (i, row) in record.iter().enumerate() {
            let line = first + i + repeats.iter().filter(|r| **r <= i).count();
            for (v, value) in row.values.iter().enumerate() {
                let room = if matches!(self.shape, Shape::Wide(_)) { v } else { row.logger };
                let reading = rooms[room].entry(row.at_ms).or_default();
                reading.degc = reading.degc.or(value.map(|x| self.degc(x)));
                reading.lines.push(line as u32);
            }
        }
        pen.write_end(record.iter().map(|r| r.at_ms).max().unwrap_or(0));
        // Without a line end behind it, an empty piece is no line.
        if !self.finished && pen.lines.last().is_some_and(String::is_empty) {
            pen.lines.pop();
        }
        let lines = pen.lines.len() as u64;
        let mut text = pen.lines.join(self.line_end);
        text.push_str(if self.finished { self.line_end } else { "" });
        Export { bytes: self.encode(&text), text, lines, words, record, rooms }
    }

    /// What a written number stands for.
    fn degc(&self, number: i64) -> f64 {
        let shown = number as f64 / 10_f64.powi(self.decimals as i32);
        if self.fahrenheit { (shown - 32.0) / 1.8 } else { shown }
    }

    fn encode(&self, text: &str) -> Vec<u8> {
        let marked = |mark: bool| format!("{}{text}", if mark { "\u{feff}" } else { "" });
        match self.encoding {
            Encoding::Utf8 => text.as_bytes().to_vec(),
            Encoding::Utf8Mark => marked(true).into_bytes(),
            Encoding::Utf16 { little: true, mark } => {
                marked(mark).encode_utf16().flat_map(u16::to_le_bytes).collect()
            }
            Encoding::Utf16 { little: false, mark } => {
                marked(mark).encode_utf16().flat_map(u16::to_be_bytes).collect()
            }
            Encoding::Windows1252 => {
                text.chars().map(|c| u8::try_from(u32::from(c)).unwrap_or(b'?')).collect()
            }
        }
    }
}

impl Words {
    pub(crate) fn header(&self, column: Column) -> &str {
        match column {
            Column::RowNumber => self.row_number,
            Column::Logger => self.logger,
            Column::Time(i) => &self.times[i],
            Column::Value(i) => &self.values[i],
            Column::Humidity => self.humidity,
            Column::Battery => self.battery,
            Column::Event => self.event,
        }
    }
}

/// Writes lines.
struct Pen<'p> {
    plan: &'p Plan,
    rng: Rng,
    lines: Vec<String>,
}

impl Pen<'_> {
    /// Blank lines between preamble and table.
    fn blanks(&self) -> usize {
        usize::from(self.plan.blank_lines)
    }

    fn cell(
        &self,
        column: Column,
        i: usize,
        row: &Row,
        times: &[String],
        words: &Words,
        unit: &str,
    ) -> String {
        let reads = row.event.is_empty() || row.event == "x";
        let fraction = |x: i64, scale: i64| {
            format!("{}{}{:0w$}", x / scale, self.plan.decimal(), x % scale, w = scale.ilog10() as usize)
        };
        match column {
            Column::RowNumber => (i + 1).to_string(),
            Column::Logger => words.loggers[row.logger].clone(),
            Column::Time(part) => times[part].clone(),
            Column::Event => row.event.to_owned(),
            _ if !reads => String::new(),
            Column::Value(v) => match row.values[v] {
                Some(number) => format!("{}{unit}", self.number(number)),
                None => self.plan.missing.replace('.', &self.plan.decimal().to_string()),
            },
            Column::Humidity => fraction(400 + (i as i64 * 7) % 90, 10),
            Column::Battery => fraction(305 - i as i64 / 400, 100),
        }
    }

    fn number(&self, number: i64) -> String {
        let plan = self.plan;
        let shown = number as f64 / 10_f64.powi(plan.decimals as i32);
        let mut text = format!("{shown:.*}", plan.decimals);
        if plan.trimmed && text.contains('.') {
            text = text.trim_end_matches('0').trim_end_matches('.').to_owned();
        }
        text.replace('.', &plan.decimal().to_string())
    }

    /// The table's lines; the answer is before which rows the header stands again.
    fn write_table(&mut self, table: &[Vec<String>]) -> Vec<usize> {
        self.lines.extend(vec![String::new(); self.blanks()]);
        let lines: Vec<String> = match self.plan.delimiter {
            Delimiter::One(delimiter) => table.iter().map(|cells| self.joined(cells, delimiter)).collect(),
            Delimiter::Wide => side_by_side(table),
        };
        let rows = table.len() - usize::from(self.plan.header);
        let again = if self.plan.repeated_header { vec![1 + self.rng.below(rows)] } else { Vec::new() };
        for (i, line) in lines.iter().enumerate() {
            if again.iter().any(|a| a + 1 == i) {
                self.lines.push(lines[0].clone());
            }
            self.lines.push(line.clone());
        }
        again
    }

    fn joined(&mut self, cells: &[String], delimiter: char) -> String {
        let mut line = Vec::new();
        for cell in cells {
            let is_number = cell.starts_with(|c: char| c.is_ascii_digit() || c == '-') && cell.len() < 8;
            let quoted = match self.plan.quotes {
                Quotes::All => true,
                Quotes::Texts => !is_number && !cell.is_empty(),
                Quotes::Needed => cell.contains(delimiter),
            };
            let pad = if self.plan.padding { " ".repeat(self.rng.below(4)) } else { String::new() };
            line.push(if quoted { format!("\"{pad}{cell}\"") } else { format!("{pad}{cell}{pad}") });
        }
        line.join(&delimiter.to_string())
    }

    fn write_end(&mut self, last_ms: i64) {
        if self.plan.blank_lines {
            self.lines.push(String::new());
        }
        if !self.plan.summary {
            return;
        }
        let s = match self.plan.delimiter {
            Delimiter::One(c) => c.to_string(),
            Delimiter::Wide => "   ".to_owned(),
        };
        for _ in 0..=self.rng.below(4) {
            let line = match self.rng.below(7) {
                0 => format!("Minimum{s}{}", self.number(5)),
                1 => format!("Maximum{s}{}", self.number(300)),
                2 => format!("Average{s}{}", self.number(210)),
                3 => "End of record".to_owned(),
                4 => format!("{} readings", self.plan.rows),
                5 => format!("Samples{s}{}", self.plan.rows),
                _ => format!("Battery at download{s}{}{s}3", self.plan.time_text(last_ms + 95 * MIN_MS)),
            };
            self.lines.push(line);
        }
    }
}

fn side_by_side(table: &[Vec<String>]) -> Vec<String> {
    let width = |at: usize| table.iter().map(|r| r[at].chars().count()).max().unwrap_or(0);
    let widths: Vec<usize> = (0..table[0].len()).map(width).collect();
    let line = |cells: &Vec<String>| {
        let padded: Vec<String> = cells.iter().zip(&widths).map(|(c, w)| format!("{c:<w$}")).collect();
        padded.join("  ").trim_end().to_owned()
    };
    table.iter().map(line).collect()
}
