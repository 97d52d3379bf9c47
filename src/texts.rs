//! Texts out of inputs: safe to show, marked in messages, guarded in tables that spreadsheets open.

use std::borrow::Cow;

/// Characters that act on a terminal or a page in place of standing in it: controls, marks of direction, breaks of lines
/// and paragraphs, and what no font shows.
fn acts(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{61c}' | '\u{200b}' | '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}')
        || matches!(c, '\u{feff}' | '\u{fff9}'..='\u{fffb}' | '\u{e0000}'..='\u{e007f}')
}

fn spelled(text: &str, stays: impl Fn(char) -> bool) -> Cow<'_, str> {
    if !text.chars().any(|c| acts(c) && !stays(c)) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len() + 8);
    for c in text.chars() {
        match c {
            _ if stays(c) || !acts(c) => out.push(c),
            '\n' => out.push_str("\\n"),
            '\r' => out.push_str("\\r"),
            '\t' => out.push_str("\\t"),
            _ => out.push_str(&format!("\\u{{{:x}}}", u32::from(c))),
        }
    }
    Cow::Owned(out)
}

/// A text in one line in which nothing acts: such characters are spelled out.
///
/// # Example
/// ```
/// assert_eq!(evenrooms::texts::shown("flat\u{1b}[31m\n7"), "flat\\u{1b}[31m\\n7");
/// ```
pub fn shown(text: &str) -> Cow<'_, str> {
    spelled(text, |_| false)
}

/// The same for a text of several lines.
pub fn shown_lines(text: &str) -> Cow<'_, str> {
    spelled(text, |c| c == '\n')
}

/// The same for a text in JSON, which has letters of its own to spell them.
pub fn shown_json(text: &str) -> Cow<'_, str> {
    let stays = |c: char| c == '\n' || !acts(c);
    if text.chars().all(stays) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len() + 8);
    for c in text.chars() {
        match stays(c) {
            true => out.push(c),
            false => {
                c.encode_utf16(&mut [0; 2]).iter().for_each(|unit| out.push_str(&format!("\\u{unit:04x}")))
            }
        }
    }
    Cow::Owned(out)
}

/// Begins the text of a cell.
const CELL: char = '\u{2}';
/// Begins a part of a sentence that only the text of a cell fills.
const ABOUT_CELL: char = '\u{5}';
/// Begins a name: of a column, a part, a logger.
const NAME: char = '\u{3}';
/// Ends what was begun.
const END: char = '\u{4}';

/// The text of a cell for a message.
pub fn cell(text: &str) -> String {
    format!("{CELL}{}{END}", shown(text))
}

/// A part of a sentence for a message that says nothing without the text of a cell.
pub fn about_cell(part: &str) -> String {
    format!("{ABOUT_CELL}{}{END}", shown(part))
}

/// A name out of an input for a message.
pub fn name(text: &str) -> String {
    format!("{NAME}{}{END}", shown(text))
}

/// Words for people that know which parts of them are texts out of inputs.
///
/// Such parts are put in by [`cell`], [`about_cell`] and [`name`].
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Words(String);

impl Words {
    /// All of them, for the terminal and for tables.
    pub fn told(&self) -> String {
        self.with(|_, text| text)
    }

    /// Without the texts of cells, for pages that travel.
    pub fn without_cells(&self) -> String {
        self.with(|kind, text| match kind {
            CELL => "…",
            ABOUT_CELL => "",
            _ => text,
        })
    }

    /// Without any text out of an input.
    #[must_use]
    pub fn without_names(&self) -> Self {
        Self(self.with(|kind, _| if kind == ABOUT_CELL { "" } else { "…" }))
    }

    /// With the marks of their parts, to become a part of other words.
    pub fn marked(&self) -> &str {
        &self.0
    }

    /// Whether a text is in them.
    pub fn contains(&self, text: &str) -> bool {
        self.told().contains(text)
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    fn with<'s>(&'s self, told: impl Fn(char, &'s str) -> &'s str) -> String {
        let mut out = String::with_capacity(self.0.len());
        let mut rest = self.0.as_str();
        while let Some(at) = rest.find([CELL, ABOUT_CELL, NAME]) {
            let kind = rest[at..].chars().next().unwrap_or(NAME);
            out.push_str(&rest[..at]);
            let text = &rest[at + kind.len_utf8()..];
            let end = text.find(END).unwrap_or(text.len());
            out.push_str(told(kind, &text[..end]));
            rest = text.get(end + END.len_utf8()..).unwrap_or_default();
        }
        out.push_str(rest);
        out
    }
}

impl<S: Into<String>> From<S> for Words {
    fn from(text: S) -> Self {
        Self(text.into())
    }
}

impl serde::Serialize for Words {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&self.told())
    }
}

