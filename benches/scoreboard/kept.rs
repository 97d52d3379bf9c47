//! Homes of the scoreboard as folders, to be audited and looked at like any other.

use std::fs;
use std::io;
use std::path::Path;

use super::{Homes, watched};

/// Writes each home of the buildings of some seeds into a folder `SEED-HOME` of its own: site file, roster, exports, weather, truth.
/// The weather file is there in any case; whether the scoreboard had it is in the site file.
///
/// # Errors
/// What the disk says.
#[allow(dead_code, reason = "the tests measure a few homes and keep none")]
pub(crate) fn keep(of: Homes, seeds: std::ops::Range<u64>, homes: usize, to: &Path) -> io::Result<()> {
    for seed in seeds {
        let simulation = of.building(seed, homes);
        for home in 0..homes {
            let made = simulation.home(home);
            let (site, weather) = of.site(&simulation, &made, home);
            let folder = to.join(format!("{seed}-{}", site.homes[0].name));
            fs::create_dir_all(folder.join("exports"))?;
            fs::write(folder.join("site.toml"), watched::site_file(&simulation, weather.is_some()))?;
            fs::write(folder.join("roster.csv"), format!("{}{}", simulation.roster_header(), made.roster))?;
            fs::write(folder.join("weather.csv"), simulation.weather_file())?;
            let truth = serde_json::to_string_pretty(&made.truth).map_err(io::Error::other)?;
            fs::write(folder.join("truth.json"), truth)?;
            for (name, bytes) in &made.files {
                let file = folder.join("exports").join(name);
                fs::create_dir_all(file.parent().unwrap_or(&folder))?;
                fs::write(file, bytes)?;
            }
        }
    }
    Ok(())
}
