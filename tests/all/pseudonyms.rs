//! `--pseudonyms`: no name of a home, room, logger, file or folder is in any result, and the numbers are the same.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::io::{Cursor, Read, Write};
use std::path::Path;

use arrow::array::AsArray;
use arrow::datatypes::DataType;
use bytes::Bytes;
use parquet::arrow::arrow_reader::ParquetRecordBatchReaderBuilder;

use crate::program::{Ran, SampleAudit, files_in, run, sample_folder};
use crate::small_site::{ROSTER, SITE, SmallSite, two_days, written_time};

const KEY: &str = "a key that nobody guesses 7f3a\n";

/// Every text of a result, readable: members of a workbook, cells of a table, else the file itself.
fn readable(name: &str, bytes: &[u8]) -> Vec<(String, String)> {
    let whole = (name.to_owned(), String::from_utf8_lossy(bytes).into_owned());
    if name.ends_with(".xlsx") {
        let mut zip = zip::ZipArchive::new(Cursor::new(bytes)).unwrap();
        let mut member = |at: usize| {
            let mut file = zip.by_index(at).unwrap();
            let mut text = String::new();
            file.read_to_string(&mut text).unwrap();
            (format!("{name} member {at}"), text)
        };
        return (0..zip::ZipArchive::new(Cursor::new(bytes)).unwrap().len()).map(&mut member).collect();
    }
    if !name.ends_with(".parquet") {
        return vec![whole];
    }
    let file = Bytes::copy_from_slice(bytes);
    let reader = ParquetRecordBatchReaderBuilder::try_new(file).unwrap();
    let mut texts = vec![(format!("{name} metadata"), format!("{:?}", reader.metadata()))];
    for batch in reader.build().unwrap().map(Result::unwrap) {
        for (column, field) in batch.columns().iter().zip(batch.schema().fields()) {
            // Numbers and times name nobody.
            if *field.data_type() != DataType::Utf8 {
                continue;
            }
            let words: BTreeSet<&str> = column.as_string::<i32>().iter().flatten().collect();
            let words: Vec<&str> = words.into_iter().collect();
            texts.push((format!("{name} {}", field.name()), words.join("\n")));
        }
    }
    texts
}

/// Whether a name stands in a text by itself, and not as a part of a longer word or number.
fn stands_in(text: &str, name: &str) -> bool {
    let beside = |c: Option<char>| c.is_some_and(char::is_alphanumeric);
    text.match_indices(name).any(|(at, _)| {
        !beside(text[..at].chars().next_back()) && !beside(text[at + name.len()..].chars().next())
    })
}

/// Where original names are in results or on the terminal.
fn leaks(folder: &Path, ran: &Ran, names: &[String]) -> Vec<String> {
    let mut texts =
        vec![("stdout".to_owned(), ran.stdout.clone()), ("stderr".to_owned(), ran.stderr.clone())];
    let files = files_in(folder);
    assert!(!files.is_empty(), "no results: {}", ran.stderr);
    texts.extend(files.keys().map(|name| ("name of a file".to_owned(), name.clone())));
    texts.extend(files.iter().flat_map(|(name, bytes)| readable(name, bytes)));
    let words = |text: &str| -> BTreeSet<String> {
        text.split(|c: char| !c.is_alphanumeric()).map(str::to_owned).collect()
    };
    let of_names: Vec<BTreeSet<String>> = names.iter().map(|name| words(name)).collect();
    let mut leaks = Vec::new();
    for (place, text) in &texts {
        // Most names have a word that is nowhere.
        let there = words(text);
        let may_be = names.iter().zip(&of_names).filter(|(_, words)| words.is_subset(&there));
        for name in may_be.map(|(name, _)| name).filter(|name| stands_in(text, name)) {
            let at = text.find(name.as_str()).unwrap();
            let from = text.char_indices().map(|(i, _)| i).take_while(|i| *i <= at).last().unwrap();
            let around: String = text[from..].chars().take(60).collect();
            leaks.push(format!("{name} in {place}: {around}"));
        }
    }
    leaks
}

/// A folder for keys and results outside of the site.
struct Elsewhere(tempfile::TempDir);

impl Elsewhere {
    fn new() -> Self {
        let elsewhere = Self(tempfile::tempdir().unwrap());
        fs::write(elsewhere.path("key"), KEY).unwrap();
        elsewhere
    }

    fn path(&self, name: &str) -> String {
        self.0.path().join(name).display().to_string()
    }

