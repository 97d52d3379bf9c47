//! Numbers about what a home can do: lines with a break, times that were cut off, free cooling.

use evenrooms::metrics::Slice;
use evenrooms::site::read_site_file;
use evenrooms::stats::{BrokenLine, Line, LogNormalTimes, TimeAt};

use super::assert_close;
use crate::pipeline::compute_under;

/// Source: D. J. Hudson's continuous line with one break (1966); the vector by least squares in NumPy, breaks 0.001 apart.
#[test]
fn a_line_that_breaks_once() {
    let x = [-14.0, -12.0, -11.0, -9.0, -8.0, -6.0, -5.0, -3.0, -2.0, 0.0, 1.0, 3.0, 4.0, 6.0, 8.0];
    let y = [18.3, 18.9, 19.2, 19.8, 20.0, 20.5, 20.9, 21.0, 20.9, 21.1, 21.0, 20.9, 21.1, 21.0, 21.0];
    let points: Vec<(f64, f64)> = x.into_iter().zip(y).collect();
    let broken = BrokenLine::fit(&points, 2, 0.0).unwrap();
    assert_close(broken.at, -4.574, 5e-4);
    assert_close(broken.slopes.0, 0.280857, 5e-5);
    assert_close(broken.slopes.1, 0.002917, 5e-5);
    assert_close(broken.f, 315.4025, 5e-3);
    assert_close(broken.p, 1.936e-10, 5e-14);
}

/// Source: log-normal accelerated failure time, D. R. Cox, D. Oakes, Analysis of Survival Data (1984); the vector by SciPy and
/// lifelines, which agree to six digits.
#[test]
fn times_of_which_two_were_cut_off() {
    let outdoor = [-15.0, -12.0, -10.0, -9.0, -7.0, -6.0, -4.0, -3.0, -1.0, 0.0, 2.0, 4.0, 5.0, 7.0];
    let hours = [6.0, 4.1, 6.0, 3.0, 2.4, 2.9, 1.9, 1.7, 1.5, 1.1, 1.2, 0.9, 0.8, 0.7];
    let times: Vec<TimeAt> =
        outdoor.into_iter().zip(hours).enumerate().map(|(i, (x, t))| (x, t, i != 0 && i != 2)).collect();
    let line = LogNormalTimes::fit(&times).unwrap();
    assert_close(line.intercept, 0.2989991, 5e-7);
    assert_close(line.slope, -0.1075838, 5e-7);
    assert_close(line.deviation, 0.1763611, 5e-7);
    assert_close(line.log_likelihood, -3.7667362, 5e-7);
    assert_close(line.log_median(-18.0).exp(), 9.3512, 5e-5);
}

/// Source: ordinary least squares with its prediction interval; the vector by statsmodels.
#[test]
fn one_more_day_on_a_line() {
    let x = [-12.0, -10.0, -8.0, -7.0, -5.0, -4.0, -2.0, 0.0, 1.0, 3.0, 4.0, 6.0];
    let y = [-2.6, -2.4, -2.1, -2.2, -1.9, -1.6, -1.5, -1.2, -1.3, -0.9, -0.8, -0.6];
    let line = Line::fit(&x.into_iter().zip(y).collect::<Vec<_>>()).unwrap();
    assert_close(line.intercept, -1.2727561, 5e-8);
    assert_close(line.intercept_error, 0.0273635, 5e-8);
    assert_close(line.slope, 0.1125567, 5e-8);
    assert_close(line.slope_error, 0.0044005, 5e-8);
    let (low, high) = line.prediction_interval(-18.0, 0.95).unwrap();
    assert_close(low, -3.544552, 5e-7);
    assert_close(high, -3.053000, 5e-7);
}

