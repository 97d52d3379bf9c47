//! How metrics are made again where their definition alone leaves something open: which procedures they take, and what else is
//! done.

use super::procedures::{
    ALIKE_DAYS, BREAK, DAYS_DRAWN, FOLLOWED, GRID_VALUES, MEAN_OVER_DAYS, ONE_DAY, OVER_HOMES, OVER_NIGHTS,
    Procedure, QUANTILES, QUARTILES, REFERENCE, SEEDS, SENSOR_ACCURACY, SENSOR_ACCURACY_AND_LAG,
    SLOPE_OVER_DAYS, SURVIVAL, TIMES,
};
use super::{
    COOLING_FALLS, COOLING_TIME_CONSTANT, DAYS_BELOW_BAND, DAYS_TO_DECIDE, DEGREE_HOURS_ABOVE,
    DEGREE_HOURS_BELOW, DEGREE_HOURS_OUTSIDE_WINTER_RANGE, EVEN_DOWN_TO, EVEN_P, EVENNESS_VERDICT,
    HEAT_RULE_EPISODES, HEAT_RULE_HOURS_AS_READ, HEAT_RULE_HOURS_BELOW, HEAT_RULE_HOURS_MET,
    HEAT_RULE_HOURS_NOT_EVALUATED, HEAT_RULE_HOURS_TOO_CLOSE, HEAT_RULE_LONGEST_EPISODE,
    HOMES_OFFSET_BETWEEN, HOMES_OFFSET_MEAN, HOMES_OFFSET_NEW, HOMES_RECOVERY_BETWEEN, HOMES_RECOVERY_MEAN,
    HOMES_RECOVERY_NEW, HOMES_SLOPE_BETWEEN, HOMES_SLOPE_MEAN, HOMES_SLOPE_NEW, HOMES_SPREAD_MEDIAN_BETWEEN,
    HOMES_SPREAD_MEDIAN_MEAN, HOMES_SPREAD_MEDIAN_NEW, HOMES_SPREAD_P95_BETWEEN, HOMES_SPREAD_P95_MEAN,
    HOMES_SPREAD_P95_NEW, HOURS_ABOVE_BAND, HOURS_BELOW_BAND, HOURS_BELOW_SETTLED, HOURS_NEAR_FREEZING,
    HOURS_OUTSIDE_BAND, HOURS_OVER_DRIFT_LIMIT, HOURS_SPREAD_OVER_LIMIT, HOURS_TO_5, HOURS_TO_16,
    HOURS_VERY_HOT, HOURS_WITHOUT_HEAT, LATE_RECOVERIES, LIMIT_REACHED_AT, LONGEST_ABOVE_BAND,
    LONGEST_BELOW_16, LONGEST_BELOW_BAND, MAX_CHANGE_1H, MAX_CHANGE_2H, MAX_CHANGE_4H, MAX_CHANGE_15MIN,
    MAX_CHANGE_30MIN, MEAN_AT_DESIGN, MEAN_ON_COLD_DAYS, MEDIAN, Metric, OFFSET_AT_DESIGN,
    OFFSET_FROM_REFERENCE, OFFSET_ON_MEDIAN_DAY, OFFSET_STANDARD_ERROR, OUTDOOR_SLOPE, OVERSHOOT, P05, P95,
    RECOVERIES_CUT_OFF, RECOVERY_AT_DESIGN, RECOVERY_EVENTS, RECOVERY_MEDIAN, RECOVERY_MEDIAN_COLDER,
    RECOVERY_MEDIAN_MILDER, RECOVERY_OUTDOOR_SPLIT, RECOVERY_P90, REFERENCE_APART, RELATIVE_HUMIDITY_P95,
    SETBACKS_FOUND, SHARE_CATEGORY_I, SHARE_CATEGORY_II, SHARE_CATEGORY_III, SHARE_CATEGORY_IV,
    SHARE_OUTSIDE_BAND, SHARE_OUTSIDE_WINTER_RANGE, SHARE_SPREAD_OVER_LIMIT, SINCE_BELOW_16, SPREAD_MEDIAN,
    SPREAD_NOISE_FLOOR, SPREAD_P95, TEMPERATURE_FACTOR, WARM_UP_RATE,
};

