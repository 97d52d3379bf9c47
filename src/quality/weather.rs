//! Weather that cannot be that of its place: in the other unit, of another season, of another part of the world.

use chrono::Datelike;

use crate::clock::{HOUR_MS, UtcTime, Zone};
use crate::stats::{median, quantile};

/// Why a series is no weather of its place; temperatures in °C.
#[derive(Clone, Debug, PartialEq)]
pub enum Impossible {
    /// No air on Earth is so for long.
    Nowhere {
        /// What it is at its coldest and warmest hours.
        degc: (f64, f64),
    },
    /// No place of the zone is so in that month.
    Season {
        /// 1 is January.
        month: u32,
        /// The median of that month.
        degc: f64,
        /// Between what it may lie.
        may: (f64, f64),
    },
    /// It has no value while the rooms were recorded.
    Elsewhen,
    /// Warmer than the rooms, in the half of the year in which they are heated.
    WarmerThanRooms {
        /// By how much, on the median.
        by_k: f64,
    },
}

/// Coldest and warmest hours of a place where people live, with much room.
const COLDEST: f64 = -65.0;
const WARMEST: f64 = 55.0;
/// Hours of a month that carry its median.
const LEAST_H: usize = 72;

/// Air outdoors changes by more than this, K, within so many hours; a sensor that hangs does not. Days of fog and thaw are
/// steadier than most, and still wander by some tenths.
const STILL_K: f64 = 0.05;
const STILL_H: usize = 48;
/// Share of such hours, in %, that is worth a word. Own definition.
const STILL_SHARE: f64 = 10.0;

/// Medians of a month in any year: from Greenland to Florida and Egypt, north of the tropics, January first.
const NORTH: [(f64, f64); 12] = [
    (-55.0, 24.0),
    (-55.0, 25.0),
    (-50.0, 26.0),
    (-35.0, 29.0),
    (-8.0, 40.0),
    (-1.0, 45.0),
    (1.0, 45.0),
    (0.0, 45.0),
    (-8.0, 42.0),
    (-25.0, 33.0),
    (-45.0, 28.0),
    (-55.0, 25.0),
];
/// The same in the south, from Patagonia to Paraguay.
const SOUTH: (f64, f64) = (-20.0, 40.0);
/// The warmest that the cold half of the year becomes in Europe: Malta, Crete and the south of Spain, with room.
const EUROPE_IN_WINTER: f64 = 18.0;

/// Which half of the Earth a zone lies in, as far as its changes of clocks tell.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Half {
    North,
    South,
}

/// Clocks go forward for the summer.
fn half(zone: Zone, year: i32) -> Option<Half> {
    let offset_s = |month| {
        let noon = crate::clock::LocalTime::from_fields((year, month, 15), (12, 0, 0), 0)?;
        Some(zone.offset_s(noon.at_offset(0)))
    };
    let (january, july) = (offset_s(1)?, offset_s(7)?);
    match january.cmp(&july) {
        std::cmp::Ordering::Less => Some(Half::North),
        std::cmp::Ordering::Greater => Some(Half::South),
        std::cmp::Ordering::Equal => None,
    }
}

fn may_be(zone: Zone, (year, month): (i32, u32)) -> Option<(f64, f64)> {
    let (low, high) = match half(zone, year)? {
        Half::North => NORTH[month as usize - 1],
        Half::South => SOUTH,
    };
    let winter_of_europe = zone.name().starts_with("Europe/") && !(3..=11).contains(&month);
    Some((low, if winter_of_europe { EUROPE_IN_WINTER } else { high }))
}

/// Why a series cannot be the weather of a zone, if it cannot; `hours` are its values in °C, one in an hour or so.
///
/// # Source
/// Own definition: ranges of monthly means of inhabited places, from memory, widened so that what is outside is wrong by far.
pub fn impossible(hours: &[(UtcTime, f64)], zone: Zone) -> Option<Impossible> {
    let values = || hours.iter().map(|(_, x)| *x).filter(|x| !x.is_nan()).collect::<Vec<f64>>();
    let ends = (quantile(values(), 0.02)?, quantile(values(), 0.98)?);
    if ends.0 < COLDEST || ends.1 > WARMEST {
        return Some(Impossible::Nowhere { degc: ends });
    }
    let mut months: std::collections::BTreeMap<(i32, u32), Vec<f64>> = std::collections::BTreeMap::new();
    for (t, x) in hours.iter().filter(|(_, x)| !x.is_nan()) {
        let date = zone.date(*t);
        months.entry((date.year(), date.month())).or_default().push(*x);
    }
    months.into_iter().filter(|(_, values)| values.len() >= LEAST_H).find_map(|(of, values)| {
        let (degc, may) = (median(values)?, may_be(zone, of)?);
        let outside = degc < may.0 || degc > may.1;
        outside.then_some(Impossible::Season { month: of.1, degc, may })
    })
}

/// Share of the hours with a value that lie in two days and more without a change, in %, where it is worth a word: such air is
/// none, but of a series that was put together by hand it may be all that there is. `hours` as for [`impossible`].
pub fn stands_still(hours: &[(UtcTime, f64)]) -> Option<f64> {
    let known: Vec<f64> = hours.iter().map(|(_, x)| *x).filter(|x| !x.is_nan()).collect();
    let (mut still, mut from) = (0, 0);
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for at in 0..=known.len() {
        let (lower, higher) =
            known.get(at).map_or((f64::NEG_INFINITY, f64::INFINITY), |x| (low.min(*x), high.max(*x)));
        if higher - lower > STILL_K {
            still += if at - from >= STILL_H { at - from } else { 0 };
            from = at;
            (low, high) = known.get(at).map_or((low, high), |x| (*x, *x));
        } else {
            (low, high) = (lower, higher);
        }
    }
    let share = 100.0 * still as f64 / known.len().max(1) as f64;
    (share >= STILL_SHARE).then_some(share)
}

