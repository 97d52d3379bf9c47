//! A walk over the tables of `site.toml` that collects every mistake instead of stopping at the first.

use std::cell::RefCell;
use std::collections::BTreeSet;

use toml::de::{DeTable, DeValue};

use super::stated::Stated;
use crate::error::{Mistake, Note};
use crate::texts::shown;
use crate::units::QuantityError;

/// Where a note about the site file stands.
pub const SITE_FILE: &str = "site file";

/// What a draft writes where a person must decide, and what is said where it was left so.
pub(super) const LEFT_OPEN: &str = "decide";
pub(super) const LEFT_TO_YOU: &str = "a draft left this to you: write it in";

/// Blanks at which no line may break.
pub(super) const UNBREAKABLE: [char; 3] = ['\u{a0}', '\u{202f}', '\u{2007}'];

/// The text of a file a person wrote, and the mistakes found in it so far.
pub(super) struct Page<'a> {
    file: &'a str,
    text: &'a str,
    mistakes: RefCell<Vec<Mistake>>,
    cautions: RefCell<Vec<Note>>,
    stated: RefCell<Vec<Stated>>,
}

impl<'a> Page<'a> {
    pub(super) fn new(file: &'a str, text: &'a str) -> Self {
        Self {
            file,
            text,
            mistakes: RefCell::default(),
            cautions: RefCell::default(),
            stated: RefCell::default(),
        }
    }

    /// The line, from 1, of a place in the text.
    pub(super) fn line(&self, at: usize) -> u32 {
        let before = &self.text.as_bytes()[..at.min(self.text.len())];
        1 + before.iter().filter(|b| **b == b'\n').count() as u32
    }

    pub(super) fn mistake(&self, line: Option<u32>, found: &str, expected: &str, hint: &str) {
        self.mistakes.borrow_mut().push(Mistake {
            file: self.file.to_owned(),
            line,
            found: shown(found).into_owned(),
            expected: expected.to_owned(),
            hint: hint.to_owned(),
        });
    }

    /// What was told so far of settings that are taken all the same.
    pub(super) fn take_cautions(&self) -> Vec<Note> {
        self.cautions.take()
    }

    /// What was asked for so far and is there, as it stands there.
    pub(super) fn take_stated(&self) -> Vec<Stated> {
        self.stated.take()
    }

    pub(super) fn into_mistakes(self) -> Vec<Mistake> {
        let mut mistakes = self.mistakes.into_inner();
        mistakes.sort_by_key(|m| m.line);
        mistakes
    }
}

/// A value with the line it stands on.
#[derive(Clone, Debug)]
pub(super) struct At<T> {
    pub(super) value: T,
    pub(super) line: u32,
}

/// What a value should look like: the words for a mistake.
#[derive(Clone, Copy)]
pub(super) struct Wanted<'a> {
    pub(super) expected: &'a str,
    pub(super) hint: &'a str,
}

/// One table of the file; keys that nobody asked for are mistakes when it is [finished](Section::finish).
pub(super) struct Section<'p, 't> {
    page: &'p Page<'p>,
    table: &'t DeTable<'t>,
    name: String,
    line: u32,
    asked: RefCell<BTreeSet<&'static str>>,
}

impl<'p, 't> Section<'p, 't> {
    pub(super) fn new(page: &'p Page<'p>, table: &'t DeTable<'t>, name: &str, at: usize) -> Self {
        Self { page, table, name: name.to_owned(), line: page.line(at), asked: RefCell::default() }
    }

    /// The line of the table's own header.
    pub(super) fn line(&self) -> u32 {
        self.line
    }

    /// The line of a key; that of the table where it is not there.
    pub(super) fn line_of(&self, key: &'static str) -> u32 {
        self.find(key).map_or(self.line, |found| found.line)
    }

    /// Tells of a setting that is taken all the same.
    pub(super) fn caution(&self, line: u32, what: &str, hint: &str) {
        self.page.cautions.borrow_mut().push(Note {
            place: SITE_FILE.to_owned(),
            line: Some(line),
            what: what.into(),
            hint: hint.to_owned(),
            unreadable: false,
        });
    }

    fn find(&self, key: &'static str) -> Option<At<&'t DeValue<'t>>> {
        self.asked.borrow_mut().insert(key);
        let value = self.table.get(key)?;
        let line = self.page.line(value.span().start);
        if !holds_tables(value.get_ref()) {
            let written = self.page.text.get(value.span()).unwrap_or_default();
            let written = shown(written.trim()).into_owned();
            self.page.stated.borrow_mut().push(Stated { path: self.path(key), written, line });
        }
        Some(At { value: value.get_ref(), line })
    }

    pub(super) fn wrong(&self, line: u32, found: &str, wanted: Wanted<'_>) {
        self.page.mistake(Some(line), found, wanted.expected, wanted.hint);
    }

