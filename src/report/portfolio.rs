//! The page of several sites: where their homes stand, which to visit first, and what homes have in common.

use maud::{Markup, html};

use super::chart::number;
use super::shape::shape;
use super::van::{count, with_names};
use super::{listing, whole_page};
use crate::cases::{CRITERIA, Standing};
use crate::metrics::{
    COVERAGE, HOURS_ABOVE_BAND, HOURS_BELOW_BAND, Metric, OFFSET_FROM_REFERENCE, OUTDOOR_SLOPE,
    RECOVERY_MEDIAN, SPREAD_MEDIAN, SPREAD_P95,
};
use crate::portfolio::{Counts, HomeStands, Kind, OneSite, Passes, Portfolio, SummaryRow};
use crate::site::audience_of;
use crate::units::{KelvinDiff, TemperatureUnit};

/// Numbers of one kind stand together.
const STYLE: &str = ".portfolio th.of-group { max-width: none; padding-top: .9rem; font-weight: 700; } .portfolio .of-group ~ tr th[scope=row] { font-weight: 400; }";
/// Homes told, the worst first; all of them stand in the cases of their sites.
const MOST_HOMES: usize = 100;

/// Metrics on the page, with the words for them; all stand in the table.
static SHOWN: [(&Metric, &str); 8] = [
    (&OFFSET_FROM_REFERENCE, "warmer (+) or colder (−) than the heated rooms"),
    (&SPREAD_MEDIAN, "warmest less coldest room, half of the time"),
    (&SPREAD_P95, "warmest less coldest room, 5 % of the time more"),
    (&OUTDOOR_SLOPE, "K warmer per K warmer outdoors"),
    (&RECOVERY_MEDIAN, "recovery after setback, half of the mornings"),
    (&HOURS_BELOW_BAND, "hours below the band"),
    (&HOURS_ABOVE_BAND, "hours above the band"),
    (&COVERAGE, "coverage of the record"),
];

/// The page.
pub fn portfolio(portfolio: &Portfolio) -> String {
    let counts = portfolio.counts();
    let (sites, homes) = (count(portfolio.sites.len(), "site"), count(counts.homes(), "home"));
    let units = units(portfolio);
    let main = html! {
        main.portfolio {
            h1 { (sites) ", " (homes) }
            p.counts { (standings(&counts)) }
            div.caution {
                p { "These are measurements, no legal finding: local code and licensed practice decide. A home that was not judged is in no share, and never counts as passing." }
                p.soft { (audience_of(portfolio.pseudonymised())) }
            }
            @for note in &portfolio.notes { p.aside { b { (note.place) } ": " (with_names(&note.what.without_cells())) ". " span.soft { (with_names(&note.hint)) "." } } }
            h2 { "Site by site" }
            (sites_table(portfolio, &counts))
            h2 { "The worst homes first" }
            (worst(portfolio))
            h2 { "How many pass" }
            (criteria(portfolio))
            h2 { "What homes have in common" }
            p { "One value per home and use of rooms, in the period that decides at each site. The mean over homes weighs each home by how sure its own number is and by how much homes differ; it is given for what has an interval of its own, from 5 homes on. \"One more home\" is where another home of the same kind would lie, 19 times of 20. Homes of all sites are taken as of one kind: where sites differ, each site's own numbers say so." }
            (numbers(&portfolio.summary, None, units))
            @if portfolio.sites.len() > 1 { @for site in &portfolio.sites {
                details { summary { (site.name) } (numbers(&portfolio.summary, Some(&site.name), units)) }
            } }
            p.soft { "Every metric and use of rooms: summary.csv; the tables of each site: folders site=…; sites, files with their SHA-256: provenance.json. Made by evenrooms " (env!("CARGO_PKG_VERSION")) "." }
        }
    };
    whole_page("Several sites: where do their homes stand?", STYLE, &main)
}

/// °F where every site is read in it.
fn units(portfolio: &Portfolio) -> TemperatureUnit {
    let fahrenheit = TemperatureUnit::Fahrenheit.to_string();
    match portfolio.sites.iter().all(|site| site.settings["units"] == fahrenheit.as_str()) {
        true => TemperatureUnit::Fahrenheit,
        false => TemperatureUnit::Celsius,
    }
}

fn standings(counts: &Counts) -> Markup {
    let there = Standing::ALL.into_iter().filter(|s| counts.of(*s) > 0);
    html! { @for (i, standing) in there.enumerate() { @if i > 0 { " · " } b class=(standing.slug()) { (counts.of(standing)) " " (standing.word()) } } }
}

fn sites_table(portfolio: &Portfolio, all: &Counts) -> Markup {
    let standings = Standing::ALL.map(|s| listing::figure(s.word()));
    let heads: Vec<listing::Head> = [listing::text("Site"), listing::figure("Homes")]
        .into_iter()
        .chain(standings)
        .chain([listing::text("Judged")])
        .collect();
    let line = |name: &str, counts: &Counts, period: &str| {
        html! { tr {
            th.text scope="row" { (name) } td { (counts.homes()) }
            @for standing in Standing::ALL { td { @match counts.of(standing) { 0 => span.soft { "0" }, n => b class=(standing.slug()) { (n) } } } }
            td.text { (period) }
        } }
    };
    let rows = html! {
        @for site in &portfolio.sites { (line(&site.name, &site.counts(), &site.period)) }
        @if portfolio.sites.len() > 1 { (line("All", all, "")) }
    };
    listing::table("Homes by where they stand, site by site", &heads, &rows)
}

