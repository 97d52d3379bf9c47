//! A simulated home as it was watched, and as it truly is in the long run.

use std::collections::BTreeMap;

use evenrooms::clock::{Span, UtcTime};
use evenrooms::exports::Readings;
use evenrooms::grid::{AlignedHome, RoomSeries};
use evenrooms::metrics::{self, Computed, EventKind, Interval, MetricRow, Slice};
use evenrooms::quality::{Corrected, Flagged};
use evenrooms::simulate::{SimulatedHome, Simulation, Trouble};
use evenrooms::site::Site;
use evenrooms::stats::{KaplanMeier, Line, mean, quantile};
use evenrooms::units::{Celsius, KelvinDiff};

use super::Of;
use super::drawn::{self, DAYS};

pub(crate) const STEP_MS: i64 = 300_000;
const PER_DAY: usize = 288;

const RECOVERIES: [([&str; 2], &str, f64); 2] = [
    (["recovery_median", "recovery_median, loggers without error"], "recovery_median", 0.5),
    (["recovery_p90", "recovery_p90, loggers without error"], "recovery_p90", 0.9),
];
const CLOSED: [&str; 2] = ["recovery_median, with an upper end", "recovery_p90, with an upper end"];

/// How often an interval held the truth.
#[derive(Debug, Default)]
pub(crate) struct Held {
    pub(crate) claims: u32,
    pub(crate) cases: u32,
    pub(crate) below: u32,
    pub(crate) above: u32,
    /// Intervals without an upper end.
    pub(crate) open: u32,
    widths: Vec<f64>,
}

impl Held {
    pub(crate) fn add(&mut self, claims: u32, interval: Interval, truth: f64) {
        self.claims = claims;
        self.cases += 1;
        self.below += u32::from(truth < interval.low);
        self.above += u32::from(truth > interval.high);
        self.open += u32::from(interval.high.is_infinite());
        self.widths.push(interval.high - interval.low);
    }

    /// The median width, or that half of them are open.
    pub(crate) fn width_words(&self) -> String {
        let median = quantile(self.widths.clone(), 0.5).filter(|w| w.is_finite());
        median.map_or("open".to_owned(), |w| format!("{w:.2}"))
    }
}

/// A home: with loggers that err, with perfect ones, and in other weeks.
pub(crate) struct Home {
    site: Site,
    /// As the loggers saw it.
    seen: Computed,
    /// As loggers without error would have seen it.
    perfect: Computed,
    /// As above, with the design temperature set to that of a day in other weeks.
    to_a_day: Computed,
    /// A day of other weeks below 10 °C.
    a_day: TrueDay,
    /// As above, on a morning of other weeks: its outdoor temperature, and how long each room took, where it got there.
    to_a_morning: Computed,
    a_morning: Vec<Option<f64>>,
    /// The mean outdoor temperature of the record.
    outdoor: f64,
    /// The long run.
    spreads: Vec<f64>,
    days: Vec<TrueDay>,
    recoveries: Vec<Vec<(f64, bool)>>,
}

/// A day by true temperatures.
#[derive(Clone, Debug)]
struct TrueDay {
    outdoor: f64,
    /// Of each room its offset from the reference, its mean from 6:00 to 22:00, and its temperature factor.
    offsets: Vec<Option<f64>>,
    by_day: Vec<Option<f64>>,
    factors: Vec<Option<f64>>,
}

/// The line of what a room has on each day on the outdoor temperature.
fn line(days: &[TrueDay], of: impl Fn(&TrueDay) -> Option<f64>) -> Option<Line> {
    Line::fit(&days.iter().filter_map(|day| Some((day.outdoor, of(day)?))).collect::<Vec<_>>())
}

impl Home {
    /// The homes of a seed, but not those where heat failed at some time: their four weeks are like no others.
    pub(crate) fn all_of(of: Of, seed: u64, homes: usize, weathers: u64) -> Vec<Home> {
        let simulation = of.building(seed, homes);
        let others: Vec<Simulation> =
            (1..=weathers).map(|w| simulation.under_weather_of(seed * 1000 + w)).collect();
        (0..homes).filter_map(|home| Home::watch(&simulation, &others, home)).collect()
    }

