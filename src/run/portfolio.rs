//! `evenrooms portfolio`: results of several audits as one set.
//!
//! Settled here, and why:
//! - **Tables are taken over row by row** into folders of their site (`metrics/site=…/part.parquet`), after each was held against
//!   the SHA-256 of its provenance: nothing is computed anew, so that nothing can come out differently. CSV files are copied.
//! - **Nothing of an earlier portfolio is used again.** Reading and hashing is all that there is to do for a site, and it must be
//!   done to know that nothing changed.
//! - **No path is in the results**: folders are called as people call buildings, and a site under pseudonyms would be known by it.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use super::portfolio_site::{Part, Source, Taken, take};
use super::table_writers::{DATA_PACKAGE, begin, write_table};
use super::threads::Threads;
use super::{DONE, SOMETHING_UNREADABLE};
use crate::cli::PortfolioArgs;
use crate::console::{self, Console};
use crate::error::{Error, Note, Result};
use crate::files::{self, Held, Input, Outputs, PROVENANCE, Results};
use crate::portfolio::Portfolio;
use crate::provenance;
use crate::report;
use crate::tables::{self, Format, OfSite, Page, SUMMARY, Table, Written};
use crate::texts::shown;

/// The command, as its provenance names it.
const COMMAND: &str = "portfolio";
/// Name of the page.
const PAGE: &str = "portfolio.html";
/// Longest name of a folder, in bytes: file systems have 255.
const LONGEST: usize = 240;

/// A site's results, and the name of its folders.
type InFolder = (String, Source);

/// The job for many machines, as it is printed.
const SPARK_JOB: &str = include_str!("spark_job.py");

/// Puts the results of several audits together, or prints the job that does so on many machines.
pub(super) fn portfolio_or_job(args: &PortfolioArgs, threads: &Threads, console: &Console) -> Result<u8> {
    if let Some(out) = &args.out {
        return portfolio(&args.results, out, (threads, console));
    }
    console.bytes(SPARK_JOB.as_bytes())?;
    Ok(DONE)
}

fn portfolio(named: &[PathBuf], out: &Path, (threads, console): (&Threads, &Console)) -> Result<u8> {
    let mut folders = named.to_vec();
    folders.sort();
    let read = threads.each(&folders, |folder| Ok((folder.clone(), take(folder))))?;
    let (mut taken, mut aside) = (Vec::new(), Vec::new());
    for (folder, site) in read {
        match site {
            Ok(site) => taken.push(site),
            Err(error) => aside.push((folder, error)),
        }
    }
    aside.iter().for_each(|(_, error)| console.message(&format!("set aside: {error}")));
    if taken.is_empty() {
        return Err(Error::NothingToRead {
            place: "portfolio".to_owned(),
            what: format!("none of {} folders could be taken, each named above", folders.len()),
            hint: "name folders that `evenrooms audit --out` wrote".to_owned(),
        });
    }
    one_name_each(&taken)?;
    let pseudonymised = taken.iter().any(|t| t.site.pseudonymised);
    let notes = aside.iter().map(|(folder, error)| set_aside(folder, error, pseudonymised)).collect();
    let (sites, sources): (Vec<_>, Vec<_>) = taken.into_iter().map(|t| (t.site, t.source)).unzip();
    let folders_of: Vec<String> = sites.iter().map(|site| folder_of(&site.name)).collect::<Result<_>>()?;
    let mut parts: Vec<InFolder> = folders_of.into_iter().zip(sources).collect();
    parts.sort_by(|a, b| a.0.cmp(&b.0));
    let portfolio = Portfolio::of(sites, notes);
    let mut outputs = begin(out, results(out, &parts)?)?;
    let (mut files, inputs) = take_over(&parts, &mut outputs)?;
    write_table(&SUMMARY, portfolio.summary.iter().map(tables::summary_cells), &mut outputs)?;
    files.extend(SUMMARY.files().map(|(format, path)| OfSite { table: &SUMMARY, format, path }));
    outputs.write(PAGE, report::portfolio(&portfolio).as_bytes())?;
    write_package(portfolio.pseudonymised(), &files, &mut outputs)?;
    outputs.publish(provenance::of_portfolio(&portfolio, &inputs))?;
    // What was set aside was said with its path.
    let others = portfolio.notes.iter().filter(|note| !note.unreadable);
    others.for_each(|note| console.message(&format!("note: {note}")));
    console.report(&console::portfolio(&portfolio, &shown(&out.display().to_string())))?;
    Ok(if portfolio.something_set_aside() { SOMETHING_UNREADABLE } else { DONE })
}

/// Two audits of one site would count its homes twice, and nobody could say which of them is meant.
fn one_name_each(taken: &[Taken]) -> Result<()> {
    let mut of_name: BTreeMap<String, &Taken> = BTreeMap::new();
    for one in taken {
        // Not every file system tells large letters from small ones.
        if let Some(other) = of_name.insert(one.site.name.to_lowercase(), one) {
            let (first, second) =
                (other.source.results.folder().display(), one.source.results.folder().display());
            return Err(Error::Unfit {
                place: shown(&second.to_string()).into_owned(),
                what: format!(
                    "found an audit of \"{}\", which {} is too, expected one audit of each site",
                    shown(&one.site.name),
                    shown(&first.to_string())
                ),
                hint: "leave one of them out; where they are two sites, give one another `name` in its site file, and audit it again"
                    .to_owned(),
            });
        }
    }
    Ok(())
}

