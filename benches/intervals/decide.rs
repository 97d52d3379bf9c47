//! How many more days an undecided verdict takes: what four weeks say of it, against what the same record says when it goes on.

use evenrooms::clock::UtcTime;
use evenrooms::metrics::Computed;

use super::held::{Claims, Scores};
use super::home::Home;
use super::watch;

const DAY_MS: i64 = 86_400_000;
/// Days after which it is asked, and how often it is looked at then.
const FIRST_DAYS: i64 = 28;
const EVERY_DAYS: i64 = 4;

/// Scores the rooms of a home that four weeks leave undecided, where the record goes on after them.
pub(crate) fn score(home: &Home, scores: &mut Scores) {
    let (Some((first, _)), Some((last, _))) = (home.weather.first(), home.weather.last()) else { return };
    let all_days = (last - first) / DAY_MS;
    if all_days <= FIRST_DAYS {
        return;
    }
    let after = |days: i64| home.until(UtcTime::from_ms(first + days * DAY_MS));
    let then = after(FIRST_DAYS);
    let is_undecided = |computed: &Computed, room: usize| {
        watch::row(computed, &home.site, "evenness_verdict", Some(room)).is_some_and(|r| r.value.abs() < 0.5)
    };
    let rooms: Vec<usize> =
        (0..home.site.homes[0].rooms.len()).filter(|room| is_undecided(&then, *room)).collect();
    if rooms.is_empty() {
        return;
    }
    let looks: Vec<(i64, Computed)> = (FIRST_DAYS + EVERY_DAYS..=all_days)
        .step_by(EVERY_DAYS as usize)
        .map(|days| (days - FIRST_DAYS, after(days)))
        .collect();
    for room in rooms {
        // The first day from which on it stays decided: one look at a planned end decides, not the first of many.
        let undecided = looks.iter().rfind(|(_, computed)| is_undecided(computed, room));
        let decided = match undecided {
            Some((days, _)) if Some(*days) == looks.last().map(|l| l.0) => f64::INFINITY,
            Some((days, _)) => (days + EVERY_DAYS / 2) as f64,
            None => EVERY_DAYS as f64 / 2.0,
        };
        let most = (all_days - FIRST_DAYS) as f64;
        match watch::interval(&then, &home.site, "days_to_decide", Some(room)) {
            Some(mut range) => {
                // Beyond the end of the record nothing is known but that it takes longer.
                if range.high >= most {
                    range.high = f64::INFINITY;
                }
                range.low -= EVERY_DAYS as f64 / 2.0;
                let decided = if range.low > most && decided.is_infinite() { range.low } else { decided };
                scores.add("days_to_decide", Claims::AtLeast(75), range, decided);
            }
            None => {
                let (low, high) = (most, f64::INFINITY);
                let never = evenrooms::metrics::Interval {
                    low,
                    high,
                    kind: evenrooms::metrics::IntervalKind::Quartiles,
                };
                scores.add("days_to_decide: more days will not decide", Claims::AtLeast(75), never, decided);
            }
        }
    }
}
