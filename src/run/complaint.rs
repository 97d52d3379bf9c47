//! `evenrooms complaint`.

use super::naming::Naming;
use super::source::Source;
use super::table_writers::begin;
use super::threads::Threads;
use super::{DONE, SOMETHING_UNREADABLE, left_open, open_site, open_source, progress, refuse_among_exports};
use crate::audit::{Audit, HomeAudit};
use crate::cli::ComplaintArgs;
use crate::clock::Span;
use crate::complaint::{BelowToo, Complaint, Heard, OtherHome, Others, Outage, shared_hours};
use crate::console::{self, Console, NOTES_TOLD};
use crate::error::{Error, Note, Result};
use crate::files::{self, Input, Outputs, PROVENANCE, Results};
use crate::metrics::{self, FarBelow, HomeHours, whole_hours};
use crate::pipeline::{AFTER_THE_PERIODS, Keep, KeptHome, TRACE_PAIRS};
use crate::provenance::{self, Elsewhere};
use crate::report;
use crate::site::{Home, Period, SITE_FILE, Site};
use crate::units::KelvinDiff;

/// What the sheet and its numbers end in.
const SHEET: &str = "html";
const NUMBERS: &str = "json";
/// Letters of a home that stand in the name of a file.
const LETTERS: usize = 40;
/// Name of the only period that is looked at.
const THIS_TIME: &str = "this time";

/// What is kept of a home: its hours and when its rooms were below the minimum; of the home that is asked about its audit,
/// of another what of it could not be read; and the files.
struct HeardOf {
    name: String,
    hours: HomeHours,
    below: Vec<(Option<String>, Span)>,
    judged: std::result::Result<AskedHome, Vec<Note>>,
    inputs: Vec<Input>,
}

/// The home that is asked about.
struct AskedHome {
    home: Home,
    audit: HomeAudit,
    minima: Vec<(Span, f64)>,
    accuracy: Vec<KelvinDiff>,
    below_ever: Vec<Span>,
    outages: Vec<Outage>,
    inputs: Vec<Input>,
}

impl AskedHome {
    /// The home and its audit; what else is known of it goes to what is told beside.
    fn told(self, beside: &mut Heard) -> (Home, HomeAudit) {
        (beside.minima, beside.accuracy) = (self.minima, self.accuracy);
        (beside.below_ever, beside.outages) = (self.below_ever, self.outages);
        (self.home, self.audit)
    }
}

/// Writes the sheet and its numbers, with what they came from beside them.
fn write_sheet(
    outputs: &mut Outputs,
    [sheet, numbers]: [&str; 2],
    complaint: &Complaint<'_>,
    about: &serde_json::Map<String, serde_json::Value>,
) -> Result<()> {
    outputs.write(sheet, report::sheet(complaint).as_bytes())?;
    // The sheets of a folder share its provenance.json, which tells of the last run: each keeps its own here.
    outputs.write(numbers, &provenance::beside("sheet", complaint.numbers(), about))
}

/// One home and one time, on one sheet; the other homes only say how warm they were meanwhile.
pub(super) fn complaint(args: &ComplaintArgs, threads: &Threads, console: &Console) -> Result<u8> {
    let naming = Naming::open(args.pseudonyms.as_deref(), &args.out)?;
    let Asked { site, place, span, mut inputs } = asked(args, &naming)?;
    let site = site.with(|facts| facts.periods = vec![Period { name: THIS_TIME.to_owned(), span }]);
    let source = open_source(threads, site, &args.site, args.from_aligned.as_deref(), naming)?;
    let site = source.site();
    // A second sheet never takes the place of the first.
    let stem = files::free_stem(&args.out, &stem(site, place, span), &[SHEET, NUMBERS]);
    let [sheet, numbers] = [SHEET, NUMBERS].map(|ending| format!("{stem}.{ending}"));
    let made = vec![sheet.clone(), numbers.clone(), PROVENANCE.to_owned()];
    let mut outputs = begin(&args.out, Results { command: "complaint", known: made.clone(), made })?;
    outputs.keep_earlier()?;
    let mut notes = source.notes.clone();
    notes.extend(open_of(site, place));
    inputs.extend(source.inputs.iter().cloned());
    let bar = progress(console, site.homes.len() as u64, "homes", "reading");
    let (mut heard, mut asked, mut of_others) = (Vec::new(), None, Elsewhere::default());
    let one = |home: &Home| hear(&source, home, (place, span));
    threads.in_order(&site.homes, one, |mut of: HeardOf| {
        match std::mem::replace(&mut of.judged, Err(Vec::new())) {
            Ok(home) => asked = Some(home),
            Err(unreadable) => {
                of_others.add(&of.name, &of.inputs, &unreadable);
                notes.extend(unreadable);
            }
        }
        inputs.append(&mut of.inputs);
        heard.push(of);
        bar.inc(1);
        Ok(())
    })?;
    bar.finish_and_clear();
    inputs.sort();
    inputs.dedup();
    let times = asked.as_ref().map_or_else(Vec::new, |asked| asked.audit.times_of_shortfall());
    let mut beside = said(args, stem, &inputs);
    beside.others = others(&heard, place, span, &times);
    beside.below = heard.swap_remove(place).below;
    let (mut homes, mut of_asked) = (Vec::new(), None);
    if let Some(asked) = asked {
        of_others.shared(&asked.inputs);
        let (home, audit) = asked.told(&mut beside);
        of_asked = Some(home);
        homes.push(audit);
    }
    let site = site.with(|facts| of_asked.into_iter().for_each(|home| facts.homes[place] = home));
    let Source { prepared, naming, .. } = source;
    let words = format!("{sheet} in the folder that --out names");
    let told_place = naming.place(&args.out.join(&sheet), &words);
    let (outdoor, from_aligned) = (prepared.into_outdoor(), args.from_aligned.is_some());
    let audit = Audit { site, homes, outdoor, building: Vec::new(), notes, from_aligned };
    let about = provenance::provenance(&audit, &inputs);
    let mut told = String::new();
    if let Some(complaint) = Complaint::new(&audit, beside) {
        let about = provenance::of_one_home(&audit, &inputs, &of_others);
        write_sheet(&mut outputs, [&sheet, &numbers], &complaint, &about)?;
        told = console::complaint(&complaint, &told_place);
    }
    outputs.publish(about)?;
    console.notes(&audit, NOTES_TOLD);
    console.report(&told)?;
    Ok(if audit.something_unreadable() { SOMETHING_UNREADABLE } else { DONE })
}

