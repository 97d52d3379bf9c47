//! Rules about a home as a whole.

use super::enough::{clear_where_seen, hours_together};
use super::rooms::{doubted, least_hours, off_by_hours, settle_first};
use super::{About, Found, HomeCase, Judge, RoomCase, Rule, Severity, Verdict};
use crate::metrics::{self, EventKind, Metric, MetricRow, quorum};
use crate::site::Heated;
use crate::units::KelvinDiff;

/// Share of the hours, in %, with a spread over the limit that somebody should look at.
const WATCH_SHARE: f64 = 5.0;
/// Share of the hours, in %, above which no clock makes the spread.
const NEARLY_ALWAYS: f64 = 75.0;
/// Share of the hours, in %, from which a visit is due.
const ACT_SHARE: f64 = 25.0;

/// A home whose rooms are far apart.
pub(super) static HOME_UNEVEN: Rule = Rule {
    name: "home-uneven",
    shows: "the record shows the rooms of a home further apart than the limit for more than 5 % of the hours (act: more than 25 %, and nothing makes the logger of the warmest room read too warm or that of the coldest too cold, or either at the wrong time), and typically further than sensor error alone would put them",
    could_also_be: "one room kept cool or warm by choice, a door kept shut, a window kept open, or one logger in a bad place",
    next_step: "visit the home: look first at the coldest and the warmest room named here, at doors between heated and unheated rooms, and at where those two loggers stand",
    source: "shares: own definition; limit: the site's setting (4 °F = 2.2 K room to room is a design manual's, from memory; two legal texts say 5 °F = 2.8 K)",
    needs: &[],
    looks_at: &[
        &metrics::SPREAD_MEDIAN,
        &metrics::HOURS_SPREAD_OVER_LIMIT,
        &metrics::SHARE_SPREAD_OVER_LIMIT,
        &metrics::SPREAD_NOISE_FLOOR,
        &metrics::SHARE_COLDEST,
        &metrics::SHARE_WARMEST,
        &metrics::MEAN,
        &metrics::P05,
        &metrics::MEDIAN,
        &metrics::P95,
    ],
    about: About::Building,
    judge: Judge::Home(uneven),
};

fn uneven(case: &HomeCase<'_>) -> Verdict {
    let rooms = &case.evidence.home.rooms;
    if rooms.len() < 2 {
        return Verdict::NotJudged("the home has one room: evenness is between two and more".to_owned());
    }
    let at_once = case.row(None, &metrics::HOURS_SPREAD_OVER_LIMIT).map(|row| row.hours_observed);
    if let Some(hours) = at_once.filter(|hours| *hours < least_hours(case)) {
        return Verdict::NotJudged(format!(
            "enough rooms record at once for {hours:.1} h only: too few for evenness"
        ));
    }
    match spread(case) {
        Verdict::Clear if rooms.iter().all(|r| r.heated == Heated::No) => Verdict::NotJudged(
            "no room of the home is heated: evenness is that of rooms with heated ones".to_owned(),
        ),
        verdict => verdict,
    }
}

