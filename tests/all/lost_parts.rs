//! Parts of packed files that are lost, and files that nobody looks at: each is named.

use std::io::{Cursor, Write};

use rust_xlsxwriter::Workbook;
use zip::write::SimpleFileOptions;

use crate::program::run;
use crate::small_site::{ROSTER, SmallSite, short_site, standing, two_days, written_time};

fn site_with(name: &str, bytes: &[u8], living: &str) -> SmallSite {
    let site = SmallSite::new(&short_site(), &ROSTER.replace("living.csv", living));
    site.write(&format!("exports/{name}"), bytes);
    site.remove("exports/living.csv");
    site
}

fn archive(members: &[(&str, &[u8])]) -> Vec<u8> {
    let mut zip = zip::ZipWriter::new(Cursor::new(Vec::new()));
    for (name, bytes) in members {
        let stored = SimpleFileOptions::default().compression_method(zip::CompressionMethod::Stored);
        zip.start_file(*name, stored).unwrap();
        zip.write_all(bytes).unwrap();
    }
    zip.finish().unwrap().into_inner()
}

/// Writes one name over another of the same length: the writer of archives refuses two of one name.
fn renamed(mut bytes: Vec<u8>, from: &str, to: &str) -> Vec<u8> {
    assert_eq!(from.len(), to.len());
    while let Some(at) = bytes.windows(from.len()).position(|w| w == from.as_bytes()) {
        bytes[at..at + to.len()].copy_from_slice(to.as_bytes());
    }
    bytes
}

fn warmer() -> Vec<u8> {
    String::from_utf8(two_days()).unwrap().replace(",20.", ",21.").into_bytes()
}

#[test]
fn two_members_of_one_name_are_named_and_neither_is_read() {
    let three = [("living.csv", &two_days()[..]), ("living.cs2", &warmer()), ("attic.csv", &two_days())];
    let bytes = renamed(archive(&three), "living.cs2", "living.csv");
    let site = site_with("all.zip", &bytes, "all.zip#living.csv");
    let ran = site.audit();
    assert_eq!(ran.code, Some(1), "{}", ran.stderr);
    let words = "the archive has several members \"living.csv\" that differ";
    assert!(ran.stderr.contains(words), "{}", ran.stderr);
    assert!(standing(&ran.stdout, "1A") != "accept", "{}", ran.stdout);
    for args in [&["inspect", "exports/all.zip"][..], &["draft", "exports", "--out", "drafted"]] {
        let ran = run(site.folder(), args);
        assert_eq!(ran.code, Some(1), "{args:?}: {}", ran.stdout);
        assert!(format!("{}{}", ran.stdout, ran.stderr).contains(words), "{args:?}: {}", ran.stdout);
    }
}

#[test]
fn a_part_that_nobody_named_is_lost_with_a_word_and_the_others_are_read() {
    let three = [("living.csv", &two_days()[..]), ("kitch1.csv", &two_days()), ("kitch2.csv", &warmer())];
    let bytes = renamed(archive(&three), "kitch2.csv", "kitch1.csv");
    let ran = site_with("all.zip", &bytes, "all.zip#living.csv").audit();
    assert_eq!(ran.code, Some(1), "{}", ran.stderr);
    assert!(ran.stderr.contains("several members \"kitch1.csv\" that differ"), "{}", ran.stderr);
    assert!(standing(&ran.stdout, "1A") == "accept", "{}", ran.stdout);
}

#[test]
fn members_of_different_names_or_the_same_content_are_read() {
    let two = [("living.csv", &two_days()[..]), ("living.cs2", &two_days())];
    for bytes in [archive(&two), renamed(archive(&two), "living.cs2", "living.csv")] {
        let ran = site_with("all.zip", &bytes, "all.zip#living.csv").audit();
        assert_eq!(ran.code, Some(0), "{}", ran.stderr);
        assert!(standing(&ran.stdout, "1A") == "accept", "{}", ran.stdout);
    }
}

fn workbook() -> Vec<u8> {
    let mut book = Workbook::new();
    for name in ["Living", "Attic"] {
        let sheet = book.add_worksheet();
        sheet.set_name(name).unwrap();
        sheet.write(0, 0, "time").unwrap();
        sheet.write(0, 1, "temperature (°C)").unwrap();
        for n in 0..288_u32 {
            sheet.write(n + 1, 0, written_time(n as usize)).unwrap();
            sheet.write(n + 1, 1, 20.5 + f64::from(n % 6) / 10.0).unwrap();
        }
    }
    book.save_to_buffer().unwrap()
}

