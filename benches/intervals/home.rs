//! One home: every interval that its audit prints, held against what it truly does.

use evenrooms::clock::UtcTime;
use evenrooms::metrics::{Computed, Interval, IntervalKind};
use evenrooms::simulate::{SimulatedHome, Simulation, Trouble};
use evenrooms::site::Site;
use evenrooms::stats::mean;
use evenrooms::units::Celsius;

use super::cold;
use super::decide;
use super::drawn;
use super::held::{Claims, Scores};
use super::long_run::{LongRun, Morning, TrueDay};
use super::watch::{self, Rows};

/// Numbers of which low and high are bounds: of the same record, by the true air of the rooms.
const HOURS: [&str; 5] = [
    "hours_below_band",
    "hours_above_band",
    "degree_hours_below",
    "degree_hours_above",
    "hours_spread_over_limit",
];

/// Mornings from which a quantile of recovery times is scored.
const LEAST_MORNINGS: usize = 10;

/// A home as it was watched, and as it is in the long run.
pub(crate) struct Home {
    pub(crate) site: Site,
    /// What loggers stored, and the weather.
    pub(crate) stored: Vec<Rows>,
    pub(crate) weather: Rows,
    /// As the loggers saw it, and as loggers without error would have.
    seen: Computed,
    perfect: Computed,
    /// Mean outdoor temperature of the record, and of each of its days.
    outdoor: f64,
    outdoor_of_days: Vec<f64>,
    long_run: LongRun,
}

impl Home {
    /// A home of a building, and scores it; homes where heat failed at some time are like no other weeks, and tell of cooling only.
    pub(crate) fn score_of(
        simulation: &Simulation,
        others: &[Simulation],
        number: usize,
        scores: &mut Scores,
    ) {
        let made = simulation.home(number);
        match made.truth.event.as_ref() {
            Some(event) if event.kind == Trouble::HeatFailure => cold::score(simulation, &made, scores),
            Some(event) if event.from_utc != simulation.start().iso() => {}
            _ => {
                let home = Home::watch(simulation, &made, others, number);
                home.score(scores, number);
                decide::score(&home, number, scores);
                scores.homes += 1;
            }
        }
    }

    fn watch(simulation: &Simulation, made: &SimulatedHome, others: &[Simulation], number: usize) -> Home {
        let (site, weather) = (drawn::site(simulation, made), watch::weather(simulation));
        let stored = watch::stored_rows(made);
        let aligned = watch::aligned(&site, &stored, &weather);
        // Of the true air only what the loggers saw of it: hours hold no others.
        let mut truly = watch::true_rows(simulation, made);
        for (rows, room) in truly.iter_mut().zip(aligned.rooms()) {
            let at = |t: i64| usize::try_from((t - aligned.time(0).ms()) / watch::STEP_MS).ok();
            let is_seen = |t: i64| {
                let value = at(t).filter(|_| t >= aligned.time(0).ms()).and_then(|i| room.degc().get(i));
                value.is_some_and(|x| !x.is_nan())
            };
            rows.iter_mut().filter(|row| !is_seen(row.0)).for_each(|row| row.1 = None);
        }
        let perfect_site = watch::without_error(&site);
        let perfect = watch::compute(&perfect_site, &watch::aligned(&perfect_site, &truly, &weather));
        let hourly: Vec<f64> = weather.iter().filter_map(|(_, x)| *x).collect();
        let days = hourly.windows(25).step_by(24);
        Home {
            seen: watch::compute(&site, &aligned),
            perfect,
            outdoor: mean(&hourly).unwrap_or(f64::NAN),
            outdoor_of_days: days.filter_map(mean).collect(),
            long_run: LongRun::of(&site, others, number),
            site,
            stored,
            weather,
        }
    }

    /// As the loggers saw it, with another outdoor temperature to be ready for.
    fn to(&self, outdoor: f64) -> (Site, Computed) {
        let site = self.site.with(|facts| facts.design_outdoor = Some(Celsius::new(outdoor)));
        let computed = watch::compute(&site, &watch::aligned(&site, &self.stored, &self.weather));
        (site, computed)
    }

    /// As the loggers saw it up to some time.
    pub(crate) fn until(&self, site: &Site, end: UtcTime) -> Computed {
        let until = |rows: &Rows| rows.iter().copied().filter(|(t, _)| *t < end.ms()).collect::<Rows>();
        let stored: Vec<Rows> = self.stored.iter().map(until).collect();
        watch::compute(site, &watch::aligned(site, &stored, &until(&self.weather)))
    }

    fn score(&self, scores: &mut Scores, number: usize) {
        for (id, p) in [("spread_median", 0.5), ("spread_p95", 0.95)] {
            self.add(scores, Claims::Share(95), (id, None), self.long_run.spread_at(p, self.outdoor));
        }
        self.score_hours(scores, "hours_spread_over_limit", None);
        let rooms = self.site.homes[0].rooms.len();
        for room in 0..rooms {
            self.score_room(scores, room);
        }
        // The coldest day, and the coldest morning, of one of the other winters.
        let Some((day, morning)) = self.long_run.coldest.get(number % self.long_run.coldest.len().max(1))
        else {
            return;
        };
        let on_day = self.to(day.outdoor);
        (0..rooms).for_each(|room| score_day(scores, &on_day, room, day));
        if let Some(morning) = morning {
            let on_morning = self.to(morning.outdoor);
            (0..rooms).for_each(|room| score_morning(scores, &on_morning, room, morning));
        }
    }

