//! Rows as written → readings: clocks, units, placements, duplicates, and the books.
//!
//! Settled here, and why:
//! - **Exports that are not understood** have all their lines set aside, so that the books hold for them; a file that is
//!   no text has no lines.
//! - **Rows far off**: fewer than one row in twenty, 180 days or more from all others, are set aside, and so is any part
//!   of a record that begins on a first of January three years or more before the next part (a clock that was reset). Of
//!   a room's record in other parts three years or more apart all is set aside, until `from` or `to` in the roster leave
//!   one part; nearer parts are left as they are.

mod notes;
mod why;

use std::ops::Range;

use super::clock_drift::{ClockDrift, ends_ms};
use super::contradictions::{SettledClock, settle_clock};
use super::duplicates::several_at_once;
use super::ledger::Ledger;
use super::local_to_utc;
use super::raw::RawExport;
use super::readings::{Opened, Readings};
use super::rows::{Row, Rows};
use super::runs::{Run, Runs};
use super::series::Series;
use super::set_back::{SetBack, set_back};
use super::sheet::{Sheet, is_blank};
use super::unit::settle_unit;
use super::unit_by_values::Role;
use super::words::WordsRead;
use crate::clock::{LocalTime, Span, UtcTime};
use crate::error::{Note, Result, Trouble};
use crate::site::{Colocation, Placement, Site, Source};
use notes::sum_up;
use why::{Moment, Why};

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
    /// Rows set aside, by their download.
    asides: Vec<Runs<Why>>,
    said: Vec<String>,
    words: WordsRead,
    set_back: Vec<SetBack>,
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
            said: Vec::new(),
            words: WordsRead::default(),
            set_back: Vec::new(),
            notes: Vec::new(),
            clock: String::new(),
        }
    }

    /// A download that could not be understood as a whole: each of its lines is set aside, where it has lines.
    pub(super) fn not_understood(&mut self, source: &Source, trouble: &Trouble, sheet: Option<&Sheet<'_>>) {
        // The lines of a file that several rooms share stand in the books of the first of them.
        let first = self.site.rows_of_shared(source.file.own()).iter().map(|row| row.line).min();
        let sheet = sheet.filter(|_| first.is_none() || source.line == first);
        let blank = |text: &str| u64::from(is_blank(text));
        let (blank_lines, lines) = sheet
            .iter()
            .flat_map(|sheet| sheet.lines())
            .fold((0, 0), |(blanks, lines), (number, text)| (blanks + blank(text), lines.max(number)));
        let ledger = Ledger { file: source.file.told().to_owned(), blank_lines, ..Ledger::default() };
        let count = lines - blank_lines as u32;
        self.give_up(source, trouble, ledger, [Run { first: 1, count, what: Why::NotUnderstood }]);
    }

    /// A download with no series for this logger; its rows are those of others where it names loggers or rooms share it.
    pub(super) fn no_series(&mut self, source: &Source, trouble: &Trouble, raw: &RawExport<'_>) {
        let of_others = raw.loggers.is_some() || !self.site.rows_of_shared(source.file.own()).is_empty();
        let books = books(source, raw);
        if of_others {
            let ledger = Ledger { other_loggers: raw.data_lines, ..books };
            return self.give_up(source, trouble, ledger, []);
        }
        let first = raw.dialect.first_data_line;
        let is_row = |(number, text): &(u32, &str)| *number >= first && !is_blank(text);
        let count = raw.sheet.lines().filter(is_row).count() as u32;
        // Headers that come again are set aside here with the rows.
        let header_lines = books.header_lines + raw.data_lines - u64::from(count);
        let ledger = Ledger { header_lines, ..books };
        self.give_up(source, trouble, ledger, [Run { first, count, what: Why::NotUnderstood }]);
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
        self.give_up(source, trouble, ledger, all_rows(series, Why::OfTwoRooms));
    }

    /// Sets all rows of a download aside, and says why.
    fn give_up(
        &mut self,
        source: &Source,
        trouble: &Trouble,
        mut ledger: Ledger,
        rows: impl IntoIterator<Item = Run<Why>>,
    ) {
        let asides = self.asides_of(self.ledgers.len());
        for run in rows {
            ledger.put_aside(run.what.reason(), u64::from(run.count));
            asides.push_run(run);
        }
        ledger.seen = ledger.set_aside_total();
        self.ledgers.push(ledger);
        self.note(source.file.told(), trouble.line, trouble.what.clone(), &trouble.hint, true);
    }

    /// Adds one series of one download, in the columns in which it was read: a long export is held once.
    pub(super) fn add(&mut self, source: &Source, raw: &RawExport<'_>, mut series: Series) {
        let (seen, other_loggers) = (series.rows_seen(), raw.data_lines - series.rows_seen());
        let mut ledger = Ledger { seen, other_loggers, ..books(source, raw) };
        let unit = match settle_unit(source, &series, self.role) {
            Ok((unit, note)) => {
                self.notes.extend(note);
                unit
            }
            Err(trouble) => {
                return self.give_up(source, &trouble, ledger, all_rows(&series, Why::NotUnderstood));
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
                return self.give_up(source, &trouble, ledger, all_rows(&series, Why::NotUnderstood));
            }
        };
        let instants = local_to_utc::resolve(&series.times_ms, &clock);
        for run in series.bad_times.runs() {
            let why = Why::BadTime(self.said(run.what));
            ledger.put_aside(why.reason(), u64::from(run.count));
            self.asides_of(index).push_run(Run { first: run.first, count: run.count, what: why });
        }
        if let Some(times_ms) = instants.all_ms() {
            self.set_back.extend(set_back(times_ms).into_iter().filter(|back| self.keep.contains(back.last)));
        }
        self.note_clock(source, raw, &series, &instants);
        self.note_marks(source, &series);
        let drift = ClockDrift::new(source.clock_fast_s, &instants);
        let whole =
            series.bad_values.is_empty() && instants.all_ms().is_some_and(|ms| self.keeps_all(ms, &drift));
        let (utc_ms, never) = instants.into_parts();
        let mut rows = series.take_rows();
        let local_ms = utc_ms.map(|utc_ms| std::mem::replace(&mut rows.times_ms, utc_ms)).unwrap_or_default();
        if !whole {
            self.set_rows_aside(index, &mut ledger, &series, (&local_ms, &never, &drift), &mut rows);
        }
        drop(local_ms);
        rows.degc.iter_mut().for_each(|x| *x = unit.temperature(*x).degc());
        ledger.kept += rows.len() as u64;
        self.rows.append(index as u32, rows);
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

    /// Goes through the rows of a series and sets aside what does not count; the others close up.
    fn set_rows_aside(
        &mut self,
        index: usize,
        ledger: &mut Ledger,
        series: &Series,
        (local_ms, never, drift): (&[i64], &[usize], &ClockDrift),
        rows: &mut Rows,
    ) {
        let mut never = never.iter().peekable();
        let mut bad = series.bad_values.iter().peekable();
        let mut words = series.words.iter().peekable();
        let mut kept = 0;
        for i in 0..rows.len() {
            let line = rows.lines[i];
            let bad_value = bad.next_if(|(row, _)| *row as usize == i);
            let word = words.next_if(|(row, _)| *row as usize == i);
            if never.next_if(|row| **row == i).is_some() {
                self.aside(
                    index,
                    ledger,
                    line,
                    Why::TimeNeverWas(Moment::from_ms(local_ms.get(i).copied().unwrap_or_default())),
                );
                continue;
            }
            let t = drift.corrected(UtcTime::from_ms(rows.times_ms[i]));
            if let Some((_, why)) = bad_value {
                let said = self.said(&series.bad_value_words(why));
                self.aside(index, ledger, line, Why::BadValue(said));
                let in_its_room = self.keep.contains(t) && !self.side_by_side.is_some_and(|s| s.contains(t));
                if let Some((_, said)) = word.filter(|_| in_its_room) {
                    self.words.push(t, said);
                }
            } else if !self.keep.contains(t) {
                self.aside(index, ledger, line, Why::OutsidePlacement);
            } else if self.side_by_side.is_some_and(|s| s.contains(t)) {
                self.aside(index, ledger, line, Why::SideBySide);
            } else {
                rows.times_ms[i] = t.ms();
                rows.move_to(i, kept);
                kept += 1;
            }
        }
        rows.truncate(kept);
    }

    fn aside(&mut self, source: usize, ledger: &mut Ledger, line: u32, why: Why) {
        ledger.put_aside(why.reason(), 1);
        self.asides_of(source).push(line, why);
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
        let (set_aside, sums) = self.texts(sheets);
        self.notes.extend(sum_up(sums));
        Ok(Opened {
            readings: Readings::from_rows(self.rows),
            ledgers: self.ledgers,
            set_aside,
            words: self.words,
            notes: self.notes,
            set_back: self.set_back,
            clock: self.clock,
        })
    }

    /// A few rows months away from all others were written by a clock that was reset, or not yet set.
    ///
    /// A record in two parts of like size is left as it is: nobody can tell which part is right. But a part that begins on
    /// the first day of a year, years before the next, was written by a clock that lost its time; and of other parts that
    /// lie years apart in a room none is believed until the roster says between which dates it holds.
    fn set_far_off_aside(&mut self) {
        let times = &self.rows.times_ms;
        let short = times.first().zip(times.last()).is_none_or(|(first, last)| last - first <= FAR_OFF_MS);
        if short || times.windows(2).all(|w| w[1] - w[0] <= FAR_OFF_MS) {
            return;
        }
        let parts: Vec<Range<usize>> = self.rows.parts(|a, b| b - a <= FAR_OFF_MS).collect();
        let most = parts.iter().map(Range::len).max().unwrap_or(0);
        let years = |before: &Range<usize>, after: usize| {
            times.get(after).is_some_and(|next| next - times[before.end - 1] > YEARS_LATER_MS)
        };
        let was_reset = |part: &Range<usize>| years(part, part.end) && self.begins_a_year(times[part.start]);
        let is_far = |part: &Range<usize>| part.len() * FEW < most || was_reset(part);
        let rest: Vec<&Range<usize>> = parts.iter().filter(|part| !is_far(part)).collect();
        let dated = self.keep.from > Span::ALWAYS.from && self.keep.to < Span::ALWAYS.to;
        let torn = rest.windows(2).find(|w| years(w[0], w[1].start));
        let torn = torn.filter(|_| self.role == Role::Room && !dated).map(|w| [w[0].end - 1, w[1].start]);
        let of_it = |part: &&Range<usize>| torn.is_some() || is_far(part);
        let far: Vec<u32> = parts.iter().filter(of_it).cloned().flatten().map(|i| i as u32).collect();
        if let Some(ends) = torn {
            self.note_torn(ends.map(|i| self.rows.row(i)));
        }
        for i in &far {
            let row = self.rows.row(*i as usize);
            self.put_aside(row, Why::FarOff(Moment::from_ms(row.t)));
        }
        self.rows.take_out(&far);
    }

    /// Whether a clock that starts anew could have started so: on a first of January, its own or that of UTC.
    fn begins_a_year(&self, utc_ms: i64) -> bool {
        let utc = UtcTime::from_ms(utc_ms);
        [LocalTime::from_ms(utc_ms), self.site.zone.local(utc)].iter().any(|t| t.show().contains("-01-01 "))
    }

    /// Sets a row aside that was kept so far.
    fn put_aside(&mut self, row: Row, why: Why) {
        let source = row.source as usize;
        self.ledgers[source].kept -= 1;
        self.ledgers[source].put_aside(why.reason(), 1);
        self.asides_of(source).push(row.line, why);
    }

    /// Rows with equal times: equal values collapse into the first, different ones are all set aside.
    fn resolve_duplicates(&mut self) {
        let mut out = Vec::new();
        for places in several_at_once(&self.rows.times_ms) {
            let value = |i: usize| Some(self.rows.degc[i]).filter(|x| !x.is_nan());
            let first = places.clone().find_map(|i| Some((i, value(i)?)));
            let kept = first.map_or(places.start, |(i, _)| i);
            let unlike = |x: f64| first.is_some_and(|(_, first)| x.total_cmp(&first).is_ne());
            let conflict = places.clone().filter_map(value).any(unlike);
            for place in places.clone().filter(|place| conflict || *place != kept) {
                let other = if place == places.start { place + 1 } else { places.start };
                let (row, other) = (self.rows.row(place), self.rows.row(other).into());
                let why = match conflict && !row.x.is_nan() {
                    true => Why::ConflictingDuplicate(other),
                    false => Why::ExactDuplicate(other),
                };
                self.put_aside(row, why);
                out.push(place as u32);
            }
        }
        self.rows.take_out(&out);
    }
}

/// All rows of a series, set aside for one reason.
fn all_rows(series: &Series, why: Why) -> impl Iterator<Item = Run<Why>> {
    let mut rows = Runs::default();
    series.all_lines().for_each(|line| rows.push(line, why));
    rows.runs().to_vec().into_iter()
}

/// The lines of a download that are no rows of anybody.
fn books(source: &Source, raw: &RawExport<'_>) -> Ledger {
    let RawExport { header_lines, blank_lines, .. } = *raw;
    Ledger { file: source.file.told().to_owned(), header_lines, blank_lines, ..Ledger::default() }
}
