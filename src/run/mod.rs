//! One function per command; the only room with threads and progress.
#![expect(clippy::disallowed_types, reason = "the one room that runs things side by side and shows progress")]

mod check;
mod comparison;
mod complaint;
mod exports_first;
mod in_order;
mod naming;
mod plan;
mod side_by_side;
mod signals;
mod simulation;
mod since;
mod source;
mod unnamed;
mod written;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use indicatif::{ProgressBar, ProgressStyle};

use crate::audit::{Audit, HomeAudit};
use crate::cli::{self, AuditArgs, Cli, Command};
use crate::clock::Span;
use crate::console::{self, Console, FEW_NOTES, NOTES_TOLD, Told, as_typed};
use crate::error::{Error, Mistake, Note, Result};
use crate::explain;
use crate::exports;
use crate::files::{self, Input, Outputs, PROVENANCE, Results};
use crate::grid::{AlignedHome, RoomSeries};
use crate::metrics::{self, Pictures};
use crate::pipeline::{HomeWork, TRACE_PAIRS, beside_the_building, judge_home, no_weather_of, tell_copies};
use crate::provenance;
use crate::quality::copies::Sketch;
use crate::quality::{Corrected, Flagged, LoggerRow};
use crate::report;
use crate::site::{DEFAULT_ACCURACY, Home, SITE_FILE, Site, read_site_file};
use crate::tables::{self, Table};

pub use signals::Signals;

use in_order::in_order;
use naming::Naming;
use side_by_side::side_by_side;
use source::{Opened, Source};
use written::{HomeTables, begin, write_data_package, write_table};

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
/// Name of the Data Package descriptor.
const DATA_PACKAGE: &str = "datapackage.json";

