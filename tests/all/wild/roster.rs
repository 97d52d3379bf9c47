//! What a person states about an export, and what stays open all the same.

use crate::wild::dialects::Plan;
use crate::wild::times::offset;
use crate::wild::traits::{Clock, DateForm, Delimiter, Quotes, Said, Shape, Times, Written};
use crate::wild::write::{Column, Export};

/// Whether content and roster together leave something open.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Open {
    Nothing,
    /// Nobody can tell: it must be asked for.
    Ask(&'static str),
    /// Asking is fair, and so is reading it right.
    Fair(&'static str),
    /// Nobody can tell, and any reading with a note is fair.
    Tell(&'static str),
}

impl Plan {
    pub(crate) fn open(&self, export: &Export) -> Open {
        let day = self.one_day(&export.record);
        let either = day.is_some_and(|d| d.day <= 12 && d.day != d.month);
        let unnamed = !self.header && (self.humidity || self.battery);
        let torn = !self.header && self.delimiter == Delimiter::One(',') && self.decimals == 0;
        match self.times {
            Times::Written(Written { date: DateForm::Dmy(_) | DateForm::Mdy(_), .. })
                if either && !self.dates_said =>
            {
                Open::Ask("one day, day or month first")
            }
            // 25/09/12 may be the 25th or the year 2025.
            Times::Written(Written { short_year: true, .. }) if day.is_some() && !self.dates_said => {
                Open::Fair("one day, and a year of two digits")
            }
            Times::Serial(_) if !self.dates_said => Open::Ask("day numbers, from 1900 or from 1904"),
            _ if self.median_40 && self.unit_said == Said::Elsewhere => {
                Open::Ask("a median that fits both units")
            }
            _ if unnamed && !self.column_said && !matches!(self.shape, Shape::Wide(_)) => {
                Open::Fair("several columns without names")
            }
            _ if torn && self.quotes != Quotes::All => {
                Open::Fair("whole numbers between commas without names")
            }
            _ if export.rooms.iter().any(|r| self.lost_in_the_fold(r.keys().copied())) => {
                Open::Tell("a record inside the hour that comes twice")
            }
            _ => Open::Nothing,
        }
    }

    fn clock_words(&self) -> String {
        match self.clock {
            Clock::Civil => "civil".to_owned(),
            Clock::Fixed(0) => "utc".to_owned(),
            Clock::Fixed(minutes) => format!("fixed {}", offset(minutes)),
        }
    }

    /// The site file.
    pub(crate) fn site(&self) -> String {
        let clock = if self.clock_said == Said::Elsewhere { self.clock_words() } else { "civil".to_owned() };
        format!(
            "[site]\nname = \"Alder Row\"\ntime_zone = \"{}\"\nroster = \"roster.csv\"\nexports = \"exports\"\nclock = \"{clock}\"\n",
            self.zone.name()
        )
    }

    /// The roster, for some of the rooms.
    pub(crate) fn roster(&self, export: &Export, rooms: impl Iterator<Item = usize>) -> String {
        let unit = match (self.unit_said, self.fahrenheit) {
            (Said::Roster, true) => "°F",
            (Said::Roster, false) => "°C",
            _ => "",
        };
        let clock = if self.clock_said == Said::Roster { self.clock_words() } else { String::new() };
        let mut text = "home,room,use,heated,logger,file,column,unit,clock,dates\n".to_owned();
        for room in rooms {
            let logger = match self.shape {
                Shape::Long { .. } => export.words.loggers[room].clone(),
                _ => format!("L-{room}"),
            };
            let (column, dates) = (self.column_words(export, room), self.dates_words());
            text.push_str(&format!(
                "1A,room {room},other,yes,{logger},{FILE},\"{column}\",{unit},{clock},{dates}\n"
            ));
        }
        text
    }

    fn dates_words(&self) -> &'static str {
        match self.times {
            Times::Written(Written { date: DateForm::Dmy(_), .. }) if self.dates_said => "day-first",
            Times::Written(Written { date: DateForm::Mdy(_), .. }) if self.dates_said => "month-first",
            Times::Serial(false) if self.dates_said => "serial 1900",
            Times::Serial(true) if self.dates_said => "serial 1904",
            _ => "",
        }
    }

    fn column_words(&self, export: &Export, room: usize) -> String {
        let wide = matches!(self.shape, Shape::Wide(_));
        let value = if wide { room } else { 0 };
        let number = || {
            let at = self.columns().iter().position(|c| *c == Column::Value(value));
            (at.expect("each room has a column") + 1).to_string()
        };
        let (header, bare) = (&export.words.values[value], &export.words.bare[value]);
        let bracket = header == bare || header[bare.len()..].trim_start().starts_with(['(', '[']);
        match (wide, self.header) {
            (false, _) if !self.column_said => String::new(),
            (true, true) if self.seed % 5 < 2 && bracket => bare.clone(),
            (_, true) if self.seed % 5 < 4 => header.clone(),
            _ => number(),
        }
    }
}

/// The name of the export.
pub(crate) const FILE: &str = "export.txt";
