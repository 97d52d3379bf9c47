//! One function per command; the only room with threads and progress.
#![expect(clippy::disallowed_types, reason = "the one room that runs things side by side and shows progress")]

mod again;
mod check;
mod command_line;
mod comparison;
mod complaint;
mod copies;
mod exports_first;
mod exports_folder;
mod gathered;
mod in_memory;
mod naming;
mod plan;
mod portfolio;
mod portfolio_site;
mod proposals;
mod sensitivity;
mod signals;
mod simulation;
mod since;
mod small_rows;
mod source;
mod table_writers;
mod tables_made;
mod threads;
mod unnamed;
mod worker;

use std::path::{Path, PathBuf};

use indicatif::{ProgressBar, ProgressStyle};

use crate::audit::Audit;
use crate::cli::{self, AuditArgs, Cli, Command};
use crate::console::{self, Console, FEW_NOTES, NOTES_TOLD, Told, as_typed};
use crate::error::{Error, Mistake, Note, Result};
use crate::explain;
use crate::files::{self, Input, Outputs, PROVENANCE, Results};
use crate::methods;
use crate::pipeline::{Keep, OpenedHome};
use crate::provenance;
use crate::report;
use crate::site::{SITE_FILE, Site, loggers_in_two_homes, read_site_file};
use crate::tables::{self, Page, Table};

pub use command_line::command_line;
pub use in_memory::{Asked, Audited, Subject};
pub use signals::Signals;

use copies::Copies;
use exports_folder::{exports_folder, sources};
use gathered::{Gathered, digests};
use naming::Naming;
use small_rows::small_rows;
use source::Source;
use table_writers::{DATA_PACKAGE, HomeTables, begin, write_data_package, write_table};
use threads::Threads;

/// Exit code: done.
pub const DONE: u8 = 0;
/// Exit code: done, but some input could not be read.
pub const SOMETHING_UNREADABLE: u8 = 1;
/// Exit code: not done.
pub const NOT_DONE: u8 = 2;
/// Exit code: done, and a finding reached `--fail-on`.
pub const FINDING_REACHED: u8 = 3;
/// Exit code of `check`: done, and somebody must go to a logger.
pub const SOMEBODY_MUST_GO: u8 = 3;

/// Homes of which an earlier run may have left pages of their own.
const MOST_PAGES: usize = 20_000;
/// Name of the workbook.
const WORKBOOK: &str = "findings.xlsx";

/// Runs the command; the answer is the exit code.
///
/// # Errors
/// Whatever stops the command.
pub fn run(cli: &Cli, console: &Console) -> Result<u8> {
    let threads = &Threads::start(cli.threads)?;
    if let Some(out) = folder_of_results(&cli.command) {
        files::settle(out)?;
    }
    match &cli.command {
        Command::Plan(args) => plan::plan(args, console),
        Command::Check(args) => check::check(args, threads, console),
        Command::Audit(args) => audit(args, threads, console),
        Command::Compare(args) => comparison::comparison(args, threads, console),
        Command::Complaint(args) => complaint::complaint(args, threads, console),
        Command::Portfolio(args) => portfolio::portfolio_or_job(args, threads, console),
        Command::Draft(args) => exports_first::draft(args, threads, console),
        Command::Inspect(args) => exports_first::inspect(args, console),
        Command::Simulate(args) => simulation::simulate(args, threads, console),
        Command::Methods(args) => {
            console.result(&methods_of(&args.site)?)?;
            Ok(DONE)
        }
        Command::Worker(args) => worker::worker(args, console),
        Command::Explain(args) => {
            console.result(&explain::explain(args.name.as_deref())?)?;
            Ok(DONE)
        }
        Command::Completions(args) => {
            console.bytes(&cli::completions(args.shell))?;
            Ok(DONE)
        }
        Command::Man(args) => {
            let page = cli::manual(args.command.as_deref()).ok_or_else(|| Error::Unfit {
                place: "man".to_owned(),
                what: format!(
                    "found \"{}\", expected a command",
                    args.command.as_deref().unwrap_or_default()
                ),
                hint: "`evenrooms --help` lists the commands".to_owned(),
            })?;
            console.bytes(&page)?;
            Ok(DONE)
        }
    }
}

