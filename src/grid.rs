//! Corrected series of one home → [`AlignedHome`]: every room at the same instants. The only place that resamples.
//!
//! Grid instants are whole multiples of the step from the Unix epoch. There is no extrapolation, ever. The
//! grid of a home covers its record and the named periods, padded to whole local days, so that days, nights
//! and periods are ranges of indices.

mod record;
mod single;
mod trace;

pub use trace::Trace;

use std::ops::Range;

use crate::clock::{DailyWindow, Span, UtcTime, Zone, local_days};
use crate::quality::Corrected;
use crate::site::{Alignment, Site};
use crate::units::KelvinDiff;

/// How series become grid values.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Resampling {
    /// Grid step in milliseconds.
    pub step_ms: i64,
    /// Longest bridge between two readings, in milliseconds; never less than 2.5 sampling intervals.
    pub max_gap_ms: i64,
    /// Instants or means.
    pub alignment: Alignment,
}

impl Resampling {
    /// The resampling that a site asks for.
    pub fn of(site: &Site) -> Self {
        Self { step_ms: site.step_ms, max_gap_ms: site.max_gap_ms, alignment: site.alignment }
    }
}

/// Consecutive grid values: the number of the first instant (counted from the epoch), and one value each, NaN where missing.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Stretch {
    first: i64,
    degc: Vec<f64>,
}

/// One series on the grid, from its first reading to its last.
pub fn resample(series: &Corrected, how: Resampling) -> Stretch {
    on_grid(series.times_ms(), series.degc(), series.interval_ms(), how)
}

fn on_grid(times: &[i64], degc: &[f64], interval_ms: Option<i64>, how: Resampling) -> Stretch {
    let (Some(start), Some(end)) = (times.first(), times.last()) else { return Stretch::default() };
    let max_gap_ms = how.max_gap_ms.max(interval_ms.unwrap_or(0) * 5 / 2);
    match how.alignment {
        Alignment::Instant => {
            let first = start.div_euclid(how.step_ms) + i64::from(start.rem_euclid(how.step_ms) != 0);
            let len = (end.div_euclid(how.step_ms) - first + 1).max(0) as usize;
            let mut grid = vec![f64::NAN; len];
            instants(times, degc, how.step_ms, max_gap_ms, first, &mut grid);
            Stretch { first, degc: grid }
        }
        Alignment::IntervalMean => {
            let first = start.div_euclid(how.step_ms);
            let len = (end.div_euclid(how.step_ms) - first + 1) as usize;
            Stretch { first, degc: interval_means(times, degc, how.step_ms, max_gap_ms, first, len) }
        }
    }
}

/// Linear interpolation between readings at most `max_gap_ms` apart; a reading exactly at an instant is taken as it is.
fn instants(times: &[i64], degc: &[f64], step_ms: i64, max_gap_ms: i64, first: i64, grid: &mut [f64]) {
    let (Some(first_time), Some(first_degc)) = (times.first(), degc.first()) else { return };
    let mut t = first * step_ms;
    let mut places = grid.iter_mut();
    if t == *first_time {
        places.next().into_iter().for_each(|place| *place = *first_degc);
        t += step_ms;
    }
    for ((t0, t1), (x0, x1)) in times.iter().zip(&times[1..]).zip(degc.iter().zip(&degc[1..])) {
        let near = t1 - t0 <= max_gap_ms;
        let (length, rise) = ((t1 - t0) as f64, x1 - x0);
        while t <= *t1 {
            let Some(place) = places.next() else { return };
            if t == *t1 {
                *place = *x1;
            } else if near {
                *place = x0 + rise * ((t - t0) as f64 / length);
            }
            t += step_ms;
        }
    }
}

