//! The terminal: results on stdout, messages on stderr. A closed pipe is no error; a full disk behind stdout is one.

mod ask;
mod comparison;
mod complaint;
mod exports;
mod typed;

pub use ask::{Said, ask, can_ask};
pub use comparison::compared;
pub use complaint::complaint;
pub use exports::{drafted, inspection};
pub use typed::as_typed;

use std::io::{self, IsTerminal, Write};
use std::path::PathBuf;

use crate::audit::{Audit, HomeAudit, Standing};
use crate::error::{Error, Result};
use crate::findings::{Finding, RULES, Severity, below_sixteen, open_lines};
use crate::metrics::{self, Metric};
use crate::site::{HEAT_RULE_CAUTION, Site};
use crate::texts::{shown_json, shown_lines};
use crate::units::Celsius;

/// Homes told one by one in the summary.
const HOMES_TOLD: usize = 12;
/// Notes told one by one.
const NOTES_TOLD: usize = 12;
/// Width of the summary in characters.
const WIDTH: usize = 100;

/// Where a person reads.
#[derive(Debug)]
pub struct Console {
    quiet: bool,
    colour: bool,
}

impl Console {
    /// A console; `quiet` leaves only errors and asked-for results.
    pub fn new(quiet: bool) -> Self {
        let colour =
            std::io::stdout().is_terminal() && std::env::var_os("NO_COLOR").is_none_or(|v| v.is_empty());
        Self { quiet, colour }
    }

    /// Whether a progress bar would be seen.
    pub fn shows_progress(&self) -> bool {
        !self.quiet && std::io::stderr().is_terminal()
    }

    /// What a command was asked for.
    ///
    /// # Errors
    /// [`Error::Disk`] where standard output takes no more.
    pub fn result(&self, text: &str) -> Result<()> {
        put(&format!("{}\n", shown_lines(text)))
    }

    /// The same in JSON.
    ///
    /// # Errors
    /// [`Error::Disk`] where standard output takes no more.
    pub fn json(&self, text: &str) -> Result<()> {
        put(&format!("{}\n", shown_json(text)))
    }

    /// A word about what was done.
    pub fn message(&self, text: &str) {
        if !self.quiet {
            let _ = writeln!(std::io::stderr().lock(), "{}", shown_lines(text));
        }
    }

    /// What stopped the command.
    pub fn error(&self, error: &Error) {
        let _ = writeln!(std::io::stderr().lock(), "evenrooms: {}", shown_lines(&error.to_string()));
    }

    /// What a reader of the results must know about the input.
    pub fn notes(&self, audit: &Audit) {
        if self.quiet {
            return;
        }
        let mut err = std::io::stderr().lock();
        let count = audit.notes().count();
        for note in audit.notes().take(NOTES_TOLD) {
            let _ = writeln!(err, "note: {}", shown_lines(&note.to_string()));
        }
        if count > NOTES_TOLD {
            let _ = writeln!(err, "note: {} more notes are in provenance.json", count - NOTES_TOLD);
        }
    }

    /// The result of a command in a page; `quiet` leaves it out.
    ///
    /// # Errors
    /// [`Error::Disk`] where standard output takes no more.
    pub fn report(&self, text: &str) -> Result<()> {
        if self.quiet { Ok(()) } else { put(&shown_lines(text)) }
    }

    /// The audit in a page: worst homes first, and what to do.
    ///
    /// # Errors
    /// [`Error::Disk`] where standard output takes no more.
    pub fn summary(&self, audit: &Audit, out: &str, with_report: bool) -> Result<()> {
        if self.quiet { Ok(()) } else { put(&summary(audit, out, with_report, self.colour)) }
    }
}

/// Help, the version, or what is wrong with a command line; the answer is the exit code.
///
/// # Errors
/// [`Error::Disk`] where standard output takes no more.
pub fn usage(answer: &clap::Error) -> Result<u8> {
    taken(answer.print().and_then(|()| io::stdout().flush()))?;
    Ok(u8::try_from(answer.exit_code()).unwrap_or(u8::MAX))
}

