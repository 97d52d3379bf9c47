//! What a plan says in sentences.

use super::{CampaignPlan, Days, Lack, Outlook};
use crate::units::KelvinDiff;

impl CampaignPlan<'_> {
    /// What the loggers can show after the days that are asked for, in a sentence.
    pub fn in_short(&self, outlook: &Outlook) -> String {
        let show = |k: f64| self.site.units.show_difference(KelvinDiff::new(k));
        let margin = show(self.site.spread.margin.k());
        let within =
            |k: Option<f64>| k.map_or("no room".to_owned(), |k| format!("a room within {}", show(k)));
        format!(
            "After {} whole days {} of the heated rooms can be shown even to a margin of {margin} with these loggers (two of them may be ±{} apart by themselves), {} after a side-by-side check (±{}).",
            self.asked_days(),
            within(outlook.plain_within_k),
            show(outlook.plain_k),
            within(outlook.checked_within_k),
            show(outlook.checked_k),
        )
    }

    /// What the number of days rests on, in a sentence.
    pub fn assumed(&self) -> String {
        let variation = self.variation;
        let show = |k: f64| self.site.units.show_difference(KelvinDiff::new(k));
        let whose = if variation.stated { "as given" } else { "our own assumption; --day-sd gives another" };
        format!(
            "A room's days are taken to vary by {} once the weather is out ({whose}), each half like the one before; about half of such homes take longer.",
            show(variation.deviation_k)
        )
    }
}

impl Days {
    /// When, in words.
    pub fn words(self) -> String {
        match self {
            Days::After(days) => format!("after {days} days"),
            Days::TooMany => "not within half a year".to_owned(),
            Days::Never => "never".to_owned(),
        }
    }
}

impl Lack {
    /// What is missing where, at most so many places by name, and what follows from it.
    pub fn words(&self, most: usize) -> String {
        let mut named: Vec<String> = self.places.iter().take(most).cloned().collect();
        if self.places.len() > most {
            named.push(format!("{} more", self.places.len() - most));
        }
        if self.everywhere {
            return format!("`{}` (every row): {}", self.what, self.so);
        }
        let places = if named.is_empty() { String::new() } else { format!(" ({})", named.join(", ")) };
        format!("`{}`{places}: {}", self.what, self.so)
    }
}
