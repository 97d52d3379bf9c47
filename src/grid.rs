//! Corrected series of one home → [`AlignedHome`]: every room at the same instants. The only place that resamples.
//!
//! Grid instants are whole multiples of the step from the Unix epoch. There is no extrapolation, ever. The
//! grid of a home covers its record and the named periods, padded to whole local days, so that days, nights
//! and periods are ranges of indices.

mod quantise;
mod record;
mod resample;
mod trace;

pub(crate) use record::{joined, present};
pub use resample::{Resampling, Stretch, resample};
pub use trace::{Curve, Trace};

use std::ops::Range;

use resample::on_grid;

use crate::clock::{DailyWindow, Span, UtcTime, Zone, local_days};
use crate::quality::Corrected;
use crate::site::Site;
use crate::units::{Accuracy, KelvinDiff};

/// What the grid needs to know about a room.
#[derive(Clone, Debug)]
pub struct RoomSeries {
    /// One series per placement, with the span in which the logger stood there.
    pub placements: Vec<(Corrected, Span)>,
    /// Accuracy of the room's loggers.
    pub accuracy: Accuracy,
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
    /// Accuracy of the room's loggers.
    pub accuracy: Accuracy,
}

/// A room's series by number of instant.
struct Laid {
    stretches: Vec<Stretch>,
    humidity: Vec<Stretch>,
    placed: Vec<Span>,
    suspect: Vec<Span>,
    accuracy: Accuracy,
}

/// One room on the home's grid.
#[derive(Clone, Debug)]
pub struct AlignedRoom {
    degc: Vec<f64>,
    humidity: Option<Vec<f64>>,
    placed: Vec<Range<usize>>,
    suspect: Vec<Range<usize>>,
    accuracy: Accuracy,
    doubted: bool,
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

    /// Accuracy of the room's loggers.
    pub fn accuracy(&self) -> Accuracy {
        self.accuracy
    }

    /// Whether nothing speaks against its record, so that other rooms may be held against it.
    pub fn stands(&self) -> bool {
        !self.doubted
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
/// use evenrooms::units::{Accuracy, KelvinDiff};
/// let readings = Readings::from_series(&[(0, Some(20.0))]);
/// let room = RoomSeries { placements: vec![(readings, Span::ALWAYS)], accuracy: Accuracy::stated(KelvinDiff::new(0.5)) };
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
            quantise::keep_temperatures(&mut degc);
            let humidity = Some(&room.humidity).filter(|series| !series.is_empty()).map(|series| {
                let mut humidity = lay(series, first, len);
                quantise::keep_percents(&mut humidity);
                for (percent, degc) in humidity.iter_mut().zip(&degc).filter(|(_, x)| x.is_nan()) {
                    *percent = *degc;
                }
                humidity
            });
            let suspect = room.suspect.into_iter().map(on_grid).filter(|r| !r.is_empty());
            AlignedRoom {
                suspect: joined(suspect),
                degc,
                humidity: humidity.filter(|percent| percent.iter().any(|x| !x.is_nan())),
                placed: room.placed.into_iter().map(on_grid).filter(|r| !r.is_empty()).collect(),
                accuracy: room.accuracy,
                doubted: false,
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
        assert_eq!(self.step_ms, weather.step_ms, "weather on another grid");
        self.outdoor = weather.rooms.first().map(|series| {
            let at = |i: i64| usize::try_from(self.first + i - weather.first).ok();
            let value = |i: usize| at(i as i64).and_then(|k| series.degc.get(k)).copied().unwrap_or(f64::NAN);
            (0..self.len).map(value).collect()
        });
        self
    }

    /// The same home with the records that are doubted, one answer per room: no other room is held against such a one.
    #[must_use]
    pub fn with_doubted(mut self, doubted: &[bool]) -> Self {
        self.rooms.iter_mut().zip(doubted).for_each(|(room, doubted)| room.doubted = *doubted);
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
