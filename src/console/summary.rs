//! What an audit tells: a line for each home, the worst first; in detail each case with its evidence; the same as JSON.

use serde_json::{Value, json as object};

use super::wrap;
use crate::audit::{Audit, HomeAudit};
use crate::cases::{Answer, Case, Course, Criterion, Since, Standing, home_line, rooms_words};
use crate::findings::{Finding, Severity, below_sixteen, open_lines};
use crate::metrics::{self, Metric};
use crate::site::{HEAT_RULE_CAUTION, Room, Site};
use crate::units::{Celsius, KelvinDiff};

/// Letters of a home's line: a terminal is 80 wide.
const LINE: usize = 80;
/// Cases and open questions of a home that are told in detail.
const TOLD: usize = 12;

/// Findings of a case that are told one by one.
const FINDINGS_TOLD: usize = 6;

/// Where the results are, and what they are.
#[derive(Clone, Copy, Debug)]
pub struct Told<'a> {
    /// The folder of the results.
    pub out: &'a str,
    /// Whether there is a report.
    pub with_report: bool,
}

/// The text of the summary.
pub fn summary(audit: &Audit, told: &Told<'_>, details: bool, colour: bool) -> String {
    let mut text = homes_in_colour(audit, details, colour);
    let report = if told.with_report { "report.html (open it in a browser), " } else { "" };
    let more = if details { "" } else { "; --details tells the cases" };
    text.push_str(&format!(
        "Results in {}: {report}cases.csv, acceptance.csv, datapackage.json{more}.\n",
        told.out
    ));
    text
}

/// The same without colour, and without a word about where results are.
pub fn homes_told(audit: &Audit, details: bool) -> String {
    homes_in_colour(audit, details, false)
}

fn homes_in_colour(audit: &Audit, details: bool, colour: bool) -> String {
    let mut text = if details { heading(audit) } else { head(audit) };
    let homes = audit.worst_first();
    let (accepted, others): (Vec<&HomeAudit>, Vec<&HomeAudit>) =
        homes.into_iter().partition(|h| h.standing() == Standing::Accept && h.cases.is_empty());
    let names = others.iter().map(|h| h.name.chars().count()).max().unwrap_or(0);
    for home in &others {
        text.push_str(&line(&audit.site, home, names, colour));
        if details {
            text.push_str(&in_detail(&audit.site, home));
        }
    }
    if !accepted.is_empty() {
        let names: Vec<&str> = accepted.iter().map(|h| h.name.as_str()).collect();
        let word = paint(Standing::Accept.word(), Standing::Accept, colour);
        text.push_str(&wrap(&format!("{word}: {}\n", names.join(", ")), "        "));
    }
    if details {
        for home in accepted {
            let cold = serious_cold(&audit.site, home);
            text.push_str(&if cold.is_empty() { cold } else { format!("{}:\n{cold}", home.name) });
        }
    }
    text.push_str(&since_then(audit));
    text.push_str(&counts(audit));
    if others.iter().any(|h| h.standing() <= Standing::Visit && h.is_too_cold()) {
        text.push_str(NO_HEAT);
    }
    text
}

/// Said once where a home is without heat.
const NO_HEAT: &str = "Old, ill or very young people without heat: urgent, call the local complaint or\nemergency line. Never heat with an oven or unvented appliance (carbon monoxide).\n";

/// Building, time and weather in a line.
fn head(audit: &Audit) -> String {
    let site = &audit.site;
    let homes = site.homes.len();
    let when = audit.record().map_or("no readings".to_owned(), |record| {
        let day = |t| site.zone.date(t).to_string();
        format!("{} to {}", day(record.from), day(record.to))
    });
    let outdoors = outdoors(audit).map_or(String::new(), |o| format!(", outdoors {o}"));
    let judged = match site.periods.is_empty() {
        true => String::new(),
        false => format!(", judged: {}", site.judged_period()),
    };
    let plural = if homes == 1 { "" } else { "s" };
    let text = wrap(&format!("{}: {homes} home{plural}, {when}{outdoors}{judged}\n", site.name), "  ");
    if audit.from_aligned { text + FROM_ALIGNED } else { text }
}

/// What is not known without exports.
const FROM_ALIGNED: &str = "From an aligned table: loggers and rows of exports were not judged again\n";

