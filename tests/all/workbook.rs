//! The workbook: numbers beside their limits and verdicts, and sheets that a person can work in.

use std::collections::BTreeMap;
use std::io::{Cursor, Read};

use calamine::{Data, Range, Reader, Xlsx};

use crate::program::SampleAudit;
use crate::small_site::{HEAT_RULE, SITE, SmallSite};

fn sheets(bytes: &[u8]) -> BTreeMap<String, Range<Data>> {
    let mut book: Xlsx<_> = Xlsx::new(Cursor::new(bytes.to_vec())).unwrap();
    let names = book.sheet_names();
    names.into_iter().map(|name| (name.clone(), book.worksheet_range(&name).unwrap())).collect()
}

/// The cells of a sheet by their heads, row by row.
fn rows(sheet: &Range<Data>) -> Vec<BTreeMap<String, Data>> {
    let mut rows = sheet.rows();
    let heads: Vec<String> = rows.next().unwrap().iter().map(ToString::to_string).collect();
    rows.map(|row| heads.iter().cloned().zip(row.iter().cloned()).collect()).collect()
}

fn number(cell: &Data) -> Option<f64> {
    match cell {
        Data::Float(x) => Some(*x),
        Data::Int(n) => Some(*n as f64),
        _ => None,
    }
}

#[test]
fn numbers_of_rooms_stand_beside_low_high_limit_and_verdict() {
    let audit = SampleAudit::get();
    let bytes = std::fs::read(audit.path("findings.xlsx")).unwrap();
    let rooms = rows(&sheets(&bytes)["Rooms"]);
    let metrics = audit.csv("metrics.csv");
    let of = |room: &BTreeMap<String, Data>, metric: &str, column: &str| -> Option<f64> {
        let same = |row: &&BTreeMap<String, String>| {
            row["metric"] == metric
                && row["slice"] == "all"
                && ["home", "room", "period"]
                    .iter()
                    .zip(["Home", "Room", "Period"])
                    .all(|(a, b)| row[*a] == room[b].to_string())
        };
        metrics.iter().find(same)?[column].parse().ok()
    };
    let mut compared = 0;
    for room in &rooms {
        for (head, metric) in [("Below band, h", "hours_below_band"), ("Above band, h", "hours_above_band")] {
            for (end, column) in [("as read", "value"), ("low", "low"), ("high", "high")] {
                assert_eq!(number(&room[&format!("{head}, {end}")]), of(room, metric, column), "{room:?}");
                compared += 1;
            }
        }
        let judged = number(&room["Held against it, h"]).unwrap();
        let below = of(room, "heat_rule_hours_below", "value").unwrap_or(0.0);
        assert!(number(&room["Below legal minimum, h, low"]).is_none_or(|low| (low - below).abs() < 1e-9));
        let verdict = room["Below legal minimum, verdict"].to_string();
        assert_eq!(verdict == "certainly", below > 0.0, "{room:?}");
        assert!(judged > 0.0 || verdict == "not judged", "{room:?}");
        let even = room["From heated rooms, verdict"].to_string();
        assert!(["even", "uneven", "undecided", "not judged"].contains(&even.as_str()), "{room:?}");
        assert_eq!(number(&room["Limit ±, °F"]), Some(3.6));
    }
    assert!(compared >= 200, "{compared}");
}

#[test]
fn every_criterion_is_in_the_workbook_as_in_its_table() {
    let audit = SampleAudit::get();
    let bytes = std::fs::read(audit.path("findings.xlsx")).unwrap();
    let lines = rows(&sheets(&bytes)["Acceptance"]);
    let acceptance = audit.csv("acceptance.csv");
    assert_eq!(lines.len(), acceptance.len());
    for line in &lines {
        // Differences are shown in the units of the site.
        let by = if line["Unit"] == "°F" { 1.8 } else { 1.0 };
        let same = |row: &&BTreeMap<String, String>| {
            let near = |head: &str, column: &str| match (number(&line[head]), row[column].parse::<f64>().ok())
            {
                (Some(shown), Some(x)) => (shown - x * by).abs() < 1e-9,
                (None, None) => true,
                _ => false,
            };
            row["home"] == line["Home"].to_string()
                && row["room"] == line["Room"].to_string()
                && row["answer"] == line["Verdict"].to_string()
                && near("As read", "measured")
                && near("Low", "low")
                && near("High", "high")
                && near("Limit", "limit")
        };
        assert!(acceptance.iter().any(|row| same(&row)), "{line:?}");
    }
}

/// The inner files of a workbook, as text.
fn parts(bytes: &[u8]) -> BTreeMap<String, String> {
    let mut book = zip::ZipArchive::new(Cursor::new(bytes.to_vec())).unwrap();
    let mut part = |at: usize| {
        let mut file = book.by_index(at).unwrap();
        let mut text = String::new();
        file.read_to_string(&mut text).unwrap();
        (file.name().unwrap().into_owned(), text)
    };
    (0..part_count(bytes)).map(&mut part).collect()
}

fn part_count(bytes: &[u8]) -> usize {
    zip::ZipArchive::new(Cursor::new(bytes.to_vec())).unwrap().len()
}

#[test]
fn heads_stand_still_and_are_printed_and_no_cell_begins_a_formula() {
    let roster = "home,room,use,heated,logger,file\n=1A,+living,living,yes,@L-1,living.csv\n=1A,-bedroom,bedroom,yes,L-2,bedroom.csv\n";
    let small = SmallSite::new(&format!("{SITE}{HEAT_RULE}"), roster);
    assert_eq!(small.audit().code, Some(0));
    let parts = parts(&std::fs::read(small.out().join("findings.xlsx")).unwrap());
    let sheets: Vec<&String> =
        parts.iter().filter(|(name, _)| name.contains("worksheets/sheet")).map(|(_, x)| x).collect();
    assert_eq!(sheets.len(), 8);
    for sheet in &sheets {
        assert!(sheet.contains("state=\"frozen\"") && !sheet.contains("<f>"), "{sheet}");
    }
    assert!(sheets.iter().filter(|sheet| sheet.contains("<autoFilter")).count() >= 6);
    let titles = parts["xl/workbook.xml"].matches("_xlnm.Print_Titles").count();
    assert_eq!(titles, 8, "{}", parts["xl/workbook.xml"]);
}

#[test]
fn what_a_row_is_stands_on_both_pages_of_a_sheet_that_is_too_wide_for_one() {
    let audit = SampleAudit::get();
    let parts = parts(&std::fs::read(audit.path("findings.xlsx")).unwrap());
    assert!(parts["xl/workbook.xml"].contains("Rooms!$A:$C,Rooms!$1:$1"), "{}", parts["xl/workbook.xml"]);
}

#[test]
fn settings_that_decide_are_in_the_provenance_with_their_defaults() {
    let small = SmallSite::new(SITE, crate::small_site::ROSTER);
    assert_eq!(small.audit().code, Some(0));
    let bytes = std::fs::read(small.out().join("provenance.json")).unwrap();
    let provenance: serde_json::Value = serde_json::from_slice(&bytes).unwrap();
    let settings = &provenance["settings"];
    assert_eq!(settings["recovery"], serde_json::json!({ "tolerance_k": 0.5, "within_h": null }));
    let acceptance = &settings["acceptance"];
    assert_eq!(
        (&acceptance["days"], &acceptance["hours_above_percent"]),
        (&1.into(), &3.0.into()),
        "{acceptance}"
    );
    assert_eq!((&acceptance["evenness"], &acceptance["heat_rule_percent"]), (&"margin".into(), &1.0.into()));
}