/// Warmer than the rooms by more than this, K, on the median of the heating season, or of any.
const WARMER_HEATED_K: f64 = 5.0;
const WARMER_K: f64 = 16.0;

/// Whether outdoors cannot be outside of these rooms: one value of each in an hour or so, of the same time.
///
/// # Source
/// Own definition. Rooms are cooled by a dozen kelvin in a desert summer, and by none in a winter.
pub fn beside_rooms(hours: &[(UtcTime, f64, f64)], zone: Zone) -> Option<Impossible> {
    let known: Vec<&(UtcTime, f64, f64)> =
        hours.iter().filter(|(_, out, room)| !out.is_nan() && !room.is_nan()).collect();
    let recorded = hours.iter().filter(|(_, _, room)| !room.is_nan()).count();
    if known.is_empty() && recorded >= LEAST_H {
        return Some(Impossible::Elsewhen);
    }
    if known.len() < LEAST_H {
        return None;
    }
    let by_k = median(known.iter().map(|(_, out, room)| out - room).collect())?;
    let middle = zone.date(known[known.len() / 2].0);
    let winter = match half(zone, middle.year()) {
        Some(Half::North) => !(5..=9).contains(&middle.month()),
        Some(Half::South) => (5..=9).contains(&middle.month()),
        None => false,
    };
    let limit = if winter { WARMER_HEATED_K } else { WARMER_K };
    (by_k > limit).then_some(Impossible::WarmerThanRooms { by_k })
}

/// Steps of a grid in an hour, to look at one value in an hour.
pub fn steps_in_an_hour(step_ms: i64) -> usize {
    (HOUR_MS / step_ms).max(1) as usize
}

#[cfg(test)]
mod tests {
    use super::*;

    fn zone(name: &str) -> Zone {
        Zone::parse(name).unwrap()
    }

    /// A fortnight from the 5th of a month of 2026 on.
    fn fortnight(month: u32, degc: f64) -> Vec<(UtcTime, f64)> {
        let first =
            crate::clock::LocalTime::from_fields((2026, month, 5), (0, 0, 0), 0).unwrap().at_offset(0);
        (0..336).map(|h| (first.plus_ms(h * HOUR_MS), degc + (h % 24) as f64 / 3.0 - 4.0)).collect()
    }

    #[test]
    fn weather_of_another_unit_is_told_by_the_season() {
        let chicago = zone("America/Chicago");
        // 28 °F in January, read as °C; 24 °C in July, read as °F.
        assert!(matches!(
            impossible(&fortnight(1, 28.0), chicago),
            Some(Impossible::Season { month: 1, .. })
        ));
        assert!(matches!(
            impossible(&fortnight(7, -4.4), chicago),
            Some(Impossible::Season { month: 7, .. })
        ));
        assert!(matches!(impossible(&fortnight(7, 75.0), chicago), Some(Impossible::Nowhere { .. })));
        for (month, degc) in [(1, -25.0), (1, 15.0), (7, 32.0), (4, 0.0)] {
            assert_eq!(impossible(&fortnight(month, degc), chicago), None, "{month}: {degc}");
        }
        assert!(impossible(&fortnight(1, 20.0), zone("Europe/Berlin")).is_some());
        assert_eq!(impossible(&fortnight(1, 28.0), zone("Australia/Sydney")), None, "summer there");
        assert_eq!(impossible(&fortnight(1, 28.0), zone("Asia/Singapore")), None);
    }

    #[test]
    fn weather_stands_still_for_no_days() {
        let chicago = zone("America/Chicago");
        let mut hours = fortnight(1, -5.0);
        assert_eq!(stands_still(&hours), None);
        hours[100..140].iter_mut().for_each(|(_, x)| *x = -3.2);
        assert_eq!(stands_still(&hours), None, "forty hours of fog");
        hours[100..160].iter_mut().for_each(|(_, x)| *x = -3.2);
        let share = stands_still(&hours).unwrap();
        assert!((share - 100.0 * 60.0 / 336.0).abs() < 0.5, "{share}");
        hours.iter_mut().for_each(|(_, x)| *x = -3.2);
        assert_eq!((stands_still(&hours), impossible(&hours, chicago)), (Some(100.0), None));
    }

    #[test]
    fn weather_of_another_year_is_none_of_the_record() {
        let chicago = zone("America/Chicago");
        let of = |out: f64| fortnight(1, out).into_iter().map(|(t, x)| (t, x, 21.0)).collect::<Vec<_>>();
        assert_eq!(beside_rooms(&of(f64::NAN), chicago), Some(Impossible::Elsewhen));
        assert_eq!(beside_rooms(&of(0.0), chicago), None);
    }

    #[test]
    fn outdoors_is_not_warmer_than_heated_rooms() {
        let beside = |month: u32, degc: f64, name: &str| {
            let hours: Vec<(UtcTime, f64, f64)> =
                fortnight(month, degc).into_iter().map(|(t, x)| (t, x, 21.0)).collect();
            beside_rooms(&hours, zone(name)).is_some()
        };
        assert!(beside(2, 27.0, "America/Chicago"));
        assert!(!beside(2, 23.0, "America/Chicago"));
        assert!(!beside(7, 34.0, "America/Phoenix"), "a desert summer, cooled");
    }
}