fn outdoors(audit: &Audit) -> Option<String> {
    let show = |metric: &Metric| {
        let row = audit.outdoor.as_ref()?.metrics.iter().find(|r| r.metric == metric)?;
        Some(audit.site.units.show(Celsius::new(row.value)))
    };
    Some(format!("{} to {}", show(&metrics::OUTDOOR_MINIMUM)?, show(&metrics::OUTDOOR_MAXIMUM)?))
}

/// What the terminal shows above the homes where details are asked for.
fn heading(audit: &Audit) -> String {
    let site = &audit.site;
    let rooms: usize = site.homes.iter().map(|h| h.rooms.len()).sum();
    let when = match audit.record() {
        Some(record) => {
            format!("{} to {} ({})", site.zone.show(record.from), site.zone.show(record.to), site.zone.name())
        }
        None => "no readings".to_owned(),
    };
    let (seen, kept, aside) = audit.rows();
    let homes = site.homes.len();
    let mut text =
        format!("{}: {homes} home{}, {rooms} rooms, {when}\n", site.name, if homes == 1 { "" } else { "s" });
    text.push_str(&match audit.from_aligned {
        true => FROM_ALIGNED.to_owned(),
        false => format!("Rows: {seen} seen = {kept} kept + {aside} set aside\n"),
    });
    if let Some(band) = site.bands.occupied {
        let night = site.bands.night.map_or(String::new(), |n| {
            format!(", at night {} to {}", site.units.show(n.lower), site.units.show(n.upper))
        });
        let (lower, upper) = (site.units.show(band.lower), site.units.show(band.upper));
        text.push_str(&format!("Band: {lower} to {upper}{night}\n"));
    }
    if let Some(rule) = &site.heat_rule {
        text.push_str(&wrap(&format!("Heat rule: {}; {HEAT_RULE_CAUTION}\n", rule.title()), "  "));
    }
    if let Some(outdoors) = outdoors(audit) {
        text.push_str(&format!("Outdoors: {outdoors}\n"));
    }
    if !site.periods.is_empty() {
        text.push_str(&format!("Judged: {}\n", site.judged_period()));
    }
    if let Some(taken_off) = audit.taken_off() {
        text.push_str(&wrap(&format!("{taken_off}\n"), "  "));
    }
    text
}

/// A home in one line.
fn line(site: &Site, home: &HomeAudit, names: usize, colour: bool) -> String {
    let standing = home.standing();
    let word = match standing {
        // The line goes on with what to keep an eye on.
        Standing::KeepAnEye => "accept, watch",
        other => other.word(),
    };
    let pad = 13usize.saturating_sub(word.chars().count());
    let before = names + 2 + 13 + 2;
    let says = says(site, home, LINE.saturating_sub(before).max(30));
    format!("{:<names$}  {}{}  {says}\n", home.name, paint(word, standing, colour), " ".repeat(pad))
}

/// What decided about a home, in a few words.
fn says(site: &Site, home: &HomeAudit, letters: usize) -> String {
    let decides = |c: &&Case| c.course != Course::Over && c.severity < Severity::Note;
    let over = |c: &&Case| c.course == Course::Over && c.severity <= Severity::Act;
    let mut told: Vec<&Case> = home.cases.iter().filter(decides).collect();
    let open = || home.not_passed().min_by_key(|c| c.answer);
    let acts = told.iter().any(|c| c.severity <= Severity::Act);
    let criterion = open().filter(|_| !acts).map(|c| criterion_words(site, c));
    // What was to act on and is over comes before what is only to watch.
    let watch = told.iter().position(|c| c.severity > Severity::Act).unwrap_or(told.len());
    told.splice(watch..watch, home.cases.iter().filter(over));
    // What a criterion fails by comes before it.
    if let Some(at) =
        told.iter().position(|case| criterion.is_some() && open().is_some_and(|c| case.causes(c)))
    {
        let case = told.remove(at);
        told.insert(0, case);
        return home_line(site, &told, letters);
    }
    match criterion {
        Some(words) if told.is_empty() => words,
        Some(words) => {
            let rest = letters.saturating_sub(words.chars().count() + 2);
            if rest < 12 { words } else { format!("{words}; {}", home_line(site, &told, rest)) }
        }
        None if told.is_empty() && home.standing() == Standing::RecordAgain => {
            open_lines(&home.not_judged).first().map_or(String::new(), |open| format!("not judged: {open}"))
        }
        None => home_line(site, &told, letters),
    }
}

