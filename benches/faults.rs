//! The scoreboard: how well the audit finds what a simulated building truly has.
//!
//! `cargo bench --bench faults` prints it over many seeds; with `-- --write` it also renews the table in benches/scoreboard.md.
//! `-- --misses` prints what was missed and what is wrong line by line, `-- --seeds 400..430` takes other seeds,
//! `-- --usual`, `-- --mixed` and `-- --lived-in` measure one set of homes alone, `-- --keep DIR` writes its homes as folders instead.
#![allow(clippy::disallowed_methods, clippy::print_stdout, reason = "an instrument, run by hand")]

mod scoreboard;

/// Limits are set on seeds below 1000, so that these are new to the audit.
const SEEDS: std::ops::Range<u64> = 1000..1040;
const HOMES: usize = 20;
const PAGE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/benches/scoreboard.md");
const FROM: &str = "<!-- scoreboard: from here -->\n";
const TO: &str = "<!-- scoreboard: to here -->";

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    let asked = |flag: &str| arguments.iter().any(|a| a == flag);
    let all = [scoreboard::Homes::Usual, scoreboard::Homes::Mixed, scoreboard::Homes::LivedIn];
    let flags = ["--usual", "--mixed", "--lived-in"];
    let only = flags.iter().position(|flag| asked(flag)).map(|set| all[set]);
    let of = all.into_iter().filter(|of| only.is_none_or(|only| only == *of));
    if let Some(to) = arguments.iter().skip_while(|a| *a != "--keep").nth(1) {
        of.for_each(|of| {
            scoreboard::kept::keep(of, seeds(&arguments), HOMES, to.as_ref())
                .expect("the folder can be written")
        });
        return;
    }
    let scores: Vec<_> = of.map(|of| scoreboard::measure(of, seeds(&arguments), HOMES)).collect();
    let table = scores.iter().map(scoreboard::table).collect::<Vec<_>>().join("\n");
    println!("{table}");
    if asked("--misses") {
        scores.iter().flat_map(|score| &score.events.misses).for_each(|line| println!("{line}"));
    }
    if asked("--write") && only.is_none() {
        let page = std::fs::read_to_string(PAGE).expect("benches/scoreboard.md can be read");
        let (before, rest) =
            page.split_once(FROM).expect("benches/scoreboard.md has the place for the table");
        let (_, after) = rest.split_once(TO).expect("benches/scoreboard.md has the end of the table");
        std::fs::write(PAGE, format!("{before}{FROM}{table}{TO}{after}"))
            .expect("benches/scoreboard.md can be written");
    }
}

/// The seeds of `--seeds FROM..TO`, else those of the page.
fn seeds(arguments: &[String]) -> std::ops::Range<u64> {
    let Some(at) = arguments.iter().position(|a| a == "--seeds") else { return SEEDS };
    let (from, to) =
        arguments.get(at + 1).and_then(|range| range.split_once("..")).expect("seeds as 400..430");
    let number = |text: &str| text.parse().expect("a seed is a number");
    number(from)..number(to)
}
