//! Do the intervals hold the truth as often as they say?
//!
//! Homes of two kinds of physics are simulated and watched with loggers that err, round and trail; the truth is what the same
//! homes do, by their true temperatures, in other weeks of the same winter (benches/intervals.md says of what). `cargo bench --bench intervals`
//! prints the table of four weeks, with `-- --days 120` that of a winter, with `-- --comparisons` that of `compare` (first physics
//! only: nothing is mended in the second), with `-- --write` it also renews it in benches/intervals.md. `--from` and `--seeds`
//! take other homes, `--plain` or `--lived-in` those of one physics only, `--misses` tells every case that was missed.
#![allow(clippy::disallowed_methods, clippy::print_stdout, reason = "an instrument, run by hand")]

mod cold;
mod comparison;
mod decide;
#[path = "../scoreboard/drawn.rs"]
mod drawn;
mod held;
mod home;
mod long_run;
mod watch;

use evenrooms::simulate::{Homes, Plan, Simulation};

use comparison::Regimes;
use held::{Scores, table};
use home::Home;

/// First seed of the page: what is set in the program is set on seeds below it.
const FIRST_SEED: u64 = 1000;
/// Buildings (each with a weather of its own) and homes in each.
const HOMES: usize = 8;
const PAGE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/benches/intervals.md");
/// First day of a record of more than four weeks: most of it is winter.
const EARLY: &str = "2025-11-10";

fn main() {
    let args: Vec<String> = std::env::args().collect();
    let number = |name: &str| args.iter().position(|a| a == name).and_then(|i| args.get(i + 1)?.parse().ok());
    let asked = |flag: &str| args.iter().any(|a| a == flag);
    let misses = asked("--misses");
    let days = number("--days").unwrap_or(drawn::DAYS as u64) as usize;
    let is_long = days > drawn::DAYS;
    let from = number("--from").unwrap_or(FIRST_SEED);
    let seeds = from..from + number("--seeds").unwrap_or(if is_long { 10 } else { 30 });
    // Of longer records fewer weathers make up as many weeks.
    let weathers = if is_long { 5 } else { 10 };
    let (name, text) = if asked("--comparisons") {
        let mut scores = Scores::new(misses);
        seeds.clone().for_each(|seed| Regimes::score(seed, HOMES, 2 * weathers, &mut scores));
        ("comparisons".to_owned(), table(&[("plain", &scores)]))
    } else {
        let kinds = [("plain", "--lived-in"), ("lived in", "--plain")];
        let wanted = kinds.into_iter().filter(|(_, without)| !asked(without)).map(|(kind, _)| kind);
        // Nothing of one physics depends on the other.
        let scored: Vec<(&str, Scores)> = std::thread::scope(|scope| {
            let watch =
                |kind| scope.spawn(move || (kind, score(kind, (from..seeds.end, days, weathers), misses)));
            let threads: Vec<_> = wanted.map(watch).collect();
            threads.into_iter().map(|thread| thread.join().expect("no home ends the bench")).collect()
        });
        let homes = scored.iter().map(|(kind, scores)| format!("{} homes ({kind})", scores.homes));
        let homes = homes.collect::<Vec<_>>().join(" and ");
        let of: Vec<(&str, &Scores)> = scored.iter().map(|(kind, scores)| (*kind, scores)).collect();
        let of_what =
            format!("{homes}, {days} days each; the truth from {weathers} other weathers of as many days.");
        (format!("{days} days"), format!("{of_what}\n\n{}", table(&of)))
    };
    println!("{text}");
    if asked("--write") {
        write(&name, &text);
    }
}

fn score(kind: &str, (seeds, days, weathers): (std::ops::Range<u64>, usize, u64), misses: bool) -> Scores {
    let mut scores = Scores::new(misses);
    for seed in seeds {
        let homes_from = match kind {
            "plain" => Homes::Drawn { troubles: 0.5, faults: 0.0 },
            _ => Homes::LivedIn { troubles: 0.5, faults: 0.0 },
        };
        let four_weeks = drawn::plan(seed, HOMES, homes_from);
        let start = if days > drawn::DAYS { EARLY.parse().expect("a date") } else { four_weeks.start };
        let plan = Plan { days, start, ..four_weeks };
        let simulation = Simulation::new(plan.clone());
        // Of other weeks only the true air is asked for: their loggers may be slow, and cost less.
        let same_homes = Simulation::new(Plan { interval_s: 3600, ..plan });
        let others: Vec<Simulation> =
            (1..=weathers).map(|w| same_homes.under_weather_of(seed * 1000 + w)).collect();
        (0..HOMES).for_each(|home| Home::score_of(&simulation, &others, home, &mut scores));
    }
    scores
}

/// Renews a table of the page.
fn write(name: &str, table: &str) {
    let (begin, end) =
        (format!("<!-- intervals, {name}: from here -->\n"), format!("<!-- intervals, {name}: to here -->"));
    let page = std::fs::read_to_string(PAGE).expect("benches/intervals.md can be read");
    let (before, rest) = page.split_once(&begin).expect("benches/intervals.md has the place for the table");
    let (_, after) = rest.split_once(&end).expect("benches/intervals.md has the end of the table");
    std::fs::write(PAGE, format!("{before}{begin}{table}{end}{after}"))
        .expect("benches/intervals.md can be written");
}
