//! The command line.

use std::path::PathBuf;

use clap::{Args, CommandFactory, Parser, Subcommand, ValueEnum};

use crate::findings::Severity;

/// Show, from temperature-logger exports, whether every room of a home stays evenly warm.
#[derive(Debug, Parser)]
#[command(version, about, long_about = LONG, after_help = EXIT_CODES, max_term_width = 100)]
pub struct Cli {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
    /// Print errors only: no progress, no messages, no summary.
    #[arg(long, short, global = true)]
    pub quiet: bool,
    /// How many threads to use, at most 512 (default: one per core). Results do not depend on it.
    #[arg(long, global = true, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=512))]
    pub threads: Option<u16>,
}

const LONG: &str = "Show, from temperature-logger exports, whether every room of a home stays evenly warm, \
and find the homes where it does not.\n\n\
evenrooms reads the exports of loggers, accounts for every row, tests the readings, aligns the rooms of each \
home in time, computes comfort metrics with how sure they are, and lists what should be looked at.";

const EXIT_CODES: &str = "Exit codes: 0 done; 1 done, but some input could not be read (it is named); \
2 not done; 3 done, and a case reached --fail-on (audit) or somebody must go to a logger (check); 130, 143, 129 stopped by SIGINT, SIGTERM, SIGHUP.\n\n\
Results are whole, or those of the run before stay. Of two runs into one folder the second stops with 2.";

/// What to do.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Before loggers are placed: what goes where, labels, the side-by-side check, and how many days an answer will take.
    Plan(PlanArgs),
    /// Mid-way or on download day: does every logger record, and to which must somebody go? Exit code 3 where to any.
    Check(CheckArgs),
    /// Audit a building: exports to tables, findings and a report.
    Audit(AuditArgs),
    /// Answer a complaint about heat: one sheet for one home and time, what the record shows and how sure it is.
    Complaint(ComplaintArgs),
    /// Compare two periods at like outdoor temperature: what changed in each room and home, and how sure.
    Compare(CompareArgs),
    /// Put the results of several audits together: where the homes of all sites stand, and what they have in common.
    Portfolio(PortfolioArgs),
    /// Look through a folder of exports and write a first site file and roster.
    Draft(DraftArgs),
    /// Show how exports are understood: dialect, columns, clock, unit, first rows, rows that cannot be read.
    Inspect(InspectArgs),
    /// Invent a building with known truth: exports, roster, site file, weather and truth.json.
    Simulate(SimulateArgs),
    /// Write the methods section of an audit with these settings, for a paper: definitions, formulas, settings, sources.
    Methods(MethodsArgs),
    /// For machinery: aligned rows of homes as an Arrow IPC stream on standard input, their metric rows as one on standard output.
    Worker(WorkerArgs),
    /// Explain a metric, case, criterion, rule, event, flag or column; without a name, list them.
    Explain(ExplainArgs),
    /// Print completions for a shell: bash, zsh, fish, elvish or powershell.
    Completions(CompletionsArgs),
    /// Print the manual page of this program, or of one command, for `man`.
    Man(ManArgs),
}

/// Arguments of `plan`.
#[derive(Debug, Args)]
pub struct PlanArgs {
    /// The site file (site.toml): settings, and where the roster is. Exports need not be there yet, nor their names.
    #[arg(value_name = "SITE.toml")]
    pub site: PathBuf,
    /// Folder for the page to print (plan.html): placements, labels, the side-by-side check; it is made if need be.
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// How much a room's daily distance to the heated rooms varies once the weather is taken out (standard deviation, such
    /// as "0.4 K"); without it 0.4 K is assumed, which is our own assumption.
    #[arg(long, value_name = "DIFFERENCE")]
    pub day_sd: Option<String>,
    /// Print JSON for programs.
    #[arg(long)]
    pub json: bool,
}

/// Arguments of `check`.
#[derive(Debug, Args)]
pub struct CheckArgs {
    /// The site file (site.toml): settings, and where roster and exports are.
    #[arg(value_name = "SITE.toml")]
    pub site: PathBuf,
    /// Folder for the page to print (check.html): where to go, what to do and what to bring; it is made if need be.
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// When the loggers were read out, local, such as "2026-01-20 16:00": what ends long before that has stopped, a whole
    /// building too. Without it the newest reading counts.
    #[arg(long, value_name = "WHEN")]
    pub read_out: Option<String>,
    /// Tell every logger, those that run too.
    #[arg(long)]
    pub details: bool,
    /// Print JSON for programs.
    #[arg(long, conflicts_with = "details")]
    pub json: bool,
}

