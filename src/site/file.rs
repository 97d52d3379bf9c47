//! `site.toml` → settings.

use std::collections::BTreeMap;

use toml::de::DeTable;

use super::acceptance::read_acceptance;
use super::alike::read_distinct;
use super::bands::read_bands;
use super::cells::ExportsAre;
use super::colocation::read_colocation;
use super::common::{DURATION, NAME, TEMPERATURE, positive, read_span, read_window};
use super::dates::DATES;
use super::heat_rule_file::read_heat_rule;
use super::quality::read_quality;
use super::recovery::read_recovery;
use super::sharing::shared_files;
use super::stated::in_order;
use super::straight::straight;
use super::walk::{At, LEFT_OPEN, LEFT_TO_YOU, Page, Section, Wanted};
use super::{
    Alignment, ClockSetting, Dates, Facts, Home, MOST_INSTANTS, Name, Outdoor, Period, Setback, Site, Source,
    SpreadLimits, cautions, roster,
};
use crate::clock::{Weekdays, Zone};
use crate::error::{Error, Mistake, Result};
use crate::texts::shown;
use crate::units::{TemperatureUnit, parse_duration_s, parse_temperature};

const CLOCK: Wanted<'static> = Wanted {
    expected: "\"civil\", \"utc\" or \"fixed -05:00\"",
    hint: "civil follows daylight saving; fixed keeps one offset from UTC all year",
};
const LICENCE: Wanted<'static> = Wanted {
    expected: "the name of a licence in quotes, such as \"CC-BY-4.0\"",
    hint: "under which you give the results to others; leave it out where you do not",
};
const NO_BACKSLASHES: &str =
    "in double quotes a backslash starts an escape: write / in its place, or put the path in single quotes";
const PATH: Wanted<'static> = Wanted { expected: "a path with / between its parts", hint: NO_BACKSLASHES };

/// `site.toml` as far as it could be understood, and the mistakes found.
#[derive(Debug)]
pub struct SiteFile {
    name: String,
    settings: Option<Facts>,
    roster: Option<String>,
    zone: Option<Zone>,
    /// Names that look alike and are different ones.
    distinct: Vec<String>,
    mistakes: Vec<Mistake>,
}

impl SiteFile {
    /// The roster's file name as written, if the site names one.
    pub fn roster(&self) -> Option<&str> {
        self.roster.as_deref()
    }

    /// The site file's mistakes, and why the roster could not be had, where that is known.
    pub fn without_roster(self, trouble: Option<Mistake>) -> Error {
        Error::Mistakes(self.mistakes.into_iter().chain(trouble).collect())
    }

    /// The checked site, once the roster has been read too.
    ///
    /// # Errors
    /// [`Error::Mistakes`] with every mistake of both files.
    pub fn with_roster(self, name: &str, bytes: &[u8]) -> Result<Site> {
        self.with_rows(name, bytes, ExportsAre::Named)
    }

    /// The same before there are exports: the roster may leave `file` out, and `logger` where none is chosen yet.
    ///
    /// # Errors
    /// As [`SiteFile::with_roster`].
    pub fn with_planned_roster(self, name: &str, bytes: &[u8]) -> Result<Site> {
        self.with_rows(name, bytes, ExportsAre::ToCome)
    }

    fn with_rows(self, name: &str, bytes: &[u8], exports: ExportsAre) -> Result<Site> {
        let mut mistakes = self.mistakes;
        let (homes, more) = roster::read(name, bytes, (self.zone, exports), &self.distinct);
        let colocation = self.settings.as_ref().and_then(|s| s.colocation.as_ref());
        // Rows with mistakes may be those of the loggers.
        if let Some(colocation) = colocation.filter(|_| more.is_empty()) {
            mistakes.extend(colocation.unknown(&self.name, &homes));
        }
        mistakes.extend(more);
        match self.settings {
            Some(settings) if mistakes.is_empty() => {
                Ok(Site::new(Facts { shared_files: shared_files(&homes), homes, ..settings }))
            }
            _ => Err(Error::Mistakes(mistakes)),
        }
    }
}

