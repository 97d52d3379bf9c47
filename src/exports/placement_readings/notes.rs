//! What a person must know of a download: its clock, its shape, its marks, and what was set aside.

use std::borrow::Cow;
use std::collections::BTreeMap;
use std::sync::Arc;

use super::{FAR_OFF_MS, Gathering, HALF_YEAR_MS};
use crate::clock::{Clock, LocalTime, UtcTime, show_offset};
use crate::error::Note;
use crate::exports::clock_drift::ends_ms;
use crate::exports::ledger::{Ledger, Reason};
use crate::exports::local_to_utc::{self, Instants, Pass};
use crate::exports::raw::RawExport;
use crate::exports::rows::Row;
use crate::exports::series::Series;
use crate::site::Source;
use crate::texts::{Words, about_cell, name};

impl Gathering<'_> {
    pub(super) fn note(
        &mut self,
        place: &str,
        line: Option<u32>,
        what: impl Into<Words>,
        hint: &str,
        unreadable: bool,
    ) {
        let (place, what, hint) = (place.to_owned(), what.into(), hint.to_owned());
        self.notes.push(Note { place, line, what, hint, unreadable });
    }

    fn follows_daylight_saving(&self, series: &Series) -> bool {
        let zone = self.site.zone;
        let offset = |t: Option<&i64>| t.map(|t| zone.offset_s(LocalTime::from_ms(*t).at_offset(0)));
        // Offsets alike at both ends: at most a whole summer or winter lies between, and the walk is worth it only then.
        let long = series
            .times_ms
            .last()
            .zip(series.times_ms.first())
            .is_some_and(|(b, a)| (b - a).abs() > HALF_YEAR_MS);
        let spans_a_change = offset(series.times_ms.first()) != offset(series.times_ms.last()) || long;
        spans_a_change
            && local_to_utc::clock_habit(series.times_ms.iter().copied(), zone).as_deref() == Some("civil")
    }

    /// Two exports in one file, or a record in two parts.
    pub(super) fn note_shape(&mut self, source: &Source, raw: &RawExport<'_>) {
        if let Some(letters) =
            raw.dialect.zone_letters.as_ref().filter(|_| raw.dialect.stated_clock().is_none())
        {
            let what = format!(
                "the export states its time zone as {}, and such letters are not unique: the roster's or the site's clock was followed",
                name(letters)
            );
            let hint = "check `clock`: \"fixed -06:00\" keeps one offset all year, \"civil\" follows daylight saving";
            self.note(source.file.told(), None, what, hint, false);
        }
        if let Some(line) = raw.other_from {
            let what = "from here on another header or preamble holds: two exports seem to be glued together, and what follows was set aside".to_owned();
            self.note(
                source.file.told(),
                Some(line),
                what,
                "split the file, and name both parts in the roster",
                true,
            );
        }
        if let Some((before, after)) = self.longest_hole() {
            let what = format!(
                "nothing was recorded between {} and {}: a clock that was reset looks like this",
                before.iso(),
                after.iso()
            );
            let hint = "check the dates of the record; `from` and `to` in the roster leave a part out";
            self.note(source.file.told(), None, what, hint, false);
        }
    }

    pub(super) fn note_marks(&mut self, source: &Source, series: &Series) {
        for (mark, count) in &series.marks {
            let what = format!("the value {mark} stands for \"no data\" and was taken so, {count} times");
            self.note(
                source.file.told(),
                None,
                what,
                "nothing to do, unless the logger really read this",
                false,
            );
        }
    }

    pub(super) fn note_clock(
        &mut self,
        source: &Source,
        raw: &RawExport<'_>,
        series: &Series,
        instants: &Instants<'_>,
    ) {
        let file = source.file.told();
        if let (Some(stated), Some(set)) = (raw.dialect.stated_clock(), source.clock)
            && !raw.dialect.times_in_utc
            && raw.dialect.stated_clocks.iter().all(|(other, _)| *other == stated)
            && self.site.clock_of(Some(set)) != stated.clock()
        {
            let what = format!(
                "the export states its clock as {}, the roster says {}; the export was followed",
                stated.clock().show(),
                self.site.clock_of(Some(set)).show()
            );
            self.note(file, None, what, "correct `clock` in the roster", false);
        }
        let open = !raw.dialect.times_in_utc && raw.dialect.stated_clock().is_none();
        if open && source.clock.is_none() && self.site.clock.is_none() {
            let what = format!("no clock is stated; civil time of {} was taken", self.site.zone.name());
            let hint = "state `clock` in the site file or the roster: civil follows daylight saving, \"fixed -05:00\" does not";
            self.note(file, None, what, hint, false);
        }
        if open
            && matches!(self.site.clock_of(source.clock), Clock::Fixed(_))
            && self.follows_daylight_saving(series)
        {
            let what = "the clock is set to a fixed offset, but the record runs like one that follows daylight saving".to_owned();
            self.note(
                file,
                None,
                what,
                "check the logger's clock setting; `clock = \"civil\"` follows daylight saving",
                false,
            );
        }
        if let Some((row, pass)) = instants.single_pass {
            let taken = match pass {
                Pass::First => "the first pass (daylight time)",
                Pass::Second => {
                    "the second pass (standard time), from which the record runs on without a hole"
                }
            };
            let what = format!(
                "the hour that came twice in {} is in the file once; it was taken as {taken}",
                self.site.zone.name()
            );
            let hint = "if this logger keeps standard time all year, set its clock to the fixed offset";
            self.note(file, Some(series.lines[row]), what, hint, false);
        }
        if let [row, ..] = *instants.never() {
            let count = instants.never().len();
            let before =
                LocalTime::from_ms(series.times_ms[row]).at_offset(0).plus_ms(-12 * crate::clock::HOUR_MS);
            let what = format!(
                "{count} rows with a local time that never was: {}; they were set aside",
                self.never_was(series.times_ms[row])
            );
            let standard = show_offset(self.site.zone.offset_s(before));
            let hint =
                format!("if this logger keeps standard time all year, set its clock to \"fixed {standard}\"");
            self.note(file, Some(series.lines[row]), what, &hint, true);
        }
    }

    /// A record in parts that lie years apart; `ends`: the last row of one and the first of the next.
    pub(super) fn note_torn(&mut self, [before, after]: [Row; 2]) {
        let file = self.ledgers[after.source as usize].file.clone();
        let [from, to] = [before, after].map(|row| UtcTime::from_ms(row.t).iso());
        let what = format!(
            "the record is torn: it ends at {from} and goes on at {to}, more than three years later; a clock that lost its time writes so, nobody can tell which part is right, and all of it was set aside"
        );
        let hint = "state `from` and `to` of the right part in the roster; until then it has no readings";
        self.note(&file, Some(after.line), what, hint, true);
    }

    /// A time without readings that is longer than anybody plans; a few rows far off are set aside later.
    fn longest_hole(&self) -> Option<(UtcTime, UtcTime)> {
        // A record that is shorter as a whole needs no sorting to know.
        let (first, last) = ends_ms(self.rows.times_ms.iter().copied());
        if last <= first.saturating_add(FAR_OFF_MS) {
            return None;
        }
        let mut times = Cow::Borrowed(&self.rows.times_ms);
        if !times.is_sorted() {
            times.to_mut().sort_unstable();
        }
        let hole = times.windows(2).max_by_key(|w| w[1] - w[0]).filter(|w| w[1] - w[0] > FAR_OFF_MS)?;
        Some((UtcTime::from_ms(hole[0]), UtcTime::from_ms(hole[1])))
    }

    /// A quarter of a file's rows at the time of another row, or more: that is no stray copy.
    pub(super) fn note_shared_times(&mut self) {
        let of = |ledger: &Ledger| {
            ledger.set_aside.get(&Reason::ConflictingDuplicate).copied().unwrap_or_default()
        };
        let most: Vec<(String, u64, u64)> = self
            .ledgers
            .iter()
            .map(|ledger| (ledger.file.clone(), of(ledger), ledger.seen))
            .filter(|(_, conflicting, seen)| conflicting * 4 > *seen)
            .collect();
        for (file, conflicting, seen) in most {
            let what = format!(
                "{conflicting} of {seen} rows share their time with a row that says something else, and were set aside: times without seconds look like this, or two series read as one"
            );
            let hint = "export with seconds in the times; of two series name each one's `column` or `logger`";
            self.note(&file, None, what, hint, true);
        }
    }
}

