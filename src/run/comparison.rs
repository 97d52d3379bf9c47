//! `evenrooms compare`.

use super::naming::Naming;
use super::source::Source;
use super::table_writers::{DATA_PACKAGE, begin, write_data_package, write_table};
use super::threads::Threads;
use super::{DONE, RESULTS, SOMETHING_UNREADABLE, open_site, open_source, progress, refuse_among_exports};
use crate::audit::Audit;
use crate::cli::CompareArgs;
use crate::compare::{Periods, compare};
use crate::console::{self, Console, NOTES_TOLD};
use crate::error::{Error, Note, Result};
use crate::files::{PROVENANCE, Results};
use crate::provenance;
use crate::report;
use crate::site::{Home, Site};
use crate::tables::{self, Page};

/// Name of the page.
const PAGE: &str = "comparison.html";

/// Two periods of every home, matched on the outdoor temperature.
pub(super) fn comparison(args: &CompareArgs, threads: &Threads, console: &Console) -> Result<u8> {
    let naming = Naming::open(args.pseudonyms.as_deref(), &args.out)?;
    let (site, inputs) = open_site(&args.site)?;
    refuse_among_exports(&args.out, &args.site, &site)?;
    let periods = periods(&site, args)?;
    let mut inputs = naming.own_inputs(inputs);
    let source = open_source(threads, naming.site(site)?, &args.site, args.from_aligned.as_deref(), naming)?;
    let site = source.site();
    let table = &tables::COMPARISON;
    let others = [PAGE, DATA_PACKAGE, PROVENANCE].map(str::to_owned);
    let names = table.files().map(|(_, name)| name).chain(others);
    let made: Vec<String> = names.collect();
    let mut outputs = begin(&args.out, Results { command: "compare", known: made.clone(), made })?;
    inputs.extend(source.inputs.iter().cloned());
    let bar = progress(console, site.homes.len() as u64, "homes", "comparing");
    let (mut rows, mut homes) = (Vec::new(), Vec::new());
    let one = |home: &Home| {
        let (opened, inputs) = source.open(home)?;
        Ok((compare(site, opened.home(), opened.aligned(), periods), opened.into_audit(), inputs))
    };
    threads.in_order(&site.homes, one, |(compared, audit, read)| {
        rows.extend(compared);
        homes.push(audit);
        inputs.extend(read);
        bar.inc(1);
        Ok(())
    })?;
    bar.finish_and_clear();
    let from_aligned = args.from_aligned.is_some();
    let Source { prepared, mut notes, naming, .. } = source;
    let results = naming.place(&args.out, RESULTS);
    let (site, outdoor) = (prepared.site().clone(), prepared.into_outdoor());
    notes.extend(site.cautions.iter().cloned());
    let mut audit = Audit { site, homes, outdoor, building: Vec::new(), notes, from_aligned };
    let cells = rows.iter().map(|row| tables::comparison_cells(&audit.site.name, row));
    write_table(table, cells, &mut outputs)?;
    outputs.write(PAGE, report::comparison(&audit.site, periods, &rows).as_bytes())?;
    let page = Page { path: PAGE.to_owned(), about: "the comparison: a page to read in a browser" };
    write_data_package(&audit.site, &[table], vec![page], &mut outputs)?;
    console.notes(&audit, NOTES_TOLD);
    audit.notes.push(said(&audit.site, periods));
    inputs.sort();
    inputs.dedup();
    outputs.publish(provenance::provenance(&audit, &inputs))?;
    let compared = console::compared(&audit.site, periods, &rows, &results);
    console.report(&audit.taken_off().map_or(compared.clone(), |off| format!("{off}\n{compared}")))?;
    Ok(if audit.something_unreadable() { SOMETHING_UNREADABLE } else { DONE })
}

fn periods(site: &Site, args: &CompareArgs) -> Result<Periods> {
    let period = |option: &str, text: &str| {
        site.period(text).ok_or_else(|| {
            let other_way = text.split_once('/').map(|(from, to)| format!("{to}/{from}"));
            if let Some(right) = other_way.filter(|right| site.period(right).is_some()) {
                let what = format!("found \"{text}\", which ends before it begins, expected the earlier date first");
                return wrong(option, what, &format!("write {right}"));
            }
            let names: Vec<&str> = site.periods.iter().map(|p| p.name.as_str()).collect();
            let names =
                if names.is_empty() { "the site file names none".to_owned() } else { names.join(", ") };
            wrong(
                option,
                format!("found \"{text}\", expected the name of a [[period]] of the site file ({names}), or two local dates such as 2026-01-05/2026-01-31"),
                "both dates are included",
            )
        })
    };
    let periods =
        Periods { before: period("--before", &args.before)?, after: period("--after", &args.after)? };
    if periods.before.overlaps(&periods.after) {
        let (b, a) = (show(site, periods.before), show(site, periods.after));
        let what = format!("the two periods share days ({b}; {a}), expected two that do not");
        return Err(wrong("--after", what, "a day belongs to one of them only"));
    }
    Ok(periods)
}

fn wrong(option: &str, what: String, hint: &str) -> Error {
    Error::Unfit { place: option.to_owned(), what, hint: hint.to_owned() }
}

fn show(site: &Site, span: crate::clock::Span) -> String {
    format!("{} to {}", site.zone.show(span.from), site.zone.show(span.to))
}

/// What was compared, for the provenance.
fn said(site: &Site, periods: Periods) -> Note {
    Note {
        place: "comparison".to_owned(),
        line: None,
        what: format!("before: {}; after: {}", show(site, periods.before), show(site, periods.after)).into(),
        hint: "the periods were given on the command line".to_owned(),
        unreadable: false,
    }
}
