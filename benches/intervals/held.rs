//! How often intervals held the truth, and how that is written down.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use evenrooms::metrics::Interval;
use evenrooms::stats::quantile;

/// What an interval claims.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) enum Claims {
    #[default]
    Nothing,
    /// To hold the truth in so many of 100 cases.
    Share(u32),
    /// In no fewer than so many.
    AtLeast(u32),
}

impl Claims {
    fn words(self) -> String {
        match self {
            Claims::Nothing => String::new(),
            Claims::Share(percent) => format!("{percent} %"),
            Claims::AtLeast(percent) => format!("≥ {percent} %"),
        }
    }
}

/// How often an interval held the truth.
#[derive(Debug, Default)]
pub(crate) struct Held {
    claims: Claims,
    cases: u32,
    below: u32,
    above: u32,
    /// Intervals without an upper end.
    open: u32,
    widths: Vec<f64>,
}

impl Held {
    pub(crate) fn add(&mut self, claims: Claims, interval: Interval, truth: f64) {
        self.claims = claims;
        self.cases += 1;
        self.below += u32::from(truth < interval.low);
        self.above += u32::from(truth > interval.high);
        self.open += u32::from(interval.high.is_infinite());
        self.widths.push(interval.high - interval.low);
    }

    /// Cases, how many held the truth, those with the truth below and above, those without an upper end, the median width.
    fn cells(&self) -> String {
        let share = |n: u32| 100.0 * f64::from(n) / f64::from(self.cases.max(1));
        let median = quantile(self.widths.clone(), 0.5).filter(|w| w.is_finite());
        format!(
            "{} | {:.1} % | {:.1} / {:.1} % | {:.0} % | {}",
            self.cases,
            share(self.cases - self.below - self.above),
            share(self.below),
            share(self.above),
            share(self.open),
            median.map_or("open".to_owned(), |w| format!("{w:.2}"))
        )
    }
}

/// Every kind of interval by its name.
#[derive(Debug, Default)]
pub(crate) struct Scores {
    /// Homes that were watched.
    pub(crate) homes: u32,
    /// Every case that did not hold the truth is told on the terminal.
    misses: bool,
    held: BTreeMap<String, Held>,
}

impl Scores {
    /// Nothing yet.
    pub(crate) fn new(misses: bool) -> Self {
        Self { misses, ..Self::default() }
    }

    /// One more case.
    pub(crate) fn add(&mut self, name: &str, claims: Claims, interval: Interval, truth: f64) {
        if self.misses && !(interval.low..=interval.high).contains(&truth) {
            println!("{name}: {truth:.3} not in {:.3} to {:.3}", interval.low, interval.high);
        }
        self.held.entry(name.to_owned()).or_default().add(claims, interval, truth);
    }
}

/// The columns of one kind of homes.
const COLUMNS: &str = " cases | held the truth | truth below / above | no upper end | median width |";
const NOTHING: &str = "0 | | | |";

/// A table with, for each kind of homes, its columns beside those of the others.
pub(crate) fn table(of: &[(&str, &Scores)]) -> String {
    let mut text = String::from("| interval | claims |");
    of.iter()
        .for_each(|(words, _)| text.push_str(&COLUMNS.replacen(" cases", &format!(" {words}: cases"), 1)));
    let _ = writeln!(text, "\n|---|---|{}", "---|".repeat(5 * of.len()));
    let mut names: Vec<&String> = of.iter().flat_map(|(_, scores)| scores.held.keys()).collect();
    names.sort();
    names.dedup();
    for name in names {
        let held: Vec<Option<&Held>> = of.iter().map(|(_, scores)| scores.held.get(name)).collect();
        let claims = held.iter().flatten().next().map_or(Claims::Nothing, |h| h.claims);
        let _ = write!(text, "| {name} | {} |", claims.words());
        for held in held {
            let _ = write!(text, " {} |", held.map_or(NOTHING.to_owned(), Held::cells));
        }
        text.push('\n');
    }
    text
}
