//! How the values of a column become bytes: plain functions, one for each encoding of the format that is used.
//!
//! # Source
//! Apache Parquet format, encodings: `DELTA_BINARY_PACKED`, `BYTE_STREAM_SPLIT`, dictionary encoding, and the hybrid of
//! run-length encoding and bit-packing.

use super::real::Real;

/// A whole number as ULEB128: seven bits per byte, the lowest first.
fn uleb128(out: &mut Vec<u8>, mut rest: u64) {
    while rest >= 0x80 {
        out.push((rest & 0x7f) as u8 | 0x80);
        rest >>= 7;
    }
    out.push(rest as u8);
}

/// A number with a sign as zigzag ULEB128: the sign goes into the lowest bit.
fn zigzag(out: &mut Vec<u8>, number: i64) {
    uleb128(out, ((number << 1) ^ (number >> 63)).cast_unsigned());
}

/// A run of the RLE and bit-packing hybrid: its length, and the value once.
pub(super) fn rle_run(out: &mut Vec<u8>, length: usize, value: &[u8]) {
    uleb128(out, (length as u64) << 1);
    out.extend(value);
}

/// Bit-packed numbers of the same hybrid, of so many bits each, at most 16.
pub(super) fn bit_packed(out: &mut Vec<u8>, numbers: &[u16], bits: usize) {
    let groups = numbers.len().div_ceil(8);
    uleb128(out, (groups as u64) << 1 | 1);
    let (start, length) = (out.len(), groups * bits);
    // Eight numbers are written at once; what is too much is written over by the next eight.
    out.resize(start + length + 16, 0);
    for (group, eight) in numbers.chunks(8).enumerate() {
        let four = |four: &[u16]| four.iter().rev().fold(0_u64, |word, n| word << bits | u64::from(*n));
        let (low, high) = eight.split_at(eight.len().min(4));
        let word = u128::from(four(low)) | u128::from(four(high)) << (4 * bits);
        out[start + group * bits..][..16].copy_from_slice(&word.to_le_bytes());
    }
    out.truncate(start + length);
}

/// The definition levels of an optional column, 1 where a row has a value and 0 where it misses one: as RLE runs, or
/// bit-packed where that is shorter.
pub(super) fn definition_levels(present: impl ExactSizeIterator<Item = bool> + Clone) -> Vec<u8> {
    let (mut levels, rows) = (Vec::new(), present.len());
    if present.clone().filter(|present| *present).count() == rows {
        rle_run(&mut levels, rows, &[1]);
        return levels;
    }
    let bits: Vec<u16> = present.map(u16::from).collect();
    for same in bits.chunk_by(|a, b| a == b) {
        rle_run(&mut levels, same.len(), &[same[0] as u8]);
    }
    if levels.len() > rows / 8 {
        levels.clear();
        bit_packed(&mut levels, &bits, 1);
    }
    levels
}

/// Steps that share their smallest, in parts that share the bits that a step needs.
const STEPS_OF_A_BLOCK: usize = 256;
const STEPS_OF_A_PART: usize = 32;
const PARTS: usize = STEPS_OF_A_BLOCK / STEPS_OF_A_PART;

/// Whole numbers by their steps; `step` says how far a later number is from an earlier one.
pub(super) fn steps<T: Copy + Default>(numbers: &[T], step: impl Fn(T, T) -> i64) -> Vec<u8> {
    let mut out = Vec::new();
    for size in [STEPS_OF_A_BLOCK, PARTS, numbers.len()] {
        uleb128(&mut out, size as u64);
    }
    let Some((first, later)) = numbers.split_first() else {
        zigzag(&mut out, 0);
        return out;
    };
    zigzag(&mut out, step(T::default(), *first));
    for (from, to) in numbers.chunks(STEPS_OF_A_BLOCK).zip(later.chunks(STEPS_OF_A_BLOCK)) {
        let mut steps = [0; STEPS_OF_A_BLOCK];
        for ((place, from), to) in steps.iter_mut().zip(from).zip(to) {
            *place = step(*from, *to);
        }
        block(&mut out, &steps[..to.len()]);
    }
    out
}

/// A block of steps: the smallest, and how far each is above it, in whole bytes so that the compression sees them.
fn block(out: &mut Vec<u8>, steps: &[i64]) {
    let all_equal = steps.iter().fold(0, |differ, step| differ | (step ^ steps[0])) == 0;
    let smallest = if all_equal { steps[0] } else { steps.iter().copied().fold(i64::MAX, i64::min) };
    zigzag(out, smallest);
    let sizes = out.len();
    out.resize(sizes + PARTS, 0);
    for (number, part) in steps.chunks(STEPS_OF_A_PART).enumerate().filter(|_| !all_equal) {
        let mut above = [0; STEPS_OF_A_PART];
        for (above, step) in above.iter_mut().zip(part) {
            *above = step.wrapping_sub(smallest).cast_unsigned();
        }
        let size = match above.iter().fold(0, |bits, above| bits | above) {
            0 => continue,
            1..=0xff => low_bytes::<1>(out, &above),
            0x100..=0xffff => low_bytes::<2>(out, &above),
            0x1_0000..=0xffff_ffff => low_bytes::<4>(out, &above),
            _ => low_bytes::<8>(out, &above),
        };
        out[sizes + number] = 8 * size;
    }
}

