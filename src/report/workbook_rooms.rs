//! The sheets of the workbook that hold numbers beside limits: rooms, and what `[acceptance]` asks for. No arithmetic.
//!
//! Settled here, and why:
//! - **As read, low, high, limit, verdict** stand in that order wherever a number decides: whoever sorts by a number sees beside
//!   it how sure it is.

use super::workbook_sheet::{Column, Content, column};
use crate::audit::{Audit, HomeAudit, HomeNumbers};
use crate::findings::HoursBelow;
use crate::metrics::{self, Evenness, Metric, MetricRow};
use crate::site::{Room, Site};
use crate::units::{Celsius, KelvinDiff, TemperatureUnit};

/// The columns and rows of a sheet.
pub(super) type Sheet = (Vec<Column>, Vec<Vec<Content>>);

/// What a number is shown as.
#[derive(Clone, Copy)]
pub(super) enum Shown {
    Plain,
    Temperature,
    Difference,
    /// The hours that it rests on.
    Hours,
}

impl Shown {
    /// A number of a row, in the units of the site.
    pub(super) fn number(self, row: &MetricRow, units: TemperatureUnit) -> f64 {
        match self {
            Shown::Hours => row.hours_observed,
            other => other.of(row.value, units),
        }
    }

    fn of(self, value: f64, units: TemperatureUnit) -> f64 {
        match self {
            Shown::Plain | Shown::Hours => value,
            Shown::Temperature => units.number(Celsius::new(value)),
            Shown::Difference => units.difference_number(KelvinDiff::new(value)),
        }
    }

    fn head(self, title: &str, units: TemperatureUnit) -> String {
        match self {
            Shown::Plain | Shown::Hours => title.to_owned(),
            Shown::Temperature => format!("{title}, {units}"),
            Shown::Difference => format!("{title}, {}", units.difference_sign()),
        }
    }
}

/// Numbers of a room that stand alone.
pub(super) static NUMBERS: [(&str, &Metric, Shown); 6] = [
    ("Coverage, %", &metrics::COVERAGE, Shown::Plain),
    ("Observed, h", &metrics::MEAN, Shown::Hours),
    ("Lowest", &metrics::MINIMUM, Shown::Temperature),
    ("Median", &metrics::MEDIAN, Shown::Temperature),
    ("Highest", &metrics::MAXIMUM, Shown::Temperature),
    ("Coldest room, % of time", &metrics::SHARE_COLDEST, Shown::Plain),
];

/// Numbers of a room that have a low and a high end, and a verdict.
pub(super) static JUDGED: [(&str, &Metric, Shown); 3] = [
    ("Below band, h", &metrics::HOURS_BELOW_BAND, Shown::Plain),
    ("Above band, h", &metrics::HOURS_ABOVE_BAND, Shown::Plain),
    ("From heated rooms", &metrics::OFFSET_FROM_REFERENCE, Shown::Difference),
];

/// Heads of what stands beside such a number.
const LOW: &str = "low";
const HIGH: &str = "high";
const VERDICT: &str = "verdict";
/// Width of a column of numbers, and of one of verdicts, in letters.
const OF_NUMBER: f64 = 12.0;
const OF_VERDICT: f64 = 18.0;

/// A line for each room and period.
pub(super) fn rooms(audit: &Audit) -> Sheet {
    let site = &audit.site;
    let mut rows = Vec::new();
    for (home, of_roster) in audit.homes.iter().zip(&site.homes) {
        let numbers = HomeNumbers::of(home);
        for room in &of_roster.rooms {
            for period in site.period_names() {
                let value = |metric: &Metric| numbers.value(period, Some(&room.name), metric);
                rows.push(of_room(site, (home, room), period, value));
            }
        }
    }
    (heads(site), rows)
}

fn heads(site: &Site) -> Vec<Column> {
    let units = site.units;
    let mut columns =
        vec![column("Home", 14.0), column("Room", 22.0), column("Period", 22.0), column("Heated", 10.0)];
    columns.extend(NUMBERS.iter().map(|(head, _, shown)| column(shown.head(head, units), OF_NUMBER)));
    for (head, _, shown) in &JUDGED {
        let head = shown.head(head, units);
        columns.push(column(format!("{head}, as read"), OF_NUMBER));
        columns.extend([LOW, HIGH].map(|end| column(format!("{head}, {end}"), OF_NUMBER)));
        if matches!(shown, Shown::Difference) {
            columns.push(column(shown.head("Limit ±", units), OF_NUMBER));
        }
        columns.push(column(format!("{}, {VERDICT}", head.split(',').next().unwrap_or(&head)), OF_VERDICT));
    }
    if site.heat_rule.is_some() {
        let of_rule =
            ["as read", LOW, HIGH].map(|end| column(format!("Below legal minimum, h, {end}"), OF_NUMBER));
        columns.extend(of_rule);
        columns.push(column("Held against it, h", OF_NUMBER));
        columns.push(column(format!("Below legal minimum, {VERDICT}"), OF_VERDICT));
    }
    columns
}

