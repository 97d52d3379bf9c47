//! What every number is made of, and how its low and high come about: enough to make each again from the tables.
//!
//! A [`Procedure`] is a step that several metrics share. What a metric does with it stands in its definition and, where that
//! leaves something open, in its [`Recipe`](super::Recipe).
//!
//! Settled here, and why:
//! - **As the code does it**: a text here is changed with the code that it describes, and says also what nobody would choose anew.
//!   Whoever has the aligned table, the weather, roster and site file needs no look into the code.

use super::IntervalKind;

/// A step that several metrics share.
#[derive(Debug, PartialEq, Eq)]
pub struct Procedure {
    /// What people ask for.
    pub name: &'static str,
    /// What is done, formulas included.
    pub text: &'static str,
    /// Where it comes from.
    pub source: &'static str,
}

/// Values on the grid.
pub(super) static GRID_VALUES: Procedure = Procedure {
    name: "grid values",
    text: "numbers are made in double precision of aligned.parquet (rooms) and weather.parquet (outdoors). Their `temperature_degc` is in single precision: of the numbers that single precision does not tell apart the one that a logger writes counts, which is the nearest thousandth of a °C, else the nearest hundredth of a °F, else the number itself. Each value stands for one step, so that hours = number of values × step. An instant without a row is missing: it is in no count, mean or run. A value equal to a limit of the band is inside; differences (a spread, the distance from the minimum of a heat rule or from a line to be reached) are compared with 0.000004 K of room",
    source: "own definition",
};

/// Periods, slices and local days.
pub(super) static TIMES: Procedure = Procedure {
    name: "periods, slices and days",
    text: "a period holds the instants from its `from` to before its `to`, local times of the site's zone (a bare date in `to`: to the end of that day); `whole record`, where the site file names none, reaches in each home from the first to the last instant at which at least half of the rooms that have any value record (rounded up; a hole of more than 24 h ends a room's record; where never so many record at once, as many as ever do). Slices: `night` is the hours of [band.night], 22:00 to 06:00 where it says nothing, `day` the rest; weekdays go by local date; `outdoor a to b °C` holds the instants with an outdoor value from a to below b. A local day reaches from local midnight to local midnight (23 or 25 h when clocks change, and a setback is as long as it was lived) and is whole in a slice where it has values at 75 % or more of all instants that the slice has on that day. No run, window or ramp reaches across the edge of a period or slice",
    source: "own definition",
};

/// Quantiles.
pub(super) static QUANTILES: Procedure = Procedure {
    name: "quantile",
    text: "of n values in rising order, numbered from 0, the quantile p lies at place p · (n − 1), on the straight line between the two nearest values; a median is the quantile ½",
    source: "R. J. Hyndman, Y. Fan, The American Statistician 50 (1996), definition 7",
};

/// The limit moved by the accuracy.
pub(super) static SENSOR_ACCURACY: Procedure = Procedure {
    name: "sensor accuracy",
    text: "u is `accuracy_k` of the room in the aligned table. The value counts with the limit as it is. `low` (certainly) counts with the limit moved by u against the finding, without the instants whose `flag` is 3 (suspect); `high` (possibly) with the limit moved by u for the finding, suspect instants among them. Below a limit L: value T < L, low T < L − u, high T < L + u; above: T > L, T > L + u, T > L − u; sums of degrees likewise, with the moved limit. Shares are divided by all values observed, suspect ones among them",
    source: "own definition",
};

/// The same with the lag of loggers.
pub(super) static SENSOR_ACCURACY_AND_LAG: Procedure = Procedure {
    name: "sensor accuracy and lag",
    text: "where the roster states `time_constant_min` of every logger of the room, limits are moved at each instant by what accuracy and lag leave open together. d = τ · (T_b − T_a)/(b − a), τ the time constant of the logger that stood there at the instant, in the unit of time of b − a; a and b lie 10 min (rounded to whole steps, at least one) before and after the instant, but within the placement, and are the instant itself where there is no value; without either, and where no logger is placed, d = 0. With d₁ the smaller and d₂ the larger of 0.7 d and 1.3 d the air may lie under = max(0, u − d₁) below the value and over = max(0, u + d₂) above it. Below a limit L: low T < L − over, high T < L + under; above: low T > L + under, high T > L − over. From low the suspect instants are taken off by u alone (those with T < L − u, or T > L + u), to no less than 0. Hours outside both limits: low is the sum of both lows, high counts an instant once. Of a mean of rooms u is the mean of their accuracies, and d₁ and d₂ the means over the rooms that have a value, where every room of it has its time constants stated",
    source: "own definition; first-order lag as in WMO-No. 8, Guide to Instruments and Methods of Observation (time constant: 63.2 % of a step; from memory); the share of 0.3: common practice, no published source",
};