/// Time-weighted means of the same line over `[t, t + step)`, over the covered part; missing where less than half is covered.
fn interval_means(
    times: &[i64],
    degc: &[f64],
    step_ms: i64,
    max_gap_ms: i64,
    first: i64,
    len: usize,
) -> Vec<f64> {
    let mut area = vec![0.0; len];
    let mut covered = vec![0_i64; len];
    for i in 1..times.len() {
        let (t0, t1) = (times[i - 1], times[i]);
        if t1 - t0 > max_gap_ms {
            continue;
        }
        let at = |t: i64| degc[i - 1] + (degc[i] - degc[i - 1]) * ((t - t0) as f64 / (t1 - t0) as f64);
        let mut from = t0;
        while from < t1 {
            let cell = from.div_euclid(step_ms);
            let to = ((cell + 1) * step_ms).min(t1);
            let k = (cell - first) as usize;
            area[k] += (at(from) + at(to)) / 2.0 * (to - from) as f64;
            covered[k] += to - from;
            from = to;
        }
    }
    let mean =
        |(area, covered): (f64, i64)| if covered * 2 >= step_ms { area / covered as f64 } else { f64::NAN };
    area.into_iter().zip(covered).map(mean).collect()
}

/// What the grid needs to know about a room.
#[derive(Clone, Debug)]
pub struct RoomSeries {
    /// One series per placement, with the span in which the logger stood there.
    pub placements: Vec<(Corrected, Span)>,
    /// Accuracy of the room's loggers (95 % half-width).
    pub accuracy: KelvinDiff,
}

/// A room as the aligned table of an earlier audit has it.
#[derive(Clone, Debug)]
pub struct RoomValues {
    /// Grid instants that have a value, rising, in milliseconds.
    pub times_ms: Vec<i64>,
    /// Their values, in °C.
    pub degc: Vec<f64>,
    /// Relative humidity at the same instants in %, NaN where missing; `None` where the room has none.
    pub humidity: Option<Vec<f64>>,
    /// When a logger stood in the room.
    pub placed: Vec<Span>,
    /// Times whose values rest on suspect readings, from the first instant to after the last.
    pub suspect: Vec<Span>,
    /// Accuracy of the room's loggers (95 % half-width).
    pub accuracy: KelvinDiff,
}

/// A room's series by number of instant.
struct Laid {
    stretches: Vec<Stretch>,
    humidity: Vec<Stretch>,
    placed: Vec<Span>,
    suspect: Vec<Span>,
    accuracy: KelvinDiff,
}

/// One room on the home's grid.
#[derive(Clone, Debug)]
pub struct AlignedRoom {
    degc: Vec<f64>,
    humidity: Option<Vec<f64>>,
    placed: Vec<Range<usize>>,
    suspect: Vec<Range<usize>>,
    accuracy: KelvinDiff,
}

impl AlignedRoom {
    /// One value per grid instant, in °C, no finer than single precision; NaN where the room has none.
    pub fn degc(&self) -> &[f64] {
        &self.degc
    }

    /// Relative humidity per grid instant in %; NaN where it or the temperature is missing; `None` where the room has none.
    pub fn humidity_percent(&self) -> Option<&[f64]> {
        self.humidity.as_deref()
    }

    /// Where a logger stood in the room.
    pub fn placed(&self) -> &[Range<usize>] {
        &self.placed
    }

    /// Instants whose value rests on a suspect reading, in rising order: they are used, and counted both ways.
    pub fn suspect(&self) -> &[Range<usize>] {
        &self.suspect
    }

    /// Accuracy of the room's loggers (95 % half-width).
    pub fn accuracy(&self) -> KelvinDiff {
        self.accuracy
    }
}

/// A local day on the grid: all of its instants.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct GridDay {
    /// First index.
    pub from: usize,
    /// Index after the last.
    pub to: usize,
}

/// All rooms of a home at the same instants; rooms in roster order.
///
/// It is made of corrected series only; readings that nobody flagged do not fit:
/// ```compile_fail,E0308
/// use evenrooms::exports::Readings;
/// use evenrooms::grid::RoomSeries;
/// use evenrooms::clock::Span;
/// use evenrooms::units::KelvinDiff;
/// let readings = Readings::from_series(&[(0, Some(20.0))]);
/// let room = RoomSeries { placements: vec![(readings, Span::ALWAYS)], accuracy: KelvinDiff::new(0.5) };
/// ```
#[derive(Clone, Debug)]
pub struct AlignedHome {
    first: i64,
    step_ms: i64,
    len: usize,
    record: Range<usize>,
    most: Range<usize>,
    rooms: Vec<AlignedRoom>,
    days: Vec<GridDay>,
    night: Vec<Range<usize>>,
    periods: Vec<(String, Range<usize>)>,
    outdoor: Option<Vec<f64>>,
}

