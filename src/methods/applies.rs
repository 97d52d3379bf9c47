//! Which metrics, events and rules the settings of a site make apply.

use crate::findings::Rule;
use crate::metrics::{self, EventKind, Metric};
use crate::site::{Heated, Purpose, Site};

/// What a metric needs of a site.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Need {
    /// A band.
    Band,
    /// No setback in the site file.
    NoSetback,
    /// A heat rule.
    HeatRule,
    /// A weather series.
    Outdoor,
    /// A design outdoor temperature.
    Design,
    /// A home with two rooms.
    TwoRooms,
    /// A heated room.
    Heated,
    /// A room without heating.
    Unheated,
    /// A heated living room, bedroom or kitchen.
    LivedIn,
    /// Four homes.
    FourHomes,
    /// Four homes with their floors, or lines.
    Floors,
    /// See `Floors`.
    Lines,
    /// Two periods to be compared.
    Periods,
}

impl Need {
    fn is_met(self, site: &Site) -> bool {
        let mut rooms = site.homes.iter().flat_map(|home| &home.rooms);
        let lived_in =
            |purpose: Purpose| matches!(purpose, Purpose::Living | Purpose::Bedroom | Purpose::Kitchen);
        match self {
            Need::Band => site.bands.any(),
            Need::NoSetback => site.setbacks.is_empty(),
            Need::HeatRule => site.heat_rule.is_some(),
            Need::Outdoor => site.outdoor.is_some(),
            Need::Design => site.design_outdoor.is_some(),
            Need::TwoRooms => site.homes.iter().any(|home| home.rooms.len() > 1),
            Need::Heated => rooms.any(|room| room.heated.surely()),
            Need::Unheated => rooms.any(|room| room.heated == Heated::No),
            Need::LivedIn => rooms.any(|room| room.heated.surely() && lived_in(room.purpose)),
            Need::FourHomes => site.homes.len() > 3,
            Need::Floors => site.homes.iter().filter(|home| home.floor.is_some()).count() > 3,
            Need::Lines => site.homes.iter().filter(|home| home.line.is_some()).count() > 3,
            Need::Periods => site.periods.len() > 1,
        }
    }
}

/// Needs, and the metrics that have them; a metric may stand in several rows, and what stands in none needs nothing.
static NEEDS: [(&[Need], &[&Metric]); 14] = [
    (
        &[Need::Band],
        &[
            &metrics::HOURS_BELOW_BAND,
            &metrics::HOURS_ABOVE_BAND,
            &metrics::HOURS_OUTSIDE_BAND,
            &metrics::SHARE_OUTSIDE_BAND,
            &metrics::DEGREE_HOURS_BELOW,
            &metrics::DEGREE_HOURS_ABOVE,
            &metrics::LONGEST_BELOW_BAND,
            &metrics::LONGEST_ABOVE_BAND,
            &metrics::EXCURSIONS_BELOW,
            &metrics::EXCURSIONS_ABOVE,
            &metrics::HOURS_BELOW_SETTLED,
            &metrics::DAYS_BELOW_BAND,
            &metrics::DAY_HOURS_BELOW_BAND,
            &metrics::DAY_HOURS_ABOVE_BAND,
            &metrics::DAY_DEGREE_HOURS_BELOW,
        ],
    ),
    (&[Need::NoSetback, Need::Heated], &[&metrics::SETBACKS_FOUND]),
    (
        &[Need::HeatRule],
        &[
            &metrics::HEAT_RULE_HOURS_AS_READ,
            &metrics::HEAT_RULE_HOURS_BELOW,
            &metrics::HEAT_RULE_HOURS_TOO_CLOSE,
            &metrics::HEAT_RULE_HOURS_MET,
            &metrics::HEAT_RULE_HOURS_NO_DATA,
            &metrics::HEAT_RULE_HOURS_NOT_EVALUATED,
            &metrics::HEAT_RULE_EPISODES,
            &metrics::HEAT_RULE_LONGEST_EPISODE,
            &metrics::HEAT_RULE_LOWEST_MARGIN,
        ],
    ),
    (
        &[Need::Outdoor],
        &[
            &metrics::OUTDOOR_MEAN,
            &metrics::OUTDOOR_MINIMUM,
            &metrics::OUTDOOR_MAXIMUM,
            &metrics::OUTDOOR_SLOPE,
            &metrics::MEAN_ON_COLD_DAYS,
            &metrics::LIMIT_REACHED_AT,
            &metrics::OFFSET_ON_MEDIAN_DAY,
            &metrics::EVEN_DOWN_TO,
            &metrics::TEMPERATURE_FACTOR,
            &metrics::COOLING_TIME_CONSTANT,
            &metrics::COOLING_FALLS,
            &metrics::RECOVERY_OUTDOOR_SPLIT,
            &metrics::RECOVERY_MEDIAN_COLDER,
            &metrics::RECOVERY_MEDIAN_MILDER,
            &metrics::HOURS_SURFACE_OVER_80,
            &metrics::HOURS_SURFACE_CONDENSATION,
        ],
    ),
    (
        &[Need::Outdoor, Need::Design],
        &[
            &metrics::MEAN_AT_DESIGN,
            &metrics::OFFSET_AT_DESIGN,
            &metrics::RECOVERY_AT_DESIGN,
            &metrics::HOURS_TO_16,
            &metrics::HOURS_TO_5,
        ],
    ),
    (
        &[Need::TwoRooms],
        &[
            &metrics::SPREAD_MEDIAN,
            &metrics::SPREAD_P95,
            &metrics::SPREAD_MAXIMUM,
            &metrics::SPREAD_NOISE_FLOOR,
            &metrics::HOURS_SPREAD_OVER_LIMIT,
            &metrics::SHARE_SPREAD_OVER_LIMIT,
            &metrics::SHARE_COLDEST,
            &metrics::SHARE_WARMEST,
            &metrics::DAY_SPREAD,
            &metrics::DAY_HOURS_SPREAD_OVER_LIMIT,
        ],
    ),
    (
        &[Need::TwoRooms, Need::Heated],
        &[
            &metrics::OFFSET_FROM_REFERENCE,
            &metrics::OFFSET_STANDARD_ERROR,
            &metrics::EVENNESS_VERDICT,
            &metrics::EVEN_P,
            &metrics::EVEN_P_ADJUSTED,
            &metrics::UNEVEN_P_ADJUSTED,
            &metrics::VERDICTS_AT_ONCE,
            &metrics::REFERENCE_ROOMS,
            &metrics::IN_REFERENCE,
            &metrics::REFERENCE_APART,
            &metrics::OFFSET_AT_DESIGN,
            &metrics::OFFSET_ON_MEDIAN_DAY,
            &metrics::EVEN_DOWN_TO,
            &metrics::DAYS_TO_DECIDE,
            &metrics::TEMPERATURE_FACTOR,
            &metrics::DAY_OFFSET_FROM_REFERENCE,
        ],
    ),
    (&[Need::Heated], &[&metrics::HOURS_WITHOUT_HEAT, &metrics::LIMIT_REACHED_AT]),
    (&[Need::Unheated], &[&metrics::TEMPERATURE_FACTOR]),
    (
        &[Need::LivedIn],
        &[
            &metrics::SHARE_CATEGORY_I,
            &metrics::SHARE_CATEGORY_II,
            &metrics::SHARE_CATEGORY_III,
            &metrics::SHARE_CATEGORY_IV,
            &metrics::SHARE_OUTSIDE_WINTER_RANGE,
            &metrics::DEGREE_HOURS_OUTSIDE_WINTER_RANGE,
        ],
    ),
    (
        &[Need::FourHomes],
        &[&metrics::BUILDING_MEDIAN, &metrics::BUILDING_RANGE, &metrics::OFFSET_FROM_BUILDING],
    ),
    (&[Need::Floors], &[&metrics::OFFSET_FROM_FLOOR]),
    (&[Need::Lines], &[&metrics::OFFSET_FROM_LINE]),
    (
        &[Need::Periods],
        &[
            &metrics::DAY_MEAN,
            &metrics::DAY_MINIMUM,
            &metrics::DAY_HOURS_BELOW_BAND,
            &metrics::DAY_HOURS_ABOVE_BAND,
            &metrics::DAY_DEGREE_HOURS_BELOW,
            &metrics::DAY_OFFSET_FROM_REFERENCE,
            &metrics::DAY_SPREAD,
            &metrics::DAY_HOURS_SPREAD_OVER_LIMIT,
        ],
    ),
];