/// A criterion that does not pass: `bedroom: hours below the band 3.1 % (2.0 to 4.2 %; 1 % asked)`.
fn criterion_words(site: &Site, c: &Criterion) -> String {
    let number = |x: f64| match c.kind.unit {
        "%" => format!("{x:.1} %").replace(".0 %", " %"),
        "K" => site.units.show_difference(KelvinDiff::new(x.abs())),
        _ => format!("{x:.1} {}", c.kind.unit),
    };
    let room = c.room.as_ref().map_or(String::new(), |room| format!("{room}: "));
    let words = c.kind.words.split(',').next().unwrap_or(c.kind.words);
    let Some(x) = c.measured else { return format!("{room}{words}: {}", c.why) };
    let asked = number(c.limit);
    match c.kind.unit {
        "K" => {
            let side = if x < 0.0 { "below" } else { "above" };
            let heated = |r: &Room| Some(&r.name) == c.room.as_ref() && r.heated.surely();
            let of_home = site.homes.iter().find(|h| h.name == c.home);
            let other = if of_home.is_some_and(|h| h.rooms.iter().any(heated)) { "other " } else { "" };
            let sure = if c.answer == Answer::Fail { "" } else { ", not surely inside" };
            // What is decided by more days, or not by them.
            let more = c.why.split_once("; ").map_or(String::new(), |(_, more)| format!("; {more}"));
            format!("{room}{} {side} the {other}heated rooms{sure} (±{asked} asked){more}", number(x))
        }
        _ => match c.range {
            (Some(low), Some(high)) => {
                format!("{room}{words} {} ({low:.1} to {high:.1} %; {asked} asked)", number(x))
            }
            _ => format!("{room}{words} {}: {}", number(x), c.why),
        },
    }
}

/// The cases of a home with evidence and next steps, what its criteria say, and what was not judged.
fn in_detail(site: &Site, home: &HomeAudit) -> String {
    let mut text = String::new();
    let mut add = |indent: &str, line: &str| {
        text.push_str(&wrap(&format!("{indent}{line}\n"), &format!("{indent}  ")));
    };
    for case in home.cases.iter().take(TOLD) {
        let over = case.course == Course::Over || case.since == Some(Since::Over);
        let over = if over { " (over)" } else { "" };
        let since =
            case.since.filter(|s| *s != Since::Over).map_or(String::new(), |s| format!(" ({})", s.words()));
        add("  ", &format!("{}{over}{since} {}", case.severity.word(), case.sentence));
        let told = told_once(site, home, case);
        for (finding, also) in told.iter().take(FINDINGS_TOLD) {
            // Of one period there is no need to say which.
            let named = site.periods.len() > 1 && site.periods.iter().any(|p| p.name == finding.of);
            let period = if named { format!("{}: ", finding.of) } else { String::new() };
            let also = match also.as_slice() {
                [] => String::new(),
                periods => format!(" Likewise {}.", periods.join(", ")),
            };
            add("      ", &format!("{}: {period}{}{also}", finding.rule, finding.shows));
        }
        if told.len() > FINDINGS_TOLD {
            add("      ", &format!("… and {} more: see findings.csv", told.len() - FINDINGS_TOLD));
        }
        if !case.against.is_empty() {
            add("      ", &format!("against it: {}", case.against));
        }
        if case.course != Course::Over {
            add("      ", &format!("could also be: {}", case.could_also_be));
            add("      ", &format!("next: {}; bring: {}", case.next_step, case.bring));
        }
    }
    if home.cases.len() > TOLD {
        add("  ", &format!("… and {} more: see cases.csv", home.cases.len() - TOLD));
    }
    for criterion in home.not_passed() {
        add("  ", &format!("{}: {}", criterion.answer.words(), criterion_words(site, criterion)));
    }
    for open in open_lines(&home.not_judged) {
        add("  ", &format!("not judged: {open}"));
    }
    text + &serious_cold(site, home)
}