/// How some metrics are made again.
#[derive(Debug)]
pub struct Recipe {
    /// Which.
    pub of: &'static [&'static Metric],
    /// The procedures that they take, beside `grid values` and `periods, slices and days`, which all do.
    pub procedures: &'static [&'static Procedure],
    /// What else is done; empty where definition and procedures say it all.
    pub text: &'static str,
}

/// What every metric takes.
pub static ALL_TAKE: [&Procedure; 2] = [&GRID_VALUES, &TIMES];

/// The recipe of a metric; `None` where its definition says it all.
pub fn recipe(metric: &Metric) -> Option<&'static Recipe> {
    RECIPES.iter().find(|recipe| recipe.of.contains(&metric))
}

/// Every recipe.
pub static RECIPES: [Recipe; 29] = [
    Recipe {
        of: &[
            &HOMES_OFFSET_MEAN,
            &HOMES_OFFSET_BETWEEN,
            &HOMES_OFFSET_NEW,
            &HOMES_SPREAD_MEDIAN_MEAN,
            &HOMES_SPREAD_MEDIAN_BETWEEN,
            &HOMES_SPREAD_MEDIAN_NEW,
            &HOMES_SPREAD_P95_MEAN,
            &HOMES_SPREAD_P95_BETWEEN,
            &HOMES_SPREAD_P95_NEW,
            &HOMES_SLOPE_MEAN,
            &HOMES_SLOPE_BETWEEN,
            &HOMES_SLOPE_NEW,
            &HOMES_RECOVERY_MEAN,
            &HOMES_RECOVERY_BETWEEN,
            &HOMES_RECOVERY_NEW,
        ],
        procedures: &[&OVER_HOMES],
        text: "one value and one standard error for each home, in the slice `all` of a period: of a home's own number that number; of rooms with one use the mean of their numbers and the mean of their standard errors. Homes without an interval are left out, and nothing is given where they are more than a tenth, or fewer than five are left. Ends below 0 of what cannot be below 0 are 0",
    },
    Recipe { of: &[&P05, &MEDIAN, &P95, &RELATIVE_HUMIDITY_P95], procedures: &[&QUANTILES], text: "" },
    Recipe {
        of: &[
            &HOURS_BELOW_BAND,
            &HOURS_ABOVE_BAND,
            &HOURS_OUTSIDE_BAND,
            &SHARE_OUTSIDE_BAND,
            &DEGREE_HOURS_BELOW,
            &DEGREE_HOURS_ABOVE,
        ],
        procedures: &[&SENSOR_ACCURACY, &SENSOR_ACCURACY_AND_LAG],
        text: "L at each instant is the limit of the band that holds there: that of [band.night] in its hours, where there is one, in every slice. `interval` says which of the two procedures low and high are from",
    },
    Recipe {
        of: &[&HOURS_BELOW_SETTLED],
        procedures: &[&SENSOR_ACCURACY],
        text: "left out are the instants from the end of each setback of the site file (`to` on the local day) to before the end of the time granted; with time constants stated too, low and high are by `sensor accuracy` alone",
    },
    Recipe {
        of: &[&LONGEST_BELOW_BAND, &LONGEST_ABOVE_BAND],
        procedures: &[],
        text: "a run goes on where the band changes to its night values and back, as long as each value is beyond the limit of its own instant",
    },
    Recipe {
        of: &[&DAYS_BELOW_BAND],
        procedures: &[],
        text: "on each local day of the period the instants with T < L − u count, u the room's `accuracy_k`, suspect ones too: 12 h or more make it a day below, and any other day ends the row",
    },
    Recipe {
        of: &[&LONGEST_BELOW_16, &SINCE_BELOW_16],
        procedures: &[],
        text: "certainly below is T < 16 °C − u, u the room's `accuracy_k`, suspect instants among them; holes and values too close to call are each counted from the last instant certainly below on",
    },
    Recipe {
        of: &[&HOURS_NEAR_FREEZING, &HOURS_VERY_HOT],
        procedures: &[&SENSOR_ACCURACY],
        text: "here a value equal to the (moved) limit counts: T ≤ 5 °C, low T ≤ 5 °C − u, high T ≤ 5 °C + u, and T ≥ 35 °C likewise",
    },
    Recipe {
        of: &[&SHARE_CATEGORY_I, &SHARE_CATEGORY_II, &SHARE_CATEGORY_III, &SHARE_CATEGORY_IV],
        procedures: &[],
        text: "a share of all values of the room in the period, limits included; low with both limits moved inwards by u = `accuracy_k`, high with both moved outwards; suspect instants are in all three",
    },
    Recipe {
        of: &[&SHARE_OUTSIDE_WINTER_RANGE, &DEGREE_HOURS_OUTSIDE_WINTER_RANGE],
        procedures: &[],
        text: "how far a value lies outside is max(20 °C − w − T, T − 24 °C − w) where that is above 0, with w = 0, for low w = u = `accuracy_k`, for high w = −u; suspect instants are in all three",
    },
    Recipe {
        of: &[
            &MAX_CHANGE_15MIN,
            &MAX_CHANGE_30MIN,
            &MAX_CHANGE_1H,
            &MAX_CHANGE_2H,
            &MAX_CHANGE_4H,
            &HOURS_OVER_DRIFT_LIMIT,
        ],
        procedures: &[],
        text: "a window of k steps holds k + 1 instants in a row, all with values; left out are the instants of each setback of the site file and of the time after it until the first with T ≥ target − 0.5 K, at most 6 h. Limits in 15 min, 30 min, 1, 2 and 4 h: 1.1, 1.7, 2.2, 2.8, 3.3 K where the site shows °C, 2, 3, 4, 5, 6 °F (each × 5/9 K) where it shows °F; k is the window divided by the step, rounded down. hours_over_drift_limit counts each instant that lies in any window with a change over its limit once; low with the limits moved by +u, high by −u, u the room's `accuracy_k`",
    },
    Recipe {
        of: &[&SPREAD_MEDIAN, &SPREAD_P95],
        procedures: &[&QUANTILES, &ALIKE_DAYS, &DAYS_DRAWN, &SEEDS],
        text: "the days drawn are local days, as far as they lie in period and slice, whole or not; by weekday and outdoor temperature there is no interval",
    },
    Recipe {
        of: &[&HOURS_SPREAD_OVER_LIMIT, &SHARE_SPREAD_OVER_LIMIT],
        procedures: &[],
        text: "u = √(u₁² + u₂²) of the two largest `relative_accuracy_k` of the home; low counts spreads over the limit + u at instants at which no room is suspect, high those over the limit − u at all",
    },
    Recipe {
        of: &[&SPREAD_NOISE_FLOOR],
        procedures: &[],
        text: "d2(n) · √(mean of (relative_accuracy_k/2)²) over the n rooms with a value in period and slice; d2(n) = ∫ 1 − Φ(x)ⁿ − (1 − Φ(x))ⁿ dx: 1.128, 1.693, 2.059, 2.326, 2.534 for n = 2 … 6",
    },
    Recipe {
        of: &[&OFFSET_FROM_REFERENCE, &OFFSET_STANDARD_ERROR, &EVENNESS_VERDICT, &EVEN_P, &REFERENCE_APART],
        procedures: &[&REFERENCE, &ALIKE_DAYS, &MEAN_OVER_DAYS],
        text: "y: on each whole day of the slice the mean of T − reference at the instants that have both; x: the mean of the outdoor values of the day in the slice, where they are 75 % of it. offset_standard_error is E_nw; even_p = the share of Student's distribution with ν degrees of freedom (10⁶ at most) above (margin − |m|)/√V. No verdict `even` rests on a room, or a room of the reference, of whose hours more than 10 % are suspect: it is 0 then",
    },
    Recipe {
        of: &[&OFFSET_AT_DESIGN, &OFFSET_ON_MEDIAN_DAY, &EVEN_DOWN_TO],
        procedures: &[&REFERENCE, &ALIKE_DAYS, &ONE_DAY],
        text: "points: y and x of offset_from_reference on the days that have both, h its half-width of the sensors; x₀ the site's design outdoor temperature, or the median of the x. even_down_to is found by halving between the coldest x and that median, 26 times, where the interval is inside ± margin at the median and not at the coldest",
    },
    Recipe {
        of: &[&DAYS_TO_DECIDE],
        procedures: &[&REFERENCE, &ALIKE_DAYS, &MEAN_OVER_DAYS, &QUARTILES],
        text: "",
    },
    Recipe {
        of: &[&TEMPERATURE_FACTOR],
        procedures: &[&REFERENCE, &ALIKE_DAYS, &MEAN_OVER_DAYS],
        text: "on each local day the means of reference − T, of the reference and of outdoors over the instants that have all three (75 % of the day or more), their quotient is y, the outdoor mean x; h is that of offset_from_reference divided by the mean over these days of reference − outdoors",
    },
    Recipe {
        of: &[&OUTDOOR_SLOPE],
        procedures: &[&ALIKE_DAYS, &SLOPE_OVER_DAYS],
        text: "x: the mean of all outdoor values of a local day (75 % of it or more), below 10 °C; y: the mean of the room over the hours of that day in the slice `day` and the period (75 % of them or more)",
    },
    Recipe {
        of: &[&MEAN_ON_COLD_DAYS],
        procedures: &[&MEAN_OVER_DAYS],
        text: "the ⌈n/4⌉ coldest of the n days of outdoor_slope; E = SD/√⌈n/4⌉ and n_eff = ⌈n/4⌉, as if they were not alike, then as in `mean over days`, with h = `accuracy_k`",
    },
    Recipe {
        of: &[&MEAN_AT_DESIGN, &LIMIT_REACHED_AT],
        procedures: &[&ALIKE_DAYS, &ONE_DAY, &BREAK],
        text: "the days of outdoor_slope; x₀ the site's design outdoor temperature, h = `accuracy_k`; a break is looked for in heated rooms, and in the others where that of a heated one lies above the design temperature",
    },
    Recipe {
        of: &[&RECOVERY_EVENTS, &RECOVERIES_CUT_OFF, &RECOVERY_OUTDOOR_SPLIT, &WARM_UP_RATE, &OVERSHOOT],
        procedures: &[&FOLLOWED],
        text: "the outdoor mean of a morning is that of the 6 h from the start, where 75 % of them have a value; those at or under the split are the colder ones",
    },
    Recipe {
        of: &[&RECOVERY_MEDIAN, &RECOVERY_P90, &RECOVERY_MEDIAN_COLDER, &RECOVERY_MEDIAN_MILDER],
        procedures: &[&FOLLOWED, &ALIKE_DAYS, &SURVIVAL],
        text: "",
    },
    Recipe {
        of: &[&LATE_RECOVERIES],
        procedures: &[&FOLLOWED],
        text: "of the mornings on which the room has a value at the start; late: it took longer than the time granted, or was cut off after that time or later; a morning with nothing to recover from is not late. low: the line moved down by u = `accuracy_k`; high: up by min(u, max(0, k − [recovery] tolerance)), k the median over the mornings of how far the room's median from the end of the time granted to its cut-off lies above the line; low and high never pass the value; no row where of one of the three lines every morning was cut off before it could tell",
    },
    Recipe {
        of: &[&RECOVERY_AT_DESIGN],
        procedures: &[&FOLLOWED, &ALIKE_DAYS],
        text: "the most likely ln t = α + β x + σ ε of the recovery times t above 0 at their outdoor means x, ε normal, those cut off counted by the probability of more; D = α + β x₀ at the design temperature, its standard error from the inverse of the second derivatives in (α/σ, β/σ, 1/σ), times √(n/n_eff) of the residuals of the mornings that reached the line (0.9 at most); s_k: half of the distance of the two D with the line moved by ± u/1.959964; H = √((t₀.₉₇₅(m − 2))² (σ² + error²) + (1.959964 s_k)²), m the mornings that reached the line; low and high = exp(D ∓ H), low less what the loggers trail at most (as in `recovery times`)",
    },
    Recipe {
        of: &[&COOLING_TIME_CONSTANT, &COOLING_FALLS, &HOURS_TO_16, &HOURS_TO_5],
        procedures: &[&OVER_NIGHTS],
        text: "a fall begins at the warmest instant (of equal ones the last) of the first 2 h of a setback of the site file that lies in the period (without any: of the falls of `setbacks_found`) or of a time `no heat` or `held low` (of the home or of the room, also where it got no colder than the band; times that overlap are one), and ends at its lowest value before it rises more than 0.2 K above the lowest so far, has no value, or the time is over. Its constant is −1/slope of the least-squares line of ln(T − T_out) on time from 1 h after its begin to its end, T_out the mean outdoors over that time, instants nearer than 3 K left out; free: the constants of its two halves (by instants) are positive and their quotient is between 1/1.5 and 1.5. No constant where fewer than 5 falls are free, or fewer than half. Sensors: constant · u/(mean of T − T_out over the free falls). hours_to_16 = c · ln((T − u − f − T_d)/(16 − T_d)), c the smallest low of cooling_time_constant in the home, T the mean of the room's last values that make 168 h, u = `accuracy_k`, f the median of what the free falls lose in their first hour (0 at least), T_d the design temperature",
    },
    Recipe {
        of: &[&SETBACKS_FOUND],
        procedures: &[&FOLLOWED],
        text: "the mean of the heated rooms that have values for 75 % of the time from the first to the last value of any room, at instants at which all of them have one, every 5 min (each step, where it is longer), each value then the median of itself and of as many on either side as 15 min hold (none beside a hole). A fall goes from a highest value down by 1.5 K and on to its lowest, until it is 1.5 K above that again; its depth is the highest of the 10 h before the lowest (after the last hole) less the lowest, 1.5 K at least. It starts at the last value within a tenth of the depth from that highest, recovery at the last within a tenth from the lowest. Left out where half or more of the heated rooms with a value are suspect as recovery starts. The target of a room is the median of its values of the 6 h up to the start of the fall",
    },
    Recipe {
        of: &[&HOURS_WITHOUT_HEAT],
        procedures: &[],
        text: "what an event `no heat` is stands under that name (and `held low`, `fell behind`, `no heat, nobody about`). What is usual: the period is cut into weeks from its first instant, each held against itself and the two weeks on either side; of these weeks every half hour's value counts, by full hours since local midnight, Saturdays and Sundays apart where an hour has values of 3 such days or more, else together; usual is the median. Where that median is below the band (without one: 18 °C) and a tenth or more of the values of that hour are not, and lie 3 K or more above it, those are warm days; where three quarters or more of the hours have warm days, usual is the median of the warm days. With four heated rooms or more that have a value the second least below decides, else the least below; half of the heated rooms, and two of them, must have a value, or one with which a room without heating lies 1.5 K or more below its usual; when it begins and ends goes by the middle one (of an even number the one further below). The home's time counts once, a room's alone only where the home's has none",
    },
    Recipe {
        of: &[
            &HEAT_RULE_HOURS_AS_READ,
            &HEAT_RULE_HOURS_BELOW,
            &HEAT_RULE_HOURS_TOO_CLOSE,
            &HEAT_RULE_HOURS_MET,
            &HEAT_RULE_HOURS_NOT_EVALUATED,
            &HEAT_RULE_EPISODES,
            &HEAT_RULE_LONGEST_EPISODE,
        ],
        procedures: &[&SENSOR_ACCURACY, &SENSOR_ACCURACY_AND_LAG],
        text: "judged are the instants at which a logger is placed in the room, in the windows of the rule: the local date decides about the season (both days included), the local time about the window (its end not included), the outdoor value at the same instant about the weather (`below`: strictly; 24 h: at that instant and the 24 h before). Of several windows the highest minimum holds. Where an outdoor value that would decide is missing it is not evaluated, unless the room is surely below a lower minimum that holds anyway. Surely below: T + over < minimum; met: T − under ≥ minimum, under and over as in `sensor accuracy and lag` (u where no lag is stated); else, and wherever the instant is suspect, too close to call. low = the hours surely below, high = those and the ones too close to call. A rule about the home holds the mean of the rooms that it means, at instants at which no more than one of them is missing. An episode is a run surely below, that up to 30 min too close to call in a row do not end",
    },
];
