//! `[band]` of `site.toml`, and the times of day of windows.

use super::common::{TEMPERATURE, read_window};
use super::walk::{Section, Wanted};
use super::{Band, Bands, cautions};
use crate::clock::{DailyWindow, TimeOfDay};
use crate::units::parse_temperature;

pub(super) fn read_bands(top: &Section<'_, '_>) -> Bands {
    let (mut occupied, mut night, mut hours) = (None, None, None);
    if let Some(band) = top.section("band") {
        occupied = read_band(&band);
        if let Some(section) = band.section("night") {
            night = read_band(&section);
            hours = read_window(&section, false);
            section.finish();
        }
        band.finish();
    }
    Bands { occupied, night, night_hours: hours.unwrap_or_else(default_night) }
}

/// 22:00 to 06:00, the night of most heat rules.
fn default_night() -> DailyWindow {
    let at = |hour| TimeOfDay::new(hour, 0).expect("a full hour below 24 is a time of day");
    DailyWindow { from: at(22), to: at(6) }
}

fn read_band(section: &Section<'_, '_>) -> Option<Band> {
    let lower = section.quantity("lower", TEMPERATURE, parse_temperature);
    let upper = section.quantity("upper", TEMPERATURE, parse_temperature);
    let (Some(lower), Some(upper)) = (lower, upper) else {
        section.missing(
            &["lower", "upper"],
            Wanted {
                expected: "both limits of the band",
                hint: "for example lower = \"20 °C\" and upper = \"24 °C\"",
            },
        );
        return None;
    };
    if lower >= upper {
        section.wrong(
            section.line(),
            &format!("`lower` of {:.1} °C and `upper` of {:.1} °C", lower.degc(), upper.degc()),
            Wanted { expected: "lower < upper", hint: "check the two numbers and their units" },
        );
    }
    let band = Band { lower, upper };
    cautions::band(section, band);
    Some(band)
}
