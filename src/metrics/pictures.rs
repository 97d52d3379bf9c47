//! What the pictures of a home show beyond its curves: days, hours of days, mornings, and rooms on the weather. Made here, so
//! that pages only draw; small, for a large building holds them all.

use chrono::NaiveDate;

use super::daily::outdoor_mean;
use super::home_cache::HomeCache;
use super::limits::DAY_COVERAGE;
use super::recovery::{Mornings, mornings};
use super::scope::{Period, clip};
use super::slope::against_outdoors;
pub use super::slope::{AgainstOutdoors, LimitSeen};
use super::{HomeScope, Slice, periods};
use crate::clock::{HOUR_MS, UtcTime, Zone};
use crate::grid::{AlignedHome, GridDay};
use crate::site::{Band, Home, Site};

/// What the pictures of a home show.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Pictures {
    /// Means of each local day of the record.
    pub days: Vec<DaySeen>,
    /// Hour by hour how far a room was below its band: the room with the most degree-hours below; `None`: no room ever was.
    pub below_by_hour: Option<DayByHour>,
    /// The same above the band.
    pub above_by_hour: Option<DayByHour>,
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

/// On which side of its band a room is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OffBand {
    /// Colder than its lower limit.
    Below,
    /// Warmer than its upper limit.
    Above,
}

impl OffBand {
    /// The word for people.
    pub const fn word(self) -> &'static str {
        match self {
            OffBand::Below => "below",
            OffBand::Above => "above",
        }
    }

    /// How far a temperature is off a band on this side, in K; 0: not at all.
    fn by(self, band: Band, degc: f64) -> f64 {
        match self {
            OffBand::Below => (band.lower.degc() - degc).max(0.0),
            OffBand::Above => (degc - band.upper.degc()).max(0.0),
        }
    }
}

/// A room hour by hour.
#[derive(Clone, Debug, PartialEq)]
pub struct DayByHour {
    /// The room, in roster order.
    pub room: usize,
    /// The side of the band.
    pub side: OffBand,
    /// Hours of all rooms of the home on that side of their bands, in h.
    pub hours_of_home: f64,
    /// Its days.
    pub days: Vec<DayOfHours>,
}

/// A local day, hour by hour.
#[derive(Clone, Debug, PartialEq)]
pub struct DayOfHours {
    /// Its date.
    pub date: NaiveDate,
    /// By the clock's hours 0 to 23, how far the room was off its band on that side on the mean, in K; NaN without a value, or
    /// without a band. An hour that the clock showed twice has both.
    pub off_k: [f32; 24],
    /// Hours off the band on that side.
    pub hours_off: f32,
    /// The most that it was off, in K.
    pub most_k: f32,
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
        below_by_hour: by_hour(&record, OffBand::Below),
        above_by_hour: by_hour(&record, OffBand::Above),
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

fn by_hour(scope: &HomeScope<'_>, side: OffBand) -> Option<DayByHour> {
    // Degree-hours, and hours, both in steps.
    let off = |room: usize| {
        let of_room = scope.room(room);
        let at = |i: usize| Some(side.by(of_room.band_at(i)?, of_room.degc()[i]));
        let all = scope.ranges().iter().flat_map(Clone::clone).filter_map(at).filter(|k| *k > 0.0);
        all.fold((0.0, 0_u32), |(sum, count), k| (sum + k, count + 1))
    };
    let rooms: Vec<(f64, u32)> = (0..scope.rooms().len()).map(off).collect();
    let of_rooms = rooms.iter().enumerate().map(|(room, (sum, _))| (*sum, room));
    let (most, room) = of_rooms.reduce(|a, b| if b.0 > a.0 { b } else { a })?;
    let count: u32 = rooms.iter().map(|(_, count)| count).sum();
    (most > 0.0).then(|| DayByHour {
        room,
        side,
        hours_of_home: f64::from(count) * scope.aligned().step_h(),
        days: dated(scope).map(|day| hours(scope, (room, side), day)).collect(),
    })
}

#[expect(clippy::cast_possible_truncation, reason = "for a picture")]
fn hours(
    scope: &HomeScope<'_>,
    (room, side): (usize, OffBand),
    (date, day): (NaiveDate, GridDay),
) -> DayOfHours {
    let (of_room, aligned, zone) = (scope.room(room), scope.aligned(), scope.site().zone);
    let mut sums = [(0.0, 0_u32); 24];
    let (mut instants_off, mut most) = (0_u32, 0.0_f64);
    for i in day.from..day.to {
        let degc = of_room.degc()[i];
        let Some(band) = of_room.band_at(i).filter(|_| !degc.is_nan()) else { continue };
        let off = side.by(band, degc);
        let sum = &mut sums[hour_of(aligned.time(i), zone)];
        *sum = (sum.0 + off, sum.1 + 1);
        instants_off += u32::from(off > 0.0);
        most = most.max(off);
    }
    let mean = |(sum, count): (f64, u32)| if count > 0 { (sum / f64::from(count)) as f32 } else { f32::NAN };
    DayOfHours {
        date,
        off_k: sums.map(mean),
        hours_off: (f64::from(instants_off) * aligned.step_h()) as f32,
        most_k: most as f32,
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
