//! Rows set aside, small while they wait for their table: a large export may lose every one of its rows.

use std::borrow::Cow;
use std::collections::BTreeMap;
use std::iter::Peekable;
use std::sync::Arc;

use super::ledger::{Reason, SetAside};
use crate::texts::Words;

/// Letters of a line that are kept.
const LETTERS: usize = 200;
/// Bytes of rows that are packed together.
const BLOCK: usize = 1 << 18;

/// Rows set aside, in the order of files and lines.
#[derive(Debug, Default)]
pub struct SetAsides {
    /// In the order of files; those of one file in the order of the roster.
    piles: Vec<Pile>,
    quiet: bool,
}

impl SetAsides {
    /// Adds what another room lost.
    pub fn append(&mut self, room: &Arc<str>, other: SetAsides) {
        self.piles.extend(other.piles.into_iter().map(|pile| Pile { room: Arc::clone(room), ..pile }));
        // Sorting is stable: rooms stay in the order of the roster.
        self.piles.sort_by(|a, b| a.file.cmp(&b.file));
    }

    pub(super) fn push(&mut self, pile: Pile) {
        if !(pile.open.is_empty() && pile.packed.is_empty()) {
            self.piles.push(pile);
        }
    }

    /// Leaves texts out of inputs out of every row.
    pub fn quiet(&mut self) {
        self.quiet = true;
    }

    /// The rows; one that several series of a home lost for one reason comes once, with all that lost it.
    pub fn iter(&self) -> impl Iterator<Item = SetAside> {
        let files = self.piles.chunk_by(|a, b| a.file == b.file);
        files.flat_map(|piles| OfFile::new(piles, self.quiet))
    }
}

/// The rows that one series lost of one file; lines rise, none twice.
#[derive(Debug)]
pub(super) struct Pile {
    file: Arc<str>,
    /// Empty for the weather.
    room: Arc<str>,
    packed: Vec<Block>,
    open: Vec<u8>,
}

#[derive(Debug)]
struct Block {
    bytes: Vec<u8>,
    /// Length of what is packed in it.
    length: usize,
}

impl Pile {
    pub(super) fn new(file: &str) -> Self {
        Self { file: file.into(), room: "".into(), packed: Vec::new(), open: Vec::new() }
    }

    /// Adds a row.
    pub(super) fn push(&mut self, line: u32, reason: Reason, detail: &str, text: &str) {
        self.open.extend(line.to_le_bytes());
        self.open.push(reason as u8);
        for part in [detail, cut(text)] {
            self.open.extend((part.len() as u32).to_le_bytes());
            self.open.extend(part.as_bytes());
        }
        if self.open.len() >= BLOCK {
            let bytes = zstd::bulk::compress(&self.open, 1).expect("bytes in memory can be packed");
            self.packed.push(Block { bytes, length: self.open.len() });
            self.open.clear();
        }
    }

    /// Frees what was reserved for more rows.
    pub(super) fn finished(mut self) -> Self {
        self.open.shrink_to_fit();
        self
    }

    fn rows(&self) -> impl Iterator<Item = AsideRow> {
        let unpacked = |block: &Block| {
            let bytes = zstd::bulk::decompress(&block.bytes, block.length);
            Cow::Owned(bytes.expect("what was packed here can be unpacked"))
        };
        let blocks = self.packed.iter().map(unpacked).chain([Cow::Borrowed(&self.open[..])]);
        blocks.flat_map(|block| {
            let mut at = 0;
            std::iter::from_fn(move || AsideRow::read(&block, &mut at))
        })
    }
}

/// The beginning of a line.
fn cut(text: &str) -> &str {
    text.char_indices().nth(LETTERS).map_or(text, |(end, _)| &text[..end])
}

struct AsideRow {
    line: u32,
    reason: Reason,
    detail: Words,
    text: String,
}

impl AsideRow {
    /// Reads the row at a place, and goes on behind it; `None` at the end.
    fn read(block: &[u8], at: &mut usize) -> Option<Self> {
        let mut take = |length: usize| {
            let bytes = block.get(*at..*at + length)?;
            *at += length;
            Some(bytes)
        };
        let number = |bytes: &[u8]| bytes.try_into().map(u32::from_le_bytes).ok();
        let line = number(take(4)?)?;
        let reason = *Reason::ALL.get(usize::from(*take(1)?.first()?))?;
        let mut text = || {
            let length = number(take(4)?)? as usize;
            Some(String::from_utf8_lossy(take(length)?).into_owned())
        };
        Some(Self { line, reason, detail: text()?.into(), text: text()? })
    }

    fn place(&self) -> (u32, Reason, &Words) {
        (self.line, self.reason, &self.detail)
    }
}

