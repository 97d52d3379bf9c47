//! Events, faults and false alarms: what was there, what was found, and what was found that was not there.

use std::cell::OnceCell;
use std::collections::BTreeMap;

use evenrooms::cases::{Answer, Criterion, Standing};
use evenrooms::clock::UtcTime;
use evenrooms::findings::{About, Finding, Judged, Severity};
use evenrooms::metrics::{NEAR_FREEZING, VERY_HOT};
use evenrooms::simulate::{HomeKind, Trouble, TrueEvent};
use evenrooms::stats::quantile;

use super::case::Case;
use super::found::Found;
use super::intervals::{true_hours_outside, true_longest_outside, truly_two_days_outside};
use super::perfect;
use super::records::{Happened, What, happened, span_of};
use super::sizes::{Sized, Sizes};

/// What was found and what was not.
#[derive(Debug, Default)]
pub(crate) struct Events {
    /// What is wrong with homes, by whether their true temperatures show it.
    pub(crate) events: BTreeMap<(Trouble, bool), Found>,
    /// What was found of each size.
    pub(crate) sizes: Sizes,
    /// What happened to records, by whether the record shows it plainly, and what of it was seen.
    pub(crate) records: BTreeMap<(What, bool), Found>,
    /// Findings of each rule that could be checked (about the building: to act on), and those that were right.
    pub(crate) rules: BTreeMap<&'static str, Found>,
    /// Findings about records, and those that were right.
    pub(crate) about_records: Found,
    /// Homes with nothing wrong, and those of them that somebody is sent to.
    pub(crate) good_homes: Found,
    /// Troubles of homes with sound loggers, and those of which a case that is to act on names kind and room.
    pub(crate) named: BTreeMap<Trouble, Found>,
    /// The same troubles, and those that are one case about the building and no more.
    pub(crate) one_case: Found,
    /// Homes with nothing wrong, and those of them that are accepted.
    pub(crate) accepted: Found,
    /// Loggers with nothing wrong, and those of them that are doubted.
    pub(crate) good_loggers: Found,
    /// Homes with sound loggers that somebody is sent to, and those of them that have something wrong.
    pub(crate) visits: Found,
    /// What was plainly there and not seen, and findings that are wrong, a line each.
    pub(crate) misses: Vec<String>,
}

/// Rules that see a trouble, for their false alarms beside it.
pub(crate) fn rules_for_trouble(trouble: Trouble) -> &'static [&'static str] {
    match trouble {
        Trouble::None => &[],
        Trouble::ColdRoom | Trouble::HeatFailure => &["room-cold"],
        Trouble::ClosedDoor => &["room-cold", "room-uneven"],
        Trouble::UnevenHome => &["home-uneven"],
        Trouble::NoRecovery => &["slow-recovery"],
        Trouble::Overheating => &["room-overheated"],
    }
}

/// Kinds of cases that name a trouble.
fn cases_for_trouble(trouble: Trouble) -> &'static [&'static str] {
    match trouble {
        Trouble::None => &[],
        Trouble::ColdRoom => {
            &["too-cold", "no-heat-in-room", "slow-to-return", "set-low", "falls-behind-in-cold"]
        }
        Trouble::ClosedDoor => &["cut-off"],
        Trouble::UnevenHome => {
            &["uneven", "cut-off", "too-cold", "overheats", "set-low", "set-high", "falls-behind-in-cold"]
        }
        Trouble::NoRecovery => &["slow-to-return", "too-cold", "set-low", "falls-behind-in-cold"],
        Trouble::HeatFailure => &["no-heat", "building-cold"],
        Trouble::Overheating => &["overheats", "set-high"],
    }
}

/// Kinds of cases for which a person would go to where a trouble is: a door that stays shut makes its room cold, too.
fn sent_for(trouble: Trouble) -> Vec<&'static str> {
    let beside: &[&str] = match trouble {
        Trouble::ClosedDoor => &["too-cold", "set-low", "uneven"],
        Trouble::ColdRoom => &["cut-off", "uneven", "no-heat"],
        Trouble::HeatFailure => &["no-heat-in-room", "too-cold", "near-freezing"],
        _ => &[],
    };
    [cases_for_trouble(trouble), beside].concat()
}

/// Cases about a home for which somebody is sent.
fn acts_on_homes<'a>(case: &'a Case<'_>) -> impl Iterator<Item = &'a evenrooms::cases::Case> {
    case.audit.cases.iter().filter(|c| c.kind.about == About::Building && c.severity <= Severity::Act)
}

