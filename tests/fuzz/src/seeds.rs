//! Writes what fuzzing starts from into folders named after the targets: fixtures, sample data, and both packed.
#![allow(clippy::disallowed_methods, reason = "it reads fixtures and writes seeds")]

use std::error::Error;
use std::fs;
use std::io::{Cursor, Write};
use std::path::{Path, PathBuf};

use evenrooms::clock::Span;
use evenrooms::exports::Files;
use evenrooms::grid::{AlignedHome, RoomValues};
use evenrooms::pipeline::Prepared;
use evenrooms::site::DEFAULT_ACCURACY;
use evenrooms::tables::{ALIGNED, GroupFile, WEATHER, aligned_group, weather_group};
use evenrooms::units::Accuracy;
use evenrooms_fuzz::{ROSTER, ROSTER_THAT_TELLS, SITE, site};
use flate2::Compression;
use flate2::write::GzEncoder;
// The counters of our own code are kept by the fuzzer's library.
use libfuzzer_sys as _;
use rust_xlsxwriter::Workbook;
use zip::ZipWriter;
use zip::write::SimpleFileOptions;

type Done<T = ()> = Result<T, Box<dyn Error>>;

/// Bytes of a seed: enough for what an export says of itself, and quick to read.
const MOST: usize = 6000;

fn main() -> Done {
    let into = PathBuf::from(std::env::args().nth(1).ok_or("the folder for the seeds is missing")?);
    let project = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let exports = exports(&project)?;
    write(&into.join("export"), exports.iter().cloned())?;
    write(&into.join("packed"), packed(&exports, &project)?)?;
    let sites = fs::read(project.join("sample_data/site.toml"))?;
    let drawn = fs::read(project.join("src/simulate/alder_row.toml"))?;
    write(&into.join("site_file"), [SITE.as_bytes().to_vec(), sites, drawn])?;
    let roster = fs::read(project.join("sample_data/roster.csv"))?;
    write(
        &into.join("roster"),
        [ROSTER.into(), ROSTER_THAT_TELLS.into(), cut(roster), workbook(ROSTER, ',')?],
    )?;
    write(&into.join("aligned"), aligned()?)
}

/// Exports of the fixtures and of the sample data, as far as they are short.
fn exports(project: &Path) -> Done<Vec<Vec<u8>>> {
    let folders =
        ["tests/fixtures/dialects", "tests/fixtures/damage", "tests/fixtures/fuzz", "sample_data/exports"];
    let mut found = Vec::new();
    for folder in folders.map(|folder| project.join(folder)).iter().filter(|folder| folder.is_dir()) {
        let mut paths: Vec<PathBuf> = fs::read_dir(folder)?.map(|e| Ok(e?.path())).collect::<Done<_>>()?;
        paths.sort();
        for path in paths.iter().filter(|path| path.is_file()) {
            found.push(cut(fs::read(path)?));
        }
    }
    Ok(found)
}

/// The first lines.
fn cut(mut bytes: Vec<u8>) -> Vec<u8> {
    if bytes.len() > MOST && !bytes.starts_with(b"PK") {
        let end = bytes[..MOST].iter().rposition(|b| *b == b'\n').map_or(MOST, |at| at + 1);
        bytes.truncate(end);
    }
    bytes
}

fn packed(exports: &[Vec<u8>], project: &Path) -> Done<Vec<Vec<u8>>> {
    let mut all = Vec::new();
    for (number, export) in exports.iter().enumerate().filter(|(number, _)| number % 12 == 0) {
        let mut gz = GzEncoder::new(Vec::new(), Compression::fast());
        gz.write_all(export)?;
        all.push(gz.finish()?);
        let text = String::from_utf8_lossy(export);
        all.push(workbook(&text, if text.contains(';') { ';' } else { ',' })?);
        all.push(archive(&[("a.csv", export), ("b/c.csv", &exports[(number + 1) % exports.len()])])?);
    }
    all.push(open_document()?);
    for name in ["old.xls", "table.arrow"] {
        let path = project.join("tests/fixtures/fuzz").join(name);
        if path.is_file() {
            all.push(fs::read(path)?);
        }
    }
    all.extend(aligned()?);
    Ok(all)
}

fn archive(members: &[(&str, &[u8])]) -> Done<Vec<u8>> {
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, bytes) in members {
        zip.start_file(*name, SimpleFileOptions::default())?;
        zip.write_all(bytes)?;
    }
    Ok(zip.finish()?.into_inner())
}

