//! A home beside the rest of the building at the same time.
//!
//! Homes are judged one after another, so each leaves a summary behind: one number per hour, 4 bytes each. A season of
//! 5,100 h takes 20 kB per home, and 12,000 homes take 250 MB.
//!
//! Settled here, and why:
//! - **A home beside the building**: hourly means of the home's rooms (all but one present), the median of the *other*
//!   homes, at least 3 of them. Each home leaves 4 bytes per hour behind: 12,000 homes and a season of 5,100 h are 250
//!   MB.

use std::collections::BTreeMap;

use super::room_spread::quorum;
use super::{Metric, MetricRow, Parts, Slice};
use crate::clock::{HOUR_MS, Span, UtcTime};
use crate::grid::AlignedHome;
use crate::site::{Home, Site, WHOLE_RECORD};
use crate::stats;

const OWN: &str = "own definition: of the hourly means of the homes' rooms; an hour of a home counts with values at half of its instants, all rooms but one present";
/// Homes that a median of the others needs.
const LEAST_OTHERS: usize = 3;

metrics! {
    BUILDING_MEDIAN = Metric {
        id: "building_median",
        unit: "°C",
        definition: "mean over the hours of the median home, where 4 homes or more have a value",
        source: OWN,
    };
    BUILDING_RANGE = Metric {
        id: "building_range",
        unit: "K",
        definition: "mean over the hours of the 95th less the 5th percentile of the homes, where 4 homes or more have a value",
        source: OWN,
    };
    OFFSET_FROM_BUILDING = Metric {
        id: "offset_from_building",
        unit: "K",
        definition: "mean over the hours of the home less the median of the building's other homes at the same hour (3 others or more)",
        source: OWN,
    };
    OFFSET_FROM_FLOOR = Metric {
        id: "offset_from_floor",
        unit: "K",
        definition: "mean over the hours of the home less the median of the other homes of its floor (`floor` in the roster; 3 others or more)",
        source: OWN,
    };
    OFFSET_FROM_LINE = Metric {
        id: "offset_from_line",
        unit: "K",
        definition: "mean over the hours of the home less the median of the other homes of its line (`line` in the roster: homes above each other; 3 others or more)",
        source: OWN,
    };
}

/// Hourly means of a home: what is kept of it for the building.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct HomeHours {
    /// Hours since 1970 of the first number.
    first: i64,
    /// One number per hour, NaN where missing.
    degc: Vec<f32>,
}

impl HomeHours {
    /// The summary of a home.
    pub fn of(site: &Site, home: &Home, aligned: &AlignedHome) -> Self {
        // A home may have one room only.
        let quorum = quorum(site, home).min(home.rooms.len()).max(1);
        let (mut counts, mut sums) = (vec![0.0; aligned.len()], vec![0.0; aligned.len()]);
        for room in aligned.rooms() {
            for ((count, sum), x) in counts.iter_mut().zip(&mut sums).zip(room.degc()) {
                *count += if x.is_nan() { 0.0 } else { 1.0 };
                *sum += if x.is_nan() { 0.0 } else { *x };
            }
        }
        let per_hour = (HOUR_MS / aligned.step_ms()) as usize;
        let first = aligned.time(0).ms().div_euclid(HOUR_MS);
        // Instants of the first hour that lie before the grid.
        let before = (aligned.time(0).ms().rem_euclid(HOUR_MS) / aligned.step_ms()) as usize;
        let hours = (before + aligned.len()).div_ceil(per_hour);
        let hour = |hour: usize| {
            let start = (hour * per_hour).saturating_sub(before);
            let instants = start..((hour + 1) * per_hour - before).min(aligned.len());
            let with_quorum = counts[instants.clone()].iter().zip(&sums[instants]);
            let with_quorum = with_quorum.filter(|(count, _)| **count >= quorum as f64);
            with_quorum.fold((0, 0.0), |(n, total), (count, sum)| (n + 1, total + sum / count))
        };
        let mean =
            |(n, sum): (usize, f64)| if n * 2 >= per_hour { (sum / n as f64) as f32 } else { f32::NAN };
        Self { first, degc: (0..hours).map(|k| mean(hour(k))).collect() }.trimmed()
    }

    /// Without the missing hours at both ends.
    fn trimmed(self) -> Self {
        let present = |x: &f32| !x.is_nan();
        let Some(start) = self.degc.iter().position(present) else { return Self::default() };
        let end = self.degc.iter().rposition(present).unwrap_or(start) + 1;
        Self { first: self.first + start as i64, degc: self.degc[start..end].to_vec() }
    }

