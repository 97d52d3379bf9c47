//! The walls of the house: who may use whom, how long a file may be, and what must be written down where.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

use crate::program::files_in;

const MOST_LINES: usize = 500;
/// The room that is a package of its own.
const PYTHON: &str = "python";

/// What each room may use, by the table in DEVELOPERS.md; `None`: everything.
type Permissions = BTreeMap<String, Option<BTreeSet<String>>>;

fn text_of(path: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(path);
    fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// Every file of `src` that somebody writes, by its path below it.
pub(crate) fn sources() -> BTreeMap<String, String> {
    let files = files_in(&Path::new(env!("CARGO_MANIFEST_DIR")).join("src"));
    let written = files.into_iter().filter(|(path, _)| !is_made(path));
    written.map(|(path, bytes)| (path, String::from_utf8(bytes).unwrap())).collect()
}

/// What cargo and Python leave among the sources of the package for Python.
fn is_made(path: &str) -> bool {
    let made = [".so", ".pyd", ".dylib", ".pyc", "/Cargo.lock"];
    path.starts_with("python/") && made.iter().any(|ending| path.ends_with(ending))
        || path.starts_with("python/target/")
}

/// The room of a file; `main.rs` and `lib.rs` are doors, and other files than Rust's have no edges.
fn room(path: &str) -> Option<&str> {
    let rust = path.strip_suffix(".rs").filter(|path| !["main", "lib"].contains(path))?;
    rust.split('/').next()
}

/// The part of a page below a heading of the second level.
fn section<'t>(page: &'t str, heading: &str) -> &'t str {
    let from = page.find(&format!("\n## {heading}\n")).unwrap_or_else(|| panic!("no heading `## {heading}`"));
    let below = &page[from + heading.len() + 5..];
    below.find("\n## ").map_or(below, |to| &below[..to])
}

/// Reads `| rooms | may use |` rows; notes in parentheses are for people.
fn permissions(table: &str) -> Permissions {
    let mut permissions = Permissions::new();
    let rows = table.lines().map(str::trim).filter(|line| line.starts_with('|') && !line.contains("---"));
    for row in rows.skip(1) {
        let cells: Vec<Vec<String>> = row.trim_matches('|').split('|').map(words).collect();
        let [rooms, may_use] = cells.as_slice() else { panic!("not two cells: {row}") };
        let may_use = match may_use.iter().map(String::as_str).collect::<Vec<_>>().as_slice() {
            ["everything"] => None,
            ["nothing"] => Some(BTreeSet::new()),
            rooms => Some(rooms.iter().map(|room| (*room).to_owned()).collect()),
        };
        for room in rooms {
            assert!(permissions.insert(room.clone(), may_use.clone()).is_none(), "{room} has two rows");
        }
    }
    permissions
}

fn words(cell: &str) -> Vec<String> {
    let mut plain = String::new();
    let mut depth = 0;
    for c in cell.chars() {
        depth += i32::from(c == '(');
        if depth == 0 && c != '`' {
            plain.push(c);
        }
        depth -= i32::from(c == ')');
    }
    plain.split(',').map(|word| word.trim().to_owned()).collect()
}

/// The lines of code with their numbers: no comments, no test modules (which rustfmt ends with a lone brace).
pub(crate) fn code(text: &str) -> Vec<(usize, &str)> {
    let mut lines = Vec::new();
    let (mut before, mut in_tests) = ("", false);
    for (number, line) in (1..).zip(text.lines()) {
        if in_tests {
            in_tests = line != "}";
        } else if before == "#[cfg(test)]" && line.starts_with("mod ") && line.ends_with('{') {
            in_tests = true;
        } else {
            lines.push((number, line.split("//").next().unwrap_or_default()));
        }
        before = line;
    }
    lines
}

/// What a line of a room uses of the crate: room names; an empty one where it is not a room's name that follows `crate::`. The
/// package for Python calls the crate by its name.
fn uses<'l>(of: &str, line: &'l str) -> impl Iterator<Item = &'l str> {
    let in_word = |c: char| c.is_alphanumeric() || c == '_';
    line.match_indices(if of == PYTHON { "evenrooms::" } else { "crate::" })
        .filter(move |(at, _)| !line[..*at].ends_with(in_word))
        .map(move |(at, found)| {
            let rest = &line[at + found.len()..];
            &rest[..rest.find(|c| !in_word(c)).unwrap_or(rest.len())]
        })
}

