//! Times that are written as a number that counts from somewhere.

use super::super::numbers::{self, Cell};
use crate::exports::sheet::{Delimiter, MAX_LINE, Sheet, split};
use crate::exports::vocabulary::{Holds, has_part, speaks_of};

/// Sizes of a count between the years 2000 and 2100.
pub(super) const SECONDS: std::ops::Range<f64> = 946_684_800.0..4_102_444_800.0;

pub(super) const SERIAL_DAYS: std::ops::Range<f64> = 34_000.0..73_051.0;

pub(super) const SECONDS_OF_YEAR: std::ops::Range<f64> = 0.0..31_708_800.0;

/// A cell that is a plain number, by either decimal mark.
pub(super) fn plain_number(cell: &str) -> Option<f64> {
    [b'.', b','].into_iter().find_map(|decimal| match numbers::parse(cell, decimal) {
        Cell::Number(x, None) => Some(x),
        _ => None,
    })
}

/// Which count of time a number has the size of, by number; `None` where it has none.
pub(super) fn size_of_count(x: f64) -> Option<usize> {
    let sizes = [
        SECONDS.contains(&x),
        SECONDS.contains(&(x / 1000.0)),
        SERIAL_DAYS.contains(&x),
        SECONDS_OF_YEAR.contains(&x),
    ];
    sizes.into_iter().position(|fits| fits)
}

/// Whether numbers can be a count of time: of its size, and rising (blocks may stand in any order).
pub(super) fn counts_time(values: &[f64], headed_so: bool) -> bool {
    let rising = values.windows(2).filter(|w| w[1] > w[0]).count();
    let falling = values.windows(2).filter(|w| w[1] < w[0]).count();
    // Loggers that take turns share their times; two blocks in the wrong order fall once.
    let one_way = rising + falling > 0 && rising.max(falling) * 10 >= (rising + falling - 1) * 9;
    let sized = |range: &std::ops::Range<f64>, unit: f64| {
        values.iter().filter(|x| range.contains(&(**x / unit))).count() * 10 >= values.len() * 9
    };
    let whole = values.iter().all(|x| x.fract() == 0.0);
    let days = sized(&SERIAL_DAYS, 1.0) && !whole;
    // Row numbers count 1, 2, 3; seconds of a year go in larger steps.
    let steps = values.windows(2).filter(|w| (w[1] - w[0]).abs() > 1.5).count() * 2 > rising + falling;
    // The serial numbers of a few loggers one after the other rise too, but seldom.
    let often = (rising + falling) * 8 >= values.len() - 1;
    one_way
        && (sized(&SECONDS, 1.0)
            || sized(&SECONDS, 1000.0)
            || days
            || ((whole && steps || headed_so)
                && often
                && sized(&SECONDS_OF_YEAR, 1.0)
                && values[0] < values[values.len() - 1]))
}

/// The header of the column at a place, above the row in a line; empty where there is none.
pub(super) fn header_above(sheet: &Sheet<'_>, delimiter: Delimiter, line: u32, at: usize) -> String {
    let above = sheet.lines().take_while(|(n, _)| *n < line).filter(|(_, l)| !l.trim().is_empty()).last();
    let mut cells = Vec::new();
    if let Some((_, text)) = above.filter(|(_, l)| l.len() <= MAX_LINE) {
        split(text, delimiter, &mut cells);
    }
    cells.get(at).map_or(String::new(), |c| c.to_lowercase())
}

/// Whether a header speaks of a count of time.
pub(super) fn speaks_of_count(header: &str) -> bool {
    let counts = [Holds::Elapsed, Holds::Seconds, Holds::Minutes, Holds::Hours];
    counts.iter().any(|c| speaks_of(header, *c)) && !has_part(header, &[Holds::Temperature])
}
