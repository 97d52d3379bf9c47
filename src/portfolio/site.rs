//! One audit, as its rows tell it: homes with where they stand, answers to criteria, and one value per home and use.

use std::collections::BTreeMap;

use serde_json::Value;

use crate::cases::{Answer, CRITERIA, Course, Standing};
use crate::findings::Severity;
use crate::metrics::{self, EVENNESS_VERDICT, IN_REFERENCE, OfHome, POOLED};
use crate::site::Purpose;

/// Where a home stands.
#[derive(Clone, Debug, PartialEq)]
pub struct HomeStands {
    /// Its name.
    pub home: String,
    /// Where it stands.
    pub standing: Standing,
    /// The most pressing severity of its cases that are not over; `None`: it has none.
    pub worst: Pressing,
    /// Cases to act on that are not over.
    pub deciding: usize,
    /// What happened, in the words of the case that comes first; empty where there is none.
    pub sentence: String,
    /// Criteria that do not pass, each with its answer.
    pub not_passed: Vec<(&'static str, Answer)>,
}

impl HomeStands {
    /// Why it stands there, in a sentence: what happened, else the criteria that do not pass.
    pub fn why(&self) -> String {
        if !self.sentence.is_empty() {
            return self.sentence.clone();
        }
        let open: Vec<String> =
            self.not_passed.iter().map(|(id, answer)| format!("{id}: {}", answer.words())).collect();
        match (open.is_empty(), self.standing) {
            (false, _) => format!("{}.", open.join("; ")),
            (true, Standing::RecordAgain) => "Not everything could be judged.".to_owned(),
            (true, _) => "All criteria pass.".to_owned(),
        }
    }
}

/// How pressing the worst case is; no case comes last.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Pressing {
    /// As its severity says.
    Case(Severity),
    /// There is no case that is not over.
    Nothing,
}

/// Homes by where they stand.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counts([usize; Standing::ALL.len()]);

impl Counts {
    /// Homes with a standing.
    pub fn of(&self, standing: Standing) -> usize {
        Standing::ALL.iter().position(|s| *s == standing).map_or(0, |at| self.0[at])
    }

    /// All homes.
    pub fn homes(&self) -> usize {
        self.0.iter().sum()
    }

    /// Adds those of another site.
    pub fn add(&mut self, other: &Counts) {
        self.0.iter_mut().zip(other.0).for_each(|(own, more)| *own += more);
    }

    fn count(&mut self, standing: Standing) {
        if let Some(at) = Standing::ALL.iter().position(|s| *s == standing) {
            self.0[at] += 1;
        }
    }
}

/// A sum and of how many.
#[derive(Clone, Copy, Debug, Default)]
struct Mean {
    sum: f64,
    number: u32,
}

/// What a number is about: the place of its metric in the list of all, and the use of the rooms, `None` for homes as a whole.
pub(super) type About = (usize, Option<usize>);

/// A row of the metrics table.
#[derive(Clone, Copy, Debug)]
pub struct MetricIn<'a> {
    /// The home.
    pub home: &'a str,
    /// The room; `None` for the home as a whole.
    pub room: Option<&'a str>,
    /// Id of the metric.
    pub metric: &'a str,
    /// The value.
    pub value: f64,
    /// Ends and words of its interval, where both ends are bound.
    pub interval: Option<(f64, f64, &'a str)>,
    /// Hours behind it.
    pub hours: f64,
}

/// A site with what its audit came to.
#[derive(Debug)]
pub struct OneSite {
    /// Its name, as its audit tells it.
    pub name: String,
    /// Version of the program that audited it.
    pub version: String,
    /// Whether its homes go by pseudonyms.
    pub pseudonymised: bool,
    /// The settings of the audit.
    pub settings: Value,
    /// The period that decides.
    pub period: String,
    /// Use of each room, by home and name.
    rooms: BTreeMap<(String, String), usize>,
    /// Number of each home.
    numbers: BTreeMap<String, usize>,
    homes: Vec<HomeStands>,
    stood: Vec<bool>,
    values: BTreeMap<About, BTreeMap<usize, Mean>>,
    pooled: BTreeMap<About, BTreeMap<usize, OfHome>>,
    answers: BTreeMap<&'static str, BTreeMap<usize, Answer>>,
    metrics: BTreeMap<&'static str, usize>,
}

impl OneSite {
    /// From what its provenance tells; `None` where that names no site, version or period.
    pub fn begin(about: &Value) -> Option<Self> {
        let settings = about["settings"].clone();
        let text = |value: &Value| value.as_str().filter(|s| !s.is_empty()).map(str::to_owned);
        Some(Self {
            name: text(&settings["site"])?,
            version: text(&about["version"])?,
            pseudonymised: !about["pseudonyms"].is_null(),
            period: text(&settings["acceptance"]["period"])?,
            settings,
            rooms: BTreeMap::new(),
            numbers: BTreeMap::new(),
            homes: Vec::new(),
            stood: Vec::new(),
            values: BTreeMap::new(),
            pooled: BTreeMap::new(),
            answers: BTreeMap::new(),
            metrics: metrics::all().enumerate().map(|(at, metric)| (metric.id, at)).collect(),
        })
    }

    /// A row of the rooms table; these come first. `None` where its use is none of the roster's.
    pub fn add_room(&mut self, home: &str, room: &str, purpose: &str) -> Option<()> {
        let purpose = Purpose::ALL.iter().position(|(word, _)| *word == purpose)?;
        self.rooms.insert((home.to_owned(), room.to_owned()), purpose);
        if !self.numbers.contains_key(home) {
            self.numbers.insert(home.to_owned(), self.homes.len());
            self.stood.push(false);
            self.homes.push(HomeStands {
                home: home.to_owned(),
                standing: Standing::RecordAgain,
                worst: Pressing::Nothing,
                deciding: 0,
                sentence: String::new(),
                not_passed: Vec::new(),
            });
        }
        Some(())
    }

