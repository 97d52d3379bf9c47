//! Files that use each other in a circle: what can only be understood together should be one file, or stand in a row.

use std::collections::{BTreeMap, BTreeSet};

use crate::house::{code, sources};

/// Files that may use each other, because they are one thing in several files, and why; modules by their paths below `src`.
const EXCUSED: [(&[&str], &str); 9] = [
    (
        &["exports/placement_readings", "exports/placement_readings/notes", "exports/placement_readings/why"],
        "one type, whose methods stand in three files by what they are about",
    ),
    (
        &["exports/vocabulary", "exports/vocabulary/table"],
        "words, and the table of them in every language, written in those words",
    ),
    (&["site/heat_rule", "site/presets"], "a rule, and the texts that it may be taken from"),
    (
        &["metrics", "metrics/offset", "metrics/reference", "metrics/scope", "metrics/home_cache"],
        "a scope keeps what is computed once of a home: its whole record, and each room's distance to the others",
    ),
    (
        &[
            "quality/brought",
            "quality/episodes",
            "quality/handled",
            "quality/place",
            "quality/stuck",
            "quality/unit",
        ],
        "an episode is one of the kinds that these tests find, each of which makes one",
    ),
    (
        &[
            "cases/amounts",
            "cases/assemble",
            "cases/by_slope",
            "cases/causes",
            "cases/rooms",
            "cases/steps",
            "cases/sure",
            "cases/words",
        ],
        "a case in the making goes through the rules that add to it",
    ),
    (&["findings/rooms", "findings/unit"], "the list of the rules about rooms, and one of them"),
    (
        &[
            "report/decide",
            "report/evenness",
            "report/first",
            "report/heat_rule",
            "report/homes",
            "report/humidity",
        ],
        "the part of a home, and the parts it is put together of",
    ),
    (
        &[
            "simulate",
            "simulate/alder_row",
            "simulate/building",
            "simulate/downloads",
            "simulate/faults",
            "simulate/lived_in",
            "simulate/lived_in/course",
            "simulate/lived_in/home",
            "simulate/lived_in/people",
            "simulate/lived_in/records",
            "simulate/lived_in/trouble",
            "simulate/lived_in/vapour",
            "simulate/loggers",
            "simulate/mixed",
            "simulate/plan",
            "simulate/thermal",
            "simulate/truth",
        ],
        "a plan says which kind of building is made, and each kind is made by the plan",
    ),
];

/// Modules by their paths below `src`, each with the modules that its `use` statements name.
type Uses = BTreeMap<String, BTreeSet<String>>;

/// One thing that a `use` statement names, as it is written; `again`: it is named anew for others.
struct Leaf {
    path: Vec<String>,
    again: bool,
}

/// The module of a file.
fn module(path: &str) -> Option<String> {
    let path = path.strip_suffix(".rs")?;
    let path = path.strip_suffix("/mod").unwrap_or(path);
    (!["main", "lib"].contains(&path)).then(|| path.to_owned())
}

/// What the `use` statements of a text name.
fn leaves(text: &str) -> Vec<Leaf> {
    let code: String = code(text).into_iter().map(|(_, line)| format!("{line}\n")).collect();
    let mut all = Vec::new();
    let mut rest = code.as_str();
    while let Some(at) = rest.find("use ") {
        let before = rest[..at].rsplit('\n').next().unwrap_or_default();
        rest = &rest[at + 4..];
        let again = before.starts_with("pub");
        if !(before.is_empty() || again) {
            continue;
        }
        let Some(end) = rest.find(';') else { break };
        let mut paths = Vec::new();
        spread(&rest[..end], &[], &mut paths);
        all.extend(paths.into_iter().map(|path| Leaf { path, again }));
        rest = &rest[end..];
    }
    all
}

/// Undoes the braces of a `use` statement.
fn spread(tree: &str, before: &[String], paths: &mut Vec<Vec<String>>) {
    let names = |text: &str| -> Vec<String> {
        let plain = text.split(" as ").next().unwrap_or_default();
        plain.split("::").map(|name| name.trim().to_owned()).filter(|name| !name.is_empty()).collect()
    };
    let Some((head, inside)) = tree.split_once('{') else {
        let path = [before, &names(tree)].concat();
        if path.len() > before.len() {
            paths.push(path);
        }
        return;
    };
    let before = [before, &names(head)].concat();
    let inside = inside.rsplit_once('}').map_or(inside, |(inside, _)| inside);
    let (mut depth, mut from) = (0, 0);
    for (at, c) in inside.char_indices() {
        match c {
            '{' => depth += 1,
            '}' => depth -= 1,
            ',' if depth == 0 => {
                spread(&inside[from..at], &before, paths);
                from = at + 1;
            }
            _ => {}
        }
    }
    spread(&inside[from..], &before, paths);
}

/// The way from the crate's root to what a module names; `None` where it names another crate.
fn from_root(module: &str, path: &[String], modules: &BTreeSet<String>) -> Option<Vec<String>> {
    let mut at: Vec<String> = module.split('/').map(str::to_owned).collect();
    let supers = path.iter().take_while(|name| *name == "super").count();
    let rest = match path[0].as_str() {
        "crate" => return Some(path[1..].to_vec()),
        "self" => &path[1..],
        "super" => {
            at.truncate(at.len().saturating_sub(supers));
            &path[supers..]
        }
        child if modules.contains(&format!("{module}/{child}")) => path,
        _ => return None,
    };
    Some([&at[..], rest].concat())
}