    fn run(&self, site: &Path, command: &[&str], out: &str) -> Ran {
        let (key, out) = (self.path("key"), self.path(out));
        run(site, &[command, &["--pseudonyms", &key, "--out", &out]].concat())
    }

    fn leaks(&self, out: &str, ran: &Ran, names: &[String]) -> Vec<String> {
        leaks(Path::new(&self.path(out)), ran, names)
    }
}

/// Rows of a CSV table as sets of cells, without those that names stand in.
fn numbers(bytes: &[u8], named: &[&str]) -> Vec<String> {
    let mut reader = csv::Reader::from_reader(bytes);
    let header = reader.headers().unwrap().clone();
    let kept = |row: csv::StringRecord| -> String {
        let cells = header.iter().zip(row.iter()).filter(|(column, _)| !named.contains(column));
        cells.map(|(_, cell)| format!("{cell}|")).collect()
    };
    let mut rows: Vec<String> = reader.records().map(|row| kept(row.unwrap())).collect();
    rows.sort();
    rows
}

/// Every name that the roster and the site file of the sample have, but rooms that are called as they are used.
fn names_of_the_sample() -> Vec<String> {
    let mut names: Vec<String> =
        ["Alder Row", "alder-row", "before the visit", "after the visit", "weather.csv", "sample_data"]
            .map(str::to_owned)
            .to_vec();
    let mut roster = csv::Reader::from_path(sample_folder().join("roster.csv")).unwrap();
    for row in roster.deserialize().map(Result::<BTreeMap<String, String>, _>::unwrap) {
        let uses = ["living", "bedroom", "kitchen", "bathroom", "hall"];
        let free = |name: &&String| !uses.contains(&name.as_str());
        names.extend([&row["home"], &row["logger"], &row["file"]].map(Clone::clone));
        names.extend(Some(&row["room"]).filter(free).cloned());
    }
    names.sort();
    names.dedup();
    names
}

#[test]
fn no_name_of_the_sample_is_in_any_result_and_the_numbers_are_the_same() {
    let (sample, elsewhere, names) = (SampleAudit::get(), Elsewhere::new(), names_of_the_sample());
    assert!(names.len() > 80, "{names:?}");
    let plain = leaks(sample.folder(), &sample.ran, &names);
    assert!(plain.len() > 100, "the search finds names where they are");

    let audit = elsewhere.run(&sample_folder(), &["audit", "site.toml"], "audit");
    assert_eq!(audit.code, sample.ran.code, "{}", audit.stderr);
    assert_eq!(elsewhere.leaks("audit", &audit, &names), Vec::<String>::new());
    let (before, after) = (files_in(sample.folder()), files_in(Path::new(&elsewhere.path("audit"))));
    let copies = ["roster.csv", "site.toml"];
    assert!(before.keys().filter(|name| !copies.contains(&name.as_str())).eq(after.keys()));
    for (table, named) in [
        ("metrics.csv", &["site", "home", "room", "period"][..]),
        ("events.csv", &["site", "home", "room", "period"]),
        ("loggers.csv", &["site", "home", "room", "logger", "file"]),
    ] {
        assert!(numbers(&before[table], named) == numbers(&after[table], named), "{table} differs");
    }
    assert_eq!(
        after["findings.csv"].iter().filter(|b| **b == b'\n').count(),
        before["findings.csv"].iter().filter(|b| **b == b'\n').count()
    );

    let aligned = elsewhere.path("audit");
    let from = elsewhere.run(&sample_folder(), &["audit", "site.toml", "--from-aligned", &aligned], "from");
    assert_eq!(from.code, Some(0), "{}", from.stderr);
    assert_eq!(elsewhere.leaks("from", &from, &names), Vec::<String>::new());
    let of_aligned = files_in(Path::new(&elsewhere.path("from")));
    assert!(
        of_aligned["metrics.csv"] == after["metrics.csv"] && of_aligned["events.csv"] == after["events.csv"]
    );

    let compare = [
        "compare",
        "site.toml",
        "--before",
        "before the visit",
        "--after",
        "after the visit",
        "--from-aligned",
        &aligned,
    ];
    let compared = elsewhere.run(&sample_folder(), &compare, "compared");
    assert_eq!(compared.code, Some(0), "{}", compared.stderr);
    assert_eq!(elsewhere.leaks("compared", &compared, &names), Vec::<String>::new());
}