impl AlignedHome {
    /// Aligns the rooms of one home.
    ///
    /// Shape: as many rooms as given, in that order, all of one length. Values are no finer than single precision, which the
    /// aligned table has: what loggers write is kept exactly, what lies between moves by less than 0.000 002 K. A home without any usable reading has an
    /// empty record, and only the named periods on its grid.
    pub fn align(site: &Site, rooms: &[RoomSeries]) -> Self {
        let how = Resampling::of(site);
        let laid = |room: &RoomSeries| {
            let stretches = room.placements.iter().map(|(series, _)| resample(series, how)).collect();
            let placed = room.placements.iter().map(|(_, span)| *span).collect();
            let humidity = room.placements.iter().filter_map(|(series, _)| {
                let own = series.humidity()?;
                Some(on_grid(&own.times_ms, &own.percent, series.interval_ms(), how))
            });
            let suspect = room.placements.iter().flat_map(|(series, _)| series.suspect()).collect();
            Laid { stretches, humidity: humidity.collect(), placed, suspect, accuracy: room.accuracy }
        };
        Self::lay_out(site, rooms.iter().map(laid).collect())
    }

    /// The home again, from the rows of an earlier audit's aligned table: the same in every value.
    ///
    /// Shape: as for [`AlignedHome::align`].
    pub fn restore(site: &Site, rooms: Vec<RoomValues>) -> Self {
        let laid = |room: RoomValues| {
            let number = |t: &i64| t.div_euclid(site.step_ms);
            let first = room.times_ms.first().map_or(0, number);
            let len = room.times_ms.last().map_or(0, |t| number(t) - first + 1) as usize;
            let stretch = |values: &[f64]| {
                let mut degc = vec![f64::NAN; len];
                for (t, x) in room.times_ms.iter().zip(values) {
                    degc[(number(t) - first) as usize] = *x;
                }
                Stretch { first, degc }
            };
            Laid {
                stretches: vec![stretch(&room.degc)],
                humidity: room.humidity.iter().map(|h| stretch(h)).collect(),
                placed: room.placed,
                suspect: room.suspect,
                accuracy: room.accuracy,
            }
        };
        Self::lay_out(site, rooms.into_iter().map(laid).collect())
    }

    fn lay_out(site: &Site, rooms: Vec<Laid>) -> Self {
        let how = Resampling::of(site);
        let number =
            |t: UtcTime| t.ms().div_euclid(how.step_ms) + i64::from(t.ms().rem_euclid(how.step_ms) != 0);
        let record = record(&rooms);
        let hull = hull(record, site.periods.iter().map(|p| (number(p.span.from), number(p.span.to))));
        let start = UtcTime::from_ms(hull.0 * how.step_ms);
        let end = UtcTime::from_ms(hull.1 * how.step_ms);
        let local =
            if hull.0 < hull.1 { local_days(site.zone, Span { from: start, to: end }) } else { Vec::new() };
        let first = local.first().map_or(hull.0, |d| number(d.span.from));
        let len = local.last().map_or(0, |d| (number(d.span.to) - first) as usize);
        let index = |n: i64| (n - first).clamp(0, len as i64) as usize;
        let days = local
            .iter()
            .map(|d| GridDay { from: index(number(d.span.from)), to: index(number(d.span.to)) })
            .collect();
        let whole = Span {
            from: UtcTime::from_ms(first * how.step_ms),
            to: UtcTime::from_ms((first + len as i64) * how.step_ms),
        };
        let on_grid = |span: Span| index(number(span.from))..index(number(span.to));
        let aligned = rooms.into_iter().map(|room| {
            let mut degc = lay(&room.stretches, first, len);
            single::keep_temperatures(&mut degc);
            let humidity = Some(&room.humidity).filter(|series| !series.is_empty()).map(|series| {
                let mut humidity = lay(series, first, len);
                single::keep_percents(&mut humidity);
                for (percent, degc) in humidity.iter_mut().zip(&degc).filter(|(_, x)| x.is_nan()) {
                    *percent = *degc;
                }
                humidity
            });
            let suspect = room.suspect.into_iter().map(on_grid).filter(|r| !r.is_empty());
            AlignedRoom {
                suspect: joined(suspect.collect()),
                degc,
                humidity: humidity.filter(|percent| percent.iter().any(|x| !x.is_nan())),
                placed: room.placed.into_iter().map(on_grid).filter(|r| !r.is_empty()).collect(),
                accuracy: room.accuracy,
            }
        });
        let rooms: Vec<AlignedRoom> = aligned.collect();
        let most = if site.periods.is_empty() { record::most_record(&rooms, how.step_ms) } else { 0..0 };
        Self {
            first,
            step_ms: how.step_ms,
            len,
            most,
            record: index(record.map_or(first, |r| r.0))..index(record.map_or(first, |r| r.1)),
            rooms,
            days,
            night: nights(site.bands.night_hours, site.zone, whole).into_iter().map(on_grid).collect(),
            periods: site.periods.iter().map(|p| (p.name.clone(), on_grid(p.span))).collect(),
            outdoor: None,
        }
    }

