//! A column of a row group: its pages, one after the other, and what the footer says of it.

use std::borrow::Cow;
use std::cmp::Ordering;

use bytes::Bytes;
use parquet::basic::{Compression, Encoding, ZstdLevel};
use parquet::column::writer::ColumnCloseResult;
use parquet::errors::Result as ParquetResult;
use parquet::file::metadata::ColumnChunkMetaData;
use parquet::file::statistics::Statistics;
use parquet::schema::types::ColumnDescPtr;
use zstd::bulk::Compressor;

use super::encodings::{Dictionary, bit_packed, definition_levels, rle_run, split, steps};
use super::page::{Holds, header};
use super::page_index::{Ends, PageIndex};
use super::real::Real;
use super::runs::Runs;

/// What compresses pages; one does for all columns of a group.
pub(super) type Zstd = Compressor<'static>;

/// A column of a row group, ready to be appended to a file.
pub(super) type Chunk = (Bytes, ColumnCloseResult);

/// Bytes of values on a page, before they are compressed; small enough to stay near while that is done.
const BYTES_OF_A_PAGE: usize = 1 << 18;
/// Rows on a page where a value takes about two bytes.
const ROWS_OF_A_PAGE: usize = BYTES_OF_A_PAGE / 2;
/// Rows that show whether compression helps.
const ROWS_OF_A_SAMPLE: usize = 8192;

/// What is compressed how hard.
#[derive(Clone, Copy, PartialEq)]
enum Squeeze {
    /// Not at all: it is as short as it gets.
    Not,
    /// With an eye to what repeats itself only: the rest is noise.
    Lightly,
    /// As zstd's level 1 does.
    Well,
}

impl Squeeze {
    const fn level(self) -> i32 {
        match self {
            Squeeze::Lightly => -1,
            Squeeze::Not | Squeeze::Well => 1,
        }
    }
}

/// Pages of a column in the making.
struct Pages<'z> {
    column: ColumnDescPtr,
    squeeze: Squeeze,
    zstd: &'z mut Zstd,
    written: Vec<u8>,
    sizes: (usize, usize),
    rows: usize,
    encoding: Encoding,
    /// Where the page of different values starts, and the first of rows.
    starts: (Option<u64>, Option<u64>),
    index: PageIndex,
}

impl<'z> Pages<'z> {
    /// Starts a column.
    fn start(
        column: ColumnDescPtr,
        encoding: Encoding,
        squeeze: Squeeze,
        zstd: &'z mut Zstd,
    ) -> ParquetResult<Self> {
        zstd.set_compression_level(squeeze.level())?;
        Ok(Self {
            index: PageIndex::of(column.physical_type()),
            column,
            squeeze,
            zstd,
            written: Vec::new(),
            sizes: (0, 0),
            rows: 0,
            encoding,
            starts: (None, None),
        })
    }

    /// The different values of a dictionary, which come before all rows.
    fn different(&mut self, number: usize, values: Vec<u8>) -> ParquetResult<()> {
        let length = values.len();
        let bytes = self.squeezed(values)?;
        self.starts.0 = Some(self.write(Holds::Different, number, length, &bytes)?);
        Ok(())
    }

    /// Rows, as the encoding has them; `levels` say which of them have a value, in a column that may miss some.
    fn rows(
        &mut self,
        number: usize,
        levels: impl FnOnce() -> Vec<u8>,
        values: &[u8],
        ends: Ends,
    ) -> ParquetResult<()> {
        let mut bytes = Vec::new();
        if self.column.max_def_level() > 0 {
            let levels = levels();
            bytes.reserve(4 + levels.len() + values.len());
            bytes.extend((levels.len() as u32).to_le_bytes());
            bytes.extend(levels);
        }
        bytes.extend(values);
        let length = bytes.len();
        let bytes = self.squeezed(bytes)?;
        let start = self.write(Holds::Rows, number, length, &bytes)?;
        self.starts.1.get_or_insert(start);
        self.index.add(number, start, self.written.len() - start as usize, ends);
        self.rows += number;
        Ok(())
    }

