//! Loggers that read seldom or in wide steps: what their hours rest on.

use crate::quality::LoggerRow;
use crate::site::Site;

/// From this sampling interval on, in minutes, much of an hour's number lies between readings.
const SELDOM_MIN: f64 = 30.0;
/// From this step on, in K, a limit is crossed somewhere between two steps.
const WIDE_K: f64 = 0.4;

/// `reads every 60 min in steps of 0.5 K`; `None` for a logger that is fine enough.
fn words(logger: &LoggerRow, site: &Site) -> Option<String> {
    let minutes = logger.interval_s? / 60.0;
    let seldom = (minutes >= SELDOM_MIN).then(|| format!("every {minutes:.0} min"));
    let wide = (logger.resolution.k() >= WIDE_K)
        .then(|| format!("in steps of {}", site.units.show_difference(logger.resolution)));
    let both: Vec<String> = seldom.into_iter().chain(wide).collect();
    (!both.is_empty()).then(|| format!("reads {}", both.join(" ")))
}

/// What a number of hours of a room says of how they were told; empty for fine loggers.
pub(super) fn beside_hours<'a>(loggers: impl Iterator<Item = &'a LoggerRow>, site: &Site) -> String {
    let mut loggers = loggers.filter_map(|l| words(l, site));
    loggers.next().map_or(String::new(), |words| {
        format!(
            " Its logger {words}: between two readings the hours are told from a straight line, good to about one reading at each end of a time."
        )
    })
}

/// A sentence for each way of reading that leaves much of an hour between readings, with the loggers of rooms.
pub fn coarse_loggers(loggers: &[LoggerRow], site: &Site) -> Vec<String> {
    let mut groups: Vec<(String, Vec<&str>)> = Vec::new();
    for logger in loggers {
        let Some(words) = words(logger, site) else { continue };
        match groups.iter_mut().find(|(known, _)| *known == words) {
            Some((_, rooms)) => rooms.push(&logger.room),
            None => groups.push((words, vec![&logger.room])),
        }
    }
    let sentence = |(words, mut rooms): (String, Vec<&str>)| {
        rooms.dedup();
        format!(
            "The logger of {} {words}: between two readings its hours are told from a straight line, good to about one reading at each end of a time.",
            rooms.join(", ")
        )
    };
    groups.into_iter().map(sentence).collect()
}