/// Writes to standard output; a reader that has seen enough is no error.
fn put(text: &str) -> Result<()> {
    let mut out = io::stdout().lock();
    taken(out.write_all(text.as_bytes()).and_then(|()| out.flush()))
}

fn taken(written: io::Result<()>) -> Result<()> {
    match written {
        Err(source) if source.kind() != io::ErrorKind::BrokenPipe => Err(Error::Disk {
            path: PathBuf::from("standard output"),
            action: "could not be written",
            source,
            hint: "check the free space where it goes; results in --out, if any, are whole",
        }),
        _ => Ok(()),
    }
}

/// The text of the summary.
pub fn summary(audit: &Audit, out: &str, with_report: bool, colour: bool) -> String {
    let mut text = heading(audit);
    let worst_first = audit.worst_first();
    let (told, clear): (Vec<&HomeAudit>, Vec<&HomeAudit>) =
        worst_first.into_iter().partition(|h| h.standing() != Standing::Clear);
    for home in told.iter().take(HOMES_TOLD) {
        text.push_str(&home_lines(&audit.site, home, colour));
    }
    if told.len() > HOMES_TOLD {
        text.push_str(&format!("\n… and {} more homes: see findings.csv\n", told.len() - HOMES_TOLD));
    }
    if !clear.is_empty() {
        let names: Vec<&str> = clear.iter().map(|h| h.name.as_str()).collect();
        text.push_str(&wrap(
            &format!("\n{}  {}\n", paint("clear", Standing::Clear, colour), names.join(", ")),
            "       ",
        ));
    }
    for home in clear.iter().take(HOMES_TOLD) {
        let words = serious_cold(&audit.site, home);
        if !words.is_empty() {
            text.push_str(&format!("{}:\n{words}", home.name));
        }
    }
    text.push_str(&what_to_do(&told));
    text.push_str(&counts(audit));
    let report = if with_report { "report.html (open it in a browser), " } else { "" };
    text.push_str(&format!(
        "Results in {}: {report}findings.csv, metrics.csv and the tables that datapackage.json describes.\n",
        out
    ));
    text
}

fn heading(audit: &Audit) -> String {
    let site = &audit.site;
    let rooms: usize = site.homes.iter().map(|h| h.rooms.len()).sum();
    let when = match audit.record() {
        Some(record) => {
            format!("{} to {} ({})", site.zone.show(record.from), site.zone.show(record.to), site.zone.name())
        }
        None => "no readings".to_owned(),
    };
    let (seen, kept, aside) = audit.rows();
    let homes = site.homes.len();
    let mut text =
        format!("{}: {homes} home{}, {rooms} rooms, {when}\n", site.name, if homes == 1 { "" } else { "s" });
    text.push_str(&match audit.from_aligned {
        true => "From an aligned table: loggers and rows of exports were not judged again\n".to_owned(),
        false => format!("Rows: {seen} seen = {kept} kept + {aside} set aside\n"),
    });
    let show = |degc: f64| site.units.show(Celsius::new(degc));
    if let Some(band) = site.bands.occupied {
        let night = site.bands.night.map_or(String::new(), |n| {
            format!(", at night {} to {}", site.units.show(n.lower), site.units.show(n.upper))
        });
        text.push_str(&format!(
            "Band: {} to {}{night}\n",
            site.units.show(band.lower),
            site.units.show(band.upper)
        ));
    }
    if let Some(rule) = &site.heat_rule {
        text.push_str(&wrap(&format!("Heat rule: {}; {HEAT_RULE_CAUTION}\n", rule.title()), "  "));
    }
    let outdoor = |metric: &Metric| {
        audit.outdoor.as_ref()?.metrics.iter().find(|r| r.metric == metric).map(|r| show(r.value))
    };
    if let (Some(low), Some(high)) = (outdoor(&metrics::OUTDOOR_MINIMUM), outdoor(&metrics::OUTDOOR_MAXIMUM))
    {
        text.push_str(&format!("Outdoors: {low} to {high}\n"));
    }
    if let Some(taken_off) = audit.taken_off() {
        text.push_str(&wrap(&format!("{taken_off}\n"), "  "));
    }
    text
}

