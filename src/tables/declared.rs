//! The tables, each with its columns and what they mean.

use super::{Column, Format, Kind, Table};

pub(super) const fn column(name: &'static str, kind: Kind, about: &'static str) -> Column {
    Column { name, kind, unit: None, optional: false, about }
}

pub(super) const fn optional(name: &'static str, kind: Kind, about: &'static str) -> Column {
    Column { name, kind, unit: None, optional: true, about }
}

pub(super) const fn with_unit(column: Column, unit: &'static str) -> Column {
    Column { unit: Some(unit), ..column }
}

/// The site: with it as the first column, rows of several sites can stand in one table.
pub(super) const SITE: Column = column(
    "site",
    Kind::Word,
    "the site, as its site file names it; with it, tables of several audits can be put together",
);
pub(super) const HOME: Column = column("home", Kind::Word, "the home, as in the roster");
pub(super) const ROOM: Column = column("room", Kind::Word, "the room, as in the roster");
const LOGGER: Column = column("logger", Kind::Word, "the logger, as in the roster");
const MAYBE_HOME: Column = optional("home", Kind::Word, "the home, as in the roster; empty for the building");
const NO_WEATHER_HOME: Column =
    optional("home", Kind::Word, "the home, as in the roster; empty for the weather series");
const NO_WEATHER_ROOM: Column =
    optional("room", Kind::Word, "the room, as in the roster; empty for the weather series");
pub(super) const MAYBE_ROOM: Column =
    optional("room", Kind::Word, "the room, as in the roster; empty for the home as a whole");
pub(super) const PERIOD: Column =
    column("period", Kind::Word, "the period, as in the site file; `whole record` when it names none");
const ROW_UNIT: Column = column("unit", Kind::Word, "unit of the numbers of this row");
pub(super) const LOW: Column = optional(
    "low",
    Kind::Number,
    "lower end of the interval of the value, in the unit of the row; empty where there is none",
);
pub(super) const HIGH: Column = optional(
    "high",
    Kind::Number,
    "upper end of the interval of the value, in the unit of the row; empty where there is none",
);

const GRID_TIME: Column = column(
    "time_utc",
    Kind::Time,
    "grid instant: a whole multiple of the step from the Unix epoch; it stands for the step that starts there",
);
const GRID_HUMIDITY: Column = with_unit(
    optional(
        "relative_humidity_percent",
        Kind::Single,
        "relative humidity at the instant, aligned by the same rule; empty where it is missing",
    ),
    "%",
);

/// Readings as they were kept.
pub static READINGS: Table = Table {
    name: "readings",
    about: "every reading that was kept, with its quality flags; homes, rooms and placements in roster order, sorted by time",
    columns: &[
        SITE,
        HOME,
        ROOM,
        LOGGER,
        column("time_utc", Kind::Time, "instant of the reading"),
        with_unit(
            optional(
                "temperature_degc",
                Kind::Single,
                "temperature as recorded, before any offset is taken off; empty where the reading has no value",
            ),
            "°C",
        ),
        column(
            "flag",
            Kind::Flag,
            "roll-up of the quality tests, numbered as in the QARTOD scheme: 1 good, 2 not evaluated, 3 suspect, 4 fail, 9 missing",
        ),
        column("tests", Kind::Word, "what each quality test said, with the same numbers"),
        column("line", Kind::Line, "line of the export (`file`), from 1"),
        with_unit(
            optional(
                "relative_humidity_percent",
                Kind::Single,
                "relative humidity as recorded; empty where the export has none",
            ),
            "%",
        ),
        optional(
            "humidity_flag",
            Kind::Flag,
            "range test of the humidity with the same numbers: 1 good (0 to 100 %), 4 fail, 9 missing; empty where the logger records none",
        ),
        column(
            "file",
            Kind::Word,
            "the export that holds the line, as in the roster; its SHA-256 stands in provenance.json under this name",
        ),
    ],
    formats: &[Format::Parquet],
    sorted_by: &["site", "home"],
};

