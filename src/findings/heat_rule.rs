//! Rules about legal minimum heat.

use super::coarse::beside_hours;
use super::enough::clear_where_seen;
use super::rooms::{doubted, left_out, off_by_hours, serious_cold, settle_first};
use super::{
    About, Evidence, Found, HomeCase, HoursBelow, Judge, NotJudged, RoomCase, Rule, Severity, Verdict,
};
use crate::metrics::{self, EventKind, MetricRow, Slice};
use crate::site::{HEAT_RULE_CAUTION, HeatRule, HeatWindow, Held, Room};
use crate::units::Celsius;

/// Episodes from this length on, in h, are worth a visit.
const ACT_EPISODE_H: f64 = 1.0;
/// Shorter episodes, in h, are a sample or two, as when a room warms up: they stay in the tables …
const LEAST_EPISODE_H: f64 = 0.5;
/// … unless all of them together are more than this share of the hours that can be judged, in %.
const LEAST_SHARE: f64 = 1.0;
/// Share of the rule's hours, in %, that must be known for the record to carry `nothing found`.
const LEAST_KNOWN: f64 = 75.0;
/// Loggers further than this from the height at which the text measures are told, in m.
const NEAR_HEIGHT_M: f64 = 0.3;

const COULD_ALSO_BE: &str = "windows kept open or heating turned down by the people who live there, a room that the text does not mean, a vacant home, a heating under repair, or a logger on a cold outside wall or on the floor";
const NEXT_STEP: &str = "check the current local text; this is a measurement, no legal finding; look when it was (the longest times stand beside the rule, an audit has all of them in events.csv), read a second thermometer where the text measures, and ask whether the heating was on; if people there are old, ill or very young and without heat, treat it as urgent: call the local complaint or emergency line, and never heat with an oven or an unvented appliance (carbon monoxide)";
const SOURCE: &str = "minimum, hours and season: the site file or the preset it names; lengths: own definition (few texts name a duration)";

/// A room below the legal minimum.
pub(super) static HEAT_RULE_SHORTFALL: Rule = Rule {
    name: "heat-rule-shortfall",
    shows: "the record shows a room below the heat rule's minimum, even with the sensor accuracy in its favour, for half an hour or more at a time, or for more than 1 % of the hours in all; act: for an hour or more at a time; urgent: a living room or bedroom that room-cold calls urgent",
    could_also_be: COULD_ALSO_BE,
    next_step: NEXT_STEP,
    source: SOURCE,
    needs: &[],
    looks_at: &[
        &metrics::HEAT_RULE_HOURS_AS_READ,
        &metrics::HEAT_RULE_HOURS_BELOW,
        &metrics::HEAT_RULE_HOURS_TOO_CLOSE,
        &metrics::HEAT_RULE_HOURS_MET,
        &metrics::HEAT_RULE_HOURS_NO_DATA,
        &metrics::HEAT_RULE_HOURS_NOT_EVALUATED,
        &metrics::HEAT_RULE_EPISODES,
        &metrics::HEAT_RULE_LONGEST_EPISODE,
        &metrics::P05,
        &metrics::MEAN,
        &metrics::COVERAGE,
        &metrics::LONGEST_BELOW_16,
        &metrics::SINCE_BELOW_16,
        &metrics::MEDIAN,
        &metrics::P95,
    ],
    about: About::Building,
    judge: Judge::Room(room),
};

/// A home whose mean is below the legal minimum.
pub(super) static HEAT_RULE_SHORTFALL_HOME: Rule = Rule {
    name: "heat-rule-shortfall-of-home",
    shows: "the record shows the mean of a home's rooms below the heat rule's minimum, even with the sensor accuracy in its favour, for half an hour or more at a time, or for more than 1 % of the hours in all; act: for an hour or more at a time; judged where the text averages over the home",
    could_also_be: COULD_ALSO_BE,
    next_step: NEXT_STEP,
    source: SOURCE,
    needs: &[],
    looks_at: &[
        &metrics::HEAT_RULE_HOURS_AS_READ,
        &metrics::HEAT_RULE_HOURS_BELOW,
        &metrics::HEAT_RULE_HOURS_TOO_CLOSE,
        &metrics::HEAT_RULE_HOURS_MET,
        &metrics::HEAT_RULE_HOURS_NO_DATA,
        &metrics::HEAT_RULE_HOURS_NOT_EVALUATED,
        &metrics::HEAT_RULE_EPISODES,
        &metrics::HEAT_RULE_LONGEST_EPISODE,
    ],
    about: About::Building,
    judge: Judge::Home(home),
};