/// Reads the text of a site file; mistakes are kept for [`SiteFile::with_roster`], so that both files are reported at once.
pub fn read_site_file(name: &str, text: &str) -> SiteFile {
    let text = straight(text);
    let page = Page::new(name, &text);
    let (table, errors) = DeTable::parse_recoverable(&text);
    for error in &errors {
        let line = error.span().map(|span| page.line(span.start));
        page.mistake(
            line,
            "text that is not TOML",
            "`key = \"value\"` lines under [tables]",
            &format!("{}; {}", error.message(), remedy(&text, line)),
        );
    }
    let mut read = Top::default();
    if errors.is_empty() {
        let top = Section::new(&page, table.get_ref(), "", 0);
        read = read_top(&top);
        top.finish();
    }
    let Top { mut settings, roster, zone, distinct } = read;
    if let Some(settings) = &mut settings {
        settings.cautions = page.take_cautions();
        settings.stated = in_order(page.take_stated());
    }
    SiteFile { name: name.to_owned(), settings, roster, zone, distinct, mistakes: page.into_mistakes() }
}

/// What may be wrong with a line that is not TOML.
fn remedy(text: &str, line: Option<u32>) -> &'static str {
    let line = line.and_then(|line| text.lines().nth(line as usize - 1)).unwrap_or_default();
    if line.contains('\\') { NO_BACKSLASHES } else { "texts and quantities stand in quotes" }
}

/// What the whole file says.
#[derive(Default)]
struct Top {
    settings: Option<Facts>,
    roster: Option<String>,
    zone: Option<Zone>,
    distinct: Vec<String>,
}

fn read_top(top: &Section<'_, '_>) -> Top {
    let Some(site) = top.section("site") else {
        top.know(&[
            "band",
            "setback",
            "recovery",
            "heat_rule",
            "humidity",
            "spread",
            "quality",
            "colocation",
            "period",
            "acceptance",
        ]);
        top.missing(
            &["site"],
            Wanted {
                expected: "a [site] table with name, time_zone and roster",
                hint: "see the example in the README",
            },
        );
        return Top::default();
    };
    let zone = read_zone(&site);
    let roster = read_path(&site, "roster");
    if roster.is_none() {
        site.missing(
            &["roster"],
            Wanted {
                expected: "`roster = \"roster.csv\"`",
                hint: "the roster has one row per placement of a logger",
            },
        );
    }
    // A zone that is missing is a mistake already; any zone lets the rest of the file be checked.
    let stand_in = zone.or_else(|| Zone::parse("UTC"));
    let settings = stand_in.map(|zone| read_settings(top, &site, zone));
    let distinct = read_distinct(&site);
    site.finish();
    Top { settings, roster, zone, distinct }
}

/// A path; where `\n` was meant as a folder `n`, an escape made of it what no path has.
fn read_path(section: &Section<'_, '_>, key: &'static str) -> Option<String> {
    let path = section.text(key, NAME)?;
    if path.value.contains(char::is_control) {
        section.wrong(path.line, &format!("`{key} = {:?}`", path.value), PATH);
    }
    Some(path.value)
}

fn read_zone(site: &Section<'_, '_>) -> Option<Zone> {
    let wanted = Wanted {
        expected: "an IANA time zone name such as \"America/Chicago\"",
        hint: "civil time cannot be told without it",
    };
    let Some(text) = site.text("time_zone", wanted) else {
        site.missing(&["time_zone"], wanted);
        return None;
    };
    let zone = Zone::parse(&text.value);
    if zone.is_some_and(|zone| !zone.is_of_a_place()) {
        let hint = "write the name of a place, Area/City: other names keep one offset all year, mean several places or are old; for loggers that follow no daylight saving set `clock`";
        site.wrong(
            text.line,
            &format!("time zone \"{}\", which is no Area/City", text.value),
            Wanted { expected: wanted.expected, hint },
        );
    }
    if zone.is_none() {
        let hint = match text.value.as_str() {
            LEFT_OPEN => LEFT_TO_YOU.to_owned(),
            other => super::zones::zone_hint(other),
        };
        site.wrong(
            text.line,
            &format!("unknown time zone \"{}\"", text.value),
            Wanted { expected: wanted.expected, hint: &hint },
        );
    }
    zone
}

