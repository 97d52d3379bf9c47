//! The workbook for people who work in spreadsheets: what to do, homes, acceptance, rooms, cases, findings, loggers. No
//! arithmetic.

use rust_xlsxwriter::{DocProperties, ExcelDateTime, Workbook, XlsxError};

use super::homes;
use super::workbook_rooms::{self, JUDGED, NUMBERS, Sheet, Shown};
use super::workbook_sheet::{Content, Formats, column, lay};
use crate::audit::{Audit, HomeAudit};
use crate::cases::{Course, Criterion, Job, Standing};
use crate::clock::UtcTime;
use crate::error::{Error, Result};
use crate::findings::show_span;
use crate::metrics::{self, Metric};
use crate::site::{HEAT_RULE_CAUTION, MAKESHIFT_CAUTION, NO_HEAT_CAUTION, Site, audience};

/// The bytes of the workbook.
///
/// # Errors
/// [`Error::Encode`].
pub fn workbook(audit: &Audit) -> Result<Vec<u8>> {
    make(audit).map_err(|source| Error::Encode { table: "findings.xlsx", source: Box::new(source) })
}

/// What a sheet holds of an audit.
type MakeSheet = fn(&Audit) -> Sheet;

fn make(audit: &Audit) -> std::result::Result<Vec<u8>, XlsxError> {
    let mut book = Workbook::new();
    // A fixed date: the same inputs give the same bytes.
    let made = ExcelDateTime::from_ymd(2000, 1, 1)?;
    book.set_properties(&DocProperties::new().set_title(&audit.site.name).set_creation_datetime(&made));
    let formats = Formats::new();
    let sheets: [(&str, u16, MakeSheet); 8] = [
        ("To do", 1, to_do),
        ("Homes", 1, of_homes),
        ("Acceptance", 1, workbook_rooms::acceptance),
        ("Rooms", 3, workbook_rooms::rooms),
        ("Cases", 1, cases),
        ("Findings", 1, findings),
        ("Loggers", 3, loggers),
        ("About", 0, about),
    ];
    for (name, named_by, sheet) in sheets {
        let (columns, rows) = sheet(audit);
        lay(book.add_worksheet(), (name, named_by), &formats, (&columns, &rows))?;
    }
    book.save_to_buffer()
}

const WHOLE_HOME: &str = "whole home";

/// The list for the crew, the worst homes first, with columns to fill in: what happened, what the criteria lack, and what is to
/// be looked at by whoever is there.
fn to_do(audit: &Audit) -> Sheet {
    let columns = [
        ("Home", 14.0),
        ("Standing", 26.0),
        ("Room", 22.0),
        ("What happened, or what is missing", 46.0),
        ("First step", 46.0),
        ("Bring", 28.0),
        ("Done", 9.0),
        ("By", 12.0),
        ("Date", 12.0),
    ];
    let mut rows = Vec::new();
    for home in audit.worst_first() {
        for [room, what, step, bring] in jobs(home) {
            let mut row = vec![Content::text(&home.name), Content::Standing(home.standing())];
            row.extend([room, what, step, bring].map(Content::text));
            row.extend([Content::ToFillIn, Content::ToFillIn, Content::ToFillIn]);
            rows.push(row);
        }
    }
    (columns.map(|(head, widest)| column(head, widest)).into(), rows)
}

/// What is to be done in a home: room, what happened, first step, what to bring.
fn jobs(home: &HomeAudit) -> Vec<[String; 4]> {
    let rooms = |rooms: &[String]| if rooms.is_empty() { WHOLE_HOME.to_owned() } else { rooms.join(", ") };
    let of = |job: Job<'_>| {
        let step = format!("{}{}", job.occasion().to_lowercase(), job.step);
        [rooms(job.rooms), job.why, step, job.bring.to_owned()]
    };
    let mut jobs: Vec<[String; 4]> = home.jobs().into_iter().map(of).collect();
    if jobs.is_empty() && home.standing() < Standing::KeepAnEye {
        let open = "something could not be judged: see \"not judged\" in the sheet Findings";
        jobs.push([
            WHOLE_HOME.to_owned(),
            open.to_owned(),
            home.standing().meaning().to_owned(),
            String::new(),
        ]);
    }
    jobs
}

