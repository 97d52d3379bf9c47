//! An export read through the library as an audit does, and held against the truth.

use std::panic::{AssertUnwindSafe, catch_unwind};

use evenrooms::exports::{self, Files, Opened, Purpose, SetAside};
use evenrooms::site::read_site_file;

use crate::wild::dialects::Plan;
use crate::wild::roster::{FILE, Open};
use crate::wild::traits::Shape;
use crate::wild::write::Export;

/// What became of an export.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Outcome {
    /// Every reading is there and true.
    Read,
    /// Nothing that was kept is wrong, and what is not there is told.
    Asked(String),
    /// A silent error.
    Wrong(String),
}

/// Largest difference to the truth, in K: far below the last digit, far above the noise of arithmetic.
const SAME_K: f64 = 1e-6;

/// Opens the export for its rooms; `Err` holds what the roster was refused for, or a panic.
pub(crate) fn open(site: &str, roster: &str, bytes: &[u8]) -> Result<Vec<Opened>, String> {
    let site = read_site_file("site.toml", site).with_roster("roster.csv", roster.as_bytes());
    let site = site.map_err(|e| format!("the roster was refused: {e}"))?;
    let files = Files::from([(FILE.to_owned(), Ok(bytes.to_vec()))]);
    let opened = AssertUnwindSafe(|| exports::open_home(&site, &site.homes[0], &files, Purpose::Audit));
    let opened = catch_unwind(opened).map_err(|_| "it panicked".to_owned())?;
    Ok(opened.map_err(|e| format!("the run stopped: {e}"))?.into_iter().flatten().collect())
}

/// Writes an export, reads it back and judges; of several rooms the worst counts.
pub(crate) fn outcome(plan: &Plan, export: &Export) -> Outcome {
    let all = 0..export.rooms.len();
    // Loggers of one file are opened one by one, so that each room stands for itself.
    let groups: Vec<Vec<usize>> = match plan.shape {
        Shape::Long { .. } => all.map(|room| vec![room]).collect(),
        _ => vec![all.collect()],
    };
    let mut worst = Outcome::Read;
    for group in groups {
        let opened = match open(&plan.site(), &plan.roster(export, group.iter().copied()), &export.bytes) {
            Ok(opened) => opened,
            Err(why) => return Outcome::Wrong(why),
        };
        for (room, opened) in group.iter().zip(&opened) {
            match judge(plan, export, *room, opened) {
                Outcome::Read => {}
                Outcome::Asked(why) => worst = Outcome::Asked(why),
                wrong => return wrong,
            }
        }
    }
    worst
}

fn judge(plan: &Plan, export: &Export, room: usize, opened: &Opened) -> Outcome {
    let truth = &export.rooms[room];
    let readings = &opened.readings;
    let notes = opened.notes.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n");
    let wrong = |what: String| Outcome::Wrong(format!("room {room}: {what}\n{notes}"));
    let open = plan.open(export);
    for (i, (t, degc)) in readings.times_ms().iter().zip(readings.degc()).enumerate() {
        let line = readings.lines()[i];
        let same = truth.get(t).is_some_and(|r| match r.degc {
            Some(x) => (degc - x).abs() < SAME_K,
            None => degc.is_nan(),
        });
        if !same && !matches!(open, Open::Tell(_)) {
            let was = truth.iter().find(|(_, r)| r.lines.contains(&line));
            return wrong(format!("line {line} was read as {t} ms, {degc} °C; true is {was:?}"));
        }
        if !same && !opened.notes.iter().any(|n| n.what.contains("came twice")) {
            return wrong(format!("line {line} was guessed in silence"));
        }
    }
    let ledger = &opened.ledgers[0];
    if ledger.lines() > 0 && ledger.lines() != export.lines {
        return wrong(format!("{} lines in the ledger, {} in the file", ledger.lines(), export.lines));
    }
    if ledger.lines() > 0 && ledger.kept != readings.len() as u64 {
        return wrong(format!("{} kept by the ledger, {} readings", ledger.kept, readings.len()));
    }
    let kept = |t: &i64| readings.times_ms().binary_search(t).is_ok();
    let lost: Vec<u32> = truth.iter().filter(|(t, _)| !kept(t)).map(|(_, r)| r.lines[0]).collect();
    let asked = opened.notes.iter().find(|n| n.unreadable).map(|n| n.what.told());
    if let Open::Ask(what) = open {
        return match asked {
            Some(why) if readings.is_empty() => Outcome::Asked(why),
            _ => wrong(format!("{what}: nobody can tell, and it was not asked for")),
        };
    }
    let asides: Vec<SetAside> = opened.set_aside.iter().collect();
    let aside = |line: &u32| asides.iter().any(|s| s.line == *line);
    match (lost.iter().find(|line| !aside(line)), asked) {
        (None, _) if lost.is_empty() => Outcome::Read,
        (None, _) => Outcome::Asked(format!("{} rows set aside: {}", lost.len(), asides[0].reason.words())),
        (Some(_), Some(why)) if readings.is_empty() => Outcome::Asked(why),
        (Some(line), _) => wrong(format!("line {line} is neither kept nor set aside")),
    }
}
