//! How far apart the rooms of each home are, against the limit and what sensors alone would show.

use maud::{Markup, html};

use super::chart::{Anchor, Chart, Mark, Panel, Rank, Scale, Tick, beside_the_axis, looks, number};
use super::listing;
use super::shown::Shown;
use crate::metrics::{self, Metric, MetricRow};
use crate::site::Site;
use crate::units::KelvinDiff;

/// Pixels of all rows together, and of one at most.
const ROWS: (f64, f64) = (300.0, 16.0);

/// A home with its median spread, its 95th percentile, and what its sensors alone would show.
type Row<'s, 'a> = (&'s Shown<'a>, [Option<MetricRow>; 3]);

/// How far apart the rooms of each home are.
pub(super) fn spreads(site: &Site, homes: &[Shown<'_>]) -> Markup {
    let (units, period) = (site.units, site.judged_period());
    let number_of = |k: f64| units.difference_number(KelvinDiff::new(k));
    let of = |h: &Shown<'_>, metric: &Metric| h.numbers.value(period, None, metric).cloned();
    let asked = [&metrics::SPREAD_MEDIAN, &metrics::SPREAD_P95, &metrics::SPREAD_NOISE_FLOOR];
    let all = homes.iter().map(|h| (h, asked.map(|m| of(h, m))));
    let rows: Vec<Row<'_, '_>> = all.filter(|(_, rows)| rows[0].is_some()).collect();
    let all = rows.iter().flat_map(|(_, rows)| rows[..2].iter().flatten()).flat_map(|row| {
        let [low, high] = ends(row);
        [low, row.value, high]
    });
    let limit = site.spread.limit.k();
    let Some(scale) = Scale::round(all.chain([0.0, limit]).map(number_of)).filter(|_| !rows.is_empty())
    else {
        return html! {};
    };
    let pitch = (ROWS.0 / rows.len() as f64).min(ROWS.1);
    let mut marks = vec![Mark::Upright { class: "limit", x: scale.share(number_of(limit)) }];
    for (i, (_, values)) in rows.iter().enumerate() {
        marks.extend(row(site, scale, values, (i as f64 + 0.5) * pitch, pitch < ROWS.1));
    }
    let name = |(i, (home, _)): (usize, &Row<'_, '_>)| Tick {
        at: (i as f64 + 0.5) * pitch,
        words: beside_the_axis(&home.audit.name),
        rank: Rank::First,
    };
    let up = rows.iter().enumerate().map(name).collect();
    let height = rows.len() as f64 * pitch;
    let sign = units.difference_sign();
    Chart {
        id: "spreads".to_owned(),
        title: "How far apart the rooms of each home are".to_owned(),
        description: format!("Spread, the warmest minus the coldest room at the same moment, in {sign}: median and 95th percentile with their intervals, against the limit."),
        note: html! { "Spread: the warmest minus the coldest room at the same moment. Filled dot: at most so much for half of the time; hollow dot: for 95 % of the time; lines: surely within. Dashed: the limit, " (units.show_difference(site.spread.limit)) ". |: what sensors like these show in rooms that are equally warm." },
        class: "rooms",
        height: height + 26.0,
        panels: vec![Panel { top: 0.0, height, up, marks, ends: Vec::new(), values: None }],
        across: scale.across(sign),
        read: None,
        table: table(site, &rows),
    }
    .draw()
}

/// Median and 95th percentile of a home with their intervals, and what its sensors alone would show.
fn row(site: &Site, scale: Scale, values: &[Option<MetricRow>; 3], y: f64, small: bool) -> Vec<Mark> {
    let share = |k: f64| scale.share(site.units.difference_number(KelvinDiff::new(k)));
    let mut marks = Vec::new();
    for (row, look) in values[..2].iter().zip(looks(&[true, false])) {
        let Some(row) = row else { continue };
        let ([from, to], x) = (ends(row).map(share), share(row.value));
        marks.push(Mark::Range { look, from, to, y });
        marks.push(if small { Mark::Speck { look, x, y } } else { Mark::Dot { look, x, y } });
    }
    marks.extend(values[2].as_ref().map(|floor| Mark::Words {
        class: "tick",
        x: share(floor.value),
        y: y + 4.0,
        anchor: Anchor::Middle,
        text: "|".to_owned(),
    }));
    marks
}

fn ends(row: &MetricRow) -> [f64; 2] {
    row.interval.map_or([row.value; 2], |i| [i.low, i.high])
}

fn table(site: &Site, rows: &[Row<'_, '_>]) -> Markup {
    let show = |k: f64| number(site.units.difference_number(KelvinDiff::new(k)), 1);
    let range = |row: &Option<MetricRow>| {
        row.as_ref()
            .and_then(|r| r.interval)
            .map_or("–".to_owned(), |i| format!("{} … {}", show(i.low), show(i.high)))
    };
    let value = |row: &Option<MetricRow>| row.as_ref().map_or("–".to_owned(), |r| show(r.value));
    let heads = [
        listing::text("Home"),
        listing::figure("Median"),
        listing::figure("95 % sure"),
        listing::figure("95th percentile"),
        listing::figure("95 % sure"),
        listing::figure("Sensors alone"),
    ];
    let body = html! {
        @for (home, [median, p95, floor]) in rows { tr {
            th.text scope="row" { (home.audit.name) }
            td { (value(median)) } td.possible { (range(median)) } td { (value(p95)) } td.possible { (range(p95)) } td { (value(floor)) }
        } }
    };
    let caption = format!("Spread in {}, {}", site.units.difference_sign(), site.judged_period());
    listing::table(&caption, &heads, &body)
}
