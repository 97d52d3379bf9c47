//! By what rows are told apart, and which rows belong to which room: keys of the Data Package.
//!
//! Settled here, and why:
//! - **Only keys that every row has**: a key of the specification is never missing, neither in part. Rows of `metrics`, `events`,
//!   `findings` and `acceptance` that are about a home have no room, and some of `metrics` and `loggers` no home; their key is the home
//!   where every row has one, and there is none else.
//! - **Foreign keys of CSV tables only**: programs that read Data Packages hold those against each other. Parquet and JSON are single
//!   files to them, and a key that leads out of a file makes it unreadable by itself. `readings` and `aligned` have the keys of
//!   `rooms` all the same: site, home and room.

use serde_json::{Value, json};

use super::{Format, Table};

/// Columns by which each row of a table is told from the others; none where no columns do that are never empty.
const PRIMARY: [(&str, &[&str]); 3] =
    [("rooms", &["site", "home", "room"]), ("findings", &["site", "id"]), ("cases", &["site", "id"])];

/// Tables of which every row belongs to a home of `rooms`.
const OF_HOMES: [&str; 5] = ["cases", "acceptance", "events", "findings", "not_judged"];

/// The resource that keys lead to.
const ROOMS: &str = "rooms-csv";

/// Adds the keys of a file of a table to its schema; `alone`: it is the only file of its table and format, not one of many sites.
pub(super) fn add(schema: &mut Value, table: &Table, format: Format, alone: bool) {
    if let Some((_, keys)) = PRIMARY.iter().find(|(name, _)| *name == table.name) {
        // The file of one site among others may leave the site to its folder.
        let has = |key: &&&str| table.columns.iter().any(|column| column.name == **key);
        schema["primaryKey"] = json!(keys.iter().filter(has).collect::<Vec<_>>());
    }
    if alone && format == Format::Csv && OF_HOMES.contains(&table.name) {
        let fields = ["site", "home"];
        schema["foreignKeys"] =
            json!([{ "fields": fields, "reference": { "resource": ROOMS, "fields": fields } }]);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tables::TABLES;

    #[test]
    fn keys_are_columns_that_are_never_empty() {
        let columns = |name: &str, keys: &[&str]| {
            let table = TABLES.iter().find(|t| t.name == name).unwrap_or_else(|| panic!("{name}"));
            for key in keys {
                assert!(table.columns.iter().any(|c| c.name == *key && !c.optional), "{name}.{key}");
            }
        };
        PRIMARY.iter().for_each(|(name, keys)| columns(name, keys));
        OF_HOMES.iter().for_each(|name| columns(name, &["site", "home"]));
    }
}
