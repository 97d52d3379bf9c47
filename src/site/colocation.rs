//! `[colocation]`: when loggers lay side by side, and which.

use super::file::{NAME, read_span};
use super::walk::{At, Section, Wanted};
use super::{Home, Name};
use crate::clock::{Span, Zone};
use crate::error::Mistake;

/// A time in which loggers lay side by side.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Colocation {
    /// When.
    pub span: Span,
    /// Line of the site file.
    pub line: u32,
    /// The loggers that lay there; empty: all.
    loggers: Vec<String>,
    /// The loggers whose offset is taken off however large it is.
    accepted: Vec<String>,
}

impl Colocation {
    /// Whether a logger lay with the others.
    pub fn holds_for(&self, logger: &Name) -> bool {
        self.loggers.is_empty() || is_among(&self.loggers, logger)
    }

    /// Whether a person has said that the offset of a logger is right, however large it is.
    pub fn accepts(&self, logger: &Name) -> bool {
        is_among(&self.accepted, logger)
    }

    /// Names that no logger of the roster has.
    pub(super) fn unknown(&self, file: &str, homes: &[Home]) -> Vec<Mistake> {
        let placements = || homes.iter().flat_map(|h| &h.rooms).flat_map(|r| &r.placements);
        let lists = [(LOGGERS, &self.loggers), (ACCEPTED, &self.accepted)];
        let unknown = lists.into_iter().flat_map(|(key, names)| names.iter().map(move |name| (key, name)));
        unknown
            .filter(|(_, name)| placements().all(|p| p.logger.own() != *name))
            .map(|(key, name)| Mistake {
                file: file.to_owned(),
                line: Some(self.line),
                found: format!("\"{}\" in `{key}` of [colocation]", crate::texts::shown(name)),
                expected: "names of loggers as the roster has them".to_owned(),
                hint: "copy the name from the column `logger` of the roster".to_owned(),
            })
            .collect()
    }
}

fn is_among(names: &[String], logger: &Name) -> bool {
    names.iter().any(|name| name == logger.own())
}

const LOGGERS: &str = "loggers";
const ACCEPTED: &str = "accept_offset_of";
/// A median of two is no witness against either.
const LEAST_NAMED: usize = 3;

pub(super) fn read_colocation(section: Section<'_, '_>, zone: Zone) -> Option<Colocation> {
    let span = read_span(&section, zone);
    let loggers = names(&section, LOGGERS);
    if let Some(few) = loggers.as_ref().filter(|names| names.len() < LEAST_NAMED) {
        let wanted = Wanted {
            expected: "three loggers or more",
            hint: "each is held against the median of all; leave `loggers` out where all of the roster lay there",
        };
        section.wrong(section.line(), &format!("`{LOGGERS}` of {}", few.len()), wanted);
    }
    let (loggers, accepted) = (loggers.unwrap_or_default(), names(&section, ACCEPTED).unwrap_or_default());
    let line = section.line();
    section.finish();
    Some(Colocation { span: span?, line, loggers, accepted })
}

fn names(section: &Section<'_, '_>, key: &'static str) -> Option<Vec<String>> {
    let wanted = Wanted { expected: "a list of loggers such as [\"L-1\", \"L-2\"]", hint: NAME.hint };
    section.texts(key, wanted).map(|names| names.into_iter().map(|At { value, .. }| value).collect())
}
