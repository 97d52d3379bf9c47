//! Rows as written → readings: clocks, units, placements, duplicates, and the books.

mod notes;

use std::ops::Range;
use std::sync::Arc;

use super::clock_drift::{ClockDrift, ends_ms};
use super::contradictions::{SettledClock, settle_clock};
use super::instants::{self, Instants};
use super::ledger::{Ledger, Reason, SetAside};
use super::raw::{RawExport, Series};
use super::readings::{Opened, Readings};
use super::rows::{Row, Rows};
use super::same_time::several_at_once;
use super::sheet::{Sheet, is_blank};
use super::unit::{Role, settle_unit};
use super::words::WordsRead;
use crate::clock::{LocalTime, Span, UtcTime};
use crate::error::{Note, Result, Trouble};
use crate::site::{Colocation, Placement, Site, Source};
use crate::units::TemperatureUnit;
use notes::sum_up;

/// Rows further than this from all others are far off, when they are fewer than one in [`FEW`].
const FAR_OFF_MS: i64 = 180 * 24 * crate::clock::HOUR_MS;
const FEW: usize = 20;
/// Between a clock that lost its time and the right one lie years.
const YEARS_LATER_MS: i64 = 3 * 365 * 24 * crate::clock::HOUR_MS;
/// A record this long spans a change of daylight saving, where there is any.
const HALF_YEAR_MS: i64 = 182 * 24 * crate::clock::HOUR_MS;

/// Gathers the rows of one placement's downloads.
pub(super) struct Gathering<'a> {
    site: &'a Site,
    role: Role,
    /// Rows outside are set aside.
    keep: Span,
    /// Rows inside are set aside: all loggers lay side by side.
    side_by_side: Option<Span>,
    rows: Rows,
    ledgers: Vec<Ledger>,
    asides: Vec<(usize, u32, Reason, String)>,
    words: WordsRead,
    notes: Vec<Note>,
    clock: String,
}

impl<'a> Gathering<'a> {
    pub(super) fn new(
        site: &'a Site,
        role: Role,
        placement: Option<&Placement>,
        for_colocation: bool,
    ) -> Self {
        // The weather did not lie in the box with the loggers.
        let (keep, side_by_side) = match (placement.and_then(|p| site.side_by_side(p)), for_colocation) {
            (Some(window), true) => (site.colocation.as_ref().map_or(window, Colocation::around), None),
            (window, _) => (placement.map_or(Span::ALWAYS, |p| p.span), window),
        };
        Self {
            site,
            role,
            keep,
            side_by_side,
            rows: Rows::default(),
            ledgers: Vec::new(),
            asides: Vec::new(),
            words: WordsRead::default(),
            notes: Vec::new(),
            clock: String::new(),
        }
    }

    /// A download that could not be understood as a whole: each of its lines is set aside, where it has lines.
    pub(super) fn not_understood(&mut self, source: &Source, trouble: &Trouble, sheet: Option<&Sheet<'_>>) {
        // The lines of a file that several rooms share stand in the books of the first of them.
        let first = self.site.rows_of_shared(source.file.own()).iter().map(|row| row.line).min();
        let sheet = sheet.filter(|_| first.is_none() || source.line == first);
        let lines = || sheet.iter().flat_map(|sheet| sheet.lines());
        let blank_lines = lines().filter(|(_, text)| is_blank(text)).count() as u64;
        let ledger = Ledger { file: source.file.told().to_owned(), blank_lines, ..Ledger::default() };
        let lines = lines().filter(|(_, text)| !is_blank(text)).map(|(number, _)| number);
        self.give_up(source, trouble, ledger, (Reason::NotUnderstood, lines));
    }

