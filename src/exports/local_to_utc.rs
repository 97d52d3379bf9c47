//! Wall-clock times in file order → UTC.
//!
//! Settled here, and why:
//! - **A record that begins in the repeated hour** and runs on out of it without a hole began in the second pass.

use std::borrow::Cow;

use crate::clock::{Clock, FromLocal, HOUR_MS, LocalTime, UtcTime, Zone};

/// Instants in file order.
pub(super) struct Instants<'t> {
    /// Milliseconds since the Unix epoch; without meaning in the rows of `never`.
    utc_ms: Cow<'t, [i64]>,
    /// Rows, rising, whose local time never was.
    never: Vec<usize>,
    /// The first row in a repeated hour of which the file holds only one pass, and which pass it was taken for.
    pub(super) single_pass: Option<(usize, Pass)>,
}

/// One of the two passes through the hour that comes twice.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Pass {
    /// Daylight time.
    First,
    /// Standard time.
    Second,
}

impl Instants<'_> {
    /// Each instant; `None` where the local time never was.
    pub(super) fn iter(&self) -> impl Iterator<Item = Option<UtcTime>> {
        let mut never = self.never.iter().copied().peekable();
        let at = move |(i, ms): (usize, &i64)| match never.next_if_eq(&i) {
            Some(_) => None,
            None => Some(UtcTime::from_ms(*ms)),
        };
        self.utc_ms.iter().enumerate().map(at)
    }

    /// All instants in milliseconds since the Unix epoch, where every row has one.
    pub(super) fn all_ms(&self) -> Option<&[i64]> {
        self.never.is_empty().then_some(&self.utc_ms)
    }

    /// Rows, rising, whose local time never was.
    pub(super) fn never(&self) -> &[usize] {
        &self.never
    }

    /// The instants in milliseconds since the Unix epoch, `None` where they are the times as written; and the rows, rising,
    /// whose local time never was and whose instant has no meaning.
    pub(super) fn into_parts(self) -> (Option<Vec<i64>>, Vec<usize>) {
        match self.utc_ms {
            Cow::Owned(utc_ms) => (Some(utc_ms), self.never),
            Cow::Borrowed(_) => (None, self.never),
        }
    }
}

/// Turns the rows of a file, in file order, into instants.
///
/// In civil time an hour returns each autumn. The file's order tells the passes apart: local time runs
/// through the hour, is set back, and runs through it again. The first pass is daylight time, the second
/// standard time. A file that was written newest first is walked from its end.
pub(super) fn resolve<'t>(times_ms: &'t [i64], clock: &Clock) -> Instants<'t> {
    let zone = match clock {
        Clock::Fixed(offset_s) => {
            let utc_ms = match offset_s {
                0 => Cow::Borrowed(times_ms),
                _ => times_ms.iter().map(|t| LocalTime::from_ms(*t).at_offset(*offset_s).ms()).collect(),
            };
            return Instants { utc_ms, never: Vec::new(), single_pass: None };
        }
        Clock::Civil(zone) => *zone,
    };
    let newest_first = runs_backwards(times_ms);
    let order = |i: usize| if newest_first { times_ms.len().wrapping_sub(1 + i) } else { i };
    let mut utc_ms = vec![0; times_ms.len()];
    let (mut never, mut single_pass) = (Vec::new(), None);
    let mut calendar = Calendar { zone, bucket: i64::MIN, offset_ms: None };
    let mut i = 0;
    while i < times_ms.len() {
        match calendar.instants(times_ms[order(i)]) {
            FromLocal::Once(t) => utc_ms[order(i)] = t.ms(),
            FromLocal::Never => never.push(order(i)),
            FromLocal::Twice { .. } => {
                let end = (i..times_ms.len())
                    .find(|j| !calendar.repeated(times_ms[order(*j)]))
                    .unwrap_or(times_ms.len());
                let run: Vec<i64> = (i..end).map(|j| times_ms[order(j)]).collect();
                let second_from = match second_pass(&run) {
                    Some(at) => at,
                    None => {
                        let hole = run.last().zip(times_ms.get(order(end))).map(|(last, next)| next - last);
                        let second = i == 0 && hole.is_some_and(|h| runs_on(h, times_ms));
                        let pass = if second { Pass::Second } else { Pass::First };
                        single_pass.get_or_insert((order(i), pass));
                        if second { 0 } else { run.len() }
                    }
                };
                for (k, local) in run.iter().enumerate() {
                    if let FromLocal::Twice { first, second } = calendar.instants(*local) {
                        utc_ms[order(i + k)] = if k < second_from { first } else { second }.ms();
                    }
                }
                i = end;
                continue;
            }
        }
        i += 1;
    }
    never.sort_unstable();
    Instants { utc_ms: utc_ms.into(), never, single_pass }
}