    fn squeezed(&mut self, bytes: Vec<u8>) -> ParquetResult<Vec<u8>> {
        if self.squeeze == Squeeze::Not { Ok(bytes) } else { Ok(self.zstd.compress(&bytes)?) }
    }

    /// Where the page starts.
    fn write(&mut self, holds: Holds, values: usize, length: usize, bytes: &[u8]) -> ParquetResult<u64> {
        let encoding = if holds == Holds::Rows { self.encoding } else { Encoding::PLAIN };
        let header = header(holds, encoding, values, length, bytes)?;
        let start = self.written.len() as u64;
        self.written.extend(&header);
        self.written.extend(bytes);
        self.sizes = (self.sizes.0 + header.len() + length, self.sizes.1 + header.len() + bytes.len());
        Ok(start)
    }

    fn finish(self, statistics: Statistics) -> ParquetResult<Chunk> {
        let mut encodings = vec![Encoding::RLE, self.encoding];
        encodings.extend(self.starts.0.map(|_| Encoding::PLAIN));
        let compression = match self.squeeze {
            Squeeze::Not => Compression::UNCOMPRESSED,
            Squeeze::Lightly | Squeeze::Well => Compression::ZSTD(ZstdLevel::default()),
        };
        let metadata = ColumnChunkMetaData::builder(self.column)
            .set_encodings(encodings)
            .set_compression(compression)
            .set_num_values(self.rows as i64)
            .set_total_uncompressed_size(self.sizes.0 as i64)
            .set_total_compressed_size(self.sizes.1 as i64)
            .set_dictionary_page_offset(self.starts.0.map(u64::cast_signed))
            .set_data_page_offset(self.starts.1.unwrap_or(0).cast_signed())
            .set_statistics(statistics)
            .build()?;
        let (column_index, offset_index) = self.index.end()?;
        let close = ColumnCloseResult {
            bytes_written: self.sizes.1 as u64,
            rows_written: self.rows as u64,
            metadata,
            bloom_filter: None,
            column_index: Some(column_index),
            offset_index: Some(offset_index),
        };
        Ok((self.written.into(), close))
    }
}

/// A column of runs: a page with the different values, and one or several with the runs. Values that do not come again
/// once their run ended (rooms, one after the other) have a page each, so that a reader can pass over the others.
pub(super) fn of_runs<T: PartialEq>(
    column: ColumnDescPtr,
    runs: &Runs<T>,
    told: &Told<'_, T>,
    statistics: Statistics,
    zstd: &mut Zstd,
) -> ParquetResult<Chunk> {
    let different = runs.different();
    let mut pages = Pages::start(column, Encoding::RLE_DICTIONARY, Squeeze::Not, zstd)?;
    pages.different(different.len(), different.iter().flat_map(told.plain).collect())?;
    let bits = bits_of_places(different.len());
    let all: Vec<(Option<u32>, usize)> = runs.iter().collect();
    let apart = all.len() <= different.len();
    for of_page in all.chunks(if apart { 1 } else { all.len().max(1) }) {
        let mut places = vec![bits as u8];
        for (place, length) in of_page.iter().filter_map(|(place, length)| Some(((*place)?, *length))) {
            rle_run(&mut places, length, &place.to_le_bytes()[..bits.div_ceil(8)]);
        }
        let levels = || {
            let mut levels = Vec::new();
            of_page
                .iter()
                .for_each(|(place, length)| rle_run(&mut levels, *length, &[u8::from(place.is_some())]));
            levels
        };
        let number = |missing: bool| {
            let of_kind = of_page.iter().filter(|(place, _)| !missing || place.is_none());
            of_kind.map(|(_, length)| length).sum()
        };
        let here = || of_page.iter().filter_map(|(place, _)| different.get((*place)? as usize));
        let values = here().min_by(|a, b| (told.order)(a, b)).zip(here().max_by(|a, b| (told.order)(a, b)));
        let ends = Ends {
            values: values.map(|(low, high)| ((told.bare)(low), (told.bare)(high))),
            missing: number(true),
        };
        pages.rows(number(false), levels, &places, ends)?;
    }
    pages.finish(statistics)
}

