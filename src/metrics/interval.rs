//! How sure a number is, what kind of interval says so, and what the sensors and the days have in it.

/// How sure a number is. An end without bound is infinite here, and empty in tables.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interval {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// What kind of interval it is.
    pub kind: IntervalKind,
}

/// What an interval stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum IntervalKind {
    /// The limit moved by the sensor accuracy against and for the finding: certainly and possibly.
    SensorAccuracy,
    /// As [`IntervalKind::SensorAccuracy`], and by how far the loggers trail the room where it warms up or cools.
    SensorAccuracyAndLag,
    /// 95 %: quantiles of draws of whole days (bootstrap).
    DaysDrawn,
    /// 90 %: a mean over days that follow each other.
    OverDays,
    /// 95 %: where one more day would lie.
    Prediction,
    /// As [`IntervalKind::Prediction`], for a day colder than any that was seen.
    PredictionBeyond,
    /// 95 %: a quantile of times of which some were cut off.
    Survival,
    /// As [`IntervalKind::Survival`], after setbacks that were found in the data.
    SurvivalFound,
    /// 90 %: the slope of a line through days that follow each other.
    SlopeOverDays,
    /// 95 %: where a line breaks.
    Break,
    /// 95 %: the median of times of which each is that of a night; of five nights 94 %.
    OverNights,
    /// Nothing beyond the lower end was seen: it may reach further.
    AtLeastDownTo,
    /// The quartiles of what the gap to a limit may be.
    Quartiles,
    /// 95 %: a mean over homes.
    OverHomes,
    /// 95 %: where one more home would lie.
    NewHome,
}

impl IntervalKind {
    /// What a sentence about the sensors' accuracy adds, where the interval knows how far they trail.
    pub const fn lag_words(self) -> &'static str {
        match self {
            IntervalKind::SensorAccuracyAndLag => " and their stated lag",
            _ => "",
        }
    }

    /// The words in tables.
    pub const fn words(self) -> &'static str {
        match self {
            IntervalKind::SensorAccuracy => "sensor accuracy",
            IntervalKind::SensorAccuracyAndLag => "sensor accuracy and lag",
            IntervalKind::DaysDrawn => "95 % days drawn anew and sensor accuracy",
            IntervalKind::OverDays => "90 % mean over days and sensor accuracy",
            IntervalKind::Prediction => "95 % one day and sensor accuracy",
            IntervalKind::PredictionBeyond => "95 % one day and sensor accuracy, extrapolated",
            IntervalKind::Survival => "95 % Kaplan-Meier, sensor accuracy and lag",
            IntervalKind::SurvivalFound => {
                "95 % Kaplan-Meier, sensor accuracy and lag, setbacks found in the data"
            }
            IntervalKind::SlopeOverDays => "90 % slope over days",
            IntervalKind::Break => "95 % place of the break",
            IntervalKind::OverNights => "95 % median over nights and sensor accuracy",
            IntervalKind::AtLeastDownTo => "at least down to",
            IntervalKind::Quartiles => "quartiles of the gap",
            IntervalKind::OverHomes => "95 % mean over homes",
            IntervalKind::NewHome => "95 % one more home",
        }
    }
}

/// What an interval is made of: 95 % half-widths, in the metric's unit; `None` where a part has no meaning.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Parts {
    /// What the accuracy of the sensors leaves open.
    pub sensor: Option<f64>,
    /// What the days that happened to be watched leave open.
    pub days: Option<f64>,
}
