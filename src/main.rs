//! The `evenrooms` program: see [`evenrooms::run`].

use std::process::ExitCode;

use clap::Parser;
use evenrooms::cli::Cli;
use evenrooms::console::{self, Console};
use evenrooms::error::Result;
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
            let answer = told(&console, run::run(cli, &console));
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
