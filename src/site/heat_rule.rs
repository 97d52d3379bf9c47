//! Legal minimum heat: `[heat_rule]` of `site.toml`, or one of the [presets](super::PRESETS).

use chrono::NaiveDate;

use super::common::{NAME, TEMPERATURE, read_window};
use super::heat_window::{HeatWindow, Held, Season};
use super::presets::{PRESETS, Preset};
use super::walk::{At, Section, Wanted};
use super::{Purpose, cells};
use crate::units::{parse_length_m, parse_temperature};

/// Legal minimum heat: windows of local time, each with its season and minimum.
#[derive(Clone, Debug, PartialEq)]
pub struct HeatRule {
    /// The text it was taken from; `None`: the site file's own.
    pub preset: Option<&'static Preset>,
    /// Windows with their minimum; where several hold at once, the highest minimum counts.
    pub windows: Vec<HeatWindow>,
    /// What is held against the minimum.
    pub held: Held,
    /// Which rooms are judged, by their use; empty: every room.
    pub uses: Vec<Purpose>,
    /// Height above the floor at which the text measures, in m, where it says so.
    pub measured_height_m: Option<f64>,
}

impl HeatRule {
    /// What the rule is, for a sentence.
    pub fn title(&self) -> String {
        match self.preset {
            Some(preset) => format!("{}, {}, as read on {}", preset.place, preset.text, preset.read),
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

    /// Whether a room of this use is judged.
    pub fn judges(&self, purpose: Purpose) -> bool {
        self.uses.is_empty() || self.uses.contains(&purpose)
    }

    /// Whether some window holds only below an outdoor temperature.
    pub fn needs_outdoor(&self) -> bool {
        self.windows.iter().any(|w| w.when_outdoor_below.is_some())
    }
}

/// What every statement about a heat rule says.
pub const HEAT_RULE_CAUTION: &str = "check the current local text; this is a measurement, no legal finding";

pub(super) fn read_heat_rule(section: Section<'_, '_>) -> Option<HeatRule> {
    let preset = section.text("preset", NAME).map(|name| read_preset(&section, &name));
    let own = read_own(&section, preset.is_some());
    let uses = read_uses(&section);
    let height = section.quantity(
        "measured_height",
        Wanted {
            expected: "a length such as \"3 ft\" or \"0.9 m\"",
            hint: "the height above the floor at which the text measures",
        },
        parse_length_m,
    );
    section.finish();
    let (preset, windows, held) = match preset {
        Some(preset) => {
            let preset = preset?;
            (Some(preset), preset.windows.to_vec(), preset.held)
        }
        None => {
            let (windows, held) = own?;
            (None, windows, held)
        }
    };
    let measured_height_m = height.or(preset.and_then(|p| p.measured.map(|m| m.height_m)));
    Some(HeatRule { preset, windows, held, uses, measured_height_m })
}

fn read_preset(section: &Section<'_, '_>, name: &At<String>) -> Option<&'static Preset> {
    let found = PRESETS.iter().find(|p| p.name == name.value);
    if found.is_none() {
        let names: Vec<&str> = PRESETS.iter().map(|p| p.name).collect();
        section.wrong(
            name.line,
            &format!("`preset = \"{}\"`", name.value),
            Wanted {
                expected: &format!("one of {}", names.join(", ")),
                hint: "`evenrooms explain NAME` shows what a preset holds; for another text write `season` and `window`",
            },
        );
    }
    found
}

/// The windows of the site file itself; beside a preset they would contradict it.
fn read_own(section: &Section<'_, '_>, beside_preset: bool) -> Option<(Vec<HeatWindow>, Held)> {
    let season = section.section("season").map(read_season);
    let over = Wanted {
        expected: "\"each room\" or \"home mean\"",
        hint: "most texts speak of each room; one averages over the home",
    };
    let parse = |text: &str| [Held::EachRoom, Held::HomeMean].into_iter().find(|h| h.words() == text);
    let held = section.parsed("held", over, parse);
    let default = season.map_or(Some(Season::ALL_YEAR), |s| s);
    let sections = section.sections("window");
    let (count, season_given, held_given) = (sections.len(), season.is_some(), held.is_some());
    let windows: Vec<Option<HeatWindow>> =
        sections.into_iter().map(|w| read_heat_window(w, default)).collect();
    if beside_preset {
        if count > 0 || season_given || held_given {
            section.wrong(
                section.line(),
                "a `preset` together with `season`, `held` or `window`",
                Wanted {
                    expected: "either the one or the other",
                    hint: "`evenrooms explain NAME` shows what the preset holds; write all of it out to change it",
                },
            );
        }
        return None;
    }
    if count == 0 {
        section.missing(
            &["window"],
            Wanted {
                expected: "a `preset`, or a list of windows with from, to and minimum",
                hint: "see the example of site.toml in the README",
            },
        );
        return None;
    }
    Some((windows.into_iter().collect::<Option<_>>()?, held.map_or(Held::EachRoom, |h| h.value)))
}

fn read_season(section: Section<'_, '_>) -> Option<Season> {
    let wanted = Wanted {
        expected: "a day of the year such as \"10-01\"",
        hint: "month-day; the last day is included",
    };
    let ends = (section.parsed("from", wanted, month_day), section.parsed("to", wanted, month_day));
    if ends.0.is_none() || ends.1.is_none() {
        section.missing(&["from", "to"], wanted);
    }
    section.finish();
    Some(Season { from: ends.0?.value, to: ends.1?.value })
}

fn month_day(text: &str) -> Option<(u32, u32)> {
    let (month, day) = text.split_once('-')?;
    let (month, day) = (month.parse().ok()?, day.parse().ok()?);
    // In a leap year, so that 02-29 is a day.
    NaiveDate::from_ymd_opt(2024, month, day).map(|_| (month, day))
}

fn read_heat_window(section: Section<'_, '_>, default: Option<Season>) -> Option<HeatWindow> {
    let season = section.section("season").map_or(default, read_season);
    let hours = read_window(&section, true);
    let minimum = section.quantity("minimum", TEMPERATURE, parse_temperature);
    if minimum.is_none() {
        section.missing(
            &["minimum"],
            Wanted {
                expected: TEMPERATURE.expected,
                hint: "the lowest temperature that the rule allows in this window",
            },
        );
    }
    let when_outdoor_below = section.quantity("when_outdoor_below", TEMPERATURE, parse_temperature);
    section.finish();
    Some(HeatWindow { season: season?, hours: hours?, minimum: minimum?, when_outdoor_below })
}

fn read_uses(section: &Section<'_, '_>) -> Vec<Purpose> {
    let words: Vec<&str> = Purpose::ALL.iter().map(|(word, _)| *word).collect();
    let expected = format!("a list of {}", words.join(", "));
    let wanted = Wanted { expected: &expected, hint: "the `use` of the rooms that the text speaks of" };
    let mut uses = Vec::new();
    for word in section.texts("uses", wanted).unwrap_or_default() {
        match cells::purpose(&word.value) {
            Some(purpose) => uses.push(purpose),
            None => section.wrong(word.line, &format!("in `uses` \"{}\"", word.value), wanted),
        }
    }
    uses
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
    }
}
