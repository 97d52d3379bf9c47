//! Four rooms over three weeks, alike but for one that something is done to.

use super::moves::{Sums, correlation, nearly_best};
use super::*;

const PER_DAY: usize = 96;
const DAYS: usize = 21;
const STEP_MS: i64 = 900_000;

/// A room that cools from 22:00 and warms from 06:00, with days that differ; `r` makes rooms differ a little.
fn room(r: usize) -> Vec<f64> {
    let at = |i: usize| {
        let (day, hour) = (i / PER_DAY, (i % PER_DAY) as f64 / 4.0);
        let since = (hour - 22.0).rem_euclid(24.0);
        let setback =
            if since < 8.0 { 2.0 * since / 8.0 } else { 2.0 * (1.0 - (since - 8.0) / 2.0).max(0.0) };
        let weather = ((day * 7 + 3) % 11) as f64 * 0.06;
        let wobble = ((i * 37 + r * 101) % 17) as f64 * 0.004;
        21.5 - 0.2 * r as f64 - setback - weather * (1.0 + 0.1 * r as f64) + wobble
    };
    (0..DAYS * PER_DAY).map(at).collect()
}

/// What is said of room 1 after something was done to it, by index and value.
fn doubts(change: impl Fn(usize, f64) -> f64) -> Doubts {
    let mut rooms: Vec<Vec<f64>> = (0..4).map(room).collect();
    rooms[1] = rooms[1].iter().enumerate().map(|(i, x)| change(i, *x)).collect();
    let degc: Vec<&[f64]> = rooms.iter().map(Vec::as_slice).collect();
    let local_ms: Vec<i64> = (0..DAYS * PER_DAY).map(|i| i as i64 * STEP_MS).collect();
    let rooms = SideRooms { degc: &degc, local_ms: &local_ms, step_ms: STEP_MS };
    compare(&SideBySide::new(rooms), 1, 0..DAYS * PER_DAY)
}

#[test]
fn nothing_is_said_of_a_good_logger() {
    assert_eq!(doubts(|_, x| x), Doubts::default());
    // Cooler by a constant, or somewhat slower: rooms differ.
    assert_eq!(doubts(|_, x| x - 3.0), Doubts::default());
    // Half the record is missing.
    assert_eq!(doubts(|i, x| if i % 2 == 0 { f64::NAN } else { x }), Doubts::default());
}

#[test]
fn spells_of_heat_on_several_days_are_told_and_a_hot_room_is_none() {
    let hot = |days: usize| {
        move |i: usize, x: f64| {
            let hour = (i % PER_DAY) as f64 / 4.0;
            if i / PER_DAY < days && (18.0..20.0).contains(&hour) { x + 9.0 } else { x }
        }
    };
    let heat = doubts(hot(5)).heat.unwrap();
    assert!((heat.hours - 10.0).abs() < 1.1 && heat.days == 5 && (heat.most_k - 9.0).abs() < 1.0, "{heat:?}");
    assert_eq!(doubts(hot(1)).heat, None, "a single evening");
    assert_eq!(doubts(|_, x| x + 9.0).heat, None, "a boiler cupboard");
}

#[test]
fn a_jump_that_stays_is_a_shift_and_one_that_goes_back_is_none() {
    let shift = doubts(|i, x| if i >= 1000 { x - 2.6 } else { x }).shift.unwrap();
    assert!((999..=1001).contains(&shift.at) && (shift.by_k + 2.6).abs() < 0.3, "{shift:?}");
    assert_eq!(doubts(|i, x| if (1000..1040).contains(&i) { x - 2.6 } else { x }).shift, None);
    // The same fall over two days is no jump.
    let slow = |i: usize, x: f64| x - 2.6 * ((i as f64 - 900.0) / 192.0).clamp(0.0, 1.0);
    assert_eq!(doubts(slow).shift, None);
}

