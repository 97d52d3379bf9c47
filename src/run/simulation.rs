//! `evenrooms simulate`.

use super::exports_first::option;
use super::threads::Threads;
use super::{DONE, progress};
use crate::cli::{Physics, Scenario, SimulateArgs};
use crate::clock::Zone;
use crate::console::{Console, as_typed};
use crate::error::Result;
use crate::files::Fresh;
use crate::simulate::{Homes, Plan, Simulation, TrueHome, alder_row, truth_json};
use crate::units::parse_duration_s;

/// Time zone of the simulated building.
const ZONE: &str = "America/Chicago";

/// Writes an invented building: homes are made side by side, and each is written when it is done.
pub(super) fn simulate(args: &SimulateArgs, threads: &Threads, console: &Console) -> Result<u8> {
    let simulation = Simulation::new(plan(args)?);
    let files = Fresh::begin_empty(&args.out)?;
    files.write("site.toml", simulation.site_file().as_bytes())?;
    files.write("exports/weather.csv", &simulation.weather_file())?;
    let bar = progress(console, simulation.plan().homes as u64, "homes", "simulating");
    let one = |home: &usize| -> Result<(String, TrueHome)> {
        let made = simulation.home(*home);
        for (name, bytes) in &made.files {
            files.write(&format!("exports/{name}"), bytes)?;
        }
        bar.inc(1);
        Ok((made.roster, made.truth))
    };
    let homes = threads.each(&(0..simulation.plan().homes).collect::<Vec<_>>(), one)?;
    bar.finish_and_clear();
    let rows: String = homes.iter().map(|(rows, _)| rows.as_str()).collect();
    files.write("roster.csv", format!("{}{rows}", simulation.roster_header()).as_bytes())?;
    let truth: Vec<TrueHome> = homes.into_iter().map(|(_, truth)| truth).collect();
    files.write("truth.json", &truth_json(&simulation, &truth))?;
    files.publish()?;
    let site = args.out.join("site.toml");
    console.message(&format!(
        "Simulated {} homes for {} days. Try: evenrooms audit {} --out {}",
        simulation.plan().homes,
        simulation.plan().days,
        as_typed(&site),
        as_typed(&args.out.join("audit"))
    ));
    Ok(DONE)
}

fn plan(args: &SimulateArgs) -> Result<Plan> {
    if args.scenario == Some(Scenario::AlderRow) {
        return Ok(alder_row());
    }
    let minute = |text: &str| parse_duration_s(text).ok().filter(|s| (10..=7200).contains(s));
    let share = |text: &str| text.parse().ok().filter(|x: &f64| (0.0..=1.0).contains(x));
    let troubles = option("--troubles", &args.troubles.to_string(), share, "a share from 0 to 1")?;
    let faults = option("--faults", &args.faults.to_string(), share, "a share from 0 to 1")?;
    Ok(Plan {
        seed: args.seed.unwrap_or_default(),
        homes: args.homes as usize,
        days: args.days as usize,
        interval_s: option("--interval", &args.interval, minute, "10 s to 2 h, such as \"5 min\"")?,
        start: option("--start", &args.start, |t| t.parse().ok(), "a date such as 2026-01-05")?,
        zone: Zone::parse(ZONE).expect("the zone is in the IANA database"),
        homes_from: match args.physics {
            Physics::Plain => Homes::Drawn { troubles, faults },
            Physics::LivedIn => Homes::LivedIn { troubles, faults },
        },
    })
}
