//! Names of time zones that somebody may have meant.

use crate::clock::Zone;
use crate::texts::slips;

/// Names that are proposed at most.
const MOST: usize = 3;

/// Zone names that look like a text, or differ from it by a slip or two; for a hint.
fn zones_like(text: &str) -> Vec<&'static str> {
    let like = Zone::like(text);
    if !like.is_empty() {
        return like;
    }
    let wanted = text.to_lowercase().replace(' ', "_");
    let most = (wanted.chars().count() / 4).clamp(1, 2);
    let of_a_place = |name: &&str| Zone::parse(name).is_some_and(|zone| zone.is_of_a_place());
    // A city may stand alone.
    let far = |name: &str| {
        let name = name.to_lowercase();
        let city = name.rsplit('/').next().unwrap_or(&name);
        slips(&name, &wanted).min(slips(city, &wanted))
    };
    let mut near: Vec<(usize, &str)> = Zone::names()
        .filter(of_a_place)
        .map(|name| (far(name), name))
        .filter(|(slips, _)| *slips <= most)
        .collect();
    near.sort_unstable();
    near.into_iter().take(MOST).map(|(_, name)| name).collect()
}

/// What to say of a name that is no time zone.
pub fn zone_hint(text: &str) -> String {
    match zones_like(text).as_slice() {
        [] => "names look like Area/City; abbreviations such as CST are not unique".to_owned(),
        like => format!("did you mean {}?", like.join(" or ")),
    }
}