    /// Says which of some keys are missing; one that is there but wrong has been told already.
    pub(super) fn missing(&self, keys: &[&str], wanted: Wanted<'_>) {
        let absent: Vec<String> =
            keys.iter().filter(|k| !self.table.contains_key(**k)).map(|k| format!("`{k}`")).collect();
        if !absent.is_empty() {
            let place =
                if self.name.is_empty() { "in the file".to_owned() } else { format!("in [{}]", self.name) };
            let found = format!("no {} {place}", absent.join(" and no "));
            self.page.mistake(Some(self.line), &found, wanted.expected, wanted.hint);
        }
    }

    /// The text of a key, quoted or a bare date.
    pub(super) fn text(&self, key: &'static str, wanted: Wanted<'_>) -> Option<At<String>> {
        let found = self.find(key)?;
        let text = match found.value {
            DeValue::String(s) => s.to_string(),
            DeValue::Datetime(d) => d.to_string().replace('T', " "),
            other => {
                self.wrong(found.line, &format!("`{key}` as {}", describe(other)), wanted);
                return None;
            }
        };
        Some(At { value: text, line: found.line })
    }

    /// A text that `parse` understands.
    pub(super) fn parsed<T>(
        &self,
        key: &'static str,
        wanted: Wanted<'_>,
        parse: impl Fn(&str) -> Option<T>,
    ) -> Option<At<T>> {
        let text = self.text(key, wanted)?;
        match parse(&text.value.replace(UNBREAKABLE, " ")) {
            Some(value) => Some(At { value, line: text.line }),
            None => {
                let hint = if text.value == LEFT_OPEN { LEFT_TO_YOU } else { wanted.hint };
                let wanted = Wanted { hint, ..wanted };
                self.wrong(text.line, &format!("`{key} = \"{}\"`", text.value), wanted);
                None
            }
        }
    }

    /// A number with its unit; a bare number is a mistake with its own hint.
    pub(super) fn quantity<T>(
        &self,
        key: &'static str,
        wanted: Wanted<'_>,
        parse: fn(&str) -> Result<T, QuantityError>,
    ) -> Option<T> {
        let found = self.find(key)?;
        self.one_quantity(key, &found, wanted, parse)
    }

    /// A list of exactly two quantities.
    pub(super) fn quantity_pair<T>(
        &self,
        key: &'static str,
        wanted: Wanted<'_>,
        parse: fn(&str) -> Result<T, QuantityError>,
    ) -> Option<(T, T)> {
        let found = self.find(key)?;
        let Some([a, b]) = found.value.as_array().map(|a| &a[..]) else {
            self.wrong(found.line, &format!("`{key}` as {}", describe(found.value)), wanted);
            return None;
        };
        let at = |v: &'t toml::Spanned<DeValue<'t>>| At {
            value: v.get_ref(),
            line: self.page.line(v.span().start),
        };
        let (a, b) =
            (self.one_quantity(key, &at(a), wanted, parse), self.one_quantity(key, &at(b), wanted, parse));
        Some((a?, b?))
    }

    fn one_quantity<T>(
        &self,
        key: &str,
        found: &At<&DeValue<'_>>,
        wanted: Wanted<'_>,
        parse: fn(&str) -> Result<T, QuantityError>,
    ) -> Option<T> {
        let (shown, answer) = match found.value {
            DeValue::String(s) => (format!("`{key} = \"{s}\"`"), parse(s)),
            DeValue::Integer(_) | DeValue::Float(_) => {
                (format!("`{key}` as a number without a unit"), Err(QuantityError::Bare))
            }
            other => (format!("`{key}` as {}", describe(other)), Err(QuantityError::Unreadable)),
        };
        match answer {
            Ok(value) => return Some(value),
            Err(QuantityError::Bare) => {
                let hint = "write the unit beside the number, both in quotes";
                self.page.mistake(Some(found.line), &shown, wanted.expected, hint);
            }
            Err(QuantityError::Unreadable) => self.wrong(found.line, &shown, wanted),
        }
        None
    }

    /// A `true` or `false`.
    pub(super) fn flag(&self, key: &'static str) -> Option<bool> {
        let found = self.find(key)?;
        if let DeValue::Boolean(b) = found.value {
            return Some(*b);
        }
        let wanted = Wanted { expected: "true or false", hint: "write it without quotes" };
        self.wrong(found.line, &format!("`{key}` as {}", describe(found.value)), wanted);
        None
    }

    /// A whole number.
    pub(super) fn whole(&self, key: &'static str, wanted: Wanted<'_>) -> Option<usize> {
        let found = self.find(key)?;
        let number = found.value.as_integer().and_then(|i| i.as_str().parse().ok());
        if number.is_none() {
            self.wrong(found.line, &format!("`{key}` as {}", describe(found.value)), wanted);
        }
        number
    }

