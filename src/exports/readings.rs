//! What comes of exports: readings in UTC and °C, rising, unique, every row accounted for.

use super::asides::SetAsides;
use super::ledger::Ledger;
use super::rows::{Row, Rows};
use super::set_back::SetBack;
use super::words::WordsRead;
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
    downloads: Vec<(u32, usize)>,
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

    /// Places of the readings at which another download begins than that of the reading before.
    pub fn downloads(&self) -> Vec<usize> {
        let mut at = 0;
        let ends = self.downloads.iter().map(|(_, readings)| {
            at += readings;
            at
        });
        let mut places: Vec<usize> = ends.collect();
        places.pop();
        places
    }

    /// From which download each run of readings came, by its number in the roster from 0, and how many they are.
    pub fn by_download(&self) -> &[(u32, usize)] {
        &self.downloads
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
        Self::from_rows(rows.into_iter().collect())
    }

    /// The same readings with a relative humidity each, in %, for tests and documentation; one per reading.
    #[must_use]
    pub fn with_humidity(mut self, percent: &[f64]) -> Self {
        assert_eq!(percent.len(), self.len(), "one per reading");
        self.humidity = Some(percent.to_vec());
        self
    }

    /// Readings of rows that rise, no time twice.
    pub(super) fn from_rows(rows: Rows) -> Self {
        let downloads = rows.downloads();
        let Rows { times_ms, degc, humidity, lines, .. } = rows;
        let steps: Vec<i64> = times_ms.windows(2).map(|w| w[1] - w[0]).collect();
        let any = humidity.iter().any(|x| !x.is_nan());
        let humidity = any.then_some(humidity);
        Self { interval_ms: middle(steps), times_ms, degc, humidity, lines, downloads }
    }
}

/// One step in so many tells about where the middle one lies.
const SAMPLED: usize = 64;

/// The middle one of some steps, the upper of two; `None` for none.
///
/// A few of them tell about where it lies; those below are only counted, and only those near it are looked through.
fn middle(mut steps: Vec<i64>) -> Option<i64> {
    let rank = steps.len() / 2;
    let mut some: Vec<i64> = steps.iter().copied().step_by(SAMPLED).collect();
    some.sort_unstable();
    let near = some.get(some.len() * 2 / 5).copied()?..=some.get(some.len() * 3 / 5).copied()?;
    let below: usize = steps.iter().map(|step| usize::from(step < near.start())).sum();
    let above: usize = steps.iter().map(|step| usize::from(step > near.end())).sum();
    let rank = if below <= rank && rank < steps.len() - above {
        // Each step is written, and stays where it is near: there is nothing to guess for the processor.
        let mut kept = 0;
        for i in 0..steps.len() {
            steps[kept] = steps[i];
            kept += usize::from(near.contains(&steps[i]));
        }
        steps.truncate(kept);
        rank - below
    } else {
        rank
    };
    Some(*steps.select_nth_unstable(rank).1)
}

/// What came of the downloads of one placement.
#[derive(Debug)]
pub struct Opened {
    /// The readings, of all downloads together.
    pub readings: Readings,
    /// One ledger per download, in roster order.
    pub ledgers: Vec<Ledger>,
    /// Rows set aside.
    pub set_aside: SetAsides,
    /// Those of them that hold a word in the place of a number.
    pub words: WordsRead,
    /// What a reader must know.
    pub notes: Vec<Note>,
    /// Where its clock was set back while it recorded.
    pub set_back: Vec<SetBack>,
    /// The clock that was used, for people.
    pub clock: String,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_middle_step_is_that_of_sorting() {
        let wander = |i: i64| 300_000 + i.wrapping_mul(6_364_136_223_846_793_005) % 20_000;
        let steps: [&dyn Fn(i64) -> i64; 4] =
            [&wander, &|_| 300_000, &|i| if i % 64 == 0 { 1_000_000 + i } else { wander(i) }, &|i| i];
        assert_eq!(middle(Vec::new()), None);
        for step in steps {
            for n in [1, 2, 3, 64, 65, 1000, 20_001] {
                let steps: Vec<i64> = (0..n).map(step).collect();
                let mut sorted = steps.clone();
                sorted.sort_unstable();
                assert_eq!(middle(steps), Some(sorted[sorted.len() / 2]));
            }
        }
    }
}
