//! Published numbers of the small statistics.

use super::assert_close;
use evenrooms::stats::{
    KaplanMeier, Line, RandomEffects, autocorrelation, bartlett_lag, effective_number, mean, mean_interval,
    newey_west_error, normal_quantile, standard_deviation, t_quantile, two_one_sided, wilson,
};

/// The exact autocorrelations of these numbers are −1/2 and −0.999.
///
/// Source: NIST Statistical Reference Datasets, univariate summary statistics, NumAcc1 to NumAcc4, lag 1.
#[test]
fn numbers_that_go_up_and_down_are_anticorrelated() {
    assert_close(autocorrelation(&[10_000_001.0, 10_000_003.0, 10_000_002.0], 1).unwrap(), -0.5, 0.0);
    for base in [1.0, 1_000_000.0, 10_000_000.0] {
        let pair = [base + 0.1, base + 0.3];
        let values: Vec<f64> =
            std::iter::once(base + 0.2).chain(pair.into_iter().cycle().take(1000)).collect();
        assert_close(autocorrelation(&values, 1).unwrap(), -0.999, 1e-8);
    }
}

/// Source: effective number of values of a first-order process, n (1 − r)/(1 + r), D. S. Wilks, Statistical Methods in
/// the Atmospheric Sciences (from memory); numbers derived.
#[test]
fn values_that_follow_each_other_closely_count_less() {
    for (n, r, want) in [(100.0, 0.5, 33.3333), (8760.0, 0.95, 224.615), (1440.0, 0.99, 7.23618)] {
        assert_close(effective_number(n, r), want, 0.0005);
    }
}

const MICHELSON: [f64; 100] = [
    299.85, 299.74, 299.90, 300.07, 299.93, 299.85, 299.95, 299.98, 299.98, 299.88, 300.00, 299.98, 299.93,
    299.65, 299.76, 299.81, 300.00, 300.00, 299.96, 299.96, 299.96, 299.94, 299.96, 299.94, 299.88, 299.80,
    299.85, 299.88, 299.90, 299.84, 299.83, 299.79, 299.81, 299.88, 299.88, 299.83, 299.80, 299.79, 299.76,
    299.80, 299.88, 299.88, 299.88, 299.86, 299.72, 299.72, 299.62, 299.86, 299.97, 299.95, 299.88, 299.91,
    299.85, 299.87, 299.84, 299.84, 299.85, 299.84, 299.84, 299.84, 299.89, 299.81, 299.81, 299.82, 299.80,
    299.77, 299.76, 299.74, 299.75, 299.76, 299.91, 299.92, 299.89, 299.86, 299.88, 299.72, 299.84, 299.85,
    299.85, 299.78, 299.89, 299.84, 299.78, 299.81, 299.76, 299.81, 299.79, 299.81, 299.82, 299.85, 299.87,
    299.87, 299.81, 299.74, 299.81, 299.94, 299.95, 299.80, 299.81, 299.87,
];
const MAVRO: [f64; 50] = [
    2.00180, 2.00170, 2.00180, 2.00190, 2.00180, 2.00170, 2.00150, 2.00140, 2.00150, 2.00150, 2.00170,
    2.00180, 2.00180, 2.00190, 2.00190, 2.00210, 2.00200, 2.00160, 2.00140, 2.00130, 2.00130, 2.00150,
    2.00150, 2.00160, 2.00150, 2.00140, 2.00130, 2.00140, 2.00150, 2.00140, 2.00150, 2.00160, 2.00150,
    2.00160, 2.00190, 2.00200, 2.00200, 2.00210, 2.00220, 2.00230, 2.00240, 2.00250, 2.00270, 2.00260,
    2.00260, 2.00260, 2.00270, 2.00260, 2.00250, 2.00240,
];

