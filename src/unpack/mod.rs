//! What a file is packed in → the texts inside.
//!
//! Compressed files, archives of exports, workbooks and columnar files all become texts of lines and cells, so that
//! one reader serves them all. Everything is read with a bound on what it may grow to.

mod archive;
mod columnar;
mod letters;
mod workbook;

use std::borrow::Cow;

use crate::error::Trouble;
use crate::guard::guarded;
use crate::texts::name;

pub(crate) use letters::{unicode, wide};

/// The most that a packed export may grow to, in bytes.
pub(crate) const MAX_UNPACKED: u64 = 512 << 20;

/// One text inside an export.
#[derive(Debug)]
pub(crate) struct Part<'b> {
    /// The sheet or member; `None` where there is only one text.
    pub(crate) name: Option<String>,
    /// Why it is lost, where it could not be taken out.
    bytes: Result<Cow<'b, [u8]>, Trouble>,
}

impl<'b> Part<'b> {
    /// Why it could not be taken out of its file, where that is so.
    pub(crate) fn lost(&self) -> Option<&Trouble> {
        self.bytes.as_ref().err()
    }

    /// Its bytes. A compressed file inside an archive is opened too; an archive in an archive is not.
    pub(crate) fn opened(self) -> Result<Cow<'b, [u8]>, Trouble> {
        match self.bytes? {
            Cow::Owned(bytes) if bytes.starts_with(&[0x1f, 0x8b]) => archive::gunzip(&bytes).map(Cow::Owned),
            bytes if bytes.starts_with(b"PK\x03\x04") => Err(Trouble::new(
                format!(
                    "\"{}\" is an archive or a workbook inside an archive",
                    name(self.name.as_deref().unwrap_or_default())
                ),
                "unpack the outer archive, and name what is inside in the roster",
            )),
            bytes => Ok(bytes),
        }
    }
}

/// Endings of files that hold several texts; `file#part` names one of them.
const HOLDERS: [&str; 6] = [".xlsx", ".xlsm", ".xls", ".ods", ".zip", ".xlsb"];

/// Splits `book.xlsx#Sheet 2` into file and part; a `#` elsewhere belongs to the name.
pub(crate) fn file_and_part(name: &str) -> (&str, Option<&str>) {
    for (at, _) in name.match_indices('#') {
        let lower = name[..at].to_lowercase();
        if HOLDERS.iter().any(|ending| lower.ends_with(ending)) {
            return (&name[..at], Some(&name[at + 1..]));
        }
    }
    (name, None)
}

/// The texts of an export.
///
/// # Errors
/// [`Trouble`] where the file is damaged, protected, or grows beyond [`MAX_UNPACKED`].
pub(crate) fn unpack(bytes: &[u8]) -> Result<Vec<Part<'_>>, Trouble> {
    let parts = match bytes {
        [0x1f, 0x8b, ..] => Ok(vec![Part { name: None, bytes: Ok(Cow::Owned(archive::gunzip(bytes)?)) }]),
        [b'P', b'K', 3, 4, ..] => careful("archive", || archive::open(bytes)),
        [0xd0, 0xcf, 0x11, 0xe0, ..] => careful("workbook", || workbook::old(bytes)),
        [b'P', b'A', b'R', b'1', ..] => careful("Parquet file", || columnar::parquet(bytes)),
        [b'A', b'R', b'R', b'O', b'W', b'1', ..] => careful("Arrow file", || columnar::arrow(bytes)),
        _ => Ok(vec![Part { name: None, bytes: Ok(Cow::Borrowed(bytes)) }]),
    }?;
    if parts.is_empty() {
        return Err(damaged("workbook", "none of its sheets can be read"));
    }
    Ok(parts)
}

/// A damaged file may take a reading library by surprise; that is no reason to stop the run.
fn careful<T>(kind: &str, open: impl FnOnce() -> Result<T, Trouble>) -> Result<T, Trouble> {
    guarded(open).unwrap_or_else(|_| Err(damaged(kind, "its structure contradicts itself")))
}

fn damaged(kind: &str, why: impl std::fmt::Display) -> Trouble {
    Trouble::new(
        format!("the {kind} is damaged or protected ({})", name(&why.to_string())),
        "open it in the program that wrote it and export it again as text",
    )
}

fn too_large() -> Trouble {
    Trouble::new(
        format!("the file unpacks to more than {} MB, and no logger writes that much", MAX_UNPACKED >> 20),
        "check where the file comes from; split a long record into several files",
    )
}

/// Gathers lines of cells, separated by tabs, up to the bound.
#[derive(Default)]
struct Lines {
    text: String,
}

impl Lines {
    fn line<'c>(&mut self, cells: impl Iterator<Item = &'c str>) -> Result<(), Trouble> {
        for (i, cell) in cells.enumerate() {
            if i > 0 {
                self.text.push('\t');
            }
            self.text.extend(cell.chars().map(|c| if matches!(c, '\t' | '\n' | '\r') { ' ' } else { c }));
        }
        self.text.push('\n');
        if self.text.len() as u64 > MAX_UNPACKED { Err(too_large()) } else { Ok(()) }
    }

    fn part(self, name: Option<String>) -> Part<'static> {
        Part { name, bytes: Ok(Cow::Owned(self.text.into_bytes())) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_part_is_named_behind_a_hash() {
        assert_eq!(file_and_part("1A/book.xlsx#Sheet 2"), ("1A/book.xlsx", Some("Sheet 2")));
        assert_eq!(file_and_part("flat #3.csv"), ("flat #3.csv", None));
        assert_eq!(file_and_part("flat #3.zip#a#b.csv"), ("flat #3.zip", Some("a#b.csv")));
    }

    #[test]
    fn plain_text_is_passed_on_as_it_is() {
        let parts = unpack(b"time,t\n").unwrap();
        assert!(matches!(parts[0].bytes, Ok(Cow::Borrowed(_))));
    }
}
