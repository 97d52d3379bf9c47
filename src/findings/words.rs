//! The rule about readings that are words: in their hours nobody knows how warm it was.

use super::{About, Evidence, Found, Judge, Rule, Severity, Verdict, show_span};
use crate::clock::Span;
use crate::quality::{BLANK_H, LoggerRow, Words};
use crate::site::Site;

/// Share of a record, in %, over which words are told.
const MANY: f64 = 1.0;
/// Hours on end over which they are told.
const LONG_H: f64 = 1.0;
/// Hours without a value in all, from which on a home cannot be called good.
const MANY_H: f64 = 24.0;
/// Times that are listed; the others are counted.
const LISTED: usize = 3;

/// Words in the place of numbers.
pub(super) static NOT_A_NUMBER: Rule = Rule {
    name: "not-a-number",
    shows: "for more than an hour on end, or in more than 1 % of a record, a logger wrote words in the place of numbers: those rows were set aside, and nobody knows how warm it was (act: words such as LO or HI, by which a logger says that it was colder, or warmer, than it can measure)",
    could_also_be: "a logger that was warming up, a sensor that was not plugged in, or a remark that somebody typed into the export",
    next_step: "look at these rows in `set_aside`; where they say LO or HI, find out how cold or warm it was there and record again with a logger of a wider range; else look at the logger's sensor and battery",
    source: "own definition",
    needs: &[],
    looks_at: &[],
    about: About::Record,
    judge: Judge::Logger(not_a_number),
};

/// Rows without a value in half of the rooms or more.
pub(super) static NO_VALUE: Rule = Rule {
    name: "no-value",
    shows: "for three hours or more on end at least half of a home's loggers wrote rows without a value at the same time: nobody knows how warm it was (act: more than 24 hours in all)",
    could_also_be: "loggers that were read out or set anew, sensors that were not plugged in, or a failure of the power that the heating needs too",
    next_step: "ask what happened at that time; where the heating may have failed with the loggers, record again",
    source: "own definition",
    needs: &[],
    looks_at: &[],
    about: About::Record,
    judge: Judge::Records(no_value),
};

/// The times in which at least half of the loggers have rows without a value.
fn without_value(loggers: &[LoggerRow]) -> Vec<Span> {
    let mut edges: Vec<_> =
        loggers.iter().flat_map(|l| &l.blanks).flat_map(|span| [span.from, span.to]).collect();
    edges.sort_unstable();
    edges.dedup();
    let blank = |l: &LoggerRow, part: &Span| l.blanks.iter().any(|span| span.contains(part.from));
    let parts = edges.windows(2).map(|at| Span { from: at[0], to: at[1] });
    let shared = parts.filter(|part| 2 * loggers.iter().filter(|l| blank(l, part)).count() >= loggers.len());
    let mut times: Vec<Span> = Vec::new();
    for part in shared {
        match times.last_mut() {
            Some(last) if last.to == part.from => last.to = part.to,
            _ => times.push(part),
        }
    }
    times.retain(|span| span.hours() >= BLANK_H);
    times
}

fn no_value(evidence: &Evidence<'_>) -> Verdict {
    let runs = without_value(evidence.loggers);
    let Some((first, last)) = runs.first().zip(runs.last()) else { return Verdict::Clear };
    let hours: f64 = runs.iter().map(Span::hours).sum();
    let severity = if hours > MANY_H { Severity::Act } else { Severity::Watch };
    let shows = format!(
        "At least half of the loggers wrote rows without a value for {hours:.0} h at the same time ({}): of these hours nothing is known, and no number has them.",
        times(&runs, evidence.site)
    );
    let span = Some(Span { from: first.from, to: last.to });
    Verdict::Found(Found { span, unit: "h", limit: BLANK_H, ..Found::new(severity, hours, shows) })
}

fn not_a_number(logger: &LoggerRow, evidence: &Evidence<'_>) -> Verdict {
    let words = &logger.words;
    let all = words.count + logger.with_value();
    let share = 100.0 * words.count as f64 / all.max(1) as f64;
    let longest_h = words.runs.iter().map(|run| run.hours()).fold(0.0, f64::max);
    let hull = words.runs.first().zip(words.runs.last()).map(|(a, b)| Span { from: a.from, to: b.to });
    // One word is one reading, however short the record is.
    let told = words.count > 1 && (share > MANY || longest_h > LONG_H);
    let Some(span) = hull.filter(|_| told) else { return Verdict::Clear };
    let severity = if words.below + words.above > 0 { Severity::Act } else { Severity::Watch };
    let shows = format!(
        "{} of {all} readings of logger {} in {} were words{} in the place of numbers, up to {longest_h:.1} h on end ({}).{} They were set aside: of these hours nothing is known, and no number has them.",
        words.count,
        logger.logger,
        logger.room,
        such_as(words),
        times(&words.runs, evidence.site),
        meaning(words),
    );
    Verdict::Found(Found { span: Some(span), unit: "%", limit: MANY, ..Found::new(severity, share, shows) })
}

fn such_as(words: &Words) -> &'static str {
    match (words.below, words.above) {
        (0, 0) => "",
        (_, 0) => " such as LO",
        (0, _) => " such as HI",
        _ => " such as LO and HI",
    }
}

fn meaning(words: &Words) -> String {
    let side = |count: u64, word: &str, of_range: &str| {
        let said = format!(" A logger writes {word} {of_range} than it can measure ({count} times).");
        if count > 0 { said } else { String::new() }
    };
    side(words.below, "LO", "below its range: it was colder")
        + &side(words.above, "HI", "above its range: it was warmer")
}

/// The longest times, in order, and how many more there are.
fn times(runs: &[Span], site: &Site) -> String {
    let mut longest: Vec<&Span> = runs.iter().collect();
    longest.sort_by(|a, b| b.hours().total_cmp(&a.hours()));
    longest.truncate(LISTED);
    longest.sort_by_key(|run| run.from);
    let mut listed: Vec<String> = longest.iter().map(|run| show_span(**run, site.zone)).collect();
    if runs.len() > LISTED {
        listed.push(format!("{} more times", runs.len() - LISTED));
    }
    listed.join(", ")
}