/// Values as printed carry an error of their own in the last bit of an `f64`, so ten digits of the fifteen are held.
///
/// Source: NIST Statistical Reference Datasets, univariate summary statistics, Michelso and Mavro, certified values.
#[test]
fn real_measurements_have_their_certified_statistics() {
    let held = |values: &[f64], certified: [f64; 3]| {
        let got = [mean(values), standard_deviation(values), autocorrelation(values, 1)];
        for (got, want) in got.into_iter().zip(certified) {
            assert_close(got.unwrap(), want, want * 1e-10);
        }
    };
    held(&MICHELSON, [299.8524, 0.0790105478190518, 0.535199668621283]);
    held(&MAVRO, [2.001856, 0.000429123454003053, 0.937989183438248]);
}

const NORRIS_X: [f64; 36] = [
    0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4, 0.6, 775.5, 666.9, 338.0,
    447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3,
    229.2, 669.1, 448.9, 0.5,
];
const NORRIS_Y: [f64; 36] = [
    0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1, 668.8, 339.3,
    448.9, 10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3, 0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6,
    228.9, 668.4, 449.2, 0.2,
];

/// Held to ten digits of the fifteen certified ones.
///
/// Source: NIST Statistical Reference Datasets, linear regression, Norris, certified values.
#[test]
fn a_line_has_its_certified_coefficients() {
    let points: Vec<(f64, f64)> = NORRIS_X.into_iter().zip(NORRIS_Y).collect();
    let line = Line::fit(&points).unwrap();
    for (got, want) in [
        (line.intercept, -0.262323073774029),
        (line.slope, 1.00211681802045),
        (line.intercept_error, 0.232818234301152),
        (line.slope_error, 0.429796848199937E-03),
        (line.residual_deviation, 0.884796396144373),
        (line.r_squared, 0.999993745883712),
    ] {
        assert_close(got, want, want.abs() * 1e-10);
    }
}

const TEN: [f64; 10] = [20.0, 20.4, 20.9, 21.1, 20.8, 20.3, 19.9, 19.8, 20.1, 20.6];

/// Printed without and with the factor √(n/(n − 1)) for lags 0 to 3; S at lag 2 is 46591/150000 exactly.
///
/// Source: W. K. Newey, K. D. West, Econometrica 55 (1987), formula; numbers derived from it in exact fractions, and
/// the same as statsmodels 0.15, `OLS(...).fit(cov_type="HAC")`.
#[test]
fn the_error_of_a_mean_in_time_is_newey_and_wests() {
    let plain = [0.13449907, 0.16940779, 0.17624037, 0.16527250];
    let corrected = [0.14177447, 0.17857149, 0.18577366, 0.17421251];
    for (lag, (plain, corrected)) in plain.into_iter().zip(corrected).enumerate() {
        let got = newey_west_error(&TEN, lag).unwrap();
        assert_close(got, plain, 5e-9);
        assert_close(got * (10.0_f64 / 9.0).sqrt(), corrected, 5e-9);
    }
    assert_close(newey_west_error(&TEN, 2).unwrap().powi(2), 46591.0 / 150_000.0 / 10.0, 1e-14);
    assert_close(mean(&TEN).unwrap(), 20.39, 1e-12);
    assert_close(autocorrelation(&TEN, 1).unwrap(), 0.586457, 5e-7);
    assert_eq!(bartlett_lag(10), 2);
    assert_close(mean_interval(&TEN, 0.9).unwrap().error, 0.18577366, 5e-9);
}

