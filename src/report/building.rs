//! The building part: every room on one axis, how far apart the rooms of each home are, and homes on the weather.

use maud::{Markup, html};

use super::links::anchor;
use super::shown::{MOST_SMALL, Shown};
use super::weather::on_the_weather;
use super::{axis, spreads};
use crate::audit::{Audit, HomeAudit, HomeNumbers};

/// Homes of a picture: of more, the worst are shown and the rest has its pages.
const MOST_HOMES: usize = 30;
/// The part; `homes`: the worst first.
pub(super) fn part(audit: &Audit, homes: &[&HomeAudit]) -> Markup {
    let site = &audit.site;
    let of_roster = |name: &str| site.homes.iter().find(|h| h.name == name);
    let shown = homes
        .iter()
        .take(MOST_HOMES)
        .filter_map(|h| Some(Shown { home: of_roster(&h.name)?, audit: h, numbers: HomeNumbers::of(h) }));
    let shown: Vec<Shown<'_>> = shown.collect();
    let small = homes.iter().take(MOST_SMALL).filter_map(|h| {
        let home = of_roster(&h.name)?;
        let words = format!("Home {}", h.name);
        on_the_weather(
            site,
            home,
            &h.pictures.against_outdoors,
            (&format!("{}-all", anchor(&h.name)), &words),
        )
    });
    let small: Vec<Markup> = small.collect();
    html! {
        section.building-part {
            h2 { "The building" }
            @if homes.len() > MOST_HOMES { p.soft { "Shown: the " (MOST_HOMES) " homes that need most; every home has its page below." } }
            (axis::every_room(site, &shown))
            (spreads::spreads(site, &shown))
            @if !small.is_empty() {
                div.against { h3 { "Against outdoors" }
                p.soft { "Each dot is a day: the mean of the room by day, over the mean outdoor temperature of that day. Line: what the days tell; grey: where 95 % of days would lie, for the room with the steepest line. Filled: heated; hollow: not heated." @if site.design_outdoor.is_some() { " Dashed upright: the design temperature; tinted: colder than any day of the record." } @if homes.len() > MOST_SMALL { " The " (MOST_SMALL) " homes that need most; the others on their pages." } }
                div.multiples { @for chart in &small { (chart) } } }
            }
        }
    }
}
