//! What is asked of rooms, in figures: the band, what they return to after a setback, and how even they should be.

use crate::site::{Band, Site};

/// `68.0 °F to 76.0 °F by day, 62.0 °F to 76.0 °F from 22:00 to 06:00`; empty without a band.
pub(super) fn bands(site: &Site) -> String {
    let show = |b: Band| format!("{} to {}", site.units.show(b.lower), site.units.show(b.upper));
    let hours = site.bands.night_hours;
    match (site.bands.occupied, site.bands.night) {
        (Some(day), Some(night)) => {
            format!("{} by day, {} from {} to {}", show(day), show(night), hours.from.show(), hours.to.show())
        }
        (Some(day), None) => show(day),
        (None, Some(night)) => format!("{} from {} to {}", show(night), hours.from.show(), hours.to.show()),
        (None, None) => String::new(),
    }
}

/// All that is asked, in a sentence or two.
pub(super) fn sentence(site: &Site) -> String {
    let mut parts: Vec<String> = Vec::new();
    let bands = bands(site);
    if !bands.is_empty() {
        parts.push(format!("a band of {bands}"));
    }
    let mut targets: Vec<String> = site.setbacks.iter().map(|s| site.units.show(s.occupied_target)).collect();
    targets.dedup();
    if !targets.is_empty() {
        let tolerance = site.units.show_difference(site.recovery.tolerance);
        parts.push(format!("after a setback back at {} (less {tolerance})", targets.join(" or ")));
    }
    let (margin, limit) = (site.spread.margin, site.spread.limit);
    parts.push(format!(
        "each room on the mean within ±{} of the heated ones (even), and warmest to coldest at most {} apart at any time (far apart)",
        site.units.show_difference(margin),
        site.units.show_difference(limit)
    ));
    format!("Asked for: {}.", parts.join("; "))
}