/// How many days that are not alike say as much.
pub(super) static ALIKE_DAYS: Procedure = Procedure {
    name: "effective days",
    text: "of n values in order of time with lag-1 autocorrelation r₁ = Σ dᵢ dᵢ₊₁ / Σ dᵢ² (d: deviations from their mean; 0 where all are equal): r = (n r₁ + 1)/(n − 4) for n above 4, else 0, cut to 0 … 0.9 (for residuals of a line on the outdoor temperature, and for what its slope is made of: 0 … 0.999); n_eff = n (1 − r)/(1 + r), but at least 3 (or n, where that is fewer)",
    source: "own definition; F. H. C. Marriott, J. A. Pope, Biometrika 41 (1954) for short records; first-order autoregressive process: textbook result (from memory)",
};

/// The mean over days.
pub(super) static MEAN_OVER_DAYS: Procedure = Procedure {
    name: "mean over days",
    text: "90 % interval of the mean m of n daily values y, from n = 7 on. Where 14 of the days or more, and 90 % of them, have a daily mean outdoor temperature x, with 5 K or more between the coldest and the mildest: e are the residuals of a least-squares line of y on x, k = 2, s = √(Σe²/(n − 2)), n their number; else e are the deviations from m, k = 1 and s = √(Σe²/(n − 1)). Newey and West: lag L = ⌊4 (n/100)^(2/9)⌋, below n; γ_j = Σ eᵢ eᵢ₊ⱼ / n with e less their mean; S = γ₀ + 2 Σ (1 − j/(L + 1)) γ_j, j from 1 to L; E_nw = √(S/n) · √(n/(n − k)). Error of the days E = max(E_nw, s/√n_eff). With the half-width h of the sensors (95 %) and σ = h/1.959964: V = E² + σ², ν = V² (n_eff − 1)/E⁴, low and high = m ∓ t₀.₉₅(ν) · √V (the normal quantile from ν = 10⁶ on). `sensor` = h, `days` = t₀.₉₇₅(n_eff − 1) · E",
    source: "own definition; W. K. Newey, K. D. West, Econometrica 55 (1987); lag as usually written after W. K. Newey, K. D. West, Review of Economic Studies 61 (1994); ν: JCGM 100:2008 (GUM), G.4.1",
};

/// One more day on a line.
pub(super) static ONE_DAY: Procedure = Procedure {
    name: "one day",
    text: "95 % interval of the value of one day at the outdoor temperature x₀, from points (x, y) of n days, 10 or more with 5 K or more between the coldest and the mildest: least-squares line, s = √(Σe²/(n − 2)), S_xx = Σ(x − x̄)²; g = n/n_eff, n_eff the smaller of those of the residuals e and of the products (x − x̄) e. Half-width of the days H = t₀.₉₇₅(n − 2) · s · √(1 + g (1/n + (x₀ − x̄)²/S_xx)); with the half-width h of the sensors low and high = line at x₀ ∓ √(H² + h²); `sensor` = h, `days` = H; `extrapolated` where x₀ is colder than every day. On a line with a break (`place of the break`) H = t₀.₉₇₅(n − 4) · √(v (1/(1 − a²) + cᵀ A⁻¹ c)), v and a its variance and likeness, c = (1, min(0, x₀ − b), max(0, x₀ − b), minus the slope on that side), A the sum of the products of these four columns over the days, prewhitened",
    source: "prediction interval of a least-squares line; the growth g: own definition",
};

