//! Findings about the building in one period → which case each belongs to.

use super::assemble::{Draft, room_of};
use super::kinds::{self, CaseKind};
use crate::findings::{Evidence, Finding};
use crate::metrics::{OFFSET_FROM_REFERENCE, Slice};
use crate::site::Heated;

/// Share of a finding's hours that an outage must explain to have made it.
const EXPLAINED: f64 = 0.5;

/// Puts each finding into a case: of an outage that explains it, else of its room, else of its home.
pub(super) fn about_rooms<'a>(
    evidence: &Evidence<'a>,
    period: &'a str,
    findings: impl Iterator<Item = &'a Finding>,
    drafts: &mut Vec<Draft<'a>>,
) {
    let mut findings: Vec<&'a Finding> = findings.collect();
    // What makes a case comes before what joins one.
    // What loggers in one box make of it draws nothing else to itself.
    let boxed = |f: &Finding| f.doubt.is_some_and(|rule| kinds::of_record(rule) == &kinds::TOGETHER);
    findings.sort_by_key(|f| (boxed(f), order(f.rule)));
    // A heated room is not cut off from the heat.
    let below = |f: &&&Finding| f.rule == "room-uneven" && f.observed < 0.0 && is_unheated(evidence, f);
    let cut_off: Vec<Option<usize>> = findings.iter().filter(below).map(|f| room_of(evidence, f)).collect();
    for finding in findings {
        let room = room_of(evidence, finding);
        let place = of_outage(drafts, finding, room).or_else(|| joined(drafts, finding, room));
        match place {
            Some(at) => {
                drafts[at].findings.push(finding);
            }
            None => {
                let beside = finding.rule == "room-uneven" && !is_unheated(evidence, finding);
                let kind = match beside {
                    true => &kinds::UNEVEN,
                    false => {
                        let uneven = room.is_some() && cut_off.contains(&room);
                        kind_of(finding, uneven || lies_below(evidence, period, finding))
                    }
                };
                let rooms = room.into_iter().collect();
                drafts.push(Draft { rooms, findings: vec![finding], ..Draft::new(kind, period) });
            }
        }
    }
}

fn is_unheated(evidence: &Evidence<'_>, finding: &Finding) -> bool {
    room_of(evidence, finding).is_some_and(|room| evidence.home.rooms[room].heated == Heated::No)
}

/// So much colder than the heated rooms, in K, a room without heating of its own is cold by itself.
const BELOW_K: f64 = 0.5;

/// Whether a room without heating of its own lies below the heated ones, surely or not.
fn lies_below(evidence: &Evidence<'_>, period: &str, finding: &Finding) -> bool {
    let row = evidence.rows.row(period, Slice::All, finding.room.as_deref(), &OFFSET_FROM_REFERENCE);
    is_unheated(evidence, finding) && row.is_some_and(|row| row.value <= -BELOW_K)
}

fn order(rule: &str) -> u8 {
    match rule {
        "no-heat" | "no-heat-in-room" => 0,
        "near-freezing" => 1,
        "room-cold" | "room-overheated" | "very-hot" => 2,
        "heat-rule-shortfall" | "falls-behind-in-cold" => 3,
        "room-uneven" | "slow-recovery" => 4,
        _ => 5,
    }
}

