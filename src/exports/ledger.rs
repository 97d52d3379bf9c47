//! Every row of every export, accounted for.

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::error::{Error, Result};
use crate::texts::Words;

/// Why a row was set aside.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Reason {
    /// The time cannot be read.
    BadTime,
    /// The local time does not exist: clocks were set forward over it.
    TimeNeverWas,
    /// The time lies far from the rest of the record: a clock that was reset, or not yet set.
    FarOff,
    /// The value cannot be read.
    BadValue,
    /// The same time and value as an earlier row.
    ExactDuplicate,
    /// The same time as another row, with another value.
    ConflictingDuplicate,
    /// Before or after the logger stood in this room.
    OutsidePlacement,
    /// While all loggers lay side by side.
    SideBySide,
    /// Its export could not be understood as a whole: a note says why.
    NotUnderstood,
    /// The roster gives it to two rooms at a time.
    OfTwoRooms,
}

impl Reason {
    /// All reasons.
    pub const ALL: [Reason; 10] = [
        Reason::BadTime,
        Reason::TimeNeverWas,
        Reason::FarOff,
        Reason::BadValue,
        Reason::ExactDuplicate,
        Reason::ConflictingDuplicate,
        Reason::OutsidePlacement,
        Reason::SideBySide,
        Reason::NotUnderstood,
        Reason::OfTwoRooms,
    ];

    /// The words in tables.
    pub const fn words(self) -> &'static str {
        match self {
            Reason::BadTime => "bad timestamp",
            Reason::TimeNeverWas => "time does not exist",
            Reason::FarOff => "time far from the record",
            Reason::BadValue => "bad value",
            Reason::ExactDuplicate => "exact duplicate",
            Reason::ConflictingDuplicate => "conflicting duplicate",
            Reason::OutsidePlacement => "outside placement dates",
            Reason::SideBySide => "side-by-side check",
            Reason::NotUnderstood => "export not understood",
            Reason::OfTwoRooms => "given to two rooms",
        }
    }

    /// Whether the row was lost to the audit because it could not be understood.
    pub const fn unreadable(self) -> bool {
        use Reason::{BadTime, BadValue, FarOff, NotUnderstood, TimeNeverWas};
        matches!(self, BadTime | TimeNeverWas | FarOff | BadValue | NotUnderstood)
    }

    /// Whether a person should hear of its rows: of those that could not be understood, or that contradict each other.
    ///
    /// A file that could not be understood has a note as a whole, and a time that never was has one that tells more.
    pub const fn worth_a_note(self) -> bool {
        matches!(self, Reason::BadTime | Reason::FarOff | Reason::BadValue | Reason::ConflictingDuplicate)
    }
}

/// A row set aside.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct SetAside {
    /// The export.
    pub file: Arc<str>,
    /// Line, from 1.
    pub line: u32,
    /// Why.
    pub reason: Reason,
    /// Which value, which other row, which clock.
    pub detail: Words,
    /// The line as it stands in the file, cut at 200 characters.
    pub text: String,
    /// The rooms that lost it, in the order of the roster; empty for the weather.
    pub rooms: Arc<str>,
    /// How many series lost it: the sum over all rows is what the books have.
    pub times: u32,
}

/// The count of one export's rows, for one series.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Ledger {
    /// The export.
    pub file: String,
    /// Preamble and header lines, those too that came again in the middle.
    pub header_lines: u64,
    /// Lines with nothing on them.
    pub blank_lines: u64,
    /// Data rows of other loggers in the same file.
    pub other_loggers: u64,
    /// Data rows of this series; every line that is not blank of a file that could not be understood.
    pub seen: u64,
    /// Data rows that became readings (with or without a value).
    pub kept: u64,
    /// Data rows set aside, by reason.
    pub set_aside: BTreeMap<Reason, u64>,
}

impl Ledger {
    /// Data rows set aside for any reason.
    pub fn set_aside_total(&self) -> u64 {
        self.set_aside.values().sum()
    }

    /// Lines of the file.
    pub fn lines(&self) -> u64 {
        self.header_lines + self.blank_lines + self.other_loggers + self.seen
    }

    /// Counts more rows set aside.
    pub fn put_aside(&mut self, reason: Reason, rows: u64) {
        *self.set_aside.entry(reason).or_default() += rows;
    }

    /// Proves that the rows add up.
    ///
    /// # Errors
    /// [`Error::Imbalance`]: a bug, and the run must stop.
    pub fn balance(&self) -> Result<()> {
        let accounted = self.kept + self.set_aside_total();
        if self.seen == accounted {
            return Ok(());
        }
        Err(Error::Imbalance { file: self.file.clone(), seen: self.seen, accounted })
    }
}