/// Ten paired differences: surely within 0.5, not surely within 0.2.
///
/// Source: D. J. Schuirmann, Journal of Pharmacokinetics and Biopharmaceutics 15 (1987), procedure; numbers derived
/// from the formula, and checked with SciPy 1.17.
#[test]
fn two_one_sided_tests_need_evidence_for_equality() {
    let differences = [0.2, -0.1, 0.3, 0.0, 0.1, 0.4, -0.2, 0.1, 0.2, 0.0];
    let (mean, deviation) = (mean(&differences).unwrap(), standard_deviation(&differences).unwrap());
    let error = deviation / 10.0_f64.sqrt();
    assert_close(deviation, 0.1825742, 5e-8);
    assert_close(error, 0.0577350, 5e-8);
    let wide = two_one_sided(mean, error, 9.0, 0.5).unwrap();
    assert_close(wide.t_low, 10.392305, 5e-7);
    assert_close(wide.t_high, -6.928203, 5e-7);
    assert_close(wide.p, 3.42422e-5, 5e-11);
    let narrow = two_one_sided(mean, error, 9.0, 0.2).unwrap();
    assert_close(narrow.t_low, 5.196152, 5e-7);
    assert_close(narrow.t_high, -1.732051, 5e-7);
    assert_close(narrow.p, 0.0586534, 5e-8);
    let half = t_quantile(0.95, 9.0).unwrap() * error;
    assert_close(mean - half, -0.0058348, 5e-8);
    assert_close(mean + half, 0.2058348, 5e-8);
}

/// Source: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2, critical values of Student's t (from memory).
#[test]
fn students_quantiles_are_the_tables() {
    for (p, degrees, want) in [
        (0.95, 1.0, 6.314),
        (0.95, 5.0, 2.015),
        (0.95, 9.0, 1.833),
        (0.975, 2.0, 4.303),
        (0.975, 10.0, 2.228),
        (0.975, 30.0, 2.042),
        (0.975, 100.0, 1.984),
    ] {
        assert_close(t_quantile(p, degrees).unwrap(), want, 0.0005);
    }
    assert_close(normal_quantile(0.975), 1.959964, 5e-7);
}

/// Weeks in remission of 21 children on 6-mercaptopurine; `false`: still in remission when last seen.
const REMISSIONS: [(f64, bool); 21] = [
    (6.0, true),
    (6.0, true),
    (6.0, true),
    (6.0, false),
    (7.0, true),
    (9.0, false),
    (10.0, true),
    (10.0, false),
    (11.0, false),
    (13.0, true),
    (16.0, true),
    (17.0, false),
    (19.0, false),
    (20.0, false),
    (22.0, true),
    (23.0, true),
    (25.0, false),
    (32.0, false),
    (32.0, false),
    (34.0, false),
    (35.0, false),
];

/// Survival as textbooks print it, with Greenwood's standard errors.
///
/// Source: data: C. T. Le, Introductory Biostatistics (2003), example 11.1, after E. J. Freireich et al., Blood 21 (1963);
/// printed survival and errors: J. P. Klein, M. L. Moeschberger, Survival Analysis (1997), table 4.1 (from memory; the
/// products and Greenwood's sums follow by hand, 18/21 = 0.857, × 16/17 = 0.807, …).
#[test]
fn remissions_last_as_in_the_textbook() {
    let curve = KaplanMeier::new(&REMISSIONS);
    let printed = [
        (6.0, 21, 3, 0.857, 0.0764),
        (7.0, 17, 1, 0.807, 0.0869),
        (10.0, 15, 1, 0.753, 0.0963),
        (13.0, 12, 1, 0.690, 0.1068),
        (16.0, 11, 1, 0.627, 0.1141),
        (22.0, 7, 1, 0.538, 0.1282),
        (23.0, 6, 1, 0.448, 0.1346),
    ];
    assert_eq!(curve.steps().len(), printed.len());
    for (step, (time, at_risk, events, survival, error)) in curve.steps().iter().zip(printed) {
        assert_eq!((step.at_risk, step.events), (at_risk, events));
        assert_close(step.time, time, 0.0);
        assert_close(step.survival, survival, 0.0005);
        assert_close(step.error().unwrap(), error, 0.00005);
    }
    assert_close(curve.quantile(0.5).unwrap(), 23.0, 0.0);
    assert_eq!(curve.quantile(0.9), None, "nine in ten were not seen to relapse");
}