    /// By how much another home was warmer, in K, on the mean over those of some [hours](whole_hours) that both have; `None`
    /// where these are fewer than half.
    pub fn warmer_meanwhile(&self, other: &HomeHours, hours: &[i64]) -> Option<f64> {
        let both = hours.iter().filter_map(|h| Some(other.at(*h)? - self.at(*h)?));
        let differences: Vec<f64> = both.collect();
        stats::mean(&differences).filter(|_| differences.len() * 2 >= hours.len())
    }

    /// The lowest and the highest of some homes in each whole hour of a time that one of them has; in °C, with the hour's start.
    pub fn ranges(homes: &[&HomeHours], span: Span) -> Vec<(UtcTime, [f64; 2])> {
        let of_hour = |hour: i64| {
            let values = homes.iter().filter_map(|home| home.at(hour)).map(|x| [x, x]);
            let both = values.reduce(|a, b| [a[0].min(b[0]), a[1].max(b[1])]);
            both.map(|both| (UtcTime::from_ms(hour * HOUR_MS), both))
        };
        whole_hours(std::slice::from_ref(&span)).into_iter().filter_map(of_hour).collect()
    }

    fn at(&self, hour: i64) -> Option<f64> {
        let degc = usize::try_from(hour - self.first).ok().and_then(|i| self.degc.get(i))?;
        (!degc.is_nan()).then_some(f64::from(*degc))
    }

    fn hours(&self) -> std::ops::Range<i64> {
        self.first..self.first + self.degc.len() as i64
    }
}

/// Hours since 1970 that lie in one of some spans as a whole, each once, rising.
pub fn whole_hours(spans: &[Span]) -> Vec<i64> {
    let mut hours: Vec<i64> = spans.iter().flat_map(|span| hours_of(*span, i64::MIN..i64::MAX)).collect();
    hours.sort_unstable();
    hours.dedup();
    hours
}

/// Whole hours of a span that lie in a range of hours.
fn hours_of(span: Span, within: std::ops::Range<i64>) -> std::ops::Range<i64> {
    let from = -(-span.from.ms()).div_euclid(HOUR_MS);
    from.max(within.start)..span.to.ms().div_euclid(HOUR_MS).min(within.end)
}

/// What the building came to.
#[derive(Clone, Debug, Default)]
pub struct BuildingRows {
    /// Rows of the building: their home is empty.
    pub rows: Vec<MetricRow>,
    /// Rows of each home, in roster order.
    pub of_homes: Vec<Vec<MetricRow>>,
    /// The median home, hour by hour.
    median: HomeHours,
}

impl BuildingRows {
    /// Every home held against the others; `hours` in roster order, one per home of the site.
    ///
    /// Shape: per period of the site; a number that too few homes have gives no row.
    pub fn of(site: &Site, hours: &[HomeHours]) -> Self {
        let recorded = || hours.iter().filter(|h| !h.degc.is_empty()).map(HomeHours::hours);
        let from = recorded().map(|h| h.start).min().unwrap_or(0);
        let to = recorded().map(|h| h.end).max().unwrap_or(from);
        let everyone: Vec<usize> = (0..hours.len()).collect();
        let mut building = Self { of_homes: vec![Vec::new(); hours.len()], ..Self::default() };
        building.median = median(&everyone, hours, from..to);
        let periods: Vec<(&str, Span)> = match site.periods.as_slice() {
            [] => vec![(WHOLE_RECORD, Span { from: hour(from), to: hour(to) })],
            named => named.iter().map(|p| (p.name.as_str(), p.span)).collect(),
        };
        for (period, span) in periods {
            let within = hours_of(span, from..to);
            building.rows.extend(whole(&everyone, hours, within.clone(), period));
            for (metric, groups) in [
                (&OFFSET_FROM_BUILDING, vec![everyone.clone()]),
                (&OFFSET_FROM_FLOOR, by(site, |h| &h.floor)),
                (&OFFSET_FROM_LINE, by(site, |h| &h.line)),
            ] {
                for (home, offset, count) in
                    groups.iter().flat_map(|group| offsets(group, hours, within.clone()))
                {
                    let home_name = &site.homes[home].name;
                    building.of_homes[home].push(row(home_name, period, metric, offset, count));
                }
            }
        }
        building
    }

