//! Series that are the same series: copies, stale copies, and two downloads of one logger.

use std::collections::BTreeSet;

use super::Candidate;

/// Fewest equal readings, with this many different values, that make two series one.
const MIN_EQUAL: usize = 10;
const MIN_DIFFERENT: usize = 3;

/// Takes out copies and stale copies, and gives downloads of one logger one name; says what was left out, and why.
pub(super) fn settle(candidates: &mut Vec<Candidate<'_>>) -> Vec<(String, String)> {
    let mut left_out = Vec::new();
    let mut at = 0;
    while at < candidates.len() {
        let others = (0..candidates.len()).filter(|o| *o != at);
        let whole = others.into_iter().find(|o| {
            let (small, large) = (&candidates[at], &candidates[*o]);
            let equal = count_equal(&small.series.readings, &large.series.readings);
            let inside = equal == small.series.readings.len()
                && equal >= MIN_EQUAL
                && small.series.in_utc == large.series.in_utc;
            // Of two equal ones the longer name is the copy's.
            let rank = |at: usize| (candidates[at].file.len(), at);
            inside && (large.series.readings.len() > small.series.readings.len() || rank(*o) < rank(at))
        });
        match whole {
            Some(whole) => {
                let (copy, whole) = (&candidates[at], &candidates[whole]);
                let equal = copy.series.readings.len() == whole.series.readings.len();
                let what = if equal { "the same readings as" } else { "an older copy, wholly contained in" };
                let column = copy.column.map_or(String::new(), |c| format!(" (column {c})"));
                left_out.push((format!("{}{column}", copy.file), format!("{what} {}", whole.file)));
                candidates.remove(at);
            }
            None => at += 1,
        }
    }
    join_downloads(candidates);
    left_out
}

/// Two files whose readings agree where they overlap are two downloads of one logger.
fn join_downloads(candidates: &mut [Candidate<'_>]) {
    for at in 1..candidates.len() {
        let (before, rest) = candidates.split_at_mut(at);
        let new = &mut rest[0];
        let same = before.iter().find(|old| {
            let (a, b) = (&old.series.readings, &new.series.readings);
            let equal = count_equal(a, b);
            let overlap = count_between(a, b).min(count_between(b, a));
            old.series.in_utc == new.series.in_utc && equal >= MIN_EQUAL && equal * 20 >= overlap * 19
        });
        if let Some(old) = same {
            new.logger = old.logger.clone();
            (new.home, new.room, new.guess) = (old.home.clone(), old.room.clone(), old.guess);
            new.notes.retain(|n| !n.starts_with("decide: home") && !n.starts_with("check: room"));
            new.notes.push(format!("check: a second download of the logger in {}", old.file));
        }
    }
}

/// How many readings of `a` stand in `b` too; 0 where too few different values make chance likely.
fn count_equal(a: &[(i64, f64)], b: &[(i64, f64)]) -> usize {
    let ends = |s: &[(i64, f64)]| Some((s.iter().map(|r| r.0).min()?, s.iter().map(|r| r.0).max()?));
    let (Some(ea), Some(eb)) = (ends(a), ends(b)) else { return 0 };
    if ea.0 > eb.1 || eb.0 > ea.1 {
        return 0;
    }
    let key = |r: &(i64, f64)| (r.0, r.1.to_bits());
    let known: BTreeSet<(i64, u64)> = b.iter().map(key).collect();
    let equal: Vec<u64> = a.iter().map(key).filter(|k| known.contains(k)).map(|k| k.1).collect();
    let different: BTreeSet<u64> = equal.iter().copied().collect();
    if different.len() >= MIN_DIFFERENT { equal.len() } else { 0 }
}

/// How many readings of `a` lie in the time of `b`.
fn count_between(a: &[(i64, f64)], b: &[(i64, f64)]) -> usize {
    let (Some(from), Some(to)) = (b.iter().map(|r| r.0).min(), b.iter().map(|r| r.0).max()) else { return 0 };
    a.iter().filter(|r| (from..=to).contains(&r.0)).count()
}
