//! Whether rooms far below what is usual had all the heat that there is: then the heating could not keep up with the cold.
//!
//! Settled here, and why:
//! - **Two witnesses.** Heating that stops lets the rooms come nearer to outdoors than they are on other cold days; heating at its
//!   limit keeps them as far above outdoors as on the coldest of them. And what it cannot keep up with in a cold spell it hardly
//!   keeps up with on other cold days: rooms that are otherwise flat against the weather have heating to spare.
//! - **When in doubt there was no heat**: without outdoor temperatures, or with few other days, nobody is told that there was some.

use std::ops::Range;

use crate::stats::{self, Line};

/// Hours that it lasts at least.
const LEAST_H: f64 = 12.0;
/// Other days that tell how far above outdoors the rooms can be.
const LEAST_DAYS: usize = 7;
/// The day of them that is so far up.
const UPPER: f64 = 0.9;
/// How much the rooms follow the weather on other days, in K/K, and the share of that day's distance that they must reach then:
/// the more the one tells, the less the other.
const FOLLOWS: [(f64, f64); 3] = [(0.05, 1.0), (0.1, 0.9), (0.2, 0.8)];
/// So much less of it must still be reached in the last third: what is left of the heat before a failure is gone by then.
const LAST_LESS: f64 = 0.05;
/// A value stands for its day where so many of its hours have one.
const DAY_H: f64 = 24.0;
const OF_A_DAY: f64 = 0.75;

/// Whether some rooms were heated as on the coldest of the other days: `degc` their mean and `outdoor` the outdoor temperature at
/// each instant, °C, NaN where nobody knows; `at`: from the start of the fall until warm again, `low` that part of it which lies
/// far below what is usual.
///
/// # Source
/// Own definition.
pub(super) fn is_at_its_limit(
    degc: &[f64],
    outdoor: &[f64],
    at: &Range<usize>,
    low: &Range<usize>,
    step_h: f64,
) -> bool {
    if (low.len() as f64) * step_h < LEAST_H || outdoor.len() != degc.len() || degc.len() < low.end {
        return false;
    }
    let day = ((DAY_H / step_h).round() as usize).max(1);
    let apart = |i: &usize| i + day <= at.start || at.end <= *i;
    let means = |range: Range<usize>| {
        let pairs =
            degc[range.clone()].iter().zip(&outdoor[range.clone()]).filter(|(x, o)| !(*x - *o).is_nan());
        let (inside, outside): (Vec<f64>, Vec<f64>) = pairs.unzip();
        let enough = inside.len() as f64 >= OF_A_DAY * range.len() as f64;
        stats::mean(&outside).zip(stats::mean(&inside)).filter(|_| enough)
    };
    let days: Vec<(f64, f64)> = (0..(degc.len() + 1).saturating_sub(day))
        .step_by(day)
        .filter(apart)
        .filter_map(|i| means(i..i + day))
        .collect();
    let above = |(outside, inside): &(f64, f64)| inside - outside;
    if days.len() < LEAST_DAYS {
        return false;
    }
    let usual = stats::quantile(days.iter().map(above).collect(), UPPER);
    // The median: while it warms up outdoors at last, the rooms trail.
    let reached = |time: Range<usize>, share: f64| {
        let apart = degc[time.clone()].iter().zip(&outdoor[time.clone()]).map(|(x, o)| x - o);
        let there: Vec<f64> = apart.filter(|k| !k.is_nan()).collect();
        let enough = there.len() as f64 >= OF_A_DAY * time.len() as f64;
        stats::median(there).zip(usual).is_some_and(|(now, usual)| enough && now >= share * usual)
    };
    let last = low.end - low.len() / 3..low.end;
    let Some(line) = Line::fit(&days) else { return false };
    let is_told = |(follows, share): &(f64, f64)| {
        line.slope >= *follows && reached(low.clone(), *share) && reached(last.clone(), share - LAST_LESS)
    };
    FOLLOWS.iter().any(is_told)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Half hours of four weeks in which outdoors falls from 5 °C to −9 °C and rises again, with two days of −15 °C after two weeks.
    fn weather() -> Vec<f64> {
        let day = |d: f64| if (14.0..16.0).contains(&d) { -15.0 } else { (d - 14.0).abs() - 9.0 };
        (0..28 * 48).map(|i| day(f64::from(i) / 48.0)).collect()
    }

    /// Whether the two cold days are told of rooms that are as warm as this function of outdoors and the day has it.
    fn told(degc: impl Fn(f64, f64) -> f64) -> bool {
        let outdoor = weather();
        let degc: Vec<f64> = outdoor.iter().enumerate().map(|(i, o)| degc(*o, i as f64 / 48.0)).collect();
        let at = 14 * 48..16 * 48;
        is_at_its_limit(&degc, &outdoor, &at, &(at.start + 12..at.end), 0.5)
    }

    #[test]
    fn heating_that_gives_all_it_can_is_no_failure() {
        // It carries 23 K above outdoors: 21 °C down to −2 °C, below that less.
        assert!(told(|outdoor, _| (outdoor + 23.0).min(21.0)));
        // What it carries on the coldest days only, nobody can tell from a failure in a heavy home.
        assert!(!told(|outdoor, _| (outdoor + 29.0).min(21.0)));
    }

    #[test]
    fn rooms_that_come_nearer_to_outdoors_had_no_heat() {
        let fails = |outdoor: f64, day: f64| match (14.0..16.0).contains(&day) {
            true => outdoor + 36.0 * (-(day - 14.0) / 2.0).exp(),
            false => (outdoor + 23.0).min(21.0),
        };
        assert!(!told(fails), "13 K above outdoors at the end, 23 K on other cold days");
        // 18 °C instead of 21 °C in the hard frost, flat on all other days: its heating has more to give.
        assert!(!told(|outdoor, _| if outdoor < -14.0 { 18.0 } else { 21.0 }));
    }

    #[test]
    fn nobody_is_told_of_heat_without_weather_or_other_days() {
        let outdoor = weather();
        let degc: Vec<f64> = outdoor.iter().map(|o| (o + 23.0).min(21.0)).collect();
        let (at, unknown) = (14 * 48..16 * 48, vec![f64::NAN; outdoor.len()]);
        assert!(is_at_its_limit(&degc, &outdoor, &at, &at, 0.5));
        assert!(
            !is_at_its_limit(&degc, &[], &at, &at, 0.5) && !is_at_its_limit(&degc, &unknown, &at, &at, 0.5)
        );
        let week = 11 * 48..18 * 48;
        let of = |x: &[f64]| x[week.clone()].to_vec();
        let here = 3 * 48..5 * 48;
        assert!(!is_at_its_limit(&of(&degc), &of(&outdoor), &here, &here, 0.5), "five other days");
        assert!(!is_at_its_limit(&degc, &outdoor, &at, &(at.start..at.start + 20), 0.5), "ten hours");
    }
}
