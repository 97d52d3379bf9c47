//! `audit --apply-proposals`: what the records say against the roster is taken as said, and told wherever the numbers go.
//!
//! Settled here, and why:
//! - **The records are read twice**: what is proposed rests on all loggers of a home, and what is corrected changes what they say of
//!   each other. What only shows once the first corrections are made is told as a finding, and not applied.
//! - **Never by itself**: without the option nothing is applied, and with it each correction is a note: on the terminal, in the report,
//!   in provenance.json.

use std::path::Path;

use super::again::again;
use super::threads::Threads;
use crate::error::{Note, Result};
use crate::findings::{Proposal, proposals};
use crate::site::Site;

/// The site with all that its own records propose, and a note of each correction.
pub(super) fn applied(site: &Site, site_path: &Path, threads: &Threads) -> Result<(Site, Vec<Note>)> {
    let homes = again(site, site_path, None, threads)?;
    let of_home = |(home, audit)| proposals(site, home, audit);
    let all: Vec<Proposal> =
        site.homes.iter().zip(homes.iter().map(|h| h.loggers.as_slice())).flat_map(of_home).collect();
    let corrected = all.iter().fold(site.clone(), |site, proposal| proposal.applied(&site));
    Ok((corrected, all.iter().map(|proposal| note(site, proposal)).collect()))
}

fn note(site: &Site, proposal: &Proposal) -> Note {
    let Proposal { home, room, logger, rule, .. } = proposal;
    Note {
        place: format!("{home} {room}"),
        line: None,
        what: format!(
            "applied to logger {logger}, as its record proposes ({rule}): {}; all numbers rest on it",
            proposal.cells(site)
        )
        .into(),
        hint: "to keep it, write it into the roster; without --apply-proposals nothing of the kind is done"
            .to_owned(),
        unreadable: false,
    }
}

/// Every correction that was made, for the terminal.
pub(super) fn told(corrections: &[Note]) -> String {
    let one = |note: &Note| format!("\n  {}: {}", note.place, note.what.told());
    match corrections {
        [] => "--apply-proposals: no record proposes a correction of the roster.".to_owned(),
        some => format!(
            "Applied, as the records propose ({}):{}",
            some.len(),
            some.iter().map(one).collect::<String>()
        ),
    }
}
