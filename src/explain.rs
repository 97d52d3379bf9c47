//! What a metric, rule, event, flag or column means, with its source.

use crate::error::{Error, Result};
use crate::exports::Reason;
use crate::findings::RULES;
use crate::metrics::{self, EventKind};
use crate::site::{HEAT_RULE_CAUTION, HeatWindow, PRESETS, Preset, Test, roster_columns};
use crate::tables::{COMPARISON, TABLES};

/// A name and what is said about it.
struct Entry {
    kind: &'static str,
    name: &'static str,
    text: String,
}

fn entries() -> Vec<Entry> {
    let metric = |m: &metrics::Metric| Entry {
        kind: "metric",
        name: m.id,
        text: format!("{} ({}): {}\nsource: {}", m.id, m.unit, m.definition, m.source),
    };
    let event = |k: EventKind| Entry {
        kind: "event",
        name: k.words(),
        text: format!("{} ({}): {}", k.words(), k.unit(), k.definition()),
    };
    let rule = |r: &crate::findings::Rule| Entry {
        kind: "rule",
        name: r.name,
        text: format!(
            "{}: {}\ncould also be: {}\nnext step: {}\nneeds: {}\nsource: {}",
            r.name,
            r.shows,
            r.could_also_be,
            r.next_step,
            needs(r.needs),
            r.source
        ),
    };
    let mut all: Vec<Entry> =
        metrics::all().map(metric).chain(EventKind::ALL.map(event)).chain(RULES.map(rule)).collect();
    all.extend(Test::ALL.map(|t| Entry {
        kind: "test",
        name: t.id(),
        text: format!(
            "{}: {}\nsource: QARTOD manual; limits in [quality] of the site file",
            t.id(),
            t.question()
        ),
    }));
    all.extend(Reason::ALL.map(|r| Entry {
        kind: "set aside",
        name: r.words(),
        text: format!("{}: why a row of an export did not become a reading", r.words()),
    }));
    all.extend(PRESETS.iter().map(|p| Entry { kind: "heat rule", name: p.name, text: preset(p) }));
    all.extend(roster_columns().map(|c| Entry {
        kind: "roster column",
        name: c.name,
        text: format!("roster.{}: {}", c.name, c.about),
    }));
    for table in TABLES.into_iter().chain([&COMPARISON]) {
        all.extend(table.columns.iter().map(|c| {
            let unit = c.unit.map_or(String::new(), |u| format!(" ({u})"));
            Entry {
                kind: "column",
                name: c.name,
                text: format!("{}.{}{unit}: {}", table.name, c.name, c.about),
            }
        }));
    }
    all
}

fn preset(p: &Preset) -> String {
    let measured = p.measured.map_or("the pages read do not say where to measure", |m| m.words);
    format!(
        "{}: {}, {}\n{}held against it: {}; {}\nmeasured: {measured}\nlimits: {}\nsource: {}, read on {}\n{HEAT_RULE_CAUTION}\nin the site file:\n  [heat_rule]\n  preset = \"{}\"",
        p.name,
        p.place,
        p.text,
        p.windows.iter().map(window).collect::<String>(),
        p.held.words(),
        p.rooms(),
        p.limits,
        p.source,
        p.read,
        p.name,
    )
}

fn window(w: &HeatWindow) -> String {
    let outdoor = w.when_outdoor_below.map_or(String::new(), |t| {
        format!(", while it is below {:.0} °F ({:.1} °C) outdoors", t.degf(), t.degc())
    });
    format!(
        "  {}, {}: at least {:.1} °C ({:.1} °F){outdoor}\n",
        w.season.show(),
        w.hours.show(),
        w.minimum.degc(),
        w.minimum.degf()
    )
}

fn needs(metrics: &[&str]) -> String {
    if metrics.is_empty() { "the logger's readings".to_owned() } else { metrics.join(", ") }
}

/// The text for a name (a column name may stand in several tables), or the list of names.
///
/// # Errors
/// [`Error::UnknownName`], with near names as a hint.
pub fn explain(name: Option<&str>) -> Result<String> {
    let entries = entries();
    let Some(name) = name else { return Ok(list(&entries)) };
    let plain = |s: &str| s.to_lowercase().replace(['_', '-', ' '], "");
    let wanted = plain(name);
    let found: Vec<&str> =
        entries.iter().filter(|e| plain(e.name) == wanted).map(|e| e.text.as_str()).collect();
    if !found.is_empty() {
        return Ok(found.join("\n\n"));
    }
    let mut near: Vec<&str> = entries
        .iter()
        .map(|e| e.name)
        .filter(|n| plain(n).contains(&wanted) || wanted.contains(&plain(n)))
        .collect();
    near.dedup();
    let hint = match near.as_slice() {
        [] => "`evenrooms explain` without a name lists them".to_owned(),
        near => format!("did you mean {}?", near[..near.len().min(5)].join(", ")),
    };
    Err(Error::UnknownName { name: name.to_owned(), hint })
}

fn list(entries: &[Entry]) -> String {
    let mut text = String::new();
    for kind in ["metric", "event", "rule", "test", "set aside", "heat rule", "roster column", "column"] {
        let mut names: Vec<&str> = entries.iter().filter(|e| e.kind == kind).map(|e| e.name).collect();
        names.sort_unstable();
        names.dedup();
        text.push_str(&format!("{kind}\n  {}\n", names.join(", ")));
    }
    text.push_str("\nevenrooms explain NAME tells what one means, with its source.");
    text
}
