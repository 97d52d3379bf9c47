//! The side-by-side check: what each logger read while all of them lay in one place.

use crate::units::KelvinDiff;

/// What a side-by-side check says about one logger.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SideBySide {
    /// How much the logger read over the group: the median of its differences to the group's median.
    pub offset: KelvinDiff,
    /// Accuracy after the offset is taken off (95 % half-width).
    pub accuracy: KelvinDiff,
    /// Instants compared.
    pub instants: usize,
}

/// Fewest loggers that make a group.
pub const MIN_LOGGERS: usize = 3;
/// Fewest instants at which a logger is compared.
pub const MIN_INSTANTS: usize = 24;

/// Compares loggers that lay side by side.
///
/// `series` has one entry per logger, all at the same instants, NaN where a logger has no value. A logger with
/// fewer than [`MIN_INSTANTS`] comparisons, or in a group of fewer than [`MIN_LOGGERS`], gets no answer.
///
/// The accuracy after correction is √(u₀²/n + r²): the group's own error (n loggers of accuracy u₀, independent) and
/// r, the 95th percentile of what is left of the differences. Side by side shows agreement, not truth.
///
/// # Source
/// Offset: common practice, no published source (24–72 h in one still box, median difference to the group median).
/// Accuracy: own definition.
pub fn side_by_side(series: &[Vec<f64>], u0: KelvinDiff) -> Vec<Option<SideBySide>> {
    let instants = series.iter().map(Vec::len).max().unwrap_or(0);
    let mut differences: Vec<Vec<f64>> = vec![Vec::new(); series.len()];
    for i in 0..instants {
        let here: Vec<(usize, f64)> = series
            .iter()
            .enumerate()
            .filter_map(|(k, s)| s.get(i).filter(|x| !x.is_nan()).map(|x| (k, *x)))
            .collect();
        if here.len() < MIN_LOGGERS {
            continue;
        }
        let group = crate::stats::median(here.iter().map(|(_, x)| *x).collect()).unwrap_or(f64::NAN);
        for (k, x) in here {
            differences[k].push(x - group);
        }
    }
    let judge = |d: Vec<f64>| {
        let count = d.len();
        let offset = crate::stats::median(d.clone()).filter(|_| count >= MIN_INSTANTS)?;
        let left = crate::stats::quantile(d.iter().map(|x| (x - offset).abs()).collect(), 0.95)?;
        let accuracy = (u0.k().powi(2) / series.len() as f64 + left.powi(2)).sqrt();
        Some(SideBySide {
            offset: KelvinDiff::new(offset),
            accuracy: KelvinDiff::new(accuracy),
            instants: count,
        })
    };
    differences.into_iter().map(judge).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn offsets_are_measured_from_the_group_median() {
        let base: Vec<f64> = (0..48).map(|i| 20.0 + f64::from(i) * 0.01).collect();
        let shifted = |by: f64| base.iter().map(|x| x + by).collect::<Vec<_>>();
        let answer = side_by_side(&[shifted(0.0), shifted(0.3), shifted(-0.1)], KelvinDiff::new(0.5));
        let offsets: Vec<f64> = answer.iter().map(|a| (a.unwrap().offset.k() * 1e6).round() / 1e6).collect();
        assert_eq!(offsets, [0.0, 0.3, -0.1]);
        assert!((answer[1].unwrap().accuracy.k() - 0.5 / 3.0_f64.sqrt()).abs() < 1e-9);
    }

    #[test]
    fn two_loggers_are_no_group() {
        assert_eq!(side_by_side(&[vec![20.0; 48], vec![20.3; 48]], KelvinDiff::new(0.5)), [None, None]);
    }
}