/// The slope over days.
pub(super) static SLOPE_OVER_DAYS: Procedure = Procedure {
    name: "slope over days",
    text: "90 % interval of the slope b of a least-squares line through n days (x, y) in order of time: products z = (x − x̄) e of the residuals e; Newey and West as for `mean over days`, of z with n/(n − 2): E_nw = √(S/n) · √(n/(n − 2)) · n/S_xx; E = max(E_nw, s/√S_xx · √(n/n_eff)), s = √(Σe²/(n − 2)), n_eff the smaller of those of e and of z; low and high = b ∓ t₀.₉₅(n_eff − 2) · E; `days` = t₀.₉₇₅(n_eff − 2) · E. A sensor that is off by the same all the time changes no slope: `sensor` is empty",
    source: "own definition; W. K. Newey, K. D. West, Econometrica 55 (1987)",
};

/// Days drawn anew.
pub(super) static DAYS_DRAWN: Procedure = Procedure {
    name: "days drawn anew",
    text: "95 % interval of a quantile v of the spread, from 7 local days D with a spread on. Days: 1000 draws of D days with replacement, the quantile of all spreads of the days drawn; v₋ and v₊ the quantiles 0.025 and 0.975 of the 1000; w = √(D/n_eff) · t₀.₉₇₅(n_eff − 1)/1.959964, n_eff of the medians of the days (0.9 at most). Sensors, downwards: at every ⌈N/128⌉-th of the N instants with a spread, from the first, 400 draws of one normal error for each room (standard deviation `relative_accuracy_k`/1.959964), added to all of its values; p is the quantile 0.975 of the 400 differences between the quantile of the spreads so made and that without errors, no less than 0. Upwards: q = √(u₁² + u₂²) of the two largest `relative_accuracy_k` of the home. low = max(0, v − √(((v − v₋) w)² + p²)), high = v + √(((v₊ − v) w)² + q²); `sensor` = (p + q)/2, `days` = ((v − v₋) w + (v₊ − v) w)/2. How the draws are made: see `seed`",
    source: "H. R. Künsch, Annals of Statistics 17 (1989), blocks of one local day; A. C. Davison, D. V. Hinkley, Bootstrap Methods and their Application (1997), 5.2.1 (from memory) for the sensors",
};

/// Random numbers.
pub(super) static SEEDS: Procedure = Procedure {
    name: "seed",
    text: "numbers that are drawn at random come from fixed seeds, so that the same input gives the same bytes, on any machine and any number of threads. The stream is splitmix64: with each number the state grows by 0x9E3779B97F4A7C15 (modulo 2⁶⁴), z = state, z = (z xor (z >> 30)) · 0xBF58476D1CE4E5B9, z = (z xor (z >> 27)) · 0x94D049BB133111EB, number = z xor (z >> 31). Days (bootstrap: 1000 draws of whole days) start anew with 0x6576656E726F6F6D for each number of days D; a day is ((number >> 32) · D) >> 32, D days for the first draw, then for the second, and so on. Sensor errors (400 draws) start anew with 0x73656E736F72 for each home; a normal number is the normal quantile of ((number >> 11) + ½)/2⁵³, one for each room in roster order for the first draw, then for the second, and so on. Nothing else in an audit is drawn; `compare` has a seed of its own",
    source: "S. Vigna, splitmix64",
};

/// Recovery times.
pub(super) static SURVIVAL: Procedure = Procedure {
    name: "recovery times",
    text: "95 % interval of the time by which a share p of the mornings has recovered (p = ½, or 0.9), from 7 recovery_events on. The line is moved by e standard deviations of the sensor (`accuracy_k`/1.959964), e = −2.5, −2 … 2.5, each with the normal probability of what is nearest to it (the outermost: of all beyond), and the mornings are followed anew: those that have nothing to recover from then drop out. Of each e: Kaplan–Meier curve S of the times (equal times are one step, and so are those that differ by rounding alone; of an event and a cut at the same time the event comes first), Greenwood's sum G = Σ d/(n (n − d)), and after each of its steps the confidence c = Φ((ln(−ln S) − ln(−ln(1 − p))) · (−ln S)/(w √G)) that no more than 1 − p are left; before the first step c = 0, or 1 where no morning has anything to recover from; after a step to S = 0 c = 1 for low, and for high what it was before that step (0 without one). C(t) is the sum of the c by their probabilities. high is the first time with C ≥ 0.975, low the first (0 counts) with C ≥ 0.025, or 0.05 where there is no high; neither passes the value. Then low less what the loggers trail at most (1.3 of the largest `time_constant_min` of the room's rows, 15 min unless all are stated), no less than 0. w = √(1 + 2 Σ (1 − k/n) ρ(rᵏ)), k from 1 to n − 1 while rᵏ > 0.001, r = (n − n_eff)/(n + n_eff) of the n times in order of mornings, and ρ(r) = 1/(2π p (1 − p)) ∫ exp(−z²/(1 + sin θ)) dθ from 0 to arcsin r, z = Φ⁻¹(p). The value is the first time at which the curve of e = 0 is at or below 1 − p",
    source: "E. L. Kaplan, P. Meier, Journal of the American Statistical Association 53 (1958); M. Greenwood (1926); R. Brookmeyer, J. Crowley, Biometrics 38 (1982), on the scale of log(−log S); R. L. Plackett, Biometrika 41 (1954), from memory; the sensor, and the widening w: own definition",
};

