//! The Data Package descriptor: what every file holds, for people and programs.

use serde_json::{Value, json};

use super::{Column, Format, Kind, Table, keys};
use crate::metrics::{self, EventKind};
use crate::site::{Site, audience_of};

/// A file as it was written.
#[derive(Clone, Debug)]
pub struct Written {
    /// Its size.
    pub bytes: u64,
    /// Its SHA-256, in hexadecimal digits.
    pub sha256: String,
}

/// A file of a result folder that is no table: a page, a workbook.
#[derive(Clone, Debug)]
pub struct Page {
    /// Its path in the folder.
    pub path: String,
    /// What it holds, in a sentence.
    pub about: &'static str,
}

/// Raised with every change of tables or columns that who reads them must know of.
pub const SCHEMA_VERSION: u32 = 1;

/// The descriptor of a result folder with these tables and pages, as bytes of `datapackage.json`; `written` tells of each file
/// by its name: it has no size and no SHA-256 of a file that is not written yet, as of the provenance, which has those of this one.
///
/// Shape: a resource for each file, tables first. Those of CSV are tables to every program that reads Data Packages; Parquet files are
/// files to it, of which it checks size and SHA-256 and which other readers open, and JSON lists are JSON. All have the
/// schema of what they hold.
///
/// # Source
/// Frictionless Data Package specification (an open standard).
pub fn data_package(
    site: &Site,
    (tables, pages): (&[&'static Table], &[Page]),
    written: impl Fn(&str) -> Option<Written>,
) -> Vec<u8> {
    let title = format!("{}: evenness and warmth of its homes, from temperature loggers", site.name);
    let about = About {
        name: &slug(&site.name),
        title: &title,
        pseudonymised: site.pseudonymised,
        licence: site.licence.as_deref(),
    };
    package(&about, (&of_tables(tables), pages), written)
}

/// A file of a table: of one site, where several sites have theirs.
#[derive(Clone, Debug)]
pub struct OfSite {
    /// The table.
    pub table: &'static Table,
    /// Its format.
    pub format: Format,
    /// Its path in the folder.
    pub path: String,
}

/// The same of several sites put together; `pseudonymised`: whether all of them go by pseudonyms.
pub fn portfolio_package(
    pseudonymised: bool,
    (files, pages): (&[OfSite], &[Page]),
    written: impl Fn(&str) -> Option<Written>,
) -> Vec<u8> {
    let title = "Evenness and warmth of the homes of several sites, from temperature loggers";
    // Each site has a licence of its own, or none.
    let about = About { name: "portfolio", title, pseudonymised, licence: None };
    package(&about, (files, pages), written)
}

fn of_tables(tables: &[&'static Table]) -> Vec<OfSite> {
    let files = tables.iter().flat_map(|table| table.files().map(move |file| (*table, file)));
    files.map(|(table, (format, path))| OfSite { table, format, path }).collect()
}

/// What a package says of itself.
struct About<'a> {
    name: &'a str,
    title: &'a str,
    pseudonymised: bool,
    licence: Option<&'a str>,
}

fn package(
    about: &About<'_>,
    (files, pages): (&[OfSite], &[Page]),
    written: impl Fn(&str) -> Option<Written>,
) -> Vec<u8> {
    let of_files = files.iter().map(|f| resource(f.table, f.format, &f.path, written(&f.path)));
    let of_pages = pages.iter().map(|page| plain(page, written(&page.path)));
    let resources: Vec<Value> = of_files.chain(of_pages).collect();
    let mut package = json!({
        "profile": "data-package",
        "name": about.name,
        "title": about.title,
        "description": audience_of(about.pseudonymised),
        "created_by": concat!("evenrooms ", env!("CARGO_PKG_VERSION")),
        "schema_version": SCHEMA_VERSION,
        "resources": resources,
        "metrics": metrics::all().map(|m| json!({
            "id": m.id, "unit": m.unit, "definition": m.definition, "source": m.source,
        })).collect::<Vec<_>>(),
        "event_kinds": EventKind::ALL.map(|k| json!({ "kind": k.words(), "unit": k.unit(), "definition": k.definition() })),
    });
    if let Some(licence) = about.licence {
        package["licenses"] = json!([{ "name": licence }]);
    }
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

/// Endings of files that are no tables, with their media types.
const MEDIA_TYPES: [(&str, &str); 5] = [
    ("html", "text/html"),
    ("json", "application/json"),
    ("toml", "application/toml"),
    ("csv", "text/csv"),
    ("xlsx", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"),
];

/// A file that is no table to programs that read Data Packages: they check its size and SHA-256.
fn plain(page: &Page, written: Option<Written>) -> Value {
    let ending = page.path.rsplit('.').next().unwrap_or_default();
    let mediatype = MEDIA_TYPES.iter().find(|(known, _)| *known == ending).map(|(_, media)| *media);
    let mut resource = json!({
        "name": page.path.replace(['.', '_', '/'], "-").to_lowercase(),
        "profile": "data-resource",
        "type": "file",
        "path": page.path,
        "format": ending,
        "mediatype": mediatype,
        "description": page.about,
    });
    // A roster may be written in another encoding.
    if ["html", "json"].contains(&ending) {
        resource["encoding"] = "utf-8".into();
    }
    vouched(&mut resource, written);
    resource
}

/// Adds size and SHA-256, where they are known.
fn vouched(resource: &mut Value, written: Option<Written>) {
    if let Some(Written { bytes, sha256 }) = written {
        resource["bytes"] = bytes.into();
        resource["hash"] = format!("sha256:{sha256}").into();
    }
}

/// A path as the name of a resource: small letters, digits, points, hyphens and underscores only.
fn resource_name(path: &str) -> String {
    let letter = |c: char| match c {
        '%' => '_',
        c if c.is_ascii_alphanumeric() => c.to_ascii_lowercase(),
        _ => '-',
    };
    path.chars().map(letter).collect()
}

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
        "name": resource_name(path),
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
    vouched(&mut resource, written);
    resource["schema"] = schema(table, format, !path.contains('/'));
    resource
}

/// The columns of a file of a table, as a Table Schema; `alone`: it is the only one of its table and format.
///
/// # Source
/// Frictionless Table Schema specification (an open standard).
pub(super) fn schema(table: &Table, format: Format, alone: bool) -> Value {
    let fields: Vec<Value> = table.columns.iter().map(|column| field(column, format)).collect();
    let mut schema = json!({ "fields": fields, "missingValues": [""] });
    keys::add(&mut schema, table, format, alone);
    schema
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
