//! How sure a case is: what decided at its low end, beside the limit that it was held against; where it is not sure, why.
//!
//! Settled here, and why:
//! - **A word alone tells nobody anything**: who doubts a case asks how far its number is from the limit, at the accuracy of the
//!   loggers. The limit is that of the rule which decided.
//! - **A case about a record** rests on what other loggers did meanwhile: there what else it may be is what would change a mind.

use super::amounts::{Amount, in_hours};
use super::assemble::Draft;
use super::kinds;
use crate::findings::{About, Evidence, Finding};
use crate::metrics::{HOURS_SPREAD_OVER_LIMIT, OUT_K, Slice};
use crate::units::KelvinDiff;

/// How sure a case is that rests on a logger which is doubted.
pub(super) const IN_DOUBT: &str = "in doubt: settle the logger first";

/// How sure a case is, in a few words; `against`: what speaks against it.
pub(super) fn sure(
    evidence: &Evidence<'_>,
    draft: &Draft<'_>,
    (decided, number): (Option<&Finding>, Option<&Amount<'_>>),
    against: &str,
) -> String {
    if draft.kind.about == About::Record {
        return likely(draft.kind.could_also_be);
    }
    if draft.findings.iter().any(|f| f.doubt.is_some()) {
        return IN_DOUBT.to_owned();
    }
    if !against.is_empty() {
        return format!("less sure: {against}");
    }
    let of = Of { evidence };
    match (draft.outage, decided) {
        (Some(_), _) => of.outage(draft),
        // The number that is told, where it alone would send as many people.
        (None, Some(decided)) => {
            let number = number.map(|number| number.finding).filter(|f| f.severity <= decided.severity);
            of.margin(number.unwrap_or(decided))
        }
        (None, None) => "as read".to_owned(),
    }
}

/// How sure a case about a record is; `could_also_be`: what else could look like it.
pub(super) fn likely(could_also_be: &str) -> String {
    match could_also_be.split(" (").next() {
        Some(other) if !other.starts_with("nothing") => format!("likely; else {other}"),
        _ => "likely".to_owned(),
    }
}

struct Of<'e> {
    evidence: &'e Evidence<'e>,
}

/// A number between its ends, and the limit that it was held against; all as amounts.
struct Held {
    /// Before the number, and after it.
    words: (&'static str, String),
    ends: (f64, f64),
    limit: f64,
}

impl Of<'_> {
    fn difference(&self, k: f64) -> String {
        self.evidence.site.units.show_difference(KelvinDiff::new(k))
    }

    fn outage(&self, draft: &Draft<'_>) -> String {
        let by = self.difference(OUT_K);
        let who = match draft.rooms.is_empty() {
            _ if draft.kind == &kinds::HELD_LOW => "and still at that level",
            _ if draft.kind == &kinds::FALLS_BEHIND => "though as far above outdoors as on other cold days",
            true => "all heated rooms together",
            false => "while the other rooms held",
        };
        format!("sure: at least {by} below what is usual at that hour, {who}")
    }

    fn margin(&self, finding: &Finding) -> String {
        let Some(held) = self.held(finding) else {
            return "sure: even with the accuracy of the loggers against it".to_owned();
        };
        let show = |x: f64| match finding.unit {
            "K" => self.difference(x),
            unit => format!("{x:.0} {unit}"),
        };
        let ((before, after), (low, high)) = (held.words, held.ends);
        let limit =
            if held.limit > 0.0 { format!(", the limit is {}", show(held.limit)) } else { String::new() };
        match low > held.limit {
            true => format!("sure: {before}at least {}{after}{limit}", show(low)),
            false => format!("not sure: {before}{} to {}{after}{limit}", show(low.max(0.0)), show(high)),
        }
    }

    /// What a finding was held against; `None`: it is sure by its own definition.
    fn held(&self, finding: &Finding) -> Option<Held> {
        let row = |metric| self.evidence.rows.row(&finding.of, Slice::All, None, metric);
        let of_spread =
            || row(&HOURS_SPREAD_OVER_LIMIT).and_then(|row| row.interval).map(|i| (i.low, i.high));
        let (low, high) = match finding.rule {
            "home-uneven" => of_spread()?,
            _ => finding.range?,
        };
        let apart = self.difference(self.evidence.site.spread.limit.k());
        let words = match finding.rule {
            "room-cold" if in_hours(finding) => ("", " below the band".to_owned()),
            "room-overheated" => ("", " above the band".to_owned()),
            "heat-rule-shortfall" | "heat-rule-shortfall-of-home" => {
                ("", " below the legal minimum".to_owned())
            }
            "slow-recovery" => ("late on ", " of mornings".to_owned()),
            "home-uneven" => ("", format!(" over {apart} apart")),
            "room-uneven" if finding.observed < 0.0 => ("", " below the heated rooms".to_owned()),
            "room-uneven" => ("", " above the heated rooms".to_owned()),
            "falls-behind-in-cold" => ("", " below what is asked for on cold days".to_owned()),
            _ => return None,
        };
        let ends = if finding.observed < 0.0 { (-high, -low) } else { (low, high) };
        Some(Held { words, ends, limit: finding.limit.abs() })
    }
}