/// What spreadsheets take for the start of a formula, also in letters of full width, and what they drop before one.
const FORMULA: [char; 12] =
    ['=', '+', '-', '@', '\u{2212}', '\u{ff1d}', '\u{ff0b}', '\u{ff0d}', '\u{ff20}', '\t', '\r', '\n'];

/// Whether a text cell of a CSV table has one apostrophe put before it, so that no spreadsheet takes it for a formula:
/// where it begins with `=`, `+`, `-`, `−`, `@`, a tab or a line end, whatever apostrophes it has before that of its own.
pub fn needs_guard(text: &str) -> bool {
    text.trim_start_matches('\'').starts_with(FORMULA)
}

/// A text cell, with the guard where it needs one.
///
/// # Example
/// ```
/// use evenrooms::texts::{guarded, unguarded};
/// assert_eq!(guarded("=1+1"), "'=1+1");
/// for text in ["=1+1", "'=1+1", "''-", "'quoted'", "room 1", ""] {
///     assert_eq!(unguarded(&guarded(text)), text);
/// }
/// ```
pub fn guarded(text: &str) -> Cow<'_, str> {
    if needs_guard(text) { Cow::Owned(format!("'{text}")) } else { Cow::Borrowed(text) }
}

/// A text cell as it was before [`guarded`].
pub fn unguarded(text: &str) -> &str {
    text.strip_prefix('\'').filter(|rest| needs_guard(rest)).unwrap_or(text)
}

/// A text as TOML, in one line and without anything that acts: read back it is the same.
pub fn quoted_toml(text: &str) -> String {
    let mut out = String::from("\"");
    for c in text.chars() {
        match c {
            '"' | '\\' => out.extend(['\\', c]),
            c if acts(c) => out.push_str(&format!("\\U{:08X}", u32::from(c))),
            c => out.push(c),
        }
    }
    out + "\""
}

/// Letters to put in, leave out, change, or exchange with their neighbour, to make one word the other.
pub fn slips(a: &str, b: &str) -> usize {
    let (a, b): (Vec<char>, Vec<char>) = (a.chars().collect(), b.chars().collect());
    let mut rows = vec![vec![0; b.len() + 1]; a.len() + 1];
    for i in 0..=a.len() {
        for j in 0..=b.len() {
            rows[i][j] = match (i, j) {
                (0, n) | (n, 0) => n,
                _ => {
                    let changed = rows[i - 1][j - 1] + usize::from(a[i - 1] != b[j - 1]);
                    let turned = i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1];
                    let turned = if turned { rows[i - 2][j - 2] + 1 } else { usize::MAX };
                    changed.min(turned).min(rows[i - 1][j] + 1).min(rows[i][j - 1] + 1)
                }
            };
        }
    }
    rows[a.len()][b.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_acts_is_spelled_and_what_does_not_stays() {
        let plain = "Küche 2, “links” – 21 °C\u{a0}أب 日本 👩\u{200d}🔧";
        assert_eq!(shown(plain), plain);
        assert_eq!(shown("a\u{202e}b\u{7f}\u{9b}c\u{0}"), "a\\u{202e}b\\u{7f}\\u{9b}c\\u{0}");
        assert_eq!(shown_lines("a\n\u{1b}b"), "a\n\\u{1b}b");
        let json = serde_json::to_string_pretty(&["a\u{202e}\u{e0041}\u{7f}\n"]).unwrap();
        let spelled = shown_json(&json);
        assert!(!spelled.contains(|c| c != '\n' && acts(c)), "{spelled}");
        assert_eq!(serde_json::from_str::<[String; 1]>(&spelled).unwrap(), ["a\u{202e}\u{e0041}\u{7f}\n"]);
    }

    #[test]
    fn words_leave_out_what_they_were_told_to() {
        let what = format!(
            "column \"{}\": 1 row{}, found \"{}\"",
            name("Bad"),
            about_cell("; \"x\""),
            cell("2\u{2}6")
        );
        let words = Words::from(what);
        assert_eq!(words.told(), "column \"Bad\": 1 row; \"x\", found \"2\\u{2}6\"");
        assert_eq!(words.without_cells(), "column \"Bad\": 1 row, found \"…\"");
        assert_eq!(words.without_names().told(), "column \"…\": 1 row, found \"…\"");
    }

    #[test]
    fn a_quoted_text_is_read_back() {
        for text in ["plain", "a\"b\\c", "line\nend", "tab\t\u{202e}\u{1b}\u{e0041}", ""] {
            let line = format!("x = {{ y = {} }}", quoted_toml(text));
            assert!(!line.contains(acts));
            let table: toml::Table = line.parse().unwrap();
            assert_eq!(table["x"]["y"].as_str(), Some(text));
        }
    }
}
