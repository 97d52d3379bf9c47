//! The side-by-side check: what each logger read while all of them lay in one place.
//!
//! Settled here, and why:
//! - **What a side-by-side time may take off**: an offset of up to twice the accuracy. Loggers in one place keep their
//!   distance within 0.25 K or 1.2 of their steps, and a twentieth of what all go through (95 % of the time after the
//!   first quarter); one that does not, or is too far off, takes no part in the median. Where more than one and more than
//!   a third stand out, the time is wrong and is refused. With two loggers left nothing is taken off any.
//! - **Side-by-side accuracy** is √(u₀²/n + r²): agreement is not truth.

mod elsewhere;

pub use elsewhere::{AsElsewhere, as_elsewhere};

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
    /// What is taken on the word of the site file alone.
    pub on_its_word: Option<Word>,
}

/// What the site file says and no reading shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Word {
    /// That an offset is right though no accuracy explains it.
    Offset,
    /// That the loggers lay side by side.
    Time,
}

/// Fewest loggers that make a group.
pub const MIN_LOGGERS: usize = 3;
/// Fewest instants at which a logger is compared.
pub const MIN_INSTANTS: usize = 24;

/// A logger in the side-by-side time.
#[derive(Clone, Debug)]
pub struct Beside {
    /// Its values, at the same instants as those of all others; NaN where it has none.
    pub degc: Vec<f64>,
    /// The same at other times, where it stood in its rooms; as many for all loggers.
    pub elsewhere: Vec<Vec<f64>>,
    /// What it is good to, as far as is stated.
    pub accuracy: KelvinDiff,
    /// Its resolution.
    pub resolution: KelvinDiff,
    /// Whether a person has said that its offset is right, however large it is.
    pub accepted: bool,
}

impl Beside {
    /// Takes over what it lacks and another record of the same logger has.
    pub fn fill(&mut self, other: &Self) {
        let fill = |own: &mut Vec<f64>, other: &[f64]| {
            own.iter_mut().zip(other).filter(|(x, _)| x.is_nan()).for_each(|(x, y)| *x = *y);
        };
        fill(&mut self.degc, &other.degc);
        self.elsewhere.iter_mut().zip(&other.elsewhere).for_each(|(own, other)| fill(own, other));
    }
}

/// What came of a logger in the side-by-side time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Checked {
    /// It ran with the others: its offset is taken off.
    With(SideBySide),
    /// It ran with the others, but further from them than it may be: nothing is taken off.
    FarOff {
        /// How much it read over the others.
        offset: KelvinDiff,
        /// How much it may.
        limit: KelvinDiff,
    },
    /// It did not run with the others: nothing is taken off.
    Apart {
        /// How far its distance to the others wandered: 95 % of it lay within so much of its median.
        wander: KelvinDiff,
        /// How far it may.
        limit: KelvinDiff,
    },
    /// Too little to compare.
    TooLittle,
}

impl Checked {
    /// What is taken off its readings.
    pub fn taken_off(self) -> Option<KelvinDiff> {
        if let Self::With(found) = self { Some(found.offset) } else { None }
    }

    /// Notes that its offset is taken off though nothing but the site file says that the loggers lay side by side.
    pub fn take_word_for_time(&mut self) {
        if let Self::With(found) = self {
            found.on_its_word = found.on_its_word.or(Some(Word::Time));
        }
    }

    /// What came of it, in words.
    pub fn words(self) -> &'static str {
        match self {
            Self::With(_) => "taken off",
            Self::FarOff { .. } => "more than its accuracy explains",
            Self::Apart { .. } => "it did not run with the others",
            Self::TooLittle => "too little in common with the others",
        }
    }

    /// What was found and not taken off.
    pub fn left_on(self) -> Option<KelvinDiff> {
        if let Self::FarOff { offset, .. } = self { Some(offset) } else { None }
    }
}

/// Loggers of which too many did not run with the others.
#[derive(Clone, Debug, PartialEq)]
pub struct NotTogether {
    /// Places of those that stand out, with their distance to the median of all.
    pub apart: Vec<(usize, Checked)>,
    /// How many were compared.
    pub compared: usize,
}

/// An offset so many times as large as the accuracy is no offset to take off in silence.
const FAR_TIMES: f64 = 2.0;
/// Loggers in one place stay at the same distance, but for this, K, or so many of their steps, and a share of what they all
/// go through: each follows at its own pace. (In simulated boxes they stay within 0.1 K, in rooms of even homes they wander by
/// 0.2 to 1.4 K; of real ones in boxes those that store steps of 0.5 K stay within one step.)
const WANDER_K: f64 = 0.25;
const WANDER_STEPS: f64 = 1.2;
const WANDER_SWING: f64 = 0.05;
/// One in so many may stand out, and one in any case; where more do, it is the time that is wrong.
const MOST_APART: usize = 3;
/// Loggers that come out of a hand or a cold car need so long, at most a quarter of the time, to come to one temperature.
const SETTLING: f64 = 0.25;

