//! Names at the right end of lines, moved apart.

/// Pixels from one name to the next.
pub(super) const APART: f64 = 14.0;

/// Places for names that would like to stand at `wanted` (pixels from the top), in the same order: as near as can be with
/// [`APART`] between any two, within 0 to `height` as long as they fit there at all.
pub(super) fn apart(wanted: &[f64], height: f64) -> Vec<f64> {
    let mut order: Vec<usize> = (0..wanted.len()).collect();
    order.sort_by(|a, b| wanted[*a].total_cmp(&wanted[*b]));
    // Groups that touch: their members' wishes, each less what stands above it in the group, and their count.
    let mut groups: Vec<(f64, usize)> = Vec::new();
    let middle = |(sum, count): &(f64, usize)| sum / *count as f64;
    for (i, name) in order.iter().enumerate() {
        groups.push((wanted[*name] - i as f64 * APART, 1));
        while let [.., a, b] = groups.as_slice() {
            if middle(a) <= middle(b) {
                break;
            }
            let joined = (a.0 + b.0, a.1 + b.1);
            groups.truncate(groups.len() - 2);
            groups.push(joined);
        }
    }
    let starts = groups.iter().flat_map(|group| std::iter::repeat_n(middle(group), group.1));
    let most = (height - (wanted.len().saturating_sub(1)) as f64 * APART).max(0.0);
    let mut places = vec![0.0; wanted.len()];
    for (i, (name, start)) in order.into_iter().zip(starts).enumerate() {
        places[name] = start.clamp(0.0, most) + i as f64 * APART;
    }
    places
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_keep_their_order_and_their_distance_and_stay_inside() {
        for seed in 0..200_u32 {
            let wanted: Vec<f64> = (0..7_u32)
                .map(|i| f64::from((seed * 31 + i * 17).wrapping_mul(2_654_435_761) >> 22) / 5.0)
                .collect();
            let places = apart(&wanted, 220.0);
            let mut sorted = places.clone();
            sorted.sort_by(f64::total_cmp);
            assert!(sorted.windows(2).all(|w| w[1] - w[0] >= APART - 1e-9), "{places:?}");
            assert!(sorted[0] >= 0.0 && sorted[6] <= 220.0 + 1e-9, "{places:?}");
            for (a, b) in (0..7).flat_map(|a| (0..7).map(move |b| (a, b))) {
                assert!(wanted[a] >= wanted[b] || places[a] < places[b]);
            }
        }
    }

    #[test]
    fn names_that_are_far_apart_stand_where_they_would() {
        assert_eq!(apart(&[100.0, 20.0, 60.0], 200.0), [100.0, 20.0, 60.0]);
        assert_eq!(apart(&[50.0, 50.0], 200.0), [43.0, 57.0]);
    }
}
