//! The `evenrooms` program: see [`evenrooms::run`].

use std::process::ExitCode;

fn main() -> ExitCode {
    ExitCode::from(evenrooms::run::command_line(std::env::args_os()))
}
