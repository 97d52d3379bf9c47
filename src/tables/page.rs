//! What stands before the bytes of a page: their sizes, their checksum, and how they are encoded.

use parquet::basic::Encoding;
use parquet::errors::{ParquetError, Result as ParquetResult};

/// What a page holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Holds {
    /// The different values of a dictionary.
    Different,
    /// Rows.
    Rows,
}

/// The header of a page with so many values, so long before it was compressed, of these bytes.
///
/// # Source
/// Apache Parquet format, `PageHeader` (`crc`: CRC-32 of the compressed bytes); Apache Thrift, compact protocol.
pub(super) fn header(
    holds: Holds,
    encoding: Encoding,
    values: usize,
    length: usize,
    bytes: &[u8],
) -> ParquetResult<Vec<u8>> {
    let mut header = Struct::default();
    header.number(1, if holds == Holds::Rows { 0 } else { 2 });
    header.number(2, small(length)?);
    header.number(3, small(bytes.len())?);
    header.number(4, crc32fast::hash(bytes).cast_signed());
    let mut of_kind = Struct::default();
    of_kind.number(1, small(values)?);
    of_kind.number(2, encoding as i32);
    match holds {
        Holds::Rows => {
            // Which values are there, and how often lists repeat (never).
            of_kind.number(3, Encoding::RLE as i32);
            of_kind.number(4, Encoding::RLE as i32);
            header.inner(5, of_kind);
        }
        Holds::Different => {
            of_kind.no(3);
            header.inner(7, of_kind);
        }
    }
    Ok(header.end())
}

fn small(number: usize) -> ParquetResult<i32> {
    i32::try_from(number).map_err(|_| ParquetError::General(format!("{number} is too much for one page")))
}

/// Fields of a structure, by rising number.
#[derive(Default)]
struct Struct {
    bytes: Vec<u8>,
    last: u8,
}

impl Struct {
    fn field(&mut self, number: u8, kind: u8) {
        self.bytes.push((number - self.last) << 4 | kind);
        self.last = number;
    }

    fn number(&mut self, number: u8, value: i32) {
        self.field(number, 5);
        let mut zigzag = (value << 1 ^ value >> 31).cast_unsigned();
        while zigzag >= 0x80 {
            self.bytes.push(zigzag as u8 | 0x80);
            zigzag >>= 7;
        }
        self.bytes.push(zigzag as u8);
    }

    fn no(&mut self, number: u8) {
        self.field(number, 2);
    }

    fn inner(&mut self, number: u8, inner: Struct) {
        self.field(number, 12);
        self.bytes.extend(inner.end());
    }

    fn end(mut self) -> Vec<u8> {
        self.bytes.push(0);
        self.bytes
    }
}
