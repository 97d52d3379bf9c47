//! Why rows are set aside, held small until all of them are known, and then with their words and texts.

use std::sync::Arc;

use super::Gathering;
use super::notes::{FirstAside, Sums};
use crate::clock::{LocalTime, UtcTime};
use crate::exports::asides::{Pile, SetAsides};
use crate::exports::ledger::Reason;
use crate::exports::rows::Row;
use crate::exports::runs::{Run, Runs};
use crate::exports::sheet::{Sheet, is_blank};

const DAY_MS: i64 = 24 * crate::clock::HOUR_MS;

/// Why a row is set aside. It takes twelve bytes: of a large export every row may have one of its own.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Why {
    BadTime(Said),
    TimeNeverWas(Moment),
    FarOff(Moment),
    BadValue(Said),
    ExactDuplicate(Other),
    ConflictingDuplicate(Other),
    OutsidePlacement,
    SideBySide,
    NotUnderstood,
    OfTwoRooms,
}

/// Words, by their place among those that were said.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Said(u32);

/// A time, in two halves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Moment {
    day: i32,
    ms: u32,
}

impl Moment {
    pub(super) fn from_ms(ms: i64) -> Self {
        Self { day: ms.div_euclid(DAY_MS) as i32, ms: ms.rem_euclid(DAY_MS) as u32 }
    }

    fn ms(self) -> i64 {
        i64::from(self.day) * DAY_MS + i64::from(self.ms)
    }
}

/// The row that has the same time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Other {
    line: u32,
    source: u32,
}

impl From<Row> for Other {
    fn from(row: Row) -> Self {
        Self { line: row.line, source: row.source }
    }
}

impl Why {
    pub(super) fn reason(self) -> Reason {
        match self {
            Why::BadTime(_) => Reason::BadTime,
            Why::TimeNeverWas(_) => Reason::TimeNeverWas,
            Why::FarOff(_) => Reason::FarOff,
            Why::BadValue(_) => Reason::BadValue,
            Why::ExactDuplicate(_) => Reason::ExactDuplicate,
            Why::ConflictingDuplicate(_) => Reason::ConflictingDuplicate,
            Why::OutsidePlacement => Reason::OutsidePlacement,
            Why::SideBySide => Reason::SideBySide,
            Why::NotUnderstood => Reason::NotUnderstood,
            Why::OfTwoRooms => Reason::OfTwoRooms,
        }
    }
}

impl Gathering<'_> {
    /// Keeps words for rows; few different ones are said.
    pub(super) fn said(&mut self, words: &str) -> Said {
        let known = self.said.iter().position(|said| said == words);
        Said(known.unwrap_or_else(|| {
            self.said.push(words.to_owned());
            self.said.len() - 1
        }) as u32)
    }

    /// The rows of a download that were set aside so far.
    pub(super) fn asides_of(&mut self, source: usize) -> &mut Runs<Why> {
        if self.asides.len() <= source {
            self.asides.resize_with(source + 1, Runs::default);
        }
        &mut self.asides[source]
    }

    pub(super) fn never_was(&self, local_ms: i64) -> String {
        format!(
            "{} was skipped in {}, where clocks went forward",
            LocalTime::from_ms(local_ms).show(),
            self.site.zone.name()
        )
    }

    /// Which value, which other row, which clock.
    fn detail(&self, source: usize, why: Why) -> String {
        match why {
            Why::BadTime(Said(at)) | Why::BadValue(Said(at)) => self.said[at as usize].clone(),
            Why::TimeNeverWas(moment) => self.never_was(moment.ms()),
            Why::FarOff(moment) => UtcTime::from_ms(moment.ms()).iso(),
            Why::ExactDuplicate(other) | Why::ConflictingDuplicate(other) => {
                let of = &self.ledgers[other.source as usize].file;
                let file = if other.source as usize == source { String::new() } else { format!(" of {of}") };
                format!("the same time as line {}{file}", other.line)
            }
            Why::OutsidePlacement | Why::SideBySide | Why::NotUnderstood | Why::OfTwoRooms => String::new(),
        }
    }

    /// Fetches the text of each line set aside.
    pub(super) fn texts(&mut self, sheets: &[Option<&Sheet<'_>>]) -> (SetAsides, Sums) {
        let (mut all, mut sums) = (SetAsides::default(), Sums::new());
        let asides = std::mem::take(&mut self.asides);
        for (source, (mut runs, sheet)) in asides.into_iter().zip(sheets).enumerate() {
            runs.sort();
            let Some(sheet) = sheet else { continue };
            let file: Arc<str> = self.ledgers[source].file.as_str().into();
            let (mut pile, mut lines) = (Pile::new(&file), sheet.lines());
            for Run { first, count, what: why } in runs.runs().iter().copied() {
                let (reason, detail) = (why.reason(), self.detail(source, why));
                lines.skip_to(first);
                // A run goes on over blank lines, which are no rows.
                let rows = lines.by_ref().filter(|(_, text)| !is_blank(text)).take(count as usize);
                for (line, text) in rows {
                    pile.push(line, reason, &detail, text);
                    if line == first && reason.worth_a_note() {
                        let first = || FirstAside::new(line, &detail, text);
                        let sum = sums.entry((Arc::clone(&file), reason)).or_insert_with(|| (0, first()));
                        sum.0 += u64::from(count);
                    }
                }
            }
            all.push(pile.finished());
        }
        (all, sums)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_reason_is_small_and_its_time_is_whole() {
        assert_eq!((size_of::<Why>(), size_of::<Run<Why>>()), (12, 20));
        for ms in [0, -1, 1_767_571_200_123, -86_400_000, 253_402_300_799_999] {
            assert_eq!(Moment::from_ms(ms).ms(), ms);
        }
    }
}
