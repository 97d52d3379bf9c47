//! Duplicates: rows of one series that share their time.
//!
//! Settled here, and why:
//! - **Conflicting duplicates** are set aside on both sides: choosing one would be a guess.

use std::ops::Range;

/// Neighbours that are held against each other at once; few of them share a time.
const BLOCK: usize = 64;

/// The places of rising times that stand more than once, together for each time.
pub(super) fn several_at_once(times_ms: &[i64]) -> Vec<Range<usize>> {
    let mut places: Vec<Range<usize>> = Vec::new();
    let (Some((_, before)), Some((_, after))) = (times_ms.split_last(), times_ms.split_first()) else {
        return places;
    };
    for (block, (before, after)) in before.chunks(BLOCK).zip(after.chunks(BLOCK)).enumerate() {
        let same = || before.iter().zip(after).map(|(a, b)| a == b);
        if !same().fold(false, |any, same| any | same) {
            continue;
        }
        for (at, _) in (block * BLOCK..).zip(same()).filter(|(_, same)| *same) {
            match places.last_mut() {
                Some(last) if last.end == at + 1 => last.end = at + 2,
                _ => places.push(at..at + 2),
            }
        }
    }
    places
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn blocks_find_what_a_walk_finds() {
        for (length, every) in [(0, 1), (1, 1), (2, 2), (64, 3), (65, 2), (66, 65), (300, 1), (1000, 50)] {
            let times: Vec<i64> =
                (0..length).map(|i| i - i % every.min(7) * i64::from(i % every < 5)).collect();
            let mut times = times;
            times.sort_unstable();
            let mut at = 0;
            let walk = times.chunk_by(|a, b| a == b).map(|part| {
                at += part.len();
                at - part.len()..at
            });
            let walk: Vec<Range<usize>> = walk.filter(|part| part.len() > 1).collect();
            assert_eq!(several_at_once(&times), walk, "{length} {every}");
        }
    }
}
