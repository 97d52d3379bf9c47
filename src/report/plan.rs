//! The page of a plan: what goes where, how a logger stands well, the side-by-side check, and labels to cut.

use maud::{Markup, html};

use super::van::{count, page, tick, with_names};
use crate::plan::{ADVICE, CampaignPlan, HomePlan, Outlook, Place, STEPS, lines_to_paste};
use crate::units::KelvinDiff;

/// Places that are named of what is missing; more are counted.
const NAMED: usize = 12;

/// The page.
pub fn plan_page(plan: &CampaignPlan<'_>) -> String {
    let title = format!("{}: where the loggers go", plan.site.name);
    let main = html! {
        h1 { (title) }
        @let placed = plan.places().filter(|(_, p)| p.placement.is_some()).count();
        p.lead { (count(plan.site.homes.len(), "home")) ", " (count(plan.loggers().len(), "logger")) ", " (count(placed, "placement"))
            @if plan.without_logger() > 0 { ", " b { (count(plan.without_logger(), "room")) " without a logger" } } "." }
        (missing(plan))
        (side_by_side(plan))
        (days(plan))
        h2.new-sheet { "How a logger stands well" }
        ul { @for advice in ADVICE { li { (with_names(advice.what)) " " span.soft { "(" (advice.known) ")" } } } }
        @if let Some(height) = plan.site.heat_rule.as_ref().and_then(|r| r.measured_height_m) {
            p { b { "The heat rule measures at " (format!("{height:.2} m")) "." } " Where it is to be held against the legal minimum, place them at that height." }
        }
        h2 { "Placements" }
        @for home in &plan.homes { (placements(plan, home)) }
        (labels(plan))
    };
    page(&title, &main)
}

fn missing(plan: &CampaignPlan<'_>) -> Markup {
    html! {
        @if !plan.lacks.is_empty() {
            h2 { "Still missing in roster and site file" }
            ul.ticks { @for lack in &plan.lacks { li { (tick()) span { (with_names(&lack.words(NAMED))) } } } }
        }
    }
}

fn side_by_side(plan: &CampaignPlan<'_>) -> Markup {
    html! {
        h2 { "Side by side, before they are placed" }
        @if let Some(colocation) = &plan.site.colocation {
            p { "The site file has such a time: " (plan.site.zone.show(colocation.span.from)) " to " (plan.site.zone.show(colocation.span.to)) "." }
        }
        p { "It makes differences between rooms sure: what each logger reads over the others is then known and taken off." }
        ul.ticks { @for step in STEPS { li { (tick()) span { (with_names(step)) } } } }
        p.signed { span { "Last logger in" } span { "Box opened" } span { "By" } }
        pre { (lines_to_paste(&plan.loggers(), false)) }
        p.soft { "Where only some of the loggers lay there, name them below: loggers = [\"…\", \"…\", \"…\"]. Loggers: " (plan.loggers().join(", ")) "." }
    }
}

fn days(plan: &CampaignPlan<'_>) -> Markup {
    let widest = plan.widest();
    html! {
        h2 { "How many days it will take" }
        @match widest.and_then(|home| home.outlook.as_ref()) {
            None => p { "No home has an unheated room beside a heated one with loggers: evenness cannot be shown." },
            Some(outlook) => {
                p { (plan.in_short(outlook)) }
                (reaches(plan, outlook))
                p.soft { "Held against ± " (plan.site.units.show_difference(plan.site.spread.margin)) " with the 90 % interval that an audit gives. " (plan.assumed())
                    " After a side-by-side check a logger is taken to be good to ±" (plan.site.units.show_difference(KelvinDiff::new(crate::plan::CHECKED_K))) " against the others (own assumption: 0.1 K left of its differences, steps of 0.1 K, 0.1 K of drift)." }
                @if let Some(home) = widest.filter(|_| plan.homes.len() > 1) { p.soft { "These are the loggers of " (home.home.name) ", of which no home has less accurate ones." } }
            }
        }
    }
}

fn reaches(plan: &CampaignPlan<'_>, outlook: &Outlook) -> Markup {
    let show = |k: f64| plan.site.units.show_difference(KelvinDiff::new(k));
    html! {
        table {
            caption.unseen { "Days after which a room is shown even" }
            thead { tr { th.text scope="col" { "A room this far from the heated ones" } th scope="col" { "is shown even" } th scope="col" { "with a side-by-side check" } } }
            tbody { @for reach in &outlook.reaches { tr {
                td.text { (show(reach.offset_k)) } td { (reach.plain.words()) } td { (reach.checked.words()) }
            } } }
        }
    }
}

fn placements(plan: &CampaignPlan<'_>, home: &HomePlan<'_>) -> Markup {
    html! {
        section.visit-home {
            h3 { (home.home.name)
                @if let Some(floor) = &home.home.floor { span.soft { ", floor " (floor) } }
                @if let Some(line) = &home.home.line { span.soft { ", line " (line) } } }
            table.places {
                caption.unseen { "Loggers of " (home.home.name) }
                thead { tr { th.text scope="col" { (tick()) } th.text scope="col" { "Room" } th.text scope="col" { "Logger" } th.text scope="col" { "Height" } th.text.write scope="col" { "Where it stands" } th.text.write scope="col" { "Placed (date, time)" } } }
                tbody { @for place in &home.places { (placement(plan, place)) } }
            }
        }
    }
}

fn placement(plan: &CampaignPlan<'_>, place: &Place<'_>) -> Markup {
    let when = place.when(plan.site);
    html! {
        tr {
            td.mark { (tick()) }
            td.text { b { (place.room.name) } br; span.soft { (place.kind()) @if !when.is_empty() { ", " (when) } } }
            td.text.strong { @match place.logger() { Some(logger) => (logger), None => { "__________" } } }
            td.text.height { (place.height()) }
            td.text.write {} td.text.write {}
        }
    }
}

fn labels(plan: &CampaignPlan<'_>) -> Markup {
    html! {
        h2.new-sheet { "Labels to cut" }
        div.labels {
            @for (home, place) in plan.places() {
                div.label {
                    b { (home.name) " · " (place.room.name) }
                    span.id { @match place.logger() { Some(logger) => (logger), None => { "logger __________" } } }
                    small { "Temperature logger. Please leave it where it stands." br; (plan.site.name) }
                }
            }
        }
    }
}
