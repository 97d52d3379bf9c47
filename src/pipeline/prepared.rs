//! What all homes of a building share: the weather, what the side-by-side check found, the accuracies that follow from it.

use super::colocation::{AllBeside, HomeBeside, Offsets};
use super::home::OpenedHome;
use super::outdoor::OutdoorRecord;
use super::result::HomeResult;
use super::{Read, read_files};
use crate::audit::HomeAudit;
use crate::clock::Span;
use crate::error::{Note, Result};
use crate::exports::SetAsides;
use crate::grid::{AlignedHome, RoomValues};
use crate::site::{DEFAULT_ACCURACY, Home, SITE_FILE, Site};
use crate::tables::{RoomRows, WeatherRows};
use crate::units::Accuracy;
use crate::unpack::file_and_part;

/// A building of which every home can be audited by itself, in any order and side by side.
pub struct Prepared {
    site: Site,
    outdoor: Option<OutdoorRecord>,
    offsets: Offsets,
    notes: Vec<Note>,
}

impl Prepared {
    /// Reads the exports that all homes share: those of a side-by-side check, and the weather.
    ///
    /// # Errors
    /// [`crate::error::Error::Mistakes`] where the loggers did not lie side by side when the site file says so;
    /// [`crate::error::Error::Imbalance`], a bug.
    pub fn new(site: Site, read: &mut Read<'_>) -> Result<Self> {
        let mut preparing = Preparing::begin(site);
        for home in &preparing.homes() {
            let beside = preparing.read_home(home, read)?;
            preparing.add(beside);
        }
        preparing.finish(SITE_FILE, read)
    }

    /// A building whose weather is on the grid already, as its only room; nothing is known of loggers side by side.
    pub fn under_weather(site: Site, weather: Option<AlignedHome>) -> Self {
        let outdoor = weather.map(OutdoorRecord::of_weather);
        Self { site, outdoor, offsets: Offsets::new(), notes: Vec::new() }
    }

    /// A building from the tables of an earlier audit: `weather` are the rows of its weather table.
    pub fn restored(site: Site, weather: WeatherRows) -> Self {
        let weather = (!weather.times_ms.is_empty()).then(|| restore_weather(&site, weather));
        Self::under_weather(site, weather)
    }

    /// The site, with the accuracies that the side-by-side check gives.
    pub const fn site(&self) -> &Site {
        &self.site
    }

    /// The weather on the grid, as its only room, where it can be used.
    pub fn weather(&self) -> Option<&AlignedHome> {
        self.outdoor.as_ref()?.weather.as_ref()
    }

    /// What became of the weather's own record, as of a home without a name.
    pub fn outdoor(&self) -> Option<&HomeAudit> {
        self.outdoor.as_ref().map(|outdoor| &outdoor.audit)
    }

    /// The same, to be kept when all homes are read.
    pub fn into_outdoor(self) -> Option<HomeAudit> {
        self.outdoor.map(|outdoor| outdoor.audit)
    }

    /// Rows of the weather's export that did not become readings.
    pub fn outdoor_set_aside(&self) -> Option<&SetAsides> {
        self.outdoor.as_ref().map(|outdoor| &outdoor.set_aside)
    }

    /// Notes about the site as a whole.
    pub fn notes(&self) -> &[Note] {
        &self.notes
    }

    /// One home from the bytes of its exports to its cases.
    ///
    /// # Errors
    /// [`crate::error::Error::Imbalance`]: a bug.
    pub fn home(&self, home: &Home, read: &mut Read<'_>) -> Result<HomeResult> {
        Ok(self.open(home, read)?.judge())
    }

    /// The first half of [`Prepared::home`]: to its rooms on the grid.
    ///
    /// # Errors
    /// As [`Prepared::home`].
    pub fn open(&self, home: &Home, read: &mut Read<'_>) -> Result<OpenedHome> {
        OpenedHome::of(&self.site, home, &read_files(home, read), &self.offsets, self.weather())
    }

    /// The same from its rows of an earlier audit's aligned table, whose accuracies hold now too; rooms without rows have no
    /// value.
    pub fn reopen(&self, home: &Home, rows: Vec<RoomRows>) -> OpenedHome {
        OpenedHome::restored(&self.site, &with_accuracies(home, &rows), rows, self.weather())
    }
}

/// A building in preparation: the exports of each home are read once for its side-by-side check, in any order and side by
/// side; then the weather.
pub struct Preparing {
    site: Site,
    beside: AllBeside,
}

impl Preparing {
    /// Nothing is read yet.
    pub fn begin(site: Site) -> Self {
        Self { site, beside: AllBeside::default() }
    }

    /// The homes whose exports are to be read; none where the site has no side-by-side check.
    pub fn homes(&self) -> Vec<Home> {
        self.site.colocation.as_ref().map_or(Vec::new(), |_| self.site.homes.clone())
    }

    /// What the loggers of a home recorded side by side.
    ///
    /// # Errors
    /// [`crate::error::Error::Imbalance`]: a bug.
    pub fn read_home(&self, home: &Home, read: &mut Read<'_>) -> Result<HomeBeside> {
        HomeBeside::of(&self.site, home, &read_files(home, read))
    }

    /// Adds what was read of a home, in roster order.
    pub fn add(&mut self, home: HomeBeside) {
        self.beside.add(home);
    }

    /// Settles what came of each logger, and reads the weather; `site_file` is what a message calls the site file.
    ///
    /// # Errors
    /// As [`Prepared::new`].
    pub fn finish(self, site_file: &str, read: &mut Read<'_>) -> Result<Prepared> {
        let (site, offsets, notes) = self.beside.settle(self.site, site_file)?;
        let source = site.outdoor.clone();
        let outdoor = source.map(|outdoor| {
            let files = read(&[file_and_part(outdoor.source.file.own()).0]);
            OutdoorRecord::read(&site, &outdoor.source, &files)
        });
        Ok(Prepared { outdoor: outdoor.transpose()?, site, offsets, notes })
    }
}

fn restore_weather(site: &Site, rows: WeatherRows) -> AlignedHome {
    let values = RoomValues {
        times_ms: rows.times_ms,
        degc: rows.degc,
        humidity: None,
        placed: vec![Span::ALWAYS],
        suspect: Vec::new(),
        accuracy: Accuracy::stated(DEFAULT_ACCURACY),
    };
    AlignedHome::restore(site, vec![values])
}

/// Accuracies of that audit hold now too: its values are those that are judged.
fn with_accuracies(home: &Home, rows: &[RoomRows]) -> Home {
    let mut home = home.clone();
    for room in &mut home.rooms {
        let Some(rows) = rows.iter().find(|r| r.room == room.name) else { continue };
        for placement in &mut room.placements {
            placement.checked = Some(rows.accuracy);
        }
    }
    home
}
