//! What the audit would find in a home with perfect loggers that nothing happens to.

use evenrooms::clock::Span;
use evenrooms::exports::Readings;
use evenrooms::findings::{self, Evidence, Judged};
use evenrooms::grid::{AlignedHome, RoomSeries};
use evenrooms::metrics::{self, MetricIndex};
use evenrooms::quality::{Corrected, Flagged};
use evenrooms::site::Site;
use evenrooms::units::{Accuracy, KelvinDiff};

use super::case::Case;

/// Accuracy of a perfect logger, K.
const NO_ERROR: KelvinDiff = KelvinDiff::new(1e-6);

/// The findings in the true temperatures of a home.
pub(crate) fn judged(case: &Case<'_>) -> Judged {
    let site = without_error(case.site);
    let home = &site.homes[0];
    let rooms: Vec<RoomSeries> = (0..home.rooms.len()).map(|room| series(&site, case, room)).collect();
    let computed = metrics::compute(&site, home, &AlignedHome::align(&site, &rooms));
    let (rows, events) = (&MetricIndex::of(&computed.rows), &computed.events);
    let periods = &computed.periods;
    findings::judge(Evidence { site: &site, home, rows, events, loggers: &[], periods })
}

fn series(site: &Site, case: &Case<'_>, room: usize) -> RoomSeries {
    let rows: Vec<(i64, Option<f64>)> = case.instants().map(|t| (t.ms(), case.degc(room, t))).collect();
    let flagged = Flagged::new(Readings::from_series(&rows), &site.quality);
    RoomSeries {
        placements: vec![(Corrected::new(&flagged, None, false), Span::ALWAYS)],
        accuracy: Accuracy::stated(NO_ERROR),
    }
}

fn without_error(site: &Site) -> Site {
    site.with(|facts| {
        facts.quality.tests.clear();
        let placements = facts.homes.iter_mut().flat_map(|h| &mut h.rooms).flat_map(|r| &mut r.placements);
        placements.for_each(|p| (p.accuracy, p.time_constant_min) = (Some(NO_ERROR), None));
    })
}