    fn score_room(&self, scores: &mut Scores, room: usize) {
        let of_90 = Claims::Share(90);
        let long_run = &self.long_run;
        self.add(
            scores,
            of_90,
            ("offset_from_reference", Some(room)),
            long_run.offset_at(room, self.outdoor),
        );
        self.add(scores, of_90, ("temperature_factor", Some(room)), long_run.factor_at(room, self.outdoor));
        let slope = long_run.slope(room, &self.outdoor_of_days);
        self.add(scores, of_90, ("outdoor_slope", Some(room)), slope);
        self.add(scores, Claims::Share(95), ("cooling_time_constant", Some(room)), long_run.constant(room));
        HOURS.iter().for_each(|id| self.score_hours(scores, id, Some(room)));
        let events =
            watch::row(&self.seen, &self.site, "recovery_events", Some(room)).map_or(0.0, |r| r.value);
        if events >= LEAST_MORNINGS as f64 {
            for (id, p) in [("recovery_median", 0.5), ("recovery_p90", 0.9)] {
                let truth = long_run.recovery(room, p);
                self.add(scores, Claims::Share(95), (id, Some(room)), Some(truth));
                // One without an upper end holds any truth above it.
                let closed = watch::interval(&self.seen, &self.site, id, Some(room));
                if let Some(closed) = closed.filter(|i| i.high.is_finite()) {
                    scores.add(&format!("{id}, with an upper end"), Claims::Share(95), closed, truth);
                }
            }
        }
        self.score_even_down_to(scores, room);
    }

    /// Days of other weeks that are no colder than `even_down_to` lie inside the margin.
    fn score_even_down_to(&self, scores: &mut Scores, room: usize) {
        let Some(down_to) = watch::row(&self.seen, &self.site, "even_down_to", Some(room)) else { return };
        let margin = self.site.spread.margin.k();
        let inside = Interval { low: -margin, high: margin, kind: IntervalKind::Prediction };
        for day in self.long_run.days.iter().filter(|day| day.outdoor >= down_to.value) {
            if let Some(offset) = day.offsets[room] {
                scores.add("even_down_to: days at or above it", Claims::AtLeast(95), inside, offset);
            }
        }
    }

    /// Low and high against the number of the true air, where something could be wrong.
    fn score_hours(&self, scores: &mut Scores, id: &str, room: Option<usize>) {
        let interval = watch::interval(&self.seen, &self.site, id, room);
        let truth = watch::row(&self.perfect, &self.site, id, room).map(|row| row.value);
        if let Some((interval, truth)) = interval.zip(truth).filter(|(i, x)| i.high > 0.0 || *x > 0.0) {
            // A sum of thousands of values is no more exact than this.
            let noise = 1e-6;
            let interval = Interval { low: interval.low - noise, high: interval.high + noise, ..interval };
            scores.add(id, Claims::AtLeast(95), interval, truth);
        }
    }

    /// As it was seen, and as loggers without error would have.
    fn add(
        &self,
        scores: &mut Scores,
        claims: Claims,
        (id, room): (&str, Option<usize>),
        truth: Option<f64>,
    ) {
        for (words, computed) in [("", &self.seen), (", loggers without error", &self.perfect)] {
            let interval = watch::interval(computed, &self.site, id, room);
            if let Some((interval, truth)) = interval.zip(truth) {
                scores.add(&format!("{id}{words}"), claims, interval, truth);
            }
        }
    }
}

/// An interval of one day or morning, those beyond what was seen by themselves.
fn add_one(scores: &mut Scores, id: &str, (site, computed): &(Site, Computed), room: usize, truth: f64) {
    if let Some(interval) = watch::interval(computed, site, id, Some(room)) {
        let beyond = if interval.kind.words().ends_with("extrapolated") { ", extrapolated" } else { "" };
        scores.add(&format!("{id}{beyond}"), Claims::Share(95), interval, truth);
    }
}

fn score_day(scores: &mut Scores, on_day: &(Site, Computed), room: usize, day: &TrueDay) {
    for (id, truth) in [("mean_at_design", day.by_day[room]), ("offset_at_design", day.offsets[room])] {
        if let Some(truth) = truth {
            add_one(scores, id, on_day, room, truth);
        }
    }
}

fn score_morning(scores: &mut Scores, on_morning: &(Site, Computed), room: usize, morning: &Morning) {
    let interval = watch::interval(&on_morning.1, &on_morning.0, "recovery_at_design", Some(room));
    let Some((interval, (hours, reached))) = interval.zip(morning.hours[room]) else { return };
    // Of one that was cut off it is known that it takes longer: held where the interval reaches further.
    let truth = if reached || interval.high < hours { hours } else { hours.max(interval.low) };
    let truth = if !reached && interval.high < hours { f64::INFINITY } else { truth };
    add_one(scores, "recovery_at_design", on_morning, room, truth);
}