/// Source: first-order cooling, R. K. Nagle, E. B. Saff, A. D. Snider, Fundamentals of Differential Equations, 9th edition, 3.3,
/// exercise 6: from 21 °C, outdoors 12 °C, to 16 °C in 3 ln(9/4) = 2.4328 h with a time constant of 3 h; the same law with the
/// constant of a flat, nights of 8 h at −5 °C from 21 °C: 14.914137 °C at their end with 30 h.
#[test]
fn a_room_that_cools_by_the_law_gives_back_its_constant() {
    let at = |hours: f64, outdoor: f64, constant: f64| outdoor + (21.0 - outdoor) * (-hours / constant).exp();
    assert_close(at(2.4328, 12.0, 3.0), 16.0, 2e-4);
    assert_close(at(1.6219, 12.0, 2.0), 16.0, 3e-4);
    assert_close(at(8.0, -5.0, 30.0), 14.914137, 5e-7);
    let text = "[site]\nname = \"Alder Row\"\ntime_zone = \"UTC\"\nroster = \"roster.csv\"\nstep = \"5 min\"\ndesign_outdoor = \"-18 °C\"\n[[setback]]\ndays = \"mon-sun\"\nfrom = \"22:00\"\nto = \"06:00\"\noccupied_target = \"21 °C\"\n[quality]\ntests = []\n";
    let roster = "home,room,use,heated,logger,file,accuracy_k\n1A,living,living,yes,L-1,1.csv,0.1\n1A,bedroom,bedroom,yes,L-2,2.csv,0.1\n";
    let site = read_site_file("site.toml", text).with_roster("roster.csv", roster.as_bytes()).unwrap();
    let times = || (0..10 * 288).map(|i| (i * 300_000_i64, f64::from(i as i32 % 288) / 12.0));
    // The bedroom is heated again after two hours of each night, and falls on more slowly.
    let cools = |h: f64, heated_again: bool| match (h + 2.0) % 24.0 {
        night if night >= 8.0 => 21.0,
        night if heated_again && night > 4.0 => at(4.0 + (night - 4.0) / 3.0, -5.0, 30.0),
        night => at(night, -5.0, 30.0),
    };
    let series = |again: bool| times().map(|(t, h)| (t, Some(cools(h, again)))).collect::<Vec<_>>();
    let weather: Vec<(i64, Option<f64>)> = times().map(|(t, _)| (t, Some(-5.0))).collect();
    let rows = compute_under(&site, &[series(false), series(true)], Some(&weather)).rows;
    let row = |room: &str, id: &str| {
        let is = |r: &&evenrooms::metrics::MetricRow| r.metric.id == id && r.room.as_deref() == Some(room);
        rows.iter().filter(|r| r.slice == Slice::All).find(is)
    };
    let constant = row("living", "cooling_time_constant").unwrap();
    assert_close(constant.value, 30.0, 0.05);
    assert!(row("bedroom", "cooling_time_constant").is_none(), "something heats it");
    assert_close(row("bedroom", "cooling_falls").unwrap().value, 0.0, 0.0);
    // Nights of 8 h tell of the slow walls too; both are told from below.
    for (id, limit) in [("hours_to_16", 16.0), ("hours_to_5", 5.0)] {
        let low = constant.interval.unwrap().low;
        // The mean level, less the sensor's accuracy and the first hour's 26 (1 − e^(−1/30)) K.
        let level = row("living", "mean").unwrap().value - 0.1 - 0.852379;
        let wanted = low * ((level + 18.0) / (limit + 18.0_f64)).ln();
        assert_close(row("living", id).unwrap().value, wanted, 0.15);
    }
}

/// Source: worked by hand: 3 h at 19.5 °C, 2 h at 17.0 °C and 5 h at 18.5 °C are 10 h and 15.0 K·h below 20 °C.
#[test]
fn hours_and_degree_hours_outside_a_winter_range() {
    let text = "[site]\nname = \"Alder Row\"\ntime_zone = \"UTC\"\nroster = \"roster.csv\"\nstep = \"60 min\"\nmax_gap = \"60 min\"\n[quality]\ntests = []\n";
    let roster = "home,room,use,heated,logger,file,accuracy_k\n1A,living,living,yes,L-1,1.csv,0.2\n1A,bath,bathroom,yes,L-2,2.csv,0.2\n";
    let site = read_site_file("site.toml", text).with_roster("roster.csv", roster.as_bytes()).unwrap();
    let degc = [19.5, 19.5, 19.5, 17.0, 17.0, 18.5, 18.5, 18.5, 18.5, 18.5];
    let series: Vec<(i64, Option<f64>)> = (0..).zip(degc).map(|(h, x)| (h * 3_600_000, Some(x))).collect();
    let rows = compute_under(&site, &[series.clone(), series], None).rows;
    let of = |room: &str, id: &str| {
        let mut all = rows.iter().filter(|r| r.slice == Slice::All && r.metric.id == id);
        all.find(|r| r.room.as_deref() == Some(room)).map(|r| r.value)
    };
    for (id, wanted) in [
        ("degree_hours_outside_winter_range", 15.0),
        ("share_outside_winter_range", 100.0),
        ("share_category_i", 0.0),
        ("share_category_ii", 0.0),
        ("share_category_iii", 80.0),
        ("share_category_iv", 100.0),
    ] {
        assert_close(of("living", id).unwrap(), wanted, 1e-9);
        assert_eq!(of("bath", id), None, "nobody sits there");
    }
}
