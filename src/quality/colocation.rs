//! The side-by-side check: what each logger read while all of them lay in one place.
//!
//! Settled here, and why:
//! - **What a side-by-side time may take off**: an offset of up to twice the accuracy. Loggers in one place keep their
//!   distance within 0.25 K or 1.2 of their steps, and a twentieth of what all go through (95 % of the time after the
//!   first quarter); one that does not, or is too far off, takes no part in the median. Where more than one and more than
//!   a third stand out, the time is wrong and is refused. With two loggers left nothing is taken off any.
//! - **Side-by-side accuracy**: agreement is not truth. Against the true temperature √(u₀²(ρ + (1 − ρ)/n) + r²) with ρ = 0.5, for
//!   errors of one make need not cancel (0 where the site file calls the loggers independent); against each other
//!   √(r² + (resolution/2)² + 0.1²), 0.1 K for drift since, and 0.2 K more as squares for readings over 5 K from those of the
//!   check. r is 1.96 standard deviations of the hourly means of what is left of a logger's differences, told by what nine in
//!   ten of them stay within (1.645 of normal ones): an hour in which its box was open, or its clock was ahead of it, says
//!   nothing of the rest. Of a check of less than 12 h offsets are taken off, and the accuracy stays the stated one.

mod other_times;

pub use other_times::{AsElsewhere, as_elsewhere};

use crate::stats;
use crate::units::{Accuracy, Celsius, KelvinDiff};

/// What a side-by-side check says about one logger.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SideBySide {
    /// How much the logger read over the group: the median of its differences to the group's median.
    pub offset: KelvinDiff,
    /// How good the logger is once that is taken off; `None` where the check was too short to tell.
    pub good_to: Option<GoodTo>,
    /// Instants compared.
    pub instants: usize,
    /// What is taken on the word of the site file alone.
    pub on_its_word: Option<Word>,
}

/// How good a logger is after a check.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GoodTo {
    /// At temperatures like those of the check.
    pub accuracy: Accuracy,
    /// Mean temperature of the check.
    pub at: Celsius,
}

/// Readings further than this from those of the check, K, are good to less …
const FAR_FROM_CHECK_K: f64 = 5.0;
/// … by so much as squares, K. Own allowances.
const FAR_ALLOWANCE_K: f64 = 0.2;
/// What a logger may have drifted since, K.
const DRIFT_K: f64 = 0.1;

impl GoodTo {
    /// The accuracy of these readings, in °C; NaN is passed over.
    pub fn for_readings(&self, degc: &[f64]) -> Accuracy {
        let known: Vec<f64> = degc.iter().copied().filter(|x| !x.is_nan()).collect();
        let far = stats::mean(&known).is_some_and(|mean| (mean - self.at.degc()).abs() > FAR_FROM_CHECK_K);
        let more = if far { FAR_ALLOWANCE_K } else { 0.0 };
        let relative = KelvinDiff::new(self.accuracy.relative.k().hypot(more));
        Accuracy { relative, ..self.accuracy }
    }
}

/// How a check was made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CheckMade {
    /// Instants of the grid in an hour.
    pub per_hour: usize,
    /// Whether a person has said that the loggers' errors are independent of each other.
    pub independent: bool,
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
/// Loggers that come out of a hand or a cold car need so many hours, at most a quarter of the time, to come to one temperature.
const SETTLING_H: usize = 3;
const SETTLING_SHARE: usize = 4;
/// Hours after which a check tells how good a logger is, without those in which it settles.
const TELLING_H: usize = 9;
/// 95 and 90 % half-widths of a standard deviation.
const NORMAL_95: f64 = 1.959_964;
const NORMAL_90: f64 = 1.644_854;
/// The part of their errors that loggers of one make may share.
const SHARED: f64 = 0.5;