#[test]
fn a_drift_goes_with_time_alone() {
    let by = doubts(|i, x| x + 2.0 * i as f64 / (DAYS * PER_DAY) as f64).drift_k.unwrap();
    assert!((by - 1.9).abs() < 0.2, "{by}");
    assert_eq!(doubts(|i, x| x + 0.8 * i as f64 / (DAYS * PER_DAY) as f64).drift_k, None);
    // All rooms warm up with the season, each in its own way.
    let season = |i: usize, share: f64| share * 6.0 * i as f64 / (DAYS * PER_DAY) as f64;
    let mut rooms: Vec<Vec<f64>> = (0..4).map(room).collect();
    for (r, room) in rooms.iter_mut().enumerate() {
        room.iter_mut().enumerate().for_each(|(i, x)| *x += season(i, 1.0 + 0.02 * r as f64));
    }
    let degc: Vec<&[f64]> = rooms.iter().map(Vec::as_slice).collect();
    let local_ms: Vec<i64> = (0..DAYS * PER_DAY).map(|i| i as i64 * STEP_MS).collect();
    let side = SideBySide::new(SideRooms { degc: &degc, local_ms: &local_ms, step_ms: STEP_MS });
    for r in 0..4 {
        assert_eq!(compare(&side, r, 0..DAYS * PER_DAY).drift_k, None, "room {r}");
    }
    // A room that was mended over two days.
    let mended = |i: usize, x: f64| x + 2.6 * ((i as f64 - 900.0) / 192.0).clamp(0.0, 1.0);
    assert_eq!(doubts(mended).drift_k, None);
}

#[test]
fn the_sun_makes_short_peaks_at_one_time_on_some_days() {
    let peak = |days: usize, height: f64| {
        move |i: usize, x: f64| {
            let hour = (i % PER_DAY) as f64 / 4.0;
            let beam = (1.0 - ((hour - 12.5) / 1.5_f64).powi(2)).max(0.0);
            if (i / PER_DAY) % 3 < days { x + height * beam } else { x }
        }
    };
    let sun = doubts(peak(2, 6.0)).sun.unwrap();
    assert!((690..=810).contains(&sun.minute) && sun.days >= 12, "{sun:?}");
    assert_eq!(doubts(peak(2, 2.0)).sun, None);
    assert_eq!(doubts(peak(0, 6.0)).sun, None);
}

#[test]
fn a_clock_an_hour_off_is_told_from_the_changes() {
    let rolled = |by: i64| {
        let plain = room(1);
        move |i: usize, _: f64| {
            usize::try_from(i as i64 - by).ok().and_then(|j| plain.get(j).copied()).unwrap_or(f64::NAN)
        }
    };
    for (by, hours) in [(4, 1.0), (-4, -1.0), (24, 6.0)] {
        let clock = doubts(rolled(by)).clock.unwrap();
        assert!((clock.hours - hours).abs() < 1e-9, "{clock:?}");
    }
    assert_eq!(doubts(rolled(1)).clock, None, "a quarter of an hour is nothing to speak of");
}

#[test]
fn a_clock_that_jumps_is_told_with_its_day_and_one_that_was_right_is_not() {
    let jump = |at_day: usize, by: i64, late_after: bool| {
        let plain = room(1);
        doubts(move |i, x| {
            let off = (i / PER_DAY >= at_day) == late_after;
            let from = usize::try_from(i as i64 - by).ok();
            if off { from.and_then(|j| plain.get(j).copied()).unwrap_or(f64::NAN) } else { x }
        })
        .clock
    };
    for (by, hours) in [(4, 1.0), (-4, -1.0), (12, 3.0), (-24, -6.0), (48, 12.0)] {
        let Some(Late { hours: told, part: LateIn::From(at), .. }) = jump(10, by, true) else {
            panic!("{by}")
        };
        assert!((told - hours).abs() < 0.3 || (told.abs() - 12.0).abs() < 0.3 && by == 48, "{told} {by}");
        assert!((9..=11).contains(&(at / PER_DAY)), "{by} {at}");
    }
    let Some(Late { hours, part: LateIn::Until(at), .. }) = jump(12, 4, false) else { panic!("until") };
    assert!((hours - 1.0).abs() < 0.3 && (11..=13).contains(&(at / PER_DAY)), "{hours} {at}");
    assert_eq!(jump(10, 1, true), None, "a quarter of an hour");
    assert_eq!(jump(2, 4, true).map(|l| l.part), Some(LateIn::Whole), "two days before it are none");
}

