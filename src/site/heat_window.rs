//! One window of a heat rule, as presets and site files have it.

use chrono::{Datelike, NaiveDate};

use crate::clock::DailyWindow;
use crate::units::Celsius;

/// One window of a heat rule.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HeatWindow {
    /// The part of the year; the local date of each instant decides.
    pub season: Season,
    /// Local hours.
    pub hours: DailyWindow,
    /// Minimum temperature.
    pub minimum: Celsius,
    /// Holds only while it is colder than this outdoors; at this temperature itself it does not hold.
    pub when_outdoor_below: Option<Celsius>,
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

    /// `10-01 to 05-31`.
    pub fn show(self) -> String {
        let day = |(month, day): (u32, u32)| format!("{month:02}-{day:02}");
        if self == Self::ALL_YEAR {
            "all year".to_owned()
        } else {
            format!("{} to {}", day(self.from), day(self.to))
        }
    }
}

/// What is held against the minimum.
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
