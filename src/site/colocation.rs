//! `[colocation]`: when loggers lay side by side, and which.

use super::common::{NAME, read_span};
use super::walk::{At, Section, Wanted};
use super::{Home, Name};
use crate::clock::{HOUR_MS, Span, Zone};
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
    /// Whether a person has said that the loggers lay there though no reading shows it.
    pub on_its_word: bool,
    /// Whether a person has said that the loggers' errors are independent of each other.
    pub independent: bool,
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

    /// Times as long as this one, at the same hours of other days and right before and after it: what loggers do there shows
    /// whether they lay together in this one.
    pub fn other_times(&self) -> Vec<Span> {
        let Span { from, to } = self.span;
        let length = to.ms() - from.ms();
        let days = (length + DAY_MS - 1) / DAY_MS * DAY_MS;
        let shifts =
            (1..=OTHER_TIMES).map(|n| n * days).filter(|shift| *shift == days || *shift <= FURTHEST_MS);
        let mut shifts: Vec<i64> = shifts.chain([length]).collect();
        shifts.dedup();
        let moved = |shift: i64| Span { from: from.plus_ms(shift), to: to.plus_ms(shift) };
        shifts.into_iter().flat_map(|shift| [moved(-shift), moved(shift)]).collect()
    }

    /// This time with all of those.
    pub fn around(&self) -> Span {
        let times = self.other_times().into_iter();
        times.fold(self.span, |a, b| Span { from: a.from.min(b.from), to: a.to.max(b.to) })
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
const ON_ITS_WORD: &str = "accept_without_evidence";
const INDEPENDENT: &str = "independent";
const DAY_MS: i64 = 24 * HOUR_MS;
/// So many other times on either side, none further away than this but the next.
const OTHER_TIMES: i64 = 4;
const FURTHEST_MS: i64 = 14 * DAY_MS;
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
    let on_its_word = section.flag(ON_ITS_WORD).unwrap_or(false);
    let independent = section.flag(INDEPENDENT).unwrap_or(false);
    let line = section.line();
    section.finish();
    Some(Colocation { span: span?, line, loggers, accepted, on_its_word, independent })
}

fn names(section: &Section<'_, '_>, key: &'static str) -> Option<Vec<String>> {
    let wanted = Wanted { expected: "a list of loggers such as [\"L-1\", \"L-2\"]", hint: NAME.hint };
    section.texts(key, wanted).map(|names| names.into_iter().map(|At { value, .. }| value).collect())
}