/// Findings of a home that the terminal shows.
const FINDINGS_TOLD: usize = 10;

fn home_lines(site: &Site, home: &HomeAudit, colour: bool) -> String {
    let standing = home.standing();
    let mut text =
        format!("\n{}  {}: {}\n", paint(standing.word(), standing, colour), home.name, standing.meaning());
    let pressing: Vec<&Finding> = home.findings.iter().filter(|f| f.severity != Severity::Note).collect();
    for finding in pressing.iter().take(FINDINGS_TOLD) {
        // Of one period there is no need to say which.
        let named = site.periods.len() > 1 && site.periods.iter().any(|p| p.name == finding.of);
        let period = if named { format!("{}: ", finding.of) } else { String::new() };
        let line =
            format!("  {:<6} {:<19} {period}{}\n", finding.severity.word(), finding.rule, finding.shows);
        text.push_str(&wrap(&line, "         "));
    }
    if pressing.len() > FINDINGS_TOLD {
        text.push_str(&format!("  … and {} more: see findings.csv\n", pressing.len() - FINDINGS_TOLD));
    }
    for open in open_lines(&home.not_judged) {
        text.push_str(&wrap(&format!("  not judged: {open}\n"), "         "));
    }
    text.push_str(&serious_cold(site, home));
    text
}

/// Rooms below 16 °C for half a day and more, whether anything was asked of them or not.
fn serious_cold(site: &Site, home: &HomeAudit) -> String {
    let periods = site.period_names();
    let line = |period: &&str| {
        let words = below_sixteen(&home.metrics, &home.findings, period, site.units)?;
        let named = if periods.len() > 1 { format!("{period}: ") } else { String::new() };
        Some(wrap(&format!("  {named}{words}\n"), "         "))
    };
    periods.iter().filter_map(line).collect()
}

/// Each next step once, in the order of the rules.
fn what_to_do(told: &[&HomeAudit]) -> String {
    let findings = || told.iter().flat_map(|h| &h.findings).filter(|f| f.severity != Severity::Note);
    let of_rule = |name: &'static str| {
        let mut steps: Vec<(&str, &str)> =
            findings().filter(|f| f.rule == name).map(|f| (f.rule, f.next_step)).collect();
        steps.sort_unstable();
        steps.dedup();
        steps
    };
    let steps = RULES.iter().flat_map(|r| of_rule(r.name));
    let steps: Vec<String> = steps.map(|(rule, step)| wrap(&format!("  {rule}: {step}\n"), "    ")).collect();
    if steps.is_empty() { String::new() } else { format!("\nWhat to do\n{}", steps.concat()) }
}

fn counts(audit: &Audit) -> String {
    let of = |s: Standing| audit.homes.iter().filter(|h| h.standing() == s).count();
    let parts: Vec<String> =
        Standing::ALL.into_iter().filter(|s| of(*s) > 0).map(|s| format!("{} {}", of(s), s.word())).collect();
    format!(
        "\nHomes: {}. A measurement, no legal finding; local code and licensed practice decide.\n",
        parts.join(", ")
    )
}

fn paint(word: &str, standing: Standing, colour: bool) -> String {
    let code = match standing {
        Standing::Urgent | Standing::Visit => "1;31",
        Standing::Undecided | Standing::Watch => "1;33",
        Standing::Clear => "1;32",
    };
    if colour { format!("\x1b[{code}m{word}\x1b[0m") } else { word.to_owned() }
}

/// Breaks a line at blanks; what follows the first break is indented.
fn wrap(line: &str, indent: &str) -> String {
    let mut text = String::new();
    let mut width = 0;
    for (i, word) in line.split(' ').enumerate() {
        let length = word.chars().count();
        if i > 0 && width + 1 + length > WIDTH && !word.is_empty() {
            text.push('\n');
            text.push_str(indent);
            width = indent.len();
        } else if i > 0 {
            text.push(' ');
            width += 1;
        }
        text.push_str(word);
        width += length;
    }
    text
}