    /// A download with no series for this logger; its rows are those of others where it names loggers or rooms share it.
    pub(super) fn no_series(&mut self, source: &Source, trouble: &Trouble, raw: &RawExport<'_>) {
        let of_others = raw.loggers.is_some() || !self.site.rows_of_shared(source.file.own()).is_empty();
        let from = raw.dialect.first_data_line;
        let lines: Vec<u32> = raw
            .sheet
            .lines()
            .filter(|(number, text)| *number >= from && !is_blank(text) && !of_others)
            .map(|(number, _)| number)
            .collect();
        let books = books(source, raw);
        let ledger = match of_others {
            true => Ledger { other_loggers: raw.data_lines, ..books },
            // Headers that come again are set aside here with the rows.
            false => {
                Ledger { header_lines: books.header_lines + raw.data_lines - lines.len() as u64, ..books }
            }
        };
        self.give_up(source, trouble, ledger, (Reason::NotUnderstood, lines));
    }

    /// A series that the roster gives to another room too.
    pub(super) fn of_two_rooms(
        &mut self,
        source: &Source,
        trouble: &Trouble,
        raw: &RawExport<'_>,
        series: &Series,
    ) {
        let other_loggers = raw.data_lines - series.rows_seen();
        let ledger = Ledger { other_loggers, ..books(source, raw) };
        self.give_up(source, trouble, ledger, (Reason::OfTwoRooms, series.all_lines()));
    }

    /// Sets all rows of a download aside, and says why.
    fn give_up(
        &mut self,
        source: &Source,
        trouble: &Trouble,
        mut ledger: Ledger,
        (reason, lines): (Reason, impl IntoIterator<Item = u32>),
    ) {
        let index = self.ledgers.len();
        lines.into_iter().for_each(|line| self.aside(index, &mut ledger, line, reason, String::new()));
        ledger.seen = ledger.set_aside_total();
        self.ledgers.push(ledger);
        self.note(source.file.told(), trouble.line, trouble.what.clone(), &trouble.hint, true);
    }

    /// Adds one series of one download.
    pub(super) fn add(&mut self, source: &Source, raw: &RawExport<'_>, series: &Series) {
        let (seen, other_loggers) = (series.rows_seen(), raw.data_lines - series.rows_seen());
        let mut ledger = Ledger { seen, other_loggers, ..books(source, raw) };
        let unit = match settle_unit(source, series, self.role) {
            Ok((unit, note)) => {
                self.notes.extend(note);
                unit
            }
            Err(trouble) => {
                return self.give_up(source, &trouble, ledger, (Reason::NotUnderstood, series.all_lines()));
            }
        };
        let index = self.ledgers.len();
        let clock = match settle_clock(self.site, source, &raw.dialect, &series.times_ms) {
            Ok(SettledClock { clock, shown, note }) => {
                self.notes.extend(note);
                self.clock = shown;
                clock
            }
            Err(trouble) => {
                return self.give_up(source, &trouble, ledger, (Reason::NotUnderstood, series.all_lines()));
            }
        };
        let instants = instants::resolve(&series.times_ms, &clock);
        for (line, why) in &series.bad_times {
            self.aside(index, &mut ledger, *line, Reason::BadTime, (*why).to_owned());
        }
        let drift = ClockDrift::new(source.clock_fast_s, &instants);
        match instants.all_ms().filter(|ms| series.bad_values.is_empty() && self.keeps_all(ms, &drift)) {
            Some(times_ms) => {
                let degc = series.values.iter().map(|x| unit.temperature(*x).degc());
                self.rows.extend(index as u32, times_ms, degc, &series.humidity, &series.lines);
                ledger.kept += times_ms.len() as u64;
            }
            None => self.row_by_row(index, &mut ledger, series, (unit, &instants, &drift)),
        }
        self.note_clock(source, raw, series, &ledger, &instants);
        self.note_marks(source, series);
        self.note_shape(source, raw);
        self.ledgers.push(ledger);
    }

    /// Whether no time has to be moved, and none lies where rows are set aside.
    fn keeps_all(&self, times_ms: &[i64], drift: &ClockDrift) -> bool {
        let (first, last) = ends_ms(times_ms.iter().copied());
        let ends = [first, last].map(UtcTime::from_ms);
        let side_by_side = self.side_by_side.is_some_and(|s| s.from <= ends[1] && ends[0] < s.to);
        !drift.moves()
            && !side_by_side
            && (times_ms.is_empty() || ends.iter().all(|t| self.keep.contains(*t)))
    }

