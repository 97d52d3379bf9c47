//! Two periods of a home, matched on the outdoor temperature.
//!
//! Settled here, and why:
//! - **Comparisons** use whole local days with values for 75 % of their hours; hours per day are stretched to 24 h. A
//!   day's bin is the floor of its mean outdoor temperature over 2 K. Days of one bin are not quite alike either: how far
//!   a day lies from the mean of its bin is for the most part what its place within the bin makes, and what the day
//!   before left behind, not chance. Taken for chance it made intervals hold the truth of homes in which nothing had
//!   changed in 98 to 100 % of the cases. The interval therefore lies around the difference at equal outdoor temperature
//!   within the bins (per period one slope for all bins, least squares), and is extended to the difference itself where
//!   that lies outside. The bootstrap draws days of the shared bins anew, one day at a time and each period for itself:
//!   the distances of days from that line, each day of a draw at its own place, because bins and weights are what they
//!   are. They are widened by √(n/(n − bins − 1)). Loggers are taken to err alike in both periods: that cancels in means
//!   and offsets, but not where a limit is crossed or another room becomes the warmest or coldest, so the difference is
//!   formed again with each room's logger off by its accuracy either way, and what that moves is added as squares
//!   (numerically, as in JCGM 100:2008, 5.1.3; from memory). Tried and left: drawing days with their bins and without the
//!   loggers (held the truth of mended homes in 42 to 91 %); distances from the bin's mean, with or without what Newey
//!   and West ask for; the temperature of the day before in the line too (holds 94 % where nothing changed, but 89 % of
//!   mended homes). Without outdoor temperature there are means, but no difference.

use crate::clock::Span;
use crate::grid::AlignedHome;
use crate::metrics::{self, Daily, DayValue, Metric, daily, daily_with_error};
use crate::site::{Home, Site};
use crate::stats::{Binned, LeftOut, Matched, matched, matched_difference};

/// Width of a bin of the daily mean outdoor temperature, in K.
pub const BIN_K: f64 = 2.0;
/// Days that a bin needs before and after.
pub const LEAST_DAYS: usize = 3;

/// Two periods.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Periods {
    /// The one before.
    pub before: Span,
    /// The one after.
    pub after: Span,
}

/// A daily number before and after: a row of the comparison table.
#[derive(Clone, Debug, PartialEq)]
pub struct ComparisonRow {
    /// The home.
    pub home: String,
    /// The room; `None` for the home as a whole.
    pub room: Option<String>,
    /// The daily number.
    pub metric: &'static Metric,
    /// What matching gave; `None` where no day has an outdoor temperature.
    pub matched: Option<Matched>,
    /// Days that have the number: before, after.
    pub days: (usize, usize),
    /// Means over all days, whatever the weather: before, after.
    pub all_days: (Option<f64>, Option<f64>),
}

impl ComparisonRow {
    /// After less before, at like outdoor temperature.
    pub fn difference(&self) -> Option<f64> {
        self.matched.as_ref()?.means.map(|(before, after)| after - before)
    }

    /// Unit of a difference.
    pub fn difference_unit(&self) -> &'static str {
        if self.metric.unit == "°C" { "K" } else { self.metric.unit }
    }

    /// Whether it surely rose (`Some(true)`) or fell: the interval holds no 0; `None`: it may not have changed.
    pub fn surely_rose(&self) -> Option<bool> {
        let (low, high) = self.matched.as_ref()?.interval?;
        if low > 0.0 {
            Some(true)
        } else if high < 0.0 {
            Some(false)
        } else {
            None
        }
    }

    /// Why there is no difference; empty where there is one.
    pub fn why_not(&self) -> &'static str {
        match &self.matched {
            _ if self.days.0 == 0 => "no whole day before",
            _ if self.days.1 == 0 => "no whole day after",
            None => "no outdoor temperature: the periods cannot be matched",
            Some(m) if m.means.is_none() => "no outdoor temperature that both periods have on 3 days or more",
            Some(_) => "",
        }
    }

    /// The bins left out with their days, `-4 to -2 °C (1 before, 5 after)`.
    pub fn left_out(&self) -> String {
        let words = |b: &LeftOut| {
            let from = b.bin as f64 * BIN_K;
            format!("{from:.0} to {:.0} °C ({} before, {} after)", from + BIN_K, b.before, b.after)
        };
        let bins = self.matched.iter().flat_map(|m| &m.left_out).map(words);
        bins.collect::<Vec<_>>().join("; ")
    }
}

/// How days were matched, or why they were not.
pub fn matching(rows: &[ComparisonRow]) -> String {
    if rows.iter().all(|r| r.matched.is_none()) {
        return "Not matched: no outdoor temperature in these periods, so no difference is given; the means over all days may differ by the weather alone.".to_owned();
    }
    format!(
        "Days are matched by their mean outdoor temperature in bins of {BIN_K:.0} K with {LEAST_DAYS} days or more on both sides; differences are after less before, with 95 % intervals."
    )
}