/// A line for each home.
fn of_homes(audit: &Audit) -> Sheet {
    let site = &audit.site;
    let sign = site.units.difference_sign();
    let columns = vec![
        column("Home", 14.0),
        column("Floor", 8.0),
        column("Line", 8.0),
        column("Standing", 26.0),
        column("Judged", 20.0),
        column("What goes on, or was seen", 56.0),
        column("Criteria that do not pass", 48.0),
        column(format!("Median spread, {sign}"), 12.0),
        column(format!("95th percentile of the spread, {sign}"), 14.0),
        column("Spread over the limit, % of time", 14.0),
    ];
    let of_home = |home: &&HomeAudit| {
        let of_roster = site.homes.iter().find(|h| h.name == home.name);
        let told = |f: fn(&crate::site::Home) -> &Option<String>| {
            Content::text(of_roster.and_then(|h| f(h).clone()).unwrap_or_default())
        };
        let seen: Vec<&str> =
            home.cases.iter().filter(|c| c.course != Course::Over).map(|c| c.sentence.as_str()).collect();
        let open: Vec<String> = home.not_passed().map(Criterion::sentence).collect();
        let period = site.judged_period();
        let value = |metric, shown: Shown| {
            let row = home.value(period, None, metric);
            Content::number(row.map(|row| shown.number(row, site.units)))
        };
        vec![
            Content::text(&home.name),
            told(|h| &h.floor),
            told(|h| &h.line),
            Content::Standing(home.standing()),
            Content::text(&home.judged_period),
            Content::text(seen.join(" ")),
            Content::text(open.join("; ")),
            value(&metrics::SPREAD_MEDIAN, Shown::Difference),
            value(&metrics::SPREAD_P95, Shown::Difference),
            value(&metrics::SHARE_SPREAD_OVER_LIMIT, Shown::Plain),
        ]
    };
    (columns, audit.worst_first().iter().map(of_home).collect())
}

fn cases(audit: &Audit) -> Sheet {
    let columns = [
        ("Home", 14.0),
        ("Standing", 26.0),
        ("Room", 22.0),
        ("Case", 24.0),
        ("How pressing", 12.0),
        ("Goes on?", 11.0),
        ("From (local)", 20.0),
        ("To (local)", 20.0),
        ("What happened", 50.0),
        ("What speaks against it", 40.0),
        ("Could also be", 44.0),
        ("First step", 46.0),
        ("Bring", 28.0),
    ];
    let zone = audit.site.zone;
    let mut rows = Vec::new();
    for home in audit.worst_first() {
        rows.extend(home.cases.iter().map(|case| {
            let time = |t: Option<UtcTime>| Content::text(t.map_or(String::new(), |t| zone.show(t)));
            vec![
                Content::text(&home.name),
                Content::Standing(home.standing()),
                Content::text(if case.rooms.is_empty() {
                    WHOLE_HOME.to_owned()
                } else {
                    case.rooms.join(", ")
                }),
                Content::text(case.kind.words),
                Content::text(case.severity.word()),
                Content::text(case.course.words()),
                time(case.span.map(|s| s.from)),
                time(case.span.map(|s| s.to)),
                Content::text(&case.sentence),
                Content::text(&case.against),
                Content::text(&case.could_also_be),
                Content::text(&case.next_step),
                Content::text(&case.bring),
            ]
        }));
    }
    (columns.map(|(head, widest)| column(head, widest)).into(), rows)
}

fn findings(audit: &Audit) -> Sheet {
    let columns = [
        ("Home", 14.0),
        ("Standing", 26.0),
        ("Severity", 12.0),
        ("Room", 22.0),
        ("Rule", 26.0),
        ("What the record shows", 70.0),
        ("When (local time)", 44.0),
        ("Next step", 60.0),
    ];
    let mut rows = Vec::new();
    for home in audit.worst_first() {
        let mut write = |cells: [&str; 6]| {
            let mut row = vec![Content::text(&home.name), Content::Standing(home.standing())];
            row.extend(cells.map(Content::text));
            rows.push(row);
        };
        for f in &home.findings {
            let when = f.span.map_or(String::new(), |s| show_span(s, audit.site.zone));
            let room = f.room.as_deref().unwrap_or(WHOLE_HOME);
            write([f.severity.word(), room, f.rule, &f.shows, &when, f.next_step]);
        }
        for open in &home.not_judged {
            let room = open.room.as_deref().unwrap_or(WHOLE_HOME);
            write(["not judged", room, open.rule, &open.why, open.period.as_deref().unwrap_or_default(), ""]);
        }
        if home.findings.is_empty() && home.not_judged.is_empty() {
            write(["", "", "", home.standing().meaning(), "", ""]);
        }
    }
    (columns.map(|(head, widest)| column(head, widest)).into(), rows)
}

