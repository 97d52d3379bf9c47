//! What a comparison tells.

use std::path::Path;

use super::wrap;
use crate::clock::Span;
use crate::compare::{BIN_K, ComparisonRow, LEAST_DAYS, Periods};
use crate::site::Site;
use crate::units::{Celsius, KelvinDiff, TemperatureUnit};

/// Homes told one by one.
const HOMES_TOLD: usize = 12;

/// The comparison in a page.
pub fn compared(site: &Site, periods: Periods, rows: &[ComparisonRow], out: &Path) -> String {
    let show = |span: Span| format!("{} to {}", site.zone.show(span.from), site.zone.show(span.to));
    let mut text = format!(
        "{}: before ({}) and after ({}), {}\n",
        site.name,
        show(periods.before),
        show(periods.after),
        site.zone.name()
    );
    text.push_str(&matching(rows));
    let mut homes: Vec<&str> = rows.iter().map(|r| r.home.as_str()).collect();
    homes.dedup();
    for home in homes.iter().take(HOMES_TOLD) {
        text.push_str(&format!("\n{home}\n"));
        for row in rows.iter().filter(|r| r.home == *home) {
            text.push_str(&one(site.units, row));
        }
    }
    if homes.len() > HOMES_TOLD {
        text.push_str(&format!("\n… and {} more homes: see comparison.csv\n", homes.len() - HOMES_TOLD));
    }
    let whole = rows.iter().filter(|r| r.difference().is_some()).count();
    if whole < rows.len() {
        text.push_str(&wrap(
            &format!(
                "\n{} of {} numbers could not be compared: comparison.csv says why (why_not)\n",
                rows.len() - whole,
                rows.len()
            ),
            "  ",
        ));
    }
    text.push_str("\nA difference at like outdoor temperature is no proof of its cause: people, sun and settings differ between periods too.\n");
    text.push_str(&format!(
        "Results in {}: comparison.csv, comparison.parquet, described in datapackage.json.\n",
        out.display()
    ));
    text
}

/// How days were matched, or why they were not.
fn matching(rows: &[ComparisonRow]) -> String {
    if rows.iter().all(|r| r.matched.is_none()) {
        return wrap(
            "Not matched: no outdoor temperature in these periods, so no difference is given; the means over all days may differ by the weather alone.\n",
            "  ",
        );
    }
    wrap(
        &format!(
            "Days are matched by their mean outdoor temperature in bins of {BIN_K:.0} K with {LEAST_DAYS} days or more on both sides; differences are after less before, with 95 % intervals.\n"
        ),
        "  ",
    )
}

fn one(units: TemperatureUnit, row: &ComparisonRow) -> String {
    let what = format!("{} {}", row.room.as_deref().unwrap_or("home"), row.metric.id);
    let value = |x: f64| match row.metric.unit {
        "°C" => units.show(Celsius::new(x)),
        "K" => units.show_difference(KelvinDiff::new(x)),
        unit => format!("{x:.1} {unit}"),
    };
    let difference = |x: f64| match row.difference_unit() {
        "K" => signed(units.difference_number(KelvinDiff::new(x)), units.difference_sign()),
        unit => signed(x, unit),
    };
    let matched = row.matched.as_ref();
    let line = match (matched.and_then(|m| m.means), matched.and_then(|m| m.interval)) {
        (Some((before, after)), Some((low, high))) => {
            let days = matched.map_or((0, 0), |m| m.days);
            format!(
                "  {what:<42} {} → {}: {} ({} … {}), {} and {} days",
                value(before),
                value(after),
                difference(after - before),
                difference(low),
                difference(high),
                days.0,
                days.1
            )
        }
        _ => {
            let mean = |x: Option<f64>| x.map_or("–".to_owned(), value);
            format!(
                "  {what:<42} not compared: {} (all days: {} and {})",
                row.why_not(),
                mean(row.all_days.0),
                mean(row.all_days.1)
            )
        }
    };
    format!("{line}\n")
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
