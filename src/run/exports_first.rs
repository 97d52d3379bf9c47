//! The commands that look at exports before there is a site: `draft` and `inspect`.

use std::path::Path;

use super::threads::Threads;
use super::{DONE, SOMETHING_UNREADABLE, progress};
use crate::cli::{DraftArgs, InspectArgs};
use crate::clock::Zone;
use crate::console::{self, Console, LATER, STOP, Said};
use crate::draft::{self, Known};
use crate::error::{Error, Result};
use crate::exports::{self, Inspection, TextSeen};
use crate::files::{self, Fresh, Listing};
use crate::site::{ClockSetting, Dates, zone_hint};

/// `evenrooms inspect`: how files are understood.
pub(super) fn inspect(args: &InspectArgs, console: &Console) -> Result<u8> {
    let dates = args
        .dates
        .as_deref()
        .map(|d| {
            option(
                "--dates",
                d,
                Dates::parse,
                "day-first, month-first, \"serial 1900\", \"serial 1904\", \"seconds of 2026\" or \"minutes since 2026-01-05 10:00\"",
            )
        })
        .transpose()?;
    // One file that cannot be opened keeps nobody from seeing the others.
    let look = |path: &std::path::PathBuf| {
        let file = path.display().to_string();
        match files::read_file(path) {
            Ok(bytes) => Ok(exports::inspect(&file, &bytes, dates)),
            Err(why) if args.files.len() == 1 => Err(why),
            Err(why) => Ok(Inspection { file, texts: Vec::new(), trouble: Some(why.to_string()) }),
        }
    };
    let seen: Vec<Inspection> = args.files.iter().map(look).collect::<Result<_>>()?;
    if args.json {
        let text = serde_json::to_string_pretty(&seen)
            .map_err(|e| Error::Encode { table: "inspection", source: Box::new(e) })?;
        console.json(&text)?;
    } else {
        console.result(&seen.iter().map(console::inspection).collect::<Vec<_>>().join("\n"))?;
    }
    let unreadable = seen.iter().any(|i| {
        i.trouble.is_some() || i.texts.iter().any(|t| t.trouble.is_some() || !t.set_aside.is_empty())
    });
    Ok(if unreadable { SOMETHING_UNREADABLE } else { DONE })
}

/// A value of an option that `parse` understands.
pub(super) fn option<T>(
    name: &str,
    value: &str,
    parse: impl Fn(&str) -> Option<T>,
    expected: &str,
) -> Result<T> {
    parse(value).ok_or_else(|| Error::NothingToRead {
        place: name.to_owned(),
        what: format!("found \"{value}\", expected {expected}"),
        hint: "correct the option, or leave it out".to_owned(),
    })
}

fn no_zone(name: &str) -> Error {
    Error::NothingToRead {
        place: "--time-zone".to_owned(),
        what: format!("found \"{name}\", expected the IANA name of a place such as America/Chicago"),
        hint: zone_hint(name),
    }
}

/// `evenrooms draft`: a first site file and roster.
pub(super) fn draft(args: &DraftArgs, threads: &Threads, console: &Console) -> Result<u8> {
    let zone = args
        .time_zone
        .as_deref()
        .map(|z| {
            let of_a_place = |name: &str| Zone::parse(name).filter(Zone::is_of_a_place);
            of_a_place(z).ok_or_else(|| no_zone(z))
        })
        .transpose()?;
    let clock = args
        .clock
        .as_deref()
        .map(|c| option("--clock", c, ClockSetting::parse, "civil, utc or \"fixed -05:00\""))
        .transpose()?;
    let Listing { exports: names, passed_over } = files::list_exports(&args.folder)?;
    let bar = progress(console, names.len() as u64, "files", "reading");
    let look = |name: &String| {
        let (mut read, _) = files::read_exports(&args.folder, std::iter::once(name.as_str()));
        let seen = match read.remove(name) {
            Some(Ok(bytes)) => exports::inspect(name, &bytes, None),
            Some(Err(why)) => Inspection { file: name.clone(), texts: Vec::new(), trouble: Some(why) },
            None => Inspection { file: name.clone(), texts: Vec::new(), trouble: None },
        };
        bar.inc(1);
        Ok(seen)
    };
    let seen = threads.each(&names, look)?;
    bar.finish_and_clear();
    let drafted = Fresh::begin(&args.out, &["site.toml", "roster.csv"])?;
    let known = Known {
        zone,
        clock,
        exports: files::way(&args.out, &args.folder),
        name: site_name(&args.folder),
        passed_over,
    };
    let mut draft = draft::draft(&seen, &known);
    if draft.rows() == 0 {
        let first = draft.left_out().first().map_or("no files".to_owned(), |l| format!("for example {l}"));
        let what = format!("no export could be understood among {} files; {first}", names.len());
        return Err(Error::NothingToRead {
            place: args.folder.display().to_string(),
            what,
            hint: "try `evenrooms inspect` on one of them".to_owned(),
        });
    }
    if args.ask {
        ask(&mut draft, console);
    }
    drafted.write("site.toml", draft.site().as_bytes())?;
    drafted.write("roster.csv", &draft.roster())?;
    drafted.publish()?;
    let site = args.out.join("site.toml");
    console.report(&(console::drafted(&draft, &site, &args.out) + "\n"))?;
    let open = |t: &TextSeen| t.trouble.is_none() || t.dates_open.is_some() || t.no_export;
    let lost = |i: &Inspection| i.trouble.is_some() || i.texts.iter().any(|t| t.lost);
    let unreadable = seen.iter().any(|i| lost(i) || !i.texts.iter().any(open));
    Ok(if unreadable { SOMETHING_UNREADABLE } else { DONE })
}

/// Puts the open questions to a person, if there is one.
fn ask(draft: &mut draft::Draft, console: &Console) {
    if !console::can_ask() {
        console.message("--ask: there is no terminal to ask on; what is open is marked \"decide\"");
        return;
    }
    console.message(&format!(
        "Enter takes what stands in brackets; \"{LATER}\" leaves a question open; \"{STOP}\" writes down what was answered. Ctrl-C writes nothing."
    ));
    let (mut later, mut number) = (0, 1);
    while let Some(question) = draft.questions().get(later).cloned() {
        let of = number + draft.questions().len() - later - 1;
        match console::ask(&question, (number, of)) {
            Said::Stop => return,
            Said::Later => later += 1,
            Said::Answer(answer) if draft.answer(&question, &answer) => {}
            Said::Answer(answer) => {
                console.message(&format!(
                    "\"{answer}\" is no answer to that; write \"{LATER}\" to leave it open"
                ));
                continue;
            }
        }
        number += 1;
    }
}

fn site_name(folder: &Path) -> String {
    files::folder_name(folder).unwrap_or_else(|| "site".to_owned())
}
