//! What a home does in other weeks of the same winter, by its true temperatures.

use std::ops::Range;

use evenrooms::metrics::{Computed, Event, EventKind};
use evenrooms::simulate::{SimulatedHome, Simulation};
use evenrooms::site::Site;
use evenrooms::stats::{KaplanMeier, Line, mean, quantile};

use super::watch::{self, PER_DAY};

/// A day by true temperatures.
#[derive(Clone, Debug)]
pub(crate) struct TrueDay {
    /// Its mean outdoor temperature.
    pub(crate) outdoor: f64,
    /// Of each room its offset from the reference, its mean from 6:00 to 22:00, and its temperature factor.
    pub(crate) offsets: Vec<Option<f64>>,
    pub(crate) by_day: Vec<Option<f64>>,
    factors: Vec<Option<f64>>,
    /// Spreads at its instants.
    spreads: Vec<f64>,
}

/// A morning after a setback.
#[derive(Clone, Debug)]
pub(crate) struct Morning {
    /// Mean outdoor temperature of the 6 h from its start.
    pub(crate) outdoor: f64,
    /// Of each room how long it took, and whether it got there; `None` where it had nothing to recover from.
    pub(crate) hours: Vec<Option<(f64, bool)>>,
}

/// What a home does in other weeks.
pub(crate) struct LongRun {
    heated: Vec<bool>,
    pub(crate) days: Vec<TrueDay>,
    pub(crate) mornings: Vec<Morning>,
    /// Of each of the other winters its coldest day and coldest morning.
    pub(crate) coldest: Vec<(TrueDay, Option<Morning>)>,
    recoveries: Vec<Vec<(f64, bool)>>,
    /// Of each room its time constant in each of the other winters.
    constants: Vec<Vec<f64>>,
}

impl LongRun {
    /// The same home under other weathers.
    pub(crate) fn of(site: &Site, others: &[Simulation], home: usize) -> Self {
        let heated: Vec<bool> = site.homes[0].rooms.iter().map(|r| r.heated.surely()).collect();
        let rooms = heated.len();
        let mut long_run = Self {
            heated,
            days: Vec::new(),
            mornings: Vec::new(),
            coldest: Vec::new(),
            recoveries: vec![Vec::new(); rooms],
            constants: vec![Vec::new(); rooms],
        };
        others.iter().for_each(|other| long_run.add(site, other, &other.home(home)));
        long_run
    }

    fn add(&mut self, site: &Site, simulation: &Simulation, made: &SimulatedHome) {
        let (rooms, weather) = (watch::grid(simulation, made), watch::weather(simulation));
        let outdoor = |hours: Range<usize>| {
            let hourly: Vec<f64> = weather[hours].iter().filter_map(|(_, x)| *x).collect();
            mean(&hourly).unwrap_or(f64::NAN)
        };
        let days: Vec<TrueDay> = (0..simulation.plan().days - 1)
            .map(|day| self.day(&rooms, day * PER_DAY, outdoor(day * 24..(day + 1) * 24 + 1)))
            .collect();
        let (rows, perfect) = (watch::true_rows(simulation, made), watch::without_error(site));
        let computed = watch::compute(&perfect, &watch::aligned(&perfect, &rows, &weather));
        let hour = |e: &Event| ((e.span.from.ms() - simulation.start().ms()) / 3_600_000) as usize;
        let last = weather.len();
        let mornings = self.mornings_of(site, &computed, |e| outdoor(hour(e)..(hour(e) + 7).min(last)));
        for room in 0..self.heated.len() {
            let times = mornings.iter().filter_map(|m| m.hours[room]);
            self.recoveries[room].extend(times);
            let constant = watch::row(&computed, site, "cooling_time_constant", Some(room));
            self.constants[room].extend(constant.map(|row| row.value));
        }
        let coldest_day = days.iter().min_by(|a, b| a.outdoor.total_cmp(&b.outdoor)).cloned();
        let coldest_morning = mornings.iter().min_by(|a, b| a.outdoor.total_cmp(&b.outdoor)).cloned();
        self.coldest.extend(coldest_day.map(|day| (day, coldest_morning)));
        self.days.extend(days);
        self.mornings.extend(mornings);
    }

    fn day(&self, rooms: &[Vec<f64>], from: usize, outdoor: f64) -> TrueDay {
        let span = from..from + PER_DAY;
        let offsets: Vec<Option<f64>> =
            (0..rooms.len()).map(|r| self.offset(rooms, r, span.clone())).collect();
        let by_day = span.start + PER_DAY / 4..span.end - PER_DAY / 12;
        // Between the room and its reference, as a share of what lies between that and outdoors.
        let factor = |r: usize| {
            let below = -offsets[r]?;
            Some(below / (mean(&rooms[r][span.clone()])? + below - outdoor))
        };
        let spread = |i: usize| {
            let of = |f: fn(f64, f64) -> f64| rooms.iter().map(|r| r[i]).reduce(f).unwrap_or(f64::NAN);
            of(f64::max) - of(f64::min)
        };
        TrueDay {
            outdoor,
            factors: (0..rooms.len()).map(factor).collect(),
            by_day: rooms.iter().map(|room| mean(&room[by_day.clone()])).collect(),
            spreads: span.clone().map(spread).collect(),
            offsets,
        }
    }

