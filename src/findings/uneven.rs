//! An unheated room beside the heated ones.
//!
//! Settled here, and why:
//! - **Evenness that is not shown** in any period that ends as late is `not judged`: a home with an unheated room of
//!   which the interval reaches across the margin, or with fewer than 7 days, is undecided. "Accept" needs evidence.

use super::enough::{clear_where_seen, hours_of_days};
use super::rooms::{HEATING_UNKNOWN, doubted, level_doubted, settle_first};
use super::{About, Evidence, Found, Judge, NotJudged, RoomCase, Rule, Severity, Verdict};
use crate::metrics::{self, Evenness, EventKind, MetricRow, Slice};
use crate::site::Heated;
use crate::units::KelvinDiff;

/// An unheated room that is surely not as warm as the heated ones.
pub(super) static ROOM_UNEVEN: Rule = Rule {
    name: "room-uneven",
    shows: "an unheated room lies, on the mean over days, surely further from the heated rooms than the site's margin: the 90 % interval of its offset is wholly beyond it (act, unless something makes its logger, or one of a heated room, read that way); where the interval reaches across the margin, or there are fewer than 7 whole days, evenness is not shown, and that is not a pass",
    could_also_be: "a room kept cool or warm by choice, a door kept shut, a window kept open, or a logger in a bad place",
    next_step: "visit the room: see whether air from the heated rooms reaches it with its door as people keep it, whether a window is open and where the logger stands; measure again after a change",
    source: "two one-sided tests: D. J. Schuirmann, Journal of Pharmacokinetics and Biopharmaceutics 15 (1987); margin: the site's setting",
    needs: &[],
    looks_at: &[
        &metrics::EVENNESS_VERDICT,
        &metrics::OFFSET_FROM_HEATED_MEAN,
        &metrics::P05,
        &metrics::MEDIAN,
        &metrics::P95,
    ],
    about: About::Building,
    judge: Judge::Room(uneven),
};

/// What is said of a room that cannot be held against heated rooms, or need not be.
fn not_held(case: &RoomCase<'_>) -> Option<Verdict> {
    let rooms = &case.case.evidence.home.rooms;
    let none = |heated: Heated| rooms.iter().all(|r| r.heated != heated);
    match case.room.heated {
        Heated::Yes => Some(Verdict::NotAsked),
        _ if case.room.placements.is_empty() => Some(Verdict::NotAsked),
        // Without a heated room there is nothing to be as warm as.
        Heated::No if none(Heated::Yes) && none(Heated::Unknown) => Some(Verdict::NotAsked),
        Heated::No if none(Heated::Yes) => {
            let why = "of no room of the home it is known that it is heated".to_owned();
            Some(Verdict::NotJudged(why))
        }
        Heated::Unknown => Some(Verdict::NotJudged(HEATING_UNKNOWN.to_owned())),
        Heated::No => None,
    }
}

fn uneven(case: &RoomCase<'_>) -> Verdict {
    if let Some(verdict) = not_held(case) {
        return verdict;
    }
    let (Some(verdict), Some(offset)) =
        (case.row(&metrics::EVENNESS_VERDICT), case.row(&metrics::OFFSET_FROM_HEATED_MEAN))
    else {
        return Verdict::NotJudged("no day has values of this room and of heated rooms".to_owned());
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
    let heated = case.case.evidence.home.rooms.iter().filter(|r| r.heated.surely());
    let by_others = heated.filter_map(|room| level_doubted(&RoomCase { case: case.case, room }, other));
    let doubt = doubted(case, kind).or_else(|| by_others.into_iter().next());
    let shows = format!(
        "The record shows {} {} from the heated rooms on the mean over days (90 % sure: {} to {}), beyond the margin of {}.",
        case.room.name,
        show(offset.value),
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
