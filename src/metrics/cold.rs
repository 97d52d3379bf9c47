//! Cold that counts whatever its share of the record: days too cold, and cold that is a serious risk to health.

use std::ops::Range;

use super::{Compute, EventKind, Family, Measured, Metric, RoomEvent, RoomScope, Slice};
use crate::clock::Span;
use crate::units::Celsius;

pub(super) static FAMILY: Family = Family { metrics: METRICS, compute: Compute::Room(cold) };

const HHSRS: &str = "16 °C as the limit of serious cold: England, HHSRS operating guidance (2006)";

metrics! {
    DAYS_BELOW_BAND = Metric {
        id: "days_below_band",
        unit: "1",
        definition: "most local days in a row on which the room was certainly below the lower limit of the band, even with the sensor accuracy added, for 12 h or more",
        source: "own definition",
    };
    LONGEST_BELOW_16 = Metric {
        id: "longest_below_16",
        unit: "h",
        definition: "longest time certainly below 16 °C, even with the sensor accuracy added; holes of up to 2 h and up to 30 min too close to call (below 16 °C, but not by the sensor accuracy) do not end it and are not counted, a value of 16 °C or more ends it; no row where there is none",
        source: HHSRS,
    };
    SINCE_BELOW_16 = Metric {
        id: "since_below_16",
        unit: "h",
        definition: "from the room's last value certainly below 16 °C to its last value: 0 where its record ends in such cold; no row where there is none",
        source: HHSRS,
    };
}

/// Hours of a local day that make it a day below the band.
const COLD_DAY_H: f64 = 12.0;
/// Rooms to live and sleep in that are colder than this are a serious risk for older people.
///
/// England, Housing Health and Safety Rating System, operating guidance (2006), excess cold.
pub const SERIOUS_COLD: Celsius = Celsius::new(16.0);
/// Hours certainly below it that are an event.
pub const SERIOUS_COLD_H: f64 = 12.0;
/// Longest hole that does not end such a time, in hours.
const HOLE_H: f64 = 2.0;
/// Longest `too close to call` that does not end it, in hours: as in the episodes of the heat rule.
const BRIDGE_H: f64 = 0.5;

/// Events are taken from no other slice, and days are whole.
fn cold(scope: &RoomScope<'_>, out: &mut Measured) {
    let hours = scope.hours_observed();
    if scope.home().slice() != Slice::All || hours == 0.0 {
        return;
    }
    let bands = &scope.home().site().bands;
    if bands.any() {
        let (mut most, mut run) = (0, 0);
        for (day, _) in scope.home().days() {
            run = if is_below_band(scope, day) { run + 1 } else { 0 };
            most = most.max(run);
        }
        out.value(Some(scope.index()), &DAYS_BELOW_BAND, f64::from(most), hours);
    }
    let times = serious_times(scope);
    if let Some(longest) = times.iter().map(|time| time.below).max() {
        out.value(Some(scope.index()), &LONGEST_BELOW_16, longest as f64 * scope.step_h(), hours);
    }
    if let Some(last) = times.last() {
        let later: Vec<Range<usize>> = super::scope::clip(scope.home().ranges(), &(last.at.end..usize::MAX));
        let unbroken = later.iter().flat_map(|range| scope.blocks().unbroken(range));
        let end = unbroken.map(|run| run.end).max().unwrap_or(last.at.end);
        out.value(Some(scope.index()), &SINCE_BELOW_16, (end - last.at.end) as f64 * scope.step_h(), hours);
    }
    let aligned = scope.home().aligned();
    let lasting = times.iter().filter(|time| time.below as f64 * scope.step_h() >= SERIOUS_COLD_H);
    out.events.extend(lasting.map(|time| RoomEvent {
        room: Some(scope.index()),
        kind: EventKind::SeriousCold,
        span: Span { from: aligned.time(time.at.start), to: aligned.time(time.at.end) },
        value: time.lowest,
        limit: SERIOUS_COLD.degc(),
        censored: is_cut_off(scope, &time.at),
    }));
}

/// Whether nobody knows what was just before or just after.
pub(super) fn is_cut_off(scope: &RoomScope<'_>, at: &Range<usize>) -> bool {
    let known = |i: usize| scope.degc().get(i).is_some_and(|x| !x.is_nan());
    let ranges = scope.home().ranges();
    let at_edge = ranges.iter().any(|range| range.start == at.start || range.end == at.end);
    at_edge || !known(at.start.wrapping_sub(1)) || !known(at.end)
}

fn is_below_band(scope: &RoomScope<'_>, day: &[Range<usize>]) -> bool {
    let accuracy = scope.accuracy_k();
    let below = day.iter().flat_map(|range| scope.bands_in(range)).filter_map(|(part, band)| {
        let limit = band?.lower.degc() - accuracy;
        // Most days are warm as a whole.
        let any = scope.blocks().ends(scope.degc(), &part).low < limit;
        any.then(|| scope.degc()[part].iter().filter(|x| **x < limit).count())
    });
    below.sum::<usize>() as f64 * scope.step_h() >= COLD_DAY_H
}

/// A time certainly below 16 °C.
struct SeriousTime {
    at: Range<usize>,
    /// Instants below, without those in holes.
    below: usize,
    lowest: f64,
    /// Instants since the last one below: holes, and those too close to call.
    holes: usize,
    too_close: usize,
}

impl SeriousTime {
    fn starting_at(i: usize) -> Self {
        Self { at: i..i, below: 0, lowest: f64::INFINITY, holes: 0, too_close: 0 }
    }

    /// Goes on with an instant below.
    fn go_on(&mut self, i: usize, x: f64) {
        (self.at.end, self.below, self.lowest) = (i + 1, self.below + 1, self.lowest.min(x));
        (self.holes, self.too_close) = (0, 0);
    }

    /// Whether an instant that is not surely below does not end it.
    fn bridges(&mut self, x: f64, step_h: f64) -> bool {
        self.holes += usize::from(x.is_nan());
        self.too_close += usize::from(!x.is_nan());
        x.partial_cmp(&SERIOUS_COLD.degc()).is_none_or(std::cmp::Ordering::is_lt)
            && self.holes <= (HOLE_H / step_h) as usize
            && self.too_close <= (BRIDGE_H / step_h) as usize
    }
}

fn serious_times(scope: &RoomScope<'_>) -> Vec<SeriousTime> {
    let limit = SERIOUS_COLD.degc() - scope.accuracy_k();
    let mut times: Vec<SeriousTime> = Vec::new();
    let mut open: Option<SeriousTime> = None;
    for range in scope.home().ranges() {
        for part in scope.blocks().parts(range) {
            // Blocks that are warm as a whole are passed over; one without values may be a hole.
            let warm = part.complete && part.ends.low >= limit;
            if warm && (open.is_none() || part.ends.low >= SERIOUS_COLD.degc()) {
                times.extend(open.take());
                continue;
            }
            for (i, x) in part.at.clone().zip(&scope.degc()[part.at]) {
                if *x < limit {
                    open.get_or_insert_with(|| SeriousTime::starting_at(i)).go_on(i, *x);
                } else if open.as_mut().is_some_and(|time| !time.bridges(*x, scope.step_h())) {
                    times.extend(open.take());
                }
            }
        }
        times.extend(open.take());
    }
    times
}
