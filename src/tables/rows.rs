//! Rows of results → cells, in the order of the columns of their table.

use std::borrow::Cow;

use super::Cell;
use crate::clock::UtcTime;
use crate::compare::ComparisonRow;
use crate::exports::SetAside;
use crate::findings::{Finding, NotJudged};
use crate::metrics::{Event, MetricRow};
use crate::quality::LoggerRow;
use crate::quality::colocation::Checked;

pub(super) fn text(s: &str) -> Cell<'_> {
    Cell::Text(Cow::Borrowed(s))
}

pub(super) fn owned(s: String) -> Cell<'static> {
    if s.is_empty() { Cell::Empty } else { Cell::Text(Cow::Owned(s)) }
}

pub(super) fn maybe_text(s: Option<&str>) -> Cell<'_> {
    s.filter(|s| !s.is_empty()).map_or(Cell::Empty, text)
}

pub(super) fn maybe_number(x: Option<f64>) -> Cell<'static> {
    x.map_or(Cell::Empty, Cell::Number)
}

pub(super) fn maybe_time(t: Option<UtcTime>) -> Cell<'static> {
    t.map_or(Cell::Empty, Cell::Time)
}

/// A row of the metrics table.
pub fn metric_cells<'a>(site: &'a str, row: &'a MetricRow) -> Vec<Cell<'a>> {
    vec![
        text(site),
        maybe_text(Some(&row.home)),
        maybe_text(row.room.as_deref()),
        text(&row.period),
        owned(row.slice.words()),
        text(row.metric.id),
        Cell::Number(row.value),
        text(row.metric.unit),
        maybe_number(row.interval.map(|i| i.low).filter(|x| x.is_finite())),
        maybe_number(row.interval.map(|i| i.high).filter(|x| x.is_finite())),
        maybe_text(row.interval.map(|i| i.kind.words())),
        maybe_number(row.parts.sensor),
        maybe_number(row.parts.days),
        Cell::Number(row.hours_observed),
    ]
}

/// A row of the events table.
pub fn event_cells<'a>(site: &'a str, event: &'a Event) -> Vec<Cell<'a>> {
    vec![
        text(site),
        text(&event.home),
        maybe_text(event.room.as_deref()),
        text(&event.period),
        text(event.kind.words()),
        Cell::Time(event.span.from),
        Cell::Time(event.span.to),
        Cell::Number(event.span.hours()),
        Cell::Number(event.value),
        text(event.kind.unit()),
        Cell::Number(event.limit),
        Cell::YesNo(event.censored),
    ]
}

/// A row of the findings table.
pub fn finding_cells<'a>(site: &'a str, finding: &'a Finding) -> Vec<Cell<'a>> {
    vec![
        text(site),
        text(&finding.home),
        maybe_text(finding.room.as_deref()),
        text(&finding.id),
        text(finding.severity.word()),
        text(finding.rule),
        maybe_time(finding.span.map(|s| s.from)),
        maybe_time(finding.span.map(|s| s.to)),
        Cell::Number(finding.observed),
        text(finding.unit),
        Cell::Number(finding.limit),
        maybe_number(finding.range.map(|r| r.0)),
        maybe_number(finding.range.map(|r| r.1)),
        text(&finding.shows),
        text(finding.could_also_be),
        text(finding.next_step),
    ]
}

/// A row of the table of what was not judged.
pub fn not_judged_cells<'a>(site: &'a str, open: &'a NotJudged) -> Vec<Cell<'a>> {
    vec![
        text(site),
        text(&open.home),
        maybe_text(open.room.as_deref()),
        maybe_text(open.period.as_deref()),
        text(open.rule),
        text(&open.why),
    ]
}

/// A row of the loggers table.
pub fn logger_cells<'a>(site: &'a str, row: &'a LoggerRow) -> Vec<Cell<'a>> {
    let mut cells = vec![
        text(site),
        maybe_text(Some(&row.home)),
        maybe_text(Some(&row.room)),
        text(&row.logger),
        text(&row.file),
        Cell::Count(row.rows_seen),
        Cell::Count(row.rows_kept),
        Cell::Count(row.rows_set_aside),
        maybe_time(row.first_utc),
        maybe_time(row.last_utc),
        maybe_number(row.interval_s),
        maybe_number(row.coverage),
        maybe_number(row.longest_gap_h),
    ];
    cells.extend(row.counts.map(Cell::Count));
    cells.push(maybe_number(row.offset.map(crate::units::KelvinDiff::k)));
    cells.push(maybe_number(row.checked.and_then(Checked::left_on).map(crate::units::KelvinDiff::k)));
    cells.push(text(&row.clock));
    cells
}

/// A row of the comparison table.
pub fn comparison_cells<'a>(site: &'a str, row: &'a ComparisonRow) -> Vec<Cell<'a>> {
    let count = |n: usize| Cell::Count(n as u64);
    let matched = row.matched.as_ref();
    let (means, interval) = (matched.and_then(|m| m.means), matched.and_then(|m| m.interval));
    // Where a period has no day at all, or no day has an outdoor temperature, nothing was matched: that is no count of 0.
    let counted = matched.filter(|_| row.days.0 > 0 && row.days.1 > 0);
    let counts = counted.map(|m| [m.days.0, m.days.1, m.shared.len()]);
    let matched_count = |at: usize| counts.map_or(Cell::Empty, |counts| count(counts[at]));
    vec![
        text(site),
        text(&row.home),
        maybe_text(row.room.as_deref()),
        text(row.metric.id),
        text(row.metric.unit),
        maybe_number(means.map(|m| m.0)),
        maybe_number(means.map(|m| m.1)),
        maybe_number(row.difference()),
        maybe_number(interval.map(|i| i.0)),
        maybe_number(interval.map(|i| i.1)),
        maybe_text(interval.map(|_| "95 % days drawn anew and steady sensor accuracy")),
        text(row.difference_unit()),
        count(row.days.0),
        count(row.days.1),
        matched_count(0),
        matched_count(1),
        matched_count(2),
        owned(row.left_out()),
        maybe_number(row.all_days.0),
        maybe_number(row.all_days.1),
        maybe_text(Some(row.why_not())),
    ]
}

/// A row of the set_aside table: what a home lost, or the weather series (an empty name).
pub fn set_aside_cells<'a>(site: &'a str, home: &'a str, row: &'a SetAside) -> Vec<Cell<'a>> {
    let reason = match row.detail.is_empty() {
        true => row.reason.words().to_owned(),
        false => format!("{}: {}", row.reason.words(), row.detail.told()),
    };
    vec![
        text(site),
        maybe_text(Some(home)),
        maybe_text(Some(&row.rooms)),
        text(&row.file),
        Cell::Count(u64::from(row.line)),
        owned(reason),
        text(&row.text),
        Cell::Count(u64::from(row.times)),
    ]
}
