//! The cases of an earlier audit, for `--since`.

use std::path::{Path, PathBuf};

use serde::Deserialize;

use crate::audit::HomeAudit;
use crate::cases::{self, Answer, Earlier};
use crate::error::{Error, Note, Result};
use crate::files::{self, Input, Vouched};
use crate::site::Site;
use crate::texts::shown;

/// Name of the table that is read again.
const CASES: &str = "cases.json";

/// A row of it; columns that later versions add are passed over.
#[derive(Deserialize)]
struct Row {
    site: Option<String>,
    home: String,
    kind: String,
    rooms: Option<String>,
    course: String,
    sentence: String,
    findings: Option<String>,
}

/// Reads the cases of an earlier audit, for which its provenance vouches.
pub(super) fn earlier(folder: &Path, site: &Site) -> Result<(Vec<Earlier>, Input)> {
    let path = folder.join(CASES);
    let bytes = files::read(&path).map_err(|why| match within(folder) {
        Some(inner) => Error::Unfit {
            place: folder.display().to_string(),
            what: "found no results of an audit, but a folder with some in it".to_owned(),
            hint: format!("--since {}", inner.display()),
        },
        None => why,
    })?;
    let input = Input::new(CASES, &bytes);
    Vouched::beside(&path)?.for_table(&path, &input)?;
    let unfit = |what: String, hint: &str| Error::Unfit {
        place: path.display().to_string(),
        what,
        hint: hint.to_owned(),
    };
    let rows: Vec<Row> = serde_json::from_slice(&bytes).map_err(|e| {
        unfit(format!("found no table of cases ({e})"), "name the folder of an earlier audit")
    })?;
    if !rows.is_empty() && !rows.iter().any(|row| site.homes.iter().any(|h| h.name == row.home)) {
        let what = "found homes of another building only, expected those of this site".to_owned();
        let hint =
            "name an earlier audit of the same roster, and the same key where it was made with --pseudonyms";
        return Err(unfit(what, hint));
    }
    let other = rows.iter().filter_map(|row| row.site.as_deref()).find(|name| *name != site.name);
    if let Some(other) = other {
        return Err(unfit(
            format!("found an audit of \"{}\", expected one of \"{}\"", shown(other), shown(&site.name)),
            "name an earlier audit of this site; where the site was renamed since, give it its old name for this run",
        ));
    }
    let of_row = |row: Row| Earlier {
        findings: row.findings.map_or(Vec::new(), |ids| ids.split("; ").map(str::to_owned).collect()),
        rooms: row.rooms.map_or(Vec::new(), |rooms| rooms.split("; ").map(str::to_owned).collect()),
        was_over: row.course == "over",
        home: row.home,
        kind: row.kind,
        sentence: row.sentence,
    };
    Ok((rows.into_iter().map(of_row).collect(), input))
}

/// A folder of results in a folder, by the names that commands propose.
fn within(folder: &Path) -> Option<PathBuf> {
    let inner = ["audit", "out", "results"].map(|name| folder.join(name));
    inner.into_iter().find(|inner| files::read(&inner.join(CASES)).is_ok())
}

/// Rooms that open cases of the earlier audit name and the roster has no more, in homes that it has: renamed, or left out.
fn rooms_gone(site: &Site, earlier: &[Earlier]) -> Option<Note> {
    let gone = |case: &Earlier| {
        let home = site.homes.iter().find(|h| h.name == case.home);
        let known = |room: &String| home.is_none_or(|home| home.rooms.iter().any(|r| r.name == *room));
        let gone: Vec<String> = case.rooms.iter().filter(|room| !known(room)).cloned().collect();
        gone.into_iter().map(|room| format!("{} {room}", case.home)).collect::<Vec<_>>()
    };
    let gone = earlier.iter().filter(|case| !case.was_over).flat_map(gone).collect();
    let hint =
        "where they were renamed, give them the old names for this run; else the same case counts as new";
    no_more(gone, "rooms", "", hint)
}

/// What open cases of the earlier audit name and the roster has no more.
fn no_more(mut gone: Vec<String>, what: &str, rest: &str, hint: &str) -> Option<Note> {
    gone.sort_unstable();
    gone.dedup();
    (!gone.is_empty()).then(|| Note {
        place: "--since".to_owned(),
        line: None,
        what: format!(
            "{what} with open cases in the earlier audit are in the roster no more: {}{rest}",
            gone.join(", ")
        )
        .into(),
        hint: hint.to_owned(),
        unreadable: false,
    })
}

/// Says of each case how it stands to the earlier audit, and notes what that had and the roster has no more.
pub(super) fn held_against(site: &Site, homes: &mut [HomeAudit], earlier: &[Earlier]) -> Vec<Note> {
    told(site, homes, earlier);
    homes_gone(site, earlier).into_iter().chain(rooms_gone(site, earlier)).collect()
}

/// Says of each case how it stands to the earlier audit. A room counts as measured where a logger recorded in it; of an aligned
/// table, which knows no loggers, where the roster has one for it.
fn told(site: &Site, homes: &mut [HomeAudit], earlier: &[Earlier]) {
    for (audit, home) in homes.iter_mut().zip(&site.homes) {
        // No room: any room of the home.
        let own = |room: &str, name: &str| room.is_empty() || room == name;
        let placed = |room: &str| home.rooms.iter().any(|r| own(room, &r.name) && !r.placements.is_empty());
        let loggers = &audit.loggers;
        let recorded = |room: &str| loggers.iter().any(|l| own(room, &l.room) && l.record().is_some());
        // What the record is too short or too thin for was not seen to end.
        let thin = audit
            .criteria
            .iter()
            .any(|c| ["days", "coverage"].contains(&c.kind.id) && c.answer != Answer::Pass);
        let measured = |room: &str| !thin && placed(room) && (loggers.is_empty() || recorded(room));
        cases::since(&audit.name, &audit.judged_period, &mut audit.cases, earlier, measured);
    }
}

/// Homes that the earlier audit had and the roster has no more.
fn homes_gone(site: &Site, earlier: &[Earlier]) -> Option<Note> {
    let known = |name: &str| site.homes.iter().any(|h| h.name == name);
    let open = earlier.iter().filter(|e| !e.was_over && !known(&e.home));
    let gone = open.map(|e| e.home.clone()).collect();
    no_more(
        gone,
        "homes",
        "; nothing is known of them",
        "put their rows back where they were left out by mistake",
    )
}