/// The workbook again, with one of its inner files changed; `None` leaves it out.
fn with_member(book: &[u8], name: &str, change: impl Fn(&[u8]) -> Option<Vec<u8>>) -> Vec<u8> {
    let mut from = zip::ZipArchive::new(Cursor::new(book)).unwrap();
    let mut to = zip::ZipWriter::new(Cursor::new(Vec::new()));
    for i in 0..from.len() {
        let mut file = from.by_index(i).unwrap();
        let own = file.name().unwrap().into_owned();
        let mut bytes = Vec::new();
        std::io::Read::read_to_end(&mut file, &mut bytes).unwrap();
        let bytes = if own == name { change(&bytes) } else { Some(bytes) };
        if let Some(bytes) = bytes {
            to.start_file(own, SimpleFileOptions::default()).unwrap();
            to.write_all(&bytes).unwrap();
        }
    }
    to.finish().unwrap().into_inner()
}

#[test]
fn a_sheet_that_cannot_be_opened_is_named_and_the_other_is_read() {
    let half = |bytes: &[u8]| Some([&bytes[..bytes.len() / 2], b"</wrong>"].concat());
    let book = workbook();
    let second = "xl/worksheets/sheet2.xml";
    for damaged in [with_member(&book, second, |_| None), with_member(&book, second, half)] {
        let ran = site_with("book.xlsx", &damaged, "book.xlsx#Living").audit();
        assert_eq!(ran.code, Some(1), "{}", ran.stderr);
        assert!(ran.stderr.contains("the sheet \"Attic\" of the workbook is damaged"), "{}", ran.stderr);
        assert!(standing(&ran.stdout, "1A") == "accept", "{}", ran.stdout);
        let site = site_with("book.xlsx", &damaged, "book.xlsx#Attic");
        let ran = site.audit();
        assert_eq!(ran.code, Some(1), "{}", ran.stderr);
        assert!(standing(&ran.stdout, "1A") != "accept", "{}", ran.stdout);
        let ran = run(site.folder(), &["draft", "exports", "--out", "drafted"]);
        assert_eq!(ran.code, Some(1), "{}", ran.stdout);
        assert!(ran.stdout.contains("book.xlsx#Attic: the sheet"), "{}", ran.stdout);
    }
}

#[test]
fn a_whole_workbook_is_read() {
    let ran = site_with("book.xlsx", &workbook(), "book.xlsx#Living").audit();
    assert_eq!(ran.code, Some(0), "{}", ran.stderr);
    assert!(!ran.stderr.contains("damaged"), "{}", ran.stderr);
}

#[cfg(unix)]
#[test]
fn links_hidden_files_and_deep_ones_are_named() {
    use std::os::unix::fs::symlink;
    let site = SmallSite::new(&short_site(), ROSTER);
    let deep = format!("{}deep.csv", "d/".repeat(10));
    for name in [
        "exports/spare.csv",
        "exports/.hidden.csv",
        "exports/~old.csv",
        "elsewhere/far.csv",
        "exports/.DS_Store",
    ] {
        site.write(name, &two_days());
    }
    site.write(&format!("exports/{deep}"), &two_days());
    let exports = site.folder().join("exports");
    symlink(site.folder().join("elsewhere/far.csv"), exports.join("link.csv")).unwrap();
    symlink(site.folder().join("elsewhere"), exports.join("folder")).unwrap();
    let told = [
        "link.csv",
        "folder",
        "a link, which is not followed",
        ".hidden.csv",
        "~old.csv",
        "hidden or temporary",
        &deep,
        "more than 8 folders deep",
        "spare.csv",
    ];
    let ran = site.audit();
    assert_eq!(ran.code, Some(0), "{}", ran.stderr);
    for words in told {
        assert!(ran.stderr.contains(words), "{words}: {}", ran.stderr);
    }
    assert!(!ran.stderr.contains("DS_Store"), "{}", ran.stderr);
    let ran = run(site.folder(), &["draft", "exports", "--out", "drafted"]);
    for words in &told[..told.len() - 1] {
        assert!(ran.stdout.contains(words), "{words}: {}", ran.stdout);
    }
}

#[cfg(unix)]
#[test]
fn a_link_that_the_roster_names_is_read_and_not_told() {
    let site = SmallSite::new(&short_site(), &ROSTER.replace("living.csv", "link.csv"));
    let exports = site.folder().join("exports");
    std::fs::create_dir(exports.join("deeper")).unwrap();
    std::fs::rename(exports.join("living.csv"), exports.join("deeper/living.csv")).unwrap();
    std::os::unix::fs::symlink("deeper/living.csv", exports.join("link.csv")).unwrap();
    let ran = site.audit();
    assert_eq!(ran.code, Some(0), "{}", ran.stderr);
    assert!(!ran.stderr.contains("not looked at"), "{}", ran.stderr);
}
