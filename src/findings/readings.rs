//! Rules about readings that are not, or may not be, the air of their room: what was seen, who witnesses it, when, and what
//! was done to the readings.

use super::{About, Evidence, Found, Judge, Rule, Severity, Verdict, show_span};
use crate::clock::Span;
use crate::quality::episodes::{Episode, Seen};
use crate::quality::stuck::{Moved, Witness};
use crate::quality::{LoggerRow, TALL_K};
use crate::site::Site;
use crate::units::{Celsius, KelvinDiff, TemperatureUnit};

/// Share of a logger's readings, in %, from which what is left out, or doubtful, decides.
const MOSTLY: f64 = 10.0;
/// Share of its readings, in %, that single spikes are worth a word.
const SPIKES: f64 = 1.0;
/// Spikes within 24 hours that are a burst.
const BURST: u64 = 5;
/// The same of a logger that samples often, where nobody showers or cooks.
const FEW: u64 = 3;
/// So many in a record are a fault however far apart they are.
const MANY: u64 = 10;
/// Spikes over so much, K, within 24 hours that are a burst.
pub(super) const TALL: u64 = 3;
/// How long before and after a side-by-side time loggers are carried about, ms.
const CARRIED_MS: i64 = 30 * 60_000;
/// Times that are listed; the others are counted.
const LISTED: usize = 3;

const OWN: &str = "own definition";

/// A logger that repeats one value while others move.
pub(super) static STUCK: Rule = Rule {
    name: "stuck",
    shows: "a logger repeats one value for 6 h or more, three times as long as ever otherwise, while the other rooms of the home or the outdoor air moved by so much that this room must have moved by three steps of the logger; those readings are in no number",
    could_also_be: "a room that was sealed off from the others just then, or a logger that keeps the last value while its memory or radio fails",
    next_step: "replace the logger, or start it anew and lay it beside another for a day; record again if the time left out matters",
    source: OWN,
    needs: &[],
    looks_at: &[],
    about: About::Record,
    judge: Judge::Logger(stuck),
};

/// A logger that repeats one value for long, without a witness.
pub(super) static MAY_BE_STUCK: Rule = Rule {
    name: "may-be-stuck",
    shows: "a logger repeats one value for far longer than otherwise, for more than a tenth of its record, and nobody can tell whether the room was so steady; those readings are used, and nothing good rests on them",
    could_also_be: "a steady room: unheated, massive, or held by its heating to less than a step of the logger",
    next_step: "lay the logger beside another one for a day, or breathe on it and see whether it moves",
    source: OWN,
    needs: &[],
    looks_at: &[],
    about: About::Record,
    judge: Judge::Logger(may_be_stuck),
};

/// Single readings far beyond their neighbours.
pub(super) static SPIKES_SEEN: Rule = Rule {
    name: "spikes",
    shows: "three or more single readings within 24 hours (in a bathroom or kitchen five, or three that are colder than both neighbours), or ten, or more than 1 %, of all, lie over 3 K beyond both neighbours, at a sampling interval of 10 min or less: they are in no number; of a logger that samples less often, five or more within 24 hours over 2 K beyond both: they are used, and counted both ways; of either, three or more within 24 hours over 6 K beyond both, or two readings together that stand out so far, of a logger that samples every 10 min or faster: these are used, and counted both ways",
    could_also_be: "a loose sensor or cable, a failing battery, or somebody who warms the logger by hand again and again",
    next_step: "look at the logger, its battery and its place; compare it side by side with another one",
    source: "own definition; spike test after the QARTOD manual",
    needs: &[],
    looks_at: &[],
    about: About::Record,
    judge: Judge::Logger(spikes),
};

/// Readings that no sensor of the kind can give.
pub(super) static OUT_OF_RANGE: Rule = Rule {
    name: "out-of-range",
    shows: "readings lie outside of what the sensor can measure (-40 to 85 °C unless the site says otherwise); they are in no number",
    could_also_be: "a mark for \"no value\" or a broken sensor that the export writes as a number, or a column that is no temperature",
    next_step: "look at those lines of the export; name the right column in the roster; replace the sensor if it broke",
    source: "own definition; gross range test after the QARTOD manual",
    needs: &[],
    looks_at: &[],
    about: About::Record,
    judge: Judge::Logger(out_of_range),
};