fn loggers(audit: &Audit) -> Sheet {
    let (units, zone) = (audit.site.units, audit.site.zone);
    let columns = vec![
        column("Home", 14.0),
        column("Room", 22.0),
        column("Logger", 16.0),
        column("File", 36.0),
        column("First reading (local)", 20.0),
        column("Last reading (local)", 20.0),
        column("Every, s", 10.0),
        column("Coverage, %", 12.0),
        column("Longest gap, h", 12.0),
        column("Rows seen", 12.0),
        column("Rows kept", 12.0),
        column("Rows set aside", 12.0),
        column("Readings left out, %", 12.0),
        column(format!("Taken off, {}", units.difference_sign()), 12.0),
        column("Clock", 22.0),
    ];
    let of_logger = |l: &crate::quality::LoggerRow| {
        let time = |t: Option<UtcTime>| Content::text(t.map_or(String::new(), |t| zone.show(t)));
        vec![
            Content::text(&l.home),
            Content::text(&l.room),
            Content::text(&l.logger),
            Content::text(&l.file),
            time(l.first_utc),
            time(l.last_utc),
            Content::number(l.interval_s),
            Content::number(l.coverage),
            Content::number(l.longest_gap_h),
            Content::Count(l.rows_seen),
            Content::Count(l.rows_kept),
            Content::Count(l.rows_set_aside),
            Content::number(l.share_left_out()),
            Content::number(l.offset.map(|k| units.difference_number(k))),
            Content::text(&l.clock),
        ]
    };
    (columns, audit.homes.iter().flat_map(|h| &h.loggers).map(of_logger).collect())
}

/// What was asked, and what the words mean.
fn about(audit: &Audit) -> Sheet {
    let mut lines = settings(&audit.site);
    lines.push(("Spread", homes::spread_words(audit)));
    lines.push((
        "Taken off",
        audit.taken_off().unwrap_or_else(|| "Nothing was taken off any reading.".to_owned()),
    ));
    lines.push((
        "As read, low, high",
        "As read: the number as the loggers have it. Low and high of hours: with the limit moved by the accuracy of the loggers, and unusual readings left out or counted (certainly, possibly); of a difference between rooms: its 95 % interval; of a criterion: see acceptance.csv."
            .to_owned(),
    ));
    lines.push((
        "Verdict of hours",
        "certainly: low is above 0; too close to call: only high is; no: not even high is; not judged: no hour was held against the limit."
            .to_owned(),
    ));
    lines.extend(Standing::ALL.map(|s| (s.word(), format!("{}: {}", s.meaning(), s.definition()))));
    let of_rooms = || NUMBERS.iter().chain(&JUDGED);
    let used = of_rooms().map(|(_, metric, _)| *metric);
    let of_home: [&Metric; 3] =
        [&metrics::SPREAD_MEDIAN, &metrics::SPREAD_P95, &metrics::SHARE_SPREAD_OVER_LIMIT];
    let heads = of_rooms().map(|(head, _, _)| *head).chain([
        "Median spread",
        "95th percentile of the spread",
        "Spread over the limit",
    ]);
    lines.extend(
        heads.zip(used.chain(of_home)).map(|(head, m)| (head, format!("{}: {}", m.id, m.definition))),
    );
    if audit.homes.iter().any(HomeAudit::is_too_cold) {
        lines.push(("Urgent", format!("{NO_HEAT_CAUTION} {MAKESHIFT_CAUTION}")));
    }
    lines
        .push(("No legal finding", format!("Local code and licensed practice decide: {HEAT_RULE_CAUTION}.")));
    lines.push(("Who may see it", audience(&audit.site).to_owned()));
    lines.push((
        "Made by",
        format!("evenrooms {}; files with their SHA-256 in provenance.json", env!("CARGO_PKG_VERSION")),
    ));
    let row = |(what, says): (&str, String)| vec![Content::text(what), Content::text(says)];
    (vec![column("What", 34.0), column("What it says", 110.0)], lines.into_iter().map(row).collect())
}

/// The settings that decide.
fn settings(site: &Site) -> Vec<(&'static str, String)> {
    let units = site.units;
    let band = |b: crate::site::Band| format!("{} to {}", units.show(b.lower), units.show(b.upper));
    let mut lines = vec![
        ("Site", site.name.clone()),
        ("Times", format!("local ({})", site.zone.name())),
        ("Judged period", site.judged_period().to_owned()),
    ];
    lines.extend(
        site.periods.iter().map(|p| ("Period", format!("{}: {}", p.name, show_span(p.span, site.zone)))),
    );
    lines.extend(site.bands.occupied.map(|b| ("Band by day", band(b))));
    lines.extend(site.bands.night.map(|b| ("Band at night", band(b))));
    if let Some(rule) = &site.heat_rule {
        lines.push(("Heat rule", rule.title()));
        lines.extend(rule.windows.iter().map(|w| ("Heat rule asks for", w.words(|t| units.show(t)))));
        lines.extend(rule.preset.map(|p| ("Heat rule assumes", p.assumes.to_owned())));
    }
    lines.push(("Margin of evenness", format!("±{}", units.show_difference(site.spread.margin))));
    lines
}
