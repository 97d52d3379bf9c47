//! What a complaint comes to, on the terminal.

use super::wrap;
use crate::complaint::Complaint;
use crate::findings::show_span;
use crate::site::{HEAT_RULE_CAUTION, NO_HEAT_CAUTION};

/// The same as on the sheet, in short.
pub fn complaint(complaint: &Complaint<'_>, sheet: &str) -> String {
    let site = complaint.site();
    let time = show_span(complaint.period.span, site.zone);
    let mut text = format!("{}, home {}, {time} ({})\n\n", site.name, complaint.home.name, site.zone.name());
    let mut add = |line: &str| text.push_str(&wrap(&format!("{line}\n"), "  "));
    add(&complaint.answer().text());
    complaint.when().iter().for_each(|sentence| add(sentence));
    complaint.without_heat().iter().for_each(|sentence| add(sentence));
    complaint.in_detail().iter().for_each(|sentence| add(sentence));
    complaint.serious().iter().for_each(|sentence| add(sentence));
    complaint.cannot_tell().iter().for_each(|line| add(&format!("Not known: {line}")));
    add(&complaint.others());
    complaint.below_too_by_name().iter().for_each(|names| add(names));
    complaint.clock_changes().iter().for_each(|sentence| add(sentence));
    complaint.audit.taken_off().iter().for_each(|off| add(off));
    if site.heat_rule.is_none() {
        add(
            "The site file names no heat rule, so nothing was held against one ([heat_rule], `evenrooms explain`).",
        );
    }
    add(NO_HEAT_CAUTION);
    add(&format!("Local code and licensed practice decide: {HEAT_RULE_CAUTION}."));
    text.push_str(&format!("\nThe sheet: {}\n", sheet));
    text.push_str("It and the .json beside it name no other home; provenance.json does: keep that.\n");
    text
}
