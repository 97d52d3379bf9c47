//! What a heat rule is: windows of local time, each with its season, minimum, weather, and what is held against it.
//!
//! Settled here, and why:
//! - **Weather over a day** is "below 60 °F for 24 consecutive hours", as the texts that were seen have it: no text speaks
//!   of a mean of the day, so that a window knows none.

use chrono::{Datelike, NaiveDate};

use super::Purpose;
use super::presets::{Kind, Preset};
use crate::clock::DailyWindow;
use crate::units::Celsius;

/// Legal minimum heat: windows of local time, each with its season and minimum.
#[derive(Clone, Debug, PartialEq)]
pub struct HeatRule {
    /// The text it was taken from; `None`: the site file's own.
    pub preset: Option<&'static Preset>,
    /// Windows with their minimum; where several hold at once for the same thing, the highest minimum counts.
    pub windows: Vec<HeatWindow>,
    /// Which rooms are judged, by their use.
    pub uses: Uses,
    /// Height above the floor at which the text measures, in m, where it says so.
    pub measured_height_m: Option<f64>,
}

impl HeatRule {
    /// What the rule is, for a sentence.
    pub fn title(&self) -> String {
        match self.preset {
            Some(preset) => {
                let kind = if preset.kind == Kind::Duty { "" } else { preset.kind.words() };
                let kind = if kind.is_empty() { String::new() } else { format!(" ({kind})") };
                format!("{}, {}{kind}, as read on {}", preset.place, preset.text, preset.read)
            }
            None => "the site file's heat rule".to_owned(),
        }
    }

    /// What the rule is, in a few words.
    pub fn short(&self) -> String {
        match self.preset {
            Some(preset) => format!("preset {}, read on {}", preset.name, preset.read),
            None => "from the site file".to_owned(),
        }
    }

    /// Whether a room of this use is held against a minimum of its own.
    pub fn judges(&self, purpose: Purpose) -> bool {
        self.uses.contains(purpose)
            && self.windows.iter().any(|w| w.held == Held::EachRoom && w.uses.contains(purpose))
    }

    /// Whether the mean of the home's rooms is held against a minimum.
    pub fn judges_mean(&self) -> bool {
        self.windows.iter().any(|w| w.held == Held::HomeMean)
    }

    /// Whether some window depends on the outdoor temperature.
    pub fn needs_outdoor(&self) -> bool {
        self.windows.iter().any(|w| w.outdoor.is_some())
    }
}

/// What every statement about a heat rule says.
pub const HEAT_RULE_CAUTION: &str = "check the current local text; this is a measurement, no legal finding";

/// What is said wherever somebody may be without heat. Sources: the US National Institute on Aging (press release of 25 January
/// 2000) for rooms of 60 to 65 °F; the rest is common advice of health departments.
pub const NO_HEAT_CAUTION: &str = "If somebody who is old, ill or very young is without heat now, do not wait for a report: call the local complaint or emergency line. Rooms of 60 to 65 °F (16 to 18 °C) can already endanger older people.";

/// How nobody should heat, and what cold does to pipes. Sources: US health departments on carbon monoxide (an open window is
/// not enough; no oven, grill or generator); property maintenance codes (602.2: no cooking appliance and no portable unvented
/// heater stands in for the heating).
pub const MAKESHIFT_CAUTION: &str = "Never heat with an oven, a grill, a generator or an unvented heater: carbon monoxide kills, and an open window is not enough. An electric space heater is no lasting answer; keep whatever can burn away from it. In frost, pipes in cold rooms may freeze.";

/// One window of a heat rule.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HeatWindow {
    /// The part of the year; the local date of each instant decides.
    pub season: Season,
    /// Local hours.
    pub hours: DailyWindow,
    /// Minimum temperature.
    pub minimum: Celsius,
    /// In what weather it holds; `None`: in any.
    pub outdoor: Option<WhenOutdoor>,
    /// What is held against it.
    pub held: Held,
    /// Of which rooms it speaks, by their use; nothing to a mean, which is that of all rooms that the rule judges.
    pub uses: Uses,
}

impl HeatWindow {
    /// The window for people, temperatures as `show` writes them: `1 Oct to 31 May, 06:00-22:00: at least 68.0 °F while
    /// below 55.0 °F outdoors`.
    pub fn words(&self, show: impl Fn(Celsius) -> String) -> String {
        let hours = if self.hours.is_whole_day() { "at all hours".to_owned() } else { self.hours.show() };
        let (season, minimum) = (self.season.show(), show(self.minimum));
        format!("{season}, {hours}: at least {minimum}{}", self.further(show))
    }

    /// The same within its season: `68 °F from 06:00 to 22:00 while below 55 °F outdoors`.
    pub fn demand(&self, show: impl Fn(Celsius) -> String) -> String {
        let DailyWindow { from, to } = self.hours;
        let hours = match self.hours.is_whole_day() {
            true => "at all hours".to_owned(),
            false => format!("from {} to {}", from.show(), to.show()),
        };
        format!("{} {hours}{}", show(self.minimum), self.further(show))
    }

