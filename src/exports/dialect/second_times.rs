//! Another column of times, whose header states its clock.

use super::super::sheet::{Sheet, each_row};
use super::columns::Column;
use super::dates::DateForm;
use super::layout::Layout;
use super::stated::stated_clock;
use super::time_cells::TimeCells;
use crate::clock::{Clock, FromLocal, UtcTime};

/// Two columns of times of the same rows, of which the second states its clock.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::exports) struct SecondTimes {
    /// The headers of the first and the second.
    pub(in crate::exports) columns: (String, String),
    /// Wall-clock milliseconds by the first, and the instants by the second.
    pub(in crate::exports) pairs: Vec<(i64, UtcTime)>,
}

/// Two columns may be rounded differently.
const ROUNDED_MS: i64 = 61_000;

impl SecondTimes {
    /// Whether the first column is on a clock, by the second.
    pub(in crate::exports) fn fit(&self, clock: &Clock) -> bool {
        self.pairs.iter().all(|(local_ms, utc)| {
            let shown_ms = match clock {
                Clock::Fixed(offset_s) => utc.ms() + i64::from(*offset_s) * 1000,
                Clock::Civil(zone) => zone.local(*utc).ms(),
            };
            (shown_ms - local_ms).abs() < ROUNDED_MS
        })
    }

    /// The fixed clock that the first column is on, if it is on one.
    pub(in crate::exports) fn fixed(&self) -> Option<Clock> {
        const QUARTER_S: i64 = 15 * 60;
        let (local_ms, utc) = self.pairs.first()?;
        let offset_s = ((local_ms - utc.ms()) as f64 / (QUARTER_S * 1000) as f64).round() as i64 * QUARTER_S;
        let clock = Clock::Fixed(i32::try_from(offset_s).ok().filter(|s| s.abs() <= 14 * 3600)?);
        self.fit(&clock).then_some(clock)
    }
}

/// Rows by which two columns of times are held against each other.
const PAIRS: usize = 2000;

/// Another column of times whose header states its clock, `time (UTC)` beside `time (local)`.
pub(super) fn second_times(
    sheet: &Sheet<'_>,
    layout: &Layout<'_>,
    columns: &[Column],
    form: DateForm,
) -> Option<SecondTimes> {
    let DateForm::Written(style) = form else { return None };
    let others = columns.iter().enumerate().filter(|(at, _)| !layout.time.holds(*at));
    let (at, clock) = others.filter_map(|(at, c)| Some((at, stated_clock(&c.name)?))).next()?;
    if layout.times_state_offset {
        return None;
    }
    let mut pairs = Vec::new();
    each_row(sheet, layout.first_data_line, layout.delimiter, |_, cells| {
        let local = |time: TimeCells| time.read(cells).and_then(|f| Some((f.local(style)?, f.offset_s)));
        if let (Some((own, _)), Some((other, offset_s))) = (local(layout.time), local(TimeCells::One(at))) {
            let instant = match offset_s {
                Some(offset_s) => Some(other.at_offset(offset_s)),
                None => match clock.clock().instants(other) {
                    FromLocal::Once(utc) => Some(utc),
                    FromLocal::Twice { .. } | FromLocal::Never => None,
                },
            };
            pairs.extend(instant.map(|utc| (own.ms(), utc)));
        }
        pairs.len() < PAIRS
    });
    let named = |at: usize| columns[at].name.clone();
    (!pairs.is_empty()).then(|| SecondTimes { columns: (named(layout.time.column()), named(at)), pairs })
}
