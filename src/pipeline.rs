//! A building from the bytes of its exports to its cases, home by home. It meets neither disk nor terminal nor other
//! threads, so that the commands, the benches and whoever uses the library run the same.
//!
//! What all homes share is [`Prepared`] once; [`Prepared::home`] gives a [`HomeResult`] of each by itself, in any order;
//! what is [kept](HomeResult::keep) of them becomes a [`Building`]. Bytes are had by a function, so that memory serves as
//! well as a folder.
//!
//! # Example
//! One home with one logger, without a disk:
//! ```
//! use evenrooms::exports::Files;
//! use evenrooms::pipeline::{Building, Keep, Prepared};
//! use evenrooms::site::read_site_file;
//!
//! let site = "[site]\nname = \"Alder Row\"\ntime_zone = \"UTC\"\nroster = \"roster.csv\"\n[band]\nlower = \"20 °C\"\nupper = \"24 °C\"\n";
//! let roster = "home,room,use,heated,logger,file\n1A,living,living,yes,L-1,living.csv\n";
//! // A day, a reading every five minutes: 19 °C until noon, then 21 °C.
//! let mut living = "time,temperature (°C)\n".to_owned();
//! for minute in (0..24 * 60).step_by(5) {
//!     let degc = if minute < 12 * 60 { 19.0 } else { 21.0 };
//!     living += &format!("2026-01-05 {:02}:{:02},{degc:.1}\n", minute / 60, minute % 60);
//! }
//! let mut read = |names: &[&str]| -> Files {
//!     names.iter().map(|name| ((*name).to_owned(), Ok(living.clone().into_bytes()))).collect()
//! };
//!
//! let site = read_site_file("site.toml", site).with_roster("roster.csv", roster.as_bytes())?;
//! let prepared = Prepared::new(site, &mut read)?;
//! let home = prepared.home(&prepared.site().homes[0], &mut read)?;
//! let below = home.metrics().iter().find(|row| row.metric.id == "hours_below_band").unwrap();
//! assert_eq!((below.room.as_deref(), below.value), (Some("living"), 12.0));
//!
//! // Every table of the home, as Arrow has it in memory.
//! let batches = home.batches()?;
//! let (_, readings) = batches.iter().find(|(table, _)| table.name == "readings").unwrap();
//! assert_eq!(readings.num_rows(), 288);
//!
//! // What all homes of the building come to; here it is one.
//! let building = Building::of(prepared.site(), vec![home.keep(Keep::ForReport)], None);
//! assert_eq!(building.homes[0].name, "1A");
//! # Ok::<(), evenrooms::error::Error>(())
//! ```

mod beside;
mod building;
mod colocation;
mod home;
mod outdoor;
mod prepared;
mod result;
mod standing;
mod unjudged_time;
mod weather;

pub use building::{BesideRoster, Building, Unnamed, with_copies_told};
pub use colocation::HomeBeside;
pub use home::OpenedHome;
pub use prepared::{Prepared, Preparing};
pub use result::{EncodedHome, HomeResult, HomeRows, Keep, KeptHome, waits};
pub use unjudged_time::AFTER_THE_PERIODS;

use crate::exports::Files;
use crate::site::Home;
use crate::unpack::file_and_part;

/// Pairs of extremes of a curve in the report.
pub const TRACE_PAIRS: usize = 750;

/// How the bytes of exports are had, by the file names of the roster, without the part of a packed file; one that cannot be
/// had comes with the reason.
pub type Read<'a> = dyn FnMut(&[&str]) -> Files + 'a;

/// The exports of a home, each once.
fn read_files(home: &Home, read: &mut Read<'_>) -> Files {
    let sources = home.rooms.iter().flat_map(|r| &r.placements).flat_map(|p| &p.sources);
    let mut names: Vec<&str> = Vec::new();
    for name in sources.map(|s| file_and_part(s.file.own()).0) {
        if !names.contains(&name) {
            names.push(name);
        }
    }
    read(&names)
}