/// Rows of an export that names its loggers, every ten minutes.
fn of_loggers(loggers: &[&str]) -> String {
    let row = |n: usize, at: usize| {
        format!(
            "{};{};{:.2}\n",
            loggers[at],
            written_time(n),
            19.5 + at as f64 + ((n * 7 + at * 3) % 11) as f64 / 20.0
        )
    };
    let rows: String = (0..400).flat_map(|n| (0..loggers.len()).map(move |at| row(n, at))).collect();
    format!("Messstelle Lindengasse;Zeit;Temperatur Ottilie (°C)\n{rows}")
}

/// A workbook with a sheet of that name.
fn workbook(sheet: &str) -> Vec<u8> {
    let mut book = rust_xlsxwriter::Workbook::new();
    for (name, shift) in [(sheet, 0.0), ("Wilhelmine", 1.0)] {
        let page = book.add_worksheet().set_name(name).unwrap();
        page.write(0, 0, "time").unwrap().write(0, 1, "temperature (°C)").unwrap();
        for n in 0..300_u32 {
            page.write(n + 1, 0, written_time(n as usize)).unwrap();
            page.write(n + 1, 1, 20.0 + shift + f64::from(n * 5 % 13) / 20.0).unwrap();
        }
    }
    book.save_to_buffer().unwrap()
}

/// A site in which everything bears a name of its own, and in which much is wrong.
fn odd_site() -> SmallSite {
    let site = r#"[site]
name = "Haus Lindengasse 12"
time_zone = "Europe/Vienna"
roster = "Bewohnerliste.csv"
exports = "Ablesung Jaenner"
outdoor = { file = "Hohewarte.csv", column = "Aussenluft", unit = "°C" }
[band]
lower = "20 °C"
upper = "24 °C"
[heat_rule]
season = { from = "10-01", to = "05-31" }
window = [{ from = "00:00", to = "24:00", minimum = "20 °C" }]
[colocation]
from = "2026-01-05 00:00"
to = "2026-01-05 06:00"
accept_without_evidence = true
[[period]]
name = "bevor Ottilie auszog"
from = "2026-01-05"
to = "2026-01-05"
[[period]]
name = "seit Ottilies Auszug"
from = "2026-01-06"
to = "2026-01-07"
"#;
    let roster = "\
home,room,use,heated,logger,file,column,floor,line
Ünal & Söhne,Schlafstube,bedroom,yes,Fühler Ost,Tür 3/Söhne <2>.csv,,Hochparterre,Oststiege
Ünal & Söhne,Bath,bathroom,yes,Fühler West,Tür 3/Söhne <2>.csv,,Hochparterre,Oststiege
'=Zdenka,Mädchenkammer,living,yes,Grillparzer,Mappe.xlsx#Ottilie,,Mezzanin,Weststiege
'=Zdenka,Kabinett,bedroom,no,Nestroy,Zdenka.csv,Innenhof,Mezzanin,Weststiege
'=Zdenka,Speis,other,no,Raimund,Verschollen.csv,,Mezzanin,Weststiege
Quasimodo,Turmstube,living,yes,Glocke,Bilanz.csv,,,
Quasimodo,Empore,hall,yes,Orgel,Mappe.xlsx,,,
Quasimodo,Sakristei,hall,yes,Kelch,Seltsam.csv,Weihrauch,,
Quasimodo,Gruft,other,no,,,,,
";
    let small = SmallSite::new(&format!("{SITE}# unused"), ROSTER);
    small.write("Haus.toml", site.as_bytes());
    small.write("Bewohnerliste.csv", roster.as_bytes());
    let at = |name: &str| format!("Ablesung Jaenner/{name}");
    let mut shared = of_loggers(&["Fühler Ost", "Fühler West", "Herrenzimmer"]);
    shared.push_str("Fühler Ost;2026-01-07 23:00;Frau Pribil schlief\nFühler West;gestern Nacht;20.5\n");
    small.write(&at("Tür 3/Söhne <2>.csv"), shared.as_bytes());
    small.write(&at("Mappe.xlsx"), &workbook("Ottilie"));
    let wide = String::from_utf8(two_days()).unwrap().replace("temperature (°C)", "Innenhof");
    small.write(&at("Zdenka.csv"), wide.as_bytes());
    small.write(&at("Bilanz.csv"), b"Miete,Kaution Pribil\n700,2100\n");
    let open: String = (1..9).map(|n| format!("0{n}/0{n}/2026 10:00,20.{n}\n")).collect();
    small.write(
        &at("Seltsam.csv"),
        format!("Zeit,Temperatur Kerze (°C),Temperatur Docht (°C)\n{open}").as_bytes(),
    );
    small.write(&at("Kopie von Pribil.csv"), wide.as_bytes());
    let weather: String = (0..80).map(|n| format!("{},{}\n", written_time(n * 6), n % 9)).collect();
    small.write(&at("Hohewarte.csv"), format!("time,Aussenluft\n{weather}").as_bytes());
    small
}