/// The homes to go to, and those to record again.
fn worst(portfolio: &Portfolio) -> Markup {
    let open: Vec<(&OneSite, &HomeStands)> =
        portfolio.worst_first().into_iter().filter(|(_, h)| h.standing < Standing::KeepAnEye).collect();
    if open.is_empty() {
        return html! { p { "Every home stands accepted." } };
    }
    let heads = ["Home", "Site", "Standing", "Why"].map(listing::text);
    let rows = html! { @for (site, home) in open.iter().take(MOST_HOMES) { tr {
        th.text scope="row" { (home.home) }
        td.text data-of="Site" { (site.name) }
        td.text data-of="Standing" { span class={ "standing " (home.standing.slug()) } { (shape(home.standing)) " " (home.standing.word()) } }
        td.text data-of="Why" { (home.why()) }
    } } };
    html! {
        div.cards { (listing::table("Homes that need something, the worst first", &heads, &rows)) }
        @if open.len() > MOST_HOMES { p.soft { "And " (open.len() - MOST_HOMES) " more: cases and acceptance in the folders of their sites." } }
    }
}

fn criteria(portfolio: &Portfolio) -> Markup {
    let heads = [
        listing::text("Asked for"),
        listing::figure("Homes"),
        listing::figure("Judged"),
        listing::figure("Pass"),
        listing::figure("Of those judged"),
        listing::figure("95 % from … to"),
    ];
    let rows = portfolio.summary.iter().filter(|row| row.site.is_none() && row.kind != Kind::Metric);
    let rows = html! { @for row in rows { @if let Some(passes) = &row.passes { tr {
        th.text scope="row" { (asked_for(row)) }
        td { (row.homes) } td { (passes.judged) } td { (passes.pass) }
        td { (share(passes)) } td.possible { (share_range(passes)) }
    } } } };
    html! {
        (listing::table("Homes that pass, by what is asked for", &heads, &rows))
        p.soft { "Homes that were not judged had not enough data. How sure: Wilson's interval of the share, as if the homes were drawn by chance." }
    }
}

fn asked_for(row: &SummaryRow) -> &'static str {
    match row.kind {
        Kind::Standing => "stands accepted",
        _ => CRITERIA.iter().find(|c| c.id == row.name).map_or(row.name, |c| c.words),
    }
}

fn share(passes: &Passes) -> String {
    passes.share().map_or("none judged".to_owned(), |share| format!("{} %", number(share, 0)))
}

fn share_range(passes: &Passes) -> String {
    let ends = passes.percent();
    ends.map_or("–".to_owned(), |(low, high)| format!("{} … {}", number(low, 0), number(high, 0)))
}

/// The numbers of all sites together, or of one.
fn numbers(summary: &[SummaryRow], site: Option<&str>, units: TemperatureUnit) -> Markup {
    let heads = [
        listing::text("Rooms"),
        listing::figure("Homes"),
        listing::figure("Median"),
        listing::figure("Half of the homes"),
        listing::figure("Mean over homes"),
        listing::figure("95 %"),
        listing::figure("Homes differ by (SD)"),
        listing::figure("One more home, 95 %"),
    ];
    let of = |metric: &Metric| {
        let is = |row: &&SummaryRow| row.kind == Kind::Metric && row.name == metric.id;
        let own = |row: &&SummaryRow| row.site.as_deref() == site && is(row);
        summary.iter().filter(own).collect::<Vec<_>>()
    };
    let groups = SHOWN.iter().map(|(metric, words)| (metric, words, of(metric)));
    let rows = html! { @for (metric, words, rows) in groups { @if !rows.is_empty() {
        tr { th.text.of-group colspan=(heads.len()) scope="rowgroup" { (words) ", " (unit(metric.unit, units)) } }
        @for row in rows { (one_number(row, units)) }
    } } };
    let caption = format!("What homes have in common, {}", site.unwrap_or("all sites together"));
    listing::table(&caption, &heads, &rows)
}

/// The unit for people.
fn unit(of: &'static str, units: TemperatureUnit) -> &'static str {
    if of == "K" { units.difference_sign() } else { of }
}

fn one_number(row: &SummaryRow, units: TemperatureUnit) -> Markup {
    let plain = |x: f64| match row.unit {
        "K" => number(units.difference_number(KelvinDiff::new(x)), 1),
        "K/K" => number(x, 3),
        _ => number(x, 1),
    };
    let signed = row.name == OFFSET_FROM_REFERENCE.id;
    let show = |x: f64| match plain(x) {
        text if signed && x > 0.0 && text != "0.0" => format!("+{text}"),
        text => text,
    };
    let range = |(low, high): (f64, f64)| format!("{} … {}", show(low), show(high));
    let open = || "not reached".to_owned();
    let between =
        |x: f64| if row.unit == "h" { format!("× {}", number(row.factor(x), 1)) } else { plain(x) };
    let mean = row.mean();
    let why = row.over_homes.as_ref().and_then(|over| over.told.as_ref().err());
    html! {
        tr {
            th.text scope="row" { (row.purpose.unwrap_or("home")) }
            td { (row.homes) }
            td { (row.quartiles[1].map_or_else(open, show)) }
            td.possible { (row.quartiles[0].map_or_else(open, show)) " … " (row.quartiles[2].map_or_else(open, show)) }
            @match (mean, why) {
                (Some(mean), _) => {
                    td { b { (show(mean.mean)) } } td.possible { (range(mean.interval)) }
                    td { (between(mean.between)) } td.possible { (range(mean.new_home)) }
                }
                (None, Some(why)) => td.text.soft colspan="4" { "no mean: " (why) },
                (None, None) => td.text.soft colspan="4" { "quantiles only" },
            }
        }
    }
}