fn runs_backwards(times_ms: &[i64]) -> bool {
    let falls = times_ms.windows(2).filter(|w| w[1] < w[0]).count();
    falls * 2 > times_ms.len()
}

/// Where in a run of rows inside the repeated hour the second pass starts; `None` where there is one pass.
fn second_pass(run: &[i64]) -> Option<usize> {
    let back = (1..run.len()).filter(|i| run[*i] < run[i - 1]).max_by_key(|i| run[i - 1] - run[*i]);
    // A logger that records once an hour passes 1:00 and 1:00 again; on a finer one equal neighbours are a duplicate.
    back.or((run.len() == 2 && run[0] == run[1]).then_some(1))
}

/// Whether a step is one of the record's own. After the first pass of the repeated hour the next row would come an hour
/// later than its clock says: a record that begins in that hour, and runs on out of it, began in the second pass.
fn runs_on(step: i64, times_ms: &[i64]) -> bool {
    let mut steps: Vec<i64> = times_ms.windows(2).take(500).map(|w| (w[1] - w[0]).abs()).collect();
    steps.sort_unstable();
    steps.get(steps.len() / 2).is_some_and(|usual| step * 2 <= usual * 3)
}

/// Asks the zone once per six hours as long as nothing changes there.
struct Calendar {
    zone: Zone,
    bucket: i64,
    offset_ms: Option<i64>,
}

const BUCKET_MS: i64 = 6 * HOUR_MS;

impl Calendar {
    fn instants(&mut self, local_ms: i64) -> FromLocal {
        let bucket = local_ms.div_euclid(BUCKET_MS);
        if bucket != self.bucket {
            self.bucket = bucket;
            let from = bucket * BUCKET_MS;
            let ends = (self.ask(from), self.ask(from + BUCKET_MS - 1));
            self.offset_ms = match ends {
                (FromLocal::Once(a), FromLocal::Once(b)) if b.ms() - a.ms() == BUCKET_MS - 1 => {
                    Some(from - a.ms())
                }
                _ => None,
            };
        }
        match self.offset_ms {
            Some(offset_ms) => FromLocal::Once(UtcTime::from_ms(local_ms - offset_ms)),
            None => self.ask(local_ms),
        }
    }

    fn ask(&self, local_ms: i64) -> FromLocal {
        self.zone.instants(LocalTime::from_ms(local_ms))
    }

    fn repeated(&mut self, local_ms: i64) -> bool {
        matches!(self.instants(local_ms), FromLocal::Twice { .. })
    }
}

