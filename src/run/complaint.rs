//! `evenrooms complaint`.

use super::in_order::in_order;
use super::naming::Naming;
use super::source::Opened;
use super::written::begin;
use super::{DONE, SOMETHING_UNREADABLE, left_open, open_site, open_source, progress, refuse_among_exports};
use crate::audit::{Audit, HomeAudit};
use crate::cli::ComplaintArgs;
use crate::clock::Span;
use crate::complaint::{Complaint, Others};
use crate::console::{self, Console, NOTES_TOLD};
use crate::error::{Error, Note, Result};
use crate::files::{Input, PROVENANCE, Results};
use crate::metrics::{HomeHours, whole_hours};
use crate::pipeline::{TRACE_PAIRS, judge_home};
use crate::provenance;
use crate::report;
use crate::site::{Home, Period, SITE_FILE, Site};

/// Name of the sheet.
const SHEET: &str = "complaint.html";
/// Name of the only period that is looked at.
const THIS_TIME: &str = "this time";

/// What is kept of a home: its hours; of the home that is asked about its audit, of another what of it could not be read;
/// and the files.
type Heard = (HomeHours, std::result::Result<(Home, HomeAudit), Vec<Note>>, Vec<Input>);

/// One home and one time, on one sheet; the other homes only say how warm they were meanwhile.
pub(super) fn complaint(args: &ComplaintArgs, console: &Console) -> Result<u8> {
    let naming = Naming::open(args.pseudonyms.as_deref(), &args.out)?;
    let Asked { mut site, place, span, mut inputs } = asked(args, &naming)?;
    site.periods = vec![Period { name: THIS_TIME.to_owned(), span }];
    let (mut site, source) = open_source(site, &args.site, args.from_aligned.as_deref(), naming)?;
    let made = vec![SHEET.to_owned(), PROVENANCE.to_owned()];
    let mut outputs = begin(&args.out, Results { command: "complaint", known: made.clone(), made })?;
    let mut notes = source.notes.clone();
    let own = format!("{} ", site.homes[place].name);
    notes.extend(left_open(&site).into_iter().filter(|n| n.place == SITE_FILE || n.place.starts_with(&own)));
    inputs.extend(source.inputs.iter().cloned());
    let bar = progress(console, site.homes.len() as u64, "homes", "reading");
    let one = |home: &Home| -> Result<Heard> {
        let Opened { home, opened, inputs } = source.open(&site, home)?;
        if home.name != site.homes[place].name {
            let unreadable = opened.audit.notes.into_iter().filter(|n| n.unreadable).collect();
            return Ok((HomeHours::of(&site, &home, &opened.aligned), Err(unreadable), inputs));
        }
        let trace = opened.aligned.trace_within(span, TRACE_PAIRS);
        let mut work = judge_home(&site, &home, opened)?;
        work.audit.trace = trace;
        Ok((work.hours, Ok((home, work.audit)), inputs))
    };
    let (mut hours, mut asked) = (Vec::new(), None);
    in_order(&site.homes, one, |(of_home, judged, read)| {
        hours.push(of_home);
        match judged {
            Ok(home) => asked = Some(home),
            Err(unreadable) => notes.extend(unreadable),
        }
        inputs.extend(read);
        bar.inc(1);
        Ok(())
    })?;
    bar.finish_and_clear();
    let times = asked.as_ref().map_or_else(Vec::new, |(_, audit)| audit.times_of_shortfall());
    let others = others(&hours, place, span, &times);
    let homes = asked.map(|(home, mut audit)| {
        audit.keep_longest_shortfalls();
        site.homes[place] = home;
        audit
    });
    let homes = homes.into_iter().collect();
    let sheet = source.naming.place(&args.out.join(SHEET), "complaint.html in the folder that --out names");
    let (outdoor, from_aligned) = (source.outdoor, args.from_aligned.is_some());
    let audit = Audit { site, homes, outdoor, building: Vec::new(), notes, from_aligned };
    inputs.sort();
    inputs.dedup();
    let mut told = String::new();
    if let Some(complaint) = Complaint::new(&audit, others) {
        outputs.write(SHEET, report::sheet(&complaint).as_bytes())?;
        told = console::complaint(&complaint, &sheet);
    }
    outputs.publish(provenance::provenance(&audit, &inputs))?;
    console.notes(&audit, NOTES_TOLD);
    console.report(&told)?;
    Ok(if audit.something_unreadable() { SOMETHING_UNREADABLE } else { DONE })
}

/// What a person asks about.
struct Asked {
    site: Site,
    place: usize,
    span: Span,
    inputs: Vec<Input>,
}

/// The home and the time as a person wrote them; the site as results name it.
fn asked(args: &ComplaintArgs, naming: &Naming) -> Result<Asked> {
    let (site, inputs) = open_site(&args.site)?;
    refuse_among_exports(&args.out, &args.site, &site)?;
    let span = span(&site, args)?;
    let home = naming.home(&site.homes[place(&site, &args.home)?].name);
    let (site, inputs) = (naming.site(site)?, naming.own_inputs(inputs));
    Ok(Asked { place: place(&site, &home)?, site, span, inputs })
}

/// How warm the other homes were in the hours of shortfall; where there was none, in the whole time.
fn others(hours: &[HomeHours], place: usize, whole: Span, shortfall: &[Span]) -> Others {
    let of_shortfall = !shortfall.is_empty();
    let asked = whole_hours(if of_shortfall { shortfall } else { std::slice::from_ref(&whole) });
    let others = hours.iter().enumerate().filter(|(at, _)| *at != place);
    let warmer_k = others.filter_map(|(_, other)| hours[place].warmer_meanwhile(other, &asked)).collect();
    Others { of_shortfall, hours: asked.len(), warmer_k }
}

fn place(site: &Site, name: &str) -> Result<usize> {
    let alike: Vec<usize> =
        (0..site.homes.len()).filter(|at| site.homes[*at].name.eq_ignore_ascii_case(name)).collect();
    let exact = site.homes.iter().position(|h| h.name == name);
    exact.or_else(|| alike.first().copied().filter(|_| alike.len() == 1)).ok_or_else(|| {
        let names: Vec<&str> = site.homes.iter().take(12).map(|h| h.name.as_str()).collect();
        let more = if site.homes.len() > names.len() { " …" } else { "" };
        Error::Unfit {
            place: "--home".to_owned(),
            what: format!("found \"{name}\", expected a home of the roster ({}{more})", names.join(", ")),
            hint: "write the home as the roster does".to_owned(),
        }
    })
}

fn span(site: &Site, args: &ComplaintArgs) -> Result<Span> {
    let written = format!("{}/{}", args.from, args.to);
    site.period(&written).ok_or_else(|| {
        let wrong_way = site.period(&format!("{}/{}", args.to, args.from)).is_some();
        let what = match wrong_way {
            true => format!("found {} to {}, which ends before it begins", args.from, args.to),
            false => format!(
                "found {} to {}, expected local dates such as 2026-01-05, or dates and times such as \"2026-01-05 18:00\"",
                args.from, args.to
            ),
        };
        let hint = "a bare date in --to includes that day".to_owned();
        Error::Unfit { place: "--from, --to".to_owned(), what, hint }
    })
}
