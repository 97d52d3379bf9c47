//! What a comparison tells.

use super::wrap;
use crate::clock::Span;
use crate::compare::{ComparisonRow, NO_CAUSE, NO_SURE_CHANGE, Periods, TOLD, matching};
use crate::site::Site;
use crate::units::{Celsius, KelvinDiff, TemperatureUnit};

/// Homes told one by one.
const HOMES_TOLD: usize = 12;

/// The comparison in a page.
pub fn compared(site: &Site, periods: Periods, rows: &[ComparisonRow], out: &str) -> String {
    let show = |span: Span| format!("{} to {}", site.zone.show(span.from), site.zone.show(span.to));
    let mut text = format!(
        "{}: before ({}) and after ({}), {}\n",
        site.name,
        show(periods.before),
        show(periods.after),
        site.zone.name()
    );
    text.push_str(&wrap(&format!("{}\n", matching(rows)), "  "));
    let mut homes: Vec<&str> = rows.iter().map(|r| r.home.as_str()).collect();
    homes.dedup();
    for home in homes.iter().take(HOMES_TOLD) {
        text.push_str(&format!("\n{home}\n"));
        let of_home_rows: Vec<&ComparisonRow> = rows.iter().filter(|r| r.home == *home).collect();
        text.push_str(&of_home(site.units, &of_home_rows));
    }
    if homes.len() > HOMES_TOLD {
        text.push_str(&format!("\n… and {} more homes: see comparison.csv\n", homes.len() - HOMES_TOLD));
    }
    let left_out: Vec<String> = rows.iter().map(ComparisonRow::left_out).filter(|l| !l.is_empty()).collect();
    if let Some(longest) = left_out.iter().max_by_key(|l| l.len()) {
        text.push_str(&wrap(&format!("\nDays left out, outdoors at: {longest}\n"), "  "));
    }
    let any = rows.iter().any(|row| row.difference().is_some());
    let words = if any { format!("{NO_SURE_CHANGE} {NO_CAUSE}") } else { NO_CAUSE.to_owned() };
    text.push_str(&wrap(&format!("\n{words}\n"), "  "));
    text.push_str(&format!(
        "Results in {}: comparison.html for people; comparison.csv, comparison.parquet, described in datapackage.json.\n",
        out
    ));
    text
}

/// A home: what changed, and why the rest cannot be told.
fn of_home(units: TemperatureUnit, rows: &[&ComparisonRow]) -> String {
    let mut text = String::new();
    let mut reasons: Vec<(&str, usize)> = Vec::new();
    for row in rows {
        let words = TOLD.iter().find(|(metric, _)| *metric == row.metric);
        match (row.why_not(), words) {
            ("", Some((_, words))) => text.push_str(&one(units, row, words)),
            ("", None) => {}
            (why, _) => match reasons.iter_mut().find(|(known, _)| *known == why) {
                Some((_, count)) => *count += 1,
                None => reasons.push((why, 1)),
            },
        }
    }
    for (why, count) in reasons {
        text.push_str(&format!("  {count} of {} numbers not compared: {why}\n", rows.len()));
    }
    text
}

fn one(units: TemperatureUnit, row: &ComparisonRow, words: &str) -> String {
    let what = format!("{} {words}", row.room.as_deref().unwrap_or("home"));
    let value = |x: f64| match row.metric.unit {
        "°C" => units.show(Celsius::new(x)),
        "K" => units.show_difference(KelvinDiff::new(x)),
        unit => format!("{x:.1} {unit}"),
    };
    let difference = |x: f64| match row.difference_unit() {
        "K" => signed(units.difference_number(KelvinDiff::new(x)), units.difference_sign()),
        unit => signed(x, unit),
    };
    let Some(matched) = &row.matched else { return String::new() };
    let (Some((before, after)), Some((low, high))) = (matched.means, matched.interval) else {
        return String::new();
    };
    format!(
        "  {what:<36} {} → {}: {} ({} … {}), {} and {} days\n",
        value(before),
        value(after),
        difference(after - before),
        difference(low),
        difference(high),
        matched.days.0,
        matched.days.1
    )
}

/// `+1.2 K`, `−0.8 K`.
fn signed(x: f64, unit: &str) -> String {
    let number = format!("{:.1}", x.abs());
    let sign = match number.as_str() {
        "0.0" => "",
        _ if x < 0.0 => "−",
        _ => "+",
    };
    format!("{sign}{number} {unit}")
}
