//! Rules about loggers that something happened to: told from the other rooms of the home, or from the rows themselves.
//!
//! Settled here, and why:
//! - **A clock that is off** spoils what depends on the hour (bands that differ by night, the heat rule's windows, the
//!   spread where that room is the coldest or warmest), unless no hour could change it; it moves no mean over days. A
//!   finding that another rule doubts makes the home undecided.

use super::readings::TALL;
use super::{About, Evidence, Found, Judge, Rule, Severity, Verdict};
use crate::clock::{HOUR_MS, Span};
use crate::quality::episodes::Seen;
use crate::quality::peer_check::{LateIn, Restless};
use crate::quality::{LoggerRow, SetBack};
use crate::site::Site;
use crate::units::KelvinDiff;

const SOURCE: &str =
    "own definition; limits set on simulated homes (benches/scoreboard.md holds what they find and miss)";

/// A logger that something warms again and again.
pub(super) static HEAT_ON_LOGGER: Rule = Rule {
    name: "heat-on-logger",
    shows: "on two days or more a logger stands over 5 K, and over three times the range in which half of its distances lie, above its usual distance to the other rooms, for two hours or more in all and less than a third of its record; or, not in a bathroom or kitchen, more than 1 % of its readings change by over 30 K/h; or half of its readings lie 0.4 K or more from its own mean over the two hours around, which is 2.5 times as far as in the home's other rooms, and further than in any of them; or it falls by 0.7 K or more within a quarter of an hour in the twentieth part of the time in which it falls fastest, 1.8 times as far as the other rooms, further than any of them, and its days are the warmer the colder it is outdoors (without a weather series, not in a bathroom or kitchen: by 1.05 K or more, and 2.6 times as far)",
    could_also_be: "a heater of this room alone, cooking, showers, or a small room that truly gets so warm",
    next_step: "look at where the logger stands: away from heaters, appliances and the sun; ask whether the room is heated by itself now and then",
    source: SOURCE,
    needs: &[],
    looks_at: &[],
    about: About::Record,
    judge: Judge::Logger(heat),
};

/// A logger that reads higher or lower from some moment on.
pub(super) static SENSOR_SHIFTED: Rule = Rule {
    name: "sensor-shifted",
    shows: "a logger jumped by 0.6 K or more within a quarter of an hour against the other rooms, by as much over the next hours and days, by five times what its days differ by, by more than 1.2 steps of its readings and 30 % of what the other rooms move by, while no other room moves so too, and stayed there for the rest of its record",
    could_also_be: "a logger that somebody moved within the room (to a shelf, a window, a heater), or a heater that was turned on or off for good beside it",
    next_step: "ask who moved it; compare the logger side by side with another one; split the placement in the roster at that moment if it was moved",
    source: SOURCE,
    needs: &[],
    looks_at: &[],
    about: About::Record,
    judge: Judge::Logger(shifted),
};

/// A logger that moves away slowly.
pub(super) static SENSOR_DRIFTS: Rule = Rule {
    name: "sensor-drifts",
    shows: "a logger moves away from the other rooms by 0.85 K or more over its record (more in one longer than four weeks, with the root of its length), steadily: five times the daily scatter, and in both halves of it",
    could_also_be: "a room that is heated less or more from week to week, or whose sun or neighbours change with the season",
    next_step: "compare the logger side by side with another one before you trust its later weeks",
    source: SOURCE,
    needs: &[],
    looks_at: &[],
    about: About::Record,
    judge: Judge::Logger(drifts),
};

/// A logger that the sun reaches.
pub(super) static SUN_ON_LOGGER: Rule = Rule {
    name: "sun-on-logger",
    shows: "a logger shows short warm peaks at the same time between 09:00 and 17:00, of 3 K or more on one day in five, that the other rooms do not show; or on four days or more of 2 K or more within three hours (on one day in ten 2.5 K), which the logger itself shows too, and none like them between 18:00 and 07:00",
    could_also_be: "cooking or an appliance at that time of day, or a small room with a large window that truly gets so warm",
    next_step: "look at where the logger stands at that time on a clear day, shade or move it, and leave its peaks out of any verdict about warmth",
    source: SOURCE,
    needs: &[],
    looks_at: &[],
    about: About::Record,
    judge: Judge::Logger(sun),
};

