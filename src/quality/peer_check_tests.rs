//! Four rooms over three weeks, alike but for one that something is done to.

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
    let rooms = PeerRooms { degc: &degc, local_ms: &local_ms, step_ms: STEP_MS, outdoor: None };
    compare(&PeerCheck::new(rooms), 1, 0..DAYS * PER_DAY, None)
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
    assert_eq!(doubts(|i, x| x + 0.6 * i as f64 / (DAYS * PER_DAY) as f64).drift_k, None);
    // All rooms warm up with the season, each in its own way.
    let season = |i: usize, share: f64| share * 6.0 * i as f64 / (DAYS * PER_DAY) as f64;
    let mut rooms: Vec<Vec<f64>> = (0..4).map(room).collect();
    for (r, room) in rooms.iter_mut().enumerate() {
        room.iter_mut().enumerate().for_each(|(i, x)| *x += season(i, 1.0 + 0.02 * r as f64));
    }
    let degc: Vec<&[f64]> = rooms.iter().map(Vec::as_slice).collect();
    let local_ms: Vec<i64> = (0..DAYS * PER_DAY).map(|i| i as i64 * STEP_MS).collect();
    let side =
        PeerCheck::new(PeerRooms { degc: &degc, local_ms: &local_ms, step_ms: STEP_MS, outdoor: None });
    for r in 0..4 {
        assert_eq!(compare(&side, r, 0..DAYS * PER_DAY, None).drift_k, None, "room {r}");
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
fn the_sun_of_a_grey_winter_is_told_where_nothing_else_peaks() {
    let peak = |every: usize, at: f64, height: f64| {
        move |i: usize| {
            let hour = (i % PER_DAY) as f64 / 4.0;
            let beam = (1.0 - ((hour - at) / 1.25_f64).powi(2)).max(0.0);
            if (i / PER_DAY).is_multiple_of(every) { height * beam } else { 0.0 }
        }
    };
    let sun = peak(6, 12.5, 4.0);
    let told = doubts(|i, x| x + sun(i)).sun.unwrap();
    assert!((690..=810).contains(&told.minute) && told.one_in == 10 && told.days >= 4, "{told:?}");
    assert!(told.peak_k >= 2.5, "{told:?}");
    let shower = peak(4, 21.0, 2.0);
    assert_eq!(doubts(|i, x| x + sun(i) + shower(i)).sun, None, "what peaks in the evening too may be steam");
    let rare = peak(9, 12.5, 4.0);
    assert_eq!(doubts(|i, x| x + rare(i)).sun, None, "three days");
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

/// Ends of a record in minutes after a start, read every five minutes.
fn ends(first_min: i64, last_min: i64) -> Option<Ends> {
    let ms = |min: i64| min * 60_000;
    Some(Ends { first_ms: ms(first_min), last_ms: ms(last_min), interval_ms: ms(5) })
}

#[test]
fn records_that_begin_and_end_whole_hours_apart_say_so_and_others_do_not() {
    let of = |own: Option<Ends>| {
        let all = [ends(0, 40_000), ends(4, 40_003), ends(-3, 40_009), own];
        apart(&all)[3].and_then(|a| a.by_ends())
    };
    assert_eq!(of(ends(722, 40_722)), Some(apart::ByEnds::Both(48)));
    assert_eq!(of(ends(-58, 39_945)), Some(apart::ByEnds::Both(-4)));
    assert_eq!(of(ends(2, 40_180)), Some(apart::ByEnds::Last(12)));
    assert_eq!(of(ends(-420, 40_000)), Some(apart::ByEnds::First(-28)));
    assert_eq!(of(ends(2, 40_001)), None, "like the others");
    assert_eq!(of(ends(25, 40_025)), None, "not by a whole hour");
    assert_eq!(of(ends(60, 40_180)), None, "by another hour at each end");
    assert_eq!(of(ends(1_000 * 60, 1_040 * 60)), None, "another time altogether");
    // Nobody agrees on when the visit was.
    let all = [ends(0, 40_000), ends(300, 41_000), ends(700, 42_000), ends(60, 40_060)];
    assert_eq!(apart(&all)[3], None);
    assert_eq!(apart(&[ends(0, 40_000), ends(60, 40_060)])[1], None, "two loggers");
}

#[test]
fn half_a_day_is_told_from_changes_that_hardly_follow_where_the_ends_say_so_too() {
    // Two rooms that follow each other loosely: noise of their own is four times what they share.
    let noise = |i: usize, r: usize| {
        let mut x = (i as u64).wrapping_mul(0x9e37_79b9_7f4a_7c15)
            ^ (r as u64 + 1).wrapping_mul(0xd1b5_4a32_d192_ed03);
        x ^= x >> 29;
        x = x.wrapping_mul(0xbf58_476d_1ce4_e5b9);
        (x >> 40) as f64 / (1u64 << 24) as f64 - 0.5
    };
    let told = |share: f64, by: Option<&Apart>| {
        let mut rooms: Vec<Vec<f64>> = (0..4)
            .map(|r| {
                room(r).iter().enumerate().map(|(i, x)| 21.0 + share * (x - 21.0) + noise(i, r)).collect()
            })
            .collect();
        let plain = rooms[1].clone();
        rooms[1] = (0..plain.len()).map(|i| if i < 48 { f64::NAN } else { plain[i - 48] }).collect();
        let degc: Vec<&[f64]> = rooms.iter().map(Vec::as_slice).collect();
        let local_ms: Vec<i64> = (0..DAYS * PER_DAY).map(|i| i as i64 * STEP_MS).collect();
        let side =
            PeerCheck::new(PeerRooms { degc: &degc, local_ms: &local_ms, step_ms: STEP_MS, outdoor: None });
        compare(&side, 1, 0..DAYS * PER_DAY, by).clock
    };
    let apart = apart(&[ends(0, 30_240), ends(720, 30_960), ends(0, 30_240), ends(0, 30_240)]);
    assert_eq!(told(0.6, None), None);
    let late = told(0.6, apart[1].as_ref()).unwrap();
    assert!((late.hours - 12.0).abs() < 1e-9 && late.by_ends && late.part == LateIn::Whole, "{late:?}");
}

/// Five rooms, each with a day and a level of its own, of which something is done to the first two.
fn five(change: impl Fn(usize, usize, &dyn Fn(usize) -> f64) -> f64) -> Vec<Doubts> {
    let own = |r: usize, i: usize| {
        let (day, hour) = (i / PER_DAY, (i % PER_DAY) as f64 / 4.0);
        let peak = |at: f64, k: f64| k * (-((hour - at) / 1.5_f64).powi(2)).exp();
        let level = [21.0, 20.2, 21.3, 20.8, 21.1][r];
        let habit = [peak(7.5, 1.4), peak(18.5, 0.9), peak(21.0, 0.5), peak(12.0, 1.2), 0.0][r];
        let by_day = (((day * (r + 3) * 7 + r) % 11) as f64 - 5.0) * 0.04;
        let wobble = ((i * (37 + 6 * r) + r * 101) % 17) as f64 * 0.006;
        level + habit + by_day + wobble
    };
    let rooms: Vec<Vec<f64>> = (0..5)
        .map(|r| (0..DAYS * PER_DAY).map(|i| change(r, i, &|room: usize| own(room, i))).collect())
        .collect();
    let degc: Vec<&[f64]> = rooms.iter().map(Vec::as_slice).collect();
    let local_ms: Vec<i64> = (0..DAYS * PER_DAY).map(|i| i as i64 * STEP_MS).collect();
    let side =
        PeerCheck::new(PeerRooms { degc: &degc, local_ms: &local_ms, step_ms: STEP_MS, outdoor: None });
    (0..5).map(|r| compare(&side, r, 0..DAYS * PER_DAY, None)).collect()
}

#[test]
fn exchanged_loggers_are_told_with_their_day_and_sound_ones_are_not() {
    assert!(five(|r, _, own| own(r)).iter().all(|d| d.in_room.is_none()));
    let from = 12 * PER_DAY + 41;
    let swapped = five(|r, i, own| match r {
        0 | 1 if i >= from => own(1 - r) + 0.1,
        _ => own(r),
    });
    for (r, other) in [(0, 1), (1, 0)] {
        let told = swapped[r].in_room.unwrap();
        assert!(told.exchanged && told.room == other, "{told:?}");
        assert!(told.at.abs_diff(from) <= PER_DAY, "{} for {from}", told.at);
    }
    assert!(swapped[2..].iter().all(|d| d.in_room.is_none()));
    // A room that is used otherwise from that day on is no exchange.
    let other_use = five(|r, i, own| own(r) + if r == 0 && i >= from { -0.8 } else { 0.0 });
    assert!(other_use.iter().all(|d| d.in_room.is_none()));
}

#[test]
fn a_logger_in_the_room_of_another_shows_the_same_air() {
    let from = 9 * PER_DAY;
    let moved = five(|r, i, own| if r == 0 && i >= from { own(3) + 0.2 } else { own(r) });
    let told = moved[0].in_room.unwrap();
    assert!(!told.exchanged && told.room == 3 && told.at.abs_diff(from) <= PER_DAY, "{told:?}");
    assert!(moved[1..].iter().all(|d| d.in_room.is_none()));
}

#[test]
fn a_small_step_is_told_by_being_the_same_however_long_one_looks() {
    let at = 11 * PER_DAY + 30;
    let step = |k: f64| {
        move |r: usize, i: usize, own: &dyn Fn(usize) -> f64| own(r) + if r == 2 && i >= at { k } else { 0.0 }
    };
    for k in [-0.8, 0.9, 1.5] {
        let told = five(step(k))[2].shift.unwrap();
        assert!(told.at.abs_diff(at) <= 2 && (told.by_k - k).abs() < 0.25, "{told:?} for {k}");
    }
    assert_eq!(five(step(0.3))[2].shift, None);
    // A setting that is changed takes six hours.
    let slow = five(|r, i, own| {
        own(r) + if r == 2 { 0.9 * ((i as f64 - at as f64) / 24.0).clamp(0.0, 1.0) } else { 0.0 }
    });
    assert_eq!(slow[2].shift, None);
}

#[test]
fn a_logger_that_goes_up_and_down_as_no_other_is_restless() {
    let cycles = |k: f64| {
        move |r: usize, i: usize, own: &dyn Fn(usize) -> f64| {
            own(r) + if r == 4 { k * [1.0, 0.0, -1.0, 0.0][i % 4] } else { 0.0 }
        }
    };
    let told = five(cycles(1.2))[4].restless.unwrap();
    let further = |own_k: f64, others_k: f64| own_k >= 0.4 && own_k > 2.5 * others_k;
    assert!(matches!(told, Restless::Wobbles { own_k, others_k } if further(own_k, others_k)), "{told:?}");
    assert!(five(cycles(0.1)).iter().all(|d| d.restless.is_none()));
}

#[test]
fn a_logger_that_falls_as_air_does_not_is_restless_and_a_coarse_one_is_not() {
    // Twice a day for two hours: warm for a quarter, and cold in the next.
    let cycles = |k: f64| {
        move |r: usize, i: usize, own: &dyn Fn(usize) -> f64| {
            let on = matches!(i % PER_DAY, 24..40 | 64..80) && i.is_multiple_of(2);
            own(r) + if r == 4 && on { k } else { 0.0 }
        }
    };
    let told = five(cycles(1.4))[4].restless.unwrap();
    assert!(
        matches!(told, Restless::Falls { own_k, with_weather: false, .. } if (1.3..1.6).contains(&own_k)),
        "{told:?}"
    );
    assert_eq!(five(cycles(0.8))[4].restless, None, "without a weather series a small room may do so");
    // Whole kelvins of a room that stands between two of them: it falls by one step at a time.
    let coarse =
        five(|r, i, own| if r == 4 { 21.0 + f64::from(u8::from(i.is_multiple_of(8))) } else { own(r) });
    assert_eq!(coarse[4].restless, None);
}

#[test]
fn two_rooms_that_stand_still_at_levels_of_their_own_are_not_one_air() {
    let from = 9 * PER_DAY;
    let apart = |k: f64| {
        five(move |r, i, own| match r {
            0 if i >= from => own(3) + k,
            _ => own(r),
        })
    };
    assert!(apart(0.6)[0].in_room.is_some());
    assert!(apart(2.5).iter().all(|d| d.in_room.is_none()));
}