    /// Means of the median home and of a home over the whole hours of some spans that both have.
    pub fn beside(&self, home: &HomeHours, spans: &[Span]) -> Option<(f64, f64)> {
        let hours = spans.iter().flat_map(|span| hours_of(*span, home.hours()));
        let both = hours.filter_map(|h| Some((self.median.at(h)?, home.at(h)?)));
        let (medians, own): (Vec<f64>, Vec<f64>) = both.unzip();
        Some((stats::mean(&medians)?, stats::mean(&own)?))
    }
}

fn hour(hour: i64) -> UtcTime {
    UtcTime::from_ms(hour * HOUR_MS)
}

fn row(home: &str, period: &str, metric: &'static Metric, value: f64, hours: f64) -> MetricRow {
    MetricRow {
        home: home.to_owned(),
        room: None,
        period: period.to_owned(),
        slice: Slice::All,
        metric,
        value,
        interval: None,
        parts: Parts::default(),
        hours_observed: hours,
    }
}

/// Homes with the same word, groups in the order of the words; homes without one are in none.
fn by<'s>(site: &'s Site, word: impl Fn(&'s Home) -> &'s Option<String>) -> Vec<Vec<usize>> {
    let mut groups: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
    for (i, home) in site.homes.iter().enumerate() {
        if let Some(word) = word(home) {
            groups.entry(word).or_default().push(i);
        }
    }
    groups.into_values().collect()
}

/// The homes of a group at an hour, coldest first.
fn at_hour(group: &[usize], hours: &[HomeHours], hour: i64) -> Vec<(f64, usize)> {
    let mut present: Vec<(f64, usize)> =
        group.iter().filter_map(|home| Some((hours[*home].at(hour)?, *home))).collect();
    present.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    present
}

/// For each home of a group: its mean offset from the median of the others, and the hours.
fn offsets(group: &[usize], hours: &[HomeHours], within: std::ops::Range<i64>) -> Vec<(usize, f64, f64)> {
    let mut sums: BTreeMap<usize, (f64, f64)> = BTreeMap::new();
    if group.len() <= LEAST_OTHERS {
        return Vec::new();
    }
    for hour in within {
        let present = at_hour(group, hours, hour);
        if present.len() <= LEAST_OTHERS {
            continue;
        }
        for (rank, (value, home)) in present.iter().enumerate() {
            let sum = sums.entry(*home).or_default();
            *sum = (sum.0 + value - stats::median_without(&present, rank).unwrap_or(*value), sum.1 + 1.0);
        }
    }
    sums.into_iter().map(|(home, (sum, count))| (home, sum / count, count)).collect()
}

fn median(group: &[usize], hours: &[HomeHours], within: std::ops::Range<i64>) -> HomeHours {
    let at = |hour: i64| {
        let present: Vec<f64> = at_hour(group, hours, hour).into_iter().map(|(x, _)| x).collect();
        let enough = present.len() > LEAST_OTHERS;
        stats::sorted_quantile(&present, 0.5).filter(|_| enough).map_or(f32::NAN, |x| x as f32)
    };
    HomeHours { first: within.start, degc: within.map(at).collect() }
}

/// The rows of the building itself.
fn whole(group: &[usize], hours: &[HomeHours], within: std::ops::Range<i64>, period: &str) -> Vec<MetricRow> {
    let (mut medians, mut ranges) = (Vec::new(), Vec::new());
    for hour in within {
        let present: Vec<f64> = at_hour(group, hours, hour).into_iter().map(|(x, _)| x).collect();
        let quantile = |p| stats::sorted_quantile(&present, p).filter(|_| present.len() > LEAST_OTHERS);
        medians.extend(quantile(0.5));
        ranges.extend(quantile(0.95).zip(quantile(0.05)).map(|(high, low)| high - low));
    }
    let count = medians.len() as f64;
    let rows = [(&BUILDING_MEDIAN, stats::mean(&medians)), (&BUILDING_RANGE, stats::mean(&ranges))];
    rows.into_iter().filter_map(|(metric, value)| Some(row("", period, metric, value?, count))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_whole_hours_of_a_span_count() {
        let span = Span { from: UtcTime::from_ms(HOUR_MS + 1), to: UtcTime::from_ms(4 * HOUR_MS) };
        assert_eq!(hours_of(span, 0..10), 2..4);
        assert_eq!(hours_of(span, 3..10), 3..4);
    }
}