/// Arguments of `audit`.
#[derive(Debug, Args)]
pub struct AuditArgs {
    /// The site file (site.toml): settings, and where roster and exports are.
    #[arg(value_name = "SITE.toml")]
    pub site: PathBuf,
    /// Folder for the results; it is made if need be.
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,
    /// End with exit code 3 when a case that is not over is at least this pressing.
    #[arg(long, value_name = "SEVERITY")]
    pub fail_on: Option<FailOn>,
    /// Tell each case with its evidence, what else it could be and what to do, and all notes.
    #[arg(long)]
    pub details: bool,
    /// Results of an earlier audit of the same building (its folder): each case is told as new, still there or over since then.
    #[arg(long, value_name = "DIR")]
    pub since: Option<PathBuf>,
    /// Print homes, cases and criteria as JSON instead.
    #[arg(long, conflicts_with = "details")]
    pub json: bool,
    /// Write the tables only.
    #[arg(long)]
    pub no_report: bool,
    /// Write sensitivity.csv too: the audit again with step, max_gap, accuracy, margin and the use of suspect
    /// readings changed one at a time, and which verdicts turn. It takes about ten times as long.
    #[arg(long, conflicts_with = "from_aligned")]
    pub sensitivity: bool,
    /// Take corrections of the roster that records propose (a clock, when a logger stood in its room, two loggers exchanged) as
    /// said, in this run: the records are read twice, and each correction is a note in all results. Off unless asked for.
    #[arg(long, conflicts_with = "from_aligned")]
    pub apply_proposals: bool,
    /// Write sheets.html too: the acceptance sheet of each home, one to a sheet of paper, with room for signatures.
    #[arg(long, conflicts_with = "no_report")]
    pub sheets: bool,
    /// Start from aligned.parquet of an earlier audit (the file, or its folder) instead of the exports: the same
    /// metrics, with other limits or periods where the site file says so; loggers and rows are not judged again. Its
    /// weather.parquet and provenance.json must be beside it, and the latter know the SHA-256 of both.
    #[arg(long, value_name = "PATH")]
    pub from_aligned: Option<PathBuf>,
    /// Call homes, rooms, loggers and files by pseudonyms in all results, and leave out texts of exports: for people who
    /// need not know which home is which. KEYFILE holds 16 random bytes or more; the same key gives the same pseudonyms.
    #[arg(long, value_name = "KEYFILE")]
    pub pseudonyms: Option<PathBuf>,
}

/// Arguments of `complaint`.
#[derive(Debug, Args)]
pub struct ComplaintArgs {
    /// The site file (site.toml): settings, and where roster and exports are.
    #[arg(value_name = "SITE.toml")]
    pub site: PathBuf,
    /// The home, as in the roster.
    #[arg(long, value_name = "HOME")]
    pub home: String,
    /// From when on, local: a date such as 2026-01-05, or a date and time such as "2026-01-05 18:00".
    #[arg(long, value_name = "WHEN")]
    pub from: String,
    /// Until when, written likewise; a bare date includes that day.
    #[arg(long, value_name = "WHEN")]
    pub to: String,
    /// Who asked, for the head of the sheet; without it a line to fill in.
    #[arg(long, value_name = "NAME", conflicts_with = "pseudonyms")]
    pub asked_by: Option<String>,
    /// Who made the sheet, likewise.
    #[arg(long, value_name = "NAME", conflicts_with = "pseudonyms")]
    pub made_by: Option<String>,
    /// Folder for the sheet; it is made if need be.
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,
    /// Start from aligned.parquet of an audit (the file, or its folder) instead of the exports.
    #[arg(long, value_name = "PATH")]
    pub from_aligned: Option<PathBuf>,
    /// Call homes, rooms, loggers and files by pseudonyms in all results, and leave out texts of exports: for people who
    /// need not know which home is which. KEYFILE holds 16 random bytes or more; the same key gives the same pseudonyms.
    #[arg(long, value_name = "KEYFILE")]
    pub pseudonyms: Option<PathBuf>,
}

