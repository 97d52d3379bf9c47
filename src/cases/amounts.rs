//! The number that a person asks for first about a case: how far, how long, how often; and the finding that it is of.
//!
//! Settled here, and why:
//! - **Hours stand beside those observed, and how far beside how long**: 300 h below the band may be a home at 50 °F or one that
//!   is a little below every morning, and who plans visits must tell them apart at a glance.
//! - *How far* is the mean over the hours outside of the band, so that night and day have each their own limit.
//! - *Of several rooms* the one with the most hours times degrees is told.

use super::assemble::Draft;
use super::kinds::{self, CaseKind};
use crate::findings::{About, Evidence, Finding};
use crate::metrics::{self, Metric, MetricRow, SERIOUS_COLD, Slice};
use crate::site::{Heated, Room};
use crate::units::KelvinDiff;

/// A number in words, and what it is of.
pub(super) struct Amount<'a> {
    /// `284 of 455 h below the band by 4.5 °F`.
    pub(super) words: String,
    /// How far below the band, for a short line: `by 4.5 °F`; empty where that is not what is told.
    pub(super) by: String,
    /// What it is of.
    pub(super) finding: &'a Finding,
}

/// One side of the band.
struct Side {
    rule: &'static str,
    hours: &'static Metric,
    degree_hours: &'static Metric,
    words: &'static str,
}

static BELOW: Side = Side {
    rule: "room-cold",
    hours: &metrics::HOURS_BELOW_BAND,
    degree_hours: &metrics::DEGREE_HOURS_BELOW,
    words: "below the band",
};
static ABOVE: Side = Side {
    rule: "room-overheated",
    hours: &metrics::HOURS_ABOVE_BAND,
    degree_hours: &metrics::DEGREE_HOURS_ABOVE,
    words: "above the band",
};

/// The number of a case; `decided`: the finding that decided how pressing it is; `None`: there is none.
pub(super) fn amount<'a>(
    evidence: &Evidence<'_>,
    draft: &Draft<'a>,
    decided: Option<&Finding>,
) -> Option<Amount<'a>> {
    Of { evidence, draft }.amount(decided)
}

/// Degree-hours below the band of the worst room of a draft, in K h; 0: none.
pub(super) fn degree_hours_below(evidence: &Evidence<'_>, draft: &Draft<'_>) -> f64 {
    let of_room = |room: &usize| {
        let name = evidence.home.rooms[*room].name.as_str();
        evidence.rows.row(draft.period, Slice::All, Some(name), BELOW.degree_hours)
    };
    draft.rooms.iter().filter_map(of_room).map(|row| row.value).fold(0.0, f64::max)
}

struct Of<'t, 'e, 'a> {
    evidence: &'t Evidence<'e>,
    draft: &'t Draft<'a>,
}

