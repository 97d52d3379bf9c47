//! The tables of what happened, and of what is asked of each home.

use super::declared::{HIGH, HOME, LOW, MAYBE_ROOM, SITE, column, optional};
use super::rows::{maybe_number, maybe_text, maybe_time, owned, text};
use super::{Cell, Format, Kind, Table};
use crate::cases::{Case, Criterion, Standing};

/// What happened.
pub static CASES: Table = Table {
    name: "cases",
    about: "what happened, a row for each thing that a person would go for, made of findings and events; the homes in roster order, of each what goes on first, and the most pressing of it first; each finding belongs to exactly one case",
    columns: &[
        SITE,
        HOME,
        optional("rooms", Kind::Text, "its rooms, joined by `; `; empty for the home as a whole"),
        column("id", Kind::Text, "kind, home, rooms or first day in one"),
        column("kind", Kind::Word, "what it is; `evenrooms explain KIND` tells"),
        column(
            "severity",
            Kind::Word,
            "urgent, act, watch or note: that of the worst of its findings that still holds",
        ),
        column(
            "course",
            Kind::Word,
            "goes on (to the end of the period that decides), ended (in it, before its end), or over (seen in an earlier period only)",
        ),
        optional(
            "since",
            Kind::Word,
            "how it stands to the audit that --since names: new, still there or over; empty without one",
        ),
        column("period", Kind::Word, "the period in which it was seen, of several the last"),
        optional("from_utc", Kind::Time, "when it began"),
        optional("to_utc", Kind::Time, "when it was seen for the last time"),
        column("sentence", Kind::Text, "what happened, with local dates"),
        optional("decided", Kind::Text, "the evidence: what the finding says that decided"),
        column(
            "sure",
            Kind::Text,
            "how sure it is: what decided at its low end, at the accuracy of the loggers, beside its limit; where it is not sure, why",
        ),
        optional("against", Kind::Text, "what speaks against it; empty: nothing that is known"),
        column("doubted", Kind::YesNo, "whether a logger that it rests on is doubted"),
        column("could_also_be", Kind::Text, "what else could look like this"),
        column("next_step", Kind::Text, "the first step"),
        column("bring", Kind::Text, "what to bring"),
        optional("findings", Kind::Text, "the `id` of its findings, joined by `; `"),
    ],
    formats: &[Format::Parquet, Format::Csv, Format::Json],
    sorted_by: &[],
};

/// Criteria.
pub static ACCEPTANCE: Table = Table {
    name: "acceptance",
    about: "what [acceptance] of the site file asks of each home in the period that decides, and what became of it: fail where even `low` is beyond the limit, pass where even `high` is inside, else not enough data",
    columns: &[
        SITE,
        HOME,
        MAYBE_ROOM,
        column(
            "standing",
            Kind::Word,
            "where the home stands: visit today, visit, record again, accept, keep an eye on, or accept",
        ),
        column("period", Kind::Word, "the period that decides"),
        column("criterion", Kind::Word, "its name, as its key in [acceptance]"),
        optional(
            "metric",
            Kind::Word,
            "the metric that it is made of: its value, or its share of the hours; empty: of several",
        ),
        column("unit", Kind::Word, "unit of limit, measured, low and high"),
        column("limit", Kind::Number, "the limit"),
        optional("measured", Kind::Number, "what was measured; empty: nothing"),
        LOW,
        HIGH,
        column("answer", Kind::Word, "pass, fail or not enough data"),
        optional("why", Kind::Text, "why there is not enough data; else empty"),
    ],
    formats: &[Format::Csv],
    sorted_by: &[],
};

/// A row of the cases table.
pub fn case_cells<'a>(site: &'a str, case: &'a Case) -> Vec<Cell<'a>> {
    vec![
        text(site),
        text(&case.home),
        owned(case.rooms.join("; ")),
        text(&case.id),
        text(case.kind.id),
        text(case.severity.word()),
        text(case.course.words()),
        maybe_text(case.since.map(|s| s.words())),
        text(&case.period),
        maybe_time(case.span.map(|s| s.from)),
        maybe_time(case.span.map(|s| s.to)),
        text(&case.sentence),
        maybe_text(Some(&case.decided)),
        text(&case.sure),
        maybe_text(Some(&case.against)),
        Cell::YesNo(case.doubted),
        text(&case.could_also_be),
        text(&case.next_step),
        text(&case.bring),
        owned(case.findings.join("; ")),
    ]
}

/// A row of the acceptance table.
pub fn criterion_cells<'a>(site: &'a str, criterion: &'a Criterion, standing: Standing) -> Vec<Cell<'a>> {
    vec![
        text(site),
        text(&criterion.home),
        maybe_text(criterion.room.as_deref()),
        text(standing.word()),
        text(&criterion.period),
        text(criterion.kind.id),
        maybe_text(Some(criterion.kind.metric)),
        text(criterion.kind.unit),
        Cell::Number(criterion.limit),
        maybe_number(criterion.measured),
        maybe_number(criterion.range.0),
        maybe_number(criterion.range.1),
        text(criterion.answer.words()),
        maybe_text(Some(&criterion.why)),
    ]
}