/// Three to seven rooms with ties and holes, some of them at the same instants.
fn holed(rooms: usize) -> Vec<Vec<f64>> {
    let value = |r: usize, i: usize| match (i * 7919 + r * 104_729) % 97 {
        k if k < 8 || i % 700 < 2 => f64::NAN,
        k => 20.0 + (k % 12) as f64 / 4.0,
    };
    (0..rooms)
        .map(|r| {
            (0..1500).map(|i| if i < 600 { 20.0 + (i * (r + 3) % 13) as f64 } else { value(r, i) }).collect()
        })
        .collect()
}

#[test]
fn medians_of_others_are_those_of_each_instant() {
    for rooms in 1..8 {
        let rooms = holed(rooms);
        let degc: Vec<&[f64]> = rooms.iter().map(Vec::as_slice).collect();
        for (room, medians) in medians_of_others(&degc).iter().enumerate() {
            for (i, found) in medians.iter().enumerate() {
                let others = || rooms.iter().enumerate().filter(|(r, _)| *r != room).map(|(_, x)| x[i]);
                let there: Vec<f64> = others().filter(|x| !x.is_nan()).collect();
                assert_eq!(found.is_nan(), there.len() < 2, "{room} {i}");
                if rooms.iter().all(|x| !x[i].is_nan()) && there.len() > 1 {
                    assert!((found - median(there).unwrap()).abs() < 1e-12, "{room} {i}");
                }
            }
        }
    }
}

#[test]
fn a_warm_room_that_ends_early_does_not_make_the_others_seem_colder() {
    let day = |i: usize| (i % 144) as f64 * 0.01;
    let of = |level: f64, until: usize| -> Vec<f64> {
        (0..1440).map(|i| if i < until { level + day(i) } else { f64::NAN }).collect()
    };
    let rooms =
        [of(20.0, 1440), of(20.4, 1440), of(45.0, 900), of(44.0, 1000), of(16.0, 1440), of(25.0, 1440)];
    let degc: Vec<&[f64]> = rooms.iter().map(Vec::as_slice).collect();
    for (room, medians) in medians_of_others(&degc).iter().enumerate() {
        let off = (0..1440).map(|i| (medians[i] - day(i) - medians[0]).abs()).fold(0.0, f64::max);
        assert!(off < 1e-9, "{room}: {off}");
    }
}

#[test]
fn a_quick_look_at_all_moves_leaves_the_best() {
    let rooms = holed(3);
    let changes =
        |r: usize, len: usize| -> Vec<f64> { rooms[r].windows(2).map(|w| w[1] - w[0]).take(len).collect() };
    for (len, least) in [(1500, 15), (700, 600), (900, 1), (30, 3), (20, 400)] {
        let (x, y) = (changes(0, len), changes(1, len));
        let close = nearly_best(&x, &y, 36, least);
        let exact: Vec<(i64, f64)> =
            (-36..=36).filter_map(|k| Some((k, correlation(&x, &y, k, least)?))).collect();
        let best = exact.iter().max_by(|a, b| a.1.total_cmp(&b.1));
        assert!(best.is_none_or(|(k, _)| close.contains(k)), "{len} {best:?} {close:?}");
        let (sums_x, sums_y) = (Sums::of(&x), Sums::of(&y));
        for (k, exact) in exact {
            let about = sums_x.about_correlation(&sums_y, k, least).unwrap();
            assert!(about.is_nan() || (about - exact).abs() < 1e-9, "{k} {about} {exact}");
        }
        assert!(len < 700 || close.len() < 5, "{close:?}");
    }
}
