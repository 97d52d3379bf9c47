//! Numbers as text: digit for digit what the standard library writes, sooner.

use std::io::Write as _;

/// Powers of ten up to the largest that 64 bits hold.
const TENS: [u64; 20] = {
    let mut tens = [1; 20];
    let mut at = 1;
    while at < tens.len() {
        tens[at] = tens[at - 1] * 10;
        at += 1;
    }
    tens
};

/// From here on every number is a whole one, and not every whole number is there.
const WHOLE: f64 = (1_u64 << 53) as f64;
/// The least number whose digits are found in 128 bits: it has no more places than [`TENS`] go.
const LEAST: f64 = 1.0 / (1_u64 << 10) as f64;

/// Puts a number behind what was written before, with as many digits as are needed to read the same number again.
pub(super) fn push(x: f64, out: &mut Vec<u8>) {
    let size = x.abs();
    let whole = size as u64;
    if size < WHOLE && (whole as f64).to_bits() == size.to_bits() {
        if x.is_sign_negative() {
            out.push(b'-');
        }
        push_whole(whole, out);
    } else if (LEAST..WHOLE).contains(&size) {
        if x.is_sign_negative() {
            out.push(b'-');
        }
        let (digits, places) = shortest(size);
        push_whole(digits / TENS[places], out);
        out.push(b'.');
        push_fraction(digits % TENS[places], places, out);
    } else {
        // Writing into memory does not fail.
        let _ = write!(out, "{x}");
    }
}

/// The shortest decimal nearer to a number than to any other, of several the nearest, and of two as near the larger: its
/// digits, and how many of them are places behind the point. The number is from [`LEAST`] to [`WHOLE`], and no whole one.
///
/// With a step from one number to the next of 2^-h, as many places are taken as make ten of the last place just larger
/// than the step, and one not. Of decimals with one place less at most one is nearer to the number than half a step, and
/// of those with all places at least one: the nearest. All is exact: a mantissa of 53 bits times 10^19 needs 117. Powers
/// of two, below which the steps are half as long, are decimals of few places themselves.
fn shortest(size: f64) -> (u64, usize) {
    let bits = size.to_bits();
    let mantissa = bits & ((1 << 52) - 1) | 1 << 52;
    let h = 1075 - (bits >> 52) as u32;
    let places = (1_u64 << h).ilog10() as usize + 1;
    // Everything from here on is counted in units of the last place, times 2^h.
    let scaled = u128::from(mantissa) * u128::from(TENS[places]);
    let half_step = u128::from(TENS[places] / 2);
    let below = (scaled >> h) as u64;
    let (shorter, unit) = (below / 10 * 10, 1_u128 << h);
    let above_shorter = scaled - (u128::from(shorter) << h);
    let digits = if above_shorter < half_step {
        shorter
    } else if 10 * unit - above_shorter < half_step {
        shorter + 10
    } else {
        below + u64::from((scaled & (unit - 1)) * 2 >= unit)
    };
    (digits, places)
}

/// The digits of a number at the end of a line of zeros, and how many there are; none of 0.
fn digits_of(mut number: u64) -> ([u8; 20], usize) {
    let mut line = [b'0'; 20];
    let mut from = line.len();
    while number >= 10 {
        from -= 2;
        let pair = (number % 100) as u8;
        (line[from], line[from + 1]) = (b'0' + pair / 10, b'0' + pair % 10);
        number /= 100;
    }
    if number > 0 {
        from -= 1;
        line[from] = b'0' + number as u8;
    }
    (line, line.len() - from)
}

/// Puts a whole number behind what was written before.
pub(super) fn push_whole(number: u64, out: &mut Vec<u8>) {
    let (line, count) = digits_of(number);
    out.extend_from_slice(&line[line.len() - count.max(1)..]);
}

/// Puts the places of a fraction behind what was written before, without zeros at the end.
fn push_fraction(fraction: u64, places: usize, out: &mut Vec<u8>) {
    let (line, _) = digits_of(fraction);
    let line = &line[line.len() - places..];
    let zeros = line.iter().rev().take_while(|digit| **digit == b'0').count();
    out.extend_from_slice(&line[..places - zeros]);
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn text(x: f64) -> String {
        let mut out = Vec::new();
        push(x, &mut out);
        String::from_utf8(out).unwrap()
    }

    #[test]
    fn whole_numbers_and_ends_are_written_as_the_standard_library_does() {
        let ends = [LEAST, WHOLE, 0.5, 1.0, 1e15, 1e16, 1e22, 1e300, 5e-324, f64::MAX, f64::MIN_POSITIVE];
        let ends = ends.into_iter().flat_map(|x| [x.next_down(), x, x.next_up()]);
        let odd = [0.0, f64::NAN, f64::INFINITY];
        for x in ends.chain(odd).chain((0..2000).map(f64::from)) {
            assert_eq!(text(x), format!("{x}"));
            assert_eq!(text(-x), format!("{}", -x));
        }
        for n in [0, 9, 10, 99, 100, 12_345, u64::MAX] {
            let mut out = Vec::new();
            push_whole(n, &mut out);
            assert_eq!(out, n.to_string().into_bytes());
        }
    }

    #[test]
    fn of_two_decimals_as_near_the_larger_is_written() {
        for power in 40..53 {
            for odd in (1..2000).step_by(2) {
                let x = (1_u64 << power) as f64 + f64::from(odd) / (1_u64 << (52 - power)) as f64;
                assert_eq!(text(x), format!("{x}"));
            }
        }
        assert_eq!(text((1_u64 << 49) as f64 + 0.25), "562949953421312.3");
    }

    #[test]
    fn powers_of_two_and_their_neighbours_are_written_as_the_standard_library_does() {
        for power in -80..80 {
            let x = 2_f64.powi(power);
            for x in [x.next_down(), x, x.next_up(), x * 1.5, x / 3.0] {
                assert_eq!(text(x), format!("{x}"));
            }
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig { rng_seed: proptest::test_runner::RngSeed::Fixed(5), cases: 20_000, ..ProptestConfig::default() })]
        #[test]
        fn any_number_is_written_as_the_standard_library_does(
            bits in any::<u64>(),
            exponent in 1000_u64..1080,
            tenths in -100_000_i32..100_000,
            divisor in 1_u8..13,
        ) {
            let usual = f64::from_bits(bits >> 12 | exponent << 52);
            let quotient = f64::from(tenths) / f64::from(divisor);
            for x in [f64::from_bits(bits), usual, -usual, f64::from(tenths) / 10.0, quotient] {
                prop_assert_eq!(text(x), format!("{x}"));
            }
        }
    }
}