fn read_settings(top: &Section<'_, '_>, site: &Section<'_, '_>, zone: Zone) -> Facts {
    let units =
        Wanted { expected: "\"C\" or \"F\"", hint: "the unit in which people are shown temperatures" };
    let name = site.text("name", NAME).map(|t| t.value);
    if name.is_none() {
        site.missing(
            &["name"],
            Wanted { expected: "`name = \"…\"`", hint: "any name people will recognise" },
        );
    }
    let step_ms = read_step(site);
    let periods = read_periods(top, zone, step_ms);
    Facts {
        name: shown(&name.unwrap_or_default()).into_owned(),
        licence: site
            .text("licence", LICENCE)
            .map(|t| shown(&t.value).into_owned())
            .filter(|t| !t.is_empty()),
        zone,
        exports: read_path(site, "exports").unwrap_or_else(|| ".".to_owned()),
        clock: site.parsed("clock", CLOCK, ClockSetting::parse).map(|c| c.value),
        step_ms,
        max_gap_ms: read_max_gap(site) * 1000,
        alignment: read_alignment(site),
        units: site
            .parsed("units", units, TemperatureUnit::parse)
            .map_or(TemperatureUnit::Celsius, |u| u.value),
        outdoor: read_outdoor(site),
        design_outdoor: site.quantity("design_outdoor", TEMPERATURE, parse_temperature),
        bands: read_bands(top),
        setbacks: read_setbacks(top, zone),
        recovery: read_recovery(top),
        heat_rule: top.section("heat_rule").and_then(read_heat_rule),
        surface_factor: read_surface_factor(top),
        spread: read_spread(top),
        quality: read_quality(top),
        colocation: top.section("colocation").and_then(|s| read_colocation(s, zone)),
        acceptance: read_acceptance(top, &periods),
        periods,
        homes: Vec::<Home>::new(),
        pseudonymised: false,
        cautions: Vec::new(),
        stated: Vec::new(),
        shared_files: BTreeMap::new(),
    }
}

/// Grid step and longest bridge where the site names none, in seconds.
pub const DEFAULT_STEP_S: i64 = 300;
/// See [`DEFAULT_STEP_S`].
pub const DEFAULT_MAX_GAP_S: i64 = 1800;

fn read_step(site: &Section<'_, '_>) -> i64 {
    let wanted = Wanted {
        expected: "a step that divides an hour, such as \"5 min\"",
        hint: "1, 2, 5, 10, 15, 20, 30 or 60 min; 10 s or 30 s are possible too",
    };
    let divides = |text: &str| {
        parse_duration_s(text).and_then(|s| {
            if s > 0 && 3600 % s == 0 { Ok(s) } else { Err(crate::units::QuantityError::Unreadable) }
        })
    };
    site.quantity("step", wanted, divides).unwrap_or(DEFAULT_STEP_S) * 1000
}

fn read_max_gap(site: &Section<'_, '_>) -> i64 {
    let max_gap_s = site.quantity("max_gap", DURATION, parse_duration_s).unwrap_or(DEFAULT_MAX_GAP_S);
    cautions::max_gap(site, max_gap_s);
    max_gap_s
}

fn read_alignment(site: &Section<'_, '_>) -> Alignment {
    let wanted = Wanted {
        expected: "\"instant\" or \"interval-mean\"",
        hint: "instant takes the value at each grid time, interval-mean the mean over the step",
    };
    let parse = |text: &str| match text {
        "instant" => Some(Alignment::Instant),
        "interval-mean" => Some(Alignment::IntervalMean),
        _ => None,
    };
    site.parsed("alignment", wanted, parse).map_or(Alignment::Instant, |a| a.value)
}

fn read_outdoor(site: &Section<'_, '_>) -> Option<Outdoor> {
    let section = site.section("outdoor")?;
    let unit = Wanted { expected: "\"°C\" or \"°F\"", hint: "the unit the weather file is written in" };
    let file = read_path(&section, "file");
    if file.is_none() {
        section.missing(
            &["file"],
            Wanted { expected: "`file = \"weather.csv\"`", hint: "the file stands in the exports folder" },
        );
    }
    let source = Source {
        file: Name::new(file.clone().unwrap_or_default()),
        column: section.text("column", NAME).map(|t| t.value),
        unit: section.parsed("unit", unit, TemperatureUnit::parse).map(|u| u.value),
        clock: section.parsed("clock", CLOCK, ClockSetting::parse).map(|c| c.value),
        dates: section.parsed("dates", DATES, Dates::parse).map(|d| d.value),
        clock_fast_s: None,
        line: None,
    };
    section.finish();
    file.map(|_| Outdoor { source })
}