/// The clock that a record's behaviour at a change of daylight saving shows, as the roster writes it; `None` where
/// the record spans no change, or does not show it.
///
/// Times are wall-clock milliseconds in file order. Rows in the hour that spring skips show a clock that stands
/// still; an hour without rows there shows one that follows; so do two passes through autumn's repeated hour.
pub fn clock_habit(times_ms: impl Iterator<Item = i64> + Clone, zone: Zone) -> Option<String> {
    let mut calendar = Calendar { zone, bucket: i64::MIN, offset_ms: None };
    let mut skipped: Option<i64> = None;
    let mut passes_back = false;
    let mut repeated = 0;
    for (before, t) in times_ms.clone().zip(times_ms.clone().skip(1)) {
        match calendar.instants(t) {
            FromLocal::Never => skipped = skipped.or(Some(t)),
            FromLocal::Twice { .. } => {
                repeated += 1;
                passes_back |= t < before;
            }
            FromLocal::Once(_) => {}
        }
    }
    if let Some(t) = skipped {
        let standard = zone.offset_s(LocalTime::from_ms(t).at_offset(0).plus_ms(-12 * HOUR_MS));
        return Some(Clock::Fixed(standard).show());
    }
    if passes_back {
        return Some("civil".to_owned());
    }
    let jumped =
        times_ms.clone().zip(times_ms.skip(1)).any(|(a, b)| jumps_over_skipped_hour(a, b, &mut calendar));
    (jumped && repeated == 0).then(|| "civil".to_owned())
}

/// Whether two neighbours stand just before and just after an hour that was skipped, no further apart than that.
fn jumps_over_skipped_hour(before: i64, after: i64, calendar: &mut Calendar) -> bool {
    let apart = after - before;
    (HOUR_MS..=HOUR_MS * 3 / 2).contains(&apart) && calendar.instants(before + apart / 2) == FromLocal::Never
}

#[cfg(test)]
mod tests {
    use super::*;

    const MIN: i64 = 60_000;

    /// Local minutes after 2024-11-03 00:00 in New York, where 01:00-02:00 came twice.
    fn utc_minutes(local_minutes: &[i64]) -> Vec<Option<i64>> {
        let midnight = LocalTime::from_fields((2024, 11, 3), (0, 0, 0), 0).unwrap().ms();
        let times: Vec<i64> = local_minutes.iter().map(|m| midnight + m * MIN).collect();
        let clock = Clock::Civil(Zone::parse("America/New_York").unwrap());
        let start = midnight + 4 * HOUR_MS;
        resolve(&times, &clock).iter().map(|t| t.map(|t| (t.ms() - start) / MIN)).collect()
    }

    #[test]
    fn the_file_order_tells_the_two_passes_apart() {
        let local = [30, 60, 90, 60, 90, 120];
        assert_eq!(utc_minutes(&local), [30, 60, 90, 120, 150, 180].map(Some));
        let newest_first: Vec<i64> = local.iter().rev().copied().collect();
        assert_eq!(utc_minutes(&newest_first), [180, 150, 120, 90, 60, 30].map(Some));
    }

    #[test]
    fn an_hourly_logger_passes_one_oclock_twice() {
        assert_eq!(utc_minutes(&[0, 60, 60, 120]), [0, 60, 120, 180].map(Some));
    }

    #[test]
    fn a_duplicate_row_is_no_second_pass() {
        assert_eq!(utc_minutes(&[60, 70, 70, 80, 60, 70]), [60, 70, 70, 80, 120, 130].map(Some));
        assert_eq!(
            utc_minutes(&[50, 60, 70, 70, 80]),
            [50, 60, 70, 70, 80].map(Some),
            "one pass: daylight time"
        );
    }

    #[test]
    fn a_record_that_starts_in_the_second_pass_runs_on_without_a_hole() {
        assert_eq!(utc_minutes(&[90, 100, 110, 120, 130]), [150, 160, 170, 180, 190].map(Some));
        assert_eq!(utc_minutes(&[90, 100, 110, 180]), [90, 100, 110, 240].map(Some), "not told: the first");
    }

    #[test]
    fn the_skipped_hour_gives_no_instant() {
        let local = LocalTime::from_fields((2024, 3, 10), (2, 30, 0), 0).unwrap().ms();
        let clock = Clock::Civil(Zone::parse("America/New_York").unwrap());
        assert_eq!(
            resolve(&[local, local + HOUR_MS], &clock).iter().map(|t| t.is_some()).collect::<Vec<_>>(),
            [false, true]
        );
    }

    #[test]
    fn a_fixed_clock_has_every_hour_once() {
        assert_eq!(resolve(&[0], &Clock::Fixed(-18000)).all_ms(), Some(&[5 * HOUR_MS][..]));
    }
}