/// Where a command writes.
fn folder_of_results(command: &Command) -> Option<&Path> {
    match command {
        Command::Plan(args) => args.out.as_deref(),
        Command::Check(args) => args.out.as_deref(),
        Command::Audit(args) => Some(&args.out),
        Command::Compare(args) => Some(&args.out),
        Command::Complaint(args) => Some(&args.out),
        Command::Portfolio(args) => args.out.as_deref(),
        Command::Draft(args) => Some(&args.out),
        Command::Simulate(args) => Some(&args.out),
        Command::Inspect(_)
        | Command::Methods(_)
        | Command::Worker(_)
        | Command::Explain(_)
        | Command::Completions(_)
        | Command::Man(_) => None,
    }
}

/// `evenrooms audit`: exports → readings → flags → grid → metrics → findings → tables and report.
fn audit(args: &AuditArgs, threads: &Threads, console: &Console) -> Result<u8> {
    let naming = Naming::open(args.pseudonyms.as_deref(), &args.out)?;
    let (site, inputs, copies) = opened(&args.site, Rows::Recorded)?;
    let (copies, of_copies) = copies.beside(&args.site, &args.out, args.pseudonyms.is_some());
    refuse_among_exports(&args.out, &args.site, &site)?;
    let own = no_exports(args, &inputs);
    let mut inputs = naming.own_inputs(inputs);
    let from_aligned = args.from_aligned.is_some();
    let (asked, corrections) = corrected(args, naming.site(site)?, threads)?;
    let source = open_source(threads, asked.clone(), &args.site, args.from_aligned.as_deref(), naming)?;
    let mut outputs = begin(&args.out, results(args, source.site().homes.len(), &copies))?;
    let site = source.site();
    let earlier = args.since.as_ref().map(|folder| since::earlier(folder, site)).transpose()?;
    let of_earlier =
        |(_, input): &(_, Input)| source.naming.table_input(input.clone(), "cases of an earlier audit");
    inputs.extend(earlier.iter().map(of_earlier));
    let mut notes = [source.notes.clone(), left_open(site), of_copies].concat();
    inputs.extend(source.inputs.iter().cloned());
    let mut tables = HomeTables::start(&mut outputs, from_aligned, &source)?;
    let keep = if args.no_report { Keep::ForTables } else { Keep::ForReport };
    let bar = progress(console, site.homes.len() as u64, "homes", "auditing");
    let work = |opened: OpenedHome| opened.judge().encode(keep);
    let gathered = Gathered::of(&source, &own, threads, work, |home| {
        let kept = tables.add_home(home)?;
        bar.inc(1);
        Ok(kept)
    })?;
    bar.finish_and_clear();
    inputs.extend(gathered.inputs.iter().cloned());
    notes.extend(gathered.notes.iter().cloned());
    let audited = sensitivity::Audited {
        site: &asked,
        site_path: &args.site,
        homes: &gathered.building.homes,
        files: gathered.files(),
    };
    let varied = args.sensitivity.then(|| sensitivity::sensitivity(&audited, threads, &mut notes));
    let Gathered { site, mut building, .. } = gathered;
    // Told in full, so that they need not come first.
    notes.extend(corrections.iter().cloned());
    let earlier = earlier.iter().map(|(cases, _)| cases);
    notes.extend(earlier.flat_map(|earlier| since::held_against(&site, &mut building.homes, earlier)));
    tables.finish(&building.homes, &building.rows, &mut outputs)?;
    let Source { prepared, naming, .. } = source;
    let (homes, building, outdoor) = (building.homes, building.rows.rows, prepared.into_outdoor());
    let audit = Audit { site, homes, outdoor, building, notes, from_aligned };
    varied.iter().try_for_each(|rows| sensitivity::write(&audit.site, rows, &mut outputs))?;
    write_small(args, &audit, &copies, &mut outputs)?;
    inputs.sort();
    inputs.dedup();
    outputs.publish(provenance::provenance(&audit, &inputs))?;
    tell(args, &audit, &naming.place(&args.out, RESULTS), console)?;
    let asked_for = args.apply_proposals.then(|| proposals::told(&corrections));
    let turned = varied.iter().map(|rows| sensitivity::told(rows));
    asked_for.into_iter().chain(turned).for_each(|words| console.message(&words));
    Ok(exit_code(args, &audit))
}

