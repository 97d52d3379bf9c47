//! `evenrooms worker`: aligned rows of some homes in, their metric rows out, through pipes; for machinery that spreads homes over
//! many machines.
//!
//! Settled here, and why:
//! - **It takes aligned rows, no readings**: clocks, units and side-by-side checks are of the whole site and its exports, which an
//!   audit has on one machine; what is worth spreading is what comes after.
//! - **What the building says of its homes is not in its rows** (offsets from the other homes, means over homes, and verdicts
//!   that a copy in another home takes back): no worker sees the others.
//! - **A stream that stopped halfway has no end mark**, so that nobody takes it for whole.

use std::path::Path;

use arrow::record_batch::RecordBatchReader;

use super::naming::Naming;
use super::source::{fits_roster, unfit, vouched_weather};
use super::{DONE, open_site};
use crate::cli::WorkerArgs;
use crate::console::{self, Console};
use crate::error::{Error, Result, Trouble};
use crate::metrics::MetricRow;
use crate::pipeline::Prepared;
use crate::site::Site;
use crate::tables::{self, AlignedStream, METRICS, StreamOut, WeatherRows};
use crate::texts::shown;

/// What messages call the stream.
const INPUT: &str = "standard input";

/// Reads aligned rows from standard input, and writes metric rows to standard output.
pub(super) fn worker(args: &WorkerArgs, console: &Console) -> Result<u8> {
    let naming = Naming::keyed(args.pseudonyms.as_deref())?;
    let (site, _) = open_site(&args.site)?;
    let site = naming.site(site)?;
    let weather = weather(args.weather.as_deref(), &site)?;
    let prepared = Prepared::restored(site, weather);
    let site = prepared.site();
    let trouble = |t: Trouble| unfit(Path::new(INPUT), t);
    let mut homes = AlignedStream::open(console::input(), site).map_err(trouble)?;
    let mut out = StreamOut::start(&METRICS)?;
    judged(&prepared, &mut homes, &trouble, |rows| {
        let rows: Vec<_> = rows.iter().map(|row| tables::metric_cells(&site.name, row)).collect();
        console.bytes(&out.add(&rows)?)
    })?;
    console.bytes(&out.finish()?)?;
    Ok(DONE)
}

/// Judges homes of an aligned table, one after another, and hands on the metric rows of each.
///
/// # Errors
/// What `trouble` makes of rows that do not fit the site, or of what they are handed on to.
pub(super) fn judged<R: RecordBatchReader>(
    prepared: &Prepared,
    homes: &mut AlignedStream<'_, R>,
    trouble: &impl Fn(Trouble) -> Error,
    mut hand_on: impl FnMut(&[MetricRow]) -> Result<()>,
) -> Result<()> {
    let site = prepared.site();
    while let Some((name, rooms)) = homes.next_home().map_err(trouble)? {
        let Some(home) = site.homes.iter().find(|home| home.name == name) else {
            let what = format!("found home {}, expected homes of the roster only", shown(&name));
            return Err(trouble(Trouble::new(what, "name the site file that the table was made with")));
        };
        fits_roster(site, &name, &rooms).map_err(trouble)?;
        hand_on(prepared.reopen(home, rooms).judge().metrics())?;
    }
    Ok(())
}

/// The weather of the audit that made the rows; a site with weather is not judged without it.
fn weather(path: Option<&Path>, site: &Site) -> Result<WeatherRows> {
    match path {
        Some(path) => Ok(vouched_weather(path, site)?.0),
        None if site.outdoor.is_none() => Ok(WeatherRows::default()),
        None => Err(no_weather("--weather", "name the folder of its results with --weather")),
    }
}

/// A site with weather, and no weather table.
pub(super) fn no_weather(place: &str, hint: &str) -> Error {
    let what =
        "the site file names an outdoor series, expected the weather table of the audit that made the rows";
    Error::Unfit { place: place.to_owned(), what: what.to_owned(), hint: hint.to_owned() }
}
