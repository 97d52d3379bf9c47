//! Flagged → corrected: what is usable, its known offset removed.

use std::ops::Range;

use super::{Flag, Flagged};
use crate::clock::{Span, UtcTime};
use crate::units::KelvinDiff;

/// The usable readings of one logger, its known offset removed: all that the grid may see.
///
/// Arrays of the same length, rising in time, every value present.
#[derive(Clone, Debug)]
pub struct Corrected {
    times_ms: Vec<i64>,
    degc: Vec<f64>,
    /// Places of those that are suspect, in rising order.
    suspect: Vec<Range<usize>>,
    interval_ms: Option<i64>,
    humidity: Option<Humidity>,
}

/// The usable relative humidities of one logger, rising in time, every value present.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Humidity {
    /// Milliseconds since the Unix epoch.
    pub times_ms: Vec<i64>,
    /// Relative humidity in %.
    pub percent: Vec<f64>,
}

/// What the range test says of a relative humidity: good from 0 to 100 %, else fail.
///
/// # Source
/// Own definition, with the flags of the QARTOD scheme.
pub fn humidity_flag(percent: f64) -> Flag {
    match percent {
        p if p.is_nan() => Flag::Missing,
        p if (0.0..=100.0).contains(&p) => Flag::Good,
        _ => Flag::Fail,
    }
}

impl Corrected {
    /// Keeps readings flagged good or not evaluated (suspect ones too unless they are not wanted), and takes the logger's
    /// offset off. Which of them are suspect stays known, so that low and high of a number can count them both ways.
    pub fn new(flagged: &Flagged, offset: Option<KelvinDiff>, use_suspect: bool) -> Self {
        let usable = |flag: Flag| {
            matches!(flag, Flag::Good | Flag::NotEvaluated) || (use_suspect && flag == Flag::Suspect)
        };
        let offset_k = offset.map_or(0.0, KelvinDiff::k);
        let readings = &flagged.readings;
        let (mut times_ms, mut degc) =
            (Vec::with_capacity(readings.len()), Vec::with_capacity(readings.len()));
        let mut suspect: Vec<Range<usize>> = Vec::new();
        for (places, alike) in flagged.stretches().filter(|(_, alike)| usable(alike.flag)) {
            if alike.flag == Flag::Suspect {
                let here = times_ms.len()..times_ms.len() + places.len();
                match suspect.last_mut() {
                    Some(last) if last.end == here.start => last.end = here.end,
                    _ => suspect.push(here),
                }
            }
            times_ms.extend_from_slice(&readings.times_ms()[places.clone()]);
            degc.extend(readings.degc()[places].iter().map(|x| x - offset_k));
        }
        let humidity = readings.humidity_percent().map(|percent| {
            let good = (0..percent.len()).filter(|i| humidity_flag(percent[*i]) == Flag::Good);
            let (times_ms, percent) = good.map(|i| (readings.times_ms()[i], percent[i])).unzip();
            Humidity { times_ms, percent }
        });
        Self { times_ms, degc, suspect, interval_ms: readings.interval_ms(), humidity }
    }

    /// Times of suspect readings, each from the reading before the first to the reading after the last: what lies between
    /// rests on them.
    pub fn suspect(&self) -> impl Iterator<Item = Span> {
        let times = &self.times_ms;
        let from =
            |first: usize| times[first].min(first.checked_sub(1).map_or(times[first], |b| times[b] + 1));
        let to = |end: usize| times.get(end).copied().unwrap_or(times[end - 1] + 1);
        let span = move |r: &Range<usize>| (from(r.start), to(r.end));
        let spans = self.suspect.iter().map(span);
        spans.map(|(from, to)| Span { from: UtcTime::from_ms(from), to: UtcTime::from_ms(to) })
    }

    /// The usable relative humidities; `None` where the logger recorded none.
    pub fn humidity(&self) -> Option<&Humidity> {
        self.humidity.as_ref()
    }

    /// Milliseconds since the Unix epoch, rising.
    pub fn times_ms(&self) -> &[i64] {
        &self.times_ms
    }

    /// Temperatures in °C, all present.
    pub fn degc(&self) -> &[f64] {
        &self.degc
    }

    /// The logger's sampling interval.
    pub fn interval_ms(&self) -> Option<i64> {
        self.interval_ms
    }
}