    /// A row of the acceptance table; `None` where it names what no version knows, or no home of the rooms table.
    pub fn add_criterion(
        &mut self,
        home: &str,
        standing: &str,
        (criterion, answer): (&str, &str),
    ) -> Option<()> {
        let number = *self.numbers.get(home)?;
        let criterion = CRITERIA.iter().find(|c| c.id == criterion)?.id;
        let answers = [Answer::Fail, Answer::NotEnough, Answer::Pass];
        let answer = answers.into_iter().find(|a| a.words() == answer)?;
        self.homes[number].standing = Standing::ALL.into_iter().find(|s| s.word() == standing)?;
        self.stood[number] = true;
        let of_home = self.answers.entry(criterion).or_default().entry(number).or_insert(Answer::Pass);
        *of_home = worse(*of_home, answer);
        let not_passed = &mut self.homes[number].not_passed;
        match not_passed.iter_mut().find(|(id, _)| *id == criterion) {
            Some((_, before)) => *before = worse(*before, answer),
            None if answer != Answer::Pass => not_passed.push((criterion, answer)),
            None => {}
        }
        Some(())
    }

    /// A row of the cases table, in its order.
    pub fn add_case(&mut self, home: &str, severity: &str, (course, sentence): (&str, &str)) -> Option<()> {
        let number = *self.numbers.get(home)?;
        let severity = Severity::ALL.into_iter().find(|s| s.word() == severity)?;
        if course == Course::Over.words() {
            return Some(());
        }
        let stands = &mut self.homes[number];
        let pressing = Pressing::Case(severity);
        stands.deciding += usize::from(severity <= Severity::Act);
        if pressing < stands.worst {
            (stands.worst, stands.sentence) = (pressing, sentence.to_owned());
        }
        Some(())
    }

    /// A row of the metrics table, of the period that decides and of all hours; `None` where its metric, home or room is unknown.
    /// Numbers of the building and of the weather, and those that stand for words, are passed over.
    pub fn add_metric(&mut self, row: &MetricIn<'_>) -> Option<()> {
        let metric = *self.metrics.get(row.metric)?;
        if row.home.is_empty() {
            return Some(());
        }
        let number = *self.numbers.get(row.home)?;
        let purpose = match row.room {
            None => None,
            Some(room) => Some(*self.rooms.get(&(row.home.to_owned(), room.to_owned()))?),
        };
        for (at, pooled) in POOLED.iter().enumerate() {
            let (own, asks) = (row.metric == pooled.metric.id, pooled.asks_for(row.metric, row.value));
            if own || asks {
                let of_home = self.pooled.entry((at, purpose)).or_default().entry(number).or_default();
                if asks {
                    of_home.ask();
                }
                if own {
                    of_home.add(pooled.estimate(row.value, row.interval), row.hours);
                }
            }
        }
        if row.metric != EVENNESS_VERDICT.id && row.metric != IN_REFERENCE.id {
            let mean = self.values.entry((metric, purpose)).or_default().entry(number).or_default();
            (mean.sum, mean.number) = (mean.sum + row.value, mean.number + 1);
        }
        Some(())
    }

    /// The homes, in the order of the roster.
    pub fn homes(&self) -> impl Iterator<Item = &HomeStands> {
        self.homes.iter()
    }

    /// A home of which nothing says where it stands.
    pub fn without_standing(&self) -> Option<&str> {
        let at = self.stood.iter().position(|stood| !stood)?;
        Some(&self.homes[at].home)
    }

    /// Homes by where they stand.
    pub fn counts(&self) -> Counts {
        let mut counts = Counts::default();
        self.homes.iter().for_each(|home| counts.count(home.standing));
        counts
    }

    /// What there are values of.
    pub(super) fn abouts(&self) -> impl Iterator<Item = About> {
        self.values.keys().copied()
    }

    /// One value per home; `pooled`: of a pooled metric its place there, so that a home of which a room did not come so far counts
    /// as longer than all others.
    pub(super) fn values(&self, about: About, pooled: Option<usize>) -> Vec<f64> {
        let homes = self.values.get(&about).into_iter().flatten();
        let mut values: BTreeMap<usize, f64> =
            homes.map(|(home, mean)| (*home, mean.sum / f64::from(mean.number))).collect();
        let known = pooled.and_then(|at| self.pooled.get(&(at, about.1))).into_iter().flatten();
        values.extend(known.filter(|(_, of_home)| of_home.is_open()).map(|(home, _)| (*home, f64::INFINITY)));
        values.into_values().collect()
    }

    /// What is known of each home of a pooled metric, by its place among these.
    pub(super) fn pooled(&self, about: About) -> impl Iterator<Item = &OfHome> {
        self.pooled.get(&about).into_iter().flat_map(BTreeMap::values)
    }

    /// What each home answers to a criterion.
    pub(super) fn answers(&self, criterion: &str) -> impl Iterator<Item = Answer> {
        self.answers.get(criterion).into_iter().flat_map(BTreeMap::values).copied()
    }
}

/// Of two answers of one home the one that holds for it: what fails in a room fails, and what is open in one is open.
fn worse(a: Answer, b: Answer) -> Answer {
    let order = [Answer::Fail, Answer::NotEnough];
    order.into_iter().find(|answer| [a, b].contains(answer)).unwrap_or(Answer::Pass)
}
