//! Which unit an export is written in.
//!
//! Settled here, and why:
//! - **A unit that the values refute** yields to the roster where both say so ("F" may be an apartment), with a note.
//! - **No unit stated**: for rooms the values tell (a median of 5 to 30 is °C, one of 50 to 100 °F) and a note says so;
//!   otherwise the file is set aside and the unit asked for: 36 may be a hot room or a freezing one.

use super::contradictions;
use super::series::Series;
use super::unit_by_values::{Role, WRITE_IT, median, told_by_values};
use crate::error::Note;
use crate::error::Trouble;
use crate::site::Source;
use crate::texts::name;
use crate::units::TemperatureUnit;

/// The unit of a series: what the export states, else what the roster states, else what only one unit makes plausible.
///
/// # Errors
/// [`Trouble`] where neither says it and the values leave it open.
pub(super) fn settle_unit(
    source: &Source,
    series: &Series,
    role: Role,
) -> Result<(TemperatureUnit, Option<Note>), Trouble> {
    let note = |what: String, hint: &str| Note {
        place: source.file.told().to_owned(),
        line: None,
        what: what.into(),
        hint: hint.to_owned(),
        unreadable: false,
    };
    if let Some(both) = contradictions::units(series) {
        return contradictions::settle_units(source, series, role, &both);
    }
    let name = name(&series.name);
    match (series.unit, source.unit) {
        // "F" may be an apartment: two witnesses against one.
        (Some(stated), Some(set)) if stated != set && implausible(stated, series, role).is_some() => {
            let what = format!(
                "column \"{name}\" states {stated}, the roster says {set}, and the values agree with the roster; it was followed"
            );
            Ok((set, Some(note(what, "check the export, and `unit` in the roster"))))
        }
        (Some(stated), Some(set)) if stated != set => {
            let what =
                format!("column \"{name}\" states {stated}, the roster says {set}; the export was followed");
            Ok((stated, Some(note(what, "correct `unit` in the roster"))))
        }
        (Some(unit), _) | (None, Some(unit)) => Ok((
            unit,
            implausible(unit, series, role)
                .map(|what| note(what, "check the unit in the roster and the export")),
        )),
        (None, None) => {
            let unit = told_by_values(series, role)?;
            let (of, hint) = match role {
                Role::Room => ("room", "state `unit` (°C or °F) to be sure"),
                Role::Outdoor => ("outdoor", WRITE_IT),
            };
            let what = format!(
                "no unit is stated; {unit} is the one that makes the values {of} temperatures, and they were read so"
            );
            Ok((unit, Some(note(what, hint))))
        }
    }
}

/// Whether the median of the values, if there is one, is over a limit; counting tells it without sorting.
fn median_is_over(series: &Series, limit: f64) -> bool {
    let count =
        |is: fn(f64, f64) -> bool| series.values.iter().map(|x| usize::from(is(*x, limit))).sum::<usize>();
    let (over, others) = (count(|x, limit| x > limit), count(|x, limit| x <= limit));
    others <= (over + others) / 2 && over > 0
}

/// The unit that the values of a room tell, if they do.
pub(super) fn guess_unit(series: &Series) -> Option<TemperatureUnit> {
    told_by_values(series, Role::Room).ok().filter(|_| median(series).is_some())
}

fn implausible(unit: TemperatureUnit, series: &Series, role: Role) -> Option<String> {
    if unit == TemperatureUnit::Celsius && !median_is_over(series, 42.0) {
        return None;
    }
    let median = median(series)?;
    let other = match unit {
        TemperatureUnit::Celsius => TemperatureUnit::Fahrenheit,
        TemperatureUnit::Fahrenheit if role == Role::Room && median < 38.0 => TemperatureUnit::Celsius,
        _ => return None,
    };
    Some(format!(
        "column \"{}\" is stated in {unit}, though its median of {median:.1} looks like {other}; it was read as stated",
        name(&series.name)
    ))
}

#[cfg(test)]
mod tests {
    #[test]
    fn counting_tells_what_the_median_tells() {
        for n in 0..9_usize {
            for over in 0..=n {
                let mut values: Vec<f64> = (0..n).map(|i| if i < over { 43.0 } else { 42.0 }).collect();
                values.push(f64::NAN);
                let series = super::Series::of_values(values);
                let wanted = super::median(&series).is_some_and(|m| m > 42.0);
                assert_eq!(super::median_is_over(&series, 42.0), wanted, "{over} of {n}");
            }
        }
    }
}
