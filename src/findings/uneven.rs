//! A room beside the heated ones.
//!
//! Settled here, and why:
//! - **A heated room** is held against the others, where there are any: one that is kept 5 K warmer than they are is uneven.
//! - **Evenness that is not shown** in any period that ends as late is `not judged`: a home with a room of
//!   which the interval reaches across the margin, or with fewer than 7 days, is undecided. "Accept" needs evidence.

use super::enough::{clear_where_seen, hours_of_days};
use super::rooms::{HEATING_UNKNOWN, doubted, level_doubted, settle_first};
use super::{About, Evidence, Found, Judge, NotJudged, RoomCase, Rule, Severity, Verdict};
use crate::metrics::{self, Evenness, EventKind, MetricRow, Slice};
use crate::site::Heated;
use crate::units::KelvinDiff;

/// A room that is surely not as warm as the heated ones.
pub(super) static ROOM_UNEVEN: Rule = Rule {
    name: "room-uneven",
    shows: "a room lies, on the mean over days, surely further from the heated rooms than the site's margin: the 90 % interval of its offset from their median (of a heated room: from that of the others) is wholly beyond it (act, unless something makes its logger, or one of a heated room, read that way); where the interval reaches across the margin, or there are fewer than 7 whole days, evenness is not shown, and that is not a pass; nor is it where there is no reference: no heated room's record stands, or the two rooms that it would be are surely further apart than the margin",
    could_also_be: "a room kept cool or warm by choice, a door kept shut, a window kept open, or a logger in a bad place",
    next_step: "visit the room: see whether air from the heated rooms reaches it with its door as people keep it, whether a window is open and where the logger stands; measure again after a change",
    source: "two one-sided tests: D. J. Schuirmann, Journal of Pharmacokinetics and Biopharmaceutics 15 (1987); margin: the site's setting",
    needs: &[],
    looks_at: &[
        &metrics::EVENNESS_VERDICT,
        &metrics::OFFSET_FROM_REFERENCE,
        &metrics::REFERENCE_ROOMS,
        &metrics::REFERENCE_APART,
        &metrics::P05,
        &metrics::MEDIAN,
        &metrics::P95,
    ],
    about: About::Building,
    judge: Judge::Room(uneven),
};

/// What a person does about a heated room.
pub(super) const NEXT_STEP_HEATED: &str = "visit the room: compare the setting of its unit and its schedule with those of the other heated rooms, see where the unit's sensor is and where the logger stands; then its filter and its output; measure again after a change";

/// What is said of a room that cannot be held against heated rooms, or need not be.
fn not_held(case: &RoomCase<'_>) -> Option<Verdict> {
    let others = || case.case.evidence.home.rooms.iter().filter(|r| r.name != case.room.name);
    let none = |heated: Heated| others().all(|r| r.heated != heated);
    match case.room.heated {
        _ if case.room.placements.is_empty() => Some(Verdict::NotAsked),
        // The only heated room has nothing to be as warm as; nor has a room of a home without any.
        Heated::Yes if others().all(|r| r.heated != Heated::Yes || r.placements.is_empty()) => {
            Some(Verdict::NotAsked)
        }
        Heated::No if none(Heated::Yes) && none(Heated::Unknown) => Some(Verdict::NotAsked),
        Heated::No if none(Heated::Yes) => {
            let why = "of no room of the home it is known that it is heated".to_owned();
            Some(Verdict::NotJudged(why))
        }
        Heated::Unknown => Some(Verdict::NotJudged(HEATING_UNKNOWN.to_owned())),
        Heated::Yes | Heated::No => None,
    }
}

/// Why a room has no verdict: no day, or nothing to hold it against.
fn no_reference(case: &RoomCase<'_>) -> Verdict {
    let show = |k: f64| case.case.units().show_difference(KelvinDiff::new(k));
    if let Some(apart) = case.row(&metrics::REFERENCE_APART) {
        let sure = apart
            .interval
            .map_or(String::new(), |i| format!(" (90 % sure: {} to {})", show(i.low), show(i.high)));
        return Verdict::NotJudged(format!(
            "no reference: the two heated rooms that it would be held against are {} apart{sure}, beyond the margin of {}",
            show(apart.value),
            show(case.case.evidence.site.spread.margin.k())
        ));
    }
    let other = if case.room.heated == Heated::Yes { "other " } else { "" };
    let none = case.row(&metrics::REFERENCE_ROOMS).is_some_and(|rooms| rooms.value == 0.0);
    Verdict::NotJudged(match none {
        true => format!("no reference: no record of the {other}heated rooms stands"),
        false => format!("no day has values of this room and of {other}heated rooms"),
    })
}

