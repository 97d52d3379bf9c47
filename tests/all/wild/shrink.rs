//! A failing plan made as plain as it goes while it still fails, for the person who must find the cause.

use crate::wild::dialects::Plan;
use crate::wild::reading::{Outcome, outcome};
use crate::wild::traits::{Delimiter, Encoding, Events, Order, Quotes, Shape};

type Change = fn(&mut Plan);

const CHANGES: [Change; 28] = [
    |p| p.rows = 10,
    |p| p.rows = (p.rows / 2).max(10),
    |p| p.rows = (p.rows * 3 / 4).max(10),
    |p| p.preamble = 0,
    |p| p.preamble /= 2,
    |p| p.preamble = p.preamble.saturating_sub(1),
    |p| p.encoding = Encoding::Utf8,
    |p| p.line_end = "\n",
    |p| p.finished = true,
    |p| p.quotes = Quotes::Needed,
    |p| p.comma = false,
    |p| p.padding = false,
    |p| p.delimiter = Delimiter::One(';'),
    |p| p.shape = Shape::One,
    |p| p.order = Order::OldestFirst,
    |p| p.events = Events::None,
    |p| p.row_number = false,
    |p| p.humidity = false,
    |p| p.battery = false,
    |p| p.values_first = false,
    |p| p.summary = false,
    |p| p.blank_lines = false,
    |p| p.repeated_header = false,
    |p| p.duplicates = false,
    |p| p.trimmed = false,
    |p| p.missing = "",
    |p| p.header = true,
    |p| p.over_a_change = false,
];

/// The plainest plan found that still fails, and how it fails.
pub(crate) fn shrink(plan: &Plan, why: &str) -> (Plan, String) {
    let (mut best, mut why) = (plan.clone(), why.to_owned());
    let same_kind =
        |a: &str, b: &str| a.split_once(": ").map(|x| x.0.len()) == b.split_once(": ").map(|x| x.0.len());
    let mut found = true;
    while found {
        found = false;
        for change in CHANGES {
            let mut plain = best.clone();
            change(&mut plain);
            let plain = plain.legal();
            if plain == best {
                continue;
            }
            if let Outcome::Wrong(now) = outcome(&plain, &plain.export())
                && same_kind(&now, &why)
            {
                (best, why, found) = (plain, now, true);
            }
        }
    }
    (best, why)
}