/// The site with what its records propose, where that was asked for, and a note of each correction.
fn corrected(args: &AuditArgs, site: Site, threads: &Threads) -> Result<(Site, Vec<Note>)> {
    match args.apply_proposals {
        true => proposals::applied(&site, &args.site, threads),
        false => Ok((site, Vec::new())),
    }
}

/// `evenrooms methods`: the methods section, from site file and roster alone.
fn methods_of(site: &Path) -> Result<String> {
    let (site, inputs) = open_site_with(site, Rows::Planned)?;
    let from = inputs.into_iter().map(|Input { name, sha256, .. }| methods::From { name, sha256 });
    Ok(methods::methods(&site, &from.collect::<Vec<_>>()))
}

/// What the terminal says of an audit.
fn tell(args: &AuditArgs, audit: &Audit, out: &str, console: &Console) -> Result<()> {
    console.notes(audit, if args.details { NOTES_TOLD } else { FEW_NOTES });
    let told = Told { out, with_report: !args.no_report };
    match args.json {
        true => console.json(&console::json(audit, &told)),
        false => console.summary(audit, &told, args.details),
    }
}

/// What the folder of the results is called under pseudonyms.
const RESULTS: &str = "the folder that --out names";

/// What is no export wherever it lies: site file, roster, key, results.
fn no_exports(args: &AuditArgs, inputs: &[Input]) -> Vec<PathBuf> {
    let beside = args.site.parent().unwrap_or(Path::new(""));
    let own = inputs.iter().map(|input| files::named(beside, &input.name));
    own.chain(args.pseudonyms.clone()).chain([args.out.clone()]).collect()
}

/// Results that stand among exports would be taken for exports.
fn refuse_among_exports(out: &Path, site_path: &Path, site: &Site) -> Result<()> {
    let folder = exports_folder(site_path, site);
    let of_exports = || site.homes.iter().flat_map(sources).map(|name| files::named(&folder, name));
    let beside_one = || of_exports().any(|export| export.parent().is_some_and(|of| files::is_same(out, of)));
    // Where everything lies in one folder, results have a folder of their own in it.
    let below = files::is_inside(out, &folder) && !files::is_inside(site_path, &folder);
    if !files::is_same(out, &folder) && !below && !beside_one() {
        return Ok(());
    }
    Err(Error::Unfit {
        place: out.display().to_string(),
        what: format!(
            "found the exports ({}) where results would go, expected a folder of their own for results",
            folder.display()
        ),
        hint: "choose another folder with --out, beside the exports and not among them".to_owned(),
    })
}

/// Where the homes come from.
fn open_source(
    threads: &Threads,
    site: Site,
    site_path: &Path,
    from_aligned: Option<&Path>,
    naming: Naming,
) -> Result<Source> {
    match from_aligned {
        None => Source::folder(threads, site, site_path, naming),
        Some(path) => Source::aligned(site, path, naming),
    }
}

fn exit_code(args: &AuditArgs, audit: &Audit) -> u8 {
    let reached =
        args.fail_on.is_some_and(|f| audit.worst_severity().is_some_and(|worst| worst <= f.severity()));
    match (reached, audit.something_unreadable()) {
        (true, _) => FINDING_REACHED,
        (false, true) => SOMETHING_UNREADABLE,
        (false, false) => DONE,
    }
}