    /// The same home with the outdoor temperature at its instants: the first series of `weather`, on the same step.
    #[must_use]
    pub fn with_outdoor(mut self, weather: &AlignedHome) -> Self {
        debug_assert_eq!(self.step_ms, weather.step_ms);
        self.outdoor = weather.rooms.first().map(|series| {
            let at = |i: i64| usize::try_from(self.first + i - weather.first).ok();
            let value = |i: usize| at(i as i64).and_then(|k| series.degc.get(k)).copied().unwrap_or(f64::NAN);
            (0..self.len).map(value).collect()
        });
        self
    }

    /// The same home, had one room been warmer by so much all the time.
    #[must_use]
    pub fn with_room_moved(mut self, room: usize, by: KelvinDiff) -> Self {
        self.rooms[room].degc.iter_mut().for_each(|x| *x += by.k());
        self
    }

    /// The outdoor temperature at each grid instant, in °C, NaN where missing; `None` without a weather series.
    pub fn outdoor(&self) -> Option<&[f64]> {
        self.outdoor.as_deref()
    }

    /// The rooms.
    pub fn rooms(&self) -> &[AlignedRoom] {
        &self.rooms
    }

    /// Number of grid instants.
    pub fn len(&self) -> usize {
        self.len
    }

    /// Whether the grid has no instants.
    pub fn is_empty(&self) -> bool {
        self.len == 0
    }

    /// Grid step in hours: what one value stands for.
    pub fn step_h(&self) -> f64 {
        self.step_ms as f64 / crate::clock::HOUR_MS as f64
    }

    /// Grid step in milliseconds.
    pub fn step_ms(&self) -> i64 {
        self.step_ms
    }

    /// The instant of an index.
    pub fn time(&self, i: usize) -> UtcTime {
        UtcTime::from_ms((self.first + i as i64) * self.step_ms)
    }

    /// The first index at or after an instant.
    pub fn index_from(&self, t: UtcTime) -> usize {
        let number = t.ms().div_euclid(self.step_ms) + i64::from(t.ms().rem_euclid(self.step_ms) != 0);
        (number - self.first).clamp(0, self.len as i64) as usize
    }

    /// From the first to the last value of any room.
    pub fn record(&self) -> Range<usize> {
        self.record.clone()
    }

    /// From the first to the last instant at which at least half of the rooms that have a record are recording: what is judged
    /// where the site names no period. One file that is stale, or longer than the others, does not stretch it. Where never so
    /// many record at once, from the first to the last instant at which most do. Empty where the site names periods.
    pub fn most_record(&self) -> Range<usize> {
        self.most.clone()
    }

    /// Local days, in order.
    pub fn days(&self) -> &[GridDay] {
        &self.days
    }

    /// Night hours, in order.
    pub fn night(&self) -> &[Range<usize>] {
        &self.night
    }

    /// The named periods with their ranges.
    pub fn periods(&self) -> &[(String, Range<usize>)] {
        &self.periods
    }
}

/// First and after-last instant that has a value in any room.
fn record(rooms: &[Laid]) -> Option<(i64, i64)> {
    let all = rooms.iter().flat_map(|r| &r.stretches);
    let firsts = all.clone().filter_map(|s| Some(s.first + s.degc.iter().position(|x| !x.is_nan())? as i64));
    let lasts = all.filter_map(|s| Some(s.first + s.degc.iter().rposition(|x| !x.is_nan())? as i64 + 1));
    Some((firsts.min()?, lasts.max()?))
}

