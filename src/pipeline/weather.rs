//! A weather series held against its place, its season and the rooms: what contradicts them by far is not used.
//!
//! Settled here, and why:
//! - **Weather** is held against wide ranges of monthly medians, by the half of the Earth that the zone's changes of
//!   clocks tell (none: no season), and against the rooms: 5 K warmer in the cold half of the year, 16 K in any, is no
//!   outdoors. Too cold is told by the season only: °C read as °F in a winter is a colder winter.

use crate::clock::UtcTime;
use crate::error::Note;
use crate::grid::{AlignedHome, AlignedRoom};
use crate::quality::weather::{Impossible, beside_rooms, impossible, steps_in_an_hour};
use crate::site::{Home, Site};
use crate::units::{Celsius, KelvinDiff};

/// Why the weather series cannot be that of the site, if it cannot; `file` is what results call it.
pub(super) fn no_weather_of(site: &Site, weather: &AlignedHome, file: &str) -> Option<Note> {
    let degc = weather.rooms().first()?.degc();
    let every = steps_in_an_hour(site.step_ms);
    let hours: Vec<(UtcTime, f64)> =
        (0..degc.len()).step_by(every).map(|i| (weather.time(i), degc[i])).collect();
    impossible(&hours, site.zone).map(|why| note(site, file.to_owned(), &why))
}

/// Why it cannot be that outside of a home, if it cannot.
pub(super) fn of_home(
    site: &Site,
    home: &Home,
    aligned: &AlignedHome,
    weather: &AlignedHome,
) -> Option<Note> {
    let outdoor = weather.rooms().first()?.degc();
    let rooms: Vec<&[f64]> = aligned.rooms().iter().map(AlignedRoom::degc).collect();
    let hour = |i: usize| {
        let t = aligned.time(i);
        let at = weather.index_from(t);
        let here = at < weather.len() && weather.time(at) == t;
        let values: Vec<f64> = rooms.iter().map(|room| room[i]).filter(|x| !x.is_nan()).collect();
        let room = values.iter().sum::<f64>() / values.len() as f64;
        (t, if here { outdoor[at] } else { f64::NAN }, room)
    };
    let hours: Vec<_> = (0..aligned.len()).step_by(steps_in_an_hour(site.step_ms)).map(hour).collect();
    beside_rooms(&hours, site.zone).map(|why| note(site, format!("outdoors of {}", home.name), &why))
}

/// Weather of another time.
fn elsewhen(place: String) -> Note {
    Note {
        place,
        line: None,
        what:
            "the weather series has no value while this home was recorded: what depends on it was not judged"
                .into(),
        hint: "check year, order of dates and clock of the weather file".to_owned(),
        unreadable: true,
    }
}

const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];

fn note(site: &Site, place: String, why: &Impossible) -> Note {
    let show = |degc: f64| site.units.show(Celsius::new(degc));
    let still = matches!(why, Impossible::Still { .. });
    let why = match why {
        Impossible::Nowhere { degc } => {
            format!("reads {} to {} in its coldest and warmest hours", show(degc.0), show(degc.1))
        }
        Impossible::Season { month, degc, may } => format!(
            "has a median of {} in {}, where {} is from {} to {} at the most",
            show(*degc),
            MONTHS[*month as usize - 1],
            site.zone.name(),
            show(may.0),
            show(may.1)
        ),
        Impossible::Still { share } => format!("stands still for days, {share:.0} % of its time"),
        Impossible::Elsewhen => return elsewhen(place),
        Impossible::WarmerThanRooms { by_k } => format!(
            "is {} warmer than the rooms on the median",
            site.units.show_difference(KelvinDiff::new(*by_k))
        ),
    };
    let hint = match still {
        true => {
            "take the weather of another place nearby, or the part of the file in which the sensor worked"
        }
        false => {
            "check the unit of the weather file: one that its header states wins over `unit` in `outdoor` of the site file, so correct it there; else check its column, dates and place"
        }
    };
    Note {
        place,
        line: None,
        what: format!("the weather series {why}: as it is read it cannot be the outdoor air, so that it was not used, and what depends on it was not judged").into(),
        hint: hint.to_owned(),
        unreadable: true,
    }
}
