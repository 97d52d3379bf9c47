//! Loggers of one room: one after the other, or names that must differ.

use std::collections::BTreeMap;

use super::Candidate;
use crate::clock::LocalTime;

/// A record goes on in another that starts this soon after it.
const SOON_MS: i64 = 14 * 24 * 3_600_000;

/// Gives loggers that followed each other in a room their times, and loggers that ran together names of their own.
pub(super) fn settle(candidates: &mut [Candidate<'_>]) {
    join_numbered(candidates);
    let mut rooms: BTreeMap<(Option<String>, String), Vec<usize>> = BTreeMap::new();
    for (at, candidate) in candidates.iter().enumerate() {
        if let Some(room) = &candidate.room {
            rooms.entry((candidate.any_home(), room.clone())).or_default().push(at);
        }
    }
    for same in rooms.values() {
        tell_apart(candidates, same);
    }
}

/// `living 2` that starts when `living` has ended is the same room's.
fn join_numbered(candidates: &mut [Candidate<'_>]) {
    let mut rooms: BTreeMap<(Option<String>, String), Vec<usize>> = BTreeMap::new();
    for (at, candidate) in candidates.iter().enumerate() {
        rooms.entry((candidate.any_home(), candidate.room.clone().unwrap_or_default())).or_default().push(at);
    }
    for at in 0..candidates.len() {
        let room = candidates[at].room.clone().unwrap_or_default();
        let bare = room.trim_end_matches(|c: char| c.is_ascii_digit() || c == ' ').to_owned();
        if bare.is_empty() || bare == room {
            continue;
        }
        let before = rooms.get(&(candidates[at].any_home(), bare.clone()));
        let old = before.into_iter().flatten().find(|old| follows(&candidates[**old], &candidates[at]));
        if let Some(old) = old {
            let note =
                format!("check: room (it goes on where {} ended: the same room?)", candidates[*old].file);
            candidates[at].room = Some(bare);
            candidates[at].notes.push(note);
        }
    }
}

fn follows(old: &Candidate<'_>, new: &Candidate<'_>) -> bool {
    let (Some((_, end)), Some((start, _))) = (old.ends, new.ends) else { return false };
    old.file != new.file && old.series.in_utc == new.series.in_utc && (0..=SOON_MS).contains(&(start - end))
}

fn tell_apart(candidates: &mut [Candidate<'_>], same: &[usize]) {
    let mut order: Vec<usize> = same.to_vec();
    order.sort_by_key(|at| candidates[*at].ends);
    let mut loggers: Vec<&str> = same.iter().map(|at| candidates[*at].logger.as_str()).collect();
    loggers.sort_unstable();
    loggers.dedup();
    let columns = same.iter().all(|at| candidates[*at].file == candidates[same[0]].file);
    if loggers.len() < 2 || columns {
        return;
    }
    let apart = order.windows(2).all(|pair| {
        let (old, new) = (&candidates[pair[0]], &candidates[pair[1]]);
        let ends = old.ends.zip(new.ends);
        old.logger == new.logger
            || ends.is_some_and(|(old, new)| old.1 <= new.0) && old.series.in_utc == new.series.in_utc
    });
    if apart { one_after_the_other(candidates, &order) } else { name_apart(candidates, same) }
}

/// `to` of each logger, and `from` of the next.
fn one_after_the_other(candidates: &mut [Candidate<'_>], order: &[usize]) {
    for pair in order.windows(2) {
        let [old, new] = [pair[0], pair[1]];
        if candidates[old].logger == candidates[new].logger {
            continue;
        }
        let (Some((_, end)), Some((start, _))) = (candidates[old].ends, candidates[new].ends) else {
            continue;
        };
        let minute = 60_000;
        let local = |c: &Candidate<'_>, ms: i64| LocalTime::from_ms(c.on_the_wall(ms)).show();
        candidates[old].to = Some(local(&candidates[old], (end / minute + 1) * minute));
        candidates[new].from = Some(local(&candidates[new], start / minute * minute));
        let note =
            format!("proposed: from and to (a logger that replaced the one in {})", candidates[old].file);
        candidates[new].notes.push(note);
    }
}

/// Two loggers that ran together stand in two places.
fn name_apart(candidates: &mut [Candidate<'_>], same: &[usize]) {
    for (number, at) in same.iter().enumerate().skip(1) {
        let logger = &candidates[*at].logger;
        if same[..number]
            .iter()
            .any(|o| candidates[*o].logger == *logger && candidates[*o].file != candidates[*at].file)
        {
            continue;
        }
        let room = candidates[*at].room.clone().unwrap_or_default();
        candidates[*at].room = Some(format!("{room} ({})", number + 1));
        candidates[*at].notes.push("check: room (several loggers of that name ran together)".to_owned());
    }
}
