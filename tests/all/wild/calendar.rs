//! Civil time, worked out here once more from the rules, so that truth does not come from the code under test.

pub(crate) const MIN_MS: i64 = 60_000;
pub(crate) const HOUR_MS: i64 = 60 * MIN_MS;
pub(crate) const DAY_MS: i64 = 24 * HOUR_MS;

/// Days from 1970-01-01 to a date of the Gregorian calendar.
pub(crate) fn days(year: i64, month: i64, day: i64) -> i64 {
    let year = if month <= 2 { year - 1 } else { year };
    let (era, of_era) = (year.div_euclid(400), year.rem_euclid(400));
    let of_year = (153 * ((month + 9) % 12) + 2) / 5 + day - 1;
    era * 146_097 + of_era * 365 + of_era / 4 - of_era / 100 + of_year - 719_468
}

/// What a clock shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Wall {
    pub(crate) year: i64,
    pub(crate) month: i64,
    pub(crate) day: i64,
    pub(crate) hour: i64,
    pub(crate) minute: i64,
    pub(crate) second: i64,
    pub(crate) ms: i64,
    /// 0 is Monday.
    pub(crate) weekday: usize,
}

impl Wall {
    /// From milliseconds since 1970-01-01 00:00 on the same clock.
    pub(crate) fn new(local_ms: i64) -> Self {
        let (day_number, of_day) = (local_ms.div_euclid(DAY_MS), local_ms.rem_euclid(DAY_MS));
        let z = day_number + 719_468;
        let (era, of_era) = (z.div_euclid(146_097), z.rem_euclid(146_097));
        let years = (of_era - of_era / 1460 + of_era / 36_524 - of_era / 146_096) / 365;
        let of_year = of_era - (365 * years + years / 4 - years / 100);
        let shifted = (5 * of_year + 2) / 153;
        let month = if shifted < 10 { shifted + 3 } else { shifted - 9 };
        Self {
            year: years + era * 400 + i64::from(month <= 2),
            month,
            day: of_year - (153 * shifted + 2) / 5 + 1,
            hour: of_day / HOUR_MS,
            minute: of_day / MIN_MS % 60,
            second: of_day / 1000 % 60,
            ms: of_day % 1000,
            weekday: (day_number + 3).rem_euclid(7) as usize,
        }
    }
}

/// Zones with daylight saving in the north, in the south with half an hour, and without it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Zone {
    Chicago,
    Berlin,
    Adelaide,
    Kolkata,
}

impl Zone {
    pub(crate) const ALL: [Zone; 4] = [Zone::Chicago, Zone::Berlin, Zone::Adelaide, Zone::Kolkata];

    pub(crate) fn name(self) -> &'static str {
        match self {
            Zone::Chicago => "America/Chicago",
            Zone::Berlin => "Europe/Berlin",
            Zone::Adelaide => "Australia/Adelaide",
            Zone::Kolkata => "Asia/Kolkata",
        }
    }

    /// Minutes ahead of UTC without daylight saving.
    pub(crate) fn standard_min(self) -> i64 {
        match self {
            Zone::Chicago => -360,
            Zone::Berlin => 60,
            Zone::Adelaide => 570,
            Zone::Kolkata => 330,
        }
    }

    /// The instants of a year at which clocks go forward and back; the rules hold since 2008.
    pub(crate) fn changes(self, year: i64) -> Option<(i64, i64)> {
        let sunday = |month: i64, from: i64| {
            let day = days(year, month, from);
            day + (6 - (day + 3).rem_euclid(7))
        };
        let at = |day: i64, minutes: i64| day * DAY_MS + minutes * MIN_MS;
        match self {
            Zone::Chicago => Some((at(sunday(3, 8), 8 * 60), at(sunday(11, 1), 7 * 60))),
            Zone::Berlin => Some((at(sunday(3, 25), 60), at(sunday(10, 25), 60))),
            Zone::Adelaide => Some((at(sunday(10, 1), 120 - 570), at(sunday(4, 1), 120 - 570))),
            Zone::Kolkata => None,
        }
    }

    /// Milliseconds ahead of UTC at an instant.
    pub(crate) fn offset_ms(self, utc_ms: i64) -> i64 {
        let standard = self.standard_min() * MIN_MS;
        let Some((forward, back)) = self.changes(Wall::new(utc_ms).year) else { return standard };
        let summer = if forward < back {
            (forward..back).contains(&utc_ms)
        } else {
            !(back..forward).contains(&utc_ms)
        };
        standard + if summer { HOUR_MS } else { 0 }
    }

    /// How far an instant lies from the nearest one at which clocks go back.
    pub(crate) fn fold_distance_ms(self, utc_ms: i64) -> i64 {
        let year = Wall::new(utc_ms).year;
        let folds =
            (year - 1..=year + 1).filter_map(|y| self.changes(y)).map(|(_, back)| (utc_ms - back).abs());
        folds.min().unwrap_or(i64::MAX)
    }

    /// Whether the local time at an instant comes twice.
    pub(crate) fn twice(self, utc_ms: i64) -> bool {
        let next = self.offset_ms(utc_ms + HOUR_MS) < self.offset_ms(utc_ms);
        next || self.offset_ms(utc_ms - HOUR_MS) > self.offset_ms(utc_ms)
    }
}

#[test]
fn the_calendar_agrees_with_the_zone_database() {
    use chrono::{Datelike, Offset, TimeZone, Timelike};
    for zone in Zone::ALL {
        let tz: chrono_tz::Tz = zone.name().parse().unwrap();
        for hours in (0..20 * 366 * 24).step_by(7) {
            let ms = days(2009, 1, 1) * DAY_MS + hours * HOUR_MS + 1_800_000;
            let there = tz.timestamp_millis_opt(ms).unwrap();
            let wall = Wall::new(ms + zone.offset_ms(ms));
            assert_eq!(
                zone.offset_ms(ms),
                i64::from(there.offset().fix().local_minus_utc()) * 1000,
                "{there}"
            );
            assert_eq!((wall.year, wall.month), (i64::from(there.year()), i64::from(there.month())));
            assert_eq!((wall.day, wall.hour), (i64::from(there.day()), i64::from(there.hour())));
            assert_eq!(wall.weekday, there.weekday().num_days_from_monday() as usize);
            assert_eq!(days(wall.year, wall.month, wall.day), (ms + zone.offset_ms(ms)).div_euclid(DAY_MS));
        }
    }
}
