//! Heat rules of places, as somebody read them on a stated day.
//!
//! Only texts (or pages about them) that were read are here, none from memory. A text that demands no more than that
//! the heating *could* reach a temperature is no preset: a record shows what was, not what could have been. The
//! same holds for upper limits, and for texts without hours or temperature.
//!
//! Settled here, and why:
//! - **Presets** are texts that were read, with page and day, never memory; texts about what the heating *could* reach,
//!   upper limits, and texts whose hours or dates were not seen are none. Where a text names no dates, all year is judged,
//!   and its preset says so.
//! - **Two pages that differ** are two presets, unless one has been overtaken: its name is then [retired](RETIRED), and
//!   whoever uses it is told which one to take, for a rule must not change under the same name.

mod canada_europe;
mod us_east;
mod us_elsewhere;

use super::heat_rule::{HeatWindow, Held, Season, Uses, WhenOutdoor};
use crate::clock::{DailyWindow, TimeOfDay};
use crate::units::Celsius;

/// A heat rule with the text it was taken from.
#[derive(Debug, PartialEq)]
pub struct Preset {
    /// Its name in `site.toml`.
    pub name: &'static str,
    /// Where it holds.
    pub place: &'static str,
    /// The time zones in which that place lies.
    pub zones: &'static [&'static str],
    /// The text: law, clause, amendment.
    pub text: &'static str,
    /// What binds whom.
    pub kind: Kind,
    /// Its windows.
    pub windows: &'static [HeatWindow],
    /// Of which rooms it speaks, by their use; where a text does not choose them, all.
    pub uses: Uses,
    /// Where the text measures, where it says so.
    pub measured: Option<Measured>,
    /// The words that decide, as the page has them.
    pub words: &'static str,
    /// What must be so for the text to hold, and no record shows.
    pub assumes: &'static str,
    /// What of the text is not judged here, and how open words were read.
    pub limits: &'static str,
    /// The page that was read.
    pub source: &'static str,
    /// Whose page that is.
    pub seen: Seen,
    /// The day on which it was read.
    pub read: &'static str,
}

/// Where a text measures.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measured {
    /// Height above the floor, in m.
    pub height_m: f64,
    /// The place, in words.
    pub words: &'static str,
}

/// What a text is to those who let homes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// The temperature is owed.
    Duty,
    /// Below it somebody acts: an inspection, a city that is called.
    ActedOn,
    /// Advice.
    Guidance,
}

impl Kind {
    /// For a sentence.
    pub const fn words(self) -> &'static str {
        match self {
            Kind::Duty => "a duty",
            Kind::ActedOn => "a value below which an authority acts",
            Kind::Guidance => "guidance, no duty",
        }
    }
}

/// Whose page was read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Seen {
    /// The text itself, as a publisher of codes or the issuing body prints it.
    Text,
    /// The issuing or enforcing body's own page about it.
    Agency,
    /// Another's page, which quotes or retells it.
    Retold,
}

impl Seen {
    /// For a sentence.
    pub const fn words(self) -> &'static str {
        match self {
            Seen::Text => "the text itself",
            Seen::Agency => "the page of the body that issues or enforces it",
            Seen::Retold => "a page of others that quotes or retells it",
        }
    }
}

/// A preset that is none any more.
#[derive(Debug)]
pub struct Retired {
    /// Its name.
    pub name: &'static str,
    /// The one to take.
    pub now: &'static str,
    /// Why it went.
    pub why: &'static str,
}

/// Names that stood in site files once.
pub static RETIRED: [Retired; 2] = [
    Retired {
        name: "san-francisco-central-heating",
        now: "san-francisco",
        why: "its hours (05:00 to 11:00 and 15:00 to 22:00) are those of hotels; where the tenant does not control the heating it is 70 °F for 24 hours a day",
    },
    Retired {
        name: "washington-dc-property-maintenance",
        now: "washington-dc",
        why: "it asked for 68 °F at night too, from an undated page; the attorney general's later page has 65 °F from 23:00 to 06:30",
    },
];

