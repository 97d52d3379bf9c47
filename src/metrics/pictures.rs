//! What the pictures of a home show beyond its curves: days, hours of days, mornings, and rooms on the weather. Made here, so
//! that pages only draw; small, for a large building holds them all.

use chrono::NaiveDate;

use super::daily::outdoor_mean;
use super::home_cache::HomeCache;
use super::limits::DAY_COVERAGE;
use super::recovery::{Mornings, mornings};
use super::scope::{Period, clip};
pub use super::slope::AgainstOutdoors;
use super::slope::against_outdoors;
use super::{HomeScope, Slice, periods};
use crate::clock::{HOUR_MS, UtcTime, Zone};
use crate::grid::{AlignedHome, GridDay};
use crate::site::{Home, Site};

/// What the pictures of a home show.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Pictures {
    /// Means of each local day of the record.
    pub days: Vec<DaySeen>,
    /// Hour by hour how far a room was below its band: the room with the most degree-hours below; `None`: no room ever was.
    pub by_hour: Option<DayByHour>,
    /// Mornings after setbacks in the period that decides.
    pub mornings: Option<Mornings>,
    /// Rooms on the outdoor temperature in that period.
    pub against_outdoors: Vec<AgainstOutdoors>,
}

/// A local day.
#[derive(Clone, Debug, PartialEq)]
pub struct DaySeen {
    /// Its date.
    pub date: NaiveDate,
    /// Mean outdoor temperature in °C; NaN for less than 75 % of its hours.
    pub outdoor: f32,
    /// Mean of each room in °C; NaN for less than 75 % of its hours.
    pub rooms: Vec<f32>,
}

/// A room hour by hour.
#[derive(Clone, Debug, PartialEq)]
pub struct DayByHour {
    /// The room, in roster order.
    pub room: usize,
    /// Its days.
    pub days: Vec<DayOfHours>,
}

/// A local day, hour by hour.
#[derive(Clone, Debug, PartialEq)]
pub struct DayOfHours {
    /// Its date.
    pub date: NaiveDate,
    /// By the clock's hours 0 to 23, how far the room was below its band on the mean, in K; NaN without a value, or without a
    /// band. An hour that the clock showed twice has both.
    pub below_k: [f32; 24],
    /// Hours below the band.
    pub hours_below: f32,
    /// The most that it was below, in K.
    pub deepest_k: f32,
}

/// The pictures of a home.
pub fn pictures(site: &Site, home: &Home, aligned: &AlignedHome) -> Pictures {
    let whole = HomeCache::new(site, home, aligned);
    let all = Period::new(aligned.record());
    let record = whole.scope(Slice::All, &all);
    let judged = periods(aligned).into_iter().find(|(name, _)| name == site.judged_period());
    let judged = Period::new(judged.map_or(0..0, |(_, range)| range));
    let decides = whole.scope(Slice::All, &judged);
    Pictures {
        days: days(&record),
        by_hour: by_hour(&record),
        mornings: mornings(&decides),
        against_outdoors: if aligned.outdoor().is_some() { against_outdoors(&decides) } else { Vec::new() },
    }
}

/// The local days of a scope, with their dates.
fn dated<'s>(scope: &'s HomeScope<'_>) -> impl Iterator<Item = (NaiveDate, GridDay)> + 's {
    let aligned = scope.aligned();
    let touched = |day: &&GridDay| !clip(scope.ranges(), &(day.from..day.to)).is_empty();
    // Noon: no change of the clock moves it to another day.
    let date = |day: &GridDay| scope.site().zone.date(aligned.time(day.from).plus_ms(12 * HOUR_MS));
    aligned.days().iter().filter(touched).map(move |day| (date(day), *day))
}

#[expect(clippy::cast_possible_truncation, reason = "for a picture")]
fn days(scope: &HomeScope<'_>) -> Vec<DaySeen> {
    let of_room = |room: usize, day: &GridDay| {
        let present = scope.degc(room)[day.from..day.to].iter().filter(|x| !x.is_nan());
        let (count, sum) = present.fold((0, 0.0), |(count, sum), x| (count + 1, sum + x));
        let enough = count > 0 && f64::from(count) >= DAY_COVERAGE * (day.to - day.from) as f64;
        if enough { (sum / f64::from(count)) as f32 } else { f32::NAN }
    };
    let seen = |(date, day): (NaiveDate, GridDay)| DaySeen {
        date,
        outdoor: outdoor_mean(scope.aligned(), &day).map_or(f32::NAN, |x| x as f32),
        rooms: (0..scope.rooms().len()).map(|room| of_room(room, &day)).collect(),
    };
    dated(scope).map(seen).collect()
}

fn by_hour(scope: &HomeScope<'_>) -> Option<DayByHour> {
    let degree_hours = |room: &usize| {
        let of_room = scope.room(*room);
        let below = |i: usize| Some((of_room.band_at(i)?.lower.degc() - of_room.degc()[i]).max(0.0));
        let all = scope.ranges().iter().flat_map(Clone::clone);
        all.filter_map(below).filter(|k| !k.is_nan()).sum::<f64>()
    };
    let rooms = (0..scope.rooms().len()).map(|room| (degree_hours(&room), room));
    let (most, room) = rooms.reduce(|a, b| if b.0 > a.0 { b } else { a })?;
    let zone = scope.site().zone;
    (most > 0.0)
        .then(|| DayByHour { room, days: dated(scope).map(|day| hours(scope, room, zone, day)).collect() })
}

#[expect(clippy::cast_possible_truncation, reason = "for a picture")]
fn hours(scope: &HomeScope<'_>, room: usize, zone: Zone, (date, day): (NaiveDate, GridDay)) -> DayOfHours {
    let (of_room, aligned) = (scope.room(room), scope.aligned());
    let mut sums = [(0.0, 0_u32); 24];
    let (mut instants_below, mut deepest) = (0_u32, 0.0_f64);
    for i in day.from..day.to {
        let degc = of_room.degc()[i];
        let Some(band) = of_room.band_at(i).filter(|_| !degc.is_nan()) else { continue };
        let below = (band.lower.degc() - degc).max(0.0);
        let sum = &mut sums[hour_of(aligned.time(i), zone)];
        *sum = (sum.0 + below, sum.1 + 1);
        instants_below += u32::from(below > 0.0);
        deepest = deepest.max(below);
    }
    let mean = |(sum, count): (f64, u32)| if count > 0 { (sum / f64::from(count)) as f32 } else { f32::NAN };
    DayOfHours {
        date,
        below_k: sums.map(mean),
        hours_below: (f64::from(instants_below) * aligned.step_h()) as f32,
        deepest_k: deepest as f32,
    }
}

/// The hour on the clock.
fn hour_of(t: UtcTime, zone: Zone) -> usize {
    let ms = t.ms() + i64::from(zone.offset_s(t)) * 1000;
    (ms.div_euclid(HOUR_MS).rem_euclid(24)) as usize
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_hour_is_that_of_the_clock_on_the_wall() {
        let zone = Zone::parse("America/Chicago").unwrap();
        let at = |text: &str| {
            hour_of(
                UtcTime::from_ms(chrono::DateTime::parse_from_rfc3339(text).unwrap().timestamp_millis()),
                zone,
            )
        };
        assert_eq!(
            [at("2026-01-31T06:00:00Z"), at("2026-01-31T05:59:59Z"), at("2026-07-01T05:00:00Z")],
            [0, 23, 0]
        );
    }
}
