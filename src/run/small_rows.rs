//! The rows of the tables that do not grow with the record, once all homes are judged.

use crate::audit::Audit;
use crate::error::Result;
use crate::tables::{self, Cell, Table};

/// Rows of a table, one after another.
pub(super) type Rows<'r, 'a> = &'r mut dyn Iterator<Item = Vec<Cell<'a>>>;

/// Hands on the rows of each of these tables: cases, acceptance, findings, what was not judged, loggers (where exports were read),
/// rooms.
///
/// # Errors
/// The first of what they are handed on to.
pub(super) fn small_rows<'a>(
    audit: &'a Audit,
    mut hand_on: impl FnMut(&'static Table, Rows<'_, 'a>) -> Result<()>,
) -> Result<()> {
    let site = &audit.site.name;
    let all = || audit.outdoor.iter().chain(&audit.homes);
    let cases = audit.homes.iter().flat_map(|h| &h.cases);
    hand_on(&tables::CASES, &mut cases.map(|c| tables::case_cells(site, c)))?;
    let standings = audit.homes.iter().map(|h| (h, h.standing()));
    let criteria = standings.flat_map(|(h, standing)| h.criteria.iter().map(move |c| (c, standing)));
    let mut criteria = criteria.map(|(c, standing)| tables::criterion_cells(site, c, standing));
    hand_on(&tables::ACCEPTANCE, &mut criteria)?;
    let findings = all().flat_map(|h| &h.findings);
    hand_on(&tables::FINDINGS, &mut findings.map(|f| tables::finding_cells(site, f)))?;
    let open = all().flat_map(|h| &h.not_judged);
    hand_on(&tables::NOT_JUDGED, &mut open.map(|o| tables::not_judged_cells(site, o)))?;
    if !audit.from_aligned {
        let loggers = all().flat_map(|h| &h.loggers);
        hand_on(&tables::LOGGERS, &mut loggers.map(|l| tables::logger_cells(site, l)))?;
    }
    let rooms = audit.site.homes.iter().flat_map(|home| home.rooms.iter().map(move |room| (home, room)));
    hand_on(&tables::ROOMS, &mut rooms.map(|(home, room)| tables::room_cells(site, home, room)))
}