/// Whether a case names a room, where one is asked for.
fn is_of_room(case: &evenrooms::cases::Case, room: Option<&str>) -> bool {
    room.is_none_or(|room| case.rooms.iter().any(|r| r == room))
}

/// Share of the hours from which a room is truly too cold or too warm, as the rules have it.
const ACCEPTED_SHARE: f64 = 0.05;
/// Hours without a break that count whatever their share.
const LASTING_H: f64 = 24.0;
/// Hours of a day that count, for cold rooms, where the next day has as many.
const DAY_COUNTED_H: f64 = 12.0;

/// Whether a finding is right; `None` where nobody has said what would be true.
///
/// Of recoveries and the heat rule: whether the same rule finds it in the true temperatures too.
fn is_right(
    case: &Case<'_>,
    happened: &[Happened<'_>],
    perfect: &OnceCell<Judged>,
    finding: &Finding,
) -> Option<bool> {
    let room = finding.room.as_deref().and_then(|room| case.loggers().iter().position(|l| l.room == room));
    let share = |cold, warm| Some(is_truly_outside(case, room?, cold, warm));
    match finding.rule {
        "room-cold" => share(true, false),
        "room-overheated" => share(false, true),
        "home-uneven" => Some(truly_uneven(case)),
        "room-uneven" => truly_beyond_the_margin(case, room?),
        "slow-recovery" | "heat-rule-shortfall" => {
            let true_findings = &perfect.get_or_init(|| perfect::judged(case)).findings;
            Some(true_findings.iter().any(|f| f.rule == finding.rule && f.room == finding.room))
        }
        "no-heat" | "no-heat-in-room" => Some(truly_lost_heat(case, finding)),
        "near-freezing" => reaches(case, room, |degc, u| degc <= NEAR_FREEZING.degc() + u),
        "very-hot" => reaches(case, room, |degc, u| degc >= VERY_HOT.degc() - u),
        _ if case.doubts().any(|f| f.id == finding.id) => {
            Some(happened.iter().any(|h| h.is_described_in(finding)))
        }
        _ => None,
    }
}

/// Whether heating truly failed, or was missing, while a finding has it so: of the home, or of the room that is named.
fn truly_lost_heat(case: &Case<'_>, finding: &Finding) -> bool {
    let failed = |event: &TrueEvent| {
        let of_home = event.kind == Trouble::HeatFailure;
        let of_room = event.kind == Trouble::ColdRoom && event.room == finding.room.as_deref();
        let span = span_of(&event.from_utc, &event.to_utc);
        (of_home || of_room) && finding.span.is_some_and(|found| found.overlaps(&span))
    };
    case.kind() == HomeKind::Frost || case.made.truth.event.as_ref().is_some_and(failed)
}

/// Whether a room truly is outside its band, on one side, for as long as the rules have it.
fn is_truly_outside(case: &Case<'_>, room: usize, cold: bool, warm: bool) -> bool {
    let hours = case.hours(case.instants().count());
    let lasting = true_longest_outside(case, room, cold, warm) >= LASTING_H;
    lasting
        || true_hours_outside(case, room, cold, warm) > ACCEPTED_SHARE * hours
        || (cold && truly_two_days_outside(case, room, (cold, warm), DAY_COUNTED_H))
}

/// Whether the true temperatures show what is wrong with a home.
fn is_plain(case: &Case<'_>, event: &TrueEvent, perfect: &OnceCell<Judged>) -> bool {
    let room = event.room.and_then(|room| case.loggers().iter().position(|l| l.room == room));
    let outside = |cold, warm| room.is_some_and(|r| is_truly_outside(case, r, cold, warm));
    match event.kind {
        Trouble::None => false,
        Trouble::ColdRoom => outside(true, false),
        Trouble::ClosedDoor => {
            outside(true, false) || room.and_then(|r| truly_beyond_the_margin(case, r)).unwrap_or(false)
        }
        Trouble::UnevenHome => truly_uneven(case),
        Trouble::HeatFailure => truly_without_heat_h(case, event) >= WITHOUT_HEAT_H,
        Trouble::Overheating => outside(false, true),
        Trouble::NoRecovery => {
            let findings = &perfect.get_or_init(|| perfect::judged(case)).findings;
            findings.iter().any(|f| f.rule == "slow-recovery")
        }
    }
}

/// All heated rooms together so far below what they are at that hour of other days, and for so long: a home without heat.
const WITHOUT_HEAT_K: f64 = 3.0;
const WITHOUT_HEAT_H: f64 = 2.0;

/// Hours of a failure in which all heated rooms are that far below themselves.
fn truly_without_heat_h(case: &Case<'_>, event: &TrueEvent) -> f64 {
    let span = span_of(&event.from_utc, &event.to_utc);
    let heated: Vec<usize> = (0..case.loggers().len()).filter(|r| case.heated(*r)).collect();
    let mut usual = vec![[(0.0, 0.0); 24]; case.loggers().len()];
    for t in case.instants().filter(|t| !span.contains(*t)) {
        for r in &heated {
            let (n, sum) = &mut usual[*r][case.hour_of_day(t) as usize];
            case.degc(*r, t).iter().for_each(|degc| (*n, *sum) = (*n + 1.0, *sum + degc));
        }
    }
    let cold = |t: &UtcTime| {
        heated.iter().all(|r| {
            let (n, sum) = usual[*r][case.hour_of_day(*t) as usize];
            case.degc(*r, *t).is_some_and(|degc| n > 0.0 && degc <= sum / n - WITHOUT_HEAT_K)
        })
    };
    case.hours(case.instants().filter(|t| span.contains(*t)).filter(cold).count())
}

/// Whether a room, or any, truly was as cold or as warm at some time, within the accuracy of its logger.
fn reaches(case: &Case<'_>, room: Option<usize>, at: impl Fn(f64, f64) -> bool) -> Option<bool> {
    let mut rooms = (0..case.loggers().len()).filter(|r| room.is_none_or(|own| own == *r));
    Some(rooms.any(|r| {
        let u = case.loggers()[r].accuracy_k;
        case.instants().filter_map(|t| case.degc(r, t)).any(|degc| at(degc, u))
    }))
}

/// Whether a room lies on the true mean further from the median of the (other) heated rooms than the margin.
fn truly_beyond_the_margin(case: &Case<'_>, room: usize) -> Option<bool> {
    let heated: Vec<usize> = (0..case.loggers().len()).filter(|r| case.heated(*r)).collect();
    let (mut count, mut sum) = (0.0, 0.0);
    for t in case.instants() {
        let others = heated.iter().filter(|r| **r != room);
        let reference = quantile(others.filter_map(|r| case.degc(*r, t)).collect(), 0.5);
        if let Some((own, reference)) = case.degc(room, t).zip(reference) {
            (count, sum) = (count + 1.0, sum + own - reference);
        }
    }
    (count > 0.0).then(|| (sum / count).abs() > case.site.spread.margin.k())
}

fn truly_uneven(case: &Case<'_>) -> bool {
    let limit = case.site.spread.limit.k();
    let apart = case.instants().filter(|t| {
        let rooms = || (0..case.loggers().len()).filter_map(|r| case.degc(r, *t));
        rooms().fold(f64::MIN, f64::max) - rooms().fold(f64::MAX, f64::min) > limit
    });
    apart.count() as f64 > ACCEPTED_SHARE * case.instants().count() as f64
}

impl Events {
    pub(crate) fn add(&mut self, case: &Case<'_>) {
        let happened = happened(case);
        let perfect = OnceCell::new();
        self.add_event(case, &happened, &perfect);
        for one in &happened {
            let seen = case.doubts().any(|f| one.is_seen_in(f));
            self.records.entry((one.what, one.plain)).or_default().add(seen);
            if let What::Fault(kind) = one.what {
                self.sizes.add(Sized::Fault(kind), one.size, seen);
            }
            if one.plain && !seen {
                let room = one.room.unwrap_or("all rooms");
                self.misses.push(format!(
                    "missed: {}: {room}, size {:.2}, {}",
                    one.what.words(),
                    one.size,
                    one.when()
                ));
            }
        }
        for logger in case.loggers() {
            if happened.iter().all(|h| h.room != Some(logger.room)) {
                let mut doubts = case.doubts().filter(|f| f.room.as_deref() == Some(logger.room));
                let wrong = |f: &Finding| !happened.iter().any(|h| h.is_described_in(f));
                self.good_loggers.add(doubts.any(wrong));
            }
        }
        for finding in case.acts().chain(case.doubts()) {
            if let Some(right) = is_right(case, &happened, &perfect, finding) {
                self.rules.entry(finding.rule).or_default().add(right);
                if !right {
                    let room = finding.room.as_deref().unwrap_or("the home");
                    let here =
                        happened.iter().filter(|h| h.room.is_none() || h.room == finding.room.as_deref());
                    let there: Vec<String> =
                        here.map(|h| format!("{} {:.1}", h.what.words(), h.size)).collect();
                    self.misses.push(format!(
                        "wrong: {}: {room} of a {:?} home, {there:?}: {}",
                        finding.rule,
                        case.kind(),
                        finding.shows
                    ));
                }
                if finding.about == About::Record {
                    self.about_records.add(right);
                }
            }
        }
    }

    fn add_event(&mut self, case: &Case<'_>, happened: &[Happened<'_>], perfect: &OnceCell<Judged>) {
        if let Some(event) = &case.made.truth.event {
            let (kinds, span) = (sent_for(event.kind), span_of(&event.from_utc, &event.to_utc));
            let right = |c: &&evenrooms::cases::Case| {
                kinds.contains(&c.kind.id)
                    && is_of_room(c, event.room)
                    && c.span.is_none_or(|of| of.overlaps(&span))
            };
            let (plain, found) = (is_plain(case, event, perfect), acts_on_homes(case).any(|c| right(&c)));
            self.events.entry((event.kind, plain)).or_default().add(found);
            self.sizes.add(Sized::Trouble(event.kind), event.size.unwrap_or_default(), found);
            if plain && !found {
                let (room, size) = (event.room.unwrap_or("the home"), event.size.unwrap_or_default());
                let of = super::table::words(event.kind);
                self.misses.push(format!("missed: event: {of}: {room}, size {size:.2}, {}", event.from_utc));
            }
        }
        // A home that is not heated as homes are has something wrong by itself.
        if happened.is_empty() && case.kind() == HomeKind::Usual {
            self.add_visit(case, happened, perfect);
        }
    }

    /// Whether somebody is sent to a home with sound loggers, and whether rightly. What is right follows from the true
    /// temperatures: people too set rooms cold or warm, and an unheated room may be cold in a hard frost with nothing wrong in it.
    fn add_visit(&mut self, case: &Case<'_>, happened: &[Happened<'_>], perfect: &OnceCell<Judged>) {
        let visited = case.acts().next().is_some();
        let wrong = case.trouble() != Trouble::None;
        let rightly = || case.acts().any(|f| is_right(case, happened, perfect, f) == Some(true));
        if !wrong {
            let acts = |f: &Finding| f.about == About::Building && f.severity <= Severity::Act;
            let findings = || &perfect.get_or_init(|| perfect::judged(case)).findings;
            if !(findings().iter().any(acts) || rightly()) {
                self.good_homes.add(visited);
                self.add_acceptance(case);
            }
        }
        if visited {
            self.visits.add(wrong || rightly());
        }
        let event = case.made.truth.event.as_ref().filter(|event| is_plain(case, event, perfect));
        if let Some(event) = event {
            self.add_cases(case, event);
        }
    }

    /// Whether the trouble of a home is named by its cases, and by one of them.
    fn add_cases(&mut self, case: &Case<'_>, event: &TrueEvent) {
        let (trouble, kinds) = (event.kind, cases_for_trouble(event.kind));
        let right = acts_on_homes(case).any(|c| kinds.contains(&c.kind.id) && is_of_room(c, event.room));
        self.named.entry(trouble).or_default().add(right);
        let one = acts_on_homes(case).count() == 1;
        self.one_case.add(one);
        if !right || !one {
            let ids: Vec<String> =
                acts_on_homes(case).map(|c| format!("{} ({})", c.id, c.sentence)).collect();
            self.misses.push(format!("case: {trouble:?} of {:?}: {ids:?}", event.room));
        }
    }

    /// Whether a good home is accepted, and if not, what stands in the way.
    fn add_acceptance(&mut self, case: &Case<'_>) {
        let standing = case.audit.standing();
        self.accepted.add(standing >= Standing::KeepAnEye);
        if standing < Standing::KeepAnEye {
            let open = case.audit.criteria.iter().filter(|c| c.answer != Answer::Pass);
            let room = |c: &Criterion| c.room.clone().unwrap_or_default();
            let open: Vec<String> = open
                .map(|c| format!("{} {} {:?} {:?} {}", c.kind.id, room(c), c.measured, c.range, c.why))
                .collect();
            let not_judged = evenrooms::findings::open_lines(&case.audit.not_judged);
            let cases: Vec<&str> = case.audit.cases.iter().map(|c| c.id.as_str()).collect();
            self.misses.push(format!("not accepted: {}: {open:?} {cases:?} {not_judged:?}", standing.word()));
        }
    }

    /// Findings of some rules, and those that were right.
    pub(crate) fn of_rules(&self, rules: &[&str]) -> Found {
        let sum = |n: fn(&Found) -> u32| rules.iter().filter_map(|r| self.rules.get(r)).map(n).sum();
        Found { there: sum(|f| f.there), found: sum(|f| f.found) }
    }
}