/// Arguments of `compare`.
#[derive(Debug, Args)]
pub struct CompareArgs {
    /// The site file (site.toml): settings, and where roster and exports are.
    #[arg(value_name = "SITE.toml")]
    pub site: PathBuf,
    /// The period before: the name of a period of the site file, or two local dates such as 2026-01-05/2026-01-31.
    #[arg(long, value_name = "PERIOD")]
    pub before: String,
    /// The period after, written likewise.
    #[arg(long, value_name = "PERIOD")]
    pub after: String,
    /// Folder for the results; it is made if need be.
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,
    /// Start from aligned.parquet of an audit (the file, or its folder) instead of the exports.
    #[arg(long, value_name = "PATH")]
    pub from_aligned: Option<PathBuf>,
    /// Call homes, rooms, loggers and files by pseudonyms in all results, and leave out texts of exports: for people who
    /// need not know which home is which. KEYFILE holds 16 random bytes or more; the same key gives the same pseudonyms.
    #[arg(long, value_name = "KEYFILE")]
    pub pseudonyms: Option<PathBuf>,
}

/// Arguments of `portfolio`.
#[derive(Debug, Args)]
pub struct PortfolioArgs {
    /// Folders of results, each of one audit of another site (what --out named there). One that cannot be taken is named and
    /// set aside, with exit code 1.
    #[arg(value_name = "RESULTS", required_unless_present = "spark_job")]
    pub results: Vec<PathBuf>,
    /// Folder for the results; it is made if need be.
    #[arg(long, value_name = "DIR", required_unless_present = "spark_job")]
    pub out: Option<PathBuf>,
    /// Print a PySpark job instead, which spreads audits, or homes of aligned tables, over many machines.
    #[arg(long, conflicts_with_all = ["results", "out"])]
    pub spark_job: bool,
}

/// Arguments of `worker`.
#[derive(Debug, Args)]
pub struct WorkerArgs {
    /// The site file (site.toml): settings, and where the roster is. Exports need not be there.
    #[arg(value_name = "SITE.toml")]
    pub site: PathBuf,
    /// Results of the audit that made the rows (the folder, or its weather.parquet): what outdoor numbers rest on. Not to be left
    /// out where the site file names an outdoor series.
    #[arg(long, value_name = "PATH")]
    pub weather: Option<PathBuf>,
    /// The key of that audit, where it was made with --pseudonyms.
    #[arg(long, value_name = "KEYFILE")]
    pub pseudonyms: Option<PathBuf>,
}

/// Arguments of `draft`.
#[derive(Debug, Args)]
pub struct DraftArgs {
    /// The folder with the exports; folders in it are looked through too.
    #[arg(value_name = "FOLDER")]
    pub folder: PathBuf,
    /// Folder for site.toml and roster.csv; it is made if need be.
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,
    /// Time zone of the site (IANA name, such as America/Chicago); else it is left to decide.
    #[arg(long, value_name = "ZONE")]
    pub time_zone: Option<String>,
    /// Clock of loggers whose export does not say: civil, utc or "fixed -05:00"; else it is left to decide.
    #[arg(long, value_name = "CLOCK")]
    pub clock: Option<String>,
    /// Put the open questions on the terminal, one at a time, with what speaks for each answer.
    #[arg(long)]
    pub ask: bool,
}

/// Arguments of `inspect`.
#[derive(Debug, Args)]
pub struct InspectArgs {
    /// Exports.
    #[arg(value_name = "FILE", required = true)]
    pub files: Vec<PathBuf>,
    /// Print JSON for programs.
    #[arg(long)]
    pub json: bool,
    /// What the dates mean, as in the roster: day-first, month-first, "serial 1900", "serial 1904", "seconds of 2026", "minutes since 2026-01-05 10:00".
    #[arg(long, value_name = "DATES")]
    pub dates: Option<String>,
}

