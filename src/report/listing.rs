//! Tables of a page: each with a caption, heads that say what they head, and a frame that scrolls by keyboard too.

use chrono::{Datelike, NaiveDate};
use maud::{Markup, html};

/// The head of a column.
pub(super) struct Head {
    words: String,
    text: bool,
}

/// A column of words.
pub(super) fn text(words: impl Into<String>) -> Head {
    Head { words: words.into(), text: true }
}

/// A column of numbers.
pub(super) fn figure(words: impl Into<String>) -> Head {
    Head { words: words.into(), text: false }
}

/// How the days of a table are written: with their year where they are not all of one.
pub(super) fn day_format(mut days: impl Iterator<Item = NaiveDate>) -> &'static str {
    let first = days.next().map(|day| day.year());
    if days.any(|day| Some(day.year()) != first) { "%a %-d %b %Y" } else { "%a %-d %b" }
}

/// The table; `rows`: its `tr`, each of which begins with a `th scope="row"`.
pub(super) fn table(caption: &str, heads: &[Head], rows: &Markup) -> Markup {
    html! {
        div.scroll tabindex="0" role="group" aria-label=(caption) {
            table {
                caption { (caption) }
                thead { tr { @for head in heads { th.text[head.text] scope="col" { (head.words) } } } }
                tbody { (rows) }
            }
        }
    }
}
