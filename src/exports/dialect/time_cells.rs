//! The cells of a row that hold its time.

use super::super::times::{self, Fields};

/// Where the time stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::exports) enum TimeCells {
    /// Date and time in one cell.
    One(usize),
    /// Date and time in cells of their own, AM or PM perhaps in a third.
    Apart {
        /// The cell with the date.
        date: usize,
        /// The cell with the time.
        time: usize,
        /// The cell with AM or PM.
        half: Option<usize>,
    },
}

impl TimeCells {
    pub(in crate::exports) fn read(self, cells: &[&str]) -> Option<Fields> {
        match self {
            TimeCells::One(at) => times::parse(cells.get(at)?),
            TimeCells::Apart { date, time, half } => {
                let half = half.map_or(Some(""), |h| cells.get(h).copied())?;
                times::parse_apart(cells.get(date)?, cells.get(time)?, half)
            }
        }
    }

    /// The text of its first cell.
    pub(in crate::exports) fn first<'t>(self, cells: &[&'t str]) -> Option<&'t str> {
        cells.get(self.column()).copied()
    }

    pub(in crate::exports) fn column(self) -> usize {
        match self {
            TimeCells::One(at) => at,
            TimeCells::Apart { date, .. } => date,
        }
    }

    pub(in crate::exports) fn holds(self, column: usize) -> bool {
        match self {
            TimeCells::One(at) => column == at,
            TimeCells::Apart { date, time, half } => column == date || column == time || half == Some(column),
        }
    }
}