/// Rows set aside.
pub static SET_ASIDE: Table = Table {
    name: "set_aside",
    about: "every row of an export that did not become a reading, and why; a row that several rooms of a home lost stands here once for each reason, with these rooms; the sum of `times` is `rows_set_aside` of `loggers`",
    columns: &[
        SITE,
        optional("home", Kind::Word, "the home that lost it; empty for the weather series"),
        optional("rooms", Kind::Word, "the rooms of the home that lost it, with `; ` between them"),
        column("file", Kind::Word, "the export, as in the roster"),
        column("line", Kind::Line, "line of the export, from 1"),
        column("reason", Kind::Word, "why the row was set aside"),
        column("text", Kind::Text, "the line as it stands in the export, cut at 200 characters"),
        column("times", Kind::Count, "how many series of these rooms lost it"),
    ],
    formats: &[Format::Parquet],
    sorted_by: &[],
};

/// Grid values.
pub static ALIGNED: Table = Table {
    name: "aligned",
    about: "temperatures of all rooms at the same instants; homes in roster order, sorted by room and time; a row group holds one home; missing values have no row; `audit --from-aligned` starts from it and from `weather`",
    columns: &[
        SITE,
        HOME,
        ROOM,
        GRID_TIME,
        with_unit(
            column(
                "temperature_degc",
                Kind::Single,
                "temperature at the instant, offset taken off; the metrics are computed from these",
            ),
            "°C",
        ),
        with_unit(
            column(
                "accuracy_k",
                Kind::Number,
                "accuracy (95 % half-width) of the room's loggers against the true temperature, from the roster or the side-by-side check",
            ),
            "K",
        ),
        GRID_HUMIDITY,
        column(
            "flag",
            Kind::Flag,
            "3 where the value rests on a suspect reading (it is used, and low and high count it both ways), else 1",
        ),
        with_unit(
            column(
                "relative_accuracy_k",
                Kind::Number,
                "the same against the loggers of the other rooms: smaller after a side-by-side check, else as accuracy_k",
            ),
            "K",
        ),
    ],
    formats: &[Format::Parquet],
    sorted_by: &["site", "home", "room", "time_utc"],
};

/// The weather on the grid.
pub static WEATHER: Table = Table {
    name: "weather",
    about: "the weather series at the grid instants of `aligned`, sorted by time; missing values have no row, and a site without a weather series, or with one that was not used, has none at all",
    columns: &[
        SITE,
        GRID_TIME,
        with_unit(
            column(
                "temperature_degc",
                Kind::Single,
                "outdoor temperature at the instant; outdoor numbers and the heat rule are computed from these",
            ),
            "°C",
        ),
        GRID_HUMIDITY,
        column("flag", Kind::Flag, "3 where the value rests on a suspect reading (it is used), else 1"),
    ],
    formats: &[Format::Parquet],
    sorted_by: &["site", "time_utc"],
};

/// Metrics.
pub static METRICS: Table = Table {
    name: "metrics",
    about: "one number per home, room, period, slice and metric",
    columns: &[
        SITE,
        MAYBE_HOME,
        optional(
            "room",
            Kind::Word,
            "the room, as in the roster; empty for the home as a whole; of the building, where its homes are taken together (homes_…), the use of the rooms",
        ),
        PERIOD,
        column(
            "slice",
            Kind::Word,
            "part of the period: all, day or night (night: the night hours of the site's band, 22:00 to 06:00 unless it says otherwise, for the heat rule too, whose own hours may be others); for some metrics also the days of the week (monday to friday, saturday and sunday) and the outdoor temperature at the instant in bins of 2 K",
        ),
        column("metric", Kind::Word, "id of the metric"),
        column("value", Kind::Number, "the number, in the unit of the row"),
        ROW_UNIT,
        LOW,
        HIGH,
        optional(
            "interval",
            Kind::Word,
            "what kind of interval low and high are; `evenrooms explain` tells of each how it is made",
        ),
        optional(
            "sensor",
            Kind::Number,
            "what of the interval is the sensors' accuracy: 95 % half-width, in the unit of the row; empty where that part has no meaning",
        ),
        optional(
            "days",
            Kind::Number,
            "what of the interval is the days that happened to be watched: 95 % half-width, in the unit of the row; empty where that part has no meaning",
        ),
        with_unit(column("hours_observed", Kind::Number, "hours with a value that the number rests on"), "h"),
    ],
    formats: &[Format::Parquet, Format::Csv],
    sorted_by: &[],
};