    /// What is held against it, of which rooms, in what weather.
    fn further(&self, show: impl Fn(Celsius) -> String) -> String {
        let outdoor = self.outdoor.map_or(String::new(), |when| format!(" {}", when.words(&show)));
        let of = match (self.held, self.uses) {
            (Held::HomeMean, _) => " on the mean of the home's rooms".to_owned(),
            (Held::EachRoom, Uses::ALL) => String::new(),
            (Held::EachRoom, uses) => format!(" in each {}", uses.words().join(", ")),
        };
        format!("{of}{outdoor}")
    }
}

/// In what weather a window holds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum WhenOutdoor {
    /// While it is colder than this; at this temperature itself it does not hold.
    Below(Celsius),
    /// While it is this warm or warmer.
    AtOrAbove(Celsius),
    /// While it is, and was for the 24 h before without a break, colder than this.
    BelowForADay(Celsius),
}

impl WhenOutdoor {
    fn words(self, show: impl Fn(Celsius) -> String) -> String {
        match self {
            Self::Below(limit) => format!("while below {} outdoors", show(limit)),
            Self::AtOrAbove(limit) => format!("while at {} outdoors or above", show(limit)),
            Self::BelowForADay(limit) => {
                format!("once it was below {} outdoors for 24 hours on end", show(limit))
            }
        }
    }
}

/// Some of the uses that a room may have.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Uses(u8);

impl Uses {
    /// Every use.
    pub const ALL: Uses = Uses(0b11_1111);
    /// None.
    pub const NONE: Uses = Uses(0);

    /// These, and one more.
    pub const fn with(self, purpose: Purpose) -> Self {
        Self(self.0 | 1 << purpose as u8)
    }

    /// All but these.
    pub const fn others(self) -> Self {
        Self(Self::ALL.0 & !self.0)
    }

    /// Whether a use is one of them.
    pub const fn contains(self, purpose: Purpose) -> bool {
        self.0 & 1 << purpose as u8 != 0
    }

    /// Their words in the roster.
    pub fn words(self) -> Vec<&'static str> {
        Purpose::ALL.iter().filter(|(_, p)| self.contains(*p)).map(|(word, _)| *word).collect()
    }
}

/// A part of the year, both days included; it may pass the new year.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Season {
    /// First day: month, day.
    pub from: (u32, u32),
    /// Last day: month, day.
    pub to: (u32, u32),
}

impl Season {
    /// From 1 January to 31 December.
    pub const ALL_YEAR: Season = Season { from: (1, 1), to: (12, 31) };

    /// Whether a local date lies in it.
    pub fn contains(self, date: NaiveDate) -> bool {
        let day = (date.month(), date.day());
        match self.from <= self.to {
            true => self.from <= day && day <= self.to,
            false => self.from <= day || day <= self.to,
        }
    }

    /// `1 Oct to 31 May`.
    pub fn show(self) -> String {
        const MONTHS: [&str; 12] =
            ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
        let day = |(month, day): (u32, u32)| format!("{day} {}", MONTHS[month as usize - 1]);
        if self == Self::ALL_YEAR {
            "all year".to_owned()
        } else {
            format!("{} to {}", day(self.from), day(self.to))
        }
    }
}

/// What is held against a minimum.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Held {
    /// Each room.
    EachRoom,
    /// The mean of the home's rooms at the same instant.
    HomeMean,
}

impl Held {
    /// The words in `site.toml`.
    pub const fn words(self) -> &'static str {
        match self {
            Held::EachRoom => "each room",
            Held::HomeMean => "home mean",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn seasons_include_both_ends_and_pass_the_new_year() {
        let date = |m, d| NaiveDate::from_ymd_opt(2026, m, d).unwrap();
        let winter = Season { from: (10, 1), to: (5, 31) };
        assert!(winter.contains(date(10, 1)) && winter.contains(date(1, 1)) && winter.contains(date(5, 31)));
        assert!(!winter.contains(date(9, 30)) && !winter.contains(date(6, 1)));
        let shoulder = Season { from: (5, 2), to: (5, 15) };
        assert!(shoulder.contains(date(5, 15)) && !shoulder.contains(date(5, 16)));
        assert!(Season::ALL_YEAR.contains(date(12, 31)));
        assert_eq!(
            (winter.show().as_str(), Season::ALL_YEAR.show().as_str()),
            ("1 Oct to 31 May", "all year")
        );
    }

    #[test]
    fn uses_are_a_set() {
        let bathrooms = Uses::NONE.with(Purpose::Bathroom);
        assert!(bathrooms.contains(Purpose::Bathroom) && !bathrooms.contains(Purpose::Hall));
        assert!(!bathrooms.others().contains(Purpose::Bathroom));
        assert_eq!(bathrooms.others().words(), ["living", "bedroom", "kitchen", "hall", "other"]);
        assert_eq!(Uses::ALL.words().len(), Purpose::ALL.len());
    }
}