/// Arguments of `simulate`.
#[derive(Debug, Args)]
pub struct SimulateArgs {
    /// Folder for the site; it must be empty or new.
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,
    /// Where everything that is drawn comes from: the same seed gives the same bytes.
    #[arg(long, value_name = "N", required_unless_present = "scenario")]
    pub seed: Option<u64>,
    /// A building that is laid down by hand, in place of one drawn from a seed: alder-row makes the sample data.
    #[arg(long, value_name = "NAME", conflicts_with_all = ["seed", "homes", "days", "interval", "start", "troubles", "faults", "physics"])]
    pub scenario: Option<Scenario>,
    /// What the homes are made of: plain ones of six rooms, each heated smoothly; or lived-in ones of five to seven rooms,
    /// with people, doors, airing, heat pumps that cycle and thaw, and faults of loggers of any size.
    #[arg(long, value_name = "KIND", value_enum, default_value_t = Physics::Plain)]
    pub physics: Physics,
    /// Number of homes.
    #[arg(long, value_name = "N", default_value_t = 6, value_parser = clap::value_parser!(u32).range(1..=5000))]
    pub homes: u32,
    /// Length of the record in days.
    #[arg(long, value_name = "N", default_value_t = 21, value_parser = clap::value_parser!(u32).range(1..=730))]
    pub days: u32,
    /// Sampling interval of the loggers; in lived-in homes it is this, twice or three times as long.
    #[arg(long, value_name = "TIME", default_value = "5 min")]
    pub interval: String,
    /// First local day.
    #[arg(long, value_name = "DATE", default_value = "2026-01-05")]
    pub start: String,
    /// Share of homes with something wrong, 0 to 1.
    #[arg(long, value_name = "SHARE", default_value_t = 0.5)]
    pub troubles: f64,
    /// Share of loggers with a fault, 0 to 1.
    #[arg(long, value_name = "SHARE", default_value_t = 0.1)]
    pub faults: f64,
}

/// What simulated homes are made of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Physics {
    /// Six rooms, smooth heating, the same habits every day.
    Plain,
    /// People, doors, windows, and heat pumps that cycle and thaw.
    LivedIn,
}

/// A building that is laid down by hand.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Scenario {
    /// The building of the sample data.
    AlderRow,
}

/// Arguments of `methods`.
#[derive(Debug, Args)]
pub struct MethodsArgs {
    /// The site file (site.toml): settings, and where the roster is. No export is read, and none need be there yet.
    #[arg(value_name = "SITE.toml")]
    pub site: PathBuf,
}

/// Arguments of `explain`.
#[derive(Debug, Args)]
pub struct ExplainArgs {
    /// A name as it stands in a table.
    pub name: Option<String>,
}

/// Arguments of `completions`.
#[derive(Debug, Args)]
pub struct CompletionsArgs {
    /// The shell.
    #[arg(value_enum)]
    pub shell: clap_complete::Shell,
}

/// Arguments of `man`.
#[derive(Debug, Args)]
pub struct ManArgs {
    /// A command, such as audit; without it, the program.
    pub command: Option<String>,
}

/// What a shell needs to complete commands, options and paths.
pub fn completions(shell: clap_complete::Shell) -> Vec<u8> {
    let mut text = Vec::new();
    clap_complete::generate(shell, &mut Cli::command(), "evenrooms", &mut text);
    text
}

/// The manual page of the program, or of one of its commands; `None` for a command that is not there.
pub fn manual(command: Option<&str>) -> Option<Vec<u8>> {
    let mut program = Cli::command();
    program.build();
    let page = match command {
        None => program,
        Some(name) => program.find_subcommand(name)?.clone(),
    };
    let mut text = Vec::new();
    // A vector takes whatever is written.
    clap_mangen::Man::new(page).render(&mut text).ok()?;
    Some(text)
}

/// The severity from which a run counts as failed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum FailOn {
    /// Only urgent findings.
    Urgent,
    /// Findings that somebody must act on.
    Act,
    /// Findings to watch, too.
    Watch,
    /// Any finding.
    Note,
}

impl FailOn {
    /// The severity it names.
    pub const fn severity(self) -> Severity {
        match self {
            FailOn::Urgent => Severity::Urgent,
            FailOn::Act => Severity::Act,
            FailOn::Watch => Severity::Watch,
            FailOn::Note => Severity::Note,
        }
    }
}