    /// A bare number, such as a share, that `fits`.
    pub(super) fn number(
        &self,
        key: &'static str,
        wanted: Wanted<'_>,
        fits: impl Fn(f64) -> bool,
    ) -> Option<f64> {
        let found = self.find(key)?;
        let text = match found.value {
            DeValue::Float(x) => x.as_str(),
            DeValue::Integer(i) => i.as_str(),
            _ => "",
        };
        let number = text.parse().ok().filter(|x| fits(*x));
        if number.is_none() {
            self.wrong(found.line, &format!("`{key}` as {}", describe(found.value)), wanted);
        }
        number
    }

    /// A list of texts.
    pub(super) fn texts(&self, key: &'static str, wanted: Wanted<'_>) -> Option<Vec<At<String>>> {
        let found = self.find(key)?;
        let Some(array) = found.value.as_array() else {
            self.wrong(found.line, &format!("`{key}` as {}", describe(found.value)), wanted);
            return None;
        };
        let mut texts = Vec::new();
        for item in array.iter() {
            let line = self.page.line(item.span().start);
            match item.get_ref().as_str() {
                Some(s) => texts.push(At { value: s.to_owned(), line }),
                None => self.wrong(line, &format!("in `{key}` {}", describe(item.get_ref())), wanted),
            }
        }
        Some(texts)
    }

    /// A table inside this one.
    pub(super) fn section(&self, key: &'static str) -> Option<Section<'p, 't>> {
        let found = self.find(key)?;
        let span = self.table.get(key)?.span();
        match found.value.as_table() {
            Some(table) => Some(Section::new(self.page, table, &self.path(key), span.start)),
            None => {
                let wanted =
                    Wanted { expected: "a table", hint: "see the example of site.toml in the README" };
                self.wrong(found.line, &format!("`{key}` as {}", describe(found.value)), wanted);
                None
            }
        }
    }

    /// The tables of a list, `[[key]]`.
    pub(super) fn sections(&self, key: &'static str) -> Vec<Section<'p, 't>> {
        let Some(found) = self.find(key) else { return Vec::new() };
        let Some(array) = found.value.as_array() else {
            let wanted =
                Wanted { expected: "a list of tables", hint: "write it with two brackets, as in [[period]]" };
            self.wrong(found.line, &format!("`{key}` as {}", describe(found.value)), wanted);
            return Vec::new();
        };
        let one = |item: &'t toml::Spanned<DeValue<'t>>| {
            let table = item.get_ref().as_table();
            if table.is_none() {
                let wanted = Wanted { expected: "tables only", hint: "write each as a [[table]] of its own" };
                self.wrong(found.line, &format!("{} in `{key}`", describe(item.get_ref())), wanted);
            }
            table.map(|table| Section::new(self.page, table, &self.path(key), item.span().start))
        };
        array.iter().filter_map(one).collect()
    }

    fn path(&self, key: &str) -> String {
        if self.name.is_empty() { key.to_owned() } else { format!("{}.{key}", self.name) }
    }

    /// Keys that are known though nobody could read them.
    pub(super) fn know(&self, keys: &[&'static str]) {
        self.asked.borrow_mut().extend(keys);
    }

    /// Reports every key that was never asked for.
    pub(super) fn finish(self) {
        let asked = self.asked.borrow();
        for (key, _) in self.table.iter() {
            if !asked.contains(key.get_ref().as_ref()) {
                let known: Vec<&str> = asked.iter().copied().collect();
                let place = if self.name.is_empty() {
                    "at the top of the file".to_owned()
                } else {
                    format!("in [{}]", self.name)
                };
                self.page.mistake(
                    Some(self.page.line(key.span().start)),
                    &format!("unknown key `{}` {place}", key.get_ref()),
                    &format!("one of {}", known.join(", ")),
                    "check the spelling, or remove the line",
                );
            }
        }
    }
}

/// Whether a value is a table, or a list of tables: their own settings are what is stated.
fn holds_tables(value: &DeValue<'_>) -> bool {
    let is_table = |value: &DeValue<'_>| value.as_table().is_some();
    is_table(value) || value.as_array().is_some_and(|all| all.iter().any(|one| is_table(one.get_ref())))
}

fn describe(value: &DeValue<'_>) -> String {
    match value {
        DeValue::String(s) => format!("the text \"{s}\""),
        DeValue::Integer(i) => format!("the number {}", i.as_str()),
        DeValue::Float(x) => format!("the number {}", x.as_str()),
        DeValue::Boolean(b) => format!("{b}"),
        DeValue::Datetime(d) => format!("the date {d}"),
        DeValue::Array(_) => "a list".to_owned(),
        DeValue::Table(_) => "a table".to_owned(),
    }
}