/// Compares loggers that lay side by side: one answer for each, in their order.
///
/// A logger with fewer than [`MIN_INSTANTS`] comparisons, or in a group of fewer than [`MIN_LOGGERS`], gets no answer.
/// One that stands out, by its level or by how it runs, is held against the others and takes no part in their median.
///
/// The accuracy after correction is √(u₀²/n + r²): the group's own error (n loggers of accuracy u₀, independent) and
/// r, the 95th percentile of what is left of the differences. Side by side shows agreement, not truth.
///
/// # Errors
/// [`NotTogether`] where more than one, and more than a third, did not run with the others: the time is wrong, or the loggers are.
///
/// # Source
/// Offset: common practice, no published source (24–72 h in one still box, median difference to the group median).
/// Accuracy, and what stands out: own definition.
pub fn side_by_side(loggers: &[Beside], u0: KelvinDiff) -> Result<Vec<Checked>, NotTogether> {
    let few = |l: &Beside| l.degc.iter().filter(|x| !x.is_nan()).count() < MIN_INSTANTS;
    let compared: Vec<usize> = (0..loggers.len()).filter(|k| !few(&loggers[*k])).collect();
    let mut answer = vec![Checked::TooLittle; loggers.len()];
    if compared.len() < MIN_LOGGERS {
        return Ok(answer);
    }
    let mut group = compared.clone();
    let standing_out = |group: &[usize]| {
        let median = medians(&group.iter().map(|k| loggers[*k].degc.as_slice()).collect::<Vec<_>>());
        let seen = |k: usize| Some((k, Seen::of(&loggers[k], &median)?));
        compared.iter().filter_map(|k| seen(*k)).collect::<Vec<_>>()
    };
    let mut seen = standing_out(&group);
    let worst = |seen: &[(usize, Seen)], group: &[usize]| {
        let out = seen.iter().filter(|(k, s)| group.contains(k) && s.times_out() > 1.0);
        out.max_by(|a, b| a.1.times_out().total_cmp(&b.1.times_out())).map(|(k, _)| *k)
    };
    while let Some(out) = worst(&seen, &group) {
        let rest: Vec<usize> = group.iter().copied().filter(|k| *k != out).collect();
        if compared.len() - rest.len() > (compared.len() / MOST_APART).max(1) {
            let all = standing_out(&compared);
            let apart = all.into_iter().filter(|(_, s)| s.times_out() > 1.0).map(|(k, s)| (k, s.answer()));
            return Err(NotTogether { apart: apart.collect(), compared: compared.len() });
        }
        group = rest;
        seen = standing_out(&group);
    }
    for (k, seen) in seen {
        answer[k] = match group.contains(&k) {
            true if group.len() < MIN_LOGGERS => Checked::TooLittle,
            true => Checked::With(seen.side_by_side(u0, group.len())),
            false => seen.answer(),
        };
    }
    Ok(answer)
}

/// The median of some loggers at each instant; NaN where too few have a value.
fn medians(series: &[&[f64]]) -> Vec<f64> {
    let instants = series.iter().map(|degc| degc.len()).max().unwrap_or(0);
    let at = |i: usize| {
        let here = series.iter().filter_map(|degc| degc.get(i).copied().filter(|x| !x.is_nan()));
        let here: Vec<f64> = here.collect();
        let enough = here.len() >= MIN_LOGGERS.min(series.len());
        crate::stats::median(here).filter(|_| enough).unwrap_or(f64::NAN)
    };
    (0..instants).map(at).collect()
}

/// How a logger ran beside the median of a group.
struct Seen {
    instants: usize,
    offset_k: f64,
    /// 95th percentile of what is left of its differences.
    left_k: f64,
    wander_k: f64,
    may_wander_k: f64,
    may_be_off_k: f64,
    /// Whether a person has said that its offset is right.
    accepted: bool,
}

impl Seen {
    fn of(logger: &Beside, median: &[f64]) -> Option<Self> {
        let differences: Vec<f64> = logger.degc.iter().zip(median).map(|(x, m)| x - m).collect();
        let settled = (median.len() as f64 * SETTLING) as usize;
        let known = |d: &[f64]| d.iter().copied().filter(|d| !d.is_nan()).collect::<Vec<f64>>();
        let all = known(&differences);
        let instants = all.len();
        let left = |all: &[f64]| {
            let middle = crate::stats::median(all.to_vec())?;
            let left = all.iter().map(|d| (d - middle).abs()).collect();
            Some((middle, crate::stats::quantile(left, 0.95)?))
        };
        let (offset_k, left_k) = left(&all).filter(|_| instants >= MIN_INSTANTS)?;
        let wander_k = left(&known(&differences[settled..])).map_or(left_k, |(_, k)| k.min(left_k));
        let moved = known(&median[settled..]);
        let quantile = |q| crate::stats::quantile(moved.clone(), q).unwrap_or(0.0);
        let swing = quantile(0.95) - quantile(0.05);
        let accuracy = logger.accuracy.k();
        // Of a logger that read one value all the time nobody knows the step.
        let step_k = if logger.resolution.k() > 0.0 { logger.resolution.k() } else { accuracy };
        let may_wander_k = WANDER_K.max(WANDER_STEPS * step_k) + WANDER_SWING * swing;
        let (may_be_off_k, accepted) = (FAR_TIMES * accuracy, logger.accepted);
        Some(Self { instants, offset_k, left_k, wander_k, may_wander_k, may_be_off_k, accepted })
    }

