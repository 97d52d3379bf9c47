//! The settings in force: what the site file states, and what goes by defaults.

use super::page::{Page, number, plain};
use crate::metrics;
use crate::site::{
    Acceptance, Alignment, ClockSetting, DEFAULT_ACCURACY, DEFAULT_MAX_GAP_S, DEFAULT_STEP_S, QualityLimits,
    Recovery, SURFACE_FACTOR, Site, SpikeMethod, SpreadLimits, Test,
};
use crate::units::{Celsius, KelvinDiff, show_duration};

/// A setting that has a default.
struct Row {
    path: &'static str,
    value: String,
    /// `None`: nothing that a site could differ from.
    default: Option<String>,
}

/// A row of a setting, from what it is in force and by default.
fn row<T>(path: &'static str, value: T, default: T, words: impl Fn(T) -> String) -> Row {
    Row { path, value: words(value), default: Some(words(default)) }
}

/// A row of a setting that each site has of its own.
fn own(path: &'static str, value: String) -> Row {
    Row { path, value, default: None }
}

/// The settings of a site.
pub(super) struct Settings<'s> {
    site: &'s Site,
    with_default: Vec<Row>,
}

impl<'s> Settings<'s> {
    pub(super) fn of(site: &'s Site) -> Self {
        let mut with_default = of_site(site);
        with_default.extend(of_judgement(site));
        with_default.extend(of_quality(&site.quality));
        Self { site, with_default }
    }

    /// The line that a setting stands on, and how it is written there.
    fn stated(&self, path: &str) -> Option<String> {
        let stated = self.site.stated.iter().find(|stated| stated.path == path)?;
        Some(format!("`{}`, line {}", stated.written.replace(['`', '|'], "'"), stated.line))
    }

    /// The table of settings.
    pub(super) fn tell(&self, page: &mut Page) {
        page.section("Settings in force");
        page.paragraph(
            "Each setting with what holds, and what the site file states; `default` where it states nothing.",
        );
        page.line("| setting | in force | in the site file |");
        page.line("|---|---|---|");
        for Row { path, value, .. } in &self.with_default {
            let stated = self.stated(path).unwrap_or_else(|| "default".to_owned());
            page.line(&format!("| `{path}` | {value} | {stated} |"));
        }
        let known = |path: &str| self.with_default.iter().any(|row| row.path == path);
        for stated in self.site.stated.iter().filter(|stated| !known(&stated.path)) {
            let written = stated.written.replace(['`', '|', '\n'], "'");
            page.line(&format!("| `{}` | as stated | `{written}`, line {} |", stated.path, stated.line));
        }
        page.line("");
        self.tell_constants(page);
    }

    /// Constants of the definitions that no setting changes.
    fn tell_constants(&self, page: &mut Page) {
        page.part("Constants that no setting changes");
        let kelvin = |k: f64| format!("{k} K");
        let all = [
            ("room for float noise in comparisons of differences", kelvin(metrics::FLOAT_NOISE_K)),
            ("values that a local day must have to be whole", percent(100.0 * metrics::DAY_COVERAGE)),
            (
                "share of suspect time from which nothing passes",
                format!("over {}", percent(metrics::MOST_SUSPECT)),
            ),
            ("accuracy of a logger whose row states none (95 % half-width)", kelvin(DEFAULT_ACCURACY.k())),
            (
                "serious cold",
                format!("below {} for {} h", degc(metrics::SERIOUS_COLD), metrics::SERIOUS_COLD_H),
            ),
            ("near freezing", format!("{} or less", degc(metrics::NEAR_FREEZING))),
            ("very hot", format!("{} or more", degc(metrics::VERY_HOT))),
            ("without heat: below what is usual at that hour by", kelvin(metrics::OUT_K)),
        ];
        all.iter().for_each(|(what, value)| page.item(&format!("{what}: {value}")));
    }

    /// Where the site file leaves the defaults, and what is taken on somebody's word.
    pub(super) fn tell_what_differs(&self, site: &Site, page: &mut Page) {
        page.section("Where this site differs from the defaults");
        let differs = |row: &Row| row.default.clone().filter(|default| *default != row.value);
        let differing: Vec<(&Row, String)> =
            self.with_default.iter().filter_map(|row| Some((row, differs(row)?))).collect();
        if differing.is_empty() {
            page.item("no setting that has a default differs from it");
        }
        for (Row { path, value, .. }, default) in differing {
            page.item(&format!("`{path}`: {value} (default: {default})"));
        }
        for caution in &site.cautions {
            page.item(&format!("told of the settings: {}", plain(&caution.what.told())));
        }
        if let Some(colocation) = &site.colocation {
            let words = [
                (colocation.independent, "the errors of the loggers are taken as independent of each other"),
                (
                    colocation.on_its_word,
                    "that the loggers lay side by side is taken on the word of the site file",
                ),
            ];
            words.iter().filter(|(is, _)| *is).for_each(|(_, what)| page.item(what));
        }
        if let Some(preset) = site.heat_rule.as_ref().and_then(|rule| rule.preset) {
            page.item(&format!("the heat rule `{}` assumes: {}", preset.name, preset.assumes));
            page.item(&format!("of its text is not judged, and how it was read: {}", preset.limits));
        }
        page.line("");
    }
}

fn percent(x: f64) -> String {
    format!("{} %", number(x))
}

pub(super) fn degc(t: Celsius) -> String {
    format!("{} °C", number(t.degc()))
}

fn kelvin(k: KelvinDiff) -> String {
    format!("{} K", number(k.k()))
}

