//! The Data Package descriptor: what every file holds, for people and programs.

use serde_json::{Value, json};

use super::{Column, Format, Kind, Table};
use crate::metrics::{self, EventKind};
use crate::site::{Site, audience};

/// The descriptor of a result folder with these tables, as bytes of `datapackage.json`.
///
/// # Source
/// Frictionless Data Package specification (an open standard).
pub fn data_package(site: &Site, tables: &[&Table]) -> Vec<u8> {
    let resources: Vec<Value> =
        tables.iter().flat_map(|t| t.files().map(|(format, path)| resource(t, format, &path))).collect();
    let package = json!({
        "profile": "tabular-data-package",
        "name": slug(&site.name),
        "title": format!("{}: evenness and warmth of its homes, from temperature loggers", site.name),
        "description": audience(site),
        "created_by": concat!("evenrooms ", env!("CARGO_PKG_VERSION")),
        "resources": resources,
        "metrics": metrics::all().map(|m| json!({
            "id": m.id, "unit": m.unit, "definition": m.definition, "source": m.source,
        })).collect::<Vec<_>>(),
        "event_kinds": EventKind::ALL.map(|k| json!({ "kind": k.words(), "unit": k.unit(), "definition": k.definition() })),
    });
    let mut bytes = serde_json::to_vec_pretty(&package).expect("a JSON value can always be written");
    bytes.push(b'\n');
    bytes
}

fn slug(name: &str) -> String {
    let plain: String =
        name.chars().map(|c| if c.is_ascii_alphanumeric() { c.to_ascii_lowercase() } else { '-' }).collect();
    let parts: Vec<&str> = plain.split('-').filter(|p| !p.is_empty()).collect();
    if parts.is_empty() { "site".to_owned() } else { parts.join("-") }
}

/// How texts of CSV tables are kept from being taken for formulas, and how they are read back.
const GUARD: &str = "a text that begins with = + - \u{2212} @, the same in full width, a tab or a line end (behind any apostrophes of its own) has one apostrophe put before it, so that no spreadsheet takes it for a formula: to read it back, take the first apostrophe off a text that begins with apostrophes and one of these behind them; numbers are as they are, and the Parquet and JSON tables hold all texts as they are";

fn resource(table: &Table, format: Format, path: &str) -> Value {
    let mediatype = match format {
        Format::Parquet => "application/vnd.apache.parquet",
        Format::Csv => "text/csv",
        Format::Json => "application/json",
    };
    let about = match format {
        Format::Csv => format!("{}; {GUARD}", table.about),
        _ => table.about.to_owned(),
    };
    json!({
        "name": path.replace(['.', '_'], "-"),
        "path": path,
        "format": format.ending(),
        "mediatype": mediatype,
        "encoding": "utf-8",
        "description": about,
        "schema": { "fields": table.columns.iter().map(field).collect::<Vec<_>>(), "missingValues": [""] },
    })
}

fn field(column: &Column) -> Value {
    let kind = match column.kind {
        Kind::Text | Kind::Word => "string",
        Kind::Number | Kind::Single => "number",
        Kind::Count | Kind::Line | Kind::Flag => "integer",
        Kind::Time => "datetime",
        Kind::YesNo => "boolean",
    };
    let mut field = json!({ "name": column.name, "type": kind, "description": column.about });
    if let Some(unit) = column.unit {
        field["unit"] = unit.into();
    }
    field["constraints"] = json!({ "required": !column.optional });
    field
}
