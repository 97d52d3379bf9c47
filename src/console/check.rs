//! What a check tells: a line for each home, the worst first, then a line for each logger that needs somebody; the same as JSON.

use serde_json::{Value, json as object};

use super::wrap;
use crate::check::{Check, HomeCheck, LoggerCheck, State, Trouble};
use crate::clock::{Span, UtcTime};
use crate::site::Site;

/// Letters of a home's line: a terminal is 80 wide.
const LINE: usize = 80;
/// Letters that names of homes are set to; longer ones move what follows.
const NAMES: usize = 16;
/// Notes that are told without details.
const NOTES: usize = 4;

/// The text; `page`: where the page to print is.
pub fn checked(check: &Check<'_>, details: bool, page: Option<&str>) -> String {
    let mut text = head(check);
    let names = check.homes.iter().map(|h| h.home.name.chars().count()).max().unwrap_or(0).min(NAMES);
    let (run, others): (Vec<&HomeCheck<'_>>, Vec<&HomeCheck<'_>>) =
        check.homes.iter().partition(|h| h.state() == State::Runs);
    others.iter().for_each(|home| text.push_str(&line(home, names)));
    if !run.is_empty() {
        let run: Vec<&str> = run.iter().map(|h| h.home.name.as_str()).collect();
        text.push_str(&wrap(&format!("all record: {}\n", run.join(", ")), "  "));
    }
    let told =
        [(State::Go, "Somebody must go"), (State::Look, "Look when you are there, or mend the roster")];
    for (state, heading) in told {
        let lines: String = check.homes.iter().map(|home| of_state(home, state)).collect();
        if !lines.is_empty() {
            text.push_str(&format!("{heading}:\n{lines}"));
        }
    }
    let bring = check.bring();
    if !bring.is_empty() {
        let items: Vec<String> = bring.iter().map(|(what, n)| format!("{what} ({n})")).collect();
        text.push_str(&wrap(&format!("Bring: {}\n", items.join(", ")), "  "));
    }
    if details {
        check.homes.iter().for_each(|home| text.push_str(&every_logger(check, home)));
    }
    text.push_str(&notes(check, details));
    if let Some(page) = page {
        text.push_str(&format!("Page to print: {page}\n"));
    } else if !details && !others.is_empty() {
        text.push_str("--details tells every logger; --out DIR writes a page to print.\n");
    }
    text
}

fn head(check: &Check<'_>) -> String {
    let site = check.site;
    let [go, look, runs, ended] = State::ALL.map(|s| check.count(s));
    let all = go + look + runs;
    let (files, there) = check.files();
    let newest =
        check.newest.map_or("no reading".to_owned(), |t| format!("newest reading {}", site.zone.show(t)));
    let newest =
        check.read_out.map_or(newest.clone(), |t| format!("{newest}, read out {}", site.zone.show(t)));
    let over = if ended > 0 { format!(" ({ended} more ended as the roster says)") } else { String::new() };
    let look = if look > 0 { format!(" ({look} to look at)") } else { String::new() };
    let plural = |n: usize| if n == 1 { "" } else { "s" };
    wrap(
        &format!(
            "{}: {} of {all} logger{} record{look}{over}, {go} to go to; {there} of {files} file{} there; {newest} ({})\n",
            site.name,
            all - go,
            plural(all),
            plural(files),
            site.zone.name(),
        ),
        "  ",
    )
}

/// A home in one line.
fn line(home: &HomeCheck<'_>, names: usize) -> String {
    let start = format!(
        "{:<names$}  {:<4}  {} of {} record",
        home.home.name,
        home.state().word(),
        home.recording().0,
        home.recording().1
    );
    let of_home =
        home.troubles.iter().filter(|t| t.state != State::Runs).map(|t| (t.state, t.words.to_owned()));
    let of_loggers = home.loggers.iter().flat_map(|l| {
        let told = l.troubles.iter().filter(|t| t.state != State::Runs).take(1);
        told.map(|t| (t.state, format!("{}: {}", l.room, t.words)))
    });
    let mut told: Vec<(State, String)> = of_home.chain(of_loggers).collect();
    told.sort_by_key(|(state, _)| *state);
    let mut text = start;
    for (i, (_, words)) in told.iter().enumerate() {
        let next = format!("{text}{} {words}", if i == 0 { ";" } else { "," });
        let rest = told.len() - i;
        if i > 0 && next.chars().count() + 10 > LINE {
            return format!("{text}, +{rest} more\n");
        }
        text = next;
    }
    text + "\n"
}

/// A line for each trouble of this kind in a home.
fn of_state(home: &HomeCheck<'_>, state: State) -> String {
    let name = &home.home.name;
    let of = |troubles: &[Trouble], place: String| -> String {
        let of_kind = troubles.iter().filter(|t| t.state == state);
        of_kind.map(|t| wrap(&format!("  {place}: {}\n", sentence(t)), "      ")).collect()
    };
    let loggers = home
        .loggers
        .iter()
        .map(|l| of(&l.troubles, format!("{name} {}, logger {}", l.room, l.placement.logger.told())));
    of(&home.troubles, name.clone()) + &loggers.collect::<String>()
}