/// How values of a column of runs are told.
pub(super) struct Told<'f, T> {
    /// As they stand on a page.
    pub(super) plain: &'f dyn Fn(&T) -> Vec<u8>,
    /// As an index has them.
    pub(super) bare: &'f dyn Fn(&T) -> Vec<u8>,
    /// Which is lower.
    pub(super) order: &'f dyn Fn(&T, &T) -> Ordering,
}

/// A column of whole numbers, none of them missing, by their steps; a page ends where a part of the rows does.
pub(super) fn of_steps<T: Copy + Default + PartialOrd>(
    column: ColumnDescPtr,
    (numbers, parts): (&[T], &[usize]),
    told: (impl Fn(T, T) -> i64, impl Fn(T) -> Vec<u8>),
    statistics: Statistics,
    zstd: &mut Zstd,
) -> ParquetResult<Chunk> {
    let mut pages = Pages::start(column, Encoding::DELTA_BINARY_PACKED, Squeeze::Well, zstd)?;
    for page in paged(numbers, parts, ROWS_OF_A_PAGE) {
        let values = ends(page).map(|(low, high)| (told.1(low), told.1(high)));
        pages.rows(page.len(), Vec::new, &steps(page, &told.0), Ends { values, missing: 0 })?;
    }
    pages.finish(statistics)
}

/// Rows page by page: so many together at most, and a new page where a part of the rows begins.
fn paged<'v, T>(values: &'v [T], parts: &[usize], most: usize) -> impl Iterator<Item = &'v [T]> {
    let mut rest = values;
    let parts = parts.iter().map(move |rows| rest.split_off(..(*rows).min(rest.len())).unwrap_or_default());
    let parts: Vec<&[T]> = parts.collect();
    parts.into_iter().flat_map(move |part| part.chunks(most))
}

/// What the footer says of numbers that are all there, and of how many others are missing.
///
/// # Source
/// Apache Parquet format, `ColumnOrder`: a lowest of zero is written as −0, a highest of zero as +0.
pub(super) fn statistics_of<T: Real>(present: &[T], missing: usize) -> Statistics {
    let ends = ends(present).map(|(low, high)| (low.double(), high.double()));
    T::statistics(ends.map(|(low, high)| (lowest(low), high + 0.0)).unzip(), missing as u64)
}

/// The same of a page, of which the values that are there are given.
fn ends_of<T: Real>(present: &[T], missing: usize) -> Ends {
    let bytes = |x: f64| T::narrow(x).bits().to_le_bytes()[..size_of::<T>()].to_vec();
    let signed = |(low, high): (T, T)| (lowest(low.double()), high.double() + 0.0);
    Ends { values: ends(present).map(signed).map(|(low, high)| (bytes(low), bytes(high))), missing }
}

/// The same, from rows of which some may be missing.
fn ends_with_gaps<T: Real>(page: &[T]) -> Ends {
    let present: Vec<T> = page.iter().copied().filter(is_there).collect();
    ends_of(&present, page.len() - present.len())
}

/// A lowest value as statistics have it.
pub(super) fn lowest(x: f64) -> f64 {
    if x == 0.0 { -0.0 } else { x }
}

/// Numbers as they are, one after the other.
pub(super) fn plain<T: Real>(numbers: &[T]) -> Vec<u8> {
    numbers.iter().flat_map(|x| x.bits().to_le_bytes().into_iter().take(size_of::<T>())).collect()
}

fn is_there<T: Real>(x: &T) -> bool {
    !x.double().is_nan()
}