fn spread(case: &HomeCase<'_>) -> Verdict {
    let row = |id| case.row(None, id);
    let (Some(median), Some(hours), Some(share), Some(floor)) = (
        row(&metrics::SPREAD_MEDIAN),
        row(&metrics::HOURS_SPREAD_OVER_LIMIT),
        row(&metrics::SHARE_SPREAD_OVER_LIMIT),
        row(&metrics::SPREAD_NOISE_FLOOR),
    ) else {
        return Verdict::NotJudged(why_no_spread(case));
    };
    let limit = case.evidence.site.spread.limit;
    let show = |k: f64| case.units().show_difference(KelvinDiff::new(k));
    if limit.k() < floor.value {
        return Verdict::NotJudged(format!(
            "the limit of {} is under the {} that sensor error alone would give",
            show(limit.k()),
            show(floor.value)
        ));
    }
    let ends =
        [(&metrics::SHARE_WARMEST, EventKind::AboveBand), (&metrics::SHARE_COLDEST, EventKind::BelowBand)];
    let doubt = ends.into_iter().find_map(|(id, kind)| {
        let room = room_case(case, extreme_room(case, id)?.0)?;
        doubted(&room, kind).or_else(|| off_by_hours(&room).filter(|_| share.value <= NEARLY_ALWAYS))
    });
    let severity = match share.value {
        s if s <= WATCH_SHARE => {
            let seen = 100.0 * hours.hours_observed / hours_together(case);
            return clear_where_seen(seen, "the time has values of as many rooms at once as a spread takes");
        }
        s if s > ACT_SHARE && median.value > floor.value && doubt.is_none() => Severity::Act,
        _ => Severity::Watch,
    };
    let end = |id, word| {
        extreme_room(case, id).map_or(String::new(), |(room, share)| {
            format!("; {word} most often: {room} ({share:.0} % of the time)")
        })
    };
    let shows = format!(
        "The record shows the rooms more than {} apart for {:.1} of {:.1} hours ({:.0} %); the median spread is {}, where sensor error alone would give {}{}{}.",
        show(limit.k()),
        hours.value,
        hours.hours_observed,
        share.value,
        show(median.value),
        show(floor.value),
        end(&metrics::SHARE_COLDEST, "coldest"),
        end(&metrics::SHARE_WARMEST, "warmest"),
    ) + &settle_first(doubt);
    let span = case.span_of(None, EventKind::SpreadOverLimit);
    Verdict::Found(Found {
        severity,
        span,
        observed: hours.value,
        unit: "h",
        limit: WATCH_SHARE / 100.0 * hours.hours_observed,
        range: None,
        shows,
        doubt,
    })
}

/// A spread takes rooms at the same time: how many of them there are, or that there never are enough.
fn why_no_spread(case: &HomeCase<'_>) -> String {
    let rooms = &case.evidence.home.rooms;
    let with_values = rooms.iter().filter(|r| case.row(Some(&r.name), &metrics::MEAN).is_some());
    let with_values: Vec<&str> = with_values.map(|r| r.name.as_str()).collect();
    match with_values.as_slice() {
        [] => "no room has a usable value in this time".to_owned(),
        [one] => format!("only {one} has usable values in this time, and a spread takes two rooms"),
        several => {
            let quorum = quorum(case.evidence.site, case.evidence.home);
            let (all, some) = (rooms.len(), several.len());
            let few = match some < all {
                true => format!("; {some} of them have values, and never {quorum} at once"),
                false => ", and there never are so many".to_owned(),
            };
            let remedy = match (case.evidence.site.periods.is_empty(), some < quorum) {
                (true, _) => "name the time in which most record as a [[period]], leave out rooms of another time, or lower `quorum` of [spread]".to_owned(),
                // Whoever named a time named that in which most record.
                (false, true) => format!("set `quorum` of [spread] to {some}, or leave the other rooms out"),
                (false, false) => "lower `quorum` of [spread], or name a [[period]] in which they record together".to_owned(),
            };
            format!(
                "a spread takes the values of {quorum} of its {all} rooms at the same time{few}: {remedy}"
            )
        }
    }
}

fn room_case<'a>(case: &HomeCase<'a>, name: &str) -> Option<RoomCase<'a>> {
    let room = case.evidence.home.rooms.iter().find(|r| r.name == name)?;
    Some(RoomCase { case: *case, room })
}

fn extreme_room<'a>(case: &HomeCase<'a>, metric: &Metric) -> Option<(&'a str, f64)> {
    let rows = case.evidence.home.rooms.iter().filter_map(|r| case.row(Some(&r.name), metric));
    let most = rows.max_by(|a: &&MetricRow, b| a.value.total_cmp(&b.value))?;
    Some((most.room.as_deref()?, most.value))
}
