//! What comes of exports: readings in UTC and °C, rising, unique, every row accounted for.

use super::ledger::{Ledger, SetAside};
use crate::clock::UtcTime;
use crate::error::Note;

/// The readings of one logger in one room: UTC, °C, rising in time, no time twice.
///
/// Arrays of the same length. A reading without a value (an empty cell, `---`) is kept, without a value.
#[derive(Clone, Debug, Default)]
pub struct Readings {
    times_ms: Vec<i64>,
    degc: Vec<f64>,
    humidity: Option<Vec<f64>>,
    lines: Vec<u32>,
    interval_ms: Option<i64>,
}

impl Readings {
    /// How many readings there are.
    pub fn len(&self) -> usize {
        self.times_ms.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.times_ms.is_empty()
    }

    /// Milliseconds since the Unix epoch, rising.
    pub fn times_ms(&self) -> &[i64] {
        &self.times_ms
    }

    /// Temperatures in °C; NaN where a reading has no value.
    pub fn degc(&self) -> &[f64] {
        &self.degc
    }

    /// Relative humidity in %, as recorded; NaN where a reading has none; `None` where no reading has.
    pub fn humidity_percent(&self) -> Option<&[f64]> {
        self.humidity.as_deref()
    }

    /// Line of the export, from 1, per reading.
    pub fn lines(&self) -> &[u32] {
        &self.lines
    }

    /// The sampling interval: the median of the steps from reading to reading; `None` with fewer than two.
    pub fn interval_ms(&self) -> Option<i64> {
        self.interval_ms
    }

    /// The instant of a reading.
    pub fn time(&self, i: usize) -> UtcTime {
        UtcTime::from_ms(self.times_ms[i])
    }

    /// Readings from rising instants and values, for tests and documentation.
    ///
    /// # Example
    /// ```
    /// use evenrooms::exports::Readings;
    /// let readings = Readings::from_series(&[(0, Some(20.0)), (300_000, None)]);
    /// assert_eq!((readings.len(), readings.interval_ms()), (2, Some(300_000)));
    /// ```
    pub fn from_series(series: &[(i64, Option<f64>)]) -> Self {
        let mut rows: Vec<Row> = (1..)
            .zip(series)
            .map(|(line, (t, x))| Row {
                t: *t,
                x: x.unwrap_or(f64::NAN),
                humidity: f64::NAN,
                line,
                source: 0,
            })
            .collect();
        rows.sort_by_key(|r| r.t);
        rows.dedup_by_key(|r| r.t);
        Self::from_rows(&rows)
    }

    /// The same readings with a relative humidity each, in %, for tests and documentation; one per reading.
    #[must_use]
    pub fn with_humidity(mut self, percent: &[f64]) -> Self {
        debug_assert_eq!(percent.len(), self.len());
        self.humidity = Some(percent.to_vec());
        self
    }

    pub(super) fn from_rows(rows: &[Row]) -> Self {
        let mut steps: Vec<i64> = rows.windows(2).map(|w| w[1].t - w[0].t).collect();
        let middle = steps.len() / 2;
        let interval_ms = (!steps.is_empty()).then(|| *steps.select_nth_unstable(middle).1);
        let any = rows.iter().any(|r| !r.humidity.is_nan());
        Self {
            humidity: any.then(|| rows.iter().map(|r| r.humidity).collect()),
            times_ms: rows.iter().map(|r| r.t).collect(),
            degc: rows.iter().map(|r| r.x).collect(),
            lines: rows.iter().map(|r| r.line).collect(),
            interval_ms,
        }
    }
}

/// What came of the downloads of one placement.
#[derive(Debug)]
pub struct Opened {
    /// The readings, of all downloads together.
    pub readings: Readings,
    /// One ledger per download, in roster order.
    pub ledgers: Vec<Ledger>,
    /// Rows set aside.
    pub set_aside: Vec<SetAside>,
    /// What a reader must know.
    pub notes: Vec<Note>,
    /// The clock that was used, for people.
    pub clock: String,
}

/// A reading on its way: which line of which download it came from.
#[derive(Clone, Copy)]
pub(super) struct Row {
    pub(super) t: i64,
    pub(super) x: f64,
    pub(super) humidity: f64,
    pub(super) line: u32,
    pub(super) source: usize,
}