/// Every preset, by place.
pub fn presets() -> impl Iterator<Item = &'static Preset> {
    us_east::PRESETS.iter().chain(&us_elsewhere::PRESETS).chain(&canada_europe::PRESETS)
}

/// What stays open beside every rule.
pub const NO_RECORD_SHOWS: &str = "who controls the heating, what the lease says about heat, what the heating could reach, a repair under way, open windows, and which rooms the text means";

const OWNER_CONTROLS: &str =
    "that the owner, and not the household, controls the heating, or must furnish heat under the lease";

/// The day of the second reading; a preset that was not read again then keeps the first.
const READ: &str = "2026-11-28";

const fn at(hour: u16, minute: u16) -> TimeOfDay {
    match TimeOfDay::new(hour, minute) {
        Some(time) => time,
        None => panic!("a time of day"),
    }
}

const fn hours(from: TimeOfDay, to: TimeOfDay) -> DailyWindow {
    DailyWindow { from, to }
}

const WHOLE_DAY: DailyWindow = hours(at(0, 0), at(24, 0));

const fn season(from: (u32, u32), to: (u32, u32)) -> Season {
    Season { from, to }
}

const fn degf(season: Season, hours: DailyWindow, minimum: f64) -> HeatWindow {
    let minimum = Celsius::from_degf(minimum);
    HeatWindow { season, hours, minimum, outdoor: None, held: Held::EachRoom, uses: Uses::ALL }
}

const fn degc(season: Season, hours: DailyWindow, minimum: f64) -> HeatWindow {
    HeatWindow { minimum: Celsius::new(minimum), ..degf(season, hours, 0.0) }
}

const fn when_below_degf(window: HeatWindow, outdoor: f64) -> HeatWindow {
    HeatWindow { outdoor: Some(WhenOutdoor::Below(Celsius::from_degf(outdoor))), ..window }
}

const fn when_at_or_above_degf(window: HeatWindow, outdoor: f64) -> HeatWindow {
    HeatWindow { outdoor: Some(WhenOutdoor::AtOrAbove(Celsius::from_degf(outdoor))), ..window }
}

const fn on_the_mean(window: HeatWindow) -> HeatWindow {
    HeatWindow { held: Held::HomeMean, ..window }
}

const fn in_each(uses: Uses, window: HeatWindow) -> HeatWindow {
    HeatWindow { uses, ..window }
}

const OCTOBER_TO_MAY: Season = season((10, 1), (5, 31));
const OCTOBER_TO_APRIL: Season = season((10, 1), (4, 30));

impl Preset {
    /// What is said of the rooms.
    pub fn rooms(&self) -> String {
        let held = |held| self.windows.iter().any(|w| w.held == held);
        let of = match self.uses {
            Uses::ALL => {
                "every measured room is judged: which rooms the text means is for the reader".to_owned()
            }
            uses => format!("of the rooms those of use {} are judged", uses.words().join(", ")),
        };
        match (held(Held::EachRoom), held(Held::HomeMean)) {
            (true, false) => of,
            (false, _) => "the mean of the home's rooms is judged".to_owned(),
            (true, true) => format!(
                "the mean of the home's rooms and each room are judged, each against its own minimum; {of}"
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_stands_for_one_preset_and_a_retired_one_leads_to_one() {
        let mut names: Vec<&str> = presets().map(|p| p.name).chain(RETIRED.iter().map(|r| r.name)).collect();
        assert!(RETIRED.iter().all(|r| presets().any(|p| p.name == r.now)));
        let count = names.len();
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), count);
    }

    #[test]
    fn every_preset_says_what_was_read_where_and_when() {
        for p in presets() {
            assert!(p.source.starts_with("http") && p.read.starts_with("2026-11-2"), "{}", p.name);
            assert!(!p.words.is_empty() && !p.assumes.is_empty() && !p.limits.is_empty(), "{}", p.name);
        }
    }
}
