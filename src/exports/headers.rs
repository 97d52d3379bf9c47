//! What the header of a column says of it.

use super::dialect::{Dialect, says_temperature};
use super::vocabulary::{Holds, has_part, has_word, speaks_of};

/// Every column that can be a temperature.
pub(super) fn temperature_columns(dialect: &Dialect, logger: Option<usize>) -> Vec<usize> {
    let columns = dialect.columns.iter().enumerate();
    let can_be = columns.filter(|(i, c)| {
        let named_so = c.unit.is_some() || c.unit_in_cells;
        c.numeric
            && Some(*i) != logger
            && !dialect.time.holds(*i)
            && !c.counts_rows
            && (named_so || !c.sparse)
            && (named_so || !is_row_number(&c.name) && !is_another_quantity(&c.name))
    });
    can_be.map(|(i, _)| i).collect()
}

pub(super) fn is_row_number(name: &str) -> bool {
    has_word(name, &[Holds::RowNumber])
}

/// Headers of other things that loggers record.
pub(super) fn is_another_quantity(name: &str) -> bool {
    // What could be a name too is one where it stands beside the word for temperature.
    has_part(name, &OTHER_QUANTITIES)
        || is_reckoned(name)
        || (!says_temperature(name) && has_word(name, &OTHER_QUANTITIES))
}

/// Headers of temperatures that nobody measured in a room: what a thermostat was set to, how warm it feels, a dew point.
pub(super) fn is_no_room(name: &str) -> bool {
    is_reckoned(name) || speaks_of(name, Holds::Setpoint) || speaks_of(name, Holds::Felt)
}

/// Headers of temperatures that are reckoned from others.
pub(super) fn is_reckoned(name: &str) -> bool {
    has_part(name, &[Holds::DewPoint])
}

/// What other columns of an export hold.
const OTHER_QUANTITIES: [Holds; 15] = [
    Holds::Humidity,
    Holds::HumidityInShort,
    Holds::Setpoint,
    Holds::Alarm,
    Holds::Light,
    Holds::Battery,
    Holds::Pressure,
    Holds::Air,
    Holds::Event,
    Holds::Signal,
    Holds::Serial,
    Holds::Weather,
    Holds::Position,
    Holds::Operation,
    Holds::Runtime,
];
