//! A template of a timestamp in which every digit has its place, compared and read eight characters at a time.

use super::super::dialect::{Dialect, TIMES_MS};
use super::super::sheet::split;
use super::super::times::DateStyle;
use crate::clock::{HOUR_MS, LocalTime};

/// Where the times of some rows stand, and how their dates are written.
#[derive(Clone, Copy)]
pub(super) struct TimeColumns {
    pub(super) delimiter: u8,
    /// First column, and how many there are.
    pub(super) column: usize,
    pub(super) takes: usize,
    pub(super) style: DateStyle,
}

/// A date and time of which every digit has its place.
pub(super) struct TimestampTemplate {
    /// Characters of a time.
    pub(super) length: usize,
    /// What stands where: first the eight of the clock, then as many as the rest takes, overlapping each other.
    eights: [Eight; EIGHTS],
    /// How many eights it takes.
    pub(super) used: usize,
    /// Bits of the first eight before the hour, with which `HH:MM:SS` or `HH:MM` starts.
    before_hour: usize,
    /// Places of year, month and day.
    date: [usize; 3],
    /// Milliseconds to be taken off: the offset from UTC that each time states.
    offset_ms: i64,
    /// First millisecond of the date read last.
    date_ms: i64,
}

impl TimestampTemplate {
    /// The template of the times of rows like this one; `None` where they have none.
    pub(super) fn of(dialect: &Dialect, row: &str, columns: TimeColumns) -> Option<Self> {
        let mut split_row = Vec::new();
        split(row, dialect.delimiter, &mut split_row);
        let time_ms = dialect.time_ms(&split_row)?;
        let TimeColumns { delimiter, column, takes, style } = columns;
        let text = row.split(char::from(delimiter)).skip(column).take(takes).collect::<Vec<_>>();
        let text = text.join(char::from(delimiter).encode_utf8(&mut [0; 4]));
        let bytes = text.as_bytes();
        let groups: Vec<(usize, usize)> = digit_groups(bytes).collect();
        let lengths: Vec<usize> = groups.iter().map(|(_, length)| *length).collect();
        let at = |i: usize| groups.get(i).map(|(start, _)| *start);
        let year_first = lengths.starts_with(&[4, 2, 2, 2, 2]);
        if !year_first && !lengths.starts_with(&[2, 2, 4, 2, 2]) {
            return None;
        }
        let date = match style {
            _ if year_first => [at(0)?, at(1)?, at(2)?],
            DateStyle::Dmy => [at(2)?, at(1)?, at(0)?],
            DateStyle::Mdy => [at(2)?, at(0)?, at(1)?],
            DateStyle::Ymd => return None,
        };
        let (date_end, hour) = (groups[2].0 + groups[2].1, at(3)?);
        let colon = |at: usize| bytes.get(at) == Some(&b':');
        let has_seconds = at(5) == Some(hour + 6) && lengths[5] == 2 && colon(hour + 5);
        let end = hour + if has_seconds { 8 } else { 5 };
        let between = &bytes[date_end..hour];
        let apart = takes == 2 && between == [delimiter] || takes == 1 && matches!(between, b" " | b"T");
        let offset = bytes.get(end..)?;
        let stated = offset.is_empty() || offset == b"Z" || matches!(offset[0], b'+' | b'-');
        let marks = [groups[0].0 + lengths[0], groups[1].0 + lengths[1]].map(|i| bytes[i]);
        let dated = matches!(marks[0], b'-' | b'/' | b'.') && marks[0] == marks[1] && groups[0].0 == 0;
        let clock = at(4) == Some(hour + 3) && colon(hour + 2);
        if !apart || !stated || !dated || !clock {
            return None;
        }
        // Digits behind the time are those of its offset, which must stay the same.
        let place = |(i, b): (usize, &u8)| (i < end && b.is_ascii_digit(), *b);
        let places: Vec<(bool, u8)> = bytes.iter().enumerate().map(place).collect();
        let last = places.len().checked_sub(8)?;
        let eight = |at: usize| Eight::of(at, &places[at..at + 8], date_end.saturating_sub(at));
        let clock_at = hour.min(last);
        let before = (0..clock_at).step_by(8).map(|at| at.min(last));
        let behind = (clock_at + 8..places.len()).step_by(8).map(|at| at.min(last));
        let mut eights = [eight(clock_at); EIGHTS];
        let mut used = 1;
        for at in before.chain(behind) {
            *eights.get_mut(used)? = eight(at);
            used += 1;
        }
        let before_hour = 8 * (hour - clock_at);
        let (offset_ms, date_ms) = (0, 0);
        let mut stencil = Self { length: bytes.len(), eights, used, before_hour, date, offset_ms, date_ms };
        let offset_ms = stencil.read::<EIGHTS>(bytes)? - time_ms;
        // The date was read without its offset.
        Some(Self { eights, offset_ms, ..stencil })
    }