/// What a logger writes that has nothing to say.
pub(super) static FAILURE_VALUE: Rule = Rule {
    name: "failure-value",
    shows: "readings of exactly 0.0 (°C, or °F where the logger writes those), more than 5 K from the reading before and the one after: a logger writes so where its sensor or battery fails; those readings are in no number",
    could_also_be: "a logger that was held into ice water just then",
    next_step: "look at the logger's battery and contacts; replace it where this comes again",
    source: OWN,
    needs: &[],
    looks_at: &[],
    about: About::Record,
    judge: Judge::Logger(failure_value),
};

/// Readings in the other unit.
pub(super) static WRONG_UNIT: Rule = Rule {
    name: "wrong-unit",
    shows: "the readings of a logger are far from the other rooms (or from any room) as they were read, and near them had they been written in the other unit; they are in no number",
    could_also_be: "a logger in a boiler cupboard or a cold store that just happens to fit",
    next_step: "write the unit into `unit` of the roster (°C or °F), and run again",
    source: OWN,
    needs: &[],
    looks_at: &[],
    about: About::Record,
    judge: Judge::Logger(wrong_unit),
};

/// A logger that was carried about at the start or the end.
pub(super) static LOGGER_HANDLED: Rule = Rule {
    name: "logger-handled",
    shows: "at the start or the end of a download a logger is 2 K or more from its usual distance to the other rooms and gets there, or leaves it, by its own quick movement, or from further than it ever is otherwise; those readings are in no number",
    could_also_be: "a room that was heated up or aired just when the record started or ended",
    next_step: "find out when the logger was put in place and taken away, and write it into `from` and `to` of the roster",
    source: OWN,
    needs: &[],
    looks_at: &[],
    about: About::Record,
    judge: Judge::Logger(handled),
};

/// A logger that was elsewhere.
pub(super) static LOGGER_ELSEWHERE: Rule = Rule {
    name: "logger-elsewhere",
    shows: "for three hours or more a logger follows the outdoor air while the other rooms do not, and was carried there quickly: those readings are in no number; without an outdoor series, it is far below every other room from one half hour to the next; or from a jump on it keeps no level beside the other rooms any more: at the start of its record it lies in a colder place, left by a jump that no room makes: those readings are used, and nothing good rests on them",
    could_also_be: "a window that stood wide open in the cold, or a heater or a stove that was turned on, beside the logger",
    next_step: "ask who moved it; write the time into `from` and `to` of the roster, with two rows for one logger where it came back",
    source: OWN,
    needs: &[],
    looks_at: &[],
    about: About::Record,
    judge: Judge::Logger(elsewhere),
};

/// Loggers that lay in one place.
pub(super) static LOGGERS_TOGETHER: Rule = Rule {
    name: "loggers-together",
    shows: "at the start or the end of the record the loggers of a home read alike within 1 K (1.5 steps of a coarse logger), and then part at once and stay three times as far apart, or stand still beside each other by day too as the rooms never do again, as in one box or on one desk: those readings are used, and nothing good rests on them, until the roster or the site file says where they lay",
    could_also_be: "rooms with all doors open that were heated differently from one hour to the next, or that cool together without heat",
    next_step: "if they lay together, write `from` (or `to`) into the roster; if that was for 12 h or more, name the time as a side-by-side check instead, which makes every number more certain",
    source: OWN,
    needs: &[],
    looks_at: &[],
    about: About::Record,
    judge: Judge::Records(together),
};

/// The episodes of one kind, with their times as words.
fn episodes(logger: &LoggerRow, of: fn(&Seen) -> bool) -> Vec<&Episode> {
    logger.episodes.iter().filter(|e| of(&e.seen)).collect()
}

fn times(episodes: &[&Episode], site: &Site) -> String {
    let listed: Vec<String> = episodes.iter().take(LISTED).map(|e| show_span(e.span, site.zone)).collect();
    let more = episodes.len().saturating_sub(LISTED);
    let more = if more > 0 { format!(" and {more} more times") } else { String::new() };
    listed.join(", ") + &more
}

fn hours(episodes: &[&Episode]) -> f64 {
    episodes.iter().map(|e| e.span.hours()).sum()
}

fn hull(episodes: &[&Episode]) -> Option<Span> {
    let spans = episodes.iter().map(|e| e.span);
    spans.reduce(|a, b| Span { from: a.from.min(b.from), to: a.to.max(b.to) })
}

/// Share of a logger's record, in %.
fn share(logger: &LoggerRow, hours: f64) -> f64 {
    let record = logger.record().map(|span| span.hours());
    record.filter(|h| *h > 0.0).map_or(0.0, |record| (100.0 * hours / record).min(100.0))
}

/// What decides is a finding to act on.
fn severity(share: f64) -> Severity {
    if share > MOSTLY { Severity::Act } else { Severity::Watch }
}