fn uneven(case: &RoomCase<'_>) -> Verdict {
    if let Some(verdict) = not_held(case) {
        return verdict;
    }
    match held(case) {
        // Where nobody asks for evenness, evenness that is not shown leaves nothing open.
        Verdict::NotJudged(_) if !case.case.evidence.site.acceptance.evenness => Verdict::NotAsked,
        verdict => verdict,
    }
}

fn held(case: &RoomCase<'_>) -> Verdict {
    let (Some(verdict), Some(offset)) =
        (case.row(&metrics::EVENNESS_VERDICT), case.row(&metrics::OFFSET_FROM_REFERENCE))
    else {
        return no_reference(case);
    };
    let margin = case.case.evidence.site.spread.margin;
    let show = |k: f64| case.case.units().show_difference(KelvinDiff::new(k));
    let range = offset.interval.map(|i| (i.low, i.high));
    let (low, high) = match (Evenness::of(verdict.value), range) {
        (Evenness::Even, _) => {
            let seen = 100.0 * offset.hours_observed / hours_of_days(case);
            return clear_where_seen(seen, "the hours of its days have values of it and of heated rooms");
        }
        (Evenness::Uneven, Some(range)) => range,
        (_, None) => return Verdict::NotJudged("fewer than 7 whole days: evenness is not shown".to_owned()),
        (_, Some((low, high))) => {
            return Verdict::NotJudged(format!(
                "its offset from the heated rooms (90 % sure: {} to {}) reaches across the margin of {}: evenness is not shown",
                show(low),
                show(high),
                show(margin.k())
            ));
        }
    };
    let (kind, other) = match offset.value > 0.0 {
        true => (EventKind::AboveBand, EventKind::BelowBand),
        false => (EventKind::BelowBand, EventKind::AboveBand),
    };
    // The heated rooms that it is held against may be the ones that are read wrongly; a clock moves no mean over days.
    let heated =
        case.case.evidence.home.rooms.iter().filter(|r| r.heated.surely() && r.name != case.room.name);
    let by_others = heated.filter_map(|room| level_doubted(&RoomCase { case: case.case, room }, other));
    let doubt = doubted(case, kind).or_else(|| by_others.into_iter().next());
    let shows = format!(
        "The record shows {} {} from the {}heated rooms on the mean over days (90 % sure: {} to {}), beyond the margin of {}.",
        case.room.name,
        show(offset.value),
        if case.room.heated == Heated::Yes { "other " } else { "" },
        show(low),
        show(high),
        show(margin.k())
    ) + &settle_first(doubt);
    Verdict::Found(Found {
        severity: if doubt.is_none() { Severity::Act } else { Severity::Watch },
        span: None,
        observed: offset.value,
        unit: "K",
        limit: margin.k().copysign(offset.value),
        range: Some((low, high)),
        shows,
        doubt,
    })
}

/// The verdicts on evenness that stand; `open`: what was not judged.
pub(super) fn decided<'a>(evidence: &Evidence<'a>, open: &[NotJudged]) -> Vec<&'a MetricRow> {
    let left_open = |row: &MetricRow| {
        let of_rule = open.iter().filter(|open| open.rule == ROOM_UNEVEN.name && open.room == row.room);
        let mut periods = of_rule.map(|open| open.period.as_deref());
        periods.any(|period| period.is_none_or(|period| period == row.period))
    };
    let verdicts = evidence
        .rows
        .rows()
        .iter()
        .filter(|r| r.metric == &metrics::EVENNESS_VERDICT && r.slice == Slice::All);
    let surely = verdicts.filter(|row| Evenness::of(row.value) != Evenness::Undecided);
    surely.filter(|row| !left_open(row)).collect()
}

/// Whether a period that ends no earlier decides what this one leaves open of the room.
pub(super) fn shown(evidence: &Evidence<'_>, decided: &[&MetricRow], open: &NotJudged) -> bool {
    let end = |name: &str| evidence.site.named_period(name).map(|span| span.to);
    let own = open.period.as_deref().and_then(end);
    decided.iter().any(|row| row.room == open.room && end(&row.period) >= own)
}