/// The break of a line.
pub(super) static BREAK: Procedure = Procedure {
    name: "place of the break",
    text: "a continuous line with one break b, y on 1, min(0, x − b), max(0, x − b), by least squares on prewhitened days in order of time: of each row a times the row before is taken off, and the first is multiplied by √(1 − a²). b is looked for from the 8th to the 8th last x in rising order, at 101 places, then three times at 41 around the best, each time 20 times finer. F = (squares of the straight line − squares with the break)/2/v, v = squares with the break/(n − 4), p = (1 + 2F/(n − 4))^(−(n − 4)/2). First with a = 0; where p < 0.01 anew with a = the lag-1 autocorrelation of what that leaves, put right for short records as for `effective days`, 0.9 at most. It counts where p < 0.01 again, the slope below b is larger than that above, and larger than 1.644854 of its standard error (from the four columns of `one day`). low and high: the first and the last of the 101 places whose squares are no more than the least · (1 + t₀.₉₇₅(n − 4)²/(n − 4)); no end where that is the first or the last of all",
    source: "own definition; D. J. Hudson, Journal of the American Statistical Association 61 (1966), from memory; J. C. Prais, C. B. Winsten (1954), from memory",
};

/// Over nights.
pub(super) static OVER_NIGHTS: Procedure = Procedure {
    name: "median over nights",
    text: "of n values in rising order, 5 or more, the interval of the median lies between the (k + 1)-th from below and from above, k the largest number below n/2 for which at most 2.5 % of all ways to throw n coins have k heads or fewer (0 where none does; of five values it misses 3.1 % on either side); each side widened by what the sensor accuracy does, as the root of the sum of squares",
    source: "sign test: W. J. Conover, Practical Nonparametric Statistics (from memory)",
};

/// How many more days.
pub(super) static QUARTILES: Procedure = Procedure {
    name: "quartiles of the gap",
    text: "days_to_decide from n days with offset m, margin M, and h, E and n_eff of `mean over days`: gap = ||m| − M|, s = h · 1.644854/1.959964, H = t₀.₉₅(n_eff − 1) · E, more(gap) = max(0, n (H²/(gap² − s²) − 1)), none where gap ≤ s; with q = t₀.₇₅(n_eff − 1) · E low = more(gap + q), high = more(max(0, gap − q)), empty where there is none",
    source: "own definition",
};

/// Rooms that other rooms are held against.
pub(super) static REFERENCE: Procedure = Procedure {
    name: "reference",
    text: "at an instant with a quorum ([spread] quorum, else all rooms of the home in the roster but one, two at least) the reference is the median of the heated rooms whose record stands (`in_reference` is 1) and that have a value; a room that is one of them is held against the median of the others; of an even number the mean of the two in the middle counts. Half-width h of the sensors of a room's offset: at every ⌈N/128⌉-th of the N instants of period and slice that have a spread, from the first, it is asked which room the median is (of two in the middle each is half); with the share f of the time of each room h = √(u² + Σ (f u_f)²), u the room's `relative_accuracy_k`, u_f that of each reference room. Where the rooms to be held against (with values for at least half as long as the one that has most) are even in number, the daily means of the distance of the two in the middle have an interval as in `mean over days` (without outdoor temperatures, h = √(u₁² + u₂²) of the two largest among them): where its low is over the margin they are no reference",
    source: "own definition",
};

