//! How damp the air of a room is, where its logger records humidity.
//!
//! Settled here, and why:
//! - **Humidity** is the column of the temperature's own name, else the only one beside the only temperature; where
//!   several could be meant, none is. A humidity that cannot be read or lies outside 0 to 100 % is missing, its
//!   temperature stays. It is aligned by the same rule and given only at instants that have a temperature. It takes no
//!   part in the record's ends.

use super::{Compute, Family, Measured, Metric, RoomScope};
use crate::moist_air::{dew_point, surface_humidity_percent};
use crate::stats;
use crate::units::Celsius;

pub(super) static FAMILY: Family = Family { metrics: METRICS, compute: Compute::Room(humidity) };

const OWN: &str = "own definition";
const SURFACE: &str = "surface factor: [humidity] of the site file, default 0.75 (UK practice for dwellings, BRE IP 1/06, from memory); 80 % as in ISO 13788 and BS 5250 (secondary source); vapour pressure: Magnus, WMO-No. 8, annex 4.B";

metrics! {
    RELATIVE_HUMIDITY_MEAN = Metric {
        id: "relative_humidity_mean",
        unit: "%",
        definition: "mean relative humidity of the instants that have a temperature and a humidity",
        source: OWN,
    };
    RELATIVE_HUMIDITY_P95 = Metric {
        id: "relative_humidity_p95",
        unit: "%",
        definition: "95 % of the relative humidities lie below",
        source: "linear interpolation between order statistics: R. J. Hyndman, Y. Fan, The American Statistician 50 (1996), definition 7",
    };
    DEW_POINT_MEAN = Metric {
        id: "dew_point_mean",
        unit: "°C",
        definition: "mean of the dew points of the instants that have a temperature and a humidity over 0 %",
        source: "Magnus formula, WMO-No. 8, annex 4.B",
    };
    HOURS_OVER_70_RH = Metric {
        id: "hours_over_70_rh",
        unit: "h",
        definition: "hours with a relative humidity over 70 %",
        source: OWN,
    };
    HOURS_OVER_80_RH = Metric {
        id: "hours_over_80_rh",
        unit: "h",
        definition: "hours with a relative humidity over 80 %",
        source: OWN,
    };
    HOURS_SURFACE_OVER_80 = Metric {
        id: "hours_surface_over_80",
        unit: "h",
        definition: "hours at which room air would have a relative humidity of 80 % or more at an inner surface of the site's surface factor, where the outdoor temperature is known: mould can grow where that lasts",
        source: SURFACE,
    };
    HOURS_SURFACE_CONDENSATION = Metric {
        id: "hours_surface_condensation",
        unit: "h",
        definition: "hours at which water would condense at an inner surface of the site's surface factor, where the outdoor temperature is known",
        source: SURFACE,
    };
}

fn humidity(scope: &RoomScope<'_>, out: &mut Measured) {
    let Some(percent) = scope.humidity_percent() else { return };
    let degc = scope.degc();
    let here: Vec<usize> =
        scope.home().ranges().iter().flat_map(Clone::clone).filter(|i| !percent[*i].is_nan()).collect();
    let mut values: Vec<f64> = here.iter().map(|i| percent[*i]).collect();
    let (room, h) = (Some(scope.index()), scope.step_h());
    let Some(mean) = stats::mean(&values) else { return };
    let hours = values.len() as f64 * h;
    let over = |limit: f64| values.iter().filter(|x| **x > limit).count() as f64 * h;
    let (over_70, over_80) = (over(70.0), over(80.0));
    values.sort_unstable_by(f64::total_cmp);
    out.value(room, &RELATIVE_HUMIDITY_MEAN, mean, hours);
    out.value(room, &RELATIVE_HUMIDITY_P95, stats::sorted_quantile(&values, 0.95).unwrap_or(mean), hours);
    let dew: Vec<f64> = here
        .iter()
        .filter_map(|i| dew_point(Celsius::new(degc[*i]), percent[*i]))
        .map(Celsius::degc)
        .collect();
    if let Some(mean) = stats::mean(&dew) {
        out.value(room, &DEW_POINT_MEAN, mean, dew.len() as f64 * h);
    }
    out.value(room, &HOURS_OVER_70_RH, over_70, hours);
    out.value(room, &HOURS_OVER_80_RH, over_80, hours);
    at_surface(scope, percent, &here, out);
}

fn at_surface(scope: &RoomScope<'_>, percent: &[f64], here: &[usize], out: &mut Measured) {
    let Some(outdoor) = scope.home().aligned().outdoor() else { return };
    let factor = scope.home().site().surface_factor;
    let at = |i: &usize| {
        let (room, outdoor) = (Celsius::new(scope.degc()[*i]), Celsius::new(outdoor[*i]));
        surface_humidity_percent(room, percent[*i], outdoor, factor)
    };
    let known: Vec<f64> = here.iter().filter(|i| !outdoor[**i].is_nan()).map(at).collect();
    let h = scope.step_h();
    if !known.is_empty() {
        for (metric, limit) in [(&HOURS_SURFACE_OVER_80, 80.0), (&HOURS_SURFACE_CONDENSATION, 100.0)] {
            let hours = known.iter().filter(|x| **x >= limit).count() as f64 * h;
            out.value(Some(scope.index()), metric, hours, known.len() as f64 * h);
        }
    }
}
