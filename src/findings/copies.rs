//! The rule about series that are copies of each other: it looks at all series of a site.

use super::{About, Finding, Found, Judge, Judged, Place, Rule, Severity, Verdict, show_span};
use crate::quality::copies::Copy;
use crate::site::Site;
use crate::units::KelvinDiff;

/// Two series that are one.
pub(super) static SAME_READINGS: Rule = Rule {
    name: "same-readings",
    shows: "two series change by the same amounts at the same distances in time for a day and a half or more, wherever they lie in time and level, or they agree within 0.06 K at the same instants while both move, as when one was rounded anew on its way through °F: one is a copy of the other (act: of two rooms; note: of a file in the exports folder that the roster does not name)",
    could_also_be: "nothing that is known: two loggers in one place do not change together to the second",
    next_step: "find out which room the logger stood in and correct the roster; remove what is a copy, and look for the file that is missing",
    source: "own definition",
    needs: &[],
    about: About::Record,
    judge: Judge::Site,
};

/// Where a series comes from.
#[derive(Clone, Debug)]
pub struct SeriesPlace {
    /// Home (its place in the site) and room; `None` for a file that the roster does not name.
    pub room: Option<(usize, String)>,
    /// The logger.
    pub logger: String,
    /// The file.
    pub file: String,
}

/// The findings about copies, each with the place of its home in the site; both rooms of a pair have one.
///
/// Copies within one room are no trouble, and copies among files that the roster does not name are not told.
pub fn copies(site: &Site, series: &[SeriesPlace], pairs: &[(usize, usize, Copy)]) -> Vec<(usize, Finding)> {
    let mut found = Vec::new();
    for (a, b, copy) in pairs {
        let back = Copy { later_ms: -copy.later_ms, warmer_k: -copy.warmer_k, ..*copy };
        for (own, other, copy) in [(&series[*a], &series[*b], *copy), (&series[*b], &series[*a], back)] {
            let Some((home, room)) = &own.room else { continue };
            if own.room != other.room {
                found.extend(finding(site, *home, room, own, other, copy).map(|f| (*home, f)));
            }
        }
    }
    found
}

fn finding(
    site: &Site,
    home: usize,
    room: &str,
    own: &SeriesPlace,
    other: &SeriesPlace,
    copy: Copy,
) -> Option<Finding> {
    let hours = copy.later_ms as f64 / 3_600_000.0;
    let whose = match &other.room {
        Some((at, room)) => {
            format!("{} {room} (logger {}, {})", site.homes[*at].name, other.logger, other.file)
        }
        None => format!("{}, which the roster does not name", other.file),
    };
    let mut apart = Vec::new();
    if copy.later_ms != 0 {
        apart.push(format!("{:.2} h {}", hours.abs(), if hours > 0.0 { "later" } else { "earlier" }));
    }
    if copy.warmer_k.abs() > 0.005 {
        apart.push(format!(
            "{} {}",
            site.units.show_difference(KelvinDiff::new(copy.warmer_k.abs())),
            if copy.warmer_k > 0.0 { "warmer" } else { "colder" }
        ));
    }
    let apart = if apart.is_empty() { String::new() } else { format!(", there {}", apart.join(" and ")) };
    let rounded = match copy.apart_k {
        0.0 => String::new(),
        k => format!(", rounded anew (never more than {:.2} K apart),", k),
    };
    let shows = format!(
        "Logger {} in {room} ({}) has the same readings{rounded} as {whose}{apart} ({}).",
        own.logger,
        own.file,
        show_span(copy.span, site.zone)
    );
    let severity = if other.room.is_some() { Severity::Act } else { Severity::Note };
    let found = Found { span: Some(copy.span), unit: "h", ..Found::new(severity, hours, shows) };
    let of = format!("{} and {}", own.logger, other.logger);
    let place =
        Place { rule: &SAME_READINGS, home: &site.homes[home].name, room: Some(room), of: &of, period: None };
    let mut judged = Judged::default();
    judged.add(&place, Verdict::Found(found));
    judged.findings.pop()
}