const ODD_NAMES: [&str; 40] = [
    "Lindengasse",
    "lindengasse",
    "Bewohnerliste",
    "Ablesung",
    "Jaenner",
    "Hohewarte",
    "Aussenluft",
    "Ottilie",
    "Ottilies",
    "auszog",
    "Ünal",
    "Söhne",
    "Schlafstube",
    "Fühler",
    "Tür",
    "Hochparterre",
    "Oststiege",
    "Bath",
    "Zdenka",
    "Mädchenkammer",
    "Grillparzer",
    "Mappe",
    "Mezzanin",
    "Weststiege",
    "Kabinett",
    "Nestroy",
    "Innenhof",
    "Speis",
    "Raimund",
    "Verschollen",
    "Quasimodo",
    "Turmstube",
    "Glocke",
    "Bilanz",
    "Empore",
    "Pribil",
    "Wilhelmine",
    "Sakristei",
    "Herrenzimmer",
    "Gruft",
];

#[test]
fn no_odd_name_is_in_any_result_whatever_is_wrong_with_the_exports() {
    let (small, elsewhere) = (odd_site(), Elsewhere::new());
    let more = [
        "Orgel",
        "Kelch",
        "Seltsam",
        "Weihrauch",
        "Kerze",
        "Docht",
        "Messstelle",
        "gestern",
        "schlief",
        "Kaution",
        "Haus.toml",
    ];
    let names: Vec<String> = ODD_NAMES.iter().chain(&more).map(|name| (*name).to_owned()).collect();
    let site = small.folder();
    let plain = run(site, &["audit", "Haus.toml", "--out", &elsewhere.path("plain")]);
    assert_eq!(plain.code, Some(1), "{}", plain.stderr);
    let there = elsewhere.leaks("plain", &plain, &names);
    for name in ["Zdenka", "Herrenzimmer", "Wilhelmine", "gestern", "Verschollen", "Kerze"] {
        assert!(
            there.iter().any(|leak| leak.starts_with(name)),
            "{name} is nowhere, so nothing is shown: {}",
            plain.stderr
        );
    }

    let audit = elsewhere.run(site, &["audit", "Haus.toml"], "audit");
    assert_eq!(audit.code, Some(1), "{}", audit.stderr);
    assert_eq!(elsewhere.leaks("audit", &audit, &names), Vec::<String>::new());
    let (before, after) =
        (files_in(Path::new(&elsewhere.path("plain"))), files_in(Path::new(&elsewhere.path("audit"))));
    for (table, named) in [
        ("metrics.csv", &["site", "home", "room", "period"][..]),
        ("loggers.csv", &["site", "home", "room", "logger", "file"]),
    ] {
        assert!(numbers(&before[table], named) == numbers(&after[table], named), "{table} differs");
    }
    let provenance: serde_json::Value = serde_json::from_slice(&after["provenance.json"]).unwrap();
    for input in provenance["inputs"].as_array().unwrap() {
        assert!(input.get("sha256").is_none() && input.get("bytes").is_none(), "{input}");
        assert_eq!(input["hmac_sha256"].as_str().unwrap().len(), 64);
    }
    assert!(
        readable("set_aside.parquet", &after["set_aside.parquet"])
            .iter()
            .any(|(place, text)| place.ends_with(" text") && text.trim().is_empty())
    );

    let compare =
        ["compare", "Haus.toml", "--before", "bevor Ottilie auszog", "--after", "seit Ottilies Auszug"];
    let compared = elsewhere.run(site, &compare, "compared");
    assert_eq!(compared.code, Some(1), "{}", compared.stderr);
    assert_eq!(elsewhere.leaks("compared", &compared, &names), Vec::<String>::new());
    for home in ["=Zdenka", "Ünal & Söhne", "Quasimodo"] {
        let complaint =
            ["complaint", "Haus.toml", "--home", home, "--from", "2026-01-05", "--to", "2026-01-06"];
        let complained = elsewhere.run(site, &complaint, "sheet");
        assert_eq!(complained.code, Some(1), "{}", complained.stderr);
        assert_eq!(elsewhere.leaks("sheet", &complained, &names), Vec::<String>::new());
        assert!(complained.stdout.contains("home home-"), "{}", complained.stdout);
    }
}