/// What the results say of a folder that was set aside.
fn set_aside(folder: &Path, error: &Error, pseudonymised: bool) -> Note {
    let name = folder.file_name().filter(|_| !pseudonymised);
    let place = name.map_or("a folder of results".to_owned(), |n| shown(&n.to_string_lossy()).into_owned());
    let (what, hint) = match error {
        Error::Unfit { what, hint, .. } => (what.clone(), hint.clone()),
        _ => ("it could not be read".to_owned(), "the command says why".to_owned()),
    };
    let what = format!("this site is set aside, it is in no number: {what}").into();
    Note { place, line: None, what, hint, unreadable: true }
}

/// The name of a site as the name of a folder, as `site=…` has it: letters that not every file system takes are spelled as in web
/// addresses, which readers of such folders undo.
fn folder_of(site: &str) -> Result<String> {
    let byte = |b: u8| match b {
        b if b.is_ascii_alphanumeric() || b == b'-' => char::from(b).to_string(),
        b => format!("%{b:02X}"),
    };
    let folder = format!("site={}", site.bytes().map(byte).collect::<String>());
    if folder.len() <= LONGEST {
        return Ok(folder);
    }
    Err(Error::Unfit {
        place: shown(site).into_owned(),
        what: format!(
            "the name of the site takes {} bytes as a folder, expected at most {LONGEST}",
            folder.len()
        ),
        hint: "give it a shorter `name` in its site file, and audit it again".to_owned(),
    })
}

/// Where a table of a site lies.
fn path_of(folder: &str, part: &Part) -> String {
    format!("{}/{folder}/part.{}", part.table.name, part.format.ending())
}

/// What is made, and what an earlier portfolio may have left.
fn results(out: &Path, parts: &[InFolder]) -> Result<Results> {
    let of_sites =
        parts.iter().flat_map(|(folder, source)| source.parts.iter().map(|part| path_of(folder, part)));
    let own = SUMMARY.files().map(|(_, name)| name);
    let others = [PAGE, DATA_PACKAGE, PROVENANCE].map(str::to_owned);
    let made: Vec<String> = of_sites.chain(own).chain(others).collect();
    let mut known = files::results_of(out, COMMAND)?;
    known.extend(made.iter().cloned());
    known.sort();
    known.dedup();
    Ok(Results { command: COMMAND, made, known })
}

/// Takes the tables over: files for the Data Package, and inputs for the provenance.
fn take_over(parts: &[InFolder], outputs: &mut Outputs) -> Result<(Vec<OfSite>, Vec<Input>)> {
    let (mut files, mut inputs) = (Vec::new(), Vec::new());
    for (folder, Source { results, parts }) in parts {
        for part in parts {
            let path = path_of(folder, part);
            let (held, _) = results.held(&part.input.name)?;
            let table = take_part(part, held, (&path, outputs))?;
            let name = format!("{folder}/{}", part.input.name);
            inputs.push(Input { name, ..part.input.clone() });
            files.push(OfSite { table, format: part.format, path });
        }
        let name = format!("{folder}/{PROVENANCE}");
        inputs.push(Input { name, bytes: 0, sha256: results.sha256().to_owned() });
    }
    Ok((files, inputs))
}

/// Takes one table over: Parquet without the site, which its folder names, and CSV as it is. The answer is what was written.
fn take_part(part: &Part, held: Held, (path, outputs): (&str, &mut Outputs)) -> Result<&'static Table> {
    let changed = || Error::Unfit {
        place: path.to_owned(),
        what: "the table changed while it was read, expected it to stay".to_owned(),
        hint: "wait until its audit has ended, and run this again".to_owned(),
    };
    let of_site = tables::in_folder_of_site(part.table).filter(|_| part.format == Format::Parquet);
    let Some(of_site) = of_site else {
        let copied = outputs.copy(path, &held)?;
        return if copied == part.input.sha256 { Ok(part.table) } else { Err(changed()) };
    };
    let out = outputs.create(path)?;
    match tables::without_site((part.table, of_site), held, out)? {
        Ok(out) => outputs.close(path, out)?,
        Err(_) => return Err(changed()),
    }
    Ok(of_site)
}

/// What is in the provenance, for the Data Package.
const OF_PROVENANCE: &str = "where the numbers come from: sites with version and period, the tables of each with their SHA-256, notes; it holds the SHA-256 of every result, of this descriptor too, so that its own cannot stand here";

fn write_package(pseudonymised: bool, files: &[OfSite], outputs: &mut Outputs) -> Result<()> {
    let page = |path: &str, about| Page { path: path.to_owned(), about };
    let pages = [
        page(
            PAGE,
            "where the homes of all sites stand, and what they have in common: a page to read in a browser",
        ),
        page(PROVENANCE, OF_PROVENANCE),
    ];
    let written =
        |name: &str| outputs.ended(name).map(|(bytes, sha256)| Written { bytes, sha256: sha256.to_owned() });
    let package = tables::portfolio_package(pseudonymised, (files, &pages), written);
    outputs.write(DATA_PACKAGE, &package)
}
