//! Hours below a limit, in words: always in the same order, and never without those that could not be judged.
//!
//! Settled here, and why:
//! - **Hours of the heat rule** as read, certainly below and possibly below count the same instants, those judged, so
//!   that the first lies between the others. Sentences come from `findings/hours.rs`; the hours of a complaint sheet are
//!   those of each room, and their range over the rooms where these differ, because a sum over rooms is longer than the
//!   time that was asked about.

use crate::metrics::{self, Metric, MetricRow};

/// Hours of a room (or of the mean of a home's rooms) held against a limit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HoursBelow {
    /// Below the limit as it was read.
    pub as_read: f64,
    /// Below it whatever the sensor accuracy.
    pub certain: f64,
    /// Certainly below it, or too close to call.
    pub possible: f64,
    /// Held against the limit.
    pub judged: f64,
    /// Without a usable value.
    pub without_data: f64,
    /// At which the limit may have held, depending on an outdoor temperature that is missing.
    pub without_outdoor: f64,
}

impl HoursBelow {
    /// Of the heat rule, from the rows of a room; `None` where the rule holds at none of its hours.
    pub fn minimum<'a>(row: impl Fn(&Metric) -> Option<&'a MetricRow>) -> Option<Self> {
        let value = |metric: &Metric| row(metric).map_or(0.0, |r| r.value);
        // This one is there wherever the rule holds, also where no value could be held against it.
        let without_data = row(&metrics::HEAT_RULE_HOURS_NO_DATA)?.value;
        let (certain, too_close) =
            (value(&metrics::HEAT_RULE_HOURS_BELOW), value(&metrics::HEAT_RULE_HOURS_TOO_CLOSE));
        Some(Self {
            as_read: value(&metrics::HEAT_RULE_HOURS_AS_READ),
            certain,
            possible: certain + too_close,
            judged: certain + too_close + value(&metrics::HEAT_RULE_HOURS_MET),
            without_data,
            without_outdoor: value(&metrics::HEAT_RULE_HOURS_NOT_EVALUATED),
        })
    }

    /// Of the comfort band, from the rows of a room; `None` where it was held against none.
    pub fn band<'a>(row: impl Fn(&Metric) -> Option<&'a MetricRow>) -> Option<Self> {
        let below = row(&metrics::HOURS_BELOW_BAND)?;
        let (low, high) = below.interval.map_or((below.value, below.value), |i| (i.low, i.high));
        let judged = below.hours_observed;
        let coverage = row(&metrics::COVERAGE).map_or(100.0, |r| r.value);
        let without_data = if coverage > 0.0 { judged * (100.0 / coverage - 1.0) } else { 0.0 };
        Some(Self {
            as_read: below.value,
            certain: low,
            possible: high,
            judged,
            without_data,
            without_outdoor: 0.0,
        })
    }

    /// Hours that could not be held against it.
    pub fn unjudged(&self) -> f64 {
        self.without_data + self.without_outdoor
    }

    /// All hours at which the limit may hold.
    pub fn all(&self) -> f64 {
        self.judged + self.unjudged()
    }

    /// `48.3 h as read, 48.0 h certainly and 49.0 h possibly, of 96.0 hours judged`.
    pub fn words(&self) -> String {
        format!(
            "{:.1} h as read, {:.1} h certainly and {:.1} h possibly, of {:.1} hours judged",
            self.as_read, self.certain, self.possible, self.judged
        )
    }

    /// `3.0 hours without data and 2.0 without outdoor temperature could not be judged`; `None` where all could.
    pub fn open(&self) -> Option<String> {
        let data = shown(self.without_data).map(|h| format!("{h} hours without data"));
        let outdoor = shown(self.without_outdoor).map(|h| match data {
            Some(_) => format!("{h} without outdoor temperature"),
            None => format!("{h} hours without outdoor temperature"),
        });
        let open: Vec<String> = data.into_iter().chain(outdoor).collect();
        (!open.is_empty()).then(|| format!("{} could not be judged", open.join(" and ")))
    }

    /// The words, and in the same sentence what could not be judged.
    pub fn in_full(&self) -> String {
        self.words() + &self.open().map_or(String::new(), |open| format!("; {open}"))
    }
}

/// `certainly 3.0, possibly 9.0`; where little of it is beyond doubt, that instead.
pub(super) fn range_words(value: f64, (low, high): (f64, f64)) -> String {
    if low >= value / 2.0 {
        return format!("certainly {low:.1}, possibly {high:.1}");
    }
    format!(
        "possibly {high:.1}; {low:.1} without those so near to the limit, or so unusual, that they are counted both ways"
    )
}

/// Hours to one decimal; `None` where that is nothing.
fn shown(hours: f64) -> Option<String> {
    Some(format!("{hours:.1}")).filter(|h| h != "0.0")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_could_not_be_judged_is_in_the_same_sentence() {
        let hours = HoursBelow {
            as_read: 48.25,
            certain: 48.0,
            possible: 49.0,
            judged: 90.0,
            without_data: 4.0,
            without_outdoor: 2.0,
        };
        assert_eq!(
            hours.in_full(),
            "48.2 h as read, 48.0 h certainly and 49.0 h possibly, of 90.0 hours judged; 4.0 hours without data and 2.0 without outdoor temperature could not be judged"
        );
        assert!((hours.all() - 96.0).abs() < 1e-9);
        let only = HoursBelow { without_data: 0.0, ..hours };
        assert_eq!(only.open().unwrap(), "2.0 hours without outdoor temperature could not be judged");
        assert_eq!(HoursBelow { without_outdoor: 0.0, ..only }.open(), None);
    }
}
