//! The columns of the roster, and what is written into them.

/// A column of the roster.
#[derive(Debug)]
pub struct RosterColumn {
    /// Its name.
    pub name: &'static str,
    /// What is written into it.
    pub about: &'static str,
}

const fn column(name: &'static str, about: &'static str) -> RosterColumn {
    RosterColumn { name, about }
}

/// Columns that a roster must have.
pub(super) const REQUIRED: [RosterColumn; 6] = [
    column("home", "name of the home"),
    column("room", "name of the room; rooms of a home belong together"),
    column(
        "use",
        "living, bedroom, kitchen, bathroom, hall, other; \"Living room\" and the like are read too",
    ),
    column(
        "heated",
        "yes, no or unknown (an empty cell is unknown): whether the room has its own heating; where that is unknown, evenness with the heated rooms, recovery after setbacks and times without heat are not judged, and nothing is held against the room",
    ),
    column("logger", "name of the logger; with `file` empty too: the room has no logger"),
    column("file", "its export, from the folder of the exports; parts of a path between / (or \\)"),
];

/// Columns that a roster may have.
pub(super) const OPTIONAL: [RosterColumn; 13] = [
    column("note", "anything; it is not read"),
    column(
        "column",
        "header (or number from 1) of the column, where the export has several; in a long export, of which a column says what each row measured, the quantity that is the room's temperature",
    ),
    column("unit", "°C or °F, where the export does not say"),
    column("clock", "civil, utc, fixed -05:00; an offset that the export states wins"),
    column(
        "dates",
        "day-first, month-first, serial 1900, serial 1904, seconds of 2026, or where times count from a moment that the export does not tell `minutes since 2026-01-05 10:00` (seconds, hours, days too; local); only where the export leaves it open",
    ),
    column(
        "from",
        "since when the logger stood there, local; year first, or as spreadsheets write dates where one of them tells the order of day and month",
    ),
    column("to", "until when the logger stood there, local; a bare date includes that day"),
    column("accuracy_k", "accuracy of the logger, 95 % half-width in K (0.5 unless stated)"),
    column(
        "time_constant_min",
        "time constant of the logger in the air of a room, in minutes: the time to 63 % of a step, as data sheets give it (a time to 90 % is 2.3 times that); where it is stated for all loggers of a room, the intervals of its hours and degree-hours outside the band, and the heat rule, hold how far the loggers trail while the room warms up or cools; where it is not, they hold the sensor accuracy alone, and are too narrow on steep ramps",
    ),
    column("clock_fast_s", "seconds the logger's clock was ahead at download; taken off linearly"),
    column(
        "height_m",
        "height of the logger above the floor, told beside a heat rule that says where it measures",
    ),
    column("floor", "the home's floor: it is held against its neighbours there"),
    column("line", "the home's line of homes above each other: it is held against its neighbours there"),
];

/// Every column of the roster, those that it must have first.
pub fn roster_columns() -> impl Iterator<Item = &'static RosterColumn> {
    REQUIRED.iter().chain(&OPTIONAL)
}
