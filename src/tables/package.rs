//! The Data Package descriptor: what every file holds, for people and programs.

use serde_json::{Value, json};

use super::{Column, Format, Kind, Table};
use crate::metrics::{self, EventKind};
use crate::site::{Site, audience};

/// A file as it was written.
#[derive(Clone, Debug)]
pub struct Written {
    /// Its size.
    pub bytes: u64,
    /// Its SHA-256, in hexadecimal digits.
    pub sha256: String,
}

/// The descriptor of a result folder with these tables, as bytes of `datapackage.json`; `written` tells of each file by its
/// name.
///
/// Shape: a resource for each file. Those of CSV are tables to every program that reads Data Packages; Parquet files are
/// files to it, of which it checks size and SHA-256 and which other readers open, and JSON lists are JSON. All have the
/// schema of what they hold.
///
/// # Source
/// Frictionless Data Package specification (an open standard).
pub fn data_package(site: &Site, tables: &[&Table], written: impl Fn(&str) -> Option<Written>) -> Vec<u8> {
    let files = tables.iter().flat_map(|t| t.files().map(move |(format, path)| (t, format, path)));
    let resources: Vec<Value> =
        files.map(|(t, format, path)| resource(t, format, &path, written(&path))).collect();
    let package = json!({
        "profile": "data-package",
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

/// How fine instants stand in texts.
const INSTANTS: &str = "; instants are cut to the second";

fn resource(table: &Table, format: Format, path: &str, written: Option<Written>) -> Value {
    let (profile, kind, mediatype) = match format {
        Format::Parquet => ("data-resource", "file", "application/vnd.apache.parquet"),
        Format::Csv => ("tabular-data-resource", "table", "text/csv"),
        Format::Json => ("data-resource", "json", "application/json"),
    };
    let instants = if table.columns.iter().any(|c| c.kind == Kind::Time) { INSTANTS } else { "" };
    let about = match format {
        Format::Csv => format!("{}{instants}; {GUARD}", table.about),
        Format::Json => format!("{}{instants}", table.about),
        Format::Parquet => table.about.to_owned(),
    };
    let mut resource = json!({
        "name": path.replace(['.', '_'], "-"),
        "profile": profile,
        "type": kind,
        "path": path,
        "format": format.ending(),
        "mediatype": mediatype,
        "description": about,
    });
    if format != Format::Parquet {
        resource["encoding"] = "utf-8".into();
    }
    if let Some(Written { bytes, sha256 }) = written {
        resource["bytes"] = bytes.into();
        resource["hash"] = format!("sha256:{sha256}").into();
    }
    resource["schema"] = schema(table, format);
    resource
}

/// The columns of a file of a table, as a Table Schema.
///
/// # Source
/// Frictionless Table Schema specification (an open standard).
pub(super) fn schema(table: &Table, format: Format) -> Value {
    let fields: Vec<Value> = table.columns.iter().map(|column| field(column, format)).collect();
    json!({ "fields": fields, "missingValues": [""] })
}

fn field(column: &Column, format: Format) -> Value {
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
    // Data frames have no missing whole number: they turn such a column into real numbers, and what is null into NaN.
    if format == Format::Parquet && column.optional && kind == "integer" {
        field["missingValues"] = json!(["", "nan"]);
    }
    field["constraints"] = json!({ "required": !column.optional });
    field
}
