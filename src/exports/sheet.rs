//! Bytes → text → lines → cells.

use std::borrow::Cow;

use encoding_rs::{Encoding, UTF_8, UTF_16BE, UTF_16LE, WINDOWS_1252};

/// The text of an export, whatever it was encoded in.
pub(super) struct Sheet<'b> {
    text: Cow<'b, str>,
    encoding: &'static str,
    /// `\n` as a rule; `\r` for files that know no other line end.
    line_end: u8,
}

impl<'b> Sheet<'b> {
    /// Decodes by byte-order mark, else by content: UTF-16 has zero bytes, UTF-8 is valid UTF-8, the rest is Windows-1252.
    pub(super) fn decode(bytes: impl Into<Cow<'b, [u8]>>) -> Self {
        let bytes = bytes.into();
        let encoding = Encoding::for_bom(&bytes).map_or_else(|| guess(&bytes), |(encoding, _)| encoding);
        let bytes = without_padding(bytes, if encoding == UTF_16LE { 2 } else { 1 });
        let text = match bytes {
            // As nearly all files are; `str` looks at their bytes faster than a decoder.
            Cow::Borrowed(bytes) => plain_utf_8(bytes, encoding)
                .map_or_else(|| encoding.decode_with_bom_removal(bytes).0, Cow::Borrowed),
            Cow::Owned(bytes) => Cow::Owned(encoding.decode_with_bom_removal(&bytes).0.into_owned()),
        };
        let line_end = if memchr::memchr(b'\n', text.as_bytes()).is_some() { b'\n' } else { b'\r' };
        Self { text, encoding: encoding.name(), line_end }
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
        Lines { rest: &self.text, number: 0, line_end: self.line_end }
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
            Lines { rest: &self.text[line_start..], number: 0, line_end: self.line_end }
        })
    }

    /// The texts of some lines; `wanted` rises.
    pub(super) fn pick(&self, wanted: &[u32]) -> Vec<&str> {
        let mut wanted = wanted.iter().copied().peekable();
        let mut picked = Vec::new();
        let ends = memchr::memchr_iter(self.line_end, self.text.as_bytes());
        let mut start = 0;
        for (number, end) in (1..).zip(ends.chain([self.text.len()])) {
            while wanted.next_if_eq(&number).is_some() {
                let line = &self.text[start..end];
                picked.push(line.strip_suffix('\r').unwrap_or(line));
            }
            if wanted.peek().is_none() {
                break;
            }
            start = end + 1;
        }
        picked
    }
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

/// The text as it is, where nothing has to be decoded or left out.
fn plain_utf_8<'b>(bytes: &'b [u8], encoding: &'static Encoding) -> Option<&'b str> {
    const BOM: &[u8] = &[0xef, 0xbb, 0xbf];
    (encoding == UTF_8 && !bytes.starts_with(BOM)).then(|| std::str::from_utf8(bytes).ok())?
}

fn guess(bytes: &[u8]) -> &'static Encoding {
    let head = &bytes[..bytes.len().min(4096)];
    let zeros = |first: usize| head.iter().skip(first).step_by(2).filter(|b| **b == 0).count();
    let half = head.len() / 2;
    // Plain letters have a zero in one half of each pair and none in the other; zeros all over are no text.
    if half > 1 && zeros(1) * 3 > half * 2 && zeros(0) * 10 < half {
        UTF_16LE
    } else if half > 1 && zeros(0) * 3 > half * 2 && zeros(1) * 10 < half {
        UTF_16BE
    } else if std::str::from_utf8(bytes).is_ok() {
        UTF_8
    } else {
        WINDOWS_1252
    }
}

/// Walks over the lines of a text.
#[derive(Clone)]
pub(super) struct Lines<'t> {
    rest: &'t str,
    number: u32,
    line_end: u8,
}

impl<'t> Iterator for Lines<'t> {
    type Item = (u32, &'t str);

    fn next(&mut self) -> Option<(u32, &'t str)> {
        if self.rest.is_empty() {
            return None;
        }
        let (line, rest) = match memchr::memchr(self.line_end, self.rest.as_bytes()) {
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
    let line = line.strip_prefix('\u{feff}').unwrap_or(line);
    match delimiter {
        Delimiter::Byte(byte) if memchr::memchr(b'"', line.as_bytes()).is_none() => {
            split_plain(line, byte, cells)
        }
        Delimiter::Byte(byte) => split_quoted(line, byte, cells),
        Delimiter::WideBlanks => {
            let pieces = line.split("  ").map(|c| unquote(c.trim_matches('\t'))).filter(|c| !c.is_empty());
            cells.extend(pieces.take(MAX_CELLS));
        }
        Delimiter::Blanks => cells.extend(line.split_whitespace().map(unquote).take(MAX_CELLS)),
    }
}

fn split_plain<'t>(line: &'t str, delimiter: u8, cells: &mut Vec<&'t str>) {
    let mut from = 0;
    for at in memchr::memchr_iter(delimiter, line.as_bytes()).take(MAX_CELLS) {
        cells.push(line[from..at].trim());
        from = at + 1;
    }
    cells.push(line[from..].trim());
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
    fn encodings_are_told_from_content() {
        let utf16: Vec<u8> = "time,°C\n".encode_utf16().flat_map(u16::to_le_bytes).collect();
        let decoded = Sheet::decode(&utf16[..]);
        assert_eq!((decoded.encoding(), decoded.lines().next()), ("UTF-16LE", Some((1, "time,°C"))));
        assert_eq!(Sheet::decode(&b"\xb0C"[..]).lines().next(), Some((1, "°C")));
        assert_eq!(Sheet::decode(&b"\xef\xbb\xbfa"[..]).lines().next(), Some((1, "a")));
    }
}
