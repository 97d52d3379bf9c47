//! Bytes → text → lines → cells.

use std::borrow::Cow;

use encoding_rs::{Encoding, UTF_8, UTF_16LE, WINDOWS_1252};

use crate::unpack::wide;

/// The text of an export, whatever it was encoded in.
#[derive(Debug)]
pub(super) struct Sheet<'b> {
    text: Cow<'b, str>,
    encoding: &'static str,
    /// `\n` as a rule; `\r` for files that know no other line end.
    line_end: u8,
    /// Length of the last line, where it has no end of its own.
    tail: usize,
}

impl<'b> Sheet<'b> {
    /// Decodes by byte-order mark, else by content: UTF-16 has zero bytes, UTF-8 is valid UTF-8, the rest is Windows-1252.
    pub(super) fn decode(bytes: impl Into<Cow<'b, [u8]>>) -> Self {
        let bytes = bytes.into();
        let stated = Encoding::for_bom(&bytes).map(|(encoding, _)| encoding).or_else(|| wide(&bytes));
        let bytes = without_padding(bytes, if stated == Some(UTF_16LE) { 2 } else { 1 });
        // Nearly all files are plain UTF-8: `str` looks at their bytes faster than a decoder, and once is enough.
        let told = |bytes: &[u8]| if std::str::from_utf8(bytes).is_ok() { UTF_8 } else { WINDOWS_1252 };
        let plain = |bytes| stated.is_none().then(|| std::str::from_utf8(bytes).ok()).flatten();
        let (text, encoding) = match bytes {
            Cow::Borrowed(bytes) => match plain(bytes) {
                Some(text) => (Cow::Borrowed(text), UTF_8),
                None => {
                    let encoding = stated.unwrap_or(WINDOWS_1252);
                    (encoding.decode_with_bom_removal(bytes).0, encoding)
                }
            },
            Cow::Owned(bytes) => {
                let encoding = stated.unwrap_or_else(|| told(&bytes));
                (Cow::Owned(encoding.decode_with_bom_removal(&bytes).0.into_owned()), encoding)
            }
        };
        let line_end = if memchr::memchr(b'\n', text.as_bytes()).is_some() { b'\n' } else { b'\r' };
        let tail = text.len() - memchr::memrchr(line_end, text.as_bytes()).map_or(0, |at| at + 1);
        Self { text, encoding: encoding.name(), line_end, tail }
    }

    /// Length of the text.
    pub(super) fn bytes(&self) -> usize {
        self.text.len()
    }

    pub(super) fn encoding(&self) -> &'static str {
        self.encoding
    }

    /// Whether the last line has its line end.
    pub(super) fn is_finished(&self) -> bool {
        self.text.ends_with(['\n', '\r'])
    }

    /// The lines with their numbers, from 1; an empty piece after the last line end is no line.
    pub(super) fn lines(&self) -> Lines<'_> {
        self.lines_from(0)
    }

    /// The lines from the start, from the middle and from five sixths of the text on; their numbers count from there.
    pub(super) fn thirds(&self) -> [Lines<'_>; 3] {
        [0, self.text.len() / 2, self.text.len() / 6 * 5].map(|at| {
            let line_start = match at {
                0 => 0,
                at => {
                    memchr::memchr(self.line_end, &self.text.as_bytes()[at..]).map_or(0, |end| at + end + 1)
                }
            };
            self.lines_from(line_start)
        })
    }

    fn lines_from(&self, line_start: usize) -> Lines<'_> {
        Lines { rest: &self.text[line_start..], number: 0, line_end: self.line_end, tail: self.tail }
    }

    /// The texts of some lines; `wanted` rises.
    pub(super) fn pick(&self, wanted: &[u32]) -> Vec<&str> {
        let mut lines = self.lines();
        let mut picked: Vec<&str> = Vec::new();
        let mut last = None;
        for number in wanted {
            if lines.number() < *number {
                lines.skip_to(*number);
                last = lines.next().map(|(_, line)| line);
            }
            picked.extend(last.filter(|_| lines.number() == *number));
        }
        picked
    }
}

/// Many blanks.
const BLANKS: &str = match std::str::from_utf8(&[b' '; 1 << 10]) {
    Ok(blanks) => blanks,
    Err(_) => " ",
};

/// Whether nothing that people see stands in a line.
pub(super) fn is_blank(line: &str) -> bool {
    // A line of nothing but blanks may be as long as a file: they are passed over many at a time.
    let mut rest = line;
    while let Some(behind) = rest.strip_prefix(BLANKS) {
        rest = behind;
    }
    rest.trim_start_matches(|c: char| c.is_whitespace() || c == '\u{feff}' || c == '\u{1a}').is_empty()
}

