//! `[heat_rule]` of `site.toml`.

use super::file::{NAME, TEMPERATURE, read_window};
use super::walk::{At, Section, Wanted};
use super::{HeatRule, HeatWindow};
use crate::units::parse_temperature;

pub(super) fn read_heat_rule(section: Section<'_, '_>) -> Option<HeatRule> {
    let wanted = Wanted {
        expected: "a day of the year such as \"10-01\"",
        hint: "month-day; the last day is included",
    };
    if let Some(preset) = section.text("preset", NAME) {
        section.wrong(
            preset.line,
            &format!("`preset = \"{}\"`", preset.value),
            Wanted {
                expected: "the rule itself: `season` and `window`",
                hint: "this version has no presets yet; copy season and hours from your local text",
            },
        );
    }
    let season = section.section("season").map(|s| {
        let ends = (s.parsed("from", wanted, month_day), s.parsed("to", wanted, month_day));
        s.finish();
        ends
    });
    let windows: Vec<Option<HeatWindow>> =
        section.sections("window").into_iter().map(read_heat_window).collect();
    if windows.is_empty() {
        section.missing(
            &["window"],
            Wanted {
                expected: "a list of windows with from, to and minimum",
                hint: "see the example of site.toml in the README",
            },
        );
    }
    section.finish();
    let (from, to) =
        season.unwrap_or((Some(At { value: (1, 1), line: 0 }), Some(At { value: (12, 31), line: 0 })));
    Some(HeatRule {
        season_from: from?.value,
        season_to: to?.value,
        windows: windows.into_iter().collect::<Option<_>>()?,
    })
}

fn month_day(text: &str) -> Option<(u32, u32)> {
    let (month, day) = text.split_once('-')?;
    let (month, day) = (month.parse().ok()?, day.parse().ok()?);
    chrono::NaiveDate::from_ymd_opt(2024, month, day).map(|_| (month, day))
}

fn read_heat_window(section: Section<'_, '_>) -> Option<HeatWindow> {
    let hours = read_window(&section, true);
    let minimum = section.quantity("minimum", TEMPERATURE, parse_temperature);
    if minimum.is_none() {
        section.missing(
            &["minimum"],
            Wanted {
                expected: TEMPERATURE.expected,
                hint: "the lowest room temperature that the rule allows in this window",
            },
        );
    }
    let when_outdoor_below = section.quantity("when_outdoor_below", TEMPERATURE, parse_temperature);
    section.finish();
    Some(HeatWindow { hours: hours?, minimum: minimum?, when_outdoor_below })
}