/// A workbook of the lines of a text: numbers as numbers, all else as text.
fn workbook(text: &str, delimiter: char) -> Done<Vec<u8>> {
    let mut book = Workbook::new();
    let sheet = book.add_worksheet();
    for (row, line) in text.lines().take(60).enumerate() {
        for (column, cell) in line.split(delimiter).take(30).enumerate() {
            let (row, column) = (row as u32, column as u16);
            match cell.parse::<f64>() {
                Ok(x) if x.is_finite() => sheet.write_number(row, column, x)?,
                _ => sheet.write_string(row, column, cell)?,
            };
        }
    }
    Ok(book.save_to_buffer()?)
}

/// A spreadsheet of the open kind.
fn open_document() -> Done<Vec<u8>> {
    let cell = |kind: &str, value: String| {
        format!("<table:table-cell office:value-type=\"{kind}\" {value}</table:table-cell>")
    };
    let text = |t: &str| cell("string", format!("><text:p>{t}</text:p>"));
    let row = |n: usize| {
        let time = format!("office:date-value=\"2026-01-05T{:02}:{:02}:00\">", n / 6, n % 6 * 10);
        let value = format!("office:value=\"2{}.5\"><text:p>2{}.5</text:p>", n % 3, n % 3);
        format!("<table:table-row>{}{}</table:table-row>", cell("date", time), cell("float", value))
    };
    let header = format!("<table:table-row>{}{}</table:table-row>", text("time"), text("temperature (°C)"));
    let rows: String = (0..40).map(row).collect();
    let content = format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?><office:document-content xmlns:office=\"urn:oasis:names:tc:opendocument:xmlns:office:1.0\" xmlns:table=\"urn:oasis:names:tc:opendocument:xmlns:table:1.0\" xmlns:text=\"urn:oasis:names:tc:opendocument:xmlns:text:1.0\"><office:body><office:spreadsheet><table:table table:name=\"Sheet 1\">{header}{rows}</table:table></office:spreadsheet></office:body></office:document-content>"
    );
    let manifest = "<?xml version=\"1.0\"?><manifest:manifest xmlns:manifest=\"urn:oasis:names:tc:opendocument:xmlns:manifest:1.0\"/>";
    archive(&[
        ("mimetype", b"application/vnd.oasis.opendocument.spreadsheet"),
        ("content.xml", content.as_bytes()),
        ("META-INF/manifest.xml", manifest.as_bytes()),
    ])
}

/// Aligned tables as an audit writes them, one of the weather, and bytes that rows are made of.
fn aligned() -> Done<Vec<Vec<u8>>> {
    let site = site(ROSTER);
    let home = &site.homes[0];
    let row = |n: i64| {
        format!("2026-01-{:02} {:02}:{:02},2{}.{}\n", 6 + n / 144, n / 6 % 24, n % 6 * 10, n % 3, n % 7)
    };
    let mut tables = Vec::new();
    for rows in [2, 40, 300] {
        let export: String =
            std::iter::once("time,temperature (°C)\n".to_owned()).chain((0..rows).map(row)).collect();
        let files = ["a", "b", "c"].map(|name| (name.to_owned(), Ok(export.clone().into_bytes())));
        let files = Files::from(files);
        let prepared = Prepared::under_weather(site.clone(), None);
        let opened = prepared.open(home, &mut |_: &[&str]| files.clone())?;
        let mut file = GroupFile::start(&ALIGNED, Vec::new())?;
        file.add(aligned_group(&site.name, home, opened.aligned())?)?;
        tables.push(file.finish()?);
    }
    let noon = |n: i64| (1_772_820_000_000 + n * site.step_ms, n as f64 / 10.0);
    let (times_ms, degc) = (0..50).map(noon).unzip();
    let (placed, accuracy) = (vec![Span::ALWAYS], Accuracy::stated(DEFAULT_ACCURACY));
    let weather = RoomValues { times_ms, degc, humidity: None, placed, suspect: Vec::new(), accuracy };
    let mut file = GroupFile::start(&WEATHER, Vec::new())?;
    file.add(weather_group(&site.name, &AlignedHome::restore(&site, vec![weather]))?)?;
    tables.push(file.finish()?);
    tables.extend((1..6_u8).map(|seed| (0..200_u8).map(|i| i.wrapping_mul(seed).wrapping_mul(37)).collect()));
    Ok(tables)
}

fn write(folder: &Path, seeds: impl IntoIterator<Item = Vec<u8>>) -> Done {
    fs::create_dir_all(folder)?;
    for (number, seed) in seeds.into_iter().enumerate() {
        fs::write(folder.join(format!("seed-{number:03}")), seed)?;
    }
    Ok(())
}
