//! Where the numbers come from: version, settings, inputs with their SHA-256, row ledgers, notes.
//!
//! No clock time, so that the same inputs give the same bytes.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::{Map, Value, json};

use crate::audit::Audit;
use crate::error::Note;
use crate::exports::Ledger;
use crate::files::Input;
use crate::portfolio::{OneSite, Portfolio};
use crate::quality::colocation::Checked;
use crate::site::{Alignment, Band, HEAT_RULE_CAUTION, HeatRule, Site, WhenOutdoor};
use crate::units::KelvinDiff;

/// What stands of other homes in an audit of which two parties get one home: for them it has no name.
#[derive(Debug, Default)]
pub struct Elsewhere {
    homes: Vec<String>,
    files: BTreeSet<String>,
    notes: Vec<Note>,
}

impl Elsewhere {
    /// Another home, with the files that it was read from and what was noted of it.
    pub fn add(&mut self, home: &str, inputs: &[Input], notes: &[Note]) {
        self.homes.push(home.to_owned());
        self.files.extend(inputs.iter().map(|input| input.name.clone()));
        self.notes.extend_from_slice(notes);
    }

    /// Files of the home itself, which others may share.
    pub fn shared(&mut self, inputs: &[Input]) {
        inputs.iter().for_each(|input| _ = self.files.remove(&input.name));
    }

    fn has(&self, note: &Note) -> bool {
        let of_home = |home: &String| {
            note.place.strip_prefix(home).is_some_and(|rest| rest.is_empty() || rest.starts_with(' '))
        };
        self.notes.contains(note) || self.files.contains(&note.place) || self.homes.iter().any(of_home)
    }
}

/// What an input of another home is called where two parties read it; its fingerprint stays.
const OF_ANOTHER_HOME: &str = "an export of another home";

/// The same as [`provenance`] for the two parties of one home: settings of that home alone, nothing of another by its name.
pub fn of_one_home(audit: &Audit, inputs: &[Input], elsewhere: &Elsewhere) -> Map<String, Value> {
    let nameless = |i: &Input| match elsewhere.files.contains(&i.name) {
        true => Input { name: OF_ANOTHER_HOME.to_owned(), ..i.clone() },
        false => i.clone(),
    };
    let inputs: Vec<Input> = inputs.iter().map(nameless).collect();
    let site = audit.site.with(|facts| facts.homes.retain(|home| !elsewhere.homes.contains(&home.name)));
    let notes = audit.notes().filter(|note| !elsewhere.has(note)).collect();
    about(audit, &site, &inputs, notes)
}

/// What `provenance.json` tells of an audit; who wrote it, and the results with their SHA-256, come with the publication.
pub fn provenance(audit: &Audit, inputs: &[Input]) -> Map<String, Value> {
    about(audit, &audit.site, inputs, audit.notes().collect())
}

fn about(audit: &Audit, site: &Site, inputs: &[Input], notes: Vec<&Note>) -> Map<String, Value> {
    let ledgers =
        audit.outdoor.iter().chain(&audit.homes).flat_map(|h| h.ledgers.iter().map(|l| ledger(&h.name, l)));
    let pseudonymised = audit.site.pseudonymised;
    let inputs = inputs.iter().map(|i| input(i, pseudonymised));
    Map::from_iter(
        [
            ("settings", settings(site)),
            ("pseudonyms", json!(pseudonymised.then_some(PSEUDONYMS))),
            ("inputs", inputs.collect()),
            ("side_by_side", json!(side_by_side(audit))),
            ("ledger", ledgers.collect()),
            ("notes", json!(notes)),
        ]
        .map(|(name, value)| (name.to_owned(), value)),
    )
}