/// Ranges in rising order, those that touch or overlap made one.
fn joined(mut ranges: Vec<Range<usize>>) -> Vec<Range<usize>> {
    ranges.sort_by_key(|r| r.start);
    let mut joined: Vec<Range<usize>> = Vec::new();
    for range in ranges {
        match joined.last_mut() {
            Some(last) if range.start <= last.end => last.end = last.end.max(range.end),
            _ => joined.push(range),
        }
    }
    joined
}

fn hull(record: Option<(i64, i64)>, periods: impl Iterator<Item = (i64, i64)>) -> (i64, i64) {
    let all = periods.chain(record);
    all.reduce(|a, b| (a.0.min(b.0), a.1.max(b.1))).unwrap_or((0, 0))
}

fn lay(stretches: &[Stretch], first: i64, len: usize) -> Vec<f64> {
    let mut degc = vec![f64::NAN; len];
    for stretch in stretches {
        // A humidity may lie beyond the temperatures that the grid is made for.
        let before = usize::try_from(first - stretch.first).unwrap_or(0).min(stretch.degc.len());
        let from = usize::try_from(stretch.first - first).unwrap_or(0).min(len);
        for (place, x) in degc[from..].iter_mut().zip(&stretch.degc[before..]) {
            *place = if x.is_nan() { *place } else { *x };
        }
    }
    degc
}

fn nights(window: DailyWindow, zone: Zone, whole: Span) -> Vec<Span> {
    if whole.from >= whole.to {
        return Vec::new();
    }
    window.openings(zone, whole)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::exports::Readings;
    use crate::quality::Flagged;
    use crate::site::QualityLimits;

    const MIN: i64 = 60_000;

    fn corrected(series: &[(i64, f64)]) -> Corrected {
        let rows: Vec<(i64, Option<f64>)> = series.iter().map(|(m, x)| (m * MIN, Some(*x))).collect();
        let off = QualityLimits { tests: Vec::new(), ..QualityLimits::default() };
        Corrected::new(&Flagged::new(Readings::from_series(&rows), &off), None, false)
    }

    fn how(alignment: Alignment) -> Resampling {
        Resampling { step_ms: 5 * MIN, max_gap_ms: 30 * MIN, alignment }
    }

    #[test]
    fn instants_lie_on_the_line_between_readings() {
        let stretch = resample(&corrected(&[(3, 20.0), (13, 21.0), (15, 23.0)]), how(Alignment::Instant));
        assert_eq!(stretch, Stretch { first: 1, degc: vec![20.2, 20.7, 23.0] });
    }

    #[test]
    fn a_long_gap_is_not_bridged_and_nothing_is_extrapolated() {
        let stretch = resample(
            &corrected(&[(0, 20.0), (5, 20.0), (10, 20.0), (41, 21.0), (44, 21.0)]),
            how(Alignment::Instant),
        );
        let present: Vec<bool> = stretch.degc.iter().map(|x| !x.is_nan()).collect();
        assert_eq!(present, [true, true, true, false, false, false, false, false, false]);
    }

    #[test]
    fn a_bridge_is_at_least_two_and_a_half_intervals() {
        let hourly = corrected(&[(0, 20.0), (60, 21.0), (120, 22.0), (240, 24.0)]);
        let stretch = resample(&hourly, how(Alignment::Instant));
        assert!(stretch.degc.iter().all(|x| !x.is_nan()), "2 h are within 2.5 intervals of 1 h");
    }

    #[test]
    fn interval_means_weigh_by_time_and_need_half_the_step() {
        let stretch = resample(&corrected(&[(0, 20.0), (5, 22.0), (7, 22.0)]), how(Alignment::IntervalMean));
        assert_eq!(stretch.degc[..1], [21.0]);
        assert!(stretch.degc[1].is_nan(), "2 of 5 minutes are covered");
    }

    #[test]
    fn one_reading_between_two_instants_gives_no_value() {
        assert!(resample(&corrected(&[(3, 20.0)]), how(Alignment::Instant)).degc.is_empty());
        assert_eq!(resample(&corrected(&[(5, 20.0)]), how(Alignment::Instant)).degc, [20.0]);
    }
}
