//! Long files of which each row says what it measured: which of its quantities is the temperature of a room.
//!
//! Settled here, and why:
//! - **Quantities of a long export** are known by their unit, which stands in a column of its own or in the name, else by
//!   the word for temperature; dew points and targets are none. Of several the roster's `column` names one; none is taken
//!   silently.

use super::dialect::{Dialect, says_temperature, unit_in};
use super::headers::is_another_quantity;
use super::sheet::{MAX_LINE, Sheet, split};
use super::vocabulary::{Holds, has_word};
use super::wanted::Wanted;
use crate::error::Trouble;
use crate::texts::name;
use crate::units::TemperatureUnit;

/// The column that says what each row measured, and the quantities, where a file has such a column.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Quantities {
    pub(super) column: usize,
    /// The column with the unit of each row, where that is another one.
    units: Option<usize>,
    named: Vec<Quantity>,
}

/// One quantity.
#[derive(Clone, Debug, PartialEq)]
struct Quantity {
    name: String,
    /// The units that stand beside it.
    units: Vec<String>,
}

/// The rows of one quantity.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct RowsOf {
    pub(super) column: usize,
    pub(super) name: String,
    pub(super) unit: Option<TemperatureUnit>,
}

/// Units of other things than temperature, as they stand in cells.
const OTHER_UNITS: [&str; 37] = [
    "%", "%rh", "% rh", "rh", "ppm", "ppb", "hpa", "pa", "kpa", "mbar", "bar", "lux", "lx", "v", "mv", "db",
    "dba", "db(a)", "w", "wh", "kwh", "m/s", "km/h", "mm", "m", "l", "m3", "m³", "g/m3", "g/m³", "µg/m3",
    "µg/m³", "ug/m3", "bq/m3", "bq/m³", "s", "dbm",
];

impl Quantity {
    fn unit(&self) -> Option<TemperatureUnit> {
        match self.units.as_slice() {
            [one] => TemperatureUnit::parse(one),
            [] => unit_in(&self.name).or_else(|| TemperatureUnit::parse(&self.name)),
            _ => None,
        }
    }

    /// A dew point has a unit of temperature, and is none.
    fn is_temperature(&self) -> bool {
        let unit = !self.units.is_empty() && self.units.iter().all(|u| TemperatureUnit::parse(u).is_some());
        let by_words = self.units.is_empty() && (says_temperature(&self.name) || self.unit().is_some());
        (unit || by_words) && !is_another_quantity(&self.name)
    }

    fn is_something_else(&self) -> bool {
        is_another_quantity(&self.name) || is_other_unit(&self.name) || self.has_another_unit()
    }

    fn has_another_unit(&self) -> bool {
        self.units.iter().any(|u| is_other_unit(u))
    }
}

fn is_other_unit(text: &str) -> bool {
    OTHER_UNITS.contains(&text.trim().to_lowercase().as_str())
}

impl Quantities {
    /// The quantities of a file, of which `words` are the columns of words with all that stands in each.
    pub(super) fn find(sheet: &Sheet<'_>, dialect: &Dialect, words: &[(usize, Vec<String>)]) -> Option<Self> {
        let header = |at: usize| dialect.columns[at].name.as_str();
        let units = words.iter().find(|(at, names)| holds_units(header(*at), names));
        let mut others = words.iter().filter(|(at, _)| units.is_none_or(|(u, _)| u != at));
        let beside = |(at, names): &(usize, Vec<String>)| {
            let mut all = Self { column: *at, units: units.map(|u| u.0), named: without_twins(names) };
            all.note_units(sheet, dialect);
            all.speak_of_quantities(has_word(header(*at), &[Holds::Quantity])).then_some(all)
        };
        let alone = || {
            let (at, names) = units?;
            Some(Self { column: *at, units: None, named: without_twins(names) })
        };
        others.find_map(beside).or_else(alone)
    }

    /// Whether a column is one of those that say what was measured.
    pub(super) fn holds(&self, column: usize) -> bool {
        self.column == column || self.units == Some(column)
    }

    /// Whether the names are those of quantities, and not of loggers or of anything else.
    fn speak_of_quantities(&self, headed_so: bool) -> bool {
        let count = |is: fn(&Quantity) -> bool| self.named.iter().filter(|q| is(q)).count();
        let (temperatures, others) =
            (count(Quantity::is_temperature), count(|q| !q.is_temperature() && q.is_something_else()));
        let all_known = temperatures + others == self.named.len();
        let by_units = self.named.iter().any(Quantity::has_another_unit);
        let mixed = temperatures > 0 && others > 0 && (all_known || headed_so || by_units);
        mixed || (headed_so && temperatures + others > 0 && (all_known || by_units))
    }

