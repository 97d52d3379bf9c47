//! The outdoor series: known by its words, or suspected by its values.

use super::Candidate;
use super::left_out::LeftOut;
use crate::exports::TextSeen;
use crate::exports::vocabulary::{Holds, has_word};
use crate::stats;

/// So much colder than most others, and so much more change from lowest to highest.
const COLDER_K: f64 = 6.0;
const LIVELIER: f64 = 1.5;

/// The columns of a text by which it is known as weather.
pub(super) fn weather_columns(text: &TextSeen) -> Vec<&str> {
    let of_weather = |name: &&str| has_word(name, &[Holds::Weather]);
    let found: Vec<&str> = text.columns.iter().map(String::as_str).filter(of_weather).collect();
    if found.len() >= 2 { found } else { Vec::new() }
}

/// Takes out the outdoor series; further ones are left out, and it is said why.
pub(super) fn take<'a>(candidates: &mut Vec<Candidate<'a>>, left_out: &mut LeftOut) -> Option<Candidate<'a>> {
    let outdoors = |c: &Candidate<'_>| c.guess.is_some_and(|g| g.outdoors);
    let (found, rooms): (Vec<_>, Vec<_>) = std::mem::take(candidates).into_iter().partition(outdoors);
    *candidates = rooms;
    let mut found = found.into_iter();
    let first = found.next()?;
    for other in found {
        let column = other.column.as_ref().map_or(String::new(), |c| format!(" (column {c})"));
        let why = format!("it speaks of outdoors, and {} was taken for that", first.file);
        left_out.file(format!("{}{column}", other.file), why);
    }
    Some(first)
}

/// Median and range of what a series measured, in °C.
fn range(candidate: &Candidate<'_>) -> Option<(f64, f64)> {
    let degc = |x: Option<f64>| x.map(|x| candidate.degc(x));
    let series = candidate.series;
    Some((degc(series.median)?, degc(series.highest)? - degc(series.lowest)?))
}

/// Notes series that no word places and whose values look like outdoors; the first of them is told as a line for the site.
pub(super) fn suspect(candidates: &mut [Candidate<'_>]) -> Option<usize> {
    let ranges: Vec<Option<(f64, f64)>> = candidates.iter().map(range).collect();
    let all: Vec<(f64, f64)> = ranges.iter().flatten().copied().collect();
    if all.len() < 3 {
        return None;
    }
    let usual = stats::median(all.iter().map(|r| r.0).collect())?;
    let usual_range = stats::median(all.iter().map(|r| r.1).collect())?;
    let mut first = None;
    for (at, (candidate, range)) in candidates.iter_mut().zip(&ranges).enumerate() {
        let Some((median, wide)) = range else { continue };
        if candidate.guess.is_none() && usual - median > COLDER_K && *wide > LIVELIER * usual_range {
            candidate.notes.push(format!(
                "decide: heated (or outdoors: {:.1} K colder than most, and changes more: then take it as outdoor of site.toml and remove the row)",
                usual - median
            ));
            first = first.or(Some(at));
        }
    }
    first
}