/// The rows of one file, whoever lost them.
struct OfFile<'p, I: Iterator<Item = AsideRow>> {
    piles: Vec<(&'p Pile, Peekable<I>)>,
    /// The names of several rooms, by the places of their piles.
    rooms: BTreeMap<Vec<usize>, Arc<str>>,
    quiet: bool,
}

impl<'p> OfFile<'p, Box<dyn Iterator<Item = AsideRow> + 'p>> {
    fn new(piles: &'p [Pile], quiet: bool) -> Self {
        let rows = |pile: &'p Pile| -> Box<dyn Iterator<Item = AsideRow> + 'p> { Box::new(pile.rows()) };
        let piles = piles.iter().map(|pile| (pile, rows(pile).peekable())).collect();
        Self { piles, rooms: BTreeMap::new(), quiet }
    }
}

impl<I: Iterator<Item = AsideRow>> OfFile<'_, I> {
    fn rooms(&mut self, who: Vec<usize>) -> Arc<str> {
        if let [only] = who[..] {
            return Arc::clone(&self.piles[only].0.room);
        }
        let piles = &self.piles;
        let joined = self.rooms.entry(who).or_insert_with_key(|who| {
            let mut names: Vec<&str> = Vec::new();
            for room in who.iter().map(|i| &*piles[*i].0.room) {
                if !names.contains(&room) {
                    names.push(room);
                }
            }
            names.join("; ").into()
        });
        Arc::clone(joined)
    }
}

impl<I: Iterator<Item = AsideRow>> Iterator for OfFile<'_, I> {
    type Item = SetAside;

    fn next(&mut self) -> Option<SetAside> {
        let mut first: Option<usize> = None;
        for i in 0..self.piles.len() {
            let (before, rest) = self.piles.split_at_mut(i);
            let Some(row) = rest[0].1.peek() else { continue };
            let earliest = first.and_then(|at| before[at].1.peek());
            if earliest.is_none_or(|earliest| row.place() < earliest.place()) {
                first = Some(i);
            }
        }
        let first = first?;
        let row = self.piles[first].1.next()?;
        let mut who = vec![first];
        for (i, (_, rows)) in self.piles.iter_mut().enumerate().skip(first + 1) {
            let same = |other: &AsideRow| row.place() == other.place() && row.text == other.text;
            if rows.next_if(same).is_some() {
                who.push(i);
            }
        }
        let (file, times) = (Arc::clone(&self.piles[first].0.file), who.len() as u32);
        let AsideRow { line, reason, detail, text } = row;
        let (detail, text) =
            if self.quiet { (detail.without_names(), String::new()) } else { (detail, text) };
        Some(SetAside { file, line, reason, detail, text, rooms: self.rooms(who), times })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pile(file: &str, rows: impl Iterator<Item = (u32, &'static str)>) -> SetAsides {
        let mut pile = Pile::new(file);
        rows.for_each(|(line, text)| pile.push(line, Reason::BadValue, "column \"T\"", text));
        let mut all = SetAsides::default();
        all.push(pile.finished());
        all
    }

    #[test]
    fn a_row_that_two_rooms_lost_comes_once_and_millions_come_back_from_little_memory() {
        let rooms: [Arc<str>; 2] = ["bath".into(), "attic".into()];
        let mut all = SetAsides::default();
        all.append(&rooms[0], pile("b.csv", (1..=300_000).map(|line| (line, "2026-01-05,é"))));
        all.append(&rooms[1], pile("b.csv", (1..=300_000).step_by(2).map(|line| (line, "2026-01-05,é"))));
        all.append(&rooms[1], pile("a.csv", [(9, "x")].into_iter()));
        let bytes: usize = all.piles.iter().flat_map(|p| &p.packed).map(|block| block.bytes.len()).sum();
        assert!(bytes < 4 << 20, "{bytes} bytes");
        let rows: Vec<SetAside> = all.iter().collect();
        assert_eq!((rows.len(), &*rows[0].file, &*rows[0].rooms), (300_001, "a.csv", "attic"));
        for (line, row) in (1..).zip(&rows[1..]) {
            let expected = if line % 2 == 1 { ("bath; attic", 2) } else { ("bath", 1) };
            assert_eq!((row.line, (&*row.rooms, row.times)), (line, expected));
            assert_eq!((row.text.as_str(), row.detail.told().as_str()), ("2026-01-05,é", "column \"T\""));
        }
    }

    #[test]
    fn a_long_line_is_cut_between_letters() {
        assert_eq!(cut(&"é".repeat(300)), "é".repeat(LETTERS));
        assert_eq!(cut("short"), "short");
    }
}