/// The lowest bytes of each number, and how many they are.
fn low_bytes<const N: usize>(out: &mut Vec<u8>, numbers: &[u64; STEPS_OF_A_PART]) -> u8 {
    let start = out.len();
    out.resize(start + N * numbers.len(), 0);
    for (place, number) in out[start..].as_chunks_mut::<N>().0.iter_mut().zip(numbers) {
        place.copy_from_slice(&number.to_le_bytes()[..N]);
    }
    N as u8
}

/// Values split by byte: the lowest byte of all, then the next one.
pub(super) fn split<T: Copy>(values: &[T], bits: impl Fn(T) -> u64) -> Vec<u8> {
    let mut out = Vec::with_capacity(size_of_val(values));
    for byte in 0..size_of::<T>() {
        out.extend(values.iter().map(|x| (bits(*x) >> (8 * byte)) as u8));
    }
    out
}

/// With more different values than this, their places are as long as what compression leaves of the values.
const MOST_DIFFERENT: usize = 8192;
const SLOTS: usize = 2 * MOST_DIFFERENT;
const VACANT: u16 = u16::MAX;
/// Values a quarter of a hundredth apart, finer than loggers write them, have slots beside each other: a room keeps to few of
/// them.
const SLOTS_PER_UNIT: f64 = 400.0;
/// Slots that are looked at for a value; where they are all taken, values lie closer than the steps of a logger.
const SLOTS_OF_A_VALUE: usize = 32;

/// Values of which few different ones occur, as those of a logger with its steps.
pub(super) struct Dictionary<T> {
    /// Each different value, in the order in which they come.
    pub(super) different: Vec<T>,
    /// Which of them each row has.
    pub(super) places: Vec<u16>,
}

impl<T: Real> Dictionary<T> {
    /// `None` where too many different values occur, or too close to each other.
    pub(super) fn of(values: &[T]) -> Option<Self> {
        let mut slots = [VACANT; SLOTS];
        let mut different: Vec<T> = Vec::new();
        let mut places = vec![0; values.len()];
        for (place, x) in places.iter_mut().zip(values) {
            let first = (x.double() * SLOTS_PER_UNIT + 0.5) as i64 as usize;
            let (mut slot, mut further) = (first % SLOTS, 0);
            while slots[slot] != VACANT && different[usize::from(slots[slot])].bits() != x.bits() {
                further += 1;
                if further == SLOTS_OF_A_VALUE {
                    return None;
                }
                slot = (slot + 1) % SLOTS;
            }
            if slots[slot] == VACANT {
                if different.len() == MOST_DIFFERENT {
                    return None;
                }
                slots[slot] = different.len() as u16;
                different.push(*x);
            }
            *place = slots[slot];
        }
        Some(Self { different, places })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A number of so many bits, from any place in the bytes.
    fn bits_at(bytes: &[u8], at: usize, bits: usize) -> u64 {
        (0..bits).map(|k| u64::from(bytes[(at + k) / 8] >> ((at + k) % 8) & 1) << k).sum()
    }

    #[test]
    fn packed_numbers_follow_each_other_bit_by_bit() {
        for bits in 1..=16 {
            for length in [1, 7, 8, 9, 83] {
                let numbers: Vec<u16> =
                    (0..length).map(|i| (i as u64 * 40_503 % (1 << bits)) as u16).collect();
                let mut out = Vec::new();
                bit_packed(&mut out, &numbers, bits);
                let groups = numbers.len().div_ceil(8);
                assert_eq!(out.len(), 1 + groups * bits);
                assert_eq!(usize::from(out[0]), groups << 1 | 1);
                for (i, number) in numbers.iter().enumerate() {
                    assert_eq!(bits_at(&out[1..], i * bits, bits), u64::from(*number));
                }
            }
        }
    }

    #[test]
    fn levels_are_runs_or_a_bit_each() {
        assert_eq!(definition_levels([true; 300].into_iter()), [0xd8, 0x04, 1]);
        assert_eq!(definition_levels((0..300).map(|i| i >= 200)), [0x90, 0x03, 0, 0xc8, 0x01, 1]);
        assert_eq!(definition_levels((0..16).map(|i| i % 2 == 0)), [5, 0x55, 0x55]);
    }

    #[test]
    fn values_are_split_by_byte() {
        assert_eq!(split(&[0x0102_0304_u32, 0x0506_0708], u64::from), [4, 8, 3, 7, 2, 6, 1, 5]);
    }

    #[test]
    fn a_dictionary_gives_back_every_value_to_the_bit() {
        let values: Vec<f64> = (0..50_000)
            .map(|i| match i % 5 {
                0 => -0.0,
                1 => 0.0,
                2 => f64::from(i % 700) / 1000.0,
                3 => 1e300 * f64::from(i % 3),
                _ => f64::INFINITY,
            })
            .collect();
        let dictionary = Dictionary::of(&values).unwrap();
        for (place, x) in dictionary.places.iter().zip(&values) {
            assert_eq!(dictionary.different[usize::from(*place)].to_bits(), x.to_bits());
        }
        let many = |n: usize| (0..n).map(|i| i as f32 / 100.0).collect::<Vec<_>>();
        assert!(Dictionary::of(&many(MOST_DIFFERENT)).is_some());
        assert!(Dictionary::of(&many(MOST_DIFFERENT + 1)).is_none());
        let close: Vec<f32> = (0..1000).map(|i| i as f32 / 100_000.0).collect();
        assert!(Dictionary::of(&close).is_none());
    }
}