    /// How many times as far out as it may be; more than 1: it stands out.
    fn times_out(&self) -> f64 {
        let off = if self.accepted { 0.0 } else { self.offset_k.abs() / self.may_be_off_k };
        (self.wander_k / self.may_wander_k).max(off)
    }

    /// What is said of one that stands out.
    fn answer(&self) -> Checked {
        let k = KelvinDiff::new;
        match self.wander_k > self.may_wander_k {
            true => Checked::Apart { wander: k(self.wander_k), limit: k(self.may_wander_k) },
            false => Checked::FarOff { offset: k(self.offset_k), limit: k(self.may_be_off_k) },
        }
    }

    fn side_by_side(&self, u0: KelvinDiff, loggers: usize) -> SideBySide {
        let accuracy = (u0.k().powi(2) / loggers as f64 + self.left_k.powi(2)).sqrt();
        SideBySide {
            offset: KelvinDiff::new(self.offset_k),
            accuracy: KelvinDiff::new(accuracy),
            instants: self.instants,
            on_its_word: (self.offset_k.abs() > self.may_be_off_k).then_some(Word::Offset),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const U0: KelvinDiff = KelvinDiff::new(0.5);

    fn logger(of: impl Fn(f64) -> f64) -> Beside {
        let degc = (0..96).map(|i| of(f64::from(i))).collect();
        Beside {
            degc,
            elsewhere: Vec::new(),
            accuracy: U0,
            resolution: KelvinDiff::new(0.1),
            accepted: false,
        }
    }

    /// What a box does in a night.
    fn in_a_box(i: f64) -> f64 {
        20.0 + (i * 0.07).sin()
    }

    #[test]
    fn offsets_are_measured_from_the_group_median() {
        let answer = side_by_side(&[0.0, 0.3, -0.1].map(|k| logger(|i| in_a_box(i) + k)), U0).unwrap();
        let offsets: Vec<f64> = answer
            .iter()
            .map(|a| match a {
                Checked::With(found) => (found.offset.k() * 1e6).round() / 1e6,
                other => panic!("{other:?}"),
            })
            .collect();
        assert_eq!(offsets, [0.0, 0.3, -0.1]);
        let Checked::With(SideBySide { accuracy, instants: 96, .. }) = answer[1] else {
            panic!("{answer:?}")
        };
        assert!((accuracy.k() - 0.5 / 3.0_f64.sqrt()).abs() < 1e-9);
    }

    #[test]
    fn two_loggers_are_no_group() {
        let two = [logger(in_a_box), logger(|i| in_a_box(i) + 0.3)];
        assert_eq!(side_by_side(&two, U0).unwrap(), [Checked::TooLittle; 2]);
    }

    #[test]
    fn an_offset_of_ten_kelvin_is_no_offset_until_a_person_says_so() {
        let mut four = [0.0, 0.3, -0.1, -10.0].map(|k| logger(|i| in_a_box(i) + k));
        let answer = side_by_side(&four, U0).unwrap();
        let Checked::FarOff { offset, limit } = answer[3] else { panic!("{answer:?}") };
        assert!((offset.k() + 10.0).abs() < 1e-9 && (limit.k() - 1.0).abs() < 1e-9);
        assert!(answer[..3].iter().all(|a| matches!(a, Checked::With(_))), "{answer:?}");
        four[3].accepted = true;
        let answer = side_by_side(&four, U0).unwrap();
        assert!(answer.iter().all(|a| matches!(a, Checked::With(_))), "{answer:?}");
    }

    #[test]
    fn a_logger_that_goes_its_own_way_is_left_out_and_where_half_do_nothing_is_said() {
        let own = |pace: f64| logger(move |i| 20.0 + 2.0 * (i * pace).sin());
        let with = |k: f64| logger(move |i| in_a_box(i) + k);
        let answer = side_by_side(&[with(0.0), with(0.2), own(0.31), with(-0.2)], U0).unwrap();
        assert!(matches!(answer[2], Checked::Apart { .. }), "{answer:?}");
        assert!(matches!(answer[1], Checked::With(_)));
        let refused = side_by_side(&[with(0.0), own(0.5), own(0.31), with(-0.2)], U0).unwrap_err();
        assert_eq!(refused.compared, 4);
        assert!(refused.apart.len() >= 2, "{refused:?}");
    }
}