/// The findings of a case, each rule and room once: in the period that decides, else the last one, with the other periods in which
/// it was found too. What decided comes first.
fn told_once<'a>(site: &'a Site, home: &'a HomeAudit, case: &Case) -> Vec<(&'a Finding, Vec<&'a str>)> {
    let judged = site.judged_period();
    let of_case: Vec<&Finding> = home.findings.iter().filter(|f| case.findings.contains(&f.id)).collect();
    let is_period = |f: &Finding| site.periods.iter().any(|p| p.name == f.of);
    let same =
        |a: &Finding, b: &Finding| a.rule == b.rule && a.room == b.room && is_period(a) && is_period(b);
    let mut told: Vec<(&Finding, Vec<&str>)> = Vec::new();
    for finding in of_case {
        match told.iter_mut().find(|(first, _)| same(first, finding)) {
            Some((first, others)) if finding.of == judged => {
                others.push(&first.of);
                *first = finding;
            }
            Some((_, others)) => others.push(&finding.of),
            None => told.push((finding, Vec::new())),
        }
    }
    told.sort_by_key(|(finding, _)| finding.shows != case.decided);
    told
}

/// Rooms below 16 °C for half a day and more, whether anything was asked of them or not.
fn serious_cold(site: &Site, home: &HomeAudit) -> String {
    let periods = site.period_names();
    let line = |period: &&str| {
        let words = below_sixteen(&home.metrics, &home.findings, period, site.units)?;
        let named = if periods.len() > 1 { format!("{period}: ") } else { String::new() };
        Some(wrap(&format!("  {named}{words}\n"), "         "))
    };
    periods.iter().filter_map(line).collect()
}

/// What became of the cases of an earlier audit, where one was named.
fn since_then(audit: &Audit) -> String {
    let cases = || {
        audit.homes.iter().flat_map(|h| &h.cases).filter(|c| c.severity < Severity::Note || c.span.is_none())
    };
    let of = |since: Since| cases().filter(|c| c.since == Some(since)).count();
    if cases().all(|c| c.since.is_none()) {
        return String::new();
    }
    let [new, still, over, gone] = [Since::New, Since::StillThere, Since::Over, Since::NotSeen].map(of);
    let gone = if gone > 0 { format!(", {gone} not seen any more") } else { String::new() };
    format!("Since the earlier audit: {new} new, {still} still there, {over} over{gone}.\n")
}

fn counts(audit: &Audit) -> String {
    let of = |s: Standing| audit.homes.iter().filter(|h| h.standing() == s).count();
    let parts: Vec<String> =
        Standing::ALL.into_iter().filter(|s| of(*s) > 0).map(|s| format!("{} {}", of(s), s.word())).collect();
    wrap(
        &format!(
            "Homes: {}. A measurement, no legal finding; local code and licensed practice decide.\n",
            parts.join(", ")
        ),
        "  ",
    )
}

fn paint(word: &str, standing: Standing, colour: bool) -> String {
    let code = match standing {
        Standing::VisitToday | Standing::Visit => "1;31",
        Standing::RecordAgain | Standing::KeepAnEye => "1;33",
        Standing::Accept => "1;32",
    };
    if colour { format!("\x1b[{code}m{word}\x1b[0m") } else { word.to_owned() }
}

/// The same for machines: homes in the order of the summary, each with its cases, criteria and what was not judged.
pub fn json(audit: &Audit, told: &Told<'_>) -> String {
    let homes: Vec<Value> = audit.worst_first().into_iter().map(home_json).collect();
    let all = object!({
        "site": audit.site.name,
        "judged_period": audit.site.judged_period(),
        "results": told.out,
        "homes": homes,
    });
    format!("{all:#}")
}

fn home_json(home: &HomeAudit) -> Value {
    let case = |c: &Case| {
        object!({
            "id": c.id, "kind": c.kind.id, "rooms": c.rooms, "severity": c.severity.word(), "course": c.course.words(), "since": c.since.map(Since::words),
            "period": c.period, "from_utc": c.span.map(|s| s.from.iso()), "to_utc": c.span.map(|s| s.to.iso()),
            "sentence": c.sentence, "where": rooms_words(&c.rooms), "decided": c.decided, "sure": c.sure, "against": c.against,
            "could_also_be": c.could_also_be, "next_step": c.next_step, "bring": c.bring,
            "findings": c.findings,
        })
    };
    let criterion = |c: &Criterion| {
        object!({
            "criterion": c.kind.id, "room": c.room, "unit": c.kind.unit, "limit": c.limit, "measured": c.measured,
            "low": c.range.0, "high": c.range.1, "answer": c.answer.words(), "why": c.why,
        })
    };
    object!({
        "home": home.name,
        "standing": home.standing().word(),
        "cases": home.cases.iter().map(case).collect::<Vec<_>>(),
        "acceptance": home.criteria.iter().map(criterion).collect::<Vec<_>>(),
        "not_judged": open_lines(&home.not_judged),
    })
}
