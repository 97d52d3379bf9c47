//! Bytes → letters: what a text is encoded in.

use std::borrow::Cow;

use encoding_rs::{Encoding, UTF_16BE, UTF_16LE};

/// The text of UTF-8 or UTF-16, by its mark, its zero bytes or its validity; `None` where it is neither.
pub(crate) fn unicode(bytes: &[u8]) -> Option<Cow<'_, str>> {
    let stated = Encoding::for_bom(bytes).map(|(encoding, _)| encoding).or_else(|| wide(bytes));
    match stated {
        Some(encoding) => {
            let (text, damaged) = encoding.decode_with_bom_removal(bytes);
            (!damaged).then_some(text)
        }
        None => std::str::from_utf8(bytes).ok().map(Cow::Borrowed),
    }
}

/// An encoding of two bytes per letter, told from its zero bytes.
pub(crate) fn wide(bytes: &[u8]) -> Option<&'static Encoding> {
    let head = &bytes[..bytes.len().min(4096)];
    let zeros = |first: usize| head.iter().skip(first).step_by(2).filter(|b| **b == 0).count();
    let half = head.len() / 2;
    // Plain letters have a zero in one half of each pair and none in the other; zeros all over are no text.
    if half > 1 && zeros(1) * 3 > half * 2 && zeros(0) * 10 < half {
        Some(UTF_16LE)
    } else if half > 1 && zeros(0) * 3 > half * 2 && zeros(1) * 10 < half {
        Some(UTF_16BE)
    } else {
        None
    }
}
