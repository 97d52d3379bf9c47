//! Traits of exports: the ways of writing that may meet in one file. Nothing here follows a product.

#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Encoding {
    Utf8,
    Utf8Mark,
    /// Little end first or not, with a byte-order mark or not.
    Utf16 {
        little: bool,
        mark: bool,
    },
    Windows1252,
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Delimiter {
    One(char),
    /// Columns side by side, at least two blanks between them.
    Wide,
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Quotes {
    Needed,
    Texts,
    All,
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum DateForm {
    Ymd(char),
    Dmy(char),
    Mdy(char),
    /// The month by name; which way is the number.
    Named(usize),
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Seconds {
    None,
    Whole,
    Thousandths,
}

/// Where the time of day stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Join {
    Blank,
    T,
    /// In a column of its own.
    Apart,
    /// In a column of its own, AM or PM in one more.
    ApartHalf,
}

/// A time as a person would write it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Written {
    pub(crate) date: DateForm,
    pub(crate) padded: bool,
    pub(crate) short_year: bool,
    /// Which way AM and PM are spelled.
    pub(crate) half: Option<usize>,
    pub(crate) seconds: Seconds,
    pub(crate) join: Join,
    /// Which way the offset from UTC stands behind each time.
    pub(crate) offset: Option<usize>,
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Times {
    Written(Written),
    EpochSeconds,
    EpochMilliseconds,
    /// Days of a spreadsheet; whether it starts in 1904.
    Serial(bool),
}

/// How the logger's clock runs; minutes ahead of UTC where that is fixed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Clock {
    Civil,
    Fixed(i64),
}

/// Where something is stated.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Said {
    Header,
    Preamble,
    /// In the cell itself.
    Cell,
    /// In the row of the roster.
    Roster,
    /// For the clock: in the site file. For the unit: nowhere.
    Elsewhere,
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Order {
    OldestFirst,
    NewestFirst,
    TwoBlocks,
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Shape {
    One,
    /// A column names the logger; whether the loggers take turns.
    Long {
        loggers: usize,
        in_turn: bool,
    },
    /// A column for each room.
    Wide(usize),
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Events {
    None,
    /// A mark beside some readings.
    Marks,
    /// Rows with a mark and no reading.
    Rows,
}
