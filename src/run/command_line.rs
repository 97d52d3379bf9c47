//! A command line from its words to the exit code: whoever starts the program comes in here.

use std::ffi::OsString;
use std::panic::{AssertUnwindSafe, catch_unwind};

use clap::Parser;

use super::{NOT_DONE, Signals, run};
use crate::cli::Cli;
use crate::console::{self, Console};
use crate::error::{Error, Result};

/// Runs a command line, of which the first word is the program's name; the answer is the exit code. Signals end the
/// process from then on.
pub fn command_line(words: impl IntoIterator<Item = OsString>) -> u8 {
    match Cli::try_parse_from(words) {
        Ok(cli) => answer(&cli),
        Err(usage) => told(&Console::new(false), console::usage(&usage)),
    }
}

fn answer(cli: &Cli) -> u8 {
    let console = Console::new(cli.quiet);
    match Signals::watch() {
        Ok(signals) => {
            let work = AssertUnwindSafe(|| run(cli, &console));
            let answer = told(&console, catch_unwind(work).unwrap_or(Err(Error::Panicked)));
            signals.give_way();
            answer
        }
        Err(error) => told(&console, Err(error)),
    }
}

fn told(console: &Console, answer: Result<u8>) -> u8 {
    answer.unwrap_or_else(|error| {
        console.error(&error);
        NOT_DONE
    })
}
