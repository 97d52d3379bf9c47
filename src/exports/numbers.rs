//! Written numbers → `f64`.

use crate::units::TemperatureUnit;

/// What a cell of a value column holds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Cell {
    /// A number, and the unit written beside it.
    Number(f64, Option<TemperatureUnit>),
    /// Nothing, or a mark that says so.
    Missing,
    /// Something else.
    Unreadable,
}

/// Powers of ten that `f64` holds exactly.
const POWERS: [f64; 16] =
    [1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15];

/// Reads a cell; `decimal` is the mark between whole and fraction.
///
/// Up to 15 digits are exact by one division (both numbers are exact in `f64`); longer ones go to the standard parser.
pub(super) fn parse(cell: &str, decimal: u8) -> Cell {
    match plain(cell.as_bytes(), 0, decimal) {
        Some((value, end)) if end == cell.len() => Cell::Number(value, None),
        _ => parse_slow(cell, decimal),
    }
}

/// The plain number of at most 15 digits that starts at a place, and where it ends; `None` where there is none.
#[inline]
pub(super) fn plain(bytes: &[u8], from: usize, decimal: u8) -> Option<(f64, usize)> {
    let sign = bytes.get(from).copied();
    let negative = sign == Some(b'-');
    let start = from + usize::from(negative || sign == Some(b'+'));
    let (value, length) = short(bytes, start, decimal).or_else(|| digit_by_digit(bytes, start, decimal))?;
    Some((if negative { -value } else { value }, start + length))
}

/// A number without sign of at most seven digits, from eight characters at once, and its length; `None` where there is none,
/// or fewer than eight characters are left.
#[inline]
pub(super) fn short(bytes: &[u8], from: usize, decimal: u8) -> Option<(f64, usize)> {
    let eight = u64::from_le_bytes(bytes.get(from..from + 8)?.try_into().ok()?);
    // A digit is 0 to 9 apart from `0`; what is further apart, or not plain ASCII, gets its highest bit set.
    let apart = eight ^ 0x3030_3030_3030_3030;
    let others = (apart | ((apart & 0x7f7f_7f7f_7f7f_7f7f) + 0x7676_7676_7676_7676)) & 0x8080_8080_8080_8080;
    let first = others.trailing_zeros() / 8;
    let (length, fraction, digits) = match first {
        8 => return None,
        mark if (eight >> (8 * mark)) as u8 == decimal => {
            let end = (others & (others - 1)).trailing_zeros() / 8;
            let before = (1 << (8 * mark)) - 1;
            // Without the mark between them the digits stand side by side.
            (end, end - mark - 1, apart & before | apart >> 8 & !before)
        }
        end => (end, 0, apart),
    };
    let count = length - u32::from(length > first);
    if length == 8 || count == 0 {
        return None;
    }
    // Less than 10⁸; as a number with a sign it is converted in one step.
    let mantissa = eight_digits(digits << (8 * (8 - count))).cast_signed();
    Some((mantissa as f64 / POWERS[fraction as usize], length as usize))
}

/// Eight digits, the lowest byte the first of them, as one number: pairs, then fours, then all.
#[inline]
fn eight_digits(digits: u64) -> u64 {
    let pairs = (digits & 0x0f0f_0f0f_0f0f_0f0f).wrapping_mul((10 << 8) + 1) >> 8;
    let fours = (pairs & 0x00ff_00ff_00ff_00ff).wrapping_mul((100 << 16) + 1) >> 16;
    (fours & 0x0000_ffff_0000_ffff).wrapping_mul((10_000 << 32) + 1) >> 32
}