/// Counts rows by file and reason, and keeps the first of each.
pub(super) type Sums = BTreeMap<(Arc<str>, Reason), (u64, FirstAside)>;

/// The first row that was set aside for a reason.
pub(super) struct FirstAside {
    line: u32,
    detail: Words,
    text: String,
}

impl FirstAside {
    pub(super) fn new(line: u32, detail: &str, text: &str) -> Self {
        Self { line, detail: detail.into(), text: cut(text, 60) }
    }
}

/// One note per file and reason for rows that could not be understood.
pub(super) fn sum_up(sums: Sums) -> Vec<Note> {
    let note = |((file, reason), (count, first)): ((Arc<str>, Reason), (u64, FirstAside))| {
        let detail = match first.detail.is_empty() {
            true => String::new(),
            false => format!(" ({})", first.detail.marked()),
        };
        let reads = if count == 1 { "it reads" } else { "the first is" };
        let reads = about_cell(&format!("; {reads} \"{}\"", first.text));
        Note {
            place: file.to_string(),
            line: Some(first.line),
            what: format!(
                "{} set aside: {}{detail}{reads}",
                if count == 1 { "1 row".to_owned() } else { format!("{count} rows") },
                reason.words(),
            )
            .into(),
            hint: "all of them are in set_aside.parquet; correct the export where they matter".to_owned(),
            unreadable: reason.unreadable(),
        }
    };
    sums.into_iter().map(note).collect()
}

/// A text of at most so many letters; an ellipsis stands for what was left out.
fn cut(text: &str, most: usize) -> String {
    match text.char_indices().nth(most) {
        Some((end, _)) => format!("{}…", &text[..end]),
        None => text.to_owned(),
    }
}
