//! The terminal: results on stdout, messages on stderr. A closed pipe is no error; a full disk behind stdout is one.

mod ask;
mod check;
mod comparison;
mod complaint;
mod exports;
mod plan;
mod portfolio;
mod summary;
mod typed;

pub use ask::{LATER, STOP, Said, ask, can_ask};
pub use check::{check_json, checked};
pub use comparison::compared;
pub use complaint::complaint;
pub use exports::{drafted, inspection};
pub use plan::{plan_json, planned};
pub use portfolio::portfolio;
pub use summary::{Told, homes_told, json, summary};
pub use typed::as_typed;

use std::io::{self, IsTerminal, Write};
use std::path::PathBuf;

use crate::audit::Audit;
use crate::error::{Error, Result};
use crate::texts::{shown_json, shown_lines};

/// Notes told one by one, and where a line for each home is all that is asked for.
pub const NOTES_TOLD: usize = 12;
/// As [`NOTES_TOLD`], of an audit without `--details`.
pub const FEW_NOTES: usize = 3;
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

    /// What another program is to read, byte by byte.
    ///
    /// # Errors
    /// [`Error::Disk`] where standard output takes no more.
    pub fn bytes(&self, bytes: &[u8]) -> Result<()> {
        let mut out = io::stdout().lock();
        taken(out.write_all(bytes).and_then(|()| out.flush()))
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
    pub fn notes(&self, audit: &Audit, most: usize) {
        if self.quiet {
            return;
        }
        let mut err = std::io::stderr().lock();
        let count = audit.notes().count();
        for note in audit.notes().take(most) {
            let _ = writeln!(err, "note: {}", shown_lines(&note.to_string()));
        }
        if count > most {
            let (more, are) = (count - most, if count - most == 1 { "note is" } else { "notes are" });
            let _ = writeln!(err, "note: {more} more {are} in provenance.json");
        }
    }

    /// The result of a command in a page; `quiet` leaves it out.
    ///
    /// # Errors
    /// [`Error::Disk`] where standard output takes no more.
    pub fn report(&self, text: &str) -> Result<()> {
        if self.quiet { Ok(()) } else { put(&shown_lines(text)) }
    }

    /// The audit in a page: a line for each home, the worst first; `details`: with its cases, and what to do.
    ///
    /// # Errors
    /// [`Error::Disk`] where standard output takes no more.
    pub fn summary(&self, audit: &Audit, told: &Told<'_>, details: bool) -> Result<()> {
        if self.quiet { Ok(()) } else { put(&summary(audit, told, details, self.colour)) }
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

/// What another program hands on, to be read byte by byte.
pub fn input() -> impl io::Read {
    io::stdin().lock()
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