fn sentence(trouble: &Trouble) -> String {
    let bring = if trouble.bring.is_empty() { String::new() } else { format!(" Bring: {}.", trouble.bring) };
    let shows = trouble.shows.told();
    let stop = if shows.ends_with('.') { "" } else { "." };
    format!("{}. {shows}{stop} Do: {}.{bring}", trouble.words, trouble.to_do)
}

/// All loggers of a home, a line each.
fn every_logger(check: &Check<'_>, home: &HomeCheck<'_>) -> String {
    let site = check.site;
    let mut text = format!("{}:\n", home.home.name);
    for logger in &home.loggers {
        let told = told_of(site, logger);
        text.push_str(&wrap(
            &format!(
                "  {:<4}  {}, logger {}: {told}\n",
                logger.state().word(),
                logger.room,
                logger.placement.logger.told()
            ),
            "        ",
        ));
    }
    for room in &home.without_logger {
        text.push_str(&format!("  –     {room}: the roster names no logger\n"));
    }
    text
}

/// A logger's record and place in words.
fn told_of(site: &Site, logger: &LoggerCheck<'_>) -> String {
    let row = logger.row;
    let files: Vec<String> = logger
        .files
        .iter()
        .map(|f| format!("{}{}", f.name, if f.there { "" } else { " (not there)" }))
        .collect();
    let record = row.first_utc.zip(row.last_utc).map_or("no reading".to_owned(), |(from, to)| {
        format!("{} to {}", site.zone.show(from), site.zone.show(to))
    });
    let behind = logger.behind_h.map_or(String::new(), |h| format!(", {h:.1} h before the newest"));
    let coverage = row.coverage.map_or(String::new(), |c| format!(", {c:.1} % of those expected"));
    let gap = row.longest_gap_h.map_or(String::new(), |h| format!(", longest gap {h:.1} h"));
    let placed = logger.placed(site);
    let remarks = logger.troubles.iter().filter(|t| t.state == State::Runs);
    let remarks: String = remarks.map(|t| format!(" {}.", t.shows.told().trim_end_matches('.'))).collect();
    format!(
        "{record}{behind}; {} readings{coverage}{gap}; placed {placed}; {}.{remarks}",
        row.with_value(),
        files.join(", ")
    )
}

fn notes(check: &Check<'_>, details: bool) -> String {
    let most = if details { usize::MAX } else { NOTES };
    let all = check.notes.len();
    let note = |n: &crate::error::Note| {
        let line = n.line.map_or(String::new(), |line| format!(":{line}"));
        wrap(&format!("{}{line}: {}. Do: {}.\n", n.place, n.what.told(), n.hint), "  ")
    };
    let mut text: String = check.notes.iter().take(most).map(note).collect();
    if all > most {
        text.push_str(&format!("… and {} more notes (--details)\n", all - most));
    }
    text
}

/// The same for machines.
pub fn check_json(check: &Check<'_>) -> String {
    let homes: Vec<Value> = check.homes.iter().map(home_json).collect();
    let (files, there) = check.files();
    let all = object!({
        "site": check.site.name,
        "time_zone": check.site.zone.name(),
        "newest_utc": check.newest.map(UtcTime::iso),
        "read_out_utc": check.read_out.map(UtcTime::iso),
        "somebody_must_go": check.somebody_must_go(),
        "loggers": check.loggers().count(),
        "go": check.count(State::Go), "look": check.count(State::Look), "runs": check.count(State::Runs), "ended": check.count(State::Ended),
        "files_expected": files, "files_there": there,
        "bring": check.bring().iter().map(|(what, n)| object!({ "what": what, "loggers": n })).collect::<Vec<_>>(),
        "homes": homes,
        "notes": check.notes,
    });
    format!("{all:#}")
}

fn home_json(home: &HomeCheck<'_>) -> Value {
    object!({
        "home": home.home.name, "state": home.state().word(), "recording": home.recording().0, "expected": home.recording().1,
        "loggers": home.loggers.iter().map(|logger| logger_json(home, logger)).collect::<Vec<_>>(),
        "rooms_without_logger": home.without_logger,
        "troubles": home.troubles.iter().map(trouble_json).collect::<Vec<_>>(),
    })
}

fn logger_json(home: &HomeCheck<'_>, logger: &LoggerCheck<'_>) -> Value {
    let (row, placed) = (logger.row, logger.placement.span);
    let files = logger.files.iter().map(|f| object!({ "file": f.name, "there": f.there }));
    object!({
        "room": logger.room, "logger": logger.placement.logger.told(), "state": home.state_of(logger).word(),
        "files": files.collect::<Vec<_>>(),
        "placed_from_utc": (placed.from > Span::ALWAYS.from).then(|| placed.from.iso()),
        "placed_to_utc": (placed.to < Span::ALWAYS.to).then(|| placed.to.iso()),
        "first_utc": row.first_utc.map(UtcTime::iso), "last_utc": row.last_utc.map(UtcTime::iso),
        "hours_before_newest": logger.behind_h,
        "readings": row.with_value(), "interval_s": row.interval_s, "coverage_percent": row.coverage,
        "longest_gap_h": row.longest_gap_h, "clock": row.clock,
        "troubles": logger.troubles.iter().map(trouble_json).collect::<Vec<_>>(),
    })
}

fn trouble_json(trouble: &Trouble) -> Value {
    object!({
        "state": trouble.state.word(), "what": trouble.words, "shows": trouble.shows,
        "to_do": trouble.to_do, "bring": trouble.bring,
    })
}