/// How many modules a file is below the crate's root, where rooms could be reached by `super::`.
fn depth(path: &str) -> usize {
    path.trim_end_matches("/mod.rs").split('/').count()
}

/// The longest chain of `super::` in a line.
fn supers(line: &str) -> usize {
    (1..).take_while(|length| line.contains(&"super::".repeat(*length))).count()
}

/// Every `crate::` of a file that its room may not use, and every way round the walls.
fn breaches(path: &str, text: &str, permissions: &Permissions) -> Vec<String> {
    let Some(room) = room(path) else { return Vec::new() };
    let Some(may_use) = permissions.get(room) else { return vec![format!("{path}: no row for {room}")] };
    let mut breaches = Vec::new();
    for (number, line) in code(text) {
        let mut refuse = |why: String| breaches.push(format!("{path}:{number}: {why}: {}", line.trim()));
        if supers(line) >= depth(path) || line.contains("use crate as") {
            refuse("leaves the room by a side door; write crate::…".to_owned());
        }
        for used in uses(room, line).filter(|used| *used != room) {
            match may_use {
                _ if !permissions.contains_key(used) => {
                    refuse("one `use crate::room::…` per room".to_owned())
                }
                Some(may_use) if !may_use.contains(used) => refuse(format!("{room} may not use {used}")),
                _ => {}
            }
        }
    }
    breaches
}

/// The table that the code as it stands would need, to be read before it is believed.
fn table_in_use(sources: &BTreeMap<String, String>) -> String {
    let mut edges: BTreeMap<&str, BTreeSet<&str>> = BTreeMap::new();
    for (path, text) in sources {
        let Some(room) = room(path) else { continue };
        let used = code(text)
            .into_iter()
            .flat_map(|(_, line)| uses(room, line))
            .filter(|used| !used.is_empty() && *used != room);
        edges.entry(room).or_default().extend(used);
    }
    let row = |(room, used): (&&str, &BTreeSet<&str>)| {
        let used = used.iter().copied().collect::<Vec<_>>().join(", ");
        format!("| {room} | {} |\n", if used.is_empty() { "nothing" } else { &used })
    };
    edges.iter().map(row).collect()
}

/// Tests without a `Source:` in their doc comment.
fn without_source(text: &str) -> Vec<&str> {
    let lines: Vec<&str> = text.lines().collect();
    let unsourced = |at: &usize| {
        let doc = lines[..*at].iter().rev().take_while(|line| line.starts_with("///"));
        lines[*at] == "#[test]" && !doc.into_iter().any(|line| line.starts_with("/// Source: "))
    };
    (0..lines.len()).filter(unsourced).map(|at| lines[at + 1]).collect()
}

#[test]
fn each_room_uses_only_what_it_may() {
    let sources = sources();
    let page = text_of("DEVELOPERS.md");
    let permissions = permissions(section(&page, "Who may use whom"));
    let rooms: BTreeSet<&str> = sources.keys().filter_map(|path| room(path)).collect();
    let named = permissions.iter().flat_map(|(room, used)| used.iter().flatten().chain([room]));
    let mut found: Vec<String> = named
        .filter(|room| !rooms.contains(room.as_str()))
        .map(|room| format!("{room} is no room"))
        .collect();
    found.extend(sources.iter().flat_map(|(path, text)| breaches(path, text, &permissions)));
    assert!(found.is_empty(), "{}\n\nin use:\n{}", found.join("\n"), table_in_use(&sources));
}

#[test]
fn no_file_is_too_long() {
    let lines = |text: &str| text.lines().count();
    let sources = sources();
    let long: Vec<&String> =
        sources.iter().filter(|(_, text)| lines(text) > MOST_LINES).map(|(path, _)| path).collect();
    assert!(long.is_empty(), "over {MOST_LINES} lines: {long:?}");
}

/// The files and folders at the top of `src`, as the map shows them.
fn tops(sources: &BTreeMap<String, String>) -> BTreeSet<String> {
    let top = |path: &String| match path.split_once('/') {
        Some((folder, _)) => format!("{folder}/"),
        None => path.clone(),
    };
    sources.keys().map(top).collect()
}

/// What a map shows and is not there, and what is there and not shown.
fn off_the_map(map: &str, there: &BTreeSet<String>) -> Vec<String> {
    let names = map.lines().filter(|line| !line.starts_with("  ")).filter_map(|line| line.split("  ").next());
    let shown: BTreeSet<String> = names.flat_map(|names| names.split(", ")).map(str::to_owned).collect();
    shown.symmetric_difference(there).filter(|name| !name.is_empty()).cloned().collect()
}