/// Compares loggers that lay side by side: one answer for each, in their order.
///
/// A logger with fewer than [`MIN_INSTANTS`] comparisons, or in a group of fewer than [`MIN_LOGGERS`], gets no answer.
/// One that stands out, by its level or by how it runs, is held against the others and takes no part in their median.
///
/// The accuracy after correction (see the head of this file) rests on u₀, what the logger is stated to be good to, and on
/// r, how far the hourly means of what is left of its differences go × √(n/(n − 1)), for its own readings are in the median of the n
/// loggers. Side by side shows agreement, not truth.
///
/// # Errors
/// [`NotTogether`] where more than one, and more than a third, did not run with the others: the time is wrong, or the loggers are.
///
/// # Source
/// Offset: common practice, no published source (24–72 h in one still box, median difference to the group median).
/// Accuracy, and what stands out: own definition.
pub fn side_by_side(loggers: &[Beside], made: CheckMade) -> Result<Vec<Checked>, NotTogether> {
    let few = |l: &Beside| l.degc.iter().filter(|x| !x.is_nan()).count() < MIN_INSTANTS;
    let compared: Vec<usize> = (0..loggers.len()).filter(|k| !few(&loggers[*k])).collect();
    let mut answer = vec![Checked::TooLittle; loggers.len()];
    if compared.len() < MIN_LOGGERS {
        return Ok(answer);
    }
    let mut group = compared.clone();
    let standing_out = |group: &[usize]| {
        let median = medians(&group.iter().map(|k| loggers[*k].degc.as_slice()).collect::<Vec<_>>());
        let seen = |k: usize| Some((k, Seen::of(&loggers[k], &median, made)?));
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
            true => Checked::With(seen.side_by_side(group.len(), made.independent)),
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
        stats::median(here).filter(|_| enough).unwrap_or(f64::NAN)
    };
    (0..instants).map(at).collect()
}

/// How a logger ran beside the median of a group.
struct Seen {
    instants: usize,
    offset_k: f64,
    /// 95 % half-width of the hourly means of what is left of its differences, where the check is long enough to tell.
    hourly_k: Option<f64>,
    /// What it is stated to be good to, and half a step of it.
    u0_k: f64,
    half_step_k: f64,
    /// Mean temperature of the group.
    at: f64,
    wander_k: f64,
    may_wander_k: f64,
    may_be_off_k: f64,
    /// Whether a person has said that its offset is right.
    accepted: bool,
}