    fn watch(simulation: &Simulation, others: &[Simulation], number: usize) -> Option<Home> {
        let made = simulation.home(number);
        let (start, event) = (simulation.start().iso(), made.truth.event.as_ref());
        if event.is_some_and(|e| e.kind == Trouble::HeatFailure || e.from_utc != start) {
            return None;
        }
        let site = drawn::site(simulation, &made);
        let errors: Vec<f64> = made.truth.loggers.iter().map(|l| l.offset_k).collect();
        let seen = compute(&site, simulation, &made, &errors);
        let perfect = compute(&without_error(&site), simulation, &made, &vec![0.0; errors.len()]);
        let mut long_run = LongRun::new(&site);
        others.iter().for_each(|other| long_run.add(&site, other, &other.home(number)));
        let to = |outdoor: f64| {
            let at = site.with(|facts| facts.design_outdoor = Some(Celsius::new(outdoor)));
            compute(&at, simulation, &made, &errors)
        };
        let cold: Vec<&TrueDay> = long_run.days.iter().filter(|day| day.outdoor < 10.0).collect();
        let a_day = (*cold.get(number * 7 % cold.len().max(1))?).clone();
        let mornings = &long_run.mornings;
        let (on_morning, a_morning) = mornings.get(number * 7 % mornings.len().max(1))?.clone();
        let (to_a_day, to_a_morning) = (to(a_day.outdoor), to(on_morning));
        let hourly: Vec<f64> = weather(simulation).into_iter().filter_map(|(_, x)| x).collect();
        let outdoor = mean(&hourly)?;
        let LongRun { spreads, days, recoveries, .. } = long_run;
        Some(Home {
            site,
            seen,
            perfect,
            to_a_day,
            a_day,
            to_a_morning,
            a_morning,
            outdoor,
            spreads,
            days,
            recoveries,
        })
    }

    pub(crate) fn score(&self, held: &mut BTreeMap<String, Held>) {
        let truth = |p| quantile(self.spreads.clone(), p);
        for (names, id, p) in [
            (["spread_median", "spread_median, loggers without error"], "spread_median", 0.5),
            (["spread_p95", "spread_p95, loggers without error"], "spread_p95", 0.95),
        ] {
            self.add(held, names, 95, (id, None), truth(p));
        }
        for room in 0..self.recoveries.len() {
            let names = ["offset_from_reference", "offset_from_reference, loggers without error"];
            // What a room does at the record's mean outdoor temperature.
            let at_mean = line(&self.days, |day| day.offsets[room]).map(|line| line.at(self.outdoor));
            self.add(held, names, 90, ("offset_from_reference", Some(room)), at_mean);
            let names = ["temperature_factor", "temperature_factor, loggers without error"];
            let at_mean = line(&self.days, |day| day.factors[room]).map(|line| line.at(self.outdoor));
            self.add(held, names, 90, ("temperature_factor", Some(room)), at_mean);
            let names = ["outdoor_slope", "outdoor_slope, loggers without error"];
            let cold = |day: &TrueDay| day.by_day[room].filter(|_| day.outdoor < 10.0);
            let slope = line(&self.days, cold).map(|line| line.slope);
            self.add(held, names, 90, ("outdoor_slope", Some(room)), slope);
            self.add_one(held, "offset_at_design", (&self.to_a_day, room), self.a_day.offsets[room]);
            self.add_one(held, "mean_at_design", (&self.to_a_day, room), self.a_day.by_day[room]);
            self.add_one(held, "recovery_at_design", (&self.to_a_morning, room), self.a_morning[room]);
            let curve = KaplanMeier::new(&self.recoveries[room]);
            let events = row(&self.seen, &self.site, "recovery_events", Some(room)).map_or(0.0, |r| r.value);
            for (names, id, p) in RECOVERIES.into_iter().filter(|_| events >= 10.0) {
                let truth = curve.quantile(p).unwrap_or(f64::INFINITY);
                self.add(held, names, 95, (id, Some(room)), Some(truth));
                self.add_closed(held, (id, room), truth);
            }
        }
    }

    /// An interval of one day or morning, those beyond what was seen by themselves.
    fn add_one(
        &self,
        held: &mut BTreeMap<String, Held>,
        id: &str,
        (computed, room): (&Computed, usize),
        truth: Option<f64>,
    ) {
        let interval = row(computed, &self.site, id, Some(room)).and_then(|r| r.interval);
        if let (Some(interval), Some(truth)) = (interval, truth) {
            let beyond = interval.kind.words().ends_with("extrapolated");
            let name = if beyond { format!("{id}, extrapolated") } else { id.to_owned() };
            held.entry(name).or_default().add(95, interval, truth);
        }
    }

