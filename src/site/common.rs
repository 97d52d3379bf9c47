//! Settings that several sections of `site.toml` have: what they are written as, and how they are read.

use super::parse_instant;
use super::walk::{Section, Wanted};
use crate::clock::{DailyWindow, Span, TimeOfDay, Zone};
use crate::units::{KelvinDiff, parse_difference, parse_duration_s};

pub(super) const TEMPERATURE: Wanted<'static> = Wanted {
    expected: "a temperature such as \"20 °C\" or \"68 °F\"",
    hint: "write number and unit in quotes",
};

pub(super) const DIFFERENCE: Wanted<'static> =
    Wanted { expected: "a difference such as \"2.2 K\"", hint: "write number and unit in quotes" };

pub(super) const DURATION: Wanted<'static> = Wanted {
    expected: "a length of time such as \"5 min\" or \"6 h\"",
    hint: "write number and unit in quotes",
};

pub(super) const NAME: Wanted<'static> =
    Wanted { expected: "a text in quotes", hint: "see the example of site.toml in the README" };

const INSTANT: Wanted<'static> = Wanted {
    expected: "a local date such as \"2026-01-05\", or date and time \"2026-01-05 10:00\"",
    hint: "year first; a bare date at the end of a span includes that day",
};

const TIME_OF_DAY: Wanted<'static> = Wanted {
    expected: "a time of day such as \"06:00\"",
    hint: "hours and minutes, 00:00 to 24:00, local time",
};

pub(super) fn read_span(section: &Section<'_, '_>, zone: Zone) -> Option<Span> {
    let from = section.parsed("from", INSTANT, |t| parse_instant(t, zone, false));
    let to = section.parsed("to", INSTANT, |t| parse_instant(t, zone, true));
    match (from, to) {
        (Some(from), Some(to)) if from.value < to.value => Some(Span { from: from.value, to: to.value }),
        (Some(from), Some(to)) => {
            section.wrong(
                to.line,
                &format!("`from` at {} and `to` at {}", zone.show(from.value), zone.show(to.value)),
                Wanted { expected: "`to` after `from`", hint: INSTANT.hint },
            );
            None
        }
        _ => {
            section.missing(&["from", "to"], INSTANT);
            None
        }
    }
}

pub(super) fn read_window(section: &Section<'_, '_>, required: bool) -> Option<DailyWindow> {
    let from = section.parsed("from", TIME_OF_DAY, TimeOfDay::parse);
    let to = section.parsed("to", TIME_OF_DAY, TimeOfDay::parse);
    match (from, to) {
        (Some(from), Some(to)) if from.value == to.value => {
            section.wrong(
                to.line,
                "a window that ends when it starts",
                Wanted {
                    expected: "two different times",
                    hint: "for a whole day write from = \"00:00\" and to = \"24:00\"",
                },
            );
            None
        }
        (Some(from), Some(to)) => Some(DailyWindow { from: from.value, to: to.value }),
        (None, None) if !required => None,
        _ => {
            section.missing(&["from", "to"], TIME_OF_DAY);
            None
        }
    }
}

pub(super) fn positive(section: &Section<'_, '_>, key: &'static str) -> Option<KelvinDiff> {
    let value = section.quantity(key, DIFFERENCE, parse_difference)?;
    if value.k() > 0.0 {
        return Some(value);
    }
    section.wrong(
        section.line(),
        &format!("`{key}` of {} K", value.k()),
        Wanted { expected: "more than 0 K", hint: "a limit of 0 would flag everything or nothing" },
    );
    None
}

pub(super) fn positive_duration(section: &Section<'_, '_>, key: &'static str) -> Option<i64> {
    let value = section.quantity(key, DURATION, parse_duration_s)?;
    if value > 0 {
        return Some(value);
    }
    section.wrong(
        section.line(),
        &format!("`{key}` of {value} s"),
        Wanted { expected: "more than 0 s", hint: "a limit of 0 would flag everything or nothing" },
    );
    None
}
