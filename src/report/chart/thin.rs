//! Long lines, thinned so that no extreme is lost.

/// Columns in which a line is thinned: about a pixel each on a wide page.
const COLUMNS: f64 = 900.0;

/// Points `(share of the width, pixels from the top)` in pieces, each parted from the next where a value is missing (`None`).
///
/// Of each column of pixels the first, the highest, the lowest and the last point are kept, in their order: a thinned line
/// touches the same pixels.
pub(in crate::report) fn line(points: impl Iterator<Item = Option<(f64, f64)>>) -> Vec<Vec<(f64, f64)>> {
    let mut runs: Vec<Vec<(f64, f64)>> = Vec::new();
    let mut open: Vec<(f64, f64)> = Vec::new();
    for point in points {
        match point {
            Some(point) => open.push(point),
            None if open.is_empty() => {}
            None => runs.push(thinned(&std::mem::take(&mut open))),
        }
    }
    if !open.is_empty() {
        runs.push(thinned(&open));
    }
    runs
}

fn thinned(run: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let column = |x: f64| (x * COLUMNS).floor() as i64;
    let mut kept = Vec::new();
    for column in run.chunk_by(|a, b| column(a.0) == column(b.0)) {
        let place = |best: fn(f64, f64) -> bool| {
            let better = |at: usize, i: usize| if best(column[i].1, column[at].1) { i } else { at };
            (0..column.len()).fold(0, better)
        };
        let mut places = [0, place(|a, b| a < b), place(|a, b| a > b), column.len() - 1].to_vec();
        places.sort_unstable();
        places.dedup();
        kept.extend(places.into_iter().map(|i| column[i]));
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn first_lowest_highest_and_last_of_each_column_stay() {
        let wander = |i: u32| f64::from(i.wrapping_mul(2_654_435_761) >> 16) / 700.0;
        let points: Vec<(f64, f64)> = (0..20_000).map(|i| (f64::from(i) / 20_000.0, wander(i))).collect();
        let thin = line(points.iter().copied().map(Some)).concat();
        assert!(thin.len() <= 4 * COLUMNS as usize && thin.len() > 2 * COLUMNS as usize);
        assert!(thin.windows(2).all(|w| w[0].0 < w[1].0));
        let number = |point: &(f64, f64)| (point.0 * COLUMNS).floor() as i64;
        for column in points.chunk_by(|a, b| number(a) == number(b)) {
            let lowest = column.iter().copied().reduce(|a, b| if b.1 < a.1 { b } else { a }).unwrap();
            let highest = column.iter().copied().reduce(|a, b| if b.1 > a.1 { b } else { a }).unwrap();
            for wanted in [column[0], lowest, highest, *column.last().unwrap()] {
                assert!(thin.contains(&wanted));
            }
        }
    }

    #[test]
    fn a_missing_value_parts_a_line() {
        let points = [Some((0.1, 1.0)), Some((0.2, 2.0)), None, None, Some((0.5, 3.0)), None];
        assert_eq!(line(points.into_iter()), [vec![(0.1, 1.0), (0.2, 2.0)], vec![(0.5, 3.0)]]);
    }
}
