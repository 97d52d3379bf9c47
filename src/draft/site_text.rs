//! The text of the drafted site file.

use super::write::{DECIDE, Draft};
use crate::site::{Preset, presets};
use crate::texts::{quoted_toml, shown};

/// What `clock` may be, for a comment.
const CLOCKS: &str = "\"civil\" follows daylight saving; \"utc\" and \"fixed -05:00\" do not";

impl Draft {
    /// The site file.
    pub fn site(&self) -> String {
        let mut text = String::from("# A first draft.");
        let decisions = self.decisions();
        if !decisions.is_empty() {
            text.push_str(" Where a value is \"decide\", a person must: the audit refuses it until then. Open when it was drafted:");
        }
        text.push('\n');
        for decision in decisions {
            text.push_str(&format!("#   {}\n", shown(&decision)));
        }
        if !self.left_out.is_empty() {
            text.push_str("# Left out:\n");
            self.left_out.iter().for_each(|line| text.push_str(&format!("#   {}\n", shown(line))));
        }
        text.push_str(&self.site_table());
        text.push_str("\n# The comfort band; without it no room is judged too cold or too warm.\n# [band]\n# lower = \"20 °C\"\n# upper = \"24 °C\"\n# night = { from = \"22:00\", to = \"06:00\", lower = \"17 °C\", upper = \"24 °C\" }    # where rooms may be cooler at night\n");
        text.push_str("\n# [[setback]]\n# days = \"mon-sun\"\n# from = \"22:00\"\n# to = \"06:00\"\n# occupied_target = \"21 °C\"\n");
        text.push_str("\n# A time that is judged by itself; without any, the time in which at least half of the loggers record.\n# [[period]]\n# name = \"winter\"\n# from = \"2026-01-10\"\n# to = \"2026-02-20\"\n");
        text.push_str("\n# What a home must show to be accepted; these are the defaults, \"not asked\" leaves one out.\n# [acceptance]\n# days = 14\n# coverage = \"90 %\"\n# hours_below = \"1 %\"\n# hours_above = \"3 %\"\n# evenness = \"margin\"\n# late_recoveries = \"10 %\"\n# heat_rule = \"1 %\"\n");
        text.push_str(&self.heat_rule());
        text.push_str(&self.side_by_side());
        text
    }

    fn site_table(&self) -> String {
        let mut text = format!("\n[site]\nname = {}\n", quoted_toml(&self.known.name));
        text.push_str(&format!(
            "time_zone = {}    # IANA name, such as \"America/Chicago\"\n",
            quoted_toml(self.known.zone.unwrap_or(DECIDE))
        ));
        text.push_str(&format!("roster = \"roster.csv\"\nexports = {}\n", quoted_toml(&self.known.exports)));
        let clock = match (&self.known.clock, self.clocks_open.len()) {
            (Some(clock), _) => quoted_toml(clock),
            (None, 0) => quoted_toml("civil"),
            (None, _) => quoted_toml(DECIDE),
        };
        text.push_str(&format!("clock = {clock}    # of exports that do not say: {CLOCKS}\n"));
        let suspected = || self.outdoor_suspected.as_ref().map(|line| format!("# {line}"));
        let example =
            "# outdoor = { file = \"weather.csv\", column = \"temp\", clock = \"utc\", unit = \"°C\" }\n";
        let outdoor = self.outdoor.as_ref().map(|o| o.line()).or_else(suspected);
        text.push_str(&outdoor.unwrap_or_else(|| example.to_owned()));
        let units = if self.fahrenheit * 2 > self.rows.len() { "F" } else { "C" };
        text + &format!("units = \"{units}\"    # for people\n")
    }

    /// The legal minimum, commented: which text holds is for a person to say.
    fn heat_rule(&self) -> String {
        let here = |p: &&Preset| self.known.zone.is_some_and(|zone| p.zones.contains(&zone));
        let known: Vec<&Preset> = presets().filter(here).collect();
        let mut text = String::from("\n# A legal minimum of heat");
        if known.is_empty() {
            text.push_str("; for this time zone no text is known: write it down as its windows have it.\n# [heat_rule]\n# season = { from = \"10-01\", to = \"04-30\" }\n# window = [{ from = \"06:00\", to = \"22:00\", minimum = \"20 °C\" }]\n");
        } else {
            text.push_str(", of places in this time zone; keep the one that holds.\n# [heat_rule]\n");
            for preset in known {
                text.push_str(&format!(
                    "# preset = {}    # {}, {}\n",
                    quoted_toml(preset.name),
                    preset.place,
                    preset.text
                ));
            }
        }
        text
    }

    /// The side-by-side time, commented: the series speak for it, a person knows.
    fn side_by_side(&self) -> String {
        let (why, from, to, loggers) = match &self.together {
            Some(found) => (
                format!("; it seems so here: {}", shown(&found.why)),
                found.from.as_str(),
                found.to.as_str(),
                list(
                    &found.loggers,
                    "those that ran together then, as an audit tells it; nothing is taken off others",
                ),
            ),
            None => (
                ", all of them or those that loggers = [\"…\", \"…\", \"…\"] names".to_owned(),
                "2026-01-02 10:00",
                "2026-01-03 10:00",
                String::new(),
            ),
        };
        format!(
            "\n# A time in which loggers lay side by side{why}.\n# [colocation]\n# from = \"{from}\"\n# to = \"{to}\"\n{loggers}"
        )
    }
}

/// Names in a line of its own each, commented.
fn list(names: &[String], why: &str) -> String {
    let names: String = names.iter().map(|name| format!("#   {},\n", quoted_toml(name))).collect();
    format!("# loggers = [    # {why}\n{names}# ]\n")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::site::ClockSetting;

    #[test]
    fn a_clock_that_the_comment_names_is_understood() {
        let named: Vec<&str> = CLOCKS.split('"').skip(1).step_by(2).collect();
        assert_eq!(named, ["civil", "utc", "fixed -05:00"]);
        assert!(named.iter().all(|clock| ClockSetting::parse(clock).is_some()));
    }
}