/// What `provenance.json` tells of several sites put together.
pub fn of_portfolio(portfolio: &Portfolio, inputs: &[Input]) -> Map<String, Value> {
    let site = |site: &OneSite| json!({ "site": site.name, "version": site.version, "period": site.period, "pseudonyms": site.pseudonymised });
    let of_input = |input: &Input| match input.bytes {
        0 => json!({ "name": input.name, "sha256": input.sha256 }),
        bytes => json!({ "name": input.name, "bytes": bytes, "sha256": input.sha256 }),
    };
    Map::from_iter(
        [
            ("sites", portfolio.sites.iter().map(site).collect()),
            ("inputs", inputs.iter().map(of_input).collect()),
            ("notes", json!(portfolio.notes)),
        ]
        .map(|(name, value)| (name.to_owned(), value)),
    )
}

/// A file of some numbers, with what they came from beside them.
pub fn beside(name: &str, numbers: Map<String, Value>, about: &Map<String, Value>) -> Vec<u8> {
    let mut all = about.clone();
    all.insert(name.to_owned(), Value::Object(numbers));
    format!("{:#}\n", Value::Object(all)).into_bytes()
}

/// How pseudonyms came about, for who reads the results.
const PSEUDONYMS: &str = "homes, rooms, loggers, files, periods and the site go by keyed pseudonyms (HMAC-SHA256, the key is in no result); homes stand in the order of their pseudonyms; texts of exports are left out, and so are the copies of site file and roster; SHA-256 and size of inputs are left out too, for a file that somebody has could be known by them: hmac_sha256 is worth something to who has the key only";

fn input(input: &Input, pseudonymised: bool) -> Value {
    match pseudonymised {
        true => json!({ "name": input.name, "hmac_sha256": input.sha256 }),
        false => json!({ "name": input.name, "bytes": input.bytes, "sha256": input.sha256 }),
    }
}

/// What was taken off which logger; of an aligned table nobody knows.
fn side_by_side(audit: &Audit) -> Option<Value> {
    let window = audit.site.colocation.as_ref().filter(|_| !audit.from_aligned)?.span;
    let loggers = || audit.homes.iter().flat_map(|h| &h.loggers);
    let offsets = loggers().filter_map(|l| {
        Some(json!({ "home": l.home, "room": l.room, "logger": l.logger, "offset_k": l.offset?.k() }))
    });
    let left = loggers().filter(|l| l.offset.is_none()).map(|l| {
        let found = l.checked.and_then(Checked::left_on);
        json!({ "home": l.home, "room": l.room, "logger": l.logger, "offset_k": found.map(KelvinDiff::k), "why": l.checked.map_or("it took no part", Checked::words) })
    });
    Some(json!({
        "from_utc": window.from.iso(),
        "to_utc": window.to.iso(),
        "taken_off": offsets.collect::<Vec<_>>(),
        "not_taken_off": left.collect::<Vec<_>>(),
    }))
}

fn ledger(home: &str, ledger: &Ledger) -> Value {
    let reasons: BTreeMap<&str, u64> =
        ledger.set_aside.iter().map(|(reason, n)| (reason.words(), *n)).collect();
    json!({
        "home": home,
        "file": ledger.file,
        "header_lines": ledger.header_lines,
        "blank_lines": ledger.blank_lines,
        "rows_of_other_loggers": ledger.other_loggers,
        "rows_seen": ledger.seen,
        "rows_kept": ledger.kept,
        "rows_set_aside": reasons,
    })
}

fn heat_rule(rule: &HeatRule) -> Value {
    let windows = rule.windows.iter().map(|w| {
        let outdoor = w.outdoor.map(|when| match when {
            WhenOutdoor::Below(t) => json!({ "below_degc": t.degc() }),
            WhenOutdoor::AtOrAbove(t) => json!({ "at_or_above_degc": t.degc() }),
            WhenOutdoor::BelowForADay(t) => json!({ "below_for_24_h_degc": t.degc() }),
        });
        json!({
            "season": w.season.show(), "from": w.hours.from.show(), "to": w.hours.to.show(),
            "minimum_degc": w.minimum.degc(), "when_outdoor": outdoor,
            "held": w.held.words(), "uses": w.uses.words(),
        })
    });
    json!({
        "rule": rule.title(),
        "caution": HEAT_RULE_CAUTION,
        "assumes": rule.preset.map(|p| p.assumes),
        "uses": rule.uses.words(),
        "measured_height_m": rule.measured_height_m,
        "windows": windows.collect::<Vec<_>>(),
    })
}

