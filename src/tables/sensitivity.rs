//! The table of what turns where one setting is another: verdicts and criteria of an audit beside those of the same records.

use super::declared::{HOME, MAYBE_ROOM, PERIOD, SITE, column};
use super::rows::{maybe_text, text};
use super::{Cell, Format, Kind, Table};

/// A verdict of a home under one change of one setting.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Varied {
    /// The setting, as its path in the site file (`accuracy_k`: the column of the roster).
    pub setting: &'static str,
    /// What is in force.
    pub in_force: String,
    /// What it was changed to.
    pub changed_to: String,
    /// The home.
    pub home: String,
    /// The room; `None`: the home as a whole.
    pub room: Option<String>,
    /// The period.
    pub period: String,
    /// What was judged.
    pub verdict: &'static str,
    /// What the audit says.
    pub as_audited: String,
    /// What it says with the change.
    pub changed: String,
}

/// What turns.
pub static SENSITIVITY: Table = Table {
    name: "sensitivity",
    about: "with --sensitivity: each verdict and criterion of each home, once for each change of one setting, all others as they are: how far what was decided hangs on a setting",
    columns: &[
        SITE,
        HOME,
        MAYBE_ROOM,
        PERIOD,
        column(
            "setting",
            Kind::Word,
            "the setting that was changed, as its path in the site file; accuracy_k: every accuracy of the roster, stated or not",
        ),
        column("in_force", Kind::Word, "what it is in the audit"),
        column("changed_to", Kind::Word, "what it was changed to"),
        column(
            "verdict",
            Kind::Word,
            "what was judged: standing (of the home), evenness_verdict (of a room), or the name of a criterion",
        ),
        column("as_audited", Kind::Word, "what the audit says; `none`: it has no such verdict"),
        column("changed", Kind::Word, "what it says with the change"),
        column("turned", Kind::YesNo, "whether the two differ"),
    ],
    // A Parquet table is never removed by a run that does not make it, and this one goes with the next audit.
    formats: &[Format::Csv],
    sorted_by: &[],
};

/// A row of the table.
pub fn sensitivity_cells<'a>(site: &'a str, row: &'a Varied) -> Vec<Cell<'a>> {
    vec![
        text(site),
        text(&row.home),
        maybe_text(row.room.as_deref()),
        text(&row.period),
        text(row.setting),
        text(&row.in_force),
        text(&row.changed_to),
        text(row.verdict),
        text(&row.as_audited),
        text(&row.changed),
        Cell::YesNo(row.as_audited != row.changed),
    ]
}