fn digit_by_digit(bytes: &[u8], from: usize, decimal: u8) -> Option<(f64, usize)> {
    let mut at = from;
    let (mut mantissa, mut digits, mut mark_at) = (0_u64, 0_usize, None);
    while let Some(byte) = bytes.get(at) {
        let digit = byte.wrapping_sub(b'0');
        if digit < 10 {
            mantissa = mantissa * 10 + u64::from(digit);
            digits += 1;
            if digits > 15 {
                return None;
            }
        } else if *byte == decimal && mark_at.is_none() {
            mark_at = Some(at);
        } else {
            break;
        }
        at += 1;
    }
    if digits == 0 {
        return None;
    }
    let fraction = mark_at.map_or(0, |mark| at - mark - 1);
    Some((mantissa as f64 / POWERS[fraction], at - from))
}

fn parse_slow(cell: &str, decimal: u8) -> Cell {
    if let Some(rest) = cell.strip_prefix('−') {
        return match parse(rest, decimal) {
            Cell::Number(x, unit) => Cell::Number(-x, unit),
            other => other,
        };
    }
    if is_missing(cell) {
        return Cell::Missing;
    }
    let end = cell
        .find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | ',' | '+' | '-' | 'e' | 'E')))
        .unwrap_or(cell.len());
    let (number, rest) = cell.split_at(end);
    let unit = match rest.trim() {
        "" | "°" | "º" | "˚" => None,
        text => match TemperatureUnit::parse(text) {
            Some(unit) => Some(unit),
            None => return Cell::Unreadable,
        },
    };
    let foreign = if decimal == b',' { '.' } else { ',' };
    if number.contains(foreign) {
        return Cell::Unreadable;
    }
    match number.replace(',', ".").parse::<f64>() {
        Ok(value) if value.is_finite() => Cell::Number(value, unit),
        _ => Cell::Unreadable,
    }
}

/// Whether a cell says that there is no value: empty, dashes, `NaN`, `NA`, `null`.
pub(super) fn is_missing(cell: &str) -> bool {
    cell.bytes().all(|b| b == b'-')
        || ["nan", "na", "n/a", "null", "none"].iter().any(|m| cell.eq_ignore_ascii_case(m))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_read_to_the_last_digit() {
        for text in
            ["21.43", "-0.5", "+3", "19.890000000000001", "6.5999999999999996e+00", "0.1", ".5", "70."]
        {
            assert_eq!(parse(text, b'.'), Cell::Number(text.parse().unwrap(), None), "{text}");
        }
        assert_eq!(parse("21,43", b','), Cell::Number(21.43, None));
        assert_eq!(parse("70.5F", b'.'), Cell::Number(70.5, Some(TemperatureUnit::Fahrenheit)));
        assert_eq!(parse("21.4 °C", b'.'), Cell::Number(21.4, Some(TemperatureUnit::Celsius)));
    }

    #[test]
    fn eight_characters_at_once_give_what_digit_by_digit_gives() {
        let ends = ["", "\n", ",45\n", ".5;x", "  \r\n", "°C,12345", "e3 abcd", "\u{2212}1234567"];
        for number in [
            "21.43", "5", "0.1", ".5", "70.", "123456", "1234567", "12345678", "0021.430", "9.876543", ".",
            "", "00.00",
        ] {
            for end in ends {
                let text = format!("{number}{end}");
                for decimal in [b'.', b','] {
                    let slow = digit_by_digit(text.as_bytes(), 0, decimal);
                    let short = short(text.as_bytes(), 0, decimal);
                    assert!(short.is_none() || short == slow, "{text:?}: {short:?}, {slow:?}");
                    let clear = decimal == b'.'
                        && text.len() >= 8
                        && (1..=5).contains(&number.len())
                        && number != ".";
                    assert!(!clear || short.is_some(), "{text:?} is not left to the slow way");
                }
            }
        }
    }

    #[test]
    fn no_value_is_not_a_bad_value() {
        for text in ["", "---", "NaN", "-", "n/a"] {
            assert_eq!(parse(text, b'.'), Cell::Missing, "{text:?}");
        }
        for text in ["abc", "21,4", "21.4.5", "1e999", "21 x", "+", "."] {
            assert_eq!(parse(text, b'.'), Cell::Unreadable, "{text:?}");
        }
    }
}