/// Some loggers fill the last block of a file with zero bytes; the last character, of `unit` bytes, may end in one of its own.
fn without_padding(bytes: Cow<'_, [u8]>, unit: usize) -> Cow<'_, [u8]> {
    let zeros = bytes.iter().rev().take_while(|b| **b == 0).count();
    let text = (bytes.len() - zeros).next_multiple_of(unit).min(bytes.len());
    let end = if zeros > 1 { text } else { bytes.len() };
    match bytes {
        Cow::Borrowed(bytes) => Cow::Borrowed(&bytes[..end]),
        Cow::Owned(mut bytes) => {
            bytes.truncate(end);
            Cow::Owned(bytes)
        }
    }
}

/// Walks over the lines of a text.
#[derive(Clone)]
pub(super) struct Lines<'t> {
    rest: &'t str,
    number: u32,
    line_end: u8,
    tail: usize,
}

impl<'t> Lines<'t> {
    /// What comes behind the line given last.
    pub(super) fn rest(&self) -> &'t str {
        self.rest
    }

    /// The number of the line given last; 0 before the first.
    pub(super) fn number(&self) -> u32 {
        self.number
    }

    /// What ends a line.
    pub(super) fn line_end(&self) -> u8 {
        self.line_end
    }

    /// Goes on before the line of a number, or to the end where there are not so many.
    ///
    /// Lines are counted by stretches of the text, which is quicker than to look for the end of each.
    pub(super) fn skip_to(&mut self, number: u32) {
        const STRETCH: usize = 1 << 12;
        let bytes = self.rest.as_bytes();
        let mut at = 0;
        for stretch in bytes.chunks(STRETCH) {
            let ends = memchr::memchr_iter(self.line_end, stretch).count() as u32;
            if self.number + ends + 1 >= number {
                break;
            }
            self.number += ends;
            at += stretch.len();
        }
        // A stretch may end within a line, which is passed over next, and within a letter, none of whose bytes ends a line.
        while !self.rest.is_char_boundary(at) {
            at += 1;
        }
        self.rest = &self.rest[at..];
        while self.number + 1 < number && self.next().is_some() {}
    }

    /// Goes on behind so many lines, which take so many bytes.
    pub(super) fn skip(&mut self, lines: u32, bytes: usize) {
        self.rest = &self.rest[bytes..];
        self.number += lines;
    }
}

impl<'t> Iterator for Lines<'t> {
    type Item = (u32, &'t str);

    fn next(&mut self) -> Option<(u32, &'t str)> {
        if self.rest.is_empty() {
            return None;
        }
        let end = match self.rest.len() == self.tail {
            true => None,
            false => memchr::memchr(self.line_end, self.rest.as_bytes()),
        };
        let (line, rest) = match end {
            Some(at) => (&self.rest[..at], &self.rest[at + 1..]),
            None => (self.rest, ""),
        };
        self.rest = rest;
        self.number += 1;
        Some((self.number, line.strip_suffix('\r').unwrap_or(line)))
    }
}

/// What stands between cells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Delimiter {
    /// One character.
    Byte(u8),
    /// Two blanks or more.
    WideBlanks,
    /// Any blanks.
    Blanks,
}

impl Delimiter {
    /// Whether a missing cell leaves no trace.
    pub(super) fn is_blanks(self) -> bool {
        matches!(self, Delimiter::WideBlanks | Delimiter::Blanks)
    }
}

/// Most cells of a line that are looked at.
pub(super) const MAX_CELLS: usize = 4096;
/// Longest line that is looked at, in bytes.
pub(super) const MAX_LINE: usize = 1 << 20;

/// Splits a line into its cells, without the blanks, quotes and byte-order marks around them.
pub(super) fn split<'t>(line: &'t str, delimiter: Delimiter, cells: &mut Vec<&'t str>) {
    cells.clear();
    let line = line.strip_prefix("\u{feff}").unwrap_or(line);
    match delimiter {
        Delimiter::Byte(byte) => {
            if !split_plain(line, byte, cells) {
                cells.clear();
                split_quoted(line, byte, cells);
            }
        }
        Delimiter::WideBlanks => {
            let pieces = line.split("  ").map(|c| unquote(c.trim_matches('\t'))).filter(|c| !c.is_empty());
            cells.extend(pieces.take(MAX_CELLS));
        }
        Delimiter::Blanks => cells.extend(line.split_whitespace().map(unquote).take(MAX_CELLS)),
    }
}

