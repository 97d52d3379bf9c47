//! Curly quotes and non-breaking blanks of a word processor → those that TOML knows.

use std::borrow::Cow;

use super::walk::UNBREAKABLE;

const DOUBLE: [char; 4] = ['“', '”', '„', '‟'];
const SINGLE: [char; 4] = ['‘', '’', '‚', '‛'];

/// Where a place of the text lies.
enum Within {
    Nothing,
    Comment,
    /// A text in straight quotes.
    Text(char),
    /// A text in three straight quotes.
    Long(char),
    /// A text in quotes of a word processor.
    Curly(&'static [char]),
}

/// The text with straight quotes around its values and plain blanks between them; texts and comments stay as they are.
///
/// A backslash between curly quotes is a backslash: nobody who writes them thinks of escapes. Lines stay lines.
pub(super) fn straight(text: &str) -> Cow<'_, str> {
    if !text.contains(DOUBLE) && !text.contains(SINGLE) && !text.contains(UNBREAKABLE) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len());
    let mut within = Within::Nothing;
    let mut rest = text;
    while let Some(c) = rest.chars().next() {
        let after = &rest[c.len_utf8()..];
        let (taken, next) = one(&within, c, after, &mut out);
        rest = &after[taken..];
        within = next.unwrap_or(within);
    }
    Cow::Owned(out)
}

/// Writes one character; the answer is how many bytes after it were written too, and where the next one lies if elsewhere.
fn one(within: &Within, c: char, after: &str, out: &mut String) -> (usize, Option<Within>) {
    let thrice = |quote: char| after.starts_with([quote, quote].iter().collect::<String>().as_str());
    match (within, c) {
        (Within::Comment | Within::Text(_) | Within::Curly(_), '\n') => push(out, c, Within::Nothing),
        (Within::Nothing, '#') => push(out, c, Within::Comment),
        (Within::Nothing, '"' | '\'') if thrice(c) => thrice_pushed(out, c, Within::Long(c)),
        (Within::Nothing, '"' | '\'') => push(out, c, Within::Text(c)),
        (Within::Nothing, c) if DOUBLE.contains(&c) => push(out, '"', Within::Curly(&DOUBLE)),
        (Within::Nothing, c) if SINGLE.contains(&c) => push(out, '"', Within::Curly(&SINGLE)),
        (Within::Nothing, c) if UNBREAKABLE.contains(&c) => {
            out.push(' ');
            (0, None)
        }
        (Within::Text('"') | Within::Long('"'), '\\') => {
            let escaped = after.chars().next().filter(|c| *c != '\n');
            out.push(c);
            out.extend(escaped);
            (escaped.map_or(0, char::len_utf8), None)
        }
        (Within::Text(quote), c) if c == *quote => push(out, c, Within::Nothing),
        // Opened straight, closed curly.
        (Within::Text('"'), c) if DOUBLE.contains(&c) && ends_the_line(after) => {
            push(out, '"', Within::Nothing)
        }
        (Within::Long(quote), c) if c == *quote && thrice(c) => thrice_pushed(out, c, Within::Nothing),
        (Within::Curly(_), '\\') => {
            out.push_str("\\\\");
            (0, None)
        }
        (Within::Curly(own), c) if own.contains(&c) || c == '"' => push(out, '"', Within::Nothing),
        (_, c) => {
            out.push(c);
            (0, None)
        }
    }
}

fn push(out: &mut String, c: char, next: Within) -> (usize, Option<Within>) {
    out.push(c);
    (0, Some(next))
}

fn thrice_pushed(out: &mut String, c: char, next: Within) -> (usize, Option<Within>) {
    out.extend([c, c, c]);
    (2, Some(next))
}

/// Whether no straight quote follows on the line.
fn ends_the_line(after: &str) -> bool {
    !after.lines().next().unwrap_or_default().contains('"')
}

#[cfg(test)]
mod tests {
    use super::straight;

    #[test]
    fn quotes_around_values_become_straight_and_those_within_texts_stay() {
        for (written, want) in [
            ("name = “Alder Row”", "name = \"Alder Row\""),
            ("name = „Alder Row“ # „so“", "name = \"Alder Row\" # „so“"),
            ("name = ‘Alder Row’", "name = \"Alder Row\""),
            ("name = \"Alder Row”", "name = \"Alder Row\""),
            ("name = \"“Alder” Row\"", "name = \"“Alder” Row\""),
            ("name = “Alder’s Row”", "name = \"Alder’s Row\""),
            ("exports = “C:\\raw”", "exports = \"C:\\\\raw\""),
            ("a\u{a0}= \"20\u{a0}°C\"", "a = \"20\u{a0}°C\""),
            ("a = \"\"\"“x”\"\"\"\nb = “y”", "a = \"\"\"“x”\"\"\"\nb = \"y\""),
            ("a = \"\\\"“\"\nb = '’'\nc = “”", "a = \"\\\"“\"\nb = '’'\nc = \"\""),
        ] {
            assert_eq!(straight(written), want);
        }
    }
}
