//! Mornings of a room laid over each other, for a picture: what it did after each setback.

use super::{Course, ends, is_late};
use crate::clock::{HOUR_MS, UtcTime};
use crate::metrics::HomeScope;

/// Time from value to value.
const EVERY_MS: i64 = HOUR_MS / 4;
/// Values of a morning: the start and five hours.
const VALUES: i64 = 21;
/// Mornings that are kept: late ones first, then the last.
const MOST: usize = 90;

/// The room that was late most often after setbacks, morning by morning.
#[derive(Clone, Debug, PartialEq)]
pub struct Mornings {
    /// The room, in roster order.
    pub room: usize,
    /// Its mornings, in order.
    pub mornings: Vec<Morning>,
    /// How many there were.
    pub of: usize,
}

/// A room after a setback.
#[derive(Clone, Debug, PartialEq)]
pub struct Morning {
    /// When recovery began.
    pub start: UtcTime,
    /// Target minus tolerance, in °C: what it is held against.
    pub line: f32,
    /// From then on the room is late, in hours after the start.
    pub granted_h: f32,
    /// Whether it was late; `None`: cut off before that can be told.
    pub late: Option<bool>,
    /// Its temperature each quarter of an hour from the start, in °C; NaN from where it is cut off.
    pub degc: Vec<f32>,
}

impl Morning {
    /// Hours after the start of a value.
    pub fn hours(&self) -> impl Iterator<Item = (f64, f64)> {
        let hour = |i: usize| i as f64 * EVERY_MS as f64 / HOUR_MS as f64;
        self.degc.iter().enumerate().map(move |(i, x)| (hour(i), f64::from(*x)))
    }
}

/// The mornings of the heated room that was late most often, of equal ones the first; `None` where no setback ended.
#[expect(clippy::cast_possible_truncation, reason = "for a picture")]
pub(in crate::metrics) fn mornings(scope: &HomeScope<'_>) -> Option<Mornings> {
    if scope.aligned().is_empty() {
        return None;
    }
    let ends = ends(scope);
    let heated = (0..scope.rooms().len()).filter(|room| scope.rooms()[*room].heated.surely());
    let of_room = |room: usize| {
        let courses: Vec<Course<'_>> = ends.iter().filter_map(|end| Course::of(scope, room, end)).collect();
        let late = courses.iter().filter(|c| is_late(c, 0.0) == Some(true)).count();
        (!courses.is_empty()).then_some((late, room, courses))
    };
    let worst = heated.filter_map(of_room).reduce(|a, b| if b.0 > a.0 { b } else { a });
    let (_, room, courses) = worst?;
    let morning = |course: &Course<'_>| Morning {
        start: course.end.start,
        line: course.line() as f32,
        granted_h: ((course.end.late_from.ms() - course.end.start.ms()) as f64 / HOUR_MS as f64) as f32,
        late: is_late(course, 0.0),
        degc: (0..VALUES).map(|i| course.after(i * EVERY_MS) as f32).collect(),
    };
    let mut mornings: Vec<Morning> = courses.iter().map(morning).collect();
    let of = mornings.len();
    mornings.sort_by_key(|m| (m.late != Some(true), std::cmp::Reverse(m.start)));
    mornings.truncate(MOST);
    mornings.sort_by_key(|m| m.start);
    Some(Mornings { room, mornings, of })
}