/// What a home must show to be accepted, as it was asked; null where a criterion is not asked.
fn acceptance(site: &Site) -> Value {
    let asked = &site.acceptance;
    json!({
        "period": site.judged_period(),
        "days": asked.days,
        "coverage_percent": asked.coverage,
        "hours_below_percent": asked.hours_below,
        "hours_above_percent": asked.hours_above,
        "evenness": asked.evenness.then_some("margin"),
        "late_recoveries_percent": asked.late_recoveries,
        "heat_rule_percent": asked.heat_rule,
    })
}

/// The settings in force, defaults included.
fn settings(site: &Site) -> Value {
    let band =
        |b: Option<Band>| b.map(|b| json!({ "lower_degc": b.lower.degc(), "upper_degc": b.upper.degc() }));
    let q = &site.quality;
    let night = site.bands.night_hours;
    json!({
        "site": site.name,
        "licence": site.licence,
        "time_zone": site.zone.name(),
        "step_s": site.step_ms / 1000,
        "max_gap_s": site.max_gap_ms / 1000,
        "alignment": match site.alignment { Alignment::Instant => "instant", Alignment::IntervalMean => "interval-mean" },
        "units": site.units.to_string(),
        "design_outdoor_degc": site.design_outdoor.map(|t| t.degc()),
        "band": band(site.bands.occupied),
        "night_band": band(site.bands.night),
        "night_hours": format!("{}-{}", night.from.show(), night.to.show()),
        "setbacks": site.setbacks.iter().map(|s| json!({
            "from": s.window.from.show(), "to": s.window.to.show(), "occupied_target_degc": s.occupied_target.degc(),
        })).collect::<Vec<_>>(),
        "heat_rule": site.heat_rule.as_ref().map(heat_rule),
        "surface_factor": site.surface_factor,
        "recovery": { "tolerance_k": site.recovery.tolerance.k(), "within_h": site.recovery.within_h },
        "acceptance": acceptance(site),
        "spread": { "limit_k": site.spread.limit.k(), "margin_k": site.spread.margin.k(), "quorum": site.spread.quorum },
        "periods": site.periods.iter().map(|p| json!({ "name": p.name, "from_utc": p.span.from.iso(), "to_utc": p.span.to.iso() })).collect::<Vec<_>>(),
        "quality": {
            "tests": q.tests.iter().map(|t| t.name()).collect::<Vec<_>>(),
            "use_suspect": q.use_suspect,
            "gross_range": {
                "fail_degc": [q.gross_range.fail.0.degc(), q.gross_range.fail.1.degc()],
                "suspect_degc": [q.gross_range.suspect.0.degc(), q.gross_range.suspect.1.degc()],
            },
            "spike": { "suspect_k": q.spike.suspect.k(), "fail_k": q.spike.fail.k(), "method": format!("{:?}", q.spike.method).to_lowercase() },
            "rate_of_change": { "suspect_k_per_h": q.rate_of_change.suspect.k_per_h() },
            "flat_line": { "at_least_s": q.flat_line.least_s, "times_longest": q.flat_line.times_longest, "within_k": q.flat_line.within.map(|k| k.k()), "without_witness": q.flat_line.without_witness },
            "gap": { "longer_than_s": q.gap.longer_than_s },
        },
        "accuracy_k": site.homes.iter().flat_map(|h| h.rooms.iter().map(move |r| (format!("{} {}", h.name, r.name), r.accuracy().k()))).collect::<BTreeMap<_, _>>(),
        "time_constant_min": site.homes.iter().flat_map(|h| h.rooms.iter().flat_map(move |r| r.placements.iter().map(move |p| (format!("{} {} {}", h.name, r.name, p.logger.told()), p.time_constant_min)))).collect::<BTreeMap<_, _>>(),
    })
}