/// A logger whose clock does not go with the others.
pub(super) static CLOCK_SUSPECT: Rule = Rule {
    name: "clock-suspect",
    shows: "a logger's changes come three quarters of an hour to 13 hours earlier or later than those of the other rooms, in all of its record or from a day on or until one, and go better with them once moved, day by day (by five standard errors; where its record also begins or ends so many whole hours apart from theirs, by less); or (act) the times in its export go back by half an hour to 13 hours and run on from there",
    could_also_be: "a room with a schedule of its own, or that got one that day, or a slow room that follows the others",
    next_step: "compare the logger's clock with a good one, and correct `clock` in the roster, or `time_zone` in the site file where exports of others follow it; where it jumped within the record, give the parts before and after a row each, with `from` and `to`; hours of day and night, and of recovery, are wrong for it until then",
    source: SOURCE,
    needs: &[],
    looks_at: &[],
    about: About::Record,
    judge: Judge::Logger(clock),
};

/// A logger that loses more and more readings.
pub(super) static RECORD_FADES: Rule = Rule {
    name: "record-fades",
    shows: "a logger wrote nearly all readings in the first quarter of its record (90 %) and fewer than 60 % in the last eighth",
    could_also_be: "a weak radio link, a full memory, or a download that broke off",
    next_step: "change the battery; record again if the missing part matters",
    source: SOURCE,
    needs: &[],
    looks_at: &[],
    about: About::Record,
    judge: Judge::Logger(fades),
};

/// A difference in the site's unit.
fn difference(site: &Site, k: f64) -> String {
    site.units.show_difference(KelvinDiff::new(k))
}

fn found(logger: &LoggerRow, observed: f64, unit: &'static str, limit: f64, shows: String) -> Verdict {
    Verdict::Found(Found {
        span: logger.record(),
        unit,
        limit,
        ..Found::new(Severity::Watch, observed, shows)
    })
}

/// What a logger does that is restless: how far, K, the limit, and the sentence.
fn beside_a_cycling_heater(logger: &LoggerRow, restless: Restless, site: &Site) -> (f64, f64, String) {
    let (own_k, others_k, limit, does) = match restless {
        Restless::Wobbles { own_k, others_k } => {
            let by = difference(site, 2.0 * own_k);
            (own_k, others_k, 0.4, format!("goes up and down by {by} within two hours all the time"))
        }
        Restless::Falls { own_k, others_k, with_weather } => {
            let by = difference(site, own_k);
            let days = if with_weather { ", and is warmer on days that are colder outdoors" } else { "" };
            let does = format!("falls by {by} within a quarter of an hour, over an hour of each day{days}");
            (own_k, others_k, if with_weather { 0.7 } else { 1.05 }, does)
        }
    };
    let shows = format!(
        "Logger {} in {} {does}, {:.1} times as far as the other loggers: as beside a heater that cycles.",
        logger.logger,
        logger.room,
        own_k / others_k.max(0.01),
    );
    (own_k, limit, shows)
}

/// Share of quick changes, in %, that is worth a look.
pub(super) const QUICK: f64 = 1.0;

fn heat(logger: &LoggerRow, evidence: &Evidence<'_>) -> Verdict {
    let site = evidence.site;
    // Showers and cooking are quick, too.
    let quick = logger.share_quick_lasting();
    let quick = quick.filter(|share| *share > QUICK && !evidence.has_steam(&logger.room));
    // A failing logger jumps to 0.0 and back.
    let quick = quick.filter(|_| !logger.episodes.iter().any(|e| matches!(e.seen, Seen::Zeros { .. })));
    if let Some(restless) = logger.doubts.restless {
        let (own_k, limit, shows) = beside_a_cycling_heater(logger, restless, site);
        return found(logger, own_k, "K", limit, shows);
    }
    // What else explains it is told by a rule of its own.
    let told = logger.doubts.sun.is_some() || unsettled(logger) || logger.tall_spikes_in_a_day >= TALL;
    match (logger.doubts.heat, quick) {
        (Some(_), _) if told => Verdict::Clear,
        (Some(heat), _) => {
            let shows = format!(
                "Logger {} in {} stands more than {} above its usual distance to the other rooms for {:.0} h on {} days, up to {}.",
                logger.logger,
                logger.room,
                difference(site, heat.beyond_k),
                heat.hours,
                heat.days,
                difference(site, heat.most_k)
            );
            found(logger, heat.most_k, "K", heat.beyond_k, shows)
        }
        (None, Some(share)) => {
            let shows = format!(
                "Of logger {}'s readings in {} {share:.1} % change faster than {} in an hour, up and down, as beside a heater.",
                logger.logger,
                logger.room,
                difference(site, site.quality.rate_of_change.suspect.k_per_h())
            );
            found(logger, share, "%", QUICK, shows)
        }
        (None, None) => Verdict::Clear,
    }
}