    /// The time at the start of a text; `None` where it does not fit the stencil, or there is no such time. It looks at `N`
    /// eights, which must be all that are used.
    #[inline(always)]
    pub(super) fn read<const N: usize>(&mut self, text: &[u8]) -> Option<i64> {
        let text = text.get(..self.length)?;
        let eights = self.eights.first_chunk::<N>()?;
        let mut apart = [0; N];
        let (mut misfit, mut other_date) = (0, 0);
        for (i, eight) in eights.iter().enumerate() {
            apart[i] = eight.apart(text)?;
            misfit |= eight.misfit(apart[i]);
            other_date |= (apart[i] & eight.of_date) ^ eight.date;
        }
        if misfit != 0 {
            return None;
        }
        if other_date != 0 {
            self.date_ms = self.start_of_date(text)?;
            self.eights.iter_mut().zip(apart).for_each(|(eight, apart)| eight.date = apart & eight.of_date);
        }
        // All that is no digit is no distance apart, so that there are zeros between and behind the numbers.
        let pairs = (apart[0] >> self.before_hour).wrapping_mul((10 << 8) + 1) >> 8;
        let number = |byte: usize| (pairs >> (8 * byte) & 0xff) as i64;
        let (hour, minute, second) = (number(0), number(3), number(6));
        let is_time = hour < 24 && minute < 60 && second < 60;
        let of_day = hour * HOUR_MS + minute * 60_000 + second * 1000;
        is_time.then_some(self.date_ms + of_day)
    }

    /// First millisecond of a date, in UTC where the times state their offset; `None` where there is no such date, or not
    /// every time of it is one that an export can have.
    fn start_of_date(&self, text: &[u8]) -> Option<i64> {
        let two = |at: usize| u32::from(text[at] - b'0') * 10 + u32::from(text[at + 1] - b'0');
        let [year, month, day] = self.date;
        let year = (two(year) * 100 + two(year + 2)) as i32;
        let date = LocalTime::from_fields((year, two(month), two(day)), (0, 0, 0), 0)?;
        let first = date.ms() - self.offset_ms;
        (TIMES_MS.contains(&first) && TIMES_MS.contains(&(first + 24 * HOUR_MS))).then_some(first)
    }
}

/// Eights of a stencil: the longest time with its offset fits in.
pub(super) const EIGHTS: usize = 4;

/// Eight places of a stencil, compared at once.
#[derive(Clone, Copy)]
struct Eight {
    at: usize,
    /// The characters, `0` for a digit.
    characters: u64,
    /// Per byte what, added to the distance from its character, sets the highest bit where it does not fit.
    room: u64,
    /// The bytes of the date, and how far they were from the characters in the date read last.
    of_date: u64,
    date: u64,
}

/// The highest bit of each byte.
const HIGHEST: u64 = 0x8080_8080_8080_8080;

impl Eight {
    /// For eight places: whether any digit may stand there, or the one character that must; the first `of_date` are the date's.
    fn of(at: usize, places: &[(bool, u8)], of_date: usize) -> Self {
        let number = |byte: fn(&(bool, u8)) -> u8| {
            u64::from_le_bytes(std::array::from_fn(|i| places.get(i).map_or(0, byte)))
        };
        // A digit may lie 0 to 9 above `0`; any other character must be met.
        Self {
            at,
            characters: number(|(digit, b)| if *digit { b'0' } else { *b }),
            room: number(|(digit, _)| if *digit { 0x80 - 10 } else { 0x80 - 1 }),
            of_date: if of_date < 8 { (1 << (8 * of_date)) - 1 } else { u64::MAX },
            // No date is that far from its characters.
            date: u64::MAX,
        }
    }

    /// How far each place is from its character: above `0` to `9` no bit differs but the lowest four, so that the
    /// distance of a digit is its value.
    #[inline]
    fn apart(&self, text: &[u8]) -> Option<u64> {
        let eight = text.get(self.at..self.at + 8)?.try_into().ok()?;
        Some(u64::from_le_bytes(eight) ^ self.characters)
    }

    /// Not 0 where a place does not fit.
    #[inline]
    fn misfit(&self, apart: u64) -> u64 {
        (apart | ((apart & !HIGHEST) + self.room)) & HIGHEST
    }
}

/// Runs of digits: where each starts, and how long it is.
fn digit_groups(bytes: &[u8]) -> impl Iterator<Item = (usize, usize)> {
    let starts = |i: &usize| bytes[*i].is_ascii_digit() && (*i == 0 || !bytes[i - 1].is_ascii_digit());
    let length = |i: usize| bytes[i..].iter().take_while(|b| b.is_ascii_digit()).count();
    (0..bytes.len()).filter(starts).map(move |i| (i, length(i)))
}
