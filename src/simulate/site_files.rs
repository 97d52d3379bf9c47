//! The site file, the weather file and the header of the roster.

use super::downloads::ROSTER_HEADER;
use super::plan::Homes;
use super::thermal::RUN_UP_DAYS;
use super::{Simulation, alder_row};
use crate::clock::HOUR_MS;

impl Simulation {
    /// The site file.
    pub fn site_file(&self) -> String {
        if self.plan.homes_from == Homes::AlderRow {
            return alder_row::SITE.to_owned();
        }
        let zone = self.plan.zone.name();
        format!(
            "# An invented building, made by `evenrooms simulate`; nothing here is real.\n[site]\nname = \"Simulated building {}\"\n\
             time_zone = \"{zone}\"\nroster = \"roster.csv\"\nexports = \"exports\"\n\
             outdoor = {{ file = \"weather.csv\", column = \"outdoor_degc\", clock = \"utc\" }}\ndesign_outdoor = \"-18 °C\"\nclock = \"civil\"\nunits = \"F\"\n\n\
             [band]\nlower = \"68 °F\"\nupper = \"76 °F\"\nnight = {{ from = \"22:00\", to = \"06:00\", lower = \"62 °F\", upper = \"76 °F\" }}\n\n\
             [[setback]]\ndays = \"mon-sun\"\nfrom = \"22:00\"\nto = \"06:00\"\noccupied_target = \"70 °F\"\n\n\
             [spread]\nlimit = \"2.2 K\"\nmargin = \"2 K\"\n",
            self.plan.seed
        )
    }

    /// The weather file, hourly in UTC.
    pub fn weather_file(&self) -> Vec<u8> {
        let mut text = String::from("time,outdoor_degc\n");
        let from = RUN_UP_DAYS * 24;
        for (hour, degc) in self.weather.hourly()[from..=from + self.plan.days * 24].iter().enumerate() {
            // Adding 0 turns a negative zero into a plain one.
            let shown = libm::round(degc * 10.0) / 10.0 + 0.0;
            text.push_str(&format!("{},{shown:.1}\n", self.start.plus_ms(hour as i64 * HOUR_MS).iso()));
        }
        text.into_bytes()
    }

    /// The header of the roster.
    pub fn roster_header(&self) -> &'static str {
        ROSTER_HEADER
    }
}
