//! The scoreboard: how well the audit finds what a simulated building truly has.
//!
//! `cargo bench --bench faults` prints it over many seeds; with `-- --write` it also renews the table in benches/scoreboard.md.
#![allow(clippy::disallowed_methods, clippy::print_stdout, reason = "an instrument, run by hand")]

mod scoreboard;

/// Limits are set on seeds below 1000, so that these are new to the audit.
const SEEDS: std::ops::Range<u64> = 1000..1040;
const HOMES: usize = 20;
const PAGE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/benches/scoreboard.md");
const FROM: &str = "<!-- scoreboard: from here -->\n";
const TO: &str = "<!-- scoreboard: to here -->";

fn main() {
    let of = [scoreboard::Homes::Usual, scoreboard::Homes::Mixed];
    let tables = of.map(|of| scoreboard::table(&scoreboard::measure(of, SEEDS, HOMES)));
    let table = tables.join("\n");
    println!("{table}");
    if std::env::args().any(|a| a == "--write") {
        let page = std::fs::read_to_string(PAGE).expect("benches/scoreboard.md can be read");
        let (before, rest) =
            page.split_once(FROM).expect("benches/scoreboard.md has the place for the table");
        let (_, after) = rest.split_once(TO).expect("benches/scoreboard.md has the end of the table");
        std::fs::write(PAGE, format!("{before}{FROM}{table}{TO}{after}"))
            .expect("benches/scoreboard.md can be written");
    }
}