    /// Recoveries whose interval has an upper end once more, by themselves: one without holds any truth above it.
    fn add_closed(&self, held: &mut BTreeMap<String, Held>, (id, room): (&str, usize), truth: f64) {
        let name = if id == "recovery_p90" { CLOSED[1] } else { CLOSED[0] };
        let interval = row(&self.seen, &self.site, id, Some(room)).and_then(|r| r.interval);
        if let Some(interval) = interval.filter(|i| i.high.is_finite()) {
            held.entry(name.to_owned()).or_default().add(95, interval, truth);
        }
    }

    fn add(
        &self,
        held: &mut BTreeMap<String, Held>,
        names: [&'static str; 2],
        claims: u32,
        (id, room): (&str, Option<usize>),
        truth: Option<f64>,
    ) {
        for (name, computed) in names.into_iter().zip([&self.seen, &self.perfect]) {
            let interval = row(computed, &self.site, id, room).and_then(|r| r.interval);
            if let (Some(interval), Some(truth)) = (interval, truth) {
                held.entry(name.to_owned()).or_default().add(claims, interval, truth);
            }
        }
    }
}

fn row<'a>(computed: &'a Computed, site: &Site, id: &str, room: Option<usize>) -> Option<&'a MetricRow> {
    let name = room.map(|r| site.homes[0].rooms[r].name.as_str());
    computed.rows.iter().find(|r| r.slice == Slice::All && r.metric.id == id && r.room.as_deref() == name)
}

/// What a home does in other weeks, by its true temperatures.
struct LongRun {
    heated: Vec<bool>,
    spreads: Vec<f64>,
    recoveries: Vec<Vec<(f64, bool)>>,
    days: Vec<TrueDay>,
    /// Mean outdoor temperature of the 6 h after each setback, and how long each room took, where it had to and got there.
    mornings: Vec<(f64, Vec<Option<f64>>)>,
}

impl LongRun {
    fn new(site: &Site) -> Self {
        let heated: Vec<bool> = site.homes[0].rooms.iter().map(|r| r.heated.surely()).collect();
        let rooms = heated.len();
        Self {
            heated,
            spreads: Vec::new(),
            recoveries: vec![Vec::new(); rooms],
            days: Vec::new(),
            mornings: Vec::new(),
        }
    }

    fn add(&mut self, site: &Site, simulation: &Simulation, made: &SimulatedHome) {
        let rooms = grid(simulation, made);
        for i in 0..rooms[0].len() {
            let of = |f: fn(f64, f64) -> f64| rooms.iter().map(|r| r[i]).reduce(f).unwrap_or(f64::NAN);
            self.spreads.push(of(f64::max) - of(f64::min));
        }
        let weather = weather(simulation);
        for day in 0..DAYS - 1 {
            let span = day * PER_DAY..(day + 1) * PER_DAY;
            let hourly: Vec<f64> =
                weather[day * 24..=(day + 1) * 24].iter().map(|(_, x)| x.unwrap_or(f64::NAN)).collect();
            let outdoor = mean(&hourly).unwrap_or(f64::NAN);
            let offsets: Vec<Option<f64>> =
                (0..rooms.len()).map(|r| self.offset(&rooms, r, span.clone())).collect();
            let by_day = span.start + PER_DAY / 4..span.end - PER_DAY / 12;
            let own = |r: usize| mean(&rooms[r][span.clone()]);
            // Between the room and its reference, as a share of what lies between that and outdoors.
            let factor = |r: usize| {
                let below = -offsets[r]?;
                Some(below / (own(r)? + below - outdoor))
            };
            self.days.push(TrueDay {
                outdoor,
                factors: (0..rooms.len()).map(factor).collect(),
                by_day: rooms.iter().map(|room| mean(&room[by_day.clone()])).collect(),
                offsets,
            });
        }
        let computed = compute(site, simulation, made, &vec![0.0; rooms.len()]);
        for (room, times) in site.homes[0].rooms.iter().zip(&mut self.recoveries) {
            let events = computed.events.iter().filter(|e| e.kind == EventKind::Recovery);
            let of_room = events.filter(|e| e.room.as_deref() == Some(&room.name));
            times.extend(of_room.map(|e| (e.span.hours(), !e.censored)));
        }
        let mut starts: Vec<UtcTime> =
            computed.events.iter().filter(|e| e.kind == EventKind::Recovery).map(|e| e.span.from).collect();
        starts.sort();
        starts.dedup();
        for start in starts {
            let hour = (start.ms() - simulation.start().ms()) / 3_600_000;
            let hours = weather.iter().skip(hour as usize).take(7).filter_map(|(_, x)| *x);
            let time = |room: &evenrooms::site::Room| {
                let is = |e: &&metrics::Event| {
                    e.kind == EventKind::Recovery
                        && e.room.as_ref() == Some(&room.name)
                        && e.span.from == start
                };
                computed.events.iter().find(is).filter(|e| !e.censored).map(|e| e.span.hours())
            };
            let outdoor = mean(&hours.collect::<Vec<_>>()).unwrap_or(f64::NAN);
            self.mornings.push((outdoor, site.homes[0].rooms.iter().map(time).collect()));
        }
    }