    fn offset(&self, rooms: &[Vec<f64>], room: usize, span: Range<usize>) -> Option<f64> {
        let others: Vec<usize> = (0..rooms.len()).filter(|r| self.heated[*r] && *r != room).collect();
        let reference = |i: usize| quantile(others.iter().map(|r| rooms[*r][i]).collect(), 0.5);
        let differences = span.map(|i| Some(rooms[room][i] - reference(i)?));
        mean(&differences.collect::<Option<Vec<f64>>>()?)
    }

    fn mornings_of(&self, site: &Site, computed: &Computed, outdoor: impl Fn(&Event) -> f64) -> Vec<Morning> {
        let names: Vec<&str> = site.homes[0].rooms.iter().map(|r| r.name.as_str()).collect();
        let mut mornings: Vec<(i64, Morning)> = Vec::new();
        let recoveries = computed.events.iter().filter(|e| e.kind == EventKind::Recovery);
        for event in recoveries {
            let start = event.span.from.ms();
            let Some(room) = names.iter().position(|name| event.room.as_deref() == Some(name)) else {
                continue;
            };
            let at = mornings.iter().position(|(t, _)| *t == start).unwrap_or_else(|| {
                let hours = vec![None; names.len()];
                mornings.push((start, Morning { outdoor: outdoor(event), hours }));
                mornings.len() - 1
            });
            mornings[at].1.hours[room] = Some((event.span.hours(), !event.censored));
        }
        mornings.sort_by_key(|m| m.0);
        mornings.into_iter().map(|m| m.1).collect()
    }

    /// The line of what a room has on each day on the outdoor temperature.
    fn line(&self, of: impl Fn(&TrueDay) -> Option<f64>) -> Option<Line> {
        Line::fit(&self.days.iter().filter_map(|day| Some((day.outdoor, of(day)?))).collect::<Vec<_>>())
    }

    /// Offset and temperature factor of a room at an outdoor temperature.
    pub(crate) fn offset_at(&self, room: usize, outdoor: f64) -> Option<f64> {
        Some(self.line(|day| day.offsets[room])?.at(outdoor))
    }

    pub(crate) fn factor_at(&self, room: usize, outdoor: f64) -> Option<f64> {
        Some(self.line(|day| day.factors[room])?.at(outdoor))
    }

    /// How much warmer the room is by day for each K outdoors, over days as cold as `outdoor_slope` counts: on days with the
    /// outdoor temperatures that were seen, for no line is quite straight and a record without frost tells nothing of frost.
    pub(crate) fn slope(&self, room: usize, seen: &[f64]) -> Option<f64> {
        let mut days: Vec<(f64, f64)> =
            self.days.iter().filter_map(|day| Some((day.outdoor, day.by_day[room]?))).collect();
        days.sort_by(|a, b| a.0.total_cmp(&b.0));
        let like = |outdoor: &f64| Some((*outdoor, Line::fit(nearest(&days, *outdoor))?.at(*outdoor)));
        let cold = seen.iter().filter(|outdoor| **outdoor < 10.0);
        Some(Line::fit(&cold.filter_map(like).collect::<Vec<_>>())?.slope)
    }

    /// A quantile of the spread of weeks with a mean outdoor temperature: each day moved there by the slope of that quantile of
    /// the days.
    pub(crate) fn spread_at(&self, p: f64, outdoor: f64) -> Option<f64> {
        let of_day = |day: &TrueDay| quantile(day.spreads.clone(), p);
        let slope = self.line(of_day)?.slope;
        let own = mean(&self.days.iter().map(|day| day.outdoor).collect::<Vec<_>>())?;
        quantile(self.days.iter().flat_map(|day| &day.spreads).copied().collect(), p)
            .map(|x| x + slope * (outdoor - own))
    }

    /// A quantile of a room's recovery times; infinite where it is not reached so often.
    pub(crate) fn recovery(&self, room: usize, p: f64) -> f64 {
        KaplanMeier::new(&self.recoveries[room]).quantile(p).unwrap_or(f64::INFINITY)
    }

    /// The time constant of a room: the middle of those of the other winters, where most of them have one.
    pub(crate) fn constant(&self, room: usize) -> Option<f64> {
        let of_most = 2 * self.constants[room].len() > self.coldest.len();
        quantile(self.constants[room].clone(), 0.5).filter(|_| of_most)
    }
}

/// Days that tell what a room does at an outdoor temperature.
const NEAR_DAYS: usize = 30;

/// Of days by rising outdoor temperature those nearest to one.
fn nearest(days: &[(f64, f64)], outdoor: f64) -> &[(f64, f64)] {
    let width = NEAR_DAYS.min(days.len());
    let colder = days.partition_point(|day| day.0 < outdoor);
    let from = colder.saturating_sub(width / 2).min(days.len() - width);
    &days[from..from + width]
}