/// The median's interval goes from 13 weeks to no end.
///
/// Source: lifelines 0.30.3, `KaplanMeierFitter` on the data of C. T. Le, Introductory Biostatistics (2003), example
/// 11.1: confidence interval on the scale of log(−log S), 95 %.
#[test]
fn the_interval_of_a_survival_is_on_the_log_log_scale() {
    let curve = KaplanMeier::new(&REMISSIONS);
    for (step, (low, high)) in curve.steps().iter().zip(LIFELINES) {
        let interval = step.interval(0.95, 1.0).unwrap();
        assert_close(interval.0, low, 5e-7);
        assert_close(interval.1, high, 5e-7);
    }
    assert_eq!(curve.quantile_interval(0.5, 0.95, 1.0), (Some(13.0), None));
}

const LIFELINES: [(f64, f64); 7] = [
    (0.619718, 0.951552),
    (0.563147, 0.922809),
    (0.503200, 0.889362),
    (0.431610, 0.849066),
    (0.367511, 0.804912),
    (0.267779, 0.746791),
    (0.188052, 0.680143),
];

/// Trials of a vaccine: cases and others among the vaccinated, then among the controls.
const TRIALS: [[f64; 4]; 13] = [
    [4.0, 119.0, 11.0, 128.0],
    [6.0, 300.0, 29.0, 274.0],
    [3.0, 228.0, 11.0, 209.0],
    [62.0, 13536.0, 248.0, 12619.0],
    [33.0, 5036.0, 47.0, 5761.0],
    [180.0, 1361.0, 372.0, 1079.0],
    [8.0, 2537.0, 10.0, 619.0],
    [505.0, 87886.0, 499.0, 87892.0],
    [29.0, 7470.0, 45.0, 7232.0],
    [17.0, 1699.0, 65.0, 1600.0],
    [186.0, 50448.0, 141.0, 27197.0],
    [5.0, 2493.0, 3.0, 2338.0],
    [27.0, 16886.0, 29.0, 17825.0],
];

/// The log risk ratios of thirteen trials, which differ more than chance lets them.
///
/// Source: G. A. Colditz and others, Journal of the American Medical Association 271 (1994), table as reprinted in textbooks of
/// meta-analysis, from memory; τ², mean and standard error as widely printed for it; Q, Hartung and Knapp's interval and the
/// prediction interval derived with another program.
#[test]
fn trials_of_a_vaccine_have_the_known_random_effects() {
    let log_ratio = |[a, b, c, d]: [f64; 4]| {
        let variance = 1.0 / a - 1.0 / (a + b) + 1.0 / c - 1.0 / (c + d);
        ((a / (a + b) / (c / (c + d))).ln(), variance)
    };
    let pooled = RandomEffects::of(&TRIALS.map(log_ratio)).unwrap();
    assert_close(pooled.q, 152.23301, 5e-6);
    assert_close(pooled.between_variance, 0.3087603, 5e-8);
    assert_close(pooled.mean, -0.7141172, 5e-8);
    assert_close(pooled.error, 0.1787421, 5e-8);
    assert_close(pooled.scatter_error, 0.1806966, 5e-8);
    let (low, high) = pooled.interval(0.95).unwrap();
    assert_close(low, -1.1078214, 5e-8);
    assert_close(high, -0.3204131, 5e-8);
    let (low, high) = pooled.prediction(0.95).unwrap();
    assert_close(low, -1.9988385, 5e-8);
    assert_close(high, 0.5706041, 5e-8);
}

/// Shares of few: 8 of 10, none of 12, 7 of 9.
///
/// Source: E. B. Wilson, Journal of the American Statistical Association 22 (1927), his interval; numbers derived with another
/// program.
#[test]
fn shares_of_few_have_wilsons_interval() {
    for (passes, number, want) in
        [(8, 10, (0.4901625, 0.9433178)), (0, 12, (0.0, 0.2424940)), (7, 9, (0.4525890, 0.9367749))]
    {
        let (low, high) = wilson(passes, number, 0.95).unwrap();
        assert_close(low, want.0, 5e-8);
        assert_close(high, want.1, 5e-8);
    }
}
