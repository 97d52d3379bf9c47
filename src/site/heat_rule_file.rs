//! `[heat_rule]` of `site.toml` is read: a [preset](super::presets()), or windows of its own.

use chrono::NaiveDate;

use super::Purpose;
use super::cells;
use super::common::{NAME, TEMPERATURE, read_window};
use super::heat_rule::{HeatRule, HeatWindow, Held, Season, Uses, WhenOutdoor};
use super::presets::{Preset, RETIRED, presets};
use super::walk::{At, Section, Wanted};
use crate::units::{parse_length_m, parse_temperature};

const HELD: Wanted<'static> = Wanted {
    expected: "\"each room\" or \"home mean\"",
    hint: "most texts speak of each room; some average over the home; one has both, with a minimum of its own for each",
};

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
    let (preset, windows) = match preset {
        Some(preset) => {
            let preset = preset?;
            (Some(preset), preset.windows.to_vec())
        }
        None => (None, own?),
    };
    let of_text = preset.map_or(Uses::ALL, |p| p.uses);
    let measured_height_m = height.or(preset.and_then(|p| p.measured.map(|m| m.height_m)));
    Some(HeatRule { preset, windows, uses: uses.unwrap_or(of_text), measured_height_m })
}

fn read_preset(section: &Section<'_, '_>, name: &At<String>) -> Option<&'static Preset> {
    let found = presets().find(|p| p.name == name.value);
    if found.is_some() {
        return found;
    }
    let what = format!("`preset = \"{}\"`", name.value);
    if let Some(retired) = RETIRED.iter().find(|r| r.name == name.value) {
        let expected = format!("`{}`", retired.now);
        section.wrong(name.line, &what, Wanted { expected: &expected, hint: retired.why });
        return None;
    }
    let names: Vec<&str> = presets().map(|p| p.name).collect();
    section.wrong(
        name.line,
        &what,
        Wanted {
            expected: &format!("one of {}", names.join(", ")),
            hint: "`evenrooms explain NAME` shows what a preset holds; for another text write `season` and `window`",
        },
    );
    None
}

fn read_held(section: &Section<'_, '_>) -> Option<Held> {
    let parse = |text: &str| [Held::EachRoom, Held::HomeMean].into_iter().find(|h| h.words() == text);
    section.parsed("held", HELD, parse).map(|held| held.value)
}

/// The windows of the site file itself; beside a preset they would contradict it.
fn read_own(section: &Section<'_, '_>, beside_preset: bool) -> Option<Vec<HeatWindow>> {
    let season = section.section("season").map(read_season);
    let held = read_held(section);
    let default = (season.map_or(Some(Season::ALL_YEAR), |s| s), held.unwrap_or(Held::EachRoom));
    let sections = section.sections("window");
    let (count, season_given) = (sections.len(), season.is_some());
    let windows: Vec<Option<HeatWindow>> =
        sections.into_iter().map(|w| read_heat_window(w, default)).collect();
    if beside_preset {
        if count > 0 || season_given || held.is_some() {
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
    windows.into_iter().collect()
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

fn read_heat_window(section: Section<'_, '_>, default: (Option<Season>, Held)) -> Option<HeatWindow> {
    let season = section.section("season").map_or(default.0, read_season);
    let hours = read_window(&section, true);
    let held = read_held(&section).unwrap_or(default.1);
    let uses = read_uses(&section);
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
    if held == Held::HomeMean && uses.is_some() {
        section.wrong(
            section.line_of("uses"),
            "`uses` in a window about the mean of the home",
            Wanted {
                expected: "`uses` in [heat_rule] itself",
                hint: "a mean is that of all rooms which the rule judges",
            },
        );
    }
    let outdoor = read_outdoor(&section);
    section.finish();
    let uses = uses.unwrap_or(Uses::ALL);
    Some(HeatWindow { season: season?, hours: hours?, minimum: minimum?, outdoor, held, uses })
}

/// The weather in which a window holds; one condition at most.
fn read_outdoor(section: &Section<'_, '_>) -> Option<WhenOutdoor> {
    let read = |key| section.quantity(key, TEMPERATURE, parse_temperature);
    let given = [
        ("when_outdoor_below", read("when_outdoor_below").map(WhenOutdoor::Below)),
        ("when_outdoor_at_or_above", read("when_outdoor_at_or_above").map(WhenOutdoor::AtOrAbove)),
        ("when_outdoor_below_for_24_h", read("when_outdoor_below_for_24_h").map(WhenOutdoor::BelowForADay)),
    ];
    let given: Vec<(&str, WhenOutdoor)> =
        given.into_iter().filter_map(|(key, when)| Some((key, when?))).collect();
    if let [(one, _), (other, _), ..] = given.as_slice() {
        section.wrong(
            section.line(),
            &format!("a window with `{one}` and `{other}`"),
            Wanted {
                expected: "one of them",
                hint: "write two windows: where both hold, the higher minimum counts",
            },
        );
    }
    given.first().map(|(_, when)| *when)
}

/// Which rooms are meant; `None` where the file does not say.
fn read_uses(section: &Section<'_, '_>) -> Option<Uses> {
    let words: Vec<&str> = Purpose::ALL.iter().map(|(word, _)| *word).collect();
    let expected = format!("a list of {}", words.join(", "));
    let wanted = Wanted { expected: &expected, hint: "the `use` of the rooms that the text speaks of" };
    let mut uses = Uses::NONE;
    for word in section.texts("uses", wanted)? {
        match cells::purpose(&word.value) {
            Some(purpose) => uses = uses.with(purpose),
            None => section.wrong(word.line, &format!("in `uses` \"{}\"", word.value), wanted),
        }
    }
    // An empty list asks for nothing else than to leave the key out.
    Some(if uses == Uses::NONE { Uses::ALL } else { uses })
}