impl Seen {
    fn of(logger: &Beside, median: &[f64], made: CheckMade) -> Option<Self> {
        let differences: Vec<f64> = logger.degc.iter().zip(median).map(|(x, m)| x - m).collect();
        let settled = (SETTLING_H * made.per_hour).min(median.len() / SETTLING_SHARE);
        let known = |d: &[f64]| d.iter().copied().filter(|d| !d.is_nan()).collect::<Vec<f64>>();
        let all = known(&differences);
        let instants = all.len();
        let left = |all: &[f64]| {
            let middle = stats::median(all.to_vec())?;
            let left = all.iter().map(|d| (d - middle).abs()).collect();
            Some((middle, stats::quantile(left, 0.95)?))
        };
        let (of_all, left_k) = left(&all).filter(|_| instants >= MIN_INSTANTS)?;
        let later = known(&differences[settled..]);
        let (offset_k, wander_k) = match left(&later).filter(|_| later.len() >= MIN_INSTANTS) {
            Some((offset_k, k)) => (offset_k, k.min(left_k)),
            None => (of_all, left_k),
        };
        let moved = known(&median[settled..]);
        let quantile = |q| stats::quantile(moved.clone(), q).unwrap_or(0.0);
        let swing = quantile(0.95) - quantile(0.05);
        let accuracy = logger.accuracy.k();
        // Of a logger that read one value all the time nobody knows the step.
        let step_k = if logger.resolution.k() > 0.0 { logger.resolution.k() } else { accuracy };
        let may_wander_k = WANDER_K.max(WANDER_STEPS * step_k) + WANDER_SWING * swing;
        let (may_be_off_k, accepted) = (FAR_TIMES * accuracy, logger.accepted);
        Some(Self {
            instants,
            offset_k,
            hourly_k: left_by_hour(&differences[settled..], made.per_hour),
            u0_k: accuracy,
            half_step_k: logger.resolution.k() / 2.0,
            at: stats::mean(&moved).unwrap_or(f64::NAN),
            wander_k,
            may_wander_k,
            may_be_off_k,
            accepted,
        })
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

    fn side_by_side(&self, loggers: usize, independent: bool) -> SideBySide {
        let (n, shared) = (loggers as f64, if independent { 0.0 } else { SHARED });
        let good_to = self.hourly_k.map(|hourly_k| {
            let left = hourly_k * (n / (n - 1.0)).sqrt();
            let absolute = (self.u0_k.powi(2) * (shared + (1.0 - shared) / n) + left.powi(2)).sqrt();
            let relative = (left.powi(2) + self.half_step_k.powi(2) + DRIFT_K.powi(2)).sqrt();
            let k = KelvinDiff::new;
            GoodTo {
                accuracy: Accuracy { absolute: k(absolute), relative: k(relative) },
                at: Celsius::new(self.at),
            }
        });
        SideBySide {
            offset: KelvinDiff::new(self.offset_k),
            good_to,
            instants: self.instants,
            on_its_word: (self.offset_k.abs() > self.may_be_off_k).then_some(Word::Offset),
        }
    }
}

/// How far from their median 95 % of the hourly means of differences stay, told by nine in ten of them; `None` where fewer than
/// [`TELLING_H`] hours have any.
fn left_by_hour(differences: &[f64], per_hour: usize) -> Option<f64> {
    let mean_of = |hour: &[f64]| {
        let known: Vec<f64> = hour.iter().copied().filter(|d| !d.is_nan()).collect();
        stats::mean(&known)
    };
    let hours: Vec<f64> = differences.chunks(per_hour.max(1)).filter_map(mean_of).collect();
    let middle = stats::median(hours.clone()).filter(|_| hours.len() >= TELLING_H)?;
    let most = stats::quantile(hours.iter().map(|hour| (hour - middle).abs()).collect(), 0.9)?;
    Some(most * NORMAL_95 / NORMAL_90)
}

#[cfg(test)]
mod tests {
    use super::*;

    const U0: KelvinDiff = KelvinDiff::new(0.5);
    /// 16 h of values every ten minutes.
    const MADE: CheckMade = CheckMade { per_hour: 6, independent: false };

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
        let answer = side_by_side(&[0.0, 0.3, -0.1].map(|k| logger(|i| in_a_box(i) + k)), MADE).unwrap();
        let offsets: Vec<f64> = answer
            .iter()
            .map(|a| match a {
                Checked::With(found) => (found.offset.k() * 1e6).round() / 1e6,
                other => panic!("{other:?}"),
            })
            .collect();
        assert_eq!(offsets, [0.0, 0.3, -0.1]);
        let Checked::With(SideBySide { good_to: Some(good_to), instants: 96, .. }) = answer[1] else {
            panic!("{answer:?}")
        };
        // Three loggers of ±0.5 K that agree to the last digit, in steps of 0.1 K.
        let Accuracy { absolute, relative } = good_to.accuracy;
        assert!((absolute.k() - 0.5 * (0.5 + 0.5 / 3.0_f64).sqrt()).abs() < 1e-9, "{absolute:?}");
        assert!((relative.k() - (0.05_f64.powi(2) + 0.01).sqrt()).abs() < 1e-9, "{relative:?}");
        assert!((good_to.at.degc() - 20.0).abs() < 0.5);
        let all = [0.0, 0.3, -0.1].map(|k| logger(|i| in_a_box(i) + k));
        let Checked::With(one) = side_by_side(&all, CheckMade { independent: true, ..MADE }).unwrap()[0]
        else {
            panic!()
        };
        let absolute = one.good_to.unwrap().accuracy.absolute;
        assert!((absolute.k() - 0.5 / 3.0_f64.sqrt()).abs() < 1e-9, "independent: {absolute:?}");
        // Sixteen hours' values as those of eight: too short to tell.
        let Checked::With(one) = side_by_side(&all, CheckMade { per_hour: 12, ..MADE }).unwrap()[0] else {
            panic!()
        };
        assert!(one.good_to.is_none() && one.offset.k().abs() < 1e-9);
    }