    fn offset(&self, rooms: &[Vec<f64>], room: usize, span: std::ops::Range<usize>) -> Option<f64> {
        let others: Vec<usize> = (0..rooms.len()).filter(|r| self.heated[*r] && *r != room).collect();
        let reference = |i: usize| quantile(others.iter().map(|r| rooms[*r][i]).collect(), 0.5);
        let differences = span.map(|i| Some(rooms[room][i] - reference(i)?));
        mean(&differences.collect::<Option<Vec<f64>>>()?)
    }
}

/// The site with loggers that are said to have next to no error.
pub(crate) fn without_error(site: &Site) -> Site {
    site.with(|facts| {
        let placements = facts.homes.iter_mut().flat_map(|h| &mut h.rooms).flat_map(|r| &mut r.placements);
        placements.for_each(|p| p.accuracy = Some(KelvinDiff::new(1e-3)));
    })
}

/// True temperatures of each room every five minutes.
pub(crate) fn grid(simulation: &Simulation, made: &SimulatedHome) -> Vec<Vec<f64>> {
    let instants = (0..(DAYS * PER_DAY) as i64).map(|i| simulation.start().plus_ms(i * STEP_MS));
    let instants: Vec<UtcTime> = instants.collect();
    let room = |r| instants.iter().filter_map(|t| made.true_degc(simulation, r, *t)).collect();
    (0..made.temperatures.rooms.len()).map(room).collect()
}

pub(crate) fn series(site: &Site, room: usize, rows: &[(i64, Option<f64>)]) -> RoomSeries {
    let mut limits = site.quality.clone();
    limits.tests.clear();
    let flagged = Flagged::new(Readings::from_series(rows), &limits);
    let accuracy = site.homes[0].rooms[room].accuracies();
    RoomSeries { placements: vec![(Corrected::new(&flagged, None, false), Span::ALWAYS)], accuracy }
}

/// The metrics of a home whose loggers err by so much and else are perfect.
fn compute(site: &Site, simulation: &Simulation, made: &SimulatedHome, errors_k: &[f64]) -> Computed {
    let start = simulation.start().ms();
    let rooms: Vec<RoomSeries> = grid(simulation, made)
        .iter()
        .zip(errors_k)
        .enumerate()
        .map(|(room, (degc, error))| {
            let rows: Vec<(i64, Option<f64>)> =
                (0..).zip(degc).map(|(i, x)| (start + i * STEP_MS, Some(x + error))).collect();
            series(site, room, &rows)
        })
        .collect();
    let weather = AlignedHome::align(site, &[series(site, 0, &weather(simulation))]);
    metrics::compute(site, &site.homes[0], &AlignedHome::align(site, &rooms).with_outdoor(&weather))
}

/// Hourly outdoor temperatures.
pub(crate) fn weather(simulation: &Simulation) -> Vec<(i64, Option<f64>)> {
    let text = String::from_utf8(simulation.weather_file()).expect("the weather file is text");
    let degc = text.lines().skip(1).map(|line| line.split(',').next_back().and_then(|x| x.parse().ok()));
    (0..).zip(degc).map(|(hour, x)| (simulation.start().ms() + hour * 3_600_000, x)).collect()
}