/// What keeps no level any more from some moment on is told as such.
fn unsettled(logger: &LoggerRow) -> bool {
    logger.episodes.iter().any(|e| matches!(e.seen, Seen::Unsettled { .. }))
}

/// Whether a shift is that of a logger that stuck or moved again, was taken away or brought back, or came out of a box: told
/// as such.
fn elsewhere(logger: &LoggerRow, shifted: Span) -> bool {
    let near = |e: &Span| {
        let apart = |a: crate::clock::UtcTime| (a.ms() - shifted.from.ms()).abs() <= NEAR_MS;
        apart(e.from) || apart(e.to)
    };
    logger.episodes.iter().any(|e| match e.seen {
        Seen::Unsettled { .. } => true,
        Seen::WrongUnit { .. } => false,
        _ => near(&e.span),
    })
}

/// How near to one another a shift and the beginning or end of a time elsewhere are one thing.
const NEAR_MS: i64 = 3 * 3_600_000;

fn shifted(logger: &LoggerRow, evidence: &Evidence<'_>) -> Verdict {
    let site = evidence.site;
    let Some((shift, span)) = logger.doubts.shift.zip(logger.shifted) else { return Verdict::Clear };
    if elsewhere(logger, span) {
        return Verdict::Clear;
    }
    let way = if shift.by_k > 0.0 { "higher" } else { "lower" };
    let shows = format!(
        "From {} on logger {} in {} reads {} {way} against the other rooms than before.",
        site.zone.show(span.from),
        logger.logger,
        logger.room,
        difference(site, shift.by_k.abs())
    );
    let found = Found::new(Severity::Watch, shift.by_k, shows);
    Verdict::Found(Found { span: Some(span), unit: "K", limit: 0.6, ..found })
}

fn drifts(logger: &LoggerRow, evidence: &Evidence<'_>) -> Verdict {
    let site = evidence.site;
    let Some(by_k) = logger.doubts.drift_k else { return Verdict::Clear };
    let shows = format!(
        "Logger {} in {} moves {} by {} against the other rooms over its record, steadily.",
        logger.logger,
        logger.room,
        if by_k > 0.0 { "up" } else { "down" },
        difference(site, by_k.abs())
    );
    found(logger, by_k, "K", 0.85, shows)
}

fn sun(logger: &LoggerRow, evidence: &Evidence<'_>) -> Verdict {
    let site = evidence.site;
    let Some(sun) = logger.doubts.sun else { return Verdict::Clear };
    let shows = format!(
        "Logger {} in {} peaks around {:02}:{:02} on {} days, by more than {} on one day in {}, while the other rooms do not.",
        logger.logger,
        logger.room,
        sun.minute / 60,
        sun.minute % 60,
        sun.days,
        difference(site, sun.peak_k),
        if sun.one_in == 5 { "five" } else { "ten" },
    );
    found(logger, sun.peak_k, "K", if sun.one_in == 5 { 3.0 } else { 2.5 }, shows)
}

/// A clock that was set back in the file itself is no guess: nobody knows which part is right.
fn set_back(logger: &LoggerRow, evidence: &Evidence<'_>) -> Option<Found> {
    let first = logger.set_back.first()?;
    let hours = |by_ms: i64| by_ms as f64 / HOUR_MS as f64;
    let place =
        |back: &SetBack| format!("{:.2} h after {}", hours(back.by_ms), evidence.site.zone.show(back.last));
    let places: Vec<String> = logger.set_back.iter().map(place).collect();
    let shows = format!(
        "The times in the export of logger {} in {} go back by {} and run on from there: its clock was set back while it recorded, and the times before or after that are wrong by so much. What stands there twice was set aside where it differs.",
        logger.logger,
        logger.room,
        places.join(", by "),
    );
    let span = logger.record().map(|record| Span { from: first.last, ..record });
    Some(Found { span, unit: "h", limit: 0.5, ..Found::new(Severity::Act, -hours(first.by_ms), shows) })
}

