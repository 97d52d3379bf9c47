//! What shows that loggers lay side by side: that they ran closer together then than at other times, or stood to each other
//! otherwise.
//!
//! Settled here, and why:
//! - **What shows that loggers lay side by side**: rooms of one home can run as
//!   evenly as that for hours. So the time is held against up to eight others as long, at the same hours of days before
//!   and after, as far as loggers stood in their rooms then, and against those right beside it: the distances wander by
//!   less than 0.65 of what they do there (root mean square), or the loggers stand to each other otherwise than there, by
//!   three times what those times differ among themselves. Else the time is refused, unless no offset is over 0.1 K or
//!   nothing else was recorded. On distances rather than levels, because a box may be as warm as a room; at the same
//!   hours, because nights are calm everywhere. Of wrong dates in simulated homes (8 seeds, rooms as they are or moved to
//!   within ± 0.7 K; loggers every 5 and 60 min; the same rule in a prototype, with up to seven days on either side) that
//!   the test above lets pass, none of 142 of a day or more is taken, 1 of 98 of 8 to 12 h, 4 of 145 of 2 to 4 h; of true
//!   checks, rooms usual or as even as 0.3 K, 0 of 400, 1 of 191 and 16 of 202 are refused. In steps of 0.5 K: 2 of 148,
//!   1 of 70, 9 of 93 taken, 1 of 202, 6 of 83, 25 of 108 refused.

use super::{Beside, Checked, medians};
use crate::stats::{mean, median};
use crate::units::KelvinDiff;

/// Loggers that ran and stood to each other in the side-by-side time as they do at other times.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AsElsewhere {
    /// How far their distances wandered (root mean square, the middle logger): in that time, and at others.
    pub wander: [KelvinDiff; 2],
    /// How far they stood to each other from how they stand at other times, and how far those are from each other.
    pub moved: [KelvinDiff; 2],
}

/// Offsets up to this, K, are within what any logger does: to take them off does no harm.
const LEAST_OFFSET_K: f64 = 0.1;
/// In a box the distances wander by less than this share of what they do in rooms …
const CLOSER: f64 = 0.65;
/// … or are so many times further from those in rooms as those are from each other.
const MOVED: f64 = 3.0;
/// What loggers do anyhow, K: shares and multiples of less mean nothing.
const NOISE_K: f64 = 0.01;
const LEAST_MOVED_K: f64 = 0.03;
/// How far rooms usually move from day to day, K, where fewer than three other times tell.
const USUALLY_MOVED_K: f64 = 0.15;
const TELLING_TIMES: usize = 3;
/// One reading cannot wander by more, K: a hand, a spike.
const MOST_K: f64 = 1.0;
/// Fewest instants at which a logger is held against the others, and share of those of the time.
const LEAST_INSTANTS: usize = 12;
const LEAST_SHARE: f64 = 0.25;
/// Two loggers have a distance.
const PAIR: usize = 2;

/// The loggers whose offsets would be taken off, where nothing shows that they lay together; `None` where something does, where
/// there is nothing to hold them against, and where the offsets are as nothing.
///
/// # Source
/// Own definition; measured on simulated homes (figures above).
pub fn as_elsewhere(loggers: &[Beside], checked: &[Checked]) -> Option<AsElsewhere> {
    let with = loggers.iter().zip(checked).filter_map(|(l, c)| Some((l, c.taken_off()?)));
    let (group, offsets): (Vec<&Beside>, Vec<KelvinDiff>) = with.unzip();
    if offsets.iter().all(|offset| offset.k().abs() <= LEAST_OFFSET_K) {
        return None;
    }
    let there = Stand::of(&group.iter().map(|l| l.degc.as_slice()).collect::<Vec<_>>())?;
    let times = group.iter().map(|l| l.elsewhere.len()).max().unwrap_or(0);
    let of_time =
        |time: usize| group.iter().map(move |l| l.elsewhere.get(time).map_or(&[][..], Vec::as_slice));
    let others: Vec<Stand> = (0..times).filter_map(|t| Stand::of(&of_time(t).collect::<Vec<_>>())).collect();
    let wander_k = median(others.iter().map(|other| other.wander_k).collect())?;
    let moved_k = median(others.iter().filter_map(|other| there.from(other)).collect())?;
    let later =
        |(n, one): (usize, &Stand)| others[n + 1..].iter().filter_map(|o| one.from(o)).collect::<Vec<_>>();
    let apart: Vec<f64> = others.iter().enumerate().flat_map(later).collect();
    let usually_k = median(apart).filter(|_| others.len() >= TELLING_TIMES).unwrap_or(USUALLY_MOVED_K);
    let closer = there.wander_k + NOISE_K < CLOSER * (wander_k + NOISE_K);
    let moved = moved_k > MOVED * usually_k.max(LEAST_MOVED_K);
    let k = |k: [f64; 2]| k.map(KelvinDiff::new);
    let same = AsElsewhere { wander: k([there.wander_k, wander_k]), moved: k([moved_k, usually_k]) };
    (!closer && !moved).then_some(same)
}

