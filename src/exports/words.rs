//! Words in the place of numbers: what a logger says by them, and when.
//!
//! Settled here, and why:
//! - **Words in the place of numbers** are rows set aside, and hours of which nothing is known. Only what they say is
//!   kept (below the scale, above it, something else), never the text, because anybody may have written it. LO and HI
//!   leave the column one of numbers however many they are.

use crate::clock::{Span, UtcTime};

/// What a word in the place of a number says.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Said {
    /// Below what the logger can measure: `LO`.
    Below,
    /// Above what the logger can measure: `HI`.
    Above,
    /// Something else, `Error` or whatever it is; it is never told, because anybody may have written it.
    Other,
}

const BELOW: [&str; 8] =
    ["lo", "low", "under", "underrange", "under range", "underflow", "unterlauf", "below range"];
const ABOVE: [&str; 9] =
    ["hi", "high", "over", "overrange", "over range", "overflow", "überlauf", "above range", "overload"];

impl Said {
    pub(super) fn of(cell: &str) -> Self {
        let is = |words: &[&str]| words.iter().any(|w| cell.eq_ignore_ascii_case(w));
        match () {
            () if is(&BELOW) => Said::Below,
            () if is(&ABOVE) => Said::Above,
            () => Said::Other,
        }
    }

    /// Whether it says that the temperature lay beyond what the logger can measure.
    pub fn is_beyond_scale(self) -> bool {
        self != Said::Other
    }
}

/// The readings of a logger that are words, in order.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct WordsRead(Vec<(UtcTime, Said)>);

impl WordsRead {
    pub(super) fn push(&mut self, at: UtcTime, said: Said) {
        self.0.push((at, said));
    }

    pub(super) fn sort(&mut self) {
        self.0.sort_unstable();
        // Two downloads may hold the same row.
        self.0.dedup();
    }

    /// How many there are.
    pub fn count(&self) -> u64 {
        self.0.len() as u64
    }

    /// How many say so.
    pub fn count_of(&self, said: Said) -> u64 {
        self.0.iter().filter(|(_, s)| *s == said).count() as u64
    }

    /// When they stand on end, no number between them: each time ends one sampling interval behind the last of them.
    ///
    /// `times_ms` and `values` are the readings beside them, rising in time.
    pub fn runs(&self, (times_ms, values): (&[i64], &[f64]), interval_ms: i64) -> Vec<Span> {
        let numbers_before = |at: UtcTime| times_ms.partition_point(|t| *t < at.ms());
        let parted =
            |a: UtcTime, b: UtcTime| values[numbers_before(a)..numbers_before(b)].iter().any(|x| !x.is_nan());
        let runs = self.0.chunk_by(|(a, _), (b, _)| !parted(*a, *b));
        let run = |words: &[(UtcTime, Said)]| Span {
            from: words[0].0,
            to: words[words.len() - 1].0.plus_ms(interval_ms),
        };
        runs.map(run).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_on_end_are_parted_by_numbers_alone() {
        let mut words = WordsRead::default();
        for minute in [30, 0, 10, 40, 40] {
            words.push(UtcTime::from_ms(minute * 60_000), Said::of("LO"));
        }
        words.sort();
        let (times, values) = ([5, 20, 35].map(|m| m * 60_000), [f64::NAN, 20.0, f64::NAN]);
        let runs = words.runs((&times, &values), 600_000);
        let told: Vec<i64> = runs.iter().map(|run| (run.to.ms() - run.from.ms()) / 60_000).collect();
        assert_eq!((words.count(), words.count_of(Said::Below)), (4, 4));
        assert_eq!(told, [20, 20]);
        assert!(WordsRead::default().runs((&times, &values), 600_000).is_empty());
    }
}
