//! `[acceptance]`: what a home must show to be accepted, and of which period.

use super::walk::{Section, Wanted};
use super::{Facts, Period, WHOLE_RECORD};

/// What is asked of a home. A share is in %; `None`: the site does not ask for it.
#[derive(Clone, Debug, PartialEq)]
pub struct Acceptance {
    /// The period that decides; `None`: the last one.
    pub period: Option<String>,
    /// Whole days that must be on record.
    pub days: usize,
    /// Least share of the time with a usable value, of each room; of the heat rule's hours, judged.
    pub coverage: Option<f64>,
    /// Largest share of the hours below the band, without the time that a room is granted after a setback.
    pub hours_below: Option<f64>,
    /// Largest share of the hours above the band.
    pub hours_above: Option<f64>,
    /// Whether rooms must be even with the heated ones, within the margin of `[spread]`.
    pub evenness: bool,
    /// Largest share of the mornings on which a heated room may be late.
    pub late_recoveries: Option<f64>,
    /// Largest share of the judged hours of the heat rule below its minimum.
    pub heat_rule: Option<f64>,
}

impl Default for Acceptance {
    fn default() -> Self {
        Self {
            period: None,
            days: 14,
            coverage: Some(90.0),
            hours_below: Some(1.0),
            hours_above: Some(3.0),
            evenness: true,
            late_recoveries: Some(10.0),
            heat_rule: Some(1.0),
        }
    }
}

impl Facts {
    /// The period that decides whether a home is accepted: the one that `[acceptance]` names, else the one that ends last.
    pub fn judged_period(&self) -> &str {
        let asked = self.acceptance.period.as_ref();
        let named = asked.and_then(|name| self.periods.iter().find(|p| p.name == *name));
        let last = || self.periods.iter().max_by_key(|p| p.span.to);
        named.or_else(last).map_or(WHOLE_RECORD, |p| &p.name)
    }
}

/// What leaves a criterion out.
const NOT_ASKED: &str = "not asked";

const SHARE: Wanted<'_> = Wanted {
    expected: "a share such as \"1 %\", or \"not asked\"",
    hint: "write number and % in quotes; \"not asked\" leaves the criterion out",
};

/// A share of 0 to 100 %.
fn share(text: &str) -> Option<Option<f64>> {
    if text.trim() == NOT_ASKED {
        return Some(None);
    }
    let number: f64 = text.trim().strip_suffix('%')?.trim().parse().ok()?;
    (0.0..=100.0).contains(&number).then_some(Some(number))
}

pub(super) fn read_acceptance(top: &Section<'_, '_>, periods: &[Period]) -> Acceptance {
    let mut asked = Acceptance::default();
    let Some(s) = top.section("acceptance") else { return asked };
    let names: Vec<&str> = periods.iter().map(|p| p.name.as_str()).collect();
    let listed = if names.is_empty() { "there is none".to_owned() } else { names.join(", ") };
    let period = Wanted {
        expected: "the name of a [[period]] of this file",
        hint: &format!("periods: {listed}; without `period` the last one decides"),
    };
    let named = |text: &str| names.contains(&text).then(|| text.to_owned());
    asked.period = s.parsed("period", period, named).map(|p| p.value);
    let days = Wanted {
        expected: "a whole number of days such as 14",
        hint: "from 1 to 400; fewer than 7 days show no evenness",
    };
    if let Some(n) = s.whole("days", days) {
        match n {
            1..=400 => asked.days = n,
            _ => s.wrong(s.line_of("days"), &format!("`days = {n}`"), days),
        }
    }
    for (key, value) in [
        ("coverage", &mut asked.coverage),
        ("hours_below", &mut asked.hours_below),
        ("hours_above", &mut asked.hours_above),
        ("late_recoveries", &mut asked.late_recoveries),
        ("heat_rule", &mut asked.heat_rule),
    ] {
        if let Some(stated) = s.parsed(key, SHARE, share) {
            *value = stated.value;
        }
    }
    let evenness = Wanted {
        expected: "\"margin\" or \"not asked\"",
        hint: "\"margin\": rooms lie within the margin of [spread] from the heated ones",
    };
    let parse = |text: &str| match text {
        "margin" => Some(true),
        NOT_ASKED => Some(false),
        _ => None,
    };
    asked.evenness = s.parsed("evenness", evenness, parse).map_or(asked.evenness, |e| e.value);
    s.finish();
    asked
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_have_a_sign_and_may_be_left_out() {
        assert_eq!(share("1 %"), Some(Some(1.0)));
        assert_eq!(share("2.5%"), Some(Some(2.5)));
        assert_eq!(share("not asked"), Some(None));
        assert_eq!([share("1"), share("101 %"), share("-1 %"), share("one %")], [None; 4]);
    }
}