/// What site file and roster leave open, of the home that is asked about.
fn open_of(site: &Site, place: usize) -> impl Iterator<Item = Note> {
    let own = format!("{} ", site.homes[place].name);
    left_open(site).into_iter().filter(move |n| n.place == SITE_FILE || n.place.starts_with(&own))
}

/// What is said of who asked, and of files.
fn said(args: &ComplaintArgs, stem: String, inputs: &[Input]) -> Heard {
    Heard {
        files: inputs.iter().map(|i| (i.name.clone(), i.sha256.clone())).collect(),
        asked_by: args.asked_by.clone(),
        made_by: args.made_by.clone(),
        stem,
        ..Heard::default()
    }
}

/// `complaint-2B-2026-02-06`.
fn stem(site: &Site, place: usize, span: Span) -> String {
    let plain = |c: char| if c.is_ascii_alphanumeric() { c } else { '-' };
    let home: String = site.homes[place].name.chars().take(LETTERS).map(plain).collect();
    format!("complaint-{home}-{}", site.zone.date(span.from))
}

/// Reads a home, and judges it where it is the one that is asked about.
fn hear(source: &Source, home: &Home, (place, span): (usize, Span)) -> Result<HeardOf> {
    let (opened, inputs) = source.open(home)?;
    let (site, home, aligned) = (source.site(), opened.home(), opened.aligned());
    let name = home.name.clone();
    let room = |at: Option<usize>| at.map(|at| home.rooms[at].name.clone());
    let below = metrics::shortfalls(site, home, aligned, span);
    let below = below.into_iter().map(|(at, span)| (room(at), span)).collect();
    if name != site.homes[place].name {
        let hours = HomeHours::of(site, home, aligned);
        let notes = opened.into_audit().notes.into_iter();
        let unreadable = notes.filter(|n| n.unreadable).collect();
        return Ok(HeardOf { name, hours, below, judged: Err(unreadable), inputs });
    }
    let trace = aligned.trace_within(span, TRACE_PAIRS);
    let minima = metrics::minima(site, home, aligned, span);
    let whole = Span { from: aligned.time(0), to: aligned.time(aligned.len()) };
    let below_ever = metrics::shortfalls(site, home, aligned, whole);
    let below_ever = below_ever.into_iter().map(|(_, span)| span).collect();
    let outage = |far: FarBelow| Outage {
        room: room(far.room),
        span: far.span,
        goes_on: far.goes_on,
        heating: far.heating,
    };
    let outages = metrics::without_heat(site, home, aligned).into_iter().map(outage).collect();
    let accuracy = aligned.rooms().iter().map(|room| room.accuracy().absolute).collect();
    let KeptHome { home, mut audit, hours, .. } = opened.judge().keep(Keep::Everything);
    audit.trace = trace;
    audit.notes.retain(|note| note.hint != AFTER_THE_PERIODS);
    let asked = AskedHome { home, audit, minima, accuracy, below_ever, outages, inputs: inputs.clone() };
    Ok(HeardOf { name, hours, below, judged: Ok(asked), inputs })
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

/// The other homes in the hours of shortfall; where there was none, in the whole time.
fn others(heard: &[HeardOf], place: usize, whole: Span, shortfall: &[Span]) -> Others {
    let of_shortfall = !shortfall.is_empty();
    let asked = whole_hours(if of_shortfall { shortfall } else { std::slice::from_ref(&whole) });
    let others: Vec<&HeardOf> =
        heard.iter().enumerate().filter(|(at, _)| *at != place).map(|(_, o)| o).collect();
    let beside = |other: &&HeardOf| {
        let warmer_k = heard[place].hours.warmer_meanwhile(&other.hours, &asked)?;
        Some(OtherHome { name: other.name.clone(), warmer_k })
    };
    let mut below_too: Vec<BelowToo> = Vec::new();
    for other in &others {
        for of_room in other.below.chunk_by(|a, b| a.0 == b.0) {
            let times: Vec<Span> = of_room.iter().map(|(_, span)| *span).collect();
            let hours = shared_hours(shortfall, &times);
            if hours > 0.0 {
                below_too.push(BelowToo { home: other.name.clone(), room: of_room[0].0.clone(), hours });
            }
        }
    }
    let hours: Vec<&HomeHours> = others.iter().map(|other| &other.hours).collect();
    let ranges = HomeHours::ranges(&hours, whole);
    let homes = others.iter().filter_map(beside).collect();
    Others { of_shortfall, hours: asked.len(), homes, below_too, ranges }.sorted()
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