fn room(case: &RoomCase<'_>) -> Verdict {
    let Some(rule) = &case.case.evidence.site.heat_rule else { return Verdict::NotAsked };
    if !rule.judges(case.room.purpose) {
        return Verdict::NotAsked;
    }
    // A room that is for one hour in twenty surely below every minimum is so at any hour.
    let meant = |w: &&HeatWindow| w.held == Held::EachRoom && w.uses.contains(case.room.purpose);
    let minima = rule.windows.iter().filter(meant).map(|w| w.minimum.degc());
    let lowest = minima.fold(f64::INFINITY, f64::min);
    let at_any_hour =
        case.row(&metrics::P05).is_some_and(|p05| p05.value + case.room.accuracy().k() < lowest);
    let by_clock = || off_by_hours(case).filter(|_| !at_any_hour);
    let doubt = doubted(case, EventKind::HeatRuleShortfall).or_else(by_clock);
    // Where the rule holds at no hour of the period, no room has rows about it.
    let asked = case.case.any_row(&metrics::HEAT_RULE_HOURS_NO_DATA);
    if asked && case.row(&metrics::MEAN).is_none() && !case.room.placements.is_empty() {
        let hours = HoursBelow::minimum(|id| case.row(id)).and_then(|hours| hours.open());
        let open = hours.map_or(String::new(), |open| format!(": {open}"));
        return Verdict::NotJudged(format!("the room has no usable value, nothing was judged{open}"));
    }
    match judge(&case.case, rule, Some(case.room), doubt) {
        Verdict::Found(found) => Verdict::Found(Found {
            severity: serious_cold(case).map_or(found.severity, |serious| serious.severity(doubt)),
            shows: found.shows + &beside_hours(case.loggers(), case.case.evidence.site) + &left_out(case),
            ..found
        }),
        other => other,
    }
}

fn home(case: &HomeCase<'_>) -> Verdict {
    let Some(rule) = &case.evidence.site.heat_rule else { return Verdict::NotAsked };
    if rule.judges_mean() { judge(case, rule, None, None) } else { Verdict::NotAsked }
}

/// Rows of one room or home; absent where the rule holds at no hour of the period.
struct Rows<'a> {
    /// Missing where no value could be held against the minimum.
    below: Option<&'a MetricRow>,
    hours: HoursBelow,
    episodes: f64,
    longest_h: f64,
}

impl<'a> Rows<'a> {
    fn of(case: &HomeCase<'a>, room: Option<&str>) -> Option<Self> {
        let value = |id| case.row(room, id).map_or(0.0, |r| r.value);
        Some(Self {
            hours: HoursBelow::minimum(|id| case.row(room, id))?,
            below: case.row(room, &metrics::HEAT_RULE_HOURS_BELOW),
            episodes: value(&metrics::HEAT_RULE_EPISODES),
            longest_h: value(&metrics::HEAT_RULE_LONGEST_EPISODE),
        })
    }

    /// Hours that can be told.
    fn known(&self) -> f64 {
        self.hours.judged - (self.hours.possible - self.hours.certain)
    }
}

/// `doubt`: the rule that finds in the room's logger what alone could make it look cold, or cold at the wrong time.
fn judge(case: &HomeCase<'_>, rule: &HeatRule, room: Option<&Room>, doubt: Option<&'static str>) -> Verdict {
    let name = room.map(|r| r.name.as_str());
    // Where the rule holds at no hour of a period, it may in others: see [`nothing_held`].
    let Some(rows) = Rows::of(case, name) else { return Verdict::NotAsked };
    let often = rows.hours.certain > LEAST_SHARE / 100.0 * rows.known();
    if rows.longest_h < LEAST_EPISODE_H && !often {
        return nothing_found(&rows);
    }
    let act = rows.longest_h >= ACT_EPISODE_H && doubt.is_none();
    let severity = if act { Severity::Act } else { Severity::Watch };
    Verdict::Found(Found {
        severity,
        span: case.span_of(name, EventKind::HeatRuleShortfall),
        observed: rows.hours.certain,
        unit: "h",
        limit: 0.0,
        range: Some((rows.hours.certain, rows.hours.possible)),
        shows: sentence(case, rule, room, &rows) + &settle_first(doubt),
        doubt,
    })
}

/// Where the site has a rule that holds at no hour of a home's record: nothing was judged, and that is no pass.
pub(super) fn nothing_held(evidence: &Evidence<'_>) -> Option<NotJudged> {
    let Evidence { site, home, rows, .. } = *evidence;
    let rule = site.heat_rule.as_ref()?;
    if rows.rows().iter().any(|r| r.metric == &metrics::HEAT_RULE_HOURS_NO_DATA) {
        return None;
    }
    let meant = rule.judges_mean() || home.rooms.iter().any(|room| rule.judges(room.purpose));
    let why = match meant {
        true => "the heat rule holds at no hour of this record",
        false => "the heat rule is about none of the rooms of this home",
    };
    let of_rule = if rule.judges_mean() { &HEAT_RULE_SHORTFALL_HOME } else { &HEAT_RULE_SHORTFALL };
    Some(NotJudged {
        rule: of_rule.name,
        home: home.name.clone(),
        room: None,
        period: None,
        why: format!("nothing was judged: {why}{}", lowest(evidence)),
    })
}