    #[test]
    fn what_is_left_is_told_by_the_hour_and_far_from_the_check_by_more() {
        // One of four logs an hourly wave of ±0.1 K beside the others, whose median does not move with it.
        let wave = |i: f64| if (i / 6.0).floor() % 2.0 == 0.0 { 0.1 } else { -0.1 };
        let with = |k: f64| logger(move |i| in_a_box(i) + k);
        let four = [with(0.0), with(0.0), with(0.0), logger(|i| in_a_box(i) + wave(i))];
        let Checked::With(one) = side_by_side(&four, MADE).unwrap()[3] else { panic!() };
        let good_to = one.good_to.unwrap();
        // Thirteen hours of ±0.1 K in turn: half of them lie 0.2 K from the median.
        let left = 0.2 * NORMAL_95 / NORMAL_90 * (4.0_f64 / 3.0).sqrt();
        let relative = good_to.accuracy.relative.k();
        assert!((relative - (left * left + 0.0025 + 0.01).sqrt()).abs() < 1e-9, "{relative}");
        let here = good_to.for_readings(&[20.5, f64::NAN, 21.0]);
        assert_eq!(here, good_to.accuracy);
        let far = good_to.for_readings(&[12.0, 13.0]);
        assert!((far.relative.k() - relative.hypot(0.2)).abs() < 1e-12);
        assert_eq!(far.absolute, good_to.accuracy.absolute);
        // An hour in which one logger was out of the box already.
        let out = |i: f64| if i >= 93.0 { 4.0 } else { 0.0 };
        let four = [with(0.0), with(0.0), with(0.0), logger(|i| in_a_box(i) + out(i))];
        let Checked::With(one) = side_by_side(&four, MADE).unwrap()[3] else { panic!() };
        assert!(one.good_to.unwrap().accuracy.relative.k() < 0.12, "{one:?}");
    }

    #[test]
    fn two_loggers_are_no_group() {
        let two = [logger(in_a_box), logger(|i| in_a_box(i) + 0.3)];
        assert_eq!(side_by_side(&two, MADE).unwrap(), [Checked::TooLittle; 2]);
    }

    #[test]
    fn an_offset_of_ten_kelvin_is_no_offset_until_a_person_says_so() {
        let mut four = [0.0, 0.3, -0.1, -10.0].map(|k| logger(|i| in_a_box(i) + k));
        let answer = side_by_side(&four, MADE).unwrap();
        let Checked::FarOff { offset, limit } = answer[3] else { panic!("{answer:?}") };
        assert!((offset.k() + 10.0).abs() < 1e-9 && (limit.k() - 1.0).abs() < 1e-9);
        assert!(answer[..3].iter().all(|a| matches!(a, Checked::With(_))), "{answer:?}");
        four[3].accepted = true;
        let answer = side_by_side(&four, MADE).unwrap();
        assert!(answer.iter().all(|a| matches!(a, Checked::With(_))), "{answer:?}");
    }

    #[test]
    fn a_logger_that_goes_its_own_way_is_left_out_and_where_half_do_nothing_is_said() {
        let own = |pace: f64| logger(move |i| 20.0 + 2.0 * (i * pace).sin());
        let with = |k: f64| logger(move |i| in_a_box(i) + k);
        let answer = side_by_side(&[with(0.0), with(0.2), own(0.31), with(-0.2)], MADE).unwrap();
        assert!(matches!(answer[2], Checked::Apart { .. }), "{answer:?}");
        assert!(matches!(answer[1], Checked::With(_)));
        let refused = side_by_side(&[with(0.0), own(0.5), own(0.31), with(-0.2)], MADE).unwrap_err();
        assert_eq!(refused.compared, 4);
        assert!(refused.apart.len() >= 2, "{refused:?}");
    }
}
