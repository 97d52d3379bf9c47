//! What homes have in common, per metric and criterion.

use std::collections::BTreeSet;

use super::site::{About, OneSite};
use crate::cases::{Answer, CRITERIA, Standing};
use crate::metrics::{self, MeanOfHomes, Metric, OverHomes, POOLED};
use crate::site::Purpose;
use crate::stats;

/// Share of intervals that hold what they are about.
const CONFIDENCE: f64 = 0.95;

/// What a row is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Where homes stand.
    Standing,
    /// A criterion of `[acceptance]`.
    Criterion,
    /// A metric.
    Metric,
}

impl Kind {
    /// The word in tables.
    pub const fn word(self) -> &'static str {
        match self {
            Kind::Standing => "standing",
            Kind::Criterion => "criterion",
            Kind::Metric => "metric",
        }
    }
}

/// How many pass.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Passes {
    /// Homes that pass.
    pub pass: u64,
    /// Homes that were judged: they pass or fail.
    pub judged: u64,
    /// Wilson's interval of the share, 0 to 1; `None` where none was judged.
    pub interval: Option<(f64, f64)>,
}

impl Passes {
    /// The share that passes, in %; `None` where none was judged.
    pub fn share(&self) -> Option<f64> {
        (self.judged > 0).then(|| 100.0 * self.pass as f64 / self.judged as f64)
    }

    /// The interval of that share, in %.
    pub fn percent(&self) -> Option<(f64, f64)> {
        self.interval.map(|(low, high)| (100.0 * low, 100.0 * high))
    }
}

/// A row of the summary.
#[derive(Clone, Debug, PartialEq)]
pub struct SummaryRow {
    /// The site; `None` for all sites together.
    pub site: Option<String>,
    /// What it is about.
    pub kind: Kind,
    /// Id of the metric or criterion; `accept` for the standing.
    pub name: &'static str,
    /// Use of the rooms; `None` for homes as a whole.
    pub purpose: Option<&'static str>,
    /// Unit of median and quartiles.
    pub unit: &'static str,
    /// Homes with a value, or that were asked.
    pub homes: u64,
    /// First quartile, median, third quartile of the homes' values; `None` where it lies among homes that did not come so far.
    pub quartiles: [Option<f64>; 3],
    /// How many pass.
    pub passes: Option<Passes>,
    /// The random-effects mean, of what may be pooled.
    pub over_homes: Option<OverHomes>,
}

impl SummaryRow {
    /// The mean over homes, where there is one.
    pub fn mean(&self) -> Option<&MeanOfHomes> {
        self.over_homes.as_ref()?.told.as_ref().ok()
    }

    /// The factor that a standard deviation of natural logarithms stands for.
    pub fn factor(&self, deviation: f64) -> f64 {
        libm::exp(deviation)
    }
}

/// Of all sites together, then of each.
pub fn summarise(sites: &[OneSite]) -> Vec<SummaryRow> {
    let all: Vec<&OneSite> = sites.iter().collect();
    let mut rows = of_sites(None, &all);
    rows.extend(sites.iter().flat_map(|site| of_sites(Some(&site.name), &[site])));
    rows
}

fn of_sites(site: Option<&str>, sites: &[&OneSite]) -> Vec<SummaryRow> {
    let mut rows = vec![standing(site, sites)];
    let criteria = CRITERIA.iter().map(|criterion| {
        let answers = sites.iter().flat_map(|s| s.answers(criterion.id));
        (criterion.id, answers.collect::<Vec<Answer>>())
    });
    let criterion = |(name, answers): (&'static str, Vec<Answer>)| SummaryRow {
        homes: answers.len() as u64,
        passes: Some(passes(&answers)),
        ..empty(site, Kind::Criterion, name)
    };
    rows.extend(criteria.filter(|(_, answers)| !answers.is_empty()).map(criterion));
    let abouts: BTreeSet<About> = sites.iter().flat_map(|s| s.abouts()).collect();
    let known: Vec<&'static Metric> = metrics::all().collect();
    rows.extend(abouts.into_iter().map(|about| metric(site, sites, about, known[about.0])));
    rows
}

fn empty(site: Option<&str>, kind: Kind, name: &'static str) -> SummaryRow {
    SummaryRow {
        site: site.map(str::to_owned),
        kind,
        name,
        purpose: None,
        unit: "",
        homes: 0,
        quartiles: [None; 3],
        passes: None,
        over_homes: None,
    }
}

/// Homes that stand accepted, of those that do or are to be visited.
fn standing(site: Option<&str>, sites: &[&OneSite]) -> SummaryRow {
    let answer = |standing: Standing| match standing {
        Standing::VisitToday | Standing::Visit => Answer::Fail,
        Standing::RecordAgain => Answer::NotEnough,
        Standing::KeepAnEye | Standing::Accept => Answer::Pass,
    };
    let answers: Vec<Answer> =
        sites.iter().flat_map(|s| s.homes()).map(|home| answer(home.standing)).collect();
    SummaryRow {
        homes: answers.len() as u64,
        passes: Some(passes(&answers)),
        ..empty(site, Kind::Standing, Standing::Accept.word())
    }
}

fn passes(answers: &[Answer]) -> Passes {
    let count = |answer: Answer| answers.iter().filter(|a| **a == answer).count() as u64;
    let (pass, judged) = (count(Answer::Pass), count(Answer::Pass) + count(Answer::Fail));
    Passes { pass, judged, interval: stats::wilson(pass, judged, CONFIDENCE) }
}

fn metric(site: Option<&str>, sites: &[&OneSite], about: About, metric: &'static Metric) -> SummaryRow {
    let pooled = POOLED.iter().position(|pooled| pooled.metric == metric);
    let values: Vec<f64> = sites.iter().flat_map(|s| s.values(about, pooled)).collect();
    let over_homes = pooled.map(|at| {
        let homes = sites.iter().flat_map(|s| s.pooled((at, about.1)));
        OverHomes::of(&POOLED[at], homes)
    });
    SummaryRow {
        purpose: about.1.and_then(|at| Purpose::ALL.get(at)).map(|(word, _)| *word),
        unit: metric.unit,
        homes: values.len() as u64,
        quartiles: quartiles(values),
        over_homes,
        ..empty(site, Kind::Metric, metric.id)
    }
}

/// A value without bound lies beyond all others.
fn quartiles(mut values: Vec<f64>) -> [Option<f64>; 3] {
    values.sort_unstable_by(f64::total_cmp);
    let quantile = |p: f64| {
        let between = stats::sorted_quantile(&values, p)?;
        // On a value itself what lies beyond it has no say, however far it is.
        let on_it = values[(p * (values.len() - 1) as f64) as usize];
        Some(if between.is_nan() { on_it } else { between }).filter(|x| x.is_finite())
    };
    [0.25, 0.5, 0.75].map(quantile)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_did_not_come_so_far_lies_beyond_all_others() {
        let never = f64::INFINITY;
        assert_eq!(quartiles(vec![never, 1.0, 3.0, 2.0]), [Some(1.75), Some(2.5), None]);
        assert_eq!(quartiles(vec![never, 1.0, 2.0, never, never]), [Some(2.0), None, None]);
        assert_eq!(quartiles(Vec::new()), [None; 3]);
    }
}