/// The lowest temperature of each room, in all that was recorded.
fn lowest(evidence: &Evidence<'_>) -> String {
    let of_room = |room: &Room| {
        let minima =
            evidence.rows.rows().iter().filter(|r| r.slice == Slice::All && r.metric == &metrics::MINIMUM);
        let of_room = minima.filter(|r| r.room.as_ref() == Some(&room.name)).map(|r| r.value);
        let lowest = of_room.min_by(f64::total_cmp)?;
        Some(format!("{} {}", room.name, evidence.site.units.show(Celsius::new(lowest))))
    };
    let rooms: Vec<String> = evidence.home.rooms.iter().filter_map(of_room).collect();
    if rooms.is_empty() { String::new() } else { format!("; the lowest temperatures: {}", rooms.join(", ")) }
}

/// Clear only where enough is known: what cannot be told is never a pass.
fn nothing_found(rows: &Rows<'_>) -> Verdict {
    let hours = &rows.hours;
    if hours.all() > 0.0 && rows.known() >= LEAST_KNOWN / 100.0 * hours.all() {
        let open = hours.open().map_or(String::new(), |open| format!(" ({open})"));
        let seen = 100.0 * hours.judged / hours.all();
        return clear_where_seen(seen, &format!("the heat rule's hours could be judged{open}"));
    }
    let outdoor = if hours.without_outdoor > 0.0 { " (`outdoor` in the site file)" } else { "" };
    Verdict::NotJudged(match (hours.judged > 0.0, hours.open()) {
        (false, open) => format!("nothing was judged: {}{outdoor}", open.unwrap_or_default()),
        (true, _) => format!(
            "below the heat rule's minimum for {}{outdoor}: too much is open for a verdict",
            hours.in_full()
        ),
    })
}

fn sentence(case: &HomeCase<'_>, rule: &HeatRule, room: Option<&Room>, rows: &Rows<'_>) -> String {
    let accuracy = room.map_or(String::new(), |r| {
        let lag = rows.below.and_then(|r| r.interval).map_or("", |i| i.kind.lag_words());
        format!(" (sensors good to ±{}{lag})", case.units().show_difference(r.accuracy()))
    });
    format!(
        "The record shows {} below the heat rule's minimum for {}{accuracy}{}; {:.0} episode{}, the longest {:.1} h{}. Heat rule: {}; {HEAT_RULE_CAUTION}.{}",
        room.map_or("the mean of the rooms", |r| r.name.as_str()),
        rows.hours.words(),
        rows.hours.open().map_or(String::new(), |open| format!("; {open}")),
        rows.episodes,
        if rows.episodes > 1.0 { "s" } else { "" },
        rows.longest_h,
        deepest(case, room),
        rule.short(),
        room.map_or(String::new(), |r| position(rule, r)),
    )
}

/// The lowest point: `, at worst 61.2 °F where 68.0 °F are asked for`.
fn deepest(case: &HomeCase<'_>, room: Option<&Room>) -> String {
    let events = case.events_of(room.map(|r| r.name.as_str()), EventKind::HeatRuleShortfall);
    let under = |e: &&crate::metrics::Event| e.limit - e.value;
    let deepest = events.max_by(|a, b| under(a).total_cmp(&under(b)));
    let show = |degc: f64| case.units().show(Celsius::new(degc));
    deepest.map_or(String::new(), |e| {
        format!(", at worst {} where {} are asked for", show(e.value), show(e.limit))
    })
}

/// Where the loggers stood, where the text says at what height it measures.
fn position(rule: &HeatRule, room: &Room) -> String {
    let Some(wanted) = rule.measured_height_m else { return String::new() };
    let heights: Vec<Option<f64>> = room.placements.iter().map(|p| p.height_m).collect();
    let far = heights.iter().flatten().find(|h| (**h - wanted).abs() > NEAR_HEIGHT_M);
    match far {
        Some(height) => {
            format!(" The text measures {wanted:.2} m above the floor; a logger here stood at {height:.2} m.")
        }
        None if heights.iter().any(Option::is_none) => {
            format!(
                " The text measures {wanted:.2} m above the floor; at what height a logger here stood is not in the roster (height_m)."
            )
        }
        None => String::new(),
    }
}
