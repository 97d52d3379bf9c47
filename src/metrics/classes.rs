//! Shares of the hours in the comfort classes of standards, for papers.
//!
//! Settled here, and why:
//! - **No predicted mean vote**: it takes the clothing and activity of people, which no logger knows. Loggers show air temperature,
//!   and the standards mean the operative one: the walls count as much, so that a room beside a cold wall is judged too well.

use super::{Compute, Family, Interval, IntervalKind, Measured, Metric, RoomScope, Slice};
use crate::site::Purpose;

pub(super) static FAMILY: Family = Family { metrics: METRICS, compute: Compute::Room(classes) };

const EN: &str = "EN 16798-1:2019, annex B (ranges I to III as printed in secondary sources, IV from memory)";
const ISO: &str = "ISO 7730:2005, annex H (methods A and B, by the range of operative temperature; category B in winter, table A.5, as printed in secondary sources)";

metrics! {
    SHARE_CATEGORY_I = Metric {
        id: "share_category_i",
        unit: "%",
        definition: "share of the hours of a heated living room, bedroom or kitchen from 21 to 25 °C, the range of category I in the heating season; low and high with both limits moved by the sensor accuracy",
        source: EN,
    };
    SHARE_CATEGORY_II = Metric {
        id: "share_category_ii",
        unit: "%",
        definition: "as share_category_i, from 20 to 25 °C: categories I and II",
        source: EN,
    };
    SHARE_CATEGORY_III = Metric {
        id: "share_category_iii",
        unit: "%",
        definition: "as share_category_i, from 18 to 25 °C: categories I to III",
        source: EN,
    };
    SHARE_CATEGORY_IV = Metric {
        id: "share_category_iv",
        unit: "%",
        definition: "as share_category_i, from 17 to 25 °C: categories I to IV",
        source: EN,
    };
    SHARE_OUTSIDE_WINTER_RANGE = Metric {
        id: "share_outside_winter_range",
        unit: "%",
        definition: "share of the hours of a heated living room, bedroom or kitchen outside of 20 to 24 °C (category B in winter); low and high with both limits moved by the sensor accuracy",
        source: ISO,
    };
    DEGREE_HOURS_OUTSIDE_WINTER_RANGE = Metric {
        id: "degree_hours_outside_winter_range",
        unit: "K·h",
        definition: "sum over the hours of how far the room lies outside of 20 to 24 °C; low and high as for share_outside_winter_range",
        source: ISO,
    };
}

/// Lower and upper limit of the categories, °C.
static CATEGORIES: [(&Metric, f64); 4] = [
    (&SHARE_CATEGORY_I, 21.0),
    (&SHARE_CATEGORY_II, 20.0),
    (&SHARE_CATEGORY_III, 18.0),
    (&SHARE_CATEGORY_IV, 17.0),
];
const UPPER: f64 = 25.0;
const WINTER: (f64, f64) = (20.0, 24.0);

/// The whole time only.
fn classes(scope: &RoomScope<'_>, out: &mut Measured) {
    let room = &scope.home().rooms()[scope.index()];
    let lived_in = matches!(room.purpose, Purpose::Living | Purpose::Bedroom | Purpose::Kitchen);
    if scope.home().slice() != Slice::All || !room.heated.surely() || !lived_in {
        return;
    }
    let values = scope.values();
    let (hours, accuracy) = (values.len() as f64 * scope.step_h(), scope.accuracy_k());
    if values.is_empty() {
        return;
    }
    let kind = IntervalKind::SensorAccuracy;
    let percent = |count: usize| 100.0 * count as f64 / values.len() as f64;
    for (metric, lower) in CATEGORIES.iter().copied() {
        // Wider limits take in more hours.
        let [low, share, high] = [-accuracy, 0.0, accuracy].map(|wider| {
            percent(values.iter().filter(|x| **x >= lower - wider && **x <= UPPER + wider).count())
        });
        out.value_within(Some(scope.index()), metric, share, Interval { low, high, kind }, hours);
    }
    let beyond = |x: f64, wider: f64| (WINTER.0 - wider - x).max(x - WINTER.1 - wider);
    let [low, share, high] = [accuracy, 0.0, -accuracy]
        .map(|wider| percent(values.iter().filter(|x| beyond(**x, wider) > 0.0).count()));
    let interval = Interval { low, high, kind };
    out.value_within(Some(scope.index()), &SHARE_OUTSIDE_WINTER_RANGE, share, interval, hours);
    let [low, sum, high] = [accuracy, 0.0, -accuracy]
        .map(|wider| values.iter().map(|x| beyond(*x, wider).max(0.0)).sum::<f64>() * scope.step_h());
    let interval = Interval { low, high, kind };
    out.value_within(Some(scope.index()), &DEGREE_HOURS_OUTSIDE_WINTER_RANGE, sum, interval, hours);
}
