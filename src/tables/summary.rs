//! The table of what homes have in common, of several sites and of each.

use super::declared::column;
use super::declared::optional;
use super::rows::{maybe_number, maybe_text, owned, text};
use super::{Cell, Column, Format, Kind, Table};
use crate::portfolio::SummaryRow;

const fn number(name: &'static str, about: &'static str) -> Column {
    optional(name, Kind::Number, about)
}

const fn percent(name: &'static str, about: &'static str) -> Column {
    Column { unit: Some("%"), ..optional(name, Kind::Number, about) }
}

const fn count(name: &'static str, about: &'static str) -> Column {
    optional(name, Kind::Count, about)
}

/// What homes have in common.
pub static SUMMARY: Table = Table {
    name: "summary",
    about: "what homes have in common in the period that decides: a row for where they stand, for each criterion, and for each metric and use of rooms; of all sites together (no site), then of each",
    columns: &[
        optional("site", Kind::Word, "the site; empty: all sites together"),
        column("kind", Kind::Word, "what the row is about: standing, criterion or metric"),
        column(
            "name",
            Kind::Word,
            "id of the metric or criterion; `accept`: homes that stand accepted, of those accepted or to be visited",
        ),
        optional(
            "use",
            Kind::Word,
            "use of the rooms; of several rooms of a home with one use the mean counts; empty: homes as a whole",
        ),
        optional("unit", Kind::Word, "unit of all numbers of the row but shares and counts"),
        column(
            "homes",
            Kind::Count,
            "homes with a value (a metric), or that were asked (a criterion, standing)",
        ),
        number(
            "median",
            "median of the homes' values; a home with a room of which half of the recoveries were not reached counts as longer than all others: empty where that is half of the homes",
        ),
        number("first_quartile", "a quarter of the homes' values lies below"),
        number("third_quartile", "three quarters of the homes' values lie below; empty as the median"),
        count("judged", "homes that pass or fail; the others had not enough data: they are in no share"),
        count("pass", "homes that pass"),
        percent("share_pass", "homes that pass, of those judged; empty where none was"),
        percent("share_low", "lower end of the 95 % interval of that share (Wilson 1927)"),
        percent("share_high", "upper end of the same interval"),
        count(
            "homes_weighed",
            "homes whose own interval gives them a weight in the mean; empty where no mean is asked for: hours have quantiles only",
        ),
        count(
            "homes_left_out",
            "homes with something to be known that have no weight: a record under 7 days, or a recovery that was not reached; of more than a tenth there is no mean",
        ),
        number(
            "mean",
            "random-effects mean over homes (DerSimonian and Laird 1986; of recovery the geometric one)",
        ),
        number(
            "mean_low",
            "lower end of its 95 % interval (Hartung and Knapp, never narrower than without it)",
        ),
        number("mean_high", "upper end of the same interval"),
        number(
            "between_sd",
            "standard deviation between homes, their own errors taken out; of recovery that of the natural logarithm, without a unit",
        ),
        number("new_home_low", "lower end of the 95 % prediction interval of one more home of the same kind"),
        number("new_home_high", "upper end of the same interval"),
        optional("why_no_mean", Kind::Text, "why there is no mean where one is asked for"),
    ],
    formats: &[Format::Parquet, Format::Csv],
    sorted_by: &[],
};

/// A row of the summary table.
pub fn summary_cells(row: &SummaryRow) -> Vec<Cell<'_>> {
    let quartile = |at: usize| maybe_number(row.quartiles[at]);
    let maybe_count = |n: Option<u64>| n.map_or(Cell::Empty, Cell::Count);
    let share = |end: fn((f64, f64)) -> f64| maybe_number(row.passes.and_then(|p| p.percent()).map(end));
    let (over, mean) = (row.over_homes.as_ref(), row.mean());
    vec![
        maybe_text(row.site.as_deref()),
        text(row.kind.word()),
        text(row.name),
        maybe_text(row.purpose),
        maybe_text(Some(row.unit)),
        Cell::Count(row.homes),
        quartile(1),
        quartile(0),
        quartile(2),
        maybe_count(row.passes.map(|p| p.judged)),
        maybe_count(row.passes.map(|p| p.pass)),
        maybe_number(row.passes.and_then(|p| p.share())),
        share(|interval| interval.0),
        share(|interval| interval.1),
        maybe_count(over.map(|o| o.homes as u64)),
        maybe_count(over.map(|o| o.left_out as u64)),
        maybe_number(mean.map(|m| m.mean)),
        maybe_number(mean.map(|m| m.interval.0)),
        maybe_number(mean.map(|m| m.interval.1)),
        maybe_number(mean.map(|m| m.between)),
        maybe_number(mean.map(|m| m.new_home.0)),
        maybe_number(mean.map(|m| m.new_home.1)),
        owned(over.and_then(|o| o.told.as_ref().err()).cloned().unwrap_or_default()),
    ]
}