/// The outage that a finding tells of, or that explains most of its hours.
fn of_outage(drafts: &[Draft<'_>], finding: &Finding, room: Option<usize>) -> Option<usize> {
    let outages = || (0..drafts.len()).filter(|i| drafts[*i].outage.is_some());
    // The finding is as pressing as the outage that goes on, else as the longest.
    let length =
        |i: &usize| drafts[*i].outage.map_or((false, 0), |o| (o.censored, o.span.to.ms() - o.span.from.ms()));
    let of_room =
        |i: &usize| drafts[*i].rooms.len() == 1 && room.is_some_and(|r| drafts[*i].rooms.contains(&r));
    match finding.rule {
        "no-heat" => outages().filter(|i| drafts[*i].kind == &kinds::NO_HEAT).max_by_key(length),
        "no-heat-in-room" => {
            outages().filter(|i| drafts[*i].kind == &kinds::NO_HEAT_IN_ROOM && of_room(i)).max_by_key(length)
        }
        // Rooms apart because one of them is without heat are that.
        "home-uneven" => most_explained(drafts, finding, outages()),
        _ => most_explained(drafts, finding, outages().filter(|i| drafts[*i].rooms.is_empty() || of_room(i))),
    }
}

fn most_explained(
    drafts: &[Draft<'_>],
    finding: &Finding,
    outages: impl Iterator<Item = usize>,
) -> Option<usize> {
    let best = outages.max_by(|a, b| drafts[*a].explains(finding).total_cmp(&drafts[*b].explains(finding)));
    best.filter(|i| drafts[*i].explains(finding) >= EXPLAINED)
}

/// The case of the room, or of the home, that a finding belongs to.
fn joined(drafts: &[Draft<'_>], finding: &Finding, room: Option<usize>) -> Option<usize> {
    let open = || (0..drafts.len()).filter(|i| drafts[*i].outage.is_none());
    let has = |i: &usize, kinds: &[&'static CaseKind]| kinds.iter().any(|k| *k == drafts[*i].kind);
    let of_room = |i: &usize| room.is_some_and(|r| drafts[*i].rooms.contains(&r));
    let worst = |i: &usize| drafts[*i].findings.iter().map(|f| f.severity).min();
    let cold: [&'static CaseKind; 4] =
        [&kinds::NEAR_FREEZING, &kinds::TOO_COLD, &kinds::CUT_OFF, &kinds::SLOW_TO_RETURN];
    match finding.rule {
        "room-cold" | "heat-rule-shortfall" | "falls-behind-in-cold" => {
            open().find(|i| of_room(i) && has(i, &cold))
        }
        "room-overheated" | "very-hot" => open().find(|i| of_room(i) && has(i, &[&kinds::OVERHEATS])),
        "room-uneven" if finding.observed < 0.0 => open().find(|i| of_room(i) && has(i, &cold)),
        "room-uneven" => open().find(|i| of_room(i) && has(i, &[&kinds::OVERHEATS])),
        // A room that is too cold is late every morning.
        "slow-recovery" => open().find(|i| of_room(i) && has(i, &[&kinds::TOO_COLD])),
        "heat-rule-shortfall-of-home" => open().filter(|i| has(i, &cold)).min_by_key(worst),
        // What makes rooms uneven is mostly told of one of them already.
        "home-uneven" => {
            let one_room = |i: &usize| !drafts[*i].rooms.is_empty() && !has(i, &[&kinds::SLOW_TO_RETURN]);
            open().filter(one_room).min_by_key(worst)
        }
        _ => None,
    }
}

/// The kind of a case that begins with a finding; `cut_off`: its room is surely colder than the heated ones.
fn kind_of(finding: &Finding, cut_off: bool) -> &'static CaseKind {
    match finding.rule {
        "no-heat" => &kinds::NO_HEAT,
        "no-heat-in-room" => &kinds::NO_HEAT_IN_ROOM,
        "near-freezing" => &kinds::NEAR_FREEZING,
        "room-overheated" | "very-hot" => &kinds::OVERHEATS,
        "slow-recovery" => &kinds::SLOW_TO_RETURN,
        "room-uneven" if finding.observed < 0.0 => &kinds::CUT_OFF,
        "room-cold" | "heat-rule-shortfall" if cut_off => &kinds::CUT_OFF,
        "room-cold" | "heat-rule-shortfall" | "heat-rule-shortfall-of-home" | "falls-behind-in-cold" => {
            &kinds::TOO_COLD
        }
        _ => &kinds::UNEVEN,
    }
}
