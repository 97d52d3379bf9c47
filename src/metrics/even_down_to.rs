//! Down to which outdoor temperature a room stays as warm as the reference, day by day.

use super::offset::{CONFIDENCE, NORMAL_95, RoomOffsets, Sure, days_half_width, of_one_day};
use super::{Compute, Family, HomeScope, Interval, IntervalKind, Measured, Metric, Slice};
use crate::site::Heated;
use crate::stats::{self, DayLine};

pub(super) static FAMILY: Family = Family { metrics: METRICS, compute: Compute::Home(of_home) };

metrics! {
    OFFSET_ON_MEDIAN_DAY = Metric {
        id: "offset_on_median_day",
        unit: "K",
        definition: "the room's daily offset from the reference at the record's median outdoor temperature, on the line of offset_at_design, with the 95 % prediction interval for one day, widened by the sensor accuracy (root of the sum of squares): where it is not wholly inside ± the site's margin even_down_to is not shown, on the side on which it is outside",
        source: "own definition",
    };
    EVEN_DOWN_TO = Metric {
        id: "even_down_to",
        unit: "°C",
        definition: "the coldest outdoor temperature, no colder than the coldest day seen, such that the whole 95 % prediction band of the room's daily offset (days and sensors) lies inside ± the site's margin from there up to the record's median outdoor temperature; `at least down to`: it does so down to the coldest day seen, and may do so further; no row where the band lies outside already at the median: not shown (offset_on_median_day tells the side)",
        source: "own definition",
    };
    DAYS_TO_DECIDE = Metric {
        id: "days_to_decide",
        unit: "d",
        definition: "more days like these until an undecided evenness_verdict is decided: n (h² / (gap² − s²) − 1), n the days so far, gap the distance of the offset from the margin, s and h what sensors and days have in the 90 % interval; low and high: the same at the upper and the lower quartile of the gap, no high where its lower quartile is no larger than s; one look at the planned end decides, not the first of many; no row, though undecided: gap ≤ s, more days will not decide, and a side-by-side check of the loggers may",
        source: "own definition",
    };
}

/// Steps of halving: from 50 K to less than a millionth.
const HALVINGS: usize = 26;

/// Offsets of the whole time only.
fn of_home(scope: &HomeScope<'_>, out: &mut Measured) {
    if scope.slice() != Slice::All {
        return;
    }
    let margin = scope.site().spread.margin.k();
    for (room, offsets) in scope.offsets().iter().enumerate() {
        if scope.rooms()[room].heated == Heated::Unknown {
            continue;
        }
        let hours = offsets.hours(scope, true);
        if let Some((line, points)) = offsets.line() {
            let band = Band { line, sensors: offsets.sensors, margin };
            band.report(room, &points, hours, out);
        }
        if let Some((days, interval)) = days_to_decide(offsets, margin) {
            out.value_within(Some(room), &DAYS_TO_DECIDE, days, interval, offsets.hours(scope, false));
        }
    }
}

/// The band in which a day's offset lies, and the margin.
struct Band {
    line: DayLine,
    sensors: f64,
    margin: f64,
}

impl Band {
    fn report(&self, room: usize, points: &[(f64, f64)], hours: f64, out: &mut Measured) {
        let outdoor: Vec<f64> = points.iter().map(|p| p.0).collect();
        let coldest = outdoor.iter().copied().fold(f64::INFINITY, f64::min);
        let Some(median) = stats::median(outdoor) else { return };
        if let Some(days) = self.days_at(median) {
            let value = self.line.at(median);
            let interval = of_one_day(value, days, self.sensors, false);
            out.value_of_parts(Some(room), &OFFSET_ON_MEDIAN_DAY, value, interval, hours);
        }
        match self.down_to(coldest, median) {
            Some(down_to) if down_to <= coldest => {
                let kind = IntervalKind::AtLeastDownTo;
                let interval = Interval { low: f64::NEG_INFINITY, high: coldest, kind };
                out.value_within(Some(room), &EVEN_DOWN_TO, coldest, interval, hours);
            }
            Some(down_to) => out.value(Some(room), &EVEN_DOWN_TO, down_to, hours),
            None => {}
        }
    }

    /// What one day more or less leaves open at an outdoor temperature, half of the 95 % interval.
    fn days_at(&self, outdoor: f64) -> Option<f64> {
        self.line.one_day(outdoor, 0.95)
    }

    fn is_inside(&self, outdoor: f64) -> bool {
        let half = self.days_at(outdoor).map(|days| days.hypot(self.sensors));
        half.is_some_and(|half| self.line.at(outdoor).abs() + half <= self.margin)
    }