fn read_setbacks(top: &Section<'_, '_>, zone: Zone) -> Vec<Setback> {
    let read = |section: Section<'_, '_>| Some((section.line(), read_setback(section)?));
    let setbacks: Vec<(u32, Setback)> = top.sections("setback").into_iter().filter_map(read).collect();
    cautions::setbacks(top, &setbacks, zone);
    setbacks.into_iter().map(|(_, setback)| setback).collect()
}

fn read_setback(section: Section<'_, '_>) -> Option<Setback> {
    let days = Wanted {
        expected: "weekdays such as \"mon-sun\" or \"sat,sun\"",
        hint: "the days on whose evening the setback starts",
    };
    let every_day = Weekdays::parse("mon-sun").expect("all weekdays are weekdays");
    let days = section.parsed("days", days, Weekdays::parse).map_or(every_day, |d| d.value);
    let window = read_window(&section, true);
    let target = section.quantity("occupied_target", TEMPERATURE, parse_temperature);
    if target.is_none() {
        section.missing(
            &["occupied_target"],
            Wanted {
                expected: TEMPERATURE.expected,
                hint: "the temperature that rooms shall be back at after the setback",
            },
        );
    }
    section.finish();
    Some(Setback { days, window: window?, occupied_target: target? })
}

/// Surface factor where the site names none.
///
/// UK practice for dwellings: BRE IP 1/06, table 1 (from memory); Germany's DIN 4108-2 has 0.70 (from memory).
pub const SURFACE_FACTOR: f64 = 0.75;

fn read_surface_factor(top: &Section<'_, '_>) -> f64 {
    let Some(section) = top.section("humidity") else { return SURFACE_FACTOR };
    let wanted = Wanted {
        expected: "a number between 0 and 1 such as 0.75",
        hint: "0: a surface as cold as outdoors, 1: as warm as the room; the coldest corners of dwellings should have 0.7 to 0.75 or more",
    };
    let factor = section.number("surface_factor", wanted, |f| f > 0.0 && f <= 1.0);
    section.finish();
    factor.unwrap_or(SURFACE_FACTOR)
}

fn read_spread(top: &Section<'_, '_>) -> SpreadLimits {
    let quorum = Wanted {
        expected: "a whole number of rooms, 2 or more",
        hint: "rooms that must have a value for a spread to be taken",
    };
    let mut limits = SpreadLimits::default();
    if let Some(section) = top.section("spread") {
        limits.limit = positive(&section, "limit").unwrap_or(limits.limit);
        limits.margin = positive(&section, "margin").unwrap_or(limits.margin);
        limits.quorum = section.whole("quorum", quorum).map(|n| n.max(2));
        section.finish();
    }
    limits
}

/// 20 years: no record is longer, and every hour of a period costs a little memory.
const LONGEST_PERIOD_H: f64 = 20.0 * 8766.0;

fn read_periods(top: &Section<'_, '_>, zone: Zone, step_ms: i64) -> Vec<Period> {
    let mut periods: Vec<Period> = Vec::new();
    for section in top.sections("period") {
        let name = section.text("name", NAME).map(|n| At { value: shown(&n.value).into_owned(), ..n });
        let line = section.line();
        if name.is_none() {
            section.missing(
                &["name"],
                Wanted { expected: "`name = \"after install\"`", hint: "results are told apart by it" },
            );
        }
        let twice = name.as_ref().is_some_and(|n| periods.iter().any(|p| p.name == n.value));
        if twice {
            section.wrong(
                line,
                "a period whose name was given before",
                Wanted { expected: "a name of its own for each period", hint: "rename one of them" },
            );
        }
        let span = read_span(&section, zone);
        section.finish();
        if span.is_some_and(|s| s.hours() > LONGEST_PERIOD_H) {
            top.wrong(
                line,
                "a period of more than 20 years",
                Wanted { expected: "a part of the record", hint: "check the years of from and to" },
            );
        }
        if span.is_some_and(|s| {
            s.hours() <= LONGEST_PERIOD_H && (s.to.ms() - s.from.ms()) / step_ms > MOST_INSTANTS
        }) {
            top.wrong(
                line,
                &format!("a period of more than {MOST_INSTANTS} steps"),
                Wanted {
                    expected: "a period and a `step` that a record can have",
                    hint: "take a longer `step`, or a shorter period",
                },
            );
        }
        if let (Some(span), Some(name)) = (span, name) {
            periods.push(Period { name: name.value, span });
        }
    }
    periods
}