/// A finding about episodes: hours in all, and when.
fn found(logger: &LoggerRow, episodes: &[&Episode], limit: f64, shows: String) -> Verdict {
    let observed = hours(episodes);
    let found = Found::new(severity(share(logger, observed)), observed, shows);
    Verdict::Found(Found { span: hull(episodes), unit: "h", limit, ..found })
}

fn k(site: &Site, k: f64) -> String {
    site.units.show_difference(KelvinDiff::new(k))
}

fn degc(site: &Site, degc: f64) -> String {
    site.units.show(Celsius::new(degc))
}

fn stuck(logger: &LoggerRow, evidence: &Evidence<'_>) -> Verdict {
    let site = evidence.site;
    let runs = episodes(logger, |seen| matches!(seen, Seen::Stuck { .. }));
    let longest = runs.iter().max_by(|a, b| a.span.hours().total_cmp(&b.span.hours()));
    let Some(Episode { seen: Seen::Stuck { degc: value, longest_other_h, moved }, span }) = longest else {
        return Verdict::Clear;
    };
    let Moved { witness, by_k, room_k } = moved;
    let who = match witness {
        Witness::Rooms => "the other rooms of the home",
        Witness::Outdoors => "the outdoor air",
    };
    let shows = format!(
        "Logger {} in {} read {} for {:.0} h without a change ({}), {}, while {who} moved by {}, with which this room moves by at least {}. Those readings are left out.",
        logger.logger,
        logger.room,
        degc(site, *value),
        span.hours(),
        times(&runs, site),
        never_longer(*longest_other_h),
        k(site, *by_k),
        k(site, *room_k),
    );
    found(logger, &runs, 6.0, shows)
}

fn may_be_stuck(logger: &LoggerRow, evidence: &Evidence<'_>) -> Verdict {
    let site = evidence.site;
    let runs = episodes(logger, |seen| matches!(seen, Seen::Flat { .. }));
    let all = hours(&runs);
    let longest = runs.iter().max_by(|a, b| a.span.hours().total_cmp(&b.span.hours()));
    let Some(Episode { seen: Seen::Flat { degc: value, longest_other_h }, span }) =
        longest.filter(|_| share(logger, all) > MOSTLY)
    else {
        return Verdict::Clear;
    };
    let shows = format!(
        "Logger {} in {} read {} for {:.0} h without a change ({}), {}; neither another room nor the outdoor air tells whether the room was so steady. Those readings are used, and counted both ways.",
        logger.logger,
        logger.room,
        degc(site, *value),
        span.hours(),
        times(&runs, site),
        never_longer(*longest_other_h),
    );
    let seen = Found::new(Severity::Watch, all, shows);
    Verdict::Found(Found { span: hull(&runs), unit: "h", limit: 6.0, ..seen })
}

fn never_longer(hours: f64) -> String {
    if hours < 2.0 {
        "never for 2 h otherwise".to_owned()
    } else {
        format!("never longer than {hours:.1} h otherwise")
    }
}

fn spikes(logger: &LoggerRow, evidence: &Evidence<'_>) -> Verdict {
    // What single readings of exactly 0.0 are is told as such.
    if zeros(logger) > 0 && logger.spikes <= zeros(logger) {
        return Verdict::Clear;
    }
    let often = logger.samples_often();
    let share = 100.0 * logger.spikes as f64 / logger.with_value().max(1) as f64;
    // A shower or a pan may be one warm reading, of a logger that samples seldom anyway.
    let few = if often && !evidence.has_steam(&logger.room) { FEW } else { BURST };
    let single = logger.spikes_in_a_day >= few
        || often && (logger.dips_in_a_day >= FEW || share > SPIKES || logger.spikes >= MANY);
    if !single && logger.tall_spikes_in_a_day < TALL {
        return Verdict::Clear;
    }
    let limit = evidence.site.quality.spike;
    let (beyond, done) = match often {
        true => (limit.fail, "They are left out"),
        false => (limit.suspect, "They are used, and counted both ways, because it samples seldom"),
    };
    let mut shows = format!("Of logger {}'s readings in {} ", logger.logger, logger.room);
    let difference = |k| evidence.site.units.show_difference(k);
    shows += &if single {
        format!(
            "{} ({share:.1} %) stand more than {} beyond both neighbours, up to {} of them within 24 hours. {done}.",
            logger.spikes,
            difference(beyond),
            logger.spikes_in_a_day
        )
    } else {
        let many = if often { "one or two at a time" } else { "single ones" };
        format!(
            "{many} stand out by more than {} and are back at once, {} times within 24 hours. Single ones: {}; two at a time are used, and counted both ways.",
            difference(KelvinDiff::new(TALL_K)),
            logger.tall_spikes_in_a_day,
            done.to_lowercase()
        )
    };
    whole_record(logger, severity(share), share, SPIKES, shows)
}

