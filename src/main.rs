//! The `evenrooms` program: see [`evenrooms::run`].

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::process::ExitCode;

use clap::Parser;
use evenrooms::cli::Cli;
use evenrooms::console::{self, Console};
use evenrooms::error::{Error, Result};
use evenrooms::run;

fn main() -> ExitCode {
    let answer = match Cli::try_parse() {
        Ok(cli) => answer(&cli),
        Err(usage) => told(&Console::new(false), console::usage(&usage)),
    };
    ExitCode::from(answer)
}

fn answer(cli: &Cli) -> u8 {
    let console = Console::new(cli.quiet);
    match run::Signals::watch() {
        Ok(signals) => {
            let work = AssertUnwindSafe(|| run::run(cli, &console));
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
        run::NOT_DONE
    })
}