#[test]
fn the_map_shows_every_room_and_no_other() {
    let page = text_of("DEVELOPERS.md");
    let map = section(&page, "The map").split("```").nth(1).expect("a block in backticks under `## The map`");
    assert_eq!(off_the_map(map, &tops(&sources())), [] as [String; 0], "DEVELOPERS.md, `## The map`");
}

#[test]
fn a_stale_line_and_a_missing_room_are_seen() {
    let there: BTreeSet<String> = ["grid.rs", "grid/", "run/"].map(str::to_owned).into();
    let map = "\n  the shell\nrun/      commands\ngrid.rs, grid/   the grid\n";
    assert_eq!(off_the_map(map, &there), [] as [String; 0]);
    assert_eq!(off_the_map(&map.replace("run/ ", "walk/"), &there), ["run/", "walk/"]);
}

#[test]
fn every_file_says_what_it_is_for() {
    let is_silent = |(path, text): &(String, String)| match path.rsplit('.').next() {
        Some("rs") => !text.starts_with("//! "),
        Some("py" | "pyi") => !text.starts_with("\"\"\"") && !text.starts_with("#!"),
        _ => false,
    };
    let silent: Vec<String> = sources().into_iter().filter(is_silent).map(|(path, _)| path).collect();
    assert!(silent.is_empty(), "no first line `//! …` or `\"\"\"…`: {silent:?}");
}

#[test]
fn every_dependency_has_its_reason() {
    let manifest: toml::Table = text_of("Cargo.toml").parse().unwrap();
    let of_unix = &manifest["target"]["cfg(unix)"]["dependencies"];
    let tables = [&manifest["dependencies"], of_unix].map(|t| t.as_table().unwrap());
    let mut there: Vec<&String> = tables.into_iter().flat_map(|t| t.keys()).collect();
    there.sort_unstable();
    // The package for Python has what the program has, the program itself, and more.
    let of_python: toml::Table = text_of("src/python/Cargo.toml").parse().unwrap();
    let more = of_python["dependencies"].as_table().unwrap().keys();
    let more: Vec<&String> = more.filter(|name| *name != "evenrooms" && !there.contains(name)).collect();
    let page = text_of("DEVELOPERS.md");
    let tables: Vec<Vec<&str>> =
        section(&page, "Dependencies").split("\n| crate |").skip(1).map(names).collect();
    assert_eq!(tables, [there, more], "DEVELOPERS.md, `## Dependencies`");
}

/// What stands in the first cells of a table without its head.
fn names(table: &str) -> Vec<&str> {
    let rows = table.lines().filter_map(|line| line.strip_prefix("| "));
    rows.filter_map(|row| row.split(" | ").next()).collect()
}

/// The package for Python keeps the program's rules, but that macros of its library write `unsafe`, which `forbid` would refuse.
#[test]
fn nothing_of_ours_is_unsafe() {
    let [mut program, mut python] = ["Cargo.toml", "src/python/Cargo.toml"].map(|path| {
        let manifest: toml::Table = text_of(path).parse().unwrap();
        manifest
    });
    let unsafe_code =
        |of: &mut toml::Table| of["lints"]["rust"].as_table_mut().unwrap().remove("unsafe_code");
    let level = |level: &str| Some(toml::Value::String(level.to_owned()));
    assert_eq!([unsafe_code(&mut program), unsafe_code(&mut python)], [level("forbid"), level("deny")]);
    for what in ["lints", "profile"] {
        assert_eq!(program[what], python[what], "src/python/Cargo.toml, [{what}]");
    }
    for what in ["version", "edition", "rust-version", "license"] {
        assert_eq!(program["package"][what], python["package"][what], "src/python/Cargo.toml, {what}");
    }
    let words = ["unsafe ", "unsafe{", "unsafe_"];
    let says_unsafe = |(_, line): &(usize, &str)| words.iter().any(|word| line.contains(word));
    let own = sources().into_iter().filter(|(path, _)| path.ends_with(".rs"));
    let own: Vec<String> =
        own.filter(|(_, text)| code(text).iter().any(says_unsafe)).map(|(p, _)| p).collect();
    assert_eq!(own, [] as [String; 0]);
}

/// Name and version of every package that a `Cargo.lock` holds.
fn packages(path: &str) -> BTreeSet<(String, String)> {
    let lock: toml::Table = text_of(path).parse().unwrap();
    let text = |package: &toml::Value, key: &str| package[key].as_str().unwrap().to_owned();
    lock["package"].as_array().unwrap().iter().map(|p| (text(p, "name"), text(p, "version"))).collect()
}

