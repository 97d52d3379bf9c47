//! One home whose records are judged, and nothing else: whether its loggers go on.

use super::OpenedHome;
use crate::audit::HomeAudit;
use crate::findings::{self, Evidence};
use crate::metrics::{self, MetricIndex};
use crate::quality::copies::Sketch;
use crate::site::{Home, Site};

/// What the rules about loggers and records say of a home, as an audit would; and what is kept of each logger's series.
///
/// No metric, event or case is made.
pub fn judge_records(site: &Site, home: &Home, opened: OpenedHome) -> (HomeAudit, Vec<Sketch>) {
    let OpenedHome { mut audit, aligned, sketches, .. } = opened;
    let evidence = Evidence {
        site,
        home,
        rows: &MetricIndex::of(&[]),
        events: &[],
        loggers: &audit.loggers,
        periods: &metrics::judged_periods(&aligned),
    };
    let judged = findings::judge_records(evidence);
    (audit.findings, audit.not_judged) = (judged.findings, judged.not_judged);
    audit.judged_period = site.judged_period().to_owned();
    (audit, sketches)
}
