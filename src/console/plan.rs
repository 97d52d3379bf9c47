//! What a plan tells: a line for each home, what is still missing, and how many days an answer will take; the same as JSON.

use serde_json::{Value, json as object};

use super::wrap;
use crate::plan::{
    ADVICE, CampaignPlan, Days, HomePlan, LEAST_TOGETHER_H, Place, SETTLING_H, lines_to_paste,
};
use crate::units::KelvinDiff;

/// Places that are named; more are counted.
const NAMED: usize = 4;
/// Letters that names of homes are set to; longer ones move what follows.
const NAMES: usize = 16;
/// Homes that are listed; more are counted.
const HOMES: usize = 12;

/// The text; `page`: where the page to print is.
pub fn planned(plan: &CampaignPlan<'_>, page: Option<&str>) -> String {
    let site = plan.site;
    let rooms: usize = site.homes.iter().map(|h| h.rooms.len()).sum();
    let places = plan.places().filter(|(_, p)| p.placement.is_some()).count();
    let mut text = wrap(
        &format!(
            "{}: {}, {}, {}, {}\n",
            site.name,
            count(site.homes.len(), "home"),
            count(rooms, "room"),
            count(plan.loggers().len(), "logger"),
            count(places, "placement")
        ),
        "  ",
    );
    let names = plan.homes.iter().map(|h| h.home.name.chars().count()).max().unwrap_or(0).min(NAMES);
    plan.homes.iter().take(HOMES).for_each(|home| text.push_str(&line(home, names)));
    if plan.homes.len() > HOMES {
        text.push_str(&format!("… and {} more homes (--out, --json)\n", plan.homes.len() - HOMES));
    }
    text.push_str(&wrap(&format!("Height: {}\n", ADVICE[0].what), "  "));
    if let Some(height) = site.heat_rule.as_ref().and_then(|r| r.measured_height_m) {
        text.push_str(&format!("The heat rule measures at {height:.2} m.\n"));
    }
    text.push_str(&days(plan));
    text.push_str(&side_by_side(plan));
    if !plan.lacks.is_empty() {
        text.push_str("Still missing:\n");
        plan.lacks
            .iter()
            .for_each(|lack| text.push_str(&wrap(&format!("  {}\n", lack.words(NAMED)), "    ")));
    }
    text.push_str(&match page {
        Some(page) => format!("Page to print: {page}\n"),
        None => "--out DIR writes the page to print: placements, labels, side-by-side check.\n".to_owned(),
    });
    text
}

fn count(n: usize, of: &str) -> String {
    format!("{n} {of}{}", if n == 1 { "" } else { "s" })
}

/// A home in one line, wrapped where it has many rooms.
fn line(home: &HomePlan<'_>, names: usize) -> String {
    let place = |p: &Place<'_>| format!("{} {}", p.room.name, p.logger().unwrap_or("(no logger)"));
    let places: Vec<String> = home.places.iter().map(place).collect();
    wrap(&format!("{:<names$}  {}\n", home.home.name, places.join(", ")), &" ".repeat(names + 2))
}

/// How many days evenness will need.
fn days(plan: &CampaignPlan<'_>) -> String {
    let site = plan.site;
    let show = |k: f64| site.units.show_difference(KelvinDiff::new(k));
    let Some(home) = plan.widest() else {
        return "No home has an unheated room beside a heated one with loggers: evenness cannot be shown.\n"
            .to_owned();
    };
    let Some(outlook) = &home.outlook else { return String::new() };
    let mut text = wrap(&format!("{}\n", plan.in_short(outlook)), "  ");
    text.push_str(&format!(
        "  {:<21}{:<24}{}\n",
        "off the heated rooms", "shown even", "checked side by side"
    ));
    for reach in &outlook.reaches {
        let (off, plain) = (show(reach.offset_k), reach.plain.words());
        text.push_str(&format!("  {off:<21}{plain:<24}{}\n", reach.checked.words()));
    }
    text + &wrap(&format!("{}\n", plan.assumed()), "  ")
}

fn side_by_side(plan: &CampaignPlan<'_>) -> String {
    match &plan.site.colocation {
        Some(colocation) => format!(
            "Side by side: {} to {}, as the site file says.\n",
            plan.site.zone.show(colocation.span.from),
            plan.site.zone.show(colocation.span.to)
        ),
        None => wrap(
            &format!(
                "Side by side: all loggers together in one box for a day ({LEAST_TOGETHER_H:.0} h count after the first {SETTLING_H:.0}), then [colocation] in the site file.\n"
            ),
            "  ",
        ),
    }
}

/// The same for machines.
pub fn plan_json(plan: &CampaignPlan<'_>) -> String {
    let site = plan.site;
    let lacks = plan.lacks.iter().map(|l| object!({ "what": l.what, "places": l.places, "so": l.so }));
    let all = object!({
        "site": site.name,
        "margin_k": site.spread.margin.k(),
        "days_asked": plan.asked_days(),
        "day_deviation_k": plan.variation.deviation_k,
        "day_deviation_stated": plan.variation.stated,
        "day_likeness": plan.variation.likeness,
        "homes": plan.homes.iter().map(|h| home_json(plan, h)).collect::<Vec<_>>(),
        "missing": lacks.collect::<Vec<_>>(),
        "colocation": lines_to_paste(&plan.loggers(), false),
    });
    format!("{all:#}")
}

fn home_json(plan: &CampaignPlan<'_>, home: &HomePlan<'_>) -> Value {
    let place = |p: &Place<'_>| {
        object!({
            "room": p.room.name, "use": p.room.purpose.word(), "heated": p.room.heated.word(),
            "logger": p.logger(), "height_m": p.stated_height_m(), "when": p.when(plan.site),
        })
    };
    let days = |days: Days| match days {
        Days::After(days) => object!(days),
        Days::TooMany => object!("not within half a year"),
        Days::Never => object!("never"),
    };
    let outlook = home.outlook.as_ref().map(|o| {
        let reach = o.reaches.iter().map(|r| {
            object!({ "offset_k": r.offset_k, "days": days(r.plain), "days_after_check": days(r.checked) })
        });
        object!({
            "sensors_k": o.plain_k, "sensors_after_check_k": o.checked_k,
            "shown_even_within_k": o.plain_within_k, "shown_even_within_after_check_k": o.checked_within_k,
            "rooms": reach.collect::<Vec<_>>(),
        })
    });
    object!({
        "home": home.home.name,
        "placements": home.places.iter().map(place).collect::<Vec<_>>(),
        "evenness": outlook,
    })
}
