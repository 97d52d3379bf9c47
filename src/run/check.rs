//! `evenrooms check`.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use super::exports_first::option;
use super::exports_folder::{ExportsAt, exports_folder, sources};
use super::naming::Naming;
use super::source::Source;
use super::table_writers::begin;
use super::threads::Threads;
use super::unnamed::unnamed;
use super::{
    DONE, Rows, SOMEBODY_MUST_GO, SOMETHING_UNREADABLE, digests, open_site_with, progress,
    refuse_among_exports,
};
use crate::audit::Audit;
use crate::check::{Check, Seen};
use crate::cli::CheckArgs;
use crate::clock::UtcTime;
use crate::console::{self, Console};
use crate::error::{Error, Note, Result};
use crate::files::{self, Input, PROVENANCE, Results};
use crate::pipeline::{BesideRoster, with_copies_told};
use crate::provenance;
use crate::report;
use crate::site::{Home, SITE_FILE, Site, loggers_in_two_homes};

/// Name of the page.
const PAGE: &str = "check.html";

/// Whether each logger's record goes on; nothing about how warm it was.
pub(super) fn check(args: &CheckArgs, threads: &Threads, console: &Console) -> Result<u8> {
    let (site, mut inputs) = open_site_with(&args.site, Rows::Planned)?;
    let read_out = args.read_out.as_deref().map(|written| read_out(&site, written)).transpose()?;
    let own = no_exports(args, &inputs);
    let mut outputs = None;
    if let Some(out) = &args.out {
        refuse_among_exports(out, &args.site, &site)?;
        let made = vec![PAGE.to_owned(), PROVENANCE.to_owned()];
        outputs = Some(begin(out, Results { command: "check", known: made.clone(), made })?);
    }
    let folder = exports_folder(&args.site, &site);
    let (source, mut notes) = open_source(threads, site, &args.site)?;
    let site = source.site();
    let missing = missing(site, &folder);
    let bar = progress(console, site.homes.len() as u64, "homes", "reading");
    let one = |home: &Home| {
        let (opened, inputs) = source.open(home)?;
        Ok((opened.judge_records(), inputs))
    };
    let mut homes = Vec::new();
    inputs.extend(source.inputs.iter().cloned());
    threads.in_order(&site.homes, one, |(home, read)| {
        homes.push(home);
        inputs.extend(read);
        bar.inc(1);
        Ok(())
    })?;
    bar.finish_and_clear();
    let unnamed = unnamed(site, &ExportsAt::Folder(folder), &own, &source.naming);
    let files = BesideRoster { unnamed: &unnamed.series, digests: &digests(&inputs) };
    let (homes, copies) = with_copies_told(site, homes, files);
    notes.extend(loggers_in_two_homes(site));
    let Source { prepared, notes: of_site, .. } = source;
    notes.extend(of_site);
    notes.extend(prepared.outdoor().iter().flat_map(|o| o.notes.iter().filter(|n| n.unreadable).cloned()));
    notes.extend(unnamed.notes(&copies));
    let site = prepared.site().clone();
    let audit = Audit { site, homes, outdoor: None, building: Vec::new(), notes, from_aligned: false };
    let check = Check::of(Seen {
        site: &audit.site,
        audits: &audit.homes,
        missing: &missing,
        read_out,
        notes: &audit.notes,
    });
    if let Some(mut outputs) = outputs {
        outputs.write(PAGE, report::check_page(&check).as_bytes())?;
        inputs.sort();
        inputs.dedup();
        outputs.publish(provenance::provenance(&audit, &inputs))?;
    }
    tell(args, &check, console)?;
    Ok(match (check.somebody_must_go(), audit.something_unreadable()) {
        (true, _) => SOMEBODY_MUST_GO,
        (false, true) => SOMETHING_UNREADABLE,
        (false, false) => DONE,
    })
}

/// The moment that somebody wrote; of a bare date its end.
fn read_out(site: &Site, written: &str) -> Result<UtcTime> {
    let moment = |text: &str| site.period(&format!("2000-01-01/{text}")).map(|span| span.to);
    option("--read-out", written, moment, "a local date and time such as \"2026-01-20 16:00\"")
}

fn tell(args: &CheckArgs, check: &Check<'_>, console: &Console) -> Result<()> {
    if args.json {
        return console.json(&console::check_json(check));
    }
    let page = args.out.as_ref().map(|out| console::as_typed(&out.join(PAGE)));
    console.report(&console::checked(check, args.details, page.as_deref()))
}

/// What is no export wherever it lies: site file, roster, results.
fn no_exports(args: &CheckArgs, inputs: &[Input]) -> Vec<PathBuf> {
    let beside = args.site.parent().unwrap_or(Path::new(""));
    inputs.iter().map(|input| files::named(beside, &input.name)).chain(args.out.clone()).collect()
}

/// Files that the roster names and that are not there.
fn missing(site: &Site, folder: &Path) -> BTreeSet<String> {
    let names = site.homes.iter().flat_map(sources);
    names.filter(|name| !files::has_export(folder, name)).map(str::to_owned).collect()
}

/// The exports; a side-by-side time that the readings refuse is told and left out, for it says nothing about whether they go on.
fn open_source(threads: &Threads, site: Site, path: &Path) -> Result<(Source, Vec<Note>)> {
    let without = site.with(|facts| facts.colocation = None);
    let told = site.colocation.is_some();
    match Source::folder(threads, site, path, Naming::AsWritten) {
        Err(Error::Mistakes(mistakes)) if told => {
            let source = Source::folder(threads, without, path, Naming::AsWritten)?;
            let note = |m: crate::error::Mistake| Note {
                place: SITE_FILE.to_owned(),
                line: m.line,
                what: format!("found {}, expected {}", m.found, m.expected).into(),
                hint: m.hint,
                unreadable: false,
            };
            Ok((source, mistakes.into_iter().map(note).collect()))
        }
        opened => opened.map(|source| (source, Vec::new())),
    }
}