/// What a difference does not show.
pub const NO_CAUSE: &str = "A difference at like outdoor temperature is no proof of its cause: people, sun and settings differ between periods too.";

/// What an interval says that holds 0, and what one says that does not.
pub const NO_SURE_CHANGE: &str = "Where an interval holds 0 the change may be nothing, which is no proof that nothing changed: its ends say how much would still fit. Where nothing changed, about one interval in twenty leaves out 0 all the same.";

/// The numbers that people are told of each room and home, in words; the others stand in the table.
pub static TOLD: [(&Metric, &str); 4] = [
    (&metrics::DAY_MEAN, "mean temperature"),
    (&metrics::DAY_HOURS_BELOW_BAND, "below band a day"),
    (&metrics::DAY_SPREAD, "room-to-room spread"),
    (&metrics::DAY_HOURS_SPREAD_OVER_LIMIT, "spread over limit a day"),
];

/// Every daily number of a home in two periods; only days that lie wholly in a period count.
///
/// Shape: rooms in roster order, then the home; a number that no day of either period has gives no row.
///
/// # Source
/// Own definition: daily means of the outdoor temperature in bins of 2 K; bins with fewer than 3 days on either side are
/// left out; the difference is the mean over the shared bins, weighted by the smaller side's days. The interval is of the
/// difference at equal outdoor temperature within the bins too, and the accuracy of loggers is in it as an error that does
/// not change between the periods.
pub fn compare(site: &Site, home: &Home, aligned: &AlignedHome, periods: Periods) -> Vec<ComparisonRow> {
    let errors = steady_errors(site, home, aligned);
    let row = |numbers: Daily| {
        let (before, after) = sides(&numbers, periods);
        let any = before.iter().chain(&after).any(|d| d.outdoor_degc.is_some());
        (!before.is_empty() || !after.is_empty()).then(|| ComparisonRow {
            home: home.name.clone(),
            room: numbers.room.map(|r| home.rooms[r].name.clone()),
            metric: numbers.metric,
            matched: any.then(|| {
                matched(&binned(&before), &binned(&after), LEAST_DAYS)
                    .with_steady_errors(&moved(&numbers, &errors, periods))
            }),
            days: (before.len(), after.len()),
            all_days: (mean(&before), mean(&after)),
        })
    };
    daily(site, home, aligned).into_iter().filter_map(row).collect()
}

/// Days that lie wholly in each period.
fn sides(numbers: &Daily, periods: Periods) -> (Vec<DayValue>, Vec<DayValue>) {
    let within = |span: Span| -> Vec<DayValue> {
        let inside = |d: &&DayValue| span.from <= d.span.from && d.span.to <= span.to;
        numbers.days.iter().filter(inside).copied().collect()
    };
    (within(periods.before), within(periods.after))
}

/// The numbers that hang on each room's loggers, had those read too much or too little by their accuracy in both periods.
///
/// An error that does not change is in both periods, and leaves the difference of means as it is; not so where a limit
/// is crossed, or where another room becomes the warmest or coldest.
fn steady_errors(site: &Site, home: &Home, aligned: &AlignedHome) -> Vec<[Vec<Daily>; 2]> {
    let error = |room: usize, sign: f64| {
        daily_with_error(site, home, aligned, room, sign * aligned.rooms()[room].accuracy().absolute.k())
    };
    (0..home.rooms.len()).map(|room| [error(room, 1.0), error(room, -1.0)]).collect()
}

/// A number's differences under the errors that it hangs on.
fn moved(numbers: &Daily, errors: &[[Vec<Daily>; 2]], periods: Periods) -> Vec<[f64; 2]> {
    let difference = |with_error: &Vec<Daily>| {
        let own = with_error.iter().find(|d| d.room == numbers.room && d.metric == numbers.metric)?;
        let (before, after) = sides(own, periods);
        matched_difference(&binned(&before), &binned(&after), LEAST_DAYS)
    };
    errors.iter().filter_map(|[most, least]| Some([difference(most)?, difference(least)?])).collect()
}

fn binned(days: &[DayValue]) -> Vec<Binned> {
    let binned = |d: &DayValue| {
        let at = d.outdoor_degc?;
        Some(Binned { bin: (at / BIN_K).floor() as i64, at, value: d.value })
    };
    days.iter().filter_map(binned).collect()
}

fn mean(days: &[DayValue]) -> Option<f64> {
    (!days.is_empty()).then(|| days.iter().map(|d| d.value).sum::<f64>() / days.len() as f64)
}