/// After a setback.
pub(super) static FOLLOWED: Procedure = Procedure {
    name: "following a recovery",
    text: "recovery starts when the setback ends (`to` of [[setback]]; of a setback found in the data, when the fall turns); line = target − [recovery] tolerance. From the first instant at or after the start: at or above the line (less 0.000004 K) there is nothing to recover from. Else the crossing before the first instant at the line lies on the straight line from the instant before; it counts where the room is at the line at every instant up to and with the first one 15 min or more after the crossing, else the next time that it comes to the line is tried. Cut off: at the last value before a hole, at the start of the next setback, 6 h after the start, whichever comes first. A recovery that was cut off has the time until then",
    source: "own definition",
};

/// Over homes.
pub(super) static OVER_HOMES: Procedure = Procedure {
    name: "mean over homes",
    text: "of k homes with a number x and its variance v = ((high − low)/c)² each, c = 2 · 1.644854 of a 90 % interval and 2 · 1.959964 of a 95 % one (of a recovery the logarithms, and twice the upper half where low is 0): with the weights 1/v, their sum W and the mean so weighted, Q = Σ (x − mean)²/v; τ² = max(0, (Q − (k − 1))/(W − Σ (1/v²)/W)); mean m with the weights w = 1/(v + τ²), SE = √(1/Σ w); scatter = √(Σ w (x − m)²/((k − 1) Σ w)). Mean over homes: m ∓ t₀.₉₇₅(k − 1) · max(SE, scatter). One more home: m ∓ t₀.₉₇₅(k − 2) · √(τ² + SE²). Between homes: τ",
    source: "R. DerSimonian, N. Laird, Controlled Clinical Trials 7 (1986); J. Hartung, G. Knapp, Statistics in Medicine 20 (2001); J. P. T. Higgins, S. G. Thompson, D. J. Spiegelhalter, Journal of the Royal Statistical Society A 172 (2009)",
};

/// Every procedure.
pub static PROCEDURES: [&Procedure; 18] = [
    &GRID_VALUES,
    &TIMES,
    &QUANTILES,
    &SENSOR_ACCURACY,
    &SENSOR_ACCURACY_AND_LAG,
    &REFERENCE,
    &ALIKE_DAYS,
    &MEAN_OVER_DAYS,
    &ONE_DAY,
    &SLOPE_OVER_DAYS,
    &BREAK,
    &DAYS_DRAWN,
    &FOLLOWED,
    &SURVIVAL,
    &OVER_NIGHTS,
    &QUARTILES,
    &OVER_HOMES,
    &SEEDS,
];

impl IntervalKind {
    /// All kinds.
    pub const ALL: [IntervalKind; 15] = [
        IntervalKind::SensorAccuracy,
        IntervalKind::SensorAccuracyAndLag,
        IntervalKind::DaysDrawn,
        IntervalKind::OverDays,
        IntervalKind::Prediction,
        IntervalKind::PredictionBeyond,
        IntervalKind::Survival,
        IntervalKind::SurvivalFound,
        IntervalKind::SlopeOverDays,
        IntervalKind::Break,
        IntervalKind::OverNights,
        IntervalKind::AtLeastDownTo,
        IntervalKind::Quartiles,
        IntervalKind::OverHomes,
        IntervalKind::NewHome,
    ];

    /// How its ends come about.
    pub const fn procedure(self) -> &'static Procedure {
        match self {
            IntervalKind::SensorAccuracy => &SENSOR_ACCURACY,
            IntervalKind::SensorAccuracyAndLag => &SENSOR_ACCURACY_AND_LAG,
            IntervalKind::DaysDrawn => &DAYS_DRAWN,
            IntervalKind::OverDays => &MEAN_OVER_DAYS,
            IntervalKind::Prediction | IntervalKind::PredictionBeyond | IntervalKind::AtLeastDownTo => {
                &ONE_DAY
            }
            IntervalKind::Survival | IntervalKind::SurvivalFound => &SURVIVAL,
            IntervalKind::SlopeOverDays => &SLOPE_OVER_DAYS,
            IntervalKind::Break => &BREAK,
            IntervalKind::OverNights => &OVER_NIGHTS,
            IntervalKind::Quartiles => &QUARTILES,
            IntervalKind::OverHomes | IntervalKind::NewHome => &OVER_HOMES,
        }
    }
}
