//! `[band]` of `site.toml`, and the times of day of windows.

use super::file::TEMPERATURE;
use super::walk::{Section, Wanted};
use super::{Band, Bands, cautions};
use crate::clock::{DailyWindow, TimeOfDay};
use crate::units::parse_temperature;

const TIME_OF_DAY: Wanted<'static> = Wanted {
    expected: "a time of day such as \"06:00\"",
    hint: "hours and minutes, 00:00 to 24:00, local time",
};

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

pub(super) fn read_window(section: &Section<'_, '_>, required: bool) -> Option<DailyWindow> {
    let from = section.parsed("from", TIME_OF_DAY, TimeOfDay::parse);
    let to = section.parsed("to", TIME_OF_DAY, TimeOfDay::parse);
    match (from, to) {
        (Some(from), Some(to)) if from.value == to.value => {
            section.wrong(
                to.line,
                "a window that ends when it starts",
                Wanted {
                    expected: "two different times",
                    hint: "for a whole day write from = \"00:00\" and to = \"24:00\"",
                },
            );
            None
        }
        (Some(from), Some(to)) => Some(DailyWindow { from: from.value, to: to.value }),
        (None, None) if !required => None,
        _ => {
            section.missing(&["from", "to"], TIME_OF_DAY);
            None
        }
    }
}
