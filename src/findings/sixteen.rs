//! Time below 16 °C in words: said of every room, with a band or without, whoever lives there.

use super::Finding;
use crate::metrics::{self, MetricRow, SERIOUS_COLD, SERIOUS_COLD_H, Slice};
use crate::units::TemperatureUnit;

/// Rooms that are named; the others are counted.
const NAMED: usize = 8;
const DAY_H: f64 = 24.0;

/// Of the rows of a home in one period: `Below 16.0 °C, even with the sensor accuracy added, for up to: nave 9.0 days at a
/// time`; `None` where no room was so for half a day.
///
/// Rooms of which a finding says it are left out.
pub fn below_sixteen(
    rows: &[MetricRow],
    findings: &[Finding],
    period: &str,
    units: TemperatureUnit,
) -> Option<String> {
    let sixteen = format!("below {} for up to", units.show(SERIOUS_COLD));
    let told = |room: &str| {
        let mut of_room = findings.iter().filter(|f| f.room.as_deref() == Some(room) && f.of == period);
        of_room.any(|f| f.shows.contains(&sixteen))
    };
    let is = |row: &&MetricRow| {
        row.metric == &metrics::LONGEST_BELOW_16 && row.slice == Slice::All && row.period == period
    };
    let mut rooms: Vec<(&str, f64)> = rows
        .iter()
        .filter(is)
        .filter(|row| row.value >= SERIOUS_COLD_H)
        .filter_map(|row| Some((row.room.as_deref()?, row.value)))
        .filter(|(room, _)| !told(room))
        .collect();
    rooms.sort_by(|a, b| b.1.total_cmp(&a.1));
    let mut words: Vec<String> =
        rooms.iter().take(NAMED).map(|(room, hours)| format!("{room} {}", length(*hours))).collect();
    if rooms.len() > NAMED {
        words.push(format!("{} more rooms", rooms.len() - NAMED));
    }
    (!rooms.is_empty()).then(|| {
        format!(
            "Below {}, even with the sensor accuracy added, for up to: {} at a time.",
            units.show(SERIOUS_COLD),
            words.join(", ")
        )
    })
}

/// `9.0 days`, or `13.5 h`.
fn length(hours: f64) -> String {
    if hours >= 2.0 * DAY_H { format!("{:.1} days", hours / DAY_H) } else { format!("{hours:.1} h") }
}