/// Metrics of humidity: whether a logger records it, only exports tell.
pub(super) static OF_HUMIDITY: [&Metric; 7] = [
    &metrics::RELATIVE_HUMIDITY_MEAN,
    &metrics::RELATIVE_HUMIDITY_P95,
    &metrics::DEW_POINT_MEAN,
    &metrics::HOURS_OVER_70_RH,
    &metrics::HOURS_OVER_80_RH,
    &metrics::HOURS_SURFACE_OVER_80,
    &metrics::HOURS_SURFACE_CONDENSATION,
];

/// Whether a site's settings make a metric apply.
pub(super) fn metric(site: &Site, metric: &Metric) -> bool {
    let of_it = NEEDS.iter().filter(|(_, metrics)| metrics.contains(&metric));
    of_it.flat_map(|(needs, _)| *needs).all(|need| need.is_met(site))
}

/// Whether they make a kind of event possible.
pub(super) fn event(site: &Site, kind: EventKind) -> bool {
    let needs: &[Need] = match kind {
        EventKind::BelowBand | EventKind::AboveBand => &[Need::Band],
        EventKind::SpreadOverLimit => &[Need::TwoRooms],
        EventKind::Recovery => return !site.setbacks.is_empty(),
        EventKind::RecoveryFound => &[Need::NoSetback, Need::Heated],
        EventKind::HeatRuleShortfall => &[Need::HeatRule],
        EventKind::SeriousCold | EventKind::NearFreezing | EventKind::VeryHot => &[],
        EventKind::NoHeat
        | EventKind::NoHeatNobody
        | EventKind::NoHeatInRoom
        | EventKind::HeldLow
        | EventKind::HeldLowInRoom => &[Need::Heated],
        EventKind::FellBehind | EventKind::FellBehindInRoom => &[Need::Heated, Need::Outdoor],
    };
    needs.iter().all(|need| need.is_met(site))
}

/// Rules that judge without what they look at first: a room without a band is held against 16 °C.
const EVEN_SO: [&str; 1] = ["room-cold"];

/// Whether they give a rule what it needs, and what it looks at first.
pub(super) fn rule(site: &Site, rule: &Rule) -> bool {
    let applies = |m: &&Metric| metric(site, m);
    let decides = rule.looks_at.first().is_none_or(applies);
    rule.needs.iter().all(applies) && (decides || EVEN_SO.contains(&rule.name))
}