/// Site file and roster, with their fingerprints.
fn open_site(path: &Path) -> Result<(Site, Vec<Input>)> {
    open_site_with(path, Rows::Recorded)
}

/// What rows of the roster stand for.
#[derive(Clone, Copy, Debug)]
enum Rows {
    /// Loggers that recorded.
    Recorded,
    /// Loggers that are to be placed: no export need be named.
    Planned,
}

/// Site file and roster, with their fingerprints.
fn open_site_with(path: &Path, rows: Rows) -> Result<(Site, Vec<Input>)> {
    opened(path, rows).map(|(site, inputs, _)| (site, inputs))
}

/// The same, and both as they were read.
fn opened(path: &Path, rows: Rows) -> Result<(Site, Vec<Input>, Copies)> {
    if files::is_folder(path) {
        return Err(no_site_file(path));
    }
    let written = files::read(path)?;
    let name = path.display().to_string();
    let file = read_site_file(&name, &files::text(path, &written)?);
    let Some(roster) = file.roster().map(str::to_owned) else { return Err(file.without_roster(None)) };
    let roster_path = files::named(path.parent().unwrap_or(Path::new("")), &roster);
    let bytes = match files::read(&roster_path) {
        Ok(bytes) => bytes,
        Err(error) => return Err(file.without_roster(Some(no_roster(&roster_path, &error)))),
    };
    let inputs = vec![Input::new(&file_name(path), &written), Input::new(&roster, &bytes)];
    let roster_name = roster_path.display().to_string();
    let site = match rows {
        Rows::Recorded => file.with_roster(&roster_name, &bytes)?,
        Rows::Planned => file.with_planned_roster(&roster_name, &bytes)?,
    };
    Ok((site, inputs, Copies::of(written, &roster, bytes)))
}

/// A folder in the place of a site file: of exports, or the one that the site file is in.
fn no_site_file(folder: &Path) -> Error {
    let inside = folder.join("site.toml");
    let hint = match files::is_file(&inside) {
        true => format!("name the site file in it: {}", as_typed(&inside)),
        false => format!(
            "if these are exports, `evenrooms draft {} --out drafted` writes a first site file and roster",
            as_typed(folder)
        ),
    };
    let what = "this is a folder, expected a site file (site.toml)".to_owned();
    Error::Unfit { place: folder.display().to_string(), what, hint }
}

fn no_roster(path: &Path, error: &Error) -> Mistake {
    let found = match error {
        Error::Disk { source, .. } => format!("a roster that could not be read ({source})"),
        other => format!("a roster that could not be read ({other})"),
    };
    Mistake {
        file: path.display().to_string(),
        line: None,
        found,
        expected: "a file with one row per placement of a logger".to_owned(),
        hint: "check `roster` in the site file: the name starts from the site file's folder".to_owned(),
    }
}

fn file_name(path: &Path) -> String {
    path.file_name().map_or_else(|| path.display().to_string(), |n| n.to_string_lossy().into_owned())
}

/// What the site file and the roster leave open: said, never passed over.
fn left_open(site: &Site) -> Vec<Note> {
    let rule = site.heat_rule.as_ref().filter(|r| r.needs_outdoor() && site.outdoor.is_none());
    let rule = rule.map(|_| Note {
        place: SITE_FILE.to_owned(),
        line: None,
        what: "the heat rule depends on the outdoor temperature at some hours, but the site names no `outdoor` series: those hours are not evaluated, neither met nor missed".into(),
        hint: "add `outdoor = { file = \"weather.csv\", column = \"…\" }` to [site]".to_owned(),
        unreadable: false,
    });
    let missing = site
        .homes
        .iter()
        .flat_map(|h| h.rooms.iter().filter(|r| r.placements.is_empty()).map(move |r| (h, r)));
    let rooms = missing.map(|(home, room)| Note {
        place: format!("{} {}", home.name, room.name),
        line: None,
        what: "the roster names this room but no logger for it, so nothing is known about it".into(),
        hint: "place a logger, or remove the row if the room does not count".to_owned(),
        unreadable: false,
    });
    let twice = loggers_in_two_homes(site);
    site.cautions.iter().cloned().chain(rule).chain(twice).chain(rooms).collect()
}