fn of_room<'a>(
    site: &Site,
    (home, room): (&HomeAudit, &Room),
    period: &str,
    value: impl Fn(&Metric) -> Option<&'a MetricRow>,
) -> Vec<Content> {
    let mut row = vec![
        Content::text(&home.name),
        Content::text(&room.name),
        Content::text(period),
        Content::text(room.heated.word()),
    ];
    let number = |(_, metric, shown): &(&str, &'static Metric, Shown)| {
        Content::number(value(metric).map(|found| shown.number(found, site.units)))
    };
    row.extend(NUMBERS.iter().map(number));
    for judged in &JUDGED {
        let (_, metric, shown) = judged;
        row.push(number(judged));
        let ends = value(metric).and_then(|found| found.interval).map(|i| [i.low, i.high]);
        row.extend([0, 1].map(|end| Content::number(ends.map(|ends| shown.of(ends[end], site.units)))));
        row.extend(match shown {
            Shown::Difference => {
                let limit = site.units.difference_number(site.spread.margin);
                let verdict = value(&metrics::EVENNESS_VERDICT).map(|v| Evenness::of(v.value).word());
                vec![Content::Number(limit), Content::text(verdict.unwrap_or(NOT_JUDGED))]
            }
            _ => vec![Content::text(outside(value(metric).map(|found| found.value), ends))],
        });
    }
    if site.heat_rule.is_some() {
        let hours = HoursBelow::minimum(&value);
        let judged = hours.filter(|hours| hours.judged > 0.0);
        let of = |pick: fn(&HoursBelow) -> f64| Content::number(judged.as_ref().map(pick));
        row.extend([of(|h| h.as_read), of(|h| h.certain), of(|h| h.possible)]);
        row.push(Content::number(hours.map(|h| h.judged)));
        row.push(Content::text(outside(judged.map(|h| h.as_read), judged.map(|h| [h.certain, h.possible]))));
    }
    row
}

const NOT_JUDGED: &str = "not judged";

/// What hours beyond a limit come to, in words.
fn outside(value: Option<f64>, ends: Option<[f64; 2]>) -> &'static str {
    match (value, ends) {
        (_, Some([low, _])) if low > 0.0 => "certainly",
        (_, Some([_, high])) if high > 0.0 => "too close to call",
        (Some(value), None) if value > 0.0 => "as read",
        (None, None) => NOT_JUDGED,
        _ => "no",
    }
}

/// A line for each criterion of each home, the worst homes first.
pub(super) fn acceptance(audit: &Audit) -> Sheet {
    let columns = [
        ("Home", 14.0),
        ("Standing", 26.0),
        ("Criterion", 46.0),
        ("Room", 22.0),
        ("Period", 22.0),
        ("As read", OF_NUMBER),
        ("Low", OF_NUMBER),
        ("High", OF_NUMBER),
        ("Limit", OF_NUMBER),
        ("Unit", 8.0),
        ("Verdict", OF_VERDICT),
        ("Why", 60.0),
    ];
    let units = audit.site.units;
    let mut rows = Vec::new();
    for home in audit.worst_first() {
        rows.extend(home.criteria.iter().map(|c| {
            let (shown, unit) = match c.kind.unit {
                "K" => (Shown::Difference, units.difference_sign()),
                unit => (Shown::Plain, unit),
            };
            let number = |x: Option<f64>| Content::number(x.map(|x| shown.of(x, units)));
            vec![
                Content::text(&home.name),
                Content::Standing(home.standing()),
                Content::text(c.kind.words),
                Content::text(c.room.as_deref().unwrap_or_default()),
                Content::text(&c.period),
                number(c.measured),
                number(c.range.0),
                number(c.range.1),
                number(Some(c.limit)),
                Content::text(unit),
                Content::text(c.answer.words()),
                Content::text(&c.why),
            ]
        }));
    }
    (columns.map(|(head, widest)| column(head, widest)).into(), rows)
}
