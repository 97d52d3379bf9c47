//! Files made to harm: each is told in a clear note, in seconds and in bounded memory, and the rest is audited.
#![cfg(target_os = "linux")]

use std::fs::{self, File};
use std::path::Path;
use std::process::{Command, ExitStatus, Stdio};
use std::time::Duration;

use parquet::file::metadata::{FileMetaData, ParquetMetaData};
use tempfile::TempDir;

use crate::wild::bombs::{Member, archive, day, day_of_cells, gzip_bomb, open_document, parquet, workbook};

/// Memory that a run may take, in KB of address space.
const MOST_KB: u32 = 3_000_000;
/// Seconds that a run may take; a program built for tests on a busy machine is slow.
const MOST_S: u32 = 120;

pub(crate) struct Ran {
    pub(crate) code: Option<i32>,
    pub(crate) said: String,
}

/// A site of two rooms: one with a good export, one with the file under test.
pub(crate) struct Place {
    folder: TempDir,
}

impl Place {
    pub(crate) fn new(file: &str, more: &str) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let site = "[site]\nname = \"Alder Row\"\ntime_zone = \"UTC\"\nroster = \"roster.csv\"\nexports = \"exports\"\nclock = \"utc\"\n";
        let roster = format!(
            "home,room,use,heated,logger,file,column\n1A,bedroom,bedroom,yes,L-1,good.csv,\n1A,living,living,yes,L-2,{file},{more}\n"
        );
        fs::create_dir(folder.path().join("exports")).unwrap();
        fs::write(folder.path().join("site.toml"), site).unwrap();
        fs::write(folder.path().join("roster.csv"), roster).unwrap();
        fs::write(folder.path().join("exports/good.csv"), day()).unwrap();
        Self { folder }
    }

    fn with(file: &str, bytes: &[u8]) -> Self {
        let place = Self::new(file, "");
        fs::write(place.path(&format!("exports/{file}")), bytes).unwrap();
        place
    }

    pub(crate) fn path(&self, name: &str) -> std::path::PathBuf {
        self.folder.path().join(name)
    }

    fn audit(&self) -> Ran {
        run(self.folder.path(), "audit site.toml --out out --no-report")
    }

    /// Audits: the file is named in a note, and the other room is there.
    pub(crate) fn names_it(&self, file: &str, words: &str) {
        let ran = self.audit();
        assert_eq!(ran.code, Some(1), "{}", ran.said);
        let about = |line: &str| line.starts_with("note: ") && line.contains(file) && line.contains(words);
        assert!(ran.said.lines().any(about), "no note with \"{words}\" about {file}: {}", ran.said);
        self.audited("bedroom");
    }

    /// Audits: the file is read like any other.
    pub(crate) fn reads_it(&self) {
        let ran = self.audit();
        assert_eq!(ran.code, Some(0), "{}", ran.said);
        self.audited("living");
    }

    fn audited(&self, room: &str) {
        let metrics = fs::read_to_string(self.path("out/metrics.csv")).unwrap();
        assert!(
            metrics.contains(&format!("\nAlder Row,1A,{room},whole record,all,mean,")),
            "{room} is not audited"
        );
    }
}

/// Runs the program with a bound on memory and time.
pub(crate) fn run(folder: &Path, args: &str) -> Ran {
    let program = env!("CARGO_BIN_EXE_evenrooms");
    let log = folder.join("said.txt");
    let out = File::create(&log).unwrap();
    let mut child = Command::new("sh")
        .args(["-c", &format!("ulimit -v {MOST_KB}; exec '{program}' {args}")])
        .current_dir(folder)
        .stdin(Stdio::null())
        .stdout(out.try_clone().unwrap())
        .stderr(out)
        .spawn()
        .unwrap();
    let mut status: Option<ExitStatus> = None;
    for _ in 0..MOST_S * 20 {
        status = child.try_wait().unwrap();
        if status.is_some() {
            break;
        }
        std::thread::sleep(Duration::from_millis(50));
    }
    if status.is_none() {
        child.kill().unwrap();
        child.wait().unwrap();
    }
    let said = String::from_utf8_lossy(&fs::read(log).unwrap()).into_owned();
    assert!(status.is_some(), "{args}: not done after {MOST_S} s\n{said}");
    assert!(!said.contains("panicked") && !said.contains("memory allocation"), "{args}: {said}");
    Ran { code: status.and_then(|s| s.code()), said }
}

#[test]
fn one_line_of_100_mb_is_no_export() {
    for (byte, name) in [(b'x', "letters.csv"), (b' ', "blanks.csv")] {
        Place::with(name, &vec![byte; 100_000_000]).names_it(name, "");
    }
}

#[test]
fn one_long_line_among_good_ones_is_set_aside() {
    let bytes = format!("{}{}\n", day(), "2".repeat(50_000_000));
    Place::with("long.csv", bytes.as_bytes()).names_it("long.csv", "set aside");
}

#[test]
fn a_million_columns_are_no_export() {
    let row = |i: usize| format!("2026-01-05 00:{i:02}{}\n", ",21.4".repeat(1_000_000));
    let text = format!("time{}\n{}", ",c".repeat(1_000_000), (10..13).map(row).collect::<String>());
    Place::with("wide.csv", text.as_bytes()).names_it("wide.csv", "");
}

#[test]
fn many_columns_are_asked_about_and_one_of_them_can_be_named() {
    let row = |i: usize| format!("2026-01-05 00:{i:02}{}\n", ",21.4".repeat(200_000));
    let text: String = (10..40).map(row).collect();
    Place::with("wide.csv", text.as_bytes()).names_it("wide.csv", "several columns");
    let named = Place::new("wide.csv", "2");
    fs::write(named.path("exports/wide.csv"), text).unwrap();
    named.reads_it();
}

