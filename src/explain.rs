//! What a metric, rule, event, flag or column means, with its source.

mod words;

use words::WORDS;

use crate::cases::{self, CRITERIA, Standing};
use crate::error::{Error, Result};
use crate::exports::Reason;
use crate::findings::{RULES, Rule, Severity};
use crate::metrics::{self, EventKind, IntervalKind, Metric, PROCEDURES, Procedure};
use crate::site::{HEAT_RULE_CAUTION, NO_RECORD_SHOWS, Preset, Test, presets, roster_columns};
use crate::tables::{COMPARISON, SENSITIVITY, SUMMARY, TABLES};
use crate::texts::slips;
use crate::units::TemperatureUnit;

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
        text: format!("{} ({}): {}{}\nsource: {}", m.id, m.unit, m.definition, made_again(m), m.source),
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
            needs(r),
            r.source
        ),
    };
    let mut all: Vec<Entry> =
        metrics::all().map(metric).chain(EventKind::ALL.map(event)).chain(RULES.map(rule)).collect();
    all.extend(decisions());
    all.extend(procedures());
    all.extend(Test::ALL.map(|t| Entry {
        kind: "test",
        name: t.id(),
        text: format!(
            "{}: {}\nsource: QARTOD manual; limits in [quality] of the site file",
            t.id(),
            t.question()
        ),
    }));
    all.extend(words());
    all.extend(Reason::ALL.map(|r| Entry {
        kind: "set aside",
        name: r.words(),
        text: format!("{}: why a row of an export did not become a reading", r.words()),
    }));
    all.extend(presets().map(|p| Entry { kind: "heat rule", name: p.name, text: preset(p) }));
    all.extend(roster_columns().map(|c| Entry {
        kind: "roster column",
        name: c.name,
        text: format!("roster.{}: {}", c.name, c.about),
    }));
    for table in TABLES.into_iter().chain([&COMPARISON, &SENSITIVITY, &SUMMARY]) {
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

/// Kinds of cases, and criteria.
fn decisions() -> Vec<Entry> {
    let case = |k: &&cases::CaseKind| Entry {
        kind: "case",
        name: k.id,
        text: format!(
            "case {} ({}): {}\ncould also be: {}\nfirst step: {}\nbring: {}",
            k.id, k.words, k.shows, k.could_also_be, k.next_step, k.bring
        ),
    };
    let criterion = |c: &&cases::CriterionKind| Entry {
        kind: "criterion",
        name: c.id,
        text: format!(
            "criterion {} ({}): {}; set in [acceptance] of the site file",
            c.id, c.unit, c.definition
        ),
    };
    // A person asks for the words that are printed.
    let called = |name: &'static str, text: String| Entry { kind: PRINTED, name, text };
    let cases_called = cases::KINDS.iter().map(|k| called(k.words, case(k).text));
    let short = |words: &'static str| words.split_once(", ").map_or(words, |(short, _room)| short);
    let criteria_called = CRITERIA.iter().map(|c| called(short(c.words), criterion(c).text));
    let named = cases::KINDS.iter().map(case).chain(CRITERIA.iter().map(criterion));
    named.chain(cases_called).chain(criteria_called).collect()
}

/// Steps that several metrics share, and the intervals that they make.
fn procedures() -> Vec<Entry> {
    let text = |p: &Procedure| format!("{}: {}\nsource: {}", p.name, p.text, p.source);
    let procedure = |p: &&'static Procedure| Entry { kind: "procedure", name: p.name, text: text(p) };
    let interval = |k: IntervalKind| {
        let of = k.procedure();
        let text = format!("interval `{}`, by {}", k.words(), text(of));
        (k.words() != of.name).then(|| Entry { kind: "interval", name: k.words(), text })
    };
    let called =
        |(name, of): (&'static str, IntervalKind)| Entry { kind: PRINTED, name, text: text(of.procedure()) };
    let all = PROCEDURES.iter().map(procedure).chain(IntervalKind::ALL.into_iter().filter_map(interval));
    all.chain(OTHER_NAMES.map(called)).collect()
}

/// What people call procedures, beside their names.
const OTHER_NAMES: [(&str, IntervalKind); 4] = [
    ("lag", IntervalKind::SensorAccuracyAndLag),
    ("bootstrap", IntervalKind::DaysDrawn),
    ("Kaplan-Meier", IntervalKind::Survival),
    ("prediction", IntervalKind::Prediction),
];

/// How a metric is made again, where its definition leaves something open.
fn made_again(metric: &Metric) -> String {
    let Some(recipe) = metrics::recipe(metric) else { return String::new() };
    let names: Vec<&str> = metrics::ALL_TAKE.iter().chain(recipe.procedures).map(|p| p.name).collect();
    let text = if recipe.text.is_empty() { String::new() } else { format!("{}; ", recipe.text) };
    format!("\nmade again: {text}see {} (each by `explain`)", names.join(", "))
}

/// A word of the list of words.
pub fn word(name: &str) -> Option<&'static str> {
    WORDS.iter().find(|(word, _)| *word == name).map(|(_, text)| *text)
}

/// The kind of names that are other words for listed ones.
const PRINTED: &str = "as printed";

/// Standings, severities, and words of sentences.
fn words() -> impl Iterator<Item = Entry> {
    let severity = |s: Severity| Entry {
        kind: "severity",
        name: s.word(),
        text: format!("severity {} of a finding: {}", s.word(), s.definition()),
    };
    let word =
        |(name, text): (&'static str, &str)| Entry { kind: "word", name, text: format!("{name}: {text}") };
    let standings = Standing::ALL.into_iter().flat_map(standing);
    standings.chain(Severity::ALL.map(severity)).chain(WORDS.map(word))
}

/// A standing under its word, and under others that people use.
fn standing(s: Standing) -> Vec<Entry> {
    let text = format!("standing {} of a home ({}): {}", s.word(), s.meaning(), s.definition());
    let names = std::iter::once(s.word()).chain(s.also().iter().copied());
    names.map(|name| Entry { kind: "standing", name, text: text.clone() }).collect()
}

fn preset(p: &Preset) -> String {
    let measured = p.measured.map_or("the pages read do not say where to measure", |m| m.words);
    let both = |t| format!("{} ({})", TemperatureUnit::Fahrenheit.show(t), TemperatureUnit::Celsius.show(t));
    format!(
        "{}: {}, {} ({})\n{}decisive words: {}\nheld against it: {}\nassumes: {}\nmeasured: {measured}\nnot judged, and how it was read: {}; and what no record shows: {NO_RECORD_SHOWS}\nsource: {} ({}), read on {}\n{HEAT_RULE_CAUTION}\nin the site file:\n  [heat_rule]\n  preset = \"{}\"",
        p.name,
        p.place,
        p.text,
        p.kind.words(),
        p.windows.iter().map(|w| format!("  {}\n", w.words(both))).collect::<String>(),
        p.words,
        p.rooms(),
        p.assumes,
        p.limits,
        p.source,
        p.seen.words(),
        p.read,
        p.name,
    )
}

/// What a rule rests on: what it cannot do without, and what it looks at beside that.
fn needs(rule: &Rule) -> String {
    let ids = |metrics: &[&Metric]| metrics.iter().map(|m| m.id).collect::<Vec<_>>().join(", ");
    match (rule.needs, rule.looks_at) {
        ([], []) => "the loggers' records".to_owned(),
        ([], looks_at) => format!("none; looks at {}", ids(looks_at)),
        (needs, []) => ids(needs),
        (needs, looks_at) => format!("{}; looks at {} too", ids(needs), ids(looks_at)),
    }
}

/// The text for a name (a column name may stand in several tables), or the list of names.
///
/// # Errors
/// [`Error::UnknownName`], with near names as a hint.
pub fn explain(name: Option<&str>) -> Result<String> {
    let entries = entries();
    let Some(name) = name else { return Ok(list(&entries)) };
    let plain = |s: &str| s.to_lowercase().replace(['_', '-', ' ', '[', ']'], "");
    let wanted = plain(name);
    let mut found: Vec<&str> =
        entries.iter().filter(|e| plain(e.name) == wanted).map(|e| e.text.as_str()).collect();
    found.dedup();
    if !found.is_empty() {
        return Ok(found.join("\n\n"));
    }
    let mut near = nearest(&entries, &wanted, plain);
    if near.is_empty() {
        let within = |n: &str| plain(n).contains(&wanted) || (n.len() > 3 && wanted.contains(&plain(n)));
        near = entries.iter().map(|e| e.name).filter(|n| within(n)).collect();
        near.dedup();
    }
    let hint = match near.as_slice() {
        [] => "`evenrooms explain` without a name lists them".to_owned(),
        near => format!("did you mean {}?", near[..near.len().min(5)].join(", ")),
    };
    Err(Error::UnknownName { name: name.to_owned(), hint })
}

/// Names that differ by a slip or two: one letter in four at most.
fn nearest<'e>(entries: &'e [Entry], wanted: &str, plain: impl Fn(&str) -> String) -> Vec<&'e str> {
    let most = (wanted.chars().count() / 4).max(1);
    let mut near: Vec<(usize, &str)> = entries
        .iter()
        .map(|e| (slips(&plain(e.name), wanted), e.name))
        .filter(|(slips, _)| *slips <= most)
        .collect();
    near.sort_unstable();
    near.dedup();
    near.into_iter().map(|(_, name)| name).collect()
}

/// The kinds of names, in the order in which they are listed.
const KINDS: [&str; 15] = [
    "standing",
    "case",
    "criterion",
    "severity",
    "metric",
    "procedure",
    "interval",
    "event",
    "rule",
    "test",
    "set aside",
    "word",
    "heat rule",
    "roster column",
    "column",
];

fn list(entries: &[Entry]) -> String {
    let mut text = String::new();
    for kind in KINDS {
        let mut names: Vec<&str> = entries.iter().filter(|e| e.kind == kind).map(|e| e.name).collect();
        names.sort_unstable();
        names.dedup();
        text.push_str(&format!("{kind}\n  {}\n", names.join(", ")));
    }
    text.push_str("\nevenrooms explain NAME tells what one means, with its source.");
    text
}