/// Which module each file uses, through the doors that name things anew.
fn uses(texts: &BTreeMap<String, String>) -> Uses {
    let texts: BTreeMap<String, &String> = texts.iter().filter_map(|(p, t)| Some((module(p)?, t))).collect();
    let modules: BTreeSet<String> = texts.keys().cloned().collect();
    let all: BTreeMap<&String, Vec<Leaf>> = texts.iter().map(|(m, text)| (m, leaves(text))).collect();
    let mut doors: BTreeMap<Vec<String>, Vec<String>> = BTreeMap::new();
    for (module, leaves) in &all {
        for leaf in leaves.iter().filter(|leaf| leaf.again) {
            if let Some(way) = from_root(module, &leaf.path, &modules) {
                let name = way.last().cloned().into_iter();
                doors.insert(module.split('/').map(str::to_owned).chain(name).collect(), way);
            }
        }
    }
    let owner = |way: &[String]| {
        let mut way = way.to_vec();
        // A door may lead to another one, never back.
        for _ in 0..8 {
            let Some(behind) = (1..=way.len()).rev().find_map(|n| Some((n, doors.get(&way[..n])?))) else {
                break;
            };
            way = [&behind.1[..], &way[behind.0..]].concat();
        }
        (1..=way.len()).rev().map(|n| way[..n].join("/")).find(|module| modules.contains(module))
    };
    let of_module = |(module, leaves): (&&String, &Vec<Leaf>)| {
        let ways = leaves.iter().filter(|l| !l.again).filter_map(|l| from_root(module, &l.path, &modules));
        let used = ways.filter_map(|way| owner(&way)).filter(|used| used != *module);
        ((*module).clone(), used.collect())
    };
    all.iter().map(of_module).collect()
}

/// Every group of modules of which each leads to each other.
fn circles(uses: &Uses) -> BTreeSet<BTreeSet<String>> {
    let reached = |from: &String| {
        let (mut seen, mut next) = (BTreeSet::new(), vec![from]);
        while let Some(at) = next.pop() {
            next.extend(uses.get(at).into_iter().flatten().filter(|to| seen.insert((*to).clone())));
        }
        seen
    };
    let reached: BTreeMap<&String, BTreeSet<String>> = uses.keys().map(|m| (m, reached(m))).collect();
    let group = |module: &&String| -> BTreeSet<String> {
        let there = &reached[*module];
        let back = |other: &&String| reached.get(*other).is_some_and(|r| r.contains(*module));
        there.iter().filter(back).cloned().collect()
    };
    uses.keys().filter(|m| reached[*m].contains(*m)).map(|m| group(&m)).collect()
}

#[test]
fn no_files_use_each_other_in_a_circle() {
    let mut uses = uses(&sources());
    assert!(uses["run/check"].contains("pipeline/building"), "through the door of `pipeline`");
    for (modules, why) in EXCUSED {
        assert!(!why.is_empty() && modules.iter().all(|m| uses.contains_key(*m)), "{modules:?} are no files");
        for module in modules {
            let own = uses.get_mut(*module).unwrap();
            own.retain(|used| !modules.contains(&used.as_str()));
        }
    }
    // Whoever uses one of them uses them all: they are one.
    let one: BTreeMap<&str, &str> =
        EXCUSED.iter().flat_map(|(all, _)| all.iter().map(|m| (*m, all[0]))).collect();
    let name = |module: &String| one.get(module.as_str()).map_or(module.clone(), |one| (*one).to_owned());
    let mut joined = Uses::new();
    for (module, used) in &uses {
        joined.entry(name(module)).or_default().extend(used.iter().map(name));
    }
    assert_eq!(circles(&joined), BTreeSet::new(), "circles of files");
}

#[test]
fn every_excuse_is_needed() {
    let uses = uses(&sources());
    let circles = circles(&uses);
    for (modules, _) in EXCUSED {
        let some = |circle: &BTreeSet<String>| modules.iter().filter(|m| circle.contains(**m)).count() > 1;
        assert!(circles.iter().any(some), "{modules:?} are in no circle any more");
    }
}

#[test]
fn a_planted_circle_is_found() {
    let files = |three: &str| -> BTreeMap<String, String> {
        let of = |(path, text): (&str, &str)| (path.to_owned(), text.to_owned());
        [
            ("room/mod.rs", "mod one;\nmod two;\npub use one::One;\n"),
            ("room/one.rs", "use super::two::{Two, deep::{self, Deep}};\npub struct One;\n"),
            ("room/two.rs", "use crate::three::Three;\n// use super::one::One;\n"),
            ("three.rs", three),
        ]
        .map(of)
        .into()
    };
    assert_eq!(circles(&uses(&files("use std::fmt;\n"))), BTreeSet::new());
    let planted = ["use crate::room::One;\n", "use crate::{\n    room::{One as First},\n};\n"];
    for text in planted {
        let circle = ["room/one", "room/two", "three"].map(str::to_owned).into();
        assert_eq!(circles(&uses(&files(text))), BTreeSet::from([circle]), "{text}");
    }
    let in_tests = "#[cfg(test)]\nmod tests {\n    use crate::room::One;\n}\n";
    assert_eq!(circles(&uses(&files(in_tests))), BTreeSet::new());
}