/// Runs the command; the answer is the exit code.
///
/// # Errors
/// Whatever stops the command.
pub fn run(cli: &Cli, console: &Console) -> Result<u8> {
    start_threads(cli.threads)?;
    if let Some(out) = folder_of_results(&cli.command) {
        files::settle(out)?;
    }
    match &cli.command {
        Command::Plan(args) => plan::plan(args, console),
        Command::Check(args) => check::check(args, console),
        Command::Audit(args) => audit(args, console),
        Command::Compare(args) => comparison::comparison(args, console),
        Command::Complaint(args) => complaint::complaint(args, console),
        Command::Draft(args) => exports_first::draft(args, console),
        Command::Inspect(args) => exports_first::inspect(args, console),
        Command::Simulate(args) => simulation::simulate(args, console),
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

/// The threads that everything runs on: one per core where no number is given.
fn start_threads(threads: Option<u16>) -> Result<()> {
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads.map_or(0, usize::from));
    match pool.build_global() {
        // Only where the system refuses there is something behind it: a second pool in one process (a test) keeps the
        // first one's size, and results do not depend on it.
        Err(error) if std::error::Error::source(&error).is_some() => {
            Err(Error::NoThreads { threads: threads.map(usize::from), source: Box::new(error) })
        }
        _ => Ok(()),
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
        Command::Draft(args) => Some(&args.out),
        Command::Simulate(args) => Some(&args.out),
        Command::Inspect(_) | Command::Explain(_) | Command::Completions(_) | Command::Man(_) => None,
    }
}

/// `evenrooms audit`: exports → readings → flags → grid → metrics → findings → tables and report.
fn audit(args: &AuditArgs, console: &Console) -> Result<u8> {
    let naming = Naming::open(args.pseudonyms.as_deref(), &args.out)?;
    let (site, inputs) = open_site(&args.site)?;
    refuse_among_exports(&args.out, &args.site, &site)?;
    let own = no_exports(args, &inputs);
    let mut inputs = naming.own_inputs(inputs);
    let (mut site, mut source) =
        open_source(naming.site(site)?, &args.site, args.from_aligned.as_deref(), naming)?;
    let mut outputs = begin(&args.out, results(args, site.homes.len()))?;
    let earlier = args.since.as_ref().map(|folder| since::earlier(folder, &site)).transpose()?;
    inputs.extend(
        earlier
            .iter()
            .map(|(_, input)| source.naming.table_input(input.clone(), "cases of an earlier audit")),
    );
    let mut notes = source.notes.clone();
    notes.extend(left_open(&site));
    inputs.extend(source.inputs.iter().cloned());
    let mut tables = HomeTables::start(&mut outputs, &site.name, args.from_aligned.is_some(), &mut source)?;
    let (mut homes, mut as_opened, mut hours) = (Vec::new(), Vec::new(), Vec::new());
    let mut sketches = Vec::new();
    let bar = progress(console, site.homes.len() as u64, "homes", "auditing");
    let one = |home: &Home| {
        let Opened { home, opened, inputs } = source.open(&site, home)?;
        judge_home(&site, &home, opened).map(|work| (home, work, inputs))
    };
    in_order(&site.homes, one, |(home, mut work, read): (Home, HomeWork, Vec<Input>)| {
        tables.add_home(&mut work.audit, work.readings, work.aligned)?;
        if args.no_report {
            work.audit.metrics.retain(written::waits);
            (work.audit.trace, work.audit.pictures) = (None, Pictures::default());
        }
        inputs.extend(read);
        homes.push(work.audit);
        hours.push(work.hours);
        sketches.push(work.sketches);
        as_opened.push(home);
        bar.inc(1);
        Ok(())
    })?;
    bar.finish_and_clear();
    site.homes = as_opened;
    if args.from_aligned.is_none() {
        let digest = |input: &Input| (input.name.clone(), input.sha256.clone());
        let digests = inputs.iter().map(digest).collect();
        notes.extend(told_twice(args, &site, &source.naming, &own, (&mut homes, &sketches, &digests)));
    }
    let building = beside_the_building(&site, &mut homes, &hours);
    if let Some((earlier, _)) = &earlier {
        since::told(&site, &mut homes, earlier);
        notes.extend(since::homes_gone(&site, earlier));
    }
    tables.finish(&homes, &building, &mut outputs)?;
    let (building, from_aligned) = (building.rows, args.from_aligned.is_some());
    let audit = Audit { site, homes, outdoor: source.outdoor, building, notes, from_aligned };
    write_small(args, &audit, &mut outputs)?;
    inputs.sort();
    inputs.dedup();
    outputs.publish(provenance::provenance(&audit, &inputs))?;
    tell(args, &audit, &source.naming.place(&args.out, RESULTS), console)?;
    Ok(exit_code(args, &audit))
}

/// Tells of copies, among the series of the roster and beside it; the answer are notes about files that it does not name.
fn told_twice(
    args: &AuditArgs,
    site: &Site,
    naming: &Naming,
    own: &[PathBuf],
    (homes, sketches, digests): (&mut [HomeAudit], &[Vec<Sketch>], &BTreeMap<String, String>),
) -> Vec<Note> {
    let unnamed = unnamed::unnamed(site, &exports_folder(&args.site, site), own, naming);
    let copies = tell_copies(site, homes, sketches, &unnamed.series, digests);
    unnamed.notes(&copies)
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

/// Where the homes come from, and the site with the accuracies that are in force.
fn open_source(
    site: Site,
    site_path: &Path,
    from_aligned: Option<&Path>,
    naming: Naming,
) -> Result<(Site, Source)> {
    match from_aligned {
        None => Source::exports(site, site_path, naming),
        Some(path) => Source::aligned(&site, path, naming).map(|source| (site, source)),
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
    if path.is_dir() {
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
    Ok((site, inputs))
}

/// A folder in the place of a site file: of exports, or the one that the site file is in.
fn no_site_file(folder: &Path) -> Error {
    let inside = folder.join("site.toml");
    let hint = match inside.is_file() {
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

fn exports_folder(site_path: &Path, site: &Site) -> PathBuf {
    files::named(site_path.parent().unwrap_or(Path::new("")), &site.exports)
}

fn sources(home: &Home) -> impl Iterator<Item = &str> {
    home.rooms.iter().flat_map(|r| &r.placements).flat_map(|p| &p.sources).map(|s| s.file.own())
}

/// A wrong folder is told at once, not as a hundred missing files.
fn some_export_exists(site: &Site, folder: &Path) -> Result<()> {
    let mut names = site.homes.iter().flat_map(sources).peekable();
    let first = names.peek().copied().map(str::to_owned);
    if names.any(|name| files::has_export(folder, name)) {
        return Ok(());
    }
    let what = match first {
        Some(name) => format!("none of the roster's exports is there, expected \"{name}\" and others"),
        None => "the roster names no export, expected a `file` for each logger".to_owned(),
    };
    Err(Error::NothingToRead {
        place: folder.display().to_string(),
        what,
        hint: "check `exports` in the site file: file names in the roster start from that folder".to_owned(),
    })
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
    site.cautions.iter().cloned().chain(rule).chain(rooms).collect()
}

/// The weather: its logger row, notes and metric rows, as the audit of a home without a name.
fn open_outdoor(site: &Site, folder: &Path) -> Result<(Option<HomeAudit>, Option<AlignedHome>, Vec<Input>)> {
    let Some(outdoor) = &site.outdoor else { return Ok((None, None, Vec::new())) };
    let (files, inputs) = files::read_exports(folder, std::iter::once(outdoor.source.file.own()));
    let opened = exports::open_outdoor(site, &outdoor.source, &files)?;
    let flagged = Flagged::new(opened.readings.clone(), &site.quality.outdoors());
    let series = RoomSeries {
        placements: vec![(Corrected::new(&flagged, None, site.quality.use_suspect), Span::ALWAYS)],
        accuracy: DEFAULT_ACCURACY,
    };
    let aligned = AlignedHome::align(site, &[series]);
    let mut audit = HomeAudit {
        loggers: vec![LoggerRow::new("", "", "outdoor", &opened, &flagged, None)],
        set_aside: opened.set_aside,
        ledgers: opened.ledgers,
        notes: opened.notes,
        ..HomeAudit::default()
    };
    if let Some(note) = no_weather_of(site, &aligned, outdoor.source.file.told()) {
        audit.notes.push(note);
        return Ok((Some(audit), None, inputs));
    }
    (audit.metrics, audit.trace) = (metrics::outdoor(&aligned), aligned.trace(TRACE_PAIRS));
    Ok((Some(audit), Some(aligned), inputs))
}

/// What an audit gives with these arguments, and with any.
fn results(args: &AuditArgs, homes: usize) -> Results {
    let names = |from_aligned: bool, report: bool, sheets: bool, pages: usize| {
        let tables = tables_of(from_aligned).flat_map(|t| t.files().map(|(_, name)| name));
        let book = [report::REPORT, WORKBOOK].into_iter().filter(|_| report).map(str::to_owned);
        let sheets = sheets.then(|| report::SHEETS.to_owned());
        // Whether homes have pages of their own is known only once they are made.
        let pages = (1..=pages).filter(|_| report).map(report::page_name);
        let described = [DATA_PACKAGE.to_owned(), PROVENANCE.to_owned()];
        tables.chain(book).chain(sheets).chain(pages).chain(described).collect()
    };
    let made = names(args.from_aligned.is_some(), !args.no_report, args.sheets, homes);
    Results { command: "audit", made, known: names(false, true, true, homes.max(MOST_PAGES)) }
}

/// The tables of a result; without exports there are none about loggers and rows.
fn tables_of(from_aligned: bool) -> impl Iterator<Item = &'static Table> {
    let of_exports =
        [&tables::READINGS, &tables::SET_ASIDE, &tables::ALIGNED, &tables::WEATHER, &tables::LOGGERS];
    let left_out = move |t: &Table| from_aligned && of_exports.iter().any(|o| o.name == t.name);
    tables::TABLES.into_iter().filter(move |t| !left_out(t))
}

/// Everything but the tables that grow with the record.
fn write_small(args: &AuditArgs, audit: &Audit, outputs: &mut Outputs) -> Result<()> {
    let site = &audit.site.name;
    let all = || audit.outdoor.iter().chain(&audit.homes);
    let cases = audit.homes.iter().flat_map(|h| &h.cases);
    write_table(&tables::CASES, cases.map(|c| tables::case_cells(site, c)), outputs)?;
    let standings = audit.homes.iter().map(|h| (h, h.standing()));
    let criteria = standings.flat_map(|(h, standing)| h.criteria.iter().map(move |c| (c, standing)));
    write_table(
        &tables::ACCEPTANCE,
        criteria.map(|(c, standing)| tables::criterion_cells(site, c, standing)),
        outputs,
    )?;
    let findings = all().flat_map(|h| &h.findings);
    write_table(&tables::FINDINGS, findings.map(|f| tables::finding_cells(site, f)), outputs)?;
    let open = all().flat_map(|h| &h.not_judged);
    write_table(&tables::NOT_JUDGED, open.map(|o| tables::not_judged_cells(site, o)), outputs)?;
    if !audit.from_aligned {
        let loggers = all().flat_map(|h| &h.loggers);
        write_table(&tables::LOGGERS, loggers.map(|l| tables::logger_cells(site, l)), outputs)?;
    }
    if !args.no_report {
        report::pages(audit, |name, bytes| outputs.write(name, bytes))?;
        if args.sheets {
            outputs.write(report::SHEETS, report::sheets(audit).as_bytes())?;
        }
        outputs.write(WORKBOOK, &report::workbook(audit)?)?;
    }
    write_data_package(&audit.site, &tables_of(audit.from_aligned).collect::<Vec<_>>(), outputs)
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
