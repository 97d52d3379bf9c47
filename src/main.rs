//! The `evenrooms` program: see [`evenrooms::run`].

use std::process::ExitCode;

use clap::Parser;
use evenrooms::cli::Cli;
use evenrooms::console::Console;
use evenrooms::run;

fn main() -> ExitCode {
    let cli = Cli::parse();
    let console = Console::new(cli.quiet);
    match run::run(&cli, &console) {
        Ok(code) => ExitCode::from(code),
        Err(error) => {
            console.error(&error);
            ExitCode::from(run::NOT_DONE)
        }
    }
}
