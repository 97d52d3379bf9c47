//! Double claims: roster rows that share a file; what the file holds shows whether two of them take the same readings.
//!
//! Settled here, and why:
//! - **The same readings for two rooms** are used for neither: only what a file holds shows that `3` and `bedroom °C` are
//!   one column, so rows of a shared file are held against each other when it is read (`exports/double_claims.rs`), across homes
//!   too.

use std::collections::BTreeMap;

use super::raw::RawExport;
use super::select::{Selection, select};
use super::wanted::Wanted;
use crate::error::Trouble;
use crate::site::RowOfFile;

/// Of the rows of a file, those that take the readings of another row at the same time: by their lines, with what is wrong.
///
/// `own`: what is wanted here; where the file names loggers, rows of other loggers cannot be in its way.
pub(super) fn taken_twice(
    rows: &[RowOfFile],
    own: &[Wanted<'_>],
    raw: &RawExport<'_>,
) -> BTreeMap<u32, Trouble> {
    let may_meet = |row: &&RowOfFile| {
        raw.loggers.is_none() || own.iter().any(|w| w.logger.eq_ignore_ascii_case(row.logger.own()))
    };
    let selection = |row: &RowOfFile| {
        let wanted = Wanted { column: row.column.as_deref(), logger: row.logger.own() };
        select(&raw.dialect, (&raw.loggers, &raw.quantities), wanted).ok()
    };
    let taken: Vec<(&RowOfFile, Selection)> =
        rows.iter().filter(may_meet).filter_map(|row| Some((row, selection(row)?))).collect();
    let mut twice = BTreeMap::new();
    for (row, selection) in &taken {
        let same = |(other, its): &&(&RowOfFile, Selection)| {
            other.room != row.room && other.span.overlaps(&row.span) && its == selection
        };
        if let Some((other, _)) = taken.iter().find(same) {
            let [first, second] = if row.line < other.line { [*row, *other] } else { [*other, *row] };
            let words = |r: &RowOfFile| format!("line {} ({}, logger {})", r.line, r.room, r.logger.told());
            let what = format!(
                "{} and {} of the roster take the same readings of it, expected a series of its own for each room",
                words(first),
                words(second)
            );
            let hint = "correct `file` or `column` of the row that is wrong; until then neither room has these readings";
            twice.insert(row.line, Trouble::new(what, hint));
        }
    }
    twice
}