fn asked(share: Option<f64>) -> String {
    share.map_or("not asked".to_owned(), percent)
}

fn yes_no(yes: bool) -> String {
    if yes { "true" } else { "false" }.to_owned()
}

fn of_site(site: &Site) -> Vec<Row> {
    let seconds = |s: i64| show_duration(s as f64);
    let alignment = |a: Alignment| {
        match a {
            Alignment::Instant => "instant",
            Alignment::IntervalMean => "interval-mean",
        }
        .to_owned()
    };
    let clock =
        site.clock.map_or("civil, where neither export nor roster says".to_owned(), ClockSetting::show);
    vec![
        row("site.step", site.step_ms / 1000, DEFAULT_STEP_S, seconds),
        row("site.max_gap", site.max_gap_ms / 1000, DEFAULT_MAX_GAP_S, seconds),
        row("site.alignment", site.alignment, Alignment::Instant, alignment),
        own("site.clock", clock),
        own("site.design_outdoor", site.design_outdoor.map_or("none".to_owned(), degc)),
        own("site.units", format!("{}, for people", site.units)),
    ]
}

fn of_judgement(site: &Site) -> Vec<Row> {
    let (spread, recovery, criteria) = (SpreadLimits::default(), Recovery::default(), Acceptance::default());
    let quorum =
        |n: Option<usize>| n.map_or("all rooms of a home but one, at least 2".to_owned(), |n| n.to_string());
    let within = |h: Option<f64>| {
        h.map_or("a quarter of the setback's length, at most 4 h".to_owned(), |h| show_duration(h * 3600.0))
    };
    let accepted = &site.acceptance;
    let mut rows = vec![
        row("spread.limit", site.spread.limit, spread.limit, kelvin),
        row("spread.margin", site.spread.margin, spread.margin, kelvin),
        row("spread.quorum", site.spread.quorum, spread.quorum, quorum),
        row("recovery.tolerance", site.recovery.tolerance, recovery.tolerance, kelvin),
        row("recovery.within", site.recovery.within_h, recovery.within_h, within),
        row("humidity.surface_factor", site.surface_factor, SURFACE_FACTOR, number),
        row(
            "acceptance.period",
            Some(site.judged_period()).filter(|_| accepted.period.is_some()),
            None,
            |p| p.map_or("the last period".to_owned(), plain),
        ),
        row("acceptance.days", accepted.days, criteria.days, |n| format!("{n} d")),
        row("acceptance.coverage", accepted.coverage, criteria.coverage, asked),
        row("acceptance.evenness", accepted.evenness, criteria.evenness, |is| {
            if is { "margin" } else { "not asked" }.to_owned()
        }),
        row("acceptance.late_recoveries", accepted.late_recoveries, criteria.late_recoveries, asked),
    ];
    if site.bands.any() {
        rows.push(row("acceptance.hours_below", accepted.hours_below, criteria.hours_below, asked));
        rows.push(row("acceptance.hours_above", accepted.hours_above, criteria.hours_above, asked));
    }
    if site.heat_rule.is_some() {
        rows.push(row("acceptance.heat_rule", accepted.heat_rule, criteria.heat_rule, asked));
    }
    if let Some(colocation) = &site.colocation {
        rows.push(row("colocation.independent", colocation.independent, false, yes_no));
        rows.push(row("colocation.accept_without_evidence", colocation.on_its_word, false, yes_no));
    }
    rows
}

fn of_quality(limits: &QualityLimits) -> Vec<Row> {
    let standard = QualityLimits::default();
    let names = |tests: Vec<Test>| match tests.as_slice() {
        [] => "none".to_owned(),
        tests => tests.iter().map(|test| test.name()).collect::<Vec<_>>().join(", "),
    };
    let range = |(low, high): (Celsius, Celsius)| format!("{} to {}", degc(low), degc(high));
    let seconds = |s: i64| show_duration(s as f64);
    let method = |method: SpikeMethod| {
        match method {
            SpikeMethod::Average => "average",
            SpikeMethod::Differential => "differential",
        }
        .to_owned()
    };
    let (gross, spike, flat) = (limits.gross_range, limits.spike, limits.flat_line);
    vec![
        row("quality.tests", limits.tests.clone(), standard.tests.clone(), names),
        row("quality.use_suspect", limits.use_suspect, standard.use_suspect, yes_no),
        row("quality.gross_range.fail", gross.fail, standard.gross_range.fail, range),
        row("quality.gross_range.suspect", gross.suspect, standard.gross_range.suspect, range),
        row("quality.spike.suspect", spike.suspect, standard.spike.suspect, kelvin),
        row("quality.spike.fail", spike.fail, standard.spike.fail, kelvin),
        row("quality.spike.method", spike.method, standard.spike.method, method),
        row("quality.rate_of_change.suspect", limits.rate_of_change, standard.rate_of_change, |r| {
            format!("{} K/h", number(r.suspect.k_per_h()))
        }),
        row("quality.flat_line.at_least", flat.least_s, standard.flat_line.least_s, seconds),
        row("quality.flat_line.within", flat.within, standard.flat_line.within, |k| {
            k.map_or("exact repeats".to_owned(), kelvin)
        }),
        row(
            "quality.flat_line.without_witness",
            flat.without_witness,
            standard.flat_line.without_witness,
            |n| n.map_or("none".to_owned(), |n| format!("{n} readings")),
        ),
        row("quality.gap.longer_than", limits.gap.longer_than_s, standard.gap.longer_than_s, seconds),
    ]
}