impl<'a> Of<'_, '_, 'a> {
    fn amount(&self, decided: Option<&Finding>) -> Option<Amount<'a>> {
        let draft = self.draft;
        let kind_is = |kinds: &[&CaseKind]| kinds.contains(&draft.kind);
        let uneven = draft.findings.iter().copied().find(|f| f.rule == "room-uneven");
        let only_uneven = draft.findings.iter().all(|f| f.rule == "room-uneven");
        let warm = kind_is(&[&kinds::OVERHEATS, &kinds::SET_HIGH]);
        // A room of which its distance decided, and not its hours, is told by that.
        let by_distance = warm && decided.is_some_and(|f| f.rule == "room-uneven");
        let beside = kind_is(&[&kinds::CUT_OFF, &kinds::UNEVEN]) || only_uneven || by_distance;
        if let Some(finding) = uneven.filter(|_| beside) {
            return Some(plain(self.beside(finding), finding));
        }
        match () {
            () if draft.kind.about == About::Record => None,
            () if kind_is(&[&kinds::SLOW_TO_RETURN]) => {
                let late = self.worst("slow-recovery", "%", |f| f.observed)?;
                // What is true of the worst of several rooms is not true of each.
                let most = if draft.rooms.len() > 1 { "up to " } else { "" };
                Some(plain(format!("{most}{:.0} % of mornings late", late.observed), late))
            }
            () if warm => self.outside(&ABOVE),
            () if kind_is(&[&kinds::UNEVEN]) => {
                let apart = self.worst("home-uneven", "h", |f| f.observed)?;
                let limit = self.difference(self.evidence.site.spread.limit.k());
                Some(plain(format!("over {limit} for {:.0} h", apart.observed), apart))
            }
            () => self.outside(&BELOW).or_else(|| self.below_the_minimum()),
        }
    }

    /// The findings of a rule in a unit: those of the period of the case, where it has any; of these the largest.
    fn worst(&self, rule: &str, unit: &str, size: impl Fn(&Finding) -> f64) -> Option<&'a Finding> {
        let draft = self.draft;
        let any_now = draft.findings.iter().any(|f| f.of == draft.period);
        let now = |f: &&Finding| !any_now || f.of == draft.period;
        let all = draft.findings.iter().copied().filter(now).filter(|f| f.rule == rule && f.unit == unit);
        all.max_by(|a, b| size(a).total_cmp(&size(b)))
    }

    fn row(&self, finding: &Finding, metric: &Metric) -> Option<&MetricRow> {
        self.evidence.rows.row(&finding.of, Slice::All, finding.room.as_deref(), metric)
    }

    /// Hours outside of the band, of how many, and how far on the mean of them.
    fn outside(&self, side: &Side) -> Option<Amount<'a>> {
        let degree_hours = |f: &Finding| self.row(f, side.degree_hours).map_or(0.0, |row| row.value);
        let finding = self.worst(side.rule, "h", degree_hours)?;
        let (room, words) = (self.worst_room(finding), side.words);
        let Some(hours) = self.row(finding, side.hours).filter(|row| row.value > 0.0 && in_hours(finding))
        else {
            let cold = self.evidence.site.units.show(SERIOUS_COLD);
            return Some(plain(format!("{room}{:.0} h below {cold}", finding.observed), finding));
        };
        let by = format!("by {}", self.difference(degree_hours(finding) / hours.value));
        let words = format!("{room}{:.0} of {:.0} h {words} {by}", finding.observed, hours.hours_observed);
        let cold = std::ptr::eq(side, &BELOW);
        Some(Amount { words, by: if cold { by } else { String::new() }, finding })
    }

    fn below_the_minimum(&self) -> Option<Amount<'a>> {
        let finding = self.worst("heat-rule-shortfall", "h", |f| f.observed)?;
        let (room, whole) = (self.worst_room(finding), |h: f64| format!("{h:.0}"));
        let ends = finding.range.map(|(low, high)| (whole(low), whole(high)));
        let ends = ends.filter(|(low, high)| low != high);
        let sure = ends.map_or(String::new(), |(low, high)| format!(" ({low}–{high})"));
        Some(plain(format!("{room}{:.0} h{sure} below the legal minimum", finding.observed), finding))
    }

    /// Of several rooms the one that a number is of.
    fn worst_room(&self, finding: &Finding) -> String {
        let room = finding.room.as_ref().filter(|_| self.draft.rooms.len() > 1);
        room.map_or(String::new(), |room| format!("{room}, "))
    }

    /// How far a room is from the heated ones.
    fn beside(&self, finding: &Finding) -> String {
        let by = self.difference(finding.observed.abs());
        let word = if finding.observed < 0.0 { "below" } else { "above" };
        let heated = |r: &Room| Some(&r.name) == finding.room.as_ref() && r.heated == Heated::Yes;
        let other = if self.evidence.home.rooms.iter().any(heated) { "other " } else { "" };
        format!("{}{by} {word} the {other}heated rooms", self.worst_room(finding))
    }

    fn difference(&self, k: f64) -> String {
        self.evidence.site.units.show_difference(KelvinDiff::new(k))
    }
}

fn plain(words: String, finding: &Finding) -> Amount<'_> {
    Amount { words, by: String::new(), finding }
}

/// Whether a finding about the band has its hours for its number: then these have a range.
pub(super) fn in_hours(finding: &Finding) -> bool {
    finding.unit == "h" && finding.range.is_some()
}