fn clock(logger: &LoggerRow, evidence: &Evidence<'_>) -> Verdict {
    let zone = evidence.site.zone;
    if let Some(found) = set_back(logger, evidence) {
        return Verdict::Found(found);
    }
    let Some(late) = logger.doubts.clock else { return Verdict::Clear };
    let way = if late.hours > 0.0 { "later" } else { "earlier" };
    let about = |at| zone.date(at);
    let (when, where_right) = match (late.part, logger.late_in) {
        (LateIn::From(_), Some(off)) => {
            (format!("From about {} on", about(off.from)), ", and with them before")
        }
        (LateIn::Until(_), Some(off)) => (format!("Until about {}", about(off.to)), ", and with them after"),
        _ => ("All the time".to_owned(), ""),
    };
    let by = match late.hours.abs() {
        whole if whole.fract() < 1e-9 => format!("{whole:.0} h"),
        part => format!("{part:.2} h"),
    };
    let ends = match (late.by_ends, late.part) {
        (false, _) => "",
        (true, LateIn::Whole) => ", and its record begins and ends so much apart from theirs",
        (true, LateIn::From(_)) => ", and its record ends so much apart from theirs",
        (true, LateIn::Until(_)) => ", and its record begins so much apart from theirs",
    };
    let shows = format!(
        "{when} the changes of logger {} in {} come {by} {way} than those of the other rooms{where_right}{ends} (how closely they go with them, at most 1: {:.2} once moved, {:.2} as they are; other rooms {:.2}).",
        logger.logger, logger.room, late.moved, late.unmoved, late.usual
    );
    let line = zone_line(logger, evidence, late.hours)
        .or_else(|| super::placed::clock_line(logger, evidence.site, late.hours))
        .unwrap_or_default();
    let seen = Found::new(Severity::Watch, late.hours, shows + &line);
    Verdict::Found(Found { span: logger.late_in.or(logger.record()), unit: "h", limit: 0.75, ..seen })
}

/// Whether a record was read by the zone of the site file and does not say itself by which clock.
fn by_zone(logger: &&LoggerRow) -> bool {
    logger.clock.starts_with("civil") && !logger.states_clock()
}

/// Whether the export of this logger states its clock and most others do not, by whole hours beside it: the zone may be wrong.
pub(super) fn is_of_the_zone(logger: &LoggerRow, loggers: &[LoggerRow], hours: f64) -> bool {
    let others = loggers.iter().filter(by_zone).count();
    logger.states_clock() && 2 * others > loggers.len() && hours.fract().abs() < 1e-9
}

/// Where the export of this logger alone states its clock, by whole hours beside the others: the zone by which those were read
/// may be the wrong one.
fn zone_line(logger: &LoggerRow, evidence: &Evidence<'_>, hours: f64) -> Option<String> {
    is_of_the_zone(logger, evidence.loggers, hours).then(|| {
        let others = evidence.loggers.iter().filter(by_zone).count();
        format!(
            " Its export states its clock, and {others} others were read by time_zone = \"{}\" of the site file: that may be the wrong one.",
            evidence.site.zone.name()
        )
    })
}

/// Shares of the readings expected, in %: whole at the start, few at the end.
const WHOLE: f64 = 90.0;
const FEW: f64 = 60.0;

fn fades(logger: &LoggerRow, _: &Evidence<'_>) -> Verdict {
    let Some([first, second, .., last]) = logger.completeness else { return Verdict::Clear };
    if first.min(second) < WHOLE || last >= FEW {
        return Verdict::Clear;
    }
    let shows = format!(
        "Logger {} in {} wrote {:.0} % of its readings in the first eighth of its record and {last:.0} % in the last.",
        logger.logger, logger.room, first
    );
    found(logger, last, "%", FEW, shows)
}
