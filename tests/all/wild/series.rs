//! Invented rooms: the true readings that an export is written from.

use crate::wild::calendar::{DAY_MS, HOUR_MS, MIN_MS, Wall, days};
use crate::wild::dialects::Plan;
use crate::wild::rng::Rng;
use crate::wild::traits::{Clock, Events, Order, Shape};

/// One row of the record, before it is written.
#[derive(Clone, Debug)]
pub(crate) struct Row {
    pub(crate) at_ms: i64,
    pub(crate) logger: usize,
    /// Whole numbers of the last decimal, in the unit of the export; one per room of the row.
    pub(crate) values: Vec<Option<i64>>,
    /// What an event column says.
    pub(crate) event: &'static str,
}

/// No gap, duplicate, event or cut lies so near to the hour that comes twice: there only the order tells.
const CALM_MS: i64 = 3 * HOUR_MS;

impl Plan {
    /// Rooms of the export.
    pub(crate) fn rooms(&self) -> usize {
        match self.shape {
            Shape::One => 1,
            Shape::Long { loggers: n, .. } | Shape::Wide(n) => n,
        }
    }

    fn calm(&self, utc_ms: i64) -> bool {
        self.zone.fold_distance_ms(utc_ms) > CALM_MS
    }

    /// The record, in file order.
    pub(crate) fn record(&self) -> Vec<Row> {
        let rng = &mut Rng::new(self.seed, "record");
        let start = self.start(rng);
        let mut rows = match self.shape {
            Shape::Long { loggers, .. } => {
                let apart = if rng.percent(50) { self.precision_ms() } else { 0 };
                (0..loggers).flat_map(|l| self.of_logger(rng, start + l as i64 * apart, l, 1)).collect()
            }
            _ => self.of_logger(rng, start, 0, self.rooms()),
        };
        match self.shape {
            Shape::Long { in_turn: false, .. } => rows.sort_by_key(|r| (r.logger, r.at_ms)),
            _ => rows.sort_by_key(|r| (r.at_ms, r.logger)),
        }
        match self.order {
            Order::OldestFirst => {}
            Order::NewestFirst => rows.reverse(),
            Order::TwoBlocks => self.swap(rng, &mut rows),
        }
        if self.duplicates {
            let spread = 5 + rng.below(40);
            let mut again = |row: &Row| if self.calm(row.at_ms) && rng.below(spread) == 0 { 2 } else { 1 };
            rows = rows
                .into_iter()
                .flat_map(|r| {
                    let n = again(&r);
                    std::iter::repeat_n(r, n)
                })
                .collect();
        }
        rows
    }

    /// The first instant; such that clocks change inside the record where that is wanted.
    fn start(&self, rng: &mut Rng) -> i64 {
        let year = rng.within(2012, 2025);
        let length = self.rows as i64 * self.step_min * MIN_MS;
        let any = days(year, 1, 1) * DAY_MS + rng.within(0, 360 * 24 * 60) * MIN_MS;
        let start = match self.zone.changes(year).filter(|_| self.over_a_change) {
            Some((forward, back)) => rng.pick(&[forward, back, back]) - (rng.share() * length as f64) as i64,
            None => any,
        };
        let whole = if rng.percent(60) { self.precision_ms().max(MIN_MS) } else { self.precision_ms() };
        start.div_euclid(whole) * whole
    }

    fn of_logger(&self, rng: &mut Rng, start: i64, logger: usize, rooms: usize) -> Vec<Row> {
        let rows =
            if matches!(self.shape, Shape::Long { .. }) { self.rows / self.rooms() + 5 } else { self.rows };
        let curves: Vec<Curve> = (0..rooms).map(|_| Curve::new(self, rng)).collect();
        let step = self.step_min * MIN_MS;
        let mut gap = 0;
        let mut made = Vec::new();
        for i in 0..rows as i64 {
            let at_ms = start + i * step;
            if rng.below(150) == 0 {
                gap = rng.below(12);
            }
            let calm = self.calm(at_ms);
            if gap > 0 && calm {
                gap -= 1;
                continue;
            }
            let value = |c: &Curve, rng: &mut Rng| {
                let value = c.at(at_ms, rng);
                (rng.below(30) != 0).then_some(value)
            };
            let values = curves.iter().map(|c| value(c, rng)).collect();
            let mark = self.events == Events::Marks && rng.below(25) == 0;
            made.push(Row { at_ms, logger, values, event: if mark { "x" } else { "" } });
            if self.events == Events::Rows && rng.below(40) == 0 && calm {
                let at_ms = (at_ms + step / 2).div_euclid(self.precision_ms()) * self.precision_ms();
                made.push(Row {
                    at_ms,
                    logger,
                    values: vec![None; rooms],
                    event: rng.pick(&["button", "stopped"]),
                });
            }
        }
        made
    }

    /// A record in two blocks, the later one first.
    fn swap(&self, rng: &mut Rng, rows: &mut [Row]) {
        if let Shape::Long { in_turn: false, .. } = self.shape {
            return;
        }
        let at = 1 + rng.below(rows.len() - 1);
        if self.calm(rows[at].at_ms) && rows[at - 1].at_ms < rows[at].at_ms {
            rows.rotate_left(at);
        }
    }

    /// Whether all local times of some readings came twice, and the readings run through them once: nobody can tell
    /// in which pass.
    pub(crate) fn lost_in_the_fold(&self, instants: impl Iterator<Item = i64>) -> bool {
        let instants: Vec<i64> = instants.collect();
        let (first, last) = (instants.iter().min(), instants.iter().max());
        self.clock == Clock::Civil
            && instants.iter().all(|t| self.zone.twice(*t))
            && first.zip(last).is_some_and(|(a, b)| self.zone.offset_ms(*a) == self.zone.offset_ms(*b))
    }

    /// Whether all rows show one date on the logger's clock; the date.
    pub(crate) fn one_day(&self, rows: &[Row]) -> Option<Wall> {
        let first = self.local(rows[0].at_ms);
        let same = |r: &Row| {
            let wall = self.local(r.at_ms);
            (wall.year, wall.month, wall.day) == (first.year, first.month, first.day)
        };
        rows.iter().all(same).then_some(first)
    }
}

/// A room's temperature over time.
struct Curve {
    scale: f64,
    fahrenheit: bool,
    mean: f64,
    swing: f64,
    peak_hour: f64,
}

impl Curve {
    fn new(plan: &Plan, rng: &mut Rng) -> Self {
        let mean = if plan.median_40 { 4.8 + rng.share() } else { 16.0 + rng.share() * 9.0 };
        let swing = if plan.median_40 { 0.4 } else { 0.3 + rng.share() * 2.0 };
        let scale = 10_f64.powi(plan.decimals as i32);
        Self { scale, fahrenheit: plan.fahrenheit, mean, swing, peak_hour: rng.share() * 24.0 }
    }

    fn at(&self, utc_ms: i64, rng: &mut Rng) -> i64 {
        let day = utc_ms as f64 / DAY_MS as f64;
        let wave = (std::f64::consts::TAU * (day - self.peak_hour / 24.0)).cos();
        let degc = self.mean + self.swing * wave + 0.2 * (rng.share() - 0.5);
        let shown = if self.fahrenheit { degc * 1.8 + 32.0 } else { degc };
        (shown * self.scale).round() as i64
    }
}