/// Splits a line without quotes; whether it is one.
fn split_plain<'t>(line: &'t str, delimiter: u8, cells: &mut Vec<&'t str>) -> bool {
    let mut from = 0;
    // Cells are short: a walk over the bytes is quicker than a search for each mark.
    for (at, byte) in line.bytes().enumerate() {
        if byte == b'"' {
            return false;
        }
        if byte == delimiter && cells.len() < MAX_CELLS {
            cells.push(bare(&line[from..at]));
            from = at + 1;
        }
    }
    cells.push(bare(&line[from..]));
    true
}

/// A cell without the blanks around it; nearly all have none, which their first and last byte tell.
fn bare(cell: &str) -> &str {
    match cell.as_bytes() {
        [0x21..=0x7e, .., 0x21..=0x7e] => cell,
        _ => cell.trim(),
    }
}

fn split_quoted<'t>(line: &'t str, delimiter: u8, cells: &mut Vec<&'t str>) {
    let (mut from, mut quoted) = (0, false);
    for (at, byte) in line.bytes().enumerate() {
        match byte {
            b'"' => quoted = !quoted,
            b if b == delimiter && !quoted && cells.len() < MAX_CELLS => {
                cells.push(unquote(&line[from..at]));
                from = at + 1;
            }
            _ => {}
        }
    }
    cells.push(unquote(&line[from..]));
}

fn unquote(cell: &str) -> &str {
    let cell = cell.trim();
    cell.strip_prefix('"').and_then(|c| c.strip_suffix('"')).unwrap_or(cell).trim()
}

/// Walks over the cells of the data lines.
pub(super) fn each_row<'s>(
    sheet: &'s Sheet<'_>,
    first_line: u32,
    delimiter: Delimiter,
    mut see: impl FnMut(u32, &[&'s str]) -> bool,
) {
    let mut cells = Vec::new();
    for (number, line) in sheet.lines() {
        if number < first_line || line.len() > MAX_LINE {
            continue;
        }
        split(line, delimiter, &mut cells);
        if !see(number, &cells) {
            return;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cells(line: &str) -> Vec<&str> {
        let mut cells = Vec::new();
        split(line, Delimiter::Byte(b','), &mut cells);
        cells
    }

    #[test]
    fn blanks_may_stand_between_cells() {
        let mut cells = Vec::new();
        split("2026-01-05 00:10   21.4    45 ", Delimiter::WideBlanks, &mut cells);
        assert_eq!(cells, ["2026-01-05 00:10", "21.4", "45"]);
        split("2026-01-05 00:10   21.4\t45 ", Delimiter::Blanks, &mut cells);
        assert_eq!(cells, ["2026-01-05", "00:10", "21.4", "45"]);
    }

    #[test]
    fn cells_lose_blanks_and_quotes() {
        assert_eq!(cells(" a , b,"), ["a", "b", ""]);
        assert_eq!(cells("\"a, still a\",\"  60\""), ["a, still a", "60"]);
        assert_eq!(cells(""), [""]);
    }

    #[test]
    fn lines_end_in_three_ways() {
        for text in ["a\nb\n", "a\r\nb", "a\rb\r"] {
            let sheet = Sheet::decode(text.as_bytes());
            assert_eq!(sheet.lines().collect::<Vec<_>>(), [(1, "a"), (2, "b")], "{text:?}");
            assert_eq!(sheet.pick(&[2]), ["b"]);
        }
    }

    #[test]
    fn lines_are_picked_wherever_they_stand() {
        let line = |i: u32| format!("{i} °C{}", "é".repeat((i % 37) as usize));
        let text: String = (1..2000).map(|i| line(i) + "\r\n").collect();
        let sheet = Sheet::decode(text.as_bytes());
        for wanted in [vec![1], vec![1999], (1..2000).collect(), vec![3, 3, 700, 701, 1500, 1999, 2500]] {
            let lines: Vec<String> = wanted.iter().filter(|i| **i < 2000).map(|i| line(*i)).collect();
            assert_eq!(sheet.pick(&wanted), lines);
        }
    }

    #[test]
    fn encodings_are_told_from_content() {
        let utf16: Vec<u8> = "time,°C\n".encode_utf16().flat_map(u16::to_le_bytes).collect();
        let decoded = Sheet::decode(&utf16[..]);
        assert_eq!((decoded.encoding(), decoded.lines().next()), ("UTF-16LE", Some((1, "time,°C"))));
        assert_eq!(Sheet::decode(&b"\xb0C"[..]).lines().next(), Some((1, "°C")));
        assert_eq!(Sheet::decode(&b"\xef\xbb\xbfa"[..]).lines().next(), Some((1, "a")));
    }
}