/// Events.
pub static EVENTS: Table = Table {
    name: "events",
    about: "things that lasted: runs outside the band, runs of a spread over the limit, recoveries after setback; each in the period in which it was found, so that periods that overlap have it twice",
    columns: &[
        SITE,
        HOME,
        MAYBE_ROOM,
        PERIOD,
        column("kind", Kind::Word, "what it was"),
        column("from_utc", Kind::Time, "first instant"),
        column("to_utc", Kind::Time, "first instant after"),
        with_unit(column("duration_h", Kind::Number, "how long it lasted"), "h"),
        column(
            "value",
            Kind::Number,
            "the extreme value in it (of a recovery the temperature at its start), in the unit of the row",
        ),
        ROW_UNIT,
        column("limit", Kind::Number, "the limit, in the unit of the row"),
        column(
            "censored",
            Kind::YesNo,
            "whether it was cut off at its start or end (a recovery: before it reached the limit), so that it may have lasted longer",
        ),
    ],
    formats: &[Format::Parquet, Format::Csv],
    sorted_by: &[],
};

/// Findings.
pub static FINDINGS: Table = Table {
    name: "findings",
    about: "what should be looked at, with the evidence; the homes in roster order, the most pressing finding of a home first; what could not be judged is in not_judged",
    columns: &[
        SITE,
        HOME,
        MAYBE_ROOM,
        column("id", Kind::Text, "rule, home, room and period in one: one finding of the site"),
        column("severity", Kind::Word, "urgent, act, watch or note"),
        column("rule", Kind::Word, "name of the rule"),
        optional("from_utc", Kind::Time, "start of the time concerned"),
        optional("to_utc", Kind::Time, "end of the time concerned"),
        column("observed", Kind::Number, "the number that was judged, in the unit of the row"),
        ROW_UNIT,
        column("limit", Kind::Number, "the limit it was held against, in the unit of the row"),
        LOW,
        HIGH,
        column("shows", Kind::Text, "what the record shows, with figures"),
        column("could_also_be", Kind::Text, "what else could look like this"),
        column("next_step", Kind::Text, "what a person can do next"),
    ],
    formats: &[Format::Parquet, Format::Csv, Format::Json],
    sorted_by: &[],
};

/// What was not judged.
pub static NOT_JUDGED: Table = Table {
    name: "not_judged",
    about: "what the record could not carry, or nobody asked: what stands here was neither found nor accepted, so that no finding is no pass",
    columns: &[
        SITE,
        HOME,
        MAYBE_ROOM,
        optional("period", Kind::Word, "the period, where the site names any and it is about one"),
        column("rule", Kind::Word, "name of the rule that gave no verdict"),
        column("why", Kind::Text, "why"),
    ],
    formats: &[Format::Csv, Format::Json],
    sorted_by: &[],
};