#[test]
fn what_is_fuzzed_is_what_is_built() {
    let (built, fuzzed) = (packages("Cargo.lock"), packages("tests/fuzz/Cargo.lock"));
    let more: Vec<&str> = fuzzed.difference(&built).map(|(name, _)| name.as_str()).collect();
    assert_eq!(
        more,
        ["arbitrary", "evenrooms-fuzz", "libfuzzer-sys"],
        "run `cargo update` in neither of the two alone"
    );
}

#[test]
fn what_the_wheel_holds_is_what_is_built() {
    let (built, held) = (packages("Cargo.lock"), packages("src/python/Cargo.lock"));
    let more: Vec<&str> = held.difference(&built).map(|(name, _)| name.as_str()).collect();
    let of_python = ["arrow-pyarrow", "evenrooms-python", "pyo3", "pyo3-build-config", "pyo3-ffi"];
    let of_macros = ["pyo3-macros", "pyo3-macros-backend", "target-lexicon"];
    assert_eq!(more, [&of_python[..], &of_macros].concat(), "run `cargo update` in neither of the two alone");
}

#[test]
fn every_fuzz_target_is_run() {
    let targets = files_in(&Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fuzz/targets"));
    let mut there: Vec<&str> = targets.keys().filter_map(|name| name.strip_suffix(".rs")).collect();
    let run = text_of("tests/fuzz/run");
    let list = run.split_once("targets=(export").and_then(|(_, rest)| rest.split_once(')')).unwrap().0;
    let mut listed: Vec<&str> = list.split_whitespace().chain(["export"]).collect();
    listed.sort_unstable();
    there.sort_unstable();
    assert_eq!(listed, there, "tests/fuzz/run");
    let page = text_of("benches/fuzz.md");
    let without_figures: Vec<&&str> =
        there.iter().filter(|name| !page.contains(&format!("| {name} |"))).collect();
    assert!(without_figures.is_empty(), "benches/fuzz.md has no figures of {without_figures:?}");
}

#[test]
fn every_published_number_has_its_source() {
    let tests = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/all");
    let mut published = files_in(&tests.join("published"));
    published.insert("published.rs".to_owned(), fs::read(tests.join("published.rs")).unwrap());
    for (name, bytes) in published {
        assert_eq!(without_source(&String::from_utf8(bytes).unwrap()), [] as [&str; 0], "{name}");
    }
}

#[test]
fn planted_breaches_are_found() {
    let table = "
        | room | may use |
        |---|---|
        | metrics | grid (rows only), `units` |
        | grid, units, files | nothing |
        | python | run |
        | run | everything |
    ";
    let permissions = permissions(table);
    let found = |path: &str, text: &str| breaches(path, text, &permissions).len();
    assert_eq!(found("metrics/band.rs", "use crate::files::read;\n"), 1);
    assert_eq!(found("grid.rs", "fn f(t: &crate::units::Celsius) {}\n"), 1);
    assert_eq!(found("run.rs", "use crate::{files, grid};\nuse crate::*;\n"), 2);
    assert_eq!(found("metrics/band.rs", "use super::super::files;\n"), 1);
    assert_eq!(found("metrics/mod.rs", "use super::files;\n"), 1);
    assert_eq!(
        found("metrics/band/runs.rs", "use super::super::scope;\nuse super::super::super::files;\n"),
        1
    );
    assert_eq!(found("cellar.rs", ""), 1, "a room without a row");
    assert_eq!(found("python/src/lib.rs", "use evenrooms::run::Asked;\nuse evenrooms::files::read;\n"), 1);
    let fine = "\
//! crate::files
/// [`crate::files`]
use crate::grid::AlignedHome;
use super::scope;

#[cfg(test)]
mod tests {
    use crate::files;
}
";
    assert_eq!(breaches("metrics/band.rs", fine, &permissions), [] as [String; 0]);
    assert_eq!(found("metrics/band.rs", &format!("{fine}use crate::files;\n")), 1, "after the tests");
    assert_eq!(found("run.rs", "use crate::files;\npub(crate) fn f() {}\n"), 0);
}

#[test]
fn a_planted_test_without_source_is_found() {
    let text = "\
/// Source: a page.
#[test]
fn good() {}

/// No source.
#[test]
fn bad() {}

#[test]
fn worse() {}
";
    assert_eq!(without_source(text), ["fn bad() {}", "fn worse() {}"]);
}
