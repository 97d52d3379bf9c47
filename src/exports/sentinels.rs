//! Values that are no readings: sentinels for "no data", what no thermometer can show, and a last line that was cut off.

use super::dialect::Dialect;
use super::series::Series;
use super::sheet::{Sheet, split};
use crate::units::TemperatureUnit;

/// Numbers that no thermometer of a room or street shows, in either unit.
const NEVER: [f64; 8] = [-9999.0, -999.9, -999.0, -99.9, 999.0, 999.9, 9999.0, 32767.0];
/// Numbers that stand for "no data" in °C, where the readings beside them are far off.
const OUT_OF_SCALE_DEGC: [f64; 3] = [85.0, 120.0, -127.0];
/// How far off, in °C.
const FAR_K: f64 = 30.0;
/// No mark lies between these.
const BETWEEN_MARKS: std::ops::RangeInclusive<f64> = -99.0..=84.0;

/// Turns marks for "no data" into missing values, and counts them; values below absolute zero are bad.
///
/// # Source
/// Common practice, no published source.
pub(super) fn take_out(series: &mut Series) {
    let suspects = |x: f64| NEVER.contains(&x) || OUT_OF_SCALE_DEGC.contains(&x);
    // Nearly all files hold none: a look at whole stretches tells so.
    let beyond = |x: &f64| *x < *BETWEEN_MARKS.start() || *x > *BETWEEN_MARKS.end();
    let coldest = if series.unit == Some(TemperatureUnit::Celsius) { -273.15 } else { -459.67 };
    let is_suspect = |some: &[f64]| {
        some.iter().fold(false, |any, x| any | beyond(x)) && some.iter().any(|x| suspects(*x) || *x < coldest)
    };
    if !series.values.chunks(256).any(is_suspect) {
        return;
    }
    let mut plausible: Vec<f64> =
        series.values.iter().copied().filter(|x| !x.is_nan() && !suspects(*x)).collect();
    let middle = plausible.len() / 2;
    let typical =
        (!plausible.is_empty()).then(|| *plausible.select_nth_unstable_by(middle, f64::total_cmp).1);
    // Nothing but marks: a probe that was never connected.
    let celsius = series.unit != Some(TemperatureUnit::Fahrenheit) && typical.is_none_or(|t| t < 45.0);
    let far = |x: f64| typical.is_none_or(|t| (x - t).abs() > FAR_K);
    for (row, value) in series.values.iter_mut().enumerate() {
        if *value < coldest && !NEVER.contains(value) {
            series.bad_values.push(row as u32, "below absolute zero");
            *value = f64::NAN;
        }
        if NEVER.contains(value) || (celsius && OUT_OF_SCALE_DEGC.contains(value) && far(*value)) {
            match series.marks.iter_mut().find(|(mark, _)| mark.total_cmp(value).is_eq()) {
                Some((_, count)) => *count += 1,
                None => series.marks.push((*value, 1)),
            }
            *value = f64::NAN;
        }
    }
    series.bad_values.sort();
}

/// A last line without its end, whose value is shorter than all before it, lost digits: it is no reading.
pub(super) fn refuse_cut_off(
    sheet: &Sheet<'_>,
    dialect: &Dialect,
    series: &mut Series,
    column: usize,
    last_line: u32,
) {
    let Some(row) = series.lines.len().checked_sub(1).filter(|row| series.lines[*row] == last_line) else {
        return;
    };
    let from = series.lines.len().saturating_sub(50);
    let digits = |line: &str| {
        let mut cells = Vec::new();
        split(line, dialect.delimiter, &mut cells);
        let last = cells.len() == column + 1;
        cells.get(column).map(|cell| (cell.len(), last)).filter(|(length, _)| *length > 0)
    };
    let all: Vec<Option<(usize, bool)>> = sheet.pick(&series.lines[from..]).into_iter().map(digits).collect();
    let Some((Some((cut, true)), before)) = all.split_last().map(|(last, before)| (*last, before)) else {
        return;
    };
    let shortest = before.iter().flatten().map(|(length, _)| *length).min();
    let known_bad = series.bad_values.last() == Some(row as u32) || series.values[row].is_nan();
    if before.len() >= 3 && shortest.is_some_and(|s| cut < s) && !known_bad {
        series.bad_values.push(row as u32, "cut off: the file ends in it");
    }
}