/// Loggers.
pub static LOGGERS: Table = Table {
    name: "loggers",
    about: "what became of each logger's record; the weather series has no home and room",
    columns: &[
        SITE,
        NO_WEATHER_HOME,
        NO_WEATHER_ROOM,
        LOGGER,
        column("file", Kind::Text, "its exports, joined by `; `"),
        column(
            "rows_seen",
            Kind::Count,
            "data rows in its exports (preamble, header and blank lines are not data rows); rows_kept plus rows_set_aside",
        ),
        column("rows_kept", Kind::Count, "data rows that became readings"),
        column("rows_set_aside", Kind::Count, "data rows that were set aside"),
        optional("first_utc", Kind::Time, "first reading"),
        optional("last_utc", Kind::Time, "last reading"),
        with_unit(
            optional("interval_s", Kind::Number, "sampling interval: the median step between readings"),
            "s",
        ),
        with_unit(
            optional(
                "coverage",
                Kind::Number,
                "readings with a value as a share of those expected from first to last",
            ),
            "%",
        ),
        with_unit(
            optional("longest_gap_h", Kind::Number, "longest time between two readings with a value"),
            "h",
        ),
        column("good", Kind::Count, "readings with flag 1"),
        column("not_evaluated", Kind::Count, "readings with flag 2"),
        column("suspect", Kind::Count, "readings with flag 3"),
        column("fail", Kind::Count, "readings with flag 4"),
        column("missing", Kind::Count, "readings with flag 9: a time without a value"),
        with_unit(optional("offset_k", Kind::Number, "offset found side by side and taken off"), "K"),
        with_unit(
            optional(
                "offset_left_on_k",
                Kind::Number,
                "offset found side by side and not taken off, because it is more than the logger's accuracy explains",
            ),
            "K",
        ),
        column("clock", Kind::Text, "the clock its times were read by"),
    ],
    formats: &[Format::Parquet, Format::Csv],
    sorted_by: &[],
};

/// Comparisons of two periods.
pub static COMPARISON: Table = Table {
    name: "comparison",
    about: "a daily number of a room or home in two periods, matched on the daily mean outdoor temperature in bins of 2 K; bins with fewer than 3 days on either side are left out; before and after are means over the shared bins, each weighted by its smaller number of days",
    columns: &[
        SITE,
        HOME,
        MAYBE_ROOM,
        column("metric", Kind::Word, "id of the daily number"),
        column("unit", Kind::Word, "unit of before and after"),
        optional("before", Kind::Number, "matched mean before"),
        optional("after", Kind::Number, "matched mean after"),
        optional("difference", Kind::Number, "after less before; empty where nothing could be matched"),
        optional(
            "low",
            Kind::Number,
            "lower end of the interval of the difference, days within a bin brought to equal outdoor temperature",
        ),
        optional("high", Kind::Number, "upper end of the same interval"),
        optional("interval", Kind::Word, "what kind of interval low and high are"),
        column("difference_unit", Kind::Word, "unit of difference, low and high"),
        column("days_before", Kind::Count, "whole days before that have the number"),
        column("days_after", Kind::Count, "whole days after that have the number"),
        optional(
            "matched_days_before",
            Kind::Count,
            "days before in shared bins; empty, as the two numbers after it, where nothing could be matched: a period without a whole day, or no outdoor temperature",
        ),
        optional("matched_days_after", Kind::Count, "days after in shared bins"),
        optional(
            "shared_bins",
            Kind::Count,
            "bins of the outdoor temperature with enough days on both sides",
        ),
        optional("left_out", Kind::Text, "bins with too few days on a side, with the days of each side"),
        optional(
            "all_days_before",
            Kind::Number,
            "mean over all days before, whatever the weather: not matched",
        ),
        optional(
            "all_days_after",
            Kind::Number,
            "mean over all days after, whatever the weather: not matched",
        ),
        optional("why_not", Kind::Text, "why there is no difference"),
    ],
    formats: &[Format::Parquet, Format::Csv],
    sorted_by: &[],
};

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tables::TABLES;

    #[test]
    fn every_table_begins_with_the_site_and_rises_by_columns_that_it_has() {
        for table in TABLES.into_iter().chain([&COMPARISON]) {
            let names: Vec<&str> = table.columns.iter().map(|c| c.name).collect();
            assert_eq!((names[0], table.columns[0].optional), ("site", false), "{}", table.name);
            let home = names.iter().position(|name| *name == "home");
            assert!(home.is_none_or(|at| at == 1), "{}: the home comes next", table.name);
            assert!(table.sorted_by.iter().all(|by| names.contains(by)), "{}", table.name);
        }
    }
}