fn failure_value(logger: &LoggerRow, evidence: &Evidence<'_>) -> Verdict {
    let site = evidence.site;
    let bursts = episodes(logger, |seen| matches!(seen, Seen::Zeros { .. }));
    let Some(Episode { seen: Seen::Zeros { degc: value, .. }, .. }) = bursts.first() else {
        return Verdict::Clear;
    };
    let count = zeros(logger);
    // One of many spikes may stand at 0.0 by chance.
    if logger.spikes > 2 * count && logger.spikes_in_a_day >= FEW {
        return Verdict::Clear;
    }
    let share = 100.0 * count as f64 / logger.with_value().max(1) as f64;
    let shows = format!(
        "Of logger {}'s readings in {} {count} ({share:.1} %) are exactly {}, with a jump before and after, {} time{} ({}). They are left out.",
        logger.logger,
        logger.room,
        degc(site, *value),
        bursts.len(),
        if bursts.len() == 1 { "" } else { "s" },
        times(&bursts, site),
    );
    let seen = Found::new(severity(share), share, shows);
    Verdict::Found(Found { span: hull(&bursts), unit: "%", limit: 0.0, ..seen })
}

/// Readings that are a failure value.
fn zeros(logger: &LoggerRow) -> u64 {
    let readings = logger.episodes.iter().map(|e| match e.seen {
        Seen::Zeros { readings, .. } => readings as u64,
        _ => 0,
    });
    readings.sum()
}

fn out_of_range(logger: &LoggerRow, _: &Evidence<'_>) -> Verdict {
    let count = logger.out_of_range.saturating_sub(zeros(logger));
    if count == 0 || logger.episodes.iter().any(|e| matches!(e.seen, Seen::WrongUnit { .. })) {
        return Verdict::Clear;
    }
    let share = 100.0 * count as f64 / logger.with_value().max(1) as f64;
    let shows = format!(
        "Of logger {}'s readings in {} {count} ({share:.1} %) lie outside of what its sensor can measure. They are left out.",
        logger.logger, logger.room
    );
    whole_record(logger, severity(share), share, 0.0, shows)
}

fn whole_record(logger: &LoggerRow, severity: Severity, observed: f64, limit: f64, shows: String) -> Verdict {
    Verdict::Found(Found { span: logger.record(), unit: "%", limit, ..Found::new(severity, observed, shows) })
}

fn wrong_unit(logger: &LoggerRow, evidence: &Evidence<'_>) -> Verdict {
    let site = evidence.site;
    let runs = episodes(logger, |seen| matches!(seen, Seen::WrongUnit { .. }));
    let Some(Episode { seen: Seen::WrongUnit { read, median_degc, other_degc, others_degc }, .. }) =
        runs.first()
    else {
        return Verdict::Clear;
    };
    let (was, is) = match read {
        TemperatureUnit::Celsius => ("°C", "°F"),
        TemperatureUnit::Fahrenheit => ("°F", "°C"),
    };
    let others = others_degc.map_or(String::new(), |x| format!("; the other rooms are at {}", degc(site, x)));
    let shows = format!(
        "Logger {} in {} was read in {was}, which makes half of its readings {} or more; in {is} that would be {}{others}. They are left out.",
        logger.logger,
        logger.room,
        degc(site, *median_degc),
        degc(site, *other_degc),
    );
    let seen = Found::new(Severity::Act, *median_degc, shows);
    Verdict::Found(Found { span: hull(&runs), unit: "°C", limit: *other_degc, ..seen })
}

fn handled(logger: &LoggerRow, evidence: &Evidence<'_>) -> Verdict {
    let site = evidence.site;
    let mut runs = episodes(logger, |seen| matches!(seen, Seen::Handled { .. }));
    // On its way to and from a side-by-side time that the site file names a logger is in a hand, and nobody need be told.
    let check = super::records::side_by_side(evidence, logger).map(|check| check.widened(CARRIED_MS));
    runs.retain(|e| check.is_none_or(|check| !check.overlaps(&e.span)));
    let away = |e: &&Episode| match e.seen {
        Seen::Handled { away_k, .. } => away_k,
        _ => 0.0,
    };
    let Some(away_k) = runs.iter().map(away).max_by(|a, b| a.abs().total_cmp(&b.abs())) else {
        return Verdict::Clear;
    };
    let way = if away_k > 0.0 { "warmer" } else { "colder" };
    let shows = format!(
        "Logger {} in {} is up to {} {way} against the other rooms than usual at the start or the end of a record ({}): in a hand, a bag or a car. Those readings are left out.",
        logger.logger,
        logger.room,
        k(site, away_k.abs()),
        times(&runs, site),
    );
    let seen = Found::new(Severity::Watch, away_k, shows);
    Verdict::Found(Found { span: hull(&runs), unit: "K", limit: 2.0, ..seen })
}

