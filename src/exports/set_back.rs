//! A clock that was set back while it recorded: the times of a file go back, and run on from there.

use crate::clock::{HOUR_MS, UtcTime};

/// A place in a record at which its clock was set back.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SetBack {
    /// The last reading before it.
    pub last: UtcTime,
    /// By how much, in ms: what the next reading is earlier than it should be.
    pub by_ms: i64,
}

/// Least and most that a clock is set back by: less is the jitter of a merged file, and more a record that stands there twice.
const LEAST_MS: i64 = HOUR_MS / 2;
const MOST_MS: i64 = 13 * HOUR_MS;
/// Rows before and after that must run on.
const RUNS_ON: usize = 6;
/// A file whose times go back more often is in no order.
const MOST_OFTEN: usize = 3;

/// The places at which the times of a series, in file order, go back and run on from there; none where the file is in no order,
/// or goes back as often as it goes on. A file that was written newest first is walked from its end.
pub(super) fn set_back(times_ms: &[i64]) -> Vec<SetBack> {
    // Nearly every file rises, and that is all there is to know.
    if times_ms.is_sorted() {
        return Vec::new();
    }
    let falls = times_ms.windows(2).filter(|w| w[1] < w[0]).count();
    let walked: Vec<i64>;
    let times = if falls * 2 > times_ms.len() {
        walked = times_ms.iter().rev().copied().collect();
        walked.as_slice()
    } else {
        times_ms
    };
    let steps: Vec<i64> = times.windows(2).map(|w| w[1] - w[0]).collect();
    let back: Vec<usize> = (0..steps.len()).filter(|i| steps[*i] < 0).collect();
    if back.len() > MOST_OFTEN {
        return Vec::new();
    }
    let usual = *steps.clone().select_nth_unstable(steps.len() / 2).1;
    // Rows out of place leave a hole where they should be.
    let as_usual = |step: &i64| *step > 0 && *step <= usual + usual / 2;
    let runs_on = |at: usize| {
        let before = at.checked_sub(RUNS_ON).and_then(|from| steps.get(from..at));
        let after = steps.get(at + 1..at + 1 + RUNS_ON);
        [before, after].iter().all(|side| side.is_some_and(|steps| steps.iter().all(as_usual)))
    };
    if !back.iter().all(|at| runs_on(*at)) {
        return Vec::new();
    }
    let told =
        back.iter().map(|at| SetBack { last: UtcTime::from_ms(times[*at]), by_ms: usual - steps[*at] });
    told.filter(|back| (LEAST_MS..=MOST_MS).contains(&back.by_ms)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEN_MIN: i64 = HOUR_MS / 6;

    fn rows(parts: &[std::ops::Range<i64>]) -> Vec<i64> {
        parts.iter().flat_map(Clone::clone).map(|n| n * TEN_MIN).collect()
    }

    fn told(times_ms: &[i64]) -> Vec<(i64, i64)> {
        set_back(times_ms).iter().map(|b| (b.last.ms() / TEN_MIN, b.by_ms / TEN_MIN)).collect()
    }

    #[test]
    fn a_clock_that_was_set_back_is_seen_in_the_order_of_the_file() {
        let once = rows(&[0..500, 494..900]);
        assert_eq!(told(&once), [(499, 6)]);
        // The newest first.
        let newest_first: Vec<i64> = once.iter().rev().copied().collect();
        assert_eq!(told(&newest_first), [(499, 6)]);
        assert_eq!(told(&rows(&[0..500, 494..900, 828..1000])), [(499, 6), (899, 72)]);
    }

    #[test]
    fn what_stands_twice_or_in_no_order_is_no_clock() {
        assert!(told(&rows(&[0..500, 500..900])).is_empty());
        assert!(told(&rows(&[0..500, 600..900])).is_empty(), "a hole");
        assert!(told(&rows(&[0..500, 0..900])).is_empty(), "the same download once more");
        assert!(told(&rows(&[0..500, 498..900])).is_empty(), "twenty minutes");
        assert!(told(&rows(&[0..500, 497..499, 500..900])).is_empty(), "two rows out of place");
        let shuffled: Vec<i64> = (0..900).map(|n| (n * 7 % 901) * TEN_MIN).collect();
        assert!(told(&shuffled).is_empty());
        assert!(told(&[]).is_empty() && told(&[5, 3]).is_empty());
    }
}