    /// Which units stand beside each quantity.
    fn note_units(&mut self, sheet: &Sheet<'_>, dialect: &Dialect) {
        let Some(units) = self.units else { return };
        let mut cells = Vec::new();
        for (_, line) in sheet.lines().filter(|(n, l)| *n >= dialect.first_data_line && l.len() <= MAX_LINE) {
            split(line, dialect.delimiter, &mut cells);
            let (Some(name), Some(unit)) = (cells.get(self.column), cells.get(units)) else { continue };
            let named = self.named.iter_mut().find(|q| q.name.eq_ignore_ascii_case(name));
            let Some(quantity) = named.filter(|q| !unit.is_empty() && !q.units.iter().any(|u| u == unit))
            else {
                continue;
            };
            quantity.units.push((*unit).to_owned());
        }
    }

    /// The temperatures among the quantities.
    pub(super) fn temperatures(&self) -> impl Iterator<Item = RowsOf> {
        self.named.iter().filter(|q| q.is_temperature()).map(|q| self.rows_of(q))
    }

    /// The names of all quantities.
    pub(super) fn names(&self) -> impl Iterator<Item = &str> {
        self.named.iter().map(|q| q.name.as_str())
    }

    fn rows_of(&self, quantity: &Quantity) -> RowsOf {
        RowsOf { column: self.column, name: quantity.name.clone(), unit: quantity.unit() }
    }

    /// The quantity that a roster row means, and whether its `column` names it.
    ///
    /// # Errors
    /// [`Trouble`] where none is a temperature, or several are and the row names none of them.
    pub(super) fn pick(&self, wanted: Wanted<'_>) -> Result<(RowsOf, bool), Trouble> {
        let of_name = |name: &str| self.named.iter().find(|q| q.name.eq_ignore_ascii_case(name.trim()));
        let by_column = wanted.column.and_then(of_name);
        let temperatures: Vec<&Quantity> = self.named.iter().filter(|q| q.is_temperature()).collect();
        let one = match (by_column.or_else(|| of_name(wanted.logger)), temperatures.as_slice()) {
            (Some(named), _) => named,
            (None, [one]) => *one,
            (None, []) => {
                return Err(Trouble::new(
                    format!("its rows measure {}, and none of these is a temperature", self.listed()),
                    "name the quantity that is the temperature in `column` of the roster, or leave the file out of it",
                ));
            }
            (None, several) => {
                let names: Vec<String> = several.iter().map(|q| name(&q.name)).collect();
                return Err(Trouble::new(
                    format!(
                        "several of its quantities are temperatures ({}), and none is named for this room",
                        names.join(", ")
                    ),
                    "give the quantity in `column` of the roster, as the file writes it",
                ));
            }
        };
        if one.units.len() > 1 {
            let units: Vec<String> = one.units.iter().map(|unit| name(unit)).collect();
            return Err(Trouble::new(
                format!("\"{}\" stands in several units ({})", name(&one.name), units.join(", ")),
                "split the file by unit, and give each part a row of its own in the roster",
            ));
        }
        Ok((self.rows_of(one), by_column.is_some()))
    }

    fn listed(&self) -> String {
        let names: Vec<String> = self.names().take(8).map(name).collect();
        names.join(", ")
    }
}

fn without_twins(names: &[String]) -> Vec<Quantity> {
    let mut named: Vec<Quantity> = Vec::new();
    for name in names {
        if !named.iter().any(|q| q.name.eq_ignore_ascii_case(name)) {
            named.push(Quantity { name: name.clone(), units: Vec::new() });
        }
    }
    named
}

/// Whether nothing but units stands in a column, one of temperature among them, or it is headed so.
fn holds_units(header: &str, names: &[String]) -> bool {
    let temperatures = names.iter().filter(|n| TemperatureUnit::parse(n).is_some()).count();
    let others = names.iter().filter(|n| is_other_unit(n)).count();
    let headed = has_word(header, &[Holds::Unit]);
    (headed && temperatures + others > 0)
        || (temperatures > 0 && others > 0 && temperatures + others == names.len())
}