fn elsewhere(logger: &LoggerRow, evidence: &Evidence<'_>) -> Verdict {
    let site = evidence.site;
    let runs = episodes(logger, |seen| {
        matches!(
            seen,
            Seen::Outdoors { .. } | Seen::Away { .. } | Seen::Brought { .. } | Seen::Unsettled { .. }
        )
    });
    let longest = runs.iter().max_by(|a, b| a.span.hours().total_cmp(&b.span.hours()));
    let shows = match longest.map(|e| &e.seen) {
        Some(Seen::Outdoors { off_k, others_k }) => format!(
            "Logger {} in {} follows the outdoor air to {} on the mean, which is {} {} than the other rooms ({}). Those readings are left out.",
            logger.logger,
            logger.room,
            k(site, *off_k),
            k(site, others_k.abs()),
            if *others_k < 0.0 { "colder" } else { "warmer" },
            times(&runs, site),
        ),
        Some(Seen::Away { by_k }) => format!(
            "Logger {} in {} falls to {} below its usual distance to the other rooms, and below each of them, from one half hour to the next ({}); no outdoor series tells whether it was outdoors. Those readings are used, and counted both ways.",
            logger.logger,
            logger.room,
            k(site, by_k.abs()),
            times(&runs, site),
        ),
        Some(Seen::Brought { jump_k }) => format!(
            "Logger {} in {} begins cold and rises by {} at once, as no room does ({}): as one that came from a colder place. Those readings are used, and counted both ways.",
            logger.logger,
            logger.room,
            k(site, *jump_k),
            times(&runs, site),
        ),
        Some(Seen::Unsettled { by_k, swing_k }) => format!(
            "Logger {} in {} jumps {} by {} against the other rooms, and from then on its distance to them swings by {} ({}): as one that was moved or is carried about. Those readings are used, and counted both ways.",
            logger.logger,
            logger.room,
            if *by_k > 0.0 { "up" } else { "down" },
            k(site, by_k.abs()),
            k(site, *swing_k),
            times(&runs, site),
        ),
        _ => return Verdict::Clear,
    };
    found(logger, &runs, 3.0, shows)
}

/// The longest time in which some loggers lay together.
fn longest_box(loggers: &[LoggerRow]) -> Option<&Episode> {
    let all = loggers.iter().flat_map(|l| episodes(l, |seen| matches!(seen, Seen::Together { .. })));
    all.max_by(|a, b| a.span.hours().total_cmp(&b.span.hours()))
}

/// The same, and whether it was at the start of their records.
pub(super) fn box_of(loggers: &[LoggerRow]) -> Option<(bool, Span)> {
    match longest_box(loggers)? {
        Episode { seen: Seen::Together { at_start, .. }, span } => Some((*at_start, *span)),
        _ => None,
    }
}

fn together(evidence: &Evidence<'_>) -> Verdict {
    let site = evidence.site;
    let Some(Episode { seen: Seen::Together { loggers, spread_k, at_start }, span }) =
        longest_box(evidence.loggers)
    else {
        return Verdict::Clear;
    };
    let local = |at: crate::clock::UtcTime| site.zone.local(at).show();
    let (edge, then, column, cell) = if *at_start {
        ("start", "afterwards", "from", local(span.to))
    } else {
        ("end", "before", "to", local(span.from))
    };
    let shows = format!(
        "At the {edge} of the record {loggers} loggers read within {} of each other ({}), {then} {}, as in one box. Those readings are used, and counted both ways. Where they lay together, in the roster: {column} = {cell}; or in the site file: [colocation] from = \"{}\" to = \"{}\".",
        k(site, spread_k.0),
        show_span(*span, site.zone),
        k(site, spread_k.1),
        local(span.from),
        local(span.to),
    );
    let seen = Found::new(Severity::Watch, span.hours(), shows);
    Verdict::Found(Found { span: Some(*span), unit: "h", limit: 3.0, ..seen })
}
