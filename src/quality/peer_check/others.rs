//! What the other rooms of a home read meanwhile.

use std::hint::select_unpredictable;

use crate::stats::{median, ranks_by_block};

/// For each room the median of the others at each instant; NaN with fewer than two of them.
///
/// Where some rooms have no value, it is estimated from those that have one and from how far each usually lies from the
/// median: a warm room whose logger ends early would otherwise look like all others growing colder.
pub(super) fn medians_of_others(degc: &[&[f64]]) -> Vec<Vec<f64>> {
    let instants = degc.first().map_or(0, |s| s.len());
    let mut medians = vec![vec![f64::NAN; instants]; degc.len()];
    let Some(left) = degc.len().checked_sub(1).filter(|left| *left > 1) else { return medians };
    let [first, second] = [(left - 1) / 2, left / 2];
    ranks_by_block(degc, &[first, first + 1, second, second + 1], |block, ranked| {
        for (medians, values) in medians.iter_mut().zip(degc) {
            let (medians, values) = (&mut medians[block.clone()], &values[block.clone()]);
            let ranks = |rank: usize| ranked[rank].iter().zip(&ranked[rank + 1]);
            for ((median, x), (here, next)) in medians.iter_mut().zip(values).zip(ranks(first)) {
                *median = value_without(*x, *here, *next);
            }
            // Where there is no single value in the middle, it is the mean of two.
            if second > first {
                for ((median, x), (here, next)) in medians.iter_mut().zip(values).zip(ranks(second)) {
                    *median = (*median + value_without(*x, *here, *next)) / 2.0;
                }
            }
        }
    });
    fill_where_some_are_missing(degc, &mut medians);
    medians
}

/// The value of a rank when `x` is taken out of those in order: `here` has this rank with it, and `next` the next.
#[inline]
fn value_without(x: f64, here: f64, next: f64) -> f64 {
    select_unpredictable(x <= here, next, here)
}

/// The instants at which a room has no value.
fn where_some_are_missing(degc: &[&[f64]]) -> Vec<usize> {
    let mut sums = vec![0.0; degc.first().map_or(0, |s| s.len())];
    for room in degc {
        sums.iter_mut().zip(*room).for_each(|(sum, x)| *sum += x);
    }
    (0..sums.len()).filter(|i| sums[*i].is_nan()).collect()
}

/// So many instants tell how far a room usually lies from the others.
const SAMPLED: usize = 501;

/// The medians at the instants at which some rooms have no value: of the others that have one, each moved by how far it
/// usually lies from the median that all of them have.
fn fill_where_some_are_missing(degc: &[&[f64]], medians: &mut [Vec<f64>]) {
    let some_missing = where_some_are_missing(degc);
    if some_missing.is_empty() {
        return;
    }
    let present = |i: usize| degc.iter().filter(|room| !room[i].is_nan()).count();
    let most = some_missing.iter().map(|i| present(*i)).max().unwrap_or(0);
    let all = degc.first().map_or(0, |s| s.len());
    let whole = if some_missing.len() < all { degc.len() } else { most };
    let levels = Levels::of(degc, whole);
    let mut there: Vec<f64> = Vec::with_capacity(degc.len());
    for i in some_missing {
        for (room, medians) in medians.iter_mut().enumerate() {
            let others = (0..degc.len()).filter(|o| *o != room && !degc[*o][i].is_nan());
            there.clear();
            there.extend(others.map(|o| degc[o][i] - levels.of_room[o]));
            medians[i] = match there.len() {
                0 | 1 => f64::NAN,
                _ => median_of(&mut there) + levels.of_others[room],
            };
        }
    }
}

fn median_of(values: &mut [f64]) -> f64 {
    values.sort_unstable_by(f64::total_cmp);
    (values[(values.len() - 1) / 2] + values[values.len() / 2]) / 2.0
}

/// How rooms usually lie beside the median of a home.
struct Levels {
    /// Of each room, less the median of all.
    of_room: Vec<f64>,
    /// Of the median of the others of each room, less the median of all.
    of_others: Vec<f64>,
}

impl Levels {
    /// From the instants at which so many rooms have a value. A room that has none then lies where the others are.
    fn of(degc: &[&[f64]], whole: usize) -> Self {
        let present = |i: &usize| degc.iter().filter(|room| !room[*i].is_nan()).count() == whole;
        let instants = degc.first().map_or(0, |s| s.len());
        let every = |n: usize| n.div_ceil(SAMPLED).max(1);
        let complete: Vec<usize> = (0..instants).step_by(every(instants).min(4)).filter(present).collect();
        let complete: Vec<usize> = complete.iter().copied().step_by(every(complete.len())).collect();
        let mut of_room = vec![Vec::with_capacity(complete.len()); degc.len()];
        let mut of_others = of_room.clone();
        let mut there: Vec<f64> = Vec::with_capacity(degc.len());
        for i in complete {
            let mut middle = |without: Option<usize>| {
                there.clear();
                let rooms = (0..degc.len()).filter(|r| Some(*r) != without && !degc[*r][i].is_nan());
                there.extend(rooms.map(|r| degc[r][i]));
                if there.is_empty() { f64::NAN } else { median_of(&mut there) }
            };
            let all = middle(None);
            for room in 0..degc.len() {
                of_room[room].push(degc[room][i] - all);
                of_others[room].push(middle(Some(room)) - all);
            }
        }
        let usual =
            |values: Vec<f64>| median(values.into_iter().filter(|k| !k.is_nan()).collect()).unwrap_or(0.0);
        Self {
            of_room: of_room.into_iter().map(usual).collect(),
            of_others: of_others.into_iter().map(usual).collect(),
        }
    }
}