/// How loggers stood to each other in a time.
struct Stand {
    /// How much each read over the middle of them on the mean; NaN where it has too little.
    level: Vec<f64>,
    /// How far that wandered: root mean square, the middle logger.
    wander_k: f64,
}

impl Stand {
    fn of(series: &[&[f64]]) -> Option<Self> {
        let has_values = |degc: &&&[f64]| degc.iter().any(|x| !x.is_nan());
        let middle = medians(&series.iter().filter(has_values).copied().collect::<Vec<_>>());
        let instants = middle.iter().filter(|m| !m.is_nan()).count();
        let enough = LEAST_INSTANTS.max((LEAST_SHARE * instants as f64) as usize);
        let of_logger = |degc: &&[f64]| {
            let off = degc.iter().zip(&middle).map(|(x, m)| x - m).filter(|k| !k.is_nan());
            let off: Vec<f64> = off.collect();
            mean(&off).filter(|_| off.len() >= enough).unwrap_or(f64::NAN)
        };
        let level: Vec<f64> = series.iter().map(of_logger).collect();
        let wander = wander_of_each(series, &level, middle.len());
        let some = wander.len() >= PAIR;
        Some(Self { level, wander_k: median(wander).filter(|_| some)? })
    }

    /// How far the loggers stand to each other from how they stood at another time, on the mean.
    fn from(&self, other: &Self) -> Option<f64> {
        let moved = self.level.iter().zip(&other.level).map(|(a, b)| a - b).filter(|k| !k.is_nan());
        let moved: Vec<f64> = moved.collect();
        let middle = median(moved.clone()).filter(|_| moved.len() >= PAIR)?;
        mean(&moved.iter().map(|k| (k - middle).abs()).collect::<Vec<_>>())
    }
}

/// How far each logger that has a level wandered beside the mean of all: that of coarse loggers moves less than their median.
fn wander_of_each(series: &[&[f64]], level: &[f64], instants: usize) -> Vec<f64> {
    let known = || series.iter().zip(level).filter(|(_, level)| !level.is_nan());
    let at = |degc: &[f64], level: f64, i: usize| degc.get(i).map_or(f64::NAN, |x| x - level);
    let (mut sums, mut counts) = (vec![0.0; instants], vec![0_usize; instants]);
    for (degc, level) in known() {
        for (i, x) in (0..instants).map(|i| (i, at(degc, *level, i))).filter(|(_, x)| !x.is_nan()) {
            sums[i] += x;
            counts[i] += 1;
        }
    }
    let beside = |degc: &[f64], level: f64, i: usize| match counts[i] {
        count if count >= PAIR => at(degc, level, i) - sums[i] / count as f64,
        _ => f64::NAN,
    };
    let of_logger = |(degc, level): (&&[f64], &f64)| {
        let off = (0..instants).map(|i| beside(degc, *level, i)).filter(|k| !k.is_nan());
        let off: Vec<f64> = off.collect();
        let middle = mean(&off)?;
        let squares: f64 = off.iter().map(|k| (k - middle).abs().min(MOST_K).powi(2)).sum();
        Some((squares / off.len() as f64).sqrt())
    };
    known().filter_map(of_logger).collect()
}