#[test]
fn a_compressed_gigabyte_of_zeros_is_refused() {
    Place::with("zeros.csv.gz", &gzip_bomb(1024)).names_it("zeros.csv.gz", "unpacks to more than");
}

/// One gigabyte, as a member of an archive may claim or deny it.
const GIGABYTE: u32 = 1 << 30;

#[test]
fn an_archive_that_unpacks_to_a_gigabyte_is_refused() {
    let honest = archive(&[Member::bomb("a.csv", 1024, GIGABYTE)]);
    Place::with("bomb.zip", &honest).names_it("bomb.zip", "unpacks to more than");
    let lying = archive(&[Member::bomb("a.csv", 1024, 10)]);
    Place::with("bomb.zip", &lying).names_it("bomb.zip", "");
    let third = |name| Member::bomb(name, 300, 300 << 20);
    Place::with("two.zip", &archive(&[third("a.csv"), third("b.csv")])).names_it("two.zip", "");
}

#[test]
fn a_workbook_that_unpacks_to_a_gigabyte_is_refused() {
    let book = |bomb| archive(&[Member::stored("xl/workbook.xml", "<workbook/>"), bomb]);
    let honest = book(Member::bomb("xl/a.xml", 1024, GIGABYTE));
    Place::with("bomb.xlsx", &honest).names_it("bomb.xlsx", "unpacks to more than");
    Place::with("bomb.xlsx", &book(Member::bomb("xl/a.xml", 1024, 10))).names_it("bomb.xlsx", "");
}

#[test]
fn an_archive_that_lies_about_sizes_is_read_or_named() {
    for claims in [0, 10, 500_000_000, u32::MAX - 1] {
        let place = Place::with("lying.zip", &archive(&[Member::lying("a.csv", &day(), claims)]));
        let ran = place.audit();
        assert!(ran.code == Some(0) || ran.said.contains("note: lying.zip"), "{claims}: {}", ran.said);
        place.audited(if ran.code == Some(0) { "living" } else { "bedroom" });
    }
}

fn claiming_rows(metadata: ParquetMetaData) -> ParquetMetaData {
    const CLAIM: i64 = 1_000_000_000;
    let mut builder = metadata.into_builder();
    let groups = builder.take_row_groups().into_iter();
    let groups = groups.map(|g| g.into_builder().set_num_rows(CLAIM).build().unwrap()).collect();
    let metadata = builder.set_row_groups(groups).build();
    let old = metadata.file_metadata();
    let file = FileMetaData::new(old.version(), CLAIM, None, None, old.schema_descr_ptr(), None);
    ParquetMetaData::new(file, metadata.row_groups().to_vec())
}

#[test]
fn a_columnar_file_with_its_own_footer_is_read() {
    Place::with("good.parquet", &parquet(|m| m)).reads_it();
}

#[test]

fn a_footer_that_claims_a_billion_rows_is_named() {
    Place::with("claim.parquet", &parquet(claiming_rows)).names_it("claim.parquet", "");
}

/// A footer may name the same pages again and again: small on the disk, and without end in memory.
#[test]
fn a_footer_that_repeats_its_rows_is_refused() {
    let again = |metadata: ParquetMetaData| {
        let groups = metadata.row_groups().to_vec();
        metadata.into_builder().set_row_groups(vec![groups[0].clone(); 200_000]).build()
    };
    Place::with("again.parquet", &parquet(again)).names_it("again.parquet", "");
}

#[test]
fn a_sheet_that_claims_all_cells_is_read() {
    let sheet = format!("<dimension ref=\"A1:XFD1048576\"/><sheetData>{}</sheetData>", day_of_cells());
    Place::with("book.xlsx", &workbook(&sheet)).reads_it();
}

#[test]
fn a_sheet_with_a_cell_in_the_last_corner_is_read() {
    let corner = r#"<row r="1048576"><c r="XFD1048576"><v>1</v></c></row>"#;
    let sheet = format!("<sheetData>{}{corner}</sheetData>", day_of_cells());
    Place::with("book.xlsx", &workbook(&sheet)).reads_it();
}

/// Ways of saying that a value stands in a great many cells; all of them are the same to a program that reads them.
const REPEATS: [&str; 5] = [
    r#"<table:table-row table:number-rows-repeated="1000000000"><table:table-cell office:value-type="float" office:value="21"/></table:table-row>"#,
    r#"<table:table-row><table:table-cell table:number-columns-repeated="1000000000" office:value-type="float" office:value="21"/></table:table-row>"#,
    r#"<table:table-row table:number-rows-repeated = "1000000"><table:table-cell table:number-columns-repeated = "16000" office:value-type="float" office:value="21"/></table:table-row>"#,
    r#"<table:table-row table:style-name=">" table:number-rows-repeated="1000000"><table:table-cell table:style-name=">" table:number-columns-repeated="16000" office:value-type="float" office:value="21"/></table:table-row>"#,
    r#"<table:table-row><table:table-cell office:value-type="float" office:value="21"/></table:table-row><table:table-row table:number-rows-repeated="1000000"><table:table-cell table:number-columns-repeated="16000"/></table:table-row><table:table-row><table:table-cell table:number-columns-repeated="16000"/><table:table-cell office:value-type="float" office:value="21"/></table:table-row>"#,
];

#[test]
fn a_spreadsheet_whose_values_repeat_without_end_is_named() {
    for rows in REPEATS {
        Place::with("book.ods", &open_document(rows)).names_it("book.ods", "");
    }
}