    /// How far down it lies inside; `None` where it does not at the median.
    ///
    /// |line| + half-width is a convex function, so that on one side of a place inside it leaves the margin once at most.
    fn down_to(&self, coldest: f64, median: f64) -> Option<f64> {
        if !self.is_inside(median) {
            return None;
        }
        if self.is_inside(coldest) {
            return Some(coldest);
        }
        let (mut outside, mut inside) = (coldest, median);
        for _ in 0..HALVINGS {
            let middle = (outside + inside) / 2.0;
            if self.is_inside(middle) { inside = middle } else { outside = middle }
        }
        Some(inside)
    }
}

/// Days until an interval that reaches across the margin no longer does, at the gap and at its quartiles; `None` where it does
/// not, or days cannot help.
fn days_to_decide(offsets: &RoomOffsets, margin: f64) -> Option<(f64, Interval)> {
    let days = offsets.held()?;
    let mean = stats::mean(&days.iter().map(|d| d.0).collect::<Vec<_>>())?;
    let sure = Sure::of(&days, mean, offsets.sensors)?;
    let (low, high) = (sure.interval.low, sure.interval.high);
    let decided = (low > -margin && high < margin) || low > margin || high < -margin;
    if decided {
        return None;
    }
    let (sensors, over_days) = (
        offsets.sensors / NORMAL_95 * stats::normal_quantile((1.0 + CONFIDENCE) / 2.0),
        days_half_width(sure.over_days, CONFIDENCE)?,
    );
    let gap = (margin - mean.abs()).abs();
    let quartile = days_half_width(sure.over_days, 0.5)?;
    let at = |gap: f64| more_days(days.len() as f64, gap, sensors, over_days);
    let high = at((gap - quartile).max(0.0)).unwrap_or(f64::INFINITY);
    Some((at(gap)?, Interval { low: at(gap + quartile)?, high, kind: IntervalKind::Quartiles }))
}

/// `None`: no number of days decides.
fn more_days(n: f64, gap: f64, sensors: f64, over_days: f64) -> Option<f64> {
    let room = gap * gap - sensors * sensors;
    (room > 0.0).then(|| (n * (over_days * over_days / room - 1.0)).max(0.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::Line;

    /// The points of PUBLISHED values about a line's prediction interval, with their scatter around it.
    const POINTS: [(f64, f64); 12] = [
        (-12.0, -2.6),
        (-10.0, -2.4),
        (-8.0, -2.1),
        (-7.0, -2.2),
        (-5.0, -1.9),
        (-4.0, -1.6),
        (-2.0, -1.5),
        (0.0, -1.2),
        (1.0, -1.3),
        (3.0, -0.9),
        (4.0, -0.8),
        (6.0, -0.6),
    ];

    fn band(sensors: f64, margin: f64) -> Band {
        // Published for points that are not alike.
        Band { line: DayLine { line: Line::fit(&POINTS).unwrap(), growth: 1.0 }, sensors, margin }
    }

    #[test]
    fn the_band_leaves_the_margin_where_its_lower_end_does() {
        let down_to = band(0.0, 3.0).down_to(-20.0, -3.0).unwrap();
        assert!((down_to + 13.379225).abs() < 1e-4, "{down_to}");
        assert_eq!(band(0.0, 3.0).down_to(-12.0, -3.0), Some(-12.0), "no colder than the coldest day");
        assert_eq!(band(0.0, 1.0).down_to(-12.0, -3.0), None, "outside already");
        assert!(band(0.5, 3.0).down_to(-20.0, -3.0).unwrap() > down_to + 0.5, "sensors that may err");
    }

    #[test]
    fn nearly_all_days_at_or_above_it_lie_inside() {
        let wobble = |i: i32| f64::from(i * 7919 % 101) / 101.0 - 0.5;
        let points: Vec<(f64, f64)> = (0..100)
            .map(|i| (f64::from(i % 25) - 15.0, -0.6 + 0.1 * f64::from(i % 25 - 15) + wobble(i)))
            .collect();
        let line = DayLine::fit(&points).unwrap();
        let down_to = Band { line, sensors: 0.0, margin: 1.6 }.down_to(-15.0, -3.0).unwrap();
        let above: Vec<&(f64, f64)> = points.iter().filter(|p| p.0 >= down_to).collect();
        let inside = above.iter().filter(|p| p.1.abs() <= 1.6).count();
        assert!(down_to > -14.0 && inside as f64 >= 0.95 * above.len() as f64, "{down_to}");
    }

    #[test]
    fn days_decide_what_days_leave_open_and_nothing_else() {
        // 28 days, 0.6 K from the margin, of which the sensors take 0.4 K and the days 0.9 K.
        let more = more_days(28.0, 0.6, 0.4, 0.9).unwrap();
        assert!((more - 28.0 * (0.81 / 0.2 - 1.0)).abs() < 1e-9);
        assert_eq!(more_days(28.0, 0.4, 0.4, 0.9), None);
    }
}
