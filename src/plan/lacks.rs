//! What roster and site file do not say yet, and what that costs.

use super::{HomePlan, Place};
use crate::plan::placing::{HEIGHT_FROM_M, HEIGHT_TO_M};
use crate::site::{Heated, Site};

/// Something that is not said yet.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Lack {
    /// The column of the roster, or the part of the site file.
    pub what: &'static str,
    /// The places that it lacks in; empty for the site file.
    pub places: Vec<String>,
    /// Whether every row of the roster lacks it.
    pub everywhere: bool,
    /// What follows from it, and what to do.
    pub so: String,
}

/// Everything that is missing, the dearest first.
pub(super) fn lacks(site: &Site, homes: &[HomePlan<'_>]) -> Vec<Lack> {
    let all = || homes.iter().flat_map(|h| h.places.iter().map(move |place| (h, place)));
    let rows = all().count();
    let of = |what: &'static str, so: &str, lacks: &dyn Fn(&Place<'_>) -> bool| {
        let named = all().filter(|(_, place)| lacks(place));
        let places: Vec<String> = named.map(|(h, p)| format!("{} {}", h.home.name, p.room.name)).collect();
        (!places.is_empty()).then(|| Lack {
            what,
            everywhere: places.len() == rows && rows > 1,
            places,
            so: so.to_owned(),
        })
    };
    let placed = |place: &Place<'_>, lacks: &dyn Fn(&crate::site::Placement) -> bool| {
        place.placement.is_some_and(lacks)
    };
    let roster = [
        of("logger", "nothing is known of a room without a logger", &|p| p.placement.is_none()),
        of(
            "heated",
            "whether a room has heating of its own is not said (yes, no): evenness and recovery of it are not judged, and no other room is held against it",
            &|p| p.room.heated == Heated::Unknown,
        ),
        of(
            "clock",
            "civil time is taken unless the export says otherwise; a logger that keeps standard time is an hour off in summer",
            &|p| {
                site.clock.is_none()
                    && placed(p, &|l| l.sources.is_empty() || l.sources.iter().any(|s| s.clock.is_none()))
            },
        ),
        of(
            "accuracy_k",
            "0.5 K is taken: copy the number from the data sheet, so that a good logger counts as one",
            &|p| placed(p, &|l| l.accuracy.is_none()),
        ),
        of("height_m", "write it down when the logger is placed", &|p| placed(p, &|l| l.height_m.is_none())),
        of(
            "height_m",
            "the height is not that of a person who sits or stands (0.6 m to 1.7 m): it reads another air",
            &|p| p.stated_height_m().is_some_and(|h| !(HEIGHT_FROM_M..=HEIGHT_TO_M).contains(&h)),
        ),
        of("file", "`check` and `audit` need the name that the export will have, such as L-101.csv", &|p| {
            placed(p, &|l| l.sources.is_empty())
        }),
        in_two_rooms(homes),
        of(
            "from",
            "write down when each logger was placed: what it read in the van is then left out",
            &|p| placed(p, &|l| l.span.from == crate::clock::Span::ALWAYS.from),
        ),
    ];
    roster.into_iter().flatten().chain(of_site_file(site)).chain(few_heated(homes)).collect()
}

/// Loggers that stand in two rooms at one time.
fn in_two_rooms(homes: &[HomePlan<'_>]) -> Option<Lack> {
    let all: Vec<_> = homes.iter().flat_map(|h| h.places.iter().map(move |p| (h, p))).collect();
    let mut places = Vec::new();
    for (at, (home, place)) in all.iter().enumerate() {
        let Some(own) = place.placement else { continue };
        let other = all[..at].iter().find(|(_, p)| {
            p.placement.is_some_and(|other| other.logger == own.logger && other.span.overlaps(&own.span))
        });
        // One file may hold several probes of one logger, each in a column.
        let probe = |p: &crate::site::Placement| p.sources.iter().any(|s| s.column.is_some());
        if let Some((first, room)) = other.filter(|(_, p)| !(probe(own) && p.placement.is_some_and(probe))) {
            places.push(format!(
                "{} in {} {} and {} {}",
                own.logger.told(),
                first.home.name,
                room.room.name,
                home.home.name,
                place.room.name
            ));
        }
    }
    let so = "one logger cannot stand in two rooms at one time: correct the name, or give `from` and `to`";
    (!places.is_empty()).then(|| Lack { what: "logger", everywhere: false, places, so: so.to_owned() })
}

/// Homes whose unheated rooms have nothing to be held against.
fn few_heated(homes: &[HomePlan<'_>]) -> Option<Lack> {
    let measured = |h: &HomePlan<'_>| {
        h.home.rooms.iter().filter(|r| r.heated.surely() && !r.placements.is_empty()).count()
    };
    let few = homes.iter().filter(|h| measured(h) == 0).map(|h| h.home.name.clone());
    let places: Vec<String> = few.collect();
    let so = "no heated room with a logger: no room of the home can be held against the heated ones";
    (!places.is_empty()).then(|| Lack { what: "heated", everywhere: false, places, so: so.to_owned() })
}

/// What the site file leaves open.
fn of_site_file(site: &Site) -> Vec<Lack> {
    let lack = |missing: bool, what, so: &str| {
        missing.then(|| Lack { what, everywhere: false, places: Vec::new(), so: so.to_owned() })
    };
    let rule = site.heat_rule.as_ref().is_some_and(crate::site::HeatRule::needs_outdoor);
    let outdoor = match rule {
        true => {
            "no weather: the heat rule asks for it at some hours, and nothing is told by outdoor temperature"
        }
        false => "no weather: nothing is told by outdoor temperature, and two periods cannot be compared",
    };
    [
        lack(site.outdoor.is_none(), "outdoor", outdoor),
        lack(!site.bands.any(), "[band]", "no comfort band: hours too cold or too warm are not counted"),
        lack(
            site.setbacks.is_empty(),
            "[[setback]]",
            "no schedule: how soon rooms are warm again is not judged",
        ),
        lack(
            site.design_outdoor.is_none(),
            "design_outdoor",
            "no design outdoor temperature: nothing is said of the coldest days to come",
        ),
    ]
    .into_iter()
    .flatten()
    .collect()
}