/// A column of real numbers, NaN where missing: by dictionary where few different ones occur, else split by byte.
pub(super) fn of_reals<T: Real>(
    column: ColumnDescPtr,
    values: &[T],
    parts: &[usize],
    zstd: &mut Zstd,
) -> ParquetResult<Chunk> {
    let missing = values.iter().filter(|x| !is_there(*x)).count();
    let present = if missing == 0 {
        Cow::Borrowed(values)
    } else {
        Cow::Owned(values.iter().copied().filter(is_there).collect())
    };
    let statistics = |different: &[T]| statistics_of(different, missing);
    match Dictionary::of(&present) {
        Some(dictionary) => {
            let statistics = statistics(&dictionary.different);
            by_dictionary(column, (values, parts), &dictionary, statistics, zstd)
        }
        None => by_byte(column, (values, parts), &present, statistics(&present), zstd),
    }
}

fn by_dictionary<T: Real>(
    column: ColumnDescPtr,
    (values, parts): (&[T], &[usize]),
    dictionary: &Dictionary<T>,
    statistics: Statistics,
    zstd: &mut Zstd,
) -> ParquetResult<Chunk> {
    let bits = bits_of_places(dictionary.different.len());
    let bytes = |places: &[u16]| {
        let mut bytes = vec![bits as u8];
        bit_packed(&mut bytes, places, bits);
        bytes
    };
    // Of loggers with fine steps, zstd makes hardly less.
    let sample = bytes(&dictionary.places[..dictionary.places.len().min(ROWS_OF_A_SAMPLE)]);
    zstd.set_compression_level(Squeeze::Well.level())?;
    let helps = zstd.compress(&sample)?.len() * 10 < sample.len() * 9;
    let squeeze = if helps { Squeeze::Well } else { Squeeze::Not };
    let mut pages = Pages::start(column, Encoding::RLE_DICTIONARY, squeeze, zstd)?;
    pages.different(dictionary.different.len(), plain(&dictionary.different))?;
    let mut places = &dictionary.places[..];
    for page in paged(values, parts, ROWS_OF_A_PAGE) {
        let here = places.split_off(..page.iter().filter(|x| is_there(*x)).count()).unwrap_or_default();
        pages.rows(
            page.len(),
            || definition_levels(page.iter().map(is_there)),
            &bytes(here),
            ends_with_gaps(page),
        )?;
    }
    pages.finish(statistics)
}

fn by_byte<T: Real>(
    column: ColumnDescPtr,
    (values, parts): (&[T], &[usize]),
    present: &[T],
    statistics: Statistics,
    zstd: &mut Zstd,
) -> ParquetResult<Chunk> {
    let mut pages = Pages::start(column, Encoding::BYTE_STREAM_SPLIT, Squeeze::Lightly, zstd)?;
    let mut present = present;
    for page in paged(values, parts, BYTES_OF_A_PAGE / size_of::<T>()) {
        let here = present.split_off(..page.iter().filter(|x| is_there(*x)).count()).unwrap_or_default();
        let ends = ends_of(here, page.len() - here.len());
        pages.rows(
            page.len(),
            || definition_levels(page.iter().map(is_there)),
            &split(here, T::bits),
            ends,
        )?;
    }
    pages.finish(statistics)
}

/// Bits of a place among so many different values.
fn bits_of_places(different: usize) -> usize {
    (usize::BITS - different.saturating_sub(1).leading_zeros()).max(1) as usize
}

/// The lowest and the highest of some numbers.
pub(super) fn ends<T: Copy + PartialOrd>(numbers: &[T]) -> Option<(T, T)> {
    // Several of each side by side, so that none waits for the one before.
    const LANES: usize = 8;
    let first = *numbers.first()?;
    let (mut lows, mut highs) = ([first; LANES], [first; LANES]);
    let (some, rest) = numbers.as_chunks::<LANES>();
    for some in some {
        for ((low, high), x) in lows.iter_mut().zip(&mut highs).zip(some) {
            *low = if *x < *low { *x } else { *low };
            *high = if *x > *high { *x } else { *high };
        }
    }
    let all = || lows.iter().chain(&highs).chain(rest).copied();
    let low = all().fold(first, |a, b| if b < a { b } else { a });
    let high = all().fold(first, |a, b| if b > a { b } else { a });
    Some((low, high))
}