    /// Adds each row, or sets it aside.
    fn row_by_row(
        &mut self,
        index: usize,
        ledger: &mut Ledger,
        series: &Series,
        (unit, instants, drift): (TemperatureUnit, &Instants<'_>, &ClockDrift),
    ) {
        let mut bad = series.bad_values.iter().copied().peekable();
        let mut words = series.words.iter().copied().peekable();
        self.rows.reserve(series.values.len());
        for (i, (instant, value)) in instants.iter().zip(&series.values).enumerate() {
            let line = series.lines[i];
            let bad_value = bad.next_if(|(row, _)| *row == i);
            let word = words.next_if(|(row, _)| *row == i);
            let Some(t) = instant else {
                let detail = self.never_was(series.times_ms[i]);
                self.aside(index, ledger, line, Reason::TimeNeverWas, detail);
                continue;
            };
            let t = drift.corrected(t);
            if let Some((_, why)) = bad_value {
                let detail = series.bad_value_words(why);
                self.aside(index, ledger, line, Reason::BadValue, detail);
                let in_its_room = self.keep.contains(t) && !self.side_by_side.is_some_and(|s| s.contains(t));
                if let Some((_, said)) = word.filter(|_| in_its_room) {
                    self.words.push(t, said);
                }
            } else if !self.keep.contains(t) {
                self.aside(index, ledger, line, Reason::OutsidePlacement, String::new());
            } else if self.side_by_side.is_some_and(|s| s.contains(t)) {
                self.aside(index, ledger, line, Reason::SideBySide, String::new());
            } else {
                let humidity = series.humidity.get(i).copied().unwrap_or(f64::NAN);
                let x = unit.temperature(*value).degc();
                self.rows.push(Row { t: t.ms(), x, humidity, line, source: index as u32 });
                ledger.kept += 1;
            }
        }
    }

    fn aside(&mut self, source: usize, ledger: &mut Ledger, line: u32, reason: Reason, detail: String) {
        ledger.put_aside(reason);
        self.asides.push((source, line, reason, detail));
    }

    fn never_was(&self, local_ms: i64) -> String {
        format!(
            "{} was skipped in {}, where clocks went forward",
            LocalTime::from_ms(local_ms).show(),
            self.site.zone.name()
        )
    }

    /// Sorts, removes what stands twice, and closes the books.
    ///
    /// # Errors
    /// [`crate::error::Error::Imbalance`] where the rows do not add up.
    pub(super) fn finish(mut self, sheets: &[Option<&Sheet<'_>>]) -> Result<Opened> {
        self.rows.sort();
        self.set_far_off_aside();
        self.resolve_duplicates();
        self.note_shared_times();
        for ledger in &self.ledgers {
            ledger.balance()?;
        }
        self.words.sort();
        let set_aside = self.texts(sheets);
        self.notes.extend(sum_up(&set_aside));
        Ok(Opened {
            readings: Readings::from_rows(self.rows),
            ledgers: self.ledgers,
            set_aside,
            words: self.words,
            notes: self.notes,
            clock: self.clock,
        })
    }

    /// A few rows months away from all others were written by a clock that was reset, or not yet set.
    ///
    /// A record in two parts of like size is left as it is: nobody can tell which part is right. But a part that begins on
    /// the first day of a year, years before the next, was written by a clock that lost its time.
    fn set_far_off_aside(&mut self) {
        let times = &self.rows.times_ms;
        let short = times.first().zip(times.last()).is_none_or(|(first, last)| last - first <= FAR_OFF_MS);
        if short || times.windows(2).all(|w| w[1] - w[0] <= FAR_OFF_MS) {
            return;
        }
        let parts: Vec<Range<usize>> = self.rows.parts(|a, b| b - a <= FAR_OFF_MS).collect();
        let most = parts.iter().map(Range::len).max().unwrap_or(0);
        let was_reset = |part: &Range<usize>| {
            let next = times.get(part.end).copied().unwrap_or(i64::MIN);
            next.saturating_sub(times[part.end - 1]) > YEARS_LATER_MS && self.begins_a_year(times[part.start])
        };
        let is_far = |part: &Range<usize>| part.len() * FEW < most || was_reset(part);
        let far: Vec<usize> = parts.into_iter().filter(is_far).flatten().collect();
        for i in &far {
            let row = self.rows.row(*i);
            self.put_aside(row, Reason::FarOff, UtcTime::from_ms(row.t).iso());
        }
        self.rows.take_out(&far);
    }

    /// Whether a clock that starts anew could have started so: on a first of January, its own or that of UTC.
    fn begins_a_year(&self, utc_ms: i64) -> bool {
        let utc = UtcTime::from_ms(utc_ms);
        [LocalTime::from_ms(utc_ms), self.site.zone.local(utc)].iter().any(|t| t.show().contains("-01-01 "))
    }

    /// Sets a row aside that was kept so far.
    fn put_aside(&mut self, row: Row, reason: Reason, detail: String) {
        let source = row.source as usize;
        self.ledgers[source].kept -= 1;
        self.ledgers[source].put_aside(reason);
        self.asides.push((source, row.line, reason, detail));
    }

    /// Rows with equal times: equal values collapse into the first, different ones are all set aside.
    fn resolve_duplicates(&mut self) {
        let mut out = Vec::new();
        for places in several_at_once(&self.rows.times_ms) {
            let same: Vec<Row> = places.clone().map(|i| self.rows.row(i)).collect();
            let mut values = same.iter().filter(|r| !r.x.is_nan());
            let kept = *values.next().unwrap_or(&same[0]);
            let conflict = values.any(|r| r.x.total_cmp(&kept.x).is_ne());
            for (place, row) in places.zip(&same) {
                if !conflict && (row.line, row.source) == (kept.line, kept.source) {
                    continue;
                }
                let other =
                    same.iter().find(|o| (o.line, o.source) != (row.line, row.source)).unwrap_or(&kept);
                let of = &self.ledgers[other.source as usize].file;
                let file = if other.source == row.source { String::new() } else { format!(" of {of}") };
                let reason = if conflict && !row.x.is_nan() {
                    Reason::ConflictingDuplicate
                } else {
                    Reason::ExactDuplicate
                };
                self.put_aside(*row, reason, format!("the same time as line {}{file}", other.line));
                out.push(place);
            }
        }
        self.rows.take_out(&out);
    }

    /// Fetches the text of each line set aside.
    fn texts(&mut self, sheets: &[Option<&Sheet<'_>>]) -> Vec<SetAside> {
        let mut asides = std::mem::take(&mut self.asides);
        asides.sort_by_key(|(source, line, reason, _)| (*source, *line, *reason));
        let mut texts: Vec<&str> = Vec::with_capacity(asides.len());
        for of_one in asides.chunk_by(|a, b| a.0 == b.0) {
            let lines: Vec<u32> = of_one.iter().map(|a| a.1).collect();
            let sheet = sheets.get(of_one[0].0).copied().flatten();
            texts.extend(sheet.map(|sheet| sheet.pick(&lines)).unwrap_or_default());
        }
        let (files, nobody): (Vec<Arc<str>>, Arc<str>) =
            (self.ledgers.iter().map(|ledger| ledger.file.as_str().into()).collect(), "".into());
        let row = |((source, line, reason, detail), text): ((usize, u32, Reason, String), &str)| SetAside {
            file: Arc::clone(&files[source]),
            line,
            reason,
            detail: detail.into(),
            text: text.chars().take(200).collect(),
            rooms: Arc::clone(&nobody),
            times: 1,
        };
        asides.into_iter().zip(texts).map(row).collect()
    }
}

/// The lines of a download that are no rows of anybody.
fn books(source: &Source, raw: &RawExport<'_>) -> Ledger {
    let RawExport { header_lines, blank_lines, .. } = *raw;
    Ledger { file: source.file.told().to_owned(), header_lines, blank_lines, ..Ledger::default() }
}