#[test]
fn a_table_under_pseudonyms_asks_for_their_key() {
    let (small, elsewhere) = (SmallSite::new(SITE, ROSTER), Elsewhere::new());
    let audit = elsewhere.run(small.folder(), &["audit", "site.toml"], "audit");
    assert_eq!(audit.code, Some(0), "{}", audit.stderr);
    let again = elsewhere.run(small.folder(), &["audit", "site.toml"], "again");
    assert_eq!(again.code, Some(0), "{}", again.stderr);
    let (first, second) = (elsewhere.path("audit"), elsewhere.path("again"));
    assert!(files_in(Path::new(&first)) == files_in(Path::new(&second)), "one key, the same bytes");
    let aligned = elsewhere.path("audit");
    let from = ["audit", "site.toml", "--from-aligned", &aligned];
    let without = run(small.folder(), &[&from[..], &["--out", "without"]].concat());
    assert_eq!(without.code, Some(2));
    assert!(without.stderr.contains("--pseudonyms"), "{}", without.stderr);
    fs::write(elsewhere.path("key"), "another key of enough letters").unwrap();
    let other = elsewhere.run(small.folder(), &from, "other");
    assert_eq!(other.code, Some(2), "{}", other.stdout);
}

#[test]
fn a_key_that_can_be_guessed_or_would_be_given_away_is_refused() {
    let (small, elsewhere) = (SmallSite::new(SITE, ROSTER), Elsewhere::new());
    let refused = |key: &str, words: &str| {
        let out = elsewhere.path("audit");
        let ran = run(small.folder(), &["audit", "site.toml", "--pseudonyms", key, "--out", &out]);
        assert_eq!(ran.code, Some(2), "{}", ran.stdout);
        assert!(ran.stderr.contains(words) && ran.stderr.contains("hint: "), "{}", ran.stderr);
        assert!(!Path::new(&out).join("report.html").exists());
    };
    fs::File::create(elsewhere.path("short")).unwrap().write_all(b"only 15 letters\n\n\n").unwrap();
    refused(&elsewhere.path("short"), "less than 16 bytes");
    refused(&elsewhere.path("nothing"), "could not be read");
    fs::create_dir(elsewhere.path("audit")).unwrap();
    fs::write(elsewhere.path("audit/key"), KEY).unwrap();
    refused(&elsewhere.path("audit/key"), "in the folder of the results");
}

#[test]
fn results_say_who_should_see_them() {
    let (small, elsewhere) = (SmallSite::new(SITE, ROSTER), Elsewhere::new());
    assert_eq!(small.audit().code, Some(0));
    assert_eq!(elsewhere.run(small.folder(), &["audit", "site.toml"], "audit").code, Some(0));
    let keyed = files_in(Path::new(&elsewhere.path("audit")));
    let plain = files_in(&small.out());
    for name in ["report.html", "datapackage.json"] {
        let (plain, keyed) = (String::from_utf8_lossy(&plain[name]), String::from_utf8_lossy(&keyed[name]));
        for text in [&plain, &keyed] {
            assert!(
                text.contains("tell when people are at home") && text.contains("to nobody else"),
                "{name}"
            );
        }
        assert!(plain.contains("the homes are named here") && keyed.contains("by pseudonyms"), "{name}");
    }
}

#[test]
fn the_report_shows_where_a_bad_cell_is_and_never_its_text() {
    let small = SmallSite::new(SITE, ROSTER);
    let bad = String::from_utf8(two_days()).unwrap() + "2026-01-07 00:00,Frau Pribil schlief\n";
    small.write("exports/living.csv", bad.as_bytes());
    let ran = small.audit();
    assert!(
        ran.stderr.contains("living.csv:290: 1 row set aside") && ran.stderr.contains("Pribil"),
        "{}",
        ran.stderr
    );
    let results = files_in(&small.out());
    let report = String::from_utf8_lossy(&results["report.html"]);
    assert!(report.contains("living.csv:290") && report.contains("1 row set aside: bad value"), "no place");
    assert!(!report.contains("Pribil"));
    for (place, text) in readable("findings.xlsx", &results["findings.xlsx"]) {
        assert!(!text.contains("Pribil"), "{place}");
    }
    assert!(
        readable("set_aside.parquet", &results["set_aside.parquet"])
            .iter()
            .any(|(_, text)| text.contains("Pribil"))
    );
}