/// What an audit gives with these arguments, and with any.
fn results(args: &AuditArgs, homes: usize, copies: &Copies) -> Results {
    let names = |from_aligned: bool, report: bool, sheets: bool, pages: usize| {
        let tables = tables_of(from_aligned).flat_map(|t| t.files().map(|(_, name)| name));
        let book = [report::REPORT, WORKBOOK].into_iter().filter(|_| report).map(str::to_owned);
        let sheets = sheets.then(|| report::SHEETS.to_owned());
        // Whether homes have pages of their own is known only once they are made.
        let pages = (1..=pages).filter(|_| report).map(report::page_name);
        let described = [DATA_PACKAGE.to_owned(), PROVENANCE.to_owned()];
        tables.chain(book).chain(sheets).chain(pages).chain(described).collect()
    };
    let mut made: Vec<String> = names(args.from_aligned.is_some(), !args.no_report, args.sheets, homes);
    made.extend(copies.names());
    let of_changes = || tables::SENSITIVITY.files().map(|(_, name)| name);
    made.extend(of_changes().filter(|_| args.sensitivity));
    let mut known = names(false, true, true, homes.max(MOST_PAGES));
    known.extend(Copies::ever().chain(of_changes()));
    Results { command: "audit", made, known }
}

/// The tables of a result; without exports there are none about loggers and rows.
fn tables_of(from_aligned: bool) -> impl Iterator<Item = &'static Table> {
    let of_exports =
        [&tables::READINGS, &tables::SET_ASIDE, &tables::ALIGNED, &tables::WEATHER, &tables::LOGGERS];
    let left_out = move |t: &Table| from_aligned && of_exports.iter().any(|o| o.name == t.name);
    tables::TABLES.into_iter().filter(move |t| !left_out(t))
}

/// Everything but the tables that grow with the record.
fn write_small(args: &AuditArgs, audit: &Audit, copies: &Copies, outputs: &mut Outputs) -> Result<()> {
    small_rows(audit, |table, rows| write_table(table, rows, outputs))?;
    let mut pages = Vec::new();
    if !args.no_report {
        pages = write_report(args, audit, outputs)?;
    }
    pages.extend(copies.write(outputs)?);
    let of_changes = args.sensitivity.then_some(&tables::SENSITIVITY);
    let tables: Vec<&Table> = tables_of(audit.from_aligned).chain(of_changes).collect();
    write_data_package(&audit.site, &tables, pages, outputs)
}

/// Writes what people read; the answer is what the Data Package tells of each file.
fn write_report(args: &AuditArgs, audit: &Audit, outputs: &mut Outputs) -> Result<Vec<Page>> {
    let mut pages = Vec::new();
    let mut write = |name: &str, bytes: &[u8], about: &'static str| {
        pages.push(Page { path: name.to_owned(), about });
        outputs.write(name, bytes)
    };
    report::pages(audit, |name, bytes| write(name, bytes, "the report: a page to read in a browser"))?;
    if args.sheets {
        write(
            report::SHEETS,
            report::sheets(audit).as_bytes(),
            "the acceptance sheets of all homes, for print",
        )?;
    }
    let of_workbook = "the same numbers for people who work in spreadsheets: what to do, homes, acceptance, rooms, cases, findings, loggers";
    write(WORKBOOK, &report::workbook(audit)?, of_workbook)?;
    Ok(pages)
}

fn progress(console: &Console, length: u64, of: &str, doing: &'static str) -> ProgressBar {
    if !console.shows_progress() {
        return ProgressBar::hidden();
    }
    let style =
        ProgressStyle::with_template(&format!("{{msg}} [{{wide_bar}}] {{pos}}/{{len}} {of}, {{eta}} left"));
    let bar = ProgressBar::new(length).with_message(doing);
    bar.with_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()))
}
