//! Limits and versions in which sites differ: what is put together all the same, and said.

use std::collections::BTreeMap;

use serde_json::Value;

use super::site::OneSite;
use crate::error::Note;
use crate::texts;

/// Settings that numbers rest on, with what differs where they do.
const SETTINGS: [(&str, &str); 11] = [
    ("band", "hours below and above the band"),
    ("night_band", "hours below and above the band"),
    ("setbacks", "recoveries, and the hours that are left to them"),
    ("heat_rule", "hours of the heat rule"),
    ("acceptance", "what homes are asked for, and so where they stand"),
    ("spread", "hours with a spread over the limit, and evenness"),
    ("design_outdoor_degc", "what is told at the design outdoor temperature"),
    ("recovery", "recoveries"),
    ("step_s", "the grid that everything is counted on"),
    ("alignment", "means and hours"),
    ("quality", "which readings count"),
];

/// Notes about settings in which sites differ, one for all that divide the sites alike, and one where versions differ.
pub fn differences(sites: &[OneSite]) -> Vec<Note> {
    let mut divided: Vec<(Groups<'_>, Vec<(&str, &str)>)> = Vec::new();
    for (key, what) in SETTINGS {
        let groups = groups(sites, |site| told(key, &site.settings[key]).to_string());
        match divided.iter_mut().find(|(others, _)| *others == groups) {
            Some((_, keys)) => keys.push((key, what)),
            None => divided.push((groups, vec![(key, what)])),
        }
    }
    let setting = |(groups, keys): (Groups<'_>, Vec<(&str, &str)>)| {
        let names: Vec<String> = keys.iter().map(|(key, _)| format!("`{key}`")).collect();
        let mut whats: Vec<&str> = keys.iter().map(|(_, what)| *what).collect();
        whats.dedup();
        let hint = format!(
            "not alike in all sites: {}; compare within a site, or audit all sites with the same settings",
            whats.join("; ")
        );
        note(&groups, &names.join(", "), hint)
    };
    let versions = groups(sites, |site| site.version.clone());
    let hint = "definitions may have changed between versions (the list of changes says so): audit all sites with one version";
    let versions = note(&versions, "the version of the program", hint.to_owned());
    let like_numbers = sites.iter().filter(|site| site.name.parse::<f64>().is_ok()).map(like_a_number);
    versions.into_iter().chain(like_numbers).chain(divided.into_iter().filter_map(setting)).collect()
}

/// Readers of folders make words out of their names, and numbers where they can.
fn like_a_number(site: &OneSite) -> Note {
    Note {
        place: "portfolio".to_owned(),
        line: None,
        what: format!("the site \"{}\" is called like a number: programs that read the folders site=… may take it for one, and drop its zeros", texts::shown(&site.name)).into(),
        hint: "give it a `name` with a letter in its site file, or tell the reader that `site` is a text".to_owned(),
        unreadable: false,
    }
}

/// The period of a site is its own affair.
fn told(key: &str, value: &Value) -> Value {
    let mut value = value.clone();
    if let (true, Some(asked)) = (key == "acceptance", value.as_object_mut()) {
        asked.remove("period");
    }
    value
}

/// Names of sites, those together that have the same; the groups by their first site.
type Groups<'s> = Vec<Vec<&'s str>>;

fn groups(sites: &[OneSite], of: impl Fn(&OneSite) -> String) -> Groups<'_> {
    let mut groups: BTreeMap<String, Vec<&str>> = BTreeMap::new();
    sites.iter().for_each(|site| groups.entry(of(site)).or_default().push(&site.name));
    let mut groups: Groups<'_> = groups.into_values().collect();
    groups.sort();
    groups
}

/// Sites told of a group.
const NAMED: usize = 4;

fn note(groups: &Groups<'_>, what: &str, hint: String) -> Option<Note> {
    if groups.len() < 2 {
        return None;
    }
    let named = |sites: &Vec<&str>| {
        let names: Vec<String> =
            sites.iter().take(NAMED).map(|name| texts::shown(name).into_owned()).collect();
        let more = sites.len().saturating_sub(NAMED);
        format!("{}{}", names.join(", "), if more > 0 { format!(" and {more} more") } else { String::new() })
    };
    let groups: Vec<String> = groups.iter().map(named).collect();
    Some(Note {
        place: "portfolio".to_owned(),
        line: None,
        what: format!("sites differ in {what}: {}", groups.join(" | ")).into(),
        hint,
        unreadable: false,
    })
}
