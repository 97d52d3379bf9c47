//! Every name that the definitions promise: explained with its source, and there in an audit of the sample.

use std::collections::BTreeSet;

use evenrooms::explain::explain;

use crate::program::SampleAudit;

/// Written out by hand from the page of definitions, by its sections.
const OF_ROOMS: &str = "coverage mean minimum maximum p05 median p95 standard_deviation mean_daily_range hours_below_band hours_above_band hours_outside_band share_outside_band degree_hours_below degree_hours_above longest_below_band longest_above_band excursions_below excursions_above max_change_15min max_change_30min max_change_1h max_change_2h max_change_4h hours_over_drift_limit";
const OF_HOMES: &str = "spread_median spread_p95 spread_maximum hours_spread_over_limit share_spread_over_limit spread_noise_floor share_coldest share_warmest offset_from_reference in_reference reference_rooms reference_apart evenness_verdict even_p even_p_adjusted uneven_p_adjusted verdicts_at_once offset_at_design";
const OF_RECOVERY: &str = "recovery_events recoveries_cut_off no_setback recovery_median recovery_p90 recovery_at_design warm_up_rate overshoot";
const OF_HEAT_RULES: &str = "heat_rule_hours_as_read heat_rule_hours_below heat_rule_hours_met heat_rule_hours_too_close heat_rule_hours_no_data heat_rule_hours_not_evaluated heat_rule_episodes";
/// What the home can do, and comfort classes.
const OF_PHYSICS: &str = "outdoor_slope mean_at_design mean_on_cold_days cooling_time_constant cooling_falls hours_to_16 hours_to_5 offset_on_median_day even_down_to temperature_factor share_category_i share_category_ii share_category_iii share_category_iv share_outside_winter_range degree_hours_outside_winter_range";
/// Promised beyond that page: humidity, weather, the building.
const OF_MORE: &str = "relative_humidity_mean relative_humidity_p95 dew_point_mean hours_over_70_rh hours_over_80_rh hours_surface_over_80 hours_surface_condensation outdoor_mean outdoor_minimum outdoor_maximum building_median building_range offset_from_building";
/// What homes have in common.
const OF_MANY_HOMES: &str = "homes_offset_mean homes_offset_between homes_offset_new homes_spread_median_mean homes_spread_median_between homes_spread_median_new homes_spread_p95_mean homes_spread_p95_between homes_spread_p95_new homes_slope_mean homes_slope_between homes_slope_new homes_recovery_mean homes_recovery_between homes_recovery_new";
/// Not in the sample: its floors and lines have too few homes beside a home, its site file has the setbacks,
/// and nothing in it is at the limit of its heating.
const ELSEWHERE: &str = "offset_from_floor offset_from_line setbacks_found limit_reached_at";

fn names() -> Vec<&'static str> {
    let lists = [OF_ROOMS, OF_HOMES, OF_RECOVERY, OF_HEAT_RULES, OF_PHYSICS, OF_MORE, OF_MANY_HOMES];
    lists.iter().flat_map(|list| list.split(' ')).collect()
}

#[test]
fn every_defined_metric_is_explained_with_its_source() {
    for name in names().into_iter().chain(ELSEWHERE.split(' ')) {
        let text = explain(Some(name)).unwrap();
        let defined = text.split("\n\n").any(|entry| {
            let (definition, source) = entry.split_once("\nsource: ").unwrap_or_default();
            let words = definition.strip_prefix(name).and_then(|rest| rest.split_once("): "));
            words.is_some_and(|(unit, words)| unit.starts_with(" (") && words.len() > 15) && source.len() > 5
        });
        assert!(defined, "{name}: {text}");
    }
    for event in ["below band", "above band", "spread over limit", "setback recovery", "heat-rule shortfall"]
    {
        assert!(explain(Some(event)).unwrap().len() > event.len() + 15, "{event}");
    }
}

#[test]
fn every_defined_metric_is_in_the_audit_of_the_sample() {
    let rows = SampleAudit::get().csv("metrics.csv");
    let there: BTreeSet<&str> = rows.iter().map(|r| r["metric"].as_str()).collect();
    let missing: Vec<&str> = names().into_iter().filter(|name| !there.contains(name)).collect();
    assert!(missing.is_empty(), "{missing:?}");
    let expected_elsewhere: Vec<&str> = ELSEWHERE.split(' ').filter(|name| there.contains(name)).collect();
    assert!(expected_elsewhere.is_empty(), "{expected_elsewhere:?} could be listed above");
}

#[test]
fn the_sample_has_all_slices_and_rows_of_the_building() {
    let rows = SampleAudit::get().csv("metrics.csv");
    let slices: BTreeSet<&str> = rows.iter().map(|r| r["slice"].as_str()).collect();
    for slice in ["all", "day", "night", "monday to friday", "saturday and sunday", "outdoor -2 to 0 °C"] {
        assert!(slices.contains(slice), "{slice}: {slices:?}");
    }
    let of = |metric: &str| rows.iter().filter(|r| r["metric"] == metric).collect::<Vec<_>>();
    assert!(of("building_median").iter().all(|r| r["home"].is_empty() && r["room"].is_empty()));
    let homes: BTreeSet<&str> = of("offset_from_building").iter().map(|r| r["home"].as_str()).collect();
    assert_eq!(homes.len(), 6, "{homes:?}");
    let damp: Vec<f64> =
        of("relative_humidity_mean").iter().map(|r| r["value"].parse::<f64>().unwrap()).collect();
    assert!(!damp.is_empty() && damp.iter().all(|x| (5.0..95.0).contains(x)), "{damp:?}");
}
