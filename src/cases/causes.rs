//! Cases of one home and period that have one cause are one case: rooms follow each other.

use std::collections::BTreeSet;

use super::assemble::Draft;
use super::kinds::{self, CaseKind};
use crate::findings::{Evidence, Severity};
use crate::metrics::{HOURS_BELOW_SETTLED, Metric, MetricRow, Slice};
use crate::site::Heated;

/// Joins what has one cause, in this order:
/// - a room that is too cold by itself was not without heat for some days of it besides; and where it falls behind in the cold, so
///   did the home on the coldest days;
/// - heated rooms that are slow in the morning are one thing, also where some of them are too cold for it: but not where they stay
///   too cold once the time for warming up is over;
/// - rooms without heating of their own follow the heated ones: where these are without heat, too cold or slow, what is only
///   cold in the others is no other thing; and where a heated room is too warm, what only lies below it is none;
/// - where some heated rooms stay too cold and are late too, the others that are late have the same heating that gives too little;
/// - a heated room that is only apart from another one, of which it is known that it is too cold or too warm, is no other thing.
pub(super) fn one_cause(evidence: &Evidence<'_>, drafts: &mut Vec<Draft<'_>>) {
    join(drafts, |from, to| {
        let of_room = [&kinds::NO_HEAT_IN_ROOM, &kinds::HELD_LOW, &kinds::FALLS_BEHIND];
        let alone = of_room.contains(&from.kind) && !from.rooms.is_empty();
        alone && to.kind == &kinds::TOO_COLD && from.rooms == to.rooms
    });
    let behind = |d: &Draft<'_>| d.findings.iter().any(|f| f.rule == "falls-behind-in-cold");
    join(drafts, |from, to| {
        let of_home = from.kind == &kinds::FALLS_BEHIND && from.rooms.is_empty();
        of_home && to.kind == &kinds::TOO_COLD && behind(to)
    });
    let slow = |d: &Draft<'_>| d.findings.iter().any(|f| f.rule == "slow-recovery");
    join(drafts, |from, to| {
        let by_mornings = from.kind == &kinds::TOO_COLD && slow(from) && !stays_cold(evidence, from);
        by_mornings && to.kind == &kinds::SLOW_TO_RETURN
    });
    let unheated = |d: &Draft<'_>| {
        let rooms = &evidence.home.rooms;
        !d.rooms.is_empty() && d.rooms.iter().all(|r| rooms[*r].heated == Heated::No)
    };
    let acts = |d: &Draft<'_>| {
        d.outage.is_some() || d.findings.iter().any(|f| f.severity <= Severity::Act && f.doubt.is_none())
    };
    let heated_cold: [&CaseKind; 5] =
        [&kinds::NO_HEAT, &kinds::HELD_LOW, &kinds::FALLS_BEHIND, &kinds::TOO_COLD, &kinds::SLOW_TO_RETURN];
    let only = |d: &Draft<'_>, rules: &[&str]| d.findings.iter().all(|f| rules.contains(&f.rule));
    join(drafts, |from, to| {
        let follows = only(from, &["room-cold", "heat-rule-shortfall"]);
        let of_heated = to.rooms.is_empty() || !unheated(to);
        let own = [&kinds::CUT_OFF, &kinds::TOO_COLD].contains(&from.kind);
        own && unheated(from) && follows && heated_cold.contains(&to.kind) && of_heated && acts(to)
    });
    join(drafts, |from, to| {
        let mut pressing = from.findings.iter().filter(|f| f.severity <= Severity::Act);
        let beside = pressing.all(|f| ["room-uneven", "home-uneven"].contains(&f.rule));
        from.kind == &kinds::CUT_OFF && unheated(from) && beside && to.kind == &kinds::OVERHEATS && acts(to)
    });
    let apart = |d: &Draft<'_>, up: bool| {
        d.findings.iter().any(|f| f.rule == "room-uneven" && (f.observed > 0.0) == up) && !unheated(d)
    };
    join(drafts, |from, to| {
        let known = |up: bool| match up {
            true => to.kind == &kinds::TOO_COLD && !unheated(to),
            false => to.kind == &kinds::OVERHEATS && !unheated(to),
        };
        let opposite = [true, false]
            .into_iter()
            .any(|up| apart(from, up) && (apart(to, !up) || (known(up) && acts(to))));
        from.kind == &kinds::UNEVEN && only(from, &["room-uneven"]) && opposite && to.kind != &kinds::UNEVEN
    });
    let heated = |d: &Draft<'_>| {
        !d.rooms.is_empty() && d.rooms.iter().all(|r| evidence.home.rooms[*r].heated == Heated::Yes)
    };
    join(drafts, |from, to| {
        let late = from.kind == &kinds::SLOW_TO_RETURN && heated(from);
        late && to.kind == &kinds::TOO_COLD && slow(to) && acts(to)
    });
}

/// Share of the judged hours, without those in which it warms up, in which a room must surely be too cold to be so by itself, in %.
const STAYS_COLD: f64 = 5.0;

/// Whether a room of a draft is surely too cold for long outside of the hours in which it warms up.
fn stays_cold(evidence: &Evidence<'_>, draft: &Draft<'_>) -> bool {
    let row = |room: usize, metric: &Metric| {
        let name = evidence.home.rooms[room].name.as_str();
        evidence.rows.row(draft.period, Slice::All, Some(name), metric)
    };
    let stays = |room: &usize| {
        let surely =
            |row: &MetricRow| row.interval.is_some_and(|h| h.low > STAYS_COLD / 100.0 * row.hours_observed);
        row(*room, &HOURS_BELOW_SETTLED).is_some_and(surely)
    };
    draft.rooms.iter().any(stays)
}

/// Moves the findings of each draft into the first other that has its cause; rooms are named only where they are of a kind, and
/// not where the other is the home as a whole.
fn join(drafts: &mut Vec<Draft<'_>>, one: impl Fn(&Draft<'_>, &Draft<'_>) -> bool) {
    for from in 0..drafts.len() {
        let fits = |to: &usize| *to != from && !drafts[*to].is_empty() && one(&drafts[from], &drafts[*to]);
        let Some(to) = (0..drafts.len()).find(fits) else { continue };
        let (findings, rooms) = (std::mem::take(&mut drafts[from].findings), drafts[from].rooms.clone());
        drafts[from].outage = None;
        let beside = [&kinds::CUT_OFF, &kinds::UNEVEN].contains(&drafts[from].kind);
        let whole_home = drafts[to].rooms.is_empty();
        let named = !whole_home && (drafts[from].kind == drafts[to].kind || !beside);
        drafts[to].take_up(if named { rooms } else { BTreeSet::new() }, findings);
    }
    drafts.retain(|d| !d.is_empty());
}
