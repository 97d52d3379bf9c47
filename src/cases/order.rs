//! In which order cases and homes are told, and the words for it: what stands in a list is what its order goes by.
//!
//! Settled here, and why:
//! - **By what a line begins with**: a home stands where the first of its cases puts it, for that is the one a reader sees.
//! - **Cold rooms by hours times degrees**: a little below the band all winter and far below it for a week are both bad.

use std::cmp::Reverse;

use super::{Case, Course, kinds};
use crate::findings::About;

/// The order of homes, for whoever reads a list of them.
pub const IN_THIS_ORDER: &str = "In this order: visit today, visit, record again; among each first homes without heat (the longest time first), then cold rooms (the most hours times degrees below the band first), then what else is wrong with the heating, then loggers.";

/// Among cases that press alike: times without heat, then cold rooms, then the rest of the heating, then records.
fn class(case: &Case) -> u8 {
    match case.kind {
        kind if kind.is_outage() => 0,
        kind if kind.is_cold() && kind != &kinds::SLOW_TO_RETURN => 1,
        kind if kind.about == About::Building => 2,
        _ => 3,
    }
}

/// How much there is of it: milliseconds without heat, or hours times degrees, in thousandths of a K h.
#[expect(clippy::cast_possible_truncation, reason = "no record has so many degree-hours")]
fn size(case: &Case) -> i64 {
    match (class(case), case.span) {
        (0, Some(span)) => span.to.ms() - span.from.ms(),
        (1, _) => (case.degree_hours_below * 1000.0) as i64,
        _ => 0,
    }
}

/// The order of the cases of a home: what goes on first, the most pressing of it first.
pub(super) fn of_cases(case: &Case) -> impl Ord + use<> {
    (case.course == Course::Over, case.severity, class(case), Reverse(size(case)))
}

/// The order of a home beside those that stand alike, by its cases that decide in their order: by the first of them, of equal ones
/// by how much was found; homes of which a criterion alone decides come last.
pub(crate) fn of_home(deciding: &[&Case]) -> impl Ord + use<> {
    let first = deciding.first().map_or((u8::MAX, Reverse(0)), |case| (class(case), Reverse(size(case))));
    let findings: usize = deciding.iter().map(|case| case.findings.len()).sum();
    (first, Reverse(findings))
}
