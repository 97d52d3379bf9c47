//! Mistakes of the roster, as they are found.

use crate::error::Mistake;
use crate::texts::shown;

/// The mistakes of the roster.
pub(super) struct Sink<'a> {
    pub(super) file: &'a str,
    pub(super) mistakes: Vec<Mistake>,
}

impl<'a> Sink<'a> {
    #[cfg(test)]
    pub(super) fn of(file: &'a str) -> Self {
        Self { file, mistakes: Vec::new() }
    }

    #[cfg(test)]
    pub(super) fn any(&self) -> bool {
        !self.mistakes.is_empty()
    }

    pub(super) fn wrong(&mut self, line: Option<u32>, found: &str, expected: &str, hint: &str) {
        let (file, found) = (self.file.to_owned(), shown(found).into_owned());
        self.mistakes.push(Mistake {
            file,
            line,
            found,
            expected: expected.to_owned(),
            hint: hint.to_owned(),
        });
    }
}
