//! The time axis: local days and hours.

use super::marks::{Rank, Tick};
use crate::clock::{HOUR_MS, Span, UtcTime, Zone, local_days};

/// Most ticks of the axis.
const MOST_TICKS: usize = 6;
/// Ticks of which each has its weekday too, at most.
const WITH_WEEKDAY: usize = 4;
/// Days from tick to tick that people count in.
const DAYS: [usize; 9] = [1, 2, 4, 7, 14, 28, 56, 112, 364];

/// Time from left to right.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::report) struct TimeAxis {
    pub(in crate::report) span: Span,
    zone: Zone,
}

impl TimeAxis {
    /// An axis over a span.
    pub(in crate::report) fn of(span: Span, zone: Zone) -> Self {
        Self { span, zone }
    }

    /// Where an instant lies, as a share of the width; what lies outside is at the edge.
    pub(in crate::report) fn share(&self, t: UtcTime) -> f64 {
        let whole = (self.span.to.ms() - self.span.from.ms()).max(1) as f64;
        ((t.ms() - self.span.from.ms()) as f64 / whole).clamp(0.0, 1.0)
    }

    /// Where a span lies; `None` where it is outside.
    pub(in crate::report) fn shares(&self, span: Span) -> Option<(f64, f64)> {
        span.overlaps(&self.span).then(|| (self.share(span.from), self.share(span.to)))
    }

    /// Midnights with their dates, at most six of them; of a day or two every sixth hour.
    pub(in crate::report) fn ticks(&self) -> Vec<Tick> {
        let days = local_days(self.zone, self.span);
        let ticks: Vec<(UtcTime, String)> = if days.len() <= 2 {
            let hours = days
                .iter()
                .flat_map(|day| (0..4).map(move |i| (day, day.span.from.plus_ms(i * 6 * HOUR_MS))));
            let clock = |t: UtcTime| self.zone.show(t).get(11..16).unwrap_or_default().to_owned();
            let words = |(i, (day, t)): (usize, (&crate::clock::LocalDay, UtcTime))| {
                (t, if i % 4 == 0 { day.date.format("%-d %b").to_string() } else { clock(t) })
            };
            hours.enumerate().map(words).collect()
        } else {
            let every = DAYS.into_iter().find(|n| days.len().div_ceil(*n) <= MOST_TICKS + 1);
            let every = every.unwrap_or(days.len());
            // With a weekday they would lie over each other on a narrow page.
            let few = days.len().div_ceil(every) <= WITH_WEEKDAY;
            let word = if every < 7 && few { "%a %-d %b" } else { "%-d %b" };
            days.iter().step_by(every).map(|d| (d.span.from, d.date.format(word).to_string())).collect()
        };
        let inside = ticks.into_iter().filter(|(t, _)| self.span.from <= *t && *t < self.span.to);
        let ranked = inside.enumerate().map(|(i, (t, words))| Tick {
            at: self.share(t),
            words,
            rank: if i.is_multiple_of(2) { Rank::First } else { Rank::Second },
        });
        ranked.collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const DAY: i64 = 24 * HOUR_MS;

    fn axis(days: i64) -> TimeAxis {
        let from = UtcTime::from_ms(1_769_839_200_000); // midnight of 31 January 2026 in Chicago
        TimeAxis::of(Span { from, to: from.plus_ms(days * DAY) }, Zone::parse("America/Chicago").unwrap())
    }

    #[test]
    fn records_of_any_length_have_few_ticks_at_local_midnights() {
        for days in [3, 5, 9, 19, 28, 45, 120, 200, 366] {
            let ticks = axis(days).ticks();
            assert!((3..=7).contains(&ticks.len()), "{days} days: {} ticks", ticks.len());
            assert!(ticks.windows(2).all(|w| w[0].at < w[1].at));
        }
        let words: Vec<String> = axis(4).ticks().into_iter().map(|t| t.words).collect();
        assert_eq!(words, ["Sat 31 Jan", "Sun 1 Feb", "Mon 2 Feb", "Tue 3 Feb"]);
    }

    #[test]
    fn a_day_has_hours() {
        let words: Vec<String> = axis(1).ticks().into_iter().map(|t| t.words).collect();
        assert_eq!(words, ["31 Jan", "06:00", "12:00", "18:00"]);
    }

    #[test]
    fn places_lie_between_the_edges() {
        let axis = axis(10);
        assert!((axis.share(axis.span.from.plus_ms(DAY)) - 0.1).abs() < 1e-12);
        assert!((axis.share(axis.span.to.plus_ms(DAY)) - 1.0).abs() < 1e-12);
        let later = Span { from: axis.span.to, to: axis.span.to.plus_ms(DAY) };
        assert_eq!(axis.shares(later), None);
    }
}
