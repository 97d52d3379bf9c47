//! Do the intervals hold the truth as often as they say?
//!
//! Homes are simulated and watched for four weeks with loggers that err; the truth is what the same homes do, by their
//! true temperatures, in many other four weeks of the same winter. `cargo bench --bench intervals` prints the table; with
//! `-- --write` it also renews the one in benches/intervals.md, and with `-- --comparisons` only those of `compare` are scored, with
//! `-- --without-comparisons` none of them.
//! `-- --lived-in` prints it for homes of the second physics, without comparisons: nothing is mended in them.
#![allow(clippy::disallowed_methods, clippy::print_stdout, reason = "an instrument, run by hand")]

mod comparison;
#[path = "../scoreboard/drawn.rs"]
mod drawn;
#[path = "../scoreboard/lived_in.rs"]
mod lived_in;
mod watch;

use std::collections::BTreeMap;
use std::fmt::Write as _;

use evenrooms::simulate::Simulation;

use comparison::Regimes;
use watch::{Held, Home};

/// Which homes are watched.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Of {
    /// Those of the first physics.
    Plain,
    /// Those of the second.
    LivedIn,
}

impl Of {
    fn building(self, seed: u64, homes: usize) -> Simulation {
        match self {
            Of::Plain => drawn::building(seed, homes, 0.0),
            Of::LivedIn => lived_in::building(seed, homes, 0.0),
        }
    }
}

/// Buildings (each with a weather of its own) and homes in each.
const SEEDS: std::ops::Range<u64> = 1000..1045;
const HOMES: usize = 8;
/// Other weathers that make up the truth.
const WEATHERS: u64 = 8;
const PAGE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/benches/intervals.md");
const FROM: &str = "<!-- intervals: from here -->\n";
const TO: &str = "<!-- intervals: to here -->";

fn main() {
    let number = |name: &str| {
        let args: Vec<String> = std::env::args().collect();
        args.iter().position(|a| a == name).and_then(|i| args.get(i + 1)?.parse::<u64>().ok())
    };
    let seeds = number("--seeds").map_or(SEEDS, |n| SEEDS.start..SEEDS.start + n);
    let asked = |flag: &str| std::env::args().any(|a| a == flag);
    let of = if asked("--lived-in") { Of::LivedIn } else { Of::Plain };
    let mut held: BTreeMap<String, Held> = BTreeMap::new();
    let mut homes = 0;
    for seed in seeds {
        if of == Of::Plain && !asked("--without-comparisons") {
            Regimes::score(seed, HOMES, 2 * WEATHERS, &mut held);
        }
        if asked("--comparisons") {
            continue;
        }
        for home in Home::all_of(of, seed, HOMES, WEATHERS) {
            home.score(&mut held);
            homes += 1;
        }
    }
    let table = table(homes, &held);
    println!("{table}");
    if asked("--write") && of == Of::Plain {
        let page = std::fs::read_to_string(PAGE).expect("benches/intervals.md can be read");
        let (before, rest) = page.split_once(FROM).expect("benches/intervals.md has the place for the table");
        let (_, after) = rest.split_once(TO).expect("benches/intervals.md has the end of the table");
        std::fs::write(PAGE, format!("{before}{FROM}{table}{TO}{after}"))
            .expect("benches/intervals.md can be written");
    }
}

fn table(homes: u32, held: &BTreeMap<String, Held>) -> String {
    let mut text = format!(
        "{homes} homes, 28 days each; the truth from {WEATHERS} other weathers of 28 days each.\n\n\
         | interval | claims | cases | held the truth | truth below | truth above | no upper end | median width |\n|---|---|---|---|---|---|---|---|\n"
    );
    for (name, h) in held {
        let share = |n: u32| 100.0 * f64::from(n) / f64::from(h.cases.max(1));
        let _ = writeln!(
            text,
            "| {name} | {} % | {} | {:.1} % | {:.1} % | {:.1} % | {:.0} % | {} |",
            h.claims,
            h.cases,
            share(h.cases - h.below - h.above),
            share(h.below),
            share(h.above),
            share(h.open),
            h.width_words()
        );
    }
    text
}
